"""Weather forecasts kept as they were issued: each with its moment of issue and of arrival, never overwritten.

What a forecast was worth at each lead, and what a page knew on a past morning, is read from here. Nothing in it is
an observation.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray

from forecast.clock import utc_minute
from forecast.database import Database
from forecast.errors import DataError
from forecast.ingest.imported import IssuedForecast, Provider
from forecast.ingest.keep.block import DAMAGED_HINT
from forecast.ingest.keep.store import provider_number, providers
from forecast.quantities import QUANTITIES
from forecast.tables import ISSUED, PROVIDERS

_FORMAT = 1
_ORDER = (ISSUED.c.issued_utc.desc(), ISSUED.c.fetched_utc.desc(), ISSUED.c.record_id.desc())  # newest first


@dataclass(frozen=True, eq=False)
class Issue:
    """One issued forecast, with what the archive knows of it.

    Attributes:
        number: of the record.
        station_id: for which station's place.
        issued_utc: moment of issue, ``datetime64[s]``; the moment of the fetch where the source states none.
        issued_stated: whether the source states it.
        fetched_utc: moment at which it became known here, ``datetime64[s]``.
        forecast: what was issued.
    """

    number: int
    station_id: str
    issued_utc: np.datetime64
    issued_stated: bool
    fetched_utc: np.datetime64
    forecast: IssuedForecast

    def older_h(self, moment: np.datetime64) -> float:
        """Hours from its issue to a moment; below 0 where it was issued later."""
        return float((moment - self.issued_utc).astype("timedelta64[s]").astype(np.int64)) / 3600


def archive(database: Database, station_id: str, issued: IssuedForecast, now: datetime) -> int | None:
    """Keep a forecast, once however often it is fetched.

    Args:
        database: where to.
        station_id: for which station's place it was issued.
        issued: from a source.
        now: moment of the fetch.

    Returns:
        The number of its record; None where the same issue is kept already.
    """
    (number,) = archive_all(database, station_id, ((issued, now),))
    return number


def archive_all(
    database: Database, station_id: str, fetched: Iterable[tuple[IssuedForecast, datetime]]
) -> tuple[int | None, ...]:
    """Keep several forecasts, each with the moment of its fetch, in one transaction; else as :func:`archive`."""
    with database.writing() as connection:
        return tuple(_keep(connection, station_id, issued, now) for issued, now in fetched)


def _keep(connection: sa.Connection, station_id: str, issued: IssuedForecast, now: datetime) -> int | None:
    names = sorted(issued.values)
    stated = issued.issued_utc is not None
    moment = utc_minute(now) if issued.issued_utc is None else issued.issued_utc
    packed = _pack(issued, names)
    digest = hashlib.sha256(f"{moment if stated else ''} {issued.hours[0]} ".encode() + packed).hexdigest()
    provider = provider_number(connection, issued.provider)
    of_this = (ISSUED.c.station_id == station_id, ISSUED.c.provider_id == provider)
    same = sa.select(ISSUED.c.record_id).where(*of_this, ISSUED.c.digest == digest)
    newest = sa.select(ISSUED.c.digest).where(*of_this).order_by(*_ORDER).limit(1)
    if stated and connection.execute(same).first() is not None:
        return None
    if not stated and connection.execute(newest).scalar() == digest:
        return None  # it still says what it said when it was last looked at
    made = connection.execute(
        sa.insert(ISSUED).values(
            station_id=station_id,
            provider_id=provider,
            issued_utc=f"{moment.astype('datetime64[s]')}Z",
            issued_stated=stated,
            fetched_utc=f"{utc_minute(now).astype('datetime64[s]')}Z",
            source=issued.source,
            first_hour_utc=f"{issued.hours[0]}:00Z",
            hours=len(issued.hours),
            block=zlib.compress(packed, 6),
            digest=digest,
        )
    ).inserted_primary_key
    return int(made[0]) if made is not None else None


def issues(
    database: Database, station_ids: Sequence[str], known_by: np.datetime64 | None = None, *, last_only: bool = False
) -> tuple[Issue, ...]:
    """Archived forecasts, by the moment of issue.

    Args:
        database: where from.
        station_ids: for which stations' places.
        known_by: leave out what had not been fetched by this moment (UTC, minutes); None for all.
        last_only: only the newest issue of each provider for each station.
    """
    query = sa.select(ISSUED).where(ISSUED.c.station_id.in_(station_ids))
    if known_by is not None:
        query = query.where(ISSUED.c.fetched_utc <= f"{known_by.astype('datetime64[s]')}Z")
    with database.reading() as connection:
        known = providers(connection)
        if last_only:
            columns = (ISSUED.c.station_id, ISSUED.c.provider_id, ISSUED.c.record_id)
            numbers: dict[tuple[str, int], int] = {}
            for row in connection.execute(query.with_only_columns(*columns).order_by(*_ORDER)):
                numbers.setdefault((row.station_id, row.provider_id), row.record_id)
            query = query.where(ISSUED.c.record_id.in_(numbers.values()))
        rows = connection.execute(query.order_by(*_ORDER)).all()[::-1]
    return tuple(_issue(row, known) for row in rows)


@dataclass(frozen=True, slots=True)
class Archived:
    """What is kept of one provider's forecasts for one station.

    Attributes:
        station_id: for which station's place.
        provider: who issued them.
        issues: how many.
        days: on how many days (UTC) there is one at least.
        first_issued_utc: moment of the first issue, as records write it.
        last_issued_utc: of the last.
        last_fetched_utc: when the last became known here.
    """

    station_id: str
    provider: Provider
    issues: int
    days: int
    first_issued_utc: str
    last_issued_utc: str
    last_fetched_utc: str


def archived(database: Database, station_ids: Sequence[str]) -> tuple[Archived, ...]:
    """What is kept, counted without unpacking any of it."""
    date = sa.func.substr(ISSUED.c.issued_utc, 1, len("2050-07-18"))
    query = (
        sa.select(
            ISSUED.c.station_id,
            ISSUED.c.provider_id,
            sa.func.count(),
            sa.func.count(date.distinct()),
            sa.func.min(ISSUED.c.issued_utc),
            sa.func.max(ISSUED.c.issued_utc),
            sa.func.max(ISSUED.c.fetched_utc),
        )
        .where(ISSUED.c.station_id.in_(station_ids))
        .group_by(ISSUED.c.station_id, ISSUED.c.provider_id)
        .order_by(ISSUED.c.station_id, ISSUED.c.provider_id)
    )
    with database.reading() as connection:
        known = providers(connection)
        rows = connection.execute(query).all()
    return tuple(Archived(row[0], known[row[1]], *row[2:]) for row in rows)


def daily_issues(
    database: Database, station_id: str, provider_key: str, known_by: np.datetime64 | None = None, *, days: int
) -> tuple[Issue, ...]:
    """The last issue of each day (UTC, by the moment of issue) of one provider for one station, by that moment.

    The archive of an hourly fetch holds twenty-four times as many: those left out are not unpacked.

    Args:
        database: where from.
        station_id: for which station's place.
        provider_key: who issued them.
        known_by: leave out what had not been fetched by this moment (UTC, minutes); None for all.
        days: how many of the newest days that have an issue.
    """
    of_these = [
        ISSUED.c.station_id == station_id,
        ISSUED.c.provider_id.in_(sa.select(PROVIDERS.c.provider_id).where(PROVIDERS.c.key == provider_key)),
    ]
    if known_by is not None:
        of_these.append(ISSUED.c.fetched_utc <= f"{known_by.astype('datetime64[s]')}Z")
    date = sa.func.substr(ISSUED.c.issued_utc, 1, len("2050-07-18"))
    from_last = sa.func.row_number().over(partition_by=date, order_by=_ORDER).label("from_last")
    ranked = sa.select(ISSUED.c.record_id, ISSUED.c.issued_utc, from_last).where(*of_these).subquery()
    last = sa.select(ranked.c.record_id).where(ranked.c.from_last == 1).order_by(ranked.c.issued_utc.desc()).limit(days)
    with database.reading() as connection:
        known = providers(connection)
        rows = connection.execute(sa.select(ISSUED).where(ISSUED.c.record_id.in_(last)).order_by(*_ORDER)).all()[::-1]
    return tuple(_issue(row, known) for row in rows)


def _issue(row: sa.Row[Any], known: Mapping[int, Provider]) -> Issue:
    values, step_hours = _unpack(row.block, row.hours)
    first = np.datetime64(row.first_hour_utc.removesuffix("Z"), "h")
    hours = first + np.arange(row.hours).astype("timedelta64[h]")
    issued = np.datetime64(row.issued_utc.removesuffix("Z"), "s")
    return Issue(
        row.record_id,
        row.station_id,
        issued,
        row.issued_stated,
        np.datetime64(row.fetched_utc.removesuffix("Z"), "s"),
        IssuedForecast(
            hours,
            values,
            step_hours,
            known[row.provider_id],
            issued.astype("datetime64[m]") if row.issued_stated else None,
            row.source,
            (),
        ),
    )


def _pack(issued: IssuedForecast, names: list[str]) -> bytes:
    """Names, then figures to the last bit, then the interval that each was spread from."""
    head = json.dumps(names).encode()
    values = np.array([issued.values[name] for name in names], "<f8")
    steps = np.array([issued.step_hours[name] for name in names], np.uint8)
    return bytes([_FORMAT]) + len(head).to_bytes(4, "little") + head + values.tobytes() + steps.tobytes()


def _unpack(block: bytes, hours: int) -> tuple[dict[str, NDArray[np.float64]], dict[str, NDArray[np.uint8]]]:
    try:
        raw = zlib.decompress(block)
        head = int.from_bytes(raw[1:5], "little")
        names = json.loads(raw[5 : 5 + head])
        shape = len(names), hours
        values = np.frombuffer(raw, "<f8", shape[0] * hours, 5 + head).reshape(shape)
        steps = np.frombuffer(raw, np.uint8, offset=5 + head + values.nbytes).reshape(shape)
    except (zlib.error, ValueError, TypeError) as error:
        raise DataError("an archived forecast is damaged", hint=DAMAGED_HINT) from error
    known = [row for row, name in enumerate(names) if name in QUANTITIES]
    return (
        {names[row]: values[row].astype(np.float64) for row in known},
        {names[row]: steps[row].copy() for row in known},
    )
