"""The ways on from the last reading: other days' own changes, and nothing read from beyond it."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import unhurried

from forecast.air import complete_humidity
from forecast.outlook.running_day import Continuation, last_known_row, ways_on
from forecast.panel import Floats, Panel, observed

NAN = math.nan
FIRST = np.datetime64("2031-06-01T00", "h")


def _after(hours: int) -> np.datetime64:
    """The stamp some hours after the first."""
    return FIRST + np.timedelta64(hours, "h")


def _panel(**columns: Floats) -> Panel:
    """One or more series from the first hour on, dew point completed to humidity."""
    hours = FIRST + np.arange(len(columns["air_temperature_c"]))
    shaped = {name: column if column.ndim == 2 else column[:, None] for name, column in columns.items()}
    series = ("alder", "birch", "cedar")[: shaped["air_temperature_c"].shape[1]]
    return complete_humidity(observed(hours, series, shaped))


def _ways(panel: Panel, hours_ahead: int, column: int = 0) -> Continuation:
    row = last_known_row(panel, column)
    assert row is not None
    found = ways_on(panel, column, panel.hours[row] + np.timedelta64(hours_ahead, "h"))
    assert found is not None
    return found


def _uneven(days: int, seed: int, series: int = 1) -> dict[str, Floats]:
    """Days that differ from each other: a daily wave, a level of its own a day, rain now and then."""
    rng = np.random.default_rng(seed)
    hour = np.arange(days * 24)[:, None]
    level = np.repeat(rng.normal(0, 3, (days, series)), 24, axis=0)
    temperature = 20 + 6 * np.sin(hour * 2 * np.pi / 24) + level + rng.normal(0, 0.5, level.shape)
    return {
        "air_temperature_c": temperature,
        "dew_point_c": temperature - rng.uniform(0, 6, level.shape),
        "rain_mm": np.where(rng.random(level.shape) < 0.1, 2.0, 0.0),
    }


def test_each_way_goes_on_from_the_last_reading_with_another_days_own_changes() -> None:
    # Three days; the last reading is the sixth of the fourth. Yesterday at the same hour 15 °C, then 17 and 14;
    # the day before 10 °C, then 10 and 11; the day before that 12 °C, then 13 and 16.
    temperature = np.full(78, 20.0)
    dew_point = np.full(78, 5.0)
    for start, changes in ((5, (12.0, 13.0, 16.0)), (29, (10.0, 10.0, 11.0)), (53, (15.0, 17.0, 14.0))):
        temperature[start : start + 3] = changes
    for start, changes in ((5, (5.0, 6.0, 7.0)), (29, (5.0, 4.0, 3.0)), (53, (5.0, 5.5, 4.5))):
        dew_point[start : start + 3] = changes
    found = _ways(_panel(air_temperature_c=temperature, dew_point_c=dew_point), 2)
    last = found.panel.values["air_temperature_c"][-3:, 0]
    # 20 °C read last; ways from the nearest day to the farthest.
    assert found.last_known == _after(77)
    assert last.tolist() == [[20, 20, 20], [22, 20, 21], [19, 21, 24]]
    assert found.panel.values["dew_point_c"][-3:, 0].tolist() == [[5, 5, 5], [5.5, 4, 6], [4.5, 3, 7]]


def test_days_that_are_all_alike_go_on_exactly_as_they_must() -> None:
    hour = np.arange(20 * 24)
    temperature = 20 + 6 * np.sin(hour * 2 * np.pi / 24)
    dew_point = 12 + np.cos(hour * 2 * np.pi / 24)
    panel = _panel(air_temperature_c=temperature, dew_point_c=dew_point, rain_mm=np.where(hour % 24 == 3, 1.0, 0.0))
    cut = panel.between(FIRST, _after(18 * 24 + 5))
    found = _ways(cut, 18).panel
    truth = panel.between(found.hours[0], found.hours[-1])
    for name, known in truth.values.items():
        ways = found.values[name]
        assert ways.shape[2] == 10  # the ten days before, no past year
        # 1e-9 of each unit: a few additions of binary fractions.
        np.testing.assert_allclose(ways, np.repeat(known[:, :, None], 10, axis=2), rtol=0, atol=1e-9, err_msg=name)


def test_the_hours_already_read_stay_as_they_were() -> None:
    panel = _panel(**_uneven(12, seed=1))
    found = _ways(panel, 10).panel
    read = panel.between(found.hours[0], panel.hours[-1])
    for name, known in read.values.items():
        ways = found.values[name][: len(read.hours)]
        np.testing.assert_allclose(ways, np.broadcast_to(known[:, :, None], ways.shape), rtol=0, atol=1e-12)
    assert len(read.hours) == 6 * 24 + 1  # six days back, and the last reading
    assert found.hours[-1] == panel.hours[-1] + np.timedelta64(10, "h")


def test_rain_is_taken_over_from_the_remembered_day() -> None:
    temperature, dew_point, rain = np.full(54, 20.0), np.full(54, 10.0), np.zeros(54)
    rain[[29, 30, 31]] = (9.0, 1.0, 2.0)  # at the hour of the last reading, and the two after, a day before
    rain[53] = 0.5  # what was read last stays
    found = _ways(_panel(air_temperature_c=temperature, dew_point_c=dew_point, rain_mm=rain), 2)
    assert found.panel.values["rain_mm"][-3:, 0].tolist() == [[0.5, 0.5], [1.0, 0.0], [2.0, 0.0]]


def test_soil_goes_on_by_its_own_changes_and_wind_and_sky_as_they_were() -> None:
    # As above: the last reading is the sixth of the fourth day, and its ways are those of the three days before.
    temperature, soil = np.full(78, 20.0), np.full(78, 18.0)
    wind, cloud, sun, snow = (np.full(78, figure) for figure in (2.0, 0.5, 100.0, 0.0))
    for day, start in enumerate((53, 29, 5), start=1):
        soil[start : start + 3] = (15 + day, 15 + 2 * day, 15 + 3 * day)
        wind[start : start + 3], cloud[start : start + 3] = (9, day, day + 1), (0.9, day / 10, day / 5)
        sun[start : start + 3], snow[start : start + 3] = (7, 10 * day, 20 * day), (3, day, 2 * day)
    panel = _panel(
        air_temperature_c=temperature,
        dew_point_c=temperature - 5,
        soil_temperature_5cm_c=soil,
        wind_speed_10m_m_s=wind,
        cloud_cover_fraction=cloud,
        shortwave_down_w_m2=sun,
        snow_depth_mm=snow,
    )
    ahead = _ways(panel, 2).panel.values
    # 18 °C last; each day's soil rose by its own number an hour.
    assert ahead["soil_temperature_5cm_c"][-3:, 0].tolist() == [[18, 18, 18], [19, 20, 21], [20, 22, 24]]
    assert ahead["wind_speed_10m_m_s"][-3:, 0].tolist() == [[2, 2, 2], [1, 2, 3], [2, 3, 4]]
    assert ahead["cloud_cover_fraction"][-2:, 0].tolist() == [[0.1, 0.2, 0.3], [0.2, 0.4, 0.6]]
    assert ahead["shortwave_down_w_m2"][-2:, 0].tolist() == [[10, 20, 30], [20, 40, 60]]
    assert ahead["snow_depth_mm"][-2:, 0].tolist() == [[1, 2, 3], [2, 4, 6]]


def test_a_longer_look_back_keeps_more_hours_and_the_same_ways() -> None:
    panel = _panel(**_uneven(40, seed=4))
    row = last_known_row(panel, 0)
    assert row is not None
    until = panel.hours[row] + np.timedelta64(3, "h")
    short, long = ways_on(panel, 0, until), ways_on(panel, 0, until, 24 * 30)
    assert short is not None
    assert long is not None
    assert len(long.panel.hours) - len(short.panel.hours) == 24 * 30 - 24 * 6
    for name, array in short.panel.values.items():
        np.testing.assert_array_equal(long.panel.values[name][-len(array) :], array)


def test_a_series_without_a_gauge_has_no_rain_ahead() -> None:
    found = _ways(_panel(air_temperature_c=np.full(54, 20.0), dew_point_c=np.full(54, 10.0)), 2)
    assert "rain_mm" not in found.panel.values
    assert found.panel.hours[0] == FIRST  # and a short record is taken whole


@unhurried
@given(st.integers(0, 10_000), st.integers(1, 36))
def test_dew_point_never_passes_temperature_and_humidity_fits_both(seed: int, hours_ahead: int) -> None:
    found = _ways(_panel(**_uneven(8, seed)), hours_ahead).panel.values
    ahead = slice(-hours_ahead, None)
    assert (found["dew_point_c"][ahead] <= found["air_temperature_c"][ahead]).all()
    # FAO-56, eq. 11: 100 e(dew point)/e(temperature), with e(t) = 6.108 exp(17.27 t/(t + 237.3)).
    exponents = [17.27 * found[name] / (found[name] + 237.3) for name in ("dew_point_c", "air_temperature_c")]
    fitting = 100 * np.exp(exponents[0] - exponents[1])
    np.testing.assert_allclose(found["relative_humidity_pct"][ahead], fitting[ahead], rtol=0, atol=1e-9)
    assert (found["relative_humidity_pct"] <= 100).all()


def test_nothing_after_the_last_reading_is_read() -> None:
    columns = _uneven(12, seed=2)
    panel = _panel(**columns)
    row = 12 * 24 - 20
    cut = panel.between(panel.hours[0], panel.hours[row])
    planted = {name: array.copy() for name, array in panel.values.items()}
    for name, absurd in (("air_temperature_c", 59.0), ("relative_humidity_pct", 1.0), ("rain_mm", 300.0)):
        planted[name][row + 1 :] = absurd
    planted["dew_point_c"][row + 1 :] = NAN  # else the absurd hours would themselves be the last reading
    with_absurd = observed(panel.hours, panel.series, planted)
    one, other = _ways(cut, 30), _ways(with_absurd, 30)
    assert one.last_known == other.last_known == panel.hours[row]
    for name, array in one.panel.values.items():
        np.testing.assert_array_equal(array, other.panel.values[name], err_msg=name)


def test_remembered_days_are_the_last_ten_and_the_dates_around_in_past_years() -> None:
    # A temperature that names its day: day n rises by n hundredths in the hour after the last reading's.
    days = 2 * 366
    temperature, dew_point = np.full(days * 24, 20.0), np.full(days * 24, 5.0)
    temperature[1::24] += np.arange(days) / 100
    panel = _panel(air_temperature_c=temperature, dew_point_c=dew_point)
    last = 731  # two years of 365.25 days and a day, so both past years have dates to either side
    found = _ways(panel.between(FIRST, _after(last * 24)), 1).panel.values["air_temperature_c"][-1, 0]
    remembered = sorted(round((one - 20) * 100) for one in found)
    one_year, two_years = 731 - 365, 731 - 730  # 365.25 and 730.5 days back, to the whole day
    wanted = [n for n in range(two_years - 7, two_years + 8) if n >= 0]
    wanted += [*range(one_year - 7, one_year + 8), *range(721, 731)]
    assert remembered == wanted


def test_without_a_remembered_day_there_is_no_way_on() -> None:
    less_than_a_day = _panel(air_temperature_c=np.full(20, 20.0), dew_point_c=np.full(20, 10.0))
    assert ways_on(less_than_a_day, 0, _after(30)) is None


def test_a_remembered_day_with_a_hole_ahead_is_left_out() -> None:
    temperature = np.full(78, 20.0)
    temperature[55] = NAN  # yesterday, two hours after the last reading's
    panel = _panel(air_temperature_c=temperature, dew_point_c=np.full(78, 10.0))
    assert _ways(panel, 2).panel.values["air_temperature_c"].shape[2] == 2  # of three
    assert _ways(panel, 1).panel.values["air_temperature_c"].shape[2] == 3


def test_a_day_of_30_hours_ahead_needs_a_remembered_day_known_for_as_long() -> None:
    # Four days of hours: 30 h on from the same hour are known for the days two and three before, not for yesterday.
    panel = _panel(air_temperature_c=np.full(96, 20.0), dew_point_c=np.full(96, 10.0))
    assert _ways(panel, 30).panel.values["air_temperature_c"].shape[2] == 2
    # And 24 h on from yesterday's hour are known just up to the last reading.
    assert _ways(panel, 24).panel.values["air_temperature_c"].shape[2] == 3


def test_nothing_is_left_to_go_on_with_at_or_before_the_last_reading() -> None:
    panel = _panel(air_temperature_c=np.full(78, 20.0), dew_point_c=np.full(78, 10.0))
    assert ways_on(panel, 0, panel.hours[-1]) is None
    assert ways_on(panel, 0, panel.hours[-5]) is None


def test_a_series_never_read_has_no_last_reading() -> None:
    panel = _panel(air_temperature_c=np.full(78, 20.0), dew_point_c=np.full(78, NAN))
    assert last_known_row(panel, 0) is None
    assert ways_on(panel, 0, panel.hours[-1] + np.timedelta64(2, "h")) is None


@pytest.mark.parametrize("column", [0, 1, 2])
def test_series_that_differ_do_not_mix(column: int) -> None:
    columns = _uneven(12, seed=3, series=3)
    for name in ("air_temperature_c", "dew_point_c"):
        columns[name][-4:, 1] = NAN  # one of them is read later than the others
    together = _panel(**columns)
    alone: Mapping[str, Floats] = {name: array[:, column] for name, array in columns.items()}
    one, other = _ways(together, 9, column), _ways(_panel(**alone), 9)
    assert one.last_known == other.last_known
    assert one.panel.series == (("alder", "birch", "cedar")[column],)
    for name, array in other.panel.values.items():
        np.testing.assert_array_equal(one.panel.values[name], array, err_msg=name)
