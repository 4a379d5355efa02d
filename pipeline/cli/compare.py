"""The command that sets recipes, grinders, baskets or waters side by side."""

from __future__ import annotations

from typing import Annotated

import typer

from pipeline.cli.options import AsJson, AsOf, Lab, Out
from pipeline.cli.plain_help import add
from pipeline.cli.report import ReportFormat, hand_over

SEED = 1
"""Starts the integral behind --against."""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "compare", compare, "Recipes, grinders, baskets or waters side by side.")


def compare(
    lab: Lab,
    by: Annotated[
        str,
        typer.Option(
            "--by",
            metavar="COLUMN",
            help="What is compared: recipe_id, grinder_id, basket, water_id, operator, roast_level, process, ...",
            show_default=False,
        ),
    ],
    side: Annotated[
        list[str] | None,
        typer.Option(
            "--side", metavar="NAME", help="Only these. May be repeated; without it all that were brewed twice."
        ),
    ] = None,
    against: Annotated[
        str | None,
        typer.Option(
            "--against",
            metavar="NAME",
            help="Compare each with this one alone, instead of all with all (Dunnett, Tukey).",
        ),
    ] = None,
    method: Annotated[str | None, typer.Option("--method", metavar="METHOD", help="Only brews of this method.")] = None,
    response: Annotated[
        str, typer.Option("--response", metavar="COLUMN", help="What is compared in, such as cup_tds_pct.")
    ] = "extraction_yield_pct",
    difference: Annotated[
        float | None,
        typer.Option(
            "--difference",
            metavar="SIZE",
            help="The difference that matters, in points or the column's unit: asks also whether sides are alike to "
            "within it. Without it, what study.toml declares.",
            show_default=False,
        ),
    ] = None,
    hold: Annotated[
        list[str] | None,
        typer.Option("--hold", metavar="COLUMN", help="Hold this factor at its mean, such as dose_g. May be repeated."),
    ] = None,
    study: Annotated[
        str | None, typer.Option("--study", metavar="ID", help="The brews of this study of study.toml.")
    ] = None,
    as_json: AsJson = False,
    form: ReportFormat = None,
    out: Out = None,
    as_of: AsOf = None,
) -> None:
    """Which recipes, grinders, baskets or waters differ, by how much, and which by no more than matters.

    Sides are compared on the same coffees, allowing for sessions and operators. Two sides that do not differ are
    not called the same: whether they are alike is asked against the difference that matters.
    """
    import numpy as np

    from analysis.comparisons.compare import compare_sides
    from analysis.comparisons.request import CompareRequest
    from pipeline.answers.asked import asked_brews
    from pipeline.answers.compare import comparison_report
    from pipeline.cli.opened import open_lab
    from pipeline.store.read import current

    opened = open_lab(lab, as_of)
    asked = asked_brews(opened, study)
    declared = asked.study
    margin = difference
    if margin is None and declared is not None and declared.response == response:
        margin = declared.difference_that_matters
    request = CompareRequest(
        by=by,
        response=response,
        method=method or (declared.method if declared is not None else None),
        levels=tuple(side or ()),
        against=against,
        adjust=tuple(hold or ()),
        margin=margin,
    )
    timezone = opened.settings.timezone
    coffees = current(opened.store, opened.manifest, "coffees").select("coffee_id", "process").collect()
    facts = asked.facts.join(coffees, on="coffee_id", how="left", maintain_order="left")
    result = compare_sides(facts, request, rng=np.random.default_rng(SEED))
    hand_over(comparison_report(result, timezone=timezone), "json" if as_json else form, out, timezone=timezone)
