"""Care of an area: a daily soil-water balance behind the watering advice, and what else follows from the day."""

from __future__ import annotations

from forecast.care.advice import care
from forecast.care.facts import WEEK_DAYS, About, Advice, CareFacts, WaterNow, is_growing, water_now
from forecast.care.shade import day_light_fraction, shaded_et0_mm
from forecast.care.soil import TEXTURES, RootZone, Texture, root_zone
from forecast.care.soil_water import WaterBalance, water_balance, watered_mm

__all__ = [
    "TEXTURES",
    "WEEK_DAYS",
    "About",
    "Advice",
    "CareFacts",
    "RootZone",
    "Texture",
    "WaterBalance",
    "WaterNow",
    "care",
    "day_light_fraction",
    "is_growing",
    "root_zone",
    "shaded_et0_mm",
    "water_balance",
    "water_now",
    "watered_mm",
]
