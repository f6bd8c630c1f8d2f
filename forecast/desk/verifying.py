"""Past mornings of a workspace told again, scored, and fitted: how good its chances are, and what they are worth."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from forecast import __version__
from forecast.clock import date_of, utc_minute
from forecast.config import Settings
from forecast.daily import last_stamp
from forecast.database import Database
from forecast.desk.calibrations import key
from forecast.desk.forecast_skill import recent_issues, skill_from
from forecast.desk.hours import KnownHours, known_hours
from forecast.desk.journal import area_named
from forecast.desk.known import newest_issues
from forecast.desk.looking_ahead import OLDEST_FORECAST_HOURS
from forecast.desk.places import nearest_station
from forecast.desk.season import season_months
from forecast.desk.stands import areas_of, stands
from forecast.diseases.events import Event, event_for
from forecast.errors import DataError
from forecast.ingest.keep.archive import Issue
from forecast.outlook.calibration import LEADS, Calibration, Source
from forecast.outlook.expected import aged, expected
from forecast.outlook.lead_skill import ASSUMED, LeadSkill
from forecast.outlook.library import Library, library
from forecast.outlook.members import Expected
from forecast.outlook.opening import TWO_IN_A_WEEK
from forecast.report.verify import (
    ACT_FROM_SKILL,
    FEW_SEASONS,
    RATIOS,
    VERIFY_SCHEMA,
    BinReport,
    LeadReport,
    OpeningScores,
    ReliabilityReport,
    ScoreReport,
    VerifiedEvent,
    VerifiedSource,
    VerifyReport,
)
from forecast.stand import Stand, place_hours, stand_hours
from forecast.turf import DISEASES, Area, Disease
from forecast.verify.corp import corp
from forecast.verify.emulate import Emulated, Emulator
from forecast.verify.fit import Fitted, fit
from forecast.verify.hindcast import Forecaster, Hindcast, Record, hindcast, record, seasons
from forecast.verify.opening import opening_skill
from forecast.verify.opening_hindcast import opening_hindcast
from forecast.verify.pool import Pool, pool
from forecast.verify.reliability import reliability, slope
from forecast.verify.scores import brier_score, stratified_auc
from forecast.verify.value import excess_expense
from forecast.verify.year_blocks import Skill, skill_with_interval

READ_AT_MINUTE = 5 * 60 + 30  # half past five, of standard time here: when the page is read
LEAST_BIN_CASES = 20  # house choice: a bin with fewer says nothing
LEAD_GROUPS = ((1, 3), (4, 7), (8, 14))
BAND_DRAWS, BAND_SEED = 1000, 20400101
SKILL_EVERY_DAYS = 7  # how often what issued forecasts are worth is learned anew while mornings are told again
LEAST_MORNINGS = 5  # of a season, for it to count towards what is kept
OPENING_EVERY_DAYS = 14  # mornings before an opening that are told again; each makes members of half a year


@dataclass(frozen=True, eq=False)
class _Task:
    """Events of one stand whose mornings lie in the same months."""

    stand: Stand
    areas: tuple[Area, ...]
    months: tuple[int, int]
    diseases: tuple[Disease, ...]
    events: tuple[Event, ...]


@dataclass(frozen=True, eq=False)
class Verified:
    """What a verification found.

    Attributes:
        report: for a reader.
        tables: calibrations fitted on five seasons and more, over all places, by the key of
            :mod:`forecast.desk.calibrations`; none of emulated forecasts.
    """

    report: VerifyReport
    tables: dict[str, Calibration]


def verify(
    settings: Settings,
    database: Database,
    moment: datetime,
    *,
    area_id: str | None = None,
    every_days: int = 3,
    emulated: Emulated | None = None,
    openings: bool = False,
    seed: int = BAND_SEED,
    progress: Callable[[str, int], Callable[[object], None]] | None = None,
) -> Verified:
    """How good the chances of a workspace's events were.

    Args:
        settings: the workspace's.
        database: the workspace's.
        moment: aware; nothing that was not known by then is read.
        area_id: one area; None for the first area of each place and event.
        every_days: one morning in so many.
        emulated: an assumed provider to be emulated beside readings and archived forecasts; None for none.
        openings: whether openings of seasons are told again too; each takes members of half a year.
        seed: of the emulated forecasts' errors and of the bands.
        progress: told what is done and of how many steps; gives what moves it on.

    Raises:
        DataError: there is no such area, or no weather.
    """
    now_utc = utc_minute(moment)
    hours = known_hours(settings, database, now_utc)
    if hours is None or "air_temperature_c" not in hours.at_places.panel.values:
        raise DataError("no weather is known by this moment", hint="load some with 'forecast weather load' or 'fetch'")
    clock = moment.astimezone(settings.grounds.zone)
    offset_minutes = settings.grounds.standard_offset_minutes(clock.year)
    lags: set[int] = set()
    found: list[VerifiedEvent] = []
    kept: dict[str, tuple[Source, list[Hindcast]]] = {}
    for task in _tasks(settings, area_id):
        lag_minutes = _lag_minutes(settings, task.stand.place_id)
        lags.add(lag_minutes)
        last_known_hour = _last_known_hour(lag_minutes)
        read = hours.at_places.panel  # a typical year never was, and is no season to be told
        place = place_hours(read.only(read.series.index(task.stand.place_id)), task.stand.where)
        told_so = replace(task.stand, wetness=stand_hours(place, task.stand).wet.method.key)
        rec = record(task.stand.place_id, place, told_so, offset_minutes, task.events)
        ways = _ways(settings, database, hours, rec, task, now_utc, emulated, seed)
        told: list[list[tuple[_Way, Fitted, Pool]]] = [[] for _ in task.events]
        for way in ways:
            years = [year for year, _, _ in seasons(rec.days, task.months, way.years)]
            label = f"{', '.join(disease.name for disease in task.diseases)}, {way.name}"
            step = (lambda _: None) if progress is None else progress(label, len(years))
            parts = hindcast(
                rec,
                task.months,
                way.skill,
                last_known_hour=last_known_hour,
                forecaster_of=way.forecaster_of,
                every_days=every_days,
                years=way.years,
                progress=step,
            )
            for number, part in enumerate(parts):
                if _tellable(part):
                    if not way.emulated:
                        kept.setdefault(key(task.events[number], way.source), (way.source, []))[1].append(part)
                    mornings = pool([part])
                    told[number].append((way, fit(mornings, way.source, way.made), mornings))
        for disease, event, rows in zip(task.diseases, task.events, told, strict=True):
            opening = _opening(rec, event, task.months, last_known_hour) if openings else None
            found.append(_event(settings, rec, task, disease, event, rows, opening))
    late = " or ".join(str(lag) for lag in sorted(lags))
    report = VerifyReport(
        VERIFY_SCHEMA,
        __version__,
        settings.grounds.name,
        settings.grounds.invented,
        clock,
        every_days,
        f"05:30, standard time all year, with readings that come {late} minutes late",
        tuple(found),
        (),
    )
    return Verified(report, _tables(kept))


def _tables(kept: dict[str, tuple[Source, list[Hindcast]]]) -> dict[str, Calibration]:
    """Calibrations of the events told again, each over all its places, where there are seasons enough."""
    found = {}
    for name, (source, parts) in kept.items():
        mornings = pool(parts)
        _, count = np.unique(mornings.year, return_counts=True)
        if np.count_nonzero(count >= LEAST_MORNINGS) >= FEW_SEASONS:
            made = f"past mornings here ({', '.join(mornings.stations)})"
            found[name] = fit(mornings, source, made).calibration
    return found


@dataclass(frozen=True, eq=False)
class _Way:
    """One way of telling the days ahead."""

    name: str
    source: Source
    emulated: str
    made: str
    skill: LeadSkill | Callable[[int], LeadSkill]
    forecaster_of: Callable[[Library, int], Forecaster | None] | None
    years: tuple[int, ...] | None


def _tasks(settings: Settings, area_id: str | None) -> list[_Task]:
    """One task a stand and months; an event that another area of the place has already is not told again."""
    by_area = stands(settings)
    areas = settings.areas if area_id is None else (area_named(settings, area_id),)
    seen: set[tuple[str, str]] = set()
    grouped: dict[tuple[str, tuple[int, int]], list[tuple[Area, Disease, Event]]] = {}
    for area in areas:
        latitude = settings.place(area.place_id).where.latitude_deg
        for disease in DISEASES.values():
            if area.grass not in disease.grasses:
                continue
            event = event_for(disease.key, area.grass, settings.grounds.models_switched_on)
            known = (area.place_id, key(event, "readings"))
            if not event.deciding or known in seen:
                continue
            seen.add(known)
            months = season_months(disease, latitude)
            grouped.setdefault((by_area[area.area_id].stand_id, months), []).append((area, disease, event))
    tasks = []
    for (_, months), rows in grouped.items():
        stand = by_area[rows[0][0].area_id]
        sharing = areas_of(by_area, stand.stand_id, settings.areas)
        tasks.append(_Task(stand, sharing, months, tuple(r[1] for r in rows), tuple(r[2] for r in rows)))
    return tasks


def _ways(
    settings: Settings,
    database: Database,
    hours: KnownHours,
    rec: Record,
    task: _Task,
    now_utc: np.datetime64,
    emulated: Emulated | None,
    seed: int,
) -> list[_Way]:
    place = settings.place(task.stand.place_id).name
    ways = [_Way("readings", "readings", "", f"readings at {place}", ASSUMED, None, None)]
    station = nearest_station(settings, task.stand.place_id)
    newest = newest_issues(settings, database, now_utc).get(station)
    provider = None if newest is None else newest.forecast.provider.key
    issued = () if provider is None else recent_issues(database, station, provider, now_utc)
    if issued:
        lag_minutes = _lag_minutes(settings, task.stand.place_id)
        archived = _Archived(issued, hours, task.stand.place_id, rec, lag_minutes)
        first, last = (int(one.issued_utc.astype("datetime64[D]").astype(int)) for one in (issued[0], issued[-1]))
        years = tuple(year for year, start, end in seasons(rec.days, task.months) if start <= last and end >= first)
        made = f"weather forecasts of {issued[-1].forecast.provider.name}, as they were issued, and readings at {place}"
        ways.append(_Way("issued forecasts", "forecast", "", made, archived.skill, archived.of_fold, years))
    if emulated is not None:

        def emulator(stock: Library, year: int) -> Forecaster:
            return Emulator(rec.past, stock, emulated, np.random.default_rng([seed, year])).forecast  # noqa: TID251

        r = (np.array(emulated.temperature_r) + np.array(emulated.depression_r)) / 2
        made = f"emulated forecasts of {emulated.name} assumed skill, which prove no provider, and readings at {place}"
        skill = replace(ASSUMED, correlation=r, slope=r)
        ways.append(_Way("emulated forecasts", "forecast", emulated.name, made, skill, emulator, None))
    return ways


def _lag_minutes(settings: Settings, place_id: str) -> int:
    """How late the readings of the station nearest to a place are taken to come."""
    station = nearest_station(settings, place_id)
    return next(one.observation_lag_minutes for one in settings.grounds.station if one.id == station)


def _last_known_hour(lag_minutes: int) -> int:
    """Hour of standard time of the last reading that a page can know; of the day before where it is below 0."""
    return (READ_AT_MINUTE - lag_minutes) // 60


class _Archived:
    """What issued forecasts said on past mornings, and what they were worth by then."""

    def __init__(
        self, issued: Sequence[Issue], hours: KnownHours, place_id: str, rec: Record, lag_minutes: int
    ) -> None:
        self._issued, self._hours, self._place_id, self._rec = issued, hours, place_id, rec
        self._lag_minutes, self._last_known_hour = lag_minutes, _last_known_hour(lag_minutes)
        self._fetched = np.array([one.fetched_utc for one in issued])
        self._learned: dict[int, LeadSkill] = {}
        self._stock: Library | None = None

    def of_fold(self, _stock: Library, _year: int) -> Forecaster:
        return self.forecast

    def forecast(self, last_known: np.datetime64, hours_ahead: int) -> Expected | None:
        issue = self._newest(last_known)
        if issue is None:
            return None
        return expected(issue.forecast.hours, issue.forecast.values, last_known, hours_ahead)

    def skill(self, day: int) -> LeadSkill:
        """What a morning's newest forecast was worth by its age, and by the mornings before, learned anew weekly."""
        last_known = last_stamp(day, self._rec.offset_minutes, self._last_known_hour)
        issue = self._newest(last_known)
        return aged(self._learned_by(day), 0.0 if issue is None else issue.older_h(last_known))

    def _learned_by(self, day: int) -> LeadSkill:
        week = day // SKILL_EVERY_DAYS
        if week not in self._learned:
            if self._stock is None:
                self._stock = library(self._rec.past)
            known_by = np.datetime64(week * SKILL_EVERY_DAYS, "D").astype("datetime64[m]")
            some = [one for one in self._issued if one.fetched_utc <= known_by]
            self._learned[week] = (
                skill_from(some, self._hours, self._place_id, self._stock, known_by) if some else ASSUMED
            )
        return self._learned[week]

    def _newest(self, last_known: np.datetime64) -> Issue | None:
        """The last one that a page read when this reading was its last could know."""
        by = last_known.astype("datetime64[s]") + np.timedelta64(60 * self._lag_minutes, "s")
        known = np.flatnonzero(self._fetched <= by)
        if not known.size:
            return None
        issue = self._issued[int(known[-1])]
        return issue if issue.older_h(by) <= OLDEST_FORECAST_HOURS else None


