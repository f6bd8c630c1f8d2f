"""Application windows: per area and disease by when, the best stretch of hours, the last, and what waiting costs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from forecast.clock import day_words
from forecast.report.lines import wrapped
from forecast.report.words import capital, clock, percent

WINDOWS_SCHEMA: Literal[1] = 1
INVENTED = "Everything on this page is invented: place, weather, records, labels."
STOPS_SHOWN = 2


@dataclass(frozen=True, slots=True)
class HourReport:
    """One hour at an area, by its label.

    Attributes:
        start: clock time.
        fit_share: of the ways that the weather can go; None where something that decides is not known.
        stops: what stops it, with the share of the ways in which it does.
        cautions: what does not stop it, likewise.
    """

    start: datetime
    fit_share: float | None
    stops: tuple[tuple[str, float], ...]
    cautions: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Hours one after another that are fit, from the start of the first to the end of the last.

    Attributes:
        least_share: of the ways in which its least sure hour is fit.
        cautions: met in any of its hours.
    """

    start: datetime
    end: datetime
    least_share: float
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WindowDay:
    """One day on which an application could be made.

    Attributes:
        legal: why the label does not permit it on that day; empty where it does.
        working_hours: hours of light in which people work here.
        fit_hours: those of them that are fit.
        unknown_hours: those of which something is not known.
        stops: what stops the working hours that are not fit, the most frequent first.
        stretches: fit hours, one after another.
        too_late_chance: that a day of disease weather comes before an application of this day can protect; None where
            no chance is known.
    """

    day: date
    legal: str
    working_hours: int
    fit_hours: int
    unknown_hours: int
    stops: tuple[str, ...]
    stretches: tuple[Stretch, ...]
    too_late_chance: float | None


@dataclass(frozen=True, slots=True)
class DiseaseWindow:
    """One disease on one area.

    Attributes:
        answer: of the morning page.
        reasons: why, most important first.
        needed_by: by whose night cover has to be in place; None where none is needed in two weeks.
        label_name: the label that the window goes by; empty where none may be used.
        rate_as_printed: its rate.
        gear, keep_off: what it says of them.
        limits: what hours are held to, in words.
        days: from the first day on which it can be made to the last before it is too late.
        best: the stretch to take; None where there is none.
        last: the last one before it is too late; None where there is none.
        hours: every hour of those days.
        applications_this_year: on record against it here since 1 January.
    """

    disease: str
    name: str
    answer: Literal["treat", "scout", "hold", "no_model"]
    reasons: tuple[str, ...]
    needed_by: date | None
    label_name: str
    rate_as_printed: str
    gear: str
    keep_off: str
    limits: tuple[str, ...]
    days: tuple[WindowDay, ...]
    best: Stretch | None
    last: Stretch | None
    hours: tuple[HourReport, ...]
    applications_this_year: int = 0


@dataclass(frozen=True, slots=True)
class WindowArea:
    """One area with its diseases in season."""

    area_id: str
    area_name: str
    property_name: str
    grass: str
    diseases: tuple[DiseaseWindow, ...]


@dataclass(frozen=True, slots=True)
class WindowsPage:
    """The windows of some areas."""

    schema: Literal[1]
    version: str
    grounds: str
    invented: bool
    as_of: datetime
    replay: bool
    time_zone: str
    units: Literal["us", "si"]
    areas: tuple[WindowArea, ...]
    notices: tuple[str, ...]
    cautions: tuple[str, ...]


def title(page: WindowsPage) -> str:
    """What it is and when."""
    today = page.as_of
    return f"Application windows on {today:%A} {today.day} {today:%B} {today.year}"


def windows_text(page: WindowsPage) -> str:
    """The windows for a terminal."""
    return "\n".join(_lines(page)) + "\n"


