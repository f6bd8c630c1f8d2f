"""The form every check fills in: what it looks for, its limits with their sources, and the function that looks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats, Hours
from forecast.quantities import Flag

Marks = NDArray[np.bool_]


class Somewhere(Protocol):
    """Whatever says where a series was read: :class:`Place`, or a caller's own with the same three names."""

    @property
    def latitude_deg(self) -> float:
        """North positive."""

    @property
    def longitude_deg(self) -> float:
        """East positive."""

    @property
    def elevation_m(self) -> float:
        """Above the sea."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a series was read.

    Attributes:
        latitude_deg: north positive.
        longitude_deg: east positive.
        elevation_m: above the sea.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit of a check.

    Attributes:
        value: beyond it a reading is flagged; whether the limit itself still passes, the words say.
        unit: of the value.
        words: what is not let pass, with ``{}`` where value and unit go.
        source: where the value comes from.
    """

    value: float
    unit: str
    words: str
    source: str

    def __str__(self) -> str:
        """The limit in words, with value and unit."""
        return self.words.format(f"{self.value:g} {self.unit}".strip())


@dataclass(frozen=True, eq=False, slots=True)
class Seen:
    """What a check looks at. What an earlier check failed is unknown here.

    Attributes:
        hours: unbroken UTC stamps, each the end of its hour; shape (hours,).
        series: one name a column.
        values: per quantity, shape (hours, series); NaN is unknown.
        places: of the series that have one.
        standard_offset_minutes: standard time minus UTC.
    """

    hours: Hours
    series: tuple[str, ...]
    values: Mapping[str, Floats]
    places: Mapping[str, Somewhere]
    standard_offset_minutes: int

    def month(self) -> NDArray[np.int64]:
        """Calendar month of each hour (UTC), 1 to 12; shape (hours,)."""
        return self.hours.astype("datetime64[M]").astype(np.int64) % 12 + 1

    def has(self, *names: str) -> bool:
        """Whether all these quantities are there."""
        return all(name in self.values for name in names)


@dataclass(frozen=True, eq=False, slots=True)
class Found:
    """What a check found in one quantity.

    Attributes:
        quantity: in which the readings are marked.
        flag: suspect or fail.
        marks: True marks a reading; shape (hours, series).
        limit: key of the limit that was passed.
        more: for a person, where the limit does not say all; per series.
    """

    quantity: str
    flag: Flag
    marks: Marks
    limit: str
    more: Mapping[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """One check of observed hours, declared once.

    Attributes:
        key: how verdicts name it.
        looks_for: in plain words, as in "readings that …".
        quantities: those whose readings it may flag.
        limits: by key, as the finder asks for them.
        find: (what is seen, limit values by key) → what was found; touches nothing.
        on_page: whether a suspicion is worth a sentence on the morning page; a failed reading always is.
        members: whether it looks at quantities with members too, of shape (hours, series, members).
    """

    key: str
    looks_for: str
    quantities: tuple[str, ...]
    limits: Mapping[str, Limit]
    find: Callable[[Seen, Mapping[str, float]], Iterator[Found]]
    on_page: bool = True
    members: bool = False
