"""Typical years from EPW and TMY3 files, through pvlib: 8,760 hours stitched together from different years.

For demonstrations and for a climate where there is no record; never for tuning, and never as observations. Both forms
run in local *standard* time with hours 1 to 24, an hour's number being its end (EnergyPlus Auxiliary Programs, data
dictionary of EPW: "hour 1 is 00:01 to 01:00"; NREL TMY3 manual, read second-hand), so row 1 is the hour that ends on
1 January at 01:00. pvlib labels the two forms differently; here the row's place in the year counts, and every row's
date and hour are checked against it. States are at the stamp, rain and radiation over the hour that ends there. Wind
is taken as measured at 10 m; the files do not say.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecast.errors import DataError, Fault, MissingInputError, Notice
from forecast.ingest.imported import Grade, ImportedHours, Provider, from_one
from forecast.ingest.spell import clipped, within_bounds
from forecast.panel import Floats
from forecast.quantities import unit_suffix
from forecast.units import IMPORT_UNITS

HOURS = 8760
MOST_BYTES = 10_000_000  # house choice: both forms have under 2 MB
EPW_HEADER_LINES, TMY3_HEADER_LINES = 8, 2
EPW_FIELDS = 35  # its data dictionary
EPW_FIELDS_NEEDED = 23  # up to total sky cover; older files end before the rain

# Month and day of the 365 days; any year without a leap day tells them.
_DAYS = [
    (int(f"{day}"[5:7]), int(f"{day}"[8:]))
    for day in np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]").astype(str)
]

EPW = Provider("epw", "typical year (EPW file)", Grade.TYPICAL)
TMY3 = Provider(
    key="tmy3",
    name="typical year TMY3, National Renewable Energy Laboratory",
    grade=Grade.TYPICAL,
    link="https://doi.org/10.2172/928611",
)

# Rain. A US gauge counts hundredths of an inch. In tenths of a millimetre these are 2.54 n, rounded: 3, 5, 8, 10, 13 …,
# and never 1, 2 or 4. In whole millimetres they are 0.254 n, rounded, where 1, 2 and 4 are common. So a column of whole
# figures that keeps to the first pattern is in tenths, whatever its header says. Of all whole numbers 1 in 2.54 (39 %)
# keep to it by chance. Measured on the Greensboro file that comes with pvlib: 98 % of its 358 wet hours do, and its
# 8,345 "mm" are 834 mm.
TENTHS_SHARE = 0.9  # house choice: below what was measured, and with 30 wet hours far beyond chance
TENTHS_WET_HOURS = 30  # house choice: chance brings 27 of 30 once in some hundred million files
# House choice, above any airport's rain: Yakutat, Alaska, has some 3,800 mm a year (from memory).
MOST_RAIN_MM_YEAR = 5000


@dataclass(frozen=True, slots=True)
class _Field:
    """One column: pvlib's name, ours, its unit there, and from which figure on it says "missing"."""

    theirs: str
    house: str
    unit: str
    missing_from: float


@dataclass(frozen=True, slots=True)
class _Form:
    """One of the two forms."""

    name: str
    provider: Provider
    header_lines: int
    hour_of_row: re.Pattern[str]
    reader: str
    fields: tuple[_Field, ...]
    rain: str
    rain_hours: str


# "Missing" of EPW: the data dictionary's own figures, "if values in this field are >= the following number". TMY3 has
# -9900 (its manual, read second-hand; both of pvlib's files) and keeps the older 99, 999, 9999 in places.
_EPW_FORM = _Form(
    name="EPW",
    provider=EPW,
    header_lines=EPW_HEADER_LINES,
    hour_of_row=re.compile(r"\d{4},(\d\d?),(\d\d?),(\d\d?),\d\d?,", re.ASCII),
    reader="read_epw",
    fields=(
        _Field("temp_air", "air_temperature_c", "C", 99.9),
        _Field("temp_dew", "dew_point_c", "C", 99.9),
        _Field("relative_humidity", "relative_humidity_pct", "%", 999),
        _Field("atmospheric_pressure", "pressure_hpa", "Pa", 999999),
        _Field("ghi", "shortwave_down_w_m2", "W/m2", 9999),  # Wh/m² over one hour
        _Field("wind_speed", "wind_speed_10m_m_s", "m/s", 999),
        _Field("total_sky_cover", "cloud_cover_fraction", "tenths", 99),
    ),
    rain="liquid_precipitation_depth",
    rain_hours="liquid_precipitation_quantity",
)
_TMY3_FORM = _Form(
    name="TMY3",
    provider=TMY3,
    header_lines=TMY3_HEADER_LINES,
    hour_of_row=re.compile(r"(\d\d)/(\d\d)/\d{4},(\d\d):00,", re.ASCII),
    reader="read_tmy3",
    fields=(
        _Field("temp_air", "air_temperature_c", "C", 99.9),
        _Field("temp_dew", "dew_point_c", "C", 99.9),
        _Field("relative_humidity", "relative_humidity_pct", "%", 999),
        _Field("pressure", "pressure_hpa", "mbar", 9999),
        _Field("ghi", "shortwave_down_w_m2", "W/m2", 9999),
        _Field("wind_speed", "wind_speed_10m_m_s", "m/s", 99),
        _Field("TotCld (tenths)", "cloud_cover_fraction", "tenths", 99),
    ),
    rain="Lprecip depth (mm)",
    rain_hours="Lprecip quantity (hr)",
)
_RAIN_MISSING_FROM = 999.0
_NO_FIGURE_BELOW = -9000.0  # -9900 and -9999
_RAIN = "rain_mm"


