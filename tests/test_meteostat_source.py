"""Bulk files over a real connection to this machine: what is taken from them, and what happens when they fail.

The files are invented, in the form of the real ones: gzip-packed CSV, a file a station and calendar year, the hour in
four columns, and beside every figure where it came from.
"""

import gzip
import os
import socket
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from loopback import Loopback, loopback

from forecast.errors import ForecastError, MissingInputError, SourceDownError, StorageError
from forecast.ingest.imported import Grade, ImportedHours
from forecast.ingest.meteostat_source import OBSERVED, Fetched, Place, fetch_hours
from forecast.ingest.web.download import Limits, Network

PLACE = Place("T0WN", 40.0, -80.0, 250.0)
HEADER = (
    "year,month,day,hour,temp,temp_source,rhum,rhum_source,prcp,prcp_source,snwd,snwd_source,wdir,wdir_source,"
    "wspd,wspd_source,wpgt,wpgt_source,pres,pres_source,tsun,tsun_source,cldc,cldc_source,coco,coco_source\n"
)


def row(hour: int | str, temp: str, source: str = "isd_lite", *, year: int = 2023) -> str:
    """One line of 18 July: temperature as given, 97 %, 0.3 mm, 18 km/h, 6 oktas, all from one source."""
    s = source
    return f"{year},7,18,{hour},{temp},{s},97,{s},0.3,{s},,,200,{s},18,{s},,,1013,{s},,,6,{s},3,{s}\n"


def packed(text: str) -> bytes:
    return gzip.compress(text.encode(), mtime=0)


def short(lines: str) -> bytes:
    """A packed file of temperature and humidity only."""
    return packed("year,month,day,hour,temp,temp_source,rhum,rhum_source\n" + lines)


GOOD = packed(HEADER + row(8, "21.4") + row(9, "22.1"))


NOW = datetime(2024, 3, 1, 12, 20, tzinfo=UTC)
QUICK = Network(allow_hosts=("127.0.0.1",), limits=Limits(silence_s=0.3, whole_s=5, tries=1, least_minutes_between=0))


def fetch_both(
    server: Loopback, copies: Path, years: range = range(2023, 2024), now: datetime = NOW, network: Network = QUICK
) -> Fetched:
    endpoint = f"{server.address}/hourly/{{year}}/{{station}}.csv.gz"
    return fetch_hours(PLACE, years, copies, network, now, endpoint=endpoint)


def fetch(server: Loopback, copies: Path, years: range = range(2023, 2024)) -> ImportedHours:
    return fetch_both(server, copies, years).observed


def kept(copies: Path) -> list[bytes]:
    """The good copies, without what is written beside them."""
    return [path.read_bytes() for path in copies.rglob("*.csv.gz")]


def serve(server: Loopback, body: bytes, *, status: int = 200, year: int = 2023) -> None:
    server.answers[f"/hourly/{year}/T0WN.csv.gz"] = (status, body)


def texts(hours: ImportedHours) -> list[str]:
    return [notice.text for notice in hours.notices]


@pytest.fixture
def copies(tmp_path: Path) -> Path:
    return tmp_path / "copies"


# What is taken


def test_observed_hours_come_in_with_the_houses_names_and_units(server: Loopback, copies: Path) -> None:
    serve(server, GOOD)
    hours = fetch(server, copies)
    assert [str(stamp) for stamp in hours.hours] == ["2023-07-18T08", "2023-07-18T09"]
    assert hours.values["air_temperature_c"].tolist() == [21.4, 22.1]
    assert hours.values["relative_humidity_pct"].tolist() == [97, 97]
    assert hours.values["rain_mm"].tolist() == [0.3, 0.3]
    assert hours.values["wind_speed_10m_m_s"].tolist() == [5, 5]  # 18 km/h × 1000 m / 3600 s
    assert hours.values["cloud_cover_fraction"].tolist() == [0.75, 0.75]  # 6 eighths
    assert (hours.source, hours.notices) == ("Meteostat T0WN", ())
    for name in hours.values:
        for code in hours.provider[name]:
            provider = hours.providers[code]
            assert (provider.key, provider.grade, provider.licence) == (
                "meteostat.isd_lite",
                Grade.OBSERVED,
                "CC BY 4.0",
            )
            assert "Meteostat and the Integrated Surface Database" in provider.attribution
    assert server.asked == ["/hourly/2023/T0WN.csv.gz"]


