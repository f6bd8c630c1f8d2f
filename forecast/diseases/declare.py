"""The form a disease model fills in: one frozen declaration with kernel, numbers, source, validity, worked cases."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forecast.daily import COUNTS, REDUCTIONS, TRAILING
from forecast.panel import Floats
from forecast.quantities import QUANTITIES

Standing = Literal["published", "reported", "provisional"]


@dataclass(frozen=True, slots=True)
class Coefficient:
    """A fitted number, once, with the bounds that tuning may not leave (house choice)."""

    value: float
    unit: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Daily:
    """One input: an hourly quantity reduced to one value a day.

    Attributes:
        quantity: a name of the vocabulary.
        reduction: a key of :data:`forecast.daily.REDUCTIONS` or :data:`forecast.daily.COUNTS`.
        day_end_hour: hour of standard time at which the model's day ends, 1 to 24.
        trailing_days: mean, or what ``trailing`` says, over this day and those before it.
        at: the level of a count, a whole number in the quantity's unit.
        trailing: a key of :data:`forecast.daily.TRAILING`.
    """

    quantity: str
    reduction: str
    day_end_hour: int
    trailing_days: int = 1
    at: int | None = None
    trailing: str = "mean"

    @property
    def name(self) -> str:
        """The kernel's argument: quantity, reduction with its level, and the days looked over."""
        level = "" if self.at is None else f"_{self.at}"
        what = "" if self.trailing == "mean" else f"_{self.trailing}_of"
        days = f"{what}_{self.trailing_days}_days" if self.trailing_days > 1 else ""
        return f"{self.quantity}_{self.reduction}{level}{days}"


@dataclass(frozen=True, slots=True)
class Hourly:
    """One input of a rule that runs hour by hour: its answer of the day is the highest of its hours.

    Attributes:
        quantity: a name of the vocabulary; the kernel's argument has the same name.
        day_end_hour: hour of standard time at which the model's day ends, 1 to 24.
        shown: the reduction by which a page shows the input's day.
    """

    quantity: str
    day_end_hour: int
    shown: str

    @property
    def name(self) -> str:
        """The kernel's argument."""
        return self.quantity


@dataclass(frozen=True, slots=True)
class Range:
    """Where an input lies within what the model was built or checked on.

    Attributes:
        low: lower edge.
        high: upper edge.
        outside: ``hold`` keeps the input at the edge and marks the day; ``withhold`` gives no answer, and a day
            without an answer for that reason does not pass: the model does not speak of such weather.
        source: whose limit it is.
    """

    low: float
    high: float
    outside: Literal["hold", "withhold"]
    source: str


@dataclass(frozen=True, slots=True)
class Case:
    """A worked answer: the inputs, the figure, how near it must come, and who computed it how.

    Of a rule that runs hour by hour an input is a row of hours, and the answer is the highest of them. ``printed``
    is what the formula gives by itself, where a validity rule of ours makes another answer of it.
    """

    given: Mapping[str, float | Sequence[float]]
    answer: float
    within: float
    by: str
    printed: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """A rung of the ladder beside the threshold: from this answer on, these words."""

    at: float
    words: str


