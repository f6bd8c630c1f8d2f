"""The form every leaf wetness method fills in, and the rain that wets whatever the humidity."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

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
