"""Numbers and stamps read at one go are those read one by one."""

import math
from datetime import datetime

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from forecast.ingest.logger.csv_file import careful_numbers, plain_numbers
from forecast.ingest.logger.mapping import MISSING
from forecast.ingest.logger.stamps import careful_stamps, plain_stamps

FIRST, LAST = (datetime.fromisoformat(text) for text in ("1850-01-01", "2199-12-31T23:59"))


@given(
    st.lists(st.floats(-1e6, 1e6).map(lambda value: round(value, 3)) | st.none(), min_size=1),
    st.sampled_from([".", ","]),
)
def test_numbers_read_at_one_go_are_those_read_one_by_one(figures: list[float | None], decimal: str) -> None:
    written = ["" if figure is None else repr(figure).replace(".", decimal) for figure in figures]
    quick = plain_numbers(written, decimal)
    careful, wrong = careful_numbers(written, MISSING, decimal)
    assert quick is not None
    assert wrong == []
    np.testing.assert_array_equal(quick, careful)
    np.testing.assert_array_equal(careful, [math.nan if figure is None else figure for figure in figures])


@given(st.lists(st.text("0123456789.,+-eE _infNa\n٣", max_size=6), min_size=1), st.sampled_from([".", ","]))
def test_whatever_numbers_are_read_at_one_go_are_those_read_one_by_one(written: list[str], decimal: str) -> None:
    quick = plain_numbers(written, decimal)
    careful, wrong = careful_numbers(written, MISSING, decimal)
    if quick is not None:
        assert wrong == []
        np.testing.assert_array_equal(quick, careful)


@given(
    st.lists(st.datetimes(FIRST, LAST), min_size=1),
    st.sampled_from(["%Y-%m-%dT%H:%MZ", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M:%SZ"]),
)
def test_stamps_read_at_one_go_are_those_read_one_by_one(moments: list[datetime], form: str) -> None:
    written = [moment.strftime(form) for moment in moments]
    quick = plain_stamps(written)
    careful, has_zone = careful_stamps(written, None)
    assert quick is not None
    np.testing.assert_array_equal(quick[0], careful)
    np.testing.assert_array_equal(quick[1], has_zone)
    expected = [moment.replace(microsecond=0, second=moment.second if "%S" in form else 0) for moment in moments]
    assert quick[0].astype(datetime).tolist() == expected


@given(st.lists(st.from_regex(r"[0-9]{3,5}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}Z?", fullmatch=True), min_size=1))
def test_whatever_stamps_are_read_at_one_go_are_those_read_one_by_one(written: list[str]) -> None:
    quick = plain_stamps(written)
    if quick is not None:
        np.testing.assert_array_equal(quick[0], careful_stamps(written, None)[0])
