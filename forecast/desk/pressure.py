"""One area on one day: every model's answer, its inputs, and how far it is from answering otherwise."""

from __future__ import annotations

from datetime import date, datetime

import numpy as np

from forecast import __version__
from forecast.clock import date_of, day_number, utc_minute
from forecast.config import Settings
from forecast.daily import day_numbers
from forecast.database import Database
from forecast.desk.caring import TELLS_OF_WATERING
from forecast.desk.hours import KnownHours, known_hours
from forecast.desk.journal import area_named
from forecast.desk.season import in_season
from forecast.desk.stands import Seen, seen_stands, stands
from forecast.diseases import MODELS, DiseaseModel
from forecast.diseases.crossing import Crossing as Turn
from forecast.diseases.crossing import crossings
from forecast.diseases.declare import Hourly
from forecast.diseases.events import event_for
from forecast.diseases.modifiers import modifiers_for, scouting_weight
from forecast.errors import DataError
from forecast.report import build
from forecast.report.model_words import input_unit, input_words
from forecast.report.page import WetNight
from forecast.report.pressure import (
    PRESSURE_SCHEMA,
    Crossing,
    DiseasePressure,
    ModelPressure,
    OutsideInput,
    PressureReport,
    SiteNote,
)
from forecast.turf import DISEASES, GRASSES, Area, Disease


def area_pressure(
    settings: Settings, database: Database, as_of: datetime, area_id: str, day: date | None = None
) -> PressureReport:
    """What every model makes of one area on one day.

    Args:
        settings: the workspace's.
        database: the workspace's.
        as_of: an aware moment; nothing that was not known by then is read.
        area_id: which area, by id or name.
        day: a day up to that moment's own; left out, that day itself, which may still be in progress.

    Raises:
        DataError: there is no such area, no weather is known, or the day lies ahead.
    """
    area = area_named(settings, area_id)
    clock = as_of.astimezone(settings.grounds.zone)
    asked = clock.date() if day is None else day
    if asked > clock.date():
        raise DataError(f"{asked} lies ahead of {clock.date()}", hint="ask for a day that has been, or for today")
    now_utc = utc_minute(as_of)
    offset_minutes = settings.grounds.standard_offset_minutes(clock.year)
    stand = stands(settings)[area.area_id]
    hours = known_hours(settings, database, now_utc)
    found = seen_stands(
        (area,), {area.area_id: stand}, hours, day_number(asked), now_utc, offset_minutes, MODELS.values()
    )
    if stand.stand_id not in found:
        raise DataError("no weather is known by this moment", hint="load some with 'forecast weather load' or 'fetch'")
    seen = found[stand.stand_id]
    latitude = stand.where.latitude_deg
    return PressureReport(
        schema=PRESSURE_SCHEMA,
        version=__version__,
        grounds=settings.grounds.name,
        invented=settings.grounds.invented,
        as_of=clock,
        area_id=area.area_id,
        area_name=area.area_name,
        property_name=area.property_name,
        grass=GRASSES[area.grass].name,
        setting=build.setting_words(
            area, us=settings.grounds.units == "us", counts=seen.wetness.method == TELLS_OF_WATERING
        ),
        day=asked,
        units=settings.grounds.units,
        wet_night=_night(seen, asked),
        wetness_name=seen.wetness.name,
        diseases=tuple(
            _disease(settings, area, disease, seen, in_season(disease, latitude, asked.month), offset_minutes)
            for disease in DISEASES.values()
            if area.grass in disease.grasses
        ),
        notices=_notices(hours, asked, offset_minutes),
    )


def _notices(hours: KnownHours | None, asked: date, offset_minutes: int) -> tuple[str, ...]:
    """That the day lies before all weather."""
    if hours is None:
        return ()
    first = date_of(int(day_numbers(hours.panel.hours[:1], offset_minutes, 24)[0]))
    return (f"the first day with weather is {first}",) if asked < first else ()


def _night(seen: Seen, day: date) -> WetNight | None:
    return next((night for night in seen.wetness.nights if night.day == day), None)


def _disease(
    settings: Settings, area: Area, disease: Disease, seen: Seen, now: bool, offset_minutes: int
) -> DiseasePressure:
    event = event_for(disease.key, area.grass, settings.grounds.models_switched_on)
    models = [model for model in MODELS.values() if model.disease == disease.key]
    return DiseasePressure(
        disease.key,
        disease.name,
        now,
        tuple(_model(settings, model, disease, seen, now, model in event.deciding, offset_minutes) for model in models),
        tuple(
            SiteNote(one.words, one.factor_low, one.factor_high, one.source) for one in modifiers_for(area, disease.key)
        )
        + tuple(SiteNote(one.words, None, None, one.source) for one in scouting_weight(area, disease.key).reasons),
    )


def _model(
    settings: Settings,
    model: DiseaseModel,
    disease: Disease,
    seen: Seen,
    season_now: bool,
    decides: bool,
    offset_minutes: int,
) -> ModelPressure:
    now = seen.view.now[model.key]
    report = build.model_report(model, seen.view, settings.grounds.zone, offset_minutes)
    known = now.passed[~np.isnan(now.passed)]
    passed = float(known.mean()) if known.size else None
    finished = now.finished and report.low is not None
    inputs = {one.name: float(now.inputs[one.name][0]) for one in model.inputs} if now.finished else {}
    found: tuple[Turn, ...] = ()
    why = ""
    if not now.finished and known.size:
        why = "The day is not over: what would have to change is told once it is."
    elif finished and not model.is_hourly:
        found = tuple(
            sorted((one for one in crossings(model, inputs).values() if one is not None), key=lambda one: one.name)
        )
        why = "" if found else "No single input, changed alone within what can be, would make it answer otherwise."
    elif finished:
        found, why = (), "The rule runs hour by hour, so that no single figure of the day can be named."
    distance = None
    if finished and report.answer != "class" and report.low is not None:
        distance = report.low - model.threshold
    return ModelPressure(
        report,
        disease.name,
        season_now,
        decides,
        passed,
        distance,
        _outside(model, inputs),
        tuple(_crossing(model, one.name, one.value, one.to) for one in found),
        why,
    )


def _crossing(model: DiseaseModel, name: str, now: float, then: float) -> Crossing:
    one = next(one for one in model.inputs if one.name == name)
    return Crossing(name, input_words(one), input_unit(one), now, then)


def _outside(model: DiseaseModel, inputs: dict[str, float]) -> tuple[OutsideInput, ...]:
    found = []
    for one in model.inputs:
        limits = model.valid.get(one.name)
        value = inputs.get(one.name, np.nan)
        if limits is None or isinstance(one, Hourly) or np.isnan(value) or limits.low <= value <= limits.high:
            continue
        found.append(
            OutsideInput(input_words(one), input_unit(one), limits.low, limits.high, limits.outside, limits.source)
        )
    return tuple(found)
