"""The form every leaf wetness method fills in, and what several of them share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.canopy import TurfHours
from forecast.canopy.turf_hours import HOURLY
from forecast.panel import Floats

WETTING_RAIN_MM = 0.25  # one tip of a 0.01 in gauge (0.254 mm), rounded down; house choice
HAIR = 1e-9  # readings come in tenths, whose differences miss a threshold by a binary hair


@dataclass(frozen=True, slots=True)
class WetnessMethod:
    """One way to tell wet hours from weather.

    Attributes:
        key: how settings and pages name it.
        name: in words.
        needs: the hourly fields of :class:`TurfHours` without which the method cannot tell an hour; rain is not
            among them: where no gauge told it, the air alone decides.
        kernel: hours at the turf → fraction of the hour wet, shaped as they are; NaN is unknown and never dry.
        source: where the rule and its numbers come from.

    Raises:
        ValueError: it needs what hours at the turf do not hold.
    """

    key: str
    name: str
    needs: tuple[str, ...]
    kernel: Callable[[TurfHours], Floats]
    source: str

    def __post_init__(self) -> None:
        unknown = set(self.needs) - set(HOURLY)
        if unknown:
            raise ValueError(f"{self.key}: hours at the turf hold no {', '.join(sorted(unknown))}")


def held(decided: Floats, holds: NDArray[np.bool_]) -> Floats:
    """Each hour that holds takes the hour before it, and so back to the last that does not; the rest stay.

    Args:
        decided: what each hour says by itself, NaN where it says nothing; time is axis 0.
        holds: where an hour stays as the one before it; the first has none and stays NaN.
    """
    hours = np.arange(len(decided)).reshape(-1, *[1] * (decided.ndim - 1))
    says = np.maximum.accumulate(np.where(holds, 0, hours), axis=0)
    return np.take_along_axis(decided, says, axis=0)
