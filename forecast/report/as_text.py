"""The morning page as plain text for a terminal or a printout."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap

from forecast.report import sentences
from forecast.report.page import AreaReport, DiseaseReport, ModelReport, MorningPage
from forecast.report.words import area_words

WIDTH = 88


def morning_text(page: MorningPage) -> str:
    """The whole page."""
    return "\n".join(_lines(page)) + "\n"


def _lines(page: MorningPage) -> Iterator[str]:
    yield f"{sentences.title(page)} · {page.grounds}"
    yield from _wrap(sentences.as_of_sentence(page))
    if page.invented:
        yield from _wrap(sentences.INVENTED)
    yield ""
    yield from _summary(page)
    yield from _wrap(sentences.data_sentence(page), 2)
    yield from _wrap(sentences.usual_sentence(page), 2)
    for area in page.areas:
        yield ""
        yield from _area(page, area)
    yield ""
    yield "WEATHER AND MODELS"
    for place in page.places:
        yield f"  {place.name}"
        for sentence in sentences.place_sentences(page, place):
            yield from _wrap(sentence, 4)
        for model in place.models:
            yield from _model(page, model)
    yield from _wrap(sentences.ways_sentence(page), 2)
    for notice in page.notices:
        yield from _wrap(f"Note: {notice}", 2)
    yield ""
    yield "CAUTIONS"
    for caution in page.cautions:
        yield from _wrap(caution, 2)


def _summary(page: MorningPage) -> Iterator[str]:
    """Every treatment on a line of its own; what to look at and what to leave, grouped by disease."""
    us = page.units == "us"
    for area in page.areas:
        for disease in area.diseases:
            if disease.answer == "treat":
                where = f"TREAT  {disease.name}, {area.area_name}, {area.property_name}"
                yield from _wrap(where, 2, hang=7)
                yield from _wrap(sentences.treat_line(disease, us=us), 9)
    for word, name, places in sentences.grouped(page):
        names = ", ".join(sentences.area_label(page, area) for area, _ in places)
        yield from _wrap(f"{word.upper():<6} {name}: {names}", 2, hang=7)


def _area(page: MorningPage, area: AreaReport) -> Iterator[str]:
    us = page.units == "us"
    yield f"{area.property_name} · {area.area_name} · {area.grass}, {area_words(area.size_m2, us=us)}"
    for note in area.setting_notes:
        yield from _wrap(f"{sentences.capital(note)}.", 2)
    if not area.diseases:
        yield from _wrap("No disease known to this program is looked for on this grass.", 2)
    for disease in area.diseases:
        yield ""
        yield f"  {disease.name.upper()} · {sentences.headline(disease)}"
        for text in _answer(page, area, disease):
            yield from _wrap(text, 4)


def _answer(page: MorningPage, area: AreaReport, disease: DiseaseReport) -> Iterator[str]:
    """The answer first, then why, then how sure."""
    yield from (f"because {reason}" for reason in disease.reasons)
    yield sentences.need_sentence(disease, page.as_of.date())
    yield sentences.chance_sentence(page, area, disease)
    yield sentences.cover_sentence(disease.cover)
    yield from (f"No option: {left_out}." for left_out in disease.no_option)
    if disease.quantity:
        yield from sentences.quantity_sentences(disease.quantity, us=page.units == "us")
    if disease.answer == "scout":
        yield f"Look for {disease.look_for}."
    yield from sentences.why_sentences(page, area, disease)


def _model(page: MorningPage, model: ModelReport) -> Iterator[str]:
    yield from _wrap(f"{sentences.standing_words(model)}: {sentences.model_sentence(model, page.as_of.date())}.", 4)
    yield from _wrap(sentences.outside_sentence(model), 6)
    yield from _wrap(f"{sentences.drivers_words(model, us=page.units == 'us')}.", 6)
    yield from _wrap(f"Last days, * passed: {sentences.past_words(model)}.", 6)


def _wrap(text: str, indent: int = 0, hang: int = 0) -> list[str]:
    if not text:
        return []
    return wrap(text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * (indent + hang))
