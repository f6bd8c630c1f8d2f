"""A panel holds one unbroken run of hours, and nobody can write in it."""

from __future__ import annotations

import numpy as np
import pytest

from forecast.panel import Bytes, Floats, Hours, Panel, observed
from forecast.quantities import Flag, Origin

HOURS: Hours = np.datetime64("2031-07-01T00", "h") + np.arange(3)
SERIES = ("alder", "birch")


def _values() -> Floats:
    return np.array([[1.0, 2.0], [3.0, np.nan], [5.0, 6.0]])


def _panel() -> Panel:
    return observed(HOURS, SERIES, {"rain_mm": _values()})


def _marks(mark: int) -> Bytes:
    return np.full((3, 2), mark, np.uint8)


def test_what_is_unknown_is_flagged_missing_and_the_rest_not_yet_evaluated() -> None:
    panel = _panel()
    two, nine = Flag.NOT_EVALUATED, Flag.MISSING
    assert panel.flags["rain_mm"].tolist() == [[two, two], [two, nine], [two, two]]
    assert (panel.origin["rain_mm"] == Origin.OBSERVED).all()


def test_arrays_are_copies_and_read_only() -> None:
    given = _values()
    panel = observed(HOURS, SERIES, {"rain_mm": given})
    given[0, 0] = 99.0
    assert panel.values["rain_mm"][0, 0] == 1.0
    for array in (panel.hours, panel.values["rain_mm"], panel.flags["rain_mm"], panel.origin["rain_mm"]):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = array[1]


def test_a_quantity_cannot_be_put_in_from_outside() -> None:
    with pytest.raises(TypeError, match="item assignment"):
        _panel().values["rain_mm"] = _values()  # type: ignore[index]


@pytest.mark.parametrize(
    "hours",
    [HOURS[[0, 2, 1]], HOURS[[0, 1, 1]], HOURS[0] + np.array([0, 1, 3]), HOURS[:, None]],
    ids=["out of order", "twice", "a hole", "two axes"],
)
def test_broken_hours_are_refused(hours: Hours) -> None:
    with pytest.raises(ValueError, match="unbroken run"):
        observed(hours, SERIES, {"rain_mm": _values()})


def test_half_hours_are_refused_rather_than_cut() -> None:
    half_past: Hours = np.datetime64("2031-07-01T00:30", "m") + 60 * np.arange(3)
    one_late: Hours = np.datetime64("2031-07-01T00:00", "m") + np.array([0, 60, 150])
    for hours in (half_past, one_late):
        with pytest.raises(ValueError, match="unbroken run"):
            observed(hours, SERIES, {"rain_mm": _values()})


def test_stamps_in_finer_units_are_taken_where_they_are_whole_hours() -> None:
    panel = observed(HOURS.astype("datetime64[ns]"), SERIES, {"rain_mm": _values()})
    assert panel.hours.dtype == np.dtype("datetime64[h]")
    np.testing.assert_array_equal(panel.hours, HOURS)


def test_a_quantity_outside_the_vocabulary_is_refused_with_the_vocabulary() -> None:
    with pytest.raises(ValueError, match="'rain_in' is not in the vocabulary: air_temperature_c"):
        observed(HOURS, SERIES, {"rain_in": _values()})


@pytest.mark.parametrize("shape", [(3,), (2, 2), (3, 1), (3, 2, 1, 1)])
def test_a_wrong_shape_is_refused(shape: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="rain_mm: shape"):
        observed(HOURS, SERIES, {"rain_mm": np.zeros(shape)})


def test_flags_of_another_shape_or_quantity_are_refused() -> None:
    values = {"rain_mm": _values()}
    with pytest.raises(ValueError, match="rain_mm: shape"):
        Panel(HOURS, SERIES, values, {"rain_mm": _marks(1)[:2]}, {"rain_mm": _marks(0)})
    with pytest.raises(ValueError, match="same quantities"):
        Panel(HOURS, SERIES, values, {"pressure_hpa": _marks(1)}, {"rain_mm": _marks(0)})


def test_members_are_a_third_axis() -> None:
    members = np.stack([_values()] * 4, axis=2)
    assert observed(HOURS, SERIES, {"rain_mm": members}).values["rain_mm"].shape == (3, 2, 4)


def test_between_takes_both_ends() -> None:
    part = _panel().between(HOURS[1], HOURS[2])
    np.testing.assert_array_equal(part.hours, HOURS[1:])
    np.testing.assert_array_equal(part.values["rain_mm"], _values()[1:])
    assert part.flags["rain_mm"].shape == part.origin["rain_mm"].shape == (2, 2)


def test_adding_a_quantity_leaves_the_first_panel_as_it_was() -> None:
    panel = _panel()
    more = panel.with_quantity("pressure_hpa", _values() + 1000, _marks(Flag.GOOD), _marks(Origin.NEIGHBOUR))
    assert set(panel.values) == {"rain_mm"}
    assert set(more.values) == {"rain_mm", "pressure_hpa"}
    assert (more.origin["pressure_hpa"] == Origin.NEIGHBOUR).all()
    np.testing.assert_array_equal(more.values["rain_mm"], panel.values["rain_mm"])
