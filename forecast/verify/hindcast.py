"""Past mornings told again: the members' answers for the days ahead, what was usual, and what came.

Whole years are left out: for a morning of a year the stock of past years, the usual values, the climatology and what
readings say are made from the other years only, with a month kept off at either end. What a morning knows of its own
year is its readings up to that hour, and the forecast that it is given.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from forecast.clock import date_of, day_number
from forecast.daily import Days, last_stamp
from forecast.diseases.events import Event, any_passed
from forecast.diseases.pressure import Pressure, pressure
from forecast.outlook.ahead import HISTORY_HOURS, OF_THE_AIR, PlaceAhead, StandAhead
from forecast.outlook.calibration import LEADS, STATE
from forecast.outlook.climatology import Usual
from forecast.outlook.lead_skill import LeadSkill
from forecast.outlook.library import BLENDED, Library, library
from forecast.outlook.members import Expected, fortnight
from forecast.outlook.state import fortnight_state
from forecast.panel import Floats, Panel
from forecast.stand import Stand, stand_hours
from forecast.verify.scores import crps_of_members

HALF_YEAR_DAYS = 183
GUARD_DAYS = 30  # no block, lag or smoothing reaches the season that is left out
UNKNOWN = -1
USUAL_ANSWERS_DAYS = 10  # house choice: answers so near the date in other years are what is usual

Forecaster = Callable[[np.datetime64, int], Expected | None]
ForecasterOf = Callable[[Library, int], Forecaster | None]


@dataclass(frozen=True, eq=False)
class Hindcast:
    """Mornings of one station for one event.

    Attributes:
        station: its name.
        event: what the chances are of.
        day: day number of each morning's date, shape (mornings,).
        year: the year in which its season began, same shape.
        passed: per morning, day (0 is the morning's own date) and member, 1, 0 or -1 for unknown.
        happened: 1, 0 or NaN, shape (mornings, days).
        usual: chance of a single day by the other years, shape (mornings, days).
        usual_within: chance of at least one event day from the first to the second of two days, shape
            (mornings, days, days); NaN below the diagonal.
        state: anomalies of temperature and dew point over the last 1, 5 and 14 days, shape (mornings, 6).
        crps: of the answers of the event's first model that gives a figure and no class, shape (mornings, days); NaN
            where none does.
        usual_crps: of the answers about the same dates in other years.
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
    crps: Floats
    usual_crps: Floats


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
        answers: per model key, its answers, shape (days,); NaN where unknown or withheld.
    """

    station: str
    past: Panel
    stand: Stand
    offset_minutes: int
    events: tuple[Event, ...]
    days: Days
    came: tuple[Floats, ...]
    answers: Mapping[str, Floats]


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

    def over(one: Pressure, values: Floats) -> Floats:
        row = np.full(len(days), np.nan)
        start = int(one.days[0]) - first
        row[start : start + len(one.days)] = values[:, 0]
        return row

    passed = {key: over(one, one.passed) for key, one in told.items()}
    answers = {key: over(one, one.answer) for key, one in told.items()}
    came = tuple(any_passed(event.deciding, passed) for event in events)
    return Record(station, past, stand, offset_minutes, tuple(events), days, came, answers)


def hindcast(
    rec: Record,
    months: tuple[int, int],
    skill: LeadSkill | Callable[[int], LeadSkill],
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
        months: first and last month of the mornings, 1 to 12; the first after the last where they run over New Year.
        skill: what a forecast is worth; or what it was worth on the morning of a day number.
        members: how many.
        last_known_hour: hour of standard time, on the morning's own date, of the last reading; 24 is its end.
        forecaster_of: given a fold's stock and its year, what says the weather ahead; None for readings only.
        every_days: one morning in so many.
        years: which, by the year in which the mornings' months begin; None for all that the record touches.
        progress: told the year that is done.
    """
    parts: list[list[_Morning]] = [[] for _ in rec.events]
    for year, first, last in seasons(rec.days, months, years):
        # All twelve months about the season, and a month to either side.
        middle = (first + last) // 2
        but = np.array([middle - HALF_YEAR_DAYS - GUARD_DAYS, middle + HALF_YEAR_DAYS + GUARD_DAYS])
        stamps = but.astype("datetime64[D]").astype("datetime64[h]")
        stock = library(rec.past, but=(stamps[0], stamps[1] + np.timedelta64(23, "h")))
        out = (rec.days >= but[0]) & (rec.days <= but[1])
        usual = [Usual(np.where(out, np.nan, came), rec.days, past_only=False) for came in rec.came]
        forecaster = None if forecaster_of is None else forecaster_of(stock, year)
        for day in range(first, last + 1, every_days):
            worth = skill(day) if callable(skill) else skill
            made = _mornings(rec, stock, usual, worth, forecaster, (year, day), members, last_known_hour)
            for part, one in zip(parts, made, strict=True):
                part.extend([] if one is None else [one])
        if progress is not None:
            progress(year)
    return [_together(rec.station, event, part) for event, part in zip(rec.events, parts, strict=True)]


def seasons(days: Days, months: tuple[int, int], years: Sequence[int] | None = None) -> list[tuple[int, int, int]]:
    """Seasons that a record touches: the year in which each begins, its first and its last day number.

    Args:
        days: unbroken day numbers of the record.
        months: first and last month, the first after the last where they run over New Year.
        years: which; None for all.
    """
    over = months[0] > months[1]
    found = []
    for year in range(date_of(int(days[0])).year - 1, date_of(int(days[-1])).year + 1):
        first = day_number(date(year, months[0], 1))
        after = year + over + months[1] // 12
        last = day_number(date(after, months[1] % 12 + 1, 1)) - 1
        if (years is None or year in years) and first <= days[-1] and last >= days[0]:
            found.append((year, first, last))
    return found


@dataclass(frozen=True, eq=False)
class _Morning:
    year: int
    day: int
    passed: NDArray[np.int8]
    happened: Floats
    usual: Floats
    usual_within: Floats
    state: Floats
    crps: Floats
    usual_crps: Floats


def _mornings(
    rec: Record,
    stock: Library,
    usual: Sequence[Usual],
    skill: LeadSkill,
    forecaster: Forecaster | None,
    year_and_day: tuple[int, int],
    members: int,
    last_known_hour: int,
) -> list[_Morning | None]:
    year, day = year_and_day
    nothing: list[_Morning | None] = [None] * len(rec.events)
    last_known = last_stamp(day, rec.offset_minutes, last_known_hour)
    until = last_stamp(day + LEADS, rec.offset_minutes, 24)
    length = int((until - last_known).astype(np.int64))
    row = int((last_known - rec.past.hours[0]).astype(np.int64))
    if row < HISTORY_HOURS or row >= len(rec.past.hours):
        return nothing
    now = [rec.past.values[name][row, 0] for name in BLENDED]
    state = fortnight_state(stock, rec.past, last_known)
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
    answers = stand.answers(tuple(models.values()), day, LEADS + 1, rec.offset_minutes)
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
            _Morning(
                year,
                day,
                np.where(np.isnan(any_of), UNKNOWN, any_of).astype(np.int8),
                happened,
                single,
                within,
                state,
                *_crps(rec, event, answers, climate, day),
            )
        )
    return found


