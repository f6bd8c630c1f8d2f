"""What whole records say about their stations: clock, humidity near saturation, rain totals, reporting steps."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from forecast.panel import Panel
from forecast.quality.form import Seen, Somewhere
from forecast.quality.station_clock import CLOCK
from forecast.quality.station_form import StationCheck, StationFinding
from forecast.quality.station_humidity import HUMIDITY_LOW, HUMIDITY_SHIFT, RESOLUTION
from forecast.quality.station_rain import RAIN_HIGH, RAIN_LOW

__all__ = ["STATION_CHECKS", "StationCheck", "StationFinding", "station_findings"]

STATION_CHECKS = MappingProxyType(
    {one.key: one for one in (CLOCK, HUMIDITY_LOW, HUMIDITY_SHIFT, RAIN_LOW, RAIN_HIGH, RESOLUTION)}
)


def station_findings(
    panel: Panel, places: Mapping[str, Somewhere], *, standard_offset_minutes: int
) -> tuple[StationFinding, ...]:
    """Look at whole records; the longer they are, the more can be told.

    Args:
        panel: checked hours, as :func:`forecast.quality.check` returned them; a quantity with members is passed over.
        places: of the series that have one; without it the clock is not looked at.
        standard_offset_minutes: standard time minus UTC.

    Returns:
        Findings by series, in the order of the checks.
    """
    if not len(panel.hours):
        return ()
    values = {name: array for name, array in panel.values.items() if array.ndim == 2}
    seen = Seen(panel.hours, panel.series, MappingProxyType(values), places, standard_offset_minutes)
    found: list[StationFinding] = []
    for column in range(len(panel.series)):
        for one in STATION_CHECKS.values():
            limits = {key: limit.value for key, limit in one.limits.items()}
            found += one.find(seen, column, limits)
    return tuple(found)
