"""Weather coming in: a file or a source into the store."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from forecast.config import COPIES_FOLDER, Settings, Station
from forecast.database import Database
from forecast.errors import Notice, SettingsError
from forecast.ingest.csv_file import read_csv_hours
from forecast.ingest.mapping import read_mapping
from forecast.ingest.meteostat_source import Place, fetch_hours
from forecast.ingest.store import Written, write_hours


def load(
    settings: Settings,
    database: Database,
    station_id: str,
    path: Path,
    mapping_path: Path | None,
    now: datetime,
    *,
    replace: bool,
) -> tuple[Written, tuple[Notice, ...]]:
    """Hours from a CSV file into the store, whole or not at all."""
    station = settings.station(station_id)
    imported = read_csv_hours(path, read_mapping(mapping_path) if mapping_path else None)
    written = write_hours(
        database, station.id, imported, late_minutes=station.observation_lag_minutes, now=now, replace=replace
    )
    return written, imported.notices


def fetch(
    settings: Settings, database: Database, station: Station, years: range, now: datetime
) -> tuple[Written, tuple[Notice, ...]]:
    """Observed hours of some years from the station's source into the store.

    Raises:
        SettingsError: the station has no source.
        SourceDownError: the source cannot be reached and no good copy is at hand.
    """
    if station.meteostat_id is None:
        raise SettingsError(
            f"station {station.id!r} has no source", hint="set meteostat_id in grounds.toml, or load a file"
        )
    place = Place(station.meteostat_id, station.latitude_deg, station.longitude_deg, station.elevation_m)
    imported = fetch_hours(place, years, settings.folder / COPIES_FOLDER)
    written = write_hours(
        database, station.id, imported, late_minutes=station.observation_lag_minutes, now=now, replace=True
    )
    return written, imported.notices
