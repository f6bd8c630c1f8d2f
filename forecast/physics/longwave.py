"""Longwave radiation of a clear and a clouded sky, and the net radiation of turf at air temperature."""

from __future__ import annotations

import numpy as np

from forecast.panel import Floats
from forecast.physics import humidity
from forecast.physics.air import KELVIN_AT_0_C

STEFAN_BOLTZMANN_W_M2_K4 = 5.670374e-8  # CODATA 2018 (from memory)
TURF_ALBEDO = 0.23  # FAO-56 eq. 38, the grass of the reference surface
TURF_EMISSIVITY = 0.97  # of a grass canopy; handbooks give 0.97 to 0.98 (from memory)


def emissivity_prata(air_temperature_c: Floats, dew_point_c: Floats) -> Floats:
    """Emissivity of a clear sky, 0 to 1 (Prata 1996, Q. J. R. Meteorol. Soc. 122:1127-1151; read second-hand).

    1 − (1 + w) exp[−√(1.2 + 3 w)] with w = 46.5 e/T, the precipitable water in g/cm², e in hPa, T in K.
    """
    water = 46.5 * humidity.saturation_vapour_pressure_hpa(dew_point_c) / (air_temperature_c + KELVIN_AT_0_C)
    emissivity: Floats = 1 - (1 + water) * np.exp(-np.sqrt(1.2 + 3 * water))
    return emissivity


def emissivity_brunt(dew_point_c: Floats) -> Floats:
    """Emissivity of a clear sky, 0 to 1: 0.52 + 0.065 √e, e in hPa (Brunt 1932; read second-hand)."""
    emissivity: Floats = 0.52 + 0.065 * np.sqrt(humidity.saturation_vapour_pressure_hpa(dew_point_c))
    return emissivity


def emissivity_brutsaert(air_temperature_c: Floats, dew_point_c: Floats) -> Floats:
    """Emissivity of a clear sky, 0 to 1: 1.24 (e/T)^(1/7), e in hPa, T in K (Brutsaert 1975; read second-hand)."""
    emissivity: Floats = 1.24 * (
        humidity.saturation_vapour_pressure_hpa(dew_point_c) / (air_temperature_c + KELVIN_AT_0_C)
    ) ** (1 / 7)
    return emissivity


def black_body_w_m2(temperature_c: Floats) -> Floats:
    """What a black body radiates, σ T⁴, W/m²; any shape, °C."""
    squared = (temperature_c + KELVIN_AT_0_C) ** 2
    return STEFAN_BOLTZMANN_W_M2_K4 * squared * squared


def sky_longwave_w_m2(air_temperature_c: Floats, dew_point_c: Floats, cloud_cover_fraction: Floats) -> Floats:
    """Longwave radiation of the sky on level open ground, W/m², down positive; one shape, NaN where any is unknown.

    Cloud counts as black: emissivity N + (1 − N) ε (Crawford & Duchon 1999, J. Appl. Meteorol. 38:474-480, from memory)
    """
    clear = emissivity_prata(air_temperature_c, dew_point_c)
    emissivity = cloud_cover_fraction + (1 - cloud_cover_fraction) * clear
    return emissivity * black_body_w_m2(air_temperature_c)


def isothermal_net_radiation_w_m2(
    shortwave_at_turf_w_m2: Floats,
    air_temperature_c: Floats,
    dew_point_c: Floats,
    cloud_cover_fraction: Floats,
    sky_seen_fraction: Floats | float,
) -> Floats:
    """Net radiation that turf would have at air temperature, W/m², down positive.

    What hides the sky (trees, walls) counts as black and at air temperature.

    Args:
        shortwave_at_turf_w_m2: sunlight that reaches the turf, after shade.
        air_temperature_c: near 2 m.
        dew_point_c: near 2 m.
        cloud_cover_fraction: 0 to 1.
        sky_seen_fraction: share of the sky that the turf sees, 1 in the open; a shape that goes with the others'.

    Returns:
        Shaped as the hourly arrays; NaN where any input is.
    """
    own = black_body_w_m2(air_temperature_c)
    sky = sky_longwave_w_m2(air_temperature_c, dew_point_c, cloud_cover_fraction)
    return (1 - TURF_ALBEDO) * shortwave_at_turf_w_m2 + TURF_EMISSIVITY * sky_seen_fraction * (sky - own)


# FAO-56 eq. 39 and chapter 4: σ of a day and of an hour, and its own rounding of 0 °C.
_FAO_SIGMA_DAY_MJ_M2_K4, _FAO_SIGMA_HOUR_MJ_M2_K4 = 4.903e-9, 2.043e-10
_FAO_KELVIN_AT_0_C = 273.16


def net_longwave_fao_hourly_mj_m2(
    air_temperature_c: Floats, vapour_pressure_hpa: Floats, clear_sky_share: Floats
) -> Floats:
    """Net longwave radiation that grass loses in an hour, MJ/m², up positive (FAO-56 eq. 39 with the hourly σ).

    Args:
        air_temperature_c: mean of the hour.
        vapour_pressure_hpa: of the air.
        clear_sky_share: Rs/Rso, sunlight over that of a clear sky, at most 1.
    """
    emitted = _FAO_SIGMA_HOUR_MJ_M2_K4 * (air_temperature_c + _FAO_KELVIN_AT_0_C) ** 4
    return emitted * _fao_air_and_cloud(vapour_pressure_hpa, clear_sky_share)


def net_longwave_fao_daily_mj_m2(
    air_temperature_c_max: Floats, air_temperature_c_min: Floats, vapour_pressure_hpa: Floats, clear_sky_share: Floats
) -> Floats:
    """Net longwave radiation that grass loses in a day, MJ/m², up positive (FAO-56 eq. 39).

    Args:
        air_temperature_c_max: highest of the day.
        air_temperature_c_min: lowest of the day.
        vapour_pressure_hpa: mean of the day.
        clear_sky_share: Rs/Rso over the day, at most 1.
    """
    highest, lowest = air_temperature_c_max + _FAO_KELVIN_AT_0_C, air_temperature_c_min + _FAO_KELVIN_AT_0_C
    emitted = _FAO_SIGMA_DAY_MJ_M2_K4 * (highest**4 + lowest**4) / 2
    return emitted * _fao_air_and_cloud(vapour_pressure_hpa, clear_sky_share)


def _fao_air_and_cloud(vapour_pressure_hpa: Floats, clear_sky_share: Floats) -> Floats:
    """How air and cloud hold the loss back: (0.34 − 0.14 √e)(1.35 Rs/Rso − 0.35), e in kPa (FAO-56 eq. 39)."""
    held_back: Floats = (0.34 - 0.14 * np.sqrt(vapour_pressure_hpa / 10)) * (1.35 * clear_sky_share - 0.35)
    return held_back
