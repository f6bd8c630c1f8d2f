"""The root zone's water: FAO-56's worked examples, arithmetic shown, and what must hold of any balance."""

from __future__ import annotations

from datetime import date, time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from strategies import unhurried

from forecast.care import (
    TEXTURES,
    RootZone,
    day_light_fraction,
    root_zone,
    shaded_et0_mm,
    water_balance,
    water_now,
    watered_mm,
)
from forecast.care.soil import depletion_fraction, rooting_depth_of, texture_of
from forecast.care.soil_water import MOST_ET0_MM_DAY, WaterBalance, day_of_water, stress_coefficient
from forecast.clock import day_number
from forecast.panel import Floats
from forecast.turf import GRASSES, Ground, Irrigation, Setting

NAN = float("nan")
# A zone in which figures are easy: 40 mm in all; Kc 1; p 0.5 at 5 mm a day, so that RAW is 20 mm then.
EASY = RootZone(40.0, 0.5, 1.0)

# FAO-56 Table 19: θFC and θWP, least and most, m³ a m³, read second-hand in a public transcription.
FIELD_CAPACITY_AND_WILTING_POINT = {
    "sand": (0.07, 0.17, 0.02, 0.07),
    "loamy_sand": (0.11, 0.19, 0.03, 0.10),
    "sandy_loam": (0.18, 0.28, 0.06, 0.16),
    "loam": (0.20, 0.30, 0.07, 0.17),
    "silt_loam": (0.22, 0.36, 0.09, 0.21),
    "silt": (0.28, 0.36, 0.12, 0.22),
    "silty_clay_loam": (0.30, 0.37, 0.17, 0.24),
    "silty_clay": (0.30, 0.42, 0.17, 0.29),
    "clay": (0.32, 0.40, 0.20, 0.24),
}


def array(*values: float) -> Floats:
    return np.array(values, dtype=np.float64)


def balance(
    et0: Floats, rain: Floats, irrigation: Floats | None = None, start: float | None = None, zone: RootZone = EASY
) -> WaterBalance:
    water = np.zeros_like(rain) if irrigation is None else irrigation
    return water_balance(et0, rain, water, zone, start_mm=None if start is None else (start, start))


# --- the soil ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("p", "depth_m", "per_soil"),
    [
        # FAO-56 Example 36: (FC, WP) 0.15, 0.06 loamy sand; 0.32, 0.15 silt; 0.35, 0.23 silty clay; TAW and RAW in mm.
        # The tomato row was read second-hand, the others are from memory and are 1000 (FC − WP) Zr and p TAW.
        (0.30, 0.4, ((36, 11), (68, 20), (48, 14))),  # onion
        (0.40, 0.8, ((72, 29), (136, 54), (96, 38))),  # tomato
        (0.55, 1.2, ((108, 59), (204, 112), (144, 79))),  # maize
    ],
)
def test_readily_available_water_is_that_of_the_printed_example(
    p: float, depth_m: float, per_soil: tuple[tuple[int, int], ...]
) -> None:
    for (capacity, wilting), (taw_mm, raw_mm) in zip(((0.15, 0.06), (0.32, 0.15), (0.35, 0.23)), per_soil, strict=True):
        zone = RootZone(1000 * (capacity - wilting) * depth_m, p, 1.0)
        assert zone.total_available_water_mm == pytest.approx(taw_mm, abs=0.01)
        # The example takes the tabled p, which is that of 5 mm a day; 11.56 and 79.2 are printed to the mm.
        assert float(zone.readily_available_water_mm(5.0)) == pytest.approx(raw_mm, abs=0.5)


def test_loamy_sand_under_cool_season_turf_is_the_examples_tomato() -> None:
    # Example 36, tomato on loamy sand, rooting 0.8 m, p 0.40: TAW 72 mm, RAW 29 mm (0.4 · 72 = 28.8). Cool-season turf
    # has the same p in Table 22, and the middle of loamy sand's range is the example's 0.15 − 0.06.
    zone = root_zone("tall_fescue", Ground(soil_texture="loamy_sand", rooting_depth_mm=800))
    assert zone.total_available_water_mm == pytest.approx(72)
    assert float(zone.readily_available_water_mm(5.0)) == pytest.approx(28.8)


