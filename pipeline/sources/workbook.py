"""Read the visible sheets of a workbook, each as one table of text."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path

import polars as pl

from pipeline.sources.cells import cleaned
from pipeline.sources.header import IsHeader, find_header, kept_columns, skipped_note, tidy
from pipeline.sources.limits import BATCH_ROWS, UnreadableError
from pipeline.sources.model import RawSheet
from pipeline.sources.package import Package, SheetPart, open_package, read_package
from pipeline.sources.sheet_cells import SheetCells, read_cells


def read_workbook(
    path: Path, *, file: str, is_header: IsHeader | None = None
) -> tuple[tuple[RawSheet, ...], tuple[str, ...]]:
    """Sheets with a table, and notes on those without. Raises UnreadableError when no sheet can be read."""
    sheets: list[RawSheet] = []
    notes: list[str] = []
    with open_package(path) as archive:
        package = read_package(archive)
        for listed in package.sheets:
            read = _read_sheet(archive, listed, package, file, is_header)
            if isinstance(read, RawSheet):
                sheets.append(read)
            else:
                notes.append(read)
    if all(sheet.refused or sheet.skipped for sheet in sheets):
        reasons = [*(f"Sheet {sheet.sheet!r}: {sheet.refused or sheet.skipped}" for sheet in sheets), *notes]
        raise UnreadableError(" ".join(reasons) or "The workbook has no sheets.")
    return tuple(sheets), tuple(notes)


def _read_sheet(
    archive: zipfile.ZipFile, listed: SheetPart, package: Package, file: str, is_header: IsHeader | None
) -> RawSheet | str:
    """The sheet, or a note that says why it is no table."""
    if listed.hidden:
        return f"Sheet {listed.name!r} is hidden and was not read."
    if not listed.is_table:
        return f"Sheet {listed.name!r} holds a chart and was not read."
    try:
        cells = read_cells(archive, listed.part, package)
        if not cells.top:
            return f"Sheet {listed.name!r} is empty."
        index = find_header([_as_list(row) for _, row in cells.top], is_header)
        if index is None:
            return _no_table(file, listed.name, skipped="It has no header row (two or more names side by side).")
        return _sheet(file, listed.name, cells, index)
    except UnreadableError as error:
        return _no_table(file, listed.name, refused=str(error))


def _no_table(file: str, name: str, *, refused: str = "", skipped: str = "") -> RawSheet:
    return RawSheet(file, name, (), lambda: iter(()), 0, 0, typed=True, refused=refused, skipped=skipped)


def _as_list(row: dict[int, str]) -> list[str]:
    return [row.get(column, "") for column in range(max(row) + 1)]


def _sheet(file: str, name: str, cells: SheetCells, index: int) -> RawSheet:
    header_row, header = cells.top[index]
    names = tidy([header.get(column, "") for column in range(max(cells.filled) + 1)])
    kept, own = kept_columns(names, lambda column: cells.filled.get(column, 0) > header_row)
    frames = [_numbered(frame.filter(pl.col("line") > header_row), kept) for frame in cells.frames]

    def batches() -> Iterator[pl.DataFrame]:
        for frame in frames:
            yield from frame.iter_slices(BATCH_ROWS) if frame.height else ()

    rows_read = cells.last_row - header_row
    return RawSheet(
        file=file,
        sheet=name,
        header=own,
        batches=batches,
        rows_read=rows_read,
        blank=rows_read - sum(frame.height for frame in frames),
        typed=True,
        time_cells=tuple(new for new, old in enumerate(kept) if cells.clocks.get(old, 0) > header_row),
        notes=(
            *skipped_note([(row, _as_list(values)) for row, values in cells.top[:index]]),
            *_notes(cells, header_row, rows_read),
        ),
    )


def _numbered(frame: pl.DataFrame, kept: Sequence[int]) -> pl.DataFrame:
    columns = [
        pl.col(str(old)).alias(f"c{new}") if str(old) in frame.columns else pl.lit(None, pl.String).alias(f"c{new}")
        for new, old in enumerate(kept)
    ]
    return cleaned(frame.select("line", *columns))


def _notes(cells: SheetCells, header_row: int, rows_read: int) -> Iterator[str]:
    if not rows_read:
        yield "There are no rows below the header."
    formulas = [place for place in cells.uncalculated if place[0] > header_row]
    if formulas:
        yield (
            f"{_count(len(formulas), 'formula')} without a stored result (first: {cell_name(*formulas[0])}) read as "
            "empty. Open the workbook in a spreadsheet program, save it and hand it in again."
        )
    merged = [place for place in cells.merged if place[0] > header_row]
    if merged:
        yield (
            f"{_count(len(merged), 'merged range')}, first at {cell_name(*merged[0])}: only the first cell of each "
            "holds its value, the others are read as empty."
        )
    hidden = [row for row in cells.hidden_rows if row > header_row]
    if hidden:
        yield f"{_count(len(hidden), 'hidden row')} (first: row {hidden[0]}) read like the others."


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}{'' if number == 1 else 's'}"


def cell_name(row: int, column: int) -> str:
    """Name of a cell from its row (from 1) and column (from 0).

    >>> cell_name(5, 3), cell_name(1, 27)
    ('D5', 'AB1')
    """
    letters = ""
    number = column + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{row}"
