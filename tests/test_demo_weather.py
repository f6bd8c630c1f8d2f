"""The invented demo weather: remade from its seed, held to its targets, blemished as stated."""

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest

DATA_DEMO = Path(__file__).parents[1] / "data_demo"
AIR = ["air_temperature_c", "relative_humidity_pct"]

# One step of the last written digit of each column.
LAST_DIGIT = {
    "air_temperature_c": 0.1,
    "relative_humidity_pct": 1.0,
    "rain_mm": 0.1,
    "wind_speed_10m_m_s": 0.1,
    "cloud_cover_fraction": 0.01,
}

CLIMATE = "TMY3 Greensboro figures, pvlib 723170TYA"
HOUSE = "house choice"
# Name, target, tolerance (house choices throughout), source of the target.
TARGETS: list[tuple[str, float, float, str]] = [
    ("summer_mean_temperature_c", 24.6, 0.7, CLIMATE),
    ("summer_night_minimum_c", 20.0, 0.7, CLIMATE),
    ("summer_rh_90_hours_pct", 24.0, 4.0, CLIMATE),
    ("year_mean_wind_m_s", 3.1, 0.4, CLIMATE),
    ("summer_mean_wind_m_s", 2.7, 0.4, CLIMATE),
    ("rain_hours_pct", 4.0, 1.5, CLIMATE),
    ("rain_mm_per_year", 830.0, 120.0, CLIMATE),
    ("january_mean_temperature_c", 4.0, 1.0, HOUSE),
    ("night_minimum_lag_1d", 0.67, 0.08, CLIMATE),
    ("night_minimum_lag_2d", 0.35, 0.08, CLIMATE),
    ("night_minimum_lag_3d", 0.18, 0.08, CLIMATE),
    ("night_minimum_lag_5d", 0.06, 0.08, CLIMATE),
    ("may_to_september_e_6_days_pct", 6.5, 2.5, HOUSE),
    ("may_to_september_warm_wet_days_pct", 21.0, 7.0, HOUSE),
]

# Where temperature and humidity are missing: first stamp (UTC) and length in hours, as in the README.
GAPS: dict[str, int] = {
    "2040-12-19T14:00Z": 1,
    "2041-05-07T03:00Z": 1,
    "2041-09-22T17:00Z": 2,
    "2042-02-11T09:00Z": 1,
    "2042-08-30T21:00Z": 1,
    "2043-06-16T11:00Z": 1,
    "2044-03-28T06:00Z": 1,
    "2044-07-24T01:00Z": 3,
    "2045-07-05T19:00Z": 1,
    "2046-01-17T22:00Z": 30,
    "2046-10-03T12:00Z": 1,
    "2047-04-14T16:00Z": 1,
    "2047-11-26T05:00Z": 3,
    "2048-08-09T10:00Z": 1,
    "2049-06-21T00:00Z": 1,
    "2050-07-13T08:00Z": 1,
}


