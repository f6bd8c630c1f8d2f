"""What the last readings say: by the arithmetic of a climate whose covariances are known, and nothing from noise."""

from __future__ import annotations

import math

import numpy as np
import pytest
from synthetic_climate import TD, Climate, T, Truth, record, stamps

from forecast.outlook.library import Library, library
from forecast.outlook.state import fortnight_state, state_says
from forecast.panel import Floats, Panel, observed

NAN = math.nan
DRY = Climate(depression_c=30.0)  # the dew point is never cut at the temperature: all is Gaussian
AHEAD = 16 * 24
SPANS_H = (1, 24, 336)  # the last reading, and means over a day and a fortnight
LAST_YEAR_OUT = 2001


def _theory(climate: Climate, ahead_h: int) -> tuple[Floats, float]:
    """Slopes of an anomaly so many hours ahead on its own three features, and the share they explain.

    By covariances alone. The features of the other quantity add nothing: all covariances of it are ``together`` times
    these, so that what it tells it tells through these.
    """
    back = [np.arange(span, dtype=np.float64) for span in SPANS_H]
    among = np.array([[climate.likeness(a[:, None] - b[None, :]).mean() for b in back] for a in back])
    with_it = np.array([climate.likeness(a + ahead_h).mean() for a in back])
    slopes: Floats = np.linalg.solve(among, with_it)
    return slopes, float(slopes @ with_it)


def _before(panel: Panel, moment: str, hours: int = 336) -> Panel:
    last = np.datetime64(moment, "h")
    return panel.between(last - np.timedelta64(hours - 1, "h"), last)


def _stock(panel: Panel, year: int) -> Library:
    """Past years without one year and a month to either side."""
    first, last = np.datetime64(f"{year}-01-01T00", "h"), np.datetime64(f"{year}-12-31T23", "h")
    month = np.timedelta64(30 * 24, "h")
    return library(panel, but=(first - month, last + month))


@pytest.fixture(scope="module")
def long() -> Truth:
    return record(DRY, stamps("1961-01-01T00", "2001-12-31T23"), 11)


@pytest.fixture(scope="module")
def readings(long: Truth) -> Panel:
    return long.panel()


@pytest.fixture(scope="module")
def long_stock(readings: Panel) -> Library:
    return _stock(readings, LAST_YEAR_OUT)


MOMENTS = [f"{LAST_YEAR_OUT}-{month:02d}-{day:02d}T{clock:02d}" for month, day, clock in
           ((2, 3, 10), (3, 20, 0), (5, 1, 10), (6, 20, 5), (8, 9, 23), (9, 30, 12), (11, 17, 10))]  # fmt: skip


def test_the_share_explained_is_that_of_the_climate(long_stock: Library, readings: Panel) -> None:
    # Forty years of 91 days, five of which make an independent one: 728. A share R² of n such is off by about
    # 2·√(R²)(1 − R²)/√n, at most 0.03; seven moments of both quantities share most of their years.
    said = [state_says(long_stock, _before(readings, moment), AHEAD).explained[:, 0] for moment in MOMENTS]
    mean = np.mean(said, axis=0)
    for ahead_h in (1, 2, 3, 6, 12, 24, 36, 48, 72, 96, 144):
        assert mean[ahead_h - 1] == pytest.approx(_theory(DRY, ahead_h)[1], abs=0.03), ahead_h
    assert mean[240:].max() < 0.01  # where theory has 0.6²·exp(−8) at most


def test_what_is_expected_is_the_climates_own_slopes_times_the_readings(
    long: Truth, long_stock: Library, readings: Panel
) -> None:
    # Seven moments, two quantities; the error of a forecast by fitted slopes rather than true ones has a variance of
    # p/n·(1 − R²) with p = 6 and n = 728 or more: 0.09 at most as a standard deviation.
    apart, size = [], []
    for moment in MOMENTS:
        recent = _before(readings, moment)
        found = state_says(long_stock, recent, AHEAD)
        row = int((np.datetime64(moment, "h") - long.hours[0]).astype(int))
        for name in (T, TD):
            anomaly = long.anomalies[name][:, 0]
            features = np.array([anomaly[row - span + 1 : row + 1].mean() for span in SPANS_H])
            told = np.array([_theory(DRY, h)[0] @ features for h in (1, 6, 24, 48, 96)])
            apart.append(found.anomaly[name][[0, 5, 23, 47, 95], 0] - told)
            size.append(told)
    assert np.sqrt(np.mean(np.square(apart), axis=0)).max() < 0.12
    assert np.sqrt(np.mean(np.square(size), axis=0))[0] > 0.5  # there was something to be told


