"""Records: added to, never rewritten; what stands, and what stood at an earlier moment."""

from dataclasses import replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
import sqlalchemy as sa

from forecast import records
from forecast.database import Database
from forecast.errors import DataError
from forecast.records import Details, Entry, applications, record_lab_result, rows_known, sightings, void
from forecast.schedule.label import Application, Brought, Ingredient, Label, LabelUse
from forecast.tables import APPLICATIONS, SCOUTINGS

ZONE = ZoneInfo("America/New_York")
EVER = "9999-12-31T23:59:59Z"
FESCUE = ("tall_fescue",)
NO_DETAILS = Details()
LABEL = Label(
    key="alder-one",
    name="Alder One (invented product)",
    registration_number="INVENTED-1",
    label_date=date(2049, 2, 1),
    ingredients=(Ingredient("inventol", "invented", 0.12), Ingredient("fictanil")),
    measure="mL",
    carrier_l_per_m2=0.08,
    carrier_as_printed="2 gal per 1,000 sq ft",
    most_per_year_per_m2=None,
    most_per_year_as_printed="",
    keep_off="stay off until dry",
    gear="gloves",
    uses=(
        LabelUse("brown_patch", FESCUE, "preventive", 0.5, "as printed", least_days=14, most_days=28),
        LabelUse("brown_patch", FESCUE, "established", 0.8, "as printed", least_days=15, most_days=16),
        LabelUse("dollar_spot", FESCUE, "preventive", 0.5, "as printed", least_days=18, most_days=21),
    ),
)


def utc(day: int, hour: int = 9) -> datetime:
    return datetime(2050, 7, day, hour, tzinfo=UTC)


def entry(day: int = 18, amends: int | None = None, area: str = "east-lawn") -> Entry:
    return Entry(area, datetime(2050, 7, day, 6, 30, tzinfo=ZONE), "Robin", "calm morning", amends)


def apply(
    database: Database,
    what: Entry,
    *,
    now: datetime | None = None,
    label: Label = LABEL,
    diseases: tuple[str, ...] = ("brown_patch",),
    condition: str = "preventive",
    amount: float | None = 400,  # 0.8 mL a m² on 500 m²: enough for every row of the label
    grass: str = "tall_fescue",
) -> int:
    return records.record_application(
        database,
        what,
        label,
        diseases,
        condition=condition,
        grass=grass,
        size_m2=500,
        amount=amount,
        now=now or utc(18),
    )


def look(
    database: Database,
    what: Entry,
    disease: str = "dollar_spot",
    *,
    now: datetime | None = None,
    sure: bool = True,
    details: Details = NO_DETAILS,
) -> int:
    return records.record_scouting(
        database, what, disease, sure=sure, severity_pct=3, now=now or utc(18), details=details
    )


def answered(
    database: Database,
    number: int,
    disease: str,
    *,
    look_alikes: tuple[str, ...] = (),
    on: date = date(2050, 7, 24),
    lab: str = "",
    now: datetime | None = None,
) -> int:
    """A lab's answer to a sample."""
    return record_lab_result(
        database, number, disease=disease, look_alikes=look_alikes, words="as told", on=on, lab=lab, now=now or utc(24)
    )


def numbers(database: Database, known_by: str = EVER) -> list[int]:
    return [done.record_id for done in applications(database, known_by)]


def _keys(done: Application) -> list[str]:
    return [one.key for one in done.brought]


# What is kept


def test_an_application_comes_back_as_it_was_recorded(database: Database) -> None:
    number = apply(database, entry())
    (done,) = applications(database, EVER)
    assert (done.record_id, done.area_id, done.label_key) == (number, "east-lawn", "alder-one")
    assert done.diseases == ("brown_patch",)
    # 0.8 mL a m² of a product with 0.12 g of inventol in a mL; the concentration of fictanil was not typed.
    inventol, fictanil = done.brought
    assert (inventol.key, inventol.frac_code, fictanil) == ("inventol", "invented", Brought("fictanil", None))
    assert inventol.grams_per_m2 == pytest.approx(0.096, rel=1e-12)
    assert done.amount_per_m2 == 0.8  # 400 mL over 500 m²
    assert done.day == (date(2050, 7, 18) - date(1970, 1, 1)).days


def test_a_sighting_comes_back_as_it_was_recorded(database: Database) -> None:
    number = look(database, entry())
    (seen,) = sightings(database, EVER)
    assert (seen.record_id, seen.area_id, seen.disease, seen.sure) == (number, "east-lawn", "dollar_spot", True)
    assert seen.day == (date(2050, 7, 18) - date(1970, 1, 1)).days


