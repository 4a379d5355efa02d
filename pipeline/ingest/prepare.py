"""Before anything is taken in: which files, which sheets, which table each one holds, parents before children."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.ingest.mended import is_export
from pipeline.ingest.unit import Part, Unit
from pipeline.parse.interpret import interpret
from pipeline.parse.mapping import Mapping
from pipeline.parse.model import CannotInterpret
from pipeline.parse.planned_rows import without_unbrewed
from pipeline.parse.unscored_rows import without_unscored
from pipeline.parse.which_table import recognised_headers
from pipeline.sources.model import RawSheet, Source
from pipeline.sources.open import look_through, open_source
from schemas.contracts import TABLES
from schemas.lab import LabSettings


@dataclass(frozen=True)
class Waiting:
    """An export of the set-aside list that comes back."""

    source: Source
    source_file: str
    sheet: RawSheet


@dataclass(frozen=True)
class Refusal:
    """A file or sheet nothing could be made of; `refuse` is False for one that is merely passed over."""

    file: str
    source_file: str
    sheet: str
    sha256: str
    reason: str
    refuse: bool = True
    notes: tuple[str, ...] = ()


@dataclass
class Prepared:
    """Everything a call will work on.

    `order` is how the user named the files and sheets, `notes` what is to tell of a file as a whole.
    """

    sources: list[Source] = field(default_factory=list)
    units: list[Unit] = field(default_factory=list)
    exports: list[Waiting] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    order: list[tuple[str, str]] = field(default_factory=list)
    notes: dict[str, tuple[str, ...]] = field(default_factory=dict)
    ignored: tuple[str, ...] = ()


def prepare(paths: Sequence[Path], mapping: Mapping, settings: LabSettings, *, table: str | None) -> Prepared:
    """Open every file and settle how each sheet is to be read; units come in the order of their tables."""
    out = Prepared()
    opened: set[Path] = set()
    for path in paths:
        seen = look_through([path])
        out.ignored = (*out.ignored, *(str(file) for file in seen.ignored))
        for found in seen.files:
            if found.resolve() in opened:
                continue
            opened.add(found.resolve())
            source_file = found.relative_to(path).as_posix() if path.is_dir() else found.name
            _prepare_file(found, source_file, mapping, settings, table, out)
    rank = {name: number for number, name in enumerate(TABLES)}
    out.units.sort(key=lambda unit: rank[unit.table])
    return out


def _prepare_file(
    path: Path, source_file: str, mapping: Mapping, settings: LabSettings, table: str | None, out: Prepared
) -> None:
    source = open_source(path, is_header=recognised_headers)
    out.sources.append(source)
    if source.refused:
        out.order.append((source.file, ""))
        out.refusals.append(Refusal(source.file, source_file, "", source.sha256, source.refused, notes=source.notes))
        return
    out.notes[source.file] = source.notes
    parts: dict[str, list[Part]] = {}
    for sheet in source.sheets:
        out.order.append((source.file, sheet.sheet))
        if is_export(sheet):
            out.exports.append(Waiting(source, source_file, sheet))
            continue
        how = interpret(sheet, mapping, settings, table=table)
        if isinstance(how, CannotInterpret):
            refusal = Refusal(source.file, source_file, sheet.sheet, source.sha256, how.reason, how.refuse)
            out.refusals.append(refusal)
            continue
        filled = without_unscored(without_unbrewed(sheet, how), how)
        parts.setdefault(how.table, []).append(Part(filled, how))
    out.units += [Unit(name, source.file, source_file, source.sha256, tuple(found)) for name, found in parts.items()]
