"""One event on the days ahead: members' answers made chances by the calibration, and what is usual beyond them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from forecast.diseases.events import any_day_from
from forecast.outlook.calibration import LEADS, Calibration, Source, members_chance
from forecast.outlook.climatology import Chance, Made, Usual, interval
from forecast.panel import Floats

HELD_DAYS = 1  # house choice: so many days after a forecast's end its last day still tells something


@dataclass(frozen=True, eq=False)
class StandMembers:
    """What every model says of one stand's days ahead, member by member.

    Attributes:
        first_day: day number of the morning's own date.
        passed: per model, 1, 0 or NaN, shape (days, members).
        answers: per model, its answers, same shape.
        year: calendar year of each member's block, shape (members,).
        source: whether they follow a weather forecast or readings alone.
        forecast_until: last day number of which a weather forecast itself tells every hour; None without one.
        state: how the last fortnight stood by :data:`forecast.outlook.calibration.STATE`, shape (6,).
    """

    first_day: int
    passed: Mapping[str, Floats]
    answers: Mapping[str, Floats]
    year: NDArray[np.int64]
    source: Source
    forecast_until: int | None
    state: Floats


@dataclass(frozen=True, eq=False)
class EventAhead:
    """One event's chances over the days that members reach.

    Attributes:
        members: the stand's.
        passed: the event, 1, 0 or NaN, shape (days, members).
        usual: the same event in past years.
        calibration: what members are worth for it.
        readings: the same for members that follow readings alone; it holds beyond a weather forecast's end.
    """

    members: StandMembers
    passed: Floats
    usual: Usual
    calibration: Calibration
    readings: Calibration

    def chance(self, first_day: int, last_day: int) -> Chance | None:
        """The chance of at least one event day between two days; None where no past year counts.

        A window's chance is no less than that of any of its days and no more than all of theirs together, and grows
        with its length, however the numbers of the calibration fall. Where members know nothing, usual chances stand.
        """
        usual = self.usual.chance(first_day, last_day)
        first, last = first_day - self.members.first_day, last_day - self.members.first_day
        if usual is None or not 0 <= first <= last <= LEADS:
            return usual
        value = float(self._days[first] if first == last else self._windows[first, last])
        made = self._made(first, last)
        if made == "past_years" or not np.isfinite(value):
            return usual
        rates = self._by_year(first, last)
        low, high = interval(rates) if rates.size else (usual.low, usual.high)
        weight = self._weight(first, last)
        low, high = (of + weight * (end - of) for of, end in ((usual.low, low), (usual.high, high)))
        years = min(len(rates), usual.years) if rates.size else usual.years
        return Chance(value, min(low, value), max(high, value), years, usual.value, made)

    def _made(self, first: int, last: int) -> Made:
        """What the best informed of a window's days is made of."""
        told = self._told_days[first : last + 1]
        if not told.any():
            return "past_years"
        return "forecast" if (told & self._by_forecast[first : last + 1]).any() else "readings"

    def _weight(self, first: int, last: int) -> float:
        if first == last:
            return float((self.calibration if self._by_forecast[first] else self.readings).single[first])
        return float(self._within[first, last])

    @cached_property
    def _by_forecast(self) -> NDArray[np.bool_]:
        """Days that the forecast's own calibration holds for; none without a forecast."""
        if self.members.forecast_until is None:
            return np.zeros(LEADS + 1, dtype=bool)
        return np.arange(LEADS + 1) <= self.members.forecast_until + HELD_DAYS - self.members.first_day

    @cached_property
    def _told_days(self) -> NDArray[np.bool_]:
        """Single days that are told by more than past years."""
        lead = np.arange(LEADS + 1)
        until = np.where(self._by_forecast, self.calibration.told_days, self.readings.told_days)
        told: NDArray[np.bool_] = (lead < until) & np.isfinite(self._members_days)
        return told

    @cached_property
    def _within(self) -> Floats:
        """Weights of windows: the forecast's where all their days are its own, else those of readings."""
        return np.where(self._by_forecast[None, :], self.calibration.within, self.readings.within)

    @cached_property
    def _usual_days(self) -> Floats:
        start = self.members.first_day
        return np.array([self.usual.value(start + lead, start + lead) for lead in range(LEADS + 1)])

    @cached_property
    def _members_days(self) -> Floats:
        known = ~np.isnan(self.passed)
        return members_chance(
            (self.passed == 1).sum(axis=1).astype(float), known.sum(axis=1).astype(float), self._usual_days
        )

    @cached_property
    def _days(self) -> Floats:
        """Chances of single days; usual where members know nothing."""
        by_forecast, by_readings = (
            one.of_days(self._members_days, self._usual_days, self.members.state)
            for one in (self.calibration, self.readings)
        )
        told = np.where(self._by_forecast, by_forecast, by_readings)
        return np.where(self._told_days & np.isfinite(told), told, self._usual_days)

    @cached_property
    def _windows(self) -> Floats:
        """Chances of windows, made to agree with each other and with single days."""
        start = self.members.first_day
        found = np.full((LEADS + 1, LEADS + 1), np.nan)
        for first in range(LEADS + 1):
            usual = np.array([self.usual.value(start + first, start + last) for last in range(first, LEADS + 1)])
            counts = any_day_from(self.passed[first:] == 1, np.isnan(self.passed[first:]), axis=0)
            members = members_chance(*counts, usual)
            weight = np.where(np.isfinite(members), self._within[first, first:], 0.0)
            told = usual + weight * (np.nan_to_num(members) - usual)
            days = self._days[first:]
            told = np.maximum.accumulate(np.maximum(told, np.maximum.accumulate(days)))
            found[first, first:] = np.minimum(told, np.minimum(np.cumsum(days), 1.0))
        return found

    def _by_year(self, first: int, last: int) -> Floats:
        """The share of each year's known members that have an event within a window."""
        part = self.passed[first : last + 1]
        known = ~np.isnan(part).any(axis=0)
        some = (part == 1).any(axis=0)
        years = self.members.year
        return np.array([float(some[known & (years == year)].mean()) for year in np.unique(years[known])])

    def counts(self, first_day: int, last_day: int) -> Floats | None:
        """The chance of each number of event days between two days, from 0 on; None where no past year counts.

        Members' and usual counts are mixed by the weight that the calibration gives to any event day in the window, the
        chance of none being left as :meth:`chance` tells it.
        """
        usual = self.usual.counts(first_day, last_day)
        told = self.chance(first_day, last_day)
        if told is None or np.isnan(usual).any():
            return None
        if told.made == "past_years":
            return usual
        first, last = first_day - self.members.first_day, last_day - self.members.first_day
        part = self.passed[first : last + 1]
        whole = part[:, ~np.isnan(part).any(axis=0)]
        if not whole.size:
            return usual
        seen = np.bincount(whole.sum(axis=0).astype(np.int64), minlength=len(usual)) / whole.shape[1]
        weight = self._weight(first, last)
        mixed: Floats = weight * seen + (1 - weight) * usual
        some = mixed[1:].sum()
        mixed[1:] *= told.value / some if some > 0 else 0.0
        mixed[0] = 1 - mixed[1:].sum()
        return mixed
