"""Reliability in bins: counts and edges by hand, the band by counting signs, and how often it holds what it should.

All cases here are invented.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from forecast.panel import Floats
from forecast.verify.reliability import Bin, reliability, slope
from forecast.verify.year_blocks import score_with_interval

NAN = math.nan
Cases = NDArray[Any]
SEED = 20500718


def told(
    chance: Floats, happened: Floats, years: Cases | None = None, *, bins: int = 10, draws: int = 20_000, seed: int = 1
) -> tuple[Bin, ...]:
    of = np.arange(chance.size) % 5 if years is None else years
    return reliability(chance, happened, of, bins=bins, draws=draws, random=np.random.default_rng(seed))


# By hand


def test_counts_means_and_frequencies_by_hand() -> None:
    chance = np.array([0.05, 0.09, 0.31, 0.39, 0.33, 0.95, NAN, 0.5])
    happened = np.array([0, 1, 0, 1, 1, 1, 1, NAN])
    found = told(chance, happened, np.array([1, 1, 1, 2, 3, 1, 1, 1]))
    assert [(one.count, one.years) for one in found] == [(2, 1), *[(0, 0)] * 2, (3, 3), *[(0, 0)] * 5, (1, 1)]
    assert (found[0].mean_chance, found[0].frequency) == pytest.approx((0.07, 0.5))
    assert (found[3].mean_chance, found[3].frequency) == pytest.approx((1.03 / 3, 2 / 3))
    assert all(math.isnan(value) for value in (found[5].mean_chance, found[5].frequency, found[5].consistent_low))


def test_a_chance_on_an_edge_belongs_above_it_and_one_to_the_last_bin() -> None:
    edges = np.arange(11) / 10
    assert [one.count for one in told(edges, np.zeros(11))] == [1] * 9 + [2]
    # 0.29 · 100 is 28.999999999999996 in binary, and 0.1 + 0.2 is above 0.3.
    hundredths = [one.count for one in told(np.array([0.29, 0.57, 0.58]), np.zeros(3), bins=100)]
    assert [place for place, count in enumerate(hundredths) if count] == [29, 57, 58]
    assert told(np.array([0.1 + 0.2, 1 - 0.7]), np.zeros(2))[3].count == 2


def test_without_a_known_case_bins_are_empty() -> None:
    for chance in (np.zeros(0), np.array([NAN])):
        found = told(chance, np.ones(chance.size), np.zeros(chance.size))
        assert [one.count for one in found] == [0] * 10
        assert math.isnan(slope(chance, np.ones(chance.size)))


# The band


def of_years(chance: float, frequency: list[float], days: int = 100) -> tuple[Floats, Floats, Cases]:
    """So many days a year of one chance, with the event on a share of them."""
    happened = np.concatenate([np.arange(days) < round(share * days) for share in frequency]).astype(np.float64)
    return np.full(happened.size, chance), happened, np.repeat(np.arange(len(frequency)), days)


def test_the_band_by_counting_signs() -> None:
    # Four years, each 30 events off of 100: with signs drawn, all four fall one way in 1 of 16, more than 5 %.
    chance, happened, years = of_years(0.5, [0.8, 0.2, 0.8, 0.2])
    found = told(chance, happened, years)[5]
    assert (found.consistent_low, found.consistent_high) == pytest.approx((0.5 - 0.3, 0.5 + 0.3))
    # Eight years: 5 % lies between seven ways or more (9 of 256) and six (37 of 256), a sum of 4 · 30 of 800.
    chance, happened, years = of_years(0.5, [0.8, 0.2] * 4)
    found = told(chance, happened, years)[5]
    assert (found.consistent_low, found.consistent_high) == pytest.approx((0.5 - 120 / 800, 0.5 + 120 / 800))


def test_the_band_is_never_narrower_than_independent_cases_give() -> None:
    # Two events of 100 more than told in every year: signs alone would say 0.28 to 0.32, and the binomial of 100 or 400
    # cases says more.
    for years_many in (1, 4):
        chance, happened, years = of_years(0.3, [0.32] * years_many)
        found = told(chance, happened, years)[3]
        ends = [float(stats.binom.ppf(level, happened.size, 0.3)) / happened.size for level in (0.05, 0.95)]
        assert [found.consistent_low, found.consistent_high] == pytest.approx(ends)


def test_the_band_stays_within_zero_and_one() -> None:
    chance, happened, years = of_years(0.05, [1.0, 0.0, 0.0, 0.0])
    found = told(chance, happened, years)[0]
    assert found.consistent_low == 0
    assert found.consistent_high < 1
    chance, happened, years = of_years(0.95, [0.1, 1.0, 1.0])
    assert told(chance, happened, years)[9].consistent_high == 1


def test_chances_that_are_wrong_in_every_year_fall_out_of_the_band() -> None:
    # Told 0.9, came 0.6, in twelve years alike: the sum of twelve signs is −6 or less in 7.3 %, −8 or less in 1.9 %.
    chance, happened, years = of_years(0.9, [0.6] * 12)
    found = told(chance, happened, years)[9]
    assert found.consistent_low == pytest.approx(0.9 - 0.3 * 6 / 12)
    assert found.frequency < found.consistent_low
    # Wrong in one year of twelve, by as much in sum, they stay in it: one year's weather says little.
    chance, happened, years = of_years(0.9, [0.9] * 8 + [0.0] * 4)
    found = told(chance, happened, years)[9]
    assert found.consistent_low < found.frequency


def test_the_same_random_numbers_give_the_same_band_and_order_does_not_matter() -> None:
    random = np.random.default_rng(3)
    chance, years = random.random(300), random.integers(2000, 2010, 300)
    happened = (random.random(300) < chance).astype(np.float64)
    first = told(chance, happened, years, draws=200)
    order = random.permutation(300)
    for one, other in zip(first, told(chance[order], happened[order], years[order], draws=200), strict=True):
        assert (one.count, one.years) == (other.count, other.years)
        assert one.consistent_low == pytest.approx(other.consistent_low)
        assert one.frequency == pytest.approx(other.frequency)


def weather(random: np.random.Generator, years: int, days: int) -> tuple[Floats, Floats, Cases]:
    """Chances that are right, and what came, with days that follow one another, years that lean, and three stations.

    What is foreseen and what is not are both runs of weather of unit variance; the event is their sum above a line, so
    that its chance, given what is foreseen, is the normal integral: right by construction. The stations share the
    weather and differ by their line.
    """
    foreseen, unforeseen = (
        math.sqrt(0.8) * run(random, years, days) + math.sqrt(0.2) * random.standard_normal((years, 1))
        for _ in range(2)
    )
    line = np.array([0.4, 0.6, 0.8])[:, None, None]
    chance = stats.norm.cdf((0.8 * foreseen - line) / 0.6)  # 0.8² + 0.6² = 1
    happened = 0.8 * foreseen + 0.6 * unforeseen > line
    year = np.broadcast_to(np.arange(years)[:, None], chance.shape)
    return chance.ravel(), happened.ravel().astype(np.float64), year.ravel()


def run(random: np.random.Generator, years: int, days: int) -> Floats:
    """A first-order run of weather, each day 0.7 of the day before."""
    steps = random.standard_normal((days, years))
    found = np.empty_like(steps)
    found[0] = steps[0]
    for day in range(1, days):
        found[day] = 0.7 * found[day - 1] + math.sqrt(1 - 0.7**2) * steps[day]
    return found.T


def held_by(chance: Floats, happened: Floats, years: Cases, random: np.random.Generator) -> list[bool]:
    found = reliability(chance, happened, years, draws=300, random=random)
    return [one.consistent_low <= one.frequency <= one.consistent_high for one in found if one.count >= 20]


def test_the_band_holds_nine_of_ten_frequencies_though_days_are_tied_and_redrawing_days_does_not() -> None:
    random = np.random.default_rng(SEED)
    held: list[bool] = []
    held_alone: list[bool] = []
    for attempt in range(150):
        chance, happened, years = weather(random, 12, 100)
        held += held_by(chance, happened, years, random)
        if attempt < 30:
            each_its_own = np.arange(years.size)  # as if cases were independent
            held_alone += held_by(chance, happened, each_its_own, random)
    # 1,500 bins, those of one try tied: a standard error of about 1.5 %.
    assert 0.85 <= np.mean(held) <= 0.95
    assert np.mean(held_alone) < 0.7


# Slope


def test_slope_by_hand_and_by_numpy() -> None:
    # Told 0.1 and 0.9, came 0.3 and 0.7: the frequency rises by 0.4 over 0.8.
    chance = np.repeat([0.1, 0.9], [10, 20])
    happened = np.concatenate([np.arange(10) < 3, np.arange(20) < 14]).astype(np.float64)
    assert slope(chance, happened) == pytest.approx(0.5)
    random = np.random.default_rng(4)
    chance = random.random(500) ** 2
    happened = (random.random(500) < 0.2 + 0.5 * chance).astype(np.float64)
    found = [one for one in told(chance, happened) if one.count]
    # numpy.polyfit weighs distances, not their squares.
    by_numpy = np.polyfit(
        [one.mean_chance for one in found],
        [one.frequency for one in found],
        1,
        w=[math.sqrt(one.count) for one in found],
    )[0]
    assert slope(chance, happened) == pytest.approx(by_numpy)


def test_slope_needs_two_bins() -> None:
    assert math.isnan(slope(np.array([0.51, 0.59]), np.array([0.0, 1.0])))
    assert slope(np.array([0.51, 0.59]), np.array([0.0, 1.0]), bins=100) == pytest.approx(1 / 0.08)


@given(st.integers(2, 9), st.integers(1, 5))
def test_chances_right_in_each_bin_have_slope_one(top: int, times: int) -> None:
    # Chances of tenths, each with just so many events of ten.
    chance = np.repeat(np.arange(1, top + 1) / 10, 10 * times)
    happened = np.concatenate([np.arange(10 * times) < tenths * times for tenths in range(1, top + 1)])
    assert slope(chance, happened.astype(np.float64)) == pytest.approx(1)


def test_slope_of_right_chances_is_one_within_its_interval_by_years() -> None:
    chance, happened, years = weather(np.random.default_rng(SEED), 20, 150)
    found = score_with_interval(slope, years, chance, happened)
    assert found.low < 1 < found.high
    stretched = np.clip(1.5 * (chance - 0.5) + 0.5, 0, 1)
    assert score_with_interval(slope, years, stretched, happened).high < 1
