"""Loggers' exports of real shape: steps, clocks, zones, marks and letters; every name and reading is invented."""

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from logger_files import HEADER, US_COLUMNS, US_HEADER, mapping, plain, read, refusal, rows_of, stamps

from forecast.errors import DataError
from forecast.ingest.logger.csv_file import read_csv_hours
from forecast.ingest.logger.mapping import Mapping


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logger.csv"


# Files of real shape; every name, serial number and reading is invented


QUARTER_HOURS = (
    '"FILE4","Larch Hollow","BX9","SN 40417","Turf15"\r\n'
    '"TIMESTAMP","RECORD","AirTemp","Hum","Rain","WindSpeed","Gust"\r\n'
    '"TS","RN","Deg C","%","mm","m/s","m/s"\r\n'
    '"","","Avg","Smp","Tot","Avg","Max"\r\n'
)
QUARTER_HOUR_COLUMNS = {
    "air_temperature_c": {"column": "AirTemp", "unit": "C"},
    "rain_mm": {"column": "Rain", "unit": "mm"},
    "wind_speed_10m_m_s": {"column": "WindSpeed", "unit": "m/s"},
    "wind_gust_10m_m_s": {"column": "Gust", "unit": "m/s"},
}


def quarter_hours(**changes: object) -> Mapping:
    return mapping(
        **{
            "time_column": "TIMESTAMP",
            "time_zone": None,
            "utc_offset_hours": -5,
            "rows_after_header": 2,
            "columns": QUARTER_HOUR_COLUMNS,
        }
        | changes
    )


def quarter_hour_rows(first: str, readings: list[str]) -> str:
    stamps_written = rows_of(first, 15, len(readings))
    return "".join(f'"{stamp}",{row},{text}\r\n' for row, (stamp, text) in enumerate(zip(stamps_written, readings)))  # noqa: B905


def test_quarter_hours_under_title_unit_and_sampling_rows_become_hours(path: Path) -> None:
    readings = ["20.0,90,0.2,1.0,2.0", "21.0,90,0.0,2.0,5.5", "22.0,90,0.4,3.0,4.0", "25.0,90,0.0,2.0,3.0"]
    rows = quarter_hour_rows("2050-07-18T06:15", readings)
    hours = read(path, QUARTER_HOURS + rows, quarter_hours())
    # 06:15 to 07:00 is the hour that ends at 07:00, five hours behind UTC.
    assert stamps(hours) == ["2050-07-18T12:00Z"]
    assert hours.values["air_temperature_c"][0] == pytest.approx((20 + 21 + 22 + 25) / 4, rel=1e-14)
    assert hours.values["rain_mm"][0] == pytest.approx(0.2 + 0.4, rel=1e-14)
    assert hours.values["wind_speed_10m_m_s"][0] == pytest.approx((1 + 2 + 3 + 2) / 4, rel=1e-14)
    assert hours.values["wind_gust_10m_m_s"][0] == 5.5
    assert hours.notices == ()


def test_labels_at_the_start_move_quarter_hours_by_one_record(path: Path) -> None:
    rows = quarter_hour_rows("2050-07-18T06:00", ["20,90,0,1,2"] * 4)
    assert stamps(read(path, QUARTER_HOURS + rows, quarter_hours(label="start"))) == ["2050-07-18T12:00Z"]
    back = read(path, QUARTER_HOURS + rows, quarter_hours(label="end"))
    assert stamps(back) == ["2050-07-18T11:00Z", "2050-07-18T12:00Z"]  # 06:00 alone, and 06:15 to 06:45


def test_a_header_that_comes_again_after_a_restart_is_dropped_with_a_notice(path: Path) -> None:
    before = quarter_hour_rows("2050-07-18T06:15", ["20,90,0,1,2"] * 4)
    after = quarter_hour_rows("2050-07-18T07:15", ["24,90,0,1,2"] * 4)
    hours = read(path, QUARTER_HOURS + before + QUARTER_HOURS + after, quarter_hours())
    assert hours.values["air_temperature_c"].tolist() == [20, 24]
    assert [notice.text for notice in hours.notices] == [
        "4 rows that repeat the header, or a line above it, were dropped"
    ]


