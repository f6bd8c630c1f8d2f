"""A workspace in one file: made while others work, read back before it counts, and put into a new folder again.

Kept are the database, the settings, and what was fitted here; not the pages, which ``--as-of`` prints again, nor the
copies of what sources sent, whose hours are in the database.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
import tempfile
import zipfile
import zlib
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from forecast import __version__
from forecast.config import DATABASE_FILE, GROUNDS_FILE, LABELS_FILE, PROPERTIES_FILE, read_settings
from forecast.config.forms import Form
from forecast.config.frac import FRAC_FILE
from forecast.database import SCHEMA_VERSION
from forecast.desk.calibrations import OWN_FILE
from forecast.errors import CannotWriteError, DataError, MissingInputError, SettingsError, StorageError
from forecast.workspace import DEMO_NOTE, new_folder

FORM: Literal[1] = 1
MANIFEST = "backup.json"
NEEDED = (DATABASE_FILE, GROUNDS_FILE, PROPERTIES_FILE, LABELS_FILE)
ALSO = (OWN_FILE, FRAC_FILE, DEMO_NOTE)
RECORDS = ("application", "scouting")
MOST_BYTES = 50_000_000_000  # house choice: no workspace is larger
_PIECE = 1 << 20
EARLIER = "take the backup before this one"


class Kept(Form):
    """A file of a backup."""

    bytes: Annotated[int, Field(ge=0, le=MOST_BYTES)]
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


def _known_files(files: dict[str, Kept]) -> dict[str, Kept]:
    if not set(NEEDED) <= set(files) <= {*NEEDED, *ALSO}:
        raise ValueError("these are not the files of a workspace")
    return files


def _every_kind(records: dict[str, int]) -> dict[str, int]:
    if set(records) != set(RECORDS):
        raise ValueError("these are not the kinds of records")
    return records


class Manifest(Form):
    """``backup.json``: what a backup holds."""

    form: Literal[1]
    made_utc: str
    version: str
    schema_: int = Field(alias="schema")
    records: Annotated[dict[str, int], AfterValidator(_every_kind)]
    files: Annotated[dict[str, Kept], AfterValidator(_known_files)]


@dataclass(frozen=True, slots=True)
class Backup:
    """What a backup holds.

    Attributes:
        path: the file.
        made_utc: when.
        version: of the program that made it.
        size_bytes: of the file.
        records: rows of each kind of record.
    """

    path: Path
    made_utc: str
    version: str
    size_bytes: int
    records: dict[str, int]


def back_up(folder: Path, target: Path, now: datetime) -> Backup:
    """Make a backup of a workspace, and read it back; it stands whole under its name, or not at all.

    Args:
        folder: the workspace.
        target: the file, new.
        now: aware.

    Raises:
        MissingInputError: the folder is no workspace.
        DataError: its database is damaged.
        CannotWriteError: the file is there already, or its folder cannot be written to.
        StorageError: the disk is full or fails.
    """
    if not (folder / DATABASE_FILE).exists() or not (folder / GROUNDS_FILE).exists():
        raise MissingInputError(f"{folder} is no workspace", hint="name one with --workspace")
    if target.exists():
        raise CannotWriteError(f"{target} is there already", hint="name another file")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=target.parent, prefix=".backup-") as work:
            made = _made(folder, Path(work), now)
            again = read_backup(made)
            _restore_into(made, Path(work) / "again")
            made.replace(target)
            _sync(target.parent)
    except sqlite3.Error as error:
        hint = "run it again; where that fails too, restore the last backup"
        raise DataError(f"{folder / DATABASE_FILE} cannot be copied: {error}", hint=hint) from error
    except OSError as error:
        hint = "free some space, or name another place"
        raise StorageError(f"{target} cannot be written: {error.strerror}", hint=hint) from error
    return Backup(target, again.made_utc, again.version, target.stat().st_size, again.records)


def _made(folder: Path, work: Path, now: datetime) -> Path:
    copy = work / DATABASE_FILE
    # SQLite itself copies, so that what is being written at the time is in the copy whole or not at all.
    live = f"file:{folder / DATABASE_FILE}?mode=ro"
    with closing(sqlite3.connect(live, uri=True)) as source, closing(sqlite3.connect(copy)) as target:
        source.backup(target)
    schema, counts = _checked(copy)
    kept = {DATABASE_FILE: copy}
    kept |= {name: folder / name for name in (*NEEDED[1:], *ALSO) if (folder / name).exists()}
    manifest = Manifest(
        form=FORM,
        made_utc=f"{now:%Y-%m-%dT%H:%M:%SZ}",
        version=__version__,
        schema=schema,
        records=counts,
        files={name: Kept(bytes=path.stat().st_size, sha256=_digest(path)) for name, path in kept.items()},
    )
    made = work / "backup.zip"
    with made.open("wb") as raw:
        with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as pack:
            pack.writestr(MANIFEST, manifest.model_dump_json(indent=2, by_alias=True))
            for name, path in kept.items():
                pack.write(path, name)
        raw.flush()
        os.fsync(raw.fileno())
    return made


def _checked(database: Path) -> tuple[int, dict[str, int]]:
    """The schema of a database and its records counted.

    Raises:
        DataError: it is damaged, or no workspace's.
    """
    try:
        with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as connection:
            (sound,) = connection.execute("PRAGMA integrity_check").fetchone()
            if sound != "ok":
                raise DataError(f"the database is damaged: {sound}", hint=EARLIER)
            (schema,) = connection.execute("SELECT version FROM schema_version").fetchone()
            counts = {name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in RECORDS}  # noqa: S608
    except (sqlite3.Error, TypeError) as error:
        raise DataError(f"the database is damaged: {error}", hint=EARLIER) from error
    return int(schema), counts


def read_backup(path: Path) -> Backup:
    """What a backup says of itself, checked file by file against its digests.

    Raises:
        MissingInputError: there is no such file.
        DataError: it is no backup, or damaged.
    """
    manifest = _manifest(path)
    return Backup(path, manifest.made_utc, manifest.version, path.stat().st_size, manifest.records)


def restore(path: Path, folder: Path) -> Backup:
    """Put a backup into a new folder, or nothing.

    Raises:
        MissingInputError: there is no such backup.
        DataError: it is damaged.
        SettingsError: it was made by a newer version.
        CannotWriteError: the folder holds something already, or cannot be written to.
    """
    found = read_backup(path)
    with new_folder(folder):
        _restore_into(path, folder)
    return found


def _restore_into(path: Path, folder: Path) -> None:
    """Every file of a backup, whole, and readable as a workspace; what was written is taken away where one is not."""
    manifest = _manifest(path)
    if manifest.schema_ > SCHEMA_VERSION:
        raise SettingsError(
            f"{path} was made by a newer version (schema {manifest.schema_}; this one knows {SCHEMA_VERSION})",
            hint="install the newer version",
        )
    folder.mkdir(parents=True, exist_ok=True)
    try:
        with zipfile.ZipFile(path) as pack:
            for name in manifest.files:
                _unpack(pack, name, folder / name)
        _refuse_other_records(folder / DATABASE_FILE, manifest, path)
        read_settings(folder)
        _sync(folder)
    except BaseException:
        for name in manifest.files:
            (folder / name).unlink(missing_ok=True)
        raise


def _unpack(pack: zipfile.ZipFile, name: str, target: Path) -> None:
    with pack.open(name) as source, target.open("xb") as out:
        while piece := source.read(_PIECE):
            out.write(piece)
        out.flush()
        os.fsync(out.fileno())


def _refuse_other_records(database: Path, manifest: Manifest, path: Path) -> None:
    _, counts = _checked(database)
    if counts != manifest.records:
        raise DataError(f"{path} does not hold the records it names", hint=EARLIER)


def _manifest(path: Path) -> Manifest:
    """The list of a backup, with every file's length and digest found as it says.

    Raises:
        MissingInputError: there is no such file.
        DataError: it is no backup, or damaged.
    """
    try:
        with zipfile.ZipFile(path) as pack:
            return _read_whole(pack)
    except FileNotFoundError:
        raise MissingInputError(f"{path} is not there", hint="check the path") from None
    # What zipfile and zlib make of damage is of many kinds: a bad header, an unknown method, a file cut short.
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, KeyError, ValueError, RuntimeError) as error:
        raise DataError(f"{path} is no backup, or damaged", hint=EARLIER) from error


def _read_whole(pack: zipfile.ZipFile) -> Manifest:
    if pack.getinfo(MANIFEST).file_size > _PIECE:
        raise ValueError(MANIFEST)
    manifest = Manifest.model_validate_json(pack.read(MANIFEST))
    if sorted(pack.namelist()) != sorted([MANIFEST, *manifest.files]):
        raise ValueError(MANIFEST)
    for name, told in manifest.files.items():
        _refuse_other_content(pack, name, told)
    return manifest


def _refuse_other_content(pack: zipfile.ZipFile, name: str, told: Kept) -> None:
    if pack.getinfo(name).file_size != told.bytes:
        raise ValueError(name)
    digest = hashlib.sha256()
    with pack.open(name) as source:
        while piece := source.read(_PIECE):
            digest.update(piece)
    if digest.hexdigest() != told.sha256:
        raise ValueError(name)


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _sync(folder: Path) -> None:
    """Names on the disk, not only contents; where a system cannot, it is left."""
    try:
        number = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(number)
    except OSError:
        pass
    finally:
        os.close(number)


def thin_out(folder: Path, keep: int) -> list[Path]:
    """Take away all but the newest backups of a folder, by the names that this program gives; what was taken away."""
    found = sorted(folder.glob("backup-????????T??????Z.zip"))
    old = found[: max(len(found) - keep, 0)]
    for path in old:
        path.unlink(missing_ok=True)
    return old
