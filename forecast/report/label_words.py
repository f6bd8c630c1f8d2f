"""What a label on file says beside rates, in sentences: house rules, licences, distances, watering in."""

from __future__ import annotations

from forecast.report.words import NBSP, capital, quantity_words, speed_words
from forecast.schedule.cover import Option
from forecast.schedule.spray_hours import SprayLimits, limits_of
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
    said = limit_words(limits_of(label), us=us, of_label_only=True)
    if said:
        told.append(f"Weather by its label: {'; '.join(said)}.")
    return tuple(told)


def limit_words(limits: SprayLimits, *, us: bool, of_label_only: bool = False) -> list[str]:
    """What hours of spraying are held to, each with whose limit it is; or those of the label alone."""
    least, most = (speed_words(speed, us=us) for speed in (limits.wind_least_m_s, limits.wind_most_m_s))
    wind = (
        f"wind from {least} to {most}"
        if "wind_least_m_s" in limits.of_label or not of_label_only
        else f"wind up to {most}"
    )
    told = [
        ("wind_most_m_s", f"{wind} at 2 m" if not of_label_only else wind),
        ("air_most_c", f"no hotter than {quantity_words(limits.air_most_c, '°C', us=us)}"),
        ("rain_free_h", f"{limits.rain_free_h:g}{NBSP}h without rain or watering after it"),
    ]
    if limits.air_least_c is not None:
        told.append(("air_least_c", f"no colder than {quantity_words(limits.air_least_c, '°C', us=us)}"))
    if limits.dry_leaves:
        told.append(("dry_leaves", "dry leaves"))
    if limits.heat_ahead_c is not None:
        heat = quantity_words(limits.heat_ahead_c, "°C", us=us)
        told.append(("heat_ahead_c", f"no {heat} expected within {limits.heat_ahead_days} days"))
    of_label = (*limits.of_label, "dry_leaves")
    if of_label_only:
        return [
            words
            for name, words in told
            if name in of_label and not (name == "rain_free_h" and limits.rain_free_h == 0)
        ]
    return [f"{words} ({'its label' if name in of_label else 'house limit'})" for name, words in told]
