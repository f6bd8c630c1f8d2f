"""Where the bars of a day's hours stand: one bar an hour, as high as the share of the ways in which it is fit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from forecast.clock import day_words
from forecast.report.windows import DiseaseWindow, WindowDay

WIDE, TALL, TOP, BOTTOM = 360, 84, 8, 22
SLOT = WIDE / 24
FIT_SHARE = 0.8
CLOCKS = (0, 6, 12, 18)


@dataclass(frozen=True, slots=True)
class HourBar:
    """One hour: where its bar stands, and whether it belongs to a stretch; ``unknown`` has none."""

    x: float
    y: float
    width: float
    height: float
    in_stretch: bool
    unknown: bool


def level(share: float) -> float:
    """Height of a share, from the top."""
    return round(TOP + (1 - share) * (TALL - TOP - BOTTOM), 1)


def bars(one: DiseaseWindow, day: WindowDay) -> list[HourBar]:
    """The hours of a day that are known to be more than never fit, or not known."""
    found = []
    for hour in one.hours:
        if hour.start.date() != day.day or hour.fit_share == 0:
            continue
        stretch = any(each.start <= hour.start < each.end for each in day.stretches)
        share = 0.0 if hour.fit_share is None else hour.fit_share
        found.append(
            HourBar(
                round(SLOT * hour.start.hour + 1.5, 1),
                level(share),
                round(SLOT - 3, 1),
                round(level(0) - level(share), 1),
                stretch,
                hour.fit_share is None,
            )
        )
    return found


def clocks() -> Iterator[tuple[float, str]]:
    """Where clock times stand, and which."""
    for hour in CLOCKS:
        yield round(SLOT * hour, 1), f"{hour:02}:00"


def description(one: DiseaseWindow, day: WindowDay) -> str:
    """The picture in words, for those who do not see it."""
    spans = ", ".join(f"{each.start:%H:%M} to {each.end:%H:%M}" for each in day.stretches) or "none"
    return f"{one.name}, {day_words(day.day)}: share of the ways in which each hour is fit; stretches: {spans}"
