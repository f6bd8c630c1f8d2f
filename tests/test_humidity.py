"""Humidity of air against a second library, printed tables and itself turned round."""

from __future__ import annotations

import math

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import unhurried

from forecast.air import complete_humidity
from forecast.panel import Floats, observed
from forecast.physics import humidity
from forecast.quantities import Flag, Origin

HOURS = np.datetime64("2031-07-01T00", "h") + np.arange(4)

temperatures_c = st.floats(-80, 60)  # the vocabulary's bounds
humidities_pct = st.floats(0.1, 100)


def _one(values: Floats) -> float:
    return float(values[0])


@pytest.mark.parametrize("temperature_c", range(1, 41))
def test_saturation_pressure_is_near_the_second_library(temperature_c: int) -> None:
    # From 1 °C on only: psychrolib turns to saturation over ice at 0.01 °C and below, this project stays over water.
    psychrolib.SetUnitSystem(psychrolib.SI)
    other_hpa = psychrolib.GetSatVapPres(float(temperature_c)) / 100
    found_hpa = _one(humidity.saturation_vapour_pressure_hpa(np.array([temperature_c])))
    # 0.35 %: the spread between common formulas over water is 0.32 %.
    assert found_hpa == pytest.approx(other_hpa, abs=0.0035 * other_hpa, rel=0)


def test_below_freezing_saturation_is_over_water() -> None:
    found_hpa = _one(humidity.saturation_vapour_pressure_hpa(np.array([-10.0])))
    # WMO-No. 8 (read second-hand): 6.112 exp[17.62 t/(243.12 + t)] over water, 22.46 and 272.62 over ice.
    over_water = 6.112 * math.exp(17.62 * -10 / (243.12 - 10))
    over_ice = 6.112 * math.exp(22.46 * -10 / (272.62 - 10))
    # 0.02 hPa: formulas over water differ by half a percent this far below freezing; ice lies 0.27 hPa away.
    assert found_hpa == pytest.approx(over_water, abs=0.02)
    assert found_hpa - over_ice > 0.2


@pytest.mark.parametrize(("temperature_c", "table_kpa"), [(24.5, 3.075), (15.0, 1.705)])
def test_saturation_pressure_is_that_of_the_printed_table(temperature_c: float, table_kpa: float) -> None:
    # FAO-56, table 2.3 (figures from memory); half of its last digit, 0.0005 kPa.
    found_kpa = humidity.saturation_vapour_pressure_hpa(np.array([temperature_c])) / 10
    np.testing.assert_allclose(found_kpa, [table_kpa], rtol=0, atol=0.0005)


def test_dew_point_of_a_summer_afternoon() -> None:
    # Five formulas and a humid-air property library give 16.69 to 16.71 °C at 25 °C and 60 %.
    found = _one(humidity.dew_point_of_humid_air_c(np.array([25.0]), np.array([60.0])))
    assert 16.69 < found < 16.71


def test_vapour_pressure_is_the_share_of_saturation() -> None:
    # At 0 °C the exponent of the formula is 0, so saturation is 6.108 hPa, and half of it 3.054.
    found = humidity.vapour_pressure_hpa(np.array([0.0]), np.array([50.0]))
    np.testing.assert_allclose(found, [3.054], rtol=0, atol=1e-12)


@pytest.mark.parametrize(("temperature_c", "slope_kpa_c"), [(20.0, 0.145), (38.0, 0.358)])
def test_slope_is_that_of_the_printed_figures(temperature_c: float, slope_kpa_c: float) -> None:
    # FAO-56 (from memory): table 2.4 at 20 °C, and 38 °C in Example 19; half of the last digit.
    found_kpa_c = humidity.saturation_slope_hpa_c(np.array([temperature_c])) / 10
    np.testing.assert_allclose(found_kpa_c, [slope_kpa_c], rtol=0, atol=0.0005)


@unhurried
@given(temperatures_c)
def test_slope_is_how_fast_saturation_grows(temperature_c: float) -> None:
    around = humidity.saturation_vapour_pressure_hpa(np.array([temperature_c - 0.001, temperature_c + 0.001]))
    by_difference = (around[1] - around[0]) / 0.002
    found = _one(humidity.saturation_slope_hpa_c(np.array([temperature_c])))
    # The printed 4098 is 17.27 · 237.3 = 4098.17 rounded: 4e-5 of it.
    assert found == pytest.approx(by_difference, rel=1e-4)


