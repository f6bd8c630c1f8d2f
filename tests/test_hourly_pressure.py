"""Models that run hour by hour: their day is the highest of its hours, and unknown where an unknown hour might pass."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forecast.diseases.brown_patch_infection import BROWN_PATCH_INFECTION
from forecast.diseases.declare import Coefficient, DiseaseModel, Hourly, Range, Step
from forecast.diseases.pressure import Pressure, pressure
from forecast.diseases.schumann_1994 import SCHUMANN_1994
from forecast.panel import Floats, observed

NAN = math.nan
JULY_1 = int(np.datetime64("2031-07-01", "D").astype(np.int64))


def _as_it_is(air_temperature_c: Floats, *, added_c: float) -> Floats:
    return air_temperature_c + added_c


def _model(outside: Range | None = None, day_end_hour: int = 24) -> DiseaseModel:
    """A model whose answer is the temperature, with a threshold of 25."""
    return DiseaseModel(
        key="as_it_is",
        name="made up for this test",
        disease="brown_patch",
        pathogen="none",
        grasses=("tall_fescue",),
        inputs=(Hourly("air_temperature_c", day_end_hour, "mean"),),
        coefficients={"added_c": Coefficient(0.0, "°C", -1.0, 1.0)},
        kernel=_as_it_is,
        answer="index",
        threshold=25.0,
        threshold_words="it is warm",
        steps=(Step(25.0, "warm"),),
        valid={} if outside is None else {"air_temperature_c": outside},
        standing="provisional",
        source="made up",
        cases=(),
        notes="made up",
    )


def _run(model: DiseaseModel, hours: list[float] | Floats, first: str = "2031-07-01T01") -> Pressure:
    column = np.asarray(hours, dtype=np.float64)
    shaped = column[:, None] if column.ndim == 1 else column
    stamps = np.datetime64(first, "h") + np.arange(len(shaped))
    series = ("alder", "birch", "cedar")[: shaped.shape[1]]
    return pressure(model, observed(stamps, series, {"air_temperature_c": shaped}), 0)


def _day(*changed: tuple[int, float], level: float = 20.0) -> list[float]:
    hours = [level] * 24
    for hour, figure in changed:
        hours[hour] = figure
    return hours


def test_the_answer_of_a_day_is_its_highest_hour() -> None:
    found = _run(_model(), [*_day((3, 24.0)), *_day((0, 26.0), (23, 23.0))])
    assert found.days.tolist() == [JULY_1, JULY_1 + 1]
    assert found.answer[:, 0].tolist() == [24.0, 26.0]
    assert found.passed[:, 0].tolist() == [0.0, 1.0]
    assert found.hours_known[:, 0].tolist() == [24, 24]


def test_the_input_shown_is_the_days_own_reduction() -> None:
    found = _run(_model(), _day((3, 44.0)))
    assert found.inputs["air_temperature_c"].tolist() == [[21.0]]  # (23 × 20 + 44)/24


def test_the_day_is_the_models_own() -> None:
    # The last stamp of a day ending at noon, and the first of the next.
    hours = [*_day(), *_day((11, 26.0), (12, 27.0))]
    found = _run(_model(day_end_hour=12), hours, first="2031-06-30T13")
    assert found.days.tolist() == [JULY_1, JULY_1 + 1]
    assert found.answer[:, 0].tolist() == [20.0, 27.0]
    found = _run(_model(day_end_hour=12), hours, first="2031-07-01T01")  # a day later by twelve hours
    np.testing.assert_array_equal(found.answer[:, 0], [NAN, 26.0, NAN])


def test_an_unknown_hour_makes_an_unknown_day_unless_another_passes() -> None:
    found = _run(_model(), [*_day((5, NAN)), *_day((5, NAN), (9, 25.0)), *_day((5, NAN), (9, 24.9))])
    np.testing.assert_array_equal(found.answer[:, 0], [NAN, 25.0, NAN])
    np.testing.assert_array_equal(found.passed[:, 0], [NAN, 1.0, NAN])
    np.testing.assert_array_equal(found.as_printed[:, 0], [NAN, 25.0, NAN])


def test_a_day_with_too_few_hours_is_unknown_though_one_passes() -> None:
    found = _run(_model(), _day((1, NAN), (2, NAN), (3, NAN), (9, 30.0)))
    assert found.hours_known.tolist() == [[21]]
    assert np.isnan(found.answer).all()
    assert np.isnan(found.passed).all()


def test_hours_that_the_model_does_not_speak_of_do_not_count() -> None:
    model = _model(Range(15.0, 30.0, "withhold", "made up"))
    found = _run(model, [*_day((4, 31.0)), *_day(level=31.0), *_day((4, 26.0), level=31.0)])
    np.testing.assert_array_equal(found.answer[:, 0], [20.0, NAN, 26.0])
    assert found.passed[:, 0].tolist() == [0.0, 0.0, 1.0]  # a day of which it speaks of no hour does not pass
    assert found.outside[:, 0].tolist() == [True, True, True]
    assert found.as_printed[:, 0].tolist() == [31.0, 31.0, 31.0]


def test_an_unknown_hour_among_hours_not_spoken_of_is_unknown() -> None:
    model = _model(Range(15.0, 30.0, "withhold", "made up"))
    found = _run(model, _day((4, NAN), level=31.0))
    assert np.isnan(found.answer).all()
    assert np.isnan(found.passed).all()


def test_a_held_hour_marks_its_day() -> None:
    model = _model(Range(-80.0, 22.0, "hold", "made up"))
    found = _run(model, [*_day((4, 22.0)), *_day((4, 22.1))])
    assert found.answer[:, 0].tolist() == [22.0, 22.0]
    assert found.as_printed[:, 0].tolist() == [22.0, 22.1]
    assert found.outside[:, 0].tolist() == [False, True]


def test_heat_over_dry_leaves_marks_no_day() -> None:
    # Dry at 33 °C all day: outside the range by its input, without any effect on the answer.
    hours = 72
    panel = observed(
        np.datetime64("2031-06-30T13", "h") + np.arange(hours),
        ("alder",),
        {"air_temperature_c": np.full((hours, 1), 33.0), "leaf_wet_fraction": np.zeros((hours, 1))},
    )
    found = pressure(BROWN_PATCH_INFECTION, panel, 0)
    assert not found.outside.any()
    assert (found.answer == 0).all()


def test_what_the_place_does_not_know_at_all_is_unknown() -> None:
    hours = 72
    panel = observed(
        np.datetime64("2031-06-30T13", "h") + np.arange(hours),
        ("alder",),
        {"air_temperature_c": np.full((hours, 1), 22.0), "relative_humidity_pct": np.full((hours, 1), 99.0)},
    )
    found = pressure(BROWN_PATCH_INFECTION, panel, 0)
    assert np.isnan(found.passed).all()
    assert (found.hours_known == 0).all()
    assert np.isnan(pressure(SCHUMANN_1994, panel, 0).passed[0]).all()


@pytest.mark.parametrize("model", [BROWN_PATCH_INFECTION, SCHUMANN_1994], ids=lambda model: model.key)
def test_series_and_members_stay_apart_through_the_days(model: DiseaseModel) -> None:
    rng = np.random.default_rng(8)
    shape = (24 * 12, 3)
    humid = (np.arange(shape[0])[:, None] + np.array([0, 5, 11])) % 24 < np.array([8, 11, 13])
    values = {
        "air_temperature_c": rng.uniform(18, 26, shape),
        "soil_temperature_5cm_c": rng.uniform(21, 26, shape),
        "relative_humidity_pct": np.where(humid, 97.0, 80.0),
        "leaf_wet_fraction": humid.astype(np.float64),
        "water_on_turf_mm": np.where(rng.random(shape) < 0.1, 3.0, 0.0),
    }
    stamps = np.datetime64("2031-07-01T00", "h") + np.arange(shape[0])
    series = ("alder", "birch", "cedar")
    together = pressure(model, observed(stamps, series, values), -300)
    assert (together.passed == 1).any()
    for column in range(3):
        one = {name: array[:, column : column + 1] for name, array in values.items()}
        alone = pressure(model, observed(stamps, series[column : column + 1], one), -300)
        np.testing.assert_array_equal(alone.answer[:, 0], together.answer[:, column])
        np.testing.assert_array_equal(alone.passed[:, 0], together.passed[:, column])
    both = {name: np.stack([array, array[:, ::-1]], axis=2) for name, array in values.items()}
    members = pressure(model, observed(stamps, series, both), -300)
    for found, other in ((members.answer, together.answer), (members.passed, together.passed)):
        np.testing.assert_array_equal(found[..., 0], other)
        np.testing.assert_array_equal(found[..., 1], other[:, ::-1])
