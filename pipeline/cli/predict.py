"""The command that says what a recipe is expected to give, and which settings land in the window."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from pipeline.cli.options import AsJson, AsOf, Lab, Out
from pipeline.cli.plain_help import add
from pipeline.cli.report import ReportFormat, hand_over

SEED = 1
"""Starts the draws behind the chance of landing."""


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    add(app, "predict", predict, "What is a recipe expected to give?")


def predict(
    lab: Lab,
    at: Annotated[
        list[str] | None,
        typer.Option(
            "--at",
            metavar="NAME=VALUE",
            help="A setting, such as water_temp_c=94. May be repeated; a factor left out is held at its mean, or "
            "searched with --find.",
        ),
    ] = None,
    coffee: Annotated[
        str | None, typer.Option("--coffee", metavar="ID", help="For this coffee of the log.", show_default=False)
    ] = None,
    new_coffee: Annotated[
        bool, typer.Option("--new-coffee", help="For a coffee that was never brewed; takes five in the log.")
    ] = False,
    yield_window: Annotated[
        str | None,
        typer.Option(
            "--yield",
            metavar="LOW:HIGH",
            help="The window for the yield, in %. Without windows: those of the study, else of the targets table.",
            show_default=False,
        ),
    ] = None,
    strength: Annotated[
        str | None,
        typer.Option("--strength", metavar="LOW:HIGH", help="The window for the strength, in %.", show_default=False),
    ] = None,
    find: Annotated[
        bool, typer.Option("--find", help="Look for settings that land in the window, those of --at held.")
    ] = False,
    chance: Annotated[
        float, typer.Option("--chance", metavar="PERCENT", help="With --find: the least chance that counts as landing.")
    ] = 50,
    method: Annotated[str | None, typer.Option("--method", metavar="METHOD", help="Only brews of this method.")] = None,
    grinder: Annotated[
        str | None,
        typer.Option("--grinder", metavar="ID", help="Whose dial is meant, where several are in play."),
    ] = None,
    factors: Annotated[
        str | None,
        typer.Option(
            "--factors",
            metavar="COLUMN,...",
            help="The factors of the model. Without it: the study's, else those of --at with grind, water temperature "
            "and ratio where they were varied.",
            show_default=False,
        ),
    ] = None,
    curve: Annotated[
        list[str] | None, typer.Option("--curve", metavar="COLUMN", help="Let this factor bend. May be repeated.")
    ] = None,
    cross: Annotated[
        list[str] | None,
        typer.Option("--cross", metavar="A:B", help="Let A matter more or less with B. May be repeated."),
    ] = None,
    study: Annotated[
        str | None, typer.Option("--study", metavar="ID", help="The brews and factors of this study of study.toml.")
    ] = None,
    as_json: AsJson = False,
    form: ReportFormat = None,
    out: Out = None,
    as_of: AsOf = None,
) -> None:
    """What yield and strength a recipe is expected to give, for a coffee of the log or a new one.

    Two ranges each: where the mean lies, and where one brew lands. With a window it tells the chance that a brew lands
    in both at once; --find looks for the settings with the best chance. Nothing is said outside the settings brewed.
    """
    import numpy as np

    from analysis.prediction.answer import predict_recipe
    from analysis.prediction.request import STRENGTH, YIELD, PredictRequest
    from pipeline.answers.asked import asked_brews
    from pipeline.answers.predict import prediction_report, read_ends, read_settings, window_for
    from pipeline.cli.opened import open_lab

    settings = read_settings(at or ())
    windows = {YIELD: yield_window, STRENGTH: strength}
    said = {name: read_ends(text, name) for name, text in windows.items() if text is not None}
    opened = open_lab(lab, as_of)
    asked = asked_brews(opened, study)
    declared = asked.study
    request = PredictRequest(
        settings=settings,
        factors=_names(factors) if factors is not None else declared.factor_names if declared is not None else (),
        curves=(*(declared.curves if declared is not None and factors is None else ()), *(curve or ())),
        crosses=(*(declared.crosses if declared is not None and factors is None else ()), *(cross or ())),
        method=method or (declared.method if declared is not None else None),
        coffee=coffee,
        new_coffee=new_coffee,
        grinder=grinder,
        find=find,
        least_chance=chance / 100,
    )
    request = replace(request, window=window_for(opened, asked, request, said))
    result = predict_recipe(
        asked.facts,
        request,
        rng=np.random.default_rng(SEED),
        whole_plot=declared.whole_plot if declared is not None else (),
        blocks=declared.blocks if declared is not None else (),
    )
    timezone = opened.settings.timezone
    report = prediction_report(result, timezone=timezone, said=asked.said)
    hand_over(report, "json" if as_json else form, out, timezone=timezone)


def _names(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split(",") if name.strip())
