"""Proposed mappings: what a file shows is written down, what it cannot show is asked and never guessed.

Every file here is invented, in the shapes in which loggers and stations export.
"""

import gzip
import tomllib
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from logger_files import HEADER, rows_of

from forecast.errors import DataError, ForecastError, MissingInputError, SettingsError
from forecast.ingest.logger import looks as looks_module
from forecast.ingest.logger.column_words import is_soil_of_unknown_depth, other_depth_cm, quantity_of, unit_of
from forecast.ingest.logger.csv_file import read_csv_hours
from forecast.ingest.logger.looks import clocks_of, look_at
from forecast.ingest.logger.mapping import Mapping, read_mapping
from forecast.ingest.logger.propose import Proposal, propose
from forecast.ingest.logger.questions import KEYS

TWO_WEEKS = rows_of("2050-07-10T00:15", 15, 96 * 14)  # past the 12th, so that only one order of day and month fits
ANSWERS = {"time_zone": "-5", "label": "end", "wind_height_m": "2"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "export.csv"


def quarter_hour_logger() -> str:
    head = (
        '"FILE4","Larch Hollow","BX9","SN 40417","Turf15"\n'
        '"TIMESTAMP","RECORD","AirTC_Avg","RH_Avg","Rain_mm_Tot","WS_ms_Avg","WS_ms_Max","SlrW_Avg","BattV_Min"\n'
        '"TS","RN","Deg C","%","mm","meters/second","meters/second","W/m2","Volts"\n'
        '"","","Avg","Avg","Tot","Avg","Max","Avg","Min"\n'
    )
    rows = (
        f'"{stamp}",{row},{"NAN" if row == 7 else 20 + row % 5},{-6999 if row == 9 else 80},0.2,2.1,4,100,12.7\n'
        for row, stamp in enumerate(TWO_WEEKS)
    )
    return head + "".join(rows)


def semicolon_station() -> bytes:
    head = "Messfeld Ödwald\nGerät 77\n\nDate;Time;Temp. °C;Humidity %;Rain [mm]\n"
    stamps = rows_of("2050-03-20T01:00", 60, 72)
    rows = (f"{stamp:%d.%m.%Y};{stamp:%H:%M};{10 + row % 7},5;80,0;0,0\n" for row, stamp in enumerate(stamps))
    return (head + "".join(rows)).encode("cp1252")


def us_station(first: str = "2050-07-10T00:30") -> str:
    rows = []
    for row, stamp in enumerate(rows_of(first, 30, 48 * 5)):
        half = "a" if stamp.hour < 12 else "p"
        clock = f"{stamp:%m/%d/%y},{stamp:%I:%M}{half}"
        rows.append(f"{clock},{70 + row % 20},90,80,65.1,{3 + row % 4},---,{0.01 * (row % 50 == 0)},72\n")
    return "Date,Time,Temp Out,Hi Temp,Out Hum,Dew Pt.,Wind Speed,Wind Dir,Rain,Temp In\n" + "".join(rows)


def put(path: Path, content: str | bytes) -> Path:
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def proposed(path: Path, content: str | bytes, **answers: str) -> Proposal:
    return propose(put(path, content), answers)


def keys(proposal: Proposal) -> list[str]:
    return [question.key for question in proposal.questions]


def hint(proposal: Proposal, key: str) -> str:
    return next(question.hint for question in proposal.questions if question.key == key)


# What the file shows


def test_a_logger_with_unit_and_sampling_rows_is_read_off(path: Path) -> None:
    proposal = proposed(path, quarter_hour_logger())
    assert keys(proposal) == ["time_zone", "label", "wind_height_m"]
    found = tomllib.loads(proposal.text)
    assert (found["delimiter"], found["header_line"], found["rows_after_header"]) == (",", 2, 2)
    assert (found["time_column"], found.get("time_format"), found["missing"]) == ("TIMESTAMP", None, ["-6999"])
    assert found["columns"] == {
        "air_temperature_c": {"column": "AirTC_Avg", "unit": "C"},
        "relative_humidity_pct": {"column": "RH_Avg", "unit": "%"},
        "rain_mm": {"column": "Rain_mm_Tot", "unit": "mm", "reduce": "sum"},  # "Tot" under its name
        "wind_speed_10m_m_s": {"column": "WS_ms_Avg", "unit": "m/s"},
        "wind_gust_10m_m_s": {"column": "WS_ms_Max", "unit": "m/s"},
        "shortwave_down_w_m2": {"column": "SlrW_Avg", "unit": "W/m2"},
    }
    assert '# Not taken: "RECORD", "BattV_Min".' in proposal.text


def test_with_answers_the_mapping_is_whole_and_reads_the_file(path: Path, tmp_path: Path) -> None:
    proposal = proposed(path, quarter_hour_logger(), **ANSWERS)
    assert proposal.is_complete
    assert proposal.questions == ()
    (tmp_path / "map.toml").write_text(proposal.text, encoding="utf-8")
    hours = read_csv_hours(path, read_mapping(tmp_path / "map.toml"))
    assert len(hours.hours) == 24 * 14
    assert str(hours.hours[0]) == "2050-07-10T06"  # 01:00, five hours behind UTC
    # Rows 0 to 3 read 20, 21, 22, 23; rows 4 to 7 read 24, 20, 21 and NAN.
    assert hours.values["air_temperature_c"][:2].tolist() == pytest.approx([21.5, (24 + 20 + 21) / 3])
    assert "2050-07-10T06:00Z" in proposal.preview
    assert "21.50" in proposal.preview
    assert "brought to 10 m" in proposal.preview


def test_a_station_with_decimal_commas_and_old_letters_is_read_off(path: Path) -> None:
    proposal = proposed(path, semicolon_station())
    found = tomllib.loads(proposal.text)
    assert (found["encoding"], found["delimiter"], found["decimal"], found["header_line"]) == ("cp1252", ";", ",", 4)
    assert (found["date_column"], found["time_column"], found["time_format"]) == ("Date", "Time", "%d.%m.%Y %H:%M")
    assert found["columns"]["air_temperature_c"] == {"column": "Temp. °C", "unit": "C"}
    assert keys(proposal) == ["time_zone", "label", "rain_reduce"]
    answered = proposed(path, semicolon_station(), time_zone="Europe/Berlin", label="end", rain_reduce="sum")
    assert answered.is_complete
    assert "2050-03-20T00:00Z" in answered.preview  # 01:00 in Berlin's winter
    assert "10.50" in answered.preview


def test_a_us_station_without_units_is_asked_for_every_one(path: Path) -> None:
    proposal = proposed(path, us_station())
    assert keys(proposal) == [
        "time_zone", "label", "temperature_unit", "rain_unit", "rain_reduce", "wind_unit", "wind_height_m",
    ]  # fmt: skip
    found = tomllib.loads(proposal.text)
    assert found["time_format"] == "%m/%d/%y %I:%M %p"
    assert found["columns"]["air_temperature_c"] == {"column": "Temp Out"}  # and neither "Hi Temp" nor "Temp In"
    assert hint(proposal, "temperature_unit").endswith("which looks like °F")
    assert "0.01" in hint(proposal, "rain_unit")
    assert "cannot tell" in hint(proposal, "wind_unit")
    answers = {"temperature_unit": "F", "rain_unit": "in", "rain_reduce": "sum", "wind_unit": "mph"}
    whole = proposed(path, us_station(), **ANSWERS, **answers)
    assert whole.is_complete
    hours = read_csv_hours(path, Mapping.model_validate(tomllib.loads(whole.text)))
    assert hours.values["air_temperature_c"][0] == pytest.approx((70.5 - 32) / 1.8)  # 70 and 71 °F


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_byte_order_mark_needs_no_naming(path: Path, encoding: str) -> None:
    text = us_station().replace(",", "\t").encode(encoding)
    found = tomllib.loads(proposed(path, text).text)
    assert (found.get("encoding"), found["delimiter"]) == (None, "\t")


def test_a_packed_file_is_proposed_for_like_its_plain_twin(path: Path) -> None:
    plain = proposed(path, us_station())
    assert proposed(path, gzip.compress(us_station().encode())) == plain


def simple(cells: list[str], header: str = "Time,Temp (°C),RH (%)") -> str:
    return header + "\n" + "".join(f"{cell},20.5,90\n" for cell in cells)


def stamps(form: str, first: str = "2050-07-10T00:00", count: int = 200) -> list[str]:
    return [stamp.strftime(form) for stamp in rows_of(first, 60, count)]


@pytest.mark.parametrize(
    ("form", "proposed_form"),
    [
        ("%Y-%m-%d %H:%M", None),
        ("%Y-%m-%dT%H:%M:%S", None),
        ("%m/%d/%Y %H:%M", "%m/%d/%Y %H:%M"),
        ("%m/%d/%Y %I:%M %p", "%m/%d/%Y %I:%M %p"),
        ("%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M:%S"),
        ("%d-%b-%Y %H:%M", "%d-%b-%Y %H:%M"),
        ("%Y/%m/%d %H:%M", "%Y/%m/%d %H:%M"),
        ("%Y%m%d%H%M", "%Y%m%d%H%M"),
        ("%Y%m%d %H:%M", "%Y%m%d %H:%M"),
    ],
)
def test_forms_of_stamps_are_told_where_one_alone_fits(path: Path, form: str, proposed_form: str | None) -> None:
    proposal = proposed(path, simple(stamps(form)), time_zone="0", label="end")
    assert proposal.is_complete
    assert tomllib.loads(proposal.text).get("time_format") == proposed_form
    assert "2050-07-10T00:00Z" in proposal.preview


def test_days_of_a_spreadsheet_and_seconds_since_1970_are_told(path: Path) -> None:
    # 2050-07-10 is 54 979 days after 1899-12-30: 150 years of 365 days, 37 leap days from 1904 to 2048, 190 days from
    # 1 January to 10 July, and the two days from 30 December to 1 January: 54 750 + 37 + 190 + 2.
    days = [f"{54_979 + hour / 24:.5f}" for hour in range(100)]
    proposal = proposed(path, simple(days), time_zone="0", label="end")
    assert tomllib.loads(proposal.text)["time_format"] == "excel"
    assert "2050-07-10T00:00Z" in proposal.preview
    # 80 years of 365 days, 20 leap days from 1972 to 2048 and 190 days: 29 410 days of 86 400 s.
    seconds = [str(29_410 * 86_400 + 3600 * hour) for hour in range(100)]
    counted = proposed(path, simple(seconds), label="end")
    assert counted.is_complete  # no zone is asked for
    assert "2050-07-10T00:00Z" in counted.preview


def test_stamps_that_name_their_offset_are_not_asked_for_a_zone(path: Path) -> None:
    proposal = proposed(path, simple(stamps("%Y-%m-%dT%H:%M-05:00")), label="end")
    assert proposal.is_complete
    assert "2050-07-10T05:00Z" in proposal.preview


def test_words_and_figures_for_missing_are_listed_where_they_cannot_be_readings(path: Path) -> None:
    rows = simple(stamps("%Y-%m-%d %H:%M")).replace("20.5", "-9999", 3).replace("90\n", "OVER\n", 2)
    found = tomllib.loads(proposed(path, rows).text)
    assert found["missing"] == ["-9999", "OVER"]
    radiation = simple(stamps("%Y-%m-%d %H:%M"), "Time,Solar (W/m2),RH (%)").replace("20.5", "999", 1)
    assert "missing" not in tomllib.loads(proposed(path, radiation).text)  # 999 W/m² is a sunny noon


def test_a_file_of_the_houses_own_needs_no_questions(path: Path) -> None:
    text = HEADER + "".join(f"{stamp:%Y-%m-%dT%H:%MZ},20,97\n" for stamp in rows_of("2050-07-18T00:00", 60, 30))
    proposal = proposed(path, text)
    assert proposal.is_complete
    assert Mapping.model_validate(tomllib.loads(proposal.text)).time_column == "hour_utc"


# What it cannot show


def test_day_and_month_that_fit_both_ways_are_asked_for_with_a_hint(path: Path) -> None:
    # 5 to 8 July: each stamp is a date in May to August too.
    text = simple(stamps("%d/%m/%Y %H:%M", "2050-07-05T00:00", 90))
    proposal = proposed(path, text)
    assert keys(proposal) == ["date_order", "time_zone", "label"]
    assert set(proposal.questions[0].choices) == {"day/month/year", "month/day/year"}
    assert hint(proposal, "date_order") == "stamps keep one step from first to last only as day/month/year"
    for order, first in (("day/month/year", "2050-07-05"), ("month/day/year", "2050-05-07")):
        answered = proposed(path, text.split("06/07")[0], date_order=order, time_zone="0", label="end")
        assert answered.is_complete
        assert f"{first}T00:00Z" in answered.preview


def test_two_columns_of_one_quantity_are_asked_for(path: Path) -> None:
    header = "Time,Temp north (°C),Temp south (°C)"
    proposal = proposed(path, simple(stamps("%Y-%m-%d %H:%M"), header))
    assert "air_temperature_c" in keys(proposal)
    assert "column" not in tomllib.loads(proposal.text)["columns"]["air_temperature_c"]
    answers = {"air_temperature_c": "Temp south (°C)", "time_zone": "0", "label": "end"}
    whole = proposed(path, simple(stamps("%Y-%m-%d %H:%M"), header), **answers)
    assert tomllib.loads(whole.text)["columns"]["air_temperature_c"] == {"column": "Temp south (°C)", "unit": "C"}


@pytest.mark.parametrize(
    "name", ["Solar (MJ/m²)", "Solar (mV)", "Leaf Wetness [V]", "Leaf Wetness (h)", "Snow depth (ft)"]
)
def test_a_unit_that_cannot_be_read_is_left_out_and_not_asked_for(path: Path, name: str) -> None:
    proposal = proposed(path, simple(stamps("%Y-%m-%d %H:%M"), f"Time,Temp (°C),{name}"))
    assert list(tomllib.loads(proposal.text)["columns"]) == ["air_temperature_c"]
    assert f'# Not taken: "{name}".' in proposal.text


def test_columns_in_different_units_leave_the_unit_open_until_one_is_chosen(path: Path, tmp_path: Path) -> None:
    text = simple(stamps("%Y-%m-%d %H:%M"), "Time,Temp north (°C),Temp south (°F)").replace("20.5,90", "20.5,69")
    proposal = proposed(path, text, time_zone="0", label="end")
    assert keys(proposal) == ["air_temperature_c"], "the column brings its unit"
    assert list(tomllib.loads(proposal.text)["columns"]["air_temperature_c"]) == []
    written = tmp_path / "map.toml"
    half = proposal.text.replace('# ? column = "Temp south', 'column = "Temp south')
    written.write_text(half, encoding="utf-8")
    with pytest.raises(SettingsError, match=r"air_temperature_c\.unit: this key is missing"):
        read_mapping(written)
    written.write_text(half.replace('# ? unit = "F"', 'unit = "F"'), encoding="utf-8")
    assert read_mapping(written).columns["air_temperature_c"].unit == "F"
    whole = proposed(path, text, time_zone="0", label="end", air_temperature_c="Temp south (°F)")
    assert tomllib.loads(whole.text)["columns"]["air_temperature_c"] == {"column": "Temp south (°F)", "unit": "F"}


def test_two_columns_of_stamps_are_asked_for(path: Path) -> None:
    rows = [f"{local},{utc}" for local, utc in zip(stamps("%Y-%m-%d %H:%M"), stamps("%Y-%m-%d %H:%M"), strict=True)]
    text = simple(rows, "Local,Universal,Temp (°C),RH (%)")
    assert keys(proposed(path, text))[0] == "time_column"
    assert tomllib.loads(proposed(path, text, time_column="Universal").text)["time_column"] == "Universal"


def rain_of(path: Path, figures: list[float]) -> str:
    rows = zip(stamps("%Y-%m-%d %H:%M", count=len(figures)), figures, strict=True)
    return hint(proposed(path, "Time,Rain (mm)\n" + "".join(f"{at},{mm}\n" for at, mm in rows)), "rain_reduce")


def test_counter_or_amount_is_asked_for_with_a_hint(path: Path) -> None:
    assert rain_of(path, [0, 0, 1, 1, 1, 3, 3, 4]) == "figures never fall, which looks like a counter"
    assert "a counter set back to 0 looks so" in rain_of(path, [0, 2, 2, 2, 2, 0, 0, 1, 1, 1])
    assert "looks like an amount per record" in rain_of(path, [0, 0, 1, 0, 0, 2, 0, 0, 3, 0])
    assert "fits both" in rain_of(path, [0] * 10)


def test_a_comma_that_may_stand_between_thousands_is_asked_for(path: Path) -> None:
    rows = "".join(f"{at};1,250;90\n" for at in stamps("%Y-%m-%d %H:%M"))
    assert keys(proposed(path, "Time;Solar (W/m2);RH (%)\n" + rows))[-1] == "decimal"


def test_clocks_that_run_back_are_a_hint_for_the_zone(path: Path) -> None:
    cells = ["2050-11-06 00:00", "2050-11-06 01:00", "2050-11-06 01:00", "2050-11-06 02:00"]
    assert hint(proposed(path, simple(cells)), "time_zone") == ""  # the same hour twice may be a slip
    halves = ["2050-11-06 01:00", "2050-11-06 01:30", "2050-11-06 01:00", "2050-11-06 01:30", "2050-11-06 02:00"]
    assert hint(proposed(path, simple(halves)), "time_zone").startswith("stamps run back after 2050-11-06 01:30")


OPEN_FILES = {"logger": quarter_hour_logger(), "semicolons": semicolon_station(), "us": us_station()}


@pytest.mark.parametrize("content", OPEN_FILES.values(), ids=OPEN_FILES)
def test_an_open_proposal_does_not_load_until_every_question_is_answered(
    path: Path, tmp_path: Path, content: str | bytes
) -> None:
    text = proposed(path, content).text
    written = tmp_path / "map.toml"
    for answered in _one_more_answer(text):
        written.write_text(answered, encoding="utf-8")
        with pytest.raises(SettingsError):
            read_mapping(written)
    written.write_text(_all_answered(text), encoding="utf-8")
    read_csv_hours(path, read_mapping(written))


def _one_more_answer(text: str) -> Iterator[str]:
    """The text with none, then each alone, of its questions answered by the first line it offers."""
    yield text
    lines = text.splitlines()
    asking = [
        row for row, line in enumerate(lines) if line.startswith("# ? ") and not lines[row - 1].startswith("# ? ")
    ]
    assert len(asking) > 1
    for row in asking:
        yield "\n".join(line.removeprefix("# ? ") if at == row else line for at, line in enumerate(lines))


def _all_answered(text: str) -> str:
    lines = text.splitlines()
    wanted = {'unit = "F"', "utc_offset_hours = -5"}
    return "\n".join(
        line.removeprefix("# ? ")
        if line.startswith("# ? ")
        and (line.removeprefix("# ? ") in wanted or not lines[row - 1].startswith("# ? "))
        and not ("# ? time_zone" in line or line == '# ? unit = "C"')
        else line
        for row, line in enumerate(lines)
    )


def test_the_preview_of_an_open_proposal_shows_what_is_known(path: Path) -> None:
    preview = proposed(path, quarter_hour_logger()).preview
    assert '"AirTC_Avg": 20 | 21 | 22 | 23 | 24 | 20' in preview
    assert "= air_temperature_c: 20.00 | 21.00" in preview
    assert "= air_temperature_c" not in proposed(path, us_station()).preview  # its unit is not known


# Answers


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("labl", "end", "did you mean label?"),
        ("colour", "red", "known are time_zone, label,"),
        ("label", "middle", "choices are start, end"),
        ("wind_unit", "furlongs", "choices are m/s, km/h, mph, kn"),
        ("time_zone", "Eastern", "no time zone"),
        ("time_zone", "25", "no place's"),
        ("time_zone", "nan", "no place's"),
        ("wind_height_m", "high", "metres, from 0.5 to 100"),
        ("wind_height_m", "0", "metres, from 0.5 to 100"),
        ("air_temperature_c", "Temperature", "choices are RECORD"),
    ],
)
def test_a_wrong_answer_is_refused_with_what_would_do(path: Path, key: str, value: str, words: str) -> None:
    with pytest.raises(SettingsError) as caught:
        proposed(path, quarter_hour_logger(), **{key: value})
    assert words in str(caught.value)


