"""Methods against a sensor: the measures by hand, their intervals against a known truth, and the slips in both.

All wetness here is invented.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from forecast.daily import day_numbers
from forecast.panel import Floats, Hours
from forecast.wetness import METHODS
from forecast.wetness.published import PUBLISHED
from forecast.wetness.skill import (
    LEAST_NIGHTS,
    MEASURES,
    NIGHT_END_HOUR,
    RESAMPLES,
    Comparison,
    Score,
    Skill,
    compare,
    running,
    skill,
    wet_hours,
)

NAN = math.nan
SEED = 20500718
EASTERN = -300  # minutes


def noon(first: str, nights: int, offset_minutes: int = 0) -> Hours:
    """Hours of so many nights, from the one after noon of standard time."""
    start = np.datetime64(f"{first}T13", "h") - np.timedelta64(-(-offset_minutes // 60), "h")
    hours: Hours = start + np.arange(24 * nights).astype("timedelta64[h]")
    return hours


def of_nights(*nights: Sequence[float]) -> Floats:
    """Nights that begin with some hours and are dry for the rest."""
    rows = np.zeros((len(nights), 24))
    for row, night in zip(rows, nights, strict=True):
        row[: len(night)] = night
    return rows.ravel()


def compared(
    sensor: Floats, by_method: dict[str, Floats], *, hours: Hours | None = None, offset: int = 0, seed: int = SEED
) -> Comparison:
    at = noon("2050-07-01", len(sensor) // 24, offset) if hours is None else hours
    return compare(day_numbers(at, offset, NIGHT_END_HOUR), sensor, by_method, np.random.default_rng(seed))


def measured(sensor: Floats, method: Floats, *, seed: int = SEED) -> Skill:
    return compared(sensor, {"one": method}, seed=seed).by_method["one"]


def value(score: Score) -> float:
    return NAN if score.value is None else score.value


def values(found: Skill) -> dict[str, float]:
    return {name: value(getattr(found, name)) for name in MEASURES}


def ends(score: Score) -> tuple[float, float]:
    """The interval of a score that has one."""
    assert score.low is not None
    assert score.high is not None
    return score.low, score.high


# By hand


def test_every_measure_by_hand() -> None:
    # Night one: the sensor is wet for 8 h, the method for the first 6 of them and for 1 h more elsewhere.
    # Night two: the sensor is wet for 2 h; the method for those and 3 h more.
    sensor = of_nights([1] * 8, [1] * 2)
    method = of_nights([1] * 6 + [0] * 4 + [1], [1] * 5)
    found = compared(sensor, {"one": method})
    assert (found.hours, found.nights, found.days) == (48, 2, 2)
    # Hits 6 + 2 = 8, missed 2, false alarms 1 + 3 = 4, dry on both 48 - 14 = 34.
    assert values(found.by_method["one"]) == pytest.approx(
        {
            "fraction_correct": (8 + 34) / 48,
            "hit_rate": 8 / 10,
            "false_alarm_ratio": 4 / 12,
            "false_alarm_rate": 4 / 38,
            "mean_error_h_day": (-1 + 3) / 2,  # 7 for 8, and 5 for 2
            "mean_absolute_error_h_day": (1 + 3) / 2,
            "days_within_2h": 1 / 2,
        }
    )


def test_an_error_of_just_two_hours_is_within_two() -> None:
    # Twenty tenths added one after another make 2.0000000000000004 (sum() is exact from Python 3.12 on); the
    # difference is 2 h all the same.
    assert float(np.cumsum([0.1] * 20)[-1]) > 2
    assert measured(np.zeros(24), of_nights([0.1] * 20)).days_within_2h.value == 1
    assert measured(of_nights([0.1] * 20), np.zeros(24)).days_within_2h.value == 1
    assert measured(np.zeros(24), of_nights([0.1] * 20 + [0.01])).days_within_2h.value == 0


def test_hours_are_wet_from_half_on_and_days_count_every_share() -> None:
    found = measured(of_nights([0.5, 0.5, 0.5, 0.49]), of_nights([1.0, 0.49, 0.5, 0.0]))
    # Wet for the sensor: three; of them two for the method. In shares: 1.99 h for 1.99 h.
    assert found.hit_rate.value == pytest.approx(2 / 3)
    assert found.fraction_correct.value == pytest.approx(23 / 24)
    assert found.mean_absolute_error_h_day.value == pytest.approx(0.0, abs=1e-12)


def test_a_method_that_is_the_sensor_is_perfect_and_sure() -> None:
    random = np.random.default_rng(1)
    sensor = random.random(24 * 30)
    found = measured(sensor, sensor.copy())
    for name in ("fraction_correct", "hit_rate", "days_within_2h"):
        assert getattr(found, name) == Score(1, 1, 1)
    for name in ("false_alarm_ratio", "false_alarm_rate", "mean_error_h_day", "mean_absolute_error_h_day"):
        assert getattr(found, name) == Score(0, 0, 0)


def test_a_sensor_that_is_always_wet_leaves_the_rate_of_false_alarms_unknown() -> None:
    sensor = np.ones(24 * 12)
    found = measured(sensor, of_nights(*[[1] * 6] * 12))
    assert (found.fraction_correct.value, found.hit_rate.value) == (0.25, 0.25)
    assert found.false_alarm_ratio == Score(0, 0, 0)
    assert found.false_alarm_rate == Score(None)
    assert found.mean_error_h_day == Score(-18, -18, -18)


def test_a_sensor_that_is_never_wet_leaves_the_hits_unknown() -> None:
    found = measured(np.zeros(24 * 12), of_nights(*[[1] * 6] * 12))
    assert found.hit_rate == Score(None)
    assert found.false_alarm_ratio.value == 1
    assert found.false_alarm_rate.value == 0.25
    assert measured(np.zeros(24 * 12), np.zeros(24 * 12)).fraction_correct == Score(1, 1, 1)


def test_the_sign_is_that_of_the_method_less_the_sensor() -> None:
    few, many = of_nights([1] * 4), of_nights([1] * 9)
    assert measured(few, many).mean_error_h_day.value == 5
    assert measured(many, few).mean_error_h_day.value == -5


# Time


def test_a_sensor_one_hour_off_agrees_less() -> None:
    wet = of_nights(*[[0] * 6 + [1] * 10] * 20)
    for shift in (-1, 1):
        off = np.roll(wet, shift)
        found = measured(off, wet)
        # One hour at dusk and one at dawn of 24 are wrong; nine of ten wet hours are hit; no day's sum changes.
        assert found.fraction_correct.value == pytest.approx(22 / 24)
        assert found.hit_rate.value == pytest.approx(9 / 10)
        assert found.mean_absolute_error_h_day.value == 0
    assert measured(np.roll(wet, 3), wet).fraction_correct.value == pytest.approx(18 / 24)


@pytest.mark.parametrize("offset", [0, EASTERN, 570, 60])
def test_nights_run_from_noon_to_noon_of_standard_time(offset: int) -> None:
    # The night's dew lies across midnight and must not be cut: 4 h off on each of two nights, and not 0 and 8.
    hours = noon("2050-07-01", 2, offset)
    sensor = of_nights([0] * 8 + [1] * 8, [0] * 8 + [1] * 8)
    method = of_nights([0] * 8 + [1] * 12, [0] * 8 + [1] * 4)
    found = compared(sensor, {"one": method}, hours=hours, offset=offset)
    assert (found.nights, found.days) == (2, 2)
    assert found.by_method["one"].mean_error_h_day.value == 0
    assert found.by_method["one"].mean_absolute_error_h_day.value == 4
    # 1 July 2050 is 29 401 days after 1970-01-01: 80 · 365 + 20 leap days + 181 days. A night has the date of its end.
    assert (found.first_night, found.last_night) == (29_402, 29_403)
    # Read as if UTC were standard time, the nights of the east coast are cut at other hours.
    if offset == EASTERN:
        assert compared(sensor, {"one": method}, hours=hours, offset=0).nights == 3


def test_a_stamp_at_noon_ends_the_night_before() -> None:
    at_eleven, at_noon, after = np.array(["2050-07-02T11", "2050-07-02T12", "2050-07-02T13"], "datetime64[h]")
    both = {"one": np.ones(2)}
    assert compared(np.ones(2), both, hours=np.array([at_eleven, at_noon])).nights == 1
    assert compared(np.ones(2), both, hours=np.array([at_noon, after])).nights == 2


# What is not known


def test_unknown_hours_count_for_nothing_and_are_never_dry() -> None:
    sensor, method = of_nights([1] * 8, [1] * 8), of_nights([1] * 8, [1] * 8)
    sensor[2:5] = NAN
    method[4:7] = NAN
    found = compared(sensor, {"one": method})
    assert (found.hours, found.nights, found.days) == (48 - 5, 2, 1)
    assert values(found.by_method["one"])["fraction_correct"] == 1
    assert values(found.by_method["one"])["mean_absolute_error_h_day"] == 0
    # One night is whole, and of its hours the sensor calls 8 wet.
    assert found.sensor_wet_h_day == 8
    assert found.sensor_wet_share == pytest.approx((8 - 5 + 8) / 43)


@pytest.mark.parametrize(("unknown", "days"), [(0, 1), (2, 1), (3, 0)])
def test_a_day_needs_22_hours_of_both(unknown: int, days: int) -> None:
    sensor, method = of_nights([1] * 12), of_nights([1] * 6)
    sensor[24 - unknown :] = NAN
    found = compared(sensor, {"one": method})
    assert found.days == days
    # 6 h of the hours known, brought to a whole day: 6 · 24 / 22 where two are missing.
    expected = -6 * 24 / (24 - unknown) if days else NAN
    one = found.by_method["one"]
    assert value(one.mean_error_h_day) == pytest.approx(expected, nan_ok=True)
    assert one.fraction_correct.value is not None, "hours count all the same"
    assert found.sensor_wet_h_day == (pytest.approx(12 * 24 / (24 - unknown)) if days else None)


def test_nothing_in_common_is_unknown_throughout() -> None:
    found = compared(np.full(48, NAN), {"one": np.ones(48)})
    assert (found.hours, found.nights, found.days) == (0, 0, 0)
    assert (dict(found.by_method), dict(found.behind_h_day), found.left_out) == ({}, {}, ("one",))
    assert (found.first_night, found.sensor_wet_h_day, found.sensor_wet_share, found.first_in_draws) == (None,) * 4
    with pytest.raises(ValueError, match="too few"):
        skill(np.zeros(48, np.int64), np.full(48, NAN), np.ones(48), np.random.default_rng(1))
    assert skill(np.zeros(48, np.int64), np.ones(48), np.ones(48), np.random.default_rng(1)).hit_rate == Score(1)


def test_shapes_that_differ_are_refused() -> None:
    nights = np.zeros(24, np.int64)
    for sensor, method in ((np.ones(23), np.ones(24)), (np.ones(24), np.ones((24, 1))), (np.ones(24), np.ones(25))):
        with pytest.raises(ValueError, match="one figure an hour"):
            compare(nights, sensor, {"a": method}, np.random.default_rng(1))


def test_inputs_are_not_written_to() -> None:
    sensor, method = np.random.default_rng(1).random((2, 24 * 12))
    before = sensor.copy(), method.copy()
    measured(sensor, method)
    np.testing.assert_array_equal(before, (sensor, method))


# How sure


def test_fewer_than_ten_nights_have_no_interval() -> None:
    assert LEAST_NIGHTS == 10
    few = measured(of_nights(*[[1] * 8] * 9), of_nights(*[[1] * 6] * 9))
    assert few.fraction_correct.value == pytest.approx(22 / 24)
    assert all(getattr(few, name).low is None and getattr(few, name).high is None for name in MEASURES)
    enough = measured(of_nights(*[[1] * 8] * 10), of_nights(*[[1] * 6] * 10))
    assert enough.fraction_correct.low == pytest.approx(22 / 24)
    assert enough.mean_error_h_day == Score(-2, -2, -2)


def test_ten_nights_of_which_few_are_whole_have_no_interval_for_days() -> None:
    sensor = of_nights(*[[1] * 8] * 12)
    sensor.reshape(12, 24)[:5, 12:] = NAN
    found = compared(sensor, {"one": of_nights(*[[1] * 6] * 12), "two": of_nights(*[[1] * 5] * 12)})
    assert (found.nights, found.days) == (12, 7)
    one = found.by_method["one"]
    low, high = ends(one.fraction_correct)
    assert low <= value(one.fraction_correct) <= high
    assert one.mean_error_h_day == Score(-2)
    assert found.behind_h_day["two"] == Score(1)
    assert found.first_in_draws is None


def test_the_same_seed_gives_the_same_interval_and_another_seed_nearly() -> None:
    sensor, method = np.random.default_rng(3).random((2, 24 * 60))
    first, again, other = (measured(sensor, method, seed=seed) for seed in (SEED, SEED, SEED + 1))
    assert first == again
    assert first.fraction_correct != other.fraction_correct
    low, high = ends(first.fraction_correct)
    width = high - low
    # An end is a 5 % quantile of 1,000 draws: its standard error is √(0.05 · 0.95 / 1000) / 0.103 = 0.067 standard
    # deviations of the draws, and the width is 3.29 of them: a fiftieth. Two ends of two runs: within a tenth.
    assert RESAMPLES == 1000
    assert ends(other.fraction_correct) == pytest.approx((low, high), abs=0.1 * width)


def test_nights_are_drawn_whole() -> None:
    # Each night is right or wrong as a whole. The share right of n nights drawn with replacement has a standard
    # deviation of √(p(1−p)/n), and nine in ten lie within 1.645 of it; hours drawn singly would give a fifth (1/√24).
    nights, wrong = 400, 120
    sensor = np.ones((nights, 24))
    sensor[:wrong] = 0
    low, high = ends(measured(sensor.ravel(), np.ones(24 * nights)).fraction_correct)
    expected = 2 * 1.645 * math.sqrt(0.7 * 0.3 / nights)
    assert high - low == pytest.approx(expected, rel=0.1)
    by_night = low * nights
    assert by_night == pytest.approx(round(by_night), abs=1e-6), "whole nights only"


def _errors(random: np.random.Generator, nights: int) -> tuple[Floats, Floats]:
    """A sensor, and a method that starts and ends each night's dew at hours of its own, two parts off by chance."""
    sensor, method = np.zeros((nights, 24)), np.zeros((nights, 24))
    for night in range(nights):
        on, off = 6 + random.integers(-2, 3), 18 + random.integers(-2, 3)
        late = random.integers(-3, 4)  # the whole night's own error, at its end
        sensor[night, on:off] = 1
        method[night, on : off + late] = 1
    return sensor.ravel(), method.ravel()


