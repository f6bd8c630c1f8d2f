"""Observed hours in the database: one block a station, quantity and year (UTC), raw, each value with its arrival.

Nothing that was known is lost: a value that another takes the place of stays readable for replays of the days on
which it stood.
"""

from __future__ import annotations

from calendar import isleap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import Enum
from typing import Any

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray

from forecast.database import Database
from forecast.errors import FAULTS_SHOWN, DataError, Fault
from forecast.ingest.imported import Grade, ImportedHours, Provider
from forecast.ingest.keep.block import DAMAGED_HINT, NOT_ARRIVED, Block, empty_block, pack, unpack
from forecast.panel import Bytes, Floats, Hours, Panel
from forecast.quantities import QUANTITIES, Flag, Origin
from forecast.tables import BLOCKS, IMPORTS, PROVIDERS, SUPERSEDED, TYPICAL

UTC_FORM = "%Y-%m-%dT%H:%M:%SZ"
_NOT_EVALUATED = np.uint8(Flag.NOT_EVALUATED)


@dataclass(frozen=True, slots=True)
class Written:
    """What a write did, in values: new, already there with the same value, changed, and kept against the import."""

    new: int
    same: int
    changed: int
    kept: int = 0


class Replace(Enum):
    """Whose stored values an import may take the place of."""

    NONE = "nobody's: an hour that stands with another value is a mistake"
    OWN = "those of its own providers; what another stands behind is kept"
    ALL = "anybody's"


@dataclass(frozen=True, slots=True)
class Import:
    """One import, as the list shows it."""

    station_id: str
    provider_key: str
    source: str
    imported_utc: str
    first_hour_utc: str
    last_hour_utc: str


def write_hours(
    database: Database,
    station_id: str,
    imported: ImportedHours,
    *,
    lag_minutes: int,
    now: datetime,
    replace: Replace = Replace.NONE,
    looked: tuple[np.datetime64, np.datetime64] | None = None,
) -> Written:
    """Add observed hours to a station, whole or not at all.

    A new value is taken to have arrived ``lag_minutes`` after its stamp, yet never after ``now``; where an import of
    the same source came after that moment without it, and for a value that takes another's place, it arrived now.

    Args:
        database: where to.
        station_id: whose hours they are.
        imported: from a source; observations only.
        lag_minutes: how long after its stamp a value is usually there.
        now: moment of the import.
        replace: whose values a new one may take the place of.
        looked: the stamps between which the source was asked for all it has; its first and last hour when left out.

    Raises:
        DataError: an hour lies ahead of ``now``, or hours stand there with other values and nothing may be replaced;
            nothing was written.
        ValueError: a value's provider does not observe.
    """
    if any(provider.grade is not Grade.OBSERVED for provider in imported.providers):
        raise ValueError("only observations are stored as hours")
    if not len(imported.hours):
        return Written(0, 0, 0)
    if imported.hours[-1] > np.datetime64(now.astimezone(UTC).replace(tzinfo=None)):
        raise DataError(
            f"the hours of {imported.source} run to {imported.hours[-1]}:00Z, which lies ahead; nothing was written",
            hint="a forecast is no observation; if these are readings, check year and time zone",
        )
    minute = now.astimezone(UTC).replace(second=0, microsecond=0)
    counts = np.zeros(4, int)
    faults: list[Fault] = []
    with database.writing() as connection:
        numbers = _provider_numbers(connection, imported.providers)
        late = _late_minutes(connection, station_id, imported, lag_minutes, minute)
        years = imported.hours.astype("datetime64[Y]")
        for year in np.unique(years):
            here = years == year
            rows = (imported.hours[here] - _start(year)).astype(int)
            for name, values in imported.values.items():
                given = Block(
                    values[here],
                    np.full(int(here.sum()), _NOT_EVALUATED),
                    numbers[imported.provider[name][here]],
                    late[here],
                )
                old = _stored(connection, station_id, name, year)
                own = numbers if replace is Replace.OWN else None
                merged = _merge(old, rows, given, minute, _start(year), own)
                counts += merged.tally
                if replace is Replace.NONE:
                    faults += _clashes(name, year, old, merged)[: FAULTS_SHOWN - len(faults)]
                if merged.tally[0] or merged.tally[2]:
                    _keep_superseded(connection, (station_id, name, year), old, merged.changed, minute)
                    _put(connection, (station_id, name, year), merged.block)
        if faults:
            raise DataError(
                f"{counts[2]} value(s) of station {station_id!r} stand with other figures; nothing was written",
                faults=faults,
                hint="check both files; --replace lets the new ones take their place",
            )
        connection.execute(
            sa.insert(IMPORTS).values(
                station_id=station_id,
                imported_utc=now.astimezone(UTC).strftime(UTC_FORM),
                provider_key=imported.providers[0].key,
                source=imported.source,
                first_hour_utc=f"{imported.hours[0]}:00Z",
                last_hour_utc=f"{imported.hours[-1]}:00Z",
                looked_from_utc=f"{(looked or imported.hours)[0].astype('datetime64[h]')}:00Z",
                looked_to_utc=f"{(looked or imported.hours)[-1].astype('datetime64[h]')}:00Z",
            )
        )
    return Written(*(int(count) for count in counts))


