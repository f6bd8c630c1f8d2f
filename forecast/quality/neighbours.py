"""A station against those around it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np

from forecast.panel import Floats
from forecast.physics.distance import distance_km
from forecast.quality.form import Check, Found, Limit, Marks, Seen
from forecast.quantities import Flag

_HADISD = "HadISD: Dunn et al. 2012, Clim. Past 8:1649-1679, neighbour check (read second-hand)"
_LIMITS = MappingProxyType(
    {
        "ranges": Limit(5, "", "differs by more than {} times the usual spread of the month", _HADISD),
        "air_temperature_c": Limit(2, "°C", "the usual spread is taken as {} at least", _HADISD),
        "dew_point_c": Limit(2, "°C", "the usual spread is taken as {} at least", _HADISD),
        "relative_humidity_pct": Limit(
            10,
            "%",
            "the usual spread is taken as {} at least",
            "house choice: 2 °C of dew point near saturation is 12 %",
        ),
        "share": Limit(2 / 3, "", "from at least {} of the neighbours", _HADISD),
        "stations": Limit(
            2, "stations", "read at the hour: at least {}", "house choice: with one it cannot be told whose"
        ),
        "near_km": Limit(
            100, "km", "neighbours: within {}", "as Shafer et al. 2000 is used hourly by the University of Washington"
        ),
        "level_m": Limit(300, "m", "neighbours: within {} of height", _HADISD),
        "known": Limit(240, "hours", "the month's spread from at least {}", "house choice: ten days"),
    }
)


def near_each_other(seen: Seen, within_km: float, within_m: float = np.inf) -> Marks:
    """Which series stand near which; False for itself and for a series without a place; shape (series, series)."""
    nowhere = (np.nan, np.nan, np.nan)
    rows = [
        (p.latitude_deg, p.longitude_deg, p.elevation_m) if (p := seen.places.get(s)) is not None else nowhere
        for s in seen.series
    ]
    latitude_deg, longitude_deg, elevation_m = np.array(rows).reshape(-1, 3).T
    apart_km = distance_km(latitude_deg[:, None], longitude_deg[:, None], latitude_deg, longitude_deg)
    near: Marks = (apart_km <= within_km) & (np.abs(elevation_m[:, None] - elevation_m) <= within_m)
    np.fill_diagonal(near, val=False)
    return near


def _unlike_neighbours(seen: Seen, limits: Mapping[str, float]) -> Iterator[Found]:
    near = near_each_other(seen, limits["near_km"], limits["level_m"])
    one, other = np.nonzero(np.triu(near))
    if near.sum(axis=1).max(initial=0) < limits["stations"]:
        return
    month = seen.month()
    for name in ("air_temperature_c", "dew_point_c", "relative_humidity_pct"):
        if name in seen.values:
            values = seen.values[name]
            judged, apart = np.zeros(values.shape), np.zeros(values.shape)
            for number in np.unique(month):
                rows = np.flatnonzero(month == number)
                difference = values[np.ix_(rows, one)] - values[np.ix_(rows, other)]
                far = _far(difference, limits["ranges"], limits[name], int(limits["known"]))
                for pair, (i, j) in enumerate(zip(one, other, strict=True)):
                    known = ~np.isnan(far[:, pair])
                    beyond = far[:, pair] == 1
                    for column in (i, j):
                        judged[rows, column] += known
                        apart[rows, column] += beyond
            enough = judged >= limits["stations"]
            yield Found(name, Flag.SUSPECT, enough & (apart >= limits["share"] * judged - 1e-9), "ranges")


def _far(difference: Floats, ranges: float, least: float, known_needed: int) -> Floats:
    """Whether each difference lies far off the median of its column: 1 or 0; NaN where it cannot be told."""
    ordered = np.sort(difference, axis=0)  # NaN last
    known = np.count_nonzero(~np.isnan(difference), axis=0)
    columns = np.arange(difference.shape[1])

    def quantile(share: float) -> Floats:
        place: Floats = ordered[np.rint(share * np.maximum(known - 1, 0)).astype(np.int64), columns]
        return place

    allowed = ranges * np.maximum(quantile(0.75) - quantile(0.25), least)
    off = np.abs(difference - quantile(0.5))
    return np.where(np.isnan(off) | (known < known_needed), np.nan, (off > allowed).astype(np.float64))


NEIGHBOURS = Check(
    key="neighbours",
    looks_for="a reading far from what most stations around read; rain is not compared hour by hour",
    quantities=("air_temperature_c", "dew_point_c", "relative_humidity_pct"),
    limits=_LIMITS,
    find=_unlike_neighbours,
)
