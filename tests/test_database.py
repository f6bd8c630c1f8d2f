"""The workspace's database: whose it is, what it refuses, and what it does when the disk does not do its part."""

import functools
import resource
import signal
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from forecast import database as database_module
from forecast.database import SCHEMA_VERSION, Database
from forecast.errors import BusyError, DataError, MissingInputError, SettingsError, StorageError
from forecast.tables import APPLICATIONS, BLOCKS, SCOUTINGS


@contextmanager
def plain_sqlite(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection past all of the product's code."""
    connection = sqlite3.connect(path)
    yield connection
    connection.commit()
    connection.close()


def also_set(monkeypatch: pytest.MonkeyPatch, pragma: str) -> None:
    """One more setting on every new connection, to have SQLite fail."""
    products_own = database_module._set_pragmas

    def set_pragmas(connection: Any, record: object) -> None:
        products_own(connection, record)
        connection.execute(f"PRAGMA {pragma}").close()

    monkeypatch.setattr(database_module, "_set_pragmas", set_pragmas)


def put(database: Database, year: int, size: int = 10) -> None:
    """One block of some bytes."""
    with database.writing() as connection:
        key = {"station_id": "logger", "quantity": "rain_mm", "year": year}
        connection.execute(sa.insert(BLOCKS).values(**key, block=bytes(size)))


def years(database: Database) -> list[int]:
    with database.reading() as connection:
        return list(connection.execute(sa.select(BLOCKS.c.year).order_by(BLOCKS.c.year)).scalars())


def test_a_new_database_has_every_table_and_its_version(tmp_path: Path) -> None:
    path = tmp_path / "workspace.sqlite"
    Database(path, create=True).close()
    with plain_sqlite(path) as connection:
        assert connection.execute("SELECT version FROM schema_version").fetchall() == [(SCHEMA_VERSION,)]
        tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert {BLOCKS.name, APPLICATIONS.name, SCOUTINGS.name} <= tables


def test_the_settings_are_the_safe_ones(database: Database) -> None:
    with database.reading() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys")
        }
    assert found == {"journal_mode": "delete", "synchronous": 2, "foreign_keys": 1}  # 2 is FULL (sqlite.org/pragma)


def test_every_connection_is_set_to_the_safe_settings_whatever_they_were(tmp_path: Path) -> None:
    # SQLite's own defaults are these too, until a build or another program says otherwise.
    with plain_sqlite(tmp_path / "fast.sqlite") as connection:
        for pragma in ("journal_mode=WAL", "synchronous=OFF", "foreign_keys=OFF"):
            connection.execute(f"PRAGMA {pragma}")
        database_module._set_pragmas(connection, None)
        names = ("journal_mode", "synchronous", "foreign_keys")
        assert [connection.execute(f"PRAGMA {name}").fetchone()[0] for name in names] == ["delete", 2, 1]


def test_a_database_that_was_set_to_a_write_ahead_log_is_set_back(database: Database) -> None:
    put(database, 2057)
    database.close()
    with plain_sqlite(database.path) as connection:
        assert connection.execute("PRAGMA journal_mode=WAL").fetchone() == ("wal",)
    again = Database(database.path)
    with again.reading() as connected:
        assert connected.exec_driver_sql("PRAGMA journal_mode").scalar() == "delete"
    assert years(again) == [2057]
    again.close()
    assert [path.name for path in database.path.parent.iterdir()] == [database.path.name]


@pytest.mark.parametrize("name", ["50% off?.sqlite", "a#b&c=d.sqlite", "grün.sqlite"])
def test_a_path_may_hold_any_signs(tmp_path: Path, name: str) -> None:
    database = Database(tmp_path / name, create=True)
    put(database, 2057)
    database.close()
    assert [path.name for path in tmp_path.iterdir()] == [name]
    database = Database(tmp_path / name)
    assert years(database) == [2057]
    database.close()


def test_create_leaves_an_existing_database_as_it_is(database: Database) -> None:
    put(database, 2057)
    again = Database(database.path, create=True)
    assert years(again) == [2057]
    again.close()


@pytest.mark.parametrize("create", [False, True])
def test_a_database_of_a_newer_version_is_refused_and_left_as_it_is(database: Database, create: bool) -> None:
    database.close()
    with plain_sqlite(database.path) as connection:
        connection.execute("UPDATE schema_version SET version = ?", (SCHEMA_VERSION + 1,))
        connection.execute("DROP TABLE scouting")  # so that making what is missing would show
    before = database.path.read_bytes()
    with pytest.raises(SettingsError) as caught:
        Database(database.path, create=create)
    assert caught.value.exit_code == 78
    assert f"newer version (schema {SCHEMA_VERSION + 1}; this one knows {SCHEMA_VERSION})" in caught.value.what
    assert database.path.read_bytes() == before
    assert [path.name for path in database.path.parent.iterdir()] == [database.path.name]


@pytest.mark.parametrize("create", [False, True])
def test_another_programs_database_is_refused_and_left_as_it_is(tmp_path: Path, create: bool) -> None:
    path = tmp_path / "bookmarks.sqlite"
    with plain_sqlite(path) as connection:
        connection.execute("CREATE TABLE bookmark (address TEXT)")
    before = path.read_bytes()
    with pytest.raises(SettingsError, match="is no workspace database"):
        Database(path, create=create)
    assert path.read_bytes() == before


