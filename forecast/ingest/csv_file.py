"""Hourly weather from a CSV file: canonical columns, or a user's own by a mapping.

Stamps name the end or the start of their hour as the mapping says; inside, every stamp is the end. The file is
taken whole or not at all: all its mistakes are listed together, by line.
"""

from __future__ import annotations

import csv
import gzip
import io
import zlib
from collections.abc import Sequence
from datetime import tzinfo
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecast.errors import DataError, Fault, MissingInputError, Notice
from forecast.ingest.imported import ImportedHours
from forecast.ingest.mapping import CANONICAL_TIME, Mapping, canonical_mapping
from forecast.panel import Floats, Hours
from forecast.quantities import QUANTITIES, Origin, unit_suffix
from forecast.units import IMPORT_UNITS

MOST_BYTES = 50_000_000  # unpacked; 50 MB is some 80 years of hours
MOST_CHARACTERS = 40  # of a wrong cell
SHARE_OUTSIDE_MEANS_UNIT = 0.05  # house choice: more than this outside the bounds and the unit is wrong
FIRST_YEAR, LAST_YEAR = 1850, 2199  # house choice: a stamp outside is a slip, and the store would span all the years
Rows = NDArray[np.int64]

# A stamp without an hour or with half an offset has no one meaning, so nothing looser is tried.
_CLOCK = r"\d{4}-\d\d-\d\d[T ]\d\d(?::\d\d(?::\d\d(?:\.\d{1,6})?)?)?"
_ZONE = r"(?:Z|[+-]\d\d(?::?\d\d)?)"


def read_csv_hours(path: Path, mapping: Mapping | None = None) -> ImportedHours:
    """The hours of one file.

    Args:
        path: a CSV file, plain or gzip-packed.
        mapping: how to read it; without one its columns must carry the vocabulary's names and ``hour_utc``.

    Raises:
        MissingInputError: there is no such file.
        DataError: every mistake in the file, by line.
    """
    header, rows, lines, faults = _cells(_text(path), mapping.delimiter if mapping else ",")
    notices = [] if mapping else _unread(header)
    mapping = mapping or canonical_mapping(header)
    wrong_header = _header_faults(header, mapping)
    if wrong_header:
        raise _refused(path, [*wrong_header, *faults], _HEADER_HINT)
    if not rows:
        raise _refused(path, faults or [Fault("there are no hours below the header", 1)])
    table = pd.DataFrame(rows, columns=header, dtype="str")
    stamps, found, left_out = _stamps(table[mapping.time_column], lines, mapping)
    faults += found
    values = {}
    for name, column in mapping.columns.items():
        read, found = _numbers(table[column.column], lines, column.column, mapping.missing)
        values[name] = IMPORT_UNITS[unit_suffix(name)][column.unit](read)
        faults += found or _unit_faults(name, column.column, values[name])
    keep, found, dropped = _one_row_an_hour(stamps, values, lines)
    faults += found
    if faults:
        raise _refused(path, faults)
    values = {name: array[keep] for name, array in values.items()}
    origin = {name: np.full(len(keep), Origin.OBSERVED, np.uint8) for name in values}
    return ImportedHours(stamps[keep], values, origin, path.name, "", (*notices, *left_out, *dropped))


def _refused(path: Path, faults: list[Fault], hint: str = "mend the file, or export it again") -> DataError:
    faults.sort(key=lambda fault: fault.line)
    return DataError(f"{path} has {len(faults)} mistake(s); nothing was taken from it", faults=faults, hint=hint)


_HEADER_HINT = (
    f"a file without a mapping needs a column {CANONICAL_TIME!r} and the names of the vocabulary "
    f"({', '.join(QUANTITIES)}); for any other file write a mapping"
)


def _text(path: Path) -> str:
    try:
        packed = path.read_bytes() if path.stat().st_size <= MOST_BYTES else bytes(MOST_BYTES + 1)
    except OSError as error:
        raise MissingInputError(f"{path} cannot be read: {error.strerror}", hint="check the path") from None
    raw = packed
    if packed[:2] == b"\x1f\x8b":
        try:
            with gzip.GzipFile(fileobj=io.BytesIO(packed)) as unpacked:
                raw = unpacked.read(MOST_BYTES + 1)
        except (OSError, EOFError, zlib.error) as error:
            raise DataError(f"{path} is a damaged gzip file: {error}", hint="fetch or export it again") from error
    if len(raw) > MOST_BYTES:
        raise DataError(f"{path} is larger than {MOST_BYTES:,} bytes", hint="split it by years")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DataError(f"{path} is not UTF-8 text (byte {error.start})", hint="save it as CSV UTF-8") from error
    if "\x00" in text:
        raise DataError(f"{path} holds binary data", hint="save it as CSV UTF-8")
    return text