def test_turf_rows_are_those_of_the_tables() -> None:
    # FAO-56 Tables 12 and 22 (second-hand): cool-season turf Kc mid 0.95, p 0.40; warm-season 0.85, 0.50.
    for grass in GRASSES.values():
        zone = root_zone(grass.key, Ground())
        expected = (0.95, 0.40) if grass.cool_season else (0.85, 0.50)
        assert (zone.crop_coefficient, zone.depletion_fraction) == expected


@pytest.mark.parametrize("key", TEXTURES)
def test_available_water_fits_field_capacity_and_wilting_point(key: str) -> None:
    # The difference of two ranges is no sum of their ends (a soil at the low end of one is near the low end of the
    # other), so the middles are compared: within 0.03 m³ a m³, a sixth of the usual 0.18.
    least_fc, most_fc, least_wp, most_wp = FIELD_CAPACITY_AND_WILTING_POINT[key]
    middle = (least_fc + most_fc) / 2 - (least_wp + most_wp) / 2
    assert TEXTURES[key].available_water_mm_m / 1000 == pytest.approx(middle, abs=0.0301)
    assert TEXTURES[key].available_water_most_mm_m / 1000 <= most_fc - least_wp + 0.0101


def test_the_keys_are_the_tables_rows() -> None:
    assert set(TEXTURES) == set(FIELD_CAPACITY_AND_WILTING_POINT)
    assert all(key == texture.key for key, texture in TEXTURES.items())


def test_what_is_not_set_is_assumed() -> None:
    # Loam holds (130 + 180) / 2 = 155 mm a metre: 0.155 · 150 mm = 23.25 mm.
    assert (texture_of(Ground()).key, rooting_depth_of(Ground())) == ("loam", 150.0)
    assert root_zone("zoysiagrass", Ground()).total_available_water_mm == pytest.approx(23.25)


def test_a_wrong_texture_or_depth_is_named() -> None:
    with pytest.raises(ValueError, match=r"'peat'.*known are sand, loamy_sand"):
        root_zone("zoysiagrass", Ground(soil_texture="peat"))
    for depth_mm in (0.0, -3.0, NAN):
        with pytest.raises(ValueError, match="above zero"):
            root_zone("zoysiagrass", Ground(rooting_depth_mm=depth_mm))


def test_the_share_taken_without_stress_follows_the_days_use() -> None:
    # p + 0.04 (5 − ETc): 0.40 at 5; 0.40 − 0.04 · 2.5 = 0.30 at 7.5; 0.40 + 0.04 · 2.5 = 0.50 at 2.5; limits 0.1, 0.8.
    found = depletion_fraction(0.40, array(5, 7.5, 2.5, 20, NAN))
    np.testing.assert_allclose(found, [0.40, 0.30, 0.50, 0.10, NAN])
    assert depletion_fraction(0.70, 0.0) == pytest.approx(0.8)


# --- one day ----------------------------------------------------------------------------------------------------------


def test_ten_dry_days_are_those_of_the_printed_example() -> None:
    # FAO-56 Example 37: full-grown tomato, silt, TAW 1000 (0.32 − 0.12) 0.8 = 160 mm, RAW 0.4 · 160 = 64 mm, ET0 5 mm,
    # Kc 1.2, 55 mm missing at the start (read second-hand; the arithmetic of eq. 84 gives the same figures).
    printed = (61.0, 67.0, 72.8, 78.3, 83.4, 88.2, 92.6, 96.9, 100.8, 104.5)
    missing_mm = array(55.0)
    for expected_mm in printed:
        day = day_of_water(missing_mm, array(0.0), array(6.0), 160.0, 64.0)
        missing_mm = day.depletion_mm
        assert missing_mm[0] == pytest.approx(expected_mm, abs=0.0501)


