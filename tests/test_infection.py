"""The generic infection model: published check values, what chambers showed, and how wet spells join and end."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import unhurried

from forecast.diseases.brown_patch_infection import BROWN_PATCH_INFECTION
from forecast.diseases.declare import DiseaseModel
from forecast.diseases.gray_leaf_spot_infection import GRAY_LEAF_SPOT_INFECTION
from forecast.diseases.infection import needed_wet_h, temperature_response, wet_share
from forecast.panel import Floats

NAN = math.nan

# Kaki fungus and Phytophthora cactorum: parameters of the test set in the documentation of the R package ZeBook 1.1.
# Their f and W by the two formulas, ((hi − T)/(hi − best)) ((T − lo)/(best − lo))^((best − lo)/(hi − best)) and Wmin/f,
# to the digits shown.
KAKI = {"lowest_c": 7.0, "best_c": 18.0, "highest_c": 30.0}
KAKI_TABLE = [
    (10, 0.5065, 19.742),
    (15, 0.9335, 10.712),
    (18, 1.0, 10.0),
    (25, 0.6544, 15.281),
    (28, 0.3015, 33.169),
]
CACTORUM = {"lowest_c": 1.0, "best_c": 25.0, "highest_c": 35.0}
CACTORUM_TABLE = [(15, 0.5486, 3.646), (20, 0.8562, 2.336), (30, 0.7874, 2.540)]
TABLES = [(KAKI, 10.0, 42.0, *row) for row in KAKI_TABLE] + [(CACTORUM, 2.0, 5.0, *row) for row in CACTORUM_TABLE]


@pytest.mark.parametrize(("fungus", "least_h", "most_h", "temperature_c", "response", "needed_h"), TABLES)
def test_response_and_hours_needed_are_those_of_the_tables(
    fungus: dict[str, float], least_h: float, most_h: float, temperature_c: float, response: float, needed_h: float
) -> None:
    assert temperature_response(temperature_c, **fungus) == pytest.approx(response, abs=5e-5)
    found = needed_wet_h(temperature_c, **fungus, least_wet_h=least_h, most_wet_h=most_h)
    assert found == pytest.approx(needed_h, abs=5e-4)


def test_hours_needed_are_capped_inside_the_range_and_none_suffice_outside() -> None:
    # At 29 °C the kaki fungus would need 10 ÷ (1/12 × 2^(11/12)) = 63.6 h: the table has the cap of 42.
    hours = needed_wet_h(np.array([29.0, 7.0, 30.0, 5.0, 31.0, NAN]), **KAKI, least_wet_h=10.0, most_wet_h=42.0)
    np.testing.assert_array_equal(hours, [42.0, np.inf, np.inf, np.inf, np.inf, NAN])


def test_the_response_is_one_at_the_best_and_falls_to_both_sides() -> None:
    temperature = np.linspace(7, 30, 231)  # steps of a tenth
    response = temperature_response(temperature, **KAKI)
    best = response.argmax()
    assert temperature[best] == pytest.approx(18.0, abs=1e-9)
    assert response[best] == pytest.approx(1.0, abs=1e-12)
    assert (np.diff(response[: best + 1]) > 0).all()
    assert (np.diff(response[best:]) < 0).all()
    assert response[0] == response[-1] == 0


def test_nothing_infects_at_the_ends_and_beyond_them() -> None:
    found = temperature_response(np.array([-40.0, 6.9, 7.0, 30.0, 30.1, 60.0, NAN]), **KAKI)
    np.testing.assert_array_equal(found, [0, 0, 0, 0, 0, 0, NAN])


@pytest.mark.parametrize("wrong", [{"lowest_c": 19.0}, {"best_c": 31.0}, {"highest_c": 18.0}])
def test_temperatures_out_of_order_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="out of order"):
        temperature_response(20.0, **{**KAKI, **wrong})


def test_wet_hours_out_of_order_are_refused() -> None:
    for least_h, most_h in ((0.0, 10.0), (11.0, 10.0)):
        with pytest.raises(ValueError, match="out of order"):
            needed_wet_h(20.0, **KAKI, least_wet_h=least_h, most_wet_h=most_h)
    with pytest.raises(ValueError, match="end a wet spell"):
        _share([0.0, 1.0], 20.0, dry_gap_h=0.0)


# What chambers showed.


def _highest(model: DiseaseModel, temperature_c: float, wet_h: int) -> tuple[float, float]:
    """The answer after one wet spell, and the formula's own."""
    wet = np.concatenate([np.zeros(6), np.ones(wet_h), np.zeros(6)])
    found = model.evaluate({"leaf_wet_fraction": wet, "air_temperature_c": np.full(wet.shape, temperature_c)})
    return float(np.fmax.reduce(found.answer)), float(np.fmax.reduce(found.as_printed))


