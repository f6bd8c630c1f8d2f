"""A mapping proposed for a logger's file: what the file shows is written down, what it cannot show is asked.

Never guessed: time zone, which end of its interval a stamp names, the order of day and month where both fit every row,
units that neither the header nor a unit row names, whether rain is an amount or a counter, the height of the wind.
What looks likely is said as a hint beside the question. Until all is answered the proposed mapping does not load.
"""

from __future__ import annotations

import json
import tomllib
from collections import Counter
from collections.abc import Mapping as Answers
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

import numpy as np

from forecast.errors import DataError, ForecastError, SettingsError
from forecast.ingest.logger.cells import nearest
from forecast.ingest.logger.column_words import has_unreadable_unit, quantity_of, unit_of, units_known
from forecast.ingest.logger.csv_file import careful_numbers, read_csv_hours
from forecast.ingest.logger.hints import SENTINELS, can_be_reading, rain_hint, unit_hint
from forecast.ingest.logger.hourly import Moments, step_of
from forecast.ingest.logger.looks import Clock, Looks, clock_readings, clocks_of, is_number, look_at
from forecast.ingest.logger.mapping import (
    CANONICAL_TIME,
    LEAST_HEIGHT_M,
    MISSING,
    MOST_HEIGHT_M,
    UNIX,
    Mapping,
)
from forecast.panel import Floats
from forecast.quantities import QUANTITIES, unit_suffix
from forecast.toml_file import known_zone
from forecast.units import IMPORT_UNITS

NONE = "none"  # an answer: no column holds this quantity
SHOWN_ROWS = 6
_UNIT_KEYS = MappingProxyType(
    {
        "air_temperature_c": "temperature_unit",
        "dew_point_c": "temperature_unit",
        "relative_humidity_pct": "humidity_unit",
        "rain_mm": "rain_unit",
        "wind_speed_10m_m_s": "wind_unit",
        "wind_gust_10m_m_s": "wind_unit",
        "shortwave_down_w_m2": "radiation_unit",
        "leaf_wet_fraction": "wetness_unit",
    }
)
_OTHER_UNITS = ("shortwave_down_w_m2", "leaf_wet_fraction")
KEYS = (
    "time_zone",
    "label",
    "date_order",
    "time_column",
    "decimal",
    *dict.fromkeys(_UNIT_KEYS.values()),
    "rain_reduce",
    "wind_height_m",
    *_UNIT_KEYS,
)


@dataclass(frozen=True, slots=True)
class Question:
    """What a file cannot show.

    Attributes:
        key: the name its answer goes by.
        text: the question.
        choices: the answers there are; empty where any of a kind will do.
        hint: what the file makes likely; empty where it makes nothing so.
    """

    key: str
    text: str
    choices: tuple[str, ...] = ()
    hint: str = ""

    def __str__(self) -> str:
        """The question in one line, its key first."""
        choices = f" One of: {', '.join(self.choices)}." if self.choices else ""
        hint = f" Hint: {self.hint}." if self.hint else ""
        return f"{self.key}: {self.text}{choices}{hint}"


@dataclass(frozen=True, slots=True)
class Proposal:
    """A mapping, as far as it can be known.

    Attributes:
        text: the mapping file.
        questions: what is still to be answered.
        preview: the first hours as they would be read; as written, while questions are open.
        is_complete: whether nothing is left to be answered.
    """

    text: str
    questions: tuple[Question, ...]
    preview: str
    is_complete: bool


def propose(path: Path, answers: Answers[str, str] | None = None) -> Proposal:
    """A mapping for a file.

    Args:
        path: the logger's file, plain or gzip-packed.
        answers: answers by the question's key, one of :data:`KEYS`; an answer goes before what the file shows.

    Raises:
        MissingInputError: the file cannot be read.
        DataError: nothing in it looks like records below a header.
        SettingsError: an answer goes by no known key or is none of the choices.
    """
    asked = _Asked(dict(answers or {}))
    looks = look_at(path)
    if CANONICAL_TIME in looks.header and any(name in QUANTITIES for name in looks.header):
        return _complete(path, _canonical(looks))
    draft = _Draft(path.name, looks, asked)
    text = draft.written()
    if asked.open:
        return Proposal(text, tuple(asked.open), draft.preview(), is_complete=False)
    return _complete(path, text)


