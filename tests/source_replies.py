"""Invented replies, one of each source, that all tell the same four hours in their own words.

Nothing here was measured: 18 July 2023 at an invented place, UTC stamps 11:00 to 14:00. It is 20 °C at 12:00 with a
relative humidity of 90 % and a wind of 5 m/s at 10 m; 2.5 mm fell between 12:00 and 13:00 and nothing in the other
hours; the temperature of 14:00 is not told. Each reply is in the wire format of its source and in units as unlike the
house's own as the source allows.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from hypothesis import strategies as st

from forecast.panel import Hours

DAY = "2023-07-18"
HOURS: Hours = np.arange(f"{DAY}T11", f"{DAY}T15", dtype="datetime64[h]")
NOON = np.datetime64(f"{DAY}T12", "h")
RAIN_HOUR = np.datetime64(f"{DAY}T13", "h")
HOLE = np.datetime64(f"{DAY}T14", "h")

# 20 °C × 1.8 + 32 = 68 °F; 5 m/s × 3.6 = 18 km/h; an inch is 25.4 mm and a mile an hour 0.44704 m/s (NIST SP 811).
FAHRENHEIT = (66.2, 68, 69.8)
MPH = 5 / 0.44704
INCH = 2.5 / 25.4


def hour_columns(changes: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Columns of an hourly forecast in US units; ``changes`` replaces or adds columns, None takes one out."""
    columns: dict[str, Any] = {
        "time": [f"{DAY}T{hour}:00" for hour in (11, 12, 13, 14)],
        "temperature_2m": [*FAHRENHEIT, None],
        "relative_humidity_2m": [92, 90, 89, 88],
        "precipitation": [0, 0, INCH, 0],
        "wind_speed_10m": [MPH, MPH, MPH, MPH],
        "wind_speed_80m": [9, 9, 9, 9],
    } | dict(changes or {})
    units = {"time": "iso8601", "temperature_2m": "°F", "precipitation": "inch", "wind_speed_10m": "mp/h"}
    units |= {"relative_humidity_2m": "%", "wind_speed_80m": "mp/h"}
    return {
        "latitude": 40.0,
        "longitude": -80.0,
        "elevation": 250.0,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "hourly_units": units,
        "hourly": {name: column for name, column in columns.items() if column is not None},
    }


def interval(start: int, hours: int, value: float | None) -> dict[str, Any]:
    """An entry of a layer, from a full hour of the invented day (UTC) on."""
    return {"validTime": f"{DAY}T{start:02d}:00:00+00:00/PT{hours}H", "value": value}


def layer(unit: str, *entries: dict[str, Any]) -> dict[str, Any]:
    """A layer of a grid reply."""
    return {"uom": f"wmoUnit:{unit}", "values": list(entries)}