def test_a_refused_database_is_let_go_of(tmp_path: Path) -> None:
    path = tmp_path / "bookmarks.sqlite"
    with plain_sqlite(path) as connection:
        connection.execute("CREATE TABLE bookmark (address TEXT)")
    told: list[str] = []
    listeners = {name: functools.partial(_tell, told, name) for name in ("connect", "close")}
    for name, listener in listeners.items():
        sa.event.listen(sa.pool.Pool, name, listener)
    try:
        with pytest.raises(SettingsError):
            Database(path)
    finally:
        for name, listener in listeners.items():
            sa.event.remove(sa.pool.Pool, name, listener)
    assert told == ["connect", "close"]


def _tell(told: list[str], name: str, *_: object) -> None:
    told.append(name)


def test_a_database_without_a_version_in_it_is_refused(database: Database) -> None:
    database.close()
    with plain_sqlite(database.path) as connection:
        connection.execute("DELETE FROM schema_version")
    with pytest.raises(SettingsError, match="is no workspace database"):
        Database(database.path)


def test_an_empty_file_is_no_workspace_database(tmp_path: Path) -> None:
    path = tmp_path / "workspace.sqlite"
    path.touch()
    with pytest.raises(SettingsError, match="is no workspace database"):
        Database(path)
    assert path.read_bytes() == b""


def test_a_file_that_is_no_database_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "workspace.sqlite"
    path.write_text("Dear greenkeeper,\n" * 100)
    with pytest.raises(DataError) as caught:
        Database(path)
    assert caught.value.exit_code == 65
    assert "is damaged" in caught.value.what
    assert path.read_text() == "Dear greenkeeper,\n" * 100


def test_a_database_overwritten_in_the_middle_is_refused(database: Database) -> None:
    for number in range(10, 40):
        put(database, 2000 + number, size=5000)
    database.close()
    raw = bytearray(database.path.read_bytes())
    raw[4096:] = b"\xa5" * len(raw[4096:])  # all but the first page
    database.path.write_bytes(raw)
    with pytest.raises(DataError, match="is damaged"):
        years(database)


def test_a_database_that_is_not_there_is_missing_input_and_none_is_made(tmp_path: Path) -> None:
    with pytest.raises(MissingInputError) as caught:
        Database(tmp_path / "workspace.sqlite")
    assert caught.value.exit_code == 66
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_cannot_hold_a_database(tmp_path: Path) -> None:
    with pytest.raises(StorageError) as caught:
        Database(tmp_path / "gone" / "workspace.sqlite", create=True)
    assert caught.value.exit_code == 74


def test_a_read_only_database_can_be_read_and_not_written(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    put(database, 2057)
    also_set(monkeypatch, "query_only=ON")  # file rights would not stop a test that runs as root
    second = Database(database.path)
    assert years(second) == [2057]
    with pytest.raises(StorageError, match="readonly"):
        put(second, 2058)
    second.close()
    assert years(database) == [2057]


@pytest.mark.parametrize("cache", [2000, 10], ids=["as it is", "in a small memory"])
def test_a_full_disk_is_told_and_what_stood_before_still_stands(
    database: Database, monkeypatch: pytest.MonkeyPatch, cache: int
) -> None:
    put(database, 2057)
    with plain_sqlite(database.path) as connection:
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
    also_set(monkeypatch, f"max_page_count={pages + 100}")
    also_set(monkeypatch, f"cache_size={cache}")
    full = Database(database.path)
    with pytest.raises(StorageError) as caught:
        put(full, 2058, size=200 * 4096)  # twice the pages that are left
    assert caught.value.exit_code == 74
    assert "full" in caught.value.what
    assert years(full) == [2057]
    put(full, 2059)  # a smaller one fits, on the same connection
    assert years(full) == [2057, 2059]
    full.close()


def test_a_failing_write_is_told_and_what_stood_before_still_stands(database: Database) -> None:
    # A limit on the size of files makes the operating system refuse the write itself, after which SQLite has
    # rolled back already and must not be asked to again.
    put(database, 2057)
    size = database.path.stat().st_size
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    old_handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size + 4096, before[1]))
    try:
        with pytest.raises(StorageError):
            put(database, 2058, size=4_000_000)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, old_handler)
    assert years(database) == [2057]
    put(database, 2059)
    assert years(database) == [2057, 2059]


class SlipError(Exception):
    """A mistake in the middle of a write."""


def test_an_error_in_the_middle_takes_the_whole_write_back(database: Database) -> None:
    def slip() -> None:
        with database.writing() as connection:
            connection.execute(sa.insert(BLOCKS).values(station_id="a", quantity="b", year=2057, block=b""))
            raise SlipError

    with pytest.raises(SlipError):
        slip()
    assert years(database) == []
    put(database, 2057)
    assert years(database) == [2057]


def test_an_error_in_the_middle_lets_go_of_the_lock_at_once(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database_module, "BUSY_S", 0.2)
    second = Database(database.path)

    def slip() -> None:
        with database.writing() as connection:
            connection.execute(sa.insert(BLOCKS).values(station_id="a", quantity="b", year=2057, block=b""))
            raise SlipError

    with pytest.raises(SlipError):
        slip()
    put(second, 2058)
    assert years(database) == [2058]
    second.close()


def test_a_commit_that_a_reader_holds_up_too_long_is_taken_back(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database_module, "BUSY_S", 0.2)
    writer = Database(database.path)
    with database.reading() as connection:
        connection.execute(sa.select(BLOCKS.c.year)).all()
        with pytest.raises(BusyError):
            put(writer, 2057)
    assert years(writer) == []
    put(writer, 2058)
    assert years(database) == [2058]
    writer.close()
