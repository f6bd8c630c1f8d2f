"""What a check of a station's record says, as plain values, and as text."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from forecast.report.words import owed_to

STATION_SCHEMA: Literal[1] = 1
WIDTH = 88
WHOLE_PCT = 100


@dataclass(frozen=True, slots=True)
class MonthShare:
    """How much of a month is known.

    Attributes:
        month: its first day.
        known_pct: whole per cent of its hours, of those looked at, that are known after checks and the closing of short
            holes; rounded down.
    """

    month: date
    known_pct: int


@dataclass(frozen=True, slots=True)
class Completeness:
    """One quantity's months, of those that the record spans."""

    quantity: str
    meaning: str
    months: tuple[MonthShare, ...]


@dataclass(frozen=True, slots=True)
class VerdictReport:
    """Readings that one check marked."""

    check: str
    looks_for: str
    quantity: str
    meaning: str
    unit: str
    flag: Literal["suspect", "fail"]
    hours: int
    first_hour_utc: datetime
    last_hour_utc: datetime
    example: float
    limit: str
    source: str


@dataclass(frozen=True, slots=True)
class FindingReport:
    """What the record as a whole says of the station."""

    check: str
    quantity: str
    first_hour_utc: datetime
    last_hour_utc: datetime
    text: str
    grave: bool


@dataclass(frozen=True, slots=True)
class ProviderReport:
    """Who stands behind the values, and behind how many."""

    name: str
    values: int
    attribution: str
    licence: str
    link: str


@dataclass(frozen=True, slots=True)
class WithdrawalReport:
    """What a person took out.

    Attributes:
        given_back_utc: when it was given back; None where it still holds.
        given_back_reason: why; empty where it still holds.
    """

    number: int
    quantity: str
    first_hour_utc: datetime
    last_hour_utc: datetime | None
    reason: str
    by_whom: str
    given_back_utc: datetime | None
    given_back_reason: str


@dataclass(frozen=True, slots=True)
class StationReport:
    """A whole station."""

    schema: Literal[1]
    station_id: str
    name: str
    first_hour_utc: datetime
    last_hour_utc: datetime
    completeness: tuple[Completeness, ...]
    filled_hours: int
    verdicts: tuple[VerdictReport, ...]
    findings: tuple[FindingReport, ...]
    wetness: str
    withdrawals: tuple[WithdrawalReport, ...]
    providers: tuple[ProviderReport, ...]


MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def station_text(report: StationReport) -> str:
    """The report for a terminal: the answer first, then why, then the figures."""
    return "\n".join(_lines(report)) + "\n"


def _lines(report: StationReport) -> Iterator[str]:
    yield f"{report.name} ({report.station_id}), {_moment(report.first_hour_utc)} to {_moment(report.last_hour_utc)}"
    yield ""
    yield "FOR WET HOURS"
    yield from _wrap(report.wetness, 2)
    for finding in sorted(report.findings, key=lambda one: not one.grave):
        yield from _wrap(finding.text, 2, hang=4)
    yield ""
    yield "READINGS THAT CHECKS MARKED"
    if not report.verdicts:
        yield "  None."
    for verdict in sorted(report.verdicts, key=lambda one: (one.flag != "fail", -one.hours)):
        yield from _wrap(_verdict(verdict), 2, hang=4)
    if report.withdrawals:
        yield ""
        yield "TAKEN OUT BY HAND"
        for one in report.withdrawals:
            yield from _wrap(_withdrawal(one), 2, hang=4)
    yield ""
    yield "KNOWN HOURS, % OF THOSE LOOKED AT (checked, holes of up to 3 h closed; months of UTC)"
    for quantity in report.completeness:
        yield f"  {quantity.meaning}"
        yield from _grid(quantity)
    yield from _wrap(f"Filled: {report.filled_hours} values.", 2)
    yield ""
    yield "SOURCES"
    for provider in report.providers:
        yield from _wrap(f"{provider.values:,} values: {provider_words(provider)}", 2, hang=4)


def provider_words(provider: ProviderReport) -> str:
    """Who it is, with the licence and where it can be read."""
    return owed_to(provider.name, provider.attribution, provider.licence, provider.link)


def _verdict(one: VerdictReport) -> str:
    done = "LEFT OUT" if one.flag == "fail" else "suspect, kept"
    unit = "" if one.unit == "1" else f" {one.unit}"
    return (
        f"{done}: {one.meaning}, {one.hours} h, {_hours_marked(one)}: {one.limit}; the first {one.example:g}{unit}. "
        f"Check: {one.looks_for} ({one.source})."
    )


def _hours_marked(one: VerdictReport) -> str:
    """From when to when, and whether the hours between are marked without a break."""
    first, last = _moment(one.first_hour_utc), _moment(one.last_hour_utc)
    if one.hours == 1:
        return first
    unbroken = one.last_hour_utc - one.first_hour_utc == timedelta(hours=one.hours - 1)
    return f"{first} to {last}" if unbroken else f"between {first} and {last}"


def _withdrawal(one: WithdrawalReport) -> str:
    until = "on" if one.last_hour_utc is None else f"to {_moment(one.last_hour_utc)}"
    by = f" by {one.by_whom}" if one.by_whom else ""
    told = f"{one.number}: {one.quantity} from {_moment(one.first_hour_utc)} {until}{by}: {one.reason}."
    if one.given_back_utc is None:
        return told
    return f"{told} Given back {_moment(one.given_back_utc)}: {one.given_back_reason}."


def _moment(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M} UTC"


def _grid(quantity: Completeness) -> Iterator[str]:
    """The years with a month that is not whole; the whole ones in a word."""
    known = {(share.month.year, share.month.month): share.known_pct for share in quantity.months}
    years = sorted({year for year, _ in known})
    broken = [year for year in years if any(known.get((year, month), 100) < WHOLE_PCT for month in range(1, 13))]
    if broken:
        yield "        " + "".join(f"{name:>5}" for name in MONTHS)
    for year in broken:
        cells = [known.get((year, month)) for month in range(1, 13)]
        yield f"    {year}" + "".join(f"{'' if cell is None else cell:>5}" for cell in cells).rstrip()
    if len(broken) < len(years):
        yield f"    {'all' if not broken else 'all other'} months whole"


def _wrap(text: str, indent: int, *, hang: int | None = None) -> list[str]:
    first, later = " " * indent, " " * (indent if hang is None else hang)
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False)
