"""Past mornings told again: the members' answers for the days ahead, what was usual, and what came.

Whole years are left out: for a morning of a year the stock of past years, the usual values, the climatology and what
readings say are made from the other years only, with a month kept off at either end. What a morning knows of its own
year is its readings up to that hour, and the forecast that it is given.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.clock import date_of, day_number
from forecast.daily import Days, last_stamp
from forecast.diseases.events import Event, any_passed
from forecast.diseases.pressure import pressure
from forecast.outlook.ahead import HISTORY_HOURS, OF_THE_AIR, PlaceAhead, StandAhead
from forecast.outlook.climatology import Usual
from forecast.outlook.lead_skill import LeadSkill
from forecast.outlook.library import BLENDED, Library, library
from forecast.outlook.members import Expected, fortnight
from forecast.panel import Floats, Panel
from forecast.stand import Stand, stand_hours

LEADS = 16
GUARD_DAYS = 30  # no block, lag or smoothing reaches the season that is left out
STATE = ("last_day", "days_5", "days_14")
UNKNOWN = -1

Forecaster = Callable[[np.datetime64, int], Expected | None]
ForecasterOf = Callable[[Library, int], Forecaster | None]


@dataclass(frozen=True, eq=False)
class Hindcast:
    """Mornings of one station for one event.

    Attributes:
        station: its name.
        event: what the chances are of.
        day: day number of each morning's date, shape (mornings,).
        year: its calendar year, same shape.
        passed: per morning, day (0 is the morning's own date) and member, 1, 0 or -1 for unknown.
        happened: 1, 0 or NaN, shape (mornings, days).
        usual: chance of a single day by the other years, shape (mornings, days).
        usual_within: chance of at least one event day from the first to the second of two days, shape
            (mornings, days, days); NaN below the diagonal.
        state: anomalies of temperature and dew point over the last 1, 5 and 14 days, shape (mornings, 6).
    """

    station: str
    event: Event
    day: Days
    year: Days
    passed: NDArray[np.int8]
    happened: Floats
    usual: Floats
    usual_within: Floats
    state: Floats


@dataclass(frozen=True, eq=False)
class Record:
    """A station's record made ready: its hours, and whether each event came.

    Attributes:
        station: name.
        past: by :func:`forecast.stand.place_hours`, one series.
        stand: of the turf asked about, with the wetness method that tells the record.
        offset_minutes: standard time minus UTC.
        events: what is asked for.
        days: unbroken day numbers.
        came: per event, 1, 0 or NaN, shape (days,).
    """

    station: str
    past: Panel
    stand: Stand
    offset_minutes: int
    events: tuple[Event, ...]
    days: Days
    came: tuple[Floats, ...]


def record(station: str, past: Panel, stand: Stand, offset_minutes: int, events: Sequence[Event]) -> Record:
    """What came, over a whole record."""
    models = {model.key: model for event in events for model in event.deciding}
    light = all(one.quantity in OF_THE_AIR for model in models.values() for one in model.inputs)
    found = None if light else stand_hours(past, stand)
    told = {
        key: pressure(m, past if found is None else found.panel_for(m.wetness), offset_minutes)
        for key, m in models.items()
    }
    first = min(int(one.days[0]) for one in told.values())
    last = max(int(one.days[-1]) for one in told.values())
    days = np.arange(first, last + 1)
    passed = {}
    for key, one in told.items():
        row = np.full(len(days), np.nan)
        start = int(one.days[0]) - first
        row[start : start + len(one.days)] = one.passed[:, 0]
        passed[key] = row
    came = tuple(any_passed(event.deciding, passed) for event in events)
    return Record(station, past, stand, offset_minutes, tuple(events), days, came)


def hindcast(
    rec: Record,
    months: tuple[int, int],
    skill: LeadSkill,
    *,
    members: int = 100,
    last_known_hour: int = 24,
    forecaster_of: ForecasterOf | None = None,
    every_days: int = 1,
    years: Sequence[int] | None = None,
    progress: Callable[[int], None] | None = None,
) -> list[Hindcast]:
    """Every morning of some months, one hindcast an event.

    Args:
        rec: the station's record.
        months: first and last month of the mornings, 1 to 12, within one calendar year.
        skill: what a forecast is worth.
        members: how many.
        last_known_hour: hour of standard time, on the morning's own date, of the last reading; 24 is its end.
        forecaster_of: given a fold's stock and its year, what says the weather ahead; None for readings only.
        every_days: one morning in so many.
        years: which; None for all that the record touches.
        progress: told the year that is done.
    """
    first_year, last_year = date_of(int(rec.days[0])).year, date_of(int(rec.days[-1])).year
    parts: list[list[_Morning]] = [[] for _ in rec.events]
    for year in years or range(first_year, last_year + 1):
        but = (
            np.datetime64(f"{year}-01-01T00", "h") - np.timedelta64(24 * GUARD_DAYS, "h"),
            np.datetime64(f"{year}-12-31T23", "h") + np.timedelta64(24 * GUARD_DAYS, "h"),
        )
        stock = library(rec.past, but=but)
        out = (rec.days >= day_number(date_of(int(but[0].astype("datetime64[D]").astype(int))))) & (
            rec.days <= int(but[1].astype("datetime64[D]").astype(int))
        )
        usual = [Usual(np.where(out, np.nan, came), rec.days, past_only=False) for came in rec.came]
        forecaster = None if forecaster_of is None else forecaster_of(stock, year)
        first = int(np.datetime64(f"{year}-{months[0]:02d}-01", "D").astype(int))
        last = (
            int(
                (np.datetime64(f"{year}-{months[1]:02d}", "M") + np.timedelta64(1, "M"))
                .astype("datetime64[D]")
                .astype(int)
            )
            - 1
        )
        for day in range(first, last + 1, every_days):
            made = _mornings(rec, stock, usual, skill, forecaster, day, members, last_known_hour)
            for part, one in zip(parts, made, strict=True):
                part.extend([] if one is None else [one])
        if progress is not None:
            progress(year)
    return [_together(rec.station, event, part) for event, part in zip(rec.events, parts, strict=True)]


@dataclass(frozen=True, eq=False)
class _Morning:
    day: int
    passed: NDArray[np.int8]
    happened: Floats
    usual: Floats
    usual_within: Floats
    state: Floats


def _mornings(
    rec: Record,
    stock: Library,
    usual: Sequence[Usual],
    skill: LeadSkill,
    forecaster: Forecaster | None,
    day: int,
    members: int,
    last_known_hour: int,
) -> list[_Morning | None]:
    nothing: list[_Morning | None] = [None] * len(rec.events)
    last_known = last_stamp(day, rec.offset_minutes, last_known_hour)
    until = last_stamp(day + LEADS, rec.offset_minutes, 24)
    length = int((until - last_known).astype(np.int64))
    row = int((last_known - rec.past.hours[0]).astype(np.int64))
    if row < HISTORY_HOURS or row >= len(rec.past.hours):
        return nothing
    now = [rec.past.values[name][row, 0] for name in BLENDED]
    state = _state(stock, rec.past, row)
    if np.isnan(now).any() or np.isnan(state).any():
        return nothing
    recent = rec.past.between(last_known - np.timedelta64(14 * 24 - 1, "h"), last_known)
    expected = None if forecaster is None else forecaster(last_known, length)
    if forecaster is not None and expected is None:
        return nothing
    ahead = fortnight(stock, recent, length, skill, expected, members)
    if ahead is None:
        return nothing
    stand = StandAhead(PlaceAhead(rec.past, ahead, rec.stand), rec.stand)
    models = {model.key: model for event in rec.events for model in event.deciding}
    passed = stand.passed(tuple(models.values()), day, LEADS + 1, rec.offset_minutes)
    found: list[_Morning | None] = []
    for event, came, climate in zip(rec.events, rec.came, usual, strict=True):
        any_of = any_passed(event.deciding, passed)
        single = np.array([climate.value(day + lead, day + lead) for lead in range(LEADS + 1)])
        within = np.full((LEADS + 1, LEADS + 1), np.nan)
        for start in range(LEADS + 1):
            for end in range(start, LEADS + 1):
                within[start, end] = climate.value(day + start, day + end)
        rows = np.arange(day, day + LEADS + 1) - int(rec.days[0])
        happened = np.full(LEADS + 1, np.nan)
        inside = (rows >= 0) & (rows < len(came))
        happened[inside] = came[rows[inside]]
        found.append(
            _Morning(day, np.where(np.isnan(any_of), UNKNOWN, any_of).astype(np.int8), happened, single, within, state)
        )
    return found


def _state(stock: Library, past: Panel, row: int) -> Floats:
    """Mean anomalies of temperature and dew point over the last 1, 5 and 14 days, by the fold's own usual values."""
    found = []
    hours = past.hours[row + 1 - 24 * 14 : row + 1]
    for name in BLENDED:
        mean, spread = stock.normals[name].at(hours)
        anomaly = ((past.values[name][row + 1 - 24 * 14 : row + 1] - mean) / spread)[:, 0]
        for days in (1, 5, 14):
            some = anomaly[-24 * days :]
            found.append(float(np.nanmean(some)) if np.count_nonzero(~np.isnan(some)) >= 18 * days else np.nan)
    return np.array(found)


def _together(station: str, event: Event, made: Sequence[_Morning]) -> Hindcast:
    days = np.array([one.day for one in made], dtype=np.int64)
    members = min((one.passed.shape[1] for one in made), default=0)
    return Hindcast(
        station,
        event,
        days,
        np.array([date_of(int(day)).year for day in days], dtype=np.int64),
        np.array([one.passed[:, :members] for one in made]),
        np.array([one.happened for one in made]),
        np.array([one.usual for one in made]),
        np.array([one.usual_within for one in made]),
        np.array([one.state for one in made]),
    )