def test_several_years_come_in_as_one_run(server: Loopback, copies: Path) -> None:
    serve(server, packed(HEADER + row(8, "21", year=2022)), year=2022)
    serve(server, packed(HEADER + row(8, "22", year=2023)), year=2023)
    hours = fetch(server, copies, range(2022, 2024))
    assert [str(stamp) for stamp in hours.hours] == ["2022-07-18T08", "2023-07-18T08"]
    assert hours.values["air_temperature_c"].tolist() == [21, 22]


def test_two_sources_in_one_process_do_not_mix(server: Loopback, copies: Path, tmp_path: Path) -> None:
    serve(server, packed(HEADER + row(8, "21")))
    first = fetch(server, copies)
    with loopback() as other:
        serve(other, packed(HEADER + row(8, "25")))
        second = fetch(other, tmp_path / "other copies")
    again = fetch(server, copies)
    figures = [hours.values["air_temperature_c"].tolist() for hours in (first, second, again)]
    assert figures == [[21], [25], [21]]


def test_the_year_ends_at_its_last_hour_in_utc(server: Loopback, copies: Path) -> None:
    lines = "2023,1,1,0,1,metar,90,metar\n2023,12,31,23,2,metar,90,metar\n"
    serve(server, short(lines))
    assert [str(stamp) for stamp in fetch(server, copies).hours] == ["2023-01-01T00", "2023-12-31T23"]


def test_hours_come_in_order_whatever_order_they_stand_in(server: Loopback, copies: Path) -> None:
    serve(server, packed(HEADER + row(9, "22") + row(8, "21")))
    hours = fetch(server, copies)
    assert [str(stamp) for stamp in hours.hours] == ["2023-07-18T08", "2023-07-18T09"]
    assert hours.values["air_temperature_c"].tolist() == [21, 22]


@pytest.mark.parametrize("source", ["dwd_mosmix", "metno_forecast", "model", "some_new_source", "isd_lite dwd_mosmix"])
def test_what_a_model_says_is_left_out_and_counted(server: Loopback, copies: Path, source: str) -> None:
    serve(server, packed(HEADER + row(8, "21") + row(9, "25", source)))
    hours = fetch(server, copies)
    np.testing.assert_array_equal(hours.values["air_temperature_c"], [21, np.nan])
    # Five quantities of one hour: temperature, humidity, rain, wind, cloud.
    assert texts(hours) == ["5 values that come from a weather model were left out"]


# The library's providers of observations, and the blank between two names where a figure has both.
MEASURED = ["isd_lite", "metar", "synop", "dwd_poi", "dwd_hourly", "eccc_hourly", "gsa_hourly", "gsa_synop"]


@pytest.mark.parametrize("source", [*MEASURED, "isd_lite metar"])
def test_what_a_station_measured_is_taken(server: Loopback, copies: Path, source: str) -> None:
    serve(server, packed(HEADER + row(8, "21", source)))
    hours = fetch(server, copies)
    assert (hours.values["air_temperature_c"].tolist(), hours.notices) == ([21], ())
    # Where a figure has two names, the first one is credited.
    assert hours.providers[hours.provider["air_temperature_c"][0]].key == f"meteostat.{source.split(maxsplit=1)[0]}"


def test_the_services_that_observe_are_those_of_the_list_above() -> None:
    assert set(OBSERVED) == set(MEASURED)


# What models say


def at(stamp: str, temp: str, source: str) -> str:
    year, month, day, hour = (int(part) for part in stamp.replace("T", "-").split("-"))
    return f"{year},{month},{day},{hour},{temp},{source},90,{source}\n"