@dataclass(frozen=True, eq=False)
class TypicalYear:
    """A typical year at one place.

    Attributes:
        values: per quantity, shape (8760,), NaN where the file has none; hours that end from 1 January 01:00 to
            31 December 24:00, local standard time, without a 29 February.
        latitude_deg: north is positive.
        longitude_deg: east is positive.
        elevation_m: above the sea.
        utc_offset_hours: of the standard time; west is negative.
        provider: who stands behind it, graded typical.
        source: the file's name.
        notices: what a reader should know.
    """

    values: Mapping[str, Floats]
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_hours: float
    provider: Provider
    source: str
    notices: tuple[Notice, ...]


def read(body: bytes, *, source: str) -> TypicalYear:
    """A typical year from a file in either form, told apart by its first lines.

    Args:
        body: the file.
        source: its name, for messages.

    Raises:
        MissingInputError: pvlib is not installed.
        DataError: it is in neither form, has not 8,760 hours in order, or its figures cannot be right.
    """
    if len(body) > MOST_BYTES:
        raise DataError(f"{source} is larger than {MOST_BYTES:,} bytes", hint="give one file of one typical year")
    text = _decoded(body)
    if "\0" in text:
        raise DataError(f"{source} holds binary data", hint="give the text file itself, unpacked")
    lines = text.splitlines()
    form, faults = _form(lines)
    if form is None:
        raise DataError(
            f"{source} is neither EPW nor TMY3", faults=faults, hint="give a typical year in one of the two"
        )
    faults += _row_faults(form, lines)
    if faults:
        raise _refused(source, form, faults)
    frame, place = _through_pvlib(form, lines, source)
    notices: list[Notice] = []
    values = {}
    for field in form.fields:
        if field.theirs in frame:
            read_in = _numbers(frame[field.theirs], field.theirs, field.missing_from, faults)
            converted = IMPORT_UNITS[unit_suffix(field.house)][field.unit](read_in)
            values[field.house], found = within_bounds(field.house, converted, field.theirs, faults)
            notices += found
    if form.rain in frame and form.rain_hours in frame:
        values[_RAIN] = _rain(form, frame, notices, faults)
    if faults:
        raise _refused(source, form, faults)
    return TypicalYear(values, *place, form.provider, source, tuple(notices))


def as_hours(year: TypicalYear, calendar_year: int) -> ImportedHours:
    """The typical year laid on one calendar year, with UTC stamps; a leap year keeps a hole on its 29 February.

    Where the standard time is not whole hours from UTC, an hour goes to the last UTC stamp not after its end, with a
    notice.
    """
    every = np.arange(f"{calendar_year}-01-01T01", f"{calendar_year + 1}-01-01T01", dtype="datetime64[h]")
    ends = every - np.timedelta64(1, "h")  # the hour that ends at midnight belongs to the day before
    is_leap_day = ends.astype("datetime64[D]") == np.datetime64(f"{calendar_year}-02-28") + np.timedelta64(1, "D")
    if len(every) > HOURS:
        every = every[~is_leap_day]
    behind = int(np.ceil(year.utc_offset_hours))
    notices = year.notices
    if behind != year.utc_offset_hours:
        part = round(60 * (behind - year.utc_offset_hours))
        text = f"standard time is no whole hours from UTC: every hour stands at a UTC stamp {part} minutes early"
        notices = (*notices, Notice(text))
    return from_one(every - np.timedelta64(behind, "h"), year.values, year.provider, year.source, notices)


