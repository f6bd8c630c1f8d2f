"""Humidity between stations: vapour pressure travels, and meets the temperature of the point."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from forecast.between.field import Field, Part, has, of_stations
from forecast.between.ground import Ground, taken_as_they_are
from forecast.between.rules import SPREADS, Way
from forecast.between.spread import spread_over
from forecast.physics import humidity
from forecast.quantities import Origin


def humid_air(ground: Ground, columns: Mapping[str, Field], temperature: Field | None) -> dict[str, Field]:
    """Dew point and relative humidity at every point, whichever of the two the stations have.

    A station without a thermometer is given the temperature that the others tell for its own place.
    """
    nothing = ground.at_the_stations().nothing_known()
    warm = columns.get("air_temperature_c", nothing)
    relative, dew = columns.get("relative_humidity_pct", nothing), columns.get("dew_point_c", nothing)
    at_home = spread_over(ground.at_the_stations(), warm, SPREADS["air_temperature_c"])
    vapour, spread = _vapour(at_home, relative, dew), SPREADS["relative_humidity_pct"]
    have = has(vapour) | has(relative)
    here = temperature or ground.nothing_known()
    made = spread_over(ground, vapour, spread, have)
    percent, dew_point = ground.nothing_known(), ground.nothing_known()
    for point in range(len(ground.points)):
        air = here.row(point)
        for station in taken_as_they_are(ground, point, ground.order(ground.lie, point, have, spread)):
            own = (made.lead[point] == station) & (made.way[point] == Way.OWN)
            at_home_air = _as_it_is(air, station) | np.isnan(warm.values[station])
            percent.take(point, relative.row(station), (own | np.isnan(vapour.values[station])) & at_home_air)
            dew_point.take(point, dew.row(station), own & (at_home_air | (dew.values[station] <= air.values)))
        percent.take(point, _relative_humidity(made.row(point), air))
        dew_point.take(point, _dew_point(made.row(point), air))
    return {"relative_humidity_pct": percent, "dew_point_c": dew_point}


def _as_it_is(part: Part, station: int | NDArray[np.int16]) -> NDArray[np.bool_]:
    """Where a part is this station's own reading."""
    return np.asarray((part.lead == station) & (part.way <= Way.CARRIED))


def _vapour(at_home: Field, relative: Field, dew: Field) -> Field:
    """Vapour pressure at every station, hPa: from relative humidity and temperature, else from the dew point."""
    damp = humidity.vapour_pressure_hpa(at_home.values, relative.values)
    by_percent = ~np.isnan(damp)
    values = np.where(by_percent, damp, humidity.saturation_vapour_pressure_hpa(dew.values))
    flags = np.where(by_percent, np.maximum(relative.flags, at_home.flags), dew.flags)
    origin = np.where(by_percent, np.maximum(relative.origin, at_home.origin), dew.origin)
    made = of_stations(values.T, flags.T, origin.T)
    made.behind[:] |= np.where(by_percent[:, None], at_home.behind, np.uint64(0))
    return made


def _relative_humidity(vapour: Part, air: Part) -> Part:
    """Relative humidity of a point, %, from its vapour pressure and temperature."""
    values = 100 * vapour.values / humidity.saturation_vapour_pressure_hpa(air.values)
    combined = (vapour.way == Way.OWN) & ~_as_it_is(air, vapour.lead)
    origin = np.maximum(vapour.origin, air.origin)
    return Part(
        np.minimum(values, 100.0),
        np.maximum(vapour.flags, air.flags),
        np.where(combined, np.maximum(origin, np.uint8(Origin.NEIGHBOUR)), origin),
        vapour.lead,
        np.where(combined, np.uint8(Way.COMBINED), vapour.way),
        vapour.behind | air.behind,
    )


def _dew_point(vapour: Part, air: Part) -> Part:
    """Dew point of a point, °C, never above its temperature where that is known."""
    values = np.fmin(humidity.dew_point_c(vapour.values), air.values)
    values = np.where(np.isnan(vapour.values), np.nan, values)
    return replace(vapour, values=values)