@dataclass(frozen=True, eq=False)
class _Merged:
    block: Block
    tally: NDArray[np.int64]  # new, same, changed, kept
    changed: NDArray[np.int64]  # rows


def _merge(
    old: Block,
    rows: NDArray[np.int64],
    given: Block,
    now: datetime,
    first: np.datetime64,
    own: NDArray[np.uint16] | None,
) -> _Merged:
    """The block with new values put in; with ``own``, a value of any other provider is kept as it stands."""
    known = ~np.isnan(given.values)
    rows = rows[known]
    before = old.values[rows]
    is_new = np.isnan(before)
    is_other = ~is_new & (before != given.values[known])
    is_changed = is_other if own is None else is_other & np.isin(old.provider[rows], own)
    new = old.copy()
    put = is_new | is_changed
    new.values[rows[put]] = given.values[known][put]
    new.flags[rows[put]] = given.flags[known][put]
    new.provider[rows[put]] = given.provider[known][put]
    new.late_minutes[rows[put]] = given.late_minutes[known][put]
    changed = rows[is_changed]
    stamps = first + changed.astype("timedelta64[h]")
    new.late_minutes[changed] = (_minute(now) - stamps.astype("datetime64[m]")).astype(np.int32)
    kept = is_other & ~is_changed
    tally = np.array([is_new.sum(), (~is_new & ~is_other).sum(), is_changed.sum(), kept.sum()])
    return _Merged(new, tally, changed)


def _clashes(name: str, year: np.datetime64, old: Block, merged: _Merged) -> list[Fault]:
    return [
        Fault(
            f"{_start(year) + np.timedelta64(int(row), 'h')}:00Z stands as {old.values[row]}, "
            f"the file says {merged.block.values[row]}",
            0,
            name,
        )
        for row in merged.changed[:FAULTS_SHOWN]
    ]


def _late_minutes(
    connection: sa.Connection, station_id: str, imported: ImportedHours, lag_minutes: int, now: datetime
) -> NDArray[np.int32]:
    """How long after its stamp each new value arrived, as :func:`write_hours` says."""
    stamps = imported.hours.astype("datetime64[m]")
    arrived = stamps + np.timedelta64(lag_minutes, "m")
    looks = connection.execute(
        sa.select(IMPORTS).where(IMPORTS.c.station_id == station_id, IMPORTS.c.source == imported.source)
    ).all()
    expected = arrived
    for look in looks:
        looked_at = (stamps >= _stamp(look.looked_from_utc)) & (stamps <= _stamp(look.looked_to_utc))
        looked_in_vain = looked_at & (expected <= _stamp(look.imported_utc))
        arrived = np.where(looked_in_vain, _minute(now), arrived)
    late: NDArray[np.int32] = (np.minimum(arrived, _minute(now)) - stamps).astype(np.int32)
    return late


