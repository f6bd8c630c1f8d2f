"""Wet when the air is humid: the simplest and most used rule, low on turf by 2 to 4 hours a day."""

from __future__ import annotations

import numpy as np

from forecast.canopy import TurfHours
from forecast.panel import Floats
from forecast.wetness.form import WETTING_RAIN_MM, WetnessMethod

WET_FROM_PCT = 90.0  # the general value; fitted optima run from 83 to 92 (Sentelhas et al. 2008)


def wet_fraction(turf: TurfHours) -> Floats:
    """1 where relative humidity is at least 90 % or rain fell, 0 below, NaN where humidity is unknown."""
    humidity = turf.relative_humidity_pct
    known = np.where(np.isnan(humidity), np.nan, np.where(humidity >= WET_FROM_PCT, 1.0, 0.0))
    return np.where(turf.rain_mm >= WETTING_RAIN_MM, 1.0, known)


HUMIDITY_THRESHOLD = WetnessMethod(
    key="humidity_threshold",
    name="relative humidity of 90 % or more",
    needs=("relative_humidity_pct",),
    kernel=wet_fraction,
    source="Sentelhas et al. 2008, Agric. For. Meteorol. 148:392-400 (read second-hand)",
)
