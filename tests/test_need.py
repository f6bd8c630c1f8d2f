"""Treat, scout or hold: the decision on facts written by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from forecast.outlook.climatology import Chance
from forecast.schedule.cover import Cover, Option
from forecast.schedule.label import Label, LabelUse
from forecast.schedule.need import Decision, Facts, answer, first_open_day

TODAY = 20_000  # any day number: 2024-10-04
LINES = Decision(treat_from_chance=0.30, scout_from_chance=0.10, days_between_visits=7)


def _chances(*values: float) -> tuple[Chance, ...]:
    return tuple(Chance(value, max(value - 0.1, 0), min(value + 0.1, 1), 9) for value in values)


def _option(legal_from: int, key: str = "alder-one") -> Option:
    use = LabelUse("brown_patch", ("tall_fescue",), "preventive", 0.5, "as printed", 14, 21)
    label = Label(key, key, "R-1", date(2049, 1, 1), ("x",), (), "mL", 0.08, None, "", "", "", (use,))
    return Option(label, use, legal_from, None)


# Chance of at least one event day from today to each day after it, rising past 30 % on the fourth day.
RISING = _chances(0.05, 0.12, 0.22, 0.31, 0.40, 0.48, 0.55, 0.61, 0.66, 0.70, 0.74, 0.77, 0.80, 0.82, 0.84, 0.86)

BARE = Facts(
    today=TODAY,
    start=TODAY,
    tested=True,
    diagnosed=True,
    in_season=True,
    weather_known=True,
    today_certain=False,
    cover=None,
    options=(_option(TODAY),),
    chances=RISING,
    beside_chance=None,
    passed_unprotected=0,
)


def test_treat_before_the_day_on_which_the_chance_reaches_the_line() -> None:
    given = answer(BARE, LINES)
    assert given.word == "treat"
    assert given.needed_by == TODAY + 3, "the fourth value, 0.31, is the first at or above 0.30"
    assert (given.first_day, given.last_day) == (TODAY, TODAY + 2)
    assert given.chance is not None
    assert given.chance.value == 0.61, "from today to the next visit seven days on is the eighth value"


def test_hold_while_the_last_application_covers_until_after_the_next_visit() -> None:
    cover = Cover(TODAY - 10, TODAY + 4, TODAY + 8, "alder-one")
    start = first_open_day(TODAY, cover, today_ruled_out=False)
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


def test_today_certain_to_be_an_event_day_is_treated_today() -> None:
    given = answer(replace(BARE, today_certain=True, chances=_chances(*[0.02] * 15)), LINES)
    assert given.word == "treat"
    assert given.needed_by == given.first_day == given.last_day == TODAY


def test_today_ruled_out_opens_the_count_tomorrow() -> None:
    assert first_open_day(TODAY, None, today_ruled_out=True) == TODAY + 1
    assert first_open_day(TODAY, None, today_ruled_out=False) == TODAY


def test_a_day_ruled_out_does_not_shorten_cover() -> None:
    cover = Cover(TODAY - 18, TODAY - 4, TODAY + 3, "alder-one")
    assert first_open_day(TODAY, cover, today_ruled_out=True) == TODAY + 4


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"tested": False, "chances": ()}, "no tested model"),
        ({"chances": ()}, "no past years"),
        ({"weather_known": False}, "does not suffice"),
        ({"diagnosed": False}, "not been diagnosed"),
        ({"options": ()}, "no label on file"),
        ({"options": (_option(TODAY + 5),)}, "least days do not allow"),
    ],
)
def test_what_is_not_known_or_not_legal_turns_treat_into_scout(changed: dict[str, object], why: str) -> None:
    given = answer(replace(BARE, **changed), LINES)  # type: ignore[arg-type]
    assert given.word == "scout"
    assert any(why in reason for reason in given.reasons)


@pytest.mark.parametrize(("chance", "word"), [(0.09, "hold"), (0.10, "scout"), (0.29, "scout"), (0.30, "treat")])
def test_the_owners_lines_are_reached_not_passed(chance: float, word: str) -> None:
    """Low until the seventh day, at the line on the eighth, the day of the next visit."""
    facts = replace(BARE, chances=_chances(*[0.01] * 7, *[chance] * 8))
    assert answer(facts, LINES).word == word


def test_a_chance_beyond_the_next_visit_can_wait() -> None:
    facts = replace(BARE, chances=_chances(*[0.05] * 9, *[0.5] * 6))
    given = answer(facts, LINES)
    assert given.word == "hold"
    assert given.needed_by == TODAY + 9


def test_nothing_beyond_two_weeks_is_planned() -> None:
    facts = replace(BARE, chances=_chances(*[0.05] * 15, 0.9))
    assert answer(facts, LINES).needed_by is None


def test_hold_never_rests_on_one_model_alone() -> None:
    low = replace(BARE, chances=_chances(*[0.02] * 15))
    assert answer(replace(low, beside_chance=0.05), LINES).word == "hold"
    given = answer(replace(low, beside_chance=0.25), LINES)
    assert given.word == "scout"
    assert "not tested on this grass" in given.reasons[0]


def test_an_unprotected_event_day_last_week_is_worth_a_look() -> None:
    facts = replace(BARE, chances=_chances(*[0.02] * 15), passed_unprotected=2)
    assert answer(facts, LINES).word == "scout"


def test_the_habitual_label_goes_first_when_it_is_legal_in_time() -> None:
    habit, other = _option(TODAY + 2, "habit"), _option(TODAY, "other")
    chosen = answer(replace(BARE, options=(habit, other)), LINES).option
    assert chosen is habit, "last sensible day is TODAY + 2"
    late = replace(habit, legal_from=TODAY + 3)
    assert answer(replace(BARE, options=(late, other)), LINES).option is other


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
