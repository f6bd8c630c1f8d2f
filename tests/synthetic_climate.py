"""An invented climate whose truth is known: long records, the many ways one moment can go on, forecasts of known skill.

Temperature and dew point are a yearly and a daily wave plus unit anomalies times a spread. An anomaly is the sum of
two Gaussian first-order autoregressions, a slow one that lasts for days and a fast one of hours, and those of
temperature and dew point correlate alike in both. So every covariance is arithmetic: that of two anomalies h hours
apart is ``slow_share·exp(−h/slow_h) + (1 − slow_share)·exp(−h/fast_h)``, that of different quantities ``together``
times as much, and given the hidden parts of one hour all that follows is known as a distribution. The dew point is cut
at the temperature.

Rain is a two-state chain: a wet hour stays wet with a fixed chance, a dry one turns wet the more easily the damper the
slow part of the dew point; wind and cloud are autoregressions of their own, and rain brings cloud.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from forecast.air import complete_humidity
from forecast.panel import Floats, Hours, Panel, observed

T, TD = "air_temperature_c", "dew_point_c"
RAIN_STAYS, RAIN_SETS_IN, RAIN_WITH_DAMP = 0.8, 0.03, 0.8  # chance an hour; the last per unit of damp, on a log scale
RAIN_MM = 1.5  # mean of a wet hour, exponential
WIND_H, CLOUD_H = 8.0, 12.0  # how long they last


@dataclass(frozen=True, slots=True)
class Climate:
    """Its numbers; temperatures in °C, lengths in hours.

    Attributes:
        mean_c: of temperature over the year.
        yearly_c: half the difference of midsummer and midwinter.
        daily_c: half the difference of afternoon and night.
        depression_c: mean temperature less mean dew point, at the middle of the day's wave.
        spread_c: standard deviation of both anomalies.
        slow_share: of the variance that is slow.
        slow_h: hours after which the slow part has fallen to 1/e.
        fast_h: hours after which the fast part has.
        together: correlation of the anomalies of temperature and dew point.
        warmest_day: date of midsummer, days from 1 January.
    """

    mean_c: float = 14.0
    yearly_c: float = 10.0
    daily_c: float = 4.0
    depression_c: float = 5.0
    spread_c: float = 3.5
    slow_share: float = 0.6
    slow_h: float = 60.0
    fast_h: float = 5.0
    together: float = 0.8
    warmest_day: float = 200.0

    def means(self, hours: Hours) -> dict[str, Floats]:
        """The true usual values, shape (hours,)."""
        days = hours.astype("datetime64[D]")
        year = days.astype("datetime64[Y]").astype("datetime64[D]")
        date = (days - year).astype(np.int64)
        clock = hours.astype("datetime64[h]").astype(np.int64) % 24
        season = self.yearly_c * np.cos(2 * np.pi * (date - self.warmest_day) / 365.25)
        day = self.daily_c * np.cos(2 * np.pi * (clock - 15) / 24)
        return {T: self.mean_c + season + day, TD: self.mean_c + season - self.depression_c + 0.2 * day}

    def likeness(self, apart_h: Floats) -> Floats:
        """Correlation of a quantity's anomalies some hours apart."""
        slow, fast = np.exp(-np.abs(apart_h) / self.slow_h), np.exp(-np.abs(apart_h) / self.fast_h)
        found: Floats = self.slow_share * slow + (1 - self.slow_share) * fast
        return found

    def fading(self, apart_h: Floats) -> Floats:
        """What is left of both hidden parts after some hours, shape (…, 2)."""
        found: Floats = np.exp(-np.asarray(apart_h)[..., None] / np.array([self.slow_h, self.fast_h]))
        return found

    @property
    def parts(self) -> Floats:
        """Standard deviations of the slow and the fast part, shape (2,)."""
        return np.sqrt([self.slow_share, 1 - self.slow_share])


