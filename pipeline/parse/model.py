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
    "milliseconds",
    "mm_ss",
    "h_mm_ss",
    "clock_as_mm_ss",
    "clock_as_h_mm_ss",
    "fraction",
    "permille",
    "psi",
]
"""What makes a cell's number one of the contract's unit.

The two clock readings belong to workbook cells typed as clock times under a header that says mm:ss:
`clock_as_mm_ss` takes 00:28:00 for 28 s (somebody typed 0:28), `clock_as_h_mm_ss` takes 00:00:28 for 28 s.
"""
Role = Literal["value", "clock", "reading", "score"]
DateOrder = Literal["iso", "day_first", "month_first"]
DecimalMark = Literal[".", ","]


@dataclass(frozen=True)
class ColumnReading:
    """Own header at `position` is column `column`, its numbers converted by `conversion`.

    `role` says what becomes of the cells: a `value` of that column; a `clock` time that joins the date of brewed_at
    (`column` is then time_of_day); a `reading` of strength (`column` is tds_pct or tds_pct_2, `reading_no` its
    number); a `score` (`column` is the attribute's name). `doubt` and `remedy` are said of cells that are no numbers
    where most cells of the column look like another notation.
    """

    position: int
    header: str
    column: str
    conversion: Conversion = ""
    role: Role = "value"
    reading_no: int | None = None
    doubt: str = ""
    remedy: str = ""

    @property
    def contract_column(self) -> str:
        """The contract's column that the cells end up in."""
        return {"reading": "tds_pct", "score": "score", "clock": "brewed_at"}.get(self.role, self.column)


@dataclass(frozen=True)
class Combined:
    """An id made of several own columns, joined by `join`; empty where one of them is empty."""

    column: str
    positions: tuple[int, ...]
    join: str


@dataclass(frozen=True)
class Interpretation:
    """Everything settled about one sheet before its rows are parsed; JSON-serialisable, kept in the manifest.

    `words` holds own words for a column's choices; `missing` the marks that stand for an empty cell; `typed` says
    that the sheet's numbers and dates were written by a workbook. With `date_order` iso, a numeric date is read only
    where it has one reading (25.3.2026, 3.3.2026). Rows of a sheet with several scores share their `line`.
    """

    table: str
    header: tuple[str, ...]
    columns: tuple[ColumnReading, ...]
    constants: dict[str, str] = field(default_factory=dict)
    combined: tuple[Combined, ...] = ()
    words: dict[str, dict[str, str]] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    decimal_mark: DecimalMark = "."
    date_order: DateOrder = "iso"
    date_order_settled: bool = True
    timezone: str = "UTC"
    typed: bool = False
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


@dataclass(frozen=True)
class Parsed:
    """One batch, parsed.

    `rows`: column `line`, every column of the table's contract with its dtype (null where absent), and for brews
    `brewed_at_is_date`; only rows without a reason. `readings`: the inline readings of those rows in the readings
    contract plus `line` (empty frame otherwise). `reasons`: REASON_SCHEMA, for the other rows. Every line of the
    batch is in exactly one of `rows` and `reasons`. `counts`: what to tell of, in words, and how often it happened.
    """

    rows: pl.DataFrame
    readings: pl.DataFrame
    reasons: pl.DataFrame
    counts: dict[str, int] = field(default_factory=dict)
