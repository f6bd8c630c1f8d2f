"""Panel: checked hours × series (× members), read-only, with a flag and an origin for every value."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from forecast.quantities import QUANTITIES, Flag, Origin

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Hours = NDArray[np.datetime64]


@dataclass(frozen=True, eq=False)
class Panel:
    """Hourly quantities of several series over one unbroken run of hours.

    Attributes:
        hours: ``datetime64[h]`` UTC stamps, each the *end* of its hour, without a gap; shape (hours,).
        series: one name a column.
        values: per quantity, floats of shape (hours, series) or (hours, series, members); NaN is unknown.
        flags: per quantity, :class:`~forecast.quantities.Flag` values, shape as in ``values``.
        origin: per quantity, :class:`~forecast.quantities.Origin` values, shape as in ``values``.

    Raises:
        ValueError: hours broken, an unknown quantity, or shapes that differ.
    """

    hours: Hours
    series: tuple[str, ...]
    values: Mapping[str, Floats]
    flags: Mapping[str, Bytes]
    origin: Mapping[str, Bytes]

    def __post_init__(self) -> None:
        hours = np.asarray(self.hours, dtype="datetime64[h]")
        if hours.ndim != 1 or (hours != self.hours).any() or (np.diff(hours) != np.timedelta64(1, "h")).any():
            raise ValueError("hours must be one unbroken run, one stamp an hour")
        object.__setattr__(self, "hours", _frozen(hours, np.dtype("datetime64[h]")))
        if not set(self.values) == set(self.flags) == set(self.origin):
            raise ValueError("values, flags and origin must name the same quantities")
        for field, dtype in (("values", np.float64), ("flags", np.uint8), ("origin", np.uint8)):
            arrays = getattr(self, field)
            checked = {name: self._checked(name, array, np.dtype(dtype)) for name, array in arrays.items()}
            object.__setattr__(self, field, MappingProxyType(checked))

    def _checked(self, name: str, array: NDArray[Any], dtype: np.dtype[Any]) -> NDArray[Any]:
        if name not in QUANTITIES:
            raise ValueError(f"{name!r} is not in the vocabulary: {', '.join(QUANTITIES)}")
        if np.shape(array)[:2] != (len(self.hours), len(self.series)) or np.ndim(array) not in (2, 3):
            raise ValueError(f"{name}: shape {np.shape(array)} is not (hours, series[, members])")
        return _frozen(np.asarray(array), dtype)

    def between(self, first: np.datetime64, last: np.datetime64) -> Panel:
        """The hours from ``first`` to ``last``, both included."""
        keep = slice(*np.searchsorted(self.hours, [first, last + np.timedelta64(1, "h")]))
        return Panel(
            self.hours[keep],
            self.series,
            {name: array[keep] for name, array in self.values.items()},
            {name: array[keep] for name, array in self.flags.items()},
            {name: array[keep] for name, array in self.origin.items()},
        )

    def only(self, column: int) -> Panel:
        """One series, its columns kept as a second axis of one."""
        keep = slice(column, column + 1)
        return Panel(
            self.hours,
            self.series[keep],
            {name: array[:, keep] for name, array in self.values.items()},
            {name: array[:, keep] for name, array in self.flags.items()},
            {name: array[:, keep] for name, array in self.origin.items()},
        )

    def keeping(self, names: Collection[str]) -> Panel:
        """Some quantities only; those that it lacks are left out."""
        return Panel(
            self.hours,
            self.series,
            {name: array for name, array in self.values.items() if name in names},
            {name: array for name, array in self.flags.items() if name in names},
            {name: array for name, array in self.origin.items() if name in names},
        )

    def with_quantity(self, name: str, values: Floats, flags: Bytes, origin: Bytes) -> Panel:
        """The same panel with one quantity added or replaced."""
        return Panel(
            self.hours,
            self.series,
            {**self.values, name: values},
            {**self.flags, name: flags},
            {**self.origin, name: origin},
        )


def observed(hours: Hours, series: tuple[str, ...], values: Mapping[str, Floats]) -> Panel:
    """A panel of observed values: what is NaN is flagged missing, the rest not yet evaluated."""
    flags = {
        name: np.where(np.isnan(array), Flag.MISSING, Flag.NOT_EVALUATED).astype(np.uint8)
        for name, array in values.items()
    }
    origin = {name: np.full(np.shape(array), Origin.OBSERVED, np.uint8) for name, array in values.items()}
    return Panel(hours, series, values, flags, origin)


def _frozen(array: NDArray[Any], dtype: np.dtype[Any]) -> NDArray[Any]:
    if array.dtype == dtype and array.flags.owndata and not array.flags.writeable:
        return array  # nobody can write to it any more, so that panels may share it
    copy = np.array(array, dtype=dtype)
    copy.flags.writeable = False
    return copy
