"""Invented weather stations on the wire: a list of stations and their years, in the forms of the real ones.

Alder Reach is sound; Quill Valley's humidity never passes 86 %, as of a sensor that has drifted; Old Mill is closed;
Far Field is sound and far away.
"""

from __future__ import annotations

import gzip
import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from loopback import Loopback

LATITUDE, LONGITUDE = 41.2, -85.1
ZONE = "America/Indiana/Indianapolis"


@dataclass(frozen=True)
class Invented:
    """A station and what its files hold.

    Attributes:
        key, name, latitude, longitude, elevation, zone: as in the list.
        last: the last day with hours, as the list has it.
        ceiling_pct: its humidity never passes this.
        columns: what it measures.
        until: its readings end with this hour.
        humid_until: its humidity ends with this hour.
        modelled: True where all its figures come from a weather model.
    """

    key: str
    name: str | None
    latitude: float | None
    longitude: float
    elevation: int | None = 250
    last: str | None = "2099-12-31"
    zone: str | None = ZONE
    ceiling_pct: float = 100.0
    columns: tuple[str, ...] = ("temp", "rhum", "prcp", "wspd")
    until: np.datetime64 | None = None
    humid_until: np.datetime64 | None = None
    modelled: bool = False


STATIONS = (
    Invented("T0000", "Alder Reach Airport", 41.22, -85.05, 245),
    Invented("T0001", "Quill Valley", 41.30, -85.30, 260, ceiling_pct=86.0),
    Invented("T0002", "Old Mill", 41.21, -85.11, 240, "2011-05-01"),
    Invented("T0003", "Far Field", 41.70, -85.60, 280),
)
LATE_HOURS = 3  # the newest hours that a file has from a weather model only
AHEAD_HOURS = 48


def station_list(folder: Path, stations: Sequence[Invented] = STATIONS) -> bytes:
    """The list of stations as a SQLite file."""
    path = folder / "stations.db"
    path.unlink(missing_ok=True)
    connection = sqlite3.connect(path)
    connection.executescript(
        """
        CREATE TABLE stations (id TEXT PRIMARY KEY, country TEXT, region TEXT, latitude REAL, longitude REAL,
          elevation INTEGER, timezone TEXT);
        CREATE TABLE names (station TEXT, language TEXT, name TEXT);
        CREATE TABLE identifiers (station TEXT, key TEXT, value TEXT);
        CREATE TABLE inventory (station TEXT, provider TEXT, parameter TEXT, start TEXT, end TEXT, completeness REAL);
        """
    )
    for one in stations:
        row = (one.key, "US", "IN", one.latitude, one.longitude, one.elevation, one.zone)
        connection.execute("INSERT INTO stations VALUES (?, ?, ?, ?, ?, ?, ?)", row)
        connection.execute("INSERT INTO names VALUES (?, 'en', ?)", (one.key, one.name))
        for parameter in one.columns:
            span = (one.key, "isd_lite", parameter, "1990-01-01", one.last)
            connection.execute("INSERT INTO inventory VALUES (?, ?, ?, ?, ?, 98)", span)
    connection.commit()
    connection.close()
    return path.read_bytes()


def year_file(station: Invented, year: int, now: datetime) -> bytes:
    """A station's hours of one year up to now, and what a weather model says of the hours ahead."""
    moment = np.datetime64(now.astimezone(UTC).replace(tzinfo=None), "h")
    first, after = np.datetime64(f"{year}-01-01T00", "h"), np.datetime64(f"{year + 1}-01-01T00", "h")
    hours = np.arange(first, min(after, moment + np.timedelta64(AHEAD_HOURS, "h")), dtype="datetime64[h]")
    chance = np.random.default_rng(year + sum(station.key.encode()))
    count = len(hours)
    clock = (hours - first).astype(int) % 24
    day = (hours - first).astype(int) / 24
    swing = np.sin((clock - 13) / 24 * 2 * np.pi)  # warmest at 19 UTC, early afternoon in Indiana
    days = chance.normal(0, 3, count // 24 + 2)[(hours - first).astype(int) // 24]
    temperature = 11 + 14 * np.sin((day - 110) / 365 * 2 * np.pi) + 5.5 * swing + days + chance.normal(0, 0.4, count)
    figures = {
        "temp": [f"{t:.1f}" for t in temperature],
        "rhum": [f"{h:.0f}" for h in np.clip(80 - 20 * swing + chance.normal(0, 4, count), 20, station.ceiling_pct)],
        "prcp": [f"{r:.1f}" for r in np.where(chance.random(count) < 0.05, chance.exponential(1.5, count), 0.0)],
        "wspd": ["10.8"] * count,
    }
    lines = ["year,month,day,hour," + ",".join(f"{name},{name}_source" for name in station.columns)]
    for row, hour in enumerate(hours):
        if station.until is not None and hour > station.until:
            break
        is_foretold = station.modelled or hour > moment - np.timedelta64(LATE_HOURS, "h")
        source = "dwd_mosmix" if is_foretold else "isd_lite"
        dry = station.humid_until is not None and hour > station.humid_until
        cells = ["," if dry and name == "rhum" else f"{figures[name][row]},{source}" for name in station.columns]
        text = str(hour)
        lines.append(f"{text[:4]},{int(text[5:7])},{int(text[8:10])},{int(text[11:13])},{','.join(cells)}")
    return gzip.compress(("\n".join(lines) + "\n").encode(), mtime=0)


def weather_forecast(now: datetime) -> bytes:
    """Sixteen days in hourly columns: 20 °C and 90 % throughout."""
    first = np.datetime64(now.astimezone(UTC).replace(tzinfo=None), "D").astype("datetime64[m]")
    times = [str(first + np.timedelta64(60 * hour, "m")) for hour in range(384)]
    return json.dumps(
        {
            "latitude": LATITUDE,
            "longitude": LONGITUDE,
            "elevation": 250,
            "utc_offset_seconds": 0,
            "timezone": "UTC",
            "hourly_units": {"time": "iso8601", "temperature_2m": "°C", "relative_humidity_2m": "%"},
            "hourly": {"time": times, "temperature_2m": [20.0] * 384, "relative_humidity_2m": [90] * 384},
        }
    ).encode()


def serve(server: Loopback, folder: Path, now: datetime, years: range, stations: Sequence[Invented] = STATIONS) -> None:
    """Have a server send the list, the years of every open station, and the weather forecast."""
    server.answers["/stations.db"] = (200, station_list(folder, stations))
    for one in stations:
        for year in years:
            ended = min(str(one.until or "9999")[:4], one.last or "9999")[:4]
            if year <= int(ended):
                server.answers[f"/hourly/{year}/{one.key}.csv.gz"] = (200, year_file(one, year, now))


def environment(server: Loopback) -> dict[str, str]:
    """What points the program at a server on this machine."""
    return {
        "FORECAST_ALLOW_HOSTS": "127.0.0.1",
        "MS_HOURLY_ENDPOINT": f"{server.address}/hourly/{{year}}/{{station}}.csv.gz",
        "MS_STATIONS_DB_ENDPOINTS": json.dumps([f"{server.address}/stations.db"]),
    }