def test_what_models_say_of_the_last_days_and_ahead_is_a_forecast(server: Loopback, copies: Path) -> None:
    # Now is 1 March, 12:20; three days back is 27 February, 12:00 (2024 has a 29th).
    lines = [
        at("2024-02-27T11", "1.5", "dwd_mosmix"),  # before that: left out
        at("2024-02-27T12", "2.5", "dwd_mosmix"),
        at("2024-02-27T14", "3.5", "isd_lite"),
        at("2024-03-01T12", "4.5", "metar"),
        at("2024-03-01T15", "5.5", "metno_forecast"),
    ]
    serve(server, short("".join(lines)), year=2024)
    found = fetch_both(server, copies, range(2024, 2025))
    np.testing.assert_array_equal(found.observed.values["air_temperature_c"], [np.nan, np.nan, 3.5, 4.5])
    assert texts(found.observed) == ["2 values that come from a weather model were left out"]
    ahead = found.forecast
    assert ahead is not None
    assert ahead.provider.grade is Grade.MODEL
    assert ahead.issued_utc is None, "the files do not say"
    assert (str(ahead.hours[0]), str(ahead.hours[-1])) == ("2024-02-27T12", "2024-03-01T15")
    temperature = ahead.values["air_temperature_c"]
    assert np.count_nonzero(~np.isnan(temperature)) == 2, "what was observed is none of the model's"
    assert (temperature[0], temperature[-1]) == (2.5, 5.5)
    np.testing.assert_array_equal(ahead.step_hours["air_temperature_c"], (~np.isnan(temperature)).astype(int))


def test_an_observation_that_lies_ahead_is_none(server: Loopback, copies: Path) -> None:
    serve(server, short(at("2024-03-01T12", "4.5", "metar") + at("2024-03-01T13", "5.5", "metar")), year=2024)
    found = fetch_both(server, copies, range(2024, 2025))
    assert [str(hour) for hour in found.observed.hours] == ["2024-03-01T12"]


def test_files_without_a_model_give_no_forecast(server: Loopback, copies: Path) -> None:
    serve(server, GOOD)
    assert fetch_both(server, copies).forecast is None


def test_the_days_after_new_year_are_asked_for_before_it(server: Loopback, copies: Path) -> None:
    now = datetime(2023, 12, 24, 6, tzinfo=UTC)
    serve(server, short(at("2023-12-24T05", "1.5", "metar")))
    serve(server, short(at("2024-01-02T05", "2.5", "dwd_mosmix")), year=2024)
    found = fetch_both(server, copies, now=now)
    assert found.forecast is not None
    assert str(found.forecast.hours[-1]) == "2024-01-02T05"
    # Without such a file nothing is missing; in summer nobody asks for it.
    del server.answers["/hourly/2024/T0WN.csv.gz"]
    assert texts(fetch_both(server, copies / "other", now=now).observed) == []
    server.asked.clear()
    fetch_both(server, copies, now=datetime(2023, 12, 10, 6, tzinfo=UTC))
    assert server.asked == ["/hourly/2023/T0WN.csv.gz"]


# Both in one hour


def test_one_hour_may_hold_both(server: Loopback, copies: Path) -> None:
    serve(server, short("2023,7,18,8,21,isd_lite,97,dwd_mosmix\n2023,7,18,9,22,metno_forecast,96,metar\n"))
    hours = fetch(server, copies)
    np.testing.assert_array_equal(hours.values["air_temperature_c"], [21, np.nan])
    np.testing.assert_array_equal(hours.values["relative_humidity_pct"], [np.nan, 96])
    assert texts(hours) == ["2 values that come from a weather model were left out"]


@pytest.mark.parametrize("hour", ["8", "08", "8.0"])
def test_of_an_hour_that_stands_twice_the_last_is_taken(server: Loopback, copies: Path, hour: str) -> None:
    serve(server, packed(HEADER + row(8, "21") + row(9, "22") + row(hour, "23")))
    hours = fetch(server, copies)
    assert [str(stamp) for stamp in hours.hours] == ["2023-07-18T08", "2023-07-18T09"]
    assert hours.values["air_temperature_c"].tolist() == [23, 22]


