"""A place's checked hours brought to the turf of one setting a series."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from forecast.between import Where
from forecast.canopy.light import light_share
from forecast.canopy.stand import canopy_height_m, leaf_area_index
from forecast.canopy.sun_over import sun_over
from forecast.canopy.turf_hours import TurfHours
from forecast.canopy.watering import dew_removed_fraction, irrigation_mm
from forecast.panel import Floats, Panel
from forecast.physics.air import pressure_at_hpa
from forecast.physics.longwave import isothermal_net_radiation_w_m2
from forecast.physics.radiation import complete_sky
from forecast.physics.wind import LEAST_WIND_2M_M_S, wind_speed_at_m_s
from forecast.turf import Setting

_Scalar = TypeVar("_Scalar", bound=np.generic)

AIR = (
    "air_temperature_c",
    "dew_point_c",
    "relative_humidity_pct",
    "rain_mm",
    "wind_speed_10m_m_s",
    "shortwave_down_w_m2",
    "cloud_cover_fraction",
)


def at_turf(panel: Panel, settings: Sequence[Setting], where: Where, zone: ZoneInfo) -> TurfHours:
    """The hours of a place at its turf.

    Sunlight and cloud stay as measured, and each is told from the other where it was not; where neither is known, net
    radiation is not. Wind, rain, temperature and humidity are never guessed.

    Args:
        panel: one place's hours, shape (hours, series[, members]), both humidities completed; quantities may be left
            out, and some may have members where others have none.
        settings: one a series.
        where: the place.
        zone: whose clock watering and the removal of dew follow.

    Returns:
        Hours of one shape, (hours, series) or (hours, series, members); NaN is unknown.

    Raises:
        ValueError: not one setting a series.
    """
    if len(settings) != len(panel.series):
        raise ValueError(f"{len(panel.series)} series need one setting each, not {len(settings)}")
    shape = shape_of(panel, AIR)
    air = {name: quantity(panel, name, shape) for name in AIR}
    azimuth_deg, elevation_deg = sun_over(panel.hours, where)
    shortwave, cloud = complete_sky(air["shortwave_down_w_m2"], air["cloud_cover_fraction"], elevation_deg)
    at_2m = wind_speed_at_m_s(air["wind_speed_10m_m_s"], from_m=10, to_m=2)
    sheltered = at_2m * of_series([setting.wind_let_through_fraction for setting in settings], shape)
    return TurfHours(
        air_temperature_c=air["air_temperature_c"],
        dew_point_c=air["dew_point_c"],
        relative_humidity_pct=air["relative_humidity_pct"],
        rain_mm=air["rain_mm"],
        irrigation_mm=spread_out(irrigation_mm(panel.hours, settings, zone), shape),
        dew_removed_fraction=spread_out(dew_removed_fraction(panel.hours, settings, zone), shape),
        wind_speed_10m_m_s=air["wind_speed_10m_m_s"],
        wind_speed_2m_m_s=np.maximum(sheltered, LEAST_WIND_2M_M_S),
        net_radiation_w_m2=isothermal_net_radiation_w_m2(
            shortwave * spread_out(light_share(azimuth_deg, elevation_deg, settings), shape),
            air["air_temperature_c"],
            air["dew_point_c"],
            cloud,
            of_series([setting.sky_seen_fraction for setting in settings], shape),
        ),
        sun_elevation_deg=spread_out(elevation_deg, shape),
        canopy_height_m=of_series([canopy_height_m(setting) for setting in settings], shape),
        leaf_area_index=of_series([leaf_area_index(setting) for setting in settings], shape),
        pressure_hpa=float(pressure_at_hpa(where.elevation_m)),
    )


def shape_of(panel: Panel, names: Sequence[str]) -> tuple[int, ...]:
    """The one shape that some quantities of a panel go into, whichever of them it has.

    Raises:
        ValueError: counts of members that differ.
    """
    members = {panel.values[name].shape[2:] for name in names if name in panel.values} - {()}
    if len(members) > 1:
        raise ValueError("quantities with different counts of members do not go together")
    return (len(panel.hours), len(panel.series), *(members.pop() if members else ()))


def quantity(panel: Panel, name: str, shape: tuple[int, ...]) -> Floats:
    """A quantity of a panel in a shape, NaN throughout where the panel has none; not to be written to."""
    return spread_out(panel.values[name] if name in panel.values else np.array(np.nan), shape)


def spread_out(array: NDArray[_Scalar], shape: tuple[int, ...]) -> NDArray[_Scalar]:
    """An array of hours, or of hours and series, in a full shape, axis by axis from the first; not to be written to."""
    return np.broadcast_to(array.reshape(array.shape + (1,) * (len(shape) - array.ndim)), shape)


def of_series(figures: Sequence[float], shape: tuple[int, ...]) -> Floats:
    """One figure a series as an array that goes with hours of a shape: (series,), or (series, 1) beside members."""
    return np.array(figures, dtype=np.float64).reshape((len(figures),) + (1,) * (len(shape) - 2))
