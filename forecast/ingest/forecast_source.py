"""A weather forecast for one place over the network, in whichever of the open shapes the source writes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from forecast.errors import DataError, MissingInputError, Notice
from forecast.ingest import grid_intervals, hour_columns
from forecast.ingest.forecast_service import Service
from forecast.ingest.imported import IssuedForecast
from forecast.ingest.web.download import Downloaded, Network, download
from forecast.ingest.web.network import age_words

Read = TypeVar("Read")
JSON_TYPES = ("application/json", "application/geo+json", "application/ld+json")


def fetch_forecast(
    service: Service, latitude_deg: float, longitude_deg: float, copies: Path, network: Network, now: datetime
) -> tuple[IssuedForecast, datetime]:
    """The newest forecast for a place, and the moment at which it was fetched.

    Raises:
        SourceDownError: it cannot be fetched, and there is no good copy of an earlier one.
        MissingInputError: the source has none for this place.
        DataError: what it sends is in another shape.
    """
    place = f"{latitude_deg:.4f}_{longitude_deg:.4f}"
    if service.shape == "grid_intervals":
        # Which grid point a place has is asked for first; its forecast must lie with the same host.
        address = _reply(
            grid_intervals.points_address(service.address, latitude_deg, longitude_deg),
            copies / f"{place}.points.json",
            network,
            now,
            grid_intervals.grid_address,
            "the grid point of the weather forecast",
        ).read
        if not address.startswith(f"{service.address}/"):
            raise DataError(
                f"the weather forecast is said to lie at {address.partition('?')[0]}, not at {service.address}",
                hint="another host is not asked; set weather_forecast.address to the one you mean",
            )
        read = grid_intervals.read
    else:
        address = hour_columns.address(
            service.address, latitude_deg, longitude_deg, service.days, key=service.key or None
        )
        read = hour_columns.read
    source = address.partition("?")[0]

    def parsed(body: bytes) -> IssuedForecast:
        return read(body, source=source, provider=service.provider)

    reply = _reply(address, copies / f"{place}.json", network, now, parsed, "the weather forecast")
    issued = reply.read
    if not reply.is_fresh:
        text = f"{reply.trouble}; the last one, fetched {age_words(reply.fetched_utc, now)} ago, stands"
        issued = replace(issued, notices=(*issued.notices, Notice(text, grave=True)))
    return issued, reply.fetched_utc


def _reply(
    address: str, copy: Path, network: Network, now: datetime, read: Callable[[bytes], Read], name: str
) -> Downloaded[Read]:
    found = download(address, copy, network, now, accept=read, accept_types=JSON_TYPES, name=name)
    if found is None:
        raise MissingInputError(
            f"{name} is not there for {copy.name.split('.json')[0].removesuffix('.points').replace('_', ', ')}",
            hint="check latitude and longitude, and whether the service covers the place",
        )
    return found
