"""What the pages say: amounts rounded down, distances, names that tell areas apart, and nothing that is not so."""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from demo_workspace import demo_copy
from hypothesis import given
from hypothesis import strategies as st

from forecast.cli.common import open_workspace
from forecast.desk.morning import morning
from forecast.desk.station import check_station
from forecast.ingest.keep import withdrawals
from forecast.report.as_html import morning_html
from forecast.report.as_text import morning_text
from forecast.report.page import DiseaseReport, Made, MorningPage, PlaceReport
from forecast.report.sentences import data_sentence, need_sentence
from forecast.report.station import StationReport, VerdictReport, WithdrawalReport, station_text
from forecast.report.words import NBSP, distance_words, in_ten, product_words
from forecast.units import G_PER_LB, G_PER_OZ, L_PER_US_GAL, ML_PER_FL_OZ

TODAY = date(2050, 7, 25)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_copy(tmp_path_factory.mktemp("words") / "w")


def page_at(folder: Path, moment: datetime | None = None) -> MorningPage:
    settings, database = open_workspace(folder)
    told = moment or settings.grounds.as_of
    assert told is not None
    page = morning(settings, database, told.replace(tzinfo=settings.grounds.zone), replay=True)
    database.close()
    return page


@pytest.fixture(scope="module")
def page(demo: Path) -> MorningPage:
    return page_at(demo)


@pytest.fixture(scope="module")
def before_any_reading(demo: Path) -> MorningPage:
    """The demo's readings begin on 1 November 2040."""
    return page_at(demo, datetime(2040, 10, 30, 5, 30))  # noqa: DTZ001


@pytest.fixture(scope="module")
def first_weeks(demo: Path) -> MorningPage:
    return page_at(demo, datetime(2040, 11, 20, 5, 30))  # noqa: DTZ001


def flat(text: str) -> str:
    """The text with every run of blanks as one."""
    return " ".join(text.split())


def read_html(page: MorningPage) -> str:
    """The words of the HTML page."""
    return flat(html.unescape(re.sub(r"<[^>]*>", "", morning_html(page).partition("<body>")[2])))


# ---------------------------------------------------------------------------------------------------------------------
# Amounts


@pytest.mark.parametrize(
    ("amount", "measure", "us", "told"),
    [
        (65.39 * ML_PER_FL_OZ, "mL", True, "65.3 fl oz"),
        (10 * ML_PER_FL_OZ, "mL", True, "10 fl oz"),
        (1279.99 * ML_PER_FL_OZ, "mL", True, "1,279.9 fl oz"),  # 10 gal are 1,280 fl oz
        (1000 * L_PER_US_GAL * 10, "mL", True, "10 gal"),
        (1000 * L_PER_US_GAL * 1234.567, "mL", True, "1,234.56 gal"),
        (159.99 * G_PER_OZ, "g", True, "159.9 oz by weight"),  # 10 lb are 160 oz
        (25.999 * G_PER_LB, "g", True, "25.99 lb"),
        (1999.99, "mL", False, "1,999.9 mL"),
        (9999.99, "mL", False, "9,999.9 mL"),
        (114500.79, "mL", False, "114.5 L"),
        (114509.99, "mL", False, "114.5 L"),
        (1242090.0, "mL", False, "1,242.09 L"),
        (1242099.9, "mL", False, "1,242.09 L"),
        (12.78, "g", False, "12.7 g"),
        (25999.0, "g", False, "25.99 kg"),
        (0.0, "mL", False, "0 mL"),
    ],
)
def test_product_is_rounded_down_in_a_unit_of_sensible_size(amount: float, measure: str, us: bool, told: str) -> None:
    assert product_words(amount, measure, us=us) == told


IN_ML = {"mL": 1.0, "L": 1000.0, "fl oz": ML_PER_FL_OZ, "gal": 1000 * L_PER_US_GAL}


