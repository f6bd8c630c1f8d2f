"""When a season opens: the rule day by day, what is usual, and this season by hand-made members."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import unhurried

from forecast.clock import day_number
from forecast.daily import Days
from forecast.desk.season import season_months
from forecast.outlook.opening import (
    NEVER,
    TWO_IN_A_WEEK,
    TYPICAL_SPREAD_DAYS,
    UNKNOWN,
    OpeningDays,
    OpeningRule,
    PastSeason,
    Season,
    UsualOpening,
    distribution,
    openings,
    possible,
    season_at,
    usual_opening,
)
from forecast.outlook.opening_ahead import USUAL_YEARS, SeasonMembers, this_season
from forecast.panel import Floats
from forecast.turf import DISEASES

NAN = math.nan
APRIL = day_number(date(2050, 4, 1))
SEASON = Season(APRIL, day_number(date(2050, 9, 30)))


def _day(text: str) -> int:
    return day_number(date.fromisoformat(text))


# Which season ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("today", "months", "first", "last"),
    [
        ("2050-05-10", (5, 9), "2050-04-01", "2050-09-30"),
        ("2050-04-01", (5, 9), "2050-04-01", "2050-09-30"),
        ("2050-03-31", (5, 9), "2050-04-01", "2050-09-30"),  # before it: the next one
        ("2050-09-30", (5, 9), "2050-04-01", "2050-09-30"),
        ("2050-10-01", (5, 9), "2051-04-01", "2051-09-30"),
        ("2050-07-31", (9, 5), "2050-08-01", "2051-05-31"),  # over New Year
        ("2051-01-15", (9, 5), "2050-08-01", "2051-05-31"),
        ("2051-05-31", (9, 5), "2050-08-01", "2051-05-31"),
        ("2051-06-01", (9, 5), "2051-08-01", "2052-05-31"),
        ("2050-12-31", (9, 12), "2050-08-01", "2050-12-31"),
        ("2050-11-30", (1, 3), "2050-12-01", "2051-03-31"),  # its month before lies in the old year
        ("2051-02-01", (11, 2), "2050-10-01", "2051-02-28"),
        ("2052-02-01", (11, 2), "2051-10-01", "2052-02-29"),  # a leap year
        ("2050-06-15", (1, 12), "2050-01-01", "2050-12-31"),  # all the year
    ],
)
def test_the_season_of_a_day_is_the_one_that_runs_or_the_next(
    today: str, months: tuple[int, int], first: str, last: str
) -> None:
    assert season_at(_day(today), *months) == Season(_day(first), _day(last))


def test_in_the_southern_hemisphere_it_is_half_a_year_later() -> None:
    """Brown patch, May to September, is November to March there; looked for from October on."""
    months = season_months(DISEASES["brown_patch"], -34.0)
    assert season_at(_day("2051-01-10"), *months) == Season(_day("2050-10-01"), _day("2051-03-31"))


# The rule ----------------------------------------------------------------------------------------------------------


def _events(*event_days: int, unknown: tuple[int, ...] = (), before: int = 10, length: int = 183) -> tuple[Floats, int]:
    """A season's days, events on some of them counted from the season's first, with some days before; first day."""
    event = np.zeros(before + length)
    event[[before + day for day in event_days]] = 1.0
    event[[before + day for day in unknown]] = NAN
    return event, APRIL - before


def _opening(*event_days: int, unknown: tuple[int, ...] = (), rule: OpeningRule = TWO_IN_A_WEEK) -> int:
    event, first = _events(*event_days, unknown=unknown)
    return int(openings(event[:, None], first, SEASON, rule)[0])


def test_it_opens_on_the_second_event_day_within_seven() -> None:
    assert _opening(40, 46) == 46  # the seventh day from the first
    assert _opening(40, 47) == NEVER  # the eighth
    assert _opening(40, 47, 48) == 48
    assert _opening(40) == NEVER
    assert _opening(40, 41, 42, 60) == 41
    assert _opening(0, 1) == 1
    assert _opening(181, 182) == 182  # its last day


def test_event_days_before_the_season_count_and_the_opening_lies_in_it() -> None:
    assert _opening(-3, 2) == 2
    assert _opening(-5, 2) == NEVER  # eight days
    assert _opening(-1, 0) == 0
    assert _opening(-5, -4) == 0  # the rule is met before, and still on the first day
    assert _opening(-9, -8) == NEVER  # and no longer is


def test_other_rules() -> None:
    assert _opening(7, rule=OpeningRule(1, 1)) == 7
    assert _opening(7, 10, 13, rule=OpeningRule(3, 7)) == 13
    assert _opening(7, 10, 14, rule=OpeningRule(3, 7)) == NEVER


def test_an_unknown_day_is_no_event_day_and_many_hide_the_opening() -> None:
    assert _opening(40, 42, unknown=(41,)) == 42
    # Of the 21 days up to the opening 19 known are nine in ten, 18 are not.
    assert _opening(40, 42, unknown=(22, 41)) == 42
    assert _opening(40, 42, unknown=(22, 30, 41)) == UNKNOWN
    assert _opening(40, 42, unknown=(20, 21, 41)) == 42  # the first two lie further back
    # Of 101 days up to the opening eleven unknown are more than one in ten, wherever they lie.
    assert _opening(99, 100, unknown=tuple(range(20, 30))) == 100
    assert _opening(99, 100, unknown=tuple(range(20, 31))) == UNKNOWN


def test_that_it_never_opened_needs_the_season_to_be_known() -> None:
    assert _opening() == NEVER
    assert _opening(unknown=tuple(range(18))) == NEVER  # 165 of 183
    assert _opening(unknown=tuple(range(19))) == UNKNOWN  # 164 of 183 are less than nine in ten
    event, first = _events(40, 41)
    assert openings(event[:100, None], first, SEASON, TWO_IN_A_WEEK)[0] == 41  # the record ends in July
    event, first = _events()
    assert openings(event[:100, None], first, SEASON, TWO_IN_A_WEEK)[0] == UNKNOWN


@unhurried
@given(
    st.lists(st.sampled_from([0.0, 0.0, 0.0, 1.0, NAN]), min_size=1, max_size=60),
    st.integers(-8, 8),
    st.integers(1, 3),
    st.integers(1, 8),
)
def test_it_is_what_counting_by_hand_gives(days: list[float], starts: int, needed: int, within: int) -> None:
    """Plain loops; the event's first day lies some days before or after the season's."""
    season, rule = Season(100, 139), OpeningRule(needed, within)
    by_day = dict(enumerate(days, start=100 + starts))
    wanted = NEVER
    for day in range(100, 140):
        if sum(by_day.get(back) == 1.0 for back in range(day - within + 1, day + 1)) >= needed:
            wanted = day - 100
            break
    known = [not math.isnan(by_day.get(day, NAN)) for day in range(100, 140)]
    seen = known[: 40 if wanted == NEVER else wanted + 1]
    near = seen[-21:]
    sure = sum(seen) >= 0.9 * len(seen) and (wanted == NEVER or sum(near) >= 0.9 * len(near))
    found = openings(np.array(days)[:, None], 100 + starts, season, rule)
    assert found.tolist() == [wanted if sure else UNKNOWN]


def test_ways_do_not_mix_and_nothing_is_written_to() -> None:
    one, first = _events(40, 41)
    other, _ = _events(90, 91)
    both = np.stack([one, other, np.full_like(one, NAN)], axis=1)
    kept = both.copy()
    assert openings(both, first, SEASON, TWO_IN_A_WEEK).tolist() == [41, 91, UNKNOWN]
    assert np.array_equal(both, kept, equal_nan=True)


def test_days_on_which_it_cannot_open_are_told() -> None:
    event, first = _events(20, unknown=(50, *range(60, 183)))
    can = np.flatnonzero(possible(event, first, SEASON, TWO_IN_A_WEEK))
    assert can.tolist() == list(range(61, 183)), (
        "one unknown day among quiet ones cannot open it, nor the first of many"
    )


# What is usual -----------------------------------------------------------------------------------------------------


def _usual(*offsets: int | None, unknown: int = 0) -> UsualOpening:
    past = tuple(
        PastSeason(
            Season(APRIL - 365 * back, APRIL - 365 * back + 182), None if one is None else APRIL - 365 * back + one
        )
        for back, one in enumerate(offsets, start=1)
    )
    return UsualOpening(SEASON, past[::-1], unknown)


def _moments(days: OpeningDays) -> tuple[float, float]:
    at = np.arange(len(days.chance))
    share = days.chance / days.chance.sum()
    mean = float(share @ at)
    return mean, float(share @ (at - mean) ** 2)


def test_all_dates_together_vary_as_a_new_years_date_about_the_mean_of_the_others() -> None:
    """Dates 80, 90, 100, 110: Σ(x − 95)² = 500; with 18² counted twice s² = (648 + 500)/(2 + 3) = 229.6 days²."""
    usual = _usual(80, 90, 100, 110)
    assert usual.spread_days == pytest.approx(math.sqrt(229.6))
    assert usual.of_opened is not None
    mean, variance = _moments(usual.of_opened)
    assert mean == pytest.approx(95.0, abs=0.05)
    # Their own variance is 500/4 = 125, and each is spread by 2/4·229.6 = 114.8.
    assert variance == pytest.approx(125 + 114.8, rel=0.01)


def test_one_past_season_is_a_wide_guess_and_more_narrow_it() -> None:
    one = _usual(90)
    assert one.spread_days == TYPICAL_SPREAD_DAYS
    widths = []
    for usual in (one, _usual(90, 94, 86), _usual(*[90, 94, 86] * 3)):
        assert usual.of_opened is not None
        early, middle, late = (usual.of_opened.quantile(share) for share in (0.1, 0.5, 0.9))
        assert early is not None
        assert late is not None
        assert middle == APRIL + 90
        widths.append(late - early)
    assert widths[0] == pytest.approx(2 * 1.2816 * TYPICAL_SPREAD_DAYS * math.sqrt(2), abs=1.5)  # normal, 10 and 90 %
    assert widths[0] > 1.5 * widths[1] > 1.5 * widths[2]


def test_many_seasons_speak_for_themselves() -> None:
    dates = [60 + 2 * number for number in range(41)]  # 60, 62, ... 140: s² = (40·143.5 + 648)/42
    usual = _usual(*dates)
    assert usual.of_opened is not None
    # Tenths of evenly spread dates lie at 68 and 132; what each is spread by, s·√(2/41) = 5 days, moves them little.
    assert usual.of_opened.quantile(0.1) == pytest.approx(APRIL + 68, abs=2)
    assert usual.of_opened.quantile(0.5) == pytest.approx(APRIL + 100, abs=1)
    assert usual.of_opened.quantile(0.9) == pytest.approx(APRIL + 132, abs=2)


def test_seasons_that_stayed_shut_count_as_such() -> None:
    usual = _usual(90, None, 100, None, None)
    assert usual.opened == 2
    assert usual.days is not None
    assert usual.days.later == pytest.approx(1 - 2.5 / 6)
    assert usual.days.quantile(0.5) is None
    assert usual.days.quantile(0.1) is not None
    shut = _usual(None, None, None)
    assert shut.of_opened is None
    assert shut.days is not None
    assert shut.days.later == pytest.approx(1 - 0.5 / 4), "none of three is not never"
    assert np.ptp(shut.days.chance) == 0
    nothing = _usual()
    assert nothing.days is None
    assert nothing.of_opened is None


def test_past_seasons_are_read_from_the_record() -> None:
    first, last = _day("2045-01-01"), _day("2050-06-01")
    event = np.zeros(last - first + 1)
    for text in ("2046-05-01", "2046-05-04", "2047-06-10", "2047-06-11", "2048-04-02", "2050-05-01", "2050-05-02"):
        event[_day(text) - first] = 1.0
    event[_day("2049-05-01") - first : _day("2049-06-20") - first] = NAN
    event[_day("2045-04-01") - first] = event[_day("2045-03-31") - first] = 1.0
    days = np.arange(first, last + 1)
    usual = usual_opening(event, days, season_at(last, 5, 9), TWO_IN_A_WEEK)
    assert [one.opened for one in usual.past] == [_day("2045-04-01"), _day("2046-05-04"), _day("2047-06-11"), None]
    assert usual.unknown == 1, "fifty days of 2049 are not known"
    assert usual.season == SEASON, "this season itself does not count"
    other = season_at(_day("2047-05-01"), 5, 9)
    both = usual_opening(event, days, other, TWO_IN_A_WEEK, past_only=False)
    assert [one.opened for one in both.past] == [_day("2045-04-01"), _day("2046-05-04"), None, _day("2050-05-02")]
    assert [one.opened for one in usual_opening(event, days, other, TWO_IN_A_WEEK).past] == [
        _day("2045-04-01"),
        _day("2046-05-04"),
    ]


def test_a_season_that_the_record_begins_within_is_no_hole() -> None:
    first = _day("2048-07-01")
    event = np.zeros(_day("2050-06-01") - first + 1)
    usual = usual_opening(event, np.arange(first, first + len(event)), SEASON, TWO_IN_A_WEEK)
    assert (len(usual.past), usual.unknown) == (1, 0)


# Chances by date ---------------------------------------------------------------------------------------------------


def _days(*chances: float, later: float = 0.0) -> OpeningDays:
    return OpeningDays(1000, np.array(chances), later)


def test_a_quantile_is_the_first_day_with_at_least_that_chance() -> None:
    days = _days(0.1, 0.2, 0.3, 0.2, later=0.2)
    assert [days.quantile(share) for share in (0.1, 0.11, 0.3, 0.5, 0.8)] == [1000, 1001, 1001, 1002, 1003]
    assert days.quantile(0.81) is None
    assert [round(days.by(day), 9) for day in (999, 1000, 1003, 2000)] == [0.0, 0.1, 0.8, 0.8]


def test_prevention_begins_two_weeks_before() -> None:
    days = _days(0.1, 0.2, 0.3, 0.4)
    assert days.start(0.5) == 1002 - 14
    assert days.start(0.9) == 1000 - 14
    # Early enough in three of four ways: starting by 987 is two weeks before all but the first day's tenth.
    assert days.start(0.75) == 1001 - 14
    assert _days(0.1, later=0.9).start(0.5) is None


def test_given_that_it_has_not_opened_the_rest_is_shared_out() -> None:
    days = _days(0.1, 0.2, 0.3, 0.2, later=0.2).not_before(1002)
    assert days.first_day == 1002
    assert days.chance == pytest.approx([0.3 / 0.7, 0.2 / 0.7])
    assert days.later == pytest.approx(0.2 / 0.7)
    assert _days(0.5, 0.5).not_before(990).first_day == 1000
    late = _days(0.5, 0.5).not_before(1002)
    assert late.later == 1.0
    assert late.quantile(0.5) is None
    one = _days(0.1, 0.2, 0.3, later=0.4).only(np.array([True, False, True]))
    assert one.chance == pytest.approx([0.125, 0.0, 0.375])
    assert one.later == pytest.approx(0.5)
    short = _days(0.1, 0.2, 0.3, later=0.4).until(1001)
    assert short.chance == pytest.approx([0.1, 0.2])
    assert short.later == pytest.approx(0.7)


def test_the_share_of_ways_leaves_out_those_that_cannot_be_told() -> None:
    told = distribution([3, 3, NEVER, UNKNOWN, 5], 1000, 10)
    assert told is not None
    assert told.chance.tolist() == [0, 0, 0, 0.5, 0, 0.25, 0, 0, 0, 0]
    assert told.later == 0.25
    assert distribution([UNKNOWN], 1000, 10) is None


# This season -------------------------------------------------------------------------------------------------------

TODAY = APRIL + 60


def _members(*offsets: int, years: tuple[int, ...] | None = None, length: int = 123) -> SeasonMembers:
    """Ways from today on, each with two event days that end some days from the season's first; none for less."""
    passed = np.zeros((length, len(offsets)))
    for way, offset in enumerate(offsets):
        if offset >= 60:
            passed[[max(offset - 1, 60) - 60, offset - 60], way] = 1.0
    year = np.array(years or [2040 + way for way in range(len(offsets))])
    return SeasonMembers(TODAY, passed, year)


