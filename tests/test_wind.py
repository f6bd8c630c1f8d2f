"""Wind at one height from wind at another, and the resistance of air, against what FAO-56 prints and arithmetic."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecast.physics.wind import (
    LEAST_WIND_2M_M_S,
    aerodynamic_resistance_s_m,
    height_factor,
    wind_speed_at_m_s,
    wind_speed_near_ground_m_s,
)

heights_m = st.floats(0.5, 100)


def test_the_printed_example_comes_out() -> None:
    # FAO-56, chapter 3, Example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m.
    found = wind_speed_at_m_s(np.array([3.2]), from_m=10, to_m=2)
    assert round(float(found[0]), 1) == 2.4


@pytest.mark.parametrize(("height_m", "factor"), [(1.0, 1.178), (3.0, 0.921), (5.0, 0.838), (10.0, 0.748)])
def test_factors_are_those_of_the_printed_equation(height_m: float, factor: float) -> None:
    # FAO-56 eq. 47, 4.87 / ln(67.8 z − 5.42): 4.87 / ln 62.38 = 4.87 / 4.1332, 4.87 / ln 197.98 = 4.87 / 5.2881,
    # 4.87 / ln 333.58 = 4.87 / 5.8099, 4.87 / ln 672.58 = 4.87 / 6.5111. The printed 4.87 is ln 130.18 = 4.8689.
    assert height_factor(height_m, 2.0) == pytest.approx(factor, abs=0.001)


@given(heights_m, heights_m, st.floats(0, 75))
def test_there_and_back_is_where_it_was(from_m: float, to_m: float, speed_m_s: float) -> None:
    there = wind_speed_at_m_s(np.array([speed_m_s]), from_m=from_m, to_m=to_m)
    back = wind_speed_at_m_s(there, from_m=to_m, to_m=from_m)
    np.testing.assert_allclose(back, [speed_m_s], rtol=1e-12)
    assert (there[0] > speed_m_s) == (to_m > from_m) or speed_m_s == 0 or there[0] == pytest.approx(speed_m_s)


def test_unknown_stays_unknown_and_the_shape_stays() -> None:
    given_m_s = np.array([[1.0, np.nan], [0.0, 2.0]])
    found = wind_speed_at_m_s(given_m_s, from_m=2, to_m=10)
    assert found.shape == (2, 2)
    np.testing.assert_array_equal(np.isnan(found), np.isnan(given_m_s))
    assert found[1, 0] == 0


@pytest.mark.parametrize("height_m", [0.0, -2.0, 0.09, float("nan")])
def test_a_height_without_wind_is_refused(height_m: float) -> None:
    # ln(67.8 z − 5.42) is 0 where z = 6.42 / 67.8 = 0.0947 m.
    with pytest.raises(ValueError, match="below the reach"):
        height_factor(height_m, 10)
    with pytest.raises(ValueError, match="below the reach"):
        height_factor(10, height_m)


# By hand for 0.12 m: d = 0.08, z0 = 0.01476, above 1.92; ln(1.92 / 0.01476) = 4.8681, ln(1.92 / 0.001476) = 7.1707;
# 4.8681 · 7.1707 / 0.41² = 34.9076 / 0.1681 = 207.66. FAO-56 (box 4) prints 208 for its grass. The other heights were
# worked out the same way apart from this project.
RESISTANCES = [(0.004, 525), (0.0125, 404), (0.025, 338), (0.05, 277), (0.075, 244), (0.10, 221), (0.12, 207.66)]


@pytest.mark.parametrize(("canopy_height_m", "at_1_m_s"), RESISTANCES)
def test_resistance_of_each_height_of_turf(canopy_height_m: float, at_1_m_s: float) -> None:
    found = aerodynamic_resistance_s_m(np.array([1.0, 2.0]), canopy_height_m)
    np.testing.assert_allclose(found, [at_1_m_s, at_1_m_s / 2], rtol=0, atol=0.5)


def test_resistance_of_calm_air_is_that_of_the_least_wind() -> None:
    calm, least, unknown = aerodynamic_resistance_s_m(np.array([0.0, LEAST_WIND_2M_M_S, np.nan]), 0.12)
    # 207.66 / 0.5 = 415.3.
    assert calm == least == pytest.approx(415.3, abs=0.1)
    assert math.isnan(unknown)


@given(st.floats(0, 75), st.floats(0, 75), st.floats(0.003, 0.15), st.floats(0.003, 0.15))
def test_resistance_falls_with_wind_and_with_height(one: float, other: float, low_m: float, high_m: float) -> None:
    slow, fast = sorted((one, other))
    short, tall = sorted((low_m, high_m))
    of_slow, of_fast = aerodynamic_resistance_s_m(np.array([slow, fast]), short)
    assert 0 < of_fast <= of_slow < 2000
    assert aerodynamic_resistance_s_m(np.array([slow]), tall)[0] <= of_slow


def test_each_series_has_its_own_height() -> None:
    found = aerodynamic_resistance_s_m(np.ones((3, 2)), np.array([0.12, 0.05]))
    np.testing.assert_allclose(found, [[207.66, 276.9]] * 3, rtol=0, atol=0.05)


def test_wind_at_a_foot_is_the_printed_share_of_that_at_10_m() -> None:
    # ln(0.22 / 0.01476) / ln(9.92 / 0.01476) = 2.70171 / 6.51039 = 0.41498.
    found = wind_speed_near_ground_m_s(np.array([[1.0, np.nan], [10.0, 0.0]]), 0.3)
    np.testing.assert_allclose(found, [[0.41498, np.nan], [4.1498, 0.0]], rtol=0, atol=5e-5)


def test_both_profiles_meet_where_both_reach() -> None:
    # FAO-56's eq. 47 is the same profile over 0.12 m: 1 / z0 = 67.75, d / z0 = 5.42.
    for height_m in (0.5, 1.0, 2.0):
        near = wind_speed_near_ground_m_s(np.array([1.0]), height_m)
        np.testing.assert_allclose(near, wind_speed_at_m_s(np.array([1.0]), from_m=10, to_m=height_m), rtol=0.001)


@pytest.mark.parametrize("height_m", [0.0, 0.09, float("nan")])
def test_a_height_within_the_turf_is_refused(height_m: float) -> None:
    # d + z0 = 0.08 + 0.01476 = 0.09476 m.
    with pytest.raises(ValueError, match="below the reach"):
        wind_speed_near_ground_m_s(np.array([3.0]), height_m)
