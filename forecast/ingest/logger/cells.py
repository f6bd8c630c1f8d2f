"""A text file's cells: bytes within limits, letters in their encoding, rows of columns with the line of each.

Every limit is met before the work it guards, so that a wrong or hostile file costs little.
"""

from __future__ import annotations

import codecs
import csv
import difflib
import gzip
import io
import re
import zlib
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from forecast.errors import DataError, Fault, MissingInputError

MOST_BYTES = 50_000_000  # unpacked; 50 MB is some 80 years of hours, or two years of minutes
MOST_RATIO = 200  # house choice: repetitive weather packs to about a thirtieth; deflate itself stops at a thousandth
RATIO_FROM_BYTES = 1_000_000  # smaller files may pack as well as they like
MOST_ROWS = 5_000_000
MOST_COLUMNS = 500
MOST_LINE_CHARACTERS = (
    100_000  # 500 columns of 200 characters; a cell over several lines has the csv module's own limit
)
MOST_HEAD_LINES = 200  # house choice: how far down a header is looked for
MOST_CHARACTERS = 40  # of a wrong cell
_CHUNK_ROWS = 50_000  # cells of so many rows are held at a time

_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


def read_bytes(path: Path) -> bytes:
    """A file's bytes, unpacked where it is gzip.

    Raises:
        MissingInputError: it cannot be read.
        DataError: it is too large or a damaged gzip file.
    """
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
    if len(raw) > RATIO_FROM_BYTES and len(raw) > MOST_RATIO * len(packed):
        text = f"{path} unpacks to more than {MOST_RATIO} times its size, as no weather does"
        raise DataError(text, hint="unpack it and look at it")
    return raw


def marked_encoding(raw: bytes) -> str | None:
    """The encoding that a byte order mark names."""
    return next((name for mark, name in _MARKS if raw.startswith(mark)), None)


def decoded(raw: bytes, path: Path, encoding: str | None = None) -> str:
    """Bytes as text: by their byte order mark, else by the encoding named, else UTF-8.

    Raises:
        DataError: they are no text in that encoding, or a line is longer than any row of weather.
    """
    used = marked_encoding(raw) or encoding or "utf-8"
    hint = 'save it as CSV UTF-8, or name its encoding in a mapping, such as encoding = "cp1252"'
    try:
        text = raw.decode(used)
    except UnicodeDecodeError as error:
        name = used.removesuffix("-sig").upper()
        raise DataError(f"{path} is not {name} text (byte {error.start})", hint=hint) from error
    if "\x00" in text:
        raise DataError(f"{path} holds binary data", hint=hint)
    if _longest_line(text, "\n") > MOST_LINE_CHARACTERS and _longest_line(text, "\r|\n") > MOST_LINE_CHARACTERS:
        raise DataError(f"{path} has a line of more than {MOST_LINE_CHARACTERS:,} characters", hint="is it a CSV file?")
    return text.removeprefix("\ufeff")


def _longest_line(text: str, ends: str) -> int:
    return max(map(len, text.split("\n") if ends == "\n" else re.split(ends, text)))


@dataclass(frozen=True, slots=True)
class Layout:
    """How a text is laid out.

    Attributes:
        delimiter: what stands between cells.
        header_line: the line with the columns' names; None: the first that holds all the names wanted.
        rows_after_header: rows below the header that hold no record.
    """

    delimiter: str = ","
    header_line: int | None = 1
    rows_after_header: int = 0


@dataclass(slots=True)
class Chunk:
    """Some rows: the line on which each begins, and the cells of each wanted column."""

    lines: list[int]
    columns: dict[str, tuple[str, ...]]


