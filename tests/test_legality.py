"""Whether a label permits an application: cases worked out by hand, and a checker that shares no code with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from forecast.clock import date_of, day_number
from forecast.schedule.cover import options
from forecast.schedule.label import Application, Brought, Ingredient, Label, LabelUse, YearKind
from forecast.schedule.legality import Spot, day_refusals, left_per_m2, place_refusals, spot_of, year_of
from forecast.turf import Area, Ground

LAWN = Spot("tall_fescue", "home_lawn", "loam")
DAY = day_number(date(2050, 7, 1))


def _use(rate: float = 1.0, least: int = 14) -> LabelUse:
    return LabelUse("brown_patch", ("tall_fescue",), "preventive", rate, "as printed", least, 28)


def _label(key: str = "a", *ingredients: Ingredient, most: float | None = None, least: int = 14) -> Label:
    active = ingredients or (Ingredient("inventol", "11", 0.1),)
    return Label(
        key, key, "R", date(2049, 1, 1), active, "mL", 0.08, "as printed", most, "", "keep off", "gear",
        (_use(least=least),),
    )  # fmt: skip


def _made(label: Label, day: int, amount: float | None = 1.0) -> Application:
    brought = tuple(
        Brought(
            one.key,
            None if amount is None or one.grams_per_unit is None else amount * one.grams_per_unit,
            one.frac_code,
            one.most_per_year_g_per_m2,
        )
        for one in label.ingredients
    )
    return Application(0, "x", day, label.key, brought, (), amount, label.uses[0].least_days, 28)


def _words(label: Label, made: list[Application], day: int = DAY, amount: float | None = None) -> str:
    refused = day_refusals(label, label.uses[0], made, day, amount_per_m2=amount)
    return "; ".join(f"{one.by}: {one.words}" for one in refused)


# The place.


@pytest.mark.parametrize(
    ("sites", "site", "told"),
    [
        ((), "", ""),
        ((), "school", ""),
        (("home_lawn", "park"), "park", ""),
        (("home_lawn",), "golf_green", "label: its label does not permit a golf green"),
        (("home_lawn",), "", "unknown: its label permits only home_lawn, and properties.csv names no site here"),
    ],
)
def test_a_label_is_for_its_sites(sites: tuple[str, ...], site: str, told: str) -> None:
    refused = place_refusals(replace(_label(), sites=sites), Spot("tall_fescue", site))
    assert "; ".join(f"{one.by}: {one.words}" for one in refused) == told


def test_a_forbidden_soil_has_to_be_known_not_to_be_there() -> None:
    label = replace(_label(), soils_forbidden=("sand",))
    assert place_refusals(label, LAWN) == []
    assert "forbids it on sand" in place_refusals(label, replace(LAWN, soil_texture="sand"))[0].words
    assert place_refusals(label, replace(LAWN, soil_texture=None))[0].by == "unknown"


def test_what_labels_ask_of_an_area() -> None:
    area = Area("a", "A", "p", "P", "s", "tall_fescue", 1.0, ground=Ground(soil_texture="clay"), site="park")
    assert spot_of(area) == Spot("tall_fescue", "park", "clay")


# Intervals.


def test_least_days_hold_before_and_after() -> None:
    label = _label(least=14)
    assert (
        _words(label, [_made(label, DAY - 13)])
        == "label: the label wants 14 days after the last one, of Sat\u00a018\u00a0Jun"
    )
    assert _words(label, [_made(label, DAY - 14)]) == ""
    assert (
        _words(label, [_made(label, DAY + 13)])
        == "label: too near the one of Thu\u00a014\u00a0Jul, whose label wants 14 days"
    )
    assert _words(label, [_made(label, DAY + 14)]) == ""
    assert (
        _words(label, [_made(label, DAY)])
        == "label: the label wants 14 days after the last one, of Fri\u00a01\u00a0Jul"
    )


def test_least_days_follow_the_ingredient_of_a_mix_and_of_a_later_one_too() -> None:
    """Three days before A comes one of B alone, ten days after it a mix of A and B that wants 14."""
    a = _label("a", Ingredient("A", "11", 0.1), least=7)
    b = _label("b", Ingredient("B", "3", 0.1), least=7)
    mix = _label("mix", Ingredient(" a ", "11", 0.1), Ingredient("B", "3", 0.1), least=14)
    assert "too near the one of Mon\u00a011\u00a0Jul, whose label wants 14 days" in _words(
        a, [_made(b, DAY + 3), _made(mix, DAY + 10)]
    )
    assert _words(a, [_made(b, DAY - 3)]) == ""


# Years.


@pytest.mark.parametrize(
    ("year", "start", "day", "first", "last"),
    [
        ("calendar", None, date(2050, 7, 1), date(2050, 1, 1), date(2050, 12, 31)),
        ("calendar", None, date(2050, 1, 1), date(2050, 1, 1), date(2050, 12, 31)),
        ("season", (3, 1), date(2050, 2, 28), date(2049, 3, 1), date(2050, 2, 28)),
        ("season", (3, 1), date(2050, 3, 1), date(2050, 3, 1), date(2051, 2, 28)),
        ("season", (3, 1), date(2052, 2, 29), date(2051, 3, 1), date(2052, 2, 29)),
        ("twelve_months", None, date(2050, 7, 1), date(2049, 7, 2), date(2050, 7, 1)),
        ("twelve_months", None, date(2052, 2, 29), date(2051, 3, 1), date(2052, 2, 29)),
        ("twelve_months", None, date(2053, 2, 28), date(2052, 2, 29), date(2053, 2, 28)),
    ],
)
def test_years_of_a_label(year: YearKind, start: tuple[int, int] | None, day: date, first: date, last: date) -> None:
    label = replace(_label(), year=year, season_start=start)
    assert tuple(date_of(one) for one in year_of(label, day_number(day))) == (first, last)


def test_a_yearly_limit_is_met_and_not_passed() -> None:
    """At most 16 fl oz a year, 1 each time: common practice, no source. Fifteen and one are 16."""
    label = _label(most=16.0, least=1)
    fifteen = [_made(label, DAY - 2 * count) for count in range(1, 16)]
    assert "row" in _words(label, fifteen), "the house rule of rotation, and nothing else"
    assert "limit" not in _words(label, fifteen)
    assert "the label's yearly limit would be passed" in _words(label, [*fifteen, _made(label, DAY - 40)])
    assert left_per_m2(label, fifteen)[0] == pytest.approx(1.0, rel=1e-12)


def test_a_limit_of_twelve_months_looks_at_later_uses_too() -> None:
    """Two a year: one in December and one the June after leave no room in between, in the calendar's years they do."""
    label = replace(_label(least=14), most_applications_a_year=2, most_in_a_row=9)
    december, june = day_number(date(2049, 12, 1)), day_number(date(2050, 6, 1))
    made = [_made(label, december), _made(label, june)]
    march = day_number(date(2050, 3, 1))
    assert _words(label, made, march) == ""
    rolling = replace(label, year="twelve_months")
    assert "used 2 times already this year; the label's most is 2" in _words(rolling, made, march)
    assert _words(rolling, made, day_number(date(2050, 12, 1))) == "", "a year after the first one"


