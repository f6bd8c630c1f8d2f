"""What a morning page says, as plain values; text, HTML and JSON are three ways to print it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

MORNING_SCHEMA: Literal[5] = 5

ChanceWord = Literal["very unlikely", "unlikely", "about as likely as not", "likely", "very likely"]
Made = Literal["past_years", "readings", "forecast"]


@dataclass(frozen=True, slots=True)
class ChanceReport:
    """A chance with its word, its 90 % interval and the past years it rests on.

    Attributes:
        usual: what past years alone say of these dates.
        made: of what: past years alone; the last readings too; or a weather forecast too.
    """

    value: float
    word: ChanceWord
    low: float
    high: float
    years: int
    usual: float
    made: Made


@dataclass(frozen=True, slots=True)
class DayChance:
    """The chance that one day is an event day.

    Attributes:
        usual: what past years alone say of the date.
        made: of what.
    """

    day: date
    value: float
    usual: float
    made: Made


@dataclass(frozen=True, slots=True)
class SeasonReport:
    """How many days a season the event comes here."""

    first_month: int
    last_month: int
    mean_days: float
    least_days: int
    most_days: int
    season_days: int
    seasons: int


@dataclass(frozen=True, slots=True)
class Driver:
    """One input of a model for the day in progress; low and high are equal when nothing is open any more."""

    name: str
    words: str
    unit: str
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class PastAnswer:
    """A finished day's answer."""

    day: date
    answer: float | None
    passed: bool | None


@dataclass(frozen=True, slots=True)
class StepReport:
    """A rung of a model's ladder: from this answer on, these words."""

    at: float
    words: str


@dataclass(frozen=True, slots=True)
class ModelReport:
    """One model's answer for today on one stand.

    Attributes:
        tested_on: grasses it was built or tested on; on these it decides.
        ends_at: clock time at which the model's day ends.
        finished: True when the day is over and read.
        low, high: least and most answer over the ways the day can go on; equal when finished; None when unknown.
        ways: how many ways were tried; 0 when finished or unknown.
        ways_passed: in how many of them the threshold is passed.
        outside: True where an input lies outside the model's range today.
        as_printed_low, as_printed_high: the published formula without any rule of ours.
        wetness: how its paper told wet hours; empty where it reads none.
    """

    key: str
    disease: str
    name: str
    standing: Literal["published", "reported", "provisional"]
    answer: Literal["index", "probability", "class"]
    threshold: float
    threshold_words: str
    tested_on: tuple[str, ...]
    ends_at: datetime
    finished: bool
    low: float | None
    high: float | None
    steps: tuple[StepReport, ...]
    ways: int
    ways_passed: int
    outside: bool
    as_printed_low: float | None
    as_printed_high: float | None
    drivers: tuple[Driver, ...]
    past: tuple[PastAnswer, ...]
    notes: str
    wetness: str
    source: str


@dataclass(frozen=True, slots=True)
class CoverReport:
    """What the last application still protects."""

    applied: date
    label_name: str
    sure_until: date
    gone_after: date
    days_left_low: int
    days_left_high: int


@dataclass(frozen=True, slots=True)
class LoadReport:
    """One tank."""

    mix_l: float
    product: float
    covers_m2: float


@dataclass(frozen=True, slots=True)
class QuantityReport:
    """What one preventive application takes, by one label; ``cautions`` is what has to be minded beside its rate."""

    label_name: str
    registration_number: str
    rate_as_printed: str
    measure: str
    product: float
    carrier_l: float
    loads: tuple[LoadReport, ...]
    most_per_year_as_printed: str
    left_this_year: float | None
    keep_off: str
    gear: str
    least_days: int
    most_days: int
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DiseaseReport:
    """The answer for one disease on one area, and what it rests on; models are named by key, see the stand."""

    disease: str
    name: str
    answer: Literal["treat", "scout", "hold", "no_model"]
    diagnosed: bool
    reasons: tuple[str, ...]
    needed_by: date | None
    first_day: date | None
    last_day: date | None
    event_words: str
    next_visit: date
    open_from: date
    chance: ChanceReport | None
    chance_week_1: ChanceReport | None
    chance_week_2: ChanceReport | None
    days: tuple[DayChance, ...]
    base_rate: float | None
    season: SeasonReport | None
    treat_from_chance: float
    scout_from_chance: float
    deciding: tuple[str, ...]
    beside: tuple[str, ...]
    switched_on: tuple[str, ...]
    cover: CoverReport | None
    quantity: QuantityReport | None
    no_option: tuple[str, ...]
    look_for: str


