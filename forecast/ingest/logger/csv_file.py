"""Weather from a CSV file: canonical columns, or any logger's own by a mapping.

Stamps name the end or the start of their interval as the mapping says; inside, every stamp is the end of its hour.
Records shorter than an hour are brought to hours. The file is taken whole or not at all: all its mistakes are listed
together, by line.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from forecast.clock import utc_minute
from forecast.errors import DataError, Fault, Notice
from forecast.ingest.imported import Grade, ImportedHours, Provider, from_one
from forecast.ingest.logger.cells import Cells, Chunk, Layout, decoded, nearest, read_bytes, shown
from forecast.ingest.logger.hourly import STEPS_MINUTES, Hourly, Moments, Rows, crowded, long_step_of, step_of, to_hours
from forecast.ingest.logger.mapping import CANONICAL_TIME, EXCEL, MISSING, UNIX, Mapping, canonical_mapping, ways_of
from forecast.ingest.logger.stamps import (
    FIRST_YEAR,
    LAST_YEAR,
    Placed,
    as_written,
    back_steps,
    form_in_words,
    from_count,
    placed,
)
from forecast.ingest.logger.unit_doubts import minutes_faults, unit_fault
from forecast.ingest.logger.wet_columns import MINUTES, WETNESS, wet_or_dry
from forecast.panel import Floats
from forecast.physics.wind import height_factor
from forecast.quantities import QUANTITIES, READABLE, WORKED_OUT, Kind, Origin
from forecast.units import WETNESS_BY_RECORD, ways_in

FILE = Provider("file", "file loaded by hand", Grade.OBSERVED)
OBSERVED = Origin.OBSERVED.name.lower()
SCREEN_HEIGHT_M = (1.25, 2.0)  # of temperature and humidity above ground: WMO-No. 8, part I, chapter 2 (from memory)
WIND_HEIGHT_M = 10.0
# House choices: what reads a little below 0 where there is nothing, how far, and why.
BELOW_NOTHING = MappingProxyType(
    {
        "shortwave_down_w_m2": (20.0, "as a pyranometer reads on a clear night"),
        "snow_depth_mm": (50.0, "as a snow gauge reads over bare ground"),
    }
)
_SOME = 50_000  # stamps read at a time
ALL_WRONG_FROM = 4  # house choice: as many rows that are all wrong in the same way are one mistake


def read_csv_hours(path: Path, mapping: Mapping | None = None, *, now: datetime | None = None) -> ImportedHours:
    """The hours of one file.

    Args:
        path: a CSV file, plain or gzip-packed.
        mapping: how to read it; without one its columns must carry the vocabulary's names and ``hour_utc``, and it
            must hold full hours.
        now: the moment of reading; with it, a record that lies ahead is a mistake, and an hour not yet over is left
            out. Without it neither is looked for.

    Raises:
        MissingInputError: there is no such file.
        DataError: every mistake in the file, by line.
    """
    cells, how = _laid_out(decoded(read_bytes(path), path, mapping.encoding if mapping else None), mapping)
    notices = [] if mapping else _unread(cells.header)
    wrong_header = _header_faults(cells, how)
    if not mapping:
        wrong_header += _derived_faults(cells)
    if wrong_header:
        hint = _MAPPED_HEADER_HINT if mapping else _HEADER_HINT
        raise _refused(path, [*wrong_header, *cells.faults], hint)
    records = _records(cells, how)
    if not len(records.lines):
        raise _refused(path, cells.faults or [Fault("there are no hours below the header", cells.header_line)])
    notices += [*_below_nothing(records), *_thresholds(records, how)]
    faults = [*cells.faults, *records.faults, *_unit_faults(records, how, cells.header_line)]
    stamps = _placed(records, how)
    moments, found = _moments(stamps, records, how, is_mapped=mapping is not None)
    faults += found
    kept, found, repeats = _distinct(moments, records)
    faults += found
    if records.left_out:
        text = f"{records.left_out} values left out: the file says that they were filled or told by other stations"
        notices.append(Notice(text))
    if repeats:
        notices.append(Notice(f"{repeats} repeated rows that say the same were dropped"))
    if not faults:
        hourly, faults = _hours(moments[kept], records, kept, how, now, cells.header_line)
    if faults:
        raise _refused(path, faults)
    if cells.repeated:
        notices.append(Notice(f"{cells.repeated} rows that repeat the header, or a line above it, were dropped"))
    if stamps.lonely.any():
        text = (
            f"{stamps.lonely.sum()} record(s) left out: their clock time comes twice as clocks go back and stands once"
        )
        notices.append(Notice(text))
    notices += [*_height_notices(how), *hourly.notices]
    return from_one(hourly.hours, dict(hourly.values), FILE, path.name, tuple(notices))


def _refused(path: Path, faults: list[Fault], hint: str = "mend the file, or export it again") -> DataError:
    faults.sort(key=lambda fault: fault.line)
    return DataError(f"{path} has {len(faults)} mistake(s); nothing was taken from it", faults=faults, hint=hint)


_HEADER_HINT = (
    f"a file without a mapping needs a column {CANONICAL_TIME!r} and the names of the vocabulary "
    f"({', '.join(READABLE)}); for any other file write a mapping"
)
_MAPPED_HEADER_HINT = "mend the names in the mapping, or say there which line the header is: header_line"


def _laid_out(text: str, mapping: Mapping | None) -> tuple[Cells, Mapping]:
    if mapping is None:
        cells = Cells(text, Layout())
        return cells, canonical_mapping(cells.header)
    layout = Layout(mapping.delimiter, mapping.header_line, mapping.rows_after_header)
    return Cells(text, layout, _wanted(mapping)), mapping


def _wanted(mapping: Mapping) -> list[str]:
    """The columns that a mapping names, each once."""
    names = [mapping.date_column, mapping.time_column, *(column.column for column in mapping.columns.values())]
    return list(dict.fromkeys(name for name in names if name is not None))


def _unread(header: Sequence[str]) -> list[Notice]:
    """A slip in a column's name must not lose the column in silence."""
    beside = {f"{name}_{part}" for name in QUANTITIES for part in ("flag", "origin")}  # as in an exported file
    names = [name for name in header if name not in QUANTITIES and name != CANONICAL_TIME and name not in beside]
    return [Notice(f"not read, since no quantity has that name: {', '.join(names)}")] if names else []


