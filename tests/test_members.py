"""Members: past fortnights to the bit, Bayes' rule by hand, ensembles, short forecasts, rain that is never averaged."""

from __future__ import annotations

import math
import sys
import types
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest
from synthetic_climate import TD, Climate, T, Truth, forecast, record, stamps

from forecast.outlook import members as engine
from forecast.outlook.lead_skill import ASSUMED, LeadSkill
from forecast.outlook.library import BLENDED, Library, library
from forecast.outlook.members import Expected, Fortnight, fortnight, with_history
from forecast.outlook.state import StateSays
from forecast.panel import Floats, Panel, observed
from forecast.quantities import Flag, Origin

NAN = math.nan
CLIMATE = Climate()
AHEAD = 16 * 24
MOMENT = np.datetime64("2007-07-10T10", "h")
CARRIED = ("rain_mm", "wind_speed_10m_m_s", "cloud_cover_fraction")
Patch = pytest.MonkeyPatch


def _but(year: int) -> tuple[np.datetime64, np.datetime64]:
    month = np.timedelta64(30 * 24, "h")
    return np.datetime64(f"{year}-01-01T00", "h") - month, np.datetime64(f"{year}-12-31T23", "h") + month


@pytest.fixture(scope="module")
def truth() -> Truth:
    return record(CLIMATE, stamps("2000-01-01T00", "2008-12-31T23"), 21)


@pytest.fixture(scope="module")
def panel(truth: Truth) -> Panel:
    return truth.panel()


@pytest.fixture(scope="module")
def stock(panel: Panel) -> Library:
    return library(panel, but=_but(2007))


@pytest.fixture(scope="module")
def recent(panel: Panel) -> Panel:
    return panel.between(MOMENT - np.timedelta64(335, "h"), MOMENT)


@pytest.fixture(scope="module")
def told(truth: Truth, panel: Panel) -> dict[str, Floats]:
    """A forecast of the sixteen days after the moment, as good as the assumed table has it, with rain, wind and sky."""
    row = _row(panel, MOMENT)
    r, _ = ASSUMED.at_hours(np.arange(1.0, AHEAD + 1))
    found = forecast(truth, row, r, seed=22)
    chance = np.random.default_rng(23)
    found["rain_mm"] = 1000 + chance.random((AHEAD, 1))  # figures that no past year has, each of them once
    found["wind_speed_10m_m_s"] = 1000 + chance.random((AHEAD, 1))
    found["cloud_cover_fraction"] = 1000 + chance.random((AHEAD, 1))
    return found


def _row(panel: Panel, moment: np.datetime64) -> int:
    return int((moment - panel.hours[0]).astype(int))


def _silent(recent: Panel) -> Panel:
    """Readings that say nothing: their last hour is still the last one."""
    unknown = {name: np.full(array.shape, NAN) for name, array in recent.values.items()}
    return observed(recent.hours, recent.series, unknown)


def _skill(r: float, slope: float | None = None, **more: float) -> LeadSkill:
    """One correlation for all leads, and shares to take over."""
    shares = {name: np.full(16, share) for name, share in more.items()}
    slopes = np.full(16, r if slope is None else slope)
    return LeadSkill(np.full(16, r), slopes, MappingProxyType(shares))


def _made(
    stock: Library, recent: Panel, skill: LeadSkill, told: Mapping[str, Floats] | None = None, members: int = 60
) -> Fortnight:
    expected = None if told is None else Expected(told)
    found = fortnight(stock, recent, AHEAD, skill, expected, members)
    assert found is not None
    return found


def _temperature_and_dew_point(told: Mapping[str, Floats]) -> dict[str, Floats]:
    return {name: told[name] for name in BLENDED}


def _in_spreads(stock: Library, made: Fortnight, name: str) -> Floats:
    """Anomalies of members, shape (hours, members)."""
    mean, spread = stock.normals[name].at(made.hours)
    found: Floats = (made.values[name][:, 0] - mean) / spread
    return found


# Past years as they were ----------------------------------------------------------------------------------------------


def _assert_members_are_past_fortnights(module: types.ModuleType, stock: Library, panel: Panel, recent: Panel) -> None:
    """Every hour of every member by plain sums: m + s·(v − m')/s' from the past hour v that it stands for."""
    made = module.fortnight(stock, _silent(recent), AHEAD, _skill(0.0), None, 10_000)
    rows = stock.starts(MOMENT, AHEAD, 10_000)[0]
    assert made.year[0].tolist() == [panel.hours[row].item().year for row in rows]
    as_it_was = 0
    for member in range(0, len(rows), 7):
        for ahead_h in (1, 2, 100, 384):
            then, now = rows[member] + ahead_h, MOMENT + np.timedelta64(ahead_h, "h")
            blended = {}
            for name in BLENDED:
                (m,), (s,) = (one[0] for one in stock.normals[name].at(np.array([now])))
                (m_then,), (s_then,) = (one[0] for one in stock.normals[name].at(panel.hours[then : then + 1]))
                blended[name] = m + s * (panel.values[name][then, 0] - m_then) / s_then
            blended[TD] = min(blended[TD], blended[T])
            for name in BLENDED:
                assert made.values[name][ahead_h - 1, 0, member] == pytest.approx(blended[name], abs=1e-9)
            for name in CARRIED:
                assert made.values[name][ahead_h - 1, 0, member] == panel.values[name][then, 0]
    for member, row in enumerate(rows):
        if str(panel.hours[row])[4:] == str(MOMENT)[4:]:  # the same date: nothing is moved
            as_it_was += 1
            for name in (*BLENDED, *CARRIED):
                then = panel.values[name][row + 1 : row + 1 + AHEAD, 0]
                assert np.allclose(made.values[name][:, 0, member], then, rtol=0, atol=1e-9)
    assert as_it_was == 8  # 2000 to 2008 without 2007


def test_without_anything_to_go_by_members_are_past_fortnights(stock: Library, panel: Panel, recent: Panel) -> None:
    _assert_members_are_past_fortnights(engine, stock, panel, recent)


