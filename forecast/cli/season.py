"""``forecast season``."""

from __future__ import annotations

from pathlib import Path

import click

from forecast.cli.common import open_workspace, page_moment, workspace_option


@click.command()
@workspace_option
@click.option("--area", help="One area only.")
@click.option("--disease", metavar="KEY", help="One disease only, e.g. brown_patch.")
@click.option("--as-of", metavar="MOMENT", help="Replay: what would have been told then, e.g. 2050-04-18T05:30.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON (schema 1).")
def season(workspace: Path, area: str | None, disease: str | None, as_of: str | None, *, as_json: bool) -> None:
    """Print when each disease's season opens, usually and this year, and by when prevention begins.

    It fetches nothing: run 'forecast daily' or 'forecast weather fetch' before.

    \b
    forecast season --workspace demo
    forecast season --workspace demo --area north-field --disease brown_patch --as-of 2050-04-18T05:30
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.desk.opening import season_page
    from forecast.report.as_json import json_text
    from forecast.report.opening_words import season_text

    settings, database = open_workspace(workspace)
    moment, replay = page_moment(settings, database, as_of)
    page = season_page(settings, database, moment, replay=replay, area_id=area, disease=disease)
    click.echo(json_text(page) if as_json else season_text(page), nl=as_json)
