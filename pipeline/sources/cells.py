"""Cells of text: what counts as blank, and what a row of cells is against its header."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import polars as pl

BLANKS = (
    "".join(chr(code) for code in (*range(9, 14), *range(28, 33), 0x85, 0xA0, 0x1680, *range(0x2000, 0x200C)))
    + "\u2028\u2029\u202f\u205f\u2060\u3000\ufeff"
)
"""White space of every width, stripped from both ends of a cell."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Widths in cells: `named` up to the last named header cell, `header` all header cells, `usual` most rows.

    `usual` is wider than `header` only where rows end in separators of their own; cells past `header` must be empty.
    """

    separator: str
    named: int
    header: int
    usual: int


RowKind = Literal["good", "blank", "ragged"]


def row_kind(cells: Sequence[str], shape: Shape) -> RowKind:
    """Good, blank, or ragged: any other width than the header's or the usual one is ragged.

    So is one extra empty cell: `18,5` in a file of commas pushes the cells behind it one place on.
    """
    filled = filled_up_to(cells)
    if not filled:
        return "blank"
    fits = shape.named <= len(cells) <= shape.header or len(cells) == shape.usual
    return "good" if fits and filled <= shape.header else "ragged"


def filled_up_to(cells: Sequence[str]) -> int:
    """Place of the last filled cell, counted from 1; 0 for a blank row."""
    return max((place for place, cell in enumerate(cells, start=1) if cell.strip(BLANKS)), default=0)


def fit(cells: Sequence[str], width: int) -> list[str]:
    """The cells of a good row at exactly `width`: only empty cells are ever added or left off."""
    return [*cells[:width], *[""] * (width - len(cells))]


def text_frame(lines: Sequence[int], rows: Sequence[Sequence[str]], width: int) -> pl.DataFrame:
    """Frame of `line` and `c0` to `c<width - 1>`, cells as they stand."""
    columns = list(zip(*rows, strict=True)) if rows else [()] * width
    data = {f"c{index}": pl.Series(columns[index], dtype=pl.String) for index in range(width)}
    return pl.DataFrame({"line": pl.Series(lines, dtype=pl.Int64), **data})


def cleaned(frame: pl.DataFrame, *, strip: bool = True) -> pl.DataFrame:
    """Strip white space around every cell and make empty ones null."""
    cells = pl.exclude("line")
    stripped = cells.str.strip_chars(BLANKS) if strip else cells
    return frame.with_columns(stripped.replace("", None))
