"""What the morning page tells of each place's weather: who stands behind it, its age, and what models make of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forecast.between import Basis, Confidence, Estimated
from forecast.clock import local, utc_minute
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.hours import KnownHours
from forecast.errors import Notice
from forecast.ingest.imported import Provider
from forecast.ingest.keep.archive import Issue
from forecast.ingest.keep.store import imports, providers_of
from forecast.outlook.climatology import chance_of_any
from forecast.outlook.lead_skill import LeadSkill
from forecast.outlook.view import View
from forecast.panel import Panel
from forecast.physics.distance import distance_km
from forecast.physics.sun import sunrise_unix_s
from forecast.quantities import Origin, short_name
from forecast.report.page import BasisReport, CreditReport, ForecastReport, PlaceReport

AGE_WORTH_A_NOTICE_MINUTES = 6 * 60  # house choice: twice the usual lag
HOURS_LOOKED_BACK = 7 * 24  # hours whose filled and missing values the page counts
HUMIDITY = ("relative_humidity_pct", "dew_point_c")
FILE = "file"  # key of the provider of files that a person loaded


@dataclass(frozen=True, eq=False)
class Weather:
    """Everything that place reports are made of.

    Attributes:
        settings: the workspace's.
        database: the workspace's.
        as_of: the page's moment, clock time of the site.
        hours: what was known; None for nothing.
        views: per place, what the models say of one of its stands.
        issues: per station, its newest weather forecast.
        worth: per place whose forecast enters the chances, what it was taken to be worth.
    """

    settings: Settings
    database: Database
    as_of: datetime
    hours: KnownHours | None
    views: Mapping[str, View]
    issues: Mapping[str, Issue]
    worth: Mapping[str, LeadSkill]

    @property
    def now(self) -> np.datetime64:
        """The page's moment as a UTC stamp to the hour, cut off."""
        stamp: np.datetime64 = utc_minute(self.as_of).astype("datetime64[h]")
        return stamp

    @property
    def since(self) -> np.datetime64:
        """The first stamp of the hours looked back at."""
        return self.now - np.timedelta64(HOURS_LOOKED_BACK - 1, "h")


