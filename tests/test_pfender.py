"""Stem rust by wet degree-hours: the paper's figures, nights and mornings by hand, and the same by a plain loop."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence

import numpy as np
import pytest

from forecast.diseases.declare import Case
from forecast.diseases.events import event_for
from forecast.diseases.pfender_2003 import PFENDER_2003
from forecast.diseases.pressure import pressure
from forecast.panel import Floats, Hours, observed
from forecast.physics.sun import solar_position_deg

NAN = math.nan
DAY, NIGHT = 10.0, -10.0  # any heights of the sun above and below the horizon


def _hours(wet: Sequence[float] | Floats, air_c: Sequence[float] | Floats, sun_deg: Sequence[float] | Floats) -> Floats:
    given = {"leaf_wet_fraction": wet, "air_temperature_c": air_c, "sun_elevation_deg": sun_deg}
    return PFENDER_2003.evaluate({name: np.asarray(row, dtype=float) for name, row in given.items()}).answer


def _by_loop(wet: Floats, air_c: Floats, sun_deg: Floats) -> Floats:
    """The rule hour by hour for one series of known hours that begins by day, past the first two hours of it."""
    found = np.zeros(len(wet))
    night, morning, hours_up = 0.0, 0.0, 3
    for hour in range(len(wet)):
        degree_hours = wet[hour] * max(air_c[hour] - 2.0, 0.0)
        if sun_deg[hour] < 0:
            night = degree_hours if hours_up else night + degree_hours
            hours_up, morning = 0, 0.0
        else:
            hours_up += 1
            morning += degree_hours
            if hours_up <= 2:
                found[hour] = 1 - math.exp(-0.0031 * night * morning)
    return found


# Product of degree-hours, share of the most infection, by hand from p = 1 − exp(−0.0031 I) (Pfender 2003, abstract).
FIGURES = [(100.0, 0.2666), (223.6, 0.5000), (500.0, 0.7878)]


@pytest.mark.parametrize(("index", "share"), FIGURES)
def test_the_shares_are_those_of_the_paper(index: float, share: float) -> None:
    assert 1 - math.exp(-0.0031 * index) == pytest.approx(share, abs=5e-5)
    # A night of ten hours at 12 °C has 100 degree-hours above 2; two wet hours share the rest.
    each = index / 100 / 2
    found = _hours(
        [0] * 3 + [1] * 10 + [1] * 4, [9] * 3 + [12] * 10 + [2 + each] * 4, [DAY] * 3 + [NIGHT] * 10 + [DAY] * 4
    )
    assert found.max() == pytest.approx(share, abs=5e-5)
    assert np.flatnonzero(found).tolist() == [13, 14]  # the first two hours of day, and no others
    assert found[13] == pytest.approx(1 - math.exp(-0.0031 * index / 2), abs=1e-9)


@pytest.mark.parametrize("case", PFENDER_2003.cases, ids=lambda case: case.by)
def test_worked_cases_come_out(case: Case) -> None:
    given = {name: np.array(row) for name, row in case.given.items()}
    answer = PFENDER_2003.evaluate(given).answer.max()
    assert answer == pytest.approx(case.answer, abs=case.within)


def test_a_night_does_not_add_to_the_night_before() -> None:
    # Day, wet night, dry morning; then a night with one wet hour of 10 degree-hours and a morning of 2 × 10.
    sun = [DAY] * 3 + [NIGHT] * 8 + [DAY] * 6 + [NIGHT] * 8 + [DAY] * 4
    wet = [0] * 3 + [1] * 8 + [0] * 6 + [0] * 7 + [1] + [1] * 4
    found = _hours(wet, [12] * len(sun), sun)
    assert found[11:13].tolist() == [0.0, 0.0]  # the dry morning
    assert found.max() == pytest.approx(1 - math.exp(-0.0031 * 10 * 20), abs=1e-9)


def test_wetness_by_day_and_frost_count_for_nothing() -> None:
    sun = [DAY] * 3 + [NIGHT] * 8 + [DAY] * 6
    wet = [0] * 2 + [1] + [0] * 8 + [1] * 6
    assert _hours(wet, [20] * len(sun), sun).max() == 0.0
    wet_night = [0] * 2 + [1] * 15
    assert _hours(wet_night, [1.9] * len(sun), sun).max() == 0.0
    # Frost takes nothing away again: eight hours, four of them of 3 degrees and four of frost.
    air = [5] * 3 + [5] * 4 + [-9] * 4 + [5] * 6
    assert _hours(wet_night, air, sun).max() == pytest.approx(1 - math.exp(-0.0031 * 12 * 6), abs=1e-9)


def _weather(hours: int, seed: int) -> tuple[Floats, Floats, Floats]:
    rng = np.random.default_rng(seed)
    wet = np.clip(rng.uniform(-1, 2, (hours, 3)), 0, 1)
    air = rng.uniform(-2, 22, (hours, 3))
    long_day = 10 + rng.integers(-4, 5, hours // 24 + 1)  # hours of night, another every day
    sun = np.concatenate([np.repeat([DAY, NIGHT], [24 - night, night]) for night in long_day])[:hours]
    return wet, air, np.repeat(sun[:, None], 3, axis=1)


@pytest.mark.parametrize("seed", [1, 2])
def test_many_nights_come_out_as_by_a_plain_loop(seed: int) -> None:
    wet, air, sun = _weather(2400, seed)
    wet[:2] = 0.0  # of the first two hours nobody knows whether the sun had just come up
    found = _hours(wet, air, sun)
    for column in range(3):
        expected = _by_loop(wet[:, column], air[:, column], sun[:, column])
        np.testing.assert_allclose(found[:, column], expected, rtol=0, atol=1e-9)
    assert (found > 0.5).any()
    members = _hours(np.stack([wet, wet[:, ::-1]], 2), np.stack([air, air[:, ::-1]], 2), np.stack([sun, sun], 2))
    np.testing.assert_array_equal(members[..., 0], found)
    np.testing.assert_array_equal(members[..., 1], found[:, ::-1])


def test_what_is_said_of_unknown_hours_holds_whatever_they_were() -> None:
    wet, air, sun = _weather(1200, 3)
    wet[:2] = 0.0
    rng = np.random.default_rng(4)
    holes = rng.random((2, *wet.shape)) < 0.02
    answer = _hours(np.where(holes[0], NAN, wet), np.where(holes[1], NAN, air), sun)
    known = ~np.isnan(answer)
    assert 0.9 < known.mean() < 1.0
    assert known[air < 2.0].mean() > 0.9  # an unknown wetness in frost is no matter
    for filling in range(3):
        filled_wet = np.where(holes[0], rng.random(wet.shape), wet)
        filled_air = np.where(holes[1], rng.uniform(-5, 30, wet.shape), air)
        truth = _hours(filled_wet, filled_air, sun)
        np.testing.assert_allclose(answer[known], truth[known], rtol=0, atol=1e-9, err_msg=str(filling))


def test_an_unknown_hour_of_the_night_leaves_its_own_morning_unknown_and_no_other() -> None:
    sun = np.array(([DAY] * 12 + [NIGHT] * 12) * 4)
    wet, air = np.ones(96), np.full(96, 12.0)
    wet[:2] = 0.0
    whole = _hours(wet, air, sun)
    holed = wet.copy()
    holed[40] = NAN  # in the second night, whose morning is hours 48 and 49
    found = _hours(holed, air, sun)
    assert np.flatnonzero(np.isnan(found)).tolist() == [48, 49]
    known = ~np.isnan(found)
    np.testing.assert_array_equal(found[known], whole[known])
    dry_morning = holed.copy()
    dry_morning[48:50] = 0.0
    assert not np.isnan(_hours(dry_morning, air, sun)).any()  # a dry morning is no infection, whatever the night was


@pytest.mark.parametrize("dry_hour", [0, 25, 26])
def test_an_unknown_sun_is_never_taken_for_night_or_day(dry_hour: int) -> None:
    sun = np.array(([DAY] * 12 + [NIGHT] * 12) * 3)
    wet, air = np.ones(72), np.full(72, 12.0)
    wet[[0, 1, dry_hour]] = 0.0
    for hole in (20, 23, 24, 25, 30):
        holed = sun.copy()
        holed[hole] = NAN
        found = _hours(wet, air, holed)
        assert np.isnan(found[hole]), hole
        known = ~np.isnan(found)
        assert known[40:].all(), hole
        for height in (DAY, NIGHT):
            holed[hole] = height
            truth = _hours(wet, air, holed)
            np.testing.assert_allclose(found[known], truth[known], rtol=0, atol=1e-12, err_msg=str(hole))


def test_a_record_that_begins_at_night_knows_no_first_morning() -> None:
    sun = np.array([NIGHT] * 5 + [DAY] * 14 + [NIGHT] * 10 + [DAY] * 3)
    found = _hours(np.ones(32), np.full(32, 12.0), sun)
    assert np.flatnonzero(np.isnan(found)).tolist() == [5, 6]
    assert found[30] > 0


def _year(latitude_deg: float, longitude_deg: float, days: int = 365) -> tuple[Hours, Floats]:
    hours = np.datetime64("2031-01-01T01", "h") + np.arange(24 * days)
    middles = (hours - np.datetime64(0, "h")).astype(np.float64) * 3600 - 1800
    return hours, solar_position_deg(middles, latitude_deg, longitude_deg)[0]


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "offset_minutes", "long_nights", "short_nights"),
    [(44.6, -123.2, -480, 12, 6), (-37.8, 145.0, 600, 6, 12)],
    ids=["Corvallis", "Melbourne"],
)
def test_long_nights_infect_more_in_either_half_of_the_earth(
    latitude_deg: float, longitude_deg: float, offset_minutes: int, long_nights: int, short_nights: int
) -> None:
    # Always wet at 3 °C: one degree-hour an hour. A night of n hours and two of morning give 1 − exp(−0.0031 × 2 n).
    hours, sun = _year(latitude_deg, longitude_deg)
    column = np.ones((len(hours), 1))
    values = {"leaf_wet_fraction": column, "air_temperature_c": 3 * column, "sun_elevation_deg": sun[:, None]}
    found = pressure(PFENDER_2003, observed(hours, ("one",), values), offset_minutes)
    month = found.days.astype("datetime64[D]").astype("datetime64[M]").astype(int) % 12 + 1
    night_h = -np.log1p(-found.answer[:, 0]) / 0.0062
    assert np.nanmin(night_h[month == long_nights]) > np.nanmax(night_h[month == short_nights]) + 4
    # Nights of the longest and the shortest day, from day length by the sun's height alone: cos h = −tan φ tan δ.
    half = math.acos(math.tan(math.radians(abs(latitude_deg))) * math.tan(math.radians(23.44)))
    shortest_day_h = 24 / math.pi * half
    assert np.nanmax(night_h) == pytest.approx(24 - shortest_day_h, abs=1.0)  # hours are whole
    assert np.nanmin(night_h[1:-1]) == pytest.approx(shortest_day_h, abs=1.0)


def test_without_wet_leaves_told_there_is_no_answer() -> None:
    hours, sun = _year(44.6, -123.2, days=10)
    values = {"air_temperature_c": np.full((240, 1), 12.0), "sun_elevation_deg": sun[:, None]}
    found = pressure(PFENDER_2003, observed(hours, ("one",), values), -480)
    assert np.isnan(found.passed).all()


def test_it_never_decides() -> None:
    event = event_for("stem_rust", "perennial_ryegrass")
    assert PFENDER_2003 not in event.deciding + event.beside
    assert event_for("stem_rust", "perennial_ryegrass", ("pfender_2003",)).deciding == (PFENDER_2003,)


def test_ten_years_of_hours_take_no_loop() -> None:
    rng = np.random.default_rng(5)
    _, sun = _year(44.6, -123.2, days=3650)
    wet, air = rng.random(len(sun)), rng.uniform(0, 25, len(sun))
    start = time.process_time()
    _hours(wet, air, sun)
    assert time.process_time() - start < 0.5  # measured 0.01 s; a loop over 87,600 hours of Python takes a second
