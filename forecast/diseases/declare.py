"""The form a disease model fills in: one frozen declaration with kernel, numbers, source, validity, worked cases."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forecast.daily import REDUCTIONS
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
        reduction: a key of :data:`forecast.daily.REDUCTIONS`.
        day_end_hour: hour of standard time at which the model's day ends, 1 to 24.
        trailing_days: mean over this day and those before it.
    """

    quantity: str
    reduction: str
    day_end_hour: int
    trailing_days: int = 1

    @property
    def name(self) -> str:
        """The kernel's argument: quantity, reduction, and the days averaged over."""
        days = f"_{self.trailing_days}_days" if self.trailing_days > 1 else ""
        return f"{self.quantity}_{self.reduction}{days}"


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
    """A worked answer: the inputs, the figure, how near it must come, and who computed it how."""

    given: Mapping[str, float]
    answer: float
    within: float
    by: str


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
        grasses: grasses it was built or tested on; on others it is shown and does not decide.
        inputs: what it reads.
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

    Raises:
        ValueError: the kernel's signature differs from the declaration.
    """

    key: str
    name: str
    disease: str
    pathogen: str
    grasses: tuple[str, ...]
    inputs: tuple[Daily, ...]
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

    def __post_init__(self) -> None:
        parameters = inspect.signature(self.kernel).parameters.values()
        by_position = [p.name for p in parameters if p.kind is p.POSITIONAL_OR_KEYWORD]
        by_keyword = {p.name for p in parameters if p.kind is p.KEYWORD_ONLY}
        declared = [daily.name for daily in self.inputs]
        if by_position != declared:
            raise ValueError(f"{self.key}: the kernel takes {by_position}, the declaration gives {declared}")
        if by_keyword != set(self.coefficients):
            raise ValueError(
                f"{self.key}: the kernel takes {by_keyword}, the declaration gives {set(self.coefficients)}"
            )
        for daily in self.inputs:
            if daily.quantity not in QUANTITIES or daily.reduction not in REDUCTIONS:
                raise ValueError(f"{self.key}: no such input as {daily.name}")
        if not set(self.valid) <= set(declared):
            raise ValueError(f"{self.key}: a range is given for what is no input")
        if len({daily.day_end_hour for daily in self.inputs}) != 1:
            raise ValueError(f"{self.key}: every input of a model has the model's own day")

    @property
    def day_end_hour(self) -> int:
        """Hour of standard time at which the model's day ends."""
        return self.inputs[0].day_end_hour

    def evaluate(self, inputs: Mapping[str, Floats]) -> Evaluation:
        """The model's answer with its validity rules applied.

        Args:
            inputs: per input name, arrays of one shape.
        """
        within: dict[str, Floats] = {}
        outside = np.zeros(np.shape(inputs[self.inputs[0].name]), dtype=bool)
        withheld = outside.copy()
        for daily in self.inputs:
            value = np.asarray(inputs[daily.name], dtype=np.float64)
            limits = self.valid.get(daily.name)
            if limits is not None:
                out = (value < limits.low) | (value > limits.high)
                outside |= out
                if limits.outside == "withhold":
                    withheld |= out
                else:
                    value = np.clip(value, limits.low, limits.high)
            within[daily.name] = value
        numbers = {name: coefficient.value for name, coefficient in self.coefficients.items()}
        as_printed = self.kernel(*(np.asarray(inputs[daily.name]) for daily in self.inputs), **numbers)
        answer = self.kernel(*(within[daily.name] for daily in self.inputs), **numbers)
        return Evaluation(np.where(withheld, np.nan, answer), as_printed, outside, withheld)

    def passed(self, answer: Floats, withheld: NDArray[np.bool_]) -> Floats:
        """1 where the answer reaches the threshold, 0 below or where it is withheld, NaN where it is unknown."""
        known = np.where(np.isnan(answer), np.nan, (answer >= self.threshold).astype(np.float64))
        return np.where(withheld, 0.0, known)


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
