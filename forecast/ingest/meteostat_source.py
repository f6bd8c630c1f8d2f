"""Hours from Meteostat's bulk files, fetched by our own download layer and read by the meteostat library.

The library parses a local copy only: its own download waits without end for a silent server and replaces a good
cached file by an empty one after a failed refresh. Stamps name the end of the hour for rain and the moment for
everything else, as inside; wind is taken as measured at 10 m. Each value keeps the service that the file names beside
it. What the file says comes from a weather model is no observation: of the last days and the days ahead it is handed
over as a forecast, of older days it is left out.

Data: Meteostat and the services it names, CC BY 4.0.
"""

from __future__ import annotations

import atexit
import gzip
import io
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pandas as pd

from forecast.clock import utc_minute
from forecast.errors import MissingInputError, Notice, SourceDownError
from forecast.ingest.imported import Grade, ImportedHours, IssuedForecast, Provider
from forecast.ingest.web.download import Downloaded, Network, download
from forecast.ingest.web.network import age_words
from forecast.panel import Bytes, Floats, Hours

LICENCE = "CC BY 4.0"
LINK = "https://meteostat.net"
MOST_BYTES = 50_000_000
TIME_COLUMNS = ["year", "month", "day", "hour"]
MODEL_HOURS_BACK = (
    72  # before the last reading; house choice: where readings come late, models speak for the days before
)
DAYS_AHEAD = 11  # the files reach some ten days ahead, across the end of a year into the next year's file

# Services inside the files that observe; any other name counts as a weather model.
OBSERVED = MappingProxyType(
    {
        "isd_lite": "the Integrated Surface Database (NOAA)",
        "metar": "airport reports (METAR)",
        "synop": "synoptic reports (SYNOP)",
        "dwd_poi": "Deutscher Wetterdienst",
        "dwd_hourly": "Deutscher Wetterdienst",
        "eccc_hourly": "Environment and Climate Change Canada",
        "gsa_hourly": "GeoSphere Austria",
        "gsa_synop": "GeoSphere Austria",
    }
)
PROVIDERS = tuple(
    Provider(
        f"meteostat.{key}",
        f"{name}, by way of Meteostat",
        Grade.OBSERVED,
        f"Meteostat and {name}; units and names changed",
        LICENCE,
        LINK,
    )
    for key, name in OBSERVED.items()
)
MODELS = Provider(
    "meteostat.models",
    "weather models, by way of Meteostat",
    Grade.MODEL,
    "Meteostat and the weather services it draws on; units and names changed",
    LICENCE,
    LINK,
)

# Library name → (house name, way to the house unit). Depth of snow ("snwd") is left out: the library's own table has it
# in cm, some of its readers make mm of it, and nothing in a file tells which it is.
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


@dataclass(frozen=True, eq=False)
class Fetched:
    """What some years' files hold.

    Attributes:
        observed: what was measured; may be empty of values where all is a model's.
        forecast: what models say of the last days and the days ahead; None where the files hold nothing of it.
        fetched_utc: when the newest of the files was fetched, which is when the forecast became known.
    """

    observed: ImportedHours
    forecast: IssuedForecast | None
    fetched_utc: datetime


def fetch_hours(
    place: Place,
    years: range,
    copies: Path,
    network: Network,
    now: datetime,
    *,
    endpoint: str | None = None,
    told: Callable[[int], object] = lambda _: None,
) -> Fetched:
    """The hours of some calendar years (UTC).

    Args:
        place: the station.
        years: calendar years.
        copies: folder of good copies; made where it is missing.
        network: who may be asked, and how long.
        now: the moment of the fetch.
        endpoint: address with ``{year}`` and ``{station}`` in it; the library's own when left out.
        told: called with each year as it is done.

    Raises:
        SourceDownError: no year can be fetched and there is no good copy of any; where others came, a year that
            cannot be fetched is a grave notice.
        MissingInputError: the source has none of these years.
    """
    import meteostat  # noqa: PLC0415 - half a second that only this call should pay

    library_endpoint = _library_endpoint()  # before the first file is parsed, even where another is given
    address = endpoint or library_endpoint
    notices: list[Notice] = []
    frames = []
    fetched: list[datetime] = []
    trouble: SourceDownError | None = None
    ahead = years[-1] == now.year and (now.replace(month=12, day=31) - now).days < DAYS_AHEAD
    for year in [*years, *([years[-1] + 1] if ahead else [])]:
        try:
            found = download(
                address.format(year=year, station=place.meteostat_id),
                copies / str(year) / f"{place.meteostat_id}.csv.gz",
                network,
                now,
                accept=lambda body: _sanitised(_unpacked(body)),
                name=f"the weather of {year} for station {place.meteostat_id}",
            )
        except SourceDownError as error:
            trouble = error
            notices.append(Notice(f"{year} is not there: {error.what}", grave=True))
        else:
            if found is not None:
                notices += _stale(year, found, now)
                frames.append(_parsed(meteostat, place, year, found.read))
                fetched.append(found.fetched_utc)
            elif year in years:
                notices.append(Notice(f"{year}: the source has no file of this station"))
        told(year)
    frame = pd.concat([f for f in frames if f is not None]) if any(f is not None for f in frames) else None
    if frame is None or frame.empty:
        if trouble is not None:
            raise trouble
        raise MissingInputError(
            f"the source has no hours for station {place.meteostat_id} in {years[0]} to {years[-1]}",
            hint="check meteostat_id and the years",
        )
    return _split(place, frame, now, max(fetched), notices)