def place_report(weather: Weather, place_id: str, notices: list[Notice]) -> PlaceReport:
    """One place, with notices added where its data are old or none."""
    place = weather.settings.place(place_id)
    zone = weather.settings.grounds.zone
    seen = weather.views.get(place_id)
    read = _last_reading(weather, seen)
    last = None if read is None else local(read, zone)
    # By UTC: of two moments in one zone Python subtracts the clocks, which change on two nights a year.
    age = None if last is None else int((weather.as_of.timestamp() - last.timestamp()) // 60)
    if last is None:
        notices.append(Notice("no hour of temperature and humidity is known by this moment", place.name, grave=True))
    elif age is not None and age > AGE_WORTH_A_NOTICE_MINUTES:
        notices.append(Notice(f"the last reading is {age // 60} h old", place.name, grave=True))
    notices += [one for one in _silent(weather, place_id) if one not in notices]  # once a station, not once a place
    basis = _basis(weather, place_id)
    filled, from_others, missing = _hours_by_origin(weather, place_id)
    no_rain = _rain_hours_missing(weather, place_id)
    if last is not None and no_rain > HOURS_LOOKED_BACK // 2 and _has_gauge(weather, place_id):
        text = (
            f"rain was not read in {no_rain} of the last {HOURS_LOOKED_BACK} h: wet hours and watering advice lack it"
        )
        notices.append(Notice(text, place.name, grave=True))
    midnight = datetime.combine(weather.as_of.date(), datetime.min.time(), zone)
    rise = sunrise_unix_s(midnight.timestamp(), place.where.latitude_deg, place.where.longitude_deg)
    return PlaceReport(
        place_id,
        place.name,
        basis,
        _credits(weather, place_id),
        _forecast(weather, place_id),
        last,
        age,
        HOURS_LOOKED_BACK,
        filled,
        from_others,
        missing,
        no_rain,
        _past_years(seen),
        ""
        if weather.hours is None or place_id not in weather.hours.typical
        else weather.hours.typical[place_id].source,
        None if rise is None else datetime.fromtimestamp(rise, zone),
    )


def _last_reading(weather: Weather, seen: View | None) -> np.datetime64 | None:
    """The last hour with temperature and humidity; what stands before the record is a typical year, and no reading."""
    if weather.hours is None or seen is None or seen.last_known is None:
        return None
    return seen.last_known if seen.last_known >= weather.hours.at_places.panel.hours[0] else None


def _basis(weather: Weather, place_id: str) -> tuple[BasisReport, ...]:
    """Per station, the quantities it stands behind over the last week, first the one that has temperature."""
    if weather.hours is None:
        return ()
    estimated: Estimated = weather.hours.at_places
    found: dict[_Key, list[str]] = {}
    for name in ("air_temperature_c", *sorted(set(estimated.panel.values) - {"air_temperature_c"})):
        if name not in estimated.panel.values:
            continue
        one = estimated.basis(place_id, name, weather.since, weather.now)
        key = _key(one)
        if key is not None:
            found.setdefault(key, []).append(short_name(name))
    names = {station.id: station.name for station in weather.settings.grounds.station}
    return tuple(
        BasisReport(
            tuple(quantities),
            names[station],
            distance_km,
            height_m,
            _CONFIDENCE[confidence],
            tuple(names[other] for other in others),
        )
        for (station, distance_km, height_m, confidence, others), quantities in found.items()
    )


_Key = tuple[str, float, float, Confidence, tuple[str, ...]]
_CONFIDENCE: Mapping[Confidence, Literal["good", "fair", "poor"]] = {
    Confidence.GOOD: "good",
    Confidence.FAIR: "fair",
    Confidence.POOR: "poor",
}


def _key(one: Basis) -> _Key | None:
    """What quantities of one basis share; None where nothing stands behind the quantity."""
    if one.confidence is None:
        return None
    others = tuple(station for station in one.hours_by_station if station != one.station)
    return one.station, round(one.distance_km, 2), round(one.height_difference_m), one.confidence, others


def _stations_behind(weather: Weather, place_id: str) -> Sequence[str]:
    """The stations behind a place's values over the last week, in the order of the settings."""
    if weather.hours is None:
        return ()
    estimated = weather.hours.at_places
    behind = {
        station
        for name in estimated.panel.values
        for station in estimated.basis(place_id, name, weather.since, weather.now).hours_by_station
    }
    return [station.id for station in weather.settings.grounds.station if station.id in behind]


def _credits(weather: Weather, place_id: str) -> tuple[CreditReport, ...]:
    """Who stands behind the values shown, most of them first; a file by its own name."""
    found: dict[CreditReport, None] = {}
    known_by = utc_minute(weather.as_of)
    for station_id in _stations_behind(weather, place_id):
        for provider in providers_of(weather.database, station_id, weather.since, weather.now, known_by):
            names = _file_names(weather, station_id) if provider.key == FILE else ("",)
            found |= {_credit(provider, name): None for name in names}
    typical = weather.hours.typical.get(place_id) if weather.hours is not None else None
    if typical is not None:
        found[_credit(typical.provider)] = None
    return tuple(found)


def _credit(provider: Provider, name: str = "") -> CreditReport:
    return CreditReport(name or provider.name, provider.attribution, provider.licence, provider.link)


def _file_names(weather: Weather, station_id: str) -> tuple[str, ...]:
    """The files whose hours reach into the last week, by name; those known by this moment where there are any."""
    known_by = f"{utc_minute(weather.as_of)}:59Z"
    since, until = f"{weather.since}:00Z", f"{weather.now}:00Z"
    files = [
        one
        for one in imports(weather.database, [station_id])
        if one.provider_key == FILE and one.first_hour_utc <= until and one.last_hour_utc >= since
    ]
    before = [one for one in files if one.imported_utc <= known_by]
    return tuple(dict.fromkeys(one.source for one in before or files)) or ("",)


def nearest_station(settings: Settings, place_id: str) -> str:
    """The station nearest to a place; weather forecasts are kept for stations, which many places share."""
    where = settings.place(place_id).where
    far = {
        station.id: float(
            distance_km(where.latitude_deg, where.longitude_deg, station.latitude_deg, station.longitude_deg)
        )
        for station in settings.grounds.station
    }
    return min(far, key=far.__getitem__)


def _forecast(weather: Weather, place_id: str) -> ForecastReport | None:
    """The newest weather forecast for the place: that of the nearest station."""
    issue = weather.issues.get(nearest_station(weather.settings, place_id))
    if issue is None:
        return None
    zone = weather.settings.grounds.zone
    return ForecastReport(
        local(issue.issued_utc, zone),
        issue.issued_stated,
        local(issue.forecast.hours[-1], zone),
        _credit(issue.forecast.provider),
        weather.worth[place_id].issued_days if place_id in weather.worth else 0,
        place_id in weather.worth,
    )


def _silent(weather: Weather, place_id: str) -> list[Notice]:
    """The nearest station, where it has sent no temperature and humidity of use for long while others speak for it."""
    if weather.hours is None or place_id not in weather.views:
        return []
    checked = weather.hours.checked
    nearest = nearest_station(weather.settings, place_id)
    column = checked.series.index(nearest)
    known = np.flatnonzero(_both_known(checked, column) & (checked.hours <= weather.now))
    last = weather.views[place_id].last_known
    if not known.size or last is None:
        return []
    hours = int((weather.now - checked.hours[known[-1]]).astype(int))
    if 60 * hours <= AGE_WORTH_A_NOTICE_MINUTES or last <= checked.hours[known[-1]]:
        return []
    name = weather.settings.station(nearest).name
    return [
        Notice(f"{name} has sent no temperature and humidity of use for {hours} h; others stand in", "", grave=True)
    ]


def _both_known(panel: Panel, column: int) -> NDArray[np.bool_]:
    """Hours with temperature, and humidity of either kind."""
    known = {name: np.zeros(len(panel.hours), bool) for name in ("air_temperature_c", *HUMIDITY)}
    for name in known.keys() & panel.values.keys():  # a source may send a year without one
        known[name] = ~np.isnan(panel.values[name][:, column])
    both: NDArray[np.bool_] = known["air_temperature_c"] & (known[HUMIDITY[0]] | known[HUMIDITY[1]])
    return both


def _hours_by_origin(weather: Weather, place_id: str) -> tuple[int, int, int]:
    """Hours of the last week whose temperature or humidity was filled, came from other stations, and are missing.

    The hours between the last reading and now are counted as missing too.
    """
    if weather.hours is None:
        return 0, 0, HOURS_LOOKED_BACK
    panel = weather.hours.at_places.panel.between(weather.since, weather.now)  # a typical year is no reading
    column = panel.series.index(place_id)
    both = _both_known(panel, column)
    origins = np.zeros((2, len(both)), bool)
    for name in ("air_temperature_c", *HUMIDITY):
        if name in panel.values:
            known = ~np.isnan(panel.values[name][:, column])
            origins |= known & (panel.origin[name][:, column] == np.array([[Origin.FILLED], [Origin.NEIGHBOUR]]))
    filled, from_others = (int((one & both).sum()) for one in origins)
    return filled, from_others, HOURS_LOOKED_BACK - int(both.sum())


def _has_gauge(weather: Weather, place_id: str) -> bool:
    """Whether rain was ever read for a place: else its lack is how it is, and no news each morning."""
    if weather.hours is None or "rain_mm" not in weather.hours.at_places.panel.values:
        return False
    panel = weather.hours.at_places.panel
    return not bool(np.isnan(panel.values["rain_mm"][:, panel.series.index(place_id)]).all())


def _rain_hours_missing(weather: Weather, place_id: str) -> int:
    """Hours of the last week whose rain is not known, those between the last reading and now among them."""
    if weather.hours is None or "rain_mm" not in weather.hours.at_places.panel.values:
        return HOURS_LOOKED_BACK
    panel = weather.hours.at_places.panel.between(weather.since, weather.now)
    known = ~np.isnan(panel.values["rain_mm"][:, panel.series.index(place_id)])
    return HOURS_LOOKED_BACK - int(known.sum())


def _past_years(seen: View | None) -> int:
    """Past years whose weeks around this date are known well enough to count."""
    if seen is None or not seen.past:
        return 0
    chance = chance_of_any(seen.past_passed(next(iter(seen.past))), seen.days(), seen.today, seen.today)
    return chance.years if chance else 0
