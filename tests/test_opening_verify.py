"""Past seasons told again: nothing of a season that is left out leaks, scores are what they say, and ranges hold."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from synthetic_climate import Climate, stamps
from synthetic_climate import record as invented

from forecast.air import complete_humidity
from forecast.between import Where
from forecast.clock import date_of, day_number
from forecast.diseases import MODELS
from forecast.diseases.events import Event
from forecast.outlook.lead_skill import ASSUMED, LEAD_DAYS
from forecast.outlook.library import Library, library
from forecast.outlook.members import fortnight
from forecast.outlook.opening import FIRST_EVENT_DAY, TWO_IN_A_WEEK
from forecast.outlook.state import REACH_H
from forecast.panel import Floats, Panel, observed
from forecast.stand import Stand
from forecast.turf import Setting
from forecast.verify.emulate import Emulated, Emulator
from forecast.verify.hindcast import Forecaster, Record, record
from forecast.verify.opening import opening_skill
from forecast.verify.opening_hindcast import DAYS_SCORED, OpeningHindcast, opening_hindcast

CLIMATE = Climate()
STAND = Stand("alder", "alder", Where(41.0, -85.0, 200.0), ZoneInfo("UTC"), Setting(), "best_known")
MONTHS = (5, 9)


def _event(threshold: float) -> Event:
    """The index of 1996 on calendar days: air only, so that no leaf has to be told."""
    base = MODELS["fidanza_1996"]
    inputs = tuple(replace(one, day_end_hour=24) for one in base.inputs)
    model = replace(base, key="index", inputs=inputs, valid={}, threshold=threshold, cases=())
    return Event("brown_patch", "tall_fescue", (model,), ())


def _record(panel: Panel, event: Event) -> Record:
    return record("alder", panel, STAND, 0, (event,))


def _invented(last: str, seed: int) -> Panel:
    return invented(CLIMATE, stamps("2001-01-01T00", last), seed).panel()


# Nothing leaks ------------------------------------------------------------------------------------------------------


def test_what_comes_after_a_morning_changes_nothing_that_it_tells() -> None:
    """The summer of 2005 from 1 June on is made ten degrees colder: mornings before it stay as they were to the bit."""
    event = _event(4.5)
    panel = _invented("2008-12-31T23", 3)
    after = (panel.hours > np.datetime64("2005-06-01T00", "h")) & (panel.hours < np.datetime64("2005-10-20T00", "h"))
    values = {
        name: np.where(after[:, None], array - 10.0, array)
        for name, array in panel.values.items()
        if name in ("air_temperature_c", "dew_point_c")
    }
    others = {name: array for name, array in panel.values.items() if name not in (*values, "relative_humidity_pct")}
    changed = complete_humidity(observed(panel.hours, panel.series, values | others))
    told = [
        opening_hindcast(_record(one, event), event, MONTHS, TWO_IN_A_WEEK, ASSUMED, every_days=20, members=15)
        for one in (panel, changed)
    ]
    last = day_number(date(2005, 5, 31))
    here = [(one.season == 2005) & (one.first <= last) for one in told]
    assert here[0].sum() >= 3
    for name in ("first", "told", "usual", "told_range", "usual_range"):
        one, other = (getattr(hindcast, name)[rows] for hindcast, rows in zip(told, here, strict=True))
        assert np.array_equal(one, other), name
    opened = [hindcast.opened[rows] for hindcast, rows in zip(told, here, strict=True)]
    assert not np.array_equal(*opened), "the colder summer opens later, or the test shows nothing"
    elsewhere = [one.told[one.season == 2004] for one in told]
    assert not np.array_equal(*elsewhere), "for other seasons it is one of the past years"


def test_only_mornings_before_the_opening_are_asked() -> None:
    """Told at midnight of a day, the first day that is not over is the next; told at two, it is the day itself."""
    event = _event(3.0)
    rec = _record(_invented("2005-12-31T23", 4), event)
    for hour, days_on in ((24, 1), (2, 0)):
        told = opening_hindcast(
            rec, event, MONTHS, FIRST_EVENT_DAY, ASSUMED, last_known_hour=hour, members=8, reach_days=20
        )
        assert len(told.first) > 3
        assert (told.opened >= told.first).all()
        came = rec.came[0]
        for season in np.unique(told.season):
            start = day_number(date(int(season), 4, 1))
            opens = start + int(np.flatnonzero(came[start - rec.days[0] :] == 1)[0])
            mine = told.season == season
            assert (told.opened[mine] == opens).all()
            # Every seventh morning from 1 April on, to the last of which the first open day is no later.
            mornings = np.arange(start, opens - days_on + 1, 7)
            assert told.first[mine].tolist() == (mornings + days_on).tolist()


def test_a_short_reach_tells_no_range_rather_than_a_wrong_one() -> None:
    event = _event(3.0)
    told = opening_hindcast(
        _record(_invented("2004-12-31T23", 5), event), event, MONTHS, TWO_IN_A_WEEK, ASSUMED, members=8, reach_days=16
    )
    early = told.first < np.array([day_number(date(int(year), 4, 10)) for year in told.season])
    assert np.isnan(told.told_range[early, 2]).all()
    assert np.isfinite(told.usual_range[:, 0]).all()
    assert told.told.sum(axis=1) == pytest.approx(1.0)


def test_a_season_with_a_hole_about_its_opening_is_left_out() -> None:
    event = _event(3.0)
    panel = _invented("2005-12-31T23", 6)
    hole = (panel.hours > np.datetime64("2003-04-10T00", "h")) & (panel.hours < np.datetime64("2003-07-01T00", "h"))
    holed = observed(
        panel.hours,
        panel.series,
        {name: np.where(hole[:, None], np.nan, array) for name, array in panel.values.items()},
    )
    told = opening_hindcast(_record(holed, event), event, MONTHS, TWO_IN_A_WEEK, ASSUMED, members=8, reach_days=20)
    assert set(told.season) == {2001, 2002, 2004, 2005}


def test_blocks_with_holes_beyond_the_fortnight_still_serve() -> None:
    """A hole of two days in every July, and openings in May: no year holds a whole block of six months."""
    event = _event(3.0)
    panel = _invented("2005-12-31T23", 6)
    july = (panel.hours.astype("datetime64[M]").astype(int) % 12 == 6) & (
        (panel.hours - panel.hours.astype("datetime64[M]")).astype(int) // 24 < 2
    )
    holed = observed(
        panel.hours,
        panel.series,
        {name: np.where(july[:, None], np.nan, array) for name, array in panel.values.items()},
    )
    told = opening_hindcast(_record(holed, event), event, MONTHS, TWO_IN_A_WEEK, ASSUMED, members=8, every_days=14)
    assert set(told.season) == {2001, 2002, 2003, 2004, 2005}
    assert np.isfinite(told.told_range[:, 1]).all()


def test_months_ahead_begin_with_the_same_fortnight() -> None:
    panel = _invented("2006-12-31T23", 8)
    stock = library(panel)
    recent = panel.between(np.datetime64("2004-03-01T00", "h"), np.datetime64("2004-04-01T10", "h"))
    short = fortnight(stock, recent, REACH_H, ASSUMED, None, 20)
    long = fortnight(stock, recent, 2500, ASSUMED, None, 20, REACH_H)
    assert short is not None
    assert long is not None
    assert np.array_equal(short.year, long.year)
    for name, values in short.values.items():
        assert np.array_equal(values, long.values[name][:REACH_H], equal_nan=True), name
    assert (long.explained[REACH_H:] == 0).all(), "readings say nothing beyond"
    assert long.explained[0, 0] > 0.2


def test_a_block_may_have_holes_after_the_hours_that_have_to_be_known() -> None:
    panel = _invented("2004-12-31T23", 9)
    hole = np.flatnonzero(panel.hours == np.datetime64("2002-06-01T00", "h"))[0]
    values = {name: array.copy() for name, array in panel.values.items()}
    values["air_temperature_c"][hole] = np.nan
    stock = library(observed(panel.hours, panel.series, values))
    when = np.datetime64("2004-05-01T00", "h")  # 31 days earlier in the year than the hole
    first_known = {known: stock.starts(when, 2000, 1000, known)[0] for known in (None, 24 * 11, 24 * 11 - 1)}
    of_2002 = {known: int((stock.year_of(rows, when) == 2002).sum()) for known, rows in first_known.items()}
    # The latest of the 41 starts lies twenty days after the date, eleven days before the hole.
    assert of_2002 == {None: 0, 24 * 11: 40, 24 * 11 - 1: 41}


# What the scores are --------------------------------------------------------------------------------------------------


def _hand_made(told: Floats, usual: Floats, opened: list[float], ranges: list[list[float]]) -> OpeningHindcast:
    count = len(opened)
    return OpeningHindcast(
        "alder",
        _event(3.0),
        np.arange(2001, 2001 + count),
        np.full(count, 100),
        np.array(opened),
        told,
        usual,
        np.array(ranges),
        np.array(ranges) + np.array([-5.0, 0.0, 5.0]),
    )


def _sure(column: int) -> Floats:
    found = np.zeros(DAYS_SCORED + 1)
    found[column] = 1.0
    return found


def test_scores_are_arithmetic() -> None:
    """Openings on columns 2, 13 and later. Told: 2 for sure, half 13 and half later, later for sure."""
    told = np.stack([_sure(2), 0.5 * _sure(13) + 0.5 * _sure(16), _sure(16)])
    usual = np.tile(0.5 * _sure(4) + 0.5 * _sure(16), (3, 1))
    ranges = [[101.0, 102.0, 110.0], [114.0, 120.0, np.inf], [150.0, 170.0, np.inf]]
    found = opening_skill([_hand_made(told, usual, [102.0, 113.0, np.inf], ranges)])
    # Within 14 days, columns 0 to 13: told 1, 1/2, 0 of what came 1, 1, 0; usual 1/2 each time.
    assert found.soon.value == pytest.approx(1 - (0.0 + 0.25 + 0.0) / (3 * 0.25))
    # Days 13, 14, 15 are each off by a half: 3·1/4. Usual: days 2 and 3 by 1 and twelve by a half; days 4 to 12 and 13
    # to 15 by a half; days 4 to 15 by a half.
    assert found.crps_days == pytest.approx((0.0 + 0.75 + 0.0) / 3)
    assert found.usual_crps_days == pytest.approx((2 + 12 / 4 + 12 / 4 + 12 / 4) / 3)
    assert found.days.value == pytest.approx(1 - 0.75 / 11)
    # The first and the last lie inside; the second came a day before its range, but within the wider usual one.
    assert found.inside.value == pytest.approx(2 / 3)
    assert found.usual_inside.value == pytest.approx(1.0)
    assert found.width_days == pytest.approx(9.0)
    assert found.usual_width_days == pytest.approx(19.0)
    # By the middle day: 102 of 102, 113 of 120; the third never came.
    assert found.by_middle.value == pytest.approx(2 / 3)
    assert (found.mornings, found.seasons) == (3, 3)


def test_the_fourteenth_day_is_soon_and_the_fifteenth_is_not() -> None:
    told = np.stack([_sure(13), _sure(14)])
    usual = np.tile(0.5 * _sure(0) + 0.5 * _sure(16), (2, 1))
    found = opening_skill([_hand_made(told, usual, [113.0, 114.0], [[100.0, 101.0, 102.0]] * 2)])
    assert found.soon.value == 1.0
    assert found.days.value == 1.0


def test_an_unknown_end_of_a_range_is_no_miss() -> None:
    told = np.stack([_sure(3), _sure(3)])
    ranges = [[103.0, 103.0, 103.0], [103.0, np.nan, np.nan]]
    found = opening_skill([_hand_made(told, told, [103.0, 110.0], ranges)])
    assert found.inside.value == 1.0
    assert found.inside.cases == 1


# What they are worth --------------------------------------------------------------------------------------------------


def test_a_forecast_that_knows_the_weather_knows_the_fortnight() -> None:
    """Forecasts of correlation 0.98 for sixteen days, taken for what they are worth: most of the error is gone."""
    event = _event(3.0)
    panel = _invented("2010-12-31T23", 7)
    near = Emulated("near", (0.98,) * LEAD_DAYS, (0.98,) * LEAD_DAYS)
    r = np.full(LEAD_DAYS, 0.98)
    skill = replace(ASSUMED, correlation=r, slope=r)

    def forecaster_of(stock: Library, year: int) -> Forecaster:
        return Emulator(panel, stock, near, np.random.default_rng(year)).forecast

    told = opening_hindcast(
        _record(panel, event), event, MONTHS, TWO_IN_A_WEEK, skill,
        forecaster_of=forecaster_of, every_days=9, members=30, reach_days=DAYS_SCORED,
    )  # fmt: skip
    found = opening_skill([told])
    assert found.soon.value > 0.5
    assert found.days.value > 0.5


def test_in_a_known_climate_eight_of_ten_openings_lie_in_the_range_and_half_before_the_middle() -> None:
    # Told on 1 April by readings alone, two records of thirty seasons. Of 60 seasons a share of 0.8 is good to
    # √(0.8·0.2/60) = 0.052 and one of a half to 0.065; two and a half of these are allowed either way. Half as wide a
    # range would hold about 0.48 of a normal spread, and of one told a week late 0.26 would come after the middle.
    event = _event(3.0)
    made = [
        opening_hindcast(
            _record(_invented("2031-12-31T23", seed), event), event, MONTHS, TWO_IN_A_WEEK, ASSUMED,
            every_days=200, members=40, reach_days=80,
        )
        for seed in (1, 2)
    ]  # fmt: skip
    found = opening_skill(made)
    assert found.mornings >= 58
    assert found.inside.value == pytest.approx(0.8, abs=2.5 * 0.052)
    assert found.by_middle.value == pytest.approx(0.5, abs=2.5 * 0.065)
    assert [date_of(int(day)).month for day in made[0].first[:2]] == [4, 4]
    # The dates themselves vary by about eleven days: 2·1.28·11 = 28 for a normal spread.
    assert 18 < found.width_days < 40
