"""``forecast models``: every model with its numbers, inputs, standing and source, as text and as JSON."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from click.testing import CliRunner

from forecast.cli import cli
from forecast.diseases import MODELS
from forecast.report.catalogue import catalogue, catalogue_text
from forecast.turf import DISEASES, GRASSES


def _printed(*arguments: str) -> str:
    done = CliRunner().invoke(cli, ["models", *arguments])
    assert done.exit_code == 0, done.output
    return done.output


def _flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("key", MODELS)
def test_every_model_is_printed_with_all_that_a_reader_has_to_know(key: str) -> None:
    model, text = MODELS[key], _flat(_printed("--disease", MODELS[key].disease))
    for owed in (f"{key}: {model.name} ({model.standing})", model.threshold_words, model.notes, model.source):
        assert _flat(owed) in text
    for grass in model.grasses:
        assert GRASSES[grass].name in text
    for name, number in model.coefficients.items():
        assert f"{name} {number.value:g}" in text
    for limits in model.valid.values():
        assert _flat(limits.source) in text
    if model.wetness_words:
        assert _flat(model.wetness_words) in text


def test_models_stand_under_their_disease() -> None:
    text = _printed()
    heads = [line for line in text.splitlines() if line.isupper() and not line.startswith(" ")]
    wanted = [d.name.upper() for d in DISEASES.values() if any(m.disease == d.key for m in MODELS.values())]
    assert heads == wanted
    assert max(map(len, text.splitlines())) <= 88


def test_json_holds_the_same_numbers() -> None:
    found = json.loads(_printed("--json"))
    assert found["schema"] == 1
    assert sorted(model["key"] for model in found["models"]) == sorted(MODELS)
    index = next(model for model in found["models"] if model["key"] == "fidanza_1996")
    # The abstract of Fidanza, Dernoeden & Grybauskas 1996: E = -21.5 + 0.15 RH + 1.4 T - 0.033 T², warning from 6.
    assert [number["value"] for number in index["coefficients"]] == [-21.5, 0.15, 1.4, -0.033]
    assert index["threshold"] == 6
    assert index["day_end_hour"] == 6


def test_a_changed_number_is_a_changed_line() -> None:
    model = MODELS["fidanza_1996"]
    base = replace(model.coefficients["base"], value=-20.0)
    other = replace(model, coefficients={**model.coefficients, "base": base})
    one, two = (catalogue_text(catalogue({model.key: m})) for m in (model, other))
    assert one.replace("base -21.5", "base -20") == two


def test_an_unknown_disease_is_refused_with_those_known() -> None:
    done = CliRunner().invoke(cli, ["models", "--disease", "rust"])
    assert done.exit_code == 2
    assert "stem_rust" in done.output
