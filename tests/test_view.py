"""What the models say on one morning: finished days, the day in progress, and nothing on stale readings."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from forecast.between import Where
from forecast.clock import day_number, utc_minute
from forecast.diseases import MODELS
from forecast.diseases.declare import Daily
from forecast.diseases.pressure import pressure
from forecast.outlook.running_day import HISTORY_HOURS
from forecast.outlook.view import Today, View, view
from forecast.panel import Hours, Panel, observed
from forecast.stand import Stand, StandHours, place_hours, stand_hours
from forecast.turf import Setting
from forecast.wetness import BEST_KNOWN

NAN = math.nan
ZONE = ZoneInfo("America/New_York")  # UTC−5, and UTC−4 in summer
OFFSET = -300
TODAY = date(2031, 7, 20)
FIRST = np.datetime64("2031-06-20T00", "h")
STAND = Stand("stand-1", "alder", Where(41.0, -75.0, 200.0), ZONE, Setting(), BEST_KNOWN)


def _weather(last: str, series: int = 1) -> Panel:
    """Thirty humid days that differ from one another, read up to a UTC stamp."""
    hours: Hours = np.arange(FIRST, np.datetime64(last, "h") + np.timedelta64(1, "h"), dtype="datetime64[h]")
    rng = np.random.default_rng(8)
    days = 40
    level = np.repeat(rng.normal(0, 2, (days, series)), 24, axis=0)[: len(hours)]
    apart = np.repeat(rng.uniform(0.5, 4, (days, series)), 24, axis=0)[: len(hours)]
    # Warmest at 20:00 UTC, 15:00 at UTC−5.
    wave = np.cos((np.arange(len(hours)) - 20) * 2 * np.pi / 24)[:, None]
    temperature = 23 + level + 5 * wave
    names = ("alder", "birch")[:series]
    return observed(hours, names, {"air_temperature_c": temperature, "dew_point_c": temperature - apart - 2 - 2 * wave})


def _cut_out(panel: Panel, *stamps: str) -> Panel:
    """The panel with the readings of some hours gone."""
    gone = np.isin(panel.hours, np.array(stamps, dtype="datetime64[h]"))
    values = {name: np.where(gone[:, None], NAN, array) for name, array in panel.values.items()}
    return observed(panel.hours, panel.series, values)


def _at(hour: int, minute: int) -> np.datetime64:
    return utc_minute(datetime(TODAY.year, TODAY.month, TODAY.day, hour, minute, tzinfo=ZONE))


def _hours(panel: Panel) -> StandHours:
    return stand_hours(place_hours(panel, STAND.where), STAND)


def _view(panel: Panel, hour: int, minute: int, column: int = 0) -> View:
    return _view_at(panel, _at(hour, minute), column)


def _view_at(panel: Panel, now_utc: np.datetime64, column: int = 0) -> View:
    return view(_hours(panel.only(column)), STAND, day_number(TODAY), now_utc, OFFSET)


def _says_nothing(now: Today) -> bool:
    arrays = (now.answer, now.as_printed, now.outside, now.passed, *now.inputs.values())
    return not now.finished and all(array.shape == (0,) for array in arrays)


def test_before_six_standard_time_the_index_day_is_still_running() -> None:
    # 05:30 daylight time is 09:30 UTC; a lag of three hours leaves 06:00 UTC. The index day ends at 11:00 UTC.
    assert _at(5, 30) == np.datetime64("2031-07-20T09:30")
    now = _view(_weather("2031-07-20T06"), 5, 30).now["fidanza_1996"]
    assert not now.finished
    assert len(now.answer) == 10  # ways on: the ten days before
    assert not np.isnan(now.answer).any()
    assert np.ptp(now.answer) > 0
    assert now.answer.shape == now.as_printed.shape == now.outside.shape == now.passed.shape


def test_at_half_past_ten_it_is_over() -> None:
    # 14:30 UTC; read up to 11:00 UTC, 06:00 standard time.
    now = _view(_weather("2031-07-20T11"), 10, 30).now["fidanza_1996"]
    assert now.finished
    assert now.answer.shape == now.passed.shape == (1,)
    assert not np.isnan(now.answer).any()


def test_with_the_last_hour_not_read_a_day_of_23_hours_is_not_finished() -> None:
    # Read up to 10:00 UTC: 23 of 24 hours, which would be enough for a day that is over.
    seen = _view(_weather("2031-07-20T10"), 10, 30)
    now, past = seen.now["fidanza_1996"], seen.past["fidanza_1996"]
    row = past.row(day_number(TODAY))
    assert row is not None
    assert past.hours_known[row, 0] == 23
    assert np.isnan(past.answer[row, 0])
    assert np.isnan(past.passed[row, 0])
    assert not np.isnan(past.answer[row - 1, 0])
    assert not now.finished
    # An hour that is missing in the middle, once a later one was read, does not hold the day open.
    holed = _cut_out(_weather("2031-07-20T11"), "2031-07-20T03")
    assert _view(holed, 10, 30).now["fidanza_1996"].finished


@pytest.mark.parametrize("later_hours", [1, 24 * 10])
def test_a_day_stays_open_however_long_the_station_has_been_silent(later_hours: int) -> None:
    # Silent after 10:00 UTC while another station of the panel goes on.
    panel = _weather("2031-07-20T10", series=2)
    last = panel.hours[-1] + np.timedelta64(later_hours + 1, "h")
    hours: Hours = np.arange(FIRST, last, dtype="datetime64[h]")
    values = {}
    for name, array in panel.values.items():
        longer = np.full((len(hours), 2), 15.0)
        longer[len(array) :, 0] = NAN
        longer[: len(array)] = array
        values[name] = longer
    seen = _view(observed(hours, panel.series, values), 10, 30)
    past = seen.past["fidanza_1996"]
    row = past.row(day_number(TODAY))
    assert row is not None
    assert np.isnan(past.passed[row, 0])
    assert seen.last_known == panel.hours[-1]


def test_every_model_has_its_own_day() -> None:
    # At 17:30 daylight time, read up to 18:00 UTC: past 06:00 and noon standard time (17:00 UTC), before midnight.
    now = _view(_weather("2031-07-20T18"), 17, 30).now
    assert set(now) == set(MODELS)
    over = {"fidanza_1996": True, "warm_wet_night": True, "nutter_1983": True, "smith_2018": False}
    assert {key: now[key].finished for key in over} == over
    assert len(now["smith_2018"].answer) == 10
    assert now["smith_2018"].inputs.keys() == {"relative_humidity_pct_mean_5_days", "air_temperature_c_mean_5_days"}


def test_a_day_that_is_over_says_what_its_hours_say() -> None:
    panel = _weather("2031-07-20T18")
    seen = _view(panel, 17, 30)
    wet = _hours(panel)
    for key in ("fidanza_1996", "warm_wet_night"):
        found = pressure(MODELS[key], wet.panel_for(MODELS[key].wetness), OFFSET)
        row = found.row(day_number(TODAY))
        assert row is not None
        assert seen.now[key].answer.tolist() == found.answer[row].tolist()
        assert seen.now[key].passed.tolist() == found.passed[row].tolist()


def test_the_ways_on_meet_what_came_when_the_days_are_all_alike() -> None:
    # Thirty equal days; at 05:30 the index of the day that will be over at 07:00 is known without a doubt.
    hours: Hours = np.arange(FIRST, np.datetime64("2031-07-20T12"), dtype="datetime64[h]")
    wave = np.cos((np.arange(len(hours)) - 20) * 2 * np.pi / 24)[:, None]
    panel = observed(hours, ("alder",), {"air_temperature_c": 25 + 5 * wave, "dew_point_c": 19 + wave})
    early = panel.between(FIRST, np.datetime64("2031-07-20T06", "h"))
    running, over = (_view(one, hour, 30).now["fidanza_1996"] for one, hour in ((early, 5), (panel, 10)))
    assert not running.finished
    assert over.finished
    # 1e-9 of the index: additions of binary fractions.
    np.testing.assert_allclose(running.answer, np.repeat(over.answer, 10), rtol=0, atol=1e-9)


@pytest.mark.parametrize(("age_hours", "says"), [(36, True), (37, False)])
def test_readings_older_than_36_hours_give_no_answer_for_today(age_hours: int, says: bool) -> None:
    now_utc = np.datetime64("2031-07-20T09", "h")
    panel = _weather(str(now_utc - np.timedelta64(age_hours, "h")))
    seen = _view_at(panel, now_utc.astype("datetime64[m]"))
    for key, now in seen.now.items():
        assert _says_nothing(now) is not says, key
        assert not now.finished
    assert not np.isnan(seen.past_passed("fidanza_1996")).all()  # the days that are over are still told


def test_a_station_never_read_says_nothing_of_any_day() -> None:
    panel = _weather("2031-07-20T06")
    values = {**panel.values, "dew_point_c": np.full(panel.values["dew_point_c"].shape, NAN)}
    # Five days below 10 °C on average: a model that does not speak of such weather must not call them safe either.
    values["air_temperature_c"] = panel.values["air_temperature_c"] - 20
    seen = _view(observed(panel.hours, panel.series, values), 5, 30)
    assert seen.last_known is None
    for key in MODELS:
        assert _says_nothing(seen.now[key])
        assert np.isnan(seen.past_passed(key)).all()


def test_past_answers_of_all_models_lie_over_the_same_days() -> None:
    seen = _view(_weather("2031-07-20T18"), 17, 30)
    days = seen.days()
    # First stamp 19:00 on 19 June at UTC−5: the day that ends at midnight is that of the 19th. Last stamp 13:00 on
    # 20 July: the days that end at 06:00 and noon are already those of the 21st.
    assert days.tolist() == list(range(day_number(date(2031, 6, 19)), day_number(date(2031, 7, 21)) + 1))
    for key, past in seen.past.items():
        passed = seen.past_passed(key)
        assert passed.shape == days.shape
        for day, one in zip(days, passed, strict=True):
            row = past.row(int(day))
            np.testing.assert_array_equal(one, np.nan if row is None else past.passed[row, 0])


def test_a_station_of_one_hour_has_days_and_says_nothing_of_them() -> None:
    """Noon of UTC−5 lies in the day that ends at midnight and in tomorrow's that ends at 06:00: no day is common."""
    panel = _weather("2031-07-20T18")
    seen = _view(panel.between(panel.hours[-1], panel.hours[-1]), 17, 30)
    assert len(seen.days())
    for key in seen.past:
        assert np.isnan(seen.past_passed(key)).all()


