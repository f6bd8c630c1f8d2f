"""Hours fit to spray: one case a limit, by hand; what is unknown is never fit; shares of members."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecast.panel import Floats
from forecast.physics.wet_bulb import delta_t_c, wet_bulb_c
from forecast.physics.wind import height_factor
from forecast.schedule.label import Ingredient, Label, LabelUse, WaterIn, WeatherLimits
from forecast.schedule.spray_hours import FIT_FROM_SHARE, HoursAhead, SprayHours, SprayLimits, judge, limits_of

HOURS = 72
NOON = 36  # row of the hour that ends at 12:00 of the second day; the first row ends at 00:00
MPH = 0.44704


def _wind_10m(mph_at_2m: float) -> float:
    return mph_at_2m * MPH / height_factor(10.0, 2.0)


def _ahead(members: int = 1, **changes: Any) -> HoursAhead:
    """Three fair days, the sun up from 06:00 to 18:00: fit in every hour in which people work, 07:00 to 17:00."""
    clock = (np.arange(HOURS) % 24).astype(float)
    full = {
        "air_temperature_c": 20.0,
        "relative_humidity_pct": 60.0,
        "rain_mm": 0.0,
        "wind_speed_10m_m_s": _wind_10m(5.0),
        "cloud_cover_fraction": 0.9,
        "leaf_wet_fraction": 0.0,
    }
    values: dict[str, Any] = {name: np.full((HOURS, members), value) for name, value in full.items()}
    values["hours"] = np.datetime64("2050-07-01T00", "h") + np.arange(HOURS)
    values["sun_elevation_deg"] = 60 * np.sin((clock - 0.5 - 6) / 12 * np.pi)  # at mid-hour
    values["working"] = (clock >= 7) & (clock <= 17)
    values["watering_mm"] = np.zeros(HOURS)
    return HoursAhead(**{**values, **changes})


def _with(name: str, rows: slice | int, value: float, members: int = 1) -> HoursAhead:
    ahead = _ahead(members)
    changed = getattr(ahead, name).copy()
    changed[rows] = value
    return replace(ahead, **{name: changed})


def _stopped(found: SprayHours, row: int) -> list[str]:
    return [name for name, share in found.stops.items() if share[row] > 0]


def _cautioned(found: SprayHours, row: int) -> list[str]:
    return [name for name, share in found.cautions.items() if share[row] > 0]


PLAIN = SprayLimits()


def test_a_fair_day_is_fit_in_working_hours_and_in_no_other() -> None:
    found = judge(_ahead(), PLAIN)
    working = _ahead().working
    whole = np.arange(HOURS) < HOURS - 6  # six hours without rain after an hour cannot be told at the very end
    assert np.array_equal(found.fit[whole], working[whole])
    assert _stopped(found, NOON) == []
    assert _cautioned(found, NOON) == []
    assert _stopped(found, NOON + 8) == ["dark", "not working hours"]


@pytest.mark.parametrize(
    ("name", "rows", "value", "row", "reason"),
    [
        ("wind_speed_10m_m_s", NOON, _wind_10m(10.1), NOON, "too windy"),
        ("wind_speed_10m_m_s", NOON, _wind_10m(2.9), NOON, "too calm"),
        ("air_temperature_c", NOON, 32.3, NOON, "too hot"),  # 90 °F are 32.2 °C
        ("rain_mm", NOON, 0.3, NOON, "rain then or after"),
        ("rain_mm", NOON + 6, 0.3, NOON, "rain then or after"),
        ("rain_mm", slice(NOON + 1, NOON + 4), 0.1, NOON, "rain then or after"),  # a little three times
        ("rain_mm", NOON - 5, 10.1, NOON, "ground too wet"),
        ("rain_mm", slice(NOON - 5, NOON - 2), 3.4, NOON, "ground too wet"),
        ("watering_mm", NOON + 6, 5.0, NOON, "watering then or after"),
        ("watering_mm", NOON, 5.0, NOON, "watering then or after"),
        ("watering_mm", NOON - 3, 12.0, NOON, "ground too wet"),
        ("working", NOON, False, NOON, "not working hours"),
        ("sun_elevation_deg", NOON, -6.1, NOON, "dark"),
    ],
)
def test_what_stops_an_hour(name: str, rows: slice | int, value: float, row: int, reason: str) -> None:
    found = judge(_with(name, rows, value), PLAIN)
    assert _stopped(found, row) == [reason]
    assert found.fit_share[row] == 0


@pytest.mark.parametrize(
    ("name", "rows", "value"),
    [
        ("wind_speed_10m_m_s", NOON, _wind_10m(9.9)),
        ("wind_speed_10m_m_s", NOON, _wind_10m(3.1)),
        ("air_temperature_c", NOON, 32.1),
        ("rain_mm", NOON + 7, 9.0),
        ("rain_mm", NOON - 1, 9.0),
        ("rain_mm", NOON - 6, 30.0),
        ("rain_mm", slice(NOON, NOON + 7), 0.2 / 7),  # just as much as is no rain
        ("watering_mm", NOON + 7, 9.0),
        ("watering_mm", NOON - 6, 30.0),
        ("sun_elevation_deg", NOON, 1.0),
    ],
)
def test_what_does_not_stop_an_hour(name: str, rows: slice | int, value: float) -> None:
    assert _stopped(judge(_with(name, rows, value), PLAIN), NOON) == []


@pytest.mark.parametrize(
    ("name", "value", "reason"),
    [
        ("air_temperature_c", 29.5, "warm"),  # 85 °F are 29.4 °C
        ("relative_humidity_pct", 90.0, "slow to dry"),
        ("relative_humidity_pct", 20.0, "quick to dry"),
        ("leaf_wet_fraction", 0.6, "wet leaves"),
    ],
)
def test_what_only_cautions(name: str, value: float, reason: str) -> None:
    found = judge(_with(name, NOON, value), PLAIN)
    assert _cautioned(found, NOON) == [reason]
    assert found.fit_share[NOON] == 1


def test_wet_leaves_stop_where_the_label_wants_them_dry() -> None:
    found = judge(_with("leaf_wet_fraction", NOON, 0.6), replace(PLAIN, dry_leaves=True))
    assert _stopped(found, NOON) == ["wet leaves"]
    assert _cautioned(found, NOON) == []


# Signs of an inversion: the sun sets after the hour that ends at 18:00 and is up from the one that ends at 07:00.
@pytest.mark.parametrize(
    ("clock", "near_night"), [(7, True), (8, True), (9, False), (16, False), (17, True), (18, True)]
)
def test_an_inversion_is_looked_for_about_night(clock: int, near_night: bool) -> None:
    row = 24 + clock
    calm = _with("wind_speed_10m_m_s", row, _wind_10m(2.0))
    sky = calm.cloud_cover_fraction.copy()
    sky[row] = 0.2
    found = judge(replace(calm, cloud_cover_fraction=sky), replace(PLAIN, wind_least_m_s=0.5))
    assert ("signs of an inversion" in _stopped(found, row)) is near_night
    half = judge(calm, replace(PLAIN, wind_least_m_s=0.5))
    assert ("some signs of an inversion" in _cautioned(half, row)) is near_night
    unread = judge(replace(calm, cloud_cover_fraction=np.full((HOURS, 1), np.nan)), replace(PLAIN, wind_least_m_s=0.5))
    assert ("signs of an inversion" in _stopped(unread, row)) is near_night, "an unread sky may be clear"


@pytest.mark.parametrize(
    ("name", "rows"),
    [
        ("air_temperature_c", NOON), ("rain_mm", NOON), ("rain_mm", NOON + 6), ("wind_speed_10m_m_s", NOON),
        ("rain_mm", NOON - 5),
    ],
)  # fmt: skip
def test_what_is_not_known_is_not_fit(name: str, rows: int) -> None:
    found = judge(_with(name, rows, np.nan), PLAIN)
    assert np.isnan(found.fit_share[NOON])
    assert not found.fit[NOON]


def test_what_stops_by_what_is_known_stops_whatever_is_not() -> None:
    dark = judge(_with("rain_mm", slice(None), np.nan), PLAIN)
    assert dark.fit_share[NOON + 10] == 0
    shower = _with("rain_mm", NOON + 1, 1.0)
    rain = shower.rain_mm.copy()
    rain[NOON + 3] = np.nan
    assert judge(replace(shower, rain_mm=rain), PLAIN).fit_share[NOON] == 0


def test_hours_before_the_first_one_asked_about_still_count() -> None:
    whole = judge(_with("rain_mm", NOON - 5, 10.1), PLAIN)
    later = whole.since(NOON)
    assert later.hours[0] == whole.hours[NOON]
    assert _stopped(later, 0) == ["ground too wet"]
    assert later.fit_share[0] == 0
    assert len(later.working) == len(later.hours) == HOURS - NOON


def test_shares_are_of_members() -> None:
    ahead = _ahead(10)
    rain = ahead.rain_mm.copy()
    rain[NOON + 2, :2] = 1.0  # two of ten
    found = judge(replace(ahead, rain_mm=rain), PLAIN)
    assert found.stops["rain then or after"][NOON] == pytest.approx(0.2)
    assert found.fit_share[NOON] == pytest.approx(0.8)
    assert found.fit[NOON], "eight of ten are enough"
    rain[NOON + 2, 2] = 1.0
    assert not judge(replace(ahead, rain_mm=rain), PLAIN).fit[NOON]
    rain[NOON + 2] = 0.0
    rain[NOON + 2, :3] = np.nan
    assert np.isnan(judge(replace(ahead, rain_mm=rain), PLAIN).fit_share[NOON]), "seven known of ten do not settle it"


def test_stops_of_different_members_add_up() -> None:
    """Rain in two of ten and wind in two others: fit in six."""
    ahead = _ahead(10)
    rain, wind = ahead.rain_mm.copy(), ahead.wind_speed_10m_m_s.copy()
    rain[NOON, :2] = 1.0
    wind[NOON, 2:4] = _wind_10m(12.0)
    assert judge(replace(ahead, rain_mm=rain, wind_speed_10m_m_s=wind), PLAIN).fit_share[NOON] == pytest.approx(0.6)


# Labels.

NOTHING_SAID = WeatherLimits()


def _label(weather: WeatherLimits = NOTHING_SAID, water_in: WaterIn | None = None) -> Label:
    use = LabelUse("brown_patch", ("tall_fescue",), "preventive", 1.0, "as printed", 14, 28)
    return Label(
        "a", "A", "R", date(2049, 1, 1), (Ingredient("x"),), "mL", 0.08, "as printed", None, "", "", "", (use,),
        weather=weather, water_in=water_in,
    )  # fmt: skip


def test_a_labels_limits_come_before_the_houses() -> None:
    said = WeatherLimits(rain_free_h=2, wind_least_m_s=1.0, wind_most_m_s=6.0, air_least_c=10.0, air_most_c=35.0)
    limits = limits_of(_label(said))
    assert (limits.rain_free_h, limits.wind_most_m_s, limits.air_most_c, limits.air_least_c) == (2, 6.0, 35.0, 10.0)
    assert _stopped(judge(_with("rain_mm", NOON + 3, 1.0), limits), NOON) == []
    assert _stopped(judge(_with("rain_mm", NOON + 2, 1.0), limits), NOON) == ["rain then or after"]
    assert _stopped(judge(_with("air_temperature_c", NOON, 34.0), limits), NOON) == []
    assert _stopped(judge(_with("air_temperature_c", NOON, 9.0), limits), NOON) == ["too cold"]
    assert limits_of(_label()) == SprayLimits()
    assert limits_of(_label(WeatherLimits(wind_most_m_s=1.0))).wind_least_m_s == 1.0, "never above the label's most"


def test_what_is_watered_in_needs_no_dry_hours_after() -> None:
    limits = limits_of(_label(water_in=WaterIn(3.0, 6.0, 24.0)))
    assert _stopped(judge(_with("rain_mm", NOON + 1, 5.0), limits), NOON) == []
    assert _stopped(judge(_with("rain_mm", NOON, 5.0), limits), NOON) == ["rain then or after"]


def test_heat_that_a_label_looks_ahead_for_stops_every_hour_before_it() -> None:
    """No application where 32 °C come within one day."""
    limits = limits_of(_label(WeatherLimits(heat_ahead_c=32.0, heat_ahead_days=1)))
    found = judge(_with("air_temperature_c", NOON + 24, 32.0), limits)
    heat = found.stops["heat ahead"]
    assert heat[NOON - 1] == 0
    assert heat[NOON : NOON + 25].tolist() == [1.0] * 25
    assert heat[NOON + 25] == 0
    unknown = judge(_with("air_temperature_c", NOON + 24, np.nan), limits).stops["heat ahead"]
    assert np.isnan(unknown[NOON])


# Wet bulb.


@pytest.mark.parametrize(("air_c", "rh_pct", "wet_c"), [(20.0, 50.0, 13.70), (30.0, 40.0, 30.0 - 9.55)])
def test_wet_bulb_of_the_paper(air_c: float, rh_pct: float, wet_c: float) -> None:
    """Stull 2011: 20 °C and 50 % give 13.7 °C; the second by his eq. 1, worked out by hand."""
    assert wet_bulb_c(np.array(air_c), np.array(rh_pct)) == pytest.approx(wet_c, abs=0.005)


@given(st.floats(0.0, 40.0), st.floats(15.0, 98.0))
def test_wet_bulb_beside_psychrolib(air_c: float, rh_pct: float) -> None:
    """Stull 2011 gives errors of -1.0 to 0.65 °C; beside psychrolib, which solves ASHRAE's equations, 0.83 at 40 °C."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    true_c = psychrolib.GetTWetBulbFromRelHum(air_c, rh_pct / 100, 101_325.0)
    assert -1.0 < wet_bulb_c(np.array(air_c), np.array(rh_pct)) - true_c < 0.85
    assert delta_t_c(np.array(air_c), np.array(rh_pct)) >= 0


