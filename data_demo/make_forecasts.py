"""Make a summer of invented weather forecasts for the demo station "alder-reach".

No weather model ever ran for it: each forecast is the invented weather of the days that follow, spoilt with the weather
of another invented year, the more so the further ahead. It proves nothing of any real forecast.

Run as ``python data_demo/make_forecasts.py OUT.csv.gz``; it reads the weather file beside it, and one seed gives one
file.

Array shapes: ``(H,)`` is one value per hour of the weather file, whose first stamp is 00:00 UTC; ``(A,)`` one per hour
ahead of an issue; ``(I, A, 5)`` all that was issued. Every stamp is the end of its hour.
"""

import csv
import gzip
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SEED = 20500501  # house choice: the first date of issue
WEATHER = Path(__file__).with_name("weather_alder_reach.csv.gz")

# One issue a day, before the demo's morning of 25 July 2050 and after it: house choices.
FIRST_ISSUE_UTC = datetime(2050, 5, 1, 6, tzinfo=UTC)
LAST_ISSUE_UTC = datetime(2050, 9, 15, 6, tzinfo=UTC)
HOURS_AHEAD = 240
UTC_OFFSET_H = -5  # standard time of the invented station, all year

# What the invented forecasts are worth, 1 to 10 days ahead: house choices, the figures that the program assumes of a
# forecast of which it knows nothing (from memory, and a measure of no real one). A day's figure stands at its middle.
TEMPERATURE_R = (.95, .93, .91, .87, .82, .76, .68, .59, .50, .41)  # fmt: skip
DEPRESSION_R = (.86, .82, .78, .72, .65, .57, .48, .40, .32, .26)  # fmt: skip
FOLLOWED_SHARE = (.60, .55, .50, .42, .35, .28, .21, .15, .10, .07)  # fmt: skip
EITHER_SIDE_DAYS = 20  # the other year's weather begins so near to the same date

# What every issue is off by, whatever the lead: house choices.
WARM_BY_DAY_C = 0.6  # mean of the 12 h from 07:00 to 19:00 standard time, a half wave; none by night
DRY_PCT = 2.0  # points of relative humidity

LEAST_HUMIDITY_PCT = 5.0  # dew points stay within reason
COLUMNS = ("air_temperature_c", "dew_point_c", "rain_mm", "wind_speed_10m_m_s", "cloud_cover_fraction")
CLOUD_STEPS = 20  # cloud in twentieths: a finer figure would only make the file larger


def read_weather(path: Path = WEATHER) -> tuple[datetime, Floats]:
    """First stamp, and the weather ``(H, 5)``: temperature (C), humidity (%), rain (mm), wind (m/s), cloud (fraction).

    Holes are bridged by straight lines.
    """
    with gzip.open(path, "rt", encoding="ascii") as file:
        rows = list(csv.reader(file))[1:]
    table = np.array([[float(cell or "nan") for cell in row[1:]] for row in rows])
    n = np.arange(len(table))
    for column in table.T:
        known = np.isfinite(column)
        column[:] = np.interp(n, n[known], column[known])
    return datetime.strptime(rows[0][0], "%Y-%m-%dT%H:%MZ").replace(tzinfo=UTC), table


def saturation_kpa(temperature_c: Floats) -> Floats:
    """Saturation vapour pressure (kPa), any shape; Tetens form, FAO-56 eq. 11."""
    return np.asarray(0.6108 * np.exp(17.27 * temperature_c / (temperature_c + 237.3)))


def dew_point_c(temperature_c: Floats, humidity_pct: Floats) -> Floats:
    """Dew point (C), any shape: the Tetens form turned round."""
    x = np.log(saturation_kpa(temperature_c) * humidity_pct / 100 / 0.6108)
    return np.asarray(237.3 * x / (17.27 - x))


