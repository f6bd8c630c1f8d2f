"""What a sprayer puts down, and what to change."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from forecast.report.lines import wrapped
from forecast.report.words import NBSP, area_words
from forecast.units import L_PER_US_GAL, M2_PER_1000_SQ_FT, M_PER_FT, M_S_PER_MPH

SPRAYER_SCHEMA: Literal[1] = 1


@dataclass(frozen=True, slots=True)
class NozzleReport:
    """What one nozzle gave.

    Attributes:
        number: from 1, in the order given.
        litres: that it gave.
        off_share: above the median of all, as a share; below 0 under it.
        replace: True where it is further off than nozzles may be.
    """

    number: int
    litres: float
    off_share: float
    replace: bool


@dataclass(frozen=True, slots=True)
class SprayerReport:
    """What a sprayer puts down.

    Attributes:
        puts_down_l_per_m2: None where nozzles alone were measured.
        wanted_as_printed: in the label's own words; None where nothing was given to compare with.
        wanted_l_per_m2: likewise.
        off_share: above what is wanted, as a share; below 0 under it.
        near_enough: True where it is as near as a hand sprayer may be.
        should_take_s: how long the measured surface should take at this flow.
        took_s: how long it took.
        timed_m2: that surface.
        speed_m_s: at which this flow puts down what is wanted.
        flow_l_s: that puts it down at this speed.
        course_m: strip of a 128th of an acre, as long as one nozzle's width makes it; None where none was asked for.
        nozzles: empty where they were not measured.
    """

    schema: Literal[1]
    version: str
    units: Literal["us", "si"]
    puts_down_l_per_m2: float | None
    wanted_as_printed: str | None
    wanted_l_per_m2: float | None
    off_share: float | None
    near_enough: bool
    should_take_s: float | None
    took_s: float | None
    timed_m2: float | None
    speed_m_s: float | None
    flow_l_s: float | None
    course_m: float | None
    nozzles: tuple[NozzleReport, ...]
    cautions: tuple[str, ...]


def sprayer_text(report: SprayerReport) -> str:
    """The report for a terminal."""
    return "\n".join(line for sentence in _sentences(report) for line in wrapped(sentence, 0, 2)) + "\n"


def _sentences(report: SprayerReport) -> Iterator[str]:
    us = report.units == "us"
    if report.puts_down_l_per_m2 is not None:
        told = f"It puts down {_carrier(report.puts_down_l_per_m2, us=us)}"
        if report.off_share is None:
            yield f"{told}. Give --wanted to compare it with the label."
        else:
            yield f"{told}, {_off(report.off_share)} than the {report.wanted_as_printed} wanted."
            yield from _what_to_do(report, report.off_share, us=us)
    if report.course_m is not None:
        length = f"{report.course_m / M_PER_FT:.0f}{NBSP}ft" if us else f"{report.course_m:.0f}{NBSP}m"
        yield (
            f"Drive {length}, at the pace that you spray with, and take the time: one nozzle covers a 128th of an acre "
            "on it. Then catch what the nozzle gives in as long, standing still: so many fluid ounces are so many "
            "gallons an acre (Ohio State University Bulletin 817)."
        )
    for nozzle in report.nozzles:
        word = "clean it, measure again, and replace it if it stays so" if nozzle.replace else "good"
        yield f"Nozzle {nozzle.number}: {_off(nozzle.off_share)} than the middle one: {word}."
    if report.nozzles:
        yield (
            "A nozzle a tenth or more off the others is replaced (after Louisiana State University Extension). Nozzles "
            "of one kind and wear belong together."
        )
    yield "Measure with clean water, at the pressure and pace that you spray with, and again after each change."
    yield from report.cautions


def _what_to_do(report: SprayerReport, off: float, *, us: bool) -> Iterator[str]:
    if report.near_enough:
        yield "That is within 5 %, near enough for a hand sprayer (pesticidestewardship.org)."
        return
    faster = "faster" if off > 0 else "slower"
    if report.should_take_s is not None and report.took_s is not None and report.timed_m2 is not None:
        surface = area_words(report.timed_m2, us=us)
        yield (
            f"Walk {faster}: {surface} in {report.should_take_s:.0f}{NBSP}s, not {report.took_s:.0f}{NBSP}s. Or take "
            "another nozzle or pressure, within what the label allows, and measure again."
        )
    elif report.speed_m_s is not None and report.flow_l_s is not None:
        speed = f"{report.speed_m_s / M_S_PER_MPH:.2f}{NBSP}mph" if us else f"{report.speed_m_s * 3.6:.2f}{NBSP}km/h"
        gallons = report.flow_l_s * 60 / L_PER_US_GAL
        flow = f"{gallons:.3g}{NBSP}gal/min" if us else f"{report.flow_l_s * 60:.3g}{NBSP}L/min"
        yield f"Go {faster}, at {speed}; or set a flow of {flow} at the speed you have."
    else:
        times = f"{1 + off:.2f} times as fast"
        yield f"Walk {faster}, {times}, or take another nozzle or pressure within what the label allows; measure again."
    yield "Never make up for it with more or less product: the rate on the surface is what the label limits."


def _carrier(l_per_m2: float, *, us: bool) -> str:
    """On a lawn's surface, and on a field's, since labels print either."""
    if us:
        per_1000 = l_per_m2 * M2_PER_1000_SQ_FT / L_PER_US_GAL
        return f"{_three(per_1000)}{NBSP}gal per 1,000 sq ft ({_three(per_1000 * 43.56)}{NBSP}gal per acre)"
    return f"{_three(l_per_m2 * 100)}{NBSP}L per 100 m² ({_three(l_per_m2 * 10_000)}{NBSP}L per ha)"


def _three(value: float) -> str:
    return f"{value:,.0f}" if value >= 100 else f"{value:.3g}"


def _off(share: float) -> str:
    whole = round(100 * abs(share))
    if whole == 0:
        return "no more and no less"
    return f"{whole}{NBSP}% {'more' if share > 0 else 'less'}"
