"""What whole records say about their stations: the words, the places of change, and silence where nothing is wrong."""

from __future__ import annotations

import math

import numpy as np
import pytest
from quality_cases import (
    JANUARY,
    K_246,
    K_247,
    NAMES,
    RH,
    TD,
    T,
    Weather,
    beside,
    dry_spell,
    heavy,
    hours,
    months_of,
    part_of_a_year,
    warmest_at,
    wet_month,
    year_of,
    years_of_rain,
)

from forecast import quality
from forecast.panel import Floats, observed
from forecast.quality import Place, StationFinding
from forecast.quality.form import Seen
from forecast.quality.station_form import days_of
from forecast.quality.station_humidity import change_point


def _findings(weather: Weather, offset_minutes: int = 0) -> tuple[StationFinding, ...]:
    return quality.station_findings(weather.panel(), weather.places, standard_offset_minutes=offset_minutes)


def _only(weather: Weather, check: str) -> StationFinding:
    (found,) = [one for one in _findings(weather) if one.check == check]
    return found


def _k_pair_by_pair(values: list[float]) -> int:
    """Pettitt's K as the paper defines it: the largest of |sum over i <= t < j of sgn(x_i - x_j)|."""
    x = np.array(values)
    return max(abs(int(np.sign(x[:t, None] - x[None, t:]).sum())) for t in range(1, len(x)))


@pytest.mark.parametrize(("tops", "k"), [(K_246, 246), (K_247, 247)])
def test_pettitt_agrees_with_its_definition_pair_by_pair(tops: list[float], k: int) -> None:
    assert _k_pair_by_pair(tops) == k
    _, chance = change_point(np.array(tops))
    # 1e-12: the same arithmetic in double precision.
    assert chance == pytest.approx(2 * math.exp(-6 * k**2 / (36**3 + 36**2)), abs=1e-12)


def test_pettitt_finds_the_place_and_the_chance_of_a_clean_step() -> None:
    """Ten low and ten high values: every pair across the step counts, K = 100, at ten."""
    before, chance = change_point(np.array([1.0] * 10 + [2.0] * 10))
    assert before == 10
    assert chance == pytest.approx(2 * math.exp(-6 * 100**2 / (20**3 + 20**2)), abs=1e-12)
    assert change_point(np.full(20, 5.0))[1] == 1.0, "no change, and a chance is no more than 1"


@pytest.mark.parametrize("seed", range(20))
def test_pettitt_on_random_values_agrees_with_its_definition(seed: int) -> None:
    values = np.random.default_rng(seed).integers(0, 8, 30).astype(np.float64)  # many ties
    k = _k_pair_by_pair(values.tolist())
    assert change_point(values)[1] == pytest.approx(min(1.0, 2 * math.exp(-6 * k**2 / (30**3 + 30**2))), abs=1e-12)


def _record(levels: list[tuple[int, float]], seed: int = 1) -> Weather:
    """Months at each level of the sensor's top, which scatters by 1 % from month to month with a memory of 0.4."""
    rng = np.random.default_rng(seed)
    off, tops = 0.0, []
    for months, level in levels:
        for _ in range(months):
            off = 0.4 * off + rng.normal(0, math.sqrt(1 - 0.4**2))
            tops.append(min(100.0, level + off))
    return months_of(tops)


def test_a_replaced_sensor_is_found_within_a_month_or_two_and_told_with_both_levels() -> None:
    (found,) = [one for one in _findings(_record([(60, 92.0), (60, 98.0)])) if one.check == "humidity_shift"]
    change = (2031 - 1970) * 12 + 60
    assert abs(found.figures["month_of_change"] - change) <= 2
    # The mean of 60 months that scatter by 1 % with that memory has a standard error of about 0.2 %.
    assert found.figures["top_before_pct"] == pytest.approx(92, abs=0.6)
    assert found.figures["top_after_pct"] == pytest.approx(98, abs=0.6)
    assert found.grave
    for part in ("top humidity readings moved from", "a sensor was changed or drifts"):
        assert part in found.text


def test_two_changes_are_told_apart() -> None:
    found = [one for one in _findings(_record([(40, 98.0), (40, 92.0), (40, 98.0)])) if one.check == "humidity_shift"]
    start = (2031 - 1970) * 12
    assert len(found) == 2
    for one, months in zip(found, (40, 80), strict=True):
        assert abs(one.figures["month_of_change"] - (start + months)) <= 2


