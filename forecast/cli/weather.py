"""``forecast weather``: load, fetch, list."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from forecast.cli.common import now, open_workspace, workspace_option

if TYPE_CHECKING:
    from forecast.errors import Notice
    from forecast.ingest.store import Written


@click.group()
def weather() -> None:
    """Bring in hourly weather and see what is there."""


@weather.command()
@workspace_option
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--station", required=True, help="Id of the station in grounds.toml.")
@click.option("--map", "mapping", type=click.Path(path_type=Path, dir_okay=False), help="Mapping file (TOML).")
@click.option("--replace", is_flag=True, help="Let new values take the place of others that stand there.")
def load(workspace: Path, file: Path, station: str, mapping: Path | None, *, replace: bool) -> None:
    """Load hourly weather from a CSV FILE, plain or gzip-packed, whole or not at all.

    \b
    forecast weather load export.csv --station field --map logger.toml
    """  # noqa: D301
    from forecast.desk import intake

    settings, database = open_workspace(workspace)
    written, notices = intake.load(settings, database, station, file, mapping, now(), replace=replace)
    _tell(written, notices)


@weather.command()
@workspace_option
@click.option("--station", required=True, help="Id of the station in grounds.toml.")
@click.option("--from-year", type=click.IntRange(1900, 2200), help="First calendar year; this year when left out.")
@click.option("--to-year", type=click.IntRange(1900, 2200), help="Last calendar year; this year when left out.")
def fetch(workspace: Path, station: str, from_year: int | None, to_year: int | None) -> None:
    """Fetch observed hours of whole years from the station's Meteostat id."""
    from forecast.desk import intake

    settings, database = open_workspace(workspace)
    moment = now()
    last = to_year or moment.year
    first = from_year or last
    if first > last:
        raise click.UsageError("--from-year is after --to-year")
    written, notices = intake.fetch(settings, database, settings.station(station), range(first, last + 1), moment)
    _tell(written, notices)


@weather.command("list")
@workspace_option
def list_(workspace: Path) -> None:
    """List what is stored: station, quantity, first and last hour, hours known."""
    import numpy as np

    from forecast.ingest.store import read_hours

    settings, database = open_workspace(workspace)
    click.echo("station,quantity,first_hour_utc,last_hour_utc,hours_known")
    for station in settings.grounds.station:
        panel = read_hours(database, (station.id,))
        for name in panel.values if panel is not None else ():
            known = np.flatnonzero(~np.isnan(panel.values[name][:, 0])) if panel is not None else np.array([], int)
            if panel is not None and known.size:
                first, last = panel.hours[known[0]], panel.hours[known[-1]]
                click.echo(f"{station.id},{name},{first}:00Z,{last}:00Z,{known.size}")


def _tell(written: Written, notices: tuple[Notice, ...]) -> None:
    click.echo(f"{written.new} new values, {written.same} already there, {written.changed} replaced", err=True)
    for notice in notices:
        click.echo(f"note: {notice.text}", err=True)
