"""One area's wet hours by every method, month by month, and a station's leaf wetness sensor beside them."""

from __future__ import annotations

from datetime import date, datetime
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forecast import __version__
from forecast.between.where import Nearness, lie_about
from forecast.clock import date_of, day_number, utc_minute
from forecast.config import Settings
from forecast.daily import Days, day_numbers
from forecast.database import Database
from forecast.desk.caring import TELLS_OF_WATERING
from forecast.desk.hours import KnownHours, known_hours
from forecast.desk.journal import area_named
from forecast.desk.stands import stands
from forecast.errors import DataError, MissingInputError
from forecast.ingest.keep.store import providers_of
from forecast.panel import Floats, Hours
from forecast.quantities import Origin
from forecast.report import build
from forecast.report.wetness import WETNESS_SCHEMA, MethodMonths, WetnessView
from forecast.report.wetness_sensor import MethodAgreement, SensorReport
from forecast.report.words import owed_to
from forecast.stand import Stand, place_hours, stand_hours
from forecast.turf import GRASSES
from forecast.wetness import METHODS
from forecast.wetness.published import PUBLISHED
from forecast.wetness.skill import LEAST_NIGHTS, NIGHT_END_HOUR, RESAMPLES, compare, running, wet_hours

SENSOR_QUANTITY = "leaf_wet_fraction"
_NEARNESS: MappingProxyType[int, Literal["on_site", "good", "fair", "poor"]] = MappingProxyType(
    {Nearness.ON_SITE: "on_site", Nearness.GOOD: "good", Nearness.FAIR: "fair", Nearness.POOR: "poor"}
)


def area_wetness(
    settings: Settings,
    database: Database,
    as_of: datetime,
    area_id: str,
    rng: np.random.Generator,
    *,
    first: date | None = None,
    last: date | None = None,
    sensor: str | None = None,
) -> WetnessView:
    """Wet hours of one area by every method, and how each agrees with a sensor where a station has one.

    A typical year that stands before a short record is no reading and is left out.

    Args:
        settings: the workspace's.
        database: the workspace's.
        as_of: an aware moment; nothing that was not known by then is read.
        area_id: which area, by id or name.
        rng: draws nights for the intervals.
        first: the first night, named by the date of its morning; the record's when left out.
        last: the last night; likewise.
        sensor: the station whose sensor to take; the nearest that has one when left out.

    Raises:
        SettingsError: there is no such station.
        DataError: there is no such area, or no weather is known.
        MissingInputError: none is known of these nights, or the station named holds no leaf wetness in them.
    """
    area = area_named(settings, area_id)
    asked = None if sensor is None else settings.station(sensor).id
    stand = stands(settings)[area.area_id]
    now_utc = utc_minute(as_of)
    clock = as_of.astimezone(settings.grounds.zone)
    offset = settings.grounds.standard_offset_minutes(clock.year)
    hours = known_hours(settings, database, now_utc)
    if hours is None or "air_temperature_c" not in hours.panel.values:
        raise DataError("no weather is known by this moment", hint="load some with 'forecast weather load' or 'fetch'")
    place = place_hours(hours.panel.only(hours.panel.series.index(stand.place_id)), stand.where)
    wet = stand_hours(place, stand).wet
    nights = day_numbers(place.hours, offset, NIGHT_END_HOUR)
    kept = place.origin["air_temperature_c"][:, 0] != Origin.PAST_YEAR
    kept &= True if first is None else nights >= day_number(first)
    kept &= True if last is None else nights <= day_number(last)
    by_method = {key: np.where(kept, fraction[:, 0], np.nan) for key, fraction in wet.by_method.items()}
    if not running(by_method):
        raise MissingInputError(
            "no weather is known of these nights, so no method can tell them",
            hint="'forecast weather list' tells which hours are stored; leave out --from and --to for all of them",
        )
    months = _Months(place.hours, by_method, offset)
    seen = place.hours[kept]
    compared = _sensor(settings, hours, stand, place.hours, nights, kept, by_method, asked, rng)
    behind = _behind(hours, stand.place_id, seen[0], seen[-1]) | ({compared.station_id} if compared else set())
    return WetnessView(
        WETNESS_SCHEMA,
        __version__,
        settings.grounds.name,
        settings.grounds.invented,
        settings.grounds.units,
        clock,
        area.area_id,
        area.area_name,
        area.property_name,
        GRASSES[area.grass].name,
        build.setting_words(area, us=settings.grounds.units == "us", counts=wet.method.key == TELLS_OF_WATERING),
        months.first_night,
        months.last_night,
        tuple(months.of(key, goes_by=key == wet.method.key) for key in METHODS),
        months.nights,
        months.spread_h_day,
        compared,
        _credits(settings, database, behind, seen[0], seen[-1], now_utc),
    )


