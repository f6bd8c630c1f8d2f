"""What is usual at every hour of the day and date of the year: mean and spread, smoothed over neighbouring dates.

A Gaussian of 15 days over the date; the mean is smoothed twice (its residuals once more, "twicing", Tukey 1977, from
memory), since one pass of such a kernel takes 3 % off a yearly wave, exp(−(2π·15/365)²/2) = 0.967, which is half a
degree at midsummer; two leave a thousandth of it. The spread is that of the anomalies from that mean, so that a season
that climbs steeply does not count as spread.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats, Hours

SMOOTHING_SD_DAYS = 15  # 12 to 30 days were found equal within 0.003 of skill, 6 days worse
LEAST_YEARS = 0.25  # house choice: a date is known where the days about it hold so many years of hours
LEAST_SPREAD = 1e-3  # a stuck record must not divide by nothing

_DAYS_BEFORE_MONTH = np.array([0, 31, 60, 91, 121, 152, 182, 213, 244, 274, 305, 335])
_DATES, _CLOCK = 366, 24


@dataclass(frozen=True, eq=False)
class Normals:
    """The usual value and its spread.

    Attributes:
        mean: shape (366 dates, 24 hours of UTC, series); NaN where too little is known about the date.
        spread: standard deviation about it, same shape.
    """

    mean: Floats
    spread: Floats

    def at(self, hours: Hours) -> tuple[Floats, Floats]:
        """Mean and spread at some stamps, each of shape (hours, series)."""
        date, clock = date_and_clock(hours)
        return self.mean[date, clock], self.spread[date, clock]


def date_and_clock(hours: Hours) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The date of each stamp, 0 to 365 with 29 February always counted, and its hour of UTC, 0 to 23."""
    days = hours.astype("datetime64[D]")
    months = days.astype("datetime64[M]")
    in_month = (days - months.astype("datetime64[D]")).astype(np.int64)
    month = months.astype(np.int64) % 12
    return _DAYS_BEFORE_MONTH[month] + in_month, (hours.astype("datetime64[h]").astype(np.int64)) % _CLOCK


def normals(hours: Hours, values: Floats) -> Normals:
    """The normals of a record.

    Args:
        hours: unbroken UTC stamps, shape (hours,).
        values: shape (hours, series); NaN is left out.
    """
    date, clock = date_and_clock(hours)
    years = _year_rows(hours)
    kernel = _kernel()
    series = values.shape[1]

    def smoothed(array: Floats) -> Floats:
        found: Floats = (kernel @ array.reshape(_DATES, -1)).reshape(array.shape)
        return found

    def summed(array: Floats) -> Floats:
        total = np.zeros((_DATES, _CLOCK, series))
        for rows in years:  # no date and clock comes twice in a year
            total[date[rows], clock[rows]] += array[rows]
        return total

    known = ~np.isnan(values)
    weight = smoothed(summed(known.astype(np.float64)))
    weight = np.where(weight >= LEAST_YEARS, weight, np.nan)
    once = smoothed(summed(np.where(known, values, 0.0))) / weight
    mean = once + smoothed(summed(_left(known, values - once[date, clock]))) / weight
    spread = np.sqrt(smoothed(summed(_left(known, (values - mean[date, clock]) ** 2))) / weight)
    return Normals(mean, np.maximum(spread, LEAST_SPREAD))


def _left(known: NDArray[np.bool_], residual: Floats) -> Floats:
    return np.where(known & ~np.isnan(residual), residual, 0.0)


def _year_rows(hours: Hours) -> list[slice]:
    years = hours.astype("datetime64[Y]").astype(np.int64)
    edges = np.flatnonzero(np.diff(years)) + 1
    bounds = [0, *edges.tolist(), len(hours)]
    return [slice(first, last) for first, last in pairwise(bounds)]


def _kernel() -> Floats:
    """Weights of every date for every date, round the year; shape (366, 366), rows sum to 1."""
    apart = np.abs(np.arange(_DATES)[:, None] - np.arange(_DATES)[None, :])
    apart = np.minimum(apart, _DATES - apart)
    weights: Floats = np.exp(-0.5 * (apart / SMOOTHING_SD_DAYS) ** 2)
    weights /= weights.sum(axis=1, keepdims=True)
    return weights