def test_a_record_that_rows_after_header_would_lose_is_a_mistake(path: Path) -> None:
    rows = quarter_hour_rows("2050-07-18T06:15", ["20,90,0,1,2"] * 4)
    (fault,) = refusal(path, QUARTER_HOURS + rows, quarter_hours(rows_after_header=3)).faults
    assert str(fault) == (
        "line 5, TIMESTAMP: '2050-07-18 06:15:00' looks like a record, and rows_after_header passes it over"
    )


def test_the_header_may_be_named_by_its_line(path: Path) -> None:
    # The names stand twice, and the readings under the second: without the line the first is taken.
    text = "Time,T,H\nin the shade\nTime,T,H\n2023-07-18 05:00,25,90\n"
    assert read(path, text, plain(header_line=3)).values["air_temperature_c"].tolist() == [25]
    (fault,) = refusal(path, text, plain()).faults
    assert str(fault) == "line 2: 1 cells where the header has 3"


def test_semicolons_and_decimal_commas(path: Path) -> None:
    text = 'Ort;Moorwiese 3\n\nTime;T;H\n18.07.2023 05:00;-1,5;90\n18.07.2023 06:00;"20,25";1e2\n'
    how = plain(delimiter=";", decimal=",", time_format="%d.%m.%Y %H:%M", time_zone="Europe/Berlin")
    hours = read(path, text, how)
    assert stamps(hours) == ["2023-07-18T03:00Z", "2023-07-18T04:00Z"]
    assert hours.values["air_temperature_c"].tolist() == [-1.5, 20.25]
    assert hours.values["relative_humidity_pct"].tolist() == [90, 100]


def test_marks_between_thousands_are_refused(path: Path) -> None:
    how = plain(delimiter=";", decimal=",")
    faults = refusal(path, "Time;T;H\n2023-07-18 05:00;1.021,5;90\n2023-07-18 06:00;21.5;90\n", how).faults
    assert [str(fault) for fault in faults] == [
        "line 2, T: '1.021,5' is not a number: it has a mark between thousands",
        "line 3, T: '21.5' is not a number: the mapping says that decimals have a comma",
    ]
    (fault,) = refusal(path, 'Time,T,H\n2023-07-18 05:00,"1,021.5",90\n', plain()).faults
    assert str(fault) == "line 2, T: '1,021.5' is not a number"


@pytest.mark.parametrize("noon", ["12:00 PM", "12:00 pm", "12:00PM", "12:00p", "12:00 p.m."])
def test_a_twelve_hour_clock_beside_its_date_in_us_units(path: Path, noon: str) -> None:
    text = (
        "Date,Time,Temp Out,Out Hum,Rain,Wind Speed\n"
        "7/18/23,11:00 AM,86,91,0.1,10\n"
        f"7/18/23,{noon},88,80,0,5\n"
        "7/18/23,1:00 PM,90,70,---,5\n"
    )
    columns = {
        "air_temperature_c": {"column": "Temp Out", "unit": "F"},
        "relative_humidity_pct": {"column": "Out Hum", "unit": "%"},
        "rain_mm": {"column": "Rain", "unit": "in"},
        "wind_speed_10m_m_s": {"column": "Wind Speed", "unit": "mph"},
    }
    how = mapping(date_column="Date", time_column="Time", time_format="%m/%d/%y %I:%M %p", columns=columns)
    hours = read(path, text, how)
    assert stamps(hours) == ["2023-07-18T15:00Z", "2023-07-18T16:00Z", "2023-07-18T17:00Z"]  # 4 h behind UTC
    assert hours.values["air_temperature_c"][0] == pytest.approx(30, rel=1e-14)  # (86 − 32) / 1.8
    np.testing.assert_allclose(hours.values["rain_mm"], [2.54, 0, np.nan], rtol=1e-14)
    assert hours.values["wind_speed_10m_m_s"][0] == pytest.approx(4.4704, rel=1e-14)


def test_midnight_of_a_twelve_hour_clock_is_twelve_am(path: Path) -> None:
    how = plain(time_format="%Y-%m-%d %I:%M %p", time_zone=None, utc_offset_hours=0)
    assert stamps(read(path, "Time,T,H\n2023-07-18 12:00 AM,25,90\n", how)) == ["2023-07-18T00:00Z"]


