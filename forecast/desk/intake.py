"""Weather coming in: a file or a source into the store, a weather forecast into the archive."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from forecast.clock import utc_minute
from forecast.config import COPIES_FOLDER, Settings, Station
from forecast.database import Database
from forecast.desk.hours import TYPICAL_KM
from forecast.desk.sources import network, service
from forecast.errors import DataError, MissingInputError, Notice, SettingsError
from forecast.ingest.forecast_source import fetch_forecast
from forecast.ingest.imported import ImportedHours
from forecast.ingest.keep.archive import archive
from forecast.ingest.keep.store import Replace, Written, write_hours
from forecast.ingest.logger.csv_file import read_csv_hours
from forecast.ingest.logger.mapping import read_mapping
from forecast.ingest.meteostat_source import Place, fetch_hours
from forecast.physics.distance import distance_km

FORMS = ("csv", "ghcnh", "typical_year", "hour_columns", "grid_intervals")
_FORM_OF_ENDING = {".psv": "ghcnh", ".epw": "typical_year"}


@dataclass(frozen=True, slots=True)
class Intake:
    """What came in.

    Attributes:
        written: values that went into the store; None where the file was no observation.
        issue: number of the archived forecast; None where there was none or it was kept already.
        notices: what a reader should know.
    """

    written: Written | None
    issue: int | None
    notices: tuple[Notice, ...]


def load(
    settings: Settings,
    database: Database,
    station_id: str,
    path: Path,
    now: datetime,
    *,
    mapping: Path | None = None,
    form: str | None = None,
    replace: bool = False,
) -> Intake:
    """A file into the store or the archive, whole or not at all.

    Args:
        settings: the workspace's.
        database: the workspace's.
        station_id: whose weather it is.
        path: the file.
        now: moment of the load.
        mapping: how a CSV file is to be read.
        form: one of :data:`FORMS`; by the file's ending when left out.
        replace: let new values take the place of others.
    """
    station = settings.station(station_id)
    form = form or _FORM_OF_ENDING.get(path.suffix.lower(), "csv")
    if form == "typical_year":
        return _load_typical_year(database, station, path, now)
    if form in {"hour_columns", "grid_intervals"}:
        return _load_forecast(database, station, path, form, now)
    if form == "ghcnh":
        from forecast.ingest import ghcnh  # noqa: PLC0415 - only this form needs it

        imported = ghcnh.read(_bytes(path), source=path.name)
    else:
        imported = read_csv_hours(path, read_mapping(mapping) if mapping else None, now=now)
    return _store(database, station, imported, now, Replace.ALL if replace else Replace.NONE)


def _store(
    database: Database,
    station: Station,
    imported: ImportedHours,
    now: datetime,
    replace: Replace,
    looked: tuple[np.datetime64, np.datetime64] | None = None,
) -> Intake:
    lag = station.observation_lag_minutes
    written = write_hours(database, station.id, imported, lag_minutes=lag, now=now, replace=replace, looked=looked)
    text = (
        f"{written.kept} values of other sources stand and differ: they were kept (weather load --replace changes them)"
    )
    kept = (Notice(text),) if written.kept else ()
    return Intake(written, None, (*imported.notices, *kept))


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise MissingInputError(f"{path} cannot be read: {error.strerror}", hint="check the path") from None


def _load_forecast(database: Database, station: Station, path: Path, form: str, now: datetime) -> Intake:
    from forecast.ingest import grid_intervals, hour_columns  # noqa: PLC0415

    read = hour_columns.read if form == "hour_columns" else grid_intervals.read
    issued = read(_bytes(path), source=path.name)
    if issued.issued_utc is None:
        raise DataError(
            f"{path} does not say when the forecast was issued, so that it cannot be archived",
            hint="let 'forecast weather fetch' or 'forecast daily' fetch it: then its moment is known",
        )
    return Intake(None, archive(database, station.id, issued, now), issued.notices)


def _load_typical_year(database: Database, station: Station, path: Path, now: datetime) -> Intake:
    from forecast.ingest.keep.typical_store import write_typical_year  # noqa: PLC0415
    from forecast.ingest.typical_year import read  # noqa: PLC0415

    typical = read(_bytes(path), source=path.name)
    far_km = float(
        distance_km(typical.latitude_deg, typical.longitude_deg, station.latitude_deg, station.longitude_deg)
    )
    if far_km > TYPICAL_KM:
        raise DataError(
            f"{path} is the climate of a place {far_km:,.0f} km from station {station.id!r}",
            hint=f"take one from within {TYPICAL_KM:.0f} km, or check the station's latitude and longitude",
        )
    write_typical_year(database, station.id, typical, now)
    return Intake(None, None, typical.notices)


def fetch(
    settings: Settings,
    database: Database,
    station: Station,
    years: range,
    now: datetime,
    *,
    told: Callable[[int], object] = lambda _: None,
) -> Intake:
    """Hours of some years from the station's source: the observed into the store, what is foretold into the archive.

    Raises:
        SettingsError: the station has no source.
        SourceDownError: the source cannot be reached and no good copy is at hand.
    """
    if station.meteostat_id is None:
        raise SettingsError(
            f"station {station.id!r} has no source", hint="set meteostat_id in grounds.toml, or load a file"
        )
    place = Place(station.meteostat_id, station.latitude_deg, station.longitude_deg, station.elevation_m)
    found = fetch_hours(place, years, settings.folder / COPIES_FOLDER, network(settings), now, told=told)
    first, last = np.datetime64(f"{years[0]}-01-01T00", "h"), np.datetime64(f"{years[-1]}-12-31T23", "h")
    looked = first, min(last, utc_minute(now).astype("datetime64[h]"))
    done = _store(database, station, found.observed, now, Replace.OWN, looked)
    if found.forecast is None:
        return done
    issue = archive(database, station.id, found.forecast, found.fetched_utc)
    return Intake(done.written, issue, done.notices)


def fetch_weather_forecast(settings: Settings, database: Database, station: Station, now: datetime) -> Intake:
    """The newest weather forecast for a station's place into the archive.

    Raises:
        SettingsError: the workspace has no source of weather forecasts.
        SourceDownError: it cannot be fetched, and there is no earlier one.
    """
    asked = service(settings)
    if asked is None:
        raise SettingsError("no [weather_forecast] is set", hint="add the table to grounds.toml; see the README")
    issued, fetched = fetch_forecast(
        asked,
        station.latitude_deg,
        station.longitude_deg,
        settings.folder / COPIES_FOLDER / "forecasts",
        network(settings),
        now,
    )
    return Intake(None, archive(database, station.id, issued, fetched), issued.notices)
