"""Wet by the energy balance of the turf: a film that catches water, gains dew under a cold sky, dries in sun and wind.

The only method here in which shade, the hour of watering, the height of cut and the removal of dew have a place to
act, and the one that an error in humidity moves least. It is put together from published parts and is not a published
model; how near it comes on turf is not proven. The parts: the film of SWEB (see :mod:`forecast.wetness.film`), the
resistance of FAO-56, and Penman's equation with net radiation taken at air temperature, where a radiative conductance
beside the air's carries off the leaf's own warmth or cold (the isothermal form; Monteith & Unsworth, Principles of
Environmental Physics, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from forecast.canopy import TurfHours
from forecast.canopy.turf_hours import HOURLY, STAND
from forecast.panel import Floats
from forecast.physics.air import (
    KELVIN_AT_0_C,
    SPECIFIC_HEAT_J_KG_C,
    air_density_kg_m3,
    latent_heat_j_kg,
    psychrometric_constant_hpa_c,
)
from forecast.physics.humidity import saturation_slope_hpa_c, saturation_vapour_pressure_hpa
from forecast.physics.longwave import STEFAN_BOLTZMANN_W_M2_K4, TURF_EMISSIVITY
from forecast.physics.wind import aerodynamic_resistance_s_m
from forecast.wetness.film import (
    CAPACITY_MM_PER_LEAF_AREA,
    CAUGHT_PER_LEAF_AREA,
    FilmWater,
    film_roots,
    film_water,
    wet_fraction_of,
)
from forecast.wetness.form import WETTING_RAIN_MM, WetnessMethod

# The flux into stem, thatch and soil, as a share of net radiation: 0.10 by day is FAO-56's. At night its 0.5 is the
# flux under a whole sward and left too little dew: over May to October at Greensboro 0.5 gave 0.065 mm on 39 % of
# nights, 0.15 gave 0.115 mm on 65 %, beside 0.14 ± 0.12 mm on nine grasslands (Ritter et al. 2019, HESS 23:1179).
GROUND_SHARE_GAINING = 0.10
GROUND_SHARE_LOSING = 0.15
# Calm air over cooling grass is stable, so that neutral conductances were too large by 2 (Water 2017, 9:607).
NIGHT_CONDUCTANCE_FACTOR = 0.5

# House choice: as near its dew point as air is when the dew-point rule calls leaves wet. At Greensboro (TMY3, May to
# October) 74 % of the hours with rain lay within it. Taken as dry, a silent gauge made 6.0 wet hours a day of 9.6; so
# it is 9.9, by the method that stands in.
RAIN_MAY_FALL_TO_C = 2.0

_CHUNK = 2**18  # house choice: hours times series worked on at a time, so that memory stays flat
_BLOCK = 2**14  # of these, as many at a time as keep the terms of the balance near the processor


def evaporation_mm(
    air_temperature_c: Floats,
    dew_point_c: Floats,
    wind_speed_2m_m_s: Floats,
    net_radiation_w_m2: Floats,
    sun_elevation_deg: Floats,
    canopy_height_m: Floats | float,
    *,
    pressure_hpa: Floats | float,
) -> Floats:
    """What would evaporate from leaves wet all over in an hour, mm; dew is below 0.

    Args:
        air_temperature_c: any shape; NaN anywhere is NaN in the answer.
        dew_point_c: air above it counts as just saturated.
        wind_speed_2m_m_s: over the turf.
        net_radiation_w_m2: of turf at air temperature, down positive.
        sun_elevation_deg: below 0 is night.
        canopy_height_m: of the stand.
        pressure_hpa: of the air.
    """
    night = np.where(sun_elevation_deg < 0, NIGHT_CONDUCTANCE_FACTOR, 1.0) + 0 * sun_elevation_deg  # keeps NaN
    resistance_s_m = aerodynamic_resistance_s_m(wind_speed_2m_m_s, canopy_height_m) / night
    deficit_hpa = saturation_vapour_pressure_hpa(air_temperature_c) - saturation_vapour_pressure_hpa(dew_point_c)
    heat_j_m3_c = air_density_kg_m3(pressure_hpa, air_temperature_c) * SPECIFIC_HEAT_J_KG_C
    kelvin = air_temperature_c + KELVIN_AT_0_C
    radiative_m_s = 4 * TURF_EMISSIVITY * STEFAN_BOLTZMANN_W_M2_K4 * (kelvin * kelvin * kelvin) / heat_j_m3_c
    heat_conductance_m_s = 1 / resistance_s_m + radiative_m_s
    ground = np.where(net_radiation_w_m2 > 0, GROUND_SHARE_GAINING, GROUND_SHARE_LOSING)
    slope_hpa_c = saturation_slope_hpa_c(air_temperature_c)
    gamma_hpa_c = psychrometric_constant_hpa_c(pressure_hpa, air_temperature_c)
    latent_w_m2 = (
        slope_hpa_c * (net_radiation_w_m2 * (1 - ground))
        + heat_j_m3_c * np.maximum(deficit_hpa, 0) * heat_conductance_m_s
    ) / (slope_hpa_c + gamma_hpa_c * (heat_conductance_m_s * resistance_s_m))
    depth_mm: Floats = 3600 * latent_w_m2 / latent_heat_j_kg(air_temperature_c)
    return depth_mm


def wet_fraction(turf: TurfHours) -> Floats:
    """Share of each hour in which the leaves are wet; an hour with rain or irrigation of one tip or more is wet.

    Unknown hours are unknown, and so are those after them, and the first of a record, until the film is the same
    whatever it was before: dried out, filled, or running together. So are hours whose rain nobody measured, and those
    after them, where the air was so near its dew point that rain may have fallen: a gauge that is silent must not turn
    a wet night dry.
    """
    flat = _two_axes(turf)
    hours, series = flat.air_temperature_c.shape
    fraction = np.empty((hours, series))
    for columns in _chunks(hours, series):
        some = _some(flat, columns)
        loss, caught, removed = _shares_of_capacity(some)
        answer = wet_fraction_of(film_roots(loss, caught, removed, perhaps_rain=_perhaps_rain(some)), loss)
        answer[(some.rain_mm >= WETTING_RAIN_MM) | (some.irrigation_mm >= WETTING_RAIN_MM)] = 1.0
        fraction[:, columns] = answer
    return fraction.reshape(turf.air_temperature_c.shape)


def leaf_water_mm(turf: TurfHours) -> FilmWater:
    """Where the water on the leaves came from and went, mm a stamp, shaped as the hours; NaN where it is not known.

    The film held changes by what is caught, gained as dew, evaporated, spilled and removed, and by nothing else.
    """
    flat = _two_axes(turf)
    hours, series = flat.air_temperature_c.shape
    parts = {field.name: np.empty((hours, series)) for field in fields(FilmWater)}
    for columns in _chunks(hours, series):
        some = _some(flat, columns)
        loss, caught, removed = _shares_of_capacity(some)
        roots = film_roots(loss, caught, removed, perhaps_rain=_perhaps_rain(some))
        water = film_water(roots.low, loss, caught, removed, start=0.0)
        for name, whole in parts.items():
            share = np.where(roots.low < roots.high, np.nan, getattr(water, name))
            whole[:, columns] = share * _capacity_mm(some)
    return FilmWater(**{name: array.reshape(turf.air_temperature_c.shape) for name, array in parts.items()})


def _perhaps_rain(turf: TurfHours) -> NDArray[np.bool_] | None:
    """Hours in which rain may have fallen that nobody measured; None where all rain is known."""
    unknown = np.isnan(turf.rain_mm)
    if not unknown.any():
        return None
    marks: NDArray[np.bool_] = unknown & (turf.air_temperature_c - turf.dew_point_c <= RAIN_MAY_FALL_TO_C)
    return marks


def _capacity_mm(turf: TurfHours) -> Floats:
    return np.asarray(CAPACITY_MM_PER_LEAF_AREA * turf.leaf_area_index)


def _shares_of_capacity(turf: TurfHours) -> tuple[Floats, Floats, Floats | None]:
    """Loss, caught and removed as the film takes them, each column's hours side by side in memory.

    Unknown rain counts as none, so that the air alone decides; so does what is not known of irrigation and removal,
    which are set and not read.
    """
    hours, columns = turf.air_temperature_c.shape
    loss, caught = np.empty((hours, columns), order="F"), np.empty((hours, columns), order="F")
    capacity_mm = _capacity_mm(turf)
    caught_of_fallen = 1 - np.exp(-CAUGHT_PER_LEAF_AREA * np.asarray(turf.leaf_area_index))
    step = max(1, _BLOCK // columns)
    for first in range(0, hours, step):
        rows = slice(first, first + step)
        loss[rows] = (
            evaporation_mm(
                turf.air_temperature_c[rows],
                turf.dew_point_c[rows],
                turf.wind_speed_2m_m_s[rows],
                turf.net_radiation_w_m2[rows],
                turf.sun_elevation_deg[rows],
                turf.canopy_height_m,
                pressure_hpa=turf.pressure_hpa,
            )
            / capacity_mm
        )
        fallen_mm = np.fmax(turf.rain_mm[rows], 0) + np.fmax(turf.irrigation_mm[rows], 0)
        caught[rows] = fallen_mm * (caught_of_fallen / capacity_mm)
    removed = np.fmax(turf.dew_removed_fraction, 0)
    return loss, caught, np.asfortranarray(removed) if removed.any() else None


def _two_axes(turf: TurfHours) -> TurfHours:
    """The same hours with all axes but time laid out as one."""
    shape = turf.air_temperature_c.shape
    two_axes = (shape[0], math.prod(shape[1:]))
    hourly = {name: getattr(turf, name).reshape(two_axes) for name in HOURLY}
    stand = {
        name: np.broadcast_to(np.asarray(getattr(turf, name), np.float64), shape[1:]).reshape(-1) for name in STAND
    }
    return TurfHours(**hourly, **stand)


def _some(flat: TurfHours, columns: slice) -> TurfHours:
    return TurfHours(**{field.name: getattr(flat, field.name)[..., columns] for field in fields(TurfHours)})


def _chunks(hours: int, columns: int) -> Iterator[slice]:
    width = max(1, _CHUNK // max(hours, 1))
    return (slice(first, first + width) for first in range(0, columns, width))


ENERGY_BALANCE = WetnessMethod(
    key="energy_balance",
    name="energy balance of the turf, with a film of water on its leaves",
    needs=("air_temperature_c", "dew_point_c", "wind_speed_2m_m_s", "net_radiation_w_m2", "sun_elevation_deg"),
    kernel=wet_fraction,
    source=(
        "house form of published parts: the film of Magarey, Russo & Seem 2006, Agric. For. Meteorol. 139 (read "
        "second-hand), the resistance of FAO-56 (Allen et al. 1998), Penman's equation at isothermal net radiation"
    ),
)