def test_a_forecast_of_no_worth_changes_nothing(stock: Library, recent: Panel, told: dict[str, Floats]) -> None:
    nothing = _made(stock, recent, _skill(0.0))
    worthless = _made(stock, recent, _skill(0.0), told)
    for name, array in nothing.values.items():
        assert np.array_equal(worthless.values[name], array)
    assert worthless.by_forecast.all()
    assert not nothing.by_forecast.any()


def test_a_perfect_forecast_is_followed_but_for_a_tenth_of_a_spread(
    stock: Library, recent: Panel, told: dict[str, Floats]
) -> None:
    made = _made(stock, _silent(recent), _skill(1.0), _temperature_and_dew_point(told), members=200)
    assert made.explained == pytest.approx(np.full((AHEAD, 1), 0.995))  # no forecast is followed to the letter
    for name in BLENDED:
        mean, spread = stock.normals[name].at(made.hours)
        wanted = (told[name] - mean) / spread
        apart = _in_spreads(stock, made, name) - wanted
        if name == T:
            # √(1 − 0.995) = 0.0707 of the spread of past fortnights, which is 1 but for what 200 of eight years vary.
            assert apart.std() == pytest.approx(0.0707, rel=0.1)
            assert np.abs(apart.mean(axis=1)).max() < 0.05
        assert np.abs(apart).max() < 0.5 or name == TD  # the dew point is cut where the forecast has it above


# Bayes' rule ----------------------------------------------------------------------------------------------------------

G_STATE, E_STATE, R, SLOPE, F = {T: 0.8, TD: -0.4}, 0.36, 0.8, 0.7, {T: 1.5, TD: 0.25}


def _assert_bayes_by_hand(module: types.ModuleType, patch: Patch, stock: Library, recent: Panel) -> None:
    """One hour: the readings expect 0.8 and explain 0.36, a forecast with r = 0.8 and slope 0.7 says 1.5."""

    def says(stock: Library, _: Panel, hours_ahead: int) -> StateSays:
        shape = (hours_ahead, len(stock.series))
        return StateSays({name: np.full(shape, G_STATE[name]) for name in BLENDED}, np.full(shape, E_STATE))

    patch.setattr(module, "state_says", says)
    hours = MOMENT + np.arange(1, AHEAD + 1) * np.timedelta64(1, "h")
    told = {}
    for name in BLENDED:
        mean, spread = stock.normals[name].at(hours)
        told[name] = mean + spread * F[name]
    made = module.fortnight(stock, recent, AHEAD, _skill(R, SLOPE), Expected(told), 10_000)
    # Precisions: 1/0.64 = 1.5625 of the readings, 0.64/0.36 = 1.7778 of the forecast: 3.3403, of which 0.29938 is left.
    # Temperature: 0.29938·(0.8/0.64 + 0.7·1.5/0.36) = 0.29938·(1.25 + 2.91667) = 1.24741.
    # Dew point: 0.29938·(−0.4/0.64 + 0.7·0.25/0.36) = 0.29938·(−0.625 + 0.48611) = −0.04158.
    # The block's weight: √0.29938 = 0.54715.
    assert made.explained == pytest.approx(np.full((AHEAD, 1), 1 - 0.29938), abs=1e-5)
    rows = stock.starts(MOMENT, AHEAD, 10_000)[0]
    for ahead_h in (1, 30, 200, 372):
        for name, expected in ((T, 1.24741), (TD, -0.04158)):
            block = stock.anomalies[name][rows + ahead_h, 0]
            wanted = expected + 0.54715 * block
            (m,), (s,) = (one[0] for one in stock.normals[name].at(hours[ahead_h - 1 : ahead_h]))
            values = made.values[name][ahead_h - 1, 0]
            free = values < made.values[T][ahead_h - 1, 0] - 1e-9 if name == TD else np.ones(len(rows), dtype=bool)
            assert np.allclose(((values - m) / s)[free], wanted[free], rtol=0, atol=5e-5)
            assert free.any()


def test_readings_and_forecast_go_together_by_bayes_rule(monkeypatch: Patch, stock: Library, recent: Panel) -> None:
    _assert_bayes_by_hand(engine, monkeypatch, stock, recent)


GAUSSIAN = Climate(depression_c=30.0)


@pytest.fixture(scope="module")
def gaussian() -> tuple[Truth, Library]:
    """Twenty years whose dew point never meets the temperature, and a stock of all but the last."""
    found = record(GAUSSIAN, stamps("1981-01-01T00", "2001-12-31T23"), 24)
    return found, library(found.panel(), but=_but(2001))


@pytest.mark.parametrize("r", [None, 0.6])
def test_members_have_the_mean_and_the_variance_of_what_comes(gaussian: tuple[Truth, Library], r: float | None) -> None:
    # Mornings of other weather of the same climate: members' total variance is 1, that about their mean is what they
    # say is left, and what came lies about their mean by just that. Of 180 mornings with two quantities a mean square
    # is good to some √(2/250) = 9 %, over several hours a day to some 7 %; both bounds are twice that.
    _, stock = gaussian
    other = record(GAUSSIAN, stamps("2001-01-01T00", "2007-12-31T23"), 25)
    readings = other.panel()
    skill = _skill(r or 0.0)
    parts: list[Floats] = []
    for row in range(400, len(other.hours) - 500, 24 * 14 + 5):
        told = None if r is None else forecast(other, row, np.full(AHEAD, r), seed=row)
        before = readings.between(other.hours[row - 335], other.hours[row])
        made = _made(stock, before, skill, told, members=30)
        for name in BLENDED:
            members = _in_spreads(stock, made, name)
            mean, spread = stock.normals[name].at(made.hours)
            came = (readings.values[name][row + 1 : row + 1 + AHEAD, 0] - mean[:, 0]) / spread[:, 0]
            centre = members.mean(axis=1)
            about = members.var(axis=1, ddof=1)
            # A mean of 30 blocks of past years is off by a thirtieth of their variance, which is no fault of theirs.
            figures = (members**2).mean(axis=1), about, (came - centre) ** 2 - about / 30, 1 - made.explained[:, 0]
            parts.append(np.stack([*figures, centre * came, centre**2 - about / 30]))
    total, about_mean, off, left, with_it, of_itself = np.mean(parts, axis=0)
    for hours in (slice(0, 12), slice(12, 36), slice(36, 120), slice(120, AHEAD)):
        assert total[hours].mean() == pytest.approx(1, abs=0.1)
        assert about_mean[hours].mean() == pytest.approx(left[hours].mean(), rel=0.1)
        assert off[hours].mean() == pytest.approx(left[hours].mean(), rel=0.14)
        if r:  # what came rises by one where what is expected does
            assert with_it[hours].mean() == pytest.approx(of_itself[hours].mean(), rel=0.14)
    if r:
        # Beyond what readings say, r² is explained, and no less at any hour: they add to the forecast.
        assert left[-40:].mean() == pytest.approx(1 - r**2, abs=0.01)
        assert left.max() < 1 - r**2 + 1e-9
        assert left[0] < 1 - r**2 - 0.1


