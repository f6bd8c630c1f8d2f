"""Weather stations near a place, out of Meteostat's list, which is fetched once and kept.

The list is a SQLite file of some tens of megabytes; the meteostat library asks it, and is kept from fetching it by
itself: it would leave half a file behind where a download breaks off.

Data: Meteostat, CC BY 4.0.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from forecast.errors import SourceDownError
from forecast.ingest.web.download import Network, download

FILE = "stations.db"
MOST_BYTES = 300_000_000  # house choice: several times what the list has
NEVER_S = 10**9  # for the library's own refresh
TABLES = {"stations", "names", "inventory"}
SIGNATURE = b"SQLite format 3\x00"
HUMIDITY, TEMPERATURE = "rhum", "temp"


@dataclass(frozen=True, slots=True)
class Candidate:
    """A station that could stand for a place.

    Attributes:
        meteostat_id: its id in the list.
        name: as the list has it.
        latitude_deg, longitude_deg, elevation_m: where it stands.
        time_zone: as the list has it; empty where it has none.
        distance_km: from the place.
        first_year, last_year: of hours with humidity, as the list has it; None where it says nothing.
    """

    meteostat_id: str
    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
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

    copy = copies / FILE
    _fetch(copy, network, now, tuple(meteostat.config.stations_db_endpoints))
    meteostat.config.stations_db_file = str(copy)
    meteostat.config.stations_db_ttl = NEVER_S
    point = meteostat.Point(latitude_deg, longitude_deg)
    table = meteostat.stations.nearby(point, radius=int(1000 * reach_km), limit=most)
    found = []
    for row in table.reset_index().to_dict("records"):
        years = _years(meteostat, str(row["id"]))
        found.append(
            Candidate(
                str(row["id"]),
                str(row["name"]),
                float(row["latitude"]),
                float(row["longitude"]),
                float(row["elevation"] or 0.0),
                str(row["timezone"] or ""),
                float(row["distance"]) / 1000,
                *years,
            )
        )
    return tuple(found)


def _fetch(copy: Path, network: Network, now: datetime, endpoints: tuple[str, ...]) -> None:
    """The list into its place, from the first address that gives it."""
    wide = replace(network, limits=replace(network.limits, most_bytes=MOST_BYTES))
    trouble: SourceDownError | None = None
    for endpoint in endpoints:
        try:
            if download(endpoint, copy, wide, now, accept=_accept, name="the list of stations") is not None:
                return
        except SourceDownError as error:
            trouble = error
    raise trouble or SourceDownError("the list of stations is not where it should be", hint="try again later")


def _accept(body: bytes) -> None:
    """Whether these bytes are the list.

    Raises:
        ValueError: they are not.
    """
    if not body.startswith(SIGNATURE):
        raise ValueError("it is no SQLite file")
    connection = sqlite3.connect(":memory:")
    try:
        connection.deserialize(body)
        names = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if not names >= TABLES:
            raise ValueError(f"it lacks {', '.join(sorted(TABLES - names))}")
        connection.execute("SELECT id, latitude, longitude, elevation, timezone FROM stations LIMIT 1").fetchall()
    except sqlite3.Error as error:
        raise ValueError(f"it is damaged: {error}") from error
    finally:
        connection.close()


def _years(meteostat: object, station: str) -> tuple[int | None, int | None]:
    """First and last year of hours with humidity, or with temperature where the list has no humidity."""
    query = "SELECT parameter, MIN(start) first, MAX(end) last FROM inventory WHERE station = ? GROUP BY parameter"
    rows = meteostat.stations.query(query, params=(station,)).to_dict("records")  # type: ignore[attr-defined]
    spans = {row["parameter"]: (int(row["first"][:4]), int(row["last"][:4])) for row in rows if row["first"]}
    return spans.get(HUMIDITY) or spans.get(TEMPERATURE) or (None, None)
