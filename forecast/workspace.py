"""Making a workspace: the invented one, or a real place to fill in."""

from __future__ import annotations

import shutil
import tomllib
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

from forecast import records
from forecast.config import DATABASE_FILE, GROUNDS_FILE, LABELS_FILE, PROPERTIES_FILE, Settings, read_settings
from forecast.database import Database
from forecast.errors import CannotWriteError, MissingInputError
from forecast.ingest import store
from forecast.ingest.csv_file import read_csv_hours

FIRST_STATION = "station"
DEMO_WEATHER = "weather_alder_reach.csv.gz"
DEMO_RECORDS = "records.toml"
DEMO_LAG_MINUTES = 180  # the demo's readings arrive three hours late, as many public ones do


@dataclass(frozen=True, slots=True)
class Place:
    """What a real place needs at the least."""

    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    time_zone: str
    grass: str
    units: str


def start_demo(folder: Path, now: datetime) -> store.Written:
    """Make the invented workspace, complete with weather and records.

    Raises:
        CannotWriteError: the folder holds something already.
    """
    source = demo_folder()
    _make(folder)
    for name in (GROUNDS_FILE, PROPERTIES_FILE, LABELS_FILE):
        shutil.copyfile(source / name, folder / name)
    shutil.copyfile(source / "INVENTED.txt", folder / "INVENTED.txt")
    settings = read_settings(folder)
    hours = read_csv_hours(source / DEMO_WEATHER)
    database = Database(folder / DATABASE_FILE, create=True)
    written = store.write_hours(database, settings.grounds.station[0].id, hours, late_minutes=DEMO_LAG_MINUTES, now=now)
    _demo_records(database, settings, source / DEMO_RECORDS)
    database.close()
    return written


def demo_folder() -> Path:
    """Where the invented scenario lies: inside the installed package, or beside it in a checkout.

    Raises:
        MissingInputError: neither is there.
    """
    package = Path(str(resources.files("forecast")))
    for folder in (package / "data_demo", package.parent / "data_demo"):
        if (folder / DEMO_WEATHER).exists():
            return folder
    raise MissingInputError("the invented scenario is not installed", hint="install the package again")


def _demo_records(database: Database, settings: Settings, path: Path) -> None:
    """The invented records, each written down an hour after it happened."""
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    labels = {label.key: label for label in settings.labels}
    sizes = {area.area_id: area.size_m2 for area in settings.areas}
    grasses = {area.area_id: area.grass for area in settings.areas}
    for row in data["application"]:
        moment, entry = _demo_entry(row, settings)
        label = labels[row["label"]]
        amount = label.uses[0].rate_per_m2 * sizes[entry.area_id]
        records.record_application(
            database,
            entry,
            label,
            row["diseases"],
            condition="preventive",
            grass=grasses[entry.area_id],
            size_m2=sizes[entry.area_id],
            amount=amount,
            now=moment,
        )
    for row in data["scouting"]:
        moment, entry = _demo_entry(row, settings)
        records.record_scouting(
            database, entry, row["saw"], sure=row["sure"], severity_pct=row.get("severity_pct"), now=moment
        )


def _demo_entry(row: dict[str, object], settings: Settings) -> tuple[datetime, records.Entry]:
    happened = row["at"]
    if not isinstance(happened, datetime):
        raise TypeError("at: a date and a clock time")
    local = happened.replace(tzinfo=settings.grounds.zone)
    entry = records.Entry(str(row["area"]), local, str(row["by"]), str(row.get("note", "")))
    return local.astimezone(UTC), entry


def start_place(folder: Path, place: Place) -> None:
    """Make a workspace for a real place, with one station and one area to go on from.

    Raises:
        CannotWriteError: the folder holds something already.
        SettingsError: the place is described wrongly; nothing is left behind.
    """
    _make(folder)
    try:
        (folder / GROUNDS_FILE).write_text(_GROUNDS.format(place=place, station=FIRST_STATION), encoding="utf-8")
        (folder / PROPERTIES_FILE).write_text(_PROPERTIES.format(place=place, station=FIRST_STATION), encoding="utf-8")
        (folder / LABELS_FILE).write_text(_LABELS, encoding="utf-8")
        read_settings(folder)
    except Exception:
        shutil.rmtree(folder)
        raise
    Database(folder / DATABASE_FILE, create=True).close()


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise CannotWriteError(f"{folder} holds something already", hint="name a new or an empty folder")
    except OSError as error:
        raise CannotWriteError(f"{folder} cannot be made: {error.strerror}", hint="name another place") from error


_GROUNDS = """\
# The place, its weather stations, and your own lines. Every key is explained in the README.
schema = 1
name = {place.name!r}
units = "{place.units}"            # us or si
time_zone = "{place.time_zone}"

[decisions]
treat_from_chance = 0.30     # treat from this chance of at least one unprotected event day before the next visit
scout_from_chance = 0.10
days_between_visits = 7

[sprayer]
tank_gal = 50                # or tank_l

[[station]]
id = "{station}"
name = "Nearest weather station"
latitude_deg = {place.latitude_deg}
longitude_deg = {place.longitude_deg}
elevation_m = {place.elevation_m}
observation_lag_minutes = 180   # how long after its hour a reading is taken to arrive
# meteostat_id = "…"            # lets 'forecast weather fetch' and 'forecast morning' fetch from Meteostat
"""

_PROPERTIES = """\
property_id,property_name,area_id,area_name,station_id,grass,size_sq_ft,light_let_through_fraction,\
wind_let_through_fraction,irrigation_days,irrigation_start,irrigation_depth_mm,diseases_had,label
home,{place.name},first-area,First area,{station},{place.grass},10000,1.0,1.0,,,,,
"""

_LABELS = """\
# Type each product's label from its container. The label is the law; this file only repeats it.
schema = 1

# [[label]]
# key = "short-name"
# name = "name on the container"
# registration_number = "as printed"
# label_date = 2026-01-01
# active_ingredients = ["as printed"]
# frac_codes = ["as printed"]
# carrier = { amount = 2.0, unit = "gal/1000 sq ft" }
# most_per_year = { amount = 12.0, unit = "fl oz/1000 sq ft" }
# keep_off = "what it says about people and pets"
# gear = "what it says about protective gear"
#
#   [[label.use]]
#   disease = "brown_patch"
#   grasses = ["tall_fescue"]
#   condition = "preventive"      # or "established", "very hot and humid"
#   rate = { amount = 1.5, unit = "fl oz/1000 sq ft" }
#   least_days = 14               # law
#   most_days = 28                # advice
"""
