"""How large a treated surface is: rectangles, circles, triangles, any straight-sided shape, and several of them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely.geometry import Polygon
from shapely.validation import explain_validity


def rectangle_m2(length_m: float, width_m: float) -> float:
    """Length times width."""
    return length_m * width_m


def circle_m2(across_m: float) -> float:
    """From the distance straight across."""
    return math.pi * across_m**2 / 4


def triangle_m2(base_m: float, height_m: float) -> float:
    """From one side and the distance of the opposite corner from it, squarely measured."""
    return base_m * height_m / 2


def polygon_m2(corners_m: Sequence[tuple[float, float]]) -> float:
    """A shape by its corners in order, east and north of some spot, in metres.

    Raises:
        ValueError: fewer than three corners, or sides that cross or lie on each other.
    """
    if len(corners_m) < 3:
        raise ValueError("a shape has three corners at least")
    shape = Polygon(corners_m)
    if not shape.is_valid or shape.area == 0:
        why = explain_validity(shape)
        where = why.partition("[")[2].rstrip("]")
        at = f" near {where} m" if where else ""
        raise ValueError(f"the sides cross or lie on each other{at}: give the corners in order, once around")
    return float(shape.area)
