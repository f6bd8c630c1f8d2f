"""What to mix for a treated surface: product, water, loads, steps, gear and keep-off."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from forecast.report.lines import wrapped
from forecast.report.words import NBSP, area_words, capital
from forecast.units import G_PER_OZ, L_PER_US_GAL, ML_PER_FL_OZ

MIX_SCHEMA: Literal[1] = 1
SHAKEN_UP_TO_L = 20.0  # house choice: about five gallons; a larger tank has an agitator
SHORT_SHARE = 0.05  # house choice: less than this share of a load's product lost to whole marks is not told


@dataclass(frozen=True, slots=True)
class SurfacePart:
    """One part of the surface as it was given; what is taken off it is below zero."""

    words: str
    size_m2: float


@dataclass(frozen=True, slots=True)
class MixProduct:
    """A product in the tank.

    Attributes:
        formulation: code, and what it is; empty where it was not given.
        rate_as_printed: in the label's own words.
        measure: ``mL`` or ``g``.
        whole: for the whole surface, in the measure.
        most_per_year_as_printed: the label's yearly limit; empty where none was given.
        times_a_year: so many such applications stay within the label's limits, where nothing has been used yet; None
            where it has none.
        left_this_year: what the records leave of them for this surface, in the measure; None without records or limit.
        measured: for the whole surface in whole marks of the measure; as ``whole`` without one.
    """

    name: str
    formulation: str
    rate_as_printed: str
    measure: str
    whole: float
    most_per_year_as_printed: str = ""
    times_a_year: int | None = None
    left_this_year: float | None = None
    measured: float = 0.0


@dataclass(frozen=True, slots=True)
class LoadProduct:
    """What one load takes of a product.

    Attributes:
        exact: in its measure, mL or g.
        marks: whole marks of the measure that it is measured with; None where no measure was given.
        measured: what these give; the exact amount without a measure.
    """

    name: str
    exact: float
    marks: int | None
    measured: float


@dataclass(frozen=True, slots=True)
class MixLoad:
    """Tank fillings that are alike: how many, and what is in each; products in order of mixing."""

    count: int
    mix_l: float
    covers_m2: float
    products: tuple[LoadProduct, ...]


@dataclass(frozen=True, slots=True)
class MixSheet:
    """A whole mixing sheet.

    Attributes:
        where: the area, in words; empty for a surface that was only measured.
        not_before: first day on which the label permits it, and why; empty where it does today.
        carrier_as_printed: mix on a surface, in the label's own words.
        tank_l: what the tank holds.
        mark: smallest division of the measure, mL or g; None where none was given.
        mark_words: the same as it was typed.
        products: in order of mixing.
        notes: what else has to be known, in sentences.
        gear: what the label says about protective gear; empty where no label is at hand.
        keep_off: what it says about people and pets; likewise.
    """

    schema: Literal[1]
    version: str
    units: Literal["us", "si"]
    invented: bool
    where: str
    not_before: str
    parts: tuple[SurfacePart, ...]
    size_m2: float
    carrier_as_printed: str
    mix_l: float
    tank_l: float
    mark: float | None
    mark_words: str
    products: tuple[MixProduct, ...]
    loads: tuple[MixLoad, ...]
    notes: tuple[str, ...]
    gear: str
    keep_off: str
    cautions: tuple[str, ...]


def mix_text(sheet: MixSheet) -> str:
    """The sheet for a terminal or a printout."""
    return "\n".join(_lines(sheet)) + "\n"


def _lines(sheet: MixSheet) -> Iterator[str]:
    us = sheet.units == "us"
    measures = {one.name: one.measure for one in sheet.products}
    yield from wrapped(f"Mix for {sheet.where or 'a surface'} of {area_words(sheet.size_m2, us=us)}")
    if sheet.invented:
        yield "Place and label are invented: never use a figure of this sheet on real turf."
    if sheet.not_before:
        yield from wrapped(f"NOT TODAY. {sheet.not_before}")
    if len(sheet.parts) > 1:
        for part in sheet.parts:
            sign = "less " if part.size_m2 < 0 else ""
            yield from wrapped(f"{sign}{part.words}: {area_words(abs(part.size_m2), us=us)}", 2, 2)
    yield ""
    yield from _in_all(sheet, us=us)
    yield ""
    for first, load in _numbered(sheet.loads):
        yield from wrapped(_load(load, first, measures, us=us), 2, 2)
    yield ""
    for number, step in enumerate(steps(sheet), start=1):
        yield from wrapped(f"{number}. {step}", 2, 3)
    yield ""
    for note in sheet.notes:
        yield from wrapped(f"Note: {note}", 0, 2)
    for caution in sheet.cautions:
        yield from wrapped(caution)


def _in_all(sheet: MixSheet, *, us: bool) -> Iterator[str]:
    for one in sheet.products:
        amount = amount_words(one.whole, one.measure, us=us)
        marks = ""
        if one.measured < one.whole * (1 - 1e-9):
            marks = f"; {amount_words(one.measured, one.measure, us=us)} in whole marks"
        yield from wrapped(f"{capital(one.name)}: {amount} in all, at {one.rate_as_printed}{marks}.", 2, 2)
        for sentence in _yearly(one, us=us):
            yield from wrapped(sentence, 4)
    yield from wrapped(
        f"Mix, water and product together: {tank_words(sheet.mix_l, us=us)} in all, at {sheet.carrier_as_printed}.",
        2,
        2,
    )


def steps(sheet: MixSheet) -> list[str]:
    """What to do, in order. Half full, add, shake, top up, shake: common practice, no source."""
    us, first = sheet.units == "us", sheet.loads[0]
    alike = len(sheet.loads) == 1
    by_hand = sheet.tank_l <= SHAKEN_UP_TO_L
    stir = "close the tank and shake" if by_hand else "let the agitator mix it in"
    again = "close it and shake again" if by_hand else "let the agitator go on"
    which = "" if alike else " for the first load"
    told = [
        f"Put on the protective gear that the label names.{_on_file(sheet.gear)}",
        "Read the label's own mixing directions: they come before these.",
        f"Fill the tank half{which}: {tank_words(first.mix_l / 2, us=us)} of clean water.",
    ]
    measures = {one.name: one.measure for one in sheet.products}
    for product in first.products:
        amount = _measured(product, measures[product.name], sheet.mark_words, us=us)
        told.append(f"Measure {amount} of {product.name}, with a measure kept for it alone; add it, {stir}.")
    told += [
        f"Top up with water to {tank_words(first.mix_l, us=us)}, {again}.",
        (
            f"Spray {area_words(first.covers_m2, us=us)} with it, evenly: leaves wet, not running off (common "
            "practice, no source)."
        ),
    ]
    if sum(load.count for load in sheet.loads) > 1:
        told.append("Do the same with each further load" + ("." if alike else ", with the amounts of its own."))
    record = ": 'forecast record application'" if sheet.where else ""
    told += [
        "Rinse tank and measure, and put the rinse water on turf that the label permits; never down a drain.",
        (
            "Keep people and pets off until the spray has dried, or for as long as the label says."
            f"{_on_file(sheet.keep_off)}"
        ),
        f"Write down what was used, where and when, with wind and temperature as read there{record}.",
    ]
    return told


def _on_file(words: str) -> str:
    return f" The label on file says: {words.rstrip('.')}." if words else ""


def amount_words(amount: float, measure: str, *, us: bool) -> str:
    """Product, rounded down to three figures: fluid ounces with millilitres beside, since measures show either."""
    metric = f"{_figures(amount)}{NBSP}{measure}"
    if amount >= 10_000:
        metric = f"{_figures(amount / 1000)}{NBSP}{'L' if measure == 'mL' else 'kg'}"
    if not us:
        return metric
    unit, size = ("fl oz", ML_PER_FL_OZ) if measure == "mL" else ("oz by weight", G_PER_OZ)
    return f"{_figures(amount / size)}{NBSP}{unit} ({metric})"


def tank_words(litres: float, *, us: bool) -> str:
    """Water or mix in a tank."""
    if not us:
        return f"{litres:.3g}{NBSP}L" if litres < 1000 else f"{litres:,.0f}{NBSP}L"
    gallons = litres / L_PER_US_GAL
    if gallons < 0.1:
        return f"{gallons * 128:.3g}{NBSP}fl oz of mix"
    return f"{gallons:.3g}{NBSP}gal" if gallons < 1000 else f"{gallons:,.0f}{NBSP}gal"


def _figures(value: float) -> str:
    """Three figures, or all whole ones, rounded down; the hair keeps 10 from becoming 9.99 by a float's rounding."""
    places = min(max(2 - math.floor(math.log10(value)), 0), 9)
    down = math.floor(value * 10**places * (1 + 1e-9)) / 10**places
    text = f"{down:,.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _measured(product: LoadProduct, measure: str, mark: str, *, us: bool) -> str:
    if product.marks is None:
        return amount_words(product.exact, measure, us=us)
    marks = f"{product.marks} mark{'' if product.marks == 1 else 's'} of {mark}"
    return f"{marks}, {amount_words(product.measured, measure, us=us)}"


