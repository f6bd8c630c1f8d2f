"""What one model says, in sentences."""

from __future__ import annotations

import math
from datetime import date

from forecast.report.page import AreaReport, ModelReport, MorningPage
from forecast.report.words import NBSP, capital, clock, range_words

WAYS_ON = (
    "So far: the hours not yet read are gone on with from the last reading, once for each of the last ten days and of "
    "the days around this date in past years. Ranges hold nine in ten of them."
)


def answer_words(model: ModelReport, value: float) -> str:
    """A model's answer in its own kind: a class in words, a probability in per cent, an index to one decimal."""
    if model.answer == "class":
        return [step.words for step in model.steps if value >= step.at][-1]
    short = 2 if model.answer == "probability" else 1
    if round(value, short) >= model.threshold > value:
        short += 1  # what just misses its threshold must not be printed as reaching it
        value = math.floor(value * 10**short) / 10**short
    return f"{100 * value:.{short - 2}f}{NBSP}%" if model.answer == "probability" else f"{value:.{short}f}"


def model_sentence(model: ModelReport, today: date) -> str:
    """A model's answer for the day in progress."""
    ends = f"{model.ends_at:%a} " if model.ends_at.date() != today else ""
    ends = f"for the 24 h ending {ends}{clock(model.ends_at)}"
    if model.low is None or model.high is None:
        why = "the weather lies outside the model's range" if model.outside else "too little was read"
        return f"no answer {ends}: {why}"
    rung = answer_words(model, model.threshold)
    rung = f"'{rung}'" if model.answer == "class" else f"the threshold of {rung}"
    value = _range(model, model.low, model.high)
    if model.finished:
        return f"{value} {ends}; {rung} is {'' if model.high >= model.threshold else 'not '}reached"
    how = "none" if model.ways_passed == 0 else "all" if model.ways_passed == model.ways else f"{model.ways_passed}"
    return f"so far {value} {ends}; going on as {model.ways} earlier days did, {rung} is reached on {how} of them"


def _range(model: ModelReport, least: float, most: float) -> str:
    low, high = answer_words(model, least), answer_words(model, most)
    if low == high:
        return low
    return f"between '{low}' and '{high}'" if model.answer == "class" else f"{low} to {high}"


def outside_sentence(model: ModelReport) -> str:
    """What to know where a model runs outside its range; empty where it does not."""
    if not model.outside or model.as_printed_high is None:
        return ""
    printed = answer_words(model, model.as_printed_high)
    if model.high is not None and printed == answer_words(model, model.high):
        return ""
    if model.high is None:
        return f"The published formula would give {printed}; it was not made for such weather."
    return f"Warmer than the model speaks of: held at its edge; as printed it would read {printed}."


def drivers_words(model: ModelReport, *, us: bool) -> str:
    """A model's inputs in local units."""
    return capital("; ".join(f"{d.words} {range_words(d.low, d.high, d.unit, us=us)}" for d in model.drivers))


def past_words(model: ModelReport) -> str:
    """The last days' answers, a star where the threshold was passed."""
    cells = []
    for past in model.past:
        value = "–" if past.answer is None else answer_words(model, past.answer)
        if model.answer == "class" and past.passed is False:
            value = "no"
        cells.append(f"{past.day:%a} {value}{'*' if past.passed else ''}")
    return ", ".join(cells)


def standing_words(model: ModelReport) -> str:
    """The model's name and its standing."""
    return f"{capital(model.name)} ({model.standing})"


def about_models(page: MorningPage) -> list[tuple[str, str]]:
    """Every model of the page once: its name and standing; on which grasses it decides, notes, source."""
    once = {model.key: model for stand in page.stands for model in stand.models}
    return [
        (
            standing_words(model),
            " ".join(
                text
                for text in (
                    f"Decides on {', '.join(model.tested_on)}.",
                    model.notes,
                    model.wetness,
                    f"Source: {model.source}.",
                )
                if text
            ),
        )
        for model in once.values()
    ]


def models_of(page: MorningPage, area: AreaReport, keys: tuple[str, ...]) -> list[ModelReport]:
    """The models of an area's stand by key."""
    return [m for stand in page.stands if stand.stand_id == area.stand_id for m in stand.models if m.key in keys]


def ways_sentence(page: MorningPage) -> str:
    """What "so far" means; empty where no model of the page says it."""
    return WAYS_ON if any(model.ways and model.high is not None for s in page.stands for model in s.models) else ""
