"""Large patch: the autumn soil window in which preventive treatments are timed, from extension notes and one trial."""

from __future__ import annotations

import numpy as np

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.diseases.logic import above, all_of, reaches
from forecast.diseases.soil_trend import is_falling
from forecast.panel import Floats

_SOIL = "soil_temperature_5cm_c"


def autumn_class(
    soil_temperature_5cm_c_mean_5_days: Floats,
    soil_temperature_5cm_c_mean_30_days: Floats,
    soil_temperature_5cm_c_mean_60_days: Floats,
    *,
    opens_at_c: float,
    first_at_c: float,
    stops_below_c: float,
) -> Floats:
    """0 closed, 1 open, 2 open and most important; from means of soil temperature (°C) over 5, 30 and 60 days."""
    soil_c = soil_temperature_5cm_c_mean_5_days
    falling = is_falling(soil_c, soil_temperature_5cm_c_mean_30_days, soil_temperature_5cm_c_mean_60_days)
    is_open = all_of(falling, reaches(soil_c, stops_below_c), 1.0 - above(soil_c, opens_at_c))
    return np.where((is_open == 1) & (soil_c <= first_at_c), 2.0, is_open)


def _case(five_c: float, thirty_c: float, sixty_c: float, answer: float, by: str) -> Case:
    means = {5: five_c, 30: thirty_c, 60: sixty_c}
    return Case({f"{_SOIL}_mean_{days}_days": c for days, c in means.items()}, answer, within=0.0, by=by)


LARGE_PATCH_AUTUMN = DiseaseModel(
    key="large_patch_autumn",
    name="autumn soil window",
    disease="large_patch",
    pathogen="Rhizoctonia solani AG 2-2 LP",
    grasses=("zoysiagrass", "st_augustinegrass"),
    inputs=(
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=5),
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=30),
        Daily(_SOIL, "mean", day_end_hour=24, trailing_days=60),
    ),
    coefficients={
        "opens_at_c": Coefficient(21.0, "°C", 18.5, 24.0),
        "first_at_c": Coefficient(18.3, "°C", 15.0, 20.9),
        "stops_below_c": Coefficient(10.0, "°C", 8.0, 13.0),
    },
    kernel=autumn_class,
    answer="class",
    threshold=1.0,
    threshold_words="soil at 5 cm is cooling and has fallen to 21 °C (70 °F), but not below 10 °C (50 °F)",
    steps=(
        Step(0.0, "closed"),
        Step(1.0, "open: soil has fallen to 21 °C (70 °F), where North Carolina's advice starts"),
        Step(2.0, "open: soil has fallen to 18.3 °C (65 °F), the autumn timing that one trial singled out"),
    ),
    valid={},
    standing="reported",
    source=(
        "start at about 21 °C: North Carolina State University note of 2013; 18.3 °C: Sledge 2022, abstract for "
        "ASA-CSSA-SSSA, read in part; infection down to 10 °C: University of Missouri IPM1029 (all read second-hand), "
        "in line with Green, Fry, Pair & Tisserat 1993, Plant Dis. 77:1040-1044 (10 to 30 °C, best 20 to 25). The "
        "depth of 5 cm, the mean over 5 days and the test for cooling soil are house choices"
    ),
    cases=(
        _case(21.0, 23.0, 25.0, 1.0, "at 21 and falling: open"),
        _case(21.1, 23.0, 25.0, 0.0, "not yet at 21"),
        _case(18.3, 20.0, 22.0, 2.0, "at 18.3"),
        _case(18.4, 20.0, 22.0, 1.0, "not yet at 18.3"),
        _case(10.0, 12.0, 15.0, 2.0, "at 10"),
        _case(9.95, 12.0, 15.0, 0.0, "below 10"),
        _case(18.0, 17.0, 19.0, 0.0, "warmer than the month before: not falling"),
        _case(18.0, 19.0, 18.5, 0.0, "a cold week while the month is warmer than the two months: spring"),
    ),
    notes=(
        "A window in which to treat, not a forecast of disease: rain, drainage and thatch drive the outbreak. Advice "
        "differs: North Carolina starts at 21 °C (70 °F), a trial in Raleigh singled out 18.3 °C (65 °F) on 'Zeon' "
        "zoysiagrass and 'Raleigh' St. Augustinegrass. The window opens at the first and says when the second is "
        "reached. Where soil is estimated from air, its error of about 2 °C moves the opening by a week or more. "
        "Centipedegrass and bermudagrass catch the disease too; no test of these timings on them was seen."
    ),
)
