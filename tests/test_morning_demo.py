"""The demo's morning page: what it says, in three forms, held to facts worked out from the demo's own files."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pandas as pd
import pytest
from click.testing import CliRunner
from demo_workspace import demo_copy
from pydantic import TypeAdapter

from forecast import records
from forecast.cli import cli
from forecast.cli.common import open_workspace
from forecast.report import page as page_module
from forecast.report.page import ModelReport, StepReport
from forecast.report.sentences import answer_words
from forecast.workspace import demo_folder

SCHEMA = Path(page_module.__file__).parent / "morning.schema.json"
GOLDEN = Path(__file__).parent / "golden" / "morning_demo.txt"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_copy(tmp_path_factory.mktemp("demo") / "w")


def _run(*arguments: str | Path) -> str:
    done = CliRunner().invoke(cli, [str(argument) for argument in arguments], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.fixture(scope="module")
def page(demo: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(_run("morning", "-w", demo, "--json"))
    return found


def _disease(page: dict[str, Any], area_id: str, disease: str) -> dict[str, Any]:
    area = next(area for area in page["areas"] if area["area_id"] == area_id)
    found: dict[str, Any] = next(one for one in area["diseases"] if one["disease"] == disease)
    return found


def test_every_area_and_disease_has_its_answer(page: dict[str, Any]) -> None:
    answers = {(a["area_id"], d["disease"]): d["answer"] for a in page["areas"] for d in a["diseases"]}
    # In July: what the grass can have and what is in season then, or was a month ago or will be in a month.
    untested = {
        "north-field": ("dollar_spot", "pythium_blight", "gray_leaf_spot", "stem_rust"),  # tall fescue
        "oak-strip": ("dollar_spot", "pythium_blight", "gray_leaf_spot", "stem_rust"),
        "front-lawn": ("dollar_spot", "gray_leaf_spot", "stem_rust"),  # perennial ryegrass
        "green": ("anthracnose", "take_all_patch"),  # creeping bentgrass
        "courtyard": ("gray_leaf_spot",),  # St. Augustinegrass; its one model is provisional
    }
    assert answers == {
        ("north-field", "brown_patch"): "treat",  # cover ended 21 days after 1 July
        ("oak-strip", "brown_patch"): "hold",  # covered to 4 August, beyond the visit of 1 August
        ("front-lawn", "brown_patch"): "scout",  # never diagnosed there
        ("front-lawn", "pythium_blight"): "scout",
        ("green", "brown_patch"): "treat",  # nothing on record against it
        ("green", "dollar_spot"): "hold",  # covered to 6 August
        ("green", "pythium_blight"): "scout",  # never diagnosed there
        ("courtyard", "brown_patch"): "scout",  # diagnosed there, and no tested model for St. Augustinegrass
        **{(area, disease): "no_model" for area, diseases in untested.items() for disease in diseases},
    }


def test_what_is_not_in_season_is_named_and_not_answered(page: dict[str, Any]) -> None:
    green = next(area for area in page["areas"] if area["area_id"] == "green")
    assert green["out_of_season"] == ["Microdochium patch (pink snow mold)", "gray snow mold"]
    courtyard = next(area for area in page["areas"] if area["area_id"] == "courtyard")
    assert courtyard["out_of_season"] == ["large patch"], "September to May"


def test_each_stand_has_the_models_that_speak_of_what_it_shows(page: dict[str, Any]) -> None:
    for area in page["areas"]:
        stand = next(stand for stand in page["stands"] if stand["stand_id"] == area["stand_id"])
        assert area["area_id"] in stand["areas"]
        speak = {key for disease in area["diseases"] for key in (*disease["deciding"], *disease["beside"])}
        assert speak == {model["key"] for model in stand["models"]}
        assert all(model["standing"] != "provisional" for model in stand["models"])


def test_settings_make_stands_differ_in_wet_hours_and_in_nothing_of_the_air(page: dict[str, Any]) -> None:
    """Five settings at one station. The strip is watered at 19:00 on Tuesdays and Fridays, the open field never."""
    stands = {stand["areas"][0]: stand for stand in page["stands"]}
    assert len(stands) == 5
    nights = {
        area: {night["day"]: night["hours"] for night in stand["wetness"]["nights"]} for area, stand in stands.items()
    }
    saturday = "2050-07-23"  # noon on Friday to noon on Saturday
    assert nights["oak-strip"][saturday] > nights["north-field"][saturday] + 3
    assert nights["oak-strip"]["2050-07-22"] < nights["oak-strip"][saturday]
    indices = {m["low"] for s in page["stands"] for m in s["models"] if m["key"] == "fidanza_1996"}
    assert len(indices) == 1
    for stand in page["stands"]:
        assert stand["wetness"]["method"] == "energy_balance", "the demo has wind and cloud"
        for night in stand["wetness"]["nights"]:
            if night["hours"] is not None:
                assert night["low"] <= night["hours"] <= night["high"]


def test_evening_water_is_advised_to_move_and_morning_water_is_not(page: dict[str, Any]) -> None:
    said = {area["area_id"]: [one["text"] for one in area["care"]] for area in page["areas"]}
    assert any(text.startswith("Move the water from 19:00") for text in said["oak-strip"])
    for area in ("front-lawn", "green", "courtyard", "north-field"):
        assert not any(text.startswith("Move the water") for text in said[area])


def test_cover_follows_the_record_and_its_label(page: dict[str, Any]) -> None:
    cover = _disease(page, "oak-strip", "brown_patch")["cover"]
    # Applied on 14 July; the label's least 14 and most 21 days; read on 25 July.
    assert (cover["applied"], cover["sure_until"], cover["gone_after"]) == ("2050-07-14", "2050-07-28", "2050-08-04")
    assert (cover["days_left_low"], cover["days_left_high"]) == (3, 10)


def test_the_quantity_is_the_label_rate_on_the_area(page: dict[str, Any]) -> None:
    quantity = _disease(page, "north-field", "brown_patch")["quantity"]
    # 43,560 sq ft at 1.5 fl oz and 2 gal per 1,000 sq ft: 65.34 fl oz in 87.12 gal.
    assert quantity["product"] == pytest.approx(65.34 * 29.5735295625, abs=1e-6)
    assert quantity["carrier_l"] == pytest.approx(87.12 * 3.785411784, abs=1e-6)
    # Limit 12 a year, 1.5 used on 27 May and 1.5 on 1 July: 9 × 43.56 fl oz are left.
    assert quantity["left_this_year"] == pytest.approx(9 * 43.56 * 29.5735295625, abs=1e-6)
    assert sum(load["product"] for load in quantity["loads"]) == pytest.approx(quantity["product"], abs=1e-9)


def test_the_season_count_equals_a_count_by_pandas(tmp_path: Path) -> None:
    """Warm wet nights from May to September, from the demo's weather file, sharing no code with the program.

    Wet hours by the dew-point rule, which is told in four lines; the energy balance has its own plain loop.

    The file has holes of up to three hours that the program fills; a season's count may differ by the days they touch,
    of which there are at most four in these months over all nine seasons: a mean within 4/9 of a day.
    """
    demo = demo_copy(tmp_path / "w")
    grounds = (demo / "grounds.toml").read_text(encoding="utf-8")
    changed = grounds.replace("[decisions]", 'wetness = "dew_point_depression"\n\n[decisions]', 1)
    (demo / "grounds.toml").write_text(changed, encoding="utf-8")
    page = json.loads(_run("morning", "-w", demo, "--json"))
    table = pd.read_csv(demo_folder() / "weather_alder_reach.csv.gz", parse_dates=["hour_utc"], index_col="hour_utc")
    table.index = pd.DatetimeIndex(table.index).tz_localize(None)
    vapour = 6.108 * (17.27 * table.air_temperature_c / (table.air_temperature_c + 237.3)).map(math.exp)
    vapour *= table.relative_humidity_pct / 100
    log = (vapour / 6.108).map(math.log)
    depression = table.air_temperature_c - 237.3 * log / (17.27 - log)
    state, wet = float("nan"), []
    for degrees, rain in zip(depression, table.rain_mm, strict=True):
        state = 1.0 if rain >= 0.25 or degrees <= 2.0 else 0.0 if degrees >= 3.8 else state
        wet.append(state == 1.0)
    table["wet"] = wet
    night = (pd.DatetimeIndex(table.index) - pd.Timedelta(hours=5 + 12, minutes=1)).floor("D") + pd.Timedelta(days=1)
    run = table.wet.groupby([night, (~table.wet).cumsum()]).sum().groupby(level=0).max()
    lowest, hours = table.air_temperature_c.groupby(night).min(), table.wet.groupby(night).sum()
    event = ((lowest > 15.5) & (run >= 10)) | ((lowest > 21) & (hours > 10))
    days = pd.DatetimeIndex(event.index)
    event = event[(days.month >= 5) & (days.month <= 9) & (days.year < 2050)]
    counts = event.groupby(pd.DatetimeIndex(event.index).year).sum()
    season = _disease(page, "north-field", "brown_patch")["season"]
    assert len(counts) == season["seasons"] == 9
    assert season["season_days"] == 31 + 30 + 31 + 31 + 30
    assert season["mean_days"] == pytest.approx(counts.mean(), abs=4 / 9)
    assert season["most_days"] == pytest.approx(counts.max(), abs=2)


def test_the_chance_agrees_with_the_plain_share_of_past_years(page: dict[str, Any]) -> None:
    """Smoothed over 20 days it cannot lie far from the bare share of the same spans; it has its interval and years."""
    chance = _disease(page, "north-field", "brown_patch")["chance"]
    assert chance["years"] == 9
    assert 0 < chance["low"] < chance["value"] < chance["high"] < 1
    assert 0.66 < chance["usual"] <= 0.90
    assert chance["made"] == "forecast"


def test_what_follows_the_forecast_differs_from_the_usual_chance_and_the_last_days_do_not(page: dict[str, Any]) -> None:
    days = _disease(page, "north-field", "brown_patch")["days"]
    assert max(abs(day["value"] - day["usual"]) for day in days[1:4]) > 0.1
    assert all(day["value"] == day["usual"] for day in days if day["made"] == "past_years")
    assert days[-1]["made"] == "past_years", "the invented forecast ends ten days out"


def test_json_fits_its_published_schema(page: dict[str, Any]) -> None:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema, format_checker=jsonschema.FormatChecker()).validate(page)
    assert page["schema"] == page_module.MORNING_SCHEMA


def test_the_published_schema_is_the_pages_own() -> None:
    """A changed page needs a changed schema file, and a thought about its version."""
    derived = TypeAdapter(page_module.MorningPage).json_schema(mode="serialization")
    published = json.loads(SCHEMA.read_text(encoding="utf-8"))
    assert published["properties"] == derived["properties"]
    assert published["$defs"] == derived["$defs"]


def test_the_text_page_reads_as_agreed(demo: Path) -> None:
    """Holds layout and wording; the figures in it are proven by the tests above and by those of each part."""
    assert _run("morning", "-w", demo) == GOLDEN.read_text(encoding="utf-8")


def test_text_and_html_say_the_same(demo: Path, tmp_path: Path) -> None:
    text = _run("morning", "-w", demo)
    _run("morning", "-w", demo, "--html", tmp_path / "page.html")
    html = (tmp_path / "page.html").read_text(encoding="utf-8")
    page = json.loads(_run("morning", "-w", demo, "--json"))
    told = _disease(page, "north-field", "brown_patch")
    night = next(m for s in page["stands"] for m in s["models"] if m["key"] == "warm_wet_night")
    figures = (
        f"{100 * told['chance']['value']:.0f}\u00a0%",
        "65.3 fl oz",
        "Fri\u00a022\u00a0Jul",
        f"is reached on {night['ways_passed']} of them",
        f"{told['season']['mean_days']:.0f} of 153 days",
    )
    for figure in figures:
        assert figure in " ".join(text.replace("\u00a0", "~").split()).replace("~", "\u00a0")
        assert figure in html


def test_every_form_says_that_the_scenario_is_invented(demo: Path, tmp_path: Path, page: dict[str, Any]) -> None:
    _run("morning", "-w", demo, "--html", tmp_path / "page.html")
    sentence = "Everything on this page is invented"
    assert sentence in _run("morning", "-w", demo)
    assert sentence in (tmp_path / "page.html").read_text(encoding="utf-8")
    assert page["invented"] is True
    for path in demo_folder().iterdir():
        if path.suffix in {".toml", ".txt", ".md"}:
            assert "invented" in path.read_text(encoding="utf-8").lower(), path.name


def test_a_rate_never_stands_without_label_gear_and_keep_off(demo: Path, tmp_path: Path) -> None:
    _run("morning", "-w", demo, "--html", tmp_path / "page.html")
    for form in (_run("morning", "-w", demo), (tmp_path / "page.html").read_text(encoding="utf-8")):
        assert "fl oz" in form
        for words in ("label on the container is the law", "Gear:", "Keep off:", "Local rules and licensed"):
            assert words in form


def test_the_same_morning_gives_the_same_bytes(demo: Path) -> None:
    assert _run("morning", "-w", demo, "--json") == _run("morning", "-w", demo, "--json")


def test_an_earlier_morning_knows_nothing_of_later_records_and_weather(demo: Path) -> None:
    early = json.loads(_run("morning", "-w", demo, "--as-of", "2050-07-10T05:30", "--json"))
    cover = _disease(early, "oak-strip", "brown_patch")["cover"]
    assert cover["applied"] == "2050-05-27", "the application of 14 July had not been made"
    assert early["places"][0]["last_observation"] == "2050-07-10T02:00:00-04:00"


def test_a_look_recorded_late_is_unknown_to_the_mornings_before(tmp_path: Path) -> None:
    """Seen on the 10th and written down on the 23rd: a replay of the 20th must not know it, the 25th must."""
    demo = demo_copy(tmp_path / "w")
    _, database = open_workspace(demo)
    seen, written = datetime(2050, 7, 10, 10, tzinfo=UTC), datetime(2050, 7, 23, 10, tzinfo=UTC)
    records.record_scouting(
        database, records.Entry("front-lawn", seen), "brown_patch", sure=True, severity_pct=2.0, now=written
    )
    database.close()
    undiagnosed = {}
    for moment in ("2050-07-20T05:30", "2050-07-25T05:30"):
        page = json.loads(_run("morning", "-w", demo, "--json", "--as-of", moment))
        reasons = _disease(page, "front-lawn", "brown_patch")["reasons"]
        undiagnosed[moment] = any("not been diagnosed" in reason for reason in reasons)
    assert undiagnosed == {"2050-07-20T05:30": True, "2050-07-25T05:30": False}


def _index(page: dict[str, Any]) -> dict[str, Any]:
    """The two-variable index on the first stand; it reads the air alone, so that it is the same on all."""
    found: dict[str, Any] = next(m for m in page["stands"][0]["models"] if m["key"] == "fidanza_1996")
    return found


def test_the_running_day_closes_as_the_hours_come_in(demo: Path) -> None:
    """The index day ends at 07:00 daylight time; with a lag of three hours its last hour is read at 10:00."""
    states = {}
    for clock in ("05:30", "09:59", "10:00"):
        page = json.loads(_run("morning", "-w", demo, "--as-of", f"2050-07-25T{clock}", "--json"))
        model = _index(page)
        states[clock] = (model["finished"], model["ways"], model["low"] == model["high"])
    assert states["05:30"][0] is False
    assert states["09:59"][0] is False
    assert states["10:00"] == (True, 0, True)


def test_the_finished_day_lies_within_the_range_told_before(demo: Path) -> None:
    """Twenty mornings: nine in ten of the day's final indices lie in the range printed at 05:30."""
    inside = []
    for day in range(5, 25):
        told = json.loads(_run("morning", "-w", demo, "--as-of", f"2050-07-{day:02}T05:30", "--json"))
        came = json.loads(_run("morning", "-w", demo, "--as-of", f"2050-07-{day:02}T10:30", "--json"))
        before, after = _index(told), _index(came)
        assert after["finished"]
        inside.append(before["low"] - 1e-9 <= after["low"] <= before["high"] + 1e-9)
    # 20 draws at 0.9: fewer than 14 inside has a chance of 1 in 400 (binomial).
    assert sum(inside) >= 14


