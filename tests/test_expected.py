"""An issued forecast laid on the hours after the last reading, and what it is worth by its age."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import psychrolib
import pytest

from forecast.outlook.expected import aged, expected
from forecast.outlook.lead_skill import ASSUMED, LEAD_DAYS
from forecast.outlook.members import Expected
from forecast.panel import Floats, Hours

TEMPERATURE, DEW_POINT, HUMIDITY, RAIN = "air_temperature_c", "dew_point_c", "relative_humidity_pct", "rain_mm"
LAST = np.datetime64("2050-07-18T04", "h")


def run(first: str, count: int) -> Hours:
    hours: Hours = np.datetime64(first, "h") + np.arange(count).astype("timedelta64[h]")
    return hours


def laid(hours: Hours, **values: list[float]) -> dict[str, list[float]] | None:
    """What is said of the next four hours."""
    found = expected(hours, {name: np.array(array) for name, array in values.items()}, LAST, 4)
    return None if found is None else {name: array[:, 0].tolist() for name, array in found.values.items()}


def test_the_first_row_is_the_hour_after_the_last_reading_and_what_lies_before_is_left_out() -> None:
    found = laid(run("2050-07-18T03", 4), air_temperature_c=[13, 14, 15, 16], dew_point_c=[3, 4, 5, 6])
    assert found is not None
    np.testing.assert_array_equal(found[TEMPERATURE], [15, 16, np.nan, np.nan])  # of 05:00 and 06:00
    np.testing.assert_array_equal(found[DEW_POINT], [5, 6, np.nan, np.nan])


def test_a_forecast_that_begins_later_and_reaches_further_is_laid_by_its_stamps() -> None:
    found = laid(run("2050-07-18T07", 9), air_temperature_c=list(range(17, 26)), dew_point_c=[0.0] * 9)
    assert found is not None
    np.testing.assert_array_equal(found[TEMPERATURE], [np.nan, np.nan, 17, 18])


def test_stamps_with_a_gap_go_to_their_own_hours() -> None:
    hours = np.array(["2050-07-18T05", "2050-07-18T08"], dtype="datetime64[h]")
    found = laid(hours, air_temperature_c=[15, 18], dew_point_c=[5, 8])
    assert found is not None
    np.testing.assert_array_equal(found[TEMPERATURE], [15, np.nan, np.nan, 18])


def test_shapes_are_hours_ahead_by_one_series_and_nothing_given_is_written_to() -> None:
    values = {TEMPERATURE: np.array([15.0, 16.0]), DEW_POINT: np.array([20.0, np.nan])}
    for array in values.values():
        array.flags.writeable = False
    found = expected(run("2050-07-18T05", 2), values, LAST, 384)
    assert isinstance(found, Expected)
    assert {array.shape for array in found.values.values()} == {(384, 1)}
    assert values[DEW_POINT][0] == 20


def test_where_only_humidity_is_forecast_the_dew_point_is_worked_out() -> None:
    found = laid(run("2050-07-18T05", 1), air_temperature_c=[20], relative_humidity_pct=[50])
    assert found is not None
    # FAO-56 eq. 11 turned round: ln(e/0.6108 kPa) = ln 0.5 + 17.27·20/257.3 = −0.693147 + 1.342402 = 0.649255, and
    # 237.3 · 0.649255/(17.27 − 0.649255) = 154.068/16.620745 = 9.2697 °C.
    assert found[DEW_POINT][0] == pytest.approx(9.2697, abs=1e-4)
    psychrolib.SetUnitSystem(psychrolib.SI)  # by the saturation curve of Hyland and Wexler
    assert found[DEW_POINT][0] == pytest.approx(psychrolib.GetTDewPointFromRelHum(20, 0.5), abs=0.05)


def test_a_forecast_s_own_dew_point_holds_hour_by_hour_before_its_humidity() -> None:
    found = laid(
        run("2050-07-18T05", 3),
        air_temperature_c=[20, 20, 20],
        dew_point_c=[5, np.nan, np.nan],
        relative_humidity_pct=[50, 50, np.nan],
    )
    assert found is not None
    assert found[DEW_POINT][0] == 5
    assert found[DEW_POINT][1] == pytest.approx(9.2697, abs=1e-4)
    assert np.isnan(found[DEW_POINT][2])


def test_no_dew_point_lies_above_its_temperature() -> None:
    found = laid(
        run("2050-07-18T05", 3),
        air_temperature_c=[20, 20, np.nan],
        dew_point_c=[20.4, np.nan, 9],
        relative_humidity_pct=[100, 104, 80],
    )
    assert found is not None
    assert found[DEW_POINT][:2] == pytest.approx([20, 20])
    assert found[DEW_POINT][2] == 9  # without a temperature there is nothing to hold it to


NOTHING_SAID: dict[str, dict[str, list[float]]] = {
    "no humidity": {TEMPERATURE: [20, 20], RAIN: [0, 0]},
    "no temperature": {DEW_POINT: [9, 9], RAIN: [0, 0]},
    "humidity where no temperature is": {TEMPERATURE: [20, np.nan], HUMIDITY: [np.nan, 50]},
    "nothing known": {TEMPERATURE: [np.nan, np.nan], DEW_POINT: [np.nan, np.nan]},
    "rain alone": {RAIN: [0, 0]},
}


@pytest.mark.parametrize("values", NOTHING_SAID.values(), ids=NOTHING_SAID)
def test_without_temperature_and_humidity_ahead_there_is_nothing(values: dict[str, list[float]]) -> None:
    assert laid(run("2050-07-18T05", 2), **values) is None


@pytest.mark.parametrize("first", ["2050-07-18T03", "2050-07-18T09"])  # ends with the last reading; begins too late
def test_a_forecast_of_other_hours_is_nothing(first: str) -> None:
    assert laid(run(first, 2), air_temperature_c=[20, 20], dew_point_c=[9, 9]) is None


def test_only_what_members_read_and_what_is_said_comes_through() -> None:
    values: dict[str, list[float]] = {
        TEMPERATURE: [20],
        HUMIDITY: [50],
        RAIN: [1.5],
        "wind_speed_10m_m_s": [3],
        "cloud_cover_fraction": [0.5],
        "shortwave_down_w_m2": [np.nan],
        "wind_gust_10m_m_s": [9],
        "pressure_hpa": [1000],
        "rain_chance_fraction": [0.4],
    }
    found = laid(run("2050-07-18T05", 1), **values)
    assert found is not None
    assert found.keys() == {TEMPERATURE, DEW_POINT, RAIN, "wind_speed_10m_m_s", "cloud_cover_fraction"}
    assert found[RAIN][0] == 1.5


# Age


@pytest.mark.parametrize("older_h", [0.0, -3.0])
def test_a_forecast_no_older_than_the_last_reading_is_worth_what_it_is_worth(older_h: float) -> None:
    found = aged(ASSUMED, older_h)
    np.testing.assert_allclose(found.correlation, ASSUMED.correlation)
    np.testing.assert_allclose(found.shares[RAIN], ASSUMED.shares[RAIN])


def test_a_forecast_of_two_days_ago_is_worth_on_each_day_what_it_is_worth_two_days_on() -> None:
    falling: Floats = np.linspace(0.9, 0.15, LEAD_DAYS)
    skill = replace(ASSUMED, slope=falling, bias=MappingProxyType({TEMPERATURE: np.full(24, 0.3)}), issued_days=7)
    found = aged(skill, 48.0)
    nothing = [0.0, 0.0]
    np.testing.assert_allclose(found.correlation, [*ASSUMED.correlation[2:], *nothing])
    np.testing.assert_allclose(found.slope, [*falling[2:], *nothing])
    for name, shares in ASSUMED.shares.items():
        np.testing.assert_allclose(found.shares[name], [*shares[2:], *nothing])
    assert (found.bias, found.issued_days) == (skill.bias, 7)
    # Hour 1 of members is hour 49 of the forecast: between the middles of its second and third day.
    assert found.at_hours(np.array([13.0]))[0] == pytest.approx(skill.at_hours(np.array([61.0]))[0])
