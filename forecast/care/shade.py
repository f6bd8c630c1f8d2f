"""Reference evapotranspiration in shade: less in proportion to the light that is let through."""

from __future__ import annotations

import numpy as np

from forecast.panel import Floats
from forecast.turf import Setting

# House choice: the sun's heat comes from these sides in about equal shares; the rest of the round brings next to none.
_SUN_SIDES_NORTH = ("e", "se", "s", "sw", "w")
_SUN_SIDES_SOUTH = ("e", "ne", "n", "nw", "w")


def day_light_fraction(setting: Setting, *, southern: bool) -> float:
    """Share of a day's sunlight that reaches the turf.

    Args:
        setting: its light holds all day, or for the sun on the sides that it names.
        southern: whether the place lies south of the equator.
    """
    kept_off = 1.0 - setting.light_let_through_fraction
    sun_sides = _SUN_SIDES_SOUTH if southern else _SUN_SIDES_NORTH
    if setting.shaded_from:
        kept_off *= len(set(setting.shaded_from) & set(sun_sides)) / len(sun_sides)
    return 1.0 - kept_off


def shaded_et0_mm(et0_mm: Floats, light_fraction: float) -> Floats:
    """ET0 in shade from ET0 in the open, mm a day, any shape; NaN stays unknown.

    House choice. Hargreaves's ET0 is in proportion to sunlight as it stands. In FAO-56's the sunlight that grass keeps
    makes up 3.59 of the 3.88 mm of Example 18 (Uccle), 92 %: what longwave takes away, dry air and wind nearly give
    back. Shelter from wind and the warmer sky of a tree are left out; they pull in opposite ways.

    Args:
        et0_mm: in the open.
        light_fraction: share of the day's sunlight that reaches the turf.
    """
    return np.asarray(et0_mm * light_fraction, dtype=np.float64)
