"""Whether a station's humidity can be believed near saturation, where it decides about wet leaves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats
from forecast.quality.form import Limit, Seen
from forecast.quality.series import WHOLE_F_IN_C, relative_humidity, resolution
from forecast.quality.station_form import Days, StationCheck, StationFinding, days_of, month_span, month_words

HUMID_PCT = 90.0  # the line that wetness by humidity is commonly drawn at, as in forecast.wetness.humidity_threshold
_WET_DAY_MM = 0.25  # one tip of a 0.01 in gauge, as in forecast.wetness
_DAYS_OF_MONTH = 20  # known days that a month needs; house choice

_TOP_SOURCE = (
    "the agweather-qaqc practice of scaling by 100 over the yearly mean of the top 1 % of daily highest humidity "
    "(Journal of Open Source Software, paper 6368, read second-hand)"
)
_TOP = MappingProxyType(
    {
        "wet_days": Limit(4, "days", "months with rain on at least {}", "house choice"),
        "month_most_pct": Limit(
            95,
            "%",
            "highest humidity of the month below {}",
            "house choice after FAO-56, Annex 5 (humidity near saturation comes close to 100 % over wet ground, from "
            "memory) and the notes of a public archive: no sound sensor had such a month (read second-hand)",
        ),
        "top_pct": Limit(
            97, "%", "mean of the year's top readings below {}", f"{_TOP_SOURCE}; 3 % is a usual accuracy"
        ),
        "year_days": Limit(300, "days", "years with at least {} known", "house choice"),
    }
)


def _never_full(seen: Seen, column: int, limits: Mapping[str, float]) -> Iterator[StationFinding]:
    air = relative_humidity(seen.values)
    if air is None:
        return
    days = days_of(seen, air[:, column])
    rain_known = "rain_mm" in seen.values and not np.isnan(seen.values["rain_mm"][:, column]).all()
    if rain_known:
        yield from _dry_wet_months(seen, column, days, limits)
    yield from _low_tops(seen, column, days, limits, rain_known=rain_known)


def _dry_wet_months(seen: Seen, column: int, days: Days, limits: Mapping[str, float]) -> Iterator[StationFinding]:
    rain = days_of(seen, seen.values["rain_mm"][:, column]).total()
    month, most = days.month(), days.most()
    low, wet = [], 0
    for number in np.unique(month):
        here = month == number
        enough = np.count_nonzero(~np.isnan(most[here])) >= _DAYS_OF_MONTH
        if enough and np.count_nonzero(rain[here] >= _WET_DAY_MM) >= limits["wet_days"]:
            wet += 1
            if np.nanmax(most[here]) < limits["month_most_pct"]:
                low.append((int(number), float(np.nanmax(most[here]))))
    if low:
        first, last = month_span(seen, low[0][0], low[-1][0])
        highest = max(top for _, top in low)
        yield StationFinding(
            "humidity_low",
            seen.series[column],
            "relative_humidity_pct",
            first,
            last,
            f"humidity never reached {limits['month_most_pct']:g} % in {len(low)} of {wet} months with rain on "
            f"{limits['wet_days']:g} days or more (first {month_words(low[0][0])}, last {month_words(low[-1][0])}, "
            f"highest {highest:g} %): the sensor reads low near saturation, or the site "
            f"is drier than turf, as a paved one is; wet hours are counted too few there",
            MappingProxyType({"months": len(low), "wet_months": wet, "highest_pct": highest}),
            grave=True,
        )


def _low_tops(
    seen: Seen, column: int, days: Days, limits: Mapping[str, float], *, rain_known: bool
) -> Iterator[StationFinding]:
    year, most = days.year(), days.most()
    low = []
    for number in np.unique(year):
        tops = np.sort(most[(year == number) & ~np.isnan(most)])
        if len(tops) >= limits["year_days"]:
            top = float(tops[-max(1, round(len(tops) / 100)) :].mean())
            if top < limits["top_pct"]:
                low.append((int(number), top))
    if low:
        lowest_year, lowest = min(low, key=lambda pair: pair[1])
        first, last = month_span(seen, (low[0][0] - 1970) * 12, (low[-1][0] - 1970) * 12 + 11)
        years = ", ".join(str(number) for number, _ in low)
        unknown = "" if rain_known else "; rain is not known, so that wet months cannot be looked at"
        yield StationFinding(
            "humidity_low",
            seen.series[column],
            "relative_humidity_pct",
            first,
            last,
            f"the top 1 % of the days' highest humidity averaged below {limits['top_pct']:g} % in {years} (lowest "
            f"{lowest:.1f} % in {lowest_year}; scaled to 100 % all humidity of that year would rise by a factor of "
            f"{100 / lowest:.3f}): where leaves get wet at all, wet hours are "
            f"counted too few there{unknown}",
            MappingProxyType({"years": len(low), "lowest_top_pct": lowest, "factor": 100 / lowest}),
            grave=True,
        )


HUMIDITY_LOW = StationCheck(
    key="humidity_low",
    looks_for="humidity that never comes near saturation, in wet months or in a whole year",
    limits=_TOP,
    find=_never_full,
)

# What marks a sensor and not the weather is the level of the month's top readings: saturated air reads what the sensor
# reads at saturation. von Arx, Dobbertin & Rebetez 2012, Environ. Monit. Assess. (abstract read): over 15 years and 28
# stations 41 % of operation periods drifted, most of all near 100 %.
_PETTITT = "Pettitt 1979, Applied Statistics 28:126-135; applied again to both parts until nothing is found"
_SHIFT = MappingProxyType(
    {
        "chance": Limit(
            0.001,
            "",
            "Pettitt's rank test on monthly tops: chance below {}",
            f"{_PETTITT}; strict, as months hang together",
        ),
        "apart_pct": Limit(
            2.5, "%", "the tops of both parts more than {} apart", "house choice: a usual accuracy, 2 to 3 %"
        ),
        "months": Limit(24, "months", "records of at least {}", "house choice: two of each"),
    }
)
_TOP_DAYS = 3  # of a month, whose mean is the month's top; house choice


def change_point(values: Floats) -> tuple[int, float]:
    """Where a series changes its level most, and how likely chance alone is to do as much (Pettitt 1979).

    Args:
        values: shape (n,), no NaN, n at least 2.

    Returns:
        The number of values before the change, and the approximate chance 2 exp(-6 K² / (n³ + n²)), at most 1.
    """
    n = len(values)
    _, inverse, count = np.unique(values, return_inverse=True, return_counts=True)
    rank = (np.cumsum(count) - (count - 1) / 2)[inverse]
    u = 2 * np.cumsum(rank)[:-1] - np.arange(1, n) * (n + 1)
    before = int(np.argmax(np.abs(u)))
    k = float(abs(u[before]))
    return before + 1, min(1.0, 2 * float(np.exp(-6 * k**2 / (n**3 + n**2))))


def _parts(values: Floats, limits: Mapping[str, float], start: int = 0) -> list[int]:
    """Places at which the level changes, in order. At a chance of 0.001 no part can be shorter than 9 months."""
    if len(values) < 2:
        return []
    before, chance = change_point(values)
    if chance >= limits["chance"]:
        return []
    left = _parts(values[:before], limits, start)
    return [*left, start + before, *_parts(values[before:], limits, start + before)]


def _monthly(days: Days) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Months with enough days, the top of each, and the share of humid hours of each."""
    month, most = days.month(), days.most()
    numbers, tops, shares = [], [], []
    for number in np.unique(month):
        here = month == number
        highest = np.sort(most[here & ~np.isnan(most)])
        if len(highest) >= _DAYS_OF_MONTH:
            known = days.by_hour[here][~np.isnan(days.by_hour[here])]
            numbers.append(int(number))
            tops.append(float(highest[-_TOP_DAYS:].mean()))
            shares.append(100 * float((known >= HUMID_PCT).mean()))
    return np.array(numbers, np.int64), np.array(tops), np.array(shares)