class Cells:
    """A text's header and, as :meth:`chunks` is read, its rows.

    Attributes:
        header: the columns' names, without blanks around them.
        header_line: the line that they stand on.
        after_header: the rows below it that hold no record, each with its line.
        faults: what does not fit, found so far.
        repeated: rows that only repeat a line above the records, passed over so far.
    """

    def __init__(self, text: str, layout: Layout, wanted: Collection[str] = ()) -> None:
        """The header of a text.

        Args:
            text: the whole file.
            layout: how it is laid out.
            wanted: names that the header holds, by which it is found where ``layout`` names no line.
        """
        self.header_line = layout.header_line or _found_header(text, layout.delimiter, set(wanted))
        self.faults: list[Fault] = []
        self.repeated = 0
        self._is_plain = '"' not in text  # then every line is one row
        self._trailing: bool | None = None  # whether every row ends in a delimiter that the header has not
        stream = io.StringIO(text, newline="")
        preamble = [stream.readline() for _ in range(self.header_line - 1)]
        self._reader = csv.reader(stream, delimiter=layout.delimiter, strict=True)
        self._rows = self._numbered()
        _, header = next(self._rows, (self.header_line, []))
        self.header = [name.strip() for name in header]
        self.after_header = list(islice(self._rows, layout.rows_after_header))
        above = [split_line(row, layout.delimiter) for row in preamble]
        below = [row for _, row in self.after_header]
        self._head = {tuple(cell.strip() for cell in row) for row in (*above, header, *below)}
        if len(header) > MOST_COLUMNS:
            self.faults.append(Fault(f"{len(header)} columns; {MOST_COLUMNS} at most are read", self.header_line))

    def chunks(self, wanted: Sequence[str], key: str) -> Iterator[Chunk]:
        """The rows of records, some thousands at a time; empty rows are passed over.

        Args:
            wanted: the columns to give.
            key: the column that no record leaves empty.

        Raises:
            DataError: there are more rows than any file of weather has.
        """
        places = {name: self.header.index(name) for name in wanted}
        total = 0
        for lines, rows in self._blocks(self.header.index(key)):
            total += len(rows)
            if total > MOST_ROWS:
                raise DataError(f"the file has more than {MOST_ROWS:,} rows", hint="split it by years")
            columns = list(zip(*rows, strict=True))
            yield Chunk(lines, {name: columns[place] for name, place in places.items()})

    def _blocks(self, place: int) -> Iterator[tuple[list[int], list[list[str]]]]:
        """Some thousands of records at a time; a block without anything odd is taken as it is."""
        marks = {row[place] for row in self._head if len(row) == len(self.header)} | {""}
        while True:
            first = self.header_line + self._reader.line_num
            if self._is_plain:
                rows = list(islice(self._reader, _CHUNK_ROWS))
                lines = list(range(first, first + len(rows)))
            else:
                numbered = list(islice(self._rows, _CHUNK_ROWS))
                lines, rows = [line for line, _ in numbered], [row for _, row in numbered]
            if not rows:
                return
            widths = set(map(len, rows))
            if (
                widths != {len(self.header)}
                or self._trailing
                or not marks.isdisjoint(row[place].strip() for row in rows)
            ):
                lines, rows = self._records(lines, rows)
            else:
                self._trailing = False
            if rows:
                yield lines, rows

    def _records(self, lines: list[int], rows: list[list[str]]) -> tuple[list[int], list[list[str]]]:
        """Those of the rows that are records; what is none is a fault, a repeated line above the records, or empty."""
        width = len(self.header)
        kept_lines, kept = [], []
        for line, row in zip(lines, rows, strict=True):
            bare = tuple(cell.strip() for cell in row)
            if not any(bare):
                continue
            if bare in self._head:
                self.repeated += 1
                continue
            ends_empty = len(row) == width + 1 and not bare[-1]
            self._trailing = ends_empty if self._trailing is None else self._trailing
            if ends_empty if self._trailing else len(row) == width:
                kept_lines.append(line)
                kept.append(row[:width])
            else:
                wanted = f"the rows before have {width + 1}" if self._trailing else f"the header has {width}"
                self.faults.append(Fault(f"{len(row)} cells where {wanted}", line))
        return kept_lines, kept

    def _numbered(self) -> Iterator[tuple[int, list[str]]]:
        """Rows with the line on which each begins, up to the first whose cells cannot be told apart."""
        begins = self.header_line
        try:
            for row in self._reader:
                yield begins, row
                begins = self.header_line + self._reader.line_num
        except csv.Error as error:
            self.faults.append(Fault(f"from here on cells cannot be told apart: {error}", begins))


def split_line(line: str, delimiter: str) -> list[str]:
    """One line's cells without blanks around them, as well as they can be told apart."""
    try:
        return [cell.strip() for cell in next(csv.reader([line.rstrip("\r\n")], delimiter=delimiter), [])]
    except csv.Error:
        return [cell.strip() for cell in line.split(delimiter)]


def _found_header(text: str, delimiter: str, wanted: set[str]) -> int:
    """The first line that holds all the names; failing that, the one that holds most, or names like them."""
    lines = io.StringIO(text, newline="")
    some = [split_line(line, delimiter) for line in islice(lines, MOST_HEAD_LINES)]
    for number, cells in enumerate(some, start=1):
        if wanted <= set(cells):
            return number
    likeness = [sum(nearest(name, cells) is not None for name in wanted) for cells in some]
    return likeness.index(max(likeness)) + 1 if likeness else 1


def nearest(name: str, names: Sequence[str]) -> str | None:
    """The name most like another, whatever its capitals; None where none is near."""
    by_lower = {known.lower(): known for known in names if known}
    near = difflib.get_close_matches(name.lower(), by_lower, n=1)
    return by_lower[near[0]] if near else None


def shown(cell: str) -> str:
    """A cell as it is quoted in a complaint."""
    return repr(cell if len(cell) <= MOST_CHARACTERS else cell[:MOST_CHARACTERS] + "…")