def test_sixteen_bit_letters_between_tabs(path: Path) -> None:
    text = "Time\tTemp (°F)\tRH\n2023-07-18 05:00\t86\t91\n"
    columns = {name: US_COLUMNS[name] for name in ("air_temperature_c", "relative_humidity_pct")}
    how = mapping(delimiter="\t", columns=columns)
    for raw in (text.encode("utf-16"), b"\xfe\xff" + text.encode("utf-16-be")):
        path.write_bytes(raw)
        assert read_csv_hours(path, how).values["air_temperature_c"].tolist() == pytest.approx([30])
    path.write_bytes(text.encode("utf-16-le"))  # no mark: the mapping has to say it
    named = how.model_copy(update={"encoding": "utf-16-le"})
    assert read_csv_hours(path, named).values["relative_humidity_pct"].tolist() == [91]


@pytest.mark.parametrize("encoding", ["latin-1", "cp1252"])
def test_older_letters_are_read_where_the_mapping_names_them(path: Path, encoding: str) -> None:
    path.write_bytes((US_HEADER + "2023-07-18 05:00,86,91,0.1,10\n").encode(encoding))
    with pytest.raises(DataError, match=r"not UTF-8 text .*\n.*encoding = \"cp1252\""):
        read_csv_hours(path, mapping())
    hours = read_csv_hours(path, mapping(encoding=encoding))
    assert hours.values["air_temperature_c"].tolist() == pytest.approx([30])


def test_a_counter_of_rain_that_starts_anew_at_midnight(path: Path) -> None:
    # Five-minute records over midnight, in mm since midnight: 4.0 at 23:00, 0.1 more each record until 24:00; after
    # midnight 0.2 in the first record, then nothing until 01:00.
    before = [4.0 + 0.1 * row for row in range(13)]  # 23:00 to 24:00
    after = [0.2] * 12  # 00:05 to 01:00
    rows = zip(rows_of("2023-07-17T23:00", 5, 25), before + after, strict=True)
    text = "Time,Counter\n" + "".join(f"{stamp:%Y-%m-%d %H:%M},{figure:.1f}\n" for stamp, figure in rows)
    columns = {"rain_mm": {"column": "Counter", "unit": "mm", "reduce": "cumulative"}}
    hours = read(path, text, mapping(time_zone=None, utc_offset_hours=0, columns=columns))
    assert stamps(hours) == ["2023-07-17T23:00Z", "2023-07-18T00:00Z", "2023-07-18T01:00Z"]
    # The record at 23:00 has none before it: unknown. Then 12 × 0.1 mm, then the 0.2 mm since the counter's new start.
    np.testing.assert_allclose(hours.values["rain_mm"], [np.nan, 1.2, 0.2], rtol=1e-12)
    assert [notice.text for notice in hours.notices] == [
        "the counter of rain_mm fell back 1 times and was taken to start from 0 again, or to roll over",
        "rain_mm is unknown in 1 of 3 h: an hour needs a reading at both its ends",
    ]


@pytest.mark.parametrize(("decimal", "delimiter"), [(".", ","), (",", ";")])
def test_day_numbers_of_a_spreadsheet(path: Path, decimal: str, delimiter: str) -> None:
    # 2008-01-01 is day 39448 (Microsoft's help for DATE, from memory); 5/24 of a day is 05:00, cut to five digits.
    numbers = [39448 + hour / 24 for hour in (5, 6, 24)]
    lines = [delimiter.join((f"{number:.5f}".replace(".", decimal), "25", "90")) for number in numbers]
    text = "\n".join([delimiter.join(("Time", "T", "H")), *lines]) + "\n"
    how = plain(time_format="excel", decimal=decimal, delimiter=delimiter, time_zone=None, utc_offset_hours=0)
    assert stamps(read(path, text, how)) == ["2008-01-01T05:00Z", "2008-01-01T06:00Z", "2008-01-02T00:00Z"]
    (fault,) = refusal(path, text.replace(lines[0].split(delimiter)[0], "-1"), how).faults
    assert str(fault) == "line 2, Time: '-1' is no time from 1850 to 2199 in the form of a spreadsheet's day number"


def test_seconds_since_1970(path: Path) -> None:
    # 10^9 s is 2001-09-09T01:46:40Z (from memory); 800 s later it is 02:00.
    text = "Time,T,H\n1000000800,25,90\n1000004400.0,26,90\n"
    hours = read(path, text, plain(time_format="unix", time_zone=None))
    assert stamps(hours) == ["2001-09-09T02:00Z", "2001-09-09T03:00Z"]
    (fault,) = refusal(path, "Time,T,H\n1000000800000,25,90\n", plain(time_format="unix", time_zone=None)).faults
    assert "'1000000800000' is no time from 1850 to 2199 in the form of seconds since 1970" in str(fault)


