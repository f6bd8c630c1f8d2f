"""Which quantity a column holds and in which unit, by the words of its header and of the rows below; nothing else.

What the words leave open stays open: a figure's size is a hint and never an answer.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from types import MappingProxyType

from forecast.ingest.logger.soil_columns import depth_cm, is_soil_temperature, kept_at
from forecast.ingest.logger.wet_columns import WETNESS
from forecast.quantities import unit_suffix

SNOW = "snow_depth_mm"
_SPELLED_MM = {"mm": "mm millimeters millimetres", "in": 'in inch inches "', "cm": "cm"}
# Spellings as _bare leaves them. Bare letters are read only where they cannot number a channel.
_SPELLINGS = MappingProxyType(
    {
        "c": {"C": "c degc degreesc celsius degcelsius", "F": "f degf degreesf fahrenheit", "K": "k kelvin degk"},
        "pct": {"%": "% pct percent %rh rh% rhpct", "fraction": "fraction"},
        "mm": _SPELLED_MM,
        SNOW: {**_SPELLED_MM, "m": "m meter meters metre metres"},
        "m_s": {
            "m/s": "m/s ms ms1 mps meters/second metres/second meter/sec m/sec",
            "km/h": "km/h kmh kmh1 kph km/hr",
            "mph": "mph mi/h miles/hour miles/hr mi/hr",
            "kn": "kn kt kts knot knots",
        },
        "w_m2": {"W/m2": "w/m2 wm2 w/sqm watts/m2 watt/m2"},
        WETNESS: {
            "fraction": "fraction",
            "%": "% pct percent",
            "min": "min mins minute minutes",
            "counts": "counts count raw",
            "mV": "mv millivolts millivolt",
            "kOhm": "kohm kohms kω kiloohm kiloohms",
        },
    }
)
_UNITS = MappingProxyType(
    {
        family: {word: unit for unit, words in spellings.items() for word in words.split()}
        for family, spellings in _SPELLINGS.items()
    }
)
# Units that loggers have and the program cannot bring to its own.
_UNREADABLE = MappingProxyType(
    {
        "shortwave_down_w_m2": "mj/m2 mjm2 kj/m2 kw/m2 kwm2 wh/m2 ly langley lux klux umol/m2/s umolm2s1 mv counts min "
        "minutes",
        WETNESS: "ohm ohms ω v volt volts hours h hz",
        SNOW: "ft feet kg/m2 mmwe",
    }
)
_STATISTICS = frozenset({"avg", "mean", "tot", "total", "smp", "max", "min", "std", "s", "hi", "high", "low"})
_NOT_OUTDOORS = re.compile(
    r"ground|water|inside|indoor|batt|volt|panel|logger|chill|heat|feels|apparent|wet.?bulb|case|box"
)
_NOT_MEASURED = re.compile(r"direction|rate|intens|deficit|vapou?r|evapo|net|uv|longwave|energy|wind.?run|since|std")
_NOT_SNOW_DEPTH = re.compile(r"new|fresh|fall|water|swe|equiv|temp|density|quality|dist")
# Temperatures of a surface, unless "air" stands there too; and of soil, in a language whose word holds "temp".
_NOT_AIR = re.compile(r"surface|skin|canopy|turf|grass|root|boden|infrared")
LEAST_AIR_HEIGHT_CM = 50.0  # house choice, as for wind: nearer the ground, or in it, is not the air near 2 m
_EXTREMES = frozenset({"max", "hi", "high", "peak", "min", "low", "lo", "minimum", "maximum"})
_LEAF_SENSOR = re.compile(r"(?<![a-z])(?:lws|lwmwet|lwmv)")  # short names that logger programs give, from memory


def _tokens(name: str) -> list[str]:
    return [word.lower() for word in re.findall(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|\d+|%", name)]


def quantity_of(name: str, below: Sequence[str] = ()) -> str | None:
    """The quantity that a column's words name; None where they name none that is wanted.

    Args:
        name: the column's name.
        below: what stands under it before the first record, such as ``Avg`` or ``Max``.
    """
    lower, tokens = _words(name, below)
    if _NOT_MEASURED.search(lower) or tokens & {"dir", "std", "sd", "par"}:
        return None
    is_extreme = bool(tokens & _EXTREMES)
    if is_soil_temperature(name, lower, tokens):
        depth = depth_cm(name)
        return None if is_extreme or depth is None else kept_at(depth)
    if "snow" in lower or "snwd" in tokens:
        return SNOW if not is_extreme and _is_snow_depth(lower, tokens) else None
    if "soil" in lower or _NOT_OUTDOORS.search(lower):
        return None
    is_wind = "wind" in lower or "ws" in tokens
    if "gust" in lower or (is_wind and tokens & {"max", "hi", "high", "peak"}):
        return "wind_gust_10m_m_s"
    return None if is_extreme else _plain_quantity(name, lower, tokens, is_wind=is_wind)


def _words(name: str, below: Sequence[str]) -> tuple[str, set[str]]:
    """A name in small letters without what stands in brackets, and all words of it and of the rows below."""
    plain = re.sub(r"[\[({].*?[\])}]", " ", name)
    return plain.lower(), set(_tokens(plain)) | {word.lower() for word in below}


def _plain_quantity(name: str, lower: str, tokens: Collection[str], *, is_wind: bool) -> str | None:
    is_wet = "wetness" in lower or ("leaf" in lower and "wet" in lower) or _LEAF_SENSOR.search(lower) is not None
    named = (
        ("wind_speed_10m_m_s", is_wind),
        ("dew_point_c", "dew" in lower),
        (WETNESS, is_wet and "dry" not in lower),
        ("rain_mm", any(word in lower for word in ("rain", "precip", "prcp"))),
        (
            "shortwave_down_w_m2",
            any(word in lower for word in ("solar", "radiat", "srad", "pyran", "shortwave", "slr")),
        ),
        ("relative_humidity_pct", "humid" in lower or bool({"hum", "rh"} & set(tokens))),
        ("air_temperature_c", _is_air_temperature(name, lower, tokens)),
    )
    return next((quantity for quantity, is_named in named if is_named), None)


def _is_snow_depth(lower: str, tokens: Collection[str]) -> bool:
    is_depth = "depth" in lower or "height" in lower or "on ground" in lower or "snwd" in tokens
    return is_depth and _NOT_SNOW_DEPTH.search(lower) is None


def _is_air_temperature(name: str, lower: str, tokens: Collection[str]) -> bool:
    if "in" in tokens or "leaf" in lower:  # a house's "Temp In"
        return False
    if _NOT_AIR.search(lower) and "air" not in tokens:
        return False
    height_cm = depth_cm(name)
    if height_cm is not None and height_cm < LEAST_AIR_HEIGHT_CM:
        return False
    return "temp" in lower or bool({"t", "ta", "tair"} & set(tokens)) or ("air" in tokens and "tc" in tokens)


def is_soil_of_unknown_depth(name: str, below: Sequence[str] = ()) -> bool:
    """Whether a column's words name soil temperature and no one depth, so that a person has to tell it.

    Args:
        name: the column's name.
        below: what stands under it before the first record.
    """
    return _is_mean_of_soil(name, below) and depth_cm(name) is None


def other_depth_cm(name: str, below: Sequence[str] = ()) -> float | None:
    """The depth of a column of soil temperature that lies near none of those kept; None for any other column."""
    depth = depth_cm(name) if _is_mean_of_soil(name, below) else None
    return depth if depth is not None and kept_at(depth) is None else None


def _is_mean_of_soil(name: str, below: Sequence[str]) -> bool:
    lower, tokens = _words(name, below)
    return is_soil_temperature(name, lower, tokens) and not tokens & {*_EXTREMES, "std", "sd"}


def unit_of(quantity: str, name: str, below: Sequence[str], header: Sequence[str]) -> str | None:
    """The unit that a column's header or the rows below it name for a quantity; None where they name none.

    Args:
        quantity: what the column holds.
        name: the column's name.
        below: what stands under it before the first record.
        header: all names, among which a bare letter may turn out to number a channel.
    """
    known = _UNITS.get(quantity) or _UNITS[unit_suffix(quantity)]
    in_brackets = re.findall(r"[\[({](.*?)[\])}]", name)
    for text in (*in_brackets, *below):
        for part in (text, *re.split(r"[,;]", text)):
            # under a name "Min" is the least of some readings, and no unit
            if _bare(part) in known and (text in in_brackets or _bare(part) != "min"):
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


def has_unreadable_unit(quantity: str, name: str, below: Sequence[str]) -> bool:
    """Whether a column names a unit that cannot be read, so that to ask for a readable one would mislead."""
    unreadable = _UNREADABLE.get(quantity, "").split()
    return any(_bare(text) in unreadable for text in (*re.findall(r"[\[({](.*?)[\])}]", name), *below))


def _bare(text: str) -> str:
    lower = text.strip().lower().replace("²", "2").replace("°", "deg").replace("º", "deg").replace("⁻¹", "1")
    return re.sub(r"[\s._^*\-]+", "", lower)


def _numbers_channels(name: str, tail: str, header: Sequence[str]) -> bool:
    """Whether a bare letter at a name's end is one of several, as in Temp A, Temp B, Temp C."""
    if len(tail) > 1:
        return False
    stem = name[: name.rindex(tail)]
    return any(other != name and re.fullmatch(rf"{re.escape(stem)}[A-Z]", other) for other in header)
