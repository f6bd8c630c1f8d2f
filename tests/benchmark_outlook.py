"""What looking ahead costs: 10,000 series × 100 members × 16 days through the index models; then one place whole.

    python tests/benchmark_outlook.py

Chunks of 25 series, so that memory does not grow with their number. The stock of past years (ten invented ones) is
made once and shared: it is made once a place and day, and its cost is printed by itself. The mark: 60 s of wall time
and 1 GB on two cores.
"""

from __future__ import annotations

import resource
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from zoneinfo import ZoneInfo

import numpy as np

from forecast.air import complete_humidity
from forecast.between import Where
from forecast.diseases import MODELS
from forecast.diseases.pressure import pressure
from forecast.outlook.ahead import PlaceAhead, StandAhead
from forecast.outlook.lead_skill import ASSUMED
from forecast.outlook.library import Library, library
from forecast.outlook.members import Expected, fortnight, with_history
from forecast.panel import Panel, observed
from forecast.stand import Stand, place_hours, stand_hours
from forecast.turf import Setting

SERIES, MEMBERS, DAYS, CHUNK = 10_000, 100, 16, 25
YEARS, WORKERS = 10, 2
MARK_S, MARK_MB = 60.0, 1000.0
INDEX_MODELS = ("fidanza_1996", "smith_2018", "nutter_1983", "shane_1994")
HISTORY_HOURS = 24 * 6
NOW = np.datetime64("2030-07-15T09", "h")


def invented(series: int, seed: int = 1) -> Panel:
    """Ten years of hours with a season, a day, and weather that lasts for days."""
    random = np.random.default_rng(seed)
    first = NOW - np.timedelta64(YEARS * 8766, "h")
    hours = np.arange(first, NOW + np.timedelta64(1, "h"))
    days = len(hours) // 24 + 2
    day = np.zeros((days, series))
    for row in range(1, days):
        day[row] = 0.67 * day[row - 1] + 0.74 * random.normal(size=series)
    lasting = np.repeat(day, 24, axis=0)[: len(hours)]
    of_year = 2 * np.pi * (hours.astype(int) / 24 % 365.25 - 110) / 365.25
    of_day = 2 * np.pi * (hours.astype(int) % 24 - 15) / 24
    temperature = 14 + 12 * np.sin(of_year)[:, None] + 5 * np.sin(of_day)[:, None] + 3.5 * lasting
    dew_point = temperature - np.maximum(4 + 3.5 * np.sin(of_day)[:, None] + random.normal(size=lasting.shape), 0.0)
    names = tuple(f"s{number}" for number in range(series))
    return complete_humidity(observed(hours, names, {"air_temperature_c": temperature, "dew_point_c": dew_point}))


def chunk(stock: Library, recent: Panel, expected: Expected) -> int:
    """One chunk of series through the index models; how many member days pass."""
    ahead = fortnight(stock, recent, DAYS * 24, ASSUMED, expected, MEMBERS)
    assert ahead is not None
    panel = with_history(recent.between(NOW - np.timedelta64(HISTORY_HOURS, "h"), NOW), ahead)
    return sum(int(np.nansum(pressure(MODELS[key], panel, -300).passed[-DAYS:])) for key in INDEX_MODELS)


def many() -> bool:
    panel = invented(CHUNK)
    began = time.perf_counter()
    stock = library(panel)
    stock.persistence, stock.known, stock.running_means  # noqa: B018 - made once, like the rest of the stock
    print(f"stock of {CHUNK} places × {YEARS} years: {time.perf_counter() - began:.2f} s, once a place and day")
    recent = panel.between(NOW - np.timedelta64(24 * 15, "h"), NOW)
    random = np.random.default_rng(2)
    ahead_h = DAYS * 24
    warm = recent.values["air_temperature_c"][-24:].mean(axis=0) + np.cumsum(
        random.normal(0, 0.3, (ahead_h, CHUNK)), axis=0
    )
    expected = Expected({"air_temperature_c": warm, "dew_point_c": warm - 3.0})
    chunks = SERIES // CHUNK
    for count in (chunks // 4, chunks // 2, chunks):
        began, cpu = time.perf_counter(), time.process_time()
        with ThreadPoolExecutor(WORKERS) as workers:
            for done, _ in enumerate(workers.map(lambda _: chunk(stock, recent, expected), range(count)), start=1):
                if sys.stderr.isatty():
                    print(f"\r{done * CHUNK:,} of {count * CHUNK:,} series", end="", file=sys.stderr)
        wall, cpu = time.perf_counter() - began, time.process_time() - cpu
        what = f"{count * CHUNK:7,} series × {MEMBERS} members × {DAYS} days, {len(INDEX_MODELS)} models"
        print(f"{what}: {wall:5.1f} s, {cpu:5.1f} s CPU")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory {peak:.0f} MB, with the stock")
    return wall <= MARK_S and peak <= MARK_MB


def one_place() -> None:
    panel = invented(1)
    hours = panel.hours
    random = np.random.default_rng(3)
    shape = (len(hours), 1)
    wind, cloud = random.gamma(2.0, 1.5, shape), random.uniform(0, 1, shape)
    rain = np.where(random.uniform(size=shape) < 0.04, random.exponential(2.0, shape), 0.0)
    panel = observed(
        hours,
        panel.series,
        {**panel.values, "wind_speed_10m_m_s": wind, "cloud_cover_fraction": cloud, "rain_mm": rain},
    )
    where = Where(38.0, -85.0, 200.0)
    stand = Stand("s", panel.series[0], where, ZoneInfo("UTC"), Setting(), "energy_balance")
    past = place_hours(panel, where)
    assert stand_hours(past, stand).wet.method.key == "energy_balance"
    stock = library(past)
    recent = past.between(NOW - np.timedelta64(24 * 15 - 1, "h"), NOW)
    for members in (100, 200, 400):
        began = time.process_time()
        ahead = fortnight(stock, recent, DAYS * 24, ASSUMED, None, members)
        assert ahead is not None
        place = PlaceAhead(past, ahead, stand)
        chain = StandAhead(place, stand)
        passed = chain.passed(tuple(MODELS.values()), int(NOW.astype("datetime64[D]").astype(int)), DAYS + 1, -300)
        cpu = time.process_time() - began
        count = next(iter(passed.values())).shape[1]
        what = f"one place, {count} members, energy balance and all {len(MODELS)} models"
        print(f"{what}: {cpu:.2f} s CPU, {1000 * cpu / count:.1f} ms a member")


def main() -> int:
    met = many()
    one_place()
    print("met" if met else f"NOT MET: {MARK_S:.0f} s and {MARK_MB:.0f} MB")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