def _tellable(part: Hindcast) -> bool:
    return len(part.day) > 0 and bool(np.isfinite(part.usual).any()) and bool(np.isfinite(part.happened).any())


def _event(
    settings: Settings,
    rec: Record,
    task: _Task,
    disease: Disease,
    event: Event,
    rows: Sequence[tuple[_Way, Fitted, Pool]],
    opening: OpeningScores | None,
) -> VerifiedEvent:
    number = task.events.index(event)
    inside = np.zeros(len(rec.days), dtype=bool)
    for _, first, last in seasons(rec.days, task.months):
        inside |= (rec.days >= first) & (rec.days <= last)
    came = rec.came[number][inside]
    known = came[~np.isnan(came)]
    return VerifiedEvent(
        key(event, "readings").removesuffix(" by readings"),
        disease.key,
        disease.name,
        event.words,
        settings.place(task.stand.place_id).name,
        tuple(area.area_name for area in task.areas),
        task.months,
        float(known.mean()) if known.size else None,
        tuple(_source(way, fitted, mornings) for way, fitted, mornings in rows),
        opening,
    )


def _opening(rec: Record, event: Event, months: tuple[int, int], last_known_hour: int) -> OpeningScores | None:
    """How good openings told from readings were; None without a season to tell or others to tell it from."""
    found = opening_hindcast(
        rec,
        event,
        months,
        TWO_IN_A_WEEK,
        ASSUMED,
        last_known_hour=last_known_hour,
        every_days=OPENING_EVERY_DAYS,
    )
    if not len(found.first) or not np.isfinite(found.usual).any():
        return None
    skill = opening_skill([found])
    return OpeningScores(
        skill.mornings,
        skill.seasons,
        _score(skill.soon),
        _score(skill.days),
        _or_none(skill.inside.value),
        _or_none(skill.width_days),
        _or_none(skill.usual_width_days),
    )


