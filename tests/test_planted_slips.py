"""The checks themselves checked: each slip, planted on purpose, has to make the check that guards against it fail."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType

import model_checks as checks
import numpy as np
import pytest
import test_daily
import test_every_wetness_method as test_wetness

from forecast import daily
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
    checks.check_day(wrapped)
    checks.check_declaration(wrapped)


@every_coefficient
def test_a_flipped_sign_in_a_kernel_is_caught(key: str, name: str) -> None:
    def flipped(kernel: Kernel, inputs: tuple[Floats, ...]) -> Kernel:
        return lambda **numbers: kernel(*inputs, **{**numbers, name: -numbers[name]})

    with pytest.raises(AssertionError):
        checks.check_cases(_with(MODELS[key], flipped))


@every_coefficient
def test_a_wrong_coefficient_is_caught(key: str, name: str) -> None:
    model = MODELS[key]
    number = model.coefficients[name]
    step = 1.0 if number.unit == "h" else 0.01 * number.value  # wet hours are whole
    for wrong in (number.value + step, number.value - step):
        changed = {**model.coefficients, name: replace(number, value=wrong)}
        with pytest.raises(AssertionError):
            checks.check_cases(replace(model, coefficients=changed))


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
    with pytest.raises(AssertionError):
        test_daily.check_reductions_by_hand()


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


def _humid(seed: int = 9) -> test_wetness.Air:
    rng = np.random.default_rng(seed)
    temperature = rng.uniform(10, 30, (48, 3))
    dew_point = temperature - rng.uniform(0, 6, (48, 3))
    return temperature, dew_point, rng.uniform(70, 100, (48, 3)), np.where(rng.random((48, 3)) < 0.1, 1.0, 0.0)


@every_method
def test_a_wetness_method_without_a_slip_passes(method: WetnessMethod) -> None:
    test_wetness.check_series_apart(method, _humid())
    test_wetness.check_nothing_unknown_turns_dry(method, _humid())
    test_wetness.check_inputs_untouched(method.kernel, _humid())


@every_method
def test_a_wetness_method_that_mixes_series_is_caught(method: WetnessMethod) -> None:
    with pytest.raises(AssertionError):
        test_wetness.check_series_apart(replace(method, kernel=_around(method.kernel, _mixing)), _humid())


@every_method
def test_a_wetness_method_that_swallows_the_unknown_is_caught(method: WetnessMethod) -> None:
    slipped = replace(method, kernel=_around(method.kernel, _swallowing))
    with pytest.raises(AssertionError):
        test_wetness.check_nothing_unknown_turns_dry(slipped, _humid())
    dry_instead = replace(method, kernel=lambda *air: np.nan_to_num(method.kernel(*air)))
    with pytest.raises(AssertionError):
        test_wetness.check_nothing_unknown_turns_dry(dry_instead, _humid())


@every_method
def test_a_wetness_method_that_edits_its_input_is_caught(method: WetnessMethod) -> None:
    with pytest.raises(AssertionError):
        test_wetness.check_inputs_untouched(_around(method.kernel, _editing), _humid())


@pytest.mark.parametrize("constant", ["WET_AT_C", "DRY_AT_C"])
@pytest.mark.parametrize("off_c", [-0.15, 0.15])
def test_a_wetness_threshold_that_is_off_is_caught(monkeypatch: Patch, constant: str, off_c: float) -> None:
    from forecast.wetness import dew_point_depression

    monkeypatch.setattr(dew_point_depression, constant, getattr(dew_point_depression, constant) + off_c)
    with pytest.raises(AssertionError):
        test_wetness.check_hysteresis_by_hand()
