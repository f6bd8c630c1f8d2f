"""Whom a workspace asks over the network, and as whom."""

from __future__ import annotations

import os

from forecast.config import Settings
from forecast.ingest.forecast_service import USUAL_ADDRESS, USUAL_PROVIDER, Service
from forecast.ingest.imported import Grade, Provider
from forecast.ingest.web.network import Limits, Network

KEY_VARIABLE = "FORECAST_WEATHER_KEY"  # secrets come from the environment only
ALLOW_VARIABLE = "FORECAST_ALLOW_HOSTS"


def network(settings: Settings, *, offline: bool = False) -> Network:
    """Who may be asked over the network, and as whom."""
    form = settings.grounds.network
    listed = (*form.allow_hosts, *os.environ.get(ALLOW_VARIABLE, "").split())
    limits = Limits(whole_s=form.patience_s)
    return Network(contact=form.contact, allow_hosts=tuple(listed), offline=offline, limits=limits)


def service(settings: Settings) -> Service | None:
    """The workspace's source of weather forecasts; None where none is set."""
    form = settings.grounds.weather_forecast
    if form is None:
        return None
    usual = USUAL_PROVIDER[form.shape]
    own = form.name or form.attribution or form.licence or form.link
    key = f"{form.shape}.{form.name or 'own'}".lower().replace(" ", "_")
    provider = Provider(key, form.name or key, Grade.MODEL, form.attribution, form.licence, form.link) if own else usual
    return Service(
        form.shape,
        form.address or USUAL_ADDRESS[form.shape],
        form.days,
        provider,
        os.environ.get(KEY_VARIABLE, ""),
    )
