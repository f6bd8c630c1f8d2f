"""Take-all patch: cool days on wet soil."""

from __future__ import annotations

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.diseases.logic import above, all_of, reaches
from forecast.panel import Floats


def window_class(
    air_temperature_c_mean_5_days: Floats,
    rain_mm_sum_7_days: Floats,
    *,
    cool_from_c: float,
    cool_to_c: float,
    wet_from_mm: float,
) -> Floats:
    """0 closed, 1 cool and wet; from mean air temperature over 5 days (°C) and rain a day, a mean over 7 days (mm)."""
    air_c = air_temperature_c_mean_5_days
    is_cool = all_of(reaches(air_c, cool_from_c), 1.0 - above(air_c, cool_to_c))
    return all_of(is_cool, reaches(rain_mm_sum_7_days, wet_from_mm))


def _case(mean_c: float, rain_mm: float, answer: float, by: str) -> Case:
    given = {"air_temperature_c_mean_5_days": mean_c, "rain_mm_sum_7_days": rain_mm}
    return Case(given, answer, within=0.0, by=by)


TAKE_ALL_WINDOW = DiseaseModel(
    key="take_all_window",
    name="cool wet week",
    disease="take_all_patch",
    pathogen="Gaeumannomyces graminis var. avenae",
    grasses=("creeping_bentgrass", "colonial_bentgrass"),
    inputs=(
        Daily("air_temperature_c", "mean", day_end_hour=24, trailing_days=5),
        Daily("rain_mm", "sum", day_end_hour=24, trailing_days=7),
    ),
    coefficients={
        "cool_from_c": Coefficient(10.0, "°C", 7.0, 12.0),
        "cool_to_c": Coefficient(16.0, "°C", 14.0, 20.0),
        "wet_from_mm": Coefficient(3.5, "mm d⁻¹", 1.5, 8.0),
    },
    kernel=window_class,
    answer="class",
    threshold=1.0,
    threshold_words=(
        "the last five days average 10 to 16 °C (50 to 61 °F) and the last seven brought 24.5 mm (1 in) of rain"
    ),
    steps=(Step(0.0, "not cool and wet"), Step(1.0, "cool and wet: roots can be infected")),
    valid={},
    standing="provisional",
    source=(
        "air of 10 to 16 °C and wet soil: University of California IPM guidelines of 2009 (read second-hand); that "
        "about an inch of rain in seven days makes wet soil, and the mean over five days, are house choices"
    ),
    cases=(
        _case(10.0, 3.6, 1.0, "at 10, wet"),
        _case(9.95, 3.6, 0.0, "below 10"),
        _case(16.0, 3.6, 1.0, "at 16"),
        _case(16.1, 3.6, 0.0, "above 16"),
        _case(13.0, 3.5, 1.0, "3.5 mm a day, 24.5 mm in seven"),
        _case(13.0, 3.48, 0.0, "less than 24.5 mm in seven days"),
    ),
    notes=(
        "Soil moisture is not known here: rain stands for it, and water from irrigation, drainage and slow drying do "
        "not count. Where no gauge tells rain there is no answer. The months in its source are California's, autumn "
        "and winter; elsewhere spring is as likely. It decides only where switched on by name."
    ),
    grasses_are="written",
)
