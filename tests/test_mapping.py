"""Mapping files: what they may say, and that every mistake is told by line, with what was allowed."""

from datetime import timedelta
from pathlib import Path

import pytest

from forecast.errors import MissingInputError, SettingsError
from forecast.ingest.logger.mapping import MISSING, Column, read_mapping, ways_of
from forecast.toml_file import line_of

GOOD = """\
schema = 1
time_column = "Time"
time_format = "%m/%d/%Y %I:%M %p"
time_zone = "America/New_York"
label = "start"
delimiter = ";"
missing = ["", "-9999"]

[columns]
air_temperature_c = { column = "Temp (°F)", unit = "F" }
relative_humidity_pct = { column = "RH", unit = "%" }

[columns.rain_mm]
column = "Rain"
unit = "in"
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logger.toml"


def refusal(path: Path, text: str) -> SettingsError:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        read_mapping(path)
    assert caught.value.exit_code == 78
    return caught.value


def faults(path: Path, text: str) -> list[str]:
    return [str(fault) for fault in refusal(path, text).faults]


@pytest.mark.parametrize("mark", ["", "\ufeff"], ids=["plain", "byte order mark"])
def test_a_whole_mapping_is_read(path: Path, mark: str) -> None:
    path.write_text(mark + GOOD, encoding="utf-8")
    read = read_mapping(path)
    assert (read.time_column, read.time_format, read.label) == ("Time", "%m/%d/%Y %I:%M %p", "start")
    assert (read.delimiter, read.missing, str(read.zone())) == (";", ("", "-9999"), "America/New_York")
    assert (read.decimal, read.header_line, read.rows_after_header, read.step_minutes) == (".", None, 0, None)
    assert read.columns == {
        "air_temperature_c": Column(column="Temp (°F)", unit="F"),
        "relative_humidity_pct": Column(column="RH", unit="%"),
        "rain_mm": Column(column="Rain", unit="in"),
    }


def test_what_is_left_out_has_its_default(path: Path) -> None:
    path.write_text('schema = 1\ntime_column = "t"\nutc_offset_hours = -3.5\n[columns]\n')
    read = read_mapping(path)
    assert (read.time_format, read.label, read.delimiter) == (None, "end", ",")
    assert "" in MISSING
    zone = read.zone()
    assert zone is not None
    assert zone.utcoffset(None) == timedelta(hours=-3, minutes=-30)


def test_unknown_units_are_refused_by_line_with_the_known_ones(path: Path) -> None:
    text = GOOD.replace('unit = "F"', 'unit = "Rankine"').replace('unit = "in"', 'unit = "gallons"')
    assert faults(path, text) == [
        "line 10, columns.air_temperature_c.unit: is not one of C, F, K (found 'Rankine')",
        "line 15, columns.rain_mm.unit: is not one of mm, in, cm (found 'gallons')",
    ]


def test_an_unknown_quantity_is_refused_by_line_with_the_known_ones(path: Path) -> None:
    (fault,) = faults(path, GOOD.replace("[columns.rain_mm]", "[columns.drizzle_mm]"))
    assert fault.startswith("line 13, columns.drizzle_mm: no such quantity; known are air_temperature_c, dew_point_c,")


def test_what_is_worked_out_here_is_refused_by_line(path: Path) -> None:
    (fault,) = faults(path, GOOD.replace("[columns.rain_mm]", "[columns.sun_elevation_deg]"))
    told = "line 13, columns.sun_elevation_deg: the program works it out itself and never reads it; leave it out"
    assert fault.startswith(told)
    (unknown,) = faults(path, GOOD.replace("[columns.rain_mm]", "[columns.drizzle_mm]"))
    assert "snow_depth_mm" in unknown
    assert "sun_elevation_deg" not in unknown


WET = """\
schema = 1
time_column = "Time"
utc_offset_hours = -5

[columns]
soil_temperature_5cm_c = { column = "S", unit = "F" }
snow_depth_mm = { column = "D", unit = "in" }

