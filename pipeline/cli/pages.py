"""The command that writes the dashboard."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.options import AsOf, Lab
from pipeline.cli.plain_help import add
from pipeline.cli.screen import say
from schemas.problem import ProblemError


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "dashboard", dashboard, "Write the dashboard: pages to read, print or send.")


def dashboard(
    lab: Lab,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the pages.", show_default=False)],
    as_of: AsOf = None,
) -> None:
    """Write the dashboard: pages that open offline, print, and can be sent by mail.

    index.html says what to brew next, effects.html what moved extraction, measurement.html how good the numbers are.
    """
    from analysis.words import listed
    from pipeline.publish.build import build_dashboard

    if out.exists() and not out.is_dir():
        raise ProblemError(f"{out} is a file. Name a folder for the page.")
    index, *others = build_dashboard(lab, out, as_of=as_of)
    beside = listed([page.name for page in others])
    say(f"Wrote {index}. Beside it: {beside}. Open them in any browser; they need no network.")
