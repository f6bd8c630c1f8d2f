"""The outlook: chances of every day of the next two weeks, per area and disease, from what was known by a moment."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from forecast import __version__
from forecast.clock import date_of
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.journal import area_named
from forecast.desk.known import Known, known_morning
from forecast.diseases.events import event_for
from forecast.errors import Notice
from forecast.outlook.calibration import Calibration, as_they_are
from forecast.outlook.climatology import Chance
from forecast.outlook.prospect import Prospect
from forecast.panel import Floats
from forecast.report import sentences
from forecast.report.build import chance_report
from forecast.report.outlook import (
    OUTLOOK_SCHEMA,
    LadderStep,
    LeadSkillReport,
    OutlookArea,
    OutlookDay,
    OutlookDisease,
    OutlookPage,
    OutlookWeek,
)
from forecast.report.words import CAUTIONS
from forecast.turf import DISEASES, GRASSES, Area, Disease

DAYS_SHOWN = 15  # today and two weeks
WEEKS = ((1, 7), (8, 14))  # days ahead, first and last


def outlook(
    settings: Settings,
    database: Database,
    as_of: datetime,
    *,
    replay: bool,
    area_id: str | None = None,
    notices: Sequence[Notice] = (),
) -> OutlookPage:
    """The outlook as it stands, or stood, at a moment.

    Args:
        settings: the workspace's.
        database: the workspace's.
        as_of: an aware moment; nothing that was not known by then is read.
        replay: True where the moment was asked for.
        area_id: one area; None for all.
        notices: trouble met before.

    Raises:
        DataError: there is no such area.
    """
    areas = settings.areas if area_id is None else (area_named(settings, area_id),)
    known = known_morning(settings, database, as_of, areas, notices)
    places = [known.place(place_id) for place_id in dict.fromkeys(area.place_id for area in areas)]
    is_set = settings.grounds.weather_forecast is not None
    return OutlookPage(
        schema=OUTLOOK_SCHEMA,
        version=__version__,
        grounds=settings.grounds.name,
        invented=settings.grounds.invented,
        as_of=known.clock,
        replay=replay,
        time_zone=settings.grounds.time_zone,
        areas=tuple(_area(known, area) for area in areas),
        weather=tuple((place.name, tuple(sentences.ahead_sentences(place, is_set=is_set))) for place in places),
        notices=tuple(f"{n.series}: {n.text}" if n.series else n.text for n in known.notices),
        cautions=CAUTIONS,
    )


def _area(known: Known, area: Area) -> OutlookArea:
    possible = [disease for disease in DISEASES.values() if area.grass in disease.grasses]
    shown = [disease for disease in possible if known.is_in_season(area, disease)]
    told = [disease for disease in shown if event_for(disease.key, area.grass, known.switched_on).deciding]
    return OutlookArea(
        area.area_id,
        area.area_name,
        area.property_name,
        GRASSES[area.grass].name,
        known.settings.place(area.place_id).name,
        tuple(one for one in (_disease(known, area, disease) for disease in told) if one is not None),
        tuple(disease.name for disease in shown if disease not in told),
        tuple(disease.name for disease in possible if disease not in shown),
    )


def _disease(known: Known, area: Area, disease: Disease) -> OutlookDisease | None:
    event = event_for(disease.key, area.grass, known.switched_on)
    ahead = known.prospect(area, event)
    if ahead is None:
        return None
    days = range(known.today, known.today + DAYS_SHOWN)
    single = [ahead.chance(day, day) for day in days]
    told = [day for day, chance in zip(days, single, strict=True) if chance is not None and chance.made != "past_years"]
    calibration = ahead.calibration or as_they_are("readings")
    return OutlookDisease(
        disease.key,
        disease.name,
        event.words,
        tuple(model.key for model in event.deciding),
        max((chance.years for chance in single if chance is not None), default=0),
        tuple(
            OutlookDay(date_of(day), day == known.today, chance_report(chance))
            for day, chance in zip(days, single, strict=True)
        ),
        tuple(_week(ahead, known.today + first, known.today + last) for first, last in WEEKS),
        _ladder(ahead, days),
        date_of(max(told)) if told else None,
        _skill(calibration),
        calibration.made,
    )


def _week(ahead: Prospect, first: int, last: int) -> OutlookWeek:
    chance: Chance | None = ahead.chance(first, last)
    counts = ahead.counts(first, last)
    usual = ahead.usual_counts(first, last)
    least, most = (None, None) if counts is None else (_quantile(counts, q) for q in (0.1, 0.9))
    mean, of_usual = (None if one is None else float(one @ np.arange(len(one))) for one in (counts, usual))
    return OutlookWeek(date_of(first), date_of(last), chance_report(chance), least, most, mean, of_usual)


def _quantile(counts: Floats, share: float) -> int:
    return int(np.searchsorted(np.cumsum(counts), share - 1e-9))


def _ladder(ahead: Prospect, days: range) -> tuple[LadderStep, ...]:
    """The rungs above the lowest of each deciding model's ladder."""
    found = []
    for model in ahead.event.deciding:
        for step in model.steps[1:]:
            chances = ahead.chances_from(model, step.at, days)
            told = tuple(None if chance is None else chance.value for chance in chances)
            found.append(LadderStep(model.name, step.words, step.at, told))
    return tuple(found)


def _skill(calibration: Calibration) -> tuple[LeadSkillReport, ...]:
    known = [lead for lead in range(1, calibration.told_days) if np.isfinite(calibration.skill[lead])]
    return tuple(
        LeadSkillReport(
            lead,
            float(calibration.skill[lead]),
            float(calibration.skill_low[lead]),
            float(calibration.skill_high[lead]),
        )
        for lead in known
        if np.isfinite(calibration.skill_low[lead])
    )