def _cells(text: str, delimiter: str) -> tuple[list[str], list[list[str]], Rows, list[Fault]]:
    """Header, rows as wide as it, the line on which each begins, and what does not fit; empty rows are passed over."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    header: list[str] = []
    rows: list[list[str]] = []
    lines: list[int] = []
    faults: list[Fault] = []
    line = 1
    try:
        header = next(reader, [])
        line = reader.line_num + 1
        for row in reader if any(header) else ():
            if len(row) != len(header) and any(cell.strip() for cell in row):
                faults.append(Fault(f"{len(row)} cells where the header has {len(header)}", line))
            elif any(cell.strip() for cell in row):
                rows.append(row)
                lines.append(line)
            line = reader.line_num + 1
    except csv.Error as error:
        faults.append(Fault(f"from here on cells cannot be told apart: {error}", line))
    return header, rows, np.array(lines, dtype=np.int64), faults


def _unread(header: Sequence[str]) -> list[Notice]:
    """A slip in a column's name must not lose the column in silence."""
    names = [name for name in header if name not in QUANTITIES and name != CANONICAL_TIME]
    return [Notice(f"not read, since no quantity has that name: {', '.join(names)}")] if names else []


def _header_faults(header: Sequence[str], mapping: Mapping) -> list[Fault]:
    if not any(name.strip() for name in header):
        return [Fault("empty; the first line must name the columns", 1)]
    wanted = [mapping.time_column, *(column.column for column in mapping.columns.values())]
    faults = [Fault(f"missing; the file has {', '.join(header)}", 1, name) for name in wanted if name not in header]
    faults += [Fault("named twice", 1, name) for name in sorted(set(wanted)) if header.count(name) > 1]
    names = set(mapping.columns)
    if "air_temperature_c" not in names or not names & {"dew_point_c", "relative_humidity_pct"}:
        faults.append(Fault("air temperature, and humidity or dew point, are needed and not both there", 1, "header"))
    return faults


def _cell_faults(cells: pd.Series[str], rows: Rows, lines: Rows, column: str, text: str) -> list[Fault]:
    """The same complaint about the cells of some rows."""
    return [
        Fault(f"{_short(cell)} {text}", line, column)
        for cell, line in zip(cells.iloc[rows], lines[rows].tolist(), strict=True)
    ]


def _short(cell: str) -> str:
    return repr(cell if len(cell) <= MOST_CHARACTERS else cell[:MOST_CHARACTERS] + "…")


def _numbers(cells: pd.Series[str], lines: Rows, column: str, missing: Sequence[str]) -> tuple[Floats, list[Fault]]:
    bare = cells.str.strip()
    empty = bare.isin(missing).to_numpy()
    numbers = pd.to_numeric(bare.mask(empty, "nan"), errors="coerce").to_numpy(dtype=np.float64)
    wrong = np.flatnonzero(~empty & ~np.isfinite(numbers))
    return numbers, _cell_faults(bare, wrong, lines, column, "is not a number")


def _unit_faults(name: str, column: str, values: Floats) -> list[Fault]:
    """A column whose figures cannot be in the unit it is said to be in."""
    known = values[~np.isnan(values)]
    quantity = QUANTITIES[name]
    if not known.size:
        return []
    outside = np.count_nonzero((known < quantity.least) | (known > quantity.most))
    text = ""
    if outside > SHARE_OUTSIDE_MEANS_UNIT * known.size:
        text = f"{outside} of {known.size} values lie outside {quantity.least:g} to {quantity.most:g} {quantity.unit}"
    elif name == "relative_humidity_pct" and known.size >= 24 and known.max() <= 1.0:
        text = "no value is above 1: this looks like a fraction, not per cent"
    return [Fault(f"{text}: is the unit right?", 1, column)] if text else []


