"""The manifest: the only commit point of the store, and what it names."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

SCHEMA_VERSION = 1


@dataclass(frozen=True)
class DataFile:
    """One immutable Parquet file under `store/data`, named by the hash of its bytes."""

    sha256: str
    rows: int

    @property
    def name(self) -> str:
        """File name: the first 16 digits of the hash are enough to tell any two files of a lab apart."""
        return f"{self.sha256[:16]}.parquet"


@dataclass(frozen=True)
class TableEntry:
    """All files of one table at one manifest.

    `files` hold every version of every row (column `commit_no` says which ingest brought it, `revision` counts the
    versions of one key from 0); `replaced` files hold the key columns and `revision` of versions that a later one
    replaced. Current rows = files minus replaced, matched on key and `revision`, nulls equal.
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

    def data_files(self) -> dict[str, DataFile]:
        """Every data file this commit names, by its hash: rows, replaced versions, lists."""
        entries = self.tables.values()
        files = (*(file for entry in entries for file in (*entry.files, *entry.replaced)), *self.lists.values())
        return {file.sha256: file for file in files}

    def original_files(self) -> frozenset[str]:
        """Hash of every original this commit names, those of refused files included."""
        return frozenset([*self.originals, *(source.sha256 for source in self.sources if source.sha256)])
