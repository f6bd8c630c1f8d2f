"""``forecast verify`` on the demo: its scores are those of the mornings it told, and what it fits pages go by."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from demo_workspace import demo_copy
from pydantic import TypeAdapter

from forecast.cli import cli
from forecast.cli.common import open_workspace
from forecast.desk.verifying import verify
from forecast.errors import DataError
from forecast.report.verify import SHOWN_LEADS, ScoreReport, VerifyReport, paragraph, verify_text

EVERY = "25"  # one morning in so many: six to nine a season, enough for every path


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_copy(tmp_path_factory.mktemp("verify") / "w")


def _run(*arguments: str | Path) -> str:
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.fixture(scope="module")
def report(demo: Path) -> dict[str, Any]:
    folder = demo.parent
    told = _run(
        "verify", "-w", demo, "--area", "green", "--every", EVERY, "--emulate", "typical", "--keep",
        "--html", folder / "verify.html", "--json",
    )  # fmt: skip
    found: dict[str, Any] = json.loads(told)
    return found


def _event(report: dict[str, Any], disease: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in report["events"] if one["disease"] == disease)
    return found


def test_it_is_told_how_far_it_is_and_on_how_little_a_fit_rests(demo: Path, tmp_path: Path) -> None:
    own = tmp_path / "w"
    shutil.copytree(demo, own)
    arguments = ["verify", "-w", str(own), "--area", "North field", "--every", "30", "--keep", "--json"]
    done = CliRunner().invoke(cli, arguments)
    assert done.exit_code == 0
    assert "brown patch, readings: 10 seasons told again" in done.stderr
    assert "rest on one morning in 30 only" in done.stderr


def test_readings_come_as_late_as_the_nearest_station_sends_them(demo: Path, tmp_path: Path) -> None:
    """A far station that sends at once, named first, does not make the near one's readings come sooner."""
    own = tmp_path / "w"
    shutil.copytree(demo, own)
    grounds = (own / "grounds.toml").read_text()
    far = """[[station]]
id = "far"
name = "Far away (invented)"
latitude_deg = 60.0
longitude_deg = -75.0
elevation_m = 10.0
observation_lag_minutes = 0

"""
    first = grounds.index("[[station]]")
    (own / "grounds.toml").write_text(grounds[:first] + far + grounds[first:])
    settings, database = open_workspace(own)
    moment = datetime(2050, 7, 25, 9, 30, tzinfo=UTC)
    found = verify(settings, database, moment, area_id="north-field", every_days=60)
    database.close()
    assert "readings that come 180 minutes late" in found.report.told_at


def test_every_event_of_the_area_is_told_in_three_ways(report: dict[str, Any]) -> None:
    assert {event["disease"] for event in report["events"]} >= {"brown_patch", "dollar_spot", "pythium_blight"}
    for event in report["events"]:
        assert [(one["source"], one["emulated"]) for one in event["sources"]] == [
            ("readings", ""),
            ("forecast", ""),
            ("forecast", "typical"),
        ], event["disease"]


def test_only_mornings_with_an_archived_forecast_are_told_by_one(report: dict[str, Any]) -> None:
    readings, issued, emulated = _event(report, "dollar_spot")["sources"]
    assert issued["seasons"] == 1
    assert "2050-05-01" <= issued["first"] <= issued["last"] <= "2050-07-25"
    assert readings["seasons"] >= 9
    assert "emulated" in emulated["made"]
    assert "prove no provider" in emulated["made"]
    assert "invented weather forecast" in issued["made"]


def test_skill_is_one_less_the_quotient_of_the_brier_scores(report: dict[str, Any]) -> None:
    compared = 0
    for event in report["events"]:
        for source in event["sources"]:
            for lead in source["leads"]:
                if lead["skill"]["value"] is None or lead["told_by"] == "usual":
                    continue
                assert lead["skill"]["value"] == pytest.approx(1 - lead["brier"] / lead["usual_brier"], abs=1e-9)
                total = lead["miscalibration"] - lead["discrimination"] + lead["uncertainty"]
                assert total == pytest.approx(lead["brier"], abs=1e-9)
                compared += 1
    assert compared > 5


def test_beyond_the_days_worth_acting_on_the_usual_chance_is_told(report: dict[str, Any]) -> None:
    for event in report["events"]:
        for source in event["sources"]:
            for lead in source["leads"]:
                assert (lead["told_by"] == "usual") == (lead["days_ahead"] > source["better_days"])
                if lead["days_ahead"] <= source["act_days"]:
                    assert lead["skill"]["low"] > 0
                    assert lead["skill"]["value"] >= 0.05
                if lead["told_by"] == "usual":
                    assert lead["brier"] == pytest.approx(lead["usual_brier"])


def test_an_emulated_forecast_is_worth_more_than_readings(report: dict[str, Any]) -> None:
    readings, _, emulated = _event(report, "dollar_spot")["sources"]
    for days in (2, 3, 4):
        assert emulated["leads"][days]["skill"]["value"] > readings["leads"][days]["skill"]["value"]


