"""Application windows: what the morning page asks for, put on hours that label, weather, light and crew leave free."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from forecast import __version__, records
from forecast.canopy.watering import irrigation_mm
from forecast.clock import date_of, day_number, local, utc_minute
from forecast.config import Settings
from forecast.config.cells import DAYS
from forecast.database import Database
from forecast.desk.deciding import Decided, Records, decided, is_shown
from forecast.desk.hours import KnownHours, known_hours
from forecast.desk.journal import area_named
from forecast.desk.known import Known, known_morning, looks_ahead, newest_issues
from forecast.desk.looking_ahead import LookingAhead, PlaceOutlook
from forecast.outlook.ahead import PlaceAhead, StandAhead
from forecast.panel import Floats, Panel
from forecast.report.label_words import limit_words
from forecast.report.windows import (
    WINDOWS_SCHEMA,
    DiseaseWindow,
    HourReport,
    Stretch,
    WindowArea,
    WindowDay,
    WindowsPage,
)
from forecast.report.words import CAUTIONS
from forecast.schedule.legality import day_refusals
from forecast.schedule.spray_hours import LEAD_IN_H, HoursAhead, SprayHours, SprayLimits, judge, limits_of
from forecast.schedule.stretches import Run, best_run, runs
from forecast.stand import Stand, place_hours
from forecast.turf import DISEASES, GRASSES, Area, Disease

# House choice: what stops fewer of the ways is not told, unless nothing else says why an hour is not fit.
STOP_SHARE = 0.2
STOPS_TOLD = 2
NO_WIND = "no wind is read or forecast here, so that no hour can be called fit to spray"


def windows(
    settings: Settings, database: Database, as_of: datetime, *, replay: bool, area_id: str | None = None
) -> WindowsPage:
    """The windows of a workspace's areas.

    Args:
        settings: the workspace's.
        database: the workspace's.
        as_of: an aware moment; nothing that was not known by then is read.
        replay: True where the moment was asked for.
        area_id: one area, by id or name; None for all.

    Raises:
        DataError: there is no such area.
    """
    areas = settings.areas if area_id is None else (area_named(settings, area_id),)
    known = known_morning(settings, database, as_of, areas)
    shared = Records(known, records.applications(database, known.known_by), records.sightings(database, known.known_by))
    hours = _HoursOf(settings, database, known)
    found = tuple(_area(shared, hours, area) for area in areas)
    return WindowsPage(
        WINDOWS_SCHEMA,
        __version__,
        settings.grounds.name,
        settings.grounds.invented,
        known.clock,
        replay,
        settings.grounds.time_zone,
        settings.grounds.units,
        found,
        (*hours.notices, *(f"{n.series}: {n.text}" if n.series else n.text for n in known.notices)),
        CAUTIONS,
    )


class _HoursOf:
    """Hours ahead at each stand that is asked for; of a place they are made once."""

    def __init__(self, settings: Settings, database: Database, known: Known) -> None:
        self._settings, self._known = settings, known
        self._now = utc_minute(known.clock)
        self._hours: KnownHours | None = known_hours(settings, database, self._now)
        newest = newest_issues(settings, database, self._now)
        self._ahead = (
            None
            if self._hours is None
            else looks_ahead(settings, database, self._hours, newest, self._now, known.today, known.offset_minutes)
        )
        self._at: dict[str, HoursAhead | None] = {}
        self._last: tuple[str, PlaceOutlook | None] | None = None
        self.notices: dict[str, None] = {}

    def judged(self, area: Area, limits: SprayLimits) -> SprayHours | None:
        """Hours that begin now or later; what fell before them and how the night went is looked at too."""
        ahead = self._of(area)
        if ahead is None:
            return None
        begun = ahead.hours - np.timedelta64(1, "h") < self._now
        return judge(ahead, limits).since(int(np.count_nonzero(begun)))

    def _of(self, area: Area) -> HoursAhead | None:
        stand = self._known.stands[area.area_id]
        if stand.stand_id not in self._at:
            self._at[stand.stand_id] = self._made(area)
        return self._at[stand.stand_id]

    def _of_place(self, stand: Stand, hours: KnownHours, ahead: LookingAhead) -> PlaceOutlook | None:
        """Of one place at a time: they are large, and the areas of a place mostly stand together."""
        if self._last is None or self._last[0] != stand.place_id:
            place = place_hours(hours.panel.only(hours.panel.series.index(stand.place_id)), stand.where)
            self._last = stand.place_id, ahead.place(stand.place_id, place)
        return self._last[1]

    def _made(self, area: Area) -> HoursAhead | None:
        seen, stand = self._known.of(area), self._known.stands[area.area_id]
        if self._hours is None or self._ahead is None or seen is None:
            return None
        outlook = self._of_place(stand, self._hours, self._ahead)
        if outlook is None:
            return None
        told_so = replace(stand, wetness=seen.wetness.method)  # that tells the record, as on every page
        turf = StandAhead(PlaceAhead(outlook.past, outlook.ahead, told_so), told_so).turf
        rows = turf.hours - np.timedelta64(1, "h") >= self._now - np.timedelta64(LEAD_IN_H, "h")
        zone = self._settings.grounds.zone
        values = {name: _values(turf, name)[rows] for name in _READ}
        if np.isnan(values["wind_speed_10m_m_s"]).all():
            self.notices[f"{self._settings.place(area.place_id).name}: {NO_WIND}"] = None
        stamps = turf.hours[rows]
        return HoursAhead(
            stamps,
            **values,
            sun_elevation_deg=_values(turf, "sun_elevation_deg")[rows][:, 0],
            working=_working(stamps, self._settings, zone),
            watering_mm=irrigation_mm(stamps, [stand.setting], zone)[:, 0],
        )


_READ = (
    "air_temperature_c", "relative_humidity_pct", "rain_mm", "wind_speed_10m_m_s", "cloud_cover_fraction",
    "leaf_wet_fraction",
)  # fmt: skip


def _values(panel: Panel, name: str) -> Floats:
    """One quantity, shape (hours, members); unknown throughout where it is not read."""
    shape = panel.values["air_temperature_c"].shape
    found = panel.values.get(name)
    if found is None:
        return np.full((shape[0], shape[2]), np.nan)
    return np.broadcast_to(found if found.ndim == 3 else found[:, :, None], shape)[:, 0]


def _working(stamps: np.ndarray, settings: Settings, zone: ZoneInfo) -> np.ndarray:
    """Hours that begin and end within the working hours of a working day."""
    work = settings.grounds.work
    days = work.days.split()
    found = np.zeros(len(stamps), dtype=bool)
    for row, stamp in enumerate(stamps):
        end = local(stamp, zone)
        start = end - timedelta(hours=1)
        same_day = start.date() == end.date()
        open_day = DAYS[start.weekday()] in days and start.date() not in work.closed
        found[row] = same_day and open_day and start.time() >= work.start and end.time() <= work.end
    return found


def _area(shared: Records, hours: _HoursOf, area: Area) -> WindowArea:
    shown = [one for one in DISEASES.values() if area.grass in one.grasses and is_shown(shared, area, one)]
    found = tuple(_disease(shared, hours, area, disease) for disease in shown)
    return WindowArea(area.area_id, area.area_name, area.property_name, GRASSES[area.grass].name, found)


def _disease(shared: Records, hours: _HoursOf, area: Area, disease: Disease) -> DiseaseWindow:
    one = decided(shared, area, disease)
    given, option = one.given, one.given.option
    if given.word != "treat" or option is None or given.needed_by is None or given.last_day is None:
        return DiseaseWindow(
            disease.key, disease.name, given.word, given.reasons, None, "", "", "", "", (), (), None, None, ()
        )
    label = option.label
    limits = limits_of(label)
    judged = hours.judged(area, limits)
    zone = shared.settings.grounds.zone
    days = tuple(
        _day(shared, area, one, judged, day, zone)
        for day in range(max(given.first_day or shared.today, shared.today), given.last_day + 1)
    )
    stretches = [stretch for day in days if not day.legal for stretch in day.stretches]
    best = best_run([(day_number(one.start.date()), _as_run(one)) for one in stretches])
    us = shared.settings.grounds.units == "us"
    return DiseaseWindow(
        disease.key,
        disease.name,
        given.word,
        given.reasons,
        date_of(given.needed_by),
        label.name,
        option.use.rate_as_printed,
        label.gear,
        label.keep_off,
        tuple(limit_words(limits, us=us)),
        days,
        None if best is None else stretches[best],
        stretches[-1] if stretches else None,
        () if judged is None else _hours(judged, days, zone),
        _this_year(shared, area, disease),
    )


def _this_year(shared: Records, area: Area, disease: Disease) -> int:
    since = day_number(date(shared.known.clock.year, 1, 1))
    return sum(
        one.area_id == area.area_id and disease.key in one.diseases and since <= one.day <= shared.today
        for one in shared.applications
    )


def _day(
    shared: Records,
    area: Area,
    one: Decided,
    judged: SprayHours | None,
    day: int,
    zone: ZoneInfo,
) -> WindowDay:
    on = date_of(day)
    option = one.given.option
    made = [a for a in shared.applications if a.area_id == area.area_id]
    refused = [] if option is None else day_refusals(option.label, option.use, made, day)
    legal = next((refusal.words for refusal in refused if refusal.by != "house"), "")
    late = one.facts.chances[day - one.facts.start].value if day >= one.facts.start else 0.0
    if judged is None:
        return WindowDay(on, legal, 0, 0, 0, (), (), late)
    starts = [local(stamp, zone) - timedelta(hours=1) for stamp in judged.hours]
    rows = np.array([start.date() == on for start in starts]) & judged.working & (judged.stops["dark"] == 0)
    fit = judged.fit & rows
    found = runs(fit, judged.fit_share)
    return WindowDay(
        on,
        legal,
        int(rows.sum()),
        int(fit.sum()),
        int((np.isnan(judged.fit_share) & rows).sum()),
        _stops(judged, rows & ~fit),
        tuple(_stretch(judged, starts, run) for run in found),
        late,
    )


def _stops(judged: SprayHours, rows: np.ndarray) -> tuple[str, ...]:
    """What stops some hours, the most frequent first."""
    counts = {name: float(np.nansum(share[rows])) for name, share in judged.stops.items()}
    return tuple(sorted((name for name in counts if counts[name] >= STOP_SHARE), key=lambda name: -counts[name]))


def _stretch(judged: SprayHours, starts: Sequence[datetime], run: Run) -> Stretch:
    rows = slice(run.first, run.last + 1)
    cautions = tuple(name for name, share in judged.cautions.items() if np.nanmax(share[rows]) >= STOP_SHARE)
    return Stretch(starts[run.first], starts[run.last] + timedelta(hours=1), run.least_share, cautions)


def _as_run(stretch: Stretch) -> Run:
    return Run(0, round((stretch.end - stretch.start) / timedelta(hours=1)) - 1, stretch.least_share)


def _hours(judged: SprayHours, days: Sequence[WindowDay], zone: ZoneInfo) -> tuple[HourReport, ...]:
    wanted: set[date] = {day.day for day in days}
    found = []
    for row, stamp in enumerate(judged.hours):
        start = local(stamp, zone) - timedelta(hours=1)
        if start.date() in wanted:
            share = judged.fit_share[row]
            stops = _stops_of(judged, row)
            cautions = ((name, float(told[row])) for name, told in judged.cautions.items() if told[row] >= STOP_SHARE)
            found.append(HourReport(start, None if np.isnan(share) else float(share), stops, tuple(cautions)))
    return tuple(found)


def _stops_of(judged: SprayHours, row: int) -> tuple[tuple[str, float], ...]:
    """What stops one hour; of an hour that many small things stop, the largest of them."""
    told = [(str(name), float(share[row])) for name, share in judged.stops.items() if share[row] > 0]
    large = tuple(one for one in told if one[1] >= STOP_SHARE)
    if large or judged.fit[row]:
        return large
    return tuple(sorted(told, key=lambda one: -one[1])[:STOPS_TOLD])
