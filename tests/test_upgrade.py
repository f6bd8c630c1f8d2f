"""Workspaces of older versions come up to this one with every value and record, and the old database is kept."""

import sqlite3
import subprocess
import sys
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from forecast import upgrade as upgrade_module
from forecast.database import SCHEMA_VERSION, Database
from forecast.errors import DataError, OlderWorkspaceError
from forecast.ingest.imported import Grade, Provider
from forecast.ingest.keep.store import imports, providers_of, read_hours
from forecast.records import Details, Entry, record_scouting, sightings
from forecast.upgrade import upgrade

# The tables as version 1 made them, triggers left out.
TABLES_1 = """
CREATE TABLE schema_version (version INTEGER PRIMARY KEY);
INSERT INTO schema_version VALUES (1);
CREATE TABLE weather_block (station_id VARCHAR, quantity VARCHAR, month VARCHAR(7), block BLOB NOT NULL,
  PRIMARY KEY (station_id, quantity, month));
CREATE TABLE weather_import (import_id INTEGER PRIMARY KEY, station_id VARCHAR NOT NULL, imported_utc VARCHAR NOT NULL,
  source VARCHAR NOT NULL, attribution VARCHAR NOT NULL, first_hour_utc VARCHAR NOT NULL,
  last_hour_utc VARCHAR NOT NULL);
INSERT INTO weather_import VALUES
  (1, 'field', '2050-07-20T04:00:00Z', 'logger.csv', '', '2049-12-31T22:00Z', '2050-02-28T23:00Z'),
  (2, 'airport', '2050-07-20T05:00:00Z', 'Alder Reach', 'the weather office, CC BY 4.0', '2048-02-01T00:00Z',
   '2048-02-29T23:00Z');
CREATE TABLE scouting (record_id INTEGER PRIMARY KEY, note VARCHAR);
CREATE TABLE application (record_id INTEGER PRIMARY KEY, note VARCHAR);
INSERT INTO scouting VALUES (1, 'nothing seen');
"""


def packed_1(values: list[float], hours: int, late: int) -> bytes:
    """A month as version 1 packed it: the values first, the rest of the month unknown."""
    figures = np.full(hours, np.nan)
    figures[: len(values)] = values
    known = ~np.isnan(figures)
    flags = np.where(known, 2, 9).astype(np.uint8)
    minutes = np.where(known, late, -1).astype("<i4")
    parts = (
        figures.astype("<f8").view(np.uint8).reshape(-1, 8).T.tobytes(),
        flags.tobytes(),
        bytes(hours),
        minutes.view(np.uint8).reshape(-1, 4).T.tobytes(),
    )
    return b"\x01" + zlib.compress(b"".join(parts), 6)


@pytest.fixture
def old(tmp_path: Path) -> Path:
    path = tmp_path / "workspace.sqlite"
    connection = sqlite3.connect(path)
    connection.executescript(TABLES_1)
    rows = [
        ("field", "air_temperature_c", "2049-12", packed_1([np.nan] * 742 + [1.25, -0.0], 744, 180)),
        ("field", "air_temperature_c", "2050-01", packed_1([2.5], 744, 95)),
        ("field", "air_temperature_c", "2050-02", packed_1([0.1 + 0.2] * 672, 672, 0)),
        ("airport", "rain_mm", "2048-02", packed_1([0.0] * 695 + [7.0], 696, 180)),
    ]
    connection.executemany("INSERT INTO weather_block VALUES (?, ?, ?, ?)", rows)
    connection.commit()
    connection.close()
    return path