def test_an_answer_goes_before_what_the_file_shows_and_none_leaves_a_quantity_out(path: Path) -> None:
    proposal = proposed(path, quarter_hour_logger(), **ANSWERS, temperature_unit="K", rain_mm="none")
    found = tomllib.loads(proposal.text)["columns"]
    assert found["air_temperature_c"]["unit"] == "K"
    assert "rain_mm" not in found


def test_a_question_reads_as_one_line_with_its_key_choices_and_hint(path: Path) -> None:
    proposal = proposed(path, us_station("2050-07-05T00:30"))
    assert str(proposal.questions[0]).startswith("date_order: In which order do dates stand?")
    assert " One of: month/day/year, day/month/year." in str(proposal.questions[0])
    assert str(proposal.questions[0]).endswith(" Hint: stamps keep one step from first to last only as month/day/year.")


@pytest.mark.parametrize("content", OPEN_FILES.values(), ids=OPEN_FILES)
def test_every_question_has_a_known_key(path: Path, content: str | bytes) -> None:
    assert set(keys(proposed(path, content))) <= set(KEYS)


# Wetness, soil and snow


def wet_station(name: str, figures: Sequence[float], step: int = 15) -> str:
    at = rows_of("2050-07-13T00:00", step, len(figures))
    rows = (f"{stamp:%Y-%m-%d %H:%M},20.5,{figure:g}\n" for stamp, figure in zip(at, figures, strict=True))
    return f"Time,Temp (°C),{name}\n" + "".join(rows)


