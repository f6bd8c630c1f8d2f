"""Records of any step up to an hour, brought to hours.

A record belongs to the hour that holds the middle of its interval: so a stamp a few seconds off does no harm, and a
record of an hour that is not a full hour in UTC (a zone with half an hour in it, a logger that stamps five to) goes
to the hour it covers most of; of two covered alike it goes to the earlier, whose stamp is not after the record's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from forecast.errors import Notice
from forecast.panel import Floats, Hours
from forecast.physics import humidity
from forecast.quantities import QUANTITIES, Kind

Way = Literal["mean", "instant", "sum", "max", "cumulative"]
Moments = NDArray[np.datetime64]  # datetime64[s], UTC, rising
Rows = NDArray[np.int64]

STEPS_MINUTES = (1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30, 60)
# House choice, stricter than the U.S. EPA's guidance for air models (EPA-454/R-99-005, read second-hand), by which two
# quarter-hours make an hour.
LEAST_SHARE_OF_RECORDS = 0.75
STEADY_SHARE = 0.5  # house choice: a step that half of the records do not keep is none
REPEATED_GAPS = 24  # house choice: as many equal gaps are a habit and no chance
# House choice: a counter that falls by less than a tenth was corrected; one that starts anew falls to near nothing.
RESET_FALLS_BELOW = 0.9

_MINUTE_S = 60
_HOUR_S = 3600


@dataclass(frozen=True, eq=False)
class Hourly:
    """What records come to.

    Attributes:
        hours: UTC stamps of the hours that hold a record, each the end of its hour; shape (hours,).
        values: per quantity, NaN where too few records are known; shape (hours,).
        notices: what a reader should know.
    """

    hours: Hours
    values: Mapping[str, Floats]
    notices: tuple[Notice, ...]


def default_way(name: str) -> Way:
    """How records of a quantity become an hour's figure unless the file says otherwise."""
    ways: dict[Kind, Way] = {Kind.AMOUNT: "sum", Kind.HIGHEST: "max"}
    return ways.get(QUANTITIES[name].kind, "mean")


def step_of(moments: Moments) -> int | None:
    """The step of the records in minutes: the commonest distance of up to an hour; None where there is no steady one.

    Records that all stand further apart than an hour are hours with holes between them.
    """
    gaps = np.rint(np.diff(_seconds(moments)) / _MINUTE_S).astype(np.int64)
    short = gaps[(gaps >= 0) & (gaps <= 60)]
    if not short.size:
        return 60
    step = int(np.bincount(short).argmax())
    kept = np.count_nonzero(np.abs(short - step) <= (1 if step >= 5 else 0))
    return step if step in STEPS_MINUTES and kept >= STEADY_SHARE * short.size else None


def long_step_of(moments: Moments) -> int | None:
    """The step in minutes where most records stand the same time apart and it is more than an hour; else None."""
    gaps = np.rint(np.diff(_seconds(moments)) / _MINUTE_S).astype(np.int64)
    if gaps.size < REPEATED_GAPS or np.median(gaps) <= 60:
        return None
    steps, counts = np.unique(gaps, return_counts=True)
    return int(steps[counts.argmax()]) if counts.max() > gaps.size / 2 else None


