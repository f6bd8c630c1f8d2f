"""``forecast scout``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from forecast.cli.common import now, open_workspace, workspace_now, workspace_option

if TYPE_CHECKING:
    from forecast.report.scouting import ScoutingReport


@click.command()
@click.argument("area", required=False)
@workspace_option
@click.option("--disease", metavar="KEY", help="Only one disease, in season or not, e.g. brown_patch.")
@click.option("--month", type=click.IntRange(1, 12), help="A month other than this one, 1 to 12.")
@click.option("--grass", metavar="KEY", help="In place of an area: a grass, e.g. tall_fescue; needs no workspace.")
@click.option("--southern", is_flag=True, help="With --grass: the seasons of the southern hemisphere.")
@click.option("--full", is_flag=True, help="Every check with its source; so with --disease anyhow.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON (schema 1).")
def scout(
    area: str | None,
    workspace: Path,
    disease: str | None,
    month: int | None,
    grass: str | None,
    *,
    southern: bool,
    full: bool,
    as_json: bool,
) -> None:
    """Print what to look for on AREA this month, where first, and how to tell it from what is no disease.

    \b
    forecast scout north-field --workspace demo
    forecast scout green --workspace demo --disease dollar_spot
    forecast scout --grass zoysiagrass --month 10
    forecast scout --workspace demo
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.report.as_json import json_text
    from forecast.report.scouting import areas_text, scouting_text

    if area is not None and grass is not None:
        raise click.UsageError("name an area or a grass, not both")
    if southern and grass is None:
        raise click.UsageError("--southern goes with --grass; an area's own latitude tells its hemisphere")
    if area is None and grass is None:
        if disease is not None or month is not None:
            raise click.UsageError("name an area, or a grass with --grass")
        from forecast.desk.scouting import scoutable_areas

        settings, _ = open_workspace(workspace)
        areas = scoutable_areas(settings)
        click.echo(json_text(areas) if as_json else areas_text(areas), nl=as_json)
        return
    report = _report(area, workspace, disease, month, grass, southern=southern)
    folder = "" if area is None or workspace == Path() else str(workspace)
    text = json_text(report) if as_json else scouting_text(report, folder, full=full or disease is not None)
    click.echo(text, nl=as_json)


def _report(
    area: str | None, workspace: Path, disease: str | None, month: int | None, grass: str | None, *, southern: bool
) -> ScoutingReport:
    from forecast.desk.scouting import area_guide, grass_guide

    if area is None:
        return grass_guide(grass or "", now().astimezone(), southern=southern, disease=disease, month=month)
    settings, database = open_workspace(workspace)
    return area_guide(settings, database, workspace_now(settings), area, disease=disease, month=month)
