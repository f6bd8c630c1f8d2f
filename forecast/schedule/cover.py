"""What the last application still protects, and when the label lets the next one be made.

In this first form the label's own intervals stand for protection: cover is sure to the label's least days, and
gone after its most days; in between it is wearing off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from forecast.schedule.label import FULL_RATE_SHARE, Application, Label, LabelUse
from forecast.schedule.legality import Refusal, Spot, day_refusals, left_per_m2, place_refusals, shares, year_of

LOOK_AHEAD_DAYS = 60  # house choice: an option that is legal later than this is none for a plan of two weeks


@dataclass(frozen=True, slots=True)
class Cover:
    """Days of protection by the last application against one disease; day numbers.

    Attributes:
        applied: day of the application.
        sure_until: last day within the label's least days.
        gone_after: last day within the label's most days.
        label_key: which product.
    """

    applied: int
    sure_until: int
    gone_after: int
    label_key: str


@dataclass(frozen=True, slots=True)
class Option:
    """A label's row that may be used, and from when.

    Attributes:
        label: which product.
        use: which row.
        legal_from: first day number on which the label allows it here.
        left_this_year_per_m2: what the label's yearly limits leave on that day, mL or g a m²; None where it names none.
        cautions: house rules that it goes against on that day, one sentence each.
        waits_for: why it may not be used today; empty where it may.
    """

    label: Label
    use: LabelUse
    legal_from: int
    left_this_year_per_m2: float | None
    cautions: tuple[str, ...] = ()
    waits_for: str = ""


def cover(applications: Sequence[Application], disease: str, today: int) -> Cover | None:
    """The cover that lasts longest among the applications made against a disease; None where there is none."""
    found = [
        Cover(a.day, a.day + a.least_days, a.day + a.most_days, a.label_key)
        for a in applications
        if disease in a.diseases and a.day <= today and a.least_days is not None and a.most_days is not None
    ]
    return max(found, key=lambda one: (one.gone_after, one.sure_until), default=None)


def options(
    labels: Sequence[Label],
    applications: Sequence[Application],
    *,
    disease: str,
    spot: Spot,
    today: int,
    condition: str = "preventive",
) -> tuple[tuple[Option, ...], tuple[str, ...]]:
    """The legal options of an area, and why the other labels are none.

    Args:
        labels: every label of the workspace, the one used by habit first.
        applications: the area's applications.
        disease: key of the disease.
        spot: what labels ask of the area.
        today: day number.
        condition: of the label's rows.

    Returns:
        Options in the order of the labels, and one sentence for each label left out.
    """
    possible, left_out = [], []
    for label in labels:
        use = label.use_for(disease, spot.grass, condition)
        refused = [Refusal("label", _not_listed(condition))] if use is None else place_refusals(label, spot)
        if use is None or refused:
            left_out.append(f"{label.name}: {refused[0].words}")
            continue
        found = _first_legal(label, use, applications, today)
        if isinstance(found, Refusal):
            left_out.append(f"{label.name}: {found.words}")
        else:
            possible.append(found)
    return tuple(possible), tuple(left_out)


def _first_legal(label: Label, use: LabelUse, made: Sequence[Application], today: int) -> Option | Refusal:
    """The first legal day within :data:`LOOK_AHEAD_DAYS`, with what holds up to it; else what holds at their end."""
    holds: list[Refusal] = []
    for day in range(today, today + LOOK_AHEAD_DAYS + 1):
        refused = day_refusals(label, use, made, day)
        forbidden = [one for one in refused if one.by != "house"]
        if not forbidden:
            first, last = year_of(label, day)
            within = [one for one in made if shares(one, label) and first <= one.day <= last]
            left, _ = left_per_m2(label, within)
            cautions = tuple(one.words for one in refused)
            return Option(label, use, day, left, cautions, holds[0].words if holds else "")
        holds = forbidden
    return holds[0]


def _not_listed(condition: str) -> str:
    if condition == "preventive":
        return "its label does not list this disease on this grass"
    return f"its label has no row for this disease on this grass when {condition}"


def deviations(
    label: Label,
    made: Sequence[Application],
    *,
    diseases: Sequence[str],
    condition: str,
    spot: Spot,
    day: int,
    amount_per_m2: float | None,
) -> tuple[str, ...]:
    """Where an application that was made departs from its label, one sentence each.

    Args:
        label: what was used.
        made: the area's other applications.
        diseases: keys of the diseases it was made against.
        condition: the label's row it was made by.
        spot: what labels ask of the area.
        day: day number of the application.
        amount_per_m2: product per m², mL or g; None where it was not written down.
    """
    rows = [(disease, label.use_for(disease, spot.grass, condition)) for disease in diseases]
    uses = [use for _, use in rows if use is not None]
    found = [f"the label has no {condition} row for {disease} on {spot.grass}" for disease, use in rows if use is None]
    found += [one.words for one in place_refusals(label, spot) if one.by == "label"]
    # By no row of the label there is no interval to hold, and its limits hold all the same.
    strictest = max(uses, key=lambda use: use.least_days, default=replace(label.uses[0], least_days=0))
    amount = 0.0 if amount_per_m2 is None else amount_per_m2
    refused = day_refusals(label, strictest, made, day, amount_per_m2=amount)
    found += [one.words for one in refused if one.by == "label"]
    if amount_per_m2 is not None and uses and amount_per_m2 > max(use.highest_per_m2 for use in uses) * (1 + 1e-9):
        found.append(f"more than the label's {condition} rate")
    if amount_per_m2 is not None and any(amount_per_m2 < FULL_RATE_SHARE * use.rate_per_m2 for use in uses):
        found.append(f"less than the label's {condition} rate: it is not counted as protection")
    return tuple(found)
