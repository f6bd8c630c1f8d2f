"""``forecast backup`` and ``forecast restore``."""

from __future__ import annotations

from pathlib import Path

import click

from forecast.cli.common import now, workspace_option

FOLDER = "backups"


@click.command()
@workspace_option
@click.option("--to", "target", type=click.Path(path_type=Path), help="A file, or a folder.  [default: backups/ there]")
@click.option("--keep", type=click.IntRange(1, 1000), default=7, show_default=True, help="How many a folder keeps.")
@click.option("--check", type=click.Path(path_type=Path, dir_okay=False), help="Only read one, and say if it is whole.")
def backup(workspace: Path, target: Path | None, keep: int, check: Path | None) -> None:
    """Keep records, weather and settings in one file, read back before it counts; others may work meanwhile.

    \b
    forecast backup --workspace grounds
    forecast backup --workspace grounds --to /mnt/stick
    forecast backup --check backups/backup-20500725T093000Z.zip
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.backup import back_up, read_backup, thin_out

    if check is not None:
        found = read_backup(check)
        click.echo(f"{check} is whole: made {found.made_utc} by version {found.version}, {_words(found.records)}")
        return
    moment = now()
    into = workspace / FOLDER if target is None else target
    alone = into.suffix == ".zip" and not into.is_dir()
    path = into if alone else into / f"backup-{moment:%Y%m%dT%H%M%SZ}.zip"
    made = back_up(workspace, path, moment)
    click.echo(f"{made.path}: {made.size_bytes / 1e6:.1f} MB, {_words(made.records)}; read back and whole")
    if not alone:
        for old in thin_out(into, keep):
            click.echo(f"took away {old}, older than the newest {keep}", err=True)


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
def restore(file: Path, folder: Path) -> None:
    """Put a backup FILE into FOLDER, which is new or empty.

    \b
    forecast restore backups/backup-20500725T093000Z.zip grounds-again
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.backup import restore as put

    found = put(file, folder)
    click.echo(f"{folder} stands as of {found.made_utc}: {_words(found.records)}")
    click.echo(f"next: forecast morning --workspace {folder}", err=True)


def _words(records: dict[str, int]) -> str:
    return ", ".join(f"{count} {name} record{'' if count == 1 else 's'}" for name, count in records.items())