def _shifted(seen: Seen, column: int, limits: Mapping[str, float]) -> Iterator[StationFinding]:
    air = relative_humidity(seen.values)
    if air is None:
        return
    months, tops, shares = _monthly(days_of(seen, air[:, column]))
    if len(months) < limits["months"]:
        return
    usual = np.array([np.median(tops[months % 12 == number % 12]) for number in months])
    cuts = [0, *_parts(tops - usual, limits), len(months)]
    for left, cut, right in zip(cuts, cuts[1:], cuts[2:], strict=False):
        before, after = tops[left:cut].mean(), tops[cut:right].mean()
        if abs(after - before) > limits["apart_pct"]:
            yield _shift_finding(seen, column, months, (left, cut, right), tops, shares)


def _shift_finding(
    seen: Seen, column: int, months: NDArray[np.int64], part: tuple[int, int, int], tops: Floats, shares: Floats
) -> StationFinding:
    left, cut, right = part
    top = (float(tops[left:cut].mean()), float(tops[cut:right].mean()))
    share = (float(shares[left:cut].mean()), float(shares[cut:right].mean()))
    first, last = month_span(seen, int(months[left]), int(months[right - 1]))
    return StationFinding(
        "humidity_shift",
        seen.series[column],
        "relative_humidity_pct",
        first,
        last,
        f"about {month_words(int(months[cut]))} the top humidity readings moved from {top[0]:.1f} to {top[1]:.1f} %, "
        f"and hours at {HUMID_PCT:g} % and above from {share[0]:.0f} to {share[1]:.0f} % of all (compared: "
        f"{month_words(int(months[left]))} to {month_words(int(months[right - 1]))}): a sensor was changed or drifts, "
        f"and wet hours before and after are not the same thing",
        MappingProxyType(
            {
                "month_of_change": int(months[cut]),
                "top_before_pct": top[0],
                "top_after_pct": top[1],
                "humid_before_pct": share[0],
                "humid_after_pct": share[1],
            }
        ),
        grave=True,
    )


