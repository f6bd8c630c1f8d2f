"""Brown patch by the rule reported for Schumann et al. 1994: a long humid spell on warm wet ground."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecast.diseases.declare import Case, Coefficient, DiseaseModel, Hourly, Step
from forecast.diseases.logic import above, all_of, reaches
from forecast.panel import Floats

_DIGITS = 6  # rounds away what running sums leave behind, so that tenths of a millimetre reach their limit


def humid_spell(
    relative_humidity_pct: Floats,
    air_temperature_c: Floats,
    soil_temperature_5cm_c: Floats,
    water_on_turf_mm: Floats,
    *,
    humid_above_pct: float,
    humid_h: float,
    soil_mean_above_c: float,
    soil_least_above_c: float,
    air_mean_above_c: float,
    air_least_above_c: float,
    rain_from_mm: float,
    temperature_h: float,
    rain_h: float,
) -> Floats:
    """1 at the hour that completes a humid spell on warm wet ground, 0 at other hours, NaN where that is unknown.

    A spell is complete once, at its ``humid_h``-th hour on end. Temperatures are looked at over the ``temperature_h``
    hours that end there, rain over the ``rain_h`` hours. What came before the first hour is unknown.

    Raises:
        ValueError: a number of hours below 1.
    """
    if min(humid_h, temperature_h, rain_h) < 1:
        raise ValueError("a spell and what is looked back on are 1 hour or longer")
    spell, back, rain_back = round(humid_h), round(temperature_h), round(rain_h)
    humid = above(relative_humidity_pct, humid_above_pct)
    was_dry_before = _earlier(1.0 - humid, spell)
    return all_of(
        _always(humid, spell),
        was_dry_before,
        above(_mean(soil_temperature_5cm_c, back), soil_mean_above_c),
        _always(above(soil_temperature_5cm_c, soil_least_above_c), back),
        above(_mean(air_temperature_c, back), air_mean_above_c),
        _always(above(air_temperature_c, air_least_above_c), back),
        _fell(water_on_turf_mm, rain_back, rain_from_mm),
    )


def _earlier(values: Floats, hours: int) -> Floats:
    """What held some hours before; unknown before the first."""
    found = np.full(values.shape, np.nan)
    found[hours:] = values[:-hours]
    return found


def _sum(values: Floats | NDArray[np.bool_], hours: int) -> Floats:
    """Sum over the last hours, of which those before the first count nothing."""
    total = np.cumsum(values, axis=0, dtype=np.float64)
    total[hours:] -= total[:-hours].copy()
    return np.round(total, _DIGITS)


def _known(values: Floats, hours: int) -> NDArray[np.bool_]:
    """Whether all of the last hours are known."""
    known: NDArray[np.bool_] = _sum(~np.isnan(values), hours) == hours
    return known


def _mean(values: Floats, hours: int) -> Floats:
    return np.where(_known(values, hours), _sum(np.nan_to_num(values), hours) / hours, np.nan)


def _always(condition: Floats, hours: int) -> Floats:
    """1 where a condition held in each of the last hours, 0 where it is known to have failed in one."""
    failed = _sum(condition == 0, hours) > 0
    return np.where(failed, 0.0, np.where(_known(condition, hours), 1.0, np.nan))


def _fell(water_mm: Floats, hours: int, from_mm: float) -> Floats:
    """1 where the known rain of the last hours is enough, 0 where all of it is known and is not."""
    enough = reaches(_sum(np.nan_to_num(water_mm), hours), from_mm)
    return np.where((enough == 1) | _known(water_mm, hours), enough, np.nan)


def _case(
    answer: float,
    by: str,
    *,
    humid_pct: float = 95.1,
    humid_h: int = 10,
    air_c: tuple[float, float] = (20.3, 15.1),
    soil_c: tuple[float, float] = (21.3, 18.1),
    temperature_back_h: int = 24,
    rain_mm: float = 2.5,
    rain_back_h: int = 36,
) -> Case:
    """Two dry days, then a humid spell; one cool hour at its lowest, one wet hour, so many hours before the tenth.

    Temperatures are the level and the lowest; the lowest lies in the first of the hours looked back on.
    """
    before = 48
    tenth = before + 9
    hours = before + humid_h + 4
    humidity = [80.0] * before + [humid_pct] * humid_h + [80.0] * 4
    air, soil, rain = [air_c[0]] * hours, [soil_c[0]] * hours, [0.0] * hours
    air[tenth + 1 - temperature_back_h] = air_c[1]
    soil[tenth + 1 - temperature_back_h] = soil_c[1]
    rain[tenth + 1 - rain_back_h] = rain_mm
    given = {
        "relative_humidity_pct": humidity,
        "air_temperature_c": air,
        "soil_temperature_5cm_c": soil,
        "water_on_turf_mm": rain,
    }
    return Case(given, answer, within=0.0, by=by)


SCHUMANN_1994 = DiseaseModel(
    key="schumann_1994",
    name="humid spell on warm wet ground",
    disease="brown_patch",
    pathogen="Rhizoctonia solani",
    grasses=("creeping_bentgrass",),
    inputs=(
        Hourly("relative_humidity_pct", day_end_hour=12, shown="mean"),
        Hourly("air_temperature_c", day_end_hour=12, shown="mean"),
        Hourly("soil_temperature_5cm_c", day_end_hour=12, shown="mean"),
        Hourly("water_on_turf_mm", day_end_hour=12, shown="sum"),
    ),
    coefficients={
        "humid_above_pct": Coefficient(95.0, "%", 85.0, 98.0),
        "humid_h": Coefficient(10.0, "h", 6.0, 14.0),
        "soil_mean_above_c": Coefficient(21.0, "°C", 18.0, 23.0),
        "soil_least_above_c": Coefficient(18.0, "°C", 15.0, 20.0),
        "air_mean_above_c": Coefficient(20.0, "°C", 17.0, 22.0),
        "air_least_above_c": Coefficient(15.0, "°C", 12.0, 17.0),
        "rain_from_mm": Coefficient(2.5, "mm", 1.0, 6.0),
        "temperature_h": Coefficient(24.0, "h", 12.0, 48.0),
        "rain_h": Coefficient(36.0, "h", 24.0, 72.0),
    },
    kernel=humid_spell,
    answer="class",
    threshold=1.0,
    threshold_words=(
        "humidity stays above 95 % for 10 hours on end after 24 hours of warm air (above 15 °C throughout, 20 °C (68 "
        "°F) in the mean) on warm soil (18 and 21 °C (70 °F)), with 2.5 mm (0.1 in) of rain in 36 hours"
    ),
    steps=(Step(0.0, "no such spell"), Step(1.0, "humid spell on warm wet ground")),
    valid={},
    standing="reported",
    source=(
        "Schumann, Clarke, Rowley & Burpee 1994, Crop Prot. 13:211-218: trials in Massachusetts, New Jersey and "
        "Georgia; the rule's numbers from an extension summary that names no author (read second-hand), whether a "
        "limit itself counts being unclear; soil at 5 cm and the day from noon to noon are house choices"
    ),
    cases=(
        _case(1.0, "every condition just met"),
        _case(0.0, "humidity of 95 % is not above 95 %", humid_pct=95.0),
        _case(1.0, "the tenth hour decides, not the length", humid_h=14),
        _case(0.0, "nine hours on end are not ten", humid_h=9),
        _case(0.0, "air: mean (23 × 20.2 + 15.1)/24 = 19.99 °C", air_c=(20.2, 15.1)),
        _case(0.0, "air: 15 °C is not above 15 °C", air_c=(20.5, 15.0)),
        _case(1.0, "air: the cool hour lies a 25th hour back", air_c=(20.5, 14.0), temperature_back_h=25),
        _case(0.0, "air: the cool hour lies 24 hours back", air_c=(20.5, 14.0)),
        _case(0.0, "soil: mean (23 × 21.1 + 18.1)/24 = 20.975 °C", soil_c=(21.1, 18.1)),
        _case(0.0, "soil: 18 °C is not above 18 °C", soil_c=(21.5, 18.0)),
        _case(0.0, "rain: 2.48 mm are less than 2.5 mm", rain_mm=2.48),
        _case(0.0, "rain: fell in a 37th hour back", rain_back_h=37),
    ),
    notes=(
        "Irrigation counts as rain, as it is set. A spell is judged once, at its tenth hour. Soil temperature is "
        "worked out from the air where no logger has it. Airport air reaches 95 % for ten hours on few nights (0.2 to "
        "2.9 days a year at five US stations, were rain always enough), so a no says little there. In Beijing the rule "
        "found 67 % of the events, and 20 % of its warnings were false (Li 2008, abstract)."
    ),
)
