"""Hours at the turf from a place's hours: sky, wind, watering, members, holes, and series that do not mix."""

from __future__ import annotations

import math
from datetime import time
from zoneinfo import ZoneInfo

import numpy as np
import plain_film
import pytest

from forecast.between import Where
from forecast.canopy import TurfHours, at_turf, soil_and_sun
from forecast.canopy.stand import canopy_height_m, leaf_area_index
from forecast.canopy.turf_hours import HOURLY
from forecast.panel import Floats, Hours, Panel, observed
from forecast.physics.soil_temperature import soil_temperature_c
from forecast.physics.sun import mid_hour_elevation_deg
from forecast.quantities import Flag, Origin
from forecast.turf import DewRemoval, Irrigation, Setting
from forecast.wetness import wetness

ALDER_REACH = Where(36.4, -79.6, 240.0)  # invented
QUOIN_POINT = Where(-33.9, 151.2, 20.0)  # invented
NEW_YORK = ZoneInfo("America/New_York")
SHADED = Setting(0.36, 0.82, 0.5, ("e",), 100.0, "dense", Irrigation((0, 3), time(19, 30), 8.0))
CUT_LOW = Setting(0.4, 0.5, 0.3, (), 5.0, "thin", None, DewRemoval((0, 1, 2, 3, 4), time(6)))
SETTINGS = (Setting(), SHADED, CUT_LOW)


def _hours(first: str, count: int) -> Hours:
    return np.datetime64(first, "h") + np.arange(count).astype("timedelta64[h]")


def _weather(shape: tuple[int, ...], seed: int = 1) -> dict[str, Floats]:
    chance = np.random.default_rng(seed)
    temperature = chance.uniform(-5, 30, shape)
    return {
        "air_temperature_c": temperature,
        "dew_point_c": temperature - chance.uniform(0, 12, shape),
        "relative_humidity_pct": chance.uniform(20, 100, shape),
        "rain_mm": np.where(chance.random(shape) < 0.1, 2.0, 0.0),
        "wind_speed_10m_m_s": chance.uniform(0, 8, shape),
        "shortwave_down_w_m2": chance.uniform(0, 900, shape),
        "cloud_cover_fraction": chance.uniform(0, 1, shape),
    }


def _panel(hours: Hours, values: dict[str, Floats]) -> Panel:
    series = next(iter(values.values())).shape[1]
    return observed(hours, tuple(f"s{number}" for number in range(series)), values)


HOURS = _hours("2026-07-19T00", 72)
WEATHER = _weather((72, 3))


def _arrays(turf: TurfHours) -> dict[str, Floats]:
    return {name: getattr(turf, name) for name in HOURLY}


def _same(one: TurfHours, other: TurfHours) -> None:
    for name, array in _arrays(one).items():
        np.testing.assert_array_equal(array, getattr(other, name), err_msg=name)
    np.testing.assert_array_equal(one.canopy_height_m, other.canopy_height_m)
    np.testing.assert_array_equal(one.leaf_area_index, other.leaf_area_index)


def test_what_the_station_measured_near_2_m_stays() -> None:
    turf = at_turf(_panel(HOURS, WEATHER), SETTINGS, ALDER_REACH, NEW_YORK)
    for name in ("air_temperature_c", "dew_point_c", "relative_humidity_pct", "rain_mm", "wind_speed_10m_m_s"):
        np.testing.assert_array_equal(getattr(turf, name), WEATHER[name])
    elevation = mid_hour_elevation_deg(HOURS, 36.4, -79.6)
    np.testing.assert_array_equal(turf.sun_elevation_deg, np.stack([elevation] * 3, axis=1))


