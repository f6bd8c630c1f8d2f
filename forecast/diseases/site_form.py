"""The form of what a site adds to the weather: a trial's size, or a reason to look there first, and when each holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from forecast.turf import DISEASES, Area

BOUNDS = (0.6, 1.6)  # of a modifier; house choice: what one or two trials found elsewhere is no reason to go further
CULTIVAR_BOUNDS = (0.4, 1.0)  # of a cultivar's, against the most susceptible; house choice
SHADED_TO_FRACTION = 0.7  # of the open light, from there down turf counts as shaded; house choice
THICK_THATCH_MM = 13.0  # half an inch; common practice, no source
OFTEN_DAYS_A_WEEK = 4  # watered so often counts as often; house choice

Reads = Literal["cultivar", "nitrogen", "mowing", "irrigation", "drainage", "compaction", "thatch", "shade", "density"]


@dataclass(frozen=True, slots=True)
class Modifier:
    """Disease on turf of one kind over that on another, as trials found it.

    Attributes:
        disease: a key of :data:`forecast.turf.DISEASES`.
        grasses: those that the trials were on.
        reads: what about the site it goes by.
        holds: whether it holds for an area.
        factor_low: the low end of the range; 1 is no effect.
        factor_high: the high end.
        words: what was found, and against what.
        source: whose trial.

    Raises:
        ValueError: a factor outside the bounds, or a grass on which the disease is not looked for.
    """

    disease: str
    grasses: tuple[str, ...]
    reads: Reads
    holds: Callable[[Area], bool]
    factor_low: float
    factor_high: float
    words: str
    source: str

    def __post_init__(self) -> None:
        low, high = CULTIVAR_BOUNDS if self.reads == "cultivar" else BOUNDS
        if not low <= self.factor_low <= self.factor_high <= high:
            raise ValueError(f"{self.words}: factors lie between {low} and {high}")
        _check_grasses(self.disease, self.grasses)


@dataclass(frozen=True, slots=True)
class ScoutingReason:
    """Why to look at an area before others; no trial gives it a size.

    Attributes:
        disease: a key of :data:`forecast.turf.DISEASES`.
        grasses: those it holds on.
        reads: what about the site it goes by.
        holds: whether it holds for an area.
        words: the reason.
        source: whose finding or advice.

    Raises:
        ValueError: a grass on which the disease is not looked for.
    """

    disease: str
    grasses: tuple[str, ...]
    reads: Reads
    holds: Callable[[Area], bool]
    words: str
    source: str

    def __post_init__(self) -> None:
        _check_grasses(self.disease, self.grasses)


def _check_grasses(disease: str, grasses: tuple[str, ...]) -> None:
    elsewhere = set(grasses) - set(DISEASES[disease].grasses)
    if elsewhere:
        raise ValueError(f"{disease} is not looked for on {', '.join(sorted(elsewhere))}")


def has_cultivar(rating: str) -> Callable[[Area], bool]:
    """Whether an area's cultivar is rated so."""
    return lambda area: area.ground.cultivar == rating


def has_nitrogen(level: str) -> Callable[[Area], bool]:
    """Whether an area is fed so."""
    return lambda area: area.ground.nitrogen == level


def every_area(area: Area) -> bool:  # noqa: ARG001 - asked as the others are
    """Whatever the area: every one is mown."""
    return True


def is_watered(area: Area) -> bool:
    """Whether an area is watered at all."""
    return area.setting.irrigation is not None


def is_watered_often(area: Area) -> bool:
    """Whether an area is watered on most days of the week."""
    return area.setting.irrigation is not None and len(area.setting.irrigation.days) >= OFTEN_DAYS_A_WEEK


def drains_poorly(area: Area) -> bool:
    """Whether water is known to drain poorly."""
    return area.ground.drainage == "poor"


def is_compacted(area: Area) -> bool:
    """Whether the ground is known to be compacted."""
    return area.ground.compacted is True


def has_thick_thatch(area: Area) -> bool:
    """Whether the thatch is known to be thick."""
    return area.ground.thatch_mm is not None and area.ground.thatch_mm > THICK_THATCH_MM


def is_shaded(area: Area) -> bool:
    """Whether the turf stands in shade."""
    return area.setting.light_let_through_fraction <= SHADED_TO_FRACTION


def is_dense(area: Area) -> bool:
    """Whether the stand is dense."""
    return area.setting.density == "dense"
