"""Hourly weather from CSV files: what is read, in which unit and at which hour, and what is refused and where."""

import gzip
import math
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from logger_files import HEADER, US_COLUMNS, US_HEADER, mapping, plain, read, refusal, rows_of, stamps

from forecast.errors import DataError, Fault, ForecastError, MissingInputError
from forecast.ingest.imported import Grade
from forecast.ingest.logger import cells
from forecast.ingest.logger.csv_file import FILE, read_csv_hours
from forecast.ingest.logger.mapping import Mapping

OFF_HOUR = "is not on the full hour in UTC; a file of other steps wants a mapping"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logger.csv"


# What is read


def test_a_file_with_the_houses_own_names_needs_no_mapping(path: Path) -> None:
    hours = read(path, HEADER + "2050-07-18T08:00Z,21.5,97\n2050-07-18T09:00Z,,98.5\n")
    assert stamps(hours) == ["2050-07-18T08:00Z", "2050-07-18T09:00Z"]
    np.testing.assert_array_equal(hours.values["air_temperature_c"], [21.5, np.nan])
    np.testing.assert_array_equal(hours.values["relative_humidity_pct"], [97, 98.5])
    assert (hours.providers, FILE.grade) == ((FILE,), Grade.OBSERVED)
    assert all((provider == 0).all() for provider in hours.provider.values())
    assert (hours.source, hours.notices) == ("logger.csv", ())


def test_a_column_of_no_known_quantity_is_left_out_with_a_notice(path: Path) -> None:
    header = "hour_utc,air_temperature_c,relative_humidity_pct,rain_mmm\n"
    hours = read(path, header + "2050-07-18T08:00Z,21.5,97,4\n")
    assert set(hours.values) == {"air_temperature_c", "relative_humidity_pct"}
    assert [notice.text for notice in hours.notices] == ["not read, since no quantity has that name: rain_mmm"]


def test_a_mapped_file_comes_in_metric_and_in_utc(path: Path) -> None:
    # 86 °F: (86 - 32) / 1.8 = 30 °C; 0.1 in × 25.4 = 2.54 mm; 10 mph × 0.44704 = 4.4704 m/s.
    # 05:00 by a New York clock in July is 4 h behind UTC: 09:00Z.
    hours = read(path, US_HEADER + "2023-07-18 05:00,86,91,0.1,10\n", mapping())
    assert stamps(hours) == ["2023-07-18T09:00Z"]
    assert hours.values["air_temperature_c"][0] == pytest.approx(30, rel=1e-14)
    assert hours.values["relative_humidity_pct"][0] == 91
    assert hours.values["rain_mm"][0] == pytest.approx(2.54, rel=1e-14)
    assert hours.values["wind_speed_10m_m_s"][0] == pytest.approx(4.4704, rel=1e-14)


def test_a_stamp_that_names_the_start_comes_in_one_hour_later_than_one_that_names_the_end(path: Path) -> None:
    text = US_HEADER + "2023-12-31 18:00,40,91,0,10\n2023-12-31 19:00,41,91,0,10\n"
    # 18:00 by a New York clock in winter, 5 h behind, is 23:00Z.
    assert stamps(read(path, text, mapping(label="end"))) == ["2023-12-31T23:00Z", "2024-01-01T00:00Z"]
    assert stamps(read(path, text, mapping(label="start"))) == ["2024-01-01T00:00Z", "2024-01-01T01:00Z"]


def test_a_fixed_offset_knows_no_daylight_saving_time(path: Path) -> None:
    # New York clocks skip 02:00 on 12 March 2023; a logger on standard time, always 5 h behind, does not.
    text = "Time,T,H\n2023-03-12 01:00,4,90\n2023-03-12 02:00,4,90\n2023-03-12 03:00,4,90\n2023-07-18 03:00,20,90\n"
    hours = read(path, text, plain(time_zone=None, utc_offset_hours=-5))
    assert stamps(hours) == ["2023-03-12T06:00Z", "2023-03-12T07:00Z", "2023-03-12T08:00Z", "2023-07-18T08:00Z"]


def test_a_half_hour_offset_is_met_where_the_stamps_fall_on_utc_hours(path: Path) -> None:
    hours = read(path, "Time,T,H\n2023-07-18 05:30,25,90\n", plain(time_zone=None, utc_offset_hours=5.5))
    assert stamps(hours) == ["2023-07-18T00:00Z"]


@pytest.mark.parametrize(
    ("time_format", "written"),
    [
        ("%m/%d/%Y %I:%M %p", "07/18/2023 05:00 PM"),
        ("%d.%m.%Y %H:%M", "18.07.2023 17:00"),
        ("%y%j%H", "2319917"),  # 18 July is day 31 + 28 + 31 + 30 + 31 + 30 + 18 = 199
    ],
)
def test_stamps_are_read_in_the_form_that_the_mapping_names(path: Path, time_format: str, written: str) -> None:
    hours = read(path, f"Time,T,H\n{written},25,90\n", plain(time_format=time_format))
    assert stamps(hours) == ["2023-07-18T21:00Z"]  # 17:00, 4 h behind


@pytest.mark.parametrize(
    ("time_format", "written"),
    [
        (None, "2023-07-18T17:00-05:00"),
        (None, "2023-07-18T22:00Z"),
        (None, "2023-07-18 22:00:00.000+0000"),
        ("%Y-%m-%d %H:%M %z", "2023-07-18 17:00 -0500"),
    ],
)
def test_a_stamp_that_names_its_offset_is_taken_at_its_word(path: Path, time_format: str | None, written: str) -> None:
    hours = read(path, f"Time,T,H\n{written},25,90\n", plain(time_format=time_format))
    assert stamps(hours) == ["2023-07-18T22:00Z"]  # 17:00, 5 h behind, whatever New York's clocks say


