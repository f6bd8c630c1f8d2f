"""Withdrawals: written down with a reason, given back by another record, and known from that moment on."""

from datetime import UTC, datetime

import numpy as np
import pytest
import sqlalchemy as sa

from forecast.database import Database
from forecast.errors import DataError
from forecast.ingest.keep.withdrawals import give_back, withdraw, withdrawals
from forecast.tables import WITHDRAWALS

HUMIDITY = "relative_humidity_pct"
MAY, JUNE = np.datetime64("2050-05-01T00", "h"), np.datetime64("2050-06-01T00", "h")


def at(day: int) -> datetime:
    return datetime(2050, 7, day, 6, 0, tzinfo=UTC)


def take_out(database: Database, last: np.datetime64 | None = JUNE, day: int = 1) -> int:
    return withdraw(
        database, "field", HUMIDITY, MAY, last, reason=" never above 88 % ", by_whom="R. Quill", now=at(day)
    )


def test_a_withdrawal_comes_back_as_written(database: Database) -> None:
    number = take_out(database)
    (kept,) = withdrawals(database, ["field"])
    assert (kept.number, kept.station_id, kept.quantity, kept.first_hour, kept.last_hour) == (
        number,
        "field",
        HUMIDITY,
        MAY,
        JUNE,
    )
    assert (kept.reason, kept.by_whom, kept.recorded_utc) == ("never above 88 %", "R. Quill", "2050-07-01T06:00:00Z")
    assert kept.given_back_utc is None


def test_what_is_worked_out_here_is_not_offered(database: Database) -> None:
    for quantity, words in (
        ("sun_elevation_deg", "works it out itself and never reads it"),
        ("sun", "no quantity 'sun'"),
    ):
        with pytest.raises(DataError, match=words) as caught:
            withdraw(database, "field", quantity, MAY, JUNE, reason="why", by_whom="R. Quill", now=at(1))
        assert "snow_depth_mm" in caught.value.hint
        assert "sun_elevation_deg" not in caught.value.hint
    assert withdrawals(database, ["field"]) == ()


def test_it_may_have_no_end(database: Database) -> None:
    take_out(database, None)
    assert withdrawals(database, ["field"])[0].last_hour is None


def test_it_may_be_of_one_hour(database: Database) -> None:
    withdraw(database, "field", HUMIDITY, MAY, MAY, reason="a hand on the sensor", by_whom="R. Quill", now=at(1))
    (kept,) = withdrawals(database, ["field"])
    assert kept.first_hour == kept.last_hour == MAY


def test_it_is_known_from_the_moment_it_was_written_down(database: Database) -> None:
    take_out(database, day=2)
    assert withdrawals(database, ["field"], "2050-07-02T05:59:59Z") == ()
    assert len(withdrawals(database, ["field"], "2050-07-02T06:00:00Z")) == 1


def test_giving_back_leaves_the_past_as_it_was(database: Database) -> None:
    number = take_out(database, day=1)
    give_back(database, number, reason="the sensor was fine", by_whom="R. Quill", now=at(5))
    (now,) = withdrawals(database, ["field"])
    assert (now.given_back_utc, now.given_back_reason) == ("2050-07-05T06:00:00Z", "the sensor was fine")
    (before,) = withdrawals(database, ["field"], "2050-07-05T05:59:00Z")
    assert before.given_back_utc is None


def test_it_is_given_back_once_and_only_if_it_is_there(database: Database) -> None:
    number = take_out(database)
    back = give_back(database, number, reason="fine", by_whom="", now=at(2))
    for wrong in (number, back, 99):
        with pytest.raises(DataError):
            give_back(database, wrong, reason="again", by_whom="", now=at(3))
    assert len(withdrawals(database, ["field"])) == 1


@pytest.mark.parametrize("reason", ["", " \n "])
def test_giving_back_needs_a_reason(database: Database, reason: str) -> None:
    number = take_out(database)
    with pytest.raises(DataError, match="reason"):
        give_back(database, number, reason=reason, by_whom="R. Quill", now=at(2))
    assert withdrawals(database, ["field"])[0].given_back_utc is None


def test_every_record_has_its_own_number_whoever_wrote_it(database: Database) -> None:
    first, second = take_out(database, day=1), take_out(database, day=2)
    back = give_back(database, first, reason=" fine ", by_whom="A. Reach", now=at(3))
    with database.reading() as connection:
        row = connection.execute(sa.select(WITHDRAWALS).where(WITHDRAWALS.c.record_id == back)).one()
    assert (row.gives_back, row.reason, row.by_whom) == (first, "fine", "A. Reach")
    assert len({first, second, back}) == 3
    assert [kept.given_back_utc for kept in withdrawals(database, ["field"])] == ["2050-07-03T06:00:00Z", None]


def test_they_are_told_in_the_order_in_which_they_were_written_down(database: Database) -> None:
    hours = [JUNE, MAY, JUNE - np.timedelta64(5, "h")]
    for hour, quantity in zip(hours, ("rain_mm", "air_temperature_c", HUMIDITY), strict=True):
        withdraw(database, "field", quantity, hour, None, reason="found", by_whom="R. Quill", now=at(1))
    withdraw(database, "a-field", HUMIDITY, MAY, None, reason="found", by_whom="R. Quill", now=at(1))
    told = withdrawals(database, ["a-field", "field"])
    assert [kept.first_hour for kept in told] == [*hours, MAY]
    assert [kept.number for kept in told] == sorted(kept.number for kept in told)


@pytest.mark.parametrize(
    ("quantity", "last", "reason"),
    [("humidity", JUNE, "because"), (HUMIDITY, MAY - np.timedelta64(1, "h"), "because"), (HUMIDITY, JUNE, "  ")],
    ids=["no such quantity", "ends before it begins", "no reason"],
)
def test_what_cannot_be_right_is_refused(database: Database, quantity: str, last: np.datetime64, reason: str) -> None:
    with pytest.raises(DataError):
        withdraw(database, "field", quantity, MAY, last, reason=reason, by_whom="", now=at(1))
    assert withdrawals(database, ["field"]) == ()


def test_other_stations_are_left_alone(database: Database) -> None:
    take_out(database)
    assert withdrawals(database, ["other"]) == ()


def test_records_cannot_be_rewritten(database: Database) -> None:
    take_out(database)
    with pytest.raises(sa.exc.IntegrityError, match="append-only"), database.writing() as connection:
        connection.execute(sa.delete(WITHDRAWALS))
