"""Records of any step brought to hours: which hour takes a record, and when an hour stays unknown."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecast.ingest.logger.hourly import (
    STEPS_MINUTES,
    Hourly,
    Moments,
    Way,
    crowded,
    default_way,
    hour_of,
    long_step_of,
    step_of,
    to_hours,
)
from forecast.physics import humidity
from forecast.quantities import READABLE

FIRST = np.datetime64("2050-07-18T06:00", "s")


def moments(minutes: list[float] | range) -> Moments:
    """Moments so many minutes after 06:00Z."""
    return FIRST + np.array([round(60 * minute) for minute in minutes]).astype("timedelta64[s]")


def reduced(
    name: str, values: list[float], step: int, *, way: Way | None = None, minutes: list[float] | None = None
) -> Hourly:
    """Records of one quantity from 06:00 on, each stamped at its end, as hours."""
    at = moments(minutes or [step * (row + 1) for row in range(len(values))])
    how = {name: way or default_way(name)}
    return to_hours(at, {name: np.array(values, float)}, how, step_minutes=step, label_is_end=True)


def figures(name: str, values: list[float], step: int, **how: object) -> list[float]:
    hourly = reduced(name, values, step, **how)  # type: ignore[arg-type]
    return [float(figure) for figure in hourly.values[name]]


# Which hour


@pytest.mark.parametrize(
    ("stamp", "step", "hour"),
    [
        ("07:00:00", 15, "07"),  # 06:45 to 07:00
        ("07:15:00", 15, "08"),
        ("07:00:03", 15, "07"),  # a few seconds late
        ("06:59:57", 15, "07"),  # and early
        ("07:05:00", 15, "07"),  # 06:50 to 07:05: its middle is 06:57:30
        ("07:00:00", 60, "07"),
        ("06:55:00", 60, "07"),  # 05:55 to 06:55
        ("07:05:00", 60, "07"),
        ("07:30:00", 60, "07"),  # covers both alike: the earlier, whose stamp is not after the record's
        ("07:31:00", 60, "08"),
        ("07:01:00", 1, "08"),
    ],
)
def test_a_record_belongs_to_the_hour_that_holds_its_middle(stamp: str, step: int, hour: str) -> None:
    ends = np.array([f"2050-07-18T{stamp}"], "datetime64[s]")
    assert str(hour_of(ends, step)[0]) == f"2050-07-18T{hour}"


@given(st.sampled_from(STEPS_MINUTES), st.integers(-(10**9), 10**9))
def test_every_hour_has_as_many_whole_records_as_its_step_says(step: int, hour: int) -> None:
    ends = np.datetime64(hour * 3600, "s") + (np.arange(60 // step) + 1).astype("timedelta64[s]") * (60 * step)
    assert hour_of(ends, step).astype(np.int64).tolist() == [hour + 1] * (60 // step)


# The step


@pytest.mark.parametrize("step", STEPS_MINUTES)
def test_a_step_is_found_in_spite_of_holes_and_seconds(step: int) -> None:
    chance = np.random.default_rng(20500718)
    rows = np.flatnonzero(chance.random(400) > 0.1)
    late_s = chance.integers(-2, 3, len(rows))
    at = FIRST + (rows * step * 60 + late_s).astype("timedelta64[s]")
    assert step_of(at) == step


@pytest.mark.parametrize(
    ("minutes", "step"),
    [
        ([0.0], 60),
        ([0.0, 180.0, 400.0], 60),  # hours with holes
        ([0.0, 30.0, 0.0, 30.0, 60.0], 30),  # clocks put back, before they are brought to UTC
        ([0.0, 7.0, 14.0, 21.0], None),  # no hour holds sevens
        ([0.0, 0.2, 0.4, 0.6], None),  # less than a minute
        ([0.0, 1.0, 5.0, 11.0, 13.0, 30.0, 31.0, 50.0], None),  # as it comes: two gaps of seven are of one minute
    ],
)
def test_what_is_no_step_is_none(minutes: list[float], step: int | None) -> None:
    assert step_of(moments(minutes)) == step


def test_a_step_of_several_hours_is_seen_in_many_records_only() -> None:
    assert long_step_of(moments([180.0 * row for row in range(30)])) == 180
    assert long_step_of(moments([180.0 * row for row in range(10)])) is None
    assert long_step_of(moments([60.0 * row for row in range(30)])) is None


def test_more_records_than_an_hour_holds_are_seen() -> None:
    fours = moments([15.0 * row for row in range(1, 9)])
    assert crowded(fours, 15).size == 0
    assert crowded(moments([10.0 * row for row in range(1, 7)]), 15).tolist() == [5]  # four, one by a fast clock, then
    assert crowded(moments([60.0, 75.0]), 60).tolist() == [1]


# Means


def test_a_mean_needs_three_quarters_of_its_records() -> None:
    nan = math.nan
    assert figures("air_temperature_c", [20, 21, 22, 25], 15) == [22]
    assert figures("air_temperature_c", [20, 21, 22, nan], 15) == [21]
    assert figures("air_temperature_c", [20, 21, 22], 15) == [21]  # the last is not there at all
    np.testing.assert_array_equal(figures("air_temperature_c", [20, nan, 22, nan], 15), [nan])
    assert figures("air_temperature_c", [20, 24], 30) == [22]
    np.testing.assert_array_equal(figures("air_temperature_c", [20, nan], 30), [nan])
    assert figures("air_temperature_c", [20.0] * 9 + [nan] * 3, 5) == [20]
    np.testing.assert_array_equal(figures("air_temperature_c", [20.0] * 8 + [nan] * 4, 5), [nan])


def test_too_few_records_are_told_by_quantity() -> None:
    (notice,) = reduced("air_temperature_c", [20, math.nan, 22, math.nan, 20, 20, 20, 20], 15).notices
    assert (notice.quantity, notice.text) == (
        "air_temperature_c",
        "air_temperature_c is unknown in 1 of 2 h: an hour needs 75 % of its records",
    )


def test_one_record_an_hour_stays_as_it_is_to_the_last_bit() -> None:
    values = [0.1 + 0.2, 1 / 3, -7.3]
    assert figures("air_temperature_c", values, 60) == values
    assert figures("dew_point_c", values, 60) == values
    assert reduced("air_temperature_c", [999.0], 60).values["air_temperature_c"].tolist() == [
        999
    ]  # for quality control


def test_a_reading_that_cannot_be_does_not_hide_in_a_mean() -> None:
    hourly = reduced("air_temperature_c", [20, 21, -99.9, 22], 15)
    assert hourly.values["air_temperature_c"].tolist() == [21]
    assert hourly.notices[0].text == "1 records of air_temperature_c lie outside -80 to 60 °C and count as missing"


def test_the_share_of_an_hour_wet_is_the_mean_of_its_records_and_an_unknown_one_is_not_dry() -> None:
    nan = math.nan
    # Quarters wet, wet, dry and half: 2.5 of 4. With the last unknown, 2 of 3 and not 2 of 4; with two, nothing.
    assert figures("leaf_wet_fraction", [1, 1, 0, 0.5], 15) == [0.625]
    assert figures("leaf_wet_fraction", [1, 1, 0, nan], 15) == pytest.approx([2 / 3])
    np.testing.assert_array_equal(figures("leaf_wet_fraction", [1, 1, nan, nan], 15), [nan])
    assert reduced("leaf_wet_fraction", [1, 1.5, 0, 0.5], 15).values["leaf_wet_fraction"].tolist() == [0.5]


def test_soil_and_snow_are_means_and_what_cannot_be_does_not_hide_in_them() -> None:
    assert figures("soil_temperature_10cm_c", [18.0, 18.5, 19.0, 18.5], 15) == [18.5]
    assert figures("soil_temperature_5cm_c", [18.0, 99.9, 19.0, 18.5], 15) == [18.5]
    assert figures("snow_depth_mm", [100, 110, 20_000, 120], 15) == [110]


# Humidity


def both(temperature: list[float], relative: list[float], step: int) -> Hourly:
    values = {"air_temperature_c": np.array(temperature), "relative_humidity_pct": np.array(relative)}
    ways: dict[str, Way] = dict.fromkeys(values, "mean")
    at = moments([step * (row + 1.0) for row in range(len(temperature))])
    return to_hours(at, values, ways, step_minutes=step, label_is_end=True)


def test_humidity_is_averaged_as_vapour_pressure() -> None:
    # FAO-56 Table 2.3 (from memory): 1.705 kPa at 15 °C, 3.168 kPa at 25 °C and 2.338 kPa at 20 °C when saturated.
    # 90 % at 15 °C is 1.5345 kPa, 50 % at 25 °C is 1.584 kPa: mean 1.5593 kPa, which at the mean of 20 °C is 66.7 %.
    hourly = both([15, 25], [90, 50], 30)
    assert hourly.values["air_temperature_c"].tolist() == [20]
    assert hourly.values["relative_humidity_pct"][0] == pytest.approx(66.7, abs=0.05)  # not (90 + 50) / 2 = 70
    assert hourly.notices == ()


def test_the_mean_of_dew_points_is_that_of_their_vapour_pressure() -> None:
    found = figures("dew_point_c", [10.0, 20.0], 30)[0]
    # FAO-56 eq. 11: 0.6108 exp(17.27 · 10 / 247.3) = 1.2280 kPa, 0.6108 exp(17.27 · 20 / 257.3) = 2.3383 kPa; mean
    # 1.78315 kPa. ln(1.78315 / 0.6108) = 1.07137, and 237.3 · 1.07137 / (17.27 − 1.07137) = 15.695 °C, not 15.
    assert found == pytest.approx(15.695, abs=0.001)


@given(
    st.lists(st.tuples(st.floats(-40, 50), st.floats(1, 100)), min_size=4, max_size=4),
)
def test_mean_humidity_lies_between_its_readings_and_keeps_the_vapour(readings: list[tuple[float, float]]) -> None:
    temperature, relative = (list(column) for column in zip(*readings, strict=True))
    hourly = both(temperature, relative, 15)
    found = hourly.values["relative_humidity_pct"][0]
    assert found <= max(relative) + 1e-9
    pressure = np.mean(humidity.vapour_pressure_hpa(np.array(temperature), np.array(relative)))
    kept = humidity.vapour_pressure_hpa(np.array([np.mean(temperature)]), np.array([found]))[0]
    assert kept == pytest.approx(pressure, rel=1e-9) or found == pytest.approx(max(relative))


def test_a_saturated_hour_is_saturated_and_no_more() -> None:
    assert both([10, 20], [100, 100], 30).values["relative_humidity_pct"].tolist() == [100]


def test_humidity_without_temperature_is_averaged_as_it_is_and_told() -> None:
    hourly = both([20, 20, 20, 20, math.nan, math.nan, 20, 20], [90, 92, 94, 96] * 2, 15)
    assert hourly.values["relative_humidity_pct"].tolist() == pytest.approx([93, 93])
    assert [notice.text for notice in hourly.notices if notice.quantity == "relative_humidity_pct"] == [
        "1 h of humidity averaged as relative humidity, since no temperature stands beside it"
    ]


# Amounts, highest, instants


def test_rain_is_summed_and_an_hour_with_a_missing_record_is_unknown() -> None:
    nan = math.nan
    assert figures("rain_mm", [0.25, 0.0, 0.5, 0.25], 15) == [1.0]
    np.testing.assert_array_equal(figures("rain_mm", [0.25, nan, 0.5, 0.25], 15), [nan])
    np.testing.assert_array_equal(figures("rain_mm", [0.25, 0.5, 0.25], 15, minutes=[15, 45, 60]), [nan])
    np.testing.assert_array_equal(figures("rain_mm", [0.0, 0.0, -0.1, 0.0], 15), [nan])


def test_the_highest_gust_needs_three_quarters_of_its_records() -> None:
    nan = math.nan
    assert figures("wind_gust_10m_m_s", [3, 9, nan, 5], 15) == [9]
    np.testing.assert_array_equal(figures("wind_gust_10m_m_s", [3, 9, nan, nan], 15), [nan])


def test_an_instant_is_the_reading_at_the_stamp() -> None:
    nan = math.nan
    assert figures("air_temperature_c", [20, 21, 22, 25], 15, way="instant") == [25]
    np.testing.assert_array_equal(figures("air_temperature_c", [20, 21, 22, nan], 15, way="instant"), [nan])
    np.testing.assert_array_equal(figures("air_temperature_c", [20, 21, 22], 15, way="instant"), [nan])
    assert figures("air_temperature_c", [20, 25], 15, way="instant", minutes=[45, 60.1]) == [25]  # six seconds late


def test_an_instant_belongs_to_its_stamp_whichever_end_stamps_name() -> None:
    at = moments([0.0, 15, 30, 45, 60])
    values = {"air_temperature_c": np.array([20.0, 21, 22, 23, 24]), "rain_mm": np.array([0.0, 1, 2, 4, 8])}
    ways: dict[str, Way] = {"air_temperature_c": "instant", "rain_mm": "sum"}
    hourly = to_hours(at, values, ways, step_minutes=15, label_is_end=False)
    assert [str(hour)[-2:] for hour in hourly.hours] == ["06", "07", "08"]
    np.testing.assert_array_equal(hourly.values["air_temperature_c"], [20, 24, np.nan])
    np.testing.assert_array_equal(hourly.values["rain_mm"], [np.nan, 0 + 1 + 2 + 4, np.nan])


# Counters


def counter(values: list[float], step: int = 15, minutes: list[float] | None = None) -> Hourly:
    return reduced("rain_mm", values, step, way="cumulative", minutes=minutes)


def rain(hourly: Hourly) -> list[float]:
    return [float(figure) for figure in hourly.values["rain_mm"]]


def test_a_counters_first_hour_is_unknown_unless_a_reading_stands_before_it() -> None:
    # From 06:15: the rain up to the first reading is unknown.
    np.testing.assert_array_equal(rain(counter([1, 2, 3, 4, 4, 4, 5, 8])), [math.nan, 8 - 4])
    # From 06:00: that reading lies in the hour before.
    minutes = [0.0, 15, 30, 45, 60]
    np.testing.assert_array_equal(rain(counter([1, 2, 3, 4, 6], minutes=minutes)), [math.nan, 6 - 1])


def test_a_counter_bridges_a_hole_within_an_hour_and_none_between_hours() -> None:
    at = [0.0, 15, 60, 75, 90, 105, 120]
    np.testing.assert_array_equal(rain(counter([1, 2, 6, 6, 6, 6, 9], minutes=at)), [math.nan, 5, 3])
    over = [0.0, 15, 30, 45, 75, 90, 105, 120, 135, 150, 165, 180]  # 07:00 is missing
    np.testing.assert_array_equal(
        rain(counter([1, 1, 1, 1, 3, 3, 3, 3, 4, 4, 4, 4], minutes=over)), [math.nan, math.nan, math.nan, 1]
    )


def test_a_counter_read_once_an_hour() -> None:
    at = [0.0, 60, 120, 240, 300]
    # The hour to 10:00 has no reading at its start; the fall to 0.5 is a new start.
    np.testing.assert_array_equal(rain(counter([1, 3, 3, 9, 0.5], 60, at)), [math.nan, 2, 0, math.nan, 0.5])


def test_a_counter_that_starts_anew_or_rolls_over_gives_its_new_reading() -> None:
    hourly = counter([99.0, 99.5, 0.5, 1.0, 1.0], minutes=[0.0, 15, 30, 45, 60])
    # 0.5 up to the fall, 0.5 as the new reading, 0.5, 0.
    np.testing.assert_array_equal(rain(hourly), [math.nan, 0.5 + 0.5 + 0.5 + 0])
    assert hourly.notices[0].text == (
        "the counter of rain_mm fell back 1 times and was taken to start from 0 again, or to roll over"
    )


@pytest.mark.parametrize(
    ("values", "minutes"),
    [
        ([12.4, 12.3, 12.3, 12.3, 12.3], [0.0, 15, 30, 45, 60]),  # by a hundredth: corrected, and 12.3 mm did not fall
        ([12.4, 12.4, 0.2, 0.2], [0.0, 15, 45, 60]),  # across a hole: what fell before the new start is unknown
    ],
)
def test_a_doubtful_fall_of_a_counter_is_unknown(values: list[float], minutes: list[float]) -> None:
    hourly = counter(values, minutes=minutes)
    assert np.isnan(rain(hourly)).all()
    assert "fell 1 times by a little or across a gap" in hourly.notices[0].text


@given(st.lists(st.integers(0, 40), min_size=24, max_size=24), st.integers(0, 23))
def test_a_counter_and_its_amounts_give_the_same_hours(tips: list[int], reset: int) -> None:
    # A gauge of 0.25 mm, read every 15 min with a reading before the first; it starts anew after one of its records.
    amounts = np.array(tips) * 0.25
    readings, total = [1000.0], 1000.0
    for row, amount in enumerate(amounts):
        total = amount if row == reset else total + amount
        readings.append(total)
    at = [15.0 * row for row in range(25)]
    from_counter = rain(counter(readings, minutes=at))[1:]
    from_amounts = figures("rain_mm", amounts.tolist(), 15)
    np.testing.assert_allclose(from_counter, from_amounts, rtol=0, atol=1e-9)


# All together


def test_every_quantity_has_a_way() -> None:
    assert {name: default_way(name) for name in READABLE if default_way(name) != "mean"} == {
        "rain_mm": "sum",
        "wind_gust_10m_m_s": "max",
    }


@given(st.sampled_from(STEPS_MINUTES), st.data())
def test_hours_lie_within_their_records_and_nothing_is_made_up(step: int, data: st.DataObject) -> None:
    rows = data.draw(st.lists(st.integers(0, 240), min_size=1, max_size=80, unique=True).map(sorted))
    values = np.array(
        data.draw(st.lists(st.floats(-30, 40) | st.just(math.nan), min_size=len(rows), max_size=len(rows)))
    )
    at = moments([step * (row + 1.0) for row in rows])
    hourly = to_hours(
        at, {"air_temperature_c": values}, {"air_temperature_c": "mean"}, step_minutes=step, label_is_end=True
    )
    belongs = hour_of(at, step)
    for hour, figure in zip(hourly.hours, hourly.values["air_temperature_c"], strict=True):
        here = values[belongs == hour]
        known = here[~np.isnan(here)]
        assert math.isnan(figure) == (known.size < 0.75 * 60 / step)
        if not math.isnan(figure):
            assert known.min() - 1e-9 <= figure <= known.max() + 1e-9
