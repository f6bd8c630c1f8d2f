"""Hours to days: which hours make a day, what the day is called, and what an unknown hour does to it."""

from __future__ import annotations

import math
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import readings, unhurried

from forecast import daily
from forecast.clock import date_of, day_number
from forecast.panel import Floats, Hours

NAN = math.nan
JULY_1 = day_number(date(2031, 7, 1))


def _hours(first: str, count: int) -> Hours:
    return np.datetime64(first, "h") + np.arange(count)


def _reduce(
    values: list[float] | Floats,
    reduction: str,
    first: str = "2031-07-01T01",
    *,
    end: int = 24,
    at: float | None = None,
    trailing: int = 1,
    over: str = "mean",
) -> daily.DayTable:
    """Days at UTC from one column of hours, the first stamp 01:00 unless told otherwise."""
    column = np.asarray(values, dtype=np.float64)
    shaped = column[:, None] if column.ndim == 1 else column
    return daily.reduce_days(
        _hours(first, len(shaped)),
        shaped,
        reduction,
        standard_offset_minutes=0,
        day_end_hour=end,
        at=at,
        trailing_days=trailing,
        trailing=over,
    )


def _day_of(stamp: str, offset_minutes: int, end: int) -> date:
    found = daily.day_numbers(np.array([np.datetime64(stamp, "h")]), offset_minutes, end)
    return date_of(int(found[0]))


def check_days_by_hand() -> None:
    """Which day a stamp belongs to, worked out on a calendar. Also run on slipped code."""
    worked = [
        # Stamp (UTC), standard time minus UTC, the day's last hour, the date that holds its last hour.
        ("2031-07-01T01", 0, 24, date(2031, 7, 1)),  # first hour of 1 July
        ("2031-07-02T00", 0, 24, date(2031, 7, 1)),  # midnight is the end of 1 July
        ("2031-07-02T01", 0, 24, date(2031, 7, 2)),
        ("2031-07-01T06", 0, 6, date(2031, 7, 1)),  # the night just ended
        ("2031-07-01T07", 0, 6, date(2031, 7, 2)),
        ("2031-07-01T12", 0, 12, date(2031, 7, 1)),
        ("2031-07-01T13", 0, 12, date(2031, 7, 2)),
        ("2031-07-01T11", -300, 6, date(2031, 7, 1)),  # 06:00 at UTC−5
        ("2031-07-01T12", -300, 6, date(2031, 7, 2)),
        ("2031-07-02T05", -300, 24, date(2031, 7, 1)),  # midnight at UTC−5
        ("2031-06-30T20", 600, 6, date(2031, 7, 1)),  # 06:00 on 1 July at UTC+10
        ("2031-06-30T21", 600, 6, date(2031, 7, 2)),
        ("2031-07-01T18", 330, 24, date(2031, 7, 1)),  # 23:30 at UTC+5:30: the last stamp not after midnight
        ("2031-07-01T19", 330, 24, date(2031, 7, 2)),  # 00:30
        ("1969-12-31T23", 0, 24, date(1969, 12, 31)),  # before the count of days begins
    ]
    for stamp, offset_minutes, end, day in worked:
        found = _day_of(stamp, offset_minutes, end)
        assert found == day, (stamp, offset_minutes, end, found)


def check_reductions_by_hand() -> None:
    """One day of known hours through every reduction. Also run on slipped code."""
    # 3 to 26: mean (3 + 26)/2 = 14.5.
    counted = [float(n) for n in range(3, 27)]
    # 3 wet, 2 dry, 7 wet, 12 dry; half an hour of wet leaves counts as a wet hour, less does not.
    wet = [1.0, 1.0, 0.5, 0.0, 0.4, *[1.0] * 6, 0.5, *[0.0] * 12]
    worked = [("mean", counted, 14.5), ("min", counted, 3.0), ("max", counted, 26.0), ("peak", counted, 26.0)]
    worked += [("sum", counted, 348.0)]  # 24 × 14.5
    worked += [("wet_hours", wet, 10.0), ("longest_wet_run", wet, 7.0)]
    assert {reduction for reduction, *_ in worked} == set(daily.REDUCTIONS)
    for reduction, hours, answer in worked:
        table = _reduce(hours, reduction)
        assert table.values.tolist() == [[answer]], (reduction, table.values)
        assert table.days.tolist() == [JULY_1]