# What a forecast is usually off by ------------------------------------------------------------------------------------


def test_what_a_forecast_is_usually_off_by_is_taken_off_hour_by_hour(
    stock: Library, recent: Panel, told: dict[str, Floats]
) -> None:
    sound = _temperature_and_dew_point(told)
    chance = np.random.default_rng(26)
    bias = {name: chance.normal(0.5, 1.0, 24) for name in BLENDED}
    off, hours = {}, MOMENT + np.arange(1, AHEAD + 1) * np.timedelta64(1, "h")
    for name in BLENDED:
        _, spread = stock.normals[name].at(hours)
        clock = np.array([hour.item().hour for hour in hours])
        off[name] = sound[name] + spread * bias[name][clock][:, None]
    wanted = _made(stock, recent, ASSUMED, sound)
    found = _made(stock, recent, replace(ASSUMED, bias=MappingProxyType(bias)), off)
    for name in BLENDED:
        assert np.allclose(found.values[name], wanted.values[name], rtol=0, atol=1e-9)
    assert np.abs(_made(stock, recent, ASSUMED, off).values[T] - wanted.values[T]).max() > 1


# Humidity -------------------------------------------------------------------------------------------------------------


def test_dew_points_stay_below_temperatures_and_humidity_goes_with_them(
    stock: Library, recent: Panel, told: dict[str, Floats]
) -> None:
    damp = {T: told[T], TD: told[T] + 5.0}  # a forecast that cannot be
    for forecast_told in (None, told, damp):
        made = _made(stock, recent, ASSUMED, forecast_told)
        t, td = made.values[T], made.values[TD]
        assert (td <= t).all()
        # FAO-56 eq. 11, written out: 100·e°(Td)/e°(T) with e° = 6.108·exp(17.27 t/(t + 237.3)).
        worked = 100 * np.exp(17.27 * td / (td + 237.3) - 17.27 * t / (t + 237.3))
        assert np.allclose(made.values["relative_humidity_pct"], worked, rtol=0, atol=1e-9)
        assert (made.values["relative_humidity_pct"] <= 100).all()


# Ensembles ------------------------------------------------------------------------------------------------------------


def _ensemble(
    stock: Library, told: Mapping[str, Floats], size: int, spread_by: float, seed: int = 27
) -> dict[str, Floats]:
    """Members about a forecast, so many spreads to either side, each off by its own all the way."""
    chance = np.random.default_rng(seed)
    hours = MOMENT + np.arange(1, AHEAD + 1) * np.timedelta64(1, "h")
    found = {}
    for name in BLENDED:
        _, spread = stock.normals[name].at(hours)
        apart = chance.standard_normal((1, 1, size)) * np.ones((AHEAD, 1, 1))
        apart -= apart.mean(axis=2, keepdims=True)
        found[name] = told[name][:, :, None] + spread_by * spread[:, :, None] * apart
    return found


@pytest.mark.parametrize("spread_by", [0.2, 0.6, 3.0])
def test_an_ensembles_spread_is_a_part_of_what_is_left_and_never_beside_it(
    stock: Library, recent: Panel, told: dict[str, Floats], spread_by: float
) -> None:
    ensemble = _ensemble(stock, told, 7, spread_by)
    silent, skill = _silent(recent), _skill(0.6)
    made = _made(stock, silent, skill, ensemble, members=10_000)
    rows = stock.starts(MOMENT, AHEAD, 10_000)[0]
    members = len(rows)
    assert made.explained == pytest.approx(np.full((AHEAD, 1), 0.36))
    deviations = {}
    for name in BLENDED:
        mean, spread = stock.normals[name].at(made.hours)
        deviations[name] = (ensemble[name] - ensemble[name].mean(axis=2, keepdims=True))[:, 0] / spread
    own = np.mean([(deviations[name] ** 2).mean(axis=1) for name in BLENDED], axis=0)  # of both together
    for ahead_h in (1, 77, 380):
        row = ahead_h - 1
        # 0.64 is left; the ensemble's deviations are taken as they are up to that, and the block brings the rest.
        shrink = min(math.sqrt(0.64 / own[row]), 1.0)
        weight = math.sqrt(max(0.64 - shrink**2 * own[row], 0.0))
        mean, spread = stock.normals[T].at(made.hours)
        centre = 0.6 * (told[T][row, 0] - mean[row, 0]) / spread[row, 0]
        apart = _in_spreads(stock, made, T)[row] - centre - weight * stock.anomalies[T][rows + ahead_h, 0]
        # Every one of the ensemble is used alike, and its deviation as it is.
        groups: dict[int, int] = {}
        for one in apart:
            nearest = int(np.argmin(np.abs(shrink * deviations[T][row] - one)))
            assert shrink * deviations[T][row, nearest] == pytest.approx(one, abs=1e-6)  # a root of a rounding
            groups[nearest] = groups.get(nearest, 0) + 1
        assert len(groups) == 7
        assert max(groups.values()) - min(groups.values()) <= 1
    assert members > 250
    # What is left is 0.64 in all, but for what some hundred past fortnights of eight years vary.
    both = np.mean([_in_spreads(stock, made, name).var(axis=1).mean() for name in BLENDED])
    assert both == pytest.approx(0.64, rel=0.15)


def test_an_ensemble_of_equals_is_one_forecast(stock: Library, recent: Panel, told: dict[str, Floats]) -> None:
    one = _made(stock, recent, ASSUMED, told)
    for size in (1, 9):
        equals = {name: np.repeat(array[:, :, None], size, axis=2) for name, array in told.items()}
        many = _made(stock, recent, ASSUMED, equals)
        for name, array in one.values.items():
            assert np.allclose(many.values[name], array, rtol=0, atol=1e-9)