SHORT = {"time_zone": "0", "label": "start"}
HALF_WET = [300, 310, 460, 470, 300, 450, 449, 300] * 12  # counts


def test_a_bare_figure_of_wetness_is_asked_for_the_one_from_which_on_it_is_wet(path: Path) -> None:
    content = wet_station("Leaf Wetness [mV]", HALF_WET)
    proposal = proposed(path, content, **SHORT)
    assert keys(proposal) == ["wet_from"]
    # Of 300, 300, 300, 310, 449, 450, 460, 470 the middle lies between 310 and 449, at 379.5.
    assert hint(proposal, "wet_from") == "values go from 300 to 470, half of them at or below 379.5"
    assert "wet_from" not in tomllib.loads(proposal.text)["columns"]["leaf_wet_fraction"], "never guessed"
    with pytest.raises(SettingsError, match="above 0"):
        proposed(path, content, **SHORT, wet_from="0")
    whole = proposed(path, content, **SHORT, wet_from="450")
    assert whole.is_complete
    hours = read_csv_hours(path, Mapping.model_validate(tomllib.loads(whole.text)))
    # Of the first four quarters two reach 450; of the next four one does: 449 does not and 450 does.
    assert hours.values["leaf_wet_fraction"][:2].tolist() == [0.5, 0.25]


