"""One stand of turf: a place's hours brought to its setting, with how wet its leaves were."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np

from forecast.air import complete_humidity
from forecast.between import Where
from forecast.canopy import TurfHours, at_turf, soil_and_sun
from forecast.panel import Floats, Panel
from forecast.quantities import Flag, Origin
from forecast.turf import Setting
from forecast.wetness import Wetness, wetness


@dataclass(frozen=True, slots=True)
class Stand:
    """Turf of one setting at one place; the areas that share both share its computation.

    Attributes:
        stand_id: unique on a page.
        place_id: where its weather is reckoned.
        where: where that lies.
        zone: of the site; irrigation follows its clock.
        setting: what changes the weather between the place and the turf.
        wetness: key of the method that tells wet hours, or :data:`forecast.wetness.BEST_KNOWN`.
    """

    stand_id: str
    place_id: str
    where: Where
    zone: ZoneInfo
    setting: Setting
    wetness: str


@dataclass(frozen=True, eq=False)
class StandHours:
    """The hours of one stand.

    Attributes:
        panel: its place's hours with both humidities, soil temperatures, the sun's height, and the wet fraction by the
            stand's own method; shape (hours, 1) or (hours, 1, members).
        turf: what reaches the turf.
        wet: wetness by every method.
    """

    panel: Panel
    turf: TurfHours
    wet: Wetness

    def panel_for(self, wetness_key: str) -> Panel:
        """The panel with the wet fraction by the method that a model's paper used; an empty key takes the stand's."""
        return self.panel if not wetness_key else _with_wet_leaves(self.panel, self.wet.of(wetness_key))


def place_hours(panel: Panel, where: Where) -> Panel:
    """A place's hours with both humidities, soil temperatures and the sun's height; its stands share them.

    Args:
        panel: checked hours of one place.
        where: the place.
    """
    return soil_and_sun(complete_humidity(panel), where)


def stand_hours(panel: Panel, stand: Stand) -> StandHours:
    """The hours of a place at a stand.

    Args:
        panel: of :func:`place_hours`, one series.
        stand: the stand.
    """
    turf = at_turf(panel, (stand.setting,), stand.where, stand.zone)
    wet = wetness(turf, stand.wetness)
    return StandHours(_with_wet_leaves(_with_water(panel, turf), wet.fraction), turf, wet)


def _with_water(panel: Panel, turf: TurfHours) -> Panel:
    """The panel with rain and irrigation together; where rain is not known, what was put on is known to have been."""
    rain, put_on = turf.rain_mm, turf.irrigation_mm
    water = np.where(np.isnan(rain), np.where(put_on > 0, put_on, np.nan), rain + put_on)
    flags = np.where(np.isnan(water), Flag.MISSING, Flag.NOT_EVALUATED).astype(np.uint8)
    return panel.with_quantity("water_on_turf_mm", water, flags, np.full(water.shape, Origin.FILLED, np.uint8))


def _with_wet_leaves(panel: Panel, fraction: Floats) -> Panel:
    flags = np.where(np.isnan(fraction), Flag.MISSING, Flag.NOT_EVALUATED).astype(np.uint8)
    return panel.with_quantity("leaf_wet_fraction", fraction, flags, panel.origin["air_temperature_c"])
