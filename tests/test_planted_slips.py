"""The checks themselves checked: each slip, planted on purpose, has to make the check that guards against it fail."""

from __future__ import annotations

import functools
import importlib
import itertools
from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType

import model_checks as checks
import numpy as np
import pytest
import test_classification_tree as test_tree
import test_daily
import test_energy_balance as test_balance
import test_every_wetness_method as test_wetness
from strategies import hourly_arrays, invented_weather, with_holes

from forecast import daily
from forecast.canopy import TurfHours
from forecast.diseases import MODELS, DiseaseModel
from forecast.panel import Floats, Hours
from forecast.wetness import METHODS, WetnessMethod

Kernel = Callable[..., Floats]
Patch = pytest.MonkeyPatch

every_model = pytest.mark.parametrize("model", MODELS.values(), ids=list(MODELS))
every_method = pytest.mark.parametrize("method", METHODS.values(), ids=list(METHODS))

COEFFICIENTS = [(key, name) for key, model in MODELS.items() for name in model.coefficients]
every_coefficient = pytest.mark.parametrize(("key", "name"), COEFFICIENTS)


def _around(kernel: Kernel, slip: Callable[[Kernel, tuple[Floats, ...]], Kernel]) -> Kernel:
    """A kernel of the same signature that does ``slip(kernel, inputs)`` and calls what comes of it."""

    @functools.wraps(kernel)
    def slipped(*inputs: Floats, **numbers: float) -> Floats:
        return slip(kernel, inputs)(**numbers)

    return slipped


def _mixing(kernel: Kernel, inputs: tuple[Floats, ...]) -> Kernel:
    """Takes the mean of all series for each."""
    mixed = (x.mean(axis=1, keepdims=True) + 0 * x if x.ndim > 1 else x for x in inputs)
    return functools.partial(kernel, *mixed)


def _swallowing(kernel: Kernel, inputs: tuple[Floats, ...]) -> Kernel:
    """Takes what is unknown for 0."""
    return functools.partial(kernel, *(np.nan_to_num(x) for x in inputs))


def _ahead(kernel: Kernel, inputs: tuple[Floats, ...]) -> Kernel:
    """Reads the hour or day that follows."""
    return functools.partial(kernel, *(np.roll(x, -1, axis=0) for x in inputs))


def _editing(kernel: Kernel, inputs: tuple[Floats, ...]) -> Kernel:
    """Adds to its input in place."""
    for x in inputs:
        np.add(x, 0.125, out=x)
    return functools.partial(kernel, *inputs)


def _with(model: DiseaseModel, slip: Callable[[Kernel, tuple[Floats, ...]], Kernel]) -> DiseaseModel:
    return replace(model, kernel=_around(model.kernel, slip))


# Models.


@every_model
def test_a_kernel_wrapped_without_a_slip_passes_every_check(model: DiseaseModel) -> None:
    # Else the slips below could be caught for being wrapped.
    wrapped = _with(model, lambda kernel, inputs: functools.partial(kernel, *inputs))
    for check in (checks.check_cases, checks.check_cases_hold_every_coefficient, checks.check_unknown_stays_unknown):
        check(wrapped)
    for check in (checks.check_shapes, checks.check_series_apart, checks.check_inputs_untouched):
        check(wrapped)
    checks.check_no_row_looks_ahead(wrapped)
    if model.key not in checks.COOL_WEATHER:
        checks.check_hot_wet_nights_never_read_safer(wrapped)
    checks.check_day(wrapped)
    checks.check_declaration(wrapped)


@every_coefficient
def test_a_flipped_sign_in_a_kernel_is_caught(key: str, name: str) -> None:
    def flipped(kernel: Kernel, inputs: tuple[Floats, ...]) -> Kernel:
        return lambda **numbers: kernel(*inputs, **{**numbers, name: -numbers[name]})

    assert checks.fails(checks.check_cases, _with(MODELS[key], flipped))


@every_coefficient
def test_a_wrong_coefficient_is_caught(key: str, name: str) -> None:
    model = MODELS[key]
    number = model.coefficients[name]
    step = 1.0 if number.unit == "h" else 0.01 * number.value  # wet hours are whole
    for wrong in (number.value + step, number.value - step):
        changed = {**model.coefficients, name: replace(number, value=wrong)}
        assert checks.fails(checks.check_cases, replace(model, coefficients=changed))


