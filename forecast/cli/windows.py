"""``forecast windows``."""

from __future__ import annotations

from pathlib import Path

import click

from forecast.cli.common import open_workspace, page_moment, workspace_option, write_whole


@click.command()
@workspace_option
@click.option("--area", help="One area only, by id or name.")
@click.option("--as-of", metavar="MOMENT", help="Replay: what would have been told then, e.g. 2050-07-18T05:30.")
@click.option("--html", type=click.Path(path_type=Path, dir_okay=False), help="Write it as one HTML file.")
@click.option("--ics", type=click.Path(path_type=Path, dir_okay=False), help="Write the best stretches as a calendar.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON (schema 1), with every hour and its reasons.")
def windows(
    workspace: Path, area: str | None, as_of: str | None, html: Path | None, ics: Path | None, *, as_json: bool
) -> None:
    """Print by when prevention has to be down, and in which hours label, weather, light and crew let it be sprayed.

    \b
    forecast windows --workspace demo
    forecast windows --workspace demo --area north-field --html windows.html --ics windows.ics
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.desk.windows import windows as make_page
    from forecast.report.as_json import json_text
    from forecast.report.windows import windows_text

    settings, database = open_workspace(workspace)
    moment, replay = page_moment(settings, database, as_of)
    page = make_page(settings, database, moment, replay=replay, area_id=area)
    if html is not None:
        from forecast.report.as_html import windows_html

        write_whole(html, windows_html(page))
        click.echo(f"wrote {html}", err=True)
    if ics is not None:
        from forecast.report.calendar import windows_calendar

        write_whole(ics, windows_calendar(page))
        click.echo(f"wrote {ics}", err=True)
    if as_json or (html is None and ics is None):
        click.echo(json_text(page) if as_json else windows_text(page), nl=as_json)
