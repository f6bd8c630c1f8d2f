"""The scouting guide and the record of what scouts see, as a person meets them on the command line."""

from __future__ import annotations

import json
import re
import shlex
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from demo_workspace import demo_copy

from forecast.cli import cli
from forecast.cli.common import open_workspace
from forecast.desk.scouting import area_guide, grass_guide
from forecast.errors import DataError
from forecast.guide import GUIDE
from forecast.guide.lookalikes import LOOKALIKES
from forecast.report.scouting import scouting_text
from forecast.turf import DISEASES, GRASSES

JULY = datetime(2050, 7, 25, 5, 30, tzinfo=UTC)
AT = "2050-07-25T05:10"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """For what only reads."""
    return demo_copy(tmp_path_factory.mktemp("demo") / "w")


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """For what writes."""
    return demo_copy(tmp_path / "w")


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(cli, [str(argument) for argument in arguments])


def told(*arguments: str | Path) -> str:
    done = run(*arguments)
    assert done.exit_code == 0, done.output
    return done.stdout


def guide(*arguments: str | Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(told("scout", *arguments, "--json"))
    return found


def refused(*arguments: str | Path) -> str:
    """What a person is told; nothing else may have gone wrong."""
    done = run(*arguments)
    assert isinstance(done.exception, DataError), done.output
    return str(done.exception)


def diseases(page: dict[str, Any]) -> list[str]:
    return [one["disease"] for one in page["diseases"]]


# What an area is told


def test_the_page_of_an_area_begins_with_what_to_do(demo: Path) -> None:
    lines = told("scout", "north-field", "-w", demo).splitlines()
    assert lines[0] == "Scouting · North field, Wren Hill School · July"
    assert lines[1] == "tall fescue"
    assert "invented" in lines[2]
    assert lines[4].startswith("At dawn, before the dew dries and before mowing: brown patch")


def test_all_that_the_grass_can_have_is_told_in_season_first_or_named(demo: Path) -> None:
    page = guide("north-field", "-w", demo)
    # By hand for July: all of tall fescue's diseases whose months hold July; the snow molds do not.
    assert diseases(page) == ["brown_patch", "dollar_spot", "pythium_blight", "gray_leaf_spot", "stem_rust"]
    assert [one["disease"] for one in page["others"]] == ["microdochium_patch", "gray_snow_mold"]
    everything = {key for key, one in DISEASES.items() if "tall_fescue" in one.grasses}
    assert {*diseases(page), *(one["disease"] for one in page["others"])} == everything
    assert (page["month"], page["southern"], page["schema"]) == (7, False, 1)


def test_what_does_not_show_but_infects_comes_after_what_shows(demo: Path) -> None:
    page = guide("green", "-w", demo, "--month", "11")
    shown = {one["disease"]: one["shows_now"] for one in page["diseases"]}
    assert list(shown.values()) == sorted(shown.values(), reverse=True)
    assert shown["take_all_patch"] is False
    text = told("scout", "green", "-w", demo, "--month", "11")
    assert re.search(
        r"TAKE-ALL PATCH .*; nothing to see now\n  Now +In autumn and winter roots are being infected", text
    )


def test_places_known_here_are_walked_first_with_their_reasons(demo: Path) -> None:
    places = guide("oak-strip", "-w", demo)["look_first"]
    # properties.csv: light 0.45, wind 0.5, poor drainage, two evenings at 19:00, brown patch had and on no record.
    known = [place["key"] for place in places if place["known"]]
    assert known == ["past_patches", "shade", "still_air", "low_wet", "evening_water"]
    assert places[0]["words"].endswith("ask who has worked here"), "what was seen on another area is not told here"
    assert [place["known"] for place in places] == sorted((place["known"] for place in places), reverse=True)


def test_a_sighting_on_record_leads_with_what_the_scout_wrote(demo: Path) -> None:
    (first, *_) = guide("north-field", "-w", demo)["look_first"]
    assert first["words"] == (
        'where brown patch was seen on 22 Jul 2049, "white threads at dawn, six patches about a foot across"'
    )


def test_a_guide_knows_no_more_than_its_moment_did(demo: Path) -> None:
    settings, database = open_workspace(demo)
    # Seen and written down on 22 July 2049 at 06:20 in New York, which is 10:20 UTC.
    before, after = (
        area_guide(settings, database, datetime(2049, 7, 22, 10, minute, tzinfo=UTC), "north-field").look_first[0]
        for minute in (19, 20)
    )
    database.close()
    assert before.words.startswith("where brown patch was before")
    assert after.words.startswith("where brown patch was seen on 22 Jul 2049")


def test_a_look_alike_is_no_place_of_past_patches(own: Path) -> None:
    before = guide("green", "-w", own)["look_first"]
    told("record", "scouting", "green", "-w", own, "--on", AT, "--saw", "drought", "--note", "south bank")
    assert guide("green", "-w", own)["look_first"] == before


def test_one_disease_is_told_whole_in_season_or_not(demo: Path) -> None:
    text = told("scout", "green", "-w", demo, "--disease", "gray_snow_mold")
    flat = " ".join(text.split())
    entry = GUIDE["gray_snow_mold"]
    for words in (entry.sure, entry.unsure, *(one.check for one in entry.not_disease), *map(str, entry.sources)):
        assert words in flat
    assert "nothing to see now" in text
    assert diseases(guide("green", "-w", demo, "--disease", "gray_snow_mold")) == ["gray_snow_mold"]


def test_the_short_page_is_shorter_and_the_full_one_names_every_source(demo: Path) -> None:
    short, full = told("scout", "green", "-w", demo), told("scout", "green", "-w", demo, "--full")
    assert len(short.splitlines()) < 0.7 * len(full.splitlines())
    assert "read second-hand)" not in short.split("NOT SURE?")[0]
    flat = " ".join(full.split())
    for key in diseases(guide("green", "-w", demo)):
        assert all(str(source) in flat for source in GUIDE[key].sources)


def test_every_look_alike_shown_has_the_key_to_record_it_by(demo: Path) -> None:
    text = told("scout", "front-lawn", "-w", demo)
    for one in guide("front-lawn", "-w", demo)["look_alikes"]:
        assert one["key"] in LOOKALIKES
        assert f"({one['key']})" in text


def test_the_commands_shown_work_as_they_stand(own: Path) -> None:
    lines = [line.strip() for line in told("scout", "courtyard", "-w", own).splitlines()]
    shown = [line for line in lines if line.startswith("forecast record scouting")]
    assert len(shown) == 4
    for line in shown:
        assert re.fullmatch(r"scouting \d+ recorded\n", told(*shlex.split(line)[1:]))
    (result,) = [line for line in lines if line.startswith("forecast record lab-result")]
    assert told(*shlex.split(result.replace("NUMBER", "6"))[1:]) == "scouting 6 amended by scouting 7\n"


# Hemispheres, months, grasses


def test_the_southern_year_is_turned() -> None:
    north = guide("--grass", "zoysiagrass", "--month", "10")
    south = guide("--grass", "zoysiagrass", "--month", "4", "--southern")
    assert diseases(north) == diseases(south)
    assert [one["shows_now"] for one in north["diseases"]] == [one["shows_now"] for one in south["diseases"]]
    (large_patch,) = [one for one in south["diseases"] if one["disease"] == "large_patch"]
    assert (large_patch["first_month"], large_patch["last_month"]) == (3, 11)  # September to May, six months on


def test_an_areas_hemisphere_is_that_of_its_latitude(own: Path) -> None:
    assert "brown_patch" in diseases(guide("north-field", "-w", own))
    path = own / "grounds.toml"
    text = path.read_text(encoding="utf-8")
    turned = re.sub(r"^latitude_deg = ([\d.]+)", r"latitude_deg = -\1", text, flags=re.MULTILINE)
    assert turned != text
    path.write_text(turned, encoding="utf-8")
    page = guide("north-field", "-w", own)
    assert page["southern"] is True
    assert "brown_patch" in [one["disease"] for one in page["others"]], "July is winter there"
    assert "microdochium_patch" in diseases(page)


@pytest.mark.parametrize("grass", GRASSES)
@pytest.mark.parametrize("month", range(1, 13))
def test_every_grass_has_a_page_in_every_month(grass: str, month: int) -> None:
    report = grass_guide(grass, JULY, southern=False, month=month)
    possible = [key for key, one in DISEASES.items() if grass in one.grasses]
    assert sorted([*(d.disease for d in report.diseases), *(d.disease for d in report.others)]) == sorted(possible)
    for full in (False, True):
        text = scouting_text(report, full=full)
        assert "WRITE IT DOWN" in text
        assert "None" not in text
        lines = [line for line in text.splitlines() if not line.startswith("  forecast record")]
        assert max(len(line) for line in lines) <= 88


def test_other_diseases_are_those_that_the_grass_can_have() -> None:
    (brown_patch,) = grass_guide("tall_fescue", JULY, southern=False, disease="brown_patch").diseases
    told_from = {one.key for one in brown_patch.other_diseases}
    assert "large_patch" not in told_from
    assert {"dollar_spot", "gray_leaf_spot"} <= told_from
    (take_all,) = grass_guide("creeping_bentgrass", JULY, southern=False, disease="take_all_patch").diseases
    assert "summer_patch" in {one.key for one in take_all.other_diseases}, "greens are mixed with annual bluegrass"


def test_without_an_area_the_areas_are_listed(demo: Path) -> None:
    text = told("scout", "-w", demo)
    assert "  oak-strip    Strip under the oaks, Wren Hill School: tall fescue" in text.splitlines()
    listed = json.loads(told("scout", "-w", demo, "--json"))
    assert [one["area_id"] for one in listed["areas"]] == [
        "north-field",
        "oak-strip",
        "front-lawn",
        "green",
        "courtyard",
    ]


def test_what_does_not_go_together_is_refused(demo: Path) -> None:
    assert "no area 'nowhere'" in refused("scout", "nowhere", "-w", demo)
    message = refused("scout", "courtyard", "-w", demo, "--disease", "summer_patch")
    assert "summer patch is not looked for on St. Augustinegrass" in message
    assert "large_patch" in message, "what there is instead"
    assert "'rust' is no disease" in refused("scout", "green", "-w", demo, "--disease", "rust")
    assert "no grass 'moss'" in refused("scout", "--grass", "moss")
    for arguments in (
        ("scout", "green", "-w", demo, "--grass", "tall_fescue"),
        ("scout", "green", "-w", demo, "--southern"),
        ("scout", "-w", demo, "--month", "7"),
        ("scout", "-w", demo, "--disease", "brown_patch"),
        ("scout", "green", "-w", demo, "--month", "13"),
    ):
        assert run(*arguments).exit_code == 2, arguments


# Records


def records(workspace: Path) -> list[dict[str, Any]]:
    found = json.loads(told("record", "list", "--json", "-w", workspace))["records"]
    return [one for one in found if one["kind"] == "scouting"]


def test_all_that_a_scout_says_is_kept_and_listed(own: Path) -> None:
    told(
        "record", "scouting", "oak-strip", "-w", own, "--on", AT, "--saw", "brown_patch", "--saw", "drought",
        "--severity-pct", "3", "--patch-size", "12 in", "--threads", "--lab", "State plant clinic", "--by", "Robin",
        "--note", "under the third oak",
    )  # fmt: skip
    (row,) = [one for one in records(own) if one["area_id"] == "oak-strip"]
    assert (row["disease"], row["look_alikes"], row["sure"]) == ("brown_patch", ["drought"], False)
    assert row["patch_across_mm"] == 304.8  # 12 × 25.4 mm
    assert (row["severity_pct"], row["threads_at_dawn"], row["lab"]) == (3.0, True, "State plant clinic")
    line = told("record", "list", "-w", own).splitlines()[-1]
    assert line.replace("\u00a0", " ") == (
        "scouting 3: 2050-07-25 05:10 oak-strip saw brown_patch and drought, not sure, on 3 % of the area, patches "
        '12 in across, white threads at dawn, sample sent to State plant clinic, by Robin, "under the third oak"'
    )


def test_records_made_before_are_listed_as_they_were(own: Path) -> None:
    lines = [line for line in told("record", "list", "-w", own).splitlines() if line.startswith("scouting")]
    assert lines[0].startswith("scouting 1: 2049-07-22 06:20 north-field saw brown_patch, on 3")
    assert lines[1] == 'scouting 2: 2050-07-18 06:15 front-lawn saw nothing, by R. Quill (invented), "nothing seen"'
    assert all(row["look_alikes"] == [] and row["lab"] == "" for row in records(own))


def morning(workspace: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(told("morning", "-w", workspace, "--json"))
    return found


def test_what_is_no_disease_changes_nothing_on_the_morning_page(own: Path) -> None:
    before = morning(own)
    for saw in (["drought"], ["dog_urine", "white_grubs"], ["unknown"], ["other_disease"]):
        flags = [word for key in saw for word in ("--saw", key)]
        told("record", "scouting", "oak-strip", "-w", own, "--on", AT, *flags, "--sure", "--threads")
    assert len(records(own)) == 6
    assert morning(own) == before


def test_a_disease_does_change_the_morning_page_and_a_labs_no_changes_it_back(own: Path) -> None:
    before = morning(own)
    told("record", "scouting", "oak-strip", "-w", own, "--on", AT, "--saw", "brown_patch", "--lab", "the clinic")
    assert morning(own) != before
    assert told("record", "lab-result", "3", "-w", own, "--found", "drought") == "scouting 3 amended by scouting 4\n"
    assert morning(own) == before


def test_a_labs_yes_makes_the_diagnosis_sure(own: Path) -> None:
    told("record", "scouting", "front-lawn", "-w", own, "--on", AT, "--saw", "unknown", "--lab", "the clinic")
    told("record", "lab-result", "3", "-w", own, "--found", "brown_patch", "--words", "Rhizoctonia, by culture")
    row = records(own)[-1]
    assert (row["disease"], row["sure"], row["look_alikes"]) == ("brown_patch", True, [])
    assert (row["lab_result"], row["lab_result_on"], row["amends"]) == ("Rhizoctonia, by culture", "2050-07-25", 3)
    assert "the clinic found on 2050-07-25: Rhizoctonia, by culture" in told("record", "list", "-w", own)
    (area,) = [one for one in morning(own)["areas"] if one["area_id"] == "front-lawn"]
    (brown_patch,) = [one for one in area["diseases"] if one["disease"] == "brown_patch"]
    assert not any("not been diagnosed here" in reason for reason in brown_patch["reasons"])


def test_a_labs_answer_from_tomorrow_is_refused(own: Path) -> None:
    told("record", "scouting", "green", "-w", own, "--on", AT, "--saw", "dollar_spot", "--lab", "the clinic")
    call = ("record", "lab-result", "3", "-w", own, "--found", "dollar_spot")
    assert "lies in the future" in refused(*call, "--on", "2050-07-26")
    assert len(records(own)) == 3
    told(*call, "--on", "2050-07-25")


@pytest.mark.parametrize(
    ("flags", "message"),
    [
        ("--saw moss", "'moss' is no disease"),
        ("--saw drougt", "did you mean 'drought'"),
        ("--saw nothing --saw drought", "at once"),
        ("--saw nothing --saw brown_patch", "at once"),
        ("--saw brown_patch --saw dollar_spot", "two diseases"),
        ("--saw nothing --severity-pct 3", "no severity"),
        ("--saw nothing --threads", "something seen"),
        ("--saw nothing --patch-size '3 in'", "no patch size"),
        ("--saw drought --severity-pct nan", "no number"),
        *((f"--saw drought --patch-size '{size}'", "no size of a patch") for size in (
            "12", "in", "12 yards", "-3 in", "0 cm", "nan cm", "inf m", "1e9 m", "101 m",
        )),
    ],
)  # fmt: skip
def test_a_look_that_cannot_be_right_is_refused_and_leaves_no_record(own: Path, flags: str, message: str) -> None:
    assert message in refused("record", "scouting", "green", "-w", own, "--on", AT, *shlex.split(flags))
    assert len(records(own)) == 2


@pytest.mark.parametrize(
    ("typed", "mm"),
    [("12 in", 304.8), ("1 ft", 304.8), ("30 cm", 300.0), ("0.5 m", 500.0), ("50 mm", 50.0), ("100 m", 100_000.0)],
)
def test_a_patchs_size_is_kept_in_mm(own: Path, typed: str, mm: float) -> None:
    told("record", "scouting", "green", "-w", own, "--on", AT, "--saw", "dollar_spot", "--patch-size", typed)
    assert records(own)[-1]["patch_across_mm"] == mm


def test_the_same_word_twice_is_one_finding(own: Path) -> None:
    told("record", "scouting", "green", "-w", own, "--on", AT, *["--saw", "drought"] * 2, *["--saw", "dollar_spot"] * 2)
    row = records(own)[-1]
    assert (row["disease"], row["look_alikes"]) == ("dollar_spot", ["drought"])
