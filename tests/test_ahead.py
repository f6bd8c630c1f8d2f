"""The chain of models on members: where the future is the true one, what is said ahead is what will be said of it."""

from __future__ import annotations

import math
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from synthetic_climate import TD, Climate, T, record, stamps

from forecast.between import Where
from forecast.daily import last_stamp
from forecast.diseases import MODELS, DiseaseModel
from forecast.diseases.pressure import pressure
from forecast.outlook.ahead import OF_THE_AIR, PlaceAhead, StandAhead
from forecast.outlook.members import Fortnight
from forecast.panel import Floats, Panel, observed
from forecast.stand import Stand, place_hours, stand_hours
from forecast.turf import Setting

NAN = math.nan
WHERE, ZONE, OFFSET_MINUTES = Where(36.1, -86.7, 180.0), ZoneInfo("America/Chicago"), -360
STAND = Stand("stand-1", "alder", WHERE, ZONE, Setting(), "energy_balance")
DAYS = 17
# One model that reads air only, one that reads wet leaves, and two that read soil over sixty days.
AIR, WET, SOIL = "fidanza_1996", "warm_wet_night", ("large_patch_autumn", "spring_dead_spot_autumn")
HALF_WET = replace(MODELS["fidanza_1996"], threshold=4.0)  # passes often enough to tell days apart


@pytest.fixture(scope="module")
def readings() -> Panel:
    """Two years of readings as a station gives them."""
    return record(Climate(), stamps("2001-01-01T00", "2002-12-31T23"), 41).panel()


@pytest.fixture(scope="module")
def place(readings: Panel) -> Panel:
    return place_hours(readings, WHERE)


def _day(date: str) -> int:
    return int(np.datetime64(date, "D").astype(int))


def _known_until(panel: Panel, last: np.datetime64) -> Panel:
    """The same hours, nothing known after one of them."""
    later = panel.hours > last
    values = {name: np.where(later[:, None], NAN, array) for name, array in panel.values.items()}
    return Panel(panel.hours, panel.series, values, panel.flags, panel.origin)


def _true_future(panel: Panel, first_day: int, last_known_hour: int, members: int = 3) -> Fortnight:
    """Hours that came, as several members that are all alike."""
    last = last_stamp(first_day, OFFSET_MINUTES, last_known_hour)
    until = last_stamp(first_day + DAYS - 1, OFFSET_MINUTES, 24)
    rows = (panel.hours > last) & (panel.hours <= until)
    names = [name for name in panel.values if name in (*OF_THE_AIR, "cloud_cover_fraction", "snow_depth_mm")]
    values = {name: np.repeat(panel.values[name][rows][:, :, None], members, axis=2) for name in names}
    hours = panel.hours[rows]
    nothing = np.zeros((len(hours), 1))
    return Fortnight(hours, values, np.full((1, members), 2001), nothing, nothing.astype(bool))


def _ahead(place: Panel, readings: Panel, first_day: int, last_known_hour: int, stand: Stand = STAND) -> StandAhead:
    future = _true_future(readings, first_day, last_known_hour)
    last = last_stamp(first_day, OFFSET_MINUTES, last_known_hour)
    return StandAhead(PlaceAhead(_known_until(place, last), future, stand), stand)


def _said_of_it(model: DiseaseModel, place: Panel, first_day: int, stand: Stand = STAND) -> Floats:
    """What the model says of the same days once all has been observed."""
    found = pressure(model, stand_hours(place, stand).panel_for(model.wetness), OFFSET_MINUTES)
    row = found.row(first_day)
    assert row is not None
    return found.passed[row : row + DAYS, 0]


