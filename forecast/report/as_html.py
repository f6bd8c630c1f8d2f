"""The morning page as one self-contained HTML file: no script, no request, readable on a phone and on paper."""

from __future__ import annotations

import itertools

import jinja2

from forecast.report import sentences, words
from forecast.report.page import AreaReport, DiseaseReport, MorningPage


def morning_html(page: MorningPage) -> str:
    """The whole page."""
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("forecast.report"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    rows = [(area, disease) for area in page.areas for disease in area.diseases]
    return environment.get_template("morning.html.j2").render(
        page=page,
        today=page.as_of.date(),
        us=page.units == "us",
        say=sentences,
        words=words,
        treats=[row for row in rows if row[1].answer == "treat"],
        others=[
            (word, [(name, places) for _, name, places in rows])
            for (word, _), rows in itertools.groupby(sentences.grouped(page), key=_block)
        ],
    )


def _block(row: tuple[str, str, list[tuple[AreaReport, DiseaseReport]]]) -> tuple[str, bool]:
    """What stands in one box: rows of one answer, those with a tested model apart from those without."""
    word, _, places = row
    return word, bool(places[0][1].deciding)
