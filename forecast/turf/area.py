"""One treated area of a property, with its setting and its ground."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from forecast.turf.setting import Setting

Drainage = Literal["good", "poor"]
Nitrogen = Literal["low", "usual", "high"]
Cultivar = Literal["susceptible", "usual", "resistant"]


# Kinds of turf that labels tell apart.
SITES = (
    "home_lawn", "commercial_lawn", "school", "park", "sports_field", "golf_green", "golf_other", "cemetery",
    "sod_farm",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ground:
    """What lies under the turf and how it is kept; None is not known.

    Attributes:
        soil_texture: a key of :data:`forecast.care.soil.TEXTURES`; None where nobody has looked.
        rooting_depth_mm: how deep most roots reach.
        drainage: of water from the ground.
        compacted: whether the ground is compacted.
        thatch_mm: thickness of the thatch.
        nitrogen: how it is fed.
        cultivar: how its cultivar is rated against the disease that matters most here.
    """

    soil_texture: str | None = None
    rooting_depth_mm: float | None = None
    drainage: Drainage | None = None
    compacted: bool | None = None
    thatch_mm: float | None = None
    nitrogen: Nitrogen | None = None
    cultivar: Cultivar | None = None


@dataclass(frozen=True, slots=True)
class Area:
    """One treated area of a property.

    Attributes:
        area_id: unique in the workspace.
        area_name: as people call it.
        property_id: groups areas.
        property_name: as people call it.
        place_id: where its weather is reckoned: a station, or a place of the property's own.
        grass: a key of :data:`forecast.turf.GRASSES`.
        size_m2: treated surface.
        setting: what changes the weather at its turf.
        ground: what lies under it and how it is kept.
        diseases_had: diseases that have been diagnosed here.
        label: key of the label used here by habit; empty for none.
        site: of :data:`SITES`; empty where it was not typed.
    """

    area_id: str
    area_name: str
    property_id: str
    property_name: str
    place_id: str
    grass: str
    size_m2: float
    setting: Setting = field(default_factory=Setting)
    ground: Ground = field(default_factory=Ground)
    diseases_had: tuple[str, ...] = ()
    label: str = ""
    site: str = ""
