"""Which of a row's own cells a reason is about."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipeline.parse.model import ColumnReading, Interpretation
from schemas.plain import plain


def own_cell(how: Interpretation, column: str | None, cells: Sequence[str]) -> ColumnReading | None:
    """How the cell that holds `column` is read; None where no cell does.

    Where several readings stand in the row, a strength that is too high is said of the highest of them.
    """
    found = [one for one in how.columns if one.column == column and one.role == "value"]
    if not found and column:
        found = [one for one in how.columns if column in (one.column, "tds_pct") and one.role == "reading"]
    found = [one for one in found if one.position < len(cells)]
    return max(found, key=lambda one: _number(one, cells), default=None)


def in_own_words(text: str, column: str | None, cell: ColumnReading | None) -> str:
    """A sentence that names the user's own header instead of the contract's column, where the two differ."""
    if column is None or cell is None or plain(cell.header) == plain(column) or cell.header in text:
        return text
    return re.sub(rf"\b{re.escape(column)}\b", lambda _: cell.header, text)


def _number(one: ColumnReading, cells: Sequence[str]) -> float:
    try:
        return float(cells[one.position].replace(",", "."))
    except ValueError:
        return float("-inf")
