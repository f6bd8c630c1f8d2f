"""The morning page as one self-contained HTML file: no script, no request, readable on a phone and on paper."""

from __future__ import annotations

import jinja2

from forecast.report import sentences, words
from forecast.report.page import AreaReport, DiseaseReport, MorningPage

Row = tuple[AreaReport, DiseaseReport]


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
        others=_grouped(rows),
    )


def _grouped(rows: list[Row]) -> list[tuple[str, str, list[Row]]]:
    """What to look at and what to leave, by disease: answer, disease, places."""
    return [
        (word, name, [row for row in rows if row[1].answer == word and row[1].name == name])
        for word in ("scout", "hold")
        for name in dict.fromkeys(disease.name for _, disease in rows if disease.answer == word)
    ]
