"""Weather forecasts in hourly columns of JSON with a block of units, as Open-Meteo and its own-hosted instances send.

Shape: ``{utc_offset_seconds, hourly_units: {name: unit}, hourly: {time: […], name: […]}}``. Units are read from the
reply, never assumed. Rain, radiation, gust and chance of rain are over the hour that ends at the stamp and the rest is
at the stamp (documentation of the Open-Meteo forecast API, read second-hand), which is what stamps mean here. Air is
read at 2 m and wind at 10 m, as the names say. Beyond a model's hourly reach the service fills in from three- and
six-hourly steps without saying where: what stands in the reply counts as the hour's own figure.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any

import numpy as np

from forecast.errors import DataError, Fault, Notice
from forecast.ingest.imported import Grade, IssuedForecast, Provider
from forecast.ingest.spell import (
    ASK_AGAIN,
    FIRST_YEAR,
    LAST_YEAR,
    MOST_HOURS,
    a_list,
    an_object,
    clipped,
    decimals,
    issued,
    json_value,
    number,
    public,
    shown,
    within_bounds,
)
from forecast.panel import Floats, Hours
from forecast.quantities import unit_suffix
from forecast.units import IMPORT_UNITS

# The licence asks for a credit with a visible link (read second-hand); the words of the credit are from memory.
DEFAULT = Provider(
    key="open_meteo",
    name="Open-Meteo",
    grade=Grade.MODEL,
    attribution="Weather data by Open-Meteo.com",
    licence="CC BY 4.0",
    link="https://open-meteo.com/",
)
MOST_DAYS = 16  # the service's longest reach (its documentation, read second-hand)

# Other heights are not read. The pressure is the ground's, not the sea's. "precipitation" is all that falls, as water:
# "rain", "showers" and "snowfall" are its parts.
NAMES = MappingProxyType(
    {
        "temperature_2m": "air_temperature_c",
        "dew_point_2m": "dew_point_c",
        "relative_humidity_2m": "relative_humidity_pct",
        "precipitation": "rain_mm",
        "precipitation_probability": "rain_chance_fraction",
        "wind_speed_10m": "wind_speed_10m_m_s",
        "wind_gusts_10m": "wind_gust_10m_m_s",
        "cloud_cover": "cloud_cover_fraction",
        "shortwave_radiation": "shortwave_down_w_m2",
        "surface_pressure": "pressure_hpa",
    }
)

# The service's sign of a unit → its name in IMPORT_UNITS.
UNITS = MappingProxyType(
    {
        "°C": "C",
        "°F": "F",
        "%": "%",
        "mm": "mm",
        "inch": "in",
        "m/s": "m/s",
        "km/h": "km/h",
        "mp/h": "mph",
        "kn": "kn",
        "W/m²": "W/m2",
        "hPa": "hPa",
    }
)

_CLOCK = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(?::00)?Z?", re.ASCII)
_ASK_FOR_UTC = "ask for timezone=UTC, as the address that this program builds does"


def address(base: str, latitude_deg: float, longitude_deg: float, days: int, key: str | None = None) -> str:
    """The address of a forecast for one place.

    Args:
        base: up to the question mark, such as ``https://api.open-meteo.com/v1/forecast``.
        latitude_deg: north is positive.
        longitude_deg: east is positive.
        days: reach, 1 to 16.
        key: the customer's key, where the service asks for one.

    Raises:
        DataError: one of them cannot be right.
    """
    if not re.fullmatch(r"https?://[^\s?#@]+", base):
        raise DataError("the base address must begin with http:// or https:// and hold no query", hint="mend the base")
    if not 1 <= days <= MOST_DAYS:
        raise DataError(f"{days} days cannot be asked for", hint=f"1 to {MOST_DAYS} are allowed")
    if key is not None and not re.fullmatch(r"[A-Za-z0-9._~-]{1,200}", key):
        raise DataError("the key holds signs that no key has", hint="letters, digits and . _ ~ - are allowed")
    place = f"latitude={decimals(latitude_deg, 90, 'latitude')}&longitude={decimals(longitude_deg, 180, 'longitude')}"
    asked = f"{base}?{place}&hourly={','.join(NAMES)}&forecast_days={days}&timezone=UTC"
    return asked if key is None else f"{asked}&apikey={key}"


def read(body: bytes, *, source: str, provider: Provider = DEFAULT) -> IssuedForecast:
    """One reply as a forecast.

    Args:
        body: the reply as sent.
        source: the address it came from; its query is dropped.
        provider: who stands behind it; never graded observed.

    Returns:
        The reply's own hours, which may begin before now. The reply does not say when it was issued.

    Raises:
        DataError: every mistake found, by its place in the document.
    """
    name = f"the reply from {public(source)}"
    hourly, units = _blocks(json_value(body, name), name)
    faults: list[Fault] = []
    notices = _unread(hourly)
    hours = _hours(hourly.get("time"), units.get("time"), faults)
    values = {}
    for theirs, house in NAMES.items():
        if theirs in hourly:
            figures = _figures(hourly[theirs], f"hourly.{theirs}", len(hours), faults)
            values[house], found = _converted(theirs, house, figures, units.get(theirs), faults)
            notices += found
    if not values:
        faults.append(Fault(f"none of {', '.join(NAMES)} is there", column="hourly"))
    if faults:
        raise DataError(f"{name} has {len(faults)} mistake(s); nothing was taken", faults=faults, hint=ASK_AGAIN)
    step_hours = {house: np.where(np.isnan(array), 0, 1).astype(np.uint8) for house, array in values.items()}
    return issued(hours, values, step_hours, provider, None, source, tuple(notices))


def _blocks(reply: Any, name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """The figures and their units, once it is sure that the reply is one place's and in UTC."""
    if isinstance(reply, list):
        raise DataError(f"{name} is a list of {len(reply)} places", hint="ask for one place at a time")
    if not isinstance(reply, dict):
        raise DataError(f"{name} is no hourly forecast but {shown(reply)}", hint=ASK_AGAIN)
    document: dict[str, Any] = reply
    if document.get("error") is True:
        reason = clipped(str(document.get("reason")), 200) if isinstance(document.get("reason"), str) else "no reason"
        raise DataError(f"{name} is a refusal: {reason}", hint="mend what it names, or ask later")
    offset = document.get("utc_offset_seconds")
    if isinstance(offset, bool) or not isinstance(offset, int | float) or offset != 0:
        zone = shown(document.get("timezone"))
        text = f"{shown(offset)} (zone {zone}); only 0 is allowed, since an hour comes twice when clocks go back"
        raise DataError(f"{name} is not in UTC", faults=[Fault(text, column="utc_offset_seconds")], hint=_ASK_FOR_UTC)
    faults: list[Fault] = []
    hourly = an_object(document.get("hourly"), "hourly", faults)
    units = an_object(document.get("hourly_units"), "hourly_units", faults)
    if faults:
        raise DataError(f"{name} is no hourly forecast", faults=faults, hint=ASK_AGAIN)
    return hourly, units


