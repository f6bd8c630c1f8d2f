"""The scouting guide: whole for every disease, sound in keys and figures, and an order of places that can be told."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, time
from typing import get_args

import pytest

from forecast.diseases.nutter_1983 import NUTTER_1983
from forecast.guide import GUIDE, SAMPLE, SAMPLE_SOURCES, GuideEntry, Source
from forecast.guide.form import Grade, shows, turned
from forecast.guide.lookalikes import LOOKALIKES, UNCLEAR, UNMODELLED
from forecast.guide.places import PLACES
from forecast.guide.where import PAST, PastSighting, Place, look_first
from forecast.turf import DISEASES, GRASSES, Area, Ground, Irrigation, Setting

ENTRIES = pytest.mark.parametrize("entry", GUIDE.values(), ids=list(GUIDE))
PHRASES = ("hour", "weather", "patch", "blade", "base", "dew")  # become sentences on the page
SENTENCES = ("sure", "unsure")


def texts(entry: GuideEntry) -> list[str]:
    """Every word of an entry that a person reads."""
    plain = [getattr(entry, name) for name in (*PHRASES, *SENTENCES, "quiet")]
    apart = [one.check for one in (*entry.not_disease, *entry.other_diseases)]
    return [*plain, *apart, *(str(source) for source in entry.sources)]


ALL_TEXTS = [
    *(text for entry in GUIDE.values() for text in texts(entry)),
    *(text for one in LOOKALIKES.values() for text in (one.name, one.looks, one.check, str(one.source))),
    *(text for kind in PLACES.values() for text in (kind.words, kind.reason, str(kind.source))),
    *UNCLEAR.values(),
    SAMPLE,
    *(str(source) for source in SAMPLE_SOURCES),
]


# Whole


def test_every_disease_has_its_entry_and_nothing_else_has() -> None:
    assert set(GUIDE) == set(DISEASES)
    assert all(entry.disease == key for key, entry in GUIDE.items())


@ENTRIES
def test_every_entry_says_all_that_a_scout_needs(entry: GuideEntry) -> None:
    for name in (*PHRASES, *SENTENCES):
        assert len(getattr(entry, name)) > 10, name
    assert entry.not_disease, "what is no disease and looks like it"
    assert entry.other_diseases, "what other disease looks like it"
    assert entry.places
    assert entry.sources
    assert any(source.grade in ("read second-hand", "abstract read") for source in entry.sources), "not memory alone"


@ENTRIES
def test_every_entry_says_at_what_time_of_day(entry: GuideEntry) -> None:
    assert re.search(r"\b(dawn|early|daylight|heat of the day)\b", entry.hour)
    shown_in_dew = not entry.dew.startswith(("nothing", "gray-white growth on wet patches"))
    assert (entry.look_at == "dawn") == shown_in_dew, "dawn is for what the dew shows"


def test_phrases_have_no_stop_and_sentences_have_one() -> None:
    for entry in GUIDE.values():
        for name in PHRASES:
            assert not getattr(entry, name).endswith("."), (entry.disease, name)
        for text in (entry.sure, entry.unsure, *(one.check for one in (*entry.not_disease, *entry.other_diseases))):
            assert text.endswith("."), (entry.disease, text)
        assert entry.quiet == "" or entry.quiet.endswith(".")
    assert all(one.check.endswith(".") and not one.looks.endswith(".") for one in LOOKALIKES.values())


# Keys


def test_every_key_named_is_known_and_named_once() -> None:
    for entry in GUIDE.values():
        assert {one.key for one in entry.not_disease} <= set(LOOKALIKES), entry.disease
        assert {one.key for one in entry.other_diseases} <= {*DISEASES, *UNMODELLED} - {entry.disease}
        assert set(entry.places) <= {PAST, *PLACES}
        for keys in (
            [one.key for one in entry.not_disease],
            [one.key for one in entry.other_diseases],
            list(entry.places),
        ):
            assert len(keys) == len(set(keys)), entry.disease


def test_nothing_a_scout_can_record_has_two_meanings() -> None:
    groups = [set(DISEASES), set(LOOKALIKES), set(UNCLEAR), set(UNMODELLED), {"nothing"}]
    assert sum(len(group) for group in groups) == len(set.union(*groups))
    assert all(re.fullmatch(r"[a-z_]+", key) for group in groups for key in group), "easy to type"


def test_every_look_alike_and_every_place_is_used() -> None:
    assert {one.key for entry in GUIDE.values() for one in entry.not_disease} == set(LOOKALIKES)
    assert {key for entry in GUIDE.values() for key in entry.places} - {PAST} == set(PLACES)


def test_the_usual_look_alikes_are_all_there() -> None:
    wanted = {
        "dog_urine",
        "white_grubs",
        "chinch_bugs",
        "sod_webworms",
        "billbugs",
        "drought",
        "dry_spot",
        "burn",
        "dull_mower",
        "scalping",
        "frost",
        "heat_tracks",
    }
    assert wanted <= set(LOOKALIKES)


def test_what_is_told_apart_is_told_from_both_sides_and_can_stand_in_one_turf() -> None:
    for key, entry in GUIDE.items():
        for one in entry.other_diseases:
            if one.key in DISEASES:
                assert key in {back.key for back in GUIDE[one.key].other_diseases}, f"{one.key} is not told from {key}"
                shared = set(DISEASES[key].grasses) & set(DISEASES[one.key].grasses)
                assert bool(shared) != one.mixed, (key, one.key)


# Figures and words


def test_temperatures_in_both_units_agree() -> None:
    pairs = 0
    for text in ALL_TEXTS:
        for low_c, high_c, low_f, high_f in re.findall(
            r"(?:(\d+) (?:to|and) )?(\d+)\u00a0°C\s\((?:(\d+) (?:to|and) )?(\d+)\u00a0°F\)", text
        ):
            for c, f in ((low_c, low_f), (high_c, high_f)):
                assert bool(c) == bool(f)
                if c:
                    pairs += 1
                    # °F = 1.8 °C + 32; a round °F figure may be 1 °F off its °C.
                    assert abs(1.8 * float(c) + 32 - float(f)) <= 1, text
    assert pairs == sum(text.count("°C") for text in ALL_TEXTS) + 3, "three of them are spans"


def test_pythium_blights_weather_is_that_of_its_model() -> None:
    numbers = {round(one.value) for one in NUTTER_1983.coefficients.values()}
    assert {30, 20} <= numbers, "Nutter, Cole & Schein 1983: maximum above 30 °C, minimum above 20 °C"
    told = re.findall(r"(\d+)\u00a0°C", GUIDE["pythium_blight"].weather)
    assert told == ["30", "20"]


def test_no_text_names_a_product_a_rate_or_a_treatment() -> None:
    rate = re.compile(
        r"\d\s*(?:fl oz|oz|lb|g|kg|mL|L|gal)\b|per 1,?000|fungicide|insecticide|herbicide|\bspray(?:ed)? with",
        re.IGNORECASE,
    )
    for text in ALL_TEXTS:
        assert not rate.search(text), text
        assert "—" not in text, text
        assert text == text.strip(), text


def test_every_source_says_how_it_was_read() -> None:
    found = [source for entry in GUIDE.values() for source in entry.sources]
    found += [one.source for one in LOOKALIKES.values()] + [kind.source for kind in PLACES.values()]
    for source in (*found, *SAMPLE_SOURCES):
        assert source.grade in get_args(Grade)
        assert source.words or source.grade == "common practice, no source"
    assert str(Source("Author 2001", "read second-hand")) == "Author 2001 (read second-hand)"
    assert str(Source("", "common practice, no source")) == "common practice, no source"


# Months


@pytest.mark.parametrize(
    ("month", "southern", "then"),
    [(1, False, 1), (12, False, 12), (1, True, 7), (6, True, 12), (7, True, 1), (12, True, 6)],
)
def test_the_southern_year_is_half_a_year_on(month: int, southern: bool, then: int) -> None:
    assert turned(month, southern=southern) == then


@pytest.mark.parametrize("month", [0, 13, -1])
def test_a_month_that_is_none_is_refused(month: int) -> None:
    with pytest.raises(ValueError, match="is no month"):
        turned(month, southern=False)


def test_a_span_over_the_years_end_shows_at_both_of_its_ends_and_not_between() -> None:
    entry = replace(GUIDE["large_patch"], first_month=9, last_month=5)
    shown = [month for month in range(1, 13) if shows(entry, month, southern=False)]
    assert shown == [1, 2, 3, 4, 5, 9, 10, 11, 12]
    # Six months on: March to November.
    assert [month for month in range(1, 13) if shows(entry, month, southern=True)] == list(range(3, 12))


def test_a_span_of_one_month_shows_in_it_alone() -> None:
    entry = replace(GUIDE["large_patch"], first_month=2, last_month=2)
    assert [month for month in range(1, 13) if shows(entry, month, southern=False)] == [2]


@ENTRIES
def test_in_its_season_a_disease_shows_or_the_guide_says_what_to_do_meanwhile(entry: GuideEntry) -> None:
    disease = DISEASES[entry.disease]
    length = (disease.last_month - disease.first_month) % 12
    season = [(disease.first_month - 1 + step) % 12 + 1 for step in range(length + 1)]
    unseen = [month for month in season if not shows(entry, month, southern=False)]
    assert bool(unseen) == bool(entry.quiet), f"{entry.disease} does not show in {unseen}"


# Where to look first


def area(
    *,
    grass: str = "tall_fescue",
    setting: Setting | None = None,
    ground: Ground | None = None,
    had: tuple[str, ...] = (),
) -> Area:
    return Area("a", "lawn", "p", "Field", "x", grass, 100.0, setting or Setting(), ground or Ground(), had)


def keys(places: tuple[Place, ...], *, known: bool) -> list[str]:
    return [place.key for place in places if place.known is known]


def test_an_open_lawn_of_which_nothing_is_known_has_places_to_find_and_none_known() -> None:
    found = look_first(area(), ["brown_patch"], [])
    assert keys(found, known=True) == []
    # The guide's order for brown patch, less what the setting says is not here: shade, wind, evening water, density.
    assert keys(found, known=False) == ["low_wet", "high_nitrogen", "thatch"]


def test_shade_is_known_and_told_with_its_sides() -> None:
    (first, *_) = look_first(area(setting=Setting(light_let_through_fraction=0.5)), ["brown_patch"], [])
    assert (first.key, first.known, first.words) == ("shade", True, "the shaded part, and the edge of the shade")
    (first, *_) = look_first(area(setting=Setting(shaded_from=("e", "ne"))), ["brown_patch"], [])
    assert first.words == "the part shaded from the east and north-east, and the edge of the shade"


@pytest.mark.parametrize(
    ("setting", "ground", "key"),
    [
        (Setting(wind_let_through_fraction=0.9), Ground(), "still_air"),
        (Setting(density="dense"), Ground(), "dense"),
        (Setting(), Ground(drainage="poor"), "low_wet"),
        (Setting(), Ground(thatch_mm=12.8), "thatch"),
        (Setting(), Ground(nitrogen="high"), "high_nitrogen"),
        (Setting(irrigation=Irrigation((0,), time(15), 5.0)), Ground(), "evening_water"),
    ],
)
def test_what_the_settings_say_is_here_comes_before_what_has_to_be_found(
    setting: Setting, ground: Ground, key: str
) -> None:
    found = look_first(area(setting=setting, ground=ground), ["brown_patch"], [])
    assert keys(found, known=True) == [key]
    assert found[0].key == key


@pytest.mark.parametrize(
    ("setting", "ground", "key"),
    [
        (Setting(), Ground(thatch_mm=12.7), "thatch"),  # half an inch is not above half an inch
        (Setting(), Ground(nitrogen="usual"), "high_nitrogen"),
        (Setting(irrigation=Irrigation((0,), time(14, 59), 5.0)), Ground(), "evening_water"),
        (Setting(irrigation=Irrigation((0,), time(4, 30), 5.0)), Ground(), "evening_water"),
        (Setting(density="thin"), Ground(), "dense"),
    ],
)
def test_what_the_settings_say_is_not_here_is_left_out(setting: Setting, ground: Ground, key: str) -> None:
    assert key not in [place.key for place in look_first(area(setting=setting, ground=ground), ["brown_patch"], [])]


def test_good_drainage_does_not_say_that_there_is_no_hollow() -> None:
    found = look_first(area(ground=Ground(drainage="good")), ["brown_patch"], [])
    assert "low_wet" in keys(found, known=False)


def test_ground_known_to_be_loose_is_not_walked_for_compaction() -> None:
    loose = look_first(area(grass="annual_bluegrass", ground=Ground(compacted=False)), ["anthracnose"], [])
    assert "compacted" not in [place.key for place in loose]
    unknown = look_first(area(grass="annual_bluegrass"), ["anthracnose"], [])
    assert "compacted" in keys(unknown, known=False)


def test_a_place_that_more_diseases_share_comes_first() -> None:
    found = look_first(area(), ["brown_patch", "pythium_blight"], [])
    shared = [len(place.diseases) for place in found]
    assert shared == sorted(shared, reverse=True)
    assert found[0].diseases == ("brown_patch", "pythium_blight")
    # Low wet ground stands before nitrogen: second for Pythium blight, while nitrogen is seventh for both.
    assert [place.key for place in found[:2]] == ["low_wet", "high_nitrogen"]


SEEN = (
    PastSighting(date(2048, 8, 1), "brown_patch", sure=True, note="by the gate"),
    PastSighting(date(2050, 7, 2), "brown_patch", sure=False, note=""),
    PastSighting(date(2050, 7, 9), "dollar_spot", sure=True, note="bank"),
)


def test_past_patches_lead_the_newest_first_and_only_of_the_diseases_asked_about() -> None:
    found = look_first(area(setting=Setting(density="dense"), had=("brown_patch",)), ["brown_patch"], SEEN)
    assert [place.key for place in found[:3]] == [PAST, PAST, "dense"]
    assert found[0].words == "where brown patch was seen on 2 Jul 2050, not surely"
    assert found[1].words == 'where brown patch was seen on 1 Aug 2048, "by the gate"'


def test_a_diagnosis_without_a_record_asks_for_the_place() -> None:
    (first, *_) = look_first(area(had=("brown_patch", "summer_patch")), ["brown_patch"], [])
    assert first.words == "where brown patch was before: ask who has worked here"
    assert first.reason == "it has been diagnosed here, and no record says where"


def test_only_the_newest_sightings_are_listed() -> None:
    many = [PastSighting(date(2040 + year, 7, 1), "brown_patch", sure=True, note="") for year in range(8)]
    found = look_first(area(), ["brown_patch"], many)
    assert [place.words[-4:] for place in found if place.key == PAST] == ["2047", "2046", "2045"]


@pytest.mark.parametrize("grass", GRASSES)
def test_every_grass_can_be_walked_for_all_its_diseases_without_a_figure_of_chance(grass: str) -> None:
    possible = [disease.key for disease in DISEASES.values() if grass in disease.grasses]
    found = look_first(area(grass=grass), possible, [])
    assert found
    for place in found:
        assert set(place.diseases) <= set(possible)
        assert not re.search(r"%|\bchance\b|probab|times as", f"{place.words} {place.reason}")


def test_every_place_names_the_diseases_that_name_it_and_each_kind_once() -> None:
    found = look_first(area(), list(GUIDE), [])
    assert len({place.key for place in found}) == len(found)
    for place in found:
        assert place.diseases == tuple(key for key, entry in GUIDE.items() if place.key in entry.places)
