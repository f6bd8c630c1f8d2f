"""Hours at points, and what stands behind each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from forecast.between.field import BITS, Words
from forecast.between.rules import Way
from forecast.between.where import Confidence, Nearness
from forecast.panel import Bytes, Floats, Panel


@dataclass(frozen=True, slots=True)
class Basis:
    """What stands behind one quantity at one point over some hours.

    Attributes:
        point: whose.
        quantity: of what.
        station: the one that was the nearest behind most hours; empty where nothing is known.
        distance_km: from the point to that station; NaN where there is none.
        height_difference_m: how much higher that station stands; NaN where there is none.
        confidence: of that station; None where there is none.
        hours_by_station: every station that stands behind some hour, alone or with others, and how many hours; most
            first, then the nearest.
        hours_by_way: how many hours came in which way, unknown ones included.
    """

    point: str
    quantity: str
    station: str
    distance_km: float
    height_difference_m: float
    confidence: Confidence | None
    hours_by_station: Mapping[str, int]
    hours_by_way: Mapping[Way, int]


@dataclass(frozen=True, eq=False)
class Estimated:
    """Hours at points, and what stands behind each.

    Attributes:
        panel: the points as series; origin ``NEIGHBOUR`` and flag ``SUSPECT`` as :func:`estimate` says.
        stations: the stations' names, as ``lead`` counts them.
        distance_km: shape (points, stations).
        height_difference_m: how much higher the station stands than the point, shape (points, stations).
        nearness: :class:`~forecast.between.where.Nearness` of each station to each point, shape (points, stations).
        lead: per quantity, the nearest station behind each value as an index into ``stations``, −1 for none;
            shape (hours, points).
        way: per quantity, :class:`Way` of each value, shape (hours, points).
        behind: per quantity, every station behind each value, a bit each in words of 64; shape (points, words, hours).
    """

    panel: Panel
    stations: tuple[str, ...]
    distance_km: Floats
    height_difference_m: Floats
    nearness: Bytes
    lead: Mapping[str, NDArray[np.int16]]
    way: Mapping[str, Bytes]
    behind: Mapping[str, Words]

    def basis(
        self, point: str, quantity: str, first: np.datetime64 | None = None, last: np.datetime64 | None = None
    ) -> Basis:
        """What stands behind a quantity at a point from ``first`` to ``last``, both included; all hours by default."""
        row = self.panel.series.index(point)
        hours = self.panel.hours
        start = 0 if first is None else np.searchsorted(hours, first)
        keep = slice(start, len(hours) if last is None else np.searchsorted(hours, last, side="right"))
        lead = self.lead[quantity][keep, row]
        leads = np.bincount(lead[lead >= 0], minlength=len(self.stations))
        counts = self._hours_behind(quantity, row, keep)

        def rank(count: NDArray[np.int64], station: int) -> tuple[int, float, str]:
            return -int(count[station]), float(self.distance_km[row, station]), self.stations[station]

        top = min(np.flatnonzero(leads).tolist(), key=lambda s: rank(leads, s), default=None)
        order = sorted(np.flatnonzero(counts).tolist(), key=lambda s: rank(counts, s))
        ways = np.bincount(self.way[quantity][keep, row], minlength=len(Way))
        return Basis(
            point,
            quantity,
            "" if top is None else self.stations[top],
            np.nan if top is None else float(self.distance_km[row, top]),
            np.nan if top is None else float(self.height_difference_m[row, top]),
            None if top is None else Nearness(self.nearness[row, top]).confidence,
            MappingProxyType({self.stations[s]: int(counts[s]) for s in order}),
            MappingProxyType({way: int(ways[way]) for way in Way if ways[way]}),
        )

    def _hours_behind(self, quantity: str, row: int, keep: slice) -> NDArray[np.int64]:
        """How many hours each station stands behind."""
        words = self.behind[quantity][row][:, keep]
        places = (divmod(station, BITS) for station in range(len(self.stations)))
        return np.array([np.count_nonzero(words[word] & np.uint64(1 << bit)) for word, bit in places], np.int64)