def test_silent_ones_of_an_ensemble_leave_the_total_as_it_is(
    stock: Library, recent: Panel, told: dict[str, Floats]
) -> None:
    ensemble = _ensemble(stock, told, 10, 0.4)
    holed = {name: array.copy() for name, array in ensemble.items()}
    for name in BLENDED:
        holed[name][:, :, 3] = NAN  # one that was never sent
        holed[name][200:, :, 5:] = NAN  # five that end early
    made = _made(stock, _silent(recent), _skill(0.6), holed, members=10_000)
    assert made.by_forecast.all()
    assert all(not np.isnan(array).any() for array in made.values.values())
    rows = stock.starts(MOMENT, AHEAD, 10_000)[0]
    for ahead_h in (50, 300):
        row, deviations, squares = ahead_h - 1, {}, []
        for name in BLENDED:
            _, spread = stock.normals[name].at(made.hours)
            one = holed[name][row, 0]
            apart = (one - np.nanmean(one)) / spread[row, 0]
            deviations[name] = np.where(np.isnan(apart), 0.0, apart)  # a silent one stands at the mean
            squares.append(float((deviations[name] ** 2).mean()))
        # 0.64 is left. The deviations, silent ones among them, bring their mean square, and the block the rest.
        weight = math.sqrt(0.64 - sum(squares) / 2)
        mean, spread = stock.normals[T].at(made.hours)
        centre = 0.6 * (np.nanmean(holed[T][row, 0]) - mean[row, 0]) / spread[row, 0]
        own = _in_spreads(stock, made, T)[row] - centre - weight * stock.anomalies[T][rows + ahead_h, 0]
        assert np.abs(own[:, None] - deviations[T]).min(axis=1).max() < 1e-6
        assert (np.abs(own) < 1e-6).mean() == pytest.approx(0.1 if ahead_h == 50 else 0.6, abs=0.01)


def test_an_ensemble_of_one_quantity_goes_with_a_single_other(
    stock: Library, recent: Panel, told: dict[str, Floats]
) -> None:
    mixed = {T: _ensemble(stock, told, 8, 0.4)[T], TD: told[TD], "rain_mm": told["rain_mm"]}
    made = _made(stock, recent, ASSUMED, mixed)
    assert made.by_forecast.all()
    assert all(not np.isnan(array).any() for array in made.values.values())


def test_members_that_follow_take_all_of_an_ensemble_in_turn(
    stock: Library, recent: Panel, told: dict[str, Floats]
) -> None:
    # Levels fill up every other member first; were members and ensemble counted alike, half of an even ensemble would
    # not be heard below a share of a half.
    size = 8
    rain = 1000.0 + np.arange(size) + np.zeros((AHEAD, 1, size))
    ensemble = {**_ensemble(stock, told, size, 0.4), "rain_mm": rain}
    made = _made(stock, recent, _skill(0.6, rain_mm=0.25), ensemble, members=128)
    heard = made.values["rain_mm"][0, 0]
    heard = heard[heard >= 1000]
    assert len(heard) == 32
    assert np.bincount((heard - 1000).astype(int), minlength=size).tolist() == [4] * size


# Forecasts that are short, coarse or holed ----------------------------------------------------------------------------


def test_a_forecast_in_steps_of_three_hours_is_joined_by_straight_lines(stock: Library, recent: Panel) -> None:
    hours = MOMENT + np.arange(1, AHEAD + 1) * np.timedelta64(1, "h")
    line = np.linspace(-1, 1.5, AHEAD)[:, None]  # in spreads
    whole = {}
    for name in BLENDED:
        mean, spread = stock.normals[name].at(hours)
        whole[name] = mean + spread * line
    steps = np.zeros(AHEAD, dtype=bool)
    steps[2::3] = True  # first at three hours ahead, last at 384
    coarse = {name: np.where(steps[:, None], array, NAN) for name, array in whole.items()}
    wanted, found = (_made(stock, recent, ASSUMED, told) for told in (whole, coarse))
    assert found.by_forecast[:, 0].tolist() == [False, False] + [True] * (AHEAD - 2)
    for name in BLENDED:
        assert np.allclose(found.values[name][2:], wanted.values[name][2:], rtol=0, atol=1e-9)
    # The first two hours are the readings' alone.
    alone = _made(stock, recent, ASSUMED)
    assert np.array_equal(found.values[T][:2], alone.values[T][:2])


def _worked_hold(
    stock: Library, by_forecast: Floats, explained: Floats, anomaly: Floats, row: int
) -> tuple[float, float]:
    """By plain sums: mean anomaly of the last day before a hole and its share, as they are held at an hour of it."""
    last = max(n for n in range(row) if by_forecast[n])
    day = [n for n in range(max(last - 23, 0), last + 1) if by_forecast[n]]
    lag = (row - (last - 11.5)) / 24
    slopes, share = stock.persistence
    low = min(int(lag), 19)
    slope = slopes[low, 0] + (slopes[low + 1, 0] - slopes[low, 0]) * (min(lag, 20.0) - low)
    mean = sum(anomaly[n] for n in day) / len(day)
    told = sum(explained[n] for n in day) / len(day)
    return float(slope * mean), float(slope**2 * share[0] * told)