def test_every_value_comes_over_with_its_arrival(old: Path) -> None:
    upgrade(old)
    database = Database(old)
    panel = read_hours(database, ["field"])
    assert panel is not None
    temperature = panel.values["air_temperature_c"][:, 0]
    assert str(panel.hours[0]) == "2049-12-31T22"
    assert temperature[:3].tolist() == [1.25, 0.0, 2.5]
    assert np.signbit(temperature[1])
    assert np.count_nonzero(temperature == 0.1 + 0.2) == 672
    assert np.count_nonzero(~np.isnan(temperature)) == 3 + 672
    # The hour of midnight came 95 minutes late.
    known = read_hours(database, ["field"], np.datetime64("2050-01-01T01:34", "m"))
    assert known is not None
    assert str(known.hours[-1]) == "2049-12-31T22"  # that of 23:00 came at 02:00
    known = read_hours(database, ["field"], np.datetime64("2050-01-01T01:35", "m"))
    assert known is not None
    assert str(known.hours[-1]) == "2050-01-01T00"
    airport = read_hours(database, ["airport"])
    assert airport is not None
    assert airport.values["rain_mm"][-1, 0] == 7  # 29 February, 23:00
    assert str(airport.hours[-1]) == "2048-02-29T23"
    database.close()


def test_imports_credits_and_records_come_over(old: Path) -> None:
    upgrade(old)
    database = Database(old)
    assert [done.source for done in imports(database, ["field", "airport"])] == ["logger.csv", "Alder Reach"]
    hour = np.datetime64("2048-02-29T23", "h")
    (credited,) = providers_of(database, "airport", hour, hour)
    assert credited.attribution == "the weather office, CC BY 4.0"
    hour = np.datetime64("2050-01-01T00", "h")
    assert providers_of(database, "field", hour, hour) == {
        Provider("file", "file loaded by hand", Grade.OBSERVED): 1,
    }
    with database.reading() as connection:
        assert connection.exec_driver_sql("SELECT note FROM scouting").scalar() == "nothing seen"
        names = connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'table'").scalars().all()
    assert "weather_block" not in names
    assert {"weather_year", "weather_issued", "weather_withdrawal"} <= set(names)
    database.close()


def test_the_old_database_is_kept_as_it_was(old: Path) -> None:
    def rows(path: Path) -> list[tuple[object, ...]]:
        connection = sqlite3.connect(path)
        found = [
            row
            for query in (
                "SELECT * FROM schema_version",
                "SELECT * FROM weather_block ORDER BY station_id, quantity, month",
                "SELECT * FROM weather_import ORDER BY import_id",
                "SELECT * FROM scouting",
            )
            for row in connection.execute(query)
        ]
        connection.close()
        return found

    before = rows(old)
    kept = upgrade(old)
    assert kept is not None
    assert kept.name == "workspace.schema1.sqlite"
    assert rows(kept) == before
    assert upgrade(old) is None
    assert [path.name for path in old.parent.iterdir() if path.suffix == ".part"] == []


def test_a_copy_that_is_there_is_not_written_over(old: Path) -> None:
    earlier = old.with_name("workspace.schema1.sqlite")
    earlier.write_text("an earlier copy")
    kept = upgrade(old)
    assert kept is not None
    assert kept.name == "workspace.schema1-2.sqlite"
    assert earlier.read_text() == "an earlier copy"


TRY_TO_WRITE = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], timeout=0, isolation_level=None)
try:
    connection.execute("BEGIN IMMEDIATE")
except sqlite3.OperationalError as error:
    print(error)
else:
    print("got the lock")
"""


def test_nobody_else_can_write_while_it_runs(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Were the file opened and closed by this process, the system would drop its lock with the copy."""
    told = []
    copy = upgrade_module._copy_kept

    def copy_and_try(path: Path, version: int) -> Path:
        kept = copy(path, version)
        done = subprocess.run(
            [sys.executable, "-c", TRY_TO_WRITE, str(path)], capture_output=True, text=True, check=True
        )
        told.append(done.stdout.strip())
        return kept

    monkeypatch.setattr(upgrade_module, "_copy_kept", copy_and_try)
    upgrade(old)
    assert told == ["database is locked"]


def test_each_station_keeps_its_own_credit(old: Path) -> None:
    connection = sqlite3.connect(old)
    connection.execute(
        "INSERT INTO weather_import VALUES (3, 'town', '2050-07-20T06:00:00Z', 'Town', 'the other office', "
        "'2048-02-01T00:00Z', '2048-02-29T23:00Z')"
    )
    block = packed_1([0.0] * 695 + [7.0], 696, 180)
    connection.execute("INSERT INTO weather_block VALUES ('town', 'rain_mm', '2048-02', ?)", (block,))
    connection.commit()
    connection.close()
    upgrade(old)
    database = Database(old)
    hour = np.datetime64("2048-02-29T23", "h")
    credit = {name: next(iter(providers_of(database, name, hour, hour))).attribution for name in ("airport", "town")}
    database.close()
    assert credit == {"airport": "the weather office, CC BY 4.0", "town": "the other office"}


