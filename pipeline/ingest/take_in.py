"""Second pass over a file: keys settled over all its rows, versions compared with the store, rows written."""

from __future__ import annotations

import polars as pl

from pipeline.ingest.draft import Draft
from pipeline.ingest.key_text import key_text
from pipeline.ingest.keys import READINGS_ALIKE, against_store, narrow_keys, within_file
from pipeline.ingest.made_ids import with_made_ids
from pipeline.ingest.parents import make_stubs
from pipeline.ingest.read_unit import ReadUnit
from pipeline.ingest.report import Stub
from pipeline.ingest.spool import Spool
from pipeline.ingest.unit import WHERE, Outcome, Unit, without
from pipeline.store.model import Manifest
from schemas.contracts import TABLES

READING_VALUES = [name for name in TABLES["readings"].column_names if name != "brew_id"]
STATUS = ("status", "key_text")


def take_in(unit: Unit, read: ReadUnit, draft: Draft) -> tuple[Outcome, list[Stub]]:
    """Put the rows that passed into the draft; say what became of each."""
    table, base = TABLES[unit.table], draft.manifest
    readings = pl.concat(read.readings) if read.readings else None
    rows, notes = _whole(unit, read.rows, readings)
    keys = [narrow_keys(table, chunk) for chunk in rows]
    out = Outcome(waiting=read.waiting, notes=[*read.notes(), *notes])
    stubs: list[Stub] = []
    if keys:
        found = within_file(table, pl.concat(keys))
        place = [*WHERE, *table.key]
        settled = [
            found.repeats.select(*WHERE, status=pl.lit("known"), key_text=pl.lit("")),
            *(
                _write(
                    unit,
                    without(chunk, found.clashes).join(found.repeats, on=place, how="anti", nulls_equal=True),
                    readings,
                    draft,
                    base,
                    stubs,
                )
                for chunk in rows
            ),
        ]
        out.rows = pl.concat(settled)
        read.reasons.append(found.clashes)
    out.reasons = pl.concat(read.reasons)
    rows.close()
    return out, stubs


def _whole(unit: Unit, rows: Spool, readings: pl.DataFrame | None) -> tuple[Spool, list[str]]:
    """Rows with the hash of their inline readings, and with names where the log gives them none."""
    if readings is None and not unit.makes_ids:
        return rows, []
    chunks = list(rows)
    if not chunks:
        return rows, []
    if readings is not None:
        alike = _readings_alike(readings)
        chunks = [chunk.join(alike, on=WHERE, how="left") for chunk in chunks]
    notes: list[str] = []
    if unit.makes_ids:
        named, notes = with_made_ids(pl.concat(chunks), unit)
        chunks = [named]
    rows.close()
    out = Spool()
    for chunk in chunks:
        out.add(chunk)
    return out, notes


def _readings_alike(readings: pl.DataFrame) -> pl.DataFrame:
    """One hash per row over its inline readings, so that rows differing only there are not the same row."""
    one = pl.struct(READING_VALUES).hash(seed=7)
    return (
        readings.group_by(WHERE, maintain_order=True)
        .agg(one.alias(READINGS_ALIKE))
        .with_columns(pl.col(READINGS_ALIKE).hash(seed=7))
    )


def _write(
    unit: Unit, rows: pl.DataFrame, readings: pl.DataFrame | None, draft: Draft, base: Manifest, stubs: list[Stub]
) -> pl.DataFrame:
    """Write what is new of one chunk; its rows with sheet, line, status and key_text."""
    versions = against_store(draft.store, base, unit.table, rows)
    fresh = versions.filter(pl.col("revision").is_not_null())
    stubs += make_stubs(fresh, unit.table, unit.source_file, draft)
    source = pl.lit(unit.source_file).alias("source_file")
    draft.add_rows(unit.table, fresh.with_columns(source))
    status = versions.select(*WHERE, status=_status(), key_text=key_text(TABLES[unit.table]))
    if readings is None:
        return status
    own = readings.drop("brew_id").join(rows.select(*WHERE, "brew_id"), on=WHERE)
    seen = against_store(draft.store, base, "readings", own)
    new = seen.filter(pl.col("revision").is_not_null())
    stubs += make_stubs(new, "readings", unit.source_file, draft)
    draft.add_rows("readings", new.with_columns(source))
    touched = new.select(WHERE).unique().with_columns(touched=True)
    known_but_touched = (pl.col("status") == "known") & pl.col("touched").is_not_null()
    return (
        status.join(touched, on=WHERE, how="left")
        .with_columns(status=pl.when(known_but_touched).then(pl.lit("revised")).otherwise("status"))
        .select(*WHERE, *STATUS)
    )


def _status() -> pl.Expr:
    """In words: known (no revision), taken (first version, or the first real row over a stub), revised."""
    return (
        pl.when(pl.col("revision").is_null())
        .then(pl.lit("known"))
        .when((pl.col("revision") == 0) | pl.col("over_stub"))
        .then(pl.lit("taken"))
        .otherwise(pl.lit("revised"))
    )