@pytest.fixture(scope="module")
def script() -> ModuleType:
    """The generator, loaded from its file because data_demo is no package."""
    spec = importlib.util.spec_from_file_location("make_weather", DATA_DEMO / "make_weather.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def committed() -> pd.DataFrame:
    """The committed file, stamps as text."""
    return pd.read_csv(DATA_DEMO / "weather_alder_reach.csv.gz")


@pytest.fixture(scope="module")
def remade(script: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file as the generator writes it now."""
    path = tmp_path_factory.mktemp("demo") / "weather.csv.gz"
    script.write_csv(path, *script.make_weather())
    return path


@pytest.fixture(scope="module")
def found(script: ModuleType, committed: pd.DataFrame) -> dict[str, float]:
    """The script's figures of the committed file."""
    measured: dict[str, float] = script.figures(committed[list(LAST_DIGIT)].to_numpy())
    return measured


def test_remaking_gives_the_committed_values(committed: pd.DataFrame, remade: Path) -> None:
    again = pd.read_csv(remade)
    assert list(committed.columns) == ["hour_utc", *LAST_DIGIT]
    assert list(again.columns) == list(committed.columns)
    assert again["hour_utc"].equals(committed["hour_utc"])
    assert again.isna().equals(committed.isna())
    for column, step in LAST_DIGIT.items():
        # A hair over one step, for the binary fractions in between.
        np.testing.assert_allclose(again[column], committed[column], rtol=0, atol=1.001 * step)


def test_same_seed_same_bytes_other_seed_other_weather(script: ModuleType, remade: Path) -> None:
    stamps, table = script.make_weather()
    once_more = remade.with_name("once_more.csv.gz")
    script.write_csv(once_more, stamps, table)
    assert once_more.read_bytes() == remade.read_bytes()
    other = script.make_weather(script.SEED + 1)[1]
    assert not np.array_equal(other, table, equal_nan=True)


@pytest.mark.parametrize(("name", "target", "tolerance", "source"), TARGETS, ids=[t[0] for t in TARGETS])
def test_target_is_held(found: dict[str, float], name: str, target: float, tolerance: float, source: str) -> None:
    assert found[name] == pytest.approx(target, abs=tolerance), source


def test_every_figure_has_a_target(found: dict[str, float]) -> None:
    assert set(found) == {t[0] for t in TARGETS}


def test_figures_agree_with_pandas(found: dict[str, float], committed: pd.DataFrame) -> None:
    # The script slices the table by hand; calendar time in pandas has to find the same days.
    lst = pd.to_datetime(committed["hour_utc"]).dt.tz_localize(None) - pd.Timedelta(hours=5)
    frame = committed.set_index(pd.DatetimeIndex(lst)).drop(columns="hour_utc").interpolate()
    to_noon = frame["air_temperature_c"].resample("24h", offset="12h", closed="right", label="right").min()
    whole = to_noon.iloc[1:-1]  # the first and the last day are cut short
    in_summer = pd.DatetimeIndex(whole.index).month.isin([6, 7, 8])
    assert found["summer_night_minimum_c"] == pytest.approx(whole[in_summer].mean(), abs=1e-9)
    month = (pd.DatetimeIndex(frame.index) - pd.Timedelta(hours=1)).month
    assert found["january_mean_temperature_c"] == pytest.approx(frame["air_temperature_c"][month == 1].mean(), abs=1e-9)


def test_longest_damp_run_remembers(script: ModuleType) -> None:
    gap_c = np.full((2, 24), 5.0)
    gap_c[0, 3:15] = [3.0, 2.0, 3.7, 1.0, 3.8, 3.7, 2.1, 1.9, 2.0, 3.0, 3.0, 3.8]
    # On at 2.0, held below 3.8, off at 3.8: hours 4-6, then hours 10-13.
    assert script.longest_damp_run_h(gap_c).tolist() == [4.0, 0.0]


def test_air_never_passes_its_dew_point(committed: pd.DataFrame) -> None:
    temperature_c, rh_pct = (committed[c].dropna() for c in AIR)
    # Relative humidity of 100 % or less is the same as a dew point at or below the temperature.
    assert rh_pct.between(1, 100).all()
    x = np.log(rh_pct / 100) + 17.27 * temperature_c / (temperature_c + 237.3)
    dew_point_c = 237.3 * x / (17.27 - x)
    assert (dew_point_c <= temperature_c + 1e-9).all()
    assert (dew_point_c > -40).all()


def test_other_columns_are_possible(committed: pd.DataFrame) -> None:
    assert (committed["rain_mm"] >= 0).all()
    assert (committed["wind_speed_10m_m_s"] >= 0).all()
    assert committed["cloud_cover_fraction"].between(0, 1).all()
    for column, step in LAST_DIGIT.items():
        steps = committed[column].dropna() / step
        np.testing.assert_allclose(steps, steps.round(), rtol=0, atol=1e-6, err_msg=column)


def test_blemishes_are_exactly_those_stated(script: ModuleType, committed: pd.DataFrame) -> None:
    lengths = sorted(GAPS.values())
    assert lengths == [1] * 12 + [2, 3, 3, 30]
    assert dict(script.BLEMISHES) == GAPS
    hours = pd.DatetimeIndex([hour for first, n in GAPS.items() for hour in pd.date_range(first, periods=n, freq="h")])
    missing = pd.to_datetime(committed["hour_utc"]).isin(hours)
    assert missing.sum() == sum(lengths)
    for column in AIR:
        assert committed[column].isna().equals(missing.rename(column))
    assert committed.drop(columns=AIR).notna().all(axis=None)


def test_one_hour_is_missing_in_june_and_july_2050(committed: pd.DataFrame) -> None:
    shown = committed[committed["hour_utc"].between("2050-06-01T00:00Z", "2050-07-31T23:00Z")]
    assert len(shown) == 61 * 24
    assert shown.loc[shown.isna().any(axis=1), "hour_utc"].tolist() == ["2050-07-13T08:00Z"]


def test_every_hour_is_there_once(committed: pd.DataFrame) -> None:
    hours = pd.date_range("2040-11-01T00:00Z", "2050-10-31T23:00Z", freq="h")
    assert committed["hour_utc"].tolist() == hours.strftime("%Y-%m-%dT%H:%MZ").tolist()


def test_the_file_is_small() -> None:
    assert (DATA_DEMO / "weather_alder_reach.csv.gz").stat().st_size <= 2_000_000  # house choice: bytes
