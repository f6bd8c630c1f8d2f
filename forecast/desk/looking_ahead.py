"""The days ahead of one morning: forecast, readings and past years of each place put together into members."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

import numpy as np

from forecast.config import Settings
from forecast.daily import day_numbers, last_stamp
from forecast.desk.places import nearest_station
from forecast.diseases import DiseaseModel
from forecast.ingest.keep.archive import Issue
from forecast.outlook.ahead import HISTORY_HOURS, PlaceAhead, StandAhead
from forecast.outlook.calibration import LEADS, Source
from forecast.outlook.event_ahead import StandMembers
from forecast.outlook.expected import aged, expected
from forecast.outlook.lead_skill import ASSUMED, LeadSkill
from forecast.outlook.library import Library, library
from forecast.outlook.members import Fortnight, fortnight
from forecast.outlook.running_day import last_known_row
from forecast.outlook.state import fortnight_state
from forecast.outlook.view import OLDEST_READING_HOURS
from forecast.panel import Panel
from forecast.stand import Stand

MEMBERS = 100
OLDEST_FORECAST_HOURS = 48  # house choice: what is told by a forecast was fitted and tested with fresh ones
SkillOf = Callable[[Issue, Library, str], LeadSkill]


@dataclass(frozen=True, eq=False)
class PlaceOutlook:
    """The members of one place.

    Attributes:
        past: the place's hours up to the last one known.
        ahead: the hours ahead.
        source: what they follow.
        forecast_until: last day number of which the weather forecast itself tells every hour; None without one.
        skill: what the forecast is taken to be worth; None without one.
        state: how the last fortnight stood, shape (6,).
    """

    past: Panel
    ahead: Fortnight
    source: Source
    forecast_until: int | None
    skill: LeadSkill | None
    state: np.ndarray[tuple[int, ...], np.dtype[np.float64]]

    def stand(self, stand: Stand, models: Collection[DiseaseModel], today: int, offset_minutes: int) -> StandMembers:
        """What models say of one stand there; the stand with the wetness method that tells its record."""
        chain = StandAhead(PlaceAhead(self.past, self.ahead, stand), stand)
        return StandMembers(
            today,
            chain.passed(models, today, LEADS + 1, offset_minutes),
            chain.answers(models, today, LEADS + 1, offset_minutes),
            self.ahead.year[0],
            self.source,
            self.forecast_until,
            self.state,
        )


class LookingAhead:
    """Looks ahead from one morning, place by place.

    Args:
        settings: the workspace's.
        issues: per station, its newest forecast.
        now_utc: the moment asked about.
        today: day number of its date.
        offset_minutes: standard time minus UTC.
        skill_of: what a forecast is worth at a place.

    Attributes:
        worth: per place whose forecast enters, what it was taken to be worth.
    """

    def __init__(
        self,
        settings: Settings,
        issues: Mapping[str, Issue],
        now_utc: np.datetime64,
        today: int,
        offset_minutes: int,
        skill_of: SkillOf,
    ) -> None:
        self._settings, self._issues, self._now = settings, issues, now_utc
        self._today, self._offset, self._skill_of = today, offset_minutes, skill_of
        self.worth: dict[str, LeadSkill] = {}

    def place(self, place_id: str, past: Panel, days_ahead: int = LEADS) -> PlaceOutlook | None:
        """The members of a place; None where its last reading is too old, or no past year holds a whole fortnight.

        Args:
            place_id: which.
            past: its hours by :func:`forecast.stand.place_hours`, one series.
            days_ahead: how many days after today members reach. Past years' weather has to be known for the first
                fortnight; beyond, members have the holes of the record.
        """
        row = last_known_row(past, 0)
        if row is None or self._now - past.hours[row] > np.timedelta64(OLDEST_READING_HOURS, "h"):
            return None
        last_known = past.hours[row]
        length, known_hours = (
            int((last_stamp(self._today + days, self._offset, 24) - last_known).astype(np.int64))
            for days in (days_ahead, LEADS)
        )
        stock = library(past)
        issue = self._issues.get(nearest_station(self._settings, place_id))
        if issue is not None and issue.older_h(self._now) > OLDEST_FORECAST_HOURS:
            issue = None
        told = None if issue is None else expected(issue.forecast.hours, issue.forecast.values, last_known, length)
        skill = None
        if issue is not None and told is not None:
            skill = aged(self._skill_of(issue, stock, place_id), issue.older_h(last_known))
        recent = past.between(last_known - np.timedelta64(HISTORY_HOURS - 1, "h"), last_known)
        ahead = fortnight(stock, recent, length, skill or ASSUMED, told, MEMBERS, known_hours)
        if ahead is None:
            return None
        spoken = ahead.hours[ahead.by_forecast[:, 0]]
        if spoken.size and skill is not None:
            self.worth[place_id] = skill
        until_day = self._last_whole_day(spoken[-1]) if spoken.size else None
        source: Source = "readings" if until_day is None else "forecast"
        return PlaceOutlook(past, ahead, source, until_day, skill, fortnight_state(stock, past, last_known))

    def _last_whole_day(self, last_stamp_told: np.datetime64) -> int:
        day = int(day_numbers(np.array([last_stamp_told]), self._offset, 24)[0])
        return day if last_stamp(day, self._offset, 24) == last_stamp_told else day - 1
