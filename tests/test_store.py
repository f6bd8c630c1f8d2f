"""The store of hours: bit for bit, known when it arrived, whole or not at all, and by two hands at once."""

import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import replace as changed_in
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa

from forecast import database as database_module
from forecast.database import Database
from forecast.errors import BusyError, DataError
from forecast.ingest.imported import Grade, ImportedHours, Provider, from_one
from forecast.ingest.keep.block import NOT_ARRIVED, empty_block, pack, unpack
from forecast.ingest.keep.store import (
    Replace,
    Written,
    imports,
    providers_of,
    read_hours,
    stations_with_hours,
    write_hours,
)
from forecast.panel import Floats, Panel
from forecast.quantities import Flag, Origin
from forecast.tables import BLOCKS

NOW = datetime(2060, 7, 20, 4, 0, tzinfo=UTC)
LOGGER = Provider("logger", "the logger on the north field", Grade.OBSERVED)
AIRPORT = Provider("airport", "the airport", Grade.OBSERVED, "Alder Reach weather office", "CC BY 4.0")
TEMPERATURE = "air_temperature_c"
HUMIDITY = "relative_humidity_pct"


def hours_of(
    first: str, values: Mapping[str, list[float] | Floats], provider: Provider = LOGGER, source: str = "logger.csv"
) -> ImportedHours:
    """Hours from ``first`` on, one a value."""
    arrays = {name: np.asarray(array, dtype=np.float64) for name, array in values.items()}
    count = len(next(iter(arrays.values())))
    stamps = np.datetime64(first, "h") + np.arange(count)
    return from_one(stamps, arrays, provider, source)


def write(
    database: Database,
    station: str,
    imported: ImportedHours,
    *,
    late: int = 0,
    replace: bool | Replace = False,
    now: datetime = NOW,
    looked: tuple[str, str] | None = None,
) -> Written:
    if isinstance(replace, bool):
        replace = Replace.ALL if replace else Replace.NONE
    span = None if looked is None else (np.datetime64(looked[0], "h"), np.datetime64(looked[1], "h"))
    return write_hours(database, station, imported, lag_minutes=late, now=now, replace=replace, looked=span)


def read(database: Database, *stations: str, known_by: str | None = None) -> Panel:
    panel = read_hours(database, stations, None if known_by is None else np.datetime64(known_by, "m"))
    assert panel is not None
    return panel


def credited(database: Database, first: str, last: str, known_by: str | None = None) -> Mapping[Provider, int]:
    """Who stands behind the values of the station "logger"."""
    moment = None if known_by is None else np.datetime64(known_by, "m")
    return providers_of(database, "logger", np.datetime64(first, "h"), np.datetime64(last, "h"), moment)


def bits(values: Floats) -> list[int]:
    return [int(bit) for bit in np.ascontiguousarray(values).view(np.uint64)]


def table(database: Database) -> list[tuple[str, str, int, bytes]]:
    """Every stored block."""
    with database.reading() as connection:
        rows = connection.execute(sa.select(BLOCKS).order_by(BLOCKS.c.station_id, BLOCKS.c.quantity, BLOCKS.c.year))
        return [(row.station_id, row.quantity, row.year, row.block) for row in rows]


# Bit for bit

ODD = [21.5, -0.0, 0.0, 5e-324, -2.2e-310, 0.1 + 0.2, 1.7976931348623157e308, float(np.nextafter(20, 21))]


def test_values_come_back_bit_for_bit(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: ODD}))
    assert bits(read(database, "logger").values[TEMPERATURE][:, 0]) == bits(np.array(ODD))


def test_a_hole_stays_a_hole_with_its_flag(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20, np.nan, 22], HUMIDITY: [97, 96, 95]}))
    panel = read(database, "logger")
    np.testing.assert_array_equal(panel.values[TEMPERATURE][:, 0], [20, np.nan, 22])
    assert panel.flags[TEMPERATURE][:, 0].tolist() == [Flag.NOT_EVALUATED, Flag.MISSING, Flag.NOT_EVALUATED]


def test_every_value_is_an_observation_and_keeps_who_stands_behind_it(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0, 21.0, 22.0]}))
    write(database, "logger", hours_of("2050-07-18T03", {TEMPERATURE: [23.0], HUMIDITY: [97.0]}, AIRPORT))
    first, last = np.datetime64("2050-07-18T00", "h"), np.datetime64("2050-07-18T03", "h")
    assert (read(database, "logger").origin[TEMPERATURE] == Origin.OBSERVED).all()
    assert providers_of(database, "logger", first, last) == {LOGGER: 3, AIRPORT: 2}
    assert providers_of(database, "logger", last, last) == {AIRPORT: 2}