def _derived_faults(cells: Cells) -> list[Fault]:
    """A file that tells what is worked out here is no file of readings; a second truth must not pass in silence."""
    derived = [name for name in cells.header if name in QUANTITIES and name not in READABLE]
    return [Fault(f"{WORKED_OUT}: take the column out", cells.header_line, name) for name in derived]


def _header_faults(cells: Cells, mapping: Mapping) -> list[Fault]:
    line = cells.header_line
    if not any(cells.header):
        return [Fault("empty; this line must name the columns", line)]
    faults = []
    wanted = _wanted(mapping)
    free = [name for name in cells.header if name not in wanted]
    for name in wanted:
        if name not in cells.header:
            near = nearest(name, free)
            like = f"did you mean {near!r}? " if near else ""
            faults.append(Fault(f"missing; {like}the file has {', '.join(cells.header)}", line, name))
        elif cells.header.count(name) > 1:
            faults.append(Fault("named twice", line, name))
    if not mapping.columns:
        faults.append(Fault("no column carries a quantity", line))
    return faults


@dataclass(frozen=True, eq=False)
class _Records:
    """What the rows say.

    Attributes:
        lines: the line of each; shape (records,).
        clocks: its stamp as written.
        values: per quantity, in its unit, NaN where there is no reading.
        as_given: per quantity, the figures as the file gives them.
        faults: cells that are no numbers.
        left_out: values of which the file says that they were not observed.
    """

    lines: Rows
    clocks: list[str]
    values: dict[str, Floats]
    as_given: dict[str, Floats]
    faults: list[Fault]
    left_out: int


