"""What a site adds to the weather: trials' figures, bounded, beside the score and never in it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import time
from pathlib import Path

import pytest

from forecast.diseases.modifiers import MODIFIERS, modifiers_for, scouting_weight
from forecast.diseases.scouting_reasons import SCOUTING
from forecast.diseases.site_form import BOUNDS, CULTIVAR_BOUNDS, Modifier, Reads, ScoutingReason, every_area
from forecast.turf import DISEASES, Area, Ground, Irrigation, Setting

FORECAST = Path(__file__).parents[1] / "forecast"
DAILY = Irrigation((0, 1, 2, 3, 4, 5, 6), time(20), 6.0)


def _area(grass: str = "tall_fescue", ground: Ground | None = None, setting: Setting | None = None) -> Area:
    return Area(
        area_id="a1",
        area_name="front lawn",
        property_id="p1",
        property_name="Elm Street 5",
        place_id="alder",
        grass=grass,
        size_m2=400.0,
        setting=Setting() if setting is None else setting,
        ground=Ground() if ground is None else ground,
    )


def _factors(area: Area, disease: str = "brown_patch") -> dict[str, tuple[float, float]]:
    return {one.reads: (one.factor_low, one.factor_high) for one in modifiers_for(area, disease)}


def _reasons(area: Area, disease: str = "brown_patch") -> list[str]:
    return [one.reads for one in scouting_weight(area, disease).reasons]


# What trials found (abstracts): grass, what is known of the ground, which figure, between what.
SIZES = [
    # 61 % less over two seasons is ×0.39, held at ×0.4; 34 against 60 % blight is ×0.567.
    ("tall_fescue", Ground(cultivar="resistant"), "cultivar", 0.4, 34 / 60),
    ("tall_fescue", Ground(cultivar="susceptible"), "cultivar", 1.0, 1.0),
    ("creeping_bentgrass", Ground(nitrogen="low"), "nitrogen", 1 - 0.17, 1 - 0.17),
    ("perennial_ryegrass", Ground(nitrogen="low"), "nitrogen", 1 - 0.33, 1 - 0.33),
    ("colonial_bentgrass", Ground(nitrogen="low"), "nitrogen", 1.0, 1.0),
    ("tall_fescue", Ground(nitrogen="low"), "nitrogen", 1.0, 1.0),
    ("tall_fescue", Ground(nitrogen="high"), "nitrogen", 1.0, BOUNDS[1]),
]


@pytest.mark.parametrize(("grass", "ground", "reads", "low", "high"), SIZES)
def test_a_modifier_is_what_its_trials_found(grass: str, ground: Ground, reads: str, low: float, high: float) -> None:
    found = _factors(_area(grass, ground))
    assert found[reads] == pytest.approx((low, high), abs=0.005)


def test_what_is_not_known_of_a_site_modifies_nothing() -> None:
    assert set(_factors(_area())) == {"mowing"}
    assert _factors(_area("kentucky_bluegrass")) == {}
    assert scouting_weight(_area(), "brown_patch").weight == 0
    usual = Ground(nitrogen="usual", cultivar="usual", drainage="good", compacted=False, thatch_mm=5.0)
    assert _factors(_area(ground=usual)) == {"mowing": (1.0, 1.0)}
    assert scouting_weight(_area(ground=usual), "brown_patch").weight == 0


def test_height_of_cut_counts_for_nothing_and_says_why() -> None:
    for grass in ("tall_fescue", "perennial_ryegrass"):
        for height_mm in (12.0, 90.0):
            area = _area(grass, setting=Setting(mowing_height_mm=height_mm))
            mowing = next(one for one in modifiers_for(area, "brown_patch") if one.reads == "mowing")
            assert (mowing.factor_low, mowing.factor_high) == (1.0, 1.0)
            assert "one year and less in the other" in mowing.words


def test_evening_watering_is_no_multiplier_and_says_where_it_counts() -> None:
    area = _area(setting=Setting(irrigation=DAILY))
    watering = next(one for one in modifiers_for(area, "brown_patch") if one.reads == "irrigation")
    assert (watering.factor_low, watering.factor_high) == (1.0, 1.0)
    assert "wet hours" in watering.words


def test_a_trial_counts_only_for_its_own_grass_and_disease() -> None:
    resistant = Ground(cultivar="resistant", nitrogen="low")
    assert "cultivar" not in _factors(_area("creeping_bentgrass", resistant))
    assert "nitrogen" not in _factors(_area("kentucky_bluegrass", resistant))
    assert _factors(_area("tall_fescue", resistant), "dollar_spot") == {}


# Where trials and handbooks give no size: ground or setting, grass, disease, what it is for.
WORSE = [
    (Ground(drainage="poor"), Setting(), "tall_fescue", "brown_patch", ["drainage"]),
    (Ground(compacted=True), Setting(), "tall_fescue", "brown_patch", ["compaction"]),
    (Ground(drainage="poor", compacted=True), Setting(), "perennial_ryegrass", "pythium_blight",
     ["drainage", "compaction"]),
    (Ground(drainage="poor"), Setting(), "zoysiagrass", "large_patch", ["drainage"]),
    (Ground(thatch_mm=13.1), Setting(), "zoysiagrass", "large_patch", ["thatch"]),
    (Ground(thatch_mm=13.0), Setting(), "zoysiagrass", "large_patch", []),  # half an inch is not more than that
    (Ground(thatch_mm=20.0), Setting(), "creeping_bentgrass", "pythium_blight", ["thatch"]),
    (Ground(), Setting(light_let_through_fraction=0.7), "tall_fescue", "brown_patch", ["shade"]),
    (Ground(), Setting(light_let_through_fraction=0.71), "tall_fescue", "brown_patch", []),
    (Ground(), Setting(light_let_through_fraction=0.4), "perennial_ryegrass", "brown_patch", []),
    (Ground(), Setting(light_let_through_fraction=0.4), "st_augustinegrass", "gray_leaf_spot", ["shade"]),
    (Ground(), Setting(density="dense"), "tall_fescue", "brown_patch", ["density"]),
    (Ground(nitrogen="high"), Setting(), "perennial_ryegrass", "brown_patch", ["nitrogen"]),
    (Ground(nitrogen="high"), Setting(), "perennial_ryegrass", "gray_leaf_spot", ["nitrogen"]),
    (Ground(nitrogen="low"), Setting(), "annual_bluegrass", "anthracnose", ["nitrogen"]),
    (Ground(cultivar="susceptible"), Setting(), "creeping_bentgrass", "dollar_spot", ["cultivar"]),
    (Ground(), Setting(irrigation=DAILY), "perennial_ryegrass", "gray_leaf_spot", ["irrigation"]),
    (Ground(), Setting(irrigation=replace(DAILY, days=(0, 2, 4))), "perennial_ryegrass", "gray_leaf_spot", []),
    (Ground(), Setting(irrigation=DAILY), "creeping_bentgrass", "dollar_spot", []),  # trials had less, not more
]  # fmt: skip


@pytest.mark.parametrize(("ground", "setting", "grass", "disease", "reads"), WORSE)
def test_without_a_size_a_site_only_moves_up_in_the_round(
    ground: Ground, setting: Setting, grass: str, disease: str, reads: list[str]
) -> None:
    area = _area(grass, ground, setting)
    assert _reasons(area, disease) == reads
    assert scouting_weight(area, disease).weight == len(reads)
    # And no multiplier goes by the same thing, other than one that says that it is none.
    assert all(_factors(area, disease).get(one, (1.0, 1.0)) == (1.0, 1.0) for one in reads)


def test_sites_are_ordered_by_how_much_speaks_for_looking() -> None:
    wet = Ground(drainage="poor")
    grounds = [Ground(), wet, replace(wet, compacted=True), replace(wet, compacted=True, thatch_mm=25.0)]
    assert [scouting_weight(_area(ground=one), "brown_patch").weight for one in grounds] == [0, 1, 2, 3]


def test_every_row_has_its_bounds_words_and_a_source_of_its_own() -> None:
    for one in MODIFIERS:
        low, high = CULTIVAR_BOUNDS if one.reads == "cultivar" else BOUNDS
        assert low <= one.factor_low <= one.factor_high <= high
        assert re.search(r"\b(19|20)\d\d\b", one.source), one.words
    rows: tuple[Modifier | ScoutingReason, ...] = (*MODIFIERS, *SCOUTING)
    for row in rows:
        assert row.words
        assert row.source
        assert row.grasses
        assert set(row.grasses) <= set(DISEASES[row.disease].grasses)
    assert BOUNDS == (0.6, 1.6)
    assert CULTIVAR_BOUNDS == (0.4, 1.0)


def test_no_site_gets_two_modifiers_for_one_thing() -> None:
    for disease in DISEASES.values():
        for grass in disease.grasses:
            for cultivar in ("susceptible", "usual", "resistant"):
                for nitrogen in ("low", "usual", "high"):
                    ground = Ground(cultivar=cultivar, nitrogen=nitrogen)
                    found = [one.reads for one in modifiers_for(_area(grass, ground), disease.key)]
                    assert len(found) == len(set(found))


@pytest.mark.parametrize(
    ("reads", "low", "high"),
    [("nitrogen", 0.59, 1.0), ("nitrogen", 1.0, 1.61), ("nitrogen", 1.2, 1.1), ("cultivar", 0.39, 1.0),
     ("cultivar", 0.5, 1.1), ("drainage", 0.5, 1.0)],
)  # fmt: skip
def test_a_factor_out_of_bounds_is_refused(reads: Reads, low: float, high: float) -> None:
    with pytest.raises(ValueError, match="factors lie between"):
        Modifier("brown_patch", ("tall_fescue",), reads, every_area, low, high, "w", "s")


def test_a_grass_on_which_the_disease_is_not_looked_for_is_refused() -> None:
    with pytest.raises(ValueError, match="not looked for on zoysiagrass"):
        Modifier("brown_patch", ("zoysiagrass",), "mowing", every_area, 1.0, 1.0, "w", "s")
    with pytest.raises(ValueError, match="not looked for on tall_fescue"):
        ScoutingReason("large_patch", ("tall_fescue",), "drainage", every_area, "w", "s")


def test_scores_chances_and_answers_know_of_no_modifier() -> None:
    # They stand beside; what reckons weather scores, chances and answers must not even import them.
    beside = {"modifiers", "scouting_reasons", "site_form"}
    files = [path for path in (FORECAST / "diseases").glob("*.py") if path.stem not in beside]
    files += [*(FORECAST / "outlook").glob("*.py"), *(FORECAST / "schedule").glob("*.py")]
    assert len(files) > 20
    for path in files:
        imported = re.findall(r"^(?:from|import) (\S+)(?: import (.*))?$", path.read_text("utf-8"), re.MULTILINE)
        names = {part for module, what in imported for part in f"{module}, {what}".replace(".", ", ").split(", ")}
        assert not names & beside, path.name
