"""Make ten years of invented hourly weather for the demo station "alder-reach".

Nothing here was ever measured: station, town and weather are made up, and the
years lie in the future so that nobody mistakes the file for a record.

Run as ``python data_demo/make_weather.py OUT.csv.gz``; one seed gives one file.

Array shapes: ``(D,)`` is one value per local standard day, ``(H,)`` one per
hour, with ``H = 24 * D``; stamp 0 of a day is its 00:00 local standard time.
``season`` runs from -1 in midwinter to 1 in midsummer; a ``_SWING_`` multiplies it.
"""

import gzip
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SEED = 20401101  # house choice: the first date of the file

# The invented station: house choices.
LATITUDE_DEG = 36.4
LONGITUDE_DEG = -79.6
UTC_OFFSET_H = -5  # standard time all year
FIRST_UTC = datetime(2040, 11, 1, 0, tzinfo=UTC)
LAST_UTC = datetime(2050, 10, 31, 23, tzinfo=UTC)
SPIN_UP_DAYS = 2  # house choice: spare days at each end, cut off again
HEADER = "hour_utc,air_temperature_c,relative_humidity_pct,rain_mm,wind_speed_10m_m_s,cloud_cover_fraction"

# Empty temperature and humidity cells (one probe feeds both): first stamp, hours.
# House choice: 12 single hours, gaps of 2, 3 and 3 h, one winter outage of 30 h.
BLEMISHES: tuple[tuple[str, int], ...] = (
    ("2040-12-19T14:00Z", 1),
    ("2041-05-07T03:00Z", 1),
    ("2041-09-22T17:00Z", 2),
    ("2042-02-11T09:00Z", 1),
    ("2042-08-30T21:00Z", 1),
    ("2043-06-16T11:00Z", 1),
    ("2044-03-28T06:00Z", 1),
    ("2044-07-24T01:00Z", 3),
    ("2045-07-05T19:00Z", 1),
    ("2046-01-17T22:00Z", 30),
    ("2046-10-03T12:00Z", 1),
    ("2047-04-14T16:00Z", 1),
    ("2047-11-26T05:00Z", 3),
    ("2048-08-09T10:00Z", 1),
    ("2049-06-21T00:00Z", 1),
    ("2050-07-13T08:00Z", 1),
)

# The climate: every figure below is a house choice, set by hand until the targets in
# README.md were met.  A LAG is a correlation over one or two days (_D) or an hour (_H).
LAG_1D, LAG_2D = 0.67, 0.34
T_TD_CORRELATION = 0.70  # warm days are mostly humid days
WARMEST_DAY_OF_YEAR = 201  # 20 July
DAWN_MEAN_C, DAWN_SWING_C = 9.9, 11.0
DAWN_SD_C, DAWN_SD_SWING_C = 3.4, -1.7
DEW_MEAN_C, DEW_SWING_C = 8.5, 11.9
DEW_SD_C, DEW_SD_SWING_C = 3.9, -2.0
YEAR_SD_C, YEAR_RAIN_SD_FRACTION = 0.6, 0.15  # one year against another
CLEAR_RANGE_C, RANGE_LOG_SD = 13.0, 0.12  # dawn to 15:00 under a clear sky
RANGE_LOST_TO_CLOUD_FRACTION = 0.46
CLOUDY_NIGHT_WARMING_C = 1.2  # overcast against clear
WARMING_POWER, COOLING_POWER = 0.8, 0.7  # quick mornings, long flat nights
PEAK_LST_H = 15.0
RAIN_AFTER_DRY_CHANCE, RAIN_AFTER_RAIN_CHANCE, RAIN_PER_HUMID_SD_FRACTION = 0.17, 0.36, 0.35
SHOWER_SHARE_FRACTION, SHOWER_SHARE_SWING_FRACTION = 0.35, 0.40
SHOWER_START_LST_H, SHOWER_START_SD_H = 16.5, 2.5
SHOWER_LEAST_H, SHOWER_EXTRA_H, SHOWER_MM_PER_H = 1, 1.2, 4.2
FRONT_LEAST_H, FRONT_EXTRA_H, FRONT_MM_PER_H = 2, 3.6, 1.9
LEAST_RAIN_MM, RAIN_GAMMA_SHAPE = 0.1, 0.8
SOAKED_KEPT_PER_H, SOAKED_GAP_LOST_FRACTION, SOAKED_COOLING_SHARE_FRACTION = 0.6, 0.6, 0.6
CLOUD_MEAN_FRACTION, CLOUD_WET_DAY_FRACTION, CLOUD_DRY_SD_FRACTION = 0.46, 0.25, -0.16
CLOUD_NOISE_FRACTION, CLOUD_LAG_1H, RAIN_LEAST_CLOUD_FRACTION = 0.36, 0.93, 0.85
FOG_GAP_C, FOG_BEND_C = 0.2, 0.7  # smallest T - Td; how softly it is reached
FOG_WARMING_SHARE_FRACTION = 0.5
WIND_MEAN_M_S, WIND_SWING_M_S, WIND_LOG_SD, WIND_LAG_1H = 3.1, -0.5, 0.5, 0.88
WIND_DAWN_FRACTION, WIND_PEAK_FRACTION = 0.80, 1.25  # of the mean


