"""``forecast weather``: bring weather in, see what is there, hand it on."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from forecast.cli.common import DONE_IN_PART, now, open_workspace, progress, workspace_now, workspace_option
from forecast.cli.weather_check import check, export, give_back, withdraw
from forecast.cli.weather_map import map_

if TYPE_CHECKING:
    from forecast.desk.daily import Step
    from forecast.desk.intake import Intake
    from forecast.errors import Notice

FORMS = ("csv", "ghcnh", "typical_year", "hour_columns", "grid_intervals")


@click.group()
def weather() -> None:
    """Bring in hourly weather, see what it is worth, take out what is wrong."""


for _command in (map_, check, export, withdraw, give_back):
    weather.add_command(_command)


@weather.command()
@workspace_option
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--station", required=True, help="Id of the station in grounds.toml.")
@click.option("--map", "mapping", type=click.Path(path_type=Path, dir_okay=False), help="Mapping file (TOML).")
@click.option(
    "--form",
    type=click.Choice(FORMS),
    help="What kind of file: by its ending when left out (.psv ghcnh, .epw typical_year, else csv).",
)
@click.option("--replace", is_flag=True, help="Let new values take the place of others; replays still see the old.")
def load(workspace: Path, file: Path, station: str, mapping: Path | None, form: str | None, *, replace: bool) -> None:
    """Load a weather FILE, whole or not at all.

    \b
    forecast weather load export.csv --station field --map logger.toml
    forecast weather load GHCNh_USW00014827_2024.psv --station airport
    forecast weather load town.epw --station field          # climate only
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.desk import intake

    settings, database = open_workspace(workspace)
    moment = workspace_now(settings)
    done = intake.load(settings, database, station, file, moment, mapping=mapping, form=form, replace=replace)
    if done.written is None and done.issue is None:
        click.echo("kept; nothing of it counts as observed", err=True)
    tell(done)


@weather.command()
@workspace_option
@click.option(
    "--station", "stations", multiple=True, help="Id of a station; may repeat. All with a source when left out."
)
@click.option("--from-year", type=click.IntRange(1900, 2200), help="First calendar year; the last one when left out.")
@click.option("--to-year", type=click.IntRange(1900, 2200), help="Last calendar year; this year when left out.")
def fetch(workspace: Path, stations: tuple[str, ...], from_year: int | None, to_year: int | None) -> None:
    """Fetch hours from the stations' sources, and the newest weather forecast where one is set.

    Years that were fetched before are asked for only if they changed. Exit code 3 when a source failed or an old copy
    had to do, while others came.
    """
    from forecast.desk import intake
    from forecast.desk.daily import tried
    from forecast.desk.places import nearest_station

    settings, database = open_workspace(workspace)
    moment = now()
    last = to_year or moment.year
    first = from_year or last
    if first > last:
        raise click.UsageError("--from-year is after --to-year")
    chosen = [settings.station(one) for one in stations] or [
        one for one in settings.grounds.station if one.meteostat_id is not None
    ]
    if not chosen and settings.grounds.weather_forecast is None:
        raise click.UsageError("no station has a source: set meteostat_id in grounds.toml, or load a file")
    steps = []
    for station in chosen:
        label = f"{station.name}, {first} to {last}"
        with progress(label, last - first + 1) as told:
            work = partial(intake.fetch, settings, database, station, range(first, last + 1), moment, told=told)
            steps.append(tried(label, station, work))
        _tell_step(steps[-1])
    if settings.grounds.weather_forecast is not None:
        foretold = {nearest_station(settings, place_id) for place_id in settings.places}
        for station in settings.grounds.station:
            if station.id not in foretold or (stations and station.id not in stations):
                continue
            work = partial(intake.fetch_weather_forecast, settings, database, station, moment)
            steps.append(tried(f"weather forecast for {station.name}", station, work))
            _tell_step(steps[-1])
    errors = [step.error for step in steps if step.error is not None]
    if len(errors) == len(steps):
        raise errors[-1]
    if not all(step.is_whole for step in steps):
        raise SystemExit(DONE_IN_PART)


def _tell_step(step: Step) -> None:
    if step.intake is not None:
        tell(step.intake)
    else:
        click.echo(f"FAILED: {step.what}: {step.error}", err=True)


@weather.command("list")
@workspace_option
@click.option("--json", "as_json", is_flag=True, help="Print as JSON (schema 1).")
def list_(workspace: Path, *, as_json: bool) -> None:
    """List what is stored: hours, forecasts, imports, withdrawals."""
    import json

    from forecast.desk import inventory

    settings, database = open_workspace(workspace)
    found = inventory.inventory(settings, database)
    if as_json:
        click.echo(json.dumps({"schema": 1, **found}, ensure_ascii=False, indent=2))
        return
    for heading, rows in found.items():
        click.echo(heading.replace("_", " ").upper())
        _table(rows)


def _table(rows: Sequence[dict[str, object]]) -> None:
    """Rows under their names, in columns as wide as they need."""
    if not rows:
        click.echo("  none")
        return
    texts = [list(rows[0])] + [["" if value is None else str(value) for value in row.values()] for row in rows]
    widths = [max(len(text[column]) for text in texts) for column in range(len(texts[0]))]
    for text in texts:
        click.echo("  " + "  ".join(cell.ljust(width) for cell, width in zip(text, widths, strict=True)).rstrip())


def tell(done: Intake) -> None:
    """What came in, to standard error."""
    if done.written is not None:
        written = done.written
        click.echo(f"{written.new} new values, {written.same} already there, {written.changed} replaced", err=True)
    if done.issue is not None:
        click.echo(f"weather forecast archived as number {done.issue}", err=True)
    tell_notices(done.notices)


def tell_notices(notices: Sequence[Notice]) -> None:
    """Each notice on a line of its own, to standard error."""
    for notice in notices:
        click.echo(f"note: {notice.text}", err=True)
