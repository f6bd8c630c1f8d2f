"""What every disease model owes, as plain functions: run on the catalogue, and on models slipped on purpose."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from forecast.daily import COUNTS
from forecast.diseases import DiseaseModel
from forecast.diseases.declare import Case, Daily, Hourly
from forecast.diseases.pressure import Pressure, pressure
from forecast.panel import Floats, observed
from forecast.quantities import QUANTITIES
from forecast.turf import DISEASES, GRASSES

NAN = math.nan
HOURS = 300

# The hour of standard time at which each model's day ends: design choices, stated once more here so that a
# changed declaration is seen.
DAY_ENDS = {
    "fidanza_1996": 6,
    "fidanza_1996_conditions": 6,
    "warm_wet_night": 12,
    "schumann_1994": 12,
    "brown_patch_infection": 12,
    "smith_2018": 24,
    "nutter_1983": 12,
    "shane_1994": 12,
    "gray_leaf_spot_st_augustine": 12,
    "gray_leaf_spot_infection": 12,
    "danneberger_1984": 24,
    "large_patch_autumn": 24,
    "large_patch_spring": 24,
    "spring_dead_spot_autumn": 24,
    "summer_patch_spring": 24,
    "microdochium_cool_wet": 24,
    "gray_snow_mold_cover": 24,
    "pfender_2003": 12,
    "take_all_window": 24,
}

# Models for which a warmer night may well score lower, and why.
COOL_WEATHER = {
    "large_patch_autumn": "a window of cooling soil: the fungus is suppressed in heat (Green et al. 1993)",
    "large_patch_spring": "a window of warming soil that closes before summer (Green et al. 1993)",
    "spring_dead_spot_autumn": "a window of cooling soil before dormancy (Hutchens et al. 2024)",
    "summer_patch_spring": "a window in which treatments start, closed on purpose once soil is warm",
    "microdochium_cool_wet": "a disease of 0 to 15.5 °C (extension notes)",
    "gray_snow_mold_cover": "a disease under snow (extension notes)",
    "take_all_window": "a disease of cool wet soil (UC IPM)",
}

# What inputs are drawn from: wide enough that every model passes on some and not on others.
_DRAWN = {
    "air_temperature_c": (11.0, 30.0),
    "relative_humidity_pct": (60.0, 100.0),
    "soil_temperature_5cm_c": (8.0, 28.0),
    "soil_temperature_10cm_c": (6.0, 26.0),
    "rain_mm": (0.0, 20.0),
    "water_on_turf_mm": (0.0, 20.0),
    "snow_depth_mm": (0.0, 60.0),
    "leaf_wet_fraction": (0.0, 1.0),
    "sun_elevation_deg": (-30.0, 60.0),
}
_HIGHEST_C = (24.0, 38.0)  # of a day
_HOURS_OF_A_DAY = (*COUNTS, "wet_hours", "longest_wet_run")


def drawn_range(one: Daily | Hourly) -> tuple[float, float]:
    """The least and the most that an input is drawn from."""
    if isinstance(one, Daily) and one.reduction in _HOURS_OF_A_DAY:
        return 0.0, 24.0
    if isinstance(one, Daily) and one.quantity == "air_temperature_c" and one.reduction in ("max", "peak"):
        return _HIGHEST_C
    return _DRAWN[one.quantity]


def unequal(model: DiseaseModel, days: int = 300) -> dict[str, Floats]:
    """Three series that have nothing in common, within what the inputs can be; shape (days or hours, series)."""
    rng = np.random.default_rng(20310701)  # any seed
    if model.is_hourly:
        hours = _unequal_hours(rng)
        return {one.name: hours[one.quantity] for one in model.inputs}
    given = {}
    for one in model.inputs:
        low, high = drawn_range(one)
        whole = high == 24.0 and one.trailing_days == 1 if isinstance(one, Daily) else False
        given[one.name] = (
            rng.integers(0, 25, (days, 3)).astype(np.float64) if whole else rng.uniform(low, high, (days, 3))
        )
    return given


def _unequal_hours(rng: np.random.Generator) -> dict[str, Floats]:
    """Humid, wet spells with dry ones between them, some short, at warmth that drifts; shape (hours, series)."""
    shape = (HOURS, 3)
    humid = np.zeros(shape, dtype=bool)
    for column in range(3):
        hour = 12
        while hour < HOURS:
            spell, gap = int(rng.integers(2, 17)), int(rng.integers(1, 16))
            humid[hour : hour + spell, column] = True
            hour += spell + gap
    hour_of_day = np.arange(HOURS)[:, None] + np.array([0, 7, 15])
    return {
        "relative_humidity_pct": np.where(humid, rng.uniform(95.1, 100, shape), rng.uniform(60, 94, shape)),
        "leaf_wet_fraction": np.where(humid, rng.uniform(0.5, 1, shape), rng.uniform(0, 0.49, shape)),
        "air_temperature_c": 23 + 5 * np.sin(hour_of_day / 40) + rng.uniform(-2, 2, shape),
        "soil_temperature_5cm_c": 23 + 3 * np.sin(hour_of_day / 70) + rng.uniform(-1, 1, shape),
        "soil_temperature_10cm_c": 22 + 3 * np.sin(hour_of_day / 70) + rng.uniform(-1, 1, shape),
        "rain_mm": np.where(rng.random(shape) < 0.06, rng.uniform(0.2, 4, shape), 0.0),
        "water_on_turf_mm": np.where(rng.random(shape) < 0.06, rng.uniform(0.2, 4, shape), 0.0),
        "snow_depth_mm": np.zeros(shape),
        "sun_elevation_deg": 20 + 40 * np.sin(hour_of_day * 2 * np.pi / 24),
    }


def evaluated(model: DiseaseModel, case: Case) -> tuple[float, float]:
    """A case's answer and the figure as printed: of hours, the highest of each."""
    given = {name: np.atleast_1d(np.asarray(figures, dtype=np.float64)) for name, figures in case.given.items()}
    found = model.evaluate(given)
    return float(np.fmax.reduce(found.answer)), float(np.fmax.reduce(found.as_printed))