@pytest.mark.parametrize("holes", [[(168, AHEAD)], [(72, 96)], [(0, 40), (60, 84), (240, AHEAD)]])
def test_where_a_forecast_is_silent_its_last_day_is_held_and_fades(
    stock: Library, recent: Panel, told: dict[str, Floats], holes: list[tuple[int, int]]
) -> None:
    says = np.ones(AHEAD, dtype=bool)
    for first, last in holes:
        says[first:last] = False
    short = {name: np.where(says[:, None], told[name], NAN) for name in BLENDED}
    whole, found, alone = (
        _made(stock, recent, ASSUMED, one) for one in (_temperature_and_dew_point(told), short, None)
    )
    assert np.array_equal(found.by_forecast[:, 0], says)
    for name in BLENDED:
        assert np.array_equal(found.values[name][says], whole.values[name][says])
    explained, by_readings = found.explained[:, 0], alone.explained[:, 0]
    centre = {}
    for name in BLENDED:  # what is expected is the mean of members less that of their blocks
        rows = stock.starts(MOMENT, AHEAD, 60)[0]
        block = stock.anomalies[name][rows[None] + np.arange(1, AHEAD + 1)[:, None], 0]
        weight = np.sqrt(1 - explained)[:, None]
        centre[name] = (_in_spreads(stock, found, name) - weight * block)[:, :]
    for row in np.flatnonzero(~says):
        if not says[:row].any():
            assert explained[row] == by_readings[row]
            continue
        anomaly = np.median(centre[T], axis=1)
        held, share = _worked_hold(stock, says, explained, anomaly, int(row))
        if share > by_readings[row]:
            assert explained[row] == pytest.approx(share, abs=1e-9)
            assert anomaly[row] == pytest.approx(held, abs=1e-9)
        else:
            assert explained[row] == by_readings[row]
    # No cliff: it falls as it goes on, never below what readings say nor above the day that is held.
    for first, last in holes:
        if first:
            inside = explained[first:last]
            assert (np.diff(inside) <= 1e-9).all()
            assert (inside >= by_readings[first:last]).all()
            assert inside[0] < explained[first - 24 : first].mean()
            assert inside[0] > 0.35 * explained[first - 1]


def test_what_is_held_after_a_forecasts_end_is_worth_what_is_said(gaussian: tuple[Truth, Library]) -> None:
    # A week of forecasts with r = 0.8, and the two days after: what comes lies about the held mean by what is left, and
    # nearer to it than without it. Measured by what came about the usual value on the same mornings, which is 1 in the
    # long run: what is gained of it has an error of 2·√(0.2/500) = 0.04 on the first day, of 0.03 on the second.
    _, stock = gaussian
    other = record(GAUSSIAN, stamps("2001-01-01T00", "2008-12-31T23"), 28)
    readings = other.panel()
    week = np.arange(AHEAD) < 168
    parts: list[Floats] = []
    for row in range(400, len(other.hours) - 500, 24 * 8 + 1):
        told = forecast(other, row, np.where(week, 0.8, 0.0), seed=row)
        short = Expected({name: np.where(week[:, None], array, NAN) for name, array in told.items()})
        before = readings.between(other.hours[row - 335], other.hours[row])
        hours = other.hours[row + 1 : row + 1 + AHEAD]
        found = engine._Guidance.of(stock, before, hours, _skill(0.8), short)
        for name in BLENDED:
            mean, spread = stock.normals[name].at(hours)
            came = (readings.values[name][row + 1 : row + 1 + AHEAD] - mean) / spread
            parts.append(np.hstack([(came - found.anomaly[name]) ** 2, came**2, 1 - found.explained]))
    held, without, left = np.mean(parts, axis=0).T
    for day in (slice(168, 192), slice(192, 216)):
        assert held[day].mean() / without[day].mean() == pytest.approx(left[day].mean(), abs=0.06)
    assert held[168:192].mean() < 0.88 * without[168:192].mean()
    assert left[168] < left[191] < left[215] < left[300] <= 1


def test_a_few_hours_of_forecast_are_no_day_to_hold(stock: Library, recent: Panel, told: dict[str, Floats]) -> None:
    alone = _made(stock, recent, ASSUMED)
    for hours, is_held in ((11, False), (12, True)):
        some = {name: np.where((np.arange(AHEAD) < hours)[:, None], told[name], NAN) for name in BLENDED}
        made = _made(stock, recent, ASSUMED, some)
        assert (made.explained[hours:] > alone.explained[hours:]).any() == is_held


def test_where_readings_tell_more_than_the_held_day_they_are_told(
    stock: Library, recent: Panel, told: dict[str, Floats]
) -> None:
    # A forecast of fourteen hours with a slope of 0.3 explains little more than readings do; readings that say nothing
    # leave it to be held, readings that explain 0.9 do not.
    some = {name: np.where((np.arange(AHEAD) < 14)[:, None], told[name], NAN) for name in BLENDED}

    def says(share: float) -> Callable[..., StateSays]:
        def state(stock: Library, _: Panel, hours_ahead: int) -> StateSays:
            shape = (hours_ahead, len(stock.series))
            return StateSays({name: np.full(shape, 0.7) for name in BLENDED}, np.full(shape, share))

        return state

    hours = MOMENT + np.arange(1, AHEAD + 1) * np.timedelta64(1, "h")
    for share, is_held in ((0.9, False), (0.0, True)):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(engine, "state_says", says(share))
            found = engine._Guidance.of(stock, recent, hours, _skill(0.5), Expected(some))
        assert (found.explained[14, 0] != share) == is_held
        assert (found.anomaly[T][14, 0] != 0.7) == is_held


def test_a_forecast_of_temperature_alone_is_none(stock: Library, recent: Panel, told: dict[str, Floats]) -> None:
    made, alone = _made(stock, recent, ASSUMED, {T: told[T]}), _made(stock, recent, ASSUMED)
    assert not made.by_forecast.any()
    assert np.array_equal(made.values[T], alone.values[T])
    assert np.array_equal(made.explained, alone.explained)


def test_beyond_what_a_forecast_is_known_to_be_worth_it_counts_as_silent(
    stock: Library, recent: Panel, told: dict[str, Floats]
) -> None:
    week = LeadSkill(np.full(7, 0.8), np.full(7, 0.8), MappingProxyType({"rain_mm": np.full(7, 0.5)}))
    made = _made(stock, recent, week, told)
    cut = {name: np.where((np.arange(AHEAD) < 168)[:, None], array, NAN) for name, array in told.items()}
    same = _made(stock, recent, week, cut)
    assert np.flatnonzero(made.by_forecast[:, 0]).tolist() == list(range(168))
    assert np.array_equal(made.explained, same.explained)
    for name, array in same.values.items():
        assert np.array_equal(made.values[name], array)