def test_intervals_hold_a_known_truth_nine_times_in_ten() -> None:
    # The error of a night is −3 to 3 h with equal chance: its size is (0 + 1 + 1 + 2 + 2 + 3 + 3) / 7 = 12/7 h, its
    # mean 0, hours right 1 − 12/7/24, days within two hours 5/7. Of 300 records of 60 nights nine in ten should hold
    # each; the standard error of that count is √(0.9 · 0.1 / 300) = 1.7 %, and percentile intervals of 60 nights fall
    # short by a point or two (Efron & Tibshirani 1993, from memory): 84 to 95 % are accepted.
    truth = {
        "mean_absolute_error_h_day": 12 / 7,
        "mean_error_h_day": 0.0,
        "fraction_correct": 1 - 12 / 7 / 24,
        "days_within_2h": 5 / 7,
    }
    random = np.random.default_rng(20500718)
    held = dict.fromkeys(truth, 0)
    for record in range(300):
        found = measured(*_errors(random, 60), seed=record)
        for name, true in truth.items():
            low, high = ends(getattr(found, name))
            held[name] += low - 1e-12 <= true <= high + 1e-12
    for name, count in held.items():
        assert 0.84 <= count / 300 <= 0.95, (name, count / 300)


def test_an_interval_narrows_with_the_root_of_the_nights() -> None:
    random = np.random.default_rng(5)
    short, long = (ends(measured(*_errors(random, nights)).mean_absolute_error_h_day) for nights in (50, 800))
    # Sixteen times the nights: a quarter of the width.
    assert (long[1] - long[0]) / (short[1] - short[0]) == pytest.approx(1 / 4, rel=0.3)


