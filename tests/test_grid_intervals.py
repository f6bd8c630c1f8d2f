"""Forecasts in layers of intervals: which stamps an interval means, and what is refused and where. All invented."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from source_replies import DAY, as_bytes, cut_and_spliced, grid_intervals, interval, layer, with_odd_places

from forecast.errors import DataError
from forecast.ingest.grid_intervals import (
    DEFAULT,
    LAYERS,
    MOST_INTERVALS,
    UNITS,
    grid_address,
    points_address,
    read,
)
from forecast.ingest.imported import Grade, IssuedForecast, Provider
from forecast.ingest.spell import MOST_BYTES, MOST_HOURS
from forecast.quantities import QUANTITIES, unit_suffix
from forecast.units import IMPORT_UNITS

SOURCE = "https://example.org/gridpoints/ZZZ/1,2"
ONLY = dict.fromkeys(("temperature", "relativeHumidity", "quantitativePrecipitation", "windSpeed"))


def reply(changes: dict[str, Any] | None = None) -> bytes:
    return as_bytes(grid_intervals(changes))


def alone(name: str, unit: str, *entries: dict[str, Any]) -> bytes:
    """A reply with one layer."""
    return reply(ONLY | {name: layer(unit, *entries)})


def spell(valid_time: str, value: float | None) -> dict[str, Any]:
    return {"validTime": valid_time, "value": value}


def taken(body: bytes) -> IssuedForecast:
    return read(body, source=SOURCE)


def refusal(body: bytes) -> DataError:
    with pytest.raises(DataError) as caught:
        taken(body)
    return caught.value


def places(body: bytes) -> list[str]:
    return [fault.column for fault in refusal(body).faults]


def told(found: IssuedForecast, name: str) -> dict[str, float]:
    """The known figures of a quantity by day and hour."""
    known = np.flatnonzero(~np.isnan(found.values[name]))
    return {str(found.hours[i])[8:]: float(found.values[name][i]) for i in known}


# Which stamps an interval means


def test_a_state_of_one_hour_is_the_state_at_its_beginning() -> None:
    assert told(taken(alone("temperature", "degC", interval(12, 1, 21.1))), "air_temperature_c") == {"18T12": 21.1}


def test_a_longer_state_holds_at_the_beginning_of_each_of_its_hours() -> None:
    # Issue 21 of weather-gov/api: three hours of 70 in a row are sent once, as 70 for PT3H.
    found = taken(alone("dewpoint", "degC", interval(12, 3, 18)))
    assert told(found, "dew_point_c") == {"18T12": 18, "18T13": 18, "18T14": 18}
    np.testing.assert_array_equal(found.step_hours["dew_point_c"], [3, 3, 3])


def test_an_amount_of_one_hour_belongs_to_the_stamp_at_its_end() -> None:
    assert told(taken(alone("quantitativePrecipitation", "mm", interval(12, 1, 1.5))), "rain_mm") == {"18T13": 1.5}


def test_a_longer_amount_is_shared_out_over_the_hours_it_fell_in() -> None:
    # 6 mm from 12:00 to 18:00: 1 mm in each of the hours that end at 13:00 … 18:00.
    found = taken(alone("quantitativePrecipitation", "mm", interval(12, 6, 6)))
    assert told(found, "rain_mm") == {f"18T{hour}": 1 for hour in range(13, 19)}
    np.testing.assert_array_equal(found.step_hours["rain_mm"], [6] * 6)


@pytest.mark.parametrize(
    ("name", "unit", "given", "house", "inside"),
    [
        ("probabilityOfPrecipitation", "percent", 40, "rain_chance_fraction", 0.4),
        ("windGust", "km_h-1", 54, "wind_gust_10m_m_s", 15),  # 54 ÷ 3.6
    ],
)
def test_chances_and_gusts_belong_to_the_hours_that_end_within(
    name: str, unit: str, given: float, house: str, inside: float
) -> None:
    found = told(taken(alone(name, unit, interval(12, 2, given))), house)
    assert found == pytest.approx({"18T13": inside, "18T14": inside}, abs=1e-12)


def test_layers_that_are_not_aligned_share_one_run_of_stamps_with_holes() -> None:
    found = taken(
        reply(
            ONLY
            | {
                "temperature": layer("degC", interval(6, 2, 15), interval(10, 1, 19)),  # begins in the past, has a hole
                "quantitativePrecipitation": layer("mm", interval(12, 1, 2)),
            }
        )
    )
    assert [str(hour)[11:] for hour in found.hours] == ["06", "07", "08", "09", "10", "11", "12", "13"]
    assert told(found, "air_temperature_c") == {"18T06": 15, "18T07": 15, "18T10": 19}
    assert told(found, "rain_mm") == {"18T13": 2}
    np.testing.assert_array_equal(found.step_hours["air_temperature_c"], [2, 2, 0, 0, 1, 0, 0, 0])


def test_of_overlapping_intervals_the_later_entry_holds_with_a_notice() -> None:
    found = taken(alone("temperature", "degC", interval(12, 3, 20), interval(13, 2, 25)))
    assert told(found, "air_temperature_c") == {"18T12": 20, "18T13": 25, "18T14": 25}
    assert any("temperature: 2 hours are told twice, differently" in notice.text for notice in found.notices)
    same = taken(alone("temperature", "degC", interval(12, 3, 20), interval(13, 2, 20)))
    assert not any("twice" in notice.text for notice in same.notices)


def test_a_null_says_nothing_and_takes_nothing_away() -> None:
    found = taken(alone("temperature", "degC", interval(12, 2, 20), interval(13, 1, None), interval(15, 1, None)))
    assert told(found, "air_temperature_c") == {"18T12": 20, "18T13": 20}


@pytest.mark.parametrize(
    ("length", "hours"), [("PT1H", 1), ("PT6H", 6), ("P1D", 24), ("P1DT2H", 26), ("P7DT6H", 174), ("PT400H", 400)]
)
def test_lengths_are_read_in_days_and_hours(length: str, hours: int) -> None:
    found = taken(alone("quantitativePrecipitation", "mm", spell(f"{DAY}T00:00:00+00:00/{length}", 10 * hours)))
    assert len(found.hours) == hours
    np.testing.assert_array_equal(found.values["rain_mm"], [10] * hours)
    np.testing.assert_array_equal(found.step_hours["rain_mm"], [min(hours, 255)] * hours)  # one byte


@pytest.mark.parametrize("start", [f"{DAY}T07:00:00-05:00", f"{DAY}T12:00:00Z", f"{DAY}T17:30:00+05:30"])
def test_a_beginning_with_an_offset_is_brought_to_utc(start: str) -> None:
    assert told(taken(alone("temperature", "degC", spell(f"{start}/PT1H", 20))), "air_temperature_c") == {"18T12": 20}


# Units, issue, provider


@pytest.mark.parametrize(
    ("name", "unit", "given", "inside"),
    [
        ("temperature", "degC", 21.5, 21.5),
        ("temperature", "degF", 50, 10),  # (50 − 32) ÷ 1.8
        ("dewpoint", "K", 283.15, 10),  # 283.15 − 273.15
        ("relativeHumidity", "percent", 88, 88),
        ("skyCover", "percent", 75, 0.75),
        ("windSpeed", "km_h-1", 18, 5),  # 18 ÷ 3.6
        ("windSpeed", "m_s-1", 5, 5),
        ("windGust", "kt", 36, 18.52),  # 36 × 1852 ÷ 3600
        ("quantitativePrecipitation", "mm", 2.5, 2.5),
    ],
)
@pytest.mark.parametrize("prefix", ["wmoUnit:", "unit:"])
def test_units_are_read_from_the_layer(name: str, unit: str, given: float, inside: float, prefix: str) -> None:
    body = reply(ONLY | {name: {"uom": prefix + unit, "values": [interval(12, 1, given)]}})
    assert list(told(taken(body), LAYERS[name]).values()) == [pytest.approx(inside, abs=1e-9)]


def test_every_layer_is_a_quantity_with_a_unit_that_can_be_read() -> None:
    for house in LAYERS.values():
        assert set(UNITS.values()) & set(IMPORT_UNITS[unit_suffix(QUANTITIES[house].name)])


@pytest.mark.parametrize("unit", ["wmoUnit:percent", "wmoUnit:furlong", "degrees", None, 7])
def test_an_unknown_unit_is_refused_by_name(unit: object) -> None:
    refused = refusal(reply(ONLY | {"temperature": {"uom": unit, "values": [interval(12, 1, 20)]}}))
    assert [fault.column for fault in refused.faults] == ["properties.temperature.uom"]
    assert "wmoUnit:degC, wmoUnit:degF, wmoUnit:K are allowed" in str(refused)


def test_the_moment_of_issue_is_the_update_time_in_utc() -> None:
    assert taken(reply()).issued_utc == np.datetime64(f"{DAY}T09:41", "m")
    assert taken(reply({"updateTime": f"{DAY}T05:41:07-04:00"})).issued_utc == np.datetime64(f"{DAY}T09:41", "m")
    assert taken(reply({"updateTime": None})).issued_utc is None
    assert places(reply({"updateTime": "yesterday"})) == ["properties.updateTime"]
    assert places(reply({"updateTime": f"{DAY}T09:41:07"})) == ["properties.updateTime"]  # no zone


def test_the_provider_is_a_model_and_may_be_another_but_none_that_observes() -> None:
    assert taken(reply()).provider is DEFAULT
    with pytest.raises(ValueError, match="a forecast is not"):
        read(reply(), source=SOURCE, provider=Provider("gauge", "a gauge", Grade.OBSERVED))


def test_absent_layers_are_named_and_snowfall_is_not_read() -> None:
    found = taken(alone("temperature", "degC", interval(12, 1, 20)))
    assert set(found.values) == {"air_temperature_c"}
    assert "dewpoint, relativeHumidity, quantitativePrecipitation" in found.notices[0].text
    snow = taken(
        reply(
            ONLY
            | {"snowfallAmount": layer("mm", interval(12, 1, 30)), "temperature": layer("degC", interval(12, 1, 0))}
        )
    )
    assert set(snow.values) == {"air_temperature_c"}


# What is refused, and where


@pytest.mark.parametrize(
    "valid_time",
    [
        f"{DAY}T12:00:00+00:00",
        f"{DAY}T12:00:00+00:00/",
        f"{DAY}T12:00:00+00:00/P",
        f"{DAY}T12:00:00+00:00/PT0H",
        f"{DAY}T12:00:00+00:00/PT401H",
        f"{DAY}T12:00:00+00:00/P17D",  # 408 h
        f"{DAY}T12:00:00+00:00/PT30M",
        f"{DAY}T12:00:00+00:00/P1W",
        f"{DAY}T12:00:00+00:00/PT-3H",
        f"{DAY}T12:00:00/PT1H",  # no zone
        f"{DAY}T12:30:00+00:00/PT1H",
        f"{DAY}T12:00:01+00:00/PT1H",
        "0001-01-01T00:00:00+14:00/PT1H",
        "2023-02-30T12:00:00+00:00/PT1H",
        "",
        None,
        12,
    ],
)
def test_an_interval_that_cannot_be_read_is_named_with_its_place(valid_time: str) -> None:
    refused = refusal(alone("temperature", "degC", interval(11, 1, 20), spell(valid_time, 20)))
    assert [fault.column for fault in refused.faults] == ["properties.temperature.values[1].validTime"]
    assert "of 1 to 400 hours" in str(refused)


@pytest.mark.parametrize("value", ["20", True, [], {}, 10**400])
def test_a_value_that_is_no_figure_is_named_with_its_place(value: Any) -> None:
    assert places(alone("temperature", "degC", spell(f"{DAY}T12:00:00Z/PT1H", value))) == [
        "properties.temperature.values[0].value"
    ]


def test_layers_may_reach_over_forty_days_and_no_further() -> None:
    def two(first: str, last: str) -> bytes:
        return alone("temperature", "degC", spell(f"{first}:00:00Z/PT1H", 20), spell(f"{last}:00:00Z/PT1H", 20))

    assert len(taken(two("2023-07-01T00", "2023-08-09T23")).hours) == MOST_HOURS  # 1 July to 9 August: 40 days
    assert "reach over 961 hours; at most 960" in str(refusal(two("2023-07-01T00", "2023-08-10T00")))


def test_a_layer_of_too_many_intervals_is_refused() -> None:
    many = [interval(12, 1, 20)] * (MOST_INTERVALS + 1)
    assert places(alone("temperature", "degC", *many)) == ["properties.temperature.values"]


@pytest.mark.parametrize(
    ("changes", "place"),
    [
        ({"temperature": 3}, "properties.temperature"),
        ({"temperature": {"uom": "wmoUnit:degC", "values": {}}}, "properties.temperature.values"),
        ({"temperature": {"uom": "wmoUnit:degC"}}, "properties.temperature.values"),
        ({"temperature": {"uom": "wmoUnit:degC", "values": [3]}}, "properties.temperature.values[0]"),
        ({}, "properties"),
        ({"temperature": {"uom": "wmoUnit:degC", "values": []}}, "properties"),
        ({"temperature": {"uom": "wmoUnit:degC", "values": [interval(12, 1, 200)]}}, "properties.temperature"),
    ],
)
def test_a_layer_of_another_form_is_named(changes: dict[str, Any], place: str) -> None:
    assert places(reply(ONLY | changes)) == [place]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "is not JSON"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"properties": {}, "properties": {}}', "stands twice"),
        (b" " * (MOST_BYTES + 1), "larger than 10,000,000 bytes"),
        (b"[]", "is not of the expected form"),
        (b'{"title": "Data Unavailable For Requested Point", "status": 404}', "is a refusal: Data Unavailable"),
    ],
)
def test_what_is_no_reply_is_refused_in_words(body: bytes, words: str) -> None:
    assert words in str(refusal(body))


# Addresses


def test_a_place_is_asked_for_with_four_decimals_and_no_trailing_zeros() -> None:
    assert points_address("https://example.org/", 40.123456, -80.5) == "https://example.org/points/40.1235,-80.5"
    assert points_address("https://example.org", 40, -100) == "https://example.org/points/40,-100"
    for base, latitude_deg, longitude_deg in (
        ("example.org", 40, -80),
        ("https://e.org", 91, 0),
        ("https://e.org", 0, 181),
    ):
        with pytest.raises(DataError):
            points_address(base, latitude_deg, longitude_deg)


def test_the_address_of_the_forecast_is_taken_from_the_reply_on_the_place() -> None:
    body = as_bytes({"properties": {"forecastGridData": "https://example.org/gridpoints/ZZZ/1,2"}})
    assert grid_address(body) == "https://example.org/gridpoints/ZZZ/1,2"


@pytest.mark.parametrize(
    "found", [None, 3, "", "/gridpoints/ZZZ/1,2", "file:///etc/hosts", "https://a b", "https://me@h/"]
)
def test_what_is_no_address_is_refused(found: object) -> None:
    with pytest.raises(DataError, match="names no forecast"):
        grid_address(as_bytes({"properties": {"forecastGridData": found}}))


# Whatever comes


def holds(body: bytes) -> None:
    """A reply is refused in words or taken whole, never anything between."""
    try:
        found = taken(body)
    except DataError:
        return
    assert (np.diff(found.hours) == np.timedelta64(1, "h")).all()
    assert 1 <= len(found.hours) <= MOST_HOURS
    for name, values in found.values.items():
        known = values[~np.isnan(values)]
        assert values.shape == found.hours.shape == found.step_hours[name].shape
        assert ((known >= QUANTITIES[name].least) & (known <= QUANTITIES[name].most)).all()


def points_hold(body: bytes) -> None:
    try:
        found = grid_address(body)
    except DataError:
        return
    assert found.startswith("http")


ANY_BODY = st.one_of(
    st.binary(max_size=200),
    cut_and_spliced(as_bytes(grid_intervals())),
    with_odd_places(grid_intervals()),
    st.lists(
        st.builds(interval, st.integers(0, 23), st.integers(1, 400), st.none() | st.floats(0, 120)), max_size=6
    ).map(
        lambda entries: reply({"relativeHumidity": layer("percent", *entries), "skyCover": layer("percent", *entries)})
    ),
    with_odd_places({"properties": {"forecastGridData": "https://example.org/g"}}),
)


@given(body=ANY_BODY)
@settings(max_examples=150)
def test_any_body_is_taken_whole_or_refused_in_words(body: bytes) -> None:
    holds(body)
    points_hold(body)


@pytest.mark.long
@given(body=ANY_BODY)
@settings(max_examples=5000)
def test_many_bodies_are_taken_whole_or_refused_in_words(body: bytes) -> None:
    holds(body)
    points_hold(body)


@given(
    lengths=st.lists(st.integers(1, 12), min_size=1, max_size=12),
    amounts=st.lists(st.floats(0, 25, allow_nan=False), min_size=12, max_size=12),
)
@settings(max_examples=50)
def test_the_whole_of_the_rain_comes_in_however_it_is_cut(lengths: list[int], amounts: list[float]) -> None:
    starts = np.datetime64(f"{DAY}T00", "s") + np.cumsum([0, *lengths[:-1]]) * np.timedelta64(1, "h")
    entries = [spell(f"{at}Z/PT{n}H", mm) for at, n, mm in zip(starts, lengths, amounts, strict=False)]
    rain = taken(alone("quantitativePrecipitation", "mm", *entries)).values["rain_mm"]
    assert len(rain) == sum(lengths)
    assert rain.sum() == pytest.approx(sum(amounts[: len(lengths)]), abs=1e-9)