def test_in_winter_the_page_asks_for_nothing(demo: Path) -> None:
    told = json.loads(_run("morning", "-w", demo, "--as-of", "2050-01-20T07:00", "--json"))
    answers = {d["answer"] for area in told["areas"] for d in area["diseases"]}
    assert not answers & {"treat"}
    for area in told["areas"]:
        assert "brown patch" in area["out_of_season"]
        assert not area["care"], "turf does not grow"


def _apply(demo: Path, moment: datetime, *, amount_ml: float, grass: str = "tall_fescue") -> None:
    """Alder One on the north field; 43.56 × 1.5 fl oz are 1,932 mL (29.5735 mL a fl oz)."""
    settings, database = open_workspace(demo)
    records.record_application(
        database,
        records.Entry("north-field", moment),
        settings.labels[0],
        ["brown_patch"],
        condition="preventive",
        grass=grass,
        size_m2=settings.areas[0].size_m2,
        amount=amount_ml,
        now=moment,
    )
    database.close()


@pytest.mark.parametrize(
    ("amount_ml", "grass", "answer"),
    [(1932.4, "tall_fescue", "hold"), (30.0, "tall_fescue", "scout"), (1932.4, "kentucky_bluegrass", "scout")],
)
def test_a_splash_or_a_use_off_the_label_buys_no_cover(
    tmp_path: Path, amount_ml: float, grass: str, answer: str
) -> None:
    """Full rate by a row of the label covers; less or elsewhere does not, and the label's least days still bind."""
    demo = demo_copy(tmp_path / "w")
    _apply(demo, datetime(2050, 7, 24, 12, tzinfo=UTC), amount_ml=amount_ml, grass=grass)
    told = _disease(json.loads(_run("morning", "-w", demo, "--json")), "north-field", "brown_patch")
    if grass == "kentucky_bluegrass":
        assert told["cover"]["applied"] == "2050-07-01", "the older, ordinary application"
    else:
        assert told["answer"] == answer


