"""The daily command's own parts: files written whole or not at all, the timer, what is asked after a long silence."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from datetime import UTC, datetime, time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from demo_workspace import demo_copy

from forecast.cli import cli
from forecast.cli.common import write_all_whole, write_whole
from forecast.cli.daily import timer
from forecast.config import Station, read_settings
from forecast.database import Database
from forecast.desk import daily, intake
from forecast.desk.intake import Intake
from forecast.errors import CannotWriteError, Notice, SourceDownError, StorageError

ROOT = Path(__file__).parents[1]


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    return demo_copy(tmp_path / "w")


# Writing


def test_no_file_is_replaced_before_all_lie_on_the_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first, second = tmp_path / "a.html", tmp_path / "b.txt"
    first.write_text("yesterday")
    calls = []
    fsync = os.fsync

    def full_at_the_second(number: int) -> None:
        calls.append(number)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        fsync(number)

    monkeypatch.setattr(os, "fsync", full_at_the_second)
    with pytest.raises(StorageError, match=f"No space left on device; {first} stands as it was"):
        write_all_whole({first: "today", second: "today"})
    assert first.read_text() == "yesterday"
    assert [path.name for path in tmp_path.iterdir()] == ["a.html"], "nothing is left behind"


def test_where_nothing_stood_nothing_is_said_to_stand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StorageError) as caught:
        write_whole(tmp_path / "a.html", "today")
    assert "stands" not in caught.value.what


def test_a_link_is_followed(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("yesterday")
    (tmp_path / "link.html").symlink_to(tmp_path / "page.html")
    write_whole(tmp_path / "link.html", "today")
    assert (tmp_path / "link.html").is_symlink()
    assert (tmp_path / "page.html").read_text() == "today"


def test_a_place_that_cannot_hold_a_file_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(CannotWriteError):
        write_whole(tmp_path / "file" / "page.html", "today")


@pytest.mark.parametrize("arguments", [["morning"], ["weather", "export"], ["record", "list"]])
def test_a_full_output_is_no_fault_of_the_program(demo: Path, arguments: list[str]) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "forecast", *arguments, "-w", str(demo)],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            # Buffered as on a newcomer's machine: what was not written is tried once more on the way out.
            env={**{k: v for k, v in os.environ.items() if k != "PYTHONUNBUFFERED"}, "PYTHONPATH": str(ROOT)},
        )
    assert done.returncode == 74, done.stderr
    assert "No space left on device" in done.stderr


# The timer


def lines_of(demo: Path, name: str) -> str:
    return next(line for line in timer(read_settings(demo), time(4, 45)).splitlines() if line.startswith(name))


def test_the_timer_starts_this_very_program(demo: Path) -> None:
    words = shlex.split(lines_of(demo, "ExecStart=").removeprefix("ExecStart="))
    assert words == [sys.executable, "-m", "forecast", "daily", "--workspace", str(demo.resolve())]
    done = subprocess.run(
        [*words[:3], "--version"], capture_output=True, check=False, env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    assert done.returncode == 0


def test_the_cron_line_says_the_same(demo: Path) -> None:
    line = timer(read_settings(demo), time(4, 45)).splitlines()[-1]
    assert shlex.split(line)[:5] == ["45", "4", "*", "*", "*"]
    assert shlex.split(line)[5:] == [sys.executable, "-m", "forecast", "daily", "--workspace", str(demo.resolve())]


def test_signs_that_timers_read_are_doubled(tmp_path: Path) -> None:
    odd = demo_copy(tmp_path / "100% $HOME grounds")
    start = lines_of(odd, "ExecStart=")
    assert "100%% $$HOME grounds" in start
    assert "100\\% $HOME grounds" in timer(read_settings(odd), time(4, 45)).splitlines()[-1]


def test_a_name_cannot_add_a_line(demo: Path) -> None:
    grounds = demo / "grounds.toml"
    text = grounds.read_text()
    name = next(line for line in text.splitlines() if line.startswith("name"))
    grounds.write_text(text.replace(name, 'name = "A\\nExecStartPre=/bin/touch /tmp/x"', 1))
    told = timer(read_settings(demo), time(4, 45))
    assert not any(line.startswith("ExecStartPre") for line in told.splitlines())


def test_two_workspaces_have_two_timers_and_run_while_nobody_is_logged_in(demo: Path, tmp_path: Path) -> None:
    other = demo_copy(tmp_path / "other")
    first, second = (timer(read_settings(one), time(4, 45)) for one in (demo, other))
    assert "forecast-w.timer" in first
    assert "forecast-other.timer" in second
    assert "loginctl enable-linger" in first


# What is asked


def with_source(demo: Path) -> Path:
    grounds = demo / "grounds.toml"
    grounds.write_text(grounds.read_text().replace("as_of = ", "# as_of = ") + 'meteostat_id = "T0WN"\n')
    return demo


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[range]:
    """The years that a station's source is asked for."""
    years: list[range] = []

    def fetch(_settings: object, _database: object, _station: object, wanted: range, _now: datetime) -> Intake:
        years.append(wanted)
        return Intake(None, None, ())

    monkeypatch.setattr(intake, "fetch", fetch)
    return years