def usual(values: Floats) -> tuple[Floats, Floats]:
    """Mean and spread of every hour ``(H,)``: two yearly waves for each hour of the day."""
    by_day = values.reshape(-1, 24)
    angle = 2 * np.pi * np.arange(len(by_day)) / 365.25
    waves = np.column_stack([np.ones_like(angle), *(f(k * angle) for f in (np.cos, np.sin) for k in (1, 2))])

    def smooth(table: Floats) -> Floats:
        return np.asarray(waves @ np.linalg.lstsq(waves, table)[0])

    mean = smooth(by_day)
    return mean.ravel(), np.sqrt(smooth((by_day - mean) ** 2)).ravel()


def by_hour_ahead(table: tuple[float, ...]) -> Floats:
    """A table of days ahead at every hour ahead ``(A,)``, from 1 h: the first day's before the middle of that day."""
    middles = 24.0 * np.arange(len(table)) + 12
    return np.asarray(np.interp(np.arange(1.0, HOURS_AHEAD + 1), middles, table))


def too_warm_c(clock_utc_h: NDArray[np.int64]) -> Floats:
    """What the temperature is too high by, by the hour of UTC; any shape."""
    wave = np.sin(np.pi * ((clock_utc_h + UTC_OFFSET_H) % 24 - 7) / 12)
    return np.asarray(WARM_BY_DAY_C * np.pi / 2 * np.maximum(wave, 0))


def issue_moments() -> list[datetime]:
    """All moments of issue (UTC)."""
    days = (LAST_ISSUE_UTC - FIRST_ISSUE_UTC).days + 1
    return [FIRST_ISSUE_UTC + timedelta(days=day) for day in range(days)]


def rows_after(first: datetime, moment: datetime) -> NDArray[np.int64]:
    """Rows ``(A,)`` of the hours after a moment, in a table whose first stamp is ``first``."""
    return np.asarray(int((moment - first) / timedelta(hours=1)) + np.arange(1, HOURS_AHEAD + 1))


def make_forecasts(first: datetime, weather: Floats, seed: int = SEED) -> Floats:
    """All that was issued, ``(I, A, 5)`` in the order of :data:`COLUMNS`, rounded as it is written.

    Temperature and the depression of the dew point are usual + spread (r x + sqrt(1 - r²) x'), where x is how far from
    usual, in spreads, the truth will be and x' how far the same hours of another year's block were: an error lasts,
    and goes together, as weather does. Rain, wind and cloud cannot be averaged: they are the truth's up to a lead drawn
    for each issue, and the block's from there on.

    Args:
        first: first stamp of the weather, at 00:00 UTC.
        weather: ``(H, 5)`` as :func:`read_weather` gives it.
        seed: of the draws.
    """
    rng = np.random.Generator(np.random.PCG64(seed))
    temperature_c, humidity_pct = weather[:, 0], weather[:, 1]
    depression_c = temperature_c - dew_point_c(temperature_c, humidity_pct)
    parts = [
        (c, *usual(c), by_hour_ahead(r)) for c, r in ((temperature_c, TEMPERATURE_R), (depression_c, DEPRESSION_R))
    ]
    followed = by_hour_ahead(FOLLOWED_SHARE)
    last = first + timedelta(hours=len(weather) - 1)

    made = []
    for moment in issue_moments():
        years = [year for year in range(first.year + 1, last.year + 1) if year != moment.year]
        shift = timedelta(days=int(rng.integers(-EITHER_SIDE_DAYS, EITHER_SIDE_DAYS + 1)))
        there = moment.replace(year=int(rng.choice(years))) + shift
        came, other = rows_after(first, moment), rows_after(first, there)
        blended = []
        for value, mean, spread, r in parts:
            x, error = ((value[rows] - mean[rows]) / spread[rows] for rows in (came, other))
            blended.append(mean[came] + spread[came] * (r * x + np.sqrt(1 - r**2) * error))
        t_c = blended[0] + too_warm_c(came % 24)
        true_pct = 100 * saturation_kpa(t_c - np.maximum(blended[1], 0)) / saturation_kpa(t_c)
        td_c = dew_point_c(t_c, np.maximum(true_pct - DRY_PCT, LEAST_HUMIDITY_PCT))
        carried = np.where((rng.random() < followed)[:, None], weather[came, 2:], weather[other, 2:])
        made.append(np.column_stack([t_c, td_c, carried]))
    issued = np.array(made)
    issued[..., :4] = np.round(issued[..., :4], 1)
    issued[..., 4] = np.round(issued[..., 4] * CLOUD_STEPS) / CLOUD_STEPS
    return issued + 0.0  # no "-0.0"


