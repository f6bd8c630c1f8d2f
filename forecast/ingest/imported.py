"""What every source hands over: hours in UTC with house names and units, and what was noticed on the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from forecast.errors import Notice
from forecast.panel import Bytes, Floats, Hours


@dataclass(frozen=True, eq=False)
class ImportedHours:
    """Hours from one source for one station.

    Attributes:
        hours: distinct UTC stamps in order, each the end of its hour; holes are allowed; shape (hours,).
        values: per quantity, shape (hours,), NaN where the source has none.
        origin: per quantity, :class:`~forecast.quantities.Origin`, shape (hours,).
        source: where they come from, for the page.
        attribution: credit that the source's licence asks for; empty for none.
        notices: what a reader should know.
    """

    hours: Hours
    values: Mapping[str, Floats]
    origin: Mapping[str, Bytes]
    source: str
    attribution: str
    notices: tuple[Notice, ...]
