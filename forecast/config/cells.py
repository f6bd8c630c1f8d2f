"""Kinds of cells of ``properties.csv``: words, weekdays, clock times, sides, each checked as it is read."""

from __future__ import annotations

import difflib
import re
from datetime import time
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from forecast.canopy.surroundings import surroundings
from forecast.config.forms import known_disease
from forecast.turf import SIDES, SITES

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def _weekdays(text: str) -> str:
    for day in text.split():
        if day not in DAYS:
            raise ValueError(f"{day!r} is no weekday; write {' '.join(DAYS)}")
    return text


def _sides(text: str) -> str:
    for side in text.split():
        if side not in SIDES:
            raise ValueError(f"{side!r} is no side; write {' '.join(SIDES)}, several with spaces between")
    return text


def _diseases(text: str) -> str:
    for key in text.split():
        known_disease(key)
    return text


def _site(text: str) -> str:
    if text and text not in SITES:
        near = difflib.get_close_matches(text, SITES, n=1)
        guess = f"; did you mean {near[0]!r}?" if near else "."
        raise ValueError(f"{text!r} is no kind of site known here{guess} Known are {', '.join(SITES)}")
    return text


def _surroundings(text: str) -> str:
    surroundings(text)
    return text


def _soil_texture(key: str) -> str:
    from forecast.care.soil import TEXTURES  # noqa: PLC0415 (care is not loaded where no soil is named)

    if key not in TEXTURES:
        near = difflib.get_close_matches(key, TEXTURES, n=1)
        guess = f"; did you mean {near[0]!r}?" if near else "."
        raise ValueError(f"{key!r} is no soil texture known here{guess} Known are {', '.join(TEXTURES)}")
    return key


def _clock(text: object) -> object:
    """Only hours and minutes: a bare number would be read as seconds after midnight, and the zone is the site's."""
    if isinstance(text, str) and not re.fullmatch(r"[0-2]?\d:[0-5]\d", text):
        raise ValueError("write clock time of the site as hours and minutes of 24 hours, such as 05:00 or 19:30")
    return text.zfill(len("05:00")) if isinstance(text, str) else text


ClockTime = Annotated[time, BeforeValidator(_clock)]
Diseases = Annotated[str, AfterValidator(_diseases)]
Share = Annotated[float, Field(ge=0, le=1)]
Sides = Annotated[str, AfterValidator(_sides)]
Site = Annotated[str, AfterValidator(_site)]
SoilTexture = Annotated[str, AfterValidator(_soil_texture)]
SurroundingsWords = Annotated[str, AfterValidator(_surroundings)]
Weekdays = Annotated[str, AfterValidator(_weekdays)]
