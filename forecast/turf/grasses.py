"""The turf grasses known here."""

from __future__ import annotations

from dataclasses import dataclass
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
            Grass("fine_fescue", "fine fescue", cool_season=True),
            Grass("perennial_ryegrass", "perennial ryegrass", cool_season=True),
            Grass("kentucky_bluegrass", "Kentucky bluegrass", cool_season=True),
            Grass("annual_bluegrass", "annual bluegrass", cool_season=True),
            Grass("creeping_bentgrass", "creeping bentgrass", cool_season=True),
            Grass("colonial_bentgrass", "colonial bentgrass", cool_season=True),
            Grass("st_augustinegrass", "St. Augustinegrass", cool_season=False),
            Grass("zoysiagrass", "zoysiagrass", cool_season=False),
            Grass("bermudagrass", "bermudagrass", cool_season=False),
            Grass("centipedegrass", "centipedegrass", cool_season=False),
        )
    }
)
