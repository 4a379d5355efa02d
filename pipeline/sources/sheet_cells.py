"""Read one sheet of a workbook cell by cell: only cells that exist cost anything, whatever the sheet claims to be."""

from __future__ import annotations

import math
import re
import zipfile
from dataclasses import dataclass, field
from functools import lru_cache
from xml.etree.ElementTree import Element

import polars as pl

from pipeline.sources.cells import BLANKS
from pipeline.sources.limits import MAX_COLUMNS, MAX_SHEET_TEXT, UnreadableError
from pipeline.sources.package import Package, plain, rich_text, tag, walk
from pipeline.sources.typed_cells import date_text, is_clock, look_of, number_text, padded, percent_text, time_text

_REFERENCE = re.compile(r"\$?([A-Z]{1,3})\$?([1-9]\d{0,6})")
_LAST_ROW, _LAST_COLUMN = 1_048_576, 16_384
_FLUSH_ROWS = 20_000
_TOP_ROWS = 50


@dataclass
class SheetCells:
    """The filled cells of a sheet; rows count from 1, columns from 0.

    `frames` hold `line` and a text column per column filled in them, named by its number; `top` the first filled rows.
    `filled` and `clocks` give each column's last row that held anything, or a clock time. `uncalculated` and `merged`
    are places of formulas without a stored result and of merged ranges.
    """

    frames: list[pl.DataFrame] = field(default_factory=list)
    top: list[tuple[int, dict[int, str]]] = field(default_factory=list)
    filled: dict[int, int] = field(default_factory=dict)
    clocks: dict[int, int] = field(default_factory=dict)
    uncalculated: list[tuple[int, int]] = field(default_factory=list)
    merged: list[tuple[int, int]] = field(default_factory=list)
    hidden_rows: list[int] = field(default_factory=list)
    last_row: int = 0
    text_length: int = 0


def read_cells(archive: zipfile.ZipFile, part: str, package: Package) -> SheetCells:
    """Every filled cell as text. Raises UnreadableError on too many columns or much text, ValueError on nonsense."""
    found = SheetCells()
    waiting: list[tuple[int, dict[int, str]]] = []
    cells: dict[int, str] = {}
    row = column = 0
    hidden = False
    with archive.open(part) as handle:
        for event, element in walk(handle, whole="c"):
            name = tag(element)
            if event == "start" and name == "row":
                before, row, column, cells = row, int(element.get("r", row + 1)), 0, {}
                hidden = element.get("hidden") in ("1", "true")
                if not before < row <= _LAST_ROW:
                    raise ValueError(f"row {row} after row {before}")
            elif event == "end" and name == "c":
                column = position(element.get("r", ""))[1] if element.get("r") else column
                text = _cell_text(element, package, found, (row, column))
                if text.strip(BLANKS):
                    cells[column] = text
                column += 1
            elif event == "end" and name == "row" and cells:
                _add_row(found, row, cells, hidden=hidden)
                waiting.append((row, cells))
                if len(waiting) >= _FLUSH_ROWS:
                    found.frames.append(_frame(waiting))
                    waiting = []
            elif event == "end" and name == "mergeCell":
                found.merged.append(position(element.get("ref", "").partition(":")[0]))
    if waiting:
        found.frames.append(_frame(waiting))
    return found


def position(reference: str) -> tuple[int, int]:
    """Row from 1 and column from 0 of a cell such as D5. Raises ValueError outside a sheet's bounds.

    >>> position("D5"), position("XFD1048576")
    ((5, 3), (1048576, 16383))
    """
    match = _REFERENCE.fullmatch(reference)
    if match is None:
        raise ValueError(reference)
    row, column = int(match[2]), _column_number(match[1])
    if row > _LAST_ROW or column > _LAST_COLUMN:
        raise ValueError(reference)
    return row, column - 1


@lru_cache(maxsize=2048)
def _column_number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


def _add_row(found: SheetCells, row: int, cells: dict[int, str], *, hidden: bool) -> None:
    if len(found.top) < _TOP_ROWS:
        found.top.append((row, cells))
    if hidden:
        found.hidden_rows.append(row)
    found.filled.update(dict.fromkeys(cells, row))
    found.last_row = row
    found.text_length += sum(map(len, cells.values()))
    if len(found.filled) > MAX_COLUMNS:
        raise UnreadableError(f"More than {MAX_COLUMNS:,} columns hold something. Keep one table to a sheet.")
    if found.text_length > MAX_SHEET_TEXT:
        raise UnreadableError("It holds more text than is read. Save it as CSV.")


def _frame(rows: list[tuple[int, dict[int, str]]]) -> pl.DataFrame:
    columns = sorted({column for _, cells in rows for column in cells})
    data = {str(column): pl.Series([cells.get(column) for _, cells in rows], dtype=pl.String) for column in columns}
    return pl.DataFrame({"line": pl.Series([row for row, _ in rows], dtype=pl.Int64), **data})


def _cell_text(cell: Element, package: Package, found: SheetCells, place: tuple[int, int]) -> str:
    kind = cell.get("t", "n")
    stored: str | None = None
    is_formula = False
    for child in cell:
        name = tag(child)
        if name == "v":
            stored = child.text or ("" if kind == "str" else None)
        elif name == "f":
            is_formula = True
        elif name == "is":
            return plain(rich_text(child))
    if stored is None:
        if is_formula:
            found.uncalculated.append(place)
        return ""
    if kind == "n":
        return _number(stored.strip(), cell.get("s"), package, found, place)
    return _other(kind, stored, package)


def _other(kind: str, stored: str, package: Package) -> str:
    if kind == "s":
        return package.texts[int(stored)]
    if kind == "b":
        return "true" if stored.strip() == "1" else "false"
    if kind == "d":
        return stored.removesuffix("Z").removesuffix("T00:00:00")
    return plain(stored)


def _number(stored: str, style: str | None, package: Package, found: SheetCells, place: tuple[int, int]) -> str:
    value = float(stored)
    if not math.isfinite(value):
        return stored
    number_format = package.formats[int(style)] if style and package.formats else "General"
    look = look_of(number_format)
    if look == "number":
        return padded(number_text(stored), number_format)
    if look == "percent":
        return percent_text(stored)
    if is_clock(value, number_format):
        found.clocks[place[1]] = place[0]
        return time_text(value)
    return date_text(value, from_1904=package.from_1904)
