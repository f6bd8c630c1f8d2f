"""Which hours shade takes light from, with the sun of a second library."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import solarposition
from strategies import unhurried

from forecast.canopy.light import behind_sides, light_share
from forecast.canopy.surroundings import surroundings
from forecast.panel import Floats, Hours
from forecast.physics.sun import mid_hour_azimuth_and_elevation_deg
from forecast.turf import SIDES, Setting

ALDER_REACH = (36.4, -79.6)  # invented; UTC−4 in summer
QUOIN_POINT = (-33.9, 151.2)  # invented; UTC+10


def _setting(words: str) -> Setting:
    told = surroundings(words)
    return Setting(
        told.light_let_through_fraction, told.sky_seen_fraction, told.wind_let_through_fraction, told.shaded_from
    )


def _day(first: str) -> Hours:
    return np.datetime64(first, "h") + np.arange(24).astype("timedelta64[h]")


def _sun(hours: Hours, place: tuple[float, float]) -> tuple[Floats, Floats]:
    """Azimuth and elevation half an hour before each stamp, by pvlib."""
    middle = pd.DatetimeIndex(hours.astype("datetime64[s]") - np.timedelta64(30, "m")).tz_localize("UTC")
    found = solarposition.spa_python(middle, *place)
    return found["azimuth"].to_numpy(), found["elevation"].to_numpy()


def _share(hours: Hours, place: tuple[float, float], *words: str) -> Floats:
    return light_share(*mid_hour_azimuth_and_elevation_deg(hours, *place), [_setting(one) for one in words])


def test_trees_to_the_east_shade_the_morning_and_not_the_afternoon() -> None:
    hours = _day("2026-07-21T05")  # stamps from 01:00 daylight time on
    share = _share(hours, ALDER_REACH, "trees to the east")[:, 0]
    azimuth, elevation = _sun(hours, ALDER_REACH)
    up = elevation > 0
    shaded = up & (share < 1)
    # By the second library: in the east to 157.5°, and below 55°.
    np.testing.assert_array_equal(shaded, up & (azimuth >= 22.5) & (azimuth <= 157.5) & (elevation < 55))
    clock = (np.arange(24) + 1)[shaded]  # daylight time at which the hour ends
    assert clock.tolist() == [7, 8, 9, 10, 11], "from sunrise to late morning"
    assert set(share[shaded]) == {0.36}


def test_what_is_named_on_a_side_does_nothing_at_night_nor_to_open_turf() -> None:
    hours = _day("2026-07-21T05")
    share = _share(hours, ALDER_REACH, "open", "under trees")
    np.testing.assert_array_equal(share[:, 0], np.ones(24))
    np.testing.assert_array_equal(share[:, 1], np.full(24, 0.4), "overhead it holds all day")


@pytest.mark.parametrize("date", ["2026-03-20", "2026-06-21", "2026-09-22", "2026-12-21"])
def test_a_wall_to_the_north_takes_no_light_at_noon_in_the_north(date: str) -> None:
    hours = _day(f"{date}T05")
    share = _share(hours, ALDER_REACH, "wall to the north", "wall to the south")
    azimuth, elevation = _sun(hours, ALDER_REACH)
    around_noon = (azimuth > 90) & (azimuth < 270) & (elevation > 0)
    assert (share[around_noon, 0] == 1).all()
    noon = int(np.argmax(elevation))
    # The wall to the south does while the noon sun is below 55°: 90 − 36.4 − 23.4 = 30.2° in December, 53.6° at the
    # equinoxes, but 77.0° in June.
    assert (share[noon, 1] < 1) == (date != "2026-06-21")


def test_in_the_south_the_noon_sun_stands_behind_a_wall_to_the_north() -> None:
    winter, summer = _day("2026-06-20T15"), _day("2026-12-20T15")
    for hours, shaded in ((winter, True), (summer, False)):
        noon = int(np.argmax(_sun(hours, QUOIN_POINT)[1]))
        share = _share(hours, QUOIN_POINT, "wall to the north", "wall to the south")
        # Noon sun at 90 − 33.9 ∓ 23.4: 32.7° in June, 79.5° in December.
        assert (share[noon, 0] < 1) == shaded
        assert share[noon, 1] == 1
    morning = int(np.argmax(_sun(winter, QUOIN_POINT)[1])) - 4
    assert _share(winter, QUOIN_POINT, "trees to the east")[morning, 0] < 1, "the sun rises in the east there too"
    assert _share(winter, QUOIN_POINT, "trees to the west")[morning, 0] == 1


def test_a_side_reaches_to_either_hand_and_round_by_the_north() -> None:
    at = np.array([292.4, 292.6, 359.9, 0.1, 67.4, 67.6, 180.0])
    np.testing.assert_array_equal(behind_sides(at, np.full(7, 20.0), ["n"]), [0, 1, 1, 1, 1, 0, 0])
    at = np.array([247.4, 247.6, 315.0, 22.4, 22.6])
    np.testing.assert_array_equal(behind_sides(at, np.full(5, 20.0), ["nw"]), [0, 1, 1, 1, 0])


def test_a_high_sun_shines_over() -> None:
    azimuth = np.full(3, 90.0)
    np.testing.assert_array_equal(behind_sides(azimuth, np.array([54.9, 55.0, 80.0]), ["e"]), [1, 0, 0])
    courtyard = light_share(azimuth, np.array([54.9, 55.0, 80.0]), [_setting("courtyard")])
    np.testing.assert_array_equal(courtyard[:, 0], [0.27, 1, 1])


def test_a_side_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="x"):
        behind_sides(np.zeros(1), np.zeros(1), ["x"])


@unhurried
@given(st.floats(0, 359.99), st.integers(0, 7), st.sets(st.sampled_from(SIDES)))
def test_turning_the_ground_turns_the_shade(azimuth: float, eighths: int, sides: set[str]) -> None:
    turned = [SIDES[(SIDES.index(side) + eighths) % 8] for side in sides]
    # Whole sixteenths of a degree turn without rounding.
    at = np.array([round(azimuth * 16) / 16])
    low = np.array([10.0])
    np.testing.assert_array_equal(behind_sides(at, low, sorted(sides)), behind_sides(at + 45 * eighths, low, turned))


@unhurried
@given(st.lists(st.sampled_from(["open", "trees to the east", "under trees", "courtyard"]), min_size=2, max_size=5))
def test_each_setting_is_told_as_alone(words: list[str]) -> None:
    hours = _day("2026-07-21T05")
    together = _share(hours, ALDER_REACH, *words)
    for column, one in enumerate(words):
        np.testing.assert_array_equal(together[:, column], _share(hours, ALDER_REACH, one)[:, 0])
