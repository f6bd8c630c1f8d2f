"""What every check of weather owes: both sides of each limit, unknown stays unknown, nothing mixed, nothing touched."""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from quality_cases import (
    ALL_CHECKS,
    ALL_SIDES,
    GUST,
    NAMES,
    PRESSURE,
    RAIN,
    RH,
    TD,
    WIND,
    Sides,
    T,
    holds,
    hours,
)

from forecast import quality
from forecast.panel import Floats, observed
from forecast.quality import CHECKS, STATION_CHECKS, Check, Place
from forecast.quality.form import Limit, Seen
from forecast.quality.station_form import StationCheck
from forecast.quantities import QUANTITIES, Flag

every_check = pytest.mark.parametrize("one", CHECKS.values(), ids=list(CHECKS))
every_side = pytest.mark.parametrize("sides", ALL_SIDES, ids=[f"{s.check}: {s.limit}" for s in ALL_SIDES])
LIMIT_SIDES = [sides for sides in ALL_SIDES if sides.limit]
every_limit = pytest.mark.parametrize("sides", LIMIT_SIDES, ids=[f"{s.check}: {s.limit}" for s in LIMIT_SIDES])

PLACES = {name: Place(40 + 0.1 * n, -75 + 0.1 * n, 10.0 * n) for n, name in enumerate(NAMES[:4])}


def wild_weather(count: int = 900, series: int = 4) -> dict[str, Floats]:
    """Weather with something in it for nearly every check, different in every series. Invented."""
    rng = np.random.default_rng(20310701)  # any seed
    shape = (count, series)
    clock = np.arange(count)[:, None] % 24
    air = 20 + 8 * np.sin((clock - 9) / 24 * 2 * np.pi) + rng.normal(0, 2, shape) + np.arange(series)
    drawn = {
        T: np.round(air, 1),
        TD: np.round(air - np.abs(rng.normal(4, 3, shape)), 1),
        RH: np.round(np.clip(70 + rng.normal(0, 25, shape), -2, 110), 1),
        RAIN: np.round(np.where(rng.random(shape) < 0.1, rng.gamma(0.5, 20, shape), 0.0), 1),
        WIND: np.round(np.abs(rng.normal(5, 15, shape)), 1),
        GUST: np.round(np.abs(rng.normal(9, 5, shape)), 1),
        PRESSURE: np.round(1000 + np.cumsum(rng.normal(0, 1.5, shape), axis=0).clip(-50, 50), 1),
    }
    values: dict[str, Floats] = {name: np.asarray(array, np.float64) for name, array in drawn.items()}
    for column in range(series):  # each series has its own stuck stretch, copied days, calm, sprinkler
        start = 40 + 30 * column
        values[T][start : start + 50, column] = 17.3
        values[WIND][start : start + 30, column] = 0.0
        values[RH][start + 60 : start + 140, column] = 99.5
        for day in range(5):
            row = 400 + 24 * (day + 1) + 30 * column
            values[TD][row : row + 24, column] = values[TD][row - 24 : row, column]
        wet = 600 + np.arange(0, 240, 24 + 24 * (column % 2)) + column
        values[RAIN][wet, column], values[RH][wet, column], values[RH][wet - 2, column] = 2.0, 55.0, 55.0
        values[RAIN][700 + column : 706 + column, column] = 3.0
        values[T][300 + 10 * column : 304 + 10 * column, column] -= 30.0
    return values


def _checked(one: Check, values: dict[str, Floats]) -> quality.Checked:
    series = NAMES[: next(iter(values.values())).shape[1]]
    panel = observed(hours(len(next(iter(values.values())))), series, values)
    return quality.check(panel, PLACES, checks=(one,))


@every_side
def test_a_limit_lets_pass_what_it_should_and_nothing_more(sides: Sides) -> None:
    assert holds(sides, ALL_CHECKS[sides.check])


def test_every_limit_is_seen_from_both_sides() -> None:
    shown = {(sides.check, sides.limit) for sides in LIMIT_SIDES}
    assert shown == {(key, limit) for key, one in ALL_CHECKS.items() for limit in one.limits}


def _slipped(limit: Limit, factor: float) -> Limit:
    """The limit a tenth off; a small count by one, a limit of 0 by a tenth, since a tenth of it moves nothing."""
    if limit.value == 0:
        return replace(limit, value=factor - 1)
    whole = limit.unit in ("days", "stations", "years", "readings", "hours") and abs(limit.value) < 10
    return replace(limit, value=limit.value + (1 if factor > 1 else -1) if whole else limit.value * factor)


