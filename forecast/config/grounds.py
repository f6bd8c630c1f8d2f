"""``grounds.toml``: the place, its stations, and the owner's lines."""

from __future__ import annotations

import difflib
import re
from datetime import date, datetime, time, timedelta
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, Field, field_validator, model_validator

from forecast.between import Where
from forecast.config.cells import ClockTime, Weekdays
from forecast.config.forms import Form, PlainId
from forecast.diseases import MODELS
from forecast.toml_file import known_zone
from forecast.units import L_PER_US_GAL
from forecast.wetness import BEST_KNOWN, METHODS

# China keeps one time over five zones: 3 h 10 min off the sun at its western end. More is a slip.
MOST_MINUTES_OFF_THE_SUN = 240


class Station(Form):
    """A weather station, and where its hours come from."""

    id: PlainId
    name: str
    latitude_deg: Annotated[float, Field(ge=-90, le=90)]
    longitude_deg: Annotated[float, Field(ge=-180, le=180)]
    elevation_m: Annotated[float, Field(ge=-500, le=9000)]
    observation_lag_minutes: Annotated[int, Field(ge=0, le=1440)] = 180
    meteostat_id: Annotated[str, Field(pattern=r"^[A-Za-z0-9]{1,10}$")] | None = None

    @property
    def where(self) -> Where:
        """Where it stands."""
        return Where(self.latitude_deg, self.longitude_deg, self.elevation_m)


def _web_address(address: str) -> str:
    if not re.match(r"^https?://[^/\s]+", address):
        raise ValueError("an address starts with https:// (or http://) and names a host")
    return address.rstrip("/")


class WeatherForecast(Form):
    """Where weather forecasts come from, and in which of the open shapes they are written."""

    shape: Literal["hour_columns", "grid_intervals"]
    address: Annotated[str, AfterValidator(_web_address)] | None = None  # the shape's usual service when left out
    days: Annotated[int, Field(ge=1, le=16)] = 16
    name: str = ""  # of whoever issues it, with the credit that its licence asks for, where it is not the usual service
    attribution: str = ""
    licence: str = ""
    link: str = ""


class NetworkForm(Form):
    """What requests tell of the asker, and which hosts on private addresses may be asked."""

    contact: Annotated[str, Field(max_length=120, pattern=r"^[ -~]*$")] = ""
    allow_hosts: tuple[str, ...] = ()
    patience_s: Annotated[float, Field(ge=1, le=3600)] = 60.0  # for one download with all its tries


class Decisions(Form):
    """The owner's lines."""

    treat_from_chance: Annotated[float, Field(gt=0, lt=1)] = 0.30
    scout_from_chance: Annotated[float, Field(gt=0, lt=1)] = 0.10
    days_between_visits: Annotated[int, Field(ge=1, le=14)] = 7

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.scout_from_chance > self.treat_from_chance:
            raise ValueError("scout_from_chance must not be above treat_from_chance")
        return self


class Sprayer(Form):
    """What the tank holds."""

    tank_gal: Annotated[float, Field(gt=0, le=5000)] | None = None
    tank_l: Annotated[float, Field(gt=0, le=20000)] | None = None

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.tank_gal is None) == (self.tank_l is None):
            raise ValueError("give either tank_gal or tank_l")
        return self

    @property
    def litres(self) -> float:
        """The tank in litres."""
        return self.tank_l if self.tank_l is not None else (self.tank_gal or 0.0) * L_PER_US_GAL


class Work(Form):
    """``[work]``: when people can spray, clock time of the site."""

    start: ClockTime = time(6)
    end: ClockTime = time(18)
    days: Weekdays = "mon tue wed thu fri sat"
    closed: tuple[date, ...] = ()

    @model_validator(mode="after")
    def _some(self) -> Self:
        if self.end <= self.start:
            raise ValueError("end must come after start, on the same day")
        if not self.days.split():
            raise ValueError("name the days on which people work")
        return self


def _known_method(key: str) -> str:
    known = (BEST_KNOWN, *METHODS)
    if key not in known:
        near = difflib.get_close_matches(key, known, n=1)
        raise ValueError(
            f"no such method{f'; did you mean {near[0]!r}?' if near else '.'} Known are {', '.join(known)}"
        )
    return key


def _known_model(key: str) -> str:
    if key not in MODELS:
        near = difflib.get_close_matches(key, MODELS, n=1)
        raise ValueError(f"no such model{f'; did you mean {near[0]!r}?' if near else ''}; 'forecast models' lists them")
    return key


class Grounds(Form):
    """``grounds.toml``."""

    schema_: Literal[1] = Field(alias="schema")
    name: str
    invented: bool = False
    as_of: datetime | None = None
    units: Literal["us", "si"] = "us"
    time_zone: Annotated[str, AfterValidator(known_zone)]
    wetness: Annotated[str, AfterValidator(_known_method)] = BEST_KNOWN
    decisions: Decisions = Decisions()
    models_switched_on: tuple[Annotated[str, AfterValidator(_known_model)], ...] = ()
    sprayer: Sprayer
    work: Work = Work()
    weather_forecast: WeatherForecast | None = None
    network: NetworkForm = NetworkForm()
    station: Annotated[list[Station], Field(min_length=1)]

    @field_validator("as_of")
    @classmethod
    def _local(cls, moment: datetime | None) -> datetime | None:
        if moment is not None and moment.tzinfo is not None:
            raise ValueError("write it as clock time of the site, without an offset")
        return moment

    @model_validator(mode="after")
    def _distinct(self) -> Self:
        ids = [station.id for station in self.station]
        if len(set(ids)) != len(ids):
            raise ValueError("two stations have the same id")
        for station in self.station:
            if not goes_with(station.longitude_deg, self.zone):
                raise ValueError(
                    f"longitude {station.longitude_deg:g} of station {station.id!r} does not go with "
                    f"{self.time_zone}: is its sign right? West is negative"
                )
        return self

    @property
    def zone(self) -> ZoneInfo:
        """The site's time zone."""
        return ZoneInfo(self.time_zone)

    def standard_offset_minutes(self, year: int) -> int:
        """Standard time minus UTC, the same all year: the smaller of the January and the July offset."""
        return _standard_offset_minutes(self.zone, year)


def goes_with(longitude_deg: float, zone: ZoneInfo) -> bool:
    """Whether a place at that longitude can keep that time: else one of the two is a slip."""
    sun_minutes = longitude_deg * 4  # the sun takes 4 minutes a degree
    return abs((_standard_offset_minutes(zone, 2026) - sun_minutes + 720) % 1440 - 720) <= MOST_MINUTES_OFF_THE_SUN


def _standard_offset_minutes(zone: ZoneInfo, year: int) -> int:
    offsets = [datetime(year, month, 1, 12, tzinfo=zone).utcoffset() for month in (1, 7)]
    return int(min(offset or timedelta() for offset in offsets).total_seconds() // 60)
