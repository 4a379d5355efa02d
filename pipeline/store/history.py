"""What happened to a project folder, commit by commit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from pipeline.store.model import DataFile, Manifest, TableEntry
from pipeline.store.store import Store


@dataclass(frozen=True, slots=True)
class Commit:
    """One commit. Row counts: `added` new rows and revisions, `rows` standing after it, both by table.

    `written_at` is the time of the manifest file, UTC: the manifest itself holds no clock, so that equal inputs
    give equal bytes. `files` are the files handed in, `refused` those of them that could not be read.
    """

    number: int
    written_at: datetime
    files: tuple[str, ...]
    refused: tuple[str, ...]
    rows: dict[str, int]
    added: dict[str, int]
    revised: int
    set_aside: int
    tool_version: str


def history(store: Store) -> list[Commit]:
    """One entry per commit, oldest first."""
    commits = []
    before = store.at(0)
    for number in store.numbers():
        manifest = store.at(number)
        written = store.manifest_path(number).stat().st_mtime
        commits.append(_commit(before, manifest, datetime.fromtimestamp(written, UTC)))
        before = manifest
    return commits


def _commit(before: Manifest, after: Manifest, written_at: datetime) -> Commit:
    old = {name: before.tables.get(name, TableEntry()) for name in after.tables}
    added = {name: _rows(entry.files) - _rows(old[name].files) for name, entry in after.tables.items()}
    return Commit(
        number=after.number,
        written_at=written_at,
        files=tuple(dict.fromkeys(source.file for source in after.sources)),
        refused=tuple(dict.fromkeys(source.file for source in after.sources if source.refused)),
        rows={name: _rows(entry.files) - _rows(entry.replaced) for name, entry in after.tables.items()},
        added={name: count for name, count in added.items() if count},
        revised=sum(_rows(entry.replaced) - _rows(old[name].replaced) for name, entry in after.tables.items()),
        set_aside=sum(source.counts.get("set_aside", 0) for source in after.sources),
        tool_version=after.tool_version,
    )


def _rows(files: tuple[DataFile, ...]) -> int:
    return sum(file.rows for file in files)
