"""Leaf wetness: each rule by hand, and what every method owes the models."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from strategies import humid_air, unhurried

from forecast.panel import Floats, observed
from forecast.quantities import Flag
from forecast.wetness import DEFAULT, METHODS, WetnessMethod, with_leaf_wetness
from forecast.wetness.dew_point_depression import DEW_POINT_DEPRESSION
from forecast.wetness.humidity_threshold import HUMIDITY_THRESHOLD

NAN = math.nan

Air = tuple[Floats, Floats, Floats, Floats]

every_method = pytest.mark.parametrize("method", METHODS.values(), ids=list(METHODS))


def by_depression(*depressions_c: float, rain_mm: float = 0.0) -> list[float]:
    """Wet or dry by the dew-point rule at 20 °C."""
    dew_point = 20.0 - np.array(depressions_c)
    temperature = np.full(dew_point.shape, 20.0)
    unread = np.full(dew_point.shape, NAN)
    rain = np.full(dew_point.shape, rain_mm)
    found: list[float] = DEW_POINT_DEPRESSION.kernel(temperature, dew_point, unread, rain).tolist()
    return found


def by_humidity(*humidities_pct: float, rain_mm: float = 0.0) -> list[float]:
    """Wet or dry by the humidity rule."""
    humidity = np.array(humidities_pct)
    unread = np.full(humidity.shape, NAN)
    rain = np.full(humidity.shape, rain_mm)
    found: list[float] = HUMIDITY_THRESHOLD.kernel(unread, unread, humidity, rain).tolist()
    return found


def check_hysteresis_by_hand() -> None:
    """Wet at 2.0 °C and below, dry at 3.8 and above, between them as before. Also run on slipped code."""
    assert by_depression(5.0, 3.0, 2.0, 3.0, 3.7, 3.8, 3.0, 2.1, 1.9, 0.0) == [0, 0, 1, 1, 1, 0, 0, 0, 1, 1]


def check_unknown_air_by_hand() -> None:
    """Unknown until an hour decides, at the start and after a hole. Also run on slipped code."""
    np.testing.assert_array_equal(by_depression(3.0, 2.5, 2.0, 3.0), [NAN, NAN, 1, 1])
    np.testing.assert_array_equal(by_depression(1.0, NAN, 3.0, 3.0, 4.0, 3.0), [1, NAN, NAN, NAN, 0, 0])
    np.testing.assert_array_equal(by_humidity(95.0, NAN, 80.0), [1, NAN, 0])


def check_series_apart(method: WetnessMethod, air: Air) -> None:
    """Each series alone equals the series in company. Also run on slipped code."""
    together = method.kernel(*air)
    for column in range(together.shape[1]):
        alone = method.kernel(*(array[:, column : column + 1] for array in air))
        np.testing.assert_array_equal(together[:, column : column + 1], alone)


def check_nothing_unknown_turns_dry(method: WetnessMethod, air: Air) -> None:
    """Readings taken away leave an hour as it was or unknown, never otherwise. Also run on slipped code."""
    temperature, dew_point, humidity, rain = air
    whole = method.kernel(temperature, dew_point, humidity, rain)
    every_third = np.arange(temperature.size).reshape(temperature.shape) % 3 == 0
    holed_t, holed_td, holed_rh = (np.where(every_third, NAN, array) for array in (temperature, dew_point, humidity))
    with_holes = method.kernel(holed_t, holed_td, holed_rh, rain)
    known = ~np.isnan(with_holes)
    np.testing.assert_array_equal(with_holes[known], whole[known])
    no_rain_known = every_third & ~(rain >= 0.25)
    assert np.isnan(with_holes[no_rain_known]).all()


def check_inputs_untouched(kernel: Callable[..., Floats], air: Air) -> None:
    """A method reads its input and does not write in it. Also run on slipped code."""
    given_air = tuple(array.copy() for array in air)
    kernel(*given_air)
    for before, after in zip(air, given_air, strict=True):
        np.testing.assert_array_equal(after, before)


def test_both_thresholds_by_hand() -> None:
    check_hysteresis_by_hand()
    assert by_humidity(89.9, 90.0, 100.0, 0.0) == [0, 1, 1, 0]


def test_unknown_air_by_hand() -> None:
    check_unknown_air_by_hand()


def test_a_threshold_is_met_by_every_pair_of_tenths_that_far_apart() -> None:
    # In binary, 20.1 − 18.1 is a hair over 2 and 9.5 − 5.7 a hair under 3.8; a station that prints tenths means them.
    tenths = np.arange(-300, 450)
    temperature, rain = tenths / 10, np.zeros(len(tenths))
    two_below, more_below = (tenths - 20) / 10, (tenths - 38) / 10
    assert (DEW_POINT_DEPRESSION.kernel(temperature, two_below, rain, rain) == 1).all()
    assert (DEW_POINT_DEPRESSION.kernel(temperature, more_below, rain, rain) == 0).all()


def test_a_film_lasts_over_midnight() -> None:
    # Formed at the 22nd hour of one day, held in drier air to the 8th of the next, when it dries.
    night = by_depression(*[6.0] * 21, 1.5, *[3.0] * 9, 4.0, *[3.0] * 5)
    assert night == [0] * 21 + [1] * 10 + [0] * 6


def test_rain_wets_from_one_tip_of_a_hundredth_of_an_inch() -> None:
    # A tip is 0.254 mm; files that round it to 0.25 mean it too.
    for tip in (0.254, 0.25):
        for found in (by_depression(9.0, NAN, rain_mm=tip), by_humidity(40.0, NAN, rain_mm=tip)):
            assert found == [1, 1]
    for found in (by_depression(9.0, NAN, rain_mm=0.24), by_humidity(40.0, NAN, rain_mm=0.24)):
        np.testing.assert_array_equal(found, [0, NAN])


def test_where_rain_is_unknown_humidity_alone_decides() -> None:
    np.testing.assert_array_equal(by_depression(9.0, 1.0, NAN, rain_mm=NAN), [0, 1, NAN])
    np.testing.assert_array_equal(by_humidity(40.0, 95.0, NAN, rain_mm=NAN), [0, 1, NAN])


@every_method
def test_key_name_and_dated_source_are_given(method: WetnessMethod) -> None:
    assert METHODS[method.key] is method
    assert method.kernel.__module__.rsplit(".", 1)[-1] == method.key
    assert method.name
    assert any(word.strip("(),;").isdigit() and len(word.strip("(),;")) == 4 for word in method.source.split())


def test_the_default_is_in_the_catalogue() -> None:
    assert METHODS[DEFAULT.key] is DEFAULT


@every_method
@unhurried
@given(humid_air())
def test_every_answer_is_a_share_or_unknown_and_shaped_as_the_air(method: WetnessMethod, air: Air) -> None:
    found = method.kernel(*air)
    assert found.shape == air[0].shape
    assert (np.isnan(found) | ((found >= 0) & (found <= 1))).all()


@every_method
@unhurried
@given(humid_air())
def test_one_series_no_series_axis_and_members_all_agree(method: WetnessMethod, air: Air) -> None:
    check_series_apart(method, air)
    together = method.kernel(*air)
    np.testing.assert_array_equal(method.kernel(*(array[:, 0] for array in air)), together[:, 0])
    members = method.kernel(*(np.stack([array, array[:, ::-1]], axis=2) for array in air))
    np.testing.assert_array_equal(members[..., 0], together)
    np.testing.assert_array_equal(members[..., 1], together[:, ::-1])


@every_method
@unhurried
@given(humid_air(holes=False))
def test_nothing_unknown_counts_as_dry(method: WetnessMethod, air: Air) -> None:
    check_nothing_unknown_turns_dry(method, air)


@every_method
@unhurried
@given(humid_air())
def test_inputs_stay_untouched(method: WetnessMethod, air: Air) -> None:
    check_inputs_untouched(method.kernel, air)


@every_method
def test_read_only_arrays_are_accepted(method: WetnessMethod) -> None:
    given_air = [np.full((3, 2), figure) for figure in (20.0, 19.0, 94.0, 0.0)]
    for array in given_air:
        array.flags.writeable = False
    assert (method.kernel(*given_air) == 1).all()


@every_method
def test_a_panel_gets_its_wetness_with_or_without_a_gauge(method: WetnessMethod) -> None:
    hours = np.datetime64("2031-07-01T00", "h") + np.arange(3)
    air = {
        "air_temperature_c": np.array([[20.0], [20.0], [NAN]]),
        "dew_point_c": np.array([[19.0], [10.0], [19.0]]),
        "relative_humidity_pct": np.array([[94.0], [53.0], [NAN]]),
    }
    panel = with_leaf_wetness(observed(hours, ("alder",), air), method)
    np.testing.assert_array_equal(panel.values["leaf_wet_fraction"][:, 0], [1, 0, NAN])
    rained = observed(hours, ("alder",), {**air, "rain_mm": np.array([[0.0], [2.0], [2.0]])})
    found = with_leaf_wetness(rained, method)
    assert found.values["leaf_wet_fraction"][:, 0].tolist() == [1, 1, 1]
    # An hour that rain alone tells of is not missing.
    assert not (found.flags["leaf_wet_fraction"] == Flag.MISSING).any()
    assert (panel.flags["leaf_wet_fraction"][:, 0] == Flag.MISSING).tolist() == [False, False, True]