def test_the_hour_ahead_is_not_one_off(long: Truth, readings: Panel) -> None:
    # A day's wave in what is known: one hour of the day whose anomalies are independent of all others can be told from
    # nothing, and the rest as ever. Shifted by an hour the hole would lie elsewhere.
    values = {name: array.copy() for name, array in readings.values.items()}
    clock = long.hours.astype("datetime64[h]").astype(np.int64) % 24
    chance = np.random.default_rng(12)
    loud = clock == 15
    for name in (T, TD):
        means = DRY.means(long.hours)[name]
        values[name][loud, 0] = means[loud] + DRY.spread_c * chance.standard_normal(np.count_nonzero(loud))
    panel = observed(long.hours, ("alder",), values)
    month = np.timedelta64(30 * 24, "h")
    out = (np.datetime64("2001-01-01T00", "h") - month, panel.hours[-1])
    found = state_says(library(panel, but=out), _before(panel, "2001-07-10T10"), 48)
    # 15:00 UTC is 5 and 29 hours after 10:00. Shares are smoothed over a quarter of their number to either side, so the
    # hole in them is read off what is expected instead: slopes of nothing.
    expected = np.abs(found.anomaly[T][:, 0]) + np.abs(found.anomaly[TD][:, 0])
    assert expected[4] < 0.4 * min(expected[3], expected[5])


def test_white_noise_says_nothing() -> None:
    hours = stamps("1991-01-01T00", "2001-12-31T23")
    chance = np.random.default_rng(13)
    values = {T: 20 + 3 * chance.standard_normal((len(hours), 1))}
    values[TD] = values[T] - 20 + 3 * chance.standard_normal((len(hours), 1))
    panel = observed(hours, ("alder",), values)
    stock = library(panel, but=(np.datetime64("2000-12-02T00", "h"), hours[-1]))
    for moment in ("2001-03-03T05", "2001-07-10T10", "2001-10-01T00"):
        found = state_says(stock, _before(panel, moment), AHEAD)
        # By chance six features explain 6/910 = 0.007 of 910 remembered days; 6/182 = 0.033 is taken off.
        assert found.explained.max() < 0.01
        assert max(np.abs(found.anomaly[name]).max() for name in (T, TD)) < 0.1


def test_a_short_record_says_less_and_never_more_than_there_is_on_the_whole(readings: Panel) -> None:
    # One year's 91 days are 18 independent ones: six features explain a third by chance, and that is taken off. Over
    # many such records the mean share stays below what the climate holds, by less the longer the record; with one year
    # less is left than with ten.
    means = {}
    for years in (1, 3, 10):
        shares = []
        for start in range(1961, 1999 - years, 4):
            hours = stamps(f"{start}-01-01T00", f"{start + years}-12-31T23")
            some = readings.between(hours[0], hours[-1])
            month = np.timedelta64(30 * 24, "h")
            stock = library(some, but=(np.datetime64(f"{start + years}-01-01T00", "h") - month, hours[-1]))
            said = state_says(stock, _before(some, f"{start + years}-07-10T10"), 96)
            shares.append(said.explained[:, 0])
        means[years] = np.mean(shares, axis=0)
    theory = np.array([_theory(DRY, h)[1] for h in (3, 12, 24, 48)])
    at = [2, 11, 23, 47]
    assert (means[1][at] < means[3][at] + 0.02).all()
    assert (means[3][at] < means[10][at] + 0.02).all()
    for found in means.values():
        assert (found[at] < theory + 0.03).all()
    assert means[10][at] == pytest.approx(theory, abs=0.08)
    assert means[1][23] < 0.6 * theory[2]


