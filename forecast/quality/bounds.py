"""Readings that cannot be, by the vocabulary's bounds and by season and latitude."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np

from forecast.panel import Floats
from forecast.quality.form import Check, Found, Limit, Marks, Seen
from forecast.quantities import QUANTITIES, Flag

_OUTER = {}
for _q in QUANTITIES.values():
    _OUTER[f"{_q.name} least"] = Limit(_q.least, _q.unit, "below {}", _q.source)
    _OUTER[f"{_q.name} most"] = Limit(_q.most, _q.unit, "above {}", _q.source)
    if _q.clip_to is not None:
        _OUTER[f"{_q.name} clip"] = Limit(_q.clip_to, _q.unit, "above {0}, taken as {0}", _q.source)


def _outside(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    for name, values in seen.values.items():
        least, most = f"{name} least", f"{name} most"
        yield Found(name, Flag.FAIL, values < limits[least], least)
        yield Found(name, Flag.FAIL, values > limits[most], most)
        if f"{name} clip" in limits:
            over = (values > limits[f"{name} clip"]) & (values <= limits[most])
            yield Found(name, Flag.SUSPECT, over, f"{name} clip")


BOUNDS = Check(
    key="bounds",
    looks_for="readings that no instrument in order gives",
    quantities=tuple(QUANTITIES),
    limits=MappingProxyType(_OUTER),
    find=_outside,
    members=True,
)

# °C, from below: fail, suspect; from above: suspect, fail. Only what lies within the vocabulary's bounds is here; what
# the source says beyond them (such as 40 °C for the dew point, or 90 °C of frost) can never bite.
_NONE = None
_WMO = {
    ("air_temperature_c", "low", "winter"): (-40, -30, 50, 55),
    ("air_temperature_c", "low", "summer"): (-30, -20, 50, _NONE),
    ("air_temperature_c", "high", "winter"): (_NONE, _NONE, 35, 40),
    ("air_temperature_c", "high", "summer"): (-40, -30, 40, 50),
    ("dew_point_c", "low", "winter"): (-45, -35, _NONE, _NONE),
    ("dew_point_c", "low", "summer"): (-35, -25, _NONE, _NONE),
    ("dew_point_c", "high", "winter"): (_NONE, _NONE, 30, _NONE),
    ("dew_point_c", "high", "summer"): (-45, -35, _NONE, _NONE),
}
_RIMS = ("fail below", "suspect below", "suspect above", "fail above")
_SOURCE = "WMO-No. 305 (1993), chapter 6 (read second-hand, in the documentation of the R package dataresqc)"
_BELT_WORDS = {"low": "up to 45° of latitude", "high": "beyond 45° of latitude"}

_SEASONAL = {
    f"{name} {belt} {season} {rim}": Limit(
        value, "°C", f"{rim.split()[1]} {{}} in {season}, {_BELT_WORDS[belt]}", _SOURCE
    )
    for (name, belt, season), row in _WMO.items()
    for rim, value in zip(_RIMS, row, strict=True)
    if value is not None
}

# The transcription cuts the year into halves, October to March and April to September. In the months at the cut the
# wider of the two limits holds: house choice, since the weather takes no step there.
_LATITUDE_DEG = 45.0  # WMO-No. 305, as above
_WINTER_NORTH = (11, 12, 1, 2)
_SUMMER_NORTH = (5, 6, 7, 8)


def _out_of_season(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    month = seen.month()
    latitude = np.array([seen.places[s].latitude_deg if s in seen.places else np.nan for s in seen.series])
    belts = {"low": np.abs(latitude) <= _LATITUDE_DEG, "high": np.abs(latitude) > _LATITUDE_DEG}
    calendar_winter, calendar_summer = np.isin(month, _WINTER_NORTH)[:, None], np.isin(month, _SUMMER_NORTH)[:, None]
    south = latitude < 0
    seasons = {
        "winter": np.where(south, calendar_summer, calendar_winter),
        "summer": np.where(south, calendar_winter, calendar_summer),
    }
    seasons["turn"] = ~(seasons["winter"] | seasons["summer"])
    for name in ("air_temperature_c", "dew_point_c"):
        for belt, inside in belts.items():
            if name in seen.values and inside.any():
                where = {season: marks & inside for season, marks in seasons.items()}
                yield from _past_rims(name, belt, seen.values[name], where, limits)


def _past_rims(
    name: str, belt: str, values: Floats, where: Mapping[str, Marks], limits: Mapping[str, float]
) -> Iterator[Found]:
    for rim in _RIMS:
        keys = {season: f"{name} {belt} {season} {rim}" for season in ("winter", "summer")}
        known = {season: key for season, key in keys.items() if key in limits}
        if len(known) == len(keys):
            widest = max if "above" in rim else min
            known["turn"] = widest(keys.values(), key=limits.__getitem__)
        for season, key in known.items():
            beyond = values > limits[key] if "above" in rim else values < limits[key]
            if beyond.any():
                yield Found(name, Flag.FAIL if "fail" in rim else Flag.SUSPECT, beyond & where[season], key)


SEASON = Check(
    key="season",
    looks_for="temperatures and dew points that the season and the latitude do not have",
    quantities=("air_temperature_c", "dew_point_c"),
    limits=MappingProxyType(_SEASONAL),
    find=_out_of_season,
)

_STRONG = MappingProxyType(
    {
        "wind_speed_10m_m_s": Limit(
            25, "m/s", "above {}, to be looked at", "EPA-454/R-99-005 (2000), Table 8-4 (read second-hand)"
        ),
        "rain_mm": Limit(
            100,
            "mm",
            "more than {} in an hour, to be looked at",
            "house choice: about the hour of a century in the southeastern US (from memory)",
        ),
    }
)


def _strong(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    for name, limit in limits.items():
        if name in seen.values:
            yield Found(name, Flag.SUSPECT, seen.values[name] > limit, name)


STRONG = Check(
    key="strong",
    looks_for="wind and rain that are possible and seldom",
    quantities=tuple(_STRONG),
    limits=_STRONG,
    find=_strong,
)
