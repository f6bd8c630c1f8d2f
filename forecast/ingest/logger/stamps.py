"""Clock times as a file writes them, brought to moments in UTC.

A clock time that clocks skip in spring does not exist; one that comes twice in autumn is told by the order of rows:
where the clock times run back, the first pass is before and the second after. One that stands once cannot be told.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta, timezone, tzinfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecast.ingest.logger.hourly import Moments, Rows
from forecast.ingest.logger.mapping import EXCEL, UNIX
from forecast.panel import Floats

FIRST_YEAR, LAST_YEAR = 1850, 2199  # house choice: a stamp outside is a slip, and the store would span all the years
_FIRST, _LAST = (np.datetime64(f"{year}-01-01", "s") for year in (FIRST_YEAR, LAST_YEAR + 1))

# Day 1 of the 1900 date system is 1900-01-01, and it counts a 29 February 1900 that never was; so from March 1900 on
# days run from 1899-12-30 (Microsoft's description of the date systems, from memory).
_EXCEL_DAY_0 = np.datetime64("1899-12-30", "s")
_FIRST_EXCEL_DAY = 61  # 1900-03-01
_DAY_S = 86_400
_MINUTE_S = 60
_MOST_S = 1e11  # beyond it no count of seconds is a date, and the sum would not fit

# A stamp without an hour or with half an offset has no one meaning, so nothing looser is tried.
_WRITTEN = r"\d{4}-\d\d-\d\d[T ]\d\d(?::\d\d(?::\d\d(?:\.\d{1,6})?)?)?"
_CLOCK = re.compile(_WRITTEN, re.ASCII)
_ZONED = re.compile(_WRITTEN + r"(?:Z|[+-]\d\d(?::?\d\d)?)", re.ASCII)
_AM_PM = re.compile(r"\s*([AaPp])\.?\s?(?:[Mm]\.?)?$")
_CLOCKS_DIFFER_AT_MOST = np.timedelta64(3, "h")  # house choice: no clock is put back by more; further apart is a year


@dataclass(frozen=True, eq=False)
class Placed:
    """Stamps in UTC, and what is wrong with the rest.

    Attributes:
        moments: UTC, NaT where a stamp is wrong or cannot be told; shape (rows,).
        unread: rows that are no stamp of the form.
        zoneless: rows that name no zone where others do, or where no zone is given.
        gone: rows whose clock time does not exist.
        lonely: rows whose clock time comes twice and stands once.
    """

    moments: Moments
    unread: NDArray[np.bool_]
    zoneless: NDArray[np.bool_]
    gone: NDArray[np.bool_]
    lonely: NDArray[np.bool_]


def from_count(counts: Floats, form: str) -> Moments:
    """Moments from spreadsheet days (to the nearest minute, as they are often cut short) or from seconds since 1970."""
    scale, zero = (_DAY_S, _EXCEL_DAY_0) if form == EXCEL else (1, np.datetime64(0, "s"))
    seconds = counts * scale
    if form == EXCEL:
        seconds = np.rint(seconds / _MINUTE_S) * _MINUTE_S
    known = np.abs(seconds) < _MOST_S  # False for NaN
    known &= (counts >= _FIRST_EXCEL_DAY) | (form != EXCEL)
    moments = zero + np.rint(np.where(known, seconds, 0)).astype("timedelta64[s]")
    moments[~known] = np.datetime64("NaT", "s")
    return moments


def placed(read: Moments, has_zone: NDArray[np.bool_], zone: tzinfo | None) -> Placed:
    """Stamps as written to moments in UTC.

    Args:
        read: stamps as written, in UTC where they name their zone; NaT for what is no stamp; shape (rows,).
        has_zone: which of them name their zone.
        zone: the zone of those that do not; None where each has to.
    """
    read = np.where((read >= _FIRST) & (read < _LAST), read, np.datetime64("NaT", "s"))
    unread = np.isnat(read)
    zoneless = ~unread & ~has_zone & (bool(has_zone.any()) or zone is None)
    nowhere = np.zeros(len(read), bool)
    if zone is None or has_zone.all():
        return Placed(np.where(zoneless, np.datetime64("NaT", "s"), read), unread, zoneless, nowhere, nowhere)
    if isinstance(zone, timezone):
        offset = np.timedelta64(round((zone.utcoffset(None) or timedelta()).total_seconds()), "s")
        moments, gone, lonely = np.where(has_zone, read, read - offset), nowhere, nowhere
    else:
        local = np.where(has_zone, np.datetime64("NaT", "s"), read)
        utc, gone, lonely = _from_clocks(local, zone)
        moments = np.where(has_zone, read, utc)
    return Placed(np.where(zoneless, np.datetime64("NaT", "s"), moments), unread, zoneless, gone, lonely)


def _from_clocks(local: Moments, zone: tzinfo) -> tuple[Moments, NDArray[np.bool_], NDArray[np.bool_]]:
    """Clock times of a zone to UTC, with which of them do not exist and which cannot be told apart."""
    clock = pd.Series(local).dt
    early, late = (
        clock.tz_localize(zone, ambiguous=np.full(len(local), is_summer), nonexistent="NaT")
        .dt.tz_convert(None)
        .to_numpy()
        .astype("datetime64[s]")
        for is_summer in (True, False)
    )
    gone = np.isnat(early) & ~np.isnat(local)
    lonely = np.zeros(len(local), bool)
    twice = np.flatnonzero((early != late) & ~np.isnat(early))
    utc = early.copy()
    far = np.abs(np.diff(local[twice])) > _CLOCKS_DIFFER_AT_MOST
    for night in np.split(twice, np.flatnonzero(far) + 1):
        moves = np.diff(local[night])
        back = np.flatnonzero(moves < np.timedelta64(0, "s"))
        if not back.size:  # hours have one such clock time a night, which then stands twice
            back = np.flatnonzero(moves == np.timedelta64(0, "s"))
        if back.size:
            second = night[back[0] + 1 :]
            utc[second] = late[second]
        else:
            lonely[night] = True
    utc[lonely] = np.datetime64("NaT", "s")
    return utc, gone, lonely


def as_written(cells: Sequence[str], form: str | None) -> tuple[Moments, NDArray[np.bool_]]:
    """Stamps of a ``strptime`` form, or of ISO 8601, in UTC where they name their zone, and which of them do.

    What is no stamp is NaT. 24:00 is the end of its day.
    """
    if form is None:
        plain = plain_stamps(cells)
        if plain is not None:
            return plain
    bare = [cell.strip() for cell in cells]
    if form is not None and "%p" in form:  # "5:15p", "5:15 PM" and "5:15 p.m." are one and the same
        form = re.sub(r"\s*%p", " %p", form)
        bare = [_AM_PM.sub(lambda found: f" {found[1].upper()}M", cell) for cell in bare]
    read, has_zone = careful_stamps(bare, form)
    midnight, new_day = _midnight(form)
    odd = [row for row in np.flatnonzero(np.isnat(read)).tolist() if midnight.match(bare[row])]
    if odd:
        again, zones = careful_stamps([midnight.sub(new_day, bare[row]) for row in odd], form)
        read[odd] = again + np.timedelta64(1, "D")
        has_zone[odd] = zones
    return read, has_zone


def _midnight(form: str | None) -> tuple[re.Pattern[str], str]:
    """What finds a form's 24:00 as it stands last in a cell, and what puts 00:00 there."""
    clock = ([*re.findall(r"%H(?:[^%]?%M)?(?:[^%]?%S)?", form or "%H:%M"), "%H"])[0]
    clock = clock.replace("%M", "00").replace("%S", "00")
    found = re.compile(rf"(.*){re.escape(clock.replace('%H', '24'))}((?::00(?:\.0+)?)?(?![\d:.]).*)")
    return found, rf"\g<1>{clock.replace('%H', '00')}\g<2>"


