"""Rows below a log that sum it up: set aside like any row that cannot be read, with a word of comfort as the fix."""

from __future__ import annotations

from collections.abc import Iterable

import polars as pl

from pipeline.parse.model import Interpretation
from schemas.contracts import TABLES

TOTALS = frozenset(("total", "totals", "sum", "average", "mean", "summe", "mittelwert"))
FIX = "If this is a totals row, delete it in your log, or leave it: it does no harm."


def sums_up(cells: Iterable[str | None]) -> bool:
    """Whether one of these cells names the row a total or a mean."""
    return any(cell is not None and cell.strip().rstrip(":").casefold() in TOTALS for cell in cells)


def with_totals_fix(reasons: pl.DataFrame, batch: pl.DataFrame, how: Interpretation) -> pl.DataFrame:
    """Reasons (REASON_SCHEMA) with another fix for rows whose first, date or id cell names them a total or a mean."""
    named = [f"c{position}" for position in _places(how) if f"c{position}" in batch.columns]
    rows = batch.filter(pl.col("line").is_in(reasons["line"].unique().implode())).select("line", *named)
    lines = [line for line, *cells in rows.iter_rows() if sums_up(cells)]
    if not lines:
        return reasons
    return reasons.with_columns(fix=pl.when(pl.col("line").is_in(lines)).then(pl.lit(FIX)).otherwise("fix"))


def _places(how: Interpretation) -> list[int]:
    """The first column, and those of dates, times and ids."""
    key = TABLES[how.table].key
    said = [
        one.position
        for one in how.columns
        if one.role == "clock" or one.column in key or one.column.endswith(("_id", "_at", "_on"))
    ]
    return sorted({0, *said})
