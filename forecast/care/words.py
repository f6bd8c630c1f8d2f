"""Lengths, hours and days as care advice prints them, in inches or millimetres."""

from __future__ import annotations

import math

from forecast.units import MM_PER_IN

NBSP = "\u00a0"  # keeps a number and its unit on one line


def depth_words(depth_mm: float, *, us: bool) -> str:
    """A depth of water or a height: inches to a twentieth, or whole millimetres."""
    return f"{_figure(depth_mm, us=us)}{NBSP}{_unit(us=us)}"


def span_words(least_mm: float, most_mm: float, *, us: bool) -> str:
    """A range of depths; one figure where both ends print the same."""
    first, last = _figure(least_mm, us=us), _figure(most_mm, us=us)
    return f"{last}{NBSP}{_unit(us=us)}" if first == last else f"{first} to {last}{NBSP}{_unit(us=us)}"


def hours_words(hours: float) -> str:
    """Hours to a tenth."""
    return f"{hours:.1f}{NBSP}h"


def days_words(days: float) -> str:
    """Whole days, rounded down."""
    whole = math.floor(days)
    return f"{whole}{NBSP}{'day' if whole == 1 else 'days'}"


def _unit(*, us: bool) -> str:
    return "in" if us else "mm"


def _figure(depth_mm: float, *, us: bool) -> str:
    if us:
        return f"{round(depth_mm / MM_PER_IN / 0.05) * 0.05:.2f}".rstrip("0").rstrip(".")
    return f"{depth_mm:.0f}"