def _so_far(*event_days: int, unknown: tuple[int, ...] = ()) -> tuple[Floats, Days]:
    """Two years' days before today, and their day numbers."""
    event, first = _events(*event_days, unknown=unknown, before=730)
    event[730 + 60 :] = NAN
    return event, np.arange(first, first + len(event))


def test_a_season_seen_to_open_needs_no_members() -> None:
    event, days = _so_far(30, 33, 50)
    found = this_season(event, days, TODAY, TWO_IN_A_WEEK, _usual(90), _members(100))
    assert found.opened == APRIL + 33
    assert found.ahead is None
    assert (found.event_days, found.unknown_days) == (3, 0)


def test_event_days_that_have_come_count_into_the_rule() -> None:
    """One event day three days ago: the first one of a member, up to the fourth day from now, opens the season."""
    event, days = _so_far(57)
    passed = np.zeros((100, 4))
    passed[0, 0] = passed[1, 1] = passed[3, 2] = passed[4, 3] = 1.0  # days 60, 61, 63; 64 lies eight days after 57
    found = this_season(event, days, TODAY, TWO_IN_A_WEEK, _usual(), SeasonMembers(TODAY, passed, np.arange(4) + 2040))
    assert found.ahead is not None
    opens = {int(day): float(found.ahead.chance[day]) for day in np.flatnonzero(found.ahead.chance)}
    assert opens == pytest.approx({60: 0.25, 61: 0.25, 63: 0.25})
    assert found.ahead.later == pytest.approx(0.25)
    assert found.may_have_opened == 0, "today is no day that is over"
    assert found.years == 4


