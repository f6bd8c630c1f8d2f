"""The morning page, from what was known by a moment."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from forecast import __version__, records
from forecast.config import Settings
from forecast.database import Database
from forecast.desk import caring
from forecast.desk.deciding import Records, decided, is_shown
from forecast.desk.known import known_morning
from forecast.desk.season import season_months
from forecast.desk.stands import Seen, areas_of
from forecast.diseases import MODELS
from forecast.diseases.events import event_for
from forecast.errors import Notice
from forecast.outlook.prospect import Prospect
from forecast.report import build
from forecast.report.page import MORNING_SCHEMA, AreaReport, CareReport, DiseaseReport, MorningPage, StandReport
from forecast.report.words import CAUTIONS
from forecast.schedule import need
from forecast.turf import DISEASES, GRASSES, Area, Disease


def morning(
    settings: Settings,
    database: Database,
    as_of: datetime,
    *,
    replay: bool,
    notices: Sequence[Notice] = (),
    only: Area | None = None,
) -> MorningPage:
    """The morning page as it stands, or stood, at a moment.

    Args:
        settings: the workspace's.
        database: the workspace's.
        as_of: an aware moment; nothing that was not known by then is read.
        replay: True where the moment was asked for, so that the page says so.
        notices: trouble met before, to be printed with the page's own.
        only: one area; None for all.
    """
    asked = settings.areas if only is None else (only,)
    known = known_morning(settings, database, as_of, asked, notices)
    shared = Records(known, records.applications(database, known.known_by), records.sightings(database, known.known_by))
    areas = tuple(_area(shared, area) for area in asked)
    places = tuple(known.place(one) for one in settings.places if only is None or one == only.place_id)
    return MorningPage(
        schema=MORNING_SCHEMA,
        version=__version__,
        grounds=settings.grounds.name,
        invented=settings.grounds.invented,
        as_of=known.clock,
        replay=replay,
        forecast_is_set=settings.grounds.weather_forecast is not None,
        time_zone=settings.grounds.time_zone,
        units=settings.grounds.units,
        areas=areas,
        places=places,
        stands=tuple(_stand(shared, one, areas) for one in known.seen.values()),
        notices=tuple(f"{n.series}: {n.text}" if n.series else n.text for n in known.notices),
        cautions=CAUTIONS,
    )


def _area(shared: Records, area: Area) -> AreaReport:
    possible = [disease for disease in DISEASES.values() if area.grass in disease.grasses]
    shown = [disease for disease in possible if is_shown(shared, area, disease)]
    stand = shared.known.stands[area.area_id]
    found = shared.known.of(area)
    us = shared.settings.grounds.units == "us"
    advice = caring.care_of(
        area,
        "short" if found is None else found.water,
        now=shared.known.clock,
        southern=stand.where.latitude_deg < 0,
        diseases_up=_up(shared, area, shown),
        knows_setting=_knows_setting(found),
        us=us,
    )
    return AreaReport(
        area.property_id,
        area.property_name,
        area.area_id,
        area.area_name,
        GRASSES[area.grass].name,
        area.size_m2,
        area.place_id,
        stand.stand_id,
        build.setting_words(area, us=us, counts=_knows_setting(found)),
        tuple(_disease(shared, area, disease) for disease in shown),
        tuple(disease.name for disease in possible if disease not in shown),
        never_here=not possible,
        care=tuple(CareReport(one.about, one.text, one.why, one.source) for one in advice),
    )


def _knows_setting(found: Seen | None) -> bool:
    """Whether shade, watering and cut act on a stand's wet hours: by the energy balance alone they do."""
    return found is not None and found.wetness.method == caring.TELLS_OF_WATERING


def _up(shared: Records, area: Area, shown: Sequence[Disease]) -> set[str]:
    """The diseases whose deciding models passed on a day of the last week, or pass today."""
    up = set()
    for disease in shown:
        event = event_for(disease.key, area.grass, shared.known.switched_on)
        ahead = shared.known.prospect(area, event)
        if (
            ahead is not None
            and event.deciding
            and (ahead.today_passed() or ahead.recent_event_days(need.LOOK_BACK_DAYS))
        ):
            up.add(disease.key)
    return up


def _stand(shared: Records, one: Seen, areas: Sequence[AreaReport]) -> StandReport:
    """A stand with the models that speak of what its areas show; provisional ones stand in the pressure view."""
    stand = one.view.stand
    ids = [area.area_id for area in areas_of(shared.known.stands, stand.stand_id, shared.settings.areas)]
    speak = {
        key
        for area in areas
        if area.area_id in ids
        for disease in area.diseases
        for key in (*disease.deciding, *disease.beside)
    }
    return StandReport(
        stand.stand_id,
        stand.place_id,
        tuple(ids),
        one.wetness,
        tuple(
            build.model_report(model, one.view, shared.settings.grounds.zone, shared.known.offset_minutes)
            for model in MODELS.values()
            if model.key in speak
        ),
    )


def _disease(shared: Records, area: Area, disease: Disease) -> DiseaseReport:
    found = decided(shared, area, disease)
    ahead = found.ahead
    return build.disease_report(
        area=area,
        disease=disease,
        event=found.event,
        facts=found.facts,
        lines=found.lines,
        given=found.given,
        left_out=found.left_out,
        tank_l=shared.settings.grounds.sprayer.litres,
        us=shared.settings.grounds.units == "us",
        single_days=ahead.single_days(range(shared.today, shared.today + need.PLAN_DAYS)) if ahead else (),
        week_1=ahead.chance(shared.today + 1, shared.today + 7) if ahead else None,
        week_2=ahead.chance(shared.today + 8, shared.today + 14) if ahead else None,
        season=_season(shared, area, disease, ahead),
        labels=shared.settings.labels,
    )


def _season(shared: Records, area: Area, disease: Disease, ahead: Prospect | None) -> build.Season | None:
    first, last = season_months(disease, shared.known.latitude_deg(area))
    count = ahead.season(first, last) if ahead else None
    return None if count is None else build.Season(first, last, count)
