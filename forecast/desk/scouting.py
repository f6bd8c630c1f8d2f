"""The scouting guide of an area from its settings and records, or of a grass alone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from forecast import __version__, records
from forecast.clock import date_of
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.journal import area_named
from forecast.desk.season import in_season
from forecast.errors import DataError
from forecast.guide import GUIDE, SAMPLE, SAMPLE_SOURCES
from forecast.guide.form import Separation, shows, turned
from forecast.guide.lookalikes import LOOKALIKES, UNMODELLED
from forecast.guide.where import PastSighting, look_first
from forecast.report.scouting import (
    SCOUTING_SCHEMA,
    DiseaseScouting,
    OutOfSeason,
    ScoutableArea,
    ScoutableAreas,
    ScoutingReport,
    ToldApart,
)
from forecast.turf import DISEASES, GRASSES, Area, Disease

NORTH_DEG, SOUTH_DEG = 45.0, -45.0  # latitudes that stand for a hemisphere where no place is known


def area_guide(
    settings: Settings,
    database: Database,
    moment: datetime,
    area_id: str,
    *,
    disease: str | None = None,
    month: int | None = None,
) -> ScoutingReport:
    """What to look for on an area, where first, from what had been recorded by a moment.

    Args:
        settings: the workspace's.
        database: the workspace's.
        moment: an aware moment.
        area_id: which area, by id or name.
        disease: only this one, in season or not; all that its grass can have when left out.
        month: a month other than the moment's own.

    Raises:
        DataError: there is no such area, or its grass does not have that disease.
    """
    area = area_named(settings, area_id)
    clock = moment.astimezone(settings.grounds.zone)
    latitude_deg = settings.place(area.place_id).where.latitude_deg
    seen = [
        PastSighting(date_of(one.day), one.disease, one.sure, one.note)
        for one in records.sightings(database, moment.astimezone(UTC).strftime(records.UTC_FORM))
        if one.area_id == area.area_id and one.disease
    ]
    return _report(
        area.grass, month or clock.month, latitude_deg, clock, disease, settings=settings, area=area, seen=seen
    )


def grass_guide(
    grass: str, moment: datetime, *, southern: bool, disease: str | None = None, month: int | None = None
) -> ScoutingReport:
    """What to look for on a grass, wherever it grows.

    Raises:
        DataError: there is no such grass, or it does not have that disease.
    """
    if grass not in GRASSES:
        raise DataError(f"there is no grass {grass!r}", hint=f"known are {', '.join(GRASSES)}")
    latitude_deg = SOUTH_DEG if southern else NORTH_DEG
    return _report(grass, month or moment.month, latitude_deg, moment, disease)


def scoutable_areas(settings: Settings) -> ScoutableAreas:
    """The areas that a guide can be asked for."""
    return ScoutableAreas(
        SCOUTING_SCHEMA,
        tuple(
            ScoutableArea(area.area_id, area.area_name, area.property_name, GRASSES[area.grass].name)
            for area in settings.areas
        ),
    )


def _report(
    grass: str,
    month: int,
    latitude_deg: float,
    moment: datetime,
    disease: str | None,
    *,
    settings: Settings | None = None,
    area: Area | None = None,
    seen: Sequence[PastSighting] = (),
) -> ScoutingReport:
    possible = [one for one in DISEASES.values() if grass in one.grasses]
    asked = possible if disease is None else [_asked(disease, grass)]
    told = [_disease(one, grass, month, latitude_deg) for one in asked]
    wanted = [one for one in told if disease or one.shows_now or one.in_season]
    wanted.sort(key=lambda one: not one.shows_now)  # stable: the catalogue's order within each
    # Nobody walks for what does not show; but last season's places matter where roots are being infected now.
    keys = [one.disease for one in wanted if disease or one.shows_now or one.quiet]
    return ScoutingReport(
        schema=SCOUTING_SCHEMA,
        version=__version__,
        grounds="" if settings is None else settings.grounds.name,
        invented=settings is not None and settings.grounds.invented,
        area_id="" if area is None else area.area_id,
        area_name="" if area is None else area.area_name,
        property_name="" if area is None else area.property_name,
        grass=GRASSES[grass].name,
        month=month,
        southern=latitude_deg < 0,
        moment=moment,
        look_first=() if area is None else look_first(area, keys, seen),
        diseases=tuple(wanted),
        others=tuple(
            OutOfSeason(one.disease, one.name, one.first_month, one.last_month) for one in told if one not in wanted
        ),
        look_alikes=tuple(
            one for key, one in LOOKALIKES.items() if any(key == t.key for d in wanted for t in d.not_disease)
        ),
        sample=SAMPLE,
        sample_sources=SAMPLE_SOURCES,
    )


def _asked(key: str, grass: str) -> Disease:
    known = [one.key for one in DISEASES.values() if grass in one.grasses]
    if key not in known:
        what = (
            f"{DISEASES[key].name} is not looked for on {GRASSES[grass].name}"
            if key in DISEASES
            else f"{key!r} is no disease known here"
        )
        raise DataError(what, hint=f"on {GRASSES[grass].name} there are {', '.join(known)}")
    return DISEASES[key]


def _disease(disease: Disease, grass: str, month: int, latitude_deg: float) -> DiseaseScouting:
    entry = GUIDE[disease.key]
    southern = latitude_deg < 0
    now = shows(entry, month, southern=southern)
    return DiseaseScouting(
        disease=disease.key,
        name=disease.name,
        shows_now=now,
        in_season=in_season(disease, latitude_deg, month),
        first_month=turned(entry.first_month, southern=southern),
        last_month=turned(entry.last_month, southern=southern),
        look_at=entry.look_at,
        hour=entry.hour,
        weather=entry.weather,
        patch=entry.patch,
        blade=entry.blade,
        base=entry.base,
        dew=entry.dew,
        sure=entry.sure,
        quiet="" if now else entry.quiet,
        not_disease=tuple(_told_apart(one) for one in entry.not_disease),
        other_diseases=tuple(
            _told_apart(one) for one in entry.other_diseases if one.mixed or _grows_on(one.key, grass)
        ),
        unsure=entry.unsure,
        sources=entry.sources,
    )


def _told_apart(one: Separation) -> ToldApart:
    named = LOOKALIKES.get(one.key) or DISEASES.get(one.key) or UNMODELLED[one.key]
    return ToldApart(one.key, named.name, one.check)


def _grows_on(disease: str, grass: str) -> bool:
    if disease in DISEASES:
        return grass in DISEASES[disease].grasses
    season = UNMODELLED[disease].season
    return season == "any" or (season == "cool") == GRASSES[grass].cool_season
