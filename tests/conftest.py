from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import polars as pl
import pytest

from pipeline.ingest.report import IngestReport
from pipeline.ingest.run import ingest
from pipeline.lab import new_lab
from pipeline.store.read import current, read_list
from pipeline.store.store import Store

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


@dataclass
class Lab:
    """A lab in a temporary folder, and the files somebody drops into it."""

    dir: Path
    drop: Path

    def put(self, name: str, text: str) -> Path:
        path = self.drop / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return path

    def ingest(self, *paths: Path, table: str | None = None, now: datetime = NOW) -> IngestReport:
        return ingest(list(paths), self.dir, now=now, table=table)

    def take(self, name: str, text: str) -> IngestReport:
        return self.ingest(self.put(name, text))

    def current(self, table: str) -> pl.DataFrame:
        store = Store(self.dir)
        return current(store, store.head(), table).collect()

    def list(self, name: str) -> pl.DataFrame:
        store = Store(self.dir)
        return read_list(store, store.head(), name)


@pytest.fixture
def make_lab(tmp_path: Path) -> Callable[[str], Lab]:
    def make(name: str) -> Lab:
        lab_dir = tmp_path / name
        new_lab(lab_dir)
        drop = tmp_path / f"{name} files"
        drop.mkdir()
        return Lab(lab_dir, drop)

    return make


@pytest.fixture
def lab(make_lab: Callable[[str], Lab]) -> Lab:
    return make_lab("lab")
