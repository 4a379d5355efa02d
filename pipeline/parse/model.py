"""How one sheet is to be read, settled once and written down, and what reading it gives."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import polars as pl

Conversion = Literal[
    "",
    "fahrenheit",
    "ounces",
    "pounds",
    "kilograms",
    "milligrams",
    "minutes",
    "hours",
    "mm_ss",
    "fraction",
    "permille",
]
DateOrder = Literal["iso", "day_first", "month_first"]
DecimalMark = Literal[".", ","]


@dataclass(frozen=True)
class ColumnReading:
    """Own header at `position` is column `column` of `table`, its numbers converted by `conversion`.

    `reading_no` is set for inline readings (`tds_pct_2` is reading 2).
    """

    position: int
    header: str
    column: str
    conversion: Conversion = ""
    reading_no: int | None = None


@dataclass(frozen=True)
class Interpretation:
    """Everything settled about one sheet before its rows are parsed; JSON-serialisable, kept in the manifest."""

    table: str
    header: tuple[str, ...]
    columns: tuple[ColumnReading, ...]
    constants: dict[str, str] = field(default_factory=dict)
    decimal_mark: DecimalMark = "."
    date_order: DateOrder = "iso"
    date_order_settled: bool = True
    timezone: str = "UTC"
    inline_readings: bool = False
    make_brew_id: bool = False
    id_from: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class CannotInterpret:
    """Why no table could be made of a sheet. `refuse` is False when the sheet is merely reported and skipped."""

    reason: str
    refuse: bool = True


REASON_SCHEMA = {
    "line": pl.Int64(),
    "table": pl.String(),
    "column": pl.String(),
    "value": pl.String(),
    "rule": pl.String(),
    "message": pl.String(),
    "fix": pl.String(),
}
"""One row per (row, reason); `line` ties it to the raw row."""


@dataclass(frozen=True)
class Parsed:
    """One batch, parsed.

    `rows`: column `line`, every column of the table's contract with its dtype (null where absent), and for brews
    `brewed_at_is_date`; only rows without a reason. `readings`: the inline readings of those rows in the readings
    contract plus `line` (empty frame otherwise). `reasons`: REASON_SCHEMA, for the other rows.
    """

    rows: pl.DataFrame
    readings: pl.DataFrame
    reasons: pl.DataFrame
