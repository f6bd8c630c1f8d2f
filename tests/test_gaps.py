"""Short holes are closed by each quantity's own rule."""

from __future__ import annotations

import itertools
import math

import benchmark_gaps as bench
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import readings, unhurried

from forecast import gaps
from forecast.panel import Floats, Panel, observed
from forecast.quantities import QUANTITIES, Flag, GapRule, Origin

NAN = math.nan
GOOD, MISSING = Flag.GOOD, Flag.MISSING


def _panel(**columns: list[float]) -> Panel:
    """One series, an hour a figure."""
    values = {name: np.array(column)[:, None] for name, column in columns.items()}
    length = len(next(iter(values.values())))
    hours = np.datetime64("2031-07-01T00", "h") + np.arange(length).astype("timedelta64[h]")
    return observed(hours, ("alder",), values)


def _filled(name: str, *column: float) -> list[float]:
    found: list[float] = gaps.fill(_panel(**{name: list(column)})).values[name][:, 0].tolist()
    return found


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


def test_every_hole_that_was_closed_is_told_with_its_rule_and_length() -> None:
    before = observed(
        np.datetime64("2031-07-01T00", "h") + np.arange(8).astype("timedelta64[h]"),
        ("alder", "birch"),
        {
            "air_temperature_c": np.array([[10, NAN, 12, 13, NAN, NAN, NAN, 17], [1, 1, 1, NAN, NAN, NAN, NAN, 1]]).T,
            "relative_humidity_pct": np.array([[80, 80, NAN, 80, 80, 80, 80, 80], [70] * 8]).T,
            "rain_mm": np.array([[0, NAN, 0, 0, 0, 0, 0, 0], [0] * 8]).T,
        },
    )
    found = gaps.fills(before, gaps.fill(before))
    hour = before.hours
    assert found == (
        gaps.Fill("alder", "air_temperature_c", GapRule.LINEAR, 1, hour[1]),
        gaps.Fill("alder", "air_temperature_c", GapRule.LINEAR, 3, hour[4]),
        gaps.Fill("alder", "relative_humidity_pct", GapRule.VAPOUR_PRESSURE, 1, hour[2]),
    )


def test_nothing_is_told_where_nothing_was_closed() -> None:
    panel = _panel(air_temperature_c=[10, NAN, NAN, NAN, NAN, 12], rain_mm=[0, NAN, 0, 0, 0, 0])
    assert gaps.fills(panel, gaps.fill(panel)) == ()


def test_a_filled_dew_point_is_never_above_the_temperature_of_its_hour() -> None:
    panel = _panel(air_temperature_c=[20, 11, 20], dew_point_c=[15, NAN, 15])
    # The line between 15 and 15 passes 15; the air of that hour is at 11.
    assert gaps.fill(panel).values["dew_point_c"][:, 0].tolist() == [15, 11, 15]


def test_a_reported_dew_point_above_the_temperature_is_left_as_it_is() -> None:
    panel = _panel(air_temperature_c=[20, 11, 20], dew_point_c=[15, 12, 15])
    assert gaps.fill(panel).values["dew_point_c"][:, 0].tolist() == [15, 12, 15]


def test_an_empty_panel_and_a_whole_one_come_back_as_they_were() -> None:
    empty = observed(np.array([], "datetime64[h]"), ("alder",), {"air_temperature_c": np.empty((0, 1))})
    assert gaps.fill(empty).values["air_temperature_c"].shape == (0, 1)
    assert gaps.fills(empty, gaps.fill(empty)) == ()
    np.testing.assert_array_equal(gaps.fill_linear(np.array([[1.0], [2.0]]), 3), [[1.0], [2.0]])


@unhurried
@given(st.data())
def test_holes_of_humidity_are_told_whole(data: st.DataObject) -> None:
    """What is told adds up to the hours marked as filled, and no told hole is longer than its quantity's limit."""
    shape = (data.draw(st.integers(1, 30)), 2)
    names = ("air_temperature_c", "relative_humidity_pct")
    before = observed(
        np.datetime64("2031-07-01T00", "h") + np.arange(shape[0]).astype("timedelta64[h]"),
        ("alder", "birch"),
        {name: data.draw(readings(name, shape)) for name in names},
    )
    after = gaps.fill(before)
    found = gaps.fills(before, after)
    for name in names:
        told = np.zeros(shape, bool)
        for hole in found:
            if hole.quantity == name:
                assert hole.gap_hours <= QUANTITIES[name].gap_limit_hours
                first = int((hole.first_hour - before.hours[0]).astype(np.int64))
                told[first : first + hole.gap_hours, before.series.index(hole.series)] = True
        np.testing.assert_array_equal(told, after.origin[name] == Origin.FILLED)


