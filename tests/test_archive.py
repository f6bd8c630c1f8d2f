"""The archive of issued forecasts: kept once, never rewritten, known from the moment of its fetch, never observed."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
import sqlalchemy as sa

from forecast.database import Database
from forecast.errors import DataError
from forecast.ingest.imported import Grade, IssuedForecast, Provider
from forecast.ingest.keep.archive import archive, archived, daily_issues, issues
from forecast.ingest.keep.store import read_hours
from forecast.tables import ISSUED

OTHER = Provider("invented_second", "a second invented weather model", Grade.MODEL)
PROVIDER = Provider("invented_model", "an invented weather model", Grade.MODEL, "the invented office", "CC BY 4.0")
RAIN, TEMPERATURE = "rain_mm", "air_temperature_c"


def issue(
    first: str, temperature: list[float], issued: str | None = "2050-07-18T04:40", provider: Provider = PROVIDER
) -> IssuedForecast:
    count = len(temperature)
    return IssuedForecast(
        np.datetime64(first, "h") + np.arange(count).astype("timedelta64[h]"),
        {TEMPERATURE: np.array(temperature), RAIN: np.full(count, 0.1 + 0.2)},
        {TEMPERATURE: np.ones(count, np.uint8), RAIN: np.full(count, 6, np.uint8)},
        provider,
        None if issued is None else np.datetime64(issued, "m"),
        "the invented address",
        (),
    )


def at(hour: int, minute: int = 0) -> datetime:
    return datetime(2050, 7, 18, hour, minute, 30, tzinfo=UTC)


def minute(clock: str) -> np.datetime64:
    return np.datetime64(f"2050-07-18T{clock}", "m")


def test_an_issue_comes_back_as_it_was_issued(database: Database) -> None:
    given = issue("2050-07-18T05", [20.0, np.nan, float(np.nextafter(21, 22))])
    number = archive(database, "field", given, at(5))
    (kept,) = issues(database, ["field"])
    assert kept.number == number
    np.testing.assert_array_equal(kept.forecast.hours, given.hours)
    for name in (TEMPERATURE, RAIN):
        np.testing.assert_array_equal(kept.forecast.values[name], given.values[name])
        np.testing.assert_array_equal(kept.forecast.step_hours[name], given.step_hours[name])
    assert kept.forecast.provider == PROVIDER
    assert kept.forecast.issued_utc == np.datetime64("2050-07-18T04:40")
    assert kept.issued_stated


def test_the_same_issue_fetched_again_is_kept_once(database: Database) -> None:
    assert archive(database, "field", issue("2050-07-18T05", [20.0]), at(5)) is not None
    assert archive(database, "field", issue("2050-07-18T05", [20.0]), at(6)) is None
    (kept,) = issues(database, ["field"])
    assert kept.fetched_utc == minute("05:00")


def test_the_same_figures_issued_later_are_another_issue(database: Database) -> None:
    archive(database, "field", issue("2050-07-18T05", [20.0]), at(5))
    archive(database, "field", issue("2050-07-18T05", [20.0], "2050-07-18T10:40"), at(11))
    assert [str(kept.issued_utc) for kept in issues(database, ["field"])] == [
        "2050-07-18T04:40:00",
        "2050-07-18T10:40:00",
    ]


def test_an_issue_that_changed_under_the_same_moment_stands_beside_the_first(database: Database) -> None:
    archive(database, "field", issue("2050-07-18T05", [20.0]), at(5))
    archive(database, "field", issue("2050-07-18T05", [24.0]), at(6))
    assert [kept.forecast.values[TEMPERATURE][0] for kept in issues(database, ["field"])] == [20, 24]


def test_without_a_stated_moment_the_fetch_s_stands_for_it_and_says_so(database: Database) -> None:
    archive(database, "field", issue("2050-07-18T05", [20.0], None), at(5, 10))
    assert archive(database, "field", issue("2050-07-18T05", [20.0], None), at(9)) is None  # unchanged since
    (kept,) = issues(database, ["field"])
    assert kept.issued_utc == minute("05:10")
    assert not kept.issued_stated
    assert kept.forecast.issued_utc is None


def test_a_replay_knows_only_what_had_been_fetched(database: Database) -> None:
    archive(database, "field", issue("2050-07-18T05", [20.0]), at(5, 10))  # issued 04:40
    archive(database, "field", issue("2050-07-18T11", [22.0], "2050-07-18T10:40"), at(11, 5))
    assert issues(database, ["field"], minute("05:09")) == ()
    assert len(issues(database, ["field"], minute("05:10"))) == 1
    assert len(issues(database, ["field"], minute("11:04"))) == 1
    (newest,) = issues(database, ["field"], minute("11:05"), last_only=True)
    assert newest.forecast.values[TEMPERATURE].tolist() == [22]


def test_the_newest_issue_a_station_is_the_last_issued_not_the_last_fetched(database: Database) -> None:
    archive(database, "field", issue("2050-07-18T11", [22.0], "2050-07-18T10:40"), at(11))
    archive(database, "field", issue("2050-07-18T05", [20.0]), at(12))  # an older one, fetched from a file later
    archive(database, "other", issue("2050-07-18T05", [30.0]), at(12))
    newest = issues(database, ["field", "other"], last_only=True)
    assert {kept.station_id: kept.forecast.values[TEMPERATURE][0] for kept in newest} == {"field": 22, "other": 30}


def test_only_the_stations_asked_about_are_told(database: Database) -> None:
    for number, station in enumerate(("north", "east", "south")):
        archive(database, station, issue("2050-07-18T05", [20.0 + number]), at(5))
    told = issues(database, ["south", "north"])
    assert {kept.station_id: kept.forecast.values[TEMPERATURE][0] for kept in told} == {"north": 20, "south": 22}
    assert issues(database, []) == ()
    assert issues(database, ["west"], last_only=True) == ()


def test_the_newest_is_told_of_each_provider_for_each_station(database: Database) -> None:
    for station in ("field", "other"):
        for number, provider in enumerate((PROVIDER, OTHER)):
            for hour in (4, 10):
                figure = hour + 20.0 * number + (100 if station == "other" else 0)
                moment = f"2050-07-18T{hour:02d}:40"
                archive(database, station, issue("2050-07-18T11", [figure], moment, provider), at(hour + 1))
    newest = issues(database, ["field", "other"], last_only=True)
    assert {(kept.station_id, kept.forecast.provider): kept.forecast.values[TEMPERATURE][0] for kept in newest} == {
        ("field", PROVIDER): 10,
        ("field", OTHER): 30,
        ("other", PROVIDER): 110,
        ("other", OTHER): 130,
    }
    before = issues(database, ["field"], minute("10:59"), last_only=True)
    assert {kept.forecast.provider: kept.forecast.values[TEMPERATURE][0] for kept in before} == {PROVIDER: 4, OTHER: 24}


def test_the_same_figures_of_another_provider_or_for_another_place_are_another_issue(database: Database) -> None:
    for issued in ("2050-07-18T04:40", None):
        given = issue("2050-07-18T05", [20.0], issued)
        assert archive(database, "field", given, at(5)) is not None
        assert archive(database, "other", given, at(5)) is not None
        assert archive(database, "field", replace(given, provider=OTHER), at(5)) is not None


def test_what_changed_and_changed_back_without_a_stated_moment_is_three_records(database: Database) -> None:
    # A page of the second moment rests on 24 °C, one of the third on 20 °C again; each is known from its fetch on.
    for hour, figure in ((5, 20.0), (7, 24.0), (9, 20.0)):
        assert archive(database, "field", issue("2050-07-18T12", [figure], None), at(hour)) is not None
    assert [kept.forecast.values[TEMPERATURE][0] for kept in issues(database, ["field"])] == [20, 24, 20]
    (before,) = issues(database, ["field"], minute("08:59"), last_only=True)
    assert before.forecast.values[TEMPERATURE][0] == 24
    (after,) = issues(database, ["field"], minute("09:00"), last_only=True)
    assert after.forecast.values[TEMPERATURE][0] == 20
    assert after.fetched_utc == minute("09:00")


def test_an_issue_with_its_moment_is_kept_once_however_many_came_between(database: Database) -> None:
    old = issue("2050-07-18T05", [20.0])
    assert archive(database, "field", old, at(5)) is not None
    for hour in (10, 16):
        newer = issue("2050-07-18T17", [float(hour)], f"2050-07-18T{hour}:40")
        assert archive(database, "field", newer, at(hour + 1)) is not None
    assert archive(database, "field", old, at(18)) is None
    assert len(issues(database, ["field"])) == 3


def told_by_day(database: Database, known_by: str | None = None, days: int = 9, **other: str) -> list[float]:
    """The first temperature of each day's last issue."""
    moment = None if known_by is None else np.datetime64(known_by, "m")
    asked = {"station_id": "field", "provider_key": PROVIDER.key} | other
    return [
        float(kept.forecast.values[TEMPERATURE][0])
        for kept in daily_issues(database, **asked, known_by=moment, days=days)
    ]


