"""Usual values: waves and spreads that are known, the leap day, holes, short records, and series apart."""

from __future__ import annotations

import math

import numpy as np
import pytest
from synthetic_climate import stamps

from forecast.outlook.normals import LEAST_SPREAD, Normals, date_and_clock, normals
from forecast.panel import Floats, Hours

NAN = math.nan
YEARS_8 = stamps("2001-01-01T00", "2008-12-31T23")


def _wave(hours: Hours) -> Floats:
    """A yearly wave of 15 and a daily one of 5 about 10, the yearly one by a year of 366 dates; shape (hours,)."""
    date, clock = date_and_clock(hours)
    found: Floats = 10 + 15 * np.sin(2 * np.pi * date / 366) + 5 * np.sin(2 * np.pi * clock / 24)
    return found


def _one(hours: Hours, values: Floats) -> Normals:
    return normals(hours, values[:, None])


@pytest.mark.parametrize(
    ("stamp", "date", "clock"),
    [
        ("2001-01-01T00", 0, 0),
        ("2001-02-28T23", 58, 23),  # 31 + 28 days, counted from 0
        ("2001-03-01T00", 60, 0),  # 29 February is counted in every year
        ("2004-02-29T07", 59, 7),
        ("2004-03-01T07", 60, 7),
        ("2001-12-31T23", 365, 23),
        ("1969-12-31T22", 365, 22),  # before 1970, where a count of hours is negative
        ("1968-02-29T00", 59, 0),
    ],
)
def test_a_stamp_has_its_date_with_29_february_always_counted_and_its_hour(stamp: str, date: int, clock: int) -> None:
    found = date_and_clock(np.array([stamp], dtype="datetime64[h]"))
    assert (found[0].tolist(), found[1].tolist()) == ([date], [clock])


def test_a_yearly_wave_keeps_all_but_a_thousandth_of_its_height() -> None:
    # One pass of a Gaussian of 15 days takes 1 − exp(−(2π·15/366)²/2) = 0.0326 of the wave, the second leaves 0.0326² =
    # 0.00106 of that: 0.016 of 15. Weights of 29 February, known in a quarter of the years, add less than that again.
    kept = math.exp(-((2 * math.pi * 15 / 366) ** 2) / 2)
    left = (1 - kept) ** 2 * 15
    assert left == pytest.approx(0.016, abs=0.0005)
    found = _one(YEARS_8, _wave(YEARS_8))
    mean, spread = found.at(YEARS_8)
    assert np.abs(mean[:, 0] - _wave(YEARS_8)).max() < 2 * left
    # What is left at midsummer is what was told above, to a tenth of it: one pass alone would leave 0.49.
    midsummer = np.datetime64("2002-07-02T00", "h")  # date 183 of 366: the wave's middle, where nothing is left
    top = np.datetime64("2002-04-01T00", "h")  # date 91.5 is its top
    rows = [int((one - YEARS_8[0]).astype(int)) for one in (midsummer, top)]
    off = _wave(YEARS_8)[rows] - mean[rows, 0]
    assert off[0] == pytest.approx(0, abs=0.002)
    assert off[1] == pytest.approx(left, abs=0.1 * left)
    # No two years differ, so that what is left of the wave is all the spread there is.
    assert spread.max() < 2 * left


def test_hours_of_the_day_do_not_run_into_each_other() -> None:
    clock = date_and_clock(YEARS_8)[1]
    values = np.where(clock == 5, 100.0, 0.0)
    mean = _one(YEARS_8, values).mean[:, :, 0]
    assert np.allclose(mean[:, 5], 100)
    assert np.allclose(np.delete(mean, 5, axis=1), 0)


