"""A picture of a station's season: temperature, humidity, humid hours, rain, and what checks marked."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.figure import Figure
from numpy.typing import NDArray

from forecast.daily import DAY_HOURS, day_numbers, reduce_days
from forecast.panel import Panel
from forecast.quantities import QUANTITIES, Flag, Origin, short_name
from forecast.units import MM_PER_IN, f_from_c

HUMID_PCT = 90.0  # the usual line for wet leaves told from humidity alone (Sentelhas et al. 2008)
NEAR_SATURATION_PCT = 95.0  # a sound sensor passes it in every wet month
# One hue from light to dark, told apart in grey and by the colour-blind: Crameri's oslo.
LIGHT, MIDDLE, DARK = "#97a9c9", "#4472b3", "#143555"
INK = "#333333"
TALL_IN, WIDE_IN, DPI = 11.0, 10.0, 110
CREDIT_LETTERS = 170


@dataclass(frozen=True, slots=True)
class Mark:
    """How one state of a day is drawn: by shape first, by shade second."""

    words: str
    shape: str
    shade: str


MARKS: Mapping[str, Mark] = {
    "missing": Mark("2 h or more unknown", "|", "#777777"),
    "filled": Mark("a short hole closed", ".", LIGHT),
    "suspect": Mark("suspect, kept", "o", MIDDLE),
    "fail": Mark("failed, left out", "x", DARK),
}


def season_picture(
    panel: Panel,
    title: str,
    credit: str,
    *,
    us: bool,
    standard_offset_minutes: int,
    kind: Literal["png", "svg"] = "png",
) -> bytes:
    """The picture of a panel's first series, over all its hours.

    Args:
        panel: checked hours with short holes closed.
        title: above the picture.
        credit: below it, whose data these are.
        us: degrees Fahrenheit and inches.
        standard_offset_minutes: standard time minus UTC; days are days of standard time.
        kind: form of the file.
    """
    figure = Figure(figsize=(WIDE_IN, TALL_IN), layout="constrained")
    axes = figure.subplots(5, 1, sharex=True, height_ratios=(3, 3, 2, 2, 1.8))
    figure.suptitle(title, x=0.01, ha="left", fontsize=13, color=INK)
    _temperature(axes[0], panel, standard_offset_minutes, us=us)
    _humidity(axes[1], panel, standard_offset_minutes)
    _humid_hours(axes[2], panel, standard_offset_minutes)
    _rain(axes[3], panel, standard_offset_minutes, us=us)
    _marks(axes[4], panel, standard_offset_minutes)
    for one in axes:
        one.spines[["top", "right"]].set_visible(False)
        one.tick_params(colors=INK, labelsize=9)
        one.set_xlim(panel.hours[0], panel.hours[-1])
    locator = AutoDateLocator()  # type: ignore[no-untyped-call]
    axes[-1].xaxis.set_major_locator(locator)
    axes[-1].xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
    figure.supxlabel(textwrap.fill(credit, CREDIT_LETTERS), x=0.01, ha="left", fontsize=7, color=INK)
    target = io.BytesIO()
    figure.savefig(target, format=kind, dpi=DPI, metadata={"Date": None} if kind == "svg" else None)
    return target.getvalue()


def _daily(panel: Panel, name: str, reduction: str, offset: int) -> tuple[NDArray[np.datetime64], NDArray[np.float64]]:
    values = panel.values.get(name, np.full((len(panel.hours), 1), np.nan))
    table = reduce_days(panel.hours, values[:, :1], reduction, standard_offset_minutes=offset, day_end_hour=DAY_HOURS)
    return table.days.astype("datetime64[D]"), table.values[:, 0]


def _name(axes: Axes, text: str) -> None:
    axes.set_title(text, loc="left", fontsize=10, color=INK)


def _temperature(axes: Axes, panel: Panel, offset: int, *, us: bool) -> None:
    days, low = _daily(panel, "air_temperature_c", "min", offset)
    _, high = _daily(panel, "air_temperature_c", "max", offset)
    if us:
        low, high = 32 + 1.8 * low, 32 + 1.8 * high
    axes.fill_between(days, low, high, color=LIGHT, linewidth=0)
    axes.plot(days, low, color=DARK, linewidth=1)
    base = f_from_c(15.5) if us else 15.5
    axes.axhline(base, color=INK, linewidth=0.6, linestyle=":")
    unit = "°F" if us else "°C"
    _name(axes, f"Air temperature, lowest to highest of the day, {unit} (dotted: a night of {base:.0f} {unit})")


def _humidity(axes: Axes, panel: Panel, offset: int) -> None:
    days, low = _daily(panel, "relative_humidity_pct", "min", offset)
    _, high = _daily(panel, "relative_humidity_pct", "max", offset)
    axes.fill_between(days, low, high, color=LIGHT, linewidth=0)
    axes.plot(days, high, color=DARK, linewidth=1)
    axes.axhline(NEAR_SATURATION_PCT, color=INK, linewidth=0.6, linestyle=":")
    axes.set_ylim(0, 105)
    _name(axes, f"Relative humidity, lowest to highest of the day, % (dotted: {NEAR_SATURATION_PCT:.0f} %)")


def _humid_hours(axes: Axes, panel: Panel, offset: int) -> None:
    values = panel.values.get("relative_humidity_pct", np.full((len(panel.hours), 1), np.nan))[:, :1]
    humid = np.where(np.isnan(values), np.nan, (values >= HUMID_PCT).astype(float))
    table = reduce_days(panel.hours, humid, "mean", standard_offset_minutes=offset, day_end_hour=DAY_HOURS)
    axes.bar(table.days.astype("datetime64[D]"), DAY_HOURS * table.values[:, 0], width=1.0, color=MIDDLE)
    axes.set_ylim(0, 24)
    axes.set_yticks([0, 6, 12, 18, 24])
    _name(axes, f"Hours a day with humidity of {HUMID_PCT:.0f} % or more")


def _rain(axes: Axes, panel: Panel, offset: int, *, us: bool) -> None:
    days, mean = _daily(panel, "rain_mm", "mean", offset)
    total = DAY_HOURS * mean / (MM_PER_IN if us else 1.0)
    axes.bar(days, total, width=1.0, color=MIDDLE)
    _name(axes, f"Rain a day, {'in' if us else 'mm'}")


def _marks(axes: Axes, panel: Panel, offset: int) -> None:
    names = [name for name in QUANTITIES if name in panel.values]
    numbers = day_numbers(panel.hours, offset, DAY_HOURS)
    days = np.arange(numbers[0], numbers[-1] + 1)
    for row, name in enumerate(names):
        flags, origin = panel.flags[name][:, 0], panel.origin[name][:, 0]
        unknown = np.isnan(panel.values[name][:, 0])
        states = {
            "missing": (unknown & (flags != Flag.FAIL), 2),
            "filled": (origin == Origin.FILLED, 1),
            "suspect": (flags == Flag.SUSPECT, 1),
            "fail": (flags == Flag.FAIL, 1),
        }
        for key, (found, least) in states.items():
            counts = np.bincount(numbers[found] - days[0], minlength=len(days))
            here = days[counts >= least].astype("datetime64[D]")
            mark = MARKS[key]
            axes.plot(
                here,
                np.full(len(here), row),
                mark.shape,
                color=mark.shade,
                markersize=5,
                markerfacecolor="none" if mark.shape == "o" else mark.shade,
                label=mark.words if row == 0 else None,
            )
    axes.set_yticks(range(len(names)), [short_name(name) for name in names])
    axes.set_ylim(len(names) - 0.5, -0.5)
    _name(axes, "Days with marks")
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.25), ncols=4, fontsize=8, frameon=False)