def test_a_value_without_its_source_is_dropped(server: Loopback, copies: Path) -> None:
    serve(server, short("2023,7,18,8,21,isd_lite,97,\n2023,7,18,9,22,,96,isd_lite\n2023,7,18,10,23,isd_lite,,metar\n"))
    hours = fetch(server, copies)
    np.testing.assert_array_equal(hours.values["air_temperature_c"], [21, np.nan, 23])
    np.testing.assert_array_equal(hours.values["relative_humidity_pct"], [np.nan, 96, np.nan])


def test_a_column_without_a_column_of_sources_is_dropped(server: Loopback, copies: Path) -> None:
    serve(server, gzip.compress(b"year,month,day,hour,temp,temp_source,rhum\n2023,7,18,8,21,isd_lite,97\n"))
    hours = fetch(server, copies)
    assert hours.values["air_temperature_c"].tolist() == [21]
    assert np.isnan(hours.values["relative_humidity_pct"]).all()


def test_columns_that_a_file_lacks_are_missing_values(server: Loopback, copies: Path) -> None:
    serve(server, short("2023,7,18,8,21,isd_lite,97,isd_lite\n"))
    hours = fetch(server, copies)
    assert hours.values["relative_humidity_pct"].tolist() == [97]
    assert all(np.isnan(hours.values[name]).all() for name in ("rain_mm", "wind_speed_10m_m_s"))


def test_humidity_above_a_hundred_is_left_to_quality_control(server: Loopback, copies: Path) -> None:
    serve(server, short("2023,7,18,8,21,isd_lite,103,isd_lite\n"))
    assert fetch(server, copies).values["relative_humidity_pct"].tolist() == [103]


# What fails


def test_a_year_that_the_source_does_not_have_is_missing_input(server: Loopback, copies: Path) -> None:
    with pytest.raises(MissingInputError) as caught:
        fetch(server, copies)
    assert caught.value.exit_code == 66
    assert not copies.exists()


def test_a_year_missing_among_others_is_noticed(server: Loopback, copies: Path) -> None:
    serve(server, GOOD)
    hours = fetch(server, copies, range(2022, 2024))
    assert hours.values["air_temperature_c"].tolist() == [21.4, 22.1]
    assert texts(hours) == ["2022: the source has no file of this station"]


BAD_REPLIES = {
    "error of the server": (500, GOOD),
    "too many requests": (429, b""),
    "nothing": (200, b""),
    "a page in place of the file": (200, b"<html>We are moving house.</html>"),
    "a packed page": (200, packed("<html>We are moving house.</html>")),
    "cut short": (200, GOOD[:-20]),
    "changed on the way": (200, GOOD[:40] + bytes([GOOD[40] ^ 0xFF]) + GOOD[41:]),
    "binary": (200, gzip.compress(b"\xff\xfe" * 50)),
    "a header and no hours": (200, packed(HEADER)),
    "other columns": (200, packed("station,year\nT0WN,2023\n")),
    "no column of sources": (200, packed("year,month,day,hour,temp,rhum\n2023,7,18,8,21,97\n")),
    "no figure with its source": (200, short("2023,7,18,8,21,,97,\n2023,7,18,9,,metar,,metar\n")),
    "words for figures": (200, packed(HEADER + row(8, "21") + row(9, "warm"))),
    "an endless figure": (200, packed(HEADER + row(8, "21") + row(9, "1e400"))),
    "a month thirteen": (200, packed(HEADER + row(8, "21").replace(",7,18,", ",13,18,"))),
    "a word for the hour": (200, packed(HEADER + row(8, "21") + row("nine", "22"))),
    "a row too wide": (200, packed(HEADER + row(8, "21") + "2023,7,18,9" + ",1" * 40 + "\n")),
    "every row too wide": (200, short("2023,7,18,8,21,isd_lite,97,isd_lite,1\n")),
}


