"""Wet by a tree of dew-point depression, wind and humidity with two fitted lines: CART/SLD, wind brought to the turf.

In windy hours the second line holds the *square* of humidity. Copies of the rule have often lost the square; without
it the line stays far below its threshold in any weather, so that no windy hour could ever be wet. The lines were fitted
without the hours from 08 to 19 and without days of rain (read second-hand); by day and around rain they are stretched.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecast.canopy import TurfHours
from forecast.panel import Floats
from forecast.physics.wind import wind_speed_near_ground_m_s
from forecast.wetness.form import HAIR, WETTING_RAIN_MM, WetnessMethod

WIND_HEIGHT_M = 0.3  # Kim et al. 2002 (abstract): the wind that the tree reads
DRY_FROM_C = 3.7  # of dew-point depression
WINDY_FROM_M_S = 2.5  # the figure's number; one place in the text has 2.46 (read second-hand)
HUMID_FROM_PCT = 87.8  # a windy hour less humid is dry
CALM_LINE = 14.4674  # above it a calm hour is wet
WINDY_LINE = 37.0  # above it a windy humid hour is wet


def calm_discriminant(temperature_c: Floats, humidity_pct: Floats, wind_m_s: Floats, depression_c: Floats) -> Floats:
    """The first line, for wind below 2.5 m/s; temperatures below 0 °C count as 0 in every term."""
    t = np.maximum(temperature_c, 0)
    return (
        1.6064 * np.sqrt(t)
        + 0.0036 * t * t
        + 0.1531 * humidity_pct
        - 0.4599 * wind_m_s * depression_c
        - 0.0035 * t * humidity_pct
    )


def windy_discriminant(temperature_c: Floats, humidity_pct: Floats, wind_m_s: Floats, depression_c: Floats) -> Floats:
    """The second line, for wind from 2.5 m/s; temperatures below 0 °C count as 0 in every term."""
    t = np.maximum(temperature_c, 0)
    return (
        0.7921 * np.sqrt(t)
        + 0.0046 * humidity_pct * humidity_pct
        - 2.3889 * wind_m_s
        - 0.0390 * t * wind_m_s
        + 1.0613 * wind_m_s * depression_c
    )


def is_wet(temperature_c: Floats, humidity_pct: Floats, wind_m_s: Floats, depression_c: Floats) -> NDArray[np.bool_]:
    """The tree on known air; wind at 0.3 m; any one shape."""
    reading = (temperature_c, humidity_pct, wind_m_s, depression_c)
    by_line = np.where(
        wind_m_s < WINDY_FROM_M_S,
        calm_discriminant(*reading) > CALM_LINE,
        (humidity_pct >= HUMID_FROM_PCT) & (windy_discriminant(*reading) > WINDY_LINE),
    )
    return by_line & (depression_c < DRY_FROM_C - HAIR)


def wet_fraction(turf: TurfHours) -> Floats:
    """1 wet, 0 dry, NaN where temperature, dew point, humidity or wind is unknown; an hour with rain is wet."""
    depression = turf.air_temperature_c - turf.dew_point_c
    wind = wind_speed_near_ground_m_s(turf.wind_speed_10m_m_s, WIND_HEIGHT_M)
    wet = is_wet(turf.air_temperature_c, turf.relative_humidity_pct, wind, depression).astype(np.float64)
    wet[~turf.known(CLASSIFICATION_TREE.needs)] = np.nan
    wet[turf.rain_mm >= WETTING_RAIN_MM] = 1.0
    return wet


CLASSIFICATION_TREE = WetnessMethod(
    key="classification_tree",
    name="a tree of dew-point depression, wind at 0.3 m and humidity (CART/SLD)",
    needs=("air_temperature_c", "dew_point_c", "relative_humidity_pct", "wind_speed_10m_m_s"),
    kernel=wet_fraction,
    source=(
        "Gleason et al. 1994, Plant Dis. 78:1011-1016, and for the wind Kim et al. 2002, Plant Dis. 86:179-185 "
        "(numbers read second-hand; the square of humidity argued from the weather that the rule must tell apart)"
    ),
)
