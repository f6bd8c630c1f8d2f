"""The Brier score in three parts: how far chances are off, how much they tell apart, and what there was to tell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from sklearn.isotonic import IsotonicRegression

from forecast.panel import Floats
from forecast.verify.cases import chances, known, outcomes


@dataclass(frozen=True, slots=True)
class Corp:
    """Parts of a Brier score, which is miscalibration − discrimination + uncertainty.

    Attributes:
        miscalibration: what the score would fall by if every chance were replaced by the frequency that followed it; 0
            for chances that were right, never below. In-sample, so rather too great: right chances get more than 0.
        discrimination: how far those frequencies lie below the score of one constant; 0 where all cases look alike.
        uncertainty: the score of the overall frequency, told as the chance of every case.
    """

    miscalibration: float
    discrimination: float
    uncertainty: float


def corp(chance: Floats, happened: Floats) -> Corp:
    """The decomposition by isotonic regression, which needs no bins; NaN without a case.

    Dimitriadis, Gneiting & Jordan 2021, PNAS 118(8), e2016191118 (from memory; equal to that by the isotonic fit of the
    ``scores`` package in the tests).

    Args:
        chance: 0 to 1, shape (cases,).
        happened: 1, 0 or NaN for unknown, shape (cases,).
    """
    told, came = known(chances(chance), outcomes(happened))
    if not told.size:
        return Corp(*[float("nan")] * 3)
    right = IsotonicRegression().fit(told, came).predict(told)
    score, score_if_right = float(((told - came) ** 2).mean()), float(((right - came) ** 2).mean())
    uncertainty = float(np.var(came))
    return Corp(score - score_if_right, uncertainty - score_if_right, uncertainty)