def test_a_limit_of_an_ingredient_is_added_up_over_products() -> None:
    """2 g/m² a year. A brings 0.1 g a mL, B 0.5: after 3 mL of B (1.5 g) there is room for 5 mL of A."""
    a = _label("a", Ingredient("Inventol", "11", 0.1, most_per_year_g_per_m2=2.0), least=1)
    b = _label("b", Ingredient("inventol", "11", 0.5), least=1)
    made = [_made(b, DAY - 20, 3.0)]
    left, why = left_per_m2(a, made)
    assert left == pytest.approx(5.0, rel=1e-12)
    assert not why
    assert _words(a, made, amount=5.0) == ""
    assert "yearly limit would be passed" in _words(a, made, amount=5.01)
    assert "yearly limit would be passed" in _words(b, [_made(a, DAY - 20, 19.9)], amount=0.03), "A's limit binds B"
    unknown = _label("c", Ingredient("inventol", "11"), least=1)
    assert "without their concentrations" in _words(a, [_made(unknown, DAY - 20)])
    assert _words(a, [_made(unknown, DAY - 20, None)]).startswith(
        "unknown: application 0 of this year lacks its amount"
    )


def test_a_limit_of_product_counts_the_same_ingredient_of_another() -> None:
    """10 mL of A a year are 1 g of inventol; 1 mL of B brought 0.5 g: 5 mL of A are left."""
    a, b = _label("a", Ingredient("inventol", "11", 0.1), most=10.0), _label("b", Ingredient("inventol", "11", 0.5))
    left, _ = left_per_m2(a, [_made(b, DAY - 20, 1.0)])
    assert left == pytest.approx(5.0, rel=1e-12)


