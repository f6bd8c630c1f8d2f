"""Prints how many station-years a second the store reads, beside one row an hour in the same run.

A station-year is 8,760 hours of temperature, humidity and rain with flags and origin. Run it by hand or from the CI.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from forecast.database import Database
from forecast.ingest.imported import Grade, Provider, from_one
from forecast.ingest.keep.store import read_hours, write_hours

NAMES = ("air_temperature_c", "relative_humidity_pct", "rain_mm")
STATIONS, YEARS = 40, 10
LEAST_A_SECOND = 1200
NOW = datetime(2060, 1, 1, tzinfo=UTC)
PROVIDER = Provider("benchmark", "figures for the benchmark", Grade.OBSERVED)


def invented(seed: int) -> dict[str, np.ndarray[tuple[int], np.dtype[np.float64]]]:
    """Ten years of figures with the decimals and holes that stations have."""
    chance = np.random.default_rng(seed)
    count = YEARS * 8760
    wave = 12 + 10 * np.sin(np.arange(count) * 2 * np.pi / 8760) + 5 * np.sin(np.arange(count) * 2 * np.pi / 24)
    temperature = np.round(wave + chance.normal(0, 2, count), 1)
    humidity = np.round(np.clip(75 - 2 * (temperature - wave) + chance.normal(0, 12, count), 10, 100))
    rain = np.where(chance.random(count) < 0.06, np.round(chance.exponential(1.2, count), 1), 0.0)
    for array in (temperature, humidity, rain):
        array[chance.random(count) < 0.01] = np.nan
    return dict(zip(NAMES, (temperature, humidity, rain), strict=True))


def rate(read: Callable[[int], object], stations: int) -> float:
    """Station-years a second, the best of three rounds."""
    best = 0.0
    for _ in range(3):
        began = time.perf_counter()
        for station in range(stations):
            read(station)
        best = max(best, stations * YEARS / (time.perf_counter() - began))
    return best


def main() -> int:
    """Fill both, read both, print; 1 where the store is too slow."""
    hours = np.datetime64("2041-01-01T00", "h") + np.arange(YEARS * 8760).astype("timedelta64[h]")
    with tempfile.TemporaryDirectory() as folder:
        database = Database(Path(folder) / "workspace.sqlite", create=True)
        began = time.perf_counter()
        for station in range(STATIONS):
            one = from_one(hours, invented(station), PROVIDER, "benchmark")
            write_hours(database, f"station-{station}", one, lag_minutes=180, now=NOW)
        written = STATIONS * YEARS / (time.perf_counter() - began)
        size_kb = database.path.stat().st_size / 1000 / (STATIONS * YEARS)
        blocks = rate(lambda station: read_hours(database, [f"station-{station}"]), STATIONS)
        together = rate(lambda _: read_hours(database, [f"station-{n}" for n in range(10)]), 1) * 10
        database.close()

        rows = sqlite3.connect(Path(folder) / "rows.sqlite")
        rows.execute(
            "CREATE TABLE hour (station TEXT, hour INTEGER, t REAL, t_flag INT, t_origin INT, h REAL, h_flag INT, "
            "h_origin INT, r REAL, r_flag INT, r_origin INT, PRIMARY KEY (station, hour)) WITHOUT ROWID"
        )
        few = 4
        for station in range(few):
            columns = [array.tolist() for array in invented(station).values()]
            rows.executemany(
                "INSERT INTO hour VALUES (?, ?, ?, 2, 0, ?, 2, 0, ?, 2, 0)",
                (
                    (f"station-{station}", hour, *values)
                    for hour, *values in zip(range(len(hours)), *columns, strict=True)
                ),
            )
        rows.commit()

        def read_rows(station: int) -> object:
            found = rows.execute("SELECT * FROM hour WHERE station = ? ORDER BY hour", (f"station-{station}",))
            return np.array([row[1:] for row in found], np.float64)

        one_row_an_hour = rate(read_rows, few)
        rows.close()
    print(f"store: read {blocks:,.0f} station-years/s one by one, {together:,.0f} ten stations at once")
    print(f"store: written {written:,.0f} station-years/s, {size_kb:.1f} kB a station-year")
    print(f"one row an hour: read {one_row_an_hour:,.0f} station-years/s")
    return 0 if blocks >= LEAST_A_SECOND else 1


if __name__ == "__main__":
    sys.exit(main())
