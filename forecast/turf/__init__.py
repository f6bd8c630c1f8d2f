"""Plain facts that the middle needs: grasses, diseases, and the setting of one area."""

from __future__ import annotations

from forecast.turf.area import SITES, Area, Ground
from forecast.turf.diseases import DISEASES, Disease
from forecast.turf.grasses import GRASSES, Grass
from forecast.turf.setting import SIDES, DewRemoval, Irrigation, Setting

__all__ = [
    "DISEASES",
    "GRASSES",
    "SIDES",
    "SITES",
    "Area",
    "DewRemoval",
    "Disease",
    "Grass",
    "Ground",
    "Irrigation",
    "Setting",
]
