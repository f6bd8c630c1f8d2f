"""What the archive's forecasts have been worth at a place, as it could be known at a moment.

All weather is invented: a smooth year with a smooth day and a little noise.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

import numpy as np
import pytest
from emulated_forecasts import assert_same
from known_workspace import (
    HUMIDITY,
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

from forecast.air import complete_humidity
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.forecast_skill import skill_of
from forecast.desk.hours import known_hours
from forecast.ingest.imported import Grade, IssuedForecast, Provider
from forecast.ingest.keep.archive import archive_all
from forecast.ingest.typical_year import HOURS
from forecast.outlook.lead_skill import ASSUMED, LEAD_DAYS, LeadSkill
from forecast.outlook.library import library
from forecast.physics.humidity import dew_point_of_humid_air_c

PROVIDER = Provider("invented_model", "an invented weather model", Grade.MODEL)
OTHER = Provider("invented_second", "a second invented weather model", Grade.MODEL)
ONE = {"near": (NORTH, WEST)}
AHEAD = 24 * LEAD_DAYS
MOMENT = "2050-07-18T10:20"
ALL = run("2049-01-01T00", 24 * 640)  # to October 2050
TRUTH = {**weather(ALL), RAIN: np.repeat(np.where(np.random.default_rng(2).random(640) < 0.3, 0.2, 0.0), 24)}


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def issue(
    issued: str,
    *,
    fetched: str | None = None,
    provider: Provider = PROVIDER,
    off: Mapping[str, float] | None = None,
    stated: bool = True,
) -> tuple[IssuedForecast, datetime]:
    """A forecast that knows what comes, off by a figure; it begins six hours before its issue with nonsense."""
    moment = np.datetime64(issued, "m")
    first = int((moment.astype("datetime64[h]") - ALL[0]).astype(int)) - 5
    hours = ALL[first : first + AHEAD + 6]
    values = {name: array[first : first + AHEAD + 6] + (off or {}).get(name, 0.0) for name, array in TRUTH.items()}
    values[TEMPERATURE][:6] = 60.0
    steps = {name: np.ones(len(hours), np.uint8) for name in values}
    given = IssuedForecast(hours, values, steps, provider, moment if stated else None, "the invented address", ())
    return given, utc(fetched or issued)


def keep(database: Database, *issued: tuple[IssuedForecast, datetime], station: str = "near") -> None:
    assert None not in archive_all(database, station, issued)


def keep_daily(
    database: Database,
    first: str,
    days: int,
    *,
    provider: Provider = PROVIDER,
    station: str = "near",
    off: Mapping[str, float] | None = None,
    stated: bool = True,
) -> None:
    moments = np.datetime64(first, "m") + np.arange(days) * np.timedelta64(24 * 60, "m")
    keep(database, *(issue(str(one), provider=provider, off=off, stated=stated) for one in moments), station=station)


def record_all(database: Database, station: str = "near") -> None:
    record(database, station, ALL, TRUTH)


def told(
    database: Database, moment: str = MOMENT, *, settings: Settings | None = None, place_id: str | None = None
) -> LeadSkill:
    settings = workspace(ONE) if settings is None else settings
    known_by = np.datetime64(moment, "m")
    hours = known_hours(settings, database, known_by)
    assert hours is not None
    place_id = next(iter(settings.places)) if place_id is None else place_id
    stock = library(complete_humidity(hours.panel.only(hours.panel.series.index(place_id))))
    return skill_of(settings, database, hours, place_id, stock, PROVIDER.key, known_by)


def test_a_forecast_that_was_always_right_is_learned_to_be_by_the_days_that_have_come(database: Database) -> None:
    record_all(database)
    keep_daily(database, "2050-06-19T04:40", 30)  # to the morning of 18 July
    found = told(database)
    # At 10:20 on 18 July hours up to 10:00 are in. Of lead 1, from 05:00 to 04:00, 29 forecasts have come, of each day
    # further one less; the sixth hour of the next one is less than half a day and does not count.
    days = 29.0 - np.arange(LEAD_DAYS)
    perfect = ASSUMED.correlation + days / (days + 60) * (1 - ASSUMED.correlation)
    np.testing.assert_allclose(found.correlation, perfect, atol=1e-6)
    np.testing.assert_allclose(found.slope, perfect, atol=1e-6)
    rain = ASSUMED.shares[RAIN] + days / (days + 60) * (1 - ASSUMED.shares[RAIN])
    np.testing.assert_allclose(found.shares[RAIN], rain, atol=1e-6)
    for name in ASSUMED.shares.keys() - {RAIN}:
        np.testing.assert_array_equal(found.shares[name], ASSUMED.shares[name])
    for bias in found.bias.values():
        np.testing.assert_allclose(bias, np.zeros(24), atol=1e-9)
    assert found.issued_days == 29


def test_half_a_day_come_counts(database: Database) -> None:
    record_all(database)
    keep_daily(database, "2050-06-19T04:40", 30)
    assert [told(database, f"2050-07-18T{hour}:00").issued_days for hour in ("15", "16")] == [29, 30]  # 11 h and 12 h


def test_a_warm_and_dry_source_is_known_as_one(database: Database) -> None:
    record_all(database)
    keep_daily(database, "2050-06-19T04:40", 30, off={TEMPERATURE: 1.3, HUMIDITY: -6.0})
    found = told(database)
    assert (found.bias[TEMPERATURE] > 0).all()
    # 1.3 °C more lifts the dew point, 6 % less lowers it: the more, the drier the hour.
    rows = slice(*np.searchsorted(ALL, [np.datetime64("2050-06-19T05", "h"), np.datetime64("2050-07-18T05", "h")]))
    temperature, humidity = TRUTH[TEMPERATURE][rows], TRUTH[HUMIDITY][rows]
    apart = dew_point_of_humid_air_c(temperature + 1.3, humidity - 6) - dew_point_of_humid_air_c(temperature, humidity)
    by_clock = np.roll(apart.reshape(-1, 24).mean(axis=0), 5)  # the first stamp is 05:00
    sure = np.abs(by_clock) > 0.1
    assert 12 <= np.count_nonzero(sure) < 24
    np.testing.assert_array_equal(np.sign(found.bias["dew_point_c"][sure]), np.sign(by_clock[sure]))
    assert {-1, 1} == set(np.sign(by_clock[sure]))


# As it was known


def changes(database: Database) -> dict[str, LeadSkill]:
    return {moment: told(database, moment) for moment in (MOMENT, "2050-07-01T12:00")}


def test_a_forecast_fetched_after_the_moment_changes_nothing(database: Database) -> None:
    record_all(database)
    keep_daily(database, "2050-06-10T04:40", 30)
    before = changes(database)
    for issued in ("2050-07-12T04:40", "2050-06-20T22:40", "2050-07-18T10:10"):  # issued before, fetched after
        keep(database, issue(issued, fetched="2050-07-18T10:21", off={TEMPERATURE: 9.0}))
    keep_daily(database, "2050-07-19T04:40", 5, off={TEMPERATURE: 9.0})
    after = changes(database)
    for moment, skill in before.items():
        assert_same(after[moment], skill)
    assert (
        told(database, "2050-07-18T10:21").issued_days == before[MOMENT].issued_days + 1
    )  # of 12 July; that of 20 June
    assert told(database, "2050-07-18T10:21").bias[TEMPERATURE].max() > 1.0  # takes the place of one that was right


def test_an_hour_that_came_after_the_moment_changes_nothing(database: Database) -> None:
    known = run("2049-01-01T00", int((np.datetime64("2050-07-18T10", "h") - ALL[0]).astype(int)) + 1)
    hole = (known >= np.datetime64("2050-07-10T00", "h")) & (known < np.datetime64("2050-07-12T00", "h"))
    wrong = {name: array[: len(known)] + (0.0 if name == RAIN else 4.0) for name, array in TRUTH.items()}
    record(database, "near", known[~hole], {name: array[: len(known)][~hole] for name, array in TRUTH.items()})
    keep_daily(database, "2050-06-10T04:40", 38)
    before = changes(database)
    # Two days whose readings arrive a week late, and days that had not been yet.
    record(database, "near", known[hole], {name: array[hole] for name, array in wrong.items()}, lag_minutes=9 * 24 * 60)
    later = slice(len(known), len(known) + 480)
    record(
        database,
        "near",
        ALL[later],
        {name: array[later] + (0.0 if name == RAIN else 4.0) for name, array in TRUTH.items()},
    )
    after = changes(database)
    for moment, skill in before.items():
        assert_same(after[moment], skill)
    with pytest.raises(AssertionError):
        assert_same(told(database, "2050-07-23T10:20"), before[MOMENT])


def test_hours_taken_out_for_a_later_moment_are_cut_at_the_moment(database: Database) -> None:
    record_all(database)
    keep_daily(database, "2050-06-19T04:40", 30)
    settings, known_by = workspace(ONE), np.datetime64(MOMENT, "m")
    now, then = (known_hours(settings, database, moment) for moment in (None, known_by))
    assert now is not None
    assert then is not None
    stock = library(complete_humidity(then.panel))
    place_id = next(iter(settings.places))
    one, other = (skill_of(settings, database, hours, place_id, stock, PROVIDER.key, known_by) for hours in (now, then))
    assert_same(one, other)


def test_a_typical_year_is_nothing_that_came(database: Database) -> None:
    record(database, "near", ALL[24 * 365 :], {name: array[24 * 365 :] for name, array in TRUTH.items()})
    year = typical({TEMPERATURE: np.full(HOURS, 11.0), HUMIDITY: np.full(HOURS, 80.0)})
    give_typical_year(database, "near", year, utc("2050-01-02T00:00"))
    keep_daily(database, "2049-03-01T04:40", 60)
    found = told(database)
    np.testing.assert_array_equal(found.correlation, ASSUMED.correlation)
    assert found.issued_days == 0
    hours = known_hours(workspace(ONE), database, np.datetime64(MOMENT, "m"))
    assert hours is not None
    assert hours.typical
    assert hours.panel.hours[0] < np.datetime64("2049-03-01T00", "h")  # it was there to be taken for weather


# Which forecasts


def test_of_fetches_all_through_the_day_the_last_counts(database: Database) -> None:
    record_all(database)
    keep_daily(database, "2050-07-01T23:40", 16)
    once = told(database)
    for hour in (0, 9, 22):
        keep_daily(database, f"2050-07-01T{hour:02d}:40", 16, off={TEMPERATURE: 1.0 + hour}, stated=False)
    assert once.issued_days == 16
    assert_same(told(database), once)


def test_only_forecasts_of_the_provider_for_the_station_count(database: Database) -> None:
    stations = {"near": (NORTH, WEST), "far": (NORTH + 0.3, WEST)}
    settings = workspace(stations)
    for station in stations:
        record_all(database, station)
    keep_daily(database, "2050-06-19T04:40", 20)
    before = told(database, settings=settings)
    keep_daily(database, "2050-06-19T05:40", 29, provider=OTHER, off={TEMPERATURE: 9.0})
    keep_daily(database, "2050-06-19T05:40", 29, station="far", off={TEMPERATURE: 9.0})
    assert_same(told(database, settings=settings), before)
    assert before.issued_days == 20


def test_a_place_of_its_own_has_the_forecasts_of_the_nearest_station(database: Database) -> None:
    stations = {"near": (NORTH, WEST), "far": (NORTH + 0.3, WEST)}
    settings = workspace(stations, fields=[(NORTH + 0.28, WEST)])
    for station in stations:
        record_all(database, station)
    keep_daily(database, "2050-06-19T04:40", 20)
    (place_id,) = settings.places.keys()
    assert told(database, settings=settings, place_id=place_id) is ASSUMED
    keep_daily(database, "2050-06-19T04:40", 12, station="far")
    assert told(database, settings=settings, place_id=place_id).issued_days == 12


def test_each_place_is_told_by_its_own_weather(database: Database) -> None:
    stations = {"near": (NORTH, WEST), "far": (NORTH + 3, WEST)}
    settings = workspace(stations, fields=[(NORTH, WEST + 0.01), (NORTH + 3, WEST + 0.01)])
    record_all(database)
    warmer = {**TRUTH, TEMPERATURE: TRUTH[TEMPERATURE] + 4}
    record(database, "far", ALL, warmer)
    for station in stations:
        keep_daily(database, "2050-06-19T04:40", 12, station=station)  # right at one, 4 °C too cold at the other
    near, far = (told(database, settings=settings, place_id=place_id) for place_id in settings.places)
    np.testing.assert_allclose(near.bias[TEMPERATURE], np.zeros(24), atol=1e-6)
    assert far.bias[TEMPERATURE].max() < -1.0


def test_without_an_archive_the_table_stands(database: Database) -> None:
    record_all(database)
    assert told(database) is ASSUMED


def test_forecasts_older_than_the_record_and_those_of_today_teach_nothing(database: Database) -> None:
    record(database, "near", ALL[-24 * 300 :], {name: array[-24 * 300 :] for name, array in TRUTH.items()})
    keep_daily(database, "2049-06-01T04:40", 20)
    keep(database, issue("2050-07-18T10:10"))
    found = told(database)
    np.testing.assert_array_equal(found.correlation, ASSUMED.correlation)
    assert found.issued_days == 0


def test_a_record_without_temperature_teaches_nothing(database: Database) -> None:
    record_all(database)
    record(database, "dry", ALL, {RAIN: TRUTH[RAIN]})
    keep_daily(database, "2050-06-19T04:40", 20)
    settings = workspace(ONE)
    full = known_hours(settings, database, np.datetime64(MOMENT, "m"))
    hours = known_hours(workspace({"dry": (NORTH, WEST)}), database, np.datetime64(MOMENT, "m"))
    assert full is not None
    assert hours is not None
    stock = library(complete_humidity(full.panel))
    place_id = next(iter(settings.places))
    assert skill_of(settings, database, hours, place_id, stock, PROVIDER.key, np.datetime64(MOMENT, "m")) is ASSUMED