@pytest.mark.parametrize(
    ("time_format", "written"),
    [
        (None, "2023-12-31 24:00"),
        (None, "2023-12-31T24:00:00"),
        ("%d.%m.%Y %H:%M", "31.12.2023 24:00"),
        ("%m/%d/%Y %H:%M:%S", "12/31/2023 24:00:00"),
        ("%Y%m%d%H%M", "202312312400"),
        ("%H:%M %d.%m.%Y", "24:00 31.12.2023"),
    ],
)
def test_twenty_four_hours_are_the_end_of_the_day(path: Path, time_format: str | None, written: str) -> None:
    how = plain(time_format=time_format, time_zone=None, utc_offset_hours=0)
    assert stamps(read(path, f"Time,T,H\n{written},25,90\n", how)) == ["2024-01-01T00:00Z"]


def test_twenty_four_hours_in_utc_are_the_end_of_the_day(path: Path) -> None:
    assert stamps(read(path, HEADER + "2050-07-18T24:00Z,20,97\n")) == ["2050-07-19T00:00Z"]


@pytest.mark.parametrize("first", ["2023-03-11T20:15", "2023-11-04T20:15"])
def test_a_logger_on_standard_time_runs_through_both_nights_of_changed_clocks(path: Path, first: str) -> None:
    written = rows_of(first, 15, 4 * 12)
    text = "Time,T,H\n" + "".join(f"{stamp:%Y-%m-%d %H:%M},10,90\n" for stamp in written)
    hours = read(path, text, plain(time_zone=None, utc_offset_hours=-5))
    # 20:15 is 01:15Z; twelve whole hours from the one that ends at 02:00Z on.
    assert len(hours.hours) == 12
    assert (np.diff(hours.hours) == np.timedelta64(1, "h")).all()
    assert stamps(hours)[0].endswith("T02:00Z")
    assert not np.isnan(hours.values["air_temperature_c"]).any()


def test_quarter_hours_by_changed_clocks_run_through_the_autumn_night(path: Path) -> None:
    # New York, 5 November 2023: 01:00 to 01:45 come twice, told apart by running back.
    utc = rows_of("2023-11-05T04:15+00:00", 15, 4 * 4)
    clocks = [stamp.astimezone(ZoneInfo("America/New_York")) for stamp in utc]
    assert [f"{clock:%H:%M}" for clock in clocks].count("01:15") == 2
    text = "Time,T,H\n" + "".join(f"{clock:%Y-%m-%d %H:%M},{row},90\n" for row, clock in enumerate(clocks))
    hours = read(path, text, plain())
    assert stamps(hours) == [f"2023-11-05T{hour:02}:00Z" for hour in (5, 6, 7, 8)]
    # Rows 0 to 3, 4 to 7, …: means 1.5, 5.5, 9.5, 13.5.
    assert hours.values["air_temperature_c"].tolist() == [1.5, 5.5, 9.5, 13.5]


def test_quarter_hours_that_stand_once_on_the_autumn_night_are_left_out(path: Path) -> None:
    times = ["00:15", "00:30", "00:45", "01:00", "01:15", "01:30", "01:45", "02:00"]
    text = "Time,T,H\n" + "".join(f"2023-11-05 {time},10,90\n" for time in times)
    hours = read(path, text, plain())
    assert "4 record(s) left out" in hours.notices[0].text  # 01:00, 01:15, 01:30, 01:45
    # 00:15 to 00:45 are three quarters of the hour to 05:00Z; 02:00 alone is a quarter of that to 07:00Z.
    np.testing.assert_array_equal(hours.values["air_temperature_c"], [10, np.nan])


def test_full_hours_of_a_half_hour_zone_stand_at_the_utc_hour_before_with_a_notice(path: Path) -> None:
    # 05:00 in Kolkata, 5 h 30 min ahead, is 23:30Z: half of its hour lies in the UTC hour to 23:00, half in the next.
    text = "Time,T,H,R\n2023-07-18 05:00,25,90,1.0\n2023-07-18 06:00,26,90,0.0\n"
    columns = {
        "air_temperature_c": {"column": "T", "unit": "C"},
        "relative_humidity_pct": {"column": "H", "unit": "%"},
        "rain_mm": {"column": "R", "unit": "mm"},
    }
    hours = read(path, text, plain(time_zone="Asia/Kolkata", columns=columns))
    assert stamps(hours) == ["2023-07-17T23:00Z", "2023-07-18T00:00Z"]
    assert hours.values["rain_mm"].tolist() == [1.0, 0.0]
    (notice,) = hours.notices
    assert notice.text.startswith(
        "2 hourly records end 30 min after the full hour in UTC; each stands at that full hour"
    )
    assert notice.text.endswith("amounts are moved by as much")


