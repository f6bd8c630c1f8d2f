"""Hours as they were known by a moment: typical years before short records, withdrawals, and what had not come yet.

All weather here is invented: a smooth year with a smooth day, so that no check finds anything.
"""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from known_workspace import (
    HUMIDITY,
    LONG_AFTER,
    NORTH,
    RAIN,
    TEMPERATURE,
    WEST,
    give_typical_year,
    record,
    run,
    typical,
    weather,
    workspace,
)

from forecast.config import Settings
from forecast.database import Database
from forecast.desk.hours import KnownHours, known_hours
from forecast.ingest.keep.withdrawals import give_back, withdraw
from forecast.ingest.typical_year import HOURS
from forecast.quantities import Flag, Origin


def known(settings: Settings, database: Database, known_by: str | None = None) -> KnownHours:
    hours = known_hours(settings, database, None if known_by is None else np.datetime64(known_by, "m"))
    assert hours is not None
    return hours


def row_of(hours: KnownHours, stamp: str) -> int:
    (row,) = np.flatnonzero(hours.panel.hours == np.datetime64(stamp, "h"))
    return int(row)


def test_nothing_stored_and_nothing_come_yet_are_none(database: Database) -> None:
    settings = workspace({"near": (NORTH, WEST)})
    assert known_hours(settings, database) is None
    record(database, "near", run("2050-07-01T00", 4))
    assert known_hours(settings, database, np.datetime64("2050-06-30T23:59", "m")) is None
    assert len(known(settings, database, "2050-07-01T01:00").panel.hours) == 2


# Typical years


def test_a_typical_year_stands_in_the_calendar_year_before_the_record(database: Database) -> None:
    values = dict(typical().values)
    values[TEMPERATURE][2] = np.nan
    record(database, "near", run("2050-07-01T00", 48))
    give_typical_year(database, "near", typical(values))
    hours = known(workspace({"near": (NORTH, WEST)}), database)
    # Five hours behind UTC the first hour ends at 06:00 UTC on 1 January, the last at 05:00 UTC a year after.
    first, last, begun = (row_of(hours, stamp) for stamp in ("2049-01-01T06", "2050-01-01T05", "2050-07-01T00"))
    temperature = hours.panel.values[TEMPERATURE][:, 0]
    assert first == 0
    np.testing.assert_array_equal(temperature[:4], [0, 0.001, np.nan, 0.003])
    assert temperature[last] == 8.759
    assert np.isnan(temperature[last + 1 : begun]).all()
    np.testing.assert_array_equal(temperature[begun:], weather(run("2050-07-01T00", 48))[TEMPERATURE])
    for name, marks in (("flags", hours.panel.flags), ("origin", hours.panel.origin)):
        told = marks[TEMPERATURE][:, 0]
        of_year = {"flags": Flag.GOOD, "origin": Origin.PAST_YEAR}[name]
        assert set(told[[0, 1, 3, last]]) == {of_year}
        nothing = {"flags": Flag.MISSING, "origin": Origin.OBSERVED}[name]
        assert set(told[[2, last + 1, begun - 1]]) == {nothing}
        of_record = {"flags": Flag.GOOD, "origin": Origin.OBSERVED}[name]
        assert set(told[begun:]) == {of_record}
    assert [year.source for year in hours.typical.values()] == ["made_up.epw"]
    # It is laid before the places only; what was observed stays as it came.
    assert str(hours.raw.hours[0]) == str(hours.at_places.panel.hours[0]) == "2050-07-01T00"


def test_a_leap_year_before_the_record_keeps_a_hole_on_its_leap_day(database: Database) -> None:
    record(database, "near", run("2049-07-01T00", 48))
    give_typical_year(database, "near")
    hours = known(workspace({"near": (NORTH, WEST)}), database)
    temperature = hours.panel.values[TEMPERATURE][:, 0]
    leap_day = row_of(hours, "2048-02-29T06")  # from 01:00 local time on
    row = (31 + 28) * 24  # of 1 March, 01:00
    assert temperature[leap_day - 1] == (row - 1) / 1000
    assert np.isnan(temperature[leap_day : leap_day + 24]).all()
    assert temperature[leap_day + 24] == row / 1000


@pytest.mark.parametrize(
    ("hours_a_year", "gets_one"),
    [
        ((720, 720, 720), True),
        ((720, 720, 720, 720), False),
        ((720, 720, 719, 720), True),  # one of them is a stray and does not count
        ((720, 10, 720, 720, 720), False),
        ((4,), True),
    ],
)
def test_a_record_of_up_to_three_years_gets_a_typical_year(
    database: Database, hours_a_year: tuple[int, ...], gets_one: bool
) -> None:
    for year, count in enumerate(hours_a_year, 2046):
        record(database, "near", run(f"{year}-06-01T00", count))
    give_typical_year(database, "near")
    hours = known(workspace({"near": (NORTH, WEST)}), database)
    assert bool(hours.typical) == gets_one
    assert str(hours.panel.hours[0]) == ("2045-01-01T06" if gets_one else "2046-06-01T00")


