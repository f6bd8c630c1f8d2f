"""The anthracnose index: the paper's surface, where it may be used, and three days of hours turned into an answer."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forecast.diseases.danneberger_1984 import DANNEBERGER_1984
from forecast.diseases.declare import Evaluation
from forecast.diseases.events import event_for
from forecast.diseases.pressure import pressure
from forecast.panel import Floats, observed

NAN = math.nan


def _printed(wet_h: float, mean_c: float) -> float:
    """The equation as the abstract prints it (Danneberger, Vargas & Jones 1984, Phytopathology 74:448-451)."""
    return (
        4.0233 - 0.2283 * wet_h - 0.5308 * mean_c - 0.0013 * wet_h**2 + 0.0197 * mean_c**2 + 0.0155 * (wet_h * mean_c)
    )


def _evaluate(wet_h: Floats | float, mean_c: Floats | float) -> Evaluation:
    wet, mean = np.broadcast_arrays(np.atleast_1d(wet_h).astype(float), np.atleast_1d(mean_c).astype(float))
    return DANNEBERGER_1984.evaluate(
        {"leaf_wet_fraction_wet_hours_3_days": wet, "air_temperature_c_mean_3_days": mean},
    )


# Wet hours a day, mean temperature, the equation to four decimals by hand.
TABLE = [(10, 20, 1.9743), (12, 22, 3.0457), (14, 25, 5.0398), (16, 22, 3.3509), (24, 28, 8.7937), (24, 15, -0.1542)]


@pytest.mark.parametrize(("wet_h", "mean_c", "index"), TABLE)
def test_the_index_is_that_of_the_table_within_its_classes(wet_h: float, mean_c: float, index: float) -> None:
    assert _printed(wet_h, mean_c) == pytest.approx(index, abs=5e-5)  # half of the table's last digit
    assert _evaluate(wet_h, mean_c).as_printed[0] == pytest.approx(min(max(index, 1.0), 6.0), abs=5e-5)


@pytest.mark.parametrize(("wet_h", "mean_c", "passes"), [(10, 20, 0.0), (12, 22, 1.0), (24, 28, 1.0), (0, 19, 0.0)])
def test_a_day_passes_from_the_authors_least_for_infection_on(wet_h: float, mean_c: float, passes: float) -> None:
    assert (_printed(wet_h, mean_c) >= 2) == bool(passes)
    found = _evaluate(wet_h, mean_c)
    assert DANNEBERGER_1984.passed(found.answer, found.withheld)[0] == passes


def test_wetter_never_scores_lower_where_the_model_speaks() -> None:
    # d(index)/d(wet hours) = −0.2283 − 0.0026 LW + 0.0155 T; at 24 wet hours it is 0 at 0.2907/0.0155 = 18.7548 °C.
    wet, mean = np.meshgrid(np.arange(0, 24.5, 0.5), np.arange(18.76, 36, 0.5))
    assert (-0.2283 - 0.0026 * wet + 0.0155 * mean > 0).all()
    answer = _evaluate(wet.ravel(), mean.ravel()).answer.reshape(wet.shape)
    assert (np.diff(answer, axis=1) >= 0).all()
    assert (np.diff(answer, axis=0) >= 0).all()
    # Just below, the printed surface turns round.
    assert _printed(24, 18.7) < _printed(23.9, 18.7)


def test_colder_than_that_it_does_not_speak_and_the_day_does_not_pass() -> None:
    found = _evaluate(20.0, np.array([18.75, 18.76, NAN]))
    assert found.withheld.tolist() == [True, False, False]
    assert np.isnan(found.answer).tolist() == [True, False, True]
    np.testing.assert_array_equal(DANNEBERGER_1984.passed(found.answer, found.withheld), [0.0, 0.0, NAN])


def test_no_warning_is_lost_by_not_speaking() -> None:
    # From 5 °C to the edge the printed index stays below 2 at any wetness. At 4 °C and dry, where nothing could
    # infect, it would pass: 4.0233 − 2.1232 + 0.3152 = 2.2153.
    wet, mean = np.meshgrid(np.arange(0, 24.1, 0.1), np.arange(5, 18.76, 0.05))
    assert (np.vectorize(_printed)(wet, mean) < 2).all()
    assert _printed(0, 4) == pytest.approx(2.2153, abs=5e-5)
    found = _evaluate(0.0, 4.0)
    assert DANNEBERGER_1984.passed(found.answer, found.withheld)[0] == 0.0


def test_what_the_notes_say_of_hot_and_of_mild_days_is_so() -> None:
    # At no wet hour: 0.0197 T² − 0.5308 T + 2.0233 = 0 at T = (0.5308 + √(0.28175 − 0.15944))/0.0394 = 22.349 °C.
    assert _printed(0, 22.34) < 2 < _printed(0, 22.36)
    assert _printed(10.4, 20) < 2 < _printed(10.5, 20)
    assert "22.4 °C" in DANNEBERGER_1984.notes
    assert "ten and a half" in DANNEBERGER_1984.notes


def test_three_calendar_days_of_hours_become_an_index() -> None:
    # Wet hours 10, 12 and 14: mean 12. Temperatures 21, 22 and 23: mean 22. Index 3.0457 on the third day only.
    wet = np.concatenate([np.repeat([1.0, 0.0], [n, 24 - n]) for n in (10, 12, 14)])
    air = np.repeat([21.0, 22.0, 23.0], 24)
    hours = np.datetime64("2031-07-01T06", "h") + np.arange(72)  # 01:00 to 24:00 at UTC−5
    panel = observed(hours, ("alder",), {"leaf_wet_fraction": wet[:, None], "air_temperature_c": air[:, None]})
    found = pressure(DANNEBERGER_1984, panel, -300)
    np.testing.assert_allclose(found.answer[:, 0], [NAN, NAN, 3.0457], rtol=0, atol=5e-5)
    holed = wet.copy()
    holed[30] = NAN  # one hour of the second day
    panel = observed(hours, ("alder",), {"leaf_wet_fraction": holed[:, None], "air_temperature_c": air[:, None]})
    assert np.isnan(pressure(DANNEBERGER_1984, panel, -300).answer).all()


def test_it_decides_on_annual_bluegrass_only() -> None:
    assert DANNEBERGER_1984 in event_for("anthracnose", "annual_bluegrass").deciding
    assert DANNEBERGER_1984 in event_for("anthracnose", "creeping_bentgrass").beside