@pytest.mark.parametrize("column", [0, 1])
def test_stations_of_one_panel_do_not_mix(column: int) -> None:
    panel = _weather("2031-07-20T06", series=2)
    values = {name: array[:, column : column + 1] for name, array in panel.values.items()}
    alone = _view(observed(panel.hours, (panel.series[column],), values), 5, 30)
    together = _view(panel, 5, 30, column)
    for key in MODELS:
        np.testing.assert_array_equal(together.now[key].answer, alone.now[key].answer)
        np.testing.assert_array_equal(together.past[key].answer, alone.past[key].answer)
    other = _view(panel, 5, 30, 1 - column)
    assert not np.array_equal(together.now["fidanza_1996"].answer, other.now["fidanza_1996"].answer)


def test_only_the_models_asked_for_are_run() -> None:
    panel = _weather("2031-07-20T06")
    asked = [MODELS["smith_2018"], MODELS["nutter_1983"]]
    seen = view(_hours(panel), STAND, day_number(TODAY), _at(5, 30), OFFSET, asked)
    whole = _view(panel, 5, 30)
    assert set(seen.past) == set(seen.now) == {"smith_2018", "nutter_1983"}
    np.testing.assert_array_equal(seen.now["smith_2018"].answer, whole.now["smith_2018"].answer)