def _complete(path: Path, text: str) -> Proposal:
    return Proposal(text, (), _as_read(path, Mapping.model_validate(tomllib.loads(text))), is_complete=True)


@dataclass(slots=True)
class _Asked:
    """Answers given, and questions still open."""

    answers: dict[str, str]
    open: list[Question] = field(default_factory=list)

    def __post_init__(self) -> None:
        for key in self.answers:
            if key not in KEYS:
                near = nearest(key, KEYS)
                hint = f"did you mean {near}?" if near else f"known are {', '.join(KEYS)}"
                raise SettingsError(f"nothing is asked by the name {key!r}", hint=hint)

    def answer(self, question: Question, found: str | None = None) -> str | None:
        """The answer given, else what the file shows; None, and the question stays open, where there is neither."""
        given = self.answers.get(question.key)
        if given is not None:
            if question.choices and given not in question.choices:
                hint = f"choices are {', '.join(question.choices)}"
                raise SettingsError(f"{question.key} cannot be {given!r}", hint=hint)
            return given
        if found is None and question.key not in {asked.key for asked in self.open}:
            self.open.append(question)
        return found


class _Draft:
    """The mapping's text in the making: keys of the file, then a table a column."""

    def __init__(self, file_name: str, looks: Looks, asked: _Asked) -> None:
        self.looks = looks
        self.asked = asked
        self.must_be_given: list[str] = []
        self.keys: list[str] = []
        self.tables: list[str] = []
        self.file_name = file_name
        self.chosen: dict[str, str] = {}  # quantity → column
        self.units: dict[str, str | None] = {}
        self.figures: dict[str, Floats] = {}

    def written(self) -> str:
        """The whole text."""
        looks = self.looks
        self._layout()
        clock = self._clock()
        clocks = {clock.date_column, clock.time_column}
        undecided = self._choose(clocks)
        decimal = self._decimal()
        for quantity, name in self.chosen.items():
            cells = [cell.replace(",", ".") if decimal == "," else cell for cell in looks.columns[name]]
            self.figures[quantity] = careful_numbers(cells, MISSING)[0]
        self._missing()
        for quantity in _UNIT_KEYS:
            if quantity in undecided:
                self.tables += undecided[quantity]
            if quantity in self.chosen:
                self._table(quantity)
        left = [name for name in dict.fromkeys(looks.header) if name and name not in {*clocks, *self.chosen.values()}]
        head = [
            f"# Proposed for {_quoted(self.file_name)} from what the file itself shows.",
            "# A line that begins with '# ?' asks what it cannot show: take that mark away and fill in the answer.",
            "# Of several such lines in a row one is right. Until all is answered this file does not load.",
        ]
        head += [] if looks.is_whole else ["# Only the first rows of the file were looked at."]
        head += [f"# Not taken: {', '.join(map(_quoted, left))}."] if left else []
        head += ["schema = 1"]
        keys = [f"must_be_given = [{', '.join(map(_quoted, self.must_be_given))}]"] if self.must_be_given else []
        return "\n".join([*head, *self.keys, *keys, *self.tables]) + "\n"

    def preview(self) -> str:
        """The first records as the file writes them, and in the house's units where their own are known."""
        clock = clocks_of(self.looks)[0]
        count = min(SHOWN_ROWS, *map(len, self.looks.columns.values()))
        lines = [f"The first {count} records as written:"]
        lines += [self._row(name, count) for name in (clock.date_column, clock.time_column) if name]
        for quantity, name in self.chosen.items():
            lines.append(self._row(name, count))
            unit = self.units.get(quantity)
            if unit is not None:
                values = IMPORT_UNITS[unit_suffix(quantity)][unit](self.figures[quantity][:count])
                lines.append(f"    = {quantity}: {' | '.join(f'{value:.2f}' for value in values)}")
        return "\n".join(lines) + "\n"

    def _row(self, name: str, count: int) -> str:
        return f"  {_quoted(name)}: {' | '.join(self.looks.columns[name][:count])}"

    def _open(self, key: str, question: Question, *lines: str) -> list[str]:
        """The commented lines that ask for a key."""
        self.must_be_given.append(key)
        hint = [f"# Hint: {question.hint}."] if question.hint else []
        return [f"# {question.text}", *hint, *(f"# ? {line}" for line in lines)]

    def _layout(self) -> None:
        looks = self.looks
        if looks.encoding:
            self.keys.append(
                f"encoding = {_quoted(looks.encoding)}  # not UTF-8; see whether ° and the like come out right"
            )
        self.keys += [f"delimiter = {_quoted(looks.delimiter)}", f"header_line = {looks.header_line}"]
        if looks.below:
            self.keys.append(f"rows_after_header = {len(looks.below)}")

    def _decimal(self) -> str:
        numbers = [cell for name in self.chosen.values() for cell in self.looks.columns[name] if is_number(cell)]
        commas = [cell for cell in numbers if "," in cell]
        has_points = any("." in cell for cell in numbers)
        like_thousands = bool(commas) and all(len(cell.rpartition(",")[2]) == 3 for cell in commas)
        found = "," if commas else "."
        question = Question(
            "decimal", "Which is the decimal mark? The figures with a comma can be read both ways.", (".", ",")
        )
        answer = self.asked.answer(question, None if commas and (has_points or like_thousands) else found)
        if answer is None:
            self.keys += self._open("decimal", question, 'decimal = "."', 'decimal = ","')
        elif answer == ",":
            self.keys.append('decimal = ","')
        return answer or "."

    def _clock(self) -> Clock:
        clocks = clocks_of(self.looks)
        if not clocks:
            hint = "write a mapping by hand; the README lists its keys"
            raise DataError("no column, nor a date beside a clock time, can be read as stamps in every row", hint=hint)
        clock = clocks[0]
        if len(clocks) > 1:
            names = tuple(clock.time_column for clock in clocks)
            question = Question("time_column", "Which column holds the stamps to go by?", names)
            answer = self.asked.answer(question)
            if answer is None:
                self.keys += self._open("time_column", question, *(f"time_column = {_quoted(name)}" for name in names))
                return clock
            clock = clocks[names.index(answer)]
        if clock.date_column is not None:
            self.keys.append(f"date_column = {_quoted(clock.date_column)}")
        self.keys.append(f"time_column = {_quoted(clock.time_column)}")
        form = self._form(clock)
        readings = clock_readings(self.looks, clock, form)
        if form != UNIX and ("time_zone" in self.asked.answers or not clock.names_zone):
            self._zone(readings)
        self._label(readings)
        return clock

    def _form(self, clock: Clock) -> str | None:
        """The form of the stamps; where day and month may stand either way, the question, and one of the two."""
        forms = [form for form in clock.forms if form is not None]
        if not forms:
            return None
        orders = {_order(form): form for form in reversed(forms)}
        text = "In which order do dates stand? More than one fits every row."
        question = Question("date_order", text, tuple(orders), self._steady(clock, orders))
        answer = self.asked.answer(question, next(iter(orders)) if len(orders) == 1 else None)
        if answer is not None:
            self.keys.append(f"time_format = {_quoted(orders[answer])}")
            return orders[answer]
        lines = [f"time_format = {_quoted(form)}  # {order}" for order, form in orders.items()]
        self.keys += self._open("time_format", question, *lines)
        return forms[0]

    def _steady(self, clock: Clock, orders: dict[str, str]) -> str:
        """Which order of day and month gives stamps that keep their step and run forward."""
        steady = []
        for order, form in orders.items():
            gaps = np.diff(clock_readings(self.looks, clock, form)).astype(np.int64)
            if gaps.size and (gaps > 0).all() and np.ptp(gaps) == 0:
                steady.append(order)
        return f"stamps keep one step from first to last only as {steady[0]}" if len(steady) == 1 else ""

    def _zone(self, readings: Moments) -> None:
        back = np.flatnonzero(np.diff(readings) < np.timedelta64(0, "s"))
        after = str(readings[back[0]])[:16].replace("T", " ") if back.size else ""
        question = Question(
            "time_zone",
            "Which clock are the stamps by? A zone's name where clocks are changed for summer; hours from UTC where "
            "the logger keeps standard time all year.",
            hint=f"stamps run back after {after}, as on a night when clocks are put back" if back.size else "",
        )
        answer = self.asked.answer(question)
        if answer is None:
            lines = ('time_zone = "America/New_York"', "utc_offset_hours = -5")
            self.keys += self._open("time_zone|utc_offset_hours", question, *lines)
        else:
            self.keys.append(_zone_line(answer))

    def _label(self, readings: Moments) -> None:
        step = step_of(readings)
        length = f" of {step} min" if step else ""
        text = f"Does a stamp name the start or the end of its interval{length}?"
        question = Question("label", text, ("start", "end"))
        answer = self.asked.answer(question)
        lines = [f'label = "{answer}"'] if answer else self._open("label", question, 'label = "start"', 'label = "end"')
        self.keys += lines

    def _choose(self, clocks: set[str | None]) -> dict[str, list[str]]:
        """The column of each quantity; per quantity whose words fit several, the lines that ask."""
        figures = [
            name for name, cells in self.looks.columns.items() if name not in clocks and any(map(is_number, cells))
        ]
        candidates: dict[str, list[str]] = {}
        for name in figures:
            below = self.looks.below_of(name)
            quantity = quantity_of(name, below)
            is_other = quantity in _OTHER_UNITS and has_unreadable_unit(name, below)
            if quantity is not None and not is_other:
                candidates.setdefault(quantity, []).append(name)
        undecided = {}
        for quantity in _UNIT_KEYS:
            names = candidates.get(quantity, [])
            if not names and quantity not in self.asked.answers:
                continue
            choices = (*(names if len(names) > 1 else figures), NONE)
            question = Question(quantity, f"Which column holds {QUANTITIES[quantity].meaning}?", choices)
            answer = self.asked.answer(question, names[0] if len(names) == 1 else None)
            if answer is None:
                lines = self._open(
                    f"columns.{quantity}.column", question, *(f"column = {_quoted(name)}" for name in names)
                )
                undecided[quantity] = ["", f"[columns.{quantity}]", *lines, *self._unit_lines(quantity, names[0])]
            elif answer != NONE:
                self.chosen[quantity] = answer
        if not self.chosen and not undecided:
            listed = ", ".join(map(_quoted, figures))
            hint = f"name a column in an answer, such as air_temperature_c; columns of figures are {listed}"
            raise DataError("no column's name says which quantity it holds", hint=hint)
        return undecided

    def _table(self, quantity: str) -> None:
        name = self.chosen[quantity]
        self.tables += ["", f"[columns.{quantity}]", f"column = {_quoted(name)}", *self._unit_lines(quantity, name)]
        if quantity == "rain_mm":
            self._rain_kind()
        if quantity.startswith("wind_"):
            self._height(quantity)

    def _unit_lines(self, quantity: str, name: str) -> list[str]:
        choices = units_known(quantity)
        figures = self.figures.get(quantity, np.empty(0))
        text = f"In which unit is {_quoted(name)}?"
        hint = unit_hint(quantity, figures, has_humidity="relative_humidity_pct" in self.chosen)
        answer = self.asked.answer(
            Question(_UNIT_KEYS[quantity], text, choices, hint), self._unit_shown(quantity, name)
        )
        self.units[quantity] = answer
        if answer is not None:
            return [f"unit = {_quoted(answer)}"]
        question = Question(_UNIT_KEYS[quantity], text, choices, hint)
        return self._open(f"columns.{quantity}.unit", question, *(f"unit = {_quoted(unit)}" for unit in choices))

    def _unit_shown(self, quantity: str, name: str) -> str | None:
        """The unit that the file names; humidity above 1.5 can be no fraction."""
        found = unit_of(quantity, name, self.looks.below_of(name), self.looks.header)
        figures = self.figures.get(quantity, np.empty(0))
        is_pct = quantity == "relative_humidity_pct" and bool((figures > 1.5).any())
        return "%" if found is None and is_pct else found

    def _rain_kind(self) -> None:
        question = Question(
            "rain_reduce",
            "Is a figure of rain what fell since the record before (sum), or a counter that runs on (cumulative)?",
            ("sum", "cumulative"),
            rain_hint(self.figures["rain_mm"]),
        )
        is_total = any(word.lower() in ("tot", "total") for word in self.looks.below_of(self.chosen["rain_mm"]))
        answer = self.asked.answer(question, "sum" if is_total else None)
        if answer is None:
            self.tables += self._open("columns.rain_mm.reduce", question, 'reduce = "sum"', 'reduce = "cumulative"')
        else:
            self.tables.append(f'reduce = "{answer}"')

    def _height(self, quantity: str) -> None:
        question = Question("wind_height_m", "How many metres above the ground is the wind measured? Airports have 10.")
        answer = self.asked.answer(question)
        if answer is None:
            self.tables += self._open(f"columns.{quantity}.sensor_height_m", question, "sensor_height_m = 10")
        else:
            self.tables.append(f"sensor_height_m = {_height_m(answer):g}")

    def _missing(self) -> None:
        """Words and figures that stand for no reading; a word with a digit may be a slip, which reading will tell."""
        words: Counter[str] = Counter()
        for quantity, name in self.chosen.items():
            unit = self.asked.answers.get(_UNIT_KEYS[quantity]) or self._unit_shown(quantity, name)
            words.update(
                cell for cell in self.looks.columns[name] if cell not in MISSING and not any(map(str.isdigit, cell))
            )
            figures = self.figures[quantity]
            for sentinel in SENTINELS:
                is_sentinel = figures == sentinel
                if is_sentinel.any() and not can_be_reading(quantity, sentinel, unit):
                    words[f"{sentinel:g}"] += int(is_sentinel.sum())
                    figures[is_sentinel] = np.nan
        if words:
            listed = ", ".join(map(_quoted, words))
            self.keys.append(f"missing = [{listed}]  # stand in {words.total()} cells, and are taken for no reading")


