"""A web server on this machine that answers as it is told, for tests of what comes over the network."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


@dataclass
class Loopback:
    """What the server answers, and what it was asked.

    Attributes:
        answers: path → status and body; any other path is not found.
        silent: True to accept and never answer.
        asked: the paths asked for, in order.
        address: such as ``http://127.0.0.1:50000``.
    """

    answers: dict[str, tuple[int, bytes]] = field(default_factory=dict)
    silent: bool = False
    asked: list[str] = field(default_factory=list)
    address: str = ""


@contextmanager
def loopback() -> Iterator[Loopback]:
    """A server for the length of a with block."""
    told = Loopback()
    over = threading.Event()

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            told.asked.append(self.path)
            if told.silent:
                over.wait()
                return
            status, body = told.answers.get(self.path, (404, b""))
            self.send_response(status)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Leave the test's output alone."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    told.address = f"http://127.0.0.1:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    try:
        yield told
    finally:
        over.set()
        server.shutdown()
        thread.join()
        server.server_close()
