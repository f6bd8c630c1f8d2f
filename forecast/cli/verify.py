"""``forecast verify``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from forecast.cli.common import open_workspace, workspace_now, workspace_option, write_whole

FITS_WELL_EVERY_DAYS = 7  # house choice: above it a season has too few mornings to fit on without a word


@click.command()
@workspace_option
@click.option("--area", help="One area; left out, the first area of each place and event.")
@click.option(
    "--every", "every_days", type=click.IntRange(1, 30), default=3, show_default=True, help="One morning in so many."
)
@click.option(
    "--emulate",
    type=click.Choice(["typical", "low"]),
    help="Beside what was archived: what a weather forecast of this assumed skill would be worth.",
)
@click.option("--openings", is_flag=True, help="Also how good told openings of the season were.")
@click.option("--keep", is_flag=True, help="From now on let pages go by what was fitted here.")
@click.option(
    "--html", type=click.Path(path_type=Path, dir_okay=False), help="Write it as one HTML file, with pictures."
)
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON (schema 1).")
def verify(
    workspace: Path,
    area: str | None,
    every_days: int,
    emulate: str | None,
    html: Path | None,
    *,
    openings: bool,
    keep: bool,
    as_json: bool,
) -> None:
    """Tell past mornings again, and print how good the chances were by days ahead.

    Each season is left out whole and told from the others. Ten years take about a minute a place.

    \b
    forecast verify --workspace demo --area north-field
    forecast verify --workspace demo --html verify.html --keep
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast import records
    from forecast.desk.calibrations import own_file, read_fits, with_fit
    from forecast.desk.verifying import verify as make
    from forecast.verify.emulate import LOW, TYPICAL

    settings, database = open_workspace(workspace)
    moment = workspace_now(settings)
    provider = {"typical": TYPICAL, "low": LOW}.get(emulate or "")
    found = make(
        settings,
        database,
        moment,
        area_id=area,
        every_days=every_days,
        emulated=provider,
        openings=openings,
        progress=_told_on_stderr,
    )
    if keep:
        path = own_file(settings)
        fits = read_fits(path) if path.exists() else []
        write_whole(path, with_fit(fits, moment.strftime(records.UTC_FORM), found.tables))
        click.echo(
            f"{len(found.tables)} fitted and kept in {path}: chances made from readings go by them from now on, those "
            "made with a weather forecast once three seasons of forecasts are archived; delete the file to go back",
            err=True,
        )
        if every_days > FITS_WELL_EVERY_DAYS:
            click.echo(
                f"note: these rest on one morning in {every_days} only; with --every 3 they rest on more", err=True
            )
    if html is not None:
        from forecast.report.verify_page import verify_html

        write_whole(html, verify_html(found.report))
        click.echo(f"wrote {html}", err=True)
    if as_json:
        from forecast.report.as_json import json_text

        click.echo(json_text(found.report))
    elif html is None:
        from forecast.report.verify import verify_text

        click.echo(verify_text(found.report), nl=False)


class _Counter:
    """How far it is, on standard error: season by season on a terminal, elsewhere a line when all are told."""

    def __init__(self, label: str, length: int) -> None:
        self.label, self.length, self.done = label, length, 0

    def __call__(self, _: object) -> None:
        self.done += 1
        if sys.stderr.isatty():
            end = "\n" if self.done >= self.length else ""
            click.echo(f"\r{self.label}: season {self.done} of {self.length}{end}", err=True, nl=False)
        elif self.done == self.length:
            click.echo(f"{self.label}: {self.length} seasons told again", err=True)


def _told_on_stderr(label: str, length: int) -> _Counter:
    return _Counter(label, length)
