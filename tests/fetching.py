"""What the tests of downloads share: invented files, a reader of them, and ways to ask for one.

A file is lines of hour and temperature, and a last line that says that it is the last.
"""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from forecast.errors import SourceDownError
from forecast.ingest.web.download import Downloaded, Limits, Network, download

NOW = datetime(2050, 7, 18, 5, 30, tzinfo=UTC)
HOUR = timedelta(hours=1)
LIMITS = Limits(connect_s=2.0, silence_s=5.0, whole_s=20.0, tries=2, wait_s=0.02)
THIS_MACHINE = ("127.0.0.1",)
SLACK_S = 5.0  # a busy machine may be late by this much; every wait that must not happen is far longer
KEY = "Kq7invented"

GOOD = b"2050-07-18T04,21.4\n2050-07-18T05,21.9\nend\n"
BETTER = b"2050-07-18T04,21.4\n2050-07-18T05,21.9\n2050-07-18T06,22.5\nend\n"


def hours_in(body: bytes) -> int:
    """How many hours a file holds; one without its last line is half a file."""
    lines = body.decode("utf-8").splitlines()
    if not lines or lines[-1] != "end":
        raise ValueError("the last line is missing")
    return len(lines) - 1


def fetch(
    address: str,
    copy: Path,
    *,
    now: datetime = NOW,
    limits: Limits = LIMITS,
    allow_hosts: tuple[str, ...] = THIS_MACHINE,
    accept: Callable[[bytes], int] = hours_in,
    accept_types: tuple[str, ...] = (),
) -> Downloaded[int] | None:
    network = Network(contact="greens@example.org", allow_hosts=allow_hosts, limits=limits)
    return download(address, copy, network, now, accept=accept, accept_types=accept_types)


def got(address: str, copy: Path, **how: Any) -> Downloaded[int]:
    answer = fetch(address, copy, **how)
    assert answer is not None
    return answer


def trouble(address: str, copy: Path, **how: Any) -> str:
    """What an error says, in one line."""
    with pytest.raises(SourceDownError) as caught:
        fetch(address, copy, **how)
    return str(caught.value).replace("\n", " ")


def files(folder: Path) -> set[str]:
    return {path.name for path in folder.rglob("*") if path.is_file()}


@contextmanager
def within(seconds: float) -> Iterator[None]:
    start = time.monotonic()
    yield
    assert time.monotonic() - start < seconds + SLACK_S
