"""The classification tree: worked points of both lines, the square of humidity, frost, and every branch."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import steady_turf, unhurried

from forecast.wetness.classification_tree import (
    CLASSIFICATION_TREE,
    calm_discriminant,
    is_wet,
    windy_discriminant,
)

NAN = math.nan

# Temperature °C, humidity %, wind at 0.3 m in m/s, depression °C, then what the lines come to, and whether it is wet.
# The figures were reckoned apart from this program with the saturation curve of Alduchov & Eskridge 1996. Tetens' curve
# moves the third decimal of a depression, so the depression is given here and not derived. It is printed to 0.0005 °C,
# which weighs 0.46 W on the calm line and 1.06 W on the windy one, and the lines themselves to 0.0005.
POINTS = [
    (20, 90, 1, 1.691, 15.325, None, True),
    (20, 85, 1, 2.599, 14.492, None, True),
    (20, 90, 3, 1.691, None, 36.679, False),
    (20, 95, 3, 0.826, None, 38.180, True),
    (20, 98, 5, 0.326, None, 33.606, False),
    (10, 90, 1, 1.565, 15.349, None, True),
]


def reading(*figures: float) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], ...]:
    return tuple(np.array([float(figure)]) for figure in figures)


def check_worked_points() -> None:
    """Both lines at the worked points. Also run on slipped code."""
    for temperature, humidity, wind, depression, calm, windy, wet in POINTS:
        air = reading(temperature, humidity, wind, depression)
        if calm is not None:
            assert calm_discriminant(*air)[0] == pytest.approx(calm, abs=0.0005 + 0.0005 * 0.46 * wind)
        if windy is not None:
            assert windy_discriminant(*air)[0] == pytest.approx(windy, abs=0.0005 + 0.0005 * 1.07 * wind)
        assert bool(is_wet(*air)[0]) is wet


def check_both_edges() -> None:
    """Both lines a hundredth of a degree of depression on either side of their thresholds. Also run on slipped code."""
    # At 16 °C, 80 %, 2 m/s the calm line is 15.1152 − 0.9198 D: 14.4713 at 0.70 °C and 14.4621 at 0.71 °C.
    assert [bool(is_wet(*reading(16, 80, 2, d))[0]) for d in (0.70, 0.71)] == [True, False]
    # At 16 °C, 90 %, 3 m/s the windy line is 31.3897 + 3.1839 D: 36.9938 at 1.76 °C and 37.0256 at 1.77 °C.
    assert [bool(is_wet(*reading(16, 90, 3, d))[0]) for d in (1.76, 1.77)] == [False, True]


def test_each_line_decides_at_its_threshold() -> None:
    check_both_edges()


def test_both_lines_at_the_worked_points() -> None:
    check_worked_points()


def test_each_term_by_hand() -> None:
    # 1.6064 · 4 + 0.0036 · 256 + 0.1531 · 80 − 0.4599 · 2 · 3 − 0.0035 · 16 · 80
    # = 6.4256 + 0.9216 + 12.248 − 2.7594 − 4.48 = 12.3558
    assert calm_discriminant(*reading(16, 80, 2, 3))[0] == pytest.approx(12.3558, abs=1e-9)
    # 0.7921 · 4 + 0.0046 · 8100 − 2.3889 · 3 − 0.0390 · 16 · 3 + 1.0613 · 3 · 2
    # = 3.1684 + 37.26 − 7.1667 − 1.872 + 6.3678 = 37.7575
    assert windy_discriminant(*reading(16, 90, 3, 2))[0] == pytest.approx(37.7575, abs=1e-9)


def test_humidity_is_squared_in_the_windy_line() -> None:
    # The fourth point with humidity as it is: 38.180 − 0.0046 · (95² − 95) = 38.180 − 41.078 = −2.898.
    linear = windy_discriminant(*reading(20, 95, 3, 0.826))[0] - 0.0046 * (95**2 - 95)
    assert linear == pytest.approx(-2.898, abs=0.003)
    assert windy_discriminant(*reading(20, 95, 3, 0.826))[0] == pytest.approx(38.180, abs=0.003)


def test_windy_humid_hours_can_be_wet_and_can_be_dry() -> None:
    # With humidity unsquared no such hour could be wet; an hour is weather that can be: from 0 to 35 °C.
    temperature, humidity, wind = np.meshgrid(np.arange(0, 36.0), np.arange(87.8, 100.1, 0.5), np.arange(2.5, 6, 0.25))
    saturation = 17.27 * temperature / (237.3 + temperature) + np.log(humidity / 100)
    depression = temperature - 237.3 * saturation / (17.27 - saturation)
    wet = is_wet(temperature, humidity, wind, depression)
    near = depression < 3.7
    assert 0.1 < wet[near].mean() < 0.9


def check_every_branch() -> None:
    """Each branch at 20 °C on either side of its edge. Also run on slipped code."""
    for depression_c, wind_m_s, humidity_pct, wet in (
        (3.7, 1.0, 100.0, False),  # dry from 3.7 °C of depression on, whatever else
        (3.69, 1.0, 100.0, True),
        (1.0, 2.49, 87.7, True),  # the calm line does not ask for 87.8 %
        (2.0, 2.5, 87.7, False),  # a windy hour does
        (3.5, 2.5, 87.7, False),
        (3.5, 2.5, 87.8, True),  # 3.5424 + 35.4611 − 5.9723 − 1.95 + 9.2864 = 40.3676
    ):
        assert bool(is_wet(*reading(20, humidity_pct, wind_m_s, depression_c))[0]) is wet


def test_each_branch_is_taken_at_its_edge() -> None:
    check_every_branch()


def test_every_pair_of_tenths_3_7_apart_is_dry() -> None:
    # In binary, 20.0 − 16.3 is a hair under 3.7; a station that prints tenths means 3.7.
    tenths = np.arange(-300, 450)
    turf = steady_turf(len(tenths), air_temperature_c=tenths / 10, dew_point_c=(tenths - 37) / 10)
    assert (CLASSIFICATION_TREE.kernel(turf) == 0).all()


@unhurried
@given(st.floats(-40, 0), st.floats(0, 100), st.floats(0, 15), st.floats(0, 3.6))
def test_below_freezing_every_term_takes_0_c(
    temperature: float, humidity: float, wind: float, depression: float
) -> None:
    cold, freezing = reading(temperature, humidity, wind, depression), reading(0, humidity, wind, depression)
    for line in (calm_discriminant, windy_discriminant):
        assert np.isfinite(line(*cold)).all()
        np.testing.assert_array_equal(line(*cold), line(*freezing))


def check_wind_is_brought_down() -> None:
    """An hour turns dry where the wind at 0.3 m passes 2.5 m/s. Also run on slipped code."""
    # The profile of 0.12 m grass: ln((0.3 − 0.08) / 0.01476) / ln((10 − 0.08) / 0.01476) = 2.7018 / 6.5103 = 0.415.
    # At 20 °C, 87.7 % and 1 °C an hour is wet in calm air and dry from 2.5 m/s, which is 6.024 m/s at 10 m.
    for wind_10m, wet in ((6.0, 1.0), (6.05, 0.0), (2.5, 1.0)):
        air = {"air_temperature_c": 20.0, "dew_point_c": 19.0, "relative_humidity_pct": 87.7}
        assert CLASSIFICATION_TREE.kernel(steady_turf(1, **air, wind_speed_10m_m_s=wind_10m)).item() == wet


def test_the_wind_is_brought_from_10_m_down_to_0_3_m() -> None:
    check_wind_is_brought_down()


@pytest.mark.parametrize("name", CLASSIFICATION_TREE.needs)
def test_any_unknown_reading_leaves_the_hour_unknown(name: str) -> None:
    turf = steady_turf(2, **{name: np.array([NAN, getattr(steady_turf(1), name).item()])})
    np.testing.assert_array_equal(np.isnan(CLASSIFICATION_TREE.kernel(turf))[:, 0], [True, False])
