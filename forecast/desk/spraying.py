"""What a sprayer puts down beside what is wanted, and by how much to change pace or flow."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from forecast import __version__
from forecast.amounts import SURFACE_M2
from forecast.errors import DataError
from forecast.report.sprayer import SPRAYER_SCHEMA, NozzleReport, SprayerReport
from forecast.report.words import CAUTIONS
from forecast.schedule import sprayer


@dataclass(frozen=True, slots=True)
class Sprayed:
    """A measured surface sprayed with water, and the tank filled to the same mark again."""

    litres: float
    size_m2: float


@dataclass(frozen=True, slots=True)
class Caught:
    """What was caught standing still, in so many seconds, and how long a measured surface takes."""

    litres: float
    seconds: float
    took_s: float
    size_m2: float


@dataclass(frozen=True, slots=True)
class Flowing:
    """A flow, carried at a speed over a width; both of one nozzle or both of all."""

    litres_s: float
    speed_m_s: float
    width_m: float


@dataclass(frozen=True, slots=True)
class Course:
    """A strip to be driven, as wide as one nozzle covers."""

    width_m: float


Way = Sprayed | Caught | Flowing


def sprayer_report(
    way: Way | Course | None,
    wanted: tuple[float, str] | None,
    nozzles_l: Sequence[float],
    *,
    units: Literal["us", "si"],
) -> SprayerReport:
    """What it puts down.

    Args:
        way: how it was measured, or the strip to measure on; None for nozzles alone.
        wanted: litres a m² and the same as a label prints it; None where nothing is to be compared.
        nozzles_l: what each nozzle gave in the same time, litres; empty where they were not measured.
        units: to print.

    Raises:
        DataError: nothing was measured, or one nozzle alone.
    """
    if way is None and not nozzles_l:
        raise DataError("nothing was measured", hint="'forecast sprayer --help' shows three ways to measure")
    if len(nozzles_l) == 1:
        raise DataError("one nozzle has none to be compared with", hint="give --nozzle once for each of them")
    course = None
    if isinstance(way, Course):
        course, way = sprayer.course_m(SURFACE_M2["acre"] / 128, way.width_m), None
    puts_down = None if way is None else _puts_down(way)
    off = None if puts_down is None or wanted is None else puts_down / wanted[0] - 1
    middle = statistics.median(nozzles_l) if nozzles_l else 0.0
    bad = set(sprayer.off_nozzles(nozzles_l)) if nozzles_l else set()
    return SprayerReport(
        SPRAYER_SCHEMA,
        __version__,
        units,
        puts_down,
        None if wanted is None else wanted[1],
        None if wanted is None else wanted[0],
        off,
        off is not None and abs(off) <= sprayer.WITHIN_SHARE * (1 + 1e-9),
        None if wanted is None else _takes_s(way, wanted[0]),
        way.took_s if isinstance(way, Caught) else None,
        way.size_m2 if isinstance(way, Caught) else None,
        None if wanted is None or not isinstance(way, Flowing) else _speed(way, wanted[0]),
        None if wanted is None or not isinstance(way, Flowing) else _flow(way, wanted[0]),
        course,
        tuple(NozzleReport(place + 1, one, one / middle - 1, place in bad) for place, one in enumerate(nozzles_l)),
        CAUTIONS[:2],
    )


def _puts_down(way: Way) -> float:
    if isinstance(way, Sprayed):
        return sprayer.by_area_l_per_m2(way.litres, way.size_m2)
    if isinstance(way, Caught):
        return sprayer.by_time_l_per_m2(way.litres, way.seconds, way.size_m2, way.took_s)
    return sprayer.carrier_l_per_m2(way.litres_s, way.speed_m_s, way.width_m)


def _takes_s(way: Way | None, wanted_l_per_m2: float) -> float | None:
    """How long the measured surface has to take, for what is wanted."""
    if not isinstance(way, Caught):
        return None
    return wanted_l_per_m2 * way.size_m2 / (way.litres / way.seconds)


def _speed(way: Flowing, wanted_l_per_m2: float) -> float:
    return sprayer.speed_for_m_s(wanted_l_per_m2, way.litres_s, way.width_m)


def _flow(way: Flowing, wanted_l_per_m2: float) -> float:
    return sprayer.flow_for_l_s(wanted_l_per_m2, way.speed_m_s, way.width_m)
