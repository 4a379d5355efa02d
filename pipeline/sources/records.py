"""Rows of text by the book: the standard library's strict reader, with each row's first physical line."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.sources.limits import UnreadableError
from pipeline.sources.streams import to_utf8


@dataclass(frozen=True, slots=True)
class Records:
    """Complete rows of a block: cells as they stand, first physical lines, and the bytes and lines they took.

    `code_page` are the physical lines among them that were Windows-1252.
    """

    rows: list[list[str]]
    lines: list[int]
    size: int
    line_count: int
    code_page: tuple[int, ...] = ()


def read_records(block: bytes, *, first_line: int, separator: str, final: bool, most: int | None = None) -> Records:
    """Read every complete row of `block` (at `most` so many); an unfinished last row is left for the next block.

    LF, CRLF and CR end a row outside quotes. Raises UnreadableError on a quote that does not close as it should.
    """
    raw = block.splitlines(keepends=True)
    if raw and not final and not raw[-1].endswith(b"\n"):
        raw.pop()  # cut short, or a CR whose LF comes with the next block
    text, changed = to_utf8(b"".join(raw))
    lines = list(io.StringIO(text.decode("utf-8"), newline=""))
    reader = csv.reader(lines, delimiter=separator, strict=True, skipinitialspace=True)
    rows: list[list[str]] = []
    starts: list[int] = []
    done = 0
    while most is None or len(rows) < most:
        try:
            row = next(reader)
        except StopIteration:
            break
        except csv.Error as error:
            at_end = reader.line_num == len(raw)
            if at_end and not final:
                break
            where = lines[done : reader.line_num]
            raise UnreadableError(_quote_reason(where, first_line + done, separator, str(error))) from error
        rows.append(row)
        starts.append(first_line + done)
        done = reader.line_num
    own = tuple(first_line + index for index in changed if index < done)
    return Records(rows, starts, size=sum(map(len, raw[:done])), line_count=done, code_page=own)


def _quote_reason(lines: Sequence[str], first_line: int, separator: str, error: str) -> str:
    """Name the line where the quote opened that the strict reader stumbled over in the last of `lines`."""
    opened, closed_early = _open_quote(lines, separator)
    where = first_line + opened
    if "field limit" in error:
        return f'Line {where}: a cell longer than {csv.field_size_limit():,} characters begins here. Is a " missing?'
    if closed_early:
        last = first_line + len(lines) - 1
        return (
            f"Line {where}: a quote opens here and closes in the middle of a cell on line {last}. "
            'Write a quote inside a quoted cell twice (""), or take the odd one out.'
        )
    return f'Line {where}: a quote opens here and is never closed. Add the missing " or take the odd one out.'


def _open_quote(lines: Sequence[str], separator: str) -> tuple[int, bool]:
    """Index of the line on which the last quoted cell of a row opens, and whether that cell closes too early."""
    text = "".join(lines)
    opened, position = 0, 0
    while position < len(text):
        begin = position + len(text[position:]) - len(text[position:].lstrip(" "))
        if text[begin : begin + 1] != '"':
            end = text.find(separator, position)
            if end < 0:
                break
            position = end + 1
            continue
        opened = text.count("\n", 0, begin)
        close = _closing(text, begin + 1)
        if close < 0 or text[close + 1 : close + 2] not in (separator, "\r", "\n", ""):
            return opened, close >= 0
        position = close + 2
    return opened, False


def _closing(text: str, position: int) -> int:
    """Where the quote closes that opened before `position`; -1 when it does not."""
    close = text.find('"', position)
    while close >= 0 and text[close + 1 : close + 2] == '"':
        close = text.find('"', close + 2)
    return close
