"""The temperature of the soil and the height of the sun, added to a place's hours."""

from __future__ import annotations

import numpy as np

from forecast.between import Where
from forecast.canopy.hours_at_turf import quantity, shape_of, spread_out
from forecast.canopy.sun_over import sun_over
from forecast.panel import Bytes, Floats, Panel
from forecast.physics.soil_temperature import soil_temperatures_c
from forecast.quantities import Flag, Origin

DEPTHS_M = {"soil_temperature_5cm_c": 0.05, "soil_temperature_10cm_c": 0.10}
_READ = ("air_temperature_c", "snow_depth_mm", *DEPTHS_M)


def soil_and_sun(panel: Panel, where: Where) -> Panel:
    """A place's hours with soil temperatures and the sun's height beside them.

    Soil temperature stays as measured, with its flag and origin; what was not measured is told from the air, good to
    about 2 °C: flag ``NOT_EVALUATED``, origin ``FILLED``, or that of the air where the air is a neighbour's, a
    forecast's or a past year's. What neither gives stays NaN. It is that of the place, not of a setting: the published
    slowing under leaves would hold turf a degree below the air all year, which turf does not show.

    Args:
        panel: one place's hours, shape (hours, series[, members]); quantities may be left out.
        where: the place.
    """
    shape = shape_of(panel, _READ)
    measured = {name: quantity(panel, name, shape) for name in DEPTHS_M}
    if any(np.isnan(values).any() for values in measured.values()):
        air, snow = quantity(panel, "air_temperature_c", shape), quantity(panel, "snow_depth_mm", shape)
        origin = np.full(shape, Origin.FILLED, np.uint8)
        if "air_temperature_c" in panel.origin:
            origin = np.maximum(origin, spread_out(panel.origin["air_temperature_c"], shape))
        told = soil_temperatures_c(air, tuple(DEPTHS_M.values()), snow_depth_mm=snow)
        for name, values in zip(DEPTHS_M, told, strict=True):
            panel = _joined(panel, name, measured[name], values, origin)
    _, elevation_deg = sun_over(panel.hours, where)
    return panel.with_quantity(
        "sun_elevation_deg",
        spread_out(elevation_deg, shape),
        np.full(shape, Flag.NOT_EVALUATED, np.uint8),
        np.full(shape, Origin.FILLED, np.uint8),
    )


def _joined(panel: Panel, name: str, measured: Floats, told: Floats, told_origin: Bytes) -> Panel:
    """The panel with a quantity as measured where it was, and as told elsewhere."""
    shape = told.shape
    use_told = np.isnan(measured) & ~np.isnan(told)
    flags = spread_out(panel.flags[name], shape) if name in panel.flags else np.full(shape, Flag.MISSING, np.uint8)
    origin = spread_out(panel.origin[name], shape) if name in panel.origin else np.zeros(shape, np.uint8)
    return panel.with_quantity(
        name,
        np.where(use_told, told, measured),
        np.where(use_told, np.uint8(Flag.NOT_EVALUATED), flags),
        np.where(use_told, told_origin, origin),
    )