def test_all_that_a_scout_wrote_down_comes_back(database: Database) -> None:
    details = Details(("drought", "dog_urine"), 304.8, threads_at_dawn=True, lab="the clinic")
    look(database, entry(), details=details)
    (row,) = rows_known(database, SCOUTINGS, EVER)
    assert (row["severity_pct"], row["patch_across_mm"], row["threads_at_dawn"]) == (3, 304.8, True)
    assert (row["lab"], row["lab_result"], row["lab_result_on"]) == ("the clinic", "", None)
    (seen,) = sightings(database, EVER)
    assert (seen.look_alikes, seen.note) == (("drought", "dog_urine"), "calm morning")


def test_threads_that_nobody_looked_for_are_neither_there_nor_missing(database: Database) -> None:
    for threads in (None, False, True):
        look(database, entry(), details=Details(threads_at_dawn=threads))
    assert [row["threads_at_dawn"] for row in rows_known(database, SCOUTINGS, EVER)] == [None, False, True]


def test_a_look_alike_is_no_sighting_of_a_disease(database: Database) -> None:
    look(database, entry(), "", details=Details(("drought",)))
    (seen,) = sightings(database, EVER)
    assert (seen.disease, seen.look_alikes) == ("", ("drought",))


def test_an_amount_that_was_not_written_down_stays_unknown(database: Database) -> None:
    apply(database, entry(), amount=None)
    (done,) = applications(database, EVER)
    assert done.amount_per_m2 is None


def test_an_evening_belongs_to_its_local_day(database: Database) -> None:
    # 22:30 on the 17th by a New York clock, 4 h behind, is 02:30 on the 18th in UTC.
    apply(database, Entry("east-lawn", datetime(2050, 7, 17, 22, 30, tzinfo=ZONE)))
    (row,) = rows_known(database, APPLICATIONS, EVER)
    assert (row["happened_utc"], row["happened_on"]) == ("2050-07-18T02:30:00Z", "2050-07-17")
    (done,) = applications(database, EVER)
    assert done.day == (date(2050, 7, 17) - date(1970, 1, 1)).days


@pytest.mark.parametrize(
    ("diseases", "condition", "least", "most"),
    [
        (("brown_patch",), "preventive", 14, 28),
        (("brown_patch",), "established", 15, 16),
        (("dollar_spot",), "preventive", 18, 21),
        (("brown_patch", "dollar_spot"), "preventive", 18, 21),  # the stricter of the two rows, each way
        (("dollar_spot",), "established", None, None),  # no such row
    ],
)
def test_the_intervals_are_those_of_the_labels_row_for_its_condition(
    database: Database, diseases: tuple[str, ...], condition: str, least: int | None, most: int | None
) -> None:
    apply(database, entry(), diseases=diseases, condition=condition)
    (done,) = applications(database, EVER)
    assert (done.least_days, done.most_days) == (least, most)


def test_an_application_keeps_the_label_as_it_was_when_made(database: Database) -> None:
    apply(database, entry(day=1))
    uses = tuple(replace(use, least_days=30, most_days=60) for use in LABEL.uses)
    changed = replace(LABEL, uses=uses, ingredients=(Ingredient("Otherol"),))
    apply(database, entry(day=18), label=changed)
    before, after = applications(database, EVER)
    assert (before.least_days, before.most_days, _keys(before)) == (14, 28, ["inventol", "fictanil"])
    assert (after.least_days, after.most_days, _keys(after)) == (30, 60, ["otherol"])


# Append-only

ACTS = [
    "UPDATE {table} SET area_id = 'west-lawn'",
    "DELETE FROM {table}",
    "INSERT OR REPLACE INTO {table} SELECT * FROM {table}",
    "UPDATE {table} SET note = '', happened_on = happened_on",
]


@pytest.mark.parametrize("table", [APPLICATIONS, SCOUTINGS], ids=lambda table: str(table.name))
@pytest.mark.parametrize("act", ACTS, ids=["update", "delete", "replace", "update of words"])
def test_the_database_itself_refuses_to_rewrite_a_record(database: Database, table: sa.Table, act: str) -> None:
    apply(database, entry())
    look(database, entry())
    before = rows_known(database, table, EVER)

    def rewrite() -> None:
        with database.writing() as connection:
            connection.exec_driver_sql(act.format(table=table.name))

    with pytest.raises(sa.exc.IntegrityError, match="records are append-only"):
        rewrite()
    assert rows_known(database, table, EVER) == before


