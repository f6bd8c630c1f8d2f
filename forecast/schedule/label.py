"""What the owner typed from the container's label, and the plain facts of an application."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

# House choice: with less than this share of the row's rate an application does not count as protection. Measuring
# and spraying are not better than a few per cent.
FULL_RATE_SHARE = 0.95


@dataclass(frozen=True, slots=True)
class LabelUse:
    """One row of a label: a disease, a condition, its rate and its intervals.

    Attributes:
        disease: key of the disease.
        grasses: grasses the row permits.
        condition: ``preventive``, ``established`` or ``very hot and humid``.
        rate_per_m2: product per m², in mL or g.
        rate_as_printed: the rate in the label's own words, shown first.
        least_days: least days between applications; law.
        most_days: most days between applications; advice.
    """

    disease: str
    grasses: tuple[str, ...]
    condition: str
    rate_per_m2: float
    rate_as_printed: str
    least_days: int
    most_days: int


@dataclass(frozen=True, slots=True)
class Label:
    """A product's label as its owner typed it.

    Attributes:
        key: how settings and records name it.
        name: the product's name.
        registration_number: as printed.
        label_date: date of the label's version.
        active_ingredients: names; limits and intervals follow them across products.
        frac_codes: resistance group codes as printed.
        measure: ``mL`` or ``g``.
        carrier_l_per_m2: mix per m².
        carrier_as_printed: the same in the label's own words.
        most_per_year_per_m2: product per m² in a calendar year, in mL or g; None where the label names none.
        most_per_year_as_printed: the same in the label's own words.
        keep_off: what the label says about people and pets.
        gear: what the label says about protective gear.
        uses: the label's rows.
    """

    key: str
    name: str
    registration_number: str
    label_date: date
    active_ingredients: tuple[str, ...]
    frac_codes: tuple[str, ...]
    measure: str
    carrier_l_per_m2: float
    carrier_as_printed: str
    most_per_year_per_m2: float | None
    most_per_year_as_printed: str
    keep_off: str
    gear: str
    uses: tuple[LabelUse, ...]

    def use_for(self, disease: str, grass: str, condition: str = "preventive") -> LabelUse | None:
        """The row for a disease, a grass and a condition; None where the label does not list it."""
        for use in self.uses:
            if use.disease == disease and grass in use.grasses and use.condition == condition:
                return use
        return None


@dataclass(frozen=True, slots=True)
class Application:
    """One recorded application, as far as planning needs it.

    Attributes:
        record_id: the record's number.
        area_id: where.
        day: day number of the local date.
        label_key: which product.
        active_ingredients: as on the label it was made under.
        diseases: diseases that it protects from: made against, by a row of its label, at the row's rate.
        amount_per_m2: product per m², in mL or g; None where it was not written down.
        least_days: the label's least days for the row used; None where unknown.
        most_days: the label's most days for the row used; None where it does not protect.
    """

    record_id: int
    area_id: str
    day: int
    label_key: str
    active_ingredients: tuple[str, ...]
    diseases: tuple[str, ...]
    amount_per_m2: float | None
    least_days: int | None
    most_days: int | None


@dataclass(frozen=True, slots=True)
class Sighting:
    """One recorded look at an area, as far as planning needs it.

    Attributes:
        record_id: the record's number.
        area_id: where.
        day: day number of the local date.
        disease: key of the disease; empty where none was seen.
        sure: True where the diagnosis is sure.
        look_alikes: what was seen that is no disease here, keys of the guide; a record with these alone is no sighting.
        note: what the scout wrote.
    """

    record_id: int
    area_id: str
    day: int
    disease: str
    sure: bool
    look_alikes: tuple[str, ...] = ()
    note: str = ""
