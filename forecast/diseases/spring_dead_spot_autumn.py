"""Spring dead spot: the autumn soil window in which roots are infected and treatments are timed."""

from __future__ import annotations

import numpy as np

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.diseases.logic import above, all_of, reaches
from forecast.diseases.soil_trend import is_falling
from forecast.panel import Floats

_SOIL = "soil_temperature_10cm_c"


def autumn_class(
    soil_temperature_10cm_c_mean_5_days: Floats,
    soil_temperature_10cm_c_mean_30_days: Floats,
    soil_temperature_10cm_c_mean_60_days: Floats,
    *,
    opens_at_c: float,
    greatest_at_c: float,
    steadiest_at_c: float,
    stops_below_c: float,
) -> Floats:
    """0 closed, 1 to 3 open, the higher the colder; from means of soil temperature (°C) over 5, 30 and 60 days."""
    soil_c = soil_temperature_10cm_c_mean_5_days
    falling = is_falling(soil_c, soil_temperature_10cm_c_mean_30_days, soil_temperature_10cm_c_mean_60_days)
    is_open = all_of(falling, reaches(soil_c, stops_below_c), 1.0 - above(soil_c, opens_at_c))
    rung = np.where(soil_c <= steadiest_at_c, 3.0, np.where(soil_c <= greatest_at_c, 2.0, 1.0))
    return np.where(is_open == 1, rung, is_open)


def _case(five_c: float, thirty_c: float, sixty_c: float, answer: float, by: str) -> Case:
    means = {5: five_c, 30: thirty_c, 60: sixty_c}
    return Case({f"{_SOIL}_mean_{days}_days": c for days, c in means.items()}, answer, within=0.0, by=by)


SPRING_DEAD_SPOT_AUTUMN = DiseaseModel(
    key="spring_dead_spot_autumn",
    name="autumn soil window",
    disease="spring_dead_spot",
    pathogen="Ophiosphaerella spp.",
    grasses=("bermudagrass",),
    inputs=(
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=5),
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=30),
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=60),
    ),
    coefficients={
        "opens_at_c": Coefficient(21.0, "°C", 18.5, 24.0),
        "greatest_at_c": Coefficient(18.0, "°C", 15.0, 20.5),
        "steadiest_at_c": Coefficient(13.0, "°C", 11.0, 15.0),
        "stops_below_c": Coefficient(10.0, "°C", 7.0, 12.0),
    },
    kernel=autumn_class,
    answer="class",
    threshold=1.0,
    threshold_words="soil at 10 cm is cooling and has fallen to 21 °C (70 °F), but not below 10 °C (50 °F)",
    steps=(
        Step(0.0, "closed"),
        Step(1.0, "open: soil has fallen to 21 °C (70 °F), where North Carolina's advice starts"),
        Step(2.0, "open: soil has fallen to 18 °C (64 °F), near which infection is put at its greatest"),
        Step(3.0, "open: soil has fallen to 13 °C (55 °F), near which treatments in Virginia worked most steadily"),
    ),
    valid={},
    standing="reported",
    source=(
        "start at 21 °C, infection greatest near 18 °C: North Carolina State University note of 2018; near 13 °C over "
        "0 to 10 cm: Hutchens, Booth, Goatley, Roberson & McCall 2024, Crop Science, doi 10.1002/csc2.21411, and a "
        "trade report of it; infection until soil is below 10 °C (50 °F): Clemson University fact sheet (all "
        "read second-hand). The depth of 10 cm, the mean over 5 days and the test for cooling soil are house choices"
    ),
    cases=(
        _case(21.0, 23.0, 25.0, 1.0, "at 21 and falling: open"),
        _case(21.1, 23.0, 25.0, 0.0, "not yet at 21"),
        _case(18.0, 20.0, 22.0, 2.0, "at 18"),
        _case(18.1, 20.0, 22.0, 1.0, "not yet at 18"),
        _case(13.0, 15.0, 17.0, 3.0, "at 13"),
        _case(13.1, 15.0, 17.0, 2.0, "not yet at 13"),
        _case(10.0, 12.0, 15.0, 3.0, "at 10"),
        _case(9.95, 12.0, 15.0, 0.0, "below 10"),
        _case(17.0, 16.0, 18.0, 0.0, "warmer than the month before: not falling"),
        _case(17.0, 18.0, 17.5, 0.0, "a cold week while the month is warmer than the two months: spring"),
    ),
    notes=(
        "Roots are infected in autumn; the rings show at green-up, when nothing can be done about them. Advice "
        "differs: North Carolina starts at 21 °C (70 °F) and repeats after 21 to 28 days, while of eleven timings in "
        "Virginia that near 13 °C (55 °F) worked most steadily; the species of the fungus differ between regions. "
        "The window opens at the first and says when the others are reached. Where soil is estimated from air, its "
        "error of about 2 °C moves the dates by a week or more."
    ),
)
