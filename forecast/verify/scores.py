"""Scores of chances, ensembles and onset days against what came; less is better, but for skill and area.

Score against a reference made for the same site and date. Against one pooled constant, or by a pooled area under the
curve, the change of seasons and sites counts as skill that no forecaster had (Hamill & Juras 2006, Q. J. R. Meteorol.
Soc. 132:2905-2923, abstract read); ``brier_skill`` and ``stratified_auc`` are there for that.

Everywhere: ``happened`` is 1, 0 or NaN for unknown; a case with anything unknown is dropped from a score, and NaN where
a figure is told for each case; a score of no cases is NaN. See ``year_blocks.py`` for how sure a score is.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats
from forecast.verify.cases import chances, known, outcomes, over

_SUMS_TO_ONE_WITHIN = 1e-6


def brier_score(chance: Floats, happened: Floats) -> float:
    """Mean squared difference of chance and outcome: 0 perfect, 1 worst (Brier 1950, Mon. Weather Rev. 78:1-3).

    Args:
        chance: 0 to 1, shape (cases,).
        happened: shape (cases,).
    """
    told, came = known(chances(chance), outcomes(happened))
    return _mean((told - came) ** 2)


def brier_skill(chance: Floats, happened: Floats, reference: Floats) -> float:
    """One less the quotient of two Brier scores over the same cases: 1 perfect, 0 as good as the reference.

    NaN where the reference is perfect.

    Args:
        chance: 0 to 1, shape (cases,).
        happened: shape (cases,).
        reference: the chance to be beaten, as of that site and date in other years; shape (cases,).
    """
    told, came, beaten = known(chances(chance), outcomes(happened), chances(reference))
    return 1 - over(float(((told - came) ** 2).sum()), float(((beaten - came) ** 2).sum()))


def fair_brier_losses(hits: Floats, members: Floats | int, happened: Floats) -> Floats:
    """What each case adds to the fair Brier score, shape (cases,); it may be below 0 in a case, not on average.

    Args:
        hits: members with the event, shape (cases,).
        members: how many there are, one number or shape (cases,); fewer than two give NaN.
        happened: shape (cases,).

    Raises:
        ValueError: more hits than members, or fewer than none.
    """
    came, hit = outcomes(happened), np.asarray(hits, np.float64)
    size = np.broadcast_to(np.asarray(members, np.float64), hit.shape)
    if np.any((hit < 0) | (hit > size)):
        raise ValueError("hits count members with the event: from none to all of them")
    size = np.where(size >= 2, size, np.nan)
    share = hit / size
    found: Floats = (share - came) ** 2 - share * (1 - share) / (size - 1)
    return found


def fair_brier_score(hits: Floats, members: Floats | int, happened: Floats) -> float:
    """The Brier score that the same ensemble would get with endless members, without bias, from those it has.

    The plain score of a share of M members holds their sampling noise, so that thirty members look worse than a hundred
    of the same make. Ferro 2014, Q. J. R. Meteorol. Soc. 140:1917-1923 (formula from memory; equal to that of the
    ``scores`` package in the tests). It is for comparing sizes, not for a chance that has been corrected afterwards.

    Args:
        hits: members with the event, shape (cases,).
        members: how many there are, one number or shape (cases,).
        happened: shape (cases,).
    """
    return _mean(*known(fair_brier_losses(hits, members, happened)))


def auc(chance: Floats, happened: Floats) -> float:
    """Share of the pairs of an event and a non-event in which the event had the greater chance, ties by half.

    This is the area under the ROC curve: 1 perfect, 0.5 none; NaN where there are only events, or only non-events.
    Pooled over sites and dates it gives climatology alone more than 0.5; see :func:`stratified_auc`.

    Args:
        chance: 0 to 1, shape (cases,).
        happened: shape (cases,).
    """
    return stratified_auc(chance, happened, np.zeros(np.shape(chance)))


def stratified_auc(chance: Floats, happened: Floats, stratum: NDArray[Any]) -> float:
    """The same over pairs within one stratum only, all such pairs alike; NaN where no stratum has an event and another.

    Args:
        chance: 0 to 1, shape (cases,).
        happened: shape (cases,).
        stratum: a number for each stratum, as of a site and a part of the season; shape (cases,).
    """
    told, came, within = known(chances(chance), outcomes(happened), stratum)
    if not told.size:
        return float("nan")
    order = np.lexsort((told, within))
    told, came, within = told[order], came[order], within[order]
    new_stratum = np.append(True, within[1:] != within[:-1])
    new_chance = new_stratum | np.append(True, told[1:] != told[:-1])
    starts = np.flatnonzero(new_chance)
    events = np.add.reduceat(came, starts)
    others = np.add.reduceat(1 - came, starts)
    below = np.cumsum(others) - others  # in this stratum and in those before it
    first_of = np.flatnonzero(new_stratum[starts])
    group_stratum = np.cumsum(new_stratum[starts]) - 1
    below -= below[first_of][group_stratum]
    pairs = np.add.reduceat(events, first_of) @ np.add.reduceat(others, first_of)
    return over(float(events @ (below + others / 2)), float(pairs))


def crps_of_members(members: Floats, observed: Floats, *, fair: bool = False) -> Floats:
    """The continuous ranked probability score of an ensemble, a value a case in the unit of the members.

    Mean distance of the members from what was observed, less half their mean distance from each other. NaN where the
    observed value or a member is unknown.

    Args:
        members: shape (cases, members).
        observed: shape (cases,).
        fair: take the distance from each other over pairs of different members, not of all, which removes the bias of
            few members (Ferro 2014); one member then gives NaN.

    Raises:
        ValueError: shapes that do not fit.
    """
    if members.ndim != 2 or observed.shape != members.shape[:1]:
        raise ValueError("members need shape (cases, members), and what was observed one figure a case")
    size = members.shape[1]
    pairs = size * (size - 1) if fair else size**2
    if not pairs:
        return np.full(len(members), np.nan)
    apart = np.abs(members - observed[:, None]).mean(axis=1)
    # Of the sorted members the one at place k lies above k others and below size − 1 − k.
    places = 2.0 * np.arange(size) - (size - 1)
    among = 2 * (np.sort(members, axis=1) @ places) / pairs
    found: Floats = apart - among / 2
    return found


def crps_of_days(chance_a_day: Floats, day: NDArray[Any]) -> Floats:
    """The ranked probability score of the day of onset, a value a case in days.

    The sum over the days of the squared difference between the chance that onset has come by then and whether it has:
    the discrete form of the continuous score. A forecast that names one day for sure scores as many days as it is off.

    *Later is censored.* The last column holds every day after the others, and onset one day beyond them counts like one
    a month beyond, or none at all. A miss costs no more than the number of days, and the score says nothing of skill
    beyond them; compare it only with a reference of as many days.

    Args:
        chance_a_day: chance of onset on each day, and later in the last column; rows sum to 1; shape (cases, days + 1).
        day: column of the onset that came, the last for later; NaN where unknown; shape (cases,).

    Returns:
        Shape (cases,); NaN where the day or a chance of the row is unknown.

    Raises:
        ValueError: shapes that do not fit, rows that do not sum to 1, days without a column.
    """
    told, came = chances(chance_a_day), np.asarray(day, np.float64)
    if told.ndim != 2 or came.shape != told.shape[:1]:
        raise ValueError("chances need shape (cases, days + 1), and the day of onset one figure a case")
    if np.any(np.abs(told.sum(axis=1) - 1) > _SUMS_TO_ONE_WITHIN):
        raise ValueError("the chances of a case need to sum to 1: put what is left into the last column, later")
    if np.any(((came < 0) | (came >= told.shape[1]) | (came % 1 != 0)) & ~np.isnan(came)):
        raise ValueError(f"the day of onset is a column of the chances, a whole number from 0 to {told.shape[1] - 1}")
    by_then = np.cumsum(told[:, :-1], axis=1)
    has_come = came[:, None] <= np.arange(told.shape[1] - 1)
    found: Floats = ((by_then - has_come) ** 2).sum(axis=1)
    return np.where(np.isnan(came) | np.isnan(told).any(axis=1), np.nan, found)


def _mean(values: Floats) -> float:
    return float(values.mean()) if values.size else float("nan")
