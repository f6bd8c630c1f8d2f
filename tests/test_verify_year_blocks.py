"""Intervals by leaving years out: arithmetic, Student's interval of a mean, and how often they hold a known truth.

All losses here are invented.
"""

from __future__ import annotations

import math
from functools import partial
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from forecast.panel import Floats
from forecast.verify.scores import auc, brier_skill
from forecast.verify.value import excess_expense, relative_value
from forecast.verify.year_blocks import Skill, difference_with_interval, score_with_interval, skill_with_interval

NAN = math.nan
SEED = 20500718


def floats(*values: float) -> Floats:
    return np.array(values, np.float64)


def ends(found: Skill) -> tuple[float, float, float]:
    return found.value, found.low, found.high


# By hand


def test_interval_by_hand() -> None:
    # Two cases a year; sums of the loss 1, 2, 3 and of the reference 4 each.
    loss = floats(0.5, 0.5, 0.5, 1.5, 3, 0)
    reference = floats(2, 2, 1, 3, 0, 4)
    years = np.array([2031, 2031, 2030, 2030, 2040, 2040])
    found = skill_with_interval(loss, reference, years)
    # Without each year 1 − 5/8, 1 − 4/8, 1 − 3/8: squares about 0.5 sum to 2 · 0.125², times 2/3; t of 2 at 95 % 2.920.
    half = 2.920 * math.sqrt(2 / 3 * 2 * 0.125**2)
    assert ends(found) == pytest.approx((0.5, 0.5 - half, 0.5 + half), abs=1e-4)
    assert (found.cases, found.years) == (6, 3)


def test_years_of_unlike_length_by_hand() -> None:
    # Sums 1 of 2, 1 of 4, 3 of 6, in years of one, two and three cases.
    loss, reference = floats(1, 0.5, 0.5, 1, 1, 1), floats(2, 2, 2, 2, 2, 2)
    found = skill_with_interval(loss, reference, np.array([1, 2, 2, 3, 3, 3]))
    without = np.array([1 - 4 / 10, 1 - 4 / 8, 1 - 2 / 6])
    error = math.sqrt(2 / 3 * ((without - without.mean()) ** 2).sum())
    assert found.value == pytest.approx(1 - 5 / 12)
    assert found.low == pytest.approx(1 - 5 / 12 - 2.920 * error, abs=1e-4)


def test_with_a_constant_reference_it_is_students_interval_of_a_mean() -> None:
    loss = np.random.default_rng(1).random(9)
    low, high = stats.t.interval(0.9, 8, np.mean(1 - loss), stats.sem(1 - loss))
    found = skill_with_interval(loss, np.ones(9), np.arange(9))
    assert ends(found) == pytest.approx((np.mean(1 - loss), low, high))


def test_difference_by_hand_and_pairing() -> None:
    # Years hard for both, one always better by a tenth: the skills are unsure, their difference is not.
    hard = floats(1, 4, 2, 8, 3)
    years = np.arange(5)
    found = difference_with_interval(0.5 * hard, 0.6 * hard, hard, years)
    assert ends(found) == pytest.approx((0.1, 0.1, 0.1))
    # Not so where the reference is the same every year: sums 1.8 of 5, and as unsure as a mean of 0.1 to 0.8.
    found = difference_with_interval(0.5 * hard, 0.6 * hard, np.ones(5), years)
    low, high = stats.t.interval(0.9, 4, 0.36, stats.sem(0.1 * hard))
    assert ends(found) == pytest.approx((0.36, low, high))


def test_difference_is_the_better_one_less_the_other() -> None:
    random = np.random.default_rng(2)
    loss, other, reference, years = *(random.random((3, 60)) * [[0.5], [0.7], [1]]), np.repeat(np.arange(6), 10)
    found = difference_with_interval(loss, other, reference, years)
    apart = skill_with_interval(loss, reference, years).value - skill_with_interval(other, reference, years).value
    assert found.value == pytest.approx(apart)
    assert found.value > 0
    back = difference_with_interval(other, loss, reference, years)
    assert ends(back) == pytest.approx((-found.value, -found.high, -found.low))


