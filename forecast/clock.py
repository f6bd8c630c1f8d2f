"""Local clock time, UTC stamps and day numbers, one into the other."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

EPOCH = date(1970, 1, 1)


def day_number(day: date) -> int:
    """Days since 1970-01-01."""
    return (day - EPOCH).days


def date_of(day: int) -> date:
    """The date of a day number."""
    return EPOCH + timedelta(days=day)


def utc_minute(moment: datetime) -> np.datetime64:
    """An aware moment as a UTC stamp to the minute."""
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "m")


def local(stamp: np.datetime64, zone: ZoneInfo) -> datetime:
    """A UTC stamp as clock time of a zone."""
    naive: datetime = stamp.astype("datetime64[s]").item()
    return naive.replace(tzinfo=UTC).astimezone(zone)


def day_words(day: date) -> str:
    """A date with its weekday, its parts kept together on a line."""
    return f"{day:%a}\u00a0{day.day}\u00a0{day:%b}"
