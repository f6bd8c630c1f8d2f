"""One station's hours as every model sees them: the finished days, and the ways today can still go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from forecast.air import complete_humidity
from forecast.daily import Days, day_numbers, last_stamp
from forecast.diseases import MODELS, DiseaseModel
from forecast.diseases.pressure import Pressure, pressure
from forecast.outlook.running_day import last_known_row, ways_on
from forecast.panel import Floats, Panel
from forecast.wetness import WetnessMethod, with_leaf_wetness

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
    """What is known at one station on one morning.

    Attributes:
        series: the station's id.
        today: day number of the date asked about.
        last_known: stamp of the last hour with temperature and humidity; None where there is none.
        past: per model, its answers over all finished days; NaN on days that are not finished.
        now: per model, today.
    """

    series: str
    today: int
    last_known: np.datetime64 | None
    past: Mapping[str, Pressure]
    now: Mapping[str, Today]

    def days(self) -> Days:
        """The days that any model's past reaches; never none, where the models' own days do not overlap yet either."""
        first = min(int(p.days[0]) for p in self.past.values())
        last = max(int(p.days[-1]) for p in self.past.values())
        return np.arange(first, last + 1)

    def past_passed(self, key: str) -> Floats:
        """Whether one model passed, over :meth:`days`: 1, 0, or NaN where unknown or not finished; shape (days,)."""
        found, days = self.past[key], self.days()
        passed = np.full(len(days), np.nan)
        start = int(found.days[0] - days[0])
        passed[start : start + len(found.days)] = found.passed[:, 0]
        return passed


def view(
    panel: Panel, column: int, today: int, now_utc: np.datetime64, method: WetnessMethod, offset_minutes: int
) -> View:
    """Everything the models say of one series.

    Args:
        panel: checked and filled station hours up to ``now_utc``; shape (hours, series).
        column: which series.
        today: day number of the local date.
        now_utc: the moment of the page.
        method: how wet hours are told.
        offset_minutes: standard time minus UTC.
    """
    single = _single(panel, column)
    wet = with_leaf_wetness(complete_humidity(single), method)
    row = last_known_row(wet, 0)
    last_known = None if row is None else wet.hours[row]
    past = {
        key: _finished_only(pressure(model, wet, offset_minutes), last_known, offset_minutes)
        for key, model in MODELS.items()
    }
    fresh = last_known is not None and now_utc - last_known <= np.timedelta64(OLDEST_READING_HOURS, "h")
    ahead = ways_on(wet, 0, last_stamp(today, offset_minutes, 24)) if fresh else None
    ahead_panel = None if ahead is None else with_leaf_wetness(ahead.panel, method)
    now = {key: _today(model, past[key], ahead_panel, today, offset_minutes) for key, model in MODELS.items()}
    return View(panel.series[column], today, last_known, past, now)


def _single(panel: Panel, column: int) -> Panel:
    """One series of a panel, its columns kept as a second axis of one."""
    keep = slice(column, column + 1)
    return Panel(
        panel.hours,
        panel.series[keep],
        {name: array[:, keep] for name, array in panel.values.items()},
        {name: array[:, keep] for name, array in panel.flags.items()},
        {name: array[:, keep] for name, array in panel.origin.items()},
    )


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


def _today(model: DiseaseModel, past: Pressure, ahead: Panel | None, today: int, offset_minutes: int) -> Today:
    row = past.row(today)
    if row is not None and not np.isnan(past.passed[row, 0]):
        return _pick(past, row, finished=True)
    if ahead is not None:
        going_on = pressure(model, ahead, offset_minutes)
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
