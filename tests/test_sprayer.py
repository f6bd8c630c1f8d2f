"""What a sprayer puts down, by the worked examples of calibration sheets."""

from __future__ import annotations

import json
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from forecast.amounts import CARRIER, FLOW_L_S, LENGTH_M, SPEED_M_S, SURFACE_M2, VOLUME_L
from forecast.cli import cli
from forecast.errors import DataError
from forecast.schedule.sprayer import carrier_l_per_m2, course_m, flow_for_l_s, off_nozzles, speed_for_m_s


def _go(*arguments: str) -> Result:
    return CliRunner().invoke(cli, ["sprayer", *arguments])


def _report(*arguments: str) -> dict[str, Any]:
    done = _go(*arguments, "--json")
    assert done.exit_code == 0, done.output
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def _text(*arguments: str) -> str:
    done = _go(*arguments)
    assert done.exit_code == 0, done.output
    return " ".join(done.stdout.replace("\u00a0", " ").split())


def _gal_per_acre(*arguments: str) -> float:
    return float(_report(*arguments)["puts_down_l_per_m2"]) / CARRIER["gal/acre"]


# Ohio State University Extension Bulletin 817 and Louisiana State University: feet to drive for a 128th of an acre, by
# the distance of nozzles in inches. Printed figures are cut to whole feet.
COURSES = {
    10: 408, 12: 340, 14: 291, 16: 255, 18: 227, 20: 204, 22: 185, 24: 170, 26: 157, 28: 146, 30: 136, 32: 127, 34: 120,
    36: 113, 38: 107, 40: 102,
}  # fmt: skip


@pytest.mark.parametrize(("inches", "feet"), COURSES.items())
def test_the_course_of_a_128th_of_an_acre(inches: int, feet: int) -> None:
    found = course_m(SURFACE_M2["acre"] / 128, inches * LENGTH_M["in"]) / LENGTH_M["ft"]
    assert found == pytest.approx(4083.75 / inches, rel=1e-12)  # 43,560 × 12/128
    assert found == pytest.approx(feet, abs=1)


def test_the_course_is_told() -> None:
    assert "Drive 204 ft, at the pace that you spray with" in _text("--width", "20 in")
    assert _report("--width", "20 in")["course_m"] == pytest.approx(4083.75 / 20 * 0.3048, rel=1e-12)


def test_the_constant_of_handbooks() -> None:
    """gal/acre = 5940 × gal/min / (mph × in): 43,560 × 12 / 88, since 1 mph = 88 ft/min."""
    found = carrier_l_per_m2(FLOW_L_S["gal/min"], SPEED_M_S["mph"], LENGTH_M["in"]) / CARRIER["gal/acre"]
    assert found == pytest.approx(43_560 * 12 / 88, rel=1e-12)
    assert found == pytest.approx(5940, rel=1e-12)
    assert SPEED_M_S["mph"] / SPEED_M_S["ft/min"] == pytest.approx(88, rel=1e-12)
    # Metric: L/ha = 600 × L/min / (km/h × m).
    metric = carrier_l_per_m2(FLOW_L_S["L/min"], SPEED_M_S["km/h"], 1.0) / CARRIER["L/ha"]
    assert metric == pytest.approx(600, rel=1e-12)


def test_a_boom() -> None:
    # Albany County (Wyoming) Weed and Pest: 3.75 gal/min at 5 mph over 222 in, printed as 20 gal an acre.
    boom = ("--speed", "5 mph", "--width", "222 in")
    assert _gal_per_acre("--flow", "3.75 gal/min", *boom) == pytest.approx(5940 * 3.75 / (5 * 222), rel=1e-12)
    assert _gal_per_acre("--flow", "3.75 gal/min", *boom) == pytest.approx(20, abs=0.1)
    # The same as 480 fl oz/min: 46.40625 × fl oz/min / (mph × in).
    assert _gal_per_acre("--flow", "480 fl oz/min", *boom) == pytest.approx(46.40625 * 480 / 1110, rel=1e-12)


def test_a_hand_gun() -> None:
    # pesticidestewardship.org: 1,000 sq ft (5 ft × 200 ft) in 77, 79 and 78 s; 5.25 gal caught in 78 s: 5.25 gal per
    # 1,000 sq ft, 228.7 gal an acre.
    gun = ("--took", "78 s", "--on", "1000 sq ft", "--caught", "5.25 gal", "--in", "78 s")
    assert _gal_per_acre(*gun) == pytest.approx(5.25 * 43.56, rel=1e-12)
    assert _gal_per_acre(*gun) == pytest.approx(228.7, abs=0.05)
    # Mesa County (Colorado): 150 fl oz in 75 s on 18.5 × 18.5 ft, printed as 150 gal an acre (the sheet takes 342.25
    # sq ft for a 128th of an acre, which is 340.3).
    sheet = ("--took", "75 s", "--on", "342.25 sq ft", "--caught", "150 fl oz", "--in", "75 s")
    assert _gal_per_acre(*sheet) == pytest.approx(150, rel=0.01)
    # 40 fl oz caught on a 128th of an acre are 40 gal an acre: 1 qt an acre is 0.8 fl oz to each gallon (32/40).
    small = _gal_per_acre("--sprayed", "40 fl oz", "--on", "340.3125 sq ft")
    assert small == pytest.approx(40, rel=1e-12)
    assert 32 / small == pytest.approx(0.8, rel=1e-12)


