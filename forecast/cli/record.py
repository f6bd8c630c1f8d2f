"""``forecast record``: application, scouting, lab-result, void, list."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from forecast.cli.common import open_workspace, site_moment, workspace_now, workspace_option


@click.group()
def record() -> None:
    """Write down what was applied and what was seen; records are added, never rewritten."""


@record.command()
@workspace_option
@click.argument("area")
@click.option("--label", "label_key", required=True, help="Key of the label in labels.toml.")
@click.option("--disease", "diseases", multiple=True, required=True, help="Disease it was made against; may repeat.")
@click.option(
    "--condition",
    type=click.Choice(["preventive", "established", "very hot and humid"]),
    default="preventive",
    show_default=True,
    help="Which row of the label it was made by.",
)
@click.option("--on", "moment", required=True, metavar="MOMENT", help="When, e.g. 2050-07-18T07:00.")
@click.option("--amount", help="Product over the whole area, e.g. '10 fl oz' or '300 mL'.")
@click.option("--by", "by_whom", default="", help="Who applied it.")
@click.option("--note", default="")
@click.option("--amends", type=int, help="Number of the record that this one takes the place of.")
def application(
    workspace: Path,
    area: str,
    label_key: str,
    diseases: tuple[str, ...],
    condition: str,
    moment: str,
    amount: str | None,
    by_whom: str,
    note: str,
    amends: int | None,
) -> None:
    """Record an application on AREA.

    \b
    forecast record application north-field --label alder-one --disease brown_patch \\
        --on 2050-07-18T07:00 --amount "60 fl oz" --by "R. Quill"
    """  # noqa: D301
    from forecast.desk import journal
    from forecast.records import Entry

    settings, database = open_workspace(workspace)
    entry = Entry(area, site_moment(moment, settings), by_whom, note, amends)
    number, deviations = journal.add_application(
        settings, database, entry, label_key, diseases, condition, amount, workspace_now(settings)
    )
    click.echo(f"application {number} recorded")
    for deviation in deviations:
        click.echo(f"deviation from the label: {deviation}", err=True)


@record.command()
@workspace_option
@click.argument("area")
@click.option(
    "--saw",
    multiple=True,
    required=True,
    help="'nothing', a disease, or what is none: a look-alike such as drought or dog_urine, 'other_disease', "
    "'unknown'. May repeat, with one disease at most.",
)
@click.option("--sure/--not-sure", default=False, help="Whether the diagnosis is sure.", show_default=True)
@click.option("--on", "moment", required=True, metavar="MOMENT", help="When, e.g. 2050-07-18T06:10.")
@click.option("--severity-pct", type=click.FloatRange(0, 100), help="Share of the area affected.")
@click.option("--patch-size", help="How wide a usual patch is, e.g. '12 in' or '30 cm'.")
@click.option("--threads/--no-threads", default=None, help="Whether white threads stood in the dew at dawn.")
@click.option("--lab", default="", help="Who was sent a sample; the answer follows with 'record lab-result'.")
@click.option("--by", "by_whom", default="", help="Who looked.")
@click.option("--note", default="")
@click.option("--amends", type=int, help="Number of the record that this one takes the place of.")
def scouting(
    workspace: Path,
    area: str,
    saw: tuple[str, ...],
    moment: str,
    severity_pct: float | None,
    patch_size: str | None,
    threads: bool | None,
    lab: str,
    by_whom: str,
    note: str,
    amends: int | None,
    *,
    sure: bool,
) -> None:
    """Record a look at AREA; nothing seen counts as an entry, and a look-alike never counts as a disease.

    \b
    forecast record scouting north-field --saw nothing --on 2050-07-18T05:40
    forecast record scouting north-field --saw brown_patch --threads --patch-size "12 in" \\
        --severity-pct 3 --lab "State plant clinic" --on 2050-07-18T05:40
    forecast record scouting north-field --saw drought --note "south slope" --on 2050-07-18T05:40
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.desk import journal
    from forecast.records import Entry

    settings, database = open_workspace(workspace)
    entry = Entry(area, site_moment(moment, settings), by_whom, note, amends)
    number = journal.add_scouting(
        settings,
        database,
        entry,
        saw,
        workspace_now(settings),
        sure=sure,
        severity_pct=severity_pct,
        patch_size=patch_size,
        threads=threads,
        lab=lab,
    )
    click.echo(f"scouting {number} recorded")