def test_a_wetness_unit_that_stands_nowhere_is_asked_for_and_then_what_goes_with_it(path: Path) -> None:
    content = wet_station("Leaf Wetness 1", HALF_WET)
    proposal = proposed(path, content, **SHORT)
    assert keys(proposal) == ["wetness_unit"]
    assert proposal.questions[0].choices == ("fraction", "%", "min", "counts", "mV", "kOhm")
    assert (
        "# With counts, mV, kOhm the figure at or above which a record counts as wet has to stand here" in proposal.text
    )
    assert keys(proposed(path, content, **SHORT, wetness_unit="counts")) == ["wet_from"]
    assert proposed(path, content, **SHORT, wetness_unit="counts", wet_from="450").is_complete


@pytest.mark.parametrize("name", ["Leaf Wetness [kΩ]", "LWS (kOhm)"])
def test_a_resistance_is_asked_for_the_figure_below_which_it_is_wet(path: Path, name: str) -> None:
    content = wet_station(name, HALF_WET)
    proposal = proposed(path, content, **SHORT)
    assert keys(proposal) == ["wet_below"]
    assert "# ? wet_below = 0" in proposal.text
    assert "# ? wet_from" not in proposal.text
    whole = proposed(path, content, **SHORT, wet_below="310")
    assert whole.is_complete
    hours = read_csv_hours(path, Mapping.model_validate(tomllib.loads(whole.text)))
    # Of the first four one lies below 310, since 310 itself does not; of the next four two.
    assert hours.values["leaf_wet_fraction"][:2].tolist() == [0.25, 0.5]
    with pytest.raises(SettingsError, match="a wet leaf has less kOhm than a dry one"):
        proposed(path, content, **SHORT, wet_from="310")


