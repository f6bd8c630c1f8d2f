"""Longwave radiation of the sky and net radiation of turf, against figures worked out apart from this project."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import unhurried

from forecast.panel import Floats
from forecast.physics import longwave
from forecast.physics.humidity import saturation_vapour_pressure_hpa

# Temperature, dew point, and emissivity after Prata, Brunt and Brutsaert, worked out apart from this project with
# another formula for saturation (Alduchov & Eskridge), which lies 0.2 % below Tetens' and takes up to 0.0004 off.
EMISSIVITIES = [
    (20.0, 15.0, 0.8247, 0.7882, 0.8257),
    (25.0, 22.0, 0.8710, 0.8539, 0.8770),
    (10.0, 8.0, 0.7835, 0.7328, 0.7767),
]

temperatures_c = st.floats(-40, 45)
spreads_c = st.floats(0, 40)
fractions = st.floats(0, 1)


def _of(value: float) -> Floats:
    return np.array([value])


@pytest.mark.parametrize(("temperature_c", "dew_point_c", "prata", "brunt", "brutsaert"), EMISSIVITIES)
def test_emissivity_of_a_clear_sky(
    temperature_c: float, dew_point_c: float, prata: float, brunt: float, brutsaert: float
) -> None:
    air, dew = _of(temperature_c), _of(dew_point_c)
    found = longwave.emissivity_prata(air, dew), longwave.emissivity_brunt(dew), longwave.emissivity_brutsaert(air, dew)
    np.testing.assert_allclose(np.concatenate(found), [prata, brunt, brutsaert], rtol=0, atol=0.0005)


def test_a_black_body_at_freezing() -> None:
    # 5.670374e-8 · 273.15⁴ = 5.670374e-8 · 5.56685e9 = 315.66.
    np.testing.assert_allclose(longwave.black_body_w_m2(_of(0.0)), [315.66], rtol=0, atol=0.01)


def test_an_overcast_sky_radiates_as_the_air_does() -> None:
    found = longwave.sky_longwave_w_m2(_of(20.0), _of(5.0), _of(1.0))
    np.testing.assert_allclose(found, longwave.black_body_w_m2(_of(20.0)), rtol=1e-12)


# Temperature, dew point, sunlight, cloud, and net radiation, worked out apart from this project with Tetens' formula.
UNIT_HOURS = [
    (20.0, 19.0, 0.0, 0.0, -59.95),
    (20.0, 19.0, 0.0, 1.0, 0.0),
    (20.0, 15.0, 0.0, 0.0, -71.13),
    (25.0, 18.0, 600.0, 0.3, 414.42),
]


@pytest.mark.parametrize(("temperature_c", "dew_point_c", "shortwave", "cloud", "net"), UNIT_HOURS)
def test_net_radiation_of_four_hours(
    temperature_c: float, dew_point_c: float, shortwave: float, cloud: float, net: float
) -> None:
    found = longwave.isothermal_net_radiation_w_m2(
        _of(shortwave), _of(temperature_c), _of(dew_point_c), _of(cloud), 1.0
    )
    np.testing.assert_allclose(found, [net], rtol=0, atol=0.005)


def test_turf_that_sees_half_the_sky_loses_half_as_much() -> None:
    found = longwave.isothermal_net_radiation_w_m2(_of(0.0), _of(20.0), _of(15.0), _of(0.0), np.array([1.0, 0.5, 0.0]))
    np.testing.assert_allclose(found, [-71.13, -35.56, 0.0], rtol=0, atol=0.01)


def test_net_longwave_of_the_handbook_stands_below_that_of_prata() -> None:
    # Clear, 20 °C, dew point 15 °C. FAO-56's day: 4.903e-9 · 293.16⁴ · (0.34 − 0.14 √1.7053) · 1 = 5.694 MJ/m²,
    # which is 65.9 W/m² over 86,400 s; Prata's 71.1 as above.
    day = longwave.net_longwave_fao_daily_mj_m2(_of(20.0), _of(20.0), saturation_vapour_pressure_hpa(_of(15.0)), _of(1))
    np.testing.assert_allclose(day / 0.0864, [65.9], rtol=0, atol=0.05)


def test_net_longwave_of_the_printed_example() -> None:
    # FAO-56, Example 11 (from memory): Rio de Janeiro in May, 25.1 and 19.1 °C, 2.1 kPa, Rs 14.5 and Rso 18.8 MJ/m²:
    # (38.8 + 35.8) / 2 · (0.34 − 0.14 √2.1) · (1.35 · 14.5 / 18.8 − 0.35) = 37.3 · 0.137 · 0.691 = 3.5.
    found = longwave.net_longwave_fao_daily_mj_m2(_of(25.1), _of(19.1), _of(21.0), _of(14.5 / 18.8))
    np.testing.assert_allclose(found, [3.5], rtol=0, atol=0.05)


def test_a_day_loses_by_the_mean_of_what_its_ends_radiate() -> None:
    # 40 and 0 °C, 1 kPa, clear: (313.16⁴ + 273.16⁴) / 2 = 7.59259e9; · 4.903e-9 = 37.2265; · (0.34 − 0.14) = 7.4453.
    # The fourth power of the mean, 293.16⁴, would give 7.243.
    found = longwave.net_longwave_fao_daily_mj_m2(_of(40.0), _of(0.0), _of(10.0), _of(1.0))
    np.testing.assert_allclose(found, [7.4453], rtol=0, atol=0.0005)


def test_an_hour_is_a_24th_of_a_day_at_one_temperature() -> None:
    # The printed σ: 4.903e-9 / 24 = 2.0429e-10, printed 2.043e-10.
    one_day = longwave.net_longwave_fao_daily_mj_m2(_of(15.0), _of(15.0), _of(10.0), _of(0.7))
    one_hour = longwave.net_longwave_fao_hourly_mj_m2(_of(15.0), _of(10.0), _of(0.7))
    np.testing.assert_allclose(24 * one_hour, one_day, rtol=1e-4)


@unhurried
@given(temperatures_c, spreads_c, fractions, fractions, st.floats(0, 1400))
def test_net_radiation_is_bounded_and_goes_the_right_way(
    temperature_c: float, spread_c: float, cloud: float, seen: float, shortwave: float
) -> None:
    air, dew = _of(temperature_c), _of(temperature_c - spread_c)

    def net(shortwave_w_m2: float, cloud_fraction: float, seen_fraction: float, dew_point: Floats = dew) -> float:
        return float(
            longwave.isothermal_net_radiation_w_m2(
                _of(shortwave_w_m2), air, dew_point, _of(cloud_fraction), seen_fraction
            )[0]
        )

    found = net(shortwave, cloud, seen)
    # The sky never sends more than the air's own, nor, with no vapour at all, less than 1 − exp(−√1.2) = 0.666 of it.
    own = float(longwave.black_body_w_m2(air)[0])
    assert 0.77 * shortwave - 0.335 * 0.97 * own <= found <= 0.77 * shortwave + 1e-9
    slack = 1e-9
    assert net(shortwave, 1.0, seen) >= found - slack  # cloud holds warmth in
    assert net(shortwave, cloud, 1.0) <= found + slack  # so does what hides the sky
    assert net(shortwave, cloud, seen, air) >= found - slack  # so does vapour
    assert net(shortwave + 1, cloud, seen) > found


@unhurried
@given(temperatures_c, spreads_c)
def test_emissivities_are_bounded_and_grow_with_vapour(temperature_c: float, spread_c: float) -> None:
    air, dew = _of(temperature_c), _of(temperature_c - spread_c)
    # With no vapour 1 − exp(−√1.2), 0.52 and 0; Brunt and Brutsaert go past 1 in air damper than they were fitted on.
    for dry, least, most in (
        (longwave.emissivity_prata(air, dew), 0.6656, 1.0),
        (longwave.emissivity_brunt(dew), 0.52, 1.2),
        (longwave.emissivity_brutsaert(air, dew), 0.0, 1.1),
    ):
        assert least < float(dry[0]) < most
    assert longwave.emissivity_prata(air, air) >= longwave.emissivity_prata(air, dew)
    assert longwave.emissivity_brunt(air) >= longwave.emissivity_brunt(dew)
    assert longwave.emissivity_brutsaert(air, air) >= longwave.emissivity_brutsaert(air, dew)


def test_any_unknown_is_unknown() -> None:
    given_arrays = [np.full(6, value) for value in (100.0, 20.0, 15.0, 0.5, 1.0)]
    for hole, array in enumerate(given_arrays):
        array[hole] = math.nan
    found = longwave.isothermal_net_radiation_w_m2(*given_arrays)
    np.testing.assert_array_equal(np.isnan(found), [True] * 5 + [False])


def test_series_keep_apart_and_inputs_stay() -> None:
    shape = (3, 2, 4)
    air = np.linspace(0, 30, 24).reshape(shape)
    before = air.copy()
    seen = np.array([[1.0], [0.4]])
    both = longwave.isothermal_net_radiation_w_m2(np.zeros(shape), air, air - 5, np.zeros(shape), seen)
    alone = longwave.isothermal_net_radiation_w_m2(np.zeros((3, 4)), air[:, 1], air[:, 1] - 5, np.zeros((3, 4)), 0.4)
    np.testing.assert_allclose(both[:, 1], alone, rtol=1e-14)
    np.testing.assert_array_equal(air, before)