def test_slope_of_the_unknown_is_unknown() -> None:
    found = humidity.saturation_slope_hpa_c(np.array([[np.nan, 20.0]]))
    np.testing.assert_array_equal(np.isnan(found), [[True, False]])


@unhurried
@given(temperatures_c)
def test_dew_point_undoes_saturation(temperature_c: float) -> None:
    back = humidity.dew_point_c(humidity.saturation_vapour_pressure_hpa(np.array([temperature_c])))
    assert _one(back) == pytest.approx(temperature_c, abs=1e-9, rel=0)


@unhurried
@given(temperatures_c, humidities_pct)
def test_humidity_comes_back_from_its_dew_point(temperature_c: float, humidity_pct: float) -> None:
    dew_point = humidity.dew_point_of_humid_air_c(np.array([temperature_c]), np.array([humidity_pct]))
    back = humidity.relative_humidity_pct(np.array([temperature_c]), dew_point)
    assert _one(back) == pytest.approx(humidity_pct, abs=1e-9, rel=0)
    assert _one(dew_point) <= temperature_c + 1e-9


@unhurried
@given(temperatures_c, st.floats(-80, 35))
def test_humidity_stays_between_0_and_100(temperature_c: float, dew_point_c: float) -> None:
    found = _one(humidity.relative_humidity_pct(np.array([temperature_c]), np.array([dew_point_c])))
    assert 0 < found <= 100
    if dew_point_c >= temperature_c:
        assert found == 100


def test_air_read_as_wholly_dry_has_the_dew_point_of_a_tenth_of_a_percent() -> None:
    dry, nearly_dry = humidity.dew_point_of_humid_air_c(np.array([20.0, 20.0]), np.array([0.0, 0.1]))
    assert math.isfinite(dry)
    assert dry == nearly_dry


def test_no_vapour_has_no_dew_point() -> None:
    found = humidity.dew_point_c(np.array([0.0, -1.0, np.nan, 6.108]))
    # 6.108 hPa is saturation at 0 °C.
    np.testing.assert_allclose(found, [np.nan, np.nan, np.nan, 0.0], rtol=0, atol=1e-12)


def _air(**columns: list[float]) -> dict[str, Floats]:
    return {name: np.array(column)[:, None] for name, column in columns.items()}


def test_each_of_humidity_and_dew_point_stands_in_for_the_other() -> None:
    nan = math.nan
    given = _air(
        air_temperature_c=[25.0, 25.0, 25.0, nan],
        relative_humidity_pct=[60.0, nan, nan, 60.0],
        dew_point_c=[nan, 25.0, nan, nan],
    )
    found = complete_humidity(observed(HOURS, ("alder",), given)).values
    # 16.70 °C as above, to two decimals; saturated air is at its dew point; nothing comes of nothing.
    dew_point = found["dew_point_c"][:, 0]
    np.testing.assert_allclose(dew_point, [16.70, 25.0, nan, nan], rtol=0, atol=0.01)
    np.testing.assert_allclose(found["relative_humidity_pct"][:, 0], [60.0, 100.0, nan, 60.0], rtol=0, atol=1e-9)


def test_what_a_station_gave_of_both_stays_as_it_is() -> None:
    # 55 % does not fit a dew point of 20 °C at 25 °C (that is 74 %): it is the station's word all the same.
    given = _air(air_temperature_c=[25.0] * 4, relative_humidity_pct=[55.0] * 4, dew_point_c=[20.0] * 4)
    found = complete_humidity(observed(HOURS, ("alder",), given)).values
    np.testing.assert_array_equal(found["relative_humidity_pct"], given["relative_humidity_pct"])
    np.testing.assert_array_equal(found["dew_point_c"], given["dew_point_c"])


def test_a_derived_figure_carries_the_flag_and_origin_of_what_it_came_from() -> None:
    given = _air(air_temperature_c=[25.0] * 4, relative_humidity_pct=[60.0] * 4)
    panel = observed(HOURS, ("alder",), given)
    flags = np.array([[Flag.SUSPECT], [Flag.GOOD], [Flag.GOOD], [Flag.GOOD]], np.uint8)
    origin = np.array([[Origin.OBSERVED], [Origin.FILLED], [Origin.OBSERVED], [Origin.OBSERVED]], np.uint8)
    panel = panel.with_quantity("relative_humidity_pct", given["relative_humidity_pct"], flags, origin)
    found = complete_humidity(panel)
    np.testing.assert_array_equal(found.flags["dew_point_c"], flags)
    np.testing.assert_array_equal(found.origin["dew_point_c"], origin)
