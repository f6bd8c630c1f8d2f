"""How good the chances were on past mornings here: tables, and one paragraph that says how far ahead to act on them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from forecast.report.lines import wrapped
from forecast.report.words import NBSP, capital, percent

VERIFY_SCHEMA: Literal[1] = 1
LEAST_SEASONS = 3  # fewer give no interval, and no scores are printed
TOO_FEW = "Scores of fewer than three seasons would mislead and are not printed."
FEW_SEASONS = 5  # house choice: with fewer a table shows what it has and says that it proves little
ACT_FROM_SKILL = 0.05  # house choice: less is better than the usual chance on paper and changes no plan
SHOWN_LEADS = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16)
RATIOS = (0.2, 0.3, 0.4, 0.5)


@dataclass(frozen=True, slots=True)
class ScoreReport:
    """A score with its 90 % interval, years as blocks; None where it cannot be told."""

    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class LeadReport:
    """One day ahead.

    Attributes:
        days_ahead: from 1.
        cases: mornings with everything known.
        brier, usual_brier: mean squared error of the chance told, and of the usual one for the date.
        skill: one less their quotient.
        raw_skill: of the members before any calibration.
        told_by: what the chance told is made of at this lead.
        miscalibration, discrimination, uncertainty: parts of the Brier score (CORP).
        auc_in_season: how well event days are ranked within thirds of the season.
        crps_skill: of the first deciding model's own answers, over those of other years about the date.
        values: economic value over a user of the usual chance, by :data:`RATIOS`.
    """

    days_ahead: int
    cases: int
    brier: float
    usual_brier: float
    skill: ScoreReport
    raw_skill: float | None
    told_by: Literal["weight", "regression", "usual"]
    miscalibration: float | None
    discrimination: float | None
    uncertainty: float | None
    auc_in_season: float | None
    crps_skill: ScoreReport
    values: tuple[ScoreReport, ...]


@dataclass(frozen=True, slots=True)
class BinReport:
    """Cases of one bin of chances, and the band that frequencies keep to in nine of ten tries if chances are right."""

    cases: int
    mean_chance: float
    frequency: float
    band_low: float
    band_high: float


@dataclass(frozen=True, slots=True)
class ReliabilityReport:
    """What came against what was told, over some days ahead."""

    first_lead: int
    last_lead: int
    slope: float | None
    bins: tuple[BinReport, ...]


@dataclass(frozen=True, slots=True)
class VerifiedSource:
    """One way of telling the days ahead.

    Attributes:
        source: what members followed.
        emulated: name of the table, where forecasts were emulated; empty for real ones and for readings.
        made: in words, from what.
        mornings: that were told again.
        seasons: that they lie in.
        first, last: morning.
        better_days: up to how many days ahead the chances are surely better than the usual ones; 0 for none.
        act_days: up to how many of these they take away :data:`ACT_FROM_SKILL` of the usual chance's error or more.
        leads: one a day ahead.
        week_1: skill of any event day in the next 7 days.
        week_2: in the 7 after.
        reliability: by groups of days ahead.
    """

    source: Literal["readings", "forecast"]
    emulated: str
    made: str
    mornings: int
    seasons: int
    first: date
    last: date
    better_days: int
    act_days: int
    leads: tuple[LeadReport, ...]
    week_1: ScoreReport
    week_2: ScoreReport
    reliability: tuple[ReliabilityReport, ...]


@dataclass(frozen=True, slots=True)
class OpeningScores:
    """How good told openings of the season were, from readings and past years.

    Attributes:
        mornings: before the opening, on which it was told.
        seasons: that they lie in.
        soon: skill of the chance that it opens within 14 days, over the usual one.
        day: skill of the day itself, by ranked probability up to 17 days.
        held: share of mornings whose 10 to 90 % range held the day that came.
        width_days, usual_width_days: mean width of that range, and of the usual one.
    """

    mornings: int
    seasons: int
    soon: ScoreReport
    day: ScoreReport
    held: float | None
    width_days: float | None
    usual_width_days: float | None


@dataclass(frozen=True, slots=True)
class VerifiedEvent:
    """One event at one stand.

    Attributes:
        areas: names of the areas that share it.
        months: first and last month of the mornings.
        base_rate: share of the season's days on which the event came.
        sources: ways of telling; empty where no morning could be told.
        opening: how good told openings were; None where there were none to tell.
    """

    key: str
    disease: str
    name: str
    event_words: str
    place: str
    areas: tuple[str, ...]
    months: tuple[int, int]
    base_rate: float | None
    sources: tuple[VerifiedSource, ...]
    opening: OpeningScores | None


@dataclass(frozen=True, slots=True)
class VerifyReport:
    """A whole verification."""

    schema: Literal[1]
    version: str
    grounds: str
    invented: bool
    as_of: datetime
    every_days: int
    told_at: str
    events: tuple[VerifiedEvent, ...]
    notices: tuple[str, ...]


METHOD = (
    "How: each past morning was told again from the other seasons only, its own season and a month to either side left "
    "out whole, so that nothing of what came could help. Skill is the part of the error of the usual chance, for this "
    "place and date, that the chance told takes away; 0 is no better than past years. Intervals hold nine in ten, with "
    "whole seasons as blocks. The weights behind the chances were fitted on the other seasons as well; where skill is "
    "not surely above 0, the usual chance is told. How far that is was chosen on the same left-out seasons that are "
    "scored, which flatters a little."
)
NOT_DISEASE = "These are chances of disease weather by a model, not of disease: nothing here was checked against turf."


def title(report: VerifyReport) -> str:
    """What it is."""
    return f"How good the chances were, {report.grounds}"


def paragraph(event: VerifiedEvent) -> str:
    """One paragraph in plain words."""
    if not event.sources:
        return (
            f"{capital(event.name)}: nothing can be said yet. It takes whole seasons of weather here, one to be "
            "told and others to tell it from."
        )
    told = [_source_words(source) for source in event.sources]
    rate = "" if event.base_rate is None else f" Such days are {percent(event.base_rate)} of the season's."
    return f"{capital(event.name)}: {' '.join(told)}{rate}"


def _source_words(source: VerifiedSource) -> str:
    who = {"readings": "from readings and past years alone", "forecast": "with the weather forecast"}[source.source]
    who = f"with an emulated weather forecast of {source.emulated} skill" if source.emulated else who
    if source.seasons < FEW_SEASONS:
        seasons = f"{source.seasons} season{'' if source.seasons == 1 else 's'}"
        return f"{capital(who)}, only {seasons} could be told again: too few to say how far ahead chances are good."
    if not source.better_days:
        return f"{capital(who)}, no day ahead is surely told better than by the usual chance for the date."
    better = f"{source.better_days} day{'' if source.better_days == 1 else 's'} ahead"
    first = f"{_share(source.leads[0].skill)} of the usual chance's error 1 day ahead"
    if not source.act_days:
        return (
            f"{capital(who)}, chances are surely better than the usual ones up to {better}, but by too little to act "
            f"on: they take away {first}."
        )
    days = f"{source.act_days} day{'' if source.act_days == 1 else 's'} ahead"
    last = source.leads[source.act_days - 1]
    told = f"{capital(who)}, chances are worth acting on up to {days}: they take away {first}"
    if source.act_days > 1:
        told += f", and {_share(last.skill)} on the last of these days"
    if source.better_days > source.act_days:
        told += f". Up to {better} they are still a little better than the usual ones"
    return f"{told}; beyond, plan by what is usual."


def _share(score: ScoreReport) -> str:
    if score.value is None:
        return "an unknown part"
    if score.low is None or score.high is None:
        return f"{round(100 * score.value)}{NBSP}%"
    return f"{round(100 * score.value)}{NBSP}% ({round(100 * score.low)} to {round(100 * score.high)})"


def source_title(source: VerifiedSource) -> str:
    """Heading of one way of telling."""
    what = {"readings": "From readings and past years", "forecast": "With weather forecasts as they were issued"}
    head = f"With emulated weather forecasts of {source.emulated} skill" if source.emulated else what[source.source]
    mornings = f"{source.mornings:,} morning{'' if source.mornings == 1 else 's'}"
    seasons = f"{source.seasons} season{'' if source.seasons == 1 else 's'}"
    return f"{head}: {mornings} of {seasons}, {source.first:%Y} to {source.last:%Y}"


def lead_rows(source: VerifiedSource) -> list[tuple[str, ...]]:
    """The table's rows: days ahead, cases, skill, raw skill, told by, miscalibration, AUC, CRPS skill, values."""
    return [
        (
            f"{lead.days_ahead}",
            f"{lead.cases:,}",
            _interval(lead.skill),
            _figure(lead.raw_skill),
            lead.told_by,
            _figure(lead.miscalibration, 3),
            _figure(lead.auc_in_season),
            _figure(lead.crps_skill.value),
            " ".join(_figure(value.value) for value in lead.values),
        )
        for lead in source.leads
        if lead.days_ahead in SHOWN_LEADS
    ]


