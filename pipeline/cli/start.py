"""Commands to begin with: a project folder, a workbook to fill in."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.plain_help import add
from pipeline.cli.screen import say


def add_to(app: typer.Typer) -> None:
    """Register the commands of this group."""
    add(app, "new", new, "Make a project folder.")
    add(app, "template", template, "Write a workbook to fill in by hand.")


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Where the project folder goes.", show_default=False)],
) -> None:
    """Make a project folder: its settings (lab.toml) and your column names (columns.toml), both explained inside.

    A lab.toml that is already there is kept and used.
    """
    from pipeline.lab import new_lab

    made = new_lab(folder)
    if made.made:
        say(f"Made {folder}: {' and '.join(made.made)}.")
    if made.kept:
        say(f"Kept {' and '.join(made.kept)} as found in {folder}.")
    say(f"Next, hand in a log: brewtrials ingest YOUR-LOG.xlsx --lab {shlex.quote(str(folder))}")


def template(
    out: Annotated[Path, typer.Argument(metavar="OUT.xlsx", help="The workbook to write.", show_default=False)],
) -> None:
    """Write a workbook to fill in by hand: a sheet for every table, with units, drop-downs and an example row."""
    from pipeline.template import write_template

    write_template(out)
    say(f"Wrote {out}. Fill in the sheets you need, then: brewtrials ingest {shlex.quote(str(out))} --lab DIR")
