"""Whether a column's figures can be in the unit that it is said to be in."""

from __future__ import annotations

import numpy as np

from forecast.errors import Fault
from forecast.ingest.logger.mapping import Column
from forecast.ingest.logger.wet_columns import WETNESS
from forecast.panel import Floats
from forecast.quantities import QUANTITIES

SHARE_OUTSIDE_MEANS_UNIT = 0.05  # house choice: more than this outside the bounds and the unit is wrong
ENOUGH_TO_DOUBT = 24  # house choice: a day of hours that all lie within 0 to 1 speaks of another unit


def unit_fault(name: str, column: Column, values: Floats, as_given: Floats, line: int) -> list[Fault]:
    """What speaks against a column's unit; nothing where it may be right.

    Args:
        name: the quantity.
        column: how it is said to stand in the file.
        values: its figures in the house's unit, NaN for no reading; shape (records,).
        as_given: the same as the file gives them.
        line: that of the header, for the complaint.
    """
    known = ~np.isnan(values)
    quantity = QUANTITIES[name]
    outside = known & ((values < quantity.least) | (values > quantity.most))
    text = ""
    if np.count_nonzero(outside) > SHARE_OUTSIDE_MEANS_UNIT * np.count_nonzero(known):
        bounds = f"{quantity.least:g} to {quantity.most:g}{'' if quantity.unit == '1' else f' {quantity.unit}'}"
        text = f"{outside.sum()} of {known.sum()} values lie outside {bounds}: is the unit right?"
        figures = np.unique(as_given[outside])
        if figures.size == 1:
            text += f" All of them are {figures[0]:g}; if that stands for missing, list it in the mapping under missing"
    elif _is_a_share_for_pct(name, column, values, as_given):
        text = "no value is above 1: this looks like a fraction, not per cent: is the unit right?"
    return [Fault(text, line, column.column)] if text else []


def minutes_faults(column: Column, minutes: Floats, step_minutes: int, line: int) -> list[Fault]:
    """What speaks against minutes wet in records of so many minutes; the arguments are those of :func:`unit_fault`."""
    found = unit_fault(WETNESS, column, minutes / step_minutes, minutes, line)
    if found:
        return [Fault(f"{found[0].text} A record has {step_minutes} min", line, column.column)]
    if step_minutes > 1 and _looks_like_a_share(minutes):
        text = f"no value is above 1: this looks like a fraction, not minutes of {step_minutes}: is the unit right?"
        return [Fault(text, line, column.column)]
    return []


def _is_a_share_for_pct(name: str, column: Column, values: Floats, as_given: Floats) -> bool:
    known = values[~np.isnan(values)]
    if name == "relative_humidity_pct":  # no air at hand is so dry for a day
        return bool(known.size >= ENOUGH_TO_DOUBT and known.max() <= 1.0)
    return name == WETNESS and column.unit == "%" and _looks_like_a_share(as_given)


def _looks_like_a_share(figures: Floats) -> bool:
    """Whether many figures, and some above 0, are never above 1; dry leaves alone say nothing."""
    known = figures[~np.isnan(figures)]
    return bool(known.size >= ENOUGH_TO_DOUBT and 0 < known.max() <= 1)