# What counts as one


def test_cases_of_a_year_count_as_one_however_many_there_are() -> None:
    random = np.random.default_rng(3)
    loss, reference, years = random.random(8), 1 + random.random(8), np.arange(8)
    once = skill_with_interval(loss, reference, years)
    # The same year told by 50 stations alike knows no more; as if by 400 years, the interval would be a seventh.
    many = skill_with_interval(np.tile(loss, 50), np.tile(reference, 50), np.tile(years, 50))
    assert ends(many) == pytest.approx(ends(once))
    assert (many.cases, many.years) == (400, 8)
    alone = skill_with_interval(np.tile(loss, 50), np.tile(reference, 50), np.arange(400))
    assert alone.high - alone.low < (once.high - once.low) / 6


@given(st.integers(3, 8), st.integers(0, 1000))
def test_order_names_of_years_and_scale_do_not_matter(many: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    loss, reference, years = random.random(40), 0.5 + random.random(40), random.integers(0, many, 40)
    found = skill_with_interval(loss, reference, years)
    order = random.permutation(40)
    again = skill_with_interval(7 * loss[order], 7 * reference[order], 3000 - 2 * years[order])
    assert ends(again) == pytest.approx(ends(found), nan_ok=True)


def test_unknown_cases_are_dropped_from_all_sums_and_from_the_years() -> None:
    random = np.random.default_rng(4)
    loss, other, reference, years = *random.random((3, 20)), np.repeat(np.arange(5), 4)
    holes = np.concatenate([[loss, other, reference], 1 + np.where(np.eye(3) == 1, NAN, 0)], axis=1)
    more_years = np.concatenate([years, [7, 8, 9]])
    found = difference_with_interval(holes[0], holes[1], holes[2], more_years)
    assert found == difference_with_interval(loss, other, reference, years)
    assert (found.cases, found.years) == (20, 5)
    assert skill_with_interval(holes[0], holes[2], more_years).years == 6  # the year in which only the other is unknown


def test_fewer_than_three_years_have_no_interval() -> None:
    for years in ([1, 1, 1], [1, 1, 2]):
        found = skill_with_interval(floats(1, 2, 3), floats(2, 4, 6), np.array(years))
        assert found.value == pytest.approx(0.5)
        assert math.isnan(found.low)
        assert math.isnan(found.high)
    assert not math.isnan(skill_with_interval(floats(1, 2, 3), floats(2, 4, 6), np.arange(3)).low)


def test_what_cannot_be_told_is_unknown() -> None:
    empty = skill_with_interval(np.zeros(0), np.zeros(0), np.zeros(0))
    assert (empty.cases, empty.years) == (0, 0)
    assert all(math.isnan(value) for value in ends(empty))
    assert all(math.isnan(value) for value in ends(skill_with_interval(np.ones(4), np.zeros(4), np.arange(4))))
    # All that the reference loses, it loses in one year: without that year there is no skill to tell.
    found = skill_with_interval(floats(0.1, 0.1, 0, 0, 0), floats(0.3, 0.7, 0, 0, 0), np.array([1, 1, 2, 3, 4]))
    assert found.value == pytest.approx(0.8)
    assert math.isnan(found.low)
    assert math.isnan(found.high)


def test_a_perfect_method_is_surely_perfect_and_the_reference_surely_without_skill() -> None:
    reference, years = floats(0.3, 0.2, 0.6, 0.1), np.arange(4)
    assert ends(skill_with_interval(np.zeros(4), reference, years)) == (1, 1, 1)
    assert ends(skill_with_interval(reference, reference, years)) == (0, 0, 0)


def test_no_skill_reaches_past_one() -> None:
    found = skill_with_interval(floats(0, 0, 0, 1), np.ones(4), np.arange(4))
    assert found.high == 1
    assert found.low < 0.5


def test_shapes_have_to_fit() -> None:
    with pytest.raises(ValueError, match="one figure a case"):
        skill_with_interval(np.ones(3), np.ones(3), np.arange(2))
    with pytest.raises(ValueError, match="one figure a case"):
        score_with_interval(auc, np.arange(2), np.ones(3), np.ones(3))


# Any score


def some_cases(seed: int) -> tuple[Floats, Floats, Floats, NDArray[Any]]:
    random = np.random.default_rng(seed)
    chance, reference = random.random((2, 200))
    happened = (random.random(200) < chance).astype(np.float64)
    happened[random.integers(0, 200, 10)] = NAN
    return chance, happened, reference, np.repeat(np.arange(10), 20)


def test_any_score_and_the_sums_give_the_same() -> None:
    chance, happened, reference, years = some_cases(5)
    by_score = score_with_interval(brier_skill, years, chance, happened, reference)
    by_sums = skill_with_interval((chance - happened) ** 2, (reference - happened) ** 2, years)
    assert ends(by_score) == pytest.approx(ends(by_sums))
    assert (by_score.cases, by_score.years) == (by_sums.cases, by_sums.years)


def test_value_has_its_interval_by_excess_expense() -> None:
    chance, happened, reference, years = some_cases(6)
    excess, excess_so_far = (excess_expense(one, happened, 0.3) for one in (chance, reference))
    by_sums = skill_with_interval(excess, excess_so_far, years)
    by_score = score_with_interval(partial(relative_value, cost_loss=0.3), years, chance, happened, reference)
    assert ends(by_sums) == pytest.approx(ends(by_score))


def test_area_by_leaving_years_out_by_hand() -> None:
    chance, happened = floats(0.9, 0.1, 0.4, 0.6, 0.8, 0.3), floats(1, 0, 1, 0, 1, 0)
    years = np.array([1, 1, 2, 2, 3, 3])
    found = score_with_interval(auc, years, chance, happened)
    # All: 0.9 and 0.8 above three each, 0.4 above two: 8 of 9. Without year 1: 0.4, 0.8 by 0.6, 0.3: 3 of 4; without
    # year 2: 4 of 4; without year 3: 0.9, 0.4 by 0.1, 0.6: 3 of 4.
    without = np.array([0.75, 1, 0.75])
    half = 2.920 * math.sqrt(2 * without.var())
    assert ends(found) == pytest.approx((8 / 9, 8 / 9 - half, 8 / 9 + half), abs=1e-4)


def test_a_score_that_one_year_alone_carries_has_no_interval() -> None:
    found = score_with_interval(auc, np.array([1, 1, 2, 3]), floats(0.9, 0.1, 0.2, 0.3), floats(1, 0, 0, 0))
    assert found.value == 1
    assert math.isnan(found.low)


# How often it holds the truth


def test_nine_of_ten_intervals_of_few_years_hold_the_truth_and_percentiles_do_not() -> None:
    """Years hard or easy for both methods alike, skewed as sums of squares are; the true skill is 0.3."""
    random = np.random.default_rng(SEED)
    tries = 1200
    for years, percentiles_at_most in ((5, 0.82), (8, 0.86)):
        hard = random.gamma(4, 1, (tries, years))
        reference = hard * random.gamma(20, 1 / 20, hard.shape)
        loss = 0.7 * hard * random.gamma(20, 1 / 20, hard.shape)
        held = by_percentiles = 0
        for one, beaten in zip(loss, reference, strict=True):
            found = skill_with_interval(one, beaten, np.arange(years))
            held += found.low <= 0.3 <= found.high
            times = random.multinomial(years, np.full(years, 1 / years), 300)
            low, high = np.quantile(1 - (times @ one) / (times @ beaten), [0.05, 0.95])
            by_percentiles += low <= 0.3 <= high
        assert 0.87 <= held / tries <= 0.93  # a standard error of 0.9 %
        assert by_percentiles / tries <= percentiles_at_most
