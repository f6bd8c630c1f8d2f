"""Emulated weather forecasts: what a provider of assumed skill would have said, where no issued one was archived.

The forecast anomaly is r·x + √(1 − r²)·x': x is what came, x' the anomaly of another year's block, so that errors last
and go together as weather does. Temperature goes by the table of the night's minimum, the depression of the dew point
by that of humidity. It proves an engine and no provider, and every figure made of it says so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecast.outlook.lead_skill import HUMIDITY_R, NIGHT_MINIMUM_R
from forecast.outlook.library import Library, same_moment_in_other_years
from forecast.outlook.members import Expected
from forecast.outlook.normals import Normals, normals
from forecast.panel import Floats, Panel


@dataclass(frozen=True, slots=True)
class Emulated:
    """An assumed provider.

    Attributes:
        name: of the table.
        temperature_r: correlation with what comes, 1 to 16 days ahead.
        depression_r: the same for the depression of the dew point.
        days: how far its forecasts reach.
        warm_by_spreads: how much too warm it is, in spreads.
        dry_by_spreads: how much too dry it is, in spreads of the depression.
    """

    name: str
    temperature_r: tuple[float, ...]
    depression_r: tuple[float, ...]
    days: int = 16
    warm_by_spreads: float = 0.0
    dry_by_spreads: float = 0.0


TYPICAL = Emulated("typical", NIGHT_MINIMUM_R, HUMIDITY_R)
LOW = Emulated(
    "low",
    (.90, .87, .83, .77, .70, .61, .51, .42, .33, .25, .19, .14, .10, .07, .05, .03),
    (.75, .70, .64, .57, .49, .40, .32, .25, .19, .14, .10, .07, .05, .03, .02, .01),
)  # fmt: skip


class Emulator:
    """Forecasts for one place.

    Args:
        truth: what came; shape (hours, 1).
        stock: past years, for usual values and for the errors; the fold's own.
        provider: how good.
        random: where the errors' years are drawn from.
    """

    def __init__(self, truth: Panel, stock: Library, provider: Emulated, random: np.random.Generator) -> None:
        self._truth, self._stock, self._provider, self._random = truth, stock, provider, random
        depression = truth.values["air_temperature_c"] - truth.values["dew_point_c"]
        depression = np.where(stock.known, depression, np.nan)  # what the fold leaves out is left out here too
        self._depression: Normals = normals(truth.hours, depression)
        self._all_depression = truth.values["air_temperature_c"] - truth.values["dew_point_c"]

    def forecast(self, last_known: np.datetime64, hours_ahead: int) -> Expected | None:
        """For the hours after a moment; None where no other year holds a whole block."""
        hours = last_known + np.arange(1, hours_ahead + 1) * np.timedelta64(1, "h")
        row = int((last_known - self._truth.hours[0]).astype(np.int64))
        block = self._error_block(last_known, hours_ahead)
        if block is None:
            return None
        rows = np.arange(row + 1, row + 1 + hours_ahead)
        inside = rows < len(self._truth.hours)
        rows = np.minimum(rows, len(self._truth.hours) - 1)
        made = {}
        parts = (
            ("air_temperature_c", self._stock.normals["air_temperature_c"], self._truth.values["air_temperature_c"],
             self._provider.temperature_r, self._provider.warm_by_spreads),
            ("depression", self._depression, self._all_depression,
             self._provider.depression_r, self._provider.dry_by_spreads),
        )  # fmt: skip
        for name, usual, came, table, off in parts:
            mean, spread = usual.at(hours)
            there_mean, there_spread = usual.at(self._truth.hours[block])
            x = (came[rows] - mean) / spread
            error = (came[block] - there_mean) / there_spread
            r = self._r(table, hours_ahead)[:, None]
            f = r * x + np.sqrt(1 - r**2) * error + off
            made[name] = np.where(inside[:, None], mean + spread * f, np.nan)
        far = np.arange(hours_ahead) >= 24 * self._provider.days
        temperature = np.where(far[:, None], np.nan, made["air_temperature_c"])
        dew_point = temperature - np.maximum(made["depression"], 0.0)
        return Expected({"air_temperature_c": temperature, "dew_point_c": dew_point})

    def _r(self, table: tuple[float, ...], hours_ahead: int) -> Floats:
        leads = np.arange(1, len(table) + 1) * 24.0 - 12.0
        return np.interp(np.arange(1, hours_ahead + 1, dtype=np.float64), leads, table)

    def _error_block(
        self, last_known: np.datetime64, hours_ahead: int
    ) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]] | None:
        known = self._stock.known[:, 0]
        centres = same_moment_in_other_years(last_known, self._stock.hours[0], self._stock.hours[-1])
        for _ in range(50):
            around = centres[int(self._random.integers(len(centres)))] + np.timedelta64(
                24 * int(self._random.integers(-20, 21)), "h"
            )
            first = int((around - self._stock.hours[0]).astype(np.int64)) + 1
            if first >= 0 and first + hours_ahead <= len(known) and known[first : first + hours_ahead].all():
                return np.arange(first, first + hours_ahead)
        return None
