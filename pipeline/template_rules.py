"""What the cells of the fill-in workbook accept: drop-downs, and warnings for numbers and dates."""

from __future__ import annotations

from datetime import date
from typing import Any

from pipeline.template_notes import limit_words
from schemas.column import Column
from schemas.table import Table

ROWS_TO_FILL = 1000
MESSAGE_LIMIT = 255
"""Excel cuts messages, and the words of a list, at this length."""


def validation(table: Table, column: Column) -> dict[str, Any] | None:
    """Options of the column's data validation, or None where anything goes."""
    parent = dict(table.parents).get(column.name) or ("attributes" if _judged(table, column) else None)
    if parent:
        return _known_ids(parent)
    if column.kind == "choice":
        return _list(column.choices, "stop", f"One of: {', '.join(column.choices)}")
    if column.kind == "boolean":
        return _list(("yes", "no"), "stop", "Write yes or no, or leave the cell empty.")
    if column.kind in ("number", "integer"):
        return _number(column)
    if column.kind in ("date", "time"):
        return {
            "validate": "date",
            "criteria": ">=",
            "value": date(2000, 1, 1),
            "error_type": "warning",
            "error_title": column.name,
            "error_message": "This is not a date that the sheet understands. Write it as 2026-03-02.",
        }
    return None


def _judged(table: Table, column: Column) -> bool:
    return table.name == "tastings" and column.name == "attribute"


def _list(words: tuple[str, ...], error_type: str, message: str) -> dict[str, Any]:
    return {
        "validate": "list",
        "source": list(words),
        "error_type": error_type,
        "error_title": "Not on the list",
        "error_message": message[:MESSAGE_LIMIT],
    }


def _known_ids(parent: str) -> dict[str, Any]:
    return {
        "validate": "list",
        "source": f"={parent}!$A$2:$A${ROWS_TO_FILL + 1}",
        "error_type": "information",
        "error_title": "New here",
        "error_message": f"This is not on the sheet {parent} yet. That is fine if you add it there.",
    }


def _number(column: Column) -> dict[str, Any]:
    kind = "integer" if column.kind == "integer" else "decimal"
    rule: dict[str, Any] = {"validate": kind, "error_type": "warning", "error_title": column.name}
    what = "a whole number" if kind == "integer" else "a number"
    limits = limit_words(column)
    rule["error_message"] = f"This should be {what}{', ' + limits if limits else ''}. Other rows are not taken in."
    if column.above is not None and column.high is None:
        return {**rule, "criteria": ">", "value": column.above}
    if column.low is not None and column.high is None:
        return {**rule, "criteria": ">=", "value": column.low}
    low = next((bound for bound in (column.low, column.above) if bound is not None), -1e9)
    return {**rule, "criteria": "between", "minimum": low, "maximum": 1e9 if column.high is None else column.high}
