"""The last good copy of a downloaded file, kept so that no stop, fault or second process can spoil it.

A copy is two files: the body, and beside it what is known of it (``<name>.fetched.json``), which is believed only where
its digest fits the body. Each is written aside and put in place whole, the body first: a stop between the two leaves a
whole body with a note that does not fit.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from glob import escape
from pathlib import Path

from forecast.errors import StorageError

OLD_PART_S = 86_400.0  # a part of a file this old was left by a process that was killed; house choice
LONGEST_MARK = 1000  # house choice: servers' marks of a file have some tens of signs


@dataclass(frozen=True, slots=True)
class GoodCopy:
    """A body that was good when it was written.

    Attributes:
        body: the bytes.
        fetched_utc: when the source last said that this is its file; when it was written, where that is not known.
        is_known: True where the note beside it fits the body and the address.
        etag: the source's own mark of it; empty for none, as where nothing is known.
        last_modified: as the source wrote it; empty for none, as where nothing is known.
    """

    body: bytes
    fetched_utc: datetime
    is_known: bool
    etag: str = ""
    last_modified: str = ""

    @property
    def stated_utc(self) -> datetime | None:
        """When the source says that the file last changed."""
        return http_date(self.last_modified)

    def is_younger(self, minutes: int, now: datetime) -> bool:
        """Whether it is known to be younger; a copy from the future tells nothing."""
        return self.is_known and timedelta(0) <= now - self.fetched_utc < timedelta(minutes=minutes)

    def conditions(self) -> dict[str, str]:
        """Headers that ask for the file only where it is another by now (RFC 9110, section 13); none without a mark."""
        marks = {"If-None-Match": self.etag, "If-Modified-Since": self.last_modified}
        return {header: mark for header, mark in marks.items() if mark}

    def described(self, headers: Mapping[str, str], now: datetime) -> GoodCopy:
        """The same body as the source has just described it."""
        etag = _mark(headers.get("ETag", "")) or self.etag
        last_modified = _mark(headers.get("Last-Modified", "")) or self.last_modified
        return replace(self, fetched_utc=now, etag=etag, last_modified=last_modified)


def http_date(text: str) -> datetime | None:
    """A date as HTTP writes it, such as ``Mon, 18 Jul 2050 05:30:00 GMT``; None where it is no date."""
    try:
        moment = parsedate_to_datetime(text)
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
    except (ValueError, TypeError, LookupError, OverflowError):
        return None


def read_copy(path: Path, address: str, most_bytes: int) -> GoodCopy | None:
    """The copy at hand; None where there is none, or where it is known to be of another address.

    Another address may be another place, whose weather is worse than none.
    """
    try:
        with path.open("rb") as file:
            body = file.read(most_bytes + 1)
            written_utc = datetime.fromtimestamp(os.fstat(file.fileno()).st_mtime, UTC)
    except OSError:
        return None
    if len(body) > most_bytes:
        return None
    unknown = GoodCopy(body, written_utc, is_known=False)
    try:
        note = json.loads(_note_path(path).read_text(encoding="utf-8"))
        fetched_utc = datetime.fromisoformat(note["fetched_utc"])
        if note["body_sha256"] != _digest(body) or fetched_utc.tzinfo is None:
            return unknown
        if note["address_sha256"] != _digest(address.encode()):
            return None
        marks = _mark(note["etag"]), _mark(note["last_modified"])
        return GoodCopy(body, fetched_utc.astimezone(UTC), True, *marks)
    except (OSError, ValueError, LookupError, TypeError, AttributeError, OverflowError, RecursionError):
        return unknown


def write_copy(path: Path, copy: GoodCopy, address: str) -> None:
    """Put a new body in the place of the old one, with its note.

    Raises:
        StorageError: it cannot be written; the old one still stands.
    """
    _write_whole(path, copy.body)
    write_note(path, copy, address)
    _sweep(path)


def write_note(path: Path, copy: GoodCopy, address: str) -> None:
    """Note what is known of a body that is in place.

    The address is noted up to its question mark, after which it may hold a key, and as a digest of the whole.

    Raises:
        StorageError: it cannot be written; the old note still stands.
    """
    note = {
        "address": address.partition("?")[0],
        "address_sha256": _digest(address.encode()),
        "etag": copy.etag,
        "last_modified": copy.last_modified,
        "fetched_utc": copy.fetched_utc.astimezone(UTC).isoformat(),
        "body_sha256": _digest(copy.body),
    }
    _write_whole(_note_path(path), json.dumps(note, indent=1).encode())


def _mark(text: str) -> str:
    """A header that can be sent back as it came; empty where it cannot."""
    return text if text.isascii() and text.isprintable() and len(text) <= LONGEST_MARK else ""


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _note_path(path: Path) -> Path:
    return path.with_name(f"{path.name}.fetched.json")


def _write_whole(path: Path, content: bytes) -> None:
    """Write a file so that any reader sees the old one or the new one, whoever else writes it."""
    part = path.with_name(f".{path.name}.{secrets.token_hex(8)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            with part.open("xb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        hint = "free some space, or make the folder writable"
        raise StorageError(f"{path} cannot be written: {error.strerror}", hint=hint) from error


def _sweep(path: Path) -> None:
    """Take away what a killed process left half written; old against the file just written, by the disk's own clock."""
    with suppress(OSError):
        written_s = path.stat().st_mtime
        for part in path.parent.glob(f".{escape(path.name)}.*.part"):
            if written_s - part.stat().st_mtime > OLD_PART_S:
                part.unlink()
