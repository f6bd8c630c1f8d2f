"""The morning page as plain text for a terminal or a printout."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from textwrap import wrap

from forecast.report import sentences
from forecast.report.page import AreaReport, DiseaseReport, MorningPage
from forecast.report.words import area_words, percent

WIDTH = 88


def morning_text(page: MorningPage) -> str:
    """The whole page."""
    return "\n".join(_lines(page)) + "\n"


def _lines(page: MorningPage) -> Iterator[str]:
    us = page.units == "us"
    yield f"{sentences.title(page)} · {page.grounds}"
    yield from _wrap(sentences.as_of_sentence(page))
    if page.invented:
        yield from _wrap(sentences.INVENTED)
    yield ""
    yield from _summary(page)
    seen: dict[tuple[str, str], str] = {}
    for area in page.areas:
        yield ""
        yield from _area(area, seen, page.as_of.date(), us=us)
    yield ""
    yield "DATA"
    for station in page.stations:
        yield f"  {station.name}"
        for sentence in sentences.station_sentences(station, page.time_zone):
            yield from _wrap(sentence, 4)
    yield from _wrap(sentences.WAYS_ON, 2)
    for notice in page.notices:
        yield from _wrap(f"Note: {notice}", 2)
    yield ""
    yield "CAUTIONS"
    for caution in page.cautions:
        yield from _wrap(caution, 2)


def _summary(page: MorningPage) -> Iterator[str]:
    """Every treatment on a line of its own; what to look at and what to leave, grouped by disease."""
    rows = [(area, disease) for area in page.areas for disease in area.diseases]
    for area, disease in rows:
        if disease.answer == "treat":
            chance = f" ({percent(disease.chance.value)})" if disease.chance else ""
            what = sentences.headline(disease)
            text = f"TREAT  {disease.name}, {area.area_name}, {area.property_name}: {what[0].lower()}{what[1:]}{chance}"
            yield from _wrap(text, 2, hang=7)
    for word in ("scout", "hold"):
        for name in dict.fromkeys(disease.name for _, disease in rows if disease.answer == word):
            places = ", ".join(area.area_name for area, d in rows if d.answer == word and d.name == name)
            yield from _wrap(f"{word.upper():<6} {name}: {places}", 2, hang=7)


def _area(area: AreaReport, seen: dict[tuple[str, str], str], today: date, *, us: bool) -> Iterator[str]:
    yield f"{area.property_name} · {area.area_name} · {area.grass}, {area_words(area.size_m2, us=us)}"
    for note in area.setting_notes:
        yield from _wrap(f"{note}.", 2)
    if not area.diseases:
        yield from _wrap("No disease known to this program is looked for on this grass.", 2)
    for disease in area.diseases:
        yield ""
        yield from _answer(disease, us=us)
        first = seen.setdefault((area.station_id, disease.disease), area.area_name)
        if first == area.area_name:
            yield from _weather(disease, today, us=us)
        else:
            yield from _wrap(f"Models: the same weather as under {first}. {_deciders(disease)}", 4)


def _answer(disease: DiseaseReport, *, us: bool) -> Iterator[str]:
    yield f"  {disease.name.upper()} · {sentences.headline(disease)}"
    for reason in disease.reasons:
        yield from _wrap(f"because {reason}", 4)
    yield from _wrap(sentences.need_sentence(disease), 4)
    yield from _wrap(sentences.chance_sentence(disease), 4)
    yield from _wrap(sentences.cover_sentence(disease.cover), 4)
    for left_out in disease.no_option:
        yield from _wrap(f"No option: {left_out}.", 4)
    if disease.quantity:
        for sentence in sentences.quantity_sentences(disease.quantity, us=us):
            yield from _wrap(sentence, 4)
    if disease.answer == "scout":
        yield from _wrap(f"Look for {disease.look_for}.", 4)
    yield from _wrap(sentences.event_sentence(disease), 4)
    yield from _wrap(sentences.weeks_sentence(disease), 4)
    yield from _wrap(sentences.made_sentence(disease), 4)


def _weather(disease: DiseaseReport, today: date, *, us: bool) -> Iterator[str]:
    """What the models read and say, once a station and disease."""
    for model in disease.models:
        yield from _wrap(f"{sentences.standing_words(model)}: {sentences.model_sentence(model, today)}.", 4)
        yield from _wrap(sentences.outside_sentence(model), 6)
        yield from _wrap("; ".join(sentences.driver_words(driver, us=us) for driver in model.drivers), 6)
        yield from _wrap(f"last days: {sentences.past_words(model)}", 6)


def _deciders(disease: DiseaseReport) -> str:
    names = [model.name for model in disease.models if model.decides]
    return f"Here {' and '.join(names)} decide{'s' if len(names) == 1 else ''}." if names else "Here none decides."


def _wrap(text: str, indent: int = 0, hang: int = 0) -> list[str]:
    if not text:
        return []
    return wrap(text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * (indent + hang))
