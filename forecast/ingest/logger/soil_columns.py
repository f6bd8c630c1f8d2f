"""Soil temperature by a column's words: at which depth, and which of the depths kept that is."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from types import MappingProxyType

from forecast.units import MM_PER_IN

KEPT_CM = MappingProxyType({"soil_temperature_5cm_c": 5.0, "soil_temperature_10cm_c": 10.0})
SOIL = tuple(KEPT_CM)
# House choice: half of the way from one depth kept to the other. Over 2.5 cm the daily swing changes by a fifth,
# as 1 - e^(-2.5/11.7); a damping depth of 11.7 cm goes with a diffusivity of 5e-7 m²/s.
TOLERANCE_CM = 2.5
SAME_DEPTH_CM = 0.5  # house choice: 4 in and 10 cm in one name are one depth
KEPT_IN_WORDS = (
    f"{' and '.join(f'{depth_cm:g}' for depth_cm in KEPT_CM.values())} cm deep, {TOLERANCE_CM:g} cm either way"
)

_CM_PER = MappingProxyType({"cm": 1.0, "mm": 0.1, "m": 100.0})
_CM_PER_IN = MM_PER_IN / 10  # all other marks of length are inches
_DEPTH = re.compile(
    r"""(?<![\d.,])(\d+(?:[.,]\d+)?)[\s_(-]*(cm|mm|inch(?:es)?|in|["”″]|m)(?![a-z])""", re.ASCII | re.IGNORECASE
)
_SEVERAL_DEPTHS = re.compile(r"\d\s*(?:-|–|to|/|&|and)\s*\d+(?:[.,]\d+)?[\s_-]*(?:cm|mm|in|[\"”″]|m\b)", re.IGNORECASE)
_ANOTHER_THING = re.compile(r"moist|vwc|water|wet|heat|flux|conduct|salin|tension|potential|permit|batt|volt")
_SHORT_NAMES = frozenset({"ts", "st"})  # of soil only where a depth stands beside them


def is_soil_temperature(name: str, lower: str, tokens: Collection[str]) -> bool:
    """Whether a column's words name soil temperature.

    Args:
        name: the column's name.
        lower: the same in small letters and without what stands in brackets.
        tokens: its words in small letters.
    """
    if _ANOTHER_THING.search(lower):
        return False
    if "soil" in lower:
        return "temp" in lower or bool({"t", "tc", "tsoil", "soilt"} & set(tokens))
    return bool(_SHORT_NAMES & set(tokens)) and depth_cm(name) is not None


def depth_cm(name: str) -> float | None:
    """The one depth or height that a name tells; None where it tells none, or more than one."""
    if _SEVERAL_DEPTHS.search(name):
        return None
    found = [
        float(figure.replace(",", ".")) * _CM_PER.get(mark.lower(), _CM_PER_IN) for figure, mark in _DEPTH.findall(name)
    ]
    return found[0] if found and max(found) - min(found) <= SAME_DEPTH_CM else None


def kept_at(depth: float) -> str | None:
    """The quantity of the kept depth nearest to one in cm, of two alike the shallower; None where none is near."""
    quantity = min(KEPT_CM, key=lambda kept: abs(depth - KEPT_CM[kept]))
    return quantity if abs(depth - KEPT_CM[quantity]) <= TOLERANCE_CM + 1e-9 else None


def nearest_to(quantity: str, names: Sequence[str]) -> list[str]:
    """Of several columns for one depth, those nearest to it."""
    off = {name: abs((depth_cm(name) or 0.0) - KEPT_CM[quantity]) for name in names}
    return [name for name in names if off[name] <= min(off.values()) + SAME_DEPTH_CM]
