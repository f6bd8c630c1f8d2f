"""Care advice: given only where figures or settings ask for it, in plain words, in the reader's units."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import time

import pytest

from forecast.care import Advice, CareFacts, WaterNow, care, is_growing
from forecast.care.advice import LAWN_GRASSES, mowing
from forecast.care.nitrogen import FINDINGS, nitrogen
from forecast.care.watering import refill_mm, state_of
from forecast.care.words import days_words, depth_words, span_words
from forecast.turf import DISEASES, GRASSES, Area, Ground, Irrigation, Setting

LAWN = Area("a", "front lawn", "p", "", "s", "tall_fescue", 400.0, ground=Ground("loam", 150.0))
GREEN = replace(LAWN, grass="creeping_bentgrass", setting=Setting(mowing_height_mm=4.0))
EVENING = Irrigation(days=(0, 2, 4), start=time(19), depth_mm=6.35)
DAILY = Irrigation(days=(0, 1, 2, 3, 4, 5, 6), start=time(4), depth_mm=6.35)

# TAW 40, RAW 16, 8 missing, 4 a day: today's use leads to 12, below RAW.
WATER = WaterNow(8.0, 8.0, 16.0, 40.0, 4.0, 12.7, 12.7, 0.0)


def at(missing: float, most: float | None = None) -> WaterNow:
    return replace(WATER, depletion_least_mm=missing, depletion_most_mm=missing if most is None else most)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def told(area: Area, facts: CareFacts, about: str, *, us: bool = True) -> list[Advice]:
    return [one for one in care(area, facts, us=us) if one.about == about]


def watered(area: Area, irrigation: Irrigation | None) -> Area:
    return replace(area, setting=replace(area.setting, irrigation=irrigation))


# --- watering ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("water", "state"),
    [
        (at(8), "enough"),  # 8 + 4 = 12 < 16
        (at(11.9), "enough"),  # 15.9
        (at(12), "soon"),  # 16 reaches RAW today
        (at(15.9), "soon"),
        (at(16), "short"),
        (at(16, 30), "short"),  # surely short, whatever the most
        (at(2, 16), "unsure"),
        (at(0, 40), "unsure"),
        (replace(at(15.9), use_mm_day=None), "enough"),
    ],
)
def test_the_state_of_the_roots(water: WaterNow, state: str) -> None:
    assert state_of(water) == state


def test_water_refills_and_no_more() -> None:
    assert refill_mm(at(18)) == 18  # what is missing
    assert refill_mm(at(18, 30)) == 18  # what is surely missing
    assert refill_mm(at(13)) == 17  # soon: 13 and today's 4
    assert refill_mm(replace(at(38), taw_mm=40.0)) == 38
    assert refill_mm(replace(at(14, 15), taw_mm=16.5)) == 16.5  # never more than the roots' soil holds


def test_a_short_lawn_is_watered_in_the_dew_and_never_in_the_evening() -> None:
    # 17.8 mm / 25.4 = 0.70 in.
    facts = CareFacts(growing=True, water=at(17.8))
    (advice,) = told(watered(LAWN, replace(EVENING, start=time(4))), facts, "watering")
    text = plain(advice.text)
    assert text.startswith("Water 0.7 in while the dew is still on, else before tomorrow's sunrise")
    assert "never in the evening" in text
    # 8 mm of TAW 40 = 1.57 in → 1.55; RAW 16 mm = 0.63 → 0.65; rain 12.7 mm = 0.5 in.
    why = plain(advice.why)
    assert "0.7 in was missing of the 1.55 in" in why
    assert "first 0.65 in without stress" in why
    assert "Rain of the last 7 days was 0.5 in; common practice is 1 to 1.5 in a week, rain counted" in why
    assert "rain that may come are not counted" in why
    assert "schedule is counted as if it always ran" in why
    assert "without rain" not in why  # no days are left to count


def test_millimetres_are_told_without_inches() -> None:
    facts = CareFacts(growing=True, water=replace(at(17.8), irrigation_week_mm=19.0))
    (advice,) = told(watered(LAWN, replace(EVENING, start=time(4))), facts, "watering", us=False)
    assert plain(advice.text).startswith("Water 18 mm ")
    assert "Rain of the last 7 days was 13 mm and the schedule gave 19 mm" in plain(advice.why)
    assert "25 to 38 mm a week" in plain(advice.why)
    assert "\u00a0in" not in advice.text + advice.why


def test_days_are_counted_to_the_start_of_stress() -> None:
    # (16 − 5) / 4 = 2.75 days, told as 2.
    (advice,) = told(LAWN, CareFacts(growing=True, water=at(5)), "watering")
    assert advice.text == "No water is needed today."
    assert "lasts 2 days more without rain" in plain(advice.why)
    # The most that can be missing decides: (16 − 9) / 4 = 1.75.
    (advice,) = told(LAWN, CareFacts(growing=True, water=at(5, 9)), "watering")
    assert "lasts 1 day more without rain" in plain(advice.why)


def test_a_set_watering_is_left_out_while_there_is_enough() -> None:
    lawn = watered(LAWN, replace(EVENING, start=time(5)))
    (advice,) = told(lawn, CareFacts(growing=True, water=at(5), due="tomorrow 05:00"), "watering")
    assert plain(advice.text) == "No water is needed today: the 0.25 in set for tomorrow 05:00 can be left out."
    (advice,) = told(lawn, CareFacts(growing=True, water=at(5)), "watering")
    assert plain(advice.text) == "No water is needed today.", "nothing is set that could be left out"


def test_todays_watering_is_counted_and_tomorrows_is_not_given_twice() -> None:
    # 17.8 mm missing at midnight, 6 of 16 mm RAW taken off by this morning's water: 11.8 is no longer short.
    lawn = watered(LAWN, replace(EVENING, start=time(5)))
    (advice,) = told(lawn, CareFacts(growing=True, water=at(17.8), given_today_mm=6.0), "watering", us=False)
    assert plain(advice.text).startswith("No water is needed")
    assert "Today's 6 mm of the schedule is taken off it." in plain(advice.why)
    # 6 mm due tomorrow are less than 0.8 of 17.8 mm; 15 mm are not.
    (advice,) = told(lawn, CareFacts(growing=True, water=at(17.8), due="tomorrow 05:00"), "watering", us=False)
    assert plain(advice.text).startswith("Water 18 mm")
    assert plain(advice.text).endswith("The 6 mm set for tomorrow 05:00 is part of it.")
    deep = watered(LAWN, replace(EVENING, start=time(5), depth_mm=15.0))
    (advice,) = told(deep, CareFacts(growing=True, water=at(17.8), due="tomorrow 05:00"), "watering", us=False)
    assert plain(advice.text) == "The 15 mm set for tomorrow 05:00 will do; more is not needed."


@pytest.mark.parametrize(
    ("why", "words"), [("no_gauge", "No gauge"), ("late", "do not reach last midnight"), ("short", "less than a week")]
)
def test_no_balance_says_why(why: str, words: str) -> None:
    (advice,) = told(LAWN, CareFacts(growing=True, water_unknown=why), "watering")  # type: ignore[arg-type]
    assert words in f"{advice.text} {advice.why}"
    assert advice.text.startswith("No watering advice")


def test_soon_short_gives_todays_use_as_well() -> None:
    # 13 missing and 4 today: 17 mm = 0.67 in, told as 0.65.
    (advice,) = told(LAWN, CareFacts(growing=True, water=at(13)), "watering")
    assert plain(advice.text).startswith(
        "Short of water by tomorrow. Where it can be watered, give 0.65 in before tomorr"
    )


def test_unknown_is_neither_dry_nor_wet() -> None:
    (advice,) = told(LAWN, CareFacts(growing=True, water=replace(at(2, 30), rain_week_mm=None)), "watering")
    assert advice.text.startswith("Feel the soil before watering")
    why = plain(advice.why)
    assert "0.1 to 1.2 in was missing" in why  # 2 mm 0.08 → 0.1, 30 mm 1.18 → 1.2
    assert "not known whole, at least 0.5 in" in why
    assert "no rain since has surely filled the soil" in why


def test_without_a_gauge_there_is_no_figure_and_it_says_why() -> None:
    (advice,) = told(LAWN, CareFacts(growing=True, water=None), "watering")
    assert advice.text == "No watering advice: the rain here is not known."
    assert not any(sign.isdigit() for sign in advice.text + advice.why)


def test_what_was_assumed_is_said_and_only_that() -> None:
    facts = CareFacts(growing=True, water=at(5), et0_from_temperature=True)
    (advice,) = told(replace(LAWN, ground=Ground()), facts, "watering")
    assert "Assumed, since not set: loam soil and roots of 5.9 in." in plain(advice.why)  # 150 / 25.4 = 5.906 → 5.9
    assert "told from temperature alone" in advice.why
    (advice,) = told(
        replace(LAWN, ground=Ground(rooting_depth_mm=90)), CareFacts(growing=True, water=at(5)), "watering"
    )
    assert "Assumed, since not set: loam soil." in advice.why
    assert "temperature alone" not in advice.why
    (advice,) = told(LAWN, facts, "watering")
    assert "Assumed" not in advice.why
    assert "schedule" not in advice.why


def test_evening_water_is_moved_by_the_hours_it_costs() -> None:
    facts = CareFacts(growing=True, water=at(5), wet_hours_as_set=15.2, wet_hours_at_04=9.0)
    (_, advice) = told(watered(LAWN, EVENING), facts, "watering")
    assert advice.text == "Move the water from 19:00 to before sunrise, about 04:00."
    assert "wet 15.2 h a day lately; with the same water at 04:00 it would have been 9.0 h" in plain(advice.why)


@pytest.mark.parametrize(
    ("start", "as_set", "at_04", "moved"),
    [
        (time(19), 10.0, 9.0, True),
        (time(19), 9.9, 9.0, False),  # below what the reckoning can tell
        (time(19), 8.0, 9.0, False),
        (time(9), 12.0, 9.0, True),
        (time(15), None, 9.0, True),  # by the clock where hours are unknown
        (time(15), 9.0, None, True),
        (time(23, 30), None, None, True),
        (time(14, 59), None, None, False),
        (time(4), None, None, False),
        (time(0), None, None, False),
    ],
)
def test_the_hour_of_water(start: time, as_set: float | None, at_04: float | None, moved: bool) -> None:
    facts = CareFacts(growing=True, water=at(5), wet_hours_as_set=as_set, wet_hours_at_04=at_04)
    found = told(watered(LAWN, replace(EVENING, start=start)), facts, "watering")
    assert any(one.text.startswith("Move the water") for one in found) == moved


def test_no_hour_is_moved_where_nothing_is_watered() -> None:
    facts = CareFacts(growing=True, water=at(5), wet_hours_as_set=15.0, wet_hours_at_04=9.0)
    assert len(told(LAWN, facts, "watering")) == 1


def test_daily_water_is_told_to_go_deeper_where_the_roots_hold_it() -> None:
    # RAW 16 / 4 a day = 4 days.
    (_, advice) = told(watered(LAWN, DAILY), CareFacts(growing=True, water=at(5)), "watering")
    assert advice.text == "Water deeper and less often than daily."
    assert "hold 4 days of last week's use" in plain(advice.why)
    shallow = CareFacts(growing=True, water=replace(at(1), raw_mm=7.9))  # 1.975 days
    assert len(told(watered(LAWN, DAILY), shallow, "watering")) == 1
    five_days = replace(DAILY, days=(0, 1, 2, 3, 4))
    assert len(told(watered(LAWN, five_days), CareFacts(growing=True, water=at(5)), "watering")) == 1


# --- the rest ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("grass", "height_mm", "word"),
    [
        ("tall_fescue", 50.0, "Raise"),
        ("kentucky_bluegrass", 25.0, "Raise"),
        ("tall_fescue", 24.9, None),  # a green or fairway
        ("tall_fescue", 75.0, None),  # 2.95 in, nearer than a notch
        ("tall_fescue", 69.8, "Raise"),  # 2.75 in is 69.85 mm
        ("tall_fescue", 69.9, None),
        ("tall_fescue", 101.6, None),
        ("tall_fescue", 108.0, "Lower"),  # 4.25 in is 107.95 mm
        ("st_augustinegrass", 50.0, "Raise"),
        ("bermudagrass", 38.0, None),
        ("zoysiagrass", 50.0, None),
        ("creeping_bentgrass", 30.0, None),
    ],
)
def test_the_cut_is_spoken_of_only_outside_common_practice(grass: str, height_mm: float, word: str | None) -> None:
    area = replace(LAWN, grass=grass, setting=Setting(mowing_height_mm=height_mm))
    advice = mowing(area, us=True)
    assert (advice.text.split()[0] if advice else None) == word


def test_the_cut_is_told_in_both_units() -> None:
    area = replace(LAWN, setting=Setting(mowing_height_mm=50.8))
    in_inches, in_mm = mowing(area, us=True), mowing(area, us=False)
    assert in_inches is not None
    assert in_mm is not None
    assert "to 3 to 4 in if" in plain(in_inches.text)
    assert "set to 2 in." in plain(in_inches.why)
    assert "to 76 to 102 mm if" in plain(in_mm.text)
    assert "set to 51 mm." in plain(in_mm.why)


@pytest.mark.parametrize(
    ("grass", "up", "level", "start"),
    [
        ("creeping_bentgrass", {"brown_patch"}, None, "Hold nitrogen back"),
        ("creeping_bentgrass", {"brown_patch"}, "high", "Hold nitrogen back"),
        ("creeping_bentgrass", {"brown_patch"}, "low", None),
        ("creeping_bentgrass", {"dollar_spot"}, "low", "Do not let it starve"),
        ("creeping_bentgrass", {"dollar_spot"}, "usual", None),
        ("creeping_bentgrass", {"dollar_spot", "brown_patch"}, "usual", "Leave nitrogen as it is"),
        ("annual_bluegrass", {"anthracnose"}, "low", "Do not let it starve"),
        ("annual_bluegrass", {"brown_patch"}, None, None),  # no trial on it
        ("perennial_ryegrass", {"brown_patch"}, None, "Hold nitrogen back"),
        ("perennial_ryegrass", {"gray_leaf_spot"}, None, "Hold nitrogen back"),
        ("tall_fescue", {"brown_patch"}, None, None),
        ("tall_fescue", {"brown_patch"}, "high", "Feed less if it gets 6 lb a 1,000 sq ft a year"),
        ("tall_fescue", {"brown_patch"}, "low", None),
        ("tall_fescue", {"gray_leaf_spot"}, None, None),
        ("zoysiagrass", {"large_patch"}, "high", None),
        ("creeping_bentgrass", set(), "low", None),
        ("creeping_bentgrass", {"pythium_blight", "summer_patch"}, "high", None),
    ],
)
def test_nitrogen_goes_by_what_trials_found_with_what_is_up(
    grass: str, up: set[str], level: str | None, start: str | None
) -> None:
    area = replace(LAWN, grass=grass, ground=Ground(nitrogen=level))  # type: ignore[arg-type]
    advice = nitrogen(area, frozenset(up), us=True)
    assert (advice is None) == (start is None)
    if advice is not None and start is not None:
        assert plain(advice.text).startswith(start)


def test_the_trials_figures_are_told_with_their_grass() -> None:
    # Powlen et al. 2024: 49 against 196 kg/ha, a quarter: −17 % on bentgrass, −33 % on ryegrass (abstract).
    assert 49 / 196 == 0.25
    bent = nitrogen(GREEN, frozenset({"brown_patch"}), us=True)
    rye = nitrogen(replace(LAWN, grass="perennial_ryegrass"), frozenset({"brown_patch"}), us=True)
    assert bent is not None
    assert rye is not None
    assert "17 % less brown patch on bentgrass" in plain(bent.why)
    assert "33 % less brown patch on ryegrass" in plain(rye.why)
    assert "33" not in bent.why


def test_the_one_amount_that_is_named_is_the_trials() -> None:
    # 294 kg/ha is 29.4 g/m²; 1,000 sq ft are 92.903 m²: 2,731 g, and 453.592 g to the pound: 6.02 lb.
    fescue = replace(LAWN, ground=Ground(nitrogen="high"))
    for us, amount in ((True, "6 lb a 1,000 sq ft"), (False, "294 kg/ha")):
        advice = nitrogen(fescue, frozenset({"brown_patch"}), us=us)
        assert advice is not None
        assert amount in plain(advice.text)


def test_findings_name_known_diseases_and_grasses() -> None:
    for finding in FINDINGS:
        assert set(finding.grasses) <= set(DISEASES[finding.disease].grasses)
    assert set(LAWN_GRASSES) <= set(GRASSES)


@pytest.mark.parametrize(
    ("setting", "shown"),
    [
        (Setting(light_let_through_fraction=0.69), True),
        (Setting(wind_let_through_fraction=0.5), True),
        (Setting(light_let_through_fraction=0.7, wind_let_through_fraction=0.7), False),
        (Setting(sky_seen_fraction=0.5), False),  # which way that works depends on the rest
    ],
)
def test_shade_is_spoken_of_where_it_is_set(setting: Setting, shown: bool) -> None:
    assert bool(told(replace(LAWN, setting=setting), CareFacts(growing=True), "shade")) == shown


def test_morning_shade_names_its_side() -> None:
    setting = Setting(light_let_through_fraction=0.3, shaded_from=("w", "e", "se"))
    (advice,) = told(replace(LAWN, setting=setting), CareFacts(growing=True), "shade")
    assert "first on the E, SE, where the morning sun stands" in advice.text
    (advice,) = told(replace(LAWN, setting=replace(setting, shaded_from=("w",))), CareFacts(growing=True), "shade")
    assert "morning" not in advice.text


@pytest.mark.parametrize(
    ("ground", "abouts"),
    [
        (Ground(), set()),
        (Ground(thatch_mm=12.7, compacted=False, drainage="good"), set()),
        (Ground(thatch_mm=12.8), {"thatch"}),
        (Ground(compacted=True), {"compaction"}),
        (Ground(drainage="poor"), {"drainage"}),
        (Ground(thatch_mm=25.0, compacted=True, drainage="poor"), {"thatch", "compaction", "drainage"}),
    ],
)
def test_the_ground_is_spoken_of_where_it_is_set(ground: Ground, abouts: set[str]) -> None:
    found = care(replace(LAWN, ground=ground), CareFacts(growing=True), us=True)
    assert {one.about for one in found} == abouts | {"watering"}


def test_each_kind_of_grass_is_opened_in_its_own_season() -> None:
    ground = Ground(thatch_mm=25.4)
    (cool,) = told(replace(LAWN, ground=ground), CareFacts(growing=True), "thatch")
    (warm,) = told(replace(LAWN, grass="zoysiagrass", ground=ground), CareFacts(growing=True), "thatch")
    assert "early autumn" in cool.text
    assert "early summer" in warm.text
    assert "set to 1 in; above 0.5 in" in plain(cool.why)


@pytest.mark.parametrize(
    ("grass", "month", "southern", "growing"),
    [
        ("tall_fescue", 3, False, True),
        ("tall_fescue", 2, False, False),
        ("tall_fescue", 11, False, True),
        ("tall_fescue", 12, False, False),
        ("zoysiagrass", 4, False, False),
        ("zoysiagrass", 5, False, True),
        ("zoysiagrass", 10, False, False),
        ("zoysiagrass", 1, True, True),  # July of the north
        ("zoysiagrass", 7, True, False),
        ("tall_fescue", 7, True, False),
        ("tall_fescue", 5, True, True),  # November of the north
    ],
)
def test_growing_months(grass: str, month: int, southern: bool, growing: bool) -> None:
    assert is_growing(grass, month, southern=southern) == growing


def every_case() -> list[tuple[Area, CareFacts, bool]]:
    settings = (
        Setting(),
        Setting(light_let_through_fraction=0.3, shaded_from=("e",), mowing_height_mm=40.0, irrigation=EVENING),
        Setting(mowing_height_mm=120.0, irrigation=DAILY),
    )
    grounds = (Ground(), Ground("clay", 90.0, "poor", compacted=True, thatch_mm=30.0, nitrogen="low"))
    waters = (None, at(5), at(13), at(20), at(1, 33), replace(at(5), use_mm_day=None, rain_week_mm=None))
    ups = (frozenset[str](), frozenset(DISEASES))
    hours = ((None, None), (15.0, 9.0))
    return [
        (
            replace(LAWN, grass=grass, setting=setting, ground=ground),
            CareFacts(growing=True, diseases_up=up, water=water, wet_hours_as_set=wet[0], wet_hours_at_04=wet[1]),
            us,
        )
        for grass, setting, ground, water, up, wet, us in itertools.product(
            GRASSES, settings, grounds, waters, ups, hours, (True, False)
        )
    ]


def test_all_advice_is_whole_and_plain_and_names_its_source() -> None:
    seen = set()
    for area, facts, us in every_case():
        found = care(area, facts, us=us)
        assert found[0].about == "watering"  # the day's water first
        for one in found:
            seen.add(one.about)
            assert one.text
            assert one.why
            assert one.source
            assert one.text.endswith(".")
            assert one.why.endswith(".")
            words = f"{one.text} {one.why}"
            assert not any(bad in words for bad in ("None", "nan", "inf ", "  ", "..", "-0", "\u2014"))
            assert ("\u00a0mm" in words and us) is False
            assert ("\u00a0in" in words and not us) is False
            assert len(one.text) < 200
    assert seen == {"watering", "mowing", "nitrogen", "shade", "thatch", "compaction", "drainage"}


def test_nothing_is_advised_while_the_grass_does_not_grow() -> None:
    for area, facts, us in every_case()[::7]:
        assert care(area, replace(facts, growing=False), us=us) == ()


# --- words ------------------------------------------------------------------------------------------------------------


def test_depths_are_told_to_what_they_are_worth() -> None:
    # 1 in = 25.4 mm; a twentieth of an inch is 1.27 mm.
    assert plain(depth_words(25.4, us=True)) == "1 in"
    assert plain(depth_words(8.9, us=True)) == "0.35 in"  # 0.3504
    assert plain(depth_words(254.0, us=True)) == "10 in"
    assert plain(depth_words(0.3, us=True)) == "0 in"
    assert plain(depth_words(8.9, us=False)) == "9 mm"
    assert plain(span_words(25.4, 38.1, us=True)) == "1 to 1.5 in"
    assert plain(span_words(8.9, 9.1, us=False)) == "9 mm"
    assert plain(days_words(1.99)) == "1 day"
    assert plain(days_words(2.0)) == "2 days"
