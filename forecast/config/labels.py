"""``labels.toml``: what the owner typed from the containers' labels."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from forecast.amounts import CARRIER, RATE, as_printed, unit_as_spelt, units_in_words
from forecast.config.forms import Form, PlainId, known_disease, known_grass
from forecast.schedule.label import Label, LabelUse


def _known_rate(unit: str) -> str:
    return _spelt(unit, RATE)


def _known_carrier(unit: str) -> str:
    return _spelt(unit, CARRIER)


def _spelt(unit: str, units: Mapping[str, object]) -> str:
    found = unit_as_spelt(unit, units)
    if found is None:
        raise ValueError(f"unit is none known here; {units_in_words(units)}")
    return found


class Rate(Form):
    """An amount of product on a surface, as printed."""

    amount: Annotated[float, Field(gt=0)]
    unit: Annotated[str, AfterValidator(_known_rate)]

    @property
    def measure(self) -> str:
        """``mL`` or ``g``."""
        return RATE[self.unit][0]

    @property
    def per_m2(self) -> float:
        """Amount per m², in the measure."""
        return self.amount * RATE[self.unit][1]

    @property
    def as_printed(self) -> str:
        """The label's own words."""
        return as_printed(self.amount, self.unit)


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
            self.carrier.amount * CARRIER[self.carrier.unit],
            as_printed(self.carrier.amount, self.carrier.unit),
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
