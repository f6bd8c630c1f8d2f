"""How good the number of event days in a week is; run as ``python tests/benchmark_airports.py FOLDER --of weeks``.

Scored is the chance of three event days and more in the seven days after a morning and in the seven after those, over
the usual chance for place and date. Mornings, seasons left out and forecasts as in benchmark_airports.py; one weight
between members and the usual chance, fitted on the other seasons.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from benchmark_airports import (
    ASKED,
    PLACES,
    READINGS,
    TYPICAL_WORLD,
    WEEK_1_THREE_DAYS,
    WEEK_2_THREE_DAYS,
    Job,
    made_ready,
    run,
    verdict,
    words,
)

from forecast.daily import Days
from forecast.outlook.climatology import Usual
from forecast.panel import Floats
from forecast.verify.fit import weighted
from forecast.verify.hindcast import GUARD_DAYS, HALF_YEAR_DAYS, UNKNOWN, Hindcast, seasons
from forecast.verify.year_blocks import skill_with_interval

WEEKS = ((1, 7), (8, 14))  # first and last day after the morning
LEAST_DAYS = 3
EVENTS = ("published", "own summer")
TARGETS = {("index 4", TYPICAL_WORLD.name): (WEEK_1_THREE_DAYS, WEEK_2_THREE_DAYS)}


@dataclass(frozen=True)
class Weeks:
    """Chances of three event days and more, and whether they came, shape (mornings, weeks)."""

    year: Days
    members: Floats
    usual: Floats
    happened: Floats


def weeks(part: Hindcast, came: Floats, days: Days, months: tuple[int, int]) -> Weeks:
    """The two weeks after each morning."""
    members, usual, happened = (np.full((len(part.day), len(WEEKS)), np.nan) for _ in range(3))
    for year, first, last in seasons(days, months):
        middle = (first + last) // 2
        out = np.abs(days - middle) <= HALF_YEAR_DAYS + GUARD_DAYS
        others = Usual(np.where(out, np.nan, came), days, past_only=False)
        for row in np.flatnonzero(part.year == year):
            for column, (start, end) in enumerate(WEEKS):
                told = part.passed[row, start : end + 1]
                known = (told != UNKNOWN).all(axis=0)
                if known.any():
                    members[row, column] = np.mean((told[:, known] == 1).sum(axis=0) >= LEAST_DAYS)
                usual[row, column] = others.counts(*(int(part.day[row]) + lead for lead in (start, end)))[
                    LEAST_DAYS:
                ].sum()
                week = part.happened[row, start : end + 1]
                happened[row, column] = np.nan if np.isnan(week).any() else week.sum() >= LEAST_DAYS
    return Weeks(part.year, members, usual, happened)


def told_again(job: Job) -> list[Weeks]:
    """All mornings of one station, an event each."""
    rec = made_ready(job)
    months = ASKED[job.events].months
    return [weeks(part, came, rec.days, months) for part, came in zip(run(job), rec.came, strict=True)]


def report_weeks(folder: Path, workers: int, every_days: int) -> None:
    """Prints the skill of both weeks, an event and a way of telling each."""
    for events in EVENTS:
        worlds = (READINGS, TYPICAL_WORLD)
        jobs = [Job(folder, place, events, world.name, every_days) for world in worlds for place in PLACES]
        with ProcessPoolExecutor(workers) as processes:
            found = list(processes.map(told_again, jobs))
        for world in worlds:
            for number, name in enumerate(ASKED[events].events):
                parts = [one[number] for one, job in zip(found, jobs, strict=True) if job.world == world.name]
                _report(name, world.name, parts)


def _report(name: str, world: str, parts: list[Weeks]) -> None:
    year = np.concatenate([one.year for one in parts])
    members, usual, happened = (
        np.concatenate([getattr(one, field) for one in parts]) for field in ("members", "usual", "happened")
    )
    weight, told = weighted(members, usual, happened, year)
    print(f"\n{name}, {world}: three event days and more, in {100 * np.nanmean(happened):.0f} % of weeks")
    for column, (start, end) in enumerate(WEEKS):
        came, usually = happened[:, column], usual[:, column]
        skill, raw = (
            skill_with_interval((one[:, column] - came) ** 2, (usually - came) ** 2, year) for one in (told, members)
        )
        target = TARGETS.get((name, world))
        goal = (
            "" if target is None else f"  target {target[column]}: {verdict(skill.value, skill.high, target[column])}"
        )
        print(
            f"  days {start} to {end}: {words(skill)}, raw members {raw.value:.3f}, weight {weight[column]:.2f}{goal}"
        )
