"""What a text file of weather shows by itself: letters, cells, header, unit rows, and how its stamps can be read.

Only what every row bears out is found here. Where two readings fit all rows, both are given back and neither chosen.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice, product
from pathlib import Path

import numpy as np

from forecast.errors import DataError
from forecast.ingest.logger.cells import (
    MOST_HEAD_LINES,
    Cells,
    Layout,
    decoded,
    marked_encoding,
    read_bytes,
    split_line,
)
from forecast.ingest.logger.csv_file import careful_numbers
from forecast.ingest.logger.hourly import Moments
from forecast.ingest.logger.mapping import EXCEL, MISSING, UNIX
from forecast.ingest.logger.stamps import as_written, from_count

CHUNKS_LOOKED_AT = 4  # house choice: 200,000 rows, six years of quarter-hours
_TRIED_CELLS = 50  # forms that fail here are not tried on the rest
DELIMITERS = (",", ";", "\t", "|")

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_TIME = re.compile(
    r"(?:\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|\d{1,2}[- ][A-Za-z]{3}[- ]\d{2,4}|\d{8})?[T, ]{0,2}"
    r"(?:\d{1,2}[:.]\d\d(?:[:.]\d\d)?(?:\.\d+)?\s?(?:[AaPp]\.?(?:[Mm]\.?)?)?)?\s?(?:Z|[+-]\d\d:?\d\d)?",
    re.ASCII,
)

_NAME_WORDS = re.compile(
    r"time|date|temp|hum|rain|wind|gust|wet|solar|rad|precip|dew|rh|stamp|batt|press|rec", re.IGNORECASE
)
_CLOCK_NAME = re.compile(r"time|hour|hr|hh|clock", re.IGNORECASE)
_COUNT_NAME = re.compile(r"time|date|unix|epoch|stamp|ts", re.IGNORECASE)

_SLASHED = ("%d/%m/%Y", "%m/%d/%Y", "%Y/%m/%d", "%d/%m/%y", "%m/%d/%y", "%y/%m/%d")
_NAMED = ("%d-%b-%Y", "%d %b %Y", "%b %d %Y", "%d-%b-%y", "%d %b %y")
_MARKS = "/.-"
DATES = (*(form.replace("/", mark) for mark in _MARKS for form in _SLASHED), *_NAMED, "%Y%m%d")
CLOCKS = ("%H:%M", "%H:%M:%S", "%I:%M %p", "%I:%M:%S %p", "%H:%M:%S.%f")
BARE_CLOCKS = ("%H.%M", "%H%M", "%H")  # a figure may look so too; only a column named as a clock is read so
_RUN_TOGETHER = {10: "%Y%m%d%H", 12: "%Y%m%d%H%M", 14: "%Y%m%d%H%M%S"}
_BETWEEN = (" ", "T", ", ")

_FIRST_UNIX_S, _LAST_UNIX_S = 631_152_000, 4_102_444_800  # 1990 to 2100: house choice, to tell seconds from readings
_FIRST_EXCEL_DAY, _LAST_EXCEL_DAY = 32_874, 73_050  # the same years in spreadsheet days


@dataclass(frozen=True, eq=False)
class Looks:
    """What a file shows.

    Attributes:
        encoding: what a mapping has to name; None where the file needs no naming.
        delimiter: what stands between cells.
        header_line: the line of the columns' names.
        header: the names.
        below: the rows under the header that hold no record.
        columns: the cells of each column that has a name of its own.
        is_whole: whether every row was looked at.
    """

    encoding: str | None
    delimiter: str
    header_line: int
    header: tuple[str, ...]
    below: tuple[tuple[str, ...], ...]
    columns: dict[str, list[str]]
    is_whole: bool

    def below_of(self, name: str) -> list[str]:
        """The cells under a column's name that hold no record, such as its unit."""
        place = self.header.index(name)
        return [row[place] for row in self.below if len(row) > place]


@dataclass(frozen=True, slots=True)
class Clock:
    """One way to read the stamps.

    Attributes:
        date_column: the date's column, where it stands apart.
        time_column: the column of stamps or clock times.
        forms: the forms that fit every row; None is ISO 8601.
        names_zone: whether every stamp names its own offset.
    """

    date_column: str | None
    time_column: str
    forms: tuple[str | None, ...]
    names_zone: bool


