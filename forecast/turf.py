"""Plain facts that the middle needs: grasses, diseases, and the setting of one area."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Grass:
    """A turf grass: its key, its name, and whether it grows in the cool or the warm season."""

    key: str
    name: str
    cool_season: bool


GRASSES = MappingProxyType(
    {
        grass.key: grass
        for grass in (
            Grass("tall_fescue", "tall fescue", cool_season=True),
            Grass("perennial_ryegrass", "perennial ryegrass", cool_season=True),
            Grass("kentucky_bluegrass", "Kentucky bluegrass", cool_season=True),
            Grass("creeping_bentgrass", "creeping bentgrass", cool_season=True),
            Grass("colonial_bentgrass", "colonial bentgrass", cool_season=True),
            Grass("st_augustinegrass", "St. Augustinegrass", cool_season=False),
            Grass("zoysiagrass", "zoysiagrass", cool_season=False),
            Grass("bermudagrass", "bermudagrass", cool_season=False),
        )
    }
)


@dataclass(frozen=True, slots=True)
class Disease:
    """A turf disease.

    Attributes:
        key: how settings and records name it.
        name: in words.
        grasses: the grasses it is looked for on.
        first_month: first month of its season in the northern hemisphere; six months later in the southern.
        last_month: last month of its season.
        season_source: where the season comes from.
        look_for: what a scout looks for, in words.
    """

    key: str
    name: str
    grasses: tuple[str, ...]
    first_month: int
    last_month: int
    season_source: str
    look_for: str


DISEASES = MappingProxyType(
    {
        disease.key: disease
        for disease in (
            Disease(
                "brown_patch",
                "brown patch",
                (
                    "tall_fescue",
                    "perennial_ryegrass",
                    "kentucky_bluegrass",
                    "creeping_bentgrass",
                    "colonial_bentgrass",
                    "st_augustinegrass",
                ),
                5,
                9,
                "May to September, the months the index was built on (Fidanza et al. 1996)",
                "round patches from a few inches to a few feet across, sometimes with a darker rim; tan lesions on "
                "the blades; white threads in the dew at dawn (common practice, no source)",
            ),
            Disease(
                "dollar_spot",
                "dollar spot",
                (
                    "creeping_bentgrass",
                    "colonial_bentgrass",
                    "perennial_ryegrass",
                    "kentucky_bluegrass",
                    "tall_fescue",
                    "bermudagrass",
                    "zoysiagrass",
                ),
                5,
                11,
                "May to November, three epidemics a year in Maryland (Ryan, Dernoeden & Grybauskas 2012)",
                "straw-coloured spots the size of a coin; hourglass lesions across the blades; white threads in the "
                "dew at dawn",
            ),
        )
    }
)


@dataclass(frozen=True, slots=True)
class Irrigation:
    """When and how much an area is watered.

    Attributes:
        days: weekdays, 0 is Monday.
        start: clock time at which it starts.
        depth_mm: water a time.
    """

    days: tuple[int, ...]
    start: time
    depth_mm: float


@dataclass(frozen=True, slots=True)
class Area:
    """One treated area of a property, with its setting.

    Attributes:
        area_id: unique in the workspace.
        area_name: as people call it.
        property_id: groups areas.
        property_name: as people call it.
        place_id: where its weather is reckoned: a station, or a place of the property's own.
        grass: a key of :data:`GRASSES`.
        size_m2: treated surface.
        light_let_through_fraction: share of the sun's light that reaches the turf, 1 in the open.
        sky_seen_fraction: share of the sky that the turf sees, 1 in the open.
        wind_let_through_fraction: share of the open wind, 1 in the open.
        mowing_height_mm: height of cut.
        irrigation: None where it is not watered.
        diseases_had: diseases that have been diagnosed here.
        label: key of the label used here by habit; empty for none.
    """

    area_id: str
    area_name: str
    property_id: str
    property_name: str
    place_id: str
    grass: str
    size_m2: float
    light_let_through_fraction: float = 1.0
    sky_seen_fraction: float = 1.0
    wind_let_through_fraction: float = 1.0
    mowing_height_mm: float | None = None
    irrigation: Irrigation | None = None
    diseases_had: tuple[str, ...] = ()
    label: str = ""
