"""The catalogue of disease models as a person reads it: what each reads, when it counts, how sure, whose it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from forecast.diseases import DiseaseModel
from forecast.report.lines import wrapped
from forecast.report.model_words import input_unit, input_words
from forecast.report.sentences import capital
from forecast.turf import DISEASES, GRASSES

CATALOGUE_SCHEMA: Literal[1] = 1
STANDINGS = {
    "published": "the paper's own abstract or text was read for every number",
    "reported": "a number was read second-hand",
    "provisional": "neither: it is shown and never decides unless switched on by name",
}


NO_WEATHER_BELOW, NO_WEATHER_ABOVE = -40.0, 60.0  # an end beyond is there for the form only
GRASSES_ARE = {"tested": "Tested on", "written": "Written by handbooks for", "taken": "Taken for"}


@dataclass(frozen=True, slots=True)
class NumberEntry:
    """A coefficient with the bounds that tuning may not leave."""

    name: str
    value: float
    unit: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class InputEntry:
    """What a model reads: in words, with its unit and, where it has one, the range it was made for."""

    name: str
    words: str
    unit: str
    low: float | None
    high: float | None
    outside: Literal["hold", "withhold"] | None
    range_source: str


@dataclass(frozen=True, slots=True)
class ModelEntry:
    """One model of the catalogue."""

    key: str
    name: str
    disease: str
    pathogen: str
    standing: Literal["published", "reported", "provisional"]
    grasses: tuple[str, ...]
    grasses_are: Literal["tested", "written", "taken"]
    answer: Literal["index", "probability", "class"]
    threshold: float
    threshold_words: str
    day_end_hour: int
    hourly: bool
    inputs: tuple[InputEntry, ...]
    coefficients: tuple[NumberEntry, ...]
    wetness: str
    notes: str
    source: str


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All models, or those of one disease."""

    schema: Literal[1]
    standings: tuple[tuple[str, str], ...]
    models: tuple[ModelEntry, ...]


def catalogue(models: Mapping[str, DiseaseModel], disease: str | None = None) -> Catalogue:
    """The catalogue as plain values, in its own order within each disease."""
    chosen = [model for key in DISEASES for model in models.values() if model.disease == key and disease in (None, key)]
    return Catalogue(CATALOGUE_SCHEMA, tuple(STANDINGS.items()), tuple(_entry(model) for model in chosen))


def _entry(model: DiseaseModel) -> ModelEntry:
    inputs = []
    for one in model.inputs:
        limits = model.valid.get(one.name)
        inputs.append(
            InputEntry(
                one.name,
                input_words(one),
                input_unit(one),
                None if limits is None else limits.low,
                None if limits is None else limits.high,
                None if limits is None else limits.outside,
                "" if limits is None else limits.source,
            )
        )
    return ModelEntry(
        model.key,
        model.name,
        model.disease,
        model.pathogen,
        model.standing,
        tuple(GRASSES[grass].name for grass in model.grasses),
        model.grasses_are,
        model.answer,
        model.threshold,
        model.threshold_words,
        model.day_end_hour,
        model.is_hourly,
        tuple(inputs),
        tuple(NumberEntry(name, c.value, c.unit, c.low, c.high) for name, c in model.coefficients.items()),
        model.wetness_words,
        model.notes,
        model.source,
    )


def catalogue_text(found: Catalogue) -> str:
    """The catalogue for a terminal."""
    return "\n".join(_lines(found)) + "\n"


def _lines(found: Catalogue) -> Iterator[str]:
    count = len(found.models)
    yield from wrapped(
        f"{count} model{'' if count == 1 else 's'}. A model decides on the grasses it was tested on or written for; "
        "its standing says how far it can be trusted:"
    )
    for standing, meaning in found.standings:
        yield from wrapped(f"{standing}: {meaning}", 2, 2)
    disease = ""
    for model in found.models:
        if model.disease != disease:
            disease = model.disease
            yield ""
            yield DISEASES[disease].name.upper()
        yield ""
        yield from _model(model)


def _model(model: ModelEntry) -> Iterator[str]:
    yield from wrapped(f"{model.key}: {model.name} ({model.standing})", 2, 2)
    yield from wrapped(f"{GRASSES_ARE[model.grasses_are]} {', '.join(model.grasses)}.", 4, 2)
    yield from wrapped(f"Counts when {model.threshold_words}.", 4, 2)
    runs = "Runs hour by hour; the highest hour is the day's answer. " if model.hourly else ""
    yield from wrapped(f"{runs}Its day ends at {model.day_end_hour:02d}:00 standard time. Reads:", 4, 2)
    for one in model.inputs:
        yield from wrapped(f"{one.words}, {one.unit}{_range(one)}", 6, 2)
    numbers = "; ".join(f"{n.name} {n.value:g} {n.unit}".removesuffix(" 1") for n in model.coefficients)
    yield from wrapped(f"Numbers: {numbers}.", 4, 2)
    yield from wrapped(capital(" ".join(text for text in (model.notes, model.wetness) if text)), 4, 2)
    yield from wrapped(f"Source: {model.source}.", 4, 2)


def _range(one: InputEntry) -> str:
    if one.low is None or one.high is None:
        return ""
    does = "held at the edge" if one.outside == "hold" else "no answer"
    return f"; {range_of(one.low, one.high)}, outside {does} ({one.range_source})"


def range_of(low: float, high: float) -> str:
    """A range in the unit of its input, an end that no weather reaches left out."""
    if low <= NO_WEATHER_BELOW:
        return f"up to {high:.4g}"
    if high >= NO_WEATHER_ABOVE:
        return f"from {low:.4g}"
    return f"from {low:.4g} to {high:.4g}"