def look_at(path: Path) -> Looks:
    """What a file shows.

    Raises:
        MissingInputError: it cannot be read.
        DataError: it is no text, or no line of names stands above rows of figures.
    """
    raw = read_bytes(path)
    encoding = _encoding(raw)
    text = decoded(raw, path, encoding)
    lines = list(islice(re.split(r"\r\n|\r|\n", text), MOST_HEAD_LINES))
    delimiter = max(DELIMITERS, key=lambda mark: _fit(lines, mark))
    rows = [split_line(line, delimiter) for line in lines]
    is_data = _data_rows(rows)
    if True not in is_data:
        hint = f"rows want a time and figures between one of {' '.join(map(repr, DELIMITERS))}"
        raise DataError(f"{path} shows no rows of figures with their time in its first lines", hint=hint)
    first = is_data.index(True)
    header, last = _header(rows[:first], len(rows[first]))
    if header is None:
        hint = "put a line with the columns' names above them"
        raise DataError(f"{path} has no line of names above its first record, line {first + 1}", hint=hint)
    cells = Cells(text, Layout(delimiter, header + 1, last - header))
    own = [name for name in dict.fromkeys(cells.header) if name and cells.header.count(name) == 1]
    if not own:
        raise DataError(f"{path} has no column with a name of its own in line {header + 1}", hint="name the columns")
    columns: dict[str, list[str]] = {name: [] for name in own}
    chunks = cells.chunks(own, own[0])
    for chunk in islice(chunks, CHUNKS_LOOKED_AT):
        for name, found in chunk.columns.items():
            columns[name] += [cell.strip() for cell in found]
    below = tuple(tuple(cell.strip() for cell in row) for _, row in cells.after_header)
    is_whole = next(chunks, None) is None
    return Looks(encoding, delimiter, header + 1, tuple(cells.header), below, columns, is_whole)


def _encoding(raw: bytes) -> str | None:
    """The name a mapping has to give; old western letters are told from UTF-8, but not from each other."""
    if marked_encoding(raw) is not None:
        return None
    for encoding in (None, "cp1252"):
        try:
            raw.decode(encoding or "utf-8")
        except UnicodeDecodeError:
            continue
        return encoding
    return "latin-1"


def is_number(cell: str) -> bool:
    """Whether a cell is a number with either decimal mark."""
    return _NUMBER.fullmatch(cell) is not None


def _is_time(cell: str) -> bool:
    return any(mark in cell for mark in ":/-. ") and _TIME.fullmatch(cell) is not None and any(map(str.isdigit, cell))


def _data_rows(rows: Sequence[Sequence[str]]) -> list[bool]:
    """Which rows hold records: as wide as most, with a time or nothing but figures, and few words."""
    looks = [_is_data(row) for row in rows]
    widths = Counter(len(row) for row, is_data in zip(rows, looks, strict=True) if is_data)
    width = max(widths, key=lambda wide: (widths[wide], wide)) if widths else 0
    return [is_data and len(row) == width for row, is_data in zip(rows, looks, strict=True)]


def _is_data(row: Sequence[str]) -> bool:
    filled = [cell for cell in row if cell not in MISSING]
    times = sum(_is_time(cell) and not is_number(cell) for cell in filled)
    numbers = sum(is_number(cell) for cell in filled)
    return len(row) > 1 and bool(times or numbers == len(filled) > 1) and 2 * (times + numbers) >= len(filled)


def _fit(lines: Sequence[str], delimiter: str) -> tuple[int, int]:
    rows = [split_line(line, delimiter) for line in lines]
    is_data = _data_rows(rows)
    width = max((len(row) for row, here in zip(rows, is_data, strict=True) if here), default=0)
    return sum(is_data), width


def _header(above: Sequence[Sequence[str]], width: int) -> tuple[int | None, int]:
    """The row of names among those above the first record, and the last row that belongs to the head."""
    fitting = []
    for place in range(len(above) - 1, -1, -1):
        if not any(above[place]):
            continue
        if len(above[place]) not in (width, width - 1):
            break
        fitting.append(place)
    if not fitting:
        return None, 0
    # unit rows are shorter and emptier than names, and names come first
    best = max(reversed(fitting), key=lambda place: _name_likeness(above[place]))
    return best, fitting[0]


def _name_likeness(row: Sequence[str]) -> int:
    return sum(_NAME_WORDS.search(cell) is not None for cell in row)


