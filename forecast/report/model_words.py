"""What a model reads, in words."""

from __future__ import annotations

from forecast.diseases.declare import Daily, Hourly
from forecast.quantities import QUANTITIES

_REDUCTION_WORDS = {
    "mean": "mean {}",
    "min": "lowest {}",
    "max": "highest {}",
    "peak": "highest {}",
    "sum": "{}",
    "wet_hours": "wet hours",
    "longest_wet_run": "longest wet spell",
    "hours_above": "hours with {} above {}",
    "hours_from": "hours with {} of {} or more",
    "longest_run_above": "longest spell of {} above {}",
}
_HOURS = ("wet_hours", "longest_wet_run", "hours_above", "hours_from", "longest_run_above")


def input_words(one: Daily | Hourly) -> str:
    """A model's input in words, without its figure."""
    quantity = QUANTITIES[one.quantity]
    meaning = quantity.meaning.split(" near")[0]
    if isinstance(one, Hourly):
        return _REDUCTION_WORDS[one.shown].format(meaning)
    level = "" if one.at is None else f"{one.at:g}\u00a0{quantity.unit}"
    words = _REDUCTION_WORDS[one.reduction].format(meaning, level)
    if one.trailing_days == 1:
        return words
    if one.trailing == "lowest":
        return f"{words}, the lowest of {one.trailing_days} days"
    if one.reduction in (*_HOURS, "sum"):  # a mean of daily counts or sums, never their total
        return f"{words} a day, mean of {one.trailing_days} days"
    return f"{words} over {one.trailing_days} days"


def input_unit(one: Daily | Hourly) -> str:
    """The unit of a model's input as a page shows it."""
    reduction = one.shown if isinstance(one, Hourly) else one.reduction
    return "h" if reduction in _HOURS else QUANTITIES[one.quantity].unit
