"""A picture of a station's season: temperature, humidity, humid hours, rain, and what checks marked."""

from __future__ import annotations

import io
import textwrap
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.figure import Figure
from numpy.typing import NDArray

from forecast.air import complete_humidity
from forecast.clock import local
from forecast.daily import DAY_HOURS, HOURS_NEEDED, Days, day_numbers, reduce_days
from forecast.diseases.warm_wet_night import WARM_WET_NIGHT
from forecast.panel import Floats, Panel
from forecast.quantities import QUANTITIES, Flag, Origin, short_name
from forecast.units import MM_PER_IN, f_from_c

HUMID_PCT = 90.0  # the usual line for wet leaves told from humidity alone (Sentelhas et al. 2008)
WARM_NIGHT_C = WARM_WET_NIGHT.coefficients["can_start_above_c"].value
NEAR_SATURATION_PCT = 95.0  # a sound sensor passes it in every wet month
# One hue from light to dark, told apart in grey and by the colour-blind: Crameri's oslo.
LIGHT, MIDDLE, DARK = "#97a9c9", "#4472b3", "#143555"
INK = "#333333"
TALL_IN, WIDE_IN, DPI = 11.0, 10.0, 110
TITLE_LETTERS, CREDIT_LETTERS = 90, 170


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
    name: str,
    credit: str,
    *,
    us: bool,
    zone: ZoneInfo,
    standard_offset_minutes: int,
    kind: Literal["png", "svg"] = "png",
) -> bytes:
    """The picture of a panel's first series, over all its hours.

    Args:
        panel: checked hours with short holes closed.
        name: of the station.
        credit: whose data these are, below the picture.
        us: degrees Fahrenheit and inches.
        zone: of the site, for the dates above the picture.
        standard_offset_minutes: standard time minus UTC; days are days of standard time.
        kind: form of the file.
    """
    figure = season_figure(panel, name, credit, us=us, zone=zone, standard_offset_minutes=standard_offset_minutes)
    target = io.BytesIO()
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing")  # a name in letters the font lacks shows boxes
        figure.savefig(target, format=kind, dpi=DPI, metadata={"Date": None} if kind == "svg" else None)
    return target.getvalue()


def season_figure(
    panel: Panel, name: str, credit: str, *, us: bool, zone: ZoneInfo, standard_offset_minutes: int
) -> Figure:
    """The picture before it is written to a file; the arguments are those of :func:`season_picture`."""
    numbers = day_numbers(panel.hours, standard_offset_minutes, DAY_HOURS)
    season = _Season(panel, _with_humidity(panel), standard_offset_minutes, numbers)
    hour = np.timedelta64(1, "h")  # a stamp names the end of its hour, the date is that of its beginning
    first, last = (local(stamp - hour, zone).date() for stamp in panel.hours[[0, -1]])
    figure = Figure(figsize=(WIDE_IN, TALL_IN), layout="constrained")
    axes = figure.subplots(5, 1, sharex=True, height_ratios=(3, 3, 2, 2, 1.8))
    title = textwrap.fill(f"{name}, {first} to {last}", TITLE_LETTERS)
    figure.suptitle(title, x=0.01, ha="left", fontsize=13, color=INK, parse_math=False)
    _temperature(axes[0], season, us=us)
    _humidity(axes[1], season)
    _humid_hours(axes[2], season)
    _rain(axes[3], season, us=us)
    _marks(axes[4], season)
    for one in axes:
        one.spines[["top", "right"]].set_visible(False)
        one.tick_params(colors=INK, labelsize=9)
        one.set_xlim(season.edges[0], season.edges[-1])
    locator = AutoDateLocator()  # type: ignore[no-untyped-call]
    axes[-1].xaxis.set_major_locator(locator)
    axes[-1].xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
    below = textwrap.fill(credit, CREDIT_LETTERS)
    figure.supxlabel(below, x=0.01, ha="left", fontsize=7, color=INK, parse_math=False)
    return figure


