"""Loggers' files and their mappings, as the tests of the reader write them; every name and reading is invented."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from forecast.errors import DataError
from forecast.ingest.imported import ImportedHours
from forecast.ingest.logger.csv_file import read_csv_hours
from forecast.ingest.logger.mapping import Mapping

HEADER = "hour_utc,air_temperature_c,relative_humidity_pct\n"
US_COLUMNS = {
    "air_temperature_c": {"column": "Temp (°F)", "unit": "F"},
    "relative_humidity_pct": {"column": "RH", "unit": "%"},
    "rain_mm": {"column": "Rain (in)", "unit": "in"},
    "wind_speed_10m_m_s": {"column": "Wind (mph)", "unit": "mph"},
}
US_HEADER = "Time,Temp (°F),RH,Rain (in),Wind (mph)\n"


def mapping(**changes: object) -> Mapping:
    """A mapping of a file in US units on Eastern clock time, with some keys changed; None takes a key out."""
    keys = {"schema": 1, "time_column": "Time", "time_zone": "America/New_York", "columns": US_COLUMNS} | changes
    return Mapping.model_validate({key: value for key, value in keys.items() if value is not None})


def plain(**changes: object) -> Mapping:
    """A mapping of a file with columns T (°C) and H (%) on Eastern clock time, with some keys changed."""
    columns = {
        "air_temperature_c": {"column": "T", "unit": "C"},
        "relative_humidity_pct": {"column": "H", "unit": "%"},
    }
    return mapping(**{"columns": columns, **changes})


def read(path: Path, text: str, how: Mapping | None = None) -> ImportedHours:
    path.write_text(text, encoding="utf-8", newline="")
    return read_csv_hours(path, how)


def stamps(hours: ImportedHours) -> list[str]:
    return [f"{stamp}:00Z" for stamp in hours.hours]


def refusal(path: Path, text: str, how: Mapping | None = None) -> DataError:
    with pytest.raises(DataError) as caught:
        read(path, text, how)
    return caught.value


def rows_of(first: str, step_minutes: int, count: int) -> list[datetime]:
    """Moments from the first on."""
    start = datetime.fromisoformat(first)
    return [start + timedelta(minutes=step_minutes * row) for row in range(count)]