def _order(form: str) -> str:
    """The order of the parts of a date, in words."""
    words = {"%d": "day", "%m": "month", "%b": "month", "%Y": "year", "%y": "year"}
    found = sorted((form.index(letters), word) for letters, word in words.items() if letters in form)
    return "/".join(word for _, word in found)


def _zone_line(answer: str) -> str:
    try:
        hours = float(answer)
    except ValueError:
        try:
            return f"time_zone = {_quoted(known_zone(answer))}"
        except ValueError as error:
            raise SettingsError(f"time_zone: {error}", hint="or give the hours from UTC, such as -5") from error
    if not abs(hours) <= 14:
        raise SettingsError(f"time_zone: {answer!r} hours from UTC is no place's", hint="from -14 to 14")
    return f"utc_offset_hours = {hours:g}"


def _height_m(answer: str) -> float:
    try:
        height = float(answer)
    except ValueError:
        height = 0.0
    if not LEAST_HEIGHT_M <= height <= MOST_HEIGHT_M:
        hint = f"metres, from {LEAST_HEIGHT_M:g} to {MOST_HEIGHT_M:g}"
        raise SettingsError(f"wind_height_m cannot be {answer!r}", hint=hint)
    return height


def _quoted(text: str) -> str:
    """A text as TOML writes it, which is how JSON does but for one letter."""
    whole = text.encode("utf-8", "replace").decode()  # a file's name may hold bytes that are no letters
    return json.dumps(whole, ensure_ascii=False).replace("\x7f", "\\u007f")