# What it is worth by hours ahead --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ahead_h", "r"),
    [(1, 0.9), (12, 0.9), (24, 0.8), (36, 0.7), (48, 0.5), (60, 0.3), (66, 0.3), (72, 0.3), (73, 0.0), (400, 0.0)],
)
def test_a_days_figure_stands_at_its_middle(ahead_h: float, r: float) -> None:
    # 0.9, 0.7 and 0.3 at 12, 36 and 60 hours; 24 h lies half way from 0.9 to 0.7; the third day ends at 72 h.
    table = np.array([0.9, 0.7, 0.3])
    skill = LeadSkill(table, table / 2, MappingProxyType({"rain_mm": table}))
    assert [float(one[0]) for one in skill.at_hours(np.array([ahead_h]))] == pytest.approx([r, r / 2])
    assert skill.share_at_hours("rain_mm", np.array([ahead_h])) == pytest.approx([r])
    assert skill.share_at_hours("snow_depth_mm", np.array([ahead_h])) == [0]


def test_the_assumed_table_falls_and_is_the_mean_of_its_two() -> None:
    # The first and the last day: (0.95 + 0.86)/2 and (0.08 + 0.04)/2.
    assert ASSUMED.correlation[[0, 15]] == pytest.approx([0.905, 0.06])
    assert (np.diff(ASSUMED.correlation) < 0).all()
    for shares in ASSUMED.shares.values():
        assert shares.shape == (16,)
        assert (np.diff(shares) <= 0).all()
        assert shares.min() >= 0
        assert shares.max() <= 1


# Rain, wind and sky ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("members", [1, 7, 64, 100])
def test_so_many_members_follow_as_the_forecast_is_worth_and_each_turns_away_once(
    stock: Library, recent: Panel, told: dict[str, Floats], members: int
) -> None:
    made = _made(stock, recent, ASSUMED, told, members)
    rows = stock.starts(MOMENT, AHEAD, members)[0]
    for name in CARRIED:
        values, table = made.values[name][:, 0], ASSUMED.shares[name]
        follows = values >= 1000
        block = stock.carried[name][rows[None] + np.arange(1, AHEAD + 1)[:, None], 0]
        own = np.broadcast_to(told[name], values.shape)
        assert np.array_equal(values, np.where(follows, own, block))  # one or the other to the bit, never a mean
        assert (np.diff(follows.astype(int), axis=0) <= 0).all()  # never back again
        for lead in range(1, 17):
            wanted = table[lead - 1] * members  # the day's figure at its middle
            assert abs(follows[24 * lead - 13].sum() - wanted) <= 1
    rain, wind = (made.values[name][:, 0] >= 1000 for name in ("rain_mm", "wind_speed_10m_m_s"))
    assert (wind | ~rain).all()  # whoever still follows the rain follows the wind, which is worth more


def test_those_that_follow_are_of_all_years(stock: Library, recent: Panel, told: dict[str, Floats]) -> None:
    # Members of one year follow each other: 13 or so a year of eight. At each lead every year has its share of those
    # who follow.
    made = _made(stock, recent, ASSUMED, told, members=104)
    years = np.unique(made.year[0])
    for lead in (1, 4, 6):
        follows = made.values["rain_mm"][24 * lead - 13, 0] >= 1000
        share = [follows[made.year[0] == year].mean() for year in years]
        assert max(share) - min(share) < 0.25


def test_an_hour_that_the_forecast_leaves_out_is_the_blocks(
    stock: Library, recent: Panel, told: dict[str, Floats]
) -> None:
    without = {name: array.copy() for name, array in told.items()}
    without["rain_mm"][10:20] = NAN
    made, whole = _made(stock, recent, ASSUMED, without), _made(stock, recent, ASSUMED, told)
    rows = stock.starts(MOMENT, AHEAD, 60)[0]
    block = stock.carried["rain_mm"][rows[None] + np.arange(11, 21)[:, None], 0]
    assert np.array_equal(made.values["rain_mm"][10:20, 0], block)
    assert np.array_equal(made.values["rain_mm"][20:], whole.values["rain_mm"][20:])


def test_wind_and_sky_in_steps_of_three_hours_are_joined_and_rain_is_not(
    stock: Library, recent: Panel, told: dict[str, Floats]
) -> None:
    steps = (np.arange(AHEAD) % 3 == 2)[:, None]
    line = 1000 + np.arange(AHEAD, dtype=np.float64)[:, None]
    coarse = {**_temperature_and_dew_point(told), **{name: np.where(steps, line, NAN) for name in CARRIED}}
    made = _made(stock, recent, _skill(0.6, **dict.fromkeys(CARRIED, 1.0)), coarse)
    for name in CARRIED[1:]:
        assert np.array_equal(made.values[name][2:, 0], np.repeat(line[2:], 60, axis=1))
        assert (made.values[name][:2] < 1000).all()
    assert np.array_equal(made.values["rain_mm"][:, 0] >= 1000, np.repeat(steps, 60, axis=1))


def test_rain_that_past_years_do_not_know_is_not_known_ahead(panel: Panel, recent: Panel) -> None:
    values = {name: array.copy() for name, array in panel.values.items()}
    rows = slice(_row(panel, np.datetime64("2003-07-01T00", "h")), _row(panel, np.datetime64("2003-08-30T00", "h")))
    values["rain_mm"][rows] = NAN
    some = library(observed(panel.hours, panel.series, values), but=_but(2007))
    made = _made(some, recent, ASSUMED)
    of_2003 = made.year[0] == 2003
    assert np.isnan(made.values["rain_mm"][20 * 24 :, 0, of_2003]).all() or of_2003.any()
    assert np.isnan(made.values["rain_mm"][:, 0, of_2003]).mean() > 0.7
    assert not np.isnan(made.values["rain_mm"][:, 0, ~of_2003]).any()
    assert not np.isnan(made.values[T]).any()


