"""Brown patch by how many of the five conditions of Fidanza, Dernoeden & Grybauskas 1996 a day meets."""

from __future__ import annotations

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.diseases.logic import any_of, reaches
from forecast.panel import Floats

_BY_RULE = "conditions counted by hand"


def conditions_met(
    relative_humidity_pct_hours_from_95: Floats,
    relative_humidity_pct_mean: Floats,
    leaf_wet_fraction_wet_hours: Floats,
    rain_mm_sum: Floats,
    air_temperature_c_min: Floats,
    soil_temperature_5cm_c_min: Floats,
    *,
    humid_h: float,
    humidity_mean_pct: float,
    wet_h: float,
    rain_mm: float,
    air_least_c: float,
    soil_least_c: float,
) -> Floats:
    """How many of five conditions a day meets, 0 to 5; unknown where any of the five is.

    Wet is one condition, met by wet leaves or by rain: where either is known to suffice the other may be unknown.
    """
    wet = any_of(reaches(leaf_wet_fraction_wet_hours, wet_h), reaches(rain_mm_sum, rain_mm))
    return (
        reaches(relative_humidity_pct_hours_from_95, humid_h)
        + reaches(relative_humidity_pct_mean, humidity_mean_pct)
        + wet
        + reaches(air_temperature_c_min, air_least_c)
        + reaches(soil_temperature_5cm_c_min, soil_least_c)
    )


def _case(
    humid_h: float, mean_pct: float, wet_h: float, rain_mm: float, air_c: float, soil_c: float, answer: float
) -> Case:
    given = {
        "relative_humidity_pct_hours_from_95": humid_h,
        "relative_humidity_pct_mean": mean_pct,
        "leaf_wet_fraction_wet_hours": wet_h,
        "rain_mm_sum": rain_mm,
        "air_temperature_c_min": air_c,
        "soil_temperature_5cm_c_min": soil_c,
    }
    return Case(given, answer, within=0.0, by=_BY_RULE)


FIDANZA_1996_CONDITIONS = DiseaseModel(
    key="fidanza_1996_conditions",
    name="five conditions counted",
    disease="brown_patch",
    pathogen="Rhizoctonia solani",
    grasses=("perennial_ryegrass", "colonial_bentgrass"),
    inputs=(
        Daily("relative_humidity_pct", "hours_from", day_end_hour=6, at=95),
        Daily("relative_humidity_pct", "mean", day_end_hour=6),
        Daily("leaf_wet_fraction", "wet_hours", day_end_hour=6),
        Daily("rain_mm", "sum", day_end_hour=6),
        Daily("air_temperature_c", "min", day_end_hour=6),
        Daily("soil_temperature_5cm_c", "min", day_end_hour=6),
    ),
    coefficients={
        "humid_h": Coefficient(8.0, "h", 5.0, 12.0),
        "humidity_mean_pct": Coefficient(75.0, "%", 65.0, 85.0),
        "wet_h": Coefficient(6.0, "h", 4.0, 10.0),
        "rain_mm": Coefficient(12.0, "mm", 5.0, 20.0),
        "air_least_c": Coefficient(16.0, "°C", 14.0, 18.0),
        "soil_least_c": Coefficient(16.0, "°C", 14.0, 18.0),
    },
    kernel=conditions_met,
    answer="class",
    threshold=5.0,
    threshold_words=(
        "all five brown patch conditions hold: 8 hours from 95 % humidity on, mean humidity of 75 %, 6 wet hours or "
        "12 mm (0.5 in) of rain, and neither air nor soil below 16 °C (61 °F)"
    ),
    steps=(
        Step(0.0, "none of five conditions"),
        Step(1.0, "one of five conditions"),
        Step(2.0, "two of five conditions"),
        Step(3.0, "three of five conditions"),
        Step(4.0, "four of five conditions"),
        Step(5.0, "all five conditions"),
    ),
    valid={},
    standing="provisional",
    source=(
        "Fidanza, Dernoeden & Grybauskas 1996, Phytopathology 86:385-390: the limits as in the abstract; counting "
        "them, asking for all five, soil at 5 cm and the day's end at 06:00 are house choices"
    ),
    cases=(
        _case(8, 75.0, 6, 0.0, 16.0, 16.0, 5.0),  # every limit itself counts
        _case(7, 75.0, 6, 0.0, 16.0, 16.0, 4.0),
        _case(8, 74.9, 6, 0.0, 16.0, 16.0, 4.0),
        _case(8, 75.0, 5, 0.0, 16.0, 16.0, 4.0),
        _case(8, 75.0, 0, 12.0, 16.0, 16.0, 5.0),  # rain in place of wet leaves
        _case(8, 75.0, 0, 11.9, 16.0, 16.0, 4.0),
        _case(8, 75.0, 6, 12.0, 15.9, 16.0, 4.0),
        _case(8, 75.0, 6, 12.0, 16.0, 15.9, 4.0),
        _case(7, 74.0, 6, 0.0, 16.0, 16.0, 3.0),
        _case(7, 74.0, 5, 0.0, 16.0, 16.0, 2.0),
        _case(7, 74.0, 5, 0.0, 16.0, 15.0, 1.0),
        _case(7, 74.0, 5, 0.0, 15.0, 15.0, 0.0),
    ),
    notes=(
        "A plain count, not the paper's first index: that one gives the conditions points, which its abstract does "
        "not print. Humid hours are counted in all, not on end."
    ),
    wetness_words="The abstract does not say how wet leaves were told; the method on the page is ours.",
)
