"""``forecast outlook``."""

from __future__ import annotations

from pathlib import Path

import click

from forecast.cli.common import open_workspace, page_moment, workspace_option, write_whole


@click.command()
@workspace_option
@click.option("--area", help="One area only.")
@click.option("--as-of", metavar="MOMENT", help="Replay: what would have been told then, e.g. 2050-07-18T05:30.")
@click.option("--html", type=click.Path(path_type=Path, dir_okay=False), help="Write it as one HTML file.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON (schema 2).")
def outlook(workspace: Path, area: str | None, as_of: str | None, html: Path | None, *, as_json: bool) -> None:
    """Print the chance of disease weather for each day of the next two weeks, and how sure it is.

    It fetches nothing: run 'forecast daily' or 'forecast weather fetch' before.

    \b
    forecast outlook --workspace demo
    forecast outlook --workspace demo --area north-field --html outlook.html
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.desk.outlook import outlook as make_page

    settings, database = open_workspace(workspace)
    moment, replay = page_moment(settings, database, as_of)
    page = make_page(settings, database, moment, replay=replay, area_id=area)
    if html is not None:
        from forecast.report.as_html import outlook_html

        write_whole(html, outlook_html(page))
        click.echo(f"wrote {html}", err=True)
    if as_json:
        from forecast.report.as_json import json_text

        click.echo(json_text(page))
    elif html is None:
        from forecast.report.outlook import outlook_text

        click.echo(outlook_text(page), nl=False)
