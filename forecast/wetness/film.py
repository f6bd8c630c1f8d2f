"""The film of water on leaves, hour by hour: it catches water, gains dew, dries, and is mown or dragged off.

Within an hour first the water is caught, then dew forms or the film dries, and at the end a share may be taken off. All
is reckoned in shares of the most that leaves hold, S / Smax. A drying film shrinks to drops, so that it dries in
proportion to its wet area, dS/dt = -Ep (S/Smax)^(2/3): the cube root of the share falls along a straight line, which is
solved exactly. Leaves count as wet while (S/Smax)^(2/3), the wet share of their surface, is above a tenth.

Source: the reservoir of SWEB (Magarey, Russo & Seem 2006, Agric. For. Meteorol. 139; Noilhan & Planton 1989; both read
second-hand). Its closed form in time is worked out here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats

CAPACITY_MM_PER_LEAF_AREA = 0.2  # Noilhan & Planton 1989, as in SWEB (read second-hand)
CAUGHT_PER_LEAF_AREA = 0.5  # leaves catch 1 - exp(-0.5 LAI) of what falls: SWEB (read second-hand)
WET_FROM_SURFACE_SHARE = 0.1  # leaves are wet while this share of their surface is: SWEB (read second-hand)
SPIN_UP_HOURS = 72  # house choice: by then a record is taken to have forgotten that it started dry
SAME_WITHIN_FRACTION = 1e-9  # house choice: two films that agree so far tell the hour

EDGE_ROOT = WET_FROM_SURFACE_SHARE**0.5  # the cube root of the share 0.1^1.5 = 0.0316
_EDGE_SHARE = EDGE_ROOT * EDGE_ROOT * EDGE_ROOT
_SURELY = 3 * (1 + 1e-6)  # a full film is dry after three capacities of evaporation; a hair more, for rounding

_Scalar = TypeVar("_Scalar", bound=np.generic)
_Places = NDArray[np.intp]
_Marks = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class FilmRoots:
    """Cube root of the share held, once the hour's water is caught; the share itself is its cube.

    Two films run where the past is not known, at the start of a record and after an unknown hour: one from dry leaves,
    one from full ones. Whatever the past was, the true film lies between them, since a fuller film stays the fuller.

    Attributes:
        low: of the film that started dry, shape (hours, columns); NaN in unknown hours.
        high: of the film that started full; equal to ``low`` from where the two have met.
    """

    low: Floats
    high: Floats


def film_roots(
    loss: Floats,
    caught: Floats,
    removed: Floats | None = None,
    *,
    perhaps_rain: _Marks | None = None,
    cut: bool = True,
) -> FilmRoots:
    """Both films over a record.

    Args:
        loss: what would evaporate from full leaves in the hour, as a share of capacity; dew is below 0; NaN is
            unknown. Shape (hours, columns); fastest where a column's hours lie side by side in memory.
        caught: water caught in the hour, as a share of capacity.
        removed: share of the film taken off at the end of the hour; None for none.
        perhaps_rain: hours in which rain that nobody measured may have fallen: there the second film is full.
        cut: start anew wherever the film is known whatever went before: dried out by enough sun, or filled by enough
            rain. A full film would be dry, or full, there too, so that the answer is the same without; only slower,
            since thousands of pieces then no longer run side by side.
    """
    hours, columns = loss.shape
    flat_loss, flat_caught = _column_by_column(loss), _column_by_column(caught)
    flat_kept = None if removed is None else 1.0 - _column_by_column(removed)
    unknown = np.isnan(loss)
    perhaps = np.zeros((hours, columns), dtype=bool) if perhaps_rain is None else perhaps_rain & ~unknown
    sure, idle = _sure_hours(loss, caught, perhaps)
    first_hour = np.zeros((hours, columns), dtype=bool, order="F")
    first_hour[:1] = True
    after_unknown = np.zeros((hours, columns), dtype=bool, order="F")
    after_unknown[1:] = unknown[:-1]

    # Pieces run from one of these marks to the next; those that begin in an unknown or idle hour hold nothing to run.
    marks = first_hour | unknown | after_unknown
    starts, lengths = _pieces(marks | sure, unknown | idle)
    low = np.zeros(hours * columns)
    pieces = (starts, lengths) if cut else _pieces(marks, unknown)
    _run(*pieces, 0.0, (flat_loss, flat_caught, flat_kept), low)

    # The second film ends where it must have met the first, and at the start of a record after the hours of spin-up.
    if perhaps.any():
        starts, lengths = _pieces(marks | sure | perhaps, unknown | (idle & ~perhaps))
    from_full = perhaps | ((first_hour | after_unknown) & ~sure)
    doubtful = _column_by_column(from_full)[starts]
    starts, lengths = starts[doubtful], lengths[doubtful]
    at_first_hour = (starts % hours == 0) & ~_column_by_column(perhaps)[starts]
    lengths[at_first_hour] = np.minimum(lengths[at_first_hour], SPIN_UP_HOURS)
    high = low.copy()
    _run(starts, lengths, 1.0, (flat_loss, flat_caught, flat_kept), high)
    for root in (low, high):
        root[_column_by_column(unknown)] = np.nan
    return FilmRoots(low.reshape(columns, hours).T, high.reshape(columns, hours).T)


def wet_share_of_hour(root: Floats, loss: Floats) -> Floats:
    """Share of the hour in which the film is above the edge of wet; NaN where unknown; any one shape.

    A drying film crosses the edge where the straight line of its cube root does; dew grows evenly over the hour.
    """
    wet = root > EDGE_ROOT
    share: Floats = wet.astype(np.float64)
    drying = np.nonzero(wet & (3 * (root - EDGE_ROOT) < loss))
    share[drying] = 3 * (root[drying] - EDGE_ROOT) / loss[drying]
    dewy = np.nonzero(~wet & (loss < 0))
    below = _EDGE_SHARE - root[dewy] * root[dewy] * root[dewy]
    gained = -loss[dewy]
    crosses = gained > below
    share[dewy] = np.where(crosses, 1.0 - np.maximum(below, 0) / np.where(crosses, gained, 1.0), 0.0)
    share[np.isnan(root)] = np.nan
    return share


def wet_fraction_of(roots: FilmRoots, loss: Floats) -> Floats:
    """Share of the hour wet where both films tell the same, else NaN: never dry, nor wet, by ignorance."""
    fraction = wet_share_of_hour(roots.low, loss)
    apart = np.nonzero(roots.low < roots.high)
    if apart[0].size:
        other = wet_share_of_hour(roots.high[apart], loss[apart])
        fraction[apart] = np.where(np.abs(other - fraction[apart]) <= SAME_WITHIN_FRACTION, fraction[apart], np.nan)
    return fraction


@dataclass(frozen=True, eq=False)
class FilmWater:
    """Where the water of a film went, hour by hour, as shares of capacity or in mm; one shape; NaN where unknown.

    Attributes:
        held: on the leaves at the end of the hour.
        caught: rain and irrigation that the leaves met.
        dew: formed in the hour.
        evaporated: in the hour.
        spilled: what was more than leaves hold and ran off.
        removed: mown or dragged off at the end of the hour.
    """

    held: Floats
    caught: Floats
    dew: Floats
    evaporated: Floats
    spilled: Floats
    removed: Floats


def film_water(root: Floats, loss: Floats, caught: Floats, removed: Floats | None = None, *, start: float) -> FilmWater:
    """The parts of one film's water, as shares of capacity.

    Args:
        root: of one of the two films, shape (hours, columns).
        loss: as given to :func:`film_roots`.
        caught: as given to :func:`film_roots`.
        removed: as given to :func:`film_roots`.
        start: share held before the first hour and after an unknown one: 0 for the low film, 1 for the high one.
    """
    at_start = root * root * root
    left_root = np.maximum(root - np.maximum(loss, 0) / 3, 0)
    left = left_root * left_root * left_root
    dew = np.maximum(-loss, 0)
    before_removal = np.minimum(left + dew, 1.0)
    taken = before_removal * (0.0 if removed is None else removed)
    held = before_removal - taken
    came_in = np.full_like(held, start)
    came_in[1:] = np.where(np.isnan(held[:-1]), start, held[:-1])
    spilled = np.maximum(came_in + caught - 1.0, 0) + np.maximum(left + dew - 1.0, 0)
    known = np.where(np.isnan(root), np.nan, 1.0)
    return FilmWater(held, caught * known, dew, at_start - left, spilled * known, taken)


def _column_by_column(array: NDArray[_Scalar]) -> NDArray[_Scalar]:
    """Hours of the first column, then of the second, and so on: a view where they lie so in memory."""
    return array.T.reshape(-1)


def _sure_hours(loss: Floats, caught: Floats, perhaps: _Marks) -> tuple[_Marks, _Marks]:
    """Hours whose film does not depend on the hours before: it comes in dry or is filled; and those dry throughout."""
    drying = (loss > 0) & (caught == 0) & ~perhaps
    evaporated = np.cumsum(np.where(drying, loss, 0.0), axis=0)
    evaporated -= np.maximum.accumulate(np.where(drying, 0.0, evaporated), axis=0)  # since the last hour not drying
    sure = caught >= 1
    sure[1:] |= evaporated[:-1] > _SURELY
    return sure, sure & drying


def _pieces(marks: _Marks, nothing: _Marks) -> tuple[_Places, _Places]:
    """First hours and lengths of the runs from each mark to the next, column by column, without those of nothing."""
    starts = np.flatnonzero(_column_by_column(marks))
    lengths = np.diff(starts, append=marks.size)
    keep = ~_column_by_column(nothing)[starts]
    return starts[keep], lengths[keep]


def _run(
    starts: _Places, lengths: _Places, share: float, weather: tuple[Floats, Floats, Floats | None], root: Floats
) -> None:
    """All pieces at once, hour by hour, each from ``share``; writes the cube root of each hour into ``root``.

    The longest pieces come first, so that those still running are always the first so many.
    """
    loss, caught, kept = weather
    order = np.argsort(-lengths, kind="stable")
    here = starts[order]
    ascending = lengths[order][::-1]
    running = len(here) - np.searchsorted(ascending, np.arange(ascending[-1] if len(here) else 0), side="right")
    held, thirds, part = np.full(len(here), share), np.empty(len(here)), np.empty(len(here))
    for count in running.tolist():
        at, s, r, p = here[:count], held[:count], thirds[:count], part[:count]
        np.take(caught, at, out=p, mode="clip")
        s += p
        np.minimum(s, 1.0, out=s)
        np.cbrt(s, out=r)
        root[at] = r
        np.take(loss, at, out=p, mode="clip")
        np.maximum(p, 0.0, out=s)
        s /= 3
        r -= s
        np.maximum(r, 0.0, out=r)
        np.multiply(r, r, out=s)
        s *= r
        np.minimum(p, 0.0, out=p)
        s -= p
        np.minimum(s, 1.0, out=s)
        if kept is not None:
            np.take(kept, at, out=p, mode="clip")
            s *= p
        at += 1