def _lines(page: WindowsPage) -> Iterator[str]:
    yield f"{title(page)} · {page.grounds}"
    yield f"{'Replayed: told' if page.replay else 'Told'} at {clock(page.as_of)} from what was known then."
    if page.invented:
        yield INVENTED
    for area in page.areas:
        yield ""
        yield f"{area.property_name} · {area.area_name} · {area.grass}"
        for one in area.diseases:
            if one.answer == "treat":
                yield from _disease(one)
        for sentence in others(area):
            yield from wrapped(sentence, 2, 2)
    yield ""
    for notice in page.notices:
        yield from wrapped(f"Note: {notice}", 0, 2)
    for sentence in (*COMMON, *page.cautions):
        yield from wrapped(sentence)


COMMON = (
    (
        "Shares are of the ways in which the weather can go by the forecast, the last readings and past years; they "
        "say less the further a day is off. An hour is fit where nothing stops it in eight of ten ways; a stretch has "
        "two fit hours at least; the best one is as late as a later day is left in reserve (house choices)."
    ),
    (
        "Gusts are not in these forecasts, and no forecast at one height can prove that there is no inversion: look "
        "for drifting smoke or dust, and measure on the spot. A stretch is a plan and no clearance: how long people "
        "and pets are kept off is the label's to say."
    ),
)
OTHERS = {"scout": "Scout", "hold": "Not needed now", "no_model": "No tested model"}


def headline(one: DiseaseWindow) -> str:
    """By when, and which stretch to take, in one sentence."""
    if one.needed_by is None:
        return f"{capital(one.name)}: not needed now."
    by = f"{capital(one.name)}: cover is needed by the night before {day_words(one.needed_by)}"
    if one.best is None:
        return f"{by}, and no stretch of fit hours is left before it."
    return f"{by}. Best stretch {stretch_words(one.best)}{_last(one)}."


def others(area: WindowArea) -> list[str]:
    """The diseases that no window is looked for, by answer, each in a few words."""
    told = []
    for answer, words in OTHERS.items():
        names = [one.name for one in area.diseases if one.answer == answer]
        if names:
            told.append(f"{words}: {', '.join(names)}.")
    return told


def _last(one: DiseaseWindow) -> str:
    if one.last is None or one.last == one.best:
        return ", and the only one" if one.last is not None else ""
    return f"; the last one {stretch_words(one.last)}"


def stretch_words(stretch: Stretch) -> str:
    """From when to when, and how sure."""
    span = f"{day_words(stretch.start.date())} {stretch.start:%H:%M} to {stretch.end:%H:%M}"
    return f"{span} (fit in {percent(stretch.least_share)} of the ways or more)"


def day_sentence(day: WindowDay) -> str:
    """What a day offers, and what waiting for it costs."""
    late = ""
    if day.too_late_chance:
        late = f" In {percent(day.too_late_chance)} of the ways disease weather comes before it can protect."
    if day.legal:
        return f"not permitted: {day.legal}."
    if not day.working_hours:
        return "nobody works here on that day."
    if day.stretches:
        spans = ", ".join(f"{one.start:%H:%M} to {one.end:%H:%M}" for one in day.stretches)
        told = f"{spans}, {day.fit_hours} of {day.working_hours} working hours fit."
    else:
        told = "no two fit hours together."
    if day.unknown_hours:
        told += f" {day.unknown_hours} not known."
    if day.stops:
        told += f" What stops others: {', '.join(day.stops[:STOPS_SHOWN])}."
    return told + late


def _disease(one: DiseaseWindow) -> Iterator[str]:
    yield ""
    yield from wrapped(headline(one), 2, 2)
    for reason in one.reasons:
        yield from wrapped(f"because {reason}", 4, 2)
    for day in one.days:
        yield from wrapped(f"{day_words(day.day)}: {day_sentence(day)}", 4, 2)
    if one.best is not None and one.best.cautions:
        yield from wrapped(f"Mind in the best stretch: {', '.join(one.best.cautions)}.", 4, 2)
    yield from wrapped(f"By {one.label_name}, {one.rate_as_printed}: {'; '.join(one.limits)}.", 4, 2)
    yield from wrapped(f"Gear: {one.gear}", 4, 2)
    yield from wrapped(f"Keep off: {one.keep_off}", 4, 2)
