"""The stock of past fortnights: which hours it starts from, what it leaves out, and how anomalies last."""

from __future__ import annotations

import math
from collections import Counter
from datetime import date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import unhurried
from synthetic_climate import TD, Climate, T, Truth, record, stamps

from forecast.outlook.library import (
    BLENDED,
    Library,
    library,
    running_features,
    same_moment_in_other_years,
)
from forecast.panel import Floats, Hours, Panel, observed

NAN = math.nan
CLIMATE = Climate()
LENGTH = 16 * 24


def _truth(first: str, last: str, seed: int = 1, columns: int = 1) -> Truth:
    return record(CLIMATE, stamps(first, last), seed, columns)


def _stock(first: str = "2001-01-01T00", last: str = "2008-12-31T23") -> Library:
    return library(_truth(first, last).panel())


def _with_holes(panel: Panel, holes: dict[str, list[slice]], series: int = 0) -> Panel:
    values = {name: array.copy() for name, array in panel.values.items()}
    for name, rows in holes.items():
        for one in rows:
            values[name][one, series] = NAN
    return observed(panel.hours, panel.series, values)


def _as_date(stamp: np.datetime64) -> date:
    found: date = stamp.astype("datetime64[D]").item()
    return found


def _as_datetime(stamp: np.datetime64) -> datetime:
    found: datetime = stamp.astype("datetime64[s]").item()
    return found


def _worked_starts(hours: Hours, known: Floats, moment: np.datetime64) -> dict[int, list[int]]:
    """Rows that may stand for a moment by plain Python, per year of the date that they are near: dates and loops."""
    row_of = {stamp: row for row, stamp in enumerate(hours.tolist())}
    when = moment.astype("datetime64[s]").item()
    found: dict[int, list[int]] = {}
    for year in range(hours[0].item().year - 1, hours[-1].item().year + 2):
        if year == when.year:
            continue
        no_such_day = (when.month, when.day) == (2, 29) and year % 4
        centre = when.replace(year=year, day=28) if no_such_day else when.replace(year=year)
        rows = [row_of[there] for n in range(-20, 21) if (there := centre + timedelta(days=n)) in row_of]
        whole = [row for row in rows if row + LENGTH < len(hours) and known[row : row + LENGTH + 1].all()]
        if whole:
            found[year] = whole
    return found


@pytest.mark.parametrize(
    "moment",
    [
        "2004-07-10T10",
        "2004-02-29T23",
        "2004-12-31T00",
        "2005-01-01T00",
        "2005-01-15T13",
        "2008-12-20T05",
        "2009-03-03T06",
    ],
)
def test_starts_are_of_the_same_hour_near_the_same_date_in_other_years(moment: str) -> None:
    stock, when = _stock(), np.datetime64(moment, "h")
    allowed = _worked_starts(stock.hours, np.ones(len(stock.hours)), when)
    wanted = 100
    rows = stock.starts(when, LENGTH, wanted)[0].tolist()
    assert len(rows) == min(wanted, sum(len(some) for some in allowed.values()))
    assert len(set(rows)) == len(rows)  # none twice
    year_of = {row: year for year, some in allowed.items() for row in some}
    assert set(rows) <= set(year_of)
    assert {stock.hours[row].item().hour for row in rows} == {when.item().hour}
    shares = Counter(year_of[row] for row in rows)
    full = [share for year, share in shares.items() if share < len(allowed[year])]
    assert max(full) - min(full) <= 1  # every year alike that has more to give
    assert all(share >= max(full) - 1 or share == len(allowed[year]) for year, share in shares.items())


def test_members_of_one_year_follow_each_other_and_lie_over_all_its_dates() -> None:
    stock, when = _stock(), np.datetime64("2004-07-10T10", "h")
    rows = stock.starts(when, LENGTH, 49)[0]  # seven other years, seven each of 41 dates
    years = stock.year_of(rows, when)
    assert years.tolist() == [year for year in (2001, 2002, 2003, 2005, 2006, 2007, 2008) for _ in range(7)]
    for year in np.unique(years):
        gaps = np.diff(rows[years == year]) // 24
        assert gaps.min() >= 5  # 41/7 = 5.9 days
        assert gaps.max() <= 6
    # No year's first date is the same as all others': taken together the middle of the window is the date itself.
    offsets = [
        (_as_date(stock.hours[row]) - date(int(year), 7, 10)).days for row, year in zip(rows, years, strict=True)
    ]
    assert abs(np.mean(offsets)) < 1.5
    assert len(set(offsets)) > 14