def test_offsets_may_differ_from_row_to_row(path: Path) -> None:
    text = HEADER + "2023-11-05T01:00-04:00,9,90\n2023-11-05T01:00-05:00,8,90\n"
    assert stamps(read(path, text)) == ["2023-11-05T05:00Z", "2023-11-05T06:00Z"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_cells_stand_between_the_delimiter_that_the_mapping_names(path: Path, delimiter: str) -> None:
    text = delimiter.join(("Time", "T", "H")) + "\n" + delimiter.join(("2023-07-18 05:00", "25", "90")) + "\n"
    assert read(path, text, plain(delimiter=delimiter)).values["air_temperature_c"].tolist() == [25]


def test_the_mappings_words_for_missing_are_holes_and_other_words_are_not(path: Path) -> None:
    text = "Time,T,H\n2023-07-18 05:00,-9999,90\n2023-07-18 06:00,OVER,INF\n"
    hours = read(path, text, plain(missing=["-9999", "OVER", "INF"]))
    np.testing.assert_array_equal(hours.values["air_temperature_c"], [np.nan, np.nan])
    np.testing.assert_array_equal(hours.values["relative_humidity_pct"], [90, np.nan])
    assert [str(fault) for fault in refusal(path, text, plain(missing=["-9999"])).faults] == [
        "line 3, T: 'OVER' is not a number",
        "line 3, H: 'INF' is not a number",
    ]


@pytest.mark.parametrize("word", ["", "NA", "N/A", "NaN", "nan", "NAN", "null", "---", " --- "])
def test_common_words_for_missing_need_no_listing_and_stay_when_others_are_listed(path: Path, word: str) -> None:
    hours = read(path, f"Time,T,H\n2023-07-18 05:00,{word},90\n", plain(missing=["OVER"]))
    assert math.isnan(hours.values["air_temperature_c"][0])


@pytest.mark.parametrize("written", ["-9999", "-9999.0", "-9999.00", "-9.999E3"])
@pytest.mark.parametrize("listed", ["-9999", "-9999.0", -9999, -9999.0])
def test_figures_for_missing_are_compared_as_figures(path: Path, written: str, listed: str | float) -> None:
    hours = read(path, f"Time,T,H\n2023-07-18 05:00,{written},90\n", plain(missing=[listed]))
    assert math.isnan(hours.values["air_temperature_c"][0])


def test_a_columns_own_figure_for_missing_is_a_reading_in_the_others(path: Path) -> None:
    columns = {
        "air_temperature_c": {"column": "T", "unit": "C", "missing": ["50"]},
        "relative_humidity_pct": {"column": "H", "unit": "%"},
    }
    hours = read(path, "Time,T,H\n2023-07-18 05:00,50,50\n", plain(columns=columns))
    assert math.isnan(hours.values["air_temperature_c"][0])
    assert hours.values["relative_humidity_pct"][0] == 50


def test_a_gzip_file_reads_as_its_plain_twin(path: Path) -> None:
    text = HEADER + "2050-07-18T08:00Z,21.5,97\n"
    path.write_bytes(gzip.compress(text.encode()))
    assert read_csv_hours(path).values["air_temperature_c"].tolist() == [21.5]


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_a_byte_order_mark_and_any_line_ending_are_met(path: Path, ending: str) -> None:
    text = "\ufeff" + HEADER + "2050-07-18T08:00Z,21.5,97\n2050-07-18T09:00Z,wet,97\n"
    assert str(refusal(path, text.replace("\n", ending)).faults[0]).startswith("line 3, air_temperature_c: 'wet'")
    hours = read(path, text.replace("wet", "22").replace("\n", ending))
    assert hours.values["air_temperature_c"].tolist() == [21.5, 22]


def test_rows_without_any_text_are_passed_over(path: Path) -> None:
    text = HEADER + "2050-07-18T08:00Z,21.5,97\n\n,,\n , , ,\n2050-07-18T09:00Z,22,97\n,,\n"
    assert read(path, text).values["air_temperature_c"].tolist() == [21.5, 22]


def test_identical_repeated_rows_are_dropped_with_a_notice(path: Path) -> None:
    row = "2050-07-18T08:00Z,21.5,97\n"
    hours = read(path, HEADER + row + row + row + "2050-07-18T09:00Z,22,97\n")
    assert stamps(hours) == ["2050-07-18T08:00Z", "2050-07-18T09:00Z"]
    assert [notice.text for notice in hours.notices] == ["2 repeated rows that say the same were dropped"]


# Clock times that come twice: on 5 November 2023 New York went from 4 h behind UTC back to 5 h at 02:00, so 01:00
# was at 05:00Z and again at 06:00Z.


def test_a_clock_time_that_stands_twice_is_both_its_hours(path: Path) -> None:
    times = ["00:00", "01:00", "01:00", "02:00"]
    text = "Time,T,H\n" + "".join(f"2023-11-05 {time},{9 - row},90\n" for row, time in enumerate(times))
    hours = read(path, text, plain())
    assert stamps(hours) == ["2023-11-05T04:00Z", "2023-11-05T05:00Z", "2023-11-05T06:00Z", "2023-11-05T07:00Z"]
    assert hours.values["air_temperature_c"].tolist() == [9, 8, 7, 6]
    assert hours.notices == ()


def test_a_doubtful_clock_time_that_stands_once_is_left_out_with_a_notice(path: Path) -> None:
    text = "Time,T,H\n2023-11-05 00:00,9,90\n2023-11-05 01:00,8,90\n2023-11-05 02:00,6,90\n"
    hours = read(path, text, plain())
    assert stamps(hours) == ["2023-11-05T04:00Z", "2023-11-05T07:00Z"]
    assert hours.values["air_temperature_c"].tolist() == [9, 6]
    assert [notice.text for notice in hours.notices] == [
        "1 record(s) left out: their clock time comes twice as clocks go back and stands once"
    ]


# Leaf wetness, soil, snow


def wet(**column: object) -> Mapping:
    return plain(
        time_zone=None, utc_offset_hours=0, columns={"leaf_wet_fraction": {"column": "W", "unit": "fraction"} | column}
    )


def wet_rows(figures: list[float | str], step: int = 15) -> str:
    rows = zip(
        rows_of("2050-07-18T06:15" if step == 15 else "2050-07-18T07:00", step, len(figures)), figures, strict=True
    )
    return "Time,W\n" + "".join(f"{stamp:%Y-%m-%d %H:%M},{figure}\n" for stamp, figure in rows)


@pytest.mark.parametrize(
    ("unit", "figures"),
    [
        # An hour wet for 15, 15, 0 and 6 of its minutes: 36 of 60.
        ("fraction", [1, 1, 0, 0.4]),
        ("%", [100, 100, 0, 40]),
        ("min", [15, 15, 0, 6]),
    ],
)
def test_shares_per_cents_and_minutes_tell_the_same_hour(path: Path, unit: str, figures: list[float | str]) -> None:
    hours = read(path, wet_rows(figures), wet(unit=unit))
    assert stamps(hours) == ["2050-07-18T07:00Z"]
    assert hours.values["leaf_wet_fraction"] == pytest.approx([0.6], abs=1e-12)


def test_minutes_are_of_the_records_own_step(path: Path) -> None:
    assert read(path, wet_rows([30, 45], 60), wet(unit="min")).values["leaf_wet_fraction"].tolist() == [0.5, 0.75]
    halves = read(path, wet_rows([30, 30, 15, 0], 30), wet(unit="min"))  # the first ends at 07:00
    # 30 and 15 of the hour's 60 minutes; of the hours before and after only half is told.
    np.testing.assert_array_equal(halves.values["leaf_wet_fraction"], [np.nan, 0.75, np.nan])
    # Where the distance of the stamps tells another step than the logger keeps, the mapping's own counts.
    told = plain(
        time_zone=None,
        utc_offset_hours=0,
        step_minutes=30,
        columns={"leaf_wet_fraction": {"column": "W", "unit": "min", "reduce": "instant"}},
    )
    assert read(path, wet_rows([15, 30], 60), told).values["leaf_wet_fraction"].tolist() == [0.5, 1.0]


@pytest.mark.parametrize("unit", ["counts", "mV"])
def test_a_bare_figure_is_wet_at_or_above_the_threshold(path: Path, unit: str) -> None:
    hours = read(path, wet_rows([449.9, 450, 1200, 300]), wet(unit=unit, wet_from=450))
    assert hours.values["leaf_wet_fraction"].tolist() == [0.5]
    assert hours.notices == ()


def test_a_resistance_is_wet_below_the_threshold_and_dry_at_it(path: Path) -> None:
    # A wet leaf conducts: 40 and 0 kOhm are wet, 250 itself and an open circuit are not.
    hours = read(path, wet_rows([40, 0, 250, 9999]), wet(unit="kOhm", wet_below=250))
    assert hours.values["leaf_wet_fraction"].tolist() == [0.5]
    assert hours.notices == ()
    counts = read(path, wet_rows([40, 200, 600, 249.9]), wet(unit="counts", wet_below=250))
    assert counts.values["leaf_wet_fraction"].tolist() == [0.75], "counts may fall as the leaf gets wet"


def test_an_unknown_resistance_is_neither_wet_nor_dry(path: Path) -> None:
    # Below 250 by its sign alone would make -9999 wet; an empty cell and a listed figure are no readings either.
    hours = read(path, wet_rows([300, 300, -9999, 40]), wet(unit="kOhm", wet_below=250))
    assert hours.values["leaf_wet_fraction"] == pytest.approx([1 / 3])
    assert hours.notices[0].text.startswith("1 records of leaf_wet_fraction lie far below 0 and count as missing")
    listed = read(path, wet_rows([300, "", 7, 40]), wet(unit="kOhm", wet_below=250, missing=["7"]))
    assert math.isnan(listed.values["leaf_wet_fraction"][0]), "two of four records"


def test_a_bare_figure_that_is_none_is_unknown_and_never_dry(path: Path) -> None:
    # A dry sensor may read a hair below 0: to a twentieth of the threshold, 22.5 here. -9999 is no reading at all.
    hours = read(path, wet_rows([-20, 460, -9999, ""]), wet(unit="mV", wet_from=450))
    assert math.isnan(hours.values["leaf_wet_fraction"][0]), "two of four records"
    assert hours.notices[0].text.startswith("1 records of leaf_wet_fraction lie far below 0 and count as missing")
    listed = read(path, wet_rows([-20, 460, 460, -9999]), wet(unit="mV", wet_from=450, missing=["-9999"]))
    assert listed.values["leaf_wet_fraction"] == pytest.approx([2 / 3])
    assert listed.notices == ()


@pytest.mark.parametrize(("wet_from", "what"), [(2000, "dry"), (200, "wet")])
def test_a_threshold_that_no_figure_crosses_is_doubted(path: Path, wet_from: float, what: str) -> None:
    hours = read(path, wet_rows([300, 460, 1200, 300]), wet(unit="mV", wet_from=wet_from))
    (notice,) = hours.notices
    assert notice.text.startswith(
        f"by wet_from = {wet_from} every record of leaf_wet_fraction is {what}: its figures go"
    )
    assert notice.text.endswith("from 300 to 1200; is that the sensor's threshold?")
    other = "wet" if what == "dry" else "dry"
    (notice,) = read(path, wet_rows([300, 460, 1200, 300]), wet(unit="kOhm", wet_below=wet_from)).notices
    assert notice.text.startswith(f"by wet_below = {wet_from} every record of leaf_wet_fraction is {other}: ")


@pytest.mark.parametrize(
    ("unit", "figures", "fault"),
    [
        ("fraction", [0, 50, 100, 100], "3 of 4 values lie outside 0 to 1: is the unit right?"),
        ("min", [0, 60, 60, 20], "3 of 4 values lie outside 0 to 1: is the unit right? A record has 15 min"),
        ("%", [0, 1, 0.5, 1] * 6, "no value is above 1: this looks like a fraction, not per cent: is the unit right?"),
        (
            "min",
            [0, 1, 0.5, 1] * 6,
            "no value is above 1: this looks like a fraction, not minutes of 15: is the unit right?",
        ),
    ],
)
def test_wetness_in_another_unit_than_it_is_said_to_be_is_doubted(
    path: Path, unit: str, figures: list[float | str], fault: str
) -> None:
    assert [str(one) for one in refusal(path, wet_rows(figures), wet(unit=unit)).faults] == [f"line 1, W: {fault}"]


def test_leaves_that_stay_dry_are_doubted_in_no_unit(path: Path) -> None:
    for unit in ("fraction", "%", "min"):
        assert read(path, wet_rows([0] * 96), wet(unit=unit)).values["leaf_wet_fraction"].tolist() == [0] * 24


def test_minutes_of_records_hours_apart_cannot_be_told_by_the_hour(path: Path) -> None:
    (fault,) = refusal(path, wet_rows([60] * 30, 180), wet(unit="min")).faults
    assert fault.text.startswith("records stand 180 min apart, so that leaf_wet_fraction cannot be told by the hour")


def test_soil_and_snow_come_in_metric(path: Path) -> None:
    columns = {
        "soil_temperature_5cm_c": {"column": "S5", "unit": "F"},
        "soil_temperature_10cm_c": {"column": "S10", "unit": "C"},
        "snow_depth_mm": {"column": "D", "unit": "in"},
    }
    how = plain(time_zone=None, utc_offset_hours=0, columns=columns)
    hours = read(path, "Time,S5,S10,D\n2050-01-18 07:00,50,9.5,4\n", how)
    # (50 - 32) / 1.8 = 10 °C; 4 in × 25.4 = 101.6 mm.
    assert hours.values["soil_temperature_5cm_c"] == pytest.approx([10.0])
    assert hours.values["soil_temperature_10cm_c"].tolist() == [9.5]
    assert hours.values["snow_depth_mm"] == pytest.approx([101.6])
    for unit, figure in (("cm", "35"), ("mm", "350"), ("m", "0.35")):
        one = {"snow_depth_mm": {"column": "D", "unit": unit}}
        deep = read(
            path, f"Time,D\n2050-01-18 07:00,{figure}\n", plain(time_zone=None, utc_offset_hours=0, columns=one)
        )
        assert deep.values["snow_depth_mm"].tolist() == [350], unit


def test_bare_ground_under_a_snow_gauge_is_no_snow(path: Path) -> None:
    header = "hour_utc,snow_depth_mm\n"
    rows = [f"2050-07-18T{hour:02}:00Z,{figure}\n" for hour, figure in enumerate([-50, -1, 0, 4])]
    hours = read(path, header + "".join(rows))
    assert hours.values["snow_depth_mm"].tolist() == [0, 0, 0, 4]
    assert [notice.text for notice in hours.notices] == [
        "2 readings of snow_depth_mm a little below 0 were taken as 0, as a snow gauge reads over bare ground"
    ]
    (fault,) = refusal(path, header + "".join(rows).replace("-50", "-51")).faults
    assert fault.text.startswith("1 of 4 values lie outside 0 to 12000 mm")


def test_what_is_worked_out_here_is_not_read_from_a_file_with_the_houses_own_names(path: Path) -> None:
    text = "hour_utc,air_temperature_c,sun_elevation_deg,sun_elevation_deg_flag\n2050-07-18T08:00Z,21.5,30,good\n"
    error = refusal(path, text)
    told = "line 1, sun_elevation_deg: the program works it out itself and never reads it: take the column out"
    assert [str(fault) for fault in error.faults] == [told]
    assert "sun_elevation_deg" not in error.hint
    alone = refusal(path, "hour_utc,sun_elevation_deg\n2050-07-18T08:00Z,30\n")
    assert [str(fault) for fault in alone.faults] == ["line 1: no column carries a quantity", told]
    columns = {"air_temperature_c": {"column": "air_temperature_c", "unit": "C"}}
    hours = read(path, text, plain(time_column="hour_utc", time_zone=None, columns=columns))
    assert set(hours.values) == {"air_temperature_c"}, "a mapping names what is read, and leaves the rest"


# What is refused


@pytest.mark.parametrize(
    ("rows", "faults"),
    [
        ("2050-07-18T08:00Z,wet,97\n", ["line 2, air_temperature_c: 'wet' is not a number"]),
        ("2050-07-18T08:00Z,1e400,97\n", ["line 2, air_temperature_c: '1e400' is not a number"]),
        ("2050-07-18T08:00Z,20,-inf\n", ["line 2, relative_humidity_pct: '-inf' is not a number"]),
        ('2050-07-18T08:00Z,"21,5",97\n', ["line 2, air_temperature_c: '21,5' is not a number"]),
        ("2050-07-18T08:00Z,0x1F,97\n", ["line 2, air_temperature_c: '0x1F' is not a number"]),
        ("2050-07-18T08:00Z,1_0,97\n", ["line 2, air_temperature_c: '1_0' is not a number"]),
        ("2050-07-18T08:00Z,20\n", ["line 2: 2 cells where the header has 3"]),
        ("2050-07-18T08:00Z,20,97\n2050-07-18T09:00Z,20,97,\n", ["line 3: 4 cells where the header has 3"]),
        ("2050-07-18T08:00Z,20,97,\n2050-07-18T09:00Z,20,97\n", ["line 3: 3 cells where the rows before have 4"]),
        (
            "2050-07-18T08:00Z,20,97\n2050-07-18T08:00Z,20,96\n",
            ["line 3: 2050-07-18T08:00Z again, with other values than in line 2"],
        ),
        (
            "2050-07-18T08:00Z,20,97\n2050-07-18T07:00Z,20,97\n2050-07-18T09:00Z,20,97\n",
            ["line 3, hour_utc: '2050-07-18T07:00Z' jumps back; rows must run forward in time"],
        ),
        (
            "2050-07-18T08:30Z,20,97\n2050-07-18T08:45Z,21,97\n",
            [
                f"line 2, hour_utc: '2050-07-18T08:30Z' {OFF_HOUR}",
                f"line 3, hour_utc: '2050-07-18T08:45Z' {OFF_HOUR}",
            ],
        ),
        (
            "2050-07-18T08:00Z,20,97\n2050-07-18T09:00,20,97\n",
            ["line 3, hour_utc: '2050-07-18T09:00' names no zone, and other rows do"],
        ),
        (f"2050-07-18T08:00Z,{'x' * 60},97\n", [f"line 2, air_temperature_c: '{'x' * 40}…' is not a number"]),
    ],
)
def test_a_wrong_row_is_refused_by_line_and_column(path: Path, rows: str, faults: list[str]) -> None:
    error = refusal(path, HEADER + rows)
    assert [str(fault) for fault in error.faults] == faults
    assert error.exit_code == 65
    assert "nothing was taken" in str(error)


@pytest.mark.parametrize(
    "stamp",
    ["yesterday", "2050-02-30T08:00Z", "2050-07-18T24:30Z", "2050-07-18", "18.07.2050 08:00", "2050-07-18T08:00+4"],
)
def test_what_is_no_stamp_is_refused(path: Path, stamp: str) -> None:
    assert [str(fault) for fault in refusal(path, f"{HEADER}{stamp},20,97\n").faults] == [
        f"line 2, hour_utc: {stamp!r} is no time from 1850 to 2199 in the form YYYY-MM-DDThh:mm"
    ]


def test_a_slip_in_the_year_is_refused(path: Path) -> None:
    # A store with the year 226 in it would span 1824 empty years for every reader.
    assert [str(fault) for fault in refusal(path, f"{HEADER}0226-07-18T08:00Z,20,97\n").faults] == [
        "line 2, hour_utc: '0226-07-18T08:00Z' is no time from 1850 to 2199 in the form YYYY-MM-DDThh:mm"
    ]


def test_a_stamp_in_another_form_than_the_mappings_is_refused(path: Path) -> None:
    error = refusal(path, "Time,T,H\n2023-07-18 05:00,25,90\n", plain(time_format="%d.%m.%Y %H:%M"))
    assert [str(fault) for fault in error.faults] == [
        "line 2, Time: '2023-07-18 05:00' is no time from 1850 to 2199 in the form %d.%m.%Y %H:%M"
    ]


def test_a_clock_time_that_clocks_skip_is_refused(path: Path) -> None:
    text = "Time,T,H\n2023-03-12 01:00,4,90\n2023-03-12 02:00,4,90\n2023-03-12 03:00,4,90\n"
    (fault,) = refusal(path, text, plain()).faults
    assert (fault.line, fault.column) == (3, "Time")
    assert fault.text.startswith("'2023-03-12 02:00' does not exist: clocks go forward over it.")


def test_a_fahrenheit_column_declared_as_celsius_is_doubted(path: Path) -> None:
    # A summer day from 61 to 84: no air is that hot in °C; the vocabulary's bounds are -80 to 60.
    rows = "".join(f"2050-07-18T{hour:02}:00Z,{61 + hour},97\n" for hour in range(24))
    assert [str(fault) for fault in refusal(path, HEADER + rows).faults] == [
        "line 1, air_temperature_c: 24 of 24 values lie outside -80 to 60 °C: is the unit right?"
    ]


def test_one_wild_value_in_a_hundred_is_left_to_quality_control(path: Path) -> None:
    rows = "".join(f"2050-07-{day:02}T{hour:02}:00Z,20,97\n" for day in range(1, 6) for hour in range(24))
    hours = read(path, HEADER + rows.replace("20,97", "999,97", 1))
    assert hours.values["air_temperature_c"][0] == 999


def test_humidity_given_as_a_fraction_is_doubted(path: Path) -> None:
    rows = "".join(f"2050-07-18T{hour:02}:00Z,20,0.{70 + hour}\n" for hour in range(24))
    (fault,) = refusal(path, HEADER + rows).faults
    assert (fault.line, fault.column) == (1, "relative_humidity_pct")
    assert fault.text.startswith("no value is above 1: this looks like a fraction, not per cent")


@pytest.mark.parametrize(
    ("header", "fault"),
    [
        (
            "hour,air_temperature_c,relative_humidity_pct",
            "line 1, hour_utc: missing; did you mean 'hour'? the file has",
        ),
        ("hour_utc,drizzle_mm,wind", "line 1: no column carries a quantity"),
        ("hour_utc,air_temperature_c,air_temperature_c", "line 1, air_temperature_c: named twice"),
        ("a,b,c", "line 1, hour_utc: missing; the file has a, b, c"),
    ],
)
def test_a_header_without_what_is_needed_is_refused(path: Path, header: str, fault: str) -> None:
    error = refusal(path, f"{header}\n2050-07-18T08:00Z,20,97\n")
    assert str(error.faults[0]).startswith(fault)
    assert "write a mapping" in error.hint


def test_a_mapped_column_that_the_file_lacks_is_named(path: Path) -> None:
    error = refusal(path, "Time,T\n2023-07-18 05:00,25\n", plain())
    assert [str(fault) for fault in error.faults] == ["line 1, H: missing; the file has Time, T"]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "line 1: empty; this line must name the columns"),
        ("\n" + HEADER, "line 1: empty; this line must name the columns"),
        (HEADER, "line 1: there are no hours below the header"),
        (HEADER + "\n,,\n", "line 1: there are no hours below the header"),
    ],
)
def test_a_file_without_a_header_or_without_hours_is_refused(path: Path, text: str, fault: str) -> None:
    assert [str(fault) for fault in refusal(path, text).faults] == [fault]