def saturation_kpa(temperature_c: Floats) -> Floats:
    """Saturation vapour pressure (kPa), any shape; Tetens form, FAO-56 eq. 11."""
    return np.asarray(0.6108 * np.exp(17.27 * temperature_c / (temperature_c + 237.3)))


def daily_driver(rng: np.random.Generator, days: int) -> Floats:
    """Unit-variance anomalies ``(D, 2)`` of temperature and dew point: a vector AR(2).

    Both columns share the coefficients that Yule and Walker's equations give for
    the two wanted lag correlations; their shocks are correlated.
    """
    r1, r2 = LAG_1D, LAG_2D
    phi1 = r1 * (1 - r2) / (1 - r1**2)
    phi2 = (r2 - r1**2) / (1 - r1**2)
    shock_sd = np.sqrt(1 - phi1 * r1 - phi2 * r2)
    shock = shock_sd * rng.standard_normal((days, 2))
    shock[:, 1] = T_TD_CORRELATION * shock[:, 0] + np.sqrt(1 - T_TD_CORRELATION**2) * shock[:, 1]
    z = np.zeros((days, 2))
    for d in range(2, days):
        z[d] = phi1 * z[d - 1] + phi2 * z[d - 2] + shock[d]
    return z


def hourly_noise(rng: np.random.Generator, hours: int, keep: float) -> Floats:
    """Unit-variance AR(1) noise ``(H,)``; ``keep`` is the correlation from hour to hour."""
    shock = np.sqrt(1 - keep**2) * rng.standard_normal(hours)
    z = np.zeros(hours)
    for h in range(1, hours):
        z[h] = keep * z[h - 1] + shock[h]
    return z


def make_rain(rng: np.random.Generator, season: Floats, humid: Floats, wet_year: Floats) -> tuple[Floats, Floats]:
    """Rain per hour ``(H,)`` in mm, and the wet-day flags ``(D,)`` (0 or 1).

    ``season``, ``humid`` (the dew point's unit-variance anomaly) and ``wet_year`` (a
    factor near 1 on the chance of rain) are ``(D,)``.
    """
    days = season.size
    rain_mm = np.zeros(24 * days + 48)  # room for a spell that outlasts the last day
    wet = np.zeros(days)
    for d in range(1, days):
        # Two-state Markov chain: rain follows rain, and humid air favours it.
        chance = RAIN_AFTER_RAIN_CHANCE if wet[d - 1] else RAIN_AFTER_DRY_CHANCE
        chance *= wet_year[d] * (1 + RAIN_PER_HUMID_SD_FRACTION * humid[d])
        wet[d] = rng.random() < chance
        if not wet[d]:
            continue
        if rng.random() < SHOWER_SHARE_FRACTION + SHOWER_SHARE_SWING_FRACTION * season[d]:
            # A shower: short, heavy, in the afternoon, mostly in summer.
            start_h = rng.normal(SHOWER_START_LST_H, SHOWER_START_SD_H)
            length_h = SHOWER_LEAST_H + rng.poisson(SHOWER_EXTRA_H)
            mean_mm = SHOWER_MM_PER_H
        else:  # A passing front: longer, lighter, at any hour.
            start_h = rng.uniform(0, 24)
            length_h = FRONT_LEAST_H + rng.poisson(FRONT_EXTRA_H)
            mean_mm = FRONT_MM_PER_H
        fall_mm = rng.gamma(RAIN_GAMMA_SHAPE, mean_mm / RAIN_GAMMA_SHAPE, length_h)
        first = 24 * d + int(start_h)
        rain_mm[first : first + length_h] += LEAST_RAIN_MM + fall_mm
    return rain_mm[: 24 * days], wet


