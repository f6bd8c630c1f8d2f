"""Places, how stations lie about them, and how far a station can speak for a place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, IntEnum
from types import MappingProxyType

import numpy as np

from forecast.panel import Bytes, Floats
from forecast.physics.distance import distance_km

ON_SITE_KM, ON_SITE_M = 1.0, 25.0  # house choice: the same ground, the same air
GOOD_KM, GOOD_M = 10.0, 50.0  # house choice
# House choice; 30 km is about the spacing that keeps nine tenths of the variance of lowest temperature and of humidity
# (Hubbard 1994, Agric. For. Meteorol. 68:29-47; from memory).
FAIR_KM, FAIR_M = 30.0, 150.0
REACH_KM = 100.0  # house choice, height counted in: beyond it lies another place's weather
KM_PER_M_OF_HEIGHT = 0.2  # house choice, from the classes themselves: 50 m of height weigh as much as 10 km


class Confidence(Enum):
    """How far a station can speak for a place; the value is the word on the page."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"

    @property
    def meaning(self) -> str:
        """What the word stands for."""
        if self is Confidence.POOR:
            return f"the nearest station is more than {FAIR_KM:g} km or {FAIR_M:g} m of height away"
        km, metres = _WITHIN[Nearness[self.name]]
        return f"a station within {km:g} km and {metres:g} m of height"


class Nearness(IntEnum):
    """How near a station is, the nearest class first."""

    ON_SITE = 0
    GOOD = 1
    FAIR = 2
    POOR = 3

    @property
    def confidence(self) -> Confidence:
        """How far such a station can speak for the place: well on the site."""
        return Confidence.GOOD if self is Nearness.ON_SITE else Confidence[self.name]


_WITHIN = MappingProxyType(
    {
        Nearness.ON_SITE: (ON_SITE_KM, ON_SITE_M),
        Nearness.GOOD: (GOOD_KM, GOOD_M),
        Nearness.FAIR: (FAIR_KM, FAIR_M),
    }
)


@dataclass(frozen=True, slots=True)
class Where:
    """A place: degrees north and east, metres above sea level.

    Raises:
        ValueError: it is no place on the Earth.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float

    def __post_init__(self) -> None:
        if not (abs(self.latitude_deg) <= 90 and abs(self.longitude_deg) <= 180 and -500 <= self.elevation_m <= 9000):
            raise ValueError(f"{self} is no place on the Earth")


@dataclass(frozen=True, eq=False)
class Lie:
    """How stations lie about places, each of shape (places, stations).

    Attributes:
        distance_km: along the ground.
        height_difference_m: how much higher the station stands.
        effective_km: distance with height counted in.
        nearness: :class:`Nearness` of the station to the place.
    """

    distance_km: Floats
    height_difference_m: Floats
    effective_km: Floats
    nearness: Bytes


def lie_about(stations: Sequence[Where], places: Sequence[Where]) -> Lie:
    """How stations lie about places; at least one of each."""

    def of(side: Sequence[Where]) -> Floats:
        return np.array([(w.latitude_deg, w.longitude_deg, w.elevation_m) for w in side], np.float64)

    station, place = of(stations)[None, :], of(places)[:, None]
    apart = distance_km(place[..., 0], place[..., 1], station[..., 0], station[..., 1])
    higher = station[..., 2] - place[..., 2]
    nearness = np.full(apart.shape, Nearness.POOR, np.uint8)
    for better, (km, metres) in reversed(list(_WITHIN.items())):
        nearness[(apart <= km) & (np.abs(higher) <= metres)] = better
    return Lie(apart, higher, np.hypot(apart, KM_PER_M_OF_HEIGHT * higher), nearness)