def test_what_was_seen_yesterday_lifts_hold_and_heads_the_reasons(tmp_path: Path) -> None:
    demo = demo_copy(tmp_path / "w")
    _, database = open_workspace(demo)
    moment = datetime(2050, 7, 24, 10, tzinfo=UTC)
    records.record_scouting(
        database, records.Entry("oak-strip", moment), "brown_patch", sure=True, severity_pct=30.0, now=moment
    )
    database.close()
    told = _disease(json.loads(_run("morning", "-w", demo, "--json")), "oak-strip", "brown_patch")
    assert told["answer"] == "scout"
    assert told["reasons"][0].startswith("it was seen here on Sun\u00a024\u00a0Jul")


@pytest.mark.parametrize("moment", ["2050-11-05T05:30", "2050-11-20T05:30", "2051-07-20T05:30", "2040-10-30T05:30"])
def test_a_page_comes_however_old_the_readings_are(demo: Path, moment: str) -> None:
    """The demo's readings end on 31 October 2050 and begin on 1 November 2040."""
    grounds = demo / "grounds.toml"
    text = grounds.read_text(encoding="utf-8")
    try:
        grounds.write_text(text.replace("2050-07-25T05:30:00", f"{moment}:00"), encoding="utf-8")
        told = json.loads(_run("morning", "-w", demo, "--json"))
    finally:
        grounds.write_text(text, encoding="utf-8")
    assert any("reading" in notice or "no hour" in notice for notice in told["notices"])
    answers = {d["answer"] for area in told["areas"] for d in area["diseases"]}
    assert "treat" not in answers


