"""When a season opens: the first day on which event days come close together, in past years and in many ways ahead.

One event day is weather; a season has begun when a second follows within a week. Of the rules tried at five US airport
records (61 seasons of brown patch on tall fescue, dollar spot, anthracnose and Pythium blight), two days in seven opens
59 seasons of brown patch and 27 of Pythium blight, three in seven 55 and 17, five in fourteen 47 and 7; the standard
deviation of the dates of the first three is 30, 12 and 13 days with two in seven, and 38, 13 and 13 with three. The
first event day alone is steadier for brown patch (21, 14, 10), and is mostly one warm night. A note from Kentucky
starts prevention against brown patch when two or three nights in a row stay warm (University of Kentucky 2008, read
second-hand). The rule holds for soil windows too: they open once and stay open, so that the second day follows the
first. It is known on the day itself, without looking ahead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from forecast.clock import date_of, day_number
from forecast.daily import Days
from forecast.panel import Floats

KNOWN_SHARE = 0.9  # house choice, as for whole seasons: so many of the days up to the opening have to be known
NEAR_DAYS = 21  # house choice: and as many of so many days before it
NEVER, UNKNOWN = -1, -2

# With few past seasons the spread of their dates is joined by one that stands for other places: 18 days, the root mean
# square over six events at five US airport records, counted like two seasons.
TYPICAL_SPREAD_DAYS = 18.0
TYPICAL_SEASONS = 2.0

# About two weeks before the opening: common practice, no source. The label's own days until re-treatment are another
# thing.
PREVENTION_DAYS = 14


@dataclass(frozen=True, slots=True)
class OpeningRule:
    """So many event days within so many days, the last one of them the opening."""

    event_days: int
    within_days: int


TWO_IN_A_WEEK = OpeningRule(2, 7)  # house choice, see above
FIRST_EVENT_DAY = OpeningRule(1, 1)


@dataclass(frozen=True, slots=True)
class Season:
    """The days on which an opening is looked for, both included: from a month before the disease's own months on."""

    first_day: int
    last_day: int

    @property
    def length(self) -> int:
        """How many days."""
        return self.last_day - self.first_day + 1

    def until(self, day: int) -> Season:
        """The part up to a day."""
        return Season(self.first_day, min(self.last_day, day))


@dataclass(frozen=True, eq=False)
class OpeningDays:
    """The chance that a season opens on each of some days.

    Attributes:
        first_day: day number of the first.
        chance: of each day, shape (days,).
        later: that it opens after them, or not at all.
    """

    first_day: int
    chance: Floats
    later: float

    def by(self, day: int) -> float:
        """The chance that it has opened by a day, that day included."""
        return float(self.chance[: max(day - self.first_day + 1, 0)].sum())

    def quantile(self, share: float) -> int | None:
        """The first day by which it has opened with at least some chance; None where that is later, or never."""
        by_then = np.cumsum(self.chance)
        row = int(np.searchsorted(by_then, share - 1e-9))
        return self.first_day + row if row < len(by_then) else None

    def start(self, early_enough: float) -> int | None:
        """By when prevention begins that is to be early enough with some chance; None as for a quantile."""
        opens = self.quantile(1 - early_enough)
        return None if opens is None else opens - PREVENTION_DAYS

    def not_before(self, day: int) -> OpeningDays:
        """The same, given that it has not opened before a day."""
        passed = min(max(day - self.first_day, 0), len(self.chance))
        left = self.only(np.arange(len(self.chance)) >= passed)
        return OpeningDays(self.first_day + passed, left.chance[passed:], left.later)

    def only(self, possible: NDArray[np.bool_]) -> OpeningDays:
        """The same, given that it opens on one of some days or later; shape (days,)."""
        left = np.where(possible, self.chance, 0.0)
        total = float(left.sum()) + self.later
        if total <= 0:
            return OpeningDays(self.first_day, left, 1.0)
        return OpeningDays(self.first_day, left / total, self.later / total)

    def until(self, day: int) -> OpeningDays:
        """The same on the days up to one, the rest counted as later."""
        kept = self.chance[: max(day - self.first_day + 1, 0)]
        return OpeningDays(self.first_day, kept, self.later + float(self.chance[len(kept) :].sum()))


