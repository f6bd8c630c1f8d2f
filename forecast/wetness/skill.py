"""Wetness methods against a sensor: hours right, hits, false alarms, hours a day, and how sure each figure is.

How sure is told by drawing whole nights anew, from noon to noon, since the hours of a night go together; nights follow
one another too, in spells of weather, so that the intervals are rather too narrow than too wide. Sources of the
measures: hits, false-alarm ratio and false-alarm rate of a table of two by two (Wilks, Statistical Methods in the
Atmospheric Sciences, from memory); the interval is the percentile one (Efron & Tibshirani 1993, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType

import numpy as np

from forecast.daily import DAY_HOURS, HOURS_NEEDED, WET_FROM_FRACTION, Days, DayTable, reduce_days
from forecast.panel import Floats, Hours
from forecast.wetness import SUFFICES_FROM

NIGHT_END_HOUR = 12  # a day from noon to noon holds its night whole
INTERVAL = (0.05, 0.95)  # nine in ten
LEAST_NIGHTS = 10  # house choice: fewer nights drawn anew tell little of those that did not happen
RESAMPLES = 1000  # house choice: an end of an interval then wanders by a fiftieth of its width
WITHIN_H = 2.0  # as Gleason et al. 1994 counted nights
TARGET_FRACTION_CORRECT = 0.85  # house choice, a little above what methods have reached elsewhere
TARGET_ERROR_H_DAY = 2.0  # house choice, twice what a sensor resolves
_HAIR = 1e-9  # sums of shares miss a whole figure by a binary hair

_TALLIES = 8  # hit, miss, false alarm, dry on both, days, error, size of the error, days within 2 h


@dataclass(frozen=True, slots=True)
class Score:
    """A figure with its 90 % interval; None is unknown, and the ends are where too few nights stand behind."""

    value: float | None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Skill:
    """How a method agrees with a sensor over the hours that both know.

    Attributes:
        fraction_correct: share of the hours on which both say wet, or both dry.
        hit_rate: of the hours that the sensor calls wet, the share that the method does.
        false_alarm_ratio: of the hours that the method calls wet, the share that the sensor calls dry.
        false_alarm_rate: of the hours that the sensor calls dry, the share that the method calls wet.
        mean_error_h_day: wet hours a day by the method less those by the sensor.
        mean_absolute_error_h_day: the size of that difference, day by day.
        days_within_2h: share of the days on which it is at most 2 h.
    """

    fraction_correct: Score
    hit_rate: Score
    false_alarm_ratio: Score
    false_alarm_rate: Score
    mean_error_h_day: Score
    mean_absolute_error_h_day: Score
    days_within_2h: Score


MEASURES = tuple(field.name for field in fields(Skill))
_FIRST_OF_DAYS = MEASURES.index("mean_error_h_day")  # from there on measures need whole days
_RIGHT, _SIZE = MEASURES.index("fraction_correct"), MEASURES.index("mean_absolute_error_h_day")


@dataclass(frozen=True, eq=False)
class Comparison:
    """Several methods against one sensor, over the hours that it and all of them know.

    Attributes:
        hours: how many these are.
        nights: from noon to noon, with such an hour.
        days: nights with 22 such hours or more.
        first_night, last_night: day numbers of the first and the last night; None without an hour.
        sensor_wet_h_day: wet hours a day by the sensor, over the days; None where there is none.
        sensor_wet_share: share of the hours that the sensor calls wet; None without an hour.
        by_method: by key, the best first: the one with the least size of error a day, or, where no day is known, with
            most hours right; of equals the one named first. Empty without an hour.
        behind_h_day: per key but the best's, by how much its size of error is above the best's, nights drawn alike for
            both; empty where no day is known.
        first_in_draws: share of the draws in which the best is the best; None where it stands alone, or on too few
            days.
        left_out: keys of methods that tell too few of the sensor's hours.
    """

    hours: int
    nights: int
    days: int
    first_night: int | None
    last_night: int | None
    sensor_wet_h_day: float | None
    sensor_wet_share: float | None
    by_method: Mapping[str, Skill]
    behind_h_day: Mapping[str, Score]
    first_in_draws: float | None
    left_out: tuple[str, ...]


def wet_hours(hours: Hours, fraction: Floats, standard_offset_minutes: int) -> DayTable:
    """Wet hours of each day from noon to noon, by the mean of its known hours; NaN where fewer than 22 are known.

    Args:
        hours: unbroken UTC stamps that end their hours, shape (hours,).
        fraction: share of each hour wet, shape (hours, series).
        standard_offset_minutes: standard time minus UTC.
    """
    table = reduce_days(
        hours, fraction, "mean", standard_offset_minutes=standard_offset_minutes, day_end_hour=NIGHT_END_HOUR
    )
    return DayTable(table.days, DAY_HOURS * table.values, table.hours_known)


def running(by_method: Mapping[str, Floats]) -> tuple[str, ...]:
    """The keys of the methods that tell nine in ten of the hours that any of them tells; none where none tells any.

    Args:
        by_method: share of each hour wet by each method, NaN unknown, shape (hours,).
    """
    known = {key: ~np.isnan(fraction) for key, fraction in by_method.items()}
    told = np.any(list(known.values()), axis=0) if known else np.zeros(0, bool)
    return tuple(key for key, one in known.items() if told.any() and one.sum() >= SUFFICES_FROM * told.sum())


def skill(nights: Days, sensor: Floats, method: Floats, rng: np.random.Generator) -> Skill:
    """How one method agrees with a sensor; the arguments are those of :func:`compare`.

    Raises:
        ValueError: shapes that differ, or a method that tells too few of the sensor's hours.
    """
    alone = compare(nights, sensor, {"": method}, rng).by_method
    if not alone:
        raise ValueError("the method tells too few of the sensor's hours")
    return alone[""]


def compare(nights: Days, sensor: Floats, by_method: Mapping[str, Floats], rng: np.random.Generator) -> Comparison:
    """How methods agree with a sensor. Only hours that the sensor and every method know count, so that like meets like.

    Args:
        nights: the day from noon to noon that each hour belongs to, as
            ``day_numbers(hours, standard_offset_minutes, NIGHT_END_HOUR)`` tells; shape (hours,).
        sensor: share of each hour wet, NaN unknown, shape (hours,).
        by_method: the same by each method.
        rng: draws the nights.

    Raises:
        ValueError: shapes that differ.
    """
    if any(array.shape != nights.shape for array in (sensor, *by_method.values())):
        raise ValueError("nights, sensor and methods need one figure an hour each")
    known = ~np.isnan(sensor)
    keys = [
        key
        for key, fraction in by_method.items()
        if known.any() and (known & ~np.isnan(fraction)).sum() >= SUFFICES_FROM * known.sum()
    ]
    left_out = tuple(key for key in by_method if key not in keys)
    common = known & ~np.any([np.isnan(by_method[key]) for key in keys], axis=0) if keys else np.zeros_like(known)
    if not common.any():
        return Comparison(0, 0, 0, None, None, None, None, {}, {}, None, left_out)
    methods = np.stack([by_method[key][common] for key in keys], axis=1)
    tallies, sensor_h = _tallies(nights[common], sensor[common], methods)
    days = int(tallies[:, 0, 4].sum())
    once = _measures(tallies.sum(axis=0))
    drawn = _drawn(tallies, rng)
    order = np.argsort(once[:, _SIZE] if days else -once[:, _RIGHT], kind="stable").tolist()
    sizes = drawn[..., _SIZE]
    best, *others = order
    return Comparison(
        int(common.sum()),
        len(tallies),
        days,
        int(nights[common].min()),
        int(nights[common].max()),
        float(np.nanmean(sensor_h)) if days else None,
        float((sensor[common] >= WET_FROM_FRACTION).mean()),
        MappingProxyType({keys[place]: _skill(once[place], drawn[:, place]) for place in order}),
        MappingProxyType(
            {
                keys[place]: _score(once[place, _SIZE] - once[best, _SIZE], sizes[:, place] - sizes[:, best])
                for place in others
                if days
            }
        ),
        _share_of_draws(sizes, best) if others else None,
        left_out,
    )


def _tallies(numbers: Days, sensor: Floats, methods: Floats) -> tuple[Floats, Floats]:
    """What each night counts for each method, shape (nights, methods, tallies); and its wet hours by the sensor."""
    distinct, night = np.unique(numbers, return_inverse=True)
    wet, told = (sensor >= WET_FROM_FRACTION)[:, None], methods >= WET_FROM_FRACTION
    by_hour = np.stack([wet & told, wet & ~told, ~wet & told, ~wet & ~told], axis=-1).astype(np.float64)
    tallies = np.zeros((len(distinct), methods.shape[1], _TALLIES))
    np.add.at(tallies[..., :4], night, by_hour)
    known = np.bincount(night, minlength=len(distinct)).astype(np.float64)
    is_day = known >= HOURS_NEEDED
    off, sensor_h = np.zeros(tallies.shape[:2]), np.zeros(len(distinct))
    np.add.at(off, night, methods - sensor[:, None])
    np.add.at(sensor_h, night, sensor)
    off *= (DAY_HOURS / known)[:, None]  # 22 or 23 hours speak for the day
    within = np.abs(off) <= WITHIN_H + _HAIR
    of_days = np.stack([np.ones_like(off), off, np.abs(off), within], axis=-1)
    tallies[..., 4:] = np.where(is_day[:, None, None], of_days, 0.0)
    return tallies, np.where(is_day, sensor_h * DAY_HOURS / known, np.nan)


def _drawn(tallies: Floats, rng: np.random.Generator) -> Floats:
    """The measures of nights drawn anew, shape (draws, methods, measures); NaN where too few nights or days."""
    nights, days = len(tallies), int(tallies[:, 0, 4].sum())
    if nights < LEAST_NIGHTS:
        return np.full((1, tallies.shape[1], len(MEASURES)), np.nan)
    times = rng.multinomial(nights, np.full(nights, 1 / nights), size=RESAMPLES)
    drawn = _measures(np.tensordot(times.astype(np.float64), tallies, axes=1))
    if days < LEAST_NIGHTS:
        drawn[..., _FIRST_OF_DAYS:] = np.nan
    return drawn


def _measures(tallies: Floats) -> Floats:
    """The measures of summed tallies, last axis to last axis; NaN where nothing stands below the line."""
    hit, miss, false, dry, days, error, size, within = np.moveaxis(tallies, -1, 0)
    return np.stack(
        [
            _over(hit + dry, hit + miss + false + dry),
            _over(hit, hit + miss),
            _over(false, hit + false),
            _over(false, false + dry),
            _over(error, days),
            _over(size, days),
            _over(within, days),
        ],
        axis=-1,
    )


def _over(above: Floats, below: Floats) -> Floats:
    share: Floats = np.divide(above, below, out=np.full(above.shape, np.nan), where=below > 0)
    return share


def _skill(once: Floats, drawn: Floats) -> Skill:
    return Skill(*(_score(once[place], drawn[:, place]) for place in range(len(MEASURES))))


def _score(value: float, drawn: Floats) -> Score:
    """A figure with the interval of its draws, but for those in which it cannot be told, as hits without wet hours."""
    if np.isnan(value):
        return Score(None)
    known = drawn[~np.isnan(drawn)]
    if not known.size:
        return Score(float(value))
    low, high = np.quantile(known, INTERVAL)
    return Score(float(value), float(low), float(high))


def _share_of_draws(sizes: Floats, best: int) -> float | None:
    """The share of the draws in which one method is the best; None where no day was drawn."""
    known = ~np.isnan(sizes).any(axis=1)
    return float((sizes[known].argmin(axis=1) == best).mean()) if known.any() else None
