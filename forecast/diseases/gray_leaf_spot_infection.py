"""Gray leaf spot by the generic infection model, with numbers of our own fitted to what chambers showed."""

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


GRAY_LEAF_SPOT_INFECTION = DiseaseModel(
    key="gray_leaf_spot_infection",
    name="generic infection model, gray leaf spot",
    disease="gray_leaf_spot",
    pathogen="Pyricularia oryzae",
    grasses=("perennial_ryegrass",),
    inputs=(
        Hourly("leaf_wet_fraction", day_end_hour=12, shown="wet_hours"),
        Hourly("air_temperature_c", day_end_hour=12, shown="mean"),
    ),
    coefficients={
        "lowest_c": Coefficient(15.0, "°C", 10.0, 18.0),
        "best_c": Coefficient(28.0, "°C", 26.0, 30.0),
        "highest_c": Coefficient(36.0, "°C", 33.0, 40.0),
        "least_wet_h": Coefficient(3.0, "h", 2.0, 9.0),
        "most_wet_h": Coefficient(24.0, "h", 18.0, 36.0),
        "dry_gap_h": Coefficient(4.0, "h", 1.0, 12.0),
    },
    kernel=share_of_wet_hours_needed,
    answer="index",
    threshold=1.0,
    threshold_words="leaves stay wet for as long as gray leaf spot needs to infect by the generic infection model",
    steps=(Step(1.0, "as many wet hours as infection needs"), Step(3.0, "three times the wet hours needed")),
    valid={
        "air_temperature_c": Range(
            -80.0, 28.0, "hold", "house choice: above its best temperature the curve falls, and a hot wet night is held"
        )
    },
    standing="provisional",
    source=(
        "form: Magarey, Sutton & Thayer 2005, Phytopathology 95:92-100, with the curve of Yan & Hunt 1999 (both read "
        "second-hand); every number is a house choice that agrees with the chamber study of Uddin, Serlemitsos & Viji "
        "2003, Phytopathology 93:336-343: most disease at 28 °C, some from 3 wet hours on"
    ),
    cases=(
        # f(T) = (36 − T)/8 × ((T − 15)/13)^1.625, hours needed 3/f(T), at most 24.
        spell_case((6,), 6, 20.0, 0.846698, "6 × 2 × (5/13)^1.625 ÷ 3"),
        spell_case((12,), 6, 18.0, 0.830628, "12 × 2.25 × (3/13)^1.625 ÷ 3"),
        spell_case((12,), 6, 16.0, 0.5, "12 of at most 24 h: 3 ÷ (2.5 × (1/13)^1.625) is 77 h"),
        spell_case((2, 1), 3, 28.0, 1.0, "gap of 3 h: one spell of 3 of 3 h"),
        spell_case((2, 1), 4, 28.0, 0.666667, "gap of 4 h: the longer spell, 2 of 3 h"),
        spell_case(
            (6,), 6, 32.0, 2.0, "held at 28 °C: 6 of 3 h; as printed 6 × 0.5 × (17/13)^1.625 ÷ 3", printed=1.546399
        ),
        spell_case((6,), 6, 36.0, 2.0, "held at 28 °C: 6 of 3 h; as printed nothing infects at 36 °C", printed=0.0),
        spell_case((24,), 6, 15.0, 0.0, "nothing infects at 15 °C"),
    ),
    notes=(
        "A general model with numbers of our own: the chamber study's own formula could not be read. Three wet hours "
        "at 28 °C are enough, so it passes on most wet nights of a warm summer: it tells when infection is possible, "
        "not how much of it. Nights warmer than 28 °C are held there and marked."
    ),
    wetness_words=(
        "Chamber studies wet the leaves themselves; here the method on the page tells which hours of the lawn are wet."
    ),
    grasses_are="taken",
)
