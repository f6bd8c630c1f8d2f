"""The engine as a whole in a climate whose truth is known: its chances beside the true ones.

The true chance of a day is that of one who knows the climate's numbers, what lies behind the last reading, and the
forecast: by conditional normal distributions and the index written out. Comparing chances with it, not only with what
came, takes the chance out of the test. A hundred members draw p with an error of p·(1 − p)/100, 0.0025 at most.
"""

from __future__ import annotations

import sys
import types
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from synthetic_climate import TD, Climate, Given, T, Truth, forecast, record, stamps

from forecast.between import Where
from forecast.diseases import MODELS
from forecast.diseases.events import Event
from forecast.outlook import members as engine
from forecast.outlook.lead_skill import LeadSkill
from forecast.outlook.library import Library
from forecast.outlook.members import Expected
from forecast.panel import Floats
from forecast.stand import Stand, place_hours
from forecast.turf import Setting
from forecast.verify import hindcast as told_again
from forecast.verify.hindcast import Forecaster, Hindcast, Record

CLIMATE = Climate()
STAND = Stand("s", "a", Where(36.1, -86.7, 180.0), ZoneInfo("America/Chicago"), Setting(), "dew_point_depression")
OFFSET_MINUTES = -360
THRESHOLD = 4.0
INDEX = Event("brown_patch", "perennial_ryegrass", (replace(MODELS["fidanza_1996"], threshold=THRESHOLD),), ())
LEADS = (1, 2, 3, 5, 8, 12)
TABLE = np.maximum(0.97 - 0.055 * np.arange(16), 0.0)
SKILL = LeadSkill(TABLE, TABLE, MappingProxyType({}))
R = SKILL.at_hours(np.arange(1.0, 385.0))[0]


@dataclass(frozen=True, eq=False)
class Told:
    """Chances of one day ahead, one a morning.

    Attributes:
        members: share of members that pass.
        true: the true chance.
        usual: by other years.
        happened: 1 or 0.
        year: of the morning.
    """

    members: Floats
    true: Floats
    usual: Floats
    happened: Floats
    year: Floats


@pytest.fixture(scope="module")
def truth() -> Truth:
    return record(CLIMATE, stamps("2001-01-01T00", "2016-12-31T23"), 61)


@pytest.fixture(scope="module")
def ready(truth: Truth) -> Record:
    return told_again.record("Alder Reach", place_hours(truth.panel(), STAND.where), STAND, OFFSET_MINUTES, (INDEX,))


def _row(truth: Truth, day: int) -> int:
    """Of the midnight after a day: 06:00 UTC of the next."""
    return int(
        (np.datetime64(day + 1, "D").astype("datetime64[h]") + np.timedelta64(6, "h") - truth.hours[0]).astype(int)
    )


def _forecaster(truth: Truth, late_h: int = 0) -> told_again.ForecasterOf:
    def of(_: Library, __: int) -> Forecaster:
        def forecaster(last_known: np.datetime64, hours_ahead: int) -> Expected:
            row = int((last_known - truth.hours[0]).astype(int))
            told = forecast(truth, row, R[:hours_ahead], seed=row)
            return Expected({name: np.roll(array, late_h, axis=0) for name, array in told.items()})

        return forecaster

    return of


def _index(temperature_c: Floats, dew_point_c: Floats) -> Floats:
    """Fidanza, Dernoeden & Grybauskas 1996 over the hours of a day, held at its peak; humidity by FAO-56 eq. 11."""
    dew_point_c = np.minimum(dew_point_c, temperature_c)
    ratio = 17.27 * dew_point_c / (dew_point_c + 237.3) - 17.27 * temperature_c / (temperature_c + 237.3)
    lowest = np.minimum(temperature_c.min(axis=0), 1.4 / (2 * 0.033))
    found: Floats = -21.5 + 0.15 * 100 * np.exp(ratio).mean(axis=0) + 1.4 * lowest - 0.033 * lowest**2
    return found


