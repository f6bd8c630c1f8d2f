"""GHCNh files: reports collapsed to hours, rain that is not doubled, codes that are heeded. All invented."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from source_replies import DAY, cut_and_spliced, ghcnh, ghcnh_file
from source_replies import ghcnh_report as report

from forecast.errors import DataError
from forecast.ingest import ghcnh as module
from forecast.ingest.ghcnh import NAMES, NETWORK, read
from forecast.ingest.imported import Grade, ImportedHours
from forecast.quantities import QUANTITIES

SOURCE = "GHCNh_USW00099999_2023.psv"


def taken(*reports: str) -> ImportedHours:
    return read(ghcnh_file(reports), source=SOURCE)


def refusal(body: bytes, station: str | None = None) -> DataError:
    with pytest.raises(DataError) as caught:
        read(body, source=SOURCE, station=station)
    return caught.value


def told(found: ImportedHours, name: str) -> dict[str, float]:
    """The known figures of a quantity by day and hour."""
    known = np.flatnonzero(~np.isnan(found.values[name]))
    return {str(found.hours[i])[8:]: float(found.values[name][i]) for i in known}


def at(time: str, **cells: str) -> str:
    return report(f"{DAY}T{time}", **cells)


def rain(*reports: str) -> dict[str, float]:
    return told(taken(*reports), "rain_mm")


# States


def test_a_state_is_the_report_nearest_the_hour() -> None:
    found = taken(
        at("11:35:00", temperature="19.0"),
        at("11:51:00", temperature="20.0"),
        at("12:15:00", temperature="25.0"),
        at("12:51:00", temperature="21.0"),
    )
    assert told(found, "air_temperature_c") == {"18T12": 20, "18T13": 21}


def test_half_past_belongs_to_the_hour_to_come_and_a_tie_goes_to_the_earlier_report() -> None:
    assert told(taken(at("11:30:00", temperature="19.0")), "air_temperature_c") == {"18T12": 19}
    assert told(taken(at("11:29:00", temperature="19.0")), "air_temperature_c") == {"18T11": 19}
    both = taken(at("12:10:00", temperature="22.0"), at("11:50:00", temperature="20.0"))
    assert told(both, "air_temperature_c") == {"18T12": 20}


def test_each_quantity_takes_the_nearest_report_that_has_it() -> None:
    found = taken(at("11:51:00", temperature="20.0", wind_speed="3.0"), at("11:58:00", wind_speed="4.0"))
    assert told(found, "air_temperature_c") == {"18T12": 20}
    assert told(found, "wind_speed_10m_m_s") == {"18T12": 4}


def test_figures_from_far_off_the_hour_are_counted_in_a_notice() -> None:
    found = taken(
        at("11:40:00", temperature="19.0"), at("12:51:00", temperature="20.0"), at("14:12:00", temperature="21")
    )
    # 11:40 is 20 minutes off, 12:51 nine, 14:12 twelve: two of three beyond ten minutes.
    assert [notice.text for notice in found.notices] == [
        "2 of 3 hours were taken from a report more than 10 minutes off the hour"
    ]


def test_hours_with_nothing_reported_are_left_out_and_reports_may_stand_in_any_order() -> None:
    found = taken(at("18:51:00", temperature="22.0"), at("10:51:00", temperature="19.0"))
    assert [str(hour) for hour in found.hours] == [f"{DAY}T11", f"{DAY}T19"]


def test_reports_before_1970_are_read() -> None:
    found = taken(report("1965-07-18T11:51:00", temperature="20.0", precipitation="1.0"))
    assert [str(hour) for hour in found.hours] == ["1965-07-18T12"]
    assert found.values["rain_mm"].tolist() == [1]


def test_all_quantities_come_in_under_their_house_names() -> None:
    cells = {"temperature": "20.1", "dew_point_temperature": "18.2", "relative_humidity": "89", "precipitation": "1.3"}
    cells |= {"wind_speed": "3.1", "wind_gust": "7.2", "station_level_pressure": "987.6"}
    found = taken(at("11:51:00", **cells))
    inside = {name: values.tolist() for name, values in found.values.items()}
    assert inside == {NAMES[theirs]: [float(cell)] for theirs, cell in cells.items()}
    assert set(inside) <= set(QUANTITIES)


# Rain


def test_rain_is_the_routine_report_that_closes_the_hour_and_specials_add_nothing() -> None:
    # A running sum since 11:51: 2.0 mm at 12:09, 5.0 at 12:28, 7.0 at 12:51; the special after it begins a new one.
    found = rain(
        at("11:51:00", precipitation="0.0"),
        at("12:09:00", precipitation="2.0", report="FM16"),
        at("12:28:00", precipitation="5.0", report="FM16"),
        at("12:51:00", precipitation="7.0"),
        at("12:58:00", precipitation="0.4", report="FM16"),
        at("13:51:00", precipitation="1.0"),
    )
    assert found == {"18T12": 0, "18T13": 7, "18T14": 1}


@pytest.mark.parametrize("kind", ["FM16", "FM-16", "fm16_4-USA", "SPECI", "SP", "SAOSP", "SP_7"])
def test_special_reports_are_known_by_their_kind(kind: str) -> None:
    assert rain(at("12:51:00", precipitation="2.0", report=kind), at("10:51:00", precipitation="0.0")) == {"18T11": 0}


@pytest.mark.parametrize("kind", ["FM15", "FM12", "AUTO", "AUTO_4-USA", "SAO", "CRN05", ""])
def test_routine_reports_are_known_by_their_kind(kind: str) -> None:
    assert rain(at("12:51:00", precipitation="2.0", report=kind)) == {"18T13": 2}


def test_of_reports_every_twenty_minutes_the_last_before_the_hour_closes_it() -> None:
    found = rain(
        at("12:15:00", precipitation="0.5"), at("12:35:00", precipitation="1.5"), at("12:55:00", precipitation="2.0")
    )
    assert found == {"18T13": 2}


def test_a_report_on_the_hour_closes_it_and_one_a_little_late_does_where_no_other_is() -> None:
    assert rain(at("12:51:00", precipitation="2.0"), at("13:00:00", precipitation="2.2")) == {"18T13": 2.2}
    assert rain(at("12:51:00", precipitation="2.0"), at("13:05:00", precipitation="0.1")) == {"18T13": 2}
    assert rain(at("13:05:00", precipitation="2.0")) == {"18T13": 2}
    assert rain(at("13:10:00", precipitation="2.0"), at("15:00:00", precipitation="0.0")) == {"18T13": 2, "18T15": 0}


def test_rain_reported_in_the_middle_of_an_hour_is_no_hours_rain() -> None:
    assert rain(
        at("12:11:00", precipitation="2.0"), at("12:30:00", precipitation="3.0"), at("15:00:00", precipitation="0")
    ) == {"18T15": 0}


def test_an_empty_routine_report_on_the_hour_does_not_hide_the_sum_before_it() -> None:
    # A synoptic report at 18:00 without an hour's sum stands beside the airport report of 17:51.
    found = taken(at("17:51:00", precipitation="2.0"), at("18:00:00", temperature="20.0", report="FM12"))
    assert told(found, "rain_mm") == {"18T18": 2}


def test_sums_over_several_hours_are_never_read() -> None:
    found = taken(at("11:51:00", temperature="20.0", precipitation_3_hour="9.0"))
    assert not told(found, "rain_mm")


@pytest.mark.parametrize("code", ["T", "2", "2-Trace", "Trace"])
def test_a_trace_is_nothing_measured_and_is_counted_in_a_notice(code: str) -> None:
    cells = {"precipitation": "0.1", "precipitation_Measurement_Code": code}
    found = taken(at("12:51:00", **cells), at("13:51:00", precipitation_Measurement_Code=code))
    assert told(found, "rain_mm") == {"18T13": 0, "18T14": 0}
    assert "2 reports of a trace" in found.notices[0].text


def test_what_is_not_reported_is_unknown_and_not_dry() -> None:
    found = taken(at("11:51:00", temperature="20.0"), at("12:51:00", temperature="21.0", precipitation="0.5"))
    np.testing.assert_array_equal(found.values["rain_mm"], [np.nan, 0.5])


# Codes


@pytest.mark.parametrize(
    ("source", "quality", "is_kept"),
    # GHCNh documentation 1.1.0, table 3, read second-hand: 3 and 7 are erroneous in the sources that came from ISD,
    # 3 erroneous and 5 removed in the others, and a small letter is a failed check of the network.
    [
        *(("343", code, True) for code in ("", "0", "1", "2", "4", "5", "6", "9", "A", "U", "P", "I", "M", "C", "R")),
        *(("343", code, False) for code in ("3", "7", "s", "o", "d")),
        *(("223", code, True) for code in ("", "0", "1", "2", "4", "7")),
        *(("223", code, False) for code in ("3", "5", "w")),
        *(("345", code, True) for code in ("", "0", "3", "5", "7")),  # a source whose codes are not known here
        ("345", "k", False),
    ],
)
def test_only_what_is_surely_wrong_is_dropped(source: str, quality: str, is_kept: bool) -> None:
    found = taken(
        at(
            "11:51:00",
            temperature="35.0",
            wind_speed="3.0",
            source=source,
            temperature_Quality_Code=quality,
            quality="1",
        )
    )
    assert told(found, "air_temperature_c") == ({"18T12": 35} if is_kept else {})
    assert told(found, "wind_speed_10m_m_s") == {"18T12": 3}
    dropped = [notice.text for notice in found.notices]
    assert dropped == (
        []
        if is_kept
        else ["temperature: 1 figures that the network itself marks as wrong or as no hour's sum were left out"]
    )


def test_a_wrong_figure_gives_way_to_the_next_report() -> None:
    found = taken(at("11:51:00", temperature="20.0"), at("11:58:00", temperature="99.0", temperature_Quality_Code="7"))
    assert told(found, "air_temperature_c") == {"18T12": 20}


def test_a_sum_of_the_rain_network_over_more_than_an_hour_is_dropped() -> None:
    long = {"precipitation": "48.0", "source": "382", "precipitation_Quality_Code": "A"}
    assert rain(at("12:00:00", **long), at("13:00:00", precipitation="1.0", source="382", quality="")) == {"18T13": 1}
    other = taken(at("12:00:00", precipitation="4.0", source="343", precipitation_Quality_Code="A"))
    assert told(other, "rain_mm") == {"18T12": 4}  # there "A" is accepted


@pytest.mark.parametrize("cell", ["-9999", "-999.9", "9999", "99999"])
def test_figures_that_stand_for_none_are_unknown(cell: str) -> None:
    found = taken(at("11:51:00", temperature=cell, wind_speed="3.0"))
    assert not told(found, "air_temperature_c")


def test_a_few_words_among_the_figures_are_left_out_and_many_are_refused() -> None:
    hours = [at(f"{hour:02d}:51:00", temperature="20.0") for hour in range(23)]
    found = taken(*hours, at("23:51:00", temperature="M"))  # 1 of 24: 4.2 %
    assert len(told(found, "air_temperature_c")) == 23
    assert [notice.text for notice in found.notices] == ["temperature: 1 cells that hold no figure were left out"]
    refused = refusal(ghcnh_file([*hours[:22], at("22:51:00", temperature="M"), at("23:51:00", temperature="inf")]))
    assert "temperature: 2 cells such as 'M' hold no figure" in str(refused)


# Who stands behind it


def test_every_source_code_is_a_provider_of_its_own() -> None:
    found = taken(
        at("11:51:00", temperature="20.0", source="343", quality="1"),
        at("12:51:00", temperature="21.0", source="223", quality="1", wind_speed="3.0"),
        at("13:51:00", wind_speed="4.0", source=""),
    )
    keys = [found.providers[i].key for i in found.provider["air_temperature_c"][:2]]
    assert keys == ["ghcnh.343", "ghcnh.223"]
    assert found.providers[found.provider["wind_speed_10m_m_s"][2]] is NETWORK
    assert all(p.grade is Grade.OBSERVED and p.licence.startswith("public domain") for p in found.providers)


def test_more_sources_than_a_byte_counts_stand_behind_the_network_itself() -> None:
    first = np.datetime64("2023-07-01T00:51", "s")
    reports = [
        report(str(first + np.timedelta64(i, "h")), temperature="20.0", source=f"{i:03d}", quality="1")
        for i in range(300)
    ]
    found = taken(*reports)
    assert len(found.providers) == 255
    assert found.providers[found.provider["air_temperature_c"][299]] is NETWORK
    assert found.providers[found.provider["air_temperature_c"][0]].key == "ghcnh.000"


# Layouts


def test_columns_are_found_by_name_whatever_their_order_and_case() -> None:
    expected = read(ghcnh(), source=SOURCE)
    lines = [line.split("|") for line in ghcnh().decode().splitlines()]
    turned = "\n".join("|".join([*(name for name in reversed(line))]) for line in lines)
    upper = turned.split("\n", 1)[0].upper() + "\n" + turned.split("\n", 1)[1]
    for body in (turned.encode(), upper.encode(), b"\xef\xbb\xbf" + ghcnh(), ghcnh().replace(b"\n", b"\r\n")):
        found = read(body, source=SOURCE)
        np.testing.assert_array_equal(found.hours, expected.hours)
        for name, values in expected.values.items():
            np.testing.assert_array_equal(found.values[name], values)


def test_the_older_layout_with_the_time_in_five_columns_is_read() -> None:
    body = (
        "Station_ID|Year|Month|Day|Hour|Minute|Temperature|Precipitation|Precipitation_Report_Type\n"
        "USW00099999|2023|7|18|11|51|20.0||\n"
        "USW00099999|2023|07|18|12|51|21.0|1.5|FM15\n"
    )
    found = read(body.encode(), source=SOURCE, station="USW00099999")
    assert told(found, "air_temperature_c") == {"18T12": 20, "18T13": 21}
    assert told(found, "rain_mm") == {"18T13": 1.5}


def test_another_station_or_two_in_one_file_are_refused() -> None:
    assert "is of USW00099999, not USW00000001" in str(refusal(ghcnh(), station="USW00000001"))
    other = at("14:51:00", temperature="20.0").replace("USW00099999", "USW00088888")
    assert "2 stations stand in one file" in str(refusal(ghcnh_file([at("11:51:00", temperature="20.0"), other])))
    assert len(read(ghcnh(), source=SOURCE, station="USW00099999").hours) == 4


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "neither DATE nor Year"),
        (b"DATE|remarks\n2023-07-18T11:51:00|x\n", "none of temperature"),
        (b"temperature\n20\n", "line 1: neither DATE nor Year, Month, Day, Hour and Minute"),
        (b"DATE|temperature|Temperature\n2023-07-18T11:51:00|20|20\n", "line 1, temperature: named twice"),
        (b"DATE|temperature\n", "no reports below the header"),
        (b"DATE|temperature\n2023-07-18T11:51:00|20\n2023-07-18T12:51:00\n", "line 3: 1 cells where the header has 2"),
        (b"DATE|temperature\n2023-07-18T11:51:00|20|3\n", "line 2: 3 cells where the header has 2"),
        (b"DATE|temperature\n18 July|20\n", "line 2, DATE: '18 July' is no moment in UTC"),
        (b"DATE|temperature\n2023-07-18T11:51:00-05:00|20\n", "line 2, DATE"),
        (b"DATE|temperature\n2023-02-29T11:51:00|20\n", "line 2, DATE"),
        (b"DATE|temperature\n0023-02-28T11:51:00|20\n", "from 1850 to 2199"),
        (b"DATE|temperature\n2023-07-18T11:51:00|\n", "holds no figure that can be taken"),
        (b"PAR1\x00\x00", "holds binary data"),
        (b"|" * 1000, "1001 columns; at most 1000"),
    ],
)
def test_what_is_no_such_file_is_refused_by_line(body: bytes, words: str) -> None:
    assert words in str(refusal(body))


def test_limits_of_size_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "larger than 50,000,000 bytes" in str(refusal(b"x" * 50_000_001))
    monkeypatch.setattr(module, "MOST_ROWS", 3)
    assert "at most 3 are allowed" in str(refusal(ghcnh()))


def test_half_a_file_is_refused() -> None:
    assert "cells where the header has" in str(refusal(ghcnh()[: len(ghcnh()) - 40]))


# Whatever comes


def holds(body: bytes) -> None:
    """A file is refused in words or taken whole, never anything between."""
    try:
        found = read(body, source=SOURCE)
    except DataError:
        return
    assert (np.diff(found.hours) >= np.timedelta64(1, "h")).all()
    assert len(found.hours)
    for name, values in found.values.items():
        assert values.shape == found.hours.shape == found.provider[name].shape
        assert not np.isinf(values).any()
        assert found.provider[name].max() < len(found.providers)


FIGURES = st.sampled_from(["", "20.0", "0.3", "-9999", " 20 "])
CELLS = FIGURES | FIGURES | FIGURES | st.sampled_from(["1e999", "T", "nan", "0x10", '"', "9" * 400, "1_0"])
ANY_BODY = st.one_of(
    st.binary(max_size=200),
    cut_and_spliced(ghcnh()),
    st.lists(
        st.builds(
            lambda day, hour, minute, cells: report(
                f"2023-{day}T{hour:02d}:{minute:02d}:00",
                **dict(zip(("temperature", "precipitation", "precipitation_Quality_Code"), cells, strict=True)),
            ),
            st.sampled_from(["07-18", "12-31"]),
            st.integers(0, 23),
            st.integers(0, 59),
            st.tuples(CELLS, CELLS, st.sampled_from(["", "1", "3", "s", "A"])),
        ),
        max_size=8,
    ).map(ghcnh_file),
)


@given(body=ANY_BODY)
@settings(max_examples=100)
def test_any_body_is_taken_whole_or_refused_in_words(body: bytes) -> None:
    holds(body)


@pytest.mark.long
@given(body=ANY_BODY)
@settings(max_examples=3000)
def test_many_bodies_are_taken_whole_or_refused_in_words(body: bytes) -> None:
    holds(body)


@given(
    minute=st.integers(31, 60),
    amounts=st.lists(st.integers(0, 200), min_size=6, max_size=6),
    specials=st.lists(st.tuples(st.integers(0, 5), st.integers(1, 59), st.floats(0, 1)), max_size=10),
)
@settings(max_examples=40)
def test_rain_is_what_the_routine_reports_say_wherever_specials_stand(
    minute: int, amounts: list[int], specials: list[tuple[int, int, float]]
) -> None:
    # Routine reports at one minute of every hour with the sum since the one before; specials between them with a part
    # of the sum that is running.
    first = np.datetime64(f"{DAY}T00", "s") + np.timedelta64(minute, "m")
    reports = [
        report(str(first + np.timedelta64(60 * i, "m")), precipitation=f"{amount / 10}")
        for i, amount in enumerate(amounts)
    ]
    for hour, after, share in specials:
        moment = first + np.timedelta64(60 * hour - 60 + after, "m")
        reports.append(report(str(moment), precipitation=f"{share * amounts[hour] / 10}", report="FM16"))
    assert rain(*reports) == {f"18T{hour + 1:02d}": amount / 10 for hour, amount in enumerate(amounts)}
