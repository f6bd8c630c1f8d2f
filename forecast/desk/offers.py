"""Which weather stations could stand for a new place, each with what its last year says of its humidity."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from forecast.between import Where
from forecast.desk.station import Humidity, humidity_verdict
from forecast.errors import ForecastError
from forecast.ingest.meteostat_source import Place, fetch_hours
from forecast.ingest.station_list import Candidate, near
from forecast.ingest.web.network import Network
from forecast.panel import Hours, Panel, observed

REACH_KM = 100.0  # house choice: beyond it another place's weather
MOST_OFFERED = 5
MOST_ASKED = 12  # stations looked at by distance, to find five that still report


@dataclass(frozen=True, slots=True)
class Offer:
    """A station, and whether its humidity can tell wet hours.

    Attributes:
        candidate: the station.
        height_difference_m: how much higher it stands than the place; None where the place's height is not known.
        humidity: what its last year says; None where it could not be fetched.
        trouble: why it could not.
    """

    candidate: Candidate
    height_difference_m: float | None
    humidity: Humidity | None
    trouble: str

    @property
    def is_sound(self) -> bool:
        """Whether wet hours can be told from it."""
        return self.humidity is not None and self.humidity.is_sound


def offers(
    where: tuple[float, float, float | None],
    copies: Path,
    network: Network,
    now: datetime,
    *,
    told: Callable[[Candidate], object] = lambda _: None,
) -> tuple[Offer, ...]:
    """The nearest stations with hours of last year, those with sound humidity first, then by distance.

    Args:
        where: latitude and longitude in degrees, and height in metres where it is known.
        copies: folder of good copies.
        network: who may be asked.
        now: the moment.
        told: called with each station before its year is fetched.

    Raises:
        SourceDownError: the list of stations cannot be fetched.
    """
    latitude, longitude, elevation = where
    found: list[Offer] = []
    for candidate in near(latitude, longitude, copies, network, now, reach_km=REACH_KM, most=MOST_ASKED):
        if candidate.last_year is not None and candidate.last_year < now.year - 1:
            continue
        told(candidate)
        height = None if elevation is None else candidate.elevation_m - elevation
        try:
            found.append(Offer(candidate, height, _humidity(candidate, copies, network, now), ""))
        except ForecastError as error:
            found.append(Offer(candidate, height, None, error.what))
        if len(found) == MOST_OFFERED:
            break
    return tuple(sorted(found, key=lambda offer: (not offer.is_sound, offer.candidate.distance_km)))


def _humidity(candidate: Candidate, copies: Path, network: Network, now: datetime) -> Humidity:
    """What the hours of last year and this one say."""
    place = Place(candidate.meteostat_id, candidate.latitude_deg, candidate.longitude_deg, candidate.elevation_m)
    observed_hours = fetch_hours(place, range(now.year - 1, now.year + 1), copies, network, now).observed
    first, last = observed_hours.hours[0], observed_hours.hours[-1]
    hours: Hours = np.arange(first, last + np.timedelta64(1, "h"), dtype="datetime64[h]")
    rows = (observed_hours.hours - first).astype(int)
    values = {}
    for name, array in observed_hours.values.items():
        values[name] = np.full((len(hours), 1), np.nan)
        values[name][rows, 0] = array
    panel: Panel = observed(hours, (candidate.meteostat_id,), values)
    spot = {candidate.meteostat_id: Where(candidate.latitude_deg, candidate.longitude_deg, candidate.elevation_m)}
    offset = round(candidate.longitude_deg / 15) * 60  # solar time to the hour serves where only days are told apart
    return humidity_verdict(panel, spot, offset)
