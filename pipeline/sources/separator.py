"""Settle the separator and the header of a text file from its first lines."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.sources.cells import BLANKS, Shape, filled_up_to, row_kind
from pipeline.sources.header import IsHeader, find_header, tidy
from pipeline.sources.limits import UnreadableError
from pipeline.sources.records import Records, read_records

SEPARATORS = (",", ";", "\t", "|")
_SAMPLE_ROWS = 200
_WORTH_OF_THE_TOP = 0.5
_DECIMAL_COMMA = re.compile(r"\d,\d")
_DECLARED = re.compile(rb"\A\s*sep=([,;|\t])\s*\r?[\r\n]", re.IGNORECASE)


@dataclass(frozen=True)
class Layout:
    """Where the rows begin and how they are cut: `start` is the byte, `first_line` the line after the header."""

    header: tuple[str, ...]
    header_line: int
    above: tuple[tuple[int, list[str]], ...]
    shape: Shape
    start: int
    first_line: int


@dataclass(frozen=True)
class _Candidate:
    separator: str
    records: Records
    index: int
    rank: tuple[float, ...]


def find_layout(sample: bytes, *, whole: bool, is_header: IsHeader | None = None) -> Layout:
    """Separator, header and widths from the file's first bytes; `whole` says that the sample is all of the file.

    The separator whose header scores best wins; then one that leaves no other separator inside the header; then the
    one that cuts most rows to the header's width and leaves none inside the cells (decimal commas do not count),
    where a header at the very top counts as much as half of the rows; then the earlier header, the wider one.
    """
    declared = _DECLARED.match(sample)
    options = (declared[1].decode(),) if declared else SEPARATORS
    found = [candidate for separator in options if (candidate := _candidate(sample, separator, whole, is_header))]
    if not found:
        raise UnreadableError(_no_header_reason(sample, whole))
    return _layout(sample, max(found, key=lambda candidate: candidate.rank), whole)


def _candidate(sample: bytes, separator: str, whole: bool, is_header: IsHeader | None) -> _Candidate | None:
    records = _some_records(sample, separator, whole)
    index = find_header(records.rows, is_header)
    if index is None:
        return None
    header = tidy(records.rows[index])
    shape = _shape(header, records.rows[index + 1 :], separator)
    below = [row for row in records.rows[index + 1 :] if row_kind(row, shape) != "blank"]
    fitting = sum(row_kind(row, shape) == "good" for row in below) / len(below) if below else 1.0
    rows = [*records.rows[: index + 1], *below]
    foreign = sum(_has_foreign(row, separator) for row in rows) / len(rows)
    clean = not _has_foreign(header, separator)
    at_top = not any(map(any, map(tidy, records.rows[:index])))
    score = float(is_header(header)) if is_header else 0.0
    worth = fitting - foreign + _WORTH_OF_THE_TOP * at_top
    return _Candidate(separator, records, index, (score, clean, worth, -index, len(header)))


def _some_records(sample: bytes, separator: str, whole: bool) -> Records:
    """The first rows; up to the line before a bad quote, which reading the rows will name."""
    try:
        return read_records(sample, first_line=1, separator=separator, final=whole, most=_SAMPLE_ROWS)
    except UnreadableError:
        rows: list[list[str]] = []
        lines: list[int] = []
        size = count = 0
        while len(rows) < _SAMPLE_ROWS:
            try:
                one = read_records(sample[size:], first_line=count + 1, separator=separator, final=whole, most=1)
            except UnreadableError:
                break
            if not one.rows:
                break
            rows += one.rows
            lines += one.lines
            size += one.size
            count += one.line_count
        return Records(rows=rows, lines=lines, size=size, line_count=count)


def _has_foreign(row: Sequence[str], separator: str) -> bool:
    others = [other for other in SEPARATORS if other != separator]
    return any(other in _DECIMAL_COMMA.sub("", cell) for cell in row for other in others)


def _layout(sample: bytes, chosen: _Candidate, whole: bool) -> Layout:
    index, records = chosen.index, chosen.records
    head = read_records(sample, first_line=1, separator=chosen.separator, final=whole, most=index + 1)
    above = tuple(zip(records.lines[:index], records.rows[:index], strict=True))
    header = tidy(records.rows[index])
    return Layout(
        header=header,
        header_line=records.lines[index],
        above=above,
        shape=_shape(header, records.rows[index + 1 :], chosen.separator),
        start=head.size,
        first_line=head.line_count + 1,
    )


def _shape(header: Sequence[str], below: Sequence[Sequence[str]], separator: str) -> Shape:
    """Widths from the header; `usual` counts the separators that some programs put at the end of every row.

    They are told from cells pushed on by a comma too many: some row must fill the last named column.
    """
    named = filled_up_to(header)
    rows = [row for row in below if len(row) >= named and 0 < filled_up_to(row) <= len(header)]
    widths = sorted(map(len, rows))
    usual = max(len(header), widths[(len(widths) - 1) // 2] if widths else 0)
    if not any(row[named - 1].strip(BLANKS) for row in rows if len(row) == usual):
        usual = len(header)
    return Shape(separator, named, len(header), usual)


def _no_header_reason(sample: bytes, whole: bool) -> str:
    if not sample.strip(BLANKS.encode("utf-8")):
        return "The file holds nothing but blank lines."
    read_records(
        sample, first_line=1, separator=",", final=whole, most=_SAMPLE_ROWS
    )  # a bad quote is the better reason
    return (
        "No header row was found: no line near the top has two or more column names "
        "with a comma, semicolon, tab or bar between them."
    )