def test_net_radiation_is_that_of_the_plain_equations_after_shade() -> None:
    turf = at_turf(_panel(HOURS, WEATHER), SETTINGS, ALDER_REACH, NEW_YORK)
    # 2026-07-20: in the hour that ends at 13:00 UTC, 09:00 daylight time, the sun is in the east and under 40° high; in
    # the one that ends at 21:00 UTC it is in the west.
    for stamp, shares in (("2026-07-20T13", (1, 0.36, 0.4)), ("2026-07-20T21", (1, 1, 0.4))):
        row = int(np.flatnonzero(np.datetime64(stamp, "h") == HOURS)[0])
        for series, (share, sky) in enumerate(zip(shares, (1, 0.82, 0.5), strict=True)):
            by_hand = plain_film.net_radiation_w_m2(
                share * WEATHER["shortwave_down_w_m2"][row, series],
                WEATHER["air_temperature_c"][row, series],
                WEATHER["dew_point_c"][row, series],
                WEATHER["cloud_cover_fraction"][row, series],
                sky,
            )
            assert turf.net_radiation_w_m2[row, series] == pytest.approx(by_hand, abs=1e-6)


def test_light_is_told_from_cloud_where_it_was_not_measured() -> None:
    values = {**WEATHER, "cloud_cover_fraction": np.full((72, 3), 0.5)}
    del values["shortwave_down_w_m2"]
    turf = at_turf(_panel(HOURS, values), SETTINGS, ALDER_REACH, NEW_YORK)
    row = int(np.flatnonzero(np.datetime64("2026-07-20T18", "h") == HOURS)[0])  # near noon
    # 1098 cos z exp(−0.059/cos z) (Haurwitz 1945, as pvlib has it), through cloud by 1 − 0.75 · 0.5^3.4 = 0.9290
    # (Kasten & Czeplak 1980, from memory).
    height = math.sin(math.radians(turf.sun_elevation_deg[row, 0]))
    light = 1098 * height * math.exp(-0.059 / height) * (1 - 0.75 * 0.5**3.4)
    air, dew_point = WEATHER["air_temperature_c"][row, 0], WEATHER["dew_point_c"][row, 0]
    by_hand = plain_film.net_radiation_w_m2(light, air, dew_point, 0.5)
    assert turf.net_radiation_w_m2[row, 0] == pytest.approx(by_hand, abs=1e-6)


def test_a_measured_hour_of_light_is_kept_beside_cloud_that_says_another() -> None:
    light = np.full((72, 3), np.nan)
    row = int(np.flatnonzero(np.datetime64("2026-07-20T18", "h") == HOURS)[0])
    light[row] = 50.0
    values = {**WEATHER, "cloud_cover_fraction": np.zeros((72, 3)), "shortwave_down_w_m2": light}
    turf = at_turf(_panel(HOURS, values), SETTINGS, ALDER_REACH, NEW_YORK)
    air, dew_point = WEATHER["air_temperature_c"][row, 0], WEATHER["dew_point_c"][row, 0]
    by_hand = plain_film.net_radiation_w_m2(50.0, air, dew_point, 0.0)
    assert turf.net_radiation_w_m2[row, 0] == pytest.approx(by_hand, abs=1e-6)


def test_wind_comes_down_to_2_m_through_the_shelter_and_not_below_half_a_metre_a_second() -> None:
    values = {**WEATHER, "wind_speed_10m_m_s": np.full((72, 3), 4.0)}
    values["wind_speed_10m_m_s"][0] = [0.0, 1.0, np.nan]
    turf = at_turf(_panel(HOURS, values), SETTINGS, ALDER_REACH, NEW_YORK)
    # FAO-56: 4 m/s at 10 m is 4 · 0.748 = 2.99 at 2 m; half of it 1.50, three tenths 0.90.
    np.testing.assert_allclose(turf.wind_speed_2m_m_s[1], [2.992, 1.496, 0.898], atol=0.002)
    np.testing.assert_array_equal(turf.wind_speed_2m_m_s[0], [0.5, 0.5, np.nan])
    np.testing.assert_array_equal(turf.wind_speed_10m_m_s[0], [0.0, 1.0, np.nan])


