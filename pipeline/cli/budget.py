"""The command that says how good a yield is: budgets, differences, the smallest difference worth talking about."""

from __future__ import annotations

from typing import Annotated

import typer

from pipeline.cli.next_steps import ingest_a_log
from pipeline.cli.options import AsOf, Lab, Out
from pipeline.cli.plain_help import add
from pipeline.cli.report import ReportFormat, hand_over
from pipeline.cli.screen import say

SEED = 1


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "budget", budget, "How sure is a yield, and which difference is worth a word?")


def budget(
    lab: Lab,
    brew: Annotated[
        list[str] | None,
        typer.Option("--brew", metavar="ID", help="The budget of this brew. May be repeated.", show_default=False),
    ] = None,
    against: Annotated[
        list[str] | None,
        typer.Option(
            "--against",
            metavar="ID",
            help="Compare --brew with this one: the uncertainty of their difference, and what cancels in it. "
            "Repeat either for means.",
            show_default=False,
        ),
    ] = None,
    method: Annotated[
        str | None,
        typer.Option("--method", metavar="METHOD", help="The smallest difference worth talking about, for one method."),
    ] = None,
    repeats: Annotated[
        int, typer.Option("--repeats", metavar="N", min=1, help="With --method: how often each recipe is brewed.")
    ] = 1,
    monte_carlo: Annotated[
        bool, typer.Option("--monte-carlo", help="With --brew: check the budget by simulation.")
    ] = False,
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="N", min=0, help=f"Seed of the simulation; without it {SEED}.")
    ] = None,
    form: ReportFormat = None,
    out: Out = None,
    as_of: AsOf = None,
) -> None:
    """How good is a yield? Every brew with its 95 % interval and where the uncertainty comes from.

    Without --brew or --method: all methods side by side. The scatter of readings is pooled over brews by instrument
    and method, so that two or three readings of one brew need not speak for themselves.
    """
    _check_options(brew, against, method, repeats, monte_carlo=monte_carlo, seed=seed)

    import numpy as np

    from pipeline.cli.opened import open_lab
    from pipeline.measurement.brew_budget import budget_report, budgeted
    from pipeline.measurement.brew_difference import difference_report
    from pipeline.measurement.gather import gather
    from pipeline.measurement.method_budget import method_budget
    from pipeline.measurement.method_report import method_report, summary_report

    opened = open_lab(lab, as_of)
    timezone = opened.settings.timezone
    gathered = gather(opened.store, opened.manifest, opened.settings)
    if gathered.brews.is_empty() and not brew and not method and form in (None, "table") and out is None:
        say(f"No brews yet. {ingest_a_log(lab)}")
        return
    if brew and against:
        sides = ([budgeted(gathered, name) for name in names] for names in (brew, against))
        report = difference_report(*sides, timezone=timezone)
    elif brew:
        rng = np.random.default_rng(SEED if seed is None else seed) if monte_carlo else None
        report = budget_report([budgeted(gathered, name, rng=rng) for name in brew], timezone=timezone)
    elif method:
        report = method_report(method_budget(gathered, method, repeats=repeats), timezone=timezone)
    else:
        methods = gathered.brews.filter(~gathered.brews["is_void"])["method"].unique().sort()
        report = summary_report([method_budget(gathered, name) for name in methods], timezone=timezone)
    hand_over(report, form, out, timezone=timezone)


def _check_options(
    brew: list[str] | None,
    against: list[str] | None,
    method: str | None,
    repeats: int,
    *,
    monte_carlo: bool,
    seed: int | None,
) -> None:
    """Refuse options that do not go together."""
    rules = (
        (bool(against) and not brew, "--against", "it needs a brew to compare with; add --brew ID"),
        (bool(method) and bool(brew), "--method", "it asks about a whole method; leave out --brew"),
        (repeats > 1 and not method, "--repeats", "it goes with --method"),
        (monte_carlo and (not brew or bool(against)), "--monte-carlo", "it checks a brew; add --brew ID"),
        (seed is not None and not monte_carlo, "--seed", "it is the seed of --monte-carlo"),
    )  # fmt: skip
    for broken, option, why in rules:
        if broken:
            raise typer.BadParameter(why, param_hint=option)
