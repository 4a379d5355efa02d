"""One frame as one sheet of a workbook: text stays text, numbers stay numbers, the same frame gives the same bytes."""

from __future__ import annotations

import datetime as dt
from io import BufferedWriter, BytesIO
from typing import Any

import polars as pl
import xlsxwriter

from schemas.problem import ProblemError

MAX_ROWS = 1_048_575
MAX_CELL_CHARACTERS = 32_767
MAX_WIDTH = 60
MADE_ON = dt.datetime(2000, 1, 1)
"""The same in every workbook: the clock has no place in an output."""


def write_workbook(frame: pl.DataFrame, file: BufferedWriter | BytesIO, *, timezone: str = "UTC") -> None:
    """Write the frame with its header frozen; times are the zone's clock times."""
    _must_fit(frame)
    options = {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    book = xlsxwriter.Workbook(file, options)
    book.set_properties({"created": MADE_ON})
    looks = {
        "head": book.add_format({"bold": True, "bottom": 1}),
        "date": book.add_format({"num_format": "yyyy-mm-dd"}),
        "time": book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"}),
    }
    sheet = book.add_worksheet()
    sheet.freeze_panes(1, 0)
    local = _local(frame, timezone)
    for place, name in enumerate(local.columns):
        sheet.set_column(place, place, _width(local[name]))
    for place, name in enumerate(local.columns):
        sheet.write_string(0, place, name, looks["head"])
    for line, row in enumerate(local.iter_rows(), start=1):
        for place, value in enumerate(row):
            _write(sheet, line, place, value, looks)
    book.close()


def _must_fit(frame: pl.DataFrame) -> None:
    if frame.height > MAX_ROWS:
        raise ProblemError(f"{frame.height:,} rows do not fit into a workbook ({MAX_ROWS:,} at most). Use csv.")
    for name, kind in frame.schema.items():
        longest = frame[name].str.len_chars().max() if kind == pl.String else None
        if isinstance(longest, int) and longest > MAX_CELL_CHARACTERS:
            raise ProblemError(
                f"A text in {name} has {longest:,} characters; a workbook cell holds {MAX_CELL_CHARACTERS:,}. Use csv."
            )


def _local(frame: pl.DataFrame, timezone: str) -> pl.DataFrame:
    zoned = [name for name, kind in frame.schema.items() if isinstance(kind, pl.Datetime) and kind.time_zone]
    return frame.with_columns(pl.col(zoned).dt.convert_time_zone(timezone).dt.replace_time_zone(None))


def _width(column: pl.Series) -> float:
    longest = (
        column.head(200).cast(pl.String(), strict=False).str.len_chars().max() if column.dtype == pl.String else 12
    )
    return min(MAX_WIDTH, max(len(column.name), longest if isinstance(longest, int) else 0) + 2)


def _write(sheet: Any, line: int, place: int, value: object, looks: dict[str, Any]) -> None:
    if value is None:
        return
    if isinstance(value, bool):
        sheet.write_boolean(line, place, value)
    elif isinstance(value, dt.date) and value.year >= 1900:
        sheet.write_datetime(line, place, value, looks["time" if isinstance(value, dt.datetime) else "date"])
    elif isinstance(value, int | float) and abs(value) < 1e15:
        sheet.write_number(line, place, value)
    else:
        sheet.write_string(line, place, str(value))
