"""Typical years in both forms: which hour a row is, what stands for "missing", and in which unit rain can only be.

Two real files come with pvlib (BSD-3): Greensboro, North Carolina, and Sand Point, Alaska. All others are invented.
"""

from __future__ import annotations

import io
import sys
import warnings
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pvlib
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from source_replies import NOON_ROW, OFFSET_HOURS, cut_and_spliced, epw, tmy3

from forecast.errors import DataError, MissingInputError
from forecast.ingest.imported import Grade
from forecast.ingest.typical_year import TypicalYear, as_hours, on_inch_grid, read
from forecast.quantities import QUANTITIES

DATA = Path(pvlib.__file__).parent / "data"
EPW, TMY3 = epw(), tmy3()
both_forms = pytest.mark.parametrize("body", [EPW, TMY3], ids=["epw", "tmy3"])


def taken(body: bytes) -> TypicalYear:
    return read(body, source="invented")


@cache
def greensboro() -> TypicalYear:
    return read((DATA / "723170TYA.CSV").read_bytes(), source="723170TYA.CSV")


@cache
def sand_point() -> TypicalYear:
    return read((DATA / "703165TY.csv").read_bytes(), source="703165TY.csv")


def refusal(body: bytes) -> DataError:
    with pytest.raises(DataError) as caught:
        taken(body)
    return caught.value


def texts(year: TypicalYear) -> list[str]:
    return [notice.text for notice in year.notices]