def test_an_older_database_is_not_opened_unasked(old: Path) -> None:
    with pytest.raises(OlderWorkspaceError, match=f"schema 1; this one writes {SCHEMA_VERSION}"):
        Database(old)


def test_a_damaged_month_leaves_the_old_database_as_it_was(old: Path) -> None:
    connection = sqlite3.connect(old)
    connection.execute("UPDATE weather_block SET block = x'0102' WHERE month = '2050-01'")
    connection.commit()
    connection.close()
    with pytest.raises(DataError, match="damaged"):
        upgrade(old)
    connection = sqlite3.connect(old)
    assert connection.execute("SELECT version FROM schema_version").fetchone() == (1,)
    assert connection.execute("SELECT count(*) FROM weather_block").fetchone() == (4,)
    assert connection.execute("SELECT count(*) FROM sqlite_master WHERE name = 'weather_year'").fetchone() == (0,)
    connection.close()


# From schema 2: records with their triggers, as that version made them.

COMMON_2 = """record_id INTEGER NOT NULL, recorded_utc VARCHAR NOT NULL, area_id VARCHAR NOT NULL,
  happened_utc VARCHAR NOT NULL, happened_on VARCHAR NOT NULL, by_whom VARCHAR NOT NULL, note VARCHAR NOT NULL,
  amends INTEGER, void_reason VARCHAR"""
TABLES_2 = """
CREATE TABLE schema_version (version INTEGER NOT NULL, PRIMARY KEY (version));
INSERT INTO schema_version VALUES (2);
CREATE TABLE application (@COMMON, label_key VARCHAR NOT NULL, label_json VARCHAR NOT NULL,
  diseases_json VARCHAR NOT NULL, condition VARCHAR NOT NULL, grass VARCHAR NOT NULL, size_m2 FLOAT NOT NULL,
  amount FLOAT, deviations_json VARCHAR NOT NULL, PRIMARY KEY (record_id));
CREATE TABLE scouting (@COMMON, disease VARCHAR NOT NULL, sure BOOLEAN NOT NULL, severity_pct FLOAT,
  PRIMARY KEY (record_id));
CREATE TRIGGER scouting_no_update BEFORE UPDATE ON scouting
  BEGIN SELECT RAISE(ABORT, 'records are append-only'); END;
CREATE TRIGGER scouting_no_delete BEFORE DELETE ON scouting
  BEGIN SELECT RAISE(ABORT, 'records are append-only'); END;
CREATE TRIGGER scouting_no_insert BEFORE INSERT ON scouting
  WHEN EXISTS (SELECT 1 FROM scouting WHERE record_id = NEW.record_id)
  BEGIN SELECT RAISE(ABORT, 'records are append-only'); END;
INSERT INTO scouting VALUES
  (1, '2050-07-10T10:00:00Z', 'lawn', '2050-07-10T09:40:00Z', '2050-07-10', 'Robin', 'by the gate', NULL, NULL,
   'brown_patch', 0, 3.5),
  (2, '2050-07-12T10:00:00Z', 'lawn', '2050-07-10T09:40:00Z', '2050-07-10', 'Robin', 'by the gate', 1, NULL,
   'dollar_spot', 1, NULL),
  (3, '2050-07-13T10:00:00Z', 'lawn', '2050-07-13T09:40:00Z', '2050-07-13', '', '', NULL, NULL, '', 1, NULL);
""".replace("@COMMON", COMMON_2)
READ_2 = """SELECT record_id, recorded_utc, area_id, happened_utc, happened_on, by_whom, note, amends, void_reason,
  disease, sure, severity_pct FROM scouting"""


@pytest.fixture
def second(tmp_path: Path) -> Path:
    path = tmp_path / "workspace.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(TABLES_2)
    return path


