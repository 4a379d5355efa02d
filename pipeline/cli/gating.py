"""The command for continuous integration: may the project folder be relied on."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from pipeline.cli.options import AsJson, Lab, Now, moment
from pipeline.cli.plain_help import add
from pipeline.cli.screen import say
from pipeline.cli.tables import show_rows


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "gate", gate, "Check the limits of lab.toml: pass or fail, for CI.")


def gate(
    lab: Lab,
    as_json: AsJson = False,
    junit: Annotated[
        Path | None,
        typer.Option("--junit", metavar="FILE", help="Also write the checks as JUnit XML, which CI servers show."),
    ] = None,
    now: Now = None,
) -> None:
    """Check the project folder against the limits in its lab.toml, for continuous integration.

    Enough brews, little set aside, fresh data, stored files intact, targets met: says pass or fail for each, and
    leaves with 3 if one fails.
    """
    from pipeline.exports import write_bytes
    from pipeline.gate import check_lab
    from pipeline.gate_junit import junit_xml
    from pipeline.lab import load_settings

    report = check_lab(lab, now=moment(now, load_settings(lab).timezone))
    if junit is not None:
        write_bytes(junit, junit_xml(report))
    if as_json:
        print(json.dumps(report.to_json(), indent=2, ensure_ascii=False))
    else:
        show_rows(("check", "result", "why"), [(c.name.replace("_", " "), c.result, c.sentence) for c in report.checks])
        failed = [check.name.replace("_", " ") for check in report.checks if check.result == "fail"]
        say(f"The gate is not met: {', '.join(failed)}." if failed else "The gate is met.")
    if not report.met:
        raise typer.Exit(3)
