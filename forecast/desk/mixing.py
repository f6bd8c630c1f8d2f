"""The mixing sheet: of a measured surface and a typed rate, or of an area by its label and records."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from forecast import __version__, records
from forecast.clock import date_of, day_number, day_words
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.journal import area_named
from forecast.errors import DataError
from forecast.report.label_words import label_sentences
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
from forecast.schedule.cover import Option, options
from forecast.schedule.label import FULL_RATE_SHARE, Label
from forecast.schedule.legality import spot_of
from forecast.schedule.mixing import FORMULATIONS, MOST_PARTNERS, marks_down, place_in_order
from forecast.schedule.quantity import quantities
from forecast.turf import DISEASES, Area

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
        mark: measure (mL or g) and size of the smallest division of the measure; None where none was given.
    """

    carrier_l_per_m2: float
    carrier_as_printed: str
    tank_l: float
    mark: tuple[str, float] | None = None


@dataclass(frozen=True, slots=True)
class OnFile:
    """What a workspace knows beside the figures."""

    where: str = ""
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
    ordered = sorted(products, key=_place)
    loads = _loads(size_m2, ordered, tank)
    return MixSheet(
        MIX_SCHEMA,
        __version__,
        "us" if us else "si",
        on_file.invented,
        on_file.where,
        tuple(parts),
        size_m2,
        tank.carrier_as_printed,
        size_m2 * tank.carrier_l_per_m2,
        tank.tank_l,
        None if tank.mark is None else tank.mark[1],
        tuple(_told(one, size_m2, on_file.left_this_year if one is products[0] else None) for one in ordered),
        loads,
        (*on_file.notes, *_notes(ordered, loads, tank, us=us)),
        on_file.gear,
        on_file.keep_off,
        CAUTIONS,
    )


def _place(product: Product) -> int:
    """Unknown ones go where most are, with the suspensions; the sheet says that it is not known."""
    return place_in_order(product.formulation or "SC")


def _told(one: Product, size_m2: float, left: float | None) -> MixProduct:
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
    for load in loads:
        for one in load.products:
            short = 1 - one.measured / one.exact
            if one.marks == 0:
                raise DataError(
                    f"one mark of the measure is more than a load takes of {one.name}: "
                    f"{amount_words(one.exact, measures[one.name], us=us)}",
                    hint="take a finer measure, or mix a larger load",
                )
            if short > SHORT_SHARE:
                lost = f"Whole marks give {round(100 * short)} % less {one.name} than its rate"
                lasts = " and is not counted as protection" if one.measured < FULL_RATE_SHARE * one.exact else ""
                told.append(f"{lost}, since rounding up would pass it{lasts}: take a finer measure.")
    told = list(dict.fromkeys(told))
    if len(products) > 1:
        if any(not one.formulation for one in products):
            told.append("A formulation was not given; the order of mixing holds only where the labels agree with it.")
        told.append(JAR)
    return told


def area_mix(
    settings: Settings,
    database: Database,
    now: datetime,
    area_id: str,
    *,
    disease: str | None = None,
    label_key: str | None = None,
    condition: str = "preventive",
    also: Sequence[Product] = (),
    tank_l: float | None = None,
    mark: tuple[str, float] | None = None,
) -> MixSheet:
    """The sheet for an area, by a label on file and what the records leave of its limits.

    Args:
        settings: the workspace's.
        database: the workspace's.
        now: aware.
        area_id: which area, by id or name.
        disease: key; None for the first one of the label's rows for the area's grass that has been diagnosed there.
        label_key: which label; None for the one used by habit, else the first that permits it.
        condition: of the label's row.
        also: other products of the tank.
        tank_l: another tank than the workspace's.
        mark: measure and size of the smallest division of the measure.

    Raises:
        DataError: there is no such area, label or disease, or no label permits the application now.
    """
    area = area_named(settings, area_id)
    today = now.astimezone(settings.grounds.zone).date()
    labels = _labels(settings, area, label_key)
    wanted = _disease(area, labels, disease, condition)
    applied = [
        one
        for one in records.applications(database, now.astimezone(UTC).strftime(records.UTC_FORM))
        if one.area_id == area.area_id
    ]
    possible, left_out = options(
        labels,
        applied,
        disease=wanted,
        spot=spot_of(area),
        today=day_number(today),
        condition=condition,
    )
    if not possible:
        raise DataError(
            f"no label on file permits it on {area.area_name} now: {'; '.join(left_out) or 'there is none'}",
            hint="what was done already is recorded with 'forecast record application'",
        )
    option = min(possible, key=lambda one: one.legal_from > day_number(today))
    label, use = option.label, option.use
    product = Product(
        label.name,
        label.measure,
        use.rate_per_m2,
        use.rate_as_printed,
        label.formulation,
        most_per_year_per_m2=label.most_per_year_per_m2,
        most_per_year_as_printed=label.most_per_year_as_printed,
    )
    left = option.left_this_year_per_m2
    return mix_sheet(
        (SurfacePart(f"{area.area_name}, as it is on file", area.size_m2),),
        (product, *also),
        Tank(
            label.carrier_l_per_m2,
            label.carrier_as_printed,
            settings.grounds.sprayer.litres if tank_l is None else tank_l,
            mark,
        ),
        us=settings.grounds.units == "us",
        on_file=OnFile(
            f"{area.area_name}, {area.property_name}",
            label.gear,
            label.keep_off,
            None if left is None else left * area.size_m2,
            _why_this(option, wanted, condition, today, us=settings.grounds.units == "us"),
            settings.grounds.invented,
        ),
    )


def _labels(settings: Settings, area: Area, label_key: str | None) -> tuple[Label, ...]:
    """The label asked for; else all of them, the one used by habit first."""
    if label_key is None:
        return tuple(sorted(settings.labels, key=lambda one: one.key != area.label))
    found = tuple(one for one in settings.labels if one.key == label_key)
    if not found:
        known = ", ".join(label.key for label in settings.labels)
        raise DataError(f"there is no label {label_key!r} in labels.toml", hint=f"known are {known or 'none'}")
    return found


def _disease(area: Area, labels: Sequence[Label], disease: str | None, condition: str) -> str:
    if disease is not None:
        if disease not in DISEASES:
            raise DataError(f"{disease!r} is no disease known here", hint=f"known are {', '.join(DISEASES)}")
        return disease
    listed = [
        use.disease
        for label in labels
        for use in label.uses
        if area.grass in use.grasses and use.condition == condition
    ]
    possible = [one for one in dict.fromkeys(listed) if one in area.diseases_had] or list(dict.fromkeys(listed))
    if len(possible) != 1:
        raise DataError(
            f"the labels on file list {len(possible) or 'no'} diseases for {area.area_name}",
            hint=f"name one with --disease: {', '.join(possible)}"
            if possible
            else "labels.toml has no row for its grass",
        )
    return possible[0]


def _why_this(option: Option, disease: str, condition: str, today: date, *, us: bool) -> tuple[str, ...]:
    label = option.label
    row = f"By the {condition} row of {label.name} ({label.registration_number}) for {DISEASES[disease].name}"
    told = [f"{row}, label of {label.label_date}. A plan never becomes a record by itself."]
    if option.legal_from > day_number(today):
        first = day_words(date_of(option.legal_from))
        told.insert(0, f"Not before {first}: the label wants {option.use.least_days} days since the last application.")
    return (*told, *label_sentences(option, us=us))
