"""What a workspace holds of weather, as rows for a list."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from forecast.config import Settings
from forecast.database import Database
from forecast.ingest.keep.archive import issues
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
        "weather_forecasts": [
            {
                "number": issue.number,
                "station": issue.station_id,
                "issued_utc": f"{issue.issued_utc}Z",
                "issue_stated": issue.issued_stated,
                "fetched_utc": f"{issue.fetched_utc}Z",
                "reaches_to_utc": f"{issue.forecast.hours[-1]}:00Z",
                "provider": issue.forecast.provider.name,
                "licence": issue.forecast.provider.licence,
            }
            for issue in issues(database, ids)
        ],
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