def make_cloud(rng: np.random.Generator, dryness: Floats, wet: Floats, rain_mm: Floats) -> Floats:
    """Cloud cover ``(H,)`` as a fraction; ``dryness`` (standard deviations), ``wet``: ``(D,)``.

    Clipping gives the many wholly clear and wholly overcast hours of real skies.
    """
    hour = np.arange(rain_mm.size)
    noon = 24 * np.arange(wet.size) + 12
    level = CLOUD_MEAN_FRACTION + CLOUD_DRY_SD_FRACTION * dryness + CLOUD_WET_DAY_FRACTION * wet
    cloud = np.interp(hour, noon, level)
    cloud += CLOUD_NOISE_FRACTION * hourly_noise(rng, hour.size, CLOUD_LAG_1H)
    cloud = np.where(rain_mm > 0, np.maximum(cloud, RAIN_LEAST_CLOUD_FRACTION), cloud)
    return np.clip(cloud, 0.0, 1.0)


def sunrise_lst_h(day_of_year: Floats) -> Floats:
    """Sunrise ``(D,)`` in local standard hours; Cooper's (1969) declination.

    The equation of time (a quarter of an hour at most) is left out.
    """
    declination = np.radians(23.45) * np.sin(2 * np.pi * (284 + day_of_year) / 365)
    half_day_rad = np.arccos(-np.tan(np.radians(LATITUDE_DEG)) * np.tan(declination))
    solar_noon_h = 12 + UTC_OFFSET_H - LONGITUDE_DEG / 15
    return np.asarray(solar_noon_h - np.degrees(half_day_rad) / 15)


def diurnal_shape(dawn_h: Floats, hours: int) -> tuple[Floats, NDArray[np.intp]]:
    """Daily course ``(H,)``, 0 at dawn and 1 at the peak, and each hour's dawn index ``(H,)``.

    ``dawn_h`` ``(D,)`` counts hours from the first stamp.  The powers bend two half
    cosines, the morning's and the night's.
    """
    hour = np.arange(hours, dtype=np.float64)
    last = np.clip(np.searchsorted(dawn_h, hour, side="right") - 1, 0, dawn_h.size - 2)
    peak_h = 24 * last + PEAK_LST_H
    up = np.clip((hour - dawn_h[last]) / (peak_h - dawn_h[last]), 0, 1)
    down = np.clip((hour - peak_h) / (dawn_h[last + 1] - peak_h), 0, 1)
    rising = 0.5 - 0.5 * np.cos(np.pi * up**WARMING_POWER)
    falling = 0.5 + 0.5 * np.cos(np.pi * down**COOLING_POWER)
    return np.where(hour < peak_h, rising, falling), last


def damp_air(temperature_c: Floats, dew_point_c: Floats, rain_mm: Floats) -> tuple[Floats, Floats]:
    """Temperature (C) and relative humidity (%) after rain, fog and dew; everything ``(H,)``."""
    # Rain cools and moistens the air; the effect fades over a few hours.
    soaked = (rain_mm > 0).astype(np.float64)
    for h in range(1, soaked.size):
        soaked[h] = max(soaked[h], SOAKED_KEPT_PER_H * soaked[h - 1])
    taken_c = SOAKED_GAP_LOST_FRACTION * soaked * np.maximum(temperature_c - dew_point_c, 0)
    temperature_c = temperature_c - SOAKED_COOLING_SHARE_FRACTION * taken_c
    dew_point_c = dew_point_c + (1 - SOAKED_COOLING_SHARE_FRACTION) * taken_c

    # Air cannot pass its dew point.  Near it the gap bends to a small rest, and fog or dew
    # shares out the difference: its heat keeps the air warmer, its water leaves the air.
    gap_c = temperature_c - dew_point_c
    open_gap_c = FOG_GAP_C + FOG_BEND_C * np.logaddexp(0, (gap_c - FOG_GAP_C) / FOG_BEND_C)
    temperature_c = temperature_c + FOG_WARMING_SHARE_FRACTION * (open_gap_c - gap_c)
    vapour_kpa = saturation_kpa(temperature_c - open_gap_c)
    return temperature_c, 100 * vapour_kpa / saturation_kpa(temperature_c)


