"""Prints what the energy balance costs, beside a plain loop and ordinary pandas in the same run.

A series-year is 8,760 hours of one series: from temperature, dew point, wind, sunlight, cloud and rain through net
radiation to the wet fraction. All times are CPU seconds, the least of several repeats. Run it by hand or from the CI;
it ends with 1 where the energy balance is too slow.
"""

from __future__ import annotations

import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import fields
from functools import partial

import numpy as np
import pandas as pd
import plain_film
from strategies import Weather, invented_weather

from forecast.canopy import TurfHours
from forecast.canopy.turf_hours import STAND
from forecast.panel import Floats
from forecast.wetness import METHODS

HOURS = 8760
SERIES = (250, 500, 1000)
GROUP = 50  # series told at a time, as areas of one place are
MOST_CPU_S = 1.5  # for the most series
LEAF_AREA = 1.68  # as in Weather.at_turf
RECORD_HOURS = 88_000  # one series over ten years, by every method
MOST_RECORD_MS = 150.0
FEW = 3  # series-years for the plain ones
BALANCE = METHODS["energy_balance"].kernel


def some(weather: Weather, first: int, last: int) -> Weather:
    """Some of the series."""
    return Weather(*(getattr(weather, field.name)[:, first:last] for field in fields(Weather)))


def told(weather: Weather) -> Floats:
    """The wet fraction of all series, a group at a time."""
    hours, series = weather.rain_mm.shape
    fraction = np.empty((hours, series))
    for first in range(0, series, GROUP):
        fraction[:, first : first + GROUP] = BALANCE(some(weather, first, first + GROUP).at_turf())
    return fraction


def told_by_a_plain_loop(weather: Weather) -> Floats:
    """The same for one series, an hour at a time on plain numbers."""
    hours = zip(*(getattr(weather, field.name)[:, 0].tolist() for field in fields(Weather)), strict=True)
    evaporation, rain = [], []
    for temperature, dew_point, wind_10m, sunlight, cloud, rain_mm, sun in hours:
        net = plain_film.net_radiation_w_m2(sunlight, temperature, dew_point, cloud)
        wind_2m = max(wind_10m * plain_film.WIND_10M_TO_2M, 0.5)
        evaporation.append(plain_film.evaporation_mm(temperature, dew_point, wind_2m, net, sun))
        rain.append(rain_mm)
    film = plain_film.film_year(evaporation, rain, [0.0] * len(rain), LEAF_AREA, [False] * len(rain))
    return np.array([1.0 if rain_mm >= 0.25 else wet for wet, rain_mm in zip(film.wet, rain, strict=True)])


def told_by_pandas(frame: pd.DataFrame) -> pd.Series[float]:
    """The same for one series: columns at a time where pandas can, row by row for the film, which needs its past."""
    kelvin = frame["air_temperature_c"] + 273.15
    frame = frame.assign(
        saturated_hpa=6.108 * np.exp(17.27 * frame["air_temperature_c"] / (frame["air_temperature_c"] + 237.3)),
        vapour_hpa=6.108 * np.exp(17.27 * frame["dew_point_c"] / (frame["dew_point_c"] + 237.3)),
    )
    saturated, vapour = frame["saturated_hpa"], frame["vapour_hpa"]
    deficit = (saturated - vapour).clip(lower=0)
    water = 46.5 * vapour / kelvin
    clear = 1 - (1 + water) * np.exp(-((1.2 + 3 * water) ** 0.5))
    black = plain_film.SIGMA * kelvin**4
    cloud = frame["cloud_cover_fraction"]
    net = 0.77 * frame["shortwave_down_w_m2"] + 0.97 * black * (cloud + (1 - cloud) * clear - 1)
    available = net * 0.90
    available = available.where(net > 0, net * 0.85)
    latent = 2.501e6 - 2361 * frame["air_temperature_c"]
    heat = 100_000 / (287.05 * kelvin) * 1010
    gamma = 1010 * 1000 / (0.622 * latent)
    slope = 4098 * saturated / (frame["air_temperature_c"] + 237.3) ** 2
    at_2m = (frame["wind_speed_10m_m_s"] * plain_film.WIND_10M_TO_2M).clip(lower=0.5)
    resistance = plain_film.resistance_s_m(1.0, 0.07) / at_2m
    resistance = resistance.where(frame["sun_elevation_deg"] >= 0, resistance * 2)
    warmth = 1 / resistance + 4 * 0.97 * plain_film.SIGMA * kelvin**3 / heat
    flux = (slope * available + heat * deficit * warmth) / (slope + gamma * warmth * resistance)
    frame = frame.assign(evaporation_mm=3600 * flux / latent)
    held, wet = 0.0, []
    for row in frame.itertuples():
        hour = plain_film.film_hour(held, row.evaporation_mm, row.rain_mm, 0.0, LEAF_AREA)  # type: ignore[arg-type]
        held = hour.held
        wet.append(hour.wet)
    return pd.Series(wet, index=frame.index).mask(frame["rain_mm"] >= 0.25, 1.0)