def test_forty_remembered_days_are_needed() -> None:
    truth = record(DRY, stamps("2000-01-01T00", "2001-12-31T23"), 14)
    panel = truth.panel()

    def told(first_known: str) -> float:
        known = panel.hours >= np.datetime64(first_known, "h")
        values = {name: np.where(known[:, None], panel.values[name], NAN) for name in (T, TD)}
        stock = library(
            observed(panel.hours, ("alder",), values), but=(np.datetime64("2001-01-01T00", "h"), panel.hours[-1])
        )
        return float(state_says(stock, _before(panel, "2001-07-10T10"), 48).explained.max())

    # Remembered days run to 24 August 2000. A mean over a fortnight is known where half of it is, so seven days after
    # the first hour: from 9 July on 40 days are left, from 10 July on 39.
    assert told("2000-07-09T11") > 0
    assert told("2000-07-10T11") == 0


def test_a_record_of_less_than_a_year_says_nothing() -> None:
    panel = record(DRY, stamps("2001-03-01T00", "2001-07-10T10"), 15).panel()
    found = state_says(library(panel), _before(panel, "2001-07-10T10"), AHEAD)
    assert (found.explained == 0).all()
    assert (found.anomaly[T] == 0).all()


@pytest.mark.parametrize(
    "moment", ["2001-12-31T23", "2001-12-01T10", "2001-11-20T00", "1961-01-15T05", "2000-02-29T10"]
)
def test_any_moment_of_a_record_can_be_asked_for(moment: str, readings: Panel) -> None:
    # Remembered days near the record's end have no fortnight after them.
    year = int(moment[:4])
    found = state_says(_stock(readings, year), _before(readings, moment), AHEAD)
    assert 0.5 < found.explained[0, 0] < 1
    assert not np.isnan(found.anomaly[T]).any()


def _without(panel: Panel, **rows: slice | tuple[slice, int]) -> Panel:
    values = {name: array.copy() for name, array in panel.values.items()}
    for name, some in rows.items():
        values[name][some] = NAN
    return observed(panel.hours, panel.series, values)


def test_a_reading_that_is_missing_takes_what_it_says_with_it_and_no_more(long_stock: Library, readings: Panel) -> None:
    recent = _before(readings, "2001-07-10T10")
    whole = state_says(long_stock, recent, 48)

    def explained(**rows: slice) -> Floats:
        return state_says(long_stock, _without(recent, **rows), 48).explained[:, 0]

    last, first_week = slice(-1, None), slice(0, -168 + 1)
    without_dew_point = explained(dew_point_c=last)
    assert 0.3 < without_dew_point[0] < whole.explained[0, 0] - 0.05  # temperature still tells of both
    assert np.allclose(explained(dew_point_c=slice(-3, -1)), whole.explained[:, 0], atol=1e-9)  # the means have enough
    fortnight_unknown = explained(dew_point_c=first_week, air_temperature_c=first_week)
    assert np.allclose(fortnight_unknown, whole.explained[:, 0], atol=0.03)
    assert fortnight_unknown[0] > 0.5
    only_a_day = state_says(long_stock, _before(readings, "2001-07-10T10", hours=24), 48).explained[:, 0]
    assert np.array_equal(only_a_day, fortnight_unknown)
    assert (explained(dew_point_c=slice(None), air_temperature_c=slice(None)) == 0).all()


def test_the_last_reading_by_itself_tells_of_the_next_hours(long_stock: Library, readings: Panel) -> None:
    # One feature of each quantity: the share of the next hour is c(1)² by theory.
    recent = _before(readings, "2001-07-10T10", hours=1)
    found = state_says(long_stock, recent, 24)
    assert found.explained[0, 0] == pytest.approx(float(DRY.likeness(np.array(1.0))) ** 2, abs=0.03)
    assert found.explained[11, 0] == pytest.approx(float(DRY.likeness(np.array(12.0))) ** 2, abs=0.05)


