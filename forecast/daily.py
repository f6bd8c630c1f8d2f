"""Hours to one value a day, by each model's own day.

A day has 24 hours of the site's *standard* time all year and carries the date that holds its last hour. It
ends at a stated hour of standard time: 24 (midnight), 6 or 12, say. Where standard time is off the hour, it
ends at the last UTC stamp not after that moment. Day numbers count days since 1970-01-01.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats, Hours

DAY_HOURS = 24
HOURS_NEEDED = 22  # design choice: a finished day needs 22 of its 24 hours, observed or filled
WET_FROM_FRACTION = 0.5  # house choice: an hour counts as wet when leaves are wet for half of it or more

Days = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class DayTable:
    """One value a day.

    Attributes:
        days: unbroken day numbers, shape (days,).
        values: shape (days, series[, members]); NaN where too few hours are known.
        hours_known: how many of the 24 hours were known, same shape.
    """

    days: Days
    values: Floats
    hours_known: NDArray[np.int64]


def day_numbers(hours: Hours, standard_offset_minutes: int, day_end_hour: int) -> Days:
    """The day that each hour belongs to.

    Args:
        hours: ``datetime64[h]`` UTC stamps at the ends of the hours.
        standard_offset_minutes: standard time minus UTC.
        day_end_hour: 1 to 24, hour of standard time at which the day ends.
    """
    minutes = hours.astype("datetime64[h]").astype(np.int64) * 60
    since_end = minutes + standard_offset_minutes - day_end_hour * 60
    return -(-since_end // (DAY_HOURS * 60))


def last_stamp(day: int, standard_offset_minutes: int, day_end_hour: int) -> np.datetime64:
    """The UTC stamp that ends a day."""
    minutes = (day * DAY_HOURS + day_end_hour) * 60 - standard_offset_minutes
    return np.datetime64(minutes // 60, "h")


def reduce_days(
    hours: Hours,
    values: Floats,
    reduction: str,
    *,
    standard_offset_minutes: int,
    day_end_hour: int,
    at: float | None = None,
    trailing_days: int = 1,
    trailing: str = "mean",
) -> DayTable:
    """One value a day, and its mean or least over trailing days where more than one is asked for.

    Args:
        hours: unbroken UTC stamps, shape (hours,).
        values: shape (hours, series[, members]).
        reduction: a key of :data:`REDUCTIONS`, or of :data:`COUNTS`, which count hours beside a level.
        standard_offset_minutes: standard time minus UTC.
        day_end_hour: 1 to 24.
        at: the level of a count.
        trailing_days: over this day and those before it; all of them must be known.
        trailing: a key of :data:`TRAILING`.

    Raises:
        KeyError: no such reduction.
        ValueError: a count without a level, or a level where nothing is counted.
    """
    if (at is None) == (reduction in COUNTS):
        raise ValueError(f"{reduction}: a count needs a level, and nothing else takes one")
    reducer = REDUCTIONS[reduction] if at is None else partial(COUNTS[reduction], at=at)
    numbers = day_numbers(hours, standard_offset_minutes, day_end_hour)
    days = np.arange(numbers[0], numbers[-1] + 1)
    day_before_end = last_stamp(int(numbers[0]) - 1, standard_offset_minutes, day_end_hour)
    before = int((hours[0] - day_before_end) / np.timedelta64(1, "h")) - 1
    padded = np.full((len(days) * DAY_HOURS, *values.shape[1:]), np.nan)
    padded[before : before + len(hours)] = values
    by_day = padded.reshape(len(days), DAY_HOURS, *values.shape[1:])
    hours_known = np.count_nonzero(~np.isnan(by_day), axis=1)
    enough = hours_known >= HOURS_NEEDED
    reduced = np.where(enough, reducer(by_day), np.nan)
    return DayTable(days, _over_days(reduced, trailing_days, TRAILING[trailing]), hours_known)


def _over_days(values: Floats, trailing_days: int, reducer: Callable[..., Floats]) -> Floats:
    if trailing_days == 1:
        return values
    found = np.full_like(values, np.nan)
    if len(values) >= trailing_days:
        windows = np.lib.stride_tricks.sliding_window_view(values, trailing_days, axis=0)
        found[trailing_days - 1 :] = reducer(windows, axis=-1)
    return found


def _mean(by_day: Floats) -> Floats:
    known = ~np.isnan(by_day)
    mean: Floats = np.where(known, by_day, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    return mean


def _least(by_day: Floats) -> Floats:
    least: Floats = np.where(np.isnan(by_day), np.inf, by_day).min(axis=1)
    return least


def _most(by_day: Floats) -> Floats:
    most: Floats = np.where(np.isnan(by_day), -np.inf, by_day).max(axis=1)
    return most


def _peak(by_day: Floats) -> Floats:
    """The highest; unknown where any hour is, since that hour could have been higher."""
    return np.where(np.isnan(by_day).any(axis=1), np.nan, _most(by_day))


def _total(by_day: Floats) -> Floats:
    """The sum; unknown where any hour is: what is not known to have fallen is not known to be nothing."""
    total: Floats = by_day.sum(axis=1)
    return total


def _wet_hours(by_day: Floats) -> Floats:
    """Hours with wet leaves; unknown where the unknown hours could matter: they are never dry."""
    low = (by_day >= WET_FROM_FRACTION).sum(axis=1)
    return np.where(np.isnan(by_day).any(axis=1), np.nan, low.astype(np.float64))


def _longest_wet_run(by_day: Floats) -> Floats:
    """Longest run of wet hours; unknown where the unknown hours could lengthen it: they are never dry."""
    return _sure_run(by_day >= WET_FROM_FRACTION, np.isnan(by_day))


def _sure_run(counts: NDArray[np.bool_], unknown: NDArray[np.bool_]) -> Floats:
    shortest, longest = _run(counts), _run(counts | unknown)
    return np.where(shortest == longest, shortest, np.nan)


def _hours(counts: NDArray[np.bool_], unknown: NDArray[np.bool_]) -> Floats:
    return np.where(unknown.any(axis=1), np.nan, counts.sum(axis=1, dtype=np.float64))


def _hours_above(by_day: Floats, *, at: float) -> Floats:
    """Hours above a level; unknown where any hour is."""
    return _hours(by_day > at, np.isnan(by_day))


def _hours_from(by_day: Floats, *, at: float) -> Floats:
    """Hours at or above a level; unknown where any hour is."""
    return _hours(by_day >= at, np.isnan(by_day))


def _longest_run_above(by_day: Floats, *, at: float) -> Floats:
    """Longest run of hours above a level; unknown where the unknown hours could lengthen it."""
    return _sure_run(by_day > at, np.isnan(by_day))


def _run(wet: NDArray[np.bool_]) -> Floats:
    run = np.zeros((wet.shape[0], *wet.shape[2:]))
    longest = run.copy()
    for hour in range(wet.shape[1]):
        run = np.where(wet[:, hour], run + 1, 0.0)
        longest = np.maximum(longest, run)
    return longest


REDUCTIONS = MappingProxyType(
    {
        "mean": _mean,
        "min": _least,
        "max": _most,
        "peak": _peak,
        "sum": _total,
        "wet_hours": _wet_hours,
        "longest_wet_run": _longest_wet_run,
    }
)

# These count hours beside a level, which a declaration gives.
COUNTS: MappingProxyType[str, Callable[..., Floats]] = MappingProxyType(
    {
        "hours_above": _hours_above,
        "hours_from": _hours_from,
        "longest_run_above": _longest_run_above,
    }
)

TRAILING: MappingProxyType[str, Callable[..., Floats]] = MappingProxyType({"mean": np.mean, "lowest": np.min})
