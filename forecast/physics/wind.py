"""Wind at one height from wind at another, over short grass, by the logarithmic profile of FAO-56.

Source: Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, chapter 3, eq. 47:
u2 = uz · 4.87 / ln(67.8 z − 5.42), where 4.87 is ln(67.8 · 2 − 5.42) rounded. It holds for a mean wind over cropped
grass 0.12 m tall in neutral air; on calm clear nights the true profile is steeper, so that a wind brought up from low
down comes out too slow.
"""

from __future__ import annotations

import math

from forecast.panel import Floats

_PER_M = 67.8  # FAO-56 eq. 47
_LESS = 5.42  # FAO-56 eq. 47


def height_factor(from_m: float, to_m: float) -> float:
    """What a wind speed at one height is to be multiplied by to stand for another, heights in metres.

    Raises:
        ValueError: a height at which the profile has no wind above zero, some 0.1 m and below.
    """
    for height_m in (from_m, to_m):
        if not _PER_M * height_m - _LESS > 1:
            raise ValueError(f"{height_m} m lies below the reach of the wind profile")
    return math.log(_PER_M * to_m - _LESS) / math.log(_PER_M * from_m - _LESS)


def wind_speed_at_m_s(wind_speed_m_s: Floats, *, from_m: float, to_m: float) -> Floats:
    """Wind speed at ``to_m`` above short grass, m/s, from that at ``from_m``; any shape, NaN stays NaN.

    Raises:
        ValueError: a height at which the profile has no wind above zero.
    """
    return wind_speed_m_s * height_factor(from_m, to_m)