@dataclass(frozen=True, slots=True)
class PastSeason:
    """A past season and the day number on which it opened; None where it did not open at all."""

    season: Season
    opened: int | None


@dataclass(frozen=True, eq=False)
class UsualOpening:
    """How a season opened in other years.

    Attributes:
        season: which is asked about.
        past: those of other years that are known well enough, in order.
        unknown: how many others are not, for holes in the record.
    """

    season: Season
    past: tuple[PastSeason, ...]
    unknown: int

    @property
    def opened(self) -> int:
        """How many opened at all."""
        return sum(one.opened is not None for one in self.past)

    @cached_property
    def dates(self) -> Days:
        """Days from the season's first to the opening, of those that opened."""
        return np.array([one.opened - one.season.first_day for one in self.past if one.opened is not None], np.int64)

    @property
    def spread_days(self) -> float:
        """Standard deviation of the dates, drawn to the typical one where there are few."""
        apart = self.dates - self.dates.mean() if self.opened else np.zeros(0)
        weight = TYPICAL_SEASONS + max(self.opened - 1, 0)
        return float(np.sqrt((TYPICAL_SEASONS * TYPICAL_SPREAD_DAYS**2 + (apart**2).sum()) / weight))

    @cached_property
    def of_opened(self) -> OpeningDays | None:
        """When it opens if it does; None where no other year's season opened.

        Each date is spread so widely that all together vary by s²·(1 + 1/n), which is how far a new year's date lies
        from the mean of n others: (n − 1)/n·s² they have already, and 2/n·s² is added to each.
        """
        if not self.opened:
            return None
        width = self.spread_days * np.sqrt(2 / self.opened)
        offsets = np.arange(self.season.length)[:, None]
        weights = np.exp(-0.5 * ((offsets - self.dates) / width) ** 2)
        weights /= weights.sum(axis=0)
        return OpeningDays(self.season.first_day, weights.mean(axis=1), 0.0)

    @cached_property
    def days(self) -> OpeningDays | None:
        """When it opens, if at all; None without any season that is known.

        Half a season that opened and half a one that did not stand beside those known, so that none of ten is not
        never; where none opened, that half may do so on any day.
        """
        if not self.past:
            return None
        opens = (self.opened + 0.5) / (len(self.past) + 1)
        shape = np.full(self.season.length, 1 / self.season.length)
        if self.of_opened is not None:
            shape = self.of_opened.chance
        return OpeningDays(self.season.first_day, opens * shape, 1 - opens)


def season_at(day: int, first_month: int, last_month: int) -> Season:
    """The season that runs on a day, else the next one.

    Args:
        day: day number.
        first_month: first month of the disease at the place, 1 to 12; openings are looked for from the month before on.
        last_month: its last month; less than the first where the season runs over New Year.
    """
    year = date_of(day).year
    all_year = (last_month - first_month) % 12 == 11
    first = first_month if all_year else (first_month - 2) % 12 + 1
    found = [_from_year(one, first, last_month) for one in (year - 1, year, year + 1)]
    return next(one for one in found if day <= one.last_day)


def same_in_other_years(season: Season, first_day: int, last_day: int) -> list[Season]:
    """A season's dates in every other year of which any day lies between two days."""
    first, last = date_of(season.first_day), date_of(season.last_day)
    found = []
    for year in range(date_of(first_day).year - 1, date_of(last_day).year + 1):
        if year != first.year:
            one = _from_year(year, first.month, last.month)
            found += [one] if one.last_day >= first_day and one.first_day <= last_day else []
    return found


def openings(event: Floats, event_first_day: int, season: Season, rule: OpeningRule) -> NDArray[np.int64]:
    """Days from a season's first to its opening, one a way.

    Event days just before the first count into the rule, but the opening lies within the season. An unknown day is
    taken as no event day; where too many are unknown to say so, the opening is.

    Args:
        event: 1, 0 or NaN, shape (days, ways).
        event_first_day: day number of its first day.
        season: which.
        rule: what opens it.

    Returns:
        Shape (ways,); :data:`NEVER` where it does not open, :data:`UNKNOWN` where that cannot be told.
    """
    laid, reached = _reached(event, event_first_day, season, rule, 0.0)
    opens, row = reached.any(axis=0), reached.argmax(axis=0)
    last = np.where(opens, row, season.length - 1)
    known = ~np.isnan(laid)
    whole = _share_up_to(known, last, season.length) >= KNOWN_SHARE
    near = _share_up_to(known, last, NEAR_DAYS) >= KNOWN_SHARE
    return np.where(whole & (near | ~opens), np.where(opens, row, NEVER), UNKNOWN)