def test_a_provider_s_newest_wording_is_the_one_shown_and_no_other_s_changes(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}, AIRPORT))
    write(database, "logger", hours_of("2050-07-18T01", {TEMPERATURE: [20.0]}, LOGGER))
    renamed = Provider("airport", "the airport", Grade.OBSERVED, "Alder Reach weather office, mended", "CC BY 4.0")
    write(database, "logger", hours_of("2050-07-18T02", {TEMPERATURE: [20.0]}, renamed))
    assert credited(database, "2050-07-18T00", "2050-07-18T00") == {renamed: 1}
    assert credited(database, "2050-07-18T00", "2050-07-18T02") == {renamed: 2, LOGGER: 1}


def test_what_a_weather_model_says_is_never_stored_as_an_hour(database: Database) -> None:
    model = Provider("model", "a weather model", Grade.MODEL)
    with pytest.raises(ValueError, match="only observations"):
        write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}, model))
    assert read_hours(database, ("logger",)) is None


def test_an_hour_that_lies_ahead_is_refused(database: Database) -> None:
    now = datetime(2050, 7, 18, 1, 30, tzinfo=UTC)
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0, 21.0]}), now=now)
    with pytest.raises(DataError, match="lies ahead"):
        write(database, "logger", hours_of("2050-07-18T01", {TEMPERATURE: [21.0, 22.0]}), now=now)
    assert np.count_nonzero(~np.isnan(read(database, "logger").values[TEMPERATURE])) == 2


# Damage


@pytest.mark.parametrize("block", [b"", b"\x02junk", b"\x03later", pack(empty_block(24))])
def test_a_damaged_block_stops_readers_and_writers_and_stays(database: Database, block: bytes) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}))
    with database.writing() as connection:
        connection.execute(sa.update(BLOCKS).values(block=block))
    with pytest.raises(DataError):
        read_hours(database, ("logger",))
    with pytest.raises(DataError):
        write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [20.0]}))
    assert [row[3] for row in table(database)] == [block]


# What was known when


def test_a_value_is_known_from_the_minute_it_arrived(database: Database) -> None:
    # The hour of 08:00 arrives 95 minutes late: at 09:35.
    write(database, "logger", hours_of("2050-07-18T08", {TEMPERATURE: [20.0]}), late=95)
    before = np.datetime64("2050-07-18T09:34", "m")
    assert read_hours(database, ("logger",), before) is None
    assert read(database, "logger", known_by="2050-07-18T09:35").values[TEMPERATURE][0, 0] == 20


def test_hours_that_had_not_arrived_are_missing_in_the_middle_too(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T08", {TEMPERATURE: [20.0]}), late=0)
    write(database, "logger", hours_of("2050-07-18T09", {TEMPERATURE: [21.0]}), late=180)  # at 12:00
    write(database, "logger", hours_of("2050-07-18T10", {TEMPERATURE: [22.0]}), late=0)
    panel = read(database, "logger", known_by="2050-07-18T11:59")
    np.testing.assert_array_equal(panel.values[TEMPERATURE][:, 0], [20, np.nan, 22])
    assert panel.flags[TEMPERATURE][:, 0].tolist() == [Flag.NOT_EVALUATED, Flag.MISSING, Flag.NOT_EVALUATED]
    panel = read(database, "logger", known_by="2050-07-18T12:00")
    assert panel.values[TEMPERATURE][:, 0].tolist() == [20, 21, 22]


# Loading again


def test_loading_the_same_hours_again_changes_nothing(database: Database) -> None:
    hours = hours_of("2050-07-18T00", {TEMPERATURE: [20.0, np.nan, 22.0], HUMIDITY: [97.0, 96.0, 95.0]})
    assert write(database, "logger", hours, late=30) == Written(new=5, same=0, changed=0)
    before = table(database)
    assert write(database, "logger", hours, late=999) == Written(new=0, same=5, changed=0)
    assert table(database) == before


def test_a_later_load_fills_holes_and_leaves_the_rest(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0, np.nan, 22.0]}))
    assert write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [np.nan, 21.0, 22.0]})) == Written(1, 1, 0)
    assert read(database, "logger").values[TEMPERATURE][:, 0].tolist() == [20, 21, 22]