def _months(count: int) -> Panel:
    """Humid days that cool by a tenth of a degree a day, read up to 05:00 UTC on the 20th of July."""
    last = np.datetime64("2031-07-20T05", "h")
    hours: Hours = last - np.arange(24 * count)[::-1].astype("timedelta64[h]")
    wave = np.cos((np.arange(len(hours)) - 20) * 2 * np.pi / 24)
    temperature = (30 - np.arange(len(hours)) / 240 + 4 * wave)[:, None]
    return observed(hours, ("alder",), {"air_temperature_c": temperature, "dew_point_c": temperature - 3})


def test_a_model_that_looks_back_for_months_has_its_months_today_too() -> None:
    """Sixty days of soil temperature: the days gone on with are one of sixty."""
    assert max(one.trailing_days for one in MODELS["large_patch_autumn"].inputs if isinstance(one, Daily)) == 60
    now = _view(_months(100), 5, 30).now["large_patch_autumn"]
    assert not now.finished
    assert now.answer.size == 10
    assert not np.isnan(now.answer).any()
    long, short = (now.inputs[f"soil_temperature_5cm_c_mean_{days}_days"] for days in (60, 5))
    assert (long > short + 2).all(), "the weather cools by 0.1 °C a day, so 60 days lie warmer than 5 by about 2.75"
    # 40 days of readings are too few for a mean of 60.
    few = _view(_months(40), 5, 30).now["large_patch_autumn"].inputs["soil_temperature_5cm_c_mean_60_days"]
    assert few.size == 10
    assert np.isnan(few).all()