@every_limit
@pytest.mark.parametrize("factor", [1.1, 0.9])
def test_a_limit_a_tenth_off_is_caught(sides: Sides, factor: float) -> None:
    one = ALL_CHECKS[sides.check]
    limits = {**one.limits, sides.limit: _slipped(one.limits[sides.limit], factor)}
    assert not holds(sides, replace(one, limits=limits)), "the cases would not notice"


FOLDER = Path(quality.__file__).parent
OPPOSITE: dict[type[ast.cmpop], type[ast.cmpop]] = {ast.Gt: ast.Lt, ast.Lt: ast.Gt, ast.GtE: ast.LtE, ast.LtE: ast.GtE}
MUTATED = ("bounds", "changes", "consistency", "neighbours", "persistence", "sprinkler")
STATIONS_MUTATED = ("station_clock", "station_humidity", "station_rain")
# Comparisons that decide no reading, by what stands in the line.
DECIDES_NOTHING = (
    "if value is not None",
    "len(seen.hours) <= DAY_HOURS",  # nothing to compare; the shapes below hold it
    'seen.values["rain_mm"][:, column]).all()',
    "if len(days.number) < length",  # else an empty rolling sum: held by the shapes below
    "if len(values) < 2",  # ends the search in short parts
    "shares.append(",  # told, not decided; held in test_quality_stations.py
)


def _comparisons(name: str) -> Iterator[tuple[str, int, int]]:
    """Each comparison of size in a file: its line, and its number among them."""
    source = (FOLDER / f"{name}.py").read_text(encoding="utf-8")
    tree = ast.parse(source)
    for number, node in enumerate(node for node in ast.walk(tree) if isinstance(node, ast.Compare)):
        line = source.splitlines()[node.lineno - 1].strip()
        if any(type(op) in OPPOSITE for op in node.ops) and not any(part in line for part in DECIDES_NOTHING):
            yield line, node.lineno, number


def _mutant(name: str, number: int) -> dict[str, Check | StationCheck]:
    """The checks of a file in which one comparison is turned."""
    tree = ast.parse((FOLDER / f"{name}.py").read_text(encoding="utf-8"))
    node = [node for node in ast.walk(tree) if isinstance(node, ast.Compare)][number]
    node.ops = [OPPOSITE[type(op)]() if type(op) in OPPOSITE else op for op in node.ops]
    module = ModuleType(f"forecast.quality.{name}_mutant")
    module.__dict__["__package__"] = "forecast.quality"
    sys.modules[module.__name__] = module  # dataclasses look their module up
    try:
        exec(compile(tree, name, "exec"), module.__dict__)  # noqa: S102 - the project's own source, one sign turned
    finally:
        del sys.modules[module.__name__]
    return {one.key: one for one in vars(module).values() if isinstance(one, Check | StationCheck)}


COMPARISONS = [(name, *found) for name in MUTATED + STATIONS_MUTATED for found in _comparisons(name)]


@pytest.mark.parametrize(
    ("name", "line", "number"),
    [(name, line, number) for name, line, _, number in COMPARISONS],
    ids=[f"{name}:{at}" for name, _, at, _ in COMPARISONS],
)
def test_a_flipped_comparison_is_caught(name: str, line: str, number: int) -> None:
    mutants = _mutant(name, number)
    assert mutants
    seen = [sides for sides in ALL_SIDES if sides.check in mutants]
    assert seen
    assert not all(holds(sides, mutants[sides.check]) for sides in seen), line


@every_check
def test_a_check_is_declared_in_full(one: Check) -> None:
    assert CHECKS[one.key] is one
    assert one.looks_for.strip()
    assert set(one.quantities) <= set(QUANTITIES)
    _declared(one)


@pytest.mark.parametrize("one", STATION_CHECKS.values(), ids=list(STATION_CHECKS))
def test_a_station_check_is_declared_in_full(one: StationCheck) -> None:
    assert STATION_CHECKS[one.key] is one
    assert one.looks_for.strip()
    _declared(one)


def _declared(one: Check | StationCheck) -> None:
    for limit in one.limits.values():
        assert "{" in limit.words
        assert re.search(r"house choice|\b(19|20)\d\d\b|by definition|meteostat|second-hand|as in the", limit.source), (
            limit
        )
        assert f"{limit.value:g}" in str(limit)


@every_check
def test_a_check_marks_only_quantities_that_it_names(one: Check) -> None:
    found = {verdict.quantity for verdict in _checked(one, wild_weather()).verdicts}
    assert found <= set(one.quantities)


