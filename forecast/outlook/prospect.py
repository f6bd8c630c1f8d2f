"""One event at one station: what has passed, what today can still become, and what past years say of the days ahead."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from forecast.diseases import DiseaseModel
from forecast.diseases.events import Event, any_passed
from forecast.outlook.calibration import Calibration, untested
from forecast.outlook.climatology import Chance, SeasonCount, Usual, season_count
from forecast.outlook.event_ahead import EventAhead
from forecast.outlook.view import View
from forecast.panel import Floats


@dataclass(frozen=True, eq=False)
class Prospect:
    """What can be said of one event; where no model was tested on the grass, no chance can.

    Attributes:
        view: the station's.
        event: which models decide.
        calibration: what members are worth for it; None for what no fit speaks for.
        readings: the same of members that follow readings alone.
    """

    view: View
    event: Event
    calibration: Calibration | None = None
    readings: Calibration | None = None

    @cached_property
    def past(self) -> Floats | None:
        """The event over the finished days, shape (days,); None without a deciding model."""
        return self._passed(self.event.deciding) if self.event.deciding else None

    @cached_property
    def ahead(self) -> EventAhead | None:
        """What members say of the days ahead; None where there are none, or no model decides."""
        return None if self._usual is None else self._ahead_of(self.event.deciding, self._usual)

    @cached_property
    def _usual(self) -> Usual | None:
        return None if self.past is None else Usual(self.past, self.view.days())

    def _ahead_of(
        self, models: tuple[DiseaseModel, ...], usual: Usual, passed: Floats | None = None
    ) -> EventAhead | None:
        """Members of some models; for another event than the own one its weights hold, its regressions do not."""
        members = self.view.ahead
        if members is None:
            return None
        own, readings = self.calibration or untested(members.source), self.readings or untested("readings")
        if models != self.event.deciding or passed is not None:
            own, readings = own.without_regression(), readings.without_regression()
        some = any_passed(models, members.passed) if passed is None else passed
        return EventAhead(members, some, usual, own, readings)

    def today_known(self, models: tuple[DiseaseModel, ...]) -> bool:
        """Whether each of some models can say anything of today."""
        now = [self.view.now[model.key].passed for model in models]
        return bool(now) and all(passed.size and not np.isnan(passed).any() for passed in now)

    def today_passed(self) -> bool:
        """Whether today is an event day already: a deciding model's day is over and passed."""
        now = [self.view.now[model.key] for model in self.event.deciding]
        return any(found.finished and bool((found.passed == 1).all()) for found in now)

    def chance(self, first_day: int, last_day: int) -> Chance | None:
        """The chance of at least one event day between two days, both included."""
        if self.ahead is not None:
            return self.ahead.chance(first_day, last_day)
        return None if self._usual is None else self._usual.chance(first_day, last_day)

    def chances(self, first_day: int, last_day: int) -> tuple[Chance, ...]:
        """The chance of at least one event day from a first day to each day up to a last, at least to the first."""
        found = [self.chance(first_day, day) for day in range(first_day, max(first_day, last_day) + 1)]
        return tuple(chance for chance in found if chance is not None)

    def single_days(self, days: range) -> tuple[tuple[int, Chance], ...]:
        """The chance of each day by itself."""
        found = [(day, self.chance(day, day)) for day in days]
        return tuple((day, chance) for day, chance in found if chance is not None)

    def counts(self, first_day: int, last_day: int) -> Floats | None:
        """The chance of each number of event days between two days, from 0 on; None where no past year counts."""
        if self.ahead is not None:
            return self.ahead.counts(first_day, last_day)
        return self.usual_counts(first_day, last_day)

    def usual_counts(self, first_day: int, last_day: int) -> Floats | None:
        """The same by past years alone."""
        found = None if self._usual is None else self._usual.counts(first_day, last_day)
        return None if found is None or np.isnan(found).any() else found

    def chances_from(self, model: DiseaseModel, at: float, days: range) -> tuple[Chance | None, ...]:
        """The chance that one model's answer reaches a level, on each of some days.

        Args:
            model: one of those asked.
            at: the level, in the answer's own unit.
            days: day numbers.
        """
        answers = self.view.past_answers(model.key)
        usual = Usual(np.where(np.isnan(answers), np.nan, answers >= at), self.view.days())
        members = self.view.ahead
        if members is None:
            return tuple(usual.chance(day, day) for day in days)
        reached = members.answers[model.key]
        ahead = self._ahead_of((model,), usual, np.where(np.isnan(reached), np.nan, reached >= at))
        return tuple(None if ahead is None else ahead.chance(day, day) for day in days)

    def beside_chance(self, first_day: int, last_day: int) -> float | None:
        """The chance that any tested model passes, of this grass or of others; None where none is beside."""
        if not self.event.beside or last_day < first_day:
            return None
        models = self.event.deciding + self.event.beside
        usual = Usual(self._passed(models), self.view.days())
        ahead = self._ahead_of(models, usual)
        chance = usual.chance(first_day, last_day) if ahead is None else ahead.chance(first_day, last_day)
        return None if chance is None else chance.value

    def recent_event_days(self, back_days: int) -> list[int]:
        """Day numbers of the event days among the days before today."""
        if self.past is None:
            return []
        days = self.view.days()
        recent = (days >= self.view.today - back_days) & (days < self.view.today)
        return [int(day) for day in days[(self.past == 1) & recent]]

    def season(self, first_month: int, last_month: int) -> SeasonCount | None:
        """Event days a season over the whole past seasons."""
        if self.past is None:
            return None
        return season_count(self.past, self.view.days(), self.view.today, first_month, last_month)

    def _passed(self, models: tuple[DiseaseModel, ...]) -> Floats:
        return any_passed(models, {model.key: self.view.past_passed(model.key) for model in models})
