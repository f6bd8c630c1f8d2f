"""Past hours from GHCNh files (Global Historical Climatology Network hourly, NOAA NCEI): reports collapsed to hours.

A file has one line a report, parted by ``|``, in UTC, with five code columns beside every figure; routine, special and
sub-hourly reports stand mixed, and the columns' names and order have changed between releases. So columns are found by
name, whatever their case, and

- a state at an hour is the figure of the nearest report within half an hour (house choice; US reports come 4 to 9
  minutes before the hour; a notice tells how many came from more than 10 minutes off, the limit of NOAA's ISD-Lite);
- rain of an hour is the past-hour figure of the last routine report in the half-hour before its end, or within 10
  minutes after it. Reports within an hour carry a running sum (the network's documentation, read second-hand), so
  nothing is added up and special reports are left out; sums over 3 to 24 hours are never read. Rain is often left
  empty in dry hours: that is unknown here, not dry;
- relative humidity is taken as given: the network computes it from temperature and dew point (read second-hand).

Wind is taken as measured at 10 m, the standard of airports; the files do not say. Which quality codes drop a figure is
told at :data:`ERRONEOUS`; the table was read second-hand, so only what is surely wrong is dropped.
"""

from __future__ import annotations

import io
import re
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecast.errors import DataError, Fault, Notice
from forecast.ingest.imported import Grade, ImportedHours, Provider
from forecast.ingest.spell import FIRST_YEAR, LAST_YEAR, clipped
from forecast.panel import Bytes, Floats, Hours

MOST_BYTES = 50_000_000  # house choice: a year of five-minute reports with all 330 columns has some 40 MB
MOST_ROWS = 1_000_000  # house choice: nine years of five-minute reports
MOST_COLUMNS = 1_000  # house choice: three times what the releases have
REACH_MINUTES = 30
NEAR_MINUTES = 10  # ISD-Lite technical document, NOAA 2006 (read second-hand)
RAIN_AFTER_MINUTES = 10  # house choice: a routine report a little late
SHARE_NO_FIGURES = 0.05  # house choice: more cells without a figure than this and the file is not what it seems
LASTING = "fetch it again; if it stays so, the layout of these files has changed"

NETWORK = Provider(
    key="ghcnh",
    name="GHCNh, NOAA NCEI",
    grade=Grade.OBSERVED,
    licence="public domain (US government work)",
    link="https://www.ncei.noaa.gov/products/global-historical-climatology-network-hourly",
)

# Theirs → ours; both are in °C, %, m/s, hPa and mm (documentation v1, read second-hand), so nothing is converted.
NAMES = MappingProxyType(
    {
        "temperature": "air_temperature_c",
        "dew_point_temperature": "dew_point_c",
        "relative_humidity": "relative_humidity_pct",
        "precipitation": "rain_mm",
        "wind_speed": "wind_speed_10m_m_s",
        "wind_gust": "wind_gust_10m_m_s",
        "station_level_pressure": "pressure_hpa",
    }
)

# Figures that stand for "none" in the sources that were merged (read second-hand).
NO_FIGURE = (-9999.0, -999.9, 9999.0, 99999.0)

# Code of a source → quality codes that say a figure is wrong: GHCNh documentation 1.1.0 (10 March 2026), table 3, read
# second-hand in two public readers that agree on it. Suspect figures (2, 6) stay, for the checks further along.
ERRONEOUS = MappingProxyType(
    dict.fromkeys(("313", "314", "315", "322", "335", "343", "344", "346"), frozenset({"3", "7"}))
    | dict.fromkeys(("220", "221", "222", "223", "347", "348"), frozenset({"3", "5"}))
)
# Source 382 marks a rain sum over more than an hour with A (the same table, read second-hand).
LONGER_SUM = ("382", "A")
_WRONG_PAIRS = frozenset(f"{source} {code}" for source, codes in ERRONEOUS.items() for code in codes)
# A small letter, from any source, is a failed check of the network's own (the same table, read second-hand).
_FAILED = r"[a-z]+"

