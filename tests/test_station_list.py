"""The list of stations over loopback: what is taken from it, what it may leave open, and what is no list at all."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import meteostat
import pytest
from invented_stations import LATITUDE, LONGITUDE, STATIONS, ZONE, Invented, station_list
from loopback import Loopback

from forecast.errors import SourceDownError
from forecast.ingest.station_list import Candidate, near
from forecast.ingest.web.download import Limits, Network

NOW = datetime(2026, 11, 20, 5, 30, tzinfo=UTC)
NETWORK = Network(allow_hosts=("127.0.0.1",), limits=Limits(tries=1, whole_s=20.0))
ALDER = STATIONS[0]
Look = Callable[..., tuple[Candidate, ...]]


@pytest.fixture
def look(server: Loopback, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Look:
    """Stations near the place, out of a list as told."""
    monkeypatch.setattr(meteostat.config, "stations_db_endpoints", [f"{server.address}/stations.db"])

    def go(
        *stations: Invented, change: str = "", body: bytes | None = None, now: datetime = NOW, reach_km: float = 100.0
    ) -> tuple[Candidate, ...]:
        made = station_list(tmp_path, stations)
        if change:
            path = tmp_path / "changed.db"
            path.write_bytes(made)
            with sqlite3.connect(path) as connection:
                connection.executescript(change)
            connection.close()
            made = path.read_bytes()
        server.answers["/stations.db"] = (200, made if body is None else body)
        return near(LATITUDE, LONGITUDE, tmp_path / "copies", NETWORK, now, reach_km=reach_km, most=50)

    return go


def test_stations_come_by_distance_with_what_the_list_says_of_them(look: Look) -> None:
    old, alder, quill, far = look(*STATIONS)
    assert [one.name for one in (old, alder, quill, far)] == [
        "Old Mill",
        "Alder Reach Airport",
        "Quill Valley",
        "Far Field",
    ]
    # 0.02° north are 2.2 km, 0.05° east 111.2 × 0.05 × cos 41.2° = 4.2 km: 4.7 km together.
    assert alder == replace(alder, meteostat_id="T0000", latitude_deg=41.22, longitude_deg=-85.05, elevation_m=245.0)
    assert alder.distance_km == pytest.approx(4.7, abs=0.1)
    assert alder.time_zone == ZONE
    assert (old.first_year, old.last_year) == (1990, 2011)


def test_no_station_is_further_away_than_asked_for(look: Look) -> None:
    # Far Field: 0.5° north are 55.6 km, 0.5° west 41.8 km: 69.6 km together.
    assert [one.meteostat_id for one in look(ALDER, STATIONS[3], reach_km=69)] == ["T0000"]
    assert [one.meteostat_id for one in look(ALDER, STATIONS[3], reach_km=70)] == ["T0000", "T0003"]


def test_no_station_in_reach_is_an_empty_answer(look: Look) -> None:
    assert look(STATIONS[3], reach_km=10) == ()


@pytest.mark.parametrize("beside", [(), (STATIONS[3],)], ids=["alone", "beside another"])
def test_a_height_or_a_time_zone_that_the_list_leaves_open_is_not_made_up(
    look: Look, beside: tuple[Invented, ...]
) -> None:
    alder = look(replace(ALDER, elevation=None, zone=None), *beside)[0]
    assert alder.elevation_m is None
    assert alder.time_zone == ""


def test_a_height_of_nought_is_a_height(look: Look) -> None:
    assert look(replace(ALDER, elevation=0))[0].elevation_m == 0.0


def test_a_station_without_a_name_goes_by_its_id(look: Look) -> None:
    assert look(replace(ALDER, name=None))[0].name == "T0000"


@pytest.mark.parametrize("beside", [(), (STATIONS[3],)], ids=["alone", "beside another"])
def test_an_inventory_that_does_not_say_when_hours_ended_leaves_that_open(
    look: Look, beside: tuple[Invented, ...]
) -> None:
    alder = look(replace(ALDER, last=None), *beside)[0]
    assert (alder.first_year, alder.last_year) == (1990, None)


def test_a_station_that_the_inventory_does_not_know_has_no_years(look: Look) -> None:
    assert look(replace(ALDER, columns=()))[0].last_year is None


def test_years_are_those_of_humidity_and_of_temperature_only_where_there_is_none(look: Look) -> None:
    longer = "UPDATE inventory SET start = '1950-06-01', end = '2020-02-02' WHERE parameter = 'temp'"
    both = look(ALDER, change=longer)[0]
    assert (both.first_year, both.last_year) == (1990, 2099)
    without = look(replace(ALDER, columns=("temp", "prcp")), change=longer, now=NOW + timedelta(hours=1))[0]
    assert (without.first_year, without.last_year) == (1950, 2020)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("ALTER TABLE inventory DROP COLUMN end", "its table of inventory lacks end"),
        ("ALTER TABLE stations DROP COLUMN timezone", "its table of stations lacks timezone"),
        ("DROP TABLE names", "its table of names lacks station, language, name"),
    ],
)
def test_a_list_that_cannot_be_read_is_refused_and_says_why(look: Look, change: str, told: str) -> None:
    with pytest.raises(SourceDownError, match=told):
        look(ALDER, change=change)


def test_a_station_that_stands_nowhere_does_not_cost_the_others(look: Look) -> None:
    before = {one.meteostat_id for one in look(*STATIONS)}
    nowhere = "UPDATE stations SET latitude = NULL WHERE id = 'T0000'"
    after = {one.meteostat_id for one in look(*STATIONS, change=nowhere, now=NOW + timedelta(hours=1))}
    assert before - after == {"T0000"}
    assert after


@pytest.mark.parametrize("body", [b"<html>busy</html>", b"SQLite format 3\x00" + b"\xff" * 4096])
def test_what_is_no_list_is_refused(look: Look, body: bytes) -> None:
    with pytest.raises(SourceDownError, match="the list of stations"):
        look(ALDER, body=body)


def test_a_list_that_breaks_later_leaves_the_good_copy_in_use(look: Look) -> None:
    before = look(*STATIONS)
    later = NOW + timedelta(days=1)
    assert look(*STATIONS, change="ALTER TABLE inventory DROP COLUMN end", now=later) == before
