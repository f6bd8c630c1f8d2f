"""Cases for the scores: arrays of one length, checked, and only those in which everything is known."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats

_HAIR = 1e-9  # a chance made by sums and products may leave 0..1 by a rounding


def known(*columns: NDArray[Any]) -> tuple[NDArray[Any], ...]:
    """The cases of which no column is NaN, each column in its own type.

    Args:
        columns: one figure a case, shape (cases,).

    Raises:
        ValueError: columns of other shapes than (cases,), or of different length.
    """
    if any(column.shape != (len(columns[0]),) for column in columns):
        raise ValueError(f"one figure a case is needed in every array, not shapes {[each.shape for each in columns]}")
    whole = ~np.any([np.isnan(column) for column in columns], axis=0)
    return tuple(column[whole] for column in columns)


def chances(values: NDArray[Any]) -> Floats:
    """The same as floats, none below 0 or above 1; NaN stays.

    Raises:
        ValueError: a value outside 0 to 1, as where chances are given in percent.
    """
    found = np.asarray(values, np.float64)
    if np.any((found < -_HAIR) | (found > 1 + _HAIR)):
        raise ValueError("a chance runs from 0 to 1: divide percent by 100")
    return np.clip(found, 0.0, 1.0)


def outcomes(values: NDArray[Any]) -> Floats:
    """The same as floats, each 0, 1 or NaN.

    Raises:
        ValueError: any other value.
    """
    found = np.asarray(values, np.float64)
    if np.any(~np.isin(found, (0.0, 1.0)) & ~np.isnan(found)):
        raise ValueError("what happened is 1 for an event, 0 for none and NaN for unknown")
    return found


def over(above: float, below: float) -> float:
    """A quotient; NaN where nothing stands below the line."""
    return float(above / below) if below != 0 else float("nan")