@dataclass(frozen=True, eq=False)
class Truth:
    """A stretch of weather with what lies behind it.

    Attributes:
        climate: whose.
        hours: stamps, shape (hours,).
        hidden: slow and fast parts of temperature and dew point, shape (hours, columns, 2 speeds, 2 quantities).
        values: per quantity of the vocabulary, shape (hours, columns).
    """

    climate: Climate
    hours: Hours
    hidden: Floats
    values: Mapping[str, Floats]

    @property
    def anomalies(self) -> dict[str, Floats]:
        """Unit anomalies before the dew point is cut, shape (hours, columns)."""
        both = self.hidden.sum(axis=2)
        return {T: both[:, :, 0], TD: both[:, :, 1]}

    def panel(self, series: Sequence[str] = ("alder",)) -> Panel:
        """As readings."""
        return complete_humidity(observed(self.hours, tuple(series), self.values))


def stamps(first: str, last: str) -> Hours:
    """Every hour from one to another, both included."""
    return np.arange(np.datetime64(first, "h"), np.datetime64(last, "h") + np.timedelta64(1, "h"))


def record(climate: Climate, hours: Hours, seed: int, columns: int = 1) -> Truth:
    """A stretch that begins anywhere in the climate."""
    chance = np.random.default_rng(seed)
    start = _correlated(climate, chance.standard_normal((columns, 2, 2))) * climate.parts[:, None]
    return _going_on(climate, hours, start, np.zeros(columns, dtype=bool), chance)


def futures(truth: Truth, row: int, hours_ahead: int, count: int, seed: int) -> Truth:
    """Ways on from one hour of a record of one column, all it can become; the columns are the ways."""
    chance = np.random.default_rng(seed)
    hours = truth.hours[row] + np.arange(1, hours_ahead + 1) * np.timedelta64(1, "h")
    start = np.repeat(truth.hidden[row], count, axis=0)
    wet = np.full(count, truth.values["rain_mm"][row, 0] > 0)
    return _going_on(truth.climate, hours, start, wet, chance)


def forecast(truth: Truth, row: int, r: Floats, seed: int) -> dict[str, Floats]:
    """What a forecast of known correlation says of the hours after one: r·x + √(1 − r²)·x', x' an independent stretch.

    Args:
        truth: a record of one column.
        row: the last hour known.
        r: correlation of each hour ahead, shape (hours ahead,).
        seed: of the error.

    Returns:
        Temperature and dew point, shape (hours ahead, 1); NaN past the record's end.
    """
    hours = truth.hours[row] + np.arange(1, len(r) + 1) * np.timedelta64(1, "h")
    error = record(truth.climate, hours, seed).anomalies
    rows = row + np.arange(1, len(r) + 1)
    inside = rows < len(truth.hours)
    came = truth.hidden[np.minimum(rows, len(truth.hours) - 1), 0].sum(axis=1)
    told = {name: r * came[:, n] + np.sqrt(1 - r**2) * error[name][:, 0] for n, name in enumerate((T, TD))}
    means = truth.climate.means(hours)
    return {name: np.where(inside, means[name] + truth.climate.spread_c * told[name], np.nan)[:, None] for name in told}


def _going_on(
    climate: Climate, hours: Hours, start: Floats, wet: NDArray[np.bool_], chance: np.random.Generator
) -> Truth:
    """Hours that follow a start of shape (columns, 2 speeds, 2 quantities)."""
    count, columns = len(hours), len(start)
    keep = climate.fading(np.array(1.0))
    news = _correlated(climate, chance.standard_normal((count, columns, 2, 2)))
    news *= (climate.parts * np.sqrt(1 - keep**2))[:, None]
    hidden = np.stack([_autoregression(keep[speed], news[:, :, speed], start[:, speed]) for speed in (0, 1)], axis=2)
    values = {}
    means = climate.means(hours)
    for quantity, name in enumerate((T, TD)):
        values[name] = means[name][:, None] + climate.spread_c * hidden.sum(axis=2)[:, :, quantity]
    values[TD] = np.minimum(values[TD], values[T])
    rains = _two_state(RAIN_SETS_IN * np.exp(RAIN_WITH_DAMP * hidden[:, :, 0, 1]), wet, chance.random((count, columns)))
    values["rain_mm"] = np.where(rains, chance.exponential(RAIN_MM, (count, columns)), 0.0)
    values["wind_speed_10m_m_s"] = 3.0 * np.exp(0.4 * _unit(WIND_H, chance, (count, columns)))
    cloud = 0.5 + 0.3 * _unit(CLOUD_H, chance, (count, columns)) + 0.3 * rains
    values["cloud_cover_fraction"] = np.clip(cloud, 0.0, 1.0)
    return Truth(climate, hours, hidden, values)