def test_another_value_for_a_stored_hour_is_refused_and_nothing_is_written(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-31T22", {TEMPERATURE: [20.0, 21.0]}))
    before = table(database)
    # August is new and July differs in one hour by the last bit that a float has.
    clash = hours_of(
        "2050-07-31T22", {TEMPERATURE: [20.0, float(np.nextafter(21, 22)), 22.0, 23.0]}, source="other.csv"
    )
    with pytest.raises(DataError) as caught:
        write(database, "logger", clash)
    assert [str(fault) for fault in caught.value.faults] == [
        f"{TEMPERATURE}: 2050-07-31T23:00Z stands as 21.0, the file says 21.000000000000004"
    ]
    assert table(database) == before
    assert [done.source for done in imports(database, ["logger"])] == ["logger.csv"]


def test_replace_puts_the_new_value_in_and_counts_it(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0, 21.0]}))
    again = hours_of("2050-07-18T00", {TEMPERATURE: [20.0, 25.0, 26.0]}, AIRPORT)
    assert write(database, "logger", again, replace=True) == Written(new=1, same=1, changed=1)
    assert read(database, "logger").values[TEMPERATURE][:, 0].tolist() == [20, 25, 26]
    first, last = np.datetime64("2050-07-18T00", "h"), np.datetime64("2050-07-18T02", "h")
    assert providers_of(database, "logger", first, last) == {AIRPORT: 2, LOGGER: 1}


def test_unless_told_otherwise_nothing_is_replaced(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}))
    with pytest.raises(DataError, match="nothing was written"):
        write_hours(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [21.0]}), lag_minutes=0, now=NOW)
    assert read(database, "logger").values[TEMPERATURE][0, 0] == 20


def test_only_the_first_mistakes_of_many_are_named_and_all_are_counted(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0] * 30}))
    with pytest.raises(DataError, match=r"30 value\(s\) of station 'logger'") as caught:
        write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [21.0] * 30}))
    assert len(caught.value.faults) == 20  # errors.FAULTS_SHOWN
    assert "2050-07-18T19:00Z" in str(caught.value.faults[-1])


def two_hands(database: Database) -> ImportedHours:
    """Two hours of the logger, then two of the airport; and what the airport says of all four and of a fifth."""
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [20.0, 21.0]}), now=at(6))
    write(database, "logger", hours_of("2050-07-19T02", {TEMPERATURE: [22.0, 23.0]}, AIRPORT), now=at(6))
    return hours_of("2050-07-19T00", {TEMPERATURE: [20.0, 31.0, 32.0, 33.0, 34.0]}, AIRPORT)


def test_a_source_changes_its_own_values_and_keeps_and_counts_those_of_others(database: Database) -> None:
    from_airport = two_hands(database)
    done = write(database, "logger", from_airport, replace=Replace.OWN, now=at(8))
    assert done == Written(new=1, same=1, changed=2, kept=1)
    assert read(database, "logger").values[TEMPERATURE][:, 0].tolist() == [20, 21, 32, 33, 34]
    assert credited(database, "2050-07-19T00", "2050-07-19T04") == {AIRPORT: 3, LOGGER: 2}
    assert known(database, "07:59") == [20, 21, 22, 23, 34]  # the fifth came on its hour, with no lag
    again = write(database, "logger", from_airport, replace=Replace.OWN, now=at(9))
    assert again == Written(new=0, same=4, changed=0, kept=1)


def test_every_provider_of_an_import_is_one_of_its_own(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [20.0, 21.0]}), now=at(6))
    both = hours_of("2050-07-19T00", {TEMPERATURE: [30.0, 31.0, 32.0]}, AIRPORT)
    both = changed_in(both, providers=(AIRPORT, LOGGER), provider={TEMPERATURE: np.array([0, 0, 1], np.uint8)})
    assert write(database, "logger", both, replace=Replace.OWN, now=at(8)) == Written(new=1, same=0, changed=2, kept=0)
    assert credited(database, "2050-07-19T00", "2050-07-19T02") == {AIRPORT: 2, LOGGER: 1}


def test_a_person_s_word_changes_anybody_s_values(database: Database) -> None:
    done = write(database, "logger", two_hands(database), replace=Replace.ALL, now=at(8))
    assert done == Written(new=1, same=1, changed=3, kept=0)
    assert read(database, "logger").values[TEMPERATURE][:, 0].tolist() == [20, 31, 32, 33, 34]


