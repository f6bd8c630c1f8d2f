"""The journal: what was applied and what was seen, added and never rewritten."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date, datetime

from forecast import records, tables
from forecast.clock import day_number
from forecast.config import Settings
from forecast.database import Database
from forecast.errors import DataError
from forecast.schedule.cover import deviations
from forecast.schedule.label import Label
from forecast.turf import DISEASES, Area
from forecast.units import product_amount

NOTHING_SEEN = "nothing"


def add_application(
    settings: Settings,
    database: Database,
    entry: records.Entry,
    label_key: str,
    diseases: Sequence[str],
    condition: str,
    amount: str | None,
    now: datetime,
) -> tuple[int, tuple[str, ...]]:
    """Add an application as it happened; what departs from the label is recorded too, and named.

    Raises:
        DataError: no such area, label, disease or amount, or it lies in the future.
    """
    area = _area_named(settings, entry.area_id)
    label = {label.key: label for label in settings.labels}.get(label_key)
    if label is None:
        known = ", ".join(label.key for label in settings.labels)
        raise DataError(f"there is no label {label_key!r} in labels.toml", hint=f"known are {known or 'none'}")
    for disease in diseases:
        _check_disease(disease)
    _check_past(entry, now)
    product = None if amount is None else _product(amount, label)
    made = [
        a
        for a in records.applications(database, now.strftime(records.UTC_FORM))
        if a.area_id == area.area_id and a.record_id != entry.amends
    ]
    found = deviations(
        label,
        made,
        diseases=diseases,
        condition=condition,
        grass=area.grass,
        day=day_number(entry.happened.date()),
        year_start=day_number(date(entry.happened.year, 1, 1)),
        amount_per_m2=None if product is None else product / area.size_m2,
    )
    number = records.record_application(
        database,
        entry,
        label,
        diseases,
        condition=condition,
        grass=area.grass,
        size_m2=area.size_m2,
        amount=product,
        deviations=found,
        now=now,
    )
    return number, found


def add_scouting(
    settings: Settings,
    database: Database,
    entry: records.Entry,
    saw: str,
    now: datetime,
    *,
    sure: bool,
    severity_pct: float | None,
) -> int:
    """Add a look at an area; ``nothing`` says that nothing was seen.

    Raises:
        DataError: no such area or disease, or it lies in the future.
    """
    _area_named(settings, entry.area_id)
    _check_past(entry, now)
    if saw != NOTHING_SEEN:
        _check_disease(saw)
    elif severity_pct:
        raise DataError("nothing seen has no severity", hint="leave --severity-pct out, or name what was seen")
    disease = "" if saw == NOTHING_SEEN else saw
    return records.record_scouting(database, entry, disease, sure=sure, severity_pct=severity_pct, now=now)


def rows(database: Database) -> list[dict[str, object]]:
    """Every record as plain rows, in order of kind and number."""
    found: list[dict[str, object]] = []
    for row in records.rows_known(database, tables.APPLICATIONS):
        diseases = json.loads(row["diseases_json"])
        amount = (
            "" if row["amount"] is None else f" with {row['amount']:.0f} {json.loads(row['label_json'])['measure']}"
        )
        plain = {name: value for name, value in row.items() if not name.endswith("_json")}
        lists = {"diseases": diseases, "deviations": json.loads(row["deviations_json"])}
        found.append(
            {"kind": "application", "what": f"{row['label_key']}{amount} against {', '.join(diseases)}"} | plain | lists
        )
    for row in records.rows_known(database, tables.SCOUTINGS):
        doubt = ", not sure" if row["disease"] and not row["sure"] else ""
        found.append({"kind": "scouting", "what": f"saw {row['disease'] or NOTHING_SEEN}{doubt}"} | dict(row))
    return found


def _area_named(settings: Settings, area_id: str) -> Area:
    for area in settings.areas:
        if area.area_id == area_id:
            return area
    known = ", ".join(area.area_id for area in settings.areas)
    raise DataError(f"there is no area {area_id!r}", hint=f"known are {known}")


def _check_disease(key: str) -> None:
    if key not in DISEASES:
        raise DataError(f"{key!r} is no disease known here", hint=f"known are {', '.join(DISEASES)}")


def _check_past(entry: records.Entry, now: datetime) -> None:
    """A plan never becomes a record by itself: what lies ahead has not happened."""
    if entry.happened > now:
        raise DataError(f"{entry.happened:%Y-%m-%d %H:%M} lies in the future", hint="record it once it has been done")


def _product(text: str, label: Label) -> float:
    """A typed amount in the label's measure."""
    try:
        measure, amount = product_amount(text)
    except ValueError as error:
        raise DataError(str(error), hint="write a number and a unit, such as '10 fl oz' or '300 mL'") from error
    if measure != label.measure:
        raise DataError(
            f"{text!r} is in {measure}, the label of {label.name} is in {label.measure}",
            hint="volume and weight do not turn into each other without a density",
        )
    return amount
