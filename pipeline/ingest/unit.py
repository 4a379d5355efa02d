"""One file's rows for one table, and everything that decides whether they go in."""

from __future__ import annotations

from dataclasses import dataclass, field

import polars as pl

from pipeline.parse.model import Interpretation
from pipeline.sources.model import RawSheet
from schemas.reports import REASON_SCHEMA

WHERE = ("sheet", "line")
"""What tells two rows of one file apart."""

SHEET_REASON_SCHEMA = {"sheet": pl.String(), **REASON_SCHEMA}


@dataclass(frozen=True)
class Part:
    """A sheet and how it is to be read."""

    sheet: RawSheet
    how: Interpretation


@dataclass(frozen=True)
class Unit:
    """All sheets of one file that hold the same table; keys must be unique within it.

    `file` is the path as given, `source_file` the name that rows remember. `mended` marks rows that come back
    from an export of the set-aside list.
    """

    table: str
    file: str
    source_file: str
    sha256: str
    parts: tuple[Part, ...]
    mended: bool = False

    @property
    def makes_ids(self) -> bool:
        """Whether the file has no brew_id of its own."""
        return any(part.how.make_brew_id for part in self.parts)

    @property
    def has_several_a_line(self) -> bool:
        """Whether one sheet row makes several rows, a score each."""
        return any(one.role == "score" for part in self.parts for one in part.how.columns)


@dataclass
class Outcome:
    """What became of a unit's rows.

    `rows` has sheet, line, status (taken, revised, known) and key_text of the rows that went in or were known;
    `reasons` has SHEET_REASON_SCHEMA for the others.
    """

    rows: pl.DataFrame = field(
        default_factory=lambda: pl.DataFrame(
            schema={"sheet": pl.String(), "line": pl.Int64(), "status": pl.String(), "key_text": pl.String()}
        )
    )
    reasons: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=SHEET_REASON_SCHEMA))
    notes: list[str] = field(default_factory=list)
    several_a_line: bool = False

    def fates(self) -> pl.DataFrame:
        """What became of each line: sheet, line, fate (taken, revised, known, aside).

        A sheet row that holds several scores is taken in when any of them is new.
        """
        aside = self.reasons.select(WHERE).unique().with_columns(fate=pl.lit("aside"))
        if not self.several_a_line:
            return pl.concat([self.rows.select(*WHERE, fate="status"), aside])
        ranks = pl.col("status").replace_strict({"known": 0, "taken": 1, "revised": 2}, return_dtype=pl.Int8)
        went = self.rows.group_by(WHERE, maintain_order=True).agg(ranks.max())
        words = pl.col("status").replace_strict({0: "known", 1: "taken", 2: "revised"}, return_dtype=pl.String)
        return pl.concat([went.select(*WHERE, fate=words), aside])


def without(rows: pl.DataFrame, reasons: pl.DataFrame) -> pl.DataFrame:
    """The rows that no reason speaks against."""
    if reasons.is_empty():
        return rows
    return rows.join(reasons.select(WHERE).unique(), on=WHERE, how="anti")
