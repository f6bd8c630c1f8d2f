"""Shares of rain, wind and sky worth taking over, learned from emulated days of known worth.

With f = x with a chance s, else a day of its own, Σ(f − m)(x − m)/Σ(f − m)² is s.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from emulated_forecasts import (
    AHEAD,
    DAYS,
    NOTHING,
    STOCK,
    WORLD,
    issued,
    weight,
)

from forecast.outlook.lead_skill import ASSUMED, LEAD_DAYS
from forecast.outlook.learned_skill import Told, learned
from forecast.outlook.library import BLENDED, Library
from forecast.panel import Floats

RAIN, WIND, CLOUD, SUN = "rain_mm", "wind_speed_10m_m_s", "cloud_cover_fraction", "shortwave_down_w_m2"
SHARES = np.repeat([0.9, 0.6, 0.3, 0.0], 4)
# 700 days, nearly independent: √((1 − s²)/700) = 0.04 at most; the wind's day means are of hours that hang together.
SHARE_HAIR = 0.12


def rain_of(wet: Floats) -> Floats:
    """Hours of some days: 24 times 0.1 mm on wet ones, else nothing."""
    return np.repeat(0.1 * wet, 24)


def seasonal_days() -> tuple[Floats, Floats]:
    """A day's chance of rain, from nothing in January to 0.9 in July, and whether it rained."""
    at = np.arange(len(WORLD.hours) // 24)
    chance = 0.45 - 0.45 * np.cos(2 * np.pi * at / 365.25)
    return chance, (np.random.default_rng(5).random(len(at)) < chance).astype(float)


def with_rain(days: int, shares: Floats, hourly: Callable[[Floats], Floats] = rain_of) -> tuple[Library, list[Told]]:
    random = np.random.default_rng(6)
    chance, wet = seasonal_days()
    told = []
    for one in issued(days, first="2042-01-01T00"):  # from midnight, so that a day of lead is a day
        first = (WORLD.row(one.since) - 1) // 24
        own = random.random(LEAD_DAYS) < chance[first : first + LEAD_DAYS]
        same = random.random(LEAD_DAYS) < shares
        said = np.where(same, wet[first : first + LEAD_DAYS], own)
        came = rain_of(wet)[24 * first : 24 * first + AHEAD]
        told.append(Told(one.since, {**one.values, RAIN: hourly(said)}, {**one.came, RAIN: came}))
    # Stamps end their hours: the first stamp of the world ends an hour of the day before.
    return WORLD.stock(**{RAIN: np.append(0.0, rain_of(wet))[: len(WORLD.hours)]}), told


NO_SHARES = replace(NOTHING, shares=MappingProxyType({name: np.zeros(LEAD_DAYS) for name in (RAIN, WIND, CLOUD, SUN)}))


def test_the_share_of_rain_is_what_its_days_are_worth_beyond_the_season() -> None:
    stock, told = with_rain(DAYS, SHARES)
    found = learned(told, stock, NO_SHARES).shares[RAIN]
    np.testing.assert_allclose(found / weight(DAYS), SHARES, atol=SHARE_HAIR)
    assert (np.diff(found) <= 0).all()


def test_rain_that_only_knows_the_season_is_worth_nothing() -> None:
    # Days drawn from the season's own chance correlate with what came all the same: var(p)/(p(1 − p) + var(p)), with
    # p = .45 − .45·cos: .101/(.45·.55) = 0.41. Slopes about a mean over the year would take that for skill.
    stock, told = with_rain(DAYS, np.zeros(LEAD_DAYS))
    assert learned(told, stock, NO_SHARES).shares[RAIN].max() < 0.1


def test_a_day_of_rain_is_one_of_a_millimetre_in_tenths() -> None:
    def edge(wet: Floats) -> Floats:
        """0.1 mm in ten hours, or in nine."""
        hours = np.arange(24) < 9 + wet[:, None]
        found: Floats = np.where(hours, 0.1, 0.0).ravel()
        return found

    stock, told = with_rain(DAYS, np.ones(LEAD_DAYS), edge)
    np.testing.assert_allclose(learned(told, stock, NO_SHARES).shares[RAIN], weight(DAYS), atol=1e-9)


def test_a_day_of_rain_with_three_hours_unread_is_none() -> None:
    stock, told = with_rain(40, np.ones(LEAD_DAYS))
    for hours, share in ((2, weight(40)), (3, 0.0)):
        unread = np.arange(AHEAD) % 24 < hours
        holed = [replace(one, came={**one.came, RAIN: np.where(unread, np.nan, one.came[RAIN])}) for one in told]
        np.testing.assert_allclose(learned(holed, stock, NO_SHARES).shares[RAIN], share, atol=0.02)


def swinging(name: str, noise: Floats) -> Floats:
    """Hours with a strong year and day, as the sun's are."""
    at = np.arange(len(WORLD.hours))
    height = 1 - np.cos(2 * np.pi * at / (365.25 * 24)), 1 - np.cos(2 * np.pi * at / 24)
    swing: Floats = {SUN: 100 * height[0] * height[1], WIND: 3 + height[0] + height[1], CLOUD: 0.5 + 0 * at}[name]
    return swing + noise


@pytest.mark.parametrize(("name", "size"), [(SUN, 30.0), (WIND, 0.5), (CLOUD, 0.1)])
def test_shares_of_wind_and_sky_are_slopes_of_day_means_about_the_usual(name: str, size: float) -> None:
    random = np.random.default_rng(8)
    days = len(WORLD.hours) // 24
    apart = np.repeat(random.normal(0, size, days), 24)
    came = swinging(name, apart)
    usual = swinging(name, np.zeros(len(apart)))
    by_hour = np.repeat(SHARES, 24)
    told = []
    for one in issued(DAYS, first="2042-01-01T23"):  # a day of lead is a day of the made-up noise
        rows = slice(WORLD.row(one.since), WORLD.row(one.since) + AHEAD)
        own = np.repeat(random.normal(0, size, LEAD_DAYS), 24)
        said = usual[rows] + by_hour * apart[rows] + np.sqrt(1 - by_hour**2) * own
        told.append(Told(one.since, {**one.values, name: said}, {**one.came, name: came[rows]}))
    found = learned(told, WORLD.stock(**{name: came}), NO_SHARES).shares
    np.testing.assert_allclose(found[name] / weight(DAYS), SHARES, atol=SHARE_HAIR)
    others = {RAIN, WIND, CLOUD, SUN} - {name}
    assert all(found[other] is NO_SHARES.shares[other] for other in others)


def test_a_wind_of_an_open_field_is_followed_less_at_a_sheltered_gauge() -> None:
    # Told x + 2 m/s where x about its usual has a spread of 0.5: s = Σ(x + 2)x/Σ(x + 2)² = .25/(.25 + 4) = 0.06.
    apart = np.repeat(np.random.default_rng(9).normal(0, 0.5, len(WORLD.hours) // 24), 24)
    came = swinging(WIND, apart)
    told = []
    for one in issued(300, first="2042-01-01T23"):
        rows = slice(WORLD.row(one.since), WORLD.row(one.since) + AHEAD)
        told.append(Told(one.since, {**one.values, WIND: came[rows] + 2}, {**one.came, WIND: came[rows]}))
    found = learned(told, WORLD.stock(**{WIND: came}), NO_SHARES).shares[WIND]
    np.testing.assert_allclose(found / weight(300), np.full(LEAD_DAYS, 0.06), atol=0.05)


@pytest.mark.parametrize(("times", "share"), [(0.5, 1.0), (-1.0, 0.0)])
def test_a_share_is_at_most_every_member_and_at_least_none(times: float, share: float) -> None:
    # Told m + times·(x − m), the slope is 1/times: 2 and −1.
    apart = np.repeat(np.random.default_rng(9).normal(0, 0.5, len(WORLD.hours) // 24), 24)
    told = []
    for one in issued(60, first="2042-01-01T23"):
        rows = slice(WORLD.row(one.since), WORLD.row(one.since) + AHEAD)
        usual = swinging(WIND, np.zeros(len(apart)))[rows]
        values = {**one.values, WIND: usual + times * apart[rows]}
        told.append(Told(one.since, values, {**one.came, WIND: usual + apart[rows]}))
    table = replace(NOTHING, shares=MappingProxyType({WIND: np.full(LEAD_DAYS, 0.4)}))
    found = learned(told, WORLD.stock(**{WIND: swinging(WIND, apart)}), table).shares[WIND]
    np.testing.assert_allclose(found, np.full(LEAD_DAYS, (0.4 + share) / 2), atol=1e-9)  # sixty days: half


def test_where_rain_was_never_read_or_never_forecast_its_table_stays() -> None:
    stock, told = with_rain(30, SHARES)
    assert learned(told, STOCK).shares[RAIN] is ASSUMED.shares[RAIN]  # the place has no gauge
    dry = [replace(one, values={name: one.values[name] for name in BLENDED}) for one in told]
    assert learned(dry, stock).shares[RAIN] is ASSUMED.shares[RAIN]
    unread = [replace(one, came={**one.came, RAIN: np.full(AHEAD, np.nan)}) for one in told]
    assert learned(unread, stock).shares[RAIN] is ASSUMED.shares[RAIN]
