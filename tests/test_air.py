"""Pressure, density, latent heat and the psychrometric constants against printed examples and arithmetic."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import unhurried

from forecast.physics import air

elevations_m = st.floats(-400, 4500)  # from the Dead Sea to the highest towns
temperatures_c = st.floats(-80, 60)  # the vocabulary's bounds


def test_pressure_and_psychrometric_constant_of_the_printed_example() -> None:
    # FAO-56, Example 2 (from memory): at 1,800 m 81.8 kPa and 0.054 kPa/°C.
    # 101.3 ((293 − 0.0065 · 1800) / 293)^5.26 = 101.3 · 0.960068^5.26 = 101.3 · 0.80707 = 81.756.
    pressure_hpa = air.pressure_at_hpa(1800.0)
    assert float(pressure_hpa) / 10 == pytest.approx(81.756, abs=0.005)
    # 0.665e-3 · 81.756 = 0.054368.
    assert float(air.psychrometric_constant_fao_hpa_c(pressure_hpa)) / 10 == pytest.approx(0.054368, abs=5e-6)


def test_at_the_sea_pressure_is_the_standard_one() -> None:
    assert float(air.pressure_at_hpa(0.0)) == 1013.0


@pytest.mark.parametrize("elevation_m", [0, 273, 1208.5, 1800, 3000])
def test_pressure_is_near_the_second_librarys(elevation_m: float) -> None:
    # psychrolib has the standard atmosphere of 15 °C at sea level, FAO-56 one of 20 °C: apart by 0.6 % at 3,000 m.
    psychrolib.SetUnitSystem(psychrolib.SI)
    other_hpa = psychrolib.GetStandardAtmPressure(elevation_m) / 100
    assert float(air.pressure_at_hpa(elevation_m)) == pytest.approx(other_hpa, rel=0.008)


def test_the_two_psychrometric_constants_are_each_what_their_name_says() -> None:
    pressure_hpa, temperature_c = np.array([1000.0]), np.array([20.0])
    # cp p / (0.622 λ): λ = 2.501e6 − 2361 · 20 = 2,453,780 J/kg; 1010 · 1000 / (0.622 · 2,453,780) = 0.661752.
    found = air.psychrometric_constant_hpa_c(pressure_hpa, temperature_c)
    np.testing.assert_allclose(found, [0.661752], rtol=0, atol=1e-6)
    # 0.665e-3 · 1000 = 0.665, at any temperature.
    np.testing.assert_allclose(air.psychrometric_constant_fao_hpa_c(pressure_hpa), [0.665], rtol=0, atol=1e-12)


def test_latent_heat_at_freezing_and_at_the_rounded_figure_of_the_handbook() -> None:
    # FAO-56 takes 2.45 MJ/kg, that of 20 °C or so: 2.501 − 0.002361 · 20 = 2.45378.
    np.testing.assert_allclose(air.latent_heat_j_kg(np.array([0.0, 20.0])), [2.501e6, 2.45378e6], rtol=0, atol=1e-6)


def test_density_is_that_of_the_gas_law() -> None:
    # The standard atmosphere (ISO 2533, from memory): 1013.25 hPa and 15 °C, 1.225 kg/m³.
    found = air.air_density_kg_m3(1013.25, np.array([15.0]))
    np.testing.assert_allclose(found, [1.225], rtol=0, atol=5e-4)


@pytest.mark.parametrize(("temperature_c", "humidity"), [(0.0, 0.5), (20.0, 1.0), (30.0, 1.0)])
def test_moist_air_is_lighter_by_no_more_than_two_percent(temperature_c: float, humidity: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(temperature_c, humidity, 101325)
    moist_kg_m3 = psychrolib.GetMoistAirDensity(temperature_c, ratio, 101325)
    dry_kg_m3 = float(air.air_density_kg_m3(1013.25, np.array(temperature_c)))
    assert 0.98 * dry_kg_m3 < moist_kg_m3 < 1.0005 * dry_kg_m3


@unhurried
@given(elevations_m, elevations_m)
def test_pressure_falls_with_height(one_m: float, other_m: float) -> None:
    low_m, high_m = sorted((one_m, other_m))
    assert 500 < air.pressure_at_hpa(high_m) <= air.pressure_at_hpa(low_m) < 1100


@unhurried
@given(temperatures_c, elevations_m)
def test_plausible_air_has_plausible_figures(temperature_c: float, elevation_m: float) -> None:
    pressure_hpa, temperature = air.pressure_at_hpa(elevation_m), np.array(temperature_c)
    assert 0.5 < air.air_density_kg_m3(pressure_hpa, temperature) < 2
    assert 2.3e6 < air.latent_heat_j_kg(temperature) < 2.7e6
    constant = air.psychrometric_constant_hpa_c(pressure_hpa, temperature)
    # Below 0 °C and above 40 °C the two forms part, by latent heat: 2.45 MJ/kg is 5 to 10 % off at the ends.
    assert constant == pytest.approx(float(air.psychrometric_constant_fao_hpa_c(pressure_hpa)), rel=0.11)


def test_unknown_stays_unknown_and_shapes_fit_together() -> None:
    temperature = np.array([[20.0, np.nan], [np.nan, 0.0]])
    for found in (
        air.air_density_kg_m3(1000.0, temperature),
        air.psychrometric_constant_hpa_c(np.array([1000.0, 900.0]), temperature),
        air.latent_heat_j_kg(temperature),
    ):
        np.testing.assert_array_equal(np.isnan(found), np.isnan(temperature))
    assert np.isnan(air.pressure_at_hpa(np.array([np.nan]))).all()