def _crps(rec: Record, event: Event, answers: Mapping[str, Floats], usual: Usual, day: int) -> tuple[Floats, Floats]:
    """Per day, the CRPS of the members' answers and of those about the date in other years; NaN where unknown."""
    found = np.full((2, LEADS + 1), np.nan)
    model = next((one for one in event.deciding if one.answer != "class"), None)
    if model is None:
        return found[0], found[1]
    came = rec.answers[model.key]
    for lead in range(LEADS + 1):
        row = day + lead - int(rec.days[0])
        if not 0 <= row < len(came) or np.isnan(came[row]):
            continue
        rows = usual.rows_about(day + lead, USUAL_ANSWERS_DAYS)
        for number, some in enumerate((answers[model.key][lead], came[rows])):
            known = some[~np.isnan(some)]
            if known.size:
                found[number, lead] = crps_of_members(known[None], came[row : row + 1], fair=True)[0]
    return found[0], found[1]


def _together(station: str, event: Event, made: Sequence[_Morning]) -> Hindcast:
    """The mornings as arrays; one with fewer members than others has unknown ones in their place."""
    days = np.array([one.day for one in made], dtype=np.int64)
    members = max((one.passed.shape[1] for one in made), default=0)
    passed = np.full((len(made), LEADS + 1, members), UNKNOWN, dtype=np.int8)
    for row, one in zip(passed, made, strict=True):
        row[:, : one.passed.shape[1]] = one.passed

    def column(values: Sequence[Floats], *shape: int) -> Floats:
        return np.array(values, dtype=np.float64).reshape(len(made), *shape)

    return Hindcast(
        station,
        event,
        days,
        np.array([one.year for one in made], dtype=np.int64),
        passed,
        column([one.happened for one in made], LEADS + 1),
        column([one.usual for one in made], LEADS + 1),
        column([one.usual_within for one in made], LEADS + 1, LEADS + 1),
        column([one.state for one in made], len(STATE)),
        column([one.crps for one in made], LEADS + 1),
        column([one.usual_crps for one in made], LEADS + 1),
    )