def _source(way: _Way, fitted: Fitted, mornings: Pool) -> VerifiedSource:
    leads = tuple(_lead(lead, fitted, mornings) for lead in range(1, LEADS + 1))
    better = max(fitted.calibration.told_days - 1, 0)
    worth = [lead.skill.value is not None and lead.skill.value >= ACT_FROM_SKILL for lead in leads[:better]]
    act = worth.index(False) if False in worth else better
    return VerifiedSource(
        way.source,
        way.emulated,
        way.made,
        len(mornings.day),
        len(np.unique(mornings.year)),
        date_of(int(mornings.day.min())),
        date_of(int(mornings.day.max())),
        better,
        act,
        leads,
        _window(fitted, mornings, 1, 7),
        _window(fitted, mornings, 8, 14),
        tuple(_reliability(fitted, mornings, first, last) for first, last in LEAD_GROUPS),
    )


def _lead(lead: int, fitted: Fitted, mornings: Pool) -> LeadReport:
    told, usual, came = fitted.days[:, lead], mornings.usual[:, lead], mornings.happened[:, lead]
    known = ~np.isnan(told + usual + came)
    told, usual, came, year = told[known], usual[known], came[known], mornings.year[known]
    parts = corp(told, came)
    raw = skill_with_interval((mornings.members[known, lead] - came) ** 2, (usual - came) ** 2, year)
    stacked = not np.isnan(fitted.calibration.stack[lead]).any()
    by_usual = lead >= fitted.calibration.told_days
    crps = skill_with_interval(mornings.crps[:, lead], mornings.usual_crps[:, lead], mornings.year)
    return LeadReport(
        lead,
        int(known.sum()),
        brier_score(told, came),
        brier_score(usual, came),
        ScoreReport(0.0, 0.0, 0.0) if by_usual else _score(fitted.skill[lead]),
        _or_none(raw.value),
        "usual" if by_usual else "regression" if stacked else "weight",
        _or_none(parts.miscalibration),
        _or_none(parts.discrimination),
        _or_none(parts.uncertainty),
        _or_none(stratified_auc(told, came, _third(mornings.day[known] + lead))),
        _score(crps),
        tuple(
            _score(skill_with_interval(excess_expense(told, came, ratio), excess_expense(usual, came, ratio), year))
            for ratio in RATIOS
        ),
    )


