"""A real place from nothing, over loopback: stations offered, years loaded, a first morning page, then every day's."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from invented_stations import LATITUDE, LONGITUDE, environment, serve, weather_forecast
from loopback import Loopback, Reply, loopback

from forecast.ingest import hour_columns

PLACE = f"--name 'North' --latitude {LATITUDE} --longitude {LONGITUDE} --grass tall_fescue".replace("'", "")
YEARS_BACK = 2


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


def run(server: Loopback, folder: Path, *arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "forecast", *map(str, arguments)],
        cwd=folder,
        env={"PATH": os.environ["PATH"], "HOME": str(folder), "NO_PROXY": "127.0.0.1", **environment(server)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


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
    assert "Alder Reach Airport (T0000), 5 km, 1990 to 2099" in offers
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
                sidecar["fetched_utc"] = moment.replace(year=moment.year - 1).isoformat()
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
    assert "gone by about day 3" in page


def test_a_station_that_is_not_near_is_refused_by_name(master: World, tmp_path: Path) -> None:
    shutil.copytree(master.folder / "w" / "weather_copies", tmp_path / "v" / "weather_copies")
    done = run(master.server, tmp_path, "start", "v", *PLACE.split(), "--station", "99999")
    assert done.returncode == 66
    assert "T0000" in done.stderr


def test_without_a_network_it_says_how_to_go_on(tmp_path: Path) -> None:
    with loopback() as gone:
        pass
    done = run(gone, tmp_path, "start", "v", *PLACE.split())
    assert done.returncode == 69
    assert "--offline" in done.stderr
    assert not (tmp_path / "v" / "grounds.toml").exists()


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
