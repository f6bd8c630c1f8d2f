"""The command as a person meets it: words, exit codes, and nothing lost when the input is bad."""

from __future__ import annotations

import csv
import errno
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from demo_workspace import demo_copy

from forecast.errors import CannotWriteError, StorageError
from forecast.workspace import new_folder, start_demo

ROOT = Path(__file__).parents[1]  # a copy of the checkout tests itself, not what is installed
NOBODY = 65534  # on Linux and the BSDs
Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """The command in a process of its own, in an empty folder and a bare environment."""

    def go(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "forecast", *map(str, arguments)],
            cwd=tmp_path,
            env={"PATH": os.environ["PATH"], "HOME": str(tmp_path), "LANG": "C.UTF-8", "PYTHONPATH": str(ROOT)},
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


OFFLINE = (
    "--name", "O'Dell & Sons", "--latitude", "40", "--longitude", "-80", "--time-zone", "America/New_York",
    "--grass", "tall_fescue", "--offline",
)  # fmt: skip


@pytest.mark.parametrize("wrong", [("--time-zone", "Eastern"), ("--grass", "x"), ("--longitude", "80")])
def test_a_place_described_wrongly_leaves_nothing_behind(run: Run, tmp_path: Path, wrong: tuple[str, str]) -> None:
    done = run("start", "place", *OFFLINE, *wrong)
    assert done.returncode == 2
    assert wrong[0] in done.stderr
    assert not (tmp_path / "place").exists()


def test_a_place_started_offline_claims_nothing_of_where_its_station_stands(run: Run, tmp_path: Path) -> None:
    """A file that is loaded may come from anywhere: the page must not call it measured on the site."""
    made = run("start", "my place", *OFFLINE)
    assert made.returncode == 0, made.stderr
    told = " ".join(made.stderr.split())
    assert "set latitude_deg, longitude_deg and elevation_m to where the station really stands" in told
    assert "a height of 0 m, since no --elevation-m was given" in told
    assert "next: forecast weather load FILE --station station --workspace 'my place'" in told
    lines = (tmp_path / "my place" / "grounds.toml").read_text().splitlines()
    note = next(number for number, line in enumerate(lines) if "where the station really stands" in line)
    assert [line.split()[0] for line in lines[note + 1 : note + 4]] == ["latitude_deg", "longitude_deg", "elevation_m"]
    with (tmp_path / "my place" / "properties.csv").open() as file:
        (row,) = csv.DictReader(file)
    assert row["station_id"] == "station"
    assert (row["latitude_deg"], row["longitude_deg"], row["elevation_m"]) == ("", "", "")
    draw = np.random.default_rng(1)  # invented hours: 18 to 24 °C, 80 to 95 %
    hours = [f"{datetime.now(UTC) - timedelta(hours=back):%Y-%m-%dT%H}:00Z" for back in range(240, 3, -1)]
    rows = [f"{hour},{draw.uniform(18, 24):.2f},{draw.uniform(80, 95):.1f}" for hour in hours]
    (tmp_path / "own.csv").write_text("\n".join(["hour_utc,air_temperature_c,relative_humidity_pct", *rows]) + "\n")
    assert run("weather", "load", "own.csv", "--station", "station", "-w", "my place").returncode == 0
    page = " ".join(run("morning", "-w", "my place", "--offline").stdout.split())
    assert "Last reading" in page
    assert "(good)" not in page
    assert "on site" not in page


def test_a_height_that_was_given_offline_is_not_called_missing(run: Run) -> None:
    made = run("start", "place", *OFFLINE, "--elevation-m", "0")
    assert "no --elevation-m" not in made.stderr


FULL = OSError(errno.ENOSPC, "No space left on device")


@pytest.mark.parametrize(
    ("where", "trouble", "told"),
    [
        ("forecast.ingest.keep.store.write_hours", StorageError("the disk is full"), StorageError),
        ("shutil.copyfile", FULL, CannotWriteError),
        ("forecast.workspace._demo_records", KeyboardInterrupt(), KeyboardInterrupt),
    ],
)
@pytest.mark.parametrize("own", [False, True], ids=["a new folder", "a folder of one's own"])
def test_a_demo_that_breaks_off_leaves_nothing_and_can_be_made_again(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    where: str,
    trouble: BaseException,
    told: type[BaseException],
    *,
    own: bool,
) -> None:
    folder = tmp_path / "deep" / "demo"
    if own:
        folder.mkdir(parents=True)

    def broken(*_: object, **__: object) -> None:
        raise trouble

    with monkeypatch.context() as patch:
        patch.setattr(where, broken)
        with pytest.raises(told):
            start_demo(folder)
    assert list(tmp_path.rglob("*")) == ([tmp_path / "deep", folder] if own else [])
    start_demo(folder)
    assert (folder / "grounds.toml").exists()


