"""The chance made of past years: against plain Python, against a climate whose truth is known, and in time order."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from sklearn.metrics import brier_score_loss
from strategies import unhurried

from forecast.clock import date_of, day_number
from forecast.daily import Days
from forecast.outlook.climatology import Chance, chance_of_any, interval, season_count
from forecast.panel import Floats

NAN = math.nan

SD_DAYS, REACH_DAYS = 12, 36  # the kernel: a Gaussian cut at three standard deviations
FIRST, ASKED = date(2031, 1, 1), date(2037, 7, 10)

Record = dict[date, float]  # 1 event, 0 none, NaN unknown


def _record(first: date, last: date) -> Record:
    return {first + timedelta(n): 0.0 for n in range((last - first).days + 1)}


def _chance(record: Record, asked: date, length: int = 1) -> Chance | None:
    days = np.array([day_number(day) for day in record])
    first = day_number(asked)
    return chance_of_any(np.array(list(record.values())), days, first, first + length - 1)


def _worked_chance(record: Record, asked: date, length: int = 1) -> float | None:
    """The same chance by plain Python, as the module's text tells it: loops over dates, no arrays."""

    def window(start: date) -> float:
        found = [record.get(start + timedelta(n), NAN) for n in range(length)]
        return NAN if any(math.isnan(one) for one in found) else max(found)

    weights = {n: math.exp(-0.5 * (n / SD_DAYS) ** 2) for n in range(-REACH_DAYS, REACH_DAYS + 1)}
    total = sum(weights.values())
    rates = []
    for year in range(asked.year - 1, min(record).year - 1, -1):
        centre = date(year, 2, 28) if (asked.month, asked.day) == (2, 29) else asked.replace(year=year)
        around = {centre + timedelta(n): weight for n, weight in weights.items()}
        days_known = sum(w for day, w in around.items() if not math.isnan(record.get(day, NAN)))
        whole = {day: w for day, w in around.items() if not math.isnan(window(day))}
        if days_known >= 0.8 * total and whole:
            rates.append(sum(w * window(day) for day, w in whole.items()) / sum(whole.values()))
    if not rates:
        return None
    before = [window(day) for day in record if day + timedelta(length) <= asked]
    known = [one for one in before if not math.isnan(one)]
    all_year = (sum(known) + 0.5) / (len(known) + 1)
    pseudo = 1 / total
    return (sum(rates) + pseudo * all_year) / (len(rates) + pseudo)


def _same(record: Record, asked: date, length: int = 1) -> Chance:
    """The chance, once it has been found equal to the one worked in plain Python."""
    found, worked = _chance(record, asked, length), _worked_chance(record, asked, length)
    assert found is not None
    assert worked is not None
    assert found.value == pytest.approx(worked, abs=1e-12)
    assert found.low <= found.value <= found.high
    return found


def test_an_event_on_the_same_date_every_year_is_its_share_of_the_weights() -> None:
    record = _record(FIRST, date(2037, 6, 30))
    record.update({date(year, 7, 10): 1.0 for year in range(2031, 2037)})
    found = _same(record, ASKED)
    # One day at the middle of 73: about 1/(12 √(2π)) = 0.03325 of the weight; the cut tails are 0.3 % of it.
    assert found.value == pytest.approx(1 / (12 * math.sqrt(2 * math.pi)), abs=2e-4)
    assert found.years == 6


def test_an_event_in_half_of_the_years_is_half_as_likely() -> None:
    every, half = _record(FIRST, date(2037, 6, 30)), _record(FIRST, date(2037, 6, 30))
    for year in range(2031, 2037):
        for n in range(-REACH_DAYS, REACH_DAYS + 1):
            every[date(year, 7, 10) + timedelta(n)] = 1.0
            half[date(year, 7, 10) + timedelta(n)] = float(year % 2)
    one, other = _same(every, ASKED).value, _same(half, ASKED).value
    # Every day of the 73 an event: 1, less what one pseudo-day among six years of 30 takes away (at most 1/180).
    assert 1 - 1 / 180 < one < 1
    assert other == pytest.approx(one / 2, abs=1 / 180)


