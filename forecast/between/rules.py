"""What is done with each quantity between stations."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, IntEnum
from types import MappingProxyType

from forecast.between.where import Nearness


class Way(IntEnum):
    """How a value came to its place."""

    UNKNOWN = 0
    OWN = 1  # the reading of the station that comes first, as it is
    CARRIED = 2  # the reading of one other station, as it is or brought to the place's height
    BLENDED = 3  # several stations, by the inverse square of distance
    CORRECTED = 4  # other stations, moved by their usual difference at this hour from the one that is silent
    COMBINED = 5  # one station's vapour pressure at another's temperature


class Rule(Enum):
    """How a quantity goes from stations to a place."""

    TEMPERATURE = "inverse square of distance, with height; corrected where the first station is silent"
    HUMIDITY = "as vapour pressure, by inverse square of distance; corrected where the first station is silent"
    MEAN = "inverse square of distance"
    PRESSURE = "inverse square of distance, brought to the place's height"
    NEAREST = "the nearest station that has the hour, never a mean"


@dataclass(frozen=True, slots=True)
class Spread:
    """A quantity's rule, and the farthest class of station that may still tell it."""

    rule: Rule
    farthest: Nearness


# Rain, gusts and wet leaves are kept near (house choice). Measured on New York's airports, 2013: of the hours with rain
# at one, a gauge 17 to 33 km off had rain in 72 to 78 %, and 22 to 28 % of its own hours with rain were dry there.
SPREADS = MappingProxyType(
    {
        "air_temperature_c": Spread(Rule.TEMPERATURE, Nearness.POOR),
        "dew_point_c": Spread(Rule.HUMIDITY, Nearness.POOR),
        "relative_humidity_pct": Spread(Rule.HUMIDITY, Nearness.POOR),
        "wind_speed_10m_m_s": Spread(Rule.MEAN, Nearness.POOR),
        "cloud_cover_fraction": Spread(Rule.MEAN, Nearness.POOR),
        "pressure_hpa": Spread(Rule.PRESSURE, Nearness.POOR),
        "shortwave_down_w_m2": Spread(Rule.NEAREST, Nearness.POOR),
        "wind_gust_10m_m_s": Spread(Rule.NEAREST, Nearness.FAIR),
        "rain_mm": Spread(Rule.NEAREST, Nearness.FAIR),
        "rain_chance_fraction": Spread(Rule.NEAREST, Nearness.FAIR),
        "soil_temperature_5cm_c": Spread(Rule.NEAREST, Nearness.GOOD),
        "soil_temperature_10cm_c": Spread(Rule.NEAREST, Nearness.GOOD),
        "snow_depth_mm": Spread(Rule.NEAREST, Nearness.FAIR),
        "water_on_turf_mm": Spread(Rule.NEAREST, Nearness.FAIR),
        "sun_elevation_deg": Spread(Rule.NEAREST, Nearness.GOOD),
        "leaf_wet_fraction": Spread(Rule.NEAREST, Nearness.GOOD),
    }
)