def test_the_database_itself_refuses_to_write_a_result_into_a_record(database: Database) -> None:
    look(database, entry(), details=Details(lab="the clinic"))
    with pytest.raises(sa.exc.IntegrityError, match="append-only"), database.writing() as connection:
        connection.exec_driver_sql("UPDATE scouting SET lab_result = 'brown patch', sure = 1")
    (row,) = rows_known(database, SCOUTINGS, EVER)
    assert row["lab_result"] == ""


# A lab's answer


def test_a_labs_answer_amends_the_look_and_makes_it_sure(database: Database) -> None:
    first = look(database, entry(), "dollar_spot", sure=False, details=Details((), 50.8, lab="the clinic"))
    second = answered(database, first, "brown_patch")
    (seen,) = sightings(database, EVER)
    assert (seen.record_id, seen.disease, seen.sure) == (second, "brown_patch", True)
    assert seen.day == (date(2050, 7, 18) - date(1970, 1, 1)).days, "the day of the look, not of the answer"
    before, after = rows_known(database, SCOUTINGS, EVER)
    assert (before["disease"], before["lab_result"]) == ("dollar_spot", ""), "the scout's own guess stays readable"
    assert (after["amends"], after["lab"], after["lab_result"]) == (first, "the clinic", "as told")
    assert (after["lab_result_on"], after["recorded_utc"]) == ("2050-07-24", "2050-07-24T09:00:00Z")
    for kept in ("area_id", "happened_utc", "happened_on", "by_whom", "note", "severity_pct", "patch_across_mm"):
        assert after[kept] == before[kept], kept


def test_a_lab_that_finds_drought_takes_the_sighting_away_from_the_day_it_is_known(database: Database) -> None:
    first = look(database, entry(), "brown_patch", sure=False, details=Details(lab="the clinic"))
    answered(database, first, "", look_alikes=("drought",), now=utc(24))
    (then,) = sightings(database, "2050-07-24T08:59:59Z")
    assert (then.disease, then.sure) == ("brown_patch", False), "a replay knows no more than that morning did"
    (now,) = sightings(database, "2050-07-24T09:00:00Z")
    assert (now.disease, now.look_alikes) == ("", ("drought",))


def test_an_answer_to_no_sample_needs_the_name_of_the_lab(database: Database) -> None:
    first = look(database, entry(), sure=False)
    with pytest.raises(DataError, match="no sample that was sent"):
        answered(database, first, "brown_patch")
    answered(database, first, "brown_patch", lab="the clinic")
    assert rows_known(database, SCOUTINGS, EVER)[-1]["lab"] == "the clinic"


def test_an_answer_does_not_come_before_the_look(database: Database) -> None:
    first = look(database, entry(), details=Details(lab="the clinic"))
    with pytest.raises(DataError, match="came before the look of 2050-07-18"):
        answered(database, first, "brown_patch", on=date(2050, 7, 17))
    answered(database, first, "brown_patch", on=date(2050, 7, 18))


def test_only_a_record_that_stands_is_answered(database: Database) -> None:
    with pytest.raises(DataError, match="there is no scouting record 7"):
        answered(database, 7, "brown_patch")
    first = look(database, entry(), details=Details(lab="the clinic"))
    second = answered(database, first, "brown_patch")
    with pytest.raises(DataError, match=f"amend {second} instead"):
        answered(database, first, "dollar_spot")
    third = answered(database, second, "dollar_spot")  # the lab mends its own answer
    taken_back = void(database, SCOUTINGS, third, "the wrong sample", utc(25))
    with pytest.raises(DataError, match="takes another back"):
        answered(database, taken_back, "brown_patch")
    assert sightings(database, EVER) == ()


# Amended and taken back


def test_an_amended_record_no_longer_stands_and_stays_readable(database: Database) -> None:
    first = apply(database, entry(), amount=250)
    second = apply(database, entry(amends=first), amount=300)
    (done,) = applications(database, EVER)
    assert (done.record_id, done.amount_per_m2) == (second, 0.6)  # 300 mL over 500 m²
    assert [row["record_id"] for row in rows_known(database, APPLICATIONS, EVER)] == [first, second]


def test_of_a_chain_of_amendments_the_last_stands(database: Database) -> None:
    first = apply(database, entry())
    second = apply(database, entry(amends=first))
    third = apply(database, entry(amends=second))
    assert numbers(database) == [third]


