"""Weather forecasts as layers of ISO 8601 intervals, as the US National Weather Service sends for a grid point.

Shape: ``properties.<layer>.{uom, values: [{validTime: "2026-07-01T12:00:00+00:00/PT3H", value: 21.1}]}``. Equal hours
in a row are sent once with a longer interval, except amounts of rain, which are sums over their interval (the service's
maintainers, public issue tracker weather-gov/api, issues 21 and 69). So, of an interval from 12:00 to 15:00,

- a state (temperature, dew point, humidity, wind, cloud) holds at the stamps 12:00, 13:00 and 14:00;
- an amount, a chance or a gust belongs to the hours that *end* at 13:00, 14:00 and 15:00; an amount is shared out
  evenly over them, a chance of rain is taken as it stands, though it is the chance over the whole interval.

``step_hours`` keeps each interval's length. Of a state it is the longest that its step can have been, since merged
equal hours cannot be told from a coarse step. Layers are not aligned, begin in the past and differ between offices;
an hour no interval covers stays unknown. Where intervals of one layer overlap, the one later in the list holds, with a
notice. Wind is at 10 m (the service's gridded forecasts, from memory). Snowfall is not read: rain is the water in all
that falls.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
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
from forecast.panel import Bytes, Floats
from forecast.quantities import QUANTITIES, Kind, unit_suffix
from forecast.units import IMPORT_UNITS

DEFAULT = Provider(
    key="nws_grid",
    name="US National Weather Service, gridded forecast",
    grade=Grade.MODEL,
    licence="public domain (US government work)",
    link="https://www.weather.gov/documentation/services-web-api",
)
MOST_INTERVAL_HOURS = 400  # house choice: twice the reach of these forecasts; step_hours holds up to 255
MOST_INTERVALS = 2000  # a layer; house choice: twice an interval for every hour that is allowed

LAYERS = MappingProxyType(
    {
        "temperature": "air_temperature_c",
        "dewpoint": "dew_point_c",
        "relativeHumidity": "relative_humidity_pct",
        "quantitativePrecipitation": "rain_mm",
        "probabilityOfPrecipitation": "rain_chance_fraction",
        "windSpeed": "wind_speed_10m_m_s",
        "windGust": "wind_gust_10m_m_s",
        "skyCover": "cloud_cover_fraction",
    }
)

# Code of a unit, after "wmoUnit:" (older replies "unit:") → its name in IMPORT_UNITS.
UNITS = MappingProxyType(
    {
        "degC": "C",
        "degF": "F",
        "K": "K",
        "percent": "%",
        "mm": "mm",
        "km_h-1": "km/h",
        "m_s-1": "m/s",
        "kt": "kn",
    }
)

_START = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d)?(?:Z|[+-]\d\d:\d\d)", re.ASCII)
_LENGTH = re.compile(r"P(?:(\d{1,3})D)?(?:T(?:(\d{1,4})H)?)?", re.ASCII)
_ADDRESS = re.compile(r"https?://[!-~]+", re.ASCII)
_EPOCH = np.datetime64(0, "h")


@dataclass(frozen=True, slots=True)
class _Interval:
    """``[first, first + hours)`` in whole hours since 1970, with its figure in the house's unit."""

    first: int
    hours: int
    figure: float


def points_address(base: str, latitude_deg: float, longitude_deg: float) -> str:
    """The address that tells a place's grid point.

    Args:
        base: such as ``https://api.weather.gov``.
        latitude_deg: north is positive.
        longitude_deg: east is positive.

    Raises:
        DataError: one of them cannot be right.
    """
    if not re.fullmatch(r"https?://[^\s?#@]+", base):
        raise DataError("the base address must begin with http:// or https:// and hold no query", hint="mend the base")
    where = f"{decimals(latitude_deg, 90, 'latitude')},{decimals(longitude_deg, 180, 'longitude')}"
    return f"{base.rstrip('/')}/points/{where}"


