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

import numpy as np

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


@dataclass(frozen=True, slots=True)
class Chance:
    """A chance made of past years.

    Attributes:
        value: 0 to 1.
        low: lower end of the 90 % interval from the spread between years.
        high: its upper end.
        years: past years it rests on.
    """

    value: float
    low: float
    high: float
    years: int


@dataclass(frozen=True, slots=True)
class SeasonCount:
    """How many days of a season were event days, over whole past seasons."""

    mean_days: float
    least_days: int
    most_days: int
    season_days: int
    seasons: int


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
    length = last_day - first_day + 1
    windows = _any_in_window(event, length)
    offsets = np.arange(-KERNEL_REACH_DAYS, KERNEL_REACH_DAYS + 1)
    weights = np.exp(-0.5 * (offsets / KERNEL_SD_DAYS) ** 2)
    rates = []
    for centre in _same_date_in_past_years(first_day, int(days[0])):
        rows = centre - int(days[0]) + offsets
        inside = (rows >= 0) & (rows < len(windows))
        rows, near = rows[inside], weights[inside]
        whole = ~np.isnan(windows[rows])
        share = near[~np.isnan(event[rows])].sum() / weights.sum()
        if share >= YEAR_SHARE_NEEDED and whole.any():
            rates.append(np.average(windows[rows][whole], weights=near[whole]))
    if not rates:
        return None
    before = windows[: max(first_day - length + 1 - int(days[0]), 0)]  # those that end before the date
    # Half an event more than was seen, so that a record without any does not say never either.
    all_year = (np.nansum(before) + 0.5) / (np.count_nonzero(~np.isnan(before)) + 1)
    pseudo = PSEUDO_DAYS / weights.sum()
    value = (sum(rates) + pseudo * float(all_year)) / (len(rates) + pseudo)
    low, high = interval(np.array(rates))
    return Chance(float(value), min(low, float(value)), max(high, float(value)), len(rates))


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


def _same_date_in_past_years(day: int, first_day: int) -> list[int]:
    target = date_of(day)
    found = []
    for year in range(target.year - 1, date_of(first_day).year - 1, -1):
        leap_day = (target.month, target.day) == (2, 29)
        found.append(day_number(target.replace(year=year, day=28) if leap_day else target.replace(year=year)))
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
