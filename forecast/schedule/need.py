"""Whether cover is needed, by when, and the answer: treat, scout, hold, or no model, each with its reasons."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from forecast.clock import date_of, day_words
from forecast.outlook.climatology import Chance
from forecast.schedule.cover import Cover, Option

PLAN_DAYS = 14  # plans reach two weeks
YEARS_TO_TREAT_BY = 5  # house choice: fewer past years give an interval too wide to spend product on
SIGHTING_DAYS = 14  # patches are visibly smaller about two weeks after treatment: common practice, no source
LOOK_BACK_DAYS = 7  # house choice: an unprotected event day this recent is worth a look

Word = Literal["treat", "scout", "hold", "no_model"]


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
        start: the first day that an application could protect and none does yet.
        tested: True where a tested model exists for the grass.
        diagnosed: True where the disease has been diagnosed on this area.
        seen_on: day of a sighting of the disease here in the last two weeks; None where there is none.
        seen_surely: whether that sighting was a sure one.
        in_season: True within the disease's season and a month to either side.
        weather_known: False where today's weather is too old or too thin to tell.
        cover: what the last application protects.
        options: legal options, the label used by habit first.
        habit: name of the label used here by habit; empty for none.
        chances: chance of at least one event day from ``start`` to each day after it, in order; empty where there
            are no past years.
        beside_chance: the same up to the next visit with tested models of other grasses counted in; None where none.
        passed_unprotected: event days of the last week, today's with them, that no application covered.
    """

    today: int
    start: int
    tested: bool
    diagnosed: bool
    seen_on: int | None
    seen_surely: bool
    in_season: bool
    weather_known: bool
    cover: Cover | None
    options: tuple[Option, ...]
    habit: str
    chances: tuple[Chance, ...]
    beside_chance: float | None
    passed_unprotected: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What to do for one area and disease.

    Attributes:
        word: treat, scout, hold, or that no tested model speaks of this grass.
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


def first_open_day(today: int, cover: Cover | None) -> int:
    """The first day that an application could protect and none does yet.

    Tomorrow at the earliest: today's event day is last night and this morning, and no application reaches back.
    """
    return today + 1 if cover is None else max(today, cover.gone_after) + 1


def answer(facts: Facts, lines: Decision) -> Answer:
    """Treat, scout, hold, or no model.

    Treat: protection will have run out, a legal option exists, the disease is known here and was not surely seen in the
    last two weeks (what is established takes another row of the label), there are past years enough, and the chance of
    at least one event day up to the next possible visit reaches the owner's line.
    Scout: from the scouting line on, after a sighting, or when what is known does not suffice. No model: no tested
    model speaks of this grass, and the disease has neither been seen lately nor ever been diagnosed here; it is not
    "hold", which would claim to know, nor "scout", which would be said of too many diseases to be heard. Hold: else.
    """
    next_visit = facts.today + lines.days_between_visits
    by = _needed_by(facts, lines)
    option, first, last = _option_and_days(facts, by)
    pressing = by is not None and by <= next_visit
    in_time = first is not None and last is not None and first <= last
    missing = _what_is_missing(facts, pressing=pressing)
    seen = _what_was_seen(facts)
    word: Word
    established = facts.seen_on is not None and facts.seen_surely
    if pressing and in_time and not missing and not established and option is not None:
        word, reasons = "treat", [*_why_treat(facts, lines, next_visit, option), *seen]
    else:
        reasons = [*seen, *missing, *_why_scout(facts, lines, next_visit, pressing=pressing, in_time=in_time)]
        word = "scout" if reasons else "hold"
        if not facts.tested and facts.in_season:
            word = "scout" if seen or missing else "no_model"
            reasons.append("there is no tested model for this grass")
        reasons = reasons or [_why_hold(facts, next_visit)]
    return Answer(word, tuple(reasons), by, first, last, _chance_until(facts, next_visit), option)


def _what_was_seen(facts: Facts) -> list[str]:
    if facts.seen_on is None:
        return []
    seen = f"it was seen here on {day_words(date_of(facts.seen_on))}"
    if not facts.seen_surely:
        return [f"{seen}, not surely: have the diagnosis made sure"]
    row = "an established disease takes a row of its own on the label, at another rate"
    return [f"{seen}: {row}; this page plans prevention only"]


def _what_is_missing(facts: Facts, *, pressing: bool) -> list[str]:
    missing = []
    if not facts.tested and facts.in_season and facts.diagnosed:
        missing.append("it has been diagnosed here before")
    if facts.tested and not facts.weather_known and facts.in_season:
        missing.append("the weather read so far does not suffice for today")
    if facts.tested and not facts.chances and facts.in_season:
        missing.append(f"there are no past years of weather here; a chance to treat by needs {YEARS_TO_TREAT_BY}")
    if pressing and facts.chances and facts.chances[0].years < YEARS_TO_TREAT_BY:
        years = facts.chances[0].years
        count = f"{years} past {'year is' if years == 1 else 'years are'}"
        missing.append(f"{count} too few to treat by; {YEARS_TO_TREAT_BY} are needed")
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
    last = by - 1
    in_time = [option for option in facts.options if option.legal_from <= last]
    option = in_time[0] if in_time else min(facts.options, key=lambda one: one.legal_from)
    return option, option.legal_from, last


def _why_treat(facts: Facts, lines: Decision, next_visit: int, option: Option) -> list[str]:
    if facts.cover is None:
        reasons = ["no application on record protects this area"]
    elif facts.cover.gone_after <= facts.today:
        reasons = [f"cover ran out after {day_words(date_of(facts.cover.gone_after))}"]
    else:
        reasons = [f"cover runs out after {day_words(date_of(facts.cover.gone_after))}, before the next visit"]
    line = f"{round(100 * lines.treat_from_chance)}\u00a0%"
    reasons.append(f"the chance until the next visit on {day_words(date_of(next_visit))} is at or above your {line}")
    if facts.habit and option.label.name != facts.habit:
        reasons.append(f"{option.label.name} is proposed since {facts.habit}, used here by habit, is not legal in time")
    return reasons


def _why_scout(facts: Facts, lines: Decision, next_visit: int, *, pressing: bool, in_time: bool) -> list[str]:
    reasons = []
    if pressing and not facts.options and facts.diagnosed:
        reasons.append("cover is needed, and no label on file may be used here now")
    elif pressing and not in_time and facts.diagnosed:
        waits = min(facts.options, key=lambda one: one.legal_from)
        why = f": {waits.label.name}, {waits.waits_for}" if waits.waits_for else ""
        reasons.append(f"cover is needed, and no label allows an application in time{why}")
    chance = _chance_until(facts, next_visit)
    if pressing or (chance is not None and chance.value >= lines.scout_from_chance):
        line = f"{round(100 * lines.scout_from_chance)}\u00a0%"
        reasons.append(f"the chance of unprotected disease weather until the next visit is at or above your {line}")
    elif facts.beside_chance is not None and facts.beside_chance >= lines.scout_from_chance:
        reasons.append("a model tested on other grasses passes too often to leave it unwatched")
    if facts.passed_unprotected:
        days = "day" if facts.passed_unprotected == 1 else "days"
        reasons.append(f"{facts.passed_unprotected} unprotected {days} of disease weather in the last week")
    return reasons


def _why_hold(facts: Facts, next_visit: int) -> str:
    if facts.start > next_visit:
        return "the last application covers until after the next visit, by its label's most days"
    if not facts.chances:
        return "this is not the season of the disease"
    return "the chance of unprotected disease weather until the next visit is below your scouting line"
