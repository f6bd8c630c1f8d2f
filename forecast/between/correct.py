"""A silent station told by others, each moved by its usual difference from it at the same hour of the day."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecast.between.field import Field
from forecast.between.ground import MOST_STATIONS, POWER, Ground
from forecast.between.rules import Rule, Spread, Way
from forecast.panel import Floats
from forecast.quantities import Origin

BIAS_DAYS = 15  # house choice; a mean of 30 days in common was hardly better than one of 15
# House choice, so that a correction reaches ten days past the last hour that both stations have. Measured on New York's
# airports, 2013 (``tests/benchmark_gaps.py``): a day told 1, 5 or 10 days after the last n days in common had mean
# absolute errors of 1.30 K and 7.4 % humidity with none, 1.24 to 1.37 K and 7.4 to 7.9 % with three, 1.21 to 1.27 K and
# 7.0 to 7.3 % with five, 1.14 to 1.17 K and 6.7 % with fifteen: below five it may do harm.
BIAS_LEAST_DAYS = 5
_DRIEST_HPA = 0.01  # house choice: a corrected vapour pressure stays above nothing


def corrected_hours(ground: Ground, own: Field, have: NDArray[np.bool_], spread: Spread) -> Field:
    """Every station's hours, the silent ones told by up to five others, each moved by its usual difference from it."""
    told = own.copy()
    for station in np.flatnonzero(have & np.isnan(own.values).any(axis=1)).tolist():
        silent = np.isnan(own.values[station])
        order = [s for s in ground.order(ground.among, station, have, spread) if s != station]
        total, weights = np.zeros(len(silent)), np.zeros(len(silent))
        for other in order[:MOST_STATIONS]:
            difference = same_hour_mean(own.values[station] - own.values[other])
            values = own.values[other] + difference
            known = silent & ~np.isnan(values)
            weight = max(float(ground.among.effective_km[station, other]), 1e-3) ** -POWER
            first = known & (weights == 0)
            told.lead[station][first] = other
            told.flags[station][first] = own.flags[other][first]
            told.origin[station][first] = Origin.NEIGHBOUR
            told.behind[station] |= np.where(known, own.behind[other], np.uint64(0))
            total += np.where(known, weight * values, 0.0)
            weights += np.where(known, weight, 0.0)
            for mine, given in ((told.flags, own.flags), (told.origin, own.origin)):
                np.maximum(mine[station], given[other], out=mine[station], where=known)
        filled = weights > 0
        told.values[station][filled] = total[filled] / weights[filled]
        told.way[station][filled] = Way.CORRECTED
        if spread.rule is Rule.HUMIDITY:
            told.values[station][filled] = np.maximum(told.values[station][filled], _DRIEST_HPA)
    return told


def same_hour_mean(values: Floats, days: int = BIAS_DAYS, least_days: int = BIAS_LEAST_DAYS) -> Floats:
    """Mean of what is known at the same hour of the day within ``days`` days on each side, hour by hour.

    Args:
        values: unbroken hours, shape (hours,), NaN where unknown.
        days: how many days on each side.
        least_days: with fewer known the mean is NaN.
    """
    whole_days = -(-len(values) // 24)
    padded = np.full(whole_days * 24, np.nan)
    padded[: len(values)] = values
    by_day = padded.reshape(whole_days, 24)
    known = ~np.isnan(by_day)
    zero = np.zeros((1, 24))
    sums = np.concatenate((zero, np.cumsum(np.where(known, by_day, 0.0), axis=0)))
    counts = np.concatenate((zero, np.cumsum(known, axis=0)))
    day = np.arange(whole_days)
    first, beyond = np.maximum(day - days, 0), np.minimum(day + days + 1, whole_days)
    count = counts[beyond] - counts[first]
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = (sums[beyond] - sums[first]) / count
    return np.where(count >= least_days, mean, np.nan).reshape(-1)[: len(values)]
