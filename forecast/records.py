"""Applications and scouting: append-only; a mistake is amended by a later record, never rewritten."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa

from forecast.clock import day_number
from forecast.database import Database
from forecast.errors import DataError
from forecast.schedule.label import FULL_RATE_SHARE, Application, Brought, Ingredient, Label, Sighting
from forecast.tables import APPLICATIONS, SCOUTINGS

UTC_FORM = "%Y-%m-%dT%H:%M:%SZ"


@dataclass(frozen=True, slots=True)
class Entry:
    """What every record holds.

    Attributes:
        area_id: where.
        happened: when it was done or seen, with a zone.
        by_whom: who did or saw it.
        note: free words.
        amends: number of the record that this one takes the place of.
    """

    area_id: str
    happened: datetime
    by_whom: str = ""
    note: str = ""
    amends: int | None = None


@dataclass(frozen=True, slots=True)
class Details:
    """What a look at an area can tell beside the disease.

    Attributes:
        look_alikes: what was seen that is no disease here, keys of
            :data:`forecast.guide.lookalikes.LOOKALIKES` or of :data:`forecast.guide.lookalikes.UNCLEAR`.
        patch_across_mm: how wide a usual patch is; None where it was not written down.
        threads_at_dawn: whether white threads stood in the dew; None where nobody looked for them.
        lab: who was sent a sample; empty for nobody.
    """

    look_alikes: tuple[str, ...] = ()
    patch_across_mm: float | None = None
    threads_at_dawn: bool | None = None
    lab: str = ""


def record_application(
    database: Database,
    entry: Entry,
    label: Label,
    diseases: Sequence[str],
    *,
    condition: str,
    grass: str,
    size_m2: float,
    amount: float | None,
    now: datetime,
    deviations: Sequence[str] = (),
) -> int:
    """Add an application.

    Args:
        database: where to.
        entry: who, where, when.
        label: as it stands now; kept with the record.
        diseases: keys of the diseases it was made against.
        condition: the label's row it was made by, such as ``preventive``.
        grass: the area's grass at the time.
        size_m2: treated surface.
        amount: product in the label's measure, mL or g, over the whole surface; None where unknown.
        now: the moment of recording, UTC.
        deviations: where it departs from the label, in words.

    Returns:
        The record's number.
    """
    return _insert(
        database,
        APPLICATIONS,
        entry,
        now,
        label_key=label.key,
        label_json=json.dumps(asdict(label), default=str, sort_keys=True),
        diseases_json=json.dumps(list(diseases)),
        condition=condition,
        grass=grass,
        size_m2=size_m2,
        amount=amount,
        deviations_json=json.dumps(list(deviations)),
    )


def record_scouting(
    database: Database,
    entry: Entry,
    disease: str,
    *,
    sure: bool,
    severity_pct: float | None,
    now: datetime,
    details: Details = Details(),
) -> int:
    """Add a look at an area; an empty disease says that none was seen."""
    return _insert(
        database,
        SCOUTINGS,
        entry,
        now,
        disease=disease,
        sure=sure,
        severity_pct=severity_pct,
        look_alikes_json=json.dumps(list(details.look_alikes)),
        patch_across_mm=details.patch_across_mm,
        threads_at_dawn=details.threads_at_dawn,
        lab=details.lab,
    )


def record_lab_result(
    database: Database,
    record_id: int,
    *,
    disease: str,
    look_alikes: Sequence[str],
    words: str,
    on: date,
    lab: str,
    now: datetime,
) -> int:
    """Amend a scouting record with what a lab found; the rest stays as the scout wrote it, and the diagnosis is sure.

    Args:
        database: where to.
        record_id: the scouting record of the sample.
        disease: the disease found; empty for none.
        look_alikes: what else was found, keys of the guide.
        words: the lab's own.
        on: the date the answer came.
        lab: who answered; where it is empty the record has to say who was sent the sample.
        now: the moment of recording, UTC.

    Raises:
        DataError: there is no such record, it was taken back or amended, it names no lab, or the answer came before
            the look.
    """
    row = _row(database, SCOUTINGS, record_id)
    if row["void_reason"] is not None:
        raise DataError(f"scouting record {record_id} takes another back", hint="record the look anew, then its result")
    if not (lab or row["lab"]):
        raise DataError(
            f"scouting record {record_id} says of no sample that was sent", hint="name the lab with --lab NAME"
        )
    if on.isoformat() < row["happened_on"]:
        raise DataError(
            f"the result of {on} came before the look of {row['happened_on']}", hint="give the day on which it came"
        )
    values = {name: value for name, value in row.items() if name != "record_id"} | {
        "recorded_utc": now.strftime(UTC_FORM),
        "amends": record_id,
        "disease": disease,
        "sure": True,
        "look_alikes_json": json.dumps(list(look_alikes)),
        "lab": lab or row["lab"],
        "lab_result": words,
        "lab_result_on": on.isoformat(),
    }
    with database.writing() as connection:
        _check_amends(connection, SCOUTINGS, record_id, row["area_id"])
        return _number(connection.execute(sa.insert(SCOUTINGS).values(**values)))


def _row(database: Database, table: sa.Table, record_id: int) -> sa.RowMapping:
    with database.reading() as connection:
        row = connection.execute(sa.select(table).where(table.c.record_id == record_id)).mappings().first()
    if row is None:
        raise DataError(f"there is no {table.name} record {record_id}", hint="'forecast record list' shows them")
    return row


def void(database: Database, table: sa.Table, record_id: int, reason: str, now: datetime) -> int:
    """Take a record back with a reason; both stay readable.

    Raises:
        DataError: there is no such record, it has been amended already, or no reason is given.
    """
    if not reason.strip():
        raise DataError("a record is taken back with a reason", hint="say why with --reason")
    row = _row(database, table, record_id)
    values = {name: value for name, value in row.items() if name not in ("record_id", "recorded_utc")}
    values |= {"amends": record_id, "void_reason": reason, "recorded_utc": now.strftime(UTC_FORM)}
    with database.writing() as connection:
        _check_amends(connection, table, record_id, row["area_id"])
        return _number(connection.execute(sa.insert(table).values(**values)))


def _insert(database: Database, table: sa.Table, entry: Entry, now: datetime, **values: object) -> int:
    with database.writing() as connection:
        if entry.amends is not None:
            _check_amends(connection, table, entry.amends, entry.area_id)
        done = connection.execute(
            sa.insert(table).values(
                recorded_utc=now.strftime(UTC_FORM),
                area_id=entry.area_id,
                happened_utc=_utc(entry.happened),
                happened_on=entry.happened.date().isoformat(),
                by_whom=entry.by_whom,
                note=entry.note,
                amends=entry.amends,
                void_reason=None,
                **values,
            )
        )
        return _number(done)


def _number(done: sa.CursorResult[Any]) -> int:
    key = done.inserted_primary_key
    if key is None:
        raise RuntimeError("the database gave the new record no number")
    return int(key[0])


def _check_amends(connection: sa.Connection, table: sa.Table, record_id: int, area_id: str) -> None:
    row = connection.execute(sa.select(table.c.area_id).where(table.c.record_id == record_id)).first()
    if row is None:
        raise DataError(f"there is no {table.name} record {record_id}", hint="'forecast record list' shows them")
    if row.area_id != area_id:
        raise DataError(
            f"{table.name} record {record_id} is of area {row.area_id!r}, not {area_id!r}",
            hint="take it back with 'forecast record void' and record it anew",
        )
    later = connection.execute(sa.select(table.c.record_id).where(table.c.amends == record_id)).scalar()
    if later is not None:
        raise DataError(
            f"{table.name} record {record_id} has been amended by record {later}",
            hint=f"amend {later} instead",
        )


def _utc(moment: datetime) -> str:
    return (moment - (moment.utcoffset() or moment - moment)).strftime(UTC_FORM)


def rows_known(database: Database, table: sa.Table, known_by: str | None = None) -> list[sa.RowMapping]:
    """Every record of a table, or those that had been made by a moment; amended ones too, in order.

    Args:
        database: where from.
        table: :data:`APPLICATIONS` or :data:`SCOUTINGS`.
        known_by: UTC, ``2050-07-18T09:30:00Z``; all of them when left out.
    """
    with database.reading() as connection:
        query = sa.select(table).order_by(table.c.record_id)
        if known_by is not None:
            query = query.where(table.c.recorded_utc <= known_by)
        return list(connection.execute(query).mappings())


def _standing(rows: Sequence[sa.RowMapping]) -> list[sa.RowMapping]:
    """The records that no later one amends, less those that were taken back."""
    amended = {row["amends"] for row in rows}
    return [row for row in rows if row["record_id"] not in amended and row["void_reason"] is None]


def applications(database: Database, known_by: str) -> tuple[Application, ...]:
    """The applications that stand, as known by a moment, each with its own label's intervals.

    An application made by no row of its label, or with less than the row's rate, has no intervals: it protects
    nothing that could be planned with.
    """
    found = []
    for row in _standing(rows_known(database, APPLICATIONS, known_by)):
        label = json.loads(row["label_json"])
        diseases = tuple(json.loads(row["diseases_json"]))
        amount = None if row["amount"] is None else row["amount"] / row["size_m2"]
        uses = [
            use
            for use in label["uses"]
            if use["disease"] in diseases and use["condition"] == row["condition"] and row["grass"] in use["grasses"]
        ]
        enough = [use for use in uses if amount is None or amount >= FULL_RATE_SHARE * use["rate_per_m2"]]
        found.append(
            Application(
                row["record_id"],
                row["area_id"],
                day_number(date.fromisoformat(row["happened_on"])),
                row["label_key"],
                _brought(label, amount),
                tuple(dict.fromkeys(use["disease"] for use in enough)),
                amount,
                max((use["least_days"] for use in uses), default=None),
                min((use["most_days"] for use in enough), default=None),
            )
        )
    return tuple(found)


def _brought(label: Mapping[str, Any], amount_per_m2: float | None) -> tuple[Brought, ...]:
    """What an application brought, by the label as it was kept; before labels of schema 2 names alone were kept."""
    listed = label.get("ingredients") or [{"name": name} for name in label.get("active_ingredients", ())]
    found = []
    for one in listed:
        grams = one.get("grams_per_unit")
        found.append(
            Brought(
                Ingredient(one["name"]).key,
                None if amount_per_m2 is None or grams is None else amount_per_m2 * grams,
                one.get("frac_code", ""),
                one.get("most_per_year_g_per_m2"),
            )
        )
    return tuple(found)


def sightings(database: Database, known_by: str) -> tuple[Sighting, ...]:
    """The scouting records that stand, as known by a moment."""
    return tuple(
        Sighting(
            row["record_id"],
            row["area_id"],
            day_number(date.fromisoformat(row["happened_on"])),
            row["disease"],
            bool(row["sure"]),
            tuple(json.loads(row["look_alikes_json"])),
            row["note"],
        )
        for row in _standing(rows_known(database, SCOUTINGS, known_by))
    )
