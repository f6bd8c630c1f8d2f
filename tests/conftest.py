"""What every test stands on: no network beyond this machine, and nothing of the caller's environment."""

import os
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from loopback import Loopback, loopback

from forecast.database import Database

# A run is the same run everywhere, on a slow machine too.
settings.register_profile("every run", deadline=None, derandomize=True)
settings.load_profile("every run")

THIS_MACHINE = ("127.0.0.1", "::1", "localhost")


@pytest.fixture(scope="session", autouse=True)
def _this_machine_only() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        for name in ("connect", "connect_ex"):
            patch.setattr(socket.socket, name, _guarded(getattr(socket.socket, name)))
        yield


def _guarded(connect: Callable[[socket.socket, Any], Any]) -> Callable[[socket.socket, Any], Any]:
    def guarded(self: socket.socket, address: Any) -> Any:
        if self.family != socket.AF_UNIX and address[0] not in THIS_MACHINE:
            # pytest's own failure, since code under test may well catch every OSError
            pytest.fail(f"a test may reach this machine only, not {address}")
        return connect(self, address)

    return guarded


@pytest.fixture(autouse=True)
def _callers_environment_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in list(os.environ):
        if name in ("FORECAST_WORKSPACE", "FORECAST_DEBUG") or name.startswith("MS_"):
            monkeypatch.delenv(name)


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    """A new database with every table."""
    made = Database(tmp_path / "workspace.sqlite", create=True)
    yield made
    made.close()


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Iterator[Loopback]:
    """A web server on this machine, asked directly whatever proxy the caller's environment names."""
    monkeypatch.setenv("NO_PROXY", "127.0.0.1")
    with loopback() as told:
        yield told
