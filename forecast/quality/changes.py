"""Readings that change faster than air does: spikes, jumps and steps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from forecast.quality.form import Check, Found, Limit, Seen
from forecast.quality.series import rain_begins_near, spikes, steps
from forecast.quantities import Flag

# Largest spikes measured on five US airports over 10 to 21 years and three over one year (64 station-years): 7.8 °C of
# temperature, 7.2 of dew point and 35 % of humidity, but for one slip of -10.5 °C between 13.9 and 14.0 °C.
_BEYOND_DOUBT = "house choice: about twice the largest spike measured on eight US airports, 64 station-years"
_UW = "University of Washington's hourly form of Shafer et al. 2000, J. Atmos. Ocean. Technol. 17:474-494 (second-hand)"
_AS_TEMPERATURE = "as for temperature: WMO-No. 305 and EPA-454/R-99-005 too give both the same limit; house choice"
_SPIKE = "more than {} off the hours before and after"

_SPIKES = MappingProxyType(
    {
        "air_temperature_c fail": Limit(15, "°C", _SPIKE, _BEYOND_DOUBT),
        "air_temperature_c suspect": Limit(8, "°C", _SPIKE, _UW),
        "dew_point_c fail": Limit(15, "°C", _SPIKE, _AS_TEMPERATURE),
        "dew_point_c suspect": Limit(8, "°C", _SPIKE, _AS_TEMPERATURE),
        "relative_humidity_pct fail": Limit(80, "%", _SPIKE, _BEYOND_DOUBT),
        "relative_humidity_pct suspect": Limit(40, "%", _SPIKE, "house choice: above the largest measured, 35 %"),
        "wind_speed_10m_m_s suspect": Limit(15, "m/s", _SPIKE, _UW),
    }
)


def _spikes(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    for name, values in seen.values.items():
        if f"{name} suspect" not in limits:
            continue
        size = spikes(values)
        yield Found(name, Flag.SUSPECT, size > limits[f"{name} suspect"], f"{name} suspect")
        if f"{name} fail" in limits:
            far = (size > limits[f"{name} fail"]) & ~rain_begins_near(seen.values, values.shape)
            yield Found(name, Flag.FAIL, far, f"{name} fail")


SPIKE = Check(
    key="spike",
    looks_for="a single hour that stands far off the hours on both sides; no failure where rain begins within an hour",
    quantities=("air_temperature_c", "dew_point_c", "relative_humidity_pct", "wind_speed_10m_m_s"),
    limits=_SPIKES,
    find=_spikes,
)


def _faster(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    for name, limit in limits.items():
        if name in seen.values:
            values = seen.values[name]
            fast = (steps(values) > limit) & ~rain_begins_near(seen.values, values.shape)
            yield Found(name, Flag.SUSPECT, fast, name)


_JUMP = "a change of more than {} in an hour"
_JUMPS = MappingProxyType(
    {
        "air_temperature_c": Limit(10, "°C", _JUMP, _UW),
        "dew_point_c": Limit(10, "°C", _JUMP, _AS_TEMPERATURE),
        "relative_humidity_pct": Limit(60, "%", _JUMP, _UW),
        "wind_speed_10m_m_s": Limit(25, "m/s", _JUMP, _UW),
    }
)

JUMP = Check(
    key="jump",
    looks_for="a change within an hour that weather seldom brings without rain",
    quantities=tuple(_JUMPS),
    limits=_JUMPS,
    find=_faster,
)

_WMO = "WMO-No. 305 (1993), chapter 6, time consistency (read second-hand, in the R package dataresqc)"
_STEPS = MappingProxyType(
    {
        "air_temperature_c": Limit(4, "°C", _JUMP, _WMO),
        "dew_point_c": Limit(4, "°C", _JUMP, _WMO),
        "pressure_hpa": Limit(3, "hPa", _JUMP, _WMO),
    }
)

# Not told on the page: at five US airports a step of temperature above 4 °C comes on 36 to 150 hours a year, at sunrise
# and behind squalls (measured). The source's limits over 2 to 12 hours are left out: a clear day reaches them.
STEP = Check(
    key="step",
    looks_for="a change within an hour above the limit for checks of single reports; weather does this too",
    quantities=tuple(_STEPS),
    limits=_STEPS,
    find=_faster,
    on_page=False,
)
