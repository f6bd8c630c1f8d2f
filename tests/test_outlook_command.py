"""``forecast outlook`` and ``forecast replay`` on the demo: what they say follows from what was known, and agrees."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from demo_workspace import demo_copy

from forecast.cli import cli
from forecast.errors import DataError
from forecast.report.outlook_picture import BOTTOM, TALL, TOP, level

AREA = "north-field"
BROWN_PATCH = ("--disease", "brown_patch")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_copy(tmp_path_factory.mktemp("outlook") / "w")


def _run(*arguments: str | Path) -> str:
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert done.exit_code == 0, done.output
    return done.stdout


def _fault(*arguments: str | Path) -> str:
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert isinstance(done.exception, DataError), done.output
    return str(done.exception)


@pytest.fixture(scope="module")
def page(demo: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(_run("outlook", "-w", demo, "--json"))
    return found


def _diseases(page: dict[str, Any]) -> list[dict[str, Any]]:
    return [disease for area in page["areas"] for disease in area["diseases"]]


def _brown_patch(page: dict[str, Any], area: str = AREA) -> dict[str, Any]:
    areas = {one["area_id"]: one for one in page["areas"]}
    found: dict[str, Any] = next(one for one in areas[area]["diseases"] if one["disease"] == "brown_patch")
    return found


def test_it_speaks_of_today_and_the_two_weeks_after(page: dict[str, Any]) -> None:
    assert page["schema"] == 2
    first = date(2050, 7, 25)
    for disease in _diseases(page):
        assert [day["day"] for day in disease["days"]] == [(first + timedelta(days=n)).isoformat() for n in range(15)]
        assert [day["so_far"] for day in disease["days"]] == [True] + [False] * 14
        assert [(week["first"], week["last"]) for week in disease["weeks"]] == [
            ("2050-07-26", "2050-08-01"),
            ("2050-08-02", "2050-08-08"),
        ]


def test_no_day_after_the_forecasts_end_is_told_by_it(page: dict[str, Any]) -> None:
    # Issued 25 July 06:00 UTC for 240 hours, to 4 August 02:00 clock time: 3 August is its last whole day, one is held.
    made = [
        day["chance"]["made"] for disease in _diseases(page) for day in disease["days"] if day["day"] > "2050-08-04"
    ]
    assert made
    assert "forecast" not in made
    assert "forecast" in {day["chance"]["made"] for day in _brown_patch(page)["days"][:4]}


def test_what_is_only_usual_equals_the_usual_chance(page: dict[str, Any]) -> None:
    for disease in _diseases(page):
        for day in disease["days"]:
            chance = day["chance"]
            if chance["made"] == "past_years":
                assert chance["value"] == chance["usual"]
            assert 0 <= chance["low"] <= chance["value"] <= chance["high"] <= 1


def test_a_week_agrees_with_its_days(page: dict[str, Any]) -> None:
    for disease in _diseases(page):
        for number, week in enumerate(disease["weeks"]):
            days = [day["chance"]["value"] for day in disease["days"][1 + 7 * number : 8 + 7 * number]]
            assert max(days) - 1e-9 <= week["any_day"]["value"] <= sum(days) + 1e-9
            assert 0 <= week["least"] <= week["most"] <= 7
            assert week["mean_days"] == pytest.approx(sum(days), abs=0.35), "calibrated apart, and near each other"
            # None at all in one of ten ways and more means that the least is none, and the other way round.
            assert (week["least"] == 0) == (1 - week["any_day"]["value"] >= 0.1 - 1e-6)


def test_a_ladder_falls_with_its_rungs(page: dict[str, Any]) -> None:
    ladder = _brown_patch(page)["ladder"]
    assert [step["at"] for step in ladder] == [1.0, 2.0]
    can_start, often = (np.array(step["chances"]) for step in ladder)
    # Members and past years both: whoever passes the higher rung passes the lower one.
    assert (often <= can_start + 1e-9).all()


def test_the_morning_page_tells_the_same_chances(demo: Path, page: dict[str, Any]) -> None:
    morning = json.loads(_run("morning", "-w", demo, "--offline", "--json"))
    areas = {area["area_id"]: area for area in morning["areas"]}
    compared = 0
    for area in page["areas"]:
        theirs = {disease["disease"]: disease for disease in areas[area["area_id"]]["diseases"]}
        for disease in area["diseases"]:
            for name, week in zip(("chance_week_1", "chance_week_2"), disease["weeks"], strict=True):
                assert theirs[disease["disease"]][name] == week["any_day"], "the next 7 days are the same 7 days"
            days = {day["day"]: day["value"] for day in theirs[disease["disease"]]["days"]}
            for day in disease["days"]:
                if day["day"] in days:
                    assert days[day["day"]] == day["chance"]["value"]
                    compared += 1
    assert compared > 50


def test_the_same_morning_is_told_the_same_to_the_byte(demo: Path, tmp_path: Path) -> None:
    other = demo_copy(tmp_path / "other")
    assert _run("outlook", "-w", demo, "--json") == _run("outlook", "-w", other, "--json")


def test_a_forecast_fetched_later_changes_nothing_told_before(demo: Path) -> None:
    # The page of 24 July knows the forecast of that night and not the next one.
    told = json.loads(_run("outlook", "-w", demo, "--as-of", "2050-07-24T05:30", "--json"))
    sentences = " ".join(text for _, texts in told["weather"] for text in texts)
    assert "issued Sun\u00a024\u00a0Jul" in sentences
    assert told["replay"] is True
    assert told["areas"][0]["diseases"][0]["days"][0]["day"] == "2050-07-24"


def test_before_any_forecast_was_issued_readings_tell(demo: Path) -> None:
    told = json.loads(_run("outlook", "-w", demo, "--as-of", "2050-04-28T05:30", "--json"))
    made = {day["chance"]["made"] for disease in _diseases(told) for day in disease["days"]}
    assert "forecast" not in made
    assert "readings" in made


def test_one_area_alone_is_told_as_among_the_others(demo: Path, page: dict[str, Any]) -> None:
    alone = json.loads(_run("outlook", "-w", demo, "--area", AREA, "--json"))
    assert [area["area_id"] for area in alone["areas"]] == [AREA]
    assert _brown_patch(alone) == _brown_patch(page)


def test_an_unknown_area_is_a_sentence(demo: Path) -> None:
    assert "nowhere" in _fault("outlook", "-w", demo, "--area", "nowhere")


@pytest.mark.parametrize("command", ["outlook", "season"])
def test_an_area_is_found_by_its_name_too(demo: Path, command: str) -> None:
    by_id = _run(command, "-w", demo, "--area", "oak-strip", "--json")
    assert _run(command, "-w", demo, "--area", "strip under the OAKS", "--json") == by_id


def test_what_holds_for_several_areas_is_told_once(demo: Path) -> None:
    flat = " ".join(_run("outlook", "-w", demo).split())
    # Front lawn and bowling green have the same Pythium blight event and shipped skill.
    assert flat.count("the day from noon to noon passes 30 °C") == 1
    assert flat.count("Pythium blight on Front lawn and Bowling green: tested on past mornings") == 1
    assert "goes by the date on which it ends" in flat
    assert "how wrong a model may be is not in them" in flat
    assert "% a day from Mon\u00a025\u00a0Jul on:" in _run("outlook", "-w", demo).replace("\n      ", " ")


def test_the_text_holds_the_answer_the_days_and_how_sure(demo: Path) -> None:
    text = _run("outlook", "-w", demo, "--area", AREA)
    flat = " ".join(text.split())
    assert text.index("At least one day of disease weather is") < text.index("Mon\u00a025\u00a0Jul so far")
    assert "only usual for the date" in flat
    assert "are the usual chances for the dates, not a forecast." in flat
    assert "tested on past mornings at five US airports" in flat
    assert "there such chances took away of the usual chances' error 1 day ahead" in flat
    assert "emulated" in flat, "the shipped skill is of emulated forecasts and says so"
    assert "It is weather, not disease." in flat
    assert "The label on the container is the law" in flat
    assert max(map(len, text.splitlines())) <= 88


def test_bars_stand_where_their_chances_are() -> None:
    # The drawing runs from TOP at 100 % to TALL − BOTTOM at 0 %.
    assert level(1.0) == TOP
    assert level(0.0) == TALL - BOTTOM
    assert level(0.5) == pytest.approx((TOP + TALL - BOTTOM) / 2, abs=0.05)


def test_the_drawing_fills_forecasts_and_leaves_usual_days_empty(demo: Path, tmp_path: Path) -> None:
    _run("outlook", "-w", demo, "--area", AREA, "--html", tmp_path / "o.html")
    html = (tmp_path / "o.html").read_text(encoding="utf-8")
    told = json.loads(_run("outlook", "-w", demo, "--area", AREA, "--json"))
    made = [day["chance"]["made"] for disease in _diseases(told) for day in disease["days"]]
    drawn = re.findall(
        r'<rect class="(\w+)" x="[\d.]+" y="[\d.]+" width="[\d.]+" height="[\d.]+"/>', html.split("<article", 1)[1]
    )
    assert drawn == [{"past_years": "usual"}.get(one, one) for one in made]
    assert "<script" not in html
    assert "://" not in html, "and it asks for nothing"


def test_a_replayed_season_tells_each_morning_as_its_own_page(demo: Path) -> None:
    days = ("--from", "2050-06-20", "--to", "2050-06-24")
    rows = list(csv.DictReader(io.StringIO(_run("replay", AREA, *BROWN_PATCH, *days, "-w", demo, "--csv"))))
    assert [row["date"] for row in rows] == [f"2050-06-{day}" for day in range(20, 25)]
    page = json.loads(_run("morning", "-w", demo, "--as-of", "2050-06-22T05:30", "--json"))
    area = next(one for one in page["areas"] if one["area_id"] == AREA)
    disease = next(one for one in area["diseases"] if one["disease"] == "brown_patch")
    row = rows[2]
    assert row["answer"] == disease["answer"]
    assert float(row["chance_week_1"]) == pytest.approx(disease["chance_week_1"]["value"], abs=5e-5)
    if disease["chance"] is not None:
        assert float(row["chance_to_next_visit"]) == pytest.approx(disease["chance"]["value"], abs=5e-5)
        assert row["made_of"] == disease["chance"]["made"]


def test_what_came_is_told_by_later_readings(demo: Path) -> None:
    days = ("--from", "2050-07-10", "--to", "2050-07-11")
    told = json.loads(_run("replay", AREA, *BROWN_PATCH, *days, "-w", demo, "--json"))
    pressed = 0
    for day in range(11, 18):  # the seven days after the morning of the 10th
        report = json.loads(_run("pressure", AREA, "-w", demo, "--day", f"2050-07-{day}", "--json"))
        models = {one["model"]["key"]: one for disease in report["diseases"] for one in disease["models"]}
        pressed += models["warm_wet_night"]["passed"] == 1
    assert told["mornings"][0]["days_week_1"] == pressed


def test_a_replay_of_days_to_come_or_of_no_model_is_a_sentence(demo: Path) -> None:
    one = _fault("replay", AREA, "--disease", "brown_patch", "--from", "2050-08-20", "-w", demo)
    assert "only mornings that have been can be replayed" in one
    other = _fault("replay", AREA, "--disease", "dollar_spot", "--from", "2050-06-20", "-w", demo)
    assert "no tested model" in other
    third = _fault("replay", AREA, "--disease", "large_patch", "--from", "2050-06-20", "-w", demo)
    assert "no disease of the grass" in third
    early = _fault("replay", AREA, "--disease", "brown_patch", "--from", "2035-07-01", "-w", demo)
    assert "the weather known here begins on" in early


@pytest.mark.parametrize(("year", "past"), [(2041, 0), (2042, 1), (2044, 3), (2049, 8)])
def test_a_short_record_says_less_and_says_so(demo: Path, year: int, past: int) -> None:
    """The invented record begins in November 2040; the archive of forecasts in 2050."""
    told = _brown_patch(
        json.loads(_run("outlook", "-w", demo, "--area", AREA, "--as-of", f"{year}-07-25T05:30", "--json"))
    )
    assert told["years"] == past
    chances = [day["chance"] for day in told["days"]]
    assert all((chance is None) == (past == 0) for chance in chances)
    if past:
        assert all(chance["made"] in {"readings", "past_years"} for chance in chances)
        assert all(0 < chance["value"] < 1 for chance in chances[1:])
        assert all(chance["low"] < chance["value"] < chance["high"] for chance in chances[1:])
    text = _run("outlook", "-w", demo, "--area", AREA, "--as-of", f"{year}-07-25T05:30")
    assert ("there are no past years of weather here" in text) == (past == 0)


def test_fewer_years_are_wider(demo: Path) -> None:
    def width(year: int) -> float:
        page = json.loads(_run("outlook", "-w", demo, "--area", AREA, "--as-of", f"{year}-07-25T05:30", "--json"))
        chances = [day["chance"] for day in _brown_patch(page)["days"][8:]]
        return float(np.mean([chance["high"] - chance["low"] for chance in chances]))

    assert width(2042) > width(2044) > width(2049)


def test_a_season_taken_out_counts_no_longer_and_stops_nothing(demo: Path, tmp_path: Path) -> None:
    holed = demo_copy(tmp_path / "holed")
    for quantity in ("air_temperature_c", "relative_humidity_pct"):
        words = ("--from", "2047-05-01", "--to", "2047-10-01", "--reason", "the sensor hung in the shed")
        _run("weather", "withdraw", "--station", "alder-reach", "--quantity", quantity, *words, "-w", holed)
    # What was withdrawn today was still believed on the demo's morning; the next one knows.
    whole, fewer = (
        _brown_patch(json.loads(_run("outlook", "-w", one, "--area", AREA, "--as-of", "2050-07-26T05:30", "--json")))
        for one in (demo, holed)
    )
    assert (whole["years"], fewer["years"]) == (9, 8)
    assert all(day["chance"] is not None for day in fewer["days"])


@pytest.mark.parametrize("command", ["outlook", "morning"])
def test_a_hole_in_last_nights_readings_stops_no_page(tmp_path: Path, command: str) -> None:
    holed = demo_copy(tmp_path / "holed")
    for quantity in ("air_temperature_c", "relative_humidity_pct"):
        words = ("--from", "2050-07-24T22:00", "--to", "2050-07-25T06:00", "--reason", "unplugged")
        _run("weather", "withdraw", "--station", "alder-reach", "--quantity", quantity, *words, "-w", holed)
    told = json.loads(_run(command, "-w", holed, "--as-of", "2050-07-26T05:30", "--json"))
    assert told["areas"]


def test_a_damaged_calibration_stops_no_page_and_is_told(tmp_path: Path) -> None:
    damaged = demo_copy(tmp_path / "damaged")
    (damaged / "calibration.json").write_text("{")
    text = " ".join(_run("outlook", "-w", damaged, "--area", AREA).split())
    assert "the shipped weights stand" in text
    assert "forecast verify --keep" in text


def test_a_date_alone_is_its_morning(demo: Path) -> None:
    day, morning = (
        _run("outlook", "-w", demo, "--area", AREA, "--as-of", one, "--json")
        for one in ("2050-07-20", "2050-07-20T05:30")
    )
    assert day == morning


def test_a_forecast_more_than_two_days_old_enters_no_chance(demo: Path) -> None:
    # The last one was issued on 15 September, 06:00 UTC.
    told = json.loads(_run("outlook", "-w", demo, "--area", AREA, "--as-of", "2050-09-18T05:30", "--json"))
    made = {day["chance"]["made"] for disease in _diseases(told) for day in disease["days"]}
    assert made <= {"readings", "past_years"}
    assert "more than two days old" in " ".join(text for _, texts in told["weather"] for text in texts)
    fresh = json.loads(_run("outlook", "-w", demo, "--area", AREA, "--as-of", "2050-09-16T05:30", "--json"))
    assert "forecast" in {day["chance"]["made"] for disease in _diseases(fresh) for day in disease["days"]}


def test_a_watered_stand_keeps_its_set_days_to_the_end(page: dict[str, Any]) -> None:
    """The strip under the oaks is watered on set days: leaves are wet then, and no usual chance of a date knows it."""
    chances = [day["chance"]["value"] for day in _brown_patch(page, "oak-strip")["days"][8:]]
    assert max(chances) > 0.6
    assert min(chances) < 0.4
