"""What a sprayer puts down: from what it sprayed, how fast it was carried, and what each nozzle gave.

All follow from one line: litres a m² = litres a second / (metres a second × metres wide). In the units of handbooks
it is gal/acre = 5940 × gal/min / (mph × in), since 43,560 × 12 / 88 = 5940 and 1 mph = 88 ft/min.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence

WITHIN_SHARE = 0.05  # so near the rate wanted a hand sprayer may be: pesticidestewardship.org, calibration of hand guns
# A nozzle that is so far off the others is replaced: Louisiana State University Extension, off their mean. The median
# stands here in its place, since one bad nozzle among few draws a mean to itself and blames the good ones.
NOZZLE_OFF_SHARE = 0.10


def carrier_l_per_m2(flow_l_s: float, speed_m_s: float, width_m: float) -> float:
    """What a sprayer puts down.

    Args:
        flow_l_s: of all nozzles together, or of one.
        speed_m_s: at which it is carried.
        width_m: that it covers; for one nozzle the distance to the next.
    """
    return flow_l_s / (speed_m_s * width_m)


def flow_for_l_s(wanted_l_per_m2: float, speed_m_s: float, width_m: float) -> float:
    """The flow that puts down what is wanted, litres a second."""
    return wanted_l_per_m2 * speed_m_s * width_m


def speed_for_m_s(wanted_l_per_m2: float, flow_l_s: float, width_m: float) -> float:
    """The speed at which a flow puts down what is wanted, metres a second."""
    return flow_l_s / (wanted_l_per_m2 * width_m)


def by_area_l_per_m2(sprayed_l: float, size_m2: float) -> float:
    """From what a measured surface took: filled to the same mark again."""
    return sprayed_l / size_m2


def by_time_l_per_m2(caught_l: float, caught_s: float, size_m2: float, took_s: float) -> float:
    """From what is caught standing still and the time that a measured surface takes.

    Args:
        caught_l: in a bucket.
        caught_s: for so long.
        size_m2: a measured surface,
        took_s: covered at one's own pace in so long.
    """
    return caught_l / caught_s * took_s / size_m2


def course_m(strip_m2: float, width_m: float) -> float:
    """How long a strip of an area and a width is; on a 128th of an acre, fluid ounces caught are gallons an acre."""
    return strip_m2 / width_m


def off_nozzles(caught_l: Sequence[float]) -> list[int]:
    """Places, from 0, of nozzles that give a tenth more or less than the median of all."""
    middle = statistics.median(caught_l)
    return [place for place, one in enumerate(caught_l) if abs(one - middle) > NOZZLE_OFF_SHARE * middle]
