"""What every model makes of one area on one day, and what would have to change for it to answer otherwise."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from forecast.clock import day_words
from forecast.report import sentences
from forecast.report.catalogue import NO_WEATHER_ABOVE, NO_WEATHER_BELOW
from forecast.report.lines import wrapped
from forecast.report.page import Driver, ModelReport, WetNight
from forecast.report.words import NBSP, clock, range_words
from forecast.units import f_from_c

PRESSURE_SCHEMA: Literal[1] = 1


@dataclass(frozen=True, slots=True)
class Crossing:
    """One input that alone would carry the model over its threshold, or back under it.

    Attributes:
        name: the input.
        words: in words.
        unit: of both figures.
        now: what it was.
        then: the nearest figure at which the model answers otherwise.
    """

    name: str
    words: str
    unit: str
    now: float
    then: float


@dataclass(frozen=True, slots=True)
class OutsideInput:
    """An input outside the range that a model was made for.

    Attributes:
        low, high: the range.
        does: ``hold`` keeps the input at the edge, ``withhold`` gives no answer.
    """

    words: str
    unit: str
    low: float
    high: float
    does: Literal["hold", "withhold"]
    source: str


@dataclass(frozen=True, slots=True)
class ModelPressure:
    """One model on one day.

    Attributes:
        model: its answer, as on the morning page.
        disease_name: in words.
        in_season: True within the disease's season and a month to either side.
        decides: whether it decides on this area's grass.
        passed: share of the ways the day can go on, or 1 or 0 of a finished day, that pass; None where unknown.
        distance: answer minus threshold of a finished day; None otherwise, and for classes.
        outside: the inputs outside the model's range.
        crossings: what single input would have to change, each by itself, of a finished day.
        no_crossing: why there is none, in words; empty where there are some.
    """

    model: ModelReport
    disease_name: str
    in_season: bool
    decides: bool
    passed: float | None
    distance: float | None
    outside: tuple[OutsideInput, ...]
    crossings: tuple[Crossing, ...]
    no_crossing: str


@dataclass(frozen=True, slots=True)
class SiteNote:
    """A modifier or a weight of the site: what it is about, its size where a trial gives one, and whose it is."""

    words: str
    factor_low: float | None
    factor_high: float | None
    source: str


@dataclass(frozen=True, slots=True)
class DiseasePressure:
    """One disease's models and what the site adds, which no score and no chance contains."""

    disease: str
    name: str
    in_season: bool
    models: tuple[ModelPressure, ...]
    site: tuple[SiteNote, ...]


@dataclass(frozen=True, slots=True)
class PressureReport:
    """Every model's view of one area on one day."""

    schema: Literal[1]
    version: str
    grounds: str
    invented: bool
    as_of: datetime
    area_id: str
    area_name: str
    property_name: str
    grass: str
    setting: tuple[str, ...]
    day: date
    units: Literal["us", "si"]
    wet_night: WetNight | None
    wetness_name: str
    diseases: tuple[DiseasePressure, ...]
    notices: tuple[str, ...]


def pressure_text(report: PressureReport) -> str:
    """The report for a terminal: those that pass first, then the rest."""
    return "\n".join(_lines(report)) + "\n"


def _lines(report: PressureReport) -> Iterator[str]:
    yield f"Pressure on {report.area_name}, {report.property_name} · {day_words(report.day)} {report.day.year}"
    yield f"{report.grass} · told at {clock(report.as_of)} on {day_words(report.as_of)} from what was known then"
    if report.invented:
        yield from wrapped(sentences.INVENTED)
    yield ""
    yield from wrapped(_summary(report), 2, 2)
    yield from wrapped(_wet(report), 2, 2)
    for words in report.setting:
        yield from wrapped(words, 2, 2)
    for disease in sorted(report.diseases, key=lambda one: not one.in_season):
        yield ""
        yield f"{disease.name.upper()}{'' if disease.in_season else ' (not its season)'}"
        for one in disease.models:
            yield ""
            yield from _model(report, one)
        if disease.site:
            yield ""
            yield from wrapped("The site, which no score and no chance contains:", 2, 2)
            for note in disease.site:
                yield from wrapped(f"{sentences.capital(note.words)}{_factor(note)} ({note.source}).", 4, 2)
    for notice in report.notices:
        yield from wrapped(f"Note: {notice}", 0, 2)
    yield ""
    yield from wrapped("It is weather, not disease: what the models say of the day, not what stands on the turf.", 0, 2)