def test_of_several_limits_the_strictest_holds() -> None:
    """Of product 10 mL a year; of inventol 0.8 g by this label, which are 8 mL, and 0.5 g by another's, which are 5."""
    a = _label("a", Ingredient("inventol", "11", 0.1, most_per_year_g_per_m2=0.8), most=10.0)
    assert left_per_m2(a, [])[0] == pytest.approx(8.0, rel=1e-12)
    assert left_per_m2(replace(a, most_per_year_per_m2=7.0), [])[0] == pytest.approx(7.0, rel=1e-12)
    b = _label("b", Ingredient("inventol", "11", 0.1, most_per_year_g_per_m2=0.5))
    assert left_per_m2(a, [_made(b, DAY - 20)])[0] == pytest.approx(4.0, rel=1e-12)  # 5 less the 1 mL that was used
    mix = _label("m", Ingredient("inventol", "11", 0.1, 0.8), Ingredient("fictanil", "3", 0.2, 0.8))
    assert left_per_m2(mix, [])[0] == pytest.approx(4.0, rel=1e-12)  # 0.8/0.2


def test_the_first_and_the_last_day_of_a_year_belong_to_it() -> None:
    label = replace(_label(), most_applications_a_year=1, most_in_a_row=9)
    for on in (date(2050, 1, 1), date(2050, 12, 31)):
        assert "used 1 time already" in _words(label, [_made(label, day_number(on))])
    for on in (date(2049, 12, 31), date(2051, 1, 1)):
        assert _words(label, [_made(label, day_number(on))]) == ""


# Rotation.


def test_two_in_a_row_are_the_house_rule_and_a_labels_own_number_comes_before() -> None:
    label = _label()
    other = _label("o", Ingredient("otherol", "3", 0.1))
    twice = [_made(label, DAY - 60), _made(label, DAY - 30)]
    row = "house: it would be number 3 in a row of resistance group 11"
    assert _words(label, twice) == f"{row}, the last on Wed\u00a01\u00a0Jun; after 2 another is due (house rule)"
    assert _words(label, [*twice, _made(other, DAY - 15)]) == "", "another group breaks the row"
    own = replace(label, most_in_a_row=3)
    assert _words(own, twice) == ""
    assert _words(own, [*twice, _made(label, DAY - 90)]).startswith("label: it would be number 4")


def test_a_mix_counts_for_each_of_its_groups_and_many_sites_for_none() -> None:
    mix = _label("m", Ingredient("inventol", "11", 0.1), Ingredient("otherol", "3", 0.1))
    other = _label("o", Ingredient("thirdol", "3", 0.1))
    row = [_made(mix, DAY - 60), _made(mix, DAY - 30)]
    assert "resistance group 3" in _words(other, row)
    broad = _label("b", Ingredient("broadol", "M05", 0.1, many_sites=True))
    assert _words(broad, [_made(broad, DAY - 60), _made(broad, DAY - 30), _made(broad, DAY - 15)]) == ""


def test_a_row_is_counted_on_both_sides_of_a_day() -> None:
    label = _label(least=1)
    assert "number 3 in a row" in _words(label, [_made(label, DAY - 20), _made(label, DAY + 20)])


def test_a_house_rule_cautions_and_a_label_refuses() -> None:
    label = _label()
    twice = [_made(label, DAY - 60), _made(label, DAY - 30)]
    (option,), left_out = options([label], twice, disease="brown_patch", spot=LAWN, today=DAY)
    assert option.legal_from == DAY
    assert "after 2 another is due (house rule)" in option.cautions[0]
    assert left_out == ()
    strict = replace(label, most_in_a_row=2)
    found, left_out = options([strict], twice, disease="brown_patch", spot=LAWN, today=DAY)
    assert found == ()
    assert left_out == (f"a: {_words(strict, twice).removeprefix('label: ')}",)


