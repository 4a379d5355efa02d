"""Commands that give numbers: the facts of every brew, a query of one's own, what moved the extraction."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.next_steps import in_lab, ingest_a_log
from pipeline.cli.options import AsOf, Lab, Out, format_option
from pipeline.cli.plain_help import add
from pipeline.cli.screen import count, note, say
from pipeline.cli.tables import show_frame
from schemas.problem import ProblemError

if TYPE_CHECKING:
    import polars as pl

    from analysis.effects.request import EffectsRequest

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
    add(app, "effects", effects, "What moved the extraction, and how sure is that?")


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


def effects(
    lab: Lab,
    response: Annotated[
        str, typer.Option("--response", metavar="COLUMN", help="What to explain, such as extraction_yield_pct.")
    ] = "extraction_yield_pct",
    factors: Annotated[
        str,
        typer.Option(
            "--factors",
            metavar="COLUMN,...",
            help="What may have moved it, separated by commas. Without it: grind, water temperature, beverage ratio "
            "and channeling.",
            show_default=False,
        ),
    ] = "grind_steps_finer,water_temp_c,beverage_ratio,channeled",
    group: Annotated[
        str, typer.Option("--group", metavar="COLUMN", help="What keeps its own level: coffees differ.")
    ] = "coffee_id",
    method: Annotated[str | None, typer.Option("--method", metavar="METHOD", help="Only brews of this method.")] = None,
    curve: Annotated[
        list[str] | None,
        typer.Option("--curve", metavar="COLUMN", help="Let this factor bend (adds its square). May be repeated."),
    ] = None,
    cross: Annotated[
        list[str] | None,
        typer.Option("--cross", metavar="A:B", help="Let A matter more or less with B. May be repeated."),
    ] = None,
    step: Annotated[
        list[str] | None,
        typer.Option("--step", metavar="COLUMN=SIZE", help="State a factor for this change. May be repeated."),
    ] = None,
    form: Annotated[str | None, format_option("table", "json", "csv")] = None,
    out: Out = None,
    as_of: AsOf = None,
) -> None:
    """What moved the extraction, by how much for a practical step, and how sure that is.

    Compares brews within each coffee and holds the other factors still. It describes the brews that were made;
    a log in which grind and ratio always moved together cannot tell the two apart.
    """
    from analysis.effects.estimate import estimate_effects
    from analysis.effects.request import EffectsRequest
    from analysis.effects.rows import NothingCompleteError
    from pipeline.cli.effect_rows import show_effects
    from pipeline.cli.opened import open_lab
    from pipeline.exports import choose_format, export
    from pipeline.facts import brew_facts

    chosen = choose_format(form, out, allowed=("table", "json", "csv"))
    request = EffectsRequest(
        response=response,
        factors=_names(factors),
        group=group,
        method=method,
        curves=_flat(curve),
        crosses=_flat(cross),
        steps=_steps(_flat(step)),
    )
    opened = open_lab(lab, as_of)
    try:
        result = estimate_effects(brew_facts(opened.store, opened.manifest, opened.settings), request)
    except NothingCompleteError as error:
        if not error.factors_there:
            raise
        again = _with_factors(error.factors_there, request, as_of)
        raise ProblemError(f"{error}\nWith what there is: {in_lab(again, lab)}") from error
    remarks = [f"Model: {result.model}", result.dropped, *result.notes]
    if chosen == "table":
        say("\n".join(result.sentences) + "\n")
        show_effects(result.table)
        say("\n" + "\n".join(remarks))
        return
    export(result.table, chosen, out, timezone=opened.settings.timezone)
    note("\n".join((*result.sentences, *remarks)))


def _with_factors(factors: tuple[str, ...], request: EffectsRequest, as_of: int | None) -> str:
    """The same question with fewer factors, as a command; what was asked of the factors left out goes too."""
    asked = [("response", request.response), ("group", request.group), ("method", request.method), ("as-of", as_of)]
    asked += [("curve", name) for name in request.curves if name in factors]
    asked += [("cross", pair) for pair in request.crosses if set(pair.split(":")) <= set(factors)]
    asked += [("step", f"{name}={size:g}") for name, size in request.steps.items() if name in factors]
    usual = (("response", "extraction_yield_pct"), ("group", "coffee_id"))
    told = [f"--{name} {value}" for name, value in asked if value is not None and (name, value) not in usual]
    return " ".join(["effects", "--factors", ",".join(factors), *told])


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


def _names(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split(",") if name.strip())


def _flat(texts: list[str] | None) -> tuple[str, ...]:
    return tuple(name for text in texts or () for name in _names(text))


def _steps(texts: tuple[str, ...]) -> dict[str, float]:
    steps = {}
    for text in texts:
        name, _, size = text.partition("=")
        try:
            steps[name.strip()] = float(size)
        except ValueError:
            raise typer.BadParameter(
                f"{text} is not a step; write COLUMN=SIZE, such as water_temp_c=2", param_hint="--step"
            ) from None
    return steps
