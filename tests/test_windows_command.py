"""``forecast windows`` on the demo: it asks for what the morning page asks for, in hours that nothing stops."""

from __future__ import annotations

import csv
import json
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from demo_workspace import demo_copy

from forecast.cli import cli
from forecast.schedule.stretches import Run, best_run, runs

AS_OF = ("--as-of", "2050-07-18T05:30")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_copy(tmp_path_factory.mktemp("windows") / "w")


def _run(*arguments: str | Path) -> str:
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert done.exit_code == 0, done.output
    return done.stdout


def _page(demo: Path, *arguments: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(_run("windows", "-w", demo, *arguments, "--json"))
    return found


@pytest.fixture(scope="module")
def page(demo: Path) -> dict[str, Any]:
    return _page(demo, *AS_OF)


def _of(page: dict[str, Any], area: str, disease: str = "brown_patch") -> dict[str, Any]:
    areas = {one["area_id"]: one for one in page["areas"]}
    found: dict[str, Any] = next(one for one in areas[area]["diseases"] if one["disease"] == disease)
    return found


def _changed(folder: Path, name: str, old: str, new: str) -> Path:
    own = demo_copy(folder / "w")
    path = own / name
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new))
    return own


# Stretches.


def test_a_stretch_has_two_hours_at_least() -> None:
    fit = np.array([True, False, True, True, False, True, True, True])
    share = np.array([0.9, 0.1, 0.85, 0.95, 0.2, 1.0, 0.8, 0.9])
    assert runs(fit, share) == [Run(2, 3, 0.85), Run(5, 7, 0.8)]
    assert runs(np.zeros(4, dtype=bool), share[:4]) == []
    assert runs(np.ones(3, dtype=bool), share[5:]) == [Run(0, 2, 0.8)]


def test_the_best_stretch_leaves_a_later_day_in_reserve() -> None:
    long, short, sure = Run(0, 5, 0.8), Run(0, 1, 0.9), Run(0, 3, 0.95)
    assert best_run([]) is None
    assert best_run([(1, short)]) == 0
    assert best_run([(1, sure), (2, short), (3, sure)]) == 1, "day 3 is the reserve, and day 1 wears off earlier"
    assert best_run([(2, short), (2, long), (3, sure)]) == 1, "four hours at 0.8 are 3.2, two at 0.9 are 1.8"
    assert best_run([(2, long), (2, sure), (3, short)]) == 1, "more than four hours count as four: 3.2 and 3.8"
    assert best_run([(2, sure), (2, sure)]) == 0, "of equal ones the first"


# The page.


def test_it_asks_for_what_the_morning_page_asks_for(demo: Path, page: dict[str, Any]) -> None:
    morning = json.loads(_run("morning", "-w", demo, *AS_OF, "--json"))
    told = {
        (area["area_id"], one["disease"]): (one["answer"], one["reasons"], one["needed_by"])
        for area in morning["areas"]
        for one in area["diseases"]
    }
    here = {
        (area["area_id"], one["disease"]): (one["answer"], one["reasons"], one["needed_by"])
        for area in page["areas"]
        for one in area["diseases"]
    }
    assert here.keys() == told.keys()
    for key, (answer, reasons, needed_by) in told.items():
        assert here[key] == (answer, reasons, needed_by if answer == "treat" else None)
    assert _of(page, "north-field")["answer"] == "treat"


def test_every_hour_of_a_stretch_is_fit_and_every_other_says_why_not(page: dict[str, Any]) -> None:
    window = _of(page, "north-field")
    hours = {datetime.fromisoformat(hour["start"]): hour for hour in window["hours"]}
    fit = {start for start, hour in hours.items() if hour["fit_share"] is not None and hour["fit_share"] >= 0.8 - 1e-9}
    covered: set[datetime] = set()
    for day in window["days"]:
        for stretch in day["stretches"]:
            first, end = (datetime.fromisoformat(stretch[name]) for name in ("start", "end"))
            inside = {start for start in hours if first <= start < end}
            assert len(inside) >= 2
            assert inside <= fit
            assert min(hours[start]["fit_share"] for start in inside) == pytest.approx(stretch["least_share"])
            assert all(6 <= start.hour < 18 for start in inside)
            covered |= inside
    alone = fit - covered  # one fit hour alone is no stretch
    assert all(start.replace(hour=(start.hour + 1) % 24) not in fit for start in alone)
    for start in set(hours) - fit:
        assert hours[start]["stops"], f"{start} says why"
    assert sum(day["fit_hours"] for day in window["days"]) == len(fit)


def test_best_and_last_lie_before_it_is_too_late(page: dict[str, Any]) -> None:
    window = _of(page, "north-field")
    needed = window["needed_by"]
    best, last = (datetime.fromisoformat(window[name]["start"]) for name in ("best", "last"))
    assert best <= last
    assert f"{last:%Y-%m-%d}" < needed
    assert all(day["day"] < needed for day in window["days"])
    late = [day["too_late_chance"] for day in window["days"]]
    assert late == sorted(late), "waiting never makes it earlier"
    assert late[0] == 0, "cover lasts till Friday"
    assert late[-1] < 0.30, "the owner's line"


