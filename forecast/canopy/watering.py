"""When water is put on and dew is taken off: clock times of the zone, laid on hours of UTC.

A controller and a crew follow the clock, through daylight-saving time too. Where the clock jumps over the time set, in
spring, the start is taken at the hour that it would have been without the jump; where the clock shows it twice, in
autumn, at the first of the two: so that each day set has one start.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from forecast.clock import date_of
from forecast.panel import Floats, Hours
from forecast.turf import Setting

_HOUR_S = 3600
_DAY_HOURS = 24
_THURSDAY = 3  # weekday of 1970-01-01, where Monday is 0
# House choice: a mower, a drag or a pole leaves a fifth of the film behind.
DEW_TAKEN_FRACTION = 0.8


def irrigation_mm(hours: Hours, settings: Sequence[Setting], zone: ZoneInfo) -> Floats:
    """Water put on over each hour, mm, shape (hours, series); 0 where none is set.

    An area is taken to get its water evenly over the hour that begins at the start (house choice: heads take turns). A
    start at 05:00 wets the hour that ends at 06:00; one at 05:45 puts a quarter into that hour and the rest into the
    next.

    Args:
        hours: unbroken ``datetime64[h]`` UTC stamps that end their hours.
        settings: one a series.
        zone: whose clock the starts follow.
    """
    water = np.zeros((len(hours), len(settings)))
    for series, setting in enumerate(settings):
        if setting.irrigation is None:
            continue
        start_s = _at_s(hours, zone, setting.irrigation.start, setting.irrigation.days)
        whole, late_s = np.divmod(start_s, _HOUR_S)
        later = late_s / _HOUR_S
        _add(water[:, series], whole + 1, hours, (1 - later) * setting.irrigation.depth_mm)
        _add(water[:, series], whole + 2, hours, later * setting.irrigation.depth_mm)
    return water


def dew_removed_fraction(hours: Hours, settings: Sequence[Setting], zone: ZoneInfo) -> Floats:
    """Share of the film taken off at the end of each hour, shape (hours, series); 0 where none is.

    Dew taken off at 06:00 goes at the end of the hour that ends then; at any minute after it, at the end of the next.

    Args:
        hours: unbroken ``datetime64[h]`` UTC stamps that end their hours.
        settings: one a series.
        zone: whose clock the times follow.
    """
    removed = np.zeros((len(hours), len(settings)))
    for series, setting in enumerate(settings):
        if setting.dew_removal is not None:
            at_s = _at_s(hours, zone, setting.dew_removal.at, setting.dew_removal.days)
            stamps = -(-at_s // _HOUR_S)
            _add(removed[:, series], stamps, hours, np.full(len(stamps), DEW_TAKEN_FRACTION))
    return np.minimum(removed, DEW_TAKEN_FRACTION)


def _add(column: Floats, stamps: NDArray[np.int64], hours: Hours, amounts: Floats) -> None:
    """Adds amounts at stamps, hours since 1970, where the column has them."""
    if not len(hours):
        return
    rows = stamps - int(hours[0].astype(np.int64))
    there = (rows >= 0) & (rows < len(hours))
    np.add.at(column, rows[there], amounts[there])


def _at_s(hours: Hours, zone: ZoneInfo, at: time, days: Sequence[int]) -> NDArray[np.int64]:
    """Seconds since 1970 of a clock time on some weekdays, on every date that can touch the hours."""
    if not len(hours):
        return np.zeros(0, np.int64)
    first, last = (int(stamp.astype(np.int64)) // _DAY_HOURS for stamp in (hours[0], hours[-1]))
    dates = np.arange(first - 2, last + 3)  # clocks are at most 14 h off UTC, and water may run on from the day before
    clock = _clock_s(zone, at, first - 2, last + 3)
    return clock[np.isin((dates + _THURSDAY) % 7, days)]


@lru_cache(maxsize=64)  # many areas share a controller's start; a pure function of its arguments
def _clock_s(zone: ZoneInfo, at: time, first_day: int, end_day: int) -> NDArray[np.int64]:
    """Seconds since 1970 at which the zone's clock shows a time, one for each date from the first to before the end."""
    seconds = [int(datetime.combine(date_of(day), at, zone).timestamp()) for day in range(first_day, end_day)]
    clock = np.array(seconds, dtype=np.int64)
    clock.flags.writeable = False
    return clock