HUMIDITY_SHIFT = StationCheck(
    key="humidity_shift",
    looks_for="a change of the level that the highest humidity readings stand at, as of a sensor changed or drifting",
    limits=_SHIFT,
    find=_shifted,
)

# Standard deviation of humidity from rounded temperature and dew point, and share of near-saturated hours that fall on
# the other side of 90 %: house simulation (15 to 30 °C, depression 0 to 4 °C).
_ROUNDED = MappingProxyType({1.0: ("whole °C", 2.2, 8.0), WHOLE_F_IN_C: ("whole °F", 1.2, 5.5)})
_RESOLUTION = MappingProxyType(
    {
        "readings": Limit(
            720, "readings", "from at least {}", "house choice: 30 days; fewer may be round numbers by chance"
        )
    }
)


def _coarse(seen: Seen, column: int, limits: Mapping[str, float]) -> Iterator[StationFinding]:
    for name in ("air_temperature_c", "dew_point_c"):
        if name not in seen.values:
            continue
        readings = seen.values[name][:, column]
        known = np.flatnonzero(~np.isnan(readings))
        step = resolution(readings, degrees=True)
        if len(known) >= limits["readings"] and step in _ROUNDED:
            words, sd_pct, flips_pct = _ROUNDED[step]
            what = "temperature" if name == "air_temperature_c" else "dew point"
            yield StationFinding(
                "resolution",
                seen.series[column],
                name,
                seen.hours[known[0]],
                seen.hours[known[-1]],
                f"{what} is reported in {words}: humidity worked out from temperature and dew point so rounded is "
                f"uncertain by {sd_pct:g} %, and about {flips_pct:g} % of hours near saturation fall on the wrong side "
                f"of {HUMID_PCT:g} %",
                MappingProxyType({"step_c": step, "humidity_sd_pct": sd_pct, "hours_flipped_pct": flips_pct}),
                grave=False,
            )


RESOLUTION = StationCheck(
    key="resolution",
    looks_for="temperature and dew point in whole degrees, and what that does to humidity",
    limits=_RESOLUTION,
    find=_coarse,
)
