"""Exact factors between the units people type and the metric ones inside.

Sources: NIST Handbook 44, Appendix C and NIST SP 811: 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 US gal = 231 in³,
1 fl oz = 1/128 gal, 1 lb = 453.59237 g, 1 mi = 1609.344 m, 1 nautical mile = 1852 m,
1 inHg (conventional) = 3386.389 Pa.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from forecast.panel import Floats
from forecast.quantities import QUANTITIES, unit_suffix

M2_PER_SQ_FT = 0.3048**2
L_PER_US_GAL = 3.785411784
ML_PER_FL_OZ = 29.5735295625
MM_PER_IN = 25.4
M_PER_FT = 0.3048
KM_PER_MILE = 1.609344
M_S_PER_MPH = 0.44704
G_PER_OZ = 28.349523125
G_PER_LB = 453.59237
M2_PER_1000_SQ_FT = 1000 * M2_PER_SQ_FT


def _times(factor: float) -> Callable[[Floats], Floats]:
    return lambda values: values * factor


def _c_from_f(values: Floats) -> Floats:
    return (values - 32) / 1.8


def _c_from_k(values: Floats) -> Floats:
    return values - 273.15


_SAME = _times(1.0)

# Per ending of a quantity's name: the units a file may give it in, and the way to the unit inside.
IMPORT_UNITS = MappingProxyType(
    {
        "c": {"C": _SAME, "F": _c_from_f, "K": _c_from_k},
        "pct": {"%": _SAME, "fraction": _times(100.0)},
        "mm": {"mm": _SAME, "in": _times(MM_PER_IN), "cm": _times(10.0)},
        "m_s": {
            "m/s": _SAME,
            "km/h": _times(1 / 3.6),
            "mph": _times(M_S_PER_MPH),
            "kn": _times(1852 / 3600),
        },
        "w_m2": {"W/m2": _SAME},
        "hpa": {
            "hPa": _SAME,
            "mbar": _SAME,
            "kPa": _times(10.0),
            "Pa": _times(0.01),
            "inHg": _times(33.86389),
        },
        "fraction": {"fraction": _SAME, "%": _times(0.01), "oktas": _times(1 / 8), "tenths": _times(0.1)},
    }
)
# Where a quantity has units of its own: no leaf is wet by oktas, and rain in metres is a slip for mm.
_OWN_UNITS = MappingProxyType(
    {
        "leaf_wet_fraction": {name: IMPORT_UNITS["fraction"][name] for name in ("fraction", "%")},
        "snow_depth_mm": {**IMPORT_UNITS["mm"], "m": _times(1000.0)},
    }
)
# Leaf wetness as minutes wet in the record, or as a bare figure with a threshold beside it: these hang on more than the
# figure, and are brought to a share where the file is read.
WETNESS_BY_RECORD = ("min", "counts", "mV", "kOhm")


def ways_in(quantity: str) -> Mapping[str, Callable[[Floats], Floats]]:
    """Per unit in which a file may give a quantity, the way to the unit inside; none for what is never read."""
    if QUANTITIES[quantity].derived:
        return {}
    return _OWN_UNITS.get(quantity) or IMPORT_UNITS[unit_suffix(quantity)]


def units_of(quantity: str) -> tuple[str, ...]:
    """The units that a file may give a quantity in; none for what is never read."""
    return (*ways_in(quantity), *(WETNESS_BY_RECORD if quantity == "leaf_wet_fraction" else ()))


def f_from_c(value: float) -> float:
    """Degrees Fahrenheit of a temperature in °C."""
    return value * 1.8 + 32
