"""Readings that a person took out, with the reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from forecast.panel import Panel
from forecast.quality.verdict import Checked, Verdict
from forecast.quantities import Flag


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """Hours of one quantity at one station that a person does not want used.

    Attributes:
        series: name of the series.
        quantity: name of the quantity.
        first_hour: UTC stamp of the first hour.
        last_hour: UTC stamp of the last hour, included; None for all from the first on.
        reason: why, in the person's words.
    """

    series: str
    quantity: str
    first_hour: np.datetime64
    last_hour: np.datetime64 | None
    reason: str


def withdraw(panel: Panel, withdrawals: Sequence[Withdrawal]) -> Checked:
    """Take readings out of a panel: flagged as failed, unknown to what follows; the store keeps them.

    A withdrawal of a series or quantity that the panel lacks, or of hours without a reading, changes nothing and has no
    verdict.
    """
    values, flags = dict(panel.values), dict(panel.flags)
    verdicts = []
    for one in withdrawals:
        if one.series not in panel.series or one.quantity not in values:
            continue
        column = panel.series.index(one.series)
        hours = panel.hours >= one.first_hour
        if one.last_hour is not None:
            hours &= panel.hours <= one.last_hour
        known = ~np.isnan(values[one.quantity][:, column])
        rows = np.flatnonzero(hours & (known if known.ndim == 1 else known.any(axis=1)))
        if rows.size:
            readings = panel.values[one.quantity][rows, column].reshape(len(rows), -1)
            shown = readings[np.arange(len(rows)), (~np.isnan(readings)).argmax(axis=1)]
            verdicts.append(
                Verdict("withdrawn", one.series, one.quantity, Flag.FAIL, panel.hours[rows], shown, one.reason)
            )
            new_values, new_flags = values[one.quantity].copy(), flags[one.quantity].copy()
            new_flags[rows, column] = np.where(np.isnan(new_values[rows, column]), Flag.MISSING, Flag.FAIL)
            new_values[rows, column] = np.nan
            values[one.quantity], flags[one.quantity] = new_values, new_flags
    return Checked(Panel(panel.hours, panel.series, values, flags, panel.origin), tuple(verdicts))
