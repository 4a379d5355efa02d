"""Commands that give numbers: the facts of every brew, a query of one's own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.next_steps import in_lab, ingest_a_log
from pipeline.cli.options import AsOf, Lab, Out, format_option
from pipeline.cli.plain_help import add
from pipeline.cli.screen import count, note
from pipeline.cli.tables import show_frame

if TYPE_CHECKING:
    import polars as pl


FrameFormat = Annotated[str | None, format_option("table", "csv", "json", "xlsx", "parquet")]
FACTS_FIRST = (
    "brew_id",
    "coffee_name",
    "method",
    "extraction_yield_pct",
    "extraction_yield_u_pct",
    "cup_tds_pct",
    "dose_g",
    "water_g",
    "beverage_g",
    "grind_steps_finer",
    "channeled",
    "in_target",
    "operator",
    "brewed_at",
)


def add_to(app: typer.Typer) -> None:
    """Register the commands of this group."""
    add(app, "facts", facts, "One row per brew: strength, yield, ratios, grind.")
    add(app, "query", query, "Ask the tables a question of your own, in SQL.")


def facts(lab: Lab, form: FrameFormat = None, out: Out = None, as_of: AsOf = None) -> None:
    """One row per brew: what was logged, and strength, extraction yield, ratios and grind worked out from it."""
    from pipeline.cli.opened import open_lab
    from pipeline.facts import brew_facts
    from pipeline.store.read import read_set_aside

    opened = open_lab(lab, as_of)
    found = brew_facts(opened.store, opened.manifest, opened.settings)
    waiting = found.is_empty() and not read_set_aside(opened.store, opened.manifest).is_empty()
    step = f"See what was set aside: {in_lab('set-aside', lab)}" if waiting else ingest_a_log(lab)
    none = f"No brews yet. {step}"
    if opened.manifest.number < opened.store.head().number:
        number = opened.manifest.number
        none = f"There were no brews after ingest {number}." if number else "There was nothing before ingest 1."
    _hand_over(found, form, out, opened.settings.timezone, first=FACTS_FIRST, what="brews", none=none)


def query(
    sql: Annotated[str, typer.Argument(metavar="SQL", help="One SELECT, in quotes.", show_default=False)],
    lab: Lab,
    form: FrameFormat = None,
    out: Out = None,
    as_of: AsOf = None,
    timeout_s: Annotated[
        float, typer.Option("--timeout", metavar="SECONDS", min=0.1, help="Stop a question that takes longer.")
    ] = 60,
    memory_gb: Annotated[
        float, typer.Option("--memory", metavar="GB", min=0.1, help="Stop a question that needs more memory.")
    ] = 2,
) -> None:
    """Ask the tables a question of your own in SQL. It can only read.

    There is a table for each kind of sheet (brews, readings, coffees, ...), and brew_facts, flags and set_aside.

    Example: brewtrials query --lab my-lab "select method, count(*) as brews from brews group by method"
    """
    from pipeline.cli.opened import open_lab
    from pipeline.cli.query_tables import connect_for
    from pipeline.query import run_query

    opened = open_lab(lab, as_of)
    found = run_query(connect_for(opened, sql, memory_gb=memory_gb), sql, timeout_s=timeout_s)
    _hand_over(found, form, out, opened.settings.timezone)


def _hand_over(
    found: pl.DataFrame, form: str | None, out: Path | None, timezone: str, *, first: tuple[str, ...] = (),
    what: str = "rows", none: str = "",
) -> None:  # fmt: skip
    from pipeline.exports import choose_format, export

    chosen = choose_format(form, out, allowed=("table", "csv", "json", "xlsx", "parquet"))
    if chosen == "table":
        show_frame(found, first=first, what=what, none=none, timezone=timezone)
        return
    export(found, chosen, out, timezone=timezone)
    if out is not None:
        note(f"Wrote {count(found.height, what.removesuffix('s'))} to {out}.")
