"""Hours at the turf to each model's answer, day by day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.daily import Days, DayTable, reduce_days
from forecast.diseases.declare import Daily, DiseaseModel, Hourly
from forecast.panel import Floats, Panel


@dataclass(frozen=True, eq=False)
class Pressure:
    """One model's answers over a run of days.

    Attributes:
        model: which.
        days: unbroken day numbers since 1970-01-01, shape (days,).
        answer: with the model's validity applied, shape (days, series[, members]).
        as_printed: the published formula without any rule of ours, same shape.
        outside: True where an input lay outside its range, same shape.
        passed: 1 where the threshold is reached, 0 where not, NaN where that is unknown, same shape.
        inputs: per input name, same shape; of an hourly model the day's input as a page shows it.
        hours_known: fewest known hours over the inputs, of 24, same shape.
    """

    model: DiseaseModel
    days: Days
    answer: Floats
    as_printed: Floats
    outside: NDArray[np.bool_]
    passed: Floats
    inputs: Mapping[str, Floats]
    hours_known: NDArray[np.int64]

    def row(self, day: int) -> int | None:
        """Row of a day number; None where the run does not reach."""
        row = day - int(self.days[0])
        return row if 0 <= row < len(self.days) else None


def pressure(model: DiseaseModel, panel: Panel, standard_offset_minutes: int) -> Pressure:
    """A model's answer for every day of a panel.

    Args:
        model: one of the catalogue.
        panel: holds every quantity the model reads; one that it lacks is unknown.
        standard_offset_minutes: the site's standard time minus UTC.
    """
    tables = {one.name: _reduced(one, panel, standard_offset_minutes) for one in model.inputs}
    inputs = {name: table.values for name, table in tables.items()}
    first = next(iter(tables.values()))
    hours_known = np.minimum.reduce([table.hours_known for table in tables.values()])
    if model.is_hourly:
        answer, as_printed, outside, withheld = _highest_of_hours(model, panel, standard_offset_minutes)
    else:
        found = model.evaluate(inputs)
        answer, as_printed, outside, withheld = found.answer, found.as_printed, found.outside, found.withheld
    passed = model.passed(answer, withheld)
    return Pressure(model, first.days, answer, as_printed, outside, passed, inputs, hours_known)


def _reduced(one: Daily | Hourly, panel: Panel, standard_offset_minutes: int) -> DayTable:
    values = _hours_of(one.quantity, panel)
    if isinstance(one, Hourly):
        return reduce_days(
            panel.hours,
            values,
            one.shown,
            standard_offset_minutes=standard_offset_minutes,
            day_end_hour=one.day_end_hour,
        )
    return reduce_days(
        panel.hours,
        values,
        one.reduction,
        standard_offset_minutes=standard_offset_minutes,
        day_end_hour=one.day_end_hour,
        at=one.at,
        trailing_days=one.trailing_days,
        trailing=one.trailing,
    )


def _hours_of(quantity: str, panel: Panel) -> Floats:
    if quantity in panel.values:
        return panel.values[quantity]
    return np.full(panel.values["air_temperature_c"].shape, np.nan)


def _highest_of_hours(
    model: DiseaseModel, panel: Panel, standard_offset_minutes: int
) -> tuple[Floats, Floats, NDArray[np.bool_], NDArray[np.bool_]]:
    """The highest hourly answer of each day; unknown where an unknown hour could have passed.

    A day is withheld where the model speaks of none of its hours, and outside where a range of ours changed the answer
    of any: air that is too warm for the formula at noon, over dry leaves, marks no day.
    """
    found = model.evaluate({one.name: _hours_of(one.quantity, panel) for one in model.inputs})

    def by_day(values: Floats, reduction: str) -> Floats:
        table = reduce_days(
            panel.hours,
            values,
            reduction,
            standard_offset_minutes=standard_offset_minutes,
            day_end_hour=model.day_end_hour,
        )
        return table.values

    def any_of_day(hours: NDArray[np.bool_]) -> NDArray[np.bool_]:
        some: NDArray[np.bool_] = by_day(hours.astype(np.float64), "max") == 1
        return some

    def highest(values: Floats) -> Floats:
        least = by_day(values, "max")  # of the hours that are known
        return np.where(least >= model.threshold, least, by_day(values, "peak"))

    withheld = by_day(found.withheld.astype(np.float64), "min") == 1
    answer = highest(np.where(found.withheld, -np.inf, found.answer))
    changed = found.withheld | (found.answer < found.as_printed) | (found.answer > found.as_printed)
    return np.where(np.isneginf(answer), np.nan, answer), highest(found.as_printed), any_of_day(changed), withheld
