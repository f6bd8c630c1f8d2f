"""A real place from nothing, over loopback: stations offered, years loaded, a first morning page, then every day's."""

from __future__ import annotations

import json
import os
import pty
import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from invented_stations import LATE_HOURS, LATITUDE, LONGITUDE, STATIONS, Invented, environment, serve, weather_forecast
from loopback import Loopback, Reply, loopback

from forecast.ingest import hour_columns

PLACE = f"--name 'North' --latitude {LATITUDE} --longitude {LONGITUDE} --grass tall_fescue".replace("'", "")
YEARS_BACK = 2
ROOT = Path(__file__).parents[1]  # a copy of the checkout tests itself, not what is installed


@dataclass
class World:
    """A server with invented stations, and a folder to work in."""

    server: Loopback
    folder: Path
    started: subprocess.CompletedProcess[str]

    def run(self, *arguments: str | Path, code: int = 0) -> subprocess.CompletedProcess[str]:
        """One command, which has to end as told."""
        done = run(self.server, self.folder, *arguments)
        assert done.returncode == code, done.stderr
        return done


def run(
    server: Loopback, folder: Path, *arguments: str | Path | bytes, keys: int = subprocess.DEVNULL
) -> subprocess.CompletedProcess[str]:
    """One command; ``keys`` is where it reads what is typed."""
    return subprocess.run(
        [sys.executable, "-m", "forecast", *(one if isinstance(one, bytes) else str(one) for one in arguments)],
        cwd=folder,
        env={
            "PATH": os.environ["PATH"],
            "HOME": str(folder),
            "NO_PROXY": "127.0.0.1",
            "PYTHONPATH": str(ROOT),
            **environment(server),
        },
        stdin=keys,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@dataclass
class Other:
    """Another part of the world, with stations as told."""

    server: Loopback
    folder: Path

    def holds(self, *stations: Invented, years: int = 2) -> None:
        """Have these stations, with their hours of this year and some before."""
        now = datetime.now(UTC)
        serve(self.server, self.folder, now, range(now.year - years, now.year + 1), stations)

    def start(self, *more: str | bytes, keys: int = subprocess.DEVNULL) -> subprocess.CompletedProcess[str]:
        """A start there, in folder v."""
        return run(self.server, self.folder, "start", "v", *PLACE.split(), *more, keys=keys)


@pytest.fixture
def other(server: Loopback, tmp_path: Path) -> Other:
    return Other(server, tmp_path)


def forecast_path(server: Loopback) -> str:
    """The path that the first station's forecast is asked by."""
    return hour_columns.address(f"{server.address}/v1/forecast", 41.22, -85.05, 16).removeprefix(server.address)


@pytest.fixture(scope="module")
def master(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    folder = tmp_path_factory.mktemp("start")
    now = datetime.now(UTC)
    with loopback() as server:
        serve(server, folder, now, range(now.year - YEARS_BACK, now.year + 1))
        body = Reply(200, weather_forecast(now), {"Content-Type": "application/json"})
        server.answers[forecast_path(server)] = body
        service = f"--weather-forecast hour_columns --forecast-address {server.address}/v1/forecast"
        done = run(server, folder, "start", "w", *PLACE.split(), "--years", str(YEARS_BACK), *service.split())
        yield World(server, folder, done)


@pytest.fixture
def world(master: World, tmp_path: Path) -> Iterator[World]:
    """The started place, copied, with a server of its own at the same address, whose answers can be changed."""
    shutil.copytree(master.folder / "w", tmp_path / "w")
    answers = dict(master.server.answers)
    yield World(master.server, tmp_path, master.started)
    master.server.answers = answers


def plain(text: str) -> str:
    return " ".join(text.split())


def test_stations_are_offered_by_humidity_then_distance(master: World) -> None:
    assert master.started.returncode == 0, master.started.stderr
    told = plain(master.started.stderr)
    offers = told[told.index("those with sound humidity first") :]
    names = ("1 Alder Reach Airport (T0000)", "2 Far Field (T0003)", "3 Quill Valley (T0001)")
    assert all(name in offers for name in names), offers
    first, second, third = (offers.index(name) for name in names)
    assert first < second < third
    assert "Old Mill" not in told, "closed since 2011"
    # Alder Reach lies 0.02° north and 0.05° east: 2.2 km and 111.2 × 0.05 × cos 41.2° = 4.2 km, so 4.7 km.
    span = re.search(r"Alder Reach Airport \(T0000\), 5 km, 1990 to (\S+ \S+) UTC:", offers)
    assert span
    # The newest hours of a file are a model's, and the run may cross an hour.
    late = datetime.now(UTC) - datetime.fromisoformat(f"{span[1]}+00:00")
    assert timedelta(hours=LATE_HOURS) <= late < timedelta(hours=LATE_HOURS + 2)
    assert "nothing speaks against it" in offers[first:second]
    assert "wet hours are counted too few" in offers[third:]


def test_it_ends_with_a_first_morning_page(master: World) -> None:
    page = plain(master.started.stdout)
    assert page.startswith("Morning page")
    assert "from Alder Reach Airport" in page
    assert "(good)" in page
    assert "Weather forecast fetched" in page
    assert "Source: Meteostat and the Integrated Surface Database (NOAA); units and names changed; CC BY 4.0" in page
    assert "Weather forecast: Weather data by Open-Meteo.com; CC BY 4.0" in page
    for kind in ("html", "txt", "json"):
        assert (master.folder / "w" / "pages" / f"morning.{kind}").exists()


def test_the_settings_name_what_was_chosen(world: World) -> None:
    listed = json.loads(world.run("weather", "list", "-w", "w", "--json").stdout)
    stations = {row["station"] for row in listed["hours"]}
    assert stations == {"alder-reach-airport", "far-field"}, "a neighbour is taken only if its humidity is sound"
    assert 'time_zone = "America/Indiana/Indianapolis"' in (world.folder / "w" / "grounds.toml").read_text()


def test_forecasts_and_readings_do_not_mix(world: World) -> None:
    listed = json.loads(world.run("weather", "list", "-w", "w", "--json").stdout)
    issued = {row["provider"] for row in listed["weather_forecasts"]}
    assert issued == {"weather models, by way of Meteostat", "Open-Meteo"}
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H")
    assert all(row["last_hour_utc"] < now for row in listed["hours"])
    assert any(row["reaches_to_utc"] > now for row in listed["weather_forecasts"])


def test_a_second_run_of_the_day_asks_nobody_and_changes_nothing(world: World) -> None:
    before = json.loads(world.run("weather", "list", "-w", "w", "--json").stdout)
    asked = len(world.server.asked)
    world.run("daily", "-w", "w")
    assert len(world.server.asked) == asked, "copies younger than half an hour are used as they are"
    after = json.loads(world.run("weather", "list", "-w", "w", "--json").stdout)
    assert after["hours"] == before["hours"]
    assert after["weather_forecasts"] == before["weather_forecasts"]


def age_copies(folder: Path) -> None:
    """Have every good copy be a day old."""
    for path in (folder / "w" / "weather_copies").rglob("*"):
        if path.is_file():
            text = path.read_bytes()
            if b"fetched_utc" in text:
                sidecar = json.loads(text)
                moment = datetime.fromisoformat(sidecar["fetched_utc"])
                sidecar["fetched_utc"] = (moment - timedelta(days=1)).isoformat()
                path.write_text(json.dumps(sidecar))


def test_what_fails_leaves_the_rest_whole_and_says_so(world: World) -> None:
    age_copies(world.folder)
    year = datetime.now(UTC).year
    world.server.answers[f"/hourly/{year}/T0000.csv.gz"] = (500, b"")
    world.server.answers[forecast_path(world.server)] = (500, b"")
    (world.folder / "w" / "pages" / "morning.txt").write_text("yesterday's")
    done = world.run("daily", "-w", "w", code=3)
    assert "from an old copy: hours of Alder Reach Airport" in done.stderr
    assert "from an old copy: weather forecast for Alder Reach Airport" in done.stderr
    assert "done: hours of Far Field" in done.stderr
    page = plain((world.folder / "w" / "pages" / "morning.txt").read_text())
    assert page.startswith("Morning page")
    assert "last good copy" in page


def test_yesterdays_page_stays_until_todays_is_whole(world: World) -> None:
    pages = world.folder / "w" / "pages"
    (pages / "morning.txt").write_text("yesterday's")
    with (world.folder / "w" / "workspace.sqlite").open("r+b") as file:
        file.seek(8192)
        file.write(b"\xff" * 8192)
    done = run(world.server, world.folder, "daily", "-w", "w", "--offline")
    assert done.returncode == 65, done.stderr
    assert (pages / "morning.txt").read_text() == "yesterday's"


def test_without_a_forecast_the_page_says_how_far_it_sees(world: World) -> None:
    grounds = world.folder / "w" / "grounds.toml"
    text = grounds.read_text()
    grounds.write_text(
        text.replace("[weather_forecast]", "[weather_forecast]\n# ")
        .replace("\nshape", "\n# shape")
        .replace("\naddress", "\n# address")
        .replace("[weather_forecast]", "# none")
    )
    (world.folder / "w" / "workspace.sqlite").unlink()
    (world.folder / "w" / "weather_copies" / "forecasts").rename(world.folder / "elsewhere")
    from forecast.database import Database

    Database(world.folder / "w" / "workspace.sqlite", create=True).close()
    page = plain(world.run("morning", "-w", "w", "--offline").stdout)
    assert "No weather forecast is set" in page
    assert "nothing is known of the days ahead" in page


def test_the_height_of_the_station_is_said_to_stand_for_the_place(master: World) -> None:
    told = plain(master.started.stderr)
    assert "no --elevation-m given: the height of Alder Reach Airport, 245 m, is taken for the place" in told


def test_a_station_that_is_not_near_is_refused_and_the_near_ones_named(master: World, tmp_path: Path) -> None:
    shutil.copytree(master.folder / "w" / "weather_copies", tmp_path / "v" / "weather_copies")
    done = run(master.server, tmp_path, "start", "v", *PLACE.split(), "--station", "99999")
    assert done.returncode == 66
    assert "T0000" in done.stderr
    assert [path.name for path in (tmp_path / "v").iterdir()] == ["weather_copies"], "they make the next try fast"
    assert (tmp_path / "v" / "weather_copies" / "stations.db").exists()


def test_a_station_that_was_named_is_taken(master: World, tmp_path: Path) -> None:
    shutil.copytree(master.folder / "w" / "weather_copies", tmp_path / "v" / "weather_copies")
    done = run(master.server, tmp_path, "start", "v", *PLACE.split(), "--years", "1", "--station", "t0003")
    assert done.returncode == 0, done.stderr
    stations = re.findall(r'meteostat_id = "(.*)"', (tmp_path / "v" / "grounds.toml").read_text())
    assert stations == ["T0003", "T0000"], "the one named, and a sound neighbour"
    assert ",far-field," in (tmp_path / "v" / "properties.csv").read_text()


def test_a_station_named_that_sends_no_hours_is_refused_as_that(other: Other) -> None:
    other.holds(*STATIONS)
    done = other.start("--station", "T0002")
    assert done.returncode == 66
    assert "station T0002 (Old Mill) sends no hours" in plain(done.stderr)


def test_without_a_sound_station_the_best_is_taken_and_that_is_said(other: Other) -> None:
    other.holds(STATIONS[1], replace(STATIONS[0], columns=("prcp",)))
    done = other.start("--years", "1")
    told = plain(done.stderr)
    assert done.returncode == 3, told
    assert "1 Quill Valley (T0001)" in told
    assert "The humidity of Quill Valley is not sound" in told
    assert "wet hours told from it are wrong or missing" in told
    assert done.stdout.startswith("Morning page")
    assert re.findall(r'meteostat_id = "(.*)"', (other.folder / "v" / "grounds.toml").read_text()) == ["T0001"]


def test_where_no_station_sends_hours_nothing_is_made(other: Other) -> None:
    other.holds(replace(STATIONS[0], modelled=True))
    done = other.start("--years", "1")
    assert done.returncode == 66
    assert "no weather station near this place sends hours" in plain(done.stderr)
    assert not (other.folder / "v" / "grounds.toml").exists()


def test_a_key_pressed_without_thought_takes_a_station_that_sends_hours(other: Other) -> None:
    silent = datetime.now(UTC) - timedelta(days=30)
    until = np.datetime64(silent.replace(tzinfo=None), "h")
    other.holds(replace(STATIONS[0], until=until), STATIONS[3])
    pressed, keys = pty.openpty()
    os.write(pressed, b"\n\n")  # the first station offered, and no weather forecast
    done = other.start("--years", "1", keys=keys)
    os.close(keys)
    os.close(pressed)
    told = plain(done.stderr)
    assert done.returncode == 0, told
    assert f"– Alder Reach Airport (T0000), 5 km: has sent nothing since {silent.day} {silent:%B %Y}" in told
    assert "1 Far Field (T0003)" in told
    assert re.findall(r'meteostat_id = "(.*)"', (other.folder / "v" / "grounds.toml").read_text()) == ["T0003"]


def test_a_past_year_that_fails_is_named_with_the_command_that_loads_it(other: Other) -> None:
    other.holds(STATIONS[0])
    year = datetime.now(UTC).year
    body = other.server.answers[f"/hourly/{year - 2}/T0000.csv.gz"]
    other.server.answers[f"/hourly/{year - 2}/T0000.csv.gz"] = (500, b"")
    done = other.start("--years", "2")
    assert done.returncode == 3, done.stderr
    told = re.search(r"forecast (weather fetch .*)", done.stderr)
    assert told
    assert told[1] == f"weather fetch --station alder-reach-airport --from-year {year - 2} --workspace v"
    other.server.answers[f"/hourly/{year - 2}/T0000.csv.gz"] = body
    again = run(other.server, other.folder, *shlex.split(told[1]))
    assert again.returncode == 0, again.stderr
    listed = json.loads(run(other.server, other.folder, "weather", "list", "-w", "v", "--json").stdout)
    assert min(row["first_hour_utc"] for row in listed["hours"]).startswith(str(year - 2))


@pytest.mark.parametrize("given", [(), ("--elevation-m", "251")])
def test_what_the_list_does_not_know_of_a_station_a_person_is_asked_for(other: Other, given: tuple[str, ...]) -> None:
    other.holds(replace(STATIONS[0], elevation=None))
    done = other.start("--years", "1", *given)
    if not given:
        assert done.returncode == 2
        assert "give --elevation-m" in done.stderr
        return
    assert done.returncode == 0, done.stderr
    assert "the height of Alder Reach Airport is not known: that of the place is taken, 251 m" in plain(done.stderr)


def test_a_time_zone_that_the_list_does_not_know_is_asked_for(other: Other) -> None:
    other.holds(replace(STATIONS[0], zone=None))
    done = other.start("--years", "1")
    assert done.returncode == 2
    assert "give --time-zone" in done.stderr


SHAPE = ("--weather-forecast", "hour_columns")


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (("--time-zone", "Eastern"), "'Eastern' is no time zone"),
        (("--time-zone", "Asia/Tokyo"), "--longitude -85.1 does not go with --time-zone Asia/Tokyo"),
        (("--contact", "grün@example.org"), "plain ASCII"),
        (("--contact", "x" * 121), "120 letters at most"),
        (("--grass", "tall_fescu"), "did you mean 'tall_fescue'"),
        (("--name", b"\xff"), "Invalid value for '--name'"),
        (("--name", " "), "Invalid value for '--name'"),
        ((*SHAPE, "--forecast-address", "weather.example.org"), "starts with https://"),
        ((*SHAPE, "--forecast-address", "https://wetter.example/ü"), "plain ASCII"),
        (("--forecast-address", "https://weather.example.org"), "needs --weather-forecast"),
        (("--forecast-address", "https://w.example.org", "--weather-forecast", "none"), "needs --weather-forecast"),
        (("--forecast-address", "https://w.example.org", "--offline"), "needs --time-zone"),
        (("--offline", "--time-zone", "America/New_York", "--station", "T0000"), "leave out --station"),
        (("--demo",), "leave out --grass, --latitude, --longitude, --name"),
    ],
)
def test_what_is_typed_wrongly_is_refused_before_anybody_is_asked(
    other: Other, more: Sequence[str | bytes], told: str
) -> None:
    done = other.start(*more)
    assert done.returncode == 2, done.stderr
    assert told in plain(done.stderr)
    assert other.server.asked == []
    assert list(other.folder.iterdir()) == []


