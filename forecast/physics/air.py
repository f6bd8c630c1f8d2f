"""What air is: its pressure, its density, the heat that vapour takes up, and the psychrometric constant in two forms.

Source of what is marked FAO-56: Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, chapter 3.
"""

from __future__ import annotations

from forecast.panel import Floats

KELVIN_AT_0_C = 273.15  # by definition
SPECIFIC_HEAT_J_KG_C = 1010.0  # of air at constant pressure, between 1005 dry and moist air's 1013 (FAO-56 eq. 8)
_GAS_CONSTANT_J_KG_K = 287.05  # of dry air (from memory)
_VAPOUR_TO_AIR = 0.622  # molar mass of water over that of dry air (FAO-56 eq. 8)
_SEA_LEVEL_HPA = 1013.0  # FAO-56 eq. 7, there 101.3 kPa
_SEA_LEVEL_K, _LAPSE_K_M, _POWER = 293.0, 0.0065, 5.26  # FAO-56 eq. 7
_LATENT_HEAT_AT_0_C_J_KG, _LATENT_HEAT_SLOPE_J_KG_C = 2.501e6, 2361.0  # FAO-56 annex 3, eq. 3-1
_FAO_PSYCHROMETRIC_C = 0.665e-3  # FAO-56 eq. 8


def pressure_at_hpa(elevation_m: Floats | float) -> Floats:
    """Mean air pressure at a height above the sea, hPa (FAO-56 eq. 7); any shape."""
    pressure: Floats = _SEA_LEVEL_HPA * ((_SEA_LEVEL_K - _LAPSE_K_M * elevation_m) / _SEA_LEVEL_K) ** _POWER
    return pressure


def latent_heat_j_kg(temperature_c: Floats) -> Floats:
    """Heat taken up by a kilogram of water that evaporates, J/kg (FAO-56 annex 3, eq. 3-1); any shape, °C."""
    return _LATENT_HEAT_AT_0_C_J_KG - _LATENT_HEAT_SLOPE_J_KG_C * temperature_c


def air_density_kg_m3(pressure_hpa: Floats | float, temperature_c: Floats) -> Floats:
    """Density of air taken as dry, kg/m³, by the gas law; moist air is up to 2 % lighter. Shapes that fit together."""
    return 100 * pressure_hpa / (_GAS_CONSTANT_J_KG_K * (temperature_c + KELVIN_AT_0_C))


def psychrometric_constant_hpa_c(pressure_hpa: Floats | float, temperature_c: Floats) -> Floats:
    """Psychrometric constant cp·p/(0.622 λ), hPa/°C, with the latent heat of the temperature (FAO-56 eq. 8)."""
    return SPECIFIC_HEAT_J_KG_C * pressure_hpa / (_VAPOUR_TO_AIR * latent_heat_j_kg(temperature_c))


def psychrometric_constant_fao_hpa_c(pressure_hpa: Floats | float) -> Floats:
    """Psychrometric constant as reference evapotranspiration takes it, hPa/°C: 0.665e-3 p (FAO-56 eq. 8)."""
    constant: Floats = _FAO_PSYCHROMETRIC_C * pressure_hpa  # type: ignore[assignment]
    return constant
