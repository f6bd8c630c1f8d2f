"""The morning of a real place: its newest hours fetched over loopback first, credited, and not when told not to."""

from __future__ import annotations

import gzip
import json
import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from loopback import Loopback

HEADER = "year,month,day,hour,temp,temp_source,rhum,rhum_source,prcp,prcp_source,cldc,cldc_source\n"
PLACE = "--name Field --latitude 41 --longitude -80 --time-zone America/New_York --grass tall_fescue"


def _year_so_far(now: datetime) -> bytes:
    """Invented hours of this calendar year up to two hours ago, ten at least, the last six from a weather model."""
    first = max(datetime(now.year, 1, 1, tzinfo=UTC), now - timedelta(days=12))
    rows = []
    count = max(int((now - first).total_seconds() // 3600) - 1, 10)
    for hour in range(count):
        stamp = first + timedelta(hours=hour)
        source = "dwd_mosmix" if hour >= count - 6 else "metar"
        rows.append(
            f"{stamp.year},{stamp.month},{stamp.day},{stamp.hour},18.5,{source},88,{source},0.0,{source},4,{source}"
        )
    return gzip.compress((HEADER + "\n".join(rows) + "\n").encode())


def _run(folder: Path, server: Loopback, *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "forecast", *arguments],
        cwd=folder,
        env={
            "PATH": os.environ["PATH"],
            "HOME": str(folder),
            "FORECAST_ALLOW_HOSTS": "127.0.0.1",
            "MS_HOURLY_ENDPOINT": f"{server.address}/{{year}}/{{station}}.csv.gz",
        },
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return " ".join(done.stdout.split())


@pytest.fixture
def place(tmp_path: Path, server: Loopback) -> Path:
    _run(tmp_path, server, "start", "w", *PLACE.split(), "--offline")
    grounds = tmp_path / "w" / "grounds.toml"
    grounds.write_text(grounds.read_text() + 'meteostat_id = "T0WN"\n')
    return tmp_path


def test_the_newest_hours_are_fetched_stored_and_credited(place: Path, server: Loopback) -> None:
    now = datetime.now(UTC)
    server.answers[f"/{now.year}/T0WN.csv.gz"] = (200, _year_so_far(now))
    told = _run(place, server, "morning", "-w", "w")
    assert server.asked == [f"/{now.year}/T0WN.csv.gz"]
    assert "Source: Meteostat and airport reports (METAR); units and names changed; CC BY 4.0" in told
    listed = json.loads(_run(place, server, "weather", "list", "-w", "w", "--json"))
    assert {row["quantity"] for row in listed["hours"]} >= {"air_temperature_c", "relative_humidity_pct", "rain_mm"}
    # What the file says comes from a weather model is kept as a forecast, and is no hour of the station.
    (archived,) = listed["weather_forecasts"]
    assert archived["provider"] == "weather models, by way of Meteostat"
    assert not archived["issue_stated"]
    last_observed = next(row for row in listed["hours"] if row["quantity"] == "air_temperature_c")["last_hour_utc"]
    assert last_observed < archived["reaches_to_utc"]


def test_offline_asks_nobody_and_uses_what_is_stored(place: Path, server: Loopback) -> None:
    now = datetime.now(UTC)
    server.answers[f"/{now.year}/T0WN.csv.gz"] = (200, _year_so_far(now))
    _run(place, server, "weather", "fetch", "--station", "station", "-w", "w")
    asked = list(server.asked)
    told = _run(place, server, "morning", "-w", "w", "--offline")
    assert server.asked == asked
    assert "Source: Meteostat and airport reports (METAR)" in told


def test_a_replay_asks_nobody(place: Path, server: Loopback) -> None:
    _run(place, server, "morning", "-w", "w", "--as-of", "2025-07-01T05:30")
    assert server.asked == []


@pytest.mark.parametrize("column", ["temp", "rhum"])
def test_a_source_without_temperature_or_humidity_still_gives_a_page(
    place: Path, server: Loopback, column: str
) -> None:
    now = datetime.now(UTC)
    stamp = now - timedelta(hours=3)
    body = f"year,month,day,hour,{column},{column}_source\n{stamp:%Y,%m,%d,%H},20,metar\n"
    server.answers[f"/{now.year}/T0WN.csv.gz"] = (200, gzip.compress(body.encode()))
    told = _run(place, server, "morning", "-w", "w")
    assert "no hour of temperature and humidity is known by this moment" in told
    assert "0 filled, 168 missing" in told