@dataclass(frozen=True, slots=True)
class DiseaseModel:
    """One published rule or index.

    Attributes:
        key: how settings and pages name it.
        name: in words.
        disease: the disease's key in :mod:`forecast.turf`.
        grasses: grasses it was built or tested on, or written for; on others it is shown and does not decide.
        grasses_are: what they are to it: ``tested`` on them, ``written`` by handbooks for them, or ``taken`` where the
            source names none.
        inputs: what it reads: all of them daily, or all of them hourly.
        coefficients: its numbers, by the kernel's keyword.
        kernel: inputs by position, coefficients by keyword → answer; NaN in, NaN out.
        answer: what the answer is: an index, the model's own probability, or a class.
        threshold: from this answer on the day counts.
        threshold_words: what passing means, in words that follow "the day".
        steps: the ladder kept beside the threshold.
        valid: per input, its range and what happens outside it.
        standing: ``published``, ``reported`` or ``provisional``.
        source: author, year, journal, pages.
        cases: worked answers, at least one a coefficient.
        notes: what a reader has to know.
        wetness: key of the wetness method that its paper used; empty where the place's own is taken.
        wetness_words: how its paper told wet hours, and whether this program does the same; empty where it reads none.

    Raises:
        ValueError: the kernel's signature differs from the declaration, or the declaration from itself.
    """

    key: str
    name: str
    disease: str
    pathogen: str
    grasses: tuple[str, ...]
    inputs: tuple[Daily | Hourly, ...]
    coefficients: Mapping[str, Coefficient]
    kernel: Callable[..., Floats]
    answer: Literal["index", "probability", "class"]
    threshold: float
    threshold_words: str
    steps: tuple[Step, ...]
    valid: Mapping[str, Range]
    standing: Standing
    source: str
    cases: tuple[Case, ...]
    notes: str
    wetness: str = ""
    wetness_words: str = ""
    grasses_are: Literal["tested", "written", "taken"] = "tested"

    def __post_init__(self) -> None:
        parameters = inspect.signature(self.kernel).parameters.values()
        by_position = [p.name for p in parameters if p.kind is p.POSITIONAL_OR_KEYWORD]
        by_keyword = {p.name for p in parameters if p.kind is p.KEYWORD_ONLY}
        declared = [one.name for one in self.inputs]
        if by_position != declared:
            raise ValueError(f"{self.key}: the kernel takes {by_position}, the declaration gives {declared}")
        if by_keyword != set(self.coefficients):
            raise ValueError(
                f"{self.key}: the kernel takes {by_keyword}, the declaration gives {set(self.coefficients)}"
            )
        for one in self.inputs:
            if not _is_possible(one):
                raise ValueError(f"{self.key}: no such input as {one.name}")
        if any(one.quantity == "leaf_wet_fraction" for one in self.inputs) != bool(self.wetness_words):
            raise ValueError(f"{self.key}: a model that reads wet leaves, and no other, says how its paper told them")
        if not set(self.valid) <= set(declared):
            raise ValueError(f"{self.key}: a range is given for what is no input")
        if len({one.day_end_hour for one in self.inputs}) != 1:
            raise ValueError(f"{self.key}: every input of a model has the model's own day")
        if len({type(one) for one in self.inputs}) != 1:
            raise ValueError(f"{self.key}: the inputs of a model are all daily or all hourly")

    @property
    def is_hourly(self) -> bool:
        """Whether the kernel runs over hours, with the highest as the day's answer."""
        return isinstance(self.inputs[0], Hourly)

    @property
    def day_end_hour(self) -> int:
        """Hour of standard time at which the model's day ends."""
        return self.inputs[0].day_end_hour

    def evaluate(self, inputs: Mapping[str, Floats]) -> Evaluation:
        """The model's answer with its validity rules applied.

        Args:
            inputs: per input name, arrays of one shape: of days, or of hours where the model is hourly.
        """
        within: dict[str, Floats] = {}
        outside = np.zeros(np.shape(inputs[self.inputs[0].name]), dtype=bool)
        withheld = outside.copy()
        for one in self.inputs:
            value = np.asarray(inputs[one.name], dtype=np.float64)
            limits = self.valid.get(one.name)
            if limits is not None:
                out = (value < limits.low) | (value > limits.high)
                outside |= out
                if limits.outside == "withhold":
                    withheld |= out
                else:
                    value = np.clip(value, limits.low, limits.high)
            within[one.name] = value
        numbers = {name: coefficient.value for name, coefficient in self.coefficients.items()}
        answer = self.kernel(*(within[one.name] for one in self.inputs), **numbers)
        as_printed = answer
        if self.valid:  # else the two are one, and not worked out twice
            as_printed = self.kernel(*(np.asarray(inputs[one.name]) for one in self.inputs), **numbers)
        return Evaluation(np.where(withheld, np.nan, answer), as_printed, outside, withheld)

    def passed(self, answer: Floats, withheld: NDArray[np.bool_]) -> Floats:
        """1 where the answer reaches the threshold, 0 below or where it is withheld, NaN where it is unknown."""
        known = np.where(np.isnan(answer), np.nan, (answer >= self.threshold).astype(np.float64))
        return np.where(withheld, 0.0, known)


def _is_possible(one: Daily | Hourly) -> bool:
    if one.quantity not in QUANTITIES:
        return False
    if isinstance(one, Hourly):
        return one.shown in REDUCTIONS
    known = REDUCTIONS if one.at is None else COUNTS
    return one.reduction in known and one.trailing in TRAILING


@dataclass(frozen=True, eq=False)
class Evaluation:
    """A model's answer.

    Attributes:
        answer: with validity applied: held at the edge, or NaN where withheld.
        as_printed: the published formula without any rule of ours.
        outside: True where an input lay outside its range.
        withheld: True where that means no answer.
    """

    answer: Floats
    as_printed: Floats
    outside: NDArray[np.bool_]
    withheld: NDArray[np.bool_]
