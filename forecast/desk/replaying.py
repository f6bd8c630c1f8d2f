"""Past mornings told again from what was known on each: one disease on one area over a run of days."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, time, timedelta

import numpy as np

from forecast import __version__
from forecast.clock import date_of, day_number
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.journal import area_named
from forecast.desk.known import known_morning
from forecast.desk.morning import morning
from forecast.diseases.events import event_for
from forecast.errors import DataError
from forecast.panel import Floats
from forecast.report.page import DiseaseReport
from forecast.report.replay import REPLAY_SCHEMA, ReplayedMorning, ReplayReport
from forecast.turf import DISEASES, Area

READ_AT = time(5, 30)


def replayed(
    settings: Settings,
    database: Database,
    now: datetime,
    area_id: str,
    disease: str,
    first: date,
    last: date,
    *,
    progress: Callable[[object], None] = lambda _: None,
) -> ReplayReport:
    """The mornings of a run of days.

    Args:
        settings: the workspace's.
        database: the workspace's.
        now: aware; what came is told from what is known by it.
        area_id: which area, by id or name.
        disease: key of the disease.
        first: first morning.
        last: last morning, not after ``now``.
        progress: told each morning that is done.

    Raises:
        DataError: no such area or disease, a disease without a tested model there, or mornings that have not been.
    """
    area = area_named(settings, area_id)
    if disease not in DISEASES or area.grass not in DISEASES[disease].grasses:
        possible = [one.key for one in DISEASES.values() if area.grass in one.grasses]
        raise DataError(
            f"{disease!r} is no disease of the grass of {area.area_id}",
            hint=f"its diseases are {', '.join(possible) or 'none'}",
        )
    event = event_for(disease, area.grass, settings.grounds.models_switched_on)
    if not event.deciding:
        raise DataError(
            f"no tested model speaks of {DISEASES[disease].name} on the grass of {area.area_id}",
            hint="'forecast models' tells which models there are; models_switched_on in grounds.toml lets one decide",
        )
    zone = settings.grounds.zone
    if last < first:
        raise DataError(f"{first} to {last} is no run of mornings", hint="give --from and --to in order")
    if last > now.astimezone(zone).date():
        raise DataError(
            f"{last} lies ahead of {now.astimezone(zone).date()}", hint="only mornings that have been can be replayed"
        )
    came = _came(settings, database, now, area, disease)
    if last <= came.first_day:
        raise DataError(
            f"the weather known here begins on {came.first_day}: nothing could be told on mornings before",
            hint="give a later run of days, or load older weather with 'forecast weather load' or 'fetch'",
        )
    found = []
    for offset in range((last - first).days + 1):
        day = first + timedelta(days=offset)
        page = morning(settings, database, datetime.combine(day, READ_AT, zone), replay=True, only=area)
        told = next((one for one in page.areas[0].diseases if one.disease == disease), None)
        if told is not None:
            found.append(_morning(day, told, came))
        progress(day)
    if not found:
        raise DataError(
            f"{DISEASES[disease].name} was not in season on any of these mornings", hint="give another run of days"
        )
    return ReplayReport(
        REPLAY_SCHEMA,
        __version__,
        settings.grounds.name,
        settings.grounds.invented,
        area.area_id,
        area.area_name,
        area.property_name,
        disease,
        DISEASES[disease].name,
        event.words,
        f"{READ_AT:%H:%M}",
        tuple(found),
    )


class _Came:
    """Whether event days came, by what is known today."""

    def __init__(self, first: int, event: Floats) -> None:
        self._first, self._event = first, event

    @property
    def first_day(self) -> date:
        """The day on which the weather known begins."""
        return date_of(self._first)

    def between(self, first: date, last: date) -> Floats:
        rows = np.arange(day_number(first), day_number(last) + 1) - self._first
        found = np.full(len(rows), np.nan)
        inside = (rows >= 0) & (rows < len(self._event))
        found[inside] = self._event[rows[inside]]
        return found

    def any_of(self, first: date, last: date) -> bool | None:
        days = self.between(first, last)
        if (days == 1).any():
            return True
        return None if np.isnan(days).any() or not days.size else False

    def count(self, first: date, last: date) -> int | None:
        days = self.between(first, last)
        return None if np.isnan(days).any() else int(days.sum())


def _came(settings: Settings, database: Database, now: datetime, area: Area, disease: str) -> _Came:
    known = known_morning(settings, database, now, (area,))
    event = event_for(disease, area.grass, settings.grounds.models_switched_on)
    ahead = known.prospect(area, event)
    if ahead is None or ahead.past is None:
        raise DataError("no weather is known by this moment", hint="load some with 'forecast weather load' or 'fetch'")
    return _Came(int(ahead.view.days()[0]), ahead.past)


def _morning(day: date, told: DiseaseReport, came: _Came) -> ReplayedMorning:
    tomorrow, week = day + timedelta(days=1), timedelta(days=6)
    after = tomorrow + timedelta(days=7)
    return ReplayedMorning(
        day,
        told.answer,
        told.open_from,
        told.next_visit,
        told.chance,
        told.chance_week_1,
        told.chance_week_2,
        came.any_of(told.open_from, told.next_visit) if told.open_from <= told.next_visit else None,
        came.count(tomorrow, tomorrow + week),
        came.count(after, after + week),
    )
