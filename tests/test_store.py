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
from forecast.ingest.imported import ImportedHours
from forecast.ingest.store import (
    NOT_ARRIVED,
    Block,
    Written,
    empty_block,
    last_imports,
    pack,
    read_hours,
    unpack,
    write_hours,
)
from forecast.panel import Floats, Panel
from forecast.quantities import Flag, Origin
from forecast.tables import BLOCKS

NOW = datetime(2050, 7, 20, 4, 0, tzinfo=UTC)
TEMPERATURE = "air_temperature_c"
HUMIDITY = "relative_humidity_pct"


def hours_of(
    first: str, values: Mapping[str, list[float] | Floats], origin: Origin = Origin.OBSERVED, source: str = "logger.csv"
) -> ImportedHours:
    """Hours from ``first`` on, one a value."""
    arrays = {name: np.asarray(array, dtype=np.float64) for name, array in values.items()}
    count = len(next(iter(arrays.values())))
    stamps = np.datetime64(first, "h") + np.arange(count)
    origins = {name: np.full(count, origin, np.uint8) for name in arrays}
    return ImportedHours(stamps, arrays, origins, source, "", ())


def write(
    database: Database, station: str, imported: ImportedHours, *, late: int = 0, replace: bool = False
) -> Written:
    return write_hours(database, station, imported, late_minutes=late, now=NOW, replace=replace)


def read(database: Database, *stations: str, known_by: str | None = None) -> Panel:
    panel = read_hours(database, stations, None if known_by is None else np.datetime64(known_by, "m"))
    assert panel is not None
    return panel


def bits(values: Floats) -> list[int]:
    return [int(bit) for bit in np.ascontiguousarray(values).view(np.uint64)]


def table(database: Database) -> list[tuple[str, str, str, bytes]]:
    """Every stored block."""
    with database.reading() as connection:
        rows = connection.execute(sa.select(BLOCKS).order_by(BLOCKS.c.station_id, BLOCKS.c.quantity, BLOCKS.c.month))
        return [(row.station_id, row.quantity, row.month, row.block) for row in rows]


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


@pytest.mark.parametrize("origin", [Origin.OBSERVED, Origin.NEIGHBOUR, Origin.WEATHER_FORECAST])
def test_each_value_keeps_its_origin(database: Database, origin: Origin) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20, 21]}, origin))
    assert read(database, "logger").origin[TEMPERATURE][:, 0].tolist() == [origin, origin]


@st.composite
def blocks(draw: st.DrawFn) -> Block:
    hours = draw(st.sampled_from([0, 1, 28 * 24, 31 * 24]))
    anything = st.floats(width=64, allow_nan=True, allow_infinity=True, allow_subnormal=True)
    return Block(
        draw(hnp.arrays(np.float64, hours, elements=anything)),
        draw(hnp.arrays(np.uint8, hours)),
        draw(hnp.arrays(np.uint8, hours)),
        draw(hnp.arrays(np.int32, hours)),
    )


@given(blocks())
def test_any_block_is_unpacked_as_it_was_packed(block: Block) -> None:
    back = unpack(pack(block))
    assert bits(back.values) == bits(block.values)
    for field in ("flags", "origin", "late_minutes"):
        np.testing.assert_array_equal(getattr(back, field), getattr(block, field), strict=True)


def test_a_not_a_number_keeps_even_its_payload() -> None:
    payload = np.array([0x7FF8_0000_DEAD_BEEF, 0xFFF8_0000_0000_0001], np.uint64).view(np.float64)
    block = Block(payload, np.zeros(2, np.uint8), np.zeros(2, np.uint8), np.zeros(2, np.int32))
    assert bits(unpack(pack(block)).values) == [0x7FF8_0000_DEAD_BEEF, 0xFFF8_0000_0000_0001]


# Damage


def test_a_block_that_was_cut_or_changed_anywhere_is_refused() -> None:
    packed = pack(empty_block(24))
    for place in range(len(packed)):
        for damaged in (packed[:place], packed[:place] + bytes([packed[place] ^ 0x55]) + packed[place + 1 :]):
            with pytest.raises(DataError):
                unpack(damaged)


def test_a_block_of_a_broken_length_is_refused() -> None:
    with pytest.raises(DataError, match="ends within an hour"):
        unpack(b"\x01" + zlib.compress(bytes(14 * 24 + 5)))


@pytest.mark.parametrize("block", [b"", b"\x01junk", b"\x02later", pack(empty_block(24))])
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
    assert last_imports(database, ("logger",))["logger"].source == "logger.csv"


def test_replace_puts_the_new_value_in_and_counts_it(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0, 21.0]}))
    again = hours_of("2050-07-18T00", {TEMPERATURE: [20.0, 25.0, 26.0]}, Origin.NEIGHBOUR)
    assert write(database, "logger", again, replace=True) == Written(new=1, same=1, changed=1)
    panel = read(database, "logger")
    assert panel.values[TEMPERATURE][:, 0].tolist() == [20, 25, 26]
    assert panel.origin[TEMPERATURE][:, 0].tolist() == [Origin.OBSERVED, Origin.NEIGHBOUR, Origin.NEIGHBOUR]


def test_the_last_import_of_each_station_is_told(database: Database) -> None:
    write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}, source="first.csv"))
    write(database, "logger", hours_of("2050-07-18T01", {TEMPERATURE: [20.0]}, source="second.csv"))
    write(database, "other", hours_of("2050-07-18T00", {TEMPERATURE: [20.0]}, source="third.csv"))
    imports = last_imports(database, ("logger", "other", "nowhere"))
    assert {station: done.source for station, done in imports.items()} == {"logger": "second.csv", "other": "third.csv"}
    assert imports["logger"].imported_utc == "2050-07-20T04:00:00Z"


def test_no_hours_write_nothing(database: Database) -> None:
    assert write(database, "logger", hours_of("2050-07-18T00", {TEMPERATURE: []})) == Written(0, 0, 0)
    assert read_hours(database, ("logger",)) is None
    assert last_imports(database, ("logger",)) == {}


# Months and stations


@pytest.mark.parametrize(
    ("first", "count", "months"),
    [
        ("2050-12-31T20", 8, ["2050-12", "2051-01"]),
        ("2048-02-28T20", 60, ["2048-02", "2048-03"]),  # leap: 4 h of the 28th, 24 of the 29th, 32 of March
        ("2050-02-28T20", 60, ["2050-02", "2050-03"]),
        ("1900-02-28T20", 60, ["1900-02", "1900-03"]),  # no leap year
        ("1969-12-31T20", 8, ["1969-12", "1970-01"]),  # before and after numpy's epoch
    ],
)
def test_hours_run_on_across_the_ends_of_months(database: Database, first: str, count: int, months: list[str]) -> None:
    values = np.arange(count, dtype=np.float64)
    write(database, "logger", hours_of(first, {TEMPERATURE: values}))
    assert [row[2] for row in table(database)] == months
    panel = read(database, "logger")
    np.testing.assert_array_equal(panel.hours, np.datetime64(first, "h") + np.arange(count))
    np.testing.assert_array_equal(panel.values[TEMPERATURE][:, 0], values)


def test_a_leap_february_has_its_29_days(database: Database) -> None:
    write(database, "logger", hours_of("2048-02-01T00", {TEMPERATURE: [1.0]}))
    write(database, "other", hours_of("2050-02-01T00", {TEMPERATURE: [1.0]}))
    lengths = [len(unpack(row[3]).values) for row in table(database)]
    assert lengths == [29 * 24, 28 * 24]


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


def test_an_empty_month_knows_nothing() -> None:
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