def test_stress_starts_at_raw_and_is_whole_at_taw() -> None:
    # Eq. 84: (TAW − Dr) / (TAW − RAW), TAW 40, RAW 20: 0, 20 → 1; 25 → 15/20; 30 → 10/20; 40 → 0.
    np.testing.assert_allclose(stress_coefficient(array(0, 20, 25, 30, 40), 40.0, 20.0), [1, 1, 0.75, 0.5, 0])


def test_what_is_over_drains() -> None:
    # 10 missing, 25 of water, 5 used: 10 − 25 + 5 = −10, so none is missing and 10 drain (eq. 88).
    day = day_of_water(array(10.0), array(25.0), array(5.0), 40.0, 20.0)
    assert (day.depletion_mm[0], day.used_mm[0], day.lost_mm[0]) == (0.0, 5.0, 10.0)


def test_no_more_is_used_than_there_is() -> None:
    # 18 missing is not yet stress at RAW 20, yet of 30 asked for only 40 − 18 = 22 are there (eq. 86).
    day = day_of_water(array(18.0), array(0.0), array(30.0), 40.0, 20.0)
    assert (day.depletion_mm[0], day.used_mm[0], day.lost_mm[0]) == (40.0, 22.0, 0.0)


depths = st.floats(0, 60)


@given(st.floats(0, 1), st.floats(0, 1), depths, st.floats(0, 12), st.floats(2, 200), st.floats(0.1, 0.8))
def test_more_missing_before_never_leaves_less_missing(
    one: float, other: float, water: float, used: float, taw: float, p: float
) -> None:
    fuller, drier = sorted((one * taw, other * taw))
    ends = [day_of_water(array(start), array(water), array(used), taw, p * taw) for start in (fuller, drier)]
    assert ends[0].depletion_mm[0] <= ends[1].depletion_mm[0] + 1e-9


# --- days -------------------------------------------------------------------------------------------------------------


def test_days_by_hand() -> None:
    # Kc 1, ET0 5 on all days, so RAW 0.5 · 40 = 20; 12 missing at the start.
    # 12 + 5 = 17. 17 + 5 = 22. Rain 10: 12 + 5 = 17. Water 6: 11 + 5 = 16. Rain 30: −14 + 5 = −9, so 0 and 9 lost.
    # No water: 5.
    found = balance(np.full(6, 5.0), array(0, 0, 10, 0, 30, 0), array(0, 0, 0, 6, 0, 0), start=12.0)
    np.testing.assert_allclose(found.depletion_mm, [17, 22, 17, 16, 0, 5])
    np.testing.assert_allclose(found.lost_mm, [0, 0, 0, 0, 9, 0])
    np.testing.assert_allclose(found.used_mm, 5.0)


def test_stress_in_a_balance_goes_by_the_days_own_use() -> None:
    # ET0 10 · Kc 0.8 = 8 mm; p 0.5 + 0.04 (5 − 8) = 0.38, RAW 15.2; from 20: Ks (40 − 20)/(40 − 15.2) = 20/24.8.
    found = balance(array(10.0), array(0.0), start=20.0, zone=RootZone(40.0, 0.5, 0.8))
    assert found.depletion_mm[0] == pytest.approx(20 + 8 * 20 / 24.8)


def test_it_starts_from_anything_and_is_known_after_a_rain_that_surely_fills() -> None:
    # From 0 to 40 missing: 30 mm of rain leave up to 40 − 30 + 2 = 12 missing; 12 mm more leave 12 − 12 + 2 = 2.
    # Least: 0 both days. 2 mm apart is not yet known. Another 5 mm of rain: 2 − 5 + 2 < 0: none is missing, known.
    found = balance(np.full(3, 2.0), array(30, 12, 5))
    np.testing.assert_allclose(found.depletion_least_mm, [0, 0, 0])
    np.testing.assert_allclose(found.depletion_most_mm, [12, 2, 0])
    np.testing.assert_allclose(found.depletion_mm, [NAN, NAN, 0])
    assert np.isnan(found.used_mm).all()  # it was not known when any of these days began


