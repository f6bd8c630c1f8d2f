"""What one input would have to be for a day to fall on the other side of a model's threshold."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from forecast.diseases import MODELS, DiseaseModel
from forecast.diseases.brown_patch_infection import BROWN_PATCH_INFECTION
from forecast.diseases.crossing import Crossing, crossings
from forecast.diseases.declare import Range
from forecast.diseases.fidanza_1996 import FIDANZA_1996
from forecast.diseases.nutter_1983 import NUTTER_1983
from forecast.diseases.smith_2018 import SMITH_2018
from forecast.diseases.warm_wet_night import WARM_WET_NIGHT

NAN = math.nan
HUMIDITY, LOWEST = "relative_humidity_pct_mean", "air_temperature_c_min"
HUMIDITY_5, MEAN_5 = "relative_humidity_pct_mean_5_days", "air_temperature_c_mean_5_days"


def _of(model: DiseaseModel, *figures: float) -> dict[str, Crossing | None]:
    return dict(crossings(model, {one.name: figure for one, figure in zip(model.inputs, figures, strict=True)}))


def _to(model: DiseaseModel, name: str, *figures: float) -> tuple[Any, str]:
    """Where an input's crossing lies and which way, after a look that it does cross."""
    crossing = _of(model, *figures)[name]
    assert crossing is not None
    given = {one.name: figure for one, figure in zip(model.inputs, figures, strict=True)}
    assert crossing.name == name
    assert crossing.value == given[name]
    assert (crossing.to > crossing.value) == (crossing.direction == "up")
    assert _passes(model, {**given, name: crossing.to}) != _passes(model, given)
    return crossing.to, crossing.direction


def _passes(model: DiseaseModel, given: dict[str, float]) -> float:
    found = model.evaluate({name: np.array([figure]) for name, figure in given.items()})
    return float(model.passed(found.answer, found.withheld)[0])


def test_the_humidity_that_the_brown_patch_index_needs_at_21_2_degrees() -> None:
    # RH = (6 + 21.5 − 1.4 T + 0.033 T²)/0.15 at 21.2 °C: 84.3437 %, printed as 84.35.
    needed = (27.5 - 1.4 * 21.2 + 0.033 * 21.2**2) / 0.15
    assert needed == pytest.approx(84.35, abs=0.01)
    to, direction = _to(FIDANZA_1996, HUMIDITY, 80.0, 21.2)
    assert direction == "up"
    assert to == pytest.approx(needed, abs=1e-6)
    to, direction = _to(FIDANZA_1996, HUMIDITY, 95.0, 21.2)
    assert direction == "down"
    assert to == pytest.approx(needed, abs=1e-6)


def test_the_night_that_the_brown_patch_index_needs_at_90_percent() -> None:
    # The lower root of −0.033 T² + 1.4 T + 0.15 × 90 − 27.5 = 0: 16.14 °C.
    root = (1.4 - math.sqrt(1.4**2 - 4 * 0.033 * 14.0)) / (2 * 0.033)
    assert root == pytest.approx(16.14, abs=0.01)
    assert _to(FIDANZA_1996, LOWEST, 90.0, 12.0) == (pytest.approx(root, abs=1e-6), "up")
    # Held above its peak, a hot night has the way down only, past the peak and the whole hump.
    assert _to(FIDANZA_1996, LOWEST, 90.0, 28.0) == (pytest.approx(root, abs=1e-6), "down")


def test_a_curve_that_comes_down_again_is_crossed_on_its_near_side() -> None:
    # As printed, without the hold: the upper root lies at 26.28 °C.
    root = (1.4 + math.sqrt(1.4**2 - 4 * 0.033 * 14.0)) / (2 * 0.033)
    assert root == pytest.approx(26.28, abs=0.01)
    printed = replace(FIDANZA_1996, valid={})
    assert _to(printed, LOWEST, 90.0, 25.0) == (pytest.approx(root, abs=1e-6), "up")
    assert _to(printed, LOWEST, 90.0, 28.0) == (pytest.approx(root, abs=1e-6), "down")
    assert _to(printed, LOWEST, 90.0, 17.0)[1] == "down"


