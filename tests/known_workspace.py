"""An invented workspace in memory, with hours and a typical year, for tests of what the desk makes of them.

All weather here is invented: a smooth year with a smooth day, so that no check finds anything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from forecast.config import Settings
from forecast.config.grounds import Grounds
from forecast.config.properties import AreaRow
from forecast.database import Database
from forecast.ingest.imported import Grade, Provider, from_one
from forecast.ingest.keep.store import Replace, write_hours
from forecast.ingest.keep.typical_store import write_typical_year
from forecast.ingest.typical_year import HOURS, TypicalYear
from forecast.panel import Floats, Hours

TEMPERATURE, HUMIDITY, RAIN = "air_temperature_c", "relative_humidity_pct", "rain_mm"
LOGGER = Provider("file", "file loaded by hand", Grade.OBSERVED)
MADE_UP = Provider("made_up", "an invented typical year", Grade.TYPICAL, "the invented office", "CC BY 4.0")
LONG_AFTER = datetime(2060, 7, 20, 4, 0, tzinfo=UTC)
NORTH, WEST = 41.0, -80.0


def workspace(
    stations: Mapping[str, tuple[float, float]],
    fields: Sequence[tuple[float, float]] = (),
    *,
    time_zone: str = "America/New_York",
    tables: Mapping[str, object] | None = None,
) -> Settings:
    """A workspace of some stations, and of areas at places of their own; at the first station where there are none.

    Args:
        stations: latitude and longitude by id, in the order of the settings.
        fields: latitude and longitude of each area's own place.
        time_zone: of the site.
        tables: further tables of ``grounds.toml``.
    """
    grounds = Grounds.model_validate(
        {
            "schema": 1,
            "name": "Invented grounds",
            "time_zone": time_zone,
            "sprayer": {"tank_l": 200},
            "station": [
                {"id": key, "name": f"{key} station", "latitude_deg": n, "longitude_deg": e, "elevation_m": 200}
                for key, (n, e) in stations.items()
            ],
            **(tables or {}),
        }
    )
    places: list[dict[str, object]] = [{"latitude_deg": n, "longitude_deg": e, "elevation_m": 200} for n, e in fields]
    if not places:
        places = [{"station_id": next(iter(stations))}]
    rows = [
        AreaRow.model_validate(
            {
                "property_id": f"p{number}",
                "property_name": f"Field {number}",
                "area_id": f"a{number}",
                "area_name": "lawn",
                "grass": "tall_fescue",
                "size_m2": 1000,
                **place,
            }
        )
        for number, place in enumerate(places)
    ]
    own = {row.place_id: row.own_place for row in rows if row.own_place is not None}
    return Settings(Path("nowhere"), grounds, tuple(row.frozen() for row in rows), (), own)


def run(first: str, count: int) -> Hours:
    hours: Hours = np.datetime64(first, "h") + np.arange(count).astype("timedelta64[h]")
    return hours


def weather(hours: Hours) -> dict[str, Floats]:
    """Temperature and humidity of some hours: a smooth year with a smooth day, no two hours the same."""
    day = (hours - hours.astype("datetime64[Y]").astype("datetime64[h]")).astype(int) / 24
    noise = np.random.default_rng(1).normal(0, 0.2, (2, len(hours)))
    swing = np.sin(2 * np.pi * (day - 0.6))
    return {
        TEMPERATURE: 12 + 12 * np.sin(2 * np.pi * (day - 110) / 365) + 5 * swing + noise[0],
        HUMIDITY: 70 - 15 * swing + noise[1],
    }


def record(
    database: Database,
    station: str,
    hours: Hours,
    values: Mapping[str, Floats] | None = None,
    *,
    source: str = "logger.csv",
    provider: Provider = LOGGER,
    lag_minutes: int = 0,
    now: datetime = LONG_AFTER,
) -> None:
    """Hours of a station into the store; invented ones where no values are given."""
    imported = from_one(hours, weather(hours) if values is None else values, provider, source)
    write_hours(database, station, imported, lag_minutes=lag_minutes, now=now, replace=Replace.ALL)


def typical(
    values: Mapping[str, Floats] | None = None, *, utc_offset_hours: float = -5, source: str = "made_up.epw"
) -> TypicalYear:
    """A typical year whose temperature tells the row it stands in: 0.000 to 8.759 °C."""
    rows = {TEMPERATURE: np.arange(HOURS) / 1000, HUMIDITY: np.full(HOURS, 80.0)}
    return TypicalYear(rows if values is None else values, NORTH, WEST, 200.0, utc_offset_hours, MADE_UP, source, ())


def give_typical_year(
    database: Database, station: str, year: TypicalYear | None = None, now: datetime = LONG_AFTER
) -> None:
    write_typical_year(database, station, typical() if year is None else year, now)
