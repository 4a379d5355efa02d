"""The strict reader by itself: unfinished rows wait, bad quotes are named by line."""

from __future__ import annotations

import pytest

from pipeline.sources.limits import UnreadableError
from pipeline.sources.records import Records, read_records


def read(block: bytes, *, final: bool) -> Records:
    return read_records(block, first_line=10, separator=",", final=final)


def test_an_unfinished_row_is_left_for_the_next_block() -> None:
    records = read(b'1,2\n3,"open\n4,5\n', final=False)

    assert (records.rows, records.lines, records.size, records.line_count) == ([["1", "2"]], [10], 4, 1)


def test_a_line_that_is_cut_short_waits_and_so_does_a_cr() -> None:
    assert read(b"1,2\n3,", final=False).rows == [["1", "2"]]
    assert read(b"1,2\r3,4\r", final=False).rows == [["1", "2"]]
    assert read(b"1,2\r3,4\r", final=True).rows == [["1", "2"], ["3", "4"]]


def test_windows_1252_lines_are_named() -> None:
    assert read(b"a,b\n\xe9,1\n", final=True).code_page == (11,)


@pytest.mark.parametrize(
    ("block", "reason"),
    [
        (b'1,2\n3,"x"" y\n4,5\n', "Line 11: a quote opens here and is never closed."),
        (b'1,2\n"x","y\nz"w,3\n', "Line 11: a quote opens here and closes in the middle of a cell on line 12."),
        (b'1,2\n"x\ny", "z\n', "Line 12: a quote opens here and is never closed."),
        (b'1,2\n3,"' + b"x" * 131_073 + b'"\n', "Line 11: a cell longer than 131,072 characters begins here."),
        (b"1," + b"x" * 131_073 + b"\n", "Line 10: a cell longer than 131,072 characters begins here."),
    ],
)
def test_bad_quotes_are_named_by_the_line_where_they_open(block: bytes, reason: str) -> None:
    with pytest.raises(UnreadableError, match=f"^{reason}"):
        read(block, final=True)
