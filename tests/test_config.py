"""Settings files: every mistake at once, by line and key, and nothing guessed."""

from __future__ import annotations

import csv
import shutil
from datetime import date, time
from pathlib import Path

import pytest

from forecast.canopy.surroundings import surroundings
from forecast.care.soil import TEXTURES
from forecast.config import read_settings
from forecast.errors import MissingInputError, SettingsError
from forecast.turf import Area, DewRemoval, Ground, Irrigation, Setting
from forecast.wetness import BEST_KNOWN, METHODS
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
        (("fl oz/1000 sq ft", "fl oz/lawn"), "unit is none known here"),
        (('disease = "brown_patch"', 'disease = "brown_pach"'), "did you mean 'brown_patch'"),
        (("tall_fescue", "tall_fescu"), "did you mean 'tall_fescue'"),
        (("amount = 12.0", "amount = 1.0"), "1.5 fl oz per 1,000 sq ft is above the most per year, 1 fl oz per"),
        (('formulation = "SC"', 'formulation = "WG"'), "measured by weights"),
        (('formulation = "SC"', 'formulation = "GR"'), "spread dry are not planned with yet"),
        (('temperature_most = { amount = 95, unit = "F" }', "temperature_most = 95"), "wants a table of its own"),
        # 12 fl oz of 120 g/L are 42.6 g on 92.9 m², 4.1 lb an acre.
        (
            ('frac = "invented-a"', 'frac = "invented-a"\n  most_per_year = { amount = 60, unit = "lb/acre" }'),
            "is its concentration typed in the right unit?",
        ),
        (
            ('keep_off = "people and pets stay off until the spray has dried (invented label)."\n', ""),
            "this key is missing",
        ),
        (('key = "reach-two"', 'key = "alder-one"'), "two labels have the same key"),
        (("schema = 2", "schema = 1"), "give each active ingredient a table"),
        (("schema = 2", "schema = 3"), "this version reads schema 2"),
        (('"school", "park"', '"shool", "park"'), "'shool' is no kind of site known here"),
        (('sites = ["home_lawn",', 'sites = ["any", "home_lawn",'), "either any, or those that the label names"),
        (('most_per_year = { amount = 12.0, unit = "fl oz/1000 sq ft" }\n', ""), "this key is missing"),
        (("least = 1.0, most = 4.0", "least = 2.5, most = 4.0"), "outside the label's own least and most"),
        (('formulation = "SC"', 'formulation = "XX"'), "no formulation known here"),
        (('amount = 120, unit = "g/L"', 'amount = 12, unit = "%"'), "has to be in one of g/L, lb/gal"),
        (('amount = 120, unit = "g/L"', 'amount = 2500, unit = "g/L"'), "more than a product can hold"),
        (
            ('concentration = { amount = 120, unit = "g/L" }', 'most_per_year = { amount = 1, unit = "lb/acre" }'),
            "needs its concentration",
        ),
        (
            ('frac = "invented-a"', 'frac = "invented-a"\n  most_per_year = { amount = 1, unit = "pt/acre" }'),
            "a weight on a surface",
        ),
        # 2.5 fl oz per 1,000 sq ft of 120 g/L are 8.87 g on 92.9 m²: 0.85 lb an acre.
        (
            ('frac = "invented-a"', 'frac = "invented-a"\n  most_per_year = { amount = 0.84, unit = "lb/acre" }'),
            "brings more inventol than its most per year",
        ),
        (
            ('name = "inventol"', 'name = "inventol"\n  [[label.ingredient]]\n  name = "Inventol"'),
            "an ingredient stands there twice",
        ),
        (('condition = "established"', 'condition = "preventive"'), "two rows for brown_patch on creeping_bentgrass"),
        (("rain_free_hours = 3", 'year = "season"'), "needs its season_start"),
        (("rain_free_hours = 3", 'season_start = "03-01"'), "needs its season_start"),
        (("rain_free_hours = 3", 'year = "season"\nseason_start = "02-29"'), "no day of every year"),
        (("rain_free_hours = 3", 'year = "season"\nseason_start = "1 March"'), "like 03-01"),
        (("wind_least = { amount = 2,", "wind_least = { amount = 12,"), "wind_least is not below wind_most"),
        (
            ("rain_free_hours = 3", 'temperature_least = { amount = 35, unit = "C" }'),
            "temperature_least is not below temperature_most",  # 95 °F are 35 °C
        ),
        (
            (
                "rain_free_hours = 3",
                'rain_free_hours = 3\nwater_in = { least = 1, most = 2, unit = "mm", within_hours = 9 }',
            ),
            "either watered in or kept free of rain",
        ),
        (
            ("rain_free_hours = 3", 'water_in = { least = 3, most = 2, unit = "mm", within_hours = 9 }'),
            "least must not be above most",
        ),
        (
            ('rate = { amount = 1.5, unit = "fl oz', 'rate = { amount = 1.5, most = 1.0, unit = "fl oz'),
            "most must not be below amount",
        ),
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
        (("tall_fescue,school,43560", "tall fescue,school,43560"), 2, "grass", "did you mean 'tall_fescue'"),
        (("school,9000", "school,"), 3, "", "size_sq_ft or size_m2"),
        (("school,9000", "school,-9"), 3, "size_sq_ft", "greater than 0"),
        (("school,9000", "shool,9000"), 3, "site", "did you mean 'school'"),
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