def test_water_and_dew_removal_come_from_each_series_own_setting() -> None:
    turf = at_turf(_panel(HOURS, WEATHER), SETTINGS, ALDER_REACH, NEW_YORK)
    # Monday 2026-07-20, 19:30 at UTC−4, is 23:30 UTC; 19 July is a Sunday, 21 a Tuesday.
    wet = {str(HOURS[row]): turf.irrigation_mm[row].tolist() for row in np.flatnonzero(turf.irrigation_mm.any(axis=1))}
    assert wet == {"2026-07-21T00": [0, 4, 0], "2026-07-21T01": [0, 4, 0]}
    dragged = np.flatnonzero(turf.dew_removed_fraction[:, 2])
    assert [str(HOURS[row]) for row in dragged] == ["2026-07-20T10", "2026-07-21T10"]
    assert not turf.dew_removed_fraction[:, :2].any()


def test_the_stand_follows_its_cut_and_its_density() -> None:
    turf = at_turf(_panel(HOURS, WEATHER), SETTINGS, ALDER_REACH, NEW_YORK)
    # 24 · 0.075 = 1.8; 24 · 0.1 = 2.4, dense 2.4 · 1.3 = 3.12; 24 · 0.005 = 0.12, so 1 at least; thin 1 · 0.7.
    np.testing.assert_allclose(turf.canopy_height_m, [0.075, 0.1, 0.005], rtol=1e-12)
    np.testing.assert_allclose(turf.leaf_area_index, [1.8, 3.12, 0.7], rtol=1e-12)


def test_leaf_area_has_a_top_and_the_reference_grass_its_published_figure() -> None:
    # FAO-56: the reference grass of 0.12 m has a leaf area index of 2.88.
    assert leaf_area_index(Setting(mowing_height_mm=120)) == pytest.approx(2.88)
    assert leaf_area_index(Setting(mowing_height_mm=200)) == 3.0
    assert leaf_area_index(Setting(mowing_height_mm=200, density="dense")) == pytest.approx(3.9)
    assert canopy_height_m(Setting(mowing_height_mm=200)) == 0.2


def test_members_are_told_as_if_each_were_alone() -> None:
    whole = {name: np.stack([array, _weather((72, 3), 2)[name]], axis=2) for name, array in WEATHER.items()}
    whole["rain_mm"] = WEATHER["rain_mm"]  # one quantity without members goes with all of them
    turf = at_turf(_panel(HOURS, whole), SETTINGS, ALDER_REACH, NEW_YORK)
    told = wetness(turf).fraction
    assert told.shape == (72, 3, 2)
    for member in range(2):
        values = {name: array if array.ndim == 2 else array[:, :, member] for name, array in whole.items()}
        alone = at_turf(_panel(HOURS, values), SETTINGS, ALDER_REACH, NEW_YORK)
        for name, array in _arrays(turf).items():
            np.testing.assert_array_equal(array[:, :, member], getattr(alone, name), err_msg=name)
        np.testing.assert_array_equal(told[:, :, member], wetness(alone).fraction)


def test_a_series_in_company_is_told_as_alone() -> None:
    turf = at_turf(_panel(HOURS, WEATHER), SETTINGS, ALDER_REACH, NEW_YORK)
    for column, setting in enumerate(SETTINGS):
        values = {name: array[:, column : column + 1] for name, array in WEATHER.items()}
        alone = at_turf(_panel(HOURS, values), [setting], ALDER_REACH, NEW_YORK)
        for name, array in _arrays(turf).items():
            np.testing.assert_array_equal(array[:, column], getattr(alone, name)[:, 0], err_msg=name)


