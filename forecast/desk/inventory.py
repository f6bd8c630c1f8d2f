"""What a workspace holds of weather, as rows for a list."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from forecast.config import Settings
from forecast.database import Database
from forecast.ingest.keep.archive import archived, issues
from forecast.ingest.keep.store import imports, read_hours, stations_with_hours, stations_with_typical_year
from forecast.ingest.keep.withdrawals import withdrawals

if TYPE_CHECKING:
    from forecast.ingest.typical_year import TypicalYear

Rows = list[dict[str, object]]


def inventory(settings: Settings, database: Database) -> dict[str, Rows]:
    """Hours, forecasts, imports and withdrawals of every station, each as rows of like keys."""
    typical = stations_with_typical_year(database)
    configured = [station.id for station in settings.grounds.station]
    ids = [*configured, *(one for one in stations_with_hours(database) if one not in configured)]
    return {
        "hours": [row for station_id in ids for row in _hours(database, station_id)],
        "weather_forecasts": _forecasts(database, ids),
        "typical_years": [
            {"station": station_id, "source": year.source, "provider": year.provider.name}
            for station_id in ids
            if station_id in typical and (year := _typical_year(database, station_id)) is not None
        ],
        "imports": [
            {
                "station": one.station_id,
                "imported_utc": one.imported_utc,
                "source": one.source,
                "first_hour_utc": one.first_hour_utc,
                "last_hour_utc": one.last_hour_utc,
            }
            for one in imports(database, ids)
        ],
        "withdrawals": [
            {
                "number": one.number,
                "station": one.station_id,
                "quantity": one.quantity,
                "first_hour_utc": f"{one.first_hour}:00Z",
                "last_hour_utc": None if one.last_hour is None else f"{one.last_hour}:00Z",
                "reason": one.reason,
                "by_whom": one.by_whom,
                "given_back_utc": one.given_back_utc,
                "given_back_reason": one.given_back_reason,
            }
            for one in withdrawals(database, ids)
        ],
    }


def _forecasts(database: Database, ids: Sequence[str]) -> Rows:
    """A row for each provider and station; an archive fetched hourly would fill thousands."""
    newest = {(one.station_id, one.forecast.provider): one for one in issues(database, ids, last_only=True)}
    rows: Rows = []
    for one in archived(database, ids):
        last = newest[one.station_id, one.provider]
        rows.append(
            {
                "station": one.station_id,
                "provider": one.provider.name,
                "issues": one.issues,
                "days": one.days,
                "first_issued_utc": one.first_issued_utc,
                "last_issued_utc": one.last_issued_utc,
                "issue_stated": last.issued_stated,
                "last_fetched_utc": one.last_fetched_utc,
                "reaches_to_utc": f"{last.forecast.hours[-1]}:00Z",
                "licence": one.provider.licence,
            }
        )
    return rows


def _typical_year(database: Database, station_id: str) -> TypicalYear | None:
    from forecast.ingest.keep.typical_store import read_typical_year  # noqa: PLC0415 - needs pandas

    return read_typical_year(database, station_id)


def stored_elsewhere(settings: Settings, database: Database) -> tuple[str, ...]:
    """Ids that hours are stored for and that grounds.toml does not know, as after a station was renamed."""
    configured = {station.id for station in settings.grounds.station}
    return tuple(one for one in stations_with_hours(database) if one not in configured)


def _hours(database: Database, station_id: str) -> Rows:
    panel = read_hours(database, [station_id])
    rows: Rows = []
    for name, array in panel.values.items() if panel is not None else ():
        known = np.flatnonzero(~np.isnan(array[:, 0]))
        if panel is not None and known.size:
            rows.append(
                {
                    "station": station_id,
                    "quantity": name,
                    "first_hour_utc": f"{panel.hours[known[0]]}:00Z",
                    "last_hour_utc": f"{panel.hours[known[-1]]}:00Z",
                    "hours_known": int(known.size),
                }
            )
    return rows