def test_a_station_of_rain_alone_gets_no_typical_year_and_its_rain_stands(database: Database) -> None:
    rain = run("2050-07-01T00", 48)
    record(database, "near", rain, {RAIN: np.zeros(48)})
    give_typical_year(database, "near", typical({TEMPERATURE: np.zeros(HOURS), RAIN: np.zeros(HOURS)}))
    hours = known(workspace({"near": (NORTH, WEST)}), database)
    assert hours.typical == {}
    np.testing.assert_array_equal(hours.panel.hours, rain)
    assert set(hours.panel.values) == {RAIN}


def test_where_no_temperature_is_left_there_is_no_record_to_lengthen(database: Database) -> None:
    record(database, "near", run("2050-07-01T00", 48))
    give_typical_year(database, "near")
    first = np.datetime64("2050-01-01T00", "h")
    withdraw(database, "near", TEMPERATURE, first, None, reason="broken", by_whom="R. Quill", now=LONG_AFTER)
    hours = known(workspace({"near": (NORTH, WEST)}), database)
    assert hours.typical == {}
    assert str(hours.panel.hours[0]) == "2050-07-01T00"


def test_a_quantity_that_the_record_lacks_is_not_taken_from_the_typical_year(database: Database) -> None:
    record(database, "near", run("2050-07-01T00", 48), {TEMPERATURE: weather(run("2050-07-01T00", 48))[TEMPERATURE]})
    give_typical_year(database, "near")
    hours = known(workspace({"near": (NORTH, WEST)}), database)
    assert set(hours.panel.values) == {TEMPERATURE}
    assert hours.panel.values[TEMPERATURE][0, 0] == 0


@pytest.mark.parametrize("count", [1, 4, 8, 12])
def test_the_first_hours_of_a_year_west_of_greenwich_stay_the_record_s_own(database: Database, count: int) -> None:
    # Eight hours behind UTC the typical year's last hour ends at 08:00 UTC on 1 January, inside the record.
    hours_of_record = run("2050-01-01T00", count)
    figures = weather(hours_of_record)
    figures[TEMPERATURE][2:3] = np.nan  # a hole, which no typical figure may close
    figures[HUMIDITY][2:3] = np.nan
    record(database, "near", hours_of_record, figures)
    give_typical_year(database, "near", typical(utc_offset_hours=-8))
    hours = known(workspace({"near": (NORTH, -120.0)}, time_zone="America/Los_Angeles"), database)
    own = row_of(hours, "2050-01-01T00")
    assert hours.panel.hours[-1] == hours_of_record[-1]
    assert str(hours.panel.hours[0]) == "2049-01-01T09"
    assert hours.panel.values[TEMPERATURE][own - 1, 0] == (HOURS - 10) / 1000  # nine rows end in the record's year
    assert Origin.PAST_YEAR not in hours.panel.origin[TEMPERATURE][own:, 0]
    np.testing.assert_array_equal(hours.panel.values[TEMPERATURE][own:], hours.at_places.panel.values[TEMPERATURE])


def test_east_of_greenwich_it_ends_before_the_record_s_own_year(database: Database) -> None:
    record(database, "near", run("2050-01-01T00", 48))
    give_typical_year(database, "near", typical(utc_offset_hours=9))
    hours = known(workspace({"near": (36.0, 138.0)}, time_zone="Asia/Tokyo"), database)
    # Nine hours ahead of UTC the first hour ends at 16:00 UTC on 31 December.
    assert str(hours.panel.hours[0]) == "2048-12-31T16"
    assert hours.panel.values[TEMPERATURE][row_of(hours, "2049-12-31T15"), 0] == 8.759
    assert np.isnan(hours.panel.values[TEMPERATURE][row_of(hours, "2049-12-31T16"), 0])


def test_the_nearest_station_within_100_km_that_has_one_gives_it(database: Database) -> None:
    # A degree of latitude is 111.2 km: the stations lie 89, 56 and 11 km from the field; the last has no typical year.
    stations = {"far": (NORTH + 0.8, WEST), "middle": (NORTH - 0.5, WEST), "near": (NORTH + 0.1, WEST)}
    settings = workspace(stations, [(NORTH, WEST)])
    record(database, "near", run("2050-07-01T00", 48))
    give_typical_year(database, "far", typical(source="far.epw"))
    (year,) = known(settings, database).typical.values()
    assert year.source == "far.epw"
    give_typical_year(database, "middle", typical(source="middle.epw"))
    (year,) = known(settings, database).typical.values()
    assert year.source == "middle.epw"


