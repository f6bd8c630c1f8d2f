"""Amounts as people type them and labels print them: a number and a unit, and what that is in metric units.

Factors: NIST Handbook 44, Appendix C and NIST SP 811, by :mod:`forecast.units`; 1 gal = 4 qt = 8 pt, 1 yd = 3 ft,
1 acre = 43,560 sq ft (of the international foot). Volume and weight never turn into each other: that takes a density.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType

from forecast.units import G_PER_LB, G_PER_OZ, L_PER_US_GAL, M2_PER_SQ_FT, M_PER_FT, M_S_PER_MPH, ML_PER_FL_OZ

LENGTH_M = MappingProxyType({"ft": M_PER_FT, "yd": 3 * M_PER_FT, "in": M_PER_FT / 12, "m": 1.0, "cm": 0.01})
SURFACE_M2 = MappingProxyType(
    {"sq ft": M2_PER_SQ_FT, "sq yd": 9 * M2_PER_SQ_FT, "acre": 43_560 * M2_PER_SQ_FT, "m2": 1.0, "ha": 10_000.0}
)
VOLUME_L = MappingProxyType(
    {
        "gal": L_PER_US_GAL,
        "qt": L_PER_US_GAL / 4,
        "pt": L_PER_US_GAL / 8,
        "fl oz": ML_PER_FL_OZ / 1000,
        "L": 1.0,
        "mL": 0.001,
    }
)
_WEIGHT_G = MappingProxyType({"oz": G_PER_OZ, "lb": G_PER_LB, "g": 1.0, "kg": 1000.0})
_PER = MappingProxyType(
    {"1000 sq ft": 1000 * M2_PER_SQ_FT, "acre": SURFACE_M2["acre"], "100 m2": 100.0, "ha": 10_000.0}
)
SPEED_M_S = MappingProxyType({"mph": M_S_PER_MPH, "ft/min": M_PER_FT / 60, "km/h": 1 / 3.6, "m/s": 1.0})
FLOW_L_S = MappingProxyType({f"{unit}/min": litres / 60 for unit, litres in VOLUME_L.items()})
TIME_S = MappingProxyType({"s": 1.0, "min": 60.0})

# Unit of an amount of product → its measure, and mL or g of one such unit.
PRODUCT: Mapping[str, tuple[str, float]] = MappingProxyType(
    {unit: ("mL", 1000 * litres) for unit, litres in VOLUME_L.items()}
    | {unit: ("g", grams) for unit, grams in _WEIGHT_G.items()}
)
# Unit of a rate → its measure, and mL or g a m² of one such unit.
RATE: Mapping[str, tuple[str, float]] = MappingProxyType(
    {f"{unit}/{per}": (measure, size / m2) for unit, (measure, size) in PRODUCT.items() for per, m2 in _PER.items()}
)
# Unit of water on a surface → litres a m².
CARRIER: Mapping[str, float] = MappingProxyType(
    {f"{unit}/{per}": VOLUME_L[unit] / m2 for unit in ("gal", "L") for per, m2 in _PER.items()}
)

LARGEST = 1_000_000_000  # of any unit: whatever is above it is a slip of the keyboard

_NUMBER = re.compile(
    r"\s*((?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?|\.\d+)(?:\s*/\s*(\d+)|\s+(\d+)\s*/\s*(\d+))?\s*(.*)", re.DOTALL
)
# Other ways to write a unit, longest first.
_SPELT = MappingProxyType(
    {
        "square feet": "sq ft", "square foot": "sq ft", "sqft": "sq ft", "ft2": "sq ft", "sq. ft.": "sq ft",
        "square yards": "sq yd", "yd2": "sq yd", "square metres": "m2", "square meters": "m2", "sq m": "m2",
        "fluid ounces": "fl oz", "fluid ounce": "fl oz", "fl. oz.": "fl oz", "floz": "fl oz",
        "hectares": "ha", "hectare": "ha", "acres": "acre", "ac": "acre", "gallons": "gal",
        "gallon": "gal", "quarts": "qt", "quart": "qt", "pints": "pt", "pint": "pt",
        "litres": "L", "litre": "L", "liters": "L", "liter": "L",
        "pounds": "lb", "lbs": "lb", "grams": "g", "metres": "m", "meters": "m", "inches": "in", "yards": "yd",
        "feet": "ft", "foot": "ft", "seconds": "s", "minutes": "min", "minute": "min", "per": "/", "1,000": "1000",
        "gpm": "gal/min", "gpa": "gal/acre",
    }
)  # fmt: skip


def typed(text: str, units: Mapping[str, object]) -> tuple[float, str]:
    """A typed amount above zero, such as ``1,500 sq ft`` or ``1 1/2 fl oz per 1,000 sq ft``.

    Args:
        text: a number (a decimal has a point; a common fraction will do) and a unit.
        units: those that are known here.

    Returns:
        The number, and the unit as ``units`` spells it.

    Raises:
        ValueError: it is no number above zero with one of the units; the message is for the person who typed it.
    """
    found = _NUMBER.fullmatch(text)
    if found is None:
        raise ValueError(f"{text!r} does not start with a number above zero; {units_in_words(units)}")
    number, under, over, under_too, unit = found.groups()
    try:
        amount = Fraction(number.replace(",", "")) / Fraction(under or 1) + Fraction(over or 0) / Fraction(
            under_too or 1
        )
    except ZeroDivisionError:
        amount = Fraction(0)
    if not 0 < amount < LARGEST:
        raise ValueError(f"{text!r} is no amount above zero" if amount <= 0 else f"{text!r} is too much")
    spelling = unit_as_spelt(unit, units)
    if spelling is None:
        near = difflib.get_close_matches(unit, units, n=1, cutoff=0.75)
        guess = f"did you mean {near[0]!r}? " if near and unit else ""
        raise ValueError(f"{text!r} has no unit known here; {guess}{units_in_words(units)}")
    return float(amount), spelling


def unit_as_spelt(unit: str, units: Mapping[str, object]) -> str | None:
    """The spelling of a unit among those known; None for none."""
    plain = " ".join(unit.replace("²", "2").split()).casefold()
    for long, short in _SPELT.items():
        plain = re.sub(rf"(?<![a-z]){re.escape(long)}(?![a-z0-9])", short, plain)
    plain = re.sub(r"\s*/\s*", "/", plain)
    # The trade's shorthand: /M is per thousand square feet, /A per acre.
    plain = re.sub(r"/m$", "/1000 sq ft", re.sub(r"/a$", "/acre", plain))
    return next((known for known in units if known.casefold() == plain.casefold()), None)


def units_in_words(units: Mapping[str, object]) -> str:
    """The units in words; for rates and carriers the amounts and the surfaces apart."""
    if all("/" in unit for unit in units) and len(units) > len(FLOW_L_S):
        amounts, surfaces = (dict.fromkeys(part) for part in zip(*(unit.split("/") for unit in units), strict=True))
        return f"units are {', '.join(amounts)}, each per {', '.join(surfaces)}"
    return f"units are {', '.join(units)}"


def product_amount(text: str) -> tuple[str, float]:
    """A typed amount of product, such as ``10 fl oz``, as its measure (mL or g) and the amount in it.

    Raises:
        ValueError: it is no amount above zero in a known unit.
    """
    number, unit = typed(text, PRODUCT)
    measure, size = PRODUCT[unit]
    return measure, number * size


def rate(text: str) -> tuple[str, float, str]:
    """A typed rate as its measure (mL or g), the amount of it a m², and the rate as a label prints it.

    Raises:
        ValueError: it is no rate above zero in a known unit.
    """
    number, unit = typed(text, RATE)
    measure, per_m2 = RATE[unit]
    return measure, number * per_m2, as_printed(number, unit)


def carrier(text: str) -> tuple[float, str]:
    """Typed water on a surface as litres a m², and as a label prints it.

    Raises:
        ValueError: it is no amount above zero in a known unit.
    """
    number, unit = typed(text, CARRIER)
    return number * CARRIER[unit], as_printed(number, unit)


def as_printed(number: float, unit: str) -> str:
    """A rate in a label's words: ``1.5 fl oz per 1,000 sq ft``."""
    return f"{number:.10g} {unit.replace('/', ' per ').replace('1000', '1,000')}"


def lengths_m(text: str, count: int) -> tuple[float, ...]:
    """Typed lengths in one unit, such as ``60 x 25 ft``, in metres.

    Raises:
        ValueError: they are not that many, or not above zero, or without a unit.
    """
    parts = re.split(r"\s*[x×]\s*", text.strip())
    if len(parts) != count:
        example = " x ".join(("60", "25")[:count])
        raise ValueError(f"{text!r} is not {count} length{'s' if count > 1 else ''}; write it like '{example} ft'")
    last, unit = typed(parts[-1], LENGTH_M)
    found = []
    for part in parts[:-1]:
        number, own = typed(part if re.search(r"[a-zA-Z]", part) else f"{part} {unit}", LENGTH_M)
        found.append(number * LENGTH_M[own])
    return (*found, last * LENGTH_M[unit])
