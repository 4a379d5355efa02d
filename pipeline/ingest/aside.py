"""The list of rows set aside: how an entry is made, and when it leaves."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass

import polars as pl

from pipeline.ingest.draft import Draft
from pipeline.ingest.key_text import key_text_of_cells
from pipeline.ingest.own_cell import own_cell
from pipeline.ingest.unit import WHERE, Outcome, Part, Unit
from pipeline.parse.wire import to_json
from schemas.contracts import TABLES
from schemas.reports import SET_ASIDE_COLUMNS

HIDDEN = ("own_header", "key_text", "how_json", "sha256")
LIST_SCHEMA = {name: pl.Int64() if name == "line" else pl.String() for name in (*SET_ASIDE_COLUMNS, *HIDDEN)}
"""The list as kept: the public columns, then what mending a row needs."""

PLACE = ("source_file", "sheet", "line")
ALIKE_SHARE = 0.5
"""A row at the same place is the mended one when at least half of its filled cells are unchanged."""


def raw_rows(part: Part, lines: set[int]) -> dict[int, tuple[str, ...]]:
    """Cells of these lines as they stood, read again from the sheet."""
    found = {row.line: row.cells for row in part.sheet.ragged if row.line in lines}
    wanted = lines - found.keys()
    if wanted:
        for batch in part.sheet.batches():
            for line, *cells in batch.filter(pl.col("line").is_in(list(wanted))).iter_rows():
                found[line] = tuple(cell or "" for cell in cells)
    return found


def row_json(header: Iterable[str], cells: Iterable[str]) -> str:
    """The row as it stood: own header to own text; cells beyond the header are named by their place."""
    names, texts = list(header), list(cells)
    names += [f"cell {place}" for place in range(len(names) + 1, len(texts) + 1)]
    return json.dumps(dict(zip(names, texts, strict=False)), ensure_ascii=False)


def entries(unit: Unit, outcome: Outcome) -> pl.DataFrame:
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
            header, text = own_cell(part.how, row["column"], cells)
            by_name = dict(zip(part.how.header, cells, strict=False))
            own = {column: by_name.get(name, "") for column, name in headers.items()}
            made.append(
                {
                    **row,
                    "source_file": unit.source_file,
                    "value": text if header else row["value"],
                    "row_json": row_json(part.how.header, cells),
                    "own_header": header,
                    "key_text": key_text_of_cells(TABLES[unit.table], {**part.how.constants, **own}),
                    "how_json": how_json,
                    "sha256": unit.sha256,
                }
            )
    return pl.DataFrame(made, schema=LIST_SCHEMA)


@dataclass
class Asides:
    """The open list during one ingest: what comes, what leaves."""

    draft: Draft
    open: pl.DataFrame
    new: list[pl.DataFrame]
    left: list[pl.DataFrame]

    @classmethod
    def of(cls, draft: Draft) -> Asides:
        """Start from the list as the store has it."""
        frame = draft.list_frame("set_aside")
        return cls(draft, frame if frame.width else pl.DataFrame(schema=LIST_SCHEMA), [], [])

    def watches(self, table: str) -> bool:
        """Whether any entry of this table may leave when its key goes in."""
        return bool((self.open["table"] == table).any() or any((new["table"] == table).any() for new in self.new))

    def drop(self, rows: pl.DataFrame, on: list[str]) -> None:
        """Entries that agree with these rows on the named columns leave the list."""
        if self.open.is_empty() or rows.is_empty():
            return
        keys = rows.select(on).unique()
        self.left.append(self.open.join(keys, on=on, how="semi", nulls_equal=True))
        self.open = self.open.join(keys, on=on, how="anti", nulls_equal=True)

    def settle(self, unit: Unit, outcome: Outcome) -> None:
        """Entries whose row has now gone in leave; entries met again are replaced by today's reasons."""
        fresh = entries(unit, outcome)
        source, table = pl.lit(unit.source_file).alias("source_file"), pl.lit(unit.table).alias("table")
        if unit.mended:
            every = pl.concat([outcome.rows.select(WHERE), outcome.reasons.select(WHERE)])
            self.drop(every.with_columns(source, table), [*PLACE, "table"])
        self.drop(fresh, [*PLACE, "table", "row_json"])
        went_in = outcome.rows if unit.mended else outcome.rows.filter(pl.col("status") != "known")
        if not self.open.is_empty() and not went_in.is_empty():
            self.drop(went_in.filter(pl.col("key_text") != "").with_columns(table), ["table", "key_text"])
            self.drop(self._mended_in_place(unit, went_in), [*PLACE, "table", "row_json"])
        self.new.append(fresh)

    def _mended_in_place(self, unit: Unit, went_in: pl.DataFrame) -> pl.DataFrame:
        """Open entries of this file whose place now holds a row much like theirs that went in."""
        mine = self.open.filter((pl.col("source_file") == unit.source_file) & (pl.col("table") == unit.table))
        mine = mine.join(went_in.select(WHERE), on=WHERE, how="semi")
        keep = []
        for part in unit.parts:
            here = mine.filter(pl.col("sheet") == part.sheet.sheet)
            raw = raw_rows(part, set(here["line"].to_list())) if here.height else {}
            for row in here.iter_rows(named=True):
                now = json.loads(row_json(part.how.header, raw[row["line"]]))
                if alike(json.loads(row["row_json"]), now):
                    keep.append(row)
        return pl.DataFrame(keep, schema=LIST_SCHEMA)

    def write(self) -> None:
        """Put the list, and the list of entries that ever left it, into the draft."""
        now = pl.concat([self.open, *self.new]).unique(maintain_order=True)
        self.draft.set_list("set_aside", now.sort([*PLACE, "table", "column", "rule"], nulls_last=True))
        if any(not frame.is_empty() for frame in self.left):
            known = self.draft.list_frame("settled")
            gone = pl.concat([*([known] if known.width else []), *self.left]).unique(maintain_order=True)
            gone = gone.join(now, on=[*PLACE, "table", "row_json"], how="anti", nulls_equal=True)
            self.draft.set_list("settled", gone)


def alike(before: dict[str, str], now: dict[str, str]) -> bool:
    """Whether at least half of the cells filled before are unchanged.

    >>> alike({"a": "1", "b": "2", "c": "x"}, {"a": "1", "b": "2", "c": "3"})
    True
    >>> alike({"a": "1", "b": "2"}, {"a": "7", "b": "8"})
    False
    """
    filled = {name: text for name, text in before.items() if text}
    same = sum(now.get(name) == text for name, text in filled.items())
    return same >= ALIKE_SHARE * len(filled)