def test_after_a_long_silence_the_years_since_are_asked_for(demo: Path, asked: list[range]) -> None:
    settings = read_settings(with_source(demo))
    database = Database(settings.database_path)  # its hours end on 31 October 2050
    (step,) = daily.bring_up_to_date(settings, database, datetime(2053, 2, 1, tzinfo=UTC))
    database.close()
    assert asked == [range(2050, 2054)]
    assert step.is_whole


def test_without_a_stored_hour_this_year_is_asked_for(demo: Path, asked: list[range]) -> None:
    settings = read_settings(with_source(demo))
    settings.database_path.unlink()
    database = Database(settings.database_path, create=True)
    daily.bring_up_to_date(settings, database, datetime(2053, 2, 1, tzinfo=UTC))
    database.close()
    assert asked == [range(2053, 2054)]


def test_one_source_that_fails_does_not_stop_the_next(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    grounds = with_source(demo) / "grounds.toml"
    second = grounds.read_text().split("[[station]]")[1].replace("alder-reach", "second").replace("T0WN", "T0WN2")
    grounds.write_text(grounds.read_text() + "\n[[station]]" + second)
    settings = read_settings(demo)

    def fetch(_settings: object, _database: object, station: Station, _years: range, _now: datetime) -> Intake:
        if station.id == "alder-reach":
            raise SourceDownError("the source is down")
        return Intake(None, None, (Notice("an old copy", grave=True),))

    monkeypatch.setattr(intake, "fetch", fetch)
    database = Database(settings.database_path)
    told: list[daily.Step] = []
    steps = daily.bring_up_to_date(settings, database, datetime(2050, 8, 1, tzinfo=UTC), told=told.append)
    database.close()
    assert steps == tuple(told)
    failed, old = steps
    assert failed.error is not None
    assert failed.notices[0].text == "nothing new was fetched: the source is down"
    assert old.error is None
    assert not old.is_whole, "an old copy is not the whole of it"
    assert np.all([notice.series for notice in old.notices])


# The pages


def test_outlook_and_windows_lie_beside_the_morning_page(tmp_path: Path) -> None:
    folder = demo_copy(tmp_path / "w")
    done = CliRunner().invoke(cli, ["daily", "-w", str(folder), "--offline"])
    assert done.exit_code == 0, done.output
    for name in ("outlook", "windows"):
        newest, dated = (folder / "pages" / path for path in (f"{name}.html", f"2050-07-25-{name}.html"))
        assert newest.read_bytes() == dated.read_bytes()
        asked = CliRunner().invoke(cli, [name, "-w", str(folder), "--html", str(tmp_path / f"{name}.html")])
        assert asked.exit_code == 0
        assert (tmp_path / f"{name}.html").read_bytes() == newest.read_bytes()
    calendars = [(folder / "pages" / path).read_bytes() for path in ("windows.ics", "2050-07-25-windows.ics")]
    assert calendars[0] == calendars[1]
    assert calendars[0].startswith(b"BEGIN:VCALENDAR")
