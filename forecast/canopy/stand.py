"""The height and the leaf area of a mown stand."""

from __future__ import annotations

from types import MappingProxyType

from forecast.turf import Setting

# FAO-56 box 5 (Allen et al. 1998; from memory): the leaf area index of clipped grass is 24 times its height in metres.
LEAF_AREA_PER_M = 24.0
# House choice: that rule is for grass of some 5 to 15 cm, and would leave a green of 3 mm a leaf area of 0.07 and a
# film of 0.014 mm. Close-cut bentgrass is dense; the least taken here adds about an hour a day to wet greens.
LEAST_LEAF_AREA_INDEX = 1.0
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
    """Leaf area a ground area: 24 times the height in m, from 1 to 3, times a factor of the density."""
    by_height = LEAF_AREA_PER_M * canopy_height_m(setting)
    return min(max(by_height, LEAST_LEAF_AREA_INDEX), MOST_LEAF_AREA_INDEX) * DENSITY_FACTORS[setting.density]
