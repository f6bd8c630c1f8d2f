"""Weather coming in: each form by its reader, refusals, and whom a workspace asks as whom.

All weather here is invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import source_replies
from known_workspace import HUMIDITY, LOGGER, RAIN, TEMPERATURE, run, workspace

from forecast.config import Settings
from forecast.database import Database
from forecast.desk import intake
from forecast.desk.intake import FORMS, Intake, load
from forecast.desk.sources import network, service
from forecast.errors import DataError, MissingInputError, SettingsError
from forecast.ingest import ghcnh, grid_intervals, hour_columns
from forecast.ingest.imported import Grade, Provider, from_one
from forecast.ingest.keep.archive import issues
from forecast.ingest.keep.store import Replace, Written, imports, providers_of, read_hours
from forecast.ingest.keep.typical_store import read_typical_year
from forecast.ingest.meteostat_source import PROVIDERS, Fetched

NOW = datetime(2023, 7, 19, 5, 0, tzinfo=UTC)  # the morning after the day of source_replies
PLACE = (40.0, -80.0)  # of source_replies


@pytest.fixture(autouse=True)
def _no_word_from_outside(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("FORECAST_WEATHER_KEY", "FORECAST_ALLOW_HOSTS"):
        monkeypatch.delenv(name, raising=False)


def settings_of(**tables: object) -> Settings:
    return workspace({"field": PLACE}, tables=tables)


def loaded(database: Database, path: Path, body: bytes, **how: Any) -> Intake:
    path.write_bytes(body)
    return load(settings_of(), database, "field", path, NOW, **how)


def stored(database: Database, quantity: str) -> list[float]:
    panel = read_hours(database, ["field"])
    assert panel is not None
    np.testing.assert_array_equal(panel.hours, source_replies.HOURS)
    values: list[float] = panel.values[quantity][:, 0].tolist()
    return values


# Observations


@pytest.mark.parametrize(("name", "form"), [("year.psv", None), ("YEAR.PSV", None), ("year.txt", "ghcnh")])
def test_a_ghcnh_file_is_known_by_its_ending_or_by_word(
    database: Database, tmp_path: Path, name: str, form: str | None
) -> None:
    done = loaded(database, tmp_path / name, source_replies.ghcnh(), form=form)
    assert done.written is not None
    assert done.issue is None
    np.testing.assert_array_equal(stored(database, TEMPERATURE), [19, 20, 21, np.nan])
    assert stored(database, RAIN) == [0, 0, 2.5, 0]
    (only,) = imports(database, ["field"])
    assert only.source == name
    behind = providers_of(database, "field", source_replies.HOURS[0], source_replies.HOURS[-1])
    assert sum(behind.values()) == done.written.new
    read = ghcnh.read(source_replies.ghcnh(), source=name)
    assert set(behind) <= set(read.providers)


@pytest.mark.parametrize("name", ["logger.csv", "logger.txt", "logger"])
def test_any_other_file_is_a_csv(database: Database, tmp_path: Path, name: str) -> None:
    loaded(database, tmp_path / name, source_replies.CANONICAL_CSV)
    assert stored(database, HUMIDITY) == [92, 90, 89, 88]
    assert providers_of(database, "field", source_replies.NOON, source_replies.NOON) == {LOGGER: 4}


def test_a_word_for_the_form_counts_more_than_the_ending(database: Database, tmp_path: Path) -> None:
    loaded(database, tmp_path / "logger.psv", source_replies.CANONICAL_CSV, form="csv")
    assert stored(database, HUMIDITY) == [92, 90, 89, 88]


def test_a_file_takes_the_place_of_another_s_values_only_when_told_to(database: Database, tmp_path: Path) -> None:
    loaded(database, tmp_path / "year.psv", source_replies.ghcnh())
    warmer = source_replies.CANONICAL_CSV.replace(b"T12:00Z,20,", b"T12:00Z,25,")
    with pytest.raises(DataError, match="nothing was written"):
        loaded(database, tmp_path / "logger.csv", warmer)
    assert stored(database, TEMPERATURE)[1] == 20
    done = loaded(database, tmp_path / "logger.csv", warmer, replace=True)
    assert done.written is not None
    assert (done.written.changed, done.written.kept) == (1, 0)
    assert stored(database, TEMPERATURE)[1] == 25


def test_readings_arrive_by_the_lag_of_their_station(database: Database, tmp_path: Path) -> None:
    loaded(database, tmp_path / "logger.csv", source_replies.CANONICAL_CSV)
    # 180 minutes where the settings say nothing: the hour of 12:00 came at 15:00.
    before, after = (read_hours(database, ["field"], np.datetime64(f"2023-07-18T{c}", "m")) for c in ("14:59", "15:00"))
    assert before is not None
    assert after is not None
    assert [str(panel.hours[-1]) for panel in (before, after)] == ["2023-07-18T11", "2023-07-18T12"]


@pytest.mark.parametrize("form", [form for form in FORMS if form != "csv"])
def test_a_file_that_is_not_there_is_told(database: Database, tmp_path: Path, form: str) -> None:
    with pytest.raises(MissingInputError, match="cannot be read"):
        load(settings_of(), database, "field", tmp_path / "gone", NOW, form=form)


def test_a_station_that_is_not_known_is_told_first(database: Database, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="no station 'elsewhere'"):
        load(settings_of(), database, "elsewhere", tmp_path / "gone.csv", NOW)


# Weather forecasts

GRID, COLUMNS = source_replies.as_bytes(source_replies.grid_intervals()), source_replies.hour_columns


def columns_with_moment() -> bytes:
    """The reply in hourly columns; this form says nothing of the moment of issue."""
    return source_replies.as_bytes(COLUMNS())


def test_a_grid_forecast_goes_to_the_archive_as_its_own_form(database: Database, tmp_path: Path) -> None:
    done = loaded(database, tmp_path / "grid.json", GRID, form="grid_intervals")
    assert done.written is None
    (kept,) = issues(database, ["field"])
    assert done.issue == kept.number
    assert kept.forecast.provider == grid_intervals.DEFAULT
    assert kept.forecast.source == "grid.json"
    assert str(kept.forecast.issued_utc) == "2023-07-18T09:41"
    noon = int(np.flatnonzero(kept.forecast.hours == source_replies.NOON)[0])
    assert kept.forecast.values[TEMPERATURE][noon] == pytest.approx(20)  # 68 °F
    assert read_hours(database, ["field"]) is None
    assert loaded(database, tmp_path / "again.json", GRID, form="grid_intervals").issue is None  # once only


def test_hourly_columns_are_read_as_such_and_not_archived_without_their_moment(
    database: Database, tmp_path: Path
) -> None:
    with pytest.raises(DataError, match="does not say when the forecast was issued"):
        loaded(database, tmp_path / "columns.json", columns_with_moment(), form="hour_columns")
    assert issues(database, ["field"]) == ()


@pytest.mark.parametrize(("body", "form"), [(GRID, "hour_columns"), (columns_with_moment(), "grid_intervals")])
def test_the_one_form_is_no_file_of_the_other(database: Database, tmp_path: Path, body: bytes, form: str) -> None:
    with pytest.raises(DataError) as caught:
        loaded(database, tmp_path / "forecast.json", body, form=form)
    assert "does not say when" not in caught.value.what
    assert issues(database, ["field"]) == ()


# Typical years


@pytest.mark.parametrize(
    ("name", "form", "body"),
    [
        ("year.epw", None, source_replies.epw),
        ("YEAR.EPW", None, source_replies.epw),
        ("tmy3.csv", "typical_year", source_replies.tmy3),
    ],
)
def test_a_typical_year_is_kept_for_its_station_and_is_no_observation(
    database: Database, tmp_path: Path, name: str, form: str | None, body: Callable[[], bytes]
) -> None:
    done = loaded(database, tmp_path / name, body(), form=form)
    assert (done.written, done.issue) == (None, None)
    year = read_typical_year(database, "field", "2023-07-19T05:00:00Z")
    assert year is not None
    assert year.source == name
    assert year.values[TEMPERATURE][source_replies.NOON_ROW] == 20
    assert read_typical_year(database, "field", "2023-07-19T04:59:59Z") is None
    assert read_hours(database, ["field"]) is None


# A degree of latitude is 111.2 km: 0.89 degrees are 99 km, 0.91 are 101 km. Along the 40th parallel a degree of
# longitude is 111.2 km × cos 40° = 85.2 km: 1.16 degrees are 99 km, 1.19 are 101 km.
@pytest.mark.parametrize(
    ("north", "east", "is_taken"),
    [(0.89, 0, True), (0.91, 0, False), (-0.91, 0, False), (0, 1.16, True), (0, 1.19, False), (0, -1.19, False)],
)
def test_the_climate_of_a_place_more_than_100_km_away_is_refused(
    database: Database, tmp_path: Path, north: float, east: float, *, is_taken: bool
) -> None:
    settings = workspace({"field": (PLACE[0] + north, PLACE[1] + east)})
    path = tmp_path / "year.epw"
    path.write_bytes(source_replies.epw())
    if is_taken:
        load(settings, database, "field", path, NOW)
    else:
        with pytest.raises(DataError, match="101 km from station 'field'"):
            load(settings, database, "field", path, NOW)
    assert (read_typical_year(database, "field") is not None) == is_taken


# What a source sends


def fetched_hours(figure: float) -> Fetched:
    hours = run("2023-07-18T10", 3)
    observed = from_one(hours, {TEMPERATURE: np.full(3, figure)}, PROVIDERS[0], "Meteostat T0WN")
    return Fetched(observed, None, NOW)


def test_a_fetch_changes_what_its_source_said_before_and_keeps_what_a_person_loaded(
    database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = settings_of()
    station = settings.grounds.station[0].model_copy(update={"meteostat_id": "T0WN"})
    loaded(database, tmp_path / "logger.csv", source_replies.CANONICAL_CSV)  # 11:00 to 13:00
    told = []
    for figure in (15.0, 16.0):
        monkeypatch.setattr(intake, "fetch_hours", lambda *_, figure=figure, **__: fetched_hours(figure))
        told.append(intake.fetch(settings, database, station, range(2023, 2024), NOW))
    assert [(done.written.new, done.written.changed, done.written.kept) for done in told if done.written] == [
        (1, 0, 2),
        (0, 1, 2),
    ]
    assert all("2 values of other sources stand and differ" in str(done.notices) for done in told)
    panel = read_hours(database, ["field"])
    assert panel is not None
    np.testing.assert_array_equal(panel.values[TEMPERATURE][:4, 0], [16, 19, 20, 21])


def test_a_fetch_looked_for_whole_years_up_to_its_own_hour(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    settings = settings_of()
    station = settings.grounds.station[0].model_copy(update={"meteostat_id": "T0WN"})
    looks: list[tuple[str, str]] = []
    replaced: list[Replace] = []

    def noted(*_: object, **how: Any) -> Written:
        first, last = how["looked"]
        looks.append((str(first), str(last)))
        replaced.append(how["replace"])
        return Written(0, 0, 0)

    monkeypatch.setattr(intake, "fetch_hours", lambda *_, **__: fetched_hours(15.0))
    monkeypatch.setattr(intake, "write_hours", noted)
    for years in (range(2022, 2024), range(2021, 2022)):
        intake.fetch(settings, database, station, years, NOW)
    assert looks == [("2022-01-01T00", "2023-07-19T05"), ("2021-01-01T00", "2021-12-31T23")]
    assert replaced == [Replace.OWN, Replace.OWN]


def test_what_is_foretold_became_known_when_it_was_fetched_and_not_when_a_copy_of_it_was_read(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = settings_of(weather_forecast={"shape": "hour_columns"})
    station = settings.grounds.station[0].model_copy(update={"meteostat_id": "T0WN"})
    fetched = NOW.replace(hour=4)
    foretold = hour_columns.read(source_replies.as_bytes(COLUMNS()), source="the invented address")
    observed = fetched_hours(15.0).observed
    monkeypatch.setattr(intake, "fetch_hours", lambda *_, **__: Fetched(observed, foretold, fetched))
    monkeypatch.setattr(
        intake, "fetch_forecast", lambda *_: (replace(foretold, provider=grid_intervals.DEFAULT), fetched)
    )
    by_files = intake.fetch(settings, database, station, range(2023, 2024), NOW)
    by_service = intake.fetch_weather_forecast(settings, database, station, NOW)
    kept = issues(database, ["field"])
    assert [one.number for one in kept] == [by_files.issue, by_service.issue]
    assert {str(one.fetched_utc) for one in kept} == {"2023-07-19T04:00:00"}
    assert by_files.written is not None
    assert by_service.written is None


# Whom a workspace asks


def test_without_a_service_none_is_asked(database: Database) -> None:
    settings = settings_of()
    assert service(settings) is None
    with pytest.raises(SettingsError, match=r"no \[weather_forecast\] is set"):
        intake.fetch_weather_forecast(settings, database, settings.grounds.station[0], NOW)


@pytest.mark.parametrize(
    ("shape", "usual", "address"),
    [
        # Both addresses from the services' own documentation (from memory).
        ("hour_columns", hour_columns.DEFAULT, "https://api.open-meteo.com/v1/forecast"),
        ("grid_intervals", grid_intervals.DEFAULT, "https://api.weather.gov"),
    ],
)
def test_each_shape_has_its_usual_service(shape: str, usual: Provider, address: str) -> None:
    asked = service(settings_of(weather_forecast={"shape": shape, "days": 7}))
    assert asked is not None
    assert (asked.shape, asked.address, asked.days, asked.provider, asked.key) == (shape, address, 7, usual, "")


@pytest.mark.parametrize(
    ("words", "provider"),
    [
        (
            {"name": "Our Own Grid", "attribution": "Our office", "licence": "CC0", "link": "https://example.org"},
            Provider(
                "hour_columns.our_own_grid", "Our Own Grid", Grade.MODEL, "Our office", "CC0", "https://example.org"
            ),
        ),
        ({"name": "Ours"}, Provider("hour_columns.ours", "Ours", Grade.MODEL)),
        (
            {"attribution": "Our office"},
            Provider("hour_columns.own", "hour_columns.own", Grade.MODEL, "Our office"),
        ),
        ({"licence": "CC0"}, Provider("hour_columns.own", "hour_columns.own", Grade.MODEL, "", "CC0")),
        (
            {"link": "https://example.org"},
            Provider("hour_columns.own", "hour_columns.own", Grade.MODEL, "", "", "https://example.org"),
        ),
    ],
)
def test_a_service_of_one_s_own_has_its_own_name_and_credit(words: dict[str, str], provider: Provider) -> None:
    form = {"shape": "hour_columns", "address": "https://example.org/weather/", **words}
    asked = service(settings_of(weather_forecast=form))
    assert asked is not None
    assert (asked.address, asked.days, asked.provider) == ("https://example.org/weather", 16, provider)


def test_the_key_comes_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FORECAST_WEATHER_KEY", "Kq7invented")
    asked = service(settings_of(weather_forecast={"shape": "hour_columns"}))
    assert asked is not None
    assert asked.key == "Kq7invented"


@pytest.mark.parametrize(
    ("listed", "variable", "hosts"),
    [
        ([], None, ()),
        (["hut.example"], None, ("hut.example",)),
        ([], " 127.0.0.1  [::1]:8080 ", ("127.0.0.1", "[::1]:8080")),
        (["hut.example"], "127.0.0.1", ("hut.example", "127.0.0.1")),
    ],
)
def test_private_hosts_are_allowed_by_the_settings_and_by_the_environment(
    monkeypatch: pytest.MonkeyPatch, listed: list[str], variable: str | None, hosts: tuple[str, ...]
) -> None:
    if variable is not None:
        monkeypatch.setenv("FORECAST_ALLOW_HOSTS", variable)
    assert network(settings_of(network={"allow_hosts": listed})).allow_hosts == hosts


def test_the_network_is_asked_unless_told_otherwise_as_whom_and_as_long_as_the_settings_say() -> None:
    settings = settings_of(network={"contact": "greens@example.org", "patience_s": 7.0})
    asked = network(settings)
    assert (asked.contact, asked.offline, asked.limits.whole_s) == ("greens@example.org", False, 7.0)
    assert network(settings, offline=True) == replace(asked, offline=True)
