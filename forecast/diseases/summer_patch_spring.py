"""Summer patch: the spring soil window in which roots begin to be infected and preventive treatments start."""

from __future__ import annotations

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.diseases.logic import above, all_of, reaches
from forecast.diseases.soil_trend import is_rising
from forecast.panel import Floats

_SOIL = "soil_temperature_5cm_c"


def spring_class(
    soil_temperature_5cm_c_max_lowest_of_5_days: Floats,
    soil_temperature_5cm_c_mean_5_days: Floats,
    soil_temperature_5cm_c_mean_30_days: Floats,
    soil_temperature_5cm_c_mean_60_days: Floats,
    *,
    opens_at_c: float,
    closes_above_c: float,
) -> Floats:
    """0 closed, 1 open; from the lowest of five days' highest soil temperatures (°C), and means over 5, 30, 60 days."""
    rising = is_rising(
        soil_temperature_5cm_c_mean_5_days,
        soil_temperature_5cm_c_mean_30_days,
        soil_temperature_5cm_c_mean_60_days,
    )
    warm = reaches(soil_temperature_5cm_c_max_lowest_of_5_days, opens_at_c)
    return all_of(rising, warm, 1.0 - above(soil_temperature_5cm_c_mean_30_days, closes_above_c))


def _case(lowest_high_c: float, means_c: tuple[float, float, float], answer: float, by: str) -> Case:
    given = {f"{_SOIL}_max_lowest_of_5_days": lowest_high_c}
    given |= {f"{_SOIL}_mean_{days}_days": c for days, c in zip((5, 30, 60), means_c, strict=True)}
    return Case(given, answer, within=0.0, by=by)


SUMMER_PATCH_SPRING = DiseaseModel(
    key="summer_patch_spring",
    name="spring soil window",
    disease="summer_patch",
    pathogen="Magnaporthiopsis poae",
    grasses=("kentucky_bluegrass", "annual_bluegrass"),
    inputs=(
        Daily(_SOIL, "max", day_end_hour=24, trailing_days=5, trailing="lowest"),
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=5),
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=30),
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=60),
    ),
    coefficients={
        "opens_at_c": Coefficient(18.3, "°C", 16.0, 21.0),
        "closes_above_c": Coefficient(21.1, "°C", 19.0, 25.0),
    },
    kernel=spring_class,
    answer="class",
    threshold=1.0,
    threshold_words=(
        "soil at 5 cm is warming in spring and has reached 18.3 °C (65 °F) on five days running, its mean over 30 days "
        "not yet above 21.1 °C (70 °F)"
    ),
    steps=(Step(0.0, "closed"), Step(1.0, "open: roots begin to be infected, preventive treatments start")),
    valid={},
    standing="provisional",
    source=(
        "five consecutive days with soil up to 18.3 °C (65 °F): Rutgers University note; infection and first treatment "
        "at 65 to 70 °F: University of California guidelines of 2009 (both read second-hand). A Kansas State note of "
        "2012 takes three days, at 2 to 3 inches. The depth of 5 cm, the test for warming soil and the close, where "
        "the mean over 30 days leaves that range of 65 to 70 °F, are house choices"
    ),
    cases=(
        _case(18.3, (16.0, 14.0, 12.0), 1.0, "five days up to 18.3, rising: open"),
        _case(18.2, (16.0, 14.0, 12.0), 0.0, "one of five days not up to 18.3"),
        _case(26.0, (23.0, 21.1, 19.0), 1.0, "the month at 21.1"),
        _case(26.0, (23.0, 21.2, 19.0), 0.0, "the month above 21.1: summer"),
        _case(20.0, (17.0, 19.0, 21.0), 0.0, "soil cools: autumn"),
        _case(20.0, (17.0, 18.0, 16.0), 0.0, "a cold week"),
    ),
    notes=(
        "A window in which to begin, not a forecast of symptoms: those come in summer heat, weeks later, when "
        "treatments do little. It closes by a house choice once soil is warm, else it would pass all summer; a closed "
        "window in summer does not mean that the disease is away. Fine fescue catches it too. Where soil is estimated "
        "from air, its error of about 2 °C moves the opening by a week or more."
    ),
    grasses_are="written",
)
