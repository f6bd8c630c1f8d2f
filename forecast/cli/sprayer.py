"""``forecast sprayer``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import click

from forecast.cli.typed import CARRIER, FLOW, LENGTH, SECONDS, SPEED, SURFACE, VOLUME

if TYPE_CHECKING:
    from forecast.desk.spraying import Caught, Course, Flowing, Sprayed

_WAYS = {
    "a surface sprayed": ("sprayed_l", "size_m2"),
    "a catch and a pace": ("caught_l", "caught_s", "took_s", "size_m2"),
    "a flow and a speed": ("flow_l_s", "speed_m_s", "width_m"),
    "a strip to drive": ("width_m",),
}
_OPTIONS = {
    "sprayed_l": "--sprayed", "size_m2": "--on", "caught_l": "--caught", "caught_s": "--in", "took_s": "--took",
    "flow_l_s": "--flow", "speed_m_s": "--speed", "width_m": "--width",
}  # fmt: skip


@click.command()
@click.option("--wanted", type=CARRIER, help="Mix that the label wants, e.g. '1 gal/1000 sq ft'.")
@click.option("--sprayed", "sprayed_l", type=VOLUME, help="Water that a measured surface took, e.g. '0.5 gal'.")
@click.option("--on", "size_m2", type=SURFACE, help="That surface, e.g. '500 sq ft'.")
@click.option("--caught", "caught_l", type=VOLUME, help="Water caught in a bucket, standing still, e.g. '40 fl oz'.")
@click.option("--in", "caught_s", type=SECONDS, help="For so long, e.g. '30 s'.")
@click.option("--took", "took_s", type=SECONDS, help="How long the surface of --on takes at your pace, e.g. '78 s'.")
@click.option("--flow", "flow_l_s", type=FLOW, help="Of one nozzle, or of all, e.g. '0.4 gal/min'.")
@click.option("--speed", "speed_m_s", type=SPEED, help="That it is carried at, e.g. '3 mph'.")
@click.option("--width", "width_m", type=LENGTH, help="To the next nozzle, or of all, e.g. '20 in'.")
@click.option("--nozzle", "nozzles_l", type=VOLUME, multiple=True, help="What each nozzle gave in the same time.")
@click.option("--units", type=click.Choice(["us", "si"]), default="us", show_default=True, help="Units to print.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON (schema 1).")
def sprayer(
    wanted: tuple[float, str] | None,
    nozzles_l: tuple[float, ...],
    units: Literal["us", "si"],
    *,
    as_json: bool,
    **measured: float | None,
) -> None:
    """Print how much mix a sprayer puts down, beside what a label wants, and how to change pace or flow.

    Measure it with clean water in one of these ways; none needs a workspace.

    \b
    A surface: fill to a mark, spray a measured surface, measure what fills it to the mark again.
    forecast sprayer --sprayed '0.5 gal' --on '500 sq ft' --wanted '1 gal/1000 sq ft'
    A pace: time how long a measured surface takes, then spray into a bucket.
    forecast sprayer --took '78 s' --on '1000 sq ft' --caught '60 fl oz' --in '30 s' --wanted '1 gal/1000 sq ft'
    A boom: one nozzle, its distance to the next, and a speed; or all of them and the whole width.
    forecast sprayer --flow '0.4 gal/min' --speed '3 mph' --width '20 in' --wanted '40 gal/acre'
    A strip: how far to drive for a 128th of an acre, by the distance between nozzles.
    forecast sprayer --width '20 in'
    Nozzles: what each of them gave in the same time.
    forecast sprayer --nozzle '14 fl oz' --nozzle '13.5 fl oz' --nozzle '11 fl oz'
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.desk.spraying import sprayer_report
    from forecast.report.as_json import json_text
    from forecast.report.sprayer import sprayer_text

    report = sprayer_report(_way(measured), wanted, nozzles_l, units=units)
    click.echo(json_text(report) if as_json else sprayer_text(report), nl=as_json)


def _way(measured: dict[str, float | None]) -> Sprayed | Caught | Flowing | Course | None:
    """The one way whose figures were given."""
    from forecast.desk.spraying import Caught, Course, Flowing, Sprayed

    given: dict[str, Any] = {name: value for name, value in measured.items() if value is not None}
    if not given:
        return None
    name = next((name for name, needed in _WAYS.items() if set(needed) == set(given)), None)
    if name is None:
        ways = "; ".join(f"{way}: {', '.join(_OPTIONS[one] for one in needed)}" for way, needed in _WAYS.items())
        raise click.UsageError(f"give the figures of one way, all of them. {ways}")
    if name == "a surface sprayed":
        return Sprayed(given["sprayed_l"], given["size_m2"])
    if name == "a catch and a pace":
        return Caught(given["caught_l"], given["caught_s"], given["took_s"], given["size_m2"])
    if name == "a strip to drive":
        return Course(given["width_m"])
    return Flowing(given["flow_l_s"], given["speed_m_s"], given["width_m"])
