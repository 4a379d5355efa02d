"""The command that says how many brews a question takes, and what could be seen with the brews there are."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.options import AsJson, AsOf, Lab
from pipeline.cli.plain_help import add
from pipeline.cli.report import hand_over

if TYPE_CHECKING:
    from schemas.study import Study

SEED = 1
SIMULATIONS = 400


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "power", power, "How many brews does it take, and what could be seen?")


def power(
    lab: Lab,
    difference: Annotated[
        float | None, typer.Option("--difference", metavar="D", help="The difference that matters.")
    ] = None,
    factor: Annotated[
        str | None,
        typer.Option("--factor", metavar="NAME=LOW:HIGH", help="What a setting does, rather than two recipes."),
    ] = None,
    recipes: Annotated[int, typer.Option("--recipes", metavar="N", help="How many recipes are compared.")] = 2,
    brews: Annotated[
        int | None, typer.Option("--brews", metavar="N", help="Brews of each recipe; with --factor, brews in all.")
    ] = None,
    coffees: Annotated[int, typer.Option("--coffees", metavar="N", help="With --factor: on how many coffees.")] = 1,
    sessions: Annotated[int, typer.Option("--sessions", metavar="N", help="With --factor: in how many sessions.")] = 1,
    method: Annotated[str | None, typer.Option("--method", metavar="METHOD", help="Of which brew method.")] = None,
    grinder: Annotated[
        str | None, typer.Option("--grinder", metavar="ID", help="On which grinder, for its dial.")
    ] = None,
    response: Annotated[str | None, typer.Option("--response", metavar="COLUMN", help="The result to explain.")] = None,
    spread: Annotated[
        float | None, typer.Option("--spread", metavar="SD", help="Brew to brew spread; else the lab's own.")
    ] = None,
    chance: Annotated[float, typer.Option("--chance", metavar="P", help="The chance of seeing it.")] = 0.8,
    study_id: Annotated[str | None, typer.Option("--study", metavar="ID", help="A study of study.toml.")] = None,
    simulations: Annotated[
        int, typer.Option("--simulations", metavar="N", min=0, help="How often to check it on paper.")
    ] = SIMULATIONS,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Seed of the simulation.")] = SEED,
    as_json: AsJson = False,
    as_of: AsOf = None,
) -> None:
    """Tell how many brews show the difference that matters, and what could be seen with the brews there are.

    Reckoned with this lab's own noise: how far brews scatter once coffee, session and settings are taken out.
    """
    from pipeline.cli.opened import open_lab
    from pipeline.facts import brew_facts
    from pipeline.run_sheet.flags import read_range
    from pipeline.run_sheet.power import PowerAsked, power_report

    if factor is None and (coffees != 1 or sessions != 1):
        raise typer.BadParameter("they go with --factor; recipes are compared side by side", param_hint="--coffees")
    opened = open_lab(lab, as_of)
    asked = PowerAsked(
        difference=difference,
        setting=read_range(factor) if factor else None,
        recipes=recipes,
        brews=brews,
        coffees=coffees,
        sessions=sessions,
        method=method,
        grinder_id=grinder,
        response=response,
        spread=spread,
        power=chance,
        simulations=simulations,
        seed=seed,
    )
    facts = brew_facts(opened.store, opened.manifest, opened.settings)
    report = power_report(facts, _study(lab, study_id), asked)
    hand_over(report, "json" if as_json else "table", None, timezone=opened.settings.timezone)


def _study(lab: Path, study_id: str | None) -> Study | None:
    if study_id is None:
        return None
    from pipeline.study.read import choose_study, read_studies

    return choose_study(read_studies(lab), study_id)
