"""check, list, export, withdraw and give-back, on the demo and on a place with two stations."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from demo_workspace import demo_copy

from forecast.cli import cli
from forecast.config import read_settings
from forecast.database import Database
from forecast.ingest.imported import Grade, Provider, from_one
from forecast.ingest.keep.store import read_hours, write_hours
from forecast.panel import Floats

SECOND = """
[[station]]
id = "wren-hill"
name = "Wren Hill gauge (invented)"
latitude_deg = 36.43
longitude_deg = -79.6
elevation_m = 250
"""


def run(*arguments: str | Path, code: int = 0) -> Result:
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert done.exit_code == code, (done.output, done.exception)
    return done


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    return demo_copy(tmp_path / "w")


@pytest.fixture
def two(demo: Path) -> Path:
    """The demo with a second station 3.3 km north, whose July is two degrees warmer, with a humidity of its own."""
    grounds = demo / "grounds.toml"
    grounds.write_text(grounds.read_text() + SECOND)
    settings = read_settings(demo)
    database = Database(settings.database_path)
    raw = read_hours(database, ["alder-reach"])
    assert raw is not None
    july = raw.between(np.datetime64("2050-07-01T00", "h"), np.datetime64("2050-07-25T06", "h"))
    values: dict[str, Floats] = {
        "air_temperature_c": july.values["air_temperature_c"][:, 0] + 2,
        "relative_humidity_pct": 70.0 + (7 * np.arange(len(july.hours)) % 31).astype(np.float64),  # no two days alike
    }
    provider = Provider("wren", "the school's own readings", Grade.OBSERVED, "Wren Hill School (invented)")
    from datetime import UTC, datetime

    hours = from_one(july.hours, values, provider, "wren.csv")
    write_hours(database, "wren-hill", hours, lag_minutes=60, now=datetime(2050, 7, 25, 7, tzinfo=UTC))
    database.close()
    return demo


# check


def test_check_tells_wetness_first_then_marks_then_completeness_and_source(demo: Path) -> None:
    told = run("weather", "check", "--station", "alder-reach", "-w", demo).stdout
    headings = ["FOR WET HOURS", "READINGS THAT CHECKS MARKED", "KNOWN HOURS", "SOURCES"]
    places = [told.index(heading) for heading in headings]
    assert places == sorted(places)
    assert "Nothing in this record speaks against its humidity" in told


def test_check_as_json_counts_the_hours_of_each_month(demo: Path) -> None:
    report = json.loads(run("weather", "check", "--station", "alder-reach", "-w", demo, "--json").stdout)
    assert report["schema"] == 1
    temperature = next(one for one in report["completeness"] if one["quantity"] == "air_temperature_c")
    assert len(temperature["months"]) == 120, "ten years from November to October"
    assert all(90 <= month["known_pct"] <= 100 for month in temperature["months"])


@pytest.mark.parametrize(("name", "begins"), [("season.png", b"\x89PNG"), ("season.svg", b"<?xml")])
def test_check_draws_a_season(demo: Path, tmp_path: Path, name: str, begins: bytes) -> None:
    picture = tmp_path / name
    span = ("--from", "2050-04-01", "--to", "2050-07-24")
    run("weather", "check", "--station", "alder-reach", "-w", demo, *span, "--picture", picture)
    assert picture.read_bytes().startswith(begins)


def test_a_picture_of_another_kind_is_refused(demo: Path) -> None:
    done = run("weather", "check", "--station", "alder-reach", "-w", demo, "--picture", "season.pdf", code=2)
    assert ".png or .svg" in done.output


def test_nothing_stored_is_told(two: Path) -> None:
    span = ("--from", "2030-01-01", "--to", "2030-02-01")
    done = CliRunner().invoke(cli, ["weather", "check", "--station", "wren-hill", "-w", str(two), *span])
    assert "nothing is stored" in str(done.exception)


# withdraw and give back


def place_humidity(folder: Path) -> list[str]:
    """Humidity of the last three hours before the demo's morning, with where it came from, as exported."""
    span = ("--from", "2050-07-24T20:00", "--to", "2050-07-24T22:00")
    rows = csv.DictReader(run("weather", "export", "-w", folder, *span).stdout.splitlines())
    return [f"{row['relative_humidity_pct']} {row['relative_humidity_pct_origin']}" for row in rows]