@pytest.mark.parametrize("last_known_hour", [24, 5, 14])
def test_members_that_are_the_true_future_get_the_answers_that_it_will_get(
    place: Panel, readings: Panel, last_known_hour: int
) -> None:
    # Every model of the catalogue. Leaves and five-day means have forgotten within fifteen days how they began, and of
    # soil that is told from air from sixty days back 8 °C of doubt are 8·0.75⁶⁰ = 3e-7 °C: the answers are equal, not
    # near.
    passed = dict.fromkeys(MODELS, 0)
    for date in ("2002-03-12", "2002-05-03", "2002-06-21", "2002-08-14", "2002-08-30", "2002-10-05", "2002-11-02"):
        first_day = _day(date)
        told = _ahead(place, readings, first_day, last_known_hour).passed(
            MODELS.values(), first_day, DAYS, OFFSET_MINUTES
        )
        for key, model in MODELS.items():
            wanted = _said_of_it(model, place, first_day)
            assert told[key].shape == (DAYS, 3)
            for member in range(3):
                assert np.array_equal(told[key][:, member], wanted, equal_nan=True), (key, date)
            passed[key] += int(np.nansum(wanted))
    # That would be easily said if none ever passed.
    assert all(passed[key] > 10 for key in (WET, *SOIL, "smith_2018", "pfender_2003", "large_patch_spring"))


def test_answers_of_the_air_follow_the_day_and_not_the_one_beside_it(place: Panel, readings: Panel) -> None:
    first_day = _day("2002-07-02")
    told = _ahead(place, readings, first_day, 24).passed([HALF_WET], first_day, DAYS, OFFSET_MINUTES)[HALF_WET.key][
        :, 0
    ]
    # By plain sums: the day to 06:00 standard time holds the stamps from 13:00 UTC of the day before to 12:00 UTC.
    worked = []
    for day in range(first_day, first_day + DAYS):
        end = np.datetime64(day, "D").astype("datetime64[h]") + np.timedelta64(12, "h")
        row = int((end - readings.hours[0]).astype(int))
        hours = slice(row - 23, row + 1)
        humidity = sum(readings.values["relative_humidity_pct"][hours, 0].tolist()) / 24
        lowest = min(*readings.values[T][hours, 0].tolist(), 1.4 / (2 * 0.033))
        index = -21.5 + 0.15 * humidity + 1.4 * lowest - 0.033 * lowest**2
        worked.append(float(index >= 4.0))
    assert told.tolist() == worked
    assert 2 < sum(worked) < DAYS - 2
    assert worked[1:] != worked[:-1]


@pytest.mark.parametrize("off_c", [(2.5, -1.5), (0.0, 0.0), (-4.0, 3.0)])
def test_soil_goes_on_at_its_sensors_level(readings: Panel, off_c: tuple[float, float]) -> None:
    # A sensor that stands a steady figure off what the air tells, all along: then every hour ahead is what it will
    # read, the first of them as well, so that there is no jump, and what is said ahead is what will be said.
    told = place_hours(readings, WHERE)
    values = dict(readings.values)
    for name, off in zip(("soil_temperature_5cm_c", "soil_temperature_10cm_c"), off_c, strict=True):
        values[name] = told.values[name] + off
    place = place_hours(observed(readings.hours, readings.series, values), WHERE)
    for date in ("2002-04-20", "2002-08-30", "2002-10-05"):
        first_day = _day(date)
        future = _true_future(readings, first_day, 5)
        last = last_stamp(first_day, OFFSET_MINUTES, 5)
        ahead = PlaceAhead(_known_until(place, last), future, STAND)
        for name in ("soil_temperature_5cm_c", "soil_temperature_10cm_c"):
            soil = ahead.place.values[name][:, 0, 1]
            first = int((ahead.place.hours[0] - place.hours[0]).astype(int))
            assert np.allclose(soil, place.values[name][first : first + len(soil), 0], rtol=0, atol=1e-4)
        told_ahead = StandAhead(ahead, STAND).passed([MODELS[key] for key in SOIL], first_day, DAYS, OFFSET_MINUTES)
        for key in SOIL:
            assert np.array_equal(told_ahead[key][:, 2], _said_of_it(MODELS[key], place, first_day), equal_nan=True)


def test_a_sensors_level_is_that_of_its_last_five_days(readings: Panel) -> None:
    # Off by 3 °C until six days before the last reading, by 1 °C since: it goes on with 1.
    told = place_hours(readings, WHERE)
    first_day = _day("2002-09-10")
    last = last_stamp(first_day, OFFSET_MINUTES, 24)
    off = np.where(readings.hours <= last - np.timedelta64(6 * 24, "h"), 3.0, 1.0)[:, None]
    values = {**readings.values, "soil_temperature_5cm_c": told.values["soil_temperature_5cm_c"] + off}
    place = place_hours(observed(readings.hours, readings.series, values), WHERE)
    ahead = PlaceAhead(_known_until(place, last), _true_future(readings, first_day, 24), STAND).place
    later = ahead.hours > last
    rows = (told.hours > last) & (told.hours <= ahead.hours[-1])
    apart = ahead.values["soil_temperature_5cm_c"][later, 0, 0] - told.values["soil_temperature_5cm_c"][rows, 0]
    assert apart == pytest.approx(1.0, abs=1e-4)