def _unread(hourly: dict[str, Any]) -> list[Notice]:
    names = [clipped(name) for name in hourly if name not in NAMES and name != "time"]
    return [Notice(f"not read from the forecast: {clipped(', '.join(names), 200)}")] if names else []


def _hours(times: Any, unit: Any, faults: list[Fault]) -> Hours:
    """The stamps, one an hour without a gap."""
    listed = a_list(times, "hourly.time", faults)
    if not 1 <= len(listed) <= MOST_HOURS:
        faults.append(Fault(f"{len(listed)} stamps; 1 to {MOST_HOURS} are allowed", column="hourly.time"))
        return np.array([], dtype="datetime64[h]")
    readers = {"iso8601": _from_clock, "unixtime": _from_seconds}
    if not isinstance(unit, str) or unit not in readers:
        faults.append(Fault(f"{shown(unit)} is unknown; {', '.join(readers)} are allowed", column="hourly_units.time"))
        return np.full(len(listed), np.datetime64("NaT", "h"), dtype="datetime64[h]")
    stamps = [readers[unit](stamp) for stamp in listed]
    for i, stamp in enumerate(stamps):
        if stamp is None:
            text = f"{shown(listed[i])} is no full hour from {FIRST_YEAR} to {LAST_YEAR} as {unit}"
            faults.append(Fault(text, column=f"hourly.time[{i}]"))
    hours = np.array([np.datetime64("NaT", "h") if stamp is None else stamp for stamp in stamps], dtype="datetime64[h]")
    broken = np.flatnonzero((np.diff(hours) != np.timedelta64(1, "h")) & ~np.isnat(np.diff(hours)))
    faults += [Fault("is not one hour after the stamp before it", column=f"hourly.time[{i + 1}]") for i in broken]
    return hours


def _from_clock(stamp: Any) -> np.datetime64 | None:
    if not isinstance(stamp, str) or not _CLOCK.fullmatch(stamp):
        return None
    try:
        return _full_hour(datetime.fromisoformat(stamp.removesuffix("Z")))
    except ValueError:
        return None


def _from_seconds(stamp: Any) -> np.datetime64 | None:
    if isinstance(stamp, bool) or not isinstance(stamp, int):
        return None
    try:
        return _full_hour(datetime.fromtimestamp(stamp, UTC).replace(tzinfo=None))
    except (ValueError, OverflowError, OSError):
        return None


def _full_hour(moment: datetime) -> np.datetime64 | None:
    if moment.minute or moment.second or not FIRST_YEAR <= moment.year <= LAST_YEAR:
        return None
    return np.datetime64(moment, "h")


def _figures(column: Any, place: str, hours: int, faults: list[Fault]) -> Floats:
    listed = a_list(column, place, faults)
    if isinstance(column, list) and len(listed) != hours:
        faults.append(Fault(f"{len(listed)} figures for {hours} stamps", column=place))
    figures = np.full(hours, np.nan)
    for i, value in enumerate(listed[:hours]):
        figures[i] = number(value, f"{place}[{i}]", faults)
    return figures


def _converted(theirs: str, house: str, figures: Floats, unit: Any, faults: list[Fault]) -> tuple[Floats, list[Notice]]:
    """The figures in the house's unit; a column without a figure needs no unit, and often has none."""
    if np.isnan(figures).all():
        return figures, []
    ways = IMPORT_UNITS[unit_suffix(house)]
    way = ways.get(UNITS.get(unit, "")) if isinstance(unit, str) else None
    if way is None:
        allowed = ", ".join(sign for sign, ours in UNITS.items() if ours in ways)
        faults.append(Fault(f"{shown(unit)} is unknown here; {allowed} are allowed", column=f"hourly_units.{theirs}"))
        return figures, []
    return within_bounds(house, way(figures), f"hourly.{theirs}", faults)
