"""Watering advice: whether turf is short of water, how much would refill its roots, and at what hour to give it.

Water belongs into the dew, where it lengthens wetness least. Reckoned over May to October at one station with an energy
balance, 6 mm a day lengthened it by 3.5 h given at 04:00, by 2.2 h at 09:00 and by 9.7 h at 17:00 (own reckoning, no
published figure).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from typing import Literal

from forecast.care.facts import Advice, CareFacts, WaterNow
from forecast.care.soil import rooting_depth_of, texture_of
from forecast.care.soil_water import KNOWN_WITHIN_MM
from forecast.care.words import days_words, depth_words, hours_words, span_words
from forecast.turf import Area
from forecast.units import MM_PER_IN

WEEK_LEAST_MM, WEEK_MOST_MM = 1.0 * MM_PER_IN, 1.5 * MM_PER_IN  # common practice, no source: 1 to 1.5 in a week
LENGTHENS_FROM_H = 1.0  # house choice: a wrong humidity moves reckoned wet hours by about as much
EVENING_FROM = time(15)  # house choice: from then on water runs into a wet night, see the head of this file
DAILY_FROM_DAYS = 6  # house choice: a schedule that leaves out one day a week is still a daily one
DEEP_FROM_DAYS = 2.0  # house choice: roots that hold two days' use need no daily water

DUE_DOES_FROM_SHARE = 0.8  # house choice: of the refill; the account is not good to more
_UNKNOWN = {
    "no_gauge": (
        "No watering advice: the rain here is not known.",
        "No gauge tells what fell, so what the roots have left cannot be reckoned.",
    ),
    "late": (
        "No watering advice yet: the readings do not reach last midnight.",
        "The account ends with whole days.",
    ),
    "short": (
        "No watering advice: less than a week of weather is known.",
        "What the roots have left cannot be reckoned from so little.",
    ),
}

_BALANCE = "FAO-56, chapter 8; 1 to 1.5 in of water a week, rain counted, is common practice, no source"
_HOUR = (
    "Fidanza & Dernoeden 1996, Crop Sci. 36:1620-1630 (abstract): evening water had more brown patch than morning "
    "water on ryegrass; wet hours are reckoned"
)
_DEEP = (
    "common practice, no source; Settle, Fry & Tisserat 2001, Plant Dis. 85:543-546 (abstract); McDonald 2005, "
    "Maryland thesis (abstract)"
)
_GO = "in one go, in two where it runs off"

State = Literal["short", "soon", "enough", "unsure"]


def watering(area: Area, facts: CareFacts, *, us: bool) -> tuple[Advice, ...]:
    """Watering advice for a morning; none where the grass does not grow in this month.

    Args:
        area: the area.
        facts: what is known of it today.
        us: inches, else millimetres.
    """
    if not facts.growing:
        return ()
    told = (_need(area, facts, us=us), _hour(area, facts), _daily(area, facts))
    return tuple(one for one in told if one is not None)


def state_of(water: WaterNow) -> State:
    """Short from RAW on; soon where today's use will reach it; unsure where the bounds lie on both sides of it."""
    if water.depletion_least_mm >= water.raw_mm:
        return "short"
    if water.depletion_most_mm >= water.raw_mm:
        return "unsure"
    return "soon" if water.use_mm_day and water.depletion_most_mm + water.use_mm_day >= water.raw_mm else "enough"


def refill_mm(water: WaterNow) -> float:
    """Water that refills the root zone: all that is surely missing, never more, for the rest would drain.

    FAO-56, Example 38: an irrigation not above the depletion loses nothing below the roots. Soon short, today's use is
    added, since the water is given by tomorrow's dawn.
    """
    today_mm = water.use_mm_day if state_of(water) == "soon" and water.use_mm_day else 0.0
    return min(water.depletion_least_mm + today_mm, water.taw_mm)


def _need(area: Area, facts: CareFacts, *, us: bool) -> Advice:
    if facts.water is None:
        text, why = _UNKNOWN[facts.water_unknown]
        return Advice("watering", text, f"{why} Feel the soil before watering.", _BALANCE)
    water = _after_today(facts.water, facts.given_today_mm)
    reasons = [_standing(facts.water, us=us), *_days_left(water), _week(facts.water, us=us)]
    if facts.given_today_mm:
        reasons.append(f"Today's {depth_words(facts.given_today_mm, us=us)} of the schedule is taken off it.")
    reasons.append("Rain since midnight and rain that may come are not counted.")
    reasons += _how_sure(area, facts, us=us)
    return Advice("watering", _answer(area, water, facts.due, us=us), " ".join(reasons), _BALANCE)


def _after_today(water: WaterNow, given_mm: float) -> WaterNow:
    """The root zone with what the schedule has put on since midnight."""
    return replace(
        water,
        depletion_least_mm=max(water.depletion_least_mm - given_mm, 0.0),
        depletion_most_mm=max(water.depletion_most_mm - given_mm, 0.0),
    )


