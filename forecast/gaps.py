"""Short holes closed by each quantity's own rule, and marked as filled; rain is never invented."""

from __future__ import annotations

import numpy as np

from forecast.panel import Floats, Panel
from forecast.physics import humidity
from forecast.quantities import QUANTITIES, Flag, GapRule, Origin


def fill(panel: Panel) -> Panel:
    """The panel with its short holes filled, origin ``FILLED`` and flag ``GOOD`` where they were.

    Humidity goes through vapour pressure, since it is not linear in temperature; it is filled only where the
    temperature is known or was filled. What cannot be filled stays NaN.
    """
    values = dict(panel.values)
    ordered = sorted(values, key=lambda name: QUANTITIES[name].gap_rule is GapRule.VAPOUR_PRESSURE)
    for name in ordered:
        quantity = QUANTITIES[name]
        if quantity.gap_rule is GapRule.LINEAR:
            values[name] = fill_linear(values[name], quantity.gap_limit_hours)
        elif quantity.gap_rule is GapRule.VAPOUR_PRESSURE and "air_temperature_c" in values:
            values[name] = _fill_humidity(values[name], values["air_temperature_c"], quantity.gap_limit_hours)
    flags, origin = {}, {}
    for name, filled in values.items():
        new = np.isnan(panel.values[name]) & ~np.isnan(filled)
        flags[name] = np.where(new, Flag.GOOD, panel.flags[name]).astype(np.uint8)
        origin[name] = np.where(new, Origin.FILLED, panel.origin[name]).astype(np.uint8)
    return Panel(panel.hours, panel.series, values, flags, origin)


def fill_linear(values: Floats, limit_hours: int) -> Floats:
    """Straight lines across holes of at most ``limit_hours`` that have a value on both sides.

    Args:
        values: shape (hours, …), NaN where unknown.
        limit_hours: the longest hole closed; a longer one stays as it is, whole.
    """
    flat = values.reshape(len(values), -1).copy()
    for column in flat.T:
        unknown = np.isnan(column)
        if not unknown.any() or unknown.all():
            continue
        edges = np.flatnonzero(np.diff(np.concatenate(([False], unknown, [False])).astype(np.int8)))
        for start, stop in zip(edges[::2], edges[1::2], strict=True):
            if start > 0 and stop < len(column) and stop - start <= limit_hours:
                step = (column[stop] - column[start - 1]) / (stop - start + 1)
                column[start:stop] = column[start - 1] + step * np.arange(1, stop - start + 1)
    return flat.reshape(values.shape)


def _fill_humidity(relative_humidity_pct: Floats, air_temperature_c: Floats, limit_hours: int) -> Floats:
    pressure = fill_linear(humidity.vapour_pressure_hpa(air_temperature_c, relative_humidity_pct), limit_hours)
    refilled = 100 * pressure / humidity.saturation_vapour_pressure_hpa(air_temperature_c)
    return np.where(np.isnan(relative_humidity_pct), np.minimum(refilled, 100.0), relative_humidity_pct)
