"""Product, water and loads for a treated surface."""

from __future__ import annotations

import math
from dataclasses import dataclass

EVEN_OUT_BELOW = 0.25  # house choice: a last load below a quarter of a tank is spread over equal loads
_HAIR = 1e-9  # a float's rounding must not make a load more


@dataclass(frozen=True, slots=True)
class Load:
    """One tank filling: litres of mix in the tank, mL or g of product in it, m² it covers."""

    mix_l: float
    product: float
    covers_m2: float


@dataclass(frozen=True, slots=True)
class Quantities:
    """What one application of an area takes; product in the label's measure, mL or g."""

    product: float
    carrier_l: float
    loads: tuple[Load, ...]


def quantities(size_m2: float, rate_per_m2: float, carrier_l_per_m2: float, tank_l: float) -> Quantities:
    """Product, water and loads.

    Full tanks and a last part, or equal loads where the last would be less than a quarter of a tank.

    Args:
        size_m2: treated surface.
        rate_per_m2: product, mL or g per m².
        carrier_l_per_m2: litres of mix per m².
        tank_l: what the sprayer's tank holds.

    Raises:
        ValueError: a figure that is not above zero.
    """
    if min(size_m2, rate_per_m2, carrier_l_per_m2, tank_l) <= 0:
        raise ValueError("surface, rate, carrier and tank must all be above zero")
    total_l = size_m2 * carrier_l_per_m2
    tanks = total_l / tank_l
    whole = math.floor(tanks + _HAIR)
    rest = max(tanks - whole, 0.0)
    if rest <= _HAIR:
        parts = [1.0] * whole
    elif whole and rest < EVEN_OUT_BELOW:
        parts = [tanks / (whole + 1)] * (whole + 1)
    else:
        parts = [1.0] * whole + [rest]
    loads = tuple(
        Load(part * tank_l, part * tank_l / carrier_l_per_m2 * rate_per_m2, part * tank_l / carrier_l_per_m2)
        for part in parts
    )
    return Quantities(size_m2 * rate_per_m2, total_l, loads)
