"""Commands that look after the project folder: is it intact, what is left over, what happened when."""

from __future__ import annotations

import dataclasses
import json
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.next_steps import ingest_a_log
from pipeline.cli.options import AsJson, Lab
from pipeline.cli.plain_help import add
from pipeline.cli.screen import count, note, rows_of, say
from pipeline.cli.tables import show_rows

if TYPE_CHECKING:
    from pipeline.store.history import Commit

MOST_FILES = 6
"""Files of one ingest that are named on screen; --json names them all."""


def add_to(app: typer.Typer) -> None:
    """Register the commands of this group."""
    add(app, "verify", verify, "Check that no stored file was changed or lost.")
    add(app, "sweep", sweep, "Remove what interrupted runs left behind.")
    add(app, "history", history, "List every ingest and what it brought.")


def verify(lab: Lab, as_json: AsJson = False) -> None:
    """Check that every stored file is still, byte for byte, what was written. Leaves with 1 if one is not."""
    from pipeline.lab import require_lab
    from pipeline.store.store import Store
    from pipeline.store.verify import verify as look

    found = look(Store(require_lab(lab)))
    looked_at = (
        f"{count(found.manifests, 'manifest')}, {count(found.data_files, 'data file')} and "
        f"{count(found.originals, 'original file')}"
    )
    if as_json:
        print(json.dumps({**dataclasses.asdict(found), "intact": found.intact}, indent=2, ensure_ascii=False))
    elif found.intact:
        say(f"Intact: {looked_at} are as they were written.")
    else:
        # Plain lines: a table would fold the long file names, which then cannot be copied or searched for.
        for one in found.findings:
            say(f"{one.kind} {one.file}: {one.message}")
        say(f"Not intact: {len(found.findings):,} found wrong among {looked_at}.")
    if not found.intact:
        raise typer.Exit(1)


def sweep(
    lab: Lab,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would go.")] = False,
) -> None:
    """Remove what interrupted runs left behind. Nothing that any ingest ever recorded is touched."""
    from pipeline.lab import require_lab
    from pipeline.store.store import Store
    from pipeline.store.sweep import sweep as clear_up

    swept = clear_up(Store(require_lab(lab)), dry_run=dry_run)
    if not swept:
        say("Nothing is left over.")
        return
    for file in swept:
        say(f"{'Removed' if file.removed else 'Would remove'} {file.path} ({file.size_bytes:,} bytes)")
    total = sum(file.size_bytes for file in swept)
    say(f"{count(len(swept), 'file')}, {total:,} bytes.")


def history(lab: Lab, as_json: AsJson = False) -> None:
    """List every ingest: its number (for --as-of), when it was written, what came in, what was set aside."""
    from pipeline.lab import load_settings
    from pipeline.store.history import history as look_back
    from pipeline.store.store import Store

    settings = load_settings(lab)
    commits = look_back(Store(lab))
    if as_json:
        told = [dataclasses.asdict(commit) | {"written_at": commit.written_at.isoformat()} for commit in commits]
        print(json.dumps(told, indent=2, ensure_ascii=False))
        return
    if not commits:
        say(f"Nothing has been taken in yet. {ingest_a_log(lab)}")
        return
    names = ("ingest", "written", "files", "new rows", "revised", "set aside")
    show_rows(names, [_told(commit, settings.timezone) for commit in commits], right=("ingest", "revised", "set aside"))
    note("Add --as-of N to facts, effects or dashboard to see things as they stood after ingest N.")


def _told(commit: Commit, timezone: str) -> tuple[str, ...]:
    from zoneinfo import ZoneInfo

    written = commit.written_at.astimezone(ZoneInfo(timezone)).isoformat(sep=" ", timespec="minutes")
    refused = "".join(f"\n{file} (refused)" for file in commit.refused)
    whole = [file for file in commit.files if file not in commit.refused]
    files = "\n".join(whole[:MOST_FILES]) + (f"\nand {len(whole) - MOST_FILES} more" if len(whole) > MOST_FILES else "")
    added = "\n".join(rows_of(number, table) for table, number in commit.added.items())
    return (
        str(commit.number), written, (files + refused).strip("\n"), added, f"{commit.revised:,}",
        f"{commit.set_aside:,}",
    )  # fmt: skip
