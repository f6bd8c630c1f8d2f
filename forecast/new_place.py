"""Making a workspace for a real place: settings to look through, with the stations and the service chosen."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import dataclass
from pathlib import Path

from forecast.config import DATABASE_FILE, GROUNDS_FILE, LABELS_FILE, PROPERTIES_FILE, read_settings
from forecast.database import Database
from forecast.workspace import new_folder

FIRST_STATION = "station"


@dataclass(frozen=True, slots=True)
class ChosenStation:
    """A station of the new workspace.

    Attributes:
        id: small letters, digits and hyphens.
        name: as people call it.
        latitude_deg, longitude_deg, elevation_m: where it stands; of one whose hours come from files, the place's own
            until a person says where it really stands.
        meteostat_id: its id at Meteostat; empty where its hours come from files.
    """

    id: str
    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    meteostat_id: str = ""


@dataclass(frozen=True, slots=True)
class NewPlace:
    """What a real place needs at the least.

    Attributes:
        name: as people call it.
        latitude_deg, longitude_deg, elevation_m: where the first area lies. Written down only beside a station of
            which it is known where it stands: else any station's weather would count as measured on the site.
        time_zone: such as America/New_York.
        grass: of the first area.
        units: us or si.
        stations: the nearest first; one at least.
        forecast_shape: of the source of weather forecasts; empty for none.
        forecast_address: its address; empty for the shape's usual service.
        contact: an address that weather services can turn to; may be empty.
    """

    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    time_zone: str
    grass: str
    units: str
    stations: tuple[ChosenStation, ...]
    forecast_shape: str = ""
    forecast_address: str = ""
    contact: str = ""


def start_place(folder: Path, place: NewPlace) -> None:
    """Write the files and an empty database, or nothing.

    Raises:
        CannotWriteError: the folder holds something already, or cannot be made or written to.
        SettingsError: the place is described wrongly.
        StorageError: the disk is full or fails.
    """
    with new_folder(folder):
        Database(folder / DATABASE_FILE, create=True).close()
        (folder / LABELS_FILE).write_text(_LABELS, encoding="utf-8")
        (folder / PROPERTIES_FILE).write_text(_properties(place), encoding="utf-8")
        (folder / GROUNDS_FILE).write_text(_grounds(place), encoding="utf-8")
        read_settings(folder)


def station_id(name: str, taken: set[str]) -> str:
    """An id made of a station's name, unlike those that are taken."""
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or FIRST_STATION
    number = 1
    while (found := plain if number == 1 else f"{plain}-{number}") in taken:
        number += 1
    return found


def _text(value: str) -> str:
    """A TOML string; JSON's own form is one."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _grounds(place: NewPlace) -> str:
    parts = [
        f"""\
# The place, its weather stations, and your own lines. Every key is explained in the README.
schema = 1
name = {_text(place.name)}
units = "{place.units}"            # us or si
time_zone = {_text(place.time_zone)}

[decisions]
treat_from_chance = 0.30     # treat from this chance of at least one unprotected event day before the next visit
scout_from_chance = 0.10
days_between_visits = 7

[sprayer]
tank_gal = 50                # or tank_l

[network]
contact = {_text(place.contact)}                 # an e-mail or web address, told to the services that are asked
allow_hosts = []             # hosts in a private network that may be asked, such as "logger.local"
"""
    ]
    if place.forecast_shape:
        address = f"address = {_text(place.forecast_address)}\n" if place.forecast_address else ""
        parts.append(f'[weather_forecast]\nshape = "{place.forecast_shape}"\n{address}')
    else:
        parts.append(
            '# [weather_forecast]\n# shape = "hour_columns"   # or "grid_intervals"; the README tells which is which\n'
        )
    for station in place.stations:
        source = (
            f"meteostat_id = {_text(station.meteostat_id)}"
            if station.meteostat_id
            else "# meteostat_id = \"…\"           # lets 'forecast daily' fetch from Meteostat"
        )
        stands = "" if station.meteostat_id else "# Set these three to where the station really stands.\n"
        parts.append(
            f"""\
[[station]]
id = "{station.id}"
name = {_text(station.name)}
{stands}latitude_deg = {station.latitude_deg}
longitude_deg = {station.longitude_deg}
elevation_m = {station.elevation_m}
observation_lag_minutes = 180   # how long after its hour a reading is taken to arrive
{source}
"""
        )
    return "\n".join(parts)


def _properties(place: NewPlace) -> str:
    own = place.stations[0].meteostat_id != ""
    row: dict[str, object] = {
        "property_id": "home",
        "property_name": place.name,
        "area_id": "first-area",
        "area_name": "First area",
        "station_id": place.stations[0].id,
        "latitude_deg": place.latitude_deg if own else "",
        "longitude_deg": place.longitude_deg if own else "",
        "elevation_m": place.elevation_m if own else "",
        "grass": place.grass,
        "site": "",
        "size_sq_ft": 10000,
        "surroundings": "open",
        "mowing_height_in" if place.units == "us" else "mowing_height_mm": 3 if place.units == "us" else 75,
        "irrigation_days": "",
        "irrigation_start": "",
        "irrigation_depth_mm": "",
        "diseases_had": "",
        "label": "",
    }
    target = io.StringIO()
    writer = csv.DictWriter(target, list(row), lineterminator="\n")
    writer.writeheader()
    writer.writerow(row)
    return target.getvalue()


_LABELS = """\
# Type each product's label from its container. The label is the law; this file only repeats it.
schema = 2

# [[label]]
# key = "short-name"
# name = "name on the container"
# registration_number = "as printed"
# label_date = 2026-01-01
# formulation = "SC"                # SC, WG, WP, EC, SL ...
# carrier = { amount = 2.0, unit = "gal/1000 sq ft" }
# sites = ["home_lawn"]             # those that it names, or ["any"]
# most_per_year = { amount = 12.0, unit = "fl oz/1000 sq ft" }   # or "none" where it names none
# rain_free_hours = 4               # leave out what it does not say; the README lists all keys
# wind_most = { amount = 10, unit = "mph" }
# keep_off = "what it says about people and pets"
# gear = "what it says about protective gear"
#
#   [[label.ingredient]]
#   name = "as printed"
#   frac = "11"                     # resistance group, "" where it names none
#   concentration = { amount = 120, unit = "g/L" }               # or lb/gal, %, g/kg
#
#   [[label.use]]
#   disease = "brown_patch"
#   grasses = ["tall_fescue"]
#   condition = "preventive"        # or "established", "very hot and humid"
#   rate = { amount = 1.5, unit = "fl oz/1000 sq ft" }
#   least_days = 14                 # law
#   most_days = 28                  # advice
"""