def test_no_night_makes_dry_air_pass() -> None:
    # Even at its peak the index needs 84.34 %.
    assert _of(FIDANZA_1996, 80.0, 18.0)[LOWEST] is None
    # RH = (27.5 − 1.4 × 12.5 + 0.033 × 12.5²)/0.15 = 101.04 %: more than there is.
    assert _of(FIDANZA_1996, 80.0, 12.5)[HUMIDITY] is None
    assert _to(FIDANZA_1996, HUMIDITY, 80.0, 13.0)[0] == pytest.approx(99.18, abs=0.005)  # the same at 13 °C


@pytest.mark.parametrize(("mean_c", "humidity_pct"), [(15, 79.64), (20, 68.83), (25, 58.03)])
def test_the_humidity_that_the_dollar_spot_model_needs(mean_c: float, humidity_pct: float) -> None:
    needed = (11.4041 + math.log(0.25) - 0.1932 * mean_c) / 0.0894  # logit 0.2 = ln 0.25
    assert needed == pytest.approx(humidity_pct, abs=0.005)
    assert _to(SMITH_2018, HUMIDITY_5, 50.0, mean_c) == (pytest.approx(needed, abs=1e-6), "up")
    assert _to(SMITH_2018, HUMIDITY_5, 90.0, mean_c) == (pytest.approx(needed, abs=1e-6), "down")


def test_a_day_outside_the_models_range_passes_once_it_is_inside() -> None:
    # At 98 % p = 0.20 lies at (11.4041 + ln 0.25 − 0.0894 × 98)/0.1932 = 6.5 °C, below the 10 °C it speaks of.
    assert _to(SMITH_2018, MEAN_5, 98.0, 8.0) == (pytest.approx(10.0, abs=1e-6), "up")
    assert _to(SMITH_2018, MEAN_5, 98.0, 36.0) == (pytest.approx(35.0, abs=1e-6), "down")
    # One inside that passes has no way out over an edge: beyond it the model is silent, and hotter is not safer.
    assert _of(SMITH_2018, 98.0, 12.0)[MEAN_5] is None
    cooler = _of(SMITH_2018, 80.0, 30.0)[MEAN_5]
    assert cooler is not None
    assert cooler.direction == "down"


HIGHEST, HUMID, NIGHT = (one.name for one in NUTTER_1983.inputs)


def test_hours_are_whole_and_limits_that_do_not_count_themselves_are_passed_by_a_hair() -> None:
    assert _to(NUTTER_1983, HUMID, 31.0, 11.0, 21.0) == (14.0, "up")
    assert _to(NUTTER_1983, HUMID, 31.0, 20.0, 21.0) == (13.0, "down")
    to, _ = _to(NUTTER_1983, HIGHEST, 29.0, 14.0, 21.0)
    assert 30.0 < to < 30.0 + 1e-6
    to, _ = _to(NUTTER_1983, NIGHT, 31.0, 14.0, 19.0)
    assert 20.0 < to < 20.0 + 1e-6
    assert _to(NUTTER_1983, NIGHT, 31.0, 14.0, 21.0) == (pytest.approx(20.0, abs=1e-6), "down")


@pytest.mark.parametrize(("needed_h", "humid_h", "to_h"), [(24.0, 20.0, 24.0), (1.0, 5.0, 0.0), (25.0, 20.0, None)])
def test_a_day_has_0_to_24_hours(needed_h: float, humid_h: float, to_h: float | None) -> None:
    changed = replace(NUTTER_1983.coefficients["humid_h"], value=needed_h)
    model = replace(NUTTER_1983, coefficients={**NUTTER_1983.coefficients, "humid_h": changed})
    crossing = _of(model, 31.0, humid_h, 21.0)[HUMID]
    assert (None if crossing is None else crossing.to) == to_h


def test_where_two_conditions_fail_no_single_input_leads_over() -> None:
    assert _of(NUTTER_1983, 29.0, 13.0, 21.0) == {HIGHEST: None, HUMID: None, NIGHT: None}