def _refused(source: str, form: _Form, faults: list[Fault]) -> DataError:
    what = f"{source} ({form.name}) has {len(faults)} mistake(s); nothing was taken"
    return DataError(what, faults=faults, hint="fetch the file again, or take another place")


def _decoded(body: bytes) -> str:
    try:
        return body.decode("utf-8-sig")
    except UnicodeDecodeError:
        return body.decode("latin-1")  # a place's name; every byte is a letter there


def _form(lines: list[str]) -> tuple[_Form | None, list[Fault]]:
    """The form, and what is wrong with its header."""
    if lines and lines[0].upper().startswith("LOCATION,"):
        parts = lines[0].split(",")
        faults = [] if len(parts) == 10 else [Fault(f"{len(parts)} cells; LOCATION and nine more are needed", 1)]
        return _EPW_FORM, faults or _place_faults(parts[6], parts[7], parts[8], parts[9])
    if len(lines) > 1 and lines[1].startswith("Date (MM/DD/YYYY),Time (HH:MM),"):
        parts = lines[0].split(",")
        header = lines[1].split(",")
        faults = [] if len(parts) == 7 else [Fault(f"{len(parts)} cells; seven are needed", 1)]
        faults += [Fault("named twice", 2, name) for name in sorted(set(header)) if header.count(name) > 1]
        faults += [Fault("holds a quotation mark", 2)] if '"' in lines[1] else []
        wanted = ("Dry-bulb (C)", "Dew-point (C)", "RHum (%)")
        faults += [Fault("missing", 2, name) for name in wanted if name not in header]
        return _TMY3_FORM, faults or _place_faults(parts[4], parts[5], parts[3], parts[6])
    return None, [Fault("begins neither with LOCATION nor with a station and a line of columns Date, Time …", 1)]


def _place_faults(latitude: str, longitude: str, offset_hours: str, elevation: str) -> list[Fault]:
    """Header figures that cannot be; EPW's dictionary allows offsets of ±12 h, and some islands have 13 and 14."""
    faults = []
    for text, least, most, what in (
        (latitude, -90, 90, "latitude"),
        (longitude, -180, 180, "longitude"),
        (offset_hours, -14, 14, "hours from UTC"),
        (elevation, -1000, 9999, "elevation"),
    ):
        try:
            is_right = least <= float(text) <= most
        except ValueError:
            is_right = False
        if not is_right:
            faults.append(Fault(f"{clipped(text)!r} is not {least} to {most}", 1, what))
    return faults


