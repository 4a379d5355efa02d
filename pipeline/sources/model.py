"""What opening a file yields: sheets of text rows, or a reason why not."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl


@dataclass(frozen=True)
class RaggedRow:
    """A row whose number of cells differs from the header's; `cells` as they stood."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class RawSheet:
    """One table of text: a text file, or one visible sheet of a workbook.

    `batches()` may be called more than once; each call yields frames with column `line` (Int64, header = 1, a
    row's first physical line) and text columns `c0`, `c1`, ... (String; null where the cell is empty or blank).
    Blank and ragged rows are not in the batches. `rows_read` counts every row below the header: batch rows,
    ragged and blank. `typed` is set for a workbook: its numbers are written with a point, its dates as ISO, and a
    number that was shown as a percentage with its sign ("1.35%", stored as 0.0135).
    `time_cells` names header positions whose cells were typed as clock times or durations in a workbook.
    `refused` is set for a sheet that cannot be read (a header named twice) in a workbook whose others can, `skipped`
    for a visible one that holds no table.
    """

    file: str
    sheet: str
    header: tuple[str, ...]
    batches: Callable[[], Iterator[pl.DataFrame]]
    rows_read: int
    blank: int
    ragged: tuple[RaggedRow, ...] = ()
    typed: bool = False
    time_cells: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()
    refused: str = ""
    skipped: str = ""


@dataclass(frozen=True)
class Source:
    """One file as handed in. `refused` is the reason when nothing in it could be read."""

    file: str
    path: Path
    sha256: str
    sheets: tuple[RawSheet, ...] = ()
    refused: str = ""
    notes: tuple[str, ...] = field(default=())