def test_what_is_left_over_goes_to_no_one_end_of_the_record() -> None:
    # Ten members of seven years: one each, and three more that are neither the first nor the last years'.
    stock, when = _stock(), np.datetime64("2004-07-10T10", "h")
    rows = stock.starts(when, LENGTH, 10)[0]
    years = Counter(stock.year_of(rows, when).tolist())
    assert sorted(years.values()) == [1, 1, 1, 1, 2, 2, 2]
    twice = sorted(year for year, share in years.items() if share == 2)
    assert twice[0] <= 2003  # 2001 to 2003 lie before, 2005 to 2008 after
    assert twice[-1] >= 2006


def test_a_block_is_known_throughout_and_so_is_the_hour_that_it_goes_on_from() -> None:
    panel = _truth("2001-01-01T00", "2003-12-31T23").panel()
    row = int((np.datetime64("2001-07-10T10", "h") - panel.hours[0]).astype(int))
    when = np.datetime64("2003-07-10T10", "h")

    def found(name: str, hole: int) -> bool:
        stock = library(_with_holes(panel, {name: [slice(hole, hole + 1)]}))
        return row in stock.starts(when, LENGTH, 10_000)[0]

    for name in (T, TD):
        assert found(name, row - 1)
        assert not found(name, row)  # the hour that stands for the last reading
        assert not found(name, row + 1)
        assert not found(name, row + LENGTH)  # its last hour
        assert found(name, row + LENGTH + 1)
    assert found("rain_mm", row + 5)  # rain that is not known leaves rain unknown and the block as it is


def test_a_block_that_reaches_past_the_record_is_none() -> None:
    hours = stamps("2001-01-01T00", "2002-07-26T10")  # from 10 July 10:00 just 384 hours
    stock = library(record(CLIMATE, hours, 1).panel())
    rows = stock.starts(np.datetime64("2001-07-10T10", "h"), LENGTH, 10_000)[0]
    assert stock.hours[rows].max() == np.datetime64("2002-07-10T10", "h")
    assert len(rows) == 21  # 20 June to 10 July


@pytest.mark.parametrize(
    ("first", "last", "most"),
    [
        ("2003-06-01T00", "2003-07-10T10", 0),  # forty days: no other year
        ("2002-07-10T11", "2003-07-10T10", 20),  # a year to the hour: the dates from the 11th to the 30th of July
        ("2000-07-10T11", "2003-07-10T10", 20 + 41 + 41),  # three years
    ],
)
def test_a_short_record_gives_as_many_as_it_has(first: str, last: str, most: int) -> None:
    stock = _stock(first, last)
    rows = stock.starts(np.datetime64("2003-07-10T10", "h"), LENGTH, 200)[0]
    assert len(rows) == most
    assert len(np.unique(rows)) == most


def test_a_record_that_is_all_holes_gives_none() -> None:
    panel = _with_holes(_truth("2001-01-01T00", "2003-12-31T23").panel(), {T: [slice(None)]})
    stock = library(panel)
    assert stock.starts(np.datetime64("2002-07-10T10", "h"), LENGTH, 50)[0].size == 0


def test_what_is_left_out_is_never_touched() -> None:
    truth = _truth("2001-01-01T00", "2006-12-31T23")
    but = (np.datetime64("2003-12-02T00", "h"), np.datetime64("2005-01-30T23", "h"))
    out = (truth.hours >= but[0]) & (truth.hours <= but[1])
    panel = truth.panel()
    others = {name: np.where(out[:, None], 77.0, array) for name, array in panel.values.items()}
    stock, same = library(panel, but=but), library(observed(panel.hours, panel.series, others), but=but)
    for name in BLENDED:
        assert np.isnan(stock.anomalies[name][out]).all()
        assert np.array_equal(stock.anomalies[name], same.anomalies[name], equal_nan=True)
        assert np.array_equal(stock.normals[name].mean, same.normals[name].mean)
        assert np.array_equal(stock.normals[name].spread, same.normals[name].spread)
        assert np.array_equal(stock.running_means[name], same.running_means[name], equal_nan=True)
    for name, carried in stock.carried.items():
        assert np.isnan(carried[out]).all()
        assert np.array_equal(carried, same.carried[name], equal_nan=True)
    assert np.array_equal(stock.persistence[0], same.persistence[0])
    for moment in ("2004-07-10T10", "2004-01-02T03", "2004-12-30T20", "2002-12-25T10"):
        rows = stock.starts(np.datetime64(moment, "h"), LENGTH, 10_000)[0]
        assert rows.size
        for row in rows:
            assert not out[row : row + LENGTH + 1].any()


