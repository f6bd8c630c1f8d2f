"""The store of hours: bit for bit, known when it arrived, whole or not at all, and by two hands at once."""

import subprocess
import sys
import time
import zlib
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from forecast import database as database_module
from forecast.database import Database
from forecast.errors import BusyError, DataError
from forecast.ingest.imported import Grade, ImportedHours, Provider, from_one
from forecast.ingest.keep.block import NOT_ARRIVED, Block, empty_block, pack, unpack
from forecast.ingest.keep.store import Replace, Written, imports, providers_of, read_hours, write_hours
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


def test_a_provider_s_newest_wording_is_the_one_shown(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}, AIRPORT))
    renamed = Provider("airport", "the airport", Grade.OBSERVED, "Alder Reach weather office, mended", "CC BY 4.0")
    write(database, "logger", hours_of("2050-07-18T01", {TEMPERATURE: [20.0]}, renamed))
    hour = np.datetime64("2050-07-18T00", "h")
    assert providers_of(database, "logger", hour, hour) == {renamed: 1}


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


@st.composite
def blocks(draw: st.DrawFn) -> Block:
    hours = draw(st.sampled_from([0, 1, 300, 365 * 24]))  # 300 different values take two bytes a number
    anything = st.floats(width=64, allow_nan=True, allow_infinity=True, allow_subnormal=True)
    values = draw(hnp.arrays(np.float64, hours, elements=anything))
    if hours > 1 and draw(st.booleans()):
        values = values + np.arange(hours)  # all different
    return Block(
        values,
        draw(hnp.arrays(np.uint8, hours)),
        draw(hnp.arrays(np.uint16, hours)),
        draw(hnp.arrays(np.int32, hours)),
    )


@given(blocks())
def test_any_block_is_unpacked_as_it_was_packed(block: Block) -> None:
    back = unpack(pack(block))
    assert bits(back.values) == bits(block.values)
    for field in ("flags", "provider", "late_minutes"):
        np.testing.assert_array_equal(getattr(back, field), getattr(block, field), strict=True)


def test_a_not_a_number_keeps_even_its_payload() -> None:
    payload = np.array([0x7FF8_0000_DEAD_BEEF, 0xFFF8_0000_0000_0001], np.uint64).view(np.float64)
    block = Block(payload, np.zeros(2, np.uint8), np.zeros(2, np.uint16), np.zeros(2, np.int32))
    assert bits(unpack(pack(block)).values) == [0x7FF8_0000_DEAD_BEEF, 0xFFF8_0000_0000_0001]


# Damage


def test_a_block_that_was_cut_or_changed_anywhere_is_refused() -> None:
    packed = pack(empty_block(24))
    for place in range(len(packed)):
        for damaged in (packed[:place], packed[:place] + bytes([packed[place] ^ 0x55]) + packed[place + 1 :]):
            with pytest.raises(DataError):
                unpack(damaged)


def head(hours: int, distinct: int, runs: int) -> bytes:
    return hours.to_bytes(4, "little") + distinct.to_bytes(4, "little") + runs.to_bytes(4, "little")


A_RUN = (24).to_bytes(4, "little") + bytes(4 + 2 + 1)


@pytest.mark.parametrize(
    "inside",
    [
        b"",
        head(24, 1, 1)[:-1],
        head(24, 1, 1) + bytes(8) + A_RUN + bytes(23),  # a number short
        head(24, 1, 1) + bytes(8) + A_RUN + bytes(25),  # a number too many
        head(25, 1, 1) + bytes(8) + A_RUN + bytes(25),  # its run says 24 hours
        head(24, 1, 1) + bytes(8) + A_RUN + bytes([1]) * 24,  # the second of one value
        head(4_000_000_000, 1, 1) + bytes(8) + A_RUN + bytes(24),
    ],
)
def test_a_block_whose_parts_do_not_fit_is_refused(inside: bytes) -> None:
    with pytest.raises(DataError, match="damaged"):
        unpack(b"\x02" + zlib.compress(inside))


def test_the_parts_that_do_fit_are_taken() -> None:
    block = unpack(b"\x02" + zlib.compress(head(24, 1, 1) + bytes(8) + A_RUN + bytes(24)))
    assert block.values.tolist() == [0.0] * 24


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


def test_every_import_is_told_in_order(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}, source="first.csv"))
    write(database, "other", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}, source="third.csv"))
    write(database, "logger", hours_of("2050-07-18T01", {TEMPERATURE: [20.0, 21.0]}, source="second.csv"))
    told = imports(database, ["logger"])
    assert [done.source for done in told] == ["first.csv", "second.csv"]
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


def test_an_empty_block_knows_nothing() -> None:
    block = empty_block(3)
    assert np.isnan(block.values).all()
    assert block.flags.tolist() == [Flag.MISSING] * 3
    assert block.late_minutes.tolist() == [NOT_ARRIVED] * 3


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
