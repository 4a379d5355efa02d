"""The command about the instruments: checks, drift, corrections, doubts, and whether two of them agree."""

from __future__ import annotations

from typing import Annotated

import typer

from pipeline.cli.options import AsOf, Lab, Out
from pipeline.cli.plain_help import add
from pipeline.cli.report import ReportFormat, hand_over


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "instruments", instruments, "Can the instruments be relied on: checks, drift, agreement?")


def instruments(
    lab: Lab,
    instrument: Annotated[
        str | None,
        typer.Option("--instrument", metavar="ID", help="Only this one, and those that it is compared with."),
    ] = None,
    tolerance: Annotated[
        float | None,
        typer.Option(
            "--tolerance",
            metavar="PCT",
            min=0.0001,
            help="A gap in % TDS that does not matter: may one of two instruments stand in for the other?",
        ),
    ] = None,
    form: ReportFormat = None,
    out: Out = None,
    as_of: AsOf = None,
) -> None:
    """Tell whether the instruments can be relied on.

    Zero and reference checks, drift, the correction they call for (a block for lab.toml), times in which readings are
    in doubt, and how far two instruments that read the same samples agree.

    Where samples were dried in an oven, it serves as the reference; where spent grounds were weighed, the weights of
    a brew must add up. Nothing is corrected unless lab.toml declares it.
    """
    from pipeline.cli.opened import open_lab
    from pipeline.measurement.gather import gather
    from pipeline.measurement.instrument_report import instruments_report

    opened = open_lab(lab, as_of)
    gathered = gather(opened.store, opened.manifest, opened.settings)
    report = instruments_report(gathered, instrument_id=instrument, tolerance_pct=tolerance)
    hand_over(report, form, out, timezone=opened.settings.timezone)
