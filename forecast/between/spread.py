"""One quantity brought from stations to points."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from forecast.between.correct import corrected_hours
from forecast.between.field import NOBODY, Field, Part, has
from forecast.between.ground import MOST_STATIONS, POWER, Ground, taken_as_they_are
from forecast.between.rules import Rule, Spread, Way
from forecast.between.where import Nearness
from forecast.panel import Floats
from forecast.physics.sun import solar_position_deg
from forecast.quantities import Flag, Origin

DAY_LAPSE_K_PER_KM = 6.5  # ICAO standard atmosphere (Doc 7488; from memory)
# House choice: a fixed 6.5 K/km grossly overstates how minima fall with height (Blandford et al. 2008, J. Appl.
# Meteorol. Climatol. 47:249-261, read second-hand), and below 100 m cold air may as well lie in the hollow.
NIGHT_LAPSE_K_PER_KM = 3.0
NIGHT_LAPSE_BEYOND_M = 100.0
_TOLD_BY_OTHERS = (Rule.TEMPERATURE, Rule.HUMIDITY)


def spread_over(ground: Ground, own: Field, spread: Spread, have: NDArray[np.bool_] | None = None) -> Field:
    """One quantity brought to every point, from the stations that have it."""
    made = ground.nothing_known()
    have = has(own) if have is None else have
    corrected = corrected_hours(ground, own, have, spread) if spread.rule in _TOLD_BY_OTHERS else own
    for point in range(len(ground.points)):
        order = ground.order(ground.lie, point, have, spread)
        _one_point(ground, made, point, order, (own, corrected), spread)
    return made


def _one_point(
    ground: Ground, made: Field, point: int, order: list[int], told: tuple[Field, Field], spread: Spread
) -> None:
    """The hours of one point, from the stations in the order they are asked, by their own and corrected hours."""
    own, corrected = told
    direct = taken_as_they_are(ground, point, order)
    for station in direct:
        made.take(point, own.row(station))
    if direct:
        made.take(point, corrected.row(direct[0]))
    for station in order:
        if station not in direct and (
            spread.rule is Rule.NEAREST or ground.lie.nearness[point, station] <= Nearness.GOOD
        ):
            made.take(point, own.row(station).from_elsewhere(Way.CARRIED))
    if spread.rule is not Rule.NEAREST and np.isnan(made.values[point]).any():
        made.take(point, _blend(ground, point, order[:MOST_STATIONS], corrected, spread.rule))
    poor = ground.lie.nearness[point][made.lead[point]] == Nearness.POOR
    suspect = poor & (made.lead[point] != NOBODY)
    np.maximum(made.flags[point], np.uint8(Flag.SUSPECT), out=made.flags[point], where=suspect)


def _blend(ground: Ground, point: int, stations: list[int], told: Field, rule: Rule) -> Part:
    """Inverse square of distance over the stations that know the hour."""
    hours = len(ground.hours)
    total, weights, count = np.zeros(hours), np.zeros(hours), np.zeros(hours, np.int64)
    worst, origin = np.zeros(hours, np.uint8), np.full(hours, Origin.NEIGHBOUR, np.uint8)
    lead, way = np.full(hours, NOBODY, np.int16), np.full(hours, Way.UNKNOWN, np.uint8)
    behind = np.zeros_like(told.behind[0])
    change = _height_change(ground, point, rule)
    for station in stations:
        values = change(station, told.values[station])
        known = ~np.isnan(values)
        # the floor only matters where a place and a station share both their spot and their height: on the site
        weight = max(float(ground.lie.effective_km[point, station]), 1e-3) ** -POWER
        total += np.where(known, weight * values, 0.0)
        weights += np.where(known, weight, 0.0)
        first = known & (count == 0)
        lead[first] = told.lead[station][first]
        way[first] = np.where(told.way[station][first] == Way.OWN, Way.CARRIED, Way.CORRECTED)
        count += known
        way[known & (count == 2) & (way == Way.CARRIED)] = Way.BLENDED
        behind |= np.where(known, told.behind[station], np.uint64(0))
        worst = np.where(known, np.maximum(worst, told.flags[station]), worst)
        origin = np.where(known, np.maximum(origin, told.origin[station]), origin)
    with np.errstate(invalid="ignore"):
        mean = total / weights
    return Part(mean, worst, origin, lead, way, behind)


def _height_change(ground: Ground, point: int, rule: Rule) -> Callable[[int, Floats], Floats]:
    """What brings a station's values to the point's height, where the quantity follows height."""
    where, higher_m = ground.points[point], ground.lie.height_difference_m[point]
    if rule is Rule.PRESSURE:
        here = standard_pressure_hpa(where.elevation_m)
        factor = [here / standard_pressure_hpa(where.elevation_m + float(metres)) for metres in higher_m]
        return lambda station, values: values * factor[station]
    if rule is Rule.TEMPERATURE and higher_m.any():
        unix_s = ground.hours.astype("datetime64[s]").astype(np.int64).astype(np.float64)
        day = solar_position_deg(unix_s, where.latitude_deg, where.longitude_deg)[0] > 0
        return lambda station, values: values + np.where(day, *warmer_below_k(float(higher_m[station])))
    return lambda _, values: values


def warmer_below_k(higher_m: float) -> tuple[float, float]:
    """How much warmer a place is than a station that stands ``higher_m`` above it, K: by day, and by night."""
    by_night_m = math.copysign(max(abs(higher_m) - NIGHT_LAPSE_BEYOND_M, 0.0), higher_m)
    return DAY_LAPSE_K_PER_KM * higher_m / 1000, NIGHT_LAPSE_K_PER_KM * by_night_m / 1000


def standard_pressure_hpa(elevation_m: float) -> float:
    """Usual air pressure at a height, hPa: FAO-56 eq. 7 (from memory), 1013 [(293 − 0.0065 z) / 293]^5.26."""
    return float(1013.0 * ((293 - 0.0065 * elevation_m) / 293) ** 5.26)