def test_a_part_of_the_record_is_told_as_in_the_whole() -> None:
    hours = _hours("2026-03-06T00", 24 * 6)  # over the change of the clock on 8 March
    panel = _panel(hours, _weather((24 * 6, 3)))
    whole = at_turf(panel, SETTINGS, ALDER_REACH, NEW_YORK)
    part = at_turf(panel.between(hours[31], hours[90]), SETTINGS, ALDER_REACH, NEW_YORK)
    for name, array in _arrays(part).items():
        np.testing.assert_array_equal(array, getattr(whole, name)[31:91], err_msg=name)


@pytest.mark.parametrize(
    ("missing", "unknown"),
    [
        (("air_temperature_c",), {"air_temperature_c", "net_radiation_w_m2"}),
        (("dew_point_c",), {"dew_point_c", "net_radiation_w_m2"}),
        (("relative_humidity_pct",), {"relative_humidity_pct"}),
        (("rain_mm",), {"rain_mm"}),
        (("wind_speed_10m_m_s",), {"wind_speed_10m_m_s", "wind_speed_2m_m_s"}),
        (("shortwave_down_w_m2", "cloud_cover_fraction"), {"net_radiation_w_m2"}),
        (("shortwave_down_w_m2",), set()),
        (tuple(WEATHER), set(HOURLY) - {"irrigation_mm", "dew_removed_fraction", "sun_elevation_deg"}),
    ],
)
@pytest.mark.parametrize("left_out", [False, True])
def test_what_nobody_measured_stays_unknown(missing: tuple[str, ...], unknown: set[str], *, left_out: bool) -> None:
    values = {name: np.full((72, 3), np.nan) if name in missing else array for name, array in WEATHER.items()}
    if left_out:
        values = {name: array for name, array in values.items() if name not in missing}
    panel = observed(HOURS, ("s0", "s1", "s2"), values)
    turf = at_turf(panel, SETTINGS, ALDER_REACH, NEW_YORK)
    for name, array in _arrays(turf).items():
        assert array.shape == (72, 3)
        assert np.isnan(array).all() == (name in unknown), name
        assert np.isnan(array).any() == (name in unknown), name


def test_one_unknown_hour_makes_no_other_unknown() -> None:
    values = {name: array.copy() for name, array in WEATHER.items()}
    for array in values.values():
        array[40, 1] = np.nan
    turf = at_turf(_panel(HOURS, values), SETTINGS, ALDER_REACH, NEW_YORK)
    for name in ("air_temperature_c", "dew_point_c", "rain_mm", "wind_speed_2m_m_s", "net_radiation_w_m2"):
        assert np.argwhere(np.isnan(getattr(turf, name))).tolist() == [[40, 1]], name


def test_inputs_are_not_written_to_and_shapes_are_checked() -> None:
    before = {name: array.copy() for name, array in WEATHER.items()}
    at_turf(_panel(HOURS, WEATHER), SETTINGS, ALDER_REACH, NEW_YORK)
    soil_and_sun(_panel(HOURS, WEATHER), ALDER_REACH)
    for name, array in before.items():
        np.testing.assert_array_equal(array, WEATHER[name])
    with pytest.raises(ValueError, match="3 series need one setting each, not 2"):
        at_turf(_panel(HOURS, WEATHER), SETTINGS[:2], ALDER_REACH, NEW_YORK)
    uneven = {"air_temperature_c": np.zeros((72, 3, 2)), "dew_point_c": np.zeros((72, 3, 4))}
    with pytest.raises(ValueError, match="different counts of members"):
        at_turf(_panel(HOURS, uneven), SETTINGS, ALDER_REACH, NEW_YORK)


def _dewy_days(count: int) -> Panel:
    """Clear calm days in July with saturated air at dawn, dry afternoons, and nobody's shortwave radiation."""
    hours = _hours("2026-07-10T00", 24 * count)
    clock = (np.arange(24 * count) - 4) % 24
    air = 22 - 7 * np.cos(2 * np.pi * (clock - 4) / 24)
    dew_point = np.full(len(air), 14.5)
    steady = {"rain_mm": 0.0, "wind_speed_10m_m_s": 1.5, "cloud_cover_fraction": 0.0}
    values = {"air_temperature_c": air, "dew_point_c": np.minimum(dew_point, air)}
    values |= {name: np.full(len(air), figure) for name, figure in steady.items()}
    return observed(hours, ("s",), {name: array[:, None] for name, array in values.items()})


