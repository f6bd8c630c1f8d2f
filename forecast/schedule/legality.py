"""Whether a label lets a product be used on an area on a day, by what was used there before.

Intervals and limits follow active ingredients across products. A limit that cannot be worked out permits nothing: what
is not known is never taken for room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from forecast.clock import date_of, day_number, day_words
from forecast.schedule.label import Application, Ingredient, Label, LabelUse
from forecast.turf import Area

# House default after what labels of strobilurins commonly say (from memory): of one resistance group no more than two
# applications after one another. A label's own number comes before it.
MOST_IN_A_ROW = 2
_HAIR = 1e-9

By = Literal["label", "house", "unknown"]


@dataclass(frozen=True, slots=True)
class Spot:
    """What a label asks of an area.

    Attributes:
        grass: key.
        site: of :data:`forecast.turf.SITES`; empty where it was not typed.
        soil_texture: None where nobody has looked.
    """

    grass: str
    site: str = ""
    soil_texture: str | None = None


def spot_of(area: Area) -> Spot:
    """What labels ask of an area on file."""
    return Spot(area.grass, area.site, area.ground.soil_texture)


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an application is not permitted: by the label, by a house rule, or since something is not known."""

    by: By
    words: str


def place_refusals(label: Label, spot: Spot) -> list[Refusal]:
    """Why a label does not permit a product on an area at all, whatever the day."""
    found = []
    if label.sites and not spot.site:
        permitted = ", ".join(label.sites)
        found.append(Refusal("unknown", f"its label permits only {permitted}, and properties.csv names no site here"))
    elif label.sites and spot.site not in label.sites:
        found.append(Refusal("label", f"its label does not permit a {spot.site.replace('_', ' ')}"))
    if label.soils_forbidden and spot.soil_texture is None:
        soils = ", ".join(label.soils_forbidden)
        found.append(Refusal("unknown", f"its label forbids some soils ({soils}), and properties.csv names none here"))
    elif spot.soil_texture in label.soils_forbidden:
        found.append(Refusal("label", f"its label forbids it on {(spot.soil_texture or '').replace('_', ' ')}"))
    return found


def day_refusals(
    label: Label,
    use: LabelUse,
    made: Sequence[Application],
    day: int,
    *,
    amount_per_m2: float | None = None,
    most_in_a_row: int = MOST_IN_A_ROW,
) -> list[Refusal]:
    """Why an application on a day is not permitted; empty where it is.

    Args:
        label: what would be used.
        use: by which row.
        made: applications on the area, recorded or planned, at any time.
        day: day number of the local date.
        amount_per_m2: product per m²; the row's rate where it is left out.
        most_in_a_row: house rule for labels that say nothing.
    """
    amount = use.rate_per_m2 if amount_per_m2 is None else amount_per_m2
    same = [one for one in made if shares(one, label)]
    found = []
    before = max((one.day for one in same if one.day <= day), default=None)
    if before is not None and day - before < use.least_days:
        last = day_words(date_of(before))
        found.append(Refusal("label", f"the label wants {use.least_days} days after the last one, of {last}"))
    found += [
        Refusal("label", f"too near the one of {day_words(date_of(one.day))}, whose label wants {one.least_days} days")
        for one in same
        if one.least_days is not None and 0 < one.day - day < one.least_days
    ]
    found += _year_refusals(label, same, day, amount)
    found += _rotation_refusals(label, made, day, most_in_a_row)
    return found


def shares(application: Application, label: Label) -> bool:
    """Whether an application brought one of a label's active ingredients."""
    keys = {one.key for one in label.ingredients}
    return any(one.key in keys for one in application.brought)


def year_of(label: Label, day: int) -> tuple[int, int]:
    """First and last day number of the label's year of a day; of twelve months, those that end on the day."""
    today = date_of(day)
    if label.year == "twelve_months":
        return day_number(_a_year_before(today)) + 1, day
    month, start = (1, 1) if label.year == "calendar" or label.season_start is None else label.season_start
    first = date(today.year, month, start)
    if first > today:
        first = date(today.year - 1, month, start)
    return day_number(first), day_number(date(first.year + 1, month, start)) - 1


def _a_year_before(day: date) -> date:
    return day.replace(year=day.year - 1, day=28) if (day.month, day.day) == (2, 29) else day.replace(year=day.year - 1)


def _year_refusals(label: Label, same: Sequence[Application], day: int, amount: float) -> list[Refusal]:
    """By every year of the label that the day lies in: of twelve months, those that end on it or on a later use."""
    ends = [day]
    if label.year == "twelve_months":
        ends += [one.day for one in same if one.day > day and year_of(label, one.day)[0] <= day]
    found: list[Refusal] = []
    for end in ends:
        first, last = year_of(label, end)
        within = [one for one in same if first <= one.day <= last]
        found += _amount_refusals(label, within, amount)
        most = label.most_applications_a_year
        if most is not None and len(within) + 1 > most:
            found.append(Refusal("label", f"{_times(len(within))} this year; the label's most is {most}"))
    return list(dict.fromkeys(found))


