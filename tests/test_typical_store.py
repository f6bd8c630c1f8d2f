"""The store of typical years: to the last bit, known from the moment of loading, and each station's its own."""

from collections.abc import Mapping
from datetime import UTC, datetime

import numpy as np
import pytest
import sqlalchemy as sa

from forecast.database import Database
from forecast.errors import DataError
from forecast.ingest.imported import Grade, Provider
from forecast.ingest.keep.block import unpack
from forecast.ingest.keep.store import read_hours, stations_with_typical_year
from forecast.ingest.keep.typical_store import read_typical_year, write_typical_year
from forecast.ingest.typical_year import HOURS, TypicalYear
from forecast.panel import Floats
from forecast.quantities import Flag
from forecast.tables import TYPICAL

TEMPERATURE, RAIN = "air_temperature_c", "rain_mm"
MADE_UP = Provider(
    "made_up", "an invented typical year", Grade.TYPICAL, "the invented office", "CC BY 4.0", "https://x"
)


def typical(values: Mapping[str, Floats], source: str = "first.epw") -> TypicalYear:
    return TypicalYear(values, 41.2, -85.1, 250.5, -5.5, MADE_UP, source, ())


def all_of(figure: float) -> Mapping[str, Floats]:
    return {TEMPERATURE: np.full(HOURS, figure)}


def at(hour: int, second: int = 0) -> datetime:
    return datetime(2050, 7, 18, hour, 0, second, tzinfo=UTC)


def figure(database: Database, station: str, known_by: str | None = None) -> float | None:
    """The temperature of the typical year that holds; None where none does."""
    year = read_typical_year(database, station, None if known_by is None else f"2050-07-18T{known_by}Z")
    return None if year is None else float(year.values[TEMPERATURE][0])


def test_a_typical_year_comes_back_bit_for_bit_with_all_that_is_told_of_it(database: Database) -> None:
    values = np.arange(HOURS) / 7  # all different, so that an hour out of place shows
    values[:6] = [-0.0, 5e-324, 0.1 + 0.2, float(np.nextafter(20, 21)), np.nan, 1.7976931348623157e308]
    rain = np.full(HOURS, np.nan)
    write_typical_year(database, "field", typical({TEMPERATURE: values, RAIN: rain}), at(5))
    back = read_typical_year(database, "field")
    assert back is not None
    assert set(back.values) == {TEMPERATURE, RAIN}
    for name, given in ((TEMPERATURE, values), (RAIN, rain)):
        np.testing.assert_array_equal(back.values[name].view(np.uint64), given.view(np.uint64))
    place = (back.latitude_deg, back.longitude_deg, back.elevation_m, back.utc_offset_hours)
    assert place == (41.2, -85.1, 250.5, -5.5)
    assert (back.provider, back.source) == (MADE_UP, "first.epw")


def test_hours_it_does_not_know_are_flagged_missing(database: Database) -> None:
    values = np.full(HOURS, 20.0)
    values[1] = np.nan
    write_typical_year(database, "field", typical({TEMPERATURE: values}), at(5))
    with database.reading() as connection:
        block = unpack(connection.execute(sa.select(TYPICAL.c.block)).scalar_one())
    assert block.flags[:3].tolist() == [Flag.NOT_EVALUATED, Flag.MISSING, Flag.NOT_EVALUATED]


def test_the_newest_that_was_loaded_by_a_moment_holds_and_the_earlier_one_before(database: Database) -> None:
    write_typical_year(database, "field", typical(all_of(10.0)), at(5))
    write_typical_year(database, "field", typical(all_of(14.0), "third.epw"), at(9))
    write_typical_year(database, "field", typical(all_of(12.0), "second.epw"), at(7))  # written down out of turn
    assert figure(database, "field", "04:59:59") is None
    assert figure(database, "field", "05:00:00") == 10
    assert figure(database, "field", "06:59:59") == 10
    assert figure(database, "field", "08:00:00") == 12
    assert figure(database, "field", "09:00:00") == figure(database, "field") == 14


def test_a_quantity_that_only_the_earlier_one_has_is_not_mixed_in(database: Database) -> None:
    write_typical_year(database, "field", typical({**all_of(10.0), RAIN: np.zeros(HOURS)}), at(5))
    write_typical_year(database, "field", typical(all_of(14.0), "second.epw"), at(7))
    newest = read_typical_year(database, "field")
    assert newest is not None
    assert set(newest.values) == {TEMPERATURE}
    assert newest.source == "second.epw"


def test_one_loaded_again_in_the_same_second_takes_the_place_of_the_first(database: Database) -> None:
    write_typical_year(database, "field", typical(all_of(9.0), "earlier.epw"), at(4))
    write_typical_year(database, "other", typical(all_of(30.0)), at(5))
    write_typical_year(database, "field", typical({**all_of(10.0), RAIN: np.zeros(HOURS)}), at(5))
    write_typical_year(database, "field", typical(all_of(14.0), "second.epw"), at(5))
    newest = read_typical_year(database, "field")
    assert newest is not None
    assert (newest.source, set(newest.values)) == ("second.epw", {TEMPERATURE})
    assert figure(database, "field") == 14
    assert figure(database, "field", "04:30:00") == 9
    assert figure(database, "other") == 30


def test_each_station_has_its_own(database: Database) -> None:
    write_typical_year(database, "field", typical(all_of(10.0)), at(5))
    write_typical_year(database, "other", typical(all_of(30.0)), at(7))
    assert figure(database, "field") == 10
    assert figure(database, "other") == 30
    assert figure(database, "third") is None


def test_the_stations_that_have_one_are_known_from_its_loading_on(database: Database) -> None:
    write_typical_year(database, "field", typical({**all_of(10.0), RAIN: np.zeros(HOURS)}), at(5))
    write_typical_year(database, "other", typical(all_of(30.0)), at(7))
    assert stations_with_typical_year(database, "2050-07-18T04:59:59Z") == frozenset()
    assert stations_with_typical_year(database, "2050-07-18T05:00:00Z") == {"field"}
    assert stations_with_typical_year(database) == {"field", "other"}


def test_it_is_no_observation(database: Database) -> None:
    write_typical_year(database, "field", typical(all_of(10.0)), at(5))
    assert read_hours(database, ["field"]) is None


def test_a_damaged_one_is_told(database: Database) -> None:
    write_typical_year(database, "field", typical(all_of(10.0)), at(5))
    with database.writing() as connection:
        connection.execute(sa.update(TYPICAL).values(block=b"\x02torn"))
    with pytest.raises(DataError, match="damaged"):
        read_typical_year(database, "field")