def test_without_a_word_even_one_s_own_values_stand(database: Database) -> None:
    from_airport = two_hands(database)
    with pytest.raises(DataError, match="3 value"):
        write(database, "logger", from_airport, replace=Replace.NONE, now=at(8))
    assert read(database, "logger").values[TEMPERATURE][:, 0].tolist() == [20, 21, 22, 23]


def at(hour: int, minute: int = 0, second: int = 0) -> datetime:
    return datetime(2050, 7, 19, hour, minute, second, tzinfo=UTC)


def known(database: Database, moment: str) -> list[float]:
    values: list[float] = read(database, "logger", known_by=f"2050-07-19T{moment}").values[TEMPERATURE][:, 0].tolist()
    return values


def test_a_replay_sees_what_stood_before_it_was_replaced(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [20.0, 21.0]}), now=at(6))
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [20.0, 25.0]}), replace=True, now=at(8))
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [19.0, 26.0]}), replace=True, now=at(10))
    assert known(database, "07:59") == [20, 21]
    assert known(database, "08:00") == [20, 25]
    assert known(database, "09:59") == [20, 25]
    assert known(database, "10:00") == [19, 26]
    assert read(database, "logger").values[TEMPERATURE][:, 0].tolist() == [19, 26]


def test_two_replacements_within_a_minute_leave_what_stood_before_both(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [20.0, 21.0]}), now=at(6))
    for second, values in ((10, [20.0, 25.0]), (50, [18.0, 26.0])):
        write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: values}), replace=True, now=at(8, 0, second))
    assert known(database, "07:59") == [20, 21]
    assert known(database, "08:00") == [18, 26]


def test_a_replacement_arrived_when_it_was_made_however_small_the_lag(database: Database) -> None:
    # The hour of 01:00 came at 06:00; at 08:00 another figure takes its place. At 03:00 neither was known.
    write(database, "logger", hours_of("2050-07-19T01", {TEMPERATURE: [20.0]}), late=300, now=at(7))
    other = hours_of("2050-07-19T01", {TEMPERATURE: [25.0]}, source="other.csv")
    write(database, "logger", other, late=0, replace=True, now=at(8))
    assert read_hours(database, ("logger",), np.datetime64("2050-07-19T03:00", "m")) is None
    assert known(database, "06:00") == [20]
    assert known(database, "08:00") == [25]
    block = unpack(table(database)[0][3])
    assert block.late_minutes[block.late_minutes != NOT_ARRIVED].tolist() == [7 * 60]


def test_a_second_replacement_within_a_minute_touches_what_was_put_aside_of_its_own_only(database: Database) -> None:
    year_before, hour = "2049-07-19T00", "2050-07-19T00"
    for value, now in ((1.0, at(5)), (2.0, at(7))):  # what stood until 07:00 is put aside by itself
        write(database, "logger", hours_of(hour, {TEMPERATURE: [value]}), replace=True, now=now)
    write(database, "logger", hours_of("2050-07-19T01", {TEMPERATURE: [3.0]}), now=at(7))
    write(database, "logger", hours_of(hour, {HUMIDITY: [40.0]}), now=at(7))
    write(database, "logger", hours_of(year_before, {TEMPERATURE: [50.0]}), now=at(7))
    write(database, "other", hours_of(hour, {TEMPERATURE: [6.0]}), now=at(7))
    first = at(8, 0, 10)
    write(database, "logger", hours_of(hour, {TEMPERATURE: [12.0], HUMIDITY: [90.0]}), replace=True, now=first)
    write(database, "logger", hours_of(year_before, {TEMPERATURE: [55.0]}), replace=True, now=first)
    write(database, "other", hours_of(hour, {TEMPERATURE: [16.0]}), replace=True, now=first)
    second = at(8, 0, 50)
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [22.0, 23.0]}), replace=True, now=second)

    def stood(moment: str) -> list[float]:
        panel = read(database, "logger", "other", known_by=f"2050-07-19T{moment}")
        row = int(np.flatnonzero(panel.hours == np.datetime64(hour))[0])
        temperature = panel.values[TEMPERATURE]
        return [
            *temperature[row : row + 2, 0],
            panel.values[HUMIDITY][row, 0],
            temperature[0, 0],
            temperature[row, 1],
        ]

    assert stood("06:59")[0] == 1
    assert stood("07:59") == [2, 3, 40, 50, 6]
    assert stood("08:00") == [22, 23, 90, 55, 16]