def make_weather(seed: int = SEED) -> tuple[list[datetime], Floats]:
    """Return the stamps (``N`` of them, UTC) and the weather ``(N, 5)``, rounded.

    Columns: temperature (C), relative humidity (%), rain (mm), wind (m/s), cloud
    (fraction).  Cells of ``BLEMISHES`` are NaN.
    """
    rng = np.random.Generator(np.random.PCG64(seed))
    stamps_n = int((LAST_UTC - FIRST_UTC) / timedelta(hours=1)) + 1
    days = stamps_n // 24 + 2 * SPIN_UP_DAYS
    hours = 24 * days
    day0 = FIRST_UTC.date() - timedelta(days=SPIN_UP_DAYS)
    dates = [day0 + timedelta(days=d) for d in range(days)]
    day_of_year = np.array([day.timetuple().tm_yday for day in dates], dtype=np.float64)
    season = np.cos(2 * np.pi * (day_of_year - WARMEST_DAY_OF_YEAR) / 365.25)

    # Each year has its own lean, fixed at 1 July and blended in between.
    years = np.arange(day0.year, LAST_UTC.year + 2)
    mid_year = np.array([(date(y, 7, 1) - day0).days for y in years])
    lean = rng.standard_normal((2, years.size))
    year_c = np.interp(np.arange(days), mid_year, YEAR_SD_C * lean[0])
    wet_year = np.interp(np.arange(days), mid_year, 1 + YEAR_RAIN_SD_FRACTION * lean[1])

    z = daily_driver(rng, days)
    rain_mm, wet = make_rain(rng, season, z[:, 1], wet_year)
    cloud = make_cloud(rng, z[:, 0] - z[:, 1], wet, rain_mm)

    # The daily values hold at dawn, where the night minimum falls, and are joined by
    # straight lines, so that the minima inherit the lags of the driver.
    dawn_h = 24 * np.arange(days) + sunrise_lst_h(day_of_year)
    hour = np.arange(hours, dtype=np.float64)
    by_day = cloud.reshape(days, 24)
    day_cloud, night_cloud = by_day[:, 7:19].mean(axis=1), by_day[:, :7].mean(axis=1)
    dawn_c = DAWN_MEAN_C + DAWN_SWING_C * season + year_c
    dawn_c += (DAWN_SD_C + DAWN_SD_SWING_C * season) * z[:, 0]
    dawn_c += CLOUDY_NIGHT_WARMING_C * (night_cloud - 0.5)
    dew_c = DEW_MEAN_C + DEW_SWING_C * season + year_c
    dew_c += (DEW_SD_C + DEW_SD_SWING_C * season) * z[:, 1]
    range_c = CLEAR_RANGE_C * (1 - RANGE_LOST_TO_CLOUD_FRACTION * day_cloud)
    range_c *= np.exp(RANGE_LOG_SD * rng.standard_normal(days))
    shape, last_dawn = diurnal_shape(dawn_h, hours)
    temperature_c = np.interp(hour, dawn_h, dawn_c) + range_c[last_dawn] * shape
    dew_point_c = np.interp(hour, dawn_h, dew_c)

    temperature_c, humidity_pct = damp_air(temperature_c, dew_point_c, rain_mm)

    # Lognormal gusts around a mean that is lower in summer and higher by day.
    wind_m_s = WIND_MEAN_M_S + WIND_SWING_M_S * season[last_dawn]
    wind_m_s *= WIND_DAWN_FRACTION + (WIND_PEAK_FRACTION - WIND_DAWN_FRACTION) * shape
    wind_m_s *= np.exp(WIND_LOG_SD * hourly_noise(rng, hours, WIND_LAG_1H) - WIND_LOG_SD**2 / 2)

    columns = (temperature_c, humidity_pct, rain_mm, wind_m_s, cloud)
    decimals = (1, 0, 1, 1, 2)
    rounded = [np.round(c, n) + 0.0 for c, n in zip(columns, decimals, strict=True)]  # no "-0.0"
    first = 24 * SPIN_UP_DAYS + UTC_OFFSET_H
    table = np.column_stack(rounded)[first : first + stamps_n]
    for stamp, length_h in BLEMISHES:
        row = int((datetime.fromisoformat(stamp) - FIRST_UTC) / timedelta(hours=1))
        table[row : row + length_h, :2] = np.nan
    return [FIRST_UTC + timedelta(hours=n) for n in range(stamps_n)], table


def write_csv(path: Path, stamps: list[datetime], table: Floats) -> None:
    """Write ``N`` stamps and the ``(N, 5)`` table, NaN as an empty cell."""
    lines = [HEADER]
    for stamp, (t_c, rh_pct, rain_mm, wind_m_s, cloud) in zip(stamps, table.tolist(), strict=True):
        air = "," if np.isnan(t_c) else f"{t_c:.1f},{rh_pct:.0f}"
        lines.append(f"{stamp:%Y-%m-%dT%H:%MZ},{air},{rain_mm:.1f},{wind_m_s:.1f},{cloud:.2f}")
    # No file name and no time in the gzip header: the same weather gives the same bytes.
    with path.open("wb") as raw, gzip.GzipFile("", "wb", 9, raw, mtime=0) as packed:
        packed.write(("\n".join(lines) + "\n").encode("ascii"))


