"""Observed hours in compressed blocks: one row a station, quantity and month.

A block holds, for every hour of its month, the raw value to the last bit, its flag, its origin, and how many
minutes after its stamp it arrived, so that a replay sees no more than was known.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray

from forecast.database import Database
from forecast.errors import DataError, Fault
from forecast.ingest.imported import ImportedHours
from forecast.panel import Bytes, Floats, Hours, Panel
from forecast.quantities import QUANTITIES, Flag, Origin
from forecast.tables import BLOCKS, IMPORTS

BLOCK_FORMAT = 1
BYTES_AN_HOUR = 14  # value 8, flag 1, origin 1, minutes late 4
NOT_ARRIVED = -1
_DAMAGED_HINT = "put the last backup in its place"


@dataclass(frozen=True, eq=False)
class Block:
    """The hours of one month of one quantity; every array of shape (hours of the month,)."""

    values: Floats
    flags: Bytes
    origin: Bytes
    late_minutes: NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Written:
    """What a write did, in values: new, already there with the same value, and changed."""

    new: int
    same: int
    changed: int


@dataclass(frozen=True, slots=True)
class Import:
    """One import, as the page names it."""

    source: str
    attribution: str
    imported_utc: str


def empty_block(hours: int) -> Block:
    """A month of which nothing is known."""
    return Block(
        np.full(hours, np.nan),
        np.full(hours, Flag.MISSING, np.uint8),
        np.zeros(hours, np.uint8),
        np.full(hours, NOT_ARRIVED, np.int32),
    )


def pack(block: Block) -> bytes:
    """A block as bytes: a format byte, then the arrays, bytes of equal weight side by side, zlib-packed.

    zlib's own checksum tells a torn block from a whole one.
    """
    parts = (
        block.values.astype("<f8").view(np.uint8).reshape(-1, 8).T.tobytes(),
        block.flags.tobytes(),
        block.origin.tobytes(),
        block.late_minutes.astype("<i4").view(np.uint8).reshape(-1, 4).T.tobytes(),
    )
    return bytes([BLOCK_FORMAT]) + zlib.compress(b"".join(parts), 6)


def unpack(packed: bytes) -> Block:
    """The block that :func:`pack` made these bytes of.

    Raises:
        DataError: the bytes are damaged or of an unknown format.
    """
    if packed[:1] != bytes([BLOCK_FORMAT]):
        raise DataError("a weather block has an unknown format", hint="install the newer version")
    try:
        raw = np.frombuffer(zlib.decompress(packed[1:]), np.uint8)
    except zlib.error as error:
        raise DataError("a weather block is damaged", hint=_DAMAGED_HINT) from error
    hours, rest = divmod(len(raw), BYTES_AN_HOUR)
    if rest:
        raise DataError("a weather block is damaged: it ends within an hour", hint=_DAMAGED_HINT)
    values = np.ascontiguousarray(raw[: 8 * hours].reshape(8, hours).T).view("<f8").ravel()
    late = np.ascontiguousarray(raw[10 * hours :].reshape(4, hours).T).view("<i4").ravel()
    return Block(
        values.astype(np.float64),
        raw[8 * hours : 9 * hours].copy(),
        raw[9 * hours : 10 * hours].copy(),
        late.astype(np.int32),
    )


def write_hours(
    database: Database,
    station_id: str,
    imported: ImportedHours,
    *,
    late_minutes: int,
    now: datetime,
    replace: bool = False,
) -> Written:
    """Add hours to a station, whole or not at all.

    Args:
        database: where to.
        station_id: whose hours they are.
        imported: from a source.
        late_minutes: how long after its stamp a value is taken to have arrived.
        now: moment of the import, UTC.
        replace: True lets a new value take the place of another one.

    Raises:
        DataError: hours stand there with other values and ``replace`` is not given; nothing was written.
    """
    if not len(imported.hours):
        return Written(0, 0, 0)
    months = imported.hours.astype("datetime64[M]")
    counts = np.zeros(3, int)
    faults: list[Fault] = []
    with database.writing() as connection:
        for month in np.unique(months):
            here = months == month
            rows = (imported.hours[here] - month.astype("datetime64[h]")).astype(int)
            for name, values in imported.values.items():
                old = _stored(connection, station_id, name, month)
                new, tally, clashes = _merge(old, rows, values[here], imported.origin[name][here], late_minutes)
                counts += tally
                stamp = month.astype("datetime64[h]")
                faults += [
                    Fault(
                        f"{stamp + row}:00Z stands as {old.values[row]}, the file says {new.values[row]}",
                        0,
                        name,
                    )
                    for row in clashes
                ]
                _put(connection, station_id, name, month, new)
        if faults and not replace:
            raise DataError(
                f"{len(faults)} value(s) of station {station_id!r} stand with other figures; nothing was written",
                faults=faults,
                hint="check both files; --replace lets the new ones take their place",
            )
        connection.execute(
            sa.insert(IMPORTS).values(
                station_id=station_id,
                imported_utc=now.strftime("%Y-%m-%dT%H:%M:%SZ"),
                source=imported.source,
                attribution=imported.attribution,
                first_hour_utc=f"{imported.hours[0]}:00Z",
                last_hour_utc=f"{imported.hours[-1]}:00Z",
            )
        )
    return Written(*(int(count) for count in counts))


def _merge(
    old: Block, rows: NDArray[np.int64], values: Floats, origin: Bytes, late_minutes: int
) -> tuple[Block, NDArray[np.int64], NDArray[np.int64]]:
    """The block with values put in, the tally (new, same, changed), and the rows whose value changed."""
    given = ~np.isnan(values)
    rows, values, origin = rows[given], values[given], origin[given]
    before = old.values[rows]
    is_new = np.isnan(before)
    is_changed = ~is_new & (before != values)
    put = is_new | is_changed
    new = Block(old.values.copy(), old.flags.copy(), old.origin.copy(), old.late_minutes.copy())
    new.values[rows[put]] = values[put]
    new.flags[rows[put]] = Flag.NOT_EVALUATED
    new.origin[rows[put]] = origin[put]
    new.late_minutes[rows[put]] = late_minutes
    tally = np.array([is_new.sum(), (~put).sum(), is_changed.sum()])
    return new, tally, rows[is_changed]


def _stored(connection: sa.Connection, station_id: str, quantity: str, month: np.datetime64) -> Block:
    packed = connection.execute(
        sa.select(BLOCKS.c.block).where(
            BLOCKS.c.station_id == station_id, BLOCKS.c.quantity == quantity, BLOCKS.c.month == str(month)
        )
    ).scalar()
    return empty_block(_hours_of(month)) if packed is None else _whole(packed, month)


def _whole(packed: bytes, month: np.datetime64) -> Block:
    block = unpack(packed)
    if len(block.values) != _hours_of(month):
        raise DataError(f"a weather block of {month} has {len(block.values)} hours", hint=_DAMAGED_HINT)
    return block


def _put(connection: sa.Connection, station_id: str, quantity: str, month: np.datetime64, block: Block) -> None:
    key = {"station_id": station_id, "quantity": quantity, "month": str(month)}
    packed = pack(block)
    changed = connection.execute(
        sa.update(BLOCKS).where(*(BLOCKS.c[name] == value for name, value in key.items())).values(block=packed)
    )
    if changed.rowcount == 0:
        connection.execute(sa.insert(BLOCKS).values(**key, block=packed))


def _hours_of(month: np.datetime64) -> int:
    return int((_start(_after(month)) - _start(month)) / np.timedelta64(1, "h"))


def _after(month: np.datetime64) -> np.datetime64:
    return month + np.timedelta64(1, "M")


def _start(month: np.datetime64) -> np.datetime64:
    """The first stamp of a month."""
    first: np.datetime64 = month.astype("datetime64[h]")
    return first


def read_hours(database: Database, station_ids: tuple[str, ...], known_by: np.datetime64 | None = None) -> Panel | None:
    """Everything stored for some stations, as raw as it came.

    Args:
        database: where from.
        station_ids: the panel's series, in this order.
        known_by: leave out what had not arrived by this moment (UTC, minutes); None for everything.

    Returns:
        None where nothing is stored.
    """
    with database.reading() as connection:
        rows = connection.execute(
            sa.select(BLOCKS).where(BLOCKS.c.station_id.in_(station_ids)).order_by(BLOCKS.c.month)
        ).all()
    if not rows:
        return None
    first = _start(np.datetime64(rows[0].month, "M"))
    last = _start(_after(np.datetime64(rows[-1].month, "M")))
    hours: Hours = np.arange(first, last, dtype="datetime64[h]")
    shape = (len(hours), len(station_ids))
    names = sorted({row.quantity for row in rows} & set(QUANTITIES))
    values = {name: np.full(shape, np.nan) for name in names}
    flags = {name: np.full(shape, Flag.MISSING, np.uint8) for name in names}
    origin = {name: np.full(shape, Origin.OBSERVED, np.uint8) for name in names}
    for row in rows:
        if row.quantity not in values:
            continue
        month = np.datetime64(row.month, "M")
        block = _whole(row.block, month)
        start = int((month.astype("datetime64[h]") - first).astype(int))
        place = slice(start, start + len(block.values)), station_ids.index(row.station_id)
        arrived = _arrived(hours[place[0]], block, known_by)
        values[row.quantity][place] = np.where(arrived, block.values, np.nan)
        flags[row.quantity][place] = np.where(arrived, block.flags, Flag.MISSING)
        origin[row.quantity][place] = block.origin
    return _trimmed(Panel(hours, station_ids, values, flags, origin))


def _arrived(hours: Hours, block: Block, known_by: np.datetime64 | None) -> NDArray[np.bool_]:
    there: NDArray[np.bool_] = block.late_minutes != NOT_ARRIVED
    if known_by is not None:
        there &= hours.astype("datetime64[m]") + block.late_minutes.astype("timedelta64[m]") <= known_by
    return there


def _trimmed(panel: Panel) -> Panel | None:
    """The panel from its first to its last hour with any value."""
    some = np.zeros(len(panel.hours), bool)
    for array in panel.values.values():
        some |= ~np.isnan(array).all(axis=1)
    rows = np.flatnonzero(some)
    return panel.between(panel.hours[rows[0]], panel.hours[rows[-1]]) if rows.size else None


def last_imports(database: Database, station_ids: tuple[str, ...]) -> Mapping[str, Import]:
    """Per station, the import that came last."""
    with database.reading() as connection:
        rows = connection.execute(
            sa.select(IMPORTS).where(IMPORTS.c.station_id.in_(station_ids)).order_by(IMPORTS.c.import_id)
        ).all()
    return {row.station_id: Import(row.source, row.attribution, row.imported_utc) for row in rows}
