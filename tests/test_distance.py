"""Distances on the sphere against the ellipsoid, and by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st
from strategies import unhurried

from forecast.physics.distance import EARTH_RADIUS_KM, distance_km

LATITUDES = st.floats(-90, 90)
LONGITUDES = st.floats(-180, 180)


def _on_the_ellipsoid_km(a: tuple[float, float], b: tuple[float, float]) -> float:
    """The geodesic on WGS 84 by Karney's method (package geographiclib)."""
    return float(Geodesic.WGS84.Inverse(*a, *b)["s12"]) / 1000


@unhurried
@given(LATITUDES, LONGITUDES, st.floats(-0.9, 0.9), st.floats(-1, 1))
def test_stations_near_each_other_are_as_far_apart_as_on_the_ellipsoid(
    latitude: float, longitude: float, north: float, east: float
) -> None:
    """Within 0.57 % anywhere: along a meridian at the equator the radius is 6335.4 km, and 6371.0 / 6335.4 = 1.0056."""
    there = (max(-90.0, min(90.0, latitude + north)), longitude + east)
    expected = _on_the_ellipsoid_km((latitude, longitude), there)
    found = float(distance_km(latitude, longitude, *there))
    # 1e-6 km: places closer than a few millimetres are rounding
    assert found == pytest.approx(expected, rel=0.0057, abs=1e-6)
    if min(abs(latitude), abs(there[0])) > 15:
        assert found == pytest.approx(expected, rel=0.005, abs=1e-6)


@unhurried
@given(LATITUDES, LONGITUDES, LATITUDES, LONGITUDES)
def test_far_places_are_too(a: float, b: float, c: float, d: float) -> None:
    assert float(distance_km(a, b, c, d)) == pytest.approx(_on_the_ellipsoid_km((a, b), (c, d)), rel=0.0057, abs=1e-6)


@pytest.mark.parametrize(
    ("a", "b", "degrees"),
    [
        ((0, 0), (0, 1), 1),  # along the equator
        ((50, 7), (51, 7), 1),  # along a meridian
        ((-34, 151), (-35, 151), 1),  # in the south
        ((0, 179.5), (0, -179.5), 1),  # across the date line
        ((-17, 180), (-17, -180), 0),  # one place, written twice
        ((90, 0), (90, 123), 0),  # the pole
        ((89, 0), (89, 180), 2),  # over the pole
        ((0, 0), (0, 180), 180),  # the other side of the Earth
        ((37, 20), (-37, -160), 180),  # there too
    ],
)
def test_arcs_known_by_hand(a: tuple[float, float], b: tuple[float, float], degrees: float) -> None:
    # A whole circle is 2 π R; 1e-6 for binary fractions.
    assert float(distance_km(*a, *b)) == pytest.approx(2 * math.pi * EARTH_RADIUS_KM * degrees / 360, abs=1e-6)


def test_shapes_spread_over_each_other_and_inputs_stay() -> None:
    latitude = np.array([[40.0], [41.0]])
    before = latitude.copy()
    found = distance_km(latitude, -80.0, np.array([40.0, 41.0, 42.0]), -80.0)
    assert found.shape == (2, 3)
    assert found[0, 1] == pytest.approx(found[1, 0])
    assert found[0, 0] == 0
    np.testing.assert_array_equal(latitude, before)
