"""The morning page as one self-contained HTML file: no script, no request, readable on a phone and on paper."""

from __future__ import annotations

import jinja2

from forecast.clock import day_words
from forecast.report import sentences, words
from forecast.report.page import DayChance, MorningPage

BAR_HEIGHT = 40  # of the chart of chances, in its own units


def morning_html(page: MorningPage) -> str:
    """The whole page."""
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("forecast.report"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    template = environment.get_template("morning.html.j2")
    order = {"treat": 0, "scout": 1, "hold": 2}
    rows = sorted(
        ((area, disease) for area in page.areas for disease in area.diseases), key=lambda row: order[row[1].answer]
    )
    return template.render(
        day_words=day_words,
        page=page,
        us=page.units == "us",
        say=sentences,
        words=words,
        rows=rows,
        bars=bars,
        bar_height=BAR_HEIGHT,
    )


def bars(days: tuple[DayChance, ...]) -> list[tuple[int, float, DayChance]]:
    """Left edge, height and day of every bar of the chart, in the chart's own units."""
    return [(12 * place, round(BAR_HEIGHT * day.value, 1), day) for place, day in enumerate(days)]
