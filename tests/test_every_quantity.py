"""The vocabulary's contract, and the factors at its door."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forecast import units
from forecast.ingest import ghcnh, grid_intervals, hour_columns, meteostat_source
from forecast.ingest.imported import Grade, IssuedForecast, Provider, from_one
from forecast.ingest.logger.questions import KEYS
from forecast.ingest.typical_year import TypicalYear, as_hours
from forecast.quantities import (
    QUANTITIES,
    READABLE,
    UNIT_SUFFIXES,
    Flag,
    GapRule,
    Kind,
    Origin,
    Quantity,
    short_name,
    unit_suffix,
)
from forecast.units import IMPORT_UNITS, f_from_c, units_of, ways_in

SI_BROCHURE = "SI brochure, 9th edition"
SP_811 = "NIST SP 811, appendix B.8 (figure from memory)"
BY_DEFINITION = "by definition"

# Ending of the name, unit in a file, figure in the file, figure inside, source.
FACTORS = [
    ("c", "F", 32.0, 0.0, "Fahrenheit's ice point: " + SP_811),
    ("c", "F", 212.0, 100.0, "Fahrenheit's boiling point: " + SP_811),
    ("c", "K", 273.15, 0.0, SI_BROCHURE),
    ("c", "C", -40.0, -40.0, BY_DEFINITION),
    ("pct", "fraction", 0.5, 50.0, BY_DEFINITION),
    ("mm", "in", 1.0, 25.4, SP_811),
    ("mm", "cm", 1.0, 10.0, SI_BROCHURE),
    ("m_s", "mph", 1.0, 0.44704, "1609.344 m in 3600 s: " + SP_811),
    ("m_s", "kn", 1.0, 1852 / 3600, "a nautical mile of 1852 m in 3600 s: " + SP_811),
    ("m_s", "km/h", 3.6, 1.0, "1000 m in 3600 s"),
    ("hpa", "mbar", 1013.25, 1013.25, "1 mbar = 100 Pa: " + SP_811),
    ("hpa", "kPa", 1.0, 10.0, SI_BROCHURE),
    ("hpa", "Pa", 100.0, 1.0, SI_BROCHURE),
    ("hpa", "inHg", 1.0, 33.86389, "conventional inch of mercury, 3386.389 Pa: " + SP_811),
    ("fraction", "%", 25.0, 0.25, BY_DEFINITION),
    ("fraction", "oktas", 8.0, 1.0, "eighths of the sky, by definition"),
    ("fraction", "tenths", 10.0, 1.0, BY_DEFINITION),
]

# Bounds printed by others, read second-hand: what a station can report at all.
WMO = "WMO guidelines on quality control of automatic stations (Zahumensky 2004)"
BOUNDS = [
    ("air_temperature_c", -80, 60, WMO),
    ("dew_point_c", -80, 35, WMO),
    ("wind_speed_10m_m_s", 0, 75, WMO),
    ("pressure_hpa", 500, 1100, WMO),
    ("relative_humidity_pct", 0, 105, "Shafer et al. 2000, with a sensor's overshoot"),
    ("cloud_cover_fraction", 0, 1, BY_DEFINITION),
    ("leaf_wet_fraction", 0, 1, BY_DEFINITION),
    ("sun_elevation_deg", -90, 90, BY_DEFINITION),
    ("water_on_turf_mm", 0, 450, "house choice: the most hourly rain, 350 mm, and the most irrigation, 100 mm"),
    ("soil_temperature_5cm_c", -40, 60, "house choice, wider than any soil under turf"),
    ("soil_temperature_10cm_c", -40, 60, "house choice, wider than any soil under turf"),
    ("snow_depth_mm", 0, 12_000, "no depth below none; 11,820 mm on Mount Ibuki in 1927, the record (from memory)"),
]

DERIVED = ("sun_elevation_deg", "water_on_turf_mm")  # worked out here; a file's own would be a second truth
# Snow falls and melts in steps, so that no depth lies on a line between two others.
NEVER_ON_A_LINE = ("snow_depth_mm", "sun_elevation_deg")

every_quantity = pytest.mark.parametrize("quantity", QUANTITIES.values(), ids=str)


@every_quantity
def test_a_name_ends_in_its_unit_and_is_its_own_key(quantity: Quantity) -> None:
    assert QUANTITIES[quantity.name] is quantity
    assert quantity.name.endswith("_" + unit_suffix(quantity.name))
    assert quantity.unit == UNIT_SUFFIXES[unit_suffix(quantity.name)]
    assert quantity.name.removesuffix("_" + unit_suffix(quantity.name))


def test_the_longest_unit_ending_wins() -> None:
    # "wind_speed_10m_m_s" must not be read as anything shorter, nor "leaf_wet_fraction" as another unit.
    assert unit_suffix("wind_speed_10m_m_s") == "m_s"
    assert unit_suffix("shortwave_down_w_m2") == "w_m2"
    assert unit_suffix("leaf_wet_fraction") == "fraction"


def test_a_name_without_a_unit_is_refused() -> None:
    with pytest.raises(KeyError, match="temperature"):
        unit_suffix("temperature")


@every_quantity
def test_bounds_are_finite_and_in_order(quantity: Quantity) -> None:
    assert math.isfinite(quantity.least)
    assert math.isfinite(quantity.most)
    assert quantity.least < quantity.most
    if quantity.clip_to is not None:
        assert quantity.least < quantity.clip_to < quantity.most


@pytest.mark.parametrize(("name", "least", "most", "source"), BOUNDS)
def test_bounds_are_those_of_their_source(name: str, least: float, most: float, source: str) -> None:
    assert (QUANTITIES[name].least, QUANTITIES[name].most) == (least, most), source


@every_quantity
def test_meaning_and_source_are_given(quantity: Quantity) -> None:
    assert quantity.meaning.strip()
    assert quantity.source.strip()


@every_quantity
def test_a_gap_rule_fits_what_the_quantity_is(quantity: Quantity) -> None:
    # What is never filled has no limit; what is filled has one; only a state can lie on a line between two others.
    assert (quantity.gap_rule is GapRule.NEVER) == (quantity.gap_limit_hours == 0)
    on_a_line = quantity.kind is Kind.STATE and quantity.name not in NEVER_ON_A_LINE
    assert (quantity.gap_rule is GapRule.NEVER) == (not on_a_line)
    assert quantity.gap_limit_hours >= 0


def test_only_humidity_goes_through_vapour_pressure() -> None:
    through = [q.name for q in QUANTITIES.values() if q.gap_rule is GapRule.VAPOUR_PRESSURE]
    assert through == ["relative_humidity_pct"]


def test_every_unit_ending_is_used_and_can_be_imported() -> None:
    assert {unit_suffix(name) for name in QUANTITIES} == set(UNIT_SUFFIXES)
    assert set(IMPORT_UNITS) == {unit_suffix(name) for name in READABLE}


def test_what_is_worked_out_here_has_no_unit_to_come_in_by() -> None:
    assert tuple(name for name, quantity in QUANTITIES.items() if quantity.derived) == DERIVED
    assert set(READABLE) == set(QUANTITIES) - set(DERIVED)
    for name in QUANTITIES:
        assert (units_of(name) == ()) == (not ways_in(name)) == (name in DERIVED)
        if name in READABLE and name not in ("leaf_wet_fraction", "snow_depth_mm"):
            assert units_of(name) == tuple(IMPORT_UNITS[unit_suffix(name)])
    assert units_of("leaf_wet_fraction") == ("fraction", "%", "min", "counts", "mV", "kOhm")
    assert units_of("snow_depth_mm") == ("mm", "in", "cm", "m")
    assert "m" not in units_of("rain_mm"), "0.2 m of rain is a slip for 0.2 mm, and would lie within the bounds"
    assert not set(KEYS) & set(DERIVED)


def test_snow_in_metres_has_its_factor() -> None:
    # A metre has 1000 mm: SI brochure.
    np.testing.assert_array_equal(ways_in("snow_depth_mm")["m"](np.array([0.35, np.nan])), [350, np.nan])


def test_no_source_hands_over_what_is_worked_out_here() -> None:
    houses = {
        *ghcnh.NAMES.values(),
        *hour_columns.NAMES.values(),
        *grid_intervals.LAYERS.values(),
        *(house for house, _ in meteostat_source.NAMES.values()),
    }
    assert houses <= set(READABLE)


@pytest.mark.parametrize("name", DERIVED)
def test_nothing_that_is_worked_out_here_passes_the_door_of_any_source(name: str) -> None:
    hours = np.array(["2050-07-18T08"], "datetime64[h]")
    values = {"air_temperature_c": np.array([20.0]), name: np.array([30.0])}
    observer = Provider("made_up", "invented", Grade.OBSERVED)
    with pytest.raises(ValueError, match=f"{name}: the program works it out itself and never reads it"):
        from_one(hours, values, observer, "invented")
    steps = dict.fromkeys(values, np.array([1], np.uint8))
    with pytest.raises(ValueError, match="works it out itself"):
        IssuedForecast(hours, values, steps, Provider("made_up", "invented", Grade.MODEL), None, "invented", ())
    year = TypicalYear({name: np.zeros(8760)}, 40.0, -80.0, 200.0, -5.0, observer, "invented", ())
    with pytest.raises(ValueError, match="works it out itself"):
        as_hours(year, 2049)


def test_a_name_in_words_has_neither_unit_nor_the_height_that_all_winds_share() -> None:
    assert short_name("wind_speed_10m_m_s") == "wind speed"
    assert short_name("soil_temperature_5cm_c") == "soil temperature 5cm"
    assert short_name("snow_depth_mm") == "snow depth"


@pytest.mark.parametrize("suffix", IMPORT_UNITS)
def test_the_first_import_unit_is_the_one_inside(suffix: str) -> None:
    some = np.array([-1.5, 0.0, 7.25, np.nan])
    np.testing.assert_array_equal(next(iter(IMPORT_UNITS[suffix].values()))(some), some)


@pytest.mark.parametrize(("suffix", "unit", "given", "inside", "source"), FACTORS)
def test_a_factor_is_exact(suffix: str, unit: str, given: float, inside: float, source: str) -> None:
    found = IMPORT_UNITS[suffix][unit](np.array([given]))
    # 1e-12 of the unit: rounding of binary fractions only.
    np.testing.assert_allclose(found, [inside], rtol=0, atol=1e-12, err_msg=source)


def test_every_import_unit_but_those_inside_has_a_factor_tested() -> None:
    tested = {(suffix, unit) for suffix, unit, *_ in FACTORS}
    others = {(suffix, unit) for suffix, ways in IMPORT_UNITS.items() for unit in list(ways)[1:]}
    assert others <= tested


def test_measures_of_ground_and_product_are_exact() -> None:
    # NIST Handbook 44, appendix C (figures from memory): a foot of 0.3048 m, a US gallon of 231 in³, 128 fluid
    # ounces to it, a pound of 453.59237 g and 16 ounces to it. Tolerances: the last digit of binary fractions.
    litre = 231 * 2.54**3 / 1000
    assert pytest.approx(0.09290304, abs=1e-15) == units.M2_PER_SQ_FT
    assert pytest.approx(92.90304, abs=1e-12) == units.M2_PER_1000_SQ_FT
    assert pytest.approx(litre, abs=1e-12) == units.L_PER_US_GAL
    assert pytest.approx(1000 * litre / 128, abs=1e-9) == units.ML_PER_FL_OZ
    assert units.G_PER_LB == 453.59237
    assert pytest.approx(453.59237 / 16, abs=1e-12) == units.G_PER_OZ


def test_fahrenheit_is_printed_as_it_was_read() -> None:
    assert f_from_c(0.0) == 32.0
    assert f_from_c(100.0) == 212.0


def test_flags_are_on_the_qartod_scale() -> None:
    # 1 pass, 2 not evaluated, 3 suspect, 4 fail, 9 missing: U.S. IOOS QARTOD manuals; the worst is the largest.
    assert {flag.name: flag.value for flag in Flag} == {
        "GOOD": 1,
        "NOT_EVALUATED": 2,
        "SUSPECT": 3,
        "FAIL": 4,
        "MISSING": 9,
    }


def test_origins_keep_the_codes_they_are_stored_by() -> None:
    # The database holds these figures: a changed code would make old records lie.
    assert [(origin.name, origin.value) for origin in Origin] == [
        ("OBSERVED", 0),
        ("FILLED", 1),
        ("NEIGHBOUR", 2),
        ("WEATHER_FORECAST", 3),
        ("PAST_YEAR", 4),
    ]
