"""From a station's air to the hours at one setting's turf."""

from __future__ import annotations

from forecast.canopy.hours_at_turf import at_turf
from forecast.canopy.soil import soil_and_sun
from forecast.canopy.turf_hours import TurfHours

__all__ = ["TurfHours", "at_turf", "soil_and_sun"]