def _stamps(cells: pd.Series[str], lines: Rows, mapping: Mapping) -> tuple[Hours, list[Fault], list[Notice]]:
    """UTC stamps at the ends of the hours, NaT where the clock time is ambiguous."""
    bare = cells.str.strip()
    parsed, has_zone = _clock(bare, mapping)
    utc, gone, twice = _to_utc(parsed, has_zone, mapping.zone())
    off_hour = utc.notna() & (utc != utc.dt.floor("h"))
    no_zone = parsed.notna() & ~has_zone & bool(has_zone.any())
    form = mapping.time_format or "YYYY-MM-DDThh:mm"
    wrong = (
        (parsed.isna(), f"is no time from {FIRST_YEAR} to {LAST_YEAR} in the form {form}"),
        (no_zone, "names no zone, and other rows do"),
        (gone, "does not exist: clocks go forward over it. A logger on standard time all year wants utc_offset_hours"),
        (off_hour, "is not on the full hour in UTC; this reader takes one row an hour"),
    )
    faults = [
        fault
        for is_wrong, text in wrong
        for fault in _cell_faults(bare, np.flatnonzero(is_wrong.to_numpy()), lines, mapping.time_column, text)
    ]
    stamps: Hours = utc.mask(no_zone | off_hour).to_numpy().astype("datetime64[h]")
    if mapping.label == "start":
        stamps = stamps + np.timedelta64(1, "h")
    known = np.flatnonzero(~np.isnat(stamps))
    back = known[1:][np.diff(stamps[known]) < np.timedelta64(0, "h")]
    faults += _cell_faults(bare, back, lines, mapping.time_column, "jumps back; rows must run forward in time")
    text = f"{twice.sum()} h left out: their clock time comes twice as clocks go back and stands once"
    return stamps, faults, [Notice(text)] if twice.any() else []


def _clock(bare: pd.Series[str], mapping: Mapping) -> tuple[pd.Series[pd.Timestamp], pd.Series[bool]]:
    """The stamps as written, in UTC where they name their zone, and which of them do; NaT for what is no stamp."""
    if mapping.time_format:
        has_zone = pd.Series("%z" in mapping.time_format, bare.index)
        parsed = pd.to_datetime(bare, format=mapping.time_format, errors="coerce", utc=True)
    else:
        has_zone = bare.str.fullmatch(_CLOCK + _ZONE)
        stamps = bare.where(has_zone | bare.str.fullmatch(_CLOCK))
        parsed = pd.to_datetime(stamps, format="ISO8601", errors="coerce", utc=True)
    parsed = parsed.where(parsed.dt.year.between(FIRST_YEAR, LAST_YEAR))
    return parsed.dt.tz_localize(None), has_zone


def _to_utc(
    parsed: pd.Series[pd.Timestamp], has_zone: pd.Series[bool], zone: tzinfo
) -> tuple[pd.Series[pd.Timestamp], pd.Series[bool], pd.Series[bool]]:
    """Clock times to UTC, with which of them do not exist and which cannot be told apart."""
    local = parsed.mask(has_zone)
    early = local.dt.tz_localize(zone, ambiguous=np.ones(len(local), bool), nonexistent="NaT").dt.tz_convert(None)
    late = local.dt.tz_localize(zone, ambiguous=np.zeros(len(local), bool), nonexistent="NaT").dt.tz_convert(None)
    gone = early.isna() & local.notna()
    ambiguous = (early != late) & early.notna()
    second = ambiguous & local.duplicated(keep="first")
    lonely = ambiguous & ~local.duplicated(keep=False)
    utc = early.where(~second, late).mask(lonely).where(~has_zone, parsed)
    return utc, gone, lonely


def _one_row_an_hour(stamps: Hours, values: dict[str, Floats], lines: Rows) -> tuple[Rows, list[Fault], list[Notice]]:
    """Rows to keep in order of time; a repeated hour is dropped when it says the same, a mistake when it does not."""
    first_row: dict[np.datetime64, int] = {}
    keep, faults, repeats = [], [], 0
    for row, stamp in enumerate(stamps):
        if np.isnat(stamp):
            continue
        earlier = first_row.setdefault(stamp, row)
        if earlier == row:
            keep.append(row)
        elif all(np.array_equal(v[row], v[earlier], equal_nan=True) for v in values.values()):
            repeats += 1
        else:
            faults.append(
                Fault(
                    f"hour {stamp}:00Z again, with other values than in line {lines[earlier]}",
                    int(lines[row]),
                )
            )
    notices = [Notice(f"{repeats} repeated rows that say the same were dropped")] if repeats else []
    return np.array(sorted(keep, key=lambda row: stamps[row]), dtype=np.int64), faults, notices