def summer(year: TypicalYear, name: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """A quantity in June, July and August: 151 days before 1 June, 92 days long."""
    return year.values[name][151 * 24 : (151 + 92) * 24]


# The real files, against what was measured on them


def test_greensboro_has_the_summer_that_was_measured_on_it() -> None:
    # Measured on the file with pandas alone: June to August 24.6 °C, at or above 90 % in 24 % of hours, wind 2.7 m/s
    # then and 3.1 over the year, the days' lowest 20.0 °C in the mean.
    year = greensboro()
    assert summer(year, "air_temperature_c").mean() == pytest.approx(24.6, abs=0.05)
    assert (summer(year, "relative_humidity_pct") >= 90).mean() == pytest.approx(0.24, abs=0.005)
    assert summer(year, "wind_speed_10m_m_s").mean() == pytest.approx(2.7, abs=0.05)
    assert year.values["wind_speed_10m_m_s"].mean() == pytest.approx(3.1, abs=0.05)
    daily_lows = summer(year, "air_temperature_c").reshape(92, 24).min(axis=1)
    assert daily_lows.mean() == pytest.approx(20.0, abs=0.05)
    assert (year.latitude_deg, year.longitude_deg, year.elevation_m) == (36.1, -79.95, 273)
    assert year.utc_offset_hours == -5


def test_greensboros_rain_is_in_tenths_whatever_its_header_says() -> None:
    # The column sums to 8,345; as millimetres that would be twice the rain of the wettest places of the United States.
    year = greensboro()
    rain = year.values["rain_mm"]
    assert rain.sum() == pytest.approx(834.5, abs=1e-6)
    assert (rain > 0).mean() == pytest.approx(0.04, abs=0.002)  # 358 of 8,760 hours
    assert rain.max() == pytest.approx(50.0)
    assert any("read as tenths of a millimetre" in text and "834 mm" in text for text in texts(year))


def test_greensboro_is_warmest_in_the_afternoon_and_lit_by_day() -> None:
    # Labels and clock: the sun of local standard time is highest close to the hour that ends at 12 or 13.
    year = greensboro()
    by_hour = summer(year, "shortwave_down_w_m2").reshape(92, 24).mean(axis=0)
    assert int(by_hour.argmax()) + 1 in (12, 13)
    assert by_hour[:4].max() == 0
    assert 13 <= int(summer(year, "air_temperature_c").reshape(92, 24).mean(axis=0).argmax()) + 1 <= 17


def test_sand_point_is_cold_and_its_rain_is_unknown() -> None:
    # Measured on the file: 10.6 °C in summer, rain −9900 in 91 % of hours; of the rest the largest are 255 in an hour.
    year = sand_point()
    assert summer(year, "air_temperature_c").mean() == pytest.approx(10.6, abs=0.05)
    assert np.isnan(year.values["rain_mm"]).all()
    assert any("no rain in 8011 of 8760 hours (91 %)" in text for text in texts(year))
    assert any("its unit cannot be told" in text for text in texts(year))


@pytest.mark.parametrize("year", [greensboro, sand_point])
def test_no_stand_in_for_missing_gets_into_a_real_file(year: Callable[[], TypicalYear]) -> None:
    for name, values in year().values.items():
        known = values[~np.isnan(values)]
        assert ((known >= QUANTITIES[name].least) & (known <= QUANTITIES[name].most)).all(), name


def test_rows_are_those_of_pvlib_whose_stamps_are_ends_in_one_form_and_beginnings_in_the_other() -> None:
    # pvlib's documentation: TMY3's first index is 1 a.m., "irradiance from midnight to 1AM"; EPW's days run 0–23 h.
    for reader, body, hour in ((pvlib.iotools.read_tmy3, TMY3, 7), (pvlib.iotools.read_epw, EPW.replace(b'"', b""), 6)):
        frame, _ = reader(io.StringIO(body.decode()))
        index = frame.index
        row = np.flatnonzero((index.month == 7) & (index.day == 18) & (index.hour == hour))
        assert row.tolist() == [NOON_ROW]
        assert taken(body).values["air_temperature_c"][NOON_ROW] == frame["temp_air"].iloc[NOON_ROW] == 20


def test_a_lone_quotation_mark_in_a_remark_loses_no_row() -> None:
    # The invented EPW has one in each header line; pvlib alone loses rows to it.
    assert EPW.count(b'"') == 7
    assert not np.isnan(taken(EPW).values["relative_humidity_pct"]).any()


# Units and what stands for "missing"


@both_forms
def test_units_are_the_houses_own(body: bytes) -> None:
    year = taken(body)
    inside = {name: float(values[NOON_ROW]) for name, values in year.values.items()}
    # 98700 Pa and 987 mbar are 987 hPa; 5 tenths are half; 300 Wh/m² over an hour are 300 W/m².
    assert inside == pytest.approx(
        {
            "air_temperature_c": 20,
            "dew_point_c": 12,
            "relative_humidity_pct": 90,
            "pressure_hpa": 987,
            "shortwave_down_w_m2": 300,
            "wind_speed_10m_m_s": 5,
            "cloud_cover_fraction": 0.5,
            "rain_mm": 0,
        },
        abs=1e-9,
    )
    assert year.provider.grade is Grade.TYPICAL
    assert (year.latitude_deg, year.longitude_deg, year.elevation_m) == (40, -80, 250)
    assert year.utc_offset_hours == OFFSET_HOURS


@pytest.mark.parametrize(
    ("column", "missing", "house"),
    # EnergyPlus data dictionary of EPW: "missing" figures by field; fields counted from 0 in a row.
    [
        ("_6", "99.9", "air_temperature_c"),
        ("_7", "99.9", "dew_point_c"),
        ("_8", "999", "relative_humidity_pct"),
        ("_9", "999999", "pressure_hpa"),
        ("_13", "9999", "shortwave_down_w_m2"),
        ("_21", "999", "wind_speed_10m_m_s"),
        ("_22", "99", "cloud_cover_fraction"),
        ("_33", "999", "rain_mm"),
    ],
)
def test_each_field_of_an_epw_has_its_own_figure_for_missing(column: str, missing: str, house: str) -> None:
    plain = taken(EPW).values[house]
    year = taken(epw(lambda i: {column[1:]: missing} if i % 100 == 0 else {}))
    np.testing.assert_array_equal(
        np.flatnonzero(np.isnan(year.values[house]) & ~np.isnan(plain)), np.arange(0, 8760, 100)
    )


@pytest.mark.parametrize(
    ("column", "house"),
    [
        ("Dry-bulb (C)", "air_temperature_c"),
        ("Dew-point (C)", "dew_point_c"),
        ("RHum (%)", "relative_humidity_pct"),
        ("Pressure (mbar)", "pressure_hpa"),
        ("GHI (W/m^2)", "shortwave_down_w_m2"),
        ("Wspd (m/s)", "wind_speed_10m_m_s"),
        ("TotCld (tenths)", "cloud_cover_fraction"),
        ("Lprecip depth (mm)", "rain_mm"),
    ],
)
def test_each_field_of_a_tmy3_is_missing_at_minus_9900(column: str, house: str) -> None:
    plain = taken(TMY3).values[house]
    year = taken(tmy3(lambda i: {column: "-9900"} if i % 100 == 0 else {}))
    np.testing.assert_array_equal(
        np.flatnonzero(np.isnan(year.values[house]) & ~np.isnan(plain)), np.arange(0, 8760, 100)
    )


# Rain


def rainy(depth: Callable[[int], str], hours: Callable[[int], str] = lambda _: "1") -> TypicalYear:
    return taken(tmy3(lambda i: {"Lprecip depth (mm)": depth(i), "Lprecip quantity (hr)": hours(i)}))


def test_whole_figures_on_the_inch_grid_are_tenths() -> None:
    # 1 to 40 hundredths of an inch: 0.254 n mm, so 2.54 n tenths, rounded. 438 wet hours (each 20th of 8,760).
    counts = {i: 1 + (i // 20) % 40 for i in range(0, 8760, 20)}
    tenths = {i: round(2.54 * count) for i, count in counts.items()}
    year = rainy(lambda i: f"{tenths.get(i, 0)}")
    assert year.values["rain_mm"].sum() == pytest.approx(sum(tenths.values()) / 10, abs=1e-6)
    assert any("100 % of the 438 wet hours fit" in text for text in texts(year))


def test_the_same_rain_in_whole_millimetres_stays_in_millimetres() -> None:
    counts = {i: 1 + (i // 20) % 40 for i in range(0, 8760, 20)}
    whole = {i: round(0.254 * count) for i, count in counts.items()}  # 0 to 10 mm
    year = rainy(lambda i: f"{whole.get(i, 0)}")
    assert year.values["rain_mm"].sum() == sum(whole.values())
    assert not texts(year)


def test_figures_with_decimals_are_millimetres() -> None:
    year = rainy(lambda i: "2.54" if i % 20 == 0 else "0")
    assert year.values["rain_mm"].sum() == pytest.approx(438 * 2.54)


@pytest.mark.parametrize(("wet_hours", "total"), [(29, 29 * 13), (30, 30 * 1.3)])
def test_a_few_wet_hours_prove_nothing(wet_hours: int, total: float) -> None:
    # 13 is on the grid (5 × 2.54 = 12.7); with fewer than 30 wet hours the header is believed.
    year = rainy(lambda i: "13" if i % 200 == 0 and i // 200 < wet_hours else "0")
    assert year.values["rain_mm"].sum() == pytest.approx(total)


@pytest.mark.parametrize(("off_grid", "is_tenths"), [(10, True), (11, False)])
def test_nine_of_ten_wet_hours_have_to_fit(off_grid: int, is_tenths: bool) -> None:
    # 100 wet hours; 12 and 14 lie between 10.16 and 12.7 and between 12.7 and 15.24, too far to round.
    year = rainy(lambda i: ("13" if i // 80 >= off_grid else "12") if i % 80 == 0 and i // 80 < 100 else "0")
    whole = 13 * (100 - off_grid) + 12 * off_grid
    assert year.values["rain_mm"].sum() == pytest.approx(whole / 10 if is_tenths else whole)


def test_the_grid_is_hundredths_of_an_inch_in_tenths_of_a_millimetre() -> None:
    # 2.54, 5.08, 7.62, 10.16, 12.7, 15.24, 17.78, 20.32, 22.86, 25.4 rounded.
    on = [3, 5, 8, 10, 13, 15, 18, 20, 23, 25]
    found = on_inch_grid(np.arange(1, 26).astype(np.float64))
    assert (np.flatnonzero(found) + 1).tolist() == on
    assert not on_inch_grid(np.array([2.54, 12.7])).any()


def test_more_rain_than_anywhere_is_left_out() -> None:
    # 12 mm each 20th hour is 438 × 12 = 5,256 mm, above 5,000; 11 mm are 4,818 mm.
    year = rainy(lambda i: "12" if i % 20 == 0 else "0")
    assert np.isnan(year.values["rain_mm"]).all()
    assert "its unit cannot be told" in texts(year)[0]
    assert rainy(lambda i: "11" if i % 20 == 0 else "0").values["rain_mm"].sum() == 4818


@pytest.mark.parametrize("hours", ["3", "6", "24", "99", "0", "-9900"])
def test_a_sum_over_other_than_one_hour_is_unknown_and_none_is_none(hours: str) -> None:
    depth = {100: "2.5", 200: "0"}
    year = rainy(lambda i: depth.get(i, "0"), lambda i: hours if i in depth else "1")
    rain = year.values["rain_mm"]
    assert np.flatnonzero(np.isnan(rain)).tolist() == [100]
    assert rain[200] == 0
    assert any("1 sums of rain over several or over unknown hours" in text for text in texts(year))


def test_the_rule_on_rain_holds_for_an_epw_too() -> None:
    year = taken(epw(lambda i: {"33": "13" if i % 100 == 0 else "0"}))
    assert year.values["rain_mm"].sum() == pytest.approx(88 * 1.3)  # rows 0, 100 … 8700


# On a calendar year


def test_a_typical_year_is_laid_on_a_calendar_year_in_utc() -> None:
    hours = as_hours(taken(TMY3), 2023)
    # 01:00 of standard time five hours behind UTC is 06:00 UTC.
    assert [str(hours.hours[0]), str(hours.hours[-1]), len(hours.hours)] == ["2023-01-01T06", "2024-01-01T05", 8760]
    assert (np.diff(hours.hours) == np.timedelta64(1, "h")).all()
    assert str(hours.hours[NOON_ROW]) == "2023-07-18T12"


def test_a_leap_year_keeps_a_hole_on_29_february() -> None:
    hours = as_hours(taken(TMY3), 2024).hours + np.timedelta64(OFFSET_HOURS, "h")  # local standard time
    assert len(hours) == 8760
    jump = np.flatnonzero(np.diff(hours) > np.timedelta64(1, "h"))
    assert [str(hours[i]) for i in (jump[0], jump[0] + 1)] == ["2024-02-29T00", "2024-03-01T01"]
    assert len(jump) == 1
    assert str(hours[-1]) == "2025-01-01T00"


@pytest.mark.parametrize(("offset", "first", "minutes"), [(5.5, "2022-12-31T19", 30), (-3.5, "2023-01-01T04", 30)])
def test_an_hour_that_ends_at_half_past_in_utc_stands_at_the_stamp_before(
    offset: float, first: str, minutes: int
) -> None:
    # 01:00 at +05:30 is 19:30 UTC of the day before; 01:00 at −03:30 is 04:30 UTC.
    hours = as_hours(taken(epw(offset_hours=offset)), 2023)
    assert str(hours.hours[0]) == first
    assert f"{minutes} minutes early" in hours.notices[-1].text


# What is refused


def edited(body: bytes, row: int, change: Callable[[str], str]) -> bytes:
    lines = body.decode().split("\n")
    lines[row] = change(lines[row])
    return "\n".join(lines).encode()


@both_forms
def test_a_year_must_have_all_its_hours_and_no_more(body: bytes) -> None:
    lines = body.splitlines(keepends=True)
    assert "8759 rows below the header; 8760 are needed" in str(refusal(b"".join(lines[:-1])))
    assert "8761 rows" in str(refusal(b"".join([*lines, lines[-1]])))
    assert "8784 rows below the header" in str(refusal(b"".join(lines + lines[-24:])))
    assert "take out 29 February" in str(refusal(b"".join(lines + lines[-24:])))


@both_forms
def test_rows_out_of_order_are_named_by_line(body: bytes) -> None:
    lines = body.splitlines(keepends=True)
    swapped = b"".join([*lines[:20], lines[21], lines[20], *lines[22:]])
    assert [fault.line for fault in refusal(swapped).faults] == [21, 22]


@both_forms
def test_a_word_among_the_figures_is_named(body: bytes) -> None:
    refused = refusal(body.replace(b",12.0,", b",twelve,", 1))
    assert "'twelve' hold no figure" in str(refused)


@both_forms
def test_a_figure_of_hundreds_of_digits_is_named(body: bytes) -> None:
    refused = refusal(body.replace(b",12.0,", b"," + b"9" * 400 + b",", 1))
    assert "9999" in str(refused)
    assert "hold no figure" in str(refused)


@both_forms
def test_a_row_with_another_number_of_cells_is_named(body: bytes) -> None:
    assert [fault.line for fault in refusal(edited(body, 40, lambda row: row + ",1")).faults] == [41]
    assert [fault.line for fault in refusal(edited(body, 40, lambda row: row.rsplit(",", 1)[0])).faults] == [41]


@both_forms
@pytest.mark.parametrize("wrong", ["91.0", "", "x", "nan"])
def test_a_place_that_cannot_be_is_named(body: bytes, wrong: str) -> None:
    latitude = "40.00" if body is EPW else "40.000"
    refused = refusal(edited(body, 0, lambda row: row.replace(f",{latitude},", f",{wrong},")))
    assert [(fault.line, fault.column) for fault in refused.faults] == [(1, "latitude")]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "is neither EPW nor TMY3"),
        (b"\x00\x01\x02", "holds binary data"),
        (b"hour_utc,air_temperature_c\n", "is neither EPW nor TMY3"),
        (b"LOCATION,a,b\n", "3 cells; LOCATION and nine more are needed"),
        (b"1,2\nDate (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2)\n", "2 cells; seven are needed"),
        (b"x" * 10_000_001, "larger than 10,000,000 bytes"),
    ],
)
def test_what_is_no_typical_year_is_refused_in_words(body: bytes, words: str) -> None:
    assert words in str(refusal(body))


@both_forms
def test_a_unit_that_cannot_be_right_is_doubted(body: bytes) -> None:
    # Fahrenheit in a column of °C: 95 lies outside −80 to 60 °C in all hours.
    column = "6" if body is EPW else "Dry-bulb (C)"
    hot = epw(lambda _: {column: "95.0"}) if body is EPW else tmy3(lambda _: {column: "95.0"})
    assert "is the unit right?" in str(refusal(hot))


def test_without_pvlib_a_plain_sentence_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pvlib", None)
    with pytest.raises(MissingInputError) as caught:
        taken(TMY3)
    assert "pip install 'turf-disease-forecast[typical]'" in str(caught.value)


def test_a_name_in_another_encoding_does_no_harm() -> None:
    assert taken(EPW.replace(b"Invented", b"Invent\xe9")).latitude_deg == 40  # é in Latin-1, no UTF-8


def test_a_table_that_mixes_words_and_figures_warns_of_nothing() -> None:
    # pandas warns of columns of mixed kinds; that must not reach a person who reads a file.
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        refusal(epw(lambda i: {"6": "x"} if i == 8000 else {}))


# Whatever comes


def holds(body: bytes) -> None:
    """A file is refused in words or taken whole, never anything between."""
    try:
        year = taken(body)
    except DataError:
        return
    for name, values in year.values.items():
        known = values[~np.isnan(values)]
        assert values.shape == (8760,)
        assert ((known >= QUANTITIES[name].least) & (known <= QUANTITIES[name].most)).all()
    assert len(as_hours(year, 2023).hours) == 8760


ODD_CELL = st.sampled_from(["", "x", "1e999", "nan", "-9900", "9" * 400, '"', "1;2", "0x10", "\r"])
ODD_EPW = st.builds(
    lambda row, column, cell: edited(EPW, row, lambda line: _cell(line, column, cell)),
    st.integers(0, 8767),
    st.integers(0, 34),
    ODD_CELL,
)
ODD_TMY3 = st.builds(
    lambda row, column, cell: edited(TMY3, row, lambda line: _cell(line, column, cell)),
    st.integers(0, 8761),
    st.integers(0, 10),
    ODD_CELL,
)


def _cell(line: str, column: int, cell: str) -> str:
    cells = line.split(",")
    cells[column % len(cells)] = cell
    return ",".join(cells)


ANY_BODY = st.one_of(st.binary(max_size=200), cut_and_spliced(EPW), cut_and_spliced(TMY3), ODD_EPW, ODD_TMY3)


@given(body=ANY_BODY)
@settings(max_examples=20, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
def test_any_body_is_taken_whole_or_refused_in_words(body: bytes) -> None:
    holds(body)


@pytest.mark.long
@given(body=ANY_BODY)
@settings(max_examples=400, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
def test_many_bodies_are_taken_whole_or_refused_in_words(body: bytes) -> None:
    holds(body)
