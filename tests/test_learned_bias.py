"""What a source is off by, learned by hour of the day, and taken off before its skill is told."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest
from emulated_forecasts import (
    AHEAD,
    DAYS,
    DEW_POINT,
    FIRST,
    NOTHING,
    SPREAD,
    STOCK,
    TEMPERATURE,
    changed,
    issued,
)

from forecast.outlook.expected import expected
from forecast.outlook.lead_skill import LEAD_DAYS, LeadSkill
from forecast.outlook.learned_skill import BIAS_DAYS_FOR_HALF, Told, learned
from forecast.outlook.library import BLENDED
from forecast.panel import Floats
from forecast.physics.humidity import relative_humidity_pct


def off_by(told: Sequence[Told], by: Callable[[Told], dict[str, Floats]]) -> list[Told]:
    return changed(told, lambda one: {name: array + by(one).get(name, 0.0) for name, array in one.values.items()})


def bias_in_units(found: LeadSkill, name: str) -> Floats:
    """In °C, by the spread of the months after the forecasts began, of which 60 days shrink by n/(n + 8)."""
    return found.bias[name] * SPREAD[name] * (60 + BIAS_DAYS_FOR_HALF) / 60


def test_a_bias_is_told_by_its_sign_and_size() -> None:
    told = issued(60, np.ones(LEAD_DAYS))
    found = learned(off_by(told, lambda _: {TEMPERATURE: np.full(AHEAD, 1.3)}), STOCK)
    # The stock's own spreads are known to some per cent.
    np.testing.assert_allclose(bias_in_units(found, TEMPERATURE), np.full(24, 1.3), rtol=0.12)
    np.testing.assert_allclose(found.bias[DEW_POINT], np.zeros(24), atol=1e-9)


@pytest.mark.parametrize(("days", "share"), [(8, 1 / 2), (24, 3 / 4), (60, 60 / 68), (300, 60 / 68)])
def test_a_bias_is_trusted_as_days_are_issued_and_only_the_last_sixty_count(days: int, share: float) -> None:
    told = off_by(issued(days, np.ones(LEAD_DAYS)), lambda _: {DEW_POINT: np.full(AHEAD, -1.2)})
    found = learned(told, STOCK)
    np.testing.assert_allclose(found.bias[DEW_POINT], np.full(24, -1.2 / SPREAD[DEW_POINT] * share), rtol=0.15)


def test_a_bias_that_is_gone_for_sixty_days_is_forgotten() -> None:
    told = issued(160, np.ones(LEAD_DAYS))
    gone = [*off_by(told[:100], lambda _: {TEMPERATURE: np.full(AHEAD, 3.0)}), *told[100:]]
    np.testing.assert_allclose(learned(gone, STOCK).bias[TEMPERATURE], np.zeros(24), atol=1e-9)


def test_a_bias_of_one_part_of_the_day_stays_there() -> None:
    def warm_from_6_to_11_utc(one: Told) -> dict[str, Floats]:
        hours = one.since + np.arange(1, AHEAD + 1).astype("timedelta64[h]")
        clock = hours.astype(np.int64) % 24
        return {TEMPERATURE: np.where((clock >= 6) & (clock <= 11), 2.0, 0.0)}

    for first in ("2042-03-01T11", "2042-03-01T20"):  # whenever in the day it is issued
        found = learned(off_by(issued(60, np.ones(LEAD_DAYS), first=first), warm_from_6_to_11_utc), STOCK)
        bias = bias_in_units(found, TEMPERATURE)
        # Weights 1, 2, 3, 2, 1 over neighbours: 8 and 9 whole, 6 and 11 have 6 ninths, 5 and 12 have 3, 4 and 13 one.
        ninths = np.zeros(24)
        ninths[4:14] = [1, 3, 6, 8, 9, 9, 8, 6, 3, 1]
        np.testing.assert_allclose(bias, 2 * ninths / 9, atol=0.25)


def test_a_bias_beyond_the_fifth_day_is_not_looked_at() -> None:
    late = np.where(np.arange(AHEAD) >= 5 * 24, 5.0, 0.0)
    found = learned(off_by(issued(60, np.ones(LEAD_DAYS)), lambda _: {TEMPERATURE: late}), STOCK)
    np.testing.assert_allclose(found.bias[TEMPERATURE], np.zeros(24), atol=1e-9)


def warm_and_dry(one: Told) -> dict[str, Floats]:
    """1.3 °C too warm and 6 % too dry, as a source that gives relative humidity would say it."""
    temperature = one.values[TEMPERATURE]
    said = relative_humidity_pct(temperature, np.minimum(one.values[DEW_POINT], temperature))
    hours = one.since + np.arange(1, AHEAD + 1).astype("timedelta64[h]")
    values = {TEMPERATURE: temperature + 1.3, "relative_humidity_pct": np.clip(said - 6, 1, 100)}
    found = expected(hours, values, one.since, AHEAD)
    assert found is not None
    return {name: array[:, 0] for name, array in found.values.items()}


def test_warm_and_dry_forecasts_are_put_right_and_lose_little_of_their_skill() -> None:
    def damp_enough(one: Told) -> dict[str, Floats]:
        return {**one.values, DEW_POINT: np.minimum(one.values[DEW_POINT], one.values[TEMPERATURE])}

    clean = changed(issued(120), damp_enough)
    biased = changed(clean, warm_and_dry)
    fair, found = learned(clean, STOCK, NOTHING), learned(biased, STOCK, NOTHING)
    np.testing.assert_allclose(found.correlation, fair.correlation, atol=0.02)
    assert (found.slope[:12] > 0.9 * fair.slope[:12]).all()
    # What members make of the forecasts of the last 60 days: 8/68 of it is left, and sampling.
    for name in BLENDED:
        raw, corrected = [], []
        for one, other in zip(biased[60:], clean[60:], strict=True):
            hours = one.since + np.arange(1, AHEAD + 1).astype("timedelta64[h]")
            _, spread = STOCK.normals[name].at(hours)
            change = found.bias[name][hours.astype(np.int64) % 24] - fair.bias[name][hours.astype(np.int64) % 24]
            raw.append(one.values[name] - other.values[name])
            corrected.append(raw[-1] - spread[:, 0] * change)
        assert abs(np.mean(raw)) > 0.25
        assert abs(np.mean(corrected)) < 0.2 * abs(np.mean(raw))


def test_a_bias_that_follows_the_season_costs_little() -> None:
    # Half a spread up and down over the year: taken off by the days before, not by the mean of all, which is nothing.
    def by_season(one: Told) -> dict[str, Floats]:
        day = float((one.since - FIRST).astype(np.int64)) / 24
        wave = 0.5 * np.sin(2 * np.pi * day / 365.25)
        return {name: np.full(AHEAD, wave * SPREAD[name]) for name in BLENDED}

    r = np.full(LEAD_DAYS, 0.9)
    plain, waved = (learned(told, STOCK, NOTHING) for told in (issued(DAYS, r), off_by(issued(DAYS, r), by_season)))
    # Left alone the wave would add 0.5²/2 = 0.125 to a variance of 1 and take 6 % off r; of what the sixty days before
    # say it lags by a month, 2π·30/365 = 0.5 of its height: 0.03, and 1.5 %.
    assert (waved.correlation > 0.97 * plain.correlation).all()
