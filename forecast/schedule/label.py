"""What the owner typed from the container's label, and the plain facts of an application."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

# House choice: with less than this share of the row's rate an application does not count as protection. Measuring
# and spraying are not better than a few per cent.
FULL_RATE_SHARE = 0.95
YearKind = Literal["calendar", "twelve_months", "season"]


@dataclass(frozen=True, slots=True)
class Ingredient:
    """An active ingredient of a product.

    Attributes:
        name: as printed; limits and intervals follow it across products, however its capitals are typed.
        frac_code: resistance group as printed; empty where the label names none.
        grams_per_unit: in a mL or a g of product; None where the concentration was not typed.
        most_per_year_g_per_m2: the label's limit of it; None where it names none.
        most_per_year_as_printed: the same in the label's own words.
        many_sites: True where it acts on many sites in the fungus, so that resistance is not expected.
    """

    name: str
    frac_code: str = ""
    grams_per_unit: float | None = None
    most_per_year_g_per_m2: float | None = None
    most_per_year_as_printed: str = ""
    many_sites: bool = False

    @property
    def key(self) -> str:
        """What it is known by across products."""
        return " ".join(self.name.casefold().split())


@dataclass(frozen=True, slots=True)
class LabelUse:
    """One row of a label: a disease, a condition, its rate and its intervals.

    Attributes:
        disease: key of the disease.
        grasses: grasses the row permits.
        condition: ``preventive``, ``established`` or ``very hot and humid``.
        rate_per_m2: product per m², in mL or g; what is proposed.
        rate_as_printed: the rate in the label's own words, shown first.
        least_days: least days between applications; law.
        most_days: most days between applications; advice.
        most_rate_per_m2: the upper end of the row's rate; the rate itself where it has none.
    """

    disease: str
    grasses: tuple[str, ...]
    condition: str
    rate_per_m2: float
    rate_as_printed: str
    least_days: int
    most_days: int
    most_rate_per_m2: float | None = None

    @property
    def highest_per_m2(self) -> float:
        """The most that the row permits."""
        return self.rate_per_m2 if self.most_rate_per_m2 is None else self.most_rate_per_m2


@dataclass(frozen=True, slots=True)
class WeatherLimits:
    """What a label says of the weather of an application; None where it says nothing.

    Attributes:
        rain_free_h: hours without rain or irrigation after it.
        wind_least_m_s: at the height of the spray; likewise the most.
        wind_most_m_s: above it nothing is sprayed.
        air_least_c: air temperature.
        air_most_c: above it nothing is sprayed.
        heat_ahead_c: nothing is sprayed where so much is expected
        heat_ahead_days: within so many days.
        dry_leaves: True where leaves have to be dry.
    """

    rain_free_h: float | None = None
    wind_least_m_s: float | None = None
    wind_most_m_s: float | None = None
    air_least_c: float | None = None
    air_most_c: float | None = None
    heat_ahead_c: float | None = None
    heat_ahead_days: int | None = None
    dry_leaves: bool = False


@dataclass(frozen=True, slots=True)
class WaterIn:
    """Water that has to bring a product into the ground: mm, within so many hours."""

    least_mm: float
    most_mm: float
    within_h: float


@dataclass(frozen=True, slots=True)
class Label:
    """A product's label as its owner typed it.

    Attributes:
        key: how settings and records name it.
        name: the product's name.
        registration_number: as printed.
        label_date: date of the label's version.
        ingredients: the active ones.
        measure: ``mL`` or ``g``.
        carrier_l_per_m2: mix per m².
        carrier_as_printed: the same in the label's own words.
        most_per_year_per_m2: product per m² in a year, in mL or g; None where the label names none.
        most_per_year_as_printed: the same in the label's own words.
        keep_off: what the label says about people and pets.
        gear: what the label says about protective gear.
        uses: the label's rows.
        year: what its year is: of the calendar, any twelve months, or from ``season_start`` on.
        season_start: month and day; None but for a season.
        most_applications_a_year: None where the label names none.
        most_in_a_row: applications of one resistance group after one another; None where the label says nothing.
        sites: of :data:`forecast.turf.SITES`; empty where the label permits any.
        soils_forbidden: textures on which it is not used.
        formulation: code as printed; empty where it was not typed.
        density_g_per_ml: None where unknown.
        weather: limits of the weather.
        water_in: what brings it into the ground; None where it stays on leaves.
        restricted: True for one that only a licensed applicator may use.
        buffer: distance from water or beds, in the label's own words.
    """

    key: str
    name: str
    registration_number: str
    label_date: date
    ingredients: tuple[Ingredient, ...]
    measure: str
    carrier_l_per_m2: float
    carrier_as_printed: str
    most_per_year_per_m2: float | None
    most_per_year_as_printed: str
    keep_off: str
    gear: str
    uses: tuple[LabelUse, ...]
    year: YearKind = "calendar"
    season_start: tuple[int, int] | None = None
    most_applications_a_year: int | None = None
    most_in_a_row: int | None = None
    sites: tuple[str, ...] = ()
    soils_forbidden: tuple[str, ...] = ()
    formulation: str = ""
    density_g_per_ml: float | None = None
    weather: WeatherLimits = WeatherLimits()
    water_in: WaterIn | None = None
    restricted: bool = False
    buffer: str = ""

    def use_for(self, disease: str, grass: str, condition: str = "preventive") -> LabelUse | None:
        """The row for a disease, a grass and a condition; None where the label does not list it."""
        for use in self.uses:
            if use.disease == disease and grass in use.grasses and use.condition == condition:
                return use
        return None

    @property
    def rotated_codes(self) -> tuple[str, ...]:
        """Resistance groups of its ingredients to which resistance is expected, each once."""
        return tuple(dict.fromkeys(one.frac_code for one in self.ingredients if one.frac_code and not one.many_sites))


@dataclass(frozen=True, slots=True)
class Brought:
    """What an application brought of one active ingredient.

    Attributes:
        key: of the ingredient.
        grams_per_m2: None where the amount or the concentration is not known.
        frac_code: empty where unknown.
        most_per_year_g_per_m2: the limit of the label it was made under; None where that names none.
    """

    key: str
    grams_per_m2: float | None
    frac_code: str = ""
    most_per_year_g_per_m2: float | None = None


@dataclass(frozen=True, slots=True)
class Application:
    """One recorded application, as far as planning needs it.

    Attributes:
        record_id: the record's number.
        area_id: where.
        day: day number of the local date.
        label_key: which product.
        brought: its active ingredients, as on the label it was made under.
        diseases: diseases that it protects from: made against, by a row of its label, at the row's rate.
        amount_per_m2: product per m², in mL or g; None where it was not written down.
        least_days: the label's least days for the row used; None where unknown.
        most_days: the label's most days for the row used; None where it does not protect.
    """

    record_id: int
    area_id: str
    day: int
    label_key: str
    brought: tuple[Brought, ...]
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