@pytest.mark.parametrize("seed", range(30))
def test_a_sound_sensor_is_left_in_peace(seed: int) -> None:
    assert not [one for one in _findings(_record([(120, 98.0)], seed)) if one.check == "humidity_shift"]


def test_the_share_of_humid_hours_is_that_of_all_known_hours() -> None:
    """One hour of 24 at the top, and the top is at 90 % or above only after the change: 0 and 4.17 % of hours."""
    found = _only(months_of([88.0] * 24 + [95.0] * 24), "humidity_shift")
    assert found.figures["humid_before_pct"] == 0
    assert found.figures["humid_after_pct"] == pytest.approx(100 / 24, abs=1e-9)
    assert (found.figures["top_before_pct"], found.figures["top_after_pct"]) == (88.0, 95.0)
    assert "from 0 to 4 % of all" in found.text
    assert found.figures["month_of_change"] == (2033 - 1970) * 12


def test_the_limit_of_humid_hours_counts_itself() -> None:
    found = _only(months_of([85.0] * 24 + [90.0] * 24), "humidity_shift")
    assert found.figures["humid_after_pct"] == pytest.approx(100 / 24, abs=1e-9)


def test_humidity_that_stays_low_in_wet_months_is_told_with_what_it_means() -> None:
    found = _only(wet_month(91.0, 9), "humidity_low")
    assert found.figures == {"months": 1, "wet_months": 1, "highest_pct": 91.0}
    for part in (
        "never reached 95 %",
        "1 of 1 months",
        "January 2031",
        "highest 91 %",
        "wet hours are counted too few",
    ):
        assert part in found.text
    assert (found.first_hour, found.last_hour) == (hours(1, JANUARY)[0], hours(31 * 24, JANUARY)[-1])


def test_without_rain_only_the_years_top_can_tell_and_the_text_says_so() -> None:
    found = _only(year_of(92.0, 365), "humidity_low")
    assert found.figures["lowest_top_pct"] == 92.0
    assert found.figures["factor"] == pytest.approx(100 / 92, abs=1e-12)
    assert "rain is not known" in found.text
    assert "factor of 1.087" in found.text  # 100 / 92 = 1.08696


def test_the_top_is_the_mean_of_one_day_in_a_hundred() -> None:
    """365 days: the four highest. Three at 100 and one at 84 make 96."""
    air = np.full((365, 24), 70.0)
    air[[10, 20, 30]], air[40] = 100.0, 84.0
    found = _only(Weather({RH: air.ravel()}, JANUARY), "humidity_low")
    assert found.figures["lowest_top_pct"] == 96.0


def test_humidity_is_worked_out_where_only_the_dew_point_is_known() -> None:
    air = np.full(365 * 24, 20.0)
    found = _only(Weather({T: air, TD: air - 2.0}, JANUARY), "humidity_low")
    # 18 °C in air of 20 °C: exp(17.27 × 18 / 255.3 − 17.27 × 20 / 257.3) = exp(1.21763 − 1.34240) = 0.8827 (FAO-56).
    assert found.figures["lowest_top_pct"] == pytest.approx(88.27, abs=0.01)


def test_a_gauge_that_gives_nothing_in_humid_months_is_told() -> None:
    found = _only(dry_spell(days=80, full_hours=300), "rain_low")
    for part in ("60 days on end", "0.0 mm", "blocked", "fog and dry summers"):
        assert part in found.text
    assert found.figures["rain_mm"] == 0.0


def test_a_dry_year_is_told_against_other_years_and_other_stations() -> None:
    own = _only(years_of_rain(1000, 900, 250, 1100), "rain_low")
    assert own.figures == {"year": 2033, "total_mm": pytest.approx(250, abs=1e-9)}
    assert "250 mm of rain in 2033, against 1000 mm in the median of its other years" in own.text
    near = _only(beside(300, 1000), "rain_low")
    assert "against 1000 mm in the median of the stations around" in near.text


def test_tenths_of_a_millimetre_read_as_millimetres_are_told() -> None:
    found = _only(years_of_rain(9000), "rain_high")
    assert "9000 mm of rain in 2031" in found.text
    assert "tenths of a millimetre" in found.text
    assert "6 h above 50 mm" in _only(heavy(60, 6), "rain_high").text


