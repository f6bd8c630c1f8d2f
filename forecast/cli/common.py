"""What several commands share: the workspace, the clock, writing a file whole."""

from __future__ import annotations

import os
import re
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from forecast.errors import CannotWriteError, OlderWorkspaceError, StorageError

if TYPE_CHECKING:
    from forecast.config import Settings
    from forecast.database import Database

FIRST_YEAR, LAST_YEAR = 1850, 2199  # as for weather files
DONE_IN_PART = 3  # exit code: what could be done is done, and something is not

Command = TypeVar("Command", bound=Callable[..., Any])


def workspace_option(function: Command) -> Command:
    """The folder of the workspace."""
    return click.option(
        "-w",
        "--workspace",
        type=click.Path(path_type=Path, file_okay=False),
        default=".",
        envvar="FORECAST_WORKSPACE",
        show_default=True,
        help="Folder of the workspace.",
    )(function)


def open_workspace(folder: Path) -> tuple[Settings, Database]:
    """A workspace's settings and database."""
    from forecast.config import read_settings
    from forecast.database import Database

    settings = read_settings(folder)
    try:
        database = Database(settings.database_path)
    except OlderWorkspaceError:
        from forecast.upgrade import upgrade

        kept = upgrade(settings.database_path)
        if kept is not None:  # else another process was faster
            click.echo(f"the workspace was brought up to this version; the old database is kept as {kept}", err=True)
        database = Database(settings.database_path)
    context = click.get_current_context(silent=True)
    if context is not None:
        context.call_on_close(database.close)
    return settings, database


@contextmanager
def progress(label: str, length: int) -> Iterator[Callable[[object], None]]:
    """A bar on standard error, on a terminal only; what is yielded moves it on by one."""
    with click.progressbar(length=length, label=label, file=sys.stderr) as bar:
        yield lambda _: bar.update(1)


def now() -> datetime:
    """The moment, UTC; the only place that reads the clock."""
    return datetime.now(UTC)


def workspace_now(settings: Settings) -> datetime:
    """The moment that a workspace lives in: its fixed one where ``as_of`` is set, else now."""
    fixed = settings.grounds.as_of
    return now() if fixed is None else fixed.replace(tzinfo=settings.grounds.zone).astimezone(UTC)


def site_moment(text: str, settings: Settings) -> datetime:
    """A moment that a person typed: clock time of the site, or ISO 8601 with an offset.

    Raises:
        click.BadParameter: it is no moment.
    """
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is no moment; write 2050-07-18T05:30") from None
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise click.BadParameter(f"{text!r} lies outside the years {FIRST_YEAR} to {LAST_YEAR}")
    zone = settings.grounds.zone
    return moment.astimezone(zone) if moment.tzinfo else moment.replace(tzinfo=zone)


def page_moment(settings: Settings, database: Database, as_of: str | None) -> tuple[datetime, bool]:
    """The moment of the page: asked for, fixed by the workspace, or now."""
    fixed = settings.grounds.as_of
    if as_of is None:
        return (now(), False) if fixed is None else (fixed.replace(tzinfo=settings.grounds.zone), True)
    # A date alone means its morning, when the page is read.
    moment = site_moment(f"{as_of}T05:30" if re.fullmatch(r"\d{4}-\d{2}-\d{2}", as_of) else as_of, settings)
    if moment > (now() if fixed is None else _end_of_weather(settings, database)):
        raise click.BadParameter("only mornings that have been can be replayed", param_hint="--as-of")
    return moment, True


def _end_of_weather(settings: Settings, database: Database) -> datetime:
    """Until when mornings of a workspace with a fixed clock can be told: its weather may run on past its own."""
    from forecast.clock import local
    from forecast.ingest.keep.store import read_hours

    fixed = settings.grounds.as_of
    own = now() if fixed is None else fixed.replace(tzinfo=settings.grounds.zone)
    panel = read_hours(database, [station.id for station in settings.grounds.station])
    if panel is None:
        return own
    return max(own, local(panel.hours[-1], settings.grounds.zone) + timedelta(days=1))


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file so that a reader sees the old one or the new one, never a part.

    Raises:
        CannotWriteError: the folder cannot be written to.
        StorageError: the disk is full or fails; the old file still stands.
    """
    write_all_whole({path: content})


def write_all_whole(contents: Mapping[Path, str | bytes]) -> None:
    """Write several files, each whole, and none before all of them lie on the disk.

    A link is followed; what is no file, such as a pipe, is written to as it is.

    Raises:
        CannotWriteError: a folder cannot be written to.
        StorageError: the disk is full or fails; the old files still stand.
    """
    parts: dict[Path, Path] = {}
    try:
        for path, content in contents.items():
            target = path.resolve()
            raw = content.encode() if isinstance(content, str) else content
            if target.exists() and not target.is_file() and not target.is_dir():
                target.write_bytes(raw)
            else:
                parts[target] = _part(target, raw)
        for target, part in parts.items():
            part.replace(target)
    except OSError as error:
        there = [str(target) for target in parts if target.exists()]
        stands = f"; {', '.join(there)} stands as it was" if there else ""
        raise StorageError(f"nothing was written: {error.strerror}{stands}", hint="free some space") from error
    finally:
        for part in parts.values():
            part.unlink(missing_ok=True)


def _part(target: Path, raw: bytes) -> Path:
    """A file's new content beside its place, on the disk."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        part = tempfile.NamedTemporaryFile(  # noqa: SIM115 - it has to outlive the with block to be renamed
            dir=target.parent, prefix=f".{target.name}.", delete=False
        )
    except OSError as error:
        raise CannotWriteError(f"{target} cannot be written: {error.strerror}", hint="name another place") from error
    try:
        with part:
            part.write(raw)
            part.flush()
            os.fsync(part.fileno())
        Path(part.name).chmod(0o644)
    except OSError:
        Path(part.name).unlink(missing_ok=True)
        raise
    return Path(part.name)