def longest_damp_run_h(gap_c: Floats) -> Floats:
    """Longest run of damp hours in each day of ``(D, 24)`` gaps T - Td (C), as ``(D,)`` hours.

    Damp begins at 2.0 C or less and ends at 3.8 C or more: Lulu, Sentelhas & Pedro 2008 (read second-hand).
    """
    run_h, longest_h = np.zeros(len(gap_c)), np.zeros(len(gap_c))
    for hour in range(24):
        now_c = gap_c[:, hour]
        run_h = np.where((now_c <= 2.0) | ((run_h > 0) & (now_c < 3.8)), run_h + 1, 0)
        longest_h = np.maximum(longest_h, run_h)
    return longest_h


def figures(table: Floats) -> dict[str, float]:
    """Figures of the ``(N, 5)`` table that the README sets targets for; summer is June to August.

    An hour belongs to the local standard day it lies in; empty cells are bridged by straight lines.
    """
    n = np.arange(len(table))
    t_c, rh_pct = (np.interp(n, n[np.isfinite(x)], x[np.isfinite(x)]) for x in table[:, :2].T)
    rain_mm, wind_m_s = table[:, 2], table[:, 3]
    start = np.datetime64(FIRST_UTC.replace(tzinfo=None), "h") + (n + UTC_OFFSET_H - 1)
    month = start.astype("datetime64[M]").astype(np.int64) % 12 + 1
    summer = (month >= 6) & (month <= 8)

    def days_ending(lst_h: int, x: NDArray[Any]) -> NDArray[Any]:
        first = lst_h - UTC_OFFSET_H + 1
        return x[first : first + (len(x) - first) // 24 * 24].reshape(-1, 24)

    # The 24 h to noon hold one whole night.  Two yearly waves are taken off its minimum.
    month_noon = days_ending(12, month)[:, -1]
    night_c = days_ending(12, t_c).min(axis=1)
    angle = 2 * np.pi * np.arange(night_c.size) / 365.25
    waves = np.column_stack([np.ones_like(angle), *(f(k * angle) for f in (np.cos, np.sin) for k in (1, 2))])
    anomaly_c = night_c - waves @ np.linalg.lstsq(waves, night_c)[0]
    lag = {f"night_minimum_lag_{k}d": np.corrcoef(anomaly_c[:-k], anomaly_c[k:])[0, 1] for k in (1, 2, 3, 5)}

    # Index E: Fidanza, Dernoeden & Grybauskas 1996.
    low_c, mean_pct = days_ending(6, t_c).min(axis=1), days_ending(6, rh_pct).mean(axis=1)
    index_e = -21.5 + 0.15 * mean_pct + 1.4 * low_c - 0.033 * low_c**2
    month_dawn = days_ending(6, month)[:, -1]
    # Dew point from humidity: the Tetens form turned round.
    x = np.log(rh_pct / 100) + 17.27 * t_c / (t_c + 237.3)
    damp_h = longest_damp_run_h(days_ending(12, t_c - 237.3 * x / (17.27 - x)))
    # 15.5 C and 10 h: the warm, wet night of extension handbooks.
    warm_wet = (night_c > 15.5) & (damp_h >= 10)
    found = {
        "summer_mean_temperature_c": t_c[summer].mean(),
        "january_mean_temperature_c": t_c[month == 1].mean(),
        "summer_night_minimum_c": night_c[(month_noon >= 6) & (month_noon <= 8)].mean(),
        "summer_rh_90_hours_pct": 100 * (rh_pct[summer] >= 90).mean(),
        "year_mean_wind_m_s": wind_m_s.mean(),
        "summer_mean_wind_m_s": wind_m_s[summer].mean(),
        "rain_hours_pct": 100 * (rain_mm > 0).mean(),
        "rain_mm_per_year": rain_mm.sum() / 10,  # ten years
        **lag,
        "may_to_september_e_6_days_pct": 100 * (index_e[(month_dawn >= 5) & (month_dawn <= 9)] >= 6).mean(),
        "may_to_september_warm_wet_days_pct": 100 * warm_wet[(month_noon >= 5) & (month_noon <= 9)].mean(),
    }
    return {name: float(value) for name, value in found.items()}


def main() -> None:
    """Write the file named on the command line and print its figures."""
    if len(sys.argv) != 2:
        sys.exit("usage: python make_weather.py OUT.csv.gz")
    stamps, table = make_weather()
    write_csv(Path(sys.argv[1]), stamps, table)
    for name, value in figures(table).items():
        print(f"{name:36s} {value:8.2f}")


if __name__ == "__main__":
    main()
