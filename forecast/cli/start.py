"""``forecast start``."""

from __future__ import annotations

from pathlib import Path

import click

from forecast.cli.common import now


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option("--demo", is_flag=True, help="Make the invented scenario, weather and records with it.")
@click.option("--name", help="What the place is called.")
@click.option("--latitude", type=click.FloatRange(-90, 90), help="Degrees, north positive.")
@click.option("--longitude", type=click.FloatRange(-180, 180), help="Degrees, east positive.")
@click.option("--elevation-m", type=click.FloatRange(-500, 9000), default=0.0, help="Metres above sea level.")
@click.option("--time-zone", help="Name of the time zone, e.g. America/New_York.")
@click.option("--grass", help="Grass of the first area, e.g. tall_fescue.")
@click.option("--units", type=click.Choice(["us", "si"]), default="us", show_default=True)
def start(
    folder: Path,
    *,
    demo: bool,
    name: str | None,
    latitude: float | None,
    longitude: float | None,
    elevation_m: float,
    time_zone: str | None,
    grass: str | None,
    units: str,
) -> None:
    """Make a workspace in FOLDER: the invented one with --demo, or a real place to fill in.

    \b
    forecast start --demo demo
    forecast start grounds --name "North field" --latitude 41.2 --longitude -85.1 \\
        --time-zone America/New_York --grass tall_fescue
    """  # noqa: D301
    from forecast import workspace

    if demo:
        written = workspace.start_demo(folder, now())
        click.echo(f"made the invented workspace in {folder}: {written.new} values of weather", err=True)
        click.echo(f"next: forecast morning --workspace {folder}", err=True)
        return
    wanted = {
        "--name": name,
        "--latitude": latitude,
        "--longitude": longitude,
        "--time-zone": time_zone,
        "--grass": grass,
    }
    missing = [option for option, value in wanted.items() if value is None]
    if missing:
        raise click.UsageError(f"a real place needs {', '.join(missing)} (or give --demo)")
    place = workspace.Place(
        str(name), float(latitude or 0.0), float(longitude or 0.0), elevation_m, str(time_zone), str(grass), units
    )
    workspace.start_place(folder, place)
    click.echo(f"made a workspace in {folder}: look through grounds.toml, properties.csv and labels.toml", err=True)
    click.echo(f"next: forecast weather load FILE --station {workspace.FIRST_STATION} --workspace {folder}", err=True)