@pytest.mark.parametrize("always", [0.0, 1.0])
@pytest.mark.parametrize(("years", "width"), [(1, 0.785), (6, 0.0200)])
def test_no_record_says_never_or_always(always: float, years: int, width: float) -> None:
    record = dict.fromkeys(_record(date(2037 - years, 1, 1), date(2037, 6, 30)), always)
    found = _same(record, ASKED)
    assert 0 < found.value < 1
    assert found.value == pytest.approx(always, abs=0.01)  # and says nearly so
    # But is not sure of it: sin²(t × 0.1724/√years), with t 6.314 for one degree of freedom and 2.015 for five.
    assert found.high - found.low == pytest.approx(width, abs=0.001)


@pytest.mark.parametrize("length", [1, 2, 7, 14])
def test_a_window_is_any_day_of_it_by_brute_force(length: int) -> None:
    rng = np.random.default_rng(1)
    record = _record(FIRST, date(2037, 7, 5))
    record.update(dict(zip(record, (rng.random(len(record)) < 0.1).astype(float), strict=True)))
    _same(record, ASKED, length)


@pytest.mark.parametrize("length", [1, 5])
def test_unknown_days_are_left_out_and_no_year_is_made_of_little(length: int) -> None:
    rng = np.random.default_rng(2)
    record = _record(FIRST, date(2037, 7, 5))
    for day in record:
        record[day] = NAN if rng.random() < 0.05 else float(rng.random() < 0.1)
    assert _same(record, ASKED, length).years == 6
    for n in range(-10, 11):  # 21 days at the middle hold 62 % of the weight
        record[date(2034, 7, 10) + timedelta(n)] = NAN
    assert _same(record, ASKED, length).years == 5


@pytest.mark.parametrize(("days_to_either_side", "years"), [(2, 6), (3, 5)])
def test_a_year_counts_from_four_fifths_of_its_weight_on(days_to_either_side: int, years: int) -> None:
    # Five days at the middle hold erf(2.5/12/√2) = 16.5 % of the weight, seven hold 22.9 %.
    record = _record(FIRST, date(2037, 7, 5))
    for n in range(-days_to_either_side, days_to_either_side + 1):
        record[date(2034, 7, 10) + timedelta(n)] = NAN
    assert _same(record, ASKED).years == years


def test_a_record_that_stops_soon_after_last_years_date_still_counts_that_year() -> None:
    # To 21 days after it: all but the upper 3.7 % of the weight.
    assert _same(_record(FIRST, date(2036, 7, 31)), ASKED).years == 6


def test_unknown_days_do_not_raise_the_chance_of_a_window() -> None:
    # A quarter of the days an event, alone or not; one day in ten unknown, whatever it was. A window that is sure
    # of its event in spite of an unknown day must not count when its equals without one are dropped.
    rng = np.random.default_rng(3)
    whole = _record(date(2006, 1, 1), date(2037, 7, 5))
    whole.update(dict(zip(whole, (rng.random(len(whole)) < 0.05).astype(float), strict=True)))
    holed = {day: NAN if rng.random() < 0.1 else one for day, one in whole.items()}
    one, other = _chance(whole, ASKED, 7), _chance(holed, ASKED, 7)
    assert one is not None
    assert other is not None
    # 1 − 0.95⁷ = 0.30; 31 years of about 10 independent windows: standard error √(0.3 × 0.7/310) = 0.026, twice that.
    assert one.value == pytest.approx(0.30, abs=0.05)
    assert other.value == pytest.approx(0.30, abs=0.05)


