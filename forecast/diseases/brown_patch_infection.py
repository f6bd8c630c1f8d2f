"""Brown patch by the generic infection model, with numbers of our own fitted to what chambers showed."""

from __future__ import annotations

from forecast.diseases.declare import Coefficient, DiseaseModel, Hourly, Range, Step
from forecast.diseases.infection import spell_case, wet_share
from forecast.panel import Floats


def share_of_wet_hours_needed(
    leaf_wet_fraction: Floats,
    air_temperature_c: Floats,
    *,
    lowest_c: float,
    best_c: float,
    highest_c: float,
    least_wet_h: float,
    most_wet_h: float,
    dry_gap_h: float,
) -> Floats:
    """Wet hours of the spell over those needed at its mean temperature, hour by hour; no unit."""
    return wet_share(
        leaf_wet_fraction,
        air_temperature_c,
        lowest_c=lowest_c,
        best_c=best_c,
        highest_c=highest_c,
        least_wet_h=least_wet_h,
        most_wet_h=most_wet_h,
        dry_gap_h=dry_gap_h,
    )


BROWN_PATCH_INFECTION = DiseaseModel(
    key="brown_patch_infection",
    name="generic infection model, brown patch",
    disease="brown_patch",
    pathogen="Rhizoctonia solani",
    grasses=("perennial_ryegrass",),
    inputs=(
        Hourly("leaf_wet_fraction", day_end_hour=12, shown="wet_hours"),
        Hourly("air_temperature_c", day_end_hour=12, shown="mean"),
    ),
    coefficients={
        "lowest_c": Coefficient(10.0, "°C", 7.0, 14.0),
        "best_c": Coefficient(25.0, "°C", 22.0, 28.0),
        "highest_c": Coefficient(35.0, "°C", 32.0, 40.0),
        "least_wet_h": Coefficient(9.0, "h", 6.0, 12.0),
        "most_wet_h": Coefficient(24.0, "h", 18.0, 36.0),
        "dry_gap_h": Coefficient(4.0, "h", 1.0, 12.0),
    },
    kernel=share_of_wet_hours_needed,
    answer="index",
    threshold=1.0,
    threshold_words="leaves stay wet for as long as brown patch needs to infect by the generic infection model",
    steps=(Step(0.5, "half of the wet hours needed"), Step(1.0, "as many wet hours as infection needs")),
    valid={
        "air_temperature_c": Range(
            -80.0, 25.0, "hold", "house choice: above its best temperature the curve falls, and a hot wet night is held"
        )
    },
    standing="provisional",
    source=(
        "form: Magarey, Sutton & Thayer 2005, Phytopathology 95:92-100, with the curve of Yan & Hunt 1999 (both read "
        "second-hand); every number is a house choice that agrees with the chamber study of Gross, Santini, Tikhonova "
        "& Latin 1998, Plant Dis. 82:1012-1016: none at 15 °C and 9 wet hours, most at 24 °C and 24"
    ),
    cases=(
        # f(T) = (35 − T)/10 × ((T − 10)/15)^1.5, hours needed 9/f(T), at most 24.
        spell_case((12,), 6, 18.0, 0.882848, "12 × 1.7 × (8/15)^1.5 ÷ 9"),
        spell_case((9,), 6, 15.0, 0.384900, "9 × 2 × (5/15)^1.5 ÷ 9"),
        spell_case((12,), 6, 12.0, 0.5, "12 of at most 24 h: 9 ÷ (2.3 × (2/15)^1.5) is 80 h"),
        spell_case((5, 4), 3, 25.0, 1.0, "gap of 3 h: one spell of 9 of 9 h"),
        spell_case((5, 4), 4, 25.0, 0.555556, "gap of 4 h: the longer spell, 5 of 9 h"),
        spell_case(
            (9,), 6, 30.0, 1.0, "held at 25 °C: 9 of 9 h; as printed 9 × 0.5 × (20/15)^1.5 ÷ 9", printed=0.769800
        ),
        spell_case((9,), 6, 35.0, 1.0, "held at 25 °C: 9 of 9 h; as printed nothing infects at 35 °C", printed=0.0),
        spell_case((24,), 6, 10.0, 0.0, "nothing infects at 10 °C"),
    ),
    notes=(
        "A general model with numbers of our own: the chamber study's own formula could not be read. Nights warmer "
        "than 25 °C are held there and marked. How many dry hours end a spell is a house choice."
    ),
    wetness_words=(
        "Chamber studies wet the leaves themselves; here the method on the page tells which hours of the lawn are wet."
    ),
    grasses_are="taken",
)
