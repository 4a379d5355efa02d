"""The workbook to fill in by hand: a sheet per table, ready to be handed to `ingest`."""

from __future__ import annotations

import math
from datetime import datetime
from pathlib import Path
from typing import Any

import xlsxwriter

from pipeline.template_examples import EXAMPLES, Cell
from pipeline.template_notes import READ_ME, header_note
from pipeline.template_rules import ROWS_TO_FILL, validation
from schemas.column import Column
from schemas.contracts import TABLES
from schemas.problem import ProblemError
from schemas.table import Table

READ_ME_WIDTH = 72
PAPER_A4 = 9
MADE = datetime(2026, 1, 1)
"""Fixed, so that the same release writes the same bytes."""
NUMBER_FORMATS = {
    "text": "@",
    "choice": "@",
    "boolean": "@",
    "number": "General",
    "integer": "0",
    "date": "yyyy-mm-dd",
    "time": "yyyy-mm-dd hh:mm",
}
WIDTHS = {"text": 16, "choice": 16, "boolean": 12, "number": 12, "integer": 11, "date": 13, "time": 18}
WIDE = {"notes": 36, "note": 36, "void_reason": 28, "changed": 28, "question": 28}

EXAMPLE_LOOK = {"italic": True, "font_color": "#7a4b00", "bg_color": "#fff6e5"}


def write_template(path: Path) -> None:
    """Write the fill-in workbook; an existing file is never overwritten."""
    if path.suffix.lower() != ".xlsx":
        raise ProblemError(f"{path} should end in .xlsx: the template is a workbook.")
    if path.exists():
        raise ProblemError(f"{path} exists already. Choose another name, or move that file away first.")
    if not path.parent.is_dir():
        raise ProblemError(f"There is no folder {path.parent}. Make it first, or choose another place.")
    try:
        book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
        book.set_properties({"title": "Brew trials: workbook to fill in", "created": MADE})
        _write_read_me(book)
        for table in TABLES.values():
            _write_table(book, table)
        book.close()
    except (OSError, xlsxwriter.exceptions.FileCreateError) as error:
        raise ProblemError(f"{path} cannot be written: {error}.") from error


def _write_read_me(book: Any) -> None:
    sheet = book.add_worksheet("Read me")
    sheet.hide_gridlines(2)
    sheet.set_column(0, 0, READ_ME_WIDTH)
    formats = {
        "title": book.add_format({"bold": True, "font_size": 16}),
        "heading": book.add_format({"bold": True, "font_size": 12, "top": 1, "top_color": "#808080"}),
        "text": book.add_format({"text_wrap": True, "valign": "top"}),
    }
    for row, (style, text) in enumerate(READ_ME):
        sheet.write_string(row, 0, text, formats[style])
        if style == "text":
            sheet.set_row(row, 15.5 * math.ceil(len(text) / (READ_ME_WIDTH - 6)))
    sheet.set_portrait()
    sheet.set_paper(PAPER_A4)


def _write_table(book: Any, table: Table) -> None:
    sheet = book.add_worksheet(table.name)
    sheet.freeze_panes(1, 1)
    sheet.set_row(0, 20)
    sheet.set_landscape()
    sheet.set_paper(PAPER_A4)
    sheet.repeat_rows(0)
    sheet.repeat_columns(0)
    for position, column in enumerate(table.columns.values()):
        _write_header(book, sheet, table, column, position)
        rule = validation(table, column)
        if rule:
            sheet.data_validation(1, position, ROWS_TO_FILL, position, rule)
        look = book.add_format({**EXAMPLE_LOOK, "num_format": NUMBER_FORMATS[column.kind]})
        for row, example in enumerate(EXAMPLES[table.name], start=1):
            _write_cell(sheet, row, position, example.get(column.name), look)
    last = xlsxwriter.utility.xl_rowcol_to_cell(ROWS_TO_FILL, len(table.columns) - 1)
    sheet.ignore_errors({"number_stored_as_text": f"A1:{last}"})


def _write_cell(sheet: Any, row: int, position: int, value: Cell | None, look: Any) -> None:
    """A typed cell: text stays text, so that leading zeros survive."""
    if value is None:
        sheet.write_blank(row, position, None, look)
    elif isinstance(value, datetime):
        sheet.write_datetime(row, position, value, look)
    elif isinstance(value, str):
        sheet.write_string(row, position, value, look)
    else:
        sheet.write_number(row, position, value, look)


def _write_header(book: Any, sheet: Any, table: Table, column: Column, position: int) -> None:
    required = column.name in table.required
    look = {"bold": True, "valign": "vcenter", "border": 1, "border_color": "#b0b0b0"}
    colours = {"bg_color": "#1f4e5f", "font_color": "#ffffff"} if required else {"bg_color": "#e6ecef"}
    width = max(WIDE.get(column.name, WIDTHS[column.kind]), len(column.name) + 3)
    sheet.set_column(position, position, width, book.add_format({"num_format": NUMBER_FORMATS[column.kind]}))
    sheet.write_string(0, position, column.name, book.add_format({**look, **colours}))
    sheet.write_comment(0, position, header_note(table, column), {"x_scale": 2, "y_scale": 1.6, "author": ""})
