"""Past mornings of several stations laid together: members' chances, usual ones and what came, for days and windows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.diseases.events import any_day_from
from forecast.outlook.calibration import members_chance
from forecast.panel import Floats
from forecast.verify.hindcast import UNKNOWN, Hindcast


@dataclass(frozen=True, eq=False)
class Pool:
    """Mornings, stations one after the other.

    Attributes:
        stations: names.
        station: number of each morning's, shape (mornings,).
        day: its day number.
        year: its calendar year.
        members: chance of single days by members, shape (mornings, days).
        usual: by other years.
        happened: 1, 0 or NaN.
        members_within: of at least one event day from the first to the second of two days, shape
            (mornings, days, days).
        usual_within: by other years.
        happened_within: 1, 0 or NaN.
        state: how the last fortnight stood, shape (mornings, 6).
        crps: of the answers of the event's first model that gives a figure, shape (mornings, days).
        usual_crps: of the answers about the date in other years.
    """

    stations: tuple[str, ...]
    station: NDArray[np.int64]
    day: NDArray[np.int64]
    year: NDArray[np.int64]
    members: Floats
    usual: Floats
    happened: Floats
    members_within: Floats
    usual_within: Floats
    happened_within: Floats
    state: Floats
    crps: Floats
    usual_crps: Floats


def pool(hindcasts: Sequence[Hindcast]) -> Pool:
    """Some stations' mornings of one event together; a station without any is left out."""
    some = [one for one in hindcasts if len(one.day)]
    counts = [_counts(one.passed) for one in some]
    within = [_within(one.passed) for one in some]
    happened = [_as_codes(one.happened)[:, :, None] for one in some]
    came = [_within(codes) for codes in happened]
    return Pool(
        tuple(one.station for one in some),
        np.repeat(np.arange(len(some)), [len(one.day) for one in some]),
        np.concatenate([one.day for one in some]),
        np.concatenate([one.year for one in some]),
        np.concatenate([members_chance(*c, one.usual) for c, one in zip(counts, some, strict=True)]),
        np.concatenate([one.usual for one in some]),
        np.concatenate([one.happened for one in some]),
        np.concatenate([members_chance(*c, one.usual_within) for c, one in zip(within, some, strict=True)]),
        np.concatenate([one.usual_within for one in some]),
        np.concatenate([np.where(known > 0, passing, np.nan) for passing, known in came]),
        np.concatenate([one.state for one in some]),
        np.concatenate([one.crps for one in some]),
        np.concatenate([one.usual_crps for one in some]),
    )


def _as_codes(happened: Floats) -> NDArray[np.int8]:
    return np.where(np.isnan(happened), UNKNOWN, happened).astype(np.int8)


def _counts(passed: NDArray[np.int8]) -> tuple[Floats, Floats]:
    """Members that pass and members that are known, per day."""
    return (passed == 1).sum(axis=2).astype(np.float64), (passed != UNKNOWN).sum(axis=2).astype(np.float64)


def _within(passed: NDArray[np.int8]) -> tuple[Floats, Floats]:
    """The same for at least one event day within each window, NaN below the diagonal."""
    mornings, days, _ = passed.shape
    passing, known = np.full((2, mornings, days, days), np.nan)
    for first in range(days):
        part = passed[:, first:]
        passing[:, first, first:], known[:, first, first:] = any_day_from(part == 1, part == UNKNOWN, axis=1)
    return passing, known
