"""Both sides of every limit of every check: weather that just passes, and weather that just does not. All invented.

What is expected follows from the limit's own words and the arithmetic beside each case; no figure is the code's output.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from forecast.panel import Floats, Hours, Panel, observed
from forecast.quality import CHECKS, STATION_CHECKS, Check, Place, check
from forecast.quality.form import Seen
from forecast.quality.station_form import StationCheck
from forecast.quantities import QUANTITIES, Flag

NAN = math.nan
KM_PER_DEG = 111.195  # of a meridian, 2π × 6371 km / 360
T, TD, RH, RAIN = "air_temperature_c", "dew_point_c", "relative_humidity_pct", "rain_mm"
WIND, GUST, PRESSURE = "wind_speed_10m_m_s", "wind_gust_10m_m_s", "pressure_hpa"
SUSPECT, FAIL = Flag.SUSPECT, Flag.FAIL
ROW = -1  # of a mark: the last hour


@dataclass(frozen=True)
class Weather:
    """Some hours of weather: columns of one series, or arrays of several."""

    columns: Mapping[str, Sequence[float] | Floats]
    first: str = "2031-07-01T01"
    places: Mapping[str, Place] = field(default_factory=dict)

    def panel(self) -> Panel:
        """The panel of observed hours."""
        values = {name: np.array(column, np.float64) for name, column in self.columns.items()}
        values = {name: array[:, None] if array.ndim == 1 else array for name, array in values.items()}
        shape = next(iter(values.values())).shape
        return observed(hours(shape[0], self.first), NAMES[: shape[1]], values)


NAMES = ("alder", "birch", "cedar", "damson", "elder", "fir")


def hours(count: int, first: str = "2031-07-01T01") -> Hours:
    return np.datetime64(first, "h") + np.arange(count) * np.timedelta64(1, "h")


Mark = tuple[str, Flag, int]


@dataclass(frozen=True)
class Sides:
    """One limit, seen from both sides.

    Attributes:
        check: key of the check.
        limit: key of the limit; empty where it is another part of the rule that the two sides show.
        passes: weather in which the mark must not be set.
        caught: weather in which it must.
        mark: quantity, flag and hour in the first series; for a check of stations the quantity of its finding.
    """

    check: str
    limit: str
    passes: Weather
    caught: Weather
    mark: Mark | str


def marks(one: Check, weather: Weather) -> set[Mark]:
    """What a check marks in the first series; the last hour is counted from the end too."""
    panel = weather.panel()
    found = set()
    for verdict in check(panel, weather.places, checks=(one,)).verdicts:
        if verdict.series == panel.series[0]:
            rows = np.searchsorted(panel.hours, verdict.stamps)
            found |= {(verdict.quantity, verdict.flag, int(row)) for row in rows}
            found |= {(verdict.quantity, verdict.flag, ROW) for row in rows if row == len(panel.hours) - 1}
    return found


def findings(one: StationCheck, weather: Weather) -> set[str]:
    """The quantities of which a station check says something, for the first series."""
    panel = weather.panel()
    seen = Seen(panel.hours, panel.series, panel.values, weather.places, 0)
    return {found.quantity for found in one.find(seen, 0, {key: limit.value for key, limit in one.limits.items()})}


def holds(sides: Sides, one: Check | StationCheck) -> bool:
    """Whether a check, slipped or not, keeps to both sides."""
    if isinstance(one, Check):
        return sides.mark not in marks(one, sides.passes) and sides.mark in marks(one, sides.caught)
    return sides.mark not in findings(one, sides.passes) and sides.mark in findings(one, sides.caught)


# Bounds: the bound itself passes, a hair beyond it does not.


def _bounds() -> list[Sides]:
    sides = []
    for name, quantity in QUANTITIES.items():
        hair = min((quantity.most - quantity.least) / 1e4, 0.05)

        def read(value: float, name: str = name) -> Weather:
            return Weather({name: [value]})

        least, most, clip_to = quantity.least, quantity.most, quantity.clip_to
        sides.append(Sides("bounds", f"{name} least", read(least), read(least - hair), (name, FAIL, 0)))
        sides.append(Sides("bounds", f"{name} most", read(most), read(most + hair), (name, FAIL, 0)))
        if clip_to is not None:
            mark = (name, SUSPECT, 0)
            sides.append(Sides("bounds", f"{name} clip", read(clip_to), read(clip_to + hair), mark))
            sides.append(Sides("bounds", "", read(most + hair), read(most), mark))
    return sides


def _seasons() -> list[Sides]:
    sides = []
    for key, limit in CHECKS["season"].limits.items():
        name, belt, season, flag, side = key.split()
        away = 0.1 if side == "above" else -0.1
        places = {"alder": Place(40 if belt == "low" else 50, 0, 0)}
        first = "2031-01-15T00" if season == "winter" else "2031-07-15T00"
        at, beyond = (Weather({name: [value]}, first, places) for value in (limit.value, limit.value + away))
        sides.append(Sides("season", key, at, beyond, (name, FAIL if flag == "fail" else SUSPECT, 0)))

    def read(t: float, month: str, latitude_deg: float) -> Weather:
        return Weather({T: [t]}, f"2031-{month}-15T00", {"alder": Place(latitude_deg, 0, 0)})

    mark = (T, SUSPECT, 0)
    return [
        *sides,
        # 36 °C in January: too much beyond 45° of latitude only. The equator has northern seasons.
        Sides("season", "", read(36, "01", 45), read(36, "01", 45.1), mark),
        Sides("season", "", read(-25, "01", 0), read(-25, "07", 0), mark),
        # 25 °C of frost in July is winter in the south, and too much in the north.
        Sides("season", "", read(-25, "07", -40), read(-25, "07", 40), mark),
        Sides("season", "", read(-25, "01", 40), read(-25, "01", -40), mark),
        # Between the seasons the wider limit holds: 30 °C of frost, not 20.
        *(Sides("season", "", read(-25, month, 40), read(-31, month, 40), mark) for month in ("03", "04", "09", "10")),
        *(Sides("season", "", read(39, month, 50), read(41, month, 50), mark) for month in ("03", "04", "09", "10")),
    ]


def _strong() -> list[Sides]:
    return [
        Sides("strong", WIND, Weather({WIND: [25]}), Weather({WIND: [25.1]}), (WIND, SUSPECT, 0)),
        Sides("strong", RAIN, Weather({RAIN: [100]}), Weather({RAIN: [100.1]}), (RAIN, SUSPECT, 0)),
    ]


def _changes() -> list[Sides]:
    sides = []
    base = {T: 20.0, TD: 10.0, RH: 10.0, WIND: 0.0, PRESSURE: 1000.0}
    spikes = ((T, "fail", 15), (T, "suspect", 8), (TD, "fail", 15), (TD, "suspect", 8))
    for name, key, size in (*spikes, (RH, "fail", 80), (RH, "suspect", 40), (WIND, "suspect", 15)):
        at, beyond = (Weather({name: [base[name], base[name] + s, base[name]]}) for s in (size, size + 0.1))
        sides.append(Sides("spike", f"{name} {key}", at, beyond, (name, FAIL if key == "fail" else SUSPECT, 1)))
    steps = (("jump", T, 10), ("jump", TD, 10), ("jump", RH, 60), ("jump", WIND, 25))
    for key, name, size in (*steps, ("step", T, 4), ("step", TD, 4), ("step", PRESSURE, 3)):
        at, beyond = (Weather({name: [base[name], base[name] + s]}) for s in (size, size + 0.1))
        sides.append(Sides(key, name, at, beyond, (name, SUSPECT, 1)))
    return sides


# What stands still: a run of n - 1 readings passes, one of n does not.

STEPS = (1.0, 0.5, 0.1)
RESTLESS: dict[float, list[float]] = {1.0: [7, 9, 8, 6, 9, 7, 11, 10], 0.5: [7.5, 9, 8.5, 6.5, 9.5, 7, 11.5, 10.5]}
RESTLESS[0.1] = [7.3, 9.1, 8.6, 6.2, 9.9, 7.4, 11.7, 10.2]
SAME = {1.0: 5.0, 0.5: 5.5, 0.1: 5.3}


def _run(step: float, count: int) -> list[float]:
    return [*RESTLESS[step], *[SAME[step]] * count, *RESTLESS[step]]


def _persistence() -> list[Sides]:
    sides = []
    lengths = {T: (40, 30, 24), TD: (80, 60, 48), RH: (80, 60, 48), WIND: (40, 30, 24)}
    for name, by_step in lengths.items():
        for step, count in zip(STEPS, by_step, strict=True):
            at, beyond = (Weather({name: _run(step, n)}) for n in (count - 1, count))
            sides.append(Sides("stuck", f"{name} {step:g}", at, beyond, (name, SUSPECT if name == WIND else FAIL, 8)))
    at, beyond = (Weather({TD: _run(0.1, n)}) for n in (23, 24))
    sides.append(Sides("stuck", "suspect", at, beyond, (TD, SUSPECT, 8)))
    full, short = (Weather({RH: [98.3, *[value] * 30, 97.4]}) for value in (99.0, 98.9))
    sides.append(Sides("stuck", "saturated_pct", full, short, (RH, SUSPECT, 1)))
    for key, step, count in (("suspect", 0.1, 3), ("fail 1", 1.0, 10), ("fail 0.5", 0.5, 7), ("fail 0.1", 0.1, 5)):
        at, beyond = (Weather({T: _copies(step, n)}) for n in (count - 1, count))
        flag = SUSPECT if key == "suspect" else FAIL
        # The first of the days and the last of its copies: which of them was read cannot be told.
        sides.append(Sides("copied", key, at, beyond, (T, flag, 24)))
        sides.append(Sides("copied", "", at, beyond, (T, flag, 24 * count)))
    at, beyond = (Weather({WIND: [2.1, *[0.0] * n, 1.7]}) for n in (23, 24))
    sides.append(Sides("calm", "hours", at, beyond, (WIND, SUSPECT, 1)))
    at, beyond = (Weather({RAIN: [0.0, *[1.0] * n, 0.0]}) for n in (3, 4))
    sides.append(Sides("steady_rain", "hours", at, beyond, (RAIN, SUSPECT, 1)))
    at, beyond = (Weather({RAIN: [0.0, *[amount] * 4, 0.0]}) for amount in (0.6, 0.61))
    sides.append(Sides("steady_rain", "least_mm", at, beyond, (RAIN, SUSPECT, 1)))
    return sides


def _copies(step: float, days: int) -> list[float]:
    """A day, then so many days that read alike, then another day; no hour is like the one before."""
    day = [round(3 * step * (7 * hour % 24), 1) + SAME[step] for hour in range(24)]
    return [*(value + step for value in day), *day * days, *(value + 2 * step for value in day)]


# One hour against itself.


def saturation(t: float) -> float:
    """Saturation vapour pressure, kPa (FAO-56, eq. 11)."""
    return 0.6108 * math.exp(17.27 * t / (t + 237.3))


def _consistency() -> list[Sides]:
    def dew(point: float) -> Weather:
        return Weather({T: [20.0], TD: [point]})

    # Tenths: each reading may be 0.05 off, so humidity may be what 20.25 and 15.15 °C say, and 0.05 % more.
    most = 100 * saturation(15.15) / saturation(20.25) + 0.05
    given = [Weather({T: [20.3], TD: [15.1], RH: [most + off]}) for off in (4.9, 5.1)]

    def rain_at(humidity: float) -> Weather:
        return Weather({RAIN: [0.0, 1.0], RH: [humidity, humidity]})

    def full(hours_full: int, humidity: float = 100.0, **more: list[float]) -> Weather:
        return Weather({RH: [80.3, *[humidity] * hours_full, 81.2], **more})

    def close(depression: float) -> Weather:
        return Weather({T: [20.0] * 73, TD: [20.0 - depression] * 73})

    dry = {n: [0.0] * (n + 2) for n in (24, 25)}
    wet_now = (RAIN, SUSPECT, 0)
    return [
        Sides("dew_above_air", "suspect", dew(20.5), dew(20.51), (T, SUSPECT, 0)),
        Sides("dew_above_air", "fail", dew(22.0), dew(22.01), (TD, FAIL, 0)),
        Sides("humidities_differ", "apart", given[0], given[1], (RH, SUSPECT, 0)),
        Sides(
            "gust_below_mean",
            "below",
            Weather({WIND: [10.0], GUST: [9.5]}),
            Weather({WIND: [10.0], GUST: [9.49]}),
            (GUST, SUSPECT, 0),
        ),
        Sides("rain_in_dry_air", "humidity_pct", rain_at(60.0), rain_at(59.9), (RAIN, SUSPECT, 1)),
        Sides("rain_in_dry_air", "", Weather({RAIN: [0.0], RH: [30.0]}), Weather({RAIN: [0.1], RH: [30.0]}), wet_now),
        # Humid at the start of the hour: the rain may have fallen then.
        Sides(
            "rain_in_dry_air",
            "",
            Weather({RAIN: [0.0, 1.0], RH: [90.0, 50.0]}),
            Weather({RAIN: [0.0, 1.0], RH: [50.0, 50.0]}),
            (RAIN, SUSPECT, 1),
        ),
        Sides("always_saturated", "humidity_pct", full(73, 98.9), full(73, 99.0), (RH, SUSPECT, 1)),
        Sides("always_saturated", "depression_c", close(0.26), close(0.25), (TD, SUSPECT, 0)),
        Sides("always_saturated", "hours", full(72), full(73), (RH, SUSPECT, 1)),
        Sides("always_saturated", "dry_hours", full(24, rain_mm=dry[24]), full(25, rain_mm=dry[25]), (RH, SUSPECT, 1)),
    ]


# Rain by the clock.


def watered(
    days: Sequence[int],
    humidity: float = 50.0,
    rise: float = 0.0,
    warm_c: float = 20.0,
    beside_km: float | None = None,
    wet_beside: int | None = None,
) -> Weather:
    """Twenty days without rain but for 1 mm between 05:00 and 06:00 UTC on some; a station beside where asked.

    That one is dry, or has rain so many hours later on the same days.
    """
    count = 20 * 24
    rain = np.zeros(count)
    air = np.full(count, humidity)
    for day in days:
        rain[day * 24 + 5] = 1.0  # the stamps begin at 01:00
        air[day * 24 + 5] += rise
    columns: dict[str, Floats] = {RAIN: rain, RH: air, T: np.full(count, warm_c)}
    if beside_km is None:
        return Weather(columns)
    columns = {name: np.column_stack([column, column]) for name, column in columns.items()}
    columns[RAIN][:, 1] = 0.0 if wet_beside is None else np.roll(rain, wet_beside)
    places = {"alder": Place(40, 0, 0), "birch": Place(40 + beside_km / KM_PER_DEG, 0, 0)}
    return Weather(columns, places=places)


WATERED = (0, 4, 9, 13)


def _sprinkler() -> list[Sides]:
    mark = (RAIN, SUSPECT, 4 * 24 + 5)
    return [
        Sides("sprinkler", "days", watered((0, 4, 9)), watered(WATERED), mark),
        Sides("sprinkler", "of_days", watered((0, 4, 9, 14)), watered(WATERED), mark),
        Sides("sprinkler", "humidity_pct", watered(WATERED, 80.0), watered(WATERED, 79.9), mark),
        Sides("sprinkler", "rise_pct", watered(WATERED, rise=5.1), watered(WATERED, rise=5.0), mark),
        Sides("sprinkler", "warm_c", watered(WATERED, warm_c=4.9), watered(WATERED, warm_c=5.0), mark),
        Sides(
            "sprinkler", "near_km", watered(WATERED, 90.0, beside_km=50.5), watered(WATERED, 90.0, beside_km=49.5), mark
        ),
        # Rain nearby in the same hour, the one before or the one after explains the gauge in humid air.
        *(
            Sides(
                "sprinkler",
                "",
                watered(WATERED, 90.0, beside_km=40, wet_beside=later),
                watered(WATERED, 90.0, beside_km=40),
                mark,
            )
            for later in (-1, 0, 1)
        ),
    ]


# Against the stations around.


def around(
    last: Sequence[float], name: str = T, base: float = 30.0, known: int = 240, km: float = 10.0, up_m: float = 0.0
) -> Weather:
    """So many hours of July with all series the same, then one hour as told, which counts among them."""
    values = np.full((known, len(last)), base)
    values[-1] = last
    places = {
        one: Place(40 if column == 0 else 40 + km / KM_PER_DEG, 0, 0 if column == 0 else up_m)
        for column, one in enumerate(NAMES[: len(last)])
    }
    return Weather({name: values}, places=places)


def _neighbours() -> list[Sides]:
    sides = []
    # All differences are 0 but in the last hour, so the spread is 0 and its least value counts: 5 times 2 °C or 10 %.
    for name, allowed in ((T, 10), (TD, 10), (RH, 50)):
        at, beyond = (around((30.0 + off, 30.0, 30.0), name) for off in (allowed, allowed + 0.1))
        sides.append(Sides("neighbours", name, at, beyond, (name, SUSPECT, ROW)))
    mark = (T, SUSPECT, ROW)
    odd, same = (50.0, 30.0, 30.0), 30.0
    return [
        *sides,
        Sides("neighbours", "ranges", around((40.0, same, same)), around((40.1, same, same)), mark),
        # Three of five is 0.6, two of three 0.667.
        Sides("neighbours", "share", around((same, same, same, 50, 50, 50)), around((same, same, 50, 50)), mark),
        Sides("neighbours", "stations", around((50.0, same, NAN)), around(odd), mark),
        Sides("neighbours", "near_km", around(odd, km=100.5), around(odd, km=99.5), mark),
        Sides("neighbours", "level_m", around(odd, up_m=301.0), around(odd, up_m=300.0), mark),
        Sides("neighbours", "known", around(odd, known=239), around(odd, known=240), mark),
    ]


HOUR_SIDES = tuple(
    _bounds() + _seasons() + _strong() + _changes() + _persistence() + _consistency() + _sprinkler() + _neighbours()
)


# Whole records. They begin with the hour that ends at 01:00 on the first of January, UTC being their standard time.

JANUARY = "2031-01-01T01"
ON_GREENWICH = {"alder": Place(40, 0, 0)}  # sun time is UTC to a quarter of an hour


def warmest_at(hour: int, days: int = 70, range_c: float = 8.0) -> Weather:
    column = np.tile(np.where(np.arange(1, 25) == hour, 20 + range_c, 20.0), days)
    return Weather({T: column}, JANUARY, ON_GREENWICH)


def _clock() -> list[Sides]:
    return [
        Sides("clock", "earliest", warmest_at(10), warmest_at(9), T),
        Sides("clock", "latest", warmest_at(18), warmest_at(19), T),
        Sides("clock", "days", warmest_at(2, days=59), warmest_at(2, days=60), T),
        Sides("clock", "range_c", warmest_at(2, range_c=4.9), warmest_at(2, range_c=5.0), T),
    ]


def wet_month(most_pct: float, rain_days: int) -> Weather:
    """January of 31 days, every day of the same humidity, rain on the first days."""
    rain = np.zeros((31, 24))
    rain[:rain_days, 3] = 5.0
    return Weather({RH: np.full(31 * 24, most_pct), RAIN: rain.ravel()}, JANUARY)


def year_of(top_pct: float, days: int) -> Weather:
    """A year known for so many days."""
    air = np.full((365, 24), NAN)
    air[:days] = top_pct
    return Weather({RH: air.ravel()}, JANUARY)


def months_of(tops: Sequence[float], first_year: int = 2031) -> Weather:
    """Months from a January on, each of humidity 60 % and for an hour a day of its own top."""
    first = (first_year - 1970) * 12
    begin = np.datetime64(first, "M").astype("datetime64[D]")
    columns = []
    for month, top in enumerate(tops):
        start = np.datetime64(first + month, "M").astype("datetime64[D]")
        days = int((np.datetime64(first + month + 1, "M").astype("datetime64[D]") - start) / np.timedelta64(1, "D"))
        columns.append(np.tile(np.where(np.arange(24) == 4, top, 60.0), days))
    return Weather({RH: np.concatenate(columns)}, f"{begin}T01")


# Three years in which the middle one reads 95 % in every month, so that each month's usual top is 95 %. Pettitt's K,
# counted pair by pair in test_quality_stations.py, is 246 in the first and 247 in the second: chances of 0.00103 and
# 0.00097 by 2 exp(-6 K² / (36³ + 36²)).
_MIDDLE = [95.0] * 12
_FIRST_246 = [98.2, 99.1, 99.0, 98.1, 97.6, 96.9, 97.5, 96.8, 91.0, 97.5, 98.1, 97.8]
_FIRST_247 = [98.6, 97.2, 96.9, 97.9, 97.8, 98.9, 99.2, 98.9, 99.5, 97.8, 92.1, 92.0]
K_246 = [*_FIRST_246, *_MIDDLE, 92.1, 94.3, 94.0, 92.0, 91.9, 90.7, 90.5, 91.6, 96.2, 90.3, 93.3, 94.3]
K_247 = [*_FIRST_247, *_MIDDLE, 93.4, 92.7, 92.2, 90.5, 93.0, 91.0, 93.3, 94.3, 93.8, 91.2, 97.2, 98.3]


def _humidity() -> list[Sides]:
    def step(size: float, each: tuple[int, int] = (24, 12)) -> Weather:
        return months_of((*[97.0] * each[0], *[97.0 - size] * each[1]))

    low, shift = "humidity_low", "humidity_shift"
    return [
        Sides(low, "wet_days", wet_month(94.0, 3), wet_month(94.0, 4), RH),
        Sides(low, "month_most_pct", wet_month(95.0, 8), wet_month(94.9, 8), RH),
        Sides(low, "top_pct", year_of(97.0, 365), year_of(96.9, 365), RH),
        Sides(low, "year_days", year_of(90.0, 299), year_of(90.0, 300), RH),
        Sides(shift, "chance", months_of(K_246), months_of(K_247), RH),
        Sides(shift, "apart_pct", step(2.5), step(2.6), RH),
        Sides(shift, "months", step(6.0, (12, 11)), step(6.0, (12, 12)), RH),
        Sides(
            "resolution",
            "readings",
            Weather({T: [float(n % 17) for n in range(719)]}),
            Weather({T: [float(n % 17) for n in range(720)]}),
            T,
        ),
    ]


def dry_spell(
    days: int = 60, rain_mm: float = 0.0, full_pct: float = 97.0, full_hours: int = 200, unknown: int = 0
) -> Weather:
    """Days of humidity 70 % but for some hours near saturation; rain in one hour; at the end hours not known."""
    rain, air = np.zeros(days * 24), np.full(days * 24, 70.0)
    rain[10] = rain_mm
    air[:full_hours] = full_pct
    if unknown:
        rain[-unknown:] = NAN
    return Weather({RAIN: rain, RH: air}, JANUARY)


def years_of_rain(*totals_mm: float) -> Weather:
    """Years from 2031 on, each with its whole rain in 200 hours."""
    columns = []
    for year, total in enumerate(totals_mm, start=2031):
        rain = np.zeros((366 if year % 4 == 0 else 365) * 24)
        rain[:4000:20] = total / 200
        columns.append(rain)
    return Weather({RAIN: np.concatenate(columns)}, JANUARY)


def beside(own_mm: float, other_mm: float, km: float = 10.0) -> Weather:
    """One year at two stations."""
    both = [years_of_rain(total).columns[RAIN] for total in (own_mm, other_mm)]
    places = {"alder": Place(40, 0, 0), "birch": Place(40 + km / KM_PER_DEG, 0, 0)}
    return Weather({RAIN: np.column_stack(both)}, JANUARY, places)


def heavy(mm: float, count: int) -> Weather:
    """A year with so many hours of so much rain."""
    rain = np.zeros(365 * 24)
    rain[: 30 * count : 30] = mm
    return Weather({RAIN: rain}, JANUARY)


def part_of_a_year(known_hours: int) -> Weather:
    """A year with 3,100 mm of rain in its first days, known for so many hours."""
    rain = np.zeros(365 * 24)
    rain[:310:5] = 50.0  # 62 hours of 50 mm
    rain[known_hours:] = NAN
    return Weather({RAIN: rain}, JANUARY)


def _rain() -> list[Sides]:
    low, high = "rain_low", "rain_high"
    # 60 days are 1,440 hours: a tenth is 144, nine tenths 1,296. A year of 365 days has 8,760: nine tenths are 7,884.
    return [
        Sides(low, "dry_days", dry_spell(days=59), dry_spell(days=60), RAIN),
        Sides(low, "dry_mm", dry_spell(rain_mm=5.0), dry_spell(rain_mm=4.9), RAIN),
        Sides(low, "saturated_pct", dry_spell(full_pct=94.9), dry_spell(full_pct=95.0), RAIN),
        Sides(low, "saturated_share", dry_spell(full_hours=143), dry_spell(full_hours=144), RAIN),
        Sides(low, "known_share", dry_spell(unknown=145), dry_spell(unknown=144), RAIN),
        Sides(low, "own_share", years_of_rain(400, *[1000] * 3), years_of_rain(399, *[1000] * 3), RAIN),
        Sides(low, "own_years", years_of_rain(100, 1000, 1000), years_of_rain(100, 1000, 1000, 1000), RAIN),
        Sides(low, "near_share", beside(500, 1000), beside(499, 1000), RAIN),
        Sides(low, "near_km", beside(100, 1000, km=100.5), beside(100, 1000, km=99.5), RAIN),
        Sides(high, "year_mm", years_of_rain(3000), years_of_rain(3001), RAIN),
        Sides(high, "hour_mm", heavy(50, 6), heavy(50.1, 6), RAIN),
        Sides(high, "hours_a_year", heavy(60, 5), heavy(60, 6), RAIN),
        Sides(high, "known_share", part_of_a_year(7883), part_of_a_year(7884), RAIN),
    ]


STATION_SIDES = tuple(_clock() + _humidity() + _rain())
ALL_SIDES = HOUR_SIDES + STATION_SIDES
ALL_CHECKS: Mapping[str, Check | StationCheck] = {**CHECKS, **STATION_CHECKS}