COLUMNS = (
    "days ahead",
    "cases",
    "skill (90 %)",
    "raw",
    "told by",
    "miscal.",
    "AUC",
    "CRPS",
    f"value at {' '.join(f'{ratio:g}' for ratio in RATIOS)}",
)
COLUMN_WORDS = (
    "Raw: skill of the members before calibration. Miscal.: part of the squared error that a better labelling of the "
    "same chances would take away. AUC: chance that an event day was given the higher chance of two days of one third "
    "of the season; 0.5 is none. CRPS: skill of the model's own figure over that of other years. Value: what acting on "
    "these chances saves, of all that perfect knowledge would save beyond acting on the usual chance, at ratios of the "
    "cost of acting to the loss it averts."
)


def made_sentence(source: VerifiedSource) -> str:
    """From what its chances were made."""
    return f"Made of: {source.made}."


def reliability_sentences(source: VerifiedSource) -> list[str]:
    """What came against what was told, over groups of days ahead that hold enough cases."""
    return [reliability_sentence(group) for group in source.reliability if group.bins]


def reliability_sentence(group: ReliabilityReport) -> str:
    """What came against what was told, and which bins lie outside their band."""
    rows = "; ".join(
        f"{percent(one.mean_chance)} told, {percent(one.frequency)} came"
        f"{'' if one.band_low <= one.frequency <= one.band_high else ' (outside the band)'} in {one.cases:,}"
        for one in group.bins
    )
    days = f"{group.first_lead} to {group.last_lead} days ahead"
    slope = "" if group.slope is None else f" Slope {group.slope:.2f}; 1 is right."
    return f"{days}: {rows}.{slope}"


