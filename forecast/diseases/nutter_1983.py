"""Pythium blight by the rule of Nutter, Cole & Schein 1983: a hot day and a long humid warm night."""

from __future__ import annotations

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.diseases.logic import above, all_of, reaches
from forecast.panel import Floats

_BY_RULE = "read off the rule"


def hot_humid_day(
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


NUTTER_1983 = DiseaseModel(
    key="nutter_1983",
    name="hot day and humid night",
    disease="pythium_blight",
    pathogen="Pythium aphanidermatum",
    grasses=("perennial_ryegrass", "creeping_bentgrass"),
    inputs=(
        Daily("air_temperature_c", "max", day_end_hour=12),
        Daily("relative_humidity_pct", "hours_above", day_end_hour=12, at=90),
        Daily("air_temperature_c", "min", day_end_hour=12),
    ),
    coefficients={
        "hot_above_c": Coefficient(30.0, "°C", 27.0, 32.0),
        "humid_h": Coefficient(14.0, "h", 9.0, 18.0),
        "warm_above_c": Coefficient(20.0, "°C", 18.0, 22.0),
    },
    kernel=hot_humid_day,
    answer="class",
    threshold=1.0,
    threshold_words=(
        "the day from noon to noon passes 30 °C (86 °F), stays above 20 °C (68 °F) and has 14 hours or more above 90 % "
        "humidity"
    ),
    steps=(Step(0.0, "not hot and humid enough"), Step(1.0, "hot day and long humid night")),
    valid={},
    standing="published",
    source=(
        "Nutter, Cole & Schein 1983, Plant Dis. 67:1126-1128: limits and the day from noon to noon as in the abstract; "
        "counting humid hours in all, not on end, is a house choice where the abstract is silent"
    ),
    cases=(
        _case(30.1, 14, 20.1, 1.0),
        _case(30.0, 14, 20.1, 0.0),  # not above
        _case(30.1, 13, 20.1, 0.0),
        _case(30.1, 14, 20.0, 0.0),  # not above
        _case(38.0, 24, 26.0, 1.0),
    ),
    notes=(
        "Built on outbreaks in Pennsylvania in 1978 to 1980, without a published hit rate. The abstract does not name "
        "the grasses; creeping bentgrass and perennial ryegrass are taken, on which the disease costs most (common "
        "practice, no source). It asks for the heat before the humid hours; a day that begins at noon mostly gives it."
    ),
    grasses_are="taken",
)
