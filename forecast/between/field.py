"""One quantity over places and hours, with what stands behind each value."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from forecast.between.rules import Way
from forecast.panel import Bytes, Floats
from forecast.quantities import Flag, Origin

Words = NDArray[np.uint64]

NOBODY = -1  # the lead of a value that nobody tells
BITS = 64  # stations in a word of ``behind``


@dataclass(frozen=True, eq=False)
class Field:
    """One quantity, place by place.

    Attributes:
        values: NaN where unknown; shape (places, hours), places being stations or points.
        flags: shape (places, hours).
        origin: shape (places, hours).
        lead: the nearest station behind the value, shape (places, hours).
        way: how the value came, shape (places, hours).
        behind: every station behind the value, a bit each in words of 64; shape (places, words, hours).
    """

    values: Floats
    flags: Bytes
    origin: Bytes
    lead: NDArray[np.int16]
    way: Bytes
    behind: Words

    @classmethod
    def empty(cls, places: int, stations: int, hours: int) -> Field:
        """Nothing known yet; the arrays are filled in place by the function that made it."""
        shape = (places, hours)
        return cls(
            np.full(shape, np.nan),
            np.full(shape, Flag.MISSING, np.uint8),
            np.full(shape, Origin.OBSERVED, np.uint8),
            np.full(shape, NOBODY, np.int16),
            np.full(shape, Way.UNKNOWN, np.uint8),
            np.zeros((places, words_for(stations), hours), np.uint64),
        )

    def copy(self) -> Field:
        """The same, free to be changed."""
        return Field(*(getattr(self, part.name).copy() for part in fields(self)))

    def take(self, row: int, part: Part, where: NDArray[np.bool_] | None = None) -> None:
        """Let a part have the hours of a row that are unknown yet, all or those given."""
        new = np.isnan(self.values[row]) & ~np.isnan(part.values)
        if where is not None:
            new &= where
        for kind in fields(part):
            np.copyto(getattr(self, kind.name)[row], getattr(part, kind.name), where=new, casting="same_kind")

    def row(self, place: int) -> Part:
        """One place's hours."""
        return Part(*(getattr(self, part.name)[place] for part in fields(self)))


@dataclass(frozen=True, eq=False)
class Part:
    """One place's hours, parts as in :class:`Field`; shape (hours,), ``behind`` (words, hours)."""

    values: Floats
    flags: Bytes
    origin: Bytes
    lead: NDArray[np.int16]
    way: Bytes
    behind: Words

    def from_elsewhere(self, way: Way) -> Part:
        """The same, marked as coming from a neighbour."""
        origin = np.maximum(self.origin, np.uint8(Origin.NEIGHBOUR))
        return replace(self, origin=origin, way=np.full_like(self.way, way))


def words_for(stations: int) -> int:
    """How many words of bits the stations take."""
    return -(-stations // BITS)


def of_stations(values: Floats, flags: Bytes, origin: Bytes) -> Field:
    """A quantity as the stations have it, each its own lead, from arrays of shape (hours, stations)."""
    by_station = np.ascontiguousarray(values.T)
    unknown = np.isnan(by_station)
    lead = np.where(unknown, NOBODY, np.arange(len(by_station))[:, None]).astype(np.int16)
    way = np.where(unknown, Way.UNKNOWN, Way.OWN).astype(np.uint8)
    behind = np.zeros((len(by_station), words_for(len(by_station)), len(values)), np.uint64)
    for station in range(len(by_station)):
        word, bit = divmod(station, BITS)
        behind[station, word] = np.where(unknown[station], np.uint64(0), np.uint64(1 << bit))
    return Field(by_station, np.ascontiguousarray(flags.T), np.ascontiguousarray(origin.T), lead, way, behind)


def has(own: Field) -> NDArray[np.bool_]:
    """Which stations know the quantity at all."""
    return np.asarray((~np.isnan(own.values)).any(axis=1))
