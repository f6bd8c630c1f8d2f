"""What a source's forecasts have been worth by days ahead, learned from those that were issued and from what came.

Temperature and dew point are laid side by side as anomalies, hour by hour, as members read them: in spreads from what
is usual, holes of a forecast in steps joined by straight lines, and without what the source was lately off by at that
hour of the day. Their correlation over a whole day of lead is pooled over its hours; one figure serves both. The slope
is that correlation times how much livelier the weather was than the forecast, √(Σx²/Σf²), which is Σfx/Σf² for each of
the two, yet cannot come apart from a correlation that was made to fall.

Rain, wind and sky: with a share s of members that take the forecast's figure f, and usual weather m in the others, the
members' mean is m + s·(f − m); the s that comes nearest to what came, x, is Σ(f − m)(x − m)/Σ(f − m)². For rain f, x
and m are days of 1 mm or more and how often these come; for the rest, means of a day. A forecast that lies beside what
is read there, such as an open field's wind for a sheltered gauge, is followed less for it.

One forecast a day counts, the last that was issued on a day of UTC: twenty-four of one day tell little more than one.
Each figure is drawn to the table that stands without an archive by n/(n + 60) for n days, and made to fall with lead.
Leads that were never forecast keep that table, as far as it lies below the last one learned: members do not follow a
forecast where it says nothing, so that no such figure acts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from forecast.gaps import fill_linear
from forecast.outlook.lead_skill import ASSUMED, LeadSkill
from forecast.outlook.library import BLENDED, Library
from forecast.outlook.members import SHORT_HOLE_HOURS
from forecast.outlook.normals import Normals, normals
from forecast.panel import Floats, Hours

DAYS_FOR_HALF = 60  # of skill: so many issued days weigh as much as the assumed table
BIAS_DAYS, BIAS_LEADS = 60, 5  # bias is of the last so many issued days and the first so many days ahead
# So many days take half of a bias off. House choice: a bias is taken to be a quarter of a spread, some 1 °C; emulated
# forecasts without one (Nashville, 51 stretches) left it unsure by 0.11 to 0.18 spreads after 10 days, 0.06 to 0.13
# after 60.
BIAS_DAYS_FOR_HALF = 8
BIAS_WEIGHTS = (1.0, 2.0, 3.0, 2.0, 1.0)  # house choice: of an hour of the day and two to either side
LEAST_HOURS = 12  # house choice: a day of lead counts with half of its hours
LEAST_RAIN_HOURS = 22  # of 24, as for any finished day
RAIN_DAY_MM = 1.0  # a wet day as climate indices count it (ETCCDI, from memory)
MOST_CORRELATION = 0.995  # no forecast is taken to be without error
MOST_LIVELIER = 2.0  # house choice: weather this much livelier than its forecast; more is a forecast that says nothing
LEAST_SQUARE = 1e-6  # house choice: what a day adds up to in squared spreads; less is a figure that stands still
_HAIR_MM = 1e-6  # ten sums of 0.1 mm are 1 mm

_Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Told:
    """One issued forecast beside what came.

    Attributes:
        since: UTC stamp of the hour in which it was issued; row 0 of all arrays is the hour after.
        values: per quantity what was forecast, shape (hours,); NaN where it says nothing.
        came: per quantity what was read later, shape (hours,); NaN where it has not come, or was never read.
    """

    since: np.datetime64
    values: Mapping[str, Floats]
    came: Mapping[str, Floats]


def learned(told: Sequence[Told], stock: Library, assumed: LeadSkill = ASSUMED) -> LeadSkill:
    """The skill of one source at one place.

    Args:
        told: its forecasts in the order of issue; of each day of UTC the last counts.
        stock: the place's past hours, one series; its usual values are what anomalies are from.
        assumed: what stands as long as there is nothing to learn from.
    """
    if not told:
        return assumed
    leads = len(assumed.correlation)
    days = tuple({one.since.astype("datetime64[D]"): one for one in told}.values())
    since = np.array([one.since for one in days], dtype="datetime64[h]")
    hours = since[:, None] + np.arange(1, 24 * leads + 1).astype("timedelta64[h]")
    air = _Air.of(days, hours, stock)
    r, livelier, counted = air.skill()
    weight = _weight(counted)
    usual_ratio = np.divide(
        assumed.slope, assumed.correlation, out=np.ones(leads), where=np.abs(assumed.correlation) > 0
    )
    correlation = _falling_towards(r, counted, assumed.correlation, MOST_CORRELATION)
    ratio = usual_ratio + weight * (np.where(counted > 0, livelier, usual_ratio) - usual_ratio)
    shares = {name: _share(name, table, days, hours, stock) for name, table in assumed.shares.items()}
    bias = air.latest_bias() if len(air.clock) else assumed.bias
    return LeadSkill(
        correlation, correlation * ratio, MappingProxyType(shares), MappingProxyType(dict(bias)), air.days_learned_from
    )


@dataclass(frozen=True, eq=False)
class _Air:
    """Anomalies of the forecasts of which any hour has come.

    Attributes:
        told: per blended quantity what was forecast, in spreads from usual; shape (forecasts, hours).
        came: the same of what was read.
        both: hours with all of them.
        clock: hour of UTC of each.
    """

    told: Mapping[str, Floats]
    came: Mapping[str, Floats]
    both: _Mask
    clock: NDArray[np.int64]

    @classmethod
    def of(cls, days: Sequence[Told], hours: Hours, stock: Library) -> _Air:
        told, came = {}, {}
        for name in BLENDED:
            mean, spread = _at(stock.normals[name], hours)
            said = (_rows(days, name, hours.shape[1], of_came=False) - mean) / spread
            told[name] = fill_linear(said.T, SHORT_HOLE_HOURS).T
            came[name] = (_rows(days, name, hours.shape[1], of_came=True) - mean) / spread
        both = np.all([~np.isnan(one) for name in BLENDED for one in (told[name], came[name])], axis=0)
        some = both.any(axis=1)
        return cls(
            {name: one[some] for name, one in told.items()},
            {name: one[some] for name, one in came.items()},
            both[some],
            hours[some].astype(np.int64) % 24,
        )

    @property
    def by_lead(self) -> _Mask:
        """Days of lead that count, shape (forecasts, leads)."""
        enough: _Mask = _days(self.both).sum(axis=2) >= LEAST_HOURS
        return enough

    @property
    def days_learned_from(self) -> int:
        return int(self.by_lead.any(axis=1).sum())

    def skill(self) -> tuple[Floats, Floats, Floats]:
        """Correlation, how much livelier the weather was, and days that both are from, each by lead, one for both.

        Where either quantity stood still in all that was said or came there is no correlation, and no day counts.
        """
        used = self.both & np.repeat(self.by_lead, 24, axis=1)
        r, livelier = np.zeros((2, used.shape[1] // 24))
        counted = self.by_lead.sum(axis=0).astype(np.float64)
        for name in BLENDED:
            told = np.where(used, self.told[name] - self._bias_then(name), 0.0)
            came = np.where(used, self.came[name], 0.0)
            product, of_told, of_came = (_days(one).sum(axis=(0, 2)) for one in (told * came, told**2, came**2))
            counted[np.minimum(of_told, of_came) <= LEAST_SQUARE * counted] = 0
            r += product / np.sqrt(np.maximum(of_told * of_came, 1e-12)) / len(BLENDED)
            livelier += np.minimum(np.sqrt(of_came / np.maximum(of_told, 1e-12)), MOST_LIVELIER) / len(BLENDED)
        return r, livelier, counted

    def latest_bias(self) -> dict[str, Floats]:
        """Per quantity by hour of UTC, in spreads; shape (24,)."""
        count = len(self.clock)
        window = np.array([max(count - BIAS_DAYS, 0)]), np.array([count])
        return {name: self._bias(name, *window)[0] for name in BLENDED}

    def _bias_then(self, name: str) -> Floats:
        """What each forecast would have been rid of at its time: the bias of the days issued before it.

        The first sixty share theirs, which would otherwise count as error long after it is known.
        """
        number = np.arange(len(self.clock))
        first = np.maximum(number - BIAS_DAYS, 0)
        bias = self._bias(name, first, np.minimum(first + BIAS_DAYS, len(number)))
        return np.take_along_axis(bias, self.clock, axis=1)

    def _bias(self, name: str, first: NDArray[np.int64], beyond: NDArray[np.int64]) -> Floats:
        """Mean error of some runs of forecasts by hour of UTC, drawn to nothing where they are few; (runs, 24)."""
        near = slice(0, 24 * BIAS_LEADS)
        both, clock = self.both[:, near], self.clock[:, near]
        error = np.where(both, self.told[name][:, near] - self.came[name][:, near], 0.0)
        row = np.broadcast_to(np.arange(len(both))[:, None], both.shape)
        sums = []
        for one in (error, both.astype(np.float64)):
            by_clock = np.zeros((len(both) + 1, 24))
            np.add.at(by_clock, (row + 1, clock), one)
            run = np.cumsum(by_clock, axis=0)
            sums.append(_with_neighbours(run[beyond] - run[first]))
        days = np.append(0, np.cumsum(both.any(axis=1)))
        counted = (days[beyond] - days[first])[:, None]
        # Sums of cumulated sums leave a hair where nothing was counted.
        mean = np.divide(sums[0], sums[1], out=np.zeros_like(sums[0]), where=sums[1] > 0.5)
        found: Floats = mean * counted / (counted + BIAS_DAYS_FOR_HALF)
        return found


def _share(name: str, assumed: Floats, days: Sequence[Told], hours: Hours, stock: Library) -> Floats:
    """Share of members that should take the forecast's own figure, by lead."""
    if name not in stock.carried:
        return assumed
    told, came = (_rows(days, name, hours.shape[1], of_came=of_came) for of_came in (False, True))
    both = ~np.isnan(told + came)
    if not both.any():
        return assumed
    if name == "rain_mm":
        usual, _ = _at(normals(stock.hours, _rain_days(stock.carried[name])), hours[:, 23::24])
        usual = np.clip(usual, 0.0, 1.0)
        least = LEAST_RAIN_HOURS
        f, x = (_days(np.where(both, one, 0.0)).sum(axis=2) >= RAIN_DAY_MM - _HAIR_MM for one in (told, came))
    else:
        by_hour, _ = _at(normals(stock.hours, stock.carried[name]), hours)
        both &= ~np.isnan(by_hour)
        usual = np.zeros((len(days), hours.shape[1] // 24))
        least = LEAST_HOURS
        counted = np.maximum(_days(both).sum(axis=2), 1)
        f, x = (_days(np.where(both, one - by_hour, 0.0)).sum(axis=2) / counted for one in (told, came))
    counts = (_days(both).sum(axis=2) >= least) & ~np.isnan(usual)
    apart = np.where(counts, f - usual, 0.0)
    square = (apart**2).sum(axis=0)
    slope = (apart * np.where(counts, x - usual, 0.0)).sum(axis=0) / np.maximum(square, 1e-12)
    issued = np.where(square > 1e-12, counts.sum(axis=0), 0).astype(np.float64)
    return _falling_towards(np.clip(slope, 0.0, 1.0), issued, assumed, 1.0)


def _at(usual: Normals, hours: Hours) -> tuple[Floats, Floats]:
    """Mean and spread of one series at stamps of any shape, which come many times each."""
    unbroken = np.arange(hours.min(), hours.max() + np.timedelta64(1, "h"))
    mean, spread = usual.at(unbroken)
    rows = (hours - unbroken[0]).astype(np.int64)
    return mean[rows, 0], spread[rows, 0]


def _rain_days(rain_mm: Floats) -> Floats:
    """At every hour whether the 24 h that it ends had a day's rain; NaN where too few were read."""
    known = ~np.isnan(rain_mm)
    found = np.full(rain_mm.shape, np.nan)
    if len(rain_mm) >= 24:
        fell, read = (
            np.concatenate([np.zeros((1, rain_mm.shape[1])), np.cumsum(one, axis=0)])
            for one in (np.where(known, rain_mm, 0.0), known.astype(np.float64))
        )
        wet = fell[24:] - fell[:-24] >= RAIN_DAY_MM - _HAIR_MM
        found[23:] = np.where(read[24:] - read[:-24] >= LEAST_RAIN_HOURS, wet, np.nan)
    return found


def falling(values: Floats, weights: Floats) -> Floats:
    """The nearest figures, by weighted squares, of which none is above the one before: neighbours are pooled."""
    pools: list[tuple[float, float, int]] = []  # mean, weight, how many
    for one, weighs in zip(values.tolist(), weights.tolist(), strict=True):
        mean, weight, count = one, weighs, 1
        while pools and pools[-1][0] < mean:
            before, its_weight, its_count = pools.pop()
            mean = (before * its_weight + mean * weight) / (its_weight + weight)
            weight, count = weight + its_weight, count + its_count
        pools.append((mean, weight, count))
    return np.concatenate([np.full(count, mean) for mean, _, count in pools]) if pools else values


def _falling_towards(found: Floats, issued: Floats, assumed: Floats, most: float) -> Floats:
    """Learned figures drawn to the assumed ones and made to fall; after the last lead learned the lower of both."""
    weight = _weight(issued)
    drawn = assumed + weight * (np.where(issued > 0, found, assumed) - assumed)
    reach = int(np.flatnonzero(issued > 0)[-1]) + 1 if issued.any() else 0
    told = falling(drawn[:reach], issued[:reach] + DAYS_FOR_HALF)
    return np.clip(np.minimum.accumulate(np.append(told, assumed[reach:])), 0.0, most)


def _weight(issued: Floats) -> Floats:
    return issued / (issued + DAYS_FOR_HALF)


def _days(hourly: NDArray[np.generic]) -> NDArray[np.generic]:
    """Shape (forecasts, hours) as (forecasts, leads, 24)."""
    return hourly.reshape(len(hourly), hourly.shape[1] // 24, 24)


def _with_neighbours(by_clock: Floats) -> Floats:
    """Weighted sums over an hour of the day and its neighbours, midnight joined; shape (…, 24)."""
    reach = len(BIAS_WEIGHTS) // 2
    parts = [weight * np.roll(by_clock, at - reach, axis=-1) for at, weight in enumerate(BIAS_WEIGHTS)]
    found: Floats = np.sum(parts, axis=0)
    return found


def _rows(days: Sequence[Told], name: str, hours: int, *, of_came: bool) -> Floats:
    """One quantity of every forecast, NaN after its end; shape (forecasts, hours)."""
    found = np.full((len(days), hours), np.nan)
    for row, one in enumerate(days):
        given = (one.came if of_came else one.values).get(name)
        if given is not None:
            found[row, : len(given)] = given[:hours]
    return found