def _canonical(looks: Looks) -> str:
    columns = [name for name in looks.header if name in QUANTITIES]
    lines = ["# This file carries the house's own names and needs no mapping; this one says the same.", "schema = 1"]
    lines += [f"delimiter = {_quoted(looks.delimiter)}", f'time_column = "{CANONICAL_TIME}"', "utc_offset_hours = 0"]
    lines += ['label = "end"', "", "[columns]"]
    lines += [f"{name} = {{ column = {_quoted(name)}, unit = {_quoted(units_known(name)[0])} }}" for name in columns]
    return "\n".join(lines) + "\n"


def _as_read(path: Path, mapping: Mapping) -> str:
    """The first hours as the mapping reads them, or why it cannot."""
    try:
        hours = read_csv_hours(path, mapping)
    except ForecastError as error:
        return f"With this mapping the file cannot be read:\n{error}\n"
    count = min(SHOWN_ROWS, len(hours.hours))
    lines = [f"The first {count} of {len(hours.hours)} hours (UTC, each stamp the end of its hour):"]
    lines.append("  ".join(["hour_utc         ", *hours.values]))
    for row in range(count):
        figures = [f"{values[row]:.2f}".rjust(len(name)) for name, values in hours.values.items()]
        lines.append("  ".join([f"{hours.hours[row]}:00Z", *figures]))
    lines += [f"Note: {notice.text}." for notice in hours.notices]
    return "\n".join(lines) + "\n"
