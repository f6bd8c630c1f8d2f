"""Plausible weather for property tests: single readings from the vocabulary's own bounds, and hours at the turf."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import ArrayLike

from forecast.canopy import TurfHours
from forecast.canopy.turf_hours import HOURLY, STAND
from forecast.panel import Floats
from forecast.physics import humidity, longwave, wind
from forecast.quantities import QUANTITIES

# A busy machine must not fail a property, so no example is timed.
unhurried = settings(deadline=None, max_examples=60)


def readings(name: str, shape: tuple[int, ...], *, holes: bool = True) -> st.SearchStrategy[Floats]:
    """Checked readings of one quantity, in tenths as stations print them, with or without holes."""
    quantity = QUANTITIES[name]
    most = quantity.most if quantity.clip_to is None else quantity.clip_to
    tenths = st.integers(round(quantity.least * 10), round(most * 10)).map(lambda n: n / 10)
    return arrays(np.float64, shape, elements=tenths | st.just(float("nan")) if holes else tenths)


STEADY = {
    "air_temperature_c": 20.0,
    "dew_point_c": 15.0,
    "relative_humidity_pct": 73.0,
    "rain_mm": 0.0,
    "irrigation_mm": 0.0,
    "dew_removed_fraction": 0.0,
    "wind_speed_10m_m_s": 2.0,
    "wind_speed_2m_m_s": 1.5,
    "net_radiation_w_m2": 0.0,
    "sun_elevation_deg": -20.0,
}


def steady_turf(
    hours: int, *, canopy_height_m: ArrayLike = 0.07, leaf_area_index: ArrayLike = 1.68, **figures: ArrayLike
) -> TurfHours:
    """One series of hours at the turf, the same hour throughout but for what is given, a figure or one an hour."""
    hourly = {
        name: np.broadcast_to(np.asarray(figures.get(name, figure), np.float64), hours)[:, None].copy()
        for name, figure in STEADY.items()
    }
    stand = np.array(canopy_height_m, np.float64), np.array(leaf_area_index, np.float64)
    return TurfHours(**hourly, canopy_height_m=stand[0], leaf_area_index=stand[1])


@dataclass(frozen=True, eq=False)
class Weather:
    """Hours of weather over open turf before the physics between it and the turf; arrays of one shape."""

    air_temperature_c: Floats
    dew_point_c: Floats
    wind_speed_10m_m_s: Floats
    shortwave_down_w_m2: Floats
    cloud_cover_fraction: Floats
    rain_mm: Floats
    sun_elevation_deg: Floats

    def at_turf(
        self,
        *,
        irrigation_mm: ArrayLike = 0.0,
        dew_removed_fraction: ArrayLike = 0.0,
        canopy_height_m: Floats | float = 0.07,
        leaf_area_index: Floats | float = 1.68,
    ) -> TurfHours:
        """The same hours at open turf, with or without watering and the removal of dew (arrays that fit the shape)."""
        shape = self.air_temperature_c.shape
        at_2m = wind.wind_speed_at_m_s(self.wind_speed_10m_m_s, from_m=10, to_m=2)
        return TurfHours(
            air_temperature_c=self.air_temperature_c,
            dew_point_c=self.dew_point_c,
            relative_humidity_pct=humidity.relative_humidity_pct(self.air_temperature_c, self.dew_point_c),
            rain_mm=self.rain_mm,
            irrigation_mm=np.broadcast_to(np.asarray(irrigation_mm, np.float64), shape),
            dew_removed_fraction=np.broadcast_to(np.asarray(dew_removed_fraction, np.float64), shape),
            wind_speed_10m_m_s=self.wind_speed_10m_m_s,
            wind_speed_2m_m_s=np.maximum(at_2m, wind.LEAST_WIND_2M_M_S),
            net_radiation_w_m2=longwave.isothermal_net_radiation_w_m2(
                self.shortwave_down_w_m2, self.air_temperature_c, self.dew_point_c, self.cloud_cover_fraction, 1.0
            ),
            sun_elevation_deg=self.sun_elevation_deg,
            canopy_height_m=canopy_height_m,
            leaf_area_index=leaf_area_index,
        )


def invented_weather(
    seed: int, hours: int, series: int, *, mean_c: float = 17.0, mean_depression_c: float = 4.0, cloud: float = 0.5
) -> Weather:
    """Days and nights of invented weather: sun by day, damp at night, spells of cloud, showers; figures in tenths."""
    chance = np.random.default_rng(seed)
    hour = np.arange(hours)[:, None]
    sun = 60 * np.sin((hour + 0.5 - 6) / 24 * 2 * np.pi) + 0.0 * np.ones((1, series))
    daylight = np.maximum(np.sin(np.radians(sun)), 0)

    def spells(spread: float, every: int) -> Floats:
        knots = chance.normal(0, spread, (hours // every + 2, series))
        place = np.arange(hours) / every
        return np.stack([np.interp(place, np.arange(len(knots)), knots[:, i]) for i in range(series)], axis=1)

    cover = np.clip(np.round(cloud + spells(0.5, 9), 1), 0, 1)
    temperature = np.round(mean_c + spells(5, 60) + 9 * (daylight - 0.3) * (1 - 0.6 * cover), 1)
    depression = np.maximum(mean_depression_c * (0.3 + 1.6 * daylight) + spells(2.5, 20), 0)
    showers = np.round(chance.exponential(1.5, (hours, series)), 1)
    wind_10m = np.round(np.maximum(1 + 2.5 * daylight + spells(1.5, 12), 0.0), 1).astype(np.float64)
    return Weather(
        air_temperature_c=temperature,
        dew_point_c=np.round(temperature - depression, 1),
        wind_speed_10m_m_s=wind_10m,
        shortwave_down_w_m2=np.round(950 * daylight * (1 - 0.75 * cover**3.4), 1),
        cloud_cover_fraction=cover,
        rain_mm=np.where(chance.random((hours, series)) < 0.08 * cover, showers, 0.0),
        sun_elevation_deg=sun,
    )


@st.composite
def weather(draw: st.DrawFn, *, least_hours: int = 1, most_hours: int = 200, most_series: int = 3) -> Weather:
    """Invented weather from frost to heat, dry to foggy, clear to overcast, without holes."""
    return invented_weather(
        draw(st.integers(0, 2**32 - 1)),
        draw(st.integers(least_hours, most_hours)),
        draw(st.integers(1, most_series)),
        mean_c=draw(st.sampled_from([-12.0, 0.0, 8.0, 17.0, 28.0])),
        mean_depression_c=draw(st.sampled_from([0.0, 1.0, 3.0, 6.0, 12.0])),
        cloud=draw(st.sampled_from([0.0, 0.5, 1.0])),
    )


@st.composite
def turf(draw: st.DrawFn, *, holes: bool = True) -> TurfHours:
    """Hours at several stands: watered or not, dew removed or not, short or tall, with or without unknown hours."""
    hours = draw(weather())
    shape = hours.air_temperature_c.shape
    chance = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    at_turf = hours.at_turf(
        irrigation_mm=np.where(chance.random(shape) < draw(st.sampled_from([0.0, 0.05])), 4.0, 0.0),
        dew_removed_fraction=np.where(chance.random(shape) < draw(st.sampled_from([0.0, 0.05])), 0.8, 0.0),
        canopy_height_m=chance.uniform(0.004, 0.10, shape[1]),
        leaf_area_index=chance.uniform(0.3, 3.0, shape[1]),
    )
    return with_holes(at_turf, chance, draw(st.sampled_from([0.0, 0.02, 0.3]))) if holes else at_turf


def with_holes(whole: TurfHours, chance: np.random.Generator, share: float, *, rain: bool = True) -> TurfHours:
    """The same hours with a share of readings taken away from each reading by itself."""
    read = [name for name in HOURLY if name not in ("irrigation_mm", "dew_removed_fraction")]
    if not rain:
        read.remove("rain_mm")
    taken = {}
    for name in read:
        array = getattr(whole, name)
        taken[name] = np.where(chance.random(array.shape) < share, np.nan, array)
    return replace(whole, **taken)


def some_series(whole: TurfHours, columns: slice) -> TurfHours:
    """Some of the series."""
    return TurfHours(
        **{name: getattr(whole, name)[:, columns] for name in HOURLY},
        **{name: _of_stand(whole, name)[columns] for name in STAND},
    )


def _of_stand(whole: TurfHours, name: str) -> Floats:
    return np.broadcast_to(np.asarray(getattr(whole, name), np.float64), whole.air_temperature_c.shape[1:])


def hourly_arrays(whole: TurfHours) -> dict[str, Floats]:
    """The hourly arrays by name."""
    return {field.name: getattr(whole, field.name) for field in fields(whole) if field.name in HOURLY}