@contextmanager
def brought_up(path: Path) -> Iterator[Database]:
    upgrade(path)
    database = Database(path)
    yield database
    database.close()


def test_scouting_records_of_schema_2_read_as_before_and_say_none_of_what_is_new(second: Path) -> None:
    with closing(sqlite3.connect(second)) as connection:
        before = connection.execute(READ_2).fetchall()
    kept = upgrade(second)
    assert kept is not None
    assert kept.name == "workspace.schema2.sqlite"
    with closing(sqlite3.connect(second)) as connection:
        assert connection.execute(READ_2).fetchall() == before
        assert connection.execute("SELECT version FROM schema_version").fetchall() == [(SCHEMA_VERSION,)]
        new = connection.execute(
            "SELECT DISTINCT look_alikes_json, patch_across_mm, threads_at_dawn, lab, lab_result, lab_result_on "
            "FROM scouting"
        ).fetchall()
    assert new == [("[]", None, None, "", "", None)]
    with closing(sqlite3.connect(kept)) as connection:
        assert connection.execute(READ_2).fetchall() == before
        assert connection.execute("SELECT version FROM schema_version").fetchall() == [(2,)]


def test_replays_over_the_records_of_schema_2_tell_what_stood_then(second: Path) -> None:
    with brought_up(second) as database:
        told = {
            known_by: [(one.record_id, one.disease, one.sure, one.look_alikes) for one in sightings(database, known_by)]
            for known_by in ("2050-07-10T09:59:59Z", "2050-07-11T00:00:00Z", "2050-07-14T00:00:00Z")
        }
    assert told["2050-07-10T09:59:59Z"] == []
    assert told["2050-07-11T00:00:00Z"] == [(1, "brown_patch", False, ())]
    assert told["2050-07-14T00:00:00Z"] == [(2, "dollar_spot", True, ()), (3, "", True, ())]


@pytest.mark.parametrize(
    "act",
    [
        "UPDATE scouting SET look_alikes_json = '[\"drought\"]'",
        "UPDATE scouting SET lab_result = 'none'",
        "DELETE FROM scouting",
        "INSERT OR REPLACE INTO scouting SELECT * FROM scouting",
    ],
)
def test_the_triggers_of_schema_2_go_on_refusing(second: Path, act: str) -> None:
    upgrade(second)
    with closing(sqlite3.connect(second)) as connection:
        before = connection.execute("SELECT * FROM scouting").fetchall()
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            connection.execute(act)
        connection.rollback()
        assert connection.execute("SELECT * FROM scouting").fetchall() == before


def test_an_old_record_can_be_amended_with_what_is_new(second: Path) -> None:
    with brought_up(second) as database:
        entry = Entry("lawn", datetime(2050, 7, 13, 5, 40, tzinfo=UTC), amends=3)
        details = Details(("drought",), 304.8, threads_at_dawn=False, lab="the clinic")
        now = datetime(2050, 7, 20, tzinfo=UTC)
        number = record_scouting(database, entry, "", sure=False, severity_pct=None, now=now, details=details)
        told = {one.record_id: one.look_alikes for one in sightings(database, "9999-12-31T23:59:59Z")}
    assert number == 4
    assert told == {2: (), 4: ("drought",)}


def test_a_table_brought_up_is_the_table_made_anew(second: Path, tmp_path: Path) -> None:
    upgrade(second)
    new = tmp_path / "new.sqlite"
    Database(new, create=True).close()
    found = []
    for path in (second, new):
        with closing(sqlite3.connect(path)) as connection:
            found.append(connection.execute("PRAGMA table_info(scouting)").fetchall())
    assert found[0] == found[1], "columns, types, defaults and order"


def test_two_versions_are_come_up_through_in_one_go(old: Path) -> None:
    upgrade(old)
    with closing(sqlite3.connect(old)) as connection:
        row = connection.execute("SELECT note, look_alikes_json, lab FROM scouting").fetchone()
        assert connection.execute("SELECT version FROM schema_version").fetchone() == (SCHEMA_VERSION,)
    assert row == ("nothing seen", "[]", "")
