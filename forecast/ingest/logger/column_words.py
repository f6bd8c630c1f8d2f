"""Which quantity a column holds and in which unit, by the words of its header and of the rows below; nothing else.

What the words leave open stays open: a figure's size is a hint and never an answer.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from types import MappingProxyType

from forecast.quantities import unit_suffix
from forecast.units import IMPORT_UNITS

# Spellings as _bare leaves them. Bare letters are read only where they cannot number a channel.
_SPELLINGS = MappingProxyType(
    {
        "c": {"C": "c degc degreesc celsius degcelsius", "F": "f degf degreesf fahrenheit", "K": "k kelvin degk"},
        "pct": {"%": "% pct percent %rh rh% rhpct", "fraction": "fraction"},
        "mm": {"mm": "mm millimeters millimetres", "in": 'in inch inches "', "cm": "cm"},
        "m_s": {
            "m/s": "m/s ms ms1 mps meters/second metres/second meter/sec m/sec",
            "km/h": "km/h kmh kmh1 kph km/hr",
            "mph": "mph mi/h miles/hour miles/hr mi/hr",
            "kn": "kn kt kts knot knots",
        },
        "w_m2": {"W/m2": "w/m2 wm2 w/sqm watts/m2 watt/m2"},
        "fraction": {"fraction": "fraction", "%": "% pct percent"},
    }
)
_UNITS = MappingProxyType(
    {
        family: {word: unit for unit, words in spellings.items() for word in words.split()}
        for family, spellings in _SPELLINGS.items()
    }
)
# Units of sun and wetness that loggers have and the program cannot bring to its own.
_UNREADABLE = frozenset(
    [
        "mj/m2",
        "mjm2",
        "kj/m2",
        "kw/m2",
        "kwm2",
        "wh/m2",
        "ly",
        "langley",
        "lux",
        "klux",
        "umol/m2/s",
        "umolm2s1",
        "mv",
        "counts",
        "min",
        "minutes",
    ]
)
_STATISTICS = frozenset({"avg", "mean", "tot", "total", "smp", "max", "min", "std", "s", "hi", "high", "low"})
_NOT_OUTDOORS = re.compile(
    r"soil|ground|water|inside|indoor|batt|volt|panel|logger|chill|heat|feels|apparent|wet.?bulb|case|box"
)
_NOT_MEASURED = re.compile(
    r"direction|rate|intens|deficit|vapou?r|evapo|net|uv|longwave|energy|wind.?run|since|snow|std"
)


def _tokens(name: str) -> list[str]:
    return [word.lower() for word in re.findall(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|\d+|%", name)]


def quantity_of(name: str, below: Sequence[str] = ()) -> str | None:
    """The quantity that a column's words name; None where they name none that is wanted.

    Args:
        name: the column's name.
        below: what stands under it before the first record, such as ``Avg`` or ``Max``.
    """
    plain = re.sub(r"[\[({].*?[\])}]", " ", name)
    lower = plain.lower()
    tokens = set(_tokens(plain)) | {word.lower() for word in below}
    if _NOT_OUTDOORS.search(lower) or _NOT_MEASURED.search(lower) or tokens & {"dir", "std", "sd", "par"}:
        return None
    is_high = bool(tokens & {"max", "hi", "high", "peak"})
    is_wind = "wind" in lower or "ws" in tokens
    if "gust" in lower or (is_wind and is_high):
        return "wind_gust_10m_m_s"
    if is_high or tokens & {"min", "low", "lo", "minimum", "maximum"}:
        return None
    return _plain_quantity(lower, tokens, is_wind=is_wind)


def _plain_quantity(lower: str, tokens: Collection[str], *, is_wind: bool) -> str | None:
    is_wet = "wet" in lower
    named = (
        ("wind_speed_10m_m_s", is_wind),
        ("dew_point_c", "dew" in lower),
        ("leaf_wet_fraction", "wetness" in lower or ("leaf" in lower and is_wet)),
        ("rain_mm", any(word in lower for word in ("rain", "precip", "prcp"))),
        (
            "shortwave_down_w_m2",
            any(word in lower for word in ("solar", "radiat", "srad", "pyran", "shortwave", "slr")),
        ),
        ("relative_humidity_pct", "humid" in lower or bool({"hum", "rh"} & set(tokens))),
        ("air_temperature_c", _is_air_temperature(lower, tokens)),
    )
    return next((quantity for quantity, is_named in named if is_named), None)


def _is_air_temperature(lower: str, tokens: Collection[str]) -> bool:
    if "in" in tokens or "leaf" in lower:  # a house's "Temp In"
        return False
    return "temp" in lower or bool({"t", "ta", "tair"} & set(tokens)) or ("air" in tokens and "tc" in tokens)


def unit_of(quantity: str, name: str, below: Sequence[str], header: Sequence[str]) -> str | None:
    """The unit that a column's header or the rows below it name for a quantity; None where they name none.

    Args:
        quantity: what the column holds.
        name: the column's name.
        below: what stands under it before the first record.
        header: all names, among which a bare letter may turn out to number a channel.
    """
    known = _UNITS[unit_suffix(quantity)]
    for text in (*re.findall(r"[\[({](.*?)[\])}]", name), *below):
        for part in (text, *re.split(r"[,;]", text)):
            if _bare(part) in known:
                return known[_bare(part)]
    outside = re.sub(r"[\[({].*?[\])}]", " ", name)
    words = [word for word in re.split(r"[\s,;:_]+", outside) if word]
    while len(words) > 1 and words[-1].lower() in _STATISTICS:
        words.pop()
    for count in (2, 1):
        tail = " ".join(words[-count:])
        if len(words) > count and _bare(tail) in known and not _numbers_channels(name, tail, header):
            return known[_bare(tail)]
    return None


def has_unreadable_unit(name: str, below: Sequence[str]) -> bool:
    """Whether a column names a unit that cannot be read, so that to ask for a readable one would mislead."""
    return any(_bare(text) in _UNREADABLE for text in (*re.findall(r"[\[({](.*?)[\])}]", name), *below))


def _bare(text: str) -> str:
    lower = text.strip().lower().replace("²", "2").replace("°", "deg").replace("º", "deg").replace("⁻¹", "1")
    return re.sub(r"[\s._^*\-]+", "", lower)


def _numbers_channels(name: str, tail: str, header: Sequence[str]) -> bool:
    """Whether a bare letter at a name's end is one of several, as in Temp A, Temp B, Temp C."""
    if len(tail) > 1:
        return False
    stem = name[: name.rindex(tail)]
    return any(other != name and re.fullmatch(rf"{re.escape(stem)}[A-Z]", other) for other in header)


def units_known(quantity: str) -> tuple[str, ...]:
    """The units that a quantity can be read in."""
    return tuple(IMPORT_UNITS[unit_suffix(quantity)])
