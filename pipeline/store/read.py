"""Rows of one commit: what stands now, every version ever, and whole lists."""

from __future__ import annotations

import polars as pl

from pipeline.store.model import DataFile, Manifest, TableEntry
from pipeline.store.parquet import scan_parquet
from pipeline.store.store import Store
from schemas.columns import COLUMNS
from schemas.contracts import TABLES
from schemas.dtypes import frame_schema, stored_schema
from schemas.reports import SET_ASIDE_COLUMNS


def all_versions(store: Store, manifest: Manifest, table: str) -> pl.LazyFrame:
    """Every version of every row, in the order they were taken in; empty and typed when there is none.

    Raises ProblemError when a file is missing or damaged, here rather than when the frame is collected.
    """
    return _rows(store, _entry(manifest, table).files, stored_schema(TABLES[table]))


def replaced_versions(store: Store, manifest: Manifest, table: str) -> pl.LazyFrame:
    """Key columns and `revision` of the versions that a later one replaced."""
    return _rows(store, _entry(manifest, table).replaced, replaced_schema(table))


def current(store: Store, manifest: Manifest, table: str) -> pl.LazyFrame:
    """The rows that stand: the newest version of each key, in the order they were taken in."""
    rows = all_versions(store, manifest, table)
    if not _entry(manifest, table).replaced:
        return rows
    return rows.join(
        replaced_versions(store, manifest, table),
        on=list(replaced_schema(table)),
        how="anti",
        nulls_equal=True,
        maintain_order="left",
    )


def read_list(store: Store, manifest: Manifest, name: str) -> pl.DataFrame:
    """A whole list (`set_aside`, `waiting_<table>`); a frame without columns when the commit has none."""
    file = manifest.lists.get(name)
    return scan_parquet([store.checked_path(file)]).collect() if file else pl.DataFrame()


def read_set_aside(store: Store, manifest: Manifest) -> pl.DataFrame:
    """The rows set aside, one row per (row, reason), in the public columns; empty and typed when there is none."""
    found = read_list(store, manifest, "set_aside")
    empty = pl.DataFrame(schema=frame_schema([COLUMNS[name] for name in SET_ASIDE_COLUMNS]))
    return found.select(SET_ASIDE_COLUMNS) if found.width else empty


def replaced_schema(table: str) -> dict[str, pl.DataType]:
    """What names one version of a row: the key columns and `revision`."""
    schema = stored_schema(TABLES[table])
    return {name: schema[name] for name in (*TABLES[table].key, "revision")}


def _entry(manifest: Manifest, table: str) -> TableEntry:
    return manifest.tables.get(table, TableEntry())


def _rows(store: Store, files: tuple[DataFile, ...], schema: dict[str, pl.DataType]) -> pl.LazyFrame:
    if not files:
        return pl.LazyFrame(schema=schema)
    return scan_parquet([store.checked_path(file) for file in files], schema)
