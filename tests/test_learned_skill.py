"""Skill by lead, learned from emulated forecasts whose skill is known: what went in has to come out."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from emulated_forecasts import (
    AHEAD,
    DAYS,
    DEW_POINT,
    HAIR,
    NOTHING,
    PERSISTENCE,
    STEPS,
    STOCK,
    TEMPERATURE,
    WORLD,
    assert_same,
    changed,
    issued,
    weight,
)
from hypothesis import given
from hypothesis import strategies as st
from sklearn.isotonic import IsotonicRegression

from forecast.outlook.lead_skill import ASSUMED, LEAD_DAYS, LeadSkill
from forecast.outlook.learned_skill import DAYS_FOR_HALF, MOST_CORRELATION, Told, falling, learned
from forecast.outlook.library import BLENDED, library
from forecast.panel import Floats, observed

# Correlation and slope


def test_a_known_skill_comes_back_by_its_day_of_lead() -> None:
    found = learned(issued(DAYS), STOCK, NOTHING)
    np.testing.assert_allclose(found.correlation / weight(DAYS), STEPS, atol=HAIR)
    assert found.issued_days == DAYS


def test_a_forecast_as_lively_as_the_weather_has_its_correlation_for_slope() -> None:
    found = learned(issued(DAYS), STOCK, replace(NOTHING, slope=np.ones(LEAD_DAYS)))
    np.testing.assert_allclose(found.slope / weight(DAYS), STEPS, atol=HAIR)


def test_both_quantities_make_one_correlation() -> None:
    good, bad = issued(DAYS, np.full(LEAD_DAYS, 0.9)), issued(DAYS, np.full(LEAD_DAYS, 0.3), seed=2)
    mixed = [
        replace(one, values={TEMPERATURE: one.values[TEMPERATURE], DEW_POINT: other.values[DEW_POINT]})
        for one, other in zip(good, bad, strict=True)
    ]
    found = learned(mixed, STOCK, NOTHING)
    np.testing.assert_allclose(found.correlation / weight(DAYS), np.full(LEAD_DAYS, (0.9 + 0.3) / 2), atol=HAIR)


@pytest.mark.parametrize("livelier", [0.6, 1.5])
def test_how_lively_a_forecast_is_changes_its_slope_and_not_its_correlation(livelier: float) -> None:
    found = learned(issued(DAYS, livelier=livelier), STOCK, NOTHING)
    np.testing.assert_allclose(found.correlation / weight(DAYS), STEPS, atol=HAIR)
    # Σfx/Σf² of f = a·(r·x + …) is r/a; told and came exchanged would make it r·a, off by a factor of 2.3 to 2.8.
    ratio = 1 + weight(DAYS) * (1 / livelier - 1)
    np.testing.assert_allclose(found.slope / found.correlation, np.full(LEAD_DAYS, ratio), rtol=0.05)


def test_exchanged_sides_keep_the_correlation_and_turn_the_slope_round() -> None:
    told = issued(DAYS, livelier=0.6)
    straight = learned(told, STOCK, NOTHING)
    turned = learned([Told(one.since, one.came, one.values) for one in told], STOCK, NOTHING)
    np.testing.assert_allclose(turned.correlation, straight.correlation, atol=0.01)
    assert (straight.slope / straight.correlation > 1.4).all()
    assert (turned.slope / turned.correlation < 0.7).all()


def test_an_optimal_damped_forecast_is_taken_at_its_word() -> None:
    # f = r²·x + r·√(1 − r²)·e, the mean of what can come: its slope is 1 at every lead.
    for r in (0.8, 0.6):
        found = learned(issued(DAYS, np.full(LEAD_DAYS, r), livelier=r), STOCK, NOTHING)
        ratio = 1 + weight(DAYS) * (1 / r - 1)
        np.testing.assert_allclose(found.slope, found.correlation * ratio, rtol=0.05)
        np.testing.assert_allclose(found.correlation / weight(DAYS), np.full(LEAD_DAYS, r), atol=HAIR)


def test_forecasts_laid_a_day_off_are_seen_to_be_worth_little() -> None:
    told = issued(300, np.full(LEAD_DAYS, 0.95))
    late = changed(told, lambda one: {name: np.roll(array, 24) for name, array in one.values.items()})
    assert learned(told, STOCK, NOTHING).correlation[:4].min() > 0.7
    assert learned(late, STOCK, NOTHING).correlation[:4].max() < 0.1


# Weights


@pytest.mark.parametrize(("days", "share"), [(20, 0.25), (60, 0.5), (240, 0.8)])  # n/(n + 60)
def test_the_table_is_replaced_as_days_are_issued(days: int, share: float) -> None:
    half = np.full(LEAD_DAYS, 0.5)
    found = learned(issued(days, np.ones(LEAD_DAYS)), STOCK, LeadSkill(half, half, MappingProxyType({})))
    assert DAYS_FOR_HALF == 60
    np.testing.assert_allclose(found.correlation, np.full(LEAD_DAYS, 0.5 + share * (1 - 0.5)), atol=1e-9)
    np.testing.assert_allclose(found.slope, found.correlation, atol=1e-9)


def test_a_lead_weighs_by_the_days_on_which_it_was_forecast() -> None:
    half = np.full(LEAD_DAYS, 0.5)
    told = issued(60, np.ones(LEAD_DAYS))
    short = {
        f: {name: np.where(np.arange(AHEAD) < 72, a, np.nan) for name, a in told[f].values.items()} for f in range(40)
    }
    told = [replace(one, values=short.get(number, one.values)) for number, one in enumerate(told)]
    found = learned(told, STOCK, LeadSkill(half, half, MappingProxyType({})))
    np.testing.assert_allclose(found.correlation[:3], np.full(3, 0.75), atol=1e-9)  # 60 days
    np.testing.assert_allclose(found.correlation[3:], np.full(13, 0.625), atol=1e-9)  # 20 days: a quarter of the way


def test_a_wrong_table_is_left_behind() -> None:
    wrong = np.linspace(0.3, 0.05, LEAD_DAYS)
    off = [
        np.abs(learned(issued(days), STOCK, LeadSkill(wrong, wrong, MappingProxyType({}))).correlation - STEPS).mean()
        for days in (1, 30, 120, 480)
    ]
    assert off == sorted(off, reverse=True)
    before = np.abs(wrong - STEPS).mean()
    # 480 days leave 60/540 of the distance, and sampling.
    assert off[-1] < before / 9 + 0.02


def test_nothing_told_and_nothing_come_leave_the_table() -> None:
    assert learned([], STOCK) is ASSUMED
    told = [replace(one, came={name: np.full(AHEAD, np.nan) for name in BLENDED}) for one in issued(3)]
    assert_same(learned(told, STOCK), ASSUMED)


def test_a_day_of_lead_of_which_less_than_half_has_come_does_not_count() -> None:
    told = issued(40, np.ones(LEAD_DAYS))
    half = LeadSkill(np.full(LEAD_DAYS, 0.5), np.full(LEAD_DAYS, 0.5), MappingProxyType({}))
    for hours, days in ((24 + 11, 1), (24 + 12, 2), (11, 0)):
        cut = [
            replace(one, came={n: np.where(np.arange(AHEAD) < hours, a, np.nan) for n, a in one.came.items()})
            for one in told
        ]
        found = learned(cut, STOCK, half)
        # 40 of 40 + 60 days: two fifths of the way from 0.5 to 1
        np.testing.assert_allclose(found.correlation, [*[0.7] * days, *[0.5] * (LEAD_DAYS - days)], atol=1e-9)
        assert found.issued_days == (40 if days else 0)


# Falling with lead


def test_skill_never_rises_with_lead_whatever_was_found() -> None:
    found = learned(issued(DAYS, STEPS[::-1].copy()), STOCK, NOTHING)
    assert (np.diff(found.correlation) <= 1e-12).all()
    assert found.correlation.min() >= 0
    # Pooled over equal weights: the mean of all sixteen.
    np.testing.assert_allclose(found.correlation / weight(DAYS), np.full(LEAD_DAYS, STEPS.mean()), atol=HAIR)


def test_a_perfect_and_an_upside_down_forecast_stay_within_bounds() -> None:
    high = LeadSkill(np.ones(LEAD_DAYS), np.ones(LEAD_DAYS), MappingProxyType({}))
    assert learned(issued(30, np.ones(LEAD_DAYS)), STOCK, high).correlation.max() == MOST_CORRELATION
    upside_down = learned(issued(200, -np.full(LEAD_DAYS, 0.999)), STOCK, ASSUMED)
    assert (upside_down.correlation == 0).all()
    assert (upside_down.slope == 0).all()


@given(
    st.lists(st.tuples(st.floats(-1, 1), st.floats(1, 800)), min_size=1, max_size=16),
)
def test_pooled_neighbours_are_the_nearest_falling_figures(cases: list[tuple[float, float]]) -> None:
    values, weights = (np.array(one) for one in zip(*cases, strict=True))
    theirs = IsotonicRegression(increasing=False).fit(np.arange(len(values)), values, sample_weight=weights)
    np.testing.assert_allclose(falling(values, weights), theirs.predict(np.arange(len(values))), atol=1e-9)


def test_pooled_neighbours_by_hand() -> None:
    # 0.2 and 0.5 rise: (0.2·1 + 0.5·3)/4 = 0.425, which lies below 0.9 and above 0.1.
    assert falling(np.array([0.9, 0.2, 0.5, 0.1]), np.array([1.0, 1.0, 3.0, 1.0])).tolist() == pytest.approx(
        [0.9, 0.425, 0.425, 0.1]
    )
    assert falling(np.array([]), np.array([])).tolist() == []


def test_beyond_what_was_ever_forecast_the_table_stands_below_the_last_lead() -> None:
    good = learned(issued(200, np.ones(LEAD_DAYS), reach_days=7), STOCK)
    np.testing.assert_array_equal(good.correlation[7:], ASSUMED.correlation[7:])
    np.testing.assert_array_equal(good.slope[7:], ASSUMED.slope[7:])
    low = np.full(LEAD_DAYS, 0.1)
    poor = learned(issued(200, low, reach_days=7), STOCK)
    # What was learned is not drawn up by leads of which nothing is known.
    np.testing.assert_array_equal(poor.correlation[:7], learned(issued(200, low), STOCK).correlation[:7])
    assert poor.correlation[6] < ASSUMED.correlation[7]
    np.testing.assert_array_equal(poor.correlation[7:], np.minimum(poor.correlation[6], ASSUMED.correlation[7:]))


# One a day


def test_hourly_fetches_count_once_a_day_and_the_last_of_the_day_counts() -> None:
    last = issued(40, first="2042-03-01T23")
    others = [issued(40, np.zeros(LEAD_DAYS), seed=10 + hour, first=f"2042-03-01T{hour:02d}") for hour in range(23)]
    hourly = [one for day in zip(*others, last, strict=True) for one in day]
    assert len(hourly) == 24 * 40
    assert_same(learned(hourly, STOCK), learned(last, STOCK))
    assert learned(hourly, STOCK).issued_days == 40


def test_a_day_is_one_of_utc() -> None:
    told = [*issued(1, first="2042-03-01T23"), *issued(1, first="2042-03-02T00"), *issued(1, first="2042-03-02T01")]
    assert learned(told, STOCK).issued_days == 2


# Holes, steps, what stands still


def test_holes_are_no_figures() -> None:
    random = np.random.default_rng(3)

    def holed(values: dict[str, Floats]) -> dict[str, Floats]:
        return {name: np.where(random.random(AHEAD) < 0.15, np.nan, array) for name, array in values.items()}

    told = [Told(one.since, one.values, holed(dict(one.came))) for one in issued(DAYS)]
    found = learned(told, STOCK, NOTHING)
    np.testing.assert_allclose(found.correlation / weight(DAYS), STEPS, atol=HAIR)
    assert all(np.isfinite(array).all() for array in (*found.bias.values(), found.slope))


@pytest.mark.parametrize("step", [3, 6])
def test_a_forecast_in_steps_is_joined_by_lines_as_members_join_it(step: int) -> None:
    def stepped(one: Told) -> dict[str, Floats]:
        at = np.arange(1, AHEAD + 1) % step == 0
        return {name: np.where(at, array, np.nan) for name, array in one.values.items()}

    found = learned(changed(issued(DAYS), stepped), STOCK, NOTHING)
    # The lines between knots a step apart, of x with correlation p = .7 an hour: over the step's hours k the line has
    # the weights 1 − k/s and k/s of its ends; its covariance with x and its own variance by arithmetic.
    k = np.arange(step)
    left, right = 1 - k / step, k / step
    with_x = (left * PERSISTENCE**k + right * PERSISTENCE ** (step - k)).mean()
    own = (left**2 + right**2 + 2 * left * right * PERSISTENCE**step).mean()
    np.testing.assert_allclose(found.correlation / weight(DAYS), STEPS * with_x / np.sqrt(own), atol=HAIR)
    assert found.issued_days == DAYS


def test_steps_of_twelve_hours_say_nothing_in_between() -> None:
    def stepped(one: Told) -> dict[str, Floats]:
        at = np.arange(1, AHEAD + 1) % 12 == 0
        return {name: np.where(at, array, np.nan) for name, array in one.values.items()}

    assert learned(changed(issued(30), stepped), STOCK).issued_days == 0


def test_a_stuck_record_leaves_the_table() -> None:
    hours = WORLD.hours
    stuck = library(observed(hours, ("one",), {name: np.full((len(hours), 1), 11.3) for name in BLENDED}))
    told = [replace(one, came={name: np.full(AHEAD, 11.3) for name in BLENDED}) for one in issued(30)]
    found = learned(told, stuck)
    np.testing.assert_array_equal(found.correlation, ASSUMED.correlation)
    np.testing.assert_array_equal(found.slope, ASSUMED.slope)
    assert all(np.isfinite(array).all() for array in found.bias.values())


def test_a_forecast_without_humidity_teaches_nothing_of_correlation() -> None:
    told = changed(issued(30), lambda one: {TEMPERATURE: one.values[TEMPERATURE]})
    found = learned(told, STOCK)
    np.testing.assert_array_equal(found.correlation, ASSUMED.correlation)
    assert found.issued_days == 0


def test_dates_of_which_the_record_knows_nothing_do_not_count() -> None:
    summer = (WORLD.hours >= np.datetime64("2042-06-01T00")) & (WORLD.hours < np.datetime64("2042-08-01T00"))
    hours = WORLD.hours[summer]
    short = library(observed(hours, ("one",), {name: WORLD.came(name)[summer][:, None] for name in BLENDED}))
    assert learned(issued(30, first="2042-06-05T11"), short, NOTHING).issued_days == 30
    assert_same(learned(issued(30, first="2042-12-05T11"), short, ASSUMED), ASSUMED)


def test_nothing_given_is_written_to() -> None:
    told = issued(5)
    for one in told:
        for array in (*one.values.values(), *one.came.values()):
            array.flags.writeable = False
    learned(told, STOCK)
