"""The last good copy of a downloaded file: when it spares a question, when it helps out, and that nothing spoils it."""

import errno
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fetching import BETTER, GOOD, HOUR, NOW, THIS_MACHINE, fetch, files, got, hours_in, trouble
from loopback import Loopback, Reply

from forecast.errors import SourceDownError, StorageError
from forecast.ingest.web import good_copy
from forecast.ingest.web.download import Downloaded, Limits, Network, download

NOTE = "hours.csv.fetched.json"


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    return tmp_path / "copies" / "hours.csv"


# Asking rarely


@pytest.mark.parametrize(("minutes", "is_asked"), [(0, False), (29, False), (30, True), (-1, True)])
def test_a_young_copy_is_used_unasked(server: Loopback, copy: Path, minutes: int, is_asked: bool) -> None:
    """Less than 30 minutes; one from the future is of no known age."""
    server.answers["/f"] = [Reply(body=GOOD), Reply(body=BETTER)]
    got(f"{server.address}/f", copy)
    file = got(f"{server.address}/f", copy, now=NOW + timedelta(minutes=minutes))
    assert (len(server.asked) == 2) is is_asked
    assert (file.body == BETTER) is is_asked
    assert (file.is_fresh, file.trouble) == (True, "")
    assert file.fetched_utc == (NOW + timedelta(minutes=minutes) if is_asked else NOW)


def test_a_young_copy_that_is_no_good_is_fetched_again_whole(server: Loopback, copy: Path) -> None:
    server.answers["/f"] = [Reply(body=b"short", headers={"ETag": '"1"'}), Reply(body=GOOD)]
    got(f"{server.address}/f", copy, accept=len)  # an older version of the reader took it
    assert got(f"{server.address}/f", copy).body == GOOD


MARKS = {"ETag": '"a-1"', "Last-Modified": "Mon, 18 Jul 2050 05:10:00 GMT"}


def test_a_file_that_has_not_changed_is_not_sent_again(server: Loopback, copy: Path) -> None:
    server.answers["/f"] = [
        Reply(body=GOOD, headers=MARKS),
        Reply(304, headers={"ETag": '"a-2"'}, length=-1),
        Reply(500),
        Reply(500),
    ]
    got(f"{server.address}/f", copy)
    later = NOW + HOUR
    file = got(f"{server.address}/f", copy, now=later)
    assert server.headers[1]["If-None-Match"] == '"a-1"'
    assert server.headers[1]["If-Modified-Since"] == "Mon, 18 Jul 2050 05:10:00 GMT"
    assert file == Downloaded(GOOD, later, True, "", datetime(2050, 7, 18, 5, 10, tzinfo=UTC), 2)
    # Its age is moved: 29 minutes later nobody is asked, and in later trouble it is an hour younger.
    assert got(f"{server.address}/f", copy, now=later + timedelta(minutes=29)).is_fresh
    assert len(server.asked) == 2
    file = got(f"{server.address}/f", copy, now=later + HOUR)
    assert (file.fetched_utc, file.is_fresh) == (later, False)
    assert server.headers[2]["If-None-Match"] == '"a-2"'


def test_not_changed_is_of_no_use_where_the_copy_is_no_good(server: Loopback, copy: Path) -> None:
    server.answers["/f"] = [
        Reply(body=b"short", headers=MARKS),
        Reply(304, length=-1),
        Reply(body=GOOD, headers=MARKS),
    ]
    got(f"{server.address}/f", copy, accept=len)
    file = got(f"{server.address}/f", copy, now=NOW + HOUR)
    assert (file.body, file.is_fresh) == (GOOD, True)
    assert [headers["If-None-Match"] for headers in server.headers] == [None, '"a-1"', None]
    assert copy.read_bytes() == GOOD


def note(content: bytes) -> Callable[[Path], None]:
    def write(copy: Path) -> None:
        copy.with_name(NOTE).write_bytes(content)

    return write


def body(content: bytes) -> Callable[[Path], None]:
    def write(copy: Path) -> None:
        copy.write_bytes(content)

    return write


def changed(**keys: Any) -> Callable[[Path], None]:
    def change(copy: Path) -> None:
        beside = copy.with_name(NOTE)
        beside.write_text(json.dumps({**json.loads(beside.read_text()), **keys}))

    return change


SPOILED: dict[str, Callable[[Path], None]] = {
    "note torn": note(b'{"address": "http://127.0.0.1:'),
    "note missing": lambda copy: copy.with_name(NOTE).unlink(),
    "note empty": note(b""),
    "note of bytes": note(bytes(range(256))),
    "note a list": note(b"[1]"),
    "note very deep": note(b"[" * 100_000),
    "note of another body": changed(body_sha256="0" * 64),
    "note without a zone": changed(fetched_utc="2050-07-18T05:30:00"),
    "note without a time": changed(fetched_utc=None),
    "note with a mark that is no text": changed(etag=3),
    "note with a time beyond time": changed(fetched_utc="0001-01-01T00:00:00+14:00"),
    "body changed": body(GOOD.replace(b"21.4", b"21.5")),
}