def _answer(area: Area, water: WaterNow, due: str, *, us: bool) -> str:
    watered, state = area.setting.irrigation, state_of(water)
    if state == "unsure":
        return (
            "Feel the soil before watering: what the roots have left is not known. If it is dry, water while the dew "
            "is on, never in the evening."
        )
    if state == "enough":
        held = f": the {depth_words(watered.depth_mm, us=us)} set for {due} can be left out" if watered and due else ""
        return f"No water is needed today{held}."
    when = "before tomorrow's sunrise"
    if state == "short":
        when = f"while the dew is still on, else {when}"
    give = f"{depth_words(refill_mm(water), us=us)} {when}, {_GO}; never in the evening."
    if watered is not None and due:
        set_for = f"{depth_words(watered.depth_mm, us=us)} set for {due}"
        if watered.depth_mm >= DUE_DOES_FROM_SHARE * refill_mm(water):
            return f"The {set_for} will do; more is not needed."
        return f"Water {give} The {set_for} is part of it."
    if watered is not None:
        return f"Water {give}"
    due = "Short of water" if state == "short" else "Short of water by tomorrow"
    return f"{due}. Where it can be watered, give {give}"


def _standing(water: WaterNow, *, us: bool) -> str:
    missing = span_words(water.depletion_least_mm, water.depletion_most_mm, us=us)
    readily, total = depth_words(water.raw_mm, us=us), depth_words(water.taw_mm, us=us)
    told = f"At last midnight {missing} was missing of the {total} that the roots can hold for the grass"
    told += f"; it takes the first {readily} without stress."
    if water.depletion_least_mm >= water.raw_mm:
        told += " Now it takes up less than it would."
    return told


def _days_left(water: WaterNow) -> tuple[str, ...]:
    if state_of(water) != "enough" or not water.use_mm_day:
        return ()
    left = days_words((water.raw_mm - water.depletion_most_mm) / water.use_mm_day)
    return (f"At last week's use that lasts {left} more without rain.",)


def _week(water: WaterNow, *, us: bool) -> str:
    usual = span_words(WEEK_LEAST_MM, WEEK_MOST_MM, us=us)
    if water.rain_week_mm is None:
        rain = f"Rain of the last 7 days is not known whole, at least {depth_words(water.rain_week_least_mm, us=us)}"
    else:
        rain = f"Rain of the last 7 days was {depth_words(water.rain_week_mm, us=us)}"
    if water.irrigation_week_mm:
        rain += f" and the schedule gave {depth_words(water.irrigation_week_mm, us=us)}"
    return f"{rain}; common practice is {usual} a week, rain counted."


def _how_sure(area: Area, facts: CareFacts, *, us: bool) -> list[str]:
    told = []
    ground, water = area.ground, facts.water
    if water is not None and water.depletion_most_mm - water.depletion_least_mm > KNOWN_WITHIN_MM:
        told.append("Some hours of rain or air are missing, and no rain since has surely filled the soil.")
    assumed = [f"{texture_of(ground).name} soil"] if ground.soil_texture is None else []
    if ground.rooting_depth_mm is None:
        assumed.append(f"roots of {depth_words(rooting_depth_of(ground), us=us)}")
    if assumed:
        told.append(f"Assumed, since not set: {' and '.join(assumed)}.")
    if facts.et0_from_temperature:
        told.append("Evaporation is told from temperature alone, so days differ more than is shown.")
    if area.setting.irrigation is not None:
        told.append("The schedule is counted as if it always ran.")
    return told


def _hour(area: Area, facts: CareFacts) -> Advice | None:
    """Whether the hour of watering prolongs wetness; by reckoned wet hours, else by the clock."""
    watered = area.setting.irrigation
    if watered is None:
        return None
    move = f"Move the water from {watered.start:%H:%M} to before sunrise, about 04:00."
    as_set, at_04 = facts.wet_hours_as_set, facts.wet_hours_at_04
    if as_set is None or at_04 is None:
        if watered.start < EVENING_FROM:
            return None
        why = "Evening water keeps the turf wet through the night; how much longer is not known here."
        return Advice("watering", move, why, _HOUR)
    if as_set - at_04 < LENGTHENS_FROM_H:
        return None
    why = (
        f"As set, leaves were wet {hours_words(as_set)} a day lately; with the same water at 04:00 it would have been "
        f"{hours_words(at_04)}. Given into the dew it adds least, and the turf dries with the day."
    )
    return Advice("watering", move, why, _HOUR)


def _daily(area: Area, facts: CareFacts) -> Advice | None:
    """Deeper and less often, where the schedule is a daily one and the roots hold more than a day or two."""
    watered, water = area.setting.irrigation, facts.water
    if watered is None or water is None or not water.use_mm_day or len(watered.days) < DAILY_FROM_DAYS:
        return None
    holds_days = water.raw_mm / water.use_mm_day
    if holds_days < DEEP_FROM_DAYS:
        return None
    why = (
        f"The roots hold {days_words(holds_days)} of last week's use. Less often, more each time, draws roots down. In "
        "trials brown patch was the same with daily water as with water every other day; frequent water had more gray "
        "leaf spot and less dollar spot."
    )
    return Advice("watering", "Water deeper and less often than daily.", why, _DEEP)