def check_counts_by_hand() -> None:
    """Hours beside a level, known and unknown, through every count. Also run on slipped code."""
    # 91 three times, 90 twice, 91 four times, 90 once, 80 fourteen times.
    humid = [91.0] * 3 + [90.0] * 2 + [91.0] * 4 + [90.0] + [80.0] * 14
    worked = [("hours_above", 7.0), ("hours_from", 10.0), ("longest_run_above", 4.0)]
    assert {count for count, _ in worked} == set(daily.COUNTS)
    for count, answer in worked:
        assert _reduce(humid, count, at=90).values.tolist() == [[answer]], count
        assert _reduce(humid, count, at=91.5).values.tolist() == [[0.0]], count
        assert _reduce(humid, count, at=79.9).values.tolist() == [[24.0]], count
        # Humid or not, an hour beside the longest run that is not known could make it longer, and one more to count.
        assert math.isnan(_reduce([*humid[:9], NAN, *humid[10:]], count, at=90).values[0, 0]), count
        assert math.isnan(_reduce([*humid[:6], NAN, *humid[7:]], count, at=90).values[0, 0]), count
    for count in ("hours_above", "hours_from"):
        assert math.isnan(_reduce([*humid[:-1], NAN], count, at=90).values[0, 0]), count
        assert math.isnan(_reduce([NAN, *humid[1:]], count, at=90).values[0, 0]), count
    # One hour more at the far end could not make a longer run than the four; two beside it could.
    assert _reduce([*humid[:-1], NAN], "longest_run_above", at=90).values.tolist() == [[4.0]]
    joined = [*humid[:3], NAN, *humid[4:]]
    assert _reduce(joined, "longest_run_above", at=90).values.tolist() == [[4.0]]  # 3 + 1, not joined with the 4
    joined = [91.0] * 3 + [NAN] + [91.0] * 4 + [80.0] * 16
    assert math.isnan(_reduce(joined, "longest_run_above", at=90).values[0, 0])  # 4, or 8
    three_gone = [NAN] * 3 + [91.0] * 4 + [80.0] * 17
    assert math.isnan(_reduce(three_gone, "longest_run_above", at=90).values[0, 0])  # 21 hours make no day


def check_trailing_days_by_hand() -> None:
    """Mean and lowest over this day and those before it. Also run on slipped code."""
    hours = np.repeat([4.0, 1.0, 5.0, 9.0, 6.0], 24)
    worked = {"mean": [NAN, NAN, 10 / 3, 5.0, 20 / 3], "lowest": [NAN, NAN, 1.0, 1.0, 5.0]}
    assert set(worked) == set(daily.TRAILING)
    for over, answers in worked.items():
        found = _reduce(hours, "max", trailing=3, over=over).values[:, 0]
        np.testing.assert_allclose(found, answers, rtol=0, atol=1e-12)
    hours[24:48] = NAN
    found = _reduce(hours, "max", trailing=2, over="lowest").values[:, 0]
    np.testing.assert_array_equal(found, [NAN, NAN, NAN, 5.0, 6.0])


def check_unknown_hours_by_hand() -> None:
    """22 of 24 hours make a day, and an unknown hour of wetness is never a dry one. Also run on slipped code."""
    counted = [float(n) for n in range(1, 25)]
    two_gone, three_gone = [NAN, NAN, *counted[2:]], [NAN, NAN, NAN, *counted[3:]]
    # 3 + … + 24 = 297 over 22 hours: 13.5. An hour unknown is not one of 0 °C, neither in warmth nor in frost.
    assert _reduce(two_gone, "mean").values.tolist() == [[13.5]]
    assert _reduce(two_gone, "min").values.tolist() == [[3.0]]
    assert _reduce([-one for one in two_gone], "max").values.tolist() == [[-3.0]]
    # One that is not known could have been the highest; rain of it could have fallen.
    assert math.isnan(_reduce(two_gone, "peak").values[0, 0])
    assert math.isnan(_reduce(two_gone, "sum").values[0, 0])
    for reduction in daily.REDUCTIONS:
        assert math.isnan(_reduce(three_gone, reduction).values[0, 0]), reduction
    could_join = [*[1.0] * 5, 0.5, NAN, 0.5, *[1.0] * 4, *[0.0] * 12]  # 6, or 12 if the unknown hour was wet
    assert math.isnan(_reduce(could_join, "longest_wet_run").values[0, 0])
    cannot_matter = [*[1.0] * 6, 0.0, NAN, *[0.0] * 16]  # at most one hour more, on its own
    assert _reduce(cannot_matter, "longest_wet_run").values.tolist() == [[6.0]]
    for hours in (could_join, cannot_matter):
        assert math.isnan(_reduce(hours, "wet_hours").values[0, 0])