def test_an_amended_record_cannot_be_amended_again(database: Database) -> None:
    first = apply(database, entry())
    second = apply(database, entry(amends=first))
    with pytest.raises(DataError, match=f"amend {second} instead") as caught:
        apply(database, entry(amends=first))
    assert caught.value.exit_code == 65
    with pytest.raises(DataError, match=f"has been amended by record {second}"):
        void(database, APPLICATIONS, first, "wrong lawn", utc(18))
    assert numbers(database) == [second]


def test_a_record_that_is_not_there_can_be_neither_amended_nor_taken_back(database: Database) -> None:
    look(database, entry())  # number 1 of the other table
    with pytest.raises(DataError, match="there is no application record 1"):
        apply(database, entry(amends=1))
    with pytest.raises(DataError, match="there is no application record 1"):
        void(database, APPLICATIONS, 1, "wrong lawn", utc(18))
    assert rows_known(database, APPLICATIONS, EVER) == []


def test_a_record_that_was_taken_back_stands_no_more_and_keeps_its_reason(database: Database) -> None:
    kept = apply(database, entry(area="west-lawn"))
    first = apply(database, entry())
    taken_back = void(database, APPLICATIONS, first, "wrong lawn", utc(19))
    assert numbers(database) == [kept]
    row = rows_known(database, APPLICATIONS, EVER)[-1]
    assert (row["record_id"], row["amends"], row["void_reason"]) == (taken_back, first, "wrong lawn")
    assert (row["recorded_utc"], row["area_id"], row["amount"]) == ("2050-07-19T09:00:00Z", "east-lawn", 400)
    with pytest.raises(DataError, match="has been amended"):
        void(database, APPLICATIONS, first, "again", utc(19))


def test_a_record_amended_and_then_taken_back_stands_in_no_form(database: Database) -> None:
    first = look(database, entry())
    second = look(database, entry(amends=first), "brown_patch")
    void(database, SCOUTINGS, second, "it was drought", utc(19))
    assert sightings(database, EVER) == ()


def test_what_was_taken_back_by_mistake_can_be_put_back(database: Database) -> None:
    taken_back = void(database, APPLICATIONS, apply(database, entry()), "wrong lawn", utc(18))
    again = apply(database, entry(amends=taken_back))
    assert numbers(database) == [again]


# Replays


def test_a_replay_knows_a_record_from_the_second_it_was_made(database: Database) -> None:
    number = apply(database, entry(), now=utc(18, hour=12))
    assert numbers(database, "2050-07-18T11:59:59Z") == []
    assert numbers(database, "2050-07-18T12:00:00Z") == [number]


def test_a_replay_sees_what_stood_then_and_no_later_amendment(database: Database) -> None:
    first = apply(database, entry(day=1), now=utc(1), amount=250)
    second = apply(database, entry(day=1, amends=first), now=utc(5), amount=300)
    void(database, APPLICATIONS, second, "wrong lawn", utc(10))
    assert numbers(database, "2050-07-04T00:00:00Z") == [first]
    assert numbers(database, "2050-07-09T00:00:00Z") == [second]
    assert numbers(database, "2050-07-10T09:00:00Z") == []


def test_a_record_written_down_late_is_known_late(database: Database) -> None:
    seen = look(database, entry(day=1), now=utc(15))
    assert sightings(database, "2050-07-14T00:00:00Z") == ()
    assert [sighting.record_id for sighting in sightings(database, "2050-07-16T00:00:00Z")] == [seen]


def test_an_application_below_its_rate_or_off_its_label_protects_nothing(database: Database) -> None:
    apply(database, entry(), amount=237)  # 0.474 a m² where the row says 0.5: below 95 %
    apply(database, entry(), amount=238)  # 0.476: within what measuring and spraying can hold
    apply(database, entry(), grass="zoysiagrass")
    weak, full, elsewhere = applications(database, EVER)
    assert (weak.diseases, weak.least_days, weak.most_days) == ((), 14, None), "the interval by law stays"
    assert (full.diseases, full.most_days) == (("brown_patch",), 28)
    assert (elsewhere.diseases, elsewhere.least_days, elsewhere.most_days) == ((), None, None)


def test_a_record_is_not_amended_into_another_area(database: Database) -> None:
    first = apply(database, entry())
    with pytest.raises(DataError, match="is of area 'east-lawn'"):
        apply(database, entry(amends=first, area="west-lawn"))


def test_nothing_is_taken_back_without_a_reason(database: Database) -> None:
    first = apply(database, entry())
    with pytest.raises(DataError, match="with a reason"):
        void(database, APPLICATIONS, first, "  ", utc(18))
