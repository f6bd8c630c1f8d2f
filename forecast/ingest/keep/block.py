"""A year of one quantity as bytes: raw values to the last bit, flags, who stands behind each, and when it arrived.

A year of hours never holds more than 8,784 different values, so the values are written once each and the hours as
numbers of them; what rarely changes from hour to hour is written as runs.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from forecast.errors import DataError
from forecast.panel import Bytes, Floats
from forecast.quantities import Flag

FORMAT = 2
NOT_ARRIVED = -1
DAMAGED_HINT = "put the last backup in its place"

_HEAD = struct.Struct("<III")  # hours, different values, runs
_RUN = np.dtype([("length", "<u4"), ("late_minutes", "<i4"), ("provider", "<u2"), ("flag", "u1")])
_MOST_HOURS = 1 << 16  # more than any block has, and as many as two bytes can tell apart
_CODES: Mapping[int, np.dtype[np.unsignedinteger[Any]]] = MappingProxyType({1: np.dtype("u1"), 2: np.dtype("<u2")})


Number = TypeVar("Number", bound=np.generic)


@dataclass(frozen=True, eq=False)
class Block:
    """Some hours of one quantity; every array of shape (hours,).

    Attributes:
        values: raw, NaN where unknown.
        flags: :class:`~forecast.quantities.Flag` as the source gave it.
        provider: number of the provider in the database.
        late_minutes: how long after its stamp a value arrived; :data:`NOT_ARRIVED` where there is none.
    """

    values: Floats
    flags: Bytes
    provider: NDArray[np.uint16]
    late_minutes: NDArray[np.int32]

    def copy(self) -> Block:
        """A block of its own, to be written to."""
        return Block(self.values.copy(), self.flags.copy(), self.provider.copy(), self.late_minutes.copy())


def empty_block(hours: int) -> Block:
    """Hours of which nothing is known."""
    return Block(
        np.full(hours, np.nan),
        np.full(hours, Flag.MISSING, np.uint8),
        np.zeros(hours, np.uint16),
        np.full(hours, NOT_ARRIVED, np.int32),
    )


def pack(block: Block) -> bytes:
    """A block as bytes: a format byte, then all of it zlib-packed, whose checksum tells a torn one from a whole one."""
    # As bits, so that -0.0 and every kind of NaN stay what they are.
    bits = np.ascontiguousarray(block.values, "<f8").view("<u8")
    different, codes = np.unique(bits, return_inverse=True)
    runs = _runs(block)
    width = _width(len(different))
    code_bytes = codes.astype(_CODES[width]).view(np.uint8).reshape(len(codes), width).T.tobytes()
    head = _HEAD.pack(len(bits), len(different), len(runs))
    return bytes([FORMAT]) + zlib.compress(head + different.tobytes() + runs.tobytes() + code_bytes, 6)


def unpack(packed: bytes) -> Block:
    """The block that :func:`pack` made these bytes of.

    Raises:
        DataError: the bytes are damaged or of an unknown format.
    """
    if packed[:1] != bytes([FORMAT]):
        raise DataError("a weather block has an unknown format", hint="install the newer version")
    try:
        raw = zlib.decompress(packed[1:])
        return _unpacked(raw)
    except (zlib.error, struct.error, ValueError, IndexError) as error:
        raise DataError("a weather block is damaged", hint=DAMAGED_HINT) from error


def _unpacked(raw: bytes) -> Block:
    hours, distinct, run_count = _HEAD.unpack_from(raw)
    if hours > _MOST_HOURS:
        raise ValueError
    at = _HEAD.size
    values = np.frombuffer(raw, "<f8", distinct, at)
    at += values.nbytes
    runs = np.frombuffer(raw, _RUN, run_count, at)
    at += runs.nbytes
    width = _width(distinct)
    if len(raw) - at != width * hours or int(runs["length"].sum()) != hours:
        raise ValueError
    by_weight = np.frombuffer(raw, np.uint8, offset=at).reshape(width, hours)
    code_bytes = np.empty((hours, width), np.uint8)
    for weight in range(width):
        code_bytes[:, weight] = by_weight[weight]
    codes = code_bytes.view(_CODES[width]).ravel()
    lengths = runs["length"]
    return Block(
        values.take(codes).astype(np.float64, copy=False),
        _spread(runs["flag"], lengths, hours),
        _spread(runs["provider"], lengths, hours).astype(np.uint16, copy=False),
        _spread(runs["late_minutes"], lengths, hours).astype(np.int32, copy=False),
    )


def _width(distinct: int) -> int:
    """Bytes that the number of one of so many values takes; a year has at most 8,784."""
    return 1 if distinct <= 1 << 8 else 2


def _runs(block: Block) -> NDArray[np.void]:
    hours = len(block.values)
    changes = np.zeros(max(hours - 1, 0), bool)
    for array in (block.flags, block.provider, block.late_minutes):
        changes |= array[1:] != array[:-1]
    starts = np.concatenate(([0], np.flatnonzero(changes) + 1)) if hours else np.empty(0, np.int64)
    runs = np.empty(len(starts), _RUN)
    runs["length"] = np.diff(np.append(starts, hours))
    runs["flag"] = block.flags[starts]
    runs["provider"] = block.provider[starts]
    runs["late_minutes"] = block.late_minutes[starts]
    return runs


def _spread(values: NDArray[Number], lengths: NDArray[np.uint32], hours: int) -> NDArray[Number]:
    return np.full(hours, values[0]) if len(values) == 1 else np.repeat(values, lengths)
