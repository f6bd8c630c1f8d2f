"""Calibration fitted on past mornings: weights, the regression, and the usual chance where nothing is surely better."""

import numpy as np
import pytest
from sklearn.model_selection import GroupKFold, KFold, cross_val_predict
from sklearn.neighbors import KNeighborsClassifier

from forecast.diseases.events import event_for
from forecast.outlook.calibration import LEADS, STATE
from forecast.panel import Floats
from forecast.verify.fit import fit
from forecast.verify.hindcast import UNKNOWN, Hindcast
from forecast.verify.pool import Pool, pool

DAYS = LEADS + 1
YEARS, MORNINGS = 10, 100


def invented(quality: Floats, *, years: int = YEARS, by_state: float = 0.0, seed: int = 3) -> Pool:
    """Mornings whose true log odds are −1 + 1.5·(what members know) + by_state·(first figure of the state).

    Args:
        quality: per day ahead, the share of what is to be known that members know, 0 to 1; shape (days,).
        years: how many.
        by_state: what the state adds that members do not know.
        seed: of the draws.
    """
    random = np.random.default_rng(seed)
    count = years * MORNINGS
    known = random.normal(size=(count, DAYS))
    state = random.normal(size=(count, len(STATE)))
    score = -1 + 1.5 * quality * known + by_state * state[:, :1]
    happened = (random.uniform(size=score.shape) < 1 / (1 + np.exp(-score))).astype(float)
    members = 1 / (1 + np.exp(-(-1 + 1.5 * known)))
    usual = np.full_like(members, happened.mean())
    windows = np.full((count, DAYS, DAYS), np.nan)
    return Pool(
        ("here",), np.zeros(count, np.int64), np.arange(count), np.repeat(np.arange(2001, 2001 + years), MORNINGS),
        members, usual, happened, windows, windows, windows, state, np.full_like(members, np.nan),
        np.full_like(members, np.nan),
    )  # fmt: skip


def test_members_that_are_right_keep_their_word_and_those_that_know_nothing_lose_it() -> None:
    quality = np.where(np.arange(DAYS) < 8, 1.0, 0.0)
    found = fit(invented(quality), "forecast", "invented")
    assert found.calibration.told_days == 8
    assert found.calibration.single[:8] == pytest.approx(np.ones(8), abs=0.12)
    assert (found.calibration.single[8:] == 0).all()
    assert (found.days[:, 8:] == invented(quality).usual[:, 8:]).all(), "the usual chance, to the bit"
    assert all(one.low > 0 for one in found.skill[:8])
    assert (found.calibration.mornings, found.calibration.years) == (YEARS * MORNINGS, YEARS)


def test_a_weight_is_least_squares_shrunk_to_members_at_their_word() -> None:
    mornings = invented(np.full(DAYS, 0.5))
    apart, came = (mornings.members - mornings.usual)[:, 3], (mornings.happened - mornings.usual)[:, 3]
    # w = (Σ pq + 2/10·Σ p²)/(Σ p² + 2/10·Σ p²): two years' worth of mornings say 1.
    expected = (np.sum(apart * came) + 0.2 * np.sum(apart**2)) / (1.2 * np.sum(apart**2))
    assert fit(mornings, "forecast", "").calibration.single[3] == pytest.approx(expected)


def test_what_a_year_is_told_does_not_hang_on_what_came_in_it() -> None:
    # Where the regression tells before and after: it knows what members do not.
    one, other = (invented(np.ones(DAYS), by_state=3.0) for _ in range(2))
    year = one.year == 2004
    other.happened[year] = np.roll(other.happened[year], 1, axis=0)
    before, after = fit(one, "forecast", ""), fit(other, "forecast", "")
    both = [
        lead
        for lead in range(DAYS)
        if np.isfinite([before.calibration.stack[lead], after.calibration.stack[lead]]).all()
    ]
    assert len(both) > 10
    assert (before.days[year][:, both] == after.days[year][:, both]).all()
    assert (before.days[~year][:, both] != after.days[~year][:, both]).any(), "and the others' are moved by it"


def test_nor_where_the_weight_tells() -> None:
    one, other = (invented(np.full(DAYS, 0.5)) for _ in range(2))
    year = one.year == 2004
    other.happened[year] = np.roll(other.happened[year], 1, axis=0)
    before, after = fit(one, "forecast", ""), fit(other, "forecast", "")
    both = range(min(before.calibration.told_days, after.calibration.told_days))
    assert len(both) > 10
    weighted = [
        lead for lead in both if np.isnan([before.calibration.stack[lead], after.calibration.stack[lead]]).all()
    ]
    assert len(weighted) > 10
    assert (before.days[year][:, weighted] == after.days[year][:, weighted]).all()
    assert (before.days[~year][:, weighted] != after.days[~year][:, weighted]).any()


