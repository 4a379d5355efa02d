"""A small lab whose store is written to directly, without any ingest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from pipeline.store.model import Manifest, SourceEntry, TableEntry
from pipeline.store.store import Store
from schemas.contracts import TABLES
from schemas.dtypes import stored_schema


def _typed(table: str, rows: list[dict[str, object]]) -> pl.DataFrame:
    schema = stored_schema(TABLES[table])
    full = [{"revision": 0, "commit_no": 1} | row for row in rows]
    return pl.DataFrame([{name: row.get(name) for name in schema} for row in full], schema=schema)


def _commit(
    store: Store,
    *,
    rows: dict[str, list[dict[str, object]]] | None = None,
    replaced: dict[str, list[dict[str, object]]] | None = None,
    original: bytes = b"",
) -> Manifest:
    with store.lock():
        head = store.head()
        tables = dict(head.tables)
        for name, fresh in (rows or {}).items():
            old = tables.get(name, TableEntry())
            tables[name] = replace(old, files=(*old.files, store.write_data(_typed(name, fresh))))
        for name, gone in (replaced or {}).items():
            old = tables.get(name, TableEntry())
            keys = _typed(name, gone).select(*TABLES[name].key, "revision")
            tables[name] = replace(old, replaced=(*old.replaced, store.write_data(keys)))
        sources, originals = (), head.originals
        if original:
            sha256 = store.keep_original(original)
            sources = (SourceEntry("log.csv", "", sha256, table="brews", counts={"set_aside": 2}),)
            originals = (*originals, sha256)
        draft = replace(head, number=head.number + 1, tables=tables, sources=sources, originals=originals)
        return store.commit(draft)


@pytest.fixture
def typed() -> Callable[..., pl.DataFrame]:
    """Rows given by a few columns as a frame of the stored schema."""
    return _typed


@pytest.fixture
def commit() -> Callable[..., Manifest]:
    """Commit rows (and replaced versions) of several tables, and an original, to a store."""
    return _commit


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """The store of a new lab; brackets, a star and an equals sign in the name must mean nothing."""
    lab = tmp_path / "lab [a] x=1*"
    lab.mkdir()
    return Store(lab)


@pytest.fixture
def filled(store: Store) -> Store:
    """Two commits: three brews and a reading with the file they came from, then one brew changed."""
    _commit(
        store,
        rows={
            "brews": [{"brew_id": name, "dose_g": 18.0} for name in ("a", "b", "c")],
            "readings": [{"brew_id": "a", "sample_no": 1, "reading_no": 1, "tds_pct": 9.5}],
        },
        original=b"brew_id,dose_g\na,18\nb,18\nc,18\n",
    )
    _commit(
        store,
        rows={"brews": [{"brew_id": "b", "dose_g": 18.5, "revision": 1, "commit_no": 2}]},
        replaced={"brews": [{"brew_id": "b"}]},
    )
    return store
