"""Which weather stations could stand for a new place, each with what its last year says of its humidity."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from forecast.between import Where
from forecast.clock import utc_minute
from forecast.desk.station import Humidity, humidity_verdict
from forecast.errors import DataError, ForecastError, MissingInputError, SourceDownError
from forecast.ingest.imported import ImportedHours
from forecast.ingest.meteostat_source import Place, fetch_hours
from forecast.ingest.station_list import Candidate, near
from forecast.ingest.web.network import Network
from forecast.panel import Hours, Panel, observed

REACH_KM = 100.0  # house choice: beyond it another place's weather
MOST_IN_REACH = 500  # house choice: more than any circle of 100 km holds
MOST_OFFERED = 5
MOST_ASKED = 12  # stations whose hours are fetched, the nearest first, to find five that send some
LAG = timedelta(minutes=180)  # how late a reading may be; as in a new place's settings
SILENT = np.timedelta64(7 * 24, "h")  # house choice: the week that the morning page looks back


@dataclass(frozen=True, slots=True)
class Offer:
    """A station, and whether its humidity can tell wet hours.

    Attributes:
        candidate: the station.
        height_difference_m: how much higher it stands than the place; None where one of the heights is not known.
        humidity: what last year and this one say; None where it sends no hours.
        last_hour: the last of them with any reading; None where it sends no hours.
        error: why it sends none; None where it does.
    """

    candidate: Candidate
    height_difference_m: float | None
    humidity: Humidity | None
    last_hour: np.datetime64 | None
    error: ForecastError | None

    @property
    def is_sound(self) -> bool:
        """Whether wet hours can be told from it."""
        return self.humidity is not None and self.humidity.is_sound

    @property
    def rank(self) -> tuple[bool, bool, bool, float]:
        """The better the less: hours, a sound humidity, any humidity, nearness."""
        some = self.humidity is not None and self.humidity.last_hour is not None
        return self.humidity is None, not self.is_sound, not some, self.candidate.distance_km


def offers(
    where: tuple[float, float, float | None],
    copies: Path,
    network: Network,
    now: datetime,
    *,
    wanted: str | None = None,
    told: Callable[[Candidate], object] = lambda _: None,
) -> tuple[Offer, ...]:
    """The nearest stations, those that send hours first, of these those with sound humidity, then by distance.

    Args:
        where: latitude and longitude in degrees, and height in metres where it is known.
        copies: folder of good copies.
        network: who may be asked.
        now: the moment.
        wanted: id of a station that has to be among them, however many are nearer.
        told: called with each station before its hours are fetched.

    Raises:
        SourceDownError: the list of stations or the hours of the wanted one cannot be fetched.
        MissingInputError: the wanted station is out of reach, or sends no hours.
    """
    latitude, longitude, elevation = where
    reachable = near(latitude, longitude, copies, network, now, reach_km=REACH_KM, most=MOST_IN_REACH)
    named = _named(reachable, wanted)
    reporting = [one for one in reachable if one not in named and (one.last_year or now.year) >= now.year - 1]
    found: list[Offer] = []
    for candidate in [*named, *reporting[:MOST_ASKED]]:
        told(candidate)
        height = None if elevation is None or candidate.elevation_m is None else candidate.elevation_m - elevation
        try:
            humidity, last_hour = _looked_at(candidate, copies, network, now)
        except (MissingInputError, SourceDownError, DataError) as error:
            if candidate in named:
                raise type(error)(
                    f"station {candidate.meteostat_id} ({candidate.name}) sends no hours: {error.what}",
                    hint="name another with --station, or leave it out and see which are offered",
                ) from error
            found.append(Offer(candidate, height, None, None, error))
        else:
            found.append(Offer(candidate, height, humidity, last_hour, None))
        if sum(offer.humidity is not None for offer in found) == MOST_OFFERED:
            break
    return tuple(sorted(found, key=lambda offer: offer.rank))


def _named(reachable: tuple[Candidate, ...], wanted: str | None) -> list[Candidate]:
    """The station that a person asks for, if any."""
    if wanted is None:
        return []
    named = [one for one in reachable if one.meteostat_id.lower() == wanted.lower()]
    if not named:
        nearest = ", ".join(f"{one.meteostat_id} ({one.name})" for one in reachable[:MOST_OFFERED]) or "none"
        raise MissingInputError(
            f"there is no station {wanted!r} within {REACH_KM:g} km of the place", hint=f"the nearest are: {nearest}"
        )
    return named


def _looked_at(candidate: Candidate, copies: Path, network: Network, now: datetime) -> tuple[Humidity, np.datetime64]:
    """What the hours of last year and this one say, and the last of them.

    Raises:
        MissingInputError: nothing was measured, or nothing of late.
        SourceDownError: a year could not be fetched, so that what is missing says nothing of the station.
    """
    # Heights of stations count only between several of them.
    where = Where(candidate.latitude_deg, candidate.longitude_deg, candidate.elevation_m or 0.0)
    place = Place(candidate.meteostat_id, where.latitude_deg, where.longitude_deg, where.elevation_m)
    found = fetch_hours(place, range(now.year - 1, now.year + 1), copies, network, now).observed
    not_fetched = "; ".join(notice.text for notice in found.notices if notice.grave)
    known = np.zeros(len(found.hours), bool)
    for array in found.values.values():
        known |= ~np.isnan(array)
    until = utc_minute(now - LAG).astype("datetime64[h]")
    is_silent = not known.any() or found.hours[known][-1] < until - SILENT
    if is_silent and not_fetched:
        raise SourceDownError(not_fetched, hint="try again later")
    if not known.any():
        raise MissingInputError(f"no hours were measured in {now.year - 1} and {now.year}")
    last_hour = found.hours[known][-1]
    if is_silent:
        raise MissingInputError(f"has sent nothing since {_day(last_hour)}")
    offset = round(candidate.longitude_deg / 15) * 60  # solar time to the hour serves where only days are told apart
    panel = _whole_years(found, candidate.meteostat_id, now.year - 1, until)
    humidity = humidity_verdict(panel, {candidate.meteostat_id: where}, offset)
    if not humidity.is_sound and not_fetched:
        raise SourceDownError(not_fetched, hint="try again later")
    if humidity.last_hour is not None and humidity.last_hour < until - SILENT:
        text = f"no hour with temperature and humidity since {_day(humidity.last_hour)}"
        humidity = replace(humidity, grave=(text, *humidity.grave))
    return humidity, last_hour


def _whole_years(found: ImportedHours, name: str, year: int, until: np.datetime64) -> Panel:
    """Every hour from the start of a year on, so that those that never came count as missing."""
    first = np.datetime64(f"{year}-01-01T00", "h")
    hours: Hours = np.arange(first, until + np.timedelta64(1, "h"), dtype="datetime64[h]")
    rows = (found.hours - first).astype(int)
    inside = (rows >= 0) & (rows < len(hours))
    values = {}
    for quantity, array in found.values.items():
        values[quantity] = np.full((len(hours), 1), np.nan)
        values[quantity][rows[inside], 0] = array[inside]
    return observed(hours, (name,), values)


def _day(stamp: np.datetime64) -> str:
    moment: datetime = stamp.astype("datetime64[s]").item()
    return f"{moment.day} {moment:%B %Y}"
