"""The run sheet as a workbook: what to set on the left, five cells to type in the middle, the rest filled in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import xlsxwriter
from xlsxwriter.utility import xl_rowcol_to_cell

from analysis.planning.sheet import Cell, SheetRow
from pipeline.exports import ByteFile
from pipeline.run_sheet.sheet import CAUTIONS, RunSheet, instructions, steps_to_ingest
from pipeline.template import NUMBER_FORMATS, PAPER_A4
from pipeline.template_rules import validation
from schemas.column import Column
from schemas.contracts import TABLES
from schemas.run_sheet import PLANNED

MADE = datetime(2026, 1, 1)
"""Fixed, so that the same plan writes the same bytes."""
FIRST = ("brew_id", "session_id", "run_order", "coffee_id")
OPTIONAL = ("operator", "instrument_id", "scale_id", "brew_time_s", "notes")
LAST = ("study_id", "block", "method", "grinder_id", "discarded", "void_reason")
TYPE = {"bg_color": "#fff6e5", "border": 1, "border_color": "#b0b0b0"}
GIVEN = {"font_color": "#333333"}
PURGED = {"font_color": "#777777", "italic": True, "bg_color": "#eeeeee"}
HEAD = {"bold": True, "valign": "vcenter", "border": 1, "border_color": "#b0b0b0", "text_wrap": True}
MAY = {"border": 1, "border_color": "#d8d8d8"}
WIDTHS = {"brewed_at": 17, "channeling": 12, "notes": 30, "void_reason": 30, "brew_id": 20, "session_id": 16}


def columns_of(sheet: RunSheet) -> tuple[str, ...]:
    """The sheet's columns from left to right: what to set, what to type, what may be added, what is filled in."""
    asked = [name for name, _, _ in sheet.asked]
    set_too = [PLANNED[name] for name in asked if any(PLANNED[name] in row.cells for row in sheet.rows)]
    others = [name for row in sheet.rows for name in row.cells]
    return tuple(dict.fromkeys([*FIRST, *asked, *sheet.typed, *OPTIONAL, *set_too, *LAST, *others]))


def write_workbook(sheet: RunSheet, file: ByteFile, name: str) -> None:
    """Write the sheets "brews" and "How to"; `name` is what the file will be called."""
    book = xlsxwriter.Workbook(file, {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": sheet.title, "created": MADE})
    page = book.add_worksheet("brews")
    columns = columns_of(sheet)
    for place, column in enumerate(columns):
        _write_column(book, page, sheet, _column(column), place)
    _set_up(page, sheet, columns)
    _write_how_to(book, sheet, name)
    book.close()


def _column(name: str) -> Column:
    return TABLES["brews"].columns.get(name) or TABLES["readings"].columns[name]


def _write_column(book: Any, page: Any, sheet: RunSheet, column: Column, place: int) -> None:
    typed = column.name in sheet.typed
    dark = {"bg_color": "#1f4e5f", "font_color": "#ffffff"} if typed else {"bg_color": "#e6ecef"}
    page.write_string(0, place, column.name, book.add_format({**HEAD, **dark}))
    page.set_column(place, place, WIDTHS.get(column.name, max(11, len(column.name) + 2)))
    form = {"num_format": NUMBER_FORMATS[column.kind]}
    base = TYPE if typed else MAY if column.name in OPTIONAL else GIVEN
    look, purged = book.add_format({**base, **form}), book.add_format({**PURGED, **form})
    for row, line in enumerate(sheet.rows, start=1):
        _write_cell(page, row, place, line.cells.get(column.name), purged if line.purge else look)
    rule = _rule(column)
    if rule and (typed or column.name in OPTIONAL):
        page.data_validation(1, place, len(sheet.rows), place, rule)


def _rule(column: Column) -> dict[str, Any] | None:
    """What a cell accepts; no list of known ids, for their sheets are not in this workbook."""
    table = TABLES["brews"] if column.name in TABLES["brews"].columns else TABLES["readings"]
    return None if column.name in dict(table.parents) else validation(table, column)


def _write_cell(page: Any, row: int, place: int, value: Cell, look: Any) -> None:
    """A typed cell: text stays text, so that ids and dial settings keep their zeros."""
    if value is None:
        page.write_blank(row, place, None, look)
    elif isinstance(value, bool):
        page.write_string(row, place, "yes" if value else "no", look)
    elif isinstance(value, str):
        page.write_string(row, place, value, look)
    else:
        page.write_number(row, place, value, look)


def _set_up(page: Any, sheet: RunSheet, columns: tuple[str, ...]) -> None:
    page.freeze_panes(1, 1)
    page.set_row(0, 32)
    page.set_landscape()
    page.set_paper(PAPER_A4)
    page.fit_to_pages(1, 0)
    page.repeat_rows(0)
    page.set_selection(
        _first_brew(sheet.rows), columns.index("brewed_at"), _first_brew(sheet.rows), columns.index("brewed_at")
    )
    last = xl_rowcol_to_cell(len(sheet.rows), len(columns) - 1)
    page.ignore_errors({"number_stored_as_text": f"A1:{last}"})


def _first_brew(rows: Sequence[SheetRow]) -> int:
    return next((k for k, row in enumerate(rows, start=1) if not row.purge), 1)


def _write_how_to(book: Any, sheet: RunSheet, name: str) -> None:
    page = book.add_worksheet("How to")
    page.set_column(0, 0, 100)
    wrap = book.add_format({"text_wrap": True, "valign": "top"})
    lines = (sheet.title, *instructions(sheet), steps_to_ingest(name), *sheet.notes, *CAUTIONS, f"Seed {sheet.seed}.")
    for row, line in enumerate(lines):
        page.write_string(row, 0, line, wrap)
