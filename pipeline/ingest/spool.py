"""Frames put by until the whole file has been seen; large ones wait on disk so that memory stays bounded."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import polars as pl

KEEP_IN_MEMORY_ROWS = 300_000


class Spool:
    """An append-only list of frames, read back in order."""

    def __init__(self) -> None:
        self._frames: list[pl.DataFrame | Path] = []
        self._in_memory_rows = 0
        self._folder: tempfile.TemporaryDirectory[str] | None = None

    def add(self, frame: pl.DataFrame) -> None:
        """Put one frame by; empty frames are forgotten."""
        if frame.is_empty():
            return
        if self._in_memory_rows + frame.height <= KEEP_IN_MEMORY_ROWS:
            self._frames.append(frame)
            self._in_memory_rows += frame.height
            return
        if self._folder is None:
            self._folder = tempfile.TemporaryDirectory(prefix="brewtrials-")
        path = Path(self._folder.name) / f"{len(self._frames)}.arrow"
        frame.write_ipc(path)
        self._frames.append(path)

    def __iter__(self) -> Iterator[pl.DataFrame]:
        for item in self._frames:
            yield pl.read_ipc(item) if isinstance(item, Path) else item

    def close(self) -> None:
        """Remove what waited on disk."""
        self._frames.clear()
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None
