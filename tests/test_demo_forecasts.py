"""The demo's invented weather forecasts: remade from their seed, as good and as wrong as stated, archived by issue."""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest
from demo_workspace import demo_copy

from forecast.database import Database
from forecast.ingest.imported import Grade
from forecast.ingest.keep.archive import Issue, archive_all, issues
from forecast.outlook.lead_skill import HUMIDITY_R, NIGHT_MINIMUM_R, RAIN_SHARE
from forecast.outlook.library import Rows
from forecast.outlook.normals import normals
from forecast.panel import Floats
from forecast.physics.humidity import dew_point_of_humid_air_c, relative_humidity_pct

DATA_DEMO = Path(__file__).parents[1] / "data_demo"
FILE = DATA_DEMO / "forecasts_alder_reach.csv.gz"
STATION = "alder-reach"
TABLES = ("TEMPERATURE_R", "DEPRESSION_R", "FOLLOWED_SHARE")
FIRST_HOUR = pd.Timestamp("2040-11-01T00:00Z")  # of the weather file
LEADS, ISSUES, HOURS = 10, 138, 240  # 1 May to 15 September: 31 + 30 + 31 + 31 + 15 days

# One step of the last written digit of each column; cloud comes in twentieths.
LAST_DIGIT = {
    "air_temperature_c": 0.1,
    "dew_point_c": 0.1,
    "rain_mm": 0.1,
    "wind_speed_10m_m_s": 0.1,
    "cloud_cover_fraction": 0.05,
}
# How well a day goes with the days before it, as in data_demo/README.md (after 1, 2 and 3 days; then 0.04).
LAGS = np.array([0.68, 0.36, 0.17])
# Issues of which each tells something new of the days that came, by Bartlett's formula: 138 / 2.24 = 61.6.
ISSUES_OF_THE_TRUTH = ISSUES / (1 + 2 * np.sum(LAGS**2))


