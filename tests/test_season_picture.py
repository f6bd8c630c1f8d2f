"""The season picture, looked into: what its bars, lines, marks and words say of hours made up for the purpose.

Hours are of New York in July: standard time is UTC − 5 h, so that the stamps 06:00 to 05:00 UTC make up a day.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import StepPatch

from forecast.panel import Floats, Panel, observed
from forecast.quantities import Flag, Origin
from forecast.report.season_picture import season_figure, season_picture

NAN = math.nan
NEW_YORK, TOKYO = ZoneInfo("America/New_York"), ZoneInfo("Asia/Tokyo")
FIRST = "2050-07-01T06"  # the stamp of the first hour of 1 July, standard time
TEMPERATURE, HUMIDITY, HUMID_HOURS, RAIN, MARKS = range(5)
ALL = ("air_temperature_c", "relative_humidity_pct", "rain_mm")


def hours_of(values: Mapping[str, object], first: str = FIRST) -> Panel:
    """A panel of one series from lists of hourly figures, all of one length."""
    columns = {name: np.asarray(given, dtype=np.float64).reshape(-1, 1) for name, given in values.items()}
    count = max((len(column) for column in columns.values()), default=24)
    stamps = np.datetime64(first, "h") + np.arange(count) * np.timedelta64(1, "h")
    return observed(stamps, ("field",), columns)


def drawn(panel: Panel, *, us: bool = False, name: str = "A field", credit: str = "Source: invented") -> Figure:
    return season_figure(panel, name, credit, us=us, zone=NEW_YORK, standard_offset_minutes=-300)


def bars(axes: Axes) -> tuple[Floats, Floats, Floats]:
    """Tops, edges in days since 1970-01-01, and bottoms of the filled bars."""
    (filled,) = [patch for patch in axes.patches if isinstance(patch, StepPatch) and patch.get_fill()]
    given, edges, bottoms = filled.get_data()
    tops = np.asarray(given, dtype=np.float64)
    return tops, np.asarray(edges), np.broadcast_to(np.asarray(bottoms, dtype=np.float64), tops.shape)


def outline(axes: Axes) -> Floats:
    """The line along one side of the bars."""
    (line,) = [patch for patch in axes.patches if isinstance(patch, StepPatch) and not patch.get_fill()]
    return np.asarray(line.get_data()[0], dtype=np.float64)


def dotted(axes: Axes) -> float:
    """How high the dotted line stands."""
    (line,) = [line for line in axes.lines if line.get_linestyle() == ":"]
    low, high = np.asarray(line.get_ydata(), dtype=np.float64)
    assert low == high
    return float(low)


def words(axes: Axes) -> list[str]:
    """What is written in place of bars."""
    return [text.get_text() for text in axes.texts]


def marked_days(axes: Axes, row: int) -> dict[str, list[str]]:
    """The days with each shape of mark in a row."""
    found: dict[str, list[str]] = {}
    for line in axes.lines:
        heights = np.asarray(line.get_ydata(), dtype=np.float64)
        moments = np.asarray(line.get_xdata(), dtype="datetime64[h]")
        found.setdefault(str(line.get_marker()), []).extend(str(m)[:10] for m in moments[heights == row])
    return found


# ---------------------------------------------------------------------------------------------------------------------
# Temperature


def test_a_day_reaches_from_its_lowest_to_its_highest_temperature_in_the_readers_unit() -> None:
    panel = hours_of({"air_temperature_c": [*range(10, 34), *range(24)]})
    tops, _, bottoms = bars(drawn(panel).axes[TEMPERATURE])
    assert (tops.tolist(), bottoms.tolist()) == ([33, 23], [10, 0])
    tops, _, bottoms = bars(drawn(panel, us=True).axes[TEMPERATURE])
    # 33 °C = 59.4 + 32 °F, 23 °C = 41.4 + 32 °F; 10 °C = 50 °F, 0 °C = 32 °F
    assert tops == pytest.approx([91.4, 73.4])
    assert bottoms == pytest.approx([50.0, 32.0])
    assert outline(drawn(panel, us=True).axes[TEMPERATURE]) == pytest.approx([50.0, 32.0])


@pytest.mark.parametrize(("us", "height", "told"), [(False, 15.5, "15.5 °C"), (True, 59.9, "60 °F")])
def test_the_dotted_line_is_named_by_the_height_at_which_it_stands(us: bool, height: float, told: str) -> None:
    axes = drawn(hours_of({"air_temperature_c": [20.0] * 24}), us=us).axes[TEMPERATURE]
    assert dotted(axes) == pytest.approx(height)  # 15.5 × 1.8 + 32 = 59.9
    assert f"a night of {told})" in axes.get_title(loc="left")


# ---------------------------------------------------------------------------------------------------------------------
# Humidity


def test_humid_hours_are_those_of_90_percent_or_more() -> None:
    humidity = [90.0] * 5 + [89.9] * 7 + [50.0] * 12
    figure = drawn(hours_of({"relative_humidity_pct": humidity}))
    tops, _, bottoms = bars(figure.axes[HUMID_HOURS])
    assert (tops.tolist(), bottoms.tolist()) == ([5], [0])
    assert figure.axes[HUMID_HOURS].get_title(loc="left") == "Hours a day with humidity of 90 % or more"
    tops, _, bottoms = bars(figure.axes[HUMIDITY])
    assert (tops.tolist(), bottoms.tolist()) == ([90], [50])
    assert outline(figure.axes[HUMIDITY]).tolist() == [90]


def test_humid_hours_are_counted_of_the_hours_known_and_none_is_added() -> None:
    figure = drawn(hours_of({"relative_humidity_pct": [95.0] * 11 + [60.0] * 11 + [NAN] * 2}))
    assert bars(figure.axes[HUMID_HOURS])[0].tolist() == [11]  # and not 11 × 24 / 22 = 12


def test_the_dotted_line_of_humidity_stands_where_its_name_says() -> None:
    axes = drawn(hours_of({"relative_humidity_pct": [80.0] * 24})).axes[HUMIDITY]
    assert f"(dotted: {dotted(axes):.0f} %)" in axes.get_title(loc="left")
    assert dotted(axes) == 95


def test_humidity_is_told_from_the_dew_point_where_only_that_is_known() -> None:
    """Air at its dew point is saturated; at 20 °C with a dew point of 0 °C it holds 6.11 of 23.37 hPa, 26 %."""
    panel = hours_of({"air_temperature_c": [20.0] * 48, "dew_point_c": [20.0] * 24 + [0.0] * 24})
    figure = drawn(panel)
    tops, _, bottoms = bars(figure.axes[HUMIDITY])
    assert tops == pytest.approx([100.0, 26.1], abs=0.2)  # saturation over water at 0 and 20 °C, from memory
    assert bottoms == pytest.approx([100.0, 26.1], abs=0.2)
    assert bars(figure.axes[HUMID_HOURS])[0].tolist() == [24, 0]
    rows = [label.get_text() for label in figure.axes[MARKS].get_yticklabels()]
    assert rows == ["air temperature", "dew point"], "marks are of what was measured"


# ---------------------------------------------------------------------------------------------------------------------
# Rain


def test_rain_is_the_sum_of_its_hours_in_the_readers_unit() -> None:
    panel = hours_of({"rain_mm": [2.54] * 3 + [0.0] * 21})
    metric, ours = drawn(panel).axes[RAIN], drawn(panel, us=True).axes[RAIN]
    assert bars(metric)[0] == pytest.approx([7.62])
    assert bars(ours)[0] == pytest.approx([0.3])  # 7.62 / 25.4
    assert metric.get_title(loc="left").startswith("Rain a day, mm,")
    assert ours.get_title(loc="left").startswith("Rain a day, in,")


def test_no_rain_is_invented_for_hours_that_are_not_known() -> None:
    two_unknown = [1.0] * 4 + [0.0] * 18 + [NAN] * 2
    three_unknown = [1.0] * 4 + [0.0] * 17 + [NAN] * 3
    tops = bars(drawn(hours_of({"rain_mm": two_unknown + three_unknown + [0.0] * 24})).axes[RAIN])[0]
    assert tops[0] == pytest.approx(4.0)  # and not 24 × 4 / 22
    assert math.isnan(tops[1]), "a day with three hours unknown is left blank"
    assert tops[2] == 0


# ---------------------------------------------------------------------------------------------------------------------
# Days


def test_days_are_whole_days_of_standard_time_and_none_is_cut() -> None:
    """From 15:00 on 1 July to 05:00 on 4 July: two whole days between two broken ones, which are blank."""
    rain = [0.0] * (24 - 14) + [1.0] * 24 + [2.0] * 24 + [0.0] * 5
    axes = drawn(hours_of({"rain_mm": rain}, first="2050-07-01T20")).axes
    tops, edges, _ = bars(axes[RAIN])
    midnights = np.array([f"2050-07-0{day}" for day in range(1, 6)], dtype="datetime64[D]")
    assert edges.tolist() == (midnights - np.datetime64("1970-01-01")).astype(int).tolist()
    assert tops[1:3].tolist() == [24, 48]
    assert np.isnan(tops[[0, 3]]).all()
    for one in axes:
        assert one.get_xlim() == (edges[0], edges[-1])


@pytest.mark.parametrize(
    ("zone", "offset", "first", "count", "told"),
    [
        # The hours from midnight daylight time on 1 April to midnight after the 24th.
        (NEW_YORK, -300, "2050-04-01T05", 24 * 24, "2050-04-01 to 2050-04-24"),
        (NEW_YORK, -300, "2050-01-01T06", 24, "2050-01-01 to 2050-01-01"),
        (TOKYO, 540, "2050-06-30T16", 48, "2050-07-01 to 2050-07-02"),
    ],
)
def test_the_title_has_the_dates_of_the_site(zone: ZoneInfo, offset: int, first: str, count: int, told: str) -> None:
    panel = hours_of({"rain_mm": [0.0] * count}, first)
    figure = season_figure(panel, "A field", "", us=False, zone=zone, standard_offset_minutes=offset)
    assert figure.get_suptitle() == f"A field, {told}"


# ---------------------------------------------------------------------------------------------------------------------
# What is not there


def test_what_is_not_measured_says_so_and_has_no_scale() -> None:
    axes = drawn(hours_of({"air_temperature_c": [20.0] * 24})).axes
    assert words(axes[TEMPERATURE]) == []
    for one in (HUMIDITY, HUMID_HOURS, RAIN):
        assert words(axes[one]) == ["not measured"]
        assert axes[one].get_yticks().tolist() == []
        assert not axes[one].patches
    axes = drawn(hours_of({"dew_point_c": [20.0] * 24})).axes
    assert words(axes[TEMPERATURE]) == words(axes[HUMIDITY]) == ["not measured"]
    assert drawn(hours_of({})).axes[MARKS].get_yticks().tolist() == []


def test_what_is_measured_and_known_on_no_whole_day_is_not_called_unmeasured() -> None:
    axes = drawn(hours_of({name: [20.0] * 21 + [NAN] * 3 for name in ALL})).axes
    for one in (TEMPERATURE, HUMIDITY, HUMID_HOURS, RAIN):
        assert words(axes[one]) == ["no day with 22 h known"]
        assert not axes[one].patches


# ---------------------------------------------------------------------------------------------------------------------
# Marks


def test_each_mark_stands_for_its_own_state_of_a_day() -> None:
    """Day by day: failed, suspect, filled, two hours unknown, one hour unknown."""
    temperature, rain = np.full((120, 1), 20.0), np.zeros((120, 1))
    flags, origin = np.full((120, 1), Flag.GOOD, np.uint8), np.full((120, 1), Origin.OBSERVED, np.uint8)
    temperature[[3, 4], 0], flags[[3, 4], 0] = NAN, Flag.FAIL
    flags[24 + 5, 0] = Flag.SUSPECT
    origin[48 + 6, 0] = Origin.FILLED
    for hour in (72, 73, 96):
        temperature[hour, 0], flags[hour, 0] = NAN, Flag.MISSING
    panel = hours_of({"air_temperature_c": temperature, "rain_mm": rain})
    panel = replace(panel.with_quantity("air_temperature_c", temperature, flags, origin))
    axes = drawn(panel).axes[MARKS]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["air temperature", "rain"]
    assert marked_days(axes, 0) == {"x": ["2050-07-01"], "o": ["2050-07-02"], ".": ["2050-07-03"], "|": ["2050-07-04"]}
    assert not any(marked_days(axes, 1).values())
    legend = axes.get_legend()
    assert legend is not None
    told = [text.get_text() for text in legend.get_texts()]
    assert told == ["2 h or more unknown", "a short hole closed", "suspect, kept", "failed, left out"]
    shapes = [str(handle.get_marker()) for handle in legend.legend_handles if handle is not None]  # type: ignore[attr-defined]
    assert shapes == ["|", ".", "o", "x"]


# ---------------------------------------------------------------------------------------------------------------------
# Names that people type, and warnings


@pytest.mark.parametrize(
    "typed", ["Lot $x_$", "$5 and $6", r"C:\fields \$1", "東京 field", "{} %s %d", "a\tb\x00", "x" * 400]
)
def test_a_name_is_written_as_it_was_typed(typed: str) -> None:
    panel = hours_of({"rain_mm": [0.0] * 24})
    figure = drawn(panel, name=typed, credit=f"Source: {typed}")
    assert re.sub(r"\s", "", typed) in re.sub(r"\s", "", figure.get_suptitle())
    assert all(not text.get_parse_math() for text in figure.texts)
    assert len(figure.texts) == 2, "title and credit"
    for kind, begins in (("png", b"\x89PNG"), ("svg", b"<?xml")):
        picture = season_picture(
            panel,
            typed,
            f"Source: {typed}",
            us=False,
            zone=NEW_YORK,
            standard_offset_minutes=-300,
            kind="png" if kind == "png" else "svg",
        )
        assert picture.startswith(begins)


@pytest.mark.parametrize(
    "panel",
    [
        hours_of({name: [1.0] for name in ALL}),
        hours_of({name: [NAN] for name in ALL}),
        hours_of({name: [NAN] * 400 for name in ALL}),
        hours_of({}),
        hours_of({name: [NAN] * 72 + [1.0] * 24 + [NAN] * 72 for name in ALL}),
        hours_of({"wind_speed_10m_m_s": [3.0] * 30}),
        hours_of({"dew_point_c": [30.0] * 30, "air_temperature_c": [20.0] * 30}),
    ],
    ids=["one hour", "one unknown hour", "nothing known", "nothing measured", "one day", "wind only", "dew above air"],
)
@pytest.mark.parametrize("us", [True, False])
def test_little_or_nothing_known_is_drawn_without_a_warning(panel: Panel, us: bool) -> None:
    """Warnings are errors in every test here."""
    given = season_picture(panel, "A field", "", us=us, zone=NEW_YORK, standard_offset_minutes=-300)
    assert given.startswith(b"\x89PNG")