# Several methods


def test_the_best_is_the_one_nearest_by_the_day_and_the_others_stand_behind_it() -> None:
    sensor = of_nights(*[[1] * 8] * 20)
    found = compared(
        sensor,
        {"far": of_nights(*[[1] * 12] * 20), "near": of_nights(*[[1] * 7] * 20), "middle": of_nights(*[[1] * 6] * 20)},
    )
    assert list(found.by_method) == ["near", "middle", "far"]
    assert dict(found.behind_h_day) == {"middle": Score(1, 1, 1), "far": Score(3, 3, 3)}
    assert found.first_in_draws == 1
    assert found.sensor_wet_h_day == pytest.approx(8)
    assert found.sensor_wet_share == pytest.approx(8 / 24)
    assert found.left_out == ()


def test_two_methods_that_take_turns_are_too_close_to_tell() -> None:
    sensor = of_nights(*[[1] * 8] * 40)
    one = of_nights(*[[1] * (8 + 2 * (night % 2)) for night in range(40)])
    two = of_nights(*[[1] * (10 - 2 * (night % 2)) for night in range(40)])
    found = compared(sensor, {"one": one, "two": two})
    assert found.by_method["one"].mean_absolute_error_h_day.value == 1
    low, high = ends(found.behind_h_day["two"])
    assert low < 0 < high
    assert found.first_in_draws is not None
    assert 0.3 < found.first_in_draws < 0.7
    thousandths = found.first_in_draws * RESAMPLES
    assert thousandths == pytest.approx(round(thousandths), abs=1e-9)
    assert round(thousandths) % 10, "a thousand draws and no rounder number of them"
    # Nights are drawn alike for both: where one gains the other loses, and the difference has twice the spread.
    own = ends(found.by_method["one"].mean_absolute_error_h_day)
    assert high - low == pytest.approx(2 * (own[1] - own[0]), rel=0.1)


