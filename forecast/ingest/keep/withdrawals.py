"""A station's quantity taken out between two hours by a person, with a reason; given back by another record.

Readings stay where they are; what a withdrawal changes is what is made of them from the moment it was written down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import sqlalchemy as sa

from forecast.database import Database
from forecast.errors import DataError
from forecast.ingest.keep.store import UTC_FORM
from forecast.quantities import QUANTITIES, READABLE, WORKED_OUT
from forecast.tables import WITHDRAWALS


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """One record.

    Attributes:
        number: of the record.
        station_id: whose readings.
        quantity: which of them.
        first_hour: the first stamp withdrawn.
        last_hour: the last one; None while it has no end.
        reason: why.
        by_whom: who says so.
        recorded_utc: when it was written down.
        given_back_utc: when it was given back; None where it still holds.
        given_back_reason: why.
    """

    number: int
    station_id: str
    quantity: str
    first_hour: np.datetime64
    last_hour: np.datetime64 | None
    reason: str
    by_whom: str
    recorded_utc: str
    given_back_utc: str | None
    given_back_reason: str


def withdraw(
    database: Database,
    station_id: str,
    quantity: str,
    first_hour: np.datetime64,
    last_hour: np.datetime64 | None,
    *,
    reason: str,
    by_whom: str,
    now: datetime,
) -> int:
    """Write down that a station's quantity is not to be used between two stamps, both included.

    Returns:
        The number of the record.

    Raises:
        DataError: no such quantity, hours in the wrong order, or no reason.
    """
    if quantity not in READABLE:
        what = f"{quantity}: {WORKED_OUT}" if quantity in QUANTITIES else f"there is no quantity {quantity!r}"
        raise DataError(what, hint=f"known are {', '.join(READABLE)}")
    if last_hour is not None and last_hour < first_hour:
        raise DataError("a withdrawal cannot end before it begins", hint="check the two moments")
    if not reason.strip():
        raise DataError("a withdrawal needs a reason", hint="say what was found, for whoever reads it next year")
    with database.writing() as connection:
        made = connection.execute(
            sa.insert(WITHDRAWALS).values(
                recorded_utc=now.astimezone(UTC).strftime(UTC_FORM),
                station_id=station_id,
                quantity=quantity,
                first_hour_utc=f"{first_hour.astype('datetime64[h]')}:00Z",
                last_hour_utc=None if last_hour is None else f"{last_hour.astype('datetime64[h]')}:00Z",
                reason=reason.strip(),
                by_whom=by_whom,
                gives_back=None,
            )
        ).inserted_primary_key
    return int(made[0]) if made is not None else 0


def give_back(database: Database, number: int, *, reason: str, by_whom: str, now: datetime) -> int:
    """Write down that a withdrawal no longer holds; both records stay readable.

    Raises:
        DataError: there is no such withdrawal, it was given back before, or no reason is given.
    """
    if not reason.strip():
        raise DataError("giving readings back needs a reason", hint="say what was found")
    with database.writing() as connection:
        old = connection.execute(
            sa.select(WITHDRAWALS).where(WITHDRAWALS.c.record_id == number, WITHDRAWALS.c.gives_back.is_(None))
        ).first()
        if old is None:
            raise DataError(f"there is no withdrawal {number}", hint="'forecast weather list' shows them")
        earlier = connection.execute(sa.select(WITHDRAWALS.c.record_id).where(WITHDRAWALS.c.gives_back == number))
        if earlier.first() is not None:
            raise DataError(f"withdrawal {number} was given back before", hint="'forecast weather list' shows them")
        made = connection.execute(
            sa.insert(WITHDRAWALS).values(
                recorded_utc=now.astimezone(UTC).strftime(UTC_FORM),
                station_id=old.station_id,
                quantity=old.quantity,
                first_hour_utc=old.first_hour_utc,
                last_hour_utc=old.last_hour_utc,
                reason=reason.strip(),
                by_whom=by_whom,
                gives_back=number,
            )
        ).inserted_primary_key
    return int(made[0]) if made is not None else 0


def withdrawals(database: Database, station_ids: Sequence[str], known_by: str | None = None) -> tuple[Withdrawn, ...]:
    """Every withdrawal of some stations, in order of writing down, with what became of it.

    Args:
        database: where from.
        station_ids: whose.
        known_by: leave out records written down after this moment (UTC, ISO 8601 with Z); None for all.
    """
    query = sa.select(WITHDRAWALS).where(WITHDRAWALS.c.station_id.in_(station_ids))
    if known_by is not None:
        query = query.where(WITHDRAWALS.c.recorded_utc <= known_by)
    with database.reading() as connection:
        rows = connection.execute(query.order_by(WITHDRAWALS.c.record_id)).all()
    ends = {row.gives_back: row for row in rows if row.gives_back is not None}
    return tuple(
        Withdrawn(
            row.record_id,
            row.station_id,
            row.quantity,
            np.datetime64(row.first_hour_utc.removesuffix("Z"), "h"),
            None if row.last_hour_utc is None else np.datetime64(row.last_hour_utc.removesuffix("Z"), "h"),
            row.reason,
            row.by_whom,
            row.recorded_utc,
            ends[row.record_id].recorded_utc if row.record_id in ends else None,
            ends[row.record_id].reason if row.record_id in ends else "",
        )
        for row in rows
        if row.gives_back is None
    )