@every_model
def test_cases_too_few_to_hold_the_coefficients_are_caught(model: DiseaseModel) -> None:
    one_case = replace(model, cases=model.cases[:1])
    with pytest.raises(AssertionError):
        checks.check_enough_cases(one_case)
    same_again = replace(model, cases=model.cases[:1] * len(model.coefficients))
    checks.check_enough_cases(same_again)
    if model.answer == "class":  # one case of a smooth formula can feel every number in it, one of a class cannot
        with pytest.raises(AssertionError):
            checks.check_cases_hold_every_coefficient(same_again)


@every_model
def test_a_case_with_a_wide_tolerance_is_caught(model: DiseaseModel) -> None:
    wide = replace(model, cases=tuple(replace(case, within=100.0) for case in model.cases))
    with pytest.raises(AssertionError):
        checks.check_cases_hold_every_coefficient(wide)


@every_model
def test_a_model_whose_day_ends_an_hour_late_is_caught(model: DiseaseModel) -> None:
    later = tuple(replace(one, day_end_hour=one.day_end_hour % 24 + 1) for one in model.inputs)
    with pytest.raises(AssertionError):
        checks.check_day(replace(model, inputs=later))


@every_model
def test_a_kernel_that_mixes_series_is_caught(model: DiseaseModel) -> None:
    with pytest.raises(AssertionError):
        checks.check_series_apart(_with(model, _mixing))


@every_model
def test_a_kernel_that_swallows_the_unknown_is_caught(model: DiseaseModel) -> None:
    with pytest.raises(AssertionError):
        checks.check_unknown_stays_unknown(_with(model, _swallowing))


@pytest.mark.parametrize(
    ("key", "place"), [(key, place) for key, model in MODELS.items() for place in range(len(model.inputs))]
)
def test_a_kernel_that_swallows_the_unknown_of_one_input_is_caught(key: str, place: int) -> None:
    def swallowing_one(kernel: Kernel, inputs: tuple[Floats, ...]) -> Kernel:
        figures = (np.nan_to_num(x) if at == place else x for at, x in enumerate(inputs))
        return functools.partial(kernel, *figures)

    with pytest.raises(AssertionError):
        checks.check_unknown_stays_unknown(_with(MODELS[key], swallowing_one))


@every_model
def test_a_kernel_that_guesses_an_answer_for_the_unknown_is_caught(model: DiseaseModel) -> None:
    def guessing(kernel: Kernel, inputs: tuple[Floats, ...]) -> Kernel:
        return lambda **numbers: np.nan_to_num(kernel(*inputs, **numbers))

    with pytest.raises(AssertionError):
        checks.check_unknown_stays_unknown(_with(model, guessing))


@every_model
def test_a_kernel_that_looks_ahead_is_caught(model: DiseaseModel) -> None:
    with pytest.raises(AssertionError):
        checks.check_no_row_looks_ahead(_with(model, _ahead))


HELD = [key for key, model in MODELS.items() if any(limits.outside == "hold" for limits in model.valid.values())]


@pytest.mark.parametrize("key", HELD)
def test_a_falling_curve_that_is_not_held_is_caught(key: str) -> None:
    with pytest.raises(AssertionError):
        checks.check_hot_wet_nights_never_read_safer(replace(MODELS[key], valid={}))


@pytest.mark.parametrize("key", HELD)
def test_heat_that_is_left_without_an_answer_is_caught(key: str) -> None:
    withheld = {name: replace(limits, outside="withhold") for name, limits in MODELS[key].valid.items()}
    with pytest.raises(AssertionError):
        checks.check_hot_wet_nights_never_read_safer(replace(MODELS[key], valid=withheld))


@pytest.mark.parametrize("key", HELD)
def test_a_formula_as_printed_that_is_held_too_is_caught(key: str) -> None:
    model = MODELS[key]
    figures = [case.printed for case in model.cases if case.printed is not None]
    assert figures, "a held model has a case that says what the formula gives by itself"

    def held(kernel: Kernel, inputs: tuple[Floats, ...]) -> Kernel:
        names = [one.name for one in model.inputs]
        limits = [model.valid.get(name) for name in names]
        within = (
            x if edge is None else np.clip(x, edge.low, edge.high) for x, edge in zip(inputs, limits, strict=True)
        )
        return functools.partial(kernel, *within)

    with pytest.raises(AssertionError):
        checks.check_cases(_with(model, held))


@every_model
def test_a_kernel_that_edits_its_input_is_caught(model: DiseaseModel) -> None:
    with pytest.raises(AssertionError):
        checks.check_inputs_untouched(_with(model, _editing))


@every_model
def test_a_kernel_that_flattens_its_answer_is_caught(model: DiseaseModel) -> None:
    def flat(kernel: Kernel, inputs: tuple[Floats, ...]) -> Kernel:
        return lambda **numbers: kernel(*inputs, **numbers)[..., :1]

    with pytest.raises((AssertionError, ValueError)):  # numpy refuses what cannot be spread over the series
        checks.check_shapes(_with(model, flat))