def _records(cells: Cells, mapping: Mapping) -> _Records:
    wanted = _wanted(mapping)
    origins = {name: f"{name}_origin" for name in mapping.columns if _has_origins(cells, mapping, name)}
    readers = {name: _Reader(column.column, mapping, column.missing) for name, column in mapping.columns.items()}
    lines: list[int] = []
    clocks: list[str] = []
    observed: dict[str, list[bool]] = {name: [] for name in origins}
    for chunk in cells.chunks([*wanted, *origins.values()], wanted[0]):
        for name, column in origins.items():
            observed[name] += [cell.strip() == OBSERVED for cell in chunk.columns[column]]
        lines += chunk.lines
        clocks += _clock_cells(chunk, mapping)
        for reader in readers.values():
            reader.take(chunk)
    given = {name: reader.figures() for name, reader in readers.items()}
    values = {name: _in_house_unit(name, figures, mapping) for name, figures in given.items()}
    left_out = 0
    for name, is_observed in observed.items():
        others = ~np.array(is_observed, bool) & ~np.isnan(values[name])
        left_out += int(others.sum())
        values[name] = np.where(others, np.nan, values[name])
    faults = [fault for reader in readers.values() for fault in reader.faults]
    faults += _rows_passed_over(cells, mapping)
    return _Records(np.array(lines, np.int64), clocks, values, given, faults, left_out)


def _has_origins(cells: Cells, mapping: Mapping, name: str) -> bool:
    """Whether an exported file says of each value where it came from: what was not observed is not read as observed."""
    return mapping.time_column == CANONICAL_TIME and f"{name}_origin" in cells.header


def _clock_cells(chunk: Chunk, mapping: Mapping) -> Iterable[str]:
    clocks = chunk.columns[mapping.time_column]
    if mapping.date_column is None:
        return clocks
    return (
        f"{day.strip()} {clock.strip()}" for day, clock in zip(chunk.columns[mapping.date_column], clocks, strict=True)
    )


def _rows_passed_over(cells: Cells, mapping: Mapping) -> list[Fault]:
    """A row below the header that is a record after all must not be lost in silence."""
    names = [name for name in (mapping.date_column, mapping.time_column) if name is not None]
    places = [cells.header.index(name) for name in names]
    rows = [(line, row) for line, row in cells.after_header if len(row) > max(places)]
    clocks = [" ".join(row[place].strip() for place in places) for _, row in rows]
    read = _read_clocks(clocks, mapping)[0] if clocks else np.array([], "datetime64[s]")
    return [
        Fault(f"{shown(clock)} looks like a record, and rows_after_header passes it over", line, mapping.time_column)
        for (line, _), clock, stamp in zip(rows, clocks, read, strict=True)
        if not np.isnat(stamp)
    ]


_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_LETTERS_OF_NUMBERS = re.compile(r"[0-9.+\-eE \n]*")


def plain_numbers(cells: Sequence[str], decimal: str = ".") -> Floats | None:
    """Cells that are all numbers or empty, read at one go; None if any is another.

    A point in a file of decimal commas would be a mark of thousands, and is no number.
    """
    joined = "\n".join(cells)
    if decimal == ",":
        if "." in joined:
            return None
        joined = joined.replace(",", ".")
        cells = joined.split("\n") if joined.count("\n") == len(cells) - 1 else ["?"]
    if _LETTERS_OF_NUMBERS.fullmatch(joined) is None:
        return None
    try:
        read = np.array([float(cell) if cell else np.nan for cell in cells])
    except ValueError:
        return None
    return None if np.isinf(read).any() else read


def careful_numbers(cells: Sequence[str], words: Collection[str], decimal: str = ".") -> tuple[Floats, list[int]]:
    """Cells as numbers, one by one, NaN for words that stand for missing; and which rows are neither."""
    read = np.full(len(cells), np.nan)
    wrong = []
    for row, cell in enumerate(cells):
        bare = cell.strip()
        if bare in words:
            continue
        number = bare if decimal == "." else bare.replace(".", "?").replace(",", ".")
        figure = float(number) if _NUMBER.fullmatch(number) else np.inf
        if np.isinf(figure):
            wrong.append(row)
        else:
            read[row] = figure
    return read, wrong