def test_an_input_stays_in_step_with_the_days_other_figures() -> None:
    # By a rule that asks no heat of the day, a night of 19 °C lacks 20.01, and no day whose highest is 19.9 has that.
    no_heat = replace(NUTTER_1983.coefficients["hot_above_c"], value=10.0)
    mild = replace(NUTTER_1983, coefficients={**NUTTER_1983.coefficients, "hot_above_c": no_heat})
    assert _to(mild, NIGHT, 25.0, 14.0, 19.0) == (pytest.approx(20.0, abs=1e-5), "up")
    assert _of(mild, 19.9, 14.0, 19.0)[NIGHT] is None
    # And no day whose lowest is 30.5 °C has a highest of 30.
    assert _to(NUTTER_1983, HIGHEST, 31.0, 14.0, 29.5) == (pytest.approx(30.0, abs=1e-5), "down")
    assert _of(NUTTER_1983, 31.0, 14.0, 30.5)[HIGHEST] is None
    # Nine hours on end of nine wet ones: a run of ten alone would be longer than all wet hours together.
    run, wet = "leaf_wet_fraction_longest_wet_run", "leaf_wet_fraction_wet_hours"
    assert _of(WARM_WET_NIGHT, 18.0, 9.0, 9.0)[run] is None
    crossing = _of(WARM_WET_NIGHT, 18.0, 9.0, 12.0)[run]
    assert crossing == Crossing(run, 9.0, 10.0, "up")
    # Wet hours cannot be fewer than the run.
    assert _of(WARM_WET_NIGHT, 22.0, 9.0, 11.0)[wet] == Crossing(wet, 11.0, 10.0, "down")
    assert _of(WARM_WET_NIGHT, 22.0, 11.0, 11.0)[wet] is None


def test_an_unknown_day_leads_nowhere() -> None:
    assert _of(FIDANZA_1996, NAN, 20.0) == {HUMIDITY: None, LOWEST: None}
    assert _of(FIDANZA_1996, 90.0, NAN) == {HUMIDITY: None, LOWEST: None}


def test_a_model_that_runs_hour_by_hour_has_no_crossings() -> None:
    assert crossings(BROWN_PATCH_INFECTION, {one.name: 20.0 for one in BROWN_PATCH_INFECTION.inputs}) == {}


@pytest.mark.parametrize("key", [key for key, model in MODELS.items() if not model.is_hourly])
def test_every_crossing_of_every_model_crosses_and_nothing_nearer_does(key: str) -> None:
    model = MODELS[key]
    rng = np.random.default_rng(4)
    found = 0
    for _ in range(12):
        given = {one.name: _drawn(rng, one.name) for one in model.inputs}
        now = _passes(model, given)
        for name, crossing in crossings(model, given).items():
            if crossing is None:
                continue
            found += 1
            assert _passes(model, {**given, name: crossing.to}) == 1 - now
            for share in (0.25, 0.5, 0.9, 0.99):
                nearer = crossing.value + share * (crossing.to - crossing.value)
                if "hours" in name or "run" in name:
                    nearer = float(np.trunc(nearer) if crossing.direction == "up" else np.ceil(nearer))
                assert _passes(model, {**given, name: nearer}) == now, (name, given, crossing)
    assert found


def _drawn(rng: np.random.Generator, name: str) -> float:
    """A figure of an input near where models turn, hours whole."""
    if "hours" in name or "run" in name:
        return float(rng.integers(0, 25))
    low, high = {"relative": (60, 100), "air": (8, 34), "soil": (8, 30), "rain": (0, 20)}[name.partition("_")[0]]
    return float(rng.uniform(low, high))


def test_a_withheld_day_turns_where_the_model_begins_to_speak() -> None:
    model = replace(FIDANZA_1996, valid={LOWEST: Range(-80.0, 22.0, "withhold", "made up for this test")})
    crossing = crossings(model, {HUMIDITY: 95.0, LOWEST: 26.0})[LOWEST]
    assert crossing is not None
    assert crossing.to == pytest.approx(22.0, abs=1e-6)
