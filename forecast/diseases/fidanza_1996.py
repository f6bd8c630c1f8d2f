"""Brown patch by the two-variable index of Fidanza, Dernoeden & Grybauskas 1996."""

from __future__ import annotations

from forecast.diseases.declare import Case, Coefficient, Daily, DiseaseModel, Range, Step
from forecast.panel import Floats

_BY_HAND = "arithmetic in the text beside it, from the abstract's coefficients"
_PEAK_C = 1.4 / (2 * 0.033)  # where the fitted parabola turns down: dE/dT = 1.4 − 0.066 T = 0


def outbreak_index(
    relative_humidity_pct_mean: Floats,
    air_temperature_c_min: Floats,
    *,
    base: float,
    per_pct: float,
    per_c: float,
    per_c2: float,
) -> Floats:
    """The index E from a day's mean relative humidity (%) and lowest air temperature (°C); no unit."""
    return (
        base
        + per_pct * relative_humidity_pct_mean
        + per_c * air_temperature_c_min
        + per_c2 * air_temperature_c_min * air_temperature_c_min
    )


def _case(humidity_pct: float, lowest_c: float, answer: float, arithmetic: str, printed: float | None = None) -> Case:
    given = {"relative_humidity_pct_mean": humidity_pct, "air_temperature_c_min": lowest_c}
    return Case(given, answer, within=5e-4, by=f"{arithmetic}; {_BY_HAND}", printed=printed)


FIDANZA_1996 = DiseaseModel(
    key="fidanza_1996",
    name="two-variable outbreak index",
    disease="brown_patch",
    pathogen="Rhizoctonia solani",
    grasses=("perennial_ryegrass", "colonial_bentgrass"),
    inputs=(
        Daily("relative_humidity_pct", "mean", day_end_hour=6),
        Daily("air_temperature_c", "min", day_end_hour=6),
    ),
    coefficients={
        "base": Coefficient(-21.5, "1", -25.0, -18.0),
        "per_pct": Coefficient(0.15, "%⁻¹", 0.10, 0.20),
        "per_c": Coefficient(1.4, "°C⁻¹", 1.2, 1.6),
        "per_c2": Coefficient(-0.033, "°C⁻²", -0.040, -0.026),
    },
    kernel=outbreak_index,
    answer="index",
    threshold=6.0,
    threshold_words="the two-variable outbreak index reaches 6",
    steps=(Step(5.0, "near the threshold"), Step(6.0, "outbreak weather")),
    valid={
        "air_temperature_c_min": Range(
            -80.0, _PEAK_C, "hold", "house choice: above its peak the fitted curve falls, the risk does not"
        )
    },
    standing="published",
    source=(
        "Fidanza, Dernoeden & Grybauskas 1996, Phytopathology 86:385-390: coefficients and threshold 6 as in the "
        "abstract; the day's end at 06:00 is a house choice"
    ),
    cases=(
        _case(85, 20, 6.050, "−21.5 + 12.75 + 28 − 13.2"),
        _case(90, 18, 6.508, "−21.5 + 13.5 + 25.2 − 10.692"),
        _case(90, 21, 6.847, "−21.5 + 13.5 + 29.4 − 14.553"),
        _case(95, 21, 7.597, "−21.5 + 14.25 + 29.4 − 14.553"),
        _case(75, 16, 3.702, "−21.5 + 11.25 + 22.4 − 8.448"),
        _case(
            95,
            26,
            7.5985,
            "held at 21.2121 °C: −21.5 + 14.25 + 1.4²/(4 × 0.033); as printed −21.5 + 14.25 + 36.4 − 22.308",
            printed=6.842,
        ),
    ),
    notes=(
        "Built on perennial ryegrass in Maryland, May to September; it warns of outbreaks, not of how severe they "
        "get. The published curve peaks at a night of 21.2 °C; warmer nights are held there and marked. Away from "
        "home it did poorly: on bentgrass in Beijing it found 22 % of the events, and 43 % of its warnings were false "
        "(Li 2008, abstract); a lecture judges that it tends to underestimate risk (Latin, read second-hand)."
    ),
)