def test_brown_patch_is_as_in_the_chamber_at_its_two_ends() -> None:
    # Gross, Santini, Tikhonova & Latin 1998, abstract: 15 to 27 °C by 9 to 24 wet hours; no disease at 15 °C and 9 h,
    # most at 24 °C and 24 h.
    grid = {(c, h): _highest(BROWN_PATCH_INFECTION, c, h)[1] for c in (15, 18, 21, 24, 27) for h in (9, 12, 15, 18, 24)}
    assert max(grid, key=lambda at: grid[at]) == (24, 24)
    assert min(grid, key=lambda at: grid[at]) == (15, 9)
    assert grid[15, 9] < BROWN_PATCH_INFECTION.threshold < grid[24, 24]
    for c in (15, 18, 21, 24, 27):
        assert [grid[c, h] for h in (9, 12, 15, 18, 24)] == sorted(grid[c, h] for h in (9, 12, 15, 18, 24))


# Hours needed at each temperature, 9/f to a tenth, f = (35 − T)/10 × ((T − 10)/15)^1.5.
BROWN_PATCH_HOURS = [(15, 23.4), (18, 13.6), (21, 10.2), (24, 9.1), (27, 9.3), (30, 11.7)]


@pytest.mark.parametrize(("temperature_c", "needed_h"), BROWN_PATCH_HOURS)
def test_brown_patch_needs_these_wet_hours(temperature_c: float, needed_h: float) -> None:
    by_hand = 9 / ((35 - temperature_c) / 10 * ((temperature_c - 10) / 15) ** 1.5)
    assert by_hand == pytest.approx(needed_h, abs=0.05)
    assert 12 / _highest(BROWN_PATCH_INFECTION, temperature_c, 12)[1] == pytest.approx(by_hand, rel=1e-7)


def test_gray_leaf_spot_is_as_in_the_chamber() -> None:
    # Uddin, Serlemitsos & Viji 2003, abstract: 20, 24, 28 and 32 °C by 3 to 36 wet hours; some disease everywhere,
    # 28 °C most favourable.
    for wet_h in range(3, 37, 3):
        printed = {c: _highest(GRAY_LEAF_SPOT_INFECTION, c, wet_h)[1] for c in (20, 24, 28, 32)}
        assert max(printed, key=lambda c: printed[c]) == 28
        assert min(printed.values()) > 0
    assert _highest(GRAY_LEAF_SPOT_INFECTION, 28, 3)[0] == 1.0


@pytest.mark.parametrize("model", [BROWN_PATCH_INFECTION, GRAY_LEAF_SPOT_INFECTION], ids=lambda model: model.key)
def test_a_hot_wet_night_is_held_at_the_best_temperature(model: DiseaseModel) -> None:
    best_c = model.coefficients["best_c"].value
    assert model.valid["air_temperature_c"].high == best_c
    at_best = _highest(model, best_c, 9)[0]
    for temperature_c in (best_c + 2, 34.0, 38.0):
        answer, printed = _highest(model, temperature_c, 9)
        assert answer == at_best
        assert printed < at_best
    assert _highest(model, 38.0, 9)[1] == 0  # as printed nothing infects: what the wetness was, is not in doubt


# Spells.

PLAIN = {"lowest_c": 10.0, "best_c": 25.0, "highest_c": 35.0, "least_wet_h": 8.0, "most_wet_h": 24.0}


def _share(wet: list[float], temperature_c: float | list[float] = 25.0, dry_gap_h: float = 4.0) -> list[float]:
    """The share of 8 wet hours (at 25 °C) reached at each hour."""
    fraction = np.array(wet)
    temperature = np.zeros(fraction.shape) + temperature_c
    found: list[float] = wet_share(fraction, temperature, **PLAIN, dry_gap_h=dry_gap_h).tolist()
    return found


def test_the_share_grows_by_the_hour_and_dry_hours_have_none() -> None:
    found = _share([0.0] * 4 + [1.0] * 10 + [0.0] * 3)
    assert found == [0.0] * 4 + [hours / 8 for hours in range(1, 11)] + [0.0] * 3


def test_eight_of_eight_hours_are_one_and_not_a_hair_less() -> None:
    # After years of odd temperatures in the running sums.
    rng = np.random.default_rng(2)
    before = 24 * 365 * 10
    wet = np.concatenate([np.where(np.arange(before) % 24 < 9, 1.0, 0.0), np.zeros(6), np.ones(8)])
    temperature = np.concatenate([rng.uniform(-20, 40, before), np.full(14, 25.0)])
    assert wet_share(wet, temperature, **PLAIN, dry_gap_h=4.0)[-1] == 1.0


@pytest.mark.parametrize(("gap_h", "hours"), [(1, 5), (3, 5), (4, 2), (9, 2)])
def test_spells_join_across_a_gap_shorter_than_the_limit(gap_h: int, hours: int) -> None:
    found = _share([0.0] * 4 + [1.0] * 3 + [0.0] * gap_h + [1.0] * 2)
    assert found[-1] == hours / 8


