"""Wet hours at one area by every method, and how each agrees with a leaf wetness sensor: plain values, and text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from forecast.clock import day_words
from forecast.report.lines import wrapped
from forecast.report.sentences import INVENTED
from forecast.report.wetness_sensor import SensorReport, method_words, sensor_answer, sensor_lines
from forecast.report.words import NBSP, clock

WETNESS_SCHEMA: Literal[1] = 1
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_NAME_LETTERS, _MONTH_LETTERS, _ALL_LETTERS = 20, 5, 6

NO_SENSOR = (
    "No station here holds a sensor's leaf_wet_fraction for these nights, so nothing says which method is right on "
    "this turf. To set your own sensor beside them, bring its export in: 'forecast weather map EXPORT.csv --out "
    "sensor.toml' proposes how to read it, and 'forecast weather load EXPORT.csv --station STATION --map sensor.toml' "
    "loads it. Then run this again."
)


@dataclass(frozen=True, slots=True)
class MethodMonths:
    """Wet hours by one method.

    Attributes:
        method: its key.
        name: in words.
        source: where its rule comes from.
        goes_by: whether pages go by it.
        known_share: share of the hours that any method tells, that this one tells.
        wet_h_day: twelve means from January on, over the nights that all methods with figures know; None for a month
            without one, and for every month where the method tells too few hours to be shown.
        mean_wet_h_day: over all of these nights.
    """

    method: str
    name: str
    source: str
    goes_by: bool
    known_share: float
    wet_h_day: tuple[float | None, ...]
    mean_wet_h_day: float | None


@dataclass(frozen=True, slots=True)
class WetnessView:
    """Wet hours of one area, from noon to noon.

    Attributes:
        schema: of this form.
        area_id, area_name, property_name, grass, setting: whose turf, and how it is reckoned.
        first_night, last_night: the first and the last night with figures, each named by the date of its morning; None
            where no whole night is known.
        methods: every method, in the catalogue's order.
        nights: twelve counts of the nights behind each month's figures, from January on.
        spread_h_day: by month, the highest method less the lowest; None for a month without figures.
        sensor: the sensor and how methods agree with it; None where there is none.
        credits: whose weather it is.
    """

    schema: Literal[1]
    version: str
    grounds: str
    invented: bool
    units: Literal["us", "si"]
    as_of: datetime
    area_id: str
    area_name: str
    property_name: str
    grass: str
    setting: tuple[str, ...]
    first_night: date | None
    last_night: date | None
    methods: tuple[MethodMonths, ...]
    nights: tuple[int, ...]
    spread_h_day: tuple[float | None, ...]
    sensor: SensorReport | None
    credits: tuple[str, ...]

    @property
    def shown(self) -> tuple[MethodMonths, ...]:
        """The methods with figures."""
        return tuple(one for one in self.methods if one.mean_wet_h_day is not None)

    @property
    def goes_by(self) -> MethodMonths:
        """The method that pages go by."""
        return next(one for one in self.methods if one.goes_by)


def wetness_text(view: WetnessView) -> str:
    """The view for a terminal: the answer first, then the figures, then what they mean and whose they are."""
    return "\n".join(_lines(view)) + "\n"


def _lines(view: WetnessView) -> Iterator[str]:
    if view.sensor is not None:
        yield from wrapped(sensor_answer(view.sensor, view.goes_by.method))
        yield ""
    yield from wrapped(_wet_answer(view))
    yield ""
    yield from wrapped(
        f"{view.area_name}, {view.property_name} · {view.grass} · told at {clock(view.as_of)} on "
        f"{day_words(view.as_of)}{NBSP}{view.as_of.year} from what was known then"
    )
    if view.invented:
        yield from wrapped(INVENTED)
    for words in view.setting:
        yield from wrapped(words, 2, 2)
    yield ""
    yield from _months(view)
    yield ""
    if view.sensor is None:
        yield "YOUR OWN SENSOR"
        yield from wrapped(NO_SENSOR, 2)
    else:
        yield from sensor_lines(view.sensor, view.goes_by.method, us=view.units == "us")
    yield ""
    yield "THE METHODS"
    for one in view.methods:
        yield from wrapped(f"{one.method}: {one.name}. Source: {one.source}.", 2, 2)
    for credit in view.credits:
        yield from wrapped(f"Weather: {credit}.", 0, 2)


def _wet_answer(view: WetnessView) -> str:
    own, shown = view.goes_by, view.shown
    if not shown:
        return f"No night's wet hours on {view.area_name} are known by any method."
    means = {one.method: one.mean_wet_h_day or 0.0 for one in shown}
    low, high = min(means.values()), max(means.values())
    nights = f"{sum(view.nights):,} nights that {'all of them know' if len(means) > 1 else 'it knows'}"
    over = f"{nights}, {view.first_night} to {view.last_night}"
    spread = f"the {len(means)} methods lie between {low:.1f} and {high:.1f}{NBSP}h" if len(means) > 1 else ""
    if own.method not in means:
        among = spread or f"the {method_words(next(iter(means)))} says {low:.1f}{NBSP}h"
        return (
            f"Of wet hours a day on {view.area_name}, {among} ({over}). The method that pages go by, the "
            f"{method_words(own.method)}, tells only {int(100 * own.known_share)}{NBSP}% of the hours; others stand in "
            "for it there."
        )
    told = f"Leaves on {view.area_name} were wet {means[own.method]:.1f}{NBSP}h a day by the {method_words(own.method)}"
    return f"{told}, which pages go by{f'; {spread}' if spread else ''} ({over})."


def _months(view: WetnessView) -> Iterator[str]:
    yield "WET HOURS A DAY, from noon to noon (* pages go by this one)"
    yield "  " + " " * _NAME_LETTERS + "".join(f"{name:>{_MONTH_LETTERS}}" for name in (*MONTHS,)) + f"{'all':>6}"
    for one in view.shown:
        star = "* " if one.goes_by else "  "
        yield _row(star + method_words(one.method), [_figure(each) for each in (*one.wet_h_day, one.mean_wet_h_day)])
    means = [one.mean_wet_h_day for one in view.shown if one.mean_wet_h_day is not None]
    overall = max(means) - min(means) if means else None
    yield _row("  highest less lowest", [_figure(each) for each in (*view.spread_h_day, overall)])
    yield _row("  nights", [str(count) if count else "-" for count in (*view.nights, sum(view.nights))])
    missing = [one for one in view.methods if one.mean_wet_h_day is None]
    if missing and view.shown:
        told = ", ".join(f"{method_words(one.method)} ({int(100 * one.known_share)}{NBSP}%)" for one in missing)
        yield from wrapped(f"Left out, since they tell too few of the hours that others tell: {told}.", 2, 2)


def _row(name: str, cells: list[str]) -> str:
    *months, total = cells
    line = f"{name:<{_NAME_LETTERS + 2}}" + "".join(f"{cell:>{_MONTH_LETTERS}}" for cell in months)
    return f"{line}{total:>{_ALL_LETTERS}}"


def _figure(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}"