def _third(days: np.ndarray[tuple[int, ...], np.dtype[np.int64]]) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
    """Third of the season by the date, so that chances are not praised for knowing the calendar."""
    dates = days.astype("datetime64[D]")
    since = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64)
    edges = np.quantile(since, [1 / 3, 2 / 3]) if since.size else np.zeros(2)
    third: np.ndarray[tuple[int, ...], np.dtype[np.int64]] = np.searchsorted(edges, since)
    return third


def _window(fitted: Fitted, mornings: Pool, first: int, last: int) -> ScoreReport:
    told, came = fitted.within[:, first, last], mornings.happened_within[:, first, last]
    usual = mornings.usual_within[:, first, last]
    return _score(skill_with_interval((told - came) ** 2, (usual - came) ** 2, mornings.year))


def _reliability(fitted: Fitted, mornings: Pool, first: int, last: int) -> ReliabilityReport:
    leads = slice(first, last + 1)
    told, came = fitted.days[:, leads].ravel(), mornings.happened[:, leads].ravel()
    year = np.repeat(mornings.year, last + 1 - first)
    found = reliability(told, came, year, draws=BAND_DRAWS, random=np.random.default_rng(BAND_SEED))  # noqa: TID251
    return ReliabilityReport(
        first,
        last,
        _or_none(slope(told, came)),
        tuple(
            BinReport(one.count, one.mean_chance, one.frequency, one.consistent_low, one.consistent_high)
            for one in found
            if one.count >= LEAST_BIN_CASES
        ),
    )


def _score(skill: Skill) -> ScoreReport:
    return ScoreReport(_or_none(skill.value), _or_none(skill.low), _or_none(skill.high))


def _or_none(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
