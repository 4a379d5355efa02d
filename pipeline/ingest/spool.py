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
        self._schemas: tuple[pl.Schema, pl.Schema | None] = (pl.Schema(), None)
        self._folder: tempfile.TemporaryDirectory[str] | None = None

    def add(self, chunk: Chunk) -> None:
        """Put one chunk by; one without rows is forgotten. Columns that hold nothing are dropped until it is read."""
        if chunk.rows.is_empty():
            return
        self._schemas = (chunk.rows.schema, chunk.readings.schema if chunk.readings is not None else None)
        chunk = Chunk(_filled(chunk.rows), _filled(chunk.readings) if chunk.readings is not None else None)
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
            yield self._widened(item if isinstance(item, Chunk) else _from_disk(*item))

    def _widened(self, chunk: Chunk) -> Chunk:
        rows, readings = self._schemas
        if chunk.readings is None or readings is None:
            return Chunk(_widened(chunk.rows, rows))
        return Chunk(_widened(chunk.rows, rows), _widened(chunk.readings, readings))

    def is_empty(self) -> bool:
        """Whether no row was put by."""
        return not self._chunks

    def close(self) -> None:
        """Remove what waited on disk."""
        self._chunks.clear()
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None


def _from_disk(rows: Path, readings: Path | None) -> Chunk:
    return Chunk(pl.read_ipc(rows), pl.read_ipc(readings) if readings else None)


def _filled(frame: pl.DataFrame) -> pl.DataFrame:
    """The columns that hold anything; a log fills few of a contract's."""
    return frame.select(series.name for series in frame if series.null_count() < frame.height)


def _widened(frame: pl.DataFrame, schema: pl.Schema) -> pl.DataFrame:
    """All columns again, the missing ones null."""
    return frame.select(
        pl.col(name) if name in frame.columns else pl.lit(None, kind).alias(name) for name, kind in schema.items()
    )