def test_counts_that_fall_as_the_leaf_gets_wet_take_the_other_threshold(path: Path, tmp_path: Path) -> None:
    content = wet_station('"Leaf wet, counts"', HALF_WET)
    proposal = proposed(path, content, **SHORT)
    assert keys(proposal) == ["wet_from"]
    assert "answer wet_below" in proposal.questions[0].text
    whole = proposed(path, content, **SHORT, wet_below="310")
    assert tomllib.loads(whole.text)["columns"]["leaf_wet_fraction"]["wet_below"] == 310
    written = tmp_path / "map.toml"
    written.write_text(proposal.text.replace("# ? wet_below = 0", "wet_below = 310"), encoding="utf-8")
    assert read_mapping(written).columns["leaf_wet_fraction"].wet_below == 310, "by hand as well"
    with pytest.raises(SettingsError, match="cannot both be told"):
        proposed(path, content, **SHORT, wet_from="450", wet_below="310")
    with pytest.raises(SettingsError, match="wet_below cannot be '-3'"):
        proposed(path, content, **SHORT, wet_below="-3")


def test_minutes_wet_are_read_off_and_brought_to_shares_of_the_records_own_length(path: Path) -> None:
    # 5 of 15 minutes are a third, 15 of 15 all, 0 none: (1/3 + 1 + 0 + 0) / 4 = 1/3.
    proposal = proposed(path, wet_station("LWS (min)", [5, 15, 0, 0] * 24), **SHORT)
    assert proposal.is_complete
    hours = read_csv_hours(path, Mapping.model_validate(tomllib.loads(proposal.text)))
    assert hours.values["leaf_wet_fraction"][:24] == pytest.approx([1 / 3] * 24)


def test_the_threshold_left_at_its_place_holder_does_not_load(path: Path, tmp_path: Path) -> None:
    proposal = proposed(path, wet_station("Leaf Wetness [mV]", HALF_WET), **SHORT)
    written = tmp_path / "map.toml"
    written.write_text(proposal.text.replace("# ? wet_from", "wet_from"), encoding="utf-8")
    with pytest.raises(SettingsError, match="wet_from: Input should be greater than 0"):
        read_mapping(written)
    written.write_text(proposal.text.replace("# ? wet_from = 0", "wet_from = 450"), encoding="utf-8")
    assert read_mapping(written).columns["leaf_wet_fraction"].wet_from == 450


def test_figures_for_no_reading_among_bare_ones_are_listed_and_never_dry(path: Path) -> None:
    content = wet_station("Leaf Wetness [mV]", [300, 460, -9999, 7999] * 24)
    whole = proposed(path, content, **SHORT, wet_from="450")
    assert sorted(tomllib.loads(whole.text)["missing"]) == ["-9999", "7999"]
    counts = proposed(path, content.replace("mV", "counts"), **SHORT, wet_from="450")
    assert tomllib.loads(counts.text)["missing"] == ["-9999"], "16 bits count to 65,535"


def soil_file(*names: str) -> str:
    rows = "".join(f"{at},20.5,{','.join('18.5' for _ in names)}\n" for at in stamps("%Y-%m-%d %H:%M"))
    return f"Time,Temp (°C),{','.join(names)}\n{rows}"


def test_soil_temperatures_go_to_their_depths_and_others_are_left(path: Path) -> None:
    content = soil_file("Soil Temp 2 in (°F)", "Soil Temp 4 in (°F)", "Soil Temp 8 in (°F)")
    proposal = proposed(path, content, **SHORT)
    assert proposal.is_complete
    found = tomllib.loads(proposal.text)["columns"]
    assert found["soil_temperature_5cm_c"] == {"column": "Soil Temp 2 in (°F)", "unit": "F"}
    assert found["soil_temperature_10cm_c"] == {"column": "Soil Temp 4 in (°F)", "unit": "F"}
    assert '# Not taken: "Soil Temp 8 in (°F)".' in proposal.text
    # 8 in × 2.54 cm = 20.32 cm.
    told = "is told to be 20.3 cm deep; soil is kept 5 and 10 cm deep, 2.5 cm either way."
    assert f'# "Soil Temp 8 in (°F)" {told}' in proposal.text
    assert "Temp (°C)" not in proposal.text.split("[columns", 1)[0], "the air is no soil"


def test_of_several_soil_columns_the_nearest_to_a_depth_is_taken(path: Path) -> None:
    # 3 in are 7.62 cm, 2.38 from the 10 cm; 4 in are 10.16 cm, and nearer.
    three, four = "Soil Temp 3 in (°F)", "Soil Temp 4 in (°F)"
    both = proposed(path, soil_file(three, four), **SHORT)
    assert both.is_complete
    assert tomllib.loads(both.text)["columns"]["soil_temperature_10cm_c"]["column"] == four
    assert f'# Not taken: "{three}".' in both.text
    alone = proposed(path, soil_file(three), **SHORT)
    assert tomllib.loads(alone.text)["columns"]["soil_temperature_10cm_c"] == {"column": three, "unit": "F"}
    assert f'column = "{three}"  # 7.62 cm deep by its name' in alone.text
    twins = proposed(path, soil_file("Soil Temp A 10 cm (°C)", "Soil Temp B 10 cm (°C)"), **SHORT)
    assert keys(twins) == ["soil_temperature_10cm_c"], "two as near are asked for"


def test_a_soil_temperature_without_a_depth_is_asked_for_and_an_answer_settles_it(path: Path) -> None:
    content = soil_file("Soil Temp (°C)")
    proposal = proposed(path, content, **SHORT)
    assert keys(proposal) == ["soil_temperature_5cm_c", "soil_temperature_10cm_c"]
    assert proposal.questions[0].choices == ("Soil Temp (°C)", "none")
    assert "no depth, and soil is kept 5 and 10 cm deep, 2.5 cm either way" in proposal.questions[0].hint
    for deep, other in (("5cm", "10cm"), ("10cm", "5cm")):
        whole = proposed(path, content, **SHORT, **{f"soil_temperature_{deep}_c": "Soil Temp (°C)"})
        assert whole.is_complete, "the same column cannot be the other depth too"
        columns = tomllib.loads(whole.text)["columns"]
        assert columns[f"soil_temperature_{deep}_c"] == {"column": "Soil Temp (°C)", "unit": "C"}
        assert f"soil_temperature_{other}_c" not in columns
    neither = proposed(path, content, **SHORT, soil_temperature_5cm_c="none", soil_temperature_10cm_c="none")
    assert neither.is_complete
    assert list(tomllib.loads(neither.text)["columns"]) == ["air_temperature_c"]


