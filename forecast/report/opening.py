"""When each disease's season opens: usually, and this year, with the preventive start before it, area by area."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from forecast.report.page import Made

SEASON_SCHEMA: Literal[1] = 1


@dataclass(frozen=True, slots=True)
class Spread:
    """Dates that come no later in one of ten, five of ten and nine of ten ways; None for later, or not at all."""

    early: date | None
    middle: date | None
    late: date | None


@dataclass(frozen=True, slots=True)
class Start:
    """By when prevention begins, two weeks before the opening.

    Attributes:
        spread: of the opening's spread.
        three_in_four: by when, to be early enough in three of four ways.
        nine_in_ten: in nine of ten.
    """

    spread: Spread
    three_in_four: date | None
    nine_in_ten: date | None


@dataclass(frozen=True, slots=True)
class PastOpening:
    """A past season, by the year in which it begins, and when it opened; None where it did not."""

    year: int
    opened: date | None


@dataclass(frozen=True, slots=True)
class Standing:
    """How the season stands.

    Attributes:
        event_days: days of disease weather in the season so far.
        usual_event_days: the mean number by this date in past seasons; None before the season, or without any.
        unknown_days: days of the season that are over and not known.
        weather_since: from when on the air is told.
        warmer_by_c: its temperature since then, above what is usual, °C; None where too little is known.
        damper_by_c: its dew point likewise.
    """

    event_days: int
    usual_event_days: float | None
    unknown_days: int
    weather_since: date
    warmer_by_c: float | None
    damper_by_c: float | None


@dataclass(frozen=True, slots=True)
class DiseaseSeason:
    """One disease's season on one area.

    Attributes:
        event_words: what a day of disease weather is, in words that follow "a day on which".
        rule_event_days: so many of them open the season,
        rule_within_days: within so many days.
        first_day: the first day on which an opening is looked for.
        last_day: the last.
        past: past seasons that are known well enough.
        past_unknown: how many are not.
        usual: when the season opens in years in which it does; None where none is known.
        usual_start: the preventive start of that.
        opened: the day on which this season opened; None where it has not been seen to.
        this_year: when it opens, that being so; None where it has, or nothing can be told.
        told_until: the last day that this year's dates reach.
        opens: chance that it opens by then.
        within_14_days: chance that it opens on the next 14 days, today the first; None as for this_year.
        may_have_opened: chance that it opened on days that are not known.
        start: the preventive start of this year.
        made: of what this year's dates are made.
        member_years: distinct past years whose weather goes on from now; 0 for none.
        forecast_until: the last day that the weather forecast speaks of; None without one.
    """

    disease: str
    name: str
    event_words: str
    deciding: tuple[str, ...]
    rule_event_days: int
    rule_within_days: int
    first_day: date
    last_day: date
    past: tuple[PastOpening, ...]
    past_unknown: int
    usual: Spread | None
    usual_start: Start | None
    opened: date | None
    this_year: Spread | None
    told_until: date
    opens: float | None
    within_14_days: float | None
    may_have_opened: float
    start: Start | None
    standing: Standing
    made: Made
    member_years: int
    forecast_until: date | None


@dataclass(frozen=True, slots=True)
class SeasonArea:
    """One area with the diseases that a tested model speaks of; ``without`` names the others."""

    area_id: str
    area_name: str
    property_name: str
    grass: str
    place: str
    diseases: tuple[DiseaseSeason, ...]
    without: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SeasonPage:
    """The seasons of some areas."""

    schema: Literal[1]
    version: str
    grounds: str
    invented: bool
    as_of: datetime
    replay: bool
    time_zone: str
    units: Literal["us", "si"]
    areas: tuple[SeasonArea, ...]
    cautions: tuple[str, ...]