[columns.leaf_wet_fraction]
column = "W"
unit = "mV"
wet_from = 450
"""


def test_a_wetness_sensor_with_its_threshold_is_read_beside_soil_and_snow(path: Path) -> None:
    path.write_text(WET, encoding="utf-8")
    read = read_mapping(path)
    assert read.columns["leaf_wet_fraction"] == Column(column="W", unit="mV", wet_from=450)
    assert read.columns["snow_depth_mm"] == Column(column="D", unit="in")
    assert str(read.columns["leaf_wet_fraction"].threshold()) == "wet_from = 450"
    assert read.columns["snow_depth_mm"].threshold() is None
    assert ways_of(read) == dict.fromkeys(read.columns, "mean")


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        (
            "wet_from = 450",
            "",
            "line 9, columns.leaf_wet_fraction.wet_from: needed beside mV: the figure from which on the sensor counts",
        ),
        ("wet_from = 450", "wet_from = 0", "line 12, columns.leaf_wet_fraction.wet_from: Input should be greater than"),
        ("wet_from = 450", "wet_from = inf", "line 12, columns.leaf_wet_fraction.wet_from: Input should be a finite"),
        (
            'unit = "mV"',
            'unit = "%"',
            "line 12, columns.leaf_wet_fraction.wet_from: has a meaning for leaf_wet_fraction in counts, mV, kOhm only",
        ),
        (
            'unit = "mV"',
            'unit = "oktas"',
            "line 11, columns.leaf_wet_fraction.unit: is not one of fraction, %, min, counts, mV, kOhm (found 'oktas')",
        ),
        (
            'unit = "in"',
            'unit = "in", wet_from = 3',
            "line 7, columns.snow_depth_mm.wet_from: has a meaning for leaf_wet_fraction",
        ),
        ('unit = "in"', 'unit = "mV"', "line 7, columns.snow_depth_mm.unit: is not one of mm, in, cm, m (found 'mV')"),
        (
            'unit = "mV"',
            'unit = "kOhm"',
            "line 12, columns.leaf_wet_fraction.wet_from: a wet leaf has less resistance than a dry one: say wet_below",
        ),
        (
            "wet_from = 450",
            "wet_from = 450\nwet_below = 300",
            "line 13, columns.leaf_wet_fraction.wet_below: stands beside wet_from, and one of the two parts",
        ),
        (
            'unit = "mV"\nwet_from = 450',
            'unit = "kOhm"',
            "line 9, columns.leaf_wet_fraction.wet_below: needed beside kOhm: the figure below which the sensor counts",
        ),
        (
            "wet_from = 450",
            "wet_below = -3",
            "line 12, columns.leaf_wet_fraction.wet_below: Input should be greater than",
        ),
        ("wet_from = 450", "wet_below = nan", "line 12, columns.leaf_wet_fraction.wet_below: Input should be a finite"),
    ],
)
def test_a_wrong_key_of_a_wetness_sensor_is_refused_by_line(path: Path, old: str, new: str, fault: str) -> None:
    assert WET.count(old) == 1
    found = faults(path, WET.replace(old, new))
    assert any(one.startswith(fault) for one in found), found


def test_a_resistance_has_its_threshold_from_above(path: Path) -> None:
    path.write_text(WET.replace('"mV"\nwet_from', '"kOhm"\nwet_below'), encoding="utf-8")
    threshold = read_mapping(path).columns["leaf_wet_fraction"].threshold()
    assert str(threshold) == "wet_below = 450"
    assert threshold is not None
    assert threshold.wet_is_below


def test_an_unknown_key_is_refused_with_the_nearest_known_one(path: Path) -> None:
    assert faults(path, GOOD.replace("delimiter", "delimeter")) == [
        "line 6, delimeter: no such key; did you mean 'delimiter'?"
    ]
    assert faults(path, GOOD.replace('"RH", unit', '"RH", units')) == [
        "line 11, columns.relative_humidity_pct.unit: this key is missing",
        "line 11, columns.relative_humidity_pct.units: no such key; did you mean 'unit'?",
    ]


@pytest.mark.parametrize("zone", ["", 'time_zone = "Europe/Berlin"\nutc_offset_hours = 1'])
def test_the_zone_is_given_in_one_way_and_no_other(path: Path, zone: str) -> None:
    assert faults(path, GOOD.replace('time_zone = "America/New_York"', zone)) == [
        "give either time_zone or utc_offset_hours"
    ]


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("time_zone", '"Eastern"', "'Eastern' is no time zone; one is 'America/New_York' (found 'Eastern')"),
        ("time_zone", '"../../etc/passwd"', "is no time zone"),
        ("delimiter", '":"', "Input should be ',', ';', '\\t' or '|' (found ':')"),
        ("label", '"middle"', "Input should be 'start' or 'end' (found 'middle')"),
        ("missing", "[true]", "Input should be a valid string (found True)"),
        ("time_format", '"%Y-%Q"', "cannot be read back"),
        ("time_format", '"%H:%M"', "must hold year, month, day and hour"),
        ("time_format", '"%m/%d/%Y"', "must hold year, month, day and hour"),
        ("time_format", '"%d/%m %H:%M"', "must hold year, month, day and hour"),
        ("time_format", '"%m/%d/%Y %I:%M"', "must hold year, month, day and hour (%I with %p)"),
        ("time_format", '"%Y-%m-%d %H:%M %Z"', "a zone as %z or not at all"),
        ("time_format", '"mixed"', "must hold year, month, day and hour"),
    ],
)
def test_a_wrong_value_is_refused_by_line(path: Path, key: str, value: str, words: str) -> None:
    lines = GOOD.splitlines()
    line = next(number for number, text in enumerate(lines, start=1) if text.startswith(key))
    lines[line - 1] = f"{key} = {value}"
    (fault,) = faults(path, "\n".join(lines))
    assert fault.startswith(f"line {line}, {key}")
    assert words in fault


@pytest.mark.parametrize("hours", ["-15", "14.5", "nan", "inf"])
def test_an_offset_that_no_place_has_is_refused(path: Path, hours: str) -> None:
    (fault,) = faults(path, GOOD.replace('time_zone = "America/New_York"', f"utc_offset_hours = {hours}"))
    assert fault.startswith("line 4, utc_offset_hours: ")


def test_all_mistakes_stand_together_in_the_order_of_their_lines(path: Path) -> None:
    text = GOOD.replace('"start"', '"middle"').replace('unit = "F"', 'unit = "R"').replace("missing", "misssing")
    assert [fault.line for fault in refusal(path, text).faults] == [5, 7, 10]


WHOLE = """\
schema = 1
encoding = "cp1252"
delimiter = ";"
decimal = ","
header_line = 4
rows_after_header = 2
date_column = " Date "
time_column = "Time"
time_format = "%d.%m.%Y %H:%M"
utc_offset_hours = 1
label = "end"
step_minutes = 15
missing = [-9999, 999.9, "OVER"]