def test_a_year_half_known_is_no_year() -> None:
    assert not [one for one in _findings(part_of_a_year(4000)) if one.check == "rain_high"]


def test_whole_degrees_are_told_with_what_they_do_to_humidity() -> None:
    celsius = _only(Weather({T: [float(n % 17) for n in range(800)]}), "resolution")
    for part in ("whole °C", "2.2 %", "8 % of hours"):
        assert part in celsius.text
    assert not celsius.grave
    fahrenheit = _only(Weather({TD: [(n % 31) / 1.8 for n in range(800)]}), "resolution")
    for part in ("dew point", "whole °F", "1.2 %", "5.5 % of hours"):
        assert part in fahrenheit.text
    assert not _findings(Weather({T: [(n % 170) / 10 for n in range(800)]}))


@pytest.mark.parametrize(("hour", "wrong"), [(14, False), (11, False), (17, False), (20, True), (2, True), (8, True)])
def test_a_clock_some_hours_off_is_told(hour: int, wrong: bool) -> None:
    assert bool([one for one in _findings(warmest_at(hour)) if one.check == "clock"]) == wrong


def test_the_sun_and_not_the_time_zone_is_asked() -> None:
    """The hottest hour at 20:00 UTC is 14:00 by the sun at 90° west, whatever offset the site keeps."""
    weather = warmest_at(20)
    west = Weather(weather.columns, weather.first, {"alder": Place(40, -90, 0)})
    for offset in (-360, 0, 330):
        assert not [one for one in _findings(west, offset) if one.check == "clock"]
    (told,) = [one for one in _findings(weather, 0) if one.check == "clock"]
    assert told.figures["warmest_h"] == pytest.approx(20, abs=1e-9)
    assert "time zone" in told.text


def test_midnight_is_no_edge_to_the_median() -> None:
    """Days warmest at 23 and at 1 in turn are warmest about midnight, not about noon."""
    days = [np.where(np.arange(1, 25) == hour, 30.0, 20.0) for hour in (23, 1)] * 35
    weather = Weather({T: np.concatenate(days)}, JANUARY, {"alder": Place(40, 0, 0)})
    (told,) = [one for one in _findings(weather) if one.check == "clock"]
    assert min(told.figures["warmest_h"], 24 - told.figures["warmest_h"]) <= 1


def test_without_a_place_the_clock_is_not_looked_at() -> None:
    weather = warmest_at(2)
    assert [one.check for one in _findings(weather)] == ["clock", "resolution"]
    assert [one.check for one in _findings(Weather(weather.columns, weather.first))] == ["resolution"]


@pytest.mark.parametrize("offset_minutes", [0, -300, 330, 720, -660])
@pytest.mark.parametrize("count", [1, 5, 23, 24, 25, 49, 240])
def test_days_are_cut_at_midnight_of_standard_time(offset_minutes: int, count: int) -> None:
    column = np.arange(float(count))
    seen = Seen(hours(count, "2031-03-01T07"), ("alder",), {}, {}, offset_minutes)
    days = days_of(seen, column)
    for stamp, reading in zip(seen.hours, column, strict=True):
        # Midnight itself ends the day before: a stamp is the end of its hour.
        local = stamp.astype("datetime64[m]") + np.timedelta64(offset_minutes, "m") - np.timedelta64(1, "m")
        day = int((local.astype("datetime64[D]") - np.datetime64(0, "D")) / np.timedelta64(1, "D"))
        hour = int((local - local.astype("datetime64[D]")) / np.timedelta64(1, "h"))
        assert days.by_hour[day - days.number[0], hour] == reading
    assert np.count_nonzero(~np.isnan(days.by_hour)) == count


def test_findings_of_a_station_are_the_same_alone_and_in_company() -> None:
    first, second = months_of([88.0] * 24 + [95.0] * 24), months_of([97.0] * 24 + [91.0] * 24)
    both: Floats = np.column_stack([first.columns[RH], second.columns[RH]])
    together = quality.station_findings(
        observed(hours(len(both), first.first), NAMES[:2], {RH: both}), {}, standard_offset_minutes=0
    )
    assert [one.text for one in together if one.series == "alder"] == [one.text for one in _findings(first)]
    assert [one.text for one in together if one.series == "birch"] == [one.text for one in _findings(second)]