def hourly(database: Database, days: range, hours: tuple[int, ...] = (0, 4, 23), *, stated: bool = True) -> None:
    """Issues of some days of July at some hours, known ten minutes later; day and hour are their temperature."""
    for day in days:
        for hour in hours:
            moment = f"2050-07-{day:02d}T{hour:02d}:40"
            given = issue("2050-07-18T05", [day + hour / 100], moment if stated else None)
            fetched = datetime(2050, 7, day, hour, 50, tzinfo=UTC)
            assert archive(database, "field", given, fetched) is not None


@pytest.mark.parametrize("stated", [True, False])
def test_the_last_issue_of_each_day_of_utc_is_told_in_order(database: Database, stated: bool) -> None:
    hourly(database, range(16, 19), stated=stated)
    assert told_by_day(database) == [16.23, 17.23, 18.23]
    assert told_by_day(database, "2050-07-18T04:49") == [16.23, 17.23, 18.0]  # the next is fetched a minute later
    assert told_by_day(database, "2050-07-18T04:50") == [16.23, 17.23, 18.04]
    assert told_by_day(database, "2050-07-16T00:49") == []


def test_of_the_days_with_an_issue_the_newest_are_told(database: Database) -> None:
    hourly(database, range(3, 6))
    hourly(database, range(16, 19))
    assert told_by_day(database, days=4) == [5.23, 16.23, 17.23, 18.23]
    assert told_by_day(database, "2050-07-17T12:00", days=2) == [16.23, 17.04]