def test_beyond_twenty_days_nothing_is_said_and_up_to_there_the_same(readings: Panel, long_stock: Library) -> None:
    recent = _before(readings, "2001-07-10T10")
    far, near = (state_says(long_stock, recent, hours) for hours in (700, 480))
    assert np.array_equal(far.explained[:480], near.explained)
    assert np.array_equal(far.anomaly[T][:480], near.anomaly[T])
    assert (far.explained[480:] == 0).all()
    assert (far.anomaly[TD][480:] == 0).all()


def test_holes_in_past_years_drop_their_days_and_bend_nothing(long: Truth, readings: Panel) -> None:
    chance = np.random.default_rng(16)
    values = {name: readings.values[name].copy() for name in (T, TD)}
    for first in chance.integers(0, len(long.hours), 300):
        values[T][first : first + 30] = NAN
    stock = library(observed(long.hours, ("alder",), values), but=(np.datetime64("2000-12-02T00", "h"), long.hours[-1]))
    found = state_says(stock, _before(readings, "2001-07-10T10"), 48)
    for ahead_h in (1, 6, 24, 48):
        assert found.explained[ahead_h - 1, 0] == pytest.approx(_theory(DRY, ahead_h)[1], abs=0.06)


def test_series_do_not_mix_and_readings_stay_as_they_were() -> None:
    truth = record(DRY, stamps("1995-01-01T00", "2001-12-31T23"), 17, columns=2)
    panel = _without(truth.panel(("alder", "birch")), dew_point_c=np.s_[5000:9000, 1])
    month = np.timedelta64(30 * 24, "h")
    but = (np.datetime64("2001-01-01T00", "h") - month, panel.hours[-1])
    recent = _before(panel, "2001-07-10T10")
    before = {name: array.copy() for name, array in recent.values.items()}
    both = state_says(library(panel, but=but), recent, 100)
    for column in (0, 1):
        alone = state_says(library(panel.only(column), but=but), recent.only(column), 100)
        assert np.allclose(both.explained[:, column], alone.explained[:, 0], rtol=0, atol=1e-8)
        for name in (T, TD):
            assert np.allclose(both.anomaly[name][:, column], alone.anomaly[name][:, 0], rtol=0, atol=1e-8)
    assert not np.allclose(both.anomaly[T][:, 0], both.anomaly[T][:, 1], atol=0.1)
    for name, array in recent.values.items():
        assert np.array_equal(array, before[name], equal_nan=True)
    # One whose readings are unknown leaves the other as it is.
    silent = state_says(library(panel, but=but), _without(recent, air_temperature_c=np.s_[:, 0],
                                                          dew_point_c=np.s_[:, 0]), 100)  # fmt: skip
    assert (silent.explained[:, 0] == 0).all()
    assert np.array_equal(silent.explained[:, 1], both.explained[:, 1])


def test_the_state_of_a_fortnight_is_means_of_anomalies(long: Truth, long_stock: Library, readings: Panel) -> None:
    moment = np.datetime64("2001-07-10T10", "h")
    row = int((moment - long.hours[0]).astype(int))
    panel = readings
    found = fortnight_state(long_stock, panel, moment)
    worked = []
    for name in (T, TD):
        for days in (1, 5, 14):
            total = 0.0
            for hour in range(row - 24 * days + 1, row + 1):
                mean, spread = long_stock.normals[name].at(long.hours[hour : hour + 1])
                total += float((panel.values[name][hour, 0] - mean[0, 0]) / spread[0, 0])
            worked.append(total / (24 * days))
    assert found == pytest.approx(np.array(worked), abs=1e-9)
    holed = _without(panel, dew_point_c=slice(row - 6, row + 1))
    some = fortnight_state(long_stock, holed, moment)
    assert np.isnan(some).tolist() == [False, False, False, True, False, False]  # 17 of 24 hours are too few
    later = _without(panel, dew_point_c=slice(row + 1, None), air_temperature_c=slice(row + 1, None))
    assert np.array_equal(fortnight_state(long_stock, later, moment), found)
    assert np.isnan(fortnight_state(long_stock, panel, panel.hours[80])).tolist() == [False, True, True] * 2  # 81 of 90
