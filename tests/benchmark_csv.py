"""What reading a year of hours from a canonical CSV file takes: run by hand, not by the tests."""

import sys
import tempfile
import timeit
from pathlib import Path

import numpy as np

from forecast.ingest.logger.csv_file import read_csv_hours

ROWS = 8760  # a year of hours
WANTED_PER_S = 20
REPEATS = 20


def station_year(path: Path) -> None:
    """A year of invented hours: temperature, humidity, rain."""
    chance = np.random.default_rng(20490101)
    hours = np.datetime64("2049-01-01T00", "h") + np.arange(ROWS).astype("timedelta64[h]")
    figures = zip(
        hours,
        chance.normal(15, 8, ROWS),
        chance.uniform(30, 100, ROWS),
        chance.exponential(0.2, ROWS),
        strict=True,
    )
    rows = [f"{hour}:00Z,{c:.1f},{pct:.0f},{mm:.1f}\n" for hour, c, pct, mm in figures]
    path.write_text("hour_utc,air_temperature_c,relative_humidity_pct,rain_mm\n" + "".join(rows))


def main() -> int:
    """Prints rows and station-years a second; 1 where they fall short."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "year.csv"
        station_year(path)
        read = read_csv_hours(path)  # imports done, file in the system's memory
        took_s = sorted(timeit.repeat(lambda: read_csv_hours(path), number=1, repeat=REPEATS))
    best, middle = 1 / took_s[0], 1 / took_s[REPEATS // 2]
    rate = f"{best:.0f} station-years/s at best, {middle:.0f} in the middle of {REPEATS} runs; {WANTED_PER_S} wanted"
    print(f"{len(read.hours)} rows × {len(read.values)} quantities: {rate}")
    return 0 if best >= WANTED_PER_S else 1


if __name__ == "__main__":
    sys.exit(main())
