"""Emulated forecasts of known skill for an invented place.

What came is a yearly and a daily wave plus a wandering anomaly x of variance 1 times a spread. A forecast of skill r
says r·x + √(1 − r²)·e, with e as lively as x and nothing to do with it, so that by arithmetic its correlation with x is
r, the slope of x on it r, and its own variance 1.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from forecast.outlook.lead_skill import LEAD_DAYS, LeadSkill
from forecast.outlook.learned_skill import Told
from forecast.outlook.library import BLENDED, Library, library
from forecast.panel import Floats, Hours, observed

TEMPERATURE, DEW_POINT = BLENDED
FIRST = np.datetime64("2040-01-01T00", "h")
YEARS = 5
AHEAD = 24 * LEAD_DAYS
SPREAD = {TEMPERATURE: 4.0, DEW_POINT: 3.0}
PERSISTENCE = 0.7  # of anomalies from hour to hour: a day then holds some 24·(1 − .7)/(1 + .7) = 4 independent hours
NOTHING = LeadSkill(np.zeros(LEAD_DAYS), np.zeros(LEAD_DAYS), MappingProxyType({}))

# With 700 days of two quantities and four independent hours a day, r by day of lead is known to √(1/5600) = 0.013
# where it is small; 0.05 is four times that, and an eighth to a third of the steps between days.
DAYS, HAIR = 700, 0.05
STEPS = np.repeat([0.95, 0.8, 0.55, 0.3], 4)  # a day's shift of lead is seen at the edges


def wandering(random: np.random.Generator, count: int) -> Floats:
    """Variance 1, correlated by ``PERSISTENCE`` from hour to hour."""
    found = random.normal(0, np.sqrt(1 - PERSISTENCE**2), count)
    found[0] = random.normal()
    for row in range(1, count):
        found[row] += PERSISTENCE * found[row - 1]
    return found


@dataclass(frozen=True, eq=False)
class World:
    """What came, and what it is made of."""

    hours: Hours
    usual: dict[str, Floats]
    anomaly: dict[str, Floats]
    errors: Floats

    def came(self, name: str) -> Floats:
        """In °C."""
        return self.usual[name] + SPREAD[name] * self.anomaly[name]

    def stock(self, **carried: Floats) -> Library:
        """Its record, with whatever else was read."""
        values = {name: self.came(name)[:, None] for name in BLENDED}
        return library(observed(self.hours, ("one",), values | {name: a[:, None] for name, a in carried.items()}))

    def row(self, since: np.datetime64) -> int:
        """Of the hour after a stamp."""
        return int((since - self.hours[0]).astype(np.int64)) + 1


def _made() -> World:
    random = np.random.default_rng(7)
    hours = FIRST + np.arange(24 * 365 * YEARS).astype("timedelta64[h]")
    at = np.arange(len(hours))
    year, day = np.sin(2 * np.pi * at / (365.25 * 24) - 2), np.sin(2 * np.pi * at / 24 - 2)
    usual = {TEMPERATURE: 12 + 11 * year + 5 * day, DEW_POINT: 6 + 9 * year}
    anomaly = {name: wandering(random, len(hours)) for name in BLENDED}
    return World(hours, usual, anomaly, wandering(random, 200_000))


WORLD = _made()
STOCK = WORLD.stock()


def issued(
    days: int,
    r: Floats = STEPS,
    *,
    seed: int = 1,
    reach_days: int = LEAD_DAYS,
    livelier: float = 1.0,
    first: str = "2042-03-01T11",
) -> list[Told]:
    """One forecast a day of skill ``r`` by day of lead, its anomalies multiplied."""
    random = np.random.default_rng(seed)
    by_hour = np.repeat(r, 24)
    found = []
    for day in range(days):
        since = np.datetime64(first, "h") + np.timedelta64(24 * day, "h")
        rows = slice(WORLD.row(since), WORLD.row(since) + AHEAD)
        values, came = {}, {}
        for name in BLENDED:
            start = int(random.integers(len(WORLD.errors) - AHEAD))
            error = WORLD.errors[start : start + AHEAD]
            said = livelier * (by_hour * WORLD.anomaly[name][rows] + np.sqrt(1 - by_hour**2) * error)
            values[name] = WORLD.usual[name][rows] + SPREAD[name] * said
            values[name][24 * reach_days :] = np.nan
            came[name] = WORLD.came(name)[rows]
        found.append(Told(since, values, came))
    return found


def weight(days: int) -> float:
    return days / (days + 60)


def changed(told: Sequence[Told], change: Callable[[Told], dict[str, Floats]]) -> list[Told]:
    return [replace(one, values=change(one)) for one in told]


def assert_same(one: LeadSkill, other: LeadSkill) -> None:
    np.testing.assert_array_equal(one.correlation, other.correlation)
    np.testing.assert_array_equal(one.slope, other.slope)
    assert one.issued_days == other.issued_days
    for mine, theirs in ((one.shares, other.shares), (one.bias, other.bias)):
        assert mine.keys() == theirs.keys()
        for name, array in mine.items():
            np.testing.assert_array_equal(array, theirs[name])
