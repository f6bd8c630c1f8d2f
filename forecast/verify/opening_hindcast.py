"""Past seasons told again, each left out whole: when it would open, told on mornings before it did, and what is usual.

For a morning of a season the stock of past years, the usual values and the usual opening are made from the other
seasons only, with a month kept off at either end. What a morning knows of its own season is its readings up to that
hour, the event days that are over, and the forecast that it is given. Only mornings before the opening count: what is
asked is how long it is still away, and what is usual is asked for it too, given that the season has not opened yet.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from forecast.clock import date_of
from forecast.daily import DAY_HOURS, Days, last_stamp
from forecast.diseases.events import Event, any_passed
from forecast.outlook.ahead import HISTORY_HOURS, PlaceAhead, StandAhead
from forecast.outlook.calibration import LEADS
from forecast.outlook.lead_skill import LeadSkill
from forecast.outlook.library import BLENDED, Library, library
from forecast.outlook.members import Expected, fortnight
from forecast.outlook.opening import (
    NEVER,
    UNKNOWN,
    OpeningDays,
    OpeningRule,
    Season,
    openings,
    same_in_other_years,
    season_at,
    usual_opening,
)
from forecast.outlook.opening_ahead import REACH_DAYS, SeasonMembers, this_season
from forecast.panel import Floats
from forecast.verify.hindcast import GUARD_DAYS, Forecaster, ForecasterOf, Record

DAYS_SCORED = 16  # chances a day, and later: an opening on the seventeenth day counts like one a month beyond
RANGE = (0.1, 0.5, 0.9)


@dataclass(frozen=True, eq=False)
class OpeningHindcast:
    """Mornings before the opening, of one station for one event.

    Attributes:
        station: its name.
        event: which.
        season: calendar year in which each morning's season begins, shape (mornings,).
        first: day number of the first day that is not over on it, shape (mornings,).
        opened: day number of the opening that came, infinite where the season did not open; shape (mornings,).
        told: chance of opening on each of :data:`DAYS_SCORED` days from the first, and later, shape
            (mornings, days + 1).
        usual: the same by other seasons alone, given that it has not opened yet.
        told_range: day numbers by which it opens with chances of :data:`RANGE`, infinite where it may stay shut, NaN
            where members do not reach so far; shape (mornings, 3).
        usual_range: the same by other seasons alone.
    """

    station: str
    event: Event
    season: Days
    first: Days
    opened: Floats
    told: Floats
    usual: Floats
    told_range: Floats
    usual_range: Floats


def opening_hindcast(
    rec: Record,
    event: Event,
    months: tuple[int, int],
    rule: OpeningRule,
    skill: LeadSkill,
    *,
    members: int = 100,
    last_known_hour: int = 24,
    forecaster_of: ForecasterOf | None = None,
    every_days: int = 7,
    reach_days: int = REACH_DAYS,
    progress: Callable[[int], None] | None = None,
) -> OpeningHindcast:
    """Mornings from each season's first day to the last before its opening.

    Args:
        rec: the station's record; the event is one of its own.
        event: which.
        months: first and last month of the disease there; openings are looked for from the month before on.
        rule: what opens a season.
        skill: what a forecast is worth.
        members: how many.
        last_known_hour: hour of standard time, on the morning's own date, of the last reading; 24 is its end.
        forecaster_of: given a fold's stock and the year in which its season begins, what says the weather ahead; None
            for readings only.
        every_days: one morning in so many.
        reach_days: how many days ahead members are made.
        progress: told the year of the season that is done.
    """
    came = rec.came[rec.events.index(event)]
    found: list[_Morning] = []
    for season in _whole_seasons(rec, months):
        offset = int(openings(came[:, None], int(rec.days[0]), season, rule)[0])
        if offset == UNKNOWN:
            continue
        opened = np.inf if offset == NEVER else float(season.first_day + offset)
        fold = _Fold.of(rec, event, came, season, rule, forecaster_of)
        for day in range(season.first_day, season.last_day + 1, every_days):
            first = day + (last_known_hour == DAY_HOURS)
            if first > opened or first > season.last_day:
                break
            one = fold.morning(day, first, opened, skill, members, last_known_hour, reach_days)
            found += [] if one is None else [one]
        if progress is not None:
            progress(fold.year)
    return _together(rec.station, event, found)


@dataclass(frozen=True, eq=False)
class _Morning:
    season: int
    first: int
    opened: float
    told: Floats
    usual: Floats
    told_range: Floats
    usual_range: Floats


@dataclass(frozen=True, eq=False)
class _Fold:
    """A season with everything made of the others."""

    rec: Record
    event: Event
    came: Floats
    others: Floats
    season: Season
    rule: OpeningRule
    stock: Library
    forecaster: Forecaster | None

    @property
    def year(self) -> int:
        return date_of(self.season.first_day).year

    @classmethod
    def of(
        cls,
        rec: Record,
        event: Event,
        came: Floats,
        season: Season,
        rule: OpeningRule,
        forecaster_of: ForecasterOf | None,
    ) -> _Fold:
        first, last = season.first_day - GUARD_DAYS, season.last_day + GUARD_DAYS
        stamps = last_stamp(first - 1, rec.offset_minutes, 24), last_stamp(last, rec.offset_minutes, 24)
        stock = library(rec.past, but=(stamps[0] + np.timedelta64(1, "h"), stamps[1]))
        others = np.where((rec.days >= first) & (rec.days <= last), np.nan, came)
        forecaster = None if forecaster_of is None else forecaster_of(stock, date_of(season.first_day).year)
        return cls(rec, event, came, others, season, rule, stock, forecaster)

    def morning(
        self,
        day: int,
        first: int,
        opened: float,
        skill: LeadSkill,
        members: int,
        last_known_hour: int,
        reach_days: int,
    ) -> _Morning | None:
        rec = self.rec
        last_known = last_stamp(day, rec.offset_minutes, last_known_hour)
        row = int((last_known - rec.past.hours[0]).astype(np.int64))
        if not HISTORY_HOURS <= row < len(rec.past.hours):
            return None
        if any(np.isnan(rec.past.values[name][row, 0]) for name in BLENDED):
            return None
        usual = usual_opening(self.others, rec.days, self.season, self.rule, past_only=False)
        made = self._members(last_known, first, skill, members, min(first + reach_days, self.season.last_day))
        if usual.days is None or made is None:
            return None
        over = (rec.days >= self.season.first_day - GUARD_DAYS) & (rec.days < first)
        known = np.where(over, self.came, self.others)
        found = this_season(known, rec.days, first, self.rule, usual, made)
        if found.ahead is None:  # it was seen to open, though too little is known of the days before to say so
            return None
        told, beside = found.ahead.not_before(first), usual.days.not_before(first)
        return _Morning(
            self.year,
            first,
            opened,
            _scored(told),
            _scored(beside),
            _range_of(told, self.season),
            _range_of(beside, self.season),
        )

    def _members(
        self, last_known: np.datetime64, first: int, skill: LeadSkill, members: int, until: int
    ) -> SeasonMembers | None:
        rec = self.rec
        until = max(until, first + LEADS - 1)
        length = int((last_stamp(until, rec.offset_minutes, 24) - last_known).astype(np.int64))
        known_hours = int((last_stamp(first + LEADS - 1, rec.offset_minutes, 24) - last_known).astype(np.int64))
        expected = None
        if self.forecaster is not None:
            expected = self.forecaster(last_known, known_hours)
            if expected is None:
                return None
            expected = _lengthened(expected, length)
        recent = rec.past.between(last_known - np.timedelta64(HISTORY_HOURS - 1, "h"), last_known)
        ahead = fortnight(self.stock, recent, length, skill, expected, members, known_hours)
        if ahead is None:
            return None
        chain = StandAhead(PlaceAhead(rec.past, ahead, rec.stand), rec.stand)
        passed = chain.passed(self.event.deciding, first, until - first + 1, rec.offset_minutes)
        return SeasonMembers(first, any_passed(self.event.deciding, passed), ahead.year[0])


def _whole_seasons(rec: Record, months: tuple[int, int]) -> list[Season]:
    """The seasons that lie within a record from first to last day."""
    first, last = int(rec.days[0]), int(rec.days[-1])
    one = season_at(first, *months)
    found = [one, *same_in_other_years(one, first, last)]
    return sorted(
        (each for each in found if each.first_day >= first and each.last_day <= last), key=lambda each: each.first_day
    )


def _lengthened(expected: Expected, length: int) -> Expected:
    """A forecast that is silent beyond its end."""

    def longer(values: Floats) -> Floats:
        found = np.full((length, *values.shape[1:]), np.nan)
        found[: len(values)] = values[:length]
        return found

    return replace(expected, values={name: longer(values) for name, values in expected.values.items()})


def _scored(days: OpeningDays) -> Floats:
    chance = np.zeros(DAYS_SCORED)
    some = days.chance[:DAYS_SCORED]
    chance[: len(some)] = some
    return np.append(chance, 1 - chance.sum())


def _range_of(days: OpeningDays, season: Season) -> Floats:
    """The days of :data:`RANGE`: infinite where the season may stay shut, NaN where the chances end before it does."""
    beyond = np.inf if days.first_day + len(days.chance) > season.last_day else np.nan
    told = [days.quantile(share) for share in RANGE]
    return np.array([beyond if day is None else day for day in told], dtype=np.float64)


def _together(station: str, event: Event, made: Sequence[_Morning]) -> OpeningHindcast:
    def column(name: str, *shape: int) -> NDArray[Any]:
        return np.array([getattr(one, name) for one in made]).reshape(len(made), *shape)

    return OpeningHindcast(
        station,
        event,
        column("season").astype(np.int64),
        column("first").astype(np.int64),
        column("opened").astype(np.float64),
        column("told", DAYS_SCORED + 1),
        column("usual", DAYS_SCORED + 1),
        column("told_range", len(RANGE)),
        column("usual_range", len(RANGE)),
    )
