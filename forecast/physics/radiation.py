"""Sunlight on level ground: above the air, through clear air, through cloud; and cloud told from sunlight.

A stamp ends its hour; an hour's figure is the mean over the hour (W/m²) or its sum (MJ/m²).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats, Hours
from forecast.physics import sun

Bools = NDArray[np.bool_]

MJ_M2_H_PER_W_M2 = 0.0036  # 3,600 s of one watt
MJ_M2_DAY_PER_W_M2 = 0.0864  # 86,400 s of one watt
_SOLAR_CONSTANT_MJ_M2_MIN = 0.0820  # FAO-56 eq. 21
# Haurwitz 1945, J. Meteorol. 2:154-166 (read second-hand, as pvlib has it): 1098 cos z exp(−0.059 / cos z).
_HAURWITZ_W_M2, _HAURWITZ_DEPTH = 1098.0, 0.059
_FAO_CLEAR_SHARE, _FAO_CLEAR_SHARE_PER_M = 0.75, 2e-5  # FAO-56 eq. 37
# Kasten & Czeplak 1980, Solar Energy 24:177-189 (from memory): 1 − 0.75 N^3.4.
_CLOUD_TAKES, _CLOUD_POWER = 0.75, 3.4
LEAST_SUN_DEG = 10.0  # house choice: below it clear-sky formulas and sensors are too rough to tell cloud by
# ASCE 2005 (read second-hand): 0.3 rad, below which Rs/Rso is not taken from the hour itself.
LEAST_SUN_FAO_DEG = 17.2
LEAST_SHARE_FAO = 0.3  # ASCE 2005 (read second-hand): bounds of Rs/Rso are 0.3 and 1
# FAO-56 chapter 4: for the night, take Rs/Rso of the time 2 to 3 h before sunset (read second-hand).
_HELD_FROM_HOURS = 3
_HELD_FROM_LEAST_HOURS = 2
MOST_HELD_HOURS = 20  # house choice: longer than a night at which the day has 4 h with the sun above 10°


def extraterrestrial_daily_mj_m2(day_of_year: Floats, latitude_deg: Floats | float) -> Floats:
    """Sunlight above the air over a day, MJ/m² (FAO-56 eq. 21); shapes that fit together, day 1 is 1 January."""
    latitude = np.radians(latitude_deg)
    declination = sun.declination_fao_rad(day_of_year)
    sunset = sun.sunset_hour_angle_rad(day_of_year, latitude_deg)
    height = sunset * np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    day: Floats = 24 * 60 / np.pi * _SOLAR_CONSTANT_MJ_M2_MIN * sun.inverse_relative_distance(day_of_year) * height
    return day


def extraterrestrial_hourly_mj_m2(hours: Hours, latitude_deg: float, longitude_deg: float) -> Floats:
    """Sunlight above the air over each hour, MJ/m² (FAO-56 eq. 28 to 33).

    Sunrise and sunset within the hour are cut off as in ASCE 2005 eq. 56 (read second-hand).

    Args:
        hours: ``datetime64[h]`` UTC stamps that end their hours, any shape.
        latitude_deg: north positive.
        longitude_deg: east positive.

    Returns:
        Shaped as ``hours``; 0 at night.
    """
    day_of_year, hour_angle = sun.day_and_hour_angle(hours, longitude_deg)
    latitude = np.radians(latitude_deg)
    declination = sun.declination_fao_rad(day_of_year)
    sunset = sun.sunset_hour_angle_rad(day_of_year, latitude_deg)
    half_hour = np.pi / 24
    start, end = hour_angle - half_hour, hour_angle + half_hour
    # Where the sun does not set nothing is cut off, nor at the turn of the hour angle at midnight.
    never_sets = sunset >= np.pi
    start = np.where(never_sets, start, np.clip(start, -sunset, sunset))
    end = np.where(never_sets, end, np.clip(end, -sunset, sunset))
    height = (end - start) * np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * (
        np.sin(end) - np.sin(start)
    )
    hour: Floats = 12 * 60 / np.pi * _SOLAR_CONSTANT_MJ_M2_MIN * sun.inverse_relative_distance(day_of_year) * height
    return np.maximum(hour, 0.0)


def clear_sky_w_m2(sun_elevation_deg: Floats) -> Floats:
    """Sunlight through clear air, W/m² (Haurwitz 1945); any shape; 0 at night, NaN where the elevation is NaN."""
    height = np.sin(np.radians(sun_elevation_deg))
    up = np.where(height > 0, height, 1.0)
    return np.where(height <= 0, 0.0, height * _HAURWITZ_W_M2 * np.exp(-_HAURWITZ_DEPTH / up))


def clear_sky_fao_mj_m2(extraterrestrial_mj_m2: Floats, elevation_m: Floats | float) -> Floats:
    """Sunlight through clear air over an hour or a day, MJ/m², from that above it (FAO-56 eq. 37)."""
    return (_FAO_CLEAR_SHARE + _FAO_CLEAR_SHARE_PER_M * elevation_m) * extraterrestrial_mj_m2


def cloud_transmission_fraction(cloud_cover_fraction: Floats) -> Floats:
    """Share of clear-sky sunlight that comes through cloud, 1 to 0.25 (Kasten & Czeplak 1980); any shape."""
    return 1 - _CLOUD_TAKES * cloud_cover_fraction**_CLOUD_POWER


def through_cloud_w_m2(clear_sky_w_m2: Floats, cloud_cover_fraction: Floats) -> Floats:
    """Sunlight under cloud, W/m², from that of a clear sky (Kasten & Czeplak 1980); shapes that fit together."""
    return clear_sky_w_m2 * cloud_transmission_fraction(cloud_cover_fraction)


_FAO_CLOUDINESS = 1.35  # FAO-56 eq. 39
_LEAST_CLEAR_W_M2 = float(clear_sky_w_m2(np.array(LEAST_SUN_DEG)))


def cloud_of_radiation(shortwave_down_w_m2: Floats, clear_sky_w_m2: Floats) -> Floats:
    """Cloud cover told from sunlight, as far as it matters to the sky's longwave, held to 0 to 1.

    Returns:
        NaN where either is unknown and where the sun is below 10°, told by the clear-sky sunlight of that height.
    """
    lit = clear_sky_w_m2 >= _LEAST_CLEAR_W_M2
    share = shortwave_down_w_m2 / np.where(lit, clear_sky_w_m2, np.nan)
    return cloud_of_transmission(share)


def cloud_of_transmission(transmission_fraction: Floats) -> Floats:
    """Cloud cover, 0 to 1, from the share of clear-sky sunlight that comes through; any shape.

    What FAO-56's factor of cloudiness, 1.35 Rs/Rso − 0.35 (eq. 39), leaves of 1: the share of clear-sky net longwave
    that cloud holds back. The form of Kasten & Czeplak is not turned round: near a clear sky its inverse is so steep
    that a sensor 5 % low makes half a sky of cloud and takes the night's dew away (at Greensboro, TMY3, clear hours
    read 0.87 to 0.98 of the clear sky of Haurwitz).
    """
    return np.clip(_FAO_CLOUDINESS * (1 - transmission_fraction), 0.0, 1.0)


def complete_sky(
    shortwave_down_w_m2: Floats, cloud_cover_fraction: Floats, sun_elevation_deg: Floats
) -> tuple[Floats, Floats]:
    """Sunlight and cloud, each told from the other where it was not measured.

    What was measured stays. Sunlight comes through the cloud; with the sun down it is 0. Cloud comes from measured
    sunlight while the sun is at 10° or more; from then on until the sun is there again, 20 h at most, it is held as
    it was over the last 3 h before, of which 2 must be known (after FAO-56, chapter 4: the ratio of 2 to 3 h before
    sunset). What neither tells is NaN.

    Args:
        shortwave_down_w_m2: measured, NaN where it was not; shape (hours, ...), unbroken hours.
        cloud_cover_fraction: the same for cloud, same shape.
        sun_elevation_deg: of the middle of each hour, shape (hours,) or that of the others.

    Returns:
        Sunlight and cloud, in that order and shape.
    """
    shape = shortwave_down_w_m2.shape
    elevation = np.asarray(sun_elevation_deg)
    elevation = np.broadcast_to(elevation.reshape(elevation.shape + (1,) * (len(shape) - elevation.ndim)), shape)
    clear = clear_sky_w_m2(elevation)
    lit = clear >= _LEAST_CLEAR_W_M2
    told = np.where(
        lit,
        cloud_of_radiation(shortwave_down_w_m2, clear),
        cloud_of_transmission(_share_before_dark(shortwave_down_w_m2, clear, lit)),
    )
    cloud = np.where(np.isnan(cloud_cover_fraction), told, cloud_cover_fraction)
    through = np.where(elevation <= 0, 0.0, through_cloud_w_m2(clear, cloud))
    return np.where(np.isnan(shortwave_down_w_m2), through, shortwave_down_w_m2), cloud


def _share_before_dark(shortwave_w_m2: Floats, clear_w_m2: Floats, lit: Bools) -> Floats:
    """For every hour the share of clear-sky sunlight over the last lit hours up to it; NaN where it cannot be told."""
    hour = np.arange(len(lit)).reshape((-1,) + (1,) * (lit.ndim - 1))
    last = np.maximum.accumulate(np.where(lit, hour, -1), axis=0)
    measured, clear, known = np.zeros(lit.shape), np.zeros(lit.shape), np.zeros(lit.shape)
    unbroken = (last >= 0) & (hour - last <= MOST_HELD_HOURS)
    for back in range(_HELD_FROM_HOURS):
        at = np.maximum(last - back, 0)
        unbroken &= np.take_along_axis(lit, at, axis=0) & (last >= back)
        reading = np.take_along_axis(shortwave_w_m2, at, axis=0)
        take = unbroken & ~np.isnan(reading)
        measured += np.where(take, reading, 0.0)
        clear += np.where(take, np.take_along_axis(clear_w_m2, at, axis=0), 0.0)
        known += take
    enough = known >= _HELD_FROM_LEAST_HOURS
    return np.where(enough, measured, np.nan) / np.where(enough, clear, 1.0)


def clear_sky_share(
    shortwave_down_mj_m2: Floats, clear_sky_mj_m2: Floats, cloud_cover_fraction: Floats, sun_elevation_deg: Floats
) -> Floats:
    """Rs/Rso of each hour as FAO-56's net longwave wants it, 0.3 to 1.

    Sunlight over that of a clear sky where the sun is above 17°; else, and by night, what cloud lets through.
    """
    high = (sun_elevation_deg >= LEAST_SUN_FAO_DEG) & (clear_sky_mj_m2 > 0)
    by_day = shortwave_down_mj_m2 / np.where(high, clear_sky_mj_m2, np.nan)
    share = np.where(high & ~np.isnan(by_day), by_day, cloud_transmission_fraction(cloud_cover_fraction))
    return np.clip(share, LEAST_SHARE_FAO, 1.0)