def hour_of(ends: Moments, step_minutes: int) -> Hours:
    """The UTC hour, by its end, that each record belongs to; records end at ``ends``."""
    middle_s = _seconds(ends) - step_minutes * _MINUTE_S // 2
    return (-(-middle_s // _HOUR_S)).astype("datetime64[h]")


def crowded(ends: Moments, step_minutes: int) -> Rows:
    """Records that come after the last that their hour can hold: the step changes within the file, or is another.

    A clock that runs a little fast brings one more into an hour now and then; a file of hours has no such room.
    """
    hours = hour_of(ends, step_minutes)
    first = np.searchsorted(hours, hours, side="left")
    room = 60 // step_minutes + (1 if step_minutes < 60 else 0)
    return np.flatnonzero(np.arange(len(hours)) - first >= room)


def to_hours(
    moments: Moments, values: Mapping[str, Floats], ways: Mapping[str, Way], *, step_minutes: int, label_is_end: bool
) -> Hourly:
    """Records to hours.

    Args:
        moments: UTC stamps of the records, rising, no two alike; shape (records,).
        values: per quantity, in its own unit, NaN where there is no reading; shape (records,).
        ways: per quantity, how its records become an hour's figure.
        step_minutes: length of a record, one of :data:`STEPS_MINUTES`.
        label_is_end: whether a stamp names the end of its record's interval; a reading taken at an instant belongs
            to its stamp either way.
    """
    ends = moments if label_is_end else moments + np.timedelta64(step_minutes, "m")
    by_end = _Groups(ends, step_minutes)
    by_moment = by_end if label_is_end else _Groups(moments, step_minutes)
    hours = np.union1d(by_end.hours, by_moment.hours) if "instant" in ways.values() else by_end.hours
    notices: list[Notice] = []
    records = dict(values)
    if step_minutes < 60:
        for name in [name for name in values if ways[name] != "cumulative"]:
            records[name] = _within_bounds(name, values[name], notices)
    found = {}
    for name, way in ways.items():
        groups = by_moment if way == "instant" else by_end
        figures = _figures(name, records, ways, groups, notices)
        found[name] = np.full(len(hours), np.nan)
        found[name][np.searchsorted(hours, groups.hours)] = figures
        notices += _few_known(name, way, figures) if step_minutes < 60 else ()
    return Hourly(hours, found, (*notices, *_off_hour(ends, step_minutes)))


class _Groups:
    """Records by their hour.

    Attributes:
        ends: end of each record.
        hour_of_record: the hour of each.
        hours: the distinct hours.
        starts: the first record of each.
        step_minutes: length of a record.
    """

    def __init__(self, ends: Moments, step_minutes: int) -> None:
        self.ends = ends
        self.step_minutes = step_minutes
        self.hour_of_record = hour_of(ends, step_minutes)
        self.hours, self.starts = np.unique(self.hour_of_record, return_index=True)

    @property
    def whole(self) -> int:
        """Records in a whole hour."""
        return 60 // self.step_minutes

    @property
    def half_step(self) -> np.timedelta64:
        """Half a record."""
        return np.timedelta64(self.step_minutes * _MINUTE_S // 2, "s")

    def known(self, records: Floats) -> Rows:
        """Per hour, how many records are known."""
        return np.add.reduceat((~np.isnan(records)).astype(np.int64), self.starts)

    def total(self, records: Floats) -> Floats:
        """Per hour, the sum of the known records."""
        return np.add.reduceat(np.where(np.isnan(records), 0.0, records), self.starts)

    def mean(self, records: Floats) -> Floats:
        """Per hour, the mean of the known records; NaN where too few are."""
        known = self.known(records)
        return np.where(self._enough(known), self.total(records) / np.maximum(known, 1), np.nan)

    def highest(self, records: Floats) -> Floats:
        """Per hour, the highest of the known records; NaN where too few are."""
        highest = np.maximum.reduceat(np.where(np.isnan(records), -np.inf, records), self.starts)
        return np.where(self._enough(self.known(records)), highest, np.nan)

    def amount(self, records: Floats) -> Floats:
        """Per hour, the sum; NaN unless every record is known, since what fell in a missing one is anyone's guess."""
        unknown = np.add.reduceat(np.isnan(records).astype(np.int64), self.starts)
        return np.where((unknown == 0) & (self.known(records) >= self.whole), self.total(records), np.nan)

    def last(self, records: Floats) -> Floats:
        """Per hour, the reading at its end; NaN where none was taken within half a step of it."""
        rows = np.append(self.starts[1:], len(records)) - 1
        return np.where(self.ends[rows] > self.hours - self.half_step, records[rows], np.nan)

    def _enough(self, known: Rows) -> NDArray[np.bool_]:
        return known >= LEAST_SHARE_OF_RECORDS * self.whole


def _figures(
    name: str, records: Mapping[str, Floats], ways: Mapping[str, Way], groups: _Groups, notices: list[Notice]
) -> Floats:
    way = ways[name]
    here = records[name]
    if way == "cumulative":
        return _from_counter(name, here, groups, notices)
    if way != "mean":
        return {"sum": groups.amount, "max": groups.highest, "instant": groups.last}[way](here)
    if name == "relative_humidity_pct" and groups.step_minutes < 60:  # one record an hour is its own mean, to the bit
        has_temperature = ways.get("air_temperature_c") == "mean"
        temperature = records["air_temperature_c"] if has_temperature else np.full(len(here), np.nan)
        return _mean_humidity(here, temperature, groups, notices)
    if name == "dew_point_c" and groups.step_minutes < 60:
        return humidity.dew_point_c(groups.mean(humidity.saturation_vapour_pressure_hpa(here)))
    return groups.mean(here)


def _mean_humidity(relative: Floats, temperature: Floats, groups: _Groups, notices: list[Notice]) -> Floats:
    """Relative humidity that goes with the hour's mean temperature and mean vapour pressure.

    The curve of saturation is hollow, so that an hour saturated throughout would come out a little above 100 %; no
    mean lies above the highest of its readings.
    """
    plain = groups.mean(relative)
    pressure = groups.mean(humidity.vapour_pressure_hpa(temperature, relative))
    saturation = humidity.saturation_vapour_pressure_hpa(groups.mean(temperature))
    found = np.minimum(100 * pressure / saturation, groups.highest(relative))
    without = np.isnan(found) & ~np.isnan(plain)
    if without.any():
        text = f"{without.sum()} h of humidity averaged as relative humidity, since no temperature stands beside it"
        notices.append(Notice(text, quantity="relative_humidity_pct"))
    return np.where(without, plain, found)


def _from_counter(name: str, readings: Floats, groups: _Groups, notices: list[Notice]) -> Floats:
    """Amounts of the hours from a counter that runs on; NaN unless it was read at both ends of the hour."""
    known = np.flatnonzero(~np.isnan(readings))
    amounts = np.full(len(readings), np.nan)
    if known.size > 1:
        before, after = readings[known[:-1]], readings[known[1:]]
        ends_before, ends_after = groups.ends[known[:-1]], groups.ends[known[1:]]
        is_gap = ends_after - ends_before > 3 * groups.half_step
        fell = after < before
        anew = fell & ~is_gap & (after < RESET_FALLS_BELOW * before)
        rise = np.where(anew, after, np.where(fell, np.nan, after - before))
        # a rise that began in an earlier hour than that of its record is no one hour's
        begins = groups.hour_of_record[known[1:]] - np.timedelta64(1, "h")
        amounts[known[1:]] = np.where(ends_before > begins - groups.half_step, rise, np.nan)
        notices += _fallen(name, int(anew.sum()), int((fell & ~anew).sum()))
        amounts = _within_bounds(name, amounts, notices)
    is_reading = (~np.isnan(readings)).astype(np.int64)
    is_amount = (~np.isnan(amounts)).astype(np.int64)
    every = np.add.reduceat(is_reading, groups.starts) == np.add.reduceat(is_amount, groups.starts)
    at_end = ~np.isnan(groups.last(readings))
    return np.where(every & at_end, groups.total(amounts), np.nan)


def _fallen(name: str, anew: int, doubtful: int) -> list[Notice]:
    notices = []
    if anew:
        text = f"the counter of {name} fell back {anew} times and was taken to start from 0 again, or to roll over"
        notices.append(Notice(text, quantity=name))
    if doubtful:
        text = f"the counter of {name} fell {doubtful} times by a little or across a gap; the amount there is unknown"
        notices.append(Notice(text, quantity=name))
    return notices


def _within_bounds(name: str, records: Floats, notices: list[Notice]) -> Floats:
    """Records without those that cannot be: in a mean they would hide, and quality control sees the mean only."""
    quantity = QUANTITIES[name]
    outside = (records < quantity.least) | (records > quantity.most)
    if outside.any():
        bounds = f"{quantity.least:g} to {quantity.most:g}{'' if quantity.unit == '1' else f' {quantity.unit}'}"
        text = f"{outside.sum()} records of {name} lie outside {bounds} and count as missing"
        notices.append(Notice(text, quantity=name))
    return np.where(outside, np.nan, records)


def _few_known(name: str, way: Way, figures: Floats) -> list[Notice]:
    needed = {
        "sum": "an hour needs all its records",
        "cumulative": "an hour needs a reading at both its ends",
        "instant": "an hour needs a reading at its end",
    }.get(way, f"an hour needs {100 * LEAST_SHARE_OF_RECORDS:g} % of its records")
    unknown = int(np.isnan(figures).sum())
    text = f"{name} is unknown in {unknown} of {len(figures)} h: {needed}"
    return [Notice(text, quantity=name)] if unknown else []


def _off_hour(ends: Moments, step_minutes: int) -> list[Notice]:
    """A word on records of an hour that are no full hours in UTC."""
    if step_minutes < 60:
        return []
    late_s = _seconds(ends) - hour_of(ends, step_minutes).astype("datetime64[s]").astype(np.int64)
    off = np.abs(late_s) >= _MINUTE_S
    if not off.any():
        return []
    minutes = round(float(np.median(late_s[off])) / _MINUTE_S)
    where = f"{abs(minutes)} min {'after' if minutes > 0 else 'before'} the full hour in UTC"
    text = f"{off.sum()} hourly records end {where}; each stands at that full hour, and amounts are moved by as much"
    return [Notice(text)]


def _seconds(moments: Moments) -> NDArray[np.int64]:
    return moments.astype("datetime64[s]").astype(np.int64)
