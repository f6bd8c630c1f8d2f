"""What every disease model owes, as plain functions: run on the catalogue, and on models slipped on purpose."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from forecast.diseases import DiseaseModel
from forecast.panel import Floats
from forecast.quantities import QUANTITIES
from forecast.turf import DISEASES, GRASSES

NAN = math.nan

# The hour of standard time at which each model's day ends: design choices, stated once more here so that a
# changed declaration is seen.
DAY_ENDS = {"fidanza_1996": 6, "warm_wet_night": 12, "smith_2018": 24}


def unequal_days(model: DiseaseModel, days: int = 300) -> dict[str, Floats]:
    """Days of three series that have nothing in common, within what the inputs can be; shape (days, series)."""
    rng = np.random.default_rng(20310701)  # any seed
    given = {}
    for daily in model.inputs:
        if daily.quantity == "leaf_wet_fraction":
            given[daily.name] = rng.integers(0, 25, (days, 3)).astype(np.float64)
        else:
            low, high = {"relative_humidity_pct": (40.0, 100.0), "air_temperature_c": (11.0, 30.0)}[daily.quantity]
            given[daily.name] = rng.uniform(low, high, (days, 3))
    return given


def check_cases(model: DiseaseModel) -> None:
    """Every worked case comes out within its tolerance."""
    for case in model.cases:
        found = model.evaluate({name: np.array([figure]) for name, figure in case.given.items()}).answer
        assert abs(found[0] - case.answer) <= case.within, (case, found)


def check_enough_cases(model: DiseaseModel) -> None:
    """One case pins one combination, so there are at least as many as coefficients."""
    assert len(model.cases) >= len(model.coefficients)


def check_cases_hold_every_coefficient(model: DiseaseModel) -> None:
    """No coefficient can be off by 1 % or have the wrong sign without a worked case failing.

    Wet hours are whole, so a limit in hours is moved by a whole hour both ways: 1 % of it, six minutes, changes
    no answer one way.
    """
    for name, number in model.coefficients.items():
        step = 1.0 if number.unit == "h" else 0.01 * number.value
        for slipped in (number.value + step, number.value - step, -number.value):
            changed = {**model.coefficients, name: replace(number, value=slipped)}
            assert fails(check_cases, replace(model, coefficients=changed)), (model.key, name, slipped)


def check_unknown_stays_unknown(model: DiseaseModel) -> None:
    """An unknown input gives an unknown answer, on its own day and no other."""
    whole = unequal_days(model, days=30)
    answer = model.evaluate(whole).answer
    assert not np.isnan(answer).any()
    for name in whole:
        holed = {key: array.copy() for key, array in whole.items()}
        holed[name][4, 1] = NAN
        found = model.evaluate(holed)
        assert np.isnan(found.answer[4, 1]), name
        assert np.isnan(found.as_printed[4, 1]), name
        assert np.isnan(model.passed(found.answer, found.withheld)[4, 1]), name
        assert np.isnan(found.answer).sum() == 1, name


def check_shapes(model: DiseaseModel) -> None:
    """Days; days and series; days, series and members: the answer is shaped as the inputs are."""
    given = unequal_days(model)
    together = model.evaluate(given).answer
    assert together.shape == (300, 3)
    single = model.evaluate({name: array[:, 0] for name, array in given.items()}).answer
    np.testing.assert_array_equal(single, together[:, 0])
    mirrored = {name: np.stack([array, array[:, ::-1]], axis=2) for name, array in given.items()}
    members = model.evaluate(mirrored)
    for array in (members.answer, members.as_printed, members.outside, members.withheld):
        assert array.shape == (300, 3, 2)
    np.testing.assert_array_equal(members.answer[..., 1], together[:, ::-1])


def check_series_apart(model: DiseaseModel) -> None:
    """Each series alone equals the series in company; the series differ, else mixing would not show."""
    given = unequal_days(model)
    together = model.evaluate(given).answer
    for column in range(3):
        alone = model.evaluate({name: array[:, column : column + 1] for name, array in given.items()}).answer
        np.testing.assert_array_equal(alone[:, 0], together[:, column])
        assert (together[:, column] != together[:, (column + 1) % 3]).any()


def check_inputs_untouched(model: DiseaseModel) -> None:
    """A model reads its inputs and does not write in them."""
    given = unequal_days(model)
    before = {name: array.copy() for name, array in given.items()}
    model.evaluate(given)
    for name, array in given.items():
        np.testing.assert_array_equal(array, before[name], err_msg=name)


def check_day(model: DiseaseModel) -> None:
    """The model's day ends when the design says it does."""
    assert {daily.day_end_hour for daily in model.inputs} == {DAY_ENDS[model.key]}


def check_declaration(model: DiseaseModel) -> None:
    """Keys known, source dated, bounds around every number, ladder rising and standing on the threshold."""
    assert model.kernel.__module__.rsplit(".", 1)[-1] == model.key
    assert re.search(r"\b(19|20)\d\d\b", model.source)
    assert model.grasses
    assert set(model.grasses) <= set(GRASSES)
    assert set(model.grasses) <= set(DISEASES[model.disease].grasses)
    for coefficient in model.coefficients.values():
        assert coefficient.low < coefficient.value < coefficient.high
        assert coefficient.low * coefficient.high > 0  # tuning may not turn an effect round
    for daily in model.inputs:
        limits = model.valid.get(daily.name)
        if limits is not None:
            quantity = QUANTITIES[daily.quantity]
            assert quantity.least <= limits.low < limits.high <= quantity.most
            assert limits.source
    rungs = [step.at for step in model.steps]
    assert rungs == sorted(set(rungs))
    assert model.threshold in rungs
    if model.answer == "class":
        assert set(rungs) == {case.answer for case in model.cases}
    assert all((model.name, model.pathogen, model.threshold_words, model.notes))


def fails(check: Callable[[DiseaseModel], None], model: DiseaseModel) -> bool:
    """Whether a check finds fault with a model."""
    try:
        check(model)
    except AssertionError:
        return True
    return False
