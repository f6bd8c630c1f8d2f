"""What chances are worth to someone who acts on them: hits and false alarms, cost and loss, net benefit.

Someone acts where the chance *reaches* a line. For cost against loss the right line is their quotient, if the chances
are right (Murphy 1977, Mon. Weather Rev. 105:803-816; Richardson 2000, Q. J. R. Meteorol. Soc. 126:649-667; both from
memory). NaN is unknown as in :mod:`forecast.verify.scores`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecast.panel import Floats
from forecast.verify.cases import chances, known, outcomes, over


@dataclass(frozen=True, slots=True)
class Table:
    """Cases by whether one would have acted and whether the event came.

    Attributes:
        hits: acted, and it came.
        misses: not acted, and it came.
        false_alarms: acted, and it did not come.
        correct_rejections: not acted, and it did not come.
        hit_rate: share of the events that one would have acted on; NaN without an event.
        false_alarm_ratio: share of the actions that no event followed; NaN without an action.
        equitable_threat_score: hits beyond those by chance, over hits, misses and false alarms beyond the same; 1 at
            best, 0 for acting at random; NaN where it cannot be told. It takes one frequency for all cases, so that
            seasons and sites count as skill (Hamill & Juras 2006).
    """

    hits: int
    misses: int
    false_alarms: int
    correct_rejections: int
    hit_rate: float
    false_alarm_ratio: float
    equitable_threat_score: float


def at_threshold(chance: Floats, happened: Floats, act_from: float) -> Table:
    """The table of two by two for someone who acts where the chance is ``act_from`` or more.

    Measures from Wilks, Statistical Methods in the Atmospheric Sciences (from memory).

    Args:
        chance: 0 to 1, shape (cases,).
        happened: shape (cases,).
        act_from: 0 to 1.
    """
    told, came = known(chances(chance), outcomes(happened))
    acted, event = told >= act_from, came == 1
    hits, misses = int((acted & event).sum()), int((~acted & event).sum())
    false_alarms, rejections = int((acted & ~event).sum()), int((~acted & ~event).sum())
    by_chance = over((hits + misses) * (hits + false_alarms), len(told))
    return Table(
        hits,
        misses,
        false_alarms,
        rejections,
        over(hits, hits + misses),
        over(false_alarms, hits + false_alarms),
        over(hits - by_chance, hits + misses + false_alarms - by_chance),
    )


def excess_expense(chance: Floats, happened: Floats, cost_loss: float) -> Floats:
    """What each case costs beyond what it would with perfect foresight, in units of the loss; shape (cases,).

    Acting costs ``cost_loss`` and averts the whole loss of 1. A false alarm then costs ``cost_loss`` too much, a miss
    ``1 − cost_loss``, and all else nothing. The relative value is one less the quotient of two sums of these, so that
    ``skill_with_interval`` of :mod:`forecast.verify.year_blocks` tells how sure it is.

    Args:
        chance: 0 to 1, shape (cases,).
        happened: shape (cases,).
        cost_loss: cost of acting over the loss that it averts, 0 to 1; one acts where the chance reaches it.

    Raises:
        ValueError: a quotient outside 0 to 1, by which one would never act, or always.
    """
    if not 0 <= cost_loss <= 1:
        raise ValueError("the quotient of cost and loss runs from 0 to 1: who pays more than the loss never acts")
    told, came = chances(chance), outcomes(happened)
    found: Floats = np.where(told >= cost_loss, cost_loss * (1 - came), (1 - cost_loss) * came)
    return np.where(np.isnan(told), np.nan, found)


def relative_value(chance: Floats, happened: Floats, reference: Floats, cost_loss: float) -> float:
    """The share of the savings by perfect foresight that the chances bring someone who acts on the reference so far.

    1 is all that could be saved, 0 nothing, below 0 a loss; NaN where the reference already acts perfectly. With the
    overall frequency as the reference of every case it is Richardson's value; with the climatology of site and date it
    is stricter, since seasons no longer count.

    Args:
        chance: 0 to 1, shape (cases,).
        happened: shape (cases,).
        reference: the chance acted on so far, 0 to 1, shape (cases,).
        cost_loss: cost of acting over the loss that it averts, 0 to 1.
    """
    told, came, so_far = known(chances(chance), outcomes(happened), chances(reference))
    excess, excess_so_far = (excess_expense(each, came, cost_loss).sum() for each in (told, so_far))
    return 1 - over(float(excess), float(excess_so_far))


def net_benefit(chance: Floats, happened: Floats, act_from: float) -> float:
    """Hits a case, less false alarms a case weighted by the odds of the line: as so many events met at no cost.

    Never acting gives 0; always acting gives f − (1 − f)·odds at an overall frequency f. NaN without a case. Vickers &
    Elkin 2006, Med. Decis. Making 26:565-574 (formula read second-hand).

    Args:
        chance: 0 to 1, shape (cases,).
        happened: shape (cases,).
        act_from: the line, 0 to less than 1: the chance at which acting and not acting are alike to the person.

    Raises:
        ValueError: a line outside that.
    """
    if not 0 <= act_from < 1:
        raise ValueError("the line runs from 0 to less than 1: at certainty a false alarm would weigh without end")
    table = at_threshold(chance, happened, act_from)
    cases = table.hits + table.misses + table.false_alarms + table.correct_rejections
    return over(table.hits - table.false_alarms * act_from / (1 - act_from), cases)
