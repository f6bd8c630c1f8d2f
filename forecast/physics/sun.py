"""Where the sun stands, from the low-precision series in Meeus 1998, Astronomical Algorithms, chapters 12, 22, 25.

The constants are written from memory of the published series and held by tests to the NREL solar position
example (Reda & Andreas 2004) and to the astral library. Good to about 0.02° between 1950 and 2100.

Beside it the simple sun of FAO-56 (Allen, Pereira, Raes & Smith 1998, FAO Irrigation and Drainage Paper 56, chapter 3),
for reference evapotranspiration only, whose own equations are built on it; within 1.2 to 1.5° of the other.
"""

from __future__ import annotations

import numpy as np

from forecast.panel import Floats, Hours

_J2000_UNIX_S = 946_728_000  # 2000-01-01T12:00Z
_DAY_S = 86_400
_HALF_HOUR_S = 1_800
_HORIZON_DEG = -0.833  # sun's upper rim on the horizon: 16' radius and 34' refraction, by convention


def solar_position_deg(unix_s: Floats, latitude_deg: float, longitude_deg: float) -> tuple[Floats, Floats]:
    """Elevation of the sun's centre without refraction, and azimuth from north through east.

    Args:
        unix_s: seconds since 1970-01-01T00Z, any shape.
        latitude_deg: north positive.
        longitude_deg: east positive.

    Returns:
        Elevation and azimuth in degrees, shaped as ``unix_s``.
    """
    days = (np.asarray(unix_s, dtype=np.float64) - _J2000_UNIX_S) / _DAY_S
    century = days / 36525
    mean_longitude = np.radians(280.46646 + century * (36000.76983 + 0.0003032 * century))
    anomaly = np.radians(357.52911 + century * (35999.05029 - 0.0001537 * century))
    centre = (
        np.sin(anomaly) * (1.914602 - century * (0.004817 + 0.000014 * century))
        + np.sin(2 * anomaly) * (0.019993 - 0.000101 * century)
        + np.sin(3 * anomaly) * 0.000289
    )
    node = np.radians(125.04 - 1934.136 * century)
    longitude = mean_longitude + np.radians(centre - 0.00569 - 0.00478 * np.sin(node))
    obliquity = np.radians(23.4392911 - 0.0130042 * century + 0.00256 * np.cos(node))
    declination = np.arcsin(np.sin(obliquity) * np.sin(longitude))
    ascension = np.arctan2(np.cos(obliquity) * np.sin(longitude), np.cos(longitude))
    sidereal = np.radians(280.46061837 + 360.98564736629 * days + longitude_deg)
    hour_angle = sidereal - ascension
    latitude = np.radians(latitude_deg)
    elevation = np.arcsin(
        np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    )
    azimuth = np.arctan2(
        -np.cos(declination) * np.sin(hour_angle),
        np.sin(declination) * np.cos(latitude) - np.cos(declination) * np.sin(latitude) * np.cos(hour_angle),
    )
    return np.degrees(elevation), np.degrees(azimuth) % 360


def sunrise_unix_s(day_start_unix_s: float, latitude_deg: float, longitude_deg: float) -> float | None:
    """The minute in which the sun's upper rim rises in the 24 h from ``day_start_unix_s``.

    Returns:
        Seconds since 1970-01-01T00Z, to the minute; None where the sun does not rise on that day.
    """
    minutes = day_start_unix_s + 60.0 * np.arange(24 * 60 + 1, dtype=np.float64)
    above = solar_position_deg(minutes, latitude_deg, longitude_deg)[0] > _HORIZON_DEG
    rising = np.flatnonzero(~above[:-1] & above[1:])
    return float(minutes[rising[0] + 1]) if rising.size else None


