"""Wind at one height from wind at another, against the printed example and table of FAO-56."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecast.physics.wind import height_factor, wind_speed_at_m_s

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