def check_cases(model: DiseaseModel) -> None:
    """Every worked case comes out within its tolerance, and as printed where the case says how that differs."""
    for case in model.cases:
        answer, printed = evaluated(model, case)
        assert abs(answer - case.answer) <= case.within, (case, answer)
        if case.printed is not None:
            assert abs(printed - case.printed) <= case.within, (case, printed)


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
    """What is known although a reading is unknown would be the same whatever that reading was; nothing else moves.

    A formula of all its inputs is unknown wherever one of them is. A rule of conditions is known where the others
    decide; over all days, each of its inputs is missed on some.
    """
    whole = unequal(model)
    if model.is_hourly:
        _check_unknown_hours(model, whole)
        return
    base = model.evaluate(whole)
    assert not (np.isnan(base.answer) & ~base.withheld).any()
    odd = np.arange(len(base.answer)) % 2 == 1
    for one in model.inputs:
        holed = _with_figure(whole, one.name, NAN, odd)
        found = model.evaluate(holed)
        passed = model.passed(found.answer, found.withheld)
        for figure in np.linspace(*drawn_range(one), 9):
            filled = model.evaluate(_with_figure(whole, one.name, float(figure), odd))
            _agree_where_known(found.answer, filled.answer)
            _agree_where_known(found.as_printed, filled.as_printed)
            _agree_where_known(passed, model.passed(filled.answer, filled.withheld))
        assert np.isnan(passed[odd, 1]).any(), one.name
        if model.answer != "class":
            assert np.isnan(found.answer[odd, 1]).all(), one.name
            assert np.isnan(found.as_printed[odd, 1]).all(), one.name
        untouched = np.ones(base.answer.shape, dtype=bool)
        untouched[odd, 1] = False
        np.testing.assert_array_equal(found.answer[untouched], base.answer[untouched], err_msg=one.name)


def _check_unknown_hours(model: DiseaseModel, whole: dict[str, Floats]) -> None:
    """One unknown hour at a time, in as many members as there are such hours."""
    base = model.evaluate(whole)
    assert np.isnan(base.answer).mean() < 0.3  # before the first hour nothing is known, so some begin unknown
    rows = np.arange(40, HOURS - 30, 3)
    members = {name: np.repeat(array[:, :, None], len(rows), axis=2) for name, array in whole.items()}
    expected = np.repeat(base.answer[:, :, None], len(rows), axis=2)
    at = (rows, 1, np.arange(len(rows)))
    for one in model.inputs:
        found = model.evaluate(_with_figure(members, one.name, NAN, at))
        for figure in np.linspace(*drawn_range(one), 6):
            filled = model.evaluate(_with_figure(members, one.name, float(figure), at))
            _agree_where_known(found.answer, filled.answer)
            _agree_where_known(found.as_printed, filled.as_printed)
        np.testing.assert_array_equal(found.answer[:, (0, 2)], expected[:, (0, 2)], err_msg=one.name)
        for member, row in enumerate(rows):
            np.testing.assert_array_equal(found.answer[:row, 1, member], expected[:row, 1, member], err_msg=one.name)
        missed = np.isnan(found.answer) & ~np.isnan(expected)
        assert missed.any(), one.name
        assert (~missed).any(axis=0).all(), one.name  # an unknown hour does not spoil all that follow


def _with_figure(given: dict[str, Floats], name: str, figure: float, at: Any) -> dict[str, Floats]:
    """Copies of inputs with one figure at some places: rows of the middle series, or a whole index."""
    changed = {key: array.copy() for key, array in given.items()}
    changed[name][at if isinstance(at, tuple) else (at, 1)] = figure
    return changed


def _agree_where_known(found: Floats, filled: Floats) -> None:
    known = ~np.isnan(found)
    np.testing.assert_allclose(found[known], filled[known], rtol=0, atol=1e-9)  # running sums leave a hair


