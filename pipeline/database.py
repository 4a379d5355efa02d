"""One commit as a DuckDB database: a view per input table, and no way out to any file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
import pyarrow as pa

from pipeline.store.model import DataFile, Manifest, TableEntry
from pipeline.store.read import replaced_schema
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.dtypes import stored_schema

SQL_DIR = Path(__file__).parent / "sql"
CLOSED = {
    "python_enable_replacements": "false",
    "autoload_known_extensions": "false",
    "autoinstall_known_extensions": "false",
    "allow_community_extensions": "false",
    "allow_persistent_secrets": "false",
    "temp_directory": "",
}


def connect(
    store: Store,
    manifest: Manifest,
    *,
    extra: Mapping[str, pl.DataFrame | pa.Table] | None = None,
    tables: Iterable[str] | None = None,
    memory_limit: str | None = None,
) -> duckdb.DuckDBPyConnection:
    """A connection with one view of the current rows per input table (or of those named), and the `extra` frames.

    A table without rows is there, empty and typed. A table with revisions also has `<table>_all_versions` and
    `<table>_replaced`. DuckDB itself may open no file at all: pyarrow reads the commit's explicit file list on its
    behalf, because an allowed folder can be written to by a SELECT (`WITH x AS (COPY ... TO ...)`, measured).
    One thread, so that sums come out the same to the last digit; times are UTC. Raises ProblemError when a file is
    missing or damaged.
    """
    con = duckdb.connect(":memory:", config={**CLOSED, "threads": 1})
    con.execute("SET TimeZone = 'UTC'")
    if memory_limit:
        con.execute("SET memory_limit = ?", [memory_limit])
    for name in TABLES if tables is None else tables:
        _add_table(con, store, name, manifest.tables.get(name, TableEntry()))
    for name, frame in (extra or {}).items():
        con.register(name, frame.to_arrow() if isinstance(frame, pl.DataFrame) else frame)
    con.execute("SET enable_external_access = false")
    con.execute("SET lock_configuration = true")
    return con


def run_sql(con: duckdb.DuckDBPyConnection, name: str, **params: Any) -> pl.DataFrame:
    """Run `pipeline/sql/<name>.sql`, with `params` bound to its `$names`, and return its rows."""
    query = (SQL_DIR / f"{name}.sql").read_text(encoding="utf-8")
    return to_polars(con.sql(query, params=params or None).to_arrow_table())


def to_polars(table: pa.Table) -> pl.DataFrame:
    """DuckDB's result as a frame; whole numbers that DuckDB widened (a sum) come back as Int64 where they fit."""
    frame = pl.DataFrame(pl.from_arrow(table))
    wide = [name for name, dtype in frame.schema.items() if isinstance(dtype, pl.Decimal) and dtype.scale == 0]
    for name in wide:
        narrow = frame[name].cast(pl.Int64, strict=False)
        if narrow.null_count() == frame[name].null_count():
            frame = frame.with_columns(narrow)
    return frame


def _add_table(con: duckdb.DuckDBPyConnection, store: Store, name: str, entry: TableEntry) -> None:
    rows = _rows(store, entry.files, stored_schema(TABLES[name]))
    if not entry.replaced:
        con.register(name, rows)
        return
    con.register(f"{name}_all_versions", rows)
    con.register(f"{name}_replaced", _rows(store, entry.replaced, replaced_schema(name)))
    same = " AND ".join(f'v."{column}" IS NOT DISTINCT FROM r."{column}"' for column in replaced_schema(name))
    con.execute(
        f'CREATE TEMP VIEW "{name}" AS SELECT v.* FROM "{name}_all_versions" v ANTI JOIN "{name}_replaced" r ON {same}'
    )


def _rows(store: Store, files: tuple[DataFile, ...], schema: dict[str, pl.DataType]) -> Any:
    empty = pl.DataFrame(schema=schema).to_arrow()
    if not files:
        return empty
    # Imported here: it takes 0.2 s, and commands that read no table go without it.
    import pyarrow.dataset
    import pyarrow.fs

    return pyarrow.dataset.FileSystemDataset.from_paths(
        [str(store.checked_path(file)) for file in files],
        schema=empty.schema,
        format=pyarrow.dataset.ParquetFileFormat(),
        filesystem=pyarrow.fs.LocalFileSystem(),
    )
