"""What the page tells of each place's weather: its age, its silent stations, whom it credits, and which forecast.

All weather here is invented; each page is made of a small workspace of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from known_workspace import (
    HUMIDITY,
    NORTH,
    RAIN,
    TEMPERATURE,
    WEST,
    give_typical_year,
    record,
    run,
    weather,
    workspace,
)

from forecast.config import Settings
from forecast.database import Database
from forecast.desk.morning import morning
from forecast.desk.places import nearest_station
from forecast.ingest import grid_intervals, hour_columns
from forecast.ingest.imported import Grade, IssuedForecast, Provider
from forecast.ingest.keep.archive import archive
from forecast.ingest.keep.withdrawals import withdraw
from forecast.ingest.meteostat_source import MODELS, PROVIDERS
from forecast.report.page import MorningPage, PlaceReport
from forecast.report.sentences import place_sentences

NEW_YORK = ZoneInfo("America/New_York")
ONE = {"near": (NORTH, WEST)}
BY_METEOSTAT = PROVIDERS[0]


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def page(settings: Settings, database: Database, moment: str) -> MorningPage:
    """The page of a moment, in UTC."""
    return morning(settings, database, utc(moment), replay=True)


def place(settings: Settings, database: Database, moment: str) -> PlaceReport:
    """The first place of that page."""
    return page(settings, database, moment).places[0]


def hours_up_to(last: str, count: int) -> np.ndarray[tuple[int], np.dtype[np.datetime64]]:
    return run(str(np.datetime64(last, "h") - np.timedelta64(count - 1, "h")), count)


def names(report: PlaceReport) -> list[str]:
    return [credit.name for credit in report.credits]


# Age


@pytest.mark.parametrize(
    ("day", "clock_then", "clock_now"),
    [
        ("2050-03-13", "2050-03-12T23:00-05:00", "2050-03-13T06:00-04:00"),  # at 07:00 UTC an hour is left out
        ("2050-11-06", "2050-11-06T00:00-04:00", "2050-11-06T05:00-05:00"),  # at 06:00 UTC an hour comes twice
        ("2050-07-18", "2050-07-18T00:00-04:00", "2050-07-18T06:00-04:00"),
    ],
)
def test_the_age_of_a_reading_is_the_time_gone_by_whatever_the_clocks_did(
    database: Database, day: str, clock_then: str, clock_now: str
) -> None:
    record(database, "near", hours_up_to(f"{day}T04", 48))
    told = page(workspace(ONE), database, f"{day}T10:00")
    (report,) = told.places
    assert told.as_of.isoformat(timespec="minutes") == clock_now
    assert report.last_observation is not None
    assert report.last_observation.isoformat(timespec="minutes") == clock_then
    assert report.age_minutes == 360


@pytest.mark.parametrize(
    ("moment", "age_minutes", "notice"),
    [
        ("2050-07-18T04:00", 0, []),
        ("2050-07-18T10:00", 360, []),
        ("2050-07-18T10:01", 361, ["near station: the last reading is 6 h old"]),
        ("2050-07-18T13:59", 599, ["near station: the last reading is 9 h old"]),
    ],
)
def test_a_reading_of_more_than_six_hours_is_worth_a_notice(
    database: Database, moment: str, age_minutes: int, notice: list[str]
) -> None:
    record(database, "near", hours_up_to("2050-07-18T04", 48))
    told = page(workspace(ONE), database, moment)
    assert told.places[0].age_minutes == age_minutes
    assert list(told.notices) == notice


@pytest.mark.parametrize("only", [TEMPERATURE, HUMIDITY, RAIN])
def test_without_temperature_and_humidity_there_is_no_last_reading(database: Database, only: str) -> None:
    hours = hours_up_to("2050-07-18T04", 48)
    record(database, "near", hours, {only: weather(hours).get(only, np.zeros(48))})
    told = page(workspace(ONE), database, "2050-07-18T05:00")
    assert (told.places[0].last_observation, told.places[0].age_minutes) == (None, None)
    assert told.places[0].hours_missing == 168
    assert "near station: no hour of temperature and humidity is known by this moment" in told.notices


# The week looked back at


def test_the_week_looked_back_at_is_168_hours_to_the_last_full_one(database: Database) -> None:
    # 17 July 05:00 UTC and the 167 hours before it: the first is that of 10 July 06:00.
    settings, hours = workspace(ONE), hours_up_to("2050-07-17T05", 168)
    assert str(hours[0]) == "2050-07-10T06"
    record(database, "near", hours)
    report = place(settings, database, "2050-07-17T05:59")
    assert (report.hours_wanted, report.hours_missing, report.hours_filled, report.hours_from_others) == (168, 0, 0, 0)
    later = place(settings, database, "2050-07-17T06:00")
    assert (later.hours_wanted, later.hours_missing) == (168, 1)


def test_a_gauge_gone_silent_is_told_and_a_station_without_one_is_not_told_of_every_morning(database: Database) -> None:
    settings, hours = workspace(ONE), run("2050-06-01T00", 1100)
    rain = np.where(np.arange(1100) < 1000, 0.0, np.nan)
    record(database, "near", hours, {**weather(hours), RAIN: rain})
    told = page(settings, database, "2050-07-16T19:59")
    # The last hour is that of 16 July 19:00; of the 168 h up to it the last 100 have no rain.
    assert told.places[0].hours_missing == 0
    assert told.places[0].rain_hours_missing == 100
    assert any("rain was not read in 100 of the last 168 h" in notice for notice in told.notices)
    assert "Rain is not known in 100 of them" in " ".join(place_sentences(told, told.places[0]))


def test_without_a_gauge_the_place_says_so_and_no_notice_does(database: Database) -> None:
    settings, hours = workspace(ONE), run("2050-06-01T00", 1100)
    record(database, "near", hours)
    told = page(settings, database, "2050-07-16T19:59")
    assert told.places[0].rain_hours_missing == 168
    assert not any("rain" in notice for notice in told.notices)
    assert "Rain is not known in 168 of them" in " ".join(place_sentences(told, told.places[0]))


def test_an_hour_before_the_week_is_not_counted(database: Database) -> None:
    settings = workspace(ONE)
    record(database, "near", run("2050-07-10T05", 1))
    record(database, "near", run("2050-07-10T07", 167))
    # 05:00 lies outside; 06:00 is a hole between two readings, and was closed.
    report = place(settings, database, "2050-07-17T05:30")
    assert (report.hours_missing, report.hours_filled) == (0, 1)


def test_hours_missing_filled_and_from_others_are_told_apart(database: Database) -> None:
    # 5.6 km apart, so that the second stands in for the first; it has nothing of the last two hours.
    settings = workspace({"near": (NORTH, WEST), "second": (NORTH + 0.05, WEST)})
    hours = hours_up_to("2050-07-17T05", 168)
    figures = weather(hours)
    for name in (TEMPERATURE, HUMIDITY):
        figures[name][100:102] = np.nan  # 2 hours: closed along a straight line
        figures[name][120:130] = np.nan  # 10 hours: the other station's
        figures[name][166:] = np.nan  # 2 hours at the end: nobody's
    record(database, "near", hours, figures)
    record(database, "second", hours[:166])
    report = place(settings, database, "2050-07-17T05:30")
    assert (report.hours_filled, report.hours_from_others, report.hours_missing) == (2, 10, 2)
    assert report.basis[0].others == ("second station",)


def test_an_hour_without_humidity_is_missing_though_its_temperature_was_filled(database: Database) -> None:
    hours = hours_up_to("2050-07-17T05", 168)
    figures = weather(hours)
    figures[HUMIDITY][100:110] = np.nan  # 10 hours are too many to be closed
    figures[TEMPERATURE][104:106] = np.nan  # 2 hours are not
    record(database, "near", hours, figures)
    report = place(workspace(ONE), database, "2050-07-17T05:30")
    assert (report.hours_filled, report.hours_missing) == (0, 10)


# Stations that fell silent

FIELDS = [(NORTH, WEST + 0.02), (NORTH + 0.01, WEST), (NORTH, WEST - 0.02)]


def test_a_silent_station_is_named_once_for_all_the_places_near_it(database: Database) -> None:
    settings = workspace({"second": (NORTH + 0.2, WEST), "near": (NORTH, WEST)}, FIELDS)
    record(database, "second", hours_up_to("2050-07-18T04", 240))
    record(database, "near", hours_up_to("2050-07-17T21", 233))
    told = page(settings, database, "2050-07-18T04:30")
    assert len(told.places) == 3
    assert {report.age_minutes for report in told.places} == {30}
    expected = "near station has sent no temperature and humidity of use for 7 h; others stand in"
    assert [notice for notice in told.notices if "sent no" in notice] == [expected]


@pytest.mark.parametrize(("silent_since", "is_told"), [("2050-07-17T22", False), ("2050-07-17T21", True)])
def test_six_hours_of_silence_are_no_notice(database: Database, silent_since: str, is_told: bool) -> None:
    settings = workspace({"second": (NORTH + 0.2, WEST), "near": (NORTH, WEST)}, FIELDS)
    record(database, "second", hours_up_to("2050-07-18T04", 240))
    record(database, "near", hours_up_to(silent_since, 200))
    told = page(settings, database, "2050-07-18T04:30")
    assert any("near station has sent" in notice for notice in told.notices) == is_told


def test_where_nobody_stands_in_the_age_alone_is_told(database: Database) -> None:
    settings = workspace({"second": (NORTH + 0.2, WEST), "near": (NORTH, WEST)}, FIELDS)
    for station in ("second", "near"):
        record(database, station, hours_up_to("2050-07-17T20", 200))
    told = page(settings, database, "2050-07-18T04:00")
    assert list(told.notices) == [f"Field {i}: the last reading is 8 h old" for i in range(3)]


# Credits


def test_the_files_named_are_those_whose_hours_reach_into_the_week(database: Database) -> None:
    settings = workspace(ONE)
    # The week of this page: 2050-07-10T06 to 2050-07-17T05.
    record(database, "near", run("2040-07-01T00", 48), source="forty.csv")
    record(database, "near", run("2050-07-01T00", 7 * 24), source="older.csv")  # to 7 July 23:00
    record(database, "near", run("2050-07-08T00", 55), source="reaches_in.csv")  # to 10 July 06:00
    record(database, "near", run("2050-07-10T07", 166), source="newest.csv")  # to 17 July 04:00
    record(database, "near", run("2050-07-17T05", 1), source="last.csv")
    record(database, "near", run("2050-07-17T06", 5), source="ahead.csv")
    assert names(place(settings, database, "2050-07-17T05:30")) == ["reaches_in.csv", "newest.csv", "last.csv"]


def test_what_a_source_sent_is_credited_to_who_observed_it_and_not_by_its_import(database: Database) -> None:
    settings = workspace(ONE)
    record(database, "near", hours_up_to("2050-07-16T23", 400), source="Meteostat T0WN", provider=BY_METEOSTAT)
    record(database, "near", run("2050-07-17T00", 6), source="logger.csv")
    report = place(settings, database, "2050-07-17T05:30")
    assert names(report) == [BY_METEOSTAT.name, "logger.csv"]  # most of the week first
    first = report.credits[0]
    assert (first.attribution, first.licence, first.link) == (
        BY_METEOSTAT.attribution,
        BY_METEOSTAT.licence,
        BY_METEOSTAT.link,
    )
    assert report.credits[1].attribution == ""


def test_who_stands_behind_no_hour_of_the_week_is_not_credited(database: Database) -> None:
    settings = workspace(ONE)
    record(database, "near", run("2050-06-01T00", 24), source="Meteostat T0WN", provider=BY_METEOSTAT)
    record(database, "near", hours_up_to("2050-07-17T05", 168))
    assert names(place(settings, database, "2050-07-17T05:30")) == ["logger.csv"]


def test_a_file_loaded_after_the_page_s_moment_is_not_named_where_an_earlier_one_is_known(database: Database) -> None:
    settings, hours = workspace(ONE), hours_up_to("2050-07-17T05", 168)
    record(database, "near", hours, source="first.csv", now=utc("2050-07-17T05:10"))
    record(database, "near", hours, source="mended.csv", now=utc("2050-07-17T09:00"))
    assert names(place(settings, database, "2050-07-17T05:30")) == ["first.csv"]
    assert names(place(settings, database, "2050-07-17T09:00")) == ["first.csv", "mended.csv"]


def test_on_a_past_morning_whoever_replaced_the_values_later_is_not_credited(database: Database) -> None:
    settings, hours = workspace(ONE), hours_up_to("2050-07-17T05", 168)
    record(database, "near", hours, source="Meteostat T0WN", provider=BY_METEOSTAT, now=utc("2050-07-17T05:10"))
    figures = {name: values + 0.1 for name, values in weather(hours).items()}
    record(database, "near", hours, figures, source="mended.csv", now=utc("2050-07-17T09:00"))
    assert names(place(settings, database, "2050-07-17T05:30")) == [BY_METEOSTAT.name]
    assert names(place(settings, database, "2050-07-17T09:00")) == ["mended.csv"]


def test_only_the_stations_behind_a_place_are_credited_and_its_typical_year_with_them(database: Database) -> None:
    far = (NORTH + 2, WEST)  # 222 km
    settings = workspace({"far": far, "near": (NORTH, WEST)}, [far, (NORTH, WEST)])
    hours = hours_up_to("2050-07-17T05", 168)
    record(database, "far", hours, source="far.csv")
    record(database, "near", hours, source="near.csv")
    give_typical_year(database, "near")
    far_report, near_report = page(settings, database, "2061-01-01T00:00").places
    assert (far_report.typical_year, near_report.typical_year) == ("", "made_up.epw")
    assert names(near_report) == ["an invented typical year"]  # by then no hour of the week is anybody's
    far_report, near_report = page(settings, database, "2050-07-17T05:30").places
    assert (names(far_report), names(near_report)) == (["far.csv"], ["near.csv"])


# Weather forecasts


def issued(provider: Provider, moment: str | None, hours: int = 48) -> IssuedForecast:
    stamps = run("2050-07-18T06", hours)
    return IssuedForecast(
        stamps,
        {TEMPERATURE: np.full(hours, 20.0)},
        {TEMPERATURE: np.ones(hours, np.uint8)},
        provider,
        None if moment is None else np.datetime64(moment, "m"),
        "the invented address",
        (),
    )


COLUMNS = {"shape": "hour_columns"}


@pytest.mark.parametrize("order", [1, -1])
def test_the_forecast_of_the_service_that_is_set_is_shown_though_another_was_issued_later(
    database: Database, order: int
) -> None:
    asked, later = issued(hour_columns.DEFAULT, "2050-07-18T03:00"), issued(MODELS, None, 24)
    for one in (asked, later)[::order]:
        archive(database, "near", one, utc("2050-07-18T05:00"))
    shown = place(workspace(ONE, tables={"weather_forecast": COLUMNS}), database, "2050-07-18T05:30").weather_forecast
    assert shown is not None
    assert shown.credit.name == hour_columns.DEFAULT.name
    assert shown.issued_stated
    assert shown.issued == datetime(2050, 7, 17, 23, 0, tzinfo=NEW_YORK)  # four hours behind UTC
    assert shown.reaches_to == shown.issued + timedelta(hours=3 + 47)  # 06:00 UTC is its first of 48 hours
    # Without a service the one issued last is shown, and so it is where the one that is set sent nothing.
    other: Mapping[str, object] = {"weather_forecast": {"shape": "grid_intervals"}}
    for tables in ({}, other):
        shown = place(workspace(ONE, tables=tables), database, "2050-07-18T05:30").weather_forecast
        assert shown is not None
        assert (shown.credit.name, shown.issued_stated) == (MODELS.name, False)


def test_a_service_of_one_s_own_is_told_from_the_usual_one(database: Database) -> None:
    own = {
        "shape": "grid_intervals",
        "name": "Our Grid",
        "attribution": "Our office",
        "licence": "CC0",
        "link": "https://x",
    }
    provider = Provider("grid_intervals.our_grid", "Our Grid", Grade.MODEL, "Our office", "CC0", "https://x")
    archive(database, "near", issued(provider, "2050-07-18T03:00"), utc("2050-07-18T05:00"))
    archive(database, "near", issued(grid_intervals.DEFAULT, "2050-07-18T04:00"), utc("2050-07-18T05:00"))
    shown = place(workspace(ONE, tables={"weather_forecast": own}), database, "2050-07-18T05:30").weather_forecast
    assert shown is not None
    credit = shown.credit
    assert (credit.name, credit.attribution, credit.licence, credit.link) == (
        "Our Grid",
        "Our office",
        "CC0",
        "https://x",
    )


def test_a_forecast_is_known_from_its_fetch(database: Database) -> None:
    settings = workspace(ONE, tables={"weather_forecast": COLUMNS})
    first = issued(hour_columns.DEFAULT, "2050-07-18T03:00")
    archive(database, "near", first, utc("2050-07-18T05:00"))
    newer = replace(first, issued_utc=np.datetime64("2050-07-18T04:00", "m"))
    archive(database, "near", newer, utc("2050-07-18T06:00"))

    def issue(moment: str) -> str | None:
        shown = place(settings, database, f"2050-07-18T{moment}").weather_forecast
        return None if shown is None else f"{shown.issued.astimezone(UTC):%H:%M}"

    assert [issue(moment) for moment in ("04:59", "05:00", "05:59", "06:00")] == [None, "03:00", "03:00", "04:00"]


def test_the_forecast_of_the_nearest_station_is_shown(database: Database) -> None:
    fields = [(NORTH + 0.19, WEST), (NORTH + 0.02, WEST)]
    settings = workspace({"north": (NORTH + 0.2, WEST), "south": (NORTH, WEST)}, fields)
    north, south = settings.places
    assert (nearest_station(settings, north), nearest_station(settings, south)) == ("north", "south")
    archive(database, "south", issued(hour_columns.DEFAULT, "2050-07-18T03:00"), utc("2050-07-18T05:00"))
    first, second = page(settings, database, "2050-07-18T05:30").places
    assert first.weather_forecast is None
    assert second.weather_forecast is not None


@pytest.mark.parametrize("order", [1, -1])
def test_the_nearest_station_is_the_nearest_along_the_ground_in_whatever_order(order: int) -> None:
    # At 60 degrees north 0.3 degrees of longitude are 16.7 km, and 0.2 degrees of latitude 22.2 km.
    stations = {"east": (60.0, 10.3), "north": (60.2, 10.0)}
    settings = workspace(dict(list(stations.items())[::order]), [(60.0, 10.0)], time_zone="Europe/Oslo")
    assert nearest_station(settings, next(iter(settings.places))) == "east"


def test_the_hours_of_a_typical_year_are_no_readings_of_the_week(database: Database) -> None:
    # The record begins on 2 January: of the week before 4 January 05:00 it has 54 hours, whatever stands before it.
    settings, early = workspace(ONE), utc("2049-12-01T00:00")
    record(database, "near", run("2050-01-02T00", 54))
    give_typical_year(database, "near", now=early)
    report = place(settings, database, "2050-01-04T05:30")
    assert report.typical_year == "made_up.epw"
    assert report.hours_missing == 168 - 54


def test_the_last_hour_of_a_typical_year_is_no_last_reading(database: Database) -> None:
    settings, early = workspace(ONE), utc("2049-12-01T00:00")
    record(database, "near", run("2050-07-01T00", 54))
    give_typical_year(database, "near", now=early)
    first = np.datetime64("2050-06-01T00", "h")
    withdraw(database, "near", HUMIDITY, first, None, reason="broken", by_whom="R. Quill", now=early)
    told = page(settings, database, "2050-07-03T05:30")
    assert (told.places[0].last_observation, told.places[0].age_minutes) == (None, None)
    assert "near station: no hour of temperature and humidity is known by this moment" in told.notices
