"""What one ingest did, file by file, in numbers that must add up."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class Entry:
    """One file and sheet of a call.

    `rows_read = taken_in + already_known + set_aside + blank`; `revised` is a part of `taken_in`.
    """

    file: str
    sheet: str
    table: str = ""
    rows_read: int = 0
    taken_in: int = 0
    already_known: int = 0
    set_aside: int = 0
    blank: int = 0
    revised: int = 0
    refused: str = ""
    skipped: str = ""
    unknown_columns: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def adds_up(self) -> bool:
        """Whether no row went missing."""
        return self.rows_read == self.taken_in + self.already_known + self.set_aside + self.blank


@dataclass(frozen=True)
class Stub:
    """A parent made because a row named it: which table, its id, what it still lacks, a known id it resembles."""

    table: str
    id: str
    lacks: tuple[str, ...]
    resembles: str = ""


@dataclass(frozen=True)
class Retried:
    """A row set aside earlier for an unknown id and tried again; `outcome` says what came of it."""

    table: str
    source_file: str
    sheet: str
    line: int
    outcome: str


@dataclass(frozen=True)
class IngestReport:
    """Everything one call did. `manifest_number` is the state it left; `committed` whether anything changed.

    `studies` are those of `study.toml` whose declaration is new or changed, and now recorded.
    """

    entries: tuple[Entry, ...]
    stubs: tuple[Stub, ...]
    retried: tuple[Retried, ...]
    manifest_number: int
    committed: bool
    ignored: tuple[str, ...] = ()
    studies: tuple[str, ...] = ()

    @property
    def refused(self) -> bool:
        """Whether any file could not be read."""
        return any(entry.refused for entry in self.entries)

    @property
    def set_aside(self) -> int:
        """Rows set aside in this call."""
        return sum(entry.set_aside for entry in self.entries)

    def to_json(self) -> dict[str, Any]:
        """The report as plain JSON values."""
        return {
            "manifest_number": self.manifest_number,
            "committed": self.committed,
            "files": [asdict(entry) for entry in self.entries],
            "stubs": [asdict(stub) for stub in self.stubs],
            "retried": [asdict(row) for row in self.retried],
            "ignored": list(self.ignored),
            "studies": list(self.studies),
        }