def test_quarter_hours_of_a_half_hour_zone_come_to_true_utc_hours(path: Path) -> None:
    # 05:15 in Kolkata is 23:45Z: two records of the hour to 00:00Z, then four of the hour to 01:00Z.
    written = rows_of("2023-07-18T05:15", 15, 6)
    text = "Time,T,H\n" + "".join(f"{stamp:%Y-%m-%d %H:%M},{row},90\n" for row, stamp in enumerate(written))
    hours = read(path, text, plain(time_zone="Asia/Kolkata"))
    assert stamps(hours) == ["2023-07-18T00:00Z", "2023-07-18T01:00Z"]
    np.testing.assert_array_equal(hours.values["air_temperature_c"], [np.nan, (2 + 3 + 4 + 5) / 4])


def test_hours_stamped_at_five_to_stand_at_the_hour_they_mostly_cover(path: Path) -> None:
    text = "Time,T,H\n2023-07-18 04:55,25,90\n2023-07-18 05:55,26,90\n"
    hours = read(path, text, plain(time_zone=None, utc_offset_hours=0))
    assert stamps(hours) == ["2023-07-18T05:00Z", "2023-07-18T06:00Z"]
    assert "end 5 min before the full hour in UTC" in hours.notices[0].text


def test_a_southern_station_over_leap_day_and_its_own_autumn_night(path: Path) -> None:
    # Sydney is 11 h ahead in summer: 29 February 2024 00:00 there is 13:00Z on the 28th; its 24 hours are all there.
    written = rows_of("2024-02-28T23:00", 60, 27)
    assert [stamp.day for stamp in written].count(29) == 24
    text = "Time,T,H\n" + "".join(f"{stamp:%Y-%m-%d %H:%M},20,90\n" for stamp in written)
    hours = read(path, text, plain(time_zone="Australia/Sydney"))
    assert stamps(hours)[0] == "2024-02-28T12:00Z"
    assert (np.diff(hours.hours) == np.timedelta64(1, "h")).all()
    assert stamps(hours)[-1] == "2024-02-29T14:00Z"
    # On 7 April 2024 clocks went back from 03:00 to 02:00; 02:00 was at 15:00Z and again at 16:00Z.
    night = "Time,T,H\n" + "".join(f"2024-04-07 {time},9,90\n" for time in ("01:00", "02:00", "02:00", "03:00"))
    assert stamps(read(path, night, plain(time_zone="Australia/Sydney"))) == [
        f"2024-04-06T{hour}:00Z" for hour in (14, 15, 16, 17)
    ]


def test_a_rain_gauge_alone_is_a_file(path: Path) -> None:
    hours = read(path, "hour_utc,rain_mm\n2050-07-18T08:00Z,1.2\n")
    assert (list(hours.values), hours.values["rain_mm"].tolist()) == (["rain_mm"], [1.2])


def test_humidity_alone_is_a_file_and_shorter_records_of_it_are_averaged_as_they_are(path: Path) -> None:
    columns = {"relative_humidity_pct": {"column": "H", "unit": "%"}}
    hourly = read(path, "Time,H\n2023-07-18 05:00,90\n", plain(columns=columns))
    assert (hourly.values["relative_humidity_pct"].tolist(), hourly.notices) == ([90], ())
    rows = "".join(
        f"2023-07-18 {stamp:%H:%M},{90 + row}\n" for row, stamp in enumerate(rows_of("2023-07-18T04:30", 30, 2))
    )
    halves = read(path, "Time,H\n" + rows, plain(columns=columns))
    assert halves.values["relative_humidity_pct"].tolist() == [90.5]
    assert "averaged as relative humidity" in halves.notices[0].text


