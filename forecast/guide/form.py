"""The form of a scouting guide's entry: what to look for, when, where, and the check that tells it from the rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Grade = Literal["abstract read", "read second-hand", "common practice, no source", "from memory"]
LookAt = Literal["dawn", "daylight"]


@dataclass(frozen=True, slots=True)
class Source:
    """Where something was read, and how.

    Attributes:
        words: author or institution, title and year as far as known; what it is taken for.
        grade: how it was read.
    """

    words: str
    grade: Grade

    def __str__(self) -> str:
        """The source in one line."""
        if self.grade == "common practice, no source":
            return f"{self.words}: {self.grade}" if self.words else self.grade
        return f"{self.words} ({self.grade})"


@dataclass(frozen=True, slots=True)
class Separation:
    """Something that a disease is taken for, and the one check that tells them apart.

    Attributes:
        key: of a look-alike that is no disease, or of another disease.
        check: what to look at, and what it says.
        mixed: told also where this grass does not have the other disease, since another in the same turf does.
    """

    key: str
    check: str
    mixed: bool = False


@dataclass(frozen=True, slots=True)
class GuideEntry:
    """How to look for one disease.

    Attributes:
        disease: a key of :data:`forecast.turf.DISEASES`.
        first_month: first month in which there is something to see, northern hemisphere; six months later in the
            southern.
        last_month: last month in which there is something to see.
        look_at: ``dawn`` where the best sign is gone once the dew has dried.
        hour: the time of day, in words, and why.
        weather: the weather after which to look.
        patch: what shows from standing height.
        blade: what shows on a blade, with a hand lens.
        base: what shows on sheaths, crowns, stolons and roots.
        dew: what shows in the dew, or that nothing does.
        sure: the one check that makes it most likely; a laboratory's word where nothing in the field does.
        quiet: what to do in its season while nothing shows; empty where there is no such time.
        not_disease: look-alikes that are no disease, keys of :data:`forecast.guide.lookalikes.LOOKALIKES`.
        other_diseases: diseases it is taken for, keys of :data:`forecast.turf.DISEASES` or of
            :data:`forecast.guide.lookalikes.UNMODELLED`.
        places: kinds of place to look at first, most telling first: ``past_patches`` and keys of
            :data:`forecast.guide.places.PLACES`.
        unsure: what to do when the check does not settle it.
        sources: whose it is.
    """

    disease: str
    first_month: int
    last_month: int
    look_at: LookAt
    hour: str
    weather: str
    patch: str
    blade: str
    base: str
    dew: str
    sure: str
    quiet: str
    not_disease: tuple[Separation, ...]
    other_diseases: tuple[Separation, ...]
    places: tuple[str, ...]
    unsure: str
    sources: tuple[Source, ...]


def turned(month: int, *, southern: bool) -> int:
    """A month of the northern hemisphere's year as the month that plays its part: six on in the southern.

    Raises:
        ValueError: it is no month.
    """
    if not 1 <= month <= 12:
        raise ValueError(f"{month} is no month; they go from 1 to 12")
    return (month - 1 + 6) % 12 + 1 if southern else month


def shows(entry: GuideEntry, month: int, *, southern: bool) -> bool:
    """Whether there is something to see of a disease in a month; the span may run over the year's end."""
    first, last = turned(entry.first_month, southern=southern), turned(entry.last_month, southern=southern)
    return (month - first) % 12 <= (last - first) % 12
