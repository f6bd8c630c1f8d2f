"""Leaf wetness as sensors write it: a share, minutes of the record, or a bare figure that a threshold parts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecast.errors import Notice
from forecast.panel import Floats

WETNESS = "leaf_wet_fraction"
MINUTES = "min"  # minutes wet in the record; what share of it that is hangs on the record's length
RESISTANCE = "kOhm"  # falls as the leaf gets wet
RAW = ("counts", "mV", RESISTANCE)  # as the sensor gives it, whatever its scale
# House choice: the current of a dry sensor wanders a hair below 0, and figures for missing lie far below.
LEAST_OF_THRESHOLD = -0.05


@dataclass(frozen=True, slots=True)
class Threshold:
    """What parts wet from dry on a sensor's own scale; above 0.

    Attributes:
        figure: the threshold.
        wet_is_below: whether figures below it are wet; else those at or above it.
    """

    figure: float
    wet_is_below: bool

    def __str__(self) -> str:
        """As a mapping says it."""
        return f"{'wet_below' if self.wet_is_below else 'wet_from'} = {self.figure:g}"


def wet_or_dry(figures: Floats, threshold: Threshold) -> tuple[Floats, list[Notice]]:
    """Bare figures as 1, wet, and 0, dry.

    Args:
        figures: as the sensor gives them, NaN for no reading; shape (records,).
        threshold: what parts them.

    Returns:
        The shares, NaN where there is no reading or one far below 0; and what a reader should know of them.
    """
    impossible = figures < LEAST_OF_THRESHOLD * threshold.figure
    known = ~np.isnan(figures) & ~impossible
    is_wet = figures < threshold.figure if threshold.wet_is_below else figures >= threshold.figure
    shares = np.where(known, is_wet.astype(np.float64), np.nan)
    notices = []
    if impossible.any():
        text = f"{impossible.sum()} records of {WETNESS} lie far below 0 and count as missing"
        notices.append(Notice(f"{text}; if they stand for no reading, list them in the mapping", quantity=WETNESS))
    if known.any() and np.unique(shares[known]).size == 1:
        least, most = figures[known].min(), figures[known].max()
        what = "wet" if shares[known][0] else "dry"
        text = f"by {threshold} every record of {WETNESS} is {what}: its figures go from {least:g} to {most:g}"
        notices.append(Notice(f"{text}; is that the sensor's threshold?", quantity=WETNESS))
    return shares, notices
