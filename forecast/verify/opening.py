"""How good told openings were on past seasons: the day, the chance within a fortnight, and whether ranges hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats
from forecast.verify.opening_hindcast import DAYS_SCORED, OpeningHindcast
from forecast.verify.scores import crps_of_days
from forecast.verify.year_blocks import Skill, score_with_interval, skill_with_interval

SOON_DAYS = 14  # the chance that it opens within so many days, the first that is not over yet among them


@dataclass(frozen=True, slots=True)
class OpeningSkill:
    """How good told openings were.

    Attributes:
        soon: Brier skill of the chance of opening within :data:`SOON_DAYS`, over the usual chance.
        days: skill of the day by the ranked probability score of :data:`DAYS_SCORED` days, over the usual one.
        crps_days, usual_crps_days: the mean scores themselves, days.
        inside: share of mornings whose 10 to 90 % range holds the day that came.
        usual_inside: the same of the usual range.
        width_days, usual_width_days: mean width of those ranges, days, where both ends are told.
        by_middle: share of mornings after which it came no later than the day told in the middle.
        mornings: how many.
        seasons: of how many seasons of stations.
    """

    soon: Skill
    days: Skill
    crps_days: float
    usual_crps_days: float
    inside: Skill
    usual_inside: Skill
    width_days: float
    usual_width_days: float
    by_middle: Skill
    mornings: int
    seasons: int


def opening_skill(parts: Sequence[OpeningHindcast]) -> OpeningSkill:
    """How good the openings of some stations were, with years as blocks."""
    one = {
        name: np.concatenate([getattr(part, name) for part in parts])
        for name in ("season", "first", "opened", "told", "usual", "told_range", "usual_range")
    }
    days = one["opened"] - one["first"]
    soon = (days < SOON_DAYS).astype(np.float64)
    by_then, usual_by_then = (one[name][:, :SOON_DAYS].sum(axis=1) for name in ("told", "usual"))
    column = np.minimum(days, DAYS_SCORED)
    score, usual_score = crps_of_days(one["told"], column), crps_of_days(one["usual"], column)
    return OpeningSkill(
        skill_with_interval((by_then - soon) ** 2, (usual_by_then - soon) ** 2, one["season"]),
        skill_with_interval(score, usual_score, one["season"]),
        _mean(score),
        _mean(usual_score),
        _inside(one["opened"], one["told_range"], one["season"]),
        _inside(one["opened"], one["usual_range"], one["season"]),
        _width(one["told_range"]),
        _width(one["usual_range"]),
        _share(one["opened"] <= one["told_range"][:, 1], one["told_range"][:, 1:2], one["season"]),
        len(days),
        sum(len(np.unique(part.season)) for part in parts),
    )


def _inside(opened: Floats, told: Floats, season: NDArray[Any]) -> Skill:
    """The share of days within a range; later lies within one that ends later."""
    return _share((told[:, 0] <= opened) & (opened <= told[:, 2]), told, season)


def _share(holds: NDArray[np.bool_], told: Floats, season: NDArray[Any]) -> Skill:
    """How often something holds, over the mornings of which all that was told is known."""
    known = np.where(np.isnan(told).any(axis=1), np.nan, holds.astype(np.float64))
    return score_with_interval(_mean, season, known)


def _width(told: Floats) -> float:
    ends = told[np.isfinite(told).all(axis=1)]
    return _mean(ends[:, 2] - ends[:, 0])


def _mean(values: Floats) -> float:
    return float(values.mean()) if values.size else float("nan")