def test_a_model_that_looks_back_for_long_never_reads_wet_leaves() -> None:
    """Its ways on are made without them: see the view."""
    for model in MODELS.values():
        days = max((one.trailing_days for one in model.inputs if isinstance(one, Daily)), default=1)
        if 24 * (days + 1) > HISTORY_HOURS:
            assert all(one.quantity != "leaf_wet_fraction" for one in model.inputs), model.key


def test_the_day_in_progress_goes_by_the_method_that_tells_the_record() -> None:
    """Wind and cloud are read since ten days only: not enough for the record, and all that the ways on are made of."""
    panel = _weather("2031-07-20T06")
    lately = (np.arange(len(panel.hours)) >= len(panel.hours) - 240)[:, None]
    values = {
        **panel.values,
        "wind_speed_10m_m_s": np.where(lately, 1.0, NAN),
        "cloud_cover_fraction": np.where(lately, 0.0, NAN),
        "rain_mm": np.zeros(lately.shape),
    }
    found = _hours(observed(panel.hours, panel.series, values))
    assert found.wet.method.key == "dew_point_depression"
    by_record = replace(STAND, wetness="dew_point_depression")
    model = [MODELS["warm_wet_night"]]
    today, now = day_number(TODAY), _at(5, 30)
    named = view(found, by_record, today, now, OFFSET, model).now["warm_wet_night"].inputs
    left_to_itself = view(found, STAND, today, now, OFFSET, model).now["warm_wet_night"].inputs
    other = view(found, replace(STAND, wetness="energy_balance"), today, now, OFFSET, model)
    for name, values_named in named.items():
        np.testing.assert_array_equal(left_to_itself[name], values_named)
        np.testing.assert_array_equal(other.now["warm_wet_night"].inputs[name], values_named)


def test_the_day_in_progress_reads_the_wetness_that_a_models_paper_used() -> None:
    # At night 1.9 °C from the dew point: wet by dew-point depression, and at 24 °C 89 % of humidity, so dry at 90 %.
    panel = _weather("2031-07-20T06")
    wave = np.cos((np.arange(len(panel.hours)) - 20) * 2 * np.pi / 24)[:, None]
    temperature = 24 + 0.1 * wave
    apart = np.where(wave < 0, 1.9, 6.0)
    values = {"air_temperature_c": temperature, "dew_point_c": temperature - apart}
    found = _hours(observed(panel.hours, panel.series, values))
    by_paper = replace(MODELS["warm_wet_night"], wetness="humidity_threshold")
    told = [
        view(found, STAND, day_number(TODAY), _at(5, 30), OFFSET, [model]).now["warm_wet_night"]
        for model in (MODELS["warm_wet_night"], by_paper)
    ]
    assert not any(one.finished for one in told)
    own, paper = (one.inputs["leaf_wet_fraction_wet_hours"] for one in told)
    assert (paper == 0).all()
    assert (own >= 11).all()


def test_a_model_reads_the_wetness_that_its_paper_used() -> None:
    panel = _weather("2031-07-20T18")
    threshold = replace(MODELS["warm_wet_night"], wetness="humidity_threshold")
    found = _hours(panel)
    by_own = found.panel_for("").values["leaf_wet_fraction"]
    by_paper = found.panel_for("humidity_threshold").values["leaf_wet_fraction"]
    assert not np.array_equal(by_own, by_paper)
    seen = view(found, STAND, day_number(TODAY), _at(17, 30), OFFSET, [threshold])
    wanted = pressure(threshold, found.panel_for("humidity_threshold"), OFFSET)
    row = wanted.row(day_number(TODAY))
    assert row is not None
    for name, values in seen.now["warm_wet_night"].inputs.items():
        np.testing.assert_array_equal(values, wanted.inputs[name][row, 0])
