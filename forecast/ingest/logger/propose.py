"""A mapping proposed for a logger's file: what the file shows is written down, what it cannot show is asked.

Never guessed: time zone, which end of its interval a stamp names, the order of day and month where both fit every row,
units that neither the header nor a unit row names, whether rain is an amount or a counter, the height of the wind, the
depth of a soil thermometer, the figure from which on a wetness sensor is wet.
What looks likely is said as a hint beside the question. Until all is answered the proposed mapping does not load.
"""

from __future__ import annotations

import json
import tomllib
from collections import Counter
from collections.abc import Mapping as Answers
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import numpy as np

from forecast.errors import DataError, ForecastError, SettingsError
from forecast.ingest.logger.column_words import (
    has_unreadable_unit,
    is_soil_of_unknown_depth,
    other_depth_cm,
    quantity_of,
    unit_of,
)
from forecast.ingest.logger.csv_file import careful_numbers, read_csv_hours
from forecast.ingest.logger.hints import SENTINELS, can_be_reading, rain_hint, unit_hint, wetness_hint
from forecast.ingest.logger.hourly import Moments, step_of
from forecast.ingest.logger.looks import Clock, Looks, clock_readings, clocks_of, is_number, look_at
from forecast.ingest.logger.mapping import CANONICAL_TIME, LEAST_HEIGHT_M, MISSING, MOST_HEIGHT_M, UNIX, Mapping
from forecast.ingest.logger.questions import NONE, UNIT_KEYS, Asked, Question
from forecast.ingest.logger.soil_columns import KEPT_CM, KEPT_IN_WORDS, SAME_DEPTH_CM, SOIL, depth_cm, nearest_to
from forecast.ingest.logger.wet_columns import RAW, RESISTANCE, WETNESS
from forecast.panel import Floats
from forecast.quantities import QUANTITIES, READABLE, WORKED_OUT
from forecast.toml_file import known_zone
from forecast.units import units_of, ways_in

SHOWN_ROWS = 6
_WET = MappingProxyType(
    {"wet_from": "at or above which a record counts as wet", "wet_below": "below which a record counts as wet"}
)
_SOIL_IN_DOUBT = f"the file tells no depth, and soil is kept {KEPT_IN_WORDS}"


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
    asked = Asked(dict(answers or {}))
    looks = look_at(path)
    if CANONICAL_TIME in looks.header and any(name in READABLE for name in looks.header):
        return _complete(path, _canonical(looks))
    draft = _Draft(path.name, looks, asked)
    text = draft.written()
    if asked.open:
        return Proposal(text, tuple(asked.open), draft.preview(), is_complete=False)
    return _complete(path, text)


def _complete(path: Path, text: str) -> Proposal:
    return Proposal(text, (), _as_read(path, Mapping.model_validate(tomllib.loads(text))), is_complete=True)


