"""How much of the sun's light reaches turf, hour by hour, from where the sun stands and where the shade does."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats
from forecast.turf import SIDES, Setting

# House choices, both. A named side is the middle of three eighths of the horizon: a row of trees seen from turf that
# lies two and a half times closer to it than it reaches to either hand (arctan 2.4 = 67.4°).
SHADE_REACHES_DEG = 67.5  # to either hand of a named side
SHADE_BELOW_DEG = 55.0  # a sun that stands higher shines over what stands at a side

_BETWEEN_SIDES_DEG = 360 / len(SIDES)


def behind_sides(azimuth_deg: Floats, elevation_deg: Floats, sides: Sequence[str]) -> NDArray[np.bool_]:
    """Where the sun stands behind what stands at some sides.

    Args:
        azimuth_deg: of the sun, from north through east; any shape.
        elevation_deg: of the sun, same shape.
        sides: of :data:`forecast.turf.SIDES`.

    Returns:
        Shaped as the sun; True where it stands within 67.5° of a side and below 55°, also by night.

    Raises:
        ValueError: no such side.
    """
    behind = np.zeros(np.shape(azimuth_deg), dtype=bool)
    for side in sides:
        towards_deg = SIDES.index(side) * _BETWEEN_SIDES_DEG
        off_deg = np.abs((azimuth_deg - towards_deg + 180) % 360 - 180)
        behind |= off_deg <= SHADE_REACHES_DEG
    return behind & (elevation_deg < SHADE_BELOW_DEG)


def light_share(azimuth_deg: Floats, elevation_deg: Floats, settings: Sequence[Setting]) -> Floats:
    """Share of the sun's light that reaches the turf of each setting in each hour.

    Light straight from the sun and light of the sky are not told apart: what a setting lets through holds for both.

    Args:
        azimuth_deg: of the sun at the middle of each hour, from north through east, shape (hours,).
        elevation_deg: of the sun, same shape.
        settings: one a series.

    Returns:
        Shape (hours, series). Where shade stands at sides, it takes light while the sun stands behind them; where it
        stands all round and overhead, always.
    """
    share = np.ones((len(azimuth_deg), len(settings)))
    for series, setting in enumerate(settings):
        if not setting.shaded_from:
            share[:, series] = setting.light_let_through_fraction
        elif setting.light_let_through_fraction < 1:
            shaded = behind_sides(azimuth_deg, elevation_deg, setting.shaded_from)
            share[shaded, series] = setting.light_let_through_fraction
    return share
