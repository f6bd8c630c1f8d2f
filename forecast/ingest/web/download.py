"""One file over the network, every wait bounded, and its last good copy for the day that this fails.

A server is a stranger here: it may be silent, slow without end, endless, broken or somebody else, and none of that may
hang the program, fill the memory or spoil what was fetched before.

Addresses may hold a key after the question mark. That part goes to the server and nowhere else: no message, no file.

Source: status, conditions, dates and Retry-After as in RFC 9110; 429 as in RFC 6585.
"""

from __future__ import annotations

import gzip
import hashlib
import io
import ipaddress
import math
import os
import ssl
import time
import zlib
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Generic, Self, TypeVar
from urllib.parse import urljoin

import requests
import urllib3
from requests.adapters import HTTPAdapter
from requests.utils import get_environ_proxies, select_proxy
from urllib3.util import Url, parse_url

from forecast import __version__
from forecast.errors import ForecastError, SourceDownError
from forecast.ingest.web.good_copy import GoodCopy, http_date, read_copy, write_copy, write_note
from forecast.ingest.web.network import Limits, Network
from forecast.ingest.web.wire import CHECK_ADDRESS, Deadline, TroubleError, check_public, connected, pools, too_large

__all__ = ["Downloaded", "Limits", "Network", "download"]

Read = TypeVar("Read")

OK, NOT_MODIFIED, NOT_FOUND, GONE, BUSY = 200, 304, 404, 410, 429
SENDS_ON = frozenset({301, 302, 303, 307, 308})
REFUSES = frozenset({401, 403})
MOST_REDIRECTS = 3  # house choice: a mended path and a slash take two
PORTS = {"http": 80, "https": 443}
PIECE_BYTES = 65_536
LONGEST_WORDS = 200  # house choice: of somebody else's text in a message of ours

_CHECK_PROXY = "check HTTP_PROXY, HTTPS_PROXY and NO_PROXY"

# What a body that is no good raises in the hands of whoever reads it.
_UNUSABLE = (
    ForecastError,
    ValueError,
    OSError,
    EOFError,
    ArithmeticError,
    LookupError,
    TypeError,
    AttributeError,
    RecursionError,
    zlib.error,
)


@dataclass(frozen=True, slots=True)
class Downloaded(Generic[Read]):
    """A file that was accepted, from the source or from the last good copy.

    Attributes:
        body: the bytes.
        fetched_utc: when the source last said that this is its file; when it was written, where that is not known.
        is_fresh: True when that was now, or less than ``least_minutes_between`` ago.
        trouble: why it is not fresh, a clause that begins with the source's name; empty when it is.
        stated_utc: when the source says that the file last changed; None where it does not say.
        read: what ``accept`` made of the body.
    """

    body: bytes
    fetched_utc: datetime
    is_fresh: bool
    trouble: str
    stated_utc: datetime | None
    read: Read


def download(
    address: str,
    copy: Path,
    network: Network,
    now: datetime,
    *,
    accept: Callable[[bytes], Read],
    accept_types: tuple[str, ...] = (),
    name: str = "the weather source",
) -> Downloaded[Read] | None:
    """A file from the source, or its last good copy.

    Args:
        address: http or https, without a name and password in it.
        copy: where the last good copy lies; its folder is made where it is missing.
        network: contact, hosts that may be private, and limits.
        now: the moment, with a time zone.
        accept: reads a body; raises ForecastError, ValueError, OSError, EOFError, LookupError, TypeError or
            ArithmeticError where it is no good. Only what passes is kept or returned.
        accept_types: media types, such as ``application/json``; any other that the source states is not accepted.
            Empty for all; a source that states none is judged by ``accept`` alone.
        name: the source in a sentence, for messages.

    Returns:
        The file; None where the source says that there is no such file (404, 410) and no good copy is at hand.

    Raises:
        SourceDownError: it cannot be fetched and there is no good copy.
        StorageError: the copy cannot be written.
    """
    held = read_copy(copy, address, network.limits.most_bytes)
    if held is not None and held.is_younger(network.limits.least_minutes_between, now):
        with suppress(TroubleError):
            return _handed_out(held, accept, "")
    try:
        return _fetched(address, copy, held, network, now, accept, accept_types)
    except TroubleError as caught:
        trouble = caught
    # Out of the except clause, so that what the network library says, address and all, does not hang on the error.
    if held is not None:
        with suppress(TroubleError):
            return _handed_out(held, accept, f"{name} {trouble.what}")
    if trouble.is_gone:
        return None
    raise SourceDownError(f"{name} {trouble.what}, and there is no good copy at hand", hint=trouble.hint)


