"""What a label on file says beside rates, in sentences: house rules, licences, distances, watering in."""

from __future__ import annotations

from forecast.report.words import NBSP, capital
from forecast.schedule.cover import Option
from forecast.units import MM_PER_IN


def label_sentences(option: Option, *, us: bool) -> tuple[str, ...]:
    """What has to be minded with an option, beside its rate, gear and keep-off."""
    label = option.label
    told = [f"{capital(caution)}." for caution in option.cautions]
    if label.restricted:
        told.append(f"Only a licensed applicator may use {label.name}.")
    if label.buffer:
        told.append(f"Distances by the label on file: {label.buffer.rstrip('.')}.")
    water = label.water_in
    if water is not None:
        least, most, unit = water.least_mm, water.most_mm, "mm"
        if us:
            least, most, unit = least / MM_PER_IN, most / MM_PER_IN, "in"
        told.append(
            f"The label wants it watered in: {least:.2g} to {most:.2g}{NBSP}{unit} within {water.within_h:g}{NBSP}h."
        )
    return tuple(told)