@dataclass(frozen=True, eq=False)
class _Season:
    """What every part of the picture is drawn from.

    Attributes:
        panel: as it was measured.
        humid: the same with humidity told from the dew point where only that is known.
        offset: standard time minus UTC, minutes.
        numbers: the day of each hour.
    """

    panel: Panel
    humid: Panel
    offset: int
    numbers: Days

    @property
    def edges(self) -> NDArray[np.datetime64]:
        """The midnights from before the first day to after the last."""
        return np.arange(np.datetime64(int(self.numbers[0]), "D"), np.datetime64(int(self.numbers[-1]) + 2, "D"))

    @property
    def noons(self) -> NDArray[np.datetime64]:
        """The middle of each day."""
        return self.edges[:-1] + np.timedelta64(DAY_HOURS // 2, "h")

    def daily(self, hourly: Floats, reduction: str) -> Floats:
        """One value a day, NaN where more than two hours are unknown; ``sum`` is that of the known hours alone."""
        table = reduce_days(
            self.panel.hours,
            hourly,
            "mean" if reduction == "sum" else reduction,
            standard_offset_minutes=self.offset,
            day_end_hour=DAY_HOURS,
        )
        days: Floats = table.values[:, 0] * (table.hours_known[:, 0] if reduction == "sum" else 1)
        return days


def _with_humidity(panel: Panel) -> Panel:
    return complete_humidity(panel) if {"air_temperature_c", "dew_point_c"} <= panel.values.keys() else panel


def _name(axes: Axes, text: str) -> None:
    axes.set_title(text, loc="left", fontsize=10, color=INK)


def _hourly(axes: Axes, season: _Season, panel: Panel, quantity: str) -> Floats | None:
    """A quantity's hours; None where no day of it is known, which the picture then says."""
    hourly = panel.values[quantity][:, :1] if quantity in panel.values else None
    if hourly is None:
        _empty(axes, "not measured")
    elif np.isnan(season.daily(hourly, "mean")).all():
        _empty(axes, f"no day with {HOURS_NEEDED} h known")
        return None
    return hourly


def _empty(axes: Axes, words: str) -> None:
    """Words in place of a picture: an empty frame with figures beside it would read as nought."""
    axes.text(0.5, 0.5, words, transform=axes.transAxes, ha="center", va="center", color=INK)
    axes.set_yticks([])


def _bars(axes: Axes, season: _Season, top: Floats, bottom: Floats | None = None) -> None:
    """A bar for each known day from midnight to midnight, from nought or from the bottom given."""
    base = 0.0 if bottom is None else np.where(np.isnan(bottom), np.nanmin(bottom), bottom)
    axes.stairs(top, season.edges, baseline=base, fill=True, color=MIDDLE if bottom is None else LIGHT)


def _temperature(axes: Axes, season: _Season, *, us: bool) -> None:
    unit, base = ("°F", f"{f_from_c(WARM_NIGHT_C):.0f}") if us else ("°C", f"{WARM_NIGHT_C:g}")
    _name(axes, f"Air temperature, lowest to highest of the day, {unit} (dotted: a night of {base} {unit})")
    hourly = _hourly(axes, season, season.panel, "air_temperature_c")
    if hourly is None:
        return
    if us:
        hourly = 32 + 1.8 * hourly
    low = season.daily(hourly, "min")
    axes.use_sticky_edges = False
    _bars(axes, season, season.daily(hourly, "max"), low)
    axes.stairs(low, season.edges, baseline=None, color=DARK)
    axes.axhline(f_from_c(WARM_NIGHT_C) if us else WARM_NIGHT_C, color=INK, linewidth=0.6, linestyle=":")


def _humidity(axes: Axes, season: _Season) -> None:
    _name(axes, f"Relative humidity, lowest to highest of the day, % (dotted: {NEAR_SATURATION_PCT:.0f} %)")
    hourly = _hourly(axes, season, season.humid, "relative_humidity_pct")
    if hourly is None:
        return
    high = season.daily(hourly, "max")
    axes.set_ylim(0, 105)
    _bars(axes, season, high, season.daily(hourly, "min"))
    axes.stairs(high, season.edges, baseline=None, color=DARK)
    axes.axhline(NEAR_SATURATION_PCT, color=INK, linewidth=0.6, linestyle=":")


def _humid_hours(axes: Axes, season: _Season) -> None:
    _name(axes, f"Hours a day with humidity of {HUMID_PCT:.0f} % or more")
    hourly = _hourly(axes, season, season.humid, "relative_humidity_pct")
    if hourly is None:
        return
    axes.set_ylim(0, 24)
    axes.set_yticks([0, 6, 12, 18, 24])
    _bars(axes, season, season.daily(np.where(np.isnan(hourly), np.nan, hourly >= HUMID_PCT), "sum"))


def _rain(axes: Axes, season: _Season, *, us: bool) -> None:
    _name(axes, f"Rain a day, {'in' if us else 'mm'}, of the hours known (a day with more than 2 h unknown is blank)")
    hourly = _hourly(axes, season, season.panel, "rain_mm")
    if hourly is not None:
        _bars(axes, season, season.daily(hourly, "sum") / (MM_PER_IN if us else 1.0))


def _marks(axes: Axes, season: _Season) -> None:
    panel, noons = season.panel, season.noons
    names = [name for name in QUANTITIES if name in panel.values]
    _name(axes, "Days with marks")
    if not names:
        _empty(axes, "not measured")
        return
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
            counts = np.bincount(season.numbers[found] - season.numbers[0], minlength=len(noons))
            here = noons[counts >= least]
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
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.25), ncols=4, fontsize=8, frameon=False)
