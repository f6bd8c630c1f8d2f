"""Distance between two places on the Earth, taken as a sphere."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from forecast.panel import Floats

EARTH_RADIUS_KM = 6371.0088  # mean radius R1 of GRS 80 (Moritz 2000, J. Geodesy 74:128-133; from memory)


def distance_km(
    latitude_a_deg: ArrayLike, longitude_a_deg: ArrayLike, latitude_b_deg: ArrayLike, longitude_b_deg: ArrayLike
) -> Floats:
    """Great-circle distance by the haversine formula, km.

    Any shapes that fit together; north and east are positive, and longitudes may run across the date line. Against
    the ellipsoid it is within 0.5 % beyond 15° of latitude and within 0.57 % everywhere: the radius of curvature
    along a meridian grows from 6335 km at the equator to 6400 km at the poles.
    """
    latitude_a, longitude_a, latitude_b, longitude_b = (
        np.radians(np.asarray(degrees, np.float64))
        for degrees in (latitude_a_deg, longitude_a_deg, latitude_b_deg, longitude_b_deg)
    )
    haversine = (
        np.sin((latitude_b - latitude_a) / 2) ** 2
        + np.cos(latitude_a) * np.cos(latitude_b) * np.sin((longitude_b - longitude_a) / 2) ** 2
    )
    angle: Floats = 2 * np.arcsin(np.sqrt(np.minimum(haversine, 1.0)))
    return EARTH_RADIUS_KM * angle
