"""The list of rows set aside: how an entry is made, and when it leaves."""

from __future__ import annotations

import json
from dataclasses import dataclass

import polars as pl

from pipeline.ingest.draft import Draft
from pipeline.ingest.key_text import key_text_of_cells
from pipeline.ingest.later_version import mended_in_place
from pipeline.ingest.own_cell import in_own_words, own_cell
from pipeline.ingest.raw_rows import raw_rows, row_json
from pipeline.ingest.unit import WHERE, Outcome, Unit, without
from pipeline.parse.wire import to_json
from schemas.contracts import TABLES
from schemas.reports import SET_ASIDE_COLUMNS

HIDDEN = ("own_header", "key_text", "how_json", "sha256", "since")
LIST_SCHEMA = {name: pl.Int64() if name == "line" else pl.String() for name in (*SET_ASIDE_COLUMNS, *HIDDEN)}
"""The list as kept: the public columns, then what mending a row needs; `since` puts entries in order of arrival."""

PLACE = ("source_file", "sheet", "line")
ROW = [*PLACE, "table", "row_json"]
"""What makes two entries speak of the same row as it stood."""


def entries(unit: Unit, outcome: Outcome, *, since: str) -> pl.DataFrame:
    """List entries (LIST_SCHEMA) for every reason of this unit's outcome."""
    made = []
    for part in unit.parts:
        mine = outcome.reasons.filter(pl.col("sheet") == part.sheet.sheet)
        if mine.is_empty():
            continue
        raw = raw_rows(part, set(mine["line"].to_list()))
        how_json = json.dumps(to_json(part.how), ensure_ascii=False, sort_keys=True)
        headers = {reading.column: reading.header for reading in part.how.columns}
        for row in mine.iter_rows(named=True):
            cells = raw[row["line"]]
            cell = own_cell(part.how, row["column"], cells)
            by_name = dict(zip(part.how.header, cells, strict=False))
            own = {column: by_name.get(name, "") for column, name in headers.items()}
            made.append(
                {
                    **row,
                    "source_file": unit.source_file,
                    "column": cell.column if cell else row["column"],
                    "value": cells[cell.position] if cell else row["value"],
                    "message": in_own_words(row["message"], row["column"], cell),
                    "fix": in_own_words(row["fix"], row["column"], cell),
                    "row_json": row_json(part.how.header, cells),
                    "own_header": cell.header if cell else "",
                    "key_text": key_text_of_cells(TABLES[unit.table], {**part.how.constants, **own}),
                    "how_json": how_json,
                    "sha256": unit.sha256,
                    "since": since,
                }
            )
    return pl.DataFrame(made, schema=LIST_SCHEMA)


@dataclass
class Asides:
    """The list during one ingest: entries that are open, and those that ever left it.

    A row that left the list, mended or replaced, does not come back when the file it stood in is read again.
    """

    draft: Draft
    open: pl.DataFrame
    settled: pl.DataFrame
    units: int = 0

    @classmethod
    def of(cls, draft: Draft) -> Asides:
        """Start from the lists as the store has them."""
        kept = [draft.list_frame(name) for name in ("set_aside", "settled")]
        open_ones, settled = (frame if frame.width else pl.DataFrame(schema=LIST_SCHEMA) for frame in kept)
        return cls(draft, open_ones, settled)

    def watches(self, table: str) -> bool:
        """Whether any entry of this table may leave when its key goes in."""
        return bool((self.open["table"] == table).any())

    def every(self) -> pl.DataFrame:
        """All entries, the open ones first."""
        return pl.concat([self.open, self.settled])

    def settle(self, unit: Unit, outcome: Outcome) -> None:
        """Entries whose row has now gone in leave; entries met again keep their place under today's reasons.

        Rows that left the list before count as known in the outcome.
        """
        self.units += 1
        fresh = entries(unit, outcome, since=f"{self.draft.manifest.number:08d}-{self.units:06d}")
        dealt_with = fresh.clear() if unit.mended else fresh.join(self.settled, on=ROW, how="semi")
        fresh = fresh.join(dealt_with, on=ROW, how="anti")
        _pass_over(dealt_with, outcome)
        met = self.open.join(fresh, on=ROW, how="semi")
        self.open = self.open.join(fresh, on=ROW, how="anti")
        source, table = pl.lit(unit.source_file).alias("source_file"), pl.lit(unit.table).alias("table")
        if unit.mended:
            every = pl.concat([outcome.rows.select(WHERE), outcome.reasons.select(WHERE)])
            self._drop(every.with_columns(source, table, sha256=pl.lit(unit.sha256)), [*PLACE, "table", "sha256"])
        elif not self.open.is_empty():
            self._drop(mended_in_place(unit, outcome, self.open, met), ROW)
        went_in = outcome.rows if unit.mended else outcome.rows.filter(pl.col("status") != "known")
        self._drop(went_in.filter(pl.col("key_text") != "").with_columns(table), ["table", "key_text"])
        self._add(fresh, met)

    def _drop(self, rows: pl.DataFrame, on: list[str]) -> None:
        """Entries that agree with these rows on the named columns leave the list."""
        if self.open.is_empty() or rows.is_empty():
            return
        keys = rows.select(on).unique()
        self.settled = pl.concat([self.settled, self.open.join(keys, on=on, how="semi")])
        self.open = self.open.join(keys, on=on, how="anti")

    def _add(self, fresh: pl.DataFrame, met: pl.DataFrame) -> None:
        """Put entries on the list; a row that was on it keeps the time of its first arrival."""
        if fresh.is_empty():
            return
        arrived = met.select(*ROW, first="since").unique(ROW)
        fresh = fresh.join(arrived, on=ROW, how="left").with_columns(since=pl.coalesce("first", "since"))
        self.open = pl.concat([self.open, fresh.select(self.open.columns)])
        self.settled = self.settled.join(fresh, on=ROW, how="anti")

    def write(self) -> None:
        """Put both lists into the draft."""
        order = [*PLACE, "table", "column", "rule", "since"]
        for name, frame in (("set_aside", self.open), ("settled", self.settled)):
            self.draft.set_list(
                name, frame.unique(maintain_order=True).sort(order, nulls_last=True, maintain_order=True)
            )


def _pass_over(dealt_with: pl.DataFrame, outcome: Outcome) -> None:
    """Rows that left the list before are known, whatever speaks against them as they stand in their old file."""
    where = dealt_with.select(WHERE).unique(maintain_order=True)
    if where.is_empty():
        return
    outcome.reasons = without(outcome.reasons, where)
    outcome.rows = pl.concat([outcome.rows, where.with_columns(status=pl.lit("known"), key_text=pl.lit(""))])
    outcome.notes.append(f"rows mended or replaced since they were set aside, and passed over: {where.height}")
