"""Where the sun stands, from the low-precision series in Meeus 1998, Astronomical Algorithms, chapters 12, 22, 25.

The constants are written from memory of the published series and held by tests to the NREL solar position
example (Reda & Andreas 2004) and to the astral library. Good to about 0.02° between 1950 and 2100.
"""

from __future__ import annotations

import numpy as np

from forecast.panel import Floats

_J2000_UNIX_S = 946_728_000  # 2000-01-01T12:00Z
_DAY_S = 86_400
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