def _handed_out(held: GoodCopy, accept: Callable[[bytes], Read], trouble: str) -> Downloaded[Read]:
    return Downloaded(held.body, held.fetched_utc, not trouble, trouble, held.stated_utc, _read(held.body, accept))


def _fetched(
    address: str,
    copy: Path,
    held: GoodCopy | None,
    network: Network,
    now: datetime,
    accept: Callable[[bytes], Read],
    accept_types: tuple[str, ...],
) -> Downloaded[Read]:
    if network.offline:
        raise TroubleError("was not asked, since the program is told to stay offline", hint="leave out --offline")
    with _Visit(network, now, accept_types) as visit:
        answer = visit.ask(address, {} if held is None else held.conditions())
        if held is not None and answer.status == NOT_MODIFIED:
            with suppress(TroubleError):
                read = _read(held.body, accept)
                held = held.described(answer.headers, now)
                write_note(copy, held, address)
                return Downloaded(held.body, now, True, "", held.stated_utc, read)
            answer = visit.ask(address, {})  # our copy is no good in a way that its digest does not show
    body = _accepted_body(answer, accept_types, network.limits.most_bytes)
    read = _read(body, accept)
    fresh = GoodCopy(body, now, is_known=True).described(answer.headers, now)
    write_copy(copy, fresh, address)
    return Downloaded(body, now, True, "", fresh.stated_utc, read)


def _read(body: bytes, accept: Callable[[bytes], Read]) -> Read:
    try:
        return accept(body)
    except _UNUSABLE as error:
        text = error.what if isinstance(error, ForecastError) else str(error)
        raise TroubleError(f"sent a damaged file ({_plain(text) or type(error).__name__})") from error


def _accepted_body(answer: _Answer, accept_types: tuple[str, ...], most_bytes: int) -> bytes:
    """The body of an answer, its type checked and its packing for the way undone."""
    stated = answer.headers.get("Content-Type", "").partition(";")[0].strip().lower()
    if accept_types and stated and stated not in accept_types:
        raise TroubleError(f"sent {_plain(stated)} where {' or '.join(accept_types)} was asked for")
    packing = answer.headers.get("Content-Encoding", "").strip().lower()
    if packing in ("", "identity"):
        return answer.body
    if packing not in ("gzip", "x-gzip"):
        raise TroubleError(f"sent a file packed as {_plain(packing)}, which was not asked for")
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(answer.body)) as unpacking:
            body = unpacking.read(most_bytes + 1)
    except (OSError, EOFError, zlib.error) as error:
        raise TroubleError(f"sent a damaged file ({_plain(str(error))})") from error
    if len(body) > most_bytes:
        raise too_large(most_bytes)
    return body


@dataclass(frozen=True, slots=True)
class _Answer:
    status: int
    headers: Mapping[str, str]
    body: bytes