def test_the_regression_takes_over_where_it_surely_knows_more() -> None:
    by_state = fit(invented(np.ones(DAYS), by_state=1.5), "readings", "")
    assert not np.isnan(by_state.calibration.stack[:5]).any()
    # The slope on the state is 1.5 in the invented world; the penalty takes a third off at a thousand mornings.
    assert 0.8 < by_state.calibration.stack[3, 3] < 1.5
    assert by_state.calibration.stack[3, 4:] == pytest.approx(np.zeros(5), abs=0.25)
    plain = fit(invented(np.ones(DAYS)), "readings", "")
    assert np.isnan(plain.calibration.stack).any(axis=1).sum() >= DAYS - 3, "chance alone seldom makes it"


@pytest.mark.parametrize("years", [1, 2])
def test_too_few_years_tell_the_usual_chance(years: int) -> None:
    found = fit(invented(np.ones(DAYS), years=years), "forecast", "")
    assert found.calibration.told_days == 0
    assert (found.days == invented(np.ones(DAYS), years=years).usual).all()


def test_three_years_fit_no_regression() -> None:
    assert np.isnan(fit(invented(np.ones(DAYS), years=3, by_state=2.0), "forecast", "").calibration.stack).all()


def test_outcomes_shuffled_over_years_give_no_skill() -> None:
    mornings = invented(np.ones(DAYS), years=20)
    by_year = mornings.happened.reshape(20, MORNINGS, DAYS)
    mornings.happened[:] = np.roll(by_year, 7, axis=0).reshape(mornings.happened.shape)
    found = fit(mornings, "forecast", "")
    raw = 1 - np.sum((mornings.members - mornings.happened) ** 2) / np.sum((mornings.usual - mornings.happened) ** 2)
    assert raw < -0.1, "members at their word would do harm"
    worst = max(abs(one.value) for one in found.skill)
    assert worst < 0.01
    assert found.calibration.told_days <= 1


def hindcast_of(passed: Floats, happened: Floats) -> Hindcast:
    count, days = happened.shape
    windows = np.full((count, days, days), 0.5)
    nothing = np.full((count, days), np.nan)
    return Hindcast(
        "here",
        event_for("dollar_spot", "creeping_bentgrass"),
        np.arange(count),
        np.full(count, 2001),
        np.where(np.isnan(passed), UNKNOWN, passed).astype(np.int8),
        happened,
        np.full((count, days), 0.5),
        windows,
        np.zeros((count, 6)),
        nothing,
        nothing,
    )


def test_a_window_is_known_where_all_its_days_are() -> None:
    random = np.random.default_rng(5)
    passed = random.choice([0.0, 1.0, np.nan], p=[0.6, 0.2, 0.2], size=(30, DAYS, 7))
    happened = random.choice([0.0, 1.0, np.nan], p=[0.6, 0.2, 0.2], size=(30, DAYS))
    found = pool([hindcast_of(passed, happened)])

    def any_of(days: Floats) -> float:
        return np.nan if np.isnan(days).any() else float((days == 1).any())

    for morning in range(30):
        for first in range(DAYS):
            for last in range(first, DAYS):
                members = np.array([any_of(passed[morning, first : last + 1, one]) for one in range(7)])
                known = members[~np.isnan(members)]
                told = (known.sum() + 5 * 0.5) / (len(known) + 5) if len(known) else np.nan
                assert found.members_within[morning, first, last] == pytest.approx(told, nan_ok=True)
                came = any_of(happened[morning, first : last + 1])
                assert found.happened_within[morning, first, last] == pytest.approx(came, nan_ok=True)
    assert np.isnan(found.members_within[:, 5, 4]).all(), "no window ends before it begins"


def test_stations_stay_apart_in_a_pool() -> None:
    zeros, ones = np.zeros((4, DAYS, 3)), np.ones((6, DAYS, 3))
    found = pool([hindcast_of(zeros, zeros[:, :, 0]), hindcast_of(ones, ones[:, :, 0])])
    assert found.station.tolist() == [0] * 4 + [1] * 6
    assert found.happened[:4].max() == 0
    assert found.happened[4:].min() == 1


def test_random_folds_find_skill_where_there_is_none() -> None:
    """Why whole years are left out: days beside each other share their weather, and a near neighbour knows it.

    Invented event days in runs, whose dates tell nothing of another year. Told from the ten nearest mornings of all
    others a random fold is told from the day before and the day after; a fold of whole years from nothing.
    """
    random = np.random.default_rng(8)
    years, mornings = 12, 150
    lasting = np.zeros((years, mornings))
    for day in range(1, mornings):
        lasting[:, day] = 0.8 * lasting[:, day - 1] + 0.6 * random.normal(size=years)
    happened = (lasting > 0.5).astype(int).ravel()
    year = np.repeat(np.arange(years), mornings)
    where = np.column_stack([np.tile(np.arange(mornings), years) / 5.0, 10.0 * year])
    usual = happened.mean()

    def skill(folds: object, groups: np.ndarray[tuple[int, ...], np.dtype[np.int64]] | None) -> float:
        told = cross_val_predict(
            KNeighborsClassifier(10), where, happened, cv=folds, groups=groups, method="predict_proba"
        )[:, 1]
        return float(1 - np.sum((told - happened) ** 2) / np.sum((usual - happened) ** 2))

    by_random, by_year = skill(KFold(10, shuffle=True, random_state=1), None), skill(GroupKFold(12), year)
    assert by_random > 0.2
    assert by_year < 0.0
