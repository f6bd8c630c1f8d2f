"""What readers of weather replies share: JSON within limits, figures that are figures, and an unbroken spell of hours.

Every mistake names its place in the document, such as ``hourly.temperature_2m[17]``, and what was allowed there.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from forecast.errors import DataError, Fault, Notice
from forecast.ingest.imported import Grade, IssuedForecast, Provider
from forecast.panel import Bytes, Floats, Hours
from forecast.quantities import QUANTITIES

MOST_BYTES = 10_000_000  # house choice: a reply of 16 days and ten quantities has some 50 kB, a grid reply some 300 kB
MOST_HOURS = 40 * 24  # house choice: no weather forecast by the hour reaches further; past days may come with it
FIRST_YEAR, LAST_YEAR = 1850, 2199  # house choice, as for files loaded by hand: a stamp outside is a slip
SHARE_OUTSIDE_MEANS_UNIT = 0.05  # house choice, as for files: more than this outside the bounds and the unit is wrong
MOST_CHARACTERS = 40  # of a wrong figure or a foreign sentence in a message
ASK_AGAIN = "fetch it again; if it comes back the same, the service has changed its replies"


def public(source: str) -> str:
    """An address without its query, which may hold a key."""
    return source.split("?", 1)[0]


def json_value(body: bytes, name: str) -> Any:
    """The JSON of a reply.

    Args:
        body: the reply as sent.
        name: what it is, for messages.

    Raises:
        DataError: too large, not UTF-8, not JSON, nested too deeply, a key given twice, or NaN and the like in it.
    """
    if len(body) > MOST_BYTES:
        raise DataError(f"{name} is larger than {MOST_BYTES:,} bytes", hint="ask for fewer days or one place")
    try:
        return json.loads(body.decode("utf-8-sig"), object_pairs_hook=_distinct, parse_constant=_no_figure)
    except RecursionError:
        raise DataError(f"{name} is nested too deeply to be a weather reply", hint=ASK_AGAIN) from None
    except ValueError as error:  # also what is no UTF-8, and a figure with thousands of digits
        raise DataError(f"{name} is not JSON as it should be: {clipped(str(error), 120)}", hint=ASK_AGAIN) from None


def _distinct(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise ValueError(f"the key {clipped(twice)!r} stands twice in one object")
    return found


def _no_figure(word: str) -> float:
    raise ValueError(f"{word} stands where a figure should")


def clipped(text: str, most: int = MOST_CHARACTERS) -> str:
    """A foreign text short enough for a message."""
    return text if len(text) <= most else text[:most] + "…"


def shown(value: Any) -> str:
    """A value of a reply, short enough for a message."""
    match value:
        case None:
            return "null"
        case bool():
            return str(value).lower()
        case dict():
            return "an object"
        case list():
            return "a list"
        case str():
            return repr(clipped(value))
    return clipped(str(value))


def an_object(value: Any, place: str, faults: list[Fault]) -> dict[str, Any]:
    """The value where it is an object; otherwise an empty one, and a fault."""
    if isinstance(value, dict):
        return value
    faults.append(Fault("missing" if value is None else f"{shown(value)} where an object should be", column=place))
    return {}


def a_list(value: Any, place: str, faults: list[Fault]) -> list[Any]:
    """The value where it is a list; otherwise an empty one, and a fault."""
    if isinstance(value, list):
        return value
    faults.append(Fault("missing" if value is None else f"{shown(value)} where a list should be", column=place))
    return []


def number(value: Any, place: str, faults: list[Fault]) -> float:
    """A figure, NaN for null; anything else is a fault."""
    if value is None:
        return math.nan
    if isinstance(value, int | float) and not isinstance(value, bool):
        try:
            figure = float(value)
        except OverflowError:
            figure = math.inf
        if math.isfinite(figure):
            return figure
    faults.append(Fault(f"{shown(value)} is no figure; a finite number or null is allowed", column=place))
    return math.nan


def within_bounds(name: str, values: Floats, place: str, faults: list[Fault]) -> tuple[Floats, list[Notice]]:
    """The values with what lies outside the quantity's bounds taken out.

    A few such figures are slips and become unknown with a notice; many mean a wrong unit and are a fault.
    """
    quantity = QUANTITIES[name]
    known = np.count_nonzero(~np.isnan(values))
    outside = (values < quantity.least) | (values > quantity.most)
    count = np.count_nonzero(outside)
    if not count:
        return values, []
    allowed = f"{quantity.least:g} to {quantity.most:g} {quantity.unit}"
    if count > SHARE_OUTSIDE_MEANS_UNIT * known:
        faults.append(Fault(f"{count} of {known} figures lie outside {allowed}: is the unit right?", column=place))
    notice = Notice(f"{place}: {count} figures outside {allowed} were left out", quantity=name, grave=True)
    return np.where(outside, np.nan, values), [notice]


def issued(
    hours: Hours,
    values: Mapping[str, Floats],
    step_hours: Mapping[str, Bytes],
    provider: Provider,
    issued_utc: np.datetime64 | None,
    source: str,
    notices: tuple[Notice, ...],
) -> IssuedForecast:
    """A forecast, checked to hold anything at all.

    Raises:
        DataError: it has not one figure.
        ValueError: the provider is said to observe, which no forecast does.
    """
    if provider.grade is Grade.OBSERVED:
        raise ValueError(f"{provider.key} is graded observed; a forecast is not")
    if not any((~np.isnan(array)).any() for array in values.values()):
        raise DataError(f"the forecast from {public(source)} holds no figure", hint=ASK_AGAIN)
    return IssuedForecast(hours, values, step_hours, provider, issued_utc, public(source), notices)


def decimals(degrees: float, most: float, what: str) -> str:
    """A coordinate to four decimals, some ten metres, without trailing zeros: services ask for no more.

    Raises:
        DataError: it is no coordinate.
    """
    if not -most <= degrees <= most:
        raise DataError(f"{what} {degrees} lies outside ±{most:g}°", hint="give the place in decimal degrees")
    return f"{round(degrees, 4) + 0.0:.4f}".rstrip("0").removesuffix(".")