def _minute(moment: datetime) -> np.datetime64:
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "m")


def _stamp(text: str) -> np.datetime64:
    return np.datetime64(text.removesuffix("Z"), "m")


def _provider_numbers(connection: sa.Connection, providers: Sequence[Provider]) -> NDArray[np.uint16]:
    """The database's numbers of some providers; a new one gets a number, a known one the newest wording."""
    return np.array([provider_number(connection, provider) for provider in providers], np.uint16)


def provider_number(connection: sa.Connection, provider: Provider) -> int:
    """The database's number of a provider, made where it is new."""
    words = {
        "name": provider.name,
        "grade": provider.grade.name,
        "attribution": provider.attribution,
        "licence": provider.licence,
        "link": provider.link,
    }
    known = connection.execute(sa.select(PROVIDERS.c.provider_id).where(PROVIDERS.c.key == provider.key)).scalar()
    if known is None:
        made = connection.execute(sa.insert(PROVIDERS).values(key=provider.key, **words)).inserted_primary_key
        return int(made[0]) if made is not None else 0
    connection.execute(sa.update(PROVIDERS).where(PROVIDERS.c.provider_id == known).values(**words))
    return int(known)


def providers(connection: sa.Connection) -> Mapping[int, Provider]:
    """Every provider by its number."""
    rows = connection.execute(sa.select(PROVIDERS)).all()
    return {
        row.provider_id: Provider(row.key, row.name, Grade[row.grade], row.attribution, row.licence, row.link)
        for row in rows
    }


_Key = tuple[str, str, np.datetime64]  # station, quantity, year


def _stored(connection: sa.Connection, station_id: str, quantity: str, year: np.datetime64) -> Block:
    packed = connection.execute(sa.select(BLOCKS.c.block).where(*_is((station_id, quantity, year), BLOCKS))).scalar()
    return empty_block(_hours_of(year)) if packed is None else _whole(packed, year)


def _is(key: _Key, table: sa.Table) -> Iterable[sa.ColumnElement[bool]]:
    station_id, quantity, year = key
    return table.c.station_id == station_id, table.c.quantity == quantity, table.c.year == _number(year)


def _columns(key: _Key) -> dict[str, object]:
    return {"station_id": key[0], "quantity": key[1], "year": _number(key[2])}


def _put(connection: sa.Connection, key: _Key, block: Block) -> None:
    packed = pack(block)
    changed = connection.execute(sa.update(BLOCKS).where(*_is(key, BLOCKS)).values(block=packed))
    if changed.rowcount == 0:
        connection.execute(sa.insert(BLOCKS).values(**_columns(key), block=packed))


def _keep_superseded(
    connection: sa.Connection, key: _Key, old: Block, changed: NDArray[np.int64], now: datetime
) -> None:
    """Put the values that another takes the place of aside, to the minute.

    Of several replacements within one minute the first old value is kept: replays go by minutes.
    """
    if not changed.size:
        return
    until = now.strftime(UTC_FORM)
    where = (*_is(key, SUPERSEDED), SUPERSEDED.c.until_utc == until)
    packed = connection.execute(sa.select(SUPERSEDED.c.block).where(*where)).scalar()
    kept = empty_block(_hours_of(key[2])) if packed is None else _whole(packed, key[2]).copy()
    rows = changed[kept.late_minutes[changed] == NOT_ARRIVED]
    for target, source in zip(_arrays(kept), _arrays(old), strict=True):
        target[rows] = source[rows]
    if packed is None:
        connection.execute(sa.insert(SUPERSEDED).values(**_columns(key), until_utc=until, block=pack(kept)))
    else:
        connection.execute(sa.update(SUPERSEDED).where(*where).values(block=pack(kept)))


def _arrays(block: Block) -> tuple[NDArray[np.generic], ...]:
    return block.values, block.flags, block.provider, block.late_minutes


