"""The command that takes files in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.options import AsJson, Lab, Now, moment
from pipeline.cli.plain_help import add
from schemas.problem import ProblemError


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "ingest", ingest, "Take in logs: files, or folders of them.")


def ingest(
    paths: Annotated[
        list[Path],
        typer.Argument(metavar="PATH", help="Files (csv, xlsx) or folders of them.", show_default=False),
    ],
    lab: Lab,
    as_json: AsJson = False,
    strict: Annotated[bool, typer.Option("--strict", help="Leave with exit code 3 if any row was set aside.")] = False,
    table: Annotated[
        str | None,
        typer.Option("--table", metavar="NAME", help="Which table the files hold, where their names do not say."),
    ] = None,
    now: Now = None,
) -> None:
    """Take in logs: spreadsheets or text files, or whole folders of them. Handing the same file in twice is fine.

    Rows with something wrong in them are set aside with the reason and a fix to try; everything else goes in.
    The files themselves are kept too, so nothing is ever lost.
    """
    import json

    from pipeline.lab import load_settings
    from schemas.contracts import TABLES

    if table is not None and table not in TABLES:
        raise typer.BadParameter(f"{table} is not a table; choose one of {', '.join(TABLES)}", param_hint="--table")
    require_whole_names(paths)
    clock = moment(now, load_settings(lab).timezone)

    from pipeline.cli.ingest_words import print_report
    from pipeline.cli.progress import progress_bar
    from pipeline.ingest.run import ingest as take_in

    with progress_bar() as progress:
        report = take_in(paths, lab, now=clock, table=table, progress=progress)
    if as_json:
        print(json.dumps(report.to_json(), indent=2, ensure_ascii=False))
    else:
        print_report(report, lab)
    if report.refused:
        raise typer.Exit(1)
    if strict and report.set_aside:
        raise typer.Exit(3)


def require_whole_names(paths: list[Path]) -> None:
    """Refuse names that the shell took apart at their spaces, where the whole name is there."""
    for start, path in enumerate(paths):
        if path.exists():
            continue
        for end in range(len(paths), start + 1, -1):
            whole = " ".join(str(part) for part in paths[start:end])
            if Path(whole).exists():
                raise ProblemError(f'There is no {path}, but there is "{whole}". Names with spaces stand in quotes.')
