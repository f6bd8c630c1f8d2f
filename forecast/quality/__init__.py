"""Checks of observed hours: what cannot be is left out of what the models see, what is doubtful is flagged and kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from forecast.panel import Bytes, Floats, Panel
from forecast.quality.bounds import BOUNDS, SEASON, STRONG
from forecast.quality.changes import JUMP, SPIKE, STEP
from forecast.quality.consistency import (
    ALWAYS_SATURATED,
    DEW_ABOVE_AIR,
    GUST_BELOW_MEAN,
    HUMIDITIES_DIFFER,
    RAIN_IN_DRY_AIR,
)
from forecast.quality.form import Check, Found, Limit, Place, Seen, Somewhere
from forecast.quality.neighbours import NEIGHBOURS
from forecast.quality.persistence import CALM, COPIED, STEADY, STUCK
from forecast.quality.sprinkler import SPRINKLER
from forecast.quality.stations import STATION_CHECKS, StationFinding, station_findings
from forecast.quality.verdict import Checked, Verdict, notices
from forecast.quality.withdrawal import Withdrawal, withdraw
from forecast.quantities import QUANTITIES, Flag

__all__ = [
    "CHECKS",
    "STATION_CHECKS",
    "Check",
    "Checked",
    "Found",
    "Limit",
    "Place",
    "Seen",
    "Somewhere",
    "StationFinding",
    "Verdict",
    "Withdrawal",
    "check",
    "notices",
    "station_findings",
    "withdraw",
]

# In this order: what one check fails is unknown to the next, so that a slip is not told of twice.
CHECKS = MappingProxyType(
    {
        one.key: one
        for one in (
            BOUNDS,
            SEASON,
            SPIKE,
            STUCK,
            COPIED,
            DEW_ABOVE_AIR,
            STRONG,
            JUMP,
            STEP,
            CALM,
            STEADY,
            HUMIDITIES_DIFFER,
            GUST_BELOW_MEAN,
            ALWAYS_SATURATED,
            RAIN_IN_DRY_AIR,
            SPRINKLER,
            NEIGHBOURS,
        )
    }
)

_NOWHERE: Mapping[str, Somewhere] = MappingProxyType({})


def check(
    panel: Panel,
    places: Mapping[str, Somewhere] = _NOWHERE,
    *,
    standard_offset_minutes: int = 0,
    checks: Sequence[Check] = tuple(CHECKS.values()),
) -> Checked:
    """Flag every reading of a panel by every check; the worst flag wins, the one a reading came with included.

    A failed reading becomes unknown, a suspect one stays, an overshoot of humidity is taken at its limit. The raw
    value stays in the store; what is replaced here is only what the models see.

    Args:
        panel: observed hours. A quantity with members goes through its bounds only: the rest is for observations.
        places: of the series that have one; without it, season, neighbours and nearby stations are not looked at.
        standard_offset_minutes: standard time minus UTC, for hours of the clock.
        checks: which, in order.
    """
    values: dict[str, Floats] = {}
    flags: dict[str, Bytes] = {}
    for name, raw in panel.values.items():
        came_with = np.where(panel.flags[name] == Flag.NOT_EVALUATED, Flag.GOOD, panel.flags[name])
        # A reading that was taken out before it came here is unknown and stays flagged as failed.
        flags[name] = np.where(np.isnan(raw) & (came_with != Flag.FAIL), Flag.MISSING, came_with).astype(np.uint8)
        values[name] = np.where(flags[name] >= Flag.FAIL, np.nan, raw)
    # A window on the values: what a check fails is unknown to the next.
    seen = Seen(panel.hours, panel.series, MappingProxyType(values), places, standard_offset_minutes)
    verdicts: list[Verdict] = []
    for one in checks:
        looked_at = seen if one.members else replace(seen, values=_without_members(seen.values))
        # What fails first, so that it is not called suspect by the same check besides.
        for found in sorted(one.find(looked_at, _limit_values(one)), key=lambda found: -found.flag):
            name, marks = found.quantity, found.marks & ~np.isnan(values[found.quantity])
            if marks.any():
                verdicts += _verdicts(panel, one, replace(found, marks=marks))
                flags[name] = np.maximum(flags[name], np.where(marks, found.flag, 0)).astype(np.uint8)
                if found.flag == Flag.FAIL:
                    values[name] = np.where(marks, np.nan, values[name])
    for name, given in values.items():
        clip_to = QUANTITIES[name].clip_to
        if clip_to is not None:
            values[name] = np.minimum(given, clip_to)
    return Checked(Panel(panel.hours, panel.series, values, flags, panel.origin), tuple(verdicts))


def _limit_values(one: Check) -> Mapping[str, float]:
    return {key: limit.value for key, limit in one.limits.items()}


def _without_members(values: Mapping[str, Floats]) -> Mapping[str, Floats]:
    return {name: array for name, array in values.items() if array.ndim == 2}


def _verdicts(panel: Panel, one: Check, found: Found) -> list[Verdict]:
    """One verdict for each series that has a marked reading; of several members the first marked one is shown."""
    marks = found.marks.reshape(*found.marks.shape[:2], -1)
    by_hour = np.any(marks, axis=2)
    raw = panel.values[found.quantity]
    verdicts = []
    for column in np.flatnonzero(by_hour.any(axis=0)):
        rows = np.flatnonzero(by_hour[:, column])
        readings = raw[rows, column].reshape(len(rows), -1)
        readings = readings[np.arange(len(rows)), marks[rows, column].argmax(axis=1)]
        series = panel.series[column]
        limit = str(one.limits[found.limit])
        more = (found.more or {}).get(series)
        verdicts.append(
            Verdict(
                one.key,
                series,
                found.quantity,
                found.flag,
                panel.hours[rows],
                readings,
                f"{limit}: {more}" if more else limit,
                one.on_page,
            )
        )
    return verdicts