def _numbered(loads: tuple[MixLoad, ...]) -> Iterator[tuple[int, MixLoad]]:
    for load, end in zip(loads, itertools.accumulate(one.count for one in loads), strict=True):
        yield end - load.count + 1, load


def _load(load: MixLoad, first: int, measures: dict[str, str], *, us: bool) -> str:
    which = f"Load {first}" if load.count == 1 else f"Loads {first} to {first + load.count - 1}, each"
    products = ", ".join(
        f"{amount_words(one.measured, measures[one.name], us=us)} of {one.name}" for one in load.products
    )
    covers = area_words(load.covers_m2, us=us)
    return f"{which}: {products}, topped up to {tank_words(load.mix_l, us=us)}; covers {covers}."


def _yearly(one: MixProduct, *, us: bool) -> Iterator[str]:
    if one.times_a_year is None:
        return
    times = f"{one.times_a_year} such application{'' if one.times_a_year == 1 else 's'} a year"
    limit = f" ({one.most_per_year_as_printed} of product)" if one.most_per_year_as_printed else ""
    yield f"The label's yearly limits{limit} hold {times}."
    if one.left_this_year is not None:
        left = amount_words(one.left_this_year, one.measure, us=us) if one.left_this_year > 0 else "nothing"
        yield f"By the records {left} is left of them here before this one."
