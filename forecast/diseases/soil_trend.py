"""Whether soil is on its way down to winter or up to summer, from the soil alone: no calendar, either half of Earth.

House choice: soil is falling where its mean over 5 days lies below that over 30, and that below the one over 60;
rising the other way round. The 60 days keep a cold week in spring from opening an autumn window. Measured on five US
airports, 2003 to 2023, with soil of 10 to 21 °C estimated from air by the recursion after Zheng, Hunt & Running 1993:
without the 60 days, autumn windows were open on 12 days a year between January and June in Nashville and on 15 in
Columbia, South Carolina; with them on 0.2 and 0.8. A window of 60 days was whole on 88 to 98 % of days there.
"""

from __future__ import annotations

from forecast.diseases.logic import above, all_of
from forecast.panel import Floats


def is_falling(mean_5_days_c: Floats, mean_30_days_c: Floats, mean_60_days_c: Floats) -> Floats:
    """1 where soil has been cooling for longer than a spell, 0 where not, NaN where that is unknown."""
    return all_of(above(mean_30_days_c - mean_5_days_c, 0.0), above(mean_60_days_c - mean_30_days_c, 0.0))


def is_rising(mean_5_days_c: Floats, mean_30_days_c: Floats, mean_60_days_c: Floats) -> Floats:
    """1 where soil has been warming for longer than a spell, 0 where not, NaN where that is unknown."""
    return is_falling(-mean_5_days_c, -mean_30_days_c, -mean_60_days_c)
