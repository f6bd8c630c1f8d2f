"""Making the invented workspace."""

from __future__ import annotations

import shutil
import tomllib
from datetime import UTC, datetime, timedelta
from importlib import resources
from pathlib import Path

from forecast import records
from forecast.config import (
    COPIES_FOLDER,
    DATABASE_FILE,
    GROUNDS_FILE,
    LABELS_FILE,
    PROPERTIES_FILE,
    Settings,
    read_settings,
)
from forecast.database import Database
from forecast.errors import CannotWriteError, MissingInputError
from forecast.ingest.keep import store
from forecast.ingest.logger.csv_file import read_csv_hours

DEMO_WEATHER = "weather_alder_reach.csv.gz"
DEMO_RECORDS = "records.toml"
DEMO_LAG_MINUTES = 180  # the demo's readings arrive three hours late, as many public ones do


def start_demo(folder: Path) -> store.Written:
    """Make the invented workspace, complete with weather and records.

    Raises:
        CannotWriteError: the folder holds something already.
    """
    source = demo_folder()
    make_folder(folder)
    for name in (GROUNDS_FILE, PROPERTIES_FILE, LABELS_FILE):
        shutil.copyfile(source / name, folder / name)
    shutil.copyfile(source / "INVENTED.txt", folder / "INVENTED.txt")
    settings = read_settings(folder)
    hours = read_csv_hours(source / DEMO_WEATHER)
    database = Database(folder / DATABASE_FILE, create=True)
    # The invented weather runs on past the demo's morning, so that later mornings can be replayed as well.
    now = datetime.fromisoformat(f"{hours.hours[-1]}:00+00:00") + timedelta(minutes=DEMO_LAG_MINUTES)
    written = store.write_hours(database, settings.grounds.station[0].id, hours, lag_minutes=DEMO_LAG_MINUTES, now=now)
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


def make_folder(folder: Path) -> None:
    """A new folder, or an empty one.

    Raises:
        CannotWriteError: it holds something already, or cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(path.name != COPIES_FOLDER for path in folder.iterdir()):  # copies are of a start that broke off
            raise CannotWriteError(f"{folder} holds something already", hint="name a new or an empty folder")
    except OSError as error:
        raise CannotWriteError(f"{folder} cannot be made: {error.strerror}", hint="name another place") from error
