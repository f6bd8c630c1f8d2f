"""Sunlight above the air, through clear air and cloud, and cloud told from it: printed examples and two libraries."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from pvlib import clearsky, solarposition
from refet import calcs
from strategies import unhurried

from forecast.panel import Floats
from forecast.physics import radiation, sun
from forecast.physics.radiation import (
    clear_sky_share,
    clear_sky_w_m2,
    cloud_of_radiation,
    complete_sky,
    extraterrestrial_daily_mj_m2,
    extraterrestrial_hourly_mj_m2,
    through_cloud_w_m2,
)

NAN = math.nan
elevations_deg = st.floats(-90, 90)
fractions = st.floats(0, 1)

# Above the air


def test_a_day_above_the_air_of_the_printed_example() -> None:
    # FAO-56, Example 8 (from memory): 3 September, day 246, 20° S: 32.2 MJ/m².
    found = extraterrestrial_daily_mj_m2(np.array([246.0]), -20.0)
    np.testing.assert_allclose(found, [32.2], rtol=0, atol=0.05)


def test_an_hour_above_the_air_of_the_printed_example() -> None:
    # FAO-56, Example 19 (from memory): N'Diaye, Senegal, 16° 13' N, 16° 15' W, 1 October, clock one hour behind UTC.
    # 14 to 15 h there ends at 16:00Z and has 3.543 MJ/m²; 2 to 3 h ends at 04:00Z and has none.
    hours = np.array(["2031-10-01T16", "2031-10-01T04"], "datetime64[h]")
    found = extraterrestrial_hourly_mj_m2(hours, 16 + 13 / 60, -16.25)
    np.testing.assert_allclose(found, [3.543, 0.0], rtol=0, atol=0.0005)


@pytest.mark.parametrize("latitude_deg", [-78.0, -33.9, 0.1, 36.1, 60.0, 67.0, 78.0, 90.0])
@pytest.mark.parametrize("date", ["2031-03-20", "2031-06-21", "2031-12-21"])
def test_the_hours_of_a_day_make_up_the_day(latitude_deg: float, date: str) -> None:
    # Both are integrals of one sun; at 0° E the hours of a UTC day are those of the place.
    hours = np.datetime64(date, "h") + np.arange(1, 25)
    day_of_year = (np.datetime64(date, "D") - np.datetime64(date[:4], "D")).astype(np.float64) + 1
    by_hour = extraterrestrial_hourly_mj_m2(hours, latitude_deg, 0.0)
    whole = extraterrestrial_daily_mj_m2(np.array([day_of_year]), latitude_deg)
    # At 67° in June the sun sets for under an hour around midnight, where part of an hour is left out.
    np.testing.assert_allclose(by_hour.sum(), whole[0], rtol=2e-4, atol=1e-9)
    assert (by_hour >= 0).all()


def test_hours_above_the_air_are_those_of_another_library() -> None:
    hours = np.arange("2031-01-01T01", "2032-01-01T01", dtype="datetime64[h]")
    latitude_deg, longitude_deg = 39.4575, -118.77388
    day = sun.day_and_hour_angle(hours, longitude_deg)[0]
    middle_h = (hours - hours.astype("datetime64[D]")).astype(np.float64) - 0.5
    other = calcs.ra_hourly(np.radians(latitude_deg), np.radians(longitude_deg), day, middle_h)
    found = extraterrestrial_hourly_mj_m2(hours, latitude_deg, longitude_deg)
    np.testing.assert_allclose(found, other, rtol=0, atol=1e-9)


# Clear sky


def test_a_clear_sky_is_that_of_the_second_library() -> None:
    hours = pd.date_range("2031-01-01", "2031-12-31T23:00", freq="h", tz="UTC")
    elevation = solarposition.get_solarposition(hours, 36.1, -79.95)["elevation"]
    other = clearsky.haurwitz(90 - elevation)["ghi"]
    np.testing.assert_allclose(clear_sky_w_m2(elevation.to_numpy()), other, rtol=0, atol=1e-6)


def test_a_clear_noon_in_june() -> None:
    # 1098 sin 77.33° exp(−0.059 / sin 77.33°) = 1098 · 0.97565 · 0.94132 = 1008.4.
    np.testing.assert_allclose(clear_sky_w_m2(np.array([77.33])), [1008.4], rtol=0, atol=0.1)


def test_a_clear_sky_of_the_handbook_brightens_with_height() -> None:
    # FAO-56 eq. 37 at 0 and 100 m under 41.09 MJ/m², its Example 18 (from memory): 0.75 · 41.09 = 30.82; 0.752 · 41.09
    # = 30.90.
    found = radiation.clear_sky_fao_mj_m2(np.array([41.09, 41.09]), np.array([0.0, 100.0]))
    np.testing.assert_allclose(found, [30.82, 30.90], rtol=0, atol=0.005)


def test_both_clear_skies_agree_on_a_day_of_june() -> None:
    # 36.1 N, 79.95 W, 273 m: worked out apart from this project, FAO-56's lies 3 to 4 % below Haurwitz' at noon.
    hours = np.datetime64("2013-06-21T05", "h") + np.arange(1, 25)
    haurwitz_mj_m2 = 0.0036 * clear_sky_w_m2(sun.mid_hour_elevation_deg(hours, 36.1, -79.95)).sum()
    above_air = extraterrestrial_hourly_mj_m2(hours, 36.1, -79.95).sum()
    assert haurwitz_mj_m2 == pytest.approx(float(radiation.clear_sky_fao_mj_m2(above_air, 273)), rel=0.05)


@unhurried
@given(elevations_deg, elevations_deg)
def test_a_clear_sky_brightens_as_the_sun_climbs(one_deg: float, other_deg: float) -> None:
    low, high = clear_sky_w_m2(np.array(sorted((one_deg, other_deg))))
    assert 0 <= low <= high < 1098 * math.exp(-0.059) + 1e-9


def test_no_sun_no_light_and_the_unknown_is_not_dark() -> None:
    found = clear_sky_w_m2(np.array([-90.0, -0.001, 0.0, 0.001, 1e-300, NAN]))
    np.testing.assert_array_equal(found[:5], np.zeros(5))
    assert math.isnan(found[5])


# Cloud


def test_light_through_cloud() -> None:
    # Kasten & Czeplak: 1 − 0.75 N^3.4: 0.5^3.4 = 0.094732, so 1 − 0.071049 = 0.928951.
    found = through_cloud_w_m2(np.full(4, 800.0), np.array([0.0, 0.5, 1.0, NAN]))
    np.testing.assert_allclose(found, [800.0, 743.161, 200.0, NAN], rtol=0, atol=0.001)


def test_cloud_from_light_is_what_the_handbooks_factor_leaves() -> None:
    # FAO-56 eq. 39: f = 1.35 Rs/Rso - 0.35; cloud holds back 1 - f = 1.35 (1 - Rs/Rso) of net longwave.
    clear = clear_sky_w_m2(np.full(6, 40.0))
    share = np.array([1.05, 1.0, 0.95, 0.8, 0.5, 0.2])
    found = cloud_of_radiation(share * clear, clear)
    np.testing.assert_allclose(found, [0.0, 0.0, 0.0675, 0.27, 0.675, 1.0], rtol=0, atol=1e-12)


@unhurried
@given(st.floats(10.001, 90), fractions, fractions)
def test_more_light_is_never_more_cloud(elevation_deg: float, one: float, other: float) -> None:
    clear = clear_sky_w_m2(np.full(2, elevation_deg))
    less, more = cloud_of_radiation(np.sort([one, other]) * clear, clear)
    assert less >= more


@unhurried
@given(elevations_deg, st.floats(-20, 1600))
def test_cloud_told_from_light_is_bounded_and_unknown_at_low_sun(elevation_deg: float, shortwave: float) -> None:
    found = cloud_of_radiation(np.array([shortwave]), clear_sky_w_m2(np.array([elevation_deg])))
    if elevation_deg < 10:
        assert math.isnan(found[0])
    else:
        assert 0 <= found[0] <= 1


def test_cloud_of_unknown_light_is_unknown() -> None:
    found = cloud_of_radiation(np.array([NAN, 500.0, 500.0]), np.array([800.0, NAN, 800.0]))
    np.testing.assert_array_equal(np.isnan(found), [True, True, False])


# Light and cloud each from the other


def _day(*, first_hour: int = 0, days: int = 1) -> Floats:
    """Elevation of an invented sun: below the horizon to 06 h, 12° steps to 60° at noon and down; hours 0 to 23."""
    hour = (np.arange(24 * days) + first_hour) % 24
    return 75.0 - 12.5 * np.abs(hour - 12)


def test_measured_figures_stay_as_they_are() -> None:
    elevation = _day()
    shortwave, cloud = np.full(24, 123.0), np.full(24, 0.37)
    found = complete_sky(shortwave, cloud, elevation)
    np.testing.assert_array_equal(found[0], shortwave)
    np.testing.assert_array_equal(found[1], cloud)


def test_light_comes_from_cloud_where_it_was_not_measured() -> None:
    elevation, nothing = _day(), np.full(24, NAN)
    cloud = np.where(np.arange(24) == 13, NAN, 0.5)
    shortwave, same_cloud = complete_sky(nothing, cloud, elevation)
    np.testing.assert_array_equal(same_cloud, cloud)
    np.testing.assert_allclose(shortwave[12], 0.928951 * clear_sky_w_m2(np.array(75.0)), rtol=1e-6)
    # Unknown cloud at 13 h leaves light unknown; the night is dark whatever the cloud.
    assert np.flatnonzero(np.isnan(shortwave)).tolist() == [13]
    assert (shortwave[elevation <= 0] == 0).all()


def test_the_night_is_dark_even_where_nothing_is_known() -> None:
    shortwave, cloud = complete_sky(np.full(24, NAN), np.full(24, NAN), _day())
    np.testing.assert_array_equal(shortwave == 0, _day() <= 0)
    assert np.isnan(cloud).all()


def test_cloud_comes_from_light_by_day_and_is_held_through_the_night() -> None:
    # Sun at or above 10° from hour 7 (12.5°) to 17 (12.5°). Shares of a clear sky: morning all, last three hours
    # (15, 16, 17) 0.25, 0.4, 0.6.
    elevation = _day(days=2)
    clear = clear_sky_w_m2(elevation)
    share = np.ones(48)
    share[15:18] = [0.25, 0.4, 0.6]
    measured = np.where(np.arange(48) < 24, share * clear, NAN)
    shortwave, cloud = complete_sky(measured, np.full(48, NAN), elevation)
    # Before the first lit hour nothing is known; by day each hour has its own.
    assert np.isnan(cloud[:7]).all()
    np.testing.assert_allclose(cloud[7:15], 0.0, rtol=0, atol=1e-4)
    np.testing.assert_allclose(cloud[15:18], [1.0, 1.35 * 0.6, 1.35 * 0.4], rtol=1e-9)
    # From 18 h on, to 6 h next morning (13 h), as over the last three hours together.
    held = (clear[15:18] * share[15:18]).sum() / clear[15:18].sum()
    np.testing.assert_allclose(cloud[18:31], 1.35 * (1 - held), rtol=1e-9)
    # On the second day nothing is measured, so that with the sun up nothing is known, and neither in the night after.
    assert np.isnan(cloud[31:]).all()
    np.testing.assert_array_equal(shortwave[:24], measured[:24])
    assert np.isnan(shortwave[31:42]).all()


def test_one_of_the_last_three_hours_may_be_missing_but_not_two() -> None:
    elevation = _day()
    clear = clear_sky_w_m2(elevation)
    two = 0.4 * clear
    two[16] = NAN
    one = two.copy()
    one[17] = NAN
    morning_only = np.where(np.arange(24) < 15, clear, NAN)
    found = complete_sky(np.stack([two, one, morning_only], axis=1), np.full((24, 3), NAN), elevation)[1]
    np.testing.assert_allclose(found[18:, 0], 1.35 * 0.6, rtol=1e-9)
    assert np.isnan(found[18:, 1:]).all()


def test_cloud_is_not_held_for_longer_than_20_hours() -> None:
    elevation = np.concatenate([_day()[:18], np.full(40, -5.0)])
    measured = np.where(elevation > 0, 0.4 * clear_sky_w_m2(elevation), 0.0)
    cloud = complete_sky(measured, np.full(58, NAN), elevation)[1]
    # The last lit hour is 17, so 37 is the last held.
    assert not np.isnan(cloud[18:38]).any()
    assert np.isnan(cloud[38:]).all()


def test_hours_lit_on_different_days_are_not_taken_together() -> None:
    # One lit hour a day, as in a northern winter: never two of one day.
    elevation = np.where(np.arange(72) % 24 == 12, 11.0, -3.0)
    cloud = complete_sky(np.where(elevation > 0, 50.0, 0.0), np.full(72, NAN), elevation)[1]
    np.testing.assert_array_equal(~np.isnan(cloud), elevation > 0)


def test_series_and_members_keep_apart_and_inputs_stay() -> None:
    rng = np.random.default_rng(5)
    shape = (48, 3, 2)
    elevation = _day(days=2)
    shortwave = np.where(rng.random(shape) < 0.3, NAN, rng.random(shape) * clear_sky_w_m2(elevation)[:, None, None])
    cloud = np.where(rng.random(shape) < 0.5, NAN, rng.random(shape))
    copies = shortwave.copy(), cloud.copy(), elevation.copy()
    together = complete_sky(shortwave, cloud, elevation)
    for series in range(3):
        for member in range(2):
            alone = complete_sky(shortwave[:, series, member], cloud[:, series, member], elevation)
            for whole, part in zip(together, alone, strict=True):
                np.testing.assert_array_equal(whole[:, series, member], part)
    everywhere = complete_sky(shortwave, cloud, np.broadcast_to(elevation[:, None, None], shape))
    np.testing.assert_array_equal(together, everywhere)
    for before, after in zip(copies, (shortwave, cloud, elevation), strict=True):
        np.testing.assert_array_equal(before, after)


@unhurried
@given(
    arrays(np.float64, (30, 2), elements=st.floats(0, 1200) | st.just(NAN)),
    arrays(np.float64, (30, 2), elements=fractions | st.just(NAN)),
    st.integers(0, 23),
)
def test_whatever_is_known_the_sky_is_plausible(shortwave: Floats, cloud: Floats, first_hour: int) -> None:
    elevation = _day(first_hour=first_hour, days=2)[:30]
    light, cover = complete_sky(shortwave, cloud, elevation)
    assert ((light >= 0) | np.isnan(light)).all()
    assert (((cover >= 0) & (cover <= 1)) | np.isnan(cover)).all()
    # Nothing known is lost, and where both were known or either by day, both are.
    assert not (np.isnan(light) & ~np.isnan(shortwave)).any()
    assert not (np.isnan(cover) & ~np.isnan(cloud)).any()
    either = ~np.isnan(shortwave) | ~np.isnan(cloud)
    high = np.broadcast_to((elevation >= 10)[:, None], either.shape)
    assert not (np.isnan(light) | np.isnan(cover))[either & high].any()


def test_no_hours_are_no_trouble() -> None:
    light, cloud = complete_sky(np.empty((0, 2)), np.empty((0, 2)), np.empty(0))
    assert light.shape == cloud.shape == (0, 2)


# What net longwave wants to know of the sky


def test_the_share_is_the_hours_own_by_high_sun_and_clouds_otherwise() -> None:
    # Above 0.3 rad = 17.19° the hour's own, held to 0.3 to 1; else 1 − 0.75 N^3.4, at N = 0.5 0.928951.
    found = clear_sky_share(
        np.array([1.2, 0.2, 5.0, 1.2, 0.0, NAN, NAN]),
        np.array([2.0, 2.0, 2.0, 2.0, 0.0, 2.0, 2.0]),
        np.array([0.5, 0.5, 0.5, 0.5, 0.5, 0.5, NAN]),
        np.array([40.0, 40.0, 40.0, 17.0, -10.0, 40.0, 40.0]),
    )
    np.testing.assert_allclose(found, [0.6, 0.3, 1.0, 0.928951, 0.928951, 0.928951, NAN], rtol=0, atol=1e-6)
