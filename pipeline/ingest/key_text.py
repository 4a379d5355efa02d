"""A row's key as one text, the same from parsed values and from the cells as they stood."""

from __future__ import annotations

import polars as pl

from schemas.table import Table

SEPARATOR = "\x1f"
DEFAULTS = {"sample_no": "1"}
COMPARABLE = ("text", "integer", "choice")


def key_text(table: Table) -> pl.Expr:
    """Key columns of typed rows joined to one text; empty where a key holds times or numbers.

    Only keys whose cells read the same before and after parsing can be compared as text.
    """
    if not has_key_text(table):
        return pl.lit("", pl.String())
    return pl.concat_str(
        [pl.col(name).cast(pl.String()).fill_null(DEFAULTS.get(name, "")) for name in table.key], separator=SEPARATOR
    )


def has_key_text(table: Table) -> bool:
    """Whether every key column of the table reads the same before and after parsing."""
    return all(table.columns[name].kind in COMPARABLE for name in table.key)


def key_text_of_cells(table: Table, cells: dict[str, str]) -> str:
    """The same text from the row's own cells by contract name; empty when a needed cell is missing."""
    if not has_key_text(table):
        return ""
    texts = [cells.get(name, "").strip() or DEFAULTS.get(name, "") for name in table.key]
    return SEPARATOR.join(texts) if texts[0] else ""
