"""Humidity as both relative humidity and dew point, whichever of the two a station gave."""

from __future__ import annotations

import numpy as np

from forecast.panel import Floats, Panel
from forecast.physics import humidity
from forecast.quantities import Flag, Origin


def complete_humidity(panel: Panel) -> Panel:
    """The panel with dew point and relative humidity each derived from the other where only one is known.

    Where a station gives both, both stay as they are.
    """
    temperature = panel.values["air_temperature_c"]
    unknown = np.full(temperature.shape, np.nan)
    dew_point = panel.values.get("dew_point_c", unknown)
    relative = panel.values.get("relative_humidity_pct", unknown)
    derived_dew_point = humidity.dew_point_of_humid_air_c(temperature, relative)
    derived_relative = humidity.relative_humidity_pct(temperature, dew_point)
    panel = _joined(panel, "dew_point_c", dew_point, derived_dew_point, "relative_humidity_pct")
    return _joined(panel, "relative_humidity_pct", relative, derived_relative, "dew_point_c")


def _joined(panel: Panel, name: str, given: Floats, derived: Floats, other: str) -> Panel:
    use_derived = np.isnan(given) & ~np.isnan(derived)
    values = np.where(use_derived, derived, given)
    shape = values.shape
    flags = panel.flags.get(name, np.full(shape, Flag.MISSING, np.uint8))
    origin = panel.origin.get(name, np.full(shape, Origin.OBSERVED, np.uint8))
    if other in panel.flags:
        flags = np.where(use_derived, panel.flags[other], flags).astype(np.uint8)
        origin = np.where(use_derived, panel.origin[other], origin).astype(np.uint8)
    return panel.with_quantity(name, values, flags, origin)