@record.command("lab-result")
@workspace_option
@click.argument("number", type=int)
@click.option("--found", multiple=True, required=True, help="What the lab found, in the words of --saw.")
@click.option("--on", "day", type=click.DateTime(["%Y-%m-%d"]), help="The day it came; left out, today.")
@click.option("--words", default="", help="The lab's own words.")
@click.option("--lab", default="", help="Who answered, where the record names no lab.")
def lab_result(
    workspace: Path, number: int, found: tuple[str, ...], day: datetime | None, words: str, lab: str
) -> None:
    """Record what a lab found in the sample of scouting record NUMBER; it amends that record.

    \b
    forecast record lab-result 3 --found brown_patch --words "Rhizoctonia solani, AG 2-2 IIIB"
    forecast record lab-result 3 --found drought --words "no pathogen found"
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.desk import journal

    settings, database = open_workspace(workspace)
    moment = workspace_now(settings)
    today = moment.astimezone(settings.grounds.zone).date()
    on = today if day is None else day.date()
    new = journal.add_lab_result(database, number, found, on, moment, today=today, words=words, lab=lab)
    click.echo(f"scouting {number} amended by scouting {new}")


@record.command()
@workspace_option
@click.argument("kind", type=click.Choice(["application", "scouting"]))
@click.argument("number", type=int)
@click.option("--reason", required=True)
def void(workspace: Path, kind: str, number: int, reason: str) -> None:
    """Take record NUMBER back, with a reason; both stay readable."""
    from forecast import records, tables

    settings, database = open_workspace(workspace)
    table = tables.APPLICATIONS if kind == "application" else tables.SCOUTINGS
    new = records.void(database, table, number, reason, workspace_now(settings))
    click.echo(f"{kind} {number} taken back by {kind} {new}")


@record.command("list")
@workspace_option
@click.option("--area", help="One area only, by id or name.")
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def list_(workspace: Path, area: str | None, *, as_json: bool) -> None:
    """List every record, amended and taken-back ones too, with clock times of the site."""
    import json

    from forecast.desk import journal

    settings, database = open_workspace(workspace)
    rows = journal.rows(database, us=settings.grounds.units == "us")
    if area is not None:
        wanted = journal.area_named(settings, area).area_id
        rows = [row for row in rows if row["area_id"] == wanted]
    if as_json:
        click.echo(json.dumps({"schema": 1, "records": rows}, ensure_ascii=False, indent=2))
        return
    amended_by = {(row["kind"], row["amends"]): row["record_id"] for row in rows}
    for row in rows:
        later = amended_by.get((row["kind"], row["record_id"]))
        happened = datetime.fromisoformat(str(row["happened_utc"])).astimezone(settings.grounds.zone)
        parts = [f"{row['kind']} {row['record_id']}: {happened:%Y-%m-%d %H:%M} {row['area_id']} {row['what']}"]
        deviations = row.get("deviations")
        parts += [f"deviates: {one}" for one in deviations] if isinstance(deviations, list) else []
        parts += [f"by {row['by_whom']}"] if row["by_whom"] else []
        parts += [f'"{row["note"]}"'] if row["note"] else []
        parts += [f"amends {row['amends']}"] if row["amends"] else []
        parts += [f"taken back: {row['void_reason']}"] if row["void_reason"] else []
        parts += [f"no longer stands, see {later}"] if later else []
        click.echo(", ".join(parts))
