"""What care advice is given from, and the advice itself: plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from forecast.care.soil_water import WaterBalance
from forecast.turf import GRASSES

About = Literal["watering", "mowing", "nitrogen", "shade", "thatch", "compaction", "drainage"]

WEEK_DAYS = 7
DAYS_FOR_USUAL_USE = 4  # house choice: of the last seven; fewer say little of the week to come
_COOL_MONTHS = (3, 11)  # house choice: cool-season turf grows from March to November in the north
_WARM_MONTHS = (5, 9)  # house choice: warm-season turf has greened up and is not yet going dormant


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice.

    Attributes:
        about: what it concerns.
        text: what to do, the answer first.
        why: from which figures or setting it follows.
        source: where it comes from, or that it is common practice or a house choice.
    """

    about: About
    text: str
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class WaterNow:
    """The root zone as the last day ended, mm.

    Attributes:
        depletion_least_mm: the least that can be missing to field capacity.
        depletion_most_mm: the most that can be.
        raw_mm: readily available water at last week's use.
        taw_mm: total available water.
        use_mm_day: what turf that lacks nothing used a day over the last week; None where too few days are known.
        rain_week_mm: rain of the last seven days; None where one of them is not known whole.
        rain_week_least_mm: the least that fell on them.
        irrigation_week_mm: water that the schedule put on over them.
    """

    depletion_least_mm: float
    depletion_most_mm: float
    raw_mm: float
    taw_mm: float
    use_mm_day: float | None
    rain_week_mm: float | None
    rain_week_least_mm: float
    irrigation_week_mm: float


@dataclass(frozen=True, slots=True)
class CareFacts:
    """What is known of one area on one day.

    Attributes:
        growing: whether its grass grows in this month; see :func:`is_growing`.
        diseases_up: diseases in their season whose pressure passes now.
        water: its root zone; None where no balance can be kept, for the reason that ``water_unknown`` gives.
        water_unknown: ``no_gauge`` tells the rain; readings come too ``late`` to reach last midnight; the record is too
            ``short``, less than a week.
        given_today_mm: water that the schedule put on since last midnight.
        due: when the schedule next runs before tomorrow noon, in words; empty where it does not.
        et0_from_temperature: whether evapotranspiration was told from temperature alone.
        wet_hours_as_set: hours a day that leaves were wet lately, with the irrigation as it is set; None where unknown.
        wet_hours_at_04: the same with the same water at 04:00.
        wet_hours_know_setting: whether shade, watering and cut act on the wet hours of the page.
    """

    growing: bool
    diseases_up: frozenset[str] = frozenset()
    water: WaterNow | None = None
    water_unknown: Literal["no_gauge", "late", "short"] = "no_gauge"
    given_today_mm: float = 0.0
    due: str = ""
    et0_from_temperature: bool = False
    wet_hours_as_set: float | None = None
    wet_hours_at_04: float | None = None
    wet_hours_know_setting: bool = True


def is_growing(grass: str, month: int, *, southern: bool) -> bool:
    """Whether a grass grows in a month, by rough seasons (house choice); the southern half is six months off.

    Args:
        grass: a key of :data:`forecast.turf.GRASSES`.
        month: 1 to 12.
        southern: whether the place lies south of the equator.
    """
    first, last = _COOL_MONTHS if GRASSES[grass].cool_season else _WARM_MONTHS
    northern = (month + 5) % 12 + 1 if southern else month
    return first <= northern <= last


def water_now(balance: WaterBalance, series: int | None = None) -> WaterNow | None:
    """A balance as it stands at its last day; None where it knows of no rain at all.

    Args:
        balance: of a week or more.
        series: which series; None for a balance of shape (days,).

    Raises:
        ValueError: a balance of less than a week.
    """
    at = (slice(None),) if series is None else (slice(None), series)
    if len(balance.rain_mm) < WEEK_DAYS:
        raise ValueError(f"a balance of {len(balance.rain_mm)} days; it takes {WEEK_DAYS} to speak of a week")
    if np.isnan(balance.rain_mm[at]).all():
        return None
    rain_mm, use_mm = balance.rain_mm[at][-WEEK_DAYS:], balance.crop_et_mm[at][-WEEK_DAYS:]
    known_use_mm = use_mm[~np.isnan(use_mm)]
    usual_mm = float(known_use_mm.mean()) if len(known_use_mm) >= DAYS_FOR_USUAL_USE else None
    taw_mm = np.broadcast_to(balance.zone.total_available_water_mm, balance.rain_mm.shape)[at]
    # At the table's own 5 mm a day the tabled share stands as it is.
    raw_mm = np.broadcast_to(
        balance.zone.readily_available_water_mm(5.0 if usual_mm is None else usual_mm), balance.rain_mm.shape
    )[at]
    return WaterNow(
        float(balance.depletion_least_mm[at][-1]),
        float(balance.depletion_most_mm[at][-1]),
        float(raw_mm[-1]),
        float(taw_mm[-1]),
        usual_mm,
        None if np.isnan(rain_mm).any() else float(rain_mm.sum()),
        float(balance.rain_least_mm[at][-WEEK_DAYS:].sum()),
        float(balance.irrigation_mm[at][-WEEK_DAYS:].sum()),
    )
