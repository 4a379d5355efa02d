"""A report on the screen or in a file: words, tables and blocks to copy; rows as csv; an object as JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from pipeline.cli.options import format_option
from pipeline.cli.screen import note, say
from pipeline.cli.tables import show_rows

if TYPE_CHECKING:
    from pipeline.report import Part, Report

ReportFormat = Annotated[str | None, format_option("table", "csv", "json")]


def hand_over(report: Report, form: str | None, out: Path | None, *, timezone: str) -> None:
    """Show a report, or write it to a file; a table can only be shown."""
    from pipeline.exports import choose_format, export, write_bytes

    chosen = choose_format(form, out, allowed=("table", "csv", "json"))
    if chosen == "table":
        _show(report)
    elif chosen == "csv":
        export(report.frame, "csv", out, timezone=timezone)
    else:
        text = json.dumps(report.data, indent=2, ensure_ascii=False) + "\n"
        if out is None:
            print(text, end="")
        else:
            write_bytes(out, text.encode())
    if out is not None and chosen != "table":
        note(f"Wrote {out}.")


def _show(report: Report) -> None:
    if not report.parts and report.none:
        say(report.none)
    for place, part in enumerate(report.parts):
        if place:
            say()
        _show_part(part)


def _show_part(part: Part) -> None:
    if part.title:
        say(part.title)
    if part.sentences:
        say("\n".join(part.sentences))
    if part.rows:
        if part.title or part.sentences:
            say()
        show_rows(part.headers, part.rows, right=part.right)
    if part.block:
        say("\n" + part.block.rstrip())
