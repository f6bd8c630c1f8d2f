"""What a printed chance is the chance *of*: a declared combination of models per disease and grass."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.diseases import MODELS
from forecast.diseases.declare import DiseaseModel
from forecast.panel import Floats


@dataclass(frozen=True, slots=True)
class Event:
    """A day on which at least one of the deciding models passes its threshold.

    Attributes:
        disease: key of the disease.
        grass: key of the grass.
        deciding: tested models for this grass, standing published or reported, and those that the owner has switched
            on by name; any of them passing is the event.
        beside: tested models of other grasses: shown, and able to turn hold into scout, but never to treat.
        switched_on: those of the deciding that decide only because the owner has switched them on.
    """

    disease: str
    grass: str
    deciding: tuple[DiseaseModel, ...]
    beside: tuple[DiseaseModel, ...]
    switched_on: tuple[DiseaseModel, ...] = ()

    @property
    def words(self) -> str:
        """What the event is, in words that follow 'a day on which'."""
        return ", or ".join(model.threshold_words for model in self.deciding)


def event_for(disease: str, grass: str, switched_on: Collection[str] = ()) -> Event:
    """The event of one disease on one grass; its ``deciding`` is empty where no model was tested on the grass.

    Args:
        disease: a key of the diseases.
        grass: a key of the grasses.
        switched_on: keys of models that decide by the owner's word, whatever their standing and the grass.
    """
    models = [model for model in MODELS.values() if model.disease == disease]
    tested = tuple(m for m in models if grass in m.grasses and m.standing != "provisional")
    by_word = tuple(m for m in models if m.key in switched_on and m not in tested)
    deciding = tuple(m for m in models if m in (*tested, *by_word))
    beside = tuple(m for m in models if m not in deciding and m.standing != "provisional")
    return Event(disease, grass, deciding, beside, by_word)


def any_day_from(passed: NDArray[np.bool_], unknown: NDArray[np.bool_], axis: int) -> tuple[Floats, Floats]:
    """How many members have an event day from the first day to each day after, and of how many that is known.

    A member with an unknown day is left out, an event among its other days or not: to keep those that are sure of one
    and drop their equals that are not would raise every chance.

    Args:
        passed: True on event days; days along ``axis``, members last.
        unknown: True where it is not known, same shape.
        axis: the days'.

    Returns:
        Two counts without the members' axis.
    """
    not_known = np.logical_or.accumulate(unknown, axis=axis)
    some = np.logical_or.accumulate(passed, axis=axis) & ~not_known
    return some.sum(axis=-1).astype(np.float64), (~not_known).sum(axis=-1).astype(np.float64)


def any_passed(models: tuple[DiseaseModel, ...], passed_by_model: Mapping[str, Floats]) -> Floats:
    """1 where any model passes, 0 where all are known and none does, NaN otherwise.

    Args:
        models: at least one.
        passed_by_model: per model key, 1, 0 or NaN; arrays of one shape.

    Raises:
        ValueError: no model.
    """
    if not models:
        raise ValueError("an event needs at least one model")
    passed = np.stack([passed_by_model[model.key] for model in models])
    unknown = np.isnan(passed).any(axis=0)
    some = (passed == 1).any(axis=0)
    return np.where(some, 1.0, np.where(unknown, np.nan, 0.0))