def _wet_hours(setting: Setting, key: str = "energy_balance") -> float:
    """A day, over the days after the film's start is forgotten."""
    turf = at_turf(_dewy_days(8), [setting], ALDER_REACH, NEW_YORK)
    return float(wetness(turf, key).fraction[24 * 4 :].sum() / 4)


def test_shade_in_the_morning_keeps_dew_longer_than_shade_in_the_afternoon() -> None:
    open_turf, morning, afternoon = Setting(), Setting(0.3, shaded_from=("e",)), Setting(0.3, shaded_from=("w",))
    assert 4 < _wet_hours(open_turf) < 16, "else the test would show nothing"
    assert _wet_hours(morning) > _wet_hours(open_turf) + 0.3
    assert abs(_wet_hours(afternoon) - _wet_hours(open_turf)) < abs(_wet_hours(morning) - _wet_hours(open_turf))
    # A roof of leaves keeps the cold of the sky off: less dew than under the open sky with the same light.
    assert _wet_hours(Setting(0.3, 0.5)) < _wet_hours(Setting(0.3))


def test_water_in_the_evening_keeps_turf_wet_longer_than_water_before_dawn() -> None:
    # Fidanza & Dernoeden 1996, Crop Sci. 36:1620-1630 (abstract): evening water had more brown patch, consistently.
    evening, dawn = (_wet_hours(Setting(irrigation=Irrigation(tuple(range(7)), time(hour), 6.0))) for hour in (19, 5))
    assert evening > dawn + 2
    assert dawn >= _wet_hours(Setting())


def test_dragging_dew_off_shortens_the_morning() -> None:
    dragged = Setting(dew_removal=DewRemoval(tuple(range(7)), time(7)))
    assert _wet_hours(dragged) < _wet_hours(Setting())


def test_density_moves_wet_hours_by_no_more_than_was_measured() -> None:
    # Giesler, Yuen & Horst 1996, Plant Dis. 80:389 (abstract): dense against thin tall fescue +0.8 h in a dry year,
    # none in a wet one. Here only what leaves hold differs, not the damp air between them.
    dense, thin = _wet_hours(Setting(density="dense")), _wet_hours(Setting(density="thin"))
    assert dense != thin
    assert abs(dense - thin) < 0.8


def test_soil_temperature_is_told_from_air_where_it_was_not_measured() -> None:
    hours = _hours("2026-04-01T00", 24 * 40)
    air = 15 + 8 * np.sin(2 * np.pi * np.arange(24 * 40) / 24)[:, None] + np.array([[0.0, 5.0, -5.0]])
    measured = np.full(air.shape, np.nan)
    measured[900, 1] = 33.0
    panel = _panel(hours, {"air_temperature_c": air, "soil_temperature_5cm_c": measured})
    neighbour = np.full(air.shape, Origin.OBSERVED, np.uint8)
    neighbour[950] = Origin.WEATHER_FORECAST
    panel = panel.with_quantity("air_temperature_c", air, panel.flags["air_temperature_c"], neighbour)
    told = soil_and_sun(panel, ALDER_REACH)
    at_5cm, at_10cm = told.values["soil_temperature_5cm_c"], told.values["soil_temperature_10cm_c"]
    assert at_5cm[900, 1] == 33.0
    assert (told.flags["soil_temperature_5cm_c"][900, 1], told.origin["soil_temperature_5cm_c"][900, 1]) == (2, 0)
    assert told.origin["soil_temperature_5cm_c"][901, 1] == Origin.FILLED
    assert told.origin["soil_temperature_5cm_c"][950, 1] == Origin.WEATHER_FORECAST
    assert told.flags["soil_temperature_5cm_c"][901, 1] == Flag.NOT_EVALUATED
    # The start is unknown and flagged so; air and its own quantities stay.
    assert np.isnan(at_5cm[:24]).all()
    assert (told.flags["soil_temperature_10cm_c"][:24] == Flag.MISSING).all()
    np.testing.assert_array_equal(told.values["air_temperature_c"], air)
    # Each series by its own air, and at the depth its name says: the day's swing is 16 °C in the air; at 5 cm
    # e^(−0.05/0.1173) = 0.653 of it is left, at 10 cm 0.426 (α 5e-7 m²/s; handbooks).
    last_day = slice(-24, None)
    assert np.ptp(at_5cm[last_day, 0]) == pytest.approx(16 * 0.653, abs=0.3)
    assert np.ptp(at_10cm[last_day, 0]) == pytest.approx(16 * 0.426, abs=0.3)
    for column in range(3):
        alone = soil_temperature_c(air[:, column], 0.10)
        np.testing.assert_allclose(at_10cm[:, column], alone, rtol=0, atol=1e-9)


