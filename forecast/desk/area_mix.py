"""The mixing sheet of an area: by its size, a label on file, and what the records leave of the label's limits."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime

from forecast import records
from forecast.clock import date_of, day_number, day_words
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.journal import area_named
from forecast.desk.mixing import OnFile, Product, Tank, mix_sheet
from forecast.errors import DataError
from forecast.report.label_words import label_sentences
from forecast.report.mix import MixSheet, SurfacePart
from forecast.report.words import listed
from forecast.schedule.cover import Option, options
from forecast.schedule.label import Label
from forecast.schedule.legality import left_per_m2, spot_of
from forecast.turf import DISEASES, Area


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
    mark: tuple[str, float, str] | None = None,
    rate: tuple[str, float, str] | None = None,
    us: bool | None = None,
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
        mark: measure, size and words of the smallest division of the measure.
        rate: another rate of the label's row: measure, mL or g a m², and as printed.
        us: whether US units are printed; None for the workspace's.

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
        why = "; ".join(left_out) or "there is none"
        site = "site, soil_texture" if "properties.csv" in why else ""
        raise DataError(
            f"no label on file permits it on {area.area_name} now: {why}",
            hint=f"type what is asked for in properties.csv ({site})"
            if site
            else "a label that was mistyped is mended in labels.toml; nothing else makes it permitted",
        )
    now_first = [one for one in possible if one.legal_from <= day_number(today)] or list(possible)
    option = now_first[0]
    label = option.label
    room, _ = left_per_m2(label, ())
    rate_per_m2, printed = _rate(option, rate)
    product = Product(
        label.name,
        label.measure,
        rate_per_m2,
        printed,
        label.formulation,
        most_per_year_per_m2=room,
        most_per_year_as_printed=label.most_per_year_as_printed,
    )
    left = option.left_this_year_per_m2
    printed_us = settings.grounds.units == "us" if us is None else us
    notes = _why_this(option, wanted, condition, us=printed_us)
    if area.label == labels[0].key != label.key:
        notes = (_why_not_usual(labels[0], possible, left_out), *notes)
    if also:
        names = listed([one.name for one in also])
        notes = (f"Only {label.name} was checked against label and records, and not {names}.", *notes)
    return mix_sheet(
        (SurfacePart(f"{area.area_name}, as it is on file", area.size_m2),),
        (product, *also),
        Tank(
            label.carrier_l_per_m2,
            label.carrier_as_printed,
            settings.grounds.sprayer.litres if tank_l is None else tank_l,
            mark,
        ),
        us=printed_us,
        on_file=OnFile(
            f"{area.area_name}, {area.property_name}",
            _not_before(option, today),
            label.gear,
            label.keep_off,
            None if left is None else left * area.size_m2,
            notes,
            settings.grounds.invented,
        ),
    )


def _rate(option: Option, asked: tuple[str, float, str] | None) -> tuple[float, str]:
    """The rate asked for where the label's row permits it; the row's own rate where none is.

    Raises:
        DataError: it lies outside the row, or is of another measure.
    """
    use = option.use
    if asked is None:
        return use.rate_per_m2, use.rate_as_printed
    measure, per_m2, printed = asked
    if measure != option.label.measure or not use.rate_per_m2 * (1 - 1e-9) <= per_m2 <= use.highest_per_m2 * (1 + 1e-9):
        raise DataError(
            f"{printed} lies outside the label's row of {option.label.name}: {use.rate_as_printed}",
            hint="a plan stays within the label; what was done otherwise is recorded, not planned",
        )
    left = option.left_this_year_per_m2
    if left is not None and per_m2 > left * (1 + 1e-9):
        raise DataError(
            f"{printed} would pass what yearly limits leave here", hint="take a lower rate of the label's row"
        )
    return per_m2, printed


def _not_before(option: Option, today: date) -> str:
    if option.legal_from <= day_number(today):
        return ""
    first = date_of(option.legal_from)
    year = "" if first.year == today.year else f" {first.year}"
    return f"{option.label.name} is permitted here from {day_words(first)}{year} on: {option.waits_for}."


def _why_not_usual(usual: Label, possible: Sequence[Option], left_out: Sequence[str]) -> str:
    """Why the label used by habit is not the one proposed."""
    why = next((one for one in left_out if one.startswith(f"{usual.name}:")), "")
    waits = next((one.waits_for for one in possible if one.label.key == usual.key), "")
    return f"Not {usual.name}, which is used here: {why.removeprefix(f'{usual.name}: ') or waits}."


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
            else f"no label has a row for {area.grass} under the condition {condition}",
        )
    return possible[0]


def _why_this(option: Option, disease: str, condition: str, *, us: bool) -> tuple[str, ...]:
    label = option.label
    row = f"By the {condition} row of {label.name} ({label.registration_number}) for {DISEASES[disease].name}"
    told = f"{row}, label of {label.label_date}. A plan never becomes a record by itself."
    return (told, *label_sentences(option, us=us))