def test_who_stood_behind_a_value_on_a_past_morning_is_credited_and_who_came_later_is_not(database: Database) -> None:
    third = Provider("third", "a third hand", Grade.OBSERVED)
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [20.0, 21.0, 22.0]}), now=at(6))
    write(database, "logger", hours_of("2050-07-19T01", {TEMPERATURE: [25.0]}, AIRPORT), replace=True, now=at(8))
    write(database, "logger", hours_of("2050-07-19T01", {TEMPERATURE: [26.0]}, third), replace=True, now=at(10))
    # At another station the airport's figure stood before a third hand's.
    write(database, "other", hours_of("2050-07-19T00", {TEMPERATURE: [20.0, 21.0]}, AIRPORT), now=at(6))
    write(database, "other", hours_of("2050-07-19T00", {TEMPERATURE: [30.0, 31.0]}, third), replace=True, now=at(11))

    def behind(moment: str | None) -> Mapping[Provider, int]:
        return credited(database, "2050-07-19T00", "2050-07-19T02", None if moment is None else f"2050-07-19T{moment}")

    assert behind("01:59") == {LOGGER: 2}  # the hour of 02:00 had not come
    assert behind("07:59") == {LOGGER: 3}
    assert behind("08:00") == {LOGGER: 2, AIRPORT: 1}
    assert behind("10:00") == behind(None) == {LOGGER: 2, third: 1}


def test_whoever_stands_behind_most_comes_first_and_only_the_hours_asked_about_count(database: Database) -> None:
    write(database, "logger", hours_of("2049-12-31T22", {TEMPERATURE: [1.0, 1.0]}))  # both of the year before
    write(database, "logger", hours_of("2050-01-01T00", {TEMPERATURE: [1.0, 1.0, 1.0]}, AIRPORT))
    write(database, "logger", hours_of("2050-01-01T03", {TEMPERATURE: [1.0, 1.0]}))
    write(database, "other", hours_of("2050-01-01T00", {TEMPERATURE: [1.0, 1.0]}))
    assert list(credited(database, "2049-12-31T23", "2050-01-01T03").items()) == [(AIRPORT, 3), (LOGGER, 2)]
    assert list(credited(database, "2049-12-31T22", "2050-01-01T04").items()) == [(LOGGER, 4), (AIRPORT, 3)]
    assert credited(database, "2050-01-01T02", "2050-01-01T03") == {AIRPORT: 1, LOGGER: 1}
    assert credited(database, "2049-07-01T00", "2049-12-31T22") == {LOGGER: 1}


def test_a_value_put_back_is_known_as_it_stood_each_time(database: Database) -> None:
    for hour, value in ((6, 20.0), (8, 25.0), (10, 20.0)):
        write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [value]}), replace=True, now=at(hour))
    assert [known(database, moment) for moment in ("07:00", "09:00", "11:00")] == [[20], [25], [20]]


def test_what_had_not_arrived_when_it_was_replaced_was_never_known(database: Database) -> None:
    # Imported at 01:20 with a lag of 30 min: the hour of 01:00 is taken to have come at 01:20, not at 01:30.
    write(database, "logger", hours_of("2050-07-19T01", {TEMPERATURE: [20.0]}), late=30, now=at(1, 20))
    write(database, "logger", hours_of("2050-07-19T01", {TEMPERATURE: [21.0]}), late=30, replace=True, now=at(1, 40))
    assert read_hours(database, ("logger",), np.datetime64("2050-07-19T01:19", "m")) is None
    assert known(database, "01:20") == [20]
    assert known(database, "01:40") == [21]


def test_a_value_that_an_earlier_look_did_not_find_arrived_when_it_was_found(database: Database) -> None:
    # Asked at 06:00, the source has the hours to 02:00; by the stated lag of an hour those of 03:00 to 05:00 were due.
    first = hours_of("2050-07-19T00", {TEMPERATURE: [20.0, 20.0, 20.0]})
    write(database, "logger", first, late=60, now=at(6), looked=("2050-07-19T00", "2050-07-19T06"))
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [20.0] * 9}), late=60, now=at(9, 10))
    gone = np.nan
    np.testing.assert_array_equal(known(database, "09:09"), [20, 20, 20, gone, gone, gone, 20, 20, 20])
    assert known(database, "09:10") == [20.0] * 9


