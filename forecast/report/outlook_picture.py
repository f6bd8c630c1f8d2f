"""Where bars, ticks and words of the outlook's picture stand: plain figures for the page's own drawing.

A bar a day. What the weather forecast or the last readings tell is filled; what is only usual for the date is an empty,
dashed outline, so that it is told apart without colour and cannot be taken for a forecast. A line across each bar is
the usual chance, a thin upright line the 90 % interval.
"""

from __future__ import annotations

from dataclasses import dataclass

from forecast.report.outlook import OutlookDay, OutlookDisease
from forecast.report.words import percent

WIDE, TALL = 400.0, 180.0  # of the drawing, in its own units
LEFT, TOP, BOTTOM = 34.0, 12.0, 40.0  # room for the scale, above, and for dates
GAP_SHARE = 0.22  # of a day's width
LINES = (0.0, 0.33, 0.66, 1.0)  # where likelihood words change, and the ends


@dataclass(frozen=True, slots=True)
class Bar:
    """One day's bar.

    Attributes:
        x, y, width, height: of the bar.
        filled: False for what is only usual for the date.
        by_forecast: True where the weather forecast tells it.
        usual_y: height of the usual chance's line.
        low_y, high_y: ends of the interval.
        middle_x: of the bar.
        value: the chance in words, above the bar.
        weekday, date: below the bar.
    """

    x: float
    y: float
    width: float
    height: float
    filled: bool
    by_forecast: bool
    usual_y: float
    low_y: float
    high_y: float
    middle_x: float
    value: str
    weekday: str
    date: str


def bars(disease: OutlookDisease) -> list[Bar]:
    """The bars of one disease; a day without a chance has none."""
    step = (WIDE - LEFT) / max(len(disease.days), 1)
    return [bar for number, day in enumerate(disease.days) if (bar := _bar(day, LEFT + number * step, step))]


def level(share: float) -> float:
    """Height of a chance in the drawing."""
    return round(TOP + (1 - share) * (TALL - TOP - BOTTOM), 1)


def description(disease: OutlookDisease) -> str:
    """The picture in words, for who does not see it."""
    told = [
        f"{day.day:%a} {day.day.day} {percent(day.chance.value)}{'' if day.chance.made != 'past_years' else ' (usual)'}"
        for day in disease.days
        if day.chance is not None
    ]
    return f"Chance of disease weather a day, {disease.name}: {', '.join(told)}."


def _bar(day: OutlookDay, x: float, step: float) -> Bar | None:
    chance = day.chance
    if chance is None:
        return None
    width = step * (1 - GAP_SHARE)
    top = level(chance.value)
    return Bar(
        round(x, 1),
        top,
        round(width, 1),
        round(level(0.0) - top, 1),
        chance.made != "past_years",
        chance.made == "forecast",
        level(chance.usual),
        level(chance.low),
        level(chance.high),
        round(x + width / 2, 1),
        f"{round(100 * chance.value)}",
        f"{day.day:%a}"[:2],
        f"{day.day.day}",
    )