@given(amount=st.floats(0, 1e9), us=st.booleans())
def test_the_product_printed_is_never_more_than_the_product_and_little_less(amount: float, us: bool) -> None:
    number, unit = product_words(amount, "mL", us=us).split(" ", 1)
    step = 0.1 if unit in ("mL", "fl oz") else 0.01
    least_digit = step * IN_ML[unit]
    printed = float(number.replace(",", "")) * IN_ML[unit]
    hair = (
        1e-5 * least_digit + 1e-12 * amount
    )  # a millionth of the last figure is let pass upwards, and a float's error
    assert amount - least_digit - hair <= printed <= amount + hair


# ---------------------------------------------------------------------------------------------------------------------
# Shares and distances


@pytest.mark.parametrize(
    ("share", "told"),
    [
        (0.0, "less than 1 in 10"),
        (0.04, "less than 1 in 10"),
        (0.14, "about 1 in 10"),
        (0.94, "about 9 in 10"),
        (0.96, "nearly all"),
        (0.999, "nearly all"),
    ],
)
def test_what_is_not_certain_is_never_ten_in_ten(share: float, told: str) -> None:
    assert in_ten(share) == told


@pytest.mark.parametrize(
    ("km", "us", "told"),
    [
        (0.0, True, "on site"),
        (0.05, False, "on site"),
        (0.07, False, "70 m away at the same height"),
        (0.07, True, "230 ft away at the same height"),  # 70 / 0.3048 = 229.7
        (0.16, True, "525 ft away at the same height"),  # 0.0994 miles
        (0.17, True, "0.1 miles away at the same height"),
        (0.099, False, "99 m away at the same height"),
        (0.1, False, "0.1 km away at the same height"),
        (16.09344, True, "10.0 miles away at the same height"),
    ],
)
def test_a_station_near_by_is_never_nought_miles_away(km: float, us: bool, told: str) -> None:
    assert distance_words(km, 0.0, us=us).replace(NBSP, " ") == told


def test_a_station_is_higher_or_lower_in_the_readers_unit() -> None:
    assert distance_words(3.3, 30.0, us=True).replace(NBSP, " ") == "2.1 miles away, 98 ft higher"  # 30 / 0.3048
    assert distance_words(3.3, -30.0, us=False).replace(NBSP, " ") == "3.3 km away, 30 m lower"


# ---------------------------------------------------------------------------------------------------------------------
# Names of areas


def _named(page: MorningPage, names: Sequence[tuple[str, str]]) -> MorningPage:
    """The page with other names of areas and properties, one pair an area."""
    areas = zip(page.areas, names, strict=True)
    return replace(page, areas=tuple(replace(area, area_name=a, property_name=p) for area, (a, p) in areas))


def _summaries(page: MorningPage) -> tuple[str, str]:
    """The grouped lines of the text and of the HTML page."""
    text = flat(morning_text(page).partition(page.areas[0].property_name + " · ")[0])
    return text, read_html(page).partition("Chances are")[0]


def test_areas_of_one_name_are_told_apart_by_their_property(page: MorningPage) -> None:
    clients = [("Front lawn", f"{number} Quarry Lane") for number in (1, 3, 5, 7)]
    for told in _summaries(_named(page, [*clients, ("Courtyard", "Harbour Court")])):
        assert "UNKNOWN diseases without a tested model: Front lawn (1 Quarry Lane), " in told
        assert "Front lawn (3 Quarry Lane), Front lawn (5 Quarry Lane)" in told
        assert "SCOUT brown patch, no model tested on the grass: Courtyard" in told
        assert "Courtyard (" not in told


def test_areas_of_one_name_at_properties_of_one_name_are_told_apart_by_their_id(page: MorningPage) -> None:
    alike = [("Front lawn", "Smith"), ("Front lawn", "Smith"), ("Front lawn", "Jones"), ("B", "C"), ("D", "E")]
    for told in _summaries(_named(page, alike)):
        assert "Front lawn (Smith, north-field), Front lawn (Smith, oak-strip), Front lawn (Jones)" in told


# ---------------------------------------------------------------------------------------------------------------------
# How good the data are