class _Reader:
    """One column's figures, taken chunk by chunk."""

    def __init__(self, column: str, mapping: Mapping, missing: Sequence[str] = ()) -> None:
        self.column = column
        self.decimal = mapping.decimal
        self.words = {*MISSING, *(word.strip() for word in (*mapping.missing, *missing))}
        found, _ = careful_numbers([word.replace(",", ".") for word in self.words], MISSING)
        self.sentinels = found[~np.isnan(found)]
        self.faults: list[Fault] = []
        self._parts: list[Floats] = []

    def take(self, chunk: Chunk) -> None:
        cells = chunk.columns[self.column]
        figures = plain_numbers(cells, self.decimal)
        if figures is None:
            figures, wrong = careful_numbers(cells, self.words, self.decimal)
            self.faults += [
                Fault(
                    f"{shown(cells[row].strip())} is not a number{self._why(cells[row])}", chunk.lines[row], self.column
                )
                for row in wrong
            ]
        if self.sentinels.size:
            figures[np.isin(figures, self.sentinels)] = np.nan
        self._parts.append(figures)

    def _why(self, cell: str) -> str:
        if self.decimal == "," and "." in cell and "," in cell:
            return ": it has a mark between thousands"
        if self.decimal == "," and "." in cell:
            return ": the mapping says that decimals have a comma"
        return ""

    def figures(self) -> Floats:
        return np.concatenate(self._parts) if self._parts else np.empty(0)


def _in_house_unit(name: str, figures: Floats, mapping: Mapping) -> Floats:
    column = mapping.columns[name]
    if name == WETNESS and column.unit in WETNESS_BY_RECORD:  # brought to a share further on
        return figures
    values = ways_in(name)[column.unit](figures)
    if name.startswith("wind_") and column.sensor_height_m not in (None, WIND_HEIGHT_M):
        values = values * height_factor(column.sensor_height_m or WIND_HEIGHT_M, WIND_HEIGHT_M)
    return values


def _below_nothing(records: _Records) -> list[Notice]:
    """Sets a little less than nothing to nothing, in place; quality control would take it for a fault of the sensor."""
    notices = []
    for name, (by, why) in BELOW_NOTHING.items():
        values = records.values.get(name, np.empty(0))
        below = (values < 0) & (values >= -by)
        if below.any():
            records.values[name] = np.where(below, 0.0, values)
            text = f"{below.sum()} readings of {name} a little below 0 were taken as 0, {why}"
            notices.append(Notice(text, quantity=name))
    return notices


def _thresholds(records: _Records, mapping: Mapping) -> list[Notice]:
    """Bare figures of wetness as wet or dry, in place."""
    column = mapping.columns.get(WETNESS)
    threshold = column.threshold() if column is not None else None
    if threshold is None:
        return []
    records.values[WETNESS], notices = wet_or_dry(records.values[WETNESS], threshold)
    return notices


def _unit_faults(records: _Records, mapping: Mapping, line: int) -> list[Fault]:
    """Columns whose figures cannot be in the unit they are said to be in; a counter's own reading may be anything."""
    ways = ways_of(mapping)
    return [
        fault
        for name, values in records.values.items()
        if ways[name] != "cumulative" and mapping.columns[name].unit != MINUTES
        for fault in unit_fault(name, mapping.columns[name], values, records.as_given[name], line)
    ]


def _read_clocks(clocks: list[str], mapping: Mapping) -> tuple[Moments, NDArray[np.bool_]]:
    """Stamps as written, some thousands at a time, so that a long file needs little room."""
    parts = [_read_some(clocks[first : first + _SOME], mapping) for first in range(0, len(clocks), _SOME)]
    return np.concatenate([read for read, _ in parts]), np.concatenate([has_zone for _, has_zone in parts])