def test_hours_due_after_the_last_look_arrive_by_the_stated_lag(database: Database) -> None:
    first = hours_of("2050-07-19T00", {TEMPERATURE: [20.0, 20.0, 20.0]})
    write(database, "logger", first, late=60, now=at(3), looked=("2050-07-19T00", "2050-07-19T03"))
    # 03:00 was due at 04:00, after the look at 03:00.
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [20.0] * 4}), late=60, now=at(9))
    assert len(known(database, "03:59")) == 3
    assert len(known(database, "04:00")) == 4


def test_a_look_says_nothing_of_the_hours_another_look_asked_for(database: Database) -> None:
    # At 05:00 two years are asked for, at 09:00 the one before alone, at 12:00 this one again. Nobody looked at 09:00
    # for the hours of today that were due after 05:00.
    early = hours_of("2050-07-19T00", {TEMPERATURE: [20.0] * 4})
    write(database, "logger", early, late=60, now=at(5), looked=("2049-01-01T00", "2050-07-19T05"))
    year_before = hours_of("2049-07-19T00", {TEMPERATURE: [20.0]})
    write(database, "logger", year_before, late=60, now=at(9), looked=("2049-01-01T00", "2049-12-31T23"))
    today = hours_of("2050-07-19T00", {TEMPERATURE: [20.0] * 11})
    write(database, "logger", today, late=60, now=at(12), looked=("2050-01-01T00", "2050-07-19T12"))

    def today_known(moment: str) -> list[bool]:
        panel = read(database, "logger", known_by=f"2050-07-19T{moment}")
        at_or_after = panel.hours >= np.datetime64("2050-07-19T00")
        return [bool(there) for there in ~np.isnan(panel.values[TEMPERATURE][at_or_after, 0])]

    # The hour of 04:00 was due at 05:00 and not found then; that of 05:00 was due at 06:00, and so on to 10:00.
    assert today_known("05:59") == [True] * 4
    assert today_known("08:30") == [True] * 4 + [False] + [True] * 3
    assert today_known("11:00") == [True] * 4 + [False] + [True] * 6
    assert today_known("12:00") == [True] * 11


def test_a_hole_before_the_first_hour_found_was_looked_for_too(database: Database) -> None:
    first = hours_of("2050-07-19T02", {TEMPERATURE: [20.0]})
    write(database, "logger", first, late=60, now=at(6), looked=("2050-07-19T00", "2050-07-19T06"))
    write(database, "logger", hours_of("2050-07-19T00", {TEMPERATURE: [20.0] * 3}), late=60, now=at(9))
    panel = read(database, "logger", known_by="2050-07-19T08:59")
    assert [str(hour) for hour in panel.hours] == ["2050-07-19T02"]
    assert known(database, "09:00") == [20] * 3


def test_a_look_covers_its_first_and_last_hour_and_what_is_due_in_its_own_minute(database: Database) -> None:
    # Looked for at 06:00: the hours of 02:00 to 04:00; the last of them was due that very minute.
    first = hours_of("2050-07-19T03", {TEMPERATURE: [20.0]})
    write(database, "logger", first, late=120, now=at(6), looked=("2050-07-19T02", "2050-07-19T04"))
    write(database, "logger", hours_of("2050-07-19T01", {TEMPERATURE: [20.0] * 5}), late=120, now=at(9, 10))
    gone = np.nan
    np.testing.assert_array_equal(known(database, "09:09"), [20, gone, 20, gone, 20])
    assert known(database, "09:10") == [20] * 5


def test_a_file_looks_no_further_than_its_own_hours(database: Database) -> None:
    # Both files are called logger.csv; the older says nothing of the hours after it, yet all of its own hole at 01:00.
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0, np.nan, 20.0]}), late=60, now=at(6))
    write(database, "logger", hours_of("2050-07-18T01", {TEMPERATURE: [20.0, 20.0, 20.0]}), late=60, now=at(9))
    panel = read(database, "logger", known_by="2050-07-19T08:00")
    np.testing.assert_array_equal(panel.values[TEMPERATURE][:, 0], [20, np.nan, 20, 20])


