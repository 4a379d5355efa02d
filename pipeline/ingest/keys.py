"""Which rows are the same row: repeats and clashes within a file, versions of a key in the store."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline.ingest.unit import SHEET_REASON_SCHEMA, WHERE
from pipeline.parse.say import reason
from pipeline.store.model import Manifest
from pipeline.store.read import all_versions
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.stubs import LACKS, is_stub
from schemas.table import Table

READINGS_ALIKE = "_readings"
"""Column of one hash over a row's inline readings, where it has any."""


@dataclass(frozen=True)
class WithinFile:
    """What the keys of one file say.

    `repeats` (sheet, line, key) are rows that agree with an earlier row in every value; `clashes`
    (SHEET_REASON_SCHEMA) are the reasons against rows of one key that differ.
    """

    repeats: pl.DataFrame
    clashes: pl.DataFrame


def narrow_keys(table: Table, rows: pl.DataFrame) -> pl.DataFrame:
    """Key columns, where the row stands, and `alike`, equal for rows that agree in every value.

    The hash lives for one run only and is compared only between rows of one key.
    """
    values = [*table.column_names, *(name for name in rows.columns if name == READINGS_ALIKE)]
    return rows.select(*table.key, *WHERE, alike=pl.struct(values).hash(seed=7))


def within_file(table: Table, keys: pl.DataFrame) -> WithinFile:
    """Settle repeated keys among all rows of one file (frames of `narrow_keys`, in reading order)."""
    key = pl.struct(table.key)
    many = keys.filter(key.is_duplicated()).with_columns(
        count=pl.len().over(key), kinds=pl.col("alike").n_unique().over(key), nth=pl.int_range(pl.len()).over(key)
    )
    repeats = many.filter((pl.col("kinds") == 1) & (pl.col("nth") > 0)).select(*WHERE, *table.key)
    return WithinFile(repeats, _clash_reasons(table, many.filter(pl.col("kinds") > 1)))


def _clash_reasons(table: Table, clashing: pl.DataFrame) -> pl.DataFrame:
    found = []
    for row in clashing.iter_rows(named=True):
        value = " / ".join("" if row[name] is None else str(row[name]) for name in table.key)
        message, fix = reason("key_clash", count=row["count"], value=value, column=", ".join(table.key))
        found.append((row["sheet"], row["line"], table.name, table.key[0], value, "key_clash", message, fix))
    return pl.DataFrame(found, schema=SHEET_REASON_SCHEMA, orient="row")


def against_store(store: Store, manifest: Manifest, table_name: str, rows: pl.DataFrame) -> pl.DataFrame:
    """Rows with `revision`: null when already known, 0 when new, n when they replace version n - 1.

    A row equal to any earlier version of its key is already known. `over_stub` marks rows that fill in a stub.
    """
    table = TABLES[table_name]
    key, values = list(table.key), list(table.column_names)
    stored = all_versions(store, manifest, table_name)
    wanted = rows.select(key).unique().lazy()
    seen = stored.select(key).join(wanted, on=key, how="semi", nulls_equal=True).collect()
    if seen.is_empty():
        return rows.with_columns(revision=pl.lit(0, pl.Int64()), over_stub=pl.lit(False))
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
