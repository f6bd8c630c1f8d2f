"""The chain of models on every member: from hours ahead to what each model says of each day."""

from __future__ import annotations

from collections.abc import Collection
from functools import cached_property

import numpy as np

from forecast.air import complete_humidity
from forecast.canopy import soil_and_sun
from forecast.daily import DAY_HOURS
from forecast.diseases import DiseaseModel
from forecast.diseases.declare import Daily
from forecast.diseases.pressure import Pressure, pressure
from forecast.outlook.members import Fortnight, with_history
from forecast.panel import Floats, Panel
from forecast.physics.soil_temperature import LEAD_IN_HOURS
from forecast.stand import Stand, StandHours, stand_hours

# What the air alone gives; any other input needs the stand's own hours.
OF_THE_AIR = ("air_temperature_c", "dew_point_c", "relative_humidity_pct", "wind_speed_10m_m_s", "rain_mm")
_READ = (*OF_THE_AIR, "cloud_cover_fraction", "shortwave_down_w_m2", "snow_depth_mm")
SOIL = ("soil_temperature_5cm_c", "soil_temperature_10cm_c")
_SOIL_READS = ("air_temperature_c", "snow_depth_mm")
# Hours read before the first one ahead: leaves and means over five days have forgotten their start. Soil told from air
# has not (0.75¹⁵ of 8 °C is 0.1 °C, and windows open by less); it begins by LEAD_IN_HOURS earlier.
HISTORY_HOURS = 15 * DAY_HOURS
SOIL_LEVEL_DAYS = 5  # house choice: by so much as a sensor stood off what the air told lately, it will go on to


class PlaceAhead:
    """One place's last days and the hours ahead, shared by its stands.

    Args:
        past: the place's hours by :func:`forecast.stand.place_hours`, one series; what lies after the last hour known
            is not read.
        ahead: the hours ahead.
    """

    def __init__(self, past: Panel, ahead: Fortnight, stand: Stand) -> None:
        self.past, self.ahead, self._where = past, ahead, stand.where
        self.last_known = ahead.hours[0] - np.timedelta64(1, "h")

    @cached_property
    def air(self) -> Panel:
        """Air only, with both humidities."""
        recent = self.past.between(self._since(HISTORY_HOURS), self.last_known).keeping(_READ)
        return complete_humidity(with_history(recent, self.ahead))

    @cached_property
    def place(self) -> Panel:
        """With soil temperatures and the sun's height."""
        earlier = self.past.between(self._since(LEAD_IN_HOURS), self.last_known).keeping(_SOIL_READS)
        told = soil_and_sun(with_history(earlier, self.ahead), self._where)
        told = told.between(self.air.hours[0], self.air.hours[-1])
        panel = self.air
        for name in (*SOIL, "sun_elevation_deg"):
            panel = panel.with_quantity(name, told.values[name], told.flags[name], told.origin[name])
            if name in SOIL and name in self.past.values:
                panel = self._going_on(panel, name)
        return panel

    def joined(self, panel: Panel, model: DiseaseModel) -> Panel:
        """What a model reads, with the past before it where the model looks back further than a panel reaches."""
        days = max((one.trailing_days for one in model.inputs if isinstance(one, Daily)), default=1)
        hours = DAY_HOURS * (days + 1)
        if hours <= HISTORY_HOURS:
            return panel
        read = {one.quantity for one in model.inputs} | {"air_temperature_c"}
        before = self.past.between(self._since(hours), panel.hours[0] - np.timedelta64(1, "h")).keeping(read)
        return _before(before, panel.keeping(before.values.keys()))

    def _since(self, hours: int) -> np.datetime64:
        since: np.datetime64 = max(self.last_known - np.timedelta64(hours - 1, "h"), self.past.hours[0])
        return since

    def _going_on(self, panel: Panel, name: str) -> Panel:
        """Soil as it was known, and from there on as the air tells it, at the level at which the soil stood to that."""
        told = panel.values[name].copy()
        known = self.past.between(panel.hours[0], self.last_known).values[name][:, :, None]
        rows = len(known)
        lately = slice(max(rows - SOIL_LEVEL_DAYS * DAY_HOURS, 0), rows)
        apart = known[lately] - told[lately]
        both = ~np.isnan(apart)
        level = np.where(both, apart, 0.0).sum(axis=0) / np.maximum(both.sum(axis=0), 1)
        told[rows:] += level
        told[:rows] = known
        return panel.with_quantity(name, told, panel.flags[name], panel.origin[name])


