"""Plain words about what stands around turf, read into things and where they stand."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from types import MappingProxyType

from forecast.turf import SIDES

EXAMPLES = (
    "open",
    "trees to the east, open sky",
    "under trees",
    "building to the south",
    "hedge to the north and west",
    "courtyard",
)

SIZES = MappingProxyType({"tall": 1.4, "low": 0.6})  # of the height of what stands at a side; house choice

_THINGS = MappingProxyType(
    {
        **dict.fromkeys(("tree", "trees", "oak", "oaks", "maple", "maples", "pine", "pines", "conifers"), "trees"),
        **dict.fromkeys(("wood", "woods", "woodland", "forest"), "woods"),
        **dict.fromkeys(("hedge", "hedges", "bush", "bushes", "shrub", "shrubs"), "hedge"),
        **dict.fromkeys(("fence", "fences"), "fence"),
        **dict.fromkeys(("wall", "walls"), "wall"),
        **dict.fromkeys(("building", "buildings", "house", "houses", "garage", "shed", "barn"), "building"),
        **dict.fromkeys(("bank", "banks", "slope", "hill", "hills"), "bank"),
        **dict.fromkeys(("shadecloth", "cloth"), "shade cloth"),
        **dict.fromkeys(("roof", "awning", "pergola", "balcony"), "roof"),
    }
)
_SIZES = MappingProxyType(
    {**dict.fromkeys(("tall", "high", "near", "close"), "tall"), **dict.fromkeys(("low", "short", "far"), "low")}
)
_COMPASS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")  # as SIDES run
_SIDES = MappingProxyType(
    {side: (side,) for side in SIDES}
    | {word: (side,) for side, word in zip(SIDES, _COMPASS, strict=True)}
    | {f"{word}ern": (side,) for side, word in zip(SIDES, _COMPASS, strict=True)}
    | dict.fromkeys(("all", "every", "around", "round"), SIDES)
)
_SURROUNDED = ("surrounded",)
_UNDER = ("under", "below", "beneath")
_OVERHEAD = ("overhead", "above")
_OPEN = ("open", "sunny", "unshaded")
_YARDS = ("courtyard", "atrium")  # buildings on every side
_FILLERS = frozenset(
    {"a", "an", "the", "some"}
    | {"of", "to", "on", "at", "in", "along", "by", "with", "and", "is", "are"}
    | {"side", "sides", "row", "line", "edge", "stand", "stands", "standing"}
    | {"lawn", "turf", "area", "sky", "field", "ground"}
)
_SUGGESTED = tuple(
    word
    for words in (_THINGS, _SIZES, _SIDES, _SURROUNDED, _UNDER, _OVERHEAD, _OPEN, _YARDS)
    for word in words
    if len(word) > len("nw")
)


@dataclass(frozen=True, slots=True)
class Named:
    """A thing and where it stands.

    Attributes:
        thing: as the tables of :mod:`forecast.canopy.surroundings` name it.
        height_factor: of its usual height.
        sides: of :data:`forecast.turf.SIDES`, in their order; none overhead.
    """

    thing: str
    height_factor: float
    sides: tuple[str, ...]

    @property
    def overhead(self) -> bool:
        """Whether it stands overhead."""
        return not self.sides


def read(words: str) -> tuple[Named, ...]:
    """The things that an entry names; none for open turf.

    Several things before a side all stand there; a thing after a side begins anew. "North west" is one side, "north,
    west" and "north and west" are two. A size stands before its thing: "tall trees".

    Raises:
        ValueError: a word is not known, a thing stands nowhere, or nothing is said; with what to write instead.
    """
    text = words.lower().replace("shade cloth", "shadecloth").replace("full sun", "sunny")
    text = re.sub(r"\b(north|south)[\s-]+(east|west)", r"\1\2", text)
    reader = _Reader()
    for word in re.findall(r"[^\s,;.&/]+", text):
        reader.take(word)
    return reader.end()


class _Reader:
    """Takes words one by one; holds the things not yet closed, and where they stand as far as has been said."""

    def __init__(self) -> None:
        self.named: list[Named] = []
        self.is_open = False
        self._begin()

    def _begin(self) -> None:
        self.things: list[tuple[str, float]] = []
        self.sides: set[str] = set()
        self.overhead = False
        self.size = 1.0
        self.size_word = ""

    def take(self, word: str) -> None:
        if word in _FILLERS:
            return
        for known, act in (
            (_THINGS, self._thing),
            (_SIZES, self._size),
            (_SIDES, self._side),
            (_SURROUNDED, self._surrounded),
            (_UNDER, self._under),
            (_OVERHEAD, self._overhead),
            (_OPEN, self._open),
            (_YARDS, self._yard),
        ):
            if word in known:
                act(word)
                return
        near = difflib.get_close_matches(word, _SUGGESTED, n=1)
        guess = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(dict.fromkeys(_THINGS.values()))}."
        raise ValueError(f"{word!r} is no word known here; {guess} {_write_like()}")

    def end(self) -> tuple[Named, ...]:
        self._close()
        if not self.named and not self.is_open:
            raise ValueError(f"say what stands around it, or 'open'. {_write_like()}")
        if self.is_open and any(one.overhead for one in self.named):
            raise ValueError("it cannot lie open and under something; leave out one of the two")
        return tuple(self.named)

    def _thing(self, word: str) -> None:
        if self.things and (self.sides or self.overhead):
            size, size_word = self.size, self.size_word
            self.size_word = ""
            self._close()
            self.size, self.size_word = size, size_word
        self.things.append((_THINGS[word], self.size))
        self.size, self.size_word = 1.0, ""

    def _size(self, word: str) -> None:
        self.size *= SIZES[_SIZES[word]]
        self.size_word = word

    def _side(self, word: str) -> None:
        if not self.things and not self.sides:
            raise ValueError(f"say what stands there before {word!r}; name no side that is open. {_write_like()}")
        if self.overhead:
            raise ValueError(f"{word!r} does not go with 'under' or 'overhead'; write 'trees to the east, under trees'")
        self.sides.update(_SIDES[word])

    def _surrounded(self, _: str) -> None:
        self._close()
        self.sides.update(SIDES)

    def _under(self, _: str) -> None:
        self._close()
        self.overhead = True

    def _overhead(self, word: str) -> None:
        if not self.things or self.sides:
            raise ValueError(f"{word!r} stands behind its thing, without a side: 'trees {word}'")
        self.overhead = True

    def _open(self, _: str) -> None:
        self._close()
        self.is_open = True

    def _yard(self, _: str) -> None:
        self._close()
        self.named.append(Named("building", 1.0, SIDES))

    def _close(self) -> None:
        """Ends the things at hand."""
        if self.size_word:
            raise ValueError(f"{self.size_word!r} stands before its thing: '{self.size_word} trees to the east'")
        if self.things and not self.sides and not self.overhead:
            what = self.things[-1][0]
            raise ValueError(f"name a side for the {what}: '{what} to the east', '{what} all round'; or 'under trees'")
        if not self.things and (self.sides or self.overhead):
            raise ValueError(f"say what it lies under or is surrounded by. {_write_like()}")
        sides = tuple(side for side in SIDES if side in self.sides)
        self.named += [Named(thing, factor, sides) for thing, factor in self.things]
        self._begin()


def _write_like() -> str:
    return f"Write like {', '.join(map(repr, EXAMPLES))}"
