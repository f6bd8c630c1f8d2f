"""The sun over a place through a panel's hours, worked out once for all stands of the place."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from forecast.between import Where
from forecast.panel import Floats, Hours
from forecast.physics.sun import mid_hour_azimuth_and_elevation_deg

_KEPT = 4  # runs of hours: a place's own, and those that its day in progress can go on with


def sun_over(hours: Hours, where: Where) -> tuple[Floats, Floats]:
    """Azimuth and elevation of the sun at the middle of each hour, °, shape (hours,); read-only.

    Args:
        hours: one unbroken run of ``datetime64[h]`` stamps, as a panel holds.
        where: the place.
    """
    return _over_run(hours[0].astype("datetime64[h]").item(), len(hours), where)


@lru_cache(maxsize=_KEPT)
def _over_run(first: object, count: int, where: Where) -> tuple[Floats, Floats]:
    hours: Hours = np.datetime64(first, "h") + np.arange(count).astype("timedelta64[h]")  # type: ignore[call-overload]
    found = mid_hour_azimuth_and_elevation_deg(hours, where.latitude_deg, where.longitude_deg)
    for array in found:
        array.flags.writeable = False
    return found