@pytest.mark.parametrize("name", SPOILED)
def test_a_note_that_does_not_fit_is_not_believed(server: Loopback, copy: Path, name: str) -> None:
    """The copy is asked for whole and at once, and helps out, with the time of its writing, when that fails."""
    server.answers["/f"] = [Reply(body=GOOD, headers=MARKS), Reply(500), Reply(500), Reply(body=BETTER)]
    got(f"{server.address}/f", copy)
    SPOILED[name](copy)
    written = datetime(2050, 7, 18, 5, 20, tzinfo=UTC)  # ten minutes before, which is not believed either
    os.utime(copy, (written.timestamp(), written.timestamp()))
    file = got(f"{server.address}/f", copy)
    assert (file.fetched_utc, file.is_fresh, file.stated_utc, file.read) == (written, False, None, 2)
    assert got(f"{server.address}/f", copy).body == BETTER
    assert [headers["If-None-Match"] for headers in server.headers] == [None] * 4


@pytest.mark.parametrize("spoil", [GOOD[:-4], b"", b"\xff" * 50])
def test_a_damaged_copy_is_no_help_and_in_nobodys_way(server: Loopback, copy: Path, spoil: bytes) -> None:
    server.answers["/f"] = [Reply(body=GOOD, headers=MARKS), Reply(500), Reply(500), Reply(body=GOOD, headers=MARKS)]
    got(f"{server.address}/f", copy)
    copy.write_bytes(spoil)
    assert "(500), and there is no good copy" in trouble(f"{server.address}/f", copy)
    assert got(f"{server.address}/f", copy).body == GOOD
    assert [headers["If-None-Match"] for headers in server.headers] == [None] * 4


def test_a_copy_above_the_limit_is_no_copy(server: Loopback, copy: Path) -> None:
    server.answers["/f"] = [Reply(body=GOOD), Reply(500)]
    got(f"{server.address}/f", copy)
    assert "no good copy" in trouble(f"{server.address}/f", copy, limits=Limits(most_bytes=41, tries=1))


def test_a_copy_of_another_address_is_not_given_out_for_this_one(server: Loopback, copy: Path) -> None:
    server.answers["/f?place=1"] = Reply(body=GOOD, headers=MARKS)
    got(f"{server.address}/f?place=1", copy)
    server.answers["/f?place=2"] = Reply(500)
    assert "no good copy" in trouble(f"{server.address}/f?place=2", copy)
    server.answers["/f?place=2"] = Reply(body=BETTER)
    assert got(f"{server.address}/f?place=2", copy).body == BETTER
    assert [headers["If-None-Match"] for headers in server.headers] == [None] * 4


def test_a_mark_that_cannot_be_sent_back_is_dropped(server: Loopback, copy: Path) -> None:
    server.answers["/f"] = [Reply(body=GOOD, headers={"ETag": f'"{mark}"'}) for mark in ("é", "x" * 2000, "\x01", "ok")]
    for number in range(5):
        assert got(f"{server.address}/f", copy, now=NOW + number * HOUR).is_fresh
    assert [headers["If-None-Match"] for headers in server.headers] == [None, None, None, None, '"ok"']


# Offline


def test_nobody_is_asked_offline(server: Loopback, copy: Path) -> None:
    network = Network(allow_hosts=THIS_MACHINE, offline=True)
    address = f"{server.address}/f"
    with pytest.raises(SourceDownError, match="was not asked, since the program is told to stay offline, and there is"):
        download(address, copy, network, NOW, accept=hours_in)
    assert server.asked == []
    server.answers["/f"] = (200, GOOD)
    got(address, copy)
    young = download(address, copy, network, NOW + timedelta(minutes=29), accept=hours_in)
    old = download(address, copy, network, NOW + HOUR, accept=hours_in)
    assert young == Downloaded(GOOD, NOW, True, "", None, 2)
    words = "the weather source was not asked, since the program is told to stay offline"
    assert old == Downloaded(GOOD, NOW, False, words, None, 2)
    assert len(server.asked) == 1


# What stays, whatever happens


