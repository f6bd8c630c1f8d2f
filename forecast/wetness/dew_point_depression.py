"""Wet when the air is close to its dew point, with memory: drying needs drier air than wetting did."""

from __future__ import annotations

import numpy as np

from forecast.canopy import TurfHours
from forecast.panel import Floats
from forecast.wetness.form import HAIR, WETTING_RAIN_MM, WetnessMethod, held

WET_AT_C = 2.0  # at or below this depression leaves become wet
DRY_AT_C = 3.8  # at or above it they are dry; between the two they stay as they were


def wet_fraction(turf: TurfHours) -> Floats:
    """1 wet, 0 dry, by hysteresis on temperature minus dew point; an hour with rain is wet.

    Unknown until the first hour that decides, and again after an unknown hour until one decides.
    """
    depression = turf.air_temperature_c - turf.dew_point_c
    decided = np.full(depression.shape, np.nan)
    decided[depression <= WET_AT_C + HAIR] = 1.0
    decided[depression >= DRY_AT_C - HAIR] = 0.0
    decided[turf.rain_mm >= WETTING_RAIN_MM] = 1.0  # rain wets, and what it wetted dries as dew does
    return held(decided, np.isnan(decided) & ~np.isnan(depression))


DEW_POINT_DEPRESSION = WetnessMethod(
    key="dew_point_depression",
    name="air within 2.0 °C of its dew point, until 3.8 °C above it",
    needs=("air_temperature_c", "dew_point_c"),
    kernel=wet_fraction,
    source="Sentelhas 2004 (thesis) and Lulu, Sentelhas & Pedro 2008, Sci. Agric. 65:10-17 (read second-hand)",
)
