"""The scouting guide of one area or grass in one month, as a page for a person who goes out to look."""

from __future__ import annotations

from calendar import month_name
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from shlex import quote
from textwrap import wrap
from typing import Literal

from forecast.guide import Source
from forecast.guide.form import LookAt
from forecast.guide.lookalikes import LookAlike
from forecast.guide.where import Place
from forecast.report.sentences import INVENTED, capital

SCOUTING_SCHEMA: Literal[1] = 1
WIDTH = 88
LABEL_WIDTH = 12
FOUND_SHOWN = 5  # house choice: of the places that a scout has to find, on the short page


@dataclass(frozen=True, slots=True)
class ToldApart:
    """Something that a disease is taken for: its key, its name, and the one check."""

    key: str
    name: str
    check: str


@dataclass(frozen=True, slots=True)
class DiseaseScouting:
    """How to look for one disease here.

    Attributes:
        shows_now: whether there is something to see this month.
        in_season: within its season and a month to either side, when it infects.
        first_month: first month in which it shows here, turned in the southern hemisphere.
        last_month: last month in which it shows.
        quiet: what to do while nothing shows; empty where something does.
    """

    disease: str
    name: str
    shows_now: bool
    in_season: bool
    first_month: int
    last_month: int
    look_at: LookAt
    hour: str
    weather: str
    patch: str
    blade: str
    base: str
    dew: str
    sure: str
    quiet: str
    not_disease: tuple[ToldApart, ...]
    other_diseases: tuple[ToldApart, ...]
    unsure: str
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class OutOfSeason:
    """A disease that the grass can have and that is not looked for this month."""

    disease: str
    name: str
    first_month: int
    last_month: int


@dataclass(frozen=True, slots=True)
class ScoutingReport:
    """What to look for, where first, and how to tell it apart.

    Attributes:
        area_id: empty where a grass was asked about.
        moment: the moment of the page; its examples of records carry it.
        look_first: places in the order to walk them.
        diseases: those that show now first, then those in season that do not.
        others: those that the grass can have and that are not looked for this month.
        look_alikes: what these diseases are taken for and is none.
        sample: how to send a sample where the field does not settle it.
    """

    schema: Literal[1]
    version: str
    grounds: str
    invented: bool
    area_id: str
    area_name: str
    property_name: str
    grass: str
    month: int
    southern: bool
    moment: datetime
    look_first: tuple[Place, ...]
    diseases: tuple[DiseaseScouting, ...]
    others: tuple[OutOfSeason, ...]
    look_alikes: tuple[LookAlike, ...]
    sample: str
    sample_sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class ScoutableArea:
    """An area that a guide can be asked for."""

    area_id: str
    area_name: str
    property_name: str
    grass: str


@dataclass(frozen=True, slots=True)
class ScoutableAreas:
    """The areas of a workspace."""

    schema: Literal[1]
    areas: tuple[ScoutableArea, ...]


def areas_text(found: ScoutableAreas) -> str:
    """The areas for a terminal, each with the command that prints its guide."""
    width = max((len(area.area_id) for area in found.areas), default=0)
    lines = ["Name an area: forecast scout AREA. Or a grass: forecast scout --grass tall_fescue.", ""]
    lines += [
        f"  {area.area_id:<{width}}  {area.area_name}, {area.property_name}: {area.grass}" for area in found.areas
    ]
    return "\n".join(lines) + "\n"


def scouting_text(report: ScoutingReport, workspace: str = "", *, full: bool = False) -> str:
    """The guide for a terminal or a printout.

    Args:
        report: the guide.
        workspace: the folder to name in the commands shown; empty for none.
        full: everything, with every check and source; else what a person can use on the lawn.
    """
    return "\n".join(_lines(report, workspace, full=full)) + "\n"


def _lines(report: ScoutingReport, workspace: str, *, full: bool) -> Iterator[str]:
    where = f"{report.area_name}, {report.property_name}" if report.area_id else capital(report.grass)
    yield f"Scouting · {where} · {month_name[report.month]}"
    if report.area_id:
        yield report.grass
    if report.invented:
        yield from _wrapped(INVENTED, 0)
    yield ""
    yield from _what_to_do(report.diseases)
    if report.look_first:
        yield ""
        yield from _places(report, full=full)
    for disease in report.diseases:
        yield ""
        yield from _whole(disease) if full else _short(disease)
    if report.look_alikes:
        yield ""
        yield "NO DISEASE? CHECK FOR"
        for one in report.look_alikes:
            looks, source = (f"{one.looks}. ", f" [{one.source}]") if full else ("", "")
            yield from _wrapped(f"{capital(one.name)} ({one.key}): {looks}{one.check}{source}", 2)
    yield ""
    yield "NOT SURE?"
    source = f" [{_sources(report.sample_sources)}]" if full else ""
    yield from _wrapped(f"{report.sample}{source}", 2, hang=0)
    yield ""
    yield from _how_to_record(report, workspace)
    yield ""
    if report.others:
        told = ", ".join(f"{one.name} ({_months(one.first_month, one.last_month)})" for one in report.others)
        yield from _wrapped(f"Not looked for in {month_name[report.month]}, with the months it shows in: {told}.", 0)
    if not full:
        yield from _wrapped(
            "Every check, and whose it is: add --full, or --disease with a key. Most of it was read second-hand in "
            "extension notes; none of it is a diagnosis.",
            0,
        )