def _read_some(clocks: list[str], mapping: Mapping) -> tuple[Moments, NDArray[np.bool_]]:
    if mapping.time_format in (EXCEL, UNIX):
        figures, _ = careful_numbers(clocks, (), mapping.decimal)
        return from_count(figures, mapping.time_format), np.full(len(clocks), mapping.time_format == UNIX)
    return as_written(clocks, mapping.time_format)


def _placed(records: _Records, mapping: Mapping) -> Placed:
    read, has_zone = _read_clocks(records.clocks, mapping)
    return placed(read, has_zone, mapping.zone())


def _moments(stamps: Placed, records: _Records, mapping: Mapping, *, is_mapped: bool) -> tuple[Moments, list[Fault]]:
    """The moments of the records, NaT where there is none, and what is wrong with their stamps."""
    moments = stamps.moments
    whole = moments.astype("datetime64[h]") == moments
    off_hour = ~np.isnat(moments) & ~whole & (not is_mapped)
    form = form_in_words(mapping.time_format)
    zoneless = "names no zone, and other rows do" if mapping.zone() else "names no zone, and the mapping gives none"
    wrong = (
        (stamps.unread, f"is no time from {FIRST_YEAR} to {LAST_YEAR} in the form {form}"),
        (stamps.zoneless, zoneless),
        (
            stamps.gone,
            "does not exist: clocks go forward over it. A logger on standard time all year wants utc_offset_hours",
        ),
        (off_hour, "is not on the full hour in UTC; a file of other steps wants a mapping"),
    )
    faults = [fault for rows, text in wrong for fault in _clock_faults(np.flatnonzero(rows), records, mapping, text)]
    moments = np.where(off_hour, np.datetime64("NaT", "s"), moments)
    back = back_steps(moments)
    if back.size > np.count_nonzero(~np.isnat(moments)) / 2:
        text = "rows run backwards in time; sort the file, or export it, oldest first"
        return moments, [*faults, Fault(text, int(records.lines[0]), mapping.time_column)]
    return moments, faults + [
        _clock_fault(row, records, mapping, "jumps back; rows must run forward in time") for row in back.tolist()
    ]


def _clock_faults(rows: Rows, records: _Records, mapping: Mapping, text: str) -> list[Fault]:
    """The same complaint about some rows; about all of them it is one mistake, and not of the rows."""
    if ALL_WRONG_FROM <= len(rows) == len(records.lines):
        return [_clock_fault(0, records, mapping, f"{text}, nor is any other of the {len(rows)} rows")]
    return [_clock_fault(row, records, mapping, text) for row in rows.tolist()]


def _clock_fault(row: int, records: _Records, mapping: Mapping, text: str) -> Fault:
    return Fault(f"{shown(records.clocks[row].strip())} {text}", int(records.lines[row]), mapping.time_column)


def _distinct(moments: Moments, records: _Records) -> tuple[Rows, list[Fault], int]:
    """Rows to keep in order of time; a repeated stamp is dropped when it says the same, a mistake when it does not."""
    known = np.flatnonzero(~np.isnat(moments))
    order = known[np.argsort(moments[known], kind="stable")]
    is_first = np.ones(len(order), bool)
    is_first[1:] = np.diff(moments[order]) > np.timedelta64(0, "s")
    again = np.flatnonzero(~is_first)
    if not again.size:
        return order, [], 0
    first = order[np.maximum.accumulate(np.where(is_first, np.arange(len(order)), 0))[again]]
    rows = order[again]
    same = np.ones(len(rows), bool)
    for values in records.values.values():
        same &= (values[rows] == values[first]) | (np.isnan(values[rows]) & np.isnan(values[first]))
    faults = [
        Fault(
            f"{_written(moments[row])} again, with other values than in line {records.lines[earlier]}",
            int(records.lines[row]),
        )
        for row, earlier in zip(rows[~same].tolist(), first[~same].tolist(), strict=True)
    ]
    return order[is_first], faults, int(same.sum())


