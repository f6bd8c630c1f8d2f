"""``forecast morning``."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from forecast.cli.common import open_workspace, page_moment, workspace_option, write_whole

if TYPE_CHECKING:
    from forecast.config import Settings
    from forecast.database import Database
    from forecast.errors import Notice


@click.command()
@workspace_option
@click.option("--as-of", metavar="MOMENT", help="Replay: what would have been told then, e.g. 2050-07-18T05:30.")
@click.option("--html", type=click.Path(path_type=Path, dir_okay=False), help="Write the page as one HTML file.")
@click.option("--json", "as_json", is_flag=True, help="Print the page as JSON (schema 5).")
@click.option("--offline", is_flag=True, help="Fetch nothing, even where a source is configured.")
def morning(workspace: Path, as_of: str | None, html: Path | None, *, as_json: bool, offline: bool) -> None:
    """Print the morning page: per area and disease treat, scout or hold, and why.

    \b
    forecast morning --workspace demo
    forecast morning --workspace demo --html page.html
    forecast morning --workspace demo --as-of 2050-06-02T05:30
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.desk.morning import morning as make_page

    settings, database = open_workspace(workspace)
    moment, replay = page_moment(settings, database, as_of)
    notices = [] if offline or replay else _fetch(settings, database, moment)
    page = make_page(settings, database, moment, replay=replay, notices=notices)
    if html is not None:
        from forecast.report.as_html import morning_html

        write_whole(html, morning_html(page))
        click.echo(f"wrote {html}", err=True)
    if as_json:
        from forecast.report.as_json import json_text

        click.echo(json_text(page))
    elif html is None:
        from forecast.report.as_text import morning_text

        click.echo(morning_text(page), nl=False)


def _fetch(settings: Settings, database: Database, moment: datetime) -> list[Notice]:
    """Bring every station with a source up to date; a source that is down leaves a notice, not an error."""
    if settings.grounds.weather_forecast is None and all(s.meteostat_id is None for s in settings.grounds.station):
        return []
    from forecast.desk.daily import bring_up_to_date

    return [notice for step in bring_up_to_date(settings, database, moment) for notice in step.notices]