def careful_stamps(bare: Sequence[str], form: str | None) -> tuple[Moments, NDArray[np.bool_]]:
    """Stamps of a form, cell by cell, in UTC where they name their zone, and which of them do; NaT for no stamp."""
    if form is not None:
        has_zone = np.full(len(bare), "%z" in form)
        stamps: list[str | None] = list(bare)
    else:
        has_zone = np.array([_ZONED.fullmatch(cell) is not None for cell in bare], dtype=bool)
        stamps = [cell if zoned or _CLOCK.fullmatch(cell) else None for cell, zoned in zip(bare, has_zone, strict=True)]
    # bare objects, so that patterns and missing stamps mean the same whatever libraries pandas finds
    column = pd.Series(stamps, dtype="object")
    parsed = pd.to_datetime(column, format=form or "ISO8601", errors="coerce", utc=True)
    return parsed.dt.tz_localize(None).to_numpy().astype("datetime64[s]"), has_zone


def plain_stamps(cells: Sequence[str]) -> tuple[Moments, NDArray[np.bool_]] | None:
    """Stamps of one form, ``YYYY-MM-DDThh:mm[:ss][Z]``, all alike, read by arithmetic; None if any is another.

    This is the way of most files, and many times as fast as trying the form cell by cell.
    """
    width = len(cells[0]) if cells else 0
    if width not in (16, 17, 19, 20):
        return None
    letters = np.array(cells, dtype=f"U{width + 1}").view(np.uint32).reshape(len(cells), width + 1)
    seconds_at = (17, 18) if width >= 19 else ()
    marks = {4: "-", 7: "-", 10: "T ", 13: ":", width: "\0"}
    marks |= ({16: ":"} if seconds_at else {}) | ({width - 1: "Z"} if width in (17, 20) else {})
    if not all(np.isin(letters[:, place], [ord(mark) for mark in allowed]).all() for place, allowed in marks.items()):
        return None
    digits = letters[:, [0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15, *seconds_at]].astype(np.int64) - ord("0")
    if ((digits < 0) | (digits > 9)).any():
        return None
    year = digits[:, :4] @ [1000, 100, 10, 1]
    pairs = digits[:, 4:].reshape(len(cells), -1, 2) @ [10, 1]
    month, day, hour, minute = pairs[:, :4].T
    second = pairs[:, 4] if seconds_at else np.zeros_like(minute)
    if ((month < 1) | (month > 12) | (day < 1) | (hour > 23) | (minute > 59) | (second > 59)).any():
        return None
    months = ((year - 1970) * 12 + month - 1).astype("datetime64[M]")
    days = months.astype("datetime64[D]") + (day - 1).astype("timedelta64[D]")
    if (days.astype("datetime64[M]") != months).any():  # a 30 February
        return None
    seconds = hour * 3600 + minute * _MINUTE_S + second
    read: Moments = days.astype("datetime64[s]") + seconds.astype("timedelta64[s]")
    return read, np.full(len(cells), width in (17, 20))


def form_in_words(form: str | None) -> str:
    """A form as a person may be told of it."""
    words = {None: "YYYY-MM-DDThh:mm", EXCEL: "of a spreadsheet's day number", UNIX: "of seconds since 1970"}
    return words.get(form, form or "")


def back_steps(moments: Moments) -> Rows:
    """Rows whose moment lies before that of the last row with one."""
    known = np.flatnonzero(~np.isnat(moments))
    return known[1:][np.diff(moments[known]) < np.timedelta64(0, "s")]
