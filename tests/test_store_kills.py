"""A writer killed at any moment: what it acknowledged stands whole, what it did not is whole or absent.

A kill leaves the operating system running, so this shows the order of writes, not what a power cut does to a disk.
"""

import os
import signal
import sqlite3
import time
import warnings
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from typing import Any, NoReturn

import numpy as np
import pytest
import sqlalchemy as sa

from forecast import database as database_module
from forecast.database import Database
from forecast.errors import ForecastError
from forecast.ingest.imported import Grade, ImportedHours, Provider, from_one
from forecast.ingest.keep.store import read_hours, write_hours
from forecast.tables import IMPORTS

KILLS = 300
NOW = datetime(2090, 7, 20, 4, 0, tzinfo=UTC)
NAMES = ("air_temperature_c", "relative_humidity_pct", "rain_mm")
# Neighbouring loads share a year: each changes three blocks or more, which hold hours that were acknowledged before.
HOURS_A_LOAD = 40 * 24
FIRST_HOUR = np.datetime64("2040-01-20T00", "h")
LONGEST_WAIT_S = 0.03  # a few loads; the kill falls anywhere in them
Blocks = dict[tuple[str, str, int], bytes]
PROVIDER = Provider("kills", "figures for the kills", Grade.OBSERVED)


def load(number: int) -> ImportedHours:
    """The hours of one load; figures of the full length of a float, so that blocks take several pages."""
    hours = FIRST_HOUR + np.arange(number * HOURS_A_LOAD, (number + 1) * HOURS_A_LOAD)
    figures = np.random.default_rng(number).uniform(0, 60, (len(NAMES), HOURS_A_LOAD))
    return from_one(hours, dict(zip(NAMES, figures, strict=True)), PROVIDER, "kills")


def write_until_killed(path: Path, station: str, acknowledge: int) -> NoReturn:
    """What the child does: load after load, a byte into the pipe after each."""
    try:
        database = Database(path)
        for number in count():
            write_hours(database, station, load(number), lag_minutes=0, now=NOW)
            os.write(acknowledge, b".")
    finally:
        os._exit(1)  # only on an error: the parent expects a kill


def acknowledged_when_killed(path: Path, station: str, chance: np.random.Generator) -> int:
    """Start a writer, kill it at a random moment, and count its acknowledged loads."""
    reading, writing = os.pipe()
    with warnings.catch_warnings():
        # Later Pythons warn of a fork beside threads; numerical libraries keep idle ones, which the child needs not.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:
        write_until_killed(path, station, writing)
    os.close(writing)
    acknowledged = sum(len(os.read(reading, 1)) for _ in range(chance.integers(0, 3)))
    time.sleep(chance.uniform(0, LONGEST_WAIT_S))
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    while more := os.read(reading, 4096):
        acknowledged += len(more)
    os.close(reading)
    assert os.WIFSIGNALED(status), "the writer ended before it was killed"
    return acknowledged


def torn(path: Path, station: str, acknowledged: int) -> str:
    """What is wrong with the database; empty when nothing is."""
    try:
        database = Database(path)
        with database.reading() as connection:
            integrity = connection.exec_driver_sql("PRAGMA integrity_check").scalar()
            imports = connection.execute(sa.select(sa.func.count()).where(IMPORTS.c.station_id == station)).scalar_one()
        stored = read_hours(database, (station,))
        database.close()
    except (ForecastError, sa.exc.DatabaseError) as error:
        return str(error)
    if integrity != "ok":
        return str(integrity)
    if imports not in (acknowledged, acknowledged + 1):
        return f"{imports} loads stand, {acknowledged} were acknowledged"
    loads = [load(number) for number in range(imports)]
    if stored is None or not loads:
        return "" if stored is None and not loads else f"{imports} loads stand and hours are {stored}"
    for name in NAMES:
        figures = np.concatenate([hours.values[name] for hours in loads])
        if not np.array_equal(stored.values[name][:, 0], figures):
            return f"{name} is not that of {imports} whole loads"
    return ""


def blocks(path: Path) -> Blocks:
    """Every stored block, bytes as they lie."""
    connection = sqlite3.connect(path)
    rows = connection.execute("SELECT station_id, quantity, year, block FROM weather_year").fetchall()
    connection.close()
    return {(station, quantity, year): block for station, quantity, year, block in rows}


def set_after_the_products_own(monkeypatch: pytest.MonkeyPatch, *pragmas: str) -> None:
    """Settings of this test's own on every new connection."""
    products_own = database_module._set_pragmas

    def set_pragmas(connection: Any, record: object) -> None:
        products_own(connection, record)
        for pragma in pragmas:
            connection.execute(f"PRAGMA {pragma}").close()

    monkeypatch.setattr(database_module, "_set_pragmas", set_pragmas)


# With a cache of ten pages, pages go into the file while a load is still being written, as they do in a small memory.
SMALL_CACHE = "cache_size=10"


@pytest.mark.long
@pytest.mark.parametrize("pragmas", [(), (SMALL_CACHE,)], ids=["as it is", "in a small memory"])
def test_a_writer_killed_at_any_moment_leaves_whole_loads(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, pragmas: tuple[str, ...]
) -> None:
    set_after_the_products_own(monkeypatch, *pragmas)
    path = tmp_path / "workspace.sqlite"
    Database(path, create=True).close()
    chance = np.random.default_rng(20500718)
    journal = path.with_name(f"{path.name}-journal")
    settled: Blocks = {}
    in_the_middle = acknowledged_in_all = 0
    for number in range(KILLS):
        station = f"killed-{number:03}"
        acknowledged = acknowledged_when_killed(path, station, chance)
        in_the_middle += journal.exists()
        acknowledged_in_all += acknowledged
        assert torn(path, station, acknowledged) == ""
        now = blocks(path)
        assert {key: block for key, block in now.items() if key[0] != station} == settled
        settled = now
    assert in_the_middle > KILLS / 10  # kills that fell while a write was under way, else the test shows little
    assert acknowledged_in_all > KILLS / 2


@pytest.mark.long
def test_the_same_kills_tear_a_database_that_keeps_no_journal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The control: the test above must not pass because it never kills where it hurts.

    With the journal off, nothing takes back the pages that reached the file before the kill.
    """
    path = tmp_path / "workspace.sqlite"
    Database(path, create=True).close()
    set_after_the_products_own(monkeypatch, "journal_mode=OFF", "synchronous=OFF", SMALL_CACHE)
    chance = np.random.default_rng(20500718)
    for number in range(KILLS):
        station = f"killed-{number:03}"
        if torn(path, station, acknowledged_when_killed(path, station, chance)):
            return
    pytest.fail(f"{KILLS} kills tore nothing")
