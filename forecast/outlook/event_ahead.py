"""One event on the days ahead: members' answers made chances by the calibration, and what is usual beyond them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from forecast.outlook.calibration import LEADS, Calibration, Source, members_chance
from forecast.outlook.climatology import Chance, Usual, interval
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
    """

    members: StandMembers
    passed: Floats
    usual: Usual
    calibration: Calibration

    def reaches(self, first_day: int, last_day: int) -> bool:
        """Whether members speak of all days between two, both included."""
        first, last = first_day - self.members.first_day, last_day - self.members.first_day
        return 0 <= first <= last <= LEADS and bool(np.isfinite(self._members_within[first, last]))

    def chance(self, first_day: int, last_day: int) -> Chance | None:
        """The chance of at least one event day between two days; None where no past year counts.

        A window's chance is no less than that of any of its days and no more than all of theirs together, and grows
        with its length, however the numbers of the calibration fall.
        """
        usual = self.usual.chance(first_day, last_day)
        if usual is None or not self.reaches(first_day, last_day):
            return usual
        until = self.members.forecast_until
        if until is not None and first_day > until + HELD_DAYS:
            return usual  # what the calibration was fitted on went on
        first, last = first_day - self.members.first_day, last_day - self.members.first_day
        weight = float(self.calibration.within[first, last])
        if first == last:
            weight = float(first < self.calibration.told_days)
        if weight == 0:
            return usual
        value = float(self._told[first, last])
        low, high = interval(self._by_year(first, last))
        low, high = (
            usual_end + weight * (end - usual_end) for usual_end, end in ((usual.low, low), (usual.high, high))
        )
        years = len(np.unique(self.members.year))
        made = self.members.source
        return Chance(value, min(low, value), max(high, value), years, usual.value, made)

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
        weight = float(self.calibration.within[first, last])
        mixed: Floats = weight * seen + (1 - weight) * usual
        some = mixed[1:].sum()
        mixed[1:] *= told.value / some if some > 0 else 0.0
        mixed[0] = 1 - mixed[1:].sum()
        return mixed

    @cached_property
    def _ranked(self) -> NDArray[np.int8]:
        """2 for an event, 1 for unknown, 0 for none: the most in a window is what the window is."""
        return np.where(np.isnan(self.passed), 1, 2 * np.nan_to_num(self.passed)).astype(np.int8)

    @cached_property
    def _members_within(self) -> Floats:
        found = np.full((LEADS + 1, LEADS + 1), np.nan)
        for first in range(LEADS + 1):
            most = np.maximum.accumulate(self._ranked[first:], axis=0)
            passing, known = (most == 2).sum(axis=1).astype(float), (most != 1).sum(axis=1).astype(float)
            found[first, first:] = members_chance(passing, known, self._usual_within[first, first:])
        return found

    @cached_property
    def _usual_within(self) -> Floats:
        start = self.members.first_day
        found = np.full((LEADS + 1, LEADS + 1), np.nan)
        for first in range(LEADS + 1):
            for last in range(first, LEADS + 1):
                found[first, last] = self.usual.value(start + first, start + last)
        return found

    @cached_property
    def _told(self) -> Floats:
        """Chances of windows, made to agree with each other; the diagonal holds the single days."""
        days = self.calibration.of_days(
            np.diagonal(self._members_within), np.diagonal(self._usual_within), self.members.state
        )
        windows = self.calibration.of_windows(self._members_within, self._usual_within)
        found = np.full_like(windows, np.nan)
        for first in range(LEADS + 1):
            row = np.maximum(windows[first, first:], np.maximum.accumulate(days[first:]))
            row[0] = days[first]
            row = np.minimum(np.maximum.accumulate(row), np.minimum(np.cumsum(days[first:]), 1.0))
            found[first, first:] = row
        return found

    def _by_year(self, first: int, last: int) -> Floats:
        """The share of each year's members that have an event within a window."""
        most = self._ranked[first : last + 1].max(axis=0)
        rates = [
            float((most[self.members.year == year] == 2).mean()) for year in np.unique(self.members.year[most != 1])
        ]
        return np.array(rates)
