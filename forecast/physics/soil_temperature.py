"""Soil temperature under turf from air temperature: a slow part by a recursion, and the day's wave, damped and late.

The slow part is the recursion of Zheng, Hunt & Running 1993, Climate Research 2:183-191 (the abstract read; the form
read second-hand): each day the soil goes a quarter of the way to the day's mean of the air, a tenth under snow, and
less when it warms under leaves. Their regressions on stations' soil at 10 cm had standard errors of 1.5 to 2.9 °C, so a
date at which a threshold is crossed is to be printed with ±2 °C. It stands for 5 and 10 cm alike. The heat of freezing
is left out: it holds wet soil near 0 °C, so that soil told here to be below is colder than it is.

The day's wave is that of heat conducted into uniform soil: a sine at the surface is smaller at a depth z by exp(−z/d)
and later by z/d radians, d = √(2α/ω) (handbooks of soil physics; from memory). The surface under grass is taken to
swing as the air near 2 m does (house choice).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats

Bools = NDArray[np.bool_]

DAY_S = 86_400.0
DIFFUSIVITY_M2_S = 5e-7  # of moist loam; handbooks have 3e-7 dry to 9e-7 wet (from memory)
_DAY_HOURS = 24
RATE_PER_DAY = 0.25  # Zheng, Hunt & Running 1993 (read second-hand)
RATE_UNDER_SNOW_PER_DAY = 0.1  # the same
_LEAST_WARMING_SHARE = 0.5  # the same
_EXTINCTION = 0.5  # house choice: light in a stand of leaves at all angles; the paper's own figure was not seen
SNOW_LIES_FROM_MM = 10.0  # house choice: snow is told in whole centimetres or inches
# How far the slow part may be off because the air is not known. Measured at Greensboro, North Carolina (TMY3): over a
# year 95 % of starts at the day's mean of the air are within 6 °C, or 8 °C under leaves, and 90 % of hours are within
# 7 °C of the hour a day before. With these, 92 % of hours told after a start or a hole of any length are within 2 °C.
START_DOUBT_C = 8.0
DAY_DOUBT_C = 7.0
# Hours to read before the first that is wanted, so that figures do not hang on where the record begins: after 59 days
# 8 °C have shrunk to 8 · 0.9⁵⁹ = 0.02 °C under snow, and to nothing in the open.
LEAD_IN_HOURS = 60 * 24
CARRIED_DAYS = 3  # house choice: what the doubt of a day was measured for does not hold for weeks
KNOWN_TO_C = 2.0  # house choice, as much as the recursion itself is good to; a figure doubted by more is unknown


def damping_depth_m(period_s: float = DAY_S, diffusivity_m2_s: float = DIFFUSIVITY_M2_S) -> float:
    """Depth at which a wave of temperature has shrunk to 1/e, √(2α/ω), m."""
    return float(np.sqrt(diffusivity_m2_s * period_s / np.pi))


def damping_fraction(depth_m: float, period_s: float = DAY_S, diffusivity_m2_s: float = DIFFUSIVITY_M2_S) -> float:
    """Share of a wave's amplitude at the surface that is left at a depth, exp(−z/d)."""
    return float(np.exp(-depth_m / damping_depth_m(period_s, diffusivity_m2_s)))


def lag_hours(depth_m: float, period_s: float = DAY_S, diffusivity_m2_s: float = DIFFUSIVITY_M2_S) -> float:
    """How much later than at the surface a wave comes at a depth, z/(d ω), hours."""
    radians = depth_m / damping_depth_m(period_s, diffusivity_m2_s)
    return float(radians * period_s / (2 * np.pi) / 3600)


def soil_temperature_c(
    air_temperature_c: Floats,
    depth_m: float,
    leaf_area_index: Floats | float = 0.0,
    snow_depth_mm: Floats | None = None,
) -> Floats:
    """Soil temperature of every hour at a depth, °C.

    The recursion is stepped for each hour from the same hour of the day before, with the mean of the 24 hours that end
    there: at whatever hour days are taken to end, its figures there are those of the daily recursion. Under lying snow
    there is no wave of the day.

    An unknown hour is taken to be as the same hour of the day before, or of up to three days before. What that may
    cost is counted along, in °C, and fades at the rate at which the soil follows the air; a figure doubted by more than
    2 °C is unknown. So a hole of a day is bridged; in a longer one figures are unknown from its 29th hour on, later
    where leaves or snow slow the soil, and until some days after its end. After more than three days, and at the start,
    the recursion begins anew: figures are unknown for a day and five more, up to fourteen where the soil is slowed.

    Args:
        air_temperature_c: near 2 m, unbroken hours, shape (hours, series[, members]) or (hours,); NaN is unknown.
        depth_m: 0.05 to 0.10 is what it is meant for.
        leaf_area_index: of leaves that shade the ground more than a station's grass does; a float, or an array that
            goes with one hour, such as (series,) or (series, 1). At 0 the year's mean is the air's; from 1.4 on soil
            warms at half the rate, and at Greensboro the year's mean falls 1.1 °C below the air's.
        snow_depth_mm: lying snow, shaped as the air; None or NaN is taken as no snow.

    Returns:
        Shaped as the air; NaN where unknown.

    Raises:
        ValueError: a depth below 0.
    """
    return soil_temperatures_c(air_temperature_c, (depth_m,), leaf_area_index, snow_depth_mm)[0]