class TrueChances:
    """The true chance of days ahead of some mornings, each worked out once.

    Args:
        truth: what came and what lay behind it.
        by_forecast: whether the forecast is known too.
    """

    def __init__(self, truth: Truth, *, by_forecast: bool) -> None:
        self._truth, self._by_forecast = truth, by_forecast
        self._given: dict[int, Given] = {}
        self._found: dict[tuple[int, int], float] = {}

    def of(self, day: int, lead: int) -> float:
        """Of the day so many days after a morning's own, told at the midnight that ends it."""
        if (day, lead) not in self._found:
            self._found[day, lead] = self._worked(day, lead)
        return self._found[day, lead]

    def _worked(self, day: int, lead: int, draws: int = 400) -> float:
        # The index's day ends at 06:00 standard time, so that the day so many days ahead began 18 hours before the
        # midnight that ends the day before it; of tomorrow's those have been read.
        hours = np.arange(24 * (lead - 1) - 17, 24 * (lead - 1) + 7)
        wanted, read = hours[hours > 0], hours[hours <= 0]
        if lead not in self._given:
            self._given[lead] = Given(CLIMATE, wanted, R if self._by_forecast else np.zeros(len(R)))
        truth, row = self._truth, _row(self._truth, day)
        means = CLIMATE.means(truth.hours[row] + np.arange(1, len(R) + 1) * np.timedelta64(1, "h"))
        told = np.zeros((len(R), 2))
        if self._by_forecast:
            said = forecast(truth, row, R, seed=row)
            told = np.stack([(said[name][:, 0] - means[name]) / CLIMATE.spread_c for name in (T, TD)], axis=1)
        drawn = self._given[lead].draws(truth.hidden[row, 0], told, draws, seed=row)
        both = []
        for number, name in enumerate((T, TD)):
            observed = np.repeat(truth.values[name][row + read], draws, axis=1)
            both.append(
                np.concatenate([observed, means[name][wanted - 1][:, None] + CLIMATE.spread_c * drawn[:, :, number]])
            )
        return float((_index(*both) >= THRESHOLD).mean())


@pytest.fixture(scope="module")
def by_forecast(truth: Truth) -> TrueChances:
    return TrueChances(truth, by_forecast=True)


def _told(
    ready: Record, true: TrueChances, forecasts: told_again.ForecasterOf | None, years: Sequence[int] | None = None
) -> dict[int, Told]:
    found: Hindcast = told_again.hindcast(
        ready, (6, 8), SKILL, members=100, every_days=16, years=years, forecaster_of=forecasts
    )[0]
    return {
        lead: Told(
            (found.passed[:, lead] == 1).mean(axis=1),
            np.array([true.of(int(day), lead) for day in found.day]),
            found.usual[:, lead],
            found.happened[:, lead],
            found.year.astype(np.float64),
        )
        for lead in LEADS
    }


def _off(told: Told) -> float:
    """Mean square by which the members' chance is off the true one."""
    return float(np.mean((told.members - told.true) ** 2))


def _there(told: Told) -> float:
    """The same of the usual chance: what there is to be told."""
    return float(np.mean((told.usual - told.true) ** 2))


def _slope(chance: Floats, of: Floats) -> float:
    return float(np.cov(chance, of)[0, 1] / chance.var(ddof=1))


def _assert_near_the_truth_by_forecast(told: dict[int, Told]) -> None:
    # Beside the draws of members and of the true chance (0.0031 together) stand usual values and spreads of fifteen
    # years, and what one knows who sees the slow and the fast part of the last reading apart: at two days ahead most.
    # Fifteen years' summers hold some 25 independent days each: a mean chance made of them is good to √(0.24/375) =
    # 0.025 where a forecast says nothing more; one and a half times that is allowed.
    for lead, one in told.items():
        assert _off(one) < (0.012 if lead == 2 else 0.008), lead
        assert _off(one) < 0.25 * _there(one), lead
        assert abs(one.members.mean() - one.true.mean()) < 0.038, lead
        if lead <= 8:
            assert _slope(one.members, one.true) == pytest.approx(1, abs=0.08), lead