def grid_address(points_body: bytes) -> str:
    """The address of the forecast, out of the reply to :func:`points_address`.

    Raises:
        DataError: the reply does not hold one.
    """
    name = "the reply on the place's grid point"
    properties = _properties(json_value(points_body, name), name)
    found = properties.get("forecastGridData")
    if not isinstance(found, str) or not _ADDRESS.fullmatch(found) or "@" in found:
        fault = Fault(f"{shown(found)} is no address", column="properties.forecastGridData")
        raise DataError(f"{name} names no forecast", faults=[fault], hint="this service covers the USA only")
    return found


def read(body: bytes, *, source: str, provider: Provider = DEFAULT) -> IssuedForecast:
    """One reply as a forecast.

    Args:
        body: the reply as sent.
        source: the address it came from; its query is dropped.
        provider: who stands behind it; never graded observed.

    Raises:
        DataError: every mistake found, by its place in the document.
    """
    name = f"the reply from {public(source)}"
    properties = _properties(json_value(body, name), name)
    faults: list[Fault] = []
    issued_utc = _issued(properties.get("updateTime"), faults)
    layers = {theirs: _layer(theirs, properties, faults) for theirs in LAYERS if properties.get(theirs) is not None}
    layers = {theirs: intervals for theirs, intervals in layers.items() if intervals}
    absent = [theirs for theirs in LAYERS if theirs not in layers]
    notices = [Notice(f"the forecast has no {', '.join(absent)}")] if absent else []
    if not layers and not faults:
        faults.append(Fault(f"none of {', '.join(LAYERS)} holds a figure", column="properties"))
    first, last = _reach(layers, faults)
    values, step_hours = {}, {}
    for theirs, intervals in layers.items() if not faults else ():
        house = LAYERS[theirs]
        figures, steps, found = _spread(theirs, intervals, first, last)
        values[house], outside = within_bounds(house, figures, f"properties.{theirs}", faults)
        step_hours[house] = np.where(np.isnan(values[house]), 0, steps).astype(np.uint8)
        notices += found + outside
    if faults:
        raise DataError(f"{name} has {len(faults)} mistake(s); nothing was taken", faults=faults, hint=ASK_AGAIN)
    hours = _EPOCH + np.arange(first, last + 1).astype("timedelta64[h]")
    return issued(hours, values, step_hours, provider, issued_utc, source, tuple(notices))


def _properties(reply: Any, name: str) -> dict[str, Any]:
    faults: list[Fault] = []
    document = an_object(reply, "the reply", faults)
    title = document.get("title")
    if "properties" not in document and isinstance(title, str):
        raise DataError(f"{name} is a refusal: {clipped(title, 200)}", hint="check the place, or ask later")
    properties = an_object(document.get("properties"), "properties", faults)
    if faults:
        raise DataError(f"{name} is not of the expected form", faults=faults, hint=ASK_AGAIN)
    return properties


def _moment(text: str) -> datetime | None:
    """A moment with its zone, in UTC; None for anything else."""
    if not _START.fullmatch(text) or not FIRST_YEAR <= int(text[:4]) <= LAST_YEAR:
        return None
    try:
        return datetime.fromisoformat(text).astimezone(UTC).replace(tzinfo=None)
    except ValueError:
        return None


def _issued(value: Any, faults: list[Fault]) -> np.datetime64 | None:
    if value is None:
        return None
    moment = _moment(value) if isinstance(value, str) else None
    if moment is None:
        faults.append(Fault(f"{shown(value)} is no moment with its zone", column="properties.updateTime"))
        return None
    return np.datetime64(moment, "m")


def _layer(theirs: str, properties: dict[str, Any], faults: list[Fault]) -> list[_Interval]:
    """The intervals of a layer that hold a figure, in the house's unit; amounts are shared out already."""
    place = f"properties.{theirs}"
    layer = an_object(properties[theirs], place, faults)
    listed = a_list(layer.get("values"), f"{place}.values", faults) if layer else []
    if len(listed) > MOST_INTERVALS:
        faults.append(Fault(f"{len(listed)} intervals; at most {MOST_INTERVALS} are allowed", column=f"{place}.values"))
        return []
    found = []
    for i, item in enumerate(listed):
        here = f"{place}.values[{i}]"
        entry = an_object(item, here, faults)
        figure = number(entry.get("value"), f"{here}.value", faults)
        span = _span(entry.get("validTime"), f"{here}.validTime", faults) if entry else None
        if span and not np.isnan(figure):
            found.append(_Interval(*span, figure))
    return _converted(LAYERS[theirs], found, layer.get("uom"), f"{place}.uom", faults) if found else []