def test_few_past_years_are_not_treated_by(demo: Path) -> None:
    """In July 2044 three whole summers lie behind, in July 2046 five."""
    words = {}
    for year in (2044, 2046):
        told = json.loads(_run("morning", "-w", demo, "--as-of", f"{year}-07-25T05:30", "--json"))
        found = _disease(told, "north-field", "brown_patch")
        words[found["chance"]["years"]] = found["answer"]
    assert words == {3: "scout", 5: "treat"}


def test_a_month_of_cover_is_hold(tmp_path: Path) -> None:
    """A label with 28 most days, applied the day before: its cover reaches beyond the two weeks of the plan."""
    demo = demo_copy(tmp_path / "w")
    labels = (demo / "labels.toml").read_text()
    (demo / "labels.toml").write_text(labels.replace("most_days = 21", "most_days = 60"))
    grounds = (demo / "grounds.toml").read_text()
    (demo / "grounds.toml").write_text(grounds.replace("2050-07-25T05:30:00", "2050-07-15T05:30:00"))
    _apply(demo, datetime(2050, 7, 14, 12, tzinfo=UTC), amount_ml=1932.0)
    told = _disease(json.loads(_run("morning", "-w", demo, "--json")), "north-field", "brown_patch")
    assert told["answer"] == "hold"
    assert told["cover"]["gone_after"] == "2050-09-12"


def test_what_just_misses_its_threshold_is_not_printed_as_reaching_it() -> None:
    model = ModelReport(
        key="k", disease="d", name="n", standing="published", answer="index", threshold=6.0, threshold_words="w",
        tested_on=(), ends_at=datetime(2050, 7, 25, tzinfo=UTC), finished=True, low=None, high=None, steps=(), ways=0,
        ways_passed=0, outside=False, as_printed_low=None, as_printed_high=None, drivers=(), past=(), notes="",
        wetness="", source="",
    )  # fmt: skip
    assert answer_words(model, 5.98) == "5.98"
    assert answer_words(model, 5.94) == "5.9"
    assert answer_words(model, 6.0) == "6.0"
    share = replace(model, answer="probability", threshold=0.20)
    assert answer_words(share, 0.197) == "19.7\u00a0%"
    assert answer_words(share, 0.20) == "20\u00a0%"
    classes = replace(model, answer="class", threshold=1.0, steps=(StepReport(0, "no"), StepReport(1, "yes")))
    assert [answer_words(classes, value) for value in (0, 1)] == ["no", "yes"]