@pytest.mark.parametrize(("status", "body"), BAD_REPLIES.values(), ids=BAD_REPLIES)
def test_a_bad_reply_is_the_source_down_where_there_is_no_copy(
    server: Loopback, copies: Path, status: int, body: bytes
) -> None:
    serve(server, body, status=status)
    with pytest.raises(SourceDownError) as caught:
        fetch(server, copies)
    assert caught.value.exit_code == 69
    assert caught.value.what.startswith("the weather of 2023 for station T0WN ")
    assert caught.value.what.endswith("there is no good copy at hand")
    assert not copies.exists() or kept(copies) == []  # nothing bad is kept


@pytest.mark.parametrize(
    ("status", "body"), [*BAD_REPLIES.values(), (404, b"")], ids=[*BAD_REPLIES, "gone from the source"]
)
def test_a_bad_reply_leaves_the_good_copy_and_uses_it_with_a_grave_notice(
    server: Loopback, copies: Path, status: int, body: bytes
) -> None:
    serve(server, GOOD)
    fetch(server, copies)
    serve(server, body, status=status)
    hours = fetch_both(server, copies, now=NOW + timedelta(hours=5)).observed
    assert hours.values["air_temperature_c"].tolist() == [21.4, 22.1]
    (notice,) = hours.notices
    assert notice.grave
    assert notice.text.startswith("2023: the weather of 2023 for station T0WN ")
    assert notice.text.endswith("; the last good copy, 5 h old, was used")
    assert kept(copies) == [GOOD]


def test_a_good_reply_takes_the_place_of_the_copy(server: Loopback, copies: Path) -> None:
    serve(server, GOOD)
    fetch(server, copies)
    better = packed(HEADER + row(8, "21.4") + row(9, "22.1") + row(10, "23"))
    serve(server, better)
    assert fetch(server, copies).values["air_temperature_c"].tolist() == [21.4, 22.1, 23]
    assert kept(copies) == [better]


def test_a_refused_connection_is_the_source_down_or_the_copy(copies: Path) -> None:
    with loopback() as gone:
        serve(gone, GOOD)
    with pytest.raises(SourceDownError):
        fetch(gone, copies)  # its port is closed by now
    with loopback() as there:
        serve(there, GOOD)
        fetch(there, copies)
    hours = fetch(there, copies)
    assert hours.values["air_temperature_c"].tolist() == [21.4, 22.1]
    assert [notice.grave for notice in hours.notices] == [True]


def test_a_server_that_never_answers_is_not_waited_for(server: Loopback, copies: Path) -> None:
    server.silent = True
    with pytest.raises(SourceDownError, match="did not answer"):
        fetch(server, copies)
    server.silent = False
    serve(server, GOOD)
    fetch(server, copies)
    server.silent = True
    assert [notice.grave for notice in fetch(server, copies).notices] == [True]


def test_a_damaged_copy_is_no_help(server: Loopback, copies: Path) -> None:
    serve(server, GOOD)
    fetch(server, copies)
    (copies / "2023" / "T0WN.csv.gz").write_bytes(GOOD[:50])
    serve(server, b"", status=500)
    with pytest.raises(SourceDownError):
        fetch(server, copies)


def test_a_copy_that_cannot_be_kept_is_told(server: Loopback, copies: Path) -> None:
    copies.write_text("a file where the folder should be")
    serve(server, GOOD)
    with pytest.raises(StorageError) as caught:
        fetch(server, copies)
    assert caught.value.exit_code == 74


# Where it goes and where it writes

FETCH = """\
import sys
from pathlib import Path
from datetime import UTC, datetime
from forecast.ingest.web.download import Limits, Network
from forecast.ingest.meteostat_source import Place, fetch_hours
network = Network(allow_hosts=("127.0.0.1",), limits=Limits(least_minutes_between=0))
now = datetime(2024, 3, 1, tzinfo=UTC)
for endpoint in sys.argv[2:]:
    place = Place("T0WN", 40.0, -80.0, 250.0)
    found = fetch_hours(place, range(2023, 2024), Path(sys.argv[1]), network, now, endpoint=endpoint or None)
    print(*found.observed.values["air_temperature_c"])
"""


