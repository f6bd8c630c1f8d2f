"""``forecast start``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from forecast.cli.common import DONE_IN_PART, now, progress

if TYPE_CHECKING:
    from collections.abc import Sequence

    from forecast.desk.offers import Offer
    from forecast.new_place import ChosenStation

NEIGHBOURS = 2  # further stations that stand in where the first is silent
SHAPES = ("none", "hour_columns", "grid_intervals")


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option("--demo", is_flag=True, help="Make the invented scenario, weather and records with it.")
@click.option("--name", help="What the place is called.")
@click.option("--latitude", type=click.FloatRange(-90, 90), help="Degrees, north positive.")
@click.option("--longitude", type=click.FloatRange(-180, 180), help="Degrees, east positive.")
@click.option(
    "--elevation-m", type=click.FloatRange(-500, 9000), help="Metres above sea level; the station's if left out."
)
@click.option("--time-zone", help="Such as America/New_York; the station's if left out.")
@click.option("--grass", help="Grass of the first area, e.g. tall_fescue.")
@click.option("--units", type=click.Choice(["us", "si"]), default="us", show_default=True)
@click.option("--station", help="Meteostat id of the station to take; else the nearest with sound humidity is offered.")
@click.option("--years", type=click.IntRange(1, 60), default=10, show_default=True, help="Past years to load.")
@click.option("--weather-forecast", type=click.Choice(SHAPES), help="Which kind of service foretells the weather.")
@click.option("--forecast-address", default="", help="Its address, where it is not the usual one.")
@click.option("--contact", default="", help="An e-mail or web address, told to the services that are asked.")
@click.option("--offline", is_flag=True, help="Only write the files; weather is loaded from files later.")
def start(
    folder: Path,
    *,
    demo: bool,
    name: str | None,
    latitude: float | None,
    longitude: float | None,
    elevation_m: float | None,
    time_zone: str | None,
    grass: str | None,
    units: str,
    station: str | None,
    years: int,
    weather_forecast: str | None,
    forecast_address: str,
    contact: str,
    offline: bool,
) -> None:
    """Make a workspace in FOLDER: the invented one with --demo, or that of a real place.

    For a real place it looks for weather stations nearby, offers them with what their last year says of their
    humidity, loads past years, and ends with a first morning page. Exit code 3 when that could be done in part only.

    \b
    forecast start --demo demo
    forecast start grounds --name "North field" --latitude 41.2 --longitude -85.1 --grass tall_fescue
    """  # noqa: D301
    if demo:
        from forecast import workspace

        written = workspace.start_demo(folder)
        click.echo(f"made the invented workspace in {folder}: {written.new} values of weather", err=True)
        click.echo(f"next: forecast morning --workspace {folder}", err=True)
        return
    wanted = {"--name": name, "--latitude": latitude, "--longitude": longitude, "--grass": grass}
    if offline:
        wanted["--time-zone"] = time_zone
    missing = [option for option, value in wanted.items() if value is None]
    if missing or name is None or latitude is None or longitude is None or grass is None:
        raise click.UsageError(f"a real place needs {', '.join(missing)} (or give --demo)")
    from forecast.config.forms import known_grass
    from forecast.errors import SettingsError
    from forecast.new_place import FIRST_STATION, ChosenStation, NewPlace, start_place

    try:
        known_grass(grass)  # before minutes go into fetching
    except ValueError as error:
        raise SettingsError(str(error), hint="name one of them with --grass") from None
    chosen: list[Offer] = []
    if not offline:
        chosen = _chosen(_offers(folder, (latitude, longitude, elevation_m), contact), station)
    zone = time_zone or next((offer.candidate.time_zone for offer in chosen if offer.candidate.time_zone), None)
    if zone is None:
        raise click.UsageError("the station's time zone is not known: give --time-zone")
    height = elevation_m if elevation_m is not None else (chosen[0].candidate.elevation_m if chosen else 0.0)
    stations = _stations(chosen) or (
        ChosenStation(FIRST_STATION, "Nearest weather station", latitude, longitude, height),
    )
    shape = _shape(weather_forecast, forecast_address) if not offline else (weather_forecast or "none")
    place = NewPlace(
        name,
        latitude,
        longitude,
        height,
        zone,
        grass,
        units,
        stations,
        "" if shape == "none" else shape,
        forecast_address,
        contact,
    )
    start_place(folder, place)
    click.echo(f"made a workspace in {folder}: look through grounds.toml, properties.csv and labels.toml", err=True)
    if offline:
        click.echo(f"next: forecast weather load FILE --station {stations[0].id} --workspace {folder}", err=True)
        return
    _first_morning(folder, years)


def _offers(folder: Path, where: tuple[float, float, float | None], contact: str) -> Sequence[Offer]:
    """The stations near a place, printed as they are found."""
    import os

    from forecast.config import COPIES_FOLDER
    from forecast.desk.intake import ALLOW_VARIABLE
    from forecast.desk.offers import offers
    from forecast.ingest.web.network import Network

    network = Network(contact=contact, allow_hosts=tuple(os.environ.get(ALLOW_VARIABLE, "").split()))
    found = offers(
        where,
        folder / COPIES_FOLDER,
        network,
        now(),
        told=lambda candidate: click.echo(f"looking at {candidate.name} …", err=True),
    )
    click.echo(f"Weather stations near {where[0]:g}, {where[1]:g}, those with sound humidity first:", err=True)
    for number, offer in enumerate(found, start=1):
        click.echo(click.wrap_text(_offer_words(offer), 88, f"  {number}  ", "     "), err=True)
    return found


def _offer_words(offer: Offer) -> str:
    one = offer.candidate
    height = "" if offer.height_difference_m is None else f", {offer.height_difference_m:+.0f} m"
    span = "" if one.first_year is None else f", {one.first_year} to {one.last_year}"
    said = str(offer.humidity) if offer.humidity is not None else offer.trouble
    return f"{one.name} ({one.meteostat_id}), {one.distance_km:.0f} km{height}{span}: {said}"


def _chosen(found: Sequence[Offer], wanted: str | None) -> list[Offer]:
    """The station to take and its neighbours: the one named, the one a person picks, else the first."""
    from forecast.errors import MissingInputError

    with_hours = [offer for offer in found if offer.humidity is not None]
    if wanted is not None:
        first = [offer for offer in with_hours if offer.candidate.meteostat_id.lower() == wanted.lower()]
        if not first:
            names = ", ".join(offer.candidate.meteostat_id for offer in with_hours) or "none"
            raise MissingInputError(f"station {wanted!r} is not among those near: {names}", hint="name one of them")
    elif not with_hours:
        raise MissingInputError(
            "no weather station near this place sends hours",
            hint="use --offline and load files of your own: 'forecast weather map' helps to read them",
        )
    elif sys.stdin.isatty():
        number = click.prompt("Which one", type=click.IntRange(1, len(found)), default=1, err=True)
        first = [found[number - 1]]
    else:
        first = with_hours[:1]
    return first + [offer for offer in with_hours if offer.is_sound and offer not in first][:NEIGHBOURS]


def _stations(chosen: Sequence[Offer]) -> tuple[ChosenStation, ...]:
    from forecast.new_place import ChosenStation, station_id

    made: list[ChosenStation] = []
    for offer in chosen:
        one = offer.candidate
        made.append(
            ChosenStation(
                station_id(one.name, {station.id for station in made}),
                one.name,
                one.latitude_deg,
                one.longitude_deg,
                one.elevation_m,
                one.meteostat_id,
            )
        )
    return tuple(made)


def _shape(wanted: str | None, address: str) -> str:
    """The kind of service that foretells the weather: as told, as a person picks, else none."""
    if wanted is not None:
        return wanted
    if address:
        raise click.UsageError("--forecast-address needs --weather-forecast")
    if not sys.stdin.isatty():
        return "none"
    click.echo(
        "Weather forecast: grid_intervals is the US National Weather Service (USA only, free for any use);\n"
        "hour_columns is Open-Meteo (worldwide, CC BY 4.0; its free host is for non-commercial use).",
        err=True,
    )
    picked: str = click.prompt("Which kind", type=click.Choice(SHAPES), default="none", err=True)
    return picked


def _first_morning(folder: Path, years: int) -> None:
    """Past years, the newest hours, the forecast, and the first page."""
    from forecast.cli.common import open_workspace
    from forecast.cli.daily import run
    from forecast.cli.weather import tell
    from forecast.desk import intake
    from forecast.errors import ForecastError
    from forecast.report.as_text import morning_text

    settings, database = open_workspace(folder)
    moment = now()
    span = range(moment.year - years, moment.year)
    whole = True
    for station in settings.grounds.station:
        label = f"{station.name}, {span[0]} to {span[-1]}"
        with progress(label, len(span)) as told:
            try:
                done = intake.fetch(settings, database, station, span, moment, told=told)
            except ForecastError as error:
                click.echo(f"\nnot loaded: {error}", err=True)
                whole = False
                continue
        tell(done)
    page, all_done = run(settings, database, moment, offline=False)
    click.echo(morning_text(page), nl=False)
    click.echo(f"every morning: forecast daily --workspace {folder} (--print-timer tells how to have it run)", err=True)
    if not (whole and all_done):
        raise SystemExit(DONE_IN_PART)