def mid_hour_azimuth_and_elevation_deg(
    hours: Hours, latitude_deg: float, longitude_deg: float
) -> tuple[Floats, Floats]:
    """Azimuth from north through east, and elevation without refraction, at the middle of each hour, in degrees.

    Args:
        hours: ``datetime64[h]`` UTC stamps that end their hours, any shape; the sun is that of half an hour before.
        latitude_deg: north positive.
        longitude_deg: east positive.

    Returns:
        Azimuth and elevation, shaped as ``hours``.
    """
    elevation, azimuth = solar_position_deg(_mid_hour_unix_s(hours), latitude_deg, longitude_deg)
    return azimuth, elevation


def mid_hour_elevation_deg(hours: Hours, latitude_deg: float, longitude_deg: float) -> Floats:
    """Elevation of the sun's centre without refraction at the middle of each hour; arguments as just above."""
    return mid_hour_azimuth_and_elevation_deg(hours, latitude_deg, longitude_deg)[1]


def _mid_hour_unix_s(hours: Hours) -> Floats:
    return np.asarray(hours, "datetime64[s]").astype(np.float64) - _HALF_HOUR_S


def inverse_relative_distance(day_of_year: Floats) -> Floats:
    """Square of the mean distance from the sun over the day's: 1 + 0.033 cos(2π J/365) (FAO-56 eq. 23)."""
    distance: Floats = 1 + 0.033 * np.cos(2 * np.pi / 365 * day_of_year)
    return distance


def declination_fao_rad(day_of_year: Floats) -> Floats:
    """Declination of the sun, radians (FAO-56 eq. 24); day 1 is 1 January, any shape."""
    declination: Floats = 0.409 * np.sin(2 * np.pi / 365 * day_of_year - 1.39)
    return declination


def sunset_hour_angle_rad(day_of_year: Floats, latitude_deg: Floats | float) -> Floats:
    """Hour angle at which the sun's centre sets, radians (FAO-56 eq. 25): 0 in polar night, π in polar day."""
    slope = -np.tan(np.radians(latitude_deg)) * np.tan(declination_fao_rad(day_of_year))
    angle: Floats = np.arccos(np.clip(slope, -1.0, 1.0))
    return angle


def daylight_hours(day_of_year: Floats, latitude_deg: Floats | float) -> Floats:
    """Hours from sunrise to sunset of the sun's centre (FAO-56 eq. 34)."""
    return 24 / np.pi * sunset_hour_angle_rad(day_of_year, latitude_deg)


def day_and_hour_angle(hours: Hours, longitude_deg: float) -> tuple[Floats, Floats]:
    """Day of the year, and hour angle of the sun at the middle of each hour, radians (FAO-56 eq. 31 to 33).

    The clock is UTC moved by the longitude, so that the day is that of the place and no time zone is needed.

    Returns:
        Day of the year from 1, and the angle from −π to π, 0 at noon; both shaped as ``hours``.
    """
    mean_solar_s = _mid_hour_unix_s(hours) + longitude_deg * _DAY_S / 360
    day = np.floor(mean_solar_s / _DAY_S)
    date = day.astype(np.int64).astype("datetime64[D]")
    day_of_year = (date - date.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.float64) + 1
    season = 2 * np.pi * (day_of_year - 81) / 364
    seasonal_h = 0.1645 * np.sin(2 * season) - 0.1255 * np.cos(season) - 0.025 * np.sin(season)
    noon_h = (mean_solar_s - day * _DAY_S) / 3600 + seasonal_h - 12
    angle = (np.pi / 12 * noon_h + np.pi) % (2 * np.pi) - np.pi
    return day_of_year, angle


def elevation_fao_deg(hours: Hours, latitude_deg: float, longitude_deg: float) -> Floats:
    """Elevation of the simple sun at the middle of each hour, degrees (ASCE 2005 eq. 62; read second-hand)."""
    day_of_year, angle = day_and_hour_angle(hours, longitude_deg)
    latitude, declination = np.radians(latitude_deg), declination_fao_rad(day_of_year)
    height = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(angle)
    elevation: Floats = np.degrees(np.arcsin(height))
    return elevation