def test_what_is_finished_is_taken_and_not_a_members_word_for_it() -> None:
    event, days = _so_far()
    early = SeasonMembers(TODAY - 5, np.ones((100, 2)), np.array([2040, 2041]))
    found = this_season(event, days, TODAY, TWO_IN_A_WEEK, _usual(), early)
    assert found.ahead is not None
    assert found.ahead.quantile(0.5) == TODAY + 1, "today and tomorrow, not last week"
    assert found.may_have_opened == 0


def test_of_days_whose_readings_are_not_in_members_speak() -> None:
    event, days = _so_far(55, unknown=(58, 59))
    passed = np.zeros((100, 4))
    passed[1, 0] = 1.0  # day 59, the fifth from day 55
    found = this_season(
        event, days, TODAY, TWO_IN_A_WEEK, _usual(), SeasonMembers(TODAY - 2, passed, np.arange(4) + 2040)
    )
    assert found.ahead is not None
    assert found.ahead.by(APRIL + 58) == 0
    assert found.ahead.by(APRIL + 59) == pytest.approx(0.25)
    assert found.may_have_opened == pytest.approx(0.25)
    assert found.unknown_days == 0, "they are not in yet, and no hole"


def test_what_is_usual_weighs_like_two_more_years() -> None:
    event, days = _so_far()
    usual = _usual(90, 95, 100)
    found = this_season(event, days, TODAY, TWO_IN_A_WEEK, usual, _members(80, 80, 80, 80))
    assert usual.days is not None
    assert found.ahead is not None
    left = usual.days.not_before(TODAY + 1)  # today alone cannot open it
    weight = 4 / (4 + USUAL_YEARS)
    assert found.ahead.by(APRIL + 79) == pytest.approx((1 - weight) * left.by(APRIL + 79))
    assert found.ahead.by(APRIL + 80) == pytest.approx(weight + (1 - weight) * left.by(APRIL + 80))
    assert found.ahead.by(TODAY) == 0
    assert found.ahead.by(SEASON.last_day) + found.ahead.later == pytest.approx(1)


