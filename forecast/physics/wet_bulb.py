"""Wet-bulb temperature, and how far below the air it lies: how fast a droplet dries."""

from __future__ import annotations

import numpy as np

from forecast.panel import Floats


def wet_bulb_c(air_temperature_c: Floats, relative_humidity_pct: Floats) -> Floats:
    """Wet-bulb temperature near sea level, °C.

    Good to about 0.3 °C (-1.0 to 0.65) from 5 to 99 % and -20 to 50 °C. Source: Stull 2011, *J. Appl. Meteorol.
    Climatol.* 50:2267-2269, eq. 1.

    Args:
        air_temperature_c: any shape; NaN where unknown.
        relative_humidity_pct: same shape.
    """
    t, rh = air_temperature_c, np.clip(relative_humidity_pct, 5.0, 99.0)
    found: Floats = (
        t * np.arctan(0.151977 * np.sqrt(rh + 8.313659))
        + np.arctan(t + rh)
        - np.arctan(rh - 1.676331)
        + 0.00391838 * rh**1.5 * np.arctan(0.023101 * rh)
        - 4.686035
    )
    return found


def delta_t_c(air_temperature_c: Floats, relative_humidity_pct: Floats) -> Floats:
    """Air temperature less wet-bulb temperature, °C, never below 0."""
    return np.maximum(air_temperature_c - wet_bulb_c(air_temperature_c, relative_humidity_pct), 0.0)
