"""Wet in humid air, dry in dry air, and between them by whether humidity rises or falls.

The increments, 3 % up and 2 % down, are for half an hour in Wichink Kruit et al. 2008 (from memory). Our hours are
whole, so they are taken as rates: 6 and 4 % an hour. Where humidity rises or falls evenly, that tells the same as the
half-hours would; a jump inside one half of an hour is missed. Taken as they are they would turn leaves wet or dry at
half the rate that the authors asked for. Over May to October at Greensboro the two give 11.1 and 11.3 wet hours a day.
"""

from __future__ import annotations

import numpy as np

from forecast.canopy import TurfHours
from forecast.panel import Floats
from forecast.wetness.form import WETTING_RAIN_MM, WetnessMethod, held

WET_ABOVE_PCT = 87.0
DRY_BELOW_PCT = 70.0
RISE_PCT_H = 2 * 3.0  # 3 % in half an hour
FALL_PCT_H = 2 * 2.0  # 2 % in half an hour


def wet_fraction(turf: TurfHours) -> Floats:
    """1 wet, 0 dry; an hour with rain is wet.

    Unknown until the first hour that decides. Between the two thresholds the change from the hour before is needed, so
    that the hour after an unknown one is unknown too unless its own humidity or rain decides it.
    """
    humidity = turf.relative_humidity_pct
    rise = np.full(humidity.shape, np.nan)
    rise[1:] = humidity[1:] - humidity[:-1]
    decided = np.full(humidity.shape, np.nan)
    decided[rise >= RISE_PCT_H] = 1.0
    decided[-rise >= FALL_PCT_H] = 0.0
    decided[humidity > WET_ABOVE_PCT] = 1.0
    decided[humidity < DRY_BELOW_PCT] = 0.0
    decided[turf.rain_mm >= WETTING_RAIN_MM] = 1.0
    return held(decided, np.isnan(decided) & ~np.isnan(rise))


EXTENDED_THRESHOLD = WetnessMethod(
    key="extended_threshold",
    name="relative humidity above 87 %, or rising fast above 70 %",
    needs=("relative_humidity_pct",),
    kernel=wet_fraction,
    source=(
        "Wichink Kruit et al. 2004 (form from the abstract, numbers read second-hand); that the increments are for "
        "half an hour by Wichink Kruit et al. 2008, Atmos. Environ. 42:5304 (from memory)"
    ),
)
