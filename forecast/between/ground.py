"""What every quantity shares: the hours, the stations, the points, and whom to ask first."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from forecast.between.field import Field
from forecast.between.rules import Spread
from forecast.between.where import REACH_KM, Lie, Nearness, Where
from forecast.panel import Hours

MOST_STATIONS = 5  # house choice: the sixth nearest adds little weight
POWER = 2  # inverse square of distance, the usual power (Shepard 1968, ACM National Conference, 517-524; from memory)


@dataclass(frozen=True, eq=False)
class Ground:
    """What every quantity shares: hours, stations, points, and how stations lie about points and each other."""

    hours: Hours
    series: tuple[str, ...]
    stations: tuple[Where, ...]
    points: tuple[Where, ...]
    lie: Lie
    among: Lie

    def at_the_stations(self) -> Ground:
        """The same with the stations themselves as points."""
        return replace(self, points=self.stations, lie=self.among)

    def nothing_known(self) -> Field:
        """A quantity of which nothing is known at any point yet."""
        return Field.empty(len(self.points), len(self.series), len(self.hours))

    def order(self, lie: Lie, place: int, have: NDArray[np.bool_], spread: Spread) -> list[int]:
        """The stations within reach that have a quantity, the first to be asked first; names break ties."""
        reached = (lie.effective_km[place] <= REACH_KM) & (lie.nearness[place] <= spread.farthest)
        near = np.flatnonzero(have & reached)
        key = {int(s): (lie.nearness[place, s], lie.effective_km[place, s], self.series[s]) for s in near}
        return sorted(key, key=key.__getitem__)


def taken_as_they_are(ground: Ground, point: int, order: list[int]) -> list[int]:
    """The stations whose readings are taken as they are: those on the site, or else the first, if good."""
    nearness = ground.lie.nearness[point]
    on_site = [s for s in order if nearness[s] == Nearness.ON_SITE]
    return on_site or [s for s in order[:1] if nearness[s] == Nearness.GOOD]
