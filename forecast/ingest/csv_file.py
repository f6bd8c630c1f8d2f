"""Hourly weather from a CSV file: canonical columns, or a user's own by a mapping.

Stamps name the end or the start of their hour as the mapping says; inside, every stamp is the end. The file is
taken whole or not at all: all its mistakes are listed together, by line.
"""

from __future__ import annotations

import csv
import gzip
import io
import zipfile
from collections.abc import Sequence
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
SHARE_OUTSIDE_MEANS_UNIT = 0.05  # house choice: more than this outside the bounds and the unit is wrong
FIRST_DATA_LINE = 2
Rows = NDArray[np.int64]


def read_csv_hours(path: Path, mapping: Mapping | None = None) -> ImportedHours:
    """The hours of one file.

    Args:
        path: a CSV file, plain or gzip-packed.
        mapping: how to read it; without one its columns must carry the vocabulary's names and ``hour_utc``.

    Raises:
        MissingInputError: there is no such file.
        DataError: every mistake in the file, by line.
    """
    text = _text(path)
    delimiter = mapping.delimiter if mapping else ","
    header = next(csv.reader(io.StringIO(text), delimiter=delimiter), [])
    if not [name for name in header if name.strip()]:
        raise DataError(f"{path} is empty", hint="export the file again; its first line names the columns")
    faults = _shape_faults(text, delimiter, len(header))
    mapping = mapping or canonical_mapping(header)
    faults += _header_faults(header, mapping)
    if faults:
        raise DataError(f"{path} cannot be read", faults=faults, hint=_HEADER_HINT)
    table = pd.read_csv(io.StringIO(text), sep=delimiter, dtype=str, keep_default_na=False, skip_blank_lines=False)
    table = table[(table != "").any(axis=1)]
    if table.empty:
        raise DataError(f"{path} has a header and no hours", hint="export the file again")
    lines = table.index.to_numpy() + FIRST_DATA_LINE
    stamps, faults, notices = _stamps(table[mapping.time_column], lines, mapping)
    values = {}
    for name, column in mapping.columns.items():
        read, found = _numbers(table[column.column], lines, column.column, mapping.missing)
        values[name] = IMPORT_UNITS[unit_suffix(name)][column.unit](read)
        faults += found or _unit_faults(name, column.column, values[name])
    keep, found, dropped = _one_row_an_hour(stamps, values, lines)
    faults += found
    if faults:
        faults.sort(key=lambda fault: fault.line)
        raise DataError(f"{path} has {len(faults)} mistake(s); nothing was taken from it", faults=faults)
    notices += dropped
    values = {name: array[keep] for name, array in values.items()}
    origin = {name: np.full(len(keep), Origin.OBSERVED, np.uint8) for name in values}
    return ImportedHours(stamps[keep], values, origin, path.name, "", tuple(notices))


_HEADER_HINT = (
    f"a file without a mapping needs a column {CANONICAL_TIME!r} and the names of the vocabulary "
    f"({', '.join(QUANTITIES)}); for any other file write a mapping"
)


def _text(path: Path) -> str:
    try:
        packed = path.read_bytes()
    except (FileNotFoundError, IsADirectoryError):
        raise MissingInputError(f"{path} is not there", hint="check the path") from None
    if packed[:2] == b"\x1f\x8b":
        try:
            with gzip.GzipFile(fileobj=io.BytesIO(packed)) as unpacked:
                raw = unpacked.read(MOST_BYTES + 1)
        except (OSError, EOFError, zipfile.BadZipFile) as error:
            raise DataError(f"{path} is a damaged gzip file: {error}", hint="fetch or export it again") from error
    else:
        raw = packed
    if len(raw) > MOST_BYTES:
        raise DataError(f"{path} is larger than {MOST_BYTES:,} bytes", hint="split it by years")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DataError(f"{path} is not UTF-8 text (byte {error.start})", hint="save it as CSV UTF-8") from error
    if "\x00" in text:
        raise DataError(f"{path} holds binary data", hint="save it as CSV UTF-8")
    return text


def _shape_faults(text: str, delimiter: str, width: int) -> list[Fault]:
    """Rows with more or fewer cells than the header."""
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    faults: list[Fault] = []
    try:
        faults += [
            Fault(f"{len(row)} cells where the header has {width}", reader.line_num)
            for row in reader
            if row and len(row) != width
        ]
    except csv.Error as error:
        faults.append(Fault(str(error), reader.line_num))
    return faults


