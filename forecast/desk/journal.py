"""The journal: what was applied and what was seen, added and never rewritten."""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from types import MappingProxyType

from forecast import records, tables
from forecast.amounts import product_amount
from forecast.clock import day_number
from forecast.config import Settings
from forecast.database import Database
from forecast.errors import DataError
from forecast.guide.lookalikes import LOOKALIKES, UNCLEAR
from forecast.report.words import NBSP, height_words, product_words
from forecast.schedule.cover import deviations
from forecast.schedule.label import Label
from forecast.schedule.legality import spot_of
from forecast.turf import DISEASES, Area
from forecast.units import M_PER_FT, MM_PER_IN

NOTHING_SEEN = "nothing"
NO_DISEASE = (*LOOKALIKES, *UNCLEAR)  # what can be seen and never counts as a disease
OLDEST_RECORD_YEARS = 30  # house choice: an older date is a slip of the keyboard
WIDEST_PATCH_MM = 100_000.0  # house choice: more is a slip of the unit
_LENGTH_MM = MappingProxyType({"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_IN, "ft": 1000 * M_PER_FT})


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
    area = area_named(settings, entry.area_id)
    entry = replace(entry, area_id=area.area_id)
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
        spot=spot_of(area),
        day=day_number(entry.happened.date()),
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
    saw: Sequence[str],
    now: datetime,
    *,
    sure: bool,
    severity_pct: float | None,
    patch_size: str | None = None,
    threads: bool | None = None,
    lab: str = "",
) -> int:
    """Add a look at an area.

    Args:
        settings: the workspace's.
        database: the workspace's.
        entry: who, where, when.
        saw: ``nothing``; or at most one disease, with any look-alikes and unclear findings beside it.
        now: the moment of recording.
        sure: whether the diagnosis is sure.
        severity_pct: share of the area affected.
        patch_size: how wide a usual patch is, such as ``12 in``.
        threads: whether white threads stood in the dew; None where nobody looked for them.
        lab: who was sent a sample.

    Raises:
        DataError: no such area, disease or look-alike, it does not fit together, or it lies in the future.
    """
    entry = replace(entry, area_id=area_named(settings, entry.area_id).area_id)
    _check_past(entry, now)
    disease, look_alikes = _finding(saw)
    nothing = not disease and not look_alikes
    if severity_pct is not None and not math.isfinite(severity_pct):
        raise DataError("the severity is no number", hint="give the share of the area affected, 0 to 100")
    if nothing and severity_pct:
        raise DataError("nothing seen has no severity", hint="leave --severity-pct out, or name what was seen")
    if nothing and patch_size is not None:
        raise DataError("nothing seen has no patch size", hint="leave --patch-size out, or name what was seen")
    if nothing and threads:
        raise DataError(
            "white threads are something seen", hint="name it: a disease, --saw spider_webs, or --saw unknown"
        )
    details = records.Details(look_alikes, None if patch_size is None else _length_mm(patch_size), threads, lab.strip())
    return records.record_scouting(
        database, entry, disease, sure=sure, severity_pct=severity_pct, now=now, details=details
    )


def add_lab_result(
    database: Database,
    record_id: int,
    found: Sequence[str],
    on: date,
    now: datetime,
    *,
    today: date,
    words: str = "",
    lab: str = "",
) -> int:
    """Amend a scouting record with a lab's answer.

    Args:
        database: the workspace's.
        record_id: the scouting record of the sample.
        found: as ``saw`` of :func:`add_scouting`.
        on: the day the answer came.
        now: the moment of recording.
        today: the site's date at that moment.
        words: the lab's own; left out, the names of what was found.
        lab: who answered; left out, as on the record.

    Raises:
        DataError: no such record, disease or look-alike, it cannot be amended, or the day lies in the future or before
            the look.
    """
    if on > today:
        raise DataError(f"{on} lies in the future", hint="record the result once it has come")
    disease, look_alikes = _finding(found)
    return records.record_lab_result(
        database,
        record_id,
        disease=disease,
        look_alikes=look_alikes,
        words=words.strip() or ", ".join(found),
        on=on,
        lab=lab.strip(),
        now=now,
    )


def _finding(saw: Sequence[str]) -> tuple[str, tuple[str, ...]]:
    """What was seen as one disease, empty for none, and what is no disease."""
    for key in saw:
        if key not in (NOTHING_SEEN, *DISEASES, *NO_DISEASE):
            near = difflib.get_close_matches(key, (NOTHING_SEEN, *DISEASES, *NO_DISEASE), n=1)
            raise DataError(
                f"{key!r} is no disease and no look-alike known here{f'; did you mean {near[0]!r}?' if near else ''}",
                hint=f"write '{NOTHING_SEEN}'; or a disease: {', '.join(DISEASES)}; or what is none: "
                f"{', '.join(NO_DISEASE)}",
            )
    diseases = list(dict.fromkeys(key for key in saw if key in DISEASES))
    look_alikes = tuple(dict.fromkeys(key for key in saw if key in NO_DISEASE))
    if NOTHING_SEEN in saw and (diseases or look_alikes):
        raise DataError("nothing and something were seen at once", hint=f"leave out {NOTHING_SEEN}, or the rest")
    if len(diseases) > 1:
        raise DataError(
            f"{' and '.join(diseases)} are two diseases", hint="make a record of each, since each has its own severity"
        )
    return (diseases[0] if diseases else ""), look_alikes


def _length_mm(text: str) -> float:
    """A typed length in mm, to a tenth."""
    number, _, unit = text.strip().partition(" ")
    try:
        length_mm = float(number) * _LENGTH_MM.get(unit.strip(), math.nan)
    except ValueError:
        length_mm = math.nan
    if not 0 < length_mm <= WIDEST_PATCH_MM:
        raise DataError(
            f"{text!r} is no size of a patch",
            hint=f"write a number and a unit, such as '12 in' or '30 cm'; units are {', '.join(_LENGTH_MM)}",
        )
    return round(length_mm, 1)


def rows(database: Database, *, us: bool = False) -> list[dict[str, object]]:
    """Every record as plain rows, in order of kind and number; ``what`` in words by the reader's units."""
    found: list[dict[str, object]] = []
    for row in records.rows_known(database, tables.APPLICATIONS):
        diseases = json.loads(row["diseases_json"])
        measure = json.loads(row["label_json"])["measure"]
        amount = "" if row["amount"] is None else f" with {product_words(row['amount'], measure, us=us)}"
        plain = {name: value for name, value in row.items() if not name.endswith("_json")}
        lists = {"diseases": diseases, "deviations": json.loads(row["deviations_json"])}
        found.append(
            {"kind": "application", "what": f"{row['label_key']}{amount} against {', '.join(diseases)}"} | plain | lists
        )
    for row in records.rows_known(database, tables.SCOUTINGS):
        plain = {name: value for name, value in row.items() if not name.endswith("_json")}
        look_alikes = json.loads(row["look_alikes_json"])
        found.append(
            {"kind": "scouting", "what": _seen_words(plain, look_alikes, us=us)} | plain | {"look_alikes": look_alikes}
        )
    return found


def _seen_words(row: Mapping[str, object], look_alikes: Sequence[str], *, us: bool) -> str:
    """What a scouting record says, in one line."""
    named = [str(row["disease"])] if row["disease"] else []
    parts = [f"saw {' and '.join([*named, *look_alikes]) or NOTHING_SEEN}"]
    if row["disease"] and not row["sure"]:
        parts.append("not sure")
    if look_alikes and not row["disease"]:
        parts.append("no sighting of a disease")
    if row["severity_pct"] is not None:
        parts.append(f"on {row['severity_pct']:g}{NBSP}% of the area")
    if isinstance(row["patch_across_mm"], float):
        parts.append(f"patches {height_words(row['patch_across_mm'], us=us)} across")
    if row["threads_at_dawn"] is not None:
        parts.append("white threads at dawn" if row["threads_at_dawn"] else "no white threads at dawn")
    if row["lab_result"]:
        parts.append(f"{row['lab']} found on {row['lab_result_on']}: {row['lab_result']}")
    elif row["lab"]:
        parts.append(f"sample sent to {row['lab']}")
    return ", ".join(parts)


def area_named(settings: Settings, text: str) -> Area:
    """The area of that id or, where only one has it, of that name; capitals do not matter in a name.

    Raises:
        DataError: there is none, or several have the name.
    """
    by_id = {area.area_id: area for area in settings.areas}
    if text in by_id:
        return by_id[text]
    named = [area for area in settings.areas if area.area_name.casefold() == text.strip().casefold()]
    if len(named) == 1:
        return named[0]
    if named:
        which = "; ".join(f"{area.area_id} at {area.property_name}" for area in named)
        raise DataError(f"{len(named)} areas are called {text!r}", hint=f"give the id of one: {which}")
    near = difflib.get_close_matches(text, [*by_id, *(area.area_name for area in settings.areas)], 1)
    did_you = f"did you mean {near[0]!r}? " if near else ""
    raise DataError(f"there is no area {text!r}", hint=f"{did_you}known are {', '.join(by_id)}")


def _check_disease(key: str) -> None:
    if key not in DISEASES:
        raise DataError(f"{key!r} is no disease known here", hint=f"known are {', '.join(DISEASES)}")


def _check_past(entry: records.Entry, now: datetime) -> None:
    """A plan never becomes a record by itself: what lies ahead has not happened."""
    if entry.happened > now:
        raise DataError(f"{entry.happened:%Y-%m-%d %H:%M} lies in the future", hint="record it once it has been done")
    if entry.happened.year < now.year - OLDEST_RECORD_YEARS:
        raise DataError(f"{entry.happened:%Y-%m-%d} is long ago", hint="check the year that was typed")


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
