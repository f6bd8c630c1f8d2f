"""``forecast wetness``."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from forecast.cli.common import open_workspace, page_moment, workspace_option, write_whole

if TYPE_CHECKING:
    from forecast.report.wetness import WetnessView

SEED = 20500725  # of the draws behind the intervals: fixed, so that the same record tells the same; any would do


@click.command()
@click.argument("area")
@workspace_option
@click.option("--from", "first", type=click.DateTime(["%Y-%m-%d"]), help="First night, by the date of its morning.")
@click.option("--to", "last", type=click.DateTime(["%Y-%m-%d"]), help="Last night.")
@click.option("--sensor", metavar="STATION", help="Station whose leaf wetness to compare; left out, the nearest.")
@click.option(
    "--picture", type=click.Path(path_type=Path, dir_okay=False), help="Draw wet hours by month as .png or .svg."
)
@click.option("--as-of", metavar="MOMENT", help="Replay: from what was known then, e.g. 2050-07-18T05:30.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON (schema 1).")
def wetness(
    area: str,
    workspace: Path,
    first: datetime | None,
    last: datetime | None,
    sensor: str | None,
    picture: Path | None,
    as_of: str | None,
    *,
    as_json: bool,
) -> None:
    """Print wet hours of one area by every method, and how each agrees with a sensor of your own.

    \b
    forecast wetness north-field --workspace demo
    forecast wetness north-field --workspace demo --from 2050-05-01 --to 2050-07-24 --picture wet.png
    """  # noqa: D301 - \b is click's own mark for lines to keep
    import numpy as np

    from forecast.desk.wetness import area_wetness
    from forecast.report.as_json import json_text
    from forecast.report.wetness import wetness_text

    if picture is not None and picture.suffix.lower() not in {".png", ".svg"}:
        raise click.UsageError("--picture takes a name that ends in .png or .svg")
    if first is not None and last is not None and first > last:
        raise click.UsageError("--from is after --to")
    settings, database = open_workspace(workspace)
    moment, _ = page_moment(settings, database, as_of)
    found = area_wetness(
        settings,
        database,
        moment,
        area,
        np.random.default_rng(SEED),
        first=None if first is None else first.date(),
        last=None if last is None else last.date(),
        sensor=sensor,
    )
    if picture is not None:
        write_whole(picture, _drawn(found, picture))
        click.echo(f"wrote {picture}", err=True)
    click.echo(json_text(found) if as_json else wetness_text(found), nl=as_json)


def _drawn(found: WetnessView, picture: Path) -> bytes:
    import numpy as np

    from forecast.report.wetness_picture import wetness_picture

    if not found.shown:
        raise click.UsageError("no night is known whole, so there is nothing to draw")
    invented = ", invented" if found.invented else ""
    return wetness_picture(
        {one.method: np.array(one.wet_h_day, np.float64) for one in found.shown},
        f"Wet hours a day on {found.area_name}, {found.property_name}{invented}, {found.first_night} to "
        f"{found.last_night}",
        f"Source: {' · '.join(found.credits)}",
        found.goes_by.method,
        "svg" if picture.suffix.lower() == ".svg" else "png",
    )
