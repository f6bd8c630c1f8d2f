"""Plain words about what stands around turf, and the numbers they come to; the arithmetic is shown."""

from __future__ import annotations

import itertools
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import unhurried

from forecast.canopy.surroundings import EXAMPLES, OVERHEAD, STANDING, Surroundings, surroundings
from forecast.turf import SIDES, Setting

OPEN = Surroundings(1.0, 1.0, 1.0, ())


def test_trees_on_one_side_take_three_eighths_of_the_horizon() -> None:
    # Top at 50°, a fifth of the sky shows through: sky 1 − 3/8 · 0.8 · sin² 50° (0.7660² = 0.5868) = 0.8240.
    # Light past them 0.3, for 50 of the sun's 55°: 1 − 0.7 · 50/55 = 0.3636. Wind (3 · 0.5 + 5 · 1)/8 = 0.8125.
    assert surroundings("trees to the east, open sky") == Surroundings(0.36, 0.82, 0.81, ("e",))


def test_a_hedge_on_two_sides_counts_the_part_between_them_once() -> None:
    # North fills nw n ne, west fills sw w nw: five parts, not six. Top at 25°, a tenth shows through:
    # sky 1 − 5/8 · 0.9 · sin² 25° (0.4226² = 0.1786) = 0.8995; light 1 − 0.75 · 25/55 = 0.6591; wind (5 · 0.5 + 3)/8.
    assert surroundings("hedge to the north and west") == Surroundings(0.66, 0.90, 0.69, ("n", "w"))


def test_a_courtyard_sees_what_a_basin_sees() -> None:
    # Buildings all round with their tops at 50°: cos² 50° = 0.6428² = 0.4132 (Oke 1987, from memory).
    assert surroundings("courtyard").sky_seen_fraction == round(math.cos(math.radians(50)) ** 2, 2) == 0.41
    # Light 1 − 0.8 · 50/55 = 0.2727; wind 0.3 from every side.
    assert surroundings("courtyard") == Surroundings(0.27, 0.41, 0.30, SIDES)


def test_one_building_hides_about_what_an_endless_wall_of_its_height_does() -> None:
    # An endless wall with its top at h hides (1 − cos h)/2 of the sky from level ground (view factors, textbooks):
    # (1 − 0.6428)/2 = 0.1786; three full eighths hide 3/8 · 0.5868 = 0.2201, which is near and on the careful side.
    hidden = 1 - surroundings("building to the south").sky_seen_fraction
    assert (1 - math.cos(math.radians(50))) / 2 < hidden < 0.23


def test_what_stands_overhead_shades_all_round_and_multiplies() -> None:
    assert surroundings("under trees") == Surroundings(0.4, 0.5, 0.5, ())
    # A building beside it fills three of eight: light 0.4 · (3 · 0.2727 + 5)/8 = 0.2909, sky 0.5 · (1 − 3/8 · 0.5868)
    # = 0.3900, wind 0.5 · (3 · 0.3 + 5)/8 = 0.3688.
    assert surroundings("under trees, building to the south") == Surroundings(0.29, 0.39, 0.37, ())
    # Under two covers: 0.4 · 0.2, 0.5 · 0.2, 0.5 · 0.6.
    assert surroundings("under trees, under a shade cloth") == Surroundings(0.08, 0.10, 0.30, ())


def test_the_thing_that_hides_more_counts_where_two_fill_one_part() -> None:
    both = surroundings("hedge to the east, building to the east")
    assert both == surroundings("building to the east")


def test_light_is_the_mean_of_the_parts_that_are_filled() -> None:
    # Trees in ne e se let 0.3636 through, a hedge in sw w nw 0.6591: mean 0.5114. Open parts are not in it, since the
    # light holds only while the sun stands behind one of the two.
    assert surroundings("trees to the east, hedge to the west").light_let_through_fraction == 0.51


