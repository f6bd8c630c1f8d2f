"""One suite for every source of hours: the same invented weather, told in each source's form, comes in as the same.

The replies are in source_replies.py, with the arithmetic of their units. Sources that are read from bytes come first;
the two that need a file or a server are adapters at the bottom.
"""

from __future__ import annotations

import gzip
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import source_replies as told
from loopback import Loopback, loopback
from pydantic import ValidationError

from forecast.errors import DataError
from forecast.ingest import ghcnh, grid_intervals, hour_columns, meteostat_source, typical_year
from forecast.ingest.imported import Grade, ImportedHours, IssuedForecast, Provider
from forecast.ingest.logger import csv_file
from forecast.ingest.logger.mapping import Mapping
from forecast.panel import Floats
from forecast.quantities import QUANTITIES, READABLE, WORKED_OUT, Kind

Hourly = ImportedHours | IssuedForecast


@dataclass(frozen=True)
class Source:
    """One source of the catalogue.

    Attributes:
        name: for the test's name.
        module: where its reader and its conventions stand.
        body: its invented reply.
        read: the reply, a folder for files, to hours.
        grade: of what it tells.
        credit: whether its licence asks for a credit.
    """

    name: str
    module: ModuleType
    body: bytes
    read: Callable[[bytes, Path], Hourly]
    grade: Grade
    credit: bool = False


def _typical(body: bytes, _: Path) -> ImportedHours:
    return typical_year.as_hours(typical_year.read(body, source="invented"), 2023)


def _csv(body: bytes, folder: Path) -> ImportedHours:
    path = folder / "logger.csv"
    path.write_bytes(body)
    found = csv_file.read_csv_hours(path)
    assert path.read_bytes() == body
    return found


def _mapped(body: bytes, folder: Path) -> ImportedHours:
    path = folder / "logger.csv"
    path.write_bytes(body)
    found = csv_file.read_csv_hours(path, Mapping.model_validate(told.MAPPING))
    assert path.read_bytes() == body
    return found


def _meteostat(body: bytes, folder: Path) -> ImportedHours:
    from forecast.ingest.web.download import Network

    with pytest.MonkeyPatch.context() as patch, loopback() as server:
        patch.setenv("NO_PROXY", "127.0.0.1")
        return _fetched(server, body, folder, Network(allow_hosts=("127.0.0.1",)))


def _fetched(server: Loopback, body: bytes, folder: Path, network: object) -> ImportedHours:
    server.answers["/2023/T0WN.csv.gz"] = (200, gzip.compress(body, mtime=0))
    fetched = meteostat_source.fetch_hours(
        meteostat_source.Place("T0WN", 40.0, -80.0, 250.0),
        range(2023, 2024),
        folder,
        network,  # type: ignore[arg-type]
        datetime(2023, 8, 1, tzinfo=UTC),
        endpoint=f"{server.address}/{{year}}/{{station}}.csv.gz",
    )
    return fetched.observed


SOURCES = (
    Source(
        "hour columns",
        hour_columns,
        told.as_bytes(told.hour_columns()),
        lambda body, _: hour_columns.read(body, source="https://example.org/forecast?apikey=secret"),
        Grade.MODEL,
        credit=True,
    ),
    Source(
        "grid intervals",
        grid_intervals,
        told.as_bytes(told.grid_intervals()),
        lambda body, _: grid_intervals.read(body, source="https://example.org/gridpoints/ZZZ/1,2?apikey=secret"),
        Grade.MODEL,
    ),
    Source(
        "ghcnh",
        ghcnh,
        told.ghcnh(),
        lambda body, _: ghcnh.read(body, source="GHCNh_USW00099999_2023.psv"),
        Grade.OBSERVED,
    ),
    Source("epw", typical_year, told.epw(), _typical, Grade.TYPICAL),
    Source("tmy3", typical_year, told.tmy3(), _typical, Grade.TYPICAL),
    Source("canonical csv", csv_file, told.CANONICAL_CSV, _csv, Grade.OBSERVED),
    Source("mapped csv", csv_file, told.MAPPED_CSV, _mapped, Grade.OBSERVED),
    Source("meteostat", meteostat_source, told.METEOSTAT_CSV, _meteostat, Grade.OBSERVED, credit=True),
)