def _correlated(climate: Climate, draws: Floats) -> Floats:
    """Independent draws, last axis temperature and dew point, made to correlate."""
    other = climate.together * draws[..., 0] + np.sqrt(1 - climate.together**2) * draws[..., 1]
    return np.stack([draws[..., 0], other], axis=-1)


def _autoregression(keep: float, news: Floats, start: Floats) -> Floats:
    """x_t = keep·x_{t−1} + news_t from x_0 = start, time on axis 0."""
    found: Floats = lfilter([1.0], [1.0, -keep], news, axis=0, zi=(keep * start)[None])[0]
    return found


def _unit(lasts_h: float, chance: np.random.Generator, shape: tuple[int, int]) -> Floats:
    keep = float(np.exp(-1 / lasts_h))
    news = np.sqrt(1 - keep**2) * chance.standard_normal(shape)
    return _autoregression(keep, news, chance.standard_normal(shape[1]))


def _two_state(sets_in: Floats, wet: NDArray[np.bool_], draws: Floats) -> NDArray[np.bool_]:
    """A chain of wet and dry hours, shaped as the draws.

    An hour is wet where its draw is below what a dry hour needs to turn wet, dry where it is above what a wet one needs
    to stay so, and as the hour before between the two.
    """
    sets_in = np.minimum(sets_in, RAIN_STAYS)
    decided = np.where(draws < sets_in, 1, np.where(draws >= RAIN_STAYS, 0, -1))
    decided[0] = np.where(decided[0] < 0, wet, decided[0])
    last = np.maximum.accumulate(np.where(decided >= 0, np.arange(len(draws))[:, None], 0), axis=0)
    found: NDArray[np.bool_] = np.take_along_axis(decided, last, axis=0) == 1
    return found


@dataclass(frozen=True, eq=False)
class Given:
    """Anomalies of some hours ahead as one knows them who knows the hidden parts of now, the climate and a forecast.

    The forecast is one of :func:`forecast` for all the hours up to a horizon. All of it is normal: means hang on what
    is known, covariances only on the hours, so that one of these serves every morning.

    Args:
        climate: whose.
        wanted: hours ahead, from 1, shape (wanted,).
        r: the forecast's correlation of each hour up to the horizon, shape (horizon,); 0 for no forecast.
    """

    climate: Climate
    wanted: NDArray[np.int64]
    r: Floats
    _gain: Floats = field(init=False)
    _root: Floats = field(init=False)
    _fading: Floats = field(init=False)

    def __post_init__(self) -> None:
        ahead = np.arange(1.0, len(self.r) + 1)
        apart = self.climate.likeness(ahead[:, None] - ahead[None, :])
        fading = self.climate.fading(ahead) * self.climate.parts
        now_known = apart - fading @ fading.T  # covariance of the hours once the hidden parts of now are known
        r, error = self.r, np.sqrt(1 - self.r**2)
        of_forecast = r[:, None] * now_known * r + error[:, None] * apart * error
        with_forecast = r[:, None] * now_known[:, self.wanted - 1]
        gain = np.linalg.solve(of_forecast, with_forecast).T
        covariance = now_known[np.ix_(self.wanted - 1, self.wanted - 1)] - gain @ with_forecast
        object.__setattr__(self, "_gain", gain)
        object.__setattr__(self, "_root", np.linalg.cholesky(covariance + 1e-10 * np.eye(len(covariance))))
        object.__setattr__(self, "_fading", self.climate.fading(ahead))

    def draws(self, hidden: Floats, told: Floats, count: int, seed: int) -> Floats:
        """Ways on, shape (wanted, count, 2 quantities).

        Args:
            hidden: slow and fast parts now, shape (2 speeds, 2 quantities).
            told: the forecast's anomalies, shape (horizon, 2 quantities).
            count: how many.
            seed: of the draws.
        """
        by_now = self._fading @ hidden
        mean = by_now[self.wanted - 1] + self._gain @ (told - self.r[:, None] * by_now)
        normal = np.random.default_rng(seed).standard_normal((len(self.wanted), count * 2))
        apart = _correlated(self.climate, (self._root @ normal).reshape(len(self.wanted), count, 2))
        found: Floats = mean[:, None] + apart
        return found