def _place(page: MorningPage, name: str, age_minutes: int | None, missing: int) -> PlaceReport:
    return replace(page.places[0], place_id=name, name=name, age_minutes=age_minutes, hours_missing=missing)


def _told_of(page: MorningPage, *places: PlaceReport) -> str:
    return data_sentence(replace(page, places=places))


def test_of_one_place_the_figures_are_told_without_a_name(page: MorningPage) -> None:
    told = _told_of(page, _place(page, "A", 210, 3))
    assert told == "Last reading 3 h 30 min ago; last week 0 h filled, 3 h missing."
    assert _told_of(page, _place(page, "A", None, 168)) == "No weather is known yet."


def test_of_several_places_the_worst_is_named_and_nothing_is_added_up(page: MorningPage) -> None:
    told = _told_of(page, _place(page, "A", 210, 3), _place(page, "B", 450, 9), _place(page, "C", 210, 3))
    assert told == "Worst of 3 places: B, last reading 7 h 30 min ago; last week 0 h filled, 9 h missing."
    alike = [_place(page, name, 210, 3) for name in "ABCDE"]
    told = _told_of(page, *alike)
    assert told == "Last reading 3 h 30 min ago; last week 0 h filled, 3 h missing at each place."


def test_the_place_longest_silent_and_the_place_with_most_missing_are_both_told(page: MorningPage) -> None:
    told = _told_of(page, _place(page, "A", 210, 90), _place(page, "B", 450, 9), _place(page, "C", 60, 1))
    assert "B, last reading 7 h 30 min ago" in told
    assert "A, last reading 3 h 30 min ago; last week 0 h filled, 90 h missing" in told
    assert "C" not in told


def test_places_without_a_reading_are_the_worst_and_are_named(page: MorningPage) -> None:
    told = _told_of(page, _place(page, "A", 210, 3), _place(page, "B", None, 168), _place(page, "C", None, 168))
    assert told.startswith("No reading yet at B, C. ")
    assert "A, last reading 3 h 30 min ago; last week 0 h filled, 3 h missing" in told
    assert _told_of(page, *[_place(page, name, None, 168) for name in "AB"]) == "No weather is known yet."


# ---------------------------------------------------------------------------------------------------------------------
# The weather forecast


def test_a_forecast_that_is_set_and_not_there_is_not_called_unset(page: MorningPage) -> None:
    bare = replace(page, places=tuple(replace(place, weather_forecast=None) for place in page.places))
    for is_set, words in (
        (False, "No weather forecast is set: past years speak"),
        (True, "A weather forecast is set, and none had been fetched by then: past years speak"),
    ):
        for told in (
            flat(morning_text(replace(bare, forecast_is_set=is_set))),
            read_html(replace(bare, forecast_is_set=is_set)),
        ):
            assert words in told


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        (
            {"enters": False},
            "it does not enter the chances: it is more than two days old, lacks temperature or humidity",
        ),
        ({"learned_from": 0}, "it enters the chances by an assumed skill"),
        ({"learned_from": 1}, "by how 1 issued day of it came true here and, for want of more, an assumed skill"),
        ({"learned_from": 59}, "by how 59 issued days of it came true here and, for want of more, an assumed skill"),
        ({"learned_from": 60}, "by how 60 issued days of it came true here."),
    ],
)
def test_how_a_forecast_enters_the_chances_is_said(page: MorningPage, changes: dict[str, Any], words: str) -> None:
    (place,) = page.places
    assert place.weather_forecast is not None
    told = replace(place, weather_forecast=replace(place.weather_forecast, **changes))
    assert words in flat(morning_text(replace(page, places=(told,))))


def test_whether_a_forecast_is_set_comes_from_the_settings(tmp_path: Path, page: MorningPage) -> None:
    assert not page.forecast_is_set
    folder = demo_copy(tmp_path / "w")
    grounds = folder / "grounds.toml"
    grounds.write_text(f'{grounds.read_text()}\n[weather_forecast]\nshape = "grid_intervals"\n')
    assert page_at(folder).forecast_is_set


