"""``forecast weather map``: a mapping file proposed for a logger's export."""

from __future__ import annotations

from pathlib import Path

import click

from forecast.cli.common import DONE_IN_PART, write_whole


@click.command("map")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--out", type=click.Path(path_type=Path, dir_okay=False), help="Write the mapping there; else it is printed."
)
@click.option("--overwrite", is_flag=True, help="Write over a mapping that is there.")
@click.option(
    "--answer",
    "answers",
    multiple=True,
    metavar="KEY=VALUE",
    help="Answer a question, e.g. --answer time_zone=America/New_York; may repeat.",
)
def map_(file: Path, out: Path | None, answers: tuple[str, ...], *, overwrite: bool) -> None:
    """Propose how to read FILE: a mapping to check and keep, a preview, and what the file cannot tell.

    What it cannot know it asks, and leaves out of the mapping until it is told. Exit code 3 while questions are open.

    \b
    forecast weather map export.csv --out logger.toml
    forecast weather map export.csv --out logger.toml --overwrite \\
        --answer time_zone=America/New_York --answer label=end
    """  # noqa: D301
    from forecast.errors import CannotWriteError
    from forecast.ingest.logger.propose import propose

    if out is not None and out.exists() and not overwrite:
        raise CannotWriteError(f"{out} is there already", hint="name another file, or say --overwrite")

    given = {}
    for answer in answers:
        key, equals, value = answer.partition("=")
        if not equals:
            raise click.UsageError(f"--answer wants KEY=VALUE, not {answer!r}")
        given[key.strip()] = value.strip()
    proposal = propose(file, answers=given)
    if out is None:
        click.echo(proposal.text, nl=False)
    else:
        write_whole(out, proposal.text)
        click.echo(f"wrote {out}", err=True)
    click.echo(proposal.preview, err=True)
    for question in proposal.questions:
        click.echo(f"asked: {question}", err=True)
    if not proposal.is_complete:
        click.echo("not complete: answer what is asked with --answer, or fill in the mapping by hand", err=True)
        raise SystemExit(DONE_IN_PART)
