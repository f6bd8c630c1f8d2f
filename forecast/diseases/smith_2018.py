"""Dollar spot by the logistic model of Smith et al. 2018."""

from __future__ import annotations

import numpy as np

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Range, Step
from forecast.panel import Floats


def dollar_spot_probability(
    relative_humidity_pct_mean_5_days: Floats,
    air_temperature_c_mean_5_days: Floats,
    *,
    base: float,
    per_pct: float,
    per_c: float,
) -> Floats:
    """The model's probability, 0 to 1, from five-day means of relative humidity (%) and air temperature (°C)."""
    logit = base + per_pct * relative_humidity_pct_mean_5_days + per_c * air_temperature_c_mean_5_days
    return 1 / (1 + np.exp(-logit))


def _case(humidity_pct: float, mean_c: float, answer: float) -> Case:
    given = {
        "relative_humidity_pct_mean_5_days": humidity_pct,
        "air_temperature_c_mean_5_days": mean_c,
    }
    by = f"1/(1 + exp(11.4041 − 0.0894 × {humidity_pct:g} − 0.1932 × {mean_c:g}))"
    return Case(given, answer, within=5e-5, by=by)


SMITH_2018 = DiseaseModel(
    key="smith_2018",
    name="five-day logistic model",
    disease="dollar_spot",
    pathogen="Clarireedia spp.",
    grasses=("creeping_bentgrass",),
    inputs=(
        Daily("relative_humidity_pct", "mean", day_end_hour=24, trailing_days=5),
        Daily("air_temperature_c", "mean", day_end_hour=24, trailing_days=5),
    ),
    coefficients={
        "base": Coefficient(-11.4041, "1", -13.0, -10.0),
        "per_pct": Coefficient(0.0894, "%⁻¹", 0.06, 0.12),
        "per_c": Coefficient(0.1932, "°C⁻¹", 0.13, 0.26),
    },
    kernel=dollar_spot_probability,
    answer="probability",
    threshold=0.20,
    threshold_words="the five-day dollar spot model reaches 20 %",
    steps=(Step(0.20, "the authors' spray threshold"), Step(0.50, "well above the threshold")),
    valid={
        "air_temperature_c_mean_5_days": Range(
            10.0, 35.0, "withhold", "the model's stated range of 10 to 35 °C (read second-hand)"
        )
    },
    standing="reported",
    source=(
        "Smith, Kerns, Walker, Payne, Horvath, Inguagiato, Kaminski, Tomaso-Peterson & Koch 2018, PLoS ONE "
        "13(3):e0194216; the coefficients were read second-hand"
    ),
    cases=(
        _case(60, 10, 0.0162),
        _case(70, 15, 0.0955),
        _case(75, 20, 0.3026),
        _case(80, 20, 0.4042),
        _case(85, 20, 0.5147),
        _case(80, 25, 0.6406),
        _case(90, 25, 0.8133),
        _case(95, 30, 0.9471),
    ),
    notes=(
        "Five calendar days, today among them. At 25 °C it passes from 58 % humidity on, so humid summers pass "
        "nearly every day: that is the model. Resistant cultivars bear a higher threshold. In a test of 2016 it told "
        "more disease than came (USGA and Rutgers note of 2017, read second-hand)."
    ),
)