class _Draft:
    """The mapping's text in the making: keys of the file, then a table a column."""

    def __init__(self, file_name: str, looks: Looks, asked: Asked) -> None:
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
        for quantity in UNIT_KEYS:
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
        head += self._other_depths(left)
        head += ["schema = 1"]
        keys = [f"must_be_given = [{', '.join(map(_quoted, self.must_be_given))}]"] if self.must_be_given else []
        return "\n".join([*head, *self.keys, *keys, *self.tables]) + "\n"

    def _other_depths(self, left: Sequence[str]) -> list[str]:
        """A word on each column of soil temperature that is left out for its depth."""
        depths = {name: other_depth_cm(name, self.looks.below_of(name)) for name in left if name in self.looks.columns}
        return [
            f"# {_quoted(name)} is told to be {depth:.3g} cm deep; soil is kept {KEPT_IN_WORDS}."
            for name, depth in depths.items()
            if depth is not None
        ]

    def preview(self) -> str:
        """The first records as the file writes them, and in the house's units where their own are known."""
        clock = clocks_of(self.looks)[0]
        count = min(SHOWN_ROWS, *map(len, self.looks.columns.values()))
        lines = [f"The first {count} records as written:"]
        lines += [self._row(name, count) for name in (clock.date_column, clock.time_column) if name]
        for quantity, name in self.chosen.items():
            lines.append(self._row(name, count))
            unit = self.units.get(quantity)
            ways = ways_in(quantity)
            if unit is not None and unit in ways:
                values = ways[unit](self.figures[quantity][:count])
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
            if quantity is not None and not has_unreadable_unit(quantity, name, below):
                candidates.setdefault(quantity, []).append(name)
        undecided = {}
        for quantity in UNIT_KEYS:
            names = candidates.get(quantity, [])
            names = nearest_to(quantity, names) if quantity in SOIL and names else names
            in_doubt = [] if names else self._soil_in_doubt(quantity, figures)
            if not names and not in_doubt and quantity not in self.asked.answers:
                continue
            question = Question(
                quantity,
                f"Which column holds {QUANTITIES[quantity].meaning}?",
                (*(in_doubt or (names if len(names) > 1 else figures)), NONE),
                f"{_SOIL_IN_DOUBT}; '{NONE}', or no such table, where no column does" if in_doubt else "",
            )
            answer = self.asked.answer(question, names[0] if len(names) == 1 else None)
            names = in_doubt or names
            if answer is None:
                lines = self._open(
                    f"columns.{quantity}.column", question, *(f"column = {_quoted(name)}" for name in names)
                )
                undecided[quantity] = ["", f"[columns.{quantity}]", *lines, *self._unit_of_one(quantity, names)]
            elif answer != NONE:
                self.chosen[quantity] = answer
        self._each_column_once()
        if not self.chosen and not undecided:
            listed = ", ".join(map(_quoted, figures))
            hint = f"name a column in an answer, such as air_temperature_c; columns of figures are {listed}"
            raise DataError("no column's name says which quantity it holds", hint=hint)
        return undecided

    def _soil_in_doubt(self, quantity: str, figures: Sequence[str]) -> list[str]:
        """The columns of soil temperature whose depth no words tell; without those that an answer gives to another."""
        if quantity not in SOIL:
            return []
        given = {self.asked.answers.get(other) for other in SOIL if other != quantity}
        return [
            name for name in figures if name not in given and is_soil_of_unknown_depth(name, self.looks.below_of(name))
        ]

    def _each_column_once(self) -> None:
        for name, count in Counter(self.chosen.values()).items():
            if count > 1:
                both = " and ".join(quantity for quantity, column in self.chosen.items() if column == name)
                raise SettingsError(f"{_quoted(name)} cannot hold {both}", hint="a column holds one quantity")

    def _table(self, quantity: str) -> None:
        name = self.chosen[quantity]
        told_cm = depth_cm(name) if quantity in SOIL else None
        is_off = told_cm is not None and abs(told_cm - KEPT_CM[quantity]) > SAME_DEPTH_CM
        beside = f"  # {told_cm:.3g} cm deep by its name" if is_off else ""
        column = f"column = {_quoted(name)}{beside}"
        self.tables += ["", f"[columns.{quantity}]", column, *self._unit_lines(quantity, name)]
        if quantity == "rain_mm":
            self._rain_kind()
        if quantity.startswith("wind_"):
            self._height(quantity)
        if quantity == WETNESS:
            self._threshold()

    def _unit_lines(self, quantity: str, name: str) -> list[str]:
        choices = units_of(quantity)
        figures = self.figures.get(quantity, np.empty(0))
        text = f"In which unit is {_quoted(name)}?"
        hint = unit_hint(quantity, figures, has_humidity="relative_humidity_pct" in self.chosen)
        answer = self.asked.answer(Question(UNIT_KEYS[quantity], text, choices, hint), self._unit_shown(quantity, name))
        self.units[quantity] = answer
        if answer is not None:
            return [f"unit = {_quoted(answer)}"]
        question = Question(UNIT_KEYS[quantity], text, choices, hint)
        return self._open(f"columns.{quantity}.unit", question, *(f"unit = {_quoted(unit)}" for unit in choices))

    def _unit_of_one(self, quantity: str, names: Sequence[str]) -> list[str]:
        """The unit of a column not yet chosen: that of them all, else to be filled in with the column."""
        shown = dict.fromkeys(self._unit_shown(quantity, name) for name in names)
        if len(shown) == 1 or UNIT_KEYS[quantity] in self.asked.answers:
            return self._unit_lines(quantity, names[0])
        question = Question(UNIT_KEYS[quantity], "In which unit is that column?", units_of(quantity))
        units = [unit for unit in shown if unit is not None] if None not in shown else units_of(quantity)
        return self._open(f"columns.{quantity}.unit", question, *(f"unit = {_quoted(unit)}" for unit in units))

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

    def _threshold(self) -> None:
        """Of a bare figure, what parts wet from dry."""
        unit = self.units[WETNESS]
        if unit is None:
            self.tables.append(f"# With {', '.join(RAW)} the figure {_WET['wet_from']} has to stand here too:")
            self.tables.append(f"# wet_from; or wet_below, {_WET['wet_below']}, as with {RESISTANCE}.")
        if unit not in RAW:
            return
        given = [key for key in _WET if key in self.asked.answers]
        if len(given) > 1:
            raise SettingsError("wet_from and wet_below cannot both be told", hint="leave one of the two answers out")
        if unit == RESISTANCE and given == ["wet_from"]:
            raise SettingsError(
                f"a wet leaf has less {RESISTANCE} than a dry one", hint="answer wet_below in its place"
            )
        key = "wet_below" if unit == RESISTANCE else (*given, "wet_from")[0]
        keys = [key] if unit == RESISTANCE else list(_WET)
        text = f"Which is the figure {_WET[key]}? The sensor's manual tells it, or a look at the sensor wet and dry."
        if unit != RESISTANCE:
            text += f" Where wet reads lower than dry: answer wet_below, the figure {_WET['wet_below']}."
        question = Question(key, text, hint=wetness_hint(self.figures[WETNESS]))
        answer = self.asked.answer(question)
        if answer is None:
            lines = [f"{one} = 0  # the sensor's own in place of 0" for one in keys]
            self.tables += self._open("|".join(f"columns.{WETNESS}.{one}" for one in keys), question, *lines)
        else:
            self.tables.append(f"{key} = {_above_0(key, answer)!r}")

    def _missing(self) -> None:
        """Words and figures that stand for no reading; a word with a digit may be a slip, which reading will tell."""
        words: Counter[str] = Counter()
        for quantity, name in self.chosen.items():
            unit = self.asked.answers.get(UNIT_KEYS[quantity]) or self._unit_shown(quantity, name)
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