def write_csv(path: Path, issued: Floats) -> None:
    """Write ``(I, A, 5)``, one line an hour ahead."""
    lines = [",".join(("issued_utc", "hour_utc", *COLUMNS))]
    for moment, table in zip(issue_moments(), issued.tolist(), strict=True):
        for hour, (t_c, td_c, rain_mm, wind_m_s, cloud) in enumerate(table, 1):
            stamp = moment + timedelta(hours=hour)
            cells = f"{t_c:.1f},{td_c:.1f},{rain_mm:.1f},{wind_m_s:.1f},{cloud:.2f}"
            lines.append(f"{moment:%Y-%m-%dT%H:%MZ},{stamp:%Y-%m-%dT%H:%MZ},{cells}")
    # No file name and no time in the gzip header: the same forecasts give the same bytes.
    with path.open("wb") as raw, gzip.GzipFile("", "wb", 9, raw, mtime=0) as packed:
        packed.write(("\n".join(lines) + "\n").encode("ascii"))


def figures(first: datetime, weather: Floats, issued: Floats) -> dict[str, float]:
    """Figures of all that was issued ``(I, A, 5)`` that the README sets targets for.

    A correlation is that of hourly anomalies, pooled over the hours of a day ahead, without what the issues are off by
    on the whole at that hour of the day. Errors are means of the first five days ahead.
    """
    rows = np.array([rows_after(first, moment) for moment in issue_moments()])
    said_c, said_depression_c = issued[..., 0], issued[..., 0] - issued[..., 1]
    came_depression_c = weather[:, 0] - dew_point_c(weather[:, 0], weather[:, 1])
    found: dict[str, float] = {}
    for name, said, came in (
        ("temperature", said_c, weather[:, 0]),
        ("depression", said_depression_c, came_depression_c),
    ):
        mean, spread = usual(came)
        x, f = ((values - mean[rows]) / spread[rows] for values in (came[rows], said))
        f -= np.tile((f - x).reshape(-1, 24).mean(axis=0), HOURS_AHEAD // 24)
        xx, ff, xf = (a.reshape(len(rows), -1, 24) for a in (x * x, f * f, x * f))
        r = xf.sum(axis=(0, 2)) / np.sqrt(xx.sum(axis=(0, 2)) * ff.sum(axis=(0, 2)))
        found |= {f"{name}_r_{day}d": r[day - 1] for day in range(1, len(r) + 1)}
    near = np.zeros(rows.shape, dtype=bool)
    near[:, : 5 * 24] = True
    by_day = too_warm_c(rows % 24) > 0
    off_c = said_c - weather[rows, 0]
    off_pct = 100 * saturation_kpa(issued[..., 1]) / saturation_kpa(said_c) - weather[rows, 1]
    month = [(first + timedelta(hours=n - 1)).month for n in range(len(weather))]
    season = np.isin(month, [5, 6, 7, 8, 9])
    found |= {
        "too_warm_by_day_c": off_c[near & by_day].mean(),
        "too_warm_by_night_c": off_c[near & ~by_day].mean(),
        "too_dry_pct": -off_pct[near].mean(),
        "rain_hours_pct": 100 * (issued[..., 2] > 0).mean(),
        "rain_hours_of_the_truth_pct": 100 * (weather[season, 2] > 0).mean(),
    }
    return {name: float(value) for name, value in found.items()}


def main() -> None:
    """Write the file named on the command line and print its figures."""
    if len(sys.argv) != 2:
        sys.exit("usage: python make_forecasts.py OUT.csv.gz")
    first, weather = read_weather()
    issued = make_forecasts(first, weather)
    write_csv(Path(sys.argv[1]), issued)
    for name, value in figures(first, weather, issued).items():
        print(f"{name:30s} {value:6.2f}")


if __name__ == "__main__":
    main()