class _Visit:
    """One download's tries, within one deadline and over connections that were looked at first."""

    def __init__(self, network: Network, now: datetime, accept_types: tuple[str, ...]) -> None:
        self._network = network
        self._limits = network.limits
        self._now = now
        self._deadline = Deadline(network.limits.whole_s)
        self._door = _Door(network, self._deadline)
        self._headers = {
            "User-Agent": _user_agent(network.contact),
            "Accept": ", ".join((*accept_types, "*/*;q=0.1")) if accept_types else "*/*",
            "Accept-Encoding": "identity",  # a .gz file is to stay one
        }

    def __enter__(self) -> Self:
        self._deadline.__enter__()
        return self

    def __exit__(self, *_: object) -> None:
        self._door.close()
        self._deadline.__exit__()

    def ask(self, address: str, conditions: Mapping[str, str]) -> _Answer:
        """The answer that holds a file or says that ours still holds.

        Raises:
            TroubleError: there is none.
        """
        number = 1
        while True:
            try:
                answer = self._followed(address, conditions)
                _judge(answer, self._now, is_conditional=bool(conditions))
            except TroubleError as trouble:
                pause_s = _pause_s(self._limits, number, f"{self._network.contact} {address}", trouble.wait_s)
                if not trouble.is_passing or number >= self._limits.tries or pause_s >= self._deadline.left_s():
                    raise
            else:
                return answer
            time.sleep(pause_s)
            number += 1

    def _followed(self, address: str, conditions: Mapping[str, str]) -> _Answer:
        """The first answer that does not send us on."""
        here = self._checked(address)
        for _ in range(MOST_REDIRECTS + 1):
            answer = self._one(address, conditions)
            if answer.status not in SENDS_ON:
                return answer
            if not answer.headers.get("Location"):
                raise TroubleError(f"sends us on without saying where ({answer.status})")
            address = urljoin(address, answer.headers["Location"])
            there = self._checked(address)
            _check_way(here, there)
            here = there
        raise TroubleError(f"sends us on more than {MOST_REDIRECTS} times", hint=CHECK_ADDRESS)

    def _checked(self, address: str) -> Url:
        """The parts of an address that may be asked, as the network library takes it apart."""
        try:
            parts = parse_url(address)
        except urllib3.exceptions.LocationParseError:
            parts = Url()
        if parts.scheme not in PORTS or not parts.host:
            raise TroubleError("has an address that is no http or https one", hint=CHECK_ADDRESS)
        if parts.auth is not None:
            raise TroubleError("has an address with a name or password in it", hint="take them out of the address")
        host = parts.host.strip("[]")
        with suppress(ValueError):  # a name; its numbers are looked at when they are known
            # Bare numbers are looked at here too: a proxy would connect to them in our place.
            check_public(str(ipaddress.ip_address(host)), host, _port(parts), self._network.allow_hosts)
        return parts

    def _one(self, address: str, conditions: Mapping[str, str]) -> _Answer:
        """One question and what comes back; redirects and status are the caller's."""
        try:
            proxies = get_environ_proxies(address)
            proxy = select_proxy(address, proxies) or ""
            if "://" in proxy and not proxy.lower().startswith(("http://", "https://")):
                raise TroubleError("would be asked through a proxy that is no http or https one", hint=_CHECK_PROXY)
            question = requests.Request("GET", address, headers={**self._headers, **conditions}).prepare()
            # Straight through the adapter: a session would read .netrc, and the whole body of a redirect.
            with self._door.send(
                question,
                stream=True,
                timeout=(self._limits.connect_s, self._limits.silence_s),
                verify=os.environ.get("REQUESTS_CA_BUNDLE") or os.environ.get("CURL_CA_BUNDLE") or True,
                proxies=proxies,
            ) as reply:
                body = _body(reply, self._limits.most_bytes) if reply.status_code == OK else b""
        except (requests.RequestException, urllib3.exceptions.HTTPError, OSError, ValueError) as error:
            self._deadline.check()
            raise _in_words(error, self._limits) from error
        self._deadline.check()  # a cut connection may look like the end of a body without a stated length
        return _Answer(reply.status_code, reply.headers, body)


class _Door(HTTPAdapter):
    """The network library's adapter over connections of our own, through a proxy or not."""

    def __init__(self, network: Network, deadline: Deadline) -> None:
        # Before the library's manager of the pools is made, which is given them.
        self._pools = pools(lambda host, port: connected(host, port, network, deadline), network.limits.most_bytes)
        super().__init__()

    def init_poolmanager(self, *args: Any, **kwargs: Any) -> None:
        super().init_poolmanager(*args, **kwargs)
        self.poolmanager.pool_classes_by_scheme = self._pools

    def proxy_manager_for(self, proxy: Any, **kwargs: Any) -> Any:
        manager = super().proxy_manager_for(proxy, **kwargs)
        manager.pool_classes_by_scheme = self._pools
        return manager


def _body(reply: requests.Response, most_bytes: int) -> bytes:
    """The body as sent."""
    stated = reply.headers.get("Content-Length", "")
    if stated.isascii() and stated.isdigit() and (len(stated) > len(str(most_bytes)) or int(stated) > most_bytes):
        raise too_large(most_bytes)
    body = bytearray()
    for piece in reply.raw.stream(PIECE_BYTES, decode_content=False):  # it raises where less comes than was stated
        body += piece
        if len(body) > most_bytes:
            raise too_large(most_bytes)
    return bytes(body)


def _judge(answer: _Answer, now: datetime, *, is_conditional: bool) -> None:
    """Go on only with a file, or with the word that ours still holds."""
    status = answer.status
    if status == OK or (status == NOT_MODIFIED and is_conditional):
        return
    if status in (NOT_FOUND, GONE):
        raise TroubleError(f"has no such file ({status})", hint=CHECK_ADDRESS, is_gone=True)
    if status in REFUSES:
        hint = "check the key in the address, and give a contact in grounds.toml"
        raise TroubleError(f"refuses to answer us ({status})", hint=hint)
    if status != BUSY and not 500 <= status < 600:
        raise TroubleError(f"gave an answer that is no file ({status})", hint=CHECK_ADDRESS)
    wait_s = _wait_asked_s(answer.headers, now)
    what = f"is busy ({status})" if status == BUSY else f"has a fault of its own ({status})"
    asks = "" if wait_s is None else f" and asks to wait {wait_s} s"
    raise TroubleError(what + asks, is_passing=True, wait_s=wait_s)


