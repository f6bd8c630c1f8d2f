"""Where on an area to look first: an order with reasons, from its settings and what was seen there; no probability."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from forecast.guide import GUIDE
from forecast.guide.form import Source
from forecast.guide.places import PLACES, PlaceKind
from forecast.turf import DISEASES, Area

PAST = "past_patches"
PAST_SHOWN = 3  # house choice: the newest sightings that are listed one by one
_PRACTICE = Source("", "common practice, no source")

_SIDE_WORDS = MappingProxyType(
    {
        "n": "north",
        "ne": "north-east",
        "e": "east",
        "se": "south-east",
        "s": "south",
        "sw": "south-west",
        "w": "west",
        "nw": "north-west",
    }
)


@dataclass(frozen=True, slots=True)
class PastSighting:
    """A disease seen on the area before.

    Attributes:
        on: the day.
        disease: a key of :data:`forecast.turf.DISEASES`.
        sure: whether the diagnosis was sure.
        note: what the scout wrote.
    """

    on: date
    disease: str
    sure: bool
    note: str


@dataclass(frozen=True, slots=True)
class Place:
    """One place to look at, in the order of a list.

    Attributes:
        key: of its kind.
        words: where to go.
        reason: why.
        known: True where records or settings say that it is there; False where the scout has to find it.
        diseases: the diseases it is looked at for.
        sources: whose advice.
    """

    key: str
    words: str
    reason: str
    known: bool
    diseases: tuple[str, ...]
    sources: tuple[Source, ...]


def look_first(area: Area, diseases: Sequence[str], seen: Sequence[PastSighting]) -> tuple[Place, ...]:
    """Where to look first on an area.

    Past patches lead, newest first; then kinds of place that the settings say are here; then those that a scout has
    to find. Within each, places that more of the diseases share come first, then the guide's own order for them. What
    the settings say is not here is left out.

    Args:
        area: with its setting, ground and past diagnoses.
        diseases: the diseases looked for, keys of :data:`forecast.turf.DISEASES`.
        seen: past sightings on this area; others than of these diseases are left out.
    """
    ranked = []
    for number, kind in enumerate(PLACES.values()):
        named_by = tuple(key for key in diseases if kind.key in GUIDE[key].places)
        here = kind.here(area)
        if not named_by or here is False:
            continue
        best = min(GUIDE[key].places.index(kind.key) for key in named_by)
        ranked.append(((not here, -len(named_by), best, number), _place(kind, area, named_by, known=bool(here))))
    return (*_past(area, diseases, seen), *(place for _, place in sorted(ranked, key=lambda one: one[0])))


def _place(kind: PlaceKind, area: Area, diseases: tuple[str, ...], *, known: bool) -> Place:
    words, reason = kind.words, kind.reason
    if kind.key == "shade" and area.setting.shaded_from:
        sides = " and ".join(_SIDE_WORDS[side] for side in area.setting.shaded_from)
        words = f"the part shaded from the {sides}, and the edge of the shade"
    if kind.key == "low_wet" and known:
        reason = f"water drains poorly here: {reason}"
    return Place(kind.key, words, reason, known, diseases, (kind.source,))


def _past(area: Area, diseases: Sequence[str], seen: Sequence[PastSighting]) -> list[Place]:
    """The places of past patches: each day's sighting, newest first, and diagnoses of which no day is known."""
    wanted = sorted((one for one in seen if one.disease in diseases), key=lambda one: one.on, reverse=True)
    places = []
    for one in wanted[:PAST_SHOWN]:
        doubt = "" if one.sure else ", not surely"
        note = f', "{one.note}"' if one.note else ""
        words = f"where {DISEASES[one.disease].name} was seen on {one.on.day} {one.on:%b %Y}{doubt}{note}"
        places.append(Place(PAST, words, "it comes back to the same places", True, (one.disease,), (_PRACTICE,)))
    undated = tuple(key for key in diseases if key in area.diseases_had and key not in {one.disease for one in wanted})
    if undated:
        names = " and ".join(DISEASES[key].name for key in undated)
        words = f"where {names} {'was' if len(undated) == 1 else 'were'} before: ask who has worked here"
        reason = "it has been diagnosed here, and no record says where"
        places.append(Place(PAST, words, reason, True, undated, (_PRACTICE,)))
    return places