def test_one_season_of_forecasts_proves_nothing_and_says_so(demo: Path) -> None:
    settings, database = open_workspace(demo)
    found = verify(settings, database, datetime(2050, 7, 25, 9, 30, tzinfo=UTC), area_id="green", every_days=30)
    database.close()
    text = " ".join(verify_text(found.report).split())
    assert "only 1 season could be told again: too few to say" in text
    assert not any(key.endswith("by forecast") for key in found.tables), "nor is anything fitted on it"


def test_what_was_kept_is_what_pages_go_by_from_then_on(demo: Path, report: dict[str, Any]) -> None:
    kept = json.loads((demo / "calibration.json").read_text(encoding="utf-8"))
    assert len(kept["fits"]) == 1
    assert set(kept["fits"][0]["tables"]) == {f"{event['key']} by readings" for event in report["events"]}
    # Without forecasts in the archive the outlook goes by readings, and tells the skill that was found here.
    told = json.loads(_run("outlook", "-w", demo, "--area", "green", "--as-of", "2050-07-25T05:30", "--json"))
    assert told["areas"]
    before = json.loads(_run("outlook", "-w", demo, "--area", "green", "--as-of", "2050-04-28T05:30", "--json"))
    assert before["areas"][0]["diseases"]
    made = [one["skill_made"] for one in before["areas"][0]["diseases"]]
    assert any("five US airports" in one for one in made)
    assert not any("past mornings here" in one for one in made), "a replay does not know a later fit"


def test_a_second_fit_stands_beside_the_first(demo: Path, tmp_path: Path, report: dict[str, Any]) -> None:
    assert report
    copy = tmp_path / "again"
    shutil.copytree(demo, copy)
    _run("verify", "-w", copy, "--area", "north-field", "--every", "30", "--keep")
    kept = json.loads((copy / "calibration.json").read_text(encoding="utf-8"))
    assert len(kept["fits"]) == 2
    assert kept["fits"][0] == json.loads((demo / "calibration.json").read_text(encoding="utf-8"))["fits"][0]


def test_the_page_holds_a_paragraph_a_picture_and_a_table_a_source(demo: Path, report: dict[str, Any]) -> None:
    html = (demo.parent / "verify.html").read_text(encoding="utf-8")
    # One season of archived forecasts is too few for scores, and none are printed of it.
    sources = sum(source["seasons"] >= 3 for event in report["events"] for source in event["sources"])
    assert html.count("would mislead and are not printed") == len(report["events"])
    assert html.count("<figure") == sources
    assert html.count("<table>") == sources
    assert html.count("<tbody>") == sources
    assert html.count('class="lead"') == len(report["events"])
    rows = html.count("<tr><td>")
    assert rows == sources * len(SHOWN_LEADS)
    assert "<script" not in html
    assert "not of disease" in html


def test_the_text_says_how_far_ahead_to_act(demo: Path) -> None:
    text = _run("verify", "-w", demo, "--area", "north-field", "--every", "30", "--openings")
    flat = " ".join(text.split())
    assert "the usual chance for the date" in flat
    assert "left out whole" in flat
    # Nine past seasons, of which the demo's record is whole; the mornings before each opening every fourteen days.
    assert re.search(r"opening of the season, told from readings on \d+ mornings before it in 9 seasons: skill", flat)
    assert re.search(r"The range of eight in ten held it on \d+.% of mornings", flat)


@pytest.mark.parametrize(
    ("better", "act", "words"),
    [
        (0, 0, "no day ahead is surely told better than by the usual chance for the date."),
        (2, 0, "surely better than the usual ones up to 2 days ahead, but by too little to act on: they take away 40"),
        (
            1,
            1,
            "worth acting on up to 1 day ahead: they take away 40\u00a0% (30 to 50) of the usual chance's error 1 day",
        ),
        (4, 3, "and 20\u00a0% (10 to 30) on the last of these days. Up to 4 days ahead they are still a little better"),
    ],
)
def test_the_paragraph_says_what_is_worth_acting_on(report: dict[str, Any], better: int, act: int, words: str) -> None:
    one = TypeAdapter(VerifyReport).validate_python(report).events[0]
    source = replace(one.sources[0], better_days=better, act_days=act)
    leads = [replace(source.leads[0], skill=ScoreReport(0.4, 0.3, 0.5)), source.leads[1]]
    leads += [replace(source.leads[2], skill=ScoreReport(0.2, 0.1, 0.3)), *source.leads[3:]]
    assert words in paragraph(replace(one, sources=(replace(source, leads=tuple(leads)),)))


def test_an_area_that_is_not_there_is_a_sentence(demo: Path) -> None:
    done = CliRunner().invoke(cli, ["verify", "-w", str(demo), "--area", "nowhere"])
    assert isinstance(done.exception, DataError)
    assert "nowhere" in str(done.exception)
