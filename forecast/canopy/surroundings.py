"""What stands around turf, in plain words, as the light, sky and wind that it lets through.

An entry names things and where they stand: "trees to the east, open sky", "under trees", "hedge to the north and
west", "courtyard", "open". The tables and the rules are house choices, made to be seen and changed: a page shows the
numbers, and the settings file takes the numbers themselves instead of words.

The horizon is cut into eight parts, one a side. A thing at a side fills that part and the two beside it, and hides what
lies below its top, seen from the middle of the turf. Where two things fill one part, the one that hides more counts.

- Sky: a part with a top at the height h loses sin² h of its sky, as level ground sees it (Oke 1987, Boundary Layer
  Climates, from memory: a basin of height h all round leaves cos² h), but for what shows through. The sky seen is the
  mean over the eight parts.
- Wind: the mean over the eight parts of what each lets through, as if it blew from all of them alike.
- Light: the mean over the parts that are filled, and over the sun's way from the horizon to 55°: up to its top a thing
  lets past what the table says, above it the sun shines over. It holds while the sun stands behind a named side
  (:mod:`forecast.canopy.light`).
- What stands overhead takes its share of what the sides let through. Light then holds wherever the sun stands, and is
  the mean over all eight parts before the cover takes its share.

Trees are taken as in leaf all year.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

from forecast.canopy import plain_words
from forecast.canopy.light import SHADE_BELOW_DEG
from forecast.canopy.plain_words import EXAMPLES, Named
from forecast.turf import SIDES

__all__ = ["EXAMPLES", "OVERHEAD", "STANDING", "Overhead", "Standing", "Surroundings", "surroundings"]


@dataclass(frozen=True, slots=True)
class Standing:
    """A thing at a side of the turf.

    Attributes:
        height_deg: how far its top stands above the horizon, seen from the middle of the turf.
        sky_through_fraction: share of the sky behind it that shows through.
        light_past_fraction: share of the light that still comes while the sun stands behind it: through it, and from
            the open sky beside it, which alone gives a fifth.
        wind_let_through_fraction: share of the wind from its side.
    """

    height_deg: float
    sky_through_fraction: float
    light_past_fraction: float
    wind_let_through_fraction: float


@dataclass(frozen=True, slots=True)
class Overhead:
    """A thing overhead: the shares of light, sky and wind that it lets through."""

    light_let_through_fraction: float
    sky_seen_fraction: float
    wind_let_through_fraction: float


# House choices throughout. The top of a thing 1.2 times as tall as it is far stands at 50°, half as tall at 27°. Beside
# them: crowns in leaf let 9 to 28 % of the sun through (Konarska et al. in Gothenburg, read second-hand); behind a row
# of broad-leaved trees blows about half of the open wind, behind dense conifers a third (extension notes, from memory).
STANDING = MappingProxyType(
    {
        "trees": Standing(50.0, 0.20, 0.30, 0.5),
        "woods": Standing(55.0, 0.05, 0.20, 0.3),
        "hedge": Standing(25.0, 0.10, 0.25, 0.5),
        "fence": Standing(20.0, 0.20, 0.30, 0.6),
        "wall": Standing(25.0, 0.00, 0.20, 0.5),
        "building": Standing(50.0, 0.00, 0.20, 0.3),
        "bank": Standing(15.0, 0.00, 0.20, 0.8),
    }
)

# House choices throughout. Beside them: 58 % of the sky is seen under apple trees (Pedro & Gillespie 1982, Agric.
# Meteorol. 25:297-310, read second-hand); turf was studied under cloth of 80 % shade, where still air warmed it (Koh et
# al. 2003, Crop Sci. 43:2182, abstract).
OVERHEAD = MappingProxyType(
    {
        "trees": Overhead(0.40, 0.50, 0.5),
        "woods": Overhead(0.20, 0.25, 0.3),
        "shade cloth": Overhead(0.20, 0.20, 0.6),
        "roof": Overhead(0.20, 0.10, 0.6),
    }
)

MOST_HEIGHT_DEG = 75.0  # house choice: what is nearer than that stands overhead


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What an entry comes to; named as in :class:`forecast.turf.Setting`, in hundredths as pages show them."""

    light_let_through_fraction: float
    sky_seen_fraction: float
    wind_let_through_fraction: float
    shaded_from: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Part:
    """One eighth of the horizon: what is left of its light, sky and wind."""

    light: float = 1.0
    sky: float = 1.0
    wind: float = 1.0

    def behind(self, thing: Standing, height_factor: float) -> _Part:
        """The same part with one thing more in it."""
        height_deg = min(thing.height_deg * height_factor, MOST_HEIGHT_DEG)
        hidden = math.sin(math.radians(height_deg)) ** 2
        of_the_way = min(height_deg / SHADE_BELOW_DEG, 1.0)
        return _Part(
            min(self.light, 1 - (1 - thing.light_past_fraction) * of_the_way),
            min(self.sky, 1 - (1 - thing.sky_through_fraction) * hidden),
            min(self.wind, thing.wind_let_through_fraction),
        )


def surroundings(words: str) -> Surroundings:
    """What an entry in plain words comes to.

    Args:
        words: things and where they stand, in any case; see :func:`forecast.canopy.plain_words.read`.

    Raises:
        ValueError: a word is not known, a thing stands nowhere or cannot stand there, or nothing is said; with what to
            write instead.
    """
    named = plain_words.read(words)
    at_sides = [one for one in named if not one.overhead]
    covers = [_cover(one) for one in named if one.overhead]
    parts = _horizon(at_sides)
    filled = [part for part in parts if part != _Part()] if not covers else parts
    return Surroundings(
        round(math.prod(c.light_let_through_fraction for c in covers) * _mean([p.light for p in filled]), 2),
        round(math.prod(c.sky_seen_fraction for c in covers) * _mean([p.sky for p in parts]), 2),
        round(math.prod(c.wind_let_through_fraction for c in covers) * _mean([p.wind for p in parts]), 2),
        () if covers else tuple(side for side in SIDES if any(side in one.sides for one in at_sides)),
    )


def _horizon(at_sides: Sequence[Named]) -> list[_Part]:
    parts = [_Part()] * len(SIDES)
    for one in at_sides:
        if one.thing not in STANDING:
            raise ValueError(f"a {one.thing} is overhead: write 'under a {one.thing}'")
        for index in _filled(one):
            parts[index] = parts[index].behind(STANDING[one.thing], one.height_factor)
    return parts


def _filled(one: Named) -> set[int]:
    """The parts of the horizon that a thing fills: those of its sides and one to either hand."""
    return {(SIDES.index(side) + beside) % len(SIDES) for side in one.sides for beside in (-1, 0, 1)}


def _cover(one: Named) -> Overhead:
    if one.thing not in OVERHEAD:
        raise ValueError(f"a {one.thing} stands at a side: write '{one.thing} to the east'")
    return OVERHEAD[one.thing]


def _mean(shares: Sequence[float]) -> float:
    return sum(shares) / len(shares) if shares else 1.0