def _row_faults(form: _Form, lines: list[str]) -> list[Fault]:
    """Rows that are not the hours of one year of 365 days, in order."""
    rows = lines[form.header_lines :]
    if len(rows) != HOURS:
        leap = "; take out 29 February" if len(rows) == HOURS + 24 else ""
        return [Fault(f"{len(rows)} rows below the header; {HOURS} are needed, an hour a row of 365 days{leap}")]
    width = rows[0].count(",")
    most = lines[1].count(",") if form is _TMY3_FORM else EPW_FIELDS - 1
    if not (width == most or (form is _EPW_FORM and EPW_FIELDS_NEEDED - 1 <= width < most)):
        return [Fault(f"{width + 1} cells where {most + 1} belong", form.header_lines + 1)]
    faults = []
    for i, row in enumerate(rows):
        line = form.header_lines + i + 1
        found = form.hour_of_row.match(row)
        month, day = _DAYS[i // 24]
        if row.count(",") != width:
            faults.append(Fault(f"{row.count(',') + 1} cells where {width + 1} belong", line))
        elif '"' in row or not found or [int(part) for part in found.groups()] != [month, day, i % 24 + 1]:
            faults.append(Fault(f"{clipped(row, 20)!r} where {month}/{day} hour {i % 24 + 1} belongs", line))
    return faults


def _through_pvlib(
    form: _Form, lines: list[str], source: str
) -> tuple[pd.DataFrame, tuple[float, float, float, float]]:
    """The table as pvlib reads it, with latitude, longitude, elevation and hours from UTC."""
    try:
        from pvlib import iotools  # noqa: PLC0415 - an extra that only this call needs
    except ImportError as error:
        raise MissingInputError(
            "typical years are read with pvlib, which is not installed",
            hint="pip install 'turf-disease-forecast[typical]'",
        ) from error
    header = lines[: form.header_lines]
    if form is _EPW_FORM:  # of its header pvlib reads the first line; remarks in the others could mislead it
        header[1:] = ["-"] * (EPW_HEADER_LINES - 1)
    text = "\n".join([*header, *lines[form.header_lines :], ""])
    reader: Callable[[io.StringIO], tuple[pd.DataFrame, dict[str, float]]] = getattr(iotools, form.reader)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", pd.errors.DtypeWarning)  # a word among figures is found further along
            frame, meta = reader(io.StringIO(text))
    except (ValueError, KeyError) as error:
        reason = clipped(str(error), 120)
        raise DataError(f"{source} cannot be read as {form.name}: {reason}", hint="fetch the file again") from error
    if len(frame) != HOURS:
        raise DataError(f"{source} came through pvlib as {len(frame)} hours, not {HOURS}", hint="fetch the file again")
    return frame, (meta["latitude"], meta["longitude"], meta["altitude"], meta["TZ"])


def _numbers(column: pd.Series[float], name: str, missing_from: float, faults: list[Fault]) -> Floats:
    """A column's figures, NaN where the form says "missing"."""
    # By way of text, since pandas cannot turn a whole number of hundreds of digits into a figure.
    figures = pd.to_numeric(column.astype(str), errors="coerce").to_numpy(dtype=np.float64, copy=True)
    is_word = column.notna().to_numpy() & ~np.isfinite(figures)
    if is_word.any():
        example = clipped(str(column[is_word].iloc[0]))
        faults.append(Fault(f"{is_word.sum()} cells such as {example!r} hold no figure", column=name))
    figures[~np.isfinite(figures) | (figures >= missing_from) | (figures <= _NO_FIGURE_BELOW)] = np.nan
    return figures


def _rain(form: _Form, frame: pd.DataFrame, notices: list[Notice], faults: list[Fault]) -> Floats:
    """Rain of each hour in mm.

    A sum over several or over unknown hours cannot be shared out honestly, so its hour is unknown; a sum of nothing is
    nothing in each of its hours, and is taken for the hour it stands at.
    """
    sums = _numbers(frame[form.rain], form.rain, _RAIN_MISSING_FROM, faults)
    period = _numbers(frame[form.rain_hours], form.rain_hours, 99, faults)
    is_sum = (sums > 0) & ~(period == 1)
    rain = np.where(is_sum, np.nan, sums)
    absent = np.count_nonzero(np.isnan(sums))
    if absent:
        text = f"the file has no rain in {absent} of {HOURS} hours ({100 * absent / HOURS:.0f} %)"
        notices.append(Notice(text, quantity=_RAIN, grave=True))
    if is_sum.any():
        text = f"{is_sum.sum()} sums of rain over several or over unknown hours were left out"
        notices.append(Notice(text, quantity=_RAIN))
    rain = _in_mm(rain, form.rain, notices)
    rain, found = within_bounds(_RAIN, rain, form.rain, faults)
    notices += found
    return rain


def _in_mm(rain: Floats, name: str, notices: list[Notice]) -> Floats:
    """The figures in mm, by what they can only be; all unknown where that cannot be told."""
    known = rain[~np.isnan(rain)]
    wet = known[known > 0]
    if not wet.size:
        return rain
    share = float(np.mean(on_inch_grid(wet)))
    if wet.size >= TENTHS_WET_HOURS and share >= TENTHS_SHARE:
        text = (
            f"{name} was read as tenths of a millimetre: all figures are whole and {100 * share:.0f} % of the "
            f"{wet.size} wet hours fit hundredths of an inch in tenths; the year has {known.sum() / 10:.0f} mm"
        )
        notices.append(Notice(text, quantity=_RAIN, grave=True))
        return rain * 0.1
    year_mm = known.sum() * HOURS / known.size
    if year_mm > MOST_RAIN_MM_YEAR:
        text = f"{name} was left out: {known.sum():.0f} in {known.size} known hours; its unit cannot be told"
        notices.append(Notice(text, quantity=_RAIN, grave=True))
        return np.full(len(rain), np.nan)
    return rain


def on_inch_grid(figures: Floats) -> NDArray[np.bool_]:
    """Which figures are whole and a number of hundredths of an inch in tenths of a millimetre, rounded."""
    counts = np.round(figures / 2.54)
    fits: NDArray[np.bool_] = (figures % 1 == 0) & (np.abs(figures - 2.54 * counts) <= 0.5)
    return fits
