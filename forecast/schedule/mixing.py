"""In which order products go into a tank, and how much of one a measure with marks can give."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

_HAIR = 1e-9  # a float's rounding must not lose a mark

# Code of a formulation → place in the order, and what it is. Codes as in the international coding system of CropLife
# International's technical monograph 2 (from memory); "bag" and "adjuvant" are no codes of it. Order by Virginia
# Cooperative Extension BSE-351 and Utah State University's jar test: conditioners, bags that dissolve, wettable
# powders, granules that disperse, suspensions, emulsions, solutions, adjuvants. The label's own order comes before it.
FORMULATIONS: Mapping[str, tuple[int, str]] = MappingProxyType(
    {
        "conditioner": (0, "water conditioner or buffer"),
        "bag": (1, "bag that dissolves in water"),
        "WP": (2, "wettable powder"),
        "WG": (3, "granules that disperse in water"),
        "WDG": (3, "granules that disperse in water"),
        "DF": (3, "granules that disperse in water (dry flowable)"),
        "SC": (4, "suspension concentrate (flowable)"),
        "F": (4, "flowable"),
        "SE": (4, "suspension with an emulsion"),
        "CS": (4, "capsules in suspension"),
        "EC": (5, "emulsifiable concentrate"),
        "EW": (5, "emulsion in water"),
        "ME": (5, "micro-emulsion"),
        "SP": (6, "powder that dissolves in water"),
        "SG": (6, "granules that dissolve in water"),
        "SL": (6, "solution"),
        "adjuvant": (7, "adjuvant or surfactant"),
    }
)
MOST_PARTNERS = 3  # more in one tank are not combined: Manitoba Agriculture, guide to crop protection


def place_in_order(formulation: str) -> int:
    """The place of a formulation in the order of mixing.

    Raises:
        KeyError: it is none of :data:`FORMULATIONS`.
    """
    return FORMULATIONS[formulation][0]


def marks_down(amount: float, mark: float) -> int:
    """How many whole marks of a measure an amount fills, never more than it: rounding must not pass a label's rate.

    Args:
        amount: wanted, above 0.
        mark: smallest division of the measure, in the same unit, above 0.
    """
    return math.floor(amount / mark * (1 + _HAIR))
