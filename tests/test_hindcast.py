"""Past mornings told again: what came by plain sums, nothing known from later, and emulated forecasts."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.typing import NDArray
from synthetic_climate import TD, Climate, T, record, stamps

from forecast.between import Where
from forecast.clock import day_number
from forecast.diseases import MODELS
from forecast.diseases.events import Event
from forecast.outlook.lead_skill import ASSUMED, LeadSkill
from forecast.outlook.library import Library, library
from forecast.outlook.members import Expected
from forecast.panel import Floats, Panel, observed
from forecast.stand import Stand, place_hours
from forecast.turf import Setting
from forecast.verify.emulate import TYPICAL, Emulated, Emulator
from forecast.verify.hindcast import UNKNOWN, Forecaster, Hindcast, Record, hindcast, seasons
from forecast.verify.hindcast import record as made_ready

NAN = math.nan
WHERE, ZONE, OFFSET_MINUTES = Where(36.1, -86.7, 180.0), ZoneInfo("America/Chicago"), -360
STAND = Stand("stand-1", "alder", WHERE, ZONE, Setting(), "dew_point_depression")
INDEX_4 = replace(MODELS["fidanza_1996"], threshold=4.0)
INDEX = Event("brown_patch", "perennial_ryegrass", (INDEX_4,), ())
NIGHT = Event("brown_patch", "tall_fescue", (MODELS["warm_wet_night"],), ())
EITHER = Event("brown_patch", "perennial_ryegrass", (INDEX_4, MODELS["warm_wet_night"]), ())
TESTED = 2004


@pytest.fixture(scope="module")
def readings() -> Panel:
    return record(Climate(), stamps("2001-01-01T00", "2007-12-31T23"), 51).panel()


@pytest.fixture(scope="module")
def past(readings: Panel) -> Panel:
    return place_hours(readings, WHERE)


@pytest.fixture(scope="module")
def ready(past: Panel) -> Record:
    return made_ready("Alder Reach", past, STAND, OFFSET_MINUTES, (INDEX,))


def _row(panel: Panel, stamp: str) -> int:
    return int((np.datetime64(stamp, "h") - panel.hours[0]).astype(int))


def _one_morning(rec: Record, month: int = 7, **more: object) -> Hindcast:
    """The first of a month of the year tested, told at midnight after it: 06:00 UTC of the 2nd."""
    found = hindcast(rec, (month, month), ASSUMED, members=40, years=[TESTED], every_days=31, **more)[0]  # type: ignore[arg-type]
    assert found.day.tolist() == [day_number(date(TESTED, month, 1))]
    return found


def _changed(past: Panel, change: Callable[[str, Floats], Floats]) -> Panel:
    values = {name: change(name, array.copy()) for name, array in past.values.items()}
    return Panel(past.hours, past.series, values, past.flags, past.origin)


def _worked_event(panel: Panel, day: date) -> float:
    """Whether the index reaches 4 on the day that ends at 06:00 standard time, 12:00 UTC, by plain sums."""
    last = _row(panel, f"{day}T12")
    temperatures = panel.values[T][last - 23 : last + 1, 0].tolist()
    dew_points = panel.values[TD][last - 23 : last + 1, 0].tolist()
    humidity = 0.0
    for t, td in zip(temperatures, dew_points, strict=True):  # FAO-56 eq. 11
        humidity += 100 * math.exp(17.27 * td / (td + 237.3) - 17.27 * t / (t + 237.3)) / 24
    lowest = min(*temperatures, 1.4 / (2 * 0.033))  # held at the curve's peak
    return float(-21.5 + 0.15 * humidity + 1.4 * lowest - 0.033 * lowest**2 >= 4.0)


# What came ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("last_known_hour", [24, 2])
def test_what_happened_is_what_plain_sums_give_on_the_days_named(
    readings: Panel, ready: Record, last_known_hour: int
) -> None:
    found = hindcast(
        ready, (6, 8), ASSUMED, members=9, years=[2003, 2005], every_days=13, last_known_hour=last_known_hour
    )[0]
    wanted = [date(year, 6, 1) + timedelta(n) for year in (2003, 2005) for n in range(0, 92, 13)]
    assert found.day.tolist() == [day_number(day) for day in wanted]
    assert found.year.tolist() == [day.year for day in wanted]
    assert found.passed.shape == (16, 17, 9)
    for morning, day in enumerate(wanted):
        worked = [_worked_event(readings, day + timedelta(lead)) for lead in range(17)]
        assert found.happened[morning].tolist() == worked
    assert 20 < found.happened.sum() < 250
    # At midnight, and at 02:00 all but surely, the day to 06:00 is over: members say what happened. Three days on they
    # differ.
    agree = found.passed[:, 0] == found.happened[:, :1]
    assert agree.all() if last_known_hour == 24 else agree.mean() > 0.9
    assert (found.passed[:, 3].max(axis=1) > found.passed[:, 3].min(axis=1)).any()


def test_days_past_the_records_end_are_unknown(ready: Record) -> None:
    found = hindcast(ready, (12, 12), ASSUMED, members=9, years=[2007], every_days=30)[0]
    # 1 December alone: the midnight that ends the 31st lies past the record's end, 23:00 UTC of the 31st.
    assert found.day.tolist() == [day_number(date(2007, 12, 1))]
    assert not np.isnan(found.happened[0]).any()
    late = hindcast(ready, (12, 12), ASSUMED, members=9, years=[2007], every_days=20)[0]
    assert np.isnan(late.happened[1]).tolist() == [False] * 11 + [True] * 6  # 21 December: to the 31st
    assert (late.passed[1] != UNKNOWN).all()


def test_an_event_of_two_models_comes_where_either_passes(past: Panel) -> None:
    rec = made_ready("Alder Reach", past, STAND, OFFSET_MINUTES, (INDEX, NIGHT, EITHER))
    index, night, either = hindcast(rec, (7, 7), ASSUMED, members=20, years=[TESTED], every_days=10)
    assert np.array_equal(either.happened, np.maximum(index.happened, night.happened))
    assert np.array_equal(either.passed, np.maximum(index.passed, night.passed))
    assert (index.happened != night.happened).any()
    assert (index.passed != night.passed).any()


# What a morning knows -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["gone", "wild"])
def test_what_came_later_in_the_year_is_not_known_to_the_bit(past: Panel, ready: Record, how: str) -> None:
    until = _row(past, f"{TESTED}-07-02T06")  # the last reading

    def change(_: str, array: Floats) -> Floats:
        later = slice(until + 1, _row(past, f"{TESTED + 1}-01-01T00"))
        array[later] = NAN if how == "gone" else array[later][::-1] + 3
        return array

    other = made_ready("Alder Reach", _changed(past, change), STAND, OFFSET_MINUTES, (INDEX,))
    whole, found = _one_morning(ready), _one_morning(other)
    assert found.passed.tobytes() == whole.passed.tobytes()
    assert found.usual.tobytes() == whole.usual.tobytes()
    assert found.usual_within.tobytes() == whole.usual_within.tobytes()
    assert found.state.tobytes() == whole.state.tobytes()
    assert found.happened.tobytes() != whole.happened.tobytes()


def test_what_came_earlier_in_the_year_is_not_known_either(past: Panel, ready: Record) -> None:
    # All that is left out, twelve months about the season and a month beside them, but for the fifteen days of history.
    until = _row(past, f"{TESTED}-07-02T06")

    def change(_: str, array: Floats) -> Floats:
        array[_row(past, f"{TESTED - 1}-12-20T00") : until + 1 - 360] += 5
        array[until + 1 : _row(past, f"{TESTED + 1}-02-10T00")] += 5
        return array

    other = made_ready("Alder Reach", _changed(past, change), STAND, OFFSET_MINUTES, (INDEX,))
    whole, found = _one_morning(ready), _one_morning(other)
    for name in ("passed", "usual", "usual_within", "state"):
        assert getattr(found, name).tobytes() == getattr(whole, name).tobytes(), name


def test_the_last_fortnight_and_the_other_years_are_known(past: Panel, ready: Record) -> None:
    whole = _one_morning(ready)
    until = _row(past, f"{TESTED}-07-02T06")
    for rows in (slice(until - 20, until + 1), slice(0, _row(past, "2003-01-01T00"))):

        def change(name: str, array: Floats, rows: slice = rows) -> Floats:
            if name in (T, TD):
                array[rows] += 4
            return array

        other = made_ready("Alder Reach", _changed(past, change), STAND, OFFSET_MINUTES, (INDEX,))
        assert _one_morning(other).passed.tobytes() != whole.passed.tobytes()


def test_a_forecast_is_asked_for_the_hours_after_the_last_reading_by_the_folds_own_stock(ready: Record) -> None:
    asked: list[tuple[np.datetime64, int]] = []
    folds: list[tuple[Library, int]] = []

    def forecaster_of(stock: Library, year: int) -> Forecaster:
        folds.append((stock, year))

        def forecaster(last_known: np.datetime64, hours_ahead: int) -> Expected | None:
            asked.append((last_known, hours_ahead))
            hours = last_known + np.arange(1, hours_ahead + 1) * np.timedelta64(1, "h")
            usual = {name: stock.normals[name].at(hours)[0] for name in (T, TD)}
            usual[T] += 20
            return None if len(asked) == 2 else Expected(usual)

        return forecaster

    found = hindcast(
        ready, (7, 7), ASSUMED, members=20, years=[2003, 2005], every_days=16, last_known_hour=2,
        forecaster_of=forecaster_of,
    )[0]  # fmt: skip
    assert [year for _, year in folds] == [2003, 2005]
    # 02:00 standard time is 08:00 UTC; from there to the midnight after sixteen days more, 22 + 16·24 hours.
    assert [str(last) for last, _ in asked] == [f"{y}-07-{d}T08" for y in (2003, 2005) for d in ("01", "17")]
    assert {hours for _, hours in asked} == {22 + 16 * 24}
    assert found.day.tolist() == [
        day_number(date(2003, 7, 1)),
        day_number(date(2005, 7, 1)),
        day_number(date(2005, 7, 17)),
    ]
    for stock, year in folds:
        out = stock.hours.astype("datetime64[Y]").astype(int) + 1970 == year
        assert np.isnan(stock.anomalies[T][out]).all()
    # Twenty degrees warmer than usual and as damp: dry, and no event for days in spite of what is usual.
    plain = hindcast(ready, (7, 7), ASSUMED, members=20, years=[2003], every_days=40, last_known_hour=2)[0]
    assert found.passed[0, 1:4].mean() < 0.5 * plain.passed[0, 1:4].mean()


def test_what_a_forecast_is_worth_may_change_from_morning_to_morning(ready: Record) -> None:
    asked: list[int] = []

    def worth(day: int) -> LeadSkill:
        asked.append(day)
        return ASSUMED

    by_day = hindcast(ready, (7, 7), worth, members=9, years=[TESTED], every_days=12)[0]
    fixed = hindcast(ready, (7, 7), ASSUMED, members=9, years=[TESTED], every_days=12)[0]
    assert asked == by_day.day.tolist() == [day_number(date(TESTED, 7, day)) for day in (1, 13, 25)]
    assert by_day.passed.tobytes() == fixed.passed.tobytes()


# Which mornings -------------------------------------------------------------------------------------------------------


def test_seasons_are_named_by_the_year_in_which_they_begin() -> None:
    days = np.arange(day_number(date(2001, 2, 10)), day_number(date(2004, 2, 1)) + 1)
    summers = [(2001 + n, day_number(date(2001 + n, 5, 1)), day_number(date(2001 + n, 9, 30))) for n in range(3)]
    assert seasons(days, (5, 9)) == summers
    assert seasons(days, (5, 9), [2002]) == summers[1:2]
    assert seasons(days, (5, 9), []) == []
    over_new_year = [
        (year, day_number(date(year, 11, 1)), day_number(date(year + 1, 2, 29 if year == 2003 else 28)))
        for year in (2000, 2001, 2002, 2003)
    ]
    assert seasons(days, (11, 2)) == over_new_year
    assert [year for year, _, _ in seasons(days, (12, 12))] == [2001, 2002, 2003]
    assert seasons(days, (1, 12))[0] == (2001, day_number(date(2001, 1, 1)), day_number(date(2001, 12, 31)))


def test_a_season_over_new_year_is_left_out_as_one(past: Panel) -> None:
    # Southern summers: the same record half a year later.
    rec = made_ready("Far Field", past, STAND, OFFSET_MINUTES, (INDEX,))
    folds: list[Library] = []

    def forecaster_of(stock: Library, _: int) -> None:
        folds.append(stock)

    found = hindcast(rec, (11, 2), ASSUMED, members=9, years=[TESTED], every_days=50, forecaster_of=forecaster_of)[0]
    assert found.day.tolist() == [day_number(date(TESTED, 11, 1) + timedelta(n)) for n in (0, 50, 100)]
    assert found.year.tolist() == [TESTED] * 3
    known = folds[0].hours[folds[0].known[:, 0]]
    out = (known > np.datetime64(f"{TESTED}-06-05T00")) & (known < np.datetime64(f"{TESTED + 1}-07-25T00"))
    assert not out.any()


def test_a_morning_without_its_last_reading_or_its_fortnight_is_left_out(past: Panel) -> None:
    holes = {
        "2004-07-02T06": 1,  # the last reading of the 1st
        "2004-07-03T06": 0,
        "2004-06-05T00": 200,  # of the fortnight before 12 June too little is known
    }
    values = {name: array.copy() for name, array in past.values.items()}
    for stamp, hours in holes.items():
        values[TD][_row(past, stamp) : _row(past, stamp) + hours] = NAN
    holed = Panel(past.hours, past.series, values, past.flags, past.origin)
    rec = made_ready("Alder Reach", holed, STAND, OFFSET_MINUTES, (INDEX,))
    found = hindcast(rec, (6, 7), ASSUMED, members=9, years=[2004], every_days=1)[0]
    days = set(found.day.tolist())
    assert day_number(date(2004, 7, 1)) not in days
    assert {day_number(date(2004, 6, 30)), day_number(date(2004, 7, 2))} <= days
    # 200 hours from the 5th to the 13th; three quarters of a fortnight, 252 of 336 hours, are known again once 84 of
    # them are left in it.
    assert day_number(date(2004, 6, 12)) not in days
    assert {day_number(date(2004, 6, 1)), day_number(date(2004, 6, 25))} <= days


def test_a_morning_with_fewer_members_takes_none_from_the_others(past: Panel) -> None:
    # Three years; of the others, a hole on 1 August 2003 takes the blocks before it.
    values = {name: array.copy() for name, array in past.values.items()}
    values[T][_row(past, "2003-07-25T00") : _row(past, "2003-08-20T00")] = NAN
    short = Panel(past.hours, past.series, values, past.flags, past.origin).between(
        np.datetime64("2002-01-01T00", "h"), np.datetime64("2004-12-31T23", "h")
    )
    rec = made_ready("Alder Reach", short, STAND, OFFSET_MINUTES, (INDEX,))
    found = hindcast(rec, (5, 7), ASSUMED, members=70, years=[2004], every_days=30)[0]
    members = (found.passed != UNKNOWN).any(axis=1).sum(axis=1)
    # 41 blocks of 2002 each time. Of 2003, counted from the day after: on 1 and 31 May as many, so 70 as asked for; on
    # 30 June those from 11 June to 8 July, whose sixteen days end before the 25th: 28; on 30 July that of 20 August.
    assert members.tolist() == [70, 70, 41 + 28, 41 + 1]
    assert found.passed.shape == (4, 17, 70)


def test_no_mornings_have_the_shapes_of_none(ready: Record, past: Panel) -> None:
    for found in (
        hindcast(ready, (7, 7), ASSUMED, years=[])[0],
        hindcast(
            made_ready("Alder Reach", past.between(past.hours[0], past.hours[5000]), STAND, OFFSET_MINUTES, (INDEX,)),
            (7, 7),
            ASSUMED,
        )[0],
    ):
        assert found.day.shape == (0,)
        assert found.passed.shape[:2] == (0, 17)
        assert found.happened.shape == found.usual.shape == (0, 17)
        assert found.usual_within.shape == (0, 17, 17)
        assert found.state.shape == (0, 6)


# Emulated forecasts ---------------------------------------------------------------------------------------------------

DRY = Climate(depression_c=30.0)


def _emulated(
    provider: Emulated, every_h: int, first: str = "2004-01-02T00"
) -> tuple[Panel, Library, list[tuple[int, Expected]]]:
    truth = record(DRY, stamps("1995-01-01T00", "2006-12-31T23"), 52).panel()
    but = np.datetime64("2003-12-02T00", "h"), np.datetime64("2005-01-30T23", "h")
    stock = library(truth, but=but)
    emulator = Emulator(truth, stock, provider, np.random.default_rng(1))
    rows = range(_row(truth, first), _row(truth, "2004-12-30T00"), every_h)
    made = [(row, emulator.forecast(truth.hours[row], 384)) for row in rows]
    return truth, stock, [(row, one) for row, one in made if one is not None]


def _in_spreads(truth: Panel, stock: Library, made: list[tuple[int, Expected]]) -> NDArray[np.float64]:
    """Anomalies of temperature told and come, shape (2, forecasts, hours)."""
    found = []
    for row, one in made:
        rows = row + np.arange(1, 385)
        mean, spread = stock.normals[T].at(truth.hours[rows])
        found.append([((values - mean) / spread)[:, 0] for values in (one.values[T], truth.values[T][rows])])
    return np.array(found).swapaxes(0, 1)


def test_an_emulated_forecast_correlates_as_its_table_says() -> None:
    # Ten years of forecasts a week apart: 500, with a day of hours about each lead that are half alike. A correlation r
    # of so many is off by (1 − r²)/√(500·2), at most 0.03; two and a half times that are allowed.
    table = (.95, .93, .91, .87, .82, .76, .68, .59, .50, .41, .33, .26, .20, .15, .11, .08)  # fmt: skip
    truth, stock, made = _emulated(TYPICAL, every_h=24 * 7 + 5, first="1995-03-01T00")
    assert len(made) > 480
    told, came = _in_spreads(truth, stock, made)
    for lead in (1, 3, 5, 7, 10, 16):
        day = slice(24 * lead - 24, 24 * lead)
        r = np.mean(told[:, day] * came[:, day]) / np.sqrt(np.mean(told[:, day] ** 2) * np.mean(came[:, day] ** 2))
        assert r == pytest.approx(table[lead - 1], abs=0.08 * (1 - table[lead - 1] ** 2))
        assert np.mean(told[:, day] ** 2) == pytest.approx(1, abs=0.1)  # as lively as the weather


def test_a_perfect_provider_tells_what_comes_and_a_worthless_one_another_year() -> None:
    perfect = Emulated("perfect", (1.0,) * 16, (1.0,) * 16)
    truth, stock, made = _emulated(perfect, every_h=24 * 40)
    for row, one in made:
        rows = row + np.arange(1, 385)
        assert np.allclose(one.values[T], truth.values[T][rows], rtol=0, atol=1e-9)
        assert np.allclose(one.values[TD], truth.values[TD][rows], rtol=0, atol=1e-9)
    worthless = Emulated("worthless", (0.0,) * 16, (0.0,) * 16)
    truth, stock, made = _emulated(worthless, every_h=24 * 40)
    told, _ = _in_spreads(truth, stock, made)
    anomalies, clock = stock.anomalies[T][:, 0], truth.hours.astype("datetime64[h]").astype(int) % 24
    for (row, _), one in zip(made, told, strict=True):
        # Some hour of another year, at the same hour of the day and within twenty days of the date, begins just so.
        same = np.flatnonzero(np.isclose(anomalies, one[0], rtol=0, atol=1e-9)).tolist()
        starts = [n for n in same if np.allclose(anomalies[n : n + 384], one, rtol=0, atol=1e-9)]
        assert len(starts) == 1
        assert clock[starts[0]] == clock[row + 1]
        apart = (truth.hours[starts[0]] - truth.hours[row + 1]).astype(int) / 24 % 365.25
        assert min(apart, 365.25 - apart) <= 21.5
        assert str(truth.hours[starts[0]])[:4] != "2004"


def test_a_provider_reaches_so_far_and_is_off_by_what_it_says() -> None:
    truth, stock, made = _emulated(replace(TYPICAL, days=7), every_h=24 * 90)
    for _, one in made:
        for name in (T, TD):
            assert np.isnan(one.values[name][:, 0]).tolist() == [False] * 168 + [True] * 216
    _, _, plain = _emulated(TYPICAL, every_h=24 * 90)
    _, _, off = _emulated(replace(TYPICAL, warm_by_spreads=0.5, dry_by_spreads=1.0), every_h=24 * 90)
    for (row, one), (_, other) in zip(plain, off, strict=True):
        _, spread = stock.normals[T].at(truth.hours[row + np.arange(1, 385)])
        assert np.allclose(other.values[T] - one.values[T], 0.5 * spread, rtol=0, atol=1e-9)
        drier = (other.values[T] - other.values[TD]) - (one.values[T] - one.values[TD])
        # One spread of the depression: √(2·3.5²·(1 − 0.8)) = 2.2 °C in this climate.
        assert drier.mean() == pytest.approx(math.sqrt(2 * 3.5**2 * 0.2), rel=0.1)
        assert (other.values[TD] <= other.values[T]).all()


def test_past_the_records_end_an_emulated_forecast_says_nothing_and_without_other_years_there_is_none() -> None:
    truth = record(DRY, stamps("2001-01-01T00", "2003-12-31T23"), 53).panel()
    emulator = Emulator(truth, library(truth), TYPICAL, np.random.default_rng(2))
    one = emulator.forecast(truth.hours[-100], 384)
    assert one is not None
    assert np.isnan(one.values[T][:, 0]).tolist() == [False] * 99 + [True] * 285
    young = truth.between(truth.hours[0], truth.hours[4000])
    alone = Emulator(young, library(young), TYPICAL, np.random.default_rng(3))
    assert alone.forecast(young.hours[2000], 384) is None


def test_holes_in_what_came_are_holes_in_an_emulated_forecast() -> None:
    truth = record(DRY, stamps("2001-01-01T00", "2004-12-31T23"), 54).panel()
    values = {name: array.copy() for name, array in truth.values.items()}
    values[TD][20_050:20_060] = NAN
    holed = observed(truth.hours, truth.series, values)
    one = Emulator(holed, library(holed), TYPICAL, np.random.default_rng(4)).forecast(truth.hours[20_000], 384)
    assert one is not None
    assert np.flatnonzero(np.isnan(one.values[TD][:, 0])).tolist() == list(range(49, 59))