class _Months:
    """Wet hours a day by month, over the nights of which every method that runs knows 22 hours or more."""

    def __init__(self, hours: Hours, by_method: dict[str, Floats], offset_minutes: int) -> None:
        runs = running(by_method)
        told = np.any([~np.isnan(one) for one in by_method.values()], axis=0)
        self._known_share = {key: float((~np.isnan(one[told])).mean()) for key, one in by_method.items()}
        table = wet_hours(hours, np.stack([by_method[key] for key in runs], axis=1), offset_minutes)
        whole = ~np.isnan(table.values).any(axis=1)
        self._days, figures = table.days[whole], table.values[whole]
        self._wet_h = {key: figures[:, column] for column, key in enumerate(runs)}
        self._month = self._days.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12
        self.nights = tuple(np.bincount(self._month, minlength=12).tolist())
        by_month = np.array([self._by_month(one) for one in self._wet_h.values()])
        self.spread_h_day = _told(by_month.max(axis=0) - by_month.min(axis=0))
        self.first_night = date_of(int(self._days[0])) if self._days.size else None
        self.last_night = date_of(int(self._days[-1])) if self._days.size else None

    def of(self, key: str, *, goes_by: bool) -> MethodMonths:
        """One method's row."""
        method = METHODS[key]
        shown = key in self._wet_h and self._days.size > 0
        return MethodMonths(
            key,
            method.name,
            method.source,
            goes_by,
            self._known_share[key],
            _told(self._by_month(self._wet_h[key])) if shown else (None,) * 12,
            float(self._wet_h[key].mean()) if shown else None,
        )

    def _by_month(self, wet_h: Floats) -> Floats:
        """Twelve means from January on; NaN for a month without a night."""
        total = np.bincount(self._month, weights=wet_h, minlength=12)
        count = np.array(self.nights)
        return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _told(values: Floats) -> tuple[float | None, ...]:
    return tuple(None if np.isnan(value) else value for value in values.tolist())


def _sensor(
    settings: Settings,
    hours: KnownHours,
    stand: Stand,
    stamps: Hours,
    nights: Days,
    kept: NDArray[np.bool_],
    by_method: dict[str, Floats],
    asked: str | None,
    rng: np.random.Generator,
) -> SensorReport | None:
    """The comparison with a station's own sensor, its checked values as they are; None where no station has any."""
    checked = hours.checked
    nothing = np.full((len(checked.hours), len(checked.series)), np.nan)
    # A typical year may stand before the record, so that the place's hours begin earlier than the stations'.
    wet = np.full((len(stamps), len(checked.series)), np.nan)
    wet[np.isin(stamps, checked.hours)] = checked.values.get(SENSOR_QUANTITY, nothing)
    wet[~kept] = np.nan
    held = [one for column, one in enumerate(checked.series) if (~np.isnan(wet[:, column])).any()]
    if asked is not None and asked not in held:
        others = f"; stations that do: {', '.join(held)}" if held else ""
        raise MissingInputError(
            f"station {asked!r} holds no leaf_wet_fraction in these nights",
            hint=f"bring a sensor's export in with 'forecast weather map' and 'load'{others}",
        )
    if not held:
        return None
    lie = lie_about([settings.station(one).where for one in held], [stand.where])
    number = held.index(asked) if asked is not None else int(np.argmin(lie.effective_km[0]))
    # Hours without any weather speak against no method: the sensor's are left out before methods are asked for theirs.
    told = np.any([~np.isnan(one) for one in by_method.values()], axis=0)
    fraction = np.where(told, wet[:, checked.series.index(held[number])], np.nan)
    found = compare(nights, fraction, by_method, rng)
    return SensorReport(
        held[number],
        settings.station(held[number]).name,
        float(lie.distance_km[0, number]),
        float(lie.height_difference_m[0, number]),
        _NEARNESS[int(lie.nearness[0, number])],
        found.hours,
        found.nights,
        found.days,
        None if found.first_night is None else date_of(found.first_night),
        None if found.last_night is None else date_of(found.last_night),
        found.sensor_wet_h_day,
        found.sensor_wet_share,
        found.first_in_draws,
        tuple(MethodAgreement(key, skill, found.behind_h_day.get(key)) for key, skill in found.by_method.items()),
        found.left_out,
        RESAMPLES,
        LEAST_NIGHTS,
        PUBLISHED,
    )


def _behind(hours: KnownHours, place_id: str, first: np.datetime64, last: np.datetime64) -> set[str]:
    """The stations that stand behind a place's hours."""
    estimated = hours.at_places
    return {
        station
        for name in estimated.panel.values
        for station in estimated.basis(place_id, name, first, last).hours_by_station
    }


def _credits(
    settings: Settings,
    database: Database,
    station_ids: set[str],
    first: np.datetime64,
    last: np.datetime64,
    known_by: np.datetime64,
) -> tuple[str, ...]:
    """Whose values stations hold, each with its licence."""
    found: dict[str, None] = {}
    for station in settings.grounds.station:
        if station.id in station_ids:
            for one in providers_of(database, station.id, first, last, known_by):
                found[owed_to(one.name, one.attribution, one.licence, one.link)] = None
    return tuple(found)
