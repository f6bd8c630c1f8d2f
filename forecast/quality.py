"""Checks of observed hours: what cannot be is flagged, never overwritten."""

from __future__ import annotations

import numpy as np

from forecast.errors import Notice
from forecast.panel import Bytes, Floats, Panel
from forecast.quantities import QUANTITIES, Flag, Quantity


def range_flags(quantity: Quantity, values: Floats) -> Bytes:
    """The range test: fail outside the vocabulary's bounds, suspect for a sensor's overshoot.

    Args:
        quantity: carries the bounds and their source.
        values: any shape, in the quantity's unit.

    Returns:
        QARTOD flags, same shape.
    """
    flags = np.full(np.shape(values), Flag.GOOD, np.uint8)
    if quantity.clip_to is not None:
        flags[values > quantity.clip_to] = Flag.SUSPECT
    flags[(values < quantity.least) | (values > quantity.most)] = Flag.FAIL
    flags[np.isnan(values)] = Flag.MISSING
    return flags


def check(panel: Panel) -> tuple[Panel, tuple[Notice, ...]]:
    """Flag every quantity of a panel; a failed value becomes unknown, an overshoot is taken at its limit.

    The raw value stays in the store; what is replaced here is only what the models see.
    """
    values, flags, notices = {}, {}, []
    for name, raw in panel.values.items():
        quantity = QUANTITIES[name]
        marks = range_flags(quantity, raw)
        most = quantity.most if quantity.clip_to is None else quantity.clip_to
        flags[name] = np.maximum(marks, np.where(panel.flags[name] == Flag.NOT_EVALUATED, 0, panel.flags[name]))
        values[name] = np.where(flags[name] >= Flag.FAIL, np.nan, np.minimum(raw, most))
        notices += _range_notices(panel, quantity, marks)
    return Panel(panel.hours, panel.series, values, flags, panel.origin), tuple(notices)


def _range_notices(panel: Panel, quantity: Quantity, marks: Bytes) -> list[Notice]:
    found = []
    for column, series in enumerate(panel.series):
        failed = np.flatnonzero((marks[:, column] == Flag.FAIL).reshape(len(panel.hours), -1).any(axis=1))
        if failed.size:
            worst = panel.values[quantity.name][failed[0], column]
            text = (
                f"{quantity.meaning}: {failed.size} h outside {quantity.least:g} to {quantity.most:g} "
                f"{quantity.unit} left out, the first {float(np.ravel(worst)[0]):g} at {panel.hours[failed[0]]}:00Z"
            )
            found.append(Notice(text, series, quantity.name))
    return found