def test_methods_meet_the_sensor_on_the_same_hours() -> None:
    # The second method is wrong on the first of twenty nights, which the first method does not tell.
    sensor, short = of_nights(*[[1] * 8] * 20), of_nights(*[[1] * 8] * 20)
    short[:24] = NAN
    wrong_at_first = of_nights([0] * 8, *[[1] * 8] * 19)
    found = compared(sensor, {"short": short, "wrong at first": wrong_at_first})
    assert (found.hours, found.nights, found.first_night) == (24 * 19, 19, 29_403)
    assert found.by_method["wrong at first"].fraction_correct.value == 1, "its bad night is not held against it alone"


def test_a_method_that_tells_less_than_nine_tenths_of_the_sensors_hours_is_left_out() -> None:
    sensor = of_nights(*[[1] * 8] * 21)
    sensor[-24:] = NAN  # what the sensor does not tell is not asked of a method
    too_few, enough = (of_nights(*[[1] * 8] * 21) for _ in range(2))
    too_few[:49], enough[:48] = NAN, NAN  # of 480 hours 48 may be missing
    found = compared(sensor, {"too few": too_few, "enough": enough})
    assert found.left_out == ("too few",)
    assert list(found.by_method) == ["enough"]
    assert (found.hours, found.days) == (432, 18)
    assert found.first_in_draws is None, "it stands alone"


