"""Taking a station's readings out by hand, with a look at what that does."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from forecast.config import Settings
from forecast.database import Database
from forecast.errors import DataError
from forecast.ingest.keep import withdrawals
from forecast.ingest.keep.store import read_hours
from forecast.quantities import QUANTITIES, READABLE, WORKED_OUT

HUMIDITY = {"relative_humidity_pct": "dew_point_c", "dew_point_c": "relative_humidity_pct"}


@dataclass(frozen=True, slots=True)
class Taken:
    """What a withdrawal did.

    Attributes:
        number: of its record.
        values: how many stored values it takes out.
        other_humidity: the station's other measure of humidity, where it still has readings in these hours; humidity
            goes on being told from it.
    """

    number: int
    values: int
    other_humidity: str | None


def withdraw(
    settings: Settings,
    database: Database,
    station_id: str,
    quantity: str,
    first: np.datetime64,
    last: np.datetime64 | None,
    *,
    reason: str,
    by_whom: str,
    now: datetime,
) -> Taken:
    """Write down that a station's quantity is not to be used between two stamps, both included.

    Raises:
        SettingsError: there is no such station.
        DataError: no such quantity, hours in the wrong order, no reason, or nothing is stored that it would take out.
    """
    station = settings.station(station_id)
    if quantity not in READABLE:
        what = f"{quantity}: {WORKED_OUT}" if quantity in QUANTITIES else f"there is no quantity {quantity!r}"
        raise DataError(what, hint=f"known are {', '.join(READABLE)}")
    values = _stored(database, station.id, quantity, first, last)
    if not values and (last is not None or not _stored(database, station.id, quantity, None, None)):
        raise DataError(
            f"station {station.id!r} has no {quantity} in these hours, so there is nothing to take out",
            hint="'forecast weather list' tells what is stored",
        )
    number = withdrawals.withdraw(database, station.id, quantity, first, last, reason=reason, by_whom=by_whom, now=now)
    other = HUMIDITY.get(quantity)
    still = other if other is not None and _stored(database, station.id, other, first, last) else None
    return Taken(number, values, still)


def _stored(
    database: Database, station_id: str, quantity: str, first: np.datetime64 | None, last: np.datetime64 | None
) -> int:
    """How many values of a quantity are stored between two stamps."""
    panel = read_hours(database, [station_id])
    if panel is None or quantity not in panel.values:
        return 0
    keep = ~np.isnan(panel.values[quantity][:, 0])
    if first is not None:
        keep &= panel.hours >= first
    if last is not None:
        keep &= panel.hours <= last
    return int(keep.sum())
