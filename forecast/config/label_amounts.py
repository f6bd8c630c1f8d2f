"""Amounts that a label prints: rates, water, concentrations, winds, temperatures, each in the label's own unit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from forecast.amounts import CARRIER, RATE, SPEED_M_S, as_printed, unit_as_spelt, units_in_words
from forecast.config.forms import Form
from forecast.schedule.label import WaterIn
from forecast.units import G_PER_LB, L_PER_US_GAL, MM_PER_IN

_MOST_G_PER_ML = 2.0  # house choice: above it a concentration by volume is a slip
# Unit of a concentration → the measure of the product it goes with, and grams in a mL or g of it.
CONCENTRATION: Mapping[str, tuple[str, float]] = {
    "g/L": ("mL", 0.001),
    "lb/gal": ("mL", G_PER_LB / (1000 * L_PER_US_GAL)),
    "g/kg": ("g", 0.001),
    "%": ("g", 0.01),
}
_MM = {"mm": 1.0, "in": MM_PER_IN}


def _spelt(units: Mapping[str, object]) -> AfterValidator:
    def known(unit: str) -> str:
        found = unit_as_spelt(unit, units)
        if found is None:
            raise ValueError(f"unit is none known here; {units_in_words(units)}")
        return found

    return AfterValidator(known)


class Rate(Form):
    """An amount of product on a surface, as printed; ``most`` where the label gives a range."""

    amount: Annotated[float, Field(gt=0)]
    most: Annotated[float, Field(gt=0)] | None = None
    unit: Annotated[str, _spelt(RATE)]

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.most is not None and self.most < self.amount:
            raise ValueError("most must not be below amount")
        return self

    @property
    def measure(self) -> str:
        """``mL`` or ``g``."""
        return RATE[self.unit][0]

    @property
    def per_m2(self) -> float:
        """Amount per m², in the measure."""
        return self.amount * RATE[self.unit][1]

    @property
    def most_per_m2(self) -> float:
        """The upper end per m²; the amount itself where there is no range."""
        return (self.amount if self.most is None else self.most) * RATE[self.unit][1]

    @property
    def as_printed(self) -> str:
        """The label's own words."""
        printed = as_printed(self.amount, self.unit)
        if self.most is None or self.most == self.amount:
            return printed
        least, unit = printed.split(" ", 1)
        return f"{least} to {self.most:.10g} {unit}"


class Carrier(Form):
    """Mix on a surface, as printed: what is used, and the label's own range where it gives one."""

    amount: Annotated[float, Field(gt=0)]
    least: Annotated[float, Field(gt=0)] | None = None
    most: Annotated[float, Field(gt=0)] | None = None
    unit: Annotated[str, _spelt(CARRIER)]

    @model_validator(mode="after")
    def _within(self) -> Self:
        if (self.least is not None and self.amount < self.least) or (self.most is not None and self.amount > self.most):
            raise ValueError("amount lies outside the label's own least and most")
        return self


class Concentration(Form):
    """How much of an ingredient is in the product."""

    amount: Annotated[float, Field(gt=0)]
    unit: Annotated[str, _spelt(CONCENTRATION)]

    @property
    def measure(self) -> str:
        """``mL`` or ``g``, of the product that it goes with."""
        return CONCENTRATION[self.unit][0]

    @property
    def grams(self) -> float:
        """Grams in a mL or a g of product."""
        return self.amount * CONCENTRATION[self.unit][1]

    @model_validator(mode="after")
    def _possible(self) -> Self:
        if self.grams > (_MOST_G_PER_ML if self.measure == "mL" else 1.0):
            raise ValueError(f"{self.amount:g} {self.unit} is more than a product can hold")
        return self


class Speed(Form):
    """A wind."""

    amount: Annotated[float, Field(gt=0, le=100)]
    unit: Annotated[str, _spelt(SPEED_M_S)]

    @property
    def m_s(self) -> float:
        """In m/s."""
        return self.amount * SPEED_M_S[self.unit]


class Warmth(Form):
    """A temperature."""

    amount: Annotated[float, Field(ge=-60, le=150)]
    unit: Literal["F", "C"]

    @property
    def c(self) -> float:
        """In °C."""
        return self.amount if self.unit == "C" else (self.amount - 32) / 1.8


class HeatAhead(Form):
    """No application where so much heat is expected within so many days."""

    above: Warmth
    days: Annotated[int, Field(ge=1, le=16)]


class Water(Form):
    """Water that has to follow an application: ``least`` to ``most`` of it, within so many hours."""

    least: Annotated[float, Field(gt=0)]
    most: Annotated[float, Field(gt=0)]
    unit: Literal["in", "mm"]
    within_hours: Annotated[float, Field(gt=0, le=240)]

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.least > self.most:
            raise ValueError("least must not be above most")
        return self

    @property
    def frozen(self) -> WaterIn:
        """In mm."""
        return WaterIn(self.least * _MM[self.unit], self.most * _MM[self.unit], self.within_hours)
