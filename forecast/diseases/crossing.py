"""How far a day lies from a model's threshold: what one input would have to be, the others staying as they are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from forecast.daily import COUNTS, DAY_HOURS
from forecast.diseases.declare import Daily, DiseaseModel
from forecast.panel import Floats
from forecast.quantities import QUANTITIES

_STEPS = 2000  # of the search from where an input is to its bound: 0.07 °C, 0.05 % humidity at most
_HALVINGS = 40
_WHOLE_HOURS = (*COUNTS, "wet_hours", "longest_wet_run")

# Of one quantity's day the lowest is no higher than the mean, and a run no longer than all hours of its kind.
_RANKS = (
    {"min": 0, "mean": 1, "max": 2, "peak": 2},
    {"longest_wet_run": 0, "wet_hours": 1},
    {"longest_run_above": 0, "hours_above": 1, "hours_from": 2},
)


@dataclass(frozen=True, slots=True)
class Crossing:
    """One input's nearest way over the threshold.

    Attributes:
        name: the input.
        value: what it is.
        to: the nearest value with which the day would pass, where it does not, or would not, where it does.
        direction: whether it would have to rise or fall.
    """

    name: str
    value: float
    to: float
    direction: Literal["up", "down"]


def crossings(model: DiseaseModel, given: Mapping[str, float]) -> Mapping[str, Crossing | None]:
    """Per input the nearest way over the threshold, the others held.

    Args:
        model: one of the catalogue; one that runs hour by hour has no crossings.
        given: the day's inputs by name; where one is unknown nothing leads anywhere.

    Returns:
        A crossing an input; None where none was found within what the quantity can be, or beside the day's other
        figures of the same quantity: its lowest cannot rise above its highest.
    """
    daily = [one for one in model.inputs if isinstance(one, Daily)]
    return {one.name: _nearest(model, one, given) for one in daily}


def _nearest(model: DiseaseModel, one: Daily, given: Mapping[str, float]) -> Crossing | None:
    now = given[one.name]
    start = _passes(model, one, given, np.array([now]))[0]
    if np.isnan(start):
        return None
    low, high = _bounds(model, one, given)
    found: list[Crossing] = []
    for direction, bound in (("up", high), ("down", low)):
        if (bound > now) if direction == "up" else (bound < now):
            to = _first_other(model, one, given, bound, start)
            if to is not None:
                found.append(Crossing(one.name, now, to, "up" if direction == "up" else "down"))
    return min(found, key=lambda crossing: abs(crossing.to - now), default=None)


def _first_other(
    model: DiseaseModel, one: Daily, given: Mapping[str, float], bound: float, start: float
) -> float | None:
    """The first value on the way to a bound with which the verdict is the other one."""
    now = given[one.name]
    whole = one.reduction in _WHOLE_HOURS and one.trailing_days == 1
    if whole:
        ahead = now + np.sign(bound - now) * np.arange(1, np.floor(abs(bound - now)) + 1)
    else:
        ahead = np.linspace(now, bound, _STEPS + 1)[1:]
    other = np.flatnonzero(_passes(model, one, given, ahead, start) == 1 - start)
    if not other.size:
        return None
    beyond = float(ahead[other[0]])
    if whole:
        return beyond
    short = float(ahead[other[0] - 1]) if other[0] else now
    for _ in range(_HALVINGS):
        middle = (short + beyond) / 2
        if _passes(model, one, given, np.array([middle]), start)[0] == 1 - start:
            beyond = middle
        else:
            short = middle
    return beyond


def _passes(model: DiseaseModel, one: Daily, given: Mapping[str, float], values: Floats, start: float = 0.0) -> Floats:
    """Whether each value passes; from a day that passes, a value of which the model does not speak is no way out."""
    inputs = {name: np.full(values.shape, figure) for name, figure in given.items()}
    found = model.evaluate({**inputs, one.name: values})
    passed = model.passed(found.answer, found.withheld)
    return np.where(found.withheld, np.nan, passed) if start == 1 else passed


def _bounds(model: DiseaseModel, one: Daily, given: Mapping[str, float]) -> tuple[float, float]:
    """What an input can be at the least and at the most, beside the day's other figures."""
    quantity = QUANTITIES[one.quantity]
    low, high = quantity.least, quantity.most if quantity.clip_to is None else quantity.clip_to
    if one.reduction in _WHOLE_HOURS:
        low, high = 0.0, float(DAY_HOURS)
    for other in model.inputs:
        if not isinstance(other, Daily) or _kind(other) != _kind(one):
            continue
        for ranks in _RANKS:
            if {one.reduction, other.reduction} <= set(ranks):
                if ranks[other.reduction] < ranks[one.reduction]:
                    low = max(low, given[other.name])
                if ranks[other.reduction] > ranks[one.reduction]:
                    high = min(high, given[other.name])
    return low, high


def _kind(one: Daily) -> tuple[str, int | None, int, str]:
    return one.quantity, one.at, one.trailing_days, one.trailing
