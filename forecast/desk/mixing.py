"""The mixing sheet: of a measured surface and a typed rate, or of an area by its label and records."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from forecast import __version__
from forecast.errors import DataError
from forecast.report.mix import (
    MIX_SCHEMA,
    SHORT_SHARE,
    LoadProduct,
    MixLoad,
    MixProduct,
    MixSheet,
    SurfacePart,
    amount_words,
)
from forecast.report.words import CAUTIONS
from forecast.schedule.label import FULL_RATE_SHARE
from forecast.schedule.mixing import FORMULATIONS, MOST_PARTNERS, marks_down, place_in_order
from forecast.schedule.quantity import quantities

AREA_WRONG = (
    "The dose follows the surface: one measured a tenth too small gets a tenth too little, and the other way round."
)
JAR = (
    "Before these go into one tank for the first time, put them into a jar in the same order and shares, a pint in "
    "all, and look after fifteen minutes for clumps, layers or heat. Every label has to permit the turf and the other "
    "products."
)


@dataclass(frozen=True, slots=True)
class Product:
    """A product to be mixed.

    Attributes:
        name: as people call it.
        measure: ``mL`` or ``g``.
        rate_per_m2: in the measure.
        rate_as_printed: in the label's own words.
        formulation: key of :data:`forecast.schedule.mixing.FORMULATIONS`; empty where unknown.
        most_per_year_per_m2: the label's limit; None where none is known.
        most_per_year_as_printed: likewise, in words.
    """

    name: str
    measure: str
    rate_per_m2: float
    rate_as_printed: str
    formulation: str = ""
    most_per_year_per_m2: float | None = None
    most_per_year_as_printed: str = ""


@dataclass(frozen=True, slots=True)
class Tank:
    """What is sprayed with.

    Attributes:
        carrier_l_per_m2: mix on a surface.
        carrier_as_printed: the same in the label's own words.
        tank_l: what the tank holds.
        mark: measure (mL or g), size and words of the smallest division of the measure; None where none was given.
    """

    carrier_l_per_m2: float
    carrier_as_printed: str
    tank_l: float
    mark: tuple[str, float, str] | None = None


@dataclass(frozen=True, slots=True)
class OnFile:
    """What a workspace knows beside the figures; ``not_before`` and ``notes`` are sentences."""

    where: str = ""
    not_before: str = ""
    gear: str = ""
    keep_off: str = ""
    left_this_year: float | None = None
    notes: tuple[str, ...] = ()
    invented: bool = False


def mix_sheet(
    parts: Sequence[SurfacePart], products: Sequence[Product], tank: Tank, *, us: bool, on_file: OnFile = OnFile()
) -> MixSheet:
    """The sheet for a surface.

    Args:
        parts: of the surface; what is taken off is below zero.
        products: the first one is what the mix is for; they are put in order of mixing.
        tank: what is sprayed with.
        us: whether US units are printed.
        on_file: what the label on file and the records say.

    Raises:
        DataError: nothing is left of the surface, a rate is above its yearly limit, the measure does not fit, or too
            many products share a tank.
    """
    size_m2 = sum(part.size_m2 for part in parts)
    if size_m2 <= 0:
        raise DataError("nothing is left of the surface", hint="what is taken off must be less than the rest")
    if len(products) > MOST_PARTNERS:
        raise DataError(f"more than {MOST_PARTNERS} products in one tank", hint="spray them apart")
    names = [one.name for one in products]
    if len(set(names)) < len(names):
        raise DataError("two products have the same name", hint="give each its own")
    for one in products:
        limit = one.most_per_year_per_m2
        if limit is not None and one.rate_per_m2 > limit * (1 + 1e-9):
            raise DataError(
                f"the rate of {one.name} is above its yearly limit of {one.most_per_year_as_printed}",
                hint="read both again on the label",
            )
    brought = sum(one.rate_per_m2 for one in products if one.measure == "mL") / 1000  # L a m²
    if brought >= tank.carrier_l_per_m2:
        raise DataError(
            f"the products alone are more than {tank.carrier_as_printed} of mix",
            hint="read rate and mix on the label again",
        )
    ordered = sorted(products, key=_place)
    loads = _loads(size_m2, ordered, tank)
    return MixSheet(
        MIX_SCHEMA,
        __version__,
        "us" if us else "si",
        on_file.invented,
        on_file.where,
        on_file.not_before,
        tuple(parts),
        size_m2,
        tank.carrier_as_printed,
        size_m2 * tank.carrier_l_per_m2,
        tank.tank_l,
        None if tank.mark is None else tank.mark[1],
        "" if tank.mark is None else tank.mark[2],
        tuple(_told(one, size_m2, loads, on_file.left_this_year if one is products[0] else None) for one in ordered),
        loads,
        (*on_file.notes, *_notes(ordered, loads, tank, us=us)),
        on_file.gear,
        on_file.keep_off,
        CAUTIONS,
    )


def _place(product: Product) -> int:
    """Unknown ones go where most are, with the suspensions; the sheet says that it is not known."""
    return place_in_order(product.formulation or "SC")


def _told(one: Product, size_m2: float, loads: Sequence[MixLoad], left: float | None) -> MixProduct:
    kind = f"{one.formulation}, {FORMULATIONS[one.formulation][1]}" if one.formulation else ""
    limit = one.most_per_year_per_m2
    return MixProduct(
        one.name,
        kind,
        one.rate_as_printed,
        one.measure,
        one.rate_per_m2 * size_m2,
        one.most_per_year_as_printed,
        None if limit is None else math.floor(limit / one.rate_per_m2 * (1 + 1e-9)),
        left,
        sum(load.count * part.measured for load in loads for part in load.products if part.name == one.name),
    )


def _loads(size_m2: float, products: Sequence[Product], tank: Tank) -> tuple[MixLoad, ...]:
    taken = quantities(size_m2, products[0].rate_per_m2, tank.carrier_l_per_m2, tank.tank_l)
    made = [
        MixLoad(1, load.mix_l, load.covers_m2, tuple(_measured(one, load.covers_m2, tank) for one in products))
        for load in taken.loads
    ]
    return tuple(
        MixLoad(len(list(alike)), one.mix_l, one.covers_m2, one.products) for one, alike in itertools.groupby(made)
    )


def _measured(one: Product, covers_m2: float, tank: Tank) -> LoadProduct:
    exact = one.rate_per_m2 * covers_m2
    if tank.mark is None or tank.mark[0] != one.measure:
        return LoadProduct(one.name, exact, None, exact)
    marks = marks_down(exact, tank.mark[1])
    return LoadProduct(one.name, exact, marks, marks * tank.mark[1])


def _notes(products: Sequence[Product], loads: Sequence[MixLoad], tank: Tank, *, us: bool) -> list[str]:
    told = [AREA_WRONG]
    measures = {one.name: one.measure for one in products}
    if tank.mark is not None and all(one.measure != tank.mark[0] for one in products):
        raise DataError(
            f"the measure is marked in {tank.mark[0]}, the rates are in {products[0].measure}",
            hint="volume and weight do not turn into each other without a density: take a measure of the other kind",
        )
    number = 0
    for load in loads:
        which = f"load {number + 1}" if load.count == 1 else f"loads {number + 1} to {number + load.count}"
        number += load.count
        for one in load.products:
            short = 1 - one.measured / one.exact
            if one.marks == 0:
                raise DataError(
                    f"one mark of the measure is more than {which} takes of {one.name}: "
                    f"{amount_words(one.exact, measures[one.name], us=us)}",
                    hint="take a finer measure, or mix a larger load",
                )
            if short > SHORT_SHARE:
                told.append(
                    f"In {which} whole marks give {round(100 * short)} % less {one.name} than its rate, since one mark "
                    f"more would pass it.{_unprotected(one)} Take a finer measure."
                )
    told = list(dict.fromkeys(told))
    if len(products) > 1:
        if any(not one.formulation for one in products):
            told.append("A formulation was not given; the order of mixing holds only where the labels agree with it.")
        told.append(JAR)
    return told


def _unprotected(one: LoadProduct) -> str:
    return " So little is not counted as protection." if one.measured < FULL_RATE_SHARE * one.exact else ""
