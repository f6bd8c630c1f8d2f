"""The day in progress: what tonight's readings can still become before the day is over.

Without a weather forecast, the hours that have not been read yet are taken from days that have been: the last
ten days, and the same dates (a week to either side) in past years. Each goes on from the last reading with that
day's own changes in temperature, dew point and soil temperature, and its own wind, sky, rain and snow. The result is
a range, marked "so far".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats, Hours, Panel, observed
from forecast.physics import humidity

RECENT_DAYS = 10  # house choice
DATES_EITHER_SIDE_DAYS = 7  # house choice
HISTORY_HOURS = 24 * 6  # enough for a five-day mean and for wetness to find its state
BY_CHANGE = ("air_temperature_c", "dew_point_c", "soil_temperature_5cm_c", "soil_temperature_10cm_c")
AS_THEN = ("rain_mm", "wind_speed_10m_m_s", "cloud_cover_fraction", "shortwave_down_w_m2", "snow_depth_mm")
_YEAR_HOURS = 8766  # 365.25 days; the nearest whole day is taken


@dataclass(frozen=True, eq=False)
class Continuation:
    """The ways a series can go on.

    Attributes:
        panel: the last days and the hours to come, shape (hours, 1, members).
        last_known: stamp of the last hour that was read.
    """

    panel: Panel
    last_known: np.datetime64


def last_known_row(panel: Panel, column: int) -> int | None:
    """Row of the last hour whose temperature and dew point are known; None where there is none."""
    known = ~np.isnan(panel.values["air_temperature_c"][:, column] + panel.values["dew_point_c"][:, column])
    rows = np.flatnonzero(known)
    return int(rows[-1]) if rows.size else None


def ways_on(panel: Panel, column: int, until: np.datetime64, history_hours: int = HISTORY_HOURS) -> Continuation | None:
    """The last days of one series, gone on with until a stamp, one member a remembered day.

    Args:
        panel: hours with temperature, dew point and relative humidity, and what there is of :data:`BY_CHANGE` and
            :data:`AS_THEN`; shape (hours, series).
        column: which series.
        until: the last stamp wanted.
        history_hours: how many hours before the last reading are kept.

    Returns:
        None where nothing was read, where nothing is left to go on with, or where no remembered day is whole.
    """
    row = last_known_row(panel, column)
    if row is None:
        return None
    length = int((until - panel.hours[row]) / np.timedelta64(1, "h"))
    temperature = panel.values["air_temperature_c"][:, column]
    dew_point = panel.values["dew_point_c"][:, column]
    starts = _remembered(temperature + dew_point, row, length)
    if length < 1 or not starts.size:
        return None
    steps = starts[None, :] + np.arange(length + 1)[:, None]
    first = max(row - history_hours, 0)
    columns = {name: panel.values[name][:, column] for name in (*BY_CHANGE, *AS_THEN) if name in panel.values}
    ahead = {
        name: columns[name][row] + columns[name][steps] - columns[name][starts] for name in BY_CHANGE if name in columns
    }
    ahead["dew_point_c"] = np.minimum(ahead["dew_point_c"], ahead["air_temperature_c"])
    ahead["relative_humidity_pct"] = humidity.relative_humidity_pct(ahead["air_temperature_c"], ahead["dew_point_c"])
    columns["relative_humidity_pct"] = panel.values["relative_humidity_pct"][:, column]
    # The last reading itself keeps the humidity that was read, not one worked out again.
    ahead["relative_humidity_pct"][0] = columns["relative_humidity_pct"][row]
    members = len(starts)
    values = {name: _after(columns[name][first:row], later, members) for name, later in ahead.items()}
    values |= {
        name: _after(columns[name][first : row + 1], columns[name][steps[1:]], members)
        for name in AS_THEN
        if name in columns
    }
    hours: Hours = panel.hours[first] + np.arange(row - first + length + 1) * np.timedelta64(1, "h")
    return Continuation(observed(hours, (panel.series[column],), values), panel.hours[row])


def _remembered(known: Floats, row: int, length: int) -> NDArray[np.int64]:
    """Rows of the same clock hour on remembered days that are known for ``length`` hours on."""
    back_days = list(range(1, RECENT_DAYS + 1))
    years = row // _YEAR_HOURS
    for year in range(1, years + 1):
        middle = round(year * _YEAR_HOURS / 24)
        back_days += range(middle - DATES_EITHER_SIDE_DAYS, middle + DATES_EITHER_SIDE_DAYS + 1)
    starts = row - 24 * np.array(back_days, dtype=np.int64)
    whole = [s for s in starts if s >= 0 and s + length <= row and not np.isnan(known[s : s + length + 1]).any()]
    return np.array(whole, dtype=np.int64)


def _after(past: Floats, ahead: Floats, members: int) -> Floats:
    """Past hours repeated for every member, then the hours ahead; shape (hours, 1, members)."""
    repeated = np.repeat(past[:, None], members, axis=1)
    return np.concatenate([repeated, ahead])[:, None, :]
