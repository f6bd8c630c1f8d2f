"""Clock times of watering and dew removal on hours of UTC: minutes, weekdays, and both changes of the clock."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import unhurried

from forecast.canopy.watering import DEW_TAKEN_FRACTION, dew_removed_fraction, irrigation_mm
from forecast.panel import Floats, Hours
from forecast.turf import DewRemoval, Irrigation, Setting

NEW_YORK = ZoneInfo("America/New_York")  # UTC−5, summer time from 2026-03-08 02:00 to 2026-11-01 02:00
KOLKATA = ZoneInfo("Asia/Kolkata")  # UTC+5:30
SYDNEY = ZoneInfo("Australia/Sydney")  # UTC+10, summer time until 2026-04-05 03:00
EVERY_DAY = tuple(range(7))
SUNDAY = (6,)


def _hours(first: str, count: int) -> Hours:
    return np.datetime64(first, "h") + np.arange(count).astype("timedelta64[h]")


def _watered(hours: Hours, days: tuple[int, ...], start: time, zone: ZoneInfo) -> dict[str, float]:
    """Stamps with water, and how much, at 6 mm a time."""
    column = irrigation_mm(hours, [Setting(irrigation=Irrigation(days, start, 6.0))], zone)[:, 0]
    return {str(hours[row]): float(column[row]) for row in np.flatnonzero(column)}


def _removed(hours: Hours, days: tuple[int, ...], at: time, zone: ZoneInfo) -> dict[str, float]:
    column = dew_removed_fraction(hours, [Setting(dew_removal=DewRemoval(days, at))], zone)[:, 0]
    return {str(hours[row]): float(column[row]) for row in np.flatnonzero(column)}


def test_a_start_wets_the_hour_that_begins_with_it() -> None:
    # 05:00 at UTC−5 is 10:00 UTC; the hour ends at 11:00 UTC.
    assert _watered(_hours("2026-01-14T00", 24), EVERY_DAY, time(5), NEW_YORK) == {"2026-01-14T11": 6.0}


def test_minutes_share_the_water_between_two_hours() -> None:
    # From 05:45 to 06:45: a quarter by 06:00, which is 11:00 UTC.
    told = _watered(_hours("2026-01-14T00", 24), EVERY_DAY, time(5, 45), NEW_YORK)
    assert told == {"2026-01-14T11": 1.5, "2026-01-14T12": 4.5}


def test_a_zone_on_the_half_hour_shares_a_start_on_the_hour() -> None:
    # 05:00 at UTC+5:30 is 23:30 UTC of the day before.
    told = _watered(_hours("2026-01-14T12", 24), EVERY_DAY, time(5), KOLKATA)
    assert told == {"2026-01-15T00": 3.0, "2026-01-15T01": 3.0}


def test_the_controller_follows_the_clock_through_both_changes() -> None:
    spring = _watered(_hours("2026-03-07T00", 72), EVERY_DAY, time(5), NEW_YORK)
    assert list(spring) == ["2026-03-07T11", "2026-03-08T10", "2026-03-09T10"]
    autumn = _watered(_hours("2026-10-31T00", 72), EVERY_DAY, time(5), NEW_YORK)
    assert list(autumn) == ["2026-10-31T10", "2026-11-01T11", "2026-11-02T11"]
    # In the south the clock goes back in April: 05:00 is 18:00 UTC at +11, 19:00 UTC at +10, both of the day before.
    south = _watered(_hours("2026-04-03T12", 72), EVERY_DAY, time(5), SYDNEY)
    assert list(south) == ["2026-04-03T19", "2026-04-04T20", "2026-04-05T20"]


def test_a_start_that_the_clock_jumps_over_or_shows_twice_comes_once() -> None:
    # 02:30 on 8 March is not on the clock: taken at UTC−5, 07:30 UTC. 01:30 on 1 November is twice: the first at UTC−4,
    # 05:30 UTC.
    jumped = _watered(_hours("2026-03-08T00", 24), EVERY_DAY, time(2, 30), NEW_YORK)
    assert jumped == {"2026-03-08T08": 3.0, "2026-03-08T09": 3.0}
    twice = _watered(_hours("2026-11-01T00", 24), EVERY_DAY, time(1, 30), NEW_YORK)
    assert twice == {"2026-11-01T06": 3.0, "2026-11-01T07": 3.0}


def test_weekdays_are_those_of_the_clock_and_not_of_utc() -> None:
    # Sunday 18 January 2026, 23:00 at UTC−5, is Monday 04:00 UTC.
    assert _watered(_hours("2026-01-15T00", 24 * 7), SUNDAY, time(23), NEW_YORK) == {"2026-01-19T05": 6.0}
    # Sunday 05:00 at UTC+11 is Saturday 18:00 UTC.
    assert _watered(_hours("2026-01-15T00", 24 * 7), SUNDAY, time(5), SYDNEY) == {"2026-01-17T19": 6.0}


def test_every_day_set_gets_its_water_once_over_ten_years() -> None:
    hours = _hours("2016-01-01T06", 24 * 3653)  # from midnight at UTC−5 on, 2016 to 2025
    days = (0, 3)
    for start in (time(0), time(2, 30), time(5), time(23)):
        water = irrigation_mm(hours, [Setting(irrigation=Irrigation(days, start, 6.0))], NEW_YORK)
        # 1 January 2016 was a Friday, 4 (calendar): Mondays and Thursdays among 3653 days.
        times = sum((4 + day) % 7 in days for day in range(3653))
        assert water.sum() == pytest.approx(6.0 * times, abs=1e-9)


def test_dew_goes_at_the_end_of_the_hour_that_holds_its_time() -> None:
    hours = _hours("2026-07-14T00", 24)
    # 06:00 at UTC−4 is 10:00 UTC, the end of that hour; a minute later is in the next.
    assert _removed(hours, EVERY_DAY, time(6), NEW_YORK) == {"2026-07-14T10": DEW_TAKEN_FRACTION}
    assert _removed(hours, EVERY_DAY, time(6, 1), NEW_YORK) == {"2026-07-14T11": DEW_TAKEN_FRACTION}
    assert _removed(hours, EVERY_DAY, time(6, 59), NEW_YORK) == {"2026-07-14T11": DEW_TAKEN_FRACTION}
    # 14 July 2026 is a Tuesday, 1.
    assert _removed(hours, (0, 2), time(6), NEW_YORK) == {}


def test_dew_removal_follows_the_clock_too() -> None:
    told = _removed(_hours("2026-03-07T00", 48), EVERY_DAY, time(6), NEW_YORK)
    assert list(told) == ["2026-03-07T11", "2026-03-08T10"]


def test_where_nothing_is_set_there_is_none_and_series_do_not_mix() -> None:
    hours = _hours("2026-01-12T00", 24 * 7)
    watered = Setting(irrigation=Irrigation((1,), time(5), 6.0))
    dragged = Setting(dew_removal=DewRemoval((1,), time(7)))
    settings = [Setting(), watered, dragged]
    water, removed = irrigation_mm(hours, settings, NEW_YORK), dew_removed_fraction(hours, settings, NEW_YORK)
    np.testing.assert_array_equal(water.sum(axis=0), [0, 6, 0])
    np.testing.assert_array_equal(removed.sum(axis=0), [0, 0, DEW_TAKEN_FRACTION])
    assert irrigation_mm(hours[:0], settings, NEW_YORK).shape == (0, 3)


def _one_by_one(hours: Hours, irrigation: Irrigation, zone: ZoneInfo) -> Floats:
    """The same told minute by minute: for each minute of each hour, whether water runs, by the clock of an hour before.

    Where the clock has jumped or shows an hour twice the rule is another, so it is for zones without summer time.
    """
    water = np.zeros(len(hours))
    for row, stamp in enumerate(hours):
        end = datetime.fromtimestamp(int(stamp.astype("datetime64[s]").astype(np.int64)), UTC)
        for minute in range(60):
            now = end - timedelta(minutes=60 - minute)
            clock = now.astimezone(zone)
            for date in (clock.date(), clock.date() - timedelta(days=1)):
                since = clock - datetime.combine(date, irrigation.start, zone)
                if date.weekday() in irrigation.days and timedelta(0) <= since < timedelta(hours=1):
                    water[row] += irrigation.depth_mm / 60
    return water


@unhurried
@given(
    st.integers(0, 24 * 700),
    st.sets(st.integers(0, 6), min_size=1),
    st.times().map(lambda at: at.replace(second=0, microsecond=0)),
    st.sampled_from(["Asia/Kolkata", "America/Phoenix", "Pacific/Kiritimati", "Asia/Kathmandu", "UTC"]),
)
def test_it_equals_the_minutes_counted_one_by_one(later: int, days: set[int], start: time, zone: str) -> None:
    hours = _hours("2025-03-01T00", 60) + np.timedelta64(later, "h")
    irrigation = Irrigation(tuple(days), start, 6.0)
    told = irrigation_mm(hours, [Setting(irrigation=irrigation)], ZoneInfo(zone))[:, 0]
    np.testing.assert_allclose(told, _one_by_one(hours, irrigation, ZoneInfo(zone)), rtol=0, atol=1e-9)


@unhurried
@given(st.integers(0, 24 * 380), st.integers(1, 24 * 20), st.times(), st.sampled_from([NEW_YORK, KOLKATA, SYDNEY]))
def test_a_part_of_the_record_is_told_as_in_the_whole(first: int, count: int, at: time, zone: ZoneInfo) -> None:
    hours = _hours("2026-01-01T00", 24 * 400)
    at = at.replace(second=0, microsecond=0)
    settings = [Setting(irrigation=Irrigation((0, 2, 6), at, 6.0), dew_removal=DewRemoval((5, 6), at))]
    part = slice(first, first + count)
    for told in (irrigation_mm, dew_removed_fraction):
        np.testing.assert_array_equal(told(hours[part], settings, zone), told(hours, settings, zone)[part])