def test_methods_run_that_tell_nine_tenths_of_what_any_tells() -> None:
    most, some, few = np.ones(100), np.ones(100), np.ones(100)
    most[:10] = NAN
    some[:19] = NAN
    few[11:] = NAN
    # Told by any: all 100 h. Nine tenths of them: the first just, the others not.
    assert running({"most": most, "some": some, "few": few}) == ("most",)
    assert running({"some": some, "most": most}) == ("some", "most"), "81 of 90"
    assert running({"none": np.full(5, NAN)}) == ()
    assert running({}) == ()


def test_equals_go_to_the_first_named() -> None:
    sensor = of_nights(*[[1] * 8] * 12)
    method = of_nights(*[[1] * 6] * 12)
    assert list(compared(sensor, {"b": method, "a": method.copy()}).by_method) == ["b", "a"]


def test_without_a_whole_day_the_best_is_the_one_with_most_hours_right() -> None:
    sensor = of_nights(*[[1] * 8] * 12)
    sensor.reshape(12, 24)[:, 12:] = NAN
    found = compared(sensor, {"worse": of_nights(*[[1] * 5] * 12), "better": of_nights(*[[1] * 6] * 12)})
    assert list(found.by_method) == ["better", "worse"]
    assert (found.days, dict(found.behind_h_day)) == (0, {})
    assert (found.first_in_draws, found.sensor_wet_h_day) == (None, None)


def test_wet_hours_of_a_day_are_those_of_its_known_hours_brought_to_24() -> None:
    fraction = of_nights([1] * 11, [1] * 11, [1] * 11)[:, None]
    fraction[22:24] = NAN
    fraction[24 + 21 : 48] = NAN
    table = wet_hours(noon("2050-07-01", 3), fraction, 0)
    np.testing.assert_allclose(table.values[:, 0], [11 * 24 / 22, NAN, 11])
    # 1 July 2050 is day 29 401, as above; its night ends on the 2nd.
    assert table.days.tolist() == [29_402, 29_403, 29_404]


# What others found


def test_published_figures_are_of_known_methods_and_name_their_source() -> None:
    assert {one.method for one in PUBLISHED} - {""} <= set(METHODS)
    assert all("read second-hand" in one.source for one in PUBLISHED)


def test_published_figures_are_those_of_the_papers() -> None:
    # Lulu, Sentelhas & Pedro 2008 and Gleason et al. 1994, both read second-hand.
    by_error = {
        (one.method, one.mean_error_h_day, one.mean_absolute_error_h_day)
        for one in PUBLISHED
        if one.mean_error_h_day is not None
    }
    assert by_error == {
        ("classification_tree", -1.09, 1.68),
        ("dew_point_depression", -2.04, 2.33),
        ("", 2.30, 2.60),
        ("humidity_threshold", -2.78, 2.86),
    }
    by_hour = {one.method: (one.fraction_correct, one.days_within_2h) for one in PUBLISHED if one.fraction_correct}
    assert by_hour == {"classification_tree": (0.835, 0.760), "humidity_threshold": (0.786, 0.672)}
