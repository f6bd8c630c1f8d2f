"""Treat, scout, hold or no model: the decision on facts written by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from forecast.outlook.climatology import Chance
from forecast.schedule.cover import Cover, Option
from forecast.schedule.label import Ingredient, Label, LabelUse
from forecast.schedule.need import Decision, Facts, answer, first_open_day

TODAY = 20_000  # any day number: 2024-10-04
LINES = Decision(treat_from_chance=0.30, scout_from_chance=0.10, days_between_visits=7)


def _chances(*values: float) -> tuple[Chance, ...]:
    return tuple(Chance(value, max(value - 0.1, 0), min(value + 0.1, 1), 9, value) for value in values)


def _option(legal_from: int, key: str = "alder-one") -> Option:
    use = LabelUse("brown_patch", ("tall_fescue",), "preventive", 0.5, "as printed", 14, 21)
    label = Label(
        key,
        key,
        "R-1",
        date(2049, 1, 1),
        (Ingredient("x"),),
        "mL",
        0.08,
        "2 gal per 1,000 sq ft",
        None,
        "",
        "",
        "",
        (use,),
    )
    return Option(label, use, legal_from, None)


# Chance of at least one event day from tomorrow to each day after it, rising past 30 % on the fourth.
RISING = _chances(0.05, 0.12, 0.22, 0.31, 0.40, 0.48, 0.55, 0.61, 0.66, 0.70, 0.74, 0.77, 0.80, 0.82, 0.84, 0.86)

BARE = Facts(
    today=TODAY,
    start=TODAY + 1,
    tested=True,
    diagnosed=True,
    seen_on=None,
    seen_surely=False,
    in_season=True,
    weather_known=True,
    cover=None,
    options=(_option(TODAY),),
    habit="alder-one",
    chances=RISING,
    beside_chance=None,
    passed_unprotected=0,
)


def test_treat_before_the_day_on_which_the_chance_reaches_the_line() -> None:
    given = answer(BARE, LINES)
    assert given.word == "treat"
    assert given.needed_by == TODAY + 4, "the fourth value, 0.31, is the first at or above 0.30"
    assert (given.first_day, given.last_day) == (TODAY, TODAY + 3)
    assert given.chance is not None
    assert given.chance.value == 0.55, "from tomorrow to the next visit seven days on is the seventh value"


def test_hold_while_the_last_application_covers_until_after_the_next_visit() -> None:
    cover = Cover(TODAY - 10, TODAY + 4, TODAY + 8, "alder-one")
    start = first_open_day(TODAY, cover)
    assert start == TODAY + 9
    given = answer(replace(BARE, cover=cover, start=start, chances=RISING[:6]), LINES)
    assert given.word == "hold"
    assert given.chance is None, "no day before the next visit is open"
    assert given.needed_by == TODAY + 12


def test_treat_when_cover_runs_out_between_two_visits() -> None:
    cover = Cover(TODAY - 18, TODAY - 4, TODAY + 3, "alder-one")
    given = answer(replace(BARE, cover=cover, start=TODAY + 4, chances=RISING[:11]), LINES)
    assert given.needed_by == TODAY + 7, "0.31 on the fourth open day, TODAY + 4 + 3"
    assert given.word == "treat"
    assert (given.first_day, given.last_day) == (TODAY, TODAY + 6)


def test_no_application_reaches_back_to_last_night() -> None:
    """Today's event day is last night and this morning: what is sprayed now protects from tomorrow's on."""
    assert first_open_day(TODAY, None) == TODAY + 1
    assert first_open_day(TODAY, Cover(TODAY - 30, TODAY - 16, TODAY - 9, "alder-one")) == TODAY + 1
    assert first_open_day(TODAY, Cover(TODAY - 21, TODAY - 7, TODAY, "alder-one")) == TODAY + 1


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"tested": False, "chances": ()}, "been diagnosed here before"),
        ({"tested": False, "chances": ()}, "no tested model"),
        ({"chances": ()}, "no past years"),
        ({"chances": tuple(replace(chance, years=4) for chance in RISING)}, "too few"),
        ({"weather_known": False}, "does not suffice"),
        ({"diagnosed": False}, "not been diagnosed"),
        ({"options": ()}, "no label on file"),
        ({"options": (_option(TODAY + 5),)}, "no label allows an application in time"),
    ],
)
def test_what_is_not_known_or_not_legal_turns_treat_into_scout(changed: dict[str, object], why: str) -> None:
    given = answer(replace(BARE, **changed), LINES)  # type: ignore[arg-type]
    assert given.word == "scout"
    assert any(why in reason for reason in given.reasons)


@pytest.mark.parametrize(("chance", "word"), [(0.09, "hold"), (0.10, "scout"), (0.29, "scout"), (0.30, "treat")])
def test_the_owners_lines_are_reached_not_passed(chance: float, word: str) -> None:
    """Low until the sixth day, at the line on the seventh, the day of the next visit."""
    facts = replace(BARE, chances=_chances(*[0.01] * 6, *[chance] * 8))
    assert answer(facts, LINES).word == word


def test_a_chance_beyond_the_next_visit_can_wait() -> None:
    facts = replace(BARE, chances=_chances(*[0.05] * 9, *[0.5] * 6))
    given = answer(facts, LINES)
    assert given.word == "hold"
    assert given.needed_by == TODAY + 10


def test_nothing_beyond_two_weeks_is_planned() -> None:
    facts = replace(BARE, chances=_chances(*[0.05] * 15, 0.9))
    assert answer(facts, LINES).needed_by is None


def test_hold_never_rests_on_one_model_alone() -> None:
    low = replace(BARE, chances=_chances(*[0.02] * 15))
    assert answer(replace(low, beside_chance=0.05), LINES).word == "hold"
    given = answer(replace(low, beside_chance=0.25), LINES)
    assert given.word == "scout"
    assert "tested on other grasses" in given.reasons[0]


def test_an_unprotected_event_day_last_week_is_worth_a_look() -> None:
    facts = replace(BARE, chances=_chances(*[0.02] * 15), passed_unprotected=2)
    assert answer(facts, LINES).word == "scout"


def test_the_habitual_label_goes_first_when_it_is_legal_in_time() -> None:
    habit, other = _option(TODAY + 2, "habit"), _option(TODAY, "other")
    facts = replace(BARE, habit="habit")
    assert answer(replace(facts, options=(habit, other)), LINES).option is habit, "legal by the last day, TODAY + 3"
    late = replace(habit, legal_from=TODAY + 4)
    given = answer(replace(facts, options=(late, other)), LINES)
    assert given.option is other
    assert any("used here by habit, is not legal in time" in reason for reason in given.reasons)


def test_no_tested_model_is_an_answer_of_its_own() -> None:
    """Neither hold, which would claim to know, nor a call to look at every disease that nobody has modelled."""
    unknown = replace(BARE, tested=False, diagnosed=False, chances=())
    given = answer(unknown, LINES)
    assert given.word == "no_model"
    assert given.reasons == ("there is no tested model for this grass",)
    assert answer(replace(unknown, weather_known=False), LINES).word == "no_model"
    passing = answer(replace(unknown, beside_chance=0.9), LINES)
    assert passing.word == "no_model", "a model of other grasses is told of, and is no call to go out"
    assert "tested on other grasses" in passing.reasons[0]


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"diagnosed": True}, "been diagnosed here before"),
        ({"seen_on": TODAY - 3, "seen_surely": True}, "was seen here"),
    ],
)
def test_without_a_tested_model_a_reason_to_look_is_scout(changed: dict[str, object], why: str) -> None:
    unknown = replace(BARE, tested=False, diagnosed=False, chances=())
    given = answer(replace(unknown, **changed), LINES)  # type: ignore[arg-type]
    assert given.word == "scout"
    assert why in given.reasons[0]
    assert given.reasons[-1] == "there is no tested model for this grass"


@pytest.mark.parametrize("changed", [{"tested": False}, {"weather_known": False}, {}])
def test_out_of_season_what_is_not_known_is_no_reason_to_look(changed: dict[str, object]) -> None:
    facts = replace(BARE, chances=(), in_season=False, **changed)  # type: ignore[arg-type]
    given = answer(facts, LINES)
    assert given.word == "hold"
    assert given.reasons == ("this is not the season of the disease",)


def test_a_diagnosis_is_asked_for_only_where_treating_would_be_next() -> None:
    low = replace(BARE, chances=_chances(*[0.02] * 15), diagnosed=False)
    assert answer(low, LINES).word == "hold"


def test_cover_beyond_two_weeks_is_hold_and_not_a_lack_of_years() -> None:
    cover = Cover(TODAY - 1, TODAY + 13, TODAY + 27, "alder-one")
    given = answer(replace(BARE, cover=cover, start=TODAY + 28, chances=RISING[:1]), LINES)
    assert given.word == "hold"
    assert given.needed_by is None


def test_a_sure_sighting_lifts_hold_and_says_that_prevention_is_another_row() -> None:
    quiet = replace(BARE, chances=_chances(*[0.02] * 15), seen_on=TODAY - 1, seen_surely=True)
    given = answer(quiet, LINES)
    assert given.word == "scout"
    assert "established disease takes a row of its own" in given.reasons[0]


def test_what_is_established_is_not_treated_at_the_preventive_rate() -> None:
    """BARE is treated; seen for sure yesterday, the page must not hand out a preventive quantity."""
    assert answer(BARE, LINES).word == "treat"
    given = answer(replace(BARE, seen_on=TODAY - 1, seen_surely=True), LINES)
    assert given.word == "scout"
    assert "at another rate" in given.reasons[0]
    assert answer(replace(BARE, seen_on=TODAY - 1), LINES).word == "treat", "an unsure sighting is no diagnosis"


def test_an_undiagnosed_disease_is_looked_for_before_labels_are_spoken_of() -> None:
    given = answer(replace(BARE, diagnosed=False, options=()), LINES)
    assert given.word == "scout"
    assert not any("label" in reason for reason in given.reasons)


def test_an_unsure_sighting_asks_for_a_diagnosis() -> None:
    quiet = replace(BARE, chances=_chances(*[0.02] * 15), seen_on=TODAY - 1)
    assert "have the diagnosis made sure" in answer(quiet, LINES).reasons[0]
