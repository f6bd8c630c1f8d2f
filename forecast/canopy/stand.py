"""The height and the leaf area of a mown stand."""

from __future__ import annotations

from types import MappingProxyType

from forecast.turf import Setting

# FAO-56 box 5 (Allen et al. 1998; from memory): the leaf area index of clipped grass is 24 times its height in metres.
LEAF_AREA_PER_M = 24.0
MOST_LEAF_AREA_INDEX = 3.0  # house choice: 2.88 is that of the 0.12 m reference grass, and no turf is taken as leafier

# House choice. Beside it: dense tall fescue was wet 0.8 h a day longer than a thin stand in a dry year, and no longer
# in a wet one (Giesler, Yuen & Horst 1996, Plant Dis. 80:389, abstract). Here it moves wet hours by minutes only, since
# the damper air within a dense stand is not told.
DENSITY_FACTORS = MappingProxyType({"thin": 0.7, "usual": 1.0, "dense": 1.3})

_MM_PER_M = 1000.0


def canopy_height_m(setting: Setting) -> float:
    """Height of the stand: that of the cut (house choice: what grows between two cuts is left out)."""
    return setting.mowing_height_mm / _MM_PER_M


def leaf_area_index(setting: Setting) -> float:
    """Leaf area a ground area: 24 times the height in m, 3 at most, times a factor of the density."""
    by_height = min(LEAF_AREA_PER_M * canopy_height_m(setting), MOST_LEAF_AREA_INDEX)
    return by_height * DENSITY_FACTORS[setting.density]
