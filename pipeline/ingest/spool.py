"""Rows put by until the whole file has been seen; large files wait on disk so that memory stays bounded."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import polars as pl

KEEP_IN_MEMORY_ROWS = 300_000


@dataclass(frozen=True)
class Chunk:
    """Rows of a file, and the readings that stood in them, if any; both carry sheet and line."""

    rows: pl.DataFrame
    readings: pl.DataFrame | None = None


class Spool:
    """An append-only list of chunks, read back in order."""

    def __init__(self) -> None:
        self._chunks: list[Chunk | tuple[Path, Path | None]] = []
        self._in_memory_rows = 0
        self._folder: tempfile.TemporaryDirectory[str] | None = None

    def add(self, chunk: Chunk) -> None:
        """Put one chunk by; one without rows is forgotten."""
        if chunk.rows.is_empty():
            return
        if self._in_memory_rows + chunk.rows.height <= KEEP_IN_MEMORY_ROWS:
            self._chunks.append(chunk)
            self._in_memory_rows += chunk.rows.height
            return
        readings = self._to_disk(chunk.readings, "readings") if chunk.readings is not None else None
        self._chunks.append((self._to_disk(chunk.rows, "rows"), readings))

    def _to_disk(self, frame: pl.DataFrame, name: str) -> Path:
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="brewtrials-")
        path = Path(self._folder.name) / f"{len(self._chunks)}-{name}.arrow"
        frame.write_ipc(path)
        return path

    def __iter__(self) -> Iterator[Chunk]:
        for item in self._chunks:
            if isinstance(item, Chunk):
                yield item
            else:
                rows, readings = item
                yield Chunk(pl.read_ipc(rows), pl.read_ipc(readings) if readings else None)

    def is_empty(self) -> bool:
        """Whether no row was put by."""
        return not self._chunks

    def close(self) -> None:
        """Remove what waited on disk."""
        self._chunks.clear()
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None