every_source = pytest.mark.parametrize("source", SOURCES, ids=lambda source: source.name)


@pytest.fixture(scope="module")
def read_once(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Source], Hourly]:
    """Each source's hours, read once for the whole suite."""
    done: dict[str, Hourly] = {}

    def read(source: Source) -> Hourly:
        if source.name not in done:
            done[source.name] = source.read(source.body, tmp_path_factory.mktemp("source"))
        return done[source.name]

    return read


Read = Callable[[Source], Hourly]


def at(found: Hourly, name: str) -> Floats:
    """A quantity at the four invented hours."""
    assert np.isin(told.HOURS, found.hours).all()
    return found.values[name][np.searchsorted(found.hours, told.HOURS)]


def providers(found: Hourly) -> tuple[Provider, ...]:
    return (found.provider,) if isinstance(found, IssuedForecast) else found.providers


@every_source
def test_quantities_are_of_the_vocabulary_and_as_long_as_the_stamps(source: Source, read_once: Read) -> None:
    found = read_once(source)
    assert {"air_temperature_c", "relative_humidity_pct", "rain_mm", "wind_speed_10m_m_s"} <= set(found.values)
    assert set(found.values) <= set(READABLE)
    for array in found.values.values():
        assert array.dtype == np.float64
        assert array.shape == found.hours.shape


DERIVED = tuple(name for name, quantity in QUANTITIES.items() if quantity.derived)


def _with_column(body: bytes, name: str, delimiter: str) -> bytes:
    """A text of rows under a header with one more column, 30 in every row."""
    header, *rows = body.decode().splitlines()
    cells = [f"{header}{delimiter}{name}", *(f"{row}{delimiter}30" for row in rows)]
    return ("\n".join(cells) + "\n").encode()


def _telling(source: Source, name: str) -> bytes:
    """A source's reply with one more column or layer, under a name of the program's own, in every hour."""
    if source.module is hour_columns:
        return told.as_bytes(told.hour_columns({name: [30, 30, 30, 30]}))
    if source.module is grid_intervals:
        return told.as_bytes(told.grid_intervals({name: told.layer("degF", told.interval(11, 4, 30))}))
    first, second, rest = source.body.split(b"\n", 2)
    if source.name == "epw":  # its columns go by their place, under lines of remarks
        return b"\n".join([first, second + f",{name}".encode(), rest])
    if source.name == "tmy3":
        return first + b"\n" + _with_column(second + b"\n" + rest, name, ",")
    return _with_column(source.body, name, "|" if source.module is ghcnh else ",")


@every_source
def test_what_is_worked_out_here_comes_from_no_source(source: Source, read_once: Read, tmp_path: Path) -> None:
    assert DERIVED
    for name in DERIVED:
        body = _telling(source, name)
        assert name.encode() in body
        if source.name == "canonical csv":  # here the name would be understood
            with pytest.raises(DataError, match=f"{name}: {WORKED_OUT}"):
                source.read(body, tmp_path)
            continue
        found = source.read(body, tmp_path)
        assert set(found.values) == set(read_once(source).values) <= set(READABLE)
        np.testing.assert_array_equal(at(found, "rain_mm"), at(read_once(source), "rain_mm"))


@pytest.mark.parametrize("name", DERIVED)
def test_no_mapping_brings_in_what_is_worked_out_here(name: str) -> None:
    columns = {name: {"column": "Sun", "unit": "deg"}}
    with pytest.raises(ValidationError, match=WORKED_OUT):
        Mapping.model_validate({**told.MAPPING, "columns": columns})


@every_source
def test_stamps_are_hours_each_later_than_the_one_before(source: Source, read_once: Read) -> None:
    found = read_once(source)
    assert found.hours.dtype == np.dtype("datetime64[h]")
    steps = np.diff(found.hours)
    assert (steps >= np.timedelta64(1, "h")).all()
    if isinstance(found, IssuedForecast):
        assert (steps == np.timedelta64(1, "h")).all()


