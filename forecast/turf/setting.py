"""What changes the weather between the station and the turf: shade, cut, density, water, the removal of dew."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time
from typing import Literal

SIDES = ("n", "ne", "e", "se", "s", "sw", "w", "nw")  # clockwise from north, 45° apart

Density = Literal["thin", "usual", "dense"]


@dataclass(frozen=True, slots=True)
class Irrigation:
    """When and how much an area is watered.

    Attributes:
        days: weekdays, 0 is Monday.
        start: clock time at which it starts.
        depth_mm: water a time.
    """

    days: tuple[int, ...]
    start: time
    depth_mm: float


@dataclass(frozen=True, slots=True)
class DewRemoval:
    """When dew is mown, dragged or poled off.

    Attributes:
        days: weekdays, 0 is Monday.
        at: clock time.
    """

    days: tuple[int, ...]
    at: time


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting of turf; areas with the same setting at the same place share one computation.

    Attributes:
        light_let_through_fraction: share of the sun's light that reaches the turf, 1 in the open; where
            ``shaded_from`` names sides it holds for the sun standing there, and the open light for the rest.
        sky_seen_fraction: share of the sky that the turf sees, 1 in the open.
        wind_let_through_fraction: share of the open wind, 1 in the open.
        shaded_from: the sides of :data:`SIDES` on which the shade stands; empty for all round and overhead.
        mowing_height_mm: height of cut.
        density: of the stand.
        irrigation: None where it is not watered.
        dew_removal: None where dew is left to dry.
    """

    light_let_through_fraction: float = 1.0
    sky_seen_fraction: float = 1.0
    wind_let_through_fraction: float = 1.0
    shaded_from: tuple[str, ...] = ()
    mowing_height_mm: float = 75.0
    density: Density = "usual"
    irrigation: Irrigation | None = None
    dew_removal: DewRemoval | None = None