def soil_temperatures_c(
    air_temperature_c: Floats,
    depths_m: Sequence[float],
    leaf_area_index: Floats | float = 0.0,
    snow_depth_mm: Floats | None = None,
) -> list[Floats]:
    """Soil temperature at several depths, which share their slow part; otherwise as :func:`soil_temperature_c`."""
    for depth_m in depths_m:
        if not depth_m >= 0:
            raise ValueError(f"a depth of {depth_m} m is none: give metres below the surface")
    shape = air_temperature_c.shape
    air = _by_day(air_temperature_c)
    missing_share = _over_24_hours(np.isnan(air).astype(np.float64)) / _DAY_HOURS
    snowy = np.zeros(air.shape, bool) if snow_depth_mm is None else _by_day(snow_depth_mm) >= SNOW_LIES_FROM_MM
    mean, waves = _trailing_day(_carried(air), depths_m)
    slow = _recursion(mean, missing_share, snowy, leaf_area_index)
    told = [slow + np.where(snowy, 0.0, wave) for wave in waves]
    return [one.reshape(-1, *shape[1:])[: shape[0]] for one in told]


def _by_day(values: Floats) -> Floats:
    """Hours in rows of 24, the last row filled up with NaN: the hour above in a column is that of the day before."""
    rows = -(-len(values) // _DAY_HOURS)
    filled = np.full((rows * _DAY_HOURS, *values.shape[1:]), np.nan)
    filled[: len(values)] = values
    return filled.reshape(rows, _DAY_HOURS, *values.shape[1:])


def _carried(air_c: Floats) -> Floats:
    """Air with each unknown hour taken from the same hour of the last day that has it, three days back at most."""
    days = np.arange(len(air_c)).reshape((-1,) + (1,) * (air_c.ndim - 1))
    last = np.maximum.accumulate(np.where(np.isnan(air_c), 0, days), axis=0)
    return np.where(days - last <= CARRIED_DAYS, np.take_along_axis(air_c, last, axis=0), np.nan)


def _trailing_day(air_c: Floats, depths_m: Sequence[float]) -> tuple[Floats, list[Floats]]:
    """Mean of the 24 hours up to each hour, and the day's wave at each depth then; NaN where any of them is.

    The wave is the first harmonic of those 24 hours, told at the hour less the lag.
    """
    unknown = np.isnan(air_c)
    air = np.where(unknown, 0.0, air_c)
    whole = _over_24_hours(unknown.astype(np.float64)) == 0
    whole.reshape(-1, *air.shape[2:])[: _DAY_HOURS - 1] = False
    angle = (2 * np.pi / _DAY_HOURS * np.arange(_DAY_HOURS)).reshape((-1,) + (1,) * (air.ndim - 2))
    harmonics = [(turn, _over_24_hours(air * turn(angle))) for turn in (np.cos, np.sin)]
    waves = []
    for depth_m in depths_m:
        behind = angle - 2 * np.pi / _DAY_HOURS * lag_hours(depth_m)
        amplitude = 2 / _DAY_HOURS * damping_fraction(depth_m)
        waves.append(amplitude * sum(harmonic * turn(behind) for turn, harmonic in harmonics))
    return np.where(whole, _over_24_hours(air) / _DAY_HOURS, np.nan), waves


def _over_24_hours(by_day: Floats) -> Floats:
    """Sum over each hour and the 23 before it, or as many as there are; hours in rows of 24."""
    today = np.cumsum(by_day, axis=1)
    today[1:] += today[:-1, -1:] - today[:-1]
    return today


def _recursion(mean: Floats, missing_share: Floats, snowy: Bools, leaf_area_index: Floats | float) -> Floats:
    """The slow part, stepped over days, all 24 hours of the day side by side; NaN where it is doubted too much.

    Where the mean is unknown the soil is too, and starts anew with the next mean.
    """
    warming = np.maximum(_LEAST_WARMING_SHARE, np.exp(-_EXTINCTION * np.asarray(leaf_area_index)))
    rate = np.where(snowy, RATE_UNDER_SNOW_PER_DAY, RATE_PER_DAY)
    doubt_of_air = DAY_DOUBT_C * missing_share
    told = np.full_like(mean, np.nan)
    slow, doubt = np.full(mean.shape[1:], np.nan), np.full(mean.shape[1:], START_DOUBT_C)
    for day, air in enumerate(mean):
        change = air - slow
        step = rate[day] * np.where(change > 0, warming, 1.0)
        started = ~np.isnan(slow)
        slow = np.where(started, slow + step * change, air)
        doubt = np.where(started, doubt + step * (doubt_of_air[day] - doubt), START_DOUBT_C)
        told[day] = np.where(doubt <= KNOWN_TO_C, slow, np.nan)
    return told
