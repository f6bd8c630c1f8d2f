"""``forecast pressure``: each model's answer is the one that its formula gives, and what would turn it does turn it."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from demo_workspace import demo_copy

from forecast.cli import cli
from forecast.cli.common import open_workspace
from forecast.desk.pressure import area_pressure
from forecast.diseases import MODELS
from forecast.errors import DataError, SettingsError
from forecast.report.pressure import Crossing, crossing_words
from forecast.turf import DISEASES

DAY = "2050-07-20"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_copy(tmp_path_factory.mktemp("pressure") / "w")


def _run(*arguments: str | Path, code: int = 0) -> str:
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert done.exit_code == code, done.output
    return done.output


@pytest.fixture(scope="module")
def report(demo: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(_run("pressure", "front-lawn", "-w", demo, "--day", DAY, "--json"))
    return found


def _models(report: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {one["model"]["key"]: one for disease in report["diseases"] for one in disease["models"]}


def _flat(text: str) -> str:
    return " ".join(text.split())


def test_every_model_of_every_disease_of_the_grass_is_there(report: dict[str, Any]) -> None:
    wanted = {model.key for model in MODELS.values() if "perennial_ryegrass" in DISEASES[model.disease].grasses}
    assert set(_models(report)) == wanted
    assert report["schema"] == 1
    assert report["day"] == DAY


def test_the_index_is_the_papers_formula_on_the_inputs_shown(report: dict[str, Any]) -> None:
    """Fidanza, Dernoeden & Grybauskas 1996: E = -21.5 + 0.15 RH + 1.4 T - 0.033 T², from 6 on."""
    one = _models(report)["fidanza_1996"]
    humidity, lowest = (driver["low"] for driver in one["model"]["drivers"])
    index = -21.5 + 0.15 * humidity + 1.4 * lowest - 0.033 * lowest**2
    assert one["model"]["low"] == pytest.approx(index, abs=1e-9)
    assert one["distance"] == pytest.approx(index - 6, abs=1e-9)
    assert one["decides"], "perennial ryegrass is the grass that it was built on"


def test_what_would_turn_it_solves_the_formula(report: dict[str, Any]) -> None:
    """The humidity at which E is 6 is (6 + 21.5 - 1.4 T + 0.033 T²)/0.15."""
    one = _models(report)["fidanza_1996"]
    lowest = one["model"]["drivers"][1]["low"]
    turn = next(c for c in one["crossings"] if c["name"] == "relative_humidity_pct_mean")
    assert turn["then"] == pytest.approx((27.5 - 1.4 * lowest + 0.033 * lowest**2) / 0.15, abs=1e-6)
    assert turn["now"] == one["model"]["drivers"][0]["low"]


def test_each_crossing_turns_its_model_and_half_the_way_does_not(report: dict[str, Any]) -> None:
    turned = 0
    for key, one in _models(report).items():
        model = MODELS[key]
        given = {driver["name"]: np.array([driver["low"]], dtype=float) for driver in one["model"]["drivers"]}
        for turn in one["crossings"]:
            verdicts = []
            for share in (0.0, 0.499, 1.0):
                value = turn["now"] + share * (turn["then"] - turn["now"])
                if turn["unit"] == "h":
                    value = round(value)
                found = model.evaluate({**given, turn["name"]: np.array([value])})
                verdicts.append(float(model.passed(found.answer, found.withheld)[0]))
            assert verdicts[0] != verdicts[2], (key, turn)
            assert verdicts[1] == verdicts[0] or turn["unit"] == "h", (key, turn)
            turned += 1
    assert turned > 5, "else this test sees nothing"


def test_the_printed_figure_turns_the_answer_too() -> None:
    """84.74 % would print as 84.7, which does not reach the threshold that 84.74 does."""
    humid = Crossing("x", "mean relative humidity", "%", 77.3, 84.74)
    cold = Crossing("x", "lowest air temperature", "°C", 20.0, 15.46)
    assert "84.8\u00a0% instead of 77.3\u00a0%" in _crossings(humid)
    assert "15.4\u00a0°C instead of 20.0\u00a0°C" in _crossings(cold)
    assert "84.7\u00a0%" in _crossings(replace(humid, then=84.7)), "a tenth itself stays"
    assert "9\u00a0h instead of 17\u00a0h" in _crossings(Crossing("x", "wet hours", "h", 17.0, 9.0))


def _crossings(one: Crossing) -> str:
    return crossing_words(one, us=False)


def test_a_rule_that_runs_by_the_hour_says_why_nothing_is_named(report: dict[str, Any]) -> None:
    one = _models(report)["brown_patch_infection"]
    assert one["crossings"] == []
    assert "hour by hour" in one["no_crossing"]
    assert not one["decides"], "provisional"


def test_the_site_is_beside_the_scores_and_not_in_them(demo: Path, report: dict[str, Any]) -> None:
    """The strip under the oaks is tall fescue in shade, which a trial found worse by no stated size."""
    shaded = json.loads(_run("pressure", "oak-strip", "-w", demo, "--day", DAY, "--json"))
    brown_patch = next(one for one in shaded["diseases"] if one["disease"] == "brown_patch")
    notes = [note for note in brown_patch["site"] if "shade" in note["words"]]
    assert notes
    assert all(note["factor_low"] is None for note in notes)
    # Air at the station is the same, and so is what reads air alone; wet hours are the strip's own.
    for key in ("fidanza_1996", "smith_2018", "nutter_1983"):
        assert _models(shaded)[key]["model"]["low"] == _models(report)[key]["model"]["low"]
    assert shaded["wet_night"]["hours"] != report["wet_night"]["hours"]


def test_the_text_says_what_the_json_says(demo: Path, report: dict[str, Any]) -> None:
    text = _flat(_run("pressure", "front-lawn", "-w", demo, "--day", DAY))
    for key, one in _models(report).items():
        assert key in text
        assert _flat(one["model"]["source"]) in text
    assert f"{report['wet_night']['hours']:.1f} h" in text
    assert "invented" in text
    assert "It is weather, not disease" in text


def test_a_model_that_cannot_answer_is_unknown_and_not_a_no(demo: Path, report: dict[str, Any]) -> None:
    """The demo has no snow depth: days under snow are not known, and the text names the model as without an answer."""
    one = _models(report)["gray_snow_mold_cover"]
    assert one["model"]["low"] is None
    assert one["passed"] is None
    winter = _flat(_run("pressure", "front-lawn", "-w", demo, "--day", "2050-02-10"))
    assert "Without an answer: days under snow (gray snow mold)" in winter


def test_season_is_that_of_the_day_asked_for_and_not_of_today(demo: Path) -> None:
    winter = json.loads(_run("pressure", "front-lawn", "-w", demo, "--day", "2050-01-20", "--json"))
    seasons = {one["disease"]: one["in_season"] for one in winter["diseases"]}
    assert seasons["microdochium_patch"]
    assert not seasons["brown_patch"]


def test_a_distance_is_told_in_the_answers_own_unit(demo: Path, report: dict[str, Any]) -> None:
    one = _models(report)["smith_2018"]
    text = _flat(_run("pressure", "front-lawn", "-w", demo, "--day", DAY))
    assert f"{100 * abs(one['distance']):.1f} points of per cent above the threshold." in text
    index = _models(report)["fidanza_1996"]
    assert f"{abs(index['distance']):.2f} below the threshold." in text


def test_a_mean_of_daily_counts_is_not_told_as_their_total(demo: Path) -> None:
    text = _flat(_run("pressure", "green", "-w", demo, "--day", "2050-04-16"))
    assert "rain and melted snow a day, mean of 7 days" in text
    assert "wet hours a day, mean of 3 days" in text
    assert "in all over" not in text


def test_a_day_in_progress_is_a_range_and_turns_nothing(demo: Path) -> None:
    today = json.loads(_run("pressure", "front-lawn", "-w", demo, "--json"))
    one = _models(today)["warm_wet_night"]
    assert today["day"] == "2050-07-25"
    assert not one["model"]["finished"]
    assert one["model"]["ways"] > 10
    assert one["crossings"] == []
    assert one["no_crossing"].startswith("The day is not over")
    assert one["distance"] is None


def test_what_was_not_known_then_is_not_told(demo: Path) -> None:
    """Asked on the 20th at 05:30, the day that ends at noon was not over; asked on the 25th, it was."""
    then = json.loads(_run("pressure", "front-lawn", "-w", demo, "--as-of", f"{DAY}T05:30", "--json"))
    assert then["day"] == DAY
    assert not _models(then)["warm_wet_night"]["model"]["finished"]


def test_a_day_ahead_and_an_unknown_area_are_refused(demo: Path) -> None:
    settings, database = open_workspace(demo)
    moment = datetime(2050, 7, 25, 9, 30, tzinfo=UTC)
    with pytest.raises(DataError, match="lies ahead"):
        area_pressure(settings, database, moment, "front-lawn", date(2050, 7, 26))
    with pytest.raises(DataError, match="no area 'lawn'"):
        area_pressure(settings, database, moment, "lawn")
    database.close()


def test_the_first_lines_tell_those_that_decide_from_the_others(demo: Path) -> None:
    text = _flat(_run("pressure", "oak-strip", "-w", demo, "--day", DAY)).partition("BROWN PATCH")[0]
    deciding, _, others = text.partition("Of the others")
    assert "Of those that decide here, passing in season: brown patch (warm wet night)." in deciding
    assert "dollar spot (five-day logistic model)" in others
    assert "five-day logistic model" not in deciding


def test_a_day_that_no_model_can_answer_for_is_not_called_quiet(demo: Path) -> None:
    text = _flat(_run("pressure", "oak-strip", "-w", demo, "--day", "1999-07-01"))
    assert "No model in season can answer for this day." in text
    assert "the first day with weather is 2040-10-31" in text
    assert "none passes" not in text


def test_a_model_switched_on_by_name_decides_and_the_page_says_so(tmp_path: Path) -> None:
    folder = demo_copy(tmp_path / "w")
    grounds = folder / "grounds.toml"
    text = grounds.read_text(encoding="utf-8")
    grounds.write_text(text.replace("[decisions]", 'models_switched_on = ["smith_2018"]\n\n[decisions]', 1), "utf-8")
    found = json.loads(_run("pressure", "front-lawn", "-w", folder, "--day", DAY, "--json"))
    assert _models(found)["smith_2018"]["decides"]
    page = _flat(_run("morning", "-w", folder))
    assert "Decides by your word alone, without a test on perennial ryegrass" in page
    grounds.write_text(text.replace("[decisions]", 'models_switched_on = ["smith_2081"]\n\n[decisions]', 1), "utf-8")
    done = CliRunner().invoke(cli, ["morning", "-w", str(folder)])
    assert isinstance(done.exception, SettingsError)
    assert "smith_2018" in str(done.exception)
