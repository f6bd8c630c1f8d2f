"""Cover, legality and quantities, with figures worked out beside them."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecast.amounts import product_amount
from forecast.schedule.cover import Cover, cover, deviations, options
from forecast.schedule.label import Application, Brought, Ingredient, Label, LabelUse
from forecast.schedule.legality import Spot
from forecast.schedule.quantity import quantities
from forecast.units import L_PER_US_GAL, M2_PER_1000_SQ_FT, M2_PER_SQ_FT, ML_PER_FL_OZ

YEAR_START = 19_723  # 2024-01-01
TODAY = YEAR_START + 190
FESCUE = Spot("tall_fescue")
PER_1000_SQ_FT = ML_PER_FL_OZ / M2_PER_1000_SQ_FT  # mL a m² of 1 fl oz per 1,000 sq ft


def _label(key: str, ingredient: str, most_per_year: float | None = 16.0) -> Label:
    preventive = LabelUse("brown_patch", ("tall_fescue",), "preventive", PER_1000_SQ_FT, "1 fl oz", 14, 21)
    established = LabelUse("brown_patch", ("tall_fescue",), "established", 2 * PER_1000_SQ_FT, "2 fl oz", 14, 14)
    limit = None if most_per_year is None else most_per_year * PER_1000_SQ_FT
    return Label(
        key, key, "R", date(2024, 1, 1), (Ingredient(ingredient),), "mL", L_PER_US_GAL / M2_PER_1000_SQ_FT, "1 gal",
        limit, "", "", "", (preventive, established),
    )  # fmt: skip


def _made(
    day: int, amount_fl_oz: float | None = 1.0, ingredient: str = "a", disease: str = "brown_patch"
) -> Application:
    amount = None if amount_fl_oz is None else amount_fl_oz * PER_1000_SQ_FT
    return Application(1, "field", day, "one", (Brought(ingredient, None),), (disease,), amount, 14, 21)


def _options(label: Label, made: list[Application]) -> tuple[list[int], tuple[str, ...]]:
    found, left_out = options([label], made, disease="brown_patch", spot=FESCUE, today=TODAY)
    return [option.legal_from for option in found], left_out


def test_cover_runs_from_the_labels_least_to_its_most_days() -> None:
    assert cover([_made(TODAY - 5)], "brown_patch", TODAY) == Cover(TODAY - 5, TODAY + 9, TODAY + 16, "one")


def test_cover_of_another_disease_does_not_count() -> None:
    assert cover([_made(TODAY - 5, disease="dollar_spot")], "brown_patch", TODAY) is None


def test_an_application_ahead_of_the_day_asked_about_does_not_count() -> None:
    assert cover([_made(TODAY + 1)], "brown_patch", TODAY) is None


def test_the_longest_lasting_cover_counts() -> None:
    found = cover([_made(TODAY - 20), _made(TODAY - 3)], "brown_patch", TODAY)
    assert found is not None
    assert found.applied == TODAY - 3


def test_a_follow_up_is_legal_after_the_least_days() -> None:
    """Follow-up after 14 to 21 days: common practice, no source."""
    assert _options(_label("one", "a"), [_made(TODAY - 5)])[0] == [TODAY + 9]
    assert _options(_label("one", "a"), [_made(TODAY - 14)])[0] == [TODAY]


def test_least_days_follow_the_active_ingredient_across_products() -> None:
    assert _options(_label("two", "A", None), [_made(TODAY - 5)])[0] == [TODAY + 9], "however it was typed"
    assert _options(_label("two", "b"), [_made(TODAY - 5)])[0] == [TODAY]


def test_amounts_of_two_products_are_never_added_up_against_a_limit() -> None:
    """One may be a liquid in mL and the other granules in g, of other strength."""
    legal, left_out = _options(_label("two", "a"), [_made(TODAY - 60)])
    assert legal == []
    assert "cannot be added up without their concentrations" in left_out[0]


def test_the_yearly_limit_counts_this_calendar_year_only() -> None:
    """At most 16 fl oz per 1,000 sq ft a year: common practice, no source."""
    this_year = [_made(YEAR_START + day, 2.0) for day in range(0, 120, 15)]
    assert len(this_year) == 8, "eight times 2 fl oz are 16"
    legal, left_out = _options(_label("one", "a"), this_year)
    assert legal == []
    assert "yearly limit" in left_out[0]
    last_year = [_made(YEAR_START - 1 - day, 2.0) for day in range(0, 120, 15)]
    assert _options(_label("one", "a"), last_year)[0] == [TODAY]


def test_exactly_the_yearly_limit_is_legal() -> None:
    fifteen = [_made(YEAR_START + day, 1.0) for day in range(15)]
    assert _options(_label("one", "a"), fifteen)[0] == [TODAY], "15 and 1 more are 16, the limit itself"


def test_an_amount_that_was_not_written_down_makes_the_limit_unknown() -> None:
    legal, left_out = _options(_label("one", "a"), [_made(TODAY - 30, None)])
    assert legal == []
    assert "lacks its amount" in left_out[0]


def test_a_disease_or_grass_that_the_label_does_not_list_is_never_proposed() -> None:
    label = _label("one", "a")
    for disease, grass in (("dollar_spot", "tall_fescue"), ("brown_patch", "zoysiagrass")):
        found, left_out = options([label], [], disease=disease, spot=Spot(grass), today=TODAY)
        assert found == ()
        assert "does not list" in left_out[0]


def test_what_really_happened_is_named_where_it_departs_from_the_label() -> None:
    def depart(
        amount: float, made: list[Application], condition: str = "preventive", grass: str = "tall_fescue"
    ) -> list[str]:
        found = deviations(
            _label("one", "a"),
            made,
            diseases=["brown_patch"],
            condition=condition,
            spot=Spot(grass),
            day=TODAY,
            amount_per_m2=amount * PER_1000_SQ_FT,
        )
        return list(found)

    assert depart(1.0, [_made(TODAY - 14)]) == []
    assert "wants 14 days after the last one" in depart(1.0, [_made(TODAY - 13)])[0]
    assert depart(2.0, [], "established") == []
    assert "more than the label's preventive rate" in depart(1.01, [])[0]
    assert "less than the label's preventive rate" in depart(0.5, [])[0]
    assert depart(0.96, []) == [], "within what measuring and spraying can hold"
    assert "no preventive row" in depart(1.0, [], grass="zoysiagrass")[0]
    assert "yearly limit" in depart(1.0, [_made(YEAR_START + day, 2.0) for day in range(0, 120, 15)])[0]


def test_one_gallon_and_one_fluid_ounce_for_a_thousand_square_feet() -> None:
    """1 fl oz preventive and 1 gal of water per 1,000 sq ft: common practice, no source."""
    taken = quantities(M2_PER_1000_SQ_FT, PER_1000_SQ_FT, L_PER_US_GAL / M2_PER_1000_SQ_FT, L_PER_US_GAL)
    assert taken.product == pytest.approx(ML_PER_FL_OZ, abs=1e-9)
    assert taken.carrier_l == pytest.approx(L_PER_US_GAL, abs=1e-9)
    assert len(taken.loads) == 1


def test_two_hundred_gallons_at_twenty_an_acre_cover_ten_acres() -> None:
    """Turf boom guide, worked example: a 200-gal tank at 20 gal an acre does 10 acres."""
    acre_m2 = 43_560 * M2_PER_SQ_FT
    taken = quantities(10 * acre_m2, 0.1, 20 * L_PER_US_GAL / acre_m2, 200 * L_PER_US_GAL)
    assert len(taken.loads) == 1
    assert taken.loads[0].covers_m2 == pytest.approx(10 * acre_m2, rel=1e-12)


def test_a_partial_load_carries_its_share_of_the_product() -> None:
    """Agrochemical safety text, worked example: 3.5 acres at 15 gal and 3 lb an acre take 52.5 gal and 10.5 lb."""
    taken = quantities(3.5, 3.0, 15.0, 100.0)  # in acres, lb and gal: the arithmetic does not mind
    assert taken.carrier_l == pytest.approx(52.5, abs=1e-12)
    assert taken.product == pytest.approx(10.5, abs=1e-12)
    assert [load.product for load in taken.loads] == [pytest.approx(10.5, abs=1e-12)]


def test_a_small_rest_is_spread_over_equal_loads() -> None:
    taken = quantities(1060.0, 1.0, 0.1, 50.0)
    assert [round(load.mix_l, 6) for load in taken.loads] == [35.333333] * 3, (
        "106 L are two tanks and 6 L: three of 35.3"
    )
    halves = quantities(1300.0, 1.0, 0.1, 50.0)
    assert [load.mix_l for load in halves.loads] == [50.0, 50.0, pytest.approx(30.0)], "130 L: two full, and 30"


@given(size_m2=st.floats(1, 1e5), rate=st.floats(1e-3, 10), carrier=st.floats(0.01, 1), tank_l=st.floats(1, 2000))
def test_loads_add_up_and_none_is_larger_than_the_tank(
    size_m2: float, rate: float, carrier: float, tank_l: float
) -> None:
    taken = quantities(size_m2, rate, carrier, tank_l)
    assert sum(load.product for load in taken.loads) == pytest.approx(size_m2 * rate, rel=1e-6)
    assert sum(load.covers_m2 for load in taken.loads) == pytest.approx(size_m2, rel=1e-6)
    for load in taken.loads:
        assert 0 < load.mix_l <= tank_l * (1 + 1e-9)
        assert load.product / load.covers_m2 == pytest.approx(rate, rel=1e-9), "every load has the label's rate"


@pytest.mark.parametrize("wrong", [(0, 1, 1, 1), (1, -1, 1, 1), (1, 1, 0, 1), (1, 1, 1, 0)])
def test_a_figure_that_is_not_above_zero_is_refused(wrong: tuple[float, float, float, float]) -> None:
    with pytest.raises(ValueError, match="above zero"):
        quantities(*wrong)


def test_typed_amounts_are_read_in_their_unit() -> None:
    # NIST Handbook 44, Appendix C: 29.5735295625 mL a fl oz, 453.59237 g a lb.
    for text, expected in (("10 fl oz", ("mL", 295.735295625)), ("2 lb", ("g", 907.18474))):
        measure, amount = product_amount(text)
        assert measure == expected[0]
        assert amount == pytest.approx(expected[1], abs=1e-9)
    for wrong in ("10", "fl oz", "ten fl oz", "-1 L", "nan g", "inf g", "1 cup", ""):
        with pytest.raises(ValueError, match=r"number above zero|amount above zero|no unit known"):
            product_amount(wrong)
