"""The command as a person meets it: words, exit codes, and nothing lost when the input is bad."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from demo_workspace import demo_copy

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """The command in a process of its own, in an empty folder and a bare environment."""

    def go(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "forecast", *map(str, arguments)],
            cwd=tmp_path,
            env={"PATH": os.environ["PATH"], "HOME": str(tmp_path), "LANG": "C.UTF-8"},
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )

    return go


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    return demo_copy(tmp_path / "demo")


def _stored(demo: Path) -> str:
    """Every row of the database, as text: the measure of 'nothing lost'."""
    with sqlite3.connect(demo / "workspace.sqlite") as connection:
        dump = "\n".join(connection.iterdump())
    connection.close()
    return dump


def test_data_go_to_stdout_and_talk_to_stderr(run: Run, tmp_path: Path) -> None:
    made = run("start", "--demo", "demo")
    assert made.returncode == 0
    assert made.stdout == ""
    assert "forecast morning --workspace demo" in made.stderr
    told = run("morning", "--workspace", "demo")
    assert told.returncode == 0
    assert told.stderr == ""
    assert told.stdout.startswith("Morning page, Monday 25 July 2050")
    written = run("morning", "-w", "demo", "--html", tmp_path / "pages" / "page.html")
    assert written.stdout == ""
    assert "wrote" in written.stderr


def test_help_names_every_command_and_a_first_example(run: Run) -> None:
    told = run("--help")
    assert told.returncode == 0
    for word in ("start", "weather", "morning", "record", "forecast start --demo demo"):
        assert word in told.stdout


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (("morning",), 66, "forecast start"),
        (("morning", "--workspace", "nowhere"), 66, "is no workspace"),
        (("mourning",), 2, "No such command"),
        (("start", "place"), 2, "--name, --latitude"),
        (("weather", "load", "x.csv"), 2, "--station"),
    ],
)
def test_a_wrong_call_says_what_is_wanted(run: Run, arguments: tuple[str, ...], code: int, told: str) -> None:
    done = run(*arguments)
    assert done.returncode == code
    assert told in done.stderr
    assert "Traceback" not in done.stderr


def test_a_folder_with_something_in_it_is_left_alone(run: Run, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("keep me")
    done = run("start", "--demo", "mine")
    assert done.returncode == 73
    assert [path.name for path in (tmp_path / "mine").iterdir()] == ["letter.txt"]


def test_a_place_described_wrongly_leaves_nothing_behind(run: Run, tmp_path: Path) -> None:
    done = run(
        "start",
        "place",
        "--name",
        "P",
        "--latitude",
        "40",
        "--longitude",
        "-80",
        "--time-zone",
        "Eastern",
        "--grass",
        "x",
        "--offline",
    )
    assert done.returncode in (65, 78)
    assert not (tmp_path / "place").exists()


@pytest.mark.parametrize(
    ("file", "told"),
    [
        ("hour_utc,humidity\n2040-10-31T00:00Z,80\n", "no column carries a quantity"),
        ("hour_utc,air_temperature_c\n2051-01-01T00:00Z,20\n", "a forecast is no observation"),
        ("", "empty"),
        ("hour_utc,air_temperature_c,relative_humidity_pct\n", "no hours"),
        (
            "hour_utc,air_temperature_c,relative_humidity_pct\n2040-10-31T00:00Z,warm,80\n2040-10-31T01:00Z,3,damp\n",
            "line 3, relative_humidity_pct: 'damp' is not a number",
        ),
        (
            "hour_utc,air_temperature_c,relative_humidity_pct\n2040-10-31T00:00Z,3,80\n2040-10-31T00:00Z,4,80\n",
            "other values than in line 2",
        ),
        (
            "hour_utc,air_temperature_c,relative_humidity_pct\n2040-10-31T02:00Z,3,80\n2040-10-31T01:00Z,4,80\n",
            "jumps back",
        ),
        (
            "hour_utc,air_temperature_c,relative_humidity_pct\n2040-07-01T00:00Z,75,80\n2040-07-01T01:00Z,77,81\n",
            "is the unit right?",
        ),
        (
            # 2050-07-25T05:00Z stands already with another value.
            "hour_utc,air_temperature_c,relative_humidity_pct\n2050-07-25T05:00Z,-11.1,80\n",
            "stand with other figures",
        ),
    ],
)
def test_a_bad_file_gets_a_clear_error_and_nothing_is_lost(
    run: Run, demo: Path, tmp_path: Path, file: str, told: str
) -> None:
    before = _stored(demo)
    (tmp_path / "bad.csv").write_text(file)
    done = run("weather", "load", "bad.csv", "--station", "alder-reach", "-w", demo)
    assert done.returncode == 65
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert _stored(demo) == before


def test_all_mistakes_of_a_file_come_at_once_by_line(run: Run, demo: Path, tmp_path: Path) -> None:
    rows = ["hour_utc,air_temperature_c,relative_humidity_pct"]
    rows += [f"2040-10-31T{hour:02}:00Z,{'x' if hour % 2 else 5},80" for hour in range(24)]
    (tmp_path / "bad.csv").write_text("\n".join(rows) + "\n")
    done = run("weather", "load", "bad.csv", "--station", "alder-reach", "-w", demo)
    told = [line for line in done.stderr.splitlines() if "is not a number" in line]
    assert [line.split(",")[0].strip() for line in told] == [f"line {line}" for line in range(3, 26, 2)]


def test_a_wrong_unit_in_a_mapping_names_the_ones_there_are(run: Run, demo: Path, tmp_path: Path) -> None:
    (tmp_path / "map.toml").write_text(
        'schema = 1\ntime_column = "t"\nutc_offset_hours = 0\n[columns]\n'
        'air_temperature_c = { column = "a", unit = "degrees" }\n'
    )
    (tmp_path / "x.csv").write_text("t,a\n2040-10-31T00:00,1\n")
    done = run("weather", "load", "x.csv", "--station", "alder-reach", "--map", "map.toml", "-w", demo)
    assert done.returncode == 78
    assert "is not one of C, F, K" in done.stderr


def test_a_workspace_of_a_newer_version_is_left_as_it_is(run: Run, demo: Path) -> None:
    with sqlite3.connect(demo / "workspace.sqlite") as connection:
        connection.execute("UPDATE schema_version SET version = 999")
    connection.close()
    before = (demo / "workspace.sqlite").read_bytes()
    for command in (("morning",), ("record", "list"), ("weather", "list")):
        done = run(*command, "-w", demo)
        assert done.returncode == 78
        assert "newer version" in done.stderr
    assert (demo / "workspace.sqlite").read_bytes() == before


def test_loading_the_same_file_twice_changes_nothing(run: Run, demo: Path, tmp_path: Path) -> None:
    (tmp_path / "more.csv").write_text(
        "hour_utc,air_temperature_c,relative_humidity_pct\n2040-10-31T00:00Z,3.5,80\n2040-10-31T01:00Z,3.25,81\n"
    )
    first = run("weather", "load", "more.csv", "--station", "alder-reach", "-w", demo)
    again = run("weather", "load", "more.csv", "--station", "alder-reach", "-w", demo)
    assert "4 new values, 0 already there" in first.stderr
    assert "0 new values, 4 already there, 0 replaced" in again.stderr


def test_replace_lets_new_values_in_and_counts_them(run: Run, demo: Path, tmp_path: Path) -> None:
    (tmp_path / "new.csv").write_text("hour_utc,air_temperature_c,relative_humidity_pct\n2050-07-25T05:00Z,-11.1,80\n")
    done = run("weather", "load", "new.csv", "--station", "alder-reach", "--replace", "-w", demo)
    assert done.returncode == 0
    assert "2 replaced" in done.stderr


def test_an_application_is_recorded_and_covers_the_next_morning(run: Run, demo: Path) -> None:
    done = run(
        "record", "application", "north-field", "--label", "alder-one", "--disease", "brown_patch",
        "--on", "2050-07-25T05:10", "--amount", "65.34 fl oz", "--by", "R. Quill", "-w", demo,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout == "application 7 recorded\n"
    assert done.stderr == "", "the label's rate exactly is no deviation"
    rows = json.loads(run("record", "list", "--json", "-w", demo).stdout)
    assert rows["schema"] == 1
    added = next(row for row in rows["records"] if row["kind"] == "application" and row["record_id"] == 7)
    assert added["happened_on"] == "2050-07-25"
    told = json.loads(run("morning", "--json", "-w", demo).stdout)
    brown_patch = told["areas"][0]["diseases"][0]
    assert brown_patch["answer"] == "hold"
    assert brown_patch["cover"]["gone_after"] == "2050-08-15", "21 days on"


def test_a_deviation_is_recorded_and_named(run: Run, demo: Path) -> None:
    done = run(
        "record", "application", "north-field", "--label", "alder-one", "--disease", "brown_patch",
        "--on", "2026-07-01T07:00", "--amount", "100 fl oz", "-w", demo,
    )  # fmt: skip
    assert done.returncode == 0
    assert "deviation from the label: more than the label's preventive rate" in done.stderr
    rows = json.loads(run("record", "list", "--json", "-w", demo).stdout)["records"]
    deviations = [row["deviations"] for row in rows if row["kind"] == "application"]
    assert deviations[:-1] == [[]] * 6
    assert "preventive rate" in deviations[-1][0]


def test_nothing_seen_counts_as_an_entry_and_a_mistake_is_taken_back_not_erased(run: Run, demo: Path) -> None:
    assert (
        run("record", "scouting", "oak-strip", "--saw", "nothing", "--on", "2026-07-01T06:10", "-w", demo).stdout
        == "scouting 3 recorded\n"
    )
    done = run("record", "void", "scouting", "3", "--reason", "wrong area", "-w", demo)
    assert done.stdout == "scouting 3 taken back by scouting 4\n"
    listed = run("record", "list", "-w", demo).stdout.splitlines()
    assert any(line.startswith("scouting 3:") for line in listed)
    assert any(line.startswith("scouting 4:") and "taken back: wrong area" in line for line in listed)
    again = run("record", "void", "scouting", "3", "--reason", "twice", "-w", demo)
    assert again.returncode == 65
    assert "amended by record 4" in again.stderr


@pytest.mark.parametrize(
    ("call", "told"),
    [
        ("application nowhere --label alder-one --disease brown_patch --on 2026-07-01", "no area"),
        ("application green --label alder --disease brown_patch --on 2026-07-01", "no label"),
        ("application green --label alder-one --disease rust --on 2026-07-01", "no disease"),
        ("application green --label alder-one --disease brown_patch --on 2051-07-01", "lies in the future"),
        ("scouting green --saw moss --on 2026-07-01", "no disease"),
        ("scouting green --saw nothing --on 2026-07-01 --amends 99", "no scouting record 99"),
    ],
)
def test_a_record_that_cannot_be_right_is_refused(run: Run, demo: Path, call: str, told: str) -> None:
    before = _stored(demo)
    done = run("record", *call.split(), "-w", demo)
    assert done.returncode == 65
    assert told in done.stderr
    assert _stored(demo) == before


def test_a_weight_is_no_amount_of_a_product_measured_by_volume(run: Run, demo: Path) -> None:
    done = run(
        "record", "application", "green", "--label", "alder-one", "--disease", "brown_patch", "--on", "2026-07-01",
        "--amount", "2 lb", "-w", demo,
    )  # fmt: skip
    assert done.returncode == 65
    assert "volume and weight" in done.stderr


def test_a_moment_that_is_none_is_a_usage_error(run: Run, demo: Path) -> None:
    done = run("morning", "--as-of", "yesterday", "-w", demo)
    assert done.returncode == 2
    assert "is no moment" in done.stderr


def test_a_page_that_cannot_be_written_leaves_the_old_one(run: Run, demo: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    done = run("morning", "--html", "file/page.html", "-w", demo)
    assert done.returncode == 73
    assert (tmp_path / "file").read_text() == "not a folder"


def test_a_place_without_a_source_fetches_nothing_and_says_what_is_missing(run: Run, tmp_path: Path) -> None:
    made = run(
        "start", "place", "--name", "O'Dell & Sons", "--latitude", "40", "--longitude", "-80",
        "--time-zone", "America/New_York", "--grass", "tall_fescue", "--offline",
    )  # fmt: skip
    assert made.returncode == 0, made.stderr
    told = run("morning", "-w", "place")
    assert told.returncode == 0, told.stderr
    assert "no hour of temperature and humidity is known" in " ".join(told.stdout.split())
    assert "SCOUT" in told.stdout
    fetched = run("weather", "fetch", "--station", "station", "-w", "place")
    assert fetched.returncode == 78
    assert "has no source" in fetched.stderr
    assert not (tmp_path / ".meteostat").exists()


def test_a_source_that_is_down_leaves_the_page_and_a_note(run: Run, demo: Path) -> None:
    """Port 9 of this machine answers nobody: the page is made from what is stored, and says so."""
    path = demo / "grounds.toml"
    text = path.read_text().replace("as_of = ", "# as_of = ") + 'meteostat_id = "99999"\n'
    path.write_text(text)
    done = subprocess.run(
        [sys.executable, "-m", "forecast", "morning", "-w", str(demo)],
        env={"PATH": os.environ["PATH"], "MS_HOURLY_ENDPOINT": "http://127.0.0.1:9/{year}/{station}.csv.gz"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "nothing new was fetched" in " ".join(done.stdout.split())
    offline = run("morning", "-w", demo, "--offline")
    assert "nothing new was fetched" not in " ".join(offline.stdout.split())