_TRACE = frozenset({"T", "2", "2-TRACE", "TRACE"})  # measurement codes of a trace (read second-hand)
# FM-16 and SPECI are special airport reports (WMO-No. 306), SP and SAOSP their older US names (ISD format document);
# both from memory.
_SPECIAL = r"FM-?16|SPECI|(?:^|[^A-Z])(?:SP|SAOSP)(?:[^A-Z]|$)"
_SOURCE = re.compile(r"[0-9A-Za-z]{1,8}", re.ASCII)
_TIME_PARTS = ("year", "month", "day", "hour", "minute")

Minutes = NDArray[np.int64]
Rows = NDArray[np.int64]


def read(body: bytes, *, source: str, station: str | None = None) -> ImportedHours:
    """One file as hours.

    Args:
        body: the file, as fetched (``GHCNh_<station>_<year>.psv``).
        source: its name or address, for messages and the list of imports.
        station: the station it has to be of; not checked when left out.

    Returns:
        Hours in which anything was reported; each value with the source code it came from as a provider of its own.

    Raises:
        DataError: every mistake in the file, by line.
    """
    table = _table(body, source)
    faults = _station_faults(table, station)
    minutes, found = _minutes(table)
    faults += found
    if faults:
        raise DataError(f"{source} has {len(faults)} mistake(s); nothing was taken", faults=faults, hint=LASTING)
    notices: list[Notice] = []
    picked = {}
    for theirs, house in NAMES.items():
        if theirs in table:
            figures = _figures(table, theirs, notices, faults)
            pick = _rain_rows if theirs == "precipitation" else _nearest_rows
            rows, hours = pick(minutes, np.flatnonzero(~np.isnan(figures)), _column(table, theirs, "report_type"))
            picked[house] = (hours, figures[rows], _column(table, theirs, "source_code").iloc[rows])
            _tell_far(minutes[rows], hours, house, notices)
    if faults:
        raise DataError(f"{source} has {len(faults)} mistake(s); nothing was taken", faults=faults, hint=LASTING)
    return _on_common_hours(picked, source, notices)


def _table(body: bytes, source: str) -> pd.DataFrame:
    """The columns that are read, as text, under their names in small letters."""
    if len(body) > MOST_BYTES:
        raise DataError(f"{source} is larger than {MOST_BYTES:,} bytes", hint="take it year by year")
    if b"\0" in body:
        raise DataError(f"{source} holds binary data", hint="fetch the .psv file, not the .parquet one")
    lines = body.removeprefix(b"\xef\xbb\xbf").splitlines()
    header = lines[0].decode("utf-8", "replace").lower().split("|") if lines else []
    faults = _header_faults(header) or _shape_faults(lines, len(header))
    if faults:
        raise DataError(f"{source} is no GHCNh file", faults=faults, hint=LASTING)
    wanted = [i for i, name in enumerate(header) if _is_read(name)]
    table = pd.read_csv(
        io.BytesIO(b"\n".join(lines[1:])),
        sep="|",
        header=None,
        names=list(range(len(header))),
        usecols=wanted,
        dtype=str,
        quoting=3,  # a remark may hold a lone quotation mark
        keep_default_na=False,
        na_filter=False,
        encoding_errors="replace",
        skip_blank_lines=False,
        index_col=False,
    )
    table.columns = pd.Index([header[i] for i in wanted])
    return table.map(str.strip)


def _is_read(name: str) -> bool:
    codes = ("measurement_code", "quality_code", "report_type", "source_code")
    columns = set(NAMES) | {f"{theirs}_{code}" for theirs in NAMES for code in codes}
    return name in {*columns, *_TIME_PARTS, "date", "station", "station_id"}


def _header_faults(header: list[str]) -> list[Fault]:
    if len(header) > MOST_COLUMNS:
        return [Fault(f"{len(header)} columns; at most {MOST_COLUMNS} are allowed", 1)]
    faults = []
    if "date" not in header and not set(_TIME_PARTS) <= set(header):
        faults.append(Fault("neither DATE nor Year, Month, Day, Hour and Minute is there", 1))
    if not set(NAMES) & set(header):
        faults.append(Fault(f"none of {', '.join(NAMES)} is there", 1))
    return faults + [Fault("named twice", 1, name) for name in set(filter(_is_read, header)) if header.count(name) > 1]


