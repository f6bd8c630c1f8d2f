"""Typed amounts against NIST's factors: read in any spelling, refused with a sentence, never guessed."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecast.amounts import CARRIER, PRODUCT, RATE, SURFACE_M2, carrier, lengths_m, product_amount, rate, typed

# NIST Handbook 44, Appendix C, and SP 811: exact.
FT_M = Fraction("0.3048")
GAL_L = Fraction(231) * Fraction("0.254") ** 3  # 231 cubic inches, of 2.54 cm, in dm³
FL_OZ_ML = GAL_L * 1000 / 128
OZ_G = Fraction("453.59237") / 16


def test_factors_are_the_exact_ones() -> None:
    assert pytest.approx(float(GAL_L), rel=1e-15) == 3.785411784  # as the handbook prints it
    assert SURFACE_M2["acre"] == pytest.approx(float(43_560 * FT_M**2), rel=1e-15)
    assert SURFACE_M2["acre"] == pytest.approx(4046.8564224, rel=1e-12)  # the same, as printed
    assert PRODUCT["fl oz"][1] == pytest.approx(float(FL_OZ_ML), rel=1e-15)
    assert PRODUCT["oz"][1] == pytest.approx(float(OZ_G), rel=1e-15)
    for unit, parts in (("qt", 4), ("pt", 8), ("fl oz", 128)):
        assert PRODUCT["gal"][1] == pytest.approx(parts * PRODUCT[unit][1], rel=1e-15)


@pytest.mark.parametrize(
    ("text", "unit", "in_that_unit"),
    [
        # Derived from the factors above: 1,000 sq ft are 92.90304 m²; an acre is 43.56 of them.
        ("1 gal/1000 sq ft", "gal/acre", 43.56),
        ("1 gal/1000 sq ft", "L/ha", float(GAL_L / (1000 * FT_M**2) * 10_000)),
        ("1 gal/1000 sq ft", "L/100 m2", 4.0745833),
        ("1 gal/acre", "L/ha", 9.353956228956),
    ],
)
def test_water_on_a_surface_turns_from_one_unit_into_another(text: str, unit: str, in_that_unit: float) -> None:
    assert carrier(text)[0] / CARRIER[unit] == pytest.approx(in_that_unit, rel=1e-8)


@pytest.mark.parametrize(
    ("text", "unit", "in_that_unit"),
    [
        ("1 fl oz/1000 sq ft", "L/ha", float(FL_OZ_ML / 1000 / (1000 * FT_M**2) * 10_000)),
        ("1 fl oz/1000 sq ft", "mL/100 m2", 31.83268229),
        ("1 oz/1000 sq ft", "kg/ha", 3.051517273),
        ("1 oz/1000 sq ft", "lb/acre", 2.7225),  # 43.56/16
        ("1 lb/1000 sq ft", "kg/ha", 48.82427636),
        ("1 lb/acre", "kg/ha", 1.120851156),
    ],
)
def test_rates_turn_from_one_unit_into_another(text: str, unit: str, in_that_unit: float) -> None:
    measure, per_m2, _ = rate(text)
    assert measure == RATE[unit][0]
    assert per_m2 / RATE[unit][1] == pytest.approx(in_that_unit, rel=1e-9)


@pytest.mark.parametrize(
    "text",
    [
        "1.5 fl oz/1000 sq ft", "1 1/2 fl oz per 1,000 sq ft", "3/2 fluid ounces per 1000 square feet",
        "1.5 FL OZ / 1000 SQFT", "1.50 fl. oz. per 1,000 ft2", "1.5 fl oz/M",
    ],
)  # fmt: skip
def test_one_rate_in_many_spellings(text: str) -> None:
    measure, per_m2, printed = rate(text)
    assert (measure, printed) == ("mL", "1.5 fl oz per 1,000 sq ft")
    assert per_m2 == pytest.approx(float(Fraction(3, 2) * FL_OZ_ML / (1000 * FT_M**2)), rel=1e-14)


@pytest.mark.parametrize(
    ("text", "m2"),
    [
        ("5,000 sq ft", float(5000 * FT_M**2)),
        ("1/4 acre", float(10_890 * FT_M**2)),
        ("250 m²", 250.0),
        ("1.2 hectares", 12_000.0),
        (".5 acres", float(21_780 * FT_M**2)),
    ],
)
def test_surfaces(text: str, m2: float) -> None:
    number, unit = typed(text, SURFACE_M2)
    assert number * SURFACE_M2[unit] == pytest.approx(m2, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "does not start with a number"),
        ("five sq ft", "does not start with a number"),
        ("-5 sq ft", "does not start with a number"),
        ("0 sq ft", "no amount above zero"),
        ("1/0 sq ft", "no amount above zero"),
        ("5000", "no unit known here; units are sq ft"),
        ("1,5 acre", "no unit known here"),  # a decimal has a point: never 1.5, never 15
        ("10,00 sq ft", "no unit known here"),
        ("5000 sq fr", "did you mean 'sq ft'?"),
        ("1e3 sq ft", "no unit known here"),
        ("5 fl oz", "no unit known here"),
    ],
)
def test_what_is_no_surface_is_refused_in_a_sentence(text: str, told: str) -> None:
    with pytest.raises(ValueError, match=told.replace("?", r"\?")):
        typed(text, SURFACE_M2)


def test_the_units_of_a_rate_are_told_in_two_short_lists() -> None:
    with pytest.raises(ValueError, match=r"units are gal, qt, .*, each per 1000 sq ft, acre, 100 m2, ha$"):
        rate("1 cup per lawn")


def test_shorthand_of_the_trade_is_read_and_never_taken_for_something_else() -> None:
    assert rate("2 lb/A") == rate("2 lb/acre")
    assert carrier("40 GPA") == carrier("40 gal/acre")
    assert typed("1/4 ac", SURFACE_M2) == (0.25, "acre")
    with pytest.raises(ValueError, match=r"no unit known here; units are"):
        rate("2 lb ai/lawn")


def test_ounces_by_weight_are_never_fluid_ones() -> None:
    assert product_amount("1 oz")[0] == "g"
    assert product_amount("1 fl oz")[0] == "mL"
    assert rate("1 oz/1000 sq ft")[0] == "g"


def test_lengths() -> None:
    assert lengths_m("60 x 25 ft", 2) == pytest.approx((18.288, 7.62), rel=1e-14)
    assert lengths_m("60 ft × 25 ft", 2) == lengths_m("60x25ft", 2)
    assert lengths_m("20 yd x 9 m", 2) == pytest.approx((18.288, 9.0), rel=1e-14)
    for wrong in ("60 ft", "60 x 25", "60 x 25 x 3 ft", "x 25 ft", "0 x 25 ft"):
        with pytest.raises(ValueError, match=r"length|number|amount|unit"):
            lengths_m(wrong, 2)


@given(
    st.sampled_from(list(RATE)),
    st.decimals(min_value="0.001", max_value="9999", places=3).map(lambda value: f"{value:f}"),
)
def test_what_is_printed_reads_back_as_it_was(unit: str, number: str) -> None:
    measure, per_m2, printed = rate(f"{number} {unit}")
    again = rate(printed)
    assert (again[0], again[2]) == (measure, printed)
    assert again[1] == pytest.approx(per_m2, rel=1e-9)


@given(st.one_of(st.text(max_size=30), st.from_regex(r"[0-9]{1,400}(/[0-9]{1,9})? (sq ft|acre|ha)", fullmatch=True)))
def test_any_text_is_an_amount_or_a_sentence(text: str) -> None:
    try:
        number, unit = typed(text, SURFACE_M2)
    except ValueError:
        return
    assert 0 < number < 1e9
    assert unit in SURFACE_M2
