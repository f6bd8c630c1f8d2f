"""How good season openers are at real airports; run as ``python tests/benchmark_airports.py FOLDER --of opening``.

The published index as in the other sections, one reading of the whole matter: mornings from 1 January to the day before
the first one on which it reaches the threshold, told at midnight for sixteen days. The project's own events by the
house rule, told at 02:00 standard time to the end of the season, for the ranges. Whole seasons are left out; forecasts
are emulated, and prove the engine and no provider.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
from benchmark_airports import (
    BEFORE_DAWN,
    MIDNIGHT,
    OFFSET_MINUTES,
    ONSET_CRPS,
    ONSET_IN_14_DAYS,
    PLACES,
    published_index,
    read,
    verdict,
    words,
)

from forecast.diseases.events import Event, event_for
from forecast.outlook.lead_skill import ASSUMED
from forecast.outlook.library import Library
from forecast.outlook.opening import FIRST_EVENT_DAY, TWO_IN_A_WEEK, OpeningRule
from forecast.stand import Stand, place_hours, stand_hours
from forecast.turf import DISEASES, Setting
from forecast.verify.emulate import TYPICAL, Emulator
from forecast.verify.hindcast import Forecaster, record
from forecast.verify.opening import OpeningSkill, opening_skill
from forecast.verify.opening_hindcast import DAYS_SCORED, OpeningHindcast, opening_hindcast

FROM_JANUARY = (2, 12)  # months whose openings are looked for from 1 January on


@dataclass(frozen=True)
class Asked:
    """One event, its months, its rule, up to which hour readings go, how often, how far, if there is a target."""

    event: Event
    months: tuple[int, int]
    rule: OpeningRule
    last_known_hour: int
    every_days: int
    reach_days: int
    has_target: bool = False


def _published(threshold: float) -> Asked:
    return Asked(published_index(threshold), FROM_JANUARY, FIRST_EVENT_DAY, MIDNIGHT, 3, DAYS_SCORED, has_target=True)


def _own(disease: str, grass: str) -> Asked:
    known = DISEASES[disease]
    months = known.first_month, known.last_month
    return Asked(event_for(disease, grass), months, TWO_IN_A_WEEK, BEFORE_DAWN, 7, 366)


ASKED = {
    "index 4, first day": _published(4.0),
    "index 6, first day": _published(6.0),
    "brown patch": _own("brown_patch", "tall_fescue"),
    "dollar spot": _own("dollar_spot", "creeping_bentgrass"),
    "anthracnose": _own("anthracnose", "annual_bluegrass"),
    "Pythium blight": _own("pythium_blight", "perennial_ryegrass"),
    "large patch": _own("large_patch", "zoysiagrass"),
    "spring dead spot": _own("spring_dead_spot", "bermudagrass"),
}


@dataclass(frozen=True)
class Job:
    """One event at one station, with emulated forecasts or by readings alone."""

    folder: Path
    station: str
    name: str
    forecasts: bool
    every_days: int


def run(job: Job) -> OpeningHindcast:
    """Its mornings."""
    asked = ASKED[job.name]
    where, offset = PLACES[job.station], OFFSET_MINUTES.get(job.station, -300)
    panel = read(job.folder, job.station)
    stand = Stand(job.station, job.station, where, ZoneInfo("UTC"), Setting(), "best_known")
    if asked.last_known_hour != MIDNIGHT:  # the project's own events read leaves and soil too
        panel = place_hours(panel, where)
        stand = replace(stand, wetness=stand_hours(panel, stand).wet.method.key)
    rec = record(job.station, panel, stand, offset, (asked.event,))

    def forecaster_of(stock: Library, year: int) -> Forecaster:
        seed = [sorted(PLACES).index(job.station), year]
        return Emulator(panel, stock, TYPICAL, np.random.default_rng(seed)).forecast

    return opening_hindcast(
        rec,
        asked.event,
        asked.months,
        asked.rule,
        ASSUMED,
        last_known_hour=asked.last_known_hour,
        forecaster_of=forecaster_of if job.forecasts else None,
        every_days=asked.every_days * job.every_days,
        reach_days=asked.reach_days,
    )


def report_openings(folder: Path, workers: int, every_days: int) -> None:
    """Prints every event, by readings and with emulated forecasts."""
    jobs = [
        Job(folder, station, name, forecasts, every_days)
        for name in ASKED
        for forecasts in (False, True)
        for station in sorted(PLACES, reverse=True)  # the longest record first
    ]
    with ProcessPoolExecutor(workers) as processes:
        found = list(processes.map(run, jobs))
    for name, asked in ASKED.items():
        for forecasts in (False, True):
            parts = [
                one for one, job in zip(found, jobs, strict=True) if (job.name, job.forecasts) == (name, forecasts)
            ]
            _print(name, "typical" if forecasts else "readings", opening_skill(parts), asked)


def _print(name: str, world: str, skill: OpeningSkill, asked: Asked) -> None:
    goals = ("", "")
    if asked.has_target and world == "typical":
        goals = (
            f"  target {ONSET_IN_14_DAYS:.2f}: {verdict(skill.soon.value, skill.soon.high, ONSET_IN_14_DAYS)}",
            f"  target {ONSET_CRPS:.2f}: {verdict(skill.days.value, skill.days.high, ONSET_CRPS)}",
        )
    print(f"\nopening, {name}, {world}: {skill.mornings:,} mornings of {skill.seasons} seasons")
    print(f"  opens within 14 days, skill    {words(skill.soon)}{goals[0]}")
    print(
        f"  day of opening, skill          {words(skill.days)}{goals[1]}"
        f"  ({skill.crps_days:.2f} d, usual {skill.usual_crps_days:.2f} d)"
    )
    if asked.reach_days > DAYS_SCORED:
        print(f"  10 to 90 % range holds it      {words(skill.inside)}  usual {words(skill.usual_inside)}")
        print(f"  width of the range             {skill.width_days:.0f} d, usual {skill.usual_width_days:.0f} d")
        print(f"  came by the middle day         {words(skill.by_middle)}")
