"""One stand's hours as every model sees them: the finished days, and the ways today can still go."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from forecast.daily import Days, day_numbers, last_stamp
from forecast.diseases import MODELS, DiseaseModel
from forecast.diseases.declare import Daily
from forecast.diseases.pressure import Pressure, pressure
from forecast.outlook.event_ahead import StandMembers
from forecast.outlook.running_day import HISTORY_HOURS, last_known_row, ways_on
from forecast.panel import Floats, Panel
from forecast.stand import Stand, StandHours, place_hours, stand_hours

OLDEST_READING_HOURS = 36  # house choice: beyond it the day in progress is guesswork and is not shown


@dataclass(frozen=True, eq=False)
class Today:
    """One model's day in progress, or just over, for one series; every array of shape (ways,).

    Attributes:
        finished: the day is over and its last hour was read: one way only.
        answer: the model's answer a way; empty where nothing can be said.
        as_printed: the published formula without any rule of ours.
        outside: True where an input lies outside the model's range.
        passed: 1 where the threshold is reached, 0 where not, NaN where unknown.
        inputs: per input name.
    """

    finished: bool
    answer: Floats
    as_printed: Floats
    outside: NDArray[np.bool_]
    passed: Floats
    inputs: Mapping[str, Floats]


@dataclass(frozen=True, eq=False)
class View:
    """What is known of one stand on one morning.

    Attributes:
        stand: which.
        today: day number of the date asked about.
        last_known: stamp of the last hour with temperature and humidity; None where there is none.
        past: per model, its answers over all finished days; NaN on days that are not finished.
        now: per model, today.
        ahead: what members say of the days from today on; None where nobody looked ahead.
    """

    stand: Stand
    today: int
    last_known: np.datetime64 | None
    past: Mapping[str, Pressure]
    now: Mapping[str, Today]
    ahead: StandMembers | None = None

    def days(self) -> Days:
        """The days that any model's past reaches; never none, where the models' own days do not overlap yet either."""
        if not self.past:
            return np.array([self.today])
        first = min(int(p.days[0]) for p in self.past.values())
        last = max(int(p.days[-1]) for p in self.past.values())
        return np.arange(first, last + 1)

    def past_passed(self, key: str) -> Floats:
        """Whether one model passed, over :meth:`days`: 1, 0, or NaN where unknown or not finished; shape (days,)."""
        return self._over_days(key, self.past[key].passed)

    def past_answers(self, key: str) -> Floats:
        """One model's answers, over :meth:`days`; NaN where unknown, withheld or not finished; shape (days,)."""
        return self._over_days(key, self.past[key].answer)

    def _over_days(self, key: str, values: Floats) -> Floats:
        days = self.days()
        found = np.full(len(days), np.nan)
        start = int(self.past[key].days[0] - days[0])
        found[start : start + len(values)] = values[:, 0]
        return found


def view(
    found: StandHours,
    stand: Stand,
    today: int,
    now_utc: np.datetime64,
    offset_minutes: int,
    models: Collection[DiseaseModel] | None = None,
) -> View:
    """Everything the models say of one stand.

    Args:
        found: the stand's hours up to ``now_utc``.
        stand: which.
        today: day number of the local date.
        now_utc: the moment of the page.
        offset_minutes: standard time minus UTC.
        models: which are asked; left out, all of the catalogue.
    """
    asked = MODELS.values() if models is None else models
    found_so_far = past_view(found, stand, today, offset_minutes, asked)
    past, last_known = found_so_far.past, found_so_far.last_known
    fresh = last_known is not None and now_utc - last_known <= np.timedelta64(OLDEST_READING_HOURS, "h")
    # By the method that tells the record, whatever the few days ahead would suffice for by themselves.
    told_so = replace(stand, wetness=found.wet.method.key)
    ahead = _Ahead(found.panel, told_so, last_stamp(today, offset_minutes, 24)) if fresh else None
    now = {model.key: _today(model, past[model.key], ahead, today, offset_minutes) for model in asked}
    return replace(found_so_far, now=now)


def past_view(
    found: StandHours, stand: Stand, today: int, offset_minutes: int, models: Collection[DiseaseModel]
) -> View:
    """What models say of a stand's finished days alone, without the day in progress; arguments as of :func:`view`."""
    row = last_known_row(found.panel, 0)
    last_known = None if row is None else found.panel.hours[row]
    panels = {key: found.panel_for(key) for key in {model.wetness for model in models}}
    past = {
        model.key: _finished_only(pressure(model, panels[model.wetness], offset_minutes), last_known, offset_minutes)
        for model in models
    }
    return View(stand, today, last_known, past, {})


class _Ahead:
    """The ways a stand's day can go on, as far back as each model looks, made once for all models that look as far."""

    def __init__(self, panel: Panel, stand: Stand, until: np.datetime64) -> None:
        self._panel, self._stand, self._until = panel, stand, until
        self._hours: StandHours | None = None

    def panel_for(self, model: DiseaseModel) -> Panel | None:
        """Hours with members; None where nothing is known to go on with."""
        days = max((one.trailing_days for one in model.inputs if isinstance(one, Daily)), default=1)
        if 24 * (days + 1) > HISTORY_HOURS:
            return self._long(model, 24 * (days + 1))
        if self._hours is None:
            found = ways_on(self._panel, 0, self._until)
            if found is not None:
                self._hours = stand_hours(place_hours(found.panel, self._stand.where), self._stand)
        return None if self._hours is None else self._hours.panel_for(model.wetness)

    def _long(self, model: DiseaseModel, history_hours: int) -> Panel | None:
        """A long look back on what one model reads, which is never leaf wetness: that would cost much for little."""
        read = {one.quantity for one in model.inputs} | {"air_temperature_c", "dew_point_c", "relative_humidity_pct"}
        found = ways_on(self._panel.keeping(read), 0, self._until, history_hours)
        return None if found is None else found.panel


def _finished_only(found: Pressure, last_known: np.datetime64 | None, offset_minutes: int) -> Pressure:
    """A day whose last hour has not been read is not finished, however many of its hours were."""
    end = found.model.day_end_hour
    open_from = int(found.days[0])
    if last_known is not None:
        day = int(day_numbers(np.array([last_known]), offset_minutes, end)[0])
        open_from = day + (last_stamp(day, offset_minutes, end) == last_known)
    open_days = found.days >= open_from
    answer, passed = found.answer.copy(), found.passed.copy()
    answer[open_days] = passed[open_days] = np.nan
    return replace(found, answer=answer, passed=passed)


def _today(model: DiseaseModel, past: Pressure, ahead: _Ahead | None, today: int, offset_minutes: int) -> Today:
    row = past.row(today)
    if row is not None and not np.isnan(past.passed[row, 0]):
        return _pick(past, row, finished=True)
    ahead_panel = None if ahead is None else ahead.panel_for(model)
    if ahead_panel is not None:
        going_on = pressure(model, ahead_panel, offset_minutes)
        row = going_on.row(today)
        if row is not None:
            return _pick(going_on, row, finished=False)
    nothing = np.empty(0)
    inputs = {daily.name: nothing for daily in model.inputs}
    return Today(finished=False, answer=nothing, as_printed=nothing, outside=nothing > 0, passed=nothing, inputs=inputs)


def _pick(found: Pressure, row: int, *, finished: bool) -> Today:
    return Today(
        finished,
        np.ravel(found.answer[row, 0]),
        np.ravel(found.as_printed[row, 0]),
        np.ravel(found.outside[row, 0]),
        np.ravel(found.passed[row, 0]),
        {name: np.ravel(values[row, 0]) for name, values in found.inputs.items()},
    )
