"""From what members say to the chance that is told: weights and slopes fitted on past mornings, as plain numbers.

A chance is usual + w·(members − usual): w is 1 where members can be taken at their word and 0 where they have shown no
skill; then the usual chance for the date is told, and named so. Where it has proved better on years left out, a single
day goes by a logistic regression instead, on the members' chance, the usual one and how the last fortnight stood. The
numbers are fitted in ``forecast.verify``, once, over all stations at hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Literal

import numpy as np

from forecast.panel import Floats

LEADS = 16
USUAL_DAYS = 5.0  # members' share is told as (passing + 5·usual)/(members + 5): none of a hundred is not never
EDGE = 1e-3  # logits are taken within this of 0 and 1
STATE = ("t_1_day", "t_5_days", "t_14_days", "td_1_day", "td_5_days", "td_14_days")

Source = Literal["forecast", "readings"]
# House choice: about as far as any event at five airports was surely told better than by past years.
UNTESTED_DAYS = {"readings": 4, "forecast": 8}


@dataclass(frozen=True, eq=False)
class Calibration:
    """What members are worth for one event, by days ahead from 0, the day of the morning itself.

    Attributes:
        source: whether members followed a weather forecast or readings alone.
        told_days: on how many days from the morning's own the members are told; beyond, the usual chance is.
        single: weight of a single day, shape (days,).
        within: weight of at least one event day from one day to another, shape (days, days).
        stack: intercept, slopes of both logits and of :data:`STATE`, shape (days, 9); NaN where the weight holds.
        skill: Brier skill of the chance told over the usual one, on years left out, shape (days,).
        skill_low: lower end of its 90 % interval.
        skill_high: upper end.
        mornings: that it was fitted on.
        years: distinct ones among them.
        stations: their names.
        made: in words, from what; such as that forecasts were emulated.
    """

    source: Source
    told_days: int
    single: Floats
    within: Floats
    stack: Floats
    skill: Floats
    skill_low: Floats
    skill_high: Floats
    mornings: int
    years: int
    stations: tuple[str, ...]
    made: str

    def of_days(self, members: Floats, usual: Floats, state: Floats | None = None) -> Floats:
        """Chances of single days.

        Args:
            members: of the members by :func:`members_chance`, shape (..., days).
            usual: of other years, same shape.
            state: anomalies by :data:`STATE`, shape (..., 6); without them the weight holds throughout.
        """
        told = usual + self.single * (members - usual)
        if state is not None:
            stacked = stacked_chance(self.stack, members, usual, state)
            told = np.where(np.isnan(stacked), told, stacked)
        return np.where(np.arange(LEADS + 1) < self.told_days, told, usual)

    def without_regression(self) -> Calibration:
        """The weights alone, for an event that the regression was not fitted for."""
        return replace(self, stack=np.full_like(self.stack, np.nan))

    def plain(self) -> dict[str, Any]:
        """Plain numbers and words, as JSON holds them; NaN becomes None."""
        found: dict[str, Any] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            found[field.name] = _plain(value) if isinstance(value, np.ndarray) else value
        found["stations"] = list(self.stations)
        return found

    @classmethod
    def of_plain(cls, plain: Mapping[str, Any]) -> Calibration:
        """The same again.

        Raises:
            ValueError: numbers are missing, or of another shape.
        """
        shapes = {"single": (LEADS + 1,), "within": (LEADS + 1, LEADS + 1), "stack": (LEADS + 1, 3 + len(STATE))}
        shapes |= dict.fromkeys(("skill", "skill_low", "skill_high"), (LEADS + 1,))
        missing = {field.name for field in fields(cls)} - set(plain)
        if missing:
            raise ValueError(f"a calibration lacks {', '.join(sorted(missing))}")
        values = {name: np.array(plain[name], dtype=np.float64) for name in shapes}
        wrong = [name for name, shape in shapes.items() if values[name].shape != shape]
        if wrong:
            raise ValueError(f"a calibration's {', '.join(wrong)} has another shape than this version's")
        weights = [name for name in ("single", "within") if not ((values[name] >= 0) & (values[name] <= 1)).all()]
        told = plain["told_days"]
        if weights or type(told) is not int or not 0 <= told <= LEADS + 1 or plain["source"] not in UNTESTED_DAYS:
            raise ValueError("a calibration's weights, told days or source are out of range")
        words: dict[str, Any] = {field.name: plain[field.name] for field in fields(cls) if field.name not in shapes}
        words["stations"] = tuple(words["stations"])
        return cls(**{**words, **values})


def as_they_are(
    source: Source, made: str = "members taken at their word; no past morning was looked at"
) -> Calibration:
    """Members taken at their word: what stands where nothing has been fitted."""
    days = LEADS + 1
    unknown = np.full(days, np.nan)
    return Calibration(
        source, days, np.ones(days), np.ones((days, days)), np.full((days, 3 + len(STATE)), np.nan),
        unknown, unknown, unknown, 0, 0, (), made,
    )  # fmt: skip


def untested(source: Source) -> Calibration:
    """Members at their word on the first days, where no fit speaks for an event: what is not tested is not told far."""
    days = UNTESTED_DAYS[source]
    near = np.arange(LEADS + 1) < days
    return replace(as_they_are(source), told_days=days, within=np.tile(near.astype(np.float64), (LEADS + 1, 1)))


def members_chance(passing: Floats, known: Floats, usual: Floats) -> Floats:
    """The chance by members, with some days of the usual one beside them; NaN without any known member.

    Args:
        passing: members with an event.
        known: members of which that is known.
        usual: chance by other years.
    """
    chance = (passing + USUAL_DAYS * usual) / (known + USUAL_DAYS)
    return np.where(known > 0, chance, np.nan)


def stacked_chance(stack: Floats, members: Floats, usual: Floats, state: Floats) -> Floats:
    """The logistic regression's chance; NaN where there is none.

    Args:
        stack: shape (days, 9).
        members: shape (..., days).
        usual: shape (..., days).
        state: shape (..., 6).
    """
    score = stack[:, 0] + stack[:, 1] * logit(members) + stack[:, 2] * logit(usual) + state @ stack[:, 3:].T
    chance: Floats = 1 / (1 + np.exp(-score))
    return chance


def logit(chance: Floats) -> Floats:
    """Log odds, within an edge of 0 and 1."""
    inside = np.clip(chance, EDGE, 1 - EDGE)
    found: Floats = np.log(inside / (1 - inside))
    return found


def _plain(array: Floats) -> list[Any]:
    rounded = np.round(array, 5).astype(object)
    rounded[np.isnan(array)] = None
    found: list[Any] = rounded.tolist()
    return found
