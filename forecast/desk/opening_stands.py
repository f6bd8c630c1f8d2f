"""When seasons open on the stands of a workspace: in past years, in this season so far, and in the months ahead."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from forecast.config import Settings
from forecast.daily import Days, last_stamp
from forecast.desk.hours import KnownHours
from forecast.desk.looking_ahead import LookingAhead, PlaceOutlook
from forecast.desk.season import season_months
from forecast.desk.stands import areas_of, stands
from forecast.diseases import DiseaseModel
from forecast.diseases.events import Event, any_passed, event_for
from forecast.outlook.ahead import PlaceAhead, StandAhead
from forecast.outlook.climatology import Made
from forecast.outlook.normals import normals
from forecast.outlook.opening import TWO_IN_A_WEEK, Season, UsualOpening, laid_on, season_at, usual_opening
from forecast.outlook.opening_ahead import REACH_DAYS, SeasonMembers, ThisSeason, this_season
from forecast.outlook.view import past_view
from forecast.panel import Floats, Panel
from forecast.stand import Stand, place_hours, stand_hours
from forecast.turf import DISEASES, Area

RULE = TWO_IN_A_WEEK
FROM_DAYS_BEFORE = 30  # house choice: earlier than so long before a season's first day only what is usual is told
UNFINISHED_DAYS = 3  # members are asked from so long before today: the last reading may be a day and a half old
LATELY_DAYS = 30  # house choice: before a season is two weeks old, how the air stood is told of so many days
LEAST_SEASON_DAYS = 14
LEAST_SEASONS = 3  # house choice: with fewer past seasons "usual" says too little to stand against

Key = tuple[str, str, str]  # stand, disease, grass


@dataclass(frozen=True, eq=False)
class EventSeason:
    """One event's season on one stand.

    Attributes:
        event: which.
        usual: how it opened in past seasons.
        found: this season.
        made: of what this season's dates are made.
        forecast_until: last day number that the weather forecast speaks of; None without one.
        usual_event_days: mean number by this date in past seasons; None before the season, or without any.
        weather_since: day number from which on the air is told.
        warmer_by_c: air temperature since then above what is usual; None where too little is known.
        damper_by_c: dew point likewise.
    """

    event: Event
    usual: UsualOpening
    found: ThisSeason
    made: Made
    forecast_until: int | None
    usual_event_days: float | None
    weather_since: int
    warmer_by_c: float | None
    damper_by_c: float | None


@dataclass(frozen=True, eq=False)
class _Pending:
    """One event on one stand, with what its past says; the stand with the wetness method that tells its record."""

    stand: Stand
    event: Event
    past: Floats
    days: Days
    usual: UsualOpening
    so_far: ThisSeason


class StandSeasons:
    """Every event of some areas' stands, place by place.

    Args:
        settings: the workspace's.
        hours: what was known by the moment.
        ahead: what makes members.
        today: day number of its date.
        offset_minutes: standard time minus UTC.
    """

    def __init__(
        self, settings: Settings, hours: KnownHours, ahead: LookingAhead, today: int, offset_minutes: int
    ) -> None:
        self._settings, self._hours, self._ahead = settings, hours, ahead
        self._today, self._offset = today, offset_minutes

    def of(self, areas: Sequence[Area], diseases: Collection[str]) -> dict[Key, EventSeason]:
        """What is told of each stand, disease and grass; nothing where no tested model speaks of the grass."""
        by_area = stands(self._settings)
        found = {}
        for place_id in dict.fromkeys(area.place_id for area in areas):
            here = [area for area in areas if area.place_id == place_id]
            panel = self._hours.panel.only(self._hours.panel.series.index(place_id))
            place = place_hours(panel, self._settings.place(place_id).where)
            pending = []
            for stand in {by_area[area.area_id].stand_id: by_area[area.area_id] for area in here}.values():
                grasses = {area.grass for area in areas_of(by_area, stand.stand_id, here)}
                pending += self._pending(place, stand, self._events(grasses, diseases))
            outlook, members = self._members(place_id, place, [one for one in pending if self._asks_members(one)])
            for one in pending:
                key = (one.stand.stand_id, one.event.disease, one.event.grass)
                found[key] = self._told(place, one, members.get(key), outlook)
        return found

    def _events(self, grasses: Collection[str], diseases: Collection[str]) -> list[Event]:
        """The events that a model decides."""
        switched_on = self._settings.grounds.models_switched_on
        found = [
            event_for(disease, grass, switched_on)
            for disease in diseases
            for grass in sorted(grasses)
            if grass in DISEASES[disease].grasses
        ]
        return [event for event in found if event.deciding]

    def _asks_members(self, one: _Pending) -> bool:
        """Whether the date is open, and near enough for the weather ahead to say something of it."""
        return one.so_far.opened is None and self._today >= one.usual.season.first_day - FROM_DAYS_BEFORE

    def _pending(self, place: Panel, stand: Stand, events: Sequence[Event]) -> list[_Pending]:
        if not events:
            return []
        models = _models(events)
        at_stand = stand_hours(place, stand)
        seen = past_view(at_stand, stand, self._today, self._offset, models)
        passed = {model.key: seen.past_passed(model.key) for model in models}
        # By the method that tells the record, whatever the months ahead would suffice for by themselves.
        told_so = replace(stand, wetness=at_stand.wet.method.key)
        found = []
        for event in events:
            months = season_months(DISEASES[event.disease], stand.where.latitude_deg)
            past, days = any_passed(event.deciding, passed), seen.days()
            usual = usual_opening(past, days, season_at(self._today, *months), RULE)
            so_far = this_season(past, days, self._today, RULE, usual, None)
            found.append(_Pending(told_so, event, past, days, usual, so_far))
        return found

    def _members(
        self, place_id: str, place: Panel, asking: Sequence[_Pending]
    ) -> tuple[PlaceOutlook | None, Mapping[Key, SeasonMembers]]:
        """What members say of the events that ask for them, as far as the longest of their seasons needs."""
        if not asking:
            return None, {}
        reach = min(max(max(one.usual.season.last_day for one in asking) - self._today, 1), REACH_DAYS)
        outlook = self._ahead.place(place_id, place, reach)
        if outlook is None:
            return None, {}
        shared = PlaceAhead(outlook.past, outlook.ahead, asking[0].stand)
        first, days = self._today - UNFINISHED_DAYS, reach + UNFINISHED_DAYS + 1
        found = {}
        for stand in {one.stand.stand_id: one.stand for one in asking}.values():
            events = [one.event for one in asking if one.stand.stand_id == stand.stand_id]
            passed = StandAhead(shared, stand).passed(_models(events), first, days, self._offset)
            for event in events:
                ways = any_passed(event.deciding, passed)
                found[stand.stand_id, event.disease, event.grass] = SeasonMembers(first, ways, outlook.ahead.year[0])
        return outlook, found

    def _told(
        self, place: Panel, one: _Pending, members: SeasonMembers | None, outlook: PlaceOutlook | None
    ) -> EventSeason:
        found = one.so_far
        if members is not None:
            found = this_season(one.past, one.days, self._today, RULE, one.usual, members)
        by_members = outlook if found.years > 0 else None
        begun = self._today - one.usual.season.first_day
        since = self._today - (begun if begun >= LEAST_SEASON_DAYS else LATELY_DAYS)
        warmer, damper = None, None
        if len(one.usual.past) >= LEAST_SEASONS and found.opened is None:
            warmer, damper = (self._above_usual(place, name, since) for name in ("air_temperature_c", "dew_point_c"))
        return EventSeason(
            one.event,
            one.usual,
            found,
            "past_years" if by_members is None else by_members.source,
            None if by_members is None else by_members.forecast_until,
            _usual_event_days(one, begun) if begun > 0 else None,
            since,
            warmer,
            damper,
        )

    def _above_usual(self, place: Panel, name: str, since: int) -> float | None:
        """How far a quantity lay above what earlier years show for the same hours, mean since a day; None unknown."""
        first = last_stamp(since - 1, self._offset, 24)
        before = place.between(place.hours[0], first)
        lately = place.between(first + np.timedelta64(1, "h"), place.hours[-1])
        if not len(before.hours) or not len(lately.hours):
            return None
        mean, _ = normals(before.hours, before.values[name]).at(lately.hours)
        apart = lately.values[name] - mean
        known = apart[~np.isnan(apart)]
        return float(known.mean()) if len(known) >= len(apart) / 2 else None


def _models(events: Sequence[Event]) -> tuple[DiseaseModel, ...]:
    return tuple({model.key: model for event in events for model in event.deciding}.values())


def _usual_event_days(one: _Pending, length: int) -> float | None:
    """The mean number of event days in so many first days of past seasons, by the days of each that are known."""
    counts = []
    for each in one.usual.past:
        season = Season(each.season.first_day, each.season.first_day + length - 1)
        days = laid_on(one.past, int(one.days[0]), season.first_day, season.last_day)
        known = days[~np.isnan(days)]
        counts += [float(known.mean()) * length] if known.size else []
    return float(np.mean(counts)) if counts else None