def _whole(packed: bytes, year: np.datetime64) -> Block:
    block = unpack(packed)
    if len(block.values) != _hours_of(year):
        raise DataError(f"a weather block of {year} has {len(block.values)} hours", hint=DAMAGED_HINT)
    return block


def _number(year: np.datetime64) -> int:
    return int(year.astype("datetime64[Y]").astype(int)) + 1970


def _year(number: int) -> np.datetime64:
    return np.datetime64(number - 1970, "Y")


def _start(year: np.datetime64) -> np.datetime64:
    """The first stamp of a year."""
    first: np.datetime64 = year.astype("datetime64[h]")
    return first


def _hours_of(year: np.datetime64) -> int:
    return 24 * (365 + isleap(_number(year)))


def read_hours(
    database: Database,
    station_ids: Sequence[str],
    known_by: np.datetime64 | None = None,
    *,
    most_years: int | None = None,
) -> Panel | None:
    """Everything observed at some stations, as raw as it came.

    Args:
        database: where from.
        station_ids: the panel's series, in this order.
        known_by: as it was known by this moment (UTC, minutes): nothing that had not arrived, and what stood before it
            was replaced; None for everything, as it stands.
        most_years: leave out calendar years further back from the newest one read; None for all.

    Returns:
        None where nothing is stored.
    """
    column = {station_id: index for index, station_id in enumerate(station_ids)}
    with database.reading() as connection:
        rows = connection.execute(
            sa.select(BLOCKS).where(BLOCKS.c.station_id.in_(station_ids), BLOCKS.c.quantity.in_(QUANTITIES))
        ).all()
        older = _superseded_after(connection, station_ids, known_by) if known_by is not None else []
    pieces = [piece for row in (*rows, *older) if (piece := _piece(row, known_by)) is not None]
    if not pieces:
        return None
    if most_years is not None:
        newest = max(piece.year for piece in pieces)
        pieces = [piece for piece in pieces if piece.year > newest - most_years]
    first = min(piece.first for piece in pieces)
    count = max(piece.after for piece in pieces) - first
    shape = (count, len(station_ids))
    names = sorted({row.quantity for row in rows})
    values = {name: np.full(shape, np.nan) for name in names}
    flags = {name: np.full(shape, Flag.MISSING, np.uint8) for name in names}
    origin = {name: np.full(shape, Origin.OBSERVED, np.uint8) for name in names}
    for piece in pieces:
        place = slice(piece.first - first, piece.after - first), column[piece.station_id]
        for target, source in ((values, piece.values), (flags, piece.flags)):
            into = target[piece.quantity][place]
            into[piece.there] = source[piece.there]
    for arrays in (values, flags, origin):
        for array in arrays.values():
            array.flags.writeable = False  # a panel takes such an array without a copy
    hours: Hours = np.datetime64(first, "h") + np.arange(count).astype("timedelta64[h]")
    return Panel(hours, tuple(station_ids), values, flags, origin)


@dataclass(frozen=True, eq=False)
class _Piece:
    """What a stored block holds, from its first to its last known hour; stamps as hours since 1970."""

    station_id: str
    quantity: str
    year: int
    first: int
    after: int
    values: Floats
    flags: Bytes
    there: NDArray[np.bool_] | slice


def _piece(row: sa.Row[Any], known_by: np.datetime64 | None) -> _Piece | None:
    """A block's hours as far as they were known by a moment; None where none was."""
    year = _year(row.year)
    block = _whole(row.block, year)
    start = int(_start(year).astype(int))
    there = block.late_minutes != NOT_ARRIVED
    if known_by is not None:
        stamps = 60 * np.arange(start, start + len(there))
        there &= stamps + block.late_minutes <= int(known_by.astype("datetime64[m]").astype(int))
    if not there.any():
        return None
    first, after = int(there.argmax()), len(there) - int(there[::-1].argmax())
    inside = there[first:after]
    return _Piece(
        row.station_id,
        row.quantity,
        row.year,
        start + first,
        start + after,
        block.values[first:after],
        block.flags[first:after],
        slice(None) if inside.all() else inside,
    )


