"""Second pass over a file: keys settled over all its rows, versions compared with the store, rows written."""

from __future__ import annotations

from dataclasses import dataclass, field

import polars as pl

from pipeline.ingest.draft import Draft
from pipeline.ingest.dropped_readings import dropped_readings
from pipeline.ingest.key_text import key_text
from pipeline.ingest.keys import against_store, within_file
from pipeline.ingest.made_ids import with_made_ids
from pipeline.ingest.parents import make_stubs
from pipeline.ingest.read_unit import ReadUnit
from pipeline.ingest.report import Stub
from pipeline.ingest.spool import Chunk
from pipeline.ingest.unit import WHERE, Outcome, Unit
from pipeline.store.model import Manifest
from schemas.contracts import TABLES


@dataclass
class _Told:
    """What writing a file gathers for the report."""

    notes: list[str]
    stubs: list[Stub] = field(default_factory=list)


def take_in(unit: Unit, read: ReadUnit, draft: Draft, *, keyed: bool) -> tuple[Outcome, list[Stub]]:
    """Put the rows that passed into the draft; say what became of each.

    `keyed` asks for the rows' keys as text, which only an open list of rows set aside has a use for.
    """
    table, base = TABLES[unit.table], draft.manifest
    chunks, notes = with_made_ids(read.chunks, unit, draft) if unit.makes_ids else (read.chunks, [])
    out = Outcome(notes=[*read.notes(), *notes], several_a_line=unit.has_several_a_line)
    told = _Told(out.notes)
    if not chunks.is_empty():
        found = within_file(table, chunks)
        known = found.repeats.select(*WHERE, status=pl.lit("known"), key_text=pl.lit(""))
        written = [
            _write(unit, Chunk(found.others(table, chunk.rows), chunk.readings), draft, base, told, keyed=keyed)
            for chunk in chunks
        ]
        out.rows = pl.concat([known, *written])
        read.reasons.append(found.clashes)
    out.reasons = pl.concat(read.reasons)
    chunks.close()
    return out, told.stubs


def _write(unit: Unit, chunk: Chunk, draft: Draft, base: Manifest, told: _Told, *, keyed: bool) -> pl.DataFrame:
    """Write what is new of one chunk; its rows with sheet, line, status and key_text."""
    versions = against_store(draft.store, base, unit.table, chunk.rows)
    fresh = versions.filter(pl.col("revision").is_not_null())
    told.stubs += make_stubs(fresh, unit.table, unit.source_file, draft)
    draft.add_rows(unit.table, fresh.with_columns(source_file=pl.lit(unit.source_file)))
    key = key_text(TABLES[unit.table]) if keyed else pl.lit("")
    status = versions.select(*WHERE, status=_status(), key_text=key)
    if chunk.readings is None:
        return status
    touched = _write_readings(unit, chunk.rows, chunk.readings, draft, base, told)
    if fresh.height == versions.height:
        return status
    known_but_touched = (pl.col("status") == "known") & pl.col("touched").is_not_null()
    return (
        status.join(touched.with_columns(touched=True), on=WHERE, how="left")
        .with_columns(status=pl.when(known_but_touched).then(pl.lit("revised")).otherwise("status"))
        .drop("touched")
    )


def _write_readings(
    unit: Unit, rows: pl.DataFrame, readings: pl.DataFrame, draft: Draft, base: Manifest, told: _Told
) -> pl.DataFrame:
    """Write the readings that stand in the brews' own rows; where any of them is new, changed or gone."""
    own = readings.drop("brew_id").join(rows.select(*WHERE, "brew_id"), on=WHERE)
    seen = against_store(draft.store, base, "readings", own)
    new = seen.filter(pl.col("revision").is_not_null())
    told.stubs += make_stubs(new, "readings", unit.source_file, draft)
    draft.add_rows("readings", new.with_columns(source_file=pl.lit(unit.source_file)))
    gone = dropped_readings(unit, rows, own, draft, base)
    draft.replace_versions("readings", gone)
    if gone.height:
        told.notes.append(f"readings that the log no longer has, taken out of its brews: {gone.height}")
    return pl.concat([new.select(WHERE), gone.select(WHERE)]).unique()


def _status() -> pl.Expr:
    """In words: known (no revision), taken (first version, or the first real row over a stub), revised."""
    return (
        pl.when(pl.col("revision").is_null())
        .then(pl.lit("known"))
        .when((pl.col("revision") == 0) | pl.col("over_stub"))
        .then(pl.lit("taken"))
        .otherwise(pl.lit("revised"))
    )
