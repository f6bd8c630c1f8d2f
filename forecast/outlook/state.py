"""What the last readings say of the days ahead: past years' hours on how the weather stood then.

By least squares, for each hour ahead: its anomaly on the last reading's and on the mean anomalies of the last day and
fortnight, of temperature and of dew point, over the same hour of the day within 45 days of the date in other years.
Nights hold their own to the morning, dew points hold for days, and after three days little is left; the record itself
says how little. What chance alone would explain is taken off what is explained, and slopes shrink with it, so that a
short record says less (Stein's shrinkage in its plainest form).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecast.outlook.library import (
    BLENDED,
    MEANS_OVER_H,
    Library,
    Rows,
    running_features,
    same_moment_in_other_years,
)
from forecast.panel import Floats, Panel

WINDOW_DAYS = 45  # house choice: a season to either side
DAYS_PER_INDEPENDENT = 5.0  # a night-minimum anomaly has a lag-one correlation of .67: (1 + .67)/(1 − .67) = 5
LEAST_DAYS = 40  # house choice: fewer remembered days say nothing
STATE_HOURS = max(MEANS_OVER_H)
EACH_HOUR_TO_H, STEP_BEYOND_H = 72, 6  # beyond, little is left, and straight lines between every sixth hour do
# Beyond, nothing is said: a hundredth of the variance is left after a fortnight, and a day remembered would have to be
# known for as long as it is asked to speak of.
REACH_H = 20 * 24
_RIDGE = 1e-6  # so that two features that never differ do not divide by nothing
_DAY = np.timedelta64(24, "h")


@dataclass(frozen=True, eq=False)
class StateSays:
    """What the readings say.

    Attributes:
        anomaly: per blended quantity, shape (hours ahead, series).
        explained: share of variance of temperature and dew point together, shape (hours ahead, series).
    """

    anomaly: dict[str, Floats]
    explained: Floats


def state_says(stock: Library, recent: Panel, hours_ahead: int) -> StateSays:
    """The expected anomalies by the last readings.

    Args:
        stock: past years of the same series.
        recent: readings that end with the last hour known, shape (hours, series). What of its last reading and means
            over a day and a fortnight is not known is left out of the sum, in past years too.
        hours_ahead: how many hours.
    """
    shape = (hours_ahead, len(stock.series))
    anomaly = {name: np.zeros(shape) for name in BLENDED}
    explained = np.zeros(shape)
    reach = min(hours_ahead, REACH_H)
    ahead = np.arange(1, reach + 1)
    knots = np.unique(np.append(ahead[:EACH_HOUR_TO_H], ahead[EACH_HOUR_TO_H - 1 :: STEP_BEYOND_H]))
    knots = np.union1d(knots, ahead[-1:])
    rows = _remembered(stock, recent.hours[-1], reach)
    now = np.concatenate([_features_now(stock, recent, name) for name in BLENDED], axis=1)
    for column in range(len(stock.series)):
        said = ~np.isnan(now[column])
        if not said.any():
            continue
        then = np.concatenate([stock.running_means[name][rows, column] for name in BLENDED], axis=1)[:, said]
        for name in BLENDED:
            came = stock.anomalies[name][rows[:, None] + knots, column]
            told, share = _regressed(then, came, now[column, said])
            anomaly[name][:reach, column] = np.interp(ahead, knots, told)
            explained[:reach, column] += np.interp(ahead, knots, share) / len(BLENDED)
    return StateSays(anomaly, explained)


def fortnight_state(stock: Library, past: Panel, last_known: np.datetime64) -> Floats:
    """Mean anomalies of temperature, then of dew point, over the last 1, 5 and 14 days of one series; shape (6,).

    NaN where less than three quarters of the hours are known.
    """
    hours = past.between(last_known - np.timedelta64(24 * 14 - 1, "h"), last_known)
    found = []
    for name in BLENDED:
        mean, spread = stock.normals[name].at(hours.hours)
        anomaly = ((hours.values[name] - mean) / spread)[:, 0]
        for days in (1, 5, 14):
            some = anomaly[-24 * days :]
            known = some[~np.isnan(some)]
            found.append(float(known.mean()) if len(known) >= 18 * days else np.nan)
    return np.array(found)


def _features_now(stock: Library, recent: Panel, name: str) -> Floats:
    """As the stock's running means, at the last reading; shape (series, features)."""
    hours = recent.hours[-STATE_HOURS:]
    mean, spread = stock.normals[name].at(hours)
    now: Floats = running_features((recent.values[name][-STATE_HOURS:] - mean) / spread)[-1]
    return now


def _remembered(stock: Library, last_known: np.datetime64, hours_ahead: int) -> Rows:
    """Rows of the same hour about the date in other years, with as many hours after them as are asked for."""
    found = [np.empty(0, dtype=np.int64)]
    for centre in same_moment_in_other_years(last_known, stock.hours[0], stock.hours[-1]):
        around = centre + np.arange(-WINDOW_DAYS, WINDOW_DAYS + 1) * _DAY
        found.append((around - stock.hours[0]).astype(np.int64))
    rows = np.concatenate(found)
    return rows[(rows >= 0) & (rows < len(stock.hours) - hours_ahead)]


def _regressed(then: Floats, came: Floats, now: Floats) -> tuple[Floats, Floats]:
    """Expected anomaly and explained share of variance, per hour ahead; nothing where too few days are remembered.

    Args:
        then: features of remembered days, shape (days, features); NaN drops the day.
        came: anomalies that followed, shape (days, hours); NaN drops the day.
        now: features of the moment, shape (features,).
    """
    whole = ~(np.isnan(then).any(axis=1) | np.isnan(came).any(axis=1))
    then, came = then[whole], came[whole]
    nothing = np.zeros(came.shape[1])
    if len(then) < LEAST_DAYS:
        return nothing, nothing
    # Not by a matrix product: one so thin is shared out to threads that wait for each other, thirty times as long where
    # all cores are busy, and its last digits then hang on their number.
    square, product = np.einsum("ij,ik->jk", then, then), np.einsum("ij,ik->jk", then, came)
    slopes = np.linalg.solve(square + _RIDGE * len(then) * np.eye(len(square)), product)
    total = np.einsum("ij,ij->j", came, came)
    # Σ(x − Aβ)² = Σx² − 2β·Aᵀx + β·AᵀAβ
    left = total - 2 * (slopes * product).sum(axis=0) + (slopes * (square @ slopes)).sum(axis=0)
    share = 1 - left / np.maximum(total, 1e-12)
    share = _smoothed(share)
    independent = max(len(then) / DAYS_PER_INDEPENDENT, 1.0)
    by_chance = min(then.shape[1] / independent, 1.0)
    sound = np.clip((share - by_chance) / (1 - by_chance), 0.0, 1.0) if by_chance < 1 else nothing
    shrink = np.divide(sound, share, out=np.zeros_like(share), where=share > 0)
    return now @ slopes * shrink, sound


def _smoothed(share: Floats) -> Floats:
    """Running means over half as many neighbours as hours ahead: further ahead, less changes from hour to hour."""
    sums = np.append(0.0, np.cumsum(share))
    at = np.arange(len(share))
    reach = np.minimum(at // 4, len(share) - 1 - at)
    means: Floats = (sums[at + reach + 1] - sums[at - reach]) / (2 * reach + 1)
    return means
