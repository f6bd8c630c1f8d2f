"""Making the invented workspace."""

from __future__ import annotations

import csv
import gzip
import shutil
import tempfile
import tomllib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime, timedelta
from importlib import resources
from itertools import groupby
from pathlib import Path

import numpy as np

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
from forecast.ingest.imported import Grade, IssuedForecast, Provider
from forecast.ingest.keep import archive, store
from forecast.ingest.logger.csv_file import read_csv_hours

DEMO_WEATHER = "weather_alder_reach.csv.gz"
DEMO_FORECASTS = "forecasts_alder_reach.csv.gz"
DEMO_FORECASTER = Provider("alder_invented", "the invented weather forecast of Alder Reach", Grade.MODEL)
DEMO_RECORDS = "records.toml"
DEMO_NOTE = "INVENTED.txt"
DEMO_LAG_MINUTES = 180  # the demo's readings arrive three hours late, as many public ones do
DEMO_FETCH_MINUTES = 40  # and each forecast is fetched so long after its issue
WRITTEN = (GROUNDS_FILE, PROPERTIES_FILE, LABELS_FILE, DEMO_NOTE, DATABASE_FILE, f"{DATABASE_FILE}-journal")


def start_demo(folder: Path) -> store.Written:
    """Make the invented workspace, complete with weather, forecasts of it and records, or nothing.

    Raises:
        CannotWriteError: the folder holds something already, or cannot be made or written to.
        StorageError: the disk is full or fails.
    """
    source = demo_folder()
    settings = read_settings(source)
    hours = read_csv_hours(source / DEMO_WEATHER)
    # The invented weather runs on past the demo's morning, so that later mornings can be replayed as well.
    now = datetime.fromisoformat(f"{hours.hours[-1]}:00+00:00") + timedelta(minutes=DEMO_LAG_MINUTES)
    with new_folder(folder):
        with closing(Database(folder / DATABASE_FILE, create=True)) as database:
            station = settings.grounds.station[0].id
            written = store.write_hours(database, station, hours, lag_minutes=DEMO_LAG_MINUTES, now=now)
            archive.archive_all(database, station, _demo_forecasts(source / DEMO_FORECASTS))
            _demo_records(database, settings, source / DEMO_RECORDS)
        # What makes a workspace of the folder comes last, so that half a one never looks whole.
        for name in (DEMO_NOTE, LABELS_FILE, PROPERTIES_FILE, GROUNDS_FILE):
            shutil.copyfile(source / name, folder / name)
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


def _demo_forecasts(path: Path) -> Iterator[tuple[IssuedForecast, datetime]]:
    """The invented weather forecasts, each with the moment of its fetch."""
    with gzip.open(path, "rt", encoding="ascii") as file:
        (_, _, *names), *rows = csv.reader(file)
    for moment, lines in groupby(rows, key=lambda row: row[0]):
        issue = list(lines)
        hours = np.array([row[1].removesuffix("Z") for row in issue], "datetime64[h]")
        table = np.array([row[2:] for row in issue], np.float64)
        values = dict(zip(names, table.T, strict=True))
        steps = {name: np.ones(len(hours), np.uint8) for name in names}
        issued = np.datetime64(moment.removesuffix("Z"), "m")
        forecast = IssuedForecast(hours, values, steps, DEMO_FORECASTER, issued, path.name, ())
        yield forecast, datetime.fromisoformat(moment) + timedelta(minutes=DEMO_FETCH_MINUTES)


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


@contextmanager
def new_folder(folder: Path) -> Iterator[None]:
    """A new folder, or an empty one, to make a workspace in; where that breaks off, it is left as it was found.

    Good copies of what sources sent stay, since they make the next try fast; so they may lie there already.

    Raises:
        CannotWriteError: it holds something already, or cannot be made or written to.
    """
    made = [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        held = sorted(path.name for path in folder.iterdir() if path.name != COPIES_FOLDER)
        if not held:
            tempfile.TemporaryFile(dir=folder).close()  # now, and not after minutes of fetching
    except OSError as error:
        raise CannotWriteError(f"{folder} cannot be written to: {error.strerror}", hint="name another place") from error
    if held:
        raise CannotWriteError(f"{folder} holds {held[0]} already", hint="name a new or an empty folder")
    try:
        yield
    except BaseException as error:
        _take_away(folder, made)
        if isinstance(error, OSError):
            what = f"{folder} cannot be written to: {error.strerror}"
            raise CannotWriteError(what, hint="free some space, or name another place") from error
        raise


def _take_away(folder: Path, made: list[Path]) -> None:
    """What a broken-off start wrote, and the folders it made that hold nothing."""
    with suppress(OSError):
        for name in WRITTEN:
            (folder / name).unlink(missing_ok=True)
    for path in [*sorted(folder.glob(f"{COPIES_FOLDER}/**/"), reverse=True), *made]:
        with suppress(OSError):  # it holds something, and stays
            path.rmdir()
