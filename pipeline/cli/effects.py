"""The command that says what moved the extraction, by how much and how surely."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.cli.next_steps import in_lab
from pipeline.cli.options import AsJson, AsOf, Lab, Out, format_option
from pipeline.cli.plain_help import add
from pipeline.cli.screen import note
from schemas.problem import ProblemError

if TYPE_CHECKING:
    import polars as pl

    from analysis.effects.request import EffectsRequest
    from analysis.effects.result import EffectsResult
    from pipeline.cli.beside import Beside
    from pipeline.cli.opened import Opened
    from pipeline.cli.study_effects import OfStudy
    from pipeline.exports import Format

RESPONSE = "extraction_yield_pct"
GROUP = "coffee_id"


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "effects", effects, "What moved the extraction, and how sure is that?")


def effects(
    lab: Lab,
    response: Annotated[
        str | None,
        typer.Option(
            "--response",
            metavar="COLUMN",
            help="What to explain. Without it: what the study explains, else extraction_yield_pct.",
            show_default=False,
        ),
    ] = None,
    factors: Annotated[
        str | None,
        typer.Option(
            "--factors",
            metavar="COLUMN,...",
            help="What may have moved it, separated by commas. Without it: the study's factors, else grind, water "
            "temperature and the ratio; what they bring about, such as channeling, is left to --through.",
            show_default=False,
        ),
    ] = None,
    group: Annotated[
        str, typer.Option("--group", metavar="COLUMN", help="What keeps its own level: coffees differ.")
    ] = GROUP,
    method: Annotated[str | None, typer.Option("--method", metavar="METHOD", help="Only brews of this method.")] = None,
    pool_methods: Annotated[
        bool,
        typer.Option("--pool-methods", help="All methods in one model, each with slopes of its own."),
    ] = False,
    curve: Annotated[
        list[str] | None,
        typer.Option(
            "--curve",
            metavar="COLUMN",
            help="Let this factor bend (adds its square), and say where its top lies. May be repeated.",
        ),
    ] = None,
    cross: Annotated[
        list[str] | None,
        typer.Option("--cross", metavar="A:B", help="Let A matter more or less with B. May be repeated."),
    ] = None,
    step: Annotated[
        list[str] | None,
        typer.Option("--step", metavar="COLUMN=SIZE", help="State a factor for this change. May be repeated."),
    ] = None,
    through: Annotated[
        list[str] | None,
        typer.Option(
            "--through",
            metavar="COLUMN",
            help="A result of the settings, such as channeled or brew_time_s: what a setting does in total, and what "
            "is left of it at equal results. May be repeated.",
        ),
    ] = None,
    channeling: Annotated[
        bool,
        typer.Option(
            "--channeling", help="What channeling costs at the same recipe, its risk, and brews to look at again."
        ),
    ] = False,
    spread: Annotated[
        bool, typer.Option("--spread", help="Where the spread comes from: coffee, session, brewing, measuring.")
    ] = False,
    study: Annotated[
        str | None,
        typer.Option("--study", metavar="ID", help="Ask what this study of study.toml asks, of its brews only."),
    ] = None,
    as_json: AsJson = False,
    form: Annotated[str | None, format_option("table", "json", "csv")] = None,
    out: Out = None,
    as_of: AsOf = None,
) -> None:
    """What moved the extraction, by how much for a practical step, and how sure that is.

    Compares brews within each coffee and holds the other factors still. It describes the brews that were made;
    a log in which grind and ratio always moved together cannot tell the two apart. --json gives everything: table,
    sentences, each coffee's own slope, spreads, checks; --format json the table alone.
    """
    from analysis.effects.request import EffectsRequest
    from pipeline.cli.beside import find_beside
    from pipeline.cli.opened import open_lab
    from pipeline.cli.study_effects import study_rows_of, with_study
    from pipeline.exports import choose_format

    chosen = _form(as_json, form) or choose_format(form, out, allowed=("table", "json", "csv"))
    request = EffectsRequest(
        response=response or RESPONSE,
        factors=() if factors is None else _names(factors),
        group=group,
        method=method,
        curves=_flat(curve),
        crosses=_flat(cross),
        steps=_steps(_flat(step)),
        pool_methods=pool_methods,
    )
    opened = open_lab(lab, as_of)
    of_study = None if study is None else study_rows_of(lab, opened, study)
    if of_study is not None:
        request = with_study(request, of_study, own_response=response is not None, own_factors=factors is not None)
    facts = _facts(opened, of_study)
    if not request.factors:
        request = replace(request, factors=_usual(facts, request.method))
    result = _ask(
        opened, facts, request, of_study, again=lambda names: in_lab(_again(names, request, study, as_of), lab)
    )
    beside = find_beside(opened, facts, result, of_study, through=_flat(through), channeling=channeling, spread=spread)
    _hand_over(result, beside, chosen, as_json=as_json, out=out, timezone=opened.settings.timezone)


def _facts(opened: Opened, of_study: OfStudy | None) -> pl.DataFrame:
    """Facts of all brews, or of the study's; ProblemError where the study has none."""
    from pipeline.facts import brew_facts

    if of_study is None:
        return brew_facts(opened.store, opened.manifest, opened.settings)
    rows = of_study.rows
    if rows.brews.is_empty():
        raise ProblemError(f"The study {rows.study.study_id} has no brews to ask yet. {' '.join(rows.said)}")
    return rows.brews