def test_what_makes_a_workspace_of_a_folder_is_written_last(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A start that is killed cannot clean up: what it leaves must not look whole."""
    order: list[str] = []
    copy = shutil.copyfile

    def watched(source: Path, target: Path) -> None:
        order.append(target.name)
        assert (tmp_path / "demo" / "workspace.sqlite").exists()
        copy(source, target)

    monkeypatch.setattr("shutil.copyfile", watched)
    start_demo(tmp_path / "demo")
    assert order[-1] == "grounds.toml"


@pytest.mark.parametrize("inside", ["", "demo"])
def test_a_folder_without_the_right_to_write_is_refused_with_a_sentence(inside: str) -> None:
    """Not under the tests' own folder, which nobody but its owner may enter: root may write anywhere, so it is left."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o555)
        owner = os.geteuid()
        if owner == 0:
            os.seteuid(NOBODY)
        try:
            with (
                pytest.raises(CannotWriteError, match="cannot be written to: Permission denied"),
                new_folder(folder / inside),
            ):
                pass
        finally:
            os.seteuid(owner)
        folder.chmod(0o755)
        assert list(folder.iterdir()) == []


def test_an_areas_file_that_cannot_be_read_is_a_fault_of_settings(run: Run, demo: Path) -> None:
    (demo / "properties.csv").unlink()
    (demo / "properties.csv").mkdir()
    done = run("morning", "-w", demo)
    assert done.returncode == 78
    assert "properties.csv cannot be read: Is a directory" in done.stderr


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


def test_a_record_may_name_its_area_and_is_kept_under_its_id(run: Run, demo: Path) -> None:
    assert run(
        "record", "scouting", "strip under the oaks", "--saw", "nothing", "--on", "2026-07-01", "-w", demo
    ).stdout
    use = ("--label", "alder-one", "--disease", "brown_patch", "--on", "2026-07-01", "--amount", "10 fl oz")
    assert run("record", "application", "Strip under the oaks", *use, "-w", demo).returncode == 0
    listed = run("record", "list", "-w", demo).stdout
    assert listed.count("2026-07-01 00:00 oak-strip") == 2, listed
    assert "alder-one with 10 fl oz against brown_patch" in listed
    assert "deviates: less than the label's preventive rate" in listed, "9,000 sq ft want 13.5 fl oz"
    only = run("record", "list", "-w", demo, "--area", "bowling green").stdout.splitlines()
    assert len(only) == 2
    assert all(" green reach-two with 43.2 fl oz" in line for line in only)
    near = run("record", "scouting", "nort field", "--saw", "nothing", "--on", "2026-07-01", "-w", demo)
    assert near.returncode == 65
    assert "did you mean 'north-field'?" in near.stderr


def test_a_name_that_two_areas_share_is_not_enough(run: Run, demo: Path) -> None:
    areas = demo / "properties.csv"
    areas.write_text(areas.read_text().replace("Courtyard", "Front lawn"))
    shared = run("record", "scouting", "front lawn", "--saw", "nothing", "--on", "2026-07-01", "-w", demo)
    assert shared.returncode == 65
    assert "2 areas are called 'front lawn'" in shared.stderr
    assert "front-lawn at 7 Quarry Lane" in shared.stderr
    assert run("record", "scouting", "front-lawn", "--saw", "nothing", "--on", "2026-07-01", "-w", demo).returncode == 0


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
    made = run("start", "place", *OFFLINE)
    assert made.returncode == 0, made.stderr
    told = run("morning", "-w", "place")
    assert told.returncode == 0, told.stderr
    assert "no hour of temperature and humidity is known" in " ".join(told.stdout.split())
    # By the real clock: in summer a tested model asks for a look, in winter no model speaks of what is in season.
    assert "SCOUT" in told.stdout or "UNKNOWN" in told.stdout
    assert "TREAT" not in told.stdout
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
        env={
            "PATH": os.environ["PATH"],
            "PYTHONPATH": str(Path(__file__).parents[1]),
            "MS_HOURLY_ENDPOINT": "http://127.0.0.1:9/{year}/{station}.csv.gz",
        },
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "nothing new was fetched" in " ".join(done.stdout.split())
    offline = run("morning", "-w", demo, "--offline")
    assert "nothing new was fetched" not in " ".join(offline.stdout.split())
