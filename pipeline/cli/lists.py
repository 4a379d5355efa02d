"""Commands that list rows: what was set aside, what was kept and flagged."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.next_steps import in_lab
from pipeline.cli.options import AsOf, Lab, Out, format_option
from pipeline.cli.plain_help import add
from pipeline.cli.screen import count, note, say
from pipeline.cli.tables import MOST_ROWS, show_rows

if TYPE_CHECKING:
    import polars as pl

    from pipeline.cli.opened import Opened

ListFormat = Annotated[str | None, format_option("table", "csv", "json", "xlsx")]


def add_to(app: typer.Typer) -> None:
    """Register the commands of this group."""
    add(app, "set-aside", set_aside, "List rows that were not taken in, and how to mend them.")
    add(app, "flags", flags, "List what was taken in but deserves a second look.")


def set_aside(lab: Lab, form: ListFormat = None, out: Out = None, as_of: AsOf = None) -> None:
    """List the rows that were not taken in: where each stands, what is wrong with it, and a fix to try.

    To mend them, write the list with --out FILE.xlsx, correct the `value` cells there, and hand that file in
    with `brewtrials ingest`. Rows that are right now go in and leave the list.
    """
    from pipeline.cli.opened import open_lab
    from pipeline.store.read import read_set_aside

    opened = open_lab(lab, as_of)
    found = read_set_aside(opened.store, opened.manifest)
    _hand_over(found, form, out, opened, none="Nothing is set aside.")
    if out is None and form in (None, "table") and not found.is_empty():
        note(
            "To mend them: correct your own file and ingest it again, or write this list to a workbook, correct the "
            f"value cells there, and ingest that:\n  {in_lab('set-aside --out set-aside.xlsx', lab)}\n"
            f"  {in_lab('ingest set-aside.xlsx', lab)}"
        )


def flags(lab: Lab, form: ListFormat = None, out: Out = None, as_of: AsOf = None) -> None:
    """List what was taken in but deserves a second look: odd yields, readings far apart, likely slips of unit."""
    from pipeline.cli.opened import open_lab
    from pipeline.facts import brew_flags

    opened = open_lab(lab, as_of)
    found = brew_flags(opened.store, opened.manifest, opened.settings)
    _hand_over(found, form, out, opened, none="Nothing is flagged.")


def _hand_over(found: pl.DataFrame, form: str | None, out: object, opened: Opened, *, none: str) -> None:
    from pathlib import Path

    from pipeline.exports import choose_format, export

    path = out if isinstance(out, Path) else None
    chosen = choose_format(form, path, allowed=("table", "csv", "json", "xlsx"))
    if chosen != "table":
        export(found, chosen, path, timezone=opened.settings.timezone)
        note(f"{none if found.is_empty() else _count(found)}{f' Wrote {path}.' if path else ''}")
    elif found.is_empty():
        say(none)
    else:
        show_rows(
            ("where", "what", "why, and what to try"),
            [_told(rows) for rows in alike(found.head(MOST_ROWS).to_dicts())],
            spaced=True,
        )
        say(_count(found))
        if found.height > MOST_ROWS:
            note(f"Shown: {MOST_ROWS} of {found.height:,}. Add --out FILE.csv for everything.")


SAME = ("source_file", "sheet", "table", "column", "value", "rule", "message", "fix")
MANY_LINES = 12


def alike(rows: list[dict[str, object]]) -> list[list[dict[str, object]]]:
    """Rows that differ in nothing but their line (and brew) together, in the order in which each kind comes first.

    Two rows on one line come from two files of one name, and stay apart.
    """
    groups: dict[tuple[object, ...], list[dict[str, object]]] = {}
    on_line: dict[tuple[object, ...], list[object]] = {}
    for row in rows:
        kind = tuple(row[name] for name in SAME)
        texts = on_line.setdefault((*kind, row["line"]), [])
        if row["row_json"] not in texts:
            texts.append(row["row_json"])
        groups.setdefault((*kind, texts.index(row["row_json"])), []).append(row)
    return list(groups.values())


def _told(rows: list[dict[str, object]]) -> tuple[str, str, str]:
    row = rows[0]
    sheet = f" [{row['sheet']}]" if row["sheet"] else ""
    place = ("row" if row["sheet"] else "line") + ("s" if len(rows) > 1 else "")
    brew = f", brew {row['brew_id']}" if len(rows) == 1 and row.get("brew_id") else ""
    value = "" if row["value"] in (None, "") else f" = {row['value']}"
    what = f"{row['column']}{value}" if row["column"] else str(row["table"])
    return (
        f"{row['source_file']}{sheet}\n{place} {_lines([int(str(one['line'])) for one in rows])}{brew}",
        f"{what}\n{row['rule']}",
        f"{row['message']}\n-> {row['fix']}",
    )


def _lines(numbers: list[int]) -> str:
    """Line numbers as people list them, neighbours as a range.

    >>> _lines([4, 5, 6, 9]), _lines([4, 5]), _lines([4])
    ('4 to 6, 9', '4, 5', '4')
    """
    parts = []
    for _, found in groupby(enumerate(sorted(set(numbers))), lambda pair: pair[1] - pair[0]):
        run = [number for _, number in found]
        parts += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(number) for number in run]
    more = f" and {len(parts) - MANY_LINES} more places" if len(parts) > MANY_LINES else ""
    return ", ".join(parts[:MANY_LINES]) + more


def _count(found: pl.DataFrame) -> str:
    rows = found.select("source_file", "sheet", "line", "table", "row_json").n_unique()
    reasons = f", {found.height:,} reasons" if found.height != rows else ""
    return f"{count(rows, 'row')}{reasons}."
