"""Hours at the turf to each model's answer, day by day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecast.daily import Days, reduce_days
from forecast.diseases.declare import DiseaseModel
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
        inputs: per input name, same shape.
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
        panel: holds every quantity the model reads.
        standard_offset_minutes: the site's standard time minus UTC.
    """
    tables = {
        daily.name: reduce_days(
            panel.hours,
            panel.values[daily.quantity],
            daily.reduction,
            standard_offset_minutes=standard_offset_minutes,
            day_end_hour=daily.day_end_hour,
            trailing_days=daily.trailing_days,
        )
        for daily in model.inputs
    }
    inputs = {name: table.values for name, table in tables.items()}
    result = model.evaluate(inputs)
    first = next(iter(tables.values()))
    hours_known = np.minimum.reduce([table.hours_known for table in tables.values()])
    return Pressure(
        model,
        first.days,
        result.answer,
        result.as_printed,
        result.outside,
        model.passed(result.answer, result.withheld),
        inputs,
        hours_known,
    )
