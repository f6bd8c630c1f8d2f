"""Hours as CSV: values with flag and origin, under the vocabulary's names."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

import numpy as np

from forecast.between import Estimated
from forecast.config import Settings
from forecast.database import Database
from forecast.desk.hours import known_hours
from forecast.errors import MissingInputError
from forecast.ingest.keep.store import providers_of, read_hours
from forecast.ingest.logger.mapping import CANONICAL_TIME
from forecast.panel import Floats, Panel
from forecast.quantities import READABLE, Flag, Origin
from forecast.report.words import owed_to


def export_csv(
    settings: Settings,
    database: Database,
    place_id: str | None,
    first: np.datetime64 | None,
    last: np.datetime64 | None,
    *,
    raw: bool,
) -> tuple[str, tuple[str, ...]]:
    """The hours of one place between two stamps, both included, and whom they are owed to.

    Args:
        settings: the workspace's.
        database: the workspace's.
        place_id: a station or a place of the properties' own; the first place when left out.
        first: all from the beginning when left out.
        last: all to the end when left out.
        raw: a station's hours as they came; else checked, filled and brought to the place.

    Raises:
        SettingsError: there is no such place, or, for raw hours, no such station.
        MissingInputError: nothing is stored.
    """
    place_id = place_id or next(iter(settings.places))
    estimated = None
    if raw:
        panel = read_hours(database, [settings.station(place_id).id])
    else:
        settings.place(place_id)
        hours = known_hours(settings, database)
        estimated = None if hours is None else hours.at_places
        panel = None if estimated is None else estimated.panel
    if panel is None:
        raise MissingInputError("nothing is stored yet", hint="load a file or fetch first")
    if place_id not in panel.series:
        raise MissingInputError(
            f"no area's weather is reckoned at {place_id!r}",
            hint=f"places are {' and '.join(panel.series)}; or use --raw",
        )
    column = panel.series.index(place_id)
    panel = panel.between(panel.hours[0] if first is None else first, panel.hours[-1] if last is None else last)
    if not len(panel.hours):
        raise MissingInputError("nothing is stored for these hours", hint="'forecast weather list' tells what is")
    stations = {place_id} if estimated is None else _behind(estimated, place_id, panel)
    return _text(panel, column), _credits(database, sorted(stations), panel)


def _behind(estimated: Estimated, place_id: str, panel: Panel) -> set[str]:
    """The stations that stand behind a place's values in these hours."""
    return {
        station
        for name in panel.values
        for station in estimated.basis(place_id, name, panel.hours[0], panel.hours[-1]).hours_by_station
    }


def _credits(database: Database, station_ids: Sequence[str], panel: Panel) -> tuple[str, ...]:
    """Whose values these are, each with its licence."""
    found: dict[str, None] = {}
    for station_id in station_ids:
        for one in providers_of(database, station_id, panel.hours[0], panel.hours[-1]):
            found[owed_to(one.name, one.attribution, one.licence, one.link)] = None
    return tuple(found)


def _text(panel: Panel, column: int) -> str:
    names = [name for name in panel.values if name in READABLE]  # what could be loaded again
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow([CANONICAL_TIME, *names, *(f"{name}_{part}" for name in names for part in ("flag", "origin"))])
    flags = {flag.value: flag.name.lower() for flag in Flag}
    origins = {origin.value: origin.name.lower() for origin in Origin}
    columns = [[f"{hour}:00Z" for hour in panel.hours.astype(str)]]
    columns += [_figures(panel.values[name][:, column]) for name in names]
    for name in names:
        columns.append([flags[flag] for flag in panel.flags[name][:, column].tolist()])
        columns.append([origins[origin] for origin in panel.origin[name][:, column].tolist()])
    writer.writerows(zip(*columns, strict=True))
    return target.getvalue()


def _figures(values: Floats) -> list[str]:
    """Figures that read back as the same; an empty cell for what is unknown."""
    return ["" if unknown else repr(value) for value, unknown in zip(values.tolist(), np.isnan(values), strict=True)]