def test_the_text_says_by_when_first(demo: Path) -> None:
    flat = " ".join(_run("windows", "-w", demo, "--area", "North field", *AS_OF).replace("\u00a0", " ").split())
    words = (
        "Brown patch: cover is needed by the night before Sun 24 Jul. Best stretch", "the last one",
        "because cover runs out", "Mon 18 Jul:", "(its label)", "Gear: long sleeves", "Keep off: people and pets",
        "No tested model: dollar spot", "Gusts are not in these forecasts", "A stretch is a plan and no clearance",
        "The label on the container is the law",
    )  # fmt: skip
    places = [flat.index(word) for word in words]
    assert places == sorted(places)


def test_the_same_morning_is_told_the_same_to_the_byte(demo: Path) -> None:
    assert _run("windows", "-w", demo, *AS_OF, "--json") == _run("windows", "-w", demo, *AS_OF, "--json")


def test_an_hour_that_has_begun_is_none_to_plan_with(demo: Path) -> None:
    for moment, first in (("2050-07-18T09:30", "2050-07-18T10:00"), ("2050-07-18T10:00", "2050-07-18T10:00")):
        window = _of(_page(demo, "--area", "north-field", "--as-of", moment), "north-field")
        assert min(hour["start"] for hour in window["hours"]).startswith(first)


def test_one_area_alone_is_told_as_among_the_others(demo: Path, page: dict[str, Any]) -> None:
    alone = _page(demo, "--area", "north-field", *AS_OF)
    assert [area["area_id"] for area in alone["areas"]] == ["north-field"]
    assert _of(alone, "north-field") == _of(page, "north-field")


def test_hours_follow_crew_and_closed_days(tmp_path: Path) -> None:
    work = '[work]\nstart = "06:00"\nend = "09:00"\ndays = "mon tue wed thu fri"\nclosed = [2050-07-19]\n\n[[station]]'
    own = _changed(tmp_path, "grounds.toml", "[[station]]", work)
    window = _of(_page(own, *AS_OF), "north-field")
    days = {day["day"]: day for day in window["days"]}
    assert days["2050-07-19"]["working_hours"] == 0
    assert days["2050-07-23"]["working_hours"] == 0, "a Saturday"
    for day in window["days"]:
        assert day["working_hours"] <= 3
        for stretch in day["stretches"]:
            first, end = (datetime.fromisoformat(stretch[name]) for name in ("start", "end"))
            assert (first.hour, end.hour) >= (6, 7)
            assert end.hour <= 9
    text = " ".join(_run("windows", "-w", own, *AS_OF).split())
    assert "Tue 19 Jul: nobody works here on that day." in text


def test_what_fell_before_the_page_was_read_is_not_forgotten(tmp_path: Path) -> None:
    """15 mm put on from 03:00 to 04:00, the page read at 05:30.

    The six hours up to the one that begins at 08:00 still hold the hour that ended at 04:00; those up to the next
    do not.
    """
    own = demo_copy(tmp_path / "w")
    path = own / "properties.csv"
    rows = list(csv.DictReader(path.read_text().splitlines()))
    rows[0] |= {
        "irrigation_days": "mon tue wed thu fri sat sun",
        "irrigation_start": "03:00",
        "irrigation_depth_mm": "15",
    }
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    window = _of(_page(own, "--area", "north-field"), "north-field")
    wet = {hour["start"][11:13] for hour in window["hours"] if ["ground too wet", 1.0] in hour["stops"]}
    assert {"06", "07", "08"} <= wet
    assert "09" not in wet


def test_a_label_that_no_weather_meets_leaves_no_stretch(tmp_path: Path) -> None:
    hottest = "temperature_most = { amount = 95,"
    own = _changed(tmp_path, "labels.toml", hottest, hottest.replace("95", "40"))
    window = _of(_page(own, *AS_OF), "north-field")
    assert window["best"] is None
    assert {stop for day in window["days"] for stop in day["stops"]} >= {"too hot"}
    text = " ".join(_run("windows", "-w", own, "--area", "north-field", *AS_OF).split())
    assert "and no stretch of fit hours is left before it." in text


def test_a_day_that_the_label_forbids_has_no_stretch_to_take(tmp_path: Path) -> None:
    """Applied on 1 July: with 20 least days the 21st is the first that the label permits."""
    own = _changed(tmp_path, "labels.toml", "least_days = 14\n  most_days = 21", "least_days = 20\n  most_days = 21")
    window = _of(_page(own, *AS_OF), "north-field")
    assert window["days"][0]["day"] == "2050-07-21"
    assert window["best"]["start"] >= "2050-07-21"


@pytest.mark.parametrize(
    ("work", "told"),
    [
        ('start = "18:00"\nend = "06:00"', "end must come after start"),
        ('days = ""', "name the days on which people work"),
        ('days = "mon tues"', "no weekday"),
        ("closed = [2050]", "closed"),
    ],
)
def test_working_hours_typed_wrongly_are_refused(tmp_path: Path, work: str, told: str) -> None:
    own = _changed(tmp_path, "grounds.toml", "[[station]]", f"[work]\n{work}\n\n[[station]]")
    done = CliRunner().invoke(cli, ["windows", "-w", str(own)])
    assert done.exit_code != 0
    assert told in str(done.exception)
