"""Season openers: when each disease's season opens on each area, from what was known by a moment."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime

from forecast import __version__
from forecast.clock import date_of, day_number, utc_minute
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.hours import known_hours
from forecast.desk.journal import area_named
from forecast.desk.known import looks_ahead, newest_issues
from forecast.desk.opening_stands import RULE, EventSeason, Key, StandSeasons
from forecast.desk.stands import stands
from forecast.errors import DataError
from forecast.outlook.opening import PREVENTION_DAYS, OpeningDays
from forecast.report.opening import (
    SEASON_SCHEMA,
    DiseaseSeason,
    PastOpening,
    SeasonArea,
    SeasonPage,
    Spread,
    Standing,
    Start,
)
from forecast.report.words import CAUTIONS
from forecast.stand import Stand
from forecast.turf import DISEASES, GRASSES, Area


def season_page(
    settings: Settings,
    database: Database,
    as_of: datetime,
    *,
    replay: bool,
    area_id: str | None = None,
    disease: str | None = None,
) -> SeasonPage:
    """Season openers as they stand, or stood, at a moment.

    Args:
        settings: the workspace's.
        database: the workspace's.
        as_of: an aware moment; nothing that was not known by then is read.
        replay: True where the moment was asked for.
        area_id: one area; None for all.
        disease: key of one disease; None for all that the grass can have.

    Raises:
        DataError: there is no such area or disease, no area's grass has it, or no weather is known.
    """
    areas = settings.areas if area_id is None else (area_named(settings, area_id),)
    diseases = _diseases(areas, disease)
    clock = as_of.astimezone(settings.grounds.zone)
    now_utc = utc_minute(as_of)
    hours = known_hours(settings, database, now_utc)
    if hours is None or not {"air_temperature_c", "dew_point_c"} & hours.panel.values.keys():
        raise DataError("no weather is known by this moment", hint="load some with 'forecast weather load' or 'fetch'")
    today, offset = day_number(clock.date()), settings.grounds.standard_offset_minutes(clock.year)
    ahead = looks_ahead(settings, database, hours, newest_issues(settings, database, now_utc), now_utc, today, offset)
    found = StandSeasons(settings, hours, ahead, today, offset).of(areas, diseases)
    by_area = stands(settings)
    return SeasonPage(
        schema=SEASON_SCHEMA,
        version=__version__,
        grounds=settings.grounds.name,
        invented=settings.grounds.invented,
        as_of=clock,
        replay=replay,
        time_zone=settings.grounds.time_zone,
        units=settings.grounds.units,
        areas=tuple(_area(settings, area, diseases, found, by_area[area.area_id], today) for area in areas),
        cautions=CAUTIONS[:1],
    )


def _diseases(areas: Sequence[Area], disease: str | None) -> tuple[str, ...]:
    """The diseases asked about, in the order of the catalogue."""
    if disease is None:
        return tuple(DISEASES)
    if disease not in DISEASES:
        raise DataError(f"{disease!r} is no disease known here", hint=f"known are {', '.join(DISEASES)}")
    known = DISEASES[disease]
    if not any(area.grass in known.grasses for area in areas):
        hint = f"it is looked for on {', '.join(known.grasses)}"
        raise DataError(f"no area asked about has a grass that {known.name} is looked for on", hint=hint)
    return (disease,)


def _area(
    settings: Settings,
    area: Area,
    diseases: Collection[str],
    found: Mapping[Key, EventSeason],
    stand: Stand,
    today: int,
) -> SeasonArea:
    possible = [DISEASES[key] for key in diseases if area.grass in DISEASES[key].grasses]
    keys = [(stand.stand_id, one.key, area.grass) for one in possible]
    told = [_disease(found[key], today) for key in keys if key in found]
    return SeasonArea(
        area.area_id,
        area.area_name,
        area.property_name,
        GRASSES[area.grass].name,
        settings.place(area.place_id).name,
        tuple(sorted(told, key=_next_first)),
        tuple(one.name for one, key in zip(possible, keys, strict=True) if key not in found),
    )


def _next_first(one: DiseaseSeason) -> tuple[int, date]:
    """Those that open next come first, by their start; then those without a date; then the open ones."""
    if one.opened is not None:
        return 2, one.opened
    start = None if one.start is None else one.start.spread.middle
    return (1, one.first_day) if start is None else (0, start)


def _disease(told: EventSeason, today: int) -> DiseaseSeason:
    known, usual, found = DISEASES[told.event.disease], told.usual, told.found
    ahead, season = found.ahead, usual.season
    until = season.last_day if ahead is None else ahead.first_day + len(ahead.chance) - 1
    soon = None if ahead is None else ahead.not_before(today).by(today + PREVENTION_DAYS - 1)
    return DiseaseSeason(
        known.key,
        known.name,
        told.event.words,
        tuple(model.key for model in told.event.deciding),
        RULE.event_days,
        RULE.within_days,
        date_of(season.first_day),
        date_of(season.last_day),
        tuple(PastOpening(date_of(one.season.first_day).year, _date(one.opened)) for one in usual.past),
        usual.unknown,
        _spread(usual.of_opened),
        _start(usual.of_opened),
        _date(found.opened),
        _spread(ahead),
        date_of(until),
        None if ahead is None else 1 - ahead.later,
        soon,
        found.may_have_opened,
        _start(ahead),
        Standing(
            found.event_days,
            told.usual_event_days,
            found.unknown_days,
            date_of(told.weather_since),
            told.warmer_by_c,
            told.damper_by_c,
        ),
        told.made,
        found.years,
        _date(told.forecast_until),
    )


def _spread(days: OpeningDays | None, earlier_days: int = 0) -> Spread | None:
    if days is None:
        return None
    found = [days.quantile(share) for share in (0.1, 0.5, 0.9)]
    return Spread(*(_date(None if day is None else day - earlier_days) for day in found))


def _start(days: OpeningDays | None) -> Start | None:
    spread = _spread(days, PREVENTION_DAYS)
    if days is None or spread is None:
        return None
    return Start(spread, _date(days.start(0.75)), _date(days.start(0.9)))


def _date(day: int | None) -> date | None:
    return None if day is None else date_of(day)
