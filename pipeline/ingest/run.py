"""One ingest: files in, one commit out, and a report that adds up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

import polars as pl

from pipeline.ingest.aside import Asides
from pipeline.ingest.context import Context, Progress
from pipeline.ingest.draft import Draft
from pipeline.ingest.mended import mended_units
from pipeline.ingest.prepare import Prepared, Waiting, prepare
from pipeline.ingest.read_unit import read_unit
from pipeline.ingest.rebuilt import Place
from pipeline.ingest.report import Entry, IngestReport, Retried, Stub
from pipeline.ingest.take_in import take_in
from pipeline.ingest.unit import Outcome, Part, Unit
from pipeline.ingest.waiting import try_again
from pipeline.lab import load_settings, require_lab
from pipeline.parse.mapping import read_mapping
from pipeline.parse.wire import to_json
from pipeline.store.model import SourceEntry
from pipeline.store.store import Store
from pipeline.study.read import read_study_file
from pipeline.study.record import note_studies


def ingest(
    paths: Sequence[Path],
    lab_dir: Path,
    *,
    now: datetime,
    table: str | None = None,
    progress: Progress | None = None,
) -> IngestReport:
    """Take files or folders into a lab, all in one commit.

    `now` is the clock for rules (aware); `table` names the table where neither file nor columns tell. Rows that
    break a hard rule are set aside, a file that cannot be read is refused, and neither stops the others.
    Raises ProblemError when the folder is no lab, a path is missing, or the store cannot be written.
    """
    require_lab(lab_dir)
    settings, study_file = load_settings(lab_dir), read_study_file(lab_dir)
    prepared = prepare(paths, read_mapping(lab_dir), settings, table=table)
    store = Store(lab_dir)
    with store.lock():
        for source in prepared.sources:
            if source.sha256:
                store.keep_original(source.path)
        run = _Run(Context(Draft(store), settings, now.astimezone(UTC), progress or _silent))
        run.studies = note_studies(run.draft, study_file)
        return run.all(prepared)


def _silent(file: str, rows: int) -> None:
    """No progress wanted."""


@dataclass
class _Run:
    """What one call gathers while it goes through its files."""

    context: Context
    stubs: list[Stub] = field(default_factory=list)
    entries: dict[tuple[str, str], Entry] = field(default_factory=dict)
    studies: tuple[str, ...] = ()

    @property
    def draft(self) -> Draft:
        return self.context.draft

    def all(self, prepared: Prepared) -> IngestReport:
        asides = Asides.of(self.draft)
        earlier = asides.open
        late = [export for export in prepared.exports if not self.export(export, asides, early=True)]
        for unit in prepared.units:
            outcome = self.unit(unit, asides)
            for part in unit.parts:
                self.note(unit, part, outcome)
        for export in late:
            self.export(export, asides)
        retried = try_again(self.draft, asides, earlier, lambda unit: self.unit(unit, asides))
        asides.write()
        return self.finish(prepared, retried)

    def unit(self, unit: Unit, asides: Asides) -> Outcome:
        read = read_unit(unit, self.context)
        outcome, stubs = take_in(unit, read, self.draft, keyed=asides.watches(unit.table))
        self.stubs += stubs
        asides.settle(unit, outcome)
        return outcome

    def note(self, unit: Unit, part: Part, outcome: Outcome) -> None:
        """One entry of the report, and one source of the manifest."""
        name = part.sheet.sheet
        counts = Counter(outcome.fates().filter(pl.col("sheet") == name)["fate"])
        entry = Entry(
            file=unit.file,
            sheet=name,
            table=unit.table,
            rows_read=part.sheet.rows_read,
            taken_in=counts["taken"] + counts["revised"],
            already_known=counts["known"],
            set_aside=counts["aside"],
            blank=part.sheet.blank,
            revised=counts["revised"],
            unknown_columns=part.how.unknown,
            notes=(*part.sheet.notes, *part.how.notes, *outcome.notes),
        )
        self.record(entry, unit.sha256, unit.source_file, part)

    def record(self, entry: Entry, sha256: str, source_file: str, part: Part | None = None) -> None:
        names = ("rows_read", "taken_in", "already_known", "set_aside", "blank", "revised")
        self.entries[entry.file, entry.sheet] = entry
        self.draft.add_source(
            SourceEntry(
                file=source_file,
                sheet=entry.sheet,
                sha256=sha256,
                table=entry.table,
                refused=entry.refused or entry.skipped,
                counts={name: getattr(entry, name) for name in names},
                interpretation=to_json(part.how) if part else {},
            )
        )

    def export(self, waiting: Waiting, asides: Asides, *, early: bool = False) -> bool:
        """Take in mended rows; each line of the export shares the fate of the row it belongs to.

        False when it came too early: some of its rows may be set aside by another file of this call.
        """
        mended = mended_units(waiting.source, waiting.sheet, asides.every())
        if early and mended.orphans:
            return False
        lines: Counter[str] = Counter()
        for unit in mended.units:
            outcome = self.unit(unit, asides)
            for sheet, line, fate in outcome.fates().iter_rows():
                lines[fate] += mended.lines_of[Place(unit.source_file, sheet, line, unit.table, unit.sha256)]
        export = waiting.sheet
        entry = Entry(
            file=waiting.source.file,
            sheet=export.sheet,
            table="set_aside",
            rows_read=export.rows_read,
            taken_in=lines["taken"] + lines["revised"],
            already_known=lines["known"],
            set_aside=lines["aside"] + len(mended.orphans) + len(export.ragged),
            blank=export.blank,
            revised=lines["revised"],
            notes=(*export.notes, *mended.notes()),
        )
        self.record(entry, waiting.source.sha256, waiting.source_file)
        return True

    def finish(self, prepared: Prepared, retried: list[Retried]) -> IngestReport:
        for refusal in prepared.refusals:
            entry = Entry(refusal.file, refusal.sheet, refused=refusal.reason, notes=refusal.notes)
            if not refusal.refuse:
                entry = Entry(refusal.file, refusal.sheet, skipped=refusal.reason, notes=refusal.notes)
            self.record(entry, refusal.sha256, refusal.source_file)
        head = self.draft.head.number
        manifest = self.draft.commit()
        order = {place: number for number, place in enumerate(prepared.order)}
        entries = [self.entries[place] for place in sorted(self.entries, key=lambda place: order[place])]
        return IngestReport(
            entries=tuple(_with_file_notes(entries, prepared.notes)),
            stubs=tuple(self.stubs),
            retried=tuple(retried),
            manifest_number=manifest.number,
            committed=manifest.number != head,
            ignored=prepared.ignored,
            studies=self.studies,
        )


def _with_file_notes(entries: list[Entry], notes: dict[str, tuple[str, ...]]) -> Iterator[Entry]:
    """What is to tell of a file as a whole stands at its first entry."""
    told: set[str] = set()
    for entry in entries:
        more = () if entry.file in told else notes.get(entry.file, ())
        told.add(entry.file)
        yield replace(entry, notes=(*more, *entry.notes))
