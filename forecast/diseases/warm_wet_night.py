"""Brown patch by the warm, wet night, as extension handbooks report it."""

from __future__ import annotations

import numpy as np

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.diseases.logic import above, all_of, any_of, reaches
from forecast.panel import Floats

_BY_RULE = "read off the rule"


def night_class(
    air_temperature_c_min: Floats,
    leaf_wet_fraction_longest_wet_run: Floats,
    leaf_wet_fraction_wet_hours: Floats,
    *,
    can_start_above_c: float,
    can_start_wet_run_h: float,
    often_above_c: float,
    often_wet_above_h: float,
) -> Floats:
    """0 neither, 1 infection can start, 2 infection is frequent; lowest temperature in °C, wetness in hours."""
    run_h, wet_h = leaf_wet_fraction_longest_wet_run, leaf_wet_fraction_wet_hours
    can_start = all_of(above(air_temperature_c_min, can_start_above_c), reaches(run_h, can_start_wet_run_h))
    # Wet hours in all are no fewer than those of the longest run, also where some other hour is not known.
    wet_often = any_of(above(wet_h, often_wet_above_h), above(run_h, often_wet_above_h))
    often = all_of(above(air_temperature_c_min, often_above_c), wet_often)
    return np.where(often == 1, 2.0, np.where(np.isnan(often), np.nan, can_start))


def _case(lowest_c: float, run_h: float, wet_h: float, answer: float) -> Case:
    given = {
        "air_temperature_c_min": lowest_c,
        "leaf_wet_fraction_longest_wet_run": run_h,
        "leaf_wet_fraction_wet_hours": wet_h,
    }
    return Case(given, answer, within=0.0, by=_BY_RULE)


WARM_WET_NIGHT = DiseaseModel(
    key="warm_wet_night",
    name="warm wet night",
    disease="brown_patch",
    pathogen="Rhizoctonia solani",
    grasses=(
        "tall_fescue",
        "perennial_ryegrass",
        "creeping_bentgrass",
        "colonial_bentgrass",
        "kentucky_bluegrass",
    ),
    inputs=(
        Daily("air_temperature_c", "min", day_end_hour=12),
        Daily("leaf_wet_fraction", "longest_wet_run", day_end_hour=12),
        Daily("leaf_wet_fraction", "wet_hours", day_end_hour=12),
    ),
    coefficients={
        "can_start_above_c": Coefficient(15.5, "°C", 15.0, 18.0),
        "can_start_wet_run_h": Coefficient(10.0, "h", 6.0, 14.0),
        "often_above_c": Coefficient(21.0, "°C", 19.0, 23.0),
        "often_wet_above_h": Coefficient(10.0, "h", 6.0, 14.0),
    },
    kernel=night_class,
    answer="class",
    threshold=1.0,
    threshold_words=(
        "the night stays above 15.5 °C (60 °F) with leaves wet for 10 hours on end, or above 21 °C (70 °F) with more "
        "than 10 wet hours in all"
    ),
    steps=(Step(0.0, "no warm wet night"), Step(1.0, "infection can start"), Step(2.0, "infection is frequent")),
    valid={},
    standing="reported",
    source=(
        "Oregon State University tall fescue monograph, citing Tredway 2005 and Tisserat 2006, and North Carolina "
        "State University lawn notes (read second-hand); the day from noon to noon is a house choice"
    ),
    cases=(
        _case(15.5, 14, 14, 0.0),
        _case(15.6, 10, 10, 1.0),
        _case(15.6, 9, 14, 0.0),
        _case(21.0, 12, 12, 1.0),
        _case(21.1, 11, 11, 2.0),
        _case(21.1, 10, 10, 1.0),
        _case(21.1, 6, 11, 2.0),
        _case(21.1, 9, 10, 0.0),
    ),
    notes=("A rule of handbooks for cool-season lawns, without a published hit rate."),
    wetness_words="The handbooks do not say how they tell wet hours; the method on the page is ours.",
    grasses_are="written",
)