def test_snow_slows_the_soil_and_the_sun_is_added() -> None:
    hours = _hours("2026-01-01T00", 24 * 40)
    air = np.where(np.arange(24 * 40) < 24 * 30, 2.0, -8.0)[:, None]
    bare, snowy = (
        soil_and_sun(
            _panel(hours, {"air_temperature_c": air, "snow_depth_mm": np.full(air.shape, depth)}),
            ALDER_REACH,
        )
        for depth in (0.0, 100.0)
    )
    assert snowy.values["soil_temperature_5cm_c"][-1, 0] > bare.values["soil_temperature_5cm_c"][-1, 0] + 1
    np.testing.assert_array_equal(bare.values["sun_elevation_deg"][:, 0], mid_hour_elevation_deg(hours, 36.4, -79.6))


def test_soil_and_sun_go_with_members_and_with_a_panel_that_has_no_air() -> None:
    hours = _hours("2026-04-01T00", 24 * 30)
    air = np.random.default_rng(3).uniform(5, 25, (24 * 30, 1, 3))
    told = soil_and_sun(_panel(hours, {"air_temperature_c": air}), ALDER_REACH)
    assert told.values["soil_temperature_5cm_c"].shape == told.values["sun_elevation_deg"].shape == air.shape
    for member in range(3):
        alone = soil_and_sun(_panel(hours, {"air_temperature_c": air[:, :, member]}), ALDER_REACH)
        np.testing.assert_allclose(
            told.values["soil_temperature_10cm_c"][:, :, member], alone.values["soil_temperature_10cm_c"], atol=1e-9
        )
    without = soil_and_sun(_panel(hours, {"rain_mm": np.zeros((24 * 30, 1))}), ALDER_REACH)
    assert np.isnan(without.values["soil_temperature_5cm_c"]).all()


def test_the_south_works_like_the_north() -> None:
    # A fortnight of one day's weather at noon by the sun: Quoin Point's noon is near 02:00 UTC.
    hours = _hours("2026-06-20T00", 24)
    values = _weather((24, 1))
    walled = Setting(0.2, shaded_from=("n",))
    open_, behind = (
        at_turf(_panel(hours, values), [setting], QUOIN_POINT, ZoneInfo("Australia/Sydney")).net_radiation_w_m2[:, 0]
        for setting in (Setting(), walled)
    )
    noon = int(np.argmax(mid_hour_elevation_deg(hours, -33.9, 151.2)))
    assert str(hours[noon]) in ("2026-06-20T02", "2026-06-20T03")
    # 0.77 of the light, 0.8 of which the wall takes.
    assert open_[noon] - behind[noon] == pytest.approx(0.77 * 0.8 * values["shortwave_down_w_m2"][noon, 0], abs=1e-9)
