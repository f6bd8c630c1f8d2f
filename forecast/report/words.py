"""Numbers as people read them: chances, days, temperatures, amounts; every text of the page that repeats."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

from forecast.report.page import ChanceWord
from forecast.units import (
    G_PER_LB,
    G_PER_OZ,
    KM_PER_MILE,
    L_PER_US_GAL,
    M2_PER_SQ_FT,
    M_PER_FT,
    M_S_PER_MPH,
    ML_PER_FL_OZ,
    MM_PER_IN,
    f_from_c,
)

SAME_SPOT_KM = 0.05  # house choice: about the width of a lawn
LARGE_UNITS = 10  # house choice: from ten gallons, pounds, litres or kilograms on, product is told in them
NBSP = "\u00a0"  # keeps a number and its unit on one line
NAMED_BY_ITS_END = "A day from noon to noon, and the night in it, goes by the date on which it ends."

CAUTIONS = (
    (
        "The label on the container is the law; this page is no label and permits nothing. Local rules and licensed "
        "practice come first."
    ),
    (
        "Wear the protective gear that the label names. Keep people and pets off until the spray has dried, or for "
        "as long as the label says."
    ),
    (
        "A forecast can be wrong: check wind, sky and turf on the spot, and write down what you see. Dog urine, "
        "insects and drought can look like disease (common practice, no source)."
    ),
)


LICENCE_LINKS = {"CC BY 4.0": "creativecommons.org/licenses/by/4.0"}  # a credit has to say where the licence is


def listed(names: Sequence[str]) -> str:
    """Names with commas, and with "and" before the last."""
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part) if names else ""


def capital(text: str) -> str:
    """The text with its first letter large and the rest as it is."""
    return text[:1].upper() + text[1:]


def owed_to(name: str, attribution: str, licence: str, link: str) -> str:
    """Whose data these are: the credit asked for, else the name; the licence and where it can be read; the source."""
    licence_link = LICENCE_LINKS.get(licence)
    parts = [attribution or name, f"{licence} ({licence_link})" if licence_link else licence, link]
    return "; ".join(part for part in parts if part)


def chance_word(value: float) -> ChanceWord:
    """The likelihood word of a chance, by the climate-assessment standard's limits.

    Source: Mastrandrea et al. 2010, IPCC guidance note on the treatment of uncertainties. The whole per cent
    that is printed decides, so that a number and its word never disagree.
    """
    whole_pct = round(100 * value)
    if whole_pct > 90:
        return "very likely"
    if whole_pct > 66:
        return "likely"
    if whole_pct >= 33:
        return "about as likely as not"
    return "unlikely" if whole_pct >= 10 else "very unlikely"


def percent(value: float) -> str:
    """A share as whole per cent, never a bare 0 or 100 for what is not certain."""
    whole = round(100 * value)
    if whole == 0 and value > 0:
        return f"under{NBSP}1{NBSP}%"
    if whole == 100 and value < 1:
        return f"over{NBSP}99{NBSP}%"
    return f"{whole}{NBSP}%"


def in_ten(value: float) -> str:
    """A share as a count of ten past years, never none or all of them for what is not certain."""
    count = round(10 * value)
    if count == 0:
        return "less than 1 in 10"
    return "nearly all" if count == 10 else f"about {count} in 10"


def clock(moment: datetime) -> str:
    """A clock time with its zone."""
    return f"{moment:%H:%M}{NBSP}{moment:%Z}"


def age_words(minutes: int) -> str:
    """An age in hours and minutes, or in days once it is long."""
    if minutes >= 48 * 60:
        return f"{minutes // (24 * 60)} days"
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"


def quantity_words(value: float | None, unit: str, *, us: bool) -> str:
    """A figure in local units; an unknown one says so."""
    if value is None:
        return "unknown"
    if unit == "°C":
        return f"{f_from_c(value):.0f}{NBSP}°F" if us else f"{value:.1f}{NBSP}°C"
    return f"{value:.0f}{NBSP}{unit}"


def range_words(low: float | None, high: float | None, unit: str, *, us: bool) -> str:
    """A range in local units, one figure where both ends print the same."""
    first, last = quantity_words(low, unit, us=us), quantity_words(high, unit, us=us)
    if first == last:
        return first
    return f"{first.rsplit(NBSP, 1)[0]} to {last}"


def speed_words(speed_m_s: float, *, us: bool) -> str:
    """A wind."""
    return f"{speed_m_s / M_S_PER_MPH:.3g}{NBSP}mph" if us else f"{speed_m_s:.2g}{NBSP}m/s"


def height_words(height_mm: float, *, us: bool) -> str:
    """A height of cut or a depth of water."""
    return f"{height_mm / MM_PER_IN:.2g}{NBSP}in" if us else f"{height_mm:.3g}{NBSP}mm"


def area_words(size_m2: float, *, us: bool) -> str:
    """A treated surface."""
    return f"{size_m2 / M2_PER_SQ_FT:,.0f} sq ft" if us else f"{size_m2:,.0f} m²"


def distance_words(distance_km: float, height_difference_m: float, *, us: bool) -> str:
    """How far away a station stands, and how much higher or lower."""
    if distance_km <= SAME_SPOT_KM:
        return "on site"
    long, long_unit = (distance_km / KM_PER_MILE, "miles") if us else (distance_km, "km")
    short, short_unit = (1000 / M_PER_FT, "ft") if us else (1000.0, "m")
    near = f"{distance_km * short:.0f}{NBSP}{short_unit}"
    far = near if long < 0.1 else f"{long:.1f}{NBSP}{long_unit}"
    height = abs(height_difference_m) / M_PER_FT if us else abs(height_difference_m)
    if round(height) == 0:
        return f"{far} away at the same height"
    way = "higher" if height_difference_m > 0 else "lower"
    return f"{far} away, {height:.0f}{NBSP}{short_unit} {way}"


def volume_words(litres: float, *, us: bool) -> str:
    """Water or mix."""
    return f"{litres / L_PER_US_GAL:,.1f} gal" if us else f"{litres:,.1f} L"


# Per measure, for US readers and for others: the usual unit and the large one, with mL or g in each.
_PRODUCT = {
    ("mL", True): (("fl oz", ML_PER_FL_OZ), ("gal", 1000 * L_PER_US_GAL)),
    ("g", True): (("oz by weight", G_PER_OZ), ("lb", G_PER_LB)),
    ("mL", False): (("mL", 1.0), ("L", 1000.0)),
    ("g", False): (("g", 1.0), ("kg", 1000.0)),
}


def product_words(amount: float, measure: str, *, us: bool) -> str:
    """Product in the reader's measure, rounded down so that rounding never passes a label's rate."""
    (unit, size), (large_unit, large_size) = _PRODUCT[measure, us]
    if amount >= LARGE_UNITS * large_size:
        return f"{_down(amount / large_size, 2)} {large_unit}"
    return f"{_down(amount / size, 1)} {unit}"


def _down(value: float, places: int) -> str:
    """Rounded down to some decimal places; the hair keeps 10 fl oz from becoming 9.9 by a float's rounding."""
    steps = math.floor(value * 10**places + 1e-6)
    return f"{steps / 10**places:,.{places}f}".rstrip("0").rstrip(".")
