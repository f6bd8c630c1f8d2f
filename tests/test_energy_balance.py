"""The energy balance and its film: hours reckoned by hand, what physics forbids, and a plain loop to equal."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import benchmark_wetness
import numpy as np
import pandas as pd
import plain_film
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import Weather, hourly_arrays, invented_weather, steady_turf, turf, unhurried, weather, with_holes

from forecast.canopy import TurfHours
from forecast.panel import Floats
from forecast.physics import longwave
from forecast.physics.wind import aerodynamic_resistance_s_m
from forecast.wetness import energy_balance
from forecast.wetness.energy_balance import evaporation_mm, leaf_water_mm, wet_fraction
from forecast.wetness.film import EDGE_ROOT, FilmRoots, FilmWater, film_roots, film_water, wet_fraction_of

NAN = math.nan
DENSE = {"leaf_area_index": 3.0}  # holds 0.6 mm, catches 1 − e^−1.5 = 0.776870 of what falls


def column(*figures: float) -> Floats:
    return np.array(figures, dtype=np.float64)[:, None]


def one_hour_mm(
    temperature: float, dew_point: float, wind_10m: float, sunlight: float, cloud: float
) -> tuple[float, float]:
    """Net radiation and evaporation of an hour over turf 7 cm tall at 1000 hPa, night where there is no sunlight."""
    hour = Weather(
        air_temperature_c=column(temperature),
        dew_point_c=column(dew_point),
        wind_speed_10m_m_s=column(wind_10m),
        shortwave_down_w_m2=column(sunlight),
        cloud_cover_fraction=column(cloud),
        rain_mm=column(0.0),
        sun_elevation_deg=column(40.0 if sunlight else -10.0),
    ).at_turf()
    return hour.net_radiation_w_m2.item(), evaporation_of(hour).item()


def evaporation_of(hours: TurfHours) -> Floats:
    """Evaporation, mm an hour, of hours at the turf."""
    return evaporation_mm(
        hours.air_temperature_c,
        hours.dew_point_c,
        hours.wind_speed_2m_m_s,
        hours.net_radiation_w_m2,
        hours.sun_elevation_deg,
        hours.canopy_height_m,
        pressure_hpa=1000.0,
    )


# The hours by hand.
#
# At 20 °C: es = 6.108 · e^(345.4/257.3) = 23.3828 hPa; slope 4098 · 23.3828 / 257.3² = 1.44740 hPa/°C; latent heat
# 2.501e6 − 2361 · 20 = 2,453,780 J/kg; gamma 1010 · 1000 / (0.622 · 2,453,780) = 0.661752 hPa/°C; density
# 100,000 / (287.05 · 293.15) = 1.188372 kg/m³, times 1010 = 1200.26 J/m³/°C. Wind of 2 m/s at 10 m is 1.49557 at 2 m;
# over 7 cm ra = ln(1.953333/0.00861) · ln(1.953333/0.000861) / (0.1681 · 1.49557) = 5.42437 · 7.72695 / 0.251405
# = 166.72 s/m, at night 333.44. Radiative conductance 4 · 0.97 · 5.670374e-8 · 293.15³ / 1200.26 = 0.00461784 m/s;
# gv = 0.00299907, gH = 0.00761692, gH/gv = 2.53976; below the line 1.44740 + 0.661752 · 2.53976 = 3.12809.
# · Dew point 19 °C: deficit 23.3828 − 21.9739 = 1.4089 hPa; air's part 1200.26 · 1.4089 · 0.00761692 = 12.880.
#   Clear: 0.85 · −59.95 = −50.96, times 1.44740 = −73.757. (−73.757 + 12.880) / 3.12809 = −19.461 W/m²,
#   times 3600 / 2,453,780 = −0.02855 mm. Overcast: 12.880 / 3.12809 = 4.118 W/m² = +0.00604 mm.
# · Dew point 15 °C: deficit 23.3828 − 17.0535 = 6.3294 hPa, air's part 57.865; 0.85 · −71.13 · 1.44740 = −87.508;
#   −29.643 / 3.12809 = −9.476 W/m² = −0.01390 mm.
# At 25 °C, dew point 18 °C, 3 m/s, day: deficit 31.6778 − 20.6399 = 11.0379; slope 4098 · 31.6778 / 262.3² = 1.88682;
# latent heat 2,441,975; gamma 0.664951; 100,000 / (287.05 · 298.15) · 1010 = 1180.13; ra 111.15; radiative
# 4 · 0.97 · 5.670374e-8 · 298.15³ / 1180.13 = 0.00494105, gv 0.00899722, gH 0.01393826, gH/gv 1.54917; below the line
# 2.91694. 0.90 · 414.42 · 1.88682 = 703.74; 1180.13 · 11.0379 · 0.01393826 = 181.56; sum / 2.91694 = 303.50 W/m²,
# times 3600 / 2,441,975 = +0.44743 mm. (By the wind factor 0.748 that FAO-56 rounds to it is 0.44746.)
BY_HAND = [
    ((20, 19, 2, 0, 0), -59.95, -0.02855),
    ((20, 19, 2, 0, 1), 0.0, 0.00604),
    ((20, 15, 2, 0, 0), -71.13, -0.01390),
    ((25, 18, 3, 600, 0.3), 414.42, 0.44743),
]


def check_hours_by_hand() -> None:
    """The four hours, to the last figure printed above. Also run on slipped code."""
    for given_hour, net_w_m2, depth_mm in BY_HAND:
        found_net, found_mm = one_hour_mm(*given_hour)
        assert found_net == pytest.approx(net_w_m2, abs=0.005)
        assert found_mm == pytest.approx(depth_mm, abs=0.000006)


def check_film_by_hand() -> None:
    """What is caught, when a film dries through the edge, when dew crosses it, what removal leaves. Also run on slips.

    Three leaf areas hold 0.6 mm and are wet above 0.1^1.5 · 0.6 = 0.018974 mm.
    """
    # 0.1 mm dries at 0.3 mm an hour: ∛0.1 = 0.464159 falls by 0.3 / (3 · 0.6^(2/3)) = 0.140572 an hour. It is at the
    # edge, ∛0.018974 = 0.266723, after (0.464159 − 0.266723) / 0.140572 = 1.4045 h, and at nothing after 3.3019 h.
    caught = column(0.1 / 0.6, 0, 0, 0, 0)
    loss = np.full((5, 1), 0.3 / 0.6)
    root = film_roots(loss, caught).low
    water = film_water(root, loss, caught, start=0.0)
    np.testing.assert_allclose(wet_fraction_of(FilmRoots(root, root), loss)[:, 0], [1, 0.4045, 0, 0, 0], atol=0.0001)
    # ∛S after 1, 2, 3 h: 0.323588, 0.183017, 0.042446; cubed 0.033883, 0.006130, 0.0000765 mm.
    np.testing.assert_allclose(water.held[:, 0] * 0.6, [0.033883, 0.006130, 0.0000765, 0, 0], atol=0.000001)
    # From nothing 0.03 mm of dew crosses 0.018974 after 0.018974 / 0.03 = 0.63246 h; then 0.8 of it is taken off, and
    # 0.006 mm and the same dew again cross it after 0.012974 / 0.03 = 0.43246 h.
    loss, caught, removed = np.full((2, 1), -0.05), np.zeros((2, 1)), column(0.8, 0)
    root = film_roots(loss, caught, removed).low
    water = film_water(root, loss, caught, removed, start=0.0)
    np.testing.assert_allclose(water.held[:, 0] * 0.6, [0.006, 0.036])
    np.testing.assert_allclose(water.removed[:, 0] * 0.6, [0.024, 0])
    np.testing.assert_allclose(wet_fraction_of(FilmRoots(root, root), loss)[:, 0], [0.36754, 0.56754], atol=0.00001)


def check_rain_by_hand() -> None:
    """How much of the rain a stand catches and holds. Also run on slipped code."""
    # 0.5 mm on three leaf areas: 0.388435 caught. Saturated calm air neither adds nor takes; then 1 mm fills the rest.
    air = {"dew_point_c": 20.0, "net_radiation_w_m2": 0.0, **DENSE}
    water = leaf_water_mm(steady_turf(4, **air, rain_mm=[10, 0, 0.5, 1.0], dew_removed_fraction=[1, 0, 0, 0]))
    np.testing.assert_allclose(water.held[:, 0], [0, 0, 0.388435, 0.6], atol=1e-6)
    np.testing.assert_allclose(water.caught[:, 0], [7.768698, 0, 0.388435, 0.776870], atol=1e-6)
    np.testing.assert_allclose(water.spilled[:, 0], [7.168698, 0, 0, 0.565305], atol=1e-6)


def test_the_hours_by_hand() -> None:
    check_hours_by_hand()


def test_the_film_by_hand() -> None:
    check_film_by_hand()


def test_the_rain_by_hand() -> None:
    check_rain_by_hand()


def test_a_film_is_dry_after_3_3019_hours() -> None:
    # ∛0.1 / (0.3 / (3 · 0.6^(2/3))) = 0.464159 / 0.140571 = 3.30195: Ep times hours is what counts.
    for hours, is_dry in ((3.3018, False), (3.3021, True)):
        loss, caught = column(0.5 * hours), column(0.1 / 0.6)
        assert (film_water(film_roots(loss, caught).low, loss, caught, start=0.0).held.item() == 0) is is_dry


def test_resistance_over_the_grass_of_fao_56_is_208_over_the_wind() -> None:
    # FAO-56 prints 208/u2 for 0.12 m; by its own formula 207.7.
    found = aerodynamic_resistance_s_m(column(1.0, 4.0), 0.12)[:, 0]
    np.testing.assert_allclose(found * [1.0, 4.0], 207.7, atol=0.05)


def test_dew_wets_leaves_for_the_part_of_the_hour_after_it_crosses_the_edge() -> None:
    # Clear night from dry leaves: the dew of each hour is steady, so the film crosses where it adds up to 0.018974 mm.
    night = steady_turf(80, dew_point_c=19.0, net_radiation_w_m2=-59.95, **DENSE)
    dew_mm = -evaporation_of(night)[0, 0]  # some 0.0286
    hours_to_the_edge = 0.1**1.5 * 0.6 / dew_mm
    assert 0.6 < hours_to_the_edge < 0.7
    removed = np.where(np.arange(80) == 74, 1.0, 0.0)  # long after the start is forgotten, all is taken off once
    fraction = wet_fraction(replace(night, dew_removed_fraction=removed[:, None]))[:, 0]
    np.testing.assert_array_equal(fraction[72:75], 1)
    assert fraction[75] == pytest.approx(1 - hours_to_the_edge, abs=1e-9)
    np.testing.assert_array_equal(fraction[76:], 1)


def test_mown_dew_leaves_a_fifth_from_the_next_hour_on() -> None:
    full = steady_turf(3, dew_point_c=20.0, rain_mm=[5, 0, 0], dew_removed_fraction=[0, 0.8, 0], **DENSE)
    water = leaf_water_mm(full)
    np.testing.assert_allclose(water.held[:, 0], [0.6, 0.12, 0.12])
    np.testing.assert_allclose(water.removed[:, 0], [0, 0.48, 0])


def test_watering_wets_as_rain_does_and_is_caught_as_rain_is() -> None:
    dry = {"net_radiation_w_m2": 300.0, "sun_elevation_deg": 40.0, "dew_point_c": 5.0}
    rained = steady_turf(18, **dry, rain_mm=[*[0] * 6, 6, *[0] * 11])  # the first six hours make sure of dry leaves
    watered = replace(rained, rain_mm=rained.irrigation_mm, irrigation_mm=rained.rain_mm)
    found = wet_fraction(watered)[:, 0]
    np.testing.assert_array_equal(found, wet_fraction(rained)[:, 0])
    assert found[5:7].tolist() == [0, 1]
    assert found[-1] == 0
    a_little = replace(watered, irrigation_mm=0.02 * watered.irrigation_mm)  # 0.12 mm wets by its film, not by the rule
    little = wet_fraction(a_little)[:, 0]
    assert little[5] == 0 < little[6] < 1


@unhurried
@given(st.floats(-30, 45), st.floats(0, 20), st.floats(-30, 60))
def test_saturated_air_without_radiation_neither_dries_nor_wets(temperature: float, wind: float, sun: float) -> None:
    hour = steady_turf(
        1,
        air_temperature_c=temperature,
        dew_point_c=temperature,
        wind_speed_2m_m_s=wind,
        net_radiation_w_m2=0.0,
        sun_elevation_deg=sun,
    )
    assert evaporation_of(hour).item() == 0


@unhurried
@given(weather())
def test_no_dew_forms_below_saturation_under_full_cloud_at_night(hours: Weather) -> None:
    overcast = replace(
        hours,
        cloud_cover_fraction=np.ones_like(hours.cloud_cover_fraction),
        shortwave_down_w_m2=np.zeros_like(hours.shortwave_down_w_m2),
    )
    assert (evaporation_of(overcast.at_turf()) >= -1e-12).all()  # 1e-12 mm: net radiation is 0 but for rounding


@unhurried
@given(turf())
def test_the_film_stays_between_dry_and_full_and_its_water_adds_up(whole: TurfHours) -> None:
    loss, caught, removed = energy_balance._shares_of_capacity(whole)
    roots = film_roots(loss, caught, removed)
    assert not (roots.low > roots.high + 1e-12).any()
    for root, start in ((roots.low, 0.0), (roots.high, 1.0)):
        water = film_water(root, loss, caught, removed, start=start)
        known = ~np.isnan(loss)
        for field in fields(FilmWater):
            part = getattr(water, field.name)
            np.testing.assert_array_equal(np.isnan(part), ~known)
            assert (part[known] >= -1e-12).all()
        assert (water.held[known] <= 1).all()
        # Only where the second film still runs by itself does its water follow from its own past.
        own = known if start == 0.0 else known & (roots.high > roots.low)
        before = np.vstack([np.full((1, loss.shape[1]), start), np.where(known, water.held, start)[:-1]])
        change = water.caught + water.dew - water.evaporated - water.spilled - water.removed
        np.testing.assert_allclose((before + change)[own], water.held[own], rtol=0, atol=1e-9)


@unhurried
@given(turf(), st.booleans())
def test_the_leaf_water_of_a_stand_adds_up_in_mm(whole: TurfHours, with_storm: bool) -> None:
    if with_storm:  # so that the films have met from the first hour on
        whole.rain_mm[0] = 50.0
    water = leaf_water_mm(whole)
    told = ~np.isnan(water.held)
    if with_storm:
        assert told[0][~np.isnan(evaporation_of(whole)[0])].all()
    both = told[1:] & told[:-1]
    change = water.caught + water.dew - water.evaporated - water.spilled - water.removed
    np.testing.assert_allclose(np.diff(water.held, axis=0)[both], change[1:][both], rtol=0, atol=1e-9)
    most_mm = np.broadcast_to(0.2 * np.asarray(whole.leaf_area_index), told.shape)
    assert (water.held[told] <= most_mm[told] + 1e-12).all()


def never_drier(wetter: Floats, drier: Floats) -> None:
    """No hour that both know is less wet in the first."""
    both = ~np.isnan(wetter) & ~np.isnan(drier)
    assert both[72:].all()
    assert (wetter[both] >= drier[both] - 1e-9).all()


@unhurried
@given(weather(least_hours=100), st.floats(0.05, 3.0))
def test_wetness_never_falls_as_humidity_rises(hours: Weather, by_c: float) -> None:
    humid = replace(hours, dew_point_c=np.minimum(hours.dew_point_c + by_c, hours.air_temperature_c))
    never_drier(wet_fraction(humid.at_turf()), wet_fraction(hours.at_turf()))


@unhurried
@given(weather(least_hours=100), st.floats(0.01, 5.0), st.integers(1, 30))
def test_wetness_never_falls_as_rain_rises(hours: Weather, more_mm: float, every: int) -> None:
    at = np.arange(len(hours.rain_mm))[:, None] % every == 0
    rainier = replace(hours, rain_mm=hours.rain_mm + np.where(at, more_mm, 0.0))
    never_drier(wet_fraction(rainier.at_turf()), wet_fraction(hours.at_turf()))


@unhurried
@given(weather(least_hours=100), st.floats(0.0, 1.0))
def test_wetness_never_falls_as_the_sun_falls_with_the_cloud_held(hours: Weather, share: float) -> None:
    dimmer = replace(hours, shortwave_down_w_m2=share * hours.shortwave_down_w_m2)
    never_drier(wet_fraction(dimmer.at_turf()), wet_fraction(hours.at_turf()))


@unhurried
@given(st.floats(0, 1), st.lists(st.floats(1e-4, 2.0), min_size=1, max_size=30))
def test_two_half_hours_dry_as_one_hour_does(start: float, losses: list[float]) -> None:
    whole_hours, caught = column(*losses), column(start, *[0] * (len(losses) - 1))
    half_hours, caught_half = np.repeat(whole_hours / 2, 2, axis=0), column(start, *[0] * (2 * len(losses) - 1))
    whole, half = film_roots(whole_hours, caught), film_roots(half_hours, caught_half)
    held = film_water(whole.low, whole_hours, caught, start=0.0).held
    held_half = film_water(half.low, half_hours, caught_half, start=0.0).held
    np.testing.assert_allclose(held_half[1::2], held, rtol=0, atol=1e-12)
    # The wet time is the sum of the halves; a film within a hair of the edge may fall on either side of it.
    clear_of_edge = np.abs(whole.low - EDGE_ROOT) > 1e-9
    wet = wet_fraction_of(replace(whole, high=whole.low), whole_hours)
    wet_half = wet_fraction_of(replace(half, high=half.low), half_hours).reshape(-1, 2).mean(axis=1)[:, None]
    np.testing.assert_allclose(wet_half[clear_of_edge], wet[clear_of_edge], rtol=0, atol=1e-9)


# The plain loop, the pieces, the unknown.


def plain(whole: TurfHours, series: int) -> tuple[plain_film.FilmYear, Floats]:
    """One series by the plain loop: its film, and the fraction wet with the rule for rain."""
    names = ("air_temperature_c", "dew_point_c", "wind_speed_2m_m_s", "net_radiation_w_m2", "sun_elevation_deg")
    columns = [getattr(whole, name)[:, series].tolist() for name in names]
    hours = list(zip(*columns, strict=True))
    shape = whole.air_temperature_c.shape[1:]
    height, leaves = (
        float(np.broadcast_to(np.asarray(figure), shape)[series])
        for figure in (whole.canopy_height_m, whole.leaf_area_index)
    )
    evaporation = [plain_film.evaporation_mm(t, td, u, net, sun, height) for t, td, u, net, sun in hours]
    rain, irrigation = np.nan_to_num(whole.rain_mm[:, series]), whole.irrigation_mm[:, series]
    apart = whole.air_temperature_c[:, series] - whole.dew_point_c[:, series]
    perhaps = np.isnan(whole.rain_mm[:, series]) & (apart <= 2.0)  # house choice, as the dew-point rule has it
    film = plain_film.film_year(
        evaporation,
        (rain + irrigation).tolist(),
        whole.dew_removed_fraction[:, series].tolist(),
        leaves,
        perhaps.tolist(),
    )
    wet = np.array(film.wet)
    wet[(rain >= 0.25) | (irrigation >= 0.25)] = 1.0
    return film, wet


def check_against_the_plain_loop(whole: TurfHours) -> None:
    """Net evaporation, film and wet hours as the plain loop has them, and unknown where that is. Also run on slips."""
    fraction, water = wet_fraction(whole), leaf_water_mm(whole)
    for series in range(fraction.shape[1]):
        film, wet = plain(whole, series)
        np.testing.assert_allclose(fraction[:, series], wet, rtol=0, atol=1e-12)
        for name in ("held", "caught", "dew", "evaporated", "spilled", "removed"):
            found = getattr(water, name)[:, series]
            expected = np.array([NAN if hour is None else getattr(hour, name) for hour in film.low])
            told = ~np.isnan(found)
            np.testing.assert_allclose(found[told], expected[told], rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    ("seed", "depression_c", "share"), [(0, 4.0, 0.0), (1, 1.0, 0.001), (2, 6.0, 0.01), (3, 0.2, 0.1)]
)
def test_a_year_equals_the_plain_loop(seed: int, depression_c: float, share: float) -> None:
    chance = np.random.default_rng(seed)
    year = invented_weather(seed, 8760, 2, mean_depression_c=depression_c)
    shape = year.air_temperature_c.shape
    whole = year.at_turf(
        irrigation_mm=np.where(chance.random(shape) < 0.01, 5.0, 0.0),
        dew_removed_fraction=np.where(chance.random(shape) < 0.02, 0.8, 0.0),
        leaf_area_index=np.array([0.4, 3.0]),
        canopy_height_m=np.array([0.005, 0.1]),
    )
    check_against_the_plain_loop(with_holes(whole, chance, share))


def test_net_radiation_equals_that_of_the_plain_loop() -> None:
    hours = invented_weather(5, 500, 1)
    found = hours.at_turf().net_radiation_w_m2[:, 0]
    read = (hours.shortwave_down_w_m2, hours.air_temperature_c, hours.dew_point_c, hours.cloud_cover_fraction)
    each_hour = list(zip(*(array[:, 0].tolist() for array in read), strict=True))
    expected = [plain_film.net_radiation_w_m2(sw, t, td, n) for sw, t, td, n in each_hour]
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-9)
    half_hidden = longwave.isothermal_net_radiation_w_m2(*read, 0.5)[:, 0]
    expected = [plain_film.net_radiation_w_m2(sw, t, td, n, 0.5) for sw, t, td, n in each_hour]
    np.testing.assert_allclose(half_hidden, expected, rtol=0, atol=1e-9)


@unhurried
@given(turf())
def test_pieces_of_a_record_equal_the_record_in_one(whole: TurfHours) -> None:
    loss, caught, removed = energy_balance._shares_of_capacity(whole)
    pieces, in_one = film_roots(loss, caught, removed), film_roots(loss, caught, removed, cut=False)
    np.testing.assert_allclose(pieces.low, in_one.low, rtol=0, atol=1e-12)
    np.testing.assert_allclose(pieces.high, in_one.high, rtol=0, atol=1e-12)
    np.testing.assert_allclose(wet_fraction_of(pieces, loss), wet_fraction_of(in_one, loss), rtol=0, atol=1e-12)


def test_ten_years_in_pieces_equal_ten_years_in_one() -> None:
    whole = with_holes(invented_weather(11, 87_600, 1).at_turf(), np.random.default_rng(1), 0.0005)
    loss, caught, removed = energy_balance._shares_of_capacity(whole)
    pieces, in_one = film_roots(loss, caught, removed), film_roots(loss, caught, removed, cut=False)
    np.testing.assert_allclose(pieces.low, in_one.low, rtol=0, atol=1e-12)
    np.testing.assert_allclose(wet_fraction_of(pieces, loss), wet_fraction_of(in_one, loss), rtol=0, atol=1e-12)


def test_chunks_of_series_do_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = with_holes(invented_weather(6, 300, 7).at_turf(), np.random.default_rng(2), 0.01)
    at_once, water = wet_fraction(whole), leaf_water_mm(whole)
    monkeypatch.setattr(energy_balance, "_CHUNK", 600)
    monkeypatch.setattr(energy_balance, "_BLOCK", 50)
    np.testing.assert_array_equal(wet_fraction(whole), at_once)
    np.testing.assert_array_equal(leaf_water_mm(whole).held, water.held)


def check_tip_by_hand() -> None:
    """An hour with one tip of rain or watering is wet, though the sun dries its film within it. Also run on slips."""
    noon = {"net_radiation_w_m2": 700.0, "sun_elevation_deg": 60.0, "dew_point_c": 5.0, "leaf_area_index": 0.5}
    for name in ("rain_mm", "irrigation_mm"):
        found = wet_fraction(steady_turf(8, **noon, **{name: [0, 0, 0, 0, 0.25, 0, 0.24, 0]}))[3:, 0]
        assert found[[0, 1, 2, 4]].tolist() == [0, 1, 0, 0]
        assert 0 < found[3] < 1


def test_a_tip_of_rain_or_watering_wets_its_hour() -> None:
    check_tip_by_hand()


def check_unknown_hour_by_hand() -> None:
    """After an unknown hour leaves may be dry or full until the sun has dried either. Also run on slipped code."""
    # Rain fills the film; the next hours are saturated and still, so that it stays; one is unknown; then by day the
    # hour's loss is far above what leaves hold, and both films are dry.
    hours = steady_turf(
        7,
        rain_mm=[5, 0, 0, 0, 0, 0, 0],
        dew_point_c=[20, 20, NAN, 20, 20, 5, 5],
        net_radiation_w_m2=[0, 0, 0, 0, 0, 700, 700],
        sun_elevation_deg=[-9, -9, -9, -9, -9, 60, 60],
        leaf_area_index=0.5,  # holds 0.1 mm, and an hour of that sun takes more than three times as much
    )
    np.testing.assert_array_equal(wet_fraction(hours)[:, 0], [1, 1, NAN, NAN, NAN, NAN, 0])


def test_leaves_after_an_unknown_hour_are_unknown_until_both_films_are_one() -> None:
    check_unknown_hour_by_hand()


def test_rain_that_fills_the_film_ends_the_unknown_at_once() -> None:
    # 0.2 LAI / (1 − e^(−0.5 LAI)) = 0.6 / 0.776870 = 0.77233 mm fill leaves of area 3.
    for rain_mm, after in ((0.78, 1.0), (0.76, 1.0), (0.30, 1.0), (0.02, NAN)):
        air = {"dew_point_c": [20, NAN, 20, 20], "rain_mm": [0, 0, rain_mm, 0]}
        found = wet_fraction(steady_turf(4, **air, **DENSE))[:, 0]
        np.testing.assert_array_equal(found, [NAN, NAN, after, after])
        filled = leaf_water_mm(steady_turf(4, **air, **DENSE)).held[:, 0]
        np.testing.assert_allclose(filled, [NAN, NAN, *([0.6, 0.6] if rain_mm == 0.78 else [NAN, NAN])])


def check_start_by_hand() -> None:
    """72 known hours without a reason to think otherwise, and leaves count as having started dry. Also run on slips."""
    # Saturated and still, nothing tells how the record began.
    fog = steady_turf(100, dew_point_c=20.0)
    np.testing.assert_array_equal(wet_fraction(fog)[:, 0], [NAN] * 72 + [0] * 28)
    both = replace(fog, **{name: np.repeat(array, 2, axis=1) for name, array in hourly_arrays(fog).items()})
    np.testing.assert_array_equal(wet_fraction(both), np.repeat(wet_fraction(fog), 2, axis=1))
    # An unknown hour among them or later leaves it unknown: nothing else has told of the leaves since.
    for hour in (0, 30, 71):
        holed = steady_turf(100, dew_point_c=np.where(np.arange(100) == hour, NAN, 20.0))
        assert np.isnan(wet_fraction(holed)).all()
    holed = steady_turf(100, dew_point_c=np.where(np.arange(100) == 80, NAN, 20.0))
    np.testing.assert_array_equal(wet_fraction(holed)[:, 0], [NAN] * 72 + [0] * 8 + [NAN] * 20)


def test_a_record_is_taken_to_have_started_dry_after_72_known_hours() -> None:
    check_start_by_hand()


def test_what_is_not_known_of_watering_and_mowing_counts_as_none() -> None:
    whole = invented_weather(3, 200, 1).at_turf()
    unknown = np.full((200, 1), NAN)
    found = wet_fraction(replace(whole, irrigation_mm=unknown, dew_removed_fraction=unknown))
    np.testing.assert_array_equal(found, wet_fraction(whole))


def test_a_dew_point_above_the_air_counts_as_just_saturated() -> None:
    # Sensors print such pairs; they must not bring dew of their own.
    depths_mm = evaporation_of(steady_turf(3, dew_point_c=[20.0, 20.3, 25.0], net_radiation_w_m2=-40.0))[:, 0]
    assert depths_mm[0] < 0
    assert (depths_mm == depths_mm[0]).all()


def test_the_sun_at_the_horizon_is_day() -> None:
    at = evaporation_of(steady_turf(3, net_radiation_w_m2=-50.0, sun_elevation_deg=[-0.1, 0.0, 0.1]))[:, 0]
    assert at[1] == at[2]
    assert at[0] < at[1]  # half the conductance brings half the dry air


@pytest.mark.parametrize("name", energy_balance.ENERGY_BALANCE.needs)
def test_every_reading_that_it_needs_makes_its_hour_unknown(name: str) -> None:
    whole = invented_weather(7, 200, 1).at_turf()
    getattr(whole, name)[150] = NAN
    assert np.isnan(wet_fraction(whole)[150])


def test_inputs_that_lie_in_any_order_in_memory_give_the_same() -> None:
    whole = invented_weather(9, 150, 4).at_turf()
    turned = replace(whole, **{name: np.asfortranarray(array) for name, array in hourly_arrays(whole).items()})
    np.testing.assert_array_equal(wet_fraction(turned), wet_fraction(whole))


# The benchmark.


def test_the_benchmark_holds_the_same_sum_in_three_ways() -> None:
    hours = invented_weather(12, 400, 2)
    fast = benchmark_wetness.told(hours)
    for series in range(2):
        one = benchmark_wetness.some(hours, series, series + 1)
        plain_loop = benchmark_wetness.told_by_a_plain_loop(one)
        np.testing.assert_allclose(plain_loop, fast[:, series], rtol=0, atol=1e-12)
        frame = pd.DataFrame({field.name: getattr(one, field.name)[:, 0] for field in fields(one)})
        pandas = benchmark_wetness.told_by_pandas(frame).to_numpy()  # starts dry and says so from the first hour
        np.testing.assert_allclose(pandas[72:], fast[72:, series], rtol=0, atol=1e-12)


def test_memory_at_work_does_not_grow_with_the_series() -> None:
    few, many = benchmark_wetness.working_mb(60), benchmark_wetness.working_mb(240)
    assert many < 1.1 * few < 30


def test_unknown_rain_near_the_dew_point_may_have_filled_the_film() -> None:
    """By hand: Smax 0.6 mm (leaf area 3), no radiation, air 2.0 or 2.1 °C from its dew point, rain unread in hour 100.

    Before it the film is dry for sure. At 2.0 °C rain may have fallen: wet or dry is not known, there and after it,
    until a full film would have dried too. At 2.1 °C it is taken not to have.
    """
    for apart_c, may_be in ((2.0, True), (2.1, False)):
        rain = np.where(np.arange(300) == 100, NAN, 0.0)
        whole = steady_turf(300, rain_mm=rain, air_temperature_c=20.0, dew_point_c=20.0 - apart_c, leaf_area_index=3)
        found = wet_fraction(whole)[:, 0]
        assert (found[90:100] == 0).all()
        assert np.isnan(found[100:103]).all() == may_be
        unknown = np.flatnonzero(np.isnan(found[80:])) + 80
        if may_be:
            # dS/dt = -Ep (S/Smax)^(2/3): from full to 0.0316 Smax in 3 Smax (1 - 0.0316^(1/3)) / Ep hours.
            loss_mm = evaporation_of(whole)[100, 0]
            dry_after_h = 3 * 0.2 * float(np.asarray(whole.leaf_area_index)) * (1 - 0.1**0.5) / loss_mm
            assert unknown[0] == 100
            assert unknown[-1] == 100 + int(np.ceil(dry_after_h)) - 1
        else:
            assert not unknown.size


def test_a_measured_hour_without_rain_is_no_doubt() -> None:
    whole = steady_turf(300, air_temperature_c=20.0, dew_point_c=19.0)
    assert not np.isnan(wet_fraction(whole)[80:]).any()
