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
from forecast.desk import export
from forecast.ingest.imported import Grade, Provider, from_one
from forecast.ingest.keep.store import read_hours, write_hours
from forecast.panel import Floats, Panel

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


def test_a_withdrawal_says_how_much_it_takes_out(two: Path) -> None:
    done = run(
        "weather", "withdraw", "--station", "alder-reach", "--quantity", "relative_humidity_pct",
        "--from", "2050-07-10", "--to", "2050-07-12", "--reason", "the sensor was wet", "-w", two,
    )  # fmt: skip
    assert done.stdout == "withdrawal 1 written down: it takes out 72 values\n"
    assert "dew_point_c" not in done.stderr, "this station has no other humidity"


def test_a_withdrawal_of_one_humidity_says_that_the_other_stands(tmp_path: Path, demo: Path) -> None:
    (tmp_path / "both.csv").write_text(
        "hour_utc,air_temperature_c,dew_point_c,relative_humidity_pct\n2040-01-01T00:00Z,20,15,73\n"
    )
    run("weather", "load", tmp_path / "both.csv", "--station", "alder-reach", "-w", demo)
    done = run(
        "weather", "withdraw", "--station", "alder-reach", "--quantity", "relative_humidity_pct",
        "--from", "2039-12-31", "--to", "2040-01-02", "--reason", "wet", "-w", demo,
    )  # fmt: skip
    assert "it takes out 1 values" in done.stdout
    assert "dew_point_c of this station stands" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--station", "nowhere", "--quantity", "rain_mm"), "no station"),
        (("--station", "alder-reach", "--quantity", "rain"), "no quantity"),
        (("--station", "alder-reach", "--quantity", "sun_elevation_deg"), "the program works it out itself"),
        (("--station", "alder-reach", "--quantity", "leaf_wet_fraction"), "nothing to take out"),
        (("--station", "alder-reach", "--quantity", "rain_mm", "--to", "2039-01-01"), "nothing to take out"),
    ],
)
def test_a_withdrawal_that_cannot_be_right_is_refused(demo: Path, arguments: tuple[str, ...], words: str) -> None:
    first = "2030-07-10" if "--to" in arguments else "2050-07-10"
    call = ["weather", "withdraw", *arguments, "--from", first, "--reason", "x", "-w", str(demo)]
    assert words in str(CliRunner().invoke(cli, call).exception)
    assert json.loads(run("weather", "list", "--json", "-w", demo).stdout)["withdrawals"] == []


def test_a_moment_between_hours_means_the_hour_that_holds_it(demo: Path) -> None:
    # 06:30 to 06:45 EDT lies in the hour that ends at 07:00, 11:00 UTC.
    run(
        "weather", "withdraw", "--station", "alder-reach", "--quantity", "rain_mm", "--from", "2050-07-01T06:30",
        "--to", "2050-07-01t06:45", "--reason", "sprinkler", "-w", demo,
    )  # fmt: skip
    (row,) = json.loads(run("weather", "list", "--json", "-w", demo).stdout)["withdrawals"]
    assert (row["first_hour_utc"], row["last_hour_utc"]) == ("2050-07-01T11:00Z", "2050-07-01T11:00Z")


def test_what_was_given_back_stays_readable_with_its_reason(demo: Path) -> None:
    run(
        "weather", "withdraw", "--station", "alder-reach", "--quantity", "rain_mm", "--from", "2050-07-01",
        "--reason", "sprinkler", "-w", demo,
    )  # fmt: skip
    run("weather", "give-back", "1", "--reason", "it was a shower", "-w", demo)
    (row,) = json.loads(run("weather", "list", "--json", "-w", demo).stdout)["withdrawals"]
    assert (row["reason"], row["given_back_reason"]) == ("sprinkler", "it was a shower")
    run("weather", "give-back", str(2**40), "--reason", "x", "-w", demo, code=2)


def test_check_does_not_call_a_withdrawn_humidity_sound(demo: Path) -> None:
    run(
        "weather", "withdraw", "--station", "alder-reach", "--quantity", "relative_humidity_pct",
        "--from", "2050-06-01", "--reason", "drifted", "-w", demo,
    )  # fmt: skip
    told = " ".join(run("weather", "check", "--station", "alder-reach", "-w", demo).stdout.split())
    assert "Nothing in this record speaks against" not in told
    assert "were taken out by hand" in told
    done = run("weather", "check", "--station", "alder-reach", "-w", demo, "--from", "2050-06-02", "--to", "2050-07-24")
    assert "no hour has both temperature and humidity" in " ".join(done.stdout.split())
    report = json.loads(
        run("weather", "check", "--station", "alder-reach", "-w", demo, "--from", "2050-06-02", "--to", "2050-07-24",
            "--json").stdout
    )  # fmt: skip
    humidity = next(one for one in report["completeness"] if one["quantity"] == "relative_humidity_pct")
    assert {month["known_pct"] for month in humidity["months"]} == {0}