def _written(moment: np.datetime64) -> str:
    return f"{moment.astype('datetime64[m]')}Z"


def _hours(
    moments: Moments, records: _Records, kept: Rows, mapping: Mapping, now: datetime | None, header_line: int
) -> tuple[Hourly, list[Fault]]:
    """The records as hours, or why they are none."""
    nothing = Hourly(np.empty(0, "datetime64[h]"), {}, ())
    lines = records.lines[kept]
    step = mapping.step_minutes or step_of(moments)
    if step is None:
        known = ", ".join(map(str, STEPS_MINUTES))
        text = f"records keep no step of {known} min; if they are meant to, say step_minutes in the mapping"
        return nothing, [Fault(text, int(lines[0]), mapping.time_column)]
    ends = moments if mapping.label == "end" else moments + np.timedelta64(step, "m")
    faults = _step_faults(moments, ends, step, lines, mapping)
    if now is not None:
        faults += _ahead(ends, lines, mapping, now)
    if faults:
        return nothing, faults
    values = {name: array[kept] for name, array in records.values.items()}
    how = mapping.columns.get(WETNESS)
    if how is not None and how.unit == MINUTES:
        minutes = values[WETNESS]
        values[WETNESS] = minutes / step
        faults = minutes_faults(how, minutes, step, header_line)
    if faults:
        return nothing, faults
    hourly = to_hours(moments, values, ways_of(mapping), step_minutes=step, label_is_end=mapping.label == "end")
    if now is not None:
        over = hourly.hours <= utc_minute(now)
        hourly = Hourly(hourly.hours[over], {name: v[over] for name, v in hourly.values.items()}, hourly.notices)
    return hourly, []


def _step_faults(moments: Moments, ends: Moments, step: int, lines: Rows, mapping: Mapping) -> list[Fault]:
    column = mapping.time_column
    amounts = [
        name for name, one in mapping.columns.items() if QUANTITIES[name].kind == Kind.AMOUNT or one.unit == MINUTES
    ]
    long_step = long_step_of(moments)
    if long_step and amounts and not mapping.step_minutes:
        text = f"records stand {long_step} min apart, so that {', '.join(amounts)} cannot be told by the hour"
        return [Fault(f"{text}; leave it out of the mapping", int(lines[0]), column)]
    return [
        Fault(
            f"more records in one hour than a step of {step} min has: split the file where its step changes", at, column
        )
        for at in lines[crowded(ends, step)][:1].tolist()
    ]


def _ahead(ends: Moments, lines: Rows, mapping: Mapping, now: datetime) -> list[Fault]:
    ahead = np.flatnonzero(ends > np.datetime64(now.astimezone(UTC).replace(tzinfo=None), "s"))
    if not ahead.size:
        return []
    text = f"{ahead.size} records end after now, {_written(utc_minute(now))}: a forecast is no observation"
    return [Fault(f"{text}; are time zone and label right?", int(lines[ahead[0]]), mapping.time_column)]


def _height_notices(mapping: Mapping) -> list[Notice]:
    notices = []
    for name, column in mapping.columns.items():
        height = column.sensor_height_m
        if height is None or (name.startswith("wind_") and height == WIND_HEIGHT_M):
            continue
        least, most = SCREEN_HEIGHT_M
        if name.startswith("wind_"):
            factor = height_factor(height, WIND_HEIGHT_M)
            text = f"{name}: measured at {height:g} m, brought to {WIND_HEIGHT_M:g} m by the profile of FAO-56 eq. 47"
            text += f" (times {factor:.2f})"
            text += "; gusts change less with height, so that these are a little high" if "gust" in name else ""
            notices.append(Notice(text, quantity=name))
        elif not least <= height <= most:
            text = f"{name}: measured at {height:g} m, outside {least:g} to {most:g} m (WMO-No. 8); taken as it is"
            notices.append(Notice(text, quantity=name))
    return notices
