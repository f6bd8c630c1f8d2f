"""Pythium blight by the milder rule reported for Shane 1994: less heat and fewer humid hours."""

from __future__ import annotations

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.diseases.logic import above, all_of, reaches
from forecast.panel import Floats

_BY_RULE = "read off the rule"


def warm_humid_day(
    air_temperature_c_max: Floats,
    relative_humidity_pct_hours_above_90: Floats,
    air_temperature_c_min: Floats,
    *,
    hot_above_c: float,
    humid_h: float,
    warm_above_c: float,
) -> Floats:
    """1 where highest and lowest temperature (°C) and humid hours all reach their limits, 0 where any does not."""
    return all_of(
        above(air_temperature_c_max, hot_above_c),
        reaches(relative_humidity_pct_hours_above_90, humid_h),
        above(air_temperature_c_min, warm_above_c),
    )


def _case(highest_c: float, humid_h: float, lowest_c: float, answer: float) -> Case:
    given = {
        "air_temperature_c_max": highest_c,
        "relative_humidity_pct_hours_above_90": humid_h,
        "air_temperature_c_min": lowest_c,
    }
    return Case(given, answer, within=0.0, by=_BY_RULE)


SHANE_1994 = DiseaseModel(
    key="shane_1994",
    name="warm day and humid night",
    disease="pythium_blight",
    pathogen="Pythium aphanidermatum",
    grasses=("perennial_ryegrass", "creeping_bentgrass"),
    inputs=(
        Daily("air_temperature_c", "max", day_end_hour=12),
        Daily("relative_humidity_pct", "hours_above", day_end_hour=12, at=90),
        Daily("air_temperature_c", "min", day_end_hour=12),
    ),
    coefficients={
        "hot_above_c": Coefficient(27.8, "°C", 26.0, 30.0),
        "humid_h": Coefficient(9.0, "h", 6.0, 14.0),
        "warm_above_c": Coefficient(20.0, "°C", 18.0, 22.0),
    },
    kernel=warm_humid_day,
    answer="class",
    threshold=1.0,
    threshold_words=(
        "the day from noon to noon passes 27.8 °C (82 °F), stays above 20 °C (68 °F) and has 9 hours or more above 90 "
        "% humidity"
    ),
    steps=(Step(0.0, "not warm and humid enough"), Step(1.0, "warm day and humid night")),
    valid={},
    standing="reported",
    source=(
        "two extension pages, one of which names Shane 1994, a book chapter on such models (all read second-hand); the "
        "day from noon to noon as Nutter, Cole & Schein 1983 have it"
    ),
    cases=(
        _case(27.9, 9, 20.1, 1.0),
        _case(27.8, 9, 20.1, 0.0),  # not above
        _case(27.9, 8, 20.1, 0.0),
        _case(27.9, 9, 20.0, 0.0),  # not above
        _case(36.0, 20, 25.0, 1.0),
    ),
    notes=(
        "A milder form of the rule of 1983, so that it passes on every day that one passes on and on more. The grasses "
        "it was tested on were not seen; creeping bentgrass and perennial ryegrass are taken, as for that rule."
    ),
    grasses_are="taken",
)
