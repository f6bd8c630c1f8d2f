"""Anthracnose of annual bluegrass by the severity index of Danneberger, Vargas & Jones 1984."""

from __future__ import annotations

import numpy as np

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Range, Step
from forecast.panel import Floats

_LEAST, _MOST = 1.0, 6.0  # the classes that the index was fitted on

# Where d(index)/d(wet hours) = −0.2283 − 2 × 0.0013 LW + 0.0155 T turns negative for 24 wet hours. Between 5 °C and
# this edge the printed index stays below 2 at any wetness, so that no day that would pass is withheld there; colder
# and nearly dry days would pass, which the fitted curve was never meant for.
_WETTER_IS_WORSE_FROM_C = (0.2283 + 2 * 0.0013 * 24) / 0.0155


def severity_index(
    leaf_wet_fraction_wet_hours_3_days: Floats,
    air_temperature_c_mean_3_days: Floats,
    *,
    base: float,
    per_h: float,
    per_c: float,
    per_h2: float,
    per_c2: float,
    per_h_c: float,
) -> Floats:
    """The anthracnose severity index, 1 to 6, from wet hours a day (h) and air temperature (°C), means over 3 days."""
    wet_h, air_c = leaf_wet_fraction_wet_hours_3_days, air_temperature_c_mean_3_days
    fitted = (
        base + per_h * wet_h + per_c * air_c + per_h2 * wet_h * wet_h + per_c2 * air_c * air_c + per_h_c * wet_h * air_c
    )
    return np.clip(fitted, _LEAST, _MOST)


def _case(wet_h: float, mean_c: float, answer: float, arithmetic: str) -> Case:
    given = {"leaf_wet_fraction_wet_hours_3_days": wet_h, "air_temperature_c_mean_3_days": mean_c}
    return Case(given, answer, within=5e-5, by=f"{arithmetic}; by hand from the abstract's coefficients")


DANNEBERGER_1984 = DiseaseModel(
    key="danneberger_1984",
    name="anthracnose severity index",
    disease="anthracnose",
    pathogen="Colletotrichum cereale (then C. graminicola)",
    grasses=("annual_bluegrass",),
    inputs=(
        Daily("leaf_wet_fraction", "wet_hours", day_end_hour=24, trailing_days=3),
        Daily("air_temperature_c", "mean", day_end_hour=24, trailing_days=3),
    ),
    coefficients={
        "base": Coefficient(4.0233, "1", 3.0, 5.0),
        "per_h": Coefficient(-0.2283, "h⁻¹", -0.30, -0.16),
        "per_c": Coefficient(-0.5308, "°C⁻¹", -0.65, -0.42),
        "per_h2": Coefficient(-0.0013, "h⁻²", -0.0020, -0.0006),
        "per_c2": Coefficient(0.0197, "°C⁻²", 0.015, 0.024),
        "per_h_c": Coefficient(0.0155, "h⁻¹ °C⁻¹", 0.011, 0.020),
    },
    kernel=severity_index,
    answer="index",
    threshold=2.0,
    threshold_words="the three-day anthracnose index reaches 2",
    steps=(
        Step(2.0, "the authors' least for infection; 11 to 20 % of the turf diseased"),
        Step(3.0, "21 to 30 % of the turf diseased"),
        Step(4.0, "31 to 40 % of the turf diseased"),
        Step(5.0, "41 to 50 % of the turf diseased"),
        Step(6.0, "more than half of the turf diseased"),
    ),
    valid={
        "air_temperature_c_mean_3_days": Range(
            _WETTER_IS_WORSE_FROM_C,
            60.0,
            "withhold",
            "house choice: below 18.75 °C the fitted surface scores wetter days lower; no upper limit was seen",
        )
    },
    standing="published",
    source=(
        "Danneberger, Vargas & Jones 1984, Phytopathology 74:448-451: coefficients, classes and the minimum of 2 as in "
        "the abstract, read in two copies; the day's end at midnight, the range and the holding within classes 1 to 6 "
        "are house choices"
    ),
    cases=(
        _case(10, 20, 1.9743, "4.0233 − 2.283 − 10.616 − 0.13 + 7.88 + 3.1"),
        _case(12, 22, 3.0457, "4.0233 − 2.7396 − 11.6776 − 0.1872 + 9.5348 + 4.092"),
        _case(14, 25, 5.0398, "4.0233 − 3.1962 − 13.27 − 0.2548 + 12.3125 + 5.425"),
        _case(16, 22, 3.3509, "4.0233 − 3.6528 − 11.6776 − 0.3328 + 9.5348 + 5.456"),
        _case(24, 20, 2.4993, "4.0233 − 5.4792 − 10.616 − 0.7488 + 7.88 + 7.44"),
        _case(24, 28, 6.0, "4.0233 − 5.4792 − 14.8624 − 0.7488 + 15.4448 + 10.416 = 8.7937, the highest class is 6"),
    ),
    notes=(
        "It speaks of what shows 10 to 12 days later, on the leaves of annual bluegrass; basal rot and bentgrass are "
        "not covered. In 1982 it told 14 of 16 spells of worsening at three sites. From a three-day mean of 22.4 °C "
        "(72 °F) on it passes even without a wet hour, and at 20 °C (68 °F) from ten and a half wet hours a day: so "
        "runs the fitted surface, and hot summers south of Michigan pass nearly every day. Below 18.75 °C (66 °F) it "
        "has no answer; the printed formula would not pass there either, down to 5 °C."
    ),
    wetness_words=(
        "How the paper measured wet hours was not seen, only its abstract; the method on the page is ours, and a "
        "method that counts more wet hours passes more days."
    ),
)
