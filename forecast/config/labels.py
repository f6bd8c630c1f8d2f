"""``labels.toml``: what the owner typed from the containers' labels, checked hard: what contradicts itself is refused.

A limit that is left out might have been forgotten; where a label names none, that is typed: ``most_per_year = "none"``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from forecast.amounts import CARRIER, as_printed
from forecast.config.cells import SoilTexture
from forecast.config.forms import Form, PlainId, known_disease, known_grass
from forecast.config.frac import FracCode
from forecast.config.label_amounts import CONCENTRATION, Carrier, Concentration, HeatAhead, Rate, Speed, Warmth, Water
from forecast.schedule.label import Ingredient, Label, LabelUse, WeatherLimits, YearKind
from forecast.schedule.mixing import FORMULATIONS
from forecast.turf import SITES

DRY = ("WP", "WG", "WDG", "DF", "SP", "SG")
LIQUID = ("SC", "F", "SE", "CS", "EC", "EW", "ME", "SL")
# A year's most of product against that of an ingredient in it: labels round, and some allow less product than that.
LEAST_SHARE, MOST_SHARE = 0.1, 1.1  # house choice: beyond, a figure or its unit is a slip


class IngredientForm(Form):
    """``[[label.ingredient]]``."""

    name: Annotated[str, Field(min_length=1)]
    frac: str = ""
    concentration: Concentration | None = None
    most_per_year: Rate | None = None

    @model_validator(mode="after")
    def _weighed(self) -> Self:
        if self.most_per_year is not None:
            if self.most_per_year.measure != "g":
                raise ValueError("the limit of an ingredient is a weight on a surface, such as lb/acre")
            if self.concentration is None:
                raise ValueError("a limit of an ingredient needs its concentration, to be turned into product")
        return self

    def frozen(self, codes: Mapping[str, FracCode]) -> Ingredient:
        """The ingredient as the middle reads it."""
        limit, concentration = self.most_per_year, self.concentration
        known = codes.get(self.frac.casefold())
        return Ingredient(
            self.name,
            self.frac,
            None if concentration is None else concentration.grams,
            None if limit is None else limit.per_m2,
            "" if limit is None else limit.as_printed,
            known is not None and known.many_sites,
        )


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

    def frozen(self) -> LabelUse:
        """The row as the middle reads it."""
        return LabelUse(
            self.disease,
            tuple(self.grasses),
            self.condition,
            self.rate.per_m2,
            self.rate.as_printed,
            self.least_days,
            self.most_days,
            self.rate.most_per_m2,
        )


def _known_site(site: str) -> str:
    if site != "any" and site not in SITES:
        raise ValueError(f"{site!r} is no kind of site known here; known are any, {', '.join(SITES)}")
    return site


def _known_formulation(code: str) -> str:
    known = {one.casefold(): one for one in FORMULATIONS}
    if code.upper() in ("G", "GR"):
        raise ValueError("granules that are spread dry are not planned with yet; only what is sprayed is")
    if code.casefold() not in known:
        raise ValueError(f"{code!r} is no formulation known here; known are {', '.join(FORMULATIONS)}")
    return known[code.casefold()]


def _month_and_day(text: str) -> str:
    if not re.fullmatch(r"\d\d-\d\d", text):
        raise ValueError("write month and day like 03-01")
    try:
        date(2001, int(text[:2]), int(text[3:]))  # no leap year: a season begins every year
    except ValueError:
        raise ValueError(f"{text} is no day of every year") from None
    return text


class LabelForm(Form):
    """``[[label]]``."""

    key: PlainId
    name: Annotated[str, Field(min_length=1)]
    registration_number: str
    label_date: date
    formulation: Annotated[str, AfterValidator(_known_formulation)] | None = None
    density_g_per_ml: Annotated[float, Field(gt=0.3, lt=3)] | None = None
    carrier: Carrier
    sites: Annotated[list[Annotated[str, AfterValidator(_known_site)]], Field(min_length=1)]
    soils_forbidden: list[SoilTexture] = Field(default_factory=list)
    most_per_year: Rate | Literal["none"]
    year: YearKind = "calendar"
    season_start: Annotated[str, AfterValidator(_month_and_day)] | None = None
    most_applications_per_year: Annotated[int, Field(ge=1, le=100)] | None = None
    most_in_a_row: Annotated[int, Field(ge=1, le=20)] | None = None
    rain_free_hours: Annotated[float, Field(gt=0, le=240)] | None = None
    wind_least: Speed | None = None
    wind_most: Speed | None = None
    temperature_least: Warmth | None = None
    temperature_most: Warmth | None = None
    heat_ahead: HeatAhead | None = None
    dry_leaves: bool = False
    water_in: Water | None = None
    restricted_use: bool = False
    buffer: str = ""
    keep_off: Annotated[str, Field(min_length=1)]
    gear: Annotated[str, Field(min_length=1)]
    ingredient: Annotated[list[IngredientForm], Field(min_length=1)]
    use: Annotated[list[UseForm], Field(min_length=1)]

    @property
    def limit(self) -> Rate | None:
        """The yearly limit of product; None where the label names none."""
        return None if isinstance(self.most_per_year, str) else self.most_per_year

    @model_validator(mode="after")
    def _one_measure(self) -> Self:
        rates = [use.rate for use in self.use] + ([self.limit] if self.limit else [])
        if len({rate.measure for rate in rates}) != 1:
            raise ValueError("rates and limits must all be volumes or all be weights")
        measure = rates[0].measure
        for one in self.ingredient:
            if one.concentration and one.concentration.measure != measure:
                units = ", ".join(unit for unit, (of, _) in CONCENTRATION.items() if of == measure)
                raise ValueError(
                    f"the concentration of {one.name} has to be in one of {units} for a product in {measure}"
                )
        return self

    @model_validator(mode="after")
    def _limits_hold(self) -> Self:
        for use in self.use:
            if self.limit and use.rate.most_per_m2 > self.limit.per_m2 * (1 + 1e-9):
                rate, limit = use.rate.as_printed, self.limit.as_printed
                raise ValueError(f"the rate of {rate} is above the most per year, {limit}")
        for one in self.ingredient:
            if one.most_per_year is None or one.concentration is None:
                continue
            most_product = one.most_per_year.per_m2 / one.concentration.grams
            if any(use.rate.per_m2 > most_product * (1 + 1e-9) for use in self.use):
                raise ValueError(f"a rate brings more {one.name} than its most per year")
            share = 1.0 if self.limit is None else self.limit.per_m2 / most_product
            if not LEAST_SHARE <= share <= MOST_SHARE:
                raise ValueError(
                    f"a year's most of product would bring {share:.3g} times the most of {one.name}: is its "
                    "concentration typed in the right unit?"
                )
        shares = sum(
            one.concentration.grams for one in self.ingredient if one.concentration and one.concentration.measure == "g"
        )
        if shares > 1 + 1e-9:
            raise ValueError("the ingredients together are more than the whole product")
        return self

    @model_validator(mode="after")
    def _measured_as_it_is(self) -> Self:
        measure = self.use[0].rate.measure
        if (self.formulation in DRY and measure == "mL") or (self.formulation in LIQUID and measure == "g"):
            kind = FORMULATIONS[self.formulation][1]
            rates = "weights" if measure == "mL" else "volumes"
            raise ValueError(f"{self.formulation} ({kind}) is measured by {rates}, and so are its rates")
        return self

    @model_validator(mode="after")
    def _said_once(self) -> Self:
        names = [one.name.casefold() for one in self.ingredient]
        if len(set(names)) != len(names):
            raise ValueError("an ingredient stands there twice")
        rows = [(use.disease, grass, use.condition) for use in self.use for grass in use.grasses]
        twice = {row for row in rows if rows.count(row) > 1}
        if twice:
            disease, grass, condition = min(twice)
            raise ValueError(f"two rows for {disease} on {grass}, {condition}: which one holds?")
        if "any" in self.sites and len(self.sites) > 1:
            raise ValueError("sites are either any, or those that the label names")
        return self

    @model_validator(mode="after")
    def _no_contradiction(self) -> Self:
        if (self.year == "season") != (self.season_start is not None):
            raise ValueError('a year of year = "season" needs its season_start, and no other has one')
        if self.wind_least and self.wind_most and self.wind_least.m_s >= self.wind_most.m_s:
            raise ValueError("wind_least is not below wind_most")
        if self.temperature_least and self.temperature_most and self.temperature_least.c >= self.temperature_most.c:
            raise ValueError("temperature_least is not below temperature_most")
        if self.water_in and self.rain_free_hours:
            raise ValueError("a product is either watered in or kept free of rain: read the label again")
        return self

    def frozen(self, codes: Mapping[str, FracCode]) -> Label:
        """The label as the middle reads it."""
        start = self.season_start
        return Label(
            self.key,
            self.name,
            self.registration_number,
            self.label_date,
            tuple(one.frozen(codes) for one in self.ingredient),
            self.use[0].rate.measure,
            self.carrier.amount * CARRIER[self.carrier.unit],
            as_printed(self.carrier.amount, self.carrier.unit),
            self.limit.per_m2 if self.limit else None,
            self.limit.as_printed if self.limit else "",
            self.keep_off,
            self.gear,
            tuple(use.frozen() for use in self.use),
            self.year,
            None if start is None else (int(start[:2]), int(start[3:])),
            self.most_applications_per_year,
            self.most_in_a_row,
            () if self.sites == ["any"] else tuple(self.sites),
            tuple(self.soils_forbidden),
            self.formulation or "",
            self.density_g_per_ml,
            self._weather(),
            None if self.water_in is None else self.water_in.frozen,
            self.restricted_use,
            self.buffer,
        )

    def _weather(self) -> WeatherLimits:
        return WeatherLimits(
            self.rain_free_hours,
            self.wind_least.m_s if self.wind_least else None,
            self.wind_most.m_s if self.wind_most else None,
            self.temperature_least.c if self.temperature_least else None,
            self.temperature_most.c if self.temperature_most else None,
            self.heat_ahead.above.c if self.heat_ahead else None,
            self.heat_ahead.days if self.heat_ahead else None,
            self.dry_leaves,
        )


def _this_schema(number: int) -> int:
    if number == 1:
        raise ValueError(
            "labels are written otherwise since schema 2: give each active ingredient a table [[label.ingredient]] "
            'with name and frac, name the sites, type most_per_year = "none" where the label has no limit, and set '
            "schema = 2"
        )
    if number != 2:
        raise ValueError("this version reads schema 2")
    return number


class LabelsForm(Form):
    """``labels.toml``."""

    schema_: Annotated[int, AfterValidator(_this_schema)] = Field(alias="schema")
    label: list[LabelForm] = Field(default_factory=list)

    @model_validator(mode="after")
    def _distinct(self) -> Self:
        keys = [label.key for label in self.label]
        if len(set(keys)) != len(keys):
            raise ValueError("two labels have the same key")
        return self