@dataclass(frozen=True, slots=True)
class CareReport:
    """One piece of care advice, the answer first."""

    about: Literal["watering", "mowing", "nitrogen", "shade", "thatch", "compaction", "drainage"]
    text: str
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class AreaReport:
    """One area.

    Attributes:
        stand_id: whose models and wet hours hold for it.
        out_of_season: diseases of its grass that are not shown, since this is not their time of year.
        never_here: True where no disease known here is looked for on its grass.
        setting: how its wet hours are reckoned, in sentences.
        care: what follows from the day's numbers for watering and the rest.
    """

    property_id: str
    property_name: str
    area_id: str
    area_name: str
    grass: str
    size_m2: float
    place_id: str
    stand_id: str
    setting: tuple[str, ...]
    diseases: tuple[DiseaseReport, ...]
    out_of_season: tuple[str, ...]
    never_here: bool
    care: tuple[CareReport, ...]


@dataclass(frozen=True, slots=True)
class BasisReport:
    """Which station stands behind some quantities at a place, over the hours looked at.

    Attributes:
        quantities: what, in words.
        station: the name of the station behind most hours.
        distance_km: how far away it stands; 0 where the place is the station.
        height_difference_m: how much higher it stands.
        confidence: how far it can speak for the place.
        others: other stations that stood in for some hours, by name.
    """

    quantities: tuple[str, ...]
    station: str
    distance_km: float
    height_difference_m: float
    confidence: Literal["good", "fair", "poor"]
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CreditReport:
    """Who stands behind readings or a forecast, and the credit that the licence asks for."""

    name: str
    attribution: str
    licence: str
    link: str


@dataclass(frozen=True, slots=True)
class ForecastReport:
    """The newest weather forecast that is known for a place.

    Attributes:
        issued: moment of issue, or of the fetch where the source states none.
        issued_stated: whether the source states it.
        reaches_to: its last hour.
        credit: who issued it.
        learned_from: issued forecasts of this source, one a day, that its worth was learned from; 0 for none.
        enters: whether it enters the chances: not without temperature and humidity in it, nor beside readings too old.
    """

    issued: datetime
    issued_stated: bool
    reaches_to: datetime
    credit: CreditReport
    learned_from: int
    enters: bool


@dataclass(frozen=True, slots=True)
class PlaceReport:
    """The state of the data at one place, a station's or a property's own.

    Attributes:
        past_years: past years that count towards the chances, a typical year included.
        typical_year: the file of a typical year that stands in for one of them; empty for none.
    """

    place_id: str
    name: str
    basis: tuple[BasisReport, ...]
    credits: tuple[CreditReport, ...]
    weather_forecast: ForecastReport | None
    last_observation: datetime | None
    age_minutes: int | None
    hours_wanted: int
    hours_filled: int
    hours_from_others: int
    hours_missing: int
    rain_hours_missing: int
    past_years: int
    typical_year: str
    sunrise: datetime | None


@dataclass(frozen=True, slots=True)
class WetNight:
    """Wet hours of one day from noon to noon; None is unknown.

    Attributes:
        day: the date of its last hour.
        hours: by the stand's own method.
        low, high: least and most over all methods that could tell.
    """

    day: date
    hours: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class WetnessReport:
    """How wet hours are told on one stand.

    Attributes:
        method: key of the method.
        name: in words.
        source: where it comes from.
        methods: names of the methods that the spread is over.
        nights: the last finished days.
        hours_stood_in: hours of the last week that another method told.
    """

    method: str
    name: str
    source: str
    methods: tuple[str, ...]
    nights: tuple[WetNight, ...]
    hours_stood_in: int


@dataclass(frozen=True, slots=True)
class StandReport:
    """Turf of one setting at one place, and what every model makes of it.

    Attributes:
        areas: ids of the areas that share it.
        models: one a model that speaks of a disease shown on one of its areas.
    """

    stand_id: str
    place_id: str
    areas: tuple[str, ...]
    wetness: WetnessReport
    models: tuple[ModelReport, ...]


@dataclass(frozen=True, slots=True)
class MorningPage:
    """A whole morning page.

    Attributes:
        forecast_is_set: whether the settings name a source of weather forecasts, fetched by then or not.
    """

    schema: Literal[5]
    version: str
    grounds: str
    invented: bool
    as_of: datetime
    replay: bool
    forecast_is_set: bool
    time_zone: str
    units: Literal["us", "si"]
    areas: tuple[AreaReport, ...]
    places: tuple[PlaceReport, ...]
    stands: tuple[StandReport, ...]
    notices: tuple[str, ...]
    cautions: tuple[str, ...]
