"""What checks say: a verdict for each series, quantity and limit, and the sentences a page prints of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from forecast.errors import Notice
from forecast.panel import Floats, Hours, Panel
from forecast.quantities import QUANTITIES, Flag


@dataclass(frozen=True, eq=False, slots=True)
class Verdict:
    """Readings of one series and quantity that one check marked.

    Attributes:
        check: key of the check; ``withdrawn`` where a person took the readings out.
        series: name of the series.
        quantity: name of the quantity.
        flag: suspect or fail.
        stamps: the hours marked, UTC, in order; at least one.
        readings: the raw values at those hours.
        limit: what was not let pass, in words with value and unit; for what was withdrawn, the reason.
        on_page: whether it is worth a sentence on the morning page.
    """

    check: str
    series: str
    quantity: str
    flag: Flag
    stamps: Hours
    readings: Floats
    limit: str
    on_page: bool = True

    @property
    def hours(self) -> int:
        """How many hours were marked."""
        return len(self.stamps)

    @property
    def first(self) -> np.datetime64:
        """The first hour marked."""
        stamp: np.datetime64 = self.stamps[0]
        return stamp

    @property
    def last(self) -> np.datetime64:
        """The last hour marked."""
        stamp: np.datetime64 = self.stamps[-1]
        return stamp

    @property
    def example(self) -> float:
        """The reading at the first hour marked."""
        return float(self.readings[0])

    def since(self, first: np.datetime64) -> Verdict | None:
        """The part of the verdict from an hour on; None where there is none."""
        keep = self.stamps >= first
        if not keep.any():
            return None
        return Verdict(
            self.check,
            self.series,
            self.quantity,
            self.flag,
            self.stamps[keep],
            self.readings[keep],
            self.limit,
            self.on_page,
        )

    @property
    def text(self) -> str:
        """One sentence, without the name of the series."""
        quantity = QUANTITIES[self.quantity]
        done = "left out" if self.flag == Flag.FAIL else "suspect, kept"
        unit = "" if quantity.unit == "1" else f" {quantity.unit}"
        return (
            f"{quantity.meaning}: {self.hours} h {done} ({self.limit}), the first {self.example:g}{unit} "
            f"at {self.first}:00Z"
        )


class Checked(NamedTuple):
    """A panel after checks, and what they said.

    Attributes:
        panel: what failed is unknown, what is suspect stays, an overshoot is taken at its limit; flags say which.
        verdicts: in the order of the checks.
    """

    panel: Panel
    verdicts: tuple[Verdict, ...]


def notices(verdicts: Iterable[Verdict], since: np.datetime64 | None = None) -> tuple[Notice, ...]:
    """One sentence for each series and check, of the verdicts that are worth one; what failed comes first.

    Args:
        verdicts: as :func:`forecast.quality.check` returned them.
        since: only what was marked at this hour or later is told.
    """
    cut = [one if since is None else one.since(since) for one in verdicts]
    groups: dict[tuple[str, str], list[Verdict]] = {}
    for one in cut:
        if one is not None and (one.on_page or one.flag == Flag.FAIL):
            groups.setdefault((one.series, one.check), []).append(one)
    told = [_notice(group) for group in groups.values()]
    return tuple(sorted(told, key=lambda notice: not notice.grave))


def _notice(group: Sequence[Verdict]) -> Notice:
    """The worst verdict of the group in a sentence, and how many more there are."""
    worst = max(group, key=lambda one: (one.flag, one.hours))
    others = sorted({QUANTITIES[one.quantity].meaning for one in group if one.quantity != worst.quantity})
    text = worst.text + (f"; also {', '.join(others)}" if others else "")
    return Notice(text, worst.series, worst.quantity, grave=worst.flag == Flag.FAIL)