def test_days_by_hand() -> None:
    check_days_by_hand()


def test_reductions_by_hand() -> None:
    check_reductions_by_hand()


def test_counts_by_hand() -> None:
    check_counts_by_hand()


def test_trailing_days_by_hand() -> None:
    check_trailing_days_by_hand()


def test_unknown_hours_by_hand() -> None:
    check_unknown_hours_by_hand()


@pytest.mark.parametrize("offset_minutes", [-570, -300, 0, 330, 345, 600])
@pytest.mark.parametrize("end", [1, 6, 12, 24])
def test_the_last_stamp_of_a_day_is_in_it_and_the_next_is_not(offset_minutes: int, end: int) -> None:
    stamp = daily.last_stamp(JULY_1, offset_minutes, end)
    found = daily.day_numbers(stamp + np.arange(-23, 2), offset_minutes, end)
    assert found.tolist() == [JULY_1] * 24 + [JULY_1 + 1]


def test_a_day_ends_at_the_last_utc_stamp_not_after_a_half_hour_midnight() -> None:
    # Midnight at UTC+5:30 is 18:30 UTC.
    assert daily.last_stamp(JULY_1, 330, 24) == np.datetime64("2031-07-01T18", "h")


@pytest.mark.parametrize("end", [6, 12, 24])
def test_every_day_has_24_hours_on_both_dates_the_clock_is_changed(end: int) -> None:
    zone = ZoneInfo("America/New_York")
    for changed, clock_hours in ((date(2031, 3, 9), 23), (date(2031, 11, 2), 25)):
        midnight = datetime(changed.year, changed.month, changed.day, tzinfo=zone)
        next_midnight = datetime(changed.year, changed.month, changed.day + 1, tzinfo=zone)
        # The clock's own day is short or long, or this test shows nothing.
        assert next_midnight.astimezone(UTC) - midnight.astimezone(UTC) == timedelta(hours=clock_hours)
        found = daily.day_numbers(_hours(f"{changed - timedelta(days=4)}T00", 9 * 24), -300, end)
        counts = Counter(found.tolist())
        around = [counts[day_number(changed) + step] for step in (-2, -1, 0, 1, 2)]
        assert around == [24] * 5


def test_hours_from_the_middle_of_one_day_to_the_middle_of_another_keep_their_days() -> None:
    # From 13:00 on 1 July to 12:00 on 3 July: 12 hours, 24 hours, 12 hours.
    table = _reduce([float(n) for n in range(48)], "max", first="2031-07-01T13")
    assert table.days.tolist() == [JULY_1, JULY_1 + 1, JULY_1 + 2]
    assert table.hours_known[:, 0].tolist() == [12, 24, 12]
    np.testing.assert_array_equal(table.values[:, 0], [NAN, 35.0, NAN])  # 12 + 24 − 1


def test_a_wet_night_is_one_run_in_a_day_from_noon_to_noon() -> None:
    # Wet from 20:00 to 06:00, ten stamps from 21:00 on, the last at 06:00.
    hours = [0.0] * 8 + [1.0] * 10 + [0.0] * 30
    noon_to_noon = _reduce(hours, "longest_wet_run", first="2031-07-01T13", end=12)
    assert noon_to_noon.days[0] == JULY_1 + 1
    assert noon_to_noon.values[0, 0] == 10.0
    midnight = _reduce([0.0] * 12 + hours, "longest_wet_run", first="2031-07-01T01")
    assert midnight.values[:2, 0].tolist() == [4.0, 6.0]


def test_a_run_begins_anew_each_day() -> None:
    # Wet for two whole days: 24 hours a day, not 48.
    assert _reduce([1.0] * 48, "longest_wet_run").values[:, 0].tolist() == [24.0, 24.0]


