"""Leaf wetness at the turf: one file a method, one form, chosen by key or by what is known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from forecast.canopy import TurfHours
from forecast.panel import Floats
from forecast.wetness.classification_tree import CLASSIFICATION_TREE
from forecast.wetness.dew_point_depression import DEW_POINT_DEPRESSION
from forecast.wetness.energy_balance import ENERGY_BALANCE
from forecast.wetness.extended_threshold import EXTENDED_THRESHOLD
from forecast.wetness.form import WetnessMethod
from forecast.wetness.humidity_threshold import HUMIDITY_THRESHOLD

METHODS = MappingProxyType(
    {
        method.key: method
        for method in (
            ENERGY_BALANCE,
            CLASSIFICATION_TREE,
            DEW_POINT_DEPRESSION,
            EXTENDED_THRESHOLD,
            HUMIDITY_THRESHOLD,
        )
    }
)

# Best first: each where what it needs is known. The energy balance alone takes in shade, watering and the height of
# cut, and an error in humidity moves it least; that it is nearer on turf is not proven. Of the methods without
# radiation, the classification tree and then dew-point depression had the smallest errors on turf (Lulu, Sentelhas &
# Pedro 2008, Sci. Agric. 65:10-17, read second-hand: 1.68, 2.33 and, for humidity of 90 %, 2.86 h/day).
BEST_FIRST: tuple[WetnessMethod, ...] = (ENERGY_BALANCE, CLASSIFICATION_TREE, DEW_POINT_DEPRESSION)

BEST_KNOWN = "best_known"  # what settings say for: the first of these that the weather suffices for
SUFFICES_FROM = 0.9  # house choice: a method tells a record where it can tell nine in ten of its hours

__all__ = ["BEST_FIRST", "BEST_KNOWN", "METHODS", "Wetness", "WetnessMethod", "wetness"]


@dataclass(frozen=True, eq=False)
class Wetness:
    """How wet the leaves were, by one method, with the others beside it.

    Attributes:
        method: the one that tells.
        fraction: share of the hour wet; where the method could not tell, the best one that can; NaN is unknown.
        stood_in: True where another method told the hour.
        by_method: every method's own answer, by key.
    """

    method: WetnessMethod
    fraction: Floats
    stood_in: NDArray[np.bool_]
    by_method: Mapping[str, Floats]

    def of(self, key: str) -> Floats:
        """The fraction that a disease model reads: by the method its paper used, or, for an empty key, ``fraction``."""
        return self.by_method[key] if key else self.fraction


def wetness(turf: TurfHours, key: str = BEST_KNOWN) -> Wetness:
    """Leaf wetness of hours at the turf by every method.

    Args:
        turf: hours of any shape.
        key: the method that tells, or :data:`BEST_KNOWN`.

    Raises:
        KeyError: no such method.
    """
    by_method = {one.key: one.kernel(turf) for one in METHODS.values()}
    method = best_known(turf, by_method) if key == BEST_KNOWN else METHODS[key]
    fraction = by_method[method.key]
    for other in BEST_FIRST:
        fraction = np.where(np.isnan(fraction), by_method[other.key], fraction)
    return Wetness(method, fraction, np.isnan(by_method[method.key]) & ~np.isnan(fraction), by_method)


def best_known(turf: TurfHours, by_method: Mapping[str, Floats]) -> WetnessMethod:
    """The first of the best methods that tells enough of the hours whose air is known; the last where none does.

    One method tells a whole record, so that years compare: hours that it cannot tell go to the next.

    Args:
        turf: hours of any shape.
        by_method: every method's own answer, by key.
    """
    air = turf.known(("air_temperature_c", "dew_point_c"))
    hours = int(air.sum())
    for method in BEST_FIRST:
        if hours and (~np.isnan(by_method[method.key]) & air).sum() >= SUFFICES_FROM * hours:
            return method
    return BEST_FIRST[-1]
