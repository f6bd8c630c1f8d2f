"""Forecasts in hourly columns with a units block: what is taken, and what is refused and where. All invented."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from source_replies import HOURS, as_bytes, cut_and_spliced, hour_columns, with_odd_places

from forecast.errors import DataError
from forecast.ingest.hour_columns import DEFAULT, MOST_DAYS, NAMES, UNITS, address, read
from forecast.ingest.imported import Grade, IssuedForecast, Provider
from forecast.ingest.spell import MOST_BYTES, MOST_HOURS
from forecast.quantities import QUANTITIES, unit_suffix
from forecast.units import IMPORT_UNITS

SOURCE = "https://example.org/v1/forecast"


def reply(columns: dict[str, Any] | None = None, units: dict[str, Any] | None = None, **top: Any) -> bytes:
    """The invented reply with some columns, units and outer keys changed."""
    changed = hour_columns(columns)
    changed["hourly_units"] |= units or {}
    return as_bytes(changed | top)


def taken(body: bytes) -> IssuedForecast:
    return read(body, source=SOURCE)


def refusal(body: bytes) -> DataError:
    with pytest.raises(DataError) as caught:
        taken(body)
    return caught.value


def places(body: bytes) -> list[str]:
    return [fault.column for fault in refusal(body).faults]


def one(column: str, values: list[Any], unit: str) -> IssuedForecast:
    return taken(reply({column: values}, {column: unit}))


# What is taken


@pytest.mark.parametrize(
    ("column", "unit", "given", "inside"),
    [
        ("temperature_2m", "°C", 21.5, 21.5),
        ("temperature_2m", "°F", 212, 100),  # Fahrenheit's boiling point; outside the bounds, so see below
        ("dew_point_2m", "°F", 50, 10),  # (50 − 32) ÷ 1.8
        ("relative_humidity_2m", "%", 97, 97),
        ("precipitation", "mm", 1.2, 1.2),
        ("precipitation", "inch", 0.5, 12.7),  # 0.5 × 25.4
        ("precipitation_probability", "%", 40, 0.4),
        ("wind_speed_10m", "km/h", 36, 10),  # 36 ÷ 3.6
        ("wind_speed_10m", "m/s", 3.5, 3.5),
        ("wind_speed_10m", "mp/h", 10, 4.4704),  # 10 × 0.44704
        ("wind_speed_10m", "kn", 36, 18.52),  # 36 × 1852 ÷ 3600
        ("wind_gusts_10m", "km/h", 72, 20),  # 72 ÷ 3.6
        ("cloud_cover", "%", 25, 0.25),
        ("shortwave_radiation", "W/m²", 640, 640),
        ("surface_pressure", "hPa", 987.6, 987.6),
    ],
)
def test_a_column_comes_in_under_its_house_name_in_the_unit_inside(
    column: str, unit: str, given: float, inside: float
) -> None:
    house = NAMES[column]
    if inside > QUANTITIES[house].most:
        assert places(reply({column: [given] * 4}, {column: unit})) == [f"hourly.{column}"]
    else:
        values = one(column, [given] * 4, unit).values[house]
        np.testing.assert_allclose(values, [inside] * 4, rtol=0, atol=1e-9)  # binary fractions


def test_every_name_is_a_quantity_and_every_quantity_has_a_unit_that_can_be_read() -> None:
    assert set(NAMES.values()) <= set(QUANTITIES)
    for house in NAMES.values():
        assert set(UNITS.values()) & set(IMPORT_UNITS[unit_suffix(house)]), house


def test_stamps_as_seconds_and_as_clock_times_say_the_same() -> None:
    first = int(datetime(2023, 7, 18, 11, tzinfo=UTC).timestamp())
    seconds = reply({"time": [first + 3600 * i for i in range(4)]}, {"time": "unixtime"})
    np.testing.assert_array_equal(taken(seconds).hours, HOURS)
    np.testing.assert_array_equal(taken(reply()).hours, HOURS)
    with_zone = reply({"time": [f"2023-07-18T{hour}:00Z" for hour in (11, 12, 13, 14)]})
    np.testing.assert_array_equal(taken(with_zone).hours, HOURS)


def test_null_is_unknown_and_steps_tell_so() -> None:
    found = one("precipitation", [0.5, None, 0, None], "mm")
    np.testing.assert_array_equal(found.values["rain_mm"], [0.5, np.nan, 0, np.nan])
    np.testing.assert_array_equal(found.step_hours["rain_mm"], [1, 0, 1, 0])


def test_a_column_of_nulls_is_unknown_whatever_its_unit() -> None:
    found = one("cloud_cover", [None] * 4, "undefined")
    assert np.isnan(found.values["cloud_cover_fraction"]).all()


def test_the_moment_of_issue_is_not_in_the_reply() -> None:
    found = taken(reply())
    assert found.issued_utc is None
    assert (found.provider, found.source) == (DEFAULT, SOURCE)


def test_the_parts_of_precipitation_are_not_added_to_it_and_do_not_stand_in_for_it() -> None:
    parts = {"rain": [0.3] * 4, "showers": [0.2] * 4, "snowfall": [0.1] * 4}
    whole = taken(reply({"precipitation": [0.5] * 4} | parts, {"precipitation": "mm"}))
    np.testing.assert_array_equal(whole.values["rain_mm"], [0.5] * 4)
    assert "rain_mm" not in taken(reply({"precipitation": None} | parts)).values
    assert any("rain, showers, snowfall" in notice.text for notice in whole.notices)


def test_wind_at_another_height_is_not_taken_and_named() -> None:
    found = taken(reply({"wind_speed_10m": None}))  # wind_speed_80m is there
    assert "wind_speed_10m_m_s" not in found.values
    assert [notice.text for notice in found.notices] == ["not read from the forecast: wind_speed_80m"]


def test_another_provider_may_stand_behind_it_but_none_that_observes() -> None:
    own = Provider("own", "an instance of our own", Grade.MODEL)
    assert read(reply(), source=SOURCE, provider=own).provider is own
    with pytest.raises(ValueError, match="a forecast is not"):
        read(reply(), source=SOURCE, provider=Provider("gauge", "a gauge", Grade.OBSERVED))


def test_a_slip_outside_the_bounds_is_left_out_with_a_notice_and_many_are_a_fault() -> None:
    # Bounds of temperature: −80 to 60 °C. One of 24 is 4.2 %, two are 8.3 %; above 5 % the unit is doubted.
    times = [f"2023-07-18T{hour:02d}:00" for hour in range(24)]
    day: dict[str, Any] = dict.fromkeys(("relative_humidity_2m", "precipitation", "wind_speed_10m", "wind_speed_80m"))
    day |= {"time": times, "temperature_2m": [999, *[20] * 23]}
    found = taken(reply(day, {"temperature_2m": "°C"}))
    np.testing.assert_array_equal(found.values["air_temperature_c"], [np.nan, *[20] * 23])
    assert [(notice.quantity, notice.grave) for notice in found.notices] == [("air_temperature_c", True)]
    day["temperature_2m"] = [999, 999, *[20] * 22]
    refused = refusal(reply(day, {"temperature_2m": "°C"}))
    assert "2 of 24 figures lie outside -80 to 60 °C: is the unit right?" in str(refused)


# What is refused, and where


@pytest.mark.parametrize("unit", ["K", "%", "", None, 3, ["°C"]])
def test_an_unknown_unit_is_refused_by_name(unit: object) -> None:
    refused = refusal(reply(units={"temperature_2m": unit}))
    assert [fault.column for fault in refused.faults] == ["hourly_units.temperature_2m"]
    assert "°C, °F are allowed" in str(refused)


@pytest.mark.parametrize("offset", [-14400, 3600, 1, None, "0", True, 0.5])
def test_a_zone_with_an_offset_is_refused_with_a_hint(offset: object) -> None:
    refused = refusal(reply(utc_offset_seconds=offset, timezone="America/New_York"))
    assert [fault.column for fault in refused.faults] == ["utc_offset_seconds"]
    assert "America/New_York" in str(refused)
    assert "timezone=UTC" in refused.hint


def test_a_zone_without_an_offset_is_utc_whatever_its_name() -> None:
    # The whole reply keeps to one offset (weather service's documentation, read second-hand), so 0 is UTC throughout.
    np.testing.assert_array_equal(taken(reply(timezone="Europe/London")).hours, HOURS)


def test_a_list_of_places_is_refused_in_words() -> None:
    assert "is a list of 2 places" in str(refusal(as_bytes([hour_columns(), hour_columns()])))


def test_the_services_own_refusal_is_passed_on() -> None:
    body = as_bytes({"error": True, "reason": "Latitude must be in range of -90 to 90°"})
    assert "is a refusal: Latitude must be in range" in str(refusal(body))


@pytest.mark.parametrize(
    ("times", "place"),
    [
        (["T11:00", "T12:00", "T14:00", "T15:00"], "hourly.time[2]"),  # an hour is missing
        (["T11:00", "T12:00", "T12:00", "T13:00"], "hourly.time[2]"),  # an hour twice
        (["T14:00", "T13:00", "T12:00", "T11:00"], "hourly.time[1]"),  # backwards
        (["T11:00", "T12:00", "T13:00", "T14:30"], "hourly.time[3]"),  # off the hour
        (["T11:00", "T12:00", "T13:00", ""], "hourly.time[3]"),
        (["T11:00", "T12:00", "T24:00", "T14:00"], "hourly.time[2]"),
    ],
)
def test_stamps_that_are_no_unbroken_hours_are_named(times: list[str], place: str) -> None:
    assert places(reply({"time": [f"2023-07-18{time}" for time in times]}))[0] == place


@pytest.mark.parametrize("stamp", [10**30, 1689678001, -(10**12), 1.5, True, None, "1689678000"])
def test_seconds_that_are_no_full_hour_are_named(stamp: object) -> None:
    good = 1689678000  # 2023-07-18 11:00 UTC: 19,556 days × 86,400 s + 11 × 3600 s
    body = reply({"time": [good, good + 3600, good + 7200, stamp]}, {"time": "unixtime"})
    assert places(body) == ["hourly.time[3]"]


def test_a_column_of_another_length_is_named() -> None:
    assert places(reply({"precipitation": [0, 0, 0]})) == ["hourly.precipitation"]
    assert places(reply({"precipitation": [0, 0, 0, 0, 0]})) == ["hourly.precipitation"]


@pytest.mark.parametrize("cell", ["0.2", True, [], {}, 10**400])
def test_a_cell_that_is_no_figure_is_named_with_its_place(cell: object) -> None:
    refused = refusal(reply({"precipitation": [0, 0, cell, 0]}))
    assert [fault.column for fault in refused.faults] == ["hourly.precipitation[2]"]
    assert "a finite number or null is allowed" in str(refused)


def test_all_mistakes_are_listed_together() -> None:
    body = reply({"precipitation": [0, "a", 0, 0], "time": ["x", *["2023-07-18T12:00"] * 3]}, {"wind_speed_10m": "Bft"})
    assert {"hourly.precipitation[1]", "hourly.time[0]", "hourly_units.wind_speed_10m"} <= set(places(body))


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "is not JSON"),
        (b"\xff\xfe", "is not JSON"),
        (b"<html>busy</html>", "is not JSON"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"a": 1, "a": 2}', "'a' stands twice"),
        (b'{"a": NaN}', "NaN stands where a figure should"),
        (b'{"a": ' + b"9" * 5000 + b"}", "is not JSON"),
        (b" " * (MOST_BYTES + 1), "larger than 10,000,000 bytes"),
        (b"3", "is no hourly forecast"),
        (b"{}", "is not in UTC"),
        (b'{"utc_offset_seconds": 0}', "is no hourly forecast"),
    ],
)
def test_what_is_no_reply_is_refused_in_words(body: bytes, words: str) -> None:
    assert words in str(refusal(body))


def test_a_figure_too_large_for_a_number_is_named() -> None:
    body = reply().replace(b"92", b"1e999")
    assert places(body) == ["hourly.relative_humidity_2m[0]"]


def of_hours(count: int) -> bytes:
    every = np.datetime64("2023-07-01T00", "m") + np.arange(count) * np.timedelta64(1, "h")
    return as_bytes(
        {
            "utc_offset_seconds": 0,
            "hourly_units": {"time": "iso8601", "temperature_2m": "°C"},
            "hourly": {"time": [str(stamp) for stamp in every], "temperature_2m": [20] * count},
        }
    )


def test_forty_days_are_taken_and_an_hour_more_or_none_are_not() -> None:
    assert len(taken(of_hours(MOST_HOURS)).hours) == 960  # 40 × 24
    assert "961 stamps; 1 to 960 are allowed" in str(refusal(of_hours(961)))
    assert "0 stamps" in str(refusal(of_hours(0)))


def test_a_reply_without_any_figure_is_refused() -> None:
    empty = {name: [None] * 4 for name in ("temperature_2m", "relative_humidity_2m", "precipitation", "wind_speed_10m")}
    assert "holds no figure" in str(refusal(reply(empty)))
    none = dict.fromkeys(empty)
    assert places(reply(none)) == ["hourly"]


# The address


def test_the_address_asks_for_utc_and_rounds_the_place() -> None:
    found = address("https://example.org/v1/forecast", 40.123456, -80.5, 16)
    base, _, query = found.partition("?")
    asked = dict(part.split("=") for part in query.split("&"))
    assert base == "https://example.org/v1/forecast"
    assert asked.pop("hourly").split(",") == list(NAMES)
    assert asked == {"latitude": "40.1235", "longitude": "-80.5", "forecast_days": "16", "timezone": "UTC"}


def test_a_key_goes_into_the_address_and_into_nothing_else() -> None:
    found = address("https://example.org/v1/forecast", -0.00001, 0, 1, key="s3cret")
    assert found.endswith("&apikey=s3cret")
    assert "latitude=0&longitude=0&" in found
    assert read(reply(), source=found).source == "https://example.org/v1/forecast"
    with pytest.raises(DataError) as caught:
        read(b"", source=found)
    assert "s3cret" not in str(caught.value)


@pytest.mark.parametrize(
    ("base", "latitude_deg", "longitude_deg", "days", "key"),
    [
        ("ftp://example.org", 40, -80, 7, None),
        ("https://example.org?x=1", 40, -80, 7, None),
        ("https://user@example.org", 40, -80, 7, None),
        ("https://example.org", 90.1, -80, 7, None),
        ("https://example.org", 40, -180.1, 7, None),
        ("https://example.org", float("nan"), -80, 7, None),
        ("https://example.org", 40, -80, 0, None),
        ("https://example.org", 40, -80, MOST_DAYS + 1, None),
        ("https://example.org", 40, -80, 7, "a&b"),
        ("https://example.org", 40, -80, 7, ""),
    ],
)
def test_an_address_that_cannot_be_right_is_refused(
    base: str, latitude_deg: float, longitude_deg: float, days: int, key: str | None
) -> None:
    with pytest.raises(DataError):
        address(base, latitude_deg, longitude_deg, days, key)


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
        assert values.shape == found.hours.shape
        assert ((known >= QUANTITIES[name].least) & (known <= QUANTITIES[name].most)).all()


ANY_BODY = st.one_of(
    st.binary(max_size=200),
    cut_and_spliced(as_bytes(hour_columns())),
    with_odd_places(hour_columns()),
    st.lists(st.none() | st.floats(0, 120) | st.integers(0, 100), min_size=4, max_size=4).map(
        lambda figures: as_bytes(hour_columns({"relative_humidity_2m": figures, "precipitation": figures}))
    ),
    st.recursive(st.none() | st.floats() | st.text(), lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner))
    .map(json.dumps)
    .map(str.encode),
)


@given(body=ANY_BODY)
@settings(max_examples=150)
def test_any_body_is_taken_whole_or_refused_in_words(body: bytes) -> None:
    holds(body)


@pytest.mark.long
@given(body=ANY_BODY)
@settings(max_examples=5000)
def test_many_bodies_are_taken_whole_or_refused_in_words(body: bytes) -> None:
    holds(body)
