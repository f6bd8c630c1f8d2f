"""Chances of the days ahead: members, usual ones beyond, and windows that agree with their days."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecast.outlook.calibration import LEADS, Calibration, as_they_are
from forecast.outlook.climatology import Usual
from forecast.outlook.event_ahead import EventAhead, StandMembers
from forecast.panel import Floats

DAYS, MEMBERS, YEARS = LEADS + 1, 100, 10
TODAY = int(np.datetime64("2030-07-10", "D").astype(int))
FIRST = int(np.datetime64("2020-01-01", "D").astype(int))


def usual(rate: float, seed: int = 1) -> Usual:
    days = np.arange(FIRST, TODAY)
    return Usual((np.random.default_rng(seed).uniform(size=len(days)) < rate).astype(float), days)


def ahead(
    passed: Floats, climate: Usual, calibration: Calibration | None = None, readings: Calibration | None = None
) -> EventAhead:
    year = np.repeat(np.arange(2020, 2020 + YEARS), MEMBERS // YEARS)
    nothing: Mapping[str, Floats] = {}
    members = StandMembers(TODAY, nothing, nothing, year, "forecast", TODAY + LEADS, np.zeros(6))
    own = calibration or as_they_are("forecast")
    return EventAhead(members, passed, climate, own, readings or own)


def with_share(share: float, seed: int = 2) -> Floats:
    return (np.random.default_rng(seed).uniform(size=(DAYS, MEMBERS)) < share).astype(float)


def test_a_single_day_is_the_members_share_with_five_usual_days() -> None:
    passed = with_share(0.3)
    climate = usual(0.5)
    told = ahead(passed, climate).chance(TODAY + 4, TODAY + 4)
    assert told is not None
    base = climate.value(TODAY + 4, TODAY + 4)
    assert told.value == pytest.approx((passed[4].sum() + 5 * base) / 105)
    assert (told.made, told.usual, told.years) == ("forecast", base, YEARS)


def test_a_window_counts_members_with_any_day() -> None:
    passed = with_share(0.1)
    climate = usual(0.1)
    told = ahead(passed, climate).chance(TODAY + 2, TODAY + 6)
    assert told is not None
    share = (passed[2:7].max(axis=0).sum() + 5 * climate.value(TODAY + 2, TODAY + 6)) / 105
    assert told.value == pytest.approx(share)


def test_where_members_are_not_followed_the_usual_chance_is_told_and_named_so() -> None:
    few = replace(as_they_are("forecast"), told_days=3, within=np.zeros((DAYS, DAYS)))
    one, climate = ahead(with_share(0.9), usual(0.2), few), usual(0.2)
    for first, last in ((3, 3), (16, 16), (3, 9)):
        assert one.chance(TODAY + first, TODAY + last) == climate.chance(TODAY + first, TODAY + last)
    told = one.chance(TODAY + 2, TODAY + 2)
    assert told is not None
    assert told.made == "forecast"


def test_some_days_after_a_forecasts_end_what_readings_are_worth_holds() -> None:
    readings = replace(as_they_are("readings"), told_days=11)
    full = ahead(with_share(0.9), usual(0.2), None, readings)
    one = replace(full, members=replace(full.members, forecast_until=TODAY + 7))
    told = [one.chance(TODAY + day, TODAY + day) for day in range(DAYS)]
    made = [chance.made for chance in told if chance is not None]
    assert made == ["forecast"] * 9 + ["readings"] * 2 + ["past_years"] * 6
    # A forecast that ends today tells no less than none would: readings go on from tomorrow's morrow.
    short = replace(full, members=replace(full.members, forecast_until=TODAY - 1))
    alone = replace(full, members=replace(full.members, forecast_until=None))
    for day in range(2, DAYS):
        assert short.chance(TODAY + day, TODAY + day) == alone.chance(TODAY + day, TODAY + day)


def test_beyond_the_last_member_day_and_before_today_the_usual_chance_stands() -> None:
    one, climate = ahead(with_share(0.9), usual(0.2)), usual(0.2)
    for first, last in ((LEADS, LEADS + 1), (-1, 2), (20, 22)):
        assert one.chance(TODAY + first, TODAY + last) == climate.chance(TODAY + first, TODAY + last)


def test_days_that_no_member_knows_are_told_by_the_usual_chance_and_stop_no_window() -> None:
    passed = with_share(0.9)
    passed[:3] = np.nan  # as after a hole in the readings
    one, climate = ahead(passed, usual(0.2)), usual(0.2)
    assert one.chance(TODAY + 2, TODAY + 2) == climate.chance(TODAY + 2, TODAY + 2)
    assert one.chance(TODAY + 4, TODAY + 4) != climate.chance(TODAY + 4, TODAY + 4)
    for last in range(1, DAYS):
        window, day = one.chance(TODAY + 1, TODAY + last), one.chance(TODAY + last, TODAY + last)
        assert window is not None
        assert day is not None
        assert window.value >= day.value, "and never less than its last day"


def test_members_with_an_unknown_day_are_left_out_whether_another_passes_or_not() -> None:
    passed = np.zeros((DAYS, MEMBERS))
    passed[1, ::2] = 1  # half of the members pass tomorrow
    unknown = passed.copy()
    unknown[2, :60] = np.nan
    told, without = (ahead(one, usual(0.5)).chance(TODAY + 1, TODAY + 3) for one in (unknown, passed))
    assert told is not None
    assert without is not None
    # 20 of the 40 that are known, and 50 of 100: the same but for the five usual days, which weigh more.
    assert told.value == pytest.approx(
        max((20 + 5 * told.usual) / 45, (50 + 5 * usual(0.5).value(TODAY + 1, TODAY + 1)) / 105)
    )


def test_an_interval_is_of_the_known_members_alone() -> None:
    passed = np.ones((DAYS, MEMBERS))
    passed[3, np.arange(MEMBERS) % 10 > 0] = np.nan  # one known member a year, and all of them pass
    told = ahead(passed, usual(0.5)).chance(TODAY + 3, TODAY + 3)
    assert told is not None
    assert told.low > 0.6


@given(
    share=st.floats(0, 1),
    rate=st.floats(0.02, 0.98),
    seed=st.integers(0, 50),
    single=st.lists(st.floats(0, 1), min_size=DAYS, max_size=DAYS),
    weights=st.integers(0, 1000),
    told_days=st.integers(0, DAYS),
)
def test_windows_agree_with_their_days(
    share: float, rate: float, seed: int, single: list[float], weights: int, told_days: int
) -> None:
    random = np.random.default_rng(weights)
    within = random.uniform(size=(DAYS, DAYS)) * (random.uniform(size=(DAYS, DAYS)) < 0.7)  # with zeros among them
    calibration = replace(as_they_are("forecast"), single=np.array(single), within=within, told_days=told_days)
    one = ahead(with_share(share, seed), usual(rate, seed), calibration)

    def value(first: int, last: int) -> float:
        chance = one.chance(TODAY + first, TODAY + last)
        assert chance is not None
        assert 0 <= chance.low <= chance.value <= chance.high <= 1
        return chance.value

    days = [value(day, day) for day in range(DAYS)]
    for first in (0, 1, 5):
        windows = [value(first, last) for last in range(first, DAYS)]
        if not told_days > first:
            continue  # then usual chances stand as past years have them
        assert all(a <= b + 1e-12 for a, b in pairwise(windows[1:])), "longer is no less"
        for last, window in enumerate(windows[1:], start=first + 1):
            assert window >= max(days[first : last + 1]) - 1e-12
            assert window <= min(sum(days[first : last + 1]), 1.0) + 1e-12


def test_numbers_of_days_are_the_members_with_the_chance_of_none_as_it_is_told() -> None:
    passed = with_share(0.3)
    one = ahead(passed, usual(0.3))
    counts = one.counts(TODAY + 1, TODAY + 7)
    told = one.chance(TODAY + 1, TODAY + 7)
    assert counts is not None
    assert told is not None
    assert counts.sum() == pytest.approx(1)
    assert counts[0] == pytest.approx(1 - told.value)
    seen = np.bincount(passed[1:8].sum(axis=0).astype(int), minlength=8) / MEMBERS
    assert counts[1:] / counts[1:].sum() == pytest.approx(seen[1:] / seen[1:].sum())


def test_usual_counts_have_the_usual_mean() -> None:
    # Days are independent with chance 0.3: seven of them have 2.1 on average; ten years' 36 days to either side tell
    # it to about √(7·0.3·0.7/(10·43/7)) = 0.15.
    counts = usual(0.3).counts(TODAY + 1, TODAY + 7)
    assert counts.sum() == pytest.approx(1)
    assert counts @ np.arange(8) == pytest.approx(2.1, abs=0.45)


def test_an_interval_widens_where_years_disagree() -> None:
    alike = np.tile(np.arange(10) < 5, YEARS)[None].repeat(DAYS, axis=0).astype(float)
    apart = np.repeat(np.arange(YEARS) < 5, 10)[None].repeat(DAYS, axis=0).astype(float)
    one, other = (ahead(passed, usual(0.5)).chance(TODAY + 3, TODAY + 3) for passed in (alike, apart))
    assert one is not None
    assert other is not None
    assert one.value == pytest.approx(other.value)
    assert other.high - other.low > 2 * (one.high - one.low)


@pytest.mark.parametrize("record_years", [0, 1])
def test_without_past_years_there_is_no_chance_and_with_one_a_wide_one(record_years: int) -> None:
    days = np.arange(TODAY - 365 * record_years - 40, TODAY)
    climate = Usual((np.arange(len(days)) % 3 == 0).astype(float), days)
    told = ahead(with_share(0.3), climate).chance(TODAY + 1, TODAY + 1)
    if record_years == 0:
        assert told is None
    else:
        assert told is not None
