"""Stem rust of perennial ryegrass by the wet degree-hours of Pfender 2003, in its simpler form without weights."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from forecast.diseases.declare import Case, Coefficient, DiseaseModel, Hourly, Step
from forecast.panel import Floats

_NOON = 12
_Kind = TypeVar("_Kind", bound=np.generic)
_HORIZON_DEG = 0.0  # house choice: night is where the sun stands below it at the middle of the hour


def share_of_most_infection(
    leaf_wet_fraction: Floats,
    air_temperature_c: Floats,
    sun_elevation_deg: Floats,
    *,
    base_c: float,
    per_degree_hours2: float,
) -> Floats:
    """Infection as a share of the most there can be, 0 to 1, at the first two hours after sunrise; 0 at all others.

    Wet degree-hours of the night just over times those since sunrise. Unknown where a sum that is needed is unknown and
    the other is not 0. What came before the first hour is unknown, and so is whether the sun was up then.

    Args:
        leaf_wet_fraction: share of the hour with wet leaves, shape (hours, ...).
        air_temperature_c: same shape.
        sun_elevation_deg: at the middle of the hour, same shape.
        base_c: degree-hours count above it.
        per_degree_hours2: exponent per product of the two sums of degree-hours.
    """
    sun_unknown = np.isnan(sun_elevation_deg)
    is_day = sun_elevation_deg >= _HORIZON_DEG
    first = is_day & ~_hour_before(is_day, at_start=False)
    second = is_day & _hour_before(first, at_start=False)
    wet_c_h = _product(leaf_wet_fraction, np.maximum(air_temperature_c - base_c, 0.0))
    night = _hour_before(_since_last_day(np.where(sun_unknown, np.nan, wet_c_h), is_day), at_start=np.nan)
    at_first = _product(night, wet_c_h)
    at_second = _product(_hour_before(night, at_start=np.nan), _hour_before(wet_c_h, at_start=np.nan) + wet_c_h)
    index = np.where(first, at_first, np.where(second, at_second, 0.0))
    one_before = _hour_before(sun_unknown, at_start=False)
    unsure = sun_unknown | one_before | _hour_before(one_before, at_start=False)
    return np.where(unsure, np.nan, -np.expm1(per_degree_hours2 * index))


def _product(one: Floats, other: Floats) -> Floats:
    """The product; 0 where either is, whatever the other."""
    return np.where((one == 0) | (other == 0), 0.0, one * other)


def _since_last_day(each_hour: Floats, is_day: NDArray[np.bool_]) -> Floats:
    """What came together since the last hour of day, up to each hour; NaN where a part is, or where no day was yet."""
    hidden = np.isnan(each_hour)
    return np.where(
        _grown(hidden.astype(np.float64), is_day) == 0, _grown(np.where(hidden, 0.0, each_hour), is_day), np.nan
    )


def _grown(each_hour: Floats, is_day: NDArray[np.bool_]) -> Floats:
    """A running sum less what it was at the last hour of day; infinite where no day was yet."""
    total = np.cumsum(each_hour, axis=0)
    return total - np.maximum.accumulate(np.where(is_day, total, -np.inf), axis=0)


def _hour_before(values: NDArray[_Kind], *, at_start: float) -> NDArray[_Kind]:
    """Each hour's predecessor; ``at_start`` for the first hour."""
    moved = np.roll(values, 1, axis=0)
    moved[:1] = at_start
    return moved


def _case(
    night_c: float, morning_c: float, answer: float, by: str, *, night_wet: float = 1.0, wet: float = 1.0
) -> Case:
    """Two dry hours of day, a night of ten hours and three hours of day, each with one temperature and wetness."""
    given = {
        "leaf_wet_fraction": [0.0] * 2 + [night_wet] * 10 + [wet] * 3,
        "air_temperature_c": [20.0] * 2 + [night_c] * 10 + [morning_c] * 3,
        "sun_elevation_deg": [10.0] * 2 + [-10.0] * 10 + [10.0] * 3,
    }
    return Case(given, answer, within=5e-5, by=by)


PFENDER_2003 = DiseaseModel(
    key="pfender_2003",
    name="wet degree-hours of night and morning",
    disease="stem_rust",
    pathogen="Puccinia graminis subsp. graminicola",
    grasses=("perennial_ryegrass",),
    inputs=(
        Hourly("leaf_wet_fraction", day_end_hour=_NOON, shown="wet_hours"),
        Hourly("air_temperature_c", day_end_hour=_NOON, shown="mean"),
        Hourly("sun_elevation_deg", day_end_hour=_NOON, shown="max"),
    ),
    coefficients={
        "base_c": Coefficient(2.0, "°C", 1.0, 4.0),
        "per_degree_hours2": Coefficient(-0.0031, "°C⁻² h⁻²", -0.0060, -0.0015),
    },
    kernel=share_of_most_infection,
    answer="index",
    threshold=0.5,
    threshold_words="night and early morning are wet and warm enough for half of the most stem rust there can be",
    steps=(Step(0.5, "half of the most infection there can be"), Step(0.8, "most of it")),
    valid={},
    standing="provisional",
    source=(
        "Pfender 2003, Phytopathology 93:467-477, abstract: exponent −0.0031 and the base of 2.0 °C. The paper's "
        "weights by temperature and its correction for a night that dries in between were not seen and are left out: "
        "its simpler version without weights did nearly as well, but whether with the same exponent was not seen. The "
        "line of 0.5, the day from noon to noon and night as the sun below the horizon are house choices"
    ),
    cases=(
        _case(4.0, 4.5, 0.2666, "(10 × 2) × (2 × 2.5) = 100; 1 − exp(−0.31)"),
        _case(4.236, 7.0, 0.5000, "(10 × 2.236) × (2 × 5) = 223.6; 1 − exp(−0.69316)"),
        _case(7.0, 7.0, 0.7878, "(10 × 5) × (2 × 5) = 500; 1 − exp(−1.55)"),
        _case(7.0, 7.0, 0.5393, "half-wet hours at night: (10 × 2.5) × 10 = 250; 1 − exp(−0.775)", night_wet=0.5),
        _case(7.0, 7.0, 0.0, "a dry morning", wet=0.0),
        _case(7.0, 7.0, 0.0, "a dry night", night_wet=0.0),
        _case(1.0, 7.0, 0.0, "a night below 2 °C"),
    ),
    notes=(
        "Made for ryegrass grown to seed, not for mown turf: it tells how well one night and morning suited infection "
        "where rust is about, and decides only where switched on by name. Hours are whole: sunrise falls at the start "
        "of the first hour in "
        "whose middle the sun is up."
    ),
    wetness_words=(
        "The paper used dataloggers with wetness sensors; the method on the page is ours, and wet degree-hours take "
        "the share of each hour in which leaves were wet."
    ),
)
