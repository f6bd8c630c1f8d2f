"""``forecast weather check``, ``export``, ``withdraw`` and ``give-back``: what the weather is worth."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from forecast.cli.common import open_workspace, site_moment, workspace_now, workspace_option, write_whole

if TYPE_CHECKING:
    import numpy as np

    from forecast.config import Settings

_MOMENT = "e.g. 2050-05-01 or 2050-05-01T06:00, clock time of the site."


@click.command()
@workspace_option
@click.option("--station", required=True, help="Id of the station in grounds.toml.")
@click.option("--from", "first", metavar="MOMENT", help=f"Look at hours from then on, {_MOMENT}")
@click.option("--to", "last", metavar="MOMENT", help="Look at hours until then.")
@click.option(
    "--picture",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Draw the hours looked at as .png or .svg: one season reads best.",
)
@click.option("--json", "as_json", is_flag=True, help="Print as JSON (schema 1).")
def check(
    workspace: Path, station: str, first: str | None, last: str | None, picture: Path | None, *, as_json: bool
) -> None:
    """Tell what a station's record is worth: for wet hours first, then what checks marked, then what is missing.

    \b
    forecast weather check --station alder-reach --workspace demo
    forecast weather check --station alder-reach --workspace demo --from 2050-04-01 --to 2050-10-31 --picture 2050.png
    """  # noqa: D301
    from forecast.desk.station import check_station

    if picture is not None and picture.suffix.lower() not in {".png", ".svg"}:
        raise click.UsageError("--picture takes a name that ends in .png or .svg")
    settings, database = open_workspace(workspace)
    report, panel = check_station(
        settings, database, station, first=_stamp(first, settings), last=_stamp(last, settings, at_end=True)
    )
    if picture is not None:
        from forecast.report.season_picture import season_picture
        from forecast.report.station import provider_words

        year = report.last_hour_utc.year
        drawn = season_picture(
            panel,
            report.name,
            f"Source: {' · '.join(provider_words(provider) for provider in report.providers)}",
            us=settings.grounds.units == "us",
            zone=settings.grounds.zone,
            standard_offset_minutes=settings.grounds.standard_offset_minutes(year),
            kind="svg" if picture.suffix.lower() == ".svg" else "png",
        )
        write_whole(picture, drawn)
        click.echo(f"wrote {picture}", err=True)
    if as_json:
        from forecast.report.as_json import json_text

        click.echo(json_text(report))
    else:
        from forecast.report.station import station_text

        click.echo(station_text(report), nl=False)


@click.command()
@workspace_option
@click.option("--place", help="Place id: a station, or one of the properties' own; the first when left out.")
@click.option("--from", "first", metavar="MOMENT", help=f"From then on, {_MOMENT}")
@click.option("--to", "last", metavar="MOMENT", help="Until then.")
@click.option("--raw", is_flag=True, help="A station's hours as they came, without checks and fills.")
def export(workspace: Path, place: str | None, first: str | None, last: str | None, *, raw: bool) -> None:
    """Print hours as CSV with flag and origin: what 'forecast weather load' reads without a mapping."""
    from forecast.desk.export import export_csv

    settings, database = open_workspace(workspace)
    text, owed_to = export_csv(
        settings, database, place, _stamp(first, settings), _stamp(last, settings, at_end=True), raw=raw
    )
    click.echo(text, nl=False)
    for credit in owed_to:
        click.echo(f"source: {credit}", err=True)


@click.command()
@workspace_option
@click.option("--station", required=True, help="Id of the station in grounds.toml.")
@click.option("--quantity", required=True, help="Such as relative_humidity_pct.")
@click.option("--from", "first", required=True, metavar="MOMENT", help=f"From then on, {_MOMENT}")
@click.option("--to", "last", metavar="MOMENT", help="Until then; until given back when left out.")
@click.option("--reason", required=True, help="What was found, for whoever reads it next year.")
@click.option("--by", "by_whom", default="", help="Who says so.")
def withdraw(
    workspace: Path, station: str, quantity: str, first: str, last: str | None, reason: str, by_whom: str
) -> None:
    """Take a station's quantity out between two moments; another station takes over where there is one.

    \b
    forecast weather withdraw --station alder-reach --quantity relative_humidity_pct \\
        --from 2050-05-01 --to 2050-06-12 --reason "sensor never above 88 %" --workspace demo
    """  # noqa: D301
    from forecast.desk.withdrawing import withdraw as take_out

    settings, database = open_workspace(workspace)
    begin = _stamp(first, settings)
    if begin is None:
        raise click.UsageError("--from needs a moment")
    taken = take_out(
        settings,
        database,
        station,
        quantity,
        begin,
        _stamp(last, settings, at_end=True),
        reason=reason,
        by_whom=by_whom,
        now=workspace_now(settings),
    )
    click.echo(f"withdrawal {taken.number} written down: it takes out {taken.values} values")
    if taken.other_humidity is not None:
        click.echo(
            f"note: {taken.other_humidity} of this station stands, and humidity is told from it; withdraw it too if "
            "the sensor is the same",
            err=True,
        )


@click.command("give-back")
@workspace_option
@click.argument("number", type=click.IntRange(1, 2**31))
@click.option("--reason", required=True)
@click.option("--by", "by_whom", default="", help="Who says so.")
def give_back(workspace: Path, number: int, reason: str, by_whom: str) -> None:
    """Give withdrawal NUMBER back; both records stay readable."""
    from forecast.ingest.keep import withdrawals

    settings, database = open_workspace(workspace)
    withdrawals.give_back(database, number, reason=reason, by_whom=by_whom, now=workspace_now(settings))
    click.echo(f"withdrawal {number} given back")


def _stamp(text: str | None, settings: Settings, *, at_end: bool = False) -> np.datetime64 | None:
    """A typed moment as the stamp of the hour that holds it; a bare date means its first or its last hour.

    Where the clock stands off the hour, a day ends at the last UTC stamp not after its midnight.
    """
    if text is None:
        return None
    from datetime import date, timedelta

    import numpy as np

    from forecast.clock import utc_minute

    moment = site_moment(text, settings)
    hour = np.timedelta64(1, "h")
    stamp: np.datetime64
    try:
        date.fromisoformat(text.strip())
    except ValueError:
        minute = utc_minute(moment)
        stamp = minute.astype("datetime64[h]")
        return stamp if stamp == minute else stamp + hour
    stamp = utc_minute(moment + timedelta(days=1) if at_end else moment).astype("datetime64[h]")
    return stamp if at_end else stamp + hour