def test_a_catch_along_a_row() -> None:
    """Louisiana State University: 14 fl oz in 17 s from both nozzles of a 40-inch row, over 102 ft: 14 gal an acre."""
    speed = 102 / 17 * 60  # ft/min
    found = _gal_per_acre("--flow", f"{14 / 17 * 60} fl oz/min", "--speed", f"{speed} ft/min", "--width", "40 in")
    assert found == pytest.approx(14, abs=0.02)


def test_what_to_change_is_told_in_what_was_measured() -> None:
    """60 fl oz in 30 s for 78 s are 156 fl oz, 1.21875 gal: for one gallon 1,000 sq ft should take 64 s."""
    pace = ("--took", "78 s", "--on", "1000 sq ft", "--caught", "60 fl oz", "--in", "30 s")
    text = _text(*pace, "--wanted", "1 gal/1000 sq ft")
    assert "1.22 gal per 1,000 sq ft (53.1 gal per acre), 22 % more than the 1 gal per 1,000 sq ft wanted" in text
    assert "Walk faster: 1,000 sq ft in 64 s, not 78 s." in text
    assert "Never make up for it with more or less product" in text
    assert "Walk slower: 1,000 sq ft in 128 s, not 78 s." in _text(*pace, "--wanted", "2 gal/1000 sq ft")
    boom = _text("--flow", "0.4 gal/min", "--speed", "3 mph", "--width", "20 in", "--wanted", "30 gal/acre")
    # 5940 × 0.4/60 = 39.6; for 30: 3 × 39.6/30 = 3.96 mph, or 0.4 × 30/39.6 = 0.303 gal/min.
    assert "Go faster, at 3.96 mph; or set a flow of 0.303 gal/min" in boom
    metric = _text("--sprayed", "5 L", "--on", "100 m2", "--wanted", "4 L/100 m2", "--units", "si")
    assert "5 L per 100 m² (500 L per ha), 25 % more" in metric


@pytest.mark.parametrize(("litres", "near"), [("4.2 L", True), ("4.21 L", False), ("3.8 L", True), ("3.79 L", False)])
def test_within_five_per_cent_is_near_enough(litres: str, near: bool) -> None:
    found = _report("--sprayed", litres, "--on", "100 m2", "--wanted", "4 L/100 m2")
    assert found["near_enough"] is near


def test_a_nozzle_a_tenth_off_is_named() -> None:
    """14, 13.5 and 11 fl oz: the middle one is 13.5; 11 is 19 % under, 14 is 4 % over. 28 blames no 14 beside it."""
    assert off_nozzles([14, 13.5, 11]) == [2]
    assert off_nozzles([14, 14, 28]) == [2]
    text = _text("--nozzle", "14 fl oz", "--nozzle", "13.5 fl oz", "--nozzle", "11 fl oz")
    assert "Nozzle 3: 19 % less than the middle one: clean it" in text
    assert "Nozzle 1: 4 % more than the middle one: good" in text


@given(
    wanted=st.floats(0.001, 1.0), flow=st.floats(0.001, 10.0), speed=st.floats(0.1, 10.0), width=st.floats(0.1, 20.0)
)
def test_what_is_told_to_be_set_gives_what_is_wanted(wanted: float, flow: float, speed: float, width: float) -> None:
    assert carrier_l_per_m2(flow_for_l_s(wanted, speed, width), speed, width) == pytest.approx(wanted, rel=1e-12)
    assert carrier_l_per_m2(flow, speed_for_m_s(wanted, flow, width), width) == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize("arguments", [("--took", "78 s"), ("--sprayed", "1 gal", "--on", "5 sq ft", "--took", "3 s")])
def test_figures_of_half_a_way_or_of_two_are_refused(arguments: tuple[str, ...]) -> None:
    done = _go(*arguments)
    assert done.exit_code == 2
    assert "give the figures of one way, all of them" in done.output


def test_nothing_measured_and_one_nozzle_are_refused() -> None:
    for arguments, told in (((), "nothing was measured"), (("--nozzle", "1 L"), "one nozzle has none")):
        done = _go(*arguments)
        assert isinstance(done.exception, DataError)
        assert told in str(done.exception)
    assert VOLUME_L["gal"] == 3.785411784