def opening_sentence(event: VerifiedEvent, opening: OpeningScores) -> str:
    """How good told openings of the season were."""
    seasons = f"{opening.seasons} season{'' if opening.seasons == 1 else 's'}"
    told = (
        f"{capital(event.name)}, opening of the season, told from readings on {opening.mornings} mornings before it in "
        f"{seasons}: skill {_interval(opening.soon)} of the chance that it opens within 14 days, and "
        f"{_interval(opening.day)} of the day itself."
    )
    if opening.held is not None and opening.width_days is not None and opening.usual_width_days is not None:
        told += (
            f" The range of eight in ten held it on {percent(opening.held)} of mornings; it was "
            f"{opening.width_days:.0f} days wide, the usual one {opening.usual_width_days:.0f}."
        )
    return told


def verify_text(report: VerifyReport) -> str:
    """The verification for a terminal."""
    return "\n".join(_lines(report)) + "\n"


def _lines(report: VerifyReport) -> Iterator[str]:
    yield title(report)
    if report.invented:
        yield "Everything here is invented: place, weather, records."
    yield ""
    for event in report.events:
        yield from wrapped(paragraph(event))
        yield ""
    yield from wrapped(METHOD)
    yield from wrapped(f"{told_words(report)} {NOT_DISEASE}")
    for event in report.events:
        for source in event.sources:
            yield ""
            yield from wrapped(f"{capital(event.name)}, {', '.join(event.areas)}. {source_title(source)}", 0, 2)
            if source.seasons < LEAST_SEASONS:
                yield from wrapped(f"{TOO_FEW} {made_sentence(source)}", 2)
                continue
            yield from _table(lead_rows(source))
            yield from wrapped(
                f"Any day of disease weather in the next 7 days: skill {_interval(source.week_1)}; in the 7 after: "
                f"{_interval(source.week_2)}.",
                2,
            )
            for sentence in reliability_sentences(source):
                yield from wrapped(sentence, 2, 2)
            yield from wrapped(made_sentence(source), 2)
        if event.opening is not None:
            yield ""
            yield from wrapped(opening_sentence(event, event.opening), 0, 2)
    yield ""
    yield from wrapped(COLUMN_WORDS)
    for notice in report.notices:
        yield from wrapped(f"Note: {notice}", 0, 2)


def told_words(report: VerifyReport) -> str:
    """Which mornings, at what hour."""
    which = "Every morning" if report.every_days == 1 else f"One morning in {report.every_days}"
    return f"{which} of the season was told again, as of {report.told_at}."


def _table(rows: list[tuple[str, ...]]) -> Iterator[str]:
    widths = [max(len(row[column]) for row in [COLUMNS, *rows]) for column in range(len(COLUMNS))]
    for row in [COLUMNS, *rows]:
        yield "  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _interval(score: ScoreReport) -> str:
    if score.value is None:
        return "–"
    if score.low is None or score.high is None:
        return f"{score.value:.2f}"
    return f"{score.value:.2f} ({score.low:.2f} to {score.high:.2f})"


def _figure(value: float | None, digits: int = 2) -> str:
    return "–" if value is None else f"{value:.{digits}f}"
