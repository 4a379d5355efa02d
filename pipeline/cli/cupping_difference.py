"""The command of difference tests: whether palates can tell two brews apart."""

from __future__ import annotations

from typing import Annotated

import typer

from pipeline.cli.options import AsOf, Lab, Out
from pipeline.cli.plain_help import add
from pipeline.cli.report import ReportFormat, hand_over


def add_to(group: typer.Typer) -> None:
    """Register the command in the group of taste."""
    add(group, "difference", difference, "Can palates tell two brews apart, or do they prefer one?")


def difference(
    lab: Lab,
    test_id: Annotated[
        str | None, typer.Option("--test-id", metavar="ID", help="This test only; without it, all on record.")
    ] = None,
    level: Annotated[
        float, typer.Option("--level", metavar="P", help="The chance of a false alarm that is put up with.")
    ] = 0.05,
    similarity: Annotated[
        float | None,
        typer.Option(
            "--similarity",
            metavar="SHARE",
            help="Ask whether fewer than this share of palates can tell, such as 0.3.",
        ),
    ] = None,
    power: Annotated[
        float | None,
        typer.Option("--power", metavar="CHANCE", help="Palates needed for this chance of showing it, such as 0.8."),
    ] = None,
    form: ReportFormat = None,
    out: Out = None,
    as_of: AsOf = None,
) -> None:
    """Judge the triangle, duo-trio and paired tests on record: exact tests, who can tell, d-prime, preference.

    Two brews are only called similar where --similarity asks for it and the test is passed.
    """
    from pipeline.cli.opened import open_lab
    from pipeline.cupping.difference_report import difference_report

    opened = open_lab(lab, as_of)
    report = difference_report(
        opened.store,
        opened.manifest,
        opened.settings,
        test_id=test_id,
        level=level,
        similarity=similarity,
        power=power,
    )
    hand_over(report, form, out, timezone=opened.settings.timezone)
