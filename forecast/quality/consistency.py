"""Readings of one hour that cannot all be right: humidity and dew point, gust and wind, rain and dry air."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np

from forecast.panel import Floats
from forecast.physics import humidity
from forecast.quality.form import Check, Found, Limit, Marks, Seen
from forecast.quality.series import relative_humidity, resolution, run_lengths
from forecast.quantities import Flag

_DEW = MappingProxyType(
    {
        "suspect": Limit(
            0.5,
            "°C",
            "dew point more than {} above the air",
            "WMO-No. 305 (1993), chapter 6, has none at all; half a degree is what rounding one of the two to whole "
            "degrees can do: house choice",
        ),
        "fail": Limit(
            2.0,
            "°C",
            "dew point more than {} above the air",
            "tolerance of the University of Washington's hourly checks (second-hand); that the dew point and not the "
            "temperature is left out is a house choice: its sensor is the weaker",
        ),
    }
)


def _dew_above_air(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    if seen.has("air_temperature_c", "dew_point_c"):
        above = seen.values["dew_point_c"] - seen.values["air_temperature_c"]
        for name in ("air_temperature_c", "dew_point_c"):
            yield Found(name, Flag.SUSPECT, above > limits["suspect"], "suspect")
        yield Found("dew_point_c", Flag.FAIL, above > limits["fail"], "fail")


DEW_ABOVE_AIR = Check(
    key="dew_above_air",
    looks_for="a dew point above the temperature of the air",
    quantities=("air_temperature_c", "dew_point_c"),
    limits=_DEW,
    find=_dew_above_air,
)

_DIFFER = MappingProxyType(
    {
        "apart": Limit(
            5,
            "%",
            "given humidity more than {} off that of temperature and dew point, beyond what rounding can do",
            "house choice",
        )
    }
)


def _humidities_differ(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    if seen.has("air_temperature_c", "dew_point_c", "relative_humidity_pct"):
        air, dew = seen.values["air_temperature_c"], seen.values["dew_point_c"]
        given = seen.values["relative_humidity_pct"]
        air_half, dew_half, given_half = _half_step(air), _half_step(dew), _half_step(given, degrees=False)
        lowest = humidity.relative_humidity_pct(air + air_half, dew - dew_half) - given_half
        highest = humidity.relative_humidity_pct(air - air_half, dew + dew_half) + given_half
        apart = np.maximum(lowest - given, given - highest) > limits["apart"]
        for name in ("relative_humidity_pct", "dew_point_c"):
            yield Found(name, Flag.SUSPECT, apart, "apart")


def _half_step(values: Floats, *, degrees: bool = True) -> Floats:
    """Half of each series' reporting step: how far a reading can be off by rounding; shape (series,)."""
    return np.array([resolution(column, degrees=degrees) / 2 for column in values.T])


HUMIDITIES_DIFFER = Check(
    key="humidities_differ",
    looks_for="relative humidity that disagrees with temperature and dew point of the same hour",
    quantities=("relative_humidity_pct", "dew_point_c"),
    limits=_DIFFER,
    find=_humidities_differ,
)

_GUST = MappingProxyType(
    {
        "below": Limit(
            0.5,
            "m/s",
            "gust more than {} below the mean wind",
            "Zahumensky 2004, WMO CBS guidelines (read second-hand); the tolerance is a house choice: one knot",
        )
    }
)


def _gust_below_mean(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    if seen.has("wind_speed_10m_m_s", "wind_gust_10m_m_s"):
        below = seen.values["wind_speed_10m_m_s"] - seen.values["wind_gust_10m_m_s"]
        yield Found("wind_gust_10m_m_s", Flag.SUSPECT, below > limits["below"], "below")


GUST_BELOW_MEAN = Check(
    key="gust_below_mean",
    looks_for="a highest gust that is lower than the mean wind",
    quantities=("wind_gust_10m_m_s",),
    limits=_GUST,
    find=_gust_below_mean,
)

_DRY = MappingProxyType(
    {
        "humidity_pct": Limit(
            60,
            "%",
            "rain while humidity stayed below {}",
            "house choice: at three US airports in 2013, 7 of 1,749 hours with rain",
        )
    }
)


def _rain_in_dry_air(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    air = relative_humidity(seen.values)
    if "rain_mm" in seen.values and air is not None:
        # Rain fell somewhere within the hour, so the air must have been dry at both its ends.
        highest = air.copy()
        highest[1:] = np.fmax(air[1:], air[:-1])
        dry = (seen.values["rain_mm"] > 0) & (highest < limits["humidity_pct"])
        yield Found("rain_mm", Flag.SUSPECT, dry, "humidity_pct")


RAIN_IN_DRY_AIR = Check(
    key="rain_in_dry_air",
    looks_for="rain while the air is dry, as of a sprinkler that reaches the gauge or of snow that melts in it",
    quantities=("rain_mm",),
    limits=_DRY,
    find=_rain_in_dry_air,
)

_FROZEN = "HadISD: Dunn et al. 2012, Clim. Past 8:1649-1679, dew point depression check (read second-hand)"
_SATURATED = MappingProxyType(
    {
        "humidity_pct": Limit(99, "%", "humidity at {} and above", "as in the persistence check"),
        "depression_c": Limit(0.25, "°C", "dew point within {} of the air", _FROZEN),
        "dry_hours": Limit(24, "readings", "air saturated on more than {} on end without rain", _FROZEN),
        "hours": Limit(
            72,
            "readings",
            "air saturated on more than {} on end",
            "house choice: longest such run at five US airports, 61 station-years, 47 h",
        ),
    }
)


def _always_saturated(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    if "relative_humidity_pct" in seen.values:
        given = seen.values["relative_humidity_pct"]
        full = given >= limits["humidity_pct"]
        yield from _long_full("relative_humidity_pct", given, full, seen, limits)
    if seen.has("air_temperature_c", "dew_point_c"):
        depression = seen.values["air_temperature_c"] - seen.values["dew_point_c"]
        full = np.abs(depression) <= limits["depression_c"]
        yield from _long_full("dew_point_c", depression, full, seen, limits)


def _long_full(name: str, values: Floats, full: Marks, seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    runs = np.column_stack([run_lengths(values[:, k], of=full[:, k]) for k in range(values.shape[1])])
    yield Found(name, Flag.SUSPECT, runs > limits["hours"], "hours")
    if "rain_mm" in seen.values:
        dry = seen.values["rain_mm"] == 0
        still = full & dry
        without = np.column_stack([run_lengths(values[:, k], of=still[:, k]) for k in range(values.shape[1])])
        whole = without == runs  # a run that rain or an unknown gauge cuts into is left to the longer limit
        yield Found(name, Flag.SUSPECT, whole & (runs > limits["dry_hours"]), "dry_hours")


ALWAYS_SATURATED = Check(
    key="always_saturated",
    looks_for="air that stays saturated for days, as of a humidity sensor that is wet or frozen",
    quantities=("relative_humidity_pct", "dew_point_c"),
    limits=_SATURATED,
    find=_always_saturated,
)
