"""Where the sun stands and when it rises, against a published case and two libraries."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pytest
from astral import Observer
from astral.sun import sunrise
from pvlib import solarposition

from forecast.panel import Floats
from forecast.physics.sun import solar_position_deg, sunrise_unix_s

# The worked case of the NREL solar position algorithm (Reda & Andreas 2004), 2003-10-17 12:30:30 at UTC−7.
CASE_TIME = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
CASE_LATITUDE, CASE_LONGITUDE = 39.742476, -105.1786
CASE_AIR = {"altitude": 1830.14, "pressure": 82000, "temperature": 11, "delta_t": 67}

# Name, latitude, longitude, standard time in hours from UTC: invented places on both sides of the equator.
PLACES = [
    ("Alder Reach", 36.0, -80.0, -5),
    ("Nether Combe", 51.5, 0.0, 0),
    ("Quoin Point", -33.9, 151.2, 10),
    ("Cape Farrow", -54.8, -68.3, -4),
    ("Mid Line", 0.1, 36.0, 2),
]
DATES = [date(2031, 3, 20), date(2031, 6, 21), date(2031, 9, 23), date(2031, 12, 21)]
FAR_NORTH = (78.0, 15.6)
FAR_SOUTH = (-78.0, 166.7)


def _unix_s(*moments: datetime) -> Floats:
    return np.array([moment.timestamp() for moment in moments])


def _midnight_s(day: date, offset_hours: int) -> float:
    return datetime(day.year, day.month, day.day, tzinfo=timezone(timedelta(hours=offset_hours))).timestamp()


def test_the_second_library_gives_the_published_case() -> None:
    # Published with refraction: zenith 50.11162°, azimuth 194.34024°; half of the last digit.
    found = solarposition.spa_python(pd.DatetimeIndex([CASE_TIME]), CASE_LATITUDE, CASE_LONGITUDE, **CASE_AIR)
    assert found["apparent_zenith"].iloc[0] == pytest.approx(50.11162, abs=5e-6)
    assert found["azimuth"].iloc[0] == pytest.approx(194.34024, abs=5e-6)
    # The same library's zenith without refraction, which is what this project computes: 50.12795°.
    assert found["zenith"].iloc[0] == pytest.approx(50.12795, abs=5e-6)


def test_the_sun_of_the_published_case() -> None:
    elevation, azimuth = solar_position_deg(_unix_s(CASE_TIME), CASE_LATITUDE, CASE_LONGITUDE)
    # Tolerances: the series is good to about 0.02°; azimuth runs 1/cos(elevation) faster.
    np.testing.assert_allclose(elevation, [90 - 50.12795], rtol=0, atol=0.02)
    np.testing.assert_allclose(azimuth, [194.34024], rtol=0, atol=0.03)


@pytest.mark.parametrize(("latitude", "longitude"), [(36.0, -80.0), (-33.9, 151.2), FAR_NORTH])
def test_a_year_of_hours_agrees_with_the_second_library(latitude: float, longitude: float) -> None:
    hours = pd.date_range("2031-01-01", "2031-12-31T23:00", freq="h", tz="UTC")
    other = solarposition.get_solarposition(hours, latitude, longitude)
    elevation, azimuth = solar_position_deg(_unix_s(*hours.to_pydatetime()), latitude, longitude)
    np.testing.assert_allclose(elevation, other["elevation"], rtol=0, atol=0.02)
    apart = (azimuth - other["azimuth"].to_numpy() + 180) % 360 - 180
    # Near the zenith azimuth means little: what counts is the way on the sky, azimuth × cos(elevation).
    on_the_sky = apart * np.cos(np.radians(elevation))
    np.testing.assert_allclose(on_the_sky, 0.0, rtol=0, atol=0.02)


@pytest.mark.parametrize(("latitude", "longitude"), [(36.0, -80.0), (-33.9, 151.2)])
def test_the_sun_is_right_from_1950_to_2100(latitude: float, longitude: float) -> None:
    # Every 191 hours, a prime number, so that no hour of the day and no season is left out.
    hours = pd.date_range("1950-01-01", "2100-12-31", freq="191h", tz="UTC")
    other = solarposition.get_solarposition(hours, latitude, longitude)
    elevation, _ = solar_position_deg(_unix_s(*hours.to_pydatetime()), latitude, longitude)
    np.testing.assert_allclose(elevation, other["elevation"], rtol=0, atol=0.02)


@pytest.mark.parametrize("day", DATES, ids=str)
@pytest.mark.parametrize(("name", "latitude", "longitude", "offset_hours"), PLACES, ids=[p[0] for p in PLACES])
def test_sunrise_is_within_two_minutes(
    name: str, latitude: float, longitude: float, offset_hours: int, day: date
) -> None:
    zone = timezone(timedelta(hours=offset_hours))
    other = sunrise(Observer(latitude, longitude), day, tzinfo=zone)
    found = sunrise_unix_s(_midnight_s(day, offset_hours), latitude, longitude)
    assert found is not None
    assert abs(found - other.timestamp()) <= 120, name
    assert datetime.fromtimestamp(found, zone).date() == day


@pytest.mark.parametrize("day", [date(2031, 12, 21), date(2031, 6, 21)], ids=["December", "June"])
@pytest.mark.parametrize("place", [FAR_NORTH, FAR_SOUTH], ids=["north", "south"])
def test_no_sunrise_in_polar_night_or_polar_day(place: tuple[float, float], day: date) -> None:
    assert sunrise_unix_s(_midnight_s(day, 0), *place) is None


def test_the_polar_sun_is_down_in_december_and_up_in_june() -> None:
    # Else the test above could pass on a sun that never moves.
    noon = _unix_s(datetime(2031, 12, 21, 11, tzinfo=UTC), datetime(2031, 6, 21, 23, tzinfo=UTC))
    winter_noon, summer_midnight = solar_position_deg(noon, *FAR_NORTH)[0]
    # At noon 90° − 78° − 23.4° = −11.4°; at midnight 23.4° − 12° = 11.4°. An hour off the true noon costs < 0.3°.
    assert winter_noon == pytest.approx(-11.4, abs=0.5)
    assert summer_midnight == pytest.approx(11.4, abs=0.5)


def test_a_sunrise_is_the_first_minute_with_the_rim_up() -> None:
    rise = sunrise_unix_s(_midnight_s(DATES[0], -5), 36.0, -80.0)
    assert rise is not None
    before, at = solar_position_deg(np.array([rise - 60, rise]), 36.0, -80.0)[0]
    # 16' of the sun's radius and 34' of refraction, 50' = 0.833° (common practice in almanacs).
    assert before <= -0.833 < at
    assert rise % 60 == 0


def test_from_a_noon_on_the_next_sunrise_is_that_of_the_next_day() -> None:
    midnight = _midnight_s(DATES[0], -5)
    next_day = sunrise_unix_s(midnight + 24 * 3600, 36.0, -80.0)
    assert next_day is not None
    assert sunrise_unix_s(midnight + 12 * 3600, 36.0, -80.0) == next_day