def fetched_apart(folder: Path, copies: Path, *endpoints: str, **environment: str) -> str:
    """The temperatures fetched in a process of its own, whose home, temp and working folders lie in ``folder``."""
    for name in ("home", "temp", "work"):
        (folder / name).mkdir()
    places = {"HOME": str(folder / "home"), "TMPDIR": str(folder / "temp"), "NO_PROXY": "127.0.0.1"}
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", FETCH, str(copies), *endpoints],
        env={**os.environ, **places, **environment},
        cwd=folder / "work",
        stdout=subprocess.PIPE,
        text=True,
        check=True,
        timeout=60,
    )
    return done.stdout


def test_only_the_copies_are_left_behind(server: Loopback, tmp_path: Path) -> None:
    serve(server, GOOD)
    copies = tmp_path / "copies"
    endpoint = f"{server.address}/hourly/{{year}}/{{station}}.csv.gz"
    assert fetched_apart(tmp_path, copies, endpoint) == "21.4 22.1\n"
    left = sorted(str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*") if path.is_file())
    assert [name for name in left if not name.endswith(".json")] == ["copies/2023/T0WN.csv.gz"]
    assert len(left) <= 2, "the copy, and what is known of it"
    # The library would keep its cache in the home folder, and the parser's working copy is gone with the process.
    assert [list((tmp_path / name).iterdir()) for name in ("home", "temp", "work")] == [[], [], []]


def test_the_address_that_the_library_is_set_to_is_asked_where_none_is_given(server: Loopback, tmp_path: Path) -> None:
    serve(server, GOOD)
    given = f"{server.address}/hourly/{{year}}/{{station}}.csv.gz"
    server.answers["/set/2023/T0WN.csv.gz"] = (200, packed(HEADER + row(8, "25")))
    library = f"{server.address}/set/{{year}}/{{station}}.csv.gz"
    # First another address, since reading a file points the library at the local copies.
    out = fetched_apart(tmp_path, tmp_path / "copies", given, "", MS_HOURLY_ENDPOINT=library)
    assert out == "21.4 22.1\n25.0\n"


def test_no_test_reaches_beyond_this_machine() -> None:
    # 192.0.2.0/24 is set aside for documentation (RFC 5737); nobody is there.
    with socket.socket() as beyond, pytest.raises(pytest.fail.Exception, match="this machine only"):
        beyond.connect(("192.0.2.1", 80))
    with socket.socket() as beyond, pytest.raises(pytest.fail.Exception, match="this machine only"):
        beyond.connect_ex(("192.0.2.1", 80))


# Damage

VICIOUS = [b"", b"\x00", b"\xff", b'"', b",", b"\n", b"\r", b"-", b"e", b"9", b"inf", b"nan", b" ", b"isd_lite"]


@pytest.mark.long
def test_a_damaged_file_is_read_or_refused_and_never_a_crash(server: Loopback, tmp_path: Path) -> None:
    chance = np.random.default_rng(20500718)
    whole = (HEADER + "".join(row(hour, f"{20 + hour / 10}") for hour in range(24))).encode()
    taken = refused = 0
    for number in range(1500):
        damaged = whole
        for _ in range(chance.integers(1, 4)):
            start = int(chance.integers(len(damaged)))
            stop = start + int(chance.choice([0, 1, 1, 2, 30]))
            damaged = damaged[:start] + VICIOUS[chance.integers(len(VICIOUS))] + damaged[stop:]
        serve(server, gzip.compress(damaged, 1))
        try:
            hours = fetch(server, tmp_path / str(number))
        except ForecastError:
            refused += 1
            continue
        taken += 1
        assert (np.diff(hours.hours) > np.timedelta64(0, "h")).all()
        assert all(not np.isinf(values).any() for values in hours.values.values())
    assert refused > 100
    assert taken > 100
