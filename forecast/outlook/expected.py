"""An issued weather forecast laid on the hours after the last reading, and what it is worth by its age."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from forecast.outlook.lead_skill import LeadSkill
from forecast.outlook.library import BLENDED, CARRIED
from forecast.outlook.members import Expected
from forecast.panel import Floats, Hours
from forecast.physics.humidity import dew_point_of_humid_air_c


def expected(
    issued_hours: Hours, values: Mapping[str, Floats], last_known: np.datetime64, hours_ahead: int
) -> Expected | None:
    """What an issued forecast says of the hours after the last reading.

    The dew point is worked out from temperature and relative humidity in hours that have no dew point of their own, and
    is never above the temperature; what members do not read is left out.

    Args:
        issued_hours: distinct UTC stamps in order, shape (hours,); those up to the last reading are left out.
        values: per quantity in house units, shape (hours,); NaN where the forecast says nothing.
        last_known: stamp of the last hour read.
        hours_ahead: how many hours are wanted.

    Returns:
        Shapes (hours ahead, 1); None where the forecast has no temperature or no humidity of these hours.
    """
    rows = (issued_hours - last_known).astype("timedelta64[h]").astype(np.int64) - 1
    ahead = (rows >= 0) & (rows < hours_ahead)
    laid = {}
    for name in (*BLENDED, *CARRIED, "relative_humidity_pct"):
        laid[name] = np.full((hours_ahead, 1), np.nan)
        if name in values:
            laid[name][rows[ahead], 0] = values[name][ahead]
    temperature, humidity = laid["air_temperature_c"], laid.pop("relative_humidity_pct")
    by_humidity = dew_point_of_humid_air_c(temperature, humidity)
    dew_point = np.where(np.isnan(laid["dew_point_c"]), by_humidity, laid["dew_point_c"])
    over = dew_point > temperature  # False where the temperature is not known
    laid["dew_point_c"] = np.where(over, temperature, dew_point)
    said = {name: array for name, array in laid.items() if not np.isnan(array).all()}
    return Expected(said) if said.keys() >= set(BLENDED) else None


def aged(skill: LeadSkill, older_h: float) -> LeadSkill:
    """What a forecast is worth that was issued some hours before the last reading.

    Members count hours from the last reading; a forecast of the day before yesterday is worth on their first day what
    it is worth two days on.

    Args:
        skill: by hours after the moment of issue.
        older_h: from the moment of issue to the last reading, h; of a forecast issued later than that, as most are by
            the hour or two that readings take to come, nothing is changed.
    """
    older_h = max(older_h, 0.0)

    def middles(table: Floats) -> Floats:
        return np.arange(12.0, 24.0 * len(table), 24.0) + older_h

    correlation, slope = skill.at_hours(middles(skill.correlation))
    shares = {name: skill.share_at_hours(name, middles(table)) for name, table in skill.shares.items()}
    return replace(skill, correlation=correlation, slope=slope, shares=MappingProxyType(shares))
