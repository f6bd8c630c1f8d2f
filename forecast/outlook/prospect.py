"""One event at one station: what has passed, what today can still become, and what past years say of the days ahead."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from forecast.diseases import DiseaseModel
from forecast.diseases.events import Event, any_passed
from forecast.outlook.climatology import Chance, SeasonCount, chance_of_any, season_count
from forecast.outlook.view import View
from forecast.panel import Floats


@dataclass(frozen=True, eq=False)
class Prospect:
    """What can be said of one event; where no model was tested on the grass, no chance can.

    Attributes:
        view: the station's.
        event: which models decide.
    """

    view: View
    event: Event

    @cached_property
    def past(self) -> Floats | None:
        """The event over the finished days, shape (days,); None without a deciding model."""
        return self._passed(self.event.deciding) if self.event.deciding else None

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
        return None if self.past is None else chance_of_any(self.past, self.view.days(), first_day, last_day)

    def chances(self, first_day: int, last_day: int) -> tuple[Chance, ...]:
        """The chance of at least one event day from a first day to each day up to a last, at least to the first."""
        found = [self.chance(first_day, day) for day in range(first_day, max(first_day, last_day) + 1)]
        return tuple(chance for chance in found if chance is not None)

    def single_days(self, days: range) -> tuple[tuple[int, Chance], ...]:
        """The chance of each day by itself."""
        found = [(day, self.chance(day, day)) for day in days]
        return tuple((day, chance) for day, chance in found if chance is not None)

    def beside_chance(self, first_day: int, last_day: int) -> float | None:
        """The chance that any tested model passes, of this grass or of others; None where none is beside."""
        if not self.event.beside or last_day < first_day:
            return None
        passed = self._passed(self.event.deciding + self.event.beside)
        chance = chance_of_any(passed, self.view.days(), first_day, last_day)
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
