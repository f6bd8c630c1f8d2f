"""Many ways the next fortnight can go: what is expected, and a past year's fortnight in place of what is not known.

Each hour of a member is m + s·(g + √(1 − e)·x'): the usual value m and spread s of the hour, the expected anomaly g,
and the anomaly x' of a whole block of a past year, weighted by what g leaves unexplained, 1 − e. One weight serves
temperature and dew point, so that a member's humidity is that of real hours. Two things are expected from, the last
readings (``state.py``) and the weather forecast. With a forecast f that correlates by r with what comes, whose errors
have nothing to do with the readings, what both say together is by Bayes' rule for normal variables

    1/(1 − e) = 1/(1 − e_state) + r²/(1 − r²),    g = (1 − e)·(g_state/(1 − e_state) + b·f/(1 − r²)),

where b, the slope of what came on what was forecast, is r for a forecast as lively as the weather. Without readings to
go by that is b·f with e = r²; without a forecast it is what the readings say; without either a member is a past year's
fortnight as it was. After a forecast's end, and in holes of more than six hours, the mean of its last day is held and
fades as anomalies do here. So no forecast, a short one and one with holes go by the same formula. An ensemble's spread
counts as a part of what is unexplained, never beside it: its deviations are shrunk to 1 − e where they are larger, and
the block fills what they leave.

Rain, wind and sky cannot be averaged: half a shower is none. A member takes the forecast's own hours up to its own
lead, from then on its block's; so many members follow as the forecast is worth at that lead.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from forecast.gaps import fill_linear
from forecast.outlook.lead_skill import LeadSkill
from forecast.outlook.library import BLENDED, CARRIED, Library, Rows
from forecast.outlook.state import state_says
from forecast.panel import Floats, Hours, Panel
from forecast.physics.humidity import relative_humidity_pct
from forecast.quantities import QUANTITIES, Flag, GapRule, Origin

SHORT_HOLE_HOURS = 6  # house choice: a forecast in steps of up to so many hours is joined by straight lines
LEAST_HELD_HOURS = 12  # house choice: fewer hours are no day to hold
MOST_EXPLAINED = 0.995  # no forecast is followed to the letter


@dataclass(frozen=True, eq=False)
class Expected:
    """What a forecast says of the hours ahead, in house units.

    Attributes:
        values: per quantity, shape (hours ahead, series[, ensemble]); NaN where it says nothing.
    """

    values: Mapping[str, Floats]


@dataclass(frozen=True, eq=False)
class Fortnight:
    """The hours ahead with members.

    Attributes:
        hours: unbroken UTC stamps, the first the hour after the last known one; shape (hours,).
        values: per quantity, shape (hours, series, members).
        year: past year that each member's block stands for, shape (series, members); one season's blocks share it, on
            either side of New Year.
        explained: share of variance that the expected anomaly explains, shape (hours, series).
        by_forecast: True where the forecast itself says something of temperature and dew point, as far ahead as it is
            known what it is worth, shape (hours, series).
    """

    hours: Hours
    values: Mapping[str, Floats]
    year: Rows
    explained: Floats
    by_forecast: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def fortnight(
    stock: Library,
    recent: Panel,
    hours_ahead: int,
    skill: LeadSkill,
    expected: Expected | None,
    members: int,
    known_hours: int | None = None,
) -> Fortnight | None:
    """The next hours, with members.

    Args:
        stock: past years of the same series, in the same order.
        recent: the last day or more of readings with temperature and dew point, shape (hours, series); it ends with the
            last hour known.
        hours_ahead: how many hours are made.
        skill: what the forecast is worth.
        expected: the weather forecast for just these hours; None for none.
        members: how many are wanted; there are fewer where past years do not hold so many whole blocks.
        known_hours: how many of the first hours have to be known throughout in a block of past years, where many more
            are made and no record is without holes for so long; beyond, members are unknown where the record is. None
            for all hours.

    Returns:
        None where no past year holds a whole block for every series.

    Raises:
        ValueError: other series in the stock than in the readings, or a forecast of another number of hours or series.
    """
    _checked(stock, recent, hours_ahead, expected)
    last_known = recent.hours[-1]
    hours = last_known + np.arange(1, hours_ahead + 1) * np.timedelta64(1, "h")
    starts = stock.starts(last_known, hours_ahead, members, known_hours)
    count = min(len(rows) for rows in starts)
    if count == 0:
        return None
    picked = np.stack([_thinned(rows, count) for rows in starts])  # (series, members)
    guidance = _Guidance.of(stock, recent, hours, skill, expected)
    values = _blended(stock, hours, picked, guidance)
    values |= _carried(stock, hours, picked, skill, expected)
    return Fortnight(hours, values, stock.year_of(picked, last_known), guidance.explained, guidance.by_forecast)


def with_history(recent: Panel, ahead: Fortnight) -> Panel:
    """Readings repeated for every member, and then the hours ahead: what the chain of models reads.

    Quantities that members lack stay as they were read and are unknown ahead; those without readings are left out.
    """
    members = ahead.year.shape[1]
    shape = (len(ahead.hours), len(recent.series), members)
    values, flags, origin = {}, {}, {}
    for name, read in recent.values.items():
        later = ahead.values.get(name, np.full(shape, np.nan))
        values[name] = np.concatenate([np.repeat(read[:, :, None], members, axis=2), later])
        told = np.where(np.isnan(later), Flag.MISSING, Flag.NOT_EVALUATED).astype(np.uint8)
        flags[name] = np.concatenate([np.repeat(recent.flags[name][:, :, None], members, axis=2), told])
        source = np.where(ahead.by_forecast, Origin.WEATHER_FORECAST, Origin.PAST_YEAR).astype(np.uint8)[:, :, None]
        origin[name] = np.concatenate(
            [np.repeat(recent.origin[name][:, :, None], members, axis=2), np.broadcast_to(source, shape)]
        )
    return Panel(np.concatenate([recent.hours, ahead.hours]), recent.series, values, flags, origin)


@dataclass(frozen=True, eq=False)
class _Guidance:
    """What is expected of the hours ahead, in anomalies.

    Attributes:
        anomaly: per blended quantity, shape (hours, series).
        deviation: per blended quantity, an ensemble's deviations from its mean, shape (hours, series, ensemble).
        explained: share of variance, shape (hours, series); an ensemble's own spread counts as not explained.
        spread: share of variance that the deviations bring, same shape.
        by_forecast: True where a forecast says something of both.
    """

    anomaly: Mapping[str, Floats]
    deviation: Mapping[str, Floats]
    explained: Floats
    spread: Floats
    by_forecast: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

    @classmethod
    def of(cls, stock: Library, recent: Panel, hours: Hours, skill: LeadSkill, expected: Expected | None) -> _Guidance:
        state = state_says(stock, recent, len(hours))
        forecast = _anomalies_of_forecast(stock, hours, skill, expected)
        ahead_h = np.arange(1, len(hours) + 1, dtype=np.float64)
        by_forecast = np.broadcast_to((ahead_h <= skill.reach_h)[:, None], state.explained.shape).copy()
        for values in forecast.values():
            by_forecast &= ~np.isnan(values).all(axis=2)
        r, b = (one[:, None] for one in skill.at_hours(ahead_h))
        r2 = np.where(by_forecast, np.minimum(r**2, MOST_EXPLAINED), 0.0)
        left_by_state = np.maximum(1 - state.explained, 1 - MOST_EXPLAINED)
        left = 1 / (1 / left_by_state + r2 / (1 - r2))
        anomaly, deviation = {}, {}
        spread = np.zeros_like(left)
        for name in BLENDED:
            means = np.where(by_forecast, _mean_of_ensemble(forecast[name]), 0.0)
            anomaly[name] = left * (state.anomaly[name] / left_by_state + b * means / (1 - r2))
            apart = np.where(by_forecast[:, :, None], forecast[name] - means[:, :, None], 0.0)
            deviation[name] = np.nan_to_num(apart)  # one of an ensemble that is silent here stands at its mean
            spread += np.mean(deviation[name] ** 2, axis=2) / len(BLENDED)
        explained = _held_after_forecast(stock, anomaly, 1 - left, by_forecast)
        return cls(anomaly, deviation, explained, spread, by_forecast)


def _held_after_forecast(
    stock: Library,
    anomaly: dict[str, Floats],
    explained: Floats,
    by_forecast: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
) -> Floats:
    """Where a forecast is silent, its last day goes on as days do here, if that explains more than the readings do.

    Writes into ``anomaly`` and gives the explained share.
    """
    slopes, share = stock.persistence
    hours, series = explained.shape
    rows = np.arange(hours)[:, None]
    last = np.maximum.accumulate(np.where(by_forecast, rows, -1), axis=0)
    column = np.broadcast_to(np.arange(series), last.shape)
    upper, lower = last + 1, np.maximum(last - 23, 0)

    def day_mean(values: Floats) -> tuple[Floats, Floats]:
        sums, counts = (
            np.concatenate([np.zeros((1, series)), np.cumsum(np.where(by_forecast, one, 0.0), axis=0)])
            for one in (values, np.ones_like(values))
        )
        count = counts[upper, column] - counts[lower, column]
        return (sums[upper, column] - sums[lower, column]) / np.maximum(count, 1), count

    followed, count = day_mean(explained)
    decay = _interpolated(slopes, (rows - last + 11.5) / 24)  # from the middle of the day that is held
    held_explained = decay**2 * share * followed
    holds = ~by_forecast & (count >= LEAST_HELD_HOURS) & (held_explained > explained)
    for name in BLENDED:
        mean, _ = day_mean(anomaly[name])
        anomaly[name] = np.where(holds, decay * mean, anomaly[name])
    return np.where(holds, held_explained, explained)


def _anomalies_of_forecast(
    stock: Library, hours: Hours, skill: LeadSkill, expected: Expected | None
) -> dict[str, Floats]:
    """Per blended quantity, without what the forecast is usually off by; shape (hours, series, ensemble)."""
    found = {}
    clock = hours.astype("datetime64[h]").astype(np.int64) % 24
    for name in BLENDED:
        given = None if expected is None else expected.values.get(name)
        if given is None:
            found[name] = np.full((len(hours), len(stock.series), 1), np.nan)
            continue
        mean, spread = stock.normals[name].at(hours)
        given = given if given.ndim == 3 else given[:, :, None]
        found[name] = fill_linear((given - mean[:, :, None]) / spread[:, :, None], SHORT_HOLE_HOURS)
        if name in skill.bias:
            found[name] = found[name] - skill.bias[name][clock][:, None, None]
    return found


def _mean_of_ensemble(values: Floats) -> Floats:
    known = ~np.isnan(values)
    counted = known.sum(axis=2)
    total = np.where(known, values, 0.0).sum(axis=2)
    return np.where(counted > 0, total / np.maximum(counted, 1), np.nan)


def _interpolated(slopes: Floats, lag_days: Floats) -> Floats:
    """Per series, the slope at a lag in days between whole ones; that of the longest lag beyond it."""
    most = len(slopes) - 1
    lag = np.clip(lag_days, 0, most)
    low = np.minimum(lag.astype(np.int64), most - 1)
    column = np.broadcast_to(np.arange(slopes.shape[1]), lag.shape)
    found: Floats = slopes[low, column] + (slopes[low + 1, column] - slopes[low, column]) * (lag - low)
    return found


def _blended(stock: Library, hours: Hours, picked: Rows, guidance: _Guidance) -> dict[str, Floats]:
    members = picked.shape[1]
    left = np.clip(1 - guidance.explained, 0.0, 1.0)
    shrink = np.sqrt(np.minimum(left / np.maximum(guidance.spread, 1e-12), 1.0))
    weight = np.sqrt(np.maximum(left - shrink**2 * guidance.spread, 0.0))
    rows = picked[None] + np.arange(1, len(hours) + 1)[:, None, None]
    column = np.arange(len(stock.series))[None, :, None]
    values = {}
    for name in BLENDED:
        mean, spread = stock.normals[name].at(hours)
        anomaly = stock.anomalies[name][rows, column]
        anomaly *= weight[:, :, None]
        anomaly += guidance.anomaly[name][:, :, None]
        if guidance.deviation[name].shape[2] > 1:
            own = guidance.deviation[name][:, :, _paired(members, guidance.deviation[name].shape[2])]
            anomaly += shrink[:, :, None] * own
        anomaly *= spread[:, :, None]
        anomaly += mean[:, :, None]
        values[name] = anomaly
    np.minimum(values["dew_point_c"], values["air_temperature_c"], out=values["dew_point_c"])
    values["relative_humidity_pct"] = relative_humidity_pct(values["air_temperature_c"], values["dew_point_c"])
    return values


def _carried(
    stock: Library, hours: Hours, picked: Rows, skill: LeadSkill, expected: Expected | None
) -> dict[str, Floats]:
    members = picked.shape[1]
    rows = picked[None] + np.arange(1, len(hours) + 1)[:, None, None]
    column = np.arange(len(stock.series))[None, :, None]
    ahead_h = np.arange(1, len(hours) + 1, dtype=np.float64)
    order = _levels(members)
    values = {}
    for name in CARRIED:
        if name not in stock.carried:
            continue
        block = stock.carried[name][rows, column]
        given = None if expected is None else expected.values.get(name)
        if given is not None:
            if QUANTITIES[name].gap_rule is GapRule.LINEAR:
                given = fill_linear(given, SHORT_HOLE_HOURS)
            own = given[:, :, None] if given.ndim == 2 else given[:, :, _paired(members, given.shape[2])]
            follows = order[None, None, :] < skill.share_at_hours(name, ahead_h)[:, None, None]
            block = np.where(follows & ~np.isnan(own), own, block)
        values[name] = block
    return values


def _levels(members: int) -> Floats:
    """A level between 0 and 1 for each member, evenly spread among any members that follow each other."""
    found = np.zeros(members)
    for member in range(members):
        step, rest = 0.5, member
        while rest:
            found[member] += step * (rest & 1)
            rest >>= 1
            step /= 2
    return found + 0.5 / max(members, 1)


def _paired(members: int, ensemble: int) -> Rows:
    """Which of an ensemble each member goes with: all in turn, begun one later each time round.

    Else those with low levels, every other member, would go with half of an even ensemble only.
    """
    member = np.arange(members)
    found: Rows = (member + member // ensemble) % ensemble
    return found


def _checked(stock: Library, recent: Panel, hours_ahead: int, expected: Expected | None) -> None:
    if stock.series != recent.series:
        raise ValueError(f"past years are of {stock.series}, readings of {recent.series}: give the same in one order")
    for name, values in ({} if expected is None else expected.values).items():
        if values.shape[:2] != (hours_ahead, len(recent.series)):
            raise ValueError(
                f"{name}: a forecast of shape {values.shape} for {hours_ahead} hours of {len(recent.series)} series: "
                "give every hour asked for, NaN where the forecast says nothing"
            )


def _thinned(rows: Rows, count: int) -> Rows:
    return rows[(np.arange(count) * len(rows) / count).astype(np.int64)]