def test_many_short_gaps_join_many_spells_and_gaps_do_not_add_up() -> None:
    found = _share([0.0] * 4 + [1.0, 0.0, 0.0, 0.0] * 5 + [1.0])
    assert found[-1] == 6 / 8


def test_the_temperature_is_the_mean_of_the_wet_hours_of_the_spell() -> None:
    # 3 h at 16 °C, a dry gap at 30 °C, 2 h at 21 °C: mean of wet hours (3 × 16 + 2 × 21)/5 = 18 °C.
    wet = [0.0] * 4 + [1.0] * 3 + [0.0] * 2 + [1.0] * 2
    temperature = [5.0] * 4 + [16.0] * 3 + [30.0] * 2 + [21.0] * 2
    response = 17 / 10 * (8 / 15) ** 1.5
    assert _share(wet, temperature)[-1] == pytest.approx(5 * response / 8, abs=1e-8)


def test_an_hour_wet_for_half_of_it_is_wet() -> None:
    assert _share([0.0] * 4 + [0.5, 0.49])[-2:] == [1 / 8, 0.0]


def test_what_came_before_the_record_is_unknown_until_leaves_were_dry_long_enough() -> None:
    np.testing.assert_array_equal(_share([1.0, 0.0, 0.0, 0.0, 1.0]), [NAN, 0.0, 0.0, 0.0, NAN])
    np.testing.assert_array_equal(_share([1.0, 0.0, 0.0, 0.0, 0.0, 1.0]), [NAN, 0.0, 0.0, 0.0, 0.0, 1 / 8])
    np.testing.assert_array_equal(_share([0.0, 0.0, 0.0, 1.0]), [0.0, 0.0, 0.0, NAN])


def test_an_unknown_hour_makes_its_spell_unknown_from_there_on_and_no_later_one() -> None:
    found = _share([0.0] * 4 + [1.0, 1.0, NAN, 1.0, 0.0, 1.0] + [0.0] * 4 + [1.0])
    np.testing.assert_array_equal(found, [0.0] * 4 + [1 / 8, 2 / 8, NAN, NAN, 0.0, NAN] + [0.0] * 4 + [1 / 8])


def test_an_unknown_hour_in_a_gap_may_have_joined_two_spells() -> None:
    found = _share([0.0] * 4 + [1.0] + [0.0, 0.0, NAN, 0.0, 0.0, 0.0] + [1.0])
    assert math.isnan(found[-1])
    found = _share([0.0] * 4 + [1.0] + [0.0, 0.0, NAN, 0.0, 0.0, 0.0, 0.0] + [1.0])
    assert found[-1] == 1 / 8


def test_an_unknown_temperature_matters_over_wet_leaves_and_not_over_dry_ones() -> None:
    wet = [0.0] * 4 + [1.0] * 3
    assert _share(wet, [25.0, NAN, 25.0, 25.0, 25.0, 25.0, 25.0])[-1] == 3 / 8
    np.testing.assert_array_equal(_share(wet, [25.0] * 5 + [NAN, 25.0])[-3:], [1 / 8, NAN, NAN])


def _slow(wet: Floats, temperature_c: Floats, dry_gap_h: int) -> list[float]:
    """The same by going through the hours one by one, for one series."""
    found = []
    hours, warmth, dry_for, sure = 0, 0.0, 0, False
    for fraction, air_c in zip(wet, temperature_c, strict=True):
        if fraction < 0.5:
            dry_for += 1
            if dry_for >= dry_gap_h:
                hours, warmth, sure = 0, 0.0, True
            found.append(0.0)
            continue
        dry_for = 0
        if math.isnan(fraction) or math.isnan(air_c):
            sure = False
        if not sure:
            found.append(NAN)
            continue
        hours, warmth = hours + 1, warmth + air_c
        mean = round(warmth / hours, 9)
        if not 10 < mean < 35:
            found.append(0.0)
            continue
        response = (35 - mean) / 10 * ((mean - 10) / 15) ** 1.5
        found.append(hours / min(8 / response, 24))
    return found


@unhurried
@given(st.data(), st.integers(1, 6))
def test_all_hours_at_once_equal_the_hours_one_by_one(data: st.DataObject, dry_gap_h: int) -> None:
    length = data.draw(st.integers(1, 60))
    fractions = st.sampled_from([0.0, 0.0, 0.0, 0.2, 0.5, 1.0, 1.0, NAN])
    temperatures = st.one_of(st.integers(50, 380).map(lambda tenths: tenths / 10), st.just(NAN))
    wet = np.array(data.draw(st.lists(fractions, min_size=length, max_size=length)))
    temperature = np.array(data.draw(st.lists(temperatures, min_size=length, max_size=length)))
    found = wet_share(wet, temperature, **PLAIN, dry_gap_h=dry_gap_h)
    np.testing.assert_allclose(found, _slow(wet, temperature, dry_gap_h), rtol=0, atol=1e-7)
