"""Past weather from Meteostat's bulk files, read by the meteostat library; the only place that uses the network.

The files are fetched here, with time-outs, into a folder of good copies, and the library parses the local copy:
its own download would wait without end for a silent server and would replace a good cached file by an empty one
after a failed refresh. Stamps name the end of the hour for rain and the moment for everything else, as inside;
wind is taken as measured at 10 m. Values that the file says come from a weather model are not observations
and are left out here.

Data: Meteostat and the providers it names, CC BY 4.0.
"""

from __future__ import annotations

import atexit
import gzip
import io
import os
import shutil
import tempfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pandas as pd
import requests

from forecast.errors import MissingInputError, Notice, SourceDownError, StorageError
from forecast.ingest.imported import ImportedHours
from forecast.panel import Floats
from forecast.quantities import Origin

ATTRIBUTION = "Meteostat and the weather services it draws on, CC BY 4.0; units and names changed"
USER_AGENT = "turf-disease-forecast"
CONNECT_TIMEOUT_S = 5
READ_TIMEOUT_S = 30
MOST_BYTES = 50_000_000
TIME_COLUMNS = ["year", "month", "day", "hour"]

# What a reply or a copy that cannot be used raises, from the socket to the last figure.
_UNUSABLE = (requests.RequestException, OSError, EOFError, ValueError, OverflowError, zlib.error)

# Sources inside the files that are observations; any other name counts as model output.
OBSERVED_SOURCES = frozenset(
    {"isd_lite", "metar", "synop", "dwd_poi", "dwd_hourly", "eccc_hourly", "gsa_hourly", "gsa_synop"}
)

# Library name → (house name, way to the house unit).
NAMES: MappingProxyType[str, tuple[str, Callable[[Floats], Floats]]] = MappingProxyType(
    {
        "temp": ("air_temperature_c", lambda c: c),
        "rhum": ("relative_humidity_pct", lambda pct: pct),
        "prcp": ("rain_mm", lambda mm: mm),
        "wspd": ("wind_speed_10m_m_s", lambda km_h: km_h / 3.6),
        "cldc": ("cloud_cover_fraction", lambda oktas: oktas / 8),
    }
)


@dataclass(frozen=True, slots=True)
class Place:
    """What the library needs to know of a station: its Meteostat id and where it stands."""

    meteostat_id: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float


def fetch_hours(place: Place, years: range, copies: Path, endpoint: str | None = None) -> ImportedHours:
    """The observed hours of some calendar years (UTC).

    Args:
        place: the station.
        years: calendar years.
        copies: folder of good copies; made where it is missing.
        endpoint: address with ``{year}`` and ``{station}`` in it; the library's own when left out.

    Raises:
        SourceDownError: a year cannot be fetched and there is no good copy of it.
        MissingInputError: the source has none of these years.
    """
    import meteostat  # noqa: PLC0415 - half a second that only this call should pay

    library_endpoint = _library_endpoint()  # before the first file is parsed, even where another is given
    notices: list[Notice] = []
    frames = []
    for year in years:
        text = _year_text(place.meteostat_id, year, copies, endpoint or library_endpoint, notices)
        if text is not None:
            frames.append(_parsed(meteostat, place, year, text))
    frame = pd.concat([f for f in frames if f is not None]) if any(f is not None for f in frames) else None
    if frame is None or frame.empty:
        raise MissingInputError(
            f"the source has no hours for station {place.meteostat_id} in {years[0]} to {years[-1]}",
            hint="check meteostat_id and the years",
        )
    hours = frame.index.to_numpy().astype("datetime64[h]")
    values, left_out = _house_values(frame)
    if left_out:
        notices.append(Notice(f"{left_out} values that come from a weather model were left out"))
    origin = {name: np.full(len(hours), Origin.OBSERVED, np.uint8) for name in values}
    return ImportedHours(hours, values, origin, f"Meteostat {place.meteostat_id}", ATTRIBUTION, tuple(notices))


def _year_text(station: str, year: int, copies: Path, endpoint: str, notices: list[Notice]) -> str | None:
    """One readable file, fresh or from the last good copy; None where the source has no such year and never had."""
    copy = copies / str(year) / f"{station}.csv.gz"
    try:
        reply = requests.get(
            endpoint.format(year=year, station=station),
            timeout=(CONNECT_TIMEOUT_S, READ_TIMEOUT_S),
            headers={"User-Agent": USER_AGENT},
        )
        if reply.status_code == requests.codes.not_found and not copy.exists():
            notices.append(Notice(f"{year}: the source has no file of station {station}"))
            return None
        reply.raise_for_status()
        text = _sanitised(_unpacked(reply.content))
    except _UNUSABLE as error:
        trouble = f"{type(error).__name__}: {error}"
    else:
        _keep(copy, reply.content)
        return text
    try:
        text = _sanitised(_unpacked(copy.read_bytes()))
    except _UNUSABLE as error:
        raise SourceDownError(
            f"the weather of {year} for station {station} cannot be fetched ({trouble})",
            hint="try again later; what is stored already can be used with --offline",
        ) from error
    notices.append(Notice(f"{year}: the source did not answer as it should; the last good copy was used", grave=True))
    return text


