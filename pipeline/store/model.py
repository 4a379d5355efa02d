"""The manifest: the only commit point of the store, and what it names."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

SCHEMA_VERSION = 1


@dataclass(frozen=True)
class DataFile:
    """One immutable Parquet file under `store/data`, named by the hash of its bytes."""

    name: str
    sha256: str
    rows: int


@dataclass(frozen=True)
class TableEntry:
    """All files of one table at one manifest.

    `files` hold every version of every row (column `commit_no` says which ingest brought it); `replaced` files
    hold key columns and `commit_no` of versions that a later one replaced. Current rows = files minus replaced.
    """

    files: tuple[DataFile, ...] = ()
    replaced: tuple[DataFile, ...] = ()


@dataclass(frozen=True)
class SourceEntry:
    """One file and sheet handed in at this commit: its counts, how it was read, or why it was refused."""

    file: str
    sheet: str
    sha256: str
    table: str = ""
    refused: str = ""
    counts: dict[str, int] = field(default_factory=dict)
    interpretation: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Manifest:
    """One commit. `tables` holds input tables by name, `lists` whole-list snapshots (set_aside, waiting rows)."""

    number: int
    parent_sha256: str
    schema_version: int
    tool_version: str
    tables: dict[str, TableEntry] = field(default_factory=dict)
    lists: dict[str, DataFile] = field(default_factory=dict)
    sources: tuple[SourceEntry, ...] = ()
    originals: tuple[str, ...] = ()
    sha256: str = ""
