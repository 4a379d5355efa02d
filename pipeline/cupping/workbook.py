"""Score sheets as a workbook: a sheet for each assessor, drop-downs for every scale, columns of the tastings table."""

from __future__ import annotations

import re
from typing import Any

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name, xl_rowcol_to_cell

from pipeline.cupping.scales import Scale
from pipeline.cupping.sheet import CAUTIONS, ScoreSheet, ScoreSheets, instructions, steps_to_ingest
from pipeline.exports import ByteFile
from pipeline.run_sheet.workbook import GIVEN, HEAD, MADE, MAY, TYPE
from pipeline.template import NUMBER_FORMATS, PAPER_A4
from pipeline.template_rules import MESSAGE_LIMIT, validation
from schemas.contracts import TABLES

GIVEN_COLUMNS = ("position", "blind_code", "attribute")
TYPED = "score"
OPTIONAL = ("notes", "cup_temp_c")
LAST = ("served_as", "milk_g", "assessor", "session_id")
COLUMNS = (*GIVEN_COLUMNS, TYPED, *OPTIONAL, *LAST)
WIDTHS = {"notes": 34, "attribute": 24, "assessor": 18, "session_id": 20, "score": 10, "position": 9}
SCALES_SHEET = "Scales"
"""Hidden: the values of the drop-downs, as numbers, so that no decimal mark is read into them."""
TITLE_LIMIT = 32
NAME_ROOM = 18
NEXT_CUP = {"top": 2}


def write_workbook(sheets: ScoreSheets, file: ByteFile, name: str) -> None:
    """Write it; `name` is what the file will be called."""
    book = xlsxwriter.Workbook(file, {"strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"title": f"Score sheets of {sheets.session_id}", "created": MADE})
    pages = [book.add_worksheet(sheet_name(k, one.assessor)) for k, one in enumerate(sheets.sheets, start=1)]
    _write_how_to(book, sheets, name)
    lists = _write_scales(book, sheets.scales)
    for page, one in zip(pages, sheets.sheets, strict=True):
        _write_sheet(book, page, one, lists)
    book.close()


def sheet_name(place: int, assessor: str) -> str:
    """A name that Excel takes and that says tastings, whatever the assessor is called.

    >>> sheet_name(3, "Ana [brews]/?")
    '3 Ana brews tastings'
    """
    own = " ".join(re.sub(r"[^\w .-]", " ", assessor).split())[:NAME_ROOM].strip()
    return " ".join(part for part in (str(place), own, "tastings") if part)


def _write_scales(book: Any, scales: tuple[Scale, ...]) -> dict[str, str]:
    """The values of each scale in a column of their own; the ranges to refer to, by attribute."""
    page = book.add_worksheet(SCALES_SHEET)
    page.hide()
    ranges = {}
    for place, scale in enumerate(scales):
        for row, value in enumerate(scale.choices):
            page.write_number(row, place, value)
        if scale.choices:
            column = xl_col_to_name(place, col_abs=True)
            ranges[scale.attribute] = f"={SCALES_SHEET}!{column}$1:{column}${len(scale.choices)}"
    return ranges


def _write_sheet(book: Any, page: Any, sheet: ScoreSheet, lists: dict[str, str]) -> None:
    for place, name in enumerate(COLUMNS):
        dark = {"bg_color": "#1f4e5f", "font_color": "#ffffff"} if name == TYPED else {"bg_color": "#e6ecef"}
        page.write_string(0, place, name, book.add_format({**HEAD, **dark}))
        page.set_column(place, place, WIDTHS.get(name, 12))
    looks = {(name, first): _look(book, name, first=first) for name in COLUMNS for first in (True, False)}
    row = 0
    for position, code in enumerate(sheet.codes, start=1):
        for number, scale in enumerate(sheet.scales):
            row += 1
            _write_row(page, row, sheet, (position, code, scale), {n: looks[n, number == 0] for n in COLUMNS})
            page.data_validation(row, COLUMNS.index(TYPED), row, COLUMNS.index(TYPED), score_rule(scale, lists))
    table = TABLES["tastings"]
    for name in ("cup_temp_c", "milk_g"):
        page.data_validation(1, COLUMNS.index(name), row, COLUMNS.index(name), validation(table, table.columns[name]))
    page.freeze_panes(1, COLUMNS.index(TYPED) + 1)
    page.set_landscape()
    page.set_paper(PAPER_A4)
    page.fit_to_pages(1, 0)
    page.repeat_rows(0)
    page.set_selection(1, COLUMNS.index(TYPED), 1, COLUMNS.index(TYPED))
    page.ignore_errors({"number_stored_as_text": f"A1:{xl_rowcol_to_cell(row, len(COLUMNS) - 1)}"})


def _write_row(page: Any, row: int, sheet: ScoreSheet, what: tuple[int, str, Scale], looks: dict[str, Any]) -> None:
    """Text stays text, so that codes and names are read as they stand."""
    position, code, scale = what
    milk_g = sheet.milk_g if sheet.served_as == "milk" else None
    values: dict[str, str | float | None] = {
        "position": position, "blind_code": code, "attribute": scale.attribute, "served_as": sheet.served_as,
        "milk_g": milk_g, "assessor": sheet.assessor, "session_id": sheet.session_id,
    }  # fmt: skip
    for place, name in enumerate(COLUMNS):
        value = values.get(name)
        if value is None:
            page.write_blank(row, place, None, looks[name])
        elif isinstance(value, str):
            page.write_string(row, place, value, looks[name])
        else:
            page.write_number(row, place, value, looks[name])


def _look(book: Any, name: str, *, first: bool) -> Any:
    base = TYPE if name == TYPED else MAY if name in OPTIONAL else GIVEN
    edge = NEXT_CUP if first else {}
    return book.add_format({**base, **edge, "num_format": NUMBER_FORMATS[TABLES["tastings"].columns[name].kind]})


def score_rule(scale: Scale, lists: dict[str, str]) -> dict[str, Any]:
    """What the score's cell accepts: a drop-down where the scale has few values, else a number within it.

    Reserved scales stop what is off them, for it would not be taken in; others warn.
    """
    ends = f"{scale.low:g} to {scale.high:g}" if scale.low is not None and scale.high is not None else "a number"
    rule: dict[str, Any] = {
        "input_title": scale.attribute[:TITLE_LIMIT],
        "input_message": scale.meaning[:MESSAGE_LIMIT],
        "error_type": "stop" if scale.is_reserved else "warning",
        "error_title": "Off the scale"[:TITLE_LIMIT],
        "error_message": f"This scale takes {ends}: {scale.meaning}"[:MESSAGE_LIMIT],
    }
    if scale.attribute in lists:
        return {**rule, "validate": "list", "source": lists[scale.attribute]}
    low = -1e9 if scale.low is None else scale.low
    high = 1e9 if scale.high is None else scale.high
    return {**rule, "validate": "decimal", "criteria": "between", "minimum": low, "maximum": high}


def _write_how_to(book: Any, sheets: ScoreSheets, name: str) -> None:
    page = book.add_worksheet("How to")
    page.set_column(0, 0, 100)
    wrap = book.add_format({"text_wrap": True, "valign": "top"})
    served = sheets.sheets[0].served
    meanings = [f"{scale.attribute}: {scale.meaning}" for scale in sheets.scales]
    lines = (served, *instructions(), *meanings, steps_to_ingest(name), *CAUTIONS, sheets.caffeine)
    for row, line in enumerate(lines):
        page.write_string(row, 0, line, wrap)
