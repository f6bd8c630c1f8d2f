"""``forecast pressure``."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from forecast.cli.common import open_workspace, page_moment, workspace_option


@click.command()
@click.argument("area")
@workspace_option
@click.option("--day", type=click.DateTime(["%Y-%m-%d"]), help="A day that has been; left out, today.")
@click.option("--as-of", metavar="MOMENT", help="Replay: from what was known then, e.g. 2050-07-18T05:30.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON (schema 1).")
def pressure(area: str, workspace: Path, day: datetime | None, as_of: str | None, *, as_json: bool) -> None:
    """Print every model's answer for one area and day: inputs, threshold, distance, and what would turn it.

    \b
    forecast pressure north-field --workspace demo
    forecast pressure north-field --workspace demo --day 2050-07-20
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.desk.pressure import area_pressure
    from forecast.report.as_json import json_text
    from forecast.report.pressure import pressure_text

    settings, database = open_workspace(workspace)
    moment, _ = page_moment(settings, database, as_of)
    found = area_pressure(settings, database, moment, area, None if day is None else day.date())
    click.echo(json_text(found) if as_json else pressure_text(found), nl=as_json)
