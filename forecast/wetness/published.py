"""What others found when they set wetness methods beside sensors and eyes, and how much a sensor can tell at all."""

from __future__ import annotations

from dataclasses import dataclass

RESOLVED_H_DAY = 1.0
RESOLVED_SOURCE = "J. Iowa Acad. Sci. 101:56, abstract, read second-hand"
SENSOR_PLACE_SOURCE = "Sentelhas et al. 2004, Agric. For. Meteorol. 126:59, read second-hand"
# In tall fescue sensors in the canopy were within 20 min of touch, and saw a dense stand dry 1 h later.
IN_CANOPY_SOURCE = "Giesler, Horst & Yuen 1996, Agric. For. Meteorol. 81:145, abstract, read second-hand"


@dataclass(frozen=True, slots=True)
class Published:
    """One method at one study's sites; None is not told there.

    Attributes:
        method: our key of it; empty for one that is not among ours.
        words: as the study has it.
        where: over which ground.
        fraction_correct: share of the hours right.
        mean_error_h_day: method less sensor.
        mean_absolute_error_h_day: the size of the error, day by day.
        days_within_2h: share of the nights within 2 h.
        source: the study.
    """

    method: str
    words: str
    where: str
    fraction_correct: float | None = None
    mean_error_h_day: float | None = None
    mean_absolute_error_h_day: float | None = None
    days_within_2h: float | None = None
    source: str = ""


def _on_turf(method: str, words: str, mean_error_h_day: float, mean_absolute_error_h_day: float) -> Published:
    return Published(
        method,
        words,
        "turf, one site, 115 days",
        mean_error_h_day=mean_error_h_day,
        mean_absolute_error_h_day=mean_absolute_error_h_day,
        source="Lulu, Sentelhas & Pedro 2008, Sci. Agric. 65:10-17, read second-hand",
    )


def _at_stations(method: str, words: str, fraction_correct: float, days_within_2h: float) -> Published:
    return Published(
        method,
        words,
        "13 stations, 17,487 h",
        fraction_correct=fraction_correct,
        days_within_2h=days_within_2h,
        source="Gleason et al. 1994, Plant Dis. 78:1011-1016, read second-hand",
    )


PUBLISHED = (
    _on_turf("classification_tree", "Classification tree", -1.09, 1.68),
    _on_turf("dew_point_depression", "Dew point depression", -2.04, 2.33),
    _on_turf("humidity_threshold", "Humidity above 90 %", -2.78, 2.86),
    _on_turf("", "An energy balance of another form (Penman-Monteith)", 2.30, 2.60),
    Published(
        "",
        "The same, with wind at 0.3 m",
        "turf, one site",
        mean_absolute_error_h_day=1.05,
        source="Sentelhas 2004, thesis, read second-hand",
    ),
    _at_stations("classification_tree", "Classification tree", 0.835, 0.760),
    _at_stations("humidity_threshold", "Humidity above 90 %", 0.786, 0.672),
    Published(
        "",
        "Fuzzy rules, which are not among these methods",
        "15 sites, with less than 1 h a day of error over all",
        source="Kim et al. 2004, Agric. For. Meteorol. 127:53-64, abstract, read second-hand",
    ),
)
