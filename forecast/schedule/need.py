"""Whether cover is needed, by when, and the answer: treat, scout or hold, each with its reasons."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from forecast.clock import date_of, day_words
from forecast.outlook.climatology import Chance
from forecast.schedule.cover import Cover, Option

PLAN_DAYS = 14  # plans reach two weeks
LOOK_BACK_DAYS = 7  # house choice: an unprotected event day this recent is worth a look

Word = Literal["treat", "scout", "hold"]


@dataclass(frozen=True, slots=True)
class Decision:
    """The owner's lines, as shares, and the days between two visits."""

    treat_from_chance: float = 0.30
    scout_from_chance: float = 0.10
    days_between_visits: int = 7


@dataclass(frozen=True, slots=True)
class Facts:
    """All that an answer for one area and disease rests on; day numbers count from 1970-01-01.

    Attributes:
        today: the day asked about.
        start: the first day that is neither protected nor already ruled out.
        tested: True where a tested model exists for the grass.
        diagnosed: True where the disease has been diagnosed on this area.
        in_season: True within the disease's season and a month to either side.
        weather_known: False where today's weather is too old or too thin to tell.
        today_certain: True where today is an event day however it goes on.
        cover: what the last application protects.
        options: legal options, the label used by habit first.
        chances: chance of at least one event day from ``start`` to each day after it, in order; empty where there
            are no past years.
        beside_chance: the same up to the next visit with models that do not decide counted in; None where none.
        passed_unprotected: event days of the last week that no application covered.
    """

    today: int
    start: int
    tested: bool
    diagnosed: bool
    in_season: bool
    weather_known: bool
    today_certain: bool
    cover: Cover | None
    options: tuple[Option, ...]
    chances: tuple[Chance, ...]
    beside_chance: float | None
    passed_unprotected: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What to do for one area and disease.

    Attributes:
        word: treat, scout or hold.
        reasons: why, most important first.
        needed_by: day number by whose night cover has to be in place; None where none is needed in two weeks.
        first_day: first sensible day for the application.
        last_day: last sensible day for it.
        chance: chance of at least one event day from the first open day to the next visit.
        option: the legal option that the answer rests on.
    """

    word: Word
    reasons: tuple[str, ...]
    needed_by: int | None = None
    first_day: int | None = None
    last_day: int | None = None
    chance: Chance | None = None
    option: Option | None = None


def first_open_day(today: int, cover: Cover | None, *, today_ruled_out: bool) -> int:
    """The first day from today on that no application covers and that can still become an event day."""
    unprotected = today if cover is None else max(today, cover.gone_after + 1)
    return today + 1 if unprotected == today and today_ruled_out else unprotected


def answer(facts: Facts, lines: Decision) -> Answer:
    """Treat, scout or hold.

    Treat: protection will have run out, a legal option exists, the disease is known here, and the chance of at
    least one event day up to the next possible visit reaches the owner's line. Scout: from the scouting line
    on, or when what is known does not suffice. Hold: else.
    """
    next_visit = facts.today + lines.days_between_visits
    by = _needed_by(facts, lines)
    option, first, last = _option_and_days(facts, by)
    pressing = by is not None and by <= next_visit
    in_time = first is not None and last is not None and first <= last
    missing = _what_is_missing(facts, pressing=pressing)
    word: Word
    if pressing and in_time and not missing:
        word, reasons = "treat", _why_treat(facts, next_visit)
    else:
        reasons = missing + _why_scout(facts, lines, next_visit, pressing=pressing, in_time=in_time)
        word = "scout" if reasons else "hold"
        reasons = reasons or [_why_hold(facts, next_visit)]
    return Answer(word, tuple(reasons), by, first, last, _chance_until(facts, next_visit), option)


def _what_is_missing(facts: Facts, *, pressing: bool) -> list[str]:
    missing = []
    if not facts.tested and facts.in_season:
        missing.append("there is no tested model for this grass")
    if not facts.weather_known and facts.in_season:
        missing.append("the weather read so far does not suffice for today")
    if facts.tested and not facts.chances and facts.in_season:
        missing.append("there are no past years at this station, so there is no chance to go by")
    if pressing and not facts.diagnosed:
        missing.append("the disease has not been diagnosed here: look before you treat")
    return missing


def _chance_until(facts: Facts, day: int) -> Chance | None:
    """The chance up to a day; None where nothing is open until then or no chance is known."""
    if not facts.chances or day < facts.start:
        return None
    return facts.chances[min(day - facts.start, len(facts.chances) - 1)]


def _needed_by(facts: Facts, lines: Decision) -> int | None:
    """First day by which the chance since the first open day reaches the owner's line, within two weeks."""
    if facts.start == facts.today and facts.today_certain:
        return facts.today
    for day, chance in enumerate(facts.chances, start=facts.start):
        if chance.value >= lines.treat_from_chance:
            return day if day <= facts.today + PLAN_DAYS else None
    return None


def _option_and_days(facts: Facts, by: int | None) -> tuple[Option | None, int | None, int | None]:
    """The option, its first legal day, and the last day before the one by which cover is needed.

    The label used by habit comes first if it is legal in time; else the one that is legal soonest.
    """
    if by is None or not facts.options:
        return None, None, None
    last = max(by - 1, facts.today)
    in_time = [option for option in facts.options if option.legal_from <= last]
    option = in_time[0] if in_time else min(facts.options, key=lambda one: one.legal_from)
    return option, option.legal_from, last


def _why_treat(facts: Facts, next_visit: int) -> list[str]:
    if facts.cover is None:
        cover = "no application on record protects this area"
    elif facts.cover.gone_after < facts.today:
        cover = f"cover ran out after {day_words(date_of(facts.cover.gone_after))}"
    else:
        cover = f"cover runs out after {day_words(date_of(facts.cover.gone_after))}, before the next visit"
    weather = "today is an event day whichever way it goes on"
    if not (facts.start == facts.today and facts.today_certain):
        weather = f"the chance until the next visit on {day_words(date_of(next_visit))} reaches your line"
    return [cover, weather]


def _why_scout(facts: Facts, lines: Decision, next_visit: int, *, pressing: bool, in_time: bool) -> list[str]:
    reasons = []
    if pressing and not facts.options:
        reasons.append("cover is needed, and no label on file may be used here now")
    elif pressing and not in_time:
        reasons.append("cover is needed, and the label's least days do not allow an application in time")
    chance = _chance_until(facts, next_visit)
    if pressing or (chance is not None and chance.value >= lines.scout_from_chance):
        reasons.append("the chance of an unprotected event day until the next visit reaches your scouting line")
    elif facts.beside_chance is not None and facts.beside_chance >= lines.scout_from_chance:
        reasons.append("a model not tested on this grass passes often enough that hold would rest on too little")
    if facts.passed_unprotected:
        days = "day" if facts.passed_unprotected == 1 else "days"
        reasons.append(f"{facts.passed_unprotected} unprotected event {days} in the last week: look for first signs")
    return reasons


def _why_hold(facts: Facts, next_visit: int) -> str:
    if facts.start > next_visit:
        return "the last application covers until after the next visit"
    if not facts.chances:
        return "this is not the season of the disease"
    return "the chance of an unprotected event day until the next visit is below your scouting line"