def test_what_lies_after_the_last_reading_is_not_read(place: Panel, readings: Panel) -> None:
    first_day = _day("2002-09-20")
    last = last_stamp(first_day, OFFSET_MINUTES, 5)
    future = _true_future(readings, first_day, 5)
    chance = np.random.default_rng(42)
    wild = {
        name: np.where((place.hours > last)[:, None], chance.uniform(0, 1, array.shape), array)
        for name, array in place.values.items()
    }
    other = Panel(place.hours, place.series, wild, place.flags, place.origin)
    one, two = (
        StandAhead(PlaceAhead(panel, future, STAND), STAND).passed(MODELS.values(), first_day, DAYS, OFFSET_MINUTES)
        for panel in (place, other)
    )
    for key, told in one.items():
        assert np.array_equal(told, two[key], equal_nan=True)


def test_members_do_not_mix(place: Panel, readings: Panel) -> None:
    # The true future, a warm and damp one, and one that is not known: each has its own answers.
    first_day = _day("2002-07-02")
    future = _true_future(readings, first_day, 24, members=3)
    values = {name: array.copy() for name, array in future.values.items()}
    for name, figure in ((T, 22.0), (TD, 21.8), ("relative_humidity_pct", 98.8)):
        values[name][:, :, 1] = figure
        values[name][:, :, 2] = NAN
    mixed = replace(future, values=values)
    models = [HALF_WET, MODELS[WET], MODELS[SOIL[0]]]

    def told_of(one: Fortnight) -> dict[str, Floats]:
        return StandAhead(PlaceAhead(place, one, STAND), STAND).passed(models, first_day, DAYS, OFFSET_MINUTES)

    told = told_of(mixed)
    for member in range(3):
        by_itself = {name: array[:, :, member : member + 1] for name, array in values.items()}
        alone = told_of(replace(mixed, values=by_itself, year=mixed.year[:, :1]))
        for model in models:
            assert np.array_equal(told[model.key][:, member], alone[model.key][:, 0], equal_nan=True)
    # −21.5 + 0.15·98.8 + 1.4²/(4·0.033) = 8.2 in the warm one.
    assert (told[AIR][2:, 1] == 1).all()
    assert (told[AIR][:, 0] != told[AIR][:, 1]).any()
    assert np.isnan(told[AIR][:, 2]).tolist() == [False] + [True] * (DAYS - 1)  # the first day to 06:00 was all read


def test_a_model_reads_the_wetness_that_its_paper_used(place: Panel, readings: Panel) -> None:
    first_day = _day("2002-07-02")
    told = {}
    for method in ("humidity_threshold", "dew_point_depression"):
        model = replace(MODELS[WET], key=method, wetness=method)
        told[method] = _ahead(place, readings, first_day, 5).passed([model], first_day, DAYS, OFFSET_MINUTES)[method][
            :, 0
        ]
        assert np.array_equal(told[method], _said_of_it(model, place, first_day))
    assert (told["humidity_threshold"] != told["dew_point_depression"]).any()


def test_answers_are_those_that_models_will_give(place: Panel, readings: Panel) -> None:
    first_day = _day("2002-07-02")
    told = _ahead(place, readings, first_day, 24).answers([MODELS[AIR]], first_day, DAYS, OFFSET_MINUTES)[AIR]
    found = pressure(MODELS[AIR], place, OFFSET_MINUTES)
    row = found.row(first_day)
    assert row is not None
    assert told == pytest.approx(np.repeat(found.answer[row : row + DAYS], 3, axis=1), abs=1e-9)


