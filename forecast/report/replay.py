"""Past mornings one after the other as they would have been told, with what came afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Literal

from forecast.clock import day_words
from forecast.report.lines import wrapped
from forecast.report.page import ChanceReport
from forecast.report.sentences import SHORT
from forecast.report.words import capital, percent

REPLAY_SCHEMA: Literal[1] = 1
CSV_COLUMNS = (
    "date,answer,cover_from,next_visit,chance_to_next_visit,usual_to_next_visit,made_of,chance_week_1,chance_week_2,"
    "came_to_next_visit,event_days_week_1,event_days_week_2"
)


@dataclass(frozen=True, slots=True)
class ReplayedMorning:
    """One morning.

    Attributes:
        day: its date.
        answer: as it would have been told.
        open_from: first day that an application could protect and none did yet.
        next_visit: the day up to which the chance counts.
        chance: of at least one event day between the two; None where nothing was open, or no past year known.
        week_1, week_2: of at least one in the 7 days after the date, and in the 7 after those.
        came: whether one came between the two; None while it is not known.
        days_week_1, days_week_2: how many event days came; None while not all are known.
    """

    day: date
    answer: Literal["treat", "scout", "hold", "no_model"]
    open_from: date
    next_visit: date
    chance: ChanceReport | None
    week_1: ChanceReport | None
    week_2: ChanceReport | None
    came: bool | None
    days_week_1: int | None
    days_week_2: int | None


@dataclass(frozen=True, slots=True)
class ReplayReport:
    """A run of mornings of one disease on one area."""

    schema: Literal[1]
    version: str
    grounds: str
    invented: bool
    area_id: str
    area_name: str
    property_name: str
    disease: str
    name: str
    event_words: str
    told_at: str
    mornings: tuple[ReplayedMorning, ...]


def replay_text(report: ReplayReport) -> str:
    """A line a morning, and what they add up to."""
    return "\n".join(_lines(report)) + "\n"


def _lines(report: ReplayReport) -> Iterator[str]:
    first, last = report.mornings[0].day, report.mornings[-1].day
    span = f"{first:%Y}" if first.year == last.year else f"{first:%Y} to {last:%Y}"
    yield f"Replay: {report.name} on {report.area_name}, {report.property_name}, {span}"
    if report.invented:
        yield "Everything here is invented: place, weather, records."
    yield from wrapped(
        f"Told each morning at {report.told_at} from what was known then: records of applications and sightings, "
        "forecasts that had been fetched, readings that had come in. Chances are of at least one day of disease "
        "weather, week 1 and 2 being the 7 days after the morning and the 7 after those; what came is told by the "
        "readings of today, ? where it is not known yet, – where nothing was open or no chance could be given."
    )
    yield ""
    for sentence in summary(report):
        yield from wrapped(sentence)
    yield ""
    yield f"{'':<11} {'':<8} {'to next visit':>14} {'usual':>8} {'came':>6}   week 1        week 2"
    for one in report.mornings:
        chance = "–" if one.chance is None else percent(one.chance.value)
        usual = "–" if one.chance is None else percent(one.chance.usual)
        came = {None: "?", True: "yes", False: "no"}[one.came] if one.chance is not None else ""
        yield (
            f"{day_words(one.day):<11} {SHORT[one.answer]:<8} {chance:>14} {usual:>8} {came:>6}   "
            f"{_week(one.week_1, one.days_week_1):<13} {_week(one.week_2, one.days_week_2)}"
        ).rstrip()
    yield ""
    yield from wrapped(f"A day of disease weather is one on which {report.event_words}. It is weather, not disease.")


def summary(report: ReplayReport) -> list[str]:
    """How often each answer was given, and how often it came after low, middling and high chances."""
    counts = {word: sum(one.answer == word for one in report.mornings) for word in SHORT}
    told = ", ".join(f"{count} × {SHORT[word].lower()}" for word, count in counts.items() if count)
    mornings = len(report.mornings)
    sentences = [f"{mornings} morning{'' if mornings == 1 else 's'}: {told}."]
    scored = [
        (one.week_1, one.days_week_1 > 0)
        for one in report.mornings
        if one.week_1 is not None and one.days_week_1 is not None
    ]
    for low, high, words in ((0.0, 1 / 3, "below 33 %"), (1 / 3, 2 / 3, "of 33 to 66 %"), (2 / 3, 1.01, "above 66 %")):
        some = [came for chance, came in scored if low <= chance.value < high]
        if some:
            sentences.append(f"After chances {words} for 7 days it came on {sum(some)} of {len(some)}.")
    if mornings > 1:
        sentences.append("Mornings after one another share their days: they are no independent tries.")
    return [capital(sentence) for sentence in sentences]


def replay_csv(report: ReplayReport) -> str:
    """A row a morning."""
    rows = [CSV_COLUMNS]
    for one in report.mornings:
        chance = (
            ("", "", "") if one.chance is None else (_figure(one.chance), f"{one.chance.usual:.4f}", one.chance.made)
        )
        rows.append(
            ",".join(
                (
                    one.day.isoformat(),
                    one.answer,
                    one.open_from.isoformat(),
                    one.next_visit.isoformat(),
                    *chance,
                    _figure(one.week_1),
                    _figure(one.week_2),
                    "" if one.came is None else str(int(one.came)),
                    *("" if days is None else str(days) for days in (one.days_week_1, one.days_week_2)),
                )
            )
        )
    return "\n".join(rows) + "\n"


def _figure(chance: ChanceReport | None) -> str:
    return "" if chance is None else f"{chance.value:.4f}"


def _week(chance: ChanceReport | None, days: int | None) -> str:
    if chance is None:
        return "–"
    came = "?" if days is None else f"{days} d came"
    return f"{percent(chance.value)}, {came}"