def possible(event: Floats, event_first_day: int, season: Season, rule: OpeningRule) -> NDArray[np.bool_]:
    """The days on which a season may open as far as is known: the rule is met if all unknown days are event days.

    After the season's first day, on which it may be met already, no day without an event opens it.

    Args:
        event: 1, 0 or NaN, shape (days,).
        event_first_day: day number of its first day.
        season: which.
        rule: what opens it.

    Returns:
        Shape (days of the season,).
    """
    laid, reached = _reached(event[:, None], event_first_day, season, rule, 1.0)
    found: NDArray[np.bool_] = reached[:, 0]
    found[1:] &= laid[1:, 0] != 0
    return found


def usual_opening(
    event: Floats, days: Days, season: Season, rule: OpeningRule, *, past_only: bool = True
) -> UsualOpening:
    """How a season opened in other years.

    Args:
        event: 1, 0 or NaN a day, shape (days,).
        days: unbroken day numbers, shape (days,).
        season: the one asked about.
        rule: what opens it.
        past_only: only seasons before it; False where all the others count, as in a hindcast that leaves the season
            itself out of ``event``.
    """
    past: list[PastSeason] = []
    unknown = 0
    for one in same_in_other_years(season, int(days[0]), int(days[-1])):
        if past_only and one.first_day > season.first_day:
            continue
        offset = int(openings(event[:, None], int(days[0]), one, rule)[0])
        if offset == UNKNOWN:
            unknown += one.first_day >= int(days[0])  # a record that begins within a season has no hole
        else:
            past.append(PastSeason(one, None if offset == NEVER else one.first_day + offset))
    return UsualOpening(season, tuple(past), unknown)


def distribution(offsets: Sequence[int] | NDArray[np.int64], first_day: int, length: int) -> OpeningDays | None:
    """The share of ways that open on each day; None where it is known of none."""
    told = np.asarray(offsets, np.int64)
    told = told[told != UNKNOWN]
    if not told.size:
        return None
    counts = np.bincount(told[told >= 0], minlength=length) / len(told)
    return OpeningDays(first_day, counts, float((told == NEVER).mean()))


def laid_on(event: Floats, event_first_day: int, first_day: int, last_day: int) -> Floats:
    """Some days of an event, NaN where it does not reach; shape (days, ...)."""
    found = np.full((last_day - first_day + 1, *event.shape[1:]), np.nan)
    start = max(event_first_day, first_day)
    stop = min(event_first_day + len(event), last_day + 1)
    if start < stop:
        found[start - first_day : stop - first_day] = event[start - event_first_day : stop - event_first_day]
    return found


def _reached(
    event: Floats, event_first_day: int, season: Season, rule: OpeningRule, unknown: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """A season's days of an event, and on which of them the rule is met, unknown days taken as 0 or 1."""
    before = rule.within_days - 1
    laid = laid_on(event, event_first_day, season.first_day - before, season.last_day)
    sums = np.cumsum(np.where(np.isnan(laid), unknown, laid), axis=0)
    counts = sums[before:].copy()
    counts[1:] -= sums[: -before - 1]
    return laid[before:], counts >= rule.event_days


def _share_up_to(known: NDArray[np.bool_], last: NDArray[np.int64], length: int) -> Floats:
    """The share of the days up to a row of each way that are known, of so many at most."""
    sums = np.vstack([np.zeros((1, known.shape[1])), np.cumsum(known, axis=0)])
    first = np.maximum(last + 1 - length, 0)
    way = np.arange(known.shape[1])
    found: Floats = (sums[last + 1, way] - sums[first, way]) / (last + 1 - first)
    return found


def _from_year(year: int, first_month: int, last_month: int) -> Season:
    """A season that begins with a month of a year."""
    ends = year + (last_month < first_month) + (last_month == 12)
    after = date(ends, last_month % 12 + 1, 1)
    return Season(day_number(date(year, first_month, 1)), day_number(after - timedelta(days=1)))
