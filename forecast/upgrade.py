"""A workspace's database of an older version, brought up to this one; a copy of the old one is kept beside it."""

from __future__ import annotations

import hashlib
import sqlite3
import zlib
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from types import MappingProxyType

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray
from sqlalchemy.schema import CreateColumn

from forecast.database import SCHEMA_VERSION, Database
from forecast.errors import DataError, StorageError
from forecast.ingest.imported import Grade, Provider
from forecast.ingest.keep.block import DAMAGED_HINT, Block, empty_block, pack
from forecast.ingest.keep.store import provider_number
from forecast.panel import Bytes, Floats
from forecast.tables import BLOCKS, IMPORTS, METADATA, SCOUTINGS, VERSION


def upgrade(path: Path) -> Path | None:
    """Bring a database up to this version, whole or not at all.

    Returns:
        Where the copy of the old one is kept; None where there was nothing to do.

    Raises:
        StorageError: the copy cannot be written; the database is left as it was.
        DataError: something in the old one is damaged; it is left as it was.
    """
    database = Database(path, older_too=True)
    try:
        with database.reading() as connection:
            if _version(connection) == SCHEMA_VERSION:
                return None
        with database.writing() as connection:  # nobody writes while the copy is made
            found = _version(connection)
            if found == SCHEMA_VERSION:
                return None
            kept = _copy_kept(path, found)
            for version in range(found, SCHEMA_VERSION):
                _STEPS[version](connection)
            connection.execute(sa.update(VERSION).values(version=SCHEMA_VERSION))
        return kept
    finally:
        database.close()


def _copy_kept(path: Path, version: int) -> Path:
    """A copy of the database as it stands, under a name that is free.

    SQLite itself copies: were the file opened here and closed again, the system would take that for the end of this
    process's lock on it, and another process could write into the middle of the upgrade.
    """
    name, number = f"{path.stem}.schema{version}", 1
    while (kept := path.with_name(f"{name}{'' if number == 1 else f'-{number}'}{path.suffix}")).exists():
        number += 1
    part = kept.with_suffix(".part")
    try:
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(part)) as target:
            source.backup(target)
        part.replace(kept)
    except (sqlite3.Error, OSError) as error:
        part.unlink(missing_ok=True)
        raise StorageError(
            f"{kept} cannot be written: {error}", hint="free some space, or check the folder's rights"
        ) from error
    return kept


def _version(connection: sa.Connection) -> int:
    return int(connection.execute(sa.select(VERSION.c.version)).scalar_one())


def _from_1_to_2(connection: sa.Connection) -> None:
    """Months of hours become years, each value with who stands behind it; imports tell how far they looked."""
    connection.exec_driver_sql("ALTER TABLE weather_import RENAME TO weather_import_1")
    METADATA.create_all(connection)
    old_imports = connection.exec_driver_sql("SELECT * FROM weather_import_1 ORDER BY import_id").all()
    credit_of: dict[str, str] = {}
    for row in old_imports:
        connection.execute(
            sa.insert(IMPORTS).values(
                import_id=row.import_id,
                station_id=row.station_id,
                provider_key=_provider_1(row.attribution).key,
                imported_utc=row.imported_utc,
                source=row.source,
                first_hour_utc=row.first_hour_utc,
                last_hour_utc=row.last_hour_utc,
                looked_from_utc=row.first_hour_utc,
                looked_to_utc=row.last_hour_utc,
            )
        )
        credit_of[row.station_id] = row.attribution or credit_of.get(row.station_id, "")
    numbers = {station: provider_number(connection, _provider_1(credit)) for station, credit in credit_of.items()}
    years: dict[tuple[str, str, int], Block] = {}
    for row in connection.exec_driver_sql("SELECT * FROM weather_block").all():
        year, month = (int(part) for part in row.month.split("-"))
        first = np.datetime64(f"{year}-01-01T00", "h")
        in_year = int((np.datetime64(f"{year + 1}-01-01T00", "h") - first).astype(int))
        block = years.setdefault((row.station_id, row.quantity, year), empty_block(in_year))
        values, flags, late = _unpack_1(row.block)
        start = int((np.datetime64(f"{year}-{month:02}-01T00", "h") - first).astype(int))
        place = slice(start, start + len(values))
        block.values[place], block.flags[place], block.late_minutes[place] = values, flags, late
        block.provider[place] = numbers[row.station_id]
    for (station, quantity, year), block in years.items():
        connection.execute(
            sa.insert(BLOCKS).values(station_id=station, quantity=quantity, year=year, block=pack(block))
        )
    connection.exec_driver_sql("DROP TABLE weather_block")
    connection.exec_driver_sql("DROP TABLE weather_import_1")


_SCOUTING_SINCE_3 = (
    "look_alikes_json",
    "patch_across_mm",
    "threads_at_dawn",
    "lab",
    "lab_result",
    "lab_result_on",
)


def _from_2_to_3(connection: sa.Connection) -> None:
    """Scouting records can say more; those made before say none of it. Their triggers stay as they are."""
    there = {column["name"] for column in sa.inspect(connection).get_columns(SCOUTINGS.name)}
    for name in _SCOUTING_SINCE_3:
        if name not in there:
            column = CreateColumn(SCOUTINGS.c[name]).compile(dialect=connection.dialect)
            connection.exec_driver_sql(f"ALTER TABLE {SCOUTINGS.name} ADD COLUMN {column}")


def _provider_1(credit: str) -> Provider:
    if credit:
        digest = hashlib.sha256(credit.encode()).hexdigest()[:12]
        return Provider(f"before_schema_2.{digest}", "a weather service", Grade.OBSERVED, credit)
    return Provider("file", "file loaded by hand", Grade.OBSERVED)


def _unpack_1(packed: bytes) -> tuple[Floats, Bytes, NDArray[np.int32]]:
    """Values, flags and minutes late of a month as version 1 packed it: 14 bytes an hour, equal weights together."""
    try:
        raw = np.frombuffer(zlib.decompress(packed[1:]), np.uint8)
        hours = len(raw) // 14
        values = np.ascontiguousarray(raw[: 8 * hours].reshape(8, hours).T).view("<f8").ravel()
        late = np.ascontiguousarray(raw[10 * hours :].reshape(4, hours).T).view("<i4").ravel()
    except (zlib.error, ValueError) as error:
        raise DataError("a weather block of the old database is damaged", hint=DAMAGED_HINT) from error
    return values, raw[8 * hours : 9 * hours], late


_STEPS: MappingProxyType[int, Callable[[sa.Connection], None]] = MappingProxyType({1: _from_1_to_2, 2: _from_2_to_3})