def test_a_look_at_later_years_or_by_another_file_says_nothing_of_these_hours(database: Database) -> None:
    hours = hours_of("2050-07-19T05", {TEMPERATURE: [20.0]})
    write(database, "logger", hours, late=60, now=at(8), looked=("2050-07-19T05", "2050-07-19T08"))
    write(database, "logger", hours_of("2049-07-19T00", {TEMPERATURE: [20.0]}), late=60, now=at(9))
    assert read(database, "logger", known_by="2049-07-19T01:00").values[TEMPERATURE][0, 0] == 20
    other = hours_of("2050-07-19T06", {TEMPERATURE: [20.0]}, source="other.csv")
    write(database, "logger", other, late=60, now=at(10))
    assert np.count_nonzero(~np.isnan(read(database, "logger", known_by="2050-07-19T07:00").values[TEMPERATURE])) == 3


def test_a_look_for_another_station_says_nothing_of_this_one(database: Database) -> None:
    other = hours_of("2050-07-19T00", {TEMPERATURE: [20.0]})
    write(database, "other", other, late=60, now=at(6), looked=("2050-07-19T00", "2050-07-19T06"))
    write(database, "logger", hours_of("2050-07-19T02", {TEMPERATURE: [20.0]}), late=60, now=at(9))
    assert known(database, "03:00") == [20]


def test_every_import_is_told_in_order(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}, source="spring.csv"))
    write(database, "other", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}, source="third.csv"))
    write(database, "logger", hours_of("2050-07-18T01", {TEMPERATURE: [20.0, 21.0]}, source="second.csv"))
    told = imports(database, ["logger"])
    assert [done.source for done in told] == ["spring.csv", "second.csv"]
    assert told[1].imported_utc == "2060-07-20T04:00:00Z"
    assert (told[1].first_hour_utc, told[1].last_hour_utc) == ("2050-07-18T01:00Z", "2050-07-18T02:00Z")


def test_no_hours_write_nothing(database: Database) -> None:
    assert write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: []})) == Written(0, 0, 0)
    assert read_hours(database, ("logger",)) is None
    assert imports(database, ["logger"]) == ()


# Years and stations


@pytest.mark.parametrize(
    ("first", "count", "years"),
    [
        ("2050-12-31T20", 8, [2050, 2051]),
        ("2048-02-28T20", 60, [2048]),  # leap: 4 h of the 28th, 24 of the 29th, 32 of March
        ("2048-12-31T20", 8, [2048, 2049]),  # the 366th day
        ("1900-02-28T20", 60, [1900]),  # no leap year
        ("1969-12-31T20", 8, [1969, 1970]),  # before and after numpy's epoch
    ],
)
def test_hours_run_on_across_the_ends_of_years(database: Database, first: str, count: int, years: list[int]) -> None:
    values = np.arange(count, dtype=np.float64)
    write(database, "logger", hours_of(first, {TEMPERATURE: values}))
    assert [row[2] for row in table(database)] == years
    panel = read(database, "logger")
    np.testing.assert_array_equal(panel.hours, np.datetime64(first, "h") + np.arange(count))
    np.testing.assert_array_equal(panel.values[TEMPERATURE][:, 0], values)


def test_a_leap_year_has_its_366_days(database: Database) -> None:
    write(database, "logger", hours_of("2048-02-29T23", {TEMPERATURE: [1.0]}))
    write(database, "other", hours_of("2050-02-01T00", {TEMPERATURE: [1.0]}))
    lengths = [len(unpack(row[3]).values) for row in table(database)]
    assert lengths == [366 * 24, 365 * 24]


def test_hours_with_a_year_between_them_come_back_as_one_unbroken_panel(database: Database) -> None:
    write(database, "logger", hours_of("2049-07-18T00", {TEMPERATURE: [20.0]}))
    write(database, "logger", hours_of("2050-07-18T00", {HUMIDITY: [97.0]}))
    panel = read(database, "logger")
    assert len(panel.hours) == 365 * 24 + 1
    assert (np.diff(panel.hours) == np.timedelta64(1, "h")).all()
    assert np.count_nonzero(~np.isnan(panel.values[TEMPERATURE])) == 1
    assert panel.values[HUMIDITY][-1, 0] == 97


