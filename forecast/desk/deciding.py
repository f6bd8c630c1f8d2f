"""The answer for one area and disease with all that it rests on, once for every page that tells of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from forecast.config import Settings
from forecast.desk.known import Known
from forecast.diseases.events import Event, event_for
from forecast.outlook.prospect import Prospect
from forecast.schedule import need
from forecast.schedule.cover import Cover, cover, options
from forecast.schedule.label import Application, Sighting
from forecast.schedule.legality import spot_of
from forecast.turf import Area, Disease


@dataclass(frozen=True)
class Records:
    """What is known on one morning, with the records known by it."""

    known: Known
    applications: tuple[Application, ...]
    sightings: tuple[Sighting, ...]

    @property
    def settings(self) -> Settings:
        """The workspace's."""
        return self.known.settings

    @property
    def today(self) -> int:
        """Day number of the morning's date."""
        return self.known.today


@dataclass(frozen=True, eq=False)
class Decided:
    """An answer and what it rests on.

    Attributes:
        event: what chances are of.
        facts: what was asked.
        lines: the owner's.
        given: the answer.
        left_out: why labels are no option, one sentence each.
        ahead: what can be said of the event; None where nothing is known of the stand.
    """

    event: Event
    facts: need.Facts
    lines: need.Decision
    given: need.Answer
    left_out: tuple[str, ...]
    ahead: Prospect | None


def decided(shared: Records, area: Area, disease: Disease) -> Decided:
    """Treat, scout, hold or no model, for one disease on one area."""
    event = event_for(disease.key, area.grass, shared.known.switched_on)
    lines = need.Decision(**shared.settings.grounds.decisions.model_dump())
    made = [a for a in shared.applications if a.area_id == area.area_id]
    protects = cover(made, disease.key, shared.today)
    habit = sorted(shared.settings.labels, key=lambda label: label.key != area.label)
    possible, left_out = options(habit, made, disease=disease.key, spot=spot_of(area), today=shared.today)
    ahead = shared.known.prospect(area, event)
    start = need.first_open_day(shared.today, protects)
    next_visit = shared.today + lines.days_between_visits
    seen_here = [s for s in shared.sightings if s.area_id == area.area_id and s.disease == disease.key]
    lately = [s for s in seen_here if _lately(shared, s)]
    facts = need.Facts(
        today=shared.today,
        start=start,
        tested=bool(event.deciding),
        diagnosed=disease.key in area.diseases_had or any(s.sure for s in seen_here),
        seen_on=max((s.day for s in lately), default=None),
        seen_surely=any(s.sure for s in lately),
        in_season=shared.known.is_in_season(area, disease),
        weather_known=ahead is not None and ahead.today_known(event.deciding or event.beside),
        cover=protects,
        options=possible,
        habit=next((label.name for label in shared.settings.labels if label.key == area.label), ""),
        chances=ahead.chances(start, shared.today + need.PLAN_DAYS + 1) if ahead else (),
        beside_chance=ahead.beside_chance(start, next_visit) if ahead else None,
        passed_unprotected=_passed_unprotected(ahead, made, disease.key),
    )
    return Decided(event, facts, lines, need.answer(facts, lines), left_out, ahead)


def is_shown(shared: Records, area: Area, disease: Disease) -> bool:
    """In its season or next to it, or seen here in the last two weeks whatever the season."""
    return shared.known.is_in_season(area, disease) or any(
        sighting.area_id == area.area_id and sighting.disease == disease.key and _lately(shared, sighting)
        for sighting in shared.sightings
    )


def _lately(shared: Records, sighting: Sighting) -> bool:
    return shared.today - need.SIGHTING_DAYS <= sighting.day <= shared.today


def _passed_unprotected(ahead: Prospect | None, made: Sequence[Application], disease: str) -> int:
    """Event days of the last week that no application covered."""
    if ahead is None:
        return 0
    covers = [cover([one], disease, ahead.view.today) for one in made]
    days = ahead.recent_event_days(need.LOOK_BACK_DAYS) + [ahead.view.today] * ahead.today_passed()
    return sum(not any(_covers(one, day) for one in covers) for day in days)


def _covers(one: Cover | None, day: int) -> bool:
    return one is not None and one.applied < day <= one.gone_after