def _above_0(key: str, answer: str) -> float:
    try:
        figure = float(answer)
    except ValueError:
        figure = 0.0
    if not 0 < figure < float("inf"):
        raise SettingsError(f"{key} cannot be {answer!r}", hint="a figure above 0, on the sensor's own scale")
    return figure


def _quoted(text: str) -> str:
    """A text as TOML writes it, which is how JSON does but for one letter."""
    whole = text.encode("utf-8", "replace").decode()  # a file's name may hold bytes that are no letters
    return json.dumps(whole, ensure_ascii=False).replace("\x7f", "\\u007f")


def _canonical(looks: Looks) -> str:
    columns = [name for name in looks.header if name in READABLE]
    derived = [name for name in looks.header if name in QUANTITIES and name not in READABLE]
    lines = ["# This file carries the house's own names and needs no mapping; this one says the same."]
    if derived:
        lines = [f"# Not taken: {name}; {WORKED_OUT}. Without this mapping the file is refused." for name in derived]
    lines += ["schema = 1", f"delimiter = {_quoted(looks.delimiter)}", f'time_column = "{CANONICAL_TIME}"']
    lines += ["utc_offset_hours = 0", 'label = "end"', "", "[columns]"]
    lines += [f"{name} = {{ column = {_quoted(name)}, unit = {_quoted(units_of(name)[0])} }}" for name in columns]
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
