"""Whether a station's rain totals can be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats
from forecast.quality.form import Limit, Seen
from forecast.quality.neighbours import near_each_other
from forecast.quality.series import DAY_HOURS, relative_humidity
from forecast.quality.station_form import Days, StationCheck, StationFinding, days_of, month_span, span

_LOW = MappingProxyType(
    {
        "dry_days": Limit(60, "days", "stretches of {}", "house choice"),
        "dry_mm": Limit(5, "mm", "less than {} of rain in the stretch", "house choice"),
        "saturated_pct": Limit(95, "%", "air called saturated from {}", "house choice"),
        "saturated_share": Limit(0.10, "", "air saturated in at least {} of its hours", "house choice"),
        "known_share": Limit(0.9, "", "of which at least {} known", "house choice"),
        "own_share": Limit(
            0.4, "", "a year below {} of the median of the other years", "house choice: seldom in humid climates"
        ),
        "own_years": Limit(3, "years", "compared with at least {}", "house choice"),
        "near_share": Limit(
            0.5,
            "",
            "a year below {} of the median of the stations around",
            "house choice: two records of one place were found 13 % apart",
        ),
        "near_km": Limit(100, "km", "stations around: within {}", "house choice, as in the neighbour check"),
    }
)


def _too_low(seen: Seen, column: int, limits: Mapping[str, float]) -> Iterator[StationFinding]:
    if "rain_mm" not in seen.values:
        return
    days = days_of(seen, seen.values["rain_mm"][:, column])
    air = relative_humidity(seen.values)
    if air is not None:
        yield from _dry_stretches(seen, column, days, days_of(seen, air[:, column]), limits)
    yield from _dry_years(seen, column, limits)


def _dry_stretches(
    seen: Seen, column: int, days: Days, air: Days, limits: Mapping[str, float]
) -> Iterator[StationFinding]:
    length = int(limits["dry_days"])
    if len(days.number) < length:
        return
    hours = length * DAY_HOURS
    air_known = air.known()
    full = np.count_nonzero(air.by_hour >= limits["saturated_pct"], axis=1)
    rain, rain_known = _rolling(days.total(), length), _rolling(days.known(), length)
    share = _rolling(full, length) / np.maximum(_rolling(air_known, length), 1)
    known = np.minimum(rain_known, _rolling(air_known, length)) >= limits["known_share"] * hours
    odd = np.flatnonzero(known & (rain < limits["dry_mm"]) & (share >= limits["saturated_share"]))
    if odd.size:
        first = days.number[odd[0]].astype("datetime64[D]")
        last = days.number[odd[-1] + length - 1].astype("datetime64[D]")
        begin, end = span(seen, first, last)
        yield StationFinding(
            "rain_low",
            seen.series[column],
            "rain_mm",
            begin,
            end,
            f"between {first} and {last} there are {length} days on end with {rain[odd].min():.1f} mm of rain in all, "
            f"while the air was saturated in {100 * share[odd].max():.0f} % of the hours: the gauge may be blocked, or "
            f"zeros were written where no rain was reported; on a coast with fog and dry summers this can be weather. "
            f"Leaves wet by rain are missed",
            MappingProxyType({"rain_mm": float(rain[odd].min()), "saturated_share": float(share[odd].max())}),
            grave=True,
        )


def _rolling(values: NDArray[np.int64] | Floats, length: int) -> Floats:
    """Sums over so many days, by the first of them."""
    total = np.concatenate([[0.0], np.cumsum(values, dtype=np.float64)])
    sums: Floats = total[length:] - total[:-length]
    return sums


def yearly_totals(seen: Seen, column: int, known_share: float) -> dict[int, float]:
    """Rain of each calendar year of standard time that is known well enough, scaled to none: what was read."""
    days = days_of(seen, seen.values["rain_mm"][:, column])
    year, known, total = days.year(), days.known(), days.total()
    totals = {}
    for number in np.unique(year):
        here = year == number
        in_year = 366 if number % 4 == 0 and (number % 100 != 0 or number % 400 == 0) else 365
        if known[here].sum() >= known_share * in_year * DAY_HOURS:
            totals[int(number)] = float(total[here].sum())
    return totals


def _dry_years(seen: Seen, column: int, limits: Mapping[str, float]) -> Iterator[StationFinding]:
    own = yearly_totals(seen, column, limits["known_share"])
    near = near_each_other(seen, limits["near_km"])[column]
    around = [yearly_totals(seen, int(other), limits["known_share"]) for other in np.flatnonzero(near)]
    for year, total in own.items():
        others = [amount for number, amount in own.items() if number != year]
        if len(others) >= limits["own_years"] and total < limits["own_share"] * np.median(others):
            usual = float(np.median(others))
            yield _year_finding(
                seen, column, year, total, "rain_low", f"against {usual:.0f} mm in the median of its other years"
            )
        beside = [totals[year] for totals in around if year in totals]
        if beside and total < limits["near_share"] * np.median(beside):
            usual = float(np.median(beside))
            yield _year_finding(
                seen, column, year, total, "rain_low", f"against {usual:.0f} mm in the median of the stations around"
            )


def _year_finding(seen: Seen, column: int, year: int, total: float, check: str, against: str) -> StationFinding:
    first, last = month_span(seen, (year - 1970) * 12, (year - 1970) * 12 + 11)
    return StationFinding(
        check,
        seen.series[column],
        "rain_mm",
        first,
        last,
        f"{total:.0f} mm of rain in {year}, {against}: rain is missing, or was read in another unit",
        MappingProxyType({"year": year, "total_mm": total}),
        grave=True,
    )


RAIN_LOW = StationCheck(
    key="rain_low",
    looks_for="hardly any rain for two months of humid air, or in a year against other years and stations",
    limits=_LOW,
    find=_too_low,
)

_HIGH = MappingProxyType(
    {
        "year_mm": Limit(
            3000,
            "mm",
            "more than {} in a year",
            "house choice: few places on the slopes of mountains by the sea and in the wet tropics have more",
        ),
        "hour_mm": Limit(50, "mm", "hours with more than {}", "house choice: an hour of many years in most places"),
        "hours_a_year": Limit(5, "hours", "more than {} a year of them", "house choice"),
        "known_share": Limit(0.9, "", "years of which at least {} is known", "house choice"),
    }
)


def _too_high(seen: Seen, column: int, limits: Mapping[str, float]) -> Iterator[StationFinding]:
    if "rain_mm" not in seen.values:
        return
    days = days_of(seen, seen.values["rain_mm"][:, column])
    heavy = np.count_nonzero(days.by_hour > limits["hour_mm"], axis=1)
    for year, total in yearly_totals(seen, column, limits["known_share"]).items():
        hours = int(heavy[days.year() == year].sum())
        if total > limits["year_mm"] or hours > limits["hours_a_year"]:
            yield _year_finding(
                seen,
                column,
                year,
                total,
                "rain_high",
                f"with {hours} h above {limits['hour_mm']:g} mm, is more than nearly any place has: tenths of a "
                f"millimetre read as millimetres would do this, or the total of several hours beside each hour",
            )


RAIN_HIGH = StationCheck(
    key="rain_high",
    looks_for="more rain than nearly any place has, as of tenths of a millimetre read as millimetres",
    limits=_HIGH,
    find=_too_high,
)