def test_a_mean_over_trailing_days_needs_all_of_them() -> None:
    # Days of 1, 2, … 7, one of them unknown.
    by_day = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]
    hours = np.repeat(by_day, 24)
    table = _reduce(hours, "mean", trailing=3)
    np.testing.assert_array_equal(table.values[:, 0], [NAN, NAN, 2.0, 3.0, 4.0, 5.0, 6.0])
    hours[2 * 24 : 3 * 24] = NAN
    table = _reduce(hours, "mean", trailing=3)
    np.testing.assert_array_equal(table.values[:, 0], [NAN, NAN, NAN, NAN, NAN, 5.0, 6.0])
    table = _reduce(hours, "mean", trailing=2)
    np.testing.assert_array_equal(table.values[:, 0], [NAN, 1.5, NAN, NAN, 4.5, 5.5, 6.5])
    alone = daily.reduce_days(
        _hours("2031-07-01T01", len(hours)), hours[:, None], "mean", standard_offset_minutes=0, day_end_hour=24
    )
    np.testing.assert_array_equal(alone.values[:, 0], [1.0, 2.0, NAN, 4.0, 5.0, 6.0, 7.0])


def test_fewer_days_than_the_trailing_ones_give_nothing() -> None:
    assert np.isnan(_reduce([1.0] * 48, "mean", trailing=3).values).all()


def test_an_unknown_reduction_is_refused() -> None:
    with pytest.raises(KeyError, match="median"):
        _reduce([1.0] * 24, "median")
    with pytest.raises(KeyError, match="highest"):
        _reduce([1.0] * 48, "mean", trailing=2, over="highest")


@pytest.mark.parametrize("count", daily.COUNTS)
def test_a_count_needs_a_level_and_nothing_else_takes_one(count: str) -> None:
    with pytest.raises(ValueError, match="needs a level"):
        _reduce([1.0] * 24, count)
    with pytest.raises(ValueError, match="nothing else takes one"):
        _reduce([1.0] * 24, "mean", at=3)


def test_a_count_of_a_day_from_noon_to_noon_counts_its_own_hours() -> None:
    # Above 90 for the 14 stamps 21:00 to 10:00; calendar days would have 4 and 10 of them.
    humid = [80.0] * 8 + [91.0] * 14 + [80.0] * 26
    noon = _reduce(humid, "hours_above", first="2031-07-01T13", end=12, at=90)
    assert noon.days[0] == JULY_1 + 1
    assert noon.values[:, 0].tolist() == [14.0, 0.0]
    midnight = _reduce([80.0] * 12 + humid, "longest_run_above", at=90)
    assert midnight.values[:2, 0].tolist() == [4.0, 10.0]


@unhurried
@given(
    st.data(),
    st.sampled_from([*((one, None) for one in sorted(daily.REDUCTIONS)), *((one, 15) for one in sorted(daily.COUNTS))]),
    st.integers(1, 24),
    st.sampled_from([-300, 0, 330]),
    st.integers(1, 3),
    st.sampled_from(sorted(daily.TRAILING)),
)
def test_series_and_members_do_not_touch_and_a_day_later_is_a_day_later(
    data: st.DataObject, what: tuple[str, int | None], end: int, offset_minutes: int, trailing: int, over: str
) -> None:
    reduction, at = what
    name = "leaf_wet_fraction" if "wet" in reduction else "air_temperature_c"
    count = data.draw(st.integers(1, 60))
    values = data.draw(readings(name, (count, 3), holes=data.draw(st.booleans())))
    hours = _hours("2031-07-01T05", count)

    def reduced(hours: Hours, values: Floats) -> daily.DayTable:
        return daily.reduce_days(
            hours,
            values,
            reduction,
            standard_offset_minutes=offset_minutes,
            day_end_hour=end,
            at=at,
            trailing_days=trailing,
            trailing=over,
        )

    together = reduced(hours, values)
    assert together.values.shape == (len(together.days), 3)
    for column in range(3):
        alone = reduced(hours, values[:, column : column + 1])
        _same(alone.values[:, 0], together.values[:, column])
    members = reduced(hours, np.stack([values, values[:, ::-1]], axis=2))
    _same(members.values[..., 0], together.values)
    _same(members.values[..., 1], together.values[:, ::-1])
    later = reduced(hours + np.timedelta64(24, "h"), values)
    np.testing.assert_array_equal(later.days, together.days + 1)
    _same(later.values, together.values)


def _same(found: Floats, other: Floats) -> None:
    # 1e-9 °C or h: a sum may be taken in another order where the columns lie otherwise in memory.
    np.testing.assert_allclose(found, other, rtol=0, atol=1e-9)