def test_a_quote_that_is_never_closed_is_refused_where_it_opens(path: Path) -> None:
    rows = '2050-07-18T08:00Z,20,97\n2050-07-18T09:00Z,"20,97\n2050-07-18T10:00Z,20,97\n'
    assert [str(fault) for fault in refusal(path, HEADER + rows).faults] == [
        "line 3: from here on cells cannot be told apart: unexpected end of data"
    ]


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not UTF-8 text"),
        (HEADER.encode("utf-16-le"), "binary data"),
        (b"\xff\xfe" + b"\x00\xd8" * 3, "not UTF-16 text"),
        (HEADER.encode() + "°".encode("latin-1"), "not UTF-8 text"),
        (HEADER.encode() + b"\x00", "binary data"),
        (gzip.compress(HEADER.encode(), mtime=0)[:-9], "damaged gzip"),
        (gzip.compress(HEADER.encode() * 9, mtime=0)[:14] + b"\xff" * 40, "damaged gzip"),
        (b"\x1f\x8b", "damaged gzip"),
    ],
)
def test_what_is_no_text_is_refused(path: Path, raw: bytes, words: str) -> None:
    path.write_bytes(raw)
    with pytest.raises(DataError, match=words):
        read_csv_hours(path)


def test_a_gzip_file_that_was_cut_or_changed_anywhere_is_refused(path: Path) -> None:
    packed = gzip.compress((HEADER + "2050-07-18T08:00Z,21.5,97\n" * 40).encode(), mtime=0)
    for place in range(10, len(packed)):  # past the gzip header, whose time and name may be anything
        path.write_bytes(packed[:place])
        with pytest.raises(DataError, match="damaged gzip"):
            read_csv_hours(path)
        path.write_bytes(packed[:place] + bytes([packed[place] ^ 0xFF]) + packed[place + 1 :])
        with pytest.raises(DataError, match="damaged gzip"):
            read_csv_hours(path)


