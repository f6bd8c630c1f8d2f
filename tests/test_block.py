"""A year of one quantity as bytes: bit for bit, in as few bytes as it takes, and refused where it is damaged."""

import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from forecast.errors import DataError
from forecast.ingest.keep.block import NOT_ARRIVED, Block, empty_block, pack, unpack
from forecast.panel import Floats
from forecast.quantities import Flag


def bits(values: Floats) -> list[int]:
    return [int(bit) for bit in np.ascontiguousarray(values).view(np.uint64)]


def different(count: int) -> Block:
    """So many hours, each with a value of its own and all else alike."""
    return Block(
        np.arange(count, dtype=np.float64),
        np.zeros(count, np.uint8),
        np.zeros(count, np.uint16),
        np.zeros(count, np.int32),
    )


@st.composite
def blocks(draw: st.DrawFn) -> Block:
    hours = draw(st.sampled_from([0, 1, 300, 365 * 24]))  # 300 different values take two bytes a number
    anything = st.floats(width=64, allow_nan=True, allow_infinity=True, allow_subnormal=True)
    values = draw(hnp.arrays(np.float64, hours, elements=anything))
    if hours > 1 and draw(st.booleans()):
        values = values + np.arange(hours)  # all different
    return Block(
        values,
        draw(hnp.arrays(np.uint8, hours)),
        draw(hnp.arrays(np.uint16, hours)),
        draw(hnp.arrays(np.int32, hours)),
    )


@given(blocks())
def test_any_block_is_unpacked_as_it_was_packed(block: Block) -> None:
    back = unpack(pack(block))
    assert bits(back.values) == bits(block.values)
    for field in ("flags", "provider", "late_minutes"):
        np.testing.assert_array_equal(getattr(back, field), getattr(block, field), strict=True)


@pytest.mark.parametrize("count", [255, 256, 257, 1 << 16])
def test_as_many_different_values_as_hours_come_back(count: int) -> None:
    # One byte tells 256 numbers apart; two tell 65,536.
    assert unpack(pack(different(count))).values.tolist() == list(range(count))


@pytest.mark.parametrize(("count", "bytes_an_hour"), [(1, 1), (256, 1), (257, 2)])
def test_an_hour_takes_one_byte_up_to_256_different_values_and_two_above(count: int, bytes_an_hour: int) -> None:
    # Three numbers of 4 bytes, the values of 8, one run of 4 + 4 + 2 + 1, and the hours: what is stored stays readable.
    inside = zlib.decompress(pack(different(count))[1:])
    assert len(inside) == 12 + 8 * count + 11 + bytes_an_hour * count


def test_a_not_a_number_keeps_even_its_payload() -> None:
    payload = np.array([0x7FF8_0000_DEAD_BEEF, 0xFFF8_0000_0000_0001], np.uint64).view(np.float64)
    block = Block(payload, np.zeros(2, np.uint8), np.zeros(2, np.uint16), np.zeros(2, np.int32))
    assert bits(unpack(pack(block)).values) == [0x7FF8_0000_DEAD_BEEF, 0xFFF8_0000_0000_0001]


def test_a_block_that_was_cut_or_changed_anywhere_is_refused() -> None:
    packed = pack(empty_block(24))
    for place in range(len(packed)):
        for damaged in (packed[:place], packed[:place] + bytes([packed[place] ^ 0x55]) + packed[place + 1 :]):
            with pytest.raises(DataError):
                unpack(damaged)


def head(hours: int, distinct: int, runs: int) -> bytes:
    return hours.to_bytes(4, "little") + distinct.to_bytes(4, "little") + runs.to_bytes(4, "little")


A_RUN = (24).to_bytes(4, "little") + bytes(4 + 2 + 1)


@pytest.mark.parametrize(
    "inside",
    [
        b"",
        head(24, 1, 1)[:-1],
        head(24, 1, 1) + bytes(8) + A_RUN + bytes(23),  # a number short
        head(24, 1, 1) + bytes(8) + A_RUN + bytes(25),  # a number too many
        head(25, 1, 1) + bytes(8) + A_RUN + bytes(25),  # its run says 24 hours
        head(24, 1, 1) + bytes(8) + A_RUN + bytes([1]) * 24,  # the second of one value
        head(4_000_000_000, 1, 1) + bytes(8) + A_RUN + bytes(24),
    ],
)
def test_a_block_whose_parts_do_not_fit_is_refused(inside: bytes) -> None:
    with pytest.raises(DataError, match="damaged"):
        unpack(b"\x02" + zlib.compress(inside))


@pytest.mark.parametrize(("hours", "is_taken"), [(1 << 16, True), ((1 << 16) + 1, False)])
def test_no_block_is_longer_than_two_bytes_can_count(hours: int, is_taken: bool) -> None:
    # All parts fit together; nothing but the length is out of bounds.
    run = hours.to_bytes(4, "little") + bytes(4 + 2 + 1)
    packed = b"\x02" + zlib.compress(head(hours, 1, 1) + bytes(8) + run + bytes(hours))
    if is_taken:
        assert len(unpack(packed).values) == hours
    else:
        with pytest.raises(DataError, match="damaged"):
            unpack(packed)


def test_the_parts_that_do_fit_are_taken() -> None:
    block = unpack(b"\x02" + zlib.compress(head(24, 1, 1) + bytes(8) + A_RUN + bytes(24)))
    assert block.values.tolist() == [0.0] * 24


def test_an_empty_block_knows_nothing() -> None:
    block = empty_block(3)
    assert np.isnan(block.values).all()
    assert block.flags.tolist() == [Flag.MISSING] * 3
    assert block.late_minutes.tolist() == [NOT_ARRIVED] * 3