def test_members_rain_as_the_climate_does(gaussian: tuple[Truth, Library]) -> None:
    # By the chain's own numbers a wet hour follows a wet one with 0.8, and has 1.5 mm on the mean. How often it is wet
    # hangs on the damp, and is counted in thirty other years. 19 years of 57 days with 1,700 spells: 0.8 is good to
    # √(0.16/8000) = 0.004 by each, the amount to 1.5/√8000 = 0.02; spells come in damp days, 300 independent ones: 8 %.
    truth, stock = gaussian
    made = _made(stock, _silent(_before_moment(truth)), _skill(0.0), members=10_000)
    elsewhere = record(GAUSSIAN, stamps("1971-01-01T00", "2000-12-31T23"), 29)
    days = elsewhere.hours.astype("datetime64[D]")
    date = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(int)
    season = (date >= 170) & (date <= 226)  # 20 June to 15 August: 20 days before 10 July to 20 and a fortnight after
    here, there = made.values["rain_mm"][:, 0], elsewhere.values["rain_mm"][:, 0]
    wet = here > 0
    assert wet.mean() == pytest.approx((there[season] > 0).mean(), rel=0.2)
    assert wet[1:][wet[:-1]].mean() == pytest.approx(0.8, abs=0.02)
    assert here[wet].mean() == pytest.approx(1.5, abs=0.08)


def _before_moment(truth: Truth) -> Panel:
    last = np.datetime64("2001-07-10T10", "h")
    return truth.panel().between(last - np.timedelta64(335, "h"), last)


# The same in, the same out --------------------------------------------------------------------------------------------


def test_the_same_inputs_give_the_same_bytes_and_stay_as_they_were(
    panel: Panel, recent: Panel, told: dict[str, Floats]
) -> None:
    before = {name: array.copy() for name, array in told.items()}
    made = []
    for _ in range(2):
        stock = library(panel, but=_but(2007))
        anomalies = {name: array.copy() for name, array in stock.anomalies.items()}
        carried = {name: array.copy() for name, array in stock.carried.items()}
        made.append(_made(stock, recent, ASSUMED, told))
        for name, array in anomalies.items():
            assert np.array_equal(stock.anomalies[name], array, equal_nan=True)
        for name, array in carried.items():
            assert np.array_equal(stock.carried[name], array, equal_nan=True)
    for name, array in made[0].values.items():
        assert made[1].values[name].tobytes() == array.tobytes()
    assert all(np.array_equal(told[name], array) for name, array in before.items())


def test_two_series_do_not_mix() -> None:
    truth = record(CLIMATE, stamps("2003-01-01T00", "2007-12-31T23"), 30, columns=2)
    panel = truth.panel(("alder", "birch"))
    recent = panel.between(MOMENT - np.timedelta64(335, "h"), MOMENT)
    rows = _row(panel, MOMENT) + np.arange(1, AHEAD + 1)
    chance = np.random.default_rng(31)
    told = {name: panel.values[name][rows] + chance.normal(0, 2, (AHEAD, 2)) for name in (*BLENDED, "rain_mm")}
    told[T][200:, 0] = NAN  # the first series' forecast is shorter
    both = _made(library(panel, but=_but(2007)), recent, ASSUMED, told)
    for column in (0, 1):
        alone = library(panel.only(column), but=_but(2007))
        one = {name: array[:, column : column + 1] for name, array in told.items()}
        found = _made(alone, recent.only(column), ASSUMED, one)
        for name, array in both.values.items():
            assert np.allclose(found.values[name][:, 0], array[:, column], rtol=0, atol=1e-7)
        assert np.array_equal(found.by_forecast[:, 0], both.by_forecast[:, column])
        assert np.allclose(found.explained[:, 0], both.explained[:, column], rtol=0, atol=1e-9)
    assert both.by_forecast.sum(axis=0).tolist() == [200, AHEAD]


def test_a_series_with_fewer_past_fortnights_sets_how_many_there_are() -> None:
    truth = record(CLIMATE, stamps("2003-01-01T00", "2007-12-31T23"), 32, columns=2)
    values = {name: array.copy() for name, array in truth.panel(("alder", "birch")).values.items()}
    values[T][: _row(truth.panel(("alder", "birch")), np.datetime64("2006-07-05T00", "h")), 1] = NAN
    panel = observed(truth.hours, ("alder", "birch"), values)
    stock = library(panel, but=_but(2007))
    made = _made(stock, panel.between(MOMENT - np.timedelta64(335, "h"), MOMENT), ASSUMED, members=40)
    assert made.year.shape == (2, 26)  # 5 to 30 July 2006
    assert set(made.year[1]) == {2006}
    assert set(made.year[0]) == {2003, 2004, 2005, 2006}  # thinned, not cut


def test_blocks_may_be_asked_to_be_known_for_a_time_only(panel: Panel, recent: Panel) -> None:
    # A hole of a day 100 hours after every moment of 2003 that could stand for this one.
    values = {name: array.copy() for name, array in panel.values.items()}
    for day in range(-20, 21):
        row = _row(panel, np.datetime64("2003-07-10T10", "h")) + 24 * day + 400
        values[T][row] = NAN
    stock = library(observed(panel.hours, panel.series, values), but=_but(2007))
    whole = fortnight(stock, recent, 420, ASSUMED, None, 80)
    some = fortnight(stock, recent, 420, ASSUMED, None, 80, known_hours=20)
    assert whole is not None
    assert some is not None
    assert 2003 not in whole.year
    assert 2003 in some.year
    unknown = np.isnan(some.values[T][:, 0])
    assert not unknown[:20].any()
    assert unknown[:, some.year[0] == 2003].any(axis=0).all()
    assert not unknown[:, some.year[0] != 2003].any()
    assert np.array_equal(unknown, np.isnan(some.values["relative_humidity_pct"][:, 0]))


def test_no_past_year_no_members(panel: Panel, recent: Panel) -> None:
    young = library(panel.between(np.datetime64("2007-03-01T00", "h"), MOMENT))
    assert fortnight(young, recent, AHEAD, ASSUMED, None, 50) is None
    for hours in (1, 5, 400):
        first = recent.between(MOMENT - np.timedelta64(hours - 1, "h"), MOMENT)
        assert fortnight(library(first), first, AHEAD, ASSUMED, None, 50) is None


def test_a_forecast_of_other_hours_or_series_is_refused(stock: Library, recent: Panel, told: dict[str, Floats]) -> None:
    for wrong in (told[T][:-1], np.repeat(told[T], 2, axis=1), told[T][:1]):
        with pytest.raises(ValueError, match="every hour asked for"):
            fortnight(stock, recent, AHEAD, ASSUMED, Expected({T: wrong, TD: told[TD]}), 10)
    elsewhere = observed(recent.hours, ("birch",), recent.values)
    with pytest.raises(ValueError, match="birch"):
        fortnight(stock, elsewhere, AHEAD, ASSUMED, None, 10)