[columns]
air_temperature_c = { column = "Temp", unit = "C", sensor_height_m = 2, missing = ["-"], reduce = "instant" }
rain_mm = { column = "Counter", unit = "in", reduce = "cumulative" }
wind_speed_10m_m_s = { column = "Wind", unit = "km/h", sensor_height_m = 3 }
wind_gust_10m_m_s = { column = "Gust", unit = "km/h" }
"""


def test_every_key_is_read(path: Path) -> None:
    path.write_text(WHOLE, encoding="utf-8")
    read = read_mapping(path)
    assert (read.encoding, read.decimal, read.header_line, read.rows_after_header) == ("cp1252", ",", 4, 2)
    assert (read.date_column, read.time_column, read.step_minutes) == ("Date", "Time", 15)
    assert read.missing == ("-9999", "999.9", "OVER")
    assert read.columns["air_temperature_c"].missing == ("-",)
    assert read.columns["wind_speed_10m_m_s"].sensor_height_m == 3
    assert ways_of(read) == {
        "air_temperature_c": "instant",
        "rain_mm": "cumulative",
        "wind_speed_10m_m_s": "mean",
        "wind_gust_10m_m_s": "max",
    }


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('decimal = ","', 'decimal = "\'"', "line 4, decimal: Input should be '.' or ','"),
        ("header_line = 4", "header_line = 0", "line 5, header_line: Input should be greater than or equal to 1"),
        ("header = 2", "header = -1", "line 6, rows_after_header: Input should be greater than or equal to 0"),
        ('"cp1252"', '"utf-7"', "line 2, encoding: Input should be 'utf-8', 'utf-16-le', 'utf-16-be', 'latin-1' or"),
        ("step_minutes = 15", "step_minutes = 7", "line 12, step_minutes: Input should be 1, 2, 3, 4, 5, 6, 10, 12,"),
        (
            '"cumulative"',
            '"mean"',
            "line 17, columns.rain_mm.reduce: rain_mm takes sum or cumulative (found 'mean')",
        ),
        (
            '"instant"',
            '"sum"',
            "line 16, columns.air_temperature_c.reduce: air_temperature_c takes mean, instant or max (found 'sum')",
        ),
        (
            'reduce = "cumulative"',
            "sensor_height_m = 1",
            "line 17, columns.rain_mm.sensor_height_m: has a meaning for air_temperature_c, dew_point_c,",
        ),
        (
            "sensor_height_m = 3",
            "sensor_height_m = 0.2",
            "line 18, columns.wind_speed_10m_m_s.sensor_height_m: Input should be greater than or equal to 0.5",
        ),
        ('"%d.%m.%Y %H:%M"', '"excel"', "date_column stands beside clock times, and excel is one number"),
        ('"%d.%m.%Y %H:%M"', '"unix"', "unix seconds are UTC by themselves; leave utc_offset_hours out"),
    ],
)
def test_a_wrong_key_of_a_logger_is_refused_by_line(path: Path, old: str, new: str, fault: str) -> None:
    assert WHOLE.count(old) == 1
    (found,) = faults(path, WHOLE.replace(old, new))
    assert found.startswith(fault)


@pytest.mark.parametrize("form", ['time_format = "unix"', 'time_format = "%Y-%m-%d %H:%M %z"', ""])
def test_stamps_that_name_their_zone_need_none(path: Path, form: str) -> None:
    path.write_text(f'schema = 1\ntime_column = "t"\n{form}\n[columns]\n')
    assert read_mapping(path).zone() is None


def test_what_must_be_given_is_asked_for_until_it_is(path: Path) -> None:
    asked = 'must_be_given = ["label", "time_zone|utc_offset_hours", "columns.rain_mm.reduce"]\n'
    text = GOOD.replace('label = "start"\n', asked).replace('unit = "in"\n', 'unit = "in"\n# reduce\n')
    not_answered = "not answered yet: fill the key in where the file asks for it"
    assert faults(path, text) == [f"label: {not_answered}", f"line 13, columns.rain_mm.reduce: {not_answered}"]
    half = text.replace("# reduce", 'reduce = "sum"')
    assert faults(path, half) == [f"label: {not_answered}"]
    path.write_text(half.replace("schema = 1\n", 'schema = 1\nlabel = "end"\n'), encoding="utf-8")
    assert read_mapping(path).columns["rain_mm"].reduce == "sum"
    # A table that is taken out again leaves nothing to be answered.
    table = half.index("[columns.rain_mm]")
    path.write_text(half[:table].replace("schema = 1\n", 'schema = 1\nlabel = "end"\n'), encoding="utf-8")
    assert "rain_mm" not in read_mapping(path).columns


def test_what_is_no_toml_is_refused_by_line(path: Path) -> None:
    error = refusal(path, GOOD.replace('label = "start"', 'label = "start'))
    assert "not valid TOML" in error.what
    assert "at line 5" in error.faults[0].text


def test_a_file_that_is_not_there_is_missing_input(path: Path) -> None:
    with pytest.raises(MissingInputError) as caught:
        read_mapping(path)
    assert caught.value.exit_code == 66


def test_a_folder_and_binary_data_are_refused(path: Path) -> None:
    path.write_bytes(b"\xff\xfe\x00")
    for place in (path, path.parent):
        with pytest.raises(SettingsError, match="cannot be read"):
            read_mapping(place)


def test_the_line_is_found_in_the_second_of_two_nested_tables() -> None:
    lines = [
        "[[label]]",
        "[[label.use]]",
        'disease = "one"',
        "[[label.use]]",
        'disease = "two"',
        "[[label]]",
        "[[label.use]]",
        'disease = "three"',  # line 8
    ]
    text = "\n".join(lines)
    assert line_of(text, ("label", 0, "use", 1, "disease")) == 5
    assert line_of(text, ("label", 1, "use", 0, "disease")) == 8
    assert line_of(text, ("label", 1, "use", 0)) == 7
    assert line_of(text, ("nowhere",)) == 0
