"""Connections that are looked at before they are used, end when they must, and bring no more than they may.

The network library bounds each read by itself only: a server that sends a byte now and then holds it for ever, and one
that states a nonsensical length is read to the end of memory. Both are bounded here, below it.

Address blocks: the IANA special-purpose registries as the standard library's ``ipaddress`` holds them.
"""

from __future__ import annotations

import io
import ipaddress
import queue
import socket
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from http.client import HTTPResponse
from typing import Any

from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool

from forecast.ingest.web.network import Network

TRY_LATER = "try again later; what is stored already can be used with --offline"
CHECK_ADDRESS = "check the address of this source in grounds.toml"
HEAD_BYTES = 1_000_000  # house choice: beside the body, for the head and the framing; heads have a few kB
LEAST_S = 0.001  # a wait of no time at all means another thing to a socket

_GLOBAL_UNICAST = ipaddress.IPv6Network("2000::/3")  # RFC 4291, section 2.4; all that is given out to the public
_CARRIES_IPV4 = ipaddress.IPv6Network("64:ff9b::/96")  # RFC 6052: the last 32 bits are an IPv4 address


class TroubleError(Exception):
    """Why a source gave no file.

    Attributes:
        what: a clause that goes after the source's name.
        hint: what a person can do.
        is_passing: True where another try may help.
        wait_s: how long the source asks to wait; None where it does not say.
        is_gone: True where the source says that there is no such file.
    """

    def __init__(
        self,
        what: str,
        *,
        hint: str = TRY_LATER,
        is_passing: bool = False,
        wait_s: int | None = None,
        is_gone: bool = False,
    ) -> None:
        super().__init__(what)
        self.what = what
        self.hint = hint
        self.is_passing = is_passing
        self.wait_s = wait_s
        self.is_gone = is_gone


def too_large(most_bytes: int) -> TroubleError:
    """The trouble with a file above the limit."""
    return TroubleError(f"sends more than {most_bytes / 1e6:g} MB", hint=CHECK_ADDRESS)


class Deadline:
    """The end of a download, in a with block: when it comes, the connection in use is cut."""

    def __init__(self, whole_s: float) -> None:
        self._whole_s = whole_s
        self._ends = time.monotonic() + whole_s
        self._wire: socket.socket | None = None
        self._lock = threading.Lock()
        self._timer = threading.Timer(whole_s, self._cut)
        self._timer.daemon = True

    def __enter__(self) -> None:
        self._timer.start()

    def __exit__(self, *_: object) -> None:
        self._timer.cancel()
        self._timer.join()
        self._let_go()

    def left_s(self) -> float:
        """Seconds until it comes; negative once it has passed."""
        return self._ends - time.monotonic()

    def check(self) -> None:
        """Go on only while there is time.

        Raises:
            TroubleError: it has passed.
        """
        if self.left_s() <= 0:
            raise TroubleError(f"answered too slowly: it was not done within {self._whole_s:g} s")

    def watch(self, wire: socket.socket) -> None:
        """Cut this connection, in place of the one before, when the time comes.

        A second handle on the same connection is kept, since encryption takes the first one over.
        """
        self._let_go()
        with self._lock:
            self._wire = wire.dup()
        if self.left_s() <= 0:
            self._cut()

    def _cut(self) -> None:
        with self._lock, suppress(OSError):
            if self._wire is not None:
                self._wire.shutdown(socket.SHUT_RDWR)

    def _let_go(self) -> None:
        with self._lock:
            if self._wire is not None:
                self._wire.close()
            self._wire = None


def connected(host: str, port: int, network: Network, deadline: Deadline) -> socket.socket:
    """A connection to a host, or to the proxy on the way, that may be talked to.

    The numbers are looked at before anything is sent to them, and the connection goes to the very numbers that were
    looked at: a name that resolves to something else the next time changes nothing.

    Raises:
        TroubleError: it cannot be reached in time, or lies in a private network and is not allowed.
    """
    limit_s = network.limits.connect_s
    trouble = TroubleError(f"has a name that leads nowhere ({host})", hint=CHECK_ADDRESS)
    for family, kind, protocol, _, place in _looked_up(host, port, min(limit_s, deadline.left_s())):
        check_public(str(place[0]), host, port, network.allow_hosts)
        deadline.check()
        wire = socket.socket(family, kind, protocol)
        try:
            wire.settimeout(max(min(limit_s, deadline.left_s()), LEAST_S))
            wire.connect(place)
            wire.settimeout(network.limits.silence_s)  # for the first bytes of an encrypted connection
            deadline.watch(wire)
        except OSError as error:
            wire.close()
            trouble = _unreached(error, f"{host}:{port}", limit_s)
        except BaseException:
            wire.close()
            raise
        else:
            return wire
    deadline.check()
    raise trouble


