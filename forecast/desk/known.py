"""What is known on one morning: hours, what models say of every stand, the days ahead; pages are made of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

import numpy as np

from forecast import quality, records
from forecast.clock import day_number, utc_minute
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.calibrations import Calibrations, calibrations_or_shipped
from forecast.desk.forecast_skill import skill_of
from forecast.desk.hours import KnownHours, known_hours
from forecast.desk.inventory import stored_elsewhere
from forecast.desk.looking_ahead import LookingAhead
from forecast.desk.places import HOURS_LOOKED_BACK, Weather, place_report
from forecast.desk.season import in_season
from forecast.desk.sources import service
from forecast.desk.stands import Seen, seen_stands, stands
from forecast.diseases import MODELS
from forecast.diseases.events import Event
from forecast.errors import Notice
from forecast.ingest.keep.archive import Issue, issues
from forecast.outlook.calibration import as_they_are
from forecast.outlook.lead_skill import LeadSkill
from forecast.outlook.library import Library
from forecast.outlook.prospect import Prospect
from forecast.report.page import PlaceReport
from forecast.stand import Stand
from forecast.turf import Area, Disease

# A stand watered or freed of dew on set days is wet or dry on those: the usual chance of a date knows no weekday.
WATERED = ("leaf_wet_fraction", "water_on_turf_mm")
SET_DAYS = "members taken at their word: usual chances do not know on which days this stand is watered or freed of dew"


@dataclass(frozen=True, eq=False)
class Known:
    """One morning of a workspace.

    Attributes:
        settings: the workspace's.
        clock: the moment, clock time of the site.
        today: day number of its date.
        offset_minutes: standard time minus UTC.
        stands: of each area, by area id.
        seen: what is known of each stand, by stand id.
        calibrations: what members are worth.
        weather: what place reports are made of.
        notices: trouble met; place reports add to it.
        prospects: those that were asked for, by stand and event; areas of one stand share them.
    """

    settings: Settings
    clock: datetime
    today: int
    offset_minutes: int
    stands: Mapping[str, Stand]
    seen: Mapping[str, Seen]
    calibrations: Calibrations
    weather: Weather
    notices: list[Notice]
    prospects: dict[tuple[object, ...], Prospect] = field(default_factory=dict)

    @property
    def switched_on(self) -> Collection[str]:
        """Models that decide by the owner's word."""
        return self.settings.grounds.models_switched_on

    @property
    def known_by(self) -> str:
        """The moment, UTC, as records write it."""
        return self.clock.astimezone(UTC).strftime(records.UTC_FORM)

    def of(self, area: Area) -> Seen | None:
        """What is known of an area's stand; None for nothing."""
        return self.seen.get(self.stands[area.area_id].stand_id)

    def prospect(self, area: Area, event: Event) -> Prospect | None:
        """What can be said of an event on an area; None where nothing is known of its stand."""
        found = self.of(area)
        if found is None:
            return None
        models = (tuple(model.key for model in some) for some in (event.deciding, event.beside))
        named = (found.view.stand.stand_id, event.disease, *models)
        if named not in self.prospects:
            self.prospects[named] = self._prospect(found, event)
        return self.prospects[named]

    def _prospect(self, found: Seen, event: Event) -> Prospect:
        members, setting = found.view.ahead, found.view.stand.setting
        if members is None:
            return Prospect(found.view, event)
        watered = setting.irrigation is not None or setting.dew_removal is not None
        if watered and any(one.quantity in WATERED for model in event.deciding for one in model.inputs):
            at_their_word = as_they_are(members.source, SET_DAYS)
            return Prospect(found.view, event, at_their_word, at_their_word)
        return Prospect(
            found.view, event, self.calibrations.of(event, members.source), self.calibrations.of(event, "readings")
        )

    def place(self, place_id: str) -> PlaceReport:
        """What a page tells of one place; adds notices where its data are old or none."""
        return place_report(self.weather, place_id, self.notices)

    def latitude_deg(self, area: Area) -> float:
        """Of the area's place."""
        return self.settings.place(area.place_id).where.latitude_deg

    def is_in_season(self, area: Area, disease: Disease) -> bool:
        """Whether the month lies within a disease's season there or next to it."""
        return in_season(disease, self.latitude_deg(area), self.clock.month)