def test_a_day_without_rain_told_is_neither_dry_nor_wet() -> None:
    # 10 missing, then a day whose rain is unknown: from none (any rain) to 10 + 4. Then dry: 4 to 18.
    found = balance(np.full(2, 4.0), array(NAN, 0), start=10.0)
    np.testing.assert_allclose(found.depletion_least_mm, [0, 4])
    np.testing.assert_allclose(found.depletion_most_mm, [14, 18])
    assert np.isnan(found.depletion_mm).all()
    assert np.isnan(found.used_mm).all()
    assert np.isnan(found.lost_mm).all()


def test_the_known_part_of_a_rain_counts() -> None:
    # 10 missing; 13 mm fell in the hours that are known, more may have: 10 − 13 + 2 < 0, so the zone is full for sure.
    found = water_balance(array(2.0), array(NAN), array(0.0), EASY, rain_least_mm=array(13.0), start_mm=(10.0, 10.0))
    assert found.depletion_mm[0] == 0.0
    # 5 mm would leave up to 10 − 5 + 2 = 7.
    found = water_balance(array(2.0), array(NAN), array(0.0), EASY, rain_least_mm=array(5.0), start_mm=(10.0, 10.0))
    assert found.depletion_most_mm[0] == 7.0
    # The part is not read where the whole is known.
    found = water_balance(array(2.0), array(0.0), array(0.0), EASY, rain_least_mm=array(13.0), start_mm=(10.0, 10.0))
    assert found.depletion_mm[0] == 12.0


def test_a_day_without_evapotranspiration_told_is_between_none_and_the_most() -> None:
    # 5 missing: from 5 + 0 to 5 + 12; p at 12 mm is 0.5 − 0.28 = 0.22, RAW 8.8, and 5 is below it, so no stress.
    found = balance(array(NAN), array(0.0), start=5.0)
    assert found.depletion_least_mm[0] == 5.0
    assert found.depletion_most_mm[0] == 5.0 + MOST_ET0_MM_DAY


def test_dew_is_no_water_in_the_soil() -> None:
    assert balance(array(-0.5), array(0.0), start=5.0).depletion_mm[0] == 5.0


def test_shapes_and_unknown_irrigation_are_refused() -> None:
    with pytest.raises(ValueError, match="shapes differ"):
        water_balance(np.zeros(3), np.zeros(4), np.zeros(3), EASY)
    with pytest.raises(ValueError, match="irrigation has to be known"):
        water_balance(np.zeros(1), np.zeros(1), array(NAN), EASY)


@st.composite
def weather(draw: st.DrawFn, *, holes: bool) -> tuple[Floats, Floats, Floats]:
    shape = (draw(st.integers(1, 30)), draw(st.integers(1, 3)))
    unknown = st.just(NAN) if holes else st.nothing()
    et0 = draw(arrays(np.float64, shape, elements=st.integers(0, 110).map(lambda n: n / 10) | unknown))
    rain = draw(arrays(np.float64, shape, elements=st.just(0.0) | st.integers(0, 600).map(lambda n: n / 10) | unknown))
    irrigation = draw(arrays(np.float64, shape, elements=st.sampled_from([0.0, 6.0, 12.0])))
    return et0, rain, irrigation


zones = st.builds(RootZone, st.floats(2, 200), st.sampled_from([0.4, 0.5]), st.sampled_from([0.85, 0.95]))


@unhurried
@given(weather(holes=False), zones, st.floats(0, 1))
def test_the_balance_closes(days: tuple[Floats, Floats, Floats], zone: RootZone, share: float) -> None:
    et0, rain, irrigation = days
    start = share * float(zone.total_available_water_mm)
    found = water_balance(et0, rain, irrigation, zone, start_mm=(start, start))
    stored = start - found.depletion_mm[-1]
    moved = (rain + irrigation - found.used_mm - found.lost_mm).sum(axis=0)
    np.testing.assert_allclose(stored, moved, rtol=0, atol=1e-9 * len(et0) * 100)
    assert (found.depletion_mm >= 0).all()
    assert (found.depletion_mm <= zone.total_available_water_mm + 1e-9).all()
    assert (found.lost_mm[found.depletion_mm > 0] == 0).all()  # nothing drains while water is missing


