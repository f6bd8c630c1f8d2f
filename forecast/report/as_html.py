"""Pages as one self-contained HTML file each: no script, no request, readable on a phone and on paper."""

from __future__ import annotations

import itertools

import jinja2

from forecast.clock import day_words
from forecast.report import outlook, outlook_picture, sentences, windows, windows_picture, words
from forecast.report.outlook import OutlookPage
from forecast.report.page import AreaReport, DiseaseReport, MorningPage
from forecast.report.windows import WindowsPage


def morning_html(page: MorningPage) -> str:
    """The whole morning page."""
    rows = [(area, disease) for area in page.areas for disease in area.diseases]
    return (
        environment()
        .get_template("morning.html.j2")
        .render(
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
    )


def outlook_html(page: OutlookPage) -> str:
    """The whole outlook."""
    return (
        environment()
        .get_template("outlook.html.j2")
        .render(page=page, say=outlook, words=words, picture=outlook_picture, day_words=day_words)
    )


def windows_html(page: WindowsPage) -> str:
    """All application windows."""
    return (
        environment()
        .get_template("windows.html.j2")
        .render(page=page, say=windows, words=words, picture=windows_picture, day_words=day_words)
    )


def environment() -> jinja2.Environment:
    """What every page is printed with: all that is put in is escaped, and a name that is not there is an error."""
    return jinja2.Environment(
        loader=jinja2.PackageLoader("forecast.report"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _block(row: tuple[str, str, list[tuple[AreaReport, DiseaseReport]]]) -> tuple[str, bool]:
    """What stands in one box: rows of one answer, those with a tested model apart from those without."""
    word, _, places = row
    return word, bool(places[0][1].deciding)