def test_near_and_far_change_the_height_only() -> None:
    # 25° · 1.4 = 35°: light 1 − 0.75 · 35/55 = 0.5227; sky 1 − 3/8 · 0.9 · sin² 35° (0.3290) = 0.8890.
    assert surroundings("tall hedge to the east") == Surroundings(0.52, 0.89, 0.81, ("e",))
    # 25° · 0.6 = 15°: light 1 − 0.75 · 15/55 = 0.7955; sky 1 − 3/8 · 0.9 · sin² 15° (0.0670) = 0.9774.
    assert surroundings("far hedge to the east") == Surroundings(0.80, 0.98, 0.81, ("e",))
    # 55° · 1.4 = 77° is held at 75°, and light has no more to lose than the sun's way to 55°: 0.2.
    # Sky 1 − 3/8 · 0.95 · sin² 75° (0.9330) = 0.6676.
    assert surroundings("near woods to the north") == Surroundings(0.20, 0.67, 0.74, ("n",))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Trees to the EAST", "trees e"),
        ("trees on the north-east side", "trees to the northeast"),
        ("trees north east", "trees to the ne"),
        ("trees to the north and east", "trees n, e"),
        ("trees and hedge to the east", "trees to the east, hedge to the east"),
        ("hedge to the west, tall trees to the east", "tall trees east; hedge west"),
        ("surrounded by trees", "trees all round"),
        ("trees on every side", "trees n ne e se s sw w nw"),
        ("trees overhead, hedge to the north", "hedge to the north, under trees"),
        ("a house along the southern edge", "building to the south"),
        ("the lawn is under a shade cloth", "under cloth"),
        ("full sun", "open"),
        ("open field", "open"),
    ],
)
def test_two_ways_to_say_the_same(one: str, other: str) -> None:
    assert surroundings(one) == surroundings(other)


def test_open_turf_is_that_of_the_setting_itself() -> None:
    assert surroundings("open") == OPEN
    setting = Setting()
    assert {name: getattr(OPEN, name) for name in OPEN.__slots__} == {
        name: getattr(setting, name) for name in OPEN.__slots__
    }


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("tress to the east", "'tress' is no word known here; did you mean 'trees'?"),
        ("trees to the sotuh", "did you mean 'south'?"),
        ("bilding to the south", "did you mean 'building'?"),
        ("no trees to the east", "'no' is no word known here"),
        ("swimming pool to the east", "known are trees, woods, hedge"),
        ("trees 3 m to the east", "'3' is no word known here"),
        ("trees", "name a side for the trees: 'trees to the east'"),
        ("trees to the east, hedge", "name a side for the hedge"),
        ("to the east", "say what stands there before 'east'"),
        ("open to the south", "say what stands there before 'south'"),
        ("under", "say what it lies under"),
        ("surrounded", "say what it lies under or is surrounded by"),
        ("under trees to the east", "'east' does not go with 'under'"),
        ("trees near to the east", "'near' stands before its thing"),
        ("overhead", "'overhead' stands behind its thing"),
        ("trees to the east and overhead", "'overhead' stands behind its thing"),
        ("open, under trees", "it cannot lie open and under something"),
        ("roof to the south", "a roof is overhead: write 'under a roof'"),
        ("under a wall", "a wall stands at a side: write 'wall to the east'"),
        ("", "say what stands around it, or 'open'"),
        ("and the", "say what stands around it, or 'open'"),
    ],
)
def test_what_is_not_understood_is_told_with_what_to_write(words: str, told: str) -> None:
    with pytest.raises(ValueError, match=re.escape(told)):
        surroundings(words)


def test_an_unknown_word_is_told_with_examples_that_are_understood() -> None:
    with pytest.raises(ValueError, match="tress") as caught:
        surroundings("tress to the east")
    for example in EXAMPLES:
        assert repr(example) in str(caught.value)
        assert surroundings(example)


_placed = st.tuples(
    st.sampled_from(["", "tall ", "far "]), st.sampled_from(sorted(STANDING)), st.sampled_from(SIDES)
).map(lambda three: f"{three[0]}{three[1]} to the {three[2]}")
_over = st.sampled_from(sorted(OVERHEAD)).map(lambda thing: f"under {thing}")
_entries = st.lists(_placed | _over, min_size=1, max_size=4)


@unhurried
@given(_entries)
def test_numbers_are_shares_whatever_is_said(entries: list[str]) -> None:
    told = surroundings(", ".join(entries))
    for share in (told.light_let_through_fraction, told.sky_seen_fraction, told.wind_let_through_fraction):
        assert 0 <= share <= 1
        assert share == round(share, 2), "pages show what is reckoned with"
    assert told.light_let_through_fraction < 1
    assert set(told.shaded_from) <= set(SIDES)


@unhurried
@given(_entries)
def test_the_order_of_saying_changes_nothing(entries: list[str]) -> None:
    assert len({surroundings(", ".join(order)) for order in itertools.permutations(entries)}) == 1


@unhurried
@given(_entries, _placed | _over)
def test_one_thing_more_never_opens_the_sky_nor_lets_in_wind(entries: list[str], more: str) -> None:
    before, after = surroundings(", ".join(entries)), surroundings(", ".join([*entries, more]))
    assert after.sky_seen_fraction <= before.sky_seen_fraction
    assert after.wind_let_through_fraction <= before.wind_let_through_fraction
