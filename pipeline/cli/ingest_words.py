"""What one ingest did, in words: the counts of every file, what was made on the side, and what to do next."""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.cli.next_steps import in_lab
from pipeline.cli.screen import count, rows_of, say
from pipeline.cli.tables import show_rows

if TYPE_CHECKING:
    from pipeline.ingest.report import Entry, IngestReport, Retried, Stub

COUNTS = ("rows_read", "taken_in", "already_known", "set_aside", "blank", "revised")
MANY = 8
LACK_WORDS = {
    "name": "the name",
    "roast_level": "the roast level",
    "finer_is": "which way the dial runs (finer_is)",
    "standard_uncertainty": "the standard uncertainty",
    "resolution": "the resolution",
    "roasted_on": "the roast date",
    "kind": "its kind",
}


def print_report(report: IngestReport, lab: Path) -> None:
    """Print everything a person wants to know after handing files in."""
    folder = common_folder([entry.file for entry in report.entries])
    if folder:
        say(f"Files in {folder}:")
    counted = [entry for entry in report.entries if not entry.refused and not entry.skipped]
    if counted:
        names = ("file", *(("sheet",) if any(entry.sheet for entry in counted) else ()), "table")
        rows = [
            (*(str(getattr(entry, name)).removeprefix(folder) for name in names),
             *(f"{getattr(entry, name):,}" for name in COUNTS))
            for entry in counted
        ]  # fmt: skip
        show_rows((*names, *COUNTS), rows, right=COUNTS)
        say(conservation(counted))
    for line in remarks(report, lab, folder):
        say(line)


def common_folder(files: list[str]) -> str:
    """The folder that all of several files lie in, with its last stroke; empty when there is none to name.

    >>> common_folder(["drop/a.csv", "drop/b.csv"]), common_folder(["drop/a.csv"]), common_folder(["a.csv", "b.csv"])
    ('drop/', '', '')
    """
    if len(set(files)) < 2:
        return ""
    try:
        folder = os.path.commonpath([Path(file).parent for file in files])
    except ValueError:
        return ""
    return "" if folder in ("", ".", os.sep) else f"{folder}{os.sep}"


def conservation(entries: Iterable[Entry]) -> str:
    """The sum that must hold: no row goes missing."""
    entries = list(entries)
    total = {name: sum(getattr(entry, name) for entry in entries) for name in COUNTS}
    parts = " + ".join(
        f"{total[name]:,} {name.replace('_', ' ')}" for name in ("taken_in", "already_known", "set_aside", "blank")
    )
    verb = "revises" if total["revised"] == 1 else "revise"
    revised = f" ({total['revised']:,} of those taken in {verb} an earlier row)" if total["revised"] else ""
    return f"{count(total['rows_read'], 'row')} read = {parts}{revised}"


def remarks(report: IngestReport, lab: Path, folder: str = "") -> list[str]:
    """Everything beside the counts, one remark a line."""
    lines = []
    for entry in report.entries:
        about = [*_about(entry)]
        if about:
            name = entry.file.removeprefix(folder) + (f" [{entry.sheet}]" if entry.sheet else "")
            lines += [f"{name}:", *(f"  {text}" for text in about)]
    ignored = [path for path in report.ignored if not _is_of_lab(path, lab)]
    lines += [f"Left alone: {path}" for path in ignored[:MANY]]
    if len(ignored) > MANY:
        lines.append(f"Left alone: {count(len(ignored) - MANY, 'more file')} without a table.")
    if report.studies:
        lines.append(f"Recorded what study.toml declares now: {', '.join(report.studies)}.")
    lines += [*stub_lines(report.stubs), *_retried_lines(report.retried), *_next(report, lab)]
    return lines


def _is_of_lab(path: str, lab: Path) -> bool:
    """Whether a file belongs to the project folder itself, for people who keep their logs in it."""
    file = Path(path)
    return (file.parent == lab and file.suffix == ".toml") or lab / "store" in file.parents


def _about(entry: Entry) -> Iterator[str]:
    if entry.refused:
        yield f"Refused: {entry.refused}"
    if entry.skipped:
        yield f"Left alone, it is no table: {entry.skipped}"
    # A column that a note speaks of, because it was not read, needs no second mention.
    unknown = [own for own in entry.unknown_columns if not any(repr(own) in note for note in entry.notes)]
    if unknown:
        yield (
            f"{count(len(unknown), 'column')} not known here, kept only in the original file: {', '.join(unknown)}. "
            f"If {'it' if len(unknown) == 1 else 'one of them'} matters, say under [columns] in columns.toml which "
            "column it is."
        )
    yield from entry.notes


def stub_lines(stubs: Iterable[Stub]) -> list[str]:
    """What was made because rows named it, and what it still lacks."""
    by_table: dict[str, list[Stub]] = defaultdict(list)
    for stub in stubs:
        by_table[stub.table].append(stub)
    lines = []
    for table, made in by_table.items():
        names = ", ".join(stub.id for stub in made[:MANY]) + (
            f" and {len(made) - MANY} more" if len(made) > MANY else ""
        )
        lacks = [LACK_WORDS.get(name, name) for name in made[0].lacks]
        still = f"; still to say: {', '.join(lacks)}" if lacks else ""
        lines.append(f"Made {rows_of(len(made), table)}: {names}{still}.")
        lines += [
            f"  {stub.id} looks like {stub.resembles}, which is known; if they are the same, correct the id."
            for stub in made
            if stub.resembles
        ]
    lacking = [table for table, made in by_table.items() if made[0].lacks]
    if lacking:
        sheets = f"the sheet{'' if len(lacking) == 1 else 's'} {', '.join(lacking)}"
        lines.append(f"  To say it: brewtrials template more.xlsx, fill in {sheets}, and ingest that file.")
    return lines


def _retried_lines(retried: Iterable[Retried]) -> list[str]:
    outcomes: dict[str, int] = defaultdict(int)
    for row in retried:
        outcomes[row.outcome.replace("_", " ")] += 1
    return [f"Tried again, from earlier files: {rows:,} {outcome}." for outcome, rows in outcomes.items()]


def _next(report: IngestReport, lab: Path) -> list[str]:
    lines = []
    refused = len({entry.file for entry in report.entries if entry.refused})
    if not report.entries:
        lines.append("There was nothing to take in: no csv, tsv, txt or xlsx file among what was named.")
    elif not report.committed:
        lines.append("Nothing new: the project folder already had all of this.")
    if refused:
        what = "it" if refused == 1 else "them"
        lines.append(
            f"{count(refused, 'file')} could not be taken in; nothing of {what} is lost. Do what is said above and "
            f"ingest {what} again."
        )
    if report.set_aside:
        lines.append(f"See what was set aside and how to mend it: {in_lab('set-aside', lab)}")
    elif any(entry.taken_in for entry in report.entries):
        lines.append(f"See the numbers: {in_lab('facts', lab)}")
    return lines