def test_the_leap_day_is_taken_for_the_day_before() -> None:
    record = _record(FIRST, date(2036, 2, 20))
    record.update({date(year, 2, 28): 1.0 for year in range(2031, 2036)})
    on_leap_day = _same(record, date(2036, 2, 29))
    day_before = _same(record, date(2036, 2, 28))
    assert on_leap_day.value == day_before.value
    assert on_leap_day.years == 5


@pytest.mark.parametrize("length", [1, 7, 14])
@pytest.mark.parametrize("asked", [date(2037, 1, 1), ASKED, date(2036, 2, 29), date(2037, 12, 31)], ids=str)
def test_nothing_from_the_date_on_is_used(asked: date, length: int) -> None:
    rng = np.random.default_rng(4)
    record = _record(FIRST, date(2038, 12, 31))
    record.update(dict(zip(record, (rng.random(len(record)) < 0.2).astype(float), strict=True)))
    found = _chance(record, asked, length)
    assert found is not None
    for future in (0.0, 1.0, NAN):
        changed = {day: future if day >= asked else one for day, one in record.items()}
        assert _chance(changed, asked, length) == found  # to the bit
    cut = {day: one for day, one in record.items() if day < asked}
    assert _chance(cut, asked, length) == found
    # And it does read the past, or all this shows nothing.
    assert _chance({day: 1 - one for day, one in record.items()}, asked, length) != found


def test_without_a_past_year_there_is_no_chance() -> None:
    assert _chance(_record(date(2037, 1, 1), date(2037, 7, 5)), ASKED) is None
    assert _chance(_record(date(2036, 9, 1), date(2037, 7, 5)), ASKED) is None
    assert _chance(dict.fromkeys(_record(FIRST, date(2037, 7, 5)), NAN), ASKED) is None
    assert _chance(_record(date(2037, 7, 1), date(2037, 7, 5)), ASKED, 14) is None


# Count of days a season.


def _season(record: Record, before: date, first_month: int, last_month: int) -> list[float] | None:
    days = np.array([day_number(day) for day in record])
    event = np.array(list(record.values()))
    found = season_count(event, days, day_number(before), first_month, last_month)
    if found is None:
        return None
    return [found.mean_days, found.least_days, found.most_days, found.season_days, found.seasons]


def _worked_season(record: Record, before: date, months: list[int]) -> list[float]:
    """Event days by season, counted one by one; a season is named by the year it begins in."""
    by_season: dict[int, list[float]] = {}
    for day, one in record.items():
        if day.month in months:
            begun = day.year - (months[0] > months[-1] and day.month <= months[-1])
            by_season.setdefault(begun, []).append(one)
    length = max(len(days) for days in by_season.values())
    ends = {begun: date(begun + (months[0] > months[-1]), months[-1], 28) for begun in by_season}
    whole = {b: days for b, days in by_season.items() if len(days) >= length - 1 and ends[b] < before}
    counts = [sum(days) for days in whole.values()]
    longest = max(len(days) for days in whole.values())
    return [sum(counts) / len(counts), min(counts), max(counts), longest, len(counts)]


@pytest.mark.parametrize("months", [[5, 6, 7, 8, 9], [11, 12, 1, 2, 3], [12, 1, 2], [10, 11, 12], [1]], ids=str)
def test_event_days_a_season_by_brute_force(months: list[int]) -> None:
    rng = np.random.default_rng(5)
    record = _record(FIRST, date(2037, 7, 5))
    record.update(dict(zip(record, (rng.random(len(record)) < 0.3).astype(float), strict=True)))
    found = _season(record, ASKED, months[0], months[-1])
    assert found == pytest.approx(_worked_season(record, ASKED, months), abs=1e-9)


def test_a_season_counts_from_the_day_after_its_end() -> None:
    record = _record(date(2036, 4, 1), date(2036, 12, 31))
    assert _season(record, date(2036, 9, 30), 5, 9) is None
    found = _season(record, date(2036, 10, 1), 5, 9)
    assert found == [0, 0, 0, 153, 1]  # 31 + 30 + 31 + 31 + 30 days


