"""``forecast mix``."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from forecast.cli.common import open_workspace, workspace_now, workspace_option, write_whole
from forecast.cli.typed import CARRIER, RATE, VOLUME, Typed

if TYPE_CHECKING:
    from forecast.report.mix import MixSheet, SurfacePart


def _size(text: str) -> SurfacePart:
    from forecast.amounts import SURFACE_M2, typed
    from forecast.report.mix import SurfacePart

    number, unit = typed(text, SURFACE_M2)
    return SurfacePart(text, number * SURFACE_M2[unit])


def _less(text: str) -> SurfacePart:
    from forecast.report.mix import SurfacePart

    part = _size(text)
    return SurfacePart(part.words, -part.size_m2)


def _shape(kind: str) -> Callable[[str], SurfacePart]:
    def read(text: str) -> SurfacePart:
        from forecast.amounts import lengths_m
        from forecast.report.mix import SurfacePart
        from forecast.schedule import surface

        if kind == "circle":
            size_m2 = surface.circle_m2(*lengths_m(text, 1))
        else:
            of_two = surface.rectangle_m2 if kind == "rectangle" else surface.triangle_m2
            size_m2 = of_two(*lengths_m(text, 2))
        return SurfacePart(f"{kind} {text}", size_m2)

    return read


def _polygon(text: str) -> SurfacePart:
    from forecast.amounts import LENGTH_M, unit_as_spelt
    from forecast.report.mix import SurfacePart
    from forecast.schedule.surface import polygon_m2

    *pairs, last = text.split()
    unit = unit_as_spelt(last, LENGTH_M)
    if unit is None:
        raise ValueError(f"{text!r} ends with no unit of length; write it like '0,0 60,0 60,25 ft'")
    try:
        corners = [(float(east), float(north)) for east, north in (pair.split(",") for pair in pairs)]
    except ValueError:
        raise ValueError(f"{text!r} is no run of corners; write it like '0,0 60,0 60,25 ft'") from None
    metres = LENGTH_M[unit]
    return SurfacePart("shape by its corners", polygon_m2([(east * metres, north * metres) for east, north in corners]))


def _mark(text: str) -> tuple[str, float, str]:
    from forecast.amounts import product_amount

    return (*product_amount(text), text.strip())


def _formulation(text: str) -> str:
    from forecast.schedule.mixing import FORMULATIONS

    known = {code.casefold(): code for code in FORMULATIONS}
    if text.casefold() not in known:
        raise ValueError(f"{text!r} is no formulation known here; known are {', '.join(FORMULATIONS)}")
    return known[text.casefold()]


def _also(text: str) -> Any:
    from forecast.amounts import rate
    from forecast.desk.mixing import Product

    parts = [part.strip() for part in text.split(";")]
    if len(parts) != 3 or not parts[0]:
        raise ValueError(
            f"{text!r} is not 'name; formulation; rate', such as 'Spreader; adjuvant; 0.5 fl oz/1000 sq ft'"
        )
    measure, per_m2, printed = rate(parts[2])
    return Product(parts[0], measure, per_m2, printed, _formulation(parts[1]))


@click.command()
@click.argument("area", required=False)
@workspace_option
@click.option("--disease", metavar="KEY", help="With AREA: against what, e.g. brown_patch.")
@click.option("--label", "label_key", metavar="KEY", help="With AREA: a label of labels.toml other than the usual one.")
@click.option(
    "--condition",
    type=click.Choice(["preventive", "established", "very hot and humid"]),
    default="preventive",
    show_default=True,
    help="With AREA: which row of the label.",
)
@click.option("--size", type=Typed("surface", _size), multiple=True, help="A surface, e.g. '5,000 sq ft'.")
@click.option(
    "--rectangle", type=Typed("length x width", _shape("rectangle")), multiple=True, help="E.g. '60 x 25 ft'."
)
@click.option("--circle", type=Typed("width", _shape("circle")), multiple=True, help="Straight across, '80 ft'.")
@click.option("--triangle", type=Typed("base x height", _shape("triangle")), multiple=True, help="E.g. '30 x 26 ft'.")
@click.option(
    "--polygon", type=Typed("corners", _polygon), multiple=True, help="Corners in order, '0,0 60,0 60,25 ft'."
)
@click.option("--geojson", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="A file with polygons.")
@click.option("--less", type=Typed("surface", _less), multiple=True, help="Taken off: beds, a pond, e.g. '300 sq ft'.")
@click.option("--rate", type=RATE, help="Of the label, e.g. '1 fl oz/1000 sq ft'; with AREA within its row.")
@click.option("--carrier", type=CARRIER, help="Mix that the label wants, e.g. '1 gal/1000 sq ft'.")
@click.option("--tank", "tank_l", type=VOLUME, help="What the sprayer holds, e.g. '1 gal'.")
@click.option("--mark", type=Typed("amount", _mark), help="Smallest mark of the measure, e.g. '0.5 fl oz' or '5 mL'.")
@click.option("--product", default="the product", show_default=True, help="Its name.")
@click.option("--formulation", type=Typed("code", _formulation), help="As printed, e.g. SC, WG, EC.")
@click.option("--most-per-year", type=RATE, help="The label's yearly limit, e.g. '16 fl oz/1000 sq ft'.")
@click.option(
    "--also", type=Typed("product", _also), multiple=True, help="In the same tank: 'name; formulation; rate'."
)
@click.option("--units", type=click.Choice(["us", "si"]), help="Units to print; left out, those at hand.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON (schema 1).")
@click.option("--save", type=click.Path(path_type=Path, dir_okay=False), help="Write the text to a file too.")
def mix(area: str | None, workspace: Path, *, as_json: bool, save: Path | None, **given: Any) -> None:
    """Print what to mix: water, product, loads, steps, gear and keep-off.

    For AREA it goes by its size, its label and what the records leave of the label's limits. Without AREA it needs no
    workspace: give the surface (several parts add up), and rate, mix and yearly limit as the label prints them.

    \b
    forecast mix --size '5,000 sq ft' --rate '1 fl oz/1000 sq ft' --carrier '1 gal/1000 sq ft' --tank '1 gal'
    forecast mix --rectangle '60 x 25 ft' --circle '20 ft' --less '150 sq ft' --rate '2 fl oz/1000 sq ft' \\
        --carrier '1 gal/1000 sq ft' --tank '2 gal' --mark '0.5 fl oz'
    forecast mix north-field --workspace demo
    """  # noqa: D301 - \b is click's own mark for lines to keep
    from forecast.report.as_json import json_text
    from forecast.report.mix import mix_text

    sheet = _of_figures(given) if area is None else _of_area(area, workspace, given)
    text = mix_text(sheet)
    if save is not None:
        write_whole(save, text)
        click.echo(f"wrote {save}", err=True)
    click.echo(json_text(sheet) if as_json else text, nl=as_json)


_SURFACES = ("size", "rectangle", "circle", "triangle", "polygon")
_OF_FIGURES = (*_SURFACES, "geojson", "less", "carrier", "most_per_year", "formulation")
_OF_AREA = ("disease", "label_key")


def _of_area(area: str, workspace: Path, given: dict[str, Any]) -> MixSheet:
    from forecast.desk.area_mix import area_mix

    for name in _OF_FIGURES:
        if given[name]:
            raise click.UsageError(f"AREA has its size and its label on file; leave out {_option(name)}")
    settings, database = open_workspace(workspace)
    return area_mix(
        settings,
        database,
        workspace_now(settings),
        area,
        disease=given["disease"],
        label_key=given["label_key"],
        condition=given["condition"],
        also=given["also"],
        tank_l=given["tank_l"],
        mark=given["mark"],
        rate=given["rate"],
        us=None if given["units"] is None else given["units"] == "us",
    )


def _of_figures(given: dict[str, Any]) -> MixSheet:
    from forecast.desk.mixing import Product, Tank, mix_sheet

    for name in _OF_AREA:
        if given[name]:
            raise click.UsageError(f"{_option(name)} goes with an AREA")
    missing = [_option(name) for name in ("rate", "carrier", "tank_l") if not given[name]]
    parts = [*(part for name in _SURFACES for part in given[name]), *_drawn(given["geojson"]), *given["less"]]
    if not any(part.size_m2 > 0 for part in parts):
        missing.insert(0, "a surface (such as --size)")
    if missing:
        raise click.UsageError(f"without an AREA the sheet needs {', '.join(missing)}")
    measure, per_m2, printed = given["rate"]
    limit = given["most_per_year"]
    if limit is not None and limit[0] != measure:
        raise click.UsageError("--rate and --most-per-year must both be volumes or both be weights")
    product = Product(
        given["product"],
        measure,
        per_m2,
        printed,
        given["formulation"] or "",
        None if limit is None else limit[1],
        "" if limit is None else limit[2],
    )
    units = given["units"] or ("us" if any(word in printed for word in ("sq ft", "acre")) else "si")
    carrier_l_per_m2, carrier_as_printed = given["carrier"]
    tank = Tank(carrier_l_per_m2, carrier_as_printed, given["tank_l"], given["mark"])
    return mix_sheet(parts, (product, *given["also"]), tank, us=units == "us")


def _drawn(path: Path | None) -> list[SurfacePart]:
    from forecast.errors import DataError
    from forecast.ingest.geojson import MOST_BYTES, read_surfaces
    from forecast.report.mix import SurfacePart

    if path is None:
        return []
    if path.stat().st_size > MOST_BYTES:
        raise DataError(f"{path} is larger than {MOST_BYTES // 1_000_000} MB", hint="leave out what is no turf")
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise DataError(f"{path} is no text in UTF-8", hint="save it as GeoJSON") from error
    return [
        SurfacePart(
            f"{one.name} about {one.middle_latitude_deg:.4f}°, {one.middle_longitude_deg:.4f}° in {path.name}",
            one.size_m2,
        )
        for one in read_surfaces(text)
    ]


def _option(name: str) -> str:
    named = {"label_key": "--label", "tank_l": "--tank"}
    return named.get(name, f"--{name.replace('_', '-')}")
