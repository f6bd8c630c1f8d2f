"""What a soil holds and what turf takes from it: available water by texture, rooting depth, depletion, coefficients.

Source: Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, Tables 12, 19 and 22 and equations 82
and 83. The tables were not open here. Available water (Table 19, θFC − θWP) is from memory; the two columns that it is
the difference of, and the turf rows of Tables 12 and 22, were read second-hand in public transcriptions and agree with
memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from forecast.panel import Floats
from forecast.turf import GRASSES, Ground

MM_PER_M = 1000.0
ASSUMED_TEXTURE = "loam"  # house choice where nobody has looked: the middle of the table
ASSUMED_ROOTING_DEPTH_MM = 150.0  # house choice; FAO-56 Table 22 has 500 to 1000, which mown turf seldom reaches

COOL_COEFFICIENT = 0.95  # FAO-56 Table 12, cool-season turf, mid and late season (0.90 at its start)
WARM_COEFFICIENT = 0.85  # FAO-56 Table 12, warm-season turf, mid and late season (0.80 at its start)
COOL_DEPLETION_FRACTION = 0.40  # FAO-56 Table 22, cool-season turf, at 5 mm a day
WARM_DEPLETION_FRACTION = 0.50  # FAO-56 Table 22, warm-season turf, at 5 mm a day

_FRACTION_PER_MM_DAY = 0.04  # FAO-56 Table 22, note: p = p(5 mm) + 0.04 (5 − ETc)
_TABLED_AT_MM_DAY = 5.0  # FAO-56 Table 22
_LEAST_FRACTION, _MOST_FRACTION = 0.1, 0.8  # FAO-56 Table 22, note


@dataclass(frozen=True, slots=True)
class Texture:
    """A soil texture with the water it holds between field capacity and wilting point.

    Attributes:
        key: how settings name it.
        name: in words.
        available_water_least_mm_m: lower end of the tabled range, mm of water a metre of soil.
        available_water_most_mm_m: upper end.
    """

    key: str
    name: str
    available_water_least_mm_m: float
    available_water_most_mm_m: float

    @property
    def available_water_mm_m(self) -> float:
        """Middle of the range, mm of water a metre of soil (house choice: the table gives a range only)."""
        return (self.available_water_least_mm_m + self.available_water_most_mm_m) / 2


# FAO-56 Table 19, θFC − θWP in m³ a m³ times 1000; from memory.
TEXTURES = MappingProxyType(
    {
        texture.key: texture
        for texture in (
            Texture("sand", "sand", 50.0, 110.0),
            Texture("loamy_sand", "loamy sand", 60.0, 120.0),
            Texture("sandy_loam", "sandy loam", 110.0, 150.0),
            Texture("loam", "loam", 130.0, 180.0),
            Texture("silt_loam", "silt loam", 130.0, 190.0),
            Texture("silt", "silt", 160.0, 200.0),
            Texture("silty_clay_loam", "silty clay loam", 130.0, 180.0),
            Texture("silty_clay", "silty clay", 130.0, 190.0),
            Texture("clay", "clay", 120.0, 200.0),
        )
    }
)


@dataclass(frozen=True, slots=True)
class RootZone:
    """The soil that turf drinks from.

    Attributes:
        total_available_water_mm: TAW, from field capacity to wilting point.
        depletion_fraction: share of it that turf takes without stress while it uses 5 mm a day.
        crop_coefficient: what reference evapotranspiration is multiplied by.
    """

    total_available_water_mm: Floats | float
    depletion_fraction: Floats | float
    crop_coefficient: Floats | float

    def crop_et_mm(self, et0_mm: Floats) -> Floats:
        """Evapotranspiration of turf that lacks nothing, mm, any shape (FAO-56 eq. 58)."""
        return np.asarray(self.crop_coefficient * et0_mm, dtype=np.float64)

    def readily_available_water_mm(self, crop_et_mm: Floats | float) -> Floats:
        """RAW in mm on days of some evapotranspiration, mm a day (FAO-56 eq. 83 with p of the day)."""
        fraction = depletion_fraction(self.depletion_fraction, crop_et_mm)
        return np.asarray(fraction * self.total_available_water_mm, dtype=np.float64)


def depletion_fraction(at_5_mm_day: Floats | float, crop_et_mm: Floats | float) -> Floats:
    """Share of the available water that is taken without stress on a day of some evapotranspiration.

    Args:
        at_5_mm_day: the tabled share.
        crop_et_mm: evapotranspiration of the turf, mm a day.

    Source:
        FAO-56 Table 22, note: p = p(5 mm) + 0.04 (5 − ETc), kept within 0.1 and 0.8.
    """
    fraction = at_5_mm_day + _FRACTION_PER_MM_DAY * (_TABLED_AT_MM_DAY - np.asarray(crop_et_mm, dtype=np.float64))
    return np.clip(fraction, _LEAST_FRACTION, _MOST_FRACTION)


def texture_of(ground: Ground) -> Texture:
    """The texture of a ground, or the assumed one.

    Raises:
        ValueError: no such texture.
    """
    key = ASSUMED_TEXTURE if ground.soil_texture is None else ground.soil_texture
    if key not in TEXTURES:
        raise ValueError(f"no such soil texture {key!r}; known are {', '.join(TEXTURES)}")
    return TEXTURES[key]


def rooting_depth_of(ground: Ground) -> float:
    """The rooting depth of a ground in mm, or the assumed one.

    Raises:
        ValueError: a depth that is not above zero.
    """
    depth_mm = ASSUMED_ROOTING_DEPTH_MM if ground.rooting_depth_mm is None else ground.rooting_depth_mm
    if not depth_mm > 0:
        raise ValueError(f"a rooting depth of {depth_mm} mm; give one above zero, or none")
    return depth_mm


def root_zone(grass: str, ground: Ground) -> RootZone:
    """The root zone of a grass on a ground (FAO-56 eq. 82: TAW = 1000 (θFC − θWP) Zr).

    The mid-season coefficient is taken all year (house choice: mown turf has no growth stages); dormant turf uses less,
    so that its root zone is reckoned drier than it is.

    Args:
        grass: a key of :data:`forecast.turf.GRASSES`.
        ground: what lies under it; a texture or a depth that nobody has set is assumed.

    Raises:
        ValueError: no such texture, or a depth that is not above zero.
    """
    cool = GRASSES[grass].cool_season
    return RootZone(
        texture_of(ground).available_water_mm_m * rooting_depth_of(ground) / MM_PER_M,
        COOL_DEPLETION_FRACTION if cool else WARM_DEPLETION_FRACTION,
        COOL_COEFFICIENT if cool else WARM_COEFFICIENT,
    )