def test_an_address_without_its_kind_is_not_dropped_offline(other: Other) -> None:
    done = other.start("--offline", "--time-zone", "America/New_York", "--forecast-address", "https://w.example.org")
    assert done.returncode == 2
    assert not (other.folder / "v").exists()


def test_a_folder_that_holds_something_is_refused_before_anybody_is_asked(other: Other) -> None:
    (other.folder / "v").mkdir()
    (other.folder / "v" / "letter.txt").write_text("keep me")
    done = other.start()
    assert done.returncode == 73
    assert "letter.txt" in done.stderr
    assert other.server.asked == []
    assert [path.name for path in (other.folder / "v").iterdir()] == ["letter.txt"]


def test_without_a_network_it_says_how_to_go_on_and_leaves_nothing(tmp_path: Path) -> None:
    with loopback() as gone:
        pass
    done = run(gone, tmp_path, "start", "deep/v", *PLACE.split())
    assert done.returncode == 69
    assert "--offline" in done.stderr
    assert not (tmp_path / "deep").exists()


def test_an_empty_folder_of_a_persons_own_stays(tmp_path: Path) -> None:
    with loopback() as gone:
        pass
    (tmp_path / "v").mkdir()
    assert run(gone, tmp_path, "start", "v", *PLACE.split()).returncode == 69
    assert list((tmp_path / "v").iterdir()) == []


def test_the_timer_runs_this_workspace_every_day(world: World) -> None:
    told = world.run("daily", "-w", "w", "--print-timer", "--at", "04:45").stdout
    assert "OnCalendar=*-*-* 04:45:00 America/Indiana/Indianapolis" in told
    assert "Persistent=true" in told
    assert f'"daily" "--workspace" "{world.folder / "w"}"' in told
    assert "\n45 4 * * * " in told
    checker = shutil.which("systemd-analyze")
    if checker is not None:
        calendar = next(line for line in told.splitlines() if line.startswith("OnCalendar=")).removeprefix(
            "OnCalendar="
        )
        assert subprocess.run([checker, "calendar", calendar], capture_output=True, check=False).returncode == 0
