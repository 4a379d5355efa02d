"""Which rows are the same row: clashes within a file, and versions of a key in the store."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipeline.ingest.unit import WHERE
from pipeline.store.model import Manifest
from pipeline.store.read import all_versions
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.stubs import LACKS, is_stub
from schemas.table import Table


def narrow_keys(table: Table, rows: pl.DataFrame, *, alike: pl.Expr | None = None) -> pl.DataFrame:
    """Key columns, where the row stands, and `alike`, equal for rows that agree in every value.

    The hash lives for one run only and is compared only between rows of one key.
    """
    same = alike if alike is not None else pl.struct(table.column_names).hash(seed=7)
    return rows.select(*table.key, *WHERE, alike=same)


@dataclass(frozen=True)
class WithinFile:
    """Rows of one file that repeat a key: `repeats` agree in all values with an earlier row, `clashes` do not.

    `clashes` has columns sheet, line, count (rows under that key); `repeats` has sheet, line.
    """

    repeats: pl.DataFrame
    clashes: pl.DataFrame


def within_file(table: Table, keys: pl.DataFrame) -> WithinFile:
    """Find repeated keys among all rows of one file (frames of `narrow_keys`, in reading order)."""
    many = keys.filter(pl.struct(table.key).is_duplicated()).with_columns(
        count=pl.len().over(pl.struct(table.key)),
        kinds=pl.col("alike").n_unique().over(pl.struct(table.key)),
        nth=pl.int_range(pl.len()).over(pl.struct(table.key)),
    )
    return WithinFile(
        repeats=many.filter((pl.col("kinds") == 1) & (pl.col("nth") > 0)).select(WHERE),
        clashes=many.filter(pl.col("kinds") > 1).select(*WHERE, "count"),
    )


def against_store(store: Store, manifest: Manifest, table_name: str, rows: pl.DataFrame) -> pl.DataFrame:
    """Rows with `revision`: null when already known, 0 when new, n when they replace version n - 1.

    A row equal to any earlier version of its key is already known. `over_stub` marks rows that fill in a stub.
    """
    table = TABLES[table_name]
    key, values = list(table.key), list(table.column_names)
    stored = all_versions(store, manifest, table_name)
    wanted = rows.select(key).unique().lazy()
    seen = stored.select(*key, "revision").join(wanted, on=key, how="semi", nulls_equal=True).collect()
    if seen.is_empty():
        return rows.with_columns(revision=pl.lit(0, pl.Int64()), over_stub=pl.lit(False))
    versions = stored.select(*values, "revision").join(wanted, on=key, how="semi", nulls_equal=True).collect()
    newest = versions.sort("revision").group_by(key).last()
    stub = is_stub(table_name) if table_name in LACKS else pl.lit(False)
    latest = newest.select(*key, pl.col("revision") + 1, over_stub=stub)
    known = rows.select(*WHERE, *values).join(versions, on=values, how="semi", nulls_equal=True)
    return (
        rows.join(latest, on=key, how="left", nulls_equal=True)
        .join(known.select(*WHERE, is_known=True), on=WHERE, how="left", nulls_equal=True)
        .with_columns(
            revision=pl.when(pl.col("is_known").is_null()).then(pl.col("revision").fill_null(0)),
            over_stub=pl.col("over_stub").fill_null(False),
        )
        .drop("is_known")
    )
