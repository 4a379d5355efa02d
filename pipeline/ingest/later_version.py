"""A corrected file handed in again: which open entries its rows are the mended ones of."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Mapping

import polars as pl

from pipeline.ingest.raw_rows import raw_rows, row_json
from pipeline.ingest.unit import WHERE, Outcome, Part, Unit
from pipeline.parse.one_header import column_of
from schemas.contracts import TABLES

ALIKE_SHARE = 0.5
"""A row at the same place is the mended one only when at least half of its filled cells are unchanged."""
MOST_LOST = 2
"""A ragged row is mended by joining or splitting cells: so many of its texts may be gone."""


def mended_in_place(unit: Unit, outcome: Outcome, open_entries: pl.DataFrame, again: pl.DataFrame) -> pl.DataFrame:
    """Open entries of this file whose place now holds their row corrected, or their very row without a reason.

    `again` (sheet, line) are rows met again that are still wrong. A file of the same name none of whose other rows was
    seen before is another file, not a later version: its rows are nobody's correction.
    """
    mine = open_entries.filter((pl.col("source_file") == unit.source_file) & (pl.col("table") == unit.table))
    rows = pl.concat([outcome.rows.select(*WHERE, "status"), outcome.reasons.select(*WHERE, status=pl.lit("aside"))])
    arrived = rows.filter(pl.col("status") != "known").select(WHERE).unique()
    mine = mine.join(arrived, on=WHERE, how="semi")
    if mine.is_empty():
        return mine
    others = rows.join(mine.select(WHERE).unique(), on=WHERE, how="anti")
    is_version = others.is_empty() or (others["status"] == "known").any() or again.height > 0
    kept = []
    for part in unit.parts:
        here = mine.filter(pl.col("sheet") == part.sheet.sheet)
        raw = raw_rows(part, set(here["line"].to_list())) if here.height else {}
        identity = _identity(part)
        for (line, before), group in here.group_by("line", "row_json", maintain_order=True):
            then, now = json.loads(str(before)), json.loads(row_json(part.how.header, raw[int(str(line))]))
            if then == now or (is_version and is_mended(then, now, identity=identity, entries=group)):
                kept.append(group)
    return pl.concat(kept) if kept else mine.clear()


def _identity(part: Part) -> set[str]:
    """Own headers that say which row it is: those of the key and of days and times."""
    table = part.how.table
    return {
        one.header
        for one in part.how.columns
        if one.role == "clock"
        or one.column in TABLES[table].key
        or (one.role == "value" and column_of(table, one.column).kind in ("date", "time"))
    }


def is_mended(
    before: Mapping[str, str], now: Mapping[str, str], *, identity: Collection[str], entries: pl.DataFrame
) -> bool:
    """Whether the row `now` is the row `before` with what its entries complain of put right."""
    filled = {name: text for name, text in before.items() if text}
    if "ragged_row" in entries["rule"]:
        lost = Counter(filled.values()) - Counter(now.values())
        return next(iter(before.values()), "") == next(iter(now.values()), "") and lost.total() <= MOST_LOST
    wrong = set(entries["own_header"])
    if any(now.get(name) != text for name, text in filled.items() if name in identity and name not in wrong):
        return False
    same = sum(now.get(name) == text for name, text in filled.items())
    return same >= ALIKE_SHARE * len(filled)
