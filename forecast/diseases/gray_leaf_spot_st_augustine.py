"""Gray leaf spot on St. Augustinegrass by warmth and wet hours, as a Florida extension note reports them."""

from __future__ import annotations

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Range, Step
from forecast.diseases.logic import all_of, any_of, reaches
from forecast.panel import Floats

_BY_RULE = "read off the rule"


def warm_wet_day(
    air_temperature_c_max: Floats,
    leaf_wet_fraction_wet_hours: Floats,
    relative_humidity_pct_hours_above_95: Floats,
    *,
    warm_from_c: float,
    warm_to_c: float,
    wet_h: float,
    humid_h: float,
) -> Floats:
    """1 where the day's highest temperature (°C) lies between the two and it was wet long enough, else 0."""
    return all_of(
        reaches(air_temperature_c_max, warm_from_c),
        reaches(-air_temperature_c_max, -warm_to_c),
        any_of(
            reaches(leaf_wet_fraction_wet_hours, wet_h),
            reaches(relative_humidity_pct_hours_above_95, humid_h),
        ),
    )


def _case(highest_c: float, wet_h: float, humid_h: float, answer: float, printed: float | None = None) -> Case:
    given = {
        "air_temperature_c_max": highest_c,
        "leaf_wet_fraction_wet_hours": wet_h,
        "relative_humidity_pct_hours_above_95": humid_h,
    }
    return Case(given, answer, within=0.0, by=_BY_RULE, printed=printed)


GRAY_LEAF_SPOT_ST_AUGUSTINE = DiseaseModel(
    key="gray_leaf_spot_st_augustine",
    name="warm wet day",
    disease="gray_leaf_spot",
    pathogen="Pyricularia oryzae",
    grasses=("st_augustinegrass",),
    inputs=(
        Daily("air_temperature_c", "max", day_end_hour=12),
        Daily("leaf_wet_fraction", "wet_hours", day_end_hour=12),
        Daily("relative_humidity_pct", "hours_above", day_end_hour=12, at=95),
    ),
    coefficients={
        "warm_from_c": Coefficient(27.0, "°C", 24.0, 29.0),
        "warm_to_c": Coefficient(32.0, "°C", 30.0, 35.0),
        "wet_h": Coefficient(12.0, "h", 8.0, 16.0),
        "humid_h": Coefficient(12.0, "h", 8.0, 16.0),
    },
    kernel=warm_wet_day,
    answer="class",
    threshold=1.0,
    threshold_words=(
        "the day from noon to noon reaches 27 °C (80 °F) with 12 hours or more of wet leaves or of humidity above 95 %"
    ),
    steps=(Step(0.0, "not warm and wet enough"), Step(1.0, "warm and wet long enough")),
    valid={
        "air_temperature_c_max": Range(
            -80.0, 32.0, "hold", "house choice: the note ends at 32 °C; a hotter day is held there and marked"
        )
    },
    standing="provisional",
    source=(
        "University of Florida IFAS note PP126 (read second-hand): 27 to 32 °C with 12 wet hours or humidity above 95 "
        "%; Uddin, Serlemitsos & Viji 2003 found 28 °C best on ryegrass. Taking the highest temperature of a day from "
        "noon to noon is a house choice after University of Georgia's days of 27 to 32 °C (read second-hand); so are "
        "hours in all, and 12 of them for humidity too"
    ),
    cases=(
        _case(27.0, 12, 0, 1.0),
        _case(26.9, 24, 24, 0.0),
        _case(30.0, 11, 0, 0.0),
        _case(30.0, 0, 12, 1.0),
        _case(30.0, 0, 11, 0.0),
        _case(32.0, 12, 12, 1.0),
        _case(32.2, 12, 12, 1.0, printed=0.0),  # held at 32 °C
    ),
    notes=(
        "A rule of an extension note, without a published hit rate. Days hotter than 32 °C are held there and marked: "
        "the note does not say that they are safe. Shade makes the disease worse; wet hours count that in."
    ),
    wetness_words="The note does not say how it tells wet hours; the method on the page is ours.",
    grasses_are="written",
)
