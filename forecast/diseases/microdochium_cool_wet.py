"""Microdochium patch: cool days with long wetness, as extension and trade notes report them."""

from __future__ import annotations

import numpy as np

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.diseases.logic import above, all_of, reaches
from forecast.panel import Floats

_FREEZING_C = 0.0  # the lower end that the notes give


def cool_wet_class(
    air_temperature_c_mean_3_days: Floats,
    leaf_wet_fraction_wet_hours_3_days: Floats,
    *,
    active_below_c: float,
    best_to_c: float,
    wet_above_h: float,
) -> Floats:
    """0 neither, 1 cool and wet, 2 cold and wet; from air temperature (°C) and wet hours a day, means over 3 days."""
    air_c = air_temperature_c_mean_3_days
    is_on = all_of(
        reaches(air_c, _FREEZING_C),
        1.0 - reaches(air_c, active_below_c),
        above(leaf_wet_fraction_wet_hours_3_days, wet_above_h),
    )
    return np.where((is_on == 1) & (air_c <= best_to_c), 2.0, is_on)


def _case(mean_c: float, wet_h: float, answer: float, by: str) -> Case:
    given = {"air_temperature_c_mean_3_days": mean_c, "leaf_wet_fraction_wet_hours_3_days": wet_h}
    return Case(given, answer, within=0.0, by=by)


MICRODOCHIUM_COOL_WET = DiseaseModel(
    key="microdochium_cool_wet",
    name="cool wet days",
    disease="microdochium_patch",
    pathogen="Microdochium nivale",
    grasses=(
        "annual_bluegrass",
        "creeping_bentgrass",
        "colonial_bentgrass",
        "perennial_ryegrass",
        "kentucky_bluegrass",
        "tall_fescue",
        "fine_fescue",
    ),
    inputs=(
        Daily("air_temperature_c", "mean", day_end_hour=24, trailing_days=3),
        Daily("leaf_wet_fraction", "wet_hours", day_end_hour=24, trailing_days=3),
    ),
    coefficients={
        "active_below_c": Coefficient(15.5, "°C", 13.0, 18.0),
        "best_to_c": Coefficient(8.0, "°C", 6.0, 12.0),
        "wet_above_h": Coefficient(10.0, "h", 6.0, 16.0),
    },
    kernel=cool_wet_class,
    answer="class",
    threshold=1.0,
    threshold_words="the last three days average 0 to 15.5 °C (32 to 60 °F) with more than 10 wet hours a day",
    steps=(
        Step(0.0, "not cool and wet"),
        Step(1.0, "cool and wet enough"),
        Step(2.0, "cool and wet at its best, 0 to 8 °C (32 to 46 °F)"),
    ),
    valid={},
    standing="provisional",
    source=(
        "infection below 15.5 °C (60 °F), best at 0 to 8 °C in cool wet periods: Michigan State University page; more "
        "than 10 wet hours a day for several days: GreenMaster, spring 2025, page 17, after Tronsmo et al. 2001 (all "
        "read second-hand). That several days are three, and the daily mean, are house choices"
    ),
    cases=(
        _case(15.4, 11.0, 1.0, "just below 15.5, wet"),
        _case(15.5, 11.0, 0.0, "not below 15.5"),
        _case(8.0, 11.0, 2.0, "at 8"),
        _case(8.05, 11.0, 1.0, "just above 8"),
        _case(5.0, 10.0, 0.0, "not more than 10 h"),
        _case(5.0, 10.5, 2.0, "more than 10 h"),
        _case(0.0, 24.0, 2.0, "at freezing"),
        _case(-0.1, 24.0, 0.0, "frost"),
    ),
    notes=(
        "A rule of handbooks for cool-season turf, without a published hit rate; annual bluegrass and bentgrass suffer "
        "most. Notes differ on the upper end: 13 °C in Ohio and Illinois, 15.5 °C in Michigan, 16 °C where moisture is "
        "ample in late spring. It looks at open turf and says nothing of what goes on under snow."
    ),
    wetness_words="The notes do not say how they tell wet hours; the method on the page is ours.",
    grasses_are="written",
)