@pytest.fixture(scope="module")
def script() -> ModuleType:
    """The generator, loaded from its file because data_demo is no package."""
    spec = importlib.util.spec_from_file_location("make_forecasts", DATA_DEMO / "make_forecasts.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def weather(script: ModuleType) -> Floats:
    """The invented weather, holes bridged."""
    table: Floats = script.read_weather()[1]
    return table


@pytest.fixture(scope="module")
def by_day(weather: Floats) -> Floats:
    """The truth from May to September by days of UTC: (days, 24, 5)."""
    months = pd.date_range(FIRST_HOUR, periods=len(weather), freq="h").month
    return weather[months.isin(range(5, 10))].reshape(-1, 24, 5)


@pytest.fixture(scope="module")
def committed() -> pd.DataFrame:
    """The committed file, stamps as UTC."""
    return pd.read_csv(FILE, parse_dates=["issued_utc", "hour_utc"])


@pytest.fixture(scope="module")
def issued(committed: pd.DataFrame) -> Floats:
    """The committed file by issue and hour ahead."""
    return committed[list(LAST_DIGIT)].to_numpy().reshape(ISSUES, HOURS, 5)


@pytest.fixture(scope="module")
def found(script: ModuleType, weather: Floats, issued: Floats) -> dict[str, float]:
    """The script's figures of the committed file."""
    measured: dict[str, float] = script.figures(script.read_weather()[0], weather, issued)
    return measured


@pytest.fixture(scope="module")
def came_rows(committed: pd.DataFrame) -> Rows:
    """Which hour of the weather file each hour ahead is, counted from its first stamp."""
    seconds = (committed["hour_utc"] - FIRST_HOUR).dt.total_seconds().to_numpy()
    return (seconds // 3600).astype(np.int64).reshape(ISSUES, HOURS)


def test_remaking_gives_the_committed_values(script: ModuleType, committed: pd.DataFrame, tmp_path: Path) -> None:
    first, weather = script.read_weather()
    once, again = tmp_path / "once.csv.gz", tmp_path / "again.csv.gz"
    for path in (once, again):
        script.write_csv(path, script.make_forecasts(first, weather))
    assert once.read_bytes() == again.read_bytes()
    remade = pd.read_csv(once, parse_dates=["issued_utc", "hour_utc"])
    assert list(remade.columns) == list(committed.columns) == ["issued_utc", "hour_utc", *LAST_DIGIT]
    for column in ("issued_utc", "hour_utc"):
        assert remade[column].equals(committed[column])
    for column, step in LAST_DIGIT.items():
        # A hair over one step: another numpy may round otherwise.
        np.testing.assert_allclose(remade[column], committed[column], rtol=0, atol=1.001 * step)


def test_another_seed_gives_other_forecasts(script: ModuleType, weather: Floats, issued: Floats) -> None:
    other = script.make_forecasts(script.read_weather()[0], weather, script.SEED + 1)
    for column in range(5):
        assert not np.array_equal(other[..., column], issued[..., column])


def test_one_forecast_a_day_begins_with_the_hour_after_its_issue(committed: pd.DataFrame) -> None:
    moments = pd.date_range("2050-05-01T06:00Z", "2050-09-15T06:00Z", freq="D")
    assert len(moments) == ISSUES
    assert committed["issued_utc"].tolist() == moments.repeat(HOURS).tolist()
    ahead = (committed["hour_utc"] - committed["issued_utc"]).dt.total_seconds()
    assert ahead.tolist() == [3600 * hour for hour in range(1, HOURS + 1)] * ISSUES


def test_every_figure_is_possible(committed: pd.DataFrame) -> None:
    assert committed.notna().all(axis=None)
    assert (committed["dew_point_c"] <= committed["air_temperature_c"]).all()
    assert (committed[["rain_mm", "wind_speed_10m_m_s"]] >= 0).all(axis=None)
    assert committed["cloud_cover_fraction"].between(0, 1).all()
    for column, step in LAST_DIGIT.items():
        steps = committed[column] / step
        np.testing.assert_allclose(steps, steps.round(), rtol=0, atol=1e-6, err_msg=column)


def test_the_tables_are_those_the_program_assumes(script: ModuleType) -> None:
    assert NIGHT_MINIMUM_R[:LEADS] == script.TEMPERATURE_R
    assert HUMIDITY_R[:LEADS] == script.DEPRESSION_R
    assert RAIN_SHARE[:LEADS] == script.FOLLOWED_SHARE


def test_a_days_figure_stands_at_its_middle(script: ModuleType) -> None:
    at = script.by_hour_ahead(script.TEMPERATURE_R)
    assert at.shape == (HOURS,)
    # Hour 1 is row 0: the middles of days 1, 2 and 10 are hours 12, 36 and 228; half-way between two is their mean.
    assert at[[0, 11, 35, 227, 239]].tolist() == [0.95, 0.95, 0.93, 0.41, 0.41]
    assert at[23] == pytest.approx((0.95 + 0.93) / 2)


def day_means(table: tuple[float, ...]) -> Floats:
    """Means of a day's 24 hours, where figures stand at its middle and are joined by straight lines.

    A half day from one middle towards the next leaves it for a quarter of the difference on average.
    """
    padded = np.concatenate([table[:1], table, table[-1:]])
    return np.asarray((padded[:-2] + 6 * padded[1:-1] + padded[2:]) / 8)


def standard_error(r: float) -> float:
    """Of a correlation, by the first terms of its expansion.

    With f = r x + √(1 − r²) x' it is (1 − r²) √(r²/2 · 1/n_x + r²/2 · 1/n_x' + (1 − r²) · 1/n_xx'), where the n
    are how often x², x'² and x x' were seen anew. x' is drawn for each issue, so that the last two are the issues; for
    all three equal it is the (1 − r²)/√n of handbooks. A day's hours count as one.
    """
    parts = r**2 / 2 / ISSUES_OF_THE_TRUTH + r**2 / 2 / ISSUES + (1 - r**2) / ISSUES
    return float((1 - r**2) * np.sqrt(parts))


@pytest.mark.parametrize("day", range(1, LEADS + 1))
@pytest.mark.parametrize(("name", "table"), [("temperature", NIGHT_MINIMUM_R), ("depression", HUMIDITY_R)])
def test_correlation_by_lead_is_the_tables(
    found: dict[str, float], name: str, table: tuple[float, ...], day: int
) -> None:
    r = float(day_means(table[:LEADS])[day - 1])
    assert found[f"{name}_r_{day}d"] == pytest.approx(r, abs=3 * standard_error(r))


def test_correlations_agree_with_the_programs_own_normals(
    found: dict[str, float], weather: Floats, committed: pd.DataFrame, issued: Floats
) -> None:
    # Other usual values, smoothed over neighbouring dates in place of waves, and pandas to sort the hours.
    hours = np.datetime64("2040-11-01T00", "h") + np.arange(len(weather)).astype("timedelta64[h]")
    temperature = weather[:, 0]
    depression = temperature - dew_point_of_humid_air_c(temperature, weather[:, 1])
    ahead = np.arange(ISSUES * HOURS) % HOURS
    at = committed["hour_utc"].dt.tz_localize(None).to_numpy()
    said_of = {"temperature": issued[..., 0].ravel(), "depression": (issued[..., 0] - issued[..., 1]).ravel()}
    for name, came in (("temperature", temperature), ("depression", depression)):
        mean, spread = normals(hours, came[:, None]).at(at.astype("datetime64[h]"))
        rows = (at.astype("datetime64[h]") - hours[0]).astype(np.int64)
        table = pd.DataFrame({"x": (came[rows] - mean[:, 0]) / spread[:, 0], "day": ahead // 24, "clock": rows % 24})
        table["f"] = (said_of[name] - mean[:, 0]) / spread[:, 0]
        table["f"] -= (table["f"] - table["x"]).groupby(table["clock"]).transform("mean")
        for day, part in table.groupby("day"):
            r = (part.x * part.f).sum() / np.sqrt((part.x**2).sum() * (part.f**2).sum())
            # House choice: what another smoothing of ten years may do to a correlation.
            assert found[f"{name}_r_{int(str(day)) + 1}d"] == pytest.approx(r, abs=0.03)


def test_bias_is_found(found: dict[str, float], by_day: Floats) -> None:
    # An issue's error over five days has at most the mean of √(2 (1 − r)) spreads, as if it stayed the same throughout.
    error_spreads = np.sqrt(2 * (1 - np.array([NIGHT_MINIMUM_R[:5], HUMIDITY_R[:5]]))).mean(axis=1)
    temperature_se_c, humidity_se_pct = error_spreads * by_day.mean(axis=1).std(axis=0)[:2] / np.sqrt(ISSUES)
    assert found["too_warm_by_day_c"] == pytest.approx(0.6, abs=3 * temperature_se_c)
    assert found["too_warm_by_night_c"] == pytest.approx(0.0, abs=3 * temperature_se_c)
    assert found["too_warm_by_day_c"] - found["too_warm_by_night_c"] > 0.4
    assert found["too_dry_pct"] == pytest.approx(2.0, abs=3 * humidity_se_pct)
    assert found["too_dry_pct"] > 0.5


def test_a_forecast_without_error_is_the_truth_and_its_bias(
    script: ModuleType,
    weather: Floats,
    came_rows: Rows,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Hours that lie an hour or a day off, or another year's, would show here."""
    for name in TABLES:
        monkeypatch.setattr(script, name, (1.0,) * LEADS)
    made = script.make_forecasts(script.read_weather()[0], weather)
    t_c, rh_pct, rain_mm, wind_m_s, cloud = np.moveaxis(weather[came_rows], -1, 0)
    # A half wave from 07:00 to 19:00 standard time, UTC − 5 h, whose mean is 2/π of its top: 0.6 °C.
    local_h = (came_rows - 5) % 24
    off_c = np.where((local_h > 7) & (local_h < 19), 0.6 * np.pi / 2 * np.sin(np.pi * (local_h - 7) / 12), 0.0)
    np.testing.assert_allclose(made[..., 0], t_c + off_c, rtol=0, atol=0.05 + 1e-9)
    depression = t_c - dew_point_of_humid_air_c(t_c, rh_pct)
    drier_pct = relative_humidity_pct(t_c + off_c, t_c + off_c - depression) - 2.0
    np.testing.assert_allclose(made[..., 1], dew_point_of_humid_air_c(t_c + off_c, drier_pct), rtol=0, atol=0.05 + 1e-9)
    np.testing.assert_allclose(made[..., 2], rain_mm, rtol=0, atol=1e-9)
    np.testing.assert_allclose(made[..., 3], wind_m_s, rtol=0, atol=1e-9)
    np.testing.assert_allclose(made[..., 4], cloud, rtol=0, atol=0.025 + 1e-9)


def test_a_forecast_without_skill_is_a_whole_stretch_of_another_year(
    script: ModuleType, weather: Floats, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in TABLES:
        monkeypatch.setattr(script, name, (0.0,) * LEADS)
    monkeypatch.setattr(script, "WARM_BY_DAY_C", 0.0)
    first, _ = script.read_weather()
    made = script.make_forecasts(first, weather)
    mean, spread = script.usual(weather[:, 0])
    years = set()
    for moment, table in zip(script.issue_moments(), made, strict=True):
        centres = [(moment.replace(year=year), year) for year in range(2041, 2050)]
        starts = {
            int((centre + timedelta(days=day) - first) / timedelta(hours=1)) + 1: year
            for centre, year in centres
            for day in range(-20, 21)
        }
        (row,) = [row for row in starts if np.array_equal(weather[row : row + HOURS, 3], table[:, 3])]
        years.add(starts[row])
        np.testing.assert_array_equal(weather[row : row + HOURS, 2], table[:, 2])
        came = int((moment - first) / timedelta(hours=1)) + 1
        there, here = slice(row, row + HOURS), slice(came, came + HOURS)
        anomaly = (weather[there, 0] - mean[there]) / spread[there]
        np.testing.assert_allclose(table[:, 0], mean[here] + spread[here] * anomaly, rtol=0, atol=0.05 + 1e-9)
    assert years == set(range(2041, 2050))  # 138 draws of nine: (8/9)^138 is 1e-7 for a year to be left out


def test_rain_and_wind_follow_the_truth_to_a_lead_of_each_issue(
    weather: Floats, issued: Floats, came_rows: Rows
) -> None:
    same = np.abs(issued[..., 2:4] - weather[came_rows, 2:4]).max(axis=2) < 1e-9
    whole = np.logical_and.accumulate(same, axis=1)  # from the first hour on
    at_middle = whole[:, 11::24].mean(axis=0)
    share = np.array(RAIN_SHARE[:LEADS])
    # Each issue draws once: the binomial's standard error.
    assert (np.abs(at_middle - share) <= 3 * np.sqrt(share * (1 - share) / ISSUES)).all()
    # After it left the truth a forecast never goes back: hours that agree by chance do not last a day.
    later = (same & ~whole)[:, : 24 * (LEADS - 1)]
    run = np.lib.stride_tricks.sliding_window_view(later, 24, axis=1).all(axis=2)
    assert not run.any()


def test_rain_falls_as_often_as_in_the_truth(found: dict[str, float], by_day: Floats) -> None:
    rainy_pct = 100 * (by_day[..., 2] > 0).mean(axis=1)
    # The script counts an hour to the month in which it began, which moves ten years of rain by a few hours at most.
    assert found["rain_hours_of_the_truth_pct"] == pytest.approx(rainy_pct.mean(), abs=0.02)
    # As if every forecast were of the truth's own 148 days, which come again and again; other years make it less.
    assert found["rain_hours_pct"] == pytest.approx(rainy_pct.mean(), abs=3 * rainy_pct.std() / np.sqrt(148))


def test_the_file_is_small() -> None:
    assert FILE.stat().st_size <= 350_000  # house choice: bytes


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    folder = demo_copy(tmp_path_factory.mktemp("forecasts") / "demo")
    with closing(Database(folder / "workspace.sqlite")) as database:
        yield database


@pytest.fixture(scope="module")
def kept(demo: Database) -> tuple[Issue, ...]:
    return issues(demo, [STATION])


def test_the_demo_archives_one_issue_a_day(kept: tuple[Issue, ...], issued: Floats) -> None:
    assert len(kept) == ISSUES
    day = np.timedelta64(1, "D")
    assert {later.issued_utc - one.issued_utc for one, later in pairwise(kept)} == {day}
    for issue, table in zip(kept, issued, strict=True):
        assert issue.issued_stated
        assert issue.fetched_utc - issue.issued_utc == np.timedelta64(40, "m")
        assert issue.forecast.hours[0] - issue.issued_utc.astype("datetime64[h]") == np.timedelta64(1, "h")
        said = dict(issue.forecast.values)
        assert said.keys() == LAST_DIGIT.keys()
        for name, column in zip(LAST_DIGIT, table.T, strict=True):
            np.testing.assert_array_equal(said[name], column)
            assert (issue.forecast.step_hours[name] == 1).all()


def test_nobody_takes_them_for_observed_or_real(kept: tuple[Issue, ...]) -> None:
    (provider,) = {issue.forecast.provider for issue in kept}
    assert provider.grade is Grade.MODEL
    assert "invented" in provider.name


@pytest.mark.parametrize(
    ("known_by", "count", "newest"),
    [
        ("2050-05-01T06:39", 0, None),
        # May, June, and July up to the demo's own morning, 05:30 daylight time: 31 + 30 + 25.
        ("2050-07-25T09:30", 86, "2050-07-25T06:00"),
        ("2050-07-25T06:40", 86, "2050-07-25T06:00"),
        ("2050-07-25T06:39", 85, "2050-07-24T06:00"),
        ("2050-07-18T09:30", 79, "2050-07-18T06:00"),
    ],
)
def test_a_replayed_morning_knows_what_had_been_fetched(
    demo: Database, known_by: str, count: int, newest: str | None
) -> None:
    known = issues(demo, [STATION], np.datetime64(known_by, "m"))
    assert len(known) == count
    last = [str(one.issued_utc) for one in issues(demo, [STATION], np.datetime64(known_by, "m"), last_only=True)]
    assert last == ([] if newest is None else [f"{newest}:00"])


def test_several_forecasts_are_kept_together_or_not_at_all(database: Database, kept: tuple[Issue, ...]) -> None:
    now = datetime(2050, 5, 1, 6, 40, tzinfo=UTC)
    one, two = kept[0].forecast, kept[1].forecast
    broken = replace(two, step_hours={})
    with pytest.raises(KeyError):
        archive_all(database, STATION, ((one, now), (broken, now)))
    assert issues(database, [STATION]) == ()
    first, again, second = archive_all(database, STATION, ((one, now), (one, now), (two, now)))
    assert again is None
    assert first is not None
    assert second is not None
    assert [issue.number for issue in issues(database, [STATION])] == [first, second]
