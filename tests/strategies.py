"""Plausible weather for property tests, drawn from the vocabulary's own bounds."""

from __future__ import annotations

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from forecast.panel import Floats
from forecast.quantities import QUANTITIES

# A busy machine must not fail a property, so no example is timed.
unhurried = settings(deadline=None, max_examples=60)

WETNESS_INPUTS = ("air_temperature_c", "dew_point_c", "relative_humidity_pct", "rain_mm")


def readings(name: str, shape: tuple[int, ...], *, holes: bool = True) -> st.SearchStrategy[Floats]:
    """Checked readings of one quantity, in tenths as stations print them, with or without holes."""
    quantity = QUANTITIES[name]
    most = quantity.most if quantity.clip_to is None else quantity.clip_to
    tenths = st.integers(round(quantity.least * 10), round(most * 10)).map(lambda n: n / 10)
    return arrays(np.float64, shape, elements=tenths | st.just(float("nan")) if holes else tenths)


@st.composite
def humid_air(draw: st.DrawFn, *, holes: bool = True) -> tuple[Floats, Floats, Floats, Floats]:
    """What a wetness method reads, several series over some hours, most of it close to the dew point."""
    shape = (draw(st.integers(1, 30)), draw(st.integers(1, 3)))
    temperature = draw(readings("air_temperature_c", shape, holes=holes))
    tenths_apart = draw(arrays(np.int64, shape, elements=st.integers(0, 60)))
    humidity = draw(readings("relative_humidity_pct", shape, holes=holes))
    rain = draw(readings("rain_mm", shape, holes=holes))
    return temperature, np.round(temperature - tenths_apart / 10, 1), humidity, rain