def test_days_that_the_hours_do_not_reach_are_unknown(place: Panel, readings: Panel) -> None:
    first_day = _day("2002-07-02")
    stand_ahead = _ahead(place, readings, first_day, 24)
    told = stand_ahead.passed([HALF_WET, MODELS[WET]], first_day + DAYS - 2, 6, OFFSET_MINUTES)
    # Hours end with the last day's midnight: of the next day, which begins at 06:00 or noon before, too few are known.
    assert np.isnan(told[AIR][:, 0]).tolist() == [False, False, True, True, True, True]
    assert np.isnan(told[WET][:, 0]).tolist() == [False, False, True, True, True, True]
    before = stand_ahead.passed([HALF_WET], first_day - 40, 3, OFFSET_MINUTES)[AIR]
    assert np.isnan(before).all()


def test_a_record_that_began_last_week_is_read_as_far_as_it_goes(place: Panel, readings: Panel) -> None:
    first_day = _day("2002-10-05")
    last = last_stamp(first_day, OFFSET_MINUTES, 24)
    young = place.between(last - np.timedelta64(7 * 24 - 1, "h"), last)
    stand_ahead = StandAhead(PlaceAhead(young, _true_future(readings, first_day, 24), STAND), STAND)
    told = stand_ahead.passed(MODELS.values(), first_day, DAYS, OFFSET_MINUTES)
    assert np.array_equal(told[AIR][:, 0], _said_of_it(MODELS[AIR], place, first_day))
    for key in SOIL:  # sixty days back nothing was read
        assert np.isnan(told[key]).all()


def test_a_station_without_rain_cloud_or_wind_is_read_too(readings: Panel) -> None:
    bare = place_hours(readings.keeping((T, TD, "relative_humidity_pct")), WHERE)
    first_day = _day("2002-07-02")
    stand = replace(STAND, wetness="dew_point_depression")
    future = _true_future(bare, first_day, 24)
    told = StandAhead(PlaceAhead(bare, future, stand), stand).passed(MODELS.values(), first_day, DAYS, OFFSET_MINUTES)
    for key, model in MODELS.items():
        assert np.array_equal(told[key][:, 0], _said_of_it(model, bare, first_day, stand), equal_nan=True)
    assert not np.isnan(told[WET]).any()


def test_snow_and_frost_go_on_as_they_will() -> None:
    cold = record(Climate(mean_c=1.0), stamps("2001-01-01T00", "2002-12-31T23"), 43).panel()
    lies = np.convolve(cold.values[T][:, 0], np.ones(240) / 240, "same") < -2
    snow = np.where(lies, 50.0, 0.0)[:, None]
    snowy = observed(cold.hours, cold.series, {**cold.values, "snow_depth_mm": snow})
    place = place_hours(snowy, WHERE)
    passed = 0.0
    for date in ("2002-01-20", "2002-02-25", "2002-03-15", "2002-11-28"):
        first_day = _day(date)
        told = _ahead(place, snowy, first_day, 5).passed(MODELS.values(), first_day, DAYS, OFFSET_MINUTES)
        for key, model in MODELS.items():
            assert np.array_equal(told[key][:, 0], _said_of_it(model, place, first_day), equal_nan=True), (key, date)
        passed += float(np.nansum(told["gray_snow_mold_cover"]))
    assert passed > 0


def test_holes_in_recent_readings_leave_what_will_be_left_unknown_and_no_more(readings: Panel) -> None:
    chance = np.random.default_rng(44)
    holes = np.zeros(len(readings.hours), dtype=bool)
    for first in chance.integers(0, len(holes), 70):
        holes[first : first + int(chance.integers(1, 40))] = True
    unknown = 0
    for date in ("2002-04-08", "2002-06-21", "2002-08-30", "2002-10-05"):
        first_day = _day(date)
        last = last_stamp(first_day, OFFSET_MINUTES, 5)
        holed = holes & (readings.hours < last)
        values = {
            name: np.where(holed[:, None], NAN, array) if name in (T, TD, "relative_humidity_pct") else array
            for name, array in readings.values.items()
        }
        place = place_hours(observed(readings.hours, readings.series, values), WHERE)
        told = _ahead(place, readings, first_day, 5).passed(MODELS.values(), first_day, DAYS, OFFSET_MINUTES)
        for key, model in MODELS.items():
            wanted = _said_of_it(model, place, first_day)
            assert np.array_equal(told[key][:, 0], wanted, equal_nan=True), (key, date)
            unknown += int(np.isnan(wanted).sum())
    assert unknown > 0
