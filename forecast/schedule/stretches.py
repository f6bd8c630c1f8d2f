"""Hours one after another that are fit, and which stretch of them to take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats

LEAST_HOURS = 2  # house choice: one fit hour alone is too short to go out for
HOURS_WANTED = 4  # house choice: a stretch of so many hours is as good as a longer one


@dataclass(frozen=True, slots=True)
class Run:
    """Rows of fit hours one after another, the first and the last, and the share of its least sure hour."""

    first: int
    last: int
    least_share: float


def runs(fit: NDArray[np.bool_], share: Floats) -> list[Run]:
    """Stretches of at least :data:`LEAST_HOURS`.

    Args:
        fit: shape (hours,), one after another.
        share: of the ways in which each is fit, same shape.
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], fit, [False]]).astype(np.int8)))
    return [
        Run(int(first), int(end) - 1, float(share[first:end].min()))
        for first, end in edges.reshape(-1, 2)
        if end - first >= LEAST_HOURS
    ]


def best_run(found: Sequence[tuple[int, Run]]) -> int | None:
    """Which stretch to take, by its place: as late as a later day is left in reserve, and there the surest.

    An application made earlier wears off earlier; one kept for the last day is lost with that day's weather. On the day
    taken a stretch counts by its hours, up to :data:`HOURS_WANTED`, times the share of its least sure hour.

    Args:
        found: day number and stretch, in order of time.
    """
    if not found:
        return None
    days = sorted({day for day, _ in found})
    taken = days[-2] if len(days) > 1 else days[-1]
    places = [place for place, (day, _) in enumerate(found) if day == taken]
    return max(places, key=lambda place: round(_worth(found[place][1]), 9))


def _worth(run: Run) -> float:
    return run.least_share * min(run.last - run.first + 1, HOURS_WANTED)
