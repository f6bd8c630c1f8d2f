"""``forecast replay``."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from forecast.cli.common import open_workspace, progress, workspace_now, workspace_option


@click.command()
@click.argument("area")
@click.option("--disease", required=True, help="Key of the disease, e.g. brown_patch.")
@click.option("--from", "first", required=True, type=click.DateTime(["%Y-%m-%d"]), help="First morning.")
@click.option("--to", "last", type=click.DateTime(["%Y-%m-%d"]), help="Last morning; left out, the first alone.")
@click.option("--csv", "as_csv", is_flag=True, help="Print a row a morning as CSV.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON (schema 1).")
@workspace_option
def replay(
    area: str,
    disease: str,
    first: datetime,
    last: datetime | None,
    workspace: Path,
    *,
    as_csv: bool,
    as_json: bool,
) -> None:
    """Tell past mornings again from what was known on each, with what came afterwards.

    A whole morning page of the past is 'forecast morning --as-of', a whole outlook 'forecast outlook --as-of'.
    Each morning takes about a second.

    \b
    forecast replay north-field --disease brown_patch --from 2050-07-01 --to 2050-07-14 --workspace demo
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.desk.replaying import replayed
    from forecast.report.as_json import json_text
    from forecast.report.replay import replay_csv, replay_text

    if as_csv and as_json:
        raise click.UsageError("choose one of --csv and --json")
    settings, database = open_workspace(workspace)
    begin, end = first.date(), (last or first).date()
    with progress("mornings", max((end - begin).days + 1, 1)) as step:
        found = replayed(settings, database, workspace_now(settings), area, disease, begin, end, progress=step)
    if as_json:
        click.echo(json_text(found))
    else:
        click.echo(replay_csv(found) if as_csv else replay_text(found), nl=False)