def test_without_members_it_is_the_usual_date_given_that_it_has_not_opened() -> None:
    event, days = _so_far()
    usual = _usual(50, 62, 100)
    found = this_season(event, days, TODAY, TWO_IN_A_WEEK, usual, None)
    assert usual.days is not None
    assert found.ahead is not None
    left = usual.days.not_before(TODAY + 1)
    assert found.ahead.quantile(0.5) == left.quantile(0.5)
    assert found.ahead.later == pytest.approx(left.later)
    assert found.years == 0


def test_with_neither_nothing_is_told() -> None:
    event, days = _so_far()
    found = this_season(event, days, TODAY, TWO_IN_A_WEEK, _usual(), None)
    assert found.ahead is None
    assert found.opened is None


def test_fewer_past_years_tell_wider_dates() -> None:
    event, days = _so_far()
    widths = []
    for count in (1, 3, 9):
        dates = [85, 90, 95] * 3
        usual, members = _usual(*dates[:count]), _members(*(dates * 4)[:36], years=tuple(range(count)) * (36 // count))
        found = this_season(event, days, TODAY, TWO_IN_A_WEEK, usual, members)
        assert found.ahead is not None
        assert found.years == count
        early, late = found.ahead.quantile(0.1), found.ahead.quantile(0.9)
        assert early is not None
        widths.append((SEASON.last_day if late is None else late) - early)
    assert widths[0] > widths[1] > widths[2]


def test_a_hole_in_the_season_is_filled_with_each_members_own_year() -> None:
    """Days 40 to 49 are not known. In 2049 two of their dates were event days, in 2048 none."""
    event, days = _so_far(unknown=tuple(range(40, 50)))
    first = int(days[0])
    then = _day("2049-05-11") - first  # 40 days after 1 April
    event[[then, then + 3]] = 1.0
    members = _members(100, 100, 100, 100, years=(2049, 2049, 2049, 2048))
    found = this_season(event, days, TODAY, TWO_IN_A_WEEK, _usual(), members)
    assert found.opened is None
    assert found.unknown_days == 10
    assert found.ahead is not None
    assert found.ahead.by(APRIL + 43) == pytest.approx(0.75)
    assert found.may_have_opened == pytest.approx(0.75)
    assert found.ahead.quantile(0.9) == APRIL + 100
    # With what is usual beside it, no day that is known to have been quiet gets a chance.
    found = this_season(event, days, TODAY, TWO_IN_A_WEEK, _usual(45, 55, 90), members)
    assert found.ahead is not None
    quiet = [*range(41), *range(51, 61)]
    assert found.ahead.chance[quiet].sum() == 0
    assert 0.4 < found.may_have_opened < 0.75


def test_beyond_what_members_reach_it_is_later() -> None:
    event, days = _so_far()
    found = this_season(event, days, TODAY, TWO_IN_A_WEEK, _usual(), _members(80, 0, length=50))
    assert found.ahead is not None
    assert len(found.ahead.chance) == 110
    assert found.ahead.later == 0.5
    assert found.ahead.quantile(0.6) is None


def test_a_member_with_a_hole_before_its_opening_is_left_out() -> None:
    event, days = _so_far()
    members = _members(80, 120)
    members.passed[5:40, 1] = NAN
    found = this_season(event, days, TODAY, TWO_IN_A_WEEK, _usual(), members)
    assert found.ahead is not None
    assert found.ahead.by(APRIL + 80) == 1
    assert found.years == 1


def test_before_the_season_nothing_has_come_and_members_may_begin_early() -> None:
    event, first = _events(before=730)
    event[700:] = NAN
    days = np.arange(first, first + len(event))
    today = APRIL - 30
    passed = np.zeros((100, 1))
    passed[[29, 35], 0] = 1.0  # 31 March and 6 April
    found = this_season(event, days, today, TWO_IN_A_WEEK, _usual(), SeasonMembers(today, passed, np.array([2049])))
    assert found.ahead is not None
    assert found.ahead.quantile(0.5) == APRIL + 5
    assert (found.event_days, found.unknown_days, found.may_have_opened) == (0, 0, 0)
