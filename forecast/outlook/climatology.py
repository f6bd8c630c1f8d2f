"""How often, on these dates in past years, at least one event day came: climatology, and named so.

The chance is a Gaussian-weighted share over the days around the date in each past year, with one pseudo-day of
the all-year rate so that a short record never says never. Smoothing flattens a season's peak and fills its edges, and
too little of it is noise. Told from the years before at five US airport records, April to mid November, for at least
one event day in seven: Brier score .190 .188 .187 .187 .190 for brown patch on tall fescue and .0874 .0876 .0889 .0910
.0988 for dollar spot on creeping bentgrass at standard deviations of 8, 12, 16, 20 and 30 days; 12 is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forecast.clock import date_of, day_number
from forecast.daily import Days
from forecast.panel import Floats

KERNEL_SD_DAYS = 12
KERNEL_REACH_DAYS = 36  # three standard deviations
YEAR_SHARE_NEEDED = 0.8  # house choice: a past year counts when this share of its weight is known
PSEUDO_DAYS = 1.0

# A night-minimum anomaly has a lag-one correlation of .67, so (1 + .67)/(1 − .67) = 5 days make one
# independent one; a Gaussian of 12 days holds 2√π·12 = 43 days.
INDEPENDENT_DAYS_A_YEAR = 2 * np.sqrt(np.pi) * KERNEL_SD_DAYS / 5.06

# Student's t, upper 5 %, by degrees of freedom 1 to 30: the two-sided 90 % interval. Any statistics table.
_T_95 = (
    6.314, 2.920, 2.353, 2.132, 2.015, 1.943, 1.895, 1.860, 1.833, 1.812,
    1.796, 1.782, 1.771, 1.761, 1.753, 1.746, 1.740, 1.734, 1.729, 1.725,
    1.721, 1.717, 1.714, 1.711, 1.708, 1.706, 1.703, 1.701, 1.699, 1.697,
)  # fmt: skip


Made = Literal["past_years", "readings", "forecast"]


@dataclass(frozen=True, slots=True)
class Chance:
    """A chance, and what it is made of.

    Attributes:
        value: 0 to 1.
        low: lower end of the 90 % interval from the spread between years.
        high: its upper end.
        years: past years it rests on.
        usual: what past years alone say of these dates.
        made: of what: past years alone; of members that follow the last readings; or a weather forecast too.
    """

    value: float
    low: float
    high: float
    years: int
    usual: float
    made: Made = "past_years"


@dataclass(frozen=True, slots=True)
class SeasonCount:
    """How many days of a season were event days, over whole past seasons."""

    mean_days: float
    least_days: int
    most_days: int
    season_days: int
    seasons: int


class Usual:
    """How often an event came about a date in other years.

    Args:
        event: 1, 0 or NaN a day, shape (days,).
        days: unbroken day numbers, shape (days,).
        past_only: True where only years before a date count, as on the morning itself; False where all the others do,
            as in a hindcast that leaves the date's own season out of ``event``.
    """

    def __init__(self, event: Floats, days: Days, *, past_only: bool = True) -> None:
        self._event, self._days, self._past_only = event, days, past_only
        offsets = np.arange(-KERNEL_REACH_DAYS, KERNEL_REACH_DAYS + 1)
        self._weights = np.exp(-0.5 * (offsets / KERNEL_SD_DAYS) ** 2)
        self._share = self._smoothed((~np.isnan(event)).astype(np.float64)) / self._weights.sum()
        self._by_length: dict[int, tuple[Floats, Floats, Floats]] = {}
        self._by_count: dict[int, list[Usual]] = {}
        self._centres: dict[int, NDArray[np.int64]] = {}

    def chance(self, first_day: int, last_day: int) -> Chance | None:
        """The chance of at least one event day between two days, both included; None where no year counts."""
        rates = self._yearly(first_day, last_day - first_day + 1)
        if not rates.size:
            return None
        value = self._mean(rates, first_day, last_day - first_day + 1)
        low, high = interval(rates)
        return Chance(value, min(low, value), max(high, value), len(rates), value)

    def counts(self, first_day: int, last_day: int) -> Floats:
        """The chance of each number of event days between two days, from 0 on; NaN where no year counts."""
        length = last_day - first_day + 1
        if length not in self._by_count:
            windows = _counts_in_window(self._event, length)
            days = self._days[: len(windows)]
            self._by_count[length] = [
                Usual(np.where(np.isnan(windows), np.nan, windows == count), days, past_only=self._past_only)
                for count in range(length + 1)
            ]
        found = np.array([usual.value(first_day, first_day) for usual in self._by_count[length]])
        found /= found.sum()
        return found

    def value(self, first_day: int, last_day: int) -> float:
        """The chance alone; NaN where no year counts."""
        rates = self._yearly(first_day, last_day - first_day + 1)
        return self._mean(rates, first_day, last_day - first_day + 1) if rates.size else np.nan

    def rows_about(self, day: int, either_side: int) -> NDArray[np.int64]:
        """Rows of the days about the same date in other years that are known."""
        rows = (self._places(day) - KERNEL_REACH_DAYS)[:, None] + np.arange(-either_side, either_side + 1)
        rows = rows[(rows >= 0) & (rows < len(self._event))]
        known: NDArray[np.int64] = rows[~np.isnan(self._event[rows])]
        return known

    def _yearly(self, first_day: int, length: int) -> Floats:
        """The rate about the date in each other year that counts."""
        _, rates, _ = self._rates(length)
        places = self._places(first_day)
        places = places[places < len(rates)]
        found: Floats = rates[places]
        counts: Floats = found[(self._share[places] >= YEAR_SHARE_NEEDED) & ~np.isnan(found)]
        return counts

    def _mean(self, rates: Floats, first_day: int, length: int) -> float:
        """The mean of some yearly rates, with one day of the all-year rate beside it.

        That counts windows which end before the date, and half an event more than was seen, so that a record without
        any does not say never either.
        """
        _, _, seen = self._rates(length)
        end = max(first_day - length + 1 - int(self._days[0]), 0) if self._past_only else len(seen) - 1
        events, known = seen[min(end, len(seen) - 1)]
        pseudo = PSEUDO_DAYS / self._weights.sum()
        return float((rates.sum() + pseudo * (events + 0.5) / (known + 1)) / (len(rates) + pseudo))

    def _places(self, first_day: int) -> NDArray[np.int64]:
        """Places of the same date in other years among the smoothed rates."""
        if first_day not in self._centres:
            start = int(self._days[0])
            until = first_day if self._past_only else int(self._days[-1]) + KERNEL_REACH_DAYS
            centres = np.array(_same_date_in_other_years(first_day, start, until), dtype=np.int64)
            places = centres - start + KERNEL_REACH_DAYS
            self._centres[first_day] = places[(places >= 0) & (places < len(self._share))]
        return self._centres[first_day]

    def _rates(self, length: int) -> tuple[Floats, Floats, Floats]:
        """Windows of a length, one a start row: whether each has an event, the share that have about each, and counts.

        The shares begin a reach before the first row; the counts are of windows before each row that had an event and
        that were known, shape (rows + 1, 2).
        """
        if length not in self._by_length:
            windows = _any_in_window(self._event, length)
            known = (~np.isnan(windows)).astype(np.float64)
            weight = self._smoothed(known)
            rate = self._smoothed(np.nan_to_num(windows)) / np.where(weight > 1e-12, weight, np.nan)
            seen = np.cumsum(np.stack([np.nan_to_num(windows), known], axis=1), axis=0)
            self._by_length[length] = windows, rate, np.concatenate([np.zeros((1, 2)), seen])
        return self._by_length[length]

    def _smoothed(self, values: Floats) -> Floats:
        """Weighted sums over the rows about each row from a reach before the first to a reach after the last."""
        return np.convolve(values, self._weights, mode="full")


def chance_of_any(event: Floats, days: Days, first_day: int, last_day: int) -> Chance | None:
    """The chance of at least one event day from ``first_day`` to ``last_day``, from past years only.

    Args:
        event: 1, 0 or NaN a day, shape (days,).
        days: unbroken day numbers, shape (days,).
        first_day: first day number asked for.
        last_day: last day number asked for, both included.

    Returns:
        None where no past year counts.
    """
    return Usual(event, days).chance(first_day, last_day)


def interval(rates: Floats) -> tuple[float, float]:
    """The 90 % interval of a mean yearly rate, from the spread between years.

    On the arcsine-square-root scale, where the spread of a share does not hang on its size (Anscombe 1948,
    Biometrika 35:246-254), by Student's t; the spread is never taken as less than chance alone gives.

    Args:
        rates: one share a year, shape (years,), at least one.
    """
    angles = np.arcsin(np.sqrt(rates))  # their mean, turned back, would lie below the mean rate
    years = len(rates)
    by_chance = 1 / (2 * np.sqrt(INDEPENDENT_DAYS_A_YEAR))
    spread = max(float(angles.std(ddof=1)) if years > 1 else 0.0, float(by_chance))
    half = _T_95[min(max(years - 1, 1), len(_T_95)) - 1] * spread / np.sqrt(years)
    centre = float(np.arcsin(np.sqrt(rates.mean())))
    low, high = max(centre - half, 0.0), min(centre + half, np.pi / 2)
    return float(np.sin(low) ** 2), float(np.sin(high) ** 2)


def season_count(event: Floats, days: Days, before_day: int, first_month: int, last_month: int) -> SeasonCount | None:
    """Event days a season over the whole past seasons known, or None where there is none.

    Args:
        event: 1, 0 or NaN a day, shape (days,).
        days: unbroken day numbers, shape (days,).
        before_day: seasons that end before this day number count.
        first_month: the season's first month, 1 to 12.
        last_month: its last month; less than the first where the season runs over New Year.
    """
    counts, lengths = [], []
    first_year = date_of(int(days[0])).year
    for year in range(first_year - 1, date_of(before_day).year + 1):
        start = day_number(date(year, first_month, 1))
        end = day_number(_month_end(year + (last_month < first_month), last_month))
        rows = slice(max(start - int(days[0]), 0), max(end - int(days[0]) + 1, 0))
        found = event[rows]
        known = found[~np.isnan(found)]
        if end < before_day and len(known) >= 0.9 * (end - start + 1):
            counts.append(float(known.sum()) * (end - start + 1) / len(known))
            lengths.append(end - start + 1)
    if not counts:
        return None
    return SeasonCount(float(np.mean(counts)), round(min(counts)), round(max(counts)), max(lengths), len(counts))


def _month_end(year: int, month: int) -> date:
    return date(year + month // 12, month % 12 + 1, 1) - timedelta(days=1)


def _same_date_in_other_years(day: int, first_day: int, before_day: int) -> list[int]:
    """The same date in every other year from that of ``first_day`` to that of ``before_day``, the latest first."""
    target = date_of(day)
    found = []
    for year in range(date_of(before_day).year, date_of(first_day).year - 1, -1):
        if year == target.year:
            continue
        leap_day = (target.month, target.day) == (2, 29)
        found.append(day_number(target.replace(year=year, day=28) if leap_day else target.replace(year=year)))
    return found


def _counts_in_window(event: Floats, length: int) -> Floats:
    """Per start row, how many event days fall within ``length`` days; NaN where any of them is unknown."""
    if len(event) < length:
        return np.full(1, np.nan)
    found: Floats = np.lib.stride_tricks.sliding_window_view(event, length).sum(axis=1)
    return found


def _any_in_window(event: Floats, length: int) -> Floats:
    """Per start row: 1 where an event day falls within ``length`` days, 0 where none does; shape (starts,).

    NaN where any of the days is unknown, an event among the others or not: keeping the windows that are sure of
    an event and dropping their equals that are not would raise every chance.
    """
    if len(event) < length:
        return np.full(1, np.nan)
    found: Floats = np.lib.stride_tricks.sliding_window_view(event, length).max(axis=1)
    return found