def test_a_station_beyond_100_km_gives_none(database: Database) -> None:
    # 0.91 degrees of latitude are 101 km, 0.89 are 99 km.
    for degrees, count in ((0.91, 0), (0.89, 1)):
        settings = workspace({"far": (NORTH + degrees, WEST), "near": (NORTH, WEST + 0.1)}, [(NORTH, WEST)])
        record(database, "near", run("2050-07-01T00", 48))
        give_typical_year(database, "far")
        assert len(known(settings, database).typical) == count


def test_each_place_is_asked_for_itself(database: Database) -> None:
    # 222 km apart: neither station speaks for the other's field. One has a typical year, the other four years.
    settings = workspace(
        {"north": (NORTH + 2, WEST), "south": (NORTH, WEST)}, [(NORTH + 2, WEST), (NORTH, WEST), (NORTH, WEST + 0.2)]
    )
    for year in range(2047, 2051):
        record(database, "north", run(f"{year}-06-01T00", 720))
    record(database, "south", run("2050-06-01T00", 720))
    for station in ("north", "south"):
        give_typical_year(database, station)
    hours = known(settings, database)
    north, *south = settings.places
    assert list(hours.typical) == south
    # All series share one run of hours, so that the typical year stands before the longest record.
    first = row_of(hours, "2046-01-01T06")
    np.testing.assert_array_equal(hours.panel.values[TEMPERATURE][first], [np.nan, 0, 0])
    assert hours.panel.series == (north, *south)


def test_a_typical_year_is_known_from_its_loading_on(database: Database) -> None:
    settings = workspace({"near": (NORTH, WEST)})
    record(database, "near", run("2050-07-01T00", 48))
    loaded = datetime(2050, 7, 3, 6, 0, 30, tzinfo=UTC)
    give_typical_year(database, "near", typical(source="first.epw"), loaded)
    give_typical_year(database, "near", typical(source="second.epw"), loaded.replace(hour=9))
    sources = {
        moment: [year.source for year in known(settings, database, f"2050-07-03T{moment}").typical.values()]
        for moment in ("05:59", "06:00", "08:59", "09:00")
    }
    assert sources == {
        "05:59": [],
        "06:00": ["first.epw"],
        "08:59": ["first.epw"],
        "09:00": ["second.epw"],
    }


def test_until_the_nearest_has_one_the_next_station_gives_it(database: Database) -> None:
    settings = workspace({"near": (NORTH, WEST), "next": (NORTH + 0.5, WEST)})
    record(database, "near", run("2050-07-01T00", 48))
    loaded = datetime(2050, 7, 3, 6, 0, tzinfo=UTC)
    give_typical_year(database, "next", typical(source="next.epw"), loaded)
    give_typical_year(database, "near", typical(source="near.epw"), loaded.replace(hour=9))
    for moment, source in (("08:59", "next.epw"), ("09:00", "near.epw")):
        (year,) = known(settings, database, f"2050-07-03T{moment}").typical.values()
        assert year.source == source


# Withdrawals, and years long past


def test_a_withdrawal_holds_from_the_minute_it_was_written_down_until_it_is_given_back(database: Database) -> None:
    settings = workspace({"near": (NORTH, WEST)})
    record(database, "near", run("2050-07-01T00", 48))
    first, last = np.datetime64("2050-07-01T10", "h"), np.datetime64("2050-07-01T20", "h")
    noted = datetime(2050, 7, 3, 6, 0, 30, tzinfo=UTC)
    number = withdraw(database, "near", HUMIDITY, first, last, reason="broken", by_whom="R. Quill", now=noted)
    give_back(database, number, reason="it was fine", by_whom="R. Quill", now=noted.replace(hour=9))

    def without_humidity(moment: str | None) -> int:
        hours = known(settings, database, moment)
        assert len(hours.withdrawn) == (1 if np.isnan(hours.checked.values[HUMIDITY]).any() else 0)
        assert not np.isnan(hours.raw.values[HUMIDITY]).any()  # what came stays as it came
        assert not np.isnan(hours.checked.values[TEMPERATURE]).any()
        return int(np.isnan(hours.checked.values[HUMIDITY]).sum())

    told = [without_humidity(f"2050-07-03T{clock}") for clock in ("05:59", "06:00", "08:59", "09:00")]
    assert told == [0, 11, 11, 0]
    assert without_humidity(None) == 0


def test_weather_of_forty_years_ago_and_more_is_left_out(database: Database) -> None:
    settings = workspace({"near": (NORTH, WEST)})
    for year in (1970, 2010, 2011, 2050):
        record(database, "near", run(f"{year}-07-01T00", 4))
    assert str(known(settings, database).panel.hours[0]) == "2011-07-01T00"  # 2011 to 2050 are 40 calendar years
