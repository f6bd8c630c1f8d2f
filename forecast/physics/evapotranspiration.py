"""Reference evapotranspiration: FAO-56, ASCE 2005 for short and tall cover, by hour and by day; Hargreaves by day.

Sources: Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, chapters 3 and 4; ASCE-EWRI 2005, The
ASCE Standardized Reference Evapotranspiration Equation (read second-hand). The two differ by the hour: ASCE takes 0.24
by day and 0.96 by night where FAO-56 takes 0.34, so that hourly figures of the two must not be mixed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecast.panel import Floats, Hours
from forecast.physics import humidity, longwave, radiation, sun, wind
from forecast.physics.air import pressure_at_hpa, psychrometric_constant_fao_hpa_c

_MM_PER_MJ_M2 = 0.408  # FAO-56 eq. 20: 1 / 2.45 MJ/kg
_FAO_KELVIN_AT_0_C = 273.0  # FAO-56 eq. 6, as printed


@dataclass(frozen=True, slots=True)
class Reference:
    """One reference surface: the constants in which the standards differ.

    Attributes:
        name: for print.
        hourly_numerator: Cn of an hour.
        hourly_by_day: Cd of an hour with net radiation at 0 or above, s/m.
        hourly_by_night: Cd of an hour with net radiation below 0, s/m.
        soil_share_by_day: heat into the soil over net radiation, at 0 or above.
        soil_share_by_night: the same below 0.
        daily_numerator: Cn of a day.
        daily_denominator: Cd of a day, s/m.
        source: where the constants come from.
    """

    name: str
    hourly_numerator: float
    hourly_by_day: float
    hourly_by_night: float
    soil_share_by_day: float
    soil_share_by_night: float
    daily_numerator: float
    daily_denominator: float
    source: str


FAO_56 = Reference("FAO-56", 37, 0.34, 0.34, 0.1, 0.5, 900, 0.34, "FAO-56 eq. 6, 45, 46 and 53")
_ASCE = "ASCE-EWRI 2005, table 1, eq. 65 and 66 (read second-hand)"
ASCE_SHORT = Reference("ASCE 2005, short", 37, 0.24, 0.96, 0.1, 0.5, 900, 0.34, _ASCE)
ASCE_TALL = Reference("ASCE 2005, tall", 66, 0.25, 1.7, 0.04, 0.2, 1600, 0.38, _ASCE)


def net_radiation_fao_mj_m2(shortwave_down_mj_m2: Floats, net_longwave_mj_m2: Floats) -> Floats:
    """Net radiation of grass over an hour or a day, MJ/m², down positive; net longwave up positive (FAO-56 eq. 40)."""
    return (1 - longwave.TURF_ALBEDO) * shortwave_down_mj_m2 - net_longwave_mj_m2


def et0_hourly_mm(
    air_temperature_c: Floats,
    vapour_pressure_hpa: Floats,
    wind_speed_2m_m_s: Floats,
    net_radiation_mj_m2: Floats,
    pressure_hpa: Floats | float,
    reference: Reference = FAO_56,
) -> Floats:
    """Reference evapotranspiration over an hour, mm (FAO-56 eq. 53; ASCE 2005 eq. 1).

    Args:
        air_temperature_c: mean of the hour.
        vapour_pressure_hpa: mean of the hour.
        wind_speed_2m_m_s: mean of the hour.
        net_radiation_mj_m2: over the hour.
        pressure_hpa: of the air.
        reference: whose constants.

    Returns:
        Shaped as the inputs together; below 0 where dew would form; NaN where any input is.
    """
    by_day = net_radiation_mj_m2 >= 0
    soil_heat = np.where(by_day, reference.soil_share_by_day, reference.soil_share_by_night) * net_radiation_mj_m2
    return _penman(
        air_temperature_c,
        humidity.saturation_vapour_pressure_hpa(air_temperature_c) - vapour_pressure_hpa,
        wind_speed_2m_m_s,
        net_radiation_mj_m2 - soil_heat,
        pressure_hpa,
        reference.hourly_numerator,
        np.where(by_day, reference.hourly_by_day, reference.hourly_by_night),
    )


def et0_daily_mm(
    air_temperature_c_max: Floats,
    air_temperature_c_min: Floats,
    vapour_pressure_hpa: Floats,
    wind_speed_2m_m_s: Floats,
    net_radiation_mj_m2: Floats,
    pressure_hpa: Floats | float,
    reference: Reference = FAO_56,
) -> Floats:
    """Reference evapotranspiration over a day, mm, with no heat kept by the soil (FAO-56 eq. 6; ASCE 2005 eq. 1).

    Saturation is the mean of that of the highest and the lowest temperature (FAO-56 eq. 12).

    Args:
        air_temperature_c_max: highest of the day.
        air_temperature_c_min: lowest of the day.
        vapour_pressure_hpa: mean of the day.
        wind_speed_2m_m_s: mean of the day.
        net_radiation_mj_m2: over the day.
        pressure_hpa: of the air.
        reference: whose constants.

    Returns:
        Shaped as the inputs together; NaN where any input is.
    """
    saturation = humidity.saturation_vapour_pressure_hpa
    saturated = (saturation(air_temperature_c_max) + saturation(air_temperature_c_min)) / 2
    return _penman(
        (air_temperature_c_max + air_temperature_c_min) / 2,
        saturated - vapour_pressure_hpa,
        wind_speed_2m_m_s,
        net_radiation_mj_m2,
        pressure_hpa,
        reference.daily_numerator,
        reference.daily_denominator,
    )


def _penman(
    temperature_c: Floats,
    deficit_hpa: Floats,
    wind_speed_2m_m_s: Floats,
    heat_mj_m2: Floats,
    pressure_hpa: Floats | float,
    numerator: float,
    denominator: Floats | float,
) -> Floats:
    """The one equation behind all: [0.408 Δ H + γ Cn u D/(T + 273)] / [Δ + γ (1 + Cd u)], pressures in kPa.

    Air said to hold more than it can counts as just saturated, D = 0.
    """
    slope_kpa_c = humidity.saturation_slope_hpa_c(temperature_c) / 10
    gamma_kpa_c = psychrometric_constant_fao_hpa_c(pressure_hpa) / 10
    deficit_kpa = np.maximum(deficit_hpa, 0.0) / 10
    wind_term = numerator / (temperature_c + _FAO_KELVIN_AT_0_C) * wind_speed_2m_m_s * deficit_kpa
    above = _MM_PER_MJ_M2 * slope_kpa_c * heat_mj_m2 + gamma_kpa_c * wind_term
    return above / (slope_kpa_c + gamma_kpa_c * (1 + denominator * wind_speed_2m_m_s))


def et0_of_hours_mm(
    hours: Hours,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
    *,
    air_temperature_c: Floats,
    dew_point_c: Floats,
    wind_speed_10m_m_s: Floats,
    shortwave_down_w_m2: Floats,
    cloud_cover_fraction: Floats,
    reference: Reference = FAO_56,
) -> Floats:
    """Reference evapotranspiration of hours as a station has them, mm an hour; the day's is the sum of its 24.

    Sunlight and cloud are first told from each other (:func:`forecast.physics.radiation.complete_sky`). A station's
    temperature stands at the end of the hour, not for its mean: over a day the difference goes out.

    Args:
        hours: unbroken ``datetime64[h]`` UTC stamps, shape (hours,).
        latitude_deg: north positive.
        longitude_deg: east positive.
        elevation_m: above the sea.
        air_temperature_c: shape (hours, ...), as all that follow.
        dew_point_c: near 2 m.
        wind_speed_10m_m_s: at 10 m.
        shortwave_down_w_m2: measured, NaN where it was not.
        cloud_cover_fraction: measured, NaN where it was not.
        reference: whose constants.

    Returns:
        Shaped as the temperature; NaN where temperature, dew point, wind or both of sunlight and cloud are unknown.
    """
    column = (-1,) + (1,) * (air_temperature_c.ndim - 1)
    elevation_deg = sun.mid_hour_elevation_deg(hours, latitude_deg, longitude_deg).reshape(column)
    above_air = radiation.extraterrestrial_hourly_mj_m2(hours, latitude_deg, longitude_deg).reshape(column)
    clear_sky = radiation.clear_sky_fao_mj_m2(above_air, elevation_m)
    sunlight, cloud = radiation.complete_sky(shortwave_down_w_m2, cloud_cover_fraction, elevation_deg)
    shortwave = sunlight * radiation.MJ_M2_H_PER_W_M2
    share = radiation.clear_sky_share(shortwave, clear_sky, cloud, elevation_deg)
    vapour = humidity.saturation_vapour_pressure_hpa(dew_point_c)
    lost = longwave.net_longwave_fao_hourly_mj_m2(air_temperature_c, vapour, share)
    return et0_hourly_mm(
        air_temperature_c,
        vapour,
        wind.wind_speed_at_m_s(wind_speed_10m_m_s, from_m=10, to_m=2),
        net_radiation_fao_mj_m2(shortwave, lost),
        pressure_at_hpa(elevation_m),
        reference,
    )


def et0_of_days_mm(
    day_of_year: Floats,
    latitude_deg: float,
    elevation_m: float,
    *,
    air_temperature_c_max: Floats,
    air_temperature_c_min: Floats,
    dew_point_c_mean: Floats,
    wind_speed_10m_m_s_mean: Floats,
    shortwave_down_w_m2_mean: Floats,
    reference: Reference = FAO_56,
) -> Floats:
    """Reference evapotranspiration of days from their highest, lowest and mean figures, mm (FAO-56, chapter 4).

    Args:
        day_of_year: from 1, a shape that goes with the figures', such as (days, 1).
        latitude_deg: north positive.
        elevation_m: above the sea.
        air_temperature_c_max: highest of the day.
        air_temperature_c_min: lowest of the day.
        dew_point_c_mean: mean of the day.
        wind_speed_10m_m_s_mean: mean of the day.
        shortwave_down_w_m2_mean: mean over all 24 hours.
        reference: whose constants.

    Returns:
        Shaped as the figures; NaN where any is.
    """
    shortwave = shortwave_down_w_m2_mean * radiation.MJ_M2_DAY_PER_W_M2
    above_air = radiation.extraterrestrial_daily_mj_m2(day_of_year, latitude_deg)
    clear_sky = radiation.clear_sky_fao_mj_m2(above_air, elevation_m)
    sunless = clear_sky <= 0
    share = np.where(sunless, 1.0, shortwave / np.where(sunless, 1.0, clear_sky))
    vapour = humidity.saturation_vapour_pressure_hpa(dew_point_c_mean)
    lost = longwave.net_longwave_fao_daily_mj_m2(
        air_temperature_c_max, air_temperature_c_min, vapour, np.clip(share, radiation.LEAST_SHARE_FAO, 1.0)
    )
    return et0_daily_mm(
        air_temperature_c_max,
        air_temperature_c_min,
        vapour,
        wind.wind_speed_at_m_s(wind_speed_10m_m_s_mean, from_m=10, to_m=2),
        net_radiation_fao_mj_m2(shortwave, lost),
        pressure_at_hpa(elevation_m),
        reference,
    )


def et0_hargreaves_mm(
    day_of_year: Floats, latitude_deg: Floats | float, air_temperature_c_max: Floats, air_temperature_c_min: Floats
) -> Floats:
    """Reference evapotranspiration over a day from temperature alone, mm (Hargreaves; FAO-56 eq. 52).

    For places without sunlight, cloud or humidity: 0.0023 (mean + 17.8) √(max − min) Ra, the mean being that of the
    two. FAO-56 says to check it against eq. 6 where that can be had; it tends to be high where it is humid.

    Returns:
        Shaped as the inputs together, never below 0; NaN where any input is, and where the highest is below the lowest.
    """
    above_air_mm = _MM_PER_MJ_M2 * radiation.extraterrestrial_daily_mj_m2(day_of_year, latitude_deg)
    mean_c = (air_temperature_c_max + air_temperature_c_min) / 2
    swing_c = air_temperature_c_max - air_temperature_c_min
    root = np.sqrt(np.where(swing_c >= 0, swing_c, np.nan))
    evaporated: Floats = 0.0023 * np.maximum(mean_c + 17.8, 0.0) * root * above_air_mm
    return evaporated
