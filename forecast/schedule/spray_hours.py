"""Which hours are fit to spray, on every way that the weather can go: what stops, what is a caution, how likely.

A label's limit comes before a house one. A quantity that is not known makes an hour unknown, never fit. No one-height
forecast can prove that there is no inversion: what it gives are signs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats, Hours
from forecast.physics.wet_bulb import delta_t_c
from forecast.physics.wind import wind_speed_at_m_s
from forecast.schedule.label import Label

Bools = NDArray[np.bool_]
MPH_M_S = 0.44704
# House limits for labels that say nothing. Wind 3 to 10 mph, by extension services' usual band (from memory; the
# National Pesticide Stewardship Alliance names 3 to 8), at 2 m, which is no lower than at the height of the spray.
WIND_LEAST_M_S, WIND_MOST_M_S = 3 * MPH_M_S, 10 * MPH_M_S
AIR_MOST_C, AIR_WARM_C = (90 - 32) / 1.8, (85 - 32) / 1.8  # University of Georgia: uptake is best from 60 to 85 °F
RAIN_FREE_H = 6  # University of Georgia: six hours on foliage
RAIN_MM = 0.2  # house choice: less in all those hours is no rain
GROUND_WET_MM, GROUND_WET_H = 10.0, 6  # house choice after UMass Extension: no product onto ground that runs off
SLOW_DRYING_C, QUICK_DRYING_C = 2.0, 8.0  # air less wet bulb: Australian guidance, good between
CALM_M_S = 3 * MPH_M_S  # below it signs of an inversion count
CLEAR_SKY = 0.5  # cloud below it is a clear sky
LEAD_IN_H = 12  # hours before the first one asked about: longer than rain on the ground or a night's end is looked for
TWILIGHT_DEG = -6.0  # civil twilight
# North Dakota State University AE1705: inversions can be found three to four hours before sunset and clear one to two
# after sunrise; Grains Research and Development Corporation: from one to two hours before sunset to one after sunrise.
BEFORE_SUNSET_H, AFTER_SUNRISE_H = 2, 2
WET_LEAF_SHARE = 0.5  # of the hour
FIT_FROM_SHARE = 0.8  # house choice: fit in eight of ten ways

Stop = Literal[
    "dark", "not working hours", "too windy", "too calm", "too hot", "too cold", "rain then or after", "ground too wet",
    "watering then or after", "signs of an inversion", "wet leaves", "heat ahead",
]  # fmt: skip
Caution = Literal["warm", "slow to dry", "quick to dry", "some signs of an inversion", "wet leaves"]


@dataclass(frozen=True, slots=True)
class SprayLimits:
    """What an hour is held to.

    Attributes:
        wind_least_m_s: at 2 m; likewise the most.
        wind_most_m_s: above it nothing is sprayed.
        air_least_c: None for none.
        air_most_c: above it nothing is sprayed.
        rain_free_h: hours without rain or watering from the start on.
        heat_ahead_c: None for none; with ``heat_ahead_days``.
        heat_ahead_days: likewise.
        dry_leaves: True where the label wants dry leaves, so that wet ones stop and do not only caution.
        of_label: names of the limits that the label set; the others are the house's.
    """

    wind_least_m_s: float = WIND_LEAST_M_S
    wind_most_m_s: float = WIND_MOST_M_S
    air_least_c: float | None = None
    air_most_c: float = AIR_MOST_C
    rain_free_h: float = RAIN_FREE_H
    heat_ahead_c: float | None = None
    heat_ahead_days: int | None = None
    dry_leaves: bool = False
    of_label: tuple[str, ...] = ()


def limits_of(label: Label) -> SprayLimits:
    """A label's limits, with the house's where it says nothing."""
    weather = label.weather
    said = {
        "wind_least_m_s": weather.wind_least_m_s,
        "wind_most_m_s": weather.wind_most_m_s,
        "air_least_c": weather.air_least_c,
        "air_most_c": weather.air_most_c,
        "rain_free_h": weather.rain_free_h,
        "heat_ahead_c": weather.heat_ahead_c,
        "heat_ahead_days": weather.heat_ahead_days,
    }
    given = {name: value for name, value in said.items() if value is not None}
    if label.water_in is not None:
        given["rain_free_h"] = 0.0  # what has to be watered in is not washed off by rain
    if weather.wind_most_m_s is not None and weather.wind_least_m_s is None:
        given["wind_least_m_s"] = min(WIND_LEAST_M_S, weather.wind_most_m_s)
    return SprayLimits(**given, dry_leaves=weather.dry_leaves, of_label=tuple(given))  # type: ignore[arg-type]


@dataclass(frozen=True, eq=False)
class HoursAhead:
    """Hours at a spot, one after another.

    Attributes:
        hours: UTC stamps of the hours' ends, shape (hours,).
        air_temperature_c: shape (hours, members); NaN unknown; likewise the others.
        relative_humidity_pct: in station air.
        rain_mm: in the hour.
        wind_speed_10m_m_s: mean of the hour.
        cloud_cover_fraction: NaN throughout where it is not read: then any sky may be clear.
        leaf_wet_fraction: of the turf there.
        sun_elevation_deg: at mid-hour, shape (hours,).
        working: True in hours in which people work here, shape (hours,).
        watering_mm: set on the area, shape (hours,).
    """

    hours: Hours
    air_temperature_c: Floats
    relative_humidity_pct: Floats
    rain_mm: Floats
    wind_speed_10m_m_s: Floats
    cloud_cover_fraction: Floats
    leaf_wet_fraction: Floats
    sun_elevation_deg: Floats
    working: Bools
    watering_mm: Floats


@dataclass(frozen=True, eq=False)
class SprayHours:
    """What is said of each hour.

    Attributes:
        hours: UTC stamps of the hours' ends, shape (hours,).
        fit_share: share of the ways in which nothing stops, shape (hours,); NaN where something is not known.
        working: True in hours in which people work here, shape (hours,).
        stops: per reason, share of the ways in which it stops; NaN where that is not known.
        cautions: likewise of what does not stop.
    """

    hours: Hours
    fit_share: Floats
    working: Bools
    stops: Mapping[Stop, Floats]
    cautions: Mapping[Caution, Floats]

    @property
    def fit(self) -> Bools:
        """Hours that are fit in enough of the ways."""
        found: Bools = np.nan_to_num(self.fit_share, nan=0.0) >= FIT_FROM_SHARE - 1e-9
        return found

    def since(self, row: int) -> SprayHours:
        """The hours from a row on; those before it have told what fell and how the night went."""
        stops = {name: share[row:] for name, share in self.stops.items()}
        cautions = {name: share[row:] for name, share in self.cautions.items()}
        return SprayHours(self.hours[row:], self.fit_share[row:], self.working[row:], stops, cautions)


def judge(ahead: HoursAhead, limits: SprayLimits) -> SprayHours:
    """Every hour against every limit, on every member."""
    air, rain = ahead.air_temperature_c, ahead.rain_mm
    wind = wind_speed_at_m_s(ahead.wind_speed_10m_m_s, from_m=10.0, to_m=2.0)
    members = air.shape[1]
    night = _night_like(ahead.sun_elevation_deg)[:, None]
    calm, clear = wind < CALM_M_S, ~(ahead.cloud_cover_fraction >= CLEAR_SKY)
    leaves_wet = _where_known(ahead.leaf_wet_fraction, ahead.leaf_wet_fraction > WET_LEAF_SHARE)
    free_h = int(np.ceil(limits.rain_free_h))
    watering = np.broadcast_to(ahead.watering_mm[:, None], rain.shape)
    stops: dict[Stop, Floats] = {
        "dark": _all(ahead.sun_elevation_deg < TWILIGHT_DEG, members),
        "not working hours": _all(~ahead.working, members),
        "too windy": _where_known(wind, wind > limits.wind_most_m_s),
        "too calm": _where_known(wind, wind < limits.wind_least_m_s),
        "too hot": _where_known(air, air > limits.air_most_c),
        "too cold": _where_known(air, air < (-np.inf if limits.air_least_c is None else limits.air_least_c)),
        "rain then or after": _over(_from_now(rain, free_h + 1, np.nan), RAIN_MM),
        "ground too wet": _over(_up_to_now(rain + watering, GROUND_WET_H), GROUND_WET_MM),
        "watering then or after": _over(_from_now(watering, free_h + 1, 0.0), 0.0),
        "signs of an inversion": _where_known(wind, night & calm & clear),
        "wet leaves": leaves_wet if limits.dry_leaves else np.zeros_like(rain),
        "heat ahead": _heat_ahead(air, limits),
    }
    dry = delta_t_c(air, ahead.relative_humidity_pct)
    cautions: dict[Caution, Floats] = {
        "warm": _where_known(air, air > AIR_WARM_C),
        "slow to dry": _where_known(dry, dry < SLOW_DRYING_C),
        "quick to dry": _where_known(dry, dry > QUICK_DRYING_C),
        "some signs of an inversion": _where_known(wind, night & (calm ^ clear)),
        "wet leaves": np.zeros_like(rain) if limits.dry_leaves else leaves_wet,
    }
    told = np.stack(list(stops.values()))
    stopped = np.where((told == 1).any(axis=0), 1.0, np.where(np.isnan(told).any(axis=0), np.nan, 0.0))
    return SprayHours(
        ahead.hours,
        1 - _share(stopped),
        ahead.working,
        {name: _share(one) for name, one in stops.items()},
        {name: _share(one) for name, one in cautions.items()},
    )


def _share(values: Floats) -> Floats:
    """Share of the members; NaN where more are unknown than would settle it."""
    known = ~np.isnan(values)
    count = np.maximum(known.sum(axis=1), 1)
    return np.where(known.mean(axis=1) >= FIT_FROM_SHARE, np.where(known, values, 0.0).sum(axis=1) / count, np.nan)


def _where_known(quantity: Floats, passed: Bools) -> Floats:
    return np.where(np.isnan(quantity), np.nan, passed.astype(np.float64))


def _over(windows: Floats, limit: float) -> Floats:
    """1 where a window's sum passes a limit, also by what is known of it alone; NaN where only the unknown could."""
    known = np.nansum(windows, axis=-1) > limit + 1e-9  # a sum of tenths of a mm carries a float's rounding
    return np.where(known, 1.0, np.where(np.isnan(windows).any(axis=-1), np.nan, 0.0))