def _shape_faults(lines: list[bytes], width: int) -> list[Fault]:
    if len(lines) < 2:
        return [Fault("there are no reports below the header", 1)]
    if len(lines) > MOST_ROWS:
        return [Fault(f"{len(lines)} lines; at most {MOST_ROWS} are allowed")]
    cells = [line.count(b"|") + 1 for line in lines]
    return [Fault(f"{n} cells where the header has {width}", i + 1) for i, n in enumerate(cells) if n != width]


def _column(table: pd.DataFrame, theirs: str, code: str) -> pd.Series[str]:
    name = f"{theirs}_{code}"
    return table[name] if name in table else pd.Series("", index=table.index, dtype=str)


def _station_faults(table: pd.DataFrame, station: str | None) -> list[Fault]:
    name = next((column for column in ("station", "station_id") if column in table), None)
    found = sorted(table[name].unique()) if name else []
    if len(found) > 1:
        listed = ", ".join(clipped(one) for one in found[:3])
        return [Fault(f"{len(found)} stations stand in one file: {listed} …", column="STATION")]
    if station is not None and found != [station]:
        return [
            Fault(f"the file is of {clipped(found[0]) if found else 'no station'}, not {station}", column="STATION")
        ]
    return []


def _minutes(table: pd.DataFrame) -> tuple[Minutes, list[Fault]]:
    """The moment of each report in minutes since 1970, UTC."""
    if "date" in table:
        bare = table["date"]
        iso = bare.str.fullmatch(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d(?:\.\d{1,9})?)?(?:Z|\+00:?00)?")
    else:
        parts = [table[name].str.zfill(2) for name in _TIME_PARTS]
        bare = parts[0] + "-" + parts[1] + "-" + parts[2] + "T" + parts[3] + ":" + parts[4]
        iso = bare.str.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d")
    moments = pd.to_datetime(bare.where(iso), format="ISO8601", errors="coerce", utc=True).dt.tz_localize(None)
    is_wrong = (moments.isna() | ~moments.dt.year.between(FIRST_YEAR, LAST_YEAR)).to_numpy()
    text = f"is no moment in UTC from {FIRST_YEAR} to {LAST_YEAR}"
    faults = [Fault(f"{clipped(bare.iloc[i])!r} {text}", int(i) + 2, "DATE") for i in np.flatnonzero(is_wrong)]
    minutes = moments.to_numpy().astype("datetime64[m]").astype(np.int64)
    return minutes, faults


def _figures(table: pd.DataFrame, theirs: str, notices: list[Notice], faults: list[Fault]) -> Floats:
    """A column's figures, NaN where there is none or where its codes say that it is wrong."""
    house = NAMES[theirs]
    cells = table[theirs]
    figures = pd.to_numeric(cells.mask(cells == "", "nan"), errors="coerce").to_numpy(dtype=np.float64, copy=True)
    is_word = (cells != "").to_numpy() & ~np.isfinite(figures)
    figures[is_word] = np.nan
    if is_word.sum() > SHARE_NO_FIGURES * (cells != "").sum():
        example = clipped(str(cells[is_word].iloc[0]))
        faults.append(Fault(f"{is_word.sum()} cells such as {example!r} hold no figure", column=theirs))
    figures[np.isin(figures, NO_FIGURE)] = np.nan
    is_wrong = _wrong(table, theirs) & ~np.isnan(figures)
    figures[is_wrong] = np.nan
    for count, text in (
        (is_word.sum(), "cells that hold no figure were left out"),
        (is_wrong.sum(), "figures that the network itself marks as wrong or as no hour's sum were left out"),
    ):
        if count:
            notices.append(Notice(f"{theirs}: {count} {text}", quantity=house))
    if theirs == "precipitation":
        is_trace = _column(table, theirs, "measurement_code").str.upper().isin(_TRACE).to_numpy() & ~is_wrong
        figures[is_trace] = 0.0
        if is_trace.any():
            text = f"precipitation: {is_trace.sum()} reports of a trace, too little to measure, were taken as 0 mm"
            notices.append(Notice(text, quantity=house))
    return figures