def _assert_near_what_came(told: dict[int, Told]) -> None:
    for lead, one in told.items():
        # Sixteen years' mean differences: the overall one within three of their standard errors.
        years = [float((one.members - one.happened)[one.year == year].mean()) for year in np.unique(one.year)]
        assert abs(np.mean(years)) < 3 * np.std(years, ddof=1) / np.sqrt(len(years)), lead
        # The score is that of the true chance but for the mean square by which members are off it; the cross term
        # has the mean 0 and, of 96 mornings, a standard deviation of 2·√(0.25·off/96).
        apart = float(np.mean((one.members - one.happened) ** 2 - (one.true - one.happened) ** 2))
        assert abs(apart - _off(one)) < 3 * 2 * np.sqrt(0.25 * _off(one) / 96), lead


def test_with_a_forecast_chances_are_near_the_true_ones(truth: Truth, ready: Record, by_forecast: TrueChances) -> None:
    told = _told(ready, by_forecast, _forecaster(truth))
    assert len(told[1].true) == 96
    _assert_near_the_truth_by_forecast(told)
    _assert_near_what_came(told)
    # All leads to day eight together: what came rises by one where the chance does.
    chances, came = (np.concatenate([getattr(told[n], name) for n in LEADS[:5]]) for name in ("members", "happened"))
    assert _slope(chances, came) == pytest.approx(1, abs=0.1)


def test_with_readings_alone_chances_are_near_what_readings_can_tell(truth: Truth, ready: Record) -> None:
    told = _told(ready, TrueChances(truth, by_forecast=False), None)
    _assert_near_what_came(told)
    # Tomorrow's night has a few hours to go. Two and three days on, one who knew the slow and the fast part of the last
    # reading apart would know more than readings can tell: two thirds of it is got. From day five on there is little.
    assert _off(told[1]) < 0.006
    assert _off(told[2]) < 0.35 * _there(told[2])
    assert _off(told[3]) < 0.45 * _there(told[3])
    for lead in (5, 8, 12):
        assert _off(told[lead]) < 0.007
    for lead, one in told.items():
        assert abs(one.members.mean() - one.true.mean()) < 0.038, lead
    for lead, within in ((1, 0.05), (2, 0.25), (3, 0.25)):
        assert _slope(told[lead].members, told[lead].true) == pytest.approx(1, abs=within)
    assert _there(told[1]) > 0.15  # there was something to be told


# Slips, planted on purpose, in a few years of the same mornings -------------------------------------------------------

SOME_YEARS = range(2001, 2007)
SLIPS = {
    "what is left by 1 − r": ("np.minimum(r**2,", "np.minimum(r,"),
    "what is left, not its root": ("weight = np.sqrt(np.maximum(", "weight = (np.maximum("),
    "the forecast as it is, not by its slope": ("b * means / (1 - r2)", "means / (1 - r2)"),
    "nothing drawn": ("anomaly *= weight[:, :, None]", "anomaly *= 0"),
}


def test_the_check_passes_on_these_years_without_a_slip(truth: Truth, ready: Record, by_forecast: TrueChances) -> None:
    _assert_near_the_truth_by_forecast(_told(ready, by_forecast, _forecaster(truth), SOME_YEARS))


@pytest.mark.parametrize("late_h", [24, -24])
def test_a_forecast_a_day_off_is_caught(truth: Truth, ready: Record, by_forecast: TrueChances, late_h: int) -> None:
    with pytest.raises(AssertionError):
        _assert_near_the_truth_by_forecast(_told(ready, by_forecast, _forecaster(truth, late_h), SOME_YEARS))


@pytest.mark.parametrize("slip", SLIPS.values(), ids=list(SLIPS))
def test_a_slip_in_the_weights_is_caught(
    truth: Truth, ready: Record, by_forecast: TrueChances, slip: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    source = Path(engine.__file__).read_text(encoding="utf-8")
    assert slip[0] in source
    module = types.ModuleType("slipped")
    monkeypatch.setitem(sys.modules, "slipped", module)  # where dataclasses look for their module
    exec(compile(source.replace(*slip), engine.__file__, "exec"), module.__dict__)  # noqa: S102 - our own source
    monkeypatch.setattr(told_again, "fortnight", module.fortnight)
    with pytest.raises(AssertionError):
        _assert_near_the_truth_by_forecast(_told(ready, by_forecast, _forecaster(truth), SOME_YEARS))
