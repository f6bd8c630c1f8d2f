"""Humidity of air, over water, by Tetens' form as FAO-56 prints it.

Source: Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, chapter 3, eq. 11 (there in
kPa: 0.6108 exp[17.27 T / (T + 237.3)]). Over water below 0 °C too, as humidity is reported by convention
(WMO-No. 8).
"""

from __future__ import annotations

import numpy as np

from forecast.panel import Floats

_AT_0_C_HPA = 6.108  # FAO-56 eq. 11, 0.6108 kPa
_SLOPE = 17.27  # FAO-56 eq. 11
_OFFSET_C = 237.3  # FAO-56 eq. 11
_SLOPE_TIMES_OFFSET_C = 4098.0  # FAO-56 eq. 13: 17.27 · 237.3 = 4098.17, printed as 4098
_DRIEST_PCT = 0.1  # house choice: a reading of 0 % has no dew point; this one stands for it


def saturation_vapour_pressure_hpa(temperature_c: Floats) -> Floats:
    """Vapour pressure of air saturated over water, hPa; any shape, °C."""
    return _AT_0_C_HPA * np.exp(_SLOPE * temperature_c / (temperature_c + _OFFSET_C))


def saturation_slope_hpa_c(temperature_c: Floats) -> Floats:
    """Slope of the saturation vapour pressure curve, hPa/°C (FAO-56 eq. 13); any shape, °C."""
    return _SLOPE_TIMES_OFFSET_C * saturation_vapour_pressure_hpa(temperature_c) / (temperature_c + _OFFSET_C) ** 2


def dew_point_c(vapour_pressure_hpa: Floats) -> Floats:
    """Temperature at which air of this vapour pressure saturates, °C (eq. 11 turned round); NaN at 0 or less."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.log(np.where(vapour_pressure_hpa > 0, vapour_pressure_hpa, np.nan) / _AT_0_C_HPA)
    return _OFFSET_C * ratio / (_SLOPE - ratio)


def vapour_pressure_hpa(air_temperature_c: Floats, relative_humidity_pct: Floats) -> Floats:
    """Vapour pressure of air, hPa, from temperature (°C) and relative humidity (%)."""
    return saturation_vapour_pressure_hpa(air_temperature_c) * relative_humidity_pct / 100


def relative_humidity_pct(air_temperature_c: Floats, dew_point_c: Floats) -> Floats:
    """Relative humidity, %, from temperature and dew point (°C); never above 100."""
    ratio = saturation_vapour_pressure_hpa(dew_point_c) / saturation_vapour_pressure_hpa(air_temperature_c)
    return np.minimum(100 * ratio, 100.0)


def dew_point_of_humid_air_c(air_temperature_c: Floats, relative_humidity_pct: Floats) -> Floats:
    """Dew point, °C, from temperature (°C) and relative humidity (%)."""
    return dew_point_c(vapour_pressure_hpa(air_temperature_c, np.maximum(relative_humidity_pct, _DRIEST_PCT)))