@every_model
def test_a_source_without_a_year_or_a_bound_on_the_wrong_side_is_caught(model: DiseaseModel) -> None:
    with pytest.raises(AssertionError):
        checks.check_declaration(replace(model, source="a paper of some year"))
    with pytest.raises(AssertionError):
        checks.check_declaration(replace(model, grasses=("astroturf",)))
    name, number = next(iter(model.coefficients.items()))
    wrong = {**model.coefficients, name: replace(number, low=number.high)}
    with pytest.raises(AssertionError):
        checks.check_declaration(replace(model, coefficients=wrong))


# Days.


@pytest.mark.parametrize(("one", "other"), list(itertools.permutations(daily.REDUCTIONS, 2)))
def test_a_wrong_reducer_is_caught(monkeypatch: Patch, one: str, other: str) -> None:
    slipped = {**daily.REDUCTIONS, one: daily.REDUCTIONS[other]}
    monkeypatch.setattr(daily, "REDUCTIONS", MappingProxyType(slipped))
    with pytest.raises(AssertionError):  # a peak differs from a maximum in what is unknown only
        _reductions_by_hand()


def _reductions_by_hand() -> None:
    test_daily.check_reductions_by_hand()
    test_daily.check_unknown_hours_by_hand()


@pytest.mark.parametrize(("one", "other"), list(itertools.permutations(daily.COUNTS, 2)))
def test_a_wrong_count_is_caught(monkeypatch: Patch, one: str, other: str) -> None:
    monkeypatch.setattr(daily, "COUNTS", MappingProxyType({**daily.COUNTS, one: daily.COUNTS[other]}))
    with pytest.raises(AssertionError):
        test_daily.check_counts_by_hand()


@pytest.mark.parametrize("count", daily.COUNTS)
def test_a_count_that_swallows_the_unknown_is_caught(monkeypatch: Patch, count: str) -> None:
    right = daily.COUNTS[count]
    for taken_for in (0.0, 100.0):
        slipped = {**daily.COUNTS, count: _taking_for(right, taken_for)}
        monkeypatch.setattr(daily, "COUNTS", MappingProxyType(slipped))
        with pytest.raises(AssertionError):
            test_daily.check_counts_by_hand()


def _taking_for(count: Kernel, figure: float) -> Kernel:
    """A count that takes what is unknown for a figure."""
    return lambda by_day, *, at: count(np.nan_to_num(by_day, nan=figure), at=at)


@pytest.mark.parametrize("count", daily.COUNTS)
def test_a_count_beside_another_level_is_caught(monkeypatch: Patch, count: str) -> None:
    right = daily.COUNTS[count]
    for off in (-1.5, 1.5):
        moved: Kernel = functools.partial(lambda by_day, *, at, by: right(by_day, at=at + by), by=off)
        monkeypatch.setattr(daily, "COUNTS", MappingProxyType({**daily.COUNTS, count: moved}))
        with pytest.raises(AssertionError):
            test_daily.check_counts_by_hand()


@pytest.mark.parametrize(("one", "other"), list(itertools.permutations(daily.TRAILING, 2)))
def test_a_wrong_way_over_days_is_caught(monkeypatch: Patch, one: str, other: str) -> None:
    monkeypatch.setattr(daily, "TRAILING", MappingProxyType({**daily.TRAILING, one: daily.TRAILING[other]}))
    with pytest.raises(AssertionError):
        test_daily.check_trailing_days_by_hand()


def test_days_over_which_an_unknown_one_is_left_out_are_caught(monkeypatch: Patch) -> None:
    slipped = MappingProxyType({**daily.TRAILING, "lowest": np.fmin.reduce})
    monkeypatch.setattr(daily, "TRAILING", slipped)
    with pytest.raises(AssertionError):
        test_daily.check_trailing_days_by_hand()


@pytest.mark.parametrize("hours", [-1, 1])
def test_a_day_that_ends_an_hour_off_is_caught(monkeypatch: Patch, hours: int) -> None:
    right = daily.day_numbers

    def off(stamps: Hours, standard_offset_minutes: int, day_end_hour: int) -> daily.Days:
        return right(stamps, standard_offset_minutes, day_end_hour + hours)

    monkeypatch.setattr(daily, "day_numbers", off)
    with pytest.raises(AssertionError):
        test_daily.check_days_by_hand()


