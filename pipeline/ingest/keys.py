"""Which rows are the same row: repeats and clashes within a file, versions of a key in the store."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline.ingest.spool import Chunk, Spool
from pipeline.ingest.unit import SHEET_REASON_SCHEMA, WHERE, without
from pipeline.parse.say import reason
from pipeline.store.model import Manifest
from pipeline.store.read import all_versions
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.stubs import LACKS, is_stub
from schemas.table import Table

READINGS_ALIKE = "_readings"
"""Column of one hash over a row's inline readings."""
READING_VALUES = [name for name in TABLES["readings"].column_names if name != "brew_id"]


@dataclass(frozen=True)
class WithinFile:
    """What the keys of one file say.

    `repeats` (sheet, line, key) are rows that agree with an earlier row in every value; `clashes`
    (SHEET_REASON_SCHEMA) are the reasons against rows of one key that differ.
    """

    repeats: pl.DataFrame
    clashes: pl.DataFrame

    def others(self, table: Table, rows: pl.DataFrame) -> pl.DataFrame:
        """The rows that are neither."""
        rows = without(rows, self.clashes)
        if self.repeats.is_empty():
            return rows
        return rows.join(self.repeats, on=[*WHERE, *table.key], how="anti", nulls_equal=True)


def within_file(table: Table, chunks: Spool) -> WithinFile:
    """Settle repeated keys among all rows of one file, in reading order."""
    key = list(table.key)
    every = pl.concat([chunk.rows.select(key) for chunk in chunks])
    repeated = every.filter(every.is_duplicated()).unique()
    del every
    if repeated.is_empty():
        none = pl.DataFrame(schema={name: pl.String() if name == "sheet" else pl.Int64() for name in WHERE})
        return WithinFile(none, pl.DataFrame(schema=SHEET_REASON_SCHEMA))
    many = pl.concat([_alike(table, chunk, repeated) for chunk in chunks]).with_columns(
        count=pl.len().over(pl.struct(key)),
        kinds=pl.col("alike").n_unique().over(pl.struct(key)),
        nth=pl.int_range(pl.len()).over(pl.struct(key)),
    )
    repeats = many.filter((pl.col("kinds") == 1) & (pl.col("nth") > 0)).select(*WHERE, *key)
    return WithinFile(repeats, _clash_reasons(table, many.filter(pl.col("kinds") > 1)))


def _alike(table: Table, chunk: Chunk, repeated: pl.DataFrame) -> pl.DataFrame:
    """Rows of repeated keys, with `alike` equal for rows that agree in every value, their own readings' too.

    The hash lives for one run only and is compared only between rows of one key.
    """
    rows = chunk.rows.join(repeated, on=list(table.key), how="semi", nulls_equal=True)
    values = list(table.column_names)
    if chunk.readings is not None:
        rows, values = rows.join(readings_alike(chunk.readings), on=WHERE, how="left"), [*values, READINGS_ALIKE]
    return rows.select(*table.key, *WHERE, alike=pl.struct(values).hash(seed=7))


def _clash_reasons(table: Table, clashing: pl.DataFrame) -> pl.DataFrame:
    found = []
    for row in clashing.iter_rows(named=True):
        value = " / ".join("" if row[name] is None else str(row[name]) for name in table.key)
        message, fix = reason("key_clash", count=row["count"], value=value, column=", ".join(table.key))
        found.append((row["sheet"], row["line"], table.name, table.key[0], value, "key_clash", message, fix))
    return pl.DataFrame(found, schema=SHEET_REASON_SCHEMA, orient="row")


def readings_alike(readings: pl.DataFrame) -> pl.DataFrame:
    """One hash per row (sheet, line) over its inline readings, so that rows differing only there differ."""
    one = pl.struct(READING_VALUES).hash(seed=7)
    several = readings.group_by(WHERE, maintain_order=True).agg(one.alias(READINGS_ALIKE))
    return several.with_columns(pl.col(READINGS_ALIKE).hash(seed=7))


def against_store(store: Store, manifest: Manifest, table_name: str, rows: pl.DataFrame) -> pl.DataFrame:
    """Rows with `revision`: null when already known, 0 when new, n when they replace version n - 1.

    A row equal to any earlier version of its key is already known. `over_stub` marks rows that fill in a stub.
    """
    new = rows.with_columns(revision=pl.lit(0, pl.Int64()), over_stub=pl.lit(False))
    if table_name not in manifest.tables:
        return new
    table = TABLES[table_name]
    key, values = list(table.key), list(table.column_names)
    stored = all_versions(store, manifest, table_name)
    wanted = rows.select(key).unique().lazy()
    seen = stored.select(key).join(wanted, on=key, how="semi", nulls_equal=True).collect()
    if seen.is_empty():
        return new
    versions = stored.select(*values, "revision").join(wanted, on=key, how="semi", nulls_equal=True).collect()
    newest = versions.sort("revision").group_by(key).last()
    stub = is_stub(table_name) if table_name in LACKS else pl.lit(False)
    latest = newest.select(*key, pl.col("revision") + 1, over_stub=stub)
    same = rows.select(*WHERE, *values).join(versions, on=values, how="semi", nulls_equal=True)
    known = same.select(*WHERE, *key, is_known=True)
    return (
        rows.join(latest, on=key, how="left", nulls_equal=True)
        .join(known, on=[*WHERE, *key], how="left", nulls_equal=True)
        .with_columns(
            revision=pl.when(pl.col("is_known").is_null()).then(pl.col("revision").fill_null(0)),
            over_stub=pl.col("over_stub").fill_null(False),
        )
        .drop("is_known")
    )
