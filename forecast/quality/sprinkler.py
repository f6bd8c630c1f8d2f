"""A gauge that a sprinkler reaches: rain at the same hour of the clock on several days, while the air shows none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats
from forecast.quality.form import Check, Found, Limit, Marks, Seen
from forecast.quality.neighbours import near_each_other
from forecast.quality.series import DAY_HOURS, relative_humidity, standard_hour
from forecast.quantities import Flag

_SOURCE = (
    "house choice: at three US airports in 2013 no hour of the day had such rain on more than 2 of any 14 days; an "
    "irrigation controller runs on a fixed clock"
)
_LIMITS = MappingProxyType(
    {
        "days": Limit(
            4, "days", "rain at the same hour of the clock on {} or more within two weeks, in dry air", _SOURCE
        ),
        "of_days": Limit(14, "days", "days looked at together: {}", _SOURCE),
        "humidity_pct": Limit(80, "%", "dry air: below {}, or nearby stations dry", _SOURCE),
        "rise_pct": Limit(5, "%", "dry air: humidity rose by no more than {} over two hours", _SOURCE),
        "warm_c": Limit(5, "°C", "not in air below {}", "house choice: systems are shut down for the winter"),
        "near_km": Limit(
            50, "km", "nearby: within {}", "house choice: rain is alike over 5 km, whole rain areas farther"
        ),
    }
)


def _sprinkled(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    air = relative_humidity(seen.values)
    if "rain_mm" not in seen.values or air is None:
        return
    rain = seen.values["rain_mm"]
    rise = np.full(air.shape, np.nan)
    rise[2:] = air[2:] - air[:-2]
    dry_air = (air < limits["humidity_pct"]) | _dry_elsewhere(seen, rain, limits["near_km"])
    odd = (rain > 0) & dry_air & (rise <= limits["rise_pct"])
    if "air_temperature_c" in seen.values:
        odd &= ~(seen.values["air_temperature_c"] < limits["warm_c"])
    if not odd.any():
        return
    hour = standard_hour(seen.hours, seen.standard_offset_minutes)
    marks = np.zeros(rain.shape, bool)
    more = {}
    for column in np.flatnonzero(odd.any(axis=0)):
        marks[:, column], told = _by_the_clock(odd[:, column], hour, int(limits["days"]), int(limits["of_days"]))
        if told:
            more[seen.series[column]] = told
    yield Found("rain_mm", Flag.SUSPECT, marks, "days", more)


def _dry_elsewhere(seen: Seen, rain: Floats, near_km: float) -> Marks:
    """True where stations nearby are known and none had rain in this hour, the one before or the one after."""
    near = near_each_other(seen, near_km)
    known, wet = ~np.isnan(rain), rain > 0
    around = wet.copy()
    around[1:] |= wet[:-1]
    around[:-1] |= wet[1:]
    some_known = (known.astype(np.float64) @ near.astype(np.float64)) > 0
    some_wet = (around.astype(np.float64) @ near.astype(np.float64)) > 0
    return some_known & ~some_wet


def _by_the_clock(odd: Marks, hour: NDArray[np.int64], days: int, of_days: int) -> tuple[Marks, str]:
    """The odd hours that come at the same hour on enough days of any such stretch, and the pattern in words.

    Standard time is counted; where the clocks change, daylight time moves the hour by one and each side of the change
    is counted by itself.
    """
    marks = np.zeros(len(odd), bool)
    told = []
    day, of_day = hour // DAY_HOURS, hour % DAY_HOURS
    for one in np.unique(of_day[odd]):
        here = np.flatnonzero(odd & (of_day == one))
        when = day[here]
        first = np.arange(len(when))
        within = np.searchsorted(when, when + of_days)  # one past the last that falls in the stretch begun by each
        count = within - first
        often = count >= days
        if often.any():
            covered = np.zeros(len(when) + 1, np.int64)
            np.add.at(covered, first[often], 1)
            np.add.at(covered, within[often], -1)
            marks[here[np.cumsum(covered)[:-1] > 0]] = True
            told.append(
                f"on up to {count.max()} of {of_days} days between {one:02d}:00 and {one + 1:02d}:00 standard time "
                f"({(one + 1) % DAY_HOURS:02d}:00 and {(one + 2) % DAY_HOURS:02d}:00 daylight time)"
            )
    return marks, "; ".join(told)


SPRINKLER = Check(
    key="sprinkler",
    looks_for="rain by the clock: a sprinkler that reaches the gauge",
    quantities=("rain_mm",),
    limits=_LIMITS,
    find=_sprinkled,
)
