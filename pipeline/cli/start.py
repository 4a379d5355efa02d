"""Commands to begin with: a project folder, a workbook to fill in."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.next_steps import in_lab, ingest_a_log
from pipeline.cli.plain_help import add
from pipeline.cli.screen import say


def add_to(app: typer.Typer) -> None:
    """Register the commands of this group."""
    add(app, "new", new, "Make a project folder.")
    add(app, "template", template, "Write a workbook to fill in by hand.")


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the project folder goes.", show_default=False)],
    method: Annotated[
        str | None,
        typer.Option(
            "--method",
            metavar="METHOD",
            help="What you brew, such as espresso or pour_over, if your logs have no column for it.",
        ),
    ] = None,
) -> None:
    """Make a project folder: its settings (lab.toml) and your column names (columns.toml), both explained inside.

    Files that are already there are kept and used, so --method can also be said later.
    """
    from pipeline.lab import new_lab
    from schemas.methods import METHODS

    if method is not None and method not in METHODS:
        raise typer.BadParameter(f"{method} is not one of {', '.join(METHODS)}", param_hint="--method")
    made = new_lab(folder, method=method)
    if made.made:
        say(f"Made {folder}: {' and '.join(made.made)}.")
    if made.kept:
        say(f"Kept {' and '.join(made.kept)} as found in {folder}.")
    if method:
        say(f"Where a log has no column for it, the method is {method} (columns.toml says so).")
    say(ingest_a_log(folder))
    if not method:
        command = f"brewtrials new {shlex.quote(str(folder))} --method espresso"
        say(f"If your logs have no column for the method because it is always the same, say it once: {command}")


def template(
    out: Annotated[Path, typer.Argument(metavar="OUT.xlsx", help="The workbook to write.", show_default=False)],
) -> None:
    """Write a workbook to fill in by hand: a sheet for every table, with units, drop-downs and an example row."""
    from pipeline.template import write_template

    write_template(out)
    say(f"Wrote {out}. Fill in the sheets you need, and delete the example rows (Read me, the first sheet, says how).")
    say(f"Then: {in_lab(f'ingest {shlex.quote(str(out))}', Path('YOUR-PROJECT-FOLDER'))}")