def _wrong(table: pd.DataFrame, theirs: str) -> NDArray[np.bool_]:
    quality, source = _column(table, theirs, "quality_code"), _column(table, theirs, "source_code")
    pairs = source + " " + quality
    wrong = quality.str.fullmatch(_FAILED) | pairs.isin(_WRONG_PAIRS)
    if theirs == "precipitation":
        wrong |= pairs == " ".join(LONGER_SUM)
    return wrong.to_numpy(dtype=bool)


def _nearest_rows(minutes: Minutes, known: Rows, _: pd.Series[str]) -> tuple[Rows, Hours]:
    """For each hour the report nearest to it, of those with a figure, and the hour."""
    hour = (minutes[known] + REACH_MINUTES) // 60  # half past belongs to the hour to come
    off = minutes[known] - 60 * hour
    return _first_of_each(known, hour, np.lexsort((known, off > 0, np.abs(off), hour)))


def _rain_rows(minutes: Minutes, known: Rows, report_type: pd.Series[str]) -> tuple[Rows, Hours]:
    """For each hour the routine report that closes it: the last before its end, else the first just after it."""
    is_special = report_type.str.upper().str.contains(_SPECIAL).to_numpy(dtype=bool)
    known = known[~is_special[known]]
    hour = (minutes[known] + REACH_MINUTES - 1) // 60  # from half past, not included, …
    off = minutes[known] - 60 * hour
    fits = off <= RAIN_AFTER_MINUTES
    known, hour, off = known[fits], hour[fits], off[fits]
    return _first_of_each(known, hour, np.lexsort((known, np.abs(off), off > 0, hour)))


def _first_of_each(known: Rows, hour: Rows, order: Rows) -> tuple[Rows, Hours]:
    hours, first = np.unique(hour[order], return_index=True)
    return known[order][first], np.datetime64(0, "h") + hours.astype("timedelta64[h]")


def _tell_far(minutes: Minutes, hours: Hours, house: str, notices: list[Notice]) -> None:
    off = np.abs(minutes - (hours - np.datetime64(0, "h")).astype(np.int64) * 60)
    far = np.count_nonzero(off > NEAR_MINUTES)
    if far:
        text = f"{far} of {len(hours)} hours were taken from a report more than {NEAR_MINUTES} minutes off the hour"
        notices.append(Notice(text, quantity=house))


def _on_common_hours(
    picked: dict[str, tuple[Hours, Floats, pd.Series[str]]], source: str, notices: list[Notice]
) -> ImportedHours:
    """All quantities on one list of hours, each value with its provider."""
    hours = np.unique(np.concatenate([stamps for stamps, _, _ in picked.values()]))
    if not len(hours):
        raise DataError(f"{source} holds no figure that can be taken", hint=LASTING)
    codes = sorted({code for _, _, column in picked.values() for code in column.unique() if _SOURCE.fullmatch(code)})
    codes = codes[:254]  # a provider's number is one byte
    number = {code: i + 1 for i, code in enumerate(codes)}
    providers = (NETWORK, *(_from_source(code) for code in codes))
    values: dict[str, Floats] = {}
    provider: dict[str, Bytes] = {}
    for house, (stamps, figures, column) in picked.items():
        at = np.searchsorted(hours, stamps)
        values[house] = np.full(len(hours), np.nan)
        values[house][at] = figures
        provider[house] = np.zeros(len(hours), np.uint8)
        provider[house][at] = column.map(lambda code: number.get(code, 0)).to_numpy(dtype=np.uint8)
    return ImportedHours(hours, values, provider, providers, source, tuple(notices))


def _from_source(code: str) -> Provider:
    return Provider(
        key=f"{NETWORK.key}.{code}",
        name=f"{NETWORK.name}, source {code}",
        grade=NETWORK.grade,
        licence=NETWORK.licence,
        link=NETWORK.link,
    )