def _usual(facts: pl.DataFrame, method: str | None) -> tuple[str, ...]:
    """The settings asked about when nobody named any: those of the method, else of the method brewed most."""
    from analysis.effects.by_method import usual_settings

    brewed = facts["method"].drop_nulls()
    of = method or (brewed.mode().sort()[0] if brewed.len() else "")
    return usual_settings(facts.filter(facts["method"] == of), of)


def _ask(
    opened: Opened,
    facts: pl.DataFrame,
    request: EffectsRequest,
    of_study: OfStudy | None,
    *,
    again: Callable[[tuple[str, ...]], str],
) -> EffectsResult:
    """The answer; where no brew has everything, the command that asks for what there is."""
    from analysis.effects.estimate import estimate_effects
    from analysis.effects.rows import NothingCompleteError
    from analysis.outcomes.of_effects import Measuring
    from pipeline.store.read import current

    instruments = current(opened.store, opened.manifest, "instruments").collect()
    measuring = Measuring(instruments, opened.settings)
    try:
        if of_study is None:
            return estimate_effects(facts, request, measuring=measuring)
        study = of_study.rows.study
        return estimate_effects(facts, request, whole_plot=study.whole_plot, blocks=study.blocks, measuring=measuring)
    except NothingCompleteError as error:
        if not error.factors_there:
            raise
        raise ProblemError(f"{error}\nWith what there is: {again(error.factors_there)}") from error


def _hand_over(
    result: EffectsResult,
    beside: Beside,
    form: Format,
    *,
    as_json: bool,
    out: Path | None,
    timezone: str,
) -> None:
    from pipeline.cli.effect_rows import effects_object, remarks, show_effects
    from pipeline.exports import export, write_bytes

    if as_json:
        text = json.dumps(effects_object(result, beside), indent=2, ensure_ascii=False) + "\n"
        if out is None:
            print(text, end="")
        else:
            write_bytes(out, text.encode())
            note(f"Wrote {out}.")
        return
    if form == "table":
        show_effects(result, beside)
        return
    export(result.table, form, out, timezone=timezone)
    note("\n".join((*result.sentences, *remarks(result, beside))))


def _form(as_json: bool, form: str | None) -> Format | None:
    if as_json and form not in (None, "json"):
        raise typer.BadParameter(f"it does not go with --format {form}", param_hint="--json")
    return "json" if as_json else None


def _again(factors: tuple[str, ...], request: EffectsRequest, study: str | None, as_of: int | None) -> str:
    """The same question with fewer factors, as a command; what was asked of the factors left out goes too."""
    asked: list[tuple[str, object]] = [
        ("response", request.response),
        ("group", request.group),
        ("method", request.method),
        ("study", study),
        ("as-of", as_of),
    ]
    asked += [("curve", name) for name in request.curves if name in factors]
    asked += [("cross", pair) for pair in request.crosses if set(pair.split(":")) <= set(factors)]
    asked += [("step", f"{name}={size:g}") for name, size in request.steps.items() if name in factors]
    usual = (("response", RESPONSE), ("group", GROUP))
    told = [f"--{name} {value}" for name, value in asked if value is not None and (name, value) not in usual]
    pooled = ["--pool-methods"] if request.pool_methods else []
    return " ".join(["effects", "--factors", ",".join(factors), *told, *pooled])


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
