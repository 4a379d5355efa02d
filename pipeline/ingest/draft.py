"""The next state of the store while it is being made: nothing of it counts before the commit."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from pipeline.store.model import DataFile, Manifest, SourceEntry, TableEntry
from pipeline.store.read import current, read_list, replaced_schema
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.dtypes import stored_schema


class Draft:
    """A manifest in the making. Data files are written at once but named by nothing until `commit`."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.head = store.head()
        self._next = replace(self.head, number=self.head.number + 1, sources=(), sha256="")
        self._sources: list[SourceEntry] = []
        self._kept: list[str] = []
        self._ids: dict[str, pl.Series] = {}

    @property
    def manifest(self) -> Manifest:
        """The state as far as it has been drafted, readable like a committed one."""
        return self._next

    def current(self, table: str) -> pl.LazyFrame:
        """Current rows of a table, those of this draft included."""
        return current(self.store, self._next, table)

    def ids(self, table: str) -> pl.Series:
        """All ids of a table whose key is one id column."""
        if table not in self._ids:
            key = TABLES[table].key[0]
            self._ids[table] = self.current(table).select(key).collect()[key]
        return self._ids[table]

    def add_rows(self, table: str, rows: pl.DataFrame) -> None:
        """Write new rows (contract columns, provenance and `revision`) and replace the versions before them."""
        if rows.is_empty():
            return
        rows = rows.with_columns(commit_no=pl.lit(self._next.number, pl.Int64()))
        names = list(stored_schema(TABLES[table]))
        self._extend(table, files=(self.store.write_data(rows.select(names)),))
        self.replace_versions(table, rows.filter(pl.col("revision") > 0).with_columns(pl.col("revision") - 1))
        self._ids.pop(table, None)

    def replace_versions(self, table: str, versions: pl.DataFrame) -> None:
        """Take versions (key columns and `revision`) out of the current rows; they stay in the history."""
        if not versions.is_empty():
            schema = replaced_schema(table)
            self._extend(table, replaced=(self.store.write_data(versions.select(list(schema))),))

    def _extend(self, table: str, *, files: tuple[DataFile, ...] = (), replaced: tuple[DataFile, ...] = ()) -> None:
        old = self._next.tables.get(table, TableEntry())
        entry = TableEntry(files=(*old.files, *files), replaced=(*old.replaced, *replaced))
        self._next = replace(self._next, tables={**self._next.tables, table: entry})

    def list_frame(self, name: str) -> pl.DataFrame:
        """A whole list as it stands in the draft."""
        return read_list(self.store, self._next, name)

    def set_list(self, name: str, frame: pl.DataFrame) -> None:
        """Replace a whole list; an empty one is no longer named."""
        lists = {key: value for key, value in self._next.lists.items() if key != name}
        if not frame.is_empty():
            lists[name] = self.store.write_data(frame)
        self._next = replace(self._next, lists=lists)

    def keep_original(self, original: bytes) -> str:
        """Keep a file that is no source of rows, for a list that refers to it; its sha256."""
        self._kept.append(self.store.keep_original(original))
        return self._kept[-1]

    def add_source(self, source: SourceEntry) -> None:
        """Note a file handed in, whose bytes are already kept; one whose bytes nobody could read leaves no trace."""
        if source.sha256:
            self._sources.append(source)

    @property
    def changed(self) -> bool:
        """Whether a commit would say anything that the last one does not."""
        known = set(self.head.originals)
        return (
            self._next.tables != self.head.tables
            or self._next.lists != self.head.lists
            or any(source.sha256 not in known for source in self._sources)
        )

    def commit(self) -> Manifest:
        """Make the draft the head of the store, if it changes anything."""
        if not self.changed:
            return self.head
        originals = dict.fromkeys((*self.head.originals, *(one.sha256 for one in self._sources), *self._kept))
        return self.store.commit(replace(self._next, sources=tuple(self._sources), originals=tuple(originals)))