def test_a_told_depth_leaves_only_the_other_in_doubt(path: Path) -> None:
    proposal = proposed(path, soil_file("Soil Temp 5 cm (°C)", "Soil Temp B (°C)"), **SHORT)
    assert keys(proposal) == ["soil_temperature_10cm_c"]


def test_a_column_given_twice_is_refused(path: Path) -> None:
    both = dict.fromkeys(("soil_temperature_5cm_c", "soil_temperature_10cm_c"), "Soil Temp (°C)")
    with pytest.raises(SettingsError, match="cannot hold soil_temperature_5cm_c and soil_temperature_10cm_c"):
        proposed(path, soil_file("Soil Temp (°C)"), **SHORT, **both)


def test_a_depth_in_doubt_can_be_settled_in_the_file_itself(path: Path, tmp_path: Path) -> None:
    text = proposed(path, soil_file("Soil Temp (°C)"), **SHORT).text
    written = tmp_path / "map.toml"
    written.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError, match="soil_temperature_10cm_c"):
        read_mapping(written)
    kept, cut = text.split("[columns.soil_temperature_10cm_c]")
    assert cut.count("[") == 0, "the last table"
    written.write_text(kept.replace("# ? column", "column"), encoding="utf-8")
    assert set(read_mapping(written).columns) == {"air_temperature_c", "soil_temperature_5cm_c"}


def test_snow_and_soil_are_asked_for_units_of_their_own(path: Path) -> None:
    content = soil_file("Snow Depth", "Soil Temp 5 cm")
    assert keys(proposed(path, content, **SHORT)) == ["soil_unit", "snow_unit"]
    whole = proposed(path, content, **SHORT, soil_unit="F", snow_unit="in")
    assert {name: one["unit"] for name, one in tomllib.loads(whole.text)["columns"].items()} == {
        "air_temperature_c": "C",  # as its name says: an answer about the soil does not turn it
        "soil_temperature_5cm_c": "F",
        "snow_depth_mm": "in",
    }


def test_what_is_worked_out_here_is_left_out_of_the_mapping_of_a_file_of_the_houses_own(path: Path) -> None:
    rows = "".join(f"{at:%Y-%m-%dT%H:%MZ},20,30\n" for at in rows_of("2050-07-18T00:00", 60, 30))
    proposal = proposed(path, f"hour_utc,air_temperature_c,sun_elevation_deg\n{rows}")
    assert proposal.is_complete
    assert list(tomllib.loads(proposal.text)["columns"]) == ["air_temperature_c"]
    assert "# Not taken: sun_elevation_deg; the program works it out itself and never reads it." in proposal.text


def test_what_is_worked_out_here_is_no_answer(path: Path) -> None:
    with pytest.raises(SettingsError, match="sun_elevation_deg: the program works it out itself and never reads it"):
        proposed(path, soil_file("Sun"), **SHORT, sun_elevation_deg="Sun")


# Words


@pytest.mark.parametrize(
    ("name", "quantity"),
    [
        ("Temp Out", "air_temperature_c"),
        ("AirTC_Avg", "air_temperature_c"),
        ("Air Temperature, °C", "air_temperature_c"),
        ("T", "air_temperature_c"),
        ("air_temp_f", "air_temperature_c"),
        ("Out Hum", "relative_humidity_pct"),
        ("RH", "relative_humidity_pct"),
        ("Relative Humidity (%)", "relative_humidity_pct"),
        ("Dew Pt.", "dew_point_c"),
        ("Dewpoint (°F)", "dew_point_c"),
        ("Rain (in)", "rain_mm"),
        ("Precipitation mm", "rain_mm"),
        ("Wind Speed", "wind_speed_10m_m_s"),
        ("WS_ms_Avg", "wind_speed_10m_m_s"),
        ("Gust Speed (m/s)", "wind_gust_10m_m_s"),
        ("Hi Wind", "wind_gust_10m_m_s"),
        ("Solar Rad.", "shortwave_down_w_m2"),
        ("Leaf Wetness 1", "leaf_wet_fraction"),
        ("Leaf Wet 2", "leaf_wet_fraction"),
        ("Leaf wet, counts", "leaf_wet_fraction"),
        ("LWS (min)", "leaf_wet_fraction"),
        ("LWS Min", None),  # the least
        ("LWMWet_Tot", "leaf_wet_fraction"),
        ("LWS_mV_Avg", "leaf_wet_fraction"),
        ("LWMDry_Tot", None),
        ("Leaf Wetness Dry", None),
        ("LW Down", None),  # longwave
        ("Soil Temp 10 cm", "soil_temperature_10cm_c"),
        ("soil temperature 5cm", "soil_temperature_5cm_c"),
        ("Soil Temp 2 in", "soil_temperature_5cm_c"),  # 5.08 cm
        ('Soil Temp 4"', "soil_temperature_10cm_c"),  # 10.16 cm
        ("Soil Temp, °F (LGR S/N: 20417, LBL: 2in)", "soil_temperature_5cm_c"),
        ("SoilT_10cm_Avg", "soil_temperature_10cm_c"),
        ("TSoil_100mm", "soil_temperature_10cm_c"),
        ("Soil Temp 0.05 m", "soil_temperature_5cm_c"),
        ("Soil Temp -5cm", "soil_temperature_5cm_c"),
        ("Soil Temp 2.5 inches", "soil_temperature_5cm_c"),  # 6.35 cm, 1.35 off
        ("Soil Temp 1 in", "soil_temperature_5cm_c"),  # 2.54 cm, 2.46 off
        ("Soil Temp 2.4 cm", None),  # 2.6 off
        ("Soil Temp 2.5 cm", "soil_temperature_5cm_c"),
        ("Soil Temp 7.5 cm", "soil_temperature_5cm_c"),  # 2.5 off both: the shallower
        ("Soil Temp 7.6 cm", "soil_temperature_10cm_c"),
        ("Soil Temp 12.5 cm", "soil_temperature_10cm_c"),
        ("Soil Temp 12.6 cm", None),
        ("Soil Temp @ 4in", "soil_temperature_10cm_c"),
        ("Soil Temp (2 in)", "soil_temperature_5cm_c"),
        ("Soil Temp 4 in (10 cm)", "soil_temperature_10cm_c"),  # one depth twice
        ("TS 10 cm", "soil_temperature_10cm_c"),
        ("Ts_5cm_Avg", "soil_temperature_5cm_c"),
        ("TS", None),
        ("TS 50 cm", None),
        ("WS 10 m", "wind_speed_10m_m_s"),
        ("Soil Temp 8 in", None),  # 20.3 cm
        ("Soil Temp 10 m", None),
        ("Soil Temp 1", None),
        ("Soil Temp 0-10 cm", None),  # a layer's mean
        ("Soil Temp 5 cm Max", None),
        ("Soil Moisture 5 cm", None),
        ("Soil Water Temp Potential 5cm", None),
        ("Soil Wetness 5 cm", None),
        ("Ground Temp 5 cm", None),
        ("Temp 5 cm", None),  # soil or air at that height, and neither is the air near 2 m
        ("T 10cm", None),
        ("Air Temp 5 cm", None),
        ("Air Temp 2 m", "air_temperature_c"),
        ("Temp, °F (LGR S/N: 20417, LBL: 2in)", None),
        ("Turf Temp", None),
        ("Canopy Temperature", None),
        ("Turf Air Temp", "air_temperature_c"),
        ("Surface Temp", None),
        ("Bodentemperatur 5 cm", None),
        ("Air Temp", "air_temperature_c"),
        ("Snow Depth (cm)", "snow_depth_mm"),
        ("SnowHeight", "snow_depth_mm"),
        ("snwd", "snow_depth_mm"),
        ("Snow on ground (in)", "snow_depth_mm"),
        ("Snow Distance", None),
        ("New Snow Depth", None),
        ("Snowfall", None),
        ("Snow Water Equiv Depth", None),
        ("Snow Depth Max", None),
        ("Sun Elevation", None),
        ("Temp In", None),
        ("Inside Temp", None),
        ("Hi Temp", None),
        ("Wind Dir", None),
        ("Wind Chill", None),
        ("Rain Rate", None),
        ("Wet Bulb", None),
        ("Leaf Temp", None),
        ("Heat Index", None),
        ("UV Index", None),
        ("Net Radiation", None),
        ("Battery V", None),
        ("Barometer", None),
        ("Internet", None),
    ],
)
def test_quantities_are_told_by_words(name: str, quantity: str | None) -> None:
    assert quantity_of(name) == quantity