LAWN = {
    "property_id": "home",
    "property_name": "Home",
    "area_id": "lawn",
    "area_name": "Lawn",
    "station_id": "alder-reach",
    "grass": "tall_fescue",
    "size_sq_ft": "1000",
}


def _write_area(folder: Path, cells: dict[str, str]) -> None:
    with (folder / "properties.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, [*LAWN, *(name for name in cells if name not in LAWN)])
        writer.writeheader()
        writer.writerow({**LAWN, **cells})


def _area(folder: Path, **cells: str) -> Area:
    _write_area(folder, cells)
    (area,) = read_settings(folder).areas
    return area


def _fault(folder: Path, **cells: str) -> tuple[str, str]:
    """Column and text of the one mistake of one row."""
    _write_area(folder, cells)
    with pytest.raises(SettingsError) as caught:
        read_settings(folder)
    (fault,) = caught.value.faults
    assert fault.line == 2
    return fault.column, fault.text


def test_an_area_with_nothing_more_said_is_open_turf_of_the_usual_cut(folder: Path) -> None:
    area = _area(folder)
    assert area.setting == Setting()
    assert area.setting.mowing_height_mm == 75.0, "a lawn's 3 inches, by habit"
    assert area.ground == Ground(), "what nobody said is not known"


def test_an_area_takes_all_that_its_row_says(folder: Path) -> None:
    area = _area(
        folder,
        light_let_through_fraction="0.4",
        sky_seen_fraction="0.8",
        wind_let_through_fraction="0.7",
        shaded_from="w n",
        mowing_height_mm="88",
        density="dense",
        irrigation_days="fri tue",
        irrigation_start="19:30",
        irrigation_depth_mm="12",
        dew_removal_days="mon",
        dew_removal_at="6:45",
        soil_texture="silt_loam",
        rooting_depth_mm="150",
        drainage="poor",
        compacted="yes",
        thatch_mm="12",
        nitrogen="high",
        cultivar="susceptible",
    )
    irrigation, dew_removal = Irrigation((1, 4), time(19, 30), 12.0), DewRemoval((0,), time(6, 45))
    assert area.setting == Setting(0.4, 0.8, 0.7, ("n", "w"), 88.0, "dense", irrigation, dew_removal)
    assert area.ground == Ground("silt_loam", 150.0, "poor", True, 12.0, "high", "susceptible")


def test_words_for_the_surroundings_come_to_their_numbers(folder: Path) -> None:
    words = "trees to the east, open sky"
    setting, told = _area(folder, surroundings=words).setting, surroundings(words)
    assert setting.light_let_through_fraction == told.light_let_through_fraction < 1
    assert setting.sky_seen_fraction == told.sky_seen_fraction < 1
    assert setting.wind_let_through_fraction == told.wind_let_through_fraction < 1
    assert setting.shaded_from == told.shaded_from == ("e",)


def test_inches_come_to_millimetres(folder: Path) -> None:
    area = _area(
        folder,
        mowing_height_in="3.5",
        rooting_depth_in="6",
        irrigation_days="mon",
        irrigation_start="05:00",
        irrigation_depth_in="0.5",
    )
    # 1 in is 25.4 mm: 88.9, 152.4, 12.7.
    assert area.setting.mowing_height_mm == pytest.approx(88.9, abs=1e-9)
    assert area.ground.rooting_depth_mm == pytest.approx(152.4, abs=1e-9)
    assert area.setting.irrigation == Irrigation((0,), time(5), 0.5 * 25.4)


def test_the_same_days_in_another_order_are_the_same_setting(folder: Path) -> None:
    water = {"irrigation_start": "05:00", "irrigation_depth_mm": "6"}
    one = _area(folder, irrigation_days="mon thu", **water)
    assert one.setting == _area(folder, irrigation_days="thu mon thu", **water).setting


def test_every_soil_of_the_table_is_taken_and_not_compacted_is_not_unknown(folder: Path) -> None:
    for key in TEXTURES:
        assert _area(folder, soil_texture=key).ground.soil_texture == key
    assert _area(folder, compacted="no").ground.compacted is False


@pytest.mark.parametrize(
    ("cells", "column", "told"),
    [
        ({"surroundings": "tress to the east"}, "surroundings", "did you mean 'trees'"),
        ({"surroundings": "trees"}, "surroundings", "name a side for the trees"),
        (
            {"surroundings": "under trees", "sky_seen_fraction": "0.5"},
            "",
            "give either surroundings or numbers of your own: empty it, or sky_seen_fraction",
        ),
        ({"surroundings": "open", "light_let_through_fraction": "1"}, "", "light_let_through_fraction"),
        ({"surroundings": "open", "wind_let_through_fraction": "1"}, "", "wind_let_through_fraction"),
        ({"surroundings": "under trees", "shaded_from": "e"}, "", "shaded_from"),
        ({"light_let_through_fraction": "0.5", "shaded_from": "e x"}, "shaded_from", "'x' is no side; write n ne e"),
        ({"shaded_from": "e"}, "", "shaded_from needs light_let_through_fraction below 1"),
        ({"mowing_height_mm": "75", "mowing_height_in": "3"}, "", "either mowing_height_mm or mowing_height_in"),
        ({"rooting_depth_mm": "75", "rooting_depth_in": "3"}, "", "either rooting_depth_mm or rooting_depth_in"),
        ({"size_m2": "75"}, "", "either size_sq_ft or size_m2"),
        (
            {
                "irrigation_days": "mon",
                "irrigation_start": "05:00",
                "irrigation_depth_mm": "6",
                "irrigation_depth_in": "0.25",
            },
            "",
            "either irrigation_depth_mm or irrigation_depth_in",
        ),
        ({"irrigation_depth_in": "0.25"}, "", "days, start and depth together"),
        ({"irrigation_days": "mon", "irrigation_depth_in": "0.25"}, "", "days, start and depth together"),
        ({"dew_removal_days": "mon"}, "", "dew_removal_days and dew_removal_at together"),
        ({"dew_removal_at": "06:00"}, "", "dew_removal_days and dew_removal_at together"),
        ({"dew_removal_days": "monday", "dew_removal_at": "06:00"}, "dew_removal_days", "no weekday"),
        ({"irrigation_start": "19"}, "irrigation_start", "hours and minutes of 24 hours"),
        ({"irrigation_start": "0500"}, "irrigation_start", "hours and minutes of 24 hours"),
        ({"irrigation_start": "05:00Z"}, "irrigation_start", "hours and minutes of 24 hours"),
        ({"irrigation_start": "24:00"}, "irrigation_start", "hour"),
        ({"mowing_height_mm": "0"}, "mowing_height_mm", "greater than 0"),
        ({"mowing_height_in": "75"}, "mowing_height_in", "less than or equal to 12"),
        ({"density": "tight"}, "density", "'thin', 'usual' or 'dense'"),
        ({"soil_texture": "silt loam"}, "soil_texture", "did you mean 'silt_loam'"),
        ({"drainage": "bad"}, "drainage", "'good' or 'poor'"),
        ({"compacted": "true"}, "compacted", "'yes' or 'no'"),
        ({"thatch_mm": "-1"}, "thatch_mm", "greater than or equal to 0"),
        ({"nitrogen": "lots"}, "nitrogen", "'low', 'usual' or 'high'"),
        ({"cultivar": "good"}, "cultivar", "'susceptible', 'usual' or 'resistant'"),
    ],
)
def test_a_setting_that_cannot_be_is_told_by_its_column(
    folder: Path, cells: dict[str, str], column: str, told: str
) -> None:
    found, text = _fault(folder, **cells)
    assert found == column
    assert told in text


@pytest.mark.parametrize("key", [BEST_KNOWN, *METHODS])
def test_every_wetness_method_can_be_chosen(folder: Path, key: str) -> None:
    path = folder / "grounds.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('units = "us"', f'units = "us"\nwetness = "{key}"', 1), encoding="utf-8")
    assert read_settings(folder).grounds.wetness == key


def test_the_best_method_that_the_weather_suffices_for_is_taken_unless_another_is_named(folder: Path) -> None:
    assert "wetness" not in (folder / "grounds.toml").read_text(encoding="utf-8")
    assert read_settings(folder).grounds.wetness == BEST_KNOWN


def test_a_wetness_method_that_is_none_is_told_with_the_nearest(folder: Path) -> None:
    _, error = _faults(folder, "grounds.toml", ('units = "us"', 'units = "us"\nwetness = "energy_balanse"'))
    assert "did you mean 'energy_balance'" in str(error)
    assert BEST_KNOWN in str(error)


def test_a_column_that_is_missing_or_unknown_is_named(folder: Path) -> None:
    _, error = _faults(folder, "properties.csv", ("area_name", "aria_name"))
    assert "did you mean 'area_name'" in str(error)
    assert any(fault.column == "area_name" and fault.text == "missing" for fault in error.faults)


def test_a_column_that_stands_twice_is_a_mistake(folder: Path) -> None:
    """A second grass would take the place of the first without a word."""
    _, error = _faults(folder, "properties.csv", ("soil_texture", "grass"))
    assert any(fault.text == "stands twice" and fault.column == "grass" for fault in error.faults)


def test_a_file_with_semicolons_is_told_so_and_nothing_else(folder: Path) -> None:
    path = folder / "properties.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",", ";"), encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        read_settings(folder)
    assert len(caught.value.faults) == 1
    assert "commas" in str(caught.value)


def test_empty_rows_and_blanks_around_a_cell_do_no_harm(folder: Path) -> None:
    path = folder / "properties.csv"
    before = read_settings(folder).areas
    text = path.read_text(encoding="utf-8").replace(",tall_fescue,", ", tall_fescue ,")
    path.write_text(text + "," * text.splitlines()[0].count(",") + "\n", encoding="utf-8")
    assert read_settings(folder).areas == before


@pytest.mark.parametrize("size", ["inf", "nan", "1e12", "0", "-5"])
def test_a_size_that_cannot_be_is_refused(folder: Path, size: str) -> None:
    _, error = _faults(folder, "properties.csv", (",43560,", f",{size},"))
    assert any(fault.column == "size_sq_ft" for fault in error.faults)


def test_a_disease_that_the_grass_cannot_have_is_refused_with_those_it_can(folder: Path) -> None:
    _, error = _faults(folder, "properties.csv", (",usual,,brown_patch,", ",usual,,large_patch,"))
    assert "large_patch is not looked for on tall_fescue" in str(error)
    assert "gray_leaf_spot" in str(error)


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


def test_a_label_is_read_as_it_is_printed(folder: Path) -> None:
    """120 g/L is 0.12 g a mL; 10 mph 4.4704 m/s; 95 °F 35 °C; 1.5 fl oz on 1,000 sq ft 44.36 mL on 92.90304 m²."""
    label = read_settings(folder).labels[0]
    assert label.ingredients[0].grams_per_unit == pytest.approx(0.12, rel=1e-12)
    assert label.weather.wind_most_m_s == pytest.approx(4.4704, rel=1e-12)
    assert label.weather.air_most_c == pytest.approx(35.0, rel=1e-12)
    assert label.uses[0].rate_per_m2 == pytest.approx(1.5 * 29.5735295625 / 92.90304, rel=1e-12)
    assert label.formulation == "SC"
    assert label.rotated_codes == ("invented-a",)


def test_a_list_of_resistance_groups_of_ones_own_takes_the_place_of_the_shipped_one(folder: Path) -> None:
    path = folder / "labels.toml"
    path.write_text(path.read_text().replace('frac = "invented-a"', 'frac = "m05"'))
    assert read_settings(folder).labels[0].rotated_codes == (), "M05 acts on many sites"
    own = 'schema = 1\nyear = 2027\n[[code]]\ncode = "M05"\ngroup = "invented"\nrisk = "invented"\n'
    (folder / "frac_codes.toml").write_text(own)
    assert read_settings(folder).labels[0].rotated_codes == ("m05",)
    (folder / "frac_codes.toml").write_text(own + own.split("2027\n")[1].replace("M05", "m05"))
    with pytest.raises(SettingsError, match="a code stands there twice"):
        read_settings(folder)