def clocks_of(looks: Looks) -> list[Clock]:
    """The ways in which a file's columns give stamps: one for each column that does, or a date and a clock time."""
    found = [
        Clock(None, name, forms, zoned)
        for name in looks.columns
        for forms, zoned in [_stamp_forms(looks, name)]
        if forms
    ]
    if found:
        return found
    dates = [name for name, cells in looks.columns.items() if _fitting(cells[:_TRIED_CELLS], DATES)]
    for day, clock in product(dates, looks.columns):
        if day != clock and (forms := _joined_forms(looks, day, clock)):
            return [Clock(day, clock, forms, names_zone=False)]
    return []


def _stamp_forms(looks: Looks, name: str) -> tuple[tuple[str | None, ...], bool]:
    """The forms in which a column's cells are all stamps, and whether they name their zone."""
    cells = looks.columns[name]
    if not cells:
        return (), False
    if all(map(is_number, cells[:_TRIED_CELLS])):
        form = _count_form(name, cells)
        if form is not None:
            return (form,), form == UNIX
        run_together = _RUN_TOGETHER.get(len(cells[0]))
        return _fitting(cells, [run_together] if run_together else []), False
    if not np.isnat(as_written(cells[:_TRIED_CELLS], None)[0]).any():
        read, has_zone = as_written(cells, None)
        if not np.isnat(read).any():
            return (None,), bool(has_zone.all())
    forms = [f"{day}{between}{clock}" for day, between, clock in product(DATES, _BETWEEN, CLOCKS)]
    return _fitting(cells, forms), False


def _joined_forms(looks: Looks, day: str, clock: str) -> tuple[str | None, ...]:
    """The forms in which a date and a clock time are stamps."""
    joined = [f"{date} {time}" for date, time in zip(looks.columns[day], looks.columns[clock], strict=True)]
    is_named = _CLOCK_NAME.search(clock) is not None
    if all(map(is_number, looks.columns[clock][:_TRIED_CELLS])) and not is_named:
        return ()
    if not np.isnat(as_written(joined, None)[0]).any():
        return (None,)
    return _fitting(joined, [f"{date} {time}" for date, time in product(DATES, (*CLOCKS, *BARE_CLOCKS * is_named))])


def _count_form(name: str, cells: Sequence[str]) -> str | None:
    """Whether a column of figures counts seconds since 1970 or a spreadsheet's days: rising, and named as a time."""
    if _COUNT_NAME.search(name) is None:
        return None
    figures, wrong = careful_numbers([cell.replace(",", ".") for cell in cells], ())
    if wrong or (np.diff(figures) < 0).any():
        return None
    if ((figures >= _FIRST_UNIX_S) & (figures <= _LAST_UNIX_S)).all():
        return UNIX
    return EXCEL if ((figures >= _FIRST_EXCEL_DAY) & (figures <= _LAST_EXCEL_DAY)).all() else None


def _fitting(cells: Sequence[str], forms: Sequence[str]) -> tuple[str, ...]:
    """The forms that every cell can be read by."""
    if not cells:
        return ()
    left = [form for form in forms if _reads_one(cells[0], form)]
    for some in (cells[:_TRIED_CELLS], cells):
        left = [form for form in left if not np.isnat(as_written(some, form)[0]).any()]
    return tuple(left)


def _reads_one(cell: str, form: str) -> bool:
    """A quick look at one cell, so that hundreds of forms need not be tried on a whole column."""
    clock = re.sub(r"\s*([AaPp])\.?\s?(?:[Mm]\.?)?$", r" \1M", cell) if "%p" in form else cell
    clock = re.sub(r"24(:?00)", r"00\1", clock) if not _strptime(clock, form) else clock
    return _strptime(clock, form)


def _strptime(cell: str, form: str) -> bool:
    try:
        datetime.strptime(cell, form)  # noqa: DTZ007
    except ValueError:
        return False
    return True


def clock_readings(looks: Looks, clock: Clock, form: str | None) -> Moments:
    """The stamps as the clock shows them, whatever its zone."""
    cells = looks.columns[clock.time_column]
    if clock.date_column is not None:
        days = looks.columns[clock.date_column]
        cells = [f"{day} {time}" for day, time in zip(days, cells, strict=True)]
    if form in (EXCEL, UNIX):
        return from_count(careful_numbers([cell.replace(",", ".") for cell in cells], ())[0], form)
    return as_written(cells, form)[0]
