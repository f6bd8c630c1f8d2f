"""Large patch: the spring soil window in which patches show and grow while the turf greens up."""

from __future__ import annotations

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.diseases.logic import above, all_of, reaches
from forecast.diseases.soil_trend import is_rising
from forecast.panel import Floats

_SOIL = "soil_temperature_5cm_c"


def spring_class(
    soil_temperature_5cm_c_mean_5_days: Floats,
    soil_temperature_5cm_c_mean_30_days: Floats,
    soil_temperature_5cm_c_mean_60_days: Floats,
    *,
    opens_at_c: float,
    closes_above_c: float,
) -> Floats:
    """0 closed, 1 open; from means of soil temperature (°C) over 5, 30 and 60 days."""
    soil_c = soil_temperature_5cm_c_mean_5_days
    rising = is_rising(soil_c, soil_temperature_5cm_c_mean_30_days, soil_temperature_5cm_c_mean_60_days)
    return all_of(rising, reaches(soil_c, opens_at_c), 1.0 - above(soil_c, closes_above_c))


def _case(five_c: float, thirty_c: float, sixty_c: float, answer: float, by: str) -> Case:
    means = {5: five_c, 30: thirty_c, 60: sixty_c}
    return Case({f"{_SOIL}_mean_{days}_days": c for days, c in means.items()}, answer, within=0.0, by=by)


LARGE_PATCH_SPRING = DiseaseModel(
    key="large_patch_spring",
    name="spring soil window",
    disease="large_patch",
    pathogen="Rhizoctonia solani AG 2-2 LP",
    grasses=("zoysiagrass", "st_augustinegrass"),
    inputs=(
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=5),
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=30),
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=60),
    ),
    coefficients={
        "opens_at_c": Coefficient(12.8, "°C", 10.0, 16.0),
        "closes_above_c": Coefficient(21.1, "°C", 18.0, 25.0),
    },
    kernel=spring_class,
    answer="class",
    threshold=1.0,
    threshold_words="soil at 5 cm is warming and lies between 12.8 and 21.1 °C (55 and 70 °F)",
    steps=(Step(0.0, "closed"), Step(1.0, "open: look for patches as the turf greens up")),
    valid={},
    standing="provisional",
    source=(
        "house choice: the coolest and the warmest of the spring timings that Sledge 2022 (abstract for "
        "ASA-CSSA-SSSA, read in part) put to the test, none of which made a difference"
    ),
    cases=(
        _case(12.8, 11.0, 9.0, 1.0, "at 12.8 and rising: open"),
        _case(12.7, 11.0, 9.0, 0.0, "not yet at 12.8"),
        _case(21.1, 19.0, 17.0, 1.0, "at 21.1"),
        _case(21.2, 19.0, 17.0, 0.0, "above 21.1"),
        _case(15.0, 16.0, 14.0, 0.0, "colder than the month before: not rising"),
        _case(15.0, 14.0, 16.0, 0.0, "a warm week while the month is colder than the two months: autumn"),
    ),
    notes=(
        "A time to look, not to treat: in a trial in Raleigh the timing of spring treatments, from 12.8 to 21.1 °C "
        "(55 to 70 °F), made no difference. It decides only where switched on by name."
    ),
)
