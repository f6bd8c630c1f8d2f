"""What a chance is the chance of: which models decide for which grass, and when any of them passes."""

from __future__ import annotations

import math
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

from forecast.diseases import MODELS, events
from forecast.diseases.events import any_passed, event_for
from forecast.diseases.fidanza_1996 import FIDANZA_1996
from forecast.diseases.warm_wet_night import WARM_WET_NIGHT

NAN = math.nan

_BROWN_PATCH = ["fidanza_1996", "schumann_1994", "warm_wet_night"]  # but the provisional ones


def _but(*deciding: str) -> tuple[list[str], list[str]]:
    return list(deciding), [key for key in _BROWN_PATCH if key not in deciding]


# Disease, grass, the models built or tested on that grass, the disease's others; none of them provisional.
WHO_DECIDES = [
    ("brown_patch", "tall_fescue", *_but("warm_wet_night")),
    ("brown_patch", "kentucky_bluegrass", *_but("warm_wet_night")),
    ("brown_patch", "creeping_bentgrass", *_but("schumann_1994", "warm_wet_night")),
    ("brown_patch", "perennial_ryegrass", *_but("fidanza_1996", "warm_wet_night")),
    ("brown_patch", "colonial_bentgrass", *_but("fidanza_1996", "warm_wet_night")),
    ("brown_patch", "st_augustinegrass", *_but()),
    ("dollar_spot", "creeping_bentgrass", ["smith_2018"], []),
    ("dollar_spot", "tall_fescue", [], ["smith_2018"]),
]


@pytest.mark.parametrize(("disease", "grass", "deciding", "beside"), WHO_DECIDES)
def test_a_model_decides_on_the_grasses_it_was_tested_on(
    disease: str, grass: str, deciding: list[str], beside: list[str]
) -> None:
    event = event_for(disease, grass)
    assert (event.disease, event.grass) == (disease, grass)
    assert sorted(model.key for model in event.deciding) == deciding
    assert sorted(model.key for model in event.beside) == beside


def test_the_event_is_put_in_the_words_of_every_deciding_model() -> None:
    words = event_for("brown_patch", "perennial_ryegrass").words
    assert FIDANZA_1996.threshold_words in words
    assert WARM_WET_NIGHT.threshold_words in words
    assert ", or " in words
    assert event_for("brown_patch", "st_augustinegrass").words == ""


def test_a_provisional_model_never_decides(monkeypatch: pytest.MonkeyPatch) -> None:
    provisional = replace(WARM_WET_NIGHT, standing="provisional")
    monkeypatch.setattr(events, "MODELS", MappingProxyType({**MODELS, "warm_wet_night": provisional}))
    event = event_for("brown_patch", "perennial_ryegrass")
    assert [model.key for model in event.deciding] == ["fidanza_1996"]
    assert [model.key for model in event.beside] == ["schumann_1994"]
    assert event.switched_on == ()


def test_a_model_decides_by_the_owners_word_whatever_its_standing_and_the_grass() -> None:
    named = ("brown_patch_infection", "fidanza_1996", "smith_2018")
    event = event_for("brown_patch", "tall_fescue", named)
    assert {model.key for model in event.deciding} == {"warm_wet_night", "brown_patch_infection", "fidanza_1996"}
    assert {model.key for model in event.switched_on} == {"brown_patch_infection", "fidanza_1996"}
    assert not {model.key for model in event.deciding} & {model.key for model in event.beside}
    # Of a grass that it was tested on, a model decides anyway: the owner's word adds nothing.
    assert event_for("brown_patch", "perennial_ryegrass", ("fidanza_1996",)).switched_on == ()


# One model, the other, either: known to pass is enough, known not to needs both.
EITHER = [
    (1, 1, 1), (1, 0, 1), (1, NAN, 1),
    (0, 1, 1), (0, 0, 0), (0, NAN, NAN),
    (NAN, 1, 1), (NAN, 0, NAN), (NAN, NAN, NAN),
]  # fmt: skip


@pytest.mark.parametrize("shape", [(9,), (9, 1), (3, 3), (1, 3, 3)])
def test_either_model_passing_is_the_event_and_unknown_stays_unknown(shape: tuple[int, ...]) -> None:
    one, other, either = (np.array(column, dtype=np.float64).reshape(shape) for column in zip(*EITHER, strict=True))
    found = any_passed((FIDANZA_1996, WARM_WET_NIGHT), {"fidanza_1996": one, "warm_wet_night": other})
    np.testing.assert_array_equal(found, either)


def test_one_model_alone_is_its_own_event() -> None:
    passed = np.array([1.0, 0.0, NAN])
    np.testing.assert_array_equal(any_passed((FIDANZA_1996,), {"fidanza_1996": passed}), passed)


def test_models_that_were_not_asked_do_not_count() -> None:
    passed = {"fidanza_1996": np.array([0.0]), "warm_wet_night": np.array([1.0]), "smith_2018": np.array([1.0])}
    assert any_passed((FIDANZA_1996,), passed).tolist() == [0.0]


def test_no_model_is_no_event() -> None:
    with pytest.raises(ValueError, match="at least one model"):
        any_passed((), {})
