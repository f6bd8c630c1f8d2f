"""``labels.toml``: what the owner typed from the containers' labels."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from forecast.config.forms import Form, PlainId, known_disease, known_grass
from forecast.schedule.label import Label, LabelUse
from forecast.units import G_PER_LB, G_PER_OZ, L_PER_US_GAL, M2_PER_1000_SQ_FT, ML_PER_FL_OZ

_RATE = {
    # unit of a rate → (measure, amount in mL or g per m² of one such unit)
    "fl oz/1000 sq ft": ("mL", ML_PER_FL_OZ / M2_PER_1000_SQ_FT),
    "mL/1000 sq ft": ("mL", 1 / M2_PER_1000_SQ_FT),
    "mL/100 m2": ("mL", 1 / 100),
    "L/ha": ("mL", 1000 / 10_000),
    "oz/1000 sq ft": ("g", G_PER_OZ / M2_PER_1000_SQ_FT),
    "lb/1000 sq ft": ("g", G_PER_LB / M2_PER_1000_SQ_FT),
    "g/100 m2": ("g", 1 / 100),
    "kg/ha": ("g", 1000 / 10_000),
}

_CARRIER = {
    "gal/1000 sq ft": L_PER_US_GAL / M2_PER_1000_SQ_FT,
    "L/100 m2": 1 / 100,
    "L/ha": 1 / 10_000,
}


def _known_rate(unit: str) -> str:
    if unit not in _RATE:
        raise ValueError(f"unit must be one of: {', '.join(_RATE)}")
    return unit


def _known_carrier(unit: str) -> str:
    if unit not in _CARRIER:
        raise ValueError(f"unit must be one of: {', '.join(_CARRIER)}")
    return unit


class Rate(Form):
    """An amount of product on a surface, as printed."""

    amount: Annotated[float, Field(gt=0)]
    unit: Annotated[str, AfterValidator(_known_rate)]

    @property
    def measure(self) -> str:
        """``mL`` or ``g``."""
        return _RATE[self.unit][0]

    @property
    def per_m2(self) -> float:
        """Amount per m², in the measure."""
        return self.amount * _RATE[self.unit][1]

    @property
    def as_printed(self) -> str:
        """The label's own words."""
        return f"{self.amount:g} {self.unit.replace('/', ' per ')}"


class Carrier(Form):
    """Water on a surface, as printed."""

    amount: Annotated[float, Field(gt=0)]
    unit: Annotated[str, AfterValidator(_known_carrier)]


class UseForm(Form):
    """``[[label.use]]``."""

    disease: Annotated[str, AfterValidator(known_disease)]
    grasses: Annotated[list[Annotated[str, AfterValidator(known_grass)]], Field(min_length=1)]
    condition: Literal["preventive", "established", "very hot and humid"]
    rate: Rate
    least_days: Annotated[int, Field(ge=1, le=365)]
    most_days: Annotated[int, Field(ge=1, le=365)]

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.least_days > self.most_days:
            raise ValueError("least_days must not be above most_days")
        return self


class LabelForm(Form):
    """``[[label]]``."""

    key: PlainId
    name: str
    registration_number: str
    label_date: date
    active_ingredients: Annotated[list[str], Field(min_length=1)]
    frac_codes: list[str]
    carrier: Carrier
    most_per_year: Rate | None = None
    keep_off: Annotated[str, Field(min_length=1)]
    gear: Annotated[str, Field(min_length=1)]
    use: Annotated[list[UseForm], Field(min_length=1)]

    @model_validator(mode="after")
    def _one_measure(self) -> Self:
        rates = [use.rate for use in self.use] + ([self.most_per_year] if self.most_per_year else [])
        if len({rate.measure for rate in rates}) != 1:
            raise ValueError("rates and limits must all be volumes or all be weights")
        if self.most_per_year and any(use.rate.per_m2 > self.most_per_year.per_m2 for use in self.use):
            raise ValueError("a rate is above the most per year")
        return self

    def frozen(self) -> Label:
        """The label as the middle reads it."""
        return Label(
            self.key,
            self.name,
            self.registration_number,
            self.label_date,
            tuple(self.active_ingredients),
            tuple(self.frac_codes),
            self.use[0].rate.measure,
            self.carrier.amount * _CARRIER[self.carrier.unit],
            self.most_per_year.per_m2 if self.most_per_year else None,
            self.most_per_year.as_printed if self.most_per_year else "",
            self.keep_off,
            self.gear,
            tuple(
                LabelUse(
                    use.disease,
                    tuple(use.grasses),
                    use.condition,
                    use.rate.per_m2,
                    use.rate.as_printed,
                    use.least_days,
                    use.most_days,
                )
                for use in self.use
            ),
        )


class LabelsForm(Form):
    """``labels.toml``."""

    schema_: Literal[1] = Field(alias="schema")
    label: list[LabelForm] = Field(default_factory=list)

    @model_validator(mode="after")
    def _distinct(self) -> Self:
        keys = [label.key for label in self.label]
        if len(set(keys)) != len(keys):
            raise ValueError("two labels have the same key")
        return self