def check_no_row_looks_ahead(model: DiseaseModel) -> None:
    """What is told of the first rows does not change with rows that come after."""
    whole = unequal(model)
    together = model.evaluate(whole)
    for rows in range(50, 300, 10):
        first = model.evaluate({name: array[:rows] for name, array in whole.items()})
        np.testing.assert_array_equal(first.answer, together.answer[:rows])
        np.testing.assert_array_equal(first.as_printed, together.as_printed[:rows])


def check_shapes(model: DiseaseModel) -> None:
    """Days; days and series; days, series and members: the answer is shaped as the inputs are."""
    given = unequal(model)
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
    given = unequal(model)
    together = model.evaluate(given).answer
    for column in range(3):
        alone = model.evaluate({name: array[:, column : column + 1] for name, array in given.items()}).answer
        np.testing.assert_array_equal(alone[:, 0], together[:, column])
        other = together[:, (column + 1) % 3]
        assert (together[:, column] < other).any() or (together[:, column] > other).any()


def check_passes_on_some(model: DiseaseModel) -> None:
    """The drawn inputs lie to both sides of the threshold, else the other checks would see little of the model."""
    found = model.evaluate(unequal(model))
    passed = model.passed(found.answer, found.withheld)
    assert (passed == 1).any()
    assert (passed == 0).any()


def check_inputs_untouched(model: DiseaseModel) -> None:
    """A model reads its inputs and does not write in them."""
    given = unequal(model)
    before = {name: array.copy() for name, array in given.items()}
    model.evaluate(given)
    for name, array in given.items():
        np.testing.assert_array_equal(array, before[name], err_msg=name)


def check_day(model: DiseaseModel) -> None:
    """The model's day ends when the design says it does."""
    assert {one.day_end_hour for one in model.inputs} == {DAY_ENDS[model.key]}


def hot_wet_nights(model: DiseaseModel) -> Pressure:
    """Twelve days alike at 98 % humidity with 14 wet hours and rain, a series for each night from 24 to 30 °C."""
    nights_c = np.arange(24, 30.01, 0.5)
    hour = np.arange(12 * 24)
    of_day = hour % 24  # 0 is the hour that ends at midnight
    night = (of_day >= 21) | (of_day <= 10)
    warmer_by_day_c = np.where(night, 0.0, 6 * np.sin((of_day - 10) / 11 * np.pi))
    each = np.ones(nights_c.shape)
    values = {
        "air_temperature_c": nights_c + warmer_by_day_c[:, None],
        "relative_humidity_pct": 98.0 * np.ones(hour.shape)[:, None] * each,
        "leaf_wet_fraction": night.astype(np.float64)[:, None] * each,
        "rain_mm": np.where(of_day == 18, 4.0, 0.0)[:, None] * each,
        "water_on_turf_mm": np.where(of_day == 18, 4.0, 0.0)[:, None] * each,
        "soil_temperature_5cm_c": nights_c + np.zeros(hour.shape)[:, None],
        "soil_temperature_10cm_c": nights_c + np.zeros(hour.shape)[:, None],
        "snow_depth_mm": np.zeros((*hour.shape, *nights_c.shape)),
        "sun_elevation_deg": 50 * np.sin((of_day - 6) / 12 * np.pi)[:, None] * each,
    }
    # Humid nights end a spell only where the air dries: one hour a day at noon, so that rules of spells see one a day.
    values["relative_humidity_pct"][of_day == 12] = 60.0
    stamps = np.datetime64("2031-07-01T00", "h") + hour
    return pressure(model, observed(stamps, tuple(f"{c:g} °C" for c in nights_c), values), 0)


def check_hot_wet_nights_never_read_safer(model: DiseaseModel) -> None:
    """Among wet nights from 24 to 30 °C, a hotter one scores no lower and is never left without an answer."""
    found = hot_wet_nights(model)
    row = found.row(int(np.datetime64("2031-07-10", "D").astype(np.int64)))
    assert row is not None
    assert not np.isnan(found.answer[row]).any()
    assert (np.diff(found.answer[row]) >= -1e-9).all(), found.answer[row]
    assert (np.diff(found.passed[row]) >= 0).all(), found.passed[row]


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
    for one in model.inputs:
        limits = model.valid.get(one.name)
        if limits is not None:
            quantity = QUANTITIES[one.quantity]
            assert quantity.least <= limits.low < limits.high <= quantity.most
            assert limits.source
    rungs = [step.at for step in model.steps]
    assert rungs == sorted(set(rungs))
    assert model.threshold in rungs
    if model.answer == "class":
        assert set(rungs) == {case.answer for case in model.cases}
    assert all((model.name, model.pathogen, model.threshold_words, model.notes))


def fails(check: Callable[[DiseaseModel], None], model: DiseaseModel) -> bool:
    """Whether a check finds fault with a model, or the model's kernel refuses the numbers it was given."""
    try:
        check(model)
    except (AssertionError, ValueError):
        return True
    return False