# ---------------------------------------------------------------------------------------------------------------------
# Little or nothing known


def test_a_page_without_weather_claims_no_chance_no_index_and_no_past_years(before_any_reading: MorningPage) -> None:
    for told in (flat(morning_text(before_any_reading)), read_html(before_any_reading)):
        assert "Nor is today's weather known well enough." in told
        assert "nothing is known of the days ahead" in told
        for untrue in ("is shown", "Chances are", "Chances follow", "past years speak", "So far:"):
            assert untrue not in told


def test_a_page_with_weather_and_no_past_years_shows_todays_index(first_weeks: MorningPage) -> None:
    for told in (flat(morning_text(first_weeks)), read_html(first_weeks)):
        assert "there are no past years of weather here. Only today's index is shown." in told
        assert "Chances are the usual ones" not in told
        assert "Chances follow" not in told
        assert "So far: the hours not yet read" in told


def _made_of(page: MorningPage, made: Made) -> MorningPage:
    """The page with all single days made of one thing."""
    return replace(
        page,
        areas=tuple(
            replace(
                area,
                diseases=tuple(
                    replace(one, days=tuple(replace(day, made=made) for day in one.days)) for one in area.diseases
                ),
            )
            for area in page.areas
        ),
    )


@pytest.mark.parametrize(
    ("made", "words", "why"),
    [
        ("past_years", "Chances are the usual ones for these dates", "Climatology: made of 9 past years"),
        (
            "readings",
            "Chances follow the last readings for a few days",
            "Made of 9 past years here around these dates and of the last readings",
        ),
        (
            "forecast",
            "Chances follow the weather forecast as far as it is worth following",
            "and of the weather forecast and the last readings",
        ),
    ],
)
def test_a_page_with_chances_says_what_they_are(page: MorningPage, made: Made, words: str, why: str) -> None:
    for told in (flat(morning_text(_made_of(page, made))), read_html(_made_of(page, made))):
        assert words in told
        assert why in told
        assert "So far: the hours not yet read" in told


@pytest.mark.parametrize("which", ["page", "before_any_reading", "first_weeks"])
def test_nothing_that_can_be_opened_is_empty(which: str, request: pytest.FixtureRequest) -> None:
    page: MorningPage = request.getfixturevalue(which)
    folded = re.findall(r"<details>(.*?)</details>", morning_html(page), flags=re.DOTALL)
    assert folded
    assert all("<p" in one for one in folded)


# ---------------------------------------------------------------------------------------------------------------------
# Days


def _planned(page: MorningPage, first: date, last: date) -> DiseaseReport:
    disease = next(one for area in page.areas for one in area.diseases if one.days)
    return replace(disease, answer="scout", needed_by=date(2050, 7, 30), first_day=first, last_day=last)


def test_one_sensible_day_is_no_span(page: MorningPage) -> None:
    told = need_sentence(_planned(page, TODAY, TODAY), TODAY).replace(NBSP, " ")
    assert told == "Cover is needed by the night before Sat 30 Jul; the sensible day for it is Mon 25 Jul."
    told = need_sentence(_planned(page, TODAY, date(2050, 7, 27)), TODAY).replace(NBSP, " ")
    assert told.endswith("; sensible days for it are Mon 25 Jul to Wed 27 Jul.")
    told = need_sentence(_planned(page, date(2050, 7, 28), date(2050, 7, 27)), TODAY).replace(NBSP, " ")
    assert told == "Cover is needed by the night before Sat 30 Jul."


# ---------------------------------------------------------------------------------------------------------------------
# The station check

