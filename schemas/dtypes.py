"""How each kind of column is held in a frame."""

from __future__ import annotations

import polars as pl

from schemas.column import Column, Kind
from schemas.derived_columns import PROVENANCE
from schemas.table import Table

TIME = pl.Datetime("us", "UTC")
DTYPE_OF_KIND: dict[Kind, pl.DataType] = {
    "text": pl.String(),
    "choice": pl.String(),
    "number": pl.Float64(),
    "integer": pl.Int64(),
    "boolean": pl.Boolean(),
    "date": pl.Date(),
    "time": TIME,
}
STORED_PROVENANCE = ("source_file", "sheet", "line", "commit_no", "revision")


def frame_schema(columns: list[Column]) -> dict[str, pl.DataType]:
    """Polars schema of these columns, in their order."""
    return {column.name: DTYPE_OF_KIND[column.kind] for column in columns}


def stored_schema(table: Table) -> dict[str, pl.DataType]:
    """Schema of a stored table: the contract's columns, then where each row came from.

    A stored brew also carries `brewed_at_is_date`.
    """
    by_name = {column.name: column for column in PROVENANCE}
    extra = (*STORED_PROVENANCE, "brewed_at_is_date") if table.name == "brews" else STORED_PROVENANCE
    return frame_schema([*table.columns.values(), *(by_name[name] for name in extra)])
