"""A station's typical year in the database, apart from what was observed: it stands for climate, never for days."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import sqlalchemy as sa

from forecast.database import Database
from forecast.ingest.keep.block import Block, pack, unpack
from forecast.ingest.keep.store import UTC_FORM, provider_number, providers
from forecast.ingest.typical_year import TypicalYear
from forecast.quantities import QUANTITIES, Flag
from forecast.tables import TYPICAL


def write_typical_year(database: Database, station_id: str, typical: TypicalYear, now: datetime) -> None:
    """Give a station a typical year; an earlier one holds for the mornings before."""
    with database.writing() as connection:
        number = provider_number(connection, typical.provider)
        moment = now.astimezone(UTC).strftime(UTC_FORM)
        connection.execute(sa.delete(TYPICAL).where(TYPICAL.c.station_id == station_id, TYPICAL.c.loaded_utc == moment))
        for name, values in typical.values.items():
            hours = len(values)
            flags = np.where(np.isnan(values), Flag.MISSING, Flag.NOT_EVALUATED).astype(np.uint8)
            block = Block(values, flags, np.full(hours, number, np.uint16), np.zeros(hours, np.int32))
            connection.execute(
                sa.insert(TYPICAL).values(
                    station_id=station_id,
                    quantity=name,
                    loaded_utc=moment,
                    provider_id=number,
                    source=typical.source,
                    latitude_deg=typical.latitude_deg,
                    longitude_deg=typical.longitude_deg,
                    elevation_m=typical.elevation_m,
                    utc_offset_hours=typical.utc_offset_hours,
                    block=pack(block),
                )
            )


def read_typical_year(database: Database, station_id: str, known_by: str | None = None) -> TypicalYear | None:
    """A station's typical year.

    Args:
        database: where from.
        station_id: whose.
        known_by: the newest that was loaded by this moment (UTC, ISO 8601 with Z); None for the newest.
    """
    query = sa.select(TYPICAL).where(TYPICAL.c.station_id == station_id, TYPICAL.c.quantity.in_(QUANTITIES))
    if known_by is not None:
        query = query.where(TYPICAL.c.loaded_utc <= known_by)
    with database.reading() as connection:
        rows = connection.execute(query.order_by(TYPICAL.c.loaded_utc.desc())).all()
        known = providers(connection)
    if not rows:
        return None
    first = rows[0]
    rows = [row for row in rows if row.loaded_utc == first.loaded_utc]
    return TypicalYear(
        {row.quantity: unpack(row.block).values for row in rows},
        first.latitude_deg,
        first.longitude_deg,
        first.elevation_m,
        first.utc_offset_hours,
        known[first.provider_id],
        first.source,
        (),
    )