@pytest.mark.parametrize(
    ("quantity", "name", "below", "unit"),
    [
        ("air_temperature_c", "Temp (°F)", (), "F"),
        ("air_temperature_c", "Temp, °C", (), "C"),
        ("air_temperature_c", "Temp", ("Deg C", "Avg"), "C"),
        ("air_temperature_c", "air_temp_f", (), "F"),
        ("air_temperature_c", "Temp Out", (), None),
        ("air_temperature_c", "Temp C", (), None),  # beside Temp A and Temp B it numbers a channel
        ("rain_mm", "Rain (in)", (), "in"),
        ("rain_mm", "Rain_mm_Tot", (), "mm"),
        ("rain_mm", "Rain", (), None),
        ("wind_speed_10m_m_s", "Wind [km/h]", (), "km/h"),
        ("wind_speed_10m_m_s", "WS_ms_Avg", (), "m/s"),
        ("wind_speed_10m_m_s", "Wind m s-1", (), "m/s"),
        ("wind_speed_10m_m_s", "Wind mph", (), "mph"),
        ("wind_speed_10m_m_s", "Wind Speed", (), None),
        ("wind_speed_10m_m_s", "Wind (kts)", (), "kn"),
        ("shortwave_down_w_m2", "Solar (W/m²)", (), "W/m2"),
        ("shortwave_down_w_m2", "Solar (MJ/m²)", (), None),
        ("relative_humidity_pct", "RH %", (), "%"),
        ("leaf_wet_fraction", "Leaf Wetness", ("%",), "%"),
        ("leaf_wet_fraction", "Leaf Wetness (min)", (), "min"),
        ("leaf_wet_fraction", "LWMWet_Tot", ("Minutes", "Tot"), "min"),
        ("leaf_wet_fraction", "Leaf Wetness", ("mV", "Min"), "mV"),
        ("leaf_wet_fraction", "Leaf Wetness", ("", "Min"), None),  # the least of some readings
        ("leaf_wet_fraction", "LWS_counts_Avg", (), "counts"),
        ("leaf_wet_fraction", "Leaf wet, counts", (), "counts"),
        ("leaf_wet_fraction", "LWS (min)", (), "min"),
        ("leaf_wet_fraction", "Leaf Wetness [kΩ]", (), "kOhm"),
        ("leaf_wet_fraction", "LWS (kOhms)", (), "kOhm"),
        ("leaf_wet_fraction", "Leaf Wetness (0-15)", (), None),
        ("soil_temperature_5cm_c", "Soil Temp 2 in", (), None),  # its depth, and no unit
        ("soil_temperature_5cm_c", "Soil Temp 2 in (°F)", (), "F"),
        ("soil_temperature_10cm_c", "soil_temp_10cm_c", (), "C"),
        ("snow_depth_mm", "Snow Depth (cm)", (), "cm"),
        ("snow_depth_mm", "Snow Depth in", (), "in"),
        ("snow_depth_mm", "Snow Depth (m)", (), "m"),
        ("rain_mm", "Rain (m)", (), None),
        ("snow_depth_mm", "Snow Depth", (), None),
    ],
)
def test_units_are_told_by_words(quantity: str, name: str, below: tuple[str, ...], unit: str | None) -> None:
    assert unit_of(quantity, name, below, ("Temp A", "Temp B", name)) == unit


@pytest.mark.parametrize(
    ("name", "is_open"),
    [
        ("Soil Temp", True),
        ("Soil Temp 3", True),  # the third of some, and no depth
        ("Soil_Temp_2_F", True),
        ("Soil Temp 0-10 cm", True),
        ("Soil Temp 5 and 10 cm", True),
        ("Soil Temp 5 cm", False),
        ("Soil Temp 20 cm", False),  # told, and neither of the two
        ("Soil Temp Max", False),
        ("Soil Moisture", False),
        ("Temp Out", False),
    ],
)
def test_soil_whose_depth_no_words_tell_is_seen(name: str, is_open: bool) -> None:
    assert is_soil_of_unknown_depth(name) is is_open


