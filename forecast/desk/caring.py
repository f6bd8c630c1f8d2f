"""Care of an area on a morning: its soil water, what its irrigation does to wet hours, and the advice that follows."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from typing import Literal

import numpy as np

from forecast import care
from forecast.canopy import at_turf
from forecast.clock import date_of
from forecast.daily import DAY_HOURS, Days, last_stamp, reduce_days
from forecast.panel import Floats
from forecast.physics.evapotranspiration import et0_hargreaves_mm, et0_of_hours_mm
from forecast.stand import Stand, StandHours
from forecast.turf import Area, Irrigation
from forecast.wetness import METHODS

MIDNIGHT = 24
BALANCE_DAYS = 400  # house choice: by then, where it rains at all, the balance has forgotten how it began
LATELY_DAYS = 7  # wet hours of so many days are compared
RUN_IN_DAYS = 4  # for the film of water to forget how it began
KNOWN_ENOUGH = 0.9  # house choice: of the hours compared
EARLY = time(4)
NOON = time(12)
TELLS_OF_WATERING = "energy_balance"  # the one method in which irrigation has a place to act


@dataclass(frozen=True, eq=False)
class DayWater:
    """What a stand's soil water is reckoned from, of whole days up to yesterday; arrays of shape (days,).

    Attributes:
        days: day numbers.
        et0_mm: reference evapotranspiration in the open; NaN is unknown.
        from_temperature: whether yesterday's was told from temperature alone.
        rain_mm: NaN where not all hours are known.
        rain_least_mm: the known hours' sum.
        wet_hours: wet hours a day lately, with the irrigation as it is set; None where unknown or not watered.
        wet_hours_at_04: the same with the same water at 04:00.
    """

    days: Days
    et0_mm: Floats
    from_temperature: bool
    rain_mm: Floats
    rain_least_mm: Floats
    wet_hours: float | None
    wet_hours_at_04: float | None


Unknown = Literal["late", "short"]


def day_water(found: StandHours, stand: Stand, today: int, offset_minutes: int) -> DayWater | Unknown:
    """Daily water of a stand; or why there is none: the record is short of a week, or its readings come too late.

    Args:
        found: the stand's hours.
        stand: which.
        today: day number of the date asked about.
        offset_minutes: standard time minus UTC.
    """
    end = last_stamp(today - 1, offset_minutes, MIDNIGHT)
    whole_days = int((end - found.panel.hours[0]) / np.timedelta64(1, "h") + 1) // DAY_HOURS
    if whole_days < care.WEEK_DAYS:
        return "short"
    if found.panel.hours[-1] < end:
        return "late"
    kept_hours = min(whole_days, BALANCE_DAYS) * DAY_HOURS
    panel = found.panel.between(end - np.timedelta64(kept_hours - 1, "h"), end)
    unknown = np.full(panel.values["air_temperature_c"].shape, np.nan)
    temperature = panel.values["air_temperature_c"]
    rain = panel.values.get("rain_mm", unknown)
    hourly = et0_of_hours_mm(
        panel.hours,
        stand.where.latitude_deg,
        stand.where.longitude_deg,
        stand.where.elevation_m,
        air_temperature_c=temperature,
        dew_point_c=panel.values["dew_point_c"],
        wind_speed_10m_m_s=panel.values.get("wind_speed_10m_m_s", unknown),
        shortwave_down_w_m2=panel.values.get("shortwave_down_w_m2", unknown),
        cloud_cover_fraction=panel.values.get("cloud_cover_fraction", unknown),
    )

    def by_day(values: Floats, reduction: str) -> Floats:
        table = reduce_days(
            panel.hours, values, reduction, standard_offset_minutes=offset_minutes, day_end_hour=MIDNIGHT
        )
        column: Floats = table.values[:, 0]
        return column

    days = np.arange(today - kept_hours // DAY_HOURS, today)
    day_of_year = np.array([float(date_of(int(day)).timetuple().tm_yday) for day in days])
    from_hours = DAY_HOURS * by_day(hourly, "mean")
    from_temperature = et0_hargreaves_mm(
        day_of_year, stand.where.latitude_deg, by_day(temperature, "max"), by_day(temperature, "min")
    )
    return DayWater(
        days,
        np.where(np.isnan(from_hours), from_temperature, from_hours),
        bool(np.isnan(from_hours[-1])),
        by_day(rain, "sum"),
        by_day(np.nan_to_num(rain, nan=0.0), "sum"),
        *_wet_hours(found, stand, end),
    )


def _wet_hours(found: StandHours, stand: Stand, end: np.datetime64) -> tuple[float | None, float | None]:
    """Wet hours a day of the last days as watered, and with the same water early in the morning."""
    watered = stand.setting.irrigation
    if watered is None or found.wet.method.key != TELLS_OF_WATERING:
        return None, None
    hours = (LATELY_DAYS + RUN_IN_DAYS) * DAY_HOURS
    panel = found.panel.between(end - np.timedelta64(hours - 1, "h"), end)
    early = replace(stand.setting, irrigation=replace(watered, start=EARLY))
    told = []
    for setting in (stand.setting, early):
        fraction = METHODS[TELLS_OF_WATERING].kernel(at_turf(panel, (setting,), stand.where, stand.zone))
        lately = fraction[-LATELY_DAYS * DAY_HOURS :, 0]
        known = lately[~np.isnan(lately)]
        enough = len(known) >= KNOWN_ENOUGH * LATELY_DAYS * DAY_HOURS
        told.append(float(DAY_HOURS * known.mean()) if enough else None)
    return told[0], told[1]


def care_of(
    area: Area,
    water: DayWater | Unknown,
    *,
    now: datetime,
    southern: bool,
    diseases_up: Collection[str],
    knows_setting: bool,
    us: bool,
) -> tuple[care.Advice, ...]:
    """The advice for an area.

    Args:
        area: with its grass, setting and ground.
        water: of its stand, or why there is none.
        now: clock time of the site.
        southern: whether it lies south of the equator.
        diseases_up: diseases in their season whose models pass now.
        knows_setting: whether shade, watering and cut act on the stand's wet hours.
        us: inches and pounds, else millimetres and kilograms.
    """
    facts = care.CareFacts(
        growing=care.is_growing(area.grass, now.month, southern=southern),
        diseases_up=frozenset(diseases_up),
        given_today_mm=_given_today_mm(area.setting.irrigation, now),
        due=_due(area.setting.irrigation, now),
        wet_hours_know_setting=knows_setting,
    )
    if isinstance(water, str):
        facts = replace(facts, water_unknown=water)
    else:
        light = care.day_light_fraction(area.setting, southern=southern)
        balance = care.water_balance(
            care.shaded_et0_mm(water.et0_mm, light),
            water.rain_mm,
            care.watered_mm(water.days, area.setting.irrigation),
            care.root_zone(area.grass, area.ground),
            rain_least_mm=water.rain_least_mm,
        )
        facts = replace(
            facts,
            water=care.water_now(balance),
            et0_from_temperature=water.from_temperature,
            wet_hours_as_set=water.wet_hours,
            wet_hours_at_04=water.wet_hours_at_04,
        )
    return care.care(area, facts, us=us)


def _given_today_mm(watered: Irrigation | None, now: datetime) -> float:
    """Water that the schedule has put on since midnight."""
    if watered is None or now.weekday() not in watered.days or watered.start > now.time():
        return 0.0
    return watered.depth_mm


def _due(watered: Irrigation | None, now: datetime) -> str:
    """When the schedule next runs, in words, where that is today or tomorrow before noon; empty where not."""
    if watered is None:
        return ""
    if now.weekday() in watered.days and watered.start > now.time():
        return f"today {watered.start:%H:%M}"
    if (now + timedelta(days=1)).weekday() in watered.days and watered.start < NOON:
        return f"tomorrow {watered.start:%H:%M}"
    return ""
