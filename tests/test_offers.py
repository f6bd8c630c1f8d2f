"""Stations offered for a new place, over loopback: by what they send, and never for what they do not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import meteostat
import numpy as np
import pytest
from invented_stations import LATITUDE, LONGITUDE, STATIONS, Invented, serve
from loopback import Loopback

from forecast.desk.offers import MOST_ASKED, MOST_OFFERED, Offer, offers
from forecast.desk.station import Humidity
from forecast.errors import MissingInputError, SourceDownError
from forecast.ingest import meteostat_source
from forecast.ingest.web.network import Limits, Network

NOW = datetime(2026, 11, 20, 5, 30, tzinfo=UTC)
UNTIL = np.datetime64("2026-11-20T02", "h")  # the moment less the usual lag of 3 h, to the hour
YEARS = range(2025, 2027)
NETWORK = Network(allow_hosts=("127.0.0.1",), limits=Limits(tries=1, whole_s=20.0))
ALDER, QUILL, OLD_MILL, FAR = STATIONS
NEAR = Invented("N0000", "Birch Lane", 41.201, -85.1)
Look = Callable[..., dict[str, Offer]]


@pytest.fixture
def look(server: Loopback, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Look:
    """Offers out of a list as told, by id, in their order."""
    endpoint = f"{server.address}/hourly/{{year}}/{{station}}.csv.gz"
    meteostat_source._library_endpoint()  # the library's own, before files are read
    monkeypatch.setattr(meteostat_source, "_library_endpoint", lambda: endpoint)
    monkeypatch.setattr(meteostat.config, "stations_db_endpoints", [f"{server.address}/stations.db"])

    def go(
        *stations: Invented, wanted: str | None = None, height: float | None = 250.0, failing: str = ""
    ) -> dict[str, Offer]:
        serve(server, tmp_path, NOW, YEARS, stations)
        if failing:
            server.answers[f"/hourly/{failing}.csv.gz"] = (500, b"")
        found = offers((LATITUDE, LONGITUDE, height), tmp_path / "copies", NETWORK, NOW, wanted=wanted)
        return {offer.candidate.meteostat_id: offer for offer in found}

    return go


def trouble(offer: Offer) -> str:
    assert offer.humidity is None
    assert offer.error is not None
    return offer.error.what


def asked(server: Loopback) -> set[str]:
    return {path.rpartition("/")[2].partition(".")[0] for path in server.asked if path.startswith("/hourly/")}


def test_hours_come_before_soundness_and_soundness_before_distance(look: Look) -> None:
    rain_only = replace(NEAR, columns=("prcp",))
    dead = Invented("N0001", "Cole's Yard", 41.205, -85.1, until=np.datetime64("2026-03-11T14", "h"))
    found = look(rain_only, dead, ALDER, QUILL, FAR)
    assert list(found) == ["T0000", "T0003", "T0001", "N0000", "N0001"]
    assert [offer.is_sound for offer in found.values()] == [True, True, False, False, False]
    assert str(found["T0000"].humidity) == "humidity known in 100 % of hours; nothing speaks against it"


def test_a_station_that_died_in_spring_is_not_offered_and_its_last_day_is_told(look: Look) -> None:
    found = look(replace(ALDER, until=np.datetime64("2026-03-11T14", "h")))
    assert trouble(found["T0000"]) == "has sent nothing since 11 March 2026"


@pytest.mark.parametrize(("hours", "sends"), [(7 * 24, True), (7 * 24 + 1, False)])
def test_a_week_of_silence_is_the_most(look: Look, hours: int, sends: bool) -> None:
    offer = look(replace(ALDER, until=UNTIL - np.timedelta64(hours, "h")))["T0000"]
    assert (offer.humidity is not None) == sends


def test_the_last_hour_is_that_of_the_readings(look: Look) -> None:
    # The file's last three hours are a model's: readings end with 02 UTC.
    assert look(ALDER)["T0000"].last_hour == UNTIL


def test_humidity_is_counted_over_last_year_and_this_one_whole(look: Look) -> None:
    late = replace(ALDER, humid_until=np.datetime64("2026-06-30T23", "h"))
    offer = look(late)["T0000"]
    assert offer.humidity is not None
    hours = (UNTIL - np.datetime64("2025-01-01T00", "h")).astype(int) + 1
    known = (np.datetime64("2026-06-30T23", "h") - np.datetime64("2025-01-01T00", "h")).astype(int) + 1
    # Nothing is rejected, but a spell at the ceiling may be: within a hundredth.
    assert offer.humidity.known_share == pytest.approx(known / hours, abs=0.01)
    assert not offer.is_sound
    assert "no hour with temperature and humidity since 30 June 2026" in str(offer.humidity)


def test_a_year_that_the_source_does_not_have_counts_as_missing(look: Look, server: Loopback, tmp_path: Path) -> None:
    look(ALDER)
    del server.answers["/hourly/2025/T0000.csv.gz"]
    where = (LATITUDE, LONGITUDE, None)
    (offer,) = offers(where, tmp_path / "other copies", NETWORK, NOW)
    assert offer.humidity is not None
    # 2026 up to 20 November 02 UTC: 323 days of 24 h and 3 h, 7755 of 8760 + 7755 hours.
    assert offer.humidity.known_share == pytest.approx(7755 / 16515, abs=0.01)
    assert not offer.is_sound


def test_a_station_that_measures_no_humidity_is_the_last_of_those_with_hours_and_says_so(look: Look) -> None:
    offer = look(replace(NEAR, columns=("temp", "prcp")))["N0000"]
    assert str(offer.humidity) == "no hour has both temperature and humidity, so that no wet hours can be told from it"
    assert not offer.is_sound


def test_files_that_hold_only_a_models_hours_are_that_stations_trouble_alone(look: Look) -> None:
    found = look(replace(NEAR, modelled=True), ALDER)
    assert trouble(found["N0000"]) == "no hours were measured in 2025 and 2026"
    assert found["T0000"].is_sound


def test_a_year_that_could_not_be_fetched_is_not_held_against_the_station(look: Look) -> None:
    found = look(ALDER, failing="2025/T0000")
    assert "2025 is not there" in trouble(found["T0000"])
    assert isinstance(found["T0000"].error, SourceDownError)


def test_stations_without_hours_do_not_use_up_the_places(look: Look) -> None:
    dead = [replace(NEAR, key=f"D{number}", modelled=True) for number in range(MOST_OFFERED)]
    assert look(*dead, ALDER)["T0000"].is_sound


def test_no_more_stations_are_asked_than_needed(look: Look, server: Loopback) -> None:
    gone = [replace(NEAR, key=f"D{number:02}", until=np.datetime64("2024-01-01T00", "h")) for number in range(20)]
    look(*gone)
    assert len(asked(server)) == MOST_ASKED


def test_a_closed_station_is_not_asked_unless_named(look: Look, server: Loopback) -> None:
    look(OLD_MILL, ALDER)
    assert asked(server) == {"T0000"}
    with pytest.raises(MissingInputError, match=r"station T0002 \(Old Mill\) sends no hours"):
        look(OLD_MILL, ALDER, wanted="t0002")


def test_a_station_is_found_by_its_name_however_many_are_nearer(look: Look) -> None:
    nearer = [replace(NEAR, key=f"N{number}") for number in range(MOST_OFFERED)]
    found = look(*nearer, FAR, wanted="t0003")
    assert found["T0003"].is_sound
    assert "T0003" not in look(*nearer, FAR)


def test_a_station_out_of_reach_is_refused_before_any_hours_are_asked_for(look: Look, server: Loopback) -> None:
    with pytest.raises(MissingInputError, match="no station '99999' within 100 km") as caught:
        look(ALDER, wanted="99999")
    assert "T0000 (Alder Reach Airport)" in caught.value.hint
    assert asked(server) == set()


def test_the_source_of_the_station_named_being_down_is_said_as_that(look: Look) -> None:
    with pytest.raises(SourceDownError, match="T0000"):
        look(ALDER, wanted="T0000", failing="2026/T0000")


@pytest.mark.parametrize(
    ("station_m", "place_m", "difference"), [(245, 250.0, -5.0), (None, 250.0, None), (245, None, None)]
)
def test_a_difference_of_heights_needs_both(
    look: Look, station_m: int | None, place_m: float | None, difference: float | None
) -> None:
    assert look(replace(ALDER, elevation=station_m), height=place_m)["T0000"].height_difference_m == difference


@pytest.mark.parametrize(("share", "words", "sound"), [(0.8999, "89 %", False), (0.9, "90 %", True)])
def test_below_nine_tenths_known_something_always_speaks_against_it(share: float, words: str, sound: bool) -> None:
    one = Humidity(share, (), UNTIL)
    assert one.is_sound == sound
    assert f"known in {words} of hours" in str(one)
    assert ("nothing speaks against it" in str(one)) == sound
    assert ("wet hours are missing from the rest" in str(one)) != sound