def _unpacked(packed: bytes) -> str:
    """The text of a bulk file.

    Raises:
        ValueError: it is no such file.
    """
    with gzip.GzipFile(fileobj=io.BytesIO(packed)) as unpacking:
        raw = unpacking.read(MOST_BYTES + 1)
    if len(raw) > MOST_BYTES:
        raise ValueError("the file is larger than a year of hours can be")
    text = raw.decode("utf-8")
    if text.split("\n", 1)[0].split(",")[:4] != TIME_COLUMNS:
        raise ValueError("the file does not start with the columns year, month, day, hour")
    return text


def _keep(copy: Path, packed: bytes) -> None:
    try:
        copy.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=copy.parent) as folder:
            part = Path(folder) / copy.name
            with part.open("wb") as file:
                file.write(packed)
                file.flush()
                os.fsync(file.fileno())
            part.replace(copy)
    except OSError as error:
        raise StorageError(f"{copy} cannot be written: {error.strerror}", hint="free some space") from error


def _sanitised(text: str) -> str:
    """The file as the library can read it: one row an hour, and no value without its source.

    A repeated hour or a word among the figures would lose the library the whole year, and a value without a source
    would stop it.

    Raises:
        ValueError: times or figures are no numbers, or nothing in it has a source.
    """
    table = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False).fillna("")
    stamps = pd.to_datetime(table[TIME_COLUMNS].apply(pd.to_numeric))
    names = [name for name in NAMES if name in table and f"{name}_source" in table]
    for name in names:
        source = f"{name}_source"
        table.loc[table[source] == "", name] = ""
        table.loc[table[name] == "", source] = ""
        if np.isinf(pd.to_numeric(table[name].mask(table[name] == ""))).any():
            raise ValueError(f"{name} has an endless figure")
    if not (table[names] != "").to_numpy().any():
        raise ValueError("the file has no figure with its source")
    columns = [*TIME_COLUMNS, *(column for name in names for column in (name, f"{name}_source"))]
    clean: str = table.loc[~stamps.duplicated(keep="last"), columns].to_csv(index=False)
    return clean


@cache
def _library_endpoint() -> str:
    """The library's own address, read before :func:`_parsed` points the library at local copies."""
    import meteostat  # noqa: PLC0415

    return str(meteostat.config.hourly_endpoint)


@cache
def _reading_folder() -> Path:
    """One folder for the life of the process: the library remembers the first address it is given."""
    folder = tempfile.mkdtemp(prefix="forecast-meteostat-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return Path(folder)


def _parsed(meteostat: object, place: Place, year: int, text: str) -> pd.DataFrame | None:
    """One year through the library's own parser; None where it holds no value."""
    folder = _reading_folder()
    config = meteostat.config  # type: ignore[attr-defined]
    config.hourly_endpoint = f"{folder.as_uri()}/{{year}}/{{station}}.csv.gz"
    config.cache_enable = False
    path = folder / str(year) / f"{place.meteostat_id}.csv.gz"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(gzip.compress(text.encode()))
    station = meteostat.Station(  # type: ignore[attr-defined]
        id=place.meteostat_id,
        latitude=place.latitude_deg,
        longitude=place.longitude_deg,
        elevation=place.elevation_m,
    )
    parameters = [meteostat.Parameter(name) for name in NAMES]  # type: ignore[attr-defined]
    series = meteostat.hourly(  # type: ignore[attr-defined]
        station, pd.Timestamp(year, 1, 1), pd.Timestamp(year, 12, 31, 23), parameters=parameters
    )
    frame: pd.DataFrame | None = series.fetch(sources=True, clean=False)
    path.unlink()
    return frame


def _house_values(frame: pd.DataFrame) -> tuple[dict[str, Floats], int]:
    """House names and units, model values left out, and how many those were."""
    values, left_out = {}, 0
    for name, (house, convert) in NAMES.items():
        if name not in frame:
            continue
        raw = frame[name].astype("float64").to_numpy()
        sources = frame[f"{name}_source"].astype("string").fillna("")
        is_observed = sources.map(lambda cell: set(cell.split()) <= OBSERVED_SOURCES).to_numpy(dtype=bool)
        left_out += int((~is_observed & ~np.isnan(raw)).sum())
        values[house] = convert(np.where(is_observed, raw, np.nan))
    return values, left_out
