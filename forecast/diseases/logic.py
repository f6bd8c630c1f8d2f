"""Yes, no and unknown as 1, 0 and NaN: a rule of several conditions says what is known whatever the unknown was."""

from __future__ import annotations

import numpy as np

from forecast.panel import Floats


def above(values: Floats, level: float) -> Floats:
    """1 where a value lies above a level, 0 where not, NaN where it is unknown."""
    return np.where(np.isnan(values), np.nan, values > level)


def reaches(values: Floats, level: float) -> Floats:
    """1 where a value lies at a level or above, 0 where not, NaN where it is unknown."""
    return np.where(np.isnan(values), np.nan, values >= level)


def all_of(*conditions: Floats) -> Floats:
    """1 where every condition is met, 0 where any is known not to be, NaN otherwise."""
    found = np.asarray(conditions[0], dtype=np.float64)
    for condition in conditions[1:]:
        found = np.where((found == 0) | (condition == 0), 0.0, found * condition)
    return found


def any_of(*conditions: Floats) -> Floats:
    """1 where any condition is known to be met, 0 where all are known not to be, NaN otherwise."""
    found = np.asarray(conditions[0], dtype=np.float64)
    for condition in conditions[1:]:
        found = np.where((found == 1) | (condition == 1), 1.0, found + condition)
    return found
