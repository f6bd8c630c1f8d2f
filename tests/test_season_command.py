"""``forecast season``: what is printed is what the record shows, as of the moment asked about."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pytest
from click.testing import CliRunner
from demo_workspace import demo_copy

from forecast.cli import cli
from forecast.cli.common import open_workspace
from forecast.clock import date_of, utc_minute
from forecast.desk.hours import known_hours
from forecast.desk.stands import stands
from forecast.diseases import MODELS
from forecast.diseases.pressure import pressure
from forecast.errors import DataError
from forecast.report.opening import DiseaseSeason, PastOpening, SeasonArea, SeasonPage, Spread, Standing, Start
from forecast.report.opening_words import answer, common, how_sure, season_text, why
from forecast.stand import place_hours, stand_hours

APRIL = "2050-04-18T05:30"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_copy(tmp_path_factory.mktemp("season") / "w")


def _run(*arguments: str | Path, code: int = 0) -> str:
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments])
    assert done.exit_code == code, done.output
    return done.output


def _season(demo: Path, *more: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(_run("season", "-w", demo, "--json", *more))
    return found


def _of(page: dict[str, Any], area: str, disease: str) -> dict[str, Any]:
    here = next(one for one in page["areas"] if one["area_id"] == area)
    found: dict[str, Any] = next(one for one in here["diseases"] if one["disease"] == disease)
    return found


def _flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def april(demo: Path) -> dict[str, Any]:
    return _season(demo, "--as-of", APRIL)


@pytest.fixture(scope="module")
def event_days(demo: Path) -> list[date]:
    """The days in the whole demo record with a warm wet night on the North field, by the model itself."""
    settings, database = open_workspace(demo)
    hours = known_hours(settings, database)
    database.close()
    assert hours is not None
    stand = stands(settings)["north-field"]
    panel = hours.panel.only(hours.panel.series.index(stand.place_id))
    at_stand = stand_hours(place_hours(panel, stand.where), stand)
    model = MODELS["warm_wet_night"]
    told = pressure(model, at_stand.panel_for(model.wetness), -300)
    return [date_of(int(day)) for day in told.days[told.passed[:, 0] == 1]]


def _by_hand(event_days: list[date], year: int) -> date | None:
    """The first day from April to September that is an event day with another in the six days before."""
    for day in event_days:
        if day.year == year and 4 <= day.month <= 9 and any(1 <= (day - other).days <= 6 for other in event_days):
            return day
    return None


def test_past_openings_are_those_of_the_record(april: dict[str, Any], event_days: list[date]) -> None:
    told = _of(april, "north-field", "brown_patch")
    assert [one["year"] for one in told["past"]] == list(range(2041, 2050))
    for one in told["past"]:
        assert one["opened"] == str(_by_hand(event_days, one["year"])), one["year"]


def test_the_usual_range_lies_about_the_past_openings(april: dict[str, Any]) -> None:
    told = _of(april, "north-field", "brown_patch")
    of_year = sorted(date.fromisoformat(one["opened"]).replace(year=2050) for one in told["past"])
    early, middle, late = (date.fromisoformat(told["usual"][name]) for name in ("early", "middle", "late"))
    assert abs((middle - of_year[4]).days) <= 7
    assert early < middle < late
    assert sum(early <= day <= late for day in of_year) >= 7
    assert told["usual_start"]["spread"]["middle"] == str(date_of_number(middle, -14))


def date_of_number(day: date, more: int) -> date:
    return date.fromordinal(day.toordinal() + more)


def test_the_start_is_two_weeks_before_the_opening(april: dict[str, Any]) -> None:
    for area in april["areas"]:
        for told in area["diseases"]:
            if told["opened"] is not None:
                assert told["start"] is None
                continue
            for name in ("early", "middle", "late"):
                opens, starts = told["this_year"][name], told["start"]["spread"][name]
                assert (opens is None) == (starts is None)
                if opens is not None:
                    assert (date.fromisoformat(opens) - date.fromisoformat(starts)).days == 14
            nine, three = told["start"]["nine_in_ten"], told["start"]["three_in_four"]
            assert nine == told["start"]["spread"]["early"]
            assert nine <= three <= (told["start"]["spread"]["middle"] or three)


def test_what_comes_later_changes_nothing(demo: Path, tmp_path: Path) -> None:
    """A copy whose weather ends on the morning itself tells the same."""
    other = demo_copy(tmp_path / "w")
    _run(
        "weather", "withdraw", "--station", "alder-reach", "--quantity", "air_temperature_c",
        "--from", "2050-04-19", "--reason", "cut for a test", "-w", other,
    )  # fmt: skip
    assert _season(demo, "--as-of", APRIL) == _season(other, "--as-of", APRIL)


def test_it_opens_when_the_second_event_day_has_been_read(demo: Path, event_days: list[date]) -> None:
    opens = _by_hand(event_days, 2050)
    assert opens is not None
    # The day of a warm wet night ends at noon and its readings are three hours late: known the morning after.
    same = _of(_season(demo, "--as-of", f"{opens}T05:30", "--area", "north-field"), "north-field", "brown_patch")
    assert same["opened"] is None
    assert same["this_year"]["early"] == str(opens)
    after = _season(demo, "--as-of", f"{date_of_number(opens, 1)}T05:30", "--area", "north-field")
    told = _of(after, "north-field", "brown_patch")
    assert told["opened"] == str(opens)
    assert told["this_year"] is None
    july = _of(_season(demo, "--area", "north-field"), "north-field", "brown_patch")
    assert july["opened"] == str(opens)


def test_how_the_season_stands_is_what_was_read(demo: Path, april: dict[str, Any], event_days: list[date]) -> None:
    told = _of(april, "north-field", "brown_patch")["standing"]
    assert told["event_days"] == sum(date(2050, 4, 1) <= day < date(2050, 4, 18) for day in event_days)
    before = [sum(date(year, 4, 1) <= day < date(year, 4, 18) for day in event_days) for year in range(2041, 2050)]
    assert told["usual_event_days"] == pytest.approx(np.mean(before), rel=0.02)
    assert told["weather_since"] == "2050-04-01"
    settings, database = open_workspace(demo)
    hours = known_hours(settings, database, utc_minute(datetime.fromisoformat(f"{APRIL}-04:00")))
    database.close()
    assert hours is not None
    values, stamps = hours.panel.values["air_temperature_c"][:, 0], hours.panel.hours
    lately = values[stamps > np.datetime64("2050-04-01T05", "h")]
    past = [
        values[(stamps > np.datetime64(f"{year}-04-01T05", "h")) & (stamps <= np.datetime64(f"{year}-04-18T08", "h"))]
        for year in range(2041, 2050)
    ]
    usual = np.nanmean(np.concatenate(past))
    # The usual value is smoothed over the dates, so that nine years' own mean of 17 days lies a little beside it.
    assert told["warmer_by_c"] == pytest.approx(np.nanmean(lately) - usual, abs=1.0)
    assert told["warmer_by_c"] > 0


def test_the_text_says_what_the_json_says(demo: Path, april: dict[str, Any]) -> None:
    text = _flat(_run("season", "-w", demo, "--as-of", APRIL))
    told = _of(april, "north-field", "brown_patch")
    middle = date.fromisoformat(told["this_year"]["middle"])
    start = date.fromisoformat(told["start"]["spread"]["middle"])
    assert "Brown patch on North field: the season usually opens about" in text
    assert f"this year about {middle.day} {middle:%b} (" in text
    by = f"Have prevention down by about {start:%a} {start.day} {start:%b}, two weeks before"
    assert f"{by} (common practice, no source)" in text
    assert "The label on the container is the law" in text
    assert "It is weather, not disease." in text
    assert "invented" in text
    assert april["schema"] == 1


def test_no_product_and_no_rate_is_named(demo: Path) -> None:
    text = _run("season", "-w", demo, "--as-of", APRIL)
    assert not re.search(r"Alder One|Reach Two|fl oz|per 1000", text)


def test_one_area_and_one_disease(demo: Path) -> None:
    found = _season(demo, "--as-of", APRIL, "--area", "green", "--disease", "pythium_blight")
    assert [area["area_id"] for area in found["areas"]] == ["green"]
    assert [one["disease"] for one in found["areas"][0]["diseases"]] == ["pythium_blight"]
    everywhere = _season(demo, "--as-of", APRIL, "--disease", "pythium_blight")
    by_area = {area["area_id"]: area for area in everywhere["areas"]}
    assert by_area["courtyard"]["diseases"] == []
    assert by_area["courtyard"]["without"] == []
    assert by_area["north-field"]["without"] == ["Pythium blight"], "no test on tall fescue"


def test_an_autumn_disease_opens_in_autumn(demo: Path) -> None:
    told = _of(_season(demo, "--area", "courtyard"), "courtyard", "large_patch")
    assert (told["first_day"], told["last_day"]) == ("2050-08-01", "2051-05-31")
    assert told["opened"] is None
    assert {date.fromisoformat(one["opened"]).month for one in told["past"]} <= {9, 10}
    assert date.fromisoformat(told["this_year"]["middle"]).month == 9
    assert date.fromisoformat(told["start"]["spread"]["middle"]) > date(2050, 7, 25)


def test_the_chance_within_a_fortnight_goes_with_the_dates(demo: Path) -> None:
    """Today counted, the fourteenth day is the 19th: the dates by which one and five of ten ways open tell the rest."""
    page = _season(demo, "--as-of", "2050-05-06T05:30")
    told = [one for area in page["areas"] for one in area["diseases"] if one["opened"] is None]
    begun = [one for one in told if one["first_day"] <= "2050-05-06"]
    for one in begun:
        for name, share in (("early", 0.1), ("middle", 0.5), ("late", 0.9)):
            by_then = one["this_year"][name] is not None and one["this_year"][name] <= "2050-05-19"
            assert (one["within_14_days"] >= share - 1e-9) == by_then, (one["disease"], name)
    assert any(0.1 <= one["within_14_days"] < 0.5 for one in begun), "else this test sees nothing"


def test_long_before_a_season_only_what_is_usual_is_told(demo: Path) -> None:
    told = _of(_season(demo, "--as-of", "2050-01-18T05:30", "--area", "north-field"), "north-field", "brown_patch")
    assert told["made"] == "past_years"
    assert told["member_years"] == 0
    assert told["standing"]["usual_event_days"] is None
    text = _flat(_run("season", "-w", demo, "--as-of", "2050-01-18T05:30", "--area", "north-field"))
    assert "nothing is known yet of this year that would move it" in text


@pytest.mark.parametrize(
    ("as_of", "seasons"), [("2041-04-20T05:30", 0), ("2042-04-20T05:30", 1), ("2044-04-20T05:30", 3)]
)
def test_few_past_years_are_said_to_be_few(demo: Path, as_of: str, seasons: int) -> None:
    arguments = ("--as-of", as_of, "--area", "north-field", "--disease", "brown_patch")
    told = _of(_season(demo, *arguments), "north-field", "brown_patch")
    text = _flat(_run("season", "-w", demo, *arguments))
    assert len(told["past"]) == seasons
    if not seasons:
        assert told["this_year"] is None
        assert "no past season is known here, so that nothing is usual; this year cannot be told" in text
        return
    assert told["this_year"]["middle"] is not None
    assert "the usual spread is drawn towards that of other places" in text
    width = date.fromisoformat(told["usual"]["late"]) - date.fromisoformat(told["usual"]["early"])
    assert width.days > 25


def _holed(folder: Path, first: str, last: str) -> Path:
    """A copy without the air of some days."""
    demo_copy(folder)
    for quantity in ("air_temperature_c", "relative_humidity_pct"):
        _run(
            "weather", "withdraw", "--station", "alder-reach", "--quantity", quantity,
            "--from", first, "--to", last, "--reason", "a hole for a test", "-w", folder,
        )  # fmt: skip
    return folder


def test_a_hole_that_hides_the_opening_is_said(tmp_path: Path, event_days: list[date]) -> None:
    """The season opened on 17 May; without the days about it, it is seen to open later."""
    folder = _holed(tmp_path / "w", "2050-05-12", "2050-05-31")
    told = _of(_season(folder, "--area", "north-field"), "north-field", "brown_patch")
    left = [day for day in event_days if not date(2050, 5, 12) <= day <= date(2050, 6, 1)]
    assert told["opened"] == str(_by_hand(left, 2050))
    assert 20 <= told["standing"]["unknown_days"] <= 22
    text = _flat(_run("season", "-w", folder, "--area", "north-field"))
    assert "of this season are not known: it may have opened earlier." in text


def test_readings_that_are_a_day_late_are_no_hole(tmp_path: Path) -> None:
    """Told on 18 April with nothing read since two on the 17th: yesterday is not over, and ways go on from there."""
    folder = demo_copy(tmp_path / "w")
    grounds = folder / "grounds.toml"
    grounds.write_text(
        grounds.read_text("utf-8").replace("as_of = 2050-07-25T05:30:00", f"as_of = {APRIL}:00"), "utf-8"
    )
    for quantity in ("air_temperature_c", "relative_humidity_pct"):
        _run(
            "weather", "withdraw", "--station", "alder-reach", "--quantity", quantity,
            "--from", "2050-04-17T02:00", "--reason", "late for a test", "-w", folder,
        )  # fmt: skip
    told = _of(_season(folder, "--area", "north-field", "--disease", "brown_patch"), "north-field", "brown_patch")
    assert told["made"] == "readings"
    assert told["member_years"] == 9
    assert told["standing"]["unknown_days"] == 0


def test_with_no_reading_for_months_it_may_have_opened(tmp_path: Path) -> None:
    folder = _holed(tmp_path / "w", "2050-05-01", "2050-07-25")
    arguments = ("--area", "north-field", "--disease", "brown_patch")
    told = _of(_season(folder, *arguments), "north-field", "brown_patch")
    assert told["opened"] is None
    assert told["made"] == "past_years", "the last reading is too old to go on from"
    assert told["may_have_opened"] > 0.9, "past seasons opened from April to June"
    assert date.fromisoformat(told["this_year"]["middle"]).month in {5, 6}
    text = _flat(_run("season", "-w", folder, *arguments))
    assert f"it may have opened on days that are not known ({round(100 * told['may_have_opened'])} %)" in text
    assert "The usual start has passed" in text
    assert "Told by what is usual alone" in text


def test_what_cannot_be_asked_is_refused(demo: Path) -> None:
    for arguments, words in (
        (("--area", "lawn"), "no area 'lawn'"),
        (("--disease", "rust"), "'rust' is no disease known here"),
        (("--area", "courtyard", "--disease", "dollar_spot"), "no area asked about has a grass"),
    ):
        done = CliRunner().invoke(cli, ["season", "-w", str(demo), *arguments])
        assert isinstance(done.exception, DataError)
        assert words in str(done.exception)
    done = CliRunner().invoke(cli, ["season", "-w", str(demo), "--as-of", "2040-01-01T05:30"])
    assert isinstance(done.exception, DataError)
    assert "no weather is known" in str(done.exception)


# Words of seasons made by hand ---------------------------------------------------------------------------------------

TODAY = date(2050, 5, 6)


def _spread(*days: date | None) -> Spread:
    return Spread(*days)


def _made(**changes: Any) -> DiseaseSeason:
    usual = _spread(date(2050, 5, 20), date(2050, 6, 3), date(2050, 6, 18))
    this = _spread(date(2050, 5, 19), date(2050, 5, 28), date(2050, 6, 9))
    one = DiseaseSeason(
        disease="brown_patch",
        name="brown patch",
        event_words="the night stays warm",
        deciding=("warm_wet_night",),
        rule_event_days=2,
        rule_within_days=7,
        first_day=date(2050, 4, 1),
        last_day=date(2050, 9, 30),
        past=tuple(PastOpening(2041 + back, date(2041 + back, 6, 3)) for back in range(9)),
        past_unknown=0,
        usual=usual,
        usual_start=Start(
            _spread(date(2050, 5, 6), date(2050, 5, 20), date(2050, 6, 4)), date(2050, 5, 12), date(2050, 5, 6)
        ),
        opened=None,
        this_year=this,
        told_until=date(2050, 9, 30),
        opens=0.97,
        within_14_days=0.1,
        may_have_opened=0.0,
        start=Start(
            _spread(date(2050, 5, 5), date(2050, 5, 14), date(2050, 5, 26)), date(2050, 5, 9), date(2050, 5, 5)
        ),
        standing=Standing(1, 2.4, 0, date(2050, 4, 1), 1.2, -0.5),
        made="forecast",
        member_years=9,
        forecast_until=date(2050, 5, 15),
    )
    return replace(one, **changes)


def _answer(one: DiseaseSeason, today: date = TODAY) -> str:
    return _flat(" ".join(answer(one, "North field", today)))


def test_the_answer_comes_first_with_its_range_and_its_start() -> None:
    assert _answer(_made()) == (
        "Brown patch on North field: the season usually opens about 3 Jun (20 May to 18 Jun over nine past seasons); "
        "this year about 28 May (19 May to 9 Jun). Have prevention down by about Sat 14 May, two weeks before (common "
        "practice, no source); 5 May to 26 May in eight of ten ways. To be early enough: in three of four ways by 9 "
        "May, in nine of ten ways by 5 May (passed). The chance that it opens within 14 days is 10 %."
    )


def test_a_start_that_has_passed_is_called_so() -> None:
    told = _answer(_made(), date(2050, 5, 15))
    assert "The usual start has passed: two weeks before (common practice, no source) was about Sat 14 May." in told
    assert "Have prevention down" not in told
    assert "Have prevention down by about Sat 14 May" in _answer(_made(), date(2050, 5, 14)), "its own day is not late"


def test_an_open_season_says_since_when() -> None:
    told = _answer(_made(opened=date(2050, 5, 22), this_year=None, start=None), date(2050, 7, 25))
    assert told.startswith("Brown patch on North field: the season opened on Sun 22 May; it usually opens about 3 Jun")
    assert (
        "has passed for this season; the usual one, for the next season, is about 20 May, early enough in three of "
        "four past seasons by 12 May." in told
    )


def test_one_past_season_is_not_called_usual() -> None:
    one = (PastOpening(2049, date(2049, 6, 1)),)
    told = _answer(_made(past=one))
    assert "by the one past season known it opens about 3 Jun (20 May to 18 Jun)" in told
    assert "usually" not in told
    opened = _answer(_made(past=one, opened=date(2050, 5, 22), this_year=None, start=None), date(2050, 7, 25))
    assert "in the one past season that opened it was 20 May." in opened
    assert "usual" not in opened


def test_a_season_that_mostly_stays_shut_names_no_start() -> None:
    rare = _made(
        past=(PastOpening(2048, None), PastOpening(2049, date(2049, 7, 1)), PastOpening(2050, None)),
        this_year=_spread(date(2050, 7, 1), None, None),
        start=Start(_spread(date(2050, 6, 17), None, None), None, date(2050, 6, 17)),
        opens=0.38,
    )
    told = _answer(rare)
    assert "it opened in one of three past seasons, then about 3 Jun" in told
    assert "this year it opens by 30 Sep in 38 % of the ways" in told
    assert "No day to start is named" in told
    assert "in nine of ten ways by 17 Jun" in told
    never = _made(past=(PastOpening(2048, None), PastOpening(2049, None)), usual=None, usual_start=None)
    assert "it opened in none of two past seasons" in _answer(never)


def test_an_end_that_may_never_come_says_so() -> None:
    told = _answer(_made(this_year=_spread(date(2050, 5, 19), date(2050, 6, 20), None)))
    assert "this year about 20 Jun (19 May to late or not at all)" in told


def test_what_is_met_on_the_first_day_already_is_told_as_by_then() -> None:
    told = _answer(_made(usual=_spread(date(2050, 4, 1), date(2050, 4, 1), date(2050, 4, 9))))
    assert "usually opens by 1 Apr (1 Apr to 9 Apr over" in told


def test_unknown_days_are_told_with_what_they_may_hide() -> None:
    holed = _made(may_have_opened=0.35, standing=Standing(1, 2.4, 12, date(2050, 4, 1), None, None), past_unknown=2)
    assert "it may have opened on days that are not known (35 %)" in _answer(holed)
    sure = _flat(" ".join(how_sure(holed, TODAY)))
    assert "12 days of this season are not known: past years stand in for them." in sure
    assert "Two past seasons have holes that hide the opening, and do not count." in sure
    opened = replace(holed, opened=date(2050, 5, 2), this_year=None, start=None)
    assert "12 days of this season are not known: it may have opened earlier." in " ".join(how_sure(opened, TODAY))


def test_why_tells_how_the_season_stands_in_the_readers_units() -> None:
    told = _flat(" ".join(why(_made(), TODAY, us=True)))
    assert "Since 1 Apr one day of disease weather; by this date 2.4 are usual." in told
    assert "the air has been 2.2 °F warmer than usual for the dates, and its dew point 0.9 °F lower." in told
    assert "the air has been 1.2 °C warmer" in _flat(" ".join(why(_made(), TODAY, us=False)))
    assert "2041: 3 Jun, 2042: 3 Jun" in told


def test_how_sure_tells_what_the_dates_are_made_of() -> None:
    told = _flat(" ".join(how_sure(_made(), TODAY)))
    assert "nine past years going on from the last readings and the weather forecast to 15 May." in told
    alone = _flat(" ".join(how_sure(_made(made="readings", forecast_until=None), TODAY)))
    assert "nine past years going on from the last readings." in alone
    few = _made(past=(PastOpening(2049, date(2049, 6, 3)),))
    assert "Only one past opening is known" in " ".join(how_sure(few, TODAY))
    usual = _made(made="past_years", member_years=0, forecast_until=None)
    assert "what is usual alone" in " ".join(how_sure(usual, TODAY))
    assert how_sure(usual, date(2050, 2, 1)) == []


def _page(units: Literal["us", "si"], *areas: SeasonArea) -> SeasonPage:
    moment = datetime.fromisoformat("2050-05-06T05:30:00-04:00")
    return SeasonPage(1, "0", "Invented", True, moment, False, "America/New_York", units, areas, ("Label.",))


def test_what_is_common_is_told_once() -> None:
    areas = [SeasonArea(f"a{n}", f"lawn {n}", "p", "tall fescue", "here", (_made(),), ("stem rust",)) for n in (1, 2)]
    text = _flat(season_text(_page("us", *areas)))
    assert text.count("A season opens with two days of disease weather within seven days") == 1
    assert text.count("Brown patch on tall fescue: a day of disease weather is one on which the night stays warm.") == 1
    assert text.count("No tested model for tall fescue: stem rust.") == 2
    assert common(_page("us")) == []
    usual_only = replace(areas[0], diseases=(_made(made="past_years"),))
    assert not any(line.startswith("Tried on") for line in common(_page("si", usual_only)))