def test_daylight_time_instead_of_standard_time_is_caught(monkeypatch: Patch) -> None:
    right = daily.day_numbers

    def daylight(stamps: Hours, standard_offset_minutes: int, day_end_hour: int) -> daily.Days:
        return right(stamps, standard_offset_minutes + 60 * (standard_offset_minutes < 0), day_end_hour)

    monkeypatch.setattr(daily, "day_numbers", daylight)
    with pytest.raises(AssertionError):
        test_daily.check_days_by_hand()


@pytest.mark.parametrize("needed", [21, 23])
def test_another_number_of_hours_needed_is_caught(monkeypatch: Patch, needed: int) -> None:
    monkeypatch.setattr(daily, "HOURS_NEEDED", needed)
    with pytest.raises(AssertionError):
        test_daily.check_unknown_hours_by_hand()


@pytest.mark.parametrize("reduction", daily.REDUCTIONS)
def test_a_reducer_that_swallows_the_unknown_is_caught(monkeypatch: Patch, reduction: str) -> None:
    right = daily.REDUCTIONS[reduction]
    slipped = {**daily.REDUCTIONS, reduction: lambda by_day: right(np.nan_to_num(by_day))}
    monkeypatch.setattr(daily, "REDUCTIONS", MappingProxyType(slipped))
    with pytest.raises(AssertionError):
        test_daily.check_unknown_hours_by_hand()


# Wetness.

Slip = Callable[[TurfHours], TurfHours]


def _damp_hours() -> TurfHours:
    """Hours with dew, showers and dry days, of which every rule tells some wet and some dry."""
    return invented_weather(9, 240, 3, mean_depression_c=2.5).at_turf()


def _on_hours(method: WetnessMethod, slip: Slip) -> WetnessMethod:
    """The method with a slip in how it reads its hours."""
    return replace(method, kernel=lambda hours: method.kernel(slip(hours)))


def _each(change: Callable[[Floats], Floats]) -> Slip:
    return lambda hours: replace(hours, **{name: change(array) for name, array in hourly_arrays(hours).items()})


def _edited(array: Floats) -> Floats:
    np.add(array, 0.125, out=array)
    return array


@every_method
def test_a_wetness_method_without_a_slip_passes(method: WetnessMethod) -> None:
    wrapped = _on_hours(method, _each(lambda array: array))
    test_wetness.check_series_apart(wrapped, _damp_hours())
    test_wetness.check_nothing_unknown_turns_dry(wrapped, _damp_hours())
    test_wetness.check_inputs_untouched(wrapped, _damp_hours())
    assert 0.1 < np.nanmean(method.kernel(_damp_hours())) < 0.9


@every_method
def test_a_wetness_method_that_mixes_series_is_caught(method: WetnessMethod) -> None:
    mixing = _on_hours(method, _each(lambda array: array.mean(axis=1, keepdims=True) + 0 * array))
    with pytest.raises(AssertionError):
        test_wetness.check_series_apart(mixing, _damp_hours())


@every_method
def test_a_wetness_method_that_swallows_the_unknown_is_caught(method: WetnessMethod) -> None:
    with pytest.raises(AssertionError):
        test_wetness.check_nothing_unknown_turns_dry(_on_hours(method, _each(np.nan_to_num)), _damp_hours())
    dry_instead = replace(method, kernel=lambda hours: np.nan_to_num(method.kernel(hours)))
    with pytest.raises(AssertionError):
        test_wetness.check_nothing_unknown_turns_dry(dry_instead, _damp_hours())


@every_method
def test_a_wetness_method_that_edits_its_input_is_caught(method: WetnessMethod) -> None:
    with pytest.raises(AssertionError):
        test_wetness.check_inputs_untouched(_on_hours(method, _each(_edited)), _damp_hours())


@pytest.mark.parametrize("constant", ["WET_AT_C", "DRY_AT_C"])
@pytest.mark.parametrize("off_c", [-0.15, 0.15])
def test_a_wetness_threshold_that_is_off_is_caught(monkeypatch: Patch, constant: str, off_c: float) -> None:
    from forecast.wetness import dew_point_depression

    monkeypatch.setattr(dew_point_depression, constant, getattr(dew_point_depression, constant) + off_c)
    with pytest.raises(AssertionError):
        test_wetness.check_hysteresis_by_hand()


@pytest.mark.parametrize("constant", ["WET_ABOVE_PCT", "DRY_BELOW_PCT", "RISE_PCT_H", "FALL_PCT_H"])
@pytest.mark.parametrize("off_pct", [-0.15, 0.15])
def test_an_extended_threshold_that_is_off_is_caught(monkeypatch: Patch, constant: str, off_pct: float) -> None:
    from forecast.wetness import extended_threshold

    monkeypatch.setattr(extended_threshold, constant, getattr(extended_threshold, constant) + off_pct)
    with pytest.raises(AssertionError):
        test_wetness.check_extended_by_hand()


