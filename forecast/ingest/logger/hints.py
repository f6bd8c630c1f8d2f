"""What figures make likely where a file's words leave a question open: hints for a person, never answers."""

from __future__ import annotations

import numpy as np

from forecast.ingest.logger.wet_columns import MINUTES, RAW, WETNESS
from forecast.panel import Floats
from forecast.quantities import QUANTITIES
from forecast.units import ways_in

# Figures that loggers write for no reading; each counts as such only where the quantity cannot have it.
SENTINELS = (-9999.0, -999.0, -999.9, -99.0, -99.9, -6999.0, 6999.0, -7999.0, 7999.0, 999.0, 999.9, 9999.0, 32767.0)
HOT = 45.0  # in °C no summer at hand has it for long; in °F it is a cool day
_MOST_MINUTES = 60.0  # no record is longer than an hour
_MOST_MV = 5000.0  # house choice: sensors are fed with 5 V at most


def can_be_reading(quantity: str, figure: float, unit: str | None) -> bool:
    """Whether a figure may be a reading, in any unit unless one is known; a counter of rain may stand anywhere."""
    if quantity == "rain_mm":
        return figure >= 0
    if quantity == WETNESS and (unit is None or unit in (MINUTES, *RAW)):
        most = {MINUTES: _MOST_MINUTES, "mV": _MOST_MV}.get(unit or "", np.inf)
        return 0 <= figure <= most
    bounds = QUANTITIES[quantity]
    units = ways_in(quantity)
    known = [unit] if unit is not None and unit in units else list(units)
    readings = [float(units[name](np.array([figure]))[0]) for name in known]
    return any(bounds.least <= reading <= bounds.most for reading in readings)


def unit_hint(quantity: str, figures: Floats, *, has_humidity: bool) -> str:
    """What a column's figures say about its unit; empty where they say nothing.

    Args:
        quantity: what the column holds.
        figures: its figures as written, NaN for no reading.
        has_humidity: whether humidity stands beside it: a weather station then, and no oven.
    """
    known = figures[~np.isnan(figures)]
    if not known.size:
        return ""
    if quantity.endswith("_c"):
        above = np.count_nonzero(known > HOT)
        looks_like_f = above and has_humidity
        return f"{above} of {known.size} values lie above {HOT:g}, which looks like °F" if looks_like_f else ""
    if quantity == "rain_mm":
        steps = np.unique(np.abs(np.diff(known)))
        least = steps[steps > 1e-9][:1]
        if least.size and abs(least[0] - 0.01) < 1e-6 and known.max() < 50:
            return "amounts go by 0.01, as those of gauges in inches do"
    if quantity.startswith("wind_"):
        return f"the highest is {known.max():g}; the figures alone cannot tell"
    return f"values go from {known.min():g} to {known.max():g}"


def wetness_hint(figures: Floats) -> str:
    """Between which figures a wetness sensor goes, and where it mostly stands; the threshold is a person's to tell."""
    known = figures[~np.isnan(figures)]
    if not known.size:
        return ""
    return f"values go from {known.min():g} to {known.max():g}, half of them at or below {np.median(known):g}"


def rain_hint(figures: Floats) -> str:
    """Whether figures of rain look like amounts or like a counter that runs on, by how they rise and fall."""
    known = figures[~np.isnan(figures)]
    moves = np.diff(known)
    if not (moves != 0).any():
        return "figures never change in these rows, which fits both"
    falls = int((moves < 0).sum())
    if not falls:
        return "figures never fall, which looks like a counter"
    stays = np.count_nonzero((moves == 0) & (known[1:] > 0))
    if 2 * stays > np.count_nonzero(known[1:] > 0):
        return f"figures mostly stay as they are, and fall back {falls} times: a counter set back to 0 looks so"
    return f"figures fall {falls} times, mostly right after rain, which looks like an amount per record"