def test_a_season_with_a_few_unknown_days_is_scaled_up_and_one_with_many_is_left_out() -> None:
    record = _record(date(2035, 1, 1), date(2036, 12, 31))
    for day in record:
        if day.year == 2036 and day.month == 6:
            record[day] = 1.0 if day.day <= 9 else 0.0
            if day.day > 27:
                record[day] = NAN
        if day.year == 2035 and day.month == 6:
            record[day] = NAN if day.day > 26 else 0.0
    # 2036: 27 of 30 days known, 9 of them events: 10 in 30. 2035: 26 of 30 are too few.
    assert _season(record, date(2037, 1, 1), 6, 6) == [10, 10, 10, 30, 1]


# The interval.


def _half_angle(rates: list[float]) -> float:
    low, high = interval(np.array(rates))
    return (math.asin(math.sqrt(high)) - math.asin(math.sqrt(low))) / 2


@pytest.mark.parametrize("df", range(1, 31))
def test_the_interval_stands_on_students_t(df: int) -> None:
    # Half of the years at 0.3, half at 0.5; the spread and the t quantile are worked here, by another library.
    rates = [0.3, 0.5] * ((df + 1) // 2) + [0.4] * ((df + 1) % 2)
    angles = [math.asin(math.sqrt(rate)) for rate in rates]
    mean = sum(angles) / len(angles)
    spread = math.sqrt(sum((angle - mean) ** 2 for angle in angles) / (len(angles) - 1))
    # Not below what chance gives: 43 days of weight a year, 5.06 to an independent one: 8.4 draws, 1/(2 √8.4).
    spread = max(spread, 1 / (2 * math.sqrt(2 * math.sqrt(math.pi) * 12 / 5.06)))
    t = _half_angle(rates) * math.sqrt(len(rates)) / spread
    if df > 1:  # with one degree of freedom the interval reaches the ends, see the next test
        assert t == pytest.approx(stats.t.ppf(0.95, df), abs=0.0005)  # tables print three decimals


def test_two_years_alone_say_next_to_nothing() -> None:
    low, high = interval(np.array([0.4, 0.4]))
    # ± 6.314 × 0.1724/√2 = 0.770 about an angle of asin √0.4 = 0.685: from below 0 to sin² of 1.455.
    assert low == 0
    assert high == pytest.approx(math.sin(1.455) ** 2, abs=0.002)


def test_the_interval_reaches_0_and_1_where_no_event_or_nothing_else_was_seen() -> None:
    assert interval(np.zeros(6))[0] == 0
    assert interval(np.ones(6))[1] == 1


def test_beyond_thirty_degrees_of_freedom_the_last_quantile_serves() -> None:
    # 1.697 instead of 1.645 at the very most: the interval errs on the wide side.
    forty = [0.2, 0.6] * 20
    angles = np.arcsin(np.sqrt(forty))
    t = _half_angle(forty) * math.sqrt(40) / float(angles.std(ddof=1))
    assert t == pytest.approx(stats.t.ppf(0.95, 30), abs=0.0005)


@unhurried
@given(st.lists(st.floats(0, 1), min_size=1, max_size=40))
def test_the_interval_lies_within_0_and_1_around_the_mean(rates: list[float]) -> None:
    low, high = interval(np.array(rates))
    mean = sum(rates) / len(rates)
    assert 0 <= low <= mean + 1e-9
    assert mean - 1e-9 <= high <= 1


def test_the_interval_widens_with_fewer_years() -> None:
    widths = []
    for years in (16, 8, 4, 2):
        low, high = interval(np.array([0.2, 0.4] * (years // 2)))
        widths.append(high - low)
    assert widths == sorted(widths)
    assert widths[0] < 0.5 * widths[2]
    one_year = interval(np.array([0.3]))
    assert one_year[1] - one_year[0] > widths[2]


# A climate whose truth is known: a chain of two states with a seasonal rate, and the persistence that night-minimum
# anomalies have at US stations, a lag-one correlation of .67.

PERSISTENCE = 0.67
REPLICATES = 300
COMMON, RARE = (0.20, 0.19), (0.055, 0.05)  # mean and amplitude of the rate; the peak is on 19 July


def _true_rates(days: Days, climate: tuple[float, float]) -> Floats:
    mean, amplitude = climate
    in_year = np.array([date_of(int(day)).timetuple().tm_yday - 200 for day in days])
    return np.asarray(mean + amplitude * np.cos(2 * np.pi * in_year / 365.25), dtype=np.float64)


def _after(rates: Floats, today: int, yesterday_event: Floats | float) -> Floats | float:
    """The chance of an event today, given yesterday."""
    spread = np.sqrt(rates * (1 - rates))
    step = PERSISTENCE * spread[today] / spread[today - 1]
    chance: Floats | float = rates[today] + step * (yesterday_event - rates[today - 1])
    return chance


def _chains(rates: Floats, replicates: int, seed: int) -> Floats:
    """Event days of many invented records, shape (days, replicates)."""
    rng = np.random.default_rng(seed)
    event = np.zeros((len(rates), replicates))
    event[0] = rng.random(replicates) < rates[0]
    for today in range(1, len(rates)):
        event[today] = rng.random(replicates) < _after(rates, today, event[today - 1])
    return event


def _true_chance(rates: Floats, first: int, length: int) -> float:
    """One less the chance that no day of the window is an event: the first is not, nor any after it."""
    none = 1 - rates[first]
    for today in range(first + 1, first + length):
        none *= 1 - _after(rates, today, 0.0)
    return float(1 - none)


@pytest.mark.parametrize("climate", [COMMON, RARE], ids=["common", "rare"])
@pytest.mark.parametrize("years", [4, 8, 15])
@pytest.mark.parametrize("length", [1, 4])
def test_chances_are_true_on_average_and_their_intervals_hold_the_truth(
    climate: tuple[float, float], years: int, length: int
) -> None:
    asked_year = 2037
    days = np.arange(day_number(date(asked_year - years, 1, 1)) - 61, day_number(date(asked_year + 1, 1, 1)))
    rates = _true_rates(days, climate)
    records = _chains(rates, REPLICATES, seed=6)
    apart = []
    for month, day in ((5, 1), (6, 20), (7, 19), (9, 15)):
        asked = day_number(date(asked_year, month, day))
        truth = _true_chance(rates, asked - int(days[0]), length)
        found = [chance_of_any(column, days, asked, asked + length - 1) for column in records.T]
        chances = [chance for chance in found if chance is not None]
        assert [chance.years for chance in chances] == [years] * REPLICATES
        holds = np.mean([chance.low <= truth <= chance.high for chance in chances])
        assert holds >= 0.85, (month, day, truth, holds)
        apart.append(np.mean([chance.value for chance in chances]) - truth)
    assert abs(np.mean(apart)) < 0.02, apart


def test_the_seasonal_chance_beats_one_rate_for_all_the_year() -> None:
    days = np.arange(day_number(date(2026, 1, 1)), day_number(date(2038, 1, 1)))
    event = _chains(_true_rates(days, COMMON), 1, seed=7)[:, 0]
    asked = days[days >= day_number(date(2036, 1, 1))]
    found = [chance_of_any(event, days, int(day), int(day)) for day in asked]
    chances = np.array([chance.value for chance in found if chance is not None])
    came = event[-len(asked) :]
    assert len(chances) == len(asked)
    brier = sum((chance - one) ** 2 for chance, one in zip(chances, came, strict=True)) / len(came)
    assert brier == pytest.approx(brier_score_loss(came, chances), abs=1e-12)
    all_year = np.full(len(came), event[: -len(asked)].mean())
    # Over a year the true rates differ by 0.19 cos: what a constant misses is 0.19²/2 = 0.018 a day.
    assert brier < brier_score_loss(came, all_year) - 0.005
