"""The workspace's files as frozen settings: ``grounds.toml``, ``properties.csv``, ``labels.toml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from forecast.config.frac import frac_codes
from forecast.config.grounds import Grounds, Station
from forecast.config.labels import LabelsForm
from forecast.config.properties import Place, read_areas
from forecast.errors import MissingInputError, SettingsError
from forecast.schedule.label import Label
from forecast.toml_file import read_toml
from forecast.turf import Area

GROUNDS_FILE = "grounds.toml"
PROPERTIES_FILE = "properties.csv"
LABELS_FILE = "labels.toml"
DATABASE_FILE = "workspace.sqlite"
COPIES_FOLDER = "weather_copies"  # last good copies of what a source sent

__all__ = [
    "COPIES_FOLDER",
    "DATABASE_FILE",
    "GROUNDS_FILE",
    "LABELS_FILE",
    "PROPERTIES_FILE",
    "Place",
    "Settings",
    "Station",
    "read_settings",
]


@dataclass(frozen=True)
class Settings:
    """All of a workspace's settings, checked together."""

    folder: Path
    grounds: Grounds
    areas: tuple[Area, ...]
    labels: tuple[Label, ...]
    own_places: Mapping[str, Place]

    @property
    def places(self) -> Mapping[str, Place]:
        """Where weather is reckoned for the areas, by place id, in their order."""
        return {area.place_id: self.place(area.place_id) for area in self.areas}

    def place(self, place_id: str) -> Place:
        """The place of that id: one of the properties' own, or a station's.

        Raises:
            SettingsError: there is none.
        """
        own = self.own_places.get(place_id)
        if own is not None:
            return own
        station = self.station(place_id)
        return Place(station.name, station.where)

    def station(self, station_id: str) -> Station:
        """The station of that id.

        Raises:
            SettingsError: there is none.
        """
        for station in self.grounds.station:
            if station.id == station_id:
                return station
        known = ", ".join(station.id for station in self.grounds.station)
        raise SettingsError(f"there is no station {station_id!r}", hint=f"known are {known}")

    @property
    def database_path(self) -> Path:
        """Where the workspace's database lies."""
        return self.folder / DATABASE_FILE


def read_settings(folder: Path) -> Settings:
    """A workspace's settings.

    Raises:
        MissingInputError: the folder is no workspace.
        SettingsError: every mistake of the first file that has any.
    """
    if not (folder / GROUNDS_FILE).exists():
        raise MissingInputError(
            f"{folder} is no workspace: it has no {GROUNDS_FILE}",
            hint="name one with --workspace, or make one with 'forecast start'",
        )
    grounds = read_toml(folder / GROUNDS_FILE, Grounds)
    codes = frac_codes(folder)
    labels = tuple(form.frozen(codes) for form in read_toml(folder / LABELS_FILE, LabelsForm).label)
    areas, own_places = read_areas(
        folder / PROPERTIES_FILE, {station.id for station in grounds.station}, {label.key for label in labels}
    )
    return Settings(folder, grounds, areas, labels, own_places)