def test_a_stop_between_body_and_note_leaves_a_whole_file(
    server: Loopback, copy: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    server.answers["/f"] = [
        Reply(body=GOOD, headers=MARKS),
        Reply(body=BETTER),
        Reply(500),
        Reply(500),
        Reply(body=GOOD),
    ]
    got(f"{server.address}/f", copy)
    with monkeypatch.context() as patch:

        def stop(*_: object) -> None:
            raise KeyboardInterrupt

        patch.setattr(good_copy, "write_note", stop)
        with pytest.raises(KeyboardInterrupt):
            fetch(f"{server.address}/f", copy, now=NOW + HOUR)
    assert copy.read_bytes() == BETTER
    file = got(f"{server.address}/f", copy, now=NOW + HOUR)  # the note is of the old body: not believed
    assert (file.body, file.is_fresh) == (BETTER, False)
    assert got(f"{server.address}/f", copy, now=NOW + HOUR).body == GOOD
    assert server.headers[4]["If-None-Match"] is None


def test_whoever_reads_the_old_file_reads_it_to_its_end(server: Loopback, copy: Path) -> None:
    server.answers["/f"] = [Reply(body=GOOD), Reply(body=BETTER)]
    got(f"{server.address}/f", copy)
    with copy.open("rb") as old, copy.with_name(NOTE).open("rb") as old_note:
        got(f"{server.address}/f", copy, now=NOW + HOUR)
        assert old.read() == GOOD
        assert json.loads(old_note.read())["fetched_utc"] == NOW.isoformat()
    assert copy.read_bytes() == BETTER


def test_a_full_disk_leaves_what_was_there(server: Loopback, copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    server.answers["/f"] = [Reply(body=GOOD), Reply(body=BETTER)]
    got(f"{server.address}/f", copy)
    before = {path: path.read_bytes() for path in copy.parent.iterdir()}

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StorageError, match=r"hours\.csv cannot be written: No space left on device"):
        fetch(f"{server.address}/f", copy, now=NOW + HOUR)
    assert {path: path.read_bytes() for path in copy.parent.iterdir()} == before


def test_a_place_that_cannot_be_written_to_is_told(server: Loopback, copy: Path) -> None:
    copy.parent.write_text("a file where the folder should be")
    server.answers["/f"] = (200, GOOD)
    with pytest.raises(StorageError) as caught:
        fetch(f"{server.address}/f", copy)
    assert caught.value.exit_code == 74


def test_what_a_killed_process_left_is_taken_away_a_day_later(server: Loopback, copy: Path) -> None:
    server.answers["/f"] = (200, GOOD)
    copy.parent.mkdir()
    ages = {".hours.csv.1.part": 25, ".hours.csv.fetched.json.2.part": 25, ".hours.csv.3.part": 23, "hours.part": 99}
    for name, hours in ages.items():
        left = copy.parent / name
        left.write_bytes(b"half")
        moment = time.time() - hours * 3600
        os.utime(left, (moment, moment))
    got(f"{server.address}/f", copy)
    assert files(copy.parent) == {"hours.csv", NOTE, ".hours.csv.3.part", "hours.part"}


FETCHING = """\
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from forecast.ingest.web.download import Limits, Network, download

def whole(body):
    if len(set(body)) != 1 or len(body) != 300_000:
        raise ValueError("mixed")
    return body[:1]

network = Network(allow_hosts=("127.0.0.1",), limits=Limits(least_minutes_between=0))
now = datetime(2050, 7, 18, tzinfo=UTC)
for number in range(int(sys.argv[3])):
    answer = download(sys.argv[1], Path(sys.argv[2]), network, now + timedelta(minutes=number), accept=whole)
    assert answer.is_fresh, answer.trouble
    print(".", flush=True)
"""


def letters(count: int) -> list[Reply]:
    """Files of one letter each, every one another than the one before."""
    return [Reply(body=b"abcdefg"[n % 7 : n % 7 + 1] * 300_000, headers={"ETag": f'"{n}"'}) for n in range(count)]


def one_letter(body: bytes) -> int:
    if len(set(body)) != 1 or len(body) != 300_000:
        raise ValueError("mixed")
    return body[0]


def test_processes_that_fetch_the_same_file_do_not_spoil_it(server: Loopback, copy: Path) -> None:
    server.answers["/f"] = letters(70)
    run = [sys.executable, "-W", "error", "-c", FETCHING, f"{server.address}/f", str(copy), "20"]
    fetching = [subprocess.Popen(run, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) for _ in range(3)]
    assert [process.communicate(timeout=60)[1] for process in fetching] == [b"", b"", b""]
    assert files(copy.parent) == {"hours.csv", NOTE}
    server.answers["/f"] = Reply(500)
    assert got(f"{server.address}/f", copy, accept=one_letter, now=NOW + HOUR).read in b"abcdefg"


@pytest.mark.long
def test_a_process_killed_at_any_moment_leaves_a_whole_file(server: Loopback, copy: Path) -> None:
    chance = np.random.default_rng(20500718)
    run = [sys.executable, "-W", "error", "-c", FETCHING, f"{server.address}/f", str(copy), "100000"]
    for _ in range(40):
        server.answers["/f"] = letters(2000)
        with subprocess.Popen(run, stdout=subprocess.PIPE) as fetching:
            assert fetching.stdout is not None
            assert fetching.stdout.readline() == b".\n"
            time.sleep(float(chance.uniform(0, 0.1)))
            fetching.kill()
        assert one_letter(copy.read_bytes()) in b"abcdefg"
        server.answers["/f"] = Reply(body=b"z" * 300_000)
        assert got(f"{server.address}/f", copy, accept=one_letter, now=NOW + HOUR).read == ord("z")