def _tree_checks() -> None:
    test_tree.check_worked_points()
    test_tree.check_both_edges()
    test_tree.check_every_branch()
    test_tree.check_wind_is_brought_down()


@pytest.mark.parametrize(
    ("constant", "off"),
    [
        ("CALM_LINE", 0.01),
        ("WINDY_LINE", 0.05),
        ("DRY_FROM_C", 0.05),
        ("WINDY_FROM_M_S", 0.02),
        ("HUMID_FROM_PCT", 0.15),
    ],
)
@pytest.mark.parametrize("sign", [-1, 1])
def test_a_number_of_the_tree_that_is_off_is_caught(monkeypatch: Patch, constant: str, off: float, sign: int) -> None:
    from forecast.wetness import classification_tree

    monkeypatch.setattr(classification_tree, constant, getattr(classification_tree, constant) + sign * off)
    with pytest.raises(AssertionError):
        _tree_checks()


def test_a_tree_that_has_lost_its_square_or_reads_the_open_wind_is_caught(monkeypatch: Patch) -> None:
    from forecast.wetness import classification_tree

    right = classification_tree.windy_discriminant

    def linear(t: Floats, humidity_pct: Floats, wind: Floats, depression: Floats) -> Floats:
        return right(t, np.sqrt(humidity_pct), wind, depression)

    with monkeypatch.context() as slipped:
        slipped.setattr(classification_tree, "windy_discriminant", linear)
        with pytest.raises(AssertionError):
            _tree_checks()
    with monkeypatch.context() as slipped:
        slipped.setattr(classification_tree, "wind_speed_near_ground_m_s", lambda wind, _: wind)
        with pytest.raises(AssertionError):
            _tree_checks()
    _tree_checks()


def _film_checks() -> None:
    test_balance.check_hours_by_hand()
    test_balance.check_film_by_hand()
    test_balance.check_rain_by_hand()
    test_balance.check_tip_by_hand()
    test_balance.check_unknown_hour_by_hand()
    test_balance.check_start_by_hand()
    whole = invented_weather(5, 600, 1, mean_depression_c=2.0).at_turf(
        dew_removed_fraction=np.where(np.arange(600)[:, None] % 24 == 7, 0.8, 0.0)
    )
    test_balance.check_against_the_plain_loop(with_holes(whole, np.random.default_rng(5), 0.005))


@pytest.mark.parametrize(
    ("module", "constant", "factor"),
    [
        ("energy_balance", "GROUND_SHARE_GAINING", 1.01),
        ("energy_balance", "GROUND_SHARE_LOSING", 1.01),
        ("energy_balance", "NIGHT_CONDUCTANCE_FACTOR", 1.01),
        ("energy_balance", "CAPACITY_MM_PER_LEAF_AREA", 1.01),
        ("energy_balance", "CAUGHT_PER_LEAF_AREA", 1.01),
        ("energy_balance", "WETTING_RAIN_MM", 3.0),
        ("film", "EDGE_ROOT", 1.01),
        ("film", "_EDGE_SHARE", 1.01),
        ("film", "SPIN_UP_HOURS", 2),
        ("film", "SAME_WITHIN_FRACTION", 1e9),
        ("film", "_SURELY", 0.5),
    ],
)
def test_a_number_of_the_film_that_is_off_is_caught(
    monkeypatch: Patch, module: str, constant: str, factor: float
) -> None:
    slipped = importlib.import_module(f"forecast.wetness.{module}")
    monkeypatch.setattr(slipped, constant, getattr(slipped, constant) * factor)
    with pytest.raises(AssertionError):
        _film_checks()


@pytest.mark.parametrize(
    "slip",
    [
        lambda evaporation: -evaporation,  # dew for drying
        lambda evaporation: np.roll(evaporation, 1, axis=0),  # an hour late
        np.nan_to_num,  # the unknown swallowed
        lambda evaporation: np.maximum(evaporation, 0),  # no dew
        lambda evaporation: evaporation.mean(axis=1, keepdims=True) * 1.001 + 0 * evaporation,  # a little off
    ],
)
def test_an_evaporation_that_is_wrong_is_caught(monkeypatch: Patch, slip: Callable[[Floats], Floats]) -> None:
    from forecast.wetness import energy_balance

    right = energy_balance.evaporation_mm
    _film_checks()
    monkeypatch.setattr(energy_balance, "evaporation_mm", lambda *read, **at: slip(right(*read, **at)))
    with pytest.raises(AssertionError):
        _film_checks()
