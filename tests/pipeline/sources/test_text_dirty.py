"""Whatever stands below a header, the fast path finds what the standard library's strict reader finds, or refuses."""

from __future__ import annotations

import csv
import io
import statistics
from pathlib import Path

import polars as pl
import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from pipeline.sources import pieces
from pipeline.sources.open import open_source

SPACE = " \t\r\n\u00a0"
PARTS = ["a", "1", ".5", " ", "\u00a0", "é", ",", ",", ",", "\n", "\n", "\r\n", "\r", '"', '"', '""', ",,", '"a b"']
ROW = st.sampled_from(["1,2,3", "1,2,3", "1,2,3,", "1,2,3,,", "1,2", ",,", "", '"a","b","c"', '1,"x\ny",3', "1,2,3,4"])
BODY = st.one_of(st.lists(st.sampled_from(PARTS), max_size=25).map("".join), st.lists(ROW, max_size=15).map("\n".join))


def by_the_book(body: str) -> tuple[list[tuple[object, ...]], list[tuple[int, tuple[str, ...]]], int] | None:
    """Good rows, ragged rows, number of blank rows; None when the strict reader refuses.

    A good row has three cells, or as many as the middle one of the rows that end in empty cells, if the third is filled
    in any row that long: separators at the end of every row are no cells, one cell too many is.
    """
    reader = csv.reader(io.StringIO("aa,bb,cc\n" + body, newline=""), strict=True, skipinitialspace=True)
    rows: list[tuple[int, list[str], list[str | None]]] = []
    next(reader)
    while True:
        line = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            break
        except csv.Error:
            return None
        rows.append((line, cells, [cell.strip(SPACE) or None for cell in cells]))
    filled = [row for row in rows if any(row[2])]
    fitting = [(len(cells), text[2]) for _, cells, text in filled if len(cells) >= 3 and not any(text[3:])]
    middle = statistics.median_low([width for width, _ in fitting]) if fitting else 3
    widths = {3, middle} if any(third for width, third in fitting if width == middle) else {3}
    good = [(line, *text[:3]) for line, cells, text in filled if len(cells) in widths and not any(text[3:])]
    ragged = [(line, tuple(c)) for line, c, text in filled if len(c) not in widths or any(text[3:])]
    return good, ragged, len(rows) - len(filled)


@settings(
    max_examples=500, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(body=BODY, block=st.sampled_from([48, 2**24]))
def test_dirty_text_reads_as_by_the_book(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, body: str, block: int
) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(("aa,bb,cc\n" + body).encode())
    monkeypatch.setattr(pieces, "BLOCK_BYTES", block)
    wanted = by_the_book(body)
    event("refused" if wanted is None else "read")

    source = open_source(path)

    if wanted is None:
        assert source.refused.startswith("Line ")
        return
    if block < 100 and "longer than" in source.refused:
        return  # the row does not fit the tiny block
    assert source.refused == ""
    (sheet,) = source.sheets
    good, ragged, blank = wanted
    frames = list(sheet.batches())
    assert (pl.concat(frames).rows() if frames else []) == good
    assert [(row.line, row.cells) for row in sheet.ragged] == ragged
    assert (sheet.blank, sheet.rows_read) == (blank, blank + len(good) + len(ragged))
