"""Find the header among the first rows, and name its columns."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from statistics import median

from pipeline.sources.cells import BLANKS
from pipeline.sources.limits import MAX_COLUMNS, UnreadableError

IsHeader = Callable[[Sequence[str]], int]
"""Scores a row of cells as a header; 0 is no header, more is better."""

_MARKS = ",;|\"' "
_NUMBER_OR_DATE = re.compile(r"[-+]?[\d.,:/\-T ]*\d[\d.,:/\-+TZ %]*")


def tidy(cells: Sequence[str]) -> tuple[str, ...]:
    """Header cells on one line each: wrapped headers carry line ends that nobody sees."""
    return tuple(" ".join(cell.strip(BLANKS).split()) for cell in cells)


def find_header(rows: Sequence[Sequence[str]], is_header: IsHeader | None = None) -> int | None:
    """Index of the header row, None when no row looks like one.

    The caller's score decides where it gives one. Else: the first row with two or more cells that are not all numbers
    or dates, is no `#` comment, and fills at least half as many cells as rows usually do (a title line does not).
    A table of one column must be known to the caller.
    """
    tidied = [tidy(row) for row in rows]
    if is_header is not None and (best := _best_scored(tidied, is_header)) is not None:
        return best
    filled = [sum(map(bool, row)) for row in tidied]
    usual = median([count for count in filled if count] or [0])
    for index, row in enumerate(tidied):
        if _could_be(row) and filled[index] >= usual / 2 and not _is_comment(row):
            return index
    return _lone_column(tidied, is_header)


def _lone_column(rows: Sequence[Sequence[str]], is_header: IsHeader | None) -> int | None:
    """Index of the first filled row where it is one cell that the caller knows as a column."""
    for index, row in enumerate(rows):
        words = [cell for cell in row if cell]
        if words:
            return index if is_header is not None and len(words) == 1 and is_header(words) > 0 else None
    return None


def _best_scored(rows: Sequence[Sequence[str]], is_header: IsHeader) -> int | None:
    """Index of the row that scores best; a row most of whose cells are known ends the search."""
    best, best_score = None, 0
    for index, row in enumerate(rows):
        score = is_header(row) if _could_be(row) else 0
        if score > best_score:
            best, best_score = index, score
        if score * 2 > sum(map(bool, row)):
            break
    return best


def _could_be(row: Sequence[str]) -> bool:
    words = [cell for cell in row if cell.strip(_MARKS)]
    return len(words) >= 2 and not all(_NUMBER_OR_DATE.fullmatch(cell) for cell in words)


def _is_comment(row: Sequence[str]) -> bool:
    """A line that begins with `#`; a column that is called just `#` is no comment."""
    return row[0].startswith("#") and row[0] != "#"


def check_names(names: Sequence[str]) -> None:
    """Raise UnreadableError when two columns share a name, or there are too many."""
    if len(names) > MAX_COLUMNS:
        raise UnreadableError(f"The header has {len(names):,} columns; {MAX_COLUMNS:,} is the most a table may have.")
    twice = [name for name, count in Counter(name for name in names if name).items() if count > 1]
    if twice:
        where = "; ".join(f"{name!r} in columns {_places(names, name)}" for name in twice)
        raise UnreadableError(f"The header names a column more than once: {where}. Give each its own name.")


def _places(names: Sequence[str], name: str) -> str:
    found = [str(index) for index, other in enumerate(names, start=1) if other == name]
    return " and ".join([", ".join(found[:-1]), found[-1]])


def kept_columns(names: Sequence[str], filled: Callable[[int], bool]) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Positions and names of the columns to keep: an empty header cell over an empty column is left out.

    Over a column that holds something it is called 'column 7', counted from the left, from 1.
    """
    kept = tuple(index for index, name in enumerate(names) if name or filled(index))
    named = tuple(names[index] or f"column {index + 1}" for index in kept)
    check_names(named)
    return kept, named


def skipped_note(rows: Sequence[tuple[int, Sequence[str]]]) -> tuple[str, ...]:
    """Say which filled lines above the header were left out."""
    filled = [(line, [cell for cell in tidy(cells) if cell]) for line, cells in rows]
    filled = [(line, cells) for line, cells in filled if cells]
    if not filled:
        return ()
    line, cells = filled[0]
    first = " ".join(cells)
    shown = first if len(first) <= 60 else first[:59] + "…"
    if len(filled) == 1:
        return (f"Line {line} above the header was left out: {shown!r}.",)
    return (f"{len(filled)} lines above the header were left out, first line {line}: {shown!r}.",)