def test_the_wild_weather_gives_most_checks_something_to_find() -> None:
    """Else the properties below would hold of nothing."""
    silent = {key for key, one in CHECKS.items() if not _checked(one, wild_weather()).verdicts}
    assert silent <= {"season"}


@every_check
def test_unknown_is_missing_and_nothing_else(one: Check) -> None:
    values = wild_weather()
    for name, array in values.items():
        array[np.random.default_rng(len(name)).random(array.shape) < 0.2] = np.nan
    checked = _checked(one, values)
    for name, array in values.items():
        assert ((checked.panel.flags[name] == Flag.MISSING) == np.isnan(array)).all()
        assert np.isnan(checked.panel.values[name][np.isnan(array)]).all()


@every_check
def test_all_unknown_says_nothing(one: Check) -> None:
    values = {name: np.full((100, 3), np.nan) for name in (T, TD, RH, RAIN, WIND, GUST, PRESSURE)}
    assert _checked(one, values).verdicts == ()


@every_check
def test_inputs_are_not_touched(one: Check) -> None:
    values = wild_weather()
    before = {name: array.copy() for name, array in values.items()}
    series = NAMES[:4]
    seen = Seen(hours(900), series, values, PLACES, 0)
    tuple(one.find(seen, {key: limit.value for key, limit in one.limits.items()}))
    for name, array in values.items():
        np.testing.assert_array_equal(array, before[name])


@every_check
def test_series_do_not_mix(one: Check) -> None:
    """Without places nothing is nearby, so that the two checks that compare stations have to keep them apart too."""
    values = wild_weather()
    panel = observed(hours(900), NAMES[:4], values)
    places: dict[str, Place] = {} if one.key in ("neighbours", "sprinkler") else PLACES
    together = quality.check(panel, places, checks=(one,)).panel
    for column, name in enumerate(NAMES[:4]):
        cut = observed(hours(900), (name,), {key: array[:, [column]] for key, array in values.items()})
        alone = quality.check(cut, places, checks=(one,)).panel
        for key in values:
            np.testing.assert_array_equal(alone.flags[key][:, 0], together.flags[key][:, column], err_msg=key)
            np.testing.assert_array_equal(alone.values[key][:, 0], together.values[key][:, column], err_msg=key)


@every_check
def test_the_order_of_the_series_changes_nothing(one: Check) -> None:
    values, order = wild_weather(), [2, 0, 3, 1]
    turned = {key: array[:, order] for key, array in values.items()}
    straight = quality.check(observed(hours(900), NAMES[:4], values), PLACES, checks=(one,)).panel
    names = tuple(NAMES[n] for n in order)
    other = quality.check(observed(hours(900), names, turned), PLACES, checks=(one,)).panel
    for key in values:
        np.testing.assert_array_equal(other.flags[key], straight.flags[key][:, order], err_msg=key)


@every_check
@pytest.mark.parametrize("count", [0, 1, 2, 3, 25])
@pytest.mark.parametrize("series", [1, 4])
def test_short_panels_keep_their_shape(one: Check, count: int, series: int) -> None:
    values = {name: array[:count, :series] for name, array in wild_weather().items()}
    checked = _checked(one, values).panel
    for name, array in values.items():
        assert checked.values[name].shape == checked.flags[name].shape == array.shape


@every_check
def test_a_quantity_with_members_is_held_to_its_bounds_only(one: Check) -> None:
    values = {name: np.stack([array, array[::-1]], axis=2) for name, array in wild_weather().items()}
    checked = _checked(one, values)
    assert bool(checked.verdicts) == one.members
    assert checked.panel.values[T].shape == (900, 4, 2)


@pytest.mark.parametrize("count", [1, 2, 24, 25, 60 * 24])
def test_findings_of_short_records_say_nothing_wrong(count: int) -> None:
    values = {name: array[:count] for name, array in wild_weather(60 * 24 + 1).items()}
    panel = observed(hours(count), NAMES[:4], values)
    found = quality.station_findings(panel, PLACES, standard_offset_minutes=-300)
    assert all(one.series in NAMES[:4] for one in found)


def test_an_empty_record_has_no_findings() -> None:
    panel = observed(hours(0), NAMES[:2], {T: np.empty((0, 2))})
    assert quality.station_findings(panel, PLACES, standard_offset_minutes=0) == ()
    assert quality.check(panel).verdicts == ()


def test_the_module_files_of_all_checks_are_mutated() -> None:
    homes = {one.find.__module__.rsplit(".", 1)[-1] for one in ALL_CHECKS.values()}
    assert homes == {*MUTATED, *STATIONS_MUTATED}
