"""What the last application still protects, and when the label lets the next one be made.

In this first form the label's own intervals stand for protection: cover is sure to the label's least days, and
gone after its most days; in between it is wearing off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from forecast.schedule.label import FULL_RATE_SHARE, Application, Label, LabelUse


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
        left_this_year_per_m2: what the label's yearly limit leaves, mL or g a m²; None where it names no limit.
    """

    label: Label
    use: LabelUse
    legal_from: int
    left_this_year_per_m2: float | None


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
    grass: str,
    today: int,
    year_start: int,
    condition: str = "preventive",
) -> tuple[tuple[Option, ...], tuple[str, ...]]:
    """The legal options of an area, and why the other labels are none.

    Args:
        labels: every label of the workspace, the one used by habit first.
        applications: the area's applications.
        disease: key of the disease.
        grass: the area's grass.
        today: day number.
        year_start: day number of 1 January of this year.
        condition: of the label's rows.

    Returns:
        Options in the order of the labels, and one sentence for each label left out.
    """
    possible, left_out = [], []
    for label in labels:
        use = label.use_for(disease, grass, condition)
        if use is None:
            left_out.append(f"{label.name}: {_not_listed(condition)}")
            continue
        same = [a for a in applications if _shares(a, label)]
        left, unknown = _left_this_year(label, same, year_start)
        if unknown:
            left_out.append(f"{label.name}: {unknown}")
            continue
        if left is not None and use.rate_per_m2 > left * (1 + 1e-9):
            left_out.append(f"{label.name}: the label's yearly limit would be passed")
            continue
        last = max((a.day for a in same if a.day <= today), default=None)
        legal_from = today if last is None else max(today, last + use.least_days)
        possible.append(Option(label, use, legal_from, left))
    return tuple(possible), tuple(left_out)


def _not_listed(condition: str) -> str:
    if condition == "preventive":
        return "its label does not list this disease on this grass"
    return f"its label has no row for this disease on this grass when {condition}"


def _shares(application: Application, label: Label) -> bool:
    """Whether an application brought one of a label's active ingredients."""
    brought = {name.casefold() for name in application.active_ingredients}
    return bool(brought & {name.casefold() for name in label.active_ingredients})


def _left_this_year(label: Label, same: Sequence[Application], year_start: int) -> tuple[float | None, str]:
    """What the yearly limit leaves, mL or g a m², and why it is unknown; empty where it is known."""
    if label.most_per_year_per_m2 is None:
        return None, ""
    this_year = [a for a in same if a.day >= year_start]
    if any(a.label_key != label.key for a in this_year):
        return None, (
            "another product with the same active ingredient was used this year, and amounts of two products cannot "
            "be added up here; work out what the yearly limit leaves by hand"
        )
    if any(a.amount_per_m2 is None for a in this_year):
        return None, "a record of this year lacks its amount, so what the yearly limit leaves is unknown"
    return label.most_per_year_per_m2 - sum(a.amount_per_m2 or 0.0 for a in this_year), ""


def deviations(
    label: Label,
    made: Sequence[Application],
    *,
    diseases: Sequence[str],
    condition: str,
    grass: str,
    day: int,
    year_start: int,
    amount_per_m2: float | None,
) -> tuple[str, ...]:
    """Where an application that was made departs from its label, one sentence each.

    Args:
        label: what was used.
        made: the area's other applications.
        diseases: keys of the diseases it was made against.
        condition: the label's row it was made by.
        grass: the area's grass.
        day: day number of the application.
        year_start: day number of 1 January of its year.
        amount_per_m2: product per m², mL or g; None where it was not written down.
    """
    rows = [(disease, label.use_for(disease, grass, condition)) for disease in diseases]
    uses = [use for _, use in rows if use is not None]
    found = [f"the label has no {condition} row for {disease} on {grass}" for disease, use in rows if use is None]
    same = [a for a in made if _shares(a, label)]
    before = max((a.day for a in same if a.day <= day), default=None)
    least_days = max((use.least_days for use in uses), default=0)
    if before is not None and day - before < least_days:
        found.append(f"{day - before} days after the last one; the label's least is {least_days}")
    if amount_per_m2 is not None and uses and amount_per_m2 > max(use.rate_per_m2 for use in uses) * (1 + 1e-9):
        found.append(f"more than the label's {condition} rate")
    if amount_per_m2 is not None and any(amount_per_m2 < FULL_RATE_SHARE * use.rate_per_m2 for use in uses):
        found.append(f"less than the label's {condition} rate: it is not counted as protection")
    left, _ = _left_this_year(label, same, year_start)
    if left is not None and amount_per_m2 is not None and amount_per_m2 > left * (1 + 1e-9):
        found.append("more than the label's yearly limit leaves")
    return tuple(found)
