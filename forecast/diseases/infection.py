"""The generic infection model of Magarey, Sutton & Thayer 2005: how much of the wetness that infection needs has been.

Phytopathology 95:92-100. The paper's form: wet hours needed at the mean temperature of the wet spell, and two spells
joined where the dry gap between them is short. The temperature curve is that of Yan & Hunt 1999, Ann. Bot. 84:607-614
(both formulas read second-hand). Each disease gives it numbers of its own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecast.daily import WET_FROM_FRACTION
from forecast.diseases.declare import Case
from forecast.panel import Floats

_DRY_BEFORE_H = 24  # of a worked case, longer than any gap that tuning may ask for


def temperature_response(temperature_c: Floats | float, *, lowest_c: float, best_c: float, highest_c: float) -> Floats:
    """How well infection goes at a temperature: 1 at the best, 0 from the lowest down and from the highest up.

    Args:
        temperature_c: any shape; NaN stays NaN.
        lowest_c: at and below it nothing infects.
        best_c: where infection needs the fewest wet hours.
        highest_c: at and above it nothing infects.

    Raises:
        ValueError: the three temperatures are not in order.
    """
    if not lowest_c < best_c < highest_c:
        raise ValueError(f"temperatures out of order: {lowest_c} °C, {best_c} °C, {highest_c} °C")
    given = np.asarray(temperature_c, dtype=np.float64)
    inside = (given > lowest_c) & (given < highest_c)
    within = np.where(inside, given, best_c)
    rise = ((within - lowest_c) / (best_c - lowest_c)) ** ((best_c - lowest_c) / (highest_c - best_c))
    response = (highest_c - within) / (highest_c - best_c) * rise
    return np.where(inside, response, np.where(np.isnan(given), np.nan, 0.0))


def needed_wet_h(
    temperature_c: Floats | float,
    *,
    lowest_c: float,
    best_c: float,
    highest_c: float,
    least_wet_h: float,
    most_wet_h: float,
) -> Floats:
    """Wet hours that infection needs at a temperature, never more than ``most_wet_h``; infinite where none infects.

    The paper does not settle, as far as it was read, whether the most hours hold outside the range of temperatures
    too. Here they do not: outside, no wetness is long enough (house choice).

    Args:
        temperature_c: mean of the wet spell, any shape; NaN stays NaN.
        lowest_c: at and below it nothing infects.
        best_c: where the fewest hours are needed.
        highest_c: at and above it nothing infects.
        least_wet_h: hours needed at the best temperature.
        most_wet_h: hours that are enough wherever infection is possible at all.

    Raises:
        ValueError: temperatures or hours out of order.
    """
    if not 0 < least_wet_h <= most_wet_h:
        raise ValueError(f"wet hours out of order: {least_wet_h} h, {most_wet_h} h")
    response = temperature_response(temperature_c, lowest_c=lowest_c, best_c=best_c, highest_c=highest_c)
    infects = response > 0
    needed = np.minimum(least_wet_h / np.where(infects, response, 1.0), most_wet_h)
    return np.where(infects, needed, np.where(np.isnan(response), np.nan, np.inf))


def wet_share(
    leaf_wet_fraction: Floats,
    air_temperature_c: Floats,
    *,
    lowest_c: float,
    best_c: float,
    highest_c: float,
    least_wet_h: float,
    most_wet_h: float,
    dry_gap_h: float,
) -> Floats:
    """Wet hours of the spell so far over those that infection needs at its mean temperature, at each wet hour.

    Two wet spells are one where the gap between them is shorter than ``dry_gap_h``; dry hours count for nothing and
    give 0. What came before the first hour is unknown, and so is a spell with an unknown hour in it: both until the
    leaves are known to have been dry for ``dry_gap_h``. An hour is wet as for a day's wet hours: from half of it on.

    Args:
        leaf_wet_fraction: share of each hour with wet leaves, shape (hours, ...).
        air_temperature_c: same shape.
        lowest_c: at and below it nothing infects.
        best_c: where the fewest hours are needed.
        highest_c: at and above it nothing infects.
        least_wet_h: hours needed at the best temperature.
        most_wet_h: hours that are enough wherever infection is possible at all.
        dry_gap_h: dry hours that end a spell.

    Raises:
        ValueError: temperatures or hours out of order.
    """
    if dry_gap_h < 1:
        raise ValueError(f"{dry_gap_h} dry hours do not end a wet spell: give 1 or more")
    wet = leaf_wet_fraction >= WET_FROM_FRACTION
    dry = leaf_wet_fraction < WET_FROM_FRACTION
    tells = wet & ~np.isnan(air_temperature_c)
    hour = np.arange(len(wet)).reshape(-1, *[1] * (wet.ndim - 1))
    dry_for_h = hour - _last(~dry, hour)
    spell_after = _last(dry_for_h >= dry_gap_h, hour)
    known = spell_after > _last(~dry & ~tells, hour)
    wet_h = _since(tells.astype(np.float64), spell_after)
    sum_c = _since(np.where(tells, air_temperature_c, 0.0), spell_after)
    needed = needed_wet_h(
        sum_c / np.maximum(wet_h, 1.0),
        lowest_c=lowest_c,
        best_c=best_c,
        highest_c=highest_c,
        least_wet_h=least_wet_h,
        most_wet_h=most_wet_h,
    )
    return np.where(dry, 0.0, np.where(known, wet_h / needed, np.nan))


def _last(where: NDArray[np.bool_], hour: NDArray[np.int64]) -> NDArray[np.int64]:
    """The last hour so far of which something holds; −1 where there is none yet."""
    return np.maximum.accumulate(np.where(where, hour, -1), axis=0)


def _since(each_hour: Floats, after: NDArray[np.int64]) -> Floats:
    """What came together after an hour, up to each hour."""
    total = np.cumsum(each_hour, axis=0)
    sum_since: Floats = total - np.take_along_axis(total, np.maximum(after, 0), axis=0)
    return sum_since


def spell_case(
    spells_h: tuple[int, ...], gap_h: int, temperature_c: float, answer: float, by: str, *, printed: float | None = None
) -> Case:
    """A worked case: wet spells of so many hours with gaps between them, all at one temperature, after a dry start.

    Args:
        spells_h: hours of each wet spell.
        gap_h: dry hours before each and after the last.
        temperature_c: of every hour.
        answer: the highest hour's.
        by: the arithmetic.
        printed: what the formula gives by itself, where that differs.
    """
    wet = [0.0] * max(gap_h, _DRY_BEFORE_H)
    for spell_h in spells_h:
        wet += [1.0] * spell_h + [0.0] * gap_h
    given = {"leaf_wet_fraction": wet, "air_temperature_c": [temperature_c] * len(wet)}
    return Case(given, answer, within=5e-6, by=by, printed=printed)
