"""The energy balance and the film of water once more, as a plain loop over plain numbers: what the fast one must equal.

Written from the equations and not from the fast code: in mm where that one reckons in shares, hour by hour where that
one runs many pieces at once, with its own constants and its own humidity, air and longwave radiation.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

NAN = math.nan
SIGMA = 5.670374e-8  # W m⁻² K⁻⁴, CODATA 2018
WIND_10M_TO_2M = math.log(67.8 * 2 - 5.42) / math.log(67.8 * 10 - 5.42)  # FAO-56 eq. 47


def saturation_hpa(temperature_c: float) -> float:
    """Tetens, FAO-56 eq. 11."""
    return 6.108 * math.exp(17.27 * temperature_c / (temperature_c + 237.3))


def net_radiation_w_m2(
    shortwave_w_m2: float, temperature_c: float, dew_point_c: float, cloud_fraction: float, sky_seen: float = 1.0
) -> float:
    """Of turf at air temperature: albedo 0.23, emissivity 0.97, sky by Prata 1996, cloud as a share of black sky."""
    kelvin = temperature_c + 273.15
    black = SIGMA * kelvin**4
    w = 46.5 * saturation_hpa(dew_point_c) / kelvin
    clear = 1 - (1 + w) * math.exp(-math.sqrt(1.2 + 3 * w))
    sky = black * (cloud_fraction + (1 - cloud_fraction) * clear)
    sky = sky_seen * sky + (1 - sky_seen) * black
    return (1 - 0.23) * shortwave_w_m2 + 0.97 * (sky - black)


def resistance_s_m(wind_2m_m_s: float, height_m: float) -> float:
    """Of neutral air over grass, FAO-56 eq. 4 with its lengths for grass of any height."""
    d, z_wind = 2 * height_m / 3, 0.123 * height_m
    z_heat = 0.1 * z_wind
    return math.log((2 - d) / z_wind) * math.log((2 - d) / z_heat) / (0.41**2 * wind_2m_m_s)


def evaporation_mm(
    temperature_c: float,
    dew_point_c: float,
    wind_2m_m_s: float,
    net_w_m2: float,
    sun_elevation_deg: float,
    height_m: float = 0.07,
    pressure_hpa: float = 1000.0,
) -> float:
    """What would evaporate in an hour from leaves wet all over, mm; dew is below 0; unknown in, unknown out."""
    if any(math.isnan(x) for x in (temperature_c, dew_point_c, wind_2m_m_s, net_w_m2, sun_elevation_deg)):
        return NAN
    kelvin = temperature_c + 273.15
    saturated = saturation_hpa(temperature_c)
    deficit = max(saturated - saturation_hpa(dew_point_c), 0.0)
    latent = 2.501e6 - 2361 * temperature_c
    heat = pressure_hpa * 100 / (287.05 * kelvin) * 1010
    gamma = 1010 * pressure_hpa / (0.622 * latent)
    slope = 4098 * saturated / (temperature_c + 237.3) ** 2  # FAO-56 eq. 13
    resistance = resistance_s_m(wind_2m_m_s, height_m)
    if sun_elevation_deg < 0:
        resistance /= 0.5
    vapour = 1 / resistance
    warmth = vapour + 4 * 0.97 * SIGMA * kelvin**3 / heat
    ground = 0.10 * net_w_m2 if net_w_m2 > 0 else 0.15 * net_w_m2
    flux = (slope * (net_w_m2 - ground) + heat * deficit * warmth) / (slope + gamma * warmth / vapour)
    return 3600 * flux / latent


@dataclass
class FilmHour:
    """One hour of one film, mm; ``wet`` is a share of the hour."""

    held: float
    wet: float
    caught: float
    dew: float
    evaporated: float
    spilled: float
    removed: float


def film_hour(held_mm: float, evaporation_mm: float, fallen_mm: float, removed: float, leaf_area: float) -> FilmHour:
    """One hour of a film that comes in with so much."""
    most = 0.2 * leaf_area
    edge = 0.1**1.5 * most
    caught = (1 - math.exp(-0.5 * leaf_area)) * fallen_mm
    film = min(most, held_mm + caught)
    spilled = held_mm + caught - film
    dew = evaporated = 0.0
    if evaporation_mm > 0:
        # S^(1/3) falls by Ep / (3 Smax^(2/3)) an hour.
        fall = evaporation_mm / (3 * most ** (2 / 3))
        left = max(0.0, film ** (1 / 3) - fall) ** 3
        wet = 0.0 if film <= edge else min(1.0, (film ** (1 / 3) - edge ** (1 / 3)) / fall)
        evaporated = film - left
    else:
        dew = -evaporation_mm
        left = min(most, film + dew)
        spilled += film + dew - left
        wet = 1.0 if film > edge else max(0.0, film + dew - edge) / dew if dew > 0 else 0.0
    return FilmHour(left * (1 - removed), wet, caught, dew, evaporated, spilled, left * removed)


@dataclass
class FilmYear:
    """Hours of the film that started dry, of the one that started full, and what both say of wet leaves."""

    low: list[FilmHour | None]
    high: list[FilmHour | None]
    wet: list[float]


def film_year(
    evaporation_mm: Sequence[float],
    fallen_mm: Sequence[float],
    removed: Sequence[float],
    leaf_area: float,
    perhaps_rain: Sequence[bool],
    spin_up_hours: int = 72,
) -> FilmYear:
    """Both films over a record; unknown hours make them part again, from dry and from full leaves.

    So do hours in which rain may have fallen that nobody measured: the film that started full is full there.
    """
    year = FilmYear([], [], [])
    low, high = 0.0, 0.2 * leaf_area
    has_been_unknown = False
    for hour, (evaporation, fallen, taken) in enumerate(zip(evaporation_mm, fallen_mm, removed, strict=True)):
        if hour == spin_up_hours and not has_been_unknown:
            high = low
        if perhaps_rain[hour]:
            high, has_been_unknown = 0.2 * leaf_area, True
        if math.isnan(evaporation):
            low, high, has_been_unknown = 0.0, 0.2 * leaf_area, True
            year.low.append(None)
            year.high.append(None)
            year.wet.append(NAN)
            continue
        from_dry = film_hour(low, evaporation, fallen, taken, leaf_area)
        from_full = from_dry if high == low else film_hour(high, evaporation, fallen, taken, leaf_area)
        low, high = from_dry.held, from_full.held
        year.low.append(from_dry)
        year.high.append(from_full)
        year.wet.append(from_dry.wet if abs(from_full.wet - from_dry.wet) <= 1e-9 else NAN)
    return year
