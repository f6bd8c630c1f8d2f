"""Whether events came as often as the chances said, in bins of chance, with what chance alone would do.

The band is a *consistency* band: it holds the frequencies that would be seen if the chances were right, and lies around
the mean chance. It is not the confidence band of a bootstrap, which lies around the observed frequency.

To redraw each outcome by its own chance (Bröcker & Smith 2007, Weather Forecast. 22:651-661, introduction read) takes
the cases as independent, but the days of a season and the stations of a day share their weather. Here the sum of
outcome − chance of each year and bin keeps its size and gets a random sign, the same for all bins of a year: if the
chances are right that sum is 0 on average, and all ties within a year stay as they were. This is the wild cluster
bootstrap with the null imposed (Cameron, Gelbach & Miller 2008, Rev. Econ. Stat. 90:414-427, abstract read; the signs
from memory). It is exact where such a sum lies above 0 as often as below it by the same amount. In a bin with one or
two years, or a few cases, signs alone know too little: the band is never narrower than independent cases make it.

Measured with weather invented so that the chances are right (five stations, 150 days a season, tied by a shared run of
weather and a lean of each year; 8, 12 and 20 years, 150 tries each): the band holds 85 to 92 % of the frequencies of
bins with four years and 20 cases, where 90 are meant, and 92 to 100 % of those with less; redrawing each outcome alone
holds 38 to 81 %. With five years signs have only 32 ways to fall, and still 87 to 94 % are held.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats
from forecast.verify.cases import chances, known, outcomes, over

BAND = (0.05, 0.95)  # nine in ten
_HAIR = 1e-9  # 0.29 · 100 is a hair less than 29


@dataclass(frozen=True, slots=True)
class Bin:
    """The cases whose chance lies in one bin; all but the counts are NaN without a case.

    Attributes:
        count: cases.
        years: distinct years among them.
        mean_chance: what was told, on average.
        frequency: share of the cases in which the event came.
        consistent_low: lower end of the frequencies seen in nine of ten tries if the chances were right.
        consistent_high: their upper end.
    """

    count: int
    years: int
    mean_chance: float
    frequency: float
    consistent_low: float
    consistent_high: float


def reliability(
    chance: Floats, happened: Floats, years: NDArray[Any], *, bins: int = 10, draws: int, random: np.random.Generator
) -> tuple[Bin, ...]:
    """What came against what was told, in bins of equal width from 0 to 1, the lower edge in each, empty bins too.

    Args:
        chance: 0 to 1, shape (cases,).
        happened: 1, 0 or NaN for unknown, shape (cases,).
        years: the year of each case, shape (cases,).
        bins: how many.
        draws: tries that the band is made of, a thousand or so.
        random: draws them.
    """
    told, came, of = known(chances(chance), outcomes(happened), years)
    place = _place(told, bins)
    distinct, year = np.unique(of, return_inverse=True)
    cell, shape = place * len(distinct) + year, (bins, len(distinct))
    excess = np.bincount(cell, came - told, bins * len(distinct)).reshape(shape)
    filled = np.bincount(cell, minlength=bins * len(distinct)).reshape(shape) > 0
    signs = 2.0 * random.integers(0, 2, (draws, len(distinct))) - 1
    off = np.quantile(signs @ excess.T, BAND, axis=0)  # events more than told, by whole years
    found = []
    for each in range(bins):
        inside = place == each
        count = int(inside.sum())
        if not count:
            found.append(Bin(0, 0, *[float("nan")] * 4))
            continue
        mean = float(told[inside].mean())
        off_alone = np.quantile(random.binomial(count, mean, draws), BAND) - count * mean
        low, high = min(off[0, each], off_alone[0]), max(off[1, each], off_alone[1])
        found.append(
            Bin(
                count,
                int(filled[each].sum()),
                mean,
                float(came[inside].mean()),
                max(mean + float(low) / count, 0.0),
                min(mean + float(high) / count, 1.0),
            )
        )
    return tuple(found)


def slope(chance: Floats, happened: Floats, *, bins: int = 10) -> float:
    """By how much the frequency rises where the mean chance of a bin rises by 1, each bin weighted by its cases.

    1 is right, less says that the chances are spread too wide, more that they hold back. NaN where all cases lie in one
    bin. ``score_with_interval`` of :mod:`forecast.verify.year_blocks` tells how sure it is.

    Args:
        chance: 0 to 1, shape (cases,).
        happened: 1, 0 or NaN for unknown, shape (cases,).
        bins: how many, of equal width.
    """
    told, came = known(chances(chance), outcomes(happened))
    place = _place(told, bins)
    count = np.bincount(place, minlength=bins)
    filled = count > 0
    if filled.sum() < 2:
        return float("nan")
    count = count[filled]
    mean, frequency = (np.bincount(place, each, bins)[filled] / count for each in (told, came))
    from_middle = mean - np.average(mean, weights=count)
    return over(float((count * from_middle) @ frequency), float((count * from_middle) @ from_middle))


def _place(told: Floats, bins: int) -> NDArray[np.int64]:
    """The bin of each chance; a chance of 1 belongs to the last."""
    return np.minimum((told * bins + _HAIR).astype(np.int64), bins - 1)