SCATTERED = VerdictReport(
    check="cloudy",
    looks_for="cloud",
    quantity="cloud_cover_fraction",
    meaning="share of the sky covered by cloud",
    unit="1",
    flag="suspect",
    hours=8,
    first_hour_utc=datetime(2045, 1, 9, 17, tzinfo=UTC),
    last_hour_utc=datetime(2050, 1, 18, 20, tzinfo=UTC),
    example=0.65,
    limit="too cloudy",
    source="invented",
)
UNBROKEN = replace(SCATTERED, last_hour_utc=datetime(2045, 1, 10, 0, tzinfo=UTC), unit="°C")
HELD = WithdrawalReport(
    number=1,
    quantity="rain_mm",
    first_hour_utc=datetime(2050, 7, 1, 4, tzinfo=UTC),
    last_hour_utc=datetime(2050, 7, 2, 3, tzinfo=UTC),
    reason="a wasp in the gauge",
    by_whom="Ann",
    given_back_utc=None,
    given_back_reason="",
)


def _station(*, verdicts: tuple[VerdictReport, ...] = (), withdrawn: tuple[WithdrawalReport, ...] = ()) -> str:
    report = StationReport(
        schema=1,
        station_id="field",
        name="A field",
        first_hour_utc=datetime(2050, 7, 1, 5, tzinfo=UTC),
        last_hour_utc=datetime(2050, 7, 3, 4, tzinfo=UTC),
        completeness=(),
        filled_hours=0,
        verdicts=verdicts,
        findings=(),
        wetness="",
        withdrawals=withdrawn,
        providers=(),
    )
    return flat(station_text(report))


def test_the_station_check_says_utc_wherever_it_prints_utc() -> None:
    told = _station(verdicts=(SCATTERED, UNBROKEN), withdrawn=(HELD,))
    assert told.startswith("A field (field), 2050-07-01 05:00 UTC to 2050-07-03 04:00 UTC")
    moments = re.findall(r"\d{4}-\d\d-\d\d(?: \d\d:\d\d)?( UTC)?", told)
    assert len(moments) == 8
    assert set(moments) == {" UTC"}
    assert "months of UTC" in told


def test_scattered_hours_are_no_span() -> None:
    assert "8 h, between 2045-01-09 17:00 UTC and 2050-01-18 20:00 UTC: " in _station(verdicts=(SCATTERED,))
    assert "8 h, 2045-01-09 17:00 UTC to 2045-01-10 00:00 UTC: " in _station(verdicts=(UNBROKEN,))
    one = replace(SCATTERED, hours=1, last_hour_utc=SCATTERED.first_hour_utc)
    assert "1 h, 2045-01-09 17:00 UTC: " in _station(verdicts=(one,))


def test_a_share_has_no_unit() -> None:
    assert "; the first 0.65. Check" in _station(verdicts=(SCATTERED,))
    assert "; the first 0.65 °C. Check" in _station(verdicts=(UNBROKEN,))


def test_what_was_given_back_says_when_and_why() -> None:
    held = "1: rain_mm from 2050-07-01 04:00 UTC to 2050-07-02 03:00 UTC by Ann: a wasp in the gauge."
    assert held in _station(withdrawn=(HELD,))
    assert "Given back" not in _station(withdrawn=(HELD,))
    back = replace(HELD, given_back_utc=datetime(2050, 7, 5, 6, tzinfo=UTC), given_back_reason="it was another gauge")
    assert f"{held} Given back 2050-07-05 06:00 UTC: it was another gauge." in _station(withdrawn=(back,))


def test_the_check_of_a_station_knows_when_and_why_readings_were_given_back(tmp_path: Path) -> None:
    settings, database = open_workspace(demo_copy(tmp_path / "w"))
    noted = datetime(2050, 7, 20, 6, tzinfo=UTC)
    first = np.datetime64("2050-07-10T05", "h")
    for reason in ("wet", "a wasp"):
        withdrawals.withdraw(database, "alder-reach", "rain_mm", first, None, reason=reason, by_whom="", now=noted)
    withdrawals.give_back(database, 1, reason="dry", by_whom="", now=datetime(2050, 7, 21, 6, 30, tzinfo=UTC))
    report, _ = check_station(settings, database, "alder-reach")
    database.close()
    back, held = report.withdrawals
    assert (back.given_back_utc, back.given_back_reason) == (datetime(2050, 7, 21, 6, 30, tzinfo=UTC), "dry")
    assert (held.given_back_utc, held.given_back_reason) == (None, "")