def _amount_refusals(label: Label, within: Sequence[Application], amount: float) -> list[Refusal]:
    left, why = left_per_m2(label, within)
    if why:
        return [Refusal("unknown", why)]
    if left is not None and amount > left * (1 + _HAIR) + _HAIR * amount:
        return [Refusal("label", "the label's yearly limit would be passed")]
    return []


def left_per_m2(label: Label, within: Sequence[Application]) -> tuple[float | None, str]:
    """What yearly limits leave of a product, mL or g a m², and why that is not known; empty where it is.

    Args:
        label: whose limits; None comes back where it has none.
        within: applications of the year that brought one of its ingredients.
    """
    if any(one.amount_per_m2 is None for one in within) and _is_limited(label, within):
        blank = next(one.record_id for one in within if one.amount_per_m2 is None)
        return None, (
            f"application {blank} of this year lacks its amount, so what the yearly limit leaves is unknown: record it "
            f"anew with --amount and --amends {blank}"
        )
    rooms: list[float | None] = []
    if label.most_per_year_per_m2 is not None and all(one.label_key == label.key for one in within):
        rooms.append(label.most_per_year_per_m2 - sum(one.amount_per_m2 or 0.0 for one in within))
    elif label.most_per_year_per_m2 is not None:
        rooms += [
            _room(one, within, label.most_per_year_per_m2 * (one.grams_per_unit or 0.0)) for one in label.ingredients
        ]
    for ingredient in label.ingredients:
        limits = _limits(ingredient, within)
        if limits:
            rooms.append(_room(ingredient, within, min(limits)))
    known = [room for room in rooms if room is not None]
    if len(known) < len(rooms):
        return None, _CANNOT_ADD
    return min(known, default=None), ""


def _is_limited(label: Label, within: Sequence[Application]) -> bool:
    return label.most_per_year_per_m2 is not None or any(_limits(one, within) for one in label.ingredients)


def _limits(ingredient: Ingredient, within: Sequence[Application]) -> list[float]:
    """Yearly limits of an ingredient by every label that was used or would be, g a m²."""
    of_others = [one.most_per_year_g_per_m2 for made in within for one in made.brought if one.key == ingredient.key]
    return [one for one in (ingredient.most_per_year_g_per_m2, *of_others) if one is not None]


def _room(ingredient: Ingredient, within: Sequence[Application], limit_g_per_m2: float) -> float | None:
    """Product that a limit of an ingredient leaves, mL or g a m²; None where it cannot be worked out."""
    brought = [one.grams_per_m2 for made in within for one in made.brought if one.key == ingredient.key]
    if ingredient.grams_per_unit is None or any(one is None for one in brought):
        return None
    return (limit_g_per_m2 - sum(one or 0.0 for one in brought)) / ingredient.grams_per_unit


_CANNOT_ADD = (
    "another product with the same active ingredient was used this year, and the two cannot be added up without their "
    "concentrations; type them from the labels, or work out what the yearly limit leaves by hand"
)


def _rotation_refusals(label: Label, made: Sequence[Application], day: int, most_in_a_row: int) -> list[Refusal]:
    """A mix counts for each of its groups; what was used on one day counts once. Counts run on across seasons."""
    most = most_in_a_row if label.most_in_a_row is None else label.most_in_a_row
    by: By = "house" if label.most_in_a_row is None else "label"
    found = []
    for code in label.rotated_codes:
        run = 1 + _run(code, made, day, -1) + _run(code, made, day, 1)
        if run > most:
            last = max((one.day for one in made if one.day <= day and _has(one, code)), default=None)
            since = "" if last is None else f", the last on {day_words(date_of(last))}"
            least = f"the label's most is {most}" if by == "label" else f"after {most} another is due (house rule)"
            found.append(Refusal(by, f"it would be number {run} in a row of resistance group {code}{since}; {least}"))
    return found


def _run(code: str, made: Sequence[Application], day: int, way: int) -> int:
    """Days of applications of a group that follow one another, before a day (-1, with the day) or after it (1)."""
    days = sorted({one.day for one in made if (one.day < day if way < 0 else one.day > day)}, reverse=way < 0)
    count = 0
    for one_day in days:
        if not any(one.day == one_day and _has(one, code) for one in made):
            break
        count += 1
    return count


def _has(application: Application, code: str) -> bool:
    return any(one.frac_code.casefold() == code.casefold() for one in application.brought)


def _times(count: int) -> str:
    return f"used {count} time{'' if count == 1 else 's'} already"
