"""The workspace's database: SQLite by default, reached through SQLAlchemy Core so that a URL can name another.

Safe settings: rollback journal and full sync. The write-ahead log is left alone, since SQLite up to 3.51.2 can
corrupt it when two connections checkpoint at once (sqlite.org/wal.html).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from forecast.errors import BusyError, DataError, MissingInputError, OlderWorkspaceError, SettingsError, StorageError
from forecast.tables import METADATA, VERSION

SCHEMA_VERSION = 3
BUSY_S = 10


class Database:
    """An open database.

    Raises:
        SettingsError: it was made by another version; the file is left as it is.
    """

    def __init__(self, path: Path, *, create: bool = False, older_too: bool = False) -> None:
        if not create and not path.exists():
            raise MissingInputError(
                f"there is no workspace database at {path}",
                hint="name the workspace's folder, or make one with 'forecast start'",
            )
        self.path = path
        # isolation_level None hands BEGIN and COMMIT to us: the driver's own would start a write too late.
        self._engine = sa.create_engine(
            sa.URL.create("sqlite", database=str(path)), connect_args={"timeout": BUSY_S, "isolation_level": None}
        )
        sa.event.listen(self._engine, "connect", _set_pragmas)
        try:
            if create:
                self._make()
            self._check_version(older_too=older_too)
        except BaseException:
            self.close()
            raise

    def _make(self) -> None:
        with self.writing() as connection:
            if not sa.inspect(connection).get_table_names():  # what another version made is left as it is
                METADATA.create_all(connection)
                connection.execute(sa.insert(VERSION).values(version=SCHEMA_VERSION))

    def _check_version(self, *, older_too: bool) -> None:
        with self.reading() as connection:
            has_version = sa.inspect(connection).has_table(VERSION.name)
            version = connection.execute(sa.select(VERSION.c.version)).scalar() if has_version else None
        if version is None:
            raise SettingsError(f"{self.path} is no workspace database", hint="name the workspace's folder")
        if version > SCHEMA_VERSION:
            raise SettingsError(
                f"{self.path} was made by a newer version (schema {version}; this one knows {SCHEMA_VERSION})",
                hint="install the newer version; the workspace was left as it is",
            )
        if version < SCHEMA_VERSION and not older_too:
            raise OlderWorkspaceError(
                f"{self.path} was made by an older version (schema {version}; this one writes {SCHEMA_VERSION})",
                hint="any forecast command with --workspace brings it up to date and keeps a copy",
            )

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection whose reads all see one state."""
        with self._connected("BEGIN") as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A connection that holds the write lock from the start; all is written at its end, or nothing.

        Raises:
            BusyError: another process has been writing for ten seconds.
            StorageError: the disk is full or fails.
        """
        with self._connected("BEGIN IMMEDIATE") as connection:
            yield connection

    @contextmanager
    def _connected(self, begin: str) -> Iterator[sa.Connection]:
        try:
            with self._engine.connect() as connection:
                connection.exec_driver_sql(begin)
                try:
                    yield connection
                except BaseException:
                    if _in_transaction(connection):  # SQLite has rolled back by itself where the disk failed
                        connection.exec_driver_sql("ROLLBACK")
                    raise
                connection.exec_driver_sql("COMMIT")
        except sa.exc.OperationalError as error:
            raise _as_ours(error, self.path) from error
        except sa.exc.DatabaseError as error:
            if "not a database" in str(error) or "malformed" in str(error):
                raise DataError(
                    f"{self.path} is damaged: {error.orig}", hint="put the last backup in its place"
                ) from error
            raise

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()


def _set_pragmas(connection: Any, _record: object) -> None:
    cursor = connection.cursor()
    cursor.execute("PRAGMA journal_mode=DELETE")
    cursor.execute("PRAGMA synchronous=FULL")
    cursor.execute("PRAGMA foreign_keys=ON")
    cursor.close()


def _in_transaction(connection: sa.Connection) -> bool:
    driver: Any = connection.connection.dbapi_connection
    return bool(driver.in_transaction)


def _as_ours(error: sa.exc.OperationalError, path: Path) -> Exception:
    text = str(error.orig)
    if "locked" in text or "busy" in text:
        return BusyError(f"{path} is in use by another process", hint="try again in a moment")
    if "full" in text or "disk I/O" in text or "readonly" in text or "unable to open" in text:
        return StorageError(f"{path} cannot be used: {text}", hint="free some space or check the folder's rights")
    return error