def cpu_s(run: Callable[[], object], repeats: int) -> float:
    """CPU seconds, the least of some repeats."""
    least = np.inf
    for _ in range(repeats):
        began = time.process_time()
        run()
        least = min(least, time.process_time() - began)
    return float(least)


def working_mb(series: int) -> float:
    """Memory at work at its peak, apart from in- and output, with ``series`` of a year."""
    one = invented_weather(1, HOURS, 1).at_turf()
    wide = TurfHours(
        **{
            field.name: np.broadcast_to(getattr(one, field.name), (HOURS, series))
            for field in fields(TurfHours)
            if field.name not in STAND
        }
    )
    tracemalloc.start()
    answer = BALANCE(wide)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return (peak - answer.nbytes) / 1e6


def main() -> int:
    """Time all, print a table, and say whether the marks are met."""
    weather = invented_weather(20410101, HOURS, max(SERIES))
    told(some(weather, 0, GROUP))  # warm up
    seconds = {series: cpu_s(partial(told, some(weather, 0, series)), 5) for series in SERIES}
    memory = {series: working_mb(series) for series in SERIES}
    print("energy balance, from weather to wet fraction")
    print(f"{'series-years':>14}{'CPU s':>10}{'ms each':>10}{'ns an hour':>12}{'working MB':>12}")
    for series, taken in seconds.items():
        each = taken / series
        print(f"{series:>14,}{taken:>10.3f}{1e3 * each:>10.3f}{1e9 * each / HOURS:>12.1f}{memory[series]:>12.1f}")

    few = [some(weather, n, n + 1) for n in range(FEW)]
    frames = [pd.DataFrame({f.name: getattr(one, f.name)[:, 0] for f in fields(Weather)}) for one in few]
    each = seconds[max(SERIES)] / max(SERIES)
    plain = cpu_s(lambda: [told_by_a_plain_loop(one) for one in few], 2) / FEW
    pandas = cpu_s(lambda: [told_by_pandas(frame) for frame in frames], 2) / FEW
    fast = told(some(weather, 0, FEW))
    for n in range(FEW):
        np.testing.assert_allclose(told_by_a_plain_loop(few[n]), fast[:, n], rtol=0, atol=1e-9)
        np.testing.assert_allclose(told_by_pandas(frames[n])[72:], fast[72:, n], rtol=0, atol=1e-9)
    print(f"a plain loop over hours: {1e3 * plain:.1f} ms a series-year, {plain / each:.0f} times as much")
    print(f"pandas, with a loop for the film: {1e3 * pandas:.1f} ms a series-year, {pandas / each:.0f} times as much")

    record = invented_weather(7, RECORD_HOURS, 1).at_turf()
    methods_ms = {key: 1e3 * cpu_s(partial(method.kernel, record), 5) for key, method in METHODS.items()}
    print(f"one series of {RECORD_HOURS:,} hours: " + ", ".join(f"{key} {ms:.1f} ms" for key, ms in methods_ms.items()))
    is_fast = seconds[max(SERIES)] <= MOST_CPU_S and sum(methods_ms.values()) <= MOST_RECORD_MS
    marks = f"{MOST_CPU_S} s for {max(SERIES):,} series-years, {MOST_RECORD_MS:.0f} ms for the record by all methods"
    print(f"{'met' if is_fast else 'MISSED'}: {marks}")
    return 0 if is_fast else 1


if __name__ == "__main__":
    sys.exit(main())