@pytest.mark.parametrize(
    ("name", "deep_cm"),
    [
        ("Soil Temp 20 cm", 20.0),
        ("TS 50 cm", 50.0),
        ("Soil Temp 0.5 m", 50.0),
        ("Soil Temp 1 cm", 1.0),
        ("Soil Temp 5 cm", None),
        ("Soil Temp", None),
        ("Soil Temp 20 cm Max", None),
        ("Temp 20 cm", None),
        ("Soil Moisture 20 cm", None),
    ],
)
def test_soil_at_a_depth_that_is_not_kept_is_seen(name: str, deep_cm: float | None) -> None:
    assert other_depth_cm(name) == deep_cm


# What is no file of records


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", "shows no rows of figures"),
        ("just a letter\nwith two lines\n", "shows no rows of figures"),
        ("2050-07-18 08:00,20,97\n2050-07-18 09:00,20,97\n", "has no line of names above its first record, line 1"),
        (simple(stamps("%Y-%m-%d %H:%M"), "Time,Alpha,Beta"), "no column's name says which quantity it holds"),
        ("Count,Temp (°C),RH (%)\n" + "".join(f"{row},20,90\n" for row in range(50)), "can be read as stamps"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "binary data"),
    ],
)
def test_what_shows_no_records_is_refused_in_plain_words(path: Path, content: str | bytes, words: str) -> None:
    with pytest.raises(DataError) as caught:
        proposed(path, content)
    assert words in str(caught.value)


def test_a_file_that_is_not_there_is_missing_input(path: Path) -> None:
    with pytest.raises(MissingInputError):
        propose(path)


def test_of_a_long_file_the_first_rows_are_looked_at_and_it_says_so(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(path, quarter_hour_logger())
    assert look_at(path).is_whole
    monkeypatch.setattr(looks_module, "CHUNKS_LOOKED_AT", 0)
    assert not look_at(path).is_whole


# Properties


@given(
    st.sampled_from([",", ";", "\t", "|"]),
    st.sampled_from(["%Y-%m-%d %H:%M", "%d.%m.%Y %H:%M", "%m/%d/%Y %I:%M %p"]),
    st.sampled_from([5, 15, 30, 60]),
    st.datetimes(datetime.fromisoformat("2000-01-01"), datetime.fromisoformat("2060-12-31")),
    st.integers(0, 3),
)
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_is_proposed_when_all_is_answered_reads_the_file_right(
    path: Path, delimiter: str, form: str, step: int, first: datetime, preamble: int
) -> None:
    first = first.replace(minute=0, second=0, microsecond=0)
    moments = [first + timedelta(minutes=step * row) for row in range(60)]
    rows = [delimiter.join((moment.strftime(form), f"{15 + row % 9}.5", "80")) for row, moment in enumerate(moments)]
    title = ["Moss Gate station", "serial 12", "since 1999"][:preamble]
    content = "\n".join([*title, delimiter.join(("Stamp", "Temp (°C)", "RH (%)")), *rows]) + "\n"
    order = {"%d.%m": "day/month/year", "%m/%d": "month/day/year"}.get(form[:5])
    answers = {"time_zone": "0", "label": "end"} | ({"date_order": order} if order else {})
    proposal = proposed(path, content, **answers)
    assert proposal.is_complete
    hours = read_csv_hours(path, Mapping.model_validate(tomllib.loads(proposal.text)))
    ends = {moment.replace(minute=0) + timedelta(hours=moment.minute > 0) for moment in moments}
    assert hours.hours.astype(datetime).tolist() == sorted(ends)
    known = hours.values["relative_humidity_pct"][~np.isnan(hours.values["relative_humidity_pct"])]
    assert known.tolist() == pytest.approx(
        [80] * known.size, abs=8
    )  # the vapour of four readings at other temperatures


PARTS = st.sampled_from(
    ["Time", "Temp (°C)", "RH", "Rain", "Wind", ",", ";", "\t", "|", "\n", "\r", '"', "2050-07-18 08:00", "18.07.50",
     "7/8/50 1:00p", "24:00", "12", "-9999", "21,5", "21.5", "1e400", "NAN", "OVER", "Avg", "Deg C", " ", "54979.5",
     "2524608000", "%", "°", "#", "\x7f", "٣", "\u2028", "Leaf Wetness [mV]", "Soil Temp", "2in", "Snow Depth"]
)  # fmt: skip


@given(st.binary(max_size=200) | st.lists(PARTS, max_size=60).map(lambda parts: "".join(parts).encode()))
@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_are_proposed_for_or_refused_and_never_a_crash(path: Path, raw: bytes) -> None:
    _survives(put(path, raw))


def _survives(path: Path) -> bool:
    try:
        proposal = propose(path)
    except ForecastError:
        return False
    tomllib.loads(proposal.text)
    assert proposal.is_complete == (not proposal.questions)
    return True


@pytest.mark.long
@pytest.mark.parametrize("content", OPEN_FILES.values(), ids=OPEN_FILES)
def test_a_damaged_export_is_proposed_for_or_refused_and_never_a_crash(path: Path, content: str | bytes) -> None:
    chance = np.random.default_rng(20500718)
    raw = (content if isinstance(content, bytes) else content.encode())[:3000]
    taken = 0
    for _ in range(500):
        damaged = raw
        for _ in range(chance.integers(1, 6)):
            start = int(chance.integers(len(damaged)))
            stop = start + int(chance.choice([0, 1, 1, 2, 30]))
            put_in = damaged[start - 20 : start] if chance.random() < 0.4 else chance.bytes(int(chance.integers(1, 4)))
            damaged = damaged[:start] + put_in + damaged[stop:]
        taken += _survives(put(path, damaged))
    assert taken > 50  # else nothing but refusals was tried


def test_clocks_are_found_where_a_date_stands_beside_its_hour(path: Path) -> None:
    rows = "".join(f"{stamp:%d.%m.%Y},{stamp.hour},20,90\n" for stamp in rows_of("2050-07-10T00:00", 60, 300))
    looks = look_at(put(path, "Day,Hour,Temp (°C),RH (%)\n" + rows))
    (clock,) = clocks_of(looks)
    assert (clock.date_column, clock.time_column, clock.forms) == ("Day", "Hour", ("%d.%m.%Y %H",))