class StandAhead:
    """The models' answers for one stand on every member.

    Args:
        place: shared by the stands of a place.
        stand: which, with the wetness method that tells its record.
    """

    def __init__(self, place: PlaceAhead, stand: Stand) -> None:
        self._place, self._stand = place, stand
        self._told: dict[tuple[int, int], Pressure] = {}

    @cached_property
    def _hours(self) -> StandHours:
        return stand_hours(self._place.place, self._stand)

    @property
    def turf(self) -> Panel:
        """The hours at the turf, with its wetness as the stand's own method tells it."""
        return self._hours.panel_for(self._stand.wetness)

    def pressure(self, model: DiseaseModel, offset_minutes: int) -> Pressure:
        """One model's answers, shape (days, 1, members), over the days before as far as it looks back and all ahead."""
        asked = id(model), offset_minutes  # what is told keeps its model, so that no other can take its number
        if asked not in self._told:
            self._told[asked] = pressure(model, self._place.joined(self._panel(model), model), offset_minutes)
        return self._told[asked]

    def passed(
        self, models: Collection[DiseaseModel], first_day: int, days: int, offset_minutes: int
    ) -> dict[str, Floats]:
        """Per model, 1, 0 or NaN of some days, shape (days, members); NaN where the hours do not reach."""
        told = {model.key: self.pressure(model, offset_minutes) for model in models}
        return {key: _on_days(one, one.passed, first_day, days) for key, one in told.items()}

    def answers(
        self, models: Collection[DiseaseModel], first_day: int, days: int, offset_minutes: int
    ) -> dict[str, Floats]:
        """Per model, its answers of some days, shape (days, members); NaN where unknown or withheld."""
        told = {model.key: self.pressure(model, offset_minutes) for model in models}
        return {key: _on_days(one, one.answer, first_day, days) for key, one in told.items()}

    def _panel(self, model: DiseaseModel) -> Panel:
        read = {one.quantity for one in model.inputs}
        if read <= set(OF_THE_AIR):
            return self._place.air
        if "leaf_wet_fraction" in read or "water_on_turf_mm" in read:
            return self._hours.panel_for(model.wetness)
        return self._place.place


def _on_days(told: Pressure, values: Floats, first_day: int, days: int) -> Floats:
    found = np.full((days, values.shape[2]), np.nan)
    rows = np.arange(first_day, first_day + days) - int(told.days[0])
    inside = (rows >= 0) & (rows < len(told.days))
    found[inside] = values[rows[inside], 0]
    return found


def _before(past: Panel, panel: Panel) -> Panel:
    """Two runs of hours that follow each other, the first without members."""
    values, flags, origin = {}, {}, {}
    for name, later in panel.values.items():
        shape = (len(past.hours), *later.shape[1:])

        def spread(
            array: np.ndarray[tuple[int, ...], np.dtype[np.generic]], shape: tuple[int, ...] = shape
        ) -> np.ndarray:
            return np.broadcast_to(array.reshape(array.shape + (1,) * (len(shape) - array.ndim)), shape)

        values[name] = np.concatenate([spread(past.values[name]), later])
        flags[name] = np.concatenate([spread(past.flags[name]), panel.flags[name]])
        origin[name] = np.concatenate([spread(past.origin[name]), panel.origin[name]])
    return Panel(np.concatenate([past.hours, panel.hours]), panel.series, values, flags, origin)
