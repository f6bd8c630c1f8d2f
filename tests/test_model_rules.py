"""The rules of conditions by their published limits: brown patch, Pythium blight, gray leaf spot on St. Augustine."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forecast.diseases import DiseaseModel
from forecast.diseases.fidanza_1996_conditions import FIDANZA_1996_CONDITIONS
from forecast.diseases.gray_leaf_spot_st_augustine import GRAY_LEAF_SPOT_ST_AUGUSTINE
from forecast.diseases.logic import above, all_of, any_of, reaches
from forecast.diseases.nutter_1983 import NUTTER_1983
from forecast.diseases.pressure import Pressure, pressure
from forecast.diseases.schumann_1994 import SCHUMANN_1994
from forecast.diseases.shane_1994 import SHANE_1994
from forecast.diseases.warm_wet_night import WARM_WET_NIGHT
from forecast.panel import Floats, observed

NAN = math.nan
JULY_2 = int(np.datetime64("2031-07-02", "D").astype(np.int64))


def _answer(model: DiseaseModel, *figures: float) -> float:
    given = {one.name: np.array([figure]) for one, figure in zip(model.inputs, figures, strict=True)}
    return float(model.evaluate(given).answer[0])


# Yes, no and unknown.


def test_a_condition_is_met_failed_or_unknown() -> None:
    values = np.array([1.9, 2.0, 2.1, NAN])
    np.testing.assert_array_equal(above(values, 2.0), [0, 0, 1, NAN])
    np.testing.assert_array_equal(reaches(values, 2.0), [0, 1, 1, NAN])


# One condition, the other, both, either.
TOGETHER = [
    (0, 0, 0, 0), (0, 1, 0, 1), (1, 0, 0, 1), (1, 1, 1, 1), (0, NAN, 0, NAN), (NAN, 0, 0, NAN),
    (1, NAN, NAN, 1), (NAN, 1, NAN, 1), (NAN, NAN, NAN, NAN),
]  # fmt: skip


@pytest.mark.parametrize(("one", "other", "both", "either"), TOGETHER)
def test_what_is_known_decides_whatever_the_unknown_is(one: float, other: float, both: float, either: float) -> None:
    first, second = np.array([float(one)]), np.array([float(other)])
    np.testing.assert_array_equal(all_of(first, second), [both])
    np.testing.assert_array_equal(any_of(first, second), [either])
    np.testing.assert_array_equal(all_of(first, second, np.array([1.0])), [both])
    np.testing.assert_array_equal(any_of(first, second, np.array([0.0])), [either])


# Pythium blight. Nutter, Cole & Schein 1983, abstract: maximum higher than 30 °C, at least 14 h above 90 %, minimum
# higher than 20 °C. The milder rule (two extension pages): 27.8 °C, 9 h, 20 °C.
PYTHIUM = [
    # highest °C, humid h, lowest °C, by the rule of 1983, by the milder one
    (30.0, 14, 20.1, 0, 1),  # not higher than 30
    (30.1, 13, 20.1, 0, 1),
    (30.1, 14, 20.0, 0, 0),  # not higher than 20
    (30.1, 14, 20.1, 1, 1),
    (27.8, 9, 20.1, 0, 0),  # not higher than 27.8
    (27.9, 9, 20.1, 0, 1),
    (27.9, 8, 20.1, 0, 0),
    (35.0, 0, 25.0, 0, 0),  # hot and dry
    (15.0, 24, 14.0, 0, 0),  # cool and humid
    # unknown
    (NAN, 14, 20.1, NAN, NAN),
    (30.1, NAN, 20.1, NAN, NAN),
    (30.1, 14, NAN, NAN, NAN),
    (25.0, NAN, NAN, 0, 0),  # too cool by day, whatever the night was
]


@pytest.mark.parametrize(("highest_c", "humid_h", "lowest_c", "nutter", "shane"), PYTHIUM)
def test_pythium_blight_by_its_limits(
    highest_c: float, humid_h: float, lowest_c: float, nutter: float, shane: float
) -> None:
    np.testing.assert_equal(_answer(NUTTER_1983, highest_c, humid_h, lowest_c), float(nutter))
    np.testing.assert_equal(_answer(SHANE_1994, highest_c, humid_h, lowest_c), float(shane))


def test_every_day_of_the_rule_of_1983_is_one_of_the_milder_rule() -> None:
    rng = np.random.default_rng(3)
    figures = rng.uniform(20, 36, 5000), rng.integers(0, 25, 5000).astype(np.float64), rng.uniform(15, 26, 5000)
    strict, mild = (
        model.evaluate({one.name: column for one, column in zip(model.inputs, figures, strict=True)}).answer
        for model in (NUTTER_1983, SHANE_1994)
    )
    assert strict.sum() > 0
    assert (mild >= strict).all()
    assert mild.sum() > strict.sum()


def _days(model: DiseaseModel, first: str, **columns: Floats) -> Pressure:
    hours = np.datetime64(first, "h") + np.arange(len(next(iter(columns.values()))))
    values = {name: column[:, None] for name, column in columns.items()}
    return pressure(model, observed(hours, ("alder",), values), 0)


def test_the_pythium_day_runs_from_noon_to_noon() -> None:
    # From 13:00 on 1 July: a hot afternoon of 31 °C, then 14 stamps above 90 %, 21:00 to 10:00, at 21 °C.
    temperature = np.full(48, 21.0)
    temperature[2] = 31.0
    humidity = np.full(48, 80.0)
    humidity[8:22] = 91.0
    found = _days(NUTTER_1983, "2031-07-01T13", air_temperature_c=temperature, relative_humidity_pct=humidity)
    assert found.days.tolist() == [JULY_2, JULY_2 + 1]
    assert found.answer[:, 0].tolist() == [1.0, 0.0]
    assert found.inputs["relative_humidity_pct_hours_above_90"][:, 0].tolist() == [14.0, 0.0]
    # 13 of them before a calendar day ends would never make 14.
    humidity[21] = 90.0  # not above
    found = _days(NUTTER_1983, "2031-07-01T13", air_temperature_c=temperature, relative_humidity_pct=humidity)
    assert found.answer[:, 0].tolist() == [0.0, 0.0]


# Five conditions of brown patch, limits as in the abstract of Fidanza, Dernoeden & Grybauskas 1996: at least 95 % for
# at least 8 h, mean at least 75 %, at least 6 h of wet leaves or 12 mm, air and soil at least 16 °C.
JUST_MET = (8.0, 75.0, 6.0, 12.0, 16.0, 16.0)


def test_every_limit_of_the_five_conditions_counts_itself() -> None:
    assert _answer(FIDANZA_1996_CONDITIONS, *JUST_MET) == 5.0


@pytest.mark.parametrize(("place", "below"), [(0, 7.0), (1, 74.9), (4, 15.9), (5, 15.9)])
def test_each_condition_missed_is_one_less(place: int, below: float) -> None:
    figures = list(JUST_MET)
    figures[place] = below
    assert _answer(FIDANZA_1996_CONDITIONS, *figures) == 4.0


# Wet leaves in hours, rain in mm, conditions met of five where the other four are.
WET_OR_RAIN = [
    (6, 0, 5), (0, 12, 5), (5, 11.9, 4), (6, 12, 5),
    (6, NAN, 5),  # wet enough, whatever fell
    (NAN, 12, 5),  # rain enough, however wet the leaves
    (5, NAN, NAN), (NAN, 11.9, NAN), (NAN, NAN, NAN),
]  # fmt: skip


@pytest.mark.parametrize(("wet_h", "rain_mm", "met"), WET_OR_RAIN)
def test_wet_leaves_or_rain_is_one_condition_and_either_is_enough(wet_h: float, rain_mm: float, met: float) -> None:
    np.testing.assert_equal(_answer(FIDANZA_1996_CONDITIONS, 8, 75, wet_h, rain_mm, 16, 16), float(met))


def test_a_place_without_a_rain_gauge_still_counts_its_conditions_on_wet_nights() -> None:
    # From 07:00 on 1 July to 06:00 on 3 July; the first night wet for 8 h, the second for 5.
    wet = np.zeros(48)
    wet[15:23] = wet[40:45] = 1.0
    humidity = np.where(wet == 1, 96.0, 80.0)
    warm = np.full(48, 20.0)
    found = _days(
        FIDANZA_1996_CONDITIONS,
        "2031-07-01T07",
        relative_humidity_pct=humidity,
        leaf_wet_fraction=wet,
        air_temperature_c=warm,
        soil_temperature_5cm_c=warm,
    )
    np.testing.assert_array_equal(found.answer[:, 0], [5.0, NAN])


# Gray leaf spot on St. Augustinegrass (UF IFAS PP126, read second-hand): 27 to 32 °C with 12 h wet or above 95 %.
ST_AUGUSTINE = [
    (26.9, 24, 24, 0), (27.0, 12, 0, 1), (27.0, 0, 12, 1), (27.0, 11, 11, 0), (32.0, 12, 12, 1),
    (30.0, 12, NAN, 1), (30.0, 11, NAN, NAN), (26.0, NAN, NAN, 0), (NAN, 11, 11, 0), (NAN, 12, 0, NAN),
]  # fmt: skip


@pytest.mark.parametrize(("highest_c", "wet_h", "humid_h", "answer"), ST_AUGUSTINE)
def test_gray_leaf_spot_by_its_limits(highest_c: float, wet_h: float, humid_h: float, answer: float) -> None:
    np.testing.assert_equal(_answer(GRAY_LEAF_SPOT_ST_AUGUSTINE, highest_c, wet_h, humid_h), float(answer))


def test_a_day_hotter_than_the_note_speaks_of_is_held_and_marked() -> None:
    highest = np.array([32.0, 32.1, 38.0])
    found = GRAY_LEAF_SPOT_ST_AUGUSTINE.evaluate(
        {
            "air_temperature_c_max": highest,
            "leaf_wet_fraction_wet_hours": np.full(3, 14.0),
            "relative_humidity_pct_hours_above_95": np.full(3, 14.0),
        }
    )
    assert found.answer.tolist() == [1.0, 1.0, 1.0]
    assert found.as_printed.tolist() == [1.0, 0.0, 0.0]
    assert found.outside.tolist() == [False, True, True]


# The humid spell of Schumann et al. 1994, numbers from an extension summary.


def _spell(length_h: int, hours: int = 96, first: int = 50) -> dict[str, Floats]:
    """Warm wet ground, and one humid spell from the hour ``first`` on."""
    humidity = np.full(hours, 80.0)
    humidity[first : first + length_h] = 96.0
    rain = np.zeros(hours)
    rain[first - 2] = 5.0
    return {
        "relative_humidity_pct": humidity,
        "air_temperature_c": np.full(hours, 22.0),
        "soil_temperature_5cm_c": np.full(hours, 23.0),
        "water_on_turf_mm": rain,
    }


def _hours_passed(columns: dict[str, Floats]) -> list[int]:
    return np.flatnonzero(SCHUMANN_1994.evaluate(columns).answer == 1).tolist()


def test_a_humid_spell_is_judged_once_at_its_tenth_hour() -> None:
    assert _hours_passed(_spell(9)) == []
    assert _hours_passed(_spell(10)) == [59]  # 50 is the first, 59 the tenth
    assert _hours_passed(_spell(11)) == [59]
    assert _hours_passed(_spell(36)) == [59]


def test_a_spell_broken_for_an_hour_begins_anew() -> None:
    columns = _spell(20)
    columns["relative_humidity_pct"][58] = 95.0  # not above 95 %
    assert _hours_passed(columns) == [68]


@pytest.mark.parametrize("name", ["air_temperature_c", "soil_temperature_5cm_c"])
def test_warmth_is_looked_at_over_the_24_hours_that_end_at_the_tenth(name: str) -> None:
    for row, passes in ((59, False), (36, False), (35, True), (60, True)):
        columns = _spell(12)
        columns[name][row] = 14.9
        assert _hours_passed(columns) == ([59] if passes else []), row


def test_rain_is_looked_at_over_the_36_hours_that_end_at_the_tenth() -> None:
    for row, passes in ((59, True), (24, True), (23, False), (60, False)):
        columns = _spell(12)
        columns["water_on_turf_mm"][:] = 0.0
        columns["water_on_turf_mm"][row] = 2.5
        assert _hours_passed(columns) == ([59] if passes else []), row


def test_rain_in_tenths_of_a_millimetre_reaches_its_limit() -> None:
    # 25 × 0.1 mm is 2.5 mm, whatever binary tenths add up to.
    for most_mm in (0.4, 1, 2, 4, 8, 16):  # with years of other rain before, on which the binary hair depends
        columns = _spell(12, hours=20_000, first=19_050)
        columns["water_on_turf_mm"][:19_000] = np.arange(19_000) * 7 % (10 * most_mm) / 10
        columns["water_on_turf_mm"][19_000:] = 0.0
        columns["water_on_turf_mm"][19_030:19_055] = 0.1
        assert 19_059 in _hours_passed(columns)
        columns["water_on_turf_mm"][19_040] = 0.0
        assert 19_059 not in _hours_passed(columns)


def test_a_mean_at_its_limit_is_not_above_it() -> None:
    columns = _spell(12)
    columns["air_temperature_c"][:] = 20.0
    assert _hours_passed(columns) == []
    columns["air_temperature_c"][40] = 20.1
    assert _hours_passed(columns) == [59]
    # (19.9 + 19.9 + 20.2)/3 is 20 °C, whatever binary tenths add up to after years of other warmth.
    for most_c in (0.5, 1, 2, 4, 8, 16):
        columns = _spell(12, hours=20_000, first=19_050)
        columns["air_temperature_c"][:19_000] = np.arange(19_000) * 7 % (10 * most_c) / 10
        columns["air_temperature_c"][19_000:] = np.resize([19.9, 19.9, 20.2], 1_000)
        assert 19_059 not in _hours_passed(columns)
        columns["air_temperature_c"][19_050] += 0.1
        assert 19_059 in _hours_passed(columns)


def test_without_a_rain_gauge_a_humid_warm_spell_is_unknown_and_any_other_hour_is_known() -> None:
    columns = _spell(12)
    columns["water_on_turf_mm"][:] = NAN
    answer = SCHUMANN_1994.evaluate(columns).answer
    assert np.flatnonzero(np.isnan(answer[11:])).tolist() == [59 - 11]
    cold = {**columns, "soil_temperature_5cm_c": np.full(96, 17.0)}
    assert (SCHUMANN_1994.evaluate(cold).answer[11:] == 0).all()


def test_one_unknown_hour_of_rain_does_not_hide_rain_enough() -> None:
    columns = _spell(12)
    columns["water_on_turf_mm"][55] = NAN
    assert _hours_passed(columns) == [59]


def test_a_spell_already_on_when_the_record_begins_has_an_unknown_tenth_hour() -> None:
    columns = {name: column[50:80] for name, column in _spell(12).items()}
    answer = SCHUMANN_1994.evaluate(columns).answer
    assert np.isnan(answer[9])
    assert (answer[10:12] == 0).all()  # the tenth hour is past, whenever the spell began


# The warm wet night: lowest temperature, longest wet run, wet hours in all.
SURE_OF_THE_NIGHT = [
    (23.0, 12.0, NAN, 2.0),  # twelve hours on end are more than ten in all, whatever one other hour was
    (18.0, 12.0, NAN, 1.0),
    (23.0, 10.0, NAN, NAN),  # ten on end: whether more than ten in all is not known
    (10.0, NAN, NAN, 0.0),  # too cold for either
    (18.0, NAN, 12.0, NAN),
    (NAN, 3.0, 4.0, 0.0),  # too dry for either
    (NAN, 12.0, 12.0, NAN),
]


@pytest.mark.parametrize(("lowest_c", "run_h", "wet_h", "answer"), SURE_OF_THE_NIGHT)
def test_a_night_is_told_where_what_is_unknown_cannot_matter(
    lowest_c: float, run_h: float, wet_h: float, answer: float
) -> None:
    np.testing.assert_equal(_answer(WARM_WET_NIGHT, lowest_c, run_h, wet_h), answer)