def check_public(number: str, host: str, port: int, allow_hosts: tuple[str, ...]) -> None:
    """Go on only to an address that is anybody's, or that the owner allows.

    Raises:
        TroubleError: it lies in a private network and is not allowed.
    """
    written = f"[{host}]" if ":" in host else host
    allowed = {entry.lower().rstrip(".") for entry in allow_hosts}
    if is_public(number) or allowed & {host, written, f"{written}:{port}"}:
        return
    raise TroubleError(
        f"would be asked at an address in a private network ({host} is {number}), which only the owner can allow",
        hint=f'if it is meant, list "{written}" in allow_hosts in grounds.toml; else check the address',
    )


def is_public(number: str) -> bool:
    """Whether an IP address can be anybody's on the internet.

    IPv6 that carries an IPv4 address is judged by that.
    """
    address = ipaddress.ip_address(number)
    if isinstance(address, ipaddress.IPv4Address):
        return address.is_global and not address.is_multicast
    inner = address.ipv4_mapped or address.sixtofour
    if address in _CARRIES_IPV4:
        inner = ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
    if inner is not None:
        return is_public(str(inner))
    return address.is_global and address in _GLOBAL_UNICAST


def _looked_up(host: str, port: int, limit_s: float) -> list[Any]:
    """The numbers of a name; in a thread of its own, since a lookup cannot be given a time limit."""
    found: queue.SimpleQueue[list[Any] | OSError | UnicodeError] = queue.SimpleQueue()

    def look_up() -> None:
        try:
            found.put(list(socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)))
        except (OSError, UnicodeError) as error:
            found.put(error)

    threading.Thread(target=look_up, daemon=True).start()
    hint = f"check that this machine is connected, and {CHECK_ADDRESS.removeprefix('check ')}"
    try:
        answer = found.get(timeout=max(limit_s, LEAST_S))
    except queue.Empty:
        what = f"has a name that was not found within {limit_s:.2g} s ({host})"
        raise TroubleError(what, hint=hint, is_passing=True) from None
    if isinstance(answer, Exception):
        is_passing = isinstance(answer, socket.gaierror) and answer.errno == socket.EAI_AGAIN
        raise TroubleError(f"has a name that cannot be found ({host})", hint=hint, is_passing=is_passing)
    return answer


def _unreached(error: OSError, place: str, limit_s: float) -> TroubleError:
    if isinstance(error, TimeoutError):
        return TroubleError(f"did not answer within {limit_s:g} s (at {place})", is_passing=True)
    if isinstance(error, ConnectionRefusedError):
        return TroubleError(f"refused the connection (at {place})", is_passing=True)
    return TroubleError(f"cannot be reached (at {place}: {error.strerror or type(error).__name__})", is_passing=True)


def pools(connect: Callable[[str, int], socket.socket], most_bytes: int) -> dict[str, type[HTTPConnectionPool]]:
    """The network library's classes, per scheme, with its connections made by ``connect`` and its answers bounded.

    Args:
        connect: host and port → connection.
        most_bytes: of a body.
    """

    class Bounded(HTTPResponse):
        def __init__(self, sock: Any, *args: Any, **kwargs: Any) -> None:
            super().__init__(sock, *args, **kwargs)
            self.fp = io.BufferedReader(_Bounded(self.fp.detach(), most_bytes))

    class Plain(HTTPConnection):
        response_class = Bounded

        def _new_conn(self) -> socket.socket:
            return connect(self.host, self.port)

    class Encrypted(HTTPSConnection):
        response_class = Bounded

        def _new_conn(self) -> socket.socket:
            return connect(self.host, self.port)

    class PlainPool(HTTPConnectionPool):
        ConnectionCls = Plain

    class EncryptedPool(HTTPSConnectionPool):
        ConnectionCls = Encrypted

    return {"http": PlainPool, "https": EncryptedPool}


class _Bounded(io.RawIOBase):
    """What comes in, up to the limit: whatever a head or a frame claims, memory is not filled beyond it."""

    def __init__(self, wire: io.RawIOBase, most_bytes: int) -> None:
        self._wire = wire
        self._most_bytes = most_bytes
        self._left_bytes = most_bytes + HEAD_BYTES

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int | None:
        count: int | None = self._wire.readinto(buffer)
        self._left_bytes -= count or 0
        if self._left_bytes < 0:
            raise too_large(self._most_bytes)
        return count

    def close(self) -> None:
        self._wire.close()
        super().close()
