"""``forecast mix``: worked examples of handbooks, what never passes a label, and what a person reads."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from demo_workspace import demo_copy
from hypothesis import given
from hypothesis import strategies as st

from forecast.amounts import CARRIER, RATE, SURFACE_M2, VOLUME_L
from forecast.cli import cli
from forecast.desk.mixing import Product, Tank, mix_sheet
from forecast.errors import DataError
from forecast.report.mix import SurfacePart, amount_words, steps
from forecast.schedule.mixing import FORMULATIONS, marks_down, place_in_order
from forecast.schedule.surface import circle_m2, polygon_m2, rectangle_m2, triangle_m2
from forecast.units import M2_PER_SQ_FT, M_PER_FT, ML_PER_FL_OZ

ONE_GALLON = ("--carrier", "1 gal/1000 sq ft", "--tank", "1 gal")


def _go(*arguments: str | Path) -> Result:
    return CliRunner().invoke(cli, ["mix", *(str(one) for one in arguments)])


def _text(*arguments: str | Path) -> str:
    done = _go(*arguments)
    assert done.exit_code == 0, done.output
    return " ".join(done.stdout.replace("\u00a0", " ").split())


def _sheet(*arguments: str | Path) -> dict[str, Any]:
    done = _go(*arguments, "--json")
    assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_copy(tmp_path_factory.mktemp("mix") / "w")


# Surfaces.

L_SHAPE = ((0, 0), (60, 0), (60, 25), (20, 25), (20, 35), (0, 35))


@pytest.mark.parametrize(
    ("size_m2", "sq_ft"),
    [
        # Oklahoma State University-OKC 2013, turf measurements: 60 × 25 ft; a circle 80 ft across, 5,024 sq ft with
        # 3.14 for π; a triangle of 30 × 26 ft.
        (rectangle_m2(60 * M_PER_FT, 25 * M_PER_FT), 1500.0),
        (circle_m2(80 * M_PER_FT), 1600 * math.pi),
        (triangle_m2(30 * M_PER_FT, 26 * M_PER_FT), 390.0),
        # An L of 60 × 25 and 20 × 10 ft, by its corners.
        (polygon_m2([(x * M_PER_FT, y * M_PER_FT) for x, y in L_SHAPE]), 1700.0),
    ],
)
def test_surfaces_of_a_handbook(size_m2: float, sq_ft: float) -> None:
    assert size_m2 / M2_PER_SQ_FT == pytest.approx(sq_ft, rel=1e-12)
    assert circle_m2(80 * M_PER_FT) / M2_PER_SQ_FT == pytest.approx(5024, rel=6e-4)  # as printed


def test_parts_add_up_and_beds_are_taken_off() -> None:
    sheet = _sheet(
        "--rectangle", "60 x 25 ft", "--circle", "80 ft", "--triangle", "30 x 26 ft",
        "--polygon", "0,0 60,0 60,25 0,25 ft", "--less", "390 sq ft", "--rate", "1 fl oz/1000 sq ft", *ONE_GALLON,
    )  # fmt: skip
    assert sheet["size_m2"] / M2_PER_SQ_FT == pytest.approx(1500 + 1600 * math.pi + 390 + 1500 - 390, rel=1e-12)
    assert len(sheet["parts"]) == 5
    assert sum(part["size_m2"] for part in sheet["parts"]) == pytest.approx(sheet["size_m2"], rel=1e-12)


@pytest.mark.parametrize(
    "corners", ["0,0 10,10 10,0 0,10 ft", "0,0 10,0 ft", "0,0 5,0 10,0 ft", "0,0 10,0 10,10", "a,b ft"]
)
def test_a_shape_that_is_none_is_refused(corners: str) -> None:
    done = _go("--polygon", corners, "--rate", "1 fl oz/1000 sq ft", *ONE_GALLON)
    assert done.exit_code == 2
    assert "--polygon" in done.output


# Quantities.


def test_common_practice_of_one_gallon_and_one_fluid_ounce() -> None:
    """1 fl oz preventive in 1 gal per 1,000 sq ft, at most 16 fl oz a year: common practice, no source."""
    sheet = _sheet(
        "--size", "1,000 sq ft", "--rate", "1 fl oz/1000 sq ft", *ONE_GALLON, "--most-per-year", "16 fl oz/1000 sq ft"
    )
    (load,) = sheet["loads"]
    assert load["count"] == 1
    assert load["mix_l"] == pytest.approx(VOLUME_L["gal"], rel=1e-12)
    assert load["products"][0]["exact"] == pytest.approx(ML_PER_FL_OZ, rel=1e-12)
    assert sheet["products"][0]["times_a_year"] == 16
    assert _sheet("--size", "1,000 sq ft", "--rate", "2 fl oz/1000 sq ft", *ONE_GALLON, "--most-per-year",
                  "16 fl oz/1000 sq ft")["products"][0]["times_a_year"] == 8  # fmt: skip


@pytest.mark.parametrize(
    ("size", "rate", "unit", "amount", "within"),
    [
        # Oklahoma State University-OKC 2013: 3.6 pt an acre on 25 acres are 11.25 gal.
        ("25 acre", "3.6 pt/acre", "gal", 11.25, 1e-12),
        # The same: 3.6 pt an acre is 1.3 fl oz per 1,000 sq ft (3.6 × 16/43.56 = 1.3223).
        ("1000 sq ft", "3.6 pt/acre", "fl oz", 57.6 / 43.56, 1e-12),
        # An item of the kind set in Maryland's exams: 1/4 acre at 2 oz per 1,000 sq ft takes 21.78 oz.
        ("1/4 acre", "2 oz/1000 sq ft", "oz", 21.78, 1e-12),
        # A partial load of an agrochemical safety text: 3.5 acres at 3 lb an acre take 10.5 lb.
        ("3.5 acre", "3 lb/acre", "lb", 10.5, 1e-12),
    ],
)
def test_product_of_worked_examples(size: str, rate: str, unit: str, amount: float, within: float) -> None:
    sheet = _sheet("--size", size, "--rate", rate, "--carrier", "40 gal/acre", "--tank", "200 gal")
    in_unit = sheet["products"][0]["whole"] / RATE[f"{unit}/acre"][1] / SURFACE_M2["acre"]
    assert in_unit == pytest.approx(amount, rel=within)


def test_mix_of_worked_examples() -> None:
    # Oklahoma State University-OKC 2013: 40 gal an acre are 0.92 gal per 1,000 sq ft (40/43.56).
    assert CARRIER["gal/acre"] * 40 / CARRIER["gal/1000 sq ft"] == pytest.approx(0.9183, abs=5e-5)
    # An agrochemical safety text: 3.5 acres at 15 gal an acre are 52.5 gal, a partial load of 100.
    sheet = _sheet("--size", "3.5 acre", "--rate", "3 lb/acre", "--carrier", "15 gal/acre", "--tank", "100 gal")
    assert sheet["mix_l"] / VOLUME_L["gal"] == pytest.approx(52.5, rel=1e-12)
    assert [load["count"] for load in sheet["loads"]] == [1]
    # A guide to turf booms: 200 gal at 20 gal an acre cover 10 acres.
    sheet = _sheet("--size", "30 acre", "--rate", "3 lb/acre", "--carrier", "20 gal/acre", "--tank", "200 gal")
    (load,) = sheet["loads"]
    assert load["count"] == 3
    assert load["covers_m2"] / SURFACE_M2["acre"] == pytest.approx(10, rel=1e-12)


@given(
    size_m2=st.floats(1.0, 50_000.0),
    rate_per_m2=st.floats(0.001, 5.0),
    carrier=st.floats(0.01, 0.5),
    tank_l=st.floats(1.0, 2000.0),
    mark=st.floats(0.5, 100.0),
)
def test_no_load_takes_more_than_its_rate(
    size_m2: float, rate_per_m2: float, carrier: float, tank_l: float, mark: float
) -> None:
    product = Product("x", "mL", rate_per_m2, "as printed")
    tank = Tank(carrier, "as printed", tank_l, ("mL", mark, "as typed"))
    try:
        sheet = mix_sheet([SurfacePart("a", size_m2)], [product], tank, us=False)
    except DataError:
        # One mark is more than the last load, which is no smaller than a quarter of a tank or all of the surface.
        assert mark > rate_per_m2 * min(size_m2, 0.25 * tank_l / carrier) * (1 - 1e-8)
        return
    assert sum(load.count * load.covers_m2 for load in sheet.loads) == pytest.approx(size_m2, rel=1e-9)
    for load in sheet.loads:
        (one,) = load.products
        assert one.marks is not None
        assert one.measured == one.marks * mark
        assert one.measured <= rate_per_m2 * load.covers_m2 * (1 + 1e-8)
        assert one.exact - one.measured < mark * (1 + 1e-8)
        assert load.mix_l <= tank_l * (1 + 1e-9)


@given(st.floats(0.01, 1e6), st.sampled_from(["mL", "g"]), st.booleans())
def test_what_is_printed_is_never_more_than_what_is_meant(amount: float, measure: str, us: bool) -> None:
    printed = amount_words(amount, measure, us=us).replace("\u00a0", " ")
    number, unit = printed.split(" (")[0].replace(",", "").split(" ", 1)
    unit = unit.removesuffix(" by weight")
    of = {"mL": 1.0, "L": 1000.0, "g": 1.0, "kg": 1000.0, "fl oz": ML_PER_FL_OZ, "oz": 28.349523125}[unit]
    assert float(number) * of <= amount * (1 + 2e-9)
    assert float(number) * of >= amount * (1 - 0.0101)  # three figures


@pytest.mark.parametrize(("amount", "mark", "marks"), [(29.57, 5.0, 5), (30.0, 5.0, 6), (0.3, 0.1, 3), (4.99, 5.0, 0)])
def test_marks_are_counted_down(amount: float, mark: float, marks: int) -> None:
    assert marks_down(amount, mark) == marks


def test_a_mark_that_loses_much_is_told_and_one_that_is_too_large_refused() -> None:
    """0.9 fl oz with half-ounce marks: one mark, 44 % too little (1 − 0.5/0.9)."""
    coarse = ("--size", "1000 sq ft", "--rate", "0.9 fl oz/1000 sq ft", *ONE_GALLON)
    text = _text(*coarse, "--mark", "0.5 fl oz")
    assert "1 mark of 0.5 fl oz, 0.5 fl oz (14.7 mL)" in text
    assert "In load 1 whole marks give 44 % less" in text
    assert "at 0.9 fl oz per 1,000 sq ft; 0.5 fl oz (14.7 mL) in whole marks" in text
    assert "not counted as protection" in text
    assert "In load 1 whole marks" not in _text(*coarse, "--mark", "1 mL")
    refused = _go(*coarse, "--mark", "1 fl oz")
    assert isinstance(refused.exception, DataError)
    assert "one mark of the measure is more than load 1 takes" in str(refused.exception)
    by_weight = _go(*coarse, "--mark", "1 g")
    assert isinstance(by_weight.exception, DataError)
    assert "without a density" in str(by_weight.exception.hint)


# The tank.


def test_products_go_in_by_their_formulation() -> None:
    """Virginia Cooperative Extension BSE-351: powders, granules, flowables, emulsions, then the rest."""
    order = sorted(("adjuvant", "SL", "EC", "SC", "WG", "WP", "bag", "conditioner"), key=place_in_order)
    assert order == ["conditioner", "bag", "WP", "WG", "SC", "EC", "SL", "adjuvant"]
    text = _text(
        "--size", "1000 sq ft", "--rate", "1 fl oz/1000 sq ft", "--product", "First", "--formulation", "sc",
        *ONE_GALLON, "--also", "Spreader; adjuvant; 0.5 fl oz/1000 sq ft",
        "--also", "Powder; WP; 2 oz/1000 sq ft",
    )  # fmt: skip
    assert text.index("of Powder, with") < text.index("of First, with") < text.index("of Spreader, with")
    assert "into a jar" in text
    too_many = _go(
        "--size", "1000 sq ft", "--rate", "1 fl oz/1000 sq ft", *ONE_GALLON,
        *(word for name in "abc" for word in ("--also", f"{name}; WP; 2 oz/1000 sq ft")),
    )  # fmt: skip
    assert isinstance(too_many.exception, DataError)
    assert all(place_in_order(code) == place for code, (place, _) in FORMULATIONS.items())


def test_half_full_add_shake_top_up_shake() -> None:
    """Common practice, no source."""
    text = _text("--size", "5000 sq ft", "--rate", "1 fl oz/1000 sq ft", *ONE_GALLON)
    words = (
        "Put on the protective gear", "Fill the tank half: 0.5 gal", "Measure 1 fl oz (29.5 mL)", "kept for it alone",
        "shake", "Top up with water to 1 gal", "shake again", "leaves wet, not running off", "each further load",
        "Keep people and pets off until the spray has dried", "The label on the container is the law",
    )  # fmt: skip
    places = [text.index(word) for word in words]
    assert places == sorted(places)
    large = _text(
        "--size", "1 acre", "--rate", "1 fl oz/1000 sq ft", "--carrier", "1 gal/1000 sq ft", "--tank", "50 gal"
    )
    assert "shake" not in large
    assert "agitator" in large


def test_metric_users_read_metric() -> None:
    text = _text("--size", "500 m2", "--rate", "30 mL/100 m2", "--carrier", "4 L/100 m2", "--tank", "5 L")
    assert "150 mL in all, at 30 mL per 100 m2" in text
    assert "Loads 1 to 4, each: 37.5 mL of the product, topped up to 5 L; covers 125 m²." in text
    assert "sq ft" not in text
    assert "gal" not in text.replace("legal", "")


# Wrong calls.


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "needs a surface (such as --size), --rate, --carrier, --tank"),
        (("--size", "5 sq ft", "--rate", "1 fl oz/1000 sq ft"), "needs --carrier, --tank"),
        (("--less", "5 sq ft", "--rate", "1 fl oz/1000 sq ft", *ONE_GALLON), "needs a surface"),
        (("--size", "5", "--rate", "1 fl oz/1000 sq ft", *ONE_GALLON), "no unit known here"),
        (("--size", "5 sq ft", "--rate", "1 fl oz", *ONE_GALLON), "each per 1000 sq ft, acre, 100 m2, ha"),
        (("--size", "5 sq ft", "--rate", "1 oz/acre", "--most-per-year", "1 pt/acre", *ONE_GALLON), "both be volumes"),
        (("--size", "5 sq ft", "--rate", "1 oz/acre", "--disease", "brown_patch", *ONE_GALLON), "goes with an AREA"),
        (("--size", "5 sq ft", "--rate", "1 oz/acre", "--formulation", "XX", *ONE_GALLON), "known are conditioner"),
        (("--size", "5 sq ft", "--rate", "1 oz/acre", "--also", "x; WP", *ONE_GALLON), "name; formulation; rate"),
        (("north-field", "--carrier", "1 gal/acre"), "leave out --carrier"),
    ],
)
def test_a_wrong_call_says_what_is_wanted(arguments: tuple[str, ...], told: str) -> None:
    done = _go(*arguments)
    assert done.exit_code == 2
    assert told in " ".join(done.output.split())


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--size", "5 sq ft", "--less", "6 sq ft"), "nothing is left"),
        (("--size", "5 sq ft", "--most-per-year", "0.9 fl oz/1000 sq ft"), "above its yearly limit"),
        (("--size", "5 sq ft", "--also", "the product; WP; 1 oz/acre"), "the same name"),
        (("--size", "5 sq ft", "--also", "x; SC; 1 gal/1000 sq ft"), "the products alone are more than"),
    ],
)
def test_what_cannot_be_is_refused(arguments: tuple[str, ...], told: str) -> None:
    done = _go(*arguments, "--rate", "1 fl oz/1000 sq ft", *ONE_GALLON)
    assert isinstance(done.exception, DataError)
    assert told in str(done.exception)


# By an area's label and records.


def test_an_area_goes_by_its_size_label_and_records(demo: Path) -> None:
    """43,560 sq ft at 1.5 fl oz per 1,000 sq ft: 65.34 fl oz. Of 12 a year 522.72, less the 130.68 of two records."""
    sheet = _sheet("north field", "-w", demo)
    (product,) = sheet["products"]
    assert product["whole"] / ML_PER_FL_OZ == pytest.approx(65.34, rel=1e-9)
    assert product["left_this_year"] / ML_PER_FL_OZ == pytest.approx(12 * 43.56 - 130.68, rel=1e-3)
    text = _text("north-field", "-w", demo)
    assert "are invented: never use a figure" in text
    assert "The label on file says: long sleeves" in text
    assert "By the preventive row of Alder One" in text
    established = _sheet("north-field", "-w", demo, "--condition", "established")
    assert established["products"][0]["rate_as_printed"] == "2.5 fl oz per 1,000 sq ft"


def test_what_no_label_permits_has_no_sheet(demo: Path) -> None:
    for arguments, told in (
        (("north-field", "--disease", "dollar_spot"), "does not list this disease"),
        (("green", "--disease", "dollar_spot", "--condition", "established"), "no row for this disease on this grass"),
        (("green",), "name one with --disease"),
        (("north-field", "--label", "nothing"), "no label 'nothing'"),
        (("north-field", "--disease", "rust"), "no disease known here"),
        (("nowhere",), "no area 'nowhere'"),
    ):
        done = _go(*arguments, "-w", demo)
        assert isinstance(done.exception, DataError), (arguments, done.output)
        assert told in f"{done.exception} {done.exception.hint}"


def test_too_early_for_the_label_is_told_first(tmp_path: Path) -> None:
    own = demo_copy(tmp_path / "w")
    use = ("--label", "alder-one", "--disease", "brown_patch", "--on", "2050-07-20", "--amount", "65 fl oz")
    done = CliRunner().invoke(cli, ["record", "application", "north-field", *use, "-w", str(own)])
    assert done.exit_code == 0, done.output
    text = _text("north-field", "-w", own)
    assert text.index("NOT TODAY. Alder One (invented product) is permitted here from Wed 3 Aug on") < text.index(
        "1. Put on"
    )
    assert "the label wants 14 days after the last one, of Wed 20 Jul" in text


def test_steps_name_the_first_load_where_loads_differ() -> None:
    product = Product("x", "mL", 1.0, "as printed")
    sheet = mix_sheet([SurfacePart("a", 160.0)], [product], Tank(0.1, "as printed", 10.0), us=False)
    assert [load.mix_l for load in sheet.loads] == pytest.approx([10.0, 6.0])
    assert any("half for the first load: 5\u00a0L" in step for step in steps(sheet))


def test_the_sheet_can_be_saved(tmp_path: Path) -> None:
    path = tmp_path / "mix.txt"
    done = _go("--size", "5 sq ft", "--rate", "1 fl oz/1000 sq ft", *ONE_GALLON, "--save", path)
    assert done.exit_code == 0
    assert path.read_text(encoding="utf-8") == done.stdout


def _spent(demo: Path, **of_label: str) -> Path:
    """The demo with a limit of 4.4 fl oz a year: 130.7 fl oz were used of 191.7, and 65.3 are wanted."""
    path = demo / "labels.toml"
    text = path.read_text().replace("amount = 12.0", "amount = 4.4")
    more = "".join(f"{name} = {value}\n" for name, value in of_label.items())
    path.write_text(text.replace("rain_free_hours = 3\n", f"rain_free_hours = 3\n{more}"))
    return demo


def test_a_spent_limit_is_named_and_never_taken_for_next_years_room(tmp_path: Path) -> None:
    own = _spent(demo_copy(tmp_path / "w"))
    done = _go("north-field", "-w", own)
    assert isinstance(done.exception, DataError)
    assert "the label's yearly limit would be passed" in str(done.exception)
    page = CliRunner().invoke(cli, ["morning", "-w", str(own)]).stdout
    assert "the label's yearly limit would be passed" in " ".join(page.split())
    soon = _spent(demo_copy(tmp_path / "v"), year='"season"', season_start='"08-15"')
    text = _text("north-field", "-w", soon)
    assert "NOT TODAY. Alder One (invented product) is permitted here from Mon 15 Aug on: the label's yearly" in text
    page = CliRunner().invoke(cli, ["morning", "-w", str(soon)]).stdout
    assert "no label allows an application in time: Alder One (invented product), the label's yearly" in " ".join(
        page.split()
    )


def test_a_rate_within_the_labels_row_may_be_chosen_and_no_other(tmp_path: Path) -> None:
    own = demo_copy(tmp_path / "w")
    path = own / "labels.toml"
    path.write_text(path.read_text().replace("rate = { amount = 1.5,", "rate = { amount = 1.5, most = 2.0,"))
    sheet = _sheet("north-field", "-w", own)
    assert sheet["products"][0]["rate_as_printed"] == "1.5 to 2 fl oz per 1,000 sq ft"
    assert sheet["products"][0]["whole"] / ML_PER_FL_OZ == pytest.approx(65.34, rel=1e-9), "the least of the row"
    more = _sheet("north-field", "-w", own, "--rate", "2 fl oz/1000 sq ft")
    assert more["products"][0]["whole"] / ML_PER_FL_OZ == pytest.approx(87.12, rel=1e-9)
    for rate in ("2.1 fl oz/1000 sq ft", "1.4 fl oz/1000 sq ft", "2 oz/1000 sq ft"):
        done = _go("north-field", "-w", own, "--rate", rate)
        assert isinstance(done.exception, DataError)
        assert "outside the label's row" in str(done.exception)


def test_what_was_not_checked_and_what_took_the_place_of_the_usual_is_told(demo: Path) -> None:
    text = _text("green", "-w", demo, "--disease", "brown_patch", "--also", "Spreader; adjuvant; 0.5 fl oz/1000 sq ft")
    assert "Not Reach Two (invented product), which is used here: the label wants 14 days after the last one" in text
    assert "Only Alder One (invented product) was checked against label and records, and not Spreader." in text
    assert "Mix for North field, Wren Hill School of 4,047 m²" in _text("north-field", "-w", demo, "--units", "si")
