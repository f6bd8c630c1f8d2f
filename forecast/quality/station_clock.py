"""Whether a record's clock can be right: the warmest hour of the day against the sun."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np

from forecast.quality.form import Limit, Seen
from forecast.quality.station_form import StationCheck, StationFinding, days_of, month_span

_MEASURED = (
    "house choice: the yearly median lay between 12.1 and 14.6 h of sun time at eight US airports, the earliest on a "
    "beach with a sea breeze"
)
_LIMITS = MappingProxyType(
    {
        "earliest": Limit(10, "h", "the day's warmest hour, as the year's median, before {} of sun time", _MEASURED),
        "latest": Limit(18, "h", "the day's warmest hour, as the year's median, after {} of sun time", _MEASURED),
        "days": Limit(60, "days", "years with at least {} to tell from", "house choice"),
        "range_c": Limit(
            5, "°C", "days that warm by at least {}", "house choice: else a front and not the sun decides"
        ),
    }
)
_DEG_PER_HOUR = 15.0  # the sun's way round


def _wrong_clock(seen: Seen, column: int, limits: Mapping[str, float]) -> Iterator[StationFinding]:
    place = seen.places.get(seen.series[column])
    if place is None or "air_temperature_c" not in seen.values:
        return
    days = days_of(seen, seen.values["air_temperature_c"][:, column])
    whole = days.known() == days.by_hour.shape[1]
    warmed = whole & (np.ptp(np.where(whole[:, None], days.by_hour, 0.0), axis=1) >= limits["range_c"])
    # Column 0 is the hour that ends at 01:00 standard time; a temperature is read at its stamp.
    standard = np.argmax(np.where(warmed[:, None], days.by_hour, 0.0), axis=1) + 1.0
    sun = (standard - seen.standard_offset_minutes / 60 + place.longitude_deg / _DEG_PER_HOUR) % 24
    year = days.year()
    for number in np.unique(year):
        hours = sun[warmed & (year == number)]
        if len(hours) < limits["days"]:
            continue
        warmest = _median_round_the_clock(hours)
        if not limits["earliest"] <= warmest <= limits["latest"]:
            first, last = month_span(seen, (int(number) - 1970) * 12, (int(number) - 1970) * 12 + 11)
            yield StationFinding(
                "clock",
                seen.series[column],
                "air_temperature_c",
                first,
                last,
                f"in {number} the day was warmest at about {warmest:.0f} h by the sun, where 12 to 15 h is usual: the "
                f"file's time zone, or the station's longitude, is wrong by several hours, and nights and days are "
                f"mixed up",
                MappingProxyType({"year": float(number), "warmest_h": warmest}),
                grave=True,
            )


def _median_round_the_clock(hours: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    """Median of clock times, the day cut opposite their mean direction so that midnight is no edge."""
    angle = hours * (2 * np.pi / 24)
    middle = float(np.arctan2(np.sin(angle).mean(), np.cos(angle).mean())) * 24 / (2 * np.pi)
    away = (hours - middle + 12) % 24 - 12
    return float((middle + np.median(away)) % 24)


CLOCK = StationCheck(
    key="clock",
    looks_for="days that are warmest at night or in the early morning: a time zone mixed up",
    limits=_LIMITS,
    find=_wrong_clock,
)
