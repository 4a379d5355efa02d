"""The command of the panel: which attributes separate the cups, and how each palate scores."""

from __future__ import annotations

from typing import Annotated

import typer

from pipeline.cli.options import AsOf, Lab, Out
from pipeline.cli.plain_help import add
from pipeline.cli.report import ReportFormat, hand_over


def add_to(group: typer.Typer) -> None:
    """Register the command in the group of taste."""
    add(group, "panel", panel, "What the panel found, and how far its palates agree.")


def panel(
    lab: Lab,
    session: Annotated[
        list[str] | None,
        typer.Option("--session", metavar="ID", help="Only this session. May be repeated; without it, all."),
    ] = None,
    attribute: Annotated[
        list[str] | None,
        typer.Option("--attribute", metavar="NAME", help="Only this attribute. May be repeated; without it, all."),
    ] = None,
    product: Annotated[
        str | None,
        typer.Option(
            "--product",
            metavar="brew|recipe|coffee",
            help="What counts as one product. Without it, as the cups were served.",
        ),
    ] = None,
    form: ReportFormat = None,
    out: Out = None,
    as_of: AsOf = None,
) -> None:
    """Which attributes separate what was tasted, after allowing for their number, and how each palate scores.

    People appear under labels (assessor A, B, ...) unless [labels] of lab.toml names them; nobody is ranked.
    """
    from typing import cast

    from analysis.sensory.panel.request import PanelRequest, ProductKind
    from pipeline.cli.opened import open_lab
    from pipeline.cupping.panel_report import panel_report

    request = PanelRequest(tuple(session or ()), tuple(attribute or ()), cast("ProductKind | None", product))
    opened = open_lab(lab, as_of)
    report = panel_report(opened.store, opened.manifest, opened.settings, request=request)
    hand_over(report, form, out, timezone=opened.settings.timezone)