def _check_way(here: Url, there: Url) -> None:
    """Go on only to the same host and port, or from plain to encrypted at the usual ports."""
    if there.host != here.host:
        raise TroubleError(f"sends us on to another host ({_plain(str(there.host))})", hint=CHECK_ADDRESS)
    if here.scheme == "https" and there.scheme == "http":
        raise TroubleError("sends us on from an encrypted address to a plain one", hint=CHECK_ADDRESS)
    is_upgrade = (here.scheme, _port(here), there.scheme, _port(there)) == ("http", 80, "https", 443)
    if _port(there) != _port(here) and not is_upgrade:
        raise TroubleError(f"sends us on to another port ({there.host}:{_port(there)})", hint=CHECK_ADDRESS)


def _port(parts: Url) -> int:
    return parts.port or PORTS[str(parts.scheme)]


def _user_agent(contact: str) -> str:
    """Who asks; a weather service wants to know, and some refuse a caller that does not say."""
    shown = _plain(contact.strip()).encode("ascii", "replace").decode("ascii")
    return f"turf-disease-forecast/{__version__}" + (f" ({shown})" if shown else "")


def _pause_s(limits: Limits, number: int, caller: str, asked_s: int | None) -> float:
    """The wait after a try that failed, spread by caller so that a fleet does not come back at one moment.

    Args:
        limits: with the first wait.
        number: of the try, from 1.
        caller: who asks for what.
        asked_s: what the source asks for; None where it does not say.
    """
    digest = hashlib.sha256(f"{number} {caller}".encode()).digest()
    share = int.from_bytes(digest[:4], "big") / 2**32
    wait_s = limits.wait_s * 2 ** (number - 1) if asked_s is None else asked_s
    return wait_s + limits.wait_s / 2 * share


def _wait_asked_s(headers: Mapping[str, str], now: datetime) -> int | None:
    """Seconds until the source wants to be asked again; a date counts from the source's own clock where it tells it."""
    text = headers.get("Retry-After", "").strip()
    if text.isascii() and text.isdigit():
        return int(text[:9])  # nine digits are three years at least, whatever follows
    moment = http_date(text)
    if moment is None:
        return None
    return max(0, math.ceil((moment - (http_date(headers.get("Date", "")) or now)).total_seconds()))


# Trouble in plain words


def _plain(text: str) -> str:
    """Somebody else's text, fit for one of our lines."""
    shown = "".join(sign if sign.isprintable() else " " for sign in text[: LONGEST_WORDS + 1])
    return shown if len(shown) <= LONGEST_WORDS else f"{shown[:LONGEST_WORDS]}…"


def _in_words(error: Exception, limits: Limits) -> TroubleError:
    """What the network library raised, told without its own text, which holds the whole address."""
    if isinstance(error, requests.exceptions.SSLError | urllib3.exceptions.SSLError):
        return _encryption_failed(error)
    silence = f"{limits.silence_s:g} s"
    off = "broke the connection off, or sent no proper answer"
    known: tuple[tuple[Any, TroubleError], ...] = (  # the first that fits
        (
            requests.exceptions.ProxyError,
            TroubleError("cannot be reached through the proxy that the environment names", hint=_CHECK_PROXY),
        ),
        (requests.Timeout, TroubleError(f"did not answer within {silence}", is_passing=True)),
        (urllib3.exceptions.ReadTimeoutError, TroubleError(f"stopped sending for {silence}", is_passing=True)),
        (ValueError, TroubleError("has an address that cannot be asked for", hint=CHECK_ADDRESS)),
        (
            (requests.RequestException, urllib3.exceptions.HTTPError, ConnectionError),
            TroubleError(off, is_passing=True),
        ),
        (OSError, TroubleError(f"cannot be asked ({_plain(str(error))})")),  # such as a bundle that is not there
    )
    return next(trouble for kind, trouble in known if isinstance(error, kind))


def _encryption_failed(error: BaseException | None) -> TroubleError:
    while error is not None and not isinstance(error, ssl.SSLCertVerificationError):
        error = error.__context__
    if error is None:
        return TroubleError("broke off the encrypted connection", is_passing=True)
    hint = (
        "check the clock of this machine and the address; where a firewall decrypts on the way, name its certificates "
        "in REQUESTS_CA_BUNDLE"
    )
    return TroubleError(f"has a certificate that is not trusted ({_plain(error.verify_message)})", hint=hint)
