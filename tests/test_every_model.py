"""What every disease model of the catalogue owes, and each one's published figures."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

import model_checks as checks
import numpy as np
import pytest

from forecast.diseases import MODELS, DiseaseModel
from forecast.diseases.declare import Coefficient, Daily, Hourly, Range
from forecast.diseases.fidanza_1996 import FIDANZA_1996
from forecast.diseases.pressure import pressure
from forecast.diseases.smith_2018 import SMITH_2018
from forecast.diseases.warm_wet_night import WARM_WET_NIGHT
from forecast.panel import Floats, observed

NAN = math.nan

every_model = pytest.mark.parametrize("model", MODELS.values(), ids=list(MODELS))


def _answer(model: DiseaseModel, *figures: float) -> float:
    given = {one.name: np.array([figure]) for one, figure in zip(model.inputs, figures, strict=True)}
    return float(model.evaluate(given).answer[0])


def _passes(model: DiseaseModel, *figures: float) -> float:
    given = {one.name: np.array([figure]) for one, figure in zip(model.inputs, figures, strict=True)}
    found = model.evaluate(given)
    return float(model.passed(found.answer, found.withheld)[0])


@every_model
def test_worked_cases_come_out(model: DiseaseModel) -> None:
    checks.check_cases(model)


@every_model
def test_there_are_as_many_cases_as_coefficients(model: DiseaseModel) -> None:
    checks.check_enough_cases(model)


@every_model
def test_no_coefficient_can_slip_unseen(model: DiseaseModel) -> None:
    checks.check_cases_hold_every_coefficient(model)


@every_model
def test_unknown_in_is_unknown_out(model: DiseaseModel) -> None:
    checks.check_unknown_stays_unknown(model)


@every_model
def test_no_hour_or_day_looks_ahead(model: DiseaseModel) -> None:
    checks.check_no_row_looks_ahead(model)


@every_model
def test_the_checks_see_days_to_both_sides_of_the_threshold(model: DiseaseModel) -> None:
    checks.check_passes_on_some(model)


@pytest.mark.parametrize("key", [key for key in MODELS if key not in checks.COOL_WEATHER])
def test_a_hotter_wet_night_never_reads_as_safer(key: str) -> None:
    checks.check_hot_wet_nights_never_read_safer(MODELS[key])


def test_only_models_of_the_catalogue_are_let_off_hot_nights() -> None:
    assert set(checks.COOL_WEATHER) <= set(MODELS)
    assert all(checks.COOL_WEATHER.values())


@every_model
def test_answers_are_shaped_as_inputs(model: DiseaseModel) -> None:
    checks.check_shapes(model)


@every_model
def test_each_series_alone_equals_the_series_in_company(model: DiseaseModel) -> None:
    checks.check_series_apart(model)


@every_model
def test_inputs_stay_untouched(model: DiseaseModel) -> None:
    checks.check_inputs_untouched(model)


@every_model
def test_read_only_inputs_are_accepted(model: DiseaseModel) -> None:
    given = checks.unequal(model)
    for array in given.values():
        array.flags.writeable = False
    assert model.evaluate(given).answer.shape == (300, 3)


@every_model
def test_the_day_ends_as_designed(model: DiseaseModel) -> None:
    checks.check_day(model)


@every_model
def test_the_declaration_is_complete(model: DiseaseModel) -> None:
    assert MODELS[model.key] is model
    checks.check_declaration(model)


@every_model
def test_a_slip_between_kernel_and_declaration_is_refused_at_once(model: DiseaseModel) -> None:
    if len(model.inputs) > 1:
        with pytest.raises(ValueError, match=f"{model.key}: the kernel takes"):
            replace(model, inputs=model.inputs[::-1])
    with pytest.raises(ValueError, match=f"{model.key}: the kernel takes"):
        replace(model, inputs=model.inputs[1:])
    without_one = dict(list(model.coefficients.items())[1:])
    with pytest.raises(ValueError, match=f"{model.key}: the kernel takes"):
        replace(model, coefficients=without_one)
    with pytest.raises(ValueError, match=f"{model.key}: the kernel takes"):
        replace(model, coefficients={**model.coefficients, "extra": Coefficient(1.0, "1", 0.5, 2.0)})


@every_model
def test_a_range_for_what_is_no_input_is_refused(model: DiseaseModel) -> None:
    with pytest.raises(ValueError, match="no input"):
        replace(model, valid={"rain_mm_max": Range(0.0, 1.0, "hold", "made up for this test")})


@every_model
def test_a_range_for_every_input_is_accepted(model: DiseaseModel) -> None:
    wide = Range(-1000.0, 1000.0, "hold", "made up for this test")
    assert set(replace(model, valid={one.name: wide for one in model.inputs}).valid) == {i.name for i in model.inputs}


@pytest.mark.parametrize("key", [key for key, model in MODELS.items() if len(model.inputs) > 1])
def test_two_days_ends_in_one_model_are_refused(key: str) -> None:
    model = MODELS[key]
    other_end = replace(model.inputs[0], day_end_hour=model.day_end_hour - 1)
    with pytest.raises(ValueError, match="own day"):
        replace(model, inputs=(other_end, *model.inputs[1:]))


def _of_an_unknown_quantity(air_mm_mean: Floats) -> Floats:
    return air_mm_mean


def _of_an_unknown_reduction(rain_mm_median: Floats) -> Floats:
    return rain_mm_median


def _of_a_count_without_a_level(rain_mm_hours_above: Floats) -> Floats:
    return rain_mm_hours_above


def _of_a_level_where_nothing_is_counted(rain_mm_max_3: Floats) -> Floats:
    return rain_mm_max_3


def _of_an_unknown_way_over_days(rain_mm_max_highest_of_3_days: Floats) -> Floats:
    return rain_mm_max_highest_of_3_days


def _of_hours(rain_mm: Floats) -> Floats:
    return rain_mm


@pytest.mark.parametrize(
    ("kernel", "one"),
    [
        (_of_an_unknown_quantity, Daily("air_mm", "mean", 24)),
        (_of_an_unknown_reduction, Daily("rain_mm", "median", 24)),
        (_of_a_count_without_a_level, Daily("rain_mm", "hours_above", 24)),
        (_of_a_level_where_nothing_is_counted, Daily("rain_mm", "max", 24, at=3)),
        (_of_an_unknown_way_over_days, Daily("rain_mm", "max", 24, trailing_days=3, trailing="highest")),
        (_of_hours, Hourly("rain_mm", 24, "median")),
    ],
)
def test_an_input_that_cannot_be_made_is_refused(kernel: Callable[..., Floats], one: Daily | Hourly) -> None:
    with pytest.raises(ValueError, match="no such input"):
        replace(SMITH_2018, kernel=kernel, inputs=(one,), coefficients={}, valid={})


def _of_a_day_and_of_hours(rain_mm_sum: Floats, air_temperature_c: Floats) -> Floats:
    return rain_mm_sum + air_temperature_c


def test_a_model_reads_days_or_hours_and_not_both() -> None:
    both = (Daily("rain_mm", "sum", 24), Hourly("air_temperature_c", 24, "mean"))
    with pytest.raises(ValueError, match="all daily or all hourly"):
        replace(SMITH_2018, kernel=_of_a_day_and_of_hours, inputs=both, coefficients={}, valid={})


def test_a_model_that_reads_wet_leaves_says_how_its_paper_told_them() -> None:
    with pytest.raises(ValueError, match="wet leaves"):
        replace(WARM_WET_NIGHT, wetness_words="")
    with pytest.raises(ValueError, match="wet leaves"):
        replace(SMITH_2018, wetness_words="by sensors")


def test_trailing_days_stand_in_an_inputs_name() -> None:
    assert Daily("air_temperature_c", "min", 6).name == "air_temperature_c_min"
    assert Daily("air_temperature_c", "mean", 24, trailing_days=2).name == "air_temperature_c_mean_2_days"
    assert Daily("air_temperature_c", "mean", 24, trailing_days=5).name == "air_temperature_c_mean_5_days"
    lowest = Daily("soil_temperature_5cm_c", "max", 24, trailing_days=5, trailing="lowest")
    assert lowest.name == "soil_temperature_5cm_c_max_lowest_of_5_days"
    assert Daily("relative_humidity_pct", "hours_above", 12, at=90).name == "relative_humidity_pct_hours_above_90"
    assert Hourly("rain_mm", 12, "sum").name == "rain_mm"


# The two-variable index, E = −21.5 + 0.15 RH + 1.4 T − 0.033 T² (abstract of Fidanza, Dernoeden & Grybauskas 1996).


def _index(humidity_pct: float, lowest_c: float) -> float:
    return -21.5 + 0.15 * humidity_pct + 1.4 * lowest_c - 0.033 * lowest_c**2


# Mean humidity, lowest temperature, E to three decimals by the formula above.
INDEX_TABLE = [(85, 20, 6.050), (90, 18, 6.508), (90, 21, 6.847), (95, 21, 7.597), (95, 26, 6.842), (75, 16, 3.702)]


@pytest.mark.parametrize(("humidity_pct", "lowest_c", "index"), INDEX_TABLE)
def test_the_index_as_printed_is_that_of_the_table(humidity_pct: float, lowest_c: float, index: float) -> None:
    assert _index(humidity_pct, lowest_c) == pytest.approx(index, abs=5e-4)  # half of the table's last digit
    given = {
        "relative_humidity_pct_mean": np.array([float(humidity_pct)]),
        "air_temperature_c_min": np.array([float(lowest_c)]),
    }
    assert FIDANZA_1996.evaluate(given).as_printed[0] == pytest.approx(index, abs=5e-4)


def test_the_index_peaks_at_a_night_of_21_2_degrees() -> None:
    # dE/dT = 1.4 − 0.066 T = 0 at 21.2121… °C.
    lowest = np.arange(1500, 2800) / 100
    given = {"relative_humidity_pct_mean": np.full(lowest.shape, 90.0), "air_temperature_c_min": lowest}
    found = FIDANZA_1996.evaluate(given)
    assert lowest[found.as_printed.argmax()] == 21.21
    assert (np.diff(found.answer) >= 0).all()


@pytest.mark.parametrize(("humidity_pct", "passes"), [(84.34, 0.0), (84.35, 1.0)])
def test_at_its_peak_the_index_reaches_six_from_84_35_percent_on(humidity_pct: float, passes: float) -> None:
    # −21.5 + 0.15 RH + 1.4²/(4 × 0.033) = 6 at RH = 84.343… %.
    assert _passes(FIDANZA_1996, humidity_pct, 1.4 / 0.066) == passes


# Mean humidity, and the lowest temperatures between which the printed index is 6 or more, rounded to hundredths.
INDEX_SIX = [(85, 19.48, 22.94), (90, 16.14, 26.28), (95, 14.25, 28.17), (100, 12.78, 29.65)]


@pytest.mark.parametrize(("humidity_pct", "low_c", "high_c"), INDEX_SIX)
def test_the_index_reaches_six_between_two_temperatures(humidity_pct: float, low_c: float, high_c: float) -> None:
    edges = np.array([low_c - 0.01, low_c + 0.01, high_c - 0.01, high_c + 0.01])  # a rounding to either side
    given = {"relative_humidity_pct_mean": np.full(4, float(humidity_pct)), "air_temperature_c_min": edges}
    found = FIDANZA_1996.evaluate(given)
    assert (found.as_printed >= 6).tolist() == [False, True, True, False]
    # What the page goes by does not fall again.
    assert (found.answer >= 6).tolist() == [False, True, True, True]


def test_a_hot_wet_night_scores_no_lower_than_one_at_the_peak() -> None:
    assert _index(95, 26) < _index(95, 21.2)  # the published curve falls
    assert _answer(FIDANZA_1996, 95, 26) >= _answer(FIDANZA_1996, 95, 21.2)
    # Held at the peak: −21.5 + 0.15 × 95 + 1.4²/(4 × 0.033).
    assert _answer(FIDANZA_1996, 95, 26) == pytest.approx(-21.5 + 14.25 + 1.96 / 0.132, abs=1e-9)


def test_a_night_above_the_peak_is_held_and_marked() -> None:
    peak = 1.4 / 0.066
    lowest = np.array([peak - 0.01, peak, peak + 0.01, NAN])
    found = FIDANZA_1996.evaluate(
        {"relative_humidity_pct_mean": np.full(4, 95.0), "air_temperature_c_min": lowest},
    )
    assert found.outside.tolist() == [False, False, True, False]
    assert not found.withheld.any()
    assert found.answer[2] == pytest.approx(found.answer[1], abs=1e-12)


# The dollar spot model, logit p = −11.4041 + 0.0894 RH + 0.1932 T (Smith et al. 2018, read second-hand).


def _probability(humidity_pct: float, mean_c: float) -> float:
    return 1 / (1 + math.exp(11.4041 - 0.0894 * humidity_pct - 0.1932 * mean_c))


# Humidity, temperature, p to four decimals by the formula above.
PROBABILITIES = [
    (60, 10, 0.0162), (70, 15, 0.0955), (75, 20, 0.3026), (80, 20, 0.4042), (85, 20, 0.5147),
    (80, 25, 0.6406), (90, 25, 0.8133), (95, 30, 0.9471),
]  # fmt: skip


@pytest.mark.parametrize(("humidity_pct", "mean_c", "p"), PROBABILITIES)
def test_the_dollar_spot_probability_is_that_of_the_table(humidity_pct: float, mean_c: float, p: float) -> None:
    assert _probability(humidity_pct, mean_c) == pytest.approx(p, abs=5e-5)  # half of the table's last digit
    assert _answer(SMITH_2018, humidity_pct, mean_c) == pytest.approx(p, abs=5e-5)


# Temperature, and the humidity at which p = 0.20: RH = (11.4041 + ln 0.25 − 0.1932 T)/0.0894.
TWENTY_PERCENT = [(10, 90.45), (15, 79.64), (20, 68.83), (25, 58.03), (30, 47.22)]


@pytest.mark.parametrize(("mean_c", "humidity_pct"), TWENTY_PERCENT)
def test_the_spray_threshold_is_reached_from_a_known_humidity_on(mean_c: float, humidity_pct: float) -> None:
    assert (11.4041 + math.log(0.25) - 0.1932 * mean_c) / 0.0894 == pytest.approx(humidity_pct, abs=0.005)
    assert _passes(SMITH_2018, humidity_pct - 0.01, mean_c) == 0.0
    assert _passes(SMITH_2018, humidity_pct + 0.01, mean_c) == 1.0


def test_the_dollar_spot_model_does_not_speak_of_weather_outside_10_to_35_degrees() -> None:
    mean = np.array([9.99, 10.0, 35.0, 35.01, NAN])
    found = SMITH_2018.evaluate(
        {"relative_humidity_pct_mean_5_days": np.full(5, 95.0), "air_temperature_c_mean_5_days": mean},
    )
    assert np.isnan(found.answer).tolist() == [True, False, False, True, True]
    assert found.withheld.tolist() == [True, False, False, True, False]
    assert found.outside.tolist() == found.withheld.tolist()
    # Outside, the day does not pass; where the weather is unknown, that is unknown.
    np.testing.assert_array_equal(SMITH_2018.passed(found.answer, found.withheld), [0.0, 1.0, 1.0, 0.0, NAN])
    assert not np.isnan(found.as_printed[:4]).any()


# Lowest temperature, longest wet run, wet hours → class; limits as the handbooks print them (read second-hand):
# above 15.5 °C with 10 wet hours on end it can start, above 21 °C with more than 10 wet hours it is frequent.
NIGHTS = [
    (15.5, 24, 24, 0),  # not above
    (15.6, 10, 10, 1),
    (15.6, 9, 20, 0),  # wet long enough, but not on end
    (21.0, 24, 24, 1),  # not above 21
    (21.1, 10, 10, 1),  # not more than 10 h
    (21.1, 11, 11, 2),
    (21.1, 5, 11, 2),  # more than 10 h in all
    (21.1, 9, 10, 0),
    (28.0, 0, 0, 0),  # warm and dry
]


@pytest.mark.parametrize(("lowest_c", "run_h", "wet_h", "night_class"), NIGHTS)
def test_a_warm_wet_night_by_its_limits(lowest_c: float, run_h: float, wet_h: float, night_class: float) -> None:
    assert _answer(WARM_WET_NIGHT, lowest_c, run_h, wet_h) == night_class
    assert _passes(WARM_WET_NIGHT, lowest_c, run_h, wet_h) == float(night_class >= 1)


def _hours_of(columns: Mapping[str, list[float]], first: str, model: DiseaseModel) -> tuple[list[int], Floats]:
    values = {name: np.array(column)[:, None] for name, column in columns.items()}
    hours = np.datetime64(first, "h") + np.arange(len(next(iter(columns.values()))))
    found = pressure(model, observed(hours, ("alder",), values), -300)
    return found.days.tolist(), found.answer[:, 0]


def test_hours_become_an_index_for_the_day_that_ends_at_six() -> None:
    # Two days at 90 % and 25 °C with one hour of 18 °C each, at the last stamp of the first and the first of the
    # next: 06:00 and 07:00 at UTC−5 on 1 July. Both days then have 90 % and 18 °C: E = 6.508.
    temperature = [25.0] * 23 + [18.0, 18.0] + [25.0] * 23
    columns = {"relative_humidity_pct": [90.0] * 48, "air_temperature_c": temperature}
    days, answer = _hours_of(columns, "2031-06-30T12", FIDANZA_1996)
    july_1 = int(np.datetime64("2031-07-01").astype(int))
    assert days == [july_1, july_1 + 1]
    np.testing.assert_allclose(answer, [6.508, 6.508], rtol=0, atol=5e-4)


def test_a_day_is_as_well_known_as_its_least_known_input() -> None:
    humidity, temperature = np.full((24, 1), 90.0), np.full((24, 1), 20.0)
    humidity[:2] = temperature[:1] = NAN
    hours = np.datetime64("2031-06-30T12", "h") + np.arange(24)  # to 06:00 at UTC−5
    panel = observed(hours, ("alder",), {"relative_humidity_pct": humidity, "air_temperature_c": temperature})
    assert pressure(FIDANZA_1996, panel, -300).hours_known.tolist() == [[22]]


def test_a_wet_run_over_midnight_is_one_warm_wet_night() -> None:
    # From noon to noon at UTC−5; wet for the ten stamps 20:00 to 05:00, five to either side of midnight.
    wet = [0.0] * 7 + [1.0] * 10 + [0.0] * 7
    columns = {"air_temperature_c": [20.0] * 24, "leaf_wet_fraction": wet}
    _, answer = _hours_of(columns, "2031-06-30T18", WARM_WET_NIGHT)
    assert answer.tolist() == [1.0]


def test_the_dollar_spot_model_takes_five_calendar_days() -> None:
    # Four days at 15 °C and one at 20 °C: mean 16; humidity 70, 70, 70, 70 and 85: mean 73.
    columns = {
        "air_temperature_c": np.repeat([15.0, 15.0, 15.0, 15.0, 20.0], 24).tolist(),
        "relative_humidity_pct": np.repeat([70.0, 70.0, 70.0, 70.0, 85.0], 24).tolist(),
    }
    _, answer = _hours_of(columns, "2031-07-01T06", SMITH_2018)
    np.testing.assert_allclose(answer, [NAN, NAN, NAN, NAN, _probability(73, 16)], rtol=0, atol=1e-9)