def _header_faults(header: Sequence[str], mapping: Mapping) -> list[Fault]:
    wanted = [mapping.time_column, *(column.column for column in mapping.columns.values())]
    faults = [Fault(f"missing; the file has {', '.join(header)}", 1, name) for name in wanted if name not in header]
    faults += [Fault("named twice", 1, name) for name in sorted(set(header)) if header.count(name) > 1]
    names = set(mapping.columns)
    if "air_temperature_c" not in names or not names & {"dew_point_c", "relative_humidity_pct"}:
        faults.append(Fault("air temperature, and humidity or dew point, are needed and not both there", 1, "header"))
    return faults


def _numbers(cells: pd.Series[str], lines: Rows, column: str, missing: Sequence[str]) -> tuple[Floats, list[Fault]]:
    bare = cells.str.strip()
    empty = bare.isin(missing).to_numpy()
    numbers = pd.to_numeric(bare.mask(empty, "nan"), errors="coerce").to_numpy(dtype=np.float64)
    wrong = np.flatnonzero(~empty & ~np.isfinite(numbers))
    faults = [Fault(f"{bare.iloc[row]!r} is not a number", int(lines[row]), column) for row in wrong]
    return numbers, faults


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
    column = mapping.time_column
    bare = cells.str.strip()
    if mapping.time_format:
        parsed = pd.to_datetime(bare, format=mapping.time_format, errors="coerce")
        utc_written = getattr(parsed.dtype, "tz", None) is not None
    else:
        utc_written = bool(bare.str.endswith(("Z", "+00:00")).all())
        parsed = pd.to_datetime(bare, format="ISO8601", errors="coerce", utc=utc_written)
    faults = [
        Fault(
            f"{bare.iloc[row]!r} is no time{' in the form ' + mapping.time_format if mapping.time_format else ''}",
            int(lines[row]),
            column,
        )
        for row in np.flatnonzero(parsed.isna())
    ]
    if parsed.dtype == object:
        return (
            np.full(len(bare), "NaT", "datetime64[h]"),
            [*faults, Fault("some stamps carry a zone and some do not, or zones differ", 1, column)],
            [],
        )
    off_hour = np.flatnonzero((parsed.notna() & (parsed != parsed.dt.floor("h"))).to_numpy())
    faults += [
        Fault(
            f"{bare.iloc[row]!r} is not on the full hour; this reader takes one row an hour",
            int(lines[row]),
            column,
        )
        for row in off_hour
    ]
    notices: list[Notice] = []
    if utc_written:
        utc = parsed.dt.tz_convert("UTC").dt.tz_localize(None)
    else:
        utc, gone, twice = _to_utc(parsed, mapping)
        faults += [
            Fault(
                f"{bare.iloc[row]!r} does not exist: clocks go forward over it. A logger that keeps standard time all "
                "year wants utc_offset_hours",
                int(lines[row]),
                column,
            )
            for row in gone
        ]
        if len(twice):
            notices.append(
                Notice(f"{len(twice)} h left out: their clock time comes twice as clocks go back and stands once")
            )
    stamps = utc.to_numpy().astype("datetime64[h]")
    if mapping.label == "start":
        stamps = stamps + np.timedelta64(1, "h")
    known = np.flatnonzero(~np.isnat(stamps))
    back = known[1:][np.diff(stamps[known]) < np.timedelta64(0, "h")]
    faults += [
        Fault(
            f"the clock jumps back to {bare.iloc[row]!r}; rows must run forward in time",
            int(lines[row]),
            column,
        )
        for row in back
    ]
    return stamps, faults, notices


def _to_utc(parsed: pd.Series[pd.Timestamp], mapping: Mapping) -> tuple[pd.Series[pd.Timestamp], Rows, Rows]:
    """Local clock times to UTC, with the rows that do not exist and those that cannot be told apart."""
    zone = mapping.zone()
    early = parsed.dt.tz_localize(zone, ambiguous=np.ones(len(parsed), bool), nonexistent="NaT").dt.tz_convert("UTC")
    late = parsed.dt.tz_localize(zone, ambiguous=np.zeros(len(parsed), bool), nonexistent="NaT").dt.tz_convert("UTC")
    gone = np.flatnonzero((early.isna() & parsed.notna()).to_numpy())
    ambiguous = (early != late) & early.notna()
    second = ambiguous & parsed.duplicated(keep="first")
    lonely = ambiguous & ~parsed.duplicated(keep=False)
    utc = early.where(~second, late).mask(lonely)
    return utc.dt.tz_localize(None), gone, np.flatnonzero(lonely.to_numpy())


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
