"""From members to chances: weights, regression, usual beyond; and the file that keeps them."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecast.desk import calibrations as desk
from forecast.diseases.events import event_for
from forecast.errors import DataError
from forecast.outlook.calibration import LEADS, STATE, Calibration, as_they_are, logit, members_chance

DAYS = LEADS + 1
NOTHING = np.full((DAYS, 3 + len(STATE)), np.nan)


def test_a_chance_lies_between_the_usual_one_and_the_members_by_its_weight() -> None:
    half = replace(as_they_are("forecast"), single=np.full(DAYS, 0.5))
    told = half.of_days(np.full(DAYS, 0.8), np.full(DAYS, 0.2))
    assert told == pytest.approx(np.full(DAYS, 0.2 + 0.5 * 0.6))


def test_beyond_the_days_told_the_usual_chance_stands_whatever_the_weight() -> None:
    three = replace(as_they_are("readings"), told_days=3)
    told = three.of_days(np.full(DAYS, 0.8), np.full(DAYS, 0.2))
    assert told[:3] == pytest.approx([0.8] * 3)
    assert told[3:] == pytest.approx([0.2] * (DAYS - 3))


def test_a_regression_tells_its_day_and_leaves_the_others() -> None:
    stack = NOTHING.copy()
    # −1 + 2·logit(0.8) + 0.5·logit(0.2) + 0.1·(1 + 2 + 3 + 4 + 5 + 6) = −1 + 1.5·1.38629 + 2.1 = 3.17944
    stack[2] = [-1.0, 2.0, 0.5, *[0.1] * 6]
    fitted = replace(as_they_are("forecast"), stack=stack)
    state = np.arange(1.0, 7.0)
    told = fitted.of_days(np.full(DAYS, 0.8), np.full(DAYS, 0.2), state)
    assert told[2] == pytest.approx(1 / (1 + np.exp(-3.17944)), abs=1e-5)
    assert told[[1, 3]] == pytest.approx([0.8, 0.8])
    # Without how the fortnight stood, the weight holds.
    assert fitted.of_days(np.full(DAYS, 0.8), np.full(DAYS, 0.2))[2] == pytest.approx(0.8)


def test_members_speak_with_some_usual_days_beside_them() -> None:
    # (30 + 5·0.2)/(95 + 5) = 0.31; none of 100 is not never; nobody knows, nobody tells.
    assert members_chance(np.array(30.0), np.array(95.0), np.array(0.2)) == pytest.approx(0.31)
    assert members_chance(np.array(0.0), np.array(100.0), np.array(0.1)) == pytest.approx(0.5 / 105)
    assert np.isnan(members_chance(np.array(0.0), np.array(0.0), np.array(0.1)))


def test_logits_stop_short_of_never_and_always() -> None:
    assert logit(np.array([0.0, 0.5, 1.0])) == pytest.approx([np.log(0.001 / 0.999), 0.0, np.log(0.999 / 0.001)])


@given(
    single=st.lists(st.floats(0, 1), min_size=DAYS, max_size=DAYS),
    members=st.lists(st.floats(0, 1), min_size=DAYS, max_size=DAYS),
    usual=st.lists(st.floats(0, 1), min_size=DAYS, max_size=DAYS),
)
def test_no_weight_leaves_the_span_of_members_and_usual(
    single: list[float], members: list[float], usual: list[float]
) -> None:
    told = replace(as_they_are("forecast"), single=np.array(single)).of_days(np.array(members), np.array(usual))
    low, high = np.minimum(members, usual), np.maximum(members, usual)
    assert (told >= low - 1e-12).all()
    assert (told <= high + 1e-12).all()


def test_numbers_survive_being_written_as_plain_ones() -> None:
    random = np.random.default_rng(1)
    stack = NOTHING.copy()
    stack[1] = random.normal(size=9)
    one = replace(
        as_they_are("readings", "of nothing"),
        told_days=4,
        single=random.uniform(size=DAYS),
        within=random.uniform(size=(DAYS, DAYS)),
        stack=stack,
        skill=np.append(random.uniform(size=DAYS - 1), np.nan),
        mornings=12,
        years=3,
        stations=("a", "b"),
    )
    again = Calibration.of_plain(json.loads(json.dumps(one.plain(), allow_nan=False)))
    for name in ("single", "within", "stack", "skill", "skill_low"):
        np.testing.assert_allclose(getattr(again, name), getattr(one, name), atol=5.1e-6)
    assert (again.source, again.told_days, again.mornings, again.years) == ("readings", 4, 12, 3)
    assert (again.stations, again.made) == (("a", "b"), "of nothing")


def test_numbers_of_another_shape_are_refused_by_name() -> None:
    plain = as_they_are("forecast").plain()
    with pytest.raises(ValueError, match="single"):
        Calibration.of_plain({**plain, "single": [1.0, 2.0]})
    del plain["within"]
    with pytest.raises(ValueError, match="lacks within"):
        Calibration.of_plain(plain)


def test_a_fit_counts_from_its_own_moment_and_the_newest_stands() -> None:
    one, other = (replace(as_they_are("readings"), told_days=days) for days in (2, 5))
    event = event_for("dollar_spot", "creeping_bentgrass")
    name = desk.key(event, "readings")
    text = desk.with_fit([], "2050-06-01T00:00:00Z", {name: one})
    text = desk.with_fit(json.loads(text)["fits"], "2050-07-01T00:00:00Z", {name: other})
    assert [fit["fitted_utc"] for fit in json.loads(text)["fits"]] == ["2050-06-01T00:00:00Z", "2050-07-01T00:00:00Z"]


class _Settings:
    def __init__(self, folder: Path) -> None:
        self.database_path = folder / "workspace.sqlite"


def test_a_replay_does_not_know_a_later_fit(tmp_path: Path) -> None:
    event = event_for("dollar_spot", "creeping_bentgrass")
    name = desk.key(event, "readings")
    fits: list[desk.Fit] = []
    for moment, days in (("2050-06-01T00:00:00Z", 2), ("2050-07-01T00:00:00Z", 5)):
        text = desk.with_fit(fits, moment, {name: replace(as_they_are("readings"), told_days=days)})
        (tmp_path / desk.OWN_FILE).write_text(text)
        fits = desk.read_fits(tmp_path / desk.OWN_FILE)

    def told_days(by: str) -> int:
        return desk.calibrations(_Settings(tmp_path), by).of(event, "readings").told_days  # type: ignore[arg-type]

    before = desk.calibrations(_Settings(tmp_path / "none"), "2050-05-01T00:00:00Z").of(event, "readings")  # type: ignore[arg-type]
    assert told_days("2050-05-01T00:00:00Z") == before.told_days
    assert told_days("2050-06-15T00:00:00Z") == 2
    assert told_days("2050-07-01T00:00:00Z") == 5


DAMAGED = (
    "",
    "{}",
    '{"format": 1, "fits": [{}]}',
    '{"format": 2, "fits": []}',
    '{"format": 1, "fits": [{"fitted_utc": "x", "tables": {"a": {}}}]}',
)


@pytest.mark.parametrize("text", DAMAGED)
def test_a_damaged_file_says_what_to_do(tmp_path: Path, text: str) -> None:
    (tmp_path / desk.OWN_FILE).write_text(text)
    with pytest.raises(DataError) as raised:
        desk.read_fits(tmp_path / desk.OWN_FILE)
    assert "forecast verify --keep" in str(raised.value)


def test_the_shipped_calibration_is_whole_and_names_what_it_was_made_of() -> None:
    tables = json.loads(desk.SHIPPED.read_text(encoding="utf-8"))["tables"]
    events = {
        desk.key(event_for(disease, grass), source)
        for disease, grass in (
            ("brown_patch", "tall_fescue"),
            ("brown_patch", "perennial_ryegrass"),
            ("dollar_spot", "creeping_bentgrass"),
            ("pythium_blight", "perennial_ryegrass"),
            ("anthracnose", "annual_bluegrass"),
        )
        for source in ("readings", "forecast")
    }
    assert events <= set(tables)
    for name, plain in tables.items():
        one = Calibration.of_plain(plain)
        assert one.years >= 10, name
        assert "five US airports" in one.made, name
        assert ("emulated" in one.made) == (one.source == "forecast"), name


def test_an_event_without_its_own_fit_goes_by_that_of_most_of_its_models() -> None:
    alone, pair = (replace(as_they_are("readings", "here"), told_days=days) for days in (2, 5))
    known = desk.Calibrations({"warm_wet_night by readings": alone, "fidanza_1996+warm_wet_night by readings": pair})
    ryegrass, bentgrass = (event_for("brown_patch", grass) for grass in ("perennial_ryegrass", "creeping_bentgrass"))
    assert known.of(ryegrass, "readings") is pair
    # On creeping bentgrass Schumann's rule decides beside the night: no fit of the index may speak for that.
    found = known.of(bentgrass, "readings")
    assert (found.told_days, found.made) == (2, "here; fitted for 1 of the 2 models that decide here")
    assert known.of(bentgrass, "forecast").mornings == 0
    assert known.of(event_for("dollar_spot", "creeping_bentgrass"), "readings").made.startswith("members taken at")
