"""Weather stations near a place, out of Meteostat's list, which is fetched once and kept.

The list is a SQLite file of some tens of megabytes; the meteostat library asks it, and is kept from fetching it by
itself: it would leave half a file behind where a download breaks off.

Data: Meteostat, CC BY 4.0.
"""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd

from forecast.errors import SourceDownError
from forecast.ingest.web.download import Network, download

FILE = "stations.db"
MENDED_FILE = "stations.mended.db"
MOST_BYTES = 300_000_000  # house choice: several times what the list has
NEVER_S = 10**9  # for the library's own refresh
COLUMNS = {
    "stations": ("id", "country", "region", "latitude", "longitude", "elevation", "timezone"),
    "names": ("station", "language", "name"),
    "inventory": ("station", "parameter", "start", "end"),
}
SIGNATURE = b"SQLite format 3\x00"
HUMIDITY, TEMPERATURE = "rhum", "temp"


@dataclass(frozen=True, slots=True)
class Candidate:
    """A station that could stand for a place.

    Attributes:
        meteostat_id: its id in the list.
        name: as the list has it.
        latitude_deg, longitude_deg: where it stands.
        elevation_m: above the sea; None where the list does not say.
        time_zone: as the list has it; empty where it has none.
        distance_km: from the place.
        first_year, last_year: of hours with humidity, or of temperature where the list has no humidity; None where it
            says nothing.
    """

    meteostat_id: str
    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float | None
    time_zone: str
    distance_km: float
    first_year: int | None
    last_year: int | None


def near(
    latitude_deg: float,
    longitude_deg: float,
    copies: Path,
    network: Network,
    now: datetime,
    *,
    reach_km: float,
    most: int,
) -> tuple[Candidate, ...]:
    """Stations by distance.

    Args:
        latitude_deg: of the place.
        longitude_deg: of the place.
        copies: folder of good copies; made where it is missing.
        network: who may be asked, and how long.
        now: the moment.
        reach_km: none further away.
        most: no more than these.

    Raises:
        SourceDownError: the list cannot be fetched and there is no good copy.
    """
    import meteostat  # noqa: PLC0415 - half a second that only this call should pay

    listed = _fetch(copies / FILE, network, now, tuple(meteostat.config.stations_db_endpoints))
    meteostat.config.stations_db_file = str(listed)
    meteostat.config.stations_db_ttl = NEVER_S
    point = meteostat.Point(latitude_deg, longitude_deg)
    table = meteostat.stations.nearby(point, radius=int(1000 * reach_km), limit=most)
    rows = table.reset_index().to_dict("records")
    years = _years(meteostat, [str(row["id"]) for row in rows])
    return tuple(
        Candidate(
            str(row["id"]),
            _text(row["name"]) or str(row["id"]),
            float(row["latitude"]),
            float(row["longitude"]),
            None if pd.isna(row["elevation"]) else float(row["elevation"]),
            _text(row["timezone"]),
            float(row["distance"]) / 1000,
            *years.get(str(row["id"]), (None, None)),
        )
        for row in rows
    )


def _text(cell: Any) -> str:
    """A cell's text; empty where it holds nothing."""
    return "" if pd.isna(cell) else str(cell)


def _fetch(copy: Path, network: Network, now: datetime, endpoints: tuple[str, ...]) -> Path:
    """The list, from the first address that gives it, as the library can ask it."""
    wide = replace(network, limits=replace(network.limits, most_bytes=MOST_BYTES))
    trouble: SourceDownError | None = None
    for endpoint in endpoints:
        try:
            found = download(endpoint, copy, wide, now, accept=_accept, name="the list of stations")
            if found is not None and found.read is None:
                return copy
            if found is not None and found.read is not None:
                mended = copy.with_name(MENDED_FILE)
                mended.write_bytes(found.read)
                return mended
        except SourceDownError as error:
            trouble = error
    raise trouble or SourceDownError("the list of stations is not where it should be", hint="try again later")


def _accept(body: bytes) -> bytes | None:
    """Whether these bytes are the list.

    Returns:
        The list without its stations that stand nowhere, at which the library would stop; None where it has none such.

    Raises:
        ValueError: they are not.
    """
    if not body.startswith(SIGNATURE):
        raise ValueError("it is no SQLite file")
    connection = sqlite3.connect(":memory:")
    try:
        connection.deserialize(body)
        for table, columns in COLUMNS.items():
            there = {row[1] for row in connection.execute(f"PRAGMA table_info({table})")}
            if not there.issuperset(columns):
                raise ValueError(f"its table of {table} lacks {', '.join(c for c in columns if c not in there)}")
        gone = connection.execute("DELETE FROM stations WHERE latitude IS NULL OR longitude IS NULL").rowcount
        connection.commit()
        return connection.serialize() if gone else None
    except sqlite3.Error as error:
        raise ValueError(f"it is damaged: {error}") from error
    finally:
        connection.close()


def _years(meteostat: Any, stations: list[str]) -> dict[str, tuple[int | None, int | None]]:
    """Each station's first and last year of hours with humidity, or with temperature where the list has no humidity."""
    query = (
        "SELECT station, parameter, MIN(start) first, MAX(end) last FROM inventory "
        "WHERE station IN (SELECT value FROM json_each(?)) AND parameter IN (?, ?) GROUP BY station, parameter"
    )
    rows = meteostat.stations.query(query, params=(json.dumps(stations), TEMPERATURE, HUMIDITY)).to_dict("records")
    found: dict[str, tuple[int | None, int | None]] = {}
    for row in sorted(rows, key=lambda row: row["parameter"] == HUMIDITY):  # so that humidity takes the other's place
        found[row["station"]] = (_year(row["first"]), _year(row["last"]))
    return found


def _year(cell: Any) -> int | None:
    day = _text(cell)[:4]
    return int(day) if day.isdigit() else None