def test_a_wind_from_two_metres_is_brought_to_ten_with_a_notice(path: Path) -> None:
    # FAO-56 Example 14: 3.2 m/s at 10 m is 2.4 m/s at 2 m; 2.4 back is 3.2 to a digit.
    columns = {"wind_speed_10m_m_s": {"column": "W", "unit": "m/s", "sensor_height_m": 2}}
    hours = read(path, "Time,W\n2023-07-18 05:00,2.4\n", plain(columns=columns))
    assert round(float(hours.values["wind_speed_10m_m_s"][0]), 1) == 3.2
    assert hours.notices[0].text.startswith(
        "wind_speed_10m_m_s: measured at 2 m, brought to 10 m by the profile of FAO-56"
    )
    ten = {"wind_speed_10m_m_s": {"column": "W", "unit": "m/s", "sensor_height_m": 10}}
    as_it_is = read(path, "Time,W\n2023-07-18 05:00,2.4\n", plain(columns=ten))
    assert (as_it_is.values["wind_speed_10m_m_s"].tolist(), as_it_is.notices) == ([2.4], ())


@pytest.mark.parametrize(("height_m", "is_told"), [(0.5, True), (1.25, False), (2, False), (3, True)])
def test_a_thermometer_too_low_or_too_high_is_told(path: Path, height_m: float, is_told: bool) -> None:
    columns = {"air_temperature_c": {"column": "T", "unit": "C", "sensor_height_m": height_m}}
    hours = read(path, "Time,T\n2023-07-18 05:00,24\n", plain(columns=columns))
    assert hours.values["air_temperature_c"].tolist() == [24]
    assert ["outside 1.25 to 2 m (WMO-No. 8)" in notice.text for notice in hours.notices] == [True] * is_told


def test_a_pyranometers_night_is_dark(path: Path) -> None:
    rows = "".join(f"2050-07-18T{hour:02}:00Z,{-3.5 if hour < 6 else 200}\n" for hour in range(12))
    hours = read(path, "hour_utc,shortwave_down_w_m2\n" + rows)
    assert hours.values["shortwave_down_w_m2"].tolist() == [0.0] * 6 + [200.0] * 6
    assert hours.notices[0].text.startswith("6 readings of shortwave_down_w_m2 a little below 0 were taken as 0")
    far = rows.replace("-3.5", "-300")
    (fault,) = refusal(path, "hour_utc,shortwave_down_w_m2\n" + far).faults
    assert "6 of 12 values lie outside 0 to 1600" in fault.text


# Slips that are one mistake and not one a row


def test_a_file_that_runs_backwards_is_one_mistake(path: Path) -> None:
    rows = [f"2050-07-18T{hour:02}:00Z,20,97\n" for hour in range(24)]
    assert [str(fault) for fault in refusal(path, HEADER + "".join(reversed(rows))).faults] == [
        "line 2, hour_utc: rows run backwards in time; sort the file, or export it, oldest first"
    ]


def test_stamps_that_are_all_in_another_form_are_one_mistake(path: Path) -> None:
    rows = "".join(f"18.07.2050 {hour:02}:00,20,97\n" for hour in range(24))
    (fault,) = refusal(path, HEADER + rows).faults
    assert fault.line == 2
    assert fault.text.endswith("in the form YYYY-MM-DDThh:mm, nor is any other of the 24 rows")


def test_a_mistyped_column_names_the_nearest(path: Path) -> None:
    error = refusal(path, "Logger 7\nTime,Temp,Hum\n2023-07-18 05:00,25,90\n", plain(columns={
        "air_temperature_c": {"column": "Tmep", "unit": "C"},
        "relative_humidity_pct": {"column": "hum", "unit": "%"},
    }))  # fmt: skip
    assert [str(fault) for fault in error.faults] == [
        "line 2, Tmep: missing; did you mean 'Temp'? the file has Time, Temp, Hum",
        "line 2, hum: missing; did you mean 'Hum'? the file has Time, Temp, Hum",
    ]
    assert "header_line" in error.hint


def test_stamps_without_a_zone_need_one_from_the_mapping(path: Path) -> None:
    (fault,) = refusal(path, "Time,T,H\n2023-07-18 05:00,25,90\n", plain(time_zone=None)).faults
    assert str(fault) == "line 2, Time: '2023-07-18 05:00' names no zone, and the mapping gives none"
    assert stamps(read(path, "Time,T,H\n2023-07-18T05:00-04:00,25,90\n", plain(time_zone=None))) == [
        "2023-07-18T09:00Z"
    ]