def test_another_station_takes_over_what_is_withdrawn_and_the_page_says_so(two: Path) -> None:
    before = place_humidity(two)
    assert all(cell.endswith(" observed") for cell in before)
    run(
        "weather", "withdraw", "--station", "alder-reach", "--quantity", "relative_humidity_pct",
        "--from", "2050-07-10", "--reason", "the sensor was wet", "--by", "R. Quill", "-w", two,
    )  # fmt: skip
    after = place_humidity(two)
    assert all(cell.endswith(" neighbour") for cell in after)
    assert after != before
    page = " ".join(run("morning", "-w", two).stdout.split())
    assert "relative humidity: from Wren Hill gauge (invented), 2.1" in page.lower().replace(
        "wren hill gauge (i", "Wren Hill gauge (i"
    )
    assert "Wren Hill School (invented)" in page, "its credit"
    listed = json.loads(run("weather", "list", "--json", "-w", two).stdout)["withdrawals"]
    assert [(row["reason"], row["given_back_utc"]) for row in listed] == [("the sensor was wet", None)]


def test_a_replay_of_a_morning_before_does_not_know_of_the_withdrawal(two: Path) -> None:
    before = run("morning", "-w", two, "--as-of", "2050-07-20T05:30").stdout
    run(
        "weather", "withdraw", "--station", "alder-reach", "--quantity", "relative_humidity_pct",
        "--from", "2050-07-10", "--reason", "the sensor was wet", "-w", two,
    )  # fmt: skip
    assert run("morning", "-w", two, "--as-of", "2050-07-20T05:30").stdout == before


def test_what_is_given_back_is_used_again(two: Path) -> None:
    before = place_humidity(two)
    run(
        "weather", "withdraw", "--station", "alder-reach", "--quantity", "relative_humidity_pct",
        "--from", "2050-07-10", "--reason", "the sensor was wet", "-w", two,
    )  # fmt: skip
    run("weather", "give-back", "1", "--reason", "it was fine", "-w", two)
    assert place_humidity(two) == before


def test_check_shows_what_was_withdrawn(two: Path) -> None:
    run(
        "weather", "withdraw", "--station", "alder-reach", "--quantity", "relative_humidity_pct",
        "--from", "2050-07-10", "--to", "2050-07-12", "--reason", "the sensor was wet", "-w", two,
    )  # fmt: skip
    told = " ".join(run("weather", "check", "--station", "alder-reach", "-w", two).stdout.split())
    # The hours that end from 01:00 on the 10th to midnight after the 12th, Eastern daylight time: 72 of them.
    assert "LEFT OUT: relative humidity near 2 m, over water, 72 h, 2050-07-10 05:00 UTC to 2050-07-13 04:00" in told
    assert "TAKEN OUT BY HAND 1: relative_humidity_pct" in told


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--station", "nowhere", "--quantity", "rain_mm"), "no station"),
        (("--station", "alder-reach", "--quantity", "rain"), "no quantity"),
    ],
)
def test_a_withdrawal_that_cannot_be_right_is_refused(demo: Path, arguments: tuple[str, ...], words: str) -> None:
    call = ["weather", "withdraw", *arguments, "--from", "2050-07-10", "--reason", "x", "-w", str(demo)]
    assert words in str(CliRunner().invoke(cli, call).exception)


# export


def test_what_is_exported_raw_reads_back_as_it_was(demo: Path, tmp_path: Path) -> None:
    text = run("weather", "export", "--raw", "--place", "alder-reach", "-w", demo).stdout
    (tmp_path / "export.csv").write_text(text)
    done = run("weather", "load", tmp_path / "export.csv", "--station", "alder-reach", "-w", demo, "--replace", code=1)
    assert "a forecast is no observation" in str(done.exception), "the demo's weather runs on past its morning"
    span = ("--to", "2050-07-24")
    text = run("weather", "export", "--raw", "--place", "alder-reach", "-w", demo, *span).stdout
    (tmp_path / "export.csv").write_text(text)
    told = run("weather", "load", tmp_path / "export.csv", "--station", "alder-reach", "-w", demo).stderr
    assert "0 new values" in told
    assert " 0 replaced" in told