def test_check_of_an_hour_makes_no_claim(demo: Path) -> None:
    told = run("weather", "check", "--station", "alder-reach", "-w", demo, "--from", "2050-06-02T06:00",
               "--to", "2050-06-02T06:00").stdout  # fmt: skip
    assert "Too short to tell: 1 h" in told


# list


def test_hours_of_a_renamed_station_are_listed_and_told_of(demo: Path) -> None:
    for name in ("grounds.toml", "properties.csv"):
        path = demo / name
        path.write_text(path.read_text().replace("alder-reach", "renamed"))
    listed = json.loads(run("weather", "list", "--json", "-w", demo).stdout)
    assert {row["station"] for row in listed["hours"]} == {"alder-reach"}
    page = " ".join(run("morning", "-w", demo).stdout.split())
    assert "hours are stored for alder-reach, which grounds.toml does not know" in page


def test_a_typical_year_is_listed(demo: Path) -> None:
    run("weather", "load", typical_year_file(), "--form", "typical_year", "--station", "alder-reach", "-w", demo)
    (row,) = json.loads(run("weather", "list", "--json", "-w", demo).stdout)["typical_years"]
    assert (row["station"], row["source"]) == ("alder-reach", "723170TYA.CSV")


# replays


def test_a_morning_that_has_not_been_cannot_be_replayed(demo: Path) -> None:
    # The demo's invented weather runs on to the end of October.
    run("morning", "-w", demo, "--as-of", "2050-08-20T05:30")
    done = run("morning", "-w", demo, "--as-of", "2051-07-01T05:30", code=2)
    assert "only mornings that have been" in done.output
    done = run("morning", "-w", demo, "--as-of", "9999-12-31T23:00", code=2)
    assert "outside the years" in done.output


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


def test_what_was_filled_is_not_read_back_as_observed(demo: Path, tmp_path: Path) -> None:
    span = ("--from", "2050-07-13", "--to", "2050-07-14")  # 2 h of temperature and humidity are missing there
    text = run("weather", "export", "--place", "alder-reach", "-w", demo, *span).stdout
    filled = sum(
        row[f"{name}_origin"] == "filled"
        for row in csv.DictReader(text.splitlines())
        for name in ("air_temperature_c", "relative_humidity_pct")
    )
    assert filled > 0
    (tmp_path / "export.csv").write_text(text)
    (demo / "workspace.sqlite").unlink()
    Database(demo / "workspace.sqlite", create=True).close()
    done = run("weather", "load", tmp_path / "export.csv", "--station", "alder-reach", "-w", demo)
    assert f"{filled} values left out" in done.stderr
    again = run("weather", "export", "--place", "alder-reach", "-w", demo, *span).stdout
    assert again == text, "filled again, by the same rule, and marked"


def test_an_export_holds_nothing_that_could_not_be_loaded_again(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def with_sun(database: Database, station_ids: list[str]) -> Panel | None:
        panel = read_hours(database, station_ids)
        assert panel is not None
        rain = "rain_mm"
        return panel.with_quantity("sun_elevation_deg", panel.values[rain], panel.flags[rain], panel.origin[rain])

    monkeypatch.setattr(export, "read_hours", with_sun)
    span = ("--from", "2050-07-13", "--to", "2050-07-13")
    header = run("weather", "export", "--raw", "--place", "alder-reach", "-w", demo, *span).stdout.splitlines()[0]
    assert "rain_mm" in header
    assert "sun_elevation_deg" not in header


def test_an_export_says_whose_data_they_are(two: Path) -> None:
    done = run("weather", "export", "--place", "alder-reach", "-w", two, "--from", "2050-07-20", "--to", "2050-07-21")
    assert done.stderr == "source: file loaded by hand\n", "the second station stands behind none of these hours"
    done = run("weather", "export", "--raw", "--place", "wren-hill", "-w", two, "--from", "2050-07-20")
    assert "source: Wren Hill School (invented)" in done.stderr


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
    answers = {disease["answer"] for area in page["areas"] for disease in area["diseases"]}
    assert answers <= {"scout", "hold", "no_model"}
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