def test_the_first_legal_day_may_lie_in_the_next_year() -> None:
    """The calendar's limit is used up on 15 December; on 1 January it is whole again."""
    label = _label(most=2.0, least=14)
    today = day_number(date(2050, 12, 15))
    made = [_made(label, today - 60), _made(label, today - 30)]
    other = replace(label, most_in_a_row=9)
    (option,), _ = options([other], made, disease="brown_patch", spot=LAWN, today=today)
    assert date_of(option.legal_from) == date(2051, 1, 1)
    assert option.left_this_year_per_m2 == 2.0


# A checker that shares no code with the planner: whole histories, in plain dates and exact fractions.


@dataclass(frozen=True)
class Step:
    """One use of a product on a date."""

    product: int
    on: date
    amount: Fraction


@dataclass(frozen=True)
class Rules:
    """Of one product: grams of each ingredient in a mL, limits, intervals."""

    grams: dict[str, Fraction]
    codes: dict[str, str]
    least: int
    most: Fraction | None
    most_grams: dict[str, Fraction]
    most_times: int | None
    in_a_row: int
    rolling: bool


def _lawful(history: list[Step], rules: list[Rules], new: Step) -> bool:
    """Whether a history with one more use, ``new``, breaks none of the rules that the new use is bound by."""
    mine = rules[new.product]
    related = [step for step in history if set(rules[step.product].grams) & set(mine.grams)]
    return (
        all(_apart(step, new, rules) for step in related)
        and all(_year_holds([*related, new], rules, new, last) for last in _year_ends(related, mine, new))
        and all(_row([*history, new], rules, new, code) <= mine.in_a_row for code in mine.codes.values())
    )


def _apart(step: Step, new: Step, rules: list[Rules]) -> bool:
    days = (new.on - step.on).days
    return days >= rules[new.product].least if days >= 0 else -days >= rules[step.product].least


def _year_ends(related: list[Step], mine: Rules, new: Step) -> list[date]:
    """Days on which a year that holds the new use ends, or any day of the calendar's year."""
    if not mine.rolling:
        return [new.on]
    return [step.on for step in [*related, new] if new.on <= step.on < _a_year_after(new.on)]


def _a_year_after(day: date) -> date:
    """First day that a year from ``day`` on does not hold."""
    return date(day.year + 1, 3, 1) if (day.month, day.day) == (2, 29) else day.replace(year=day.year + 1)


def _year_holds(related: list[Step], rules: list[Rules], new: Step, last: date) -> bool:
    mine = rules[new.product]
    if mine.rolling:
        year = [step for step in related if step.on <= last < _a_year_after(step.on)]
    else:
        year = [step for step in related if step.on.year == last.year]
    if mine.most_times is not None and len(year) > mine.most_times:
        return False
    for name, grams in mine.grams.items():
        brought = sum((rules[s.product].grams.get(name, Fraction(0)) * s.amount for s in year), Fraction(0))
        limits = [rules[s.product].most_grams[name] for s in year if name in rules[s.product].most_grams]
        limits += [] if mine.most is None else [mine.most * grams]
        if limits and brought > min(limits):
            return False
    return True


def _row(whole: list[Step], rules: list[Rules], new: Step, code: str) -> int:
    """How many days of use in a row, the new one's among them, brought a resistance group."""
    days = sorted({step.on for step in whole})
    has = [any(code in rules[s.product].codes.values() for s in whole if s.on == day) for day in days]
    here = first = last = days.index(new.on)
    while first > 0 and has[first - 1]:
        first -= 1
    while last + 1 < len(days) and has[last + 1]:
        last += 1
    assert has[here]
    return last - first + 1


_INGREDIENTS = ("inventol", "fictanil")


@st.composite
def _rules(draw: st.DrawFn) -> Rules:
    names = draw(st.sampled_from([("inventol",), ("fictanil",), _INGREDIENTS]))
    grams = {name: Fraction(draw(st.integers(1, 4)), 4) for name in names}
    return Rules(
        grams,
        {name: {"inventol": "11", "fictanil": "3"}[name] for name in names},
        draw(st.integers(1, 40)),
        draw(st.none() | st.integers(2, 6).map(Fraction)),
        {name: Fraction(draw(st.integers(2, 6))) for name in names if draw(st.booleans())},
        draw(st.none() | st.integers(1, 4)),
        draw(st.integers(1, 3)),
        draw(st.booleans()),
    )