def _summary(report: PressureReport) -> str:
    models = [one for disease in report.diseases if disease.in_season for one in disease.models]
    told = []
    for does, words in ((True, "Of those that decide here"), (False, "Of the others")):
        here = [one for one in models if one.decides == does]
        known = [one for one in here if one.passed is not None]
        passing = [f"{one.disease_name} ({one.model.name}{_share(one)})" for one in known if one.passed]
        if passing:
            told.append(f"{words}, passing in season: {', '.join(passing)}.")
        elif known:
            told.append(f"{words}, none passes in season.")
    unknown = [f"{one.model.name} ({one.disease_name})" for one in models if one.passed is None]
    if unknown and len(unknown) == len(models):
        return "No model in season can answer for this day."
    if unknown:
        told.append(f"Without an answer: {', '.join(unknown)}.")
    return " ".join(told) or "No disease of this grass is in season."


def _share(one: ModelPressure) -> str:
    return "" if one.passed in (None, 1.0) else f", on {one.passed:.0%} of the ways on".replace("%", f"{NBSP}%")


def _wet(report: PressureReport) -> str:
    night = report.wet_night
    if night is None or night.hours is None:
        return f"Wet hours from noon to noon: not known yet; told by: {report.wetness_name}."
    spread = (
        "" if night.low is None or night.high is None else f", {night.low:.1f} to {night.high:.1f} over all methods"
    )
    return f"Wet hours from noon to noon: {night.hours:.1f}{NBSP}h{spread}; told by: {report.wetness_name}."


def _model(report: PressureReport, one: ModelPressure) -> Iterator[str]:
    us = report.units == "us"
    model = one.model
    does = "decides here" if one.decides else "does not decide here"
    yield from wrapped(f"{sentences.capital(model.name)} ({model.standing}, {does}; {model.key})", 2, 2)
    yield from wrapped(f"{sentences.capital(sentences.model_sentence(model, report.day))}.", 4, 2)
    if one.distance is not None:
        way = "above" if one.distance >= 0 else "below"
        yield from wrapped(f"{_figure(model, abs(one.distance))} {way} the threshold.", 4, 2)
    for driver in model.drivers:
        yield from wrapped(f"{_driver(driver, us=us)}", 6, 2)
    for out in one.outside:
        yield from wrapped(_outside(out, us=us), 4, 2)
    yield from wrapped(sentences.outside_sentence(model), 4, 2)
    yield from wrapped(_crossings(one, us=us), 4, 2)
    yield from wrapped(" ".join(text for text in (model.notes, model.wetness) if text), 4, 2)
    yield from wrapped(f"Source: {model.source}.", 4, 2)


def _figure(model: ModelReport, distance: float) -> str:
    return f"{100 * distance:.1f} points of per cent" if model.answer == "probability" else f"{distance:.2f}"


def _driver(driver: Driver, *, us: bool) -> str:
    return f"{driver.words}: {range_words(driver.low, driver.high, driver.unit, us=us)}"


def _outside(out: OutsideInput, *, us: bool) -> str:
    does = "held at the edge" if out.does == "hold" else "so there is no answer"
    low, high = (_fine(edge, out.unit, us=us) for edge in (out.low, out.high))
    where = f"{low} to {high}"
    if out.low <= NO_WEATHER_BELOW:
        where = f"what it speaks of, up to {high}"
    elif out.high >= NO_WEATHER_ABOVE:
        where = f"what it speaks of, from {low} on"
    return f"Outside the model's range: {out.words} lies outside {where}, {does} ({out.source})."


def _crossings(one: ModelPressure, *, us: bool) -> str:
    if not one.crossings:
        return one.no_crossing
    return f"It would answer otherwise with: {'; or '.join(crossing_words(c, us=us) for c in one.crossings)}."


def crossing_words(one: Crossing, *, us: bool) -> str:
    """One input as it would have to be, and as it was."""
    return f"{one.words} of {_beyond(one, us=us)} instead of {_fine(one.now, one.unit, us=us)}"


def _beyond(crossing: Crossing, *, us: bool) -> str:
    """The figure that turns the answer, rounded away from what it was, so that the printed one turns it too."""
    value, unit = _local(crossing.then, crossing.unit, us=us)
    tenths = math.ceil(10 * value) if crossing.then > crossing.now else math.floor(10 * value)
    return _fine_words(tenths / 10, unit)


def _fine(value: float, unit: str, *, us: bool) -> str:
    """A figure to one decimal, so that what just misses a threshold does not read as reaching it; hours are whole."""
    return _fine_words(*_local(value, unit, us=us))


def _local(value: float, unit: str, *, us: bool) -> tuple[float, str]:
    return (f_from_c(value), "°F") if unit == "°C" and us else (value, unit)


def _fine_words(value: float, unit: str) -> str:
    return f"{value:.0f}{NBSP}{unit}" if unit == "h" and value == round(value) else f"{value:.1f}{NBSP}{unit}"


def _factor(note: SiteNote) -> str:
    if note.factor_low is None or note.factor_high is None:
        return ""
    if note.factor_low == note.factor_high:
        return f": severity × {note.factor_low:g}"
    return f": severity × {note.factor_low:g} to {note.factor_high:g}"
