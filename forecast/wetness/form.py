"""The form every leaf wetness method fills in, and the rain rule they share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from forecast.panel import Floats

WETTING_RAIN_MM = 0.25  # one tip of a 0.01 in gauge (0.254 mm), rounded down; house choice


@dataclass(frozen=True, slots=True)
class WetnessMethod:
    """One way to tell wet hours from weather.

    Attributes:
        key: how settings and pages name it.
        name: in words.
        kernel: (air_temperature_c, dew_point_c, relative_humidity_pct, rain_mm) → fraction of the hour wet;
            arrays of shape (hours, …); NaN is unknown and never counts as dry.
        source: where the rule and its numbers come from.
    """

    key: str
    name: str
    kernel: Callable[[Floats, Floats, Floats, Floats], Floats]
    source: str


def wetted_by_rain(wet: Floats, rain_mm: Floats) -> Floats:
    """Hours with rain are wet; where rain is unknown, humidity alone decides."""
    return np.where(rain_mm >= WETTING_RAIN_MM, 1.0, wet)