def _stale(year: int, found: Downloaded[str], now: datetime) -> list[Notice]:
    if found.is_fresh:
        return []
    age = age_words(found.fetched_utc, now)
    return [Notice(f"{year}: {found.trouble}; the last good copy, {age} old, was used", grave=True)]


def _split(place: Place, frame: pd.DataFrame, now: datetime, fetched: datetime, notices: list[Notice]) -> Fetched:
    """Observed values with their services, and apart from them what models say of the days around now."""
    hours: Hours = frame.index.to_numpy().astype("datetime64[h]")
    keys = list(OBSERVED)
    values: dict[str, Floats] = {}
    provider: dict[str, Bytes] = {}
    modelled: dict[str, Floats] = {}
    for name, (house, convert) in NAMES.items():
        if name not in frame:
            continue
        figures = convert(frame[name].to_numpy(dtype=np.float64, na_value=np.nan))
        cells = frame[f"{name}_source"].astype("string").fillna("")
        is_observed = cells.map(lambda cell: set(cell.split()) <= OBSERVED.keys()).to_numpy(dtype=bool)
        first_named = cells.map(
            lambda cell: keys.index(cell.split()[0]) if cell.split()[:1] and cell.split()[0] in keys else 0
        )
        values[house] = np.where(is_observed & (hours <= utc_minute(now)), figures, np.nan)
        provider[house] = first_named.to_numpy(dtype=np.uint8)
        modelled[house] = np.where(is_observed, np.nan, figures)
    since = _model_from(hours, values, utc_minute(fetched))
    left_out = sum(int((~np.isnan(array) & (hours < since)).sum()) for array in modelled.values())
    if left_out:
        notices.append(Notice(f"{left_out} values that come from a weather model were left out"))
    source = f"Meteostat {place.meteostat_id}"
    past = hours <= utc_minute(now)
    observed = ImportedHours(
        hours[past],
        {name: array[past] for name, array in values.items()},
        {name: array[past] for name, array in provider.items()},
        PROVIDERS,
        source,
        tuple(notices),
    )
    return Fetched(observed, _forecast(hours, modelled, since, source), fetched)


def _model_from(hours: Hours, observed: dict[str, Floats], fetched: np.datetime64) -> np.datetime64:
    """From which stamp on model values are taken for a forecast: some days before the last reading.

    It hangs on the file alone, so that the same file fetched again is the same forecast. What models say in files of
    years past was no forecast when it was fetched.
    """
    back = np.timedelta64(MODEL_HOURS_BACK, "h")
    if hours[-1] < fetched - back:
        return fetched
    some = np.zeros(len(hours), bool)
    for array in observed.values():
        some |= ~np.isnan(array)
    known = np.flatnonzero(some)
    last = hours[known[-1]] if known.size else hours[0]
    first: np.datetime64 = last - back
    return first


def _forecast(hours: Hours, modelled: dict[str, Floats], since: np.datetime64, source: str) -> IssuedForecast | None:
    """What models say from a stamp on, over unbroken hours; the files do not say when it was issued."""
    rows = [row for row in np.flatnonzero(hours >= since) if any(not np.isnan(v[row]) for v in modelled.values())]
    if not rows:
        return None
    first = hours[rows[0]]
    places = (hours[rows] - first).astype(int)
    count = int(places[-1]) + 1
    values = {name: np.full(count, np.nan) for name in modelled}
    for name, array in modelled.items():
        values[name][places] = array[rows]
    steps = {name: (~np.isnan(array)).astype(np.uint8) for name, array in values.items()}
    return IssuedForecast(first + np.arange(count).astype("timedelta64[h]"), values, steps, MODELS, None, source, ())


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
