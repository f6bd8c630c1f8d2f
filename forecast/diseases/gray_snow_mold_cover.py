"""Gray snow mold: how long snow has lain."""

from __future__ import annotations

import numpy as np

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Step
from forecast.panel import Floats

_LOOKED_OVER_DAYS = 150  # house choice: longer than nearly all winters' cover, and short enough to forget the last one
_COVERED_FROM_MM = 25  # house choice: an inch of snow, common practice for a day with snow on the ground, no source
_COVER = f"snow_depth_mm_hours_from_{_COVERED_FROM_MM}_{_LOOKED_OVER_DAYS}_days"


def cover_class(
    snow_depth_mm_hours_from_25_150_days: Floats, *, develops_from_days: float, severe_above_days: float
) -> Floats:
    """0 too short, 1 long enough, 2 long; from hours a day under snow (h), a mean over 150 days."""
    days = snow_depth_mm_hours_from_25_150_days * _LOOKED_OVER_DAYS / 24
    found = np.where(days > severe_above_days, 2.0, np.where(days >= develops_from_days, 1.0, 0.0))
    return np.where(np.isnan(days), np.nan, found)


def _case(days: float, answer: float) -> Case:
    by = f"{days:g} days of 24 h over {_LOOKED_OVER_DAYS} days"
    return Case({_COVER: days * 24 / _LOOKED_OVER_DAYS}, answer, within=0.0, by=by)


GRAY_SNOW_MOLD_COVER = DiseaseModel(
    key="gray_snow_mold_cover",
    name="days under snow",
    disease="gray_snow_mold",
    pathogen="Typhula incarnata and T. ishikariensis",
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
        Daily("snow_depth_mm", "hours_from", day_end_hour=24, trailing_days=_LOOKED_OVER_DAYS, at=_COVERED_FROM_MM),
    ),
    coefficients={
        "develops_from_days": Coefficient(60.0, "d", 40.0, 80.0),
        "severe_above_days": Coefficient(90.0, "d", 81.0, 120.0),
    },
    kernel=cover_class,
    answer="class",
    threshold=1.0,
    threshold_words="snow of 25 mm (1 in) or more has lain for 60 of the last 150 days",
    steps=(
        Step(0.0, "snow has not lain long enough"),
        Step(1.0, "snow has lain for 60 days: look for damage when it melts"),
        Step(2.0, "snow has lain for more than 90 days: damage can be severe when it melts"),
    ),
    valid={},
    standing="provisional",
    source=(
        "about 60 days of unbroken snow for gray and 90 for speckled snow mold, the more severe: Koch 2013, interview "
        "in Golf Course Industry; at least 60 days: North Carolina State University page (both read second-hand). The "
        "25 mm that make cover, the 150 days and the counting of broken cover as one are house choices"
    ),
    cases=(
        _case(60.3, 1.0),
        _case(59.7, 0.0),
        _case(90.5, 2.0),
        _case(89.5, 1.0),
        _case(0.0, 0.0),
    ),
    notes=(
        "It tells where to look at snow melt: under snow nothing can be treated, and preventive treatments come before "
        "lasting snow. The notes speak of snow on unfrozen soil, which cannot be told here. Where snow depth is not "
        "known hour by hour for 150 days there is no answer. It decides only where switched on by name."
    ),
    grasses_are="written",
)