def test_the_year_is_round_whatever_the_month_of_summer() -> None:
    # A wave shifted by half a year, as south of the equator, gives the same figures half a year later.
    date, _ = date_and_clock(YEARS_8)
    north, south = (_one(YEARS_8, 10 + 15 * np.cos(2 * np.pi * (date - top) / 366)) for top in (183, 0))
    assert np.abs(np.roll(north.mean, 183, axis=0) - south.mean).max() < 0.1
    new_year = south.mean[[364, 365, 0, 1], 0, 0]
    assert np.abs(np.diff(new_year)).max() < 0.02  # no edge where the year ends


def test_the_spread_is_that_of_the_anomalies_and_not_of_the_season() -> None:
    # Independent normal anomalies of 3 over a steep season. A Gaussian of standard deviation 15 days is worth 2√π·15 =
    # 53 values a year, 53·40 = 2,127 in forty years. A standard deviation of n values is off by 1/√(2n) = 1.5 % of
    # itself; of 24·366 figures none is off by more than 4.5 times that, and their mean is much nearer.
    hours = stamps("1961-01-01T00", "2000-12-31T23")
    chance = np.random.default_rng(1)
    spread = _one(hours, _wave(hours) + 3 * chance.standard_normal(len(hours))).spread
    away_from_leap_day = np.delete(spread, 59, axis=0)
    assert np.abs(away_from_leap_day / 3 - 1).max() < 4.5 * 0.0154
    assert away_from_leap_day.mean() == pytest.approx(3, rel=0.005)


def test_a_season_of_more_spread_has_more() -> None:
    hours = stamps("1961-01-01T00", "2000-12-31T23")
    date, _ = date_and_clock(hours)
    chance = np.random.default_rng(2)
    wanted = 3 + np.cos(2 * np.pi * (date - 15) / 366)  # 4 in mid January, 2 in mid July
    spread = _one(hours, wanted * chance.standard_normal(len(hours))).spread.mean(axis=1)[:, 0]
    # The kernel takes 0.033 off the wave of 1 in the variance; at its ends 4² and 2² come to within 0.2 of 4 and 2.
    assert spread[15] == pytest.approx(4, abs=0.1)
    assert spread[198] == pytest.approx(2, abs=0.1)


def test_29_february_is_usual_as_its_neighbours_are() -> None:
    hours = stamps("2001-01-01T00", "2008-12-31T23")
    found = _one(hours, _wave(hours))
    assert found.mean[59, 0, 0] == pytest.approx((found.mean[58, 0, 0] + found.mean[60, 0, 0]) / 2, abs=0.02)
    never_a_leap_day = stamps("2001-01-01T00", "2003-12-31T23")
    found = _one(never_a_leap_day, _wave(never_a_leap_day))
    assert found.mean[59, 0, 0] == pytest.approx((found.mean[58, 0, 0] + found.mean[60, 0, 0]) / 2, abs=0.02)


def test_holes_are_left_out_and_do_not_pull_towards_nothing() -> None:
    chance = np.random.default_rng(3)
    values = 500 + _wave(YEARS_8)  # far from 0: a hole taken as 0 would show
    holed = np.where(chance.random(len(values)) < 0.5, NAN, values)
    assert np.abs(_one(YEARS_8, holed).mean - _one(YEARS_8, values).mean).max() < 0.5
    assert _one(YEARS_8, holed).spread.max() < 1.0
    whole_hours_unknown = np.where(date_and_clock(YEARS_8)[1] == 7, NAN, values)
    found = _one(YEARS_8, whole_hours_unknown)
    assert np.isnan(found.mean[:, 7]).all()
    assert np.isnan(found.spread[:, 7]).all()
    assert not np.isnan(np.delete(found.mean, 7, axis=1)).any()


