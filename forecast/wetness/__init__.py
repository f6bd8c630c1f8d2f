"""Leaf wetness from hourly weather: one file a method, one form, chosen by key."""

from __future__ import annotations

from types import MappingProxyType

import numpy as np

from forecast.panel import Panel
from forecast.quantities import Flag
from forecast.wetness.dew_point_depression import DEW_POINT_DEPRESSION
from forecast.wetness.form import WetnessMethod
from forecast.wetness.humidity_threshold import HUMIDITY_THRESHOLD

METHODS = MappingProxyType({method.key: method for method in (DEW_POINT_DEPRESSION, HUMIDITY_THRESHOLD)})

# Without cloud or radiation the design falls back to dew-point depression; of the two methods here it had the
# smaller error on turf (Lulu, Sentelhas & Pedro 2008, Sci. Agric. 65:10-17, read second-hand: 2.33 against 2.86 h/day).
DEFAULT = DEW_POINT_DEPRESSION

__all__ = ["DEFAULT", "METHODS", "WetnessMethod", "with_leaf_wetness"]


def with_leaf_wetness(panel: Panel, method: WetnessMethod = DEFAULT) -> Panel:
    """The panel with ``leaf_wet_fraction`` added by one method.

    The panel must hold temperature, dew point and relative humidity; without rain, humidity alone decides.
    """
    temperature = panel.values["air_temperature_c"]
    rain = panel.values.get("rain_mm", np.full(temperature.shape, np.nan))
    wet = method.kernel(temperature, panel.values["dew_point_c"], panel.values["relative_humidity_pct"], rain)
    flags = np.where(np.isnan(wet), Flag.MISSING, Flag.NOT_EVALUATED).astype(np.uint8)
    return panel.with_quantity("leaf_wet_fraction", wet, flags, panel.origin["air_temperature_c"])