@unhurried
@given(weather(holes=True), weather(holes=False), zones, st.floats(0, 1))
def test_the_truth_lies_between_the_bounds(
    days: tuple[Floats, Floats, Floats], other: tuple[Floats, Floats, Floats], zone: RootZone, share: float
) -> None:
    et0, rain, irrigation = days
    true_et0 = np.where(np.isnan(et0), np.resize(other[0], et0.shape), et0)
    true_rain = np.where(np.isnan(rain), np.resize(other[1], rain.shape), rain)
    start = share * float(zone.total_available_water_mm)
    truth = water_balance(true_et0, true_rain, irrigation, zone, start_mm=(start, start)).depletion_mm
    found = water_balance(et0, rain, irrigation, zone)
    assert (found.depletion_least_mm <= truth + 1e-9).all()
    assert (found.depletion_most_mm >= truth - 1e-9).all()
    known = ~np.isnan(found.depletion_mm)
    np.testing.assert_allclose(found.depletion_mm[known], truth[known], rtol=0, atol=0.5 + 1e-9)


@unhurried
@given(weather(holes=True), zones)
def test_series_do_not_mix_and_inputs_stay(days: tuple[Floats, Floats, Floats], zone: RootZone) -> None:
    before = [one.copy() for one in days]
    whole = water_balance(*days, zone)
    for series in range(days[0].shape[1]):
        et0, rain, irrigation = (one[:, series] for one in days)
        alone = water_balance(et0, rain, irrigation, zone)
        np.testing.assert_array_equal(alone.depletion_most_mm, whole.depletion_most_mm[:, series])
        np.testing.assert_array_equal(alone.depletion_least_mm, whole.depletion_least_mm[:, series])
        np.testing.assert_array_equal(alone.used_mm, whole.used_mm[:, series])
    for one, was in zip(days, before, strict=True):
        np.testing.assert_array_equal(one, was)


def test_each_series_has_its_own_zone() -> None:
    # Two zones of 40 and 100 mm, from anything: a dry day of 4 mm leaves 4 to 40 and 4 to 100.
    zone = RootZone(array(40, 100), array(0.5, 0.5), array(1.0, 1.0))
    found = water_balance(np.full((1, 2), 4.0), np.zeros((1, 2)), np.zeros((1, 2)), zone)
    np.testing.assert_allclose(found.depletion_most_mm, [[40, 100]])
    np.testing.assert_allclose(found.depletion_least_mm, [[4, 4]])


# --- a schedule's water, shade, and today -----------------------------------------------------------------------------


def test_a_schedule_waters_on_its_weekdays() -> None:
    # 1 January 2024 was a Monday, 4 January a Thursday; 1 January 1970 a Thursday.
    first = day_number(date(2024, 1, 1))
    schedule = Irrigation(days=(0, 3), start=time(4), depth_mm=6.0)
    np.testing.assert_array_equal(watered_mm(np.arange(first, first + 8), schedule), [6, 0, 0, 6, 0, 0, 0, 6])
    np.testing.assert_array_equal(watered_mm(np.array([0]), schedule), [6])
    np.testing.assert_array_equal(watered_mm(np.arange(first, first + 2), None), [0, 0])


def test_evapotranspiration_in_shade_is_near_that_of_less_sunlight() -> None:
    # FAO-56 Example 18, Uccle (from memory): Δ 0.122, γ 0.0666 kPa/°C, u2 2.078 m/s, Rs 22.07 MJ/m², ET0 3.88 mm.
    # Half the sunlight takes 0.408 · 0.122 / (0.122 + 0.0666 (1 + 0.34 · 2.078)) · 0.77 · 11.035 = 1.79 mm off it.
    weight = 0.408 * 0.122 / (0.122 + 0.0666 * (1 + 0.34 * 2.078))
    by_equation = 3.88 - weight * 0.77 * 22.07 / 2
    assert by_equation == pytest.approx(2.09, abs=0.01)
    found = shaded_et0_mm(array(3.88, NAN), 0.5)
    assert found[0] == pytest.approx(by_equation, rel=0.08)  # the shortcut's own error, as its text says
    assert np.isnan(found[1])