@every_source
def test_units_are_the_houses_own(source: Source, read_once: Read) -> None:
    found = read_once(source)
    # 1e-9: rounding of binary fractions on the way through °F, inches, mph or km/h.
    np.testing.assert_allclose(at(found, "air_temperature_c")[:3], [19, 20, 21], rtol=0, atol=1e-9)
    np.testing.assert_allclose(at(found, "wind_speed_10m_m_s"), [5, 5, 5, 5], rtol=0, atol=1e-9)
    assert at(found, "relative_humidity_pct")[1] == 90


@every_source
def test_rain_stands_at_the_end_of_the_hour_it_fell_in(source: Source, read_once: Read) -> None:
    # It fell between 12:00 and 13:00, and nothing in the hours around: a label on the wrong side shows here.
    np.testing.assert_allclose(at(read_once(source), "rain_mm"), [0, 0, 2.5, 0], rtol=0, atol=1e-9)


@every_source
def test_what_is_not_told_stays_unknown(source: Source, read_once: Read) -> None:
    found = read_once(source)
    np.testing.assert_array_equal(np.isnan(at(found, "air_temperature_c")), [False, False, False, True])
    assert not np.isnan(at(found, "relative_humidity_pct")).any()


@every_source
def test_every_figure_lies_within_its_bounds(source: Source, read_once: Read) -> None:
    for name, array in read_once(source).values.items():
        known = array[~np.isnan(array)]
        assert ((known >= QUANTITIES[name].least) & (known <= QUANTITIES[name].most)).all(), name


@every_source
def test_who_stands_behind_every_value_is_named_with_a_grade(source: Source, read_once: Read) -> None:
    found = read_once(source)
    assert providers(found)
    for provider in providers(found):
        assert provider.key == provider.key.strip() != ""
        assert provider.name
        assert provider.grade is source.grade
    if isinstance(found, ImportedHours):
        assert set(found.provider) == set(found.values)
        for name, index in found.provider.items():
            assert index.dtype == np.uint8
            assert index.shape == found.values[name].shape
            assert index.max() < len(found.providers)


@every_source
def test_a_licence_that_asks_for_credit_gets_it(source: Source, read_once: Read) -> None:
    for provider in providers(read_once(source)):
        assert bool(provider.attribution and provider.licence and provider.link) == source.credit


@every_source
def test_a_forecast_is_never_an_observation(source: Source, read_once: Read) -> None:
    found = read_once(source)
    if isinstance(found, IssuedForecast):
        assert found.provider.grade is not Grade.OBSERVED
        assert set(found.step_hours) == set(found.values)
        for name, steps in found.step_hours.items():
            np.testing.assert_array_equal(steps == 0, np.isnan(found.values[name]))
    else:
        assert source.grade is not Grade.MODEL


@every_source
def test_where_it_came_from_is_told_without_a_key(source: Source, read_once: Read) -> None:
    found = read_once(source)
    assert found.source
    assert "secret" not in found.source
    assert not any("secret" in notice.text for notice in found.notices)


@every_source
def test_the_height_of_the_wind_is_stated(source: Source) -> None:
    # In words beside the reader, since the vocabulary has no wind at another height; of a file its owner says it.
    assert source.module is csv_file or "10 m" in (source.module.__doc__ or "")


@every_source
def test_the_same_reply_is_read_the_same_twice(source: Source, read_once: Read, tmp_path: Path) -> None:
    before = bytes(source.body)
    first, again = read_once(source), source.read(source.body, tmp_path)
    assert source.body == before
    np.testing.assert_array_equal(first.hours, again.hours)
    for name, array in first.values.items():
        np.testing.assert_array_equal(array, again.values[name])


def test_the_catalogue_holds_every_kind_of_quantity() -> None:
    # So that states, amounts, means and highest values have all gone through some reader's tables.
    names = {*hour_columns.NAMES.values(), *grid_intervals.LAYERS.values(), *ghcnh.NAMES.values()}
    assert {QUANTITIES[name].kind for name in names} == set(Kind)
