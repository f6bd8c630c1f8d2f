"""Readings that stand still longer than weather does: stuck sensors, copied days, frozen cups, a hanging gauge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np

from forecast.panel import Floats
from forecast.quality.form import Check, Found, Limit, Marks, Seen
from forecast.quality.series import DAY_HOURS, resolution, run_lengths
from forecast.quantities import QUANTITIES, Flag

_HADISD = "HadISD: Dunn et al. 2012, Clim. Past 8:1649-1679, Table 4 (read second-hand, in its version 3 source)"
_AS_DEW_POINT = "as for the dew point: house choice, HadISD has no humidity"
_SAME = "{} on end the same"
# Longest runs measured on five US airports (61 station-years, whole °F): temperature and dew point 22 h, humidity
# below 99 % 20 h.
_SOONER = "house choice: above the longest run measured on five US airports, 22 h"

_CLASSES = (1.0, 0.5, 0.1)  # reporting steps that HadISD tells apart; a step between two is read as the coarser


def _by_class(name: str, lengths: tuple[int, int, int], source: str) -> dict[str, Limit]:
    return {
        f"{name} {step:g}": Limit(length, "readings", f"{_SAME}, reported in steps of {step:g}", source)
        for step, length in zip(_CLASSES, lengths, strict=True)
    }


_STUCK = MappingProxyType(
    {
        "saturated_pct": Limit(
            99, "%", "at {} and above humidity may stand still", "as Shafer et al. 2000 is used hourly"
        ),
        "suspect": Limit(24, "readings", _SAME, _SOONER),
        **_by_class("air_temperature_c", (40, 30, 24), _HADISD),
        **_by_class("dew_point_c", (80, 60, 48), _HADISD),
        **_by_class("relative_humidity_pct", (80, 60, 48), _AS_DEW_POINT),
        **_by_class("wind_speed_10m_m_s", (40, 30, 24), _HADISD),
    }
)
_STUCK_QUANTITIES = ("air_temperature_c", "dew_point_c", "relative_humidity_pct", "wind_speed_10m_m_s")


def _class_of(name: str, column: Floats) -> str:
    """The key of the limit for a column's own reporting step."""
    step = resolution(column, degrees=QUANTITIES[name].unit == "°C")
    coarser = min(one for one in _CLASSES if one >= step - 1e-9)
    return f"{name} {coarser:g}"