def test_a_figure_for_missing_that_nobody_listed_is_named(path: Path) -> None:
    rows = "".join(f"2050-07-18T{hour:02}:00Z,{-9999 if hour < 2 else 20},97\n" for hour in range(24))
    (fault,) = refusal(path, HEADER + rows).faults
    assert fault.text.endswith(
        "All of them are -9999; if that stands for missing, list it in the mapping under missing"
    )


def test_records_without_a_steady_step_are_refused_unless_the_mapping_says_one(path: Path) -> None:
    minutes = [0, 7, 14, 21, 28, 35, 42, 49]
    text = "Time,T,H\n" + "".join(f"2023-07-18 05:{minute:02},25,90\n" for minute in minutes)
    (fault,) = refusal(path, text, plain()).faults
    assert "records keep no step of 1, 2, 3, 4, 5, 6, 10, 12, 15, 20, 30, 60 min" in fault.text
    hours = read(path, text, plain(step_minutes=10, time_zone=None, utc_offset_hours=0))
    # Middles 5 min before: 05:00 lies in the hour to 05:00, the other seven in that to 06:00, of six.
    np.testing.assert_array_equal(hours.values["air_temperature_c"], [np.nan, 25])


def test_a_step_that_changes_within_the_file_is_refused_where_it_does(path: Path) -> None:
    written = rows_of("2023-07-18T00:30", 30, 40) + rows_of("2023-07-18T20:10", 10, 12)
    text = "Time,T,H\n" + "".join(f"{stamp:%Y-%m-%d %H:%M},25,90\n" for stamp in written)
    (fault,) = refusal(path, text, plain(time_zone=None, utc_offset_hours=0)).faults
    # By its middle, 15 min before, 20:10 lies in the hour to 20:00, and 20:20 to 20:50 lie in that to 21:00. It has
    # room for two records and one more: the fourth, 20:50, is row 44 counted from 0, and the header is line 1.
    assert (fault.line, fault.text) == (
        46,
        "more records in one hour than a step of 30 min has: split the file where its step changes",
    )


def test_rain_in_steps_of_several_hours_is_refused_and_temperature_is_not(path: Path) -> None:
    written = rows_of("2023-07-18T03:00", 180, 30)
    text = "Time,T,H,R\n" + "".join(f"{stamp:%Y-%m-%d %H:%M},25,90,3\n" for stamp in written)
    at_utc: dict[str, object] = {"time_zone": None, "utc_offset_hours": 0}
    assert len(read(path, text, plain(**at_utc)).hours) == 30
    columns = {"rain_mm": {"column": "R", "unit": "mm"}}
    (fault,) = refusal(path, text, plain(columns=columns, **at_utc)).faults
    assert fault.text.startswith("records stand 180 min apart, so that rain_mm cannot be told by the hour")


# The moment of reading


def test_hours_that_lie_ahead_are_no_observation(path: Path) -> None:
    path.write_text(HEADER + "2050-07-18T08:00Z,20,97\n2050-07-18T09:00Z,21,97\n2050-07-18T10:00Z,22,97\n")
    assert len(read_csv_hours(path, now=datetime(2050, 7, 18, 10, tzinfo=UTC)).hours) == 3
    with pytest.raises(DataError) as caught:
        read_csv_hours(path, now=datetime(2050, 7, 18, 10, 30, tzinfo=ZoneInfo("Europe/Berlin")))  # 08:30Z
    (fault,) = caught.value.faults
    assert (fault.line, fault.column) == (3, "hour_utc")
    assert fault.text.startswith("2 records end after now, 2050-07-18T08:30Z: a forecast is no observation")
    assert len(read_csv_hours(path).hours) == 3


def test_an_hour_not_yet_over_is_left_out(path: Path) -> None:
    written = rows_of("2023-07-18T04:15", 15, 7)  # to 05:45
    path.write_text("Time,T,H\n" + "".join(f"{stamp:%Y-%m-%d %H:%M},25,90\n" for stamp in written))
    how = plain(time_zone=None, utc_offset_hours=0)
    assert stamps(read_csv_hours(path, how, now=datetime(2023, 7, 18, 5, 50, tzinfo=UTC))) == ["2023-07-18T05:00Z"]
    assert stamps(read_csv_hours(path, how)) == ["2023-07-18T05:00Z", "2023-07-18T06:00Z"]
