"""The daily run: weather brought up to date, forecasts archived, pages written; what fails leaves the rest whole."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path

from forecast.config import Settings, Station
from forecast.database import Database
from forecast.desk import intake
from forecast.desk.intake import Intake
from forecast.desk.places import nearest_station
from forecast.errors import ForecastError, Notice
from forecast.ingest.keep.store import read_hours

PAGES_FOLDER = "pages"
LATEST = "morning"


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that was tried.

    Attributes:
        what: in words.
        intake: what came in; None where it failed.
        error: why it failed; None where it did not.
        notices: what a reader should know; for a failure, what went wrong.
    """

    what: str
    intake: Intake | None
    error: ForecastError | None
    notices: tuple[Notice, ...]

    @property
    def is_whole(self) -> bool:
        """Whether all that was asked for came, and none of it from an old copy."""
        return self.error is None and not any(notice.grave for notice in self.notices)


def bring_up_to_date(
    settings: Settings, database: Database, moment: datetime, *, told: Callable[[Step], object] = lambda _: None
) -> tuple[Step, ...]:
    """The newest hours and weather forecasts of every station that has a source, each on its own.

    A station that was silent for longer is asked from the year of its last stored hour on. What fails leaves a
    notice, and what is stored stays.
    """
    steps: list[Step] = []
    foretold = {nearest_station(settings, place_id) for place_id in settings.places}
    for station in settings.grounds.station:
        for what, work in _work(settings, database, station, moment, foretold):
            step = tried(what, station, work)
            steps.append(step)
            told(step)
    return tuple(steps)


def _work(
    settings: Settings, database: Database, station: Station, moment: datetime, foretold: set[str]
) -> list[tuple[str, Callable[[], Intake]]]:
    """What there is to fetch for a station."""
    work: list[tuple[str, Callable[[], Intake]]] = []
    if station.meteostat_id is not None:
        years = range(_last_year(database, station, moment), moment.year + 1)
        work.append((f"hours of {station.name}", partial(intake.fetch, settings, database, station, years, moment)))
    if settings.grounds.weather_forecast is not None and station.id in foretold:
        fetch = partial(intake.fetch_weather_forecast, settings, database, station, moment)
        work.append((f"weather forecast for {station.name}", fetch))
    return work


def tried(what: str, station: Station, work: Callable[[], Intake]) -> Step:
    """Do something for a station; what goes wrong with the source is part of the answer."""
    try:
        done = work()
    except ForecastError as error:
        text = f"nothing new was fetched: {error.what}"
        return Step(what, None, error, (Notice(text, station.name, grave=True),))
    return Step(what, done, None, tuple(_of(station, notice) for notice in done.notices))


def _of(station: Station, notice: Notice) -> Notice:
    return Notice(notice.text, notice.series or station.name, notice.quantity, notice.grave)


def _last_year(database: Database, station: Station, moment: datetime) -> int:
    panel = read_hours(database, [station.id])
    if panel is None:
        return moment.year
    return min(int(str(panel.hours[-1].astype("datetime64[Y]"))), moment.year)


def page_paths(settings: Settings, moment: datetime) -> dict[str, tuple[Path, Path]]:
    """Where the pages of a morning go: per kind, the one of that date and the newest one."""
    folder = settings.folder / PAGES_FOLDER
    day = moment.astimezone(settings.grounds.zone).date()
    return {kind: (folder / f"{day}.{kind}", folder / f"{LATEST}.{kind}") for kind in ("html", "txt", "json")}


def beside_paths(settings: Settings, moment: datetime, name: str, kind: str = "html") -> tuple[Path, Path]:
    """Where a file beside the morning page goes, such as the outlook: the one of that date and the newest one."""
    folder = settings.folder / PAGES_FOLDER
    day = moment.astimezone(settings.grounds.zone).date()
    return folder / f"{day}-{name}.{kind}", folder / f"{name}.{kind}"