def _as_label(number: int, rules: Rules) -> Label:
    active = tuple(
        Ingredient(
            name,
            rules.codes[name],
            float(grams),
            None if name not in rules.most_grams else float(rules.most_grams[name]),
        )
        for name, grams in rules.grams.items()
    )
    label = _label(str(number), *active, most=None if rules.most is None else float(rules.most), least=rules.least)
    return replace(
        label,
        most_applications_a_year=rules.most_times,
        most_in_a_row=rules.in_a_row,
        year="twelve_months" if rules.rolling else "calendar",
    )


_STEP = st.builds(
    Step,
    st.integers(0, 1),
    st.dates(date(2049, 6, 1), date(2052, 3, 31)),
    st.integers(1, 4).map(lambda n: Fraction(n, 2)),
)


@given(st.lists(_rules(), min_size=2, max_size=2), st.lists(_STEP, max_size=6), _STEP)
def test_the_planner_permits_what_a_checker_finds_lawful_and_nothing_else(
    rules: list[Rules], history: list[Step], new: Step
) -> None:
    assume(len({step.on for step in history}) == len(history))
    labels = [_as_label(number, one) for number, one in enumerate(rules)]
    made = [_made(labels[step.product], day_number(step.on), float(step.amount)) for step in history]
    label = labels[new.product]
    refused = day_refusals(label, label.uses[0], made, day_number(new.on), amount_per_m2=float(new.amount))
    assert all(one.by == "label" for one in refused)
    assert (not refused) == _lawful(history, rules, new)


@given(_rules(), st.lists(_STEP, max_size=5), st.integers(0, 900))
def test_a_day_lasts_a_day_whatever_the_clock_does(rules: Rules, history: list[Step], days: int) -> None:
    """Intervals count local dates: shifting a whole history by whole days moves what is legal by as many."""
    label = replace(_as_label(0, rules), most_applications_a_year=None, most_per_year_per_m2=None)
    label = replace(label, ingredients=tuple(replace(one, most_per_year_g_per_m2=None) for one in label.ingredients))
    made = [_made(label, day_number(step.on)) for step in history]
    later = [replace(one, day=one.day + days) for one in made]
    for offset in range(0, 60, 7):
        one, other = (
            [
                refusal.words.split("one")[0].split(", the last on")[0]
                for refusal in day_refusals(label, label.uses[0], some, day)
            ]
            for some, day in ((made, DAY + offset), (later, DAY + offset + days))
        )
        assert one == other


@given(_rules(), st.lists(_STEP, max_size=5), st.integers(1, 4))
def test_a_higher_limit_never_permits_less(rules: Rules, history: list[Step], more: int) -> None:
    assume(rules.most is not None)
    label = _as_label(0, rules)
    made = [_made(label, day_number(step.on), float(step.amount)) for step in history]
    larger = replace(label, most_per_year_per_m2=(label.most_per_year_per_m2 or 0.0) + more)
    for offset in range(0, 60, 7):
        if not day_refusals(label, label.uses[0], made, DAY + offset):
            assert not day_refusals(larger, larger.uses[0], made, DAY + offset)


def test_the_checker_bites() -> None:
    """Planted slips: each rule, broken by one, is seen by the checker."""
    plain = Rules({"inventol": Fraction(1)}, {"inventol": "11"}, 14, Fraction(3), {}, 3, 2, rolling=False)
    first = Step(0, date(2050, 5, 1), Fraction(1))
    assert _lawful([first], [plain], Step(0, date(2050, 5, 15), Fraction(1)))
    assert not _lawful([first], [plain], Step(0, date(2050, 5, 14), Fraction(1)))
    assert not _lawful([first], [plain], Step(0, date(2050, 6, 1), Fraction(5, 2)))
    two = [first, Step(0, date(2050, 6, 1), Fraction(1, 2))]
    assert not _lawful(two, [plain], Step(0, date(2050, 7, 1), Fraction(1, 2)))
    assert _lawful(two, [replace(plain, in_a_row=3)], Step(0, date(2050, 7, 1), Fraction(1, 2)))
    assert not _lawful(two, [replace(plain, in_a_row=3, most_times=2)], Step(0, date(2050, 7, 1), Fraction(1, 2)))
    assert date(2050, 5, 1) + timedelta(14) == date(2050, 5, 15)
