"""Readings that cannot be are left out and told of; short holes are closed by each quantity's own rule."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import readings, unhurried

from forecast import gaps, quality
from forecast.panel import Floats, Panel, observed
from forecast.quantities import QUANTITIES, Flag, Origin

NAN = math.nan
GOOD, SUSPECT, FAIL, MISSING = Flag.GOOD, Flag.SUSPECT, Flag.FAIL, Flag.MISSING


def _panel(**columns: list[float]) -> Panel:
    """One series, an hour a figure."""
    values = {name: np.array(column)[:, None] for name, column in columns.items()}
    hours = np.datetime64("2031-07-01T00", "h") + np.arange(len(next(iter(values.values()))))
    return observed(hours, ("alder",), values)


def _filled(name: str, *column: float) -> list[float]:
    found: list[float] = gaps.fill(_panel(**{name: list(column)})).values[name][:, 0].tolist()
    return found


@pytest.mark.parametrize("name", QUANTITIES)
def test_bounds_themselves_pass_and_what_lies_outside_fails(name: str) -> None:
    quantity = QUANTITIES[name]
    outside = [quantity.least - 0.1, quantity.most + 0.1, math.inf, -math.inf]
    flags = quality.range_flags(quantity, np.array([quantity.least, quantity.most, *outside, NAN]))
    at_most = GOOD if quantity.clip_to is None else SUSPECT
    assert flags.tolist() == [GOOD, at_most, FAIL, FAIL, FAIL, FAIL, MISSING]


def test_humidity_a_little_over_100_is_taken_as_100_and_flagged() -> None:
    panel, notices = quality.check(_panel(relative_humidity_pct=[99.0, 100.0, 103.0, 105.1]))
    np.testing.assert_array_equal(panel.values["relative_humidity_pct"][:, 0], [99.0, 100.0, 100.0, NAN])
    assert panel.flags["relative_humidity_pct"][:, 0].tolist() == [GOOD, GOOD, SUSPECT, FAIL]
    assert len(notices) == 1


def test_a_failed_reading_is_left_out_and_told_of_with_its_hour_and_figure() -> None:
    raw = _panel(wind_speed_10m_m_s=[3.0, 468.5, 80.0])
    panel, (notice,) = quality.check(raw)
    np.testing.assert_array_equal(panel.values["wind_speed_10m_m_s"][:, 0], [3.0, NAN, NAN])
    assert raw.values["wind_speed_10m_m_s"][1, 0] == 468.5
    assert (notice.series, notice.quantity) == ("alder", "wind_speed_10m_m_s")
    for part in ("2 h", "0 to 75", "468.5", "2031-07-01T01:00Z"):
        assert part in notice.text


def test_readings_within_bounds_pass_without_a_word() -> None:
    panel, notices = quality.check(_panel(rain_mm=[0.0, 12.5, NAN]))
    assert notices == ()
    assert panel.flags["rain_mm"][:, 0].tolist() == [GOOD, GOOD, MISSING]
    np.testing.assert_array_equal(panel.values["rain_mm"][:, 0], [0.0, 12.5, NAN])


def test_the_worse_flag_wins_over_the_one_a_reading_came_with() -> None:
    raw = _panel(rain_mm=[1.0, 1.0, 400.0])
    came_with = np.array([[SUSPECT], [FAIL], [GOOD]], np.uint8)
    panel, _ = quality.check(raw.with_quantity("rain_mm", raw.values["rain_mm"], came_with, raw.origin["rain_mm"]))
    assert panel.flags["rain_mm"][:, 0].tolist() == [SUSPECT, FAIL, FAIL]
    # What failed is unknown, whoever failed it.
    np.testing.assert_array_equal(panel.values["rain_mm"][:, 0], [1.0, NAN, NAN])


def test_only_the_series_at_fault_is_named() -> None:
    values = {"rain_mm": np.array([[0.0, -1.0], [0.0, 0.0]])}
    hours = np.datetime64("2031-07-01T00", "h") + np.arange(2)
    _, notices = quality.check(observed(hours, ("alder", "birch"), values))
    assert [notice.series for notice in notices] == ["birch"]


def test_an_hour_is_told_of_once_however_many_members_fail_in_it() -> None:
    values = {"rain_mm": np.array([[[0.0, -1.0]], [[-2.0, -3.0]], [[0.0, 0.0]]])}
    hours = np.datetime64("2031-07-01T00", "h") + np.arange(3)
    panel, (notice,) = quality.check(observed(hours, ("alder",), values))
    assert "2 h outside" in notice.text
    np.testing.assert_array_equal(panel.values["rain_mm"][:, 0], [[0.0, NAN], [NAN, NAN], [0.0, 0.0]])


def test_three_hours_are_filled_along_a_straight_line() -> None:
    # From 10 to 18 over four steps: 2 a step.
    assert _filled("air_temperature_c", 10, NAN, NAN, NAN, 18) == [10, 12, 14, 16, 18]


def test_four_hours_stay_open_whole() -> None:
    found = _filled("air_temperature_c", 10, NAN, NAN, NAN, NAN, 20)
    np.testing.assert_array_equal(found, [10, NAN, NAN, NAN, NAN, 20])


def test_nothing_is_filled_beyond_the_first_and_last_reading() -> None:
    found = _filled("air_temperature_c", NAN, 10, 12, NAN)
    np.testing.assert_array_equal(found, [NAN, 10, 12, NAN])
    np.testing.assert_array_equal(_filled("air_temperature_c", NAN, NAN), [NAN, NAN])


@pytest.mark.parametrize("name", ["rain_mm", "shortwave_down_w_m2", "leaf_wet_fraction"])
def test_rain_sunshine_and_wetness_are_never_invented(name: str) -> None:
    np.testing.assert_array_equal(_filled(name, 0, NAN, 0), [0, NAN, 0])


def test_humidity_is_filled_through_vapour_pressure() -> None:
    panel = _panel(air_temperature_c=[20, 26, 24], relative_humidity_pct=[90, NAN, 60])
    found = gaps.fill(panel).values["relative_humidity_pct"][1, 0]

    def saturation(t: float) -> float:
        return 6.108 * math.exp(17.27 * t / (t + 237.3))  # FAO-56, eq. 11

    # Half way between the vapour pressures of 90 % at 20 °C and 60 % at 24 °C, as a share of saturation at 26 °C.
    half_way = (0.90 * saturation(20) + 0.60 * saturation(24)) / 2
    assert found == pytest.approx(100 * half_way / saturation(26), abs=1e-9)
    # A straight line in humidity itself would have said 75.
    assert abs(found - 75) > 10


def test_humidity_filled_over_saturation_is_taken_as_100() -> None:
    panel = _panel(air_temperature_c=[25, 15, 25], relative_humidity_pct=[80, NAN, 80])
    assert gaps.fill(panel).values["relative_humidity_pct"][1, 0] == 100.0


def test_humidity_can_be_filled_where_temperature_was_filled_too() -> None:
    panel = _panel(air_temperature_c=[20, NAN, 20], relative_humidity_pct=[70, NAN, 70])
    # All three hours at 20 °C: the same vapour pressure, so the same 70 %; 1e-9 for binary fractions.
    assert gaps.fill(panel).values["relative_humidity_pct"][1, 0] == pytest.approx(70.0, abs=1e-9)


def test_humidity_stays_unknown_where_temperature_does() -> None:
    panel = _panel(air_temperature_c=[20, NAN, NAN, NAN, NAN, 20], relative_humidity_pct=[70, NAN, 70, NAN, 70, 70])
    np.testing.assert_array_equal(gaps.fill(panel).values["relative_humidity_pct"][:, 0], [70, NAN, 70, NAN, 70, 70])


def test_humidity_without_any_temperature_is_not_filled() -> None:
    np.testing.assert_array_equal(_filled("relative_humidity_pct", 70, NAN, 70), [70, NAN, 70])


def test_a_filled_hour_is_marked_and_no_other() -> None:
    panel = gaps.fill(_panel(air_temperature_c=[10, NAN, 12, NAN], rain_mm=[0, NAN, 0, 0]))
    assert panel.origin["air_temperature_c"][:, 0].tolist() == [Origin.OBSERVED, Origin.FILLED, *[Origin.OBSERVED] * 2]
    two = Flag.NOT_EVALUATED
    assert panel.flags["air_temperature_c"][:, 0].tolist() == [two, GOOD, two, MISSING]
    assert (panel.origin["rain_mm"] == Origin.OBSERVED).all()


@unhurried
@given(st.data(), st.integers(0, 5))
def test_filling_keeps_what_is_known_and_stays_between_its_neighbours(data: st.DataObject, limit_hours: int) -> None:
    shape = (data.draw(st.integers(1, 24)), 2)
    given_values = data.draw(readings("air_temperature_c", shape))
    before = given_values.copy()
    found = gaps.fill_linear(given_values, limit_hours)
    np.testing.assert_array_equal(given_values, before)
    known = ~np.isnan(before)
    np.testing.assert_array_equal(found[known], before[known])
    for column in range(2):
        alone = gaps.fill_linear(before[:, column : column + 1], limit_hours)
        np.testing.assert_array_equal(found[:, column : column + 1], alone)
        _check_holes(before[:, column], found[:, column], limit_hours)


def _check_holes(before: Floats, found: Floats, limit_hours: int) -> None:
    """Every hole is either closed whole, between its edges, or left whole: by its length and its edges alone."""
    known = [-1, *np.flatnonzero(~np.isnan(before)), len(before)]
    for left, right in itertools.pairwise(known):
        hole = found[left + 1 : right]
        if left >= 0 and right < len(before) and len(hole) <= limit_hours:
            low, high = sorted((before[left], before[right]))
            assert ((hole >= low - 1e-9) & (hole <= high + 1e-9)).all()
        else:
            assert np.isnan(hole).all()