def _span(value: Any, place: str, faults: list[Fault]) -> tuple[int, int] | None:
    """First hour, counted from 1970, and length in hours."""
    start, _, length = value.partition("/") if isinstance(value, str) else ("", "", "")
    moment = _moment(start)
    parts = _LENGTH.fullmatch(length)
    hours = 24 * int(parts[1] or 0) + int(parts[2] or 0) if parts else 0
    if moment is None or moment.minute or moment.second or not 1 <= hours <= MOST_INTERVAL_HOURS:
        text = "is no interval from a full hour, such as 2026-07-01T12:00:00+00:00/PT3H, of 1 to"
        faults.append(Fault(f"{shown(value)} {text} {MOST_INTERVAL_HOURS} hours", column=place))
        return None
    return int((np.datetime64(moment, "h") - _EPOCH) / np.timedelta64(1, "h")), hours


def _converted(house: str, found: list[_Interval], unit: Any, place: str, faults: list[Fault]) -> list[_Interval]:
    ways = IMPORT_UNITS[unit_suffix(house)]
    code = unit.removeprefix("wmoUnit:").removeprefix("unit:") if isinstance(unit, str) else ""
    way = ways.get(UNITS.get(code, ""))
    if way is None:
        allowed = ", ".join(f"wmoUnit:{theirs}" for theirs, ours in UNITS.items() if ours in ways)
        faults.append(Fault(f"{shown(unit)} is unknown here; {allowed} are allowed", column=place))
        return []
    figures = way(np.array([interval.figure for interval in found]))
    if QUANTITIES[house].kind is Kind.AMOUNT:
        figures = figures / np.array([interval.hours for interval in found])
    return [_Interval(at.first, at.hours, float(figure)) for at, figure in zip(found, figures, strict=True)]


def _first_stamp(theirs: str, interval: _Interval) -> int:
    """The stamp of an interval's first hour: its beginning for a state, else the end of that hour."""
    return interval.first + (QUANTITIES[LAYERS[theirs]].kind is not Kind.STATE)


def _reach(layers: dict[str, list[_Interval]], faults: list[Fault]) -> tuple[int, int]:
    """First and last stamp over all layers."""
    starts = [_first_stamp(theirs, at) for theirs, intervals in layers.items() for at in intervals]
    ends = [_first_stamp(theirs, at) + at.hours - 1 for theirs, intervals in layers.items() for at in intervals]
    if not starts:
        return 0, -1
    first, last = min(starts), max(ends)
    if last - first >= MOST_HOURS:
        text = f"the layers reach over {last - first + 1} hours; at most {MOST_HOURS} are allowed"
        faults.append(Fault(text, column="properties"))
    return first, last


def _spread(theirs: str, intervals: list[_Interval], first: int, last: int) -> tuple[Floats, Bytes, list[Notice]]:
    """A layer's figures on the common stamps, the length of the interval each came from, and what overlapped."""
    figures = np.full(last - first + 1, np.nan)
    steps = np.zeros(last - first + 1, np.uint8)
    overlapping = 0
    for at in intervals:
        begin = _first_stamp(theirs, at) - first
        covered = slice(begin, begin + at.hours)
        overlapping += int(np.count_nonzero((steps[covered] > 0) & (figures[covered] != at.figure)))
        figures[covered] = at.figure
        steps[covered] = min(at.hours, 255)
    text = f"{theirs}: {overlapping} hours are told twice, differently; the later entry was taken"
    return figures, steps, [Notice(text, quantity=LAYERS[theirs])] if overlapping else []