@pytest.mark.parametrize(
    "moment", ["2004-02-29T10", "2004-02-28T10", "2004-12-31T23", "2005-01-01T00", "2005-02-20T05", "2008-12-12T07"]
)
def test_the_turn_of_the_year_and_the_leap_day_are_days_like_others(panel: Panel, moment: str) -> None:
    last = np.datetime64(moment, "h")
    stock = library(panel, but=_but(int(moment[:4])))
    made = _made(stock, panel.between(last - np.timedelta64(335, "h"), last), ASSUMED)
    assert made.hours[0] - last == np.timedelta64(1, "h")
    assert (np.diff(made.hours) == np.timedelta64(1, "h")).all()
    mean = CLIMATE.means(made.hours)[T]
    assert all(not np.isnan(array).any() for array in made.values.values())
    # Sixty members of seven years and more: their mean is within four standard errors of ten or so independent ones.
    assert np.abs(made.values[T][200:, 0].mean() - mean[200:].mean()) < 4 * CLIMATE.spread_c / math.sqrt(10)


# What models read -----------------------------------------------------------------------------------------------------


def test_history_and_hours_ahead_follow_each_other(stock: Library, recent: Panel, told: dict[str, Floats]) -> None:
    soil = np.full(recent.values[T].shape, 12.0)
    read = recent.with_quantity("soil_temperature_5cm_c", soil, soil.astype(np.uint8), soil.astype(np.uint8))
    short = {name: np.where((np.arange(AHEAD) < 100)[:, None], array, NAN) for name, array in told.items()}
    made = _made(stock, recent, ASSUMED, short, members=9)
    found = with_history(read, made)
    assert found.hours[len(recent.hours) - 1] == MOMENT
    assert len(found.hours) == len(recent.hours) + AHEAD
    past, ahead = slice(0, len(recent.hours)), slice(len(recent.hours), None)
    for name in (*BLENDED, "relative_humidity_pct", *CARRIED):
        assert np.array_equal(found.values[name][ahead], made.values[name])
        for member in range(9):
            assert np.array_equal(found.values[name][past, :, member], recent.values[name])
            assert np.array_equal(found.flags[name][past, :, member], recent.flags[name])
            assert np.array_equal(found.origin[name][past, :, member], recent.origin[name])
        origin = found.origin[name][ahead, 0, 0]
        assert origin.tolist() == [Origin.WEATHER_FORECAST] * 100 + [Origin.PAST_YEAR] * (AHEAD - 100)
        assert (found.flags[name][ahead] == Flag.NOT_EVALUATED).all()
    assert np.isnan(found.values["soil_temperature_5cm_c"][ahead]).all()
    assert (found.flags["soil_temperature_5cm_c"][ahead] == Flag.MISSING).all()


# Slips, planted on purpose --------------------------------------------------------------------------------------------


def _slipped(monkeypatch: Patch, original: str, slip: str) -> types.ModuleType:
    """The engine's own source with one piece of it turned."""
    source = Path(engine.__file__).read_text(encoding="utf-8")
    assert source.count(original) >= 1, original
    module = types.ModuleType("slipped")
    module.__dict__["__file__"] = engine.__file__
    monkeypatch.setitem(sys.modules, "slipped", module)  # where dataclasses look for their module
    code = compile(source.replace(original, slip), engine.__file__, "exec")
    exec(code, module.__dict__)  # noqa: S102 - the project's own source, one piece turned
    return module


WEIGHT = ("weight = np.sqrt(np.maximum(left - shrink**2 * guidance.spread, 0.0))",)
BAYES_SLIPS = {
    "the weight is what is left, not its root": (WEIGHT[0], WEIGHT[0].replace("np.sqrt", "")),
    "what is left by 1 − r instead of 1 − r²": ("np.minimum(r**2,", "np.minimum(r,"),
    "readings counted twice": ("1 / left_by_state + r2", "2 / left_by_state + r2"),
    "the slope left out": ("b * means / (1 - r2)", "means / (1 - r2)"),
    "spread for variance": ("b * means / (1 - r2)", "b * means / np.sqrt(1 - r2)"),
}
BLOCK_SLIPS = {
    "the block begins an hour early": ("picked[None] + np.arange(1, ", "picked[None] - 1 + np.arange(1, "),
    "the block begins an hour late": ("picked[None] + np.arange(1, ", "picked[None] + 1 + np.arange(1, "),
    "dew points of another year": (
        "anomaly = stock.anomalies[name][rows, column]",
        "anomaly = stock.anomalies[name][rows[:, :, :: (1 if name == 'air_temperature_c' else -1)], column]",
    ),
    "rain of another year": (
        "block = stock.carried[name][rows, column]",
        "block = stock.carried[name][rows[:, :, ::-1], column]",
    ),
}


@pytest.fixture
def block_check(stock: Library, panel: Panel, recent: Panel) -> Callable[[types.ModuleType], None]:
    return lambda module: _assert_members_are_past_fortnights(module, stock, panel, recent)


def test_the_engine_itself_passes_as_source(
    block_check: Callable[[types.ModuleType], None], monkeypatch: Patch, stock: Library, recent: Panel
) -> None:
    same = _slipped(monkeypatch, "members", "members")
    block_check(same)
    _assert_bayes_by_hand(same, monkeypatch, stock, recent)


@pytest.mark.parametrize("slip", BLOCK_SLIPS.values(), ids=list(BLOCK_SLIPS))
def test_a_slip_in_the_block_is_caught(
    block_check: Callable[[types.ModuleType], None], slip: tuple[str, str], monkeypatch: Patch
) -> None:
    with pytest.raises(AssertionError):
        block_check(_slipped(monkeypatch, *slip))


@pytest.mark.parametrize("slip", BAYES_SLIPS.values(), ids=list(BAYES_SLIPS))
def test_a_slip_in_the_weights_is_caught(
    slip: tuple[str, str], monkeypatch: Patch, stock: Library, recent: Panel
) -> None:
    with pytest.raises(AssertionError):
        _assert_bayes_by_hand(_slipped(monkeypatch, *slip), monkeypatch, stock, recent)
