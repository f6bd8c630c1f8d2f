"""Services that foretell the weather: which shape they send, where they are asked, who they are."""

from __future__ import annotations

from dataclasses import dataclass

from forecast.ingest import grid_intervals, hour_columns
from forecast.ingest.imported import Provider

USUAL_ADDRESS = {
    "hour_columns": "https://api.open-meteo.com/v1/forecast",
    "grid_intervals": "https://api.weather.gov",
}
USUAL_PROVIDER = {"hour_columns": hour_columns.DEFAULT, "grid_intervals": grid_intervals.DEFAULT}


@dataclass(frozen=True, slots=True)
class Service:
    """Whom to ask, and how.

    Attributes:
        shape: ``hour_columns`` or ``grid_intervals``.
        address: start of its address.
        days: how many days are asked for, where the shape lets one ask.
        provider: who issues it.
        key: secret that the service asks for; empty for none.
    """

    shape: str
    address: str
    days: int
    provider: Provider
    key: str = ""
