"""The vocabulary: every hourly quantity with its unit, bounds and gap rule.

A column, an argument, a settings key, a JSON field and a plot label for the same thing share one name.
Names read ``what[_where]_unit``; a test parses each against :data:`UNIT_SUFFIXES`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, IntEnum
from types import MappingProxyType

UNIT_SUFFIXES = MappingProxyType(
    {
        "c": "°C",
        "pct": "%",
        "mm": "mm",
        "m_s": "m s⁻¹",
        "w_m2": "W m⁻²",
        "hpa": "hPa",
        "fraction": "1",
        "deg": "°",
    }
)


class Flag(IntEnum):
    """Quality flags on the QARTOD scale (U.S. IOOS, Manual for Real-Time Quality Control); worst wins."""

    GOOD = 1
    NOT_EVALUATED = 2
    SUSPECT = 3
    FAIL = 4
    MISSING = 9


class Origin(IntEnum):
    """Where a value came from."""

    OBSERVED = 0
    FILLED = 1
    NEIGHBOUR = 2
    WEATHER_FORECAST = 3
    PAST_YEAR = 4


class GapRule(Enum):
    """How a short hole may be closed."""

    LINEAR = "linear in time"
    VAPOUR_PRESSURE = "vapour pressure linear in time, then back to humidity"
    NEVER = "never filled"


class Kind(Enum):
    """What an hour's figure means."""

    STATE = "the state at the stamp"
    AMOUNT = "the amount over the hour that ends at the stamp"
    MEAN = "the mean over the hour that ends at the stamp"
    HIGHEST = "the highest over the hour that ends at the stamp"


@dataclass(frozen=True, slots=True)
class Quantity:
    """One row of the vocabulary.

    Attributes:
        name: ``what[_where]_unit``.
        meaning: what it is, in words.
        least: below it a value fails the range test, in the quantity's unit.
        most: above it a value fails the range test, in the quantity's unit.
        kind: state, amount or mean.
        gap_rule: how a hole is closed.
        gap_limit_hours: the longest hole that is closed.
        source: where the bounds come from.
        clip_to: a reading between this and ``most`` is a sensor's overshoot: taken as this, flagged suspect.
        derived: True where it is worked out here and never comes from a file.
    """

    name: str
    meaning: str
    least: float
    most: float
    kind: Kind
    gap_rule: GapRule
    gap_limit_hours: int
    source: str
    clip_to: float | None = None
    derived: bool = False

    @property
    def unit(self) -> str:
        """The unit's sign, read off the end of the name."""
        return UNIT_SUFFIXES[unit_suffix(self.name)]


def short_name(name: str) -> str:
    """A quantity's name without its unit and height, in words."""
    return name.removesuffix(f"_{unit_suffix(name)}").removesuffix("_10m").replace("_", " ")


def unit_suffix(name: str) -> str:
    """The longest known unit ending of a name.

    Raises:
        KeyError: the name ends in no known unit.
    """
    fitting = [suffix for suffix in UNIT_SUFFIXES if name.endswith(f"_{suffix}")]
    if not fitting:
        raise KeyError(name)
    return max(fitting, key=len)


_AWS = "Zahumensky 2004, WMO CBS guidelines on AWS quality control (read second-hand)"
_HOUSE_SUN = "house choice: above the solar constant times the brightest broken-cloud enhancement"
_SHAFER = "0-105 % after Shafer et al. 2000, J. Atmos. Ocean. Technol. 17:474-494 (read second-hand)"
_GUST = "house choice: above the highest gust on record, 113 m/s (WMO world record, from memory)"
_VALIDATOR = "most as in the meteostat library's validator for hourly rain"
_BY_DEFINITION = "by definition"
_SOIL = "house choice: wider than any soil under turf, so that only what cannot be is left out"
_SNOW = "house choice: above the deepest snow on record, 11.82 m on Mount Ibuki in 1927 (from memory)"

# Holes of up to 3 h are closed along a straight line: common practice; for one hour Henn et al. 2013,
# J. Hydrometeorol. 14:929-945, found interpolation in time best.
_SHORT_HOLE_HOURS = 3


def _state(name: str, meaning: str, least: float, most: float, source: str) -> Quantity:
    return Quantity(name, meaning, least, most, Kind.STATE, GapRule.LINEAR, _SHORT_HOLE_HOURS, source)


def _never_filled(name: str, meaning: str, most: float, kind: Kind, source: str) -> Quantity:
    return Quantity(name, meaning, 0, most, kind, GapRule.NEVER, 0, source)


QUANTITIES = MappingProxyType(
    {
        quantity.name: quantity
        for quantity in (
            _state("air_temperature_c", "air temperature near 2 m", -80, 60, _AWS),
            _state("dew_point_c", "dew point near 2 m", -80, 35, _AWS),
            Quantity(
                "relative_humidity_pct",
                "relative humidity near 2 m, over water",
                0,
                105,
                Kind.STATE,
                GapRule.VAPOUR_PRESSURE,
                _SHORT_HOLE_HOURS,
                _SHAFER,
                clip_to=100,
            ),
            _never_filled("rain_mm", "rain and melted snow", 350, Kind.AMOUNT, _VALIDATOR),
            _state("wind_speed_10m_m_s", "wind speed at 10 m", 0, 75, _AWS),
            _never_filled("wind_gust_10m_m_s", "highest gust of the hour at 10 m", 150, Kind.HIGHEST, _GUST),
            _never_filled(
                "rain_chance_fraction", "chance of rain as a weather forecast puts it", 1, Kind.MEAN, _BY_DEFINITION
            ),
            _state("cloud_cover_fraction", "share of the sky covered by cloud", 0, 1, _BY_DEFINITION),
            _never_filled("shortwave_down_w_m2", "solar radiation on level ground", 1600, Kind.MEAN, _HOUSE_SUN),
            _state("pressure_hpa", "air pressure at the station", 500, 1100, _AWS),
            _state("soil_temperature_5cm_c", "soil temperature 5 cm deep", -40, 60, _SOIL),
            _state("soil_temperature_10cm_c", "soil temperature 10 cm deep", -40, 60, _SOIL),
            _never_filled("snow_depth_mm", "depth of lying snow", 12000, Kind.STATE, _SNOW),
            Quantity(
                "sun_elevation_deg",
                "height of the sun above the horizon at the middle of the hour",
                -90,
                90,
                Kind.STATE,
                GapRule.NEVER,
                0,
                _BY_DEFINITION,
                derived=True,
            ),
            Quantity(
                "water_on_turf_mm",
                "rain, melted snow and irrigation",
                0,
                450,
                Kind.AMOUNT,
                GapRule.NEVER,
                0,
                "house choice: the most rain and the most irrigation together",
                derived=True,
            ),
            _never_filled("leaf_wet_fraction", "share of the hour with wet leaves", 1, Kind.MEAN, _BY_DEFINITION),
        )
    }
)

READABLE = tuple(name for name, quantity in QUANTITIES.items() if not quantity.derived)  # what may come in from outside
WORKED_OUT = "the program works it out itself and never reads it"  # said wherever a person names one of the others
