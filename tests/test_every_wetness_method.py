"""Leaf wetness: the rules of thumb by hand, what every method owes the models, and which method tells a record."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import hourly_arrays, invented_weather, some_series, steady_turf, turf, unhurried, with_holes

from forecast.canopy import TurfHours
from forecast.canopy.turf_hours import HOURLY, STAND
from forecast.wetness import BEST_FIRST, METHODS, WetnessMethod, best_known, wetness
from forecast.wetness.classification_tree import CLASSIFICATION_TREE
from forecast.wetness.dew_point_depression import DEW_POINT_DEPRESSION
from forecast.wetness.energy_balance import ENERGY_BALANCE
from forecast.wetness.extended_threshold import EXTENDED_THRESHOLD
from forecast.wetness.humidity_threshold import HUMIDITY_THRESHOLD

NAN = math.nan

every_method = pytest.mark.parametrize("method", METHODS.values(), ids=list(METHODS))


def by_depression(*depressions_c: float, rain_mm: float | list[float] = 0.0) -> list[float]:
    """Wet or dry by the dew-point rule at 20 °C."""
    air = steady_turf(len(depressions_c), dew_point_c=20.0 - np.array(depressions_c), rain_mm=rain_mm)
    found: list[float] = DEW_POINT_DEPRESSION.kernel(air)[:, 0].tolist()
    return found


def by_humidity(
    *humidities_pct: float, rain_mm: float | list[float] = 0.0, method: WetnessMethod = HUMIDITY_THRESHOLD
) -> list[float]:
    """Wet or dry by the humidity rule, or by another that reads humidity."""
    air = steady_turf(len(humidities_pct), relative_humidity_pct=humidities_pct, rain_mm=rain_mm)
    found: list[float] = method.kernel(air)[:, 0].tolist()
    return found


def by_extended(*humidities_pct: float, rain_mm: float | list[float] = 0.0) -> list[float]:
    """Wet or dry by the extended threshold."""
    return by_humidity(*humidities_pct, rain_mm=rain_mm, method=EXTENDED_THRESHOLD)


def check_hysteresis_by_hand() -> None:
    """Wet at 2.0 °C and below, dry at 3.8 and above, between them as before. Also run on slipped code."""
    assert by_depression(5.0, 3.0, 2.0, 3.0, 3.7, 3.8, 3.0, 2.1, 1.9, 0.0) == [0, 0, 1, 1, 1, 0, 0, 0, 1, 1]


def check_extended_by_hand() -> None:
    """Wet above 87 %, dry below 70; between, by 6 % up or 4 % down an hour, else as before. Also run on slips."""
    assert by_extended(69.9, 70.0, 75.9, 81.9, 78.0, 74.0, 79.9) == [0, 0, 0, 1, 1, 0, 0]
    assert by_extended(60.0, 87.0, 87.1, 83.2, 70.0, 69.9, 86.0) == [0, 1, 1, 1, 0, 0, 1]
    assert by_extended(88.0, 84.1, 80.2, 76.3, 72.4, 70.0, 69.9) == [1, 1, 1, 1, 1, 1, 0]
    assert by_extended(60.0, 65.9, 71.8, 77.7, 83.6, 87.0, 87.1) == [0, 0, 0, 0, 0, 0, 1]


def check_unknown_air_by_hand() -> None:
    """Unknown until an hour decides, at the start and after a hole. Also run on slipped code."""
    np.testing.assert_array_equal(by_depression(3.0, 2.5, 2.0, 3.0), [NAN, NAN, 1, 1])
    np.testing.assert_array_equal(by_depression(1.0, NAN, 3.0, 3.0, 4.0, 3.0), [1, NAN, NAN, NAN, 0, 0])
    np.testing.assert_array_equal(by_humidity(95.0, NAN, 80.0), [1, NAN, 0])
    np.testing.assert_array_equal(by_extended(75.0, 81.0, 80.0, NAN, 80.0, 79.0, 75.0), [NAN, 1, 1, NAN, NAN, NAN, 0])


def check_series_apart(method: WetnessMethod, whole: TurfHours) -> None:
    """Each series alone equals the series in company. Also run on slipped code."""
    together = method.kernel(whole)
    for column in range(together.shape[1]):
        alone = method.kernel(some_series(whole, slice(column, column + 1)))
        np.testing.assert_array_equal(together[:, column : column + 1], alone)


def check_nothing_unknown_turns_dry(method: WetnessMethod, whole: TurfHours, share: float = 0.1) -> None:
    """Readings taken away leave an hour as it was or unknown, never otherwise. Also run on slipped code."""
    before = method.kernel(whole)
    holed = with_holes(whole, np.random.default_rng(1), share, rain=False)
    after = method.kernel(holed)
    known = ~np.isnan(after)
    assert not np.isnan(before[known]).any()
    np.testing.assert_allclose(after[known], before[known], rtol=0, atol=1e-9)  # films that agree so far are one
    dry_sky = ~(whole.rain_mm >= 0.25) & ~(whole.irrigation_mm >= 0.25)
    assert np.isnan(after[~holed.known(method.needs) & dry_sky]).all()


def check_inputs_untouched(method: WetnessMethod, whole: TurfHours) -> None:
    """A method reads its input and does not write in it. Also run on slipped code."""
    copy = replace(whole, **{name: array.copy() for name, array in hourly_arrays(whole).items()})
    method.kernel(copy)
    for name in HOURLY:
        np.testing.assert_array_equal(getattr(copy, name), getattr(whole, name))


def test_both_thresholds_by_hand() -> None:
    check_hysteresis_by_hand()
    assert by_humidity(89.9, 90.0, 100.0, 0.0) == [0, 1, 1, 0]


def test_the_extended_threshold_by_hand() -> None:
    check_extended_by_hand()


def test_unknown_air_by_hand() -> None:
    check_unknown_air_by_hand()


def test_a_threshold_is_met_by_every_pair_of_tenths_that_far_apart() -> None:
    # In binary, 20.1 − 18.1 is a hair over 2 and 9.5 − 5.7 a hair under 3.8; a station that prints tenths means them.
    tenths = np.arange(-300, 450)
    for apart, wet in ((20, 1), (38, 0)):
        air = steady_turf(len(tenths), air_temperature_c=tenths / 10, dew_point_c=(tenths - apart) / 10)
        assert (DEW_POINT_DEPRESSION.kernel(air) == wet).all()
    for start in range(700, 810):
        low, four_up, six_up = start / 10, (start + 40) / 10, (start + 60) / 10
        assert by_extended(low, four_up, low, six_up, rain_mm=[0, 1, 0, 0])[1:] == [1, 0, 1]


def test_a_film_lasts_over_midnight() -> None:
    # Formed at the 22nd hour of one day, held in drier air to the 8th of the next, when it dries.
    night = by_depression(*[6.0] * 21, 1.5, *[3.0] * 9, 4.0, *[3.0] * 5)
    assert night == [0] * 21 + [1] * 10 + [0] * 6
    night = by_extended(*[65.0] * 21, 88.0, *[86.0] * 9, 69.0, *[71.0] * 5)
    assert night == [0] * 21 + [1] * 10 + [0] * 6


def test_rain_wets_from_one_tip_of_a_hundredth_of_an_inch() -> None:
    # A tip is 0.254 mm; files that round it to 0.25 mean it too.
    for tip in (0.254, 0.25):
        for found in (by_depression(9.0, NAN, rain_mm=tip), by_humidity(40.0, NAN, rain_mm=tip)):
            assert found == [1, 1]
        assert by_extended(40.0, NAN, rain_mm=tip) == [1, 1]
    for found in (by_depression(9.0, NAN, rain_mm=0.24), by_humidity(40.0, NAN, rain_mm=0.24)):
        np.testing.assert_array_equal(found, [0, NAN])
    np.testing.assert_array_equal(by_extended(40.0, NAN, rain_mm=0.24), [0, NAN])


def test_what_rain_wetted_dries_as_dew_does() -> None:
    assert by_depression(9.0, 9.0, 3.0, 3.0, 4.0, rain_mm=[0, 1, 0, 0, 0]) == [0, 1, 1, 1, 0]
    assert by_extended(60.0, 71.0, 72.0, 71.0, 67.0, rain_mm=[0, 1, 0, 0, 0]) == [0, 1, 1, 1, 0]
    # Whether humidity fell after an hour of rain at unknown humidity cannot be told, and so neither can the film.
    np.testing.assert_array_equal(by_extended(60.0, NAN, 72.0, rain_mm=[0, 1, 0]), [0, 1, NAN])


@pytest.mark.parametrize("method", [m for m in METHODS.values() if m is not ENERGY_BALANCE], ids=lambda m: m.key)
def test_where_rain_is_unknown_the_air_alone_decides(method: WetnessMethod) -> None:
    dry_sky = invented_weather(4, 400, 2).at_turf()
    unread = replace(dry_sky, rain_mm=np.full((400, 2), NAN))
    np.testing.assert_array_equal(method.kernel(unread), method.kernel(replace(dry_sky, rain_mm=np.zeros((400, 2)))))


@every_method
def test_rain_wets_whatever_is_unknown_of_the_air(method: WetnessMethod) -> None:
    unread = dict.fromkeys(method.needs, NAN)
    np.testing.assert_array_equal(method.kernel(steady_turf(2, **unread, rain_mm=[0.25, 0.2]))[:, 0], [1, NAN])


@every_method
def test_key_name_and_dated_source_are_given(method: WetnessMethod) -> None:
    assert METHODS[method.key] is method
    assert method.kernel.__module__.rsplit(".", 1)[-1] == method.key
    assert method.name
    assert any(word.strip("(),;").isdigit() and len(word.strip("(),;")) == 4 for word in method.source.split())


def test_a_method_that_needs_what_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match="leaf_temperature_c"):
        replace(HUMIDITY_THRESHOLD, needs=("leaf_temperature_c",))


@every_method
@unhurried
@given(turf())
def test_every_answer_is_a_share_or_unknown_and_shaped_as_the_hours(method: WetnessMethod, whole: TurfHours) -> None:
    found = method.kernel(whole)
    assert found.shape == whole.air_temperature_c.shape
    assert (np.isnan(found) | ((found >= 0) & (found <= 1))).all()


@every_method
@unhurried
@given(turf())
def test_one_series_no_series_axis_and_members_all_agree(method: WetnessMethod, whole: TurfHours) -> None:
    check_series_apart(method, whole)
    together = method.kernel(whole)
    first = some_series(whole, slice(0, 1))
    figures = {name: np.asarray(getattr(first, name)).item() for name in STAND}
    flat = {name: array[:, 0] for name, array in hourly_arrays(whole).items()}
    alone = TurfHours(**flat, **figures)
    np.testing.assert_array_equal(method.kernel(alone), together[:, 0])
    # The same stands under two members: as they are, and with the hours of all series reversed in time.
    both = {name: np.stack([array, array[::-1]], axis=2) for name, array in hourly_arrays(whole).items()}
    stand = {name: np.atleast_1d(np.asarray(getattr(whole, name)))[:, None] for name in STAND}
    members = method.kernel(TurfHours(**both, **stand))
    reverse = replace(whole, **{name: array[::-1] for name, array in hourly_arrays(whole).items()})
    np.testing.assert_array_equal(members[..., 0], together)
    np.testing.assert_array_equal(members[..., 1], method.kernel(reverse))


@every_method
@unhurried
@given(turf(holes=False), st.sampled_from([0.01, 0.1, 0.4]))
def test_nothing_unknown_counts_as_dry(method: WetnessMethod, whole: TurfHours, share: float) -> None:
    check_nothing_unknown_turns_dry(method, whole, share)


@every_method
@unhurried
@given(turf())
def test_inputs_stay_untouched(method: WetnessMethod, whole: TurfHours) -> None:
    check_inputs_untouched(method, whole)


@every_method
def test_read_only_arrays_and_no_hours_are_accepted(method: WetnessMethod) -> None:
    fog = steady_turf(3, dew_point_c=20.0, relative_humidity_pct=100.0, rain_mm=1.0)
    for array in hourly_arrays(fog).values():
        array.flags.writeable = False
    assert (method.kernel(fog) == 1).all()
    no_hours = replace(fog, **{name: array[:0] for name, array in hourly_arrays(fog).items()})
    assert method.kernel(no_hours).shape == (0, 1)
    assert method.kernel(some_series(fog, slice(0, 0))).shape == (3, 0)


@every_method
def test_the_calendar_does_not_matter(method: WetnessMethod) -> None:
    # Whole days taken off the front leave every later hour as it was, once a record knows its own film.
    whole = invented_weather(8, 24 * 40, 3).at_turf()
    for days in (1, 10):
        later = replace(whole, **{name: array[24 * days :] for name, array in hourly_arrays(whole).items()})
        found, before = method.kernel(later), method.kernel(whole)[24 * days :]
        known = ~np.isnan(found)
        assert known[72:].all()
        np.testing.assert_array_equal(found[known], before[known])


# Which method tells a record.


def test_the_best_method_whose_readings_are_there_tells_the_record() -> None:
    assert BEST_FIRST == (ENERGY_BALANCE, CLASSIFICATION_TREE, DEW_POINT_DEPRESSION)
    whole = steady_turf(2000)
    assert wetness(whole).method is ENERGY_BALANCE
    no_sky = replace(whole, net_radiation_w_m2=np.full((2000, 1), NAN))
    assert wetness(no_sky).method is CLASSIFICATION_TREE
    still = replace(no_sky, wind_speed_10m_m_s=np.full((2000, 1), NAN), wind_speed_2m_m_s=np.full((2000, 1), NAN))
    assert wetness(still).method is DEW_POINT_DEPRESSION
    assert wetness(replace(still, air_temperature_c=np.full((2000, 1), NAN))).method is DEW_POINT_DEPRESSION


@pytest.mark.parametrize(("unknown_hours", "method"), [(6, ENERGY_BALANCE), (7, CLASSIFICATION_TREE)])
def test_nine_in_ten_of_the_hours_with_air_must_be_told(unknown_hours: int, method: WetnessMethod) -> None:
    """Of 100 hours 40 have no air, as when a logger was off; of the other 60 a method may miss six and no more."""
    hour = np.arange(100)[:, None]
    turf = steady_turf(100)
    turf = replace(turf, air_temperature_c=np.where(hour < 40, NAN, turf.air_temperature_c))
    told = {one.key: np.where(hour < 40, NAN, 0.0) for one in METHODS.values()}
    told["energy_balance"] = np.where(hour < 40 + unknown_hours, NAN, 0.0)
    assert best_known(turf, told) is method
    # Hours that a method tells without air, such as those of rain, do not make up for others.
    told["energy_balance"] = np.where((hour >= 40) & (hour < 40 + unknown_hours), NAN, 0.0)
    assert best_known(turf, told) is method


def test_where_the_teller_cannot_tell_the_next_stands_in() -> None:
    # 5 °C above the dew point: the film that may be left after the unknown hours keeps the energy balance from telling.
    radiation = np.where((np.arange(200) >= 100) & (np.arange(200) < 104), NAN, 0.0)
    found = wetness(steady_turf(200, net_radiation_w_m2=radiation), "energy_balance")
    told = found.by_method["energy_balance"][:, 0]
    assert np.isnan(told[100:104]).all()
    np.testing.assert_array_equal(found.stood_in[:, 0], np.isnan(told))
    next_best = found.by_method["classification_tree"]
    np.testing.assert_array_equal(found.fraction[found.stood_in], next_best[found.stood_in])
    np.testing.assert_array_equal(found.fraction[~found.stood_in], told[~np.isnan(told)])


def test_the_tree_stands_in_before_the_dew_point_rule() -> None:
    """Wet until hour 100; then 3 °C from the dew point in a wind of 5 m/s: dry by the tree, held wet by the rule."""
    late = np.arange(200) >= 100
    turf = steady_turf(
        200,
        air_temperature_c=20.0,
        dew_point_c=np.where(late, 17.0, 19.5),
        relative_humidity_pct=np.where(late, 82.9, 96.9),
        wind_speed_10m_m_s=np.where(late, 5.0, 1.0),
        net_radiation_w_m2=np.where(late, NAN, 0.0),
    )
    found = wetness(turf, "energy_balance")
    tree, rule = (found.by_method[key][150, 0] for key in ("classification_tree", "dew_point_depression"))
    assert (tree, rule) == (0, 1)
    assert found.stood_in[150, 0]
    assert found.fraction[150, 0] == tree


def test_a_named_method_tells_and_every_method_is_at_hand() -> None:
    whole = invented_weather(2, 200, 1).at_turf()
    found = wetness(whole, "humidity_threshold")
    assert found.method is HUMIDITY_THRESHOLD
    assert set(found.by_method) == set(METHODS)
    for key, method in METHODS.items():
        np.testing.assert_array_equal(found.of(key), method.kernel(whole))
    np.testing.assert_array_equal(found.of(""), found.fraction)
    np.testing.assert_array_equal(found.fraction, found.by_method["humidity_threshold"])
    with pytest.raises(KeyError):
        wetness(whole, "tea_leaves")


def test_an_hour_that_no_method_can_tell_stays_unknown() -> None:
    unread = steady_turf(3, **dict.fromkeys(("air_temperature_c", "dew_point_c", "relative_humidity_pct"), NAN))
    found = wetness(unread)
    assert np.isnan(found.fraction).all()
    assert not found.stood_in.any()
