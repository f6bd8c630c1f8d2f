"""What a person meets when the network fails: clear words, last good data with their age, the exit code, in time."""

from __future__ import annotations

import gzip
import json
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from loopback import Loopback, Reply, loopback

from forecast.cli import cli
from forecast.errors import ForecastError
from forecast.ingest import meteostat_source

HEADER = "year,month,day,hour,temp,temp_source,rhum,rhum_source\n"
PATIENCE_S = 3
MEASURED_S = 10.0  # the patience, and slack for a busy machine


def year_file(now: datetime) -> bytes:
    """Two invented days up to three hours ago."""
    rows = []
    for hours in range(50, 2, -1):
        stamp = now - timedelta(hours=hours)
        if stamp.year == now.year:
            rows.append(f"{stamp.year},{stamp.month},{stamp.day},{stamp.hour},20.5,metar,91,metar\n")
    rows = rows or [f"{now.year},1,1,0,20.5,metar,91,metar\n"]
    return gzip.compress((HEADER + "".join(rows)).encode(), mtime=0)


FAULTS: dict[str, tuple[Callable[[bytes], Reply], str]] = {
    "slow": (lambda good: Reply(200, good, body_pause_s=0.5), "too slowly"),
    "gone": (lambda _: Reply(404), "no file of this station"),
    "busy": (lambda _: Reply(429, headers={"Retry-After": "3600"}), "busy"),
    "server fault": (lambda _: Reply(500), "500"),
    "truncated gzip": (lambda good: Reply(200, good[:-30]), "damaged"),
    "half a file": (lambda good: Reply(200, good[: len(good) // 2], length=len(good)), ""),
    "wrong type": (lambda _: Reply(200, b"<html>We are moving.</html>", {"Content-Type": "text/html"}), ""),
    "another host": (lambda _: Reply(302, headers={"Location": "http://192.0.2.1/elsewhere.csv.gz"}), "192.0.2.1"),
    "50 MB": (lambda _: Reply(200, b"0" * 1_000_000, times=60), "more than 50 MB"),
}


def run(*arguments: str | Path) -> tuple[int, str]:
    """Exit code and all that was said, as ``forecast.cli.main`` would end and say it."""
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    if isinstance(done.exception, ForecastError):
        return done.exception.exit_code, f"{done.output} {done.exception}"
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


@pytest.fixture
def place(tmp_path: Path) -> Path:
    where = "--name Field --latitude 41 --longitude -80 --time-zone America/New_York --grass tall_fescue --offline"
    assert run("start", tmp_path / "w", *where.split())[0] == 0
    grounds = tmp_path / "w" / "grounds.toml"
    text = grounds.read_text().replace("[network]", f"[network]\npatience_s = {PATIENCE_S}")
    grounds.write_text(text + 'meteostat_id = "T0WN"\n')
    return tmp_path


Fetch = Callable[..., tuple[int, str, float]]


@pytest.fixture
def fetch(place: Path, monkeypatch: pytest.MonkeyPatch) -> Fetch:
    """The command on a place whose source lies at an address: exit code, what was said, and the seconds it took."""

    def fetched(address: str, allow: str = "127.0.0.1") -> tuple[int, str, float]:
        monkeypatch.setenv("FORECAST_ALLOW_HOSTS", allow)
        monkeypatch.setenv("NO_PROXY", "127.0.0.1,localhost")
        endpoint = f"{address}/{{year}}/{{station}}.csv.gz"
        monkeypatch.setattr(meteostat_source, "_library_endpoint", lambda: endpoint)
        began = time.monotonic()
        code, told = run("weather", "fetch", "-w", place / "w")
        return code, " ".join(told.split()), time.monotonic() - began

    return fetched


def age_copies(place: Path, hours: int) -> None:
    """Have every good copy have been fetched some hours earlier."""
    for sidecar in (place / "w" / "weather_copies").rglob("*.fetched.json"):
        told = json.loads(sidecar.read_text())
        moment = datetime.fromisoformat(told["fetched_utc"]) - timedelta(hours=hours)
        told["fetched_utc"] = moment.isoformat()
        sidecar.write_text(json.dumps(told))


def stored(place: Path) -> str:
    """The hours that are stored, as listed."""
    return json.dumps(json.loads(run("weather", "list", "-w", place / "w", "--json")[1])["hours"])


@pytest.mark.parametrize("fault", FAULTS)
def test_with_nothing_at_hand_it_says_what_happened_and_ends_in_time(
    place: Path, fetch: Fetch, server: Loopback, fault: str
) -> None:
    now = datetime.now(UTC)
    make, words = FAULTS[fault]
    server.answers[f"/{now.year}/T0WN.csv.gz"] = make(year_file(now))
    code, told, seconds = fetch(server.address)
    assert code == (66 if fault == "gone" else 69), told
    assert words in told or fault == "gone"
    assert "What to do:" in told
    assert seconds < MEASURED_S
    assert stored(place) == "[]"


@pytest.mark.parametrize("fault", FAULTS)
def test_with_a_good_copy_it_is_kept_and_used_and_its_age_is_told(
    place: Path, fetch: Fetch, server: Loopback, fault: str
) -> None:
    now = datetime.now(UTC)
    path = f"/{now.year}/T0WN.csv.gz"
    server.answers[path] = (200, year_file(now))
    assert fetch(server.address)[0] == 0
    copy = place / "w" / "weather_copies" / str(now.year) / "T0WN.csv.gz"
    before, hours = copy.read_bytes(), stored(place)
    age_copies(place, hours=7)
    server.answers[path] = FAULTS[fault][0](year_file(now))
    code, told, seconds = fetch(server.address)
    assert code == 3, told
    assert "the last good copy, 7 h old, was used" in told
    assert copy.read_bytes() == before
    assert stored(place) == hours
    assert seconds < MEASURED_S


def test_a_server_that_is_not_there(fetch: Fetch) -> None:
    with loopback() as gone:
        pass
    code, told, _ = fetch(gone.address)
    assert code == 69
    assert "refused" in told


def test_a_server_that_never_answers(fetch: Fetch, server: Loopback) -> None:
    server.silent = True
    code, told, seconds = fetch(server.address)
    assert code == 69
    assert f"within {PATIENCE_S} s" in told or f"in {PATIENCE_S} s" in told, told
    assert seconds < MEASURED_S


def test_an_address_in_a_private_network_is_refused_unless_listed(fetch: Fetch, server: Loopback) -> None:
    now = datetime.now(UTC)
    server.answers[f"/{now.year}/T0WN.csv.gz"] = (200, year_file(now))
    named = server.address.replace("127.0.0.1", "localhost")  # a name that leads to this machine
    code, told, _ = fetch(named, allow="")
    assert code == 69
    assert "private network" in told
    assert "allow_hosts" in told
    assert server.asked == [], "nothing was sent"
    assert fetch(named, allow="localhost")[0] == 0


def test_unchanged_files_are_asked_for_and_not_sent_again(place: Path, fetch: Fetch, server: Loopback) -> None:
    now = datetime.now(UTC)
    path = f"/{now.year}/T0WN.csv.gz"
    server.answers[path] = Reply(200, year_file(now), {"ETag": '"first"'})
    assert fetch(server.address)[0] == 0
    age_copies(place, hours=2)
    server.answers[path] = Reply(304)
    code, told, _ = fetch(server.address)
    assert (code, "0 new values" in told) == (0, True)
    assert server.headers[-1]["If-None-Match"] == '"first"'