# What the rule rests on, on the real hours of New York's airports (source: tests/benchmark_gaps.py).


@pytest.fixture(scope="module")
def scores() -> dict[tuple[int, str], bench.Score]:
    """Every method and length, scored."""
    panel = bench.new_york()
    return {
        (length, method): found
        for length in (1, 3, 6, 12)
        for method, found in bench.by_length(panel, bench.AIRPORTS, length)
    }


def test_the_line_that_was_measured_is_the_line_that_fills() -> None:
    panel = bench.new_york()
    air = bench.air_of(panel, 0)
    hidden = bench.runs(np.asarray(~np.isnan(np.stack(air)).any(axis=0)), 3, phase=0)
    assert len(hidden.rows) > 150, "8,730 hours, a run every 40, some of them too near a hole"
    values = {name: array.copy() for name, array in panel.values.items()}
    for array in values.values():
        array[hidden.rows.ravel(), 0] = NAN
    filled = bench.air_of(gaps.fill(observed(panel.hours, panel.series, values)), 0).at(hidden.rows)
    measured = bench.METHODS[bench.LINE](air, hidden)
    # 1e-9 for binary fractions; the dew point is left out where it would pass the temperature.
    np.testing.assert_allclose(filled.temperature_c, measured.temperature_c, atol=1e-9)
    np.testing.assert_allclose(filled.humidity_pct, measured.humidity_pct, atol=1e-9)
    np.testing.assert_allclose(filled.dew_point_c, np.minimum(measured.dew_point_c, measured.temperature_c), atol=1e-9)


def test_errors_grow_with_the_length_of_the_hole(scores: dict[tuple[int, str], bench.Score]) -> None:
    for method in (bench.LINE, bench.ADJACENT):
        for shorter, longer in itertools.pairwise((1, 3, 6, 12)):
            one, other = scores[shorter, method], scores[longer, method]
            assert one.temperature_mae < other.temperature_mae
            assert one.humidity_mae < other.humidity_mae
            assert one.lost_of_humid_pct < other.lost_of_humid_pct


def test_up_to_3_h_the_line_beats_the_days_beside_and_the_other_airports(
    scores: dict[tuple[int, str], bench.Score],
) -> None:
    for length in (1, 3):
        for method in (bench.ADJACENT, bench.OTHERS):
            assert scores[length, bench.LINE].temperature_mae < scores[length, method].temperature_mae
            assert scores[length, bench.LINE].humidity_mae < scores[length, method].humidity_mae
            assert scores[length, bench.LINE].wrong_at_night_pct < scores[length, method].wrong_at_night_pct


def test_through_vapour_pressure_is_better_with_the_temperature_known_and_equal_without(
    scores: dict[tuple[int, str], bench.Score],
) -> None:
    for length in (1, 3):
        itself = scores[length, bench.LINE_ITSELF].humidity_mae
        assert scores[length, bench.HUMIDITY_ALONE].humidity_mae < 0.9 * itself
        assert scores[length, bench.LINE].humidity_mae == pytest.approx(itself, rel=0.02)


def test_a_longer_line_loses_a_third_of_the_humid_hours_and_the_days_beside_are_wrong_more_often_at_night(
    scores: dict[tuple[int, str], bench.Score],
) -> None:
    for length in (6, 12):
        line, beside = scores[length, bench.LINE], scores[length, bench.ADJACENT]
        assert line.lost_of_humid_pct > 33
        assert beside.invented_pct > 2 * line.invented_pct
        assert beside.wrong_at_night_pct > line.wrong_at_night_pct


def test_another_airport_is_as_good_at_any_length(scores: dict[tuple[int, str], bench.Score]) -> None:
    """The reason why long holes are left to other stations: their error does not grow, the line's passes it by 12 h."""
    assert scores[12, bench.OTHERS].humidity_mae == pytest.approx(scores[1, bench.OTHERS].humidity_mae, rel=0.05)
    assert scores[12, bench.OTHERS].humidity_mae < 0.8 * scores[12, bench.LINE].humidity_mae
    assert scores[12, bench.OTHERS].lost_of_humid_pct < 0.7 * scores[12, bench.LINE].lost_of_humid_pct
