"""Calibration fitted on past mornings, whole years left out, and never worse than what is usual for the date.

Per day ahead one weight by least squares, shrunk to 1 (members at their word) as by two more years of mornings. From
four years on a logistic regression of scikit-learn stands beside it (penalised, on standardised inputs, its slopes then
smoothed over neighbouring days ahead), and takes over where on years left out it is surely better. From the first day
ahead on at which the skill over the usual chance is not surely above 0 (the lower end of its 90 % interval, years as
blocks), the usual chance is told.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from sklearn.linear_model import LogisticRegression

from forecast.outlook.calibration import EDGE, LEADS, STATE, Calibration, Source, as_they_are, logit, stacked_chance
from forecast.panel import Floats
from forecast.verify.pool import Pool
from forecast.verify.year_blocks import Skill, difference_with_interval, skill_with_interval

SHRINK_YEARS = 2.0  # house choice
STACK_FROM_YEARS = 4  # fewer seasons were found too few for more than one weight
PENALTY_C = 0.05
LEAST_EVENTS = 30  # house choice: fewer event days, or days without, fit no regression


@dataclass(frozen=True, eq=False)
class Fitted:
    """A calibration with what it told of the years that were left out.

    Attributes:
        calibration: fitted on all years.
        days: chances of single days, each by the other years alone, shape (mornings, days).
        within: of windows, likewise, shape (mornings, days, days).
        skill: of the chances of single days, by days ahead.
        skill_within: of the windows from tomorrow to each day ahead.
    """

    calibration: Calibration
    days: Floats
    within: Floats
    skill: tuple[Skill, ...]
    skill_within: tuple[Skill, ...]


def fit(mornings: Pool, source: Source, made: str) -> Fitted:
    """A calibration of one event from some mornings.

    Args:
        mornings: of one event, any stations.
        source: what its members followed.
        made: in words, from what.
    """
    years = np.unique(mornings.year)
    weights, by_weight = weighted(mornings.members, mornings.usual, mornings.happened, mornings.year)
    within, by_window = weighted(
        mornings.members_within, mornings.usual_within, mornings.happened_within, mornings.year
    )
    stack, stacked = _stacks(mornings, years)
    days = by_weight.copy()
    for lead in range(LEADS + 1):
        if not np.isnan(stack[lead]).any() and _surely_better(stacked[:, lead], by_weight[:, lead], mornings, lead):
            days[:, lead] = stacked[:, lead]
        else:
            stack[lead] = np.nan
    skill = [
        _skill(days[:, lead], mornings.usual[:, lead], mornings.happened[:, lead], mornings.year)
        for lead in range(LEADS + 1)
    ]
    told = _until_first_doubt(skill)
    weights, stack = np.where(told, weights, 0.0), np.where(told[:, None], stack, np.nan)
    days = np.where(told, days, mornings.usual)
    told_within = np.zeros((LEADS + 1, LEADS + 1), dtype=bool)
    skill_within: list[Skill] = []
    for first in range(LEADS + 1):
        found = [
            _skill(by_window[:, first, last], mornings.usual_within[:, first, last],
                   mornings.happened_within[:, first, last], mornings.year)
            for last in range(first, LEADS + 1)
        ]  # fmt: skip
        told_within[first, first:] = _until_first_doubt(found)
        skill_within = found if first == 1 else skill_within
    within = np.where(told_within, np.nan_to_num(within), 0.0)
    by_window = np.where(told_within, by_window, mornings.usual_within)
    calibration = replace(
        as_they_are(source, made),
        told_days=int(told.sum()),
        single=weights,
        within=within,
        stack=stack,
        skill=np.array([one.value for one in skill]),
        skill_low=np.array([one.low for one in skill]),
        skill_high=np.array([one.high for one in skill]),
        mornings=len(mornings.day),
        years=len(years),
        stations=mornings.stations,
    )
    return Fitted(calibration, days, by_window, tuple(skill), tuple(skill_within))


def weighted(members: Floats, usual: Floats, happened: Floats, year: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """One weight a day or window over all years, and the chances that each year gets by the others'.

    Args:
        members: chances by members, shape (mornings, ...); NaN where unknown.
        usual: by other years, same shape.
        happened: 1, 0 or NaN, same shape.
        year: of each morning.

    Returns:
        Weights from 0 to 1, shape (...), and chances told, shape (mornings, ...).
    """
    distinct, of = np.unique(year, return_inverse=True)
    apart, came = members - usual, happened - usual
    known = ~np.isnan(apart + came)
    products, squares = (
        np.stack([np.where(known, one, 0.0)[of == number].sum(axis=0) for number in range(len(distinct))])
        for one in (apart * came, apart**2)
    )

    def weight(product: Floats, square: Floats, years: int) -> Floats:
        more = SHRINK_YEARS * square / max(years, 1)
        found = np.divide(product + more, square + more, out=np.ones_like(square), where=square + more > 0)
        return np.clip(found, 0.0, 1.0)

    whole = weight(products.sum(axis=0), squares.sum(axis=0), len(distinct))
    told = np.full(members.shape, np.nan)
    for number in range(len(distinct)):
        others = np.arange(len(distinct)) != number
        rows = of == number
        one = weight(products[others].sum(axis=0), squares[others].sum(axis=0), len(distinct) - 1)
        told[rows] = usual[rows] + one * apart[rows]
    return whole, told


def _stacks(mornings: Pool, years: NDArray[np.int64]) -> tuple[Floats, Floats]:
    """The regression's numbers over all years, and the chances that each year gets by the others'."""
    width = 3 + len(STATE)
    told = np.full(mornings.members.shape, np.nan)
    if len(years) < STACK_FROM_YEARS:
        return np.full((LEADS + 1, width), np.nan), told
    for year in years:
        rows = mornings.year == year
        stack = _smoothed(_regressions(mornings, ~rows))
        told[rows] = stacked_chance(stack, mornings.members[rows], mornings.usual[rows], mornings.state[rows])
    return _smoothed(_regressions(mornings, np.ones(len(mornings.year), dtype=bool))), told


def _regressions(mornings: Pool, rows: NDArray[np.bool_]) -> Floats:
    found = np.full((LEADS + 1, 3 + len(STATE)), np.nan)
    for lead in range(LEADS + 1):
        inputs = np.column_stack([logit(mornings.members[:, lead]), logit(mornings.usual[:, lead]), mornings.state])
        known = rows & ~np.isnan(inputs).any(axis=1) & ~np.isnan(mornings.happened[:, lead])
        x, y = inputs[known], mornings.happened[known, lead]
        if min(y.sum(), len(y) - y.sum()) < LEAST_EVENTS:
            continue
        mean, spread = x.mean(axis=0), np.maximum(x.std(axis=0), EDGE)
        fitted = LogisticRegression(C=PENALTY_C, max_iter=1000).fit((x - mean) / spread, y)
        slopes = fitted.coef_[0] / spread
        found[lead] = np.append(fitted.intercept_[0] - slopes @ mean, slopes)
    return found


def _smoothed(stack: Floats) -> Floats:
    """Means over neighbouring days ahead, 1:2:1, of those that are known; the first day keeps its own."""
    found = stack.copy()
    for lead in range(1, len(stack)):
        near = [(stack[lead + step], weight) for step, weight in ((-1, 1.0), (0, 2.0), (1, 1.0))
                if 0 < lead + step < len(stack) and not np.isnan(stack[lead + step]).any()]  # fmt: skip
        if near and not np.isnan(stack[lead]).any():
            found[lead] = sum(weight * row for row, weight in near) / sum(weight for _, weight in near)
    return found


def _surely_better(stacked: Floats, weighted: Floats, mornings: Pool, lead: int) -> bool:
    came, usual = mornings.happened[:, lead], mornings.usual[:, lead]
    gain = difference_with_interval((stacked - came) ** 2, (weighted - came) ** 2, (usual - came) ** 2, mornings.year)
    return gain.low > 0


def _skill(told: Floats, usual: Floats, came: Floats, year: NDArray[np.int64]) -> Skill:
    return skill_with_interval((told - came) ** 2, (usual - came) ** 2, year)


def _until_first_doubt(skill: list[Skill]) -> NDArray[np.bool_]:
    """True up to the first day whose skill is not surely above 0; the morning's own day counts as the others."""
    good = np.array([one.low > 0 for one in skill])
    return np.logical_and.accumulate(good)
