"""Hours at the turf of one or several stands: what leaf wetness and its kin are told from."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from forecast.panel import Floats


@dataclass(frozen=True, eq=False)
class TurfHours:
    """Hours at the turf; NaN is unknown.

    Every hourly array has one shape, (hours, series) or (hours, series, members); a stamp ends its hour. The stand's
    own figures are floats, or arrays that go with that shape, such as (series,) or (series, 1).

    Attributes:
        air_temperature_c: near 2 m, as the station's.
        dew_point_c: near 2 m.
        relative_humidity_pct: near 2 m, over water.
        rain_mm: over the hour; NaN where no gauge told it.
        irrigation_mm: over the hour; 0 where none is set.
        dew_removed_fraction: share of the film that is mown or dragged off at the end of the hour, mostly 0.
        wind_speed_10m_m_s: open wind at 10 m.
        wind_speed_2m_m_s: wind at 2 m over this turf, after shelter; not below the floor of its kernel.
        net_radiation_w_m2: net radiation of turf at air temperature (isothermal), after shade, down positive.
        sun_elevation_deg: of the sun's centre at the middle of the hour; night is below 0.
        canopy_height_m: height of the stand.
        leaf_area_index: leaf area a ground area.
        pressure_hpa: usual air pressure at its height above the sea.
    """

    air_temperature_c: Floats
    dew_point_c: Floats
    relative_humidity_pct: Floats
    rain_mm: Floats
    irrigation_mm: Floats
    dew_removed_fraction: Floats
    wind_speed_10m_m_s: Floats
    wind_speed_2m_m_s: Floats
    net_radiation_w_m2: Floats
    sun_elevation_deg: Floats
    canopy_height_m: Floats | float = 0.07
    leaf_area_index: Floats | float = 1.68
    pressure_hpa: Floats | float = 1000.0

    def __post_init__(self) -> None:
        shape = self.air_temperature_c.shape
        for name in HOURLY:
            if getattr(self, name).shape != shape:
                raise ValueError(f"{name}: shape {getattr(self, name).shape} is not that of the temperature, {shape}")

    def known(self, names: tuple[str, ...]) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        """Where all of some hourly arrays are known."""
        known = np.ones(self.air_temperature_c.shape, dtype=bool)
        for name in names:
            known &= ~np.isnan(getattr(self, name))
        return known


STAND = ("canopy_height_m", "leaf_area_index", "pressure_hpa")
HOURLY = tuple(f.name for f in fields(TurfHours) if f.name not in STAND)