def test_one_stretch_left_out_is_read_and_the_rest_is_as_in_a_record_without_it() -> None:
    panel = _truth("2001-01-01T00", "2004-12-31T23").panel()
    but = (np.datetime64("2004-01-01T00", "h"), np.datetime64("2004-12-31T23", "h"))
    stock = library(panel, but=but)
    shorter = library(panel.between(panel.hours[0], but[0] - np.timedelta64(1, "h")))
    for name in BLENDED:
        assert np.allclose(stock.normals[name].mean, shorter.normals[name].mean, rtol=0, atol=1e-12)
        inside = stock.anomalies[name][: len(shorter.hours)]
        assert np.allclose(inside, shorter.anomalies[name], rtol=0, atol=1e-9)


def test_what_was_never_read_is_not_carried() -> None:
    panel = _truth("2001-01-01T00", "2002-12-31T23").panel()
    silent = _with_holes(panel, {"rain_mm": [slice(None)]})
    assert set(library(silent).carried) == {"wind_speed_10m_m_s", "cloud_cover_fraction"}


def test_series_give_starts_each_by_its_own_holes() -> None:
    truth = _truth("2001-01-01T00", "2004-12-31T23", columns=2)
    panel = _with_holes(truth.panel(("alder", "birch")), {TD: [slice(0, 8760)]}, series=1)
    both, moment = library(panel), np.datetime64("2003-07-10T10", "h")
    for column in (0, 1):
        alone = library(panel.only(column))
        assert np.array_equal(both.starts(moment, LENGTH, 60)[column], alone.starts(moment, LENGTH, 60)[0])
        for name in BLENDED:
            apart = both.anomalies[name][:, column] - alone.anomalies[name][:, 0]
            assert np.nanmax(np.abs(apart)) < 1e-9
        assert both.persistence[0][:, column] == pytest.approx(alone.persistence[0][:, 0], abs=1e-9)
    assert 2001 in both.year_of(both.starts(moment, LENGTH, 60)[0], moment)
    assert 2001 not in both.year_of(both.starts(moment, LENGTH, 60)[1], moment)


@pytest.mark.parametrize(
    "moment", ["2004-01-01T00", "2004-01-14T05", "2004-12-30T23", "2004-02-29T10", "2004-07-10T10"]
)
def test_blocks_of_one_season_are_of_one_year_on_either_side_of_new_year(moment: str) -> None:
    # Blocks are grouped by year where a chance's interval is told, and midsummer may be in January.
    stock, when = _stock(), np.datetime64(moment, "h")
    allowed = _worked_starts(stock.hours, np.ones(len(stock.hours)), when)
    for year, rows in allowed.items():
        assert set(stock.year_of(np.array(rows), when).tolist()) == {year}
    if moment.startswith("2004-01-01"):
        assert {stock.hours[row].item().year for row in allowed[2006]} == {2005, 2006}


# The same moment elsewhere ------------------------------------------------------------------------------------------


@unhurried
@given(st.dates(date(1968, 1, 1), date(2032, 12, 31)), st.integers(0, 23), st.integers(1966, 1975), st.integers(0, 30))
def test_the_same_moment_is_the_same_date_and_hour_of_every_other_year(
    day: date, clock: int, first: int, years: int
) -> None:
    moment = np.datetime64(day, "h") + np.timedelta64(clock, "h")
    ends = np.datetime64(f"{first}-06-01T00", "h"), np.datetime64(f"{first + years}-06-01T00", "h")
    found = same_moment_in_other_years(moment, *ends)
    stamps_there = [_as_datetime(one) for one in found]
    assert [one.year for one in stamps_there] == [y for y in range(first - 1, first + years + 2) if y != day.year]
    for there in stamps_there:
        assert there.hour == clock
        assert (there.month, there.day) == (day.month, 28 if (day.month, day.day) == (2, 29) and (
            there.year % 4 or (there.year % 100 == 0 and there.year % 400)
        ) else day.day)  # fmt: skip


