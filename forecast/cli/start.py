"""``forecast start``."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

from forecast.cli.common import DONE_IN_PART, now, progress

if TYPE_CHECKING:
    from collections.abc import Sequence

    from forecast.desk.offers import Offer
    from forecast.new_place import NewPlace

NEIGHBOURS = 2  # further stations that stand in where the first is silent
NONE = "none"
SHAPES = (NONE, "hour_columns", "grid_intervals")
Check = Callable[[click.Context, click.Parameter, str | None], str | None]


def _checked(check: Callable[[str], object], fault: str = "") -> Check:
    """A look at what was typed, before anybody is asked and anything is written."""

    def callback(_context: click.Context, _option: click.Parameter, typed: str | None) -> str | None:
        if typed is not None:
            try:
                check(typed)
            except ValueError as error:
                raise click.BadParameter(fault or str(error)) from None
        return typed

    return callback


def _name(typed: str) -> None:
    if not typed.encode().strip():
        raise ValueError


def _zone(typed: str) -> None:
    from forecast.toml_file import known_zone

    known_zone(typed)


def _grass(typed: str) -> None:
    from forecast.config.forms import known_grass

    known_grass(typed)


def _contact(typed: str) -> None:
    from forecast.config.grounds import NetworkForm

    NetworkForm(contact=typed)


def _address(typed: str) -> None:
    from forecast.config.grounds import WeatherForecast

    typed.encode("ascii")
    WeatherForecast(shape="hour_columns", address=typed)


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option("--demo", is_flag=True, help="Make the invented scenario, weather and records with it.")
@click.option("--name", callback=_checked(_name, "it is no text"), help="What the place is called.")
@click.option("--latitude", type=click.FloatRange(-90, 90), help="Degrees, north positive.")
@click.option("--longitude", type=click.FloatRange(-180, 180), help="Degrees, east positive.")
@click.option(
    "--elevation-m", type=click.FloatRange(-500, 9000), help="Metres above sea level; the station's if left out."
)
@click.option("--time-zone", callback=_checked(_zone), help="Such as America/New_York; the station's if left out.")
@click.option("--grass", callback=_checked(_grass), help="Grass of the first area, e.g. tall_fescue.")
@click.option("--units", type=click.Choice(["us", "si"]), default="us", show_default=True)
@click.option("--station", help="Meteostat id of the station to take; else the nearest with sound humidity is offered.")
@click.option("--years", type=click.IntRange(1, 60), default=10, show_default=True, help="Past years to load.")
@click.option("--weather-forecast", type=click.Choice(SHAPES), help="Which kind of service foretells the weather.")
@click.option(
    "--forecast-address",
    callback=_checked(_address, "an address starts with https:// (or http://), names a host, and is plain ASCII"),
    help="Its address, where it is not the usual one.",
)
@click.option(
    "--contact",
    default="",
    callback=_checked(_contact, "plain ASCII, 120 letters at most"),
    help="An e-mail or web address, told to the services that are asked.",
)
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
    forecast_address: str | None,
    contact: str,
    offline: bool,
) -> None:
    """Make a workspace in FOLDER: the invented one with --demo, or that of a real place.

    For a real place it looks for weather stations nearby, offers those that send hours with what the last year says of
    their humidity, loads past years, and ends with a first morning page. Exit code 3 when that could be done in part
    only, or when no station's humidity is sound.

    \b
    forecast start --demo demo
    forecast start grounds --name "North field" --latitude 41.2 --longitude -85.1 --grass tall_fescue
    """  # noqa: D301
    if demo:
        _leave_out("--demo makes an invented place", *(set(_typed()) - {"--demo"}))
        _demo(folder)
        return
    wanted = {"--name": name, "--latitude": latitude, "--longitude": longitude, "--grass": grass}
    if offline:
        wanted["--time-zone"] = time_zone
        _leave_out("--offline asks no station", *({"--station", "--years"} & set(_typed())))
    missing = [option for option, value in wanted.items() if value is None]
    if missing or name is None or latitude is None or longitude is None or grass is None:
        raise click.UsageError(f"a real place needs {', '.join(missing)} (or give --demo)")
    _look_at_pairs(longitude, time_zone, weather_forecast, forecast_address)
    from forecast.new_place import FIRST_STATION, ChosenStation, NewPlace, start_place
    from forecast.workspace import new_folder

    height = elevation_m or 0.0
    place = NewPlace(
        name,
        latitude,
        longitude,
        height,
        time_zone or "",
        grass,
        units,
        (ChosenStation(FIRST_STATION, "Nearest weather station", latitude, longitude, height),),
        "" if weather_forecast in (None, NONE) else str(weather_forecast),
        forecast_address or "",
        contact,
    )
    is_sound = True
    with new_folder(folder):
        if not offline:
            chosen = _chosen(_offers(folder, (latitude, longitude, elevation_m), contact, station), station)
            is_sound = _tell_soundness(chosen[0])
            place = _at_stations(place, chosen, elevation_m)
            if weather_forecast is None:
                place = replace(place, forecast_shape=_shape())
        start_place(folder, place)
    click.echo(f"made a workspace in {folder}: look through grounds.toml, properties.csv and labels.toml", err=True)
    if offline:
        _tell_offline(folder, place, height_is_known=elevation_m is not None)
    elif not _first_morning(folder, years) or not is_sound:
        raise SystemExit(DONE_IN_PART)


def _typed() -> list[str]:
    """The options that a person gave."""
    context = click.get_current_context()
    return [
        option.opts[0]
        for option in context.command.params
        if isinstance(option, click.Option)
        and context.get_parameter_source(option.name or "") != ParameterSource.DEFAULT
    ]


def _leave_out(why: str, *options: str) -> None:
    """What would be passed over in silence is refused."""
    if options:
        raise click.UsageError(f"{why}: leave out {', '.join(sorted(options))}")


def _look_at_pairs(longitude: float, time_zone: str | None, shape: str | None, address: str | None) -> None:
    """Options that do not go with each other."""
    if address is not None and shape in (None, NONE):
        raise click.UsageError(f"--forecast-address needs --weather-forecast {' or '.join(SHAPES[1:])}")
    if time_zone is None:
        return
    from zoneinfo import ZoneInfo

    from forecast.config.grounds import goes_with

    if not goes_with(longitude, ZoneInfo(time_zone)):
        raise click.UsageError(
            f"--longitude {longitude:g} does not go with --time-zone {time_zone}: is its sign right? West is negative"
        )


def _demo(folder: Path) -> None:
    from forecast import workspace

    written = workspace.start_demo(folder)
    click.echo(f"made the invented workspace in {folder}: {written.new} values of weather", err=True)
    click.echo(f"next: forecast morning --workspace {shlex.quote(str(folder))}", err=True)


def _tell_offline(folder: Path, place: NewPlace, *, height_is_known: bool) -> None:
    station = place.stations[0].id
    height = "" if height_is_known else ", with a height of 0 m, since no --elevation-m was given"
    click.echo(
        "in grounds.toml set latitude_deg, longitude_deg and elevation_m to where the station really stands: the "
        f"place's own stand there{height}",
        err=True,
    )
    click.echo(f"next: forecast weather load FILE --station {station} --workspace {shlex.quote(str(folder))}", err=True)


def _offers(
    folder: Path, where: tuple[float, float, float | None], contact: str, wanted: str | None
) -> Sequence[Offer]:
    """The stations near a place that send hours, printed under their numbers; those that send none below them."""
    import os

    from forecast.config import COPIES_FOLDER
    from forecast.desk.offers import offers
    from forecast.desk.sources import ALLOW_VARIABLE
    from forecast.errors import MissingInputError, SourceDownError
    from forecast.ingest.web.network import Network

    network = Network(contact=contact, allow_hosts=tuple(os.environ.get(ALLOW_VARIABLE, "").split()))
    found = offers(
        where,
        folder / COPIES_FOLDER,
        network,
        now(),
        wanted=wanted,
        told=lambda candidate: click.echo(f"looking at {candidate.name} …", err=True),
    )
    with_hours = [offer for offer in found if offer.humidity is not None]
    click.echo(f"Weather stations near {where[0]:g}, {where[1]:g}, those with sound humidity first:", err=True)
    for number, offer in enumerate(with_hours, start=1):
        click.echo(click.wrap_text(_offer_words(offer), 88, f"  {number}  ", "     "), err=True)
    for offer in found[len(with_hours) :]:
        click.echo(click.wrap_text(_offer_words(offer), 88, "  –  ", "     "), err=True)
    if with_hours:
        return with_hours
    for offer in found:
        if isinstance(offer.error, SourceDownError):
            raise offer.error
    raise MissingInputError(
        "no weather station near this place sends hours",
        hint="use --offline and load files of your own: 'forecast weather map' helps to read them",
    )


def _offer_words(offer: Offer) -> str:
    one = offer.candidate
    height = "" if offer.height_difference_m is None else f", {offer.height_difference_m:+.0f} m"
    where = f"{one.name} ({one.meteostat_id}), {one.distance_km:.0f} km{height}"
    if offer.last_hour is None:
        return f"{where}: {offer.error.what if offer.error else ''}"
    last = f"{str(offer.last_hour).replace('T', ' ')}:00 UTC"
    span = f"last hour {last}" if one.first_year is None else f"{one.first_year} to {last}"
    return f"{where}, {span}: {offer.humidity}"


def _chosen(found: Sequence[Offer], wanted: str | None) -> list[Offer]:
    """The station to take and its neighbours: the one named, the one a person picks, else the first."""
    first = found[0]
    if wanted is not None:
        first = next(offer for offer in found if offer.candidate.meteostat_id.lower() == wanted.lower())
    elif sys.stdin.isatty():
        number = click.prompt("Which one", type=click.IntRange(1, len(found)), default=1, err=True)
        first = found[number - 1]
    return [first, *[offer for offer in found if offer.is_sound and offer is not first][:NEIGHBOURS]]


def _tell_soundness(taken: Offer) -> bool:
    """Whether the humidity of the station taken is sound; where it is not, what that means, to standard error."""
    if not taken.is_sound:
        click.echo(
            click.wrap_text(
                f"The humidity of {taken.candidate.name} is not sound ({taken.humidity}). It is taken all the same, "
                "but wet hours told from it are wrong or missing, and every chance and answer rests on wet hours. "
                "Name another with --station, or load hours of a station of your own.",
                88,
            ),
            err=True,
        )
    return taken.is_sound


def _at_stations(place: NewPlace, chosen: Sequence[Offer], elevation_m: float | None) -> NewPlace:
    """The place with its stations; what a person left out is taken from them, and told."""
    from forecast.new_place import ChosenStation, station_id

    zone = place.time_zone or next((offer.candidate.time_zone for offer in chosen if offer.candidate.time_zone), "")
    if not zone:
        raise click.UsageError("the station's time zone is not known: give --time-zone")
    height = elevation_m if elevation_m is not None else chosen[0].candidate.elevation_m
    if height is None:
        raise click.UsageError("the station's height is not known: give --elevation-m")
    if elevation_m is None:
        station = chosen[0].candidate.name
        click.echo(f"no --elevation-m given: the height of {station}, {height:g} m, is taken for the place", err=True)
    made: list[ChosenStation] = []
    for one in (offer.candidate for offer in chosen):
        if one.elevation_m is None:
            click.echo(f"the height of {one.name} is not known: that of the place is taken, {height:g} m", err=True)
        made.append(
            ChosenStation(
                station_id(one.name, {station.id for station in made}),
                one.name,
                one.latitude_deg,
                one.longitude_deg,
                height if one.elevation_m is None else one.elevation_m,
                one.meteostat_id,
            )
        )
    return replace(place, time_zone=zone, elevation_m=height, stations=tuple(made))


def _shape() -> str:
    """The kind of service that foretells the weather: as a person picks, else none."""
    if not sys.stdin.isatty():
        return ""
    click.echo(
        "Weather forecast: grid_intervals is the US National Weather Service (USA only, free for any use);\n"
        "hour_columns is Open-Meteo (worldwide, CC BY 4.0; its free host is for non-commercial use).",
        err=True,
    )
    picked: str = click.prompt("Which kind", type=click.Choice(SHAPES), default=NONE, err=True)
    return "" if picked == NONE else picked


def _first_morning(folder: Path, years: int) -> bool:
    """Past years, the newest hours, the forecast, and the first page; whether every source did its part."""
    from forecast.cli.common import open_workspace
    from forecast.cli.daily import run
    from forecast.cli.weather import tell
    from forecast.desk import intake
    from forecast.desk.daily import tried
    from forecast.report.as_text import morning_text

    settings, database = open_workspace(folder)
    moment = now()
    span = range(moment.year - years, moment.year)
    place = shlex.quote(str(folder))
    whole = True
    for station in settings.grounds.station:
        label = f"{station.name}, {span[0]}" + (f" to {span[-1]}" if years > 1 else "")
        with progress(label, len(span)) as told:
            step = tried(label, station, partial(intake.fetch, settings, database, station, span, moment, told=told))
        if step.intake is None:
            click.echo(f"not loaded: {label}: {step.error}", err=True)
        else:
            tell(step.intake)
        if not step.is_whole:
            whole = False
            again = f"forecast weather fetch --station {station.id} --from-year {span[0]} --workspace {place}"
            click.echo(f"not all of {label} is there; this loads what is missing: {again}", err=True)
    page, all_done = run(settings, database, moment, offline=False)
    click.echo(morning_text(page), nl=False)
    click.echo(f"every morning: forecast daily --workspace {place} (--print-timer tells how to have it run)", err=True)
    return whole and all_done