@pytest.mark.parametrize("pack", [bytes, gzip.compress])
def test_a_file_larger_than_a_life_of_hours_is_refused(
    path: Path, pack: type[bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cells, "MOST_BYTES", 1000)
    path.write_bytes(pack((HEADER + "\n" * 1000).encode()))
    with pytest.raises(DataError, match="larger than 1,000 bytes"):
        read_csv_hours(path)


def test_a_file_that_is_not_there_or_cannot_be_read_is_missing_input(path: Path) -> None:
    with pytest.raises(MissingInputError, match="No such file"):
        read_csv_hours(path)
    with pytest.raises(MissingInputError, match="Is a directory"):
        read_csv_hours(path.parent)
    path.touch()
    with pytest.raises(MissingInputError, match="Not a directory"):
        read_csv_hours(path / "below")


def test_all_mistakes_stand_together_in_the_order_of_their_lines(path: Path) -> None:
    rows = [
        "2050-07-18T00:00Z,20,97",
        "2050-07-18T01:00Z,20,wet",  # line 3
        "2050-07-18T02:00Z,20",  # line 4
        "tomorrow,20,97",  # line 5
        "2050-07-18T03:00Z,warm,97",  # line 6
        "2050-07-18T03:00Z,20,97",  # line 7: the hour again
        "2050-07-18T02:00Z,20,97",  # line 8: back in time
    ]
    faults = refusal(path, HEADER + "\n".join(rows)).faults
    assert [(fault.line, fault.column) for fault in faults] == [
        (3, "relative_humidity_pct"),
        (4, ""),
        (5, "hour_utc"),
        (6, "air_temperature_c"),
        (7, ""),
        (8, "hour_utc"),
    ]


def test_beyond_twenty_mistakes_the_rest_are_counted(path: Path) -> None:
    rows = "".join(f"2050-07-18T{hour:02}:00Z,wet,97\n" for hour in range(23))
    error = refusal(path, HEADER + rows)
    assert len(error.faults) == 23
    text = str(error)
    assert text.count("is not a number") == 20
    assert "23 mistake(s)" in text
    assert "… and 3 more" in text  # 23 - 20


@pytest.mark.parametrize(
    ("before", "line"),
    [
        ("2050-07-18T08:00Z,20,97\n", 3),
        ("2050-07-18T08:00Z,20,97\n\n\n", 5),  # two blank lines more
        ('2050-07-18T08:00Z,20,"97"\n', 3),
        ('2050-07-18T08:00Z,20,"\n97\n"\n', 5),  # one row over three lines
        ('"2050-07-18T08:00Z\n",20,"97"\n', 4),
    ],
)
def test_the_line_is_that_of_the_file_as_an_editor_counts(path: Path, before: str, line: int) -> None:
    faults = refusal(path, HEADER + before + "2050-07-18T09:00Z,wet,97\n").faults
    assert faults == (Fault("'wet' is not a number", line, "air_temperature_c"),)


# Limits


def test_more_rows_than_any_weather_has_are_refused(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert cells.MOST_ROWS == 5_000_000
    monkeypatch.setattr(cells, "MOST_ROWS", 10)
    rows = [f"2050-07-18T{hour:02}:00Z,20,97\n" for hour in range(11)]
    assert len(read(path, HEADER + "".join(rows[:10])).hours) == 10
    with pytest.raises(DataError, match="more than 10 rows"):
        read(path, HEADER + "".join(rows))


def test_more_columns_than_any_logger_has_are_refused(path: Path) -> None:
    wide = ",".join(f"c{number}" for number in range(497))
    row = "2050-07-18T08:00Z,20,97," + "1," * 496 + "1"
    assert len(read(path, f"{HEADER.strip()},{wide}\n{row}\n").hours) == 1
    error = refusal(path, f"{HEADER.strip()},{wide},one\n{row},1\n")
    assert [str(fault) for fault in error.faults] == ["line 1: 501 columns; 500 at most are read"]


@pytest.mark.parametrize("quote", ["", '"'])
def test_a_cell_beyond_any_measure_is_refused(path: Path, quote: str) -> None:
    long = quote + "x" * 100_001 + quote
    with pytest.raises(DataError, match="a line of more than 100,000 characters"):
        read(path, f"{HEADER}2050-07-18T08:00Z,{long},97\n")


def test_a_quoted_cell_over_endless_lines_is_refused(path: Path) -> None:
    long = '"' + "x\n" * 70_000 + '"'  # 140,000 characters: the csv module stops at 131,072
    assert "cells cannot be told apart: field larger than field limit" in str(
        refusal(path, f"{HEADER}2050-07-18T08:00Z,{long},97\n")
    )


def test_a_small_gzip_file_that_unpacks_without_end_is_refused(path: Path) -> None:
    path.write_bytes(gzip.compress(b" " * 2_000_000))
    with pytest.raises(DataError, match="unpacks to more than 200 times its size"):
        read_csv_hours(path)


def test_a_clean_file_and_its_odd_twin_give_the_same_hours(path: Path) -> None:
    # Quotes, blanks and a word for missing send every cell the careful way.
    rows = [f"2050-07-{day:02}T{hour:02}:00Z,{20 + hour / 10},{97 - hour}" for day in (1, 2) for hour in range(24)]
    clean = read(path, HEADER + "\n".join(rows) + "\n2050-07-03T00:00Z,,50\n")
    odd_rows = [
        " , ".join(f'"{cell}"' for cell in row.split(",")).replace(' "', '"').replace('" ', '"') for row in rows
    ]
    odd = read(path, HEADER + "\n\n".join(odd_rows) + "\n2050-07-03 00:00:00.000+00:00,NA, 50 \n")
    np.testing.assert_array_equal(clean.hours, odd.hours)
    for name, values in clean.values.items():
        np.testing.assert_array_equal(values, odd.values[name])
    assert len(clean.hours) == 49


# Any plausible hours, out and back

# Zones, and an hour of 2023 (UTC) when their clocks were changed; Phoenix never changes its own.
CLOCK_CHANGES = [
    ("America/New_York", datetime(2023, 3, 12, 7, tzinfo=UTC)),
    ("America/New_York", datetime(2023, 11, 5, 6, tzinfo=UTC)),
    ("Europe/Berlin", datetime(2023, 10, 29, 1, tzinfo=UTC)),
    ("Australia/Sydney", datetime(2023, 4, 1, 16, tzinfo=UTC)),
    ("America/Phoenix", datetime(2023, 11, 5, 6, tzinfo=UTC)),
]


@st.composite
def plausible_files(draw: st.DrawFn) -> tuple[str, list[datetime], list[list[float]]]:
    """A zone, a run of UTC hours, and their temperature (°C), humidity (%), rain (mm) and wind (m/s) in tenths."""
    zone, change = draw(st.sampled_from(CLOCK_CHANGES))
    first = change + timedelta(hours=draw(st.integers(-30, 2) | st.integers(-9000, 9000)))
    count = draw(st.integers(1, 30))
    tenths = st.tuples(st.integers(-400, 450), st.integers(50, 1000), st.integers(0, 900), st.integers(0, 300))
    rows = draw(st.lists(tenths, min_size=count, max_size=count))
    hours = [first + timedelta(hours=row) for row in range(count)]
    return zone, hours, [[figure / 10 for figure in row] for row in rows]


def comes_twice(clock: datetime) -> bool:
    return clock.replace(fold=0).utcoffset() != clock.replace(fold=1).utcoffset()


@given(plausible_files())
@settings(max_examples=150)
def test_any_plausible_hours_written_in_us_units_come_back(file: tuple[str, list[datetime], list[list[float]]]) -> None:
    zone, hours, rows = file
    clocks = [hour.astimezone(ZoneInfo(zone)) for hour in hours]
    written = [f"{clock:%Y-%m-%d %H:%M}" for clock in clocks]
    lines = [
        f"{time},{c * 9 / 5 + 32!r},{pct!r},{mm / 25.4!r},{m_s / 0.44704!r}\n"
        for time, (c, pct, mm, m_s) in zip(written, rows, strict=True)
    ]
    # A doubtful clock time with its twin outside the file cannot be placed and is left out.
    placed = [not comes_twice(clock) or written.count(time) == 2 for clock, time in zip(clocks, written, strict=True)]
    with tempfile.TemporaryDirectory() as folder:
        back = read(Path(folder) / "logger.csv", US_HEADER + "".join(lines), mapping(time_zone=zone))
    assert stamps(back) == [
        f"{hour:%Y-%m-%dT%H}:00Z" for hour, is_placed in zip(hours, placed, strict=True) if is_placed
    ]
    assert bool(back.notices) == (not all(placed))
    expected = np.array(rows)[placed]
    for place, name in enumerate(US_COLUMNS):
        np.testing.assert_allclose(back.values[name], expected[:, place], rtol=1e-9, atol=1e-12)


# Damage

VALID = HEADER + "".join(f"2050-07-18T{hour:02}:00Z,{20 + hour / 10},{97 - hour}\n" for hour in range(24))
VALID_US = US_HEADER + "".join(f"2023-11-05 {hour:02}:00,{60 + hour},97,0.01,3\n" for hour in range(2, 24))
LOGGER = "Moss Gate 3\n\nDate;Time;T;H;R;W\n;;C;%;mm;m/s\n" + "".join(
    f"{stamp:%d.%m.%Y};{stamp:%I:%M %p};{stamp.hour},5;80;{row // 10},{row % 10};---\n"
    for row, stamp in enumerate(rows_of("2023-10-28T20:15", 15, 40))
)
LOGGER_MAPPING = mapping(
    delimiter=";",
    decimal=",",
    rows_after_header=1,
    date_column="Date",
    time_format="%d.%m.%Y %I:%M %p",
    time_zone="Europe/Berlin",
    missing=[-9999, "OVER"],
    columns={
        "air_temperature_c": {"column": "T", "unit": "C", "reduce": "instant"},
        "relative_humidity_pct": {"column": "H", "unit": "%"},
        "rain_mm": {"column": "R", "unit": "mm", "reduce": "cumulative"},
        "wind_speed_10m_m_s": {"column": "W", "unit": "km/h", "sensor_height_m": 2, "missing": ["0"]},
    },
)
SERIALS = "Time,T,H\n" + "".join(f"{45_227 + row / 48:.6f},{10 + row},90\n" for row in range(40))
VICIOUS = [b"", b"\x00", b"\xff", b'"', b",", b"\n", b"\r", b"-", b"+", b"e", b"Z", b"9", b"inf", b"nan", b"\xc2\xb2"]


@pytest.mark.long
@pytest.mark.parametrize(
    ("raw", "how"),
    [
        (VALID.encode(), None),
        (VALID_US.encode(), mapping()),
        (VALID_US.encode(), mapping(time_format="%Y-%m-%d %H:%M", label="start")),
        (gzip.compress(VALID.encode(), mtime=0), None),
        (LOGGER.encode(), LOGGER_MAPPING),
        (LOGGER.encode("utf-16"), LOGGER_MAPPING),
        (SERIALS.encode(), plain(time_format="excel", time_zone="Europe/Berlin")),
    ],
    ids=["canonical", "mapped", "time format", "gzip", "logger", "sixteen bits", "serials"],
)
def test_a_damaged_file_is_read_or_refused_and_never_a_crash(path: Path, raw: bytes, how: Mapping | None) -> None:
    chance = np.random.default_rng(20500718)
    taken = refused = 0
    for _ in range(2000):
        damaged = raw
        for _ in range(chance.integers(1, 5)):
            start = int(chance.integers(len(damaged)))
            stop = start + int(chance.choice([0, 1, 1, 2, 30]))
            is_copy = chance.random() < 0.3
            put = damaged[start - 9 : start] if is_copy else VICIOUS[chance.integers(len(VICIOUS))]
            damaged = damaged[:start] + put + damaged[stop:]
        path.write_bytes(damaged)
        try:
            hours = read_csv_hours(path, how)
        except ForecastError:
            refused += 1
            continue
        taken += 1
        assert (np.diff(hours.hours) > np.timedelta64(0, "h")).all()
        assert all(not math.isinf(value) for values in hours.values.values() for value in values)
    assert refused > 100  # else the damage did not bite
    assert taken > 20 or raw[:2] == b"\x1f\x8b"  # a gzip file guards itself by a checksum


HOWS = (
    None,
    mapping(),
    LOGGER_MAPPING,
    plain(time_format="excel"),
    plain(time_format="unix", time_zone=None),
    plain(time_zone=None),
    plain(time_format="%H:%M %d/%m/%y", label="start", encoding="latin-1"),
)
PARTS = st.sampled_from(
    [*HEADER.strip().split(","), "Time", "Date", "T", "H", "R", "W", "Temp (°F)", ",", ";", "\n", "\r", '"', "NaN",
     "2050-07-18T08:00Z", "2023-10-29 02:30", "2023-03-26 02:30", "29.10.2023", "02:30 AM", "24:00", "-9999", "21,5",
     "45228.5", "1e300", "1700000000", "\x1c", "\x85", "٣", "9" * 30, " "]
)  # fmt: skip


@given(
    st.binary(max_size=200) | st.lists(PARTS, max_size=60).map(lambda parts: "".join(parts).encode()),
    st.sampled_from(HOWS),
    st.none() | st.just(datetime(2050, 1, 1, tzinfo=UTC)),
)
@settings(max_examples=400)
def test_any_bytes_are_read_or_refused_and_never_a_crash(raw: bytes, how: Mapping | None, now: datetime | None) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "logger.csv"
        path.write_bytes(raw)
        try:
            hours = read_csv_hours(path, how, now=now)
        except ForecastError:
            return
        assert (np.diff(hours.hours) > np.timedelta64(0, "h")).all()
        assert all(not np.isinf(values).any() for values in hours.values.values())


def test_the_logger_of_the_damage_test_is_whole(path: Path) -> None:
    hours = read(path, LOGGER, LOGGER_MAPPING)
    # 20:15 to 01:45 by Berlin's summer clock is 18:15Z to 23:45Z; 02:00 to 02:45 come twice and stand once; 03:00 to
    # 06:00 by its winter clock is 02:00Z to 05:00Z.
    assert [stamp[11:13] for stamp in stamps(hours)] == ["19", "20", "21", "22", "23", "00", "02", "03", "04", "05"]
    nan = math.nan
    clock_hours = [21, 22, 23, 0, 1, nan, 3, 4, 5, 6]  # no reading at 00:00Z
    np.testing.assert_array_equal(hours.values["air_temperature_c"], np.array(clock_hours) + 0.5)
    # Four records of 0.1 mm an hour, where the counter was read at both ends.
    rain = [nan, 0.4, 0.4, 0.4, 0.4, nan, nan, 0.4, 0.4, 0.4]
    np.testing.assert_allclose(hours.values["rain_mm"], rain, rtol=0, atol=1e-9)
    assert np.isnan(hours.values["wind_speed_10m_m_s"]).all()