def test_stray_old_years_are_left_out(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}))
    write(database, "logger", hours_of("2048-12-31T23", {TEMPERATURE: [15.0, 16.0]}))  # the second is of 2049
    write(database, "logger", hours_of("1970-01-01T00", {HUMIDITY: [97.0]}))

    def first_hour(most_years: int | None, known_by: str | None = None) -> str:
        moment = None if known_by is None else np.datetime64(known_by, "m")
        panel = read_hours(database, ("logger",), moment, most_years=most_years)
        assert panel is not None
        return str(panel.hours[0])

    assert first_hour(None) == "1970-01-01T00"
    assert first_hour(81) == "1970-01-01T00"  # 1970 to 2050 are 81 calendar years
    assert first_hour(80) == first_hour(3) == "2048-12-31T23"
    assert first_hour(2) == "2049-01-01T00"
    assert first_hour(1) == "2050-07-18T00"
    # Before the hour of 2050 had come, 2049 was the newest year.
    assert first_hour(2, known_by="2050-01-01T00:00") == "2048-12-31T23"


def test_every_station_with_hours_is_named_once_in_alphabetical_order(database: Database) -> None:
    assert stations_with_hours(database) == ()
    for station in ("north", "east", "south"):
        write(database, station, hours_of("2049-12-31T23", {TEMPERATURE: [1.0, 2.0], HUMIDITY: [97.0, 96.0]}))
    assert stations_with_hours(database) == ("east", "north", "south")


def test_two_stations_stand_side_by_side_on_the_same_hours(database: Database) -> None:
    write(database, "north", hours_of("2050-07-31T22", {TEMPERATURE: [1.0, 2.0, 3.0]}))
    write(database, "south", hours_of("2050-08-01T00", {TEMPERATURE: [30.0, 40.0], HUMIDITY: [97.0, 96.0]}))
    panel = read(database, "south", "north", "nowhere")
    assert panel.series == ("south", "north", "nowhere")
    assert [str(hour) for hour in panel.hours] == ["2050-07-31T22", "2050-07-31T23", "2050-08-01T00", "2050-08-01T01"]
    hole = np.nan
    np.testing.assert_array_equal(
        panel.values[TEMPERATURE], [[hole, 1, hole], [hole, 2, hole], [30, 3, hole], [40, hole, hole]]
    )
    np.testing.assert_array_equal(panel.values[HUMIDITY][:, 0], [hole, hole, 97, 96])
    assert (panel.flags[TEMPERATURE][:, 2] == Flag.MISSING).all()


def test_nothing_stored_reads_as_none(database: Database) -> None:
    assert read_hours(database, ("logger",)) is None
    assert read_hours(database, ()) is None


# Two at once

WRITES = 40  # by each of two processes into the same blocks


def write_every_other_hour(path: Path, parity: int) -> None:
    """What each process does: wait for the word, then write hours of one parity, one load an hour."""
    database = Database(path)
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    sys.stdin.readline()
    for number in range(parity, 2 * WRITES, 2):
        stamp = str(np.datetime64("2050-07-18T00", "h") + number)
        write(database, "logger", hours_of(stamp, {TEMPERATURE: [float(number)], HUMIDITY: [float(number)]}))
    database.close()


def test_two_processes_that_write_at_once_lose_nothing(database: Database) -> None:
    # Every load reads, changes and rewrites the same two blocks, so a write between another's read and write is lost.
    writers = [
        subprocess.Popen(
            [sys.executable, __file__, str(database.path), str(parity)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        for parity in (0, 1)
    ]
    for writer in writers:
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"ready\n"
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write(b"go\n")
        writer.stdin.flush()
    for writer in writers:
        writer.communicate(timeout=50)
        assert writer.returncode == 0
    panel = read(database, "logger")
    for name in (TEMPERATURE, HUMIDITY):
        assert panel.values[name][:, 0].tolist() == list(range(2 * WRITES))


def test_a_second_writer_gives_up_after_the_waiting_time(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database_module, "BUSY_S", 0.3)
    second = Database(database.path)
    hours = hours_of("2050-07-18T00", {TEMPERATURE: [20.0]})
    with database.writing():
        began = time.monotonic()
        with pytest.raises(BusyError) as caught:
            write(second, "logger", hours)
        assert 0.25 < time.monotonic() - began < 5
    assert caught.value.exit_code == 75
    assert write(second, "logger", hours) == Written(1, 0, 0)  # and in again as soon as the first is done
    second.close()


def test_a_reader_sees_one_state_while_a_writer_works(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}))
    second = Database(database.path)
    with database.writing() as connection:
        connection.execute(sa.delete(BLOCKS))
        assert read(second, "logger").values[TEMPERATURE][0, 0] == 20
    assert read_hours(second, ("logger",)) is None
    second.close()


if __name__ == "__main__":
    write_every_other_hour(Path(sys.argv[1]), int(sys.argv[2]))
