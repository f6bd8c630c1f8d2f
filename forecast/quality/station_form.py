"""The form of a finding about a whole station, and what the findings ask of a record: days, months, years."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats
from forecast.quality.form import Limit, Seen
from forecast.quality.series import DAY_HOURS, standard_hour


@dataclass(frozen=True, slots=True)
class StationFinding:
    """What a record as a whole says about a station.

    Attributes:
        check: key of the station check.
        series: name of the series.
        quantity: the quantity it concerns.
        first_hour: first hour of the stretch it concerns, UTC.
        last_hour: last hour of it.
        text: for a reader: what was found, and what it means for wet hours where it does.
        figures: the numbers in the text, by name with unit.
        grave: True when it can change wet hours by much; False for a thing to know.
    """

    check: str
    series: str
    quantity: str
    first_hour: np.datetime64
    last_hour: np.datetime64
    text: str
    figures: Mapping[str, float]
    grave: bool


@dataclass(frozen=True, slots=True)
class StationCheck:
    """One check of whole records, declared once.

    Attributes:
        key: how findings name it.
        looks_for: in plain words.
        limits: by key, as the finder asks for them.
        find: (what is seen, column, limit values by key) → findings for that series.
    """

    key: str
    looks_for: str
    limits: Mapping[str, Limit]
    find: Callable[[Seen, int, Mapping[str, float]], Iterator[StationFinding]]


@dataclass(frozen=True, eq=False)
class Days:
    """A record cut into days of standard time, midnight to midnight.

    Attributes:
        number: day numbers, unbroken; shape (days,).
        by_hour: shape (days, 24); NaN is unknown.
    """

    number: NDArray[np.int64]
    by_hour: Floats

    def known(self) -> NDArray[np.int64]:
        """Hours known of each day."""
        known: NDArray[np.int64] = np.count_nonzero(~np.isnan(self.by_hour), axis=1)
        return known

    def most(self) -> Floats:
        """Highest reading of each day; NaN where fewer than 20 hours are known (house choice)."""
        highest = np.where(np.isnan(self.by_hour), -np.inf, self.by_hour).max(axis=1)
        return np.where(self.known() >= 20, highest, np.nan)

    def total(self) -> Floats:
        """Sum over the hours known."""
        total: Floats = np.where(np.isnan(self.by_hour), 0.0, self.by_hour).sum(axis=1)
        return total

    def month(self) -> NDArray[np.int64]:
        """Months since January 1970, of each day."""
        return self.number.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)

    def year(self) -> NDArray[np.int64]:
        """Calendar year of each day."""
        return self.month() // 12 + 1970


def days_of(seen: Seen, column: Floats) -> Days:
    """One series cut into days; hours before the first and after the last are unknown."""
    hour = standard_hour(seen.hours, seen.standard_offset_minutes)
    days = np.arange(hour[0] // DAY_HOURS, hour[-1] // DAY_HOURS + 1)
    by_hour = np.full(len(days) * DAY_HOURS, np.nan)
    before = int(hour[0] % DAY_HOURS)
    by_hour[before : before + len(column)] = column
    return Days(days, by_hour.reshape(-1, DAY_HOURS))


def month_words(month: int) -> str:
    """A month since January 1970, in words."""
    return np.datetime64(month, "M").item().strftime("%B %Y")


def span(seen: Seen, first: np.datetime64, last: np.datetime64) -> tuple[np.datetime64, np.datetime64]:
    """The first and last hour of the record that lie between two dates of standard time, both included."""
    offset = np.timedelta64(seen.standard_offset_minutes // 60, "h")
    begin = first.astype("datetime64[h]") - offset + np.timedelta64(1, "h")
    end = (last + np.timedelta64(1, "D")).astype("datetime64[h]") - offset
    return max(begin, seen.hours[0]), min(end, seen.hours[-1])


def month_span(seen: Seen, first: int, last: int) -> tuple[np.datetime64, np.datetime64]:
    """The hours of the record between two months since January 1970, both included."""
    day_after = np.datetime64(last + 1, "M").astype("datetime64[D]")
    return span(seen, np.datetime64(first, "M").astype("datetime64[D]"), day_after - np.timedelta64(1, "D"))