def test_a_place_of_a_property_s_own_has_its_own_hours(two: Path) -> None:
    table = (two / "properties.csv").read_text().splitlines()
    header, first = table[0].split(","), table[1].split(",")
    header += ["latitude_deg", "longitude_deg", "elevation_m"]
    rows = [",".join(header), ",".join([*first, "36.43", "-79.60", "250"]), *(f"{row},,," for row in table[2:])]
    (two / "properties.csv").write_text("\n".join(rows) + "\n")
    page = json.loads(run("morning", "-w", two, "--json").stdout)
    own = next(place for place in page["places"] if place["place_id"] == "36.4300,-79.6000,250")
    temperature = next(basis for basis in own["basis"] if "air temperature" in basis["quantities"])
    assert temperature["station"] == "Wren Hill gauge (invented)", "it stands on the ground itself"
    assert temperature["distance_km"] == 0
    rain = next(basis for basis in own["basis"] if "rain" in basis["quantities"])
    assert rain["station"] == "Alder Reach field station (invented)", "the only one with a gauge"
    # 0.03° of latitude: 111.2 × 0.03 = 3.3 km
    assert rain["distance_km"] == pytest.approx(3.3, abs=0.05)
    assert rain["confidence"] == "good"
    assert page["areas"][0]["place_id"] == own["place_id"]
    assert page["areas"][1]["place_id"] == "alder-reach"


# A typical year


def typical_year_file() -> Path:
    """The Greensboro typical year that comes with pvlib (NREL, TMY3)."""
    import pvlib

    return Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"


def test_a_typical_year_stands_in_for_one_past_year_of_a_short_record_and_says_so(demo: Path, tmp_path: Path) -> None:
    text = run("weather", "export", "--raw", "--place", "alder-reach", "-w", demo, "--from", "2049-09-01",
               "--to", "2050-07-24").stdout  # fmt: skip
    (tmp_path / "short.csv").write_text(text)
    (demo / "workspace.sqlite").unlink()
    Database(demo / "workspace.sqlite", create=True).close()
    run("weather", "load", tmp_path / "short.csv", "--station", "alder-reach", "-w", demo)
    before = json.loads(run("morning", "-w", demo, "--json").stdout)
    assert before["places"][0]["past_years"] == 0
    run("weather", "load", typical_year_file(), "--form", "typical_year", "--station", "alder-reach", "-w", demo)
    page = json.loads(run("morning", "-w", demo, "--json").stdout)
    place = page["places"][0]
    assert (place["past_years"], place["typical_year"]) == (1, "723170TYA.CSV")
    assert any("TMY3" in credit["name"] for credit in place["credits"])
    assert {disease["answer"] for area in page["areas"] for disease in area["diseases"]} <= {"scout", "hold"}
    told = " ".join(run("morning", "-w", demo).stdout.split())
    assert "One of them is a typical year (723170TYA.CSV), stitched together from several" in told
    # It is no observation: the store holds none of it, and a check of the station does not see it.
    listed = json.loads(run("weather", "list", "--json", "-w", demo).stdout)
    assert min(row["first_hour_utc"] for row in listed["hours"]) >= "2049-08-31"


def test_a_long_record_has_no_use_for_a_typical_year(demo: Path) -> None:
    before = json.loads(run("morning", "-w", demo, "--json").stdout)
    run("weather", "load", typical_year_file(), "--form", "typical_year", "--station", "alder-reach", "-w", demo)
    assert json.loads(run("morning", "-w", demo, "--json").stdout) == before


def test_a_silent_station_is_told_of_though_another_speaks_for_it(two: Path) -> None:
    for quantity in ("relative_humidity_pct", "air_temperature_c"):
        run(
            "weather", "withdraw", "--station", "alder-reach", "--quantity", quantity, "--from", "2050-07-24T12:00",
            "--reason", "struck by lightning", "-w", two,
        )  # fmt: skip
    page = json.loads(run("morning", "-w", two, "--json").stdout)
    place = page["places"][0]
    # From 12:00 to 02:00 the next night, both included, the gauge at Wren Hill speaks: 15 hours.
    assert place["hours_from_others"] == 15
    told = " ".join(run("morning", "-w", two).stdout.split())
    assert "15 from other stations" in told
    # The last reading of use is that of 11:00; at 05:30 the whole hour is 05:00, 18 h later.
    silent = "Alder Reach field station (invented) has sent no temperature and humidity of use for 18 h"
    assert silent in told