def test_a_day_s_last_issue_is_the_last_issued_not_the_last_fetched(database: Database) -> None:
    archive(database, "field", issue("2050-07-18T11", [22.0], "2050-07-18T10:40"), at(11))
    archive(database, "field", issue("2050-07-18T05", [20.0]), at(12))
    assert told_by_day(database) == [22]
    archive(database, "field", issue("2050-07-18T11", [23.0], "2050-07-18T10:40"), at(13))  # changed under its moment
    assert told_by_day(database) == [23]


def test_a_day_is_told_of_one_provider_for_one_station(database: Database) -> None:
    archive(database, "field", issue("2050-07-18T05", [20.0]), at(5))
    archive(database, "field", issue("2050-07-18T05", [21.0], "2050-07-18T05:40", OTHER), at(6))
    archive(database, "other", issue("2050-07-18T05", [22.0], "2050-07-18T06:40"), at(7))
    assert told_by_day(database) == [20]
    assert told_by_day(database, provider_key=OTHER.key) == [21]
    assert told_by_day(database, station_id="other") == [22]
    assert told_by_day(database, station_id="west") == told_by_day(database, provider_key="nobody") == []


def test_what_is_not_a_day_s_last_is_not_unpacked(database: Database) -> None:
    hourly(database, range(16, 19))
    with database.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER weather_issued_no_update")
        others = ~ISSUED.c.issued_utc.like("%T23:40:00Z")
        connection.execute(sa.update(ISSUED).where(others).values(block=b"torn"))
    assert told_by_day(database) == [16.23, 17.23, 18.23]
    with pytest.raises(DataError, match="damaged"):
        told_by_day(database, "2050-07-18T12:00")


def test_issues_are_no_observations(database: Database) -> None:
    archive(database, "field", issue("2050-07-18T05", [20.0]), at(5))
    assert read_hours(database, ["field"]) is None


@pytest.mark.parametrize(
    "change",
    [
        sa.update(ISSUED).values(source="another"),
        sa.delete(ISSUED),
        sa.text("INSERT OR REPLACE INTO weather_issued SELECT * FROM weather_issued"),
    ],
    ids=["update", "delete", "replace"],
)
def test_what_was_issued_cannot_be_rewritten(database: Database, change: sa.Executable) -> None:
    archive(database, "field", issue("2050-07-18T05", [20.0]), at(5))
    with pytest.raises(sa.exc.IntegrityError, match="append-only"), database.writing() as connection:
        connection.execute(change)
    assert len(issues(database, ["field"])) == 1


def test_a_damaged_issue_is_told(database: Database) -> None:
    archive(database, "field", issue("2050-07-18T05", [20.0]), at(5))
    with database.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER weather_issued_no_update")
        connection.execute(sa.update(ISSUED).values(block=b"torn"))
    with pytest.raises(DataError, match="damaged"):
        issues(database, ["field"])


def test_the_archive_is_counted_without_being_unpacked(database: Database) -> None:
    for day, hour, provider in ((1, 3, PROVIDER), (1, 15, PROVIDER), (2, 3, PROVIDER), (2, 3, OTHER)):
        given = issue(f"2050-07-0{day}T{hour + 1:02d}", [20.0], f"2050-07-0{day}T{hour:02d}:00", provider)
        assert archive(database, "here", given, datetime(2050, 7, day, hour + 1, tzinfo=UTC)) is not None
    found = {one.provider.key: one for one in archived(database, ["here", "there"])}
    assert set(found) == {PROVIDER.key, OTHER.key}
    mine = found[PROVIDER.key]
    assert (mine.station_id, mine.issues, mine.days) == ("here", 3, 2)
    assert (mine.first_issued_utc, mine.last_issued_utc) == ("2050-07-01T03:00:00Z", "2050-07-02T03:00:00Z")
    assert mine.last_fetched_utc == "2050-07-02T04:00:00Z"
    assert archived(database, ["there"]) == ()