def _what_to_do(diseases: Sequence[DiseaseScouting]) -> Iterator[str]:
    showing = [one for one in diseases if one.shows_now]
    if not diseases:
        yield "There is no disease on this list to look for this month; look when you pass."
        return
    if not showing:
        yield "Nothing on this list shows this month; what can be done now stands with each disease."
        return
    for look_at, words in (("dawn", "At dawn, before the dew dries and before mowing"), ("daylight", "In daylight")):
        names = [one.name for one in showing if one.look_at == look_at]
        if names:
            yield from _wrapped(f"{words}: {', '.join(names)}.", 0)
    yield "Take a knife, a hand lens and a bag; look at the edge of a patch, never at its middle."


def _places(report: ScoutingReport, *, full: bool) -> Iterator[str]:
    names = {one.disease: one.name.partition(" (")[0] for one in report.diseases}
    known = [place for place in report.look_first if place.known]
    to_find = [place for place in report.look_first if not place.known]
    shown = to_find if full else to_find[:FOUND_SHOWN]
    number = 0
    for title, places in (("LOOK FIRST", known), ("THEN FIND", shown)):
        if places:
            yield title
        for place in places:
            number += 1
            whose = f" ({', '.join(names[key] for key in place.diseases)})" if len(names) > 1 else ""
            source = f" [{_sources(place.sources)}]" if full else ""
            yield from wrap(
                f"{number}. {capital(place.words)}; {place.reason}{whose}.{source}",
                WIDTH,
                initial_indent="  " if number < 10 else " ",
                subsequent_indent="     ",
                break_on_hyphens=False,
            )


def _short(one: DiseaseScouting) -> Iterator[str]:
    yield from _wrapped(_title(one), 0)
    yield from _now(one)
    if not one.shows_now:
        yield from _labelled("Make sure", one.sure)
        return
    yield from _labelled("When", f"{capital(one.weather)}.")
    yield from _labelled("Turf", f"{capital(one.patch)}.")
    yield from _labelled("Plant", f"{capital(one.blade)}. {capital(one.base)}.")
    if one.look_at == "dawn":
        yield from _labelled("Dew", f"{capital(one.dew)}.")
    yield from _labelled("Make sure", one.sure)
    yield from _labelled("Tell from", " ".join(told.check for told in one.other_diseases))


def _whole(one: DiseaseScouting) -> Iterator[str]:
    yield from _wrapped(_title(one), 0)
    yield from _now(one)
    yield from _labelled("Hour", f"{capital(one.hour)}.")
    yield from _labelled("Weather", f"{capital(one.weather)}.")
    yield from _labelled("Turf", f"{capital(one.patch)}.")
    yield from _labelled("Blade", f"{capital(one.blade)}.")
    yield from _labelled("Base, roots", f"{capital(one.base)}.")
    yield from _labelled("Dew", f"{capital(one.dew)}.")
    yield from _labelled("Make sure", one.sure)
    yield from _labelled("Tell from", " ".join(told.check for told in one.other_diseases))
    yield from _labelled("No disease", " ".join(told.check for told in one.not_disease))
    yield from _labelled("Not sure", one.unsure)
    yield from _labelled("Sources", f"{_sources(one.sources)}.")


def _title(one: DiseaseScouting) -> str:
    now = "" if one.shows_now else "; nothing to see now"
    return f"{one.name.upper()} ({one.disease}) · shows {_months(one.first_month, one.last_month)}{now}"


def _now(one: DiseaseScouting) -> list[str]:
    return [] if one.shows_now else _labelled("Now", one.quiet or "It is early or late for it; look when you pass.")


def _how_to_record(report: ScoutingReport, workspace: str) -> Iterator[str]:
    yield "WRITE IT DOWN, also when it is nothing"
    named = f" -w {quote(workspace)}" if workspace else ""
    start = f"  forecast record scouting {report.area_id or 'AREA'}{named} --on {report.moment:%Y-%m-%dT%H:%M} --saw"
    first = report.diseases[0] if report.diseases else None
    saw = "brown_patch" if first is None else first.disease
    threads = "" if first is not None and first.look_at == "daylight" else " --threads"
    keys = [one.key for one in report.look_alikes]
    yield f"{start} nothing"
    yield f'{start} {saw}{threads} --patch-size "6 in" --severity-pct 3'
    yield f"{start} {'drought' if 'drought' in keys or not keys else keys[0]}"
    yield f'{start} {saw} --lab "State plant clinic"'
    yield "When the lab has answered:"
    yield f"  forecast record lab-result NUMBER{named} --found {saw}"
    yield from _wrapped(
        "What is no disease never counts as one. Add --sure only when you would stand by it; 'unknown' and "
        "'other_disease', with a --note, are answers too.",
        0,
        hang=0,
    )


def _months(first: int, last: int) -> str:
    return month_name[first] if first == last else f"{month_name[first]} to {month_name[last]}"


def _sources(sources: Sequence[Source]) -> str:
    return "; ".join(str(source) for source in sources)


def _labelled(label: str, text: str) -> list[str]:
    start = f"  {label:<{LABEL_WIDTH}}"
    return wrap(text, WIDTH, initial_indent=start, subsequent_indent=" " * len(start), break_on_hyphens=False)


def _wrapped(text: str, indent: int, *, hang: int = 2) -> list[str]:
    first, rest = " " * indent, " " * (indent + hang)
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
