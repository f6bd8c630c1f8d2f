"""The morning page as plain text for a terminal or a printout."""

from __future__ import annotations

from collections.abc import Iterator

from forecast.report import sentences
from forecast.report.lines import wrapped
from forecast.report.page import AreaReport, DiseaseReport, ModelReport, MorningPage
from forecast.report.words import area_words


def morning_text(page: MorningPage) -> str:
    """The whole page."""
    return "\n".join(_lines(page)) + "\n"


def _lines(page: MorningPage) -> Iterator[str]:
    yield f"{sentences.title(page)} · {page.grounds}"
    yield from wrapped(sentences.as_of_sentence(page))
    if page.invented:
        yield from wrapped(sentences.INVENTED)
    yield ""
    yield from _summary(page)
    yield from wrapped(sentences.data_sentence(page), 2)
    yield from wrapped(sentences.usual_sentence(page), 2)
    for area in page.areas:
        yield ""
        yield from _area(page, area)
    yield ""
    yield from _weather_and_models(page)
    yield from wrapped(sentences.ways_sentence(page), 2)
    for notice in page.notices:
        yield from wrapped(f"Note: {notice}", 2)
    yield ""
    yield "CAUTIONS"
    for caution in page.cautions:
        yield from wrapped(caution, 2)


def _weather_and_models(page: MorningPage) -> Iterator[str]:
    yield "WEATHER AND MODELS"
    for place in page.places:
        yield f"  {place.name}"
        for sentence in sentences.place_sentences(page, place):
            yield from wrapped(sentence, 4)
    for stand in page.stands:
        yield f"  {sentences.stand_title(page, stand)}"
        for sentence in sentences.wetness_sentences(stand):
            yield from wrapped(sentence, 4)
        for model in stand.models:
            yield from _model(page, model)
    models = sentences.about_models(page)
    if models:
        yield ""
        yield "  What the models are, and whose"
    for name, text in models:
        yield from wrapped(f"{name}: {text}", 4, 2)


def _summary(page: MorningPage) -> Iterator[str]:
    """Every treatment on a line of its own; what to look at and what to leave, grouped by disease."""
    us = page.units == "us"
    for area in page.areas:
        for disease in area.diseases:
            if disease.answer == "treat":
                where = f"TREAT   {disease.name}, {area.area_name}, {area.property_name}"
                yield from wrapped(where, 2, hang=8)
                yield from wrapped(sentences.treat_line(disease, us=us), 10)
    for word, name, places in sentences.grouped(page):
        names = ", ".join(sentences.area_label(page, area) for area, _ in places)
        yield from wrapped(f"{word:<7} {name}: {names}", 2, hang=8)


def _area(page: MorningPage, area: AreaReport) -> Iterator[str]:
    us = page.units == "us"
    yield f"{area.property_name} · {area.area_name} · {area.grass}, {area_words(area.size_m2, us=us)}"
    yield from wrapped(" ".join(area.setting), 2)
    if area.never_here:
        yield from wrapped("No disease known to this program is looked for on this grass.", 2)
    yield from wrapped(sentences.season_sentence(area), 2)
    yield from wrapped(sentences.unmodelled_sentence(area), 2)
    for disease in sentences.modelled(area):
        yield ""
        yield f"  {disease.name.upper()} · {sentences.headline(disease)}"
        for text in _answer(page, area, disease):
            yield from wrapped(text, 4)
    if area.care:
        yield ""
        yield "  CARE"
    for advice in area.care:
        yield from wrapped(f"{sentences.capital(advice.about)}: {advice.text}", 4)
        yield from wrapped(f"{advice.why} ({advice.source})", 6)


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
    yield from wrapped(f"{sentences.standing_words(model)}: {sentences.model_sentence(model, page.as_of.date())}.", 4)
    yield from wrapped(sentences.outside_sentence(model), 6)
    yield from wrapped(f"{sentences.drivers_words(model, us=page.units == 'us')}.", 6)
    yield from wrapped(f"Last days, * passed: {sentences.past_words(model)}.", 6)
