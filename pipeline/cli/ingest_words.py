"""What one ingest did, in words: the counts of every file, what was made on the side, and what to do next."""

from __future__ import annotations

import os
import shlex
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.cli.screen import count, say, show_rows

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
    revised = f" ({total['revised']:,} of those taken in revise an earlier row)" if total["revised"] else ""
    return f"{total['rows_read']:,} rows read = {parts}{revised}"


def remarks(report: IngestReport, lab: Path, folder: str = "") -> list[str]:
    """Everything beside the counts, one remark a line."""
    lines = []
    for entry in report.entries:
        about = [*_about(entry)]
        if about:
            name = entry.file.removeprefix(folder) + (f" [{entry.sheet}]" if entry.sheet else "")
            lines += [f"{name}:", *(f"  {text}" for text in about)]
    lines += [f"Left alone: {path}" for path in report.ignored]
    lines += [*stub_lines(report.stubs), *_retried_lines(report.retried), *_next(report, lab)]
    return lines


def _about(entry: Entry) -> Iterator[str]:
    if entry.refused:
        yield f"Refused: {entry.refused}"
    if entry.skipped:
        yield f"Left alone, it is no table: {entry.skipped}"
    if entry.unknown_columns:
        yield (
            f"{count(len(entry.unknown_columns), 'column')} not known here, kept only in the original file: "
            f"{', '.join(entry.unknown_columns)}. If one of them matters, name it in columns.toml."
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
        word = table if len(made) > 1 else table.removesuffix("s")
        lacks = [LACK_WORDS.get(name, name) for name in made[0].lacks]
        still = f"; still to say: {', '.join(lacks)}" if lacks else ""
        lines.append(f"Made {len(made):,} {word}: {names}{still}.")
        lines += [
            f"  {stub.id} looks like {stub.resembles}, which is known; if they are the same, correct the id."
            for stub in made
            if stub.resembles
        ]
    return lines


def _retried_lines(retried: Iterable[Retried]) -> list[str]:
    outcomes: dict[str, int] = defaultdict(int)
    for row in retried:
        outcomes[row.outcome.replace("_", " ")] += 1
    return [f"Tried again, from earlier files: {rows:,} {outcome}." for outcome, rows in outcomes.items()]


def _next(report: IngestReport, lab: Path) -> list[str]:
    folder = shlex.quote(str(lab))
    lines = [] if report.committed else ["Nothing new: the project folder already had all of this."]
    if report.set_aside:
        lines.append(f"See what was set aside and how to mend it: brewtrials set-aside --lab {folder}")
    elif report.committed:
        lines.append(f"See the numbers: brewtrials facts --lab {folder}")
    return lines
