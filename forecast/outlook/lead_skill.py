"""How far a weather forecast is worth following, by days ahead: slopes, explained variance, and shares to take over.

The table that stands until enough issued forecasts are archived is an assumption from memory, kept below what is
published of the upper air: the forecast of 500 hPa at ECMWF correlates with what came, in anomalies, by about 0.985,
0.92, 0.80 and 0.50 at 3, 5, 7 and 10 days (ECMWF Forecast User Guide, read second-hand).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from forecast.panel import Floats

LEAD_DAYS = 16

# Correlation of forecast and observed anomalies, 1 to 16 days ahead; assumptions from memory.
NIGHT_MINIMUM_R = (.95, .93, .91, .87, .82, .76, .68, .59, .50, .41, .33, .26, .20, .15, .11, .08)  # fmt: skip
HUMIDITY_R = (.86, .82, .78, .72, .65, .57, .48, .40, .32, .26, .20, .15, .12, .09, .06, .04)  # fmt: skip

# Share of a forecast's own rain, wind and sky that is worth taking over, 1 to 16 days ahead: the slope of what came on
# what was forecast. Assumptions from memory.
RAIN_SHARE = (.60, .55, .50, .42, .35, .28, .21, .15, .10, .07, .05, .03, .02, .01, .0, .0)  # fmt: skip
WIND_SHARE = (.75, .72, .67, .60, .52, .43, .34, .26, .19, .14, .10, .07, .05, .03, .02, .01)  # fmt: skip
SKY_SHARE = (.60, .56, .51, .45, .38, .31, .24, .18, .13, .09, .06, .04, .03, .02, .01, .0)  # fmt: skip


@dataclass(frozen=True, eq=False)
class LeadSkill:
    """What one forecast source is worth at one place.

    Attributes:
        correlation: of hourly anomalies of temperature and dew point, one for both, by days ahead from 1; shape
            (leads,), falling, 0 to 0.995.
        slope: of what came on what was forecast, in anomalies, same shape.
        shares: per quantity carried along, the share of members that take the forecast's own figure, same shape.
        bias: per quantity, what the forecast was too high by, in spreads, by hour of UTC; shape (24,).
        issued_days: forecasts that it was learned from; 0 is the table from memory.
    """

    correlation: Floats
    slope: Floats
    shares: Mapping[str, Floats]
    bias: Mapping[str, Floats] = field(default_factory=lambda: MappingProxyType({}))
    issued_days: int = 0

    @property
    def reach_h(self) -> float:
        """How many hours ahead it says anything of."""
        return 24.0 * len(self.correlation)

    def at_hours(self, ahead_h: Floats) -> tuple[Floats, Floats]:
        """Correlation and slope, hours ahead; a day's figure stands at its middle."""
        return _by_hour(self.correlation, ahead_h), _by_hour(self.slope, ahead_h)

    def share_at_hours(self, quantity: str, ahead_h: Floats) -> Floats:
        """Share of members that take the forecast's own figure, hours ahead; 0 for a quantity that it does not name."""
        if quantity not in self.shares:
            return np.zeros_like(ahead_h)
        return _by_hour(self.shares[quantity], ahead_h)


def _by_hour(of_days: Floats, ahead_h: Floats) -> Floats:
    """Straight lines between the middles of days; the first day's figure before, the last's to its end, then 0."""
    middles = np.arange(1, len(of_days) + 1) * 24.0 - 12.0
    return np.where(ahead_h <= 24.0 * len(of_days), np.interp(ahead_h, middles, of_days), 0.0)


def _assumed() -> LeadSkill:
    joint = (np.array(NIGHT_MINIMUM_R) + np.array(HUMIDITY_R)) / 2
    sky = np.array(SKY_SHARE)
    shares = {
        "rain_mm": np.array(RAIN_SHARE),
        "wind_speed_10m_m_s": np.array(WIND_SHARE),
        "cloud_cover_fraction": sky,
        "shortwave_down_w_m2": sky,
    }
    return LeadSkill(joint, joint, MappingProxyType(shares))


ASSUMED = _assumed()
