"""A web server on this machine that answers as it is told, for tests of what comes over the network."""

import socket
import ssl
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from email.message import Message
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


@dataclass(frozen=True)
class Reply:
    """One answer in every detail.

    Attributes:
        status: as in HTTP.
        body: the bytes, sent ``times`` times over.
        headers: beside the length.
        times: how often the body is repeated, for one too large to be held.
        length: stated in place of the true one; -1 to state none.
        head_pause_s: wait before every byte of the head.
        body_pause_s: wait before every byte of the body.
        raw: all that is sent, in place of everything above.
        stays: True to keep the connection open, and silent, after the body.
    """

    status: int = 200
    body: bytes = b""
    headers: Mapping[str, str] = field(default_factory=dict)
    times: int = 1
    length: int | None = None
    head_pause_s: float = 0.0
    body_pause_s: float = 0.0
    raw: bytes = b""
    stays: bool = False

    def head(self) -> bytes:
        """Status line and headers."""
        length = len(self.body) * self.times if self.length is None else self.length
        lines = [f"HTTP/1.0 {self.status} as told"]
        lines += [f"Content-Length: {length}"] if length >= 0 else []
        lines += [f"{name}: {value}" for name, value in self.headers.items()]
        return "\r\n".join([*lines, "", ""]).encode("latin-1")


Answer = tuple[int, bytes] | Reply | list[Reply]


@dataclass
class Loopback:
    """What the server answers, and what it was asked.

    Attributes:
        answers: path → status and body, or a whole reply, or several to be given in turn, the last for good; any
            other path is not found.
        silent: True to accept and never answer.
        asked: the paths asked for, in order; ``host:port`` for a tunnel.
        headers: what came with each question, in order.
        address: such as ``http://127.0.0.1:50000``.
    """

    answers: dict[str, Answer] = field(default_factory=dict)
    silent: bool = False
    asked: list[str] = field(default_factory=list)
    headers: list[Message] = field(default_factory=list)
    address: str = ""

    def answer(self, path: str) -> Reply:
        """The reply that is due."""
        told = self.answers.get(path, (404, b""))
        if isinstance(told, list):
            return told.pop(0) if len(told) > 1 else told[0]
        return told if isinstance(told, Reply) else Reply(*told)


class _Server(ThreadingHTTPServer):
    def __init__(self, told: Loopback) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.told = told
        self.over = threading.Event()


class _Handler(BaseHTTPRequestHandler):
    server: _Server

    def do_GET(self) -> None:
        told = self.server.told
        told.headers.append(self.headers)
        told.asked.append(self.path)
        if told.silent:
            self.server.over.wait()
            return
        with suppress(ConnectionError):  # an asker who has enough hangs up
            self._send(told.answer(self.path))

    def do_CONNECT(self) -> None:
        """Be the proxy on the way to another server on this machine."""
        self.server.told.headers.append(self.headers)
        self.server.told.asked.append(self.path)
        port = int(self.path.rpartition(":")[2])
        with socket.create_connection(("127.0.0.1", port)) as there, suppress(ConnectionError):
            self.wfile.write(b"HTTP/1.0 200 through\r\n\r\n")
            back = threading.Thread(target=_pass_on, args=(there, self.connection))
            back.start()
            _pass_on(self.connection, there)
            back.join()

    def _send(self, reply: Reply) -> None:
        self._drip(reply.raw or reply.head(), reply.head_pause_s)
        for _ in range(0 if reply.raw else reply.times):
            self._drip(reply.body, reply.body_pause_s)
        if reply.stays:
            self.server.over.wait()

    def _drip(self, content: bytes, pause_s: float) -> None:
        size = 1 if pause_s else max(len(content), 1)
        for start in range(0, len(content), size):
            if pause_s and self.server.over.wait(pause_s):
                return
            self.wfile.write(content[start : start + size])

    def log_message(self, *_: object) -> None:
        """Leave the test's output alone."""


@contextmanager
def loopback(tls: ssl.SSLContext | None = None) -> Iterator[Loopback]:
    """A server for the length of a with block, encrypted where a context with a certificate is given."""
    told = Loopback()
    server = _Server(told)
    if tls is not None:
        server.socket = tls.wrap_socket(server.socket, server_side=True)
    told.address = f"{'http' if tls is None else 'https'}://127.0.0.1:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    try:
        yield told
    finally:
        server.over.set()
        server.shutdown()
        thread.join()
        server.server_close()


def _pass_on(come: socket.socket, go: socket.socket) -> None:
    """Everything that comes in at one connection out at the other, to its end."""
    with suppress(OSError):
        while piece := come.recv(65_536):
            go.sendall(piece)
    with suppress(OSError):
        go.shutdown(socket.SHUT_WR)