def grid_intervals(changes: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """Layers of a grid point; ``changes`` replaces or adds layers, None takes one out."""
    layers: dict[str, Any] = {
        "updateTime": f"{DAY}T09:41:07+00:00",
        "temperature": layer("degF", interval(11, 1, 66.2), interval(12, 1, 68), interval(13, 1, 69.8)),
        "relativeHumidity": layer("percent", interval(11, 1, 92), interval(12, 3, 90)),
        "quantitativePrecipitation": layer("mm", interval(10, 2, 0), interval(12, 1, 2.5), interval(13, 1, 0)),
        "windSpeed": layer("km_h-1", interval(11, 4, 18)),
    } | dict(changes or {})
    return {"type": "Feature", "properties": {name: value for name, value in layers.items() if value is not None}}


def as_bytes(reply: Any) -> bytes:
    """A reply as it comes over the wire."""
    return json.dumps(reply, ensure_ascii=False).encode()


GHCNH_COLUMNS = (
    "temperature",
    "dew_point_temperature",
    "relative_humidity",
    "wind_speed",
    "wind_gust",
    "precipitation",
    "precipitation_3_hour",
    "station_level_pressure",
)
GHCNH_CODES = ("Measurement_Code", "Quality_Code", "Report_Type", "Source_Code", "Source_Station_ID")


def ghcnh_report(moment: str, *, report: str = "FM15", source: str = "343", quality: str = "5", **cells: str) -> str:
    """A line; cells are figures by column, or codes by full name such as ``precipitation_Measurement_Code``."""
    line = ["USW00099999", "INVENTED FIELD", moment, "40.0", "-80.0", "250.0"]
    for column in GHCNH_COLUMNS:
        codes = {"Report_Type": report, "Source_Code": source, "Quality_Code": quality} if column in cells else {}
        line.append(cells.get(column, ""))
        line += [cells.get(f"{column}_{code}", codes.get(code, "")) for code in GHCNH_CODES]
    return "|".join([*line, 'RMK AO2 "'])


def ghcnh_file(reports: Iterable[str]) -> bytes:
    """A file of some reports, in the layout of the yearly files."""
    columns = [name for column in GHCNH_COLUMNS for name in (column, *(f"{column}_{code}" for code in GHCNH_CODES))]
    header = "|".join(["STATION", "Station_name", "DATE", "LATITUDE", "LONGITUDE", "ELEVATION", *columns, "remarks"])
    return ("\n".join([header, *reports]) + "\n").encode()


def ghcnh() -> bytes:
    """Routine reports nine minutes before the hour, a special one, and a sum over three hours that must not count."""
    report, wind = ghcnh_report, {"wind_speed": "5.0"}
    reports = [
        report(f"{DAY}T10:51:00", temperature="19.0", relative_humidity="92", precipitation="0.0", **wind),
        report(f"{DAY}T11:51:00", temperature="20.0", relative_humidity="90", precipitation="0.0", **wind),
        report(f"{DAY}T12:37:00", report="FM16", precipitation="2.0", wind_speed="8.0"),
        report(f"{DAY}T12:51:00", temperature="21.0", relative_humidity="89", precipitation="2.5", **wind),
        report(f"{DAY}T13:51:00", relative_humidity="88", precipitation="0.0", precipitation_3_hour="2.5", **wind),
    ]
    return ghcnh_file(reports)


# Typical years: local standard time five hours behind UTC, so that 12:00 UTC is 07:00.
OFFSET_HOURS = -5
_FIRST = datetime(2023, 1, 1)  # noqa: DTZ001 - local standard time
YEAR_HOURS = [_FIRST + timedelta(hours=i) for i in range(8760)]  # the beginning of each
NOON_ROW = YEAR_HOURS.index(datetime(2023, 7, 18, 6))  # noqa: DTZ001 - the hour that ends at 07:00 local, 12:00 UTC
TELLING = range(NOON_ROW - 1, NOON_ROW + 3)
T_BY_ROW = dict(zip(TELLING, (19.0, 20.0, 21.0, None), strict=True))
RH_BY_ROW = dict(zip(TELLING, (92, 90, 89, 88), strict=True))
RAIN_BY_ROW = {NOON_ROW + 1: 2.5}

Cells = Callable[[int], dict[str, str]]


def nothing_else(_: int) -> dict[str, str]:
    """No cell other than the invented year's."""
    return {}


def epw(other: Cells = nothing_else, *, rows: int = 8760, offset_hours: float = OFFSET_HOURS) -> bytes:
    """A year in EPW form; ``other`` gives cells of a row, by their number, in place of the invented ones."""
    lines = [f"LOCATION,Invented,ZZ,ZZZ,made up,999999,40.00,-80.00,{offset_hours},250.0"]
    lines += [f'REMARK {i},"a lone quotation mark' for i in range(7)]
    for i, start in enumerate(YEAR_HOURS[:rows]):
        temperature = T_BY_ROW.get(i, 15.0)
        cells = ["0"] * 35
        cells[:6] = [str(start.year), str(start.month), str(start.day), str(start.hour + 1), "0", "?9?9"]
        cells[6:10] = ["99.9" if temperature is None else f"{temperature}", "12.0", f"{RH_BY_ROW.get(i, 80)}", "98700"]
        cells[13], cells[21], cells[22] = "300", "5.0", "5"
        cells[33], cells[34] = f"{RAIN_BY_ROW.get(i, 0.0)}", "1"
        for number, cell in other(i).items():
            cells[int(number)] = cell
        lines.append(",".join(cells))
    return ("\n".join(lines) + "\n").encode()


TMY3_COLUMNS = (
    "Date (MM/DD/YYYY)",
    "Time (HH:MM)",
    "GHI (W/m^2)",
    "TotCld (tenths)",
    "Dry-bulb (C)",
    "Dew-point (C)",
    "RHum (%)",
    "Pressure (mbar)",
    "Wspd (m/s)",
    "Lprecip depth (mm)",
    "Lprecip quantity (hr)",
)


def tmy3(other: Cells = nothing_else, *, rows: int = 8760) -> bytes:
    """A year in TMY3 form, with the columns that are read; ``other`` gives cells of a row by column name."""
    lines = [f'999999,"INVENTED FIELD",ZZ,{OFFSET_HOURS}.0,40.000,-80.000,250', ",".join(TMY3_COLUMNS)]
    for i, start in enumerate(YEAR_HOURS[:rows]):
        temperature = T_BY_ROW.get(i, 15.0)
        told = {
            "Date (MM/DD/YYYY)": f"{start:%m/%d}/{1988 + start.month}",  # a typical year's months are of various years
            "Time (HH:MM)": f"{start.hour + 1:02d}:00",
            "GHI (W/m^2)": "300",
            "TotCld (tenths)": "5",
            "Dry-bulb (C)": "-9900" if temperature is None else f"{temperature}",
            "Dew-point (C)": "12.0",
            "RHum (%)": f"{RH_BY_ROW.get(i, 80)}",
            "Pressure (mbar)": "987",
            "Wspd (m/s)": "5.0",
            "Lprecip depth (mm)": f"{RAIN_BY_ROW.get(i, 0)}",
            "Lprecip quantity (hr)": "1",
        } | other(i)
        lines.append(",".join(told[name] for name in TMY3_COLUMNS))
    return ("\n".join(lines) + "\n").encode()


CANONICAL_CSV = f"""hour_utc,air_temperature_c,relative_humidity_pct,rain_mm,wind_speed_10m_m_s
{DAY}T11:00Z,19,92,0,5
{DAY}T12:00Z,20,90,0,5
{DAY}T13:00Z,21,89,2.5,5
{DAY}T14:00Z,,88,0,5
""".encode()

# A logger in New York on daylight time (UTC − 4 h) whose stamps name the beginning of the hour.
MAPPED_CSV = f"""When,Temp (°F),RH,Rain (in),Wind (mph)
{DAY} 06:00,66.2,92,0,{MPH!r}
{DAY} 07:00,68,90,0,{MPH!r}
{DAY} 08:00,69.8,89,{INCH!r},{MPH!r}
{DAY} 09:00,,88,0,{MPH!r}
""".encode()
MAPPING = {
    "schema": 1,
    "time_column": "When",
    "time_zone": "America/New_York",
    "label": "start",
    "columns": {
        "air_temperature_c": {"column": "Temp (°F)", "unit": "F"},
        "relative_humidity_pct": {"column": "RH", "unit": "%"},
        "rain_mm": {"column": "Rain (in)", "unit": "in"},
        "wind_speed_10m_m_s": {"column": "Wind (mph)", "unit": "mph"},
    },
}

METEOSTAT_CSV = b"""year,month,day,hour,temp,temp_source,rhum,rhum_source,prcp,prcp_source,wspd,wspd_source
2023,7,18,11,19,isd_lite,92,isd_lite,0,isd_lite,18,isd_lite
2023,7,18,12,20,isd_lite,90,isd_lite,0,isd_lite,18,isd_lite
2023,7,18,13,21,isd_lite,89,isd_lite,2.5,isd_lite,18,isd_lite
2023,7,18,14,,,88,isd_lite,0,isd_lite,18,isd_lite
"""


# Replies that went wrong


_EDIT = st.tuples(
    st.floats(0, 1), st.integers(0, 200), st.sampled_from(["lost", "doubled", "odd"]), st.binary(max_size=20)
)


def cut_and_spliced(body: bytes) -> st.SearchStrategy[bytes]:
    """A reply with a few stretches lost, doubled or overwritten by anything."""
    return st.lists(_EDIT, min_size=1, max_size=4).map(lambda edits: _edited(body, edits))


def _edited(body: bytes, edits: Iterable[tuple[float, int, str, bytes]]) -> bytes:
    for place, length, how, odd in edits:
        first = round(place * len(body))
        stretch = body[first : first + length]
        body = body[:first] + {"lost": b"", "doubled": 2 * stretch, "odd": odd}[how] + body[first + length :]
    return body


def _nodes(value: Any) -> list[tuple[Any, Any]]:
    """Every place in a JSON value, as its container and its key there."""
    keys = list(value) if isinstance(value, dict) else list(range(len(value))) if isinstance(value, list) else []
    return [(value, key) for key in keys] + [node for key in keys for node in _nodes(value[key])]


ODD_JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False)
    | st.text(max_size=20)
    | st.sampled_from(["2023-07-18T25:00", "9999-12-31T23:00", f"{DAY}T12:00:00+00:00/P9D", "wmoUnit:degC", 10**400]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=6,
)


@st.composite
def with_odd_places(draw: st.DrawFn, reply: dict[str, Any]) -> bytes:
    """A reply in which a few places hold anything that JSON can, or are gone."""
    changed = json.loads(json.dumps(reply))
    for _ in range(draw(st.integers(1, 3))):
        container, key = draw(st.sampled_from(_nodes(changed) or [({}, "")]))
        if draw(st.booleans()) and isinstance(container, list | dict) and container:
            container.pop(key)
        else:
            container[key] = draw(ODD_JSON)
    return as_bytes(changed)
