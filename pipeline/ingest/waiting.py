"""Rows that wait for a brew (or another id) to arrive, tried again at every ingest."""

from __future__ import annotations

from collections.abc import Callable

import polars as pl

from pipeline.ingest.aside import ROW, Asides
from pipeline.ingest.draft import Draft
from pipeline.ingest.key_text import SEPARATOR
from pipeline.ingest.parents import CODE_OF_SESSION, codes_known, parents_of
from pipeline.ingest.rebuilt import place_of, row_of, units_of
from pipeline.ingest.report import Retried
from pipeline.ingest.unit import Outcome, Unit
from schemas.contracts import TABLES

TASTING_KEY = TABLES["tastings"].key
WORDS = {"taken": "taken in", "revised": "revised", "known": "already known"}


def try_again(draft: Draft, asides: Asides, earlier: pl.DataFrame, take: Callable[[Unit], Outcome]) -> list[Retried]:
    """Take in what waited for ids that are all known by now; `earlier` are the entries from before this call.

    A row is read again from its own cells, so its readings come along and its key is settled as if it came today.
    """
    retried: list[Retried] = []
    for table in TABLES:
        rows = {place_of(entry): row_of(entry) for entry in _ready(table, draft, asides, earlier)}
        for unit in units_of(rows):
            outcome = take(unit)
            rules = {
                (sheet, line): rule for sheet, line, rule in outcome.reasons.select("sheet", "line", "rule").rows()
            }
            for sheet, line, fate in outcome.fates().sort("sheet", "line").iter_rows():
                said = WORDS.get(fate) or f"set aside: {rules[sheet, line]}"
                retried.append(Retried(table, unit.source_file, sheet, line, said))
    return retried


def _ready(table: str, draft: Draft, asides: Asides, earlier: pl.DataFrame) -> list[dict[str, object]]:
    """An entry of each row of this table that waits for nothing any more, those set aside first in front."""
    still = asides.open.filter(pl.col("table") == table).join(earlier.select(ROW).unique(), on=ROW, how="semi")
    parents = parents_of(table)
    known = [
        (pl.col("column") == column) & pl.col("value").is_in(draft.ids(parents[column]).implode())
        for column in still["column"].unique()
        if column in parents
    ]
    if "blind_code" in still["column"]:
        known.append(_has_a_key(draft))
    if not known:
        return []
    free = ((pl.col("rule") == "unknown_id") & pl.any_horizontal(known)).fill_null(False)
    ready = still.filter(free).join(still.filter(~free), on=ROW, how="anti").unique(ROW, maintain_order=True)
    return ready.sort("since", "sheet", "line").to_dicts()


def _has_a_key(draft: Draft) -> pl.Expr:
    """Whether the blind code of a score is in the key of its session by now; of any, where its own text tells none."""
    codes = codes_known(draft)
    cell = pl.col("key_text").str.split(SEPARATOR)
    session, code = (cell.list.get(TASTING_KEY.index(name), null_on_oob=True) for name in CODE_OF_SESSION)
    pairs = codes.select(pl.concat_str(CODE_OF_SESSION, separator=SEPARATOR))["session_id"]
    in_session = pl.concat_str(session, code, separator=SEPARATOR).is_in(pairs.implode())
    anywhere = (pl.col("key_text") == "") & pl.col("value").is_in(codes["blind_code"].implode())
    return (pl.col("column") == "blind_code") & (in_session | anywhere)