def _all(passed: Bools, members: int) -> Floats:
    return np.repeat(passed.astype(np.float64)[:, None], members, axis=1)


def _from_now(values: Floats, length: int, beyond: float) -> Floats:
    """The hour itself and those after it, shape (hours, members, length); ``beyond`` the end."""
    return _windows(np.concatenate([values, np.full((length - 1, values.shape[1]), beyond)]), length)


def _up_to_now(values: Floats, length: int) -> Floats:
    """The hours before and the hour itself, shape (hours, members, length); before the first there was nothing."""
    return _windows(np.concatenate([np.zeros((length - 1, values.shape[1])), values]), length)


def _windows(values: Floats, length: int) -> Floats:
    found: Floats = np.lib.stride_tricks.sliding_window_view(values, length, axis=0)
    return found


def _night_like(sun_elevation_deg: Floats) -> Bools:
    """Night, and the hours about its ends in which air can lie still and cold below."""
    dark = sun_elevation_deg < 0
    found = dark.copy()
    for hours in range(1, BEFORE_SUNSET_H + 1):
        found[:-hours] |= dark[hours:]
    for hours in range(1, AFTER_SUNRISE_H + 1):
        found[hours:] |= dark[:-hours]
    return found


def _heat_ahead(air: Floats, limits: SprayLimits) -> Floats:
    """1 where so much heat comes within the days after an hour, as far as the hours reach."""
    if limits.heat_ahead_c is None or limits.heat_ahead_days is None:
        return np.zeros_like(air)
    hot = np.where(np.isnan(air), np.nan, (air >= limits.heat_ahead_c).astype(np.float64))
    return _over(_from_now(hot, 24 * limits.heat_ahead_days + 1, 0.0), 0.0)