# Properties.


def _random(seed: int, members: int = 3) -> HoursAhead:
    rng = np.random.default_rng(seed)

    def draw(low: float, high: float) -> Floats:
        return rng.uniform(low, high, (HOURS, members))

    return _ahead(
        members,
        air_temperature_c=draw(5, 38),
        relative_humidity_pct=draw(15, 100),
        rain_mm=np.where(rng.random((HOURS, members)) < 0.9, 0.0, draw(0, 8)),
        wind_speed_10m_m_s=draw(0, 8),
        cloud_cover_fraction=draw(0, 1),
        leaf_wet_fraction=draw(0, 1),
    )


@given(st.integers(0, 10_000))
def test_more_rain_and_stricter_limits_never_make_an_hour_fit(seed: int) -> None:
    ahead = _random(seed)
    plain = judge(ahead, PLAIN).fit_share
    wetter = judge(replace(ahead, rain_mm=ahead.rain_mm + 0.1), PLAIN).fit_share
    known = ~np.isnan(plain)
    assert (np.nan_to_num(wetter)[known] <= plain[known] + 1e-12).all()
    strict = replace(PLAIN, wind_most_m_s=2.5, air_most_c=25.0, rain_free_h=12, dry_leaves=True)
    assert (np.nan_to_num(judge(ahead, strict).fit_share)[known] <= plain[known] + 1e-12).all()
    assert 0 < FIT_FROM_SHARE <= 1


@given(st.integers(0, 10_000), st.permutations(range(3)))
def test_the_order_of_members_changes_nothing(seed: int, order: list[int]) -> None:
    ahead = _random(seed)
    names = (
        "air_temperature_c", "relative_humidity_pct", "rain_mm", "wind_speed_10m_m_s", "cloud_cover_fraction",
        "leaf_wet_fraction",
    )  # fmt: skip
    moved = replace(ahead, **{name: getattr(ahead, name)[:, order] for name in names})
    assert np.array_equal(judge(ahead, PLAIN).fit_share, judge(moved, PLAIN).fit_share, equal_nan=True)