def _superseded_after(
    connection: sa.Connection, station_ids: Sequence[str], known_by: np.datetime64
) -> Sequence[sa.Row[Any]]:
    """What was replaced after a moment, the latest first, so that what stood at the moment is put in last."""
    return connection.execute(
        sa.select(SUPERSEDED)
        .where(SUPERSEDED.c.station_id.in_(station_ids), SUPERSEDED.c.quantity.in_(QUANTITIES))
        .where(SUPERSEDED.c.until_utc > f"{known_by.astype('datetime64[s]')}Z")
        .order_by(SUPERSEDED.c.until_utc.desc())
    ).all()


def providers_of(
    database: Database,
    station_id: str,
    since: np.datetime64,
    until: np.datetime64,
    known_by: np.datetime64 | None = None,
) -> Mapping[Provider, int]:
    """Who stands behind a station's values between two stamps, both included, and behind how many, most first.

    Args:
        database: where from.
        station_id: whose values.
        since: the first stamp.
        until: the last stamp.
        known_by: as it was known by this moment (UTC, minutes); None for now.
    """
    first, last = (int(stamp.astype("datetime64[Y]").astype(int)) + 1970 for stamp in (since, until))
    counts: dict[int, int] = {}
    with database.reading() as connection:
        known = providers(connection)
        rows = connection.execute(
            sa.select(BLOCKS).where(BLOCKS.c.station_id == station_id, BLOCKS.c.year.between(first, last))
        ).all()
        older = _superseded_after(connection, [station_id], known_by) if known_by is not None else []
    standing: dict[tuple[str, int], NDArray[np.int64]] = {}  # per quantity and year the provider of each hour, -1 none
    for row in (*rows, *older):
        if not first <= row.year <= last:
            continue
        block = _whole(row.block, _year(row.year))
        stamps = _start(_year(row.year)) + np.arange(len(block.values)).astype("timedelta64[h]")
        there = (block.late_minutes != NOT_ARRIVED) & (stamps >= since) & (stamps <= until)
        if known_by is not None:
            there &= stamps.astype("datetime64[m]") + block.late_minutes.astype("timedelta64[m]") <= known_by
        stands = standing.setdefault((row.quantity, row.year), np.full(len(stamps), -1))
        stands[there] = block.provider[there]
    for stands in standing.values():
        numbers, found = np.unique(stands[stands >= 0], return_counts=True)
        for number, count in zip(numbers.tolist(), found.tolist(), strict=True):
            counts[number] = counts.get(number, 0) + count
    return {known[number]: count for number, count in sorted(counts.items(), key=lambda item: -item[1])}


def imports(database: Database, station_ids: Sequence[str]) -> tuple[Import, ...]:
    """Every import of some stations, in order."""
    with database.reading() as connection:
        rows = connection.execute(
            sa.select(IMPORTS).where(IMPORTS.c.station_id.in_(station_ids)).order_by(IMPORTS.c.import_id)
        ).all()
    return tuple(
        Import(row.station_id, row.provider_key, row.source, row.imported_utc, row.first_hour_utc, row.last_hour_utc)
        for row in rows
    )


def stations_with_typical_year(database: Database, known_by: str | None = None) -> frozenset[str]:
    """The stations that a typical year was loaded for, by a moment (UTC, ISO 8601 with Z) where one is given."""
    query = sa.select(TYPICAL.c.station_id)
    if known_by is not None:
        query = query.where(TYPICAL.c.loaded_utc <= known_by)
    with database.reading() as connection:
        return frozenset(connection.execute(query.distinct()).scalars())


def stations_with_hours(database: Database) -> tuple[str, ...]:
    """Every id that hours are stored for, in alphabetical order."""
    with database.reading() as connection:
        return tuple(
            connection.execute(sa.select(BLOCKS.c.station_id).distinct().order_by(BLOCKS.c.station_id)).scalars()
        )