def known_morning(
    settings: Settings, database: Database, as_of: datetime, areas: Sequence[Area], notices: Sequence[Notice] = ()
) -> Known:
    """What was known by a moment.

    Args:
        settings: the workspace's.
        database: the workspace's.
        as_of: an aware moment; nothing that was not known by then is read.
        areas: which are asked about.
        notices: trouble met before.
    """
    clock = as_of.astimezone(settings.grounds.zone)
    now_utc = utc_minute(as_of)
    hours = known_hours(settings, database, now_utc)
    offset_minutes = settings.grounds.standard_offset_minutes(clock.year)
    today = day_number(clock.date())
    by_area = stands(settings)
    # Provisional models are shown in the pressure view; here they would be run for nothing.
    switched_on = settings.grounds.models_switched_on
    models = [model for model in MODELS.values() if model.standing != "provisional" or model.key in switched_on]
    newest = newest_issues(settings, database, now_utc)
    ahead = None if hours is None else looks_ahead(settings, database, hours, newest, now_utc, today, offset_minutes)
    seen = seen_stands(areas, by_area, hours, today, now_utc, offset_minutes, models, ahead)
    views = {one.view.stand.place_id: one.view for one in seen.values()}
    fitted_by = as_of.astimezone(UTC).strftime(records.UTC_FORM)
    fitted, damaged = calibrations_or_shipped(settings, fitted_by)
    return Known(
        settings,
        clock,
        today,
        offset_minutes,
        by_area,
        seen,
        fitted,
        Weather(settings, database, clock, hours, views, newest, {} if ahead is None else ahead.worth),
        _notices(settings, database, hours, now_utc, [*notices, *damaged]),
    )


def looks_ahead(
    settings: Settings,
    database: Database,
    hours: KnownHours,
    newest: Mapping[str, Issue],
    now_utc: np.datetime64,
    today: int,
    offset_minutes: int,
) -> LookingAhead:
    """What makes members, each place's forecast worth what it has been worth there by the moment."""

    def worth(issue: Issue, stock: Library, place_id: str) -> LeadSkill:
        return skill_of(settings, database, hours, place_id, stock, issue.forecast.provider.key, now_utc)

    return LookingAhead(settings, newest, now_utc, today, offset_minutes, worth)


def newest_issues(settings: Settings, database: Database, now_utc: np.datetime64) -> dict[str, Issue]:
    """Per station the newest forecast of the service that is set, else of any that was archived."""
    stations = tuple(station.id for station in settings.grounds.station)
    asked = service(settings)
    wanted = None if asked is None else asked.provider.key
    newest = issues(database, stations, now_utc, last_only=True)
    ordered = sorted(newest, key=lambda issue: issue.forecast.provider.key == wanted)  # stable: the last one wins
    return {issue.station_id: issue for issue in ordered}


def _notices(
    settings: Settings,
    database: Database,
    hours: KnownHours | None,
    now_utc: np.datetime64,
    notices: Sequence[Notice],
) -> list[Notice]:
    """What was met before, stations that the settings do not know, and what checks found lately."""
    told = list(notices)
    if hours is None:
        strangers = stored_elsewhere(settings, database)
        if strangers:
            text = (
                f"hours are stored for {', '.join(strangers)}, which grounds.toml does not know: was a station renamed?"
            )
            told.append(Notice(text, grave=True))
        return told
    lately = now_utc.astype("datetime64[h]") - np.timedelta64(HOURS_LOOKED_BACK, "h")
    names = {station.id: station.name for station in settings.grounds.station}
    return told + [replace(one, series=names[one.series]) for one in quality.notices(hours.verdicts, lately)]
