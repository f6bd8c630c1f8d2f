"""The season that runs or comes next: whether it has opened, and when it will, by members that go on as years did.

What is usual stands beside members like two more years of theirs: the blocks of one year are near copies of each other
beyond a fortnight, so that ten years are ten cases and not a hundred. On past seasons of five US airports with emulated
forecasts that costs the common events .01 to .02 of skill and gives rare ones, of which members tell too many in
spring, .02 to .04; weights of none to six years were tried.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.clock import date_of, day_number
from forecast.daily import Days
from forecast.outlook.opening import (
    NEVER,
    UNKNOWN,
    OpeningDays,
    OpeningRule,
    Season,
    UsualOpening,
    distribution,
    laid_on,
    openings,
    possible,
)
from forecast.panel import Floats

USUAL_YEARS = 2.0  # house choice, see above
REACH_DAYS = 200  # house choice: members are made for so many days at most


@dataclass(frozen=True, eq=False)
class SeasonMembers:
    """An event on many ways the next months can go.

    Attributes:
        first_day: day number of the first row.
        passed: 1, 0 or NaN, shape (days, members).
        year: calendar year that each member's weather was taken from, shape (members,).
    """

    first_day: int
    passed: Floats
    year: NDArray[np.int64]

    @property
    def last_day(self) -> int:
        """Day number of the last row."""
        return self.first_day + len(self.passed) - 1


@dataclass(frozen=True, eq=False)
class ThisSeason:
    """What is known of one season on one morning.

    Attributes:
        season: which.
        opened: day number on which it opened; None where no known days say so.
        event_days: that have come in it so far.
        unknown_days: days of it that are over and not known, up to the opening where that was seen.
        ahead: when it opens, given that it has not been seen to; None where nothing can be said, and where it has.
        may_have_opened: the chance that it opened before today, on days that are not known.
        years: distinct years behind the members; 0 where only what is usual is told.
    """

    season: Season
    opened: int | None
    event_days: int
    unknown_days: int
    ahead: OpeningDays | None
    may_have_opened: float
    years: int


def this_season(
    event: Floats,
    days: Days,
    today: int,
    rule: OpeningRule,
    usual: UsualOpening,
    members: SeasonMembers | None,
) -> ThisSeason:
    """When this season opens.

    Event days that have come count into the rule. Where days of this season are not known, each member takes those of
    the year that its weather comes from, so that the opening may lie among them.

    Args:
        event: of finished days, 1, 0 or NaN, shape (days,).
        days: unbroken day numbers, shape (days,).
        today: day number of the morning.
        rule: what opens a season.
        usual: how the season opened in other years; its season is the one asked about.
        members: from the first day on that may not be finished; None for none.
    """
    season = usual.season
    so_far = laid_on(event, int(days[0]), season.first_day, season.last_day)
    opened = _seen_to_open(event, days, season, rule)
    until = today if members is None else min(today, members.first_day)  # of later days members speak
    over = so_far[: max((until if opened is None else opened) - season.first_day, 0)]
    event_days, unknown_days = int((so_far == 1).sum()), int(np.isnan(over).sum())
    if opened is not None:
        return ThisSeason(season, opened, event_days, unknown_days, None, 0.0, 0)
    ahead, years = usual.days, 0
    if ahead is not None:
        ahead = ahead.only(possible(event, int(days[0]), season, rule))
    if members is not None and members.last_day >= max(season.first_day, today):
        told = _by_members(event, days, today, season.until(members.last_day), rule, members)
        if told is not None:
            by_members, years = told
            ahead = by_members if ahead is None else _beside(by_members, ahead, years)
    may_have_opened = 0.0 if ahead is None else ahead.by(today - 1)
    return ThisSeason(season, None, event_days, unknown_days, ahead, may_have_opened, years)


def _seen_to_open(event: Floats, days: Days, season: Season, rule: OpeningRule) -> int | None:
    """The day on which known days alone have opened the season, whatever the others were."""
    known = np.nan_to_num(laid_on(event, int(days[0]), season.first_day - rule.within_days + 1, season.last_day))
    first_day = season.first_day - rule.within_days + 1
    offset = int(openings(known[:, None], first_day, season, rule)[0])
    return None if offset == NEVER else season.first_day + offset


def _by_members(
    event: Floats, days: Days, today: int, season: Season, rule: OpeningRule, members: SeasonMembers
) -> tuple[OpeningDays, int] | None:
    """The members' distribution, and the distinct years behind it."""
    first_day = season.first_day - rule.within_days + 1
    finished = laid_on(event, int(days[0]), first_day, season.last_day)[:, None]
    ahead = laid_on(members.passed, members.first_day, first_day, season.last_day)
    found = np.where(np.isnan(finished), ahead, finished)
    for row in range(max(today - first_day, 0)):
        if np.isnan(found[row]).all():
            found[row] = _as_then(event, days, first_day + row, today, members.year)
    offsets = openings(found, first_day, season, rule)
    told = distribution(offsets, season.first_day, season.length)
    if told is None:
        return None
    return told, len(np.unique(members.year[offsets != UNKNOWN]))


def _as_then(event: Floats, days: Days, day: int, today: int, years: NDArray[np.int64]) -> Floats:
    """What a day's date was in the year of each member; NaN in today's own."""
    found = np.full(len(years), np.nan)
    when = date_of(day)
    for year in np.unique(years):
        back = int(year) - date_of(today).year
        leap_day = (when.month, when.day) == (2, 29)
        then = day_number(when.replace(year=when.year + back, day=28 if leap_day else when.day))
        row = then - int(days[0])
        if back and 0 <= row < len(event):
            found[years == year] = event[row]
    return found


def _beside(members: OpeningDays, usual: OpeningDays, years: int) -> OpeningDays:
    """Members with what is usual, by the years behind each."""
    other = usual.until(members.first_day + len(members.chance) - 1)
    weight = years / (years + USUAL_YEARS)
    chance = weight * members.chance + (1 - weight) * other.chance
    return OpeningDays(members.first_day, chance, weight * members.later + (1 - weight) * other.later)