def test_shade_on_some_sides_keeps_off_their_share_of_the_day() -> None:
    # 0.4 let through keeps 0.6 off; on two of the five sunny sides 0.6 · 2/5 = 0.24 of the day's light.
    overhead = Setting(light_let_through_fraction=0.4)
    east = Setting(light_let_through_fraction=0.4, shaded_from=("e", "se"))
    north = Setting(light_let_through_fraction=0.4, shaded_from=("n",))
    assert day_light_fraction(overhead, southern=False) == pytest.approx(0.4)
    assert day_light_fraction(east, southern=False) == pytest.approx(0.76)
    assert day_light_fraction(north, southern=False) == 1.0
    assert day_light_fraction(north, southern=True) == pytest.approx(1 - 0.6 / 5)


def test_today_is_the_last_day_with_a_week_behind_it() -> None:
    # ET0 4 and then 6 for the last seven days: use 6 · Kc 1 = 6; p 0.5 + 0.04 (5 − 6) = 0.46; RAW 18.4 mm.
    et0 = np.concatenate([np.full(5, 4.0), np.full(7, 6.0)])
    rain = np.concatenate([np.full(5, 50.0), array(1, 0, 0, 2, 0, 0, 7)])
    now = water_now(balance(et0, rain, np.concatenate([np.full(5, 9.0), array(0, 0, 5, 0, 0, 0, 0)])))
    assert now is not None
    assert (now.use_mm_day, now.rain_week_mm, now.rain_week_least_mm, now.irrigation_week_mm) == (6.0, 10.0, 10.0, 5.0)
    assert now.raw_mm == pytest.approx(18.4)
    assert now.taw_mm == 40.0
    # From full, which the rain before makes sure: 0 − 1 + 6 = 5; 11; 11 − 5 + 6 = 12; 12 − 2 + 6 = 16; 22; at 22 stress
    # is (40 − 22)/(40 − 18.4), so 22 + 5 = 27; 27 − 7 = 20, and 20 + 6 · 20/21.6 = 25.5556.
    assert now.depletion_least_mm == now.depletion_most_mm == pytest.approx(25.5556, abs=1e-4)


def test_a_week_with_holes_says_so() -> None:
    et0 = array(NAN, NAN, NAN, 3, 4, 5, 4)
    rain = array(1, NAN, 2, 0, 0, 0, 0)
    found = water_balance(et0, rain, np.zeros(7), EASY, rain_least_mm=array(0, 4, 0, 0, 0, 0, 0))
    now = water_now(found)
    assert now is not None
    assert now.rain_week_mm is None
    assert now.rain_week_least_mm == 7.0
    assert now.use_mm_day == 4.0  # four known days: (3 + 4 + 5 + 4) / 4
    et0[3] = NAN
    now = water_now(balance(et0, rain))
    assert now is not None
    assert now.use_mm_day is None  # three days say too little
    assert now.raw_mm == 20.0  # so the tabled share stands: 0.5 · 40


def test_one_series_of_several_is_read() -> None:
    et0, rain = np.full((7, 2), 5.0), np.zeros((7, 2))
    rain[:, 1] = 9.0
    found = water_balance(et0, rain, np.zeros((7, 2)), RootZone(array(40, 60), array(0.5, 0.4), array(1.0, 0.8)))
    now = water_now(found, 1)
    assert now is not None
    # Series 1: 63 mm of rain; use 0.8 · 5 = 4; p 0.4 + 0.04 · 1 = 0.44; RAW 26.4 of 60.
    assert (now.rain_week_mm, now.use_mm_day, now.taw_mm) == (63.0, 4.0, 60.0)
    assert now.raw_mm == pytest.approx(26.4)


def test_no_gauge_is_no_balance_and_less_than_a_week_is_refused() -> None:
    assert water_now(balance(np.full(9, 5.0), np.full(9, NAN))) is None
    with pytest.raises(ValueError, match="6 days"):
        water_now(balance(np.full(6, 5.0), np.zeros(6)))
