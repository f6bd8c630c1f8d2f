"""Scores of chances: by hand, against the `scores` package and scikit-learn, their properties, and scores that lie.

All cases here are invented. Papers: Hamill & Juras 2006, Ferro 2014, Dimitriadis et al. 2021, Vickers & Elkin 2006.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import product

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from scores.categorical import BinaryContingencyManager
from scores.plotdata import relative_economic_value
from scores.probability import brier_score as their_brier_score
from scores.probability import brier_score_for_ensemble, crps_for_ensemble, isotonic_fit
from sklearn.metrics import brier_score_loss, roc_auc_score

from forecast.panel import Floats
from forecast.verify.corp import Corp, corp
from forecast.verify.scores import (
    auc,
    brier_score,
    brier_skill,
    crps_of_days,
    crps_of_members,
    fair_brier_losses,
    fair_brier_score,
    stratified_auc,
)
from forecast.verify.value import Table, at_threshold, excess_expense, net_benefit, relative_value

NAN = math.nan
Told = tuple[Floats, Floats, Floats]


def cases(seed: int, count: int = 400) -> Told:
    """Chances in tenths and hundredths, so with ties; what came; and a reference."""
    random = np.random.default_rng(seed)
    truth = random.random(count)
    chance = np.where(random.random(count) < 0.5, np.round(truth, 1), np.round(random.random(count), 2))
    return chance, (random.random(count) < truth).astype(np.float64), np.round(0.3 + 0.4 * random.random(count), 2)


def floats(*values: float) -> Floats:
    return np.array(values, np.float64)


# By hand


def test_brier_score_and_skill_by_hand() -> None:
    chance, happened, reference = floats(0.9, 0.4, 0.0), floats(1, 0, 1), floats(0.5, 0.5, 0.5)
    # 0.1² + 0.4² + 1² = 1.17; the reference 3 · 0.25 = 0.75.
    assert brier_score(chance, happened) == pytest.approx(1.17 / 3)
    assert brier_skill(chance, happened, reference) == pytest.approx(1 - 1.17 / 0.75)


def test_skill_is_of_cases_that_both_know() -> None:
    chance, happened = floats(0.9, 0.4, NAN, 0.2), floats(1, 0, 1, 1)
    reference = floats(0.5, NAN, 0.1, 0.5)
    # Only the first and the last: 0.01 + 0.64, against 0.25 + 0.25.
    assert brier_skill(chance, happened, reference) == pytest.approx(1 - 0.65 / 0.5)


def test_area_by_hand_with_ties_by_half() -> None:
    # Events 0.8, 0.5, 0.2; others 0.5, 0.1. Pairs won: 2, 1 and a tie, 1: 4.5 of 6.
    chance, happened = floats(0.8, 0.5, 0.2, 0.5, 0.1), floats(1, 1, 1, 0, 0)
    assert auc(chance, happened) == pytest.approx(4.5 / 6)


def test_stratified_area_pools_pairs_and_leaves_out_strata_of_one_kind() -> None:
    chance = floats(0.9, 0.8, 0.7, 0.1, 0.2, 0.3, 0.99)
    happened = floats(1, 0, 0, 1, 0, 1, 1)
    stratum = np.array([5, 5, 5, 2, 2, 2, 9])
    # Stratum 5: one event above two others, 2 of 2. Stratum 2: events 0.1 and 0.3 by 0.2, 1 of 2. Stratum 9: no pair.
    assert stratified_auc(chance, happened, stratum) == pytest.approx(3 / 4)
    assert math.isnan(stratified_auc(chance, happened, np.arange(7)))
    # The highest of one stratum is as high as the lowest of the next, and no tie with it: both pairs are lost.
    assert stratified_auc(floats(0.1, 0.5, 0.5, 0.9), floats(1, 0, 1, 0), np.array([0, 0, 1, 1])) == 0


def test_crps_of_members_by_hand() -> None:
    members, observed = np.array([[4.0, 1.0, 1.0]]), floats(2)
    # Mean distance (2 + 1 + 1)/3; unlike ordered pairs 4 · 3 = 12, of 9 in all and 6 of different members.
    assert crps_of_members(members, observed) == pytest.approx(4 / 3 - 12 / 9 / 2)
    assert crps_of_members(members, observed, fair=True) == pytest.approx(4 / 3 - 12 / 6 / 2)


def test_crps_of_days_by_hand() -> None:
    chance = np.array([[0.2, 0.3, 0.1, 0.4]] * 4)  # by then 0.2, 0.5, 0.6
    by_hand = [
        0.8**2 + 0.5**2 + 0.4**2,  # on the first day
        0.2**2 + 0.5**2 + 0.4**2,
        0.2**2 + 0.5**2 + 0.4**2,  # 0.5 is as far from 0 as from 1
        0.2**2 + 0.5**2 + 0.6**2,  # later
    ]
    assert crps_of_days(chance, np.array([0, 1, 2, 3])) == pytest.approx(by_hand)


def test_a_sure_day_scores_as_many_days_as_it_is_off_and_later_is_one_column() -> None:
    days = 7
    for told, came in product(range(days + 1), repeat=2):
        assert crps_of_days(np.eye(days + 1)[[told]], np.array([came])) == pytest.approx([abs(told - came)])


def test_table_by_hand() -> None:
    chance = floats(0.3, 0.6, 0.29, 0.1, 0.8, 0.0, 0.0, 0.3, NAN, 0.9)
    happened = floats(1, 1, 1, 1, 0, 0, 0, 0, 1, NAN)
    # Acted from 0.3 on: 0.3, 0.6 with the event, 0.8, 0.3 without. By chance (2 + 2)(2 + 2)/8 = 2 hits.
    assert at_threshold(chance, happened, 0.3) == Table(2, 2, 2, 2, 0.5, 0.5, (2 - 2) / (6 - 2))
    # From 0.6 on: 0.6 with, 0.8 without. By chance 4 · 2/8 = 1.
    assert at_threshold(chance, happened, 0.6) == Table(1, 3, 1, 3, 0.25, 0.5, (1 - 1) / (5 - 1))
    # From 0.05 on: four with, two without. By chance 4 · 6/8 = 3.
    assert at_threshold(chance, happened, 0.05) == Table(4, 0, 2, 2, 1.0, 2 / 6, (4 - 3) / (6 - 3))


def test_table_without_events_or_actions() -> None:
    never = at_threshold(floats(0.1, 0.2), floats(0, 1), 0.9)
    assert (never.hits, never.misses, never.false_alarms, never.correct_rejections) == (0, 1, 0, 1)
    assert never.hit_rate == 0
    assert math.isnan(never.false_alarm_ratio)
    assert never.equitable_threat_score == 0
    assert math.isnan(at_threshold(floats(0.1, 0.95), floats(0, 0), 0.9).hit_rate)


def test_relative_value_by_hand() -> None:
    chance, happened, reference = floats(0.7, 0.1, 0.6, 0.2, 0.1), floats(1, 1, 0, 0, 0), np.full(5, 0.4)
    # At a quotient of 0.25 the forecast acts on the first and the third: it costs 0.25 + 1 + 0.25 = 1.5. The reference
    # acts on all five, 1.25. Perfect foresight acts on two, 0.5.
    assert relative_value(chance, happened, reference, 0.25) == pytest.approx((1.25 - 1.5) / (1.25 - 0.5))
    # At 0.5 the forecast acts on the same: 0.5 + 1 + 0.5 = 2; the reference on none, 2; perfect foresight 1.
    assert relative_value(chance, happened, reference, 0.5) == pytest.approx(0.0)
    # At 0.65 only on the first: 0.65 + 1; the reference 2; perfect foresight 1.3.
    assert relative_value(chance, happened, reference, 0.65) == pytest.approx((2 - 1.65) / (2 - 1.3))


def test_excess_is_what_acting_costs_beyond_perfect_foresight() -> None:
    chance, happened = floats(0.3, 0.3, 0.2, 0.2, NAN, 0.9), floats(1, 0, 1, 0, 1, NAN)
    # A hit 0.3 − 0.3; a false alarm 0.3 − 0; a miss 1 − 0.3; a quiet day nothing.
    assert excess_expense(chance, happened, 0.3) == pytest.approx([0, 0.3, 0.7, 0, NAN, NAN], nan_ok=True)


def test_value_is_unknown_where_the_reference_already_acts_perfectly() -> None:
    happened = floats(1, 0, 1, 0)
    assert math.isnan(relative_value(np.full(4, 0.5), happened, happened, 0.3))


def test_net_benefit_by_hand_and_of_always_acting() -> None:
    chance, happened = floats(0.9, 0.5, 0.2, 0.1, 0.6), floats(1, 0, 1, 0, 0)
    # From 0.5 on: one hit, two false alarms, odds 1.
    assert net_benefit(chance, happened, 0.5) == pytest.approx((1 - 2) / 5)
    # From 0.2 on: two hits, two false alarms, odds 1/4.
    assert net_benefit(chance, happened, 0.2) == pytest.approx((2 - 2 / 4) / 5)
    # Always: the frequency 0.4, less 0.6 times the odds (Vickers & Elkin 2006, read second-hand).
    assert net_benefit(np.ones(5), happened, 0.2) == pytest.approx(0.4 - 0.6 * 0.2 / 0.8)
    assert net_benefit(np.zeros(5), happened, 0.2) == 0


def test_corp_by_hand() -> None:
    # Told 0.1, 0.2, 0.6, 0.9; came 0, 1, 0, 1: the middle two pool to 0.5.
    # Score (0.01 + 0.64 + 0.36 + 0.01)/4, if right (0 + 0.25 + 0.25 + 0)/4, uncertainty 0.25.
    found = corp(floats(0.1, 0.2, 0.6, 0.9), floats(0, 1, 0, 1))
    assert (found.miscalibration, found.discrimination, found.uncertainty) == pytest.approx(
        (1.02 / 4 - 0.5 / 4, 0.25 - 0.5 / 4, 0.25)
    )


def test_corp_of_chances_right_in_each_group_and_of_one_constant() -> None:
    chance = np.repeat([0.2, 0.6], 10)
    happened = np.concatenate([np.arange(10) < 2, np.arange(10) < 6]).astype(np.float64)
    found = corp(chance, happened)
    assert found.miscalibration == pytest.approx(0, abs=1e-15)
    # Uncertainty 0.4 · 0.6; what is left within groups (0.2 · 0.8 + 0.6 · 0.4)/2 = 0.2.
    assert (found.discrimination, found.uncertainty) == pytest.approx((0.04, 0.24))
    constant = corp(np.full(20, 0.7), happened)
    assert (constant.miscalibration, constant.discrimination) == pytest.approx((0.3**2, 0))


# Against other packages


@pytest.mark.parametrize("seed", range(3))
def test_brier_score_is_that_of_scores_and_of_scikit_learn(seed: int) -> None:
    chance, happened, _ = cases(seed)
    assert brier_score(chance, happened) == pytest.approx(brier_score_loss(happened, chance), abs=1e-14)
    theirs = their_brier_score(xr.DataArray(chance), xr.DataArray(happened))
    assert brier_score(chance, happened) == pytest.approx(float(theirs), abs=1e-14)


@pytest.mark.parametrize("seed", range(3))
def test_area_is_that_of_scikit_learn_stratum_by_stratum(seed: int) -> None:
    chance, happened, _ = cases(seed)
    assert auc(chance, happened) == pytest.approx(roc_auc_score(happened, chance), abs=1e-14)
    stratum = np.random.default_rng(seed).integers(-3, 4, chance.size)
    won = pairs = 0.0
    for one in np.unique(stratum):
        inside = stratum == one
        here = happened[inside].sum() * (1 - happened[inside]).sum()
        won += here * float(roc_auc_score(happened[inside], chance[inside]))
        pairs += here
    assert stratified_auc(chance, happened, stratum) == pytest.approx(won / pairs, abs=1e-14)


@pytest.mark.parametrize("size", [2, 5, 30])
def test_fair_brier_score_is_that_of_scores(size: int) -> None:
    random = np.random.default_rng(size)
    members = (random.random((200, size)) < random.random((200, 1))).astype(np.float64)
    happened = (random.random(200) < 0.4).astype(np.float64)
    theirs = brier_score_for_ensemble(
        xr.DataArray(members, dims=["case", "member"]),
        xr.DataArray(happened, dims=["case"]),
        "member",
        1,
        fair_correction=True,
    )
    assert fair_brier_score(members.sum(axis=1), size, happened) == pytest.approx(float(theirs.item()), abs=1e-14)


@pytest.mark.parametrize(("fair", "method"), [(False, "ecdf"), (True, "fair")])
def test_crps_of_members_is_that_of_scores(fair: bool, method: str) -> None:
    random = np.random.default_rng(3)
    members, observed = np.round(random.normal(20, 4, (50, 11)), 1), random.normal(20, 5, 50)
    theirs = crps_for_ensemble(
        xr.DataArray(members, dims=["case", "member"]),
        xr.DataArray(observed, dims=["case"]),
        "member",
        method="fair" if method == "fair" else "ecdf",
        preserve_dims="all",
    )
    assert crps_of_members(members, observed, fair=fair) == pytest.approx(theirs.to_numpy(), abs=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_corp_is_that_by_the_isotonic_fit_of_scores(seed: int) -> None:
    chance, happened, _ = cases(seed)
    fit = isotonic_fit(chance, happened)
    right = np.interp(chance, fit["fcst_sorted"], fit["regression_values"])
    found, if_right = corp(chance, happened), float(((right - happened) ** 2).mean())
    assert found.uncertainty == pytest.approx(happened.mean() * (1 - happened.mean()), abs=1e-14)
    assert found.miscalibration == pytest.approx(brier_score(chance, happened) - if_right, abs=1e-12)
    assert found.discrimination == pytest.approx(found.uncertainty - if_right, abs=1e-12)


@pytest.mark.parametrize("cost_loss", [0.1, 0.35, 0.6, 0.9])
def test_value_against_the_overall_frequency_is_that_of_scores(cost_loss: float) -> None:
    chance, happened, _ = cases(4)
    theirs = relative_economic_value(
        xr.DataArray(chance, dims=["case"]),
        xr.DataArray(happened, dims=["case"]),
        cost_loss_ratios=[cost_loss],
        probability_thresholds=[cost_loss],
    )
    frequency = np.full(chance.size, happened.mean())
    assert relative_value(chance, happened, frequency, cost_loss) == pytest.approx(float(theirs.item()), abs=1e-12)


@pytest.mark.parametrize("act_from", [0.2, 0.5, 0.73])
def test_table_is_that_of_scores(act_from: float) -> None:
    chance, happened, _ = cases(5)
    theirs = BinaryContingencyManager(xr.DataArray((chance >= act_from) * 1.0), xr.DataArray(happened)).transform()
    found = at_threshold(chance, happened, act_from)
    assert found.hit_rate == pytest.approx(float(theirs.hit_rate()))
    assert found.false_alarm_ratio == pytest.approx(float(theirs.false_alarm_ratio()))
    assert found.equitable_threat_score == pytest.approx(float(theirs.equitable_threat_score()))


def test_crps_of_days_is_the_sum_of_brier_scores_and_the_crps_of_days_as_members() -> None:
    random = np.random.default_rng(6)
    days, size = 6, 9
    members = random.integers(0, days + 1, (40, size))
    came = random.integers(0, days + 1, 40)
    chance = np.stack([(members == day).mean(axis=1) for day in range(days + 1)], axis=1)
    by_then = np.clip(np.cumsum(chance, axis=1), 0, 1)
    by_day = sum(
        float(their_brier_score(xr.DataArray(by_then[:, day]), xr.DataArray((came <= day) * 1.0)))
        for day in range(days)
    )
    found = crps_of_days(chance, came)
    assert found.mean() == pytest.approx(by_day, abs=1e-12)
    assert found == pytest.approx(crps_of_members(members.astype(np.float64), came.astype(np.float64)), abs=1e-12)


# What the fair score is for


@pytest.mark.parametrize("size", [2, 3, 10])
@pytest.mark.parametrize("truth", [0.0, 0.1, 0.5, 0.9])
@pytest.mark.parametrize("outcome", [0.0, 1.0])
def test_fair_losses_are_on_average_those_of_endless_members(size: int, truth: float, outcome: float) -> None:
    # Over every count of hits, weighted by its binomial chance: no member count is left in the mean.
    hits = np.arange(size + 1.0)
    weight = np.array([math.comb(size, int(k)) * truth**k * (1 - truth) ** (size - k) for k in hits])
    losses = fair_brier_losses(hits, size, np.full(size + 1, outcome))
    assert weight @ losses == pytest.approx((truth - outcome) ** 2, abs=1e-12)
    plain = (hits / size - outcome) ** 2
    assert weight @ plain == pytest.approx((truth - outcome) ** 2 + truth * (1 - truth) / size, abs=1e-12)


def test_fair_score_takes_members_case_by_case_and_drops_a_single_member() -> None:
    hits, members, happened = floats(1, 3, 1), floats(2, 4, 1), floats(1, 1, 1)
    # 0.5² − 0.25/1 = 0; 0.25² − 0.1875/3 = 0; one member has no fair score.
    assert fair_brier_score(hits, members, happened) == pytest.approx(0, abs=1e-15)
    assert np.isnan(fair_brier_losses(hits, members, happened)).tolist() == [False, False, True]


# Scores that lie (Hamill & Juras 2006)


def test_two_sites_make_skill_out_of_their_climates_alone() -> None:
    # Site A has events on 8 of 10 days, B on 2 of 10; each is told its own climate.
    chance = np.repeat([0.8, 0.2], 10)
    happened = np.concatenate([np.arange(10) < 8, np.arange(10) < 2]).astype(np.float64)
    site = np.repeat([0, 1], 10)
    # Pairs: 0.8 · 0.8 of them with the event at A and the other at B, 0.32 tied at one site.
    assert auc(chance, happened) == pytest.approx(0.64 + 0.32 / 2)
    assert stratified_auc(chance, happened, site) == 0.5
    assert brier_skill(chance, happened, np.full(20, 0.5)) == pytest.approx(1 - 0.16 / 0.25)
    assert brier_skill(chance, happened, chance) == 0
    assert at_threshold(chance, happened, 0.5).equitable_threat_score > 0.4  # (8 − 5)/(12 − 5)


def seasonal_climate() -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Climatology, outcome, a slightly better chance, date stratum and stratum by site and third of the season."""
    random = np.random.default_rng(20500718)
    years, sites, days = 20, 3, 150
    peak = np.sin(np.pi * (np.arange(days) + 0.5) / days)
    climate = np.array([0.1, 0.25, 0.4])[:, None] * peak**2 * 1.6
    lean = random.choice([-0.8, 0.8], (years, sites, days))
    better = climate * (1 + 0.5 * lean)
    happened = (random.random(better.shape) < better).astype(np.float64)
    date = np.broadcast_to(np.arange(sites * days).reshape(sites, days), better.shape)
    third = np.broadcast_to(np.arange(sites)[:, None] * 3 + np.arange(days) // 50, better.shape)
    columns = (np.broadcast_to(climate, better.shape), happened, better, date, third)
    first, *others = (np.asarray(column, np.float64).ravel() for column in columns)
    return first, others[0], others[1], others[2], others[3]


def test_climatology_alone_has_a_pooled_area_and_none_on_a_date() -> None:
    climate, happened, better, date, third = seasonal_climate()
    assert auc(climate, happened) > 0.7
    assert stratified_auc(climate, happened, date) == 0.5
    assert 0.5 < stratified_auc(climate, happened, third) < auc(climate, happened)  # a third still has a rise in it
    assert stratified_auc(better, happened, date) > 0.6


def test_skill_against_a_pooled_constant_is_more_than_against_climatology() -> None:
    climate, happened, better, _, _ = seasonal_climate()
    pooled = np.full(climate.size, happened.mean())
    assert brier_skill(climate, happened, climate) == 0
    assert brier_skill(climate, happened, pooled) > 0.1  # skill that no one had
    assert brier_skill(better, happened, pooled) > brier_skill(better, happened, climate) + 0.1
    assert 0 < brier_skill(better, happened, climate) < 0.2
    value, lies = (relative_value(better, happened, one, 0.3) for one in (climate, pooled))
    assert lies > value + 0.1


# Properties

CASES = st.lists(
    st.tuples(st.integers(0, 20), st.integers(0, 1), st.integers(0, 20), st.integers(0, 2)), min_size=1, max_size=40
)
SCORES: dict[str, Callable[[Floats, Floats, Floats, Floats], float]] = {
    "brier_score": lambda chance, happened, _, __: brier_score(chance, happened),
    "brier_skill": lambda chance, happened, reference, _: brier_skill(chance, happened, reference),
    "auc": lambda chance, happened, _, __: auc(chance, happened),
    "stratified_auc": lambda chance, happened, _, stratum: stratified_auc(chance, happened, stratum),
    "miscalibration": lambda chance, happened, _, __: corp(chance, happened).miscalibration,
    "discrimination": lambda chance, happened, _, __: corp(chance, happened).discrimination,
    "fair_brier_score": lambda chance, happened, _, __: fair_brier_score(np.round(chance * 20), 20, happened),
    "hit_rate": lambda chance, happened, _, __: at_threshold(chance, happened, 0.4).hit_rate,
    "false_alarm_ratio": lambda chance, happened, _, __: at_threshold(chance, happened, 0.4).false_alarm_ratio,
    "equitable_threat": lambda chance, happened, _, __: at_threshold(chance, happened, 0.4).equitable_threat_score,
    "relative_value": lambda chance, happened, reference, _: relative_value(chance, happened, reference, 0.3),
    "net_benefit": lambda chance, happened, _, __: net_benefit(chance, happened, 0.3),
}


def columns(rows: list[tuple[int, int, int, int]]) -> tuple[Floats, Floats, Floats, Floats]:
    chance, happened, reference, stratum = np.array(rows, np.float64).T
    return chance / 20, happened, reference / 20, stratum


@pytest.mark.parametrize("name", SCORES)
@given(rows=CASES, seed=st.integers(0, 1000))
def test_no_score_hangs_on_the_order_of_cases_or_on_unknown_ones(
    name: str, rows: list[tuple[int, int, int, int]], seed: int
) -> None:
    known = columns(rows)
    plain = SCORES[name](*known)
    order = np.random.default_rng(seed).permutation(len(rows))
    assert SCORES[name](*(column[order] for column in known)) == pytest.approx(plain, abs=1e-12, nan_ok=True)
    with_holes = [np.concatenate([column, [0.95, 1.0]]) for column in known]
    with_holes[0][-2], with_holes[1][-1] = NAN, NAN
    with_holes[1][-2] = 0
    assert SCORES[name](*with_holes) == pytest.approx(plain, abs=1e-12, nan_ok=True)


@pytest.mark.parametrize("name", SCORES)
def test_without_a_known_case_every_score_is_unknown(name: str) -> None:
    empty = np.zeros(0)
    assert math.isnan(SCORES[name](empty, empty, empty, empty))
    assert math.isnan(SCORES[name](floats(NAN), floats(1), floats(0.5), floats(0)))
    assert math.isnan(SCORES[name](floats(0.5), floats(NAN), floats(0.5), floats(0)))


@pytest.mark.parametrize("name", SCORES)
def test_inputs_are_not_written_to(name: str) -> None:
    given_columns = columns([(20, 1, 5, 0), (3, 0, 6, 1), (9, 1, 7, 0), (9, 0, 8, 0)])
    before = [column.copy() for column in given_columns]
    for column in given_columns:
        column.flags.writeable = False
    SCORES[name](*given_columns)
    assert all(np.array_equal(one, other) for one, other in zip(before, given_columns, strict=True))


@given(CASES)
def test_the_parts_of_corp_make_the_brier_score_and_are_never_below_zero(rows: list[tuple[int, int, int, int]]) -> None:
    chance, happened, _, _ = columns(rows)
    found = corp(chance, happened)
    whole = found.miscalibration - found.discrimination + found.uncertainty
    assert whole == pytest.approx(brier_score(chance, happened), abs=1e-12)
    assert found.miscalibration >= -1e-12
    assert -1e-12 <= found.discrimination <= found.uncertainty + 1e-12


@given(CASES)
def test_no_rising_map_of_the_chances_scores_below_their_recalibration(rows: list[tuple[int, int, int, int]]) -> None:
    # The isotonic fit is the best rising map: so squares, roots and steps of the chances score no better.
    chance, happened, _, _ = columns(rows)
    found = corp(chance, happened)
    if_right = found.uncertainty - found.discrimination
    for other in (chance**2, np.sqrt(chance), np.round(chance), np.full(chance.size, happened.mean())):
        assert brier_score(other, happened) >= if_right - 1e-12


@given(CASES)
def test_areas_by_counting_every_pair(rows: list[tuple[int, int, int, int]]) -> None:
    chance, happened, _, stratum = columns(rows)
    won = [
        0.5 + 0.5 * np.sign(chance[i] - chance[j])
        for i, j in product(range(len(rows)), repeat=2)
        if happened[i] == 1 and happened[j] == 0 and stratum[i] == stratum[j]
    ]
    by_hand = float(np.mean(won)) if won else NAN
    assert stratified_auc(chance, happened, stratum) == pytest.approx(by_hand, nan_ok=True)


@given(CASES)
def test_a_perfect_forecast_is_perfect_and_the_reference_has_no_skill(rows: list[tuple[int, int, int, int]]) -> None:
    _, happened, reference, _ = columns(rows)
    assert brier_score(happened, happened) == 0
    assert corp(happened, happened).miscalibration == pytest.approx(0, abs=1e-15)
    perfect = (brier_skill(happened, happened, reference), relative_value(happened, happened, reference, 0.3))
    none = (brier_skill(reference, happened, reference), relative_value(reference, happened, reference, 0.3))
    assert all(math.isnan(one) or one == 1 for one in perfect)
    assert all(math.isnan(one) or one == 0 for one in none)
    assert math.isnan(auc(happened, happened)) or auc(happened, happened) == 1


@given(CASES, st.floats(0, 1))
def test_value_is_never_above_that_of_perfect_foresight(
    rows: list[tuple[int, int, int, int]], cost_loss: float
) -> None:
    chance, happened, reference, _ = columns(rows)
    found = relative_value(chance, happened, reference, cost_loss)
    assert math.isnan(found) or found <= 1
    # The expense itself: cost where one acts, the loss where one does not and it comes.
    expense = np.where(chance >= cost_loss, cost_loss, happened).sum()
    excess = excess_expense(chance, happened, cost_loss).sum()
    assert excess == pytest.approx(expense - cost_loss * happened.sum(), abs=1e-9)


@given(CASES, st.floats(0, 0.95))
def test_net_benefit_and_expense_are_the_same_information(rows: list[tuple[int, int, int, int]], line: float) -> None:
    # Benefit a case times (1 − line) is what acting by the chances saves against never acting.
    chance, happened, _, _ = columns(rows)
    never = excess_expense(np.zeros(len(rows)), happened, line) if line > 0 else (1 - line) * happened
    saved = float(np.mean(never - excess_expense(chance, happened, line)))
    assert net_benefit(chance, happened, line) * (1 - line) == pytest.approx(saved, abs=1e-9)


@given(st.lists(st.lists(st.integers(0, 30), min_size=4, max_size=4), min_size=1, max_size=10), st.integers(0, 3))
def test_onset_scores_stay_between_none_and_the_number_of_days(weights: list[list[int]], day: int) -> None:
    chance = (np.array(weights) + 1.0) / (np.array(weights) + 1.0).sum(axis=1, keepdims=True)
    found = crps_of_days(chance, np.full(len(weights), day))
    assert ((found >= 0) & (found <= 3)).all()


# Unknown and out of range


def test_unknown_cases_stay_unknown_where_each_has_its_value() -> None:
    members = np.array([[1.0, 2.0], [1.0, NAN], [1.0, 2.0]])
    assert np.isnan(crps_of_members(members, floats(1, 1, NAN))).tolist() == [False, True, True]
    chance = np.array([[0.5, 0.5], [NAN, 0.5], [0.5, 0.5]])
    assert np.isnan(crps_of_days(chance, floats(0, 0, NAN))).tolist() == [False, True, True]
    assert np.isnan(crps_of_members(members[:, :1], np.ones(3), fair=True)).all()


def test_outcomes_may_be_true_and_false() -> None:
    chance, happened, _ = cases(7)
    assert brier_score(chance, happened == 1) == brier_score(chance, happened)
    assert corp(chance, happened == 1) == corp(chance, happened)
    assert isinstance(corp(chance, happened), Corp)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (lambda: brier_score(floats(30, 70), floats(0, 1)), "percent"),
        (lambda: brier_score(floats(-0.1, 0.7), floats(0, 1)), "0 to 1"),
        (lambda: brier_skill(floats(0.1, 0.7), floats(0, 1), floats(10, 20)), "percent"),
        (lambda: brier_score(floats(0.1, 0.7), floats(0, 2)), "1 for an event"),
        (lambda: brier_score(floats(0.1, 0.7), floats(1)), "one figure a case"),
        (lambda: auc(np.zeros((2, 2)), np.zeros((2, 2))), "one figure a case"),
        (lambda: fair_brier_score(floats(3), 2, floats(1)), "hits count members"),
        (lambda: crps_of_members(np.zeros((3, 2)), np.zeros(2)), "shape"),
        (lambda: crps_of_days(np.full((1, 3), 0.3), np.array([0])), "sum to 1"),
        (lambda: crps_of_days(np.full((1, 2), 0.5), np.array([2])), "whole number from 0 to 1"),
        (lambda: crps_of_days(np.full((1, 2), 0.5), np.array([-1])), "whole number"),
        (lambda: crps_of_days(np.full((1, 2), 0.5), np.array([0, 1])), "one figure a case"),
        (lambda: relative_value(floats(0.1), floats(1), floats(0.1), 1.5), "runs from 0 to 1"),
        (lambda: net_benefit(floats(0.1), floats(1), 1.0), "less than 1"),
    ],
)
def test_what_cannot_be_is_refused_in_words(wrong: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        wrong()


def test_a_chance_that_a_rounding_takes_past_one_is_one() -> None:
    assert brier_score(floats(1 + 1e-12, -1e-12), floats(1, 0)) == 0
