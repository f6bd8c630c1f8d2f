"""Settings files: every mistake at once, by line and key, and nothing guessed."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from forecast.config import read_settings
from forecast.errors import MissingInputError, SettingsError
from forecast.workspace import demo_folder

FILES = ("grounds.toml", "properties.csv", "labels.toml")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in FILES:
        shutil.copyfile(demo_folder() / name, tmp_path / name)
    return tmp_path


def _line(text: str, part: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), start=1) if part in line)


def _faults(folder: Path, name: str, *changes: tuple[str, str]) -> tuple[str, SettingsError]:
    path = folder / name
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        read_settings(folder)
    return text, caught.value


def test_the_demo_reads_without_a_mistake(folder: Path) -> None:
    settings = read_settings(folder)
    assert [area.area_id for area in settings.areas] == ["north-field", "oak-strip", "front-lawn", "green", "courtyard"]
    assert settings.areas[0].size_m2 == pytest.approx(43_560 * 0.3048**2, abs=1e-6), "one acre, in m²"
    assert settings.grounds.sprayer.litres == pytest.approx(50 * 3.785411784, abs=1e-9)
    label = settings.labels[0]
    assert label.label_date == date(2049, 2, 1)
    # 1 fl oz/1,000 sq ft is 31.83268229 mL/100 m² (NIST factors); 1.5 of it a m².
    assert label.uses[0].rate_per_m2 == pytest.approx(1.5 * 0.3183268229, abs=1e-9)
    # 1 gal/1,000 sq ft is 4.0745833 L/100 m².
    assert label.carrier_l_per_m2 == pytest.approx(2 * 0.040745833, abs=1e-8)


def test_an_unknown_key_names_its_line_and_the_nearest_known_one(folder: Path) -> None:
    text, error = _faults(folder, "grounds.toml", ("days_between_visits", "days_betwen_visits"))
    (fault,) = error.faults
    assert fault.line == _line(text, "days_betwen_visits")
    assert "did you mean 'days_between_visits'" in fault.text
    assert error.exit_code == 78


def test_all_mistakes_of_a_file_are_listed_together_in_order(folder: Path) -> None:
    text, error = _faults(
        folder,
        "grounds.toml",
        ('units = "us"', 'units = "imperial"'),
        ("America/New_York", "Eastern"),
        ("treat_from_chance = 0.30", "treat_from_chance = 30"),
        ("latitude_deg = 36.4", "latitude_deg = 136.4"),
    )
    lines = [fault.line for fault in error.faults]
    expected = [_line(text, part) for part in ("units =", "time_zone", "treat_from", "latitude_deg")]
    assert lines == sorted(expected)
    assert "136.4" in str(error)


def test_the_right_table_of_several_is_named(folder: Path) -> None:
    text, error = _faults(
        folder, "labels.toml", ("least_days = 14\n  most_days = 14", "least_days = 15\n  most_days = 14")
    )
    (fault,) = error.faults
    assert fault.column == "label[1].use[2]"
    assert fault.line in range(_line(text, "least_days = 15") - 6, _line(text, "least_days = 15") + 1)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("fl oz/1000 sq ft", "fl oz/acre"), "unit must be one of"),
        (('disease = "brown_patch"', 'disease = "brown_pach"'), "did you mean 'brown_patch'"),
        (("tall_fescue", "tall_fescu"), "did you mean 'tall_fescue'"),
        (("amount = 12.0", "amount = 1.0"), "above the most per year"),
        (('keep_off = "people and pets stay off until the spray has dried (invented label)."\n', ""), "Field required"),
        (('key = "reach-two"', 'key = "alder-one"'), "two labels have the same key"),
        (
            ('rate = { amount = 2.5, unit = "fl oz', 'rate = { amount = 2.5, unit = "oz'),
            "all be volumes or all be weights",
        ),
    ],
)
def test_a_label_typed_wrongly_is_refused(folder: Path, change: tuple[str, str], told: str) -> None:
    _, error = _faults(folder, "labels.toml", change)
    assert told in str(error)


@pytest.mark.parametrize(
    ("change", "line", "column", "told"),
    [
        (("tall_fescue,43560", "tall fescue,43560"), 2, "grass", "did you mean 'tall_fescue'"),
        (("tall_fescue,9000", "tall_fescue,"), 3, "", "size_sq_ft or size_m2"),
        (("tall_fescue,9000", "tall_fescue,-9"), 3, "size_sq_ft", "greater than 0"),
        (("tue fri,19:00", "tues fri,19:00"), 3, "irrigation_days", "no weekday"),
        (("mon wed fri,05:00", "mon wed fri,"), 4, "", "days, start and depth together"),
        (("tern-green,Tern", "tern-green,north-field,Tern"), 5, "", "more cells"),
        ((",green,", ",north-field,"), 5, "area_id", "stands in an earlier line"),
        (("Courtyard,alder-reach", "Courtyard,elsewhere"), 6, "station_id", "no station"),
        (("brown_patch,alder-one", "brown_patch,alder-nine"), 2, "label", "no label"),
    ],
)
def test_a_wrong_cell_is_named_by_line_and_column(
    folder: Path, change: tuple[str, str], line: int, column: str, told: str
) -> None:
    _, error = _faults(folder, "properties.csv", change)
    (fault,) = error.faults
    assert (fault.line, fault.column) == (line, column)
    assert told in fault.text


def test_a_column_that_is_missing_or_unknown_is_named(folder: Path) -> None:
    _, error = _faults(folder, "properties.csv", ("area_name", "aria_name"))
    assert "did you mean 'area_name'" in str(error)
    assert any(fault.column == "area_name" and fault.text == "missing" for fault in error.faults)


def test_a_moment_with_an_offset_is_refused_where_clock_time_is_meant(folder: Path) -> None:
    _, error = _faults(folder, "grounds.toml", ("2050-07-25T05:30:00", "2050-07-25T05:30:00Z"))
    assert "without an offset" in str(error)


def test_broken_toml_says_where(folder: Path) -> None:
    _, error = _faults(folder, "grounds.toml", ("[decisions]", "[decisions"))
    assert "line" in str(error)


def test_an_older_or_newer_schema_is_refused(folder: Path) -> None:
    _, error = _faults(folder, "grounds.toml", ("schema = 1", "schema = 2"))
    assert error.faults[0].column == "schema"


def test_a_folder_that_is_no_workspace_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(MissingInputError, match="forecast start"):
        read_settings(tmp_path)


@pytest.mark.parametrize(
    ("zone", "longitude", "minutes"),
    [
        ("America/New_York", -79.6, -300),
        ("Australia/Sydney", 151.2, 600),  # southern summer time in January
        ("Asia/Kolkata", 77.2, 330),
        ("Europe/Dublin", -6.3, 0),  # its law calls summer time the standard; the sun does not
        ("Pacific/Auckland", 174.8, 720),
    ],
)
def test_standard_time_is_the_same_all_year(folder: Path, zone: str, longitude: float, minutes: int) -> None:
    path = folder / "grounds.toml"
    text = path.read_text(encoding="utf-8").replace("America/New_York", zone).replace("-79.6", str(longitude))
    path.write_text(text, encoding="utf-8")
    assert read_settings(folder).grounds.standard_offset_minutes(2026) == minutes


def test_a_longitude_of_the_wrong_sign_is_seen_by_its_time_zone(folder: Path) -> None:
    _, error = _faults(folder, "grounds.toml", ("longitude_deg = -79.6", "longitude_deg = 79.6"))
    assert "is its sign right" in str(error)
