"""Wind at one height from wind at another, over turf, and the resistance of air to heat and vapour.

From 0.5 m up: Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, chapter 3, eq. 47:
u2 = uz · 4.87 / ln(67.8 z − 5.42), where 4.87 is ln(67.8 · 2 − 5.42) rounded. It holds for a mean wind over cropped
grass 0.12 m tall in neutral air; on calm clear nights the true profile is steeper, so that a wind brought up from low
down comes out too slow. Near the ground, and for turf of other heights, the profile is written out with the lengths
that FAO-56 gives beside its eq. 4.
"""

from __future__ import annotations

import math

import numpy as np

from forecast.panel import Floats

_PER_M = 67.8  # FAO-56 eq. 47
_LESS = 5.42  # FAO-56 eq. 47
VON_KARMAN = 0.41  # FAO-56 eq. 4
_DISPLACEMENT_SHARE = 2 / 3  # of canopy height; FAO-56 beside eq. 4
_ROUGHNESS_SHARE = 0.123  # of canopy height, for momentum; FAO-56 beside eq. 4
_HEAT_ROUGHNESS_SHARE = 0.1  # of the roughness for momentum, for heat and vapour; FAO-56 beside eq. 4
LEAST_WIND_2M_M_S = 0.5  # FAO-56, chapter 3: below it the air's own buoyancy keeps exchange up (read second-hand)
REFERENCE_HEIGHT_M = 0.12  # the grass of FAO-56


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


def aerodynamic_resistance_s_m(wind_speed_2m_m_s: Floats, canopy_height_m: Floats | float) -> Floats:
    """Resistance of neutral air between a canopy and 2 m to heat and vapour, s/m (FAO-56 eq. 4).

    Args:
        wind_speed_2m_m_s: wind at 2 m; taken as :data:`LEAST_WIND_2M_M_S` where it is less; NaN gives NaN.
        canopy_height_m: height of the stand, above 0 and below 2 m; any shape that goes with the wind's.
    """
    displacement_m = _DISPLACEMENT_SHARE * canopy_height_m
    roughness_m = _ROUGHNESS_SHARE * canopy_height_m
    above_m = 2 - displacement_m
    momentum = np.log(above_m / roughness_m)
    heat = np.log(above_m / (_HEAT_ROUGHNESS_SHARE * roughness_m))
    resistance: Floats = momentum * heat / (VON_KARMAN**2 * np.maximum(wind_speed_2m_m_s, LEAST_WIND_2M_M_S))
    return resistance


def wind_speed_near_ground_m_s(
    wind_speed_10m_m_s: Floats, height_m: float, canopy_height_m: float = REFERENCE_HEIGHT_M
) -> Floats:
    """Wind at a height close above turf, m/s, from that at 10 m, by the logarithmic profile in neutral air.

    Args:
        wind_speed_10m_m_s: any shape; NaN gives NaN.
        height_m: above the ground; for heights below 2 m, where :func:`wind_speed_at_m_s` is not meant to reach.
        canopy_height_m: height of the turf.

    Raises:
        ValueError: a height at which the profile has no wind above zero.
    """
    displacement_m = _DISPLACEMENT_SHARE * canopy_height_m
    roughness_m = _ROUGHNESS_SHARE * canopy_height_m
    if not height_m > displacement_m + roughness_m:
        raise ValueError(f"{height_m} m lies below the reach of the wind profile over turf {canopy_height_m} m tall")
    share = math.log((height_m - displacement_m) / roughness_m) / math.log((10 - displacement_m) / roughness_m)
    return wind_speed_10m_m_s * share
