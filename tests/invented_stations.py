"""Invented weather stations on the wire: a list of stations and their years, in the forms of the real ones.

Alder Reach is sound; Quill Valley's humidity never passes 86 %, as of a sensor that has drifted; Old Mill is closed;
Far Field is sound and far away.
"""

from __future__ import annotations

import gzip
import json
import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from loopback import Loopback

LATITUDE, LONGITUDE = 41.2, -85.1
ZONE = "America/Indiana/Indianapolis"
STATIONS = (
    # id, name, latitude, longitude, elevation, last day with hours
    ("T0000", "Alder Reach Airport", 41.22, -85.05, 245, "2099-12-31"),
    ("T0001", "Quill Valley", 41.30, -85.30, 260, "2099-12-31"),
    ("T0002", "Old Mill", 41.21, -85.11, 240, "2011-05-01"),
    ("T0003", "Far Field", 41.70, -85.60, 280, "2099-12-31"),
)
CEILING_PCT = {"T0001": 86.0}
LATE_HOURS = 3  # the newest hours that a file has from a weather model only
AHEAD_HOURS = 48


def station_list(folder: Path) -> bytes:
    """The list of stations as a SQLite file."""
    path = folder / "stations.db"
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
    for key, name, latitude, longitude, elevation, last in STATIONS:
        row = (key, "US", "IN", latitude, longitude, elevation, ZONE)
        connection.execute("INSERT INTO stations VALUES (?, ?, ?, ?, ?, ?, ?)", row)
        connection.execute("INSERT INTO names VALUES (?, 'en', ?)", (key, name))
        for parameter in ("temp", "rhum"):
            span = (key, "isd_lite", parameter, "1990-01-01", last)
            connection.execute("INSERT INTO inventory VALUES (?, ?, ?, ?, ?, 98)", span)
    connection.commit()
    connection.close()
    return path.read_bytes()


def year_file(station: str, year: int, now: datetime) -> bytes:
    """A station's hours of one year up to now, and what a weather model says of the hours ahead."""
    moment = np.datetime64(now.astimezone(UTC).replace(tzinfo=None), "h")
    first, after = np.datetime64(f"{year}-01-01T00", "h"), np.datetime64(f"{year + 1}-01-01T00", "h")
    hours = np.arange(first, min(after, moment + np.timedelta64(AHEAD_HOURS, "h")), dtype="datetime64[h]")
    chance = np.random.default_rng(year + sum(station.encode()))
    count = len(hours)
    clock = (hours - first).astype(int) % 24
    day = (hours - first).astype(int) / 24
    swing = np.sin((clock - 13) / 24 * 2 * np.pi)  # warmest at 19 UTC, early afternoon in Indiana
    days = chance.normal(0, 3, count // 24 + 2)[(hours - first).astype(int) // 24]
    temperature = 11 + 14 * np.sin((day - 110) / 365 * 2 * np.pi) + 5.5 * swing + days + chance.normal(0, 0.4, count)
    humidity = np.clip(80 - 20 * swing + chance.normal(0, 4, count), 20, CEILING_PCT.get(station, 100.0))
    rain = np.where(chance.random(count) < 0.05, chance.exponential(1.5, count), 0.0)
    source = np.where(hours > moment - np.timedelta64(LATE_HOURS, "h"), "dwd_mosmix", "isd_lite")
    rows = [
        f"{str(hour)[:4]},{int(str(hour)[5:7])},{int(str(hour)[8:10])},{int(str(hour)[11:13])},"
        f"{t:.1f},{s},{h:.0f},{s},{r:.1f},{s},10.8,{s}"
        for hour, t, h, r, s in zip(hours, temperature, humidity, rain, source, strict=True)
    ]
    header = "year,month,day,hour,temp,temp_source,rhum,rhum_source,prcp,prcp_source,wspd,wspd_source"
    return gzip.compress(("\n".join([header, *rows]) + "\n").encode(), mtime=0)


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


def serve(server: Loopback, folder: Path, now: datetime, years: range) -> None:
    """Have a server send the list, the years of every open station, and the weather forecast."""
    server.answers["/stations.db"] = (200, station_list(folder))
    for key, *_, last in STATIONS:
        for year in years:
            if year <= int(last[:4]):
                server.answers[f"/hourly/{year}/{key}.csv.gz"] = (200, year_file(key, year, now))


def environment(server: Loopback) -> dict[str, str]:
    """What points the program at a server on this machine."""
    return {
        "FORECAST_ALLOW_HOSTS": "127.0.0.1",
        "MS_HOURLY_ENDPOINT": f"{server.address}/hourly/{{year}}/{{station}}.csv.gz",
        "MS_STATIONS_DB_ENDPOINTS": json.dumps([f"{server.address}/stations.db"]),
    }