def test_a_record_of_one_season_says_nothing_of_another() -> None:
    hours = stamps("2001-01-01T00", "2001-12-31T23")
    date, _ = date_and_clock(hours)
    inside = (date >= 121) & (date <= 273)  # 1 May to 30 September
    found = _one(hours, np.where(inside, 20.0, NAN))
    known = ~np.isnan(found.mean[:, :, 0])
    # A date counts from a quarter of a year's weight on: Φ(z) = 0.25 at z = −0.674, 10 days outside the season.
    assert known[121 - 10 : 273 + 11].all()
    assert not known[: 121 - 11].any()
    assert not known[273 + 12 :].any()
    assert np.array_equal(known, ~np.isnan(found.spread[:, :, 0]))
    assert np.allclose(found.mean[known, 0], 20.0)


def test_a_stray_hour_out_of_season_leaves_the_season_as_it_is() -> None:
    hours = stamps("2001-01-01T00", "2001-12-31T23")
    date, clock = date_and_clock(hours)
    inside = (date >= 121) & (date <= 273)
    season = np.where(inside, 20.0 + clock, NAN)
    stray = np.where((date == 5) & (clock == 7), 3.0, season)
    one, other = _one(hours, season), _one(hours, stray)
    assert np.isnan(other.mean[5, 7, 0])
    assert np.allclose(one.mean, other.mean, equal_nan=True, rtol=0, atol=1e-6)
    assert np.allclose(one.spread, other.spread, equal_nan=True, rtol=0, atol=1e-6)


def test_nothing_read_is_nothing_known() -> None:
    found = _one(YEARS_8, np.full(len(YEARS_8), NAN))
    assert np.isnan(found.mean).all()
    assert np.isnan(found.spread).all()


def test_a_stuck_record_has_the_least_spread_and_not_none() -> None:
    assert np.array_equal(_one(YEARS_8, np.full(len(YEARS_8), 4.0)).spread, np.full((366, 24, 1), LEAST_SPREAD))


def test_a_trend_stays_in_the_anomalies() -> None:
    # A degree a decade over eight years, 0.8 in all: the usual value is that of the middle, and the spread that of a
    # uniform stretch, 0.8/√12 = 0.23.
    years = (YEARS_8 - YEARS_8[0]).astype(np.int64) / 8766
    found = _one(YEARS_8, _wave(YEARS_8) + 0.1 * years)
    flat = _one(YEARS_8, _wave(YEARS_8))
    # The first of January is read at 0, 1, …, 7 years: 0.35 in the mean; the last of December at 1 to 8: 0.45. Round
    # New Year the dates on both sides come together.
    apart = np.delete(found.mean - flat.mean, 59, axis=0)
    assert apart.min() > 0.34
    assert apart.max() < 0.46
    assert found.spread.mean() == pytest.approx(0.1 * math.sqrt((8**2 - 1) / 12), abs=0.01)


def test_series_do_not_mix_and_inputs_stay_as_they_were() -> None:
    chance = np.random.default_rng(4)
    both = np.stack([_wave(YEARS_8), chance.standard_normal(len(YEARS_8))], axis=1)
    both[::7, 0] = NAN
    before = both.copy()
    found = normals(YEARS_8, both)
    assert np.array_equal(both, before, equal_nan=True)
    for column in (0, 1):
        alone = _one(YEARS_8, before[:, column])
        assert np.allclose(found.mean[:, :, column], alone.mean[:, :, 0], equal_nan=True, rtol=0, atol=1e-12)
        assert np.allclose(found.spread[:, :, column], alone.spread[:, :, 0], equal_nan=True, rtol=0, atol=1e-9)


def test_a_record_may_begin_and_end_at_any_hour_of_a_year() -> None:
    part = slice(4321, -1234)
    found = _one(YEARS_8[part], _wave(YEARS_8)[part])
    mean, _ = found.at(YEARS_8)
    # Where dates known in seven years meet such known in six, a pass looks 15·√(2/π)/2·(1/6.5) = 0.9 days to one side
    # of a slope of 0.26 a day: off by 0.24, of which the second pass leaves less than half.
    assert np.abs(mean[:, 0] - _wave(YEARS_8)).max() < 0.12
