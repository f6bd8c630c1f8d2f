"""What the next two weeks hold, area by area: chances a day, days a week, how sure, and what is only usual."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from forecast.clock import day_words
from forecast.report.lines import wrapped
from forecast.report.page import ChanceReport
from forecast.report.words import NAMED_BY_ITS_END, NBSP, capital, chance_word, clock, listed, percent
from forecast.schedule.need import YEARS_TO_TREAT_BY

OUTLOOK_SCHEMA: Literal[2] = 2
BAR_LETTERS = 20
INVENTED = "Everything in this outlook is invented: place, weather, records."
# What is drawn, by what a chance is made of: shape first, so that nothing hangs on shade.
SHAPES = {"forecast": "█", "readings": "▓", "past_years": "░"}
MADE_WORDS = {
    "forecast": "forecast",
    "readings": "readings",
    "past_years": "usual",
}


@dataclass(frozen=True, slots=True)
class OutlookDay:
    """One day's chance.

    Attributes:
        so_far: True for the day in progress.
        chance: None where no past year counts.
    """

    day: date
    so_far: bool
    chance: ChanceReport | None


@dataclass(frozen=True, slots=True)
class OutlookWeek:
    """One week's chances.

    Attributes:
        any_day: the chance of at least one day of disease weather.
        least, most: number of such days that is passed below in one of ten and in nine of ten ways.
        mean_days: the mean number over the ways.
        usual_days: the mean number in past years around these dates.
    """

    first: date
    last: date
    any_day: ChanceReport | None
    least: int | None
    most: int | None
    mean_days: float | None
    usual_days: float | None


@dataclass(frozen=True, slots=True)
class LadderStep:
    """The chance of one rung of a model's ladder, day by day, in the order of the outlook's days; None unknown."""

    model: str
    words: str
    at: float
    chances: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class LeadSkillReport:
    """How much better than the usual chance such chances were on past mornings, with its 90 % interval."""

    days_ahead: int
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class OutlookDisease:
    """One disease on one area.

    Attributes:
        event_words: what a day of disease weather is, in words that follow "a day on which".
        told_until: the last day that is told by more than past years; None for none.
        skill: by days ahead, from past mornings; empty where none were looked at.
        skill_made: from what, in words.
    """

    disease: str
    name: str
    event_words: str
    deciding: tuple[str, ...]
    years: int
    days: tuple[OutlookDay, ...]
    weeks: tuple[OutlookWeek, ...]
    ladder: tuple[LadderStep, ...]
    told_until: date | None
    skill: tuple[LeadSkillReport, ...]
    skill_made: str


@dataclass(frozen=True, slots=True)
class OutlookArea:
    """One area with the diseases in season that a tested model speaks of.

    Attributes:
        without: diseases in season that none speaks of.
        out_of_season: diseases of its grass whose time this is not.
    """

    area_id: str
    area_name: str
    property_name: str
    grass: str
    place: str
    diseases: tuple[OutlookDisease, ...]
    without: tuple[str, ...]
    out_of_season: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OutlookPage:
    """A whole outlook.

    Attributes:
        weather: per place, what is known of the days ahead, in sentences.
    """

    schema: Literal[2]
    version: str
    grounds: str
    invented: bool
    as_of: datetime
    replay: bool
    time_zone: str
    areas: tuple[OutlookArea, ...]
    weather: tuple[tuple[str, tuple[str, ...]], ...]
    notices: tuple[str, ...]
    cautions: tuple[str, ...]


def title(page: OutlookPage) -> str:
    """What it is and when."""
    return f"Outlook from {page.as_of:%A} {page.as_of.day} {page.as_of:%B} {page.as_of.year}"


def headline(disease: OutlookDisease) -> str:
    """The two weeks in one sentence."""
    parts = []
    for week, when in zip(disease.weeks, ("in the next 7 days", "in the 7 after"), strict=False):
        if week.any_day is None:
            continue
        parts.append(f"{week.any_day.word} {when} ({percent(week.any_day.value)}, usual {percent(week.any_day.usual)})")
    if not parts:
        return "No chance can be given: there are no past years of weather here."
    return f"At least one day of disease weather is {', and '.join(parts)}."


def week_sentences(disease: OutlookDisease) -> list[str]:
    """How many days each week, beside what is usual."""
    told = []
    for week in disease.weeks:
        if week.mean_days is None or week.any_day is None or week.usual_days is None:
            continue
        span = f"{day_words(week.first)} to {day_words(week.last)}"
        low, high = percent(week.any_day.low), percent(week.any_day.high)
        told.append(
            f"{span}: {week.mean_days:.1f} days of it on average ({_span(week)} in eight of ten ways; "
            f"{week.usual_days:.1f} are usual); any at all {percent(week.any_day.value)} ({low} to {high})."
        )
    if told:
        spread = f"from the spread between {_years(disease.years)}"
        told.append(f"Ranges of chances hold nine in ten, {spread}; how wrong a model may be is not in them.")
    return told


def _span(week: OutlookWeek) -> str:
    return f"{week.least}" if week.least == week.most else f"{week.least} to {week.most}"


def _years(years: int) -> str:
    if years >= YEARS_TO_TREAT_BY:
        return f"{years} past years"
    count = f"{years} past year{'' if years == 1 else 's'}"
    return f"{count}: too few to act by, {YEARS_TO_TREAT_BY} are needed"


def beyond_sentence(disease: OutlookDisease) -> str:
    """From when on only what is usual is told, or that nothing but that is."""
    if all(day.chance is None for day in disease.days):
        return ""
    if disease.told_until is None:
        return "All of these are the usual chances for the dates: nothing surer has been shown."
    if disease.told_until >= disease.days[-1].day:
        return "Towards the end of these days what is usual for the date weighs most."
    return f"After {day_words(disease.told_until)} these are the usual chances for the dates, not a forecast."


def skill_sentences(disease: OutlookDisease) -> list[str]:
    """How good such chances were on past mornings."""
    if not disease.skill:
        untested = f"How good such chances are has not been tested ({disease.skill_made})"
        return [f"{untested}; 'forecast verify' does so on this station's own past."]
    leads = {one.days_ahead: one for one in disease.skill}
    some = [leads[lead] for lead in (1, 3, 5, 7, 10) if lead in leads]
    told = "; ".join(
        f"{one.days_ahead} {'day' if one.days_ahead == 1 else 'days'} ahead {percent_range(one)}" for one in some
    )
    return [f"Tested on {disease.skill_made}: there such chances took away of the usual chances' error {told}."]


def percent_range(skill: LeadSkillReport) -> str:
    """A skill as whole per cent with its interval; below nothing it is none."""
    low, high = (round(100 * max(value, 0.0)) for value in (skill.low, skill.high))
    return f"{round(100 * max(skill.value, 0.0))}{NBSP}% ({low} to {high})"


def event_sentence(disease: OutlookDisease) -> str:
    """What is meant by a day of disease weather."""
    day = f"A day of disease weather is one on which {disease.event_words}."
    return f"{day} {NAMED_BY_ITS_END} It is weather, not disease."


def ladder_rows(disease: OutlookDisease) -> list[tuple[str, tuple[float | None, ...]]]:
    """The rungs with their chances: the model, the rung and the first day in words, and a chance a day from it on."""
    first = day_words(disease.days[0].day) if disease.days else ""
    return [(f"{capital(step.model)}: {step.words}, % a day from {first} on", step.chances) for step in disease.ladder]


def shared(page: OutlookPage) -> list[str]:
    """What holds for several areas, told once: what a day of disease weather is, and how such chances have done."""
    told: dict[tuple[str, str], dict[str, None]] = {}
    for area in page.areas:
        for disease in area.diseases:
            day = f"a day of disease weather is one on which {disease.event_words}."
            told.setdefault((disease.name, day), {})[area.grass] = None
            for sentence in skill_sentences(disease):  # it hangs on how the area is watered too
                told.setdefault((disease.name, sentence), {})[area.area_name] = None
    sentences = [
        f"{capital(name)} on {listed(tuple(places))}: {sentence[0].lower()}{sentence[1:]}"
        for (name, sentence), places in told.items()
    ]
    return [*sentences, f"{NAMED_BY_ITS_END} It is weather, not disease."] if sentences else []


def without_sentence(area: OutlookArea) -> str:
    """The diseases of the grass that no tested model speaks of; empty for none."""
    told = [f"No tested model for {area.grass}: {', '.join(area.without)}."] if area.without else []
    told += [f"Not in season now: {', '.join(area.out_of_season)}."] if area.out_of_season else []
    return " ".join(told)


def outlook_text(page: OutlookPage) -> str:
    """The outlook for a terminal."""
    return "\n".join(_lines(page)) + "\n"


def _lines(page: OutlookPage) -> Iterator[str]:
    yield f"{title(page)} · {page.grounds}"
    yield f"{'Replayed: told' if page.replay else 'Told'} at {clock(page.as_of)} from what was known then."
    if page.invented:
        yield INVENTED
    yield from wrapped(
        f"Chances of disease weather. {SHAPES['forecast']} by the weather forecast, {SHAPES['readings']} by the last "
        f"readings, {SHAPES['past_years']} only usual for the date; | the usual chance."
    )
    for area in page.areas:
        yield ""
        yield f"{area.property_name} · {area.area_name} · {area.grass}"
        yield from wrapped(without_sentence(area), 2)
        for disease in area.diseases:
            yield from _disease(disease)
    yield ""
    for sentence in shared(page):
        yield from wrapped(sentence, 0, 2)
    yield ""
    for place, told in page.weather:
        yield place
        for sentence in told:
            yield from wrapped(sentence, 2)
    for notice in page.notices:
        yield from wrapped(f"Note: {notice}", 0, 2)
    yield ""
    for caution in page.cautions:
        yield from wrapped(caution)


def _disease(disease: OutlookDisease) -> Iterator[str]:
    yield ""
    yield f"  {disease.name.upper()}"
    yield from wrapped(headline(disease), 4)
    for sentence in week_sentences(disease):
        yield from wrapped(sentence, 4, 2)
    for day in disease.days:
        if day.chance is not None:
            yield f"    {_row(day, day.chance)}"
    yield from wrapped(beyond_sentence(disease), 4)
    for words, chances in ladder_rows(disease):
        told = " ".join("–" if chance is None else f"{round(100 * chance)}" for chance in chances)
        yield from wrapped(f"{words}: {told}", 4, 2)


def _row(day: OutlookDay, chance: ChanceReport) -> str:
    filled = round(BAR_LETTERS * chance.value)
    bar = [SHAPES[chance.made]] * filled + [" "] * (BAR_LETTERS - filled)
    bar[min(round(BAR_LETTERS * chance.usual), BAR_LETTERS - 1)] = "|"
    when = f"{day_words(day.day)}{' so far' if day.so_far else ''}"
    return f"{when:<18} {percent(chance.value):>10} {''.join(bar)} {chance_word(chance.value)}"
