"""Past years as a stock of whole fortnights: what hours of temperature and dew point stood how far from usual.

A fortnight is taken from the record as one block, hour by hour and with all its quantities, so that nights cool, fronts
pass and rain falls as they do here. Blocks start at the same hour of the day, up to 20 days from the date, in other
years; each year gives as many as the next where it has them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from forecast.outlook.normals import Normals, normals
from forecast.panel import Floats, Hours, Panel

BLENDED = ("air_temperature_c", "dew_point_c")  # by their anomalies
CARRIED = ("rain_mm", "wind_speed_10m_m_s", "cloud_cover_fraction", "shortwave_down_w_m2", "snow_depth_mm")
EITHER_SIDE_DAYS = 20
LONGEST_LAG_DAYS = 20
MEANS_OVER_H = (24, 14 * 24)  # of readings, beside the last one: a day, and the slow fortnight of dry or damp ground
_GOLDEN = (5**0.5 - 1) / 2
_DAY = np.timedelta64(24, "h")

Rows = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Library:
    """Past hours as anomalies, with what else was read.

    Attributes:
        hours: unbroken UTC stamps, shape (hours,).
        series: one name a column.
        normals: per quantity of :data:`BLENDED`.
        anomalies: per quantity of :data:`BLENDED`, in spreads from the mean; shape (hours, series).
        carried: quantities of :data:`CARRIED` that were ever read, shape (hours, series).
    """

    hours: Hours
    series: tuple[str, ...]
    normals: Mapping[str, Normals]
    anomalies: Mapping[str, Floats]
    carried: Mapping[str, Floats]

    @cached_property
    def known(self) -> NDArray[np.bool_]:
        """Hours with temperature and dew point, shape (hours, series)."""
        found = np.ones((len(self.hours), len(self.series)), dtype=bool)
        for values in self.anomalies.values():
            found &= ~np.isnan(values)
        return found

    @cached_property
    def persistence(self) -> tuple[Floats, Floats]:
        """How the anomaly of a day goes on: slope by days of lag from 0, and the share of variance that a day holds.

        Least squares of the mean anomaly of a day on that of the day so many days before, over the whole record,
        temperature and dew point together; the slope at lag 0 is 1, none is below 0, and none above the one before.
        The second figure is the mean square of daily mean anomalies, where that of hourly ones is 1. Shapes
        (lags, series) and (series,).
        """
        first = (-self.hours[0].astype("datetime64[h]").astype(np.int64)) % 24
        days = (len(self.hours) - int(first)) // 24
        slopes = np.zeros((LONGEST_LAG_DAYS + 1, len(self.series)))
        shares = np.zeros(len(self.series))
        for values in self.anomalies.values():
            means = values[first : first + 24 * days].reshape(days, 24, len(self.series)).mean(axis=1)
            for lag in range(min(LONGEST_LAG_DAYS + 1, days)):  # a shorter record says nothing of longer lags
                before, after = means[: days - lag], means[lag:]
                both = ~np.isnan(before + after)
                product = np.where(both, before * after, 0.0).sum(axis=0)
                square = np.where(both, before * before, 0.0).sum(axis=0)
                slopes[lag] += product / np.maximum(square, 1e-12) / len(self.anomalies)
            shares += np.nan_to_num(_mean_square(means)) / len(self.anomalies)
        return np.minimum.accumulate(np.clip(slopes, 0.0, 1.0), axis=0), np.clip(shares, 0.0, 1.0)

    @cached_property
    def running_means(self) -> Mapping[str, Floats]:
        """Per blended quantity, what :func:`running_features` gives at every hour; shape (hours, series, features)."""
        return {name: running_features(values) for name, values in self.anomalies.items()}

    def starts(
        self, last_known: np.datetime64, length: int, members: int, known_hours: int | None = None
    ) -> list[Rows]:
        """Rows that stand for a moment in other years, one a member, for each series; fewer where the record is short.

        A block begins with the hour after its row and is known throughout, or for as long as is asked for; beyond, it
        has the record's holes. Members that follow each other come from one year.

        Args:
            last_known: stamp of the last hour known.
            length: hours of a block.
            members: how many are wanted.
            known_hours: how many of the first hours of a block have to be known; None for all.
        """
        whole = self._whole(length if known_hours is None else min(known_hours, length))
        found = []
        by_year = self._near_dates(last_known, length)
        for column in range(len(self.series)):
            choices = [rows[whole[rows, column]] for rows in by_year]
            found.append(_evenly([rows for rows in choices if rows.size], members))
        return found

    def year_of(self, rows: Rows, last_known: np.datetime64) -> NDArray[np.int64]:
        """The year of the same date as a moment that some rows lie about: in January that of December before it too."""
        apart_days = (self.hours[rows] - last_known) / _DAY
        year = int(last_known.astype("datetime64[Y]").astype(np.int64)) + 1970
        return year + np.rint(apart_days / 365.25).astype(np.int64)

    def _whole(self, length: int) -> NDArray[np.bool_]:
        """Rows from whose next hour on a block is known, its own hour too; shape (hours, series)."""
        holes = np.cumsum(~self.known, axis=0)
        whole = np.zeros_like(self.known)
        if len(self.hours) > length:
            before = np.vstack([np.zeros((1, len(self.series)), holes.dtype), holes])[: len(self.hours) - length]
            whole[: len(self.hours) - length] = holes[length:] == before
        return whole

    def _near_dates(self, last_known: np.datetime64, length: int) -> list[Rows]:
        """Per other year, the rows within some days of the same date and at the same hour."""
        last_row = len(self.hours) - 1 - length
        found = []
        for centre in same_moment_in_other_years(last_known, self.hours[0], self.hours[-1]):
            around = centre + np.arange(-EITHER_SIDE_DAYS, EITHER_SIDE_DAYS + 1) * _DAY
            rows = (around - self.hours[0]).astype(np.int64)
            found.append(rows[(rows >= 0) & (rows <= last_row)])
        return [rows for rows in found if rows.size]


def library(panel: Panel, *, but: tuple[np.datetime64, np.datetime64] | None = None) -> Library:
    """The stock of a record.

    Args:
        panel: hours with temperature and dew point, and what there is of :data:`CARRIED`; shape (hours, series).
        but: first and last stamp of a stretch that is left out, as if it had never been read.
    """
    left_out = np.zeros(len(panel.hours), dtype=bool)
    if but is not None:
        left_out = (panel.hours >= but[0]) & (panel.hours <= but[1])

    def read(name: str) -> Floats:
        return np.where(left_out[:, None], np.nan, panel.values[name])

    usual, anomalies = {}, {}
    for name in BLENDED:
        values = read(name)
        usual[name] = normals(panel.hours, values)
        mean, spread = usual[name].at(panel.hours)
        anomalies[name] = (values - mean) / spread
    carried = {name: read(name) for name in CARRIED if name in panel.values}
    carried = {name: values for name, values in carried.items() if not np.isnan(values).all()}
    return Library(panel.hours, panel.series, usual, anomalies, carried)


def running_features(anomalies: Floats) -> Floats:
    """At every hour its own anomaly, and the means over the last day and fortnight; shape (hours, series, 3).

    A mean needs half of its hours, and is NaN before so many have passed.
    """
    known = ~np.isnan(anomalies)
    sums, counts = (
        np.concatenate([np.zeros((1, anomalies.shape[1])), np.cumsum(one, axis=0)])
        for one in (np.where(known, anomalies, 0.0), known.astype(np.float64))
    )
    found = [anomalies]
    for span in MEANS_OVER_H:
        mean = np.full(anomalies.shape, np.nan)
        if len(anomalies) >= span:
            count = counts[span:] - counts[:-span]
            enough = count >= span / 2
            mean[span - 1 :] = np.where(enough, (sums[span:] - sums[:-span]) / np.maximum(count, 1), np.nan)
        found.append(mean)
    return np.stack(found, axis=2)


def same_moment_in_other_years(moment: np.datetime64, first: np.datetime64, last: np.datetime64) -> list[np.datetime64]:
    """The same date and hour in every other year that a record touches or lies next to.

    29 February is 28 where there is none.
    """
    date = moment.astype("datetime64[D]")
    month = date.astype("datetime64[M]")
    in_month = int((date - month.astype("datetime64[D]")).astype(np.int64))
    in_day = moment.astype("datetime64[h]") - date.astype("datetime64[h]")
    year = int(moment.astype("datetime64[Y]").astype(np.int64))
    years = range(
        int(first.astype("datetime64[Y]").astype(np.int64)) - 1,
        int(last.astype("datetime64[Y]").astype(np.int64)) + 2,
    )
    found = []
    for other in years:
        if other == year:
            continue
        there = month + np.timedelta64(12 * (other - year), "M")
        days = int(
            ((there + np.timedelta64(1, "M")).astype("datetime64[D]") - there.astype("datetime64[D]")).astype(int)
        )
        day = there.astype("datetime64[D]") + np.timedelta64(min(in_month, days - 1), "D")
        found.append(day.astype("datetime64[h]") + in_day)
    return found


def _evenly(choices: list[Rows], members: int) -> Rows:
    """As many rows as are wanted, every year's share alike and spread evenly over its dates; each row once at most."""
    left = min(members, sum(len(rows) for rows in choices))
    shares = np.zeros(len(choices), dtype=np.int64)
    sizes = np.array([len(rows) for rows in choices], dtype=np.int64)
    while left:
        open_years = np.flatnonzero(shares < sizes)
        each = max(left // len(open_years), 1)
        for year in open_years[_spread_order(len(open_years))]:
            more = min(each, int(sizes[year] - shares[year]), left)
            shares[year] += more
            left -= more
    picked = [
        rows[((np.arange(share) + (year * _GOLDEN) % 1.0) * len(rows) / share).astype(np.int64)]
        for year, (rows, share) in enumerate(zip(choices, shares.tolist(), strict=True))
        if share
    ]
    return np.concatenate(picked) if picked else np.empty(0, dtype=np.int64)


def _spread_order(count: int) -> Rows:
    """The numbers below ``count`` so that those named first lie far apart: what is left over goes to no one end."""
    return np.argsort((np.arange(count) * _GOLDEN) % 1.0, kind="stable")


def _mean_square(values: Floats) -> Floats:
    known = ~np.isnan(values)
    found: Floats = np.where(known, values**2, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    return found
