"""Second pass over a file: keys settled over all its rows, versions compared with the store, rows written."""

from __future__ import annotations

import polars as pl

from pipeline.ingest.draft import Draft
from pipeline.ingest.key_text import key_text
from pipeline.ingest.keys import against_store, narrow_keys, within_file
from pipeline.ingest.made_ids import with_made_ids
from pipeline.ingest.parents import make_stubs
from pipeline.ingest.read_unit import ReadUnit
from pipeline.ingest.report import Stub
from pipeline.ingest.spool import Spool
from pipeline.ingest.unit import SHEET_REASON_SCHEMA, WHERE, Outcome, Unit
from pipeline.parse.say import reason
from schemas.contracts import TABLES
from schemas.table import Table

BREWS, READINGS = TABLES["brews"], TABLES["readings"]


def take_in(unit: Unit, read: ReadUnit, draft: Draft) -> tuple[Outcome, list[Stub]]:
    """Put the rows that passed into the draft; say what became of each."""
    table = TABLES[unit.table]
    readings = pl.concat(read.readings) if read.readings else None
    out = Outcome(waiting=read.waiting)
    rows = read.rows
    if unit.has_inline_readings and readings is not None:
        rows = _map(rows, lambda chunk: chunk.join(_readings_alike(readings), on=WHERE, how="left"))
    if unit.makes_ids:
        rows, out.notes = _name_brews(rows, unit)
    clash_reasons, repeats = _settle_keys(table, rows)
    stubs: list[Stub] = []
    settled = [repeats.with_columns(status=pl.lit("known"), key_text=pl.lit(""))]
    for chunk in rows:
        kept = chunk.join(clash_reasons.select(WHERE).unique(), on=WHERE, how="anti").join(
            repeats, on=WHERE, how="anti"
        )
        own = readings.join(kept.select(*WHERE, _id="brew_id"), on=WHERE) if readings is not None else None
        settled.append(_write(unit, kept, own, draft, stubs))
    out.rows = pl.concat(settled).select(out.rows.columns)
    out.reasons = pl.concat([*read.reasons, clash_reasons])
    return out, stubs


def _map(spool: Spool, change: object) -> Spool:
    changed = Spool()
    for chunk in spool:
        changed.add(change(chunk))  # type: ignore[operator]
    spool.close()
    return changed


def _readings_alike(readings: pl.DataFrame) -> pl.DataFrame:
    """One hash per row over its inline readings, so that rows differing only there are not the same row."""
    values = [name for name in READINGS.column_names if name != "brew_id"]
    return readings.group_by(WHERE, maintain_order=True).agg(_readings=pl.struct(values).hash(seed=7).implode().hash())


def _name_brews(rows: Spool, unit: Unit) -> tuple[Spool, list[str]]:
    chunks = list(rows)
    if not chunks:
        return rows, []
    named, notes = with_made_ids(pl.concat(chunks), unit)
    rows.close()
    out = Spool()
    out.add(named)
    return out, notes


def _settle_keys(table: Table, rows: Spool) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Reasons against clashing rows, and the places of rows written twice."""
    values = [*table.column_names]
    keys = [
        narrow_keys(
            table,
            chunk,
            alike=pl.struct([*values, *(["_readings"] if "_readings" in chunk.columns else [])]).hash(seed=7),
        )
        for chunk in rows
    ]
    none = pl.DataFrame(schema={"sheet": pl.String(), "line": pl.Int64()})
    if not keys:
        return pl.DataFrame(schema=SHEET_REASON_SCHEMA), none
    every = pl.concat(keys)
    found = within_file(table, every)
    clashing = found.clashes.join(every, on=WHERE)
    key = ", ".join(table.key)
    reasons = []
    for row in clashing.iter_rows(named=True):
        value = " / ".join("" if row[name] is None else str(row[name]) for name in table.key)
        message, fix = reason("key_clash", count=row["count"], value=value, column=key)
        reasons.append((row["sheet"], row["line"], table.name, table.key[0], value, "key_clash", message, fix))
    return pl.DataFrame(reasons, schema=SHEET_REASON_SCHEMA, orient="row"), found.repeats


def _write(
    unit: Unit, rows: pl.DataFrame, readings: pl.DataFrame | None, draft: Draft, stubs: list[Stub]
) -> pl.DataFrame:
    """Write what is new of one chunk; its rows with sheet, line, status and key_text."""
    table = TABLES[unit.table]
    versions = against_store(draft.store, draft.manifest, unit.table, rows)
    status = versions.select(*WHERE, "revision", "over_stub", key_text=key_text(table))
    fresh = versions.filter(pl.col("revision").is_not_null())
    stubs += make_stubs(fresh, unit.table, unit.source_file, draft)
    source = pl.lit(unit.source_file).alias("source_file")
    draft.add_rows(unit.table, fresh.with_columns(source))
    status = status.with_columns(status=_status(pl.col("revision")))
    if readings is None or readings.is_empty():
        return status.select(*WHERE, "status", "key_text")
    own = readings.with_columns(brew_id="_id").drop("_id")
    seen = against_store(draft.store, draft.manifest, "readings", own)
    new = seen.filter(pl.col("revision").is_not_null())
    stubs += make_stubs(new, "readings", unit.source_file, draft)
    draft.add_rows("readings", new.with_columns(source))
    touched = new.select(WHERE).unique().with_columns(touched=True)
    known_but_touched = (pl.col("status") == "known") & pl.col("touched").is_not_null()
    return (
        status.join(touched, on=WHERE, how="left")
        .with_columns(status=pl.when(known_but_touched).then(pl.lit("revised")).otherwise("status"))
        .select(*WHERE, "status", "key_text")
    )


def _status(revision: pl.Expr) -> pl.Expr:
    """In words: known (no revision), taken (first version, or the first real row over a stub), revised."""
    return (
        pl.when(revision.is_null())
        .then(pl.lit("known"))
        .when((revision == 0) | pl.col("over_stub"))
        .then(pl.lit("taken"))
        .otherwise(pl.lit("revised"))
    )
