"""What the weather forecasts of a place have been worth, learned from the archive as it stood at a moment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from forecast.air import complete_humidity
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.hours import KnownHours
from forecast.desk.places import nearest_station
from forecast.ingest.keep.archive import Issue, daily_issues
from forecast.outlook.expected import expected
from forecast.outlook.lead_skill import ASSUMED, LEAD_DAYS, LeadSkill
from forecast.outlook.learned_skill import Told, learned
from forecast.outlook.library import BLENDED, CARRIED, Library
from forecast.panel import Floats, Panel

ISSUED_DAYS = 730  # house choice: two years hold every season twice; older issues speak of an older model
_HOURS_AHEAD = 24 * LEAD_DAYS


def skill_of(
    settings: Settings,
    database: Database,
    hours: KnownHours,
    place_id: str,
    stock: Library,
    provider_key: str,
    known_by: np.datetime64,
) -> LeadSkill:
    """The skill of one provider's forecasts at a place, from nothing that was not known by a moment.

    Args:
        settings: the workspace's.
        database: the workspace's.
        hours: as they were known by the moment; a typical year before them is nothing that came.
        place_id: whose; forecasts are kept for the station nearest to it.
        stock: the place's past hours as of the moment, one series.
        provider_key: of the forecast that is to be followed.
        known_by: the moment (UTC, minutes).

    Returns:
        The assumed table where nothing was issued, or nothing of it has come.
    """
    issued = recent_issues(database, nearest_station(settings, place_id), provider_key, known_by)
    return skill_from(issued, hours, place_id, stock, known_by)


def recent_issues(database: Database, station_id: str, provider_key: str, known_by: np.datetime64) -> tuple[Issue, ...]:
    """What skill is learned from: read it once for all places that share a station."""
    return daily_issues(database, station_id, provider_key, known_by, days=ISSUED_DAYS)


def skill_from(
    issued: Sequence[Issue], hours: KnownHours, place_id: str, stock: Library, known_by: np.datetime64
) -> LeadSkill:
    """The skill of some issued forecasts at a place; arguments as of :func:`skill_of`."""
    panel = hours.at_places.panel
    if not issued or "air_temperature_c" not in panel.values:
        return ASSUMED
    first = issued[0].issued_utc.astype("datetime64[h]")
    came = panel.only(panel.series.index(place_id)).keeping((*BLENDED, *CARRIED, "relative_humidity_pct"))
    came = complete_humidity(came.between(first, known_by.astype("datetime64[h]")))
    return learned([told for issue in issued if (told := _told(issue, came)) is not None], stock)


def _told(issue: Issue, came: Panel) -> Told | None:
    """A forecast beside what came; None where it says nothing ahead of its own moment."""
    since = issue.issued_utc.astype("datetime64[h]")
    said = expected(issue.forecast.hours, issue.forecast.values, since, _HOURS_AHEAD)
    if said is None:
        return None
    values = {name: array[:, 0] for name, array in said.values.items()}
    return Told(since, values, _after(came, since, values))


def _after(came: Panel, since: np.datetime64, wanted: Mapping[str, Floats]) -> dict[str, Floats]:
    """Per quantity wanted what came in the hours after a stamp; NaN where nothing has."""
    found = {}
    rows = np.arange(1, _HOURS_AHEAD + 1)
    if len(came.hours):
        rows += int((since - came.hours[0]).astype(np.int64))
    inside = (rows >= 0) & (rows < len(came.hours))
    for name in wanted.keys() & came.values.keys():
        found[name] = np.full(_HOURS_AHEAD, np.nan)
        found[name][inside] = came.values[name][rows[inside], 0]
    return found
