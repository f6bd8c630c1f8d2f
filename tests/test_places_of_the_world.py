"""Hours of places with odd clocks, from file to page: a leap day, both clock changes, half-hour zones, the south."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from forecast.cli import cli

GRASS = "tall_fescue"


def run(*arguments: str | Path) -> str:
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert done.exit_code == 0, (done.output, done.exception)
    return done.stdout


def logger_file(folder: Path, first: str, last: str, zone: str | int, warmest_at: int, mean_c: float) -> Path:
    """An invented export with a reading every full hour of the logger's clock, warmest at an hour of that clock."""
    if isinstance(zone, str):
        stamps = pd.date_range(first, last, freq="h", tz=zone)
    else:
        stamps = pd.date_range(first, last, freq="h")
    swing = np.cos((stamps.hour - warmest_at) / 24 * 2 * np.pi)
    day = stamps.day_of_year.to_numpy() % 7
    table = pd.DataFrame(
        {
            "clock": stamps.strftime("%Y-%m-%d %H:%M"),
            "t": np.round(mean_c + 5 * swing + day / 10, 1),
            "h": np.round(75 - 20 * swing - day),
        }
    )
    path = folder / "logger.csv"
    table.to_csv(path, index=False)
    return path


def place(folder: Path, latitude: float, longitude: float, zone: str, how: str) -> None:
    where = f"--name Far --latitude {latitude} --longitude {longitude} --time-zone {zone} --grass {GRASS}"
    run("start", folder / "w", *where.split(), "--offline")
    (folder / "map.toml").write_text(
        f'schema = 1\ntime_column = "clock"\ntime_format = "%Y-%m-%d %H:%M"\n{how}\n[columns]\n'
        'air_temperature_c = { column = "t", unit = "C" }\nrelative_humidity_pct = { column = "h", unit = "%" }\n'
    )
    run(
        "weather",
        "load",
        folder / "logger.csv",
        "--station",
        "station",
        "--map",
        folder / "map.toml",
        "-w",
        folder / "w",
    )


def exported(folder: Path, first: str, last: str) -> list[dict[str, str]]:
    text = run("weather", "export", "--raw", "--place", "station", "-w", folder / "w", "--from", first, "--to", last)
    return list(csv.DictReader(text.splitlines()))


def test_wall_clock_hours_run_unbroken_through_both_clock_changes_and_a_leap_day(tmp_path: Path) -> None:
    # Chicago 2024: clocks forward on 10 March, back on 3 November, and a 29 February.
    logger_file(tmp_path, "2024-02-20", "2024-11-10", "America/Chicago", 14, 18.0)
    place(tmp_path, 41.9, -87.6, "America/Chicago", 'time_zone = "America/Chicago"')
    rows = exported(tmp_path, "2024-02-01", "2024-11-30")
    stamps = [np.datetime64(row["hour_utc"].removesuffix("Z")) for row in rows]
    assert all(np.diff(stamps) == np.timedelta64(60, "m")), "no hour lost or doubled"
    assert str(stamps[0]) == "2024-02-20T06:00", "midnight CST"
    assert str(stamps[-1]) == "2024-11-10T06:00", "midnight CST again"
    by_stamp = {str(stamp): float(row["air_temperature_c"]) for stamp, row in zip(stamps, rows, strict=True)}
    # Warmest at 14:00 by the clock: 20:00 UTC in winter time, 19:00 UTC in summer time.
    for day, hour in (
        ("2024-02-29", 20),
        ("2024-03-09", 20),
        ("2024-03-11", 19),
        ("2024-11-02", 19),
        ("2024-11-04", 20),
    ):
        hours = {h: by_stamp[f"{day}T{h:02}:00"] for h in range(15, 24)}
        assert max(hours, key=hours.__getitem__) == hour, day


def test_a_logger_that_keeps_standard_time_does_not_change_its_clock(tmp_path: Path) -> None:
    logger_file(tmp_path, "2024-02-20", "2024-11-10", -6, 14, 18.0)
    place(tmp_path, 41.9, -87.6, "America/Chicago", "utc_offset_hours = -6")
    rows = exported(tmp_path, "2024-02-01", "2024-11-30")
    by_stamp = {row["hour_utc"]: float(row["air_temperature_c"]) for row in rows}
    for day in ("2024-02-29", "2024-07-01", "2024-11-04"):
        hours = {h: by_stamp[f"{day}T{h:02}:00Z"] for h in range(15, 24)}
        assert max(hours, key=hours.__getitem__) == 20, day


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "behind_minutes"),
    [(28.6, 77.2, "Asia/Kolkata", 30), (27.7, 85.3, "Asia/Kathmandu", 45)],
)
def test_a_zone_off_the_hour_takes_the_last_full_utc_hour_and_gives_a_page(
    tmp_path: Path, latitude: float, longitude: float, zone: str, behind_minutes: int
) -> None:
    logger_file(tmp_path, "2024-05-01", "2024-07-20", zone, 14, 29.0)
    place(tmp_path, latitude, longitude, zone, f'time_zone = "{zone}"')
    rows = exported(tmp_path, "2024-06-01T00:00", "2024-06-03T00:00")
    by_stamp = {row["hour_utc"]: float(row["air_temperature_c"]) for row in rows}
    warmest = max((stamp for stamp in by_stamp if "06-02" in stamp), key=by_stamp.__getitem__)
    # 14:00 in Delhi is 08:30 UTC, in Kathmandu 08:15: both go to the UTC hour of 08:00.
    assert warmest == "2024-06-02T08:00Z"
    page = json.loads(run("morning", "-w", tmp_path / "w", "--as-of", "2024-07-15T05:30", "--json"))
    model = next(one for one in page["stands"][0]["models"] if one["key"] == "fidanza_1996")
    assert all(past["answer"] is not None for past in model["past"]), "every finished day has its 24 hours"
    last = pd.Timestamp(page["places"][0]["last_observation"])
    assert last.minute == behind_minutes


def test_the_south_has_its_season_half_a_year_on(tmp_path: Path) -> None:
    logger_file(tmp_path, "2023-11-01", "2024-02-20", "Australia/Adelaide", 14, 24.0)
    place(tmp_path, -34.9, 138.6, "Australia/Adelaide", 'time_zone = "Australia/Adelaide"')
    january = json.loads(run("morning", "-w", tmp_path / "w", "--as-of", "2024-01-15T05:30", "--json"))
    brown_patch = january["areas"][0]["diseases"][0]
    assert brown_patch["answer"] == "scout", "in season, and no past years to tell a chance from"
    # Clocks in Adelaide stand 10 h 30 min ahead of UTC in summer, 9 h 30 min in standard time.
    told = " ".join(run("weather", "check", "--station", "station", "-w", tmp_path / "w").split())
    assert "FOR WET HOURS" in told
    assert "time zone" not in told, "nothing wrong with its clock"


def test_a_clock_taken_for_another_is_told_by_check(tmp_path: Path) -> None:
    logger_file(tmp_path, "2023-11-01", "2024-02-20", "Australia/Adelaide", 14, 24.0)
    place(tmp_path, -34.9, 138.6, "Australia/Adelaide", "utc_offset_hours = 0")
    told = " ".join(run("weather", "check", "--station", "station", "-w", tmp_path / "w").split())
    assert "warmest at about" in told
