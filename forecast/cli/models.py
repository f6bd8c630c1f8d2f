"""``forecast models``."""

from __future__ import annotations

import click


@click.command()
@click.option("--disease", metavar="KEY", help="Only the models of one disease, e.g. brown_patch.")
@click.option("--json", "as_json", is_flag=True, help="Print the catalogue as JSON (schema 1).")
def models(disease: str | None, *, as_json: bool) -> None:
    """Print the catalogue of disease models: inputs, thresholds, standing, numbers, sources.

    \b
    forecast models
    forecast models --disease dollar_spot
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.diseases import MODELS
    from forecast.report.as_json import json_text
    from forecast.report.catalogue import catalogue, catalogue_text
    from forecast.turf import DISEASES

    if disease is not None and disease not in DISEASES:
        raise click.BadParameter(f"known are {', '.join(DISEASES)}", param_hint="--disease")
    found = catalogue(MODELS, disease)
    click.echo(json_text(found) if as_json else catalogue_text(found), nl=as_json)
