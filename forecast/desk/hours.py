"""The workspace's hours as they were known by a moment: taken out, checked, filled, and brought to every place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from forecast import between, gaps, quality
from forecast.between import Estimated
from forecast.config import Settings
from forecast.database import Database
from forecast.gaps import Fill
from forecast.ingest.keep.store import read_hours, stations_with_typical_year
from forecast.ingest.keep.withdrawals import Withdrawn, withdrawals
from forecast.panel import Panel
from forecast.quality import Checked, Verdict
from forecast.quantities import Flag, Origin

if TYPE_CHECKING:
    from forecast.ingest.typical_year import TypicalYear

# With so many years that have a month's hours at least, this year among them, fewer than four past years count, and a
# typical year makes them fewer than the five that an answer to treat needs.
SHORT_RECORD_YEARS = 3
LEAST_HOURS_A_YEAR = 30 * 24
TYPICAL_KM = 100.0  # house choice: as far as any station may speak for a place
MOST_YEARS = 40  # house choice: older weather speaks of another climate, and one stray hour must not cost every page


@dataclass(frozen=True, eq=False)
class KnownHours:
    """Hours of every station and of every place.

    Attributes:
        raw: the stations as series, as they came.
        checked: the same after withdrawals and checks, short holes still open.
        verdicts: what was withdrawn and what checks found.
        fills: which holes were closed.
        at_places: the places as series, and what stands behind each value.
        typical: per place with a short record, the typical year that stands before it.
        panel: the places as series, typical years before short records.
        withdrawn: the withdrawals that hold.
    """

    raw: Panel
    checked: Panel
    verdicts: tuple[Verdict, ...]
    fills: tuple[Fill, ...]
    at_places: Estimated
    typical: Mapping[str, TypicalYear]
    panel: Panel
    withdrawn: tuple[Withdrawn, ...]


def known_hours(settings: Settings, database: Database, known_by: np.datetime64 | None = None) -> KnownHours | None:
    """Every hour of a workspace as it was known by a moment (UTC, minutes); None for now.

    Returns:
        None where nothing was known.
    """
    stations = {station.id: station.where for station in settings.grounds.station}
    raw = read_hours(database, tuple(stations), known_by, most_years=MOST_YEARS)
    if raw is None:
        return None
    held = holding(withdrawals(database, tuple(stations), _text(known_by)))
    offset = settings.grounds.standard_offset_minutes(int(str(raw.hours[-1].astype("datetime64[Y]"))))
    found = checked_hours(raw, held, stations, offset)
    filled = gaps.fill(found.panel)
    places = {place_id: place.where for place_id, place in settings.places.items()}
    at_places = between.estimate(filled, stations, places)
    typical = _typical_years(database, at_places, _text(known_by))
    return KnownHours(
        raw,
        found.panel,
        found.verdicts,
        gaps.fills(found.panel, filled),
        at_places,
        typical,
        _with_typical_years(at_places.panel, typical),
        held,
    )


def _typical_years(database: Database, at_places: Estimated, known_by: str | None) -> dict[str, TypicalYear]:
    """For each place whose record is short, the typical year of the nearest station that has one."""
    loaded = stations_with_typical_year(database, known_by)
    temperature = at_places.panel.values.get("air_temperature_c")
    if not loaded or temperature is None:
        return {}
    from forecast.ingest.keep.typical_store import read_typical_year  # noqa: PLC0415 - needs pandas; seldom asked for

    years = at_places.panel.hours.astype("datetime64[Y]")
    found = {}
    for column, place_id in enumerate(at_places.panel.series):
        _, hours = np.unique(years[~np.isnan(temperature[:, column])], return_counts=True)
        far = at_places.distance_km[column]
        near = [s for s in np.argsort(far) if far[s] <= TYPICAL_KM and at_places.stations[s] in loaded]
        if hours.size and np.count_nonzero(hours >= LEAST_HOURS_A_YEAR) <= SHORT_RECORD_YEARS and near:
            year = read_typical_year(database, at_places.stations[near[0]], known_by)
            if year is not None:
                found[place_id] = year
    return found


def _with_typical_years(panel: Panel, typical: Mapping[str, TypicalYear]) -> Panel:
    """The panel begun a calendar year earlier where a place has a typical year to stand there."""
    if not typical:
        return panel
    from forecast.ingest.typical_year import as_hours  # noqa: PLC0415

    year = int(str(panel.hours[0].astype("datetime64[Y]"))) - 1
    laid = {place_id: as_hours(one, year) for place_id, one in typical.items()}
    first = min(one.hours[0] for one in laid.values())
    added = int((panel.hours[0] - first).astype(int))
    hours = first + np.arange(added + len(panel.hours)).astype("timedelta64[h]")
    shape = (added, len(panel.series))
    values = {name: np.concatenate([np.full(shape, np.nan), array]) for name, array in panel.values.items()}
    flags = {
        name: np.concatenate([np.full(shape, Flag.MISSING, np.uint8), array]) for name, array in panel.flags.items()
    }
    origin = {
        name: np.concatenate([np.full(shape, Origin.OBSERVED, np.uint8), array]) for name, array in panel.origin.items()
    }
    for place_id, one in laid.items():
        before = one.hours < panel.hours[0]  # west of Greenwich its last evening lies in the record's own year
        column = panel.series.index(place_id)
        for name in values.keys() & one.values.keys():
            known = before & ~np.isnan(one.values[name])
            rows = (one.hours[known] - first).astype(int)
            values[name][rows, column] = one.values[name][known]
            flags[name][rows, column] = Flag.GOOD
            origin[name][rows, column] = Origin.PAST_YEAR
    return Panel(hours, panel.series, values, flags, origin)


def checked_hours(
    raw: Panel, held: Sequence[Withdrawn], stations: dict[str, between.Where], standard_offset_minutes: int
) -> Checked:
    """Station hours after withdrawals and checks, with what was found."""
    taken_out = quality.withdraw(
        raw,
        [
            quality.Withdrawal(one.station_id, one.quantity, one.first_hour, one.last_hour, one.reason)
            for one in held
            if one.station_id in raw.series
        ],
    )
    found = quality.check(taken_out.panel, stations, standard_offset_minutes=standard_offset_minutes)
    return Checked(found.panel, (*taken_out.verdicts, *found.verdicts))


def holding(records: Sequence[Withdrawn]) -> tuple[Withdrawn, ...]:
    """The withdrawals that were not given back."""
    return tuple(one for one in records if one.given_back_utc is None)


def _text(known_by: np.datetime64 | None) -> str | None:
    """A moment to the minute as records write it, the whole minute counted in."""
    return None if known_by is None else f"{known_by.astype('datetime64[m]')}:59Z"
