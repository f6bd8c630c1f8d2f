"""What several checks ask of a series of hours: steps, spikes, runs, resolution, where rain begins."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from forecast.panel import Floats, Hours
from forecast.physics import humidity
from forecast.quality.form import Marks

# A run of readings is not broken by so many missing hours. House choice: as long as the holes that are filled.
HOLE_HOURS = 3

DAY_HOURS = 24
WHOLE_F_IN_C = 1 / 1.8  # one degree Fahrenheit
_MOST = 0.95  # house choice: a resolution is that of nineteen readings in twenty
_NEAR = 0.011  # of the unit; readings kept to a hundredth are still seen as whole
_NEAR_F = 0.095  # of a degree Fahrenheit: whole °F kept to 0.1 °C are off by 0.05 × 1.8 = 0.09 at most


def standard_hour(hours: Hours, standard_offset_minutes: int) -> NDArray[np.int64]:
    """Hours of standard time since 1970 that end at each stamp: 0 is the first hour of 1 January; shape kept.

    Where standard time is off the hour, the next full hour is meant, so that a day ends at the last stamp not after
    midnight, as in :mod:`forecast.daily`.
    """
    minutes = hours.astype("datetime64[h]").astype(np.int64) * 60 + standard_offset_minutes
    return -(-minutes // 60) - 1


def steps(values: Floats) -> Floats:
    """Size of the change since the hour before; NaN where either is unknown; shape kept."""
    size = np.full(values.shape, np.nan)
    size[1:] = np.abs(np.diff(values, axis=0))
    return size


def spikes(values: Floats) -> Floats:
    """How far a reading stands off both neighbours on the same side: the smaller of the two steps.

    0 where the readings before and after lie on different sides; NaN where one of the three is unknown.
    """
    size = np.full(values.shape, np.nan)
    change = np.diff(values, axis=0)
    apart = np.minimum(np.abs(change[:-1]), np.abs(change[1:]))
    same_side = change[:-1] * change[1:] < 0
    size[1:-1] = np.where(same_side | np.isnan(apart), apart, 0.0)
    return size


def rain_begins_near(values: Mapping[str, Floats], shape: tuple[int, ...]) -> Marks:
    """True within an hour of one in which rain begins; nowhere, where no rain is known."""
    near = np.zeros(shape, bool)
    if "rain_mm" in values:
        rain = values["rain_mm"] > 0
        begins = rain.copy()
        begins[1:] &= ~rain[:-1]
        near |= begins
        near[1:] |= begins[:-1]
        near[:-1] |= begins[1:]
    return near


def run_lengths(column: Floats, of: Marks | None = None) -> Floats:
    """Number of readings in the run of equal readings that each hour belongs to.

    Args:
        column: one series, shape (hours,); a hole of up to :data:`HOLE_HOURS` does not break a run and does not count.
        of: runs of these marked readings, whatever they read, in place of equal ones.

    Returns:
        0 where the reading is unknown or not marked.
    """
    lengths = np.zeros(len(column))
    known = np.flatnonzero(~np.isnan(column))
    if known.size:
        before, after = known[:-1], known[1:]
        joined = column[before] == column[after] if of is None else of[before] & of[after]
        joined &= np.diff(known) <= HOLE_HOURS + 1
        run = np.cumsum(np.r_[True, ~joined]) - 1
        lengths[known] = np.bincount(run)[run]
        if of is not None:
            lengths[known[~of[known]]] = 0
    return lengths


def resolution(column: Floats, *, degrees: bool) -> float:
    """The step that one series is reported in: 1, 0.5 or 0.1, and for degrees a whole °F; 0.1 where it cannot be told.

    Args:
        column: shape (hours,), in the quantity's unit.
        degrees: True for °C, where readings may have been whole °F.
    """
    known = column[~np.isnan(column)]
    if known.size:
        for step in (1.0, 0.5):
            if _share_near(known / step, _NEAR / step) >= _MOST:
                return step
        if degrees and _share_near(known * 1.8 + 32, _NEAR_F) >= _MOST:
            return WHOLE_F_IN_C
    return 0.1


def _share_near(known: Floats, within: float) -> float:
    """Share of readings that lie near a whole number."""
    return float((np.abs(known - np.rint(known)) < within).mean())


def relative_humidity(values: Mapping[str, Floats]) -> Floats | None:
    """Relative humidity as given, else from temperature and dew point; None where there is neither."""
    given = values.get("relative_humidity_pct")
    if "air_temperature_c" not in values or "dew_point_c" not in values:
        return given
    derived = humidity.relative_humidity_pct(values["air_temperature_c"], values["dew_point_c"])
    return derived if given is None else np.where(np.isnan(given), derived, given)
