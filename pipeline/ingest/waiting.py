"""Rows that wait for a brew (or another id) to arrive, tried again at every ingest."""

from __future__ import annotations

import polars as pl

from pipeline.ingest.aside import PLACE, Asides
from pipeline.ingest.context import Context
from pipeline.ingest.draft import Draft
from pipeline.ingest.keys import against_store
from pipeline.ingest.parents import make_stubs, unknown_parents
from pipeline.ingest.read_unit import reasons_of_readings
from pipeline.ingest.report import Retried, Stub
from pipeline.ingest.unit import WHERE, Outcome, Unit, without
from schemas.contracts import TABLES


def list_name(table: str) -> str:
    """Name of the manifest list that keeps a table's waiting rows."""
    return f"waiting_{table}"


def keep_waiting(unit: Unit, outcome: Outcome, draft: Draft) -> None:
    """Add this unit's waiting rows to the list; the same place of the same file waits once."""
    known = draft.list_frame(list_name(unit.table))
    rows = [frame.with_columns(source_file=pl.lit(unit.source_file)) for frame in outcome.waiting]
    columns = ["source_file", *WHERE, *TABLES[unit.table].column_names]
    fresh = [frame.select(columns) for frame in rows]
    settled = pl.concat([*(frame.select(PLACE) for frame in fresh), _places(unit, outcome)])
    if known.width:
        fresh.insert(0, known.join(settled, on=PLACE, how="anti", nulls_equal=True).select(columns))
    if fresh:
        draft.set_list(list_name(unit.table), pl.concat(fresh))


def _places(unit: Unit, outcome: Outcome) -> pl.DataFrame:
    """Where every row of this unit stands that is no longer waiting."""
    return outcome.rows.select(pl.lit(unit.source_file).alias("source_file"), *WHERE)


def try_again(context: Context, asides: Asides, earlier: frozenset[str]) -> tuple[list[Retried], list[Stub]]:
    """Take in what waited for an id that is known by now; `earlier` names tables with rows from before this call."""
    retried: list[Retried] = []
    stubs: list[Stub] = []
    for table in TABLES:
        if table in earlier:
            _try_table(table, context, asides, retried, stubs)
    return retried, stubs


def _try_table(table: str, context: Context, asides: Asides, retried: list[Retried], stubs: list[Stub]) -> None:
    draft = context.draft
    waiting = draft.list_frame(list_name(table))
    if not waiting.width:
        return
    for (source_file,), rows in waiting.group_by("source_file", maintain_order=True):
        bad = unknown_parents(rows, table, context)
        ready = without(rows, bad)
        if ready.is_empty():
            continue
        found = reasons_of_readings(ready, context) if table == "readings" else bad.clear()
        versions = against_store(draft.store, draft.manifest, table, without(ready, found))
        fresh = versions.filter(pl.col("revision").is_not_null())
        stubs += make_stubs(fresh, table, str(source_file), draft)
        draft.add_rows(table, fresh)
        _settle(table, str(source_file), versions, found, asides, retried)
    draft.set_list(list_name(table), _still_unknown(waiting, table, context))


def _still_unknown(waiting: pl.DataFrame, table: str, context: Context) -> pl.DataFrame:
    kept = []
    for _, rows in waiting.group_by("source_file", maintain_order=True):
        unknown = unknown_parents(rows, table, context)
        kept.append(rows.join(unknown.select(WHERE).unique(), on=WHERE, how="semi"))
    return pl.concat(kept)


def _settle(
    table: str, source_file: str, versions: pl.DataFrame, found: pl.DataFrame, asides: Asides, retried: list[Retried]
) -> None:
    """Move list entries of rows that stopped waiting; note what came of each row."""
    place = pl.lit(source_file).alias("source_file")
    done = versions.select(place, *WHERE, "revision")
    asides.drop(done.with_columns(table=pl.lit(table)), [*PLACE, "table"])
    for _, sheet, line, revision in done.iter_rows():
        outcome = "already known" if revision is None else "taken in"
        retried.append(Retried(table, source_file, sheet, line, outcome))
    if found.is_empty():
        return
    renamed = found.with_columns(place)
    old = asides.open.filter(pl.col("table") == table).join(renamed.select(PLACE), on=PLACE, how="semi")
    asides.drop(renamed.select(*PLACE, "table"), [*PLACE, "table"])
    words = ["column", "value", "rule", "message", "fix"]
    asides.new.append(
        old.drop(words).unique().join(renamed.select(*PLACE, *words), on=PLACE).select(asides.open.columns)
    )
    retried += [
        Retried(table, source_file, row["sheet"], row["line"], f"set aside: {row['rule']}")
        for row in found.iter_rows(named=True)
    ]
