"""Daily water balance of the root zone, carried as the least and the most that can be missing.

Source: FAO-56, chapter 8, equations 84 to 88. What cannot be known is bounded, never guessed: a day without rain or
evapotranspiration widens the bounds, a rain that surely fills the root zone closes them again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.care.soil import RootZone
from forecast.panel import Floats
from forecast.turf import Irrigation

KNOWN_WITHIN_MM = 1.0  # house choice: about a fifth of a summer day's use
MOST_ET0_MM_DAY = 12.0  # house choice for an unknown day; FAO-56 Table 2 has means of up to 9 mm (from memory)
_MONDAY_OF_DAY_0 = 3  # 1970-01-01 was a Thursday
_WEEK_DAYS = 7


@dataclass(frozen=True, eq=False)
class DayOfWater:
    """One day of a root zone; arrays of one shape, mm.

    Attributes:
        depletion_mm: missing to field capacity at the end of the day.
        used_mm: taken by turf and air.
        lost_mm: drained below the roots or run off; the two are not told apart.
    """

    depletion_mm: Floats
    used_mm: Floats
    lost_mm: Floats


@dataclass(frozen=True, eq=False)
class WaterBalance:
    """The root zone over days; arrays of shape (days,) or (days, series), mm; NaN is unknown.

    Attributes:
        depletion_least_mm: the least that can be missing to field capacity at the end of each day.
        depletion_most_mm: the most that can be.
        used_mm: taken by turf and air; NaN on days that are not known.
        lost_mm: drained or run off; NaN on days that are not known.
        crop_et_mm: what turf that lacks nothing would have used.
        rain_mm: as given.
        rain_least_mm: the least that fell: the rain where it is known, else its known part.
        irrigation_mm: as given.
        zone: the root zone.
    """

    depletion_least_mm: Floats
    depletion_most_mm: Floats
    used_mm: Floats
    lost_mm: Floats
    crop_et_mm: Floats
    rain_mm: Floats
    rain_least_mm: Floats
    irrigation_mm: Floats
    zone: RootZone

    @property
    def depletion_mm(self) -> Floats:
        """Missing to field capacity at the end of each day; NaN where the bounds lie further apart than 1 mm."""
        middle = (self.depletion_least_mm + self.depletion_most_mm) / 2
        known = self.depletion_most_mm - self.depletion_least_mm <= KNOWN_WITHIN_MM
        found: Floats = np.where(known, middle, np.nan)
        return found


def stress_coefficient(depletion_mm: Floats, taw_mm: Floats | float, raw_mm: Floats | float) -> Floats:
    """Share of its use that turf keeps up, Ks, 1 up to RAW and 0 at TAW (FAO-56 eq. 84); any shape."""
    share: Floats = np.clip((taw_mm - depletion_mm) / (taw_mm - np.asarray(raw_mm)), 0.0, 1.0)
    return share


def day_of_water(
    depletion_mm: Floats, water_mm: Floats, crop_et_mm: Floats, taw_mm: Floats | float, raw_mm: Floats | float
) -> DayOfWater:
    """One day on from a depletion, all in mm and of any one shape.

    The day's water comes first and its stress is told after it (FAO-56, Example 38, from memory); what is left over at
    the day's end is lost (eq. 88). No more is used than there is (eq. 86). More missing at the start never leaves less
    missing at the end, which is why two bounds can be carried by this one step.

    Args:
        depletion_mm: missing to field capacity at the start, 0 to ``taw_mm``.
        water_mm: rain and irrigation.
        crop_et_mm: evapotranspiration of turf that lacks nothing.
        taw_mm: total available water.
        raw_mm: readily available water, below ``taw_mm``.
    """
    after_water_mm = depletion_mm - water_mm
    share = stress_coefficient(np.maximum(after_water_mm, 0.0), taw_mm, raw_mm)
    used_mm = np.minimum(share * crop_et_mm, taw_mm - after_water_mm)
    end_mm = after_water_mm + used_mm
    return DayOfWater(np.maximum(end_mm, 0.0), used_mm, np.maximum(-end_mm, 0.0))


def water_balance(
    et0_mm: Floats,
    rain_mm: Floats,
    irrigation_mm: Floats,
    zone: RootZone,
    *,
    rain_least_mm: Floats | None = None,
    start_mm: tuple[float, float] | None = None,
) -> WaterBalance:
    """The root zone day by day.

    All rain and all irrigation count; what runs off is counted as lost, never as missing. ET0 below 0 counts as 0: dew
    on the leaves is no water in the soil (house choice).

    Args:
        et0_mm: reference evapotranspiration a day, shape (days,) or (days, series); NaN is unknown. In shade it is that
            of :func:`forecast.care.shade.shaded_et0_mm`.
        rain_mm: the same; NaN is unknown, never dry.
        irrigation_mm: the same; known.
        zone: the root zone; figures, or arrays of shape (series,).
        rain_least_mm: the least that fell on days whose rain is not known whole; None for nothing.
        start_mm: least and most missing before the first day; None for anything from none to all.

    Raises:
        ValueError: shapes that differ, or irrigation that is not known.
    """
    if not et0_mm.shape == rain_mm.shape == irrigation_mm.shape:
        raise ValueError(f"shapes differ: {et0_mm.shape} ET0, {rain_mm.shape} rain, {irrigation_mm.shape} irrigation")
    if np.isnan(irrigation_mm).any():
        raise ValueError("irrigation has to be known; give 0 where none was put on")
    et0_mm = np.maximum(et0_mm, 0.0)  # NaN stays NaN
    no_et0, no_rain = np.isnan(et0_mm), np.isnan(rain_mm)
    part_mm = np.zeros_like(rain_mm) if rain_least_mm is None else np.nan_to_num(rain_least_mm, nan=0.0)
    least_rain_mm: Floats = np.where(no_rain, part_mm, rain_mm)
    most_rain_mm = np.where(no_rain, np.inf, rain_mm)
    taw_mm = zone.total_available_water_mm
    least, most = (np.broadcast_to(end, et0_mm.shape[1:]) for end in ((0.0, taw_mm) if start_mm is None else start_mm))
    bounds = (
        _days(least, most_rain_mm + irrigation_mm, zone.crop_et_mm(np.where(no_et0, 0.0, et0_mm)), zone),
        _days(most, least_rain_mm + irrigation_mm, zone.crop_et_mm(np.where(no_et0, MOST_ET0_MM_DAY, et0_mm)), zone),
    )
    apart_mm = bounds[1].depletion_mm - bounds[0].depletion_mm
    # Bounds that began a known day close together end it no further apart.
    known = ~(no_et0 | no_rain) & _known_before(apart_mm, most - least)
    return WaterBalance(
        bounds[0].depletion_mm,
        bounds[1].depletion_mm,
        _middle(bounds[0].used_mm, bounds[1].used_mm, known),
        _middle(bounds[0].lost_mm, bounds[1].lost_mm, known),
        zone.crop_et_mm(et0_mm),
        rain_mm,
        least_rain_mm,
        irrigation_mm,
        zone,
    )


def _days(start_mm: Floats, water_mm: Floats, crop_et_mm: Floats, zone: RootZone) -> DayOfWater:
    """All days from a start on, shape (days, ...)."""
    raw_mm = zone.readily_available_water_mm(crop_et_mm)
    found = DayOfWater(*(np.empty_like(crop_et_mm) for _ in range(3)))
    depletion_mm = start_mm
    for day in range(len(crop_et_mm)):
        one = day_of_water(depletion_mm, water_mm[day], crop_et_mm[day], zone.total_available_water_mm, raw_mm[day])
        depletion_mm = one.depletion_mm
        found.depletion_mm[day], found.used_mm[day], found.lost_mm[day] = one.depletion_mm, one.used_mm, one.lost_mm
    return found


def _known_before(apart_mm: Floats, start_apart_mm: Floats) -> NDArray[np.bool_]:
    """Whether the depletion was known when each day began."""
    before = np.concatenate([np.broadcast_to(start_apart_mm, (1, *apart_mm.shape[1:])), apart_mm])[: len(apart_mm)]
    return before <= KNOWN_WITHIN_MM


def _middle(least: Floats, most: Floats, known: NDArray[np.bool_]) -> Floats:
    found: Floats = np.full_like(most, np.nan)
    found[known] = (least[known] + most[known]) / 2
    return found


def watered_mm(days: NDArray[np.int64], irrigation: Irrigation | None) -> Floats:
    """Water put on by a schedule, mm a day, shape (days,).

    Every day of the schedule counts, rain or not: whether a controller held it back is not known here. All of it is
    taken to reach the turf.

    Args:
        days: day numbers since 1970-01-01.
        irrigation: the schedule; None for none.
    """
    if irrigation is None:
        return np.zeros(len(days))
    weekdays = (days + _MONDAY_OF_DAY_0) % _WEEK_DAYS
    return np.where(np.isin(weekdays, irrigation.days), irrigation.depth_mm, 0.0)
