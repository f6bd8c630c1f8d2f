"""What every source hands over: hours or an issued forecast, in UTC with house names and units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np

from forecast.errors import Notice
from forecast.panel import Bytes, Floats, Hours
from forecast.quantities import QUANTITIES, WORKED_OUT


class Grade(Enum):
    """What stands behind a value."""

    OBSERVED = "observed"
    MODEL = "weather model"
    TYPICAL = "typical year"


@dataclass(frozen=True, slots=True)
class Provider:
    """Who stands behind a value, and the credit that a page showing it has to give.

    Attributes:
        key: short and lasting, such as ``isd_lite``; the store knows a provider by it.
        name: for a reader.
        grade: observation, weather model or typical year.
        attribution: credit that the licence asks for; empty for none.
        licence: such as ``CC BY 4.0``; empty where the data are the owner's own.
        link: where licence or source can be read; empty for none.
    """

    key: str
    name: str
    grade: Grade
    attribution: str = ""
    licence: str = ""
    link: str = ""


@dataclass(frozen=True, eq=False)
class ImportedHours:
    """Hours from one source for one station.

    Attributes:
        hours: distinct UTC stamps in order, each the end of its hour; holes are allowed; shape (hours,).
        values: per quantity, shape (hours,), NaN where the source has none.
        provider: per quantity, index into ``providers``, shape (hours,).
        providers: who stands behind the values.
        source: the file or address they came from, for the list of imports.
        notices: what a reader should know.

    Raises:
        ValueError: a quantity is worked out here and cannot come in.
    """

    hours: Hours
    values: Mapping[str, Floats]
    provider: Mapping[str, Bytes]
    providers: tuple[Provider, ...]
    source: str
    notices: tuple[Notice, ...]

    def __post_init__(self) -> None:
        _refuse_derived(self.values)


@dataclass(frozen=True, eq=False)
class IssuedForecast:
    """One weather forecast for one point, as it was issued.

    Attributes:
        hours: unbroken UTC stamps, each the end of its hour; shape (hours,).
        values: per quantity, shape (hours,), NaN where the forecast says nothing.
        step_hours: per quantity, length of the interval that an hour's figure was spread from: 1 where the source
            gave the hour itself, 0 where it gave nothing; shape (hours,).
        provider: who issued it.
        issued_utc: the moment of issue, ``datetime64[m]``; None where the source does not say.
        source: the address it came from.
        notices: what a reader should know.

    Raises:
        ValueError: a quantity is worked out here and cannot come in.
    """

    hours: Hours
    values: Mapping[str, Floats]
    step_hours: Mapping[str, Bytes]
    provider: Provider
    issued_utc: np.datetime64 | None
    source: str
    notices: tuple[Notice, ...]

    def __post_init__(self) -> None:
        _refuse_derived(self.values)


def _refuse_derived(values: Mapping[str, Floats]) -> None:
    """What is worked out here must not come in from outside, or two truths would stand side by side."""
    derived = [name for name in values if name in QUANTITIES and QUANTITIES[name].derived]
    if derived:
        raise ValueError(f"{', '.join(derived)}: {WORKED_OUT}")


def from_one(
    hours: Hours, values: Mapping[str, Floats], provider: Provider, source: str, notices: tuple[Notice, ...] = ()
) -> ImportedHours:
    """Hours that all stand behind one provider."""
    codes = {name: np.zeros(len(hours), np.uint8) for name in values}
    return ImportedHours(hours, values, codes, (provider,), source, notices)