# How anomalies last --------------------------------------------------------------------------------------------------


def test_persistence_is_that_of_the_climate() -> None:
    # Means of 24 hours of anomalies with a known likeness c(h): covariance at a lag of d days is the mean of c over all
    # pairs of their hours. Slopes of forty years: 14,600 days, of which some 3 days make an independent one, so a slope
    # is good to 1/√4900 = 0.015, and both quantities together to about that.
    stock = library(record(Climate(depression_c=30.0), stamps("1961-01-01T00", "2000-12-31T23"), 5).panel())
    pairs = np.arange(24.0)[:, None] - np.arange(24.0)[None, :]
    covariance = np.array([CLIMATE.likeness(pairs + 24.0 * lag).mean() for lag in range(21)])
    slopes, share = stock.persistence
    assert slopes[0, 0] == 1
    assert slopes[:8, 0] == pytest.approx(covariance[:8] / covariance[0], abs=0.04)
    assert slopes[15:, 0].max() < 0.05
    assert share[0] == pytest.approx(covariance[0], abs=0.02)


def test_persistence_never_rises_and_never_turns_round() -> None:
    for seed in range(3):
        slopes, share = library(_truth("2001-01-01T00", "2001-06-30T23", seed).panel()).persistence
        assert slopes.shape == (21, 1)
        assert (np.diff(slopes[:, 0]) <= 0).all()
        assert slopes.min() >= 0
        assert slopes.max() <= 1
        assert 0 < share[0] <= 1


@pytest.mark.parametrize("days", [0, 1, 2, 15])
def test_a_record_of_days_says_nothing_of_longer_lags(days: int) -> None:
    panel = _truth("2001-01-01T00", "2001-02-10T23").panel()
    slopes, share = library(panel.between(panel.hours[0], panel.hours[24 * days + 5])).persistence
    assert (slopes[max(days, 1) :] == 0).all()
    assert share.shape == (1,)


def test_days_of_persistence_are_whole_and_a_hole_drops_its_day() -> None:
    panel = _truth("2001-01-01T00", "2003-12-31T23").panel()
    some = slice(24 * 100 + 3, 24 * 100 + 4)
    all_of_it = slice(24 * 100, 24 * 101)
    one, whole = (library(_with_holes(panel, {T: [rows], TD: [rows]})).persistence[0] for rows in (some, all_of_it))
    assert one == pytest.approx(whole, abs=1e-3)  # only the usual values differ by a hair


# Means of readings ---------------------------------------------------------------------------------------------------


def test_running_means_look_back_only_and_need_half_their_hours() -> None:
    chance = np.random.default_rng(6)
    values = chance.standard_normal((24 * 30, 2))
    values[chance.random(values.shape) < 0.3] = NAN
    values[200:215, 0] = NAN
    found = running_features(values)
    assert found.shape == (*values.shape, 3)
    for row in (0, 22, 23, 24, 210, 214, 300, 334, 335, 336, 719):
        for column in (0, 1):
            for feature, span in enumerate((1, 24, 336)):
                window = values[max(row - span + 1, 0) : row + 1, column]
                known = window[~np.isnan(window)]
                enough = len(window) == span and len(known) * 2 >= span
                worked = sum(known.tolist()) / len(known) if enough else NAN
                assert found[row, column, feature] == pytest.approx(worked, abs=1e-12, nan_ok=True)
    assert np.isnan(found[214, 0, 1])  # fifteen of its last 24 hours are unknown
    half = np.where(np.arange(24)[:, None] < 12, NAN, 1.0)
    assert running_features(half)[23, 0, 1] == 1.0
    assert np.isnan(running_features(np.where(np.arange(24)[:, None] < 13, NAN, 1.0))[23, 0, 1])


def test_means_of_a_record_shorter_than_they_are_long_are_unknown() -> None:
    found = running_features(np.ones((100, 1)))
    assert np.isnan(found[:, 0, 2]).all()
    assert found[50, 0].tolist()[:2] == [1, 1]