def _stuck(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    for name in _STUCK_QUANTITIES:
        if name in seen.values:
            exempt = _may_stand_still(name, seen.values[name], limits["saturated_pct"])
            yield from _stuck_in(name, seen.values[name], exempt, limits)


def _may_stand_still(name: str, values: Floats, saturated_pct: float) -> Marks:
    if name == "relative_humidity_pct":
        full: Marks = values >= saturated_pct
        return full
    if name == "wind_speed_10m_m_s":
        calm: Marks = values == 0
        return calm
    return np.zeros(values.shape, bool)


def _stuck_in(name: str, values: Floats, exempt: Marks, limits: Mapping[str, float]) -> Iterator[Found]:
    lengths = np.column_stack([run_lengths(column) for column in values.T])
    lengths[exempt] = 0
    if name != "wind_speed_10m_m_s":
        yield Found(name, Flag.SUSPECT, lengths >= limits["suspect"], "suspect")
    for column in range(values.shape[1]):
        if lengths[:, column].any():
            key = _class_of(name, values[:, column])
            marks = np.zeros(values.shape, bool)
            marks[:, column] = lengths[:, column] >= limits[key]
            yield Found(name, Flag.SUSPECT if name == "wind_speed_10m_m_s" else Flag.FAIL, marks, key)


STUCK = Check(
    key="stuck",
    looks_for="a reading that stays the same for longer than its reporting step allows",
    quantities=_STUCK_QUANTITIES,
    limits=_STUCK,
    find=_stuck,
)

_ALIKE = "{} on end alike hour by hour"
_COPIED = MappingProxyType(
    {
        "suspect": Limit(3, "days", _ALIKE, "house choice: no two days on end were alike on five US airports"),
        "fail 1": Limit(10, "days", f"{_ALIKE}, reported in steps of 1", _HADISD),
        "fail 0.5": Limit(7, "days", f"{_ALIKE}, reported in steps of 0.5", _HADISD),
        "fail 0.1": Limit(5, "days", f"{_ALIKE}, reported in steps of 0.1", _HADISD),
    }
)
_COPIED_QUANTITIES = ("air_temperature_c", "dew_point_c", "relative_humidity_pct")


def _copied(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    for name in _COPIED_QUANTITIES:
        if name not in seen.values or len(seen.hours) <= DAY_HOURS:
            continue
        values = seen.values[name]
        days = np.column_stack([_days_alike(column) for column in values.T])
        yield Found(name, Flag.SUSPECT, days >= limits["suspect"], "suspect")
        for column in np.flatnonzero(days.any(axis=0)):
            key = _class_of(name, values[:, column]).replace(name, "fail")
            marks = np.zeros(values.shape, bool)
            marks[:, column] = days[:, column] >= limits[key]
            yield Found(name, Flag.FAIL, marks, key)


def _days_alike(column: Floats) -> Floats:
    """How many whole days on end read the same hour by hour, the first of them counted; 0 where two differ."""
    repeats = np.zeros(len(column))
    repeats[DAY_HOURS:] = column[DAY_HOURS:] == column[:-DAY_HOURS]
    runs = run_lengths(np.where(np.isnan(column), np.nan, repeats), of=repeats > 0)
    alike = np.where(runs >= DAY_HOURS, runs // DAY_HOURS + 1, 0.0)
    # The day that was copied is marked with its copies: which of them was read cannot be told.
    alike[:-DAY_HOURS] = np.maximum(
        alike[:-DAY_HOURS], np.where(runs[DAY_HOURS:] >= DAY_HOURS, runs[DAY_HOURS:] // DAY_HOURS + 1, 0.0)
    )
    return alike


COPIED = Check(
    key="copied",
    looks_for="whole days that repeat hour by hour",
    quantities=_COPIED_QUANTITIES,
    limits=_COPIED,
    find=_copied,
)

_CALM = MappingProxyType(
    {
        "hours": Limit(
            24, "readings", "no wind on {} on end", "house choice: longest calm at three US airports, 2013, 9 h"
        )
    }
)


def _calm(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    if "wind_speed_10m_m_s" in seen.values:
        wind = seen.values["wind_speed_10m_m_s"]
        runs = np.column_stack([run_lengths(column, of=column == 0) for column in wind.T])
        yield Found("wind_speed_10m_m_s", Flag.SUSPECT, runs >= limits["hours"], "hours")


CALM = Check(
    key="calm",
    looks_for="a day or more without any wind, as of cups frozen or a worn bearing",
    quantities=("wind_speed_10m_m_s",),
    limits=_CALM,
    find=_calm,
)

_STEADY = MappingProxyType(
    {
        "hours": Limit(4, "readings", "the same rain on {} on end", "house choice"),
        "least_mm": Limit(
            0.6,
            "mm",
            "more than {} an hour",
            "house choice: one or two tips an hour (0.254 or 0.508 mm) come in any drizzle; of the three such runs at "
            "three US airports in 2013 two were of that kind",
        ),
    }
)


def _steady(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    if "rain_mm" in seen.values:
        rain = seen.values["rain_mm"]
        runs = np.column_stack([run_lengths(column) for column in rain.T])
        yield Found("rain_mm", Flag.SUSPECT, (runs >= limits["hours"]) & (rain > limits["least_mm"]), "hours")


STEADY = Check(
    key="steady_rain",
    looks_for="rain that falls at the same rate for hours, as where a daily total was spread or a gauge hangs",
    quantities=("rain_mm",),
    limits=_STEADY,
    find=_steady,
)
